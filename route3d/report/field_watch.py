"""A pull that is watched, in words: one line for every reading, a screen, and lines of JSON."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any

import numpy as np
from rich.console import Group, RenderableType
from rich.table import Table
from rich.text import Text

from route3d.field.departures import Departure
from route3d.field.forecast import Ahead
from route3d.field.log.cleaning import ABOVE_MACHINE
from route3d.field.log.rows import BEYOND
from route3d.field.watch import Seen, State, Watch
from route3d.planning.pull_plan.gauge import GaugeRow
from route3d.report.layout import heading
from route3d.units import show

NEVER_REPLACES = (
    "This never replaces the limiter, the operator, or the word that stops. The gauge and Stop on "
    "the sheet come first."
)
# A head and what to do, as the log view of the page has them.
WORDS: dict[State, tuple[str, str]] = {
    "on plan": ("ON PLAN", ""),
    "recorded": ("RECORDED ONLY", ""),
    "not judged": ("NOT JUDGED", "This footage is not on the route: check the counter."),
    "stop ahead": ("ON PLAN NOW; Stop likely ahead", "Slow down, call."),
    "departs": ("SLOW DOWN, CALL", ""),
    "caution": ("ABOVE CAUTION", "Slow down, call."),
    "low": ("FAR BELOW PLAN", "Stop and look."),
    "fall": ("STOP AND LOOK", "Sudden fall: check rope, head, reels and gauge."),
    "first move": ("STOP AND CALL", "First move above what is planned for it."),
    "jump": ("STOP AND CALL", "Sudden rise: stop and find the cause."),
    "drop": (
        "STOP",
        "Drop to nothing: stop machine and reels; the rope may be loaded, keep clear.",
    ),
    "stop": ("STOP", ""),
}
_STYLES: dict[State, str] = {
    "on plan": "bold green",
    "recorded": "bold",
    "not judged": "bold yellow",
}
_STYLES |= dict.fromkeys(("stop ahead", "departs", "caution"), "bold yellow")
_STYLES |= dict.fromkeys(("low", "fall", "first move", "jump", "drop", "stop"), "bold white on red")
_IMPOSSIBLE = frozenset({ABOVE_MACHINE, BEYOND})
_JUMPS = {
    "jump": "Load jumps by {size} at {start}.",
    "slow climb": "Load moves away from the plan: {size} on average over the last {reach}.",
    "offset": "Load differs from the plan by {size} all along.",
    "drop": "Load drops to nothing at {start}.",
    "pulsing": "Load pulses by {size} from crest to trough.",
}
_KINDS = {"gear change": "gear change", "stop": "planned stop", "end": "end of the pull"}
_MOST_ROWS = 8  # of the forecast on a screen


# --- one line -------------------------------------------------------------------------------------


def reading_line(seen: Seen, system: str) -> str:
    """The line of one reading: the state first, then what is read, then what lies ahead."""
    head, order = state_words(seen)
    place = f"{_length(seen.reading.pulled, system)} in"
    parts = [
        " ".join(words for words in (f"{head}:", order, place) if words),
        f"load {_force(seen.load, system)}",
        *(_limit_parts(seen, system) if seen.state != "not judged" else ()),
        *forecast_parts(seen.ahead, system),
        "" if seen.reading.used else f"not used: {', '.join(seen.reading.flags)}",
    ]
    return "; ".join(part for part in parts if part)


def _limit_parts(seen: Seen, system: str) -> list[str]:
    """What the plan has here, and the room left to its limits."""
    judged = seen.judgment
    return [
        f"expected {_force(judged.expected, system)}",
        f"gear {judged.gear}" if judged.gear else "",
        f"first move up to {_force(judged.caution, system)}"
        if seen.first_move
        else _to("Caution", judged.caution - seen.load, system),
        _to("Stop", judged.margin, system),
    ]


def _to(limit: str, margin: float, system: str) -> str:
    """The room left to a limit, or how far it is exceeded."""
    if margin < 0:
        return f"{_force(-margin, system)} above {limit}"
    return f"to {limit} {_force(margin, system)}"


def state_words(seen: Seen) -> tuple[str, str]:
    """The state of a reading: a head in capitals, and what to do or why, "" for nothing."""
    head, order = WORDS[seen.state]
    if seen.state == "stop ahead" and seen.ahead is not None:
        return f"{head}, chance {100 * seen.ahead.chance:.0f}%", order
    if seen.state == "recorded":
        return head, "Standstill." if seen.at_rest else "The gauge is not accurate in this gear."
    if seen.state == "stop" and not _IMPOSSIBLE.isdisjoint(seen.reading.flags):
        return head, "Call. More than the machine can pull: check the gauge and its unit."
    return head, order


def forecast_parts(ahead: Ahead | None, system: str) -> list[str]:
    """What lies ahead, in short phrases."""
    if ahead is None:
        return []
    band = f"{_force(float(ahead.low[-1]), system)} to {_force(float(ahead.high[-1]), system)}"
    parts = [f"forecast at the end {_force(float(ahead.mid[-1]), system)} ({band})"]
    if ahead.peak > ahead.mid[-1] * 1.001:
        peak = f"peak ahead {_force(ahead.peak, system)} at {_length(ahead.peak_at, system)}"
        parts.insert(0, peak)
    if ahead.stop_at is not None:
        parts.append(f"Stop likely {_where(ahead.stop_at, ahead, system)}")
    elif ahead.chance >= 0.01:
        parts.append(f"chance of Stop {100 * ahead.chance:.0f}%")
    if ahead.stop_from is not None:
        safe = "none" if ahead.last_safe is None else _length(ahead.last_safe, system)
        parts.append(f"last safe place to stop: {safe}")
    elif ahead.caution_at is not None:
        parts.append(f"Caution likely {_where(ahead.caution_at, ahead, system)}")
    if ahead.ends_above:
        parts.append("end load likely above Stop")
    return parts


def _where(place: float, ahead: Ahead, system: str) -> str:
    """A place ahead, of which the next step may be the first."""
    if place <= ahead.pulled[0] + 0.05:
        return "from here on"
    return f"at {_length(place, system)}"


def departure_line(found: Departure, system: str) -> str:
    """The line of a departure from the plan: what to do at once, and what it is."""
    state: State = "departs"
    if found.kind == "jump":
        state = "jump" if found.size > 0 else "fall"
    elif found.kind == "drop":
        state = "drop"
    head, order = WORDS[state]
    order = order.partition(": ")[2]  # what it is stands in the words already
    return f"{head}: {departure_words(found, system)} {order[:1].upper()}{order[1:]}".rstrip()


def departure_words(found: Departure, system: str) -> str:
    """A departure in a sentence."""
    sign = "" if found.kind == "pulsing" else "+" if found.size > 0 else "-"
    return _JUMPS[found.kind].format(
        size=f"{sign}{_force(abs(found.size), system)}",
        start=_length(found.start, system),
        reach=_length(max(found.end - found.start, 0.0), system),
    )


def coming_line(row: GaugeRow, pulled: float, system: str) -> str:
    """The line of a planned stop or gear change that comes near."""
    what = row.place or _KINDS[row.kind]
    return (
        f"COMING: {what} at {_length(row.pulled, system)}, in "
        f"{_length(max(row.pulled - pulled, 0.0), system)}. First move: up to "
        f"{_force(row.first_move or row.expected, system)}."
    )


def summary_lines(watch: Watch, system: str) -> list[str]:
    """What happened, once the watch ends."""
    lines = [f"{watch.readings:,} readings, {_length(watch.read_to, system)} in."]
    if watch.read_to > watch.pulled + 0.05:
        lines[0] += f" Those beyond {_length(watch.pulled, system)} do not count for the forecast."
    if watch.readings and math.isfinite(watch.least_margin):
        lines.append(
            f"Largest load {_force(watch.largest, system)} at {_length(watch.largest_at, system)}. "
            + (
                f"Smallest margin to Stop {_force(watch.least_margin, system)} at "
                if watch.least_margin >= 0
                else f"At most {_force(-watch.least_margin, system)} above Stop, at "
            )
            + f"{_length(watch.least_at, system)}."
        )
    lines += [departure_words(found, system) for found in watch.called]
    if watch.passed:
        lines.append(f"Stop was reached or exceeded in {watch.passed:,} readings.")
    elif watch.readings:
        lines.append("Stop was not reached.")
    else:
        lines.append("No reading came, so this says nothing of the pull.")
    return [*lines, NEVER_REPLACES]


# --- the screen -----------------------------------------------------------------------------------


def screen(watch: Watch, seen: Seen | None, news: Sequence[str], system: str) -> RenderableType:
    """What a terminal shows while the pull goes on; ``news`` are the last lines of note."""
    job = heading(f"Run {watch.plan.pull.run.name}, fed from {watch.plan.pull.feed_name}")
    if seen is None:
        return Group(job, Text("Waiting for a reading."), Text(NEVER_REPLACES, style="dim"))
    judged = seen.judgment
    head, order = state_words(seen)
    verdict = Text.assemble((f" {head} ", _STYLES[seen.state]), f" {order}")
    now = Table.grid(padding=(0, 3))
    now.add_row("cable in", "load", "expected", "Caution", "Stop", "margin to Stop", "gear")
    now.add_row(
        *(
            Text(text, style="bold")
            for text in (
                _length(seen.reading.pulled, system),
                _force(seen.load, system),
                _force(judged.expected, system),
                _force(judged.caution, system),
                _force(judged.stop, system),
                _force(judged.margin, system),
                judged.gear or "-",
            )
        )
    )
    parts: list[RenderableType] = [job, verdict, now]
    if not seen.reading.used:
        parts.append(Text(f"Not used: {', '.join(seen.reading.flags)}.", style="dim"))
    if seen.ahead is not None:
        said = "; ".join(forecast_parts(seen.ahead, system))
        parts += [Text(f"\n{said[:1].upper()}{said[1:]}."), forecast_table(watch, seen, system)]
    if seen.coming is not None:
        what = seen.coming.place or _KINDS[seen.coming.kind]
        away = _length(seen.coming.pulled - seen.reading.pulled, system)
        parts.append(Text(f"Next: {what}, in {away}."))
    parts += [Text(line, style="yellow") for line in news]
    return Group(*parts, Text(NEVER_REPLACES, style="dim"))


def forecast_table(watch: Watch, seen: Seen, system: str) -> Table:
    """The forecast at the next rows of the gauge table."""
    table = Table(box=None, padding=(0, 2, 0, 0))
    for head in ("cable in", "head at", "expected", "forecast", "9 of 10 between", "Stop"):
        table.add_column(head, justify="left" if head == "head at" else "right")
    ahead = seen.ahead
    rows = [row for row in watch.plan.gauge if row.pulled > seen.reading.pulled + 0.05]
    if ahead is None or not rows:
        return table
    kept = np.unique(np.linspace(0, len(rows) - 1, min(_MOST_ROWS, len(rows))).astype(int))
    for row in (rows[i] for i in kept.tolist()):
        low, mid, high = (
            float(np.interp(row.pulled, ahead.pulled, values))
            for values in (ahead.low, ahead.mid, ahead.high)
        )
        table.add_row(
            _length(row.pulled, system),
            row.place,
            _force(row.expected, system),
            Text(_force(mid, system), style="bold red" if mid >= row.stop else "bold"),
            f"{_force(low, system)} to {_force(high, system)}",
            _force(row.stop, system),
        )
    return table


# --- for machines ---------------------------------------------------------------------------------


def reading_data(seen: Seen) -> dict[str, Any]:
    """One reading, SI; the places ahead only where the forecast is new."""
    judged, reading = seen.judgment, seen.reading
    return {
        "event": "reading",
        "row": reading.row,
        "time_s": _known(reading.time),
        "pulled_m": reading.pulled,
        "load_N": seen.load,
        "state": seen.state,
        "used": reading.used,
        "flags": list(reading.flags),
        "expected_N": judged.expected,
        "caution_N": judged.caution,
        "stop_N": _known(judged.stop),
        "margin_N": _known(judged.margin),
        "gear": judged.gear,
        "gauge_accurate": judged.accurate,
        "forecast": None if seen.ahead is None else forecast_data(seen.ahead, whole=seen.fresh),
        "next": None
        if seen.coming is None
        else {
            "kind": seen.coming.kind,
            "place": seen.coming.place,
            "pulled_m": seen.coming.pulled,
        },
    }


def forecast_data(ahead: Ahead, *, whole: bool) -> dict[str, Any]:
    """What lies ahead, SI."""
    data: dict[str, Any] = {
        "peak_N": ahead.peak,
        "peak_at_m": ahead.peak_at,
        "end_low_N": float(ahead.low[-1]),
        "end_N": float(ahead.mid[-1]),
        "end_high_N": float(ahead.high[-1]),
        "chance_of_stop": ahead.chance,
        "stop_at_m": ahead.stop_at,
        "stop_from_m": ahead.stop_from,
        "last_safe_m": ahead.last_safe,
        "caution_at_m": ahead.caution_at,
        "ends_above_stop": ahead.ends_above,
        "scenarios_counting": round(ahead.counting, 1),
    }
    if whole:
        names = ("pulled", "low", "mid", "high")
        units = ("m", "N", "N", "N")
        data["places"] = {
            f"{name}_{unit}": [round(x, 3) for x in getattr(ahead, name).tolist()]
            for name, unit in zip(names, units, strict=True)
        }
    return data


def departure_data(found: Departure) -> dict[str, Any]:
    """One departure, SI."""
    return {
        "event": "departure",
        "kind": found.kind,
        "start_m": found.start,
        "called_m": found.called,
        "size_N": found.size,
    }


def summary_data(watch: Watch) -> dict[str, Any]:
    """What happened, SI."""
    return {
        "event": "summary",
        "readings": watch.readings,
        "pulled_m": watch.read_to,
        "used_to_m": watch.pulled,
        "largest_load_N": watch.largest,
        "largest_load_at_m": watch.largest_at,
        "smallest_margin_N": _known(watch.least_margin),
        "smallest_margin_at_m": watch.least_at,
        "departures": [departure_data(found) for found in watch.called],
        "readings_at_stop": watch.passed,
        "note": NEVER_REPLACES,
    }


def _known(value: float) -> float | None:
    return value if math.isfinite(value) else None


def _force(value: float, system: str) -> str:
    return show(value, "force", system)


def _length(value: float, system: str) -> str:
    return show(value, "length", system, decimals=0 if system == "US" else None)
