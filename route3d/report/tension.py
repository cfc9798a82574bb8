"""Both directions of every run side by side, the decision, and its remedies."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray
from rich.console import Group, RenderableType
from rich.text import Text

from route3d.checks.falling_friction import decided_by, decides, mixed
from route3d.checks.limits import Rated
from route3d.geometry.path import ARC, KIND_NAMES, STRAIGHT
from route3d.mechanics.fit import Fit
from route3d.mechanics.pull import Pull
from route3d.model.conduit import Conduit
from route3d.model.practice import Practice
from route3d.planning.direction import Candidate
from route3d.planning.margins import brake_label
from route3d.planning.result import CAUTIONS, JobResult, RunResult
from route3d.report.findings import findings_table, not_judged_parts
from route3d.report.layout import heading, paragraph, table
from route3d.report.remedies import advice_report
from route3d.report.table_values import table_values
from route3d.report.words import (
    CLEARANCE,
    NOT_HERE,
    conduit_fits,
    peak_sidewall_place,
    peak_tension_place,
    sentence,
)
from route3d.units import render, show, show_marked

_LIMITS = ("conductor", "grip", "sidewall", "rope", "machine")


def tension_report(
    result: JobResult,
    system: str,
    *,
    handbook: JobResult | None = None,
    profile: bool = False,
    above: Sequence[RenderableType] = (),
) -> RenderableType:
    """Every run of a job for a terminal; ``handbook`` puts that method's figures beside.

    ``above`` comes between the title and the runs.
    """
    left_out = not_judged_parts(result.site, system)
    parts: list[RenderableType] = [heading(result.job), *above, *left_out]
    others = handbook.runs if handbook else (None,) * len(result.runs)
    for run, other in zip(result.runs, others, strict=True):
        parts += _run_report(run, other, system, profile)
    parts += table_values((r.run for r in result.runs), system)
    practice = result.runs[0].practice if result.runs else result.job.practice
    parts += _foot(practice, handbook is not None)
    return Group(*parts)


def _run_report(
    run: RunResult, other: RunResult | None, system: str, profile: bool
) -> list[RenderableType]:
    parts: list[RenderableType] = [*_head(run, system), _directions(run, other, system)]
    parts += [*_decision(run, system), *advice_report(run, system)]
    if other is not None:
        parts.append(
            paragraph("By handbook: " + sentence(render(other.decision.why, system)), before=1)
        )
    serious = [f for f in run.findings if f.severity in ("stop", "caution")]
    if serious:
        parts += findings_table(serious, system, sources=False)
    if profile:
        for candidate in run.candidates:
            parts += _profile(run, candidate, system)
    return parts


def _foot(practice: Practice, both: bool) -> list[RenderableType]:
    words = f"Basis: {practice.basis_words}."
    if both:
        words += " Handbook: bends multiply tension by the capstan factor, cable weight ignored."
    texts = (CLEARANCE, NOT_HERE, *CAUTIONS)
    return [paragraph(words, before=1), *(paragraph(text, style="dim") for text in texts)]


# --- what is pulled through what ----------------------------------------------------------------


def _head(run: RunResult, system: str) -> list[RenderableType]:
    size = f"{show(run.path.length, 'length', system)} long, "
    size += f"{show(run.path.turn, 'angle', system)} total bend"
    what = f"{run.run.cables.describe()} on {run.run.attach}"
    lines = [f"in {c.label}: {_fit(c, f, run.practice, system)}" for c, f in conduit_fits(run)]
    return [
        paragraph(f"Run {run.run.name}: {what}, {size}", style="bold", before=1),
        *(paragraph(line) for line in lines),
    ]


def _fit(conduit: Conduit, fit: Fit, practice: Practice, system: str) -> str:
    parts = [
        f"{fit.arrangement}, weight factor {show(fit.weight_factor, 'factor', system)}",
        f"friction {_friction(conduit, practice, system)}",
        f"fill {show(fit.fill, 'percent', system)}",
    ]
    ratio = fit.jam_ratio_oval if practice.jam_ratio == "1.05 D/d" else fit.jam_ratio
    if ratio is not None:
        parts.append(f"jam ratio {show(ratio, 'ratio', system)} ({practice.jam_ratio})")
    parts.append(f"clearance {show(fit.clearance, 'diameter', system)}")
    return ", ".join(parts)


def _friction(conduit: Conduit, practice: Practice, system: str) -> str:
    words = show(conduit.friction, "ratio", system)
    if conduit.friction_above is None or conduit.friction_then is None:
        return words
    above = show(conduit.friction_above, "sidewall", system)
    fall = f"{show(conduit.friction_then, 'ratio', system)} above {above} of contact load"
    if practice.method == "handbook":  # no row of the table says it then
        why = render(decides(conduit, practice), system)
        fall += f"; {why[0].lower()}{why[1:]}"
    return f"{words} ({fall})"


# --- both directions ----------------------------------------------------------------------------


def _directions(run: RunResult, other: RunResult | None, system: str) -> RenderableType:
    return table(*directions_table(run, other, system))


def directions_table(
    run: RunResult, other: RunResult | None, system: str
) -> tuple[list[str], list[list[str | Text]]]:
    """Heads and rows of the quantities of both directions; ``other`` has the handbook's beside."""
    methods = [("", run)] if other is None else [(", exact", run), (", handbook", other)]
    sides = [
        (f"feed {solved.candidates[way].pull.feed_name}{method}", solved.candidates[way], solved)
        for way in (0, 1)
        for method, solved in methods
    ]
    by_both = len(by_both_labels(run.best.pull))
    columns = [_column(candidate, solved, by_both, system) for _, candidate, solved in sides]
    rows = [[label, *row] for label, *row in zip(_labels(run), *columns, strict=True)]
    return ["", *(title for title, _, _ in sides)], rows


