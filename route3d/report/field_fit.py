"""Friction found from logs: table, correlation, what cannot be told apart; as text and JSON."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from contextlib import suppress
from dataclasses import dataclass

import numpy as np
from rich.console import Group, RenderableType

from route3d.field.estimate import Estimate
from route3d.field.expected import expected_load
from route3d.field.fit import Fit, conduit_named, named
from route3d.field.other_end import other_end_words
from route3d.geometry.vectors import Floats
from route3d.model.conduit import Conduit
from route3d.report.columns import Column, column_table
from route3d.report.json_result import Data, job_data
from route3d.report.layout import heading, paragraph, table
from route3d.standards.friction import FrictionRange, friction_for
from route3d.standards.stock import jackets_known
from route3d.standards.tables import NotInTable
from route3d.units import show

PLACES = 120
"""Places of the head at which the peak of the plan is looked for."""


@dataclass(frozen=True, slots=True)
class _Line:
    """One figure found: what the plan has, and for friction what is published."""

    estimate: Estimate
    label: str
    quantity: str
    planned: float
    prior: tuple[float, float]
    published: FrictionRange | None = None

    def found(self, system: str) -> str:
        if not self.estimate.known:
            return "not known"
        return _shown(self.estimate.value, self.quantity, system)

    def interval(self, system: str) -> str:
        if not self.estimate.known:
            return "-"
        return _range(self.estimate.low, self.estimate.high, self.quantity, system)


def _range(low: float, high: float, quantity: str, system: str) -> str:
    return f"{_shown(low, quantity, system)} to {_shown(high, quantity, system)}"


def _shown(value: float, quantity: str, system: str) -> str:
    """A value with its unit; friction to three places, for that is how well it may be known."""
    return f"{value:.3f}" if quantity == "ratio" else show(value, quantity, system)


def _lines(fit: Fit) -> list[_Line]:
    lines = []
    for e, planned, prior in zip(fit.estimates, fit.planned, fit.prior, strict=True):
        if e.kind == "friction":
            published = published_friction(fit, conduit_named(fit.job, e.name))
            lines.append(_Line(e, e.name, "ratio", planned, prior, published))
        else:
            quantity = "ratio" if e.kind == "rope friction" else "force"
            several = len(fit.logs) > 1 or e.name not in {log.name for log in fit.logs}
            label = f"{e.kind}, {e.name}" if several and e.kind != "rope friction" else e.kind
            lines.append(_Line(e, label, quantity, planned, prior))
    return lines


def published_friction(fit: Fit, conduit: Conduit) -> FrictionRange | None:
    """What publications give for lubricated cables of these jackets in it; None for nothing.

    Every jacket that is published counts where the cables name none.
    """
    runs = [pull.run for pull in fit.pulls if conduit in pull.run.route.conduits]
    jackets = {cable.jacket for run in runs for cable, _ in run.cables.mains}
    found = []
    for jacket in jackets_known() if jackets == {""} else sorted(jackets - {""}):
        with suppress(NotInTable):
            found.append(friction_for(jacket, conduit.stock_type or conduit.material, True))
    if not found:
        return None
    low, high = min(f.low for f in found), max(f.high for f in found)
    return FrictionRange(low, found[0].typical, high, found[0].sources)


# --- for a terminal -------------------------------------------------------------------------------


def fit_report(fit: Fit, system: str, profiled: Sequence[Estimate] = ()) -> RenderableType:
    """What the logs teach, how well, and what it means for the plan."""
    lines = _lines(fit)
    frictions = [line for line in lines if line.estimate.kind == "friction"]
    others = [line for line in lines if line.estimate.kind != "friction"]
    parts: list[RenderableType] = [heading(fit.job)]
    parts += [paragraph(text, before=i == 0) for i, text in enumerate(_read_words(fit, system))]
    reasons = list(dict.fromkeys(_sentence(e.why) for e in fit.estimates if not e.known))
    if not any(e.known for e in fit.estimates):  # what is left would be figures of nothing
        parts += [paragraph(text, before=1) for text in (*reasons, _NOTHING_KNOWN)]
        return Group(*parts)
    parts.append(paragraph("Friction found", style="bold", before=1))
    parts.append(
        column_table(
            frictions,
            (
                Column("conduit", lambda x: x.label),
                Column("planned", lambda x: _shown(x.planned, "ratio", system)),
                Column("planned range", lambda x: _range(*x.prior, "ratio", system)),
                Column("found", lambda x: x.found(system)),
                Column("95% interval", lambda x: x.interval(system)),
                Column("published, lubricated", lambda x: _published(x, system)),
            ),
            system,
        )
    )
    parts += [paragraph(text) for text in _friction_words(frictions, fit, system)]
    parts.append(paragraph("Brake, rope and gauge", style="bold", before=1))
    parts.append(
        column_table(
            others,
            (
                Column("figure", lambda x: x.label),
                Column("planned", lambda x: _shown(x.planned, x.quantity, system)),
                Column("found", lambda x: x.found(system)),
                Column("95% interval", lambda x: x.interval(system)),
            ),
            system,
        )
    )
    parts += [paragraph(text) for text in _brake_words(others, system)]
    parts += [paragraph(text) for text in reasons]
    parts.append(paragraph("Correlation", style="bold", before=1))
    numbers = [str(i + 1) for i in range(len(lines))]
    rows = [
        [
            f"{i + 1}  {_name(line)}",
            *(f"{c:+.2f}" for c in row[: i + 1]),
            *[""] * (len(row) - i - 1),
        ]
        for i, (line, row) in enumerate(zip(lines, fit.correlation.tolist(), strict=True))
    ]
    parts.append(table(["figure", *numbers], rows, numbers=set(range(1, len(rows) + 1))))
    parts += [paragraph(text) for text in _entangled_words(fit)]
    for estimate in profiled:
        parts += _profile_parts(fit, lines[fit.estimates.index(estimate)], system)
    parts.append(paragraph("Readings against the fit", style="bold", before=1))
    parts += [paragraph(text) for text in _residual_words(fit, system)]
    parts.append(paragraph("What it means for the plan", style="bold", before=1))
    parts += [paragraph(text) for text in _plan_words(fit, frictions, system)]
    return Group(*parts)


_NOTHING_KNOWN = "No friction is known from these logs. Keep the planned values."


def _name(line: _Line) -> str:
    return f"friction, {line.label}" if line.estimate.kind == "friction" else line.label


def _sentence(text: str) -> str:
    return text[:1].upper() + text[1:] + "."


def _published(line: _Line, system: str) -> str:
    found = line.published
    return "-" if found is None else _range(found.low, found.high, "ratio", system)


def _read_words(fit: Fit, system: str) -> Iterator[str]:
    for i, log in enumerate(fit.logs):
        used, pull = int((fit.log == i).sum()), fit.pulls[i]
        yield (
            f"Log {log.name}: run {pull.run.name}, fed from {pull.feed_name}. "
            f"{used} of {len(log)} readings fitted, "
            f"{_range(*_ends(fit.pulled[fit.log == i]), 'length', system)} of cable in."
        )
    for i, end in enumerate(fit.other_ends):
        if end:
            yield other_end_words(fit.logs[i].name, fit.pulls[i].feed_name, end)
    if fit.left_out:
        yield (
            f"{fit.left_out} readings that count are close to others or beyond the ends of the "
            "run; they would add little and are not fitted."
        )


def _ends(values: Floats) -> tuple[float, float]:
    return float(values.min()), float(values.max())


def _friction_words(lines: Sequence[_Line], fit: Fit, system: str) -> Iterator[str]:
    for line in lines:
        e, published = line.estimate, line.published
        if e.name in fit.at_bound:
            yield (
                f"Friction in {e.name} reached the end of what is physically plausible (0.02 to "
                "1.5): look for another cause, such as a wrong gauge, tare or footage."
            )
        if not e.known or published is None:
            continue
        if e.low > published.high or e.high < published.low:
            where = "above" if e.low > published.high else "below"
            yield (
                f"Caution: friction in {e.name} is {where} the published range "
                f"{_range(published.low, published.high, 'ratio', system)}."
            )


def _brake_words(lines: Sequence[_Line], system: str) -> Iterator[str]:
    for line in lines:
        e, (least, most) = line.estimate, line.prior
        if e.kind == "reel tension" and e.known and (e.high < least or e.low > most):
            side = "below" if e.high < least else "above"
            yield (
                f"Caution: the {line.label} was {side} the brake window of the plan, "
                f"{_range(least, most, 'force', system)}."
            )


def _entangled_words(fit: Fit) -> Iterator[str]:
    for one, other, correlation in fit.entangled:
        pair = [named(each.kind, each.name) for each in (one, other)]
        if pair[0] == pair[1]:  # of two logs, or before and after a change
            pair = [
                f"{words} ({each.name})" for words, each in zip(pair, (one, other), strict=True)
            ]
        yield f"Hardly told apart: {pair[0]} and {pair[1]} (correlation {correlation:+.2f})."


def _residual_words(fit: Fit, system: str) -> Iterator[str]:
    noise = fit.noise
    spread = float(np.sqrt(np.mean(fit.residual**2)))
    worst = int(np.abs(fit.residual).argmax())
    yield (
        f"Readings less fit: standard deviation {show(spread, 'force', system)}; largest "
        f"difference {show(float(fit.residual[worst]), 'force', system)} at "
        f"{show(float(fit.pulled[worst]), 'length', system)} of cable in. Gauge noise "
        f"{show(noise.sigma, 'force', system)}, correlated over "
        f"{show(noise.reach, 'length', system)} of cable; readings in steps of "
        f"{show(noise.step, 'force', system)}."
    )
    for level in fit.levels:
        above = "above" if level.size > 0 else "below"
        yield (
            f"{level.log}, {_range(level.start, level.end, 'length', system)}: readings are "
            f"{show(abs(level.size), 'force', system)} {above} the rest (a snag, a pause, or a "
            "misreading). They do not count for the friction."
        )
    moves = ", ".join(
        f"{e.name} {round(r, 3) + 0.0:+.3f}"
        for e, r in zip(fit.estimates, fit.rounding.tolist(), strict=False)
        if e.kind == "friction"
    )
    yield (
        f"Dial rounding: if every reading is {show(fit.half_step, 'force', system)} higher, the "
        f"friction found changes by: {moves}."
    )


def _plan_words(fit: Fit, lines: Sequence[_Line], system: str) -> Iterator[str]:
    known = [line for line in lines if line.estimate.known]
    if not known:
        yield _NOTHING_KNOWN
        return
    if len({conduit_named(fit.job, x.estimate.name).name for x in lines}) == len(lines):
        yield from _peaks(fit, system)
    yield "The model file is not changed. To plan with the friction found, type:"
    for line in known:
        e, conduit = line.estimate, conduit_named(fit.job, line.estimate.name)
        yield f"[conduit.{conduit.name}]  friction = {e.value:.3f}    # {e.low:.3f} to {e.high:.3f}"
    yield (
        "One pull is one sample: jacket, lubricant and temperature change friction from pull to "
        "pull. It never replaces the limiter, the operator, or the word that stops the pull."
    )


def _peaks(fit: Fit, system: str) -> Iterator[str]:
    seen = set()
    for pull in fit.pulls:
        if (key := (pull.run.name, pull.feed)) in seen:
            continue
        seen.add(key)
        expected = expected_load(pull, np.linspace(0.0, pull.path.length, PLACES))
        each = np.array([fit.frictions[name].value for name in expected.conduits])
        planned, found = (float(x.max()) for x in (expected.loads(), expected.loads(each)))
        yield (
            f"Run {pull.run.name}, fed from {pull.feed_name}, brake as planned: peak machine load "
            f"{show(found, 'force', system)} with the friction found, "
            f"{show(planned, 'force', system)} planned."
        )


def _profile_parts(fit: Fit, line: _Line, system: str) -> Iterator[RenderableType]:
    values, drop = fit.profile(line.estimate)
    yield paragraph(f"Profile likelihood: {_name(line)}", style="bold", before=1)
    limit = 0.5 * fit.solution.quantile**2
    rows = [
        (
            _shown(v, line.quantity, system),
            f"{-d:.2f}",
            "#" * round(40 * math.exp(-d)),
            "inside" if d <= limit else "",
        )
        for v, d in zip(values.tolist(), drop.tolist(), strict=True)
    ]
    yield table(["value", "log likelihood", "likelihood", "95% interval"], rows, numbers={0, 1})


# --- for machines ---------------------------------------------------------------------------------


def fit_data(fit: Fit, profiled: Sequence[Estimate] = ()) -> Data:
    """What the logs teach, SI."""
    groups: dict[str, Data] = {
        "friction": {},
        "rope friction": {},
        "reel tension": {},
        "tare": {},
    }
    rounding = fit.rounding.tolist()
    for line, moved in zip(_lines(fit), rounding, strict=True):
        e = line.estimate
        entry: Data = {
            "value": e.value,
            "low": e.low,
            "high": e.high,
            "known": e.known,
            "why": e.why,
            "planned": line.planned,
            "half_dial_step": moved,
        }
        if e.kind == "friction":
            found = line.published
            entry["published"] = None if found is None else [found.low, found.high]
            entry["at_bound"] = e.name in fit.at_bound
        groups[e.kind][e.name] = entry
    data = job_data(fit.job)
    data |= {
        "friction": groups["friction"],
        "rope_friction": groups["rope friction"],
        "reel_tension_N": groups["reel tension"],
        "tare_N": groups["tare"],
        "correlation": {
            "names": [f"{e.kind}: {e.name}" for e in fit.estimates],
            "matrix": fit.correlation.tolist(),
        },
        "hardly_told_apart": [
            [f"{a.kind}: {a.name}", f"{b.kind}: {b.name}", c] for a, b, c in fit.entangled
        ],
        "noise": {
            "sigma_N": fit.noise.sigma,
            "reach_m": fit.noise.reach,
            "step_N": fit.noise.step,
        },
        "levels": [
            {
                "log": x.log,
                "from_m": x.start,
                "to_m": x.end,
                "size_N": x.size,
                "readings": x.readings,
            }
            for x in fit.levels
        ],
        "fits_better_from": [end or None for end in fit.other_ends],
        "half_dial_step_N": fit.half_step,
        "readings": {"counting": fit.readings, "fitted": len(fit.pulled)},
    }
    if profiled:
        data["profile"] = {
            f"{e.kind}: {e.name}": dict(
                zip(("value", "drop"), (x.tolist() for x in fit.profile(e)), strict=True)
            )
            for e in profiled
        }
    return data
