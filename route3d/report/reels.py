"""Reels and cut list: which reel serves which runs, as tables, CSV, workbook and JSON."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from rich.console import Group, RenderableType

from route3d.model.examples import BANNER, example_banner, example_names
from route3d.planning.reels import Cut, CutReel, ReelAllotment, ReelPlan
from route3d.report.columns import Column, column_table, rows_csv
from route3d.report.columns_xlsx import rows_xlsx
from route3d.report.json_result import Data
from route3d.report.layout import paragraph, titled
from route3d.units import show

ASSUMPTIONS = (
    "Assumed: each cable of a run is one length without a splice; single-wound reels, cut one "
    "length after another and put on a pay-off reel for each cable before the pull. Enter a "
    "parallel or triplexed set as one cable type."
)


@dataclass(frozen=True, slots=True)
class CutLine:
    """One line of a cut list: cut ``number`` of a reel, ``left`` m on the reel after it."""

    reel: CutReel
    number: int
    cut: Cut
    left: float


REEL_COLUMNS: tuple[Column[CutReel], ...] = (
    Column("reel", lambda r: r.name),
    Column("cable", lambda r: r.cable),
    Column("length", lambda r: r.length, "length"),
    Column("runs", lambda r: ", ".join(_runs(r))),
    Column("cut", lambda r: r.used, "length"),
    Column("left over", lambda r: r.left, "length"),
)
CUT_COLUMNS: tuple[Column[CutLine], ...] = (
    Column("reel", lambda x: x.reel.name),
    Column("cable", lambda x: x.cut.cable),
    Column("cut", lambda x: float(x.number), "count"),
    Column("run", lambda x: x.cut.run),
    Column("phase", lambda x: f"{x.cut.phase} of {x.cut.phases}"),
    Column("cut length", lambda x: x.cut.length, "length"),
    Column("left on reel", lambda x: x.left, "length"),
)


def _runs(reel: CutReel) -> Iterator[str]:
    """The runs of a reel with the number of their cuts on it."""
    for run in reel.runs:
        count = sum(cut.run == run for cut in reel.cuts)
        yield run if count == 1 else f"{run} x {count}"


def cut_lines(reels: Sequence[CutReel]) -> list[CutLine]:
    """The cut list: every cut of every reel, in order."""
    lines = []
    for reel in reels:
        left = reel.length
        for number, cut in enumerate(reel.cuts, 1):
            left = max(left - cut.length, 0.0)
            lines.append(CutLine(reel, number, cut, left))
    return lines


def _reels(plan: ReelPlan) -> list[CutReel]:
    return [reel for allotment in plan.allotments for reel in allotment.reels]


# --- for a terminal -------------------------------------------------------------------------------


def reels_report(plan: ReelPlan, system: str) -> RenderableType:
    """The reels, the cut list and what they rest on, for a terminal."""
    reels = _reels(plan)
    parts: list[RenderableType] = [titled(plan.job.title, example_banner(plan.job.examples))]
    for allotment in plan.allotments:
        parts.append(paragraph(reel_words(allotment, system), before=1))
        parts += [paragraph(t, style="bold red") for t in _unplaced_words(allotment, system)]
    parts.append(paragraph("Reels", style="bold", before=1))
    parts.append(column_table(reels, REEL_COLUMNS, system))
    parts.append(paragraph("Cut list", style="bold", before=1))
    parts.append(column_table(cut_lines(reels), CUT_COLUMNS, system))
    if plan.without:
        names = ", ".join(plan.without)
        where = "rows on the sheet Cable reels" if plan.job.in_workbook else "[[cable_reel]]"
        text = f"No reels given for {names}: not allotted. Add {where}, or --reel-length."
        parts.append(paragraph(text, before=1))
    parts += [paragraph(_make_up(plan, system), before=1), paragraph(ASSUMPTIONS)]
    return Group(*parts)


def reel_words(allotment: ReelAllotment, system: str) -> str:
    """How many reels one cable type takes, and how many it needs at least."""
    count, cuts = len(allotment.reels), allotment.cuts
    placed = sum(reel.length for reel in allotment.reels)
    share = allotment.left / placed if placed else 0.0
    text = (
        f"{allotment.cable}: {_number(len(cuts), 'cut')}, "
        f"{show(allotment.cut_length, 'length', system)}; {_number(count, 'reel')}, "
        f"{show(allotment.left, 'length', system)} left over ({show(share, 'percent', system)})."
    )
    if allotment.gap is not None and allotment.bound is not None:
        text += f" Lower bound: {_number(allotment.bound, 'reel')}"
        if allotment.fewest != allotment.bound:
            text += f" with the cables of each run from one reel ({allotment.fewest} from any reel)"
        text += (
            ", reached." if not allotment.gap else f"; gap {allotment.gap}, may not be reachable."
        )
    if allotment.together and allotment.mixed < count and not allotment.unplaced:
        text += f" Cut from any reel: {_number(allotment.mixed, 'reel')} (--any-reel)."
    if allotment.apart:
        text += f" Cut from more than one reel: {', '.join(allotment.apart)}."
    return text


def _number(count: int, what: str) -> str:
    return f"{count} {what}{'' if count == 1 else 's'}"


def _unplaced_words(allotment: ReelAllotment, system: str) -> Iterator[str]:
    # Where the bound does not rule it out, a better plan than first fit may place them all.
    full = "no reel has room left"
    if allotment.fewest is not None:
        full += " in this cutting plan; another may have"
    for cut in allotment.unplaced:
        length = show(cut.length, "length", system)
        why = "longer than any reel" if cut.length > allotment.longest else full
        yield f"No reel for run {cut.run}, phase {cut.phase} of {cut.phases}, {length}: {why}."


def _make_up(plan: ReelPlan, system: str) -> str:
    allowances = plan.job.allowances
    feed = show(allowances.feed_slack, "length", system)
    pull = show(allowances.pull_slack, "length", system)
    where = "on the sheet Job" if plan.job.in_workbook else "in [plan]"
    return (
        f"Each cut is the length of the conduit, {feed} at the feed end and {pull} at the pulling "
        f"end, make-up included (feed_slack and pull_slack {where})."
    )


# --- files ----------------------------------------------------------------------------------------


def _cut_columns(plan: ReelPlan) -> tuple[Column[CutLine], ...]:
    """The columns of a file; where values of the job are examples the last one says so."""
    examples = plan.job.examples
    marked: Column[CutLine] = Column(BANNER, lambda _: example_names(examples))
    return (*CUT_COLUMNS, *([marked] if examples else []))


def reels_csv(plan: ReelPlan, system: str) -> str:
    """The cut list as CSV, numbers in the units of the heading."""
    return "".join(rows_csv(cut_lines(_reels(plan)), _cut_columns(plan), system))


def reels_xlsx(plan: ReelPlan, system: str) -> bytes:
    """The cut list and the reels as a workbook; the same job gives the same bytes."""
    reels = _reels(plan)
    return rows_xlsx(
        plan.job.title,
        [("cut list", cut_lines(reels), _cut_columns(plan)), ("reels", reels, REEL_COLUMNS)],
        system,
    )


def reels_data(plan: ReelPlan) -> Data:
    """The allotment for machines, in SI."""
    return {
        "title": plan.job.title,
        "examples": list(plan.job.examples),
        "runs_together": plan.together,
        "cables": [_allotment(allotment) for allotment in plan.allotments],
        "without_reels": list(plan.without),
        "feed_slack_m": plan.job.allowances.feed_slack,
        "pull_slack_m": plan.job.allowances.pull_slack,
    }


def _allotment(allotment: ReelAllotment) -> Data:
    return {
        "cable": allotment.cable,
        "cuts": len(allotment.cuts),
        "cut_length_m": allotment.cut_length,
        "reels_used": len(allotment.reels),
        "lower_bound": allotment.bound,
        "lower_bound_from_any": allotment.fewest,
        "gap": allotment.gap,
        "reels_from_any": allotment.mixed,
        "left_over_m": allotment.left,
        "runs_apart": list(allotment.apart),
        "reels": [
            {
                "reel": reel.name,
                "length_m": reel.length,
                "left_over_m": reel.left,
                "runs": list(reel.runs),
                "cuts": [
                    {
                        "cut": line.number,
                        **_cut(line.cut),
                        "left_on_reel_m": line.left,
                    }
                    for line in cut_lines([reel])
                ],
            }
            for reel in allotment.reels
        ],
        "without_a_reel": [_cut(cut) for cut in allotment.unplaced],
    }


def _cut(cut: Cut) -> Data:
    return {
        "run": cut.run,
        "phase": cut.phase,
        "phases": cut.phases,
        "cut_length_m": cut.length,
    }