def _labels(run: RunResult) -> tuple[str, ...]:
    """The quantities, one to a row; sidewall pressure stands by both radii."""
    inside = run.practice.sidewall_radius == "inside"
    other = "  on the centerline" if inside else "  at the inner wall"
    limits = (f"of {run.best.name(limit)} limit" for limit in _LIMITS)
    by_both = by_both_labels(run.best.pull)
    return (*_LOADS, other, *_MARGINS, *by_both, *limits, "governing", "verdict")


_LOADS = (
    "pull at",
    "brake window",
    "reel tension",
    "end tension",
    "peak tension",
    "peak sidewall",
)
_MARGINS = (
    "machine peak, moving",
    "  at a restart",
    "friction margin",
    "  at a restart",
)


def by_both_labels(pull: Pull) -> tuple[str, ...]:
    """The rows of the results by constant friction and by pressure; none where friction is one."""
    if pull.by_both_frictions is None:
        return ()
    results = "constant friction", "friction by pressure", *(("as decided",) if mixed(pull) else ())
    machine = () if pull.machine_peak is None else ("  at the machine",)
    return (*(label for result in results for label in (result, *machine)), "  decides")


def _column(candidate: Candidate, run: RunResult, by_both: int, system: str) -> list[str | Text]:
    """``by_both`` is the number of rows for the results by constant friction and by pressure."""
    pull, use = candidate.pull, candidate.utilization
    shares, rated = dict(use.items()), Rated.of(pull.run, pull.practice)
    return [
        pull.pull_name,
        _window(candidate, system),
        show_marked(pull.reel_tension, "force+", system),
        show(pull.end_tension, "force", system),
        f"{show(pull.peak_tension, 'force', system)} at {peak_tension_place(pull, system)}",
        _sidewall(candidate, system),
        _other_radius(candidate, system),
        _machine(candidate, system),
        f"{show(candidate.restart, 'force', system)}, friction x {run.practice.restart:g}",
        _margin(candidate, system),
        _restart_margin(candidate, system),
        *by_both_cells(pull, by_both, system),
        *(_share(shares[name], getattr(rated, name), name, system) for name in _LIMITS),
        f"{candidate.name(use.governing)}, {show(use.peak, 'percent', system)}",
        _verdict(candidate, run, system),
    ]


def by_both_cells(pull: Pull, rows: int, system: str) -> Iterator[str]:
    """Cells of ``rows`` named by ``by_both_labels``: both results, and which decides."""
    both = pull.by_both_frictions
    if both is None:
        if rows:
            yield from ("-",) * (rows - 1)
            yield "constant friction (hand method)"
        return
    for peaks in (*both, *((pull.peaks,) if mixed(pull) else ())):
        end, sidewall = (peaks.tension_at_end, "force"), (peaks.sidewall, "sidewall")
        yield f"{show(*end, system)} at the end, {show(*sidewall, system)}"
        if peaks.machine is not None:
            yield show(peaks.machine, "force", system)
    yield decided_by(pull).replace("; ", ";\n")


def _sidewall(candidate: Candidate, system: str) -> str:
    where = peak_sidewall_place(candidate.pull, system)
    if not where:
        return "none (no bends)"
    whole = "" if _per_cable(candidate.pull) else ", whole set on one cable"
    return f"{show(candidate.pull.peak_sidewall, 'sidewall', system)} in {where}{whole}"


def _per_cable(pull: Pull) -> bool:
    """Whether the largest sidewall pressure is that of one cable."""
    segment = int(pull.profile.segment[int(np.argmax(pull.profile.sidewall))])
    fit = pull.fits[int(pull.path.leg[segment])]
    return fit.per_cable and pull.practice.sidewall == "per cable"


def _other_radius(candidate: Candidate, system: str) -> str:
    """The sidewall pressure by the radius that the practice does not use."""
    pull = candidate.pull
    other = pull.peak_sidewall_on_centerline
    if pull.practice.sidewall_radius != "inside":
        other = pull.peak_sidewall_at_inner_wall
    return show(other, "sidewall", system) if other else "-"


