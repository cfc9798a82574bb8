"""How sure a pull is: spread of tension and gauge, chances of the limits, what matters most."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass

import numpy as np
from rich.console import Group, RenderableType

from route3d.checks.limits import limit_name
from route3d.geometry.vectors import Floats
from route3d.model.job import Job
from route3d.model.practice import Practice
from route3d.model.spread import INPUTS
from route3d.report.columns import Column, columns_csv
from route3d.report.json_result import Data, job_data
from route3d.report.layout import heading, paragraph, table
from route3d.report.study_limits import MUST_NOT
from route3d.study.spread.outcome import ByBoth, Chance, EndSpread, Importance, InputSpread, Spread
from route3d.units import show

# Rows of the table by cable in; JSON and CSV have every place looked at.
_ROWS = 9
_LOW, _MEDIAN, _HIGH = 0, 2, 4
_OTHER_NAMES = {
    "fit": "cables do not enter the conduit",
    "jam ratio": "jamming likely (jam ratio; a caution, not counted as reached)",
}
WHAT_COUNTS = (
    "A limit is reached where the moving pull exceeds it: cable, attachment, sidewall pressure, "
    "rope and machine. Not counted: a restart after a stop, the anchor, and what route3d check "
    "tells of the run itself."
)


def chance_words(p: float, count: int) -> str:
    """How many pulls pass, as people say it: ``97 of 100 such pulls pass``."""
    if p >= 1.0:
        return f"all of {count:,} calculated pulls pass"
    if p <= 0.0:
        return f"none of {count:,} calculated pulls passes"
    if p >= 0.9995:
        return "more than 999 of 1,000 such pulls pass"
    if p < 0.0005:
        return "fewer than 1 of 1,000 such pulls passes"
    of = 100 if 0.01 <= p <= 0.99 else 1000
    number = round(of * p)
    return f"{number} of {of:,} such pulls {'passes' if number == 1 else 'pass'}"


def spread_report(job: Job, spreads: Sequence[Spread], system: str) -> RenderableType:
    """The report of each run."""
    parts: list[RenderableType] = [heading(job)]
    for spread in spreads:
        parts += _run(job, spread, system)
    return Group(*parts)


def _run(job: Job, spread: Spread, system: str) -> Iterator[RenderableType]:
    run = spread.run
    yield paragraph(f"Run {run.name}: {run.cables.describe()}", style="bold", before=1)
    for text in (*answer_words(spread), *passing_by_both(spread)):
        yield paragraph(text)
    for text in caution_words(spread, system):
        yield paragraph(text, style="yellow")
    yield paragraph("Uncertain inputs", style="bold", before=1)
    yield table(
        INPUT_HEADS,
        [input_row(each, system) for each in spread.varying],
        numbers={1, 2, 3, 4},
    )
    for text in input_notes(spread):
        yield paragraph(text, style="dim")
    yield paragraph("Limits", style="bold", before=1)
    yield table(
        limit_heads(spread),
        limit_rows(job.practice, spread, system),
    )
    planned = spread.ends[spread.planned]
    yield paragraph(f"By cable in, fed from {planned.feed} (planned)", style="bold", before=1)
    yield _by_cable_in(planned, system)
    yield paragraph(f"What matters most, fed from {planned.feed}", style="bold", before=1)
    yield _importance(spread, planned)
    yield paragraph("Accuracy", style="bold", before=1)
    yield table(
        ("scenarios", f"pass, fed from {spread.ends[spread.better].feed}", "standard error"),
        [
            (f"{int(count):,}", f"{100 * p:.2f}%", f"{100 * error:.2f}%")
            for (count, p), error in zip(spread.steps.tolist(), spread.errors.tolist(), strict=True)
        ],
        numbers={0, 1, 2},
    )
    for text in (*accuracy_words(spread), shape_words(spread)):
        yield paragraph(text)
    for text in (WHAT_COUNTS, *reel_words(spread, system)):
        yield paragraph(text, style="dim")


def answer_words(spread: Spread) -> Iterator[str]:
    """Whether the run may be pulled, how likely the pull passes, and which end, in sentences."""
    if spread.stops:
        yield MUST_NOT
    for number in (spread.better, 1 - spread.better):
        end = spread.ends[number]
        planned = " (planned)" if number == spread.planned else ""
        told = f"ruled out, {end.barred}" if end.barred else chance_words(end.passes, spread.count)
        yield f"Fed from {end.feed}{planned}: {told}."
    if all(end.barred for end in spread.ends):
        yield "Neither end can serve."
    if not any(end.barred for end in spread.ends):
        yield _turning(spread)


def caution_words(spread: Spread, system: str) -> Iterator[str]:
    """What is doubtful about the inputs: ranges that are assumed, or do not hold the plan."""
    if any("assumed" in each.source for each in spread.varying):
        yield (
            "Caution: the range of friction is assumed. Enter low and high in the model file, or "
            "the history of your own pulls: a third either way is common (no source)."
        )
    for each in spread.varying:
        at = _planned_in(each)
        if at is not None and not each.low <= at <= each.high:
            side = "below" if at < each.low else "above"
            low, high = (_value(x, each.quantity, system) for x in (each.low, each.high))
            yield (
                f"Caution: {each.name} is planned at {_planned(each, system)}, {side} its own "
                f"range in [spread] ({low} to {high}): the chances are not of this plan. Correct "
                "one of them."
            )


def _planned_in(each: InputSpread) -> float | None:
    """The planned value in the terms of the percentiles; None where the plan has no such value."""
    kind = INPUTS[each.name.partition(" of ")[0]]
    if kind.share or math.isnan(each.planned):
        return None
    if kind.offset:
        return 1.0 if each.quantity == "percent" else 0.0
    return 1.0 if each.quantity == "percent" else each.planned


def passing_by_both(spread: Spread) -> Iterator[str]:
    """Where friction falls above a contact load: how many pass by both frictions, by end."""
    for end in spread.ends:
        both = end.by_both
        if both is not None:
            yield (
                f"Friction by pressure, fed from {end.feed}: {_percent(both.constant)} pass with "
                f"constant friction, {_percent(both.by_pressure)} by pressure. "
                f"Decides: {both.decides}."
            )


def _turning(spread: Spread) -> str:
    """Which end is better, and from what friction on the other one is."""
    if spread.lower is None:
        return "Both ends take the same share of the limits."
    better, other = spread.ends[spread.lower].feed, spread.ends[1 - spread.lower].feed
    if spread.turns_at is None:
        if spread.stops:
            return f"Of the two ends {better} is the better one at every friction tried."
        return f"Feed from {better}: better at every friction tried."
    figures = ", ".join(
        f"{spread.turns_at * _median(spread, each.name, each.friction):.2f} in {each.label}"
        for each in dict.fromkeys(spread.run.route.conduits)
    )
    beyond = "above" if spread.turns_at > 1.0 else "below"
    if spread.stops:
        return (
            f"Of the two ends {better} is the better one at the usual friction; {beyond} "
            f"{spread.turns_at:.2f} times that ({figures}) {other} is."
        )
    return (
        f"Feed from {better} at the usual friction; {beyond} {spread.turns_at:.2f} times that "
        f"({figures}) feed from {other}."
    )


def _median(spread: Spread, conduit: str, planned: float) -> float:
    """The median friction of a conduit."""
    for each in spread.varying:
        if each.name == f"friction of {conduit}":
            return each.median * planned if each.quantity == "percent" else each.median
    return planned


INPUT_HEADS = ("input", "5%", "50%", "95%", "planned", "from")


def input_row(each: InputSpread, system: str) -> tuple[str, ...]:
    """One input, under ``INPUT_HEADS``: name, percentiles, planned value, source."""
    figures = (_value(x, each.quantity, system) for x in (each.low, each.median, each.high))
    return (each.name, *figures, _planned(each, system), each.source)


def _value(x: float, quantity: str, system: str) -> str:
    return show(x, "fine percent" if quantity == "percent" else quantity, system)


def _planned(each: InputSpread, system: str) -> str:
    kind = INPUTS[each.name.partition(" of ")[0]]
    if kind.offset or kind.share:
        return _value(0.0, each.quantity, system) if not kind.offset else "as drawn"
    return "-" if math.isnan(each.planned) else show(each.planned, kind.quantity, system)


def input_notes(spread: Spread) -> Iterator[str]:
    """What the figures of the inputs are, how they go together, what was left out."""
    shares = {INPUTS[e.name.partition(" of ")[0]].share for e in spread.varying
              if e.quantity == "percent"}  # fmt: skip
    yield (
        "5% and 95%: one pull in 20 is below, one in 20 above. "
        + ("Percentages are of the planned value. " if False in shares else "")
        + ("An ovality is a percentage of the diameter. " if True in shares else "")
        + "Nothing else varies."
    )
    for first, second, value in spread.pairs:
        yield f"Correlation of {first} with {second}: {value:g}."
    if not spread.pairs and len(spread.varying) > 1:
        yield "No input goes with another: a high value of one tells nothing of the others."
    for each in spread.varying:
        if each.cut:
            yield (
                f"{each.name}: {100 * each.cut:.2g}% of the range given is below 0 and left out; "
                "the percentiles are those of the rest."
            )


SHAPE_WORDS = {
    "normal": "normal (a bell around the middle)",
    "lognormal": "lognormal (a bell in ratios, never below 0)",
    "uniform": "uniform (all values between two ends alike)",
    "triangular": "triangular (most often at its peak, never beyond its two ends)",
    "history": "as past pulls were",
}
"""Each shape with what it is in plain words."""


def shape_words(spread: Spread) -> str:
    """The shapes of the inputs in one sentence."""
    names: dict[str, list[str]] = {}
    for each in spread.varying:
        names.setdefault(each.shape, []).append(each.name)
    told = (f"{', '.join(of)} {SHAPE_WORDS[shape]}" for shape, of in names.items())
    return f"Shapes: {'; '.join(told)}."


def limit_rows(practice: Practice, spread: Spread, system: str) -> list[tuple[str, ...]]:
    """Each limit with its chance from each end, and last that any is reached."""
    names = dict.fromkeys(c.limit for end in spread.ends for c in end.chances)
    rows = []
    for limit in names:
        name = _OTHER_NAMES.get(limit) or limit_name(limit, spread.run, practice)
        cells = []
        for end in spread.ends:
            found = next((c for c in end.chances if c.limit == limit), None)
            cells.append("not checked" if found is None else _chance(found, system))
        rows.append((name, *cells))
    any_ = (f"{_percent(1 - e.passes)} ± {100 * e.passes_error:.2f}%" for e in spread.ends)
    rows.append(("any limit", *any_))
    if not any(end.barred for end in spread.ends):
        lower = [1.0 - spread.other_better, spread.other_better]
        first, second = lower if spread.planned == 0 else lower[::-1]
        rows.append(("better of the two ends", _percent(first), _percent(second)))
    return rows


def limit_heads(spread: Spread) -> tuple[str, ...]:
    """The heads of the table of limits."""
    ends = (f"fed from {e.feed}" + (" (ruled out)" if e.barred else "") for e in spread.ends)
    return "limit", *ends


def _chance(chance: Chance, system: str) -> str:
    if chance.probability == 0.0:
        return "0"
    where = chance.where
    if not where and chance.pulled is not None:
        where = f"{show(chance.pulled, 'length', system)} in"
    at = f", {where}" if where else ""
    return f"{_percent(chance.probability)} ± {100 * chance.error:.2f}%{at}"


def _percent(p: float) -> str:
    if p <= 0.0:
        return "0%"
    if 0.9995 <= p < 1.0:
        return "over 99.9%"
    return f"{100 * p:.1f}%" if p >= 0.001 else f"{100 * p:.2g}%"


def _by_cable_in(end: EndSpread, system: str) -> RenderableType:
    even = np.linspace(0.0, float(end.pulled[-1]), _ROWS)
    marks = sorted({int(np.argmin(np.abs(end.pulled - x))) for x in even})
    heads = ["cable in", "tension at this place,\nall cable in: 5 / 50 / 95%"]
    if end.gauge is not None:
        heads.append("load on the machine,\nhead here: 5 / 50 / 95%")
    heads.append("a limit reached\nby here")
    rows = []
    for i in marks:
        cells = [show(float(end.pulled[i]), "length", system), _three(end.tension, i, system)]
        if end.gauge is not None:
            cells.append(_three(end.gauge, i, system))
        rows.append((*cells, _percent(float(end.reached_by[i]))))
    return table(heads, rows, numbers={0, 1, 2, 3})


def _three(rows: Floats, i: int, system: str) -> str:
    texts = [show(float(rows[p, i]), "force", system) for p in (_LOW, _MEDIAN, _HIGH)]
    unit = texts[-1].rpartition(" ")[2]
    return " / ".join(text.removesuffix(f" {unit}") for text in texts) + f" {unit}"


def _importance(spread: Spread, end: EndSpread) -> RenderableType:
    if spread.correlated:
        heads = ("input", "delta", "highest utilization\nat its 5% / 95%")
        rows = [(e.name, _plus(e.first, e.first_error), _swing(e)) for e in _ranked(end)]
        return Group(
            table(heads, rows, numbers={1, 2}),
            paragraph(
                "Delta: how far the utilizations move once this input is known, 0 not at all, 1 as "
                "far as can be (Borgonovo's, for inputs that go together). Below 0.1: noise.",
                style="dim",
            ),
        )
    heads3 = ("input", "alone", "with interactions", "highest utilization\nat its 5% / 95%")
    rows3 = [
        (
            e.name,
            _plus(e.first, e.first_error),
            "-" if e.total is None else _plus(e.total, e.total_error or 0.0),
            _swing(e),
        )
        for e in _ranked(end)
    ]
    return Group(
        table(heads3, rows3, numbers={1, 2, 3}),
        paragraph(
            "How much of the spread of the highest utilization the input explains, alone and with "
            "what it does together with others; 1.00 is all of it (shares of the variance: first "
            "and total Sobol indices, 95% intervals). Last column: this input alone at its 5th and "
            "95th percentile, the others at their medians.",
            style="dim",
        ),
    )


def _ranked(end: EndSpread) -> list[Importance]:
    return sorted(end.importance, key=lambda e: -(e.first if e.total is None else e.total))


def _plus(value: float, error: float) -> str:
    return f"{value + 0.0:.2f} ± {error:.2f}"


def _swing(each: Importance) -> str:
    return f"{100 * each.low:.0f}% / {100 * each.high:.0f}%"


def accuracy_words(spread: Spread) -> Iterator[str]:
    """Whether the probabilities have settled, and by what."""
    wanted = f"{100 * spread.wanted:g}%"
    if spread.settled:
        yield f"Settled: the standard error is at most {wanted} from both ends."
    else:
        yield (
            f"Caution: not settled. The standard error is above {wanted} from at least one end; "
            "raise --most."
        )
    yield (
        "Standard error: how far a chance may be off by the choice of scenarios (two times in "
        "three it is less), from 8 sets of evenly spread points (Sobol points, scrambled), and "
        f"never below one scenario. Seed {spread.seed}: the same seed gives the same figures."
    )


def reel_words(spread: Spread, system: str) -> Iterator[str]:
    """What the reels are held with from each end."""
    for end in spread.ends:
        held, drag = (show(x, "force", system) for x in (end.reel_tension, end.drag))
        if end.by_hand:
            yield (
                f"Fed from {end.feed}: reel tension {held} as planned, less than the drag of the "
                f"reels ({drag}): they are turned by hand, so their drag does not count."
            )
        elif end.brake > 1.0:
            brake = show(end.brake, "force", system)
            yield (
                f"Fed from {end.feed}: reel tension {held} as planned: brake {brake} plus reel "
                f"drag {drag}. The brake force stays as set; the drag of each pull adds to it."
            )
        else:
            yield f"Fed from {end.feed}: reel tension {held} as planned, the drag of the reels."


# --- data -----------------------------------------------------------------------------------------


def spread_data(job: Job, spreads: Sequence[Spread]) -> Data:
    """The same as plain data, in SI."""
    return {**job_data(job), "runs": [_run_data(spread) for spread in spreads]}


def _run_data(spread: Spread) -> Data:
    return {
        "name": spread.run.name,
        "scenarios": spread.count,
        "seed": spread.seed,
        "settled": spread.settled,
        "wanted_error": spread.wanted,
        "must_not_be_pulled": spread.stops,
        "planned_feed": spread.ends[spread.planned].feed,
        "better_feed": spread.ends[spread.better].feed,
        "other_end_better": (
            None if any(end.barred for end in spread.ends) else spread.other_better
        ),
        "turns_at_friction_times": spread.turns_at,
        "cautions": list(caution_words(spread, "SI")),
        "inputs": [
            {
                "name": each.name,
                "shape": each.shape,
                "quantity": each.quantity,
                "low": each.low,
                "median": each.median,
                "high": each.high,
                "planned": None if math.isnan(each.planned) else each.planned,
                "cut": each.cut,
                "source": each.source,
            }
            for each in spread.varying
        ],
        "correlations": [
            {"inputs": [first, second], "value": value} for first, second, value in spread.pairs
        ],
        "convergence": [
            {"scenarios": int(count), "passes": p, "error": error}
            for (count, p), error in zip(spread.steps.tolist(), spread.errors.tolist(), strict=True)
        ],
        "percentiles": list(spread.percentiles),
        "ends": [_end_data(end) for end in spread.ends],
    }


def _end_data(end: EndSpread) -> Data:
    return {
        "feed": end.feed,
        "pull": end.pull,
        "ruled_out": end.barred,
        "passes": end.passes,
        "passes_error": end.passes_error,
        **_both_data(end.by_both),
        "reel_tension_N": end.reel_tension,
        "reel_drag_N": end.drag,
        "brake_N": end.brake,
        "limits": [
            {
                "limit": c.limit,
                "probability": c.probability,
                "error": c.error,
                "where": c.where,
                "cable_in_m": c.pulled,
            }
            for c in end.chances
        ],
        "cable_in_m": end.pulled.tolist(),
        "tension_N": end.tension.tolist(),
        "machine_N": None if end.gauge is None else end.gauge.tolist(),
        "bends": [
            {"name": name, "station_m": at, "sidewall_N_per_m": rows.tolist()}
            for (name, at), rows in zip(
                end.bends, () if end.sidewall is None else end.sidewall.T, strict=True
            )
        ],
        "limit_reached_by": end.reached_by.tolist(),
        "importance": [
            {
                "input": e.name,
                "delta" if e.total is None else "first": e.first,
                "delta_error" if e.total is None else "first_error": e.first_error,
                **({} if e.total is None else {"total": e.total, "total_error": e.total_error}),
                "utilization_low": e.low,
                "utilization_high": e.high,
            }
            for e in end.importance
        ],
    }


def _both_data(both: ByBoth | None) -> Data:
    """Both frictions where one falls above a contact load; else nothing."""
    if both is None:
        return {}
    told = {"constant": both.constant, "by_pressure": both.by_pressure, "decides": both.decides}
    return {"passes_by_both_frictions": told}


@dataclass(frozen=True, slots=True)
class _Place:
    """One place of one end."""

    end: EndSpread
    i: int

    def tension(self, row: int) -> float:
        return float(self.end.tension[row, self.i])

    def gauge(self, row: int) -> float | None:
        return None if self.end.gauge is None else float(self.end.gauge[row, self.i])


def spread_csv(job: Job, spreads: Iterable[Spread], system: str) -> str:
    """CSV of every place looked at, of both ends of each run."""
    columns: list[Column[_Place]] = [
        Column("fed from", lambda p: p.end.feed),
        Column("cable in", lambda p: float(p.end.pulled[p.i]), "length"),
        *(
            Column(f"tension {name}", lambda p, row=row: p.tension(row), "force")  # type: ignore[misc]
            for name, row in (("5%", _LOW), ("50%", _MEDIAN), ("95%", _HIGH))
        ),
        *(
            Column(f"machine {name}", lambda p, row=row: p.gauge(row), "force")  # type: ignore[misc]
            for name, row in (("5%", _LOW), ("50%", _MEDIAN), ("95%", _HIGH))
        ),
        Column("a limit reached by here", lambda p: float(p.end.reached_by[p.i]), "factor"),
    ]
    groups = (
        (s.run.name, [_Place(end, i) for end in s.ends for i in range(len(end.pulled))])
        for s in spreads
    )
    return columns_csv(job, groups, columns, system)
