"""A log against its plan, for a terminal and for machines."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterator, Sequence
from typing import Any

import numpy as np
from rich.console import Group, RenderableType
from rich.text import Text

from route3d.drawing.axes import length_step
from route3d.field.causes import Cause, Explanation
from route3d.field.compare import Comparison, PlaceResidual
from route3d.field.departures import Departure
from route3d.field.other_end import other_end_words
from route3d.model.job import Job
from route3d.report.json_result import job_data
from route3d.report.layout import heading, paragraph, severity_style, table
from route3d.report.plan_blocks import limit_of_plan
from route3d.units import show

_ROWS = 12
COMMON = "(common practice)"
NEVER_REPLACES = (
    "This comparison never replaces the limiter, the operator, or the word that stops the pull."
)


def compare_report(job: Job, found: Comparison, system: str) -> RenderableType:
    """The comparison, what is worst first."""
    parts: list[RenderableType] = [heading(job)]
    parts += [paragraph(words, style="bold red") for words in alarm_words(found, system)]
    parts.append(paragraph(_counted(found), before=1))
    if found.log.tare:
        parts.append(paragraph(f"Tare taken off: {show(found.log.tare, 'force', system)}."))
    parts.append(paragraph("Readings against the plan", style="bold", before=1))
    parts.append(_readings_table(found, system))
    parts.append(paragraph(_BAND_NOTE, style="dim"))
    parts.append(paragraph("Measured less expected, by place", style="bold", before=1))
    parts.append(_places_table(found, system))
    parts.append(paragraph("Where it departs from the plan", style="bold", before=1))
    departures = [departure_words(d, system) for d in found.departures]
    parts += [paragraph(f"- {words}", indent=2) for words in departures or [_NO_DEPARTURE]]
    parts.append(paragraph("What explains it, most likely first", style="bold", before=1))
    parts += [paragraph(words, indent=2) for words in explanation_lines(found, system)]
    parts.append(paragraph(_noise_words(found, system), style="dim", before=1))
    parts.append(paragraph(NEVER_REPLACES, style="dim"))
    return Group(*parts)


_NO_DEPARTURE = "No sudden departure."
_NO_CAUSE = "Nothing needs an explanation: the readings agree with the plan."
_BAND_NOTE = (
    "Expected: reading while moving, as planned. By brake: from the lightest to the hardest brake "
    "allowed. Caution and Stop: those of the plan, worked out at this footage."
)


def alarm_words(found: Comparison, system: str) -> Iterator[str]:
    """What must be read first: readings above Stop, and a plan that must not be pulled."""
    over = found.above_stop
    if len(over):
        yield f"STOP PASSED: {_over_stop(found, over, system)}"
    flagged = found.flagged_above_stop
    if len(flagged):
        yield (
            f"STOP MAY HAVE BEEN PASSED: {_over_stop(found, flagged, system)} "
            f"Doubtful because: {_flags_of(found, flagged) or 'outside the run'}."
        )
    spikes = np.flatnonzero(found.held.spikes)
    if len(spikes):
        yield (
            f"Above Stop, not believed: {_over_stop(found, spikes, system)} "
            f"Because: {_flags_of(found, spikes)}."
        )
    if end := found.other_end:
        yield other_end_words(found.log.name, found.plan.pull.feed_name, end)
    if found.plan.stops:
        yield "The plan itself says: this pull must not be made. See: route3d plan."


def _flags_of(found: Comparison, rows: np.ndarray[Any, Any]) -> str:
    return ", ".join(sorted({flag for i in rows.tolist() for flag in found.log.flags[i]}))


def _over_stop(found: Comparison, rows: np.ndarray[Any, Any], system: str) -> str:
    stops = found.held.stop
    worst = int(rows[int(np.argmax(found.measured[rows] / stops[rows]))])
    count = "1 reading" if len(rows) == 1 else f"{len(rows)} readings"
    said, stop = (show(x[worst], "force", system) for x in (found.measured, stops))
    if not found.held.placed[worst]:
        return f"{count}. Worst: {said} at no known place; the highest Stop of the run is {stop}."
    limit = found.band.limit[worst]
    why = f"{limit_of_plan(limit.limit, found.plan)}, {limit.place}"
    if stops[worst] < found.band.stop[worst]:
        why = "first move from rest"
    return (
        f"{count}. Worst: {said} with {show(found.log.pulled[worst], 'length', system)} of cable "
        f"in; Stop is {stop} there ({why})."
    )


def _counted(found: Comparison) -> str:
    log, pull = found.log, found.plan.pull
    used, out = int(found.compared.sum()), len(log) - int(found.compared.sum())
    words = f"Run {pull.run.name}, feed from {pull.feed_name}. Log {log.name}: {len(log)} readings"
    if not out:
        return f"{words}, all compared."
    why = Counter(
        flag for i in np.flatnonzero(~found.compared).tolist() for flag in log.flags[i][:1]
    )
    outside = out - sum(why.values())
    told = [f"{flag} {count}" for flag, count in why.most_common()]
    told += [f"outside the run {outside}"] if outside else []
    return f"{words}, {used} compared, {out} not: {', '.join(told)}."


# --- tables ---------------------------------------------------------------------------------------


def _readings_table(found: Comparison, system: str) -> RenderableType:
    rows, stop = [], severity_style("stop")
    for i in table_rows(found, system):
        cells = _reading_cells(found, i, system)
        over = says(found, i) == "STOP"
        rows.append([Text(c, style=stop) for c in cells] if over else list(cells))
    heads = (
        "cable in", "head in", "reading", "expected", "difference", "by brake", "caution", "stop",
        "says",
    )  # fmt: skip
    return table(heads, rows, numbers={0, 2, 3, 4, 5, 6, 7})


def table_rows(found: Comparison, system: str) -> list[int]:
    """The readings that a table shows: at even footages, at departures, and the worst."""
    rows = np.flatnonzero(found.compared)
    at = found.log.pulled[rows]
    length = found.plan.pull.path.length
    step = length_step(length, _ROWS, system)
    wanted = [step * i for i in range(math.ceil(length / step) + 1)]
    wanted += [d.start for d in found.departures if d.kind in ("jump", "drop")]
    near = [int(rows[int(np.argmin(np.abs(at - x)))]) for x in wanted]
    near = [
        i
        for i, x in zip(near, wanted, strict=True)
        if abs(float(found.log.pulled[i]) - x) < step / 2
    ]
    share = found.measured[rows] / found.band.stop[rows]
    near.append(int(rows[int(np.argmax(share))]))
    return sorted(dict.fromkeys(near), key=lambda i: (float(found.log.pulled[i]), i))


def _reading_cells(found: Comparison, i: int, system: str) -> tuple[str, ...]:
    band = found.band
    low, high = (show(float(x[i]), "force", system) for x in (band.low, band.high))
    return (
        show(float(found.log.pulled[i]), "length", system),
        place_of(found, float(found.log.pulled[i])),
        show(float(found.measured[i]), "force", system),
        show(float(band.expected[i]), "force", system),
        _signed(float(found.residual[i]), system),
        "-" if low == high else f"{low.split(' ')[0]} to {high}",
        show(float(band.caution[i]), "force", system),
        "-" if math.isinf(band.stop[i]) else show(float(band.stop[i]), "force", system),
        says(found, i),
    )


def says(found: Comparison, i: int) -> str:
    """What a reading says: "STOP", "above caution", "above band", "below band" or "in band"."""
    reading, band = float(found.measured[i]), found.band
    slack = 0.5 * found.step + 2.0 * found.noise.sigma
    held = found.held
    if held.passed[i] or held.doubtful[i] or held.spikes[i]:
        return "STOP"
    if reading > band.caution[i] * (1 + 1e-9):
        return "above caution"
    if reading > max(band.high[i], band.expected[i]) + slack:
        return "above band"
    below = reading < min(band.low[i], band.expected[i]) - slack
    return "below band" if below else "in band"


def place_of(found: Comparison, pulled: float) -> str:
    """The bend that the head is in, else the conduit."""
    for kind in ("bend", "conduit"):
        for place in found.places:
            if place.kind == kind and place.start - 1e-6 <= pulled <= place.end + 1e-6:
                return place.name
    return "-"


def _places_table(found: Comparison, system: str) -> RenderableType:
    heads = ("head in", "from", "to", "readings", "mean", "largest", "grew by")
    rows = [
        (
            _place_name(place),
            show(place.start, "length", system, decimals=0),
            show(place.end, "length", system, decimals=0),
            str(place.count),
            _signed(place.mean, system),
            _signed(place.largest, system),
            _signed(place.grew, system),
        )
        for place in found.places
    ]
    return table(heads, rows, numbers={1, 2, 3, 4, 5, 6})


def _place_name(place: PlaceResidual) -> str:
    return {"conduit": f"conduit {place.name}", "straight": "  straight"}.get(
        place.kind, f"  {place.name}"
    )


def _signed(value: float, system: str) -> str:
    if math.isnan(value):
        return "-"
    words = show(abs(value), "force", system)
    if words.split(" ")[0].strip("0.,") == "":
        return words
    return ("+" if value > 0 else "-") + words


# --- words ----------------------------------------------------------------------------------------


def departure_words(found: Departure, system: str) -> str:
    """One departure in a sentence, as it could have been called during the pull."""
    at = show(found.start, "length", system, decimals=0)
    called = show(found.called, "length", system, decimals=0)
    size = show(abs(found.size), "force", system)
    way = "above" if found.size > 0 else "below"
    return {
        "jump": f"Jump with {at} in: {size} {'up' if found.size > 0 else 'down'}, "
        f"known with {called} in.",
        "drop": f"Drop to nothing with {at} in: {size} below what was expected.",
        "pulsing": f"Pulsing from {at} to {called} in: {size} from crest to trough.",
        "offset": f"Offset: readings {size} {way} the plan with {called} in, about the same all "
        "along.",
        "slow climb": f"Slow climb: readings {size} {way} the plan with {called} in, and growing.",
    }[found.kind]


def explanation_lines(found: Comparison, system: str, *, checks: bool = True) -> list[str]:
    """What explains the residuals, numbered, with what to check if wanted; never empty."""
    lines: list[str] = []
    for number, one in enumerate(found.explanations, 1):
        lines += _explained(number, one, found, system, checks)
    return lines or [_NO_CAUSE]


def _explained(
    number: int, one: Explanation, found: Comparison, system: str, checks: bool
) -> Iterator[str]:
    odds = f"odds against chance {_odds(one.odds)}"
    if one.told:
        cause = one.causes[0]
        yield f"{number}. {cause_words(cause, found, system)} {odds.capitalize()}."
        if checks:
            yield f"   {check_words(cause, system)}"
        return
    yield f"{number}. Cannot be told apart by this log ({odds}):"
    for cause in one.causes:
        yield f"   - {show(cause.share, 'percent', 'SI')}: {cause_words(cause, found, system)}"
        if checks:
            yield f"     {check_words(cause, system)}"


def _odds(log_odds: float) -> str:
    if log_odds > math.log(1000.0):
        return "over 1,000 to 1"
    return f"{math.exp(log_odds):.0f} to 1"


def cause_words(cause: Cause, found: Comparison, system: str) -> str:
    """A cause in a sentence, with its size, its 95 % interval and what it moves at most."""

    def force(value: float) -> str:
        return show(value, "force", system)

    at = show(cause.start, "length", system, decimals=0)
    end = show(cause.end, "length", system, decimals=0)
    more = f"{force(abs(cause.size))} {'more' if cause.size > 0 else 'less'}"
    between = f"95%: {_signed(cause.low, system)} to {_signed(cause.high, system)}"
    most = f"Changes a reading by up to {force(abs(cause.most))}."
    ratio = f"{cause.size:.2f} times the plan (95%: {cause.low:.2f} to {cause.high:.2f})"
    if cause.kind in ("friction", "rope friction"):
        planned = _planned_friction(cause, found)
        low, value, high = (f"{planned * x:.3f}" for x in (cause.low, cause.size, cause.high))
        name = f"Friction in conduit {cause.name}" if cause.name else "Friction of the rope"
        return f"{name}: {value}, planned {planned:.3f} (95%: {low} to {high}). {most}"
    if cause.kind == "drop":
        return f"The load dropped to nothing with {at} in, by {force(abs(cause.size))}."
    if cause.kind == "several":
        return (
            f"Several figures differ from the plan at once; `route3d field fit` finds them. {most}"
        )
    if cause.kind == "jump" and cause.end < found.plan.pull.path.length - 1e-6:
        return f"Snag that let go: load up by {force(cause.size)} from {at} to {end} ({between})."
    words = {
        "all friction": f"Friction in all conduits: {ratio}.",
        "bend": f"Friction or pressure in {cause.name}, head in it from {at} to {end}: {ratio}.",
        "reel tension": f"Reel tension: {more} than planned, all along ({between}).",
        "offset": f"All readings {'high' if cause.size > 0 else 'low'} by "
        f"{force(abs(cause.size))} ({between}).",
        "jump": f"{'Snag: load up' if cause.size > 0 else 'Load down'} by "
        f"{force(abs(cause.size))} from {at} on ({between}).",
        "event": f"Readings {more} after the {cause.name} with {at} in ({between}).",
        "brake": f"Reel tension {more} after the change of brake with {at} in ({between}).",
        "reel change": f"Reel tension {more} from {at} on, not written in the log ({between}).",
        "lubricant": f"Friction after the lubricant stop with {at} in: changed by "
        f"{cause.size - 1.0:+.2f} times the plan (95%: {cause.low - 1.0:+.2f} to "
        f"{cause.high - 1.0:+.2f}).",
        "pulsing": f"Pulsing: {force(cause.size)} from crest to trough{_period(cause, system)}.",
    }[cause.kind]
    return words if cause.kind in ("offset", "jump", "event", "pulsing") else f"{words} {most}"


def _period(cause: Cause, system: str) -> str:
    if math.isnan(cause.period):
        return f", from {show(cause.start, 'length', system, decimals=0)} on"
    return f", about every {show(cause.period, 'length', system)}"


def _planned_friction(cause: Cause, found: Comparison) -> float:
    run = found.plan.pull.run
    if cause.kind == "rope friction":
        return run.rope.friction if run.rope else math.nan
    return next(c.friction for c in run.route.conduits if c.name == cause.name)


_CHECKS = {
    "friction": "Check the lubricant used there, and whether the conduit was clean and dry",
    "all friction": "Check the lubricant, the jacket and the temperature of the cable",
    "bend": "Check that bend: its radius as built, its joints, the lubricant that reached it",
    "rope friction": "Check the rope: worn, dirty or dry",
    "reel tension": "Check the brake setting, and that the reels turn freely",
    "offset": "Check the zero of the gauge (tare), then the brake and the drag of the reels",
    "jump": "Find what the head or the cable met there: a joint, an edge, debris. Look at the "
    "jacket when it comes out",
    "event": "Check that the gauge reads the same in both gears, and what was changed there",
    "several": "Fit friction, rope and brake together before any one of them is blamed",
    "reel change": "Ask whether the brake was changed there, or a reel ran hard",
    "brake": "Compare with the brake written in the log",
    "lubricant": "Compare with the lubricant written in the log",
    "pulsing": "Check for jerks: a rope that slips on the capstan, a reel that turns unevenly. "
    "Pull slower and steadily",
    "drop": "Rope slack, rope slipping, or a weak link broken: know which before pulling on",
}


def check_words(cause: Cause, system: str = "SI") -> str:
    """What to check for a cause."""
    if not math.isnan(cause.written):
        written = show(cause.written, "force", system)
        return f"{_CHECKS[cause.kind]}, which is {written} {COMMON}."
    return f"{_CHECKS[cause.kind]} {COMMON}."


def _noise_words(found: Comparison, system: str) -> str:
    return (
        f"Readings scatter by {show(found.noise.sigma, 'force', system)} (standard deviation) "
        f"about what is explained, and are correlated over "
        f"{show(found.noise.reach, 'length', system)} of cable; dial marks every "
        f"{show(found.step, 'force', system)}."
    )


# --- for machines ---------------------------------------------------------------------------------


def compare_data(job: Job, found: Comparison) -> dict[str, Any]:
    """The comparison as plain data, SI."""
    log, band, pull = found.log, found.band, found.plan.pull
    return {
        **job_data(job),
        "run": pull.run.name,
        "feed": pull.feed_name,
        "log": log.name,
        "must_not_be_pulled": found.plan.stops,
        "stop_passed": bool(len(found.above_stop)),
        "readings_above_stop": found.above_stop.tolist(),
        "readings_above_caution": found.above_caution.tolist(),
        "stop_may_have_been_passed": bool(len(found.flagged_above_stop)),
        "flagged_above_stop": found.flagged_above_stop.tolist(),
        "spikes_above_stop": np.flatnonzero(found.held.spikes).tolist(),
        "tare_N": log.tare,
        "gauge_step_N": found.step,
        "noise": {"sigma_N": found.noise.sigma, "reach_m": found.noise.reach},
        "readings": [
            {
                "row": int(log.row[i]),
                "pulled_m": float(log.pulled[i]),
                "measured_N": float(found.measured[i]),
                "expected_N": float(band.expected[i]),
                "expected_low_N": float(band.low[i]),
                "expected_high_N": float(band.high[i]),
                "caution_N": float(band.caution[i]),
                "stop_N": float(found.held.stop[i] if found.held.placed[i] else math.nan),
                "limit": band.limit[i].limit,
                "limit_place": band.limit[i].place,
                "explained_N": float(found.explained[i]),
                "compared": bool(found.compared[i]),
                "flags": list(log.flags[i]),
            }
            for i in range(len(log))
        ],
        "places": [_place_data(place) for place in found.places],
        "departures": [_departure_data(d) for d in found.departures],
        "explanations": [_explanation_data(e) for e in found.explanations],
    }


def _place_data(place: PlaceResidual) -> dict[str, Any]:
    return {
        "kind": place.kind,
        "name": place.name,
        "from_m": place.start,
        "to_m": place.end,
        "readings": place.count,
        "mean_N": place.mean,
        "largest_N": place.largest,
        "grew_N": place.grew,
    }


def _departure_data(found: Departure) -> dict[str, Any]:
    return {
        "kind": found.kind,
        "from_m": found.start,
        "to_m": found.end,
        "called_m": found.called,
        "size_N": found.size,
        "log_odds": found.evidence,
    }


_RATIOS = ("friction", "all friction", "bend", "rope friction", "lubricant")


def _explanation_data(found: Explanation) -> dict[str, Any]:
    causes: Sequence[Cause] = found.causes
    return {
        "told_apart": found.told,
        "log_odds": found.odds,
        "causes": [
            {
                "kind": cause.kind,
                "name": cause.name,
                "from_m": cause.start,
                "to_m": cause.end,
                "probability": cause.share,
                **{
                    f"{key}{'_ratio' if cause.kind in _RATIOS else '_N'}": getattr(cause, key)
                    for key in ("size", "low", "high")
                },
                "largest_change_N": cause.most,
                "period_m": cause.period,
                "written_N": cause.written,
                "check": check_words(cause),
            }
            for cause in causes
        ],
    }