def _window(candidate: Candidate, system: str) -> str:
    window = candidate.window
    least = show_marked(window.at_least, "force+", system)
    ends = f"at least {least}, at most {show_marked(window.at_most, 'force-', system)}"
    if window.empty:
        return f"none: {ends}"
    if window.holds:
        return ends
    if window.at_most <= 0:
        return "limit exceeded at high friction"
    return render(brake_label(window), system)


def _margin(candidate: Candidate, system: str) -> str:
    margin = candidate.margin
    if margin.factor is None:
        return f"none: {candidate.name(margin.limit)} exceeded without friction"
    if math.isinf(margin.factor):
        return "no limit reached by friction"
    return f"{show(margin.factor, 'ratio', system)} x, {candidate.name(margin.limit)}"


def _restart_margin(candidate: Candidate, system: str) -> str:
    factor = candidate.margin.at_restart
    return "-" if factor is None or math.isinf(factor) else f"{show(factor, 'ratio', system)} x"


def _machine(candidate: Candidate, system: str) -> str:
    load, station = candidate.pull.machine_peak, candidate.pull.machine_peak_head
    if load is None or station is None:
        return f"at least {show(candidate.pull.machine_least, 'force', system)} (no rope given)"
    return f"{show(load, 'force', system)}, head at station {show(station, 'length', system)}"


def _share(share: float | None, limit: float | None, name: str, system: str) -> Text:
    if share is None or limit is None:
        return Text("not checked: none given", style="dim")
    quantity = "sidewall" if name == "sidewall" else "force"
    text = f"{show(share, 'percent', system)} of {show(limit, quantity, system)}"
    return Text(text, style="bold red" if share > 1 + 1e-9 else "")


def _verdict(candidate: Candidate, run: RunResult, system: str) -> Text:
    if candidate.barred:
        return Text(f"ruled out: {render(candidate.barred, system)}", style="bold red")
    if candidate.breaks:
        rules = ", ".join(dict.fromkeys(f.rule for f in candidate.breaks))
        return Text(f"STOP: {rules}", style="bold red")
    chosen = run.decision.choice is candidate
    return Text("within limits" + (", chosen" if chosen else ""), style="green")


def _decision(run: RunResult, system: str) -> list[RenderableType]:
    choice, reason = run.decision.choice, sentence(render(run.decision.why, system))
    if choice is not None:
        head = f"Feed from {choice.pull.feed_name}, pull at {choice.pull.pull_name}. "
        lines: list[RenderableType] = [
            paragraph(Text.assemble((head, "bold green"), reason), before=1)
        ]
        return [_not_yet(run), *lines] if run.stops else lines
    return [paragraph(reason, style="bold red", before=1)]


def _not_yet(run: RunResult) -> RenderableType:
    rules = ", ".join(dict.fromkeys(f.rule for f in run.findings if f.severity == "stop"))
    return paragraph(f"Do not pull yet: {rules}. Once that is fixed:", style="bold red", before=1)


# --- profile ------------------------------------------------------------------------------------


def _profile(run: RunResult, candidate: Candidate, system: str) -> list[RenderableType]:
    """One line for each straight, bend and corner, in pulling order."""
    pull = candidate.pull
    title = f"Feed from {pull.feed_name}: tension along the pull"
    heads = ("from station", "to", "tension in", "out", "sidewall", "wall load", "what")
    rows = [_piece(run, candidate, rows, system) for rows in _pieces(pull.profile.segment)]
    return [paragraph(title, style="bold", before=1), table(heads, rows, numbers=range(6))]


def _pieces(segment: NDArray[np.int64]) -> list[slice]:
    """The rows of each segment, in the order they come."""
    cuts = np.flatnonzero(np.diff(segment)) + 1
    bounds = [0, *cuts.tolist(), len(segment)]
    return [slice(a, b) for a, b in pairwise(bounds)]


def _piece(run: RunResult, candidate: Candidate, rows: slice, system: str) -> list[str]:
    profile = candidate.pull.profile
    station, tension = profile.station[rows], profile.tension[rows]
    sidewall = float(profile.sidewall[rows].max())
    return [
        show(float(station[0]), "length", system),
        show(float(station[-1]), "length", system),
        show(float(tension[0]), "force", system),
        show(float(tension[-1]), "force", system),
        show(sidewall, "sidewall", system) if sidewall else "-",
        show(float(profile.contact[rows].max()), "sidewall", system),
        _what(run, int(profile.segment[rows.start]), system),
    ]


def _what(run: RunResult, segment: int, system: str) -> str:
    path, route = run.path, run.run.route
    kind = int(path.kind[segment])
    conduit = route.conduits[int(path.leg[segment])].label
    if kind == STRAIGHT:
        return f"straight in {conduit}"
    turn = show(float(path.angles[segment]), "angle", system)
    if kind != ARC:
        return f"{KIND_NAMES[kind]} of {turn} at {route.label(int(path.vertex[segment]))}"
    number = int(np.count_nonzero(path.kind[: segment + 1] == ARC))
    radius = show(float(path.radii[segment]), "radius", system)
    return f"bend {number}, {turn} at {radius}, in {conduit}"
