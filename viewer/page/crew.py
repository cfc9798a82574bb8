"""What the foreman reads in the vault: what to do, gauge readings, stop load, cautions."""

from __future__ import annotations

import math
from typing import Any

import numpy as np

from route3d.mechanics.pull import Pull
from route3d.phrase import say
from route3d.planning.direction import Candidate
from route3d.planning.evaluate import RunResult
from route3d.planning.progress import Progress, progress
from route3d.planning.stop_load import StopLoad
from route3d.report.charts import Curve
from route3d.report.ticks import tick_step
from route3d.report.words import CAUTIONS, sentence, where_of, why
from route3d.units import convert, render, show, unit_label
from viewer.page.words import NARROW, WIDE, history

Data = dict[str, Any]

_NO_BRAKE = 1.0  # N; no reel turns more freely
_READINGS = 10
_LIMITS = {
    "conductor": "conductor tension",
    "grip": "the attachment",
    "sidewall": "sidewall pressure",
    "rope": "the rope",
    "machine": "the machine's line pull",
}


def crew_sheet(result: RunResult, shown: Candidate, units: str) -> Data:
    """All but what hangs on the stop load, which takes longer: see ``stop_words``."""
    pull = shown.pull
    go = result.decision.choice is shown and not result.stops
    return {
        "go": go,
        "order": "Pull as planned" if go else _no_go(result, shown),
        "feed": pull.feed_name,
        "pull": pull.pull_name,
        "why": sentence(why(result, units)),
        "cables": f"{pull.run.cables.describe()} on {pull.run.attach}",
        "length": show(pull.path.length, "length", units),
        "brake": _brake(pull, units),
        "machine": _machine(pull, units),
        "cautions": _cautions(result, units),
    }


def _no_go(result: RunResult, shown: Candidate) -> str:
    if result.decision.choice is not None and shown is not result.decision.choice:
        return "Not the way decided upon: do not pull"
    return "Do not pull yet"


def _brake(pull: Pull, units: str) -> str:
    if pull.reel_tension <= _NO_BRAKE:
        return "No brake: the reel runs free"
    held = pull.reel_tension
    if pull.run.reel_tension is not None:
        return f"Hold the reel back with {show(held, 'force', units)} all through"
    return render(say("Hold the reel back with at least {} all through", (held, "force+")), units)


def _machine(pull: Pull, units: str) -> Data:
    machine, load = pull.run.machine, pull.machine_peak
    if machine is None:
        return {"name": "No machine named", "place": pull.pull_name, "gear": "", "peak": "-"}
    gear = "no gear holds the load"
    fit = [g for g in machine.gears if load is not None and g.line_pull >= load]
    if load is None:
        gear = "load not worked out: name a rope"
    elif fit:
        best = max(fit, key=lambda g: g.speed)
        pull_text, speed = (
            show(best.line_pull, "force", units),
            show(best.speed, "speed", units),
        )
        gear = f"gear rated {pull_text} at {speed} holds all the way"
    return {
        "name": machine.name,
        "place": pull.pull_name,
        "gear": gear,
        "peak": "-" if load is None else show(load, "force", units),
    }


def _cautions(result: RunResult, units: str) -> list[Data]:
    """Stops and cautions of this pull, then what holds for every pull."""
    found = [
        {
            "severity": f.severity,
            "title": f"{f.rule}, {where_of(f, units)}",
            "text": sentence(render(f.fix, units)),
        }
        for f in result.findings
        if f.severity in ("stop", "caution")
    ][:12]
    return [*found, *({"severity": "note", "title": "", "text": text} for text in CAUTIONS)]


# --- gauge readings and stop load --------------------------------------------------------------


def stop_words(pull: Pull, stop: StopLoad | None, units: str) -> Data:
    """The stop load in words and the table of readings."""
    if pull.machine_loads is None:
        return {"load": "-", "text": "No rope is named: the gauge cannot be foretold.", "rows": []}
    return {**_stop(pull, stop, units), **readings(pull, stop, units)}


def _stop(pull: Pull, stop: StopLoad | None, units: str) -> Data:
    if stop is None:
        text = "No friction brings this pull to a limit; keep to the machine's rated line pull."
        return {"load": "-", "text": text}
    load = _floored(stop.load, units)
    if stop.factor < 1:
        text = f"The planned pull already breaks a limit: {_LIMITS[stop.limit]}. Do not pull."
        return {"load": load, "text": text}
    times = f"{stop.factor:.1f} times the planned friction"
    text = f"Never go above this reading: at {times} {_LIMITS[stop.limit]} is at its limit. "
    text += "Until the cable is in, stop at the lower readings of the table."
    return {"load": load, "text": text}


def _floored(load: float, units: str) -> str:
    """A reading not to go above, rounded down to what a gauge shows: 10 lbf, 0.05 kN."""
    step = (10 if units == "US" else 0.05) / convert(1.0, "force", units)
    return show(math.floor(load / step + 1e-9) * step, "force", units)


def readings(pull: Pull, stop: StopLoad | None, units: str) -> Data:
    """Expected machine load, gear and clock by length of cable in, at round lengths."""
    moved = progress(pull)
    heads = {"in": f"cable in, {unit_label('length', units)}", "expected": "expected reading"}
    if moved is None:
        return {"heads": heads, "rows": [], "time": ""}
    rows = [_reading(moved, stop, at, units) for at in _footage(pull.path.length, units)]
    total = float(moved.elapsed[-1])
    time = "" if math.isnan(total) else f"{show(total, 'time', units)} of pulling, without stops"
    return {"heads": heads, "rows": rows, "time": time}


def _footage(length: float, units: str) -> list[float]:
    """Round lengths in display units, as SI, with the end."""
    unit = convert(1.0, "length", units)
    step = tick_step(length * unit, _READINGS)
    marks = np.arange(step, length * unit - 0.3 * step, step) / unit
    return [*(float(m) for m in marks), length]


def _reading(moved: Progress, stop: StopLoad | None, at: float, units: str) -> Data:
    load = float(np.interp(at, moved.pulled, moved.load))
    row = min(int(np.searchsorted(moved.pulled, at)), len(moved.pulled) - 1)
    gear = int(moved.gear[max(row - 1, 0)])
    elapsed = float(np.interp(at, moved.pulled, moved.elapsed))
    latest = "" if stop is None else _floored(_stop_at(stop, at), units)
    return {
        "in": show(at, "length", units, decimals=0 if at > 1 else None),
        "expected": show(load, "force", units),
        "stop": latest,
        "gear": _gear(moved, gear, units),
        "time": "-" if math.isnan(elapsed) else show(elapsed, "time", units, decimals=0),
    }


def _gear(moved: Progress, gear: int, units: str) -> str:
    return "none holds" if gear < 0 else show(moved.gears[gear].speed, "speed", units)


def _stop_at(stop: StopLoad, pulled: float) -> float:
    return float(np.interp(pulled, np.abs(stop.heads - stop.heads[0]), stop.loads))


def stop_charts(pull: Pull, stop: StopLoad | None, units: str) -> Data:
    """The history with the load of the stopped pull beside it, wide and narrow."""
    more: tuple[Curve, ...] = ()
    if stop is not None and stop.factor >= 1:
        heads = stop.heads * convert(1.0, "length", units)
        loads = stop.loads * convert(1.0, "force", units)
        more = (Curve("at a limit", heads, loads, "limit", "7 4"),)
    return {
        name: history(pull, units, (size[0], 300), more)
        for name, size in (("wide", WIDE), ("narrow", NARROW))
    }
