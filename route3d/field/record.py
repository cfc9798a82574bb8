"""The as-pulled record: what was read, against the plan, and what was done, found and written down.

Nothing in it is guessed: what neither the log nor the details say stays open, to be filled in by
hand. Whether Stop was passed is the rule of ``field.stop_passed``.
"""

from __future__ import annotations

import hashlib
import json
import math
from collections.abc import Iterator
from dataclasses import asdict, dataclass
from datetime import datetime, timedelta
from itertools import groupby
from typing import Any

import numpy as np
from numpy.typing import NDArray

from route3d.field.compare import Comparison, band_at
from route3d.field.details import Details
from route3d.field.estimate import Estimate
from route3d.field.history import UNNAMED
from route3d.field.readings import PullLog
from route3d.field.stop_passed import AgainstStop, against_stop, on_route, sure
from route3d.geometry.vectors import Floats
from route3d.model.conduit import Conduit
from route3d.model.job import Job
from route3d.phrase import Phrase, literal, say
from route3d.planning.pull_plan.plan import Plan
from route3d.planning.pull_plan.stops import FIRST_MOVE
from route3d.standards.conduits import material_of
from route3d.units import render

FORMAT = 1
"""Version of the plain data of a record."""
# A stop this near (m) to a planned one, or to where a note says, is the same.
_NEAR = 3.0
# Short of the end of the route by less than this (m) is the end.
_AT_END = 1.0
_FIRST_MOVE = "first move"


@dataclass(frozen=True, slots=True)
class Hashes:
    """SHA-256 of what the record is made from; ``details`` is "" without a details file.

    ``plan`` is the mark of the sheet of the same job, ``readings`` that of the readings alone, by
    which a library knows a pull again.
    """

    model: str
    plan: str
    log: str
    details: str
    readings: str


@dataclass(frozen=True, slots=True)
class Halt:
    """A stop with ``pulled`` m of cable in; ``seconds`` until the restart, NaN where not known.

    ``first_move`` N is the highest load over the first 3 m after it, NaN where none was read.
    """

    pulled: float
    time: float
    seconds: float
    planned: bool
    first_move: float
    why: str = ""
    restart: str = ""


@dataclass(frozen=True, eq=False)
class PullRecord:
    """One pull as it was made. Arrays are (n,), one place for each reading of the log.

    ``load`` N is the reading less the tare; ``expected``, ``caution`` and ``stop`` N are the plan's
    there, NaN where the cable in is not known. ``above`` is "stop", "caution" or "" and
    ``believed`` whether the gauge can be believed. ``peak`` is the number of the highest load that
    can be, None without one. ``departures`` are those that the readings and the log show, and
    ``comparison`` what explains them, None where too few readings can be compared.
    """

    job: Job
    plan: Plan
    log: PullLog
    details: Details
    load: Floats
    expected: Floats
    caution: Floats
    stop: Floats
    above: tuple[str, ...]
    believed: NDArray[np.bool_]
    held: AgainstStop
    peak: int | None
    halts: tuple[Halt, ...]
    friction: tuple[Estimate, ...]
    friction_note: str
    departures: tuple[Phrase, ...]
    hashes: Hashes
    comparison: Comparison | None = None

    @property
    def stop_passed(self) -> bool:
        """Whether a reading that is sure was at or above Stop."""
        return bool(self.held.passed.any())

    @property
    def stop_doubtful(self) -> bool:
        """Whether a reading that is not sure was at or above Stop: it may have been passed."""
        return bool(self.held.doubtful.any())

    @property
    def day(self) -> str:
        """The date of the pull, as written down or in the log; "" where neither says."""
        return self.details.date or self.log.started[:10]

    @property
    def times(self) -> tuple[str, str]:
        """Start and end, as written down or from the log; "" where neither says."""
        start, end = self.details.started, self.details.finished
        happened = np.array([event.time for event in self.log.events])
        known = np.concatenate((self.log.time, happened))
        known = known[np.isfinite(known)]
        try:
            begun = datetime.fromisoformat(self.log.started)
        except ValueError:
            return start, end
        last = begun + timedelta(seconds=float(known.max() if len(known) else 0.0))
        return start or f"{begun:%H:%M}", end or (f"{last:%H:%M}" if len(known) else "")

    @property
    def bank(self) -> str:
        """The run that the duct bank is about which this run is in; "" for none."""
        name = self.plan.pull.run.name
        return next((bank.run for bank in self.job.banks if bank.run == name), "")

    @property
    def lubricant(self) -> str:
        """What was used, as written down; ``UNNAMED`` where only that there was some is known."""
        if self.details.lubricant.product:
            return self.details.lubricant.product
        events = [e for e in self.log.events if e.kind == "lubricant"]
        named = next((e.words for e in events if e.words), "")
        some = events or self.details.lubricant.quantity
        return named or (UNNAMED if some else "")

    @property
    def temperature(self) -> float | None:
        """Of the cable, else of the air, K."""
        if self.details.cable_temperature is not None:
            return self.details.cable_temperature
        return self.details.temperature

    @property
    def jacket(self) -> str:
        """The jacket of the cables, "" where neither model nor details say."""
        jackets = dict.fromkeys(c.jacket for c, _ in self.plan.pull.run.cables.items if c.jacket)
        return ", ".join(jackets) or self.details.jacket


def record_of(
    job: Job,
    plan: Plan,
    log: PullLog,
    details: Details,
    *,
    hashes: tuple[str, str, str, str],
    friction: tuple[Estimate, ...] = (),
    friction_note: str = "",
    comparison: Comparison | None = None,
) -> PullRecord:
    """The record of a log, of the plan of its run and feed end.

    ``hashes`` are those of model, plan, log and details. ``friction`` is what a fit found, and
    ``friction_note`` why there is none; ``comparison`` is that of the log with the plan.
    """
    load = log.load - log.tare
    if comparison is not None:
        band, held = comparison.band, comparison.held
        expected, caution = band.expected, band.caution
    else:
        expected, caution, stop = _planned(job, plan, log)
        held = against_stop(plan, log, stop)
    stop = np.where(held.placed, held.stop, math.nan)
    first = np.array([_FIRST_MOVE in flags for flags in log.flags], dtype=bool)
    caution = np.where(first, stop, caution)  # a first move has no caution of its own
    believed = sure(log) & held.placed
    over = held.passed | held.doubtful | held.spikes
    above = tuple(
        "stop" if passed else "caution" if n > c * (1 + 1e-9) else ""
        for passed, n, c in zip(over.tolist(), load, caution, strict=True)
    )
    trusted = np.flatnonzero(believed & np.isfinite(load))
    peak = int(trusted[np.argmax(load[trusted])]) if len(trusted) else None
    halts = tuple(_halts(plan, log, details, load))
    model, sheet, file, notes = hashes
    return PullRecord(
        job, plan, log, details, load, expected, caution, stop, above, believed, held, peak,
        halts,
        friction, friction_note,
        tuple(_departures(plan, log, details, load, held, above, believed, halts, sheet)),
        Hashes(model, sheet, file, notes, readings_hash(log)),
        comparison,
    )  # fmt: skip


def readings_hash(log: PullLog) -> str:
    """SHA-256 of the readings: the same for one pull, whichever file it was kept in."""
    rows = [np.round(values, 3).tolist() for values in (log.pulled, log.load)]
    text = json.dumps([log.run, log.feed, log.started, rows])
    return hashlib.sha256(text.encode()).hexdigest()


def _planned(job: Job, plan: Plan, log: PullLog) -> tuple[Floats, Floats, Floats]:
    """Expected load, Caution and Stop at each reading, NaN where its place is not known."""
    known = on_route(plan, log)
    if not known.any():
        nothing = np.full(len(log), math.nan)
        return nothing, nothing, nothing
    at = np.clip(log.pulled, 0.0, plan.pull.path.length)
    band = band_at(plan, job, np.where(known, at, math.nan))
    return band.expected, band.caution, band.stop


def _halts(plan: Plan, log: PullLog, details: Details, load: Floats) -> Iterator[Halt]:
    """Every stop of the log with its restart and its note; then the notes of no stop in the log."""
    notes = list(details.stops)
    marks = [e for e in log.events if e.kind in ("stop", "start")]
    planned = (*plan.pace.starts[1:], plan.pull.path.length)
    for i, event in enumerate(marks):
        if event.kind != "stop":
            continue
        restart = next((e for e in marks[i + 1 :] if e.kind == "start"), None)
        near = [n for n in notes if abs(n.at - event.pulled) <= _NEAR]
        note = min(near, key=lambda n: abs(n.at - event.pulled)) if near else None
        if note is not None:
            notes.remove(note)
        after = (log.pulled >= event.pulled) & (log.pulled <= event.pulled + FIRST_MOVE)
        after &= log.time >= restart.time if restart is not None else False
        yield Halt(
            event.pulled,
            event.time,
            math.nan if restart is None else restart.time - event.time,
            any(abs(at - event.pulled) <= _NEAR for at in planned),
            float(load[after].max()) if after.any() else math.nan,
            (note.why if note else "") or event.words,
            note.restart if note else "",
        )
    for note in notes:
        near_plan = any(abs(at - note.at) <= _NEAR for at in planned)
        yield Halt(note.at, math.nan, math.nan, near_plan, math.nan, note.why, note.restart)


# --- departures from the plan that the log shows --------------------------------------------------


def _departures(
    plan: Plan,
    log: PullLog,
    details: Details,
    load: Floats,
    held: AgainstStop,
    above: tuple[str, ...],
    believed: NDArray[np.bool_],
    halts: tuple[Halt, ...],
    mark: str,
) -> Iterator[Phrase]:
    pull = plan.pull
    choice = plan.result.decision.choice
    if choice is not None and choice.pull.feed != pull.feed:
        fed, planned = literal(pull.feed_name), literal(choice.pull.feed_name)
        yield say(f"Fed from {fed}. The plan feeds from {planned}.")
    if plan.stops:
        yield say("The plan says that this pull must not be made.")
    told = dict(log.details).get("mark")
    if isinstance(told, str) and told and not mark.startswith(told):
        yield say(
            f"The log was kept by another plan, mark {literal(told[:12])}. "
            f"This record compares with mark {mark[:12]}."
        )
    for rows, words in (
        (held.passed, "Stop was passed"),
        (held.doubtful, "Stop may have been passed, the reading is doubtful"),
        (held.spikes, "Above Stop, but not believed (spike)"),
    ):
        yield from _passed(words, rows, log, load, held)
    cautions = np.array([kind == "caution" for kind in above]) & believed
    if cautions.any():
        first = float(log.pulled[np.argmax(cautions)])
        count = int(cautions.sum())
        noun = "1 reading" if count == 1 else f"{count} readings"
        yield say(f"Above Caution: {noun}, first at {{}} of cable in.", (first, "length"))
    yield from _gears(plan, log)
    yield from _brakes(plan, log, details)
    for halt in halts:
        if not halt.planned:
            why = f" Reason: {literal(halt.why)}." if halt.why else ""
            yield say(f"Stopped at {{}} of cable in, not planned.{why}", (halt.pulled, "length"))
    places = np.concatenate((log.pulled, [event.pulled for event in log.events]))
    last = max(places[np.isfinite(places)].tolist(), default=pull.path.length)
    if last < pull.path.length - _AT_END:
        yield say(
            "The log ends at {} of cable in, {} before the end.",
            (last, "length"),
            (pull.path.length - last, "length"),
        )
    warmth = details.cable_temperature or details.temperature
    for cable, _ in pull.run.cables.items:
        least = cable.lowest_temperature
        if warmth is not None and least is not None and warmth < least:
            yield say(
                f"Pulled at {{}}. The minimum for cable {literal(cable.name)} is {{}}.",
                (warmth, "temperature"),
                (least, "temperature"),
            )


def _passed(
    words: str, rows: NDArray[np.bool_], log: PullLog, load: Floats, held: AgainstStop
) -> Iterator[Phrase]:
    if not rows.any():
        return
    worst = int(np.flatnonzero(rows)[np.argmax((load - held.stop)[rows])])
    read, stop = (float(load[worst]), "force"), (float(held.stop[worst]), "force")
    if not held.placed[worst]:
        yield say(
            f"{words}: {{}} at no known place. The highest Stop of the run: {{}}.", read, stop
        )
        return
    yield say(
        f"{words}: {{}} at {{}} of cable in. Stop there: {{}}.",
        read,
        (float(log.pulled[worst]), "length"),
        stop,
    )


def _gears(plan: Plan, log: PullLog) -> Iterator[Phrase]:
    """Stretches in another gear than planned; close to a planned change either may be in."""
    changes = [change.pulled for change in plan.pace.gears.changes]

    def other(i: int) -> tuple[str, str] | None:
        at = float(log.pulled[i])
        gear = plan.pace.gears.gear_at(at) if math.isfinite(at) else None
        if gear is None or not log.gear[i] or log.gear[i] == gear.name:
            return None
        return None if any(abs(at - c) <= _NEAR for c in changes) else (log.gear[i], gear.name)

    for pair, group in groupby(range(len(log)), key=other):
        rows = list(group)
        if pair is None:
            continue
        was, planned = map(literal, pair)
        yield say(
            f"Gear {was} from {{}} to {{}} of cable in. Planned: {planned}.",
            (float(log.pulled[rows[0]]), "length"),
            (float(log.pulled[rows[-1]]), "length"),
        )


def _brakes(plan: Plan, log: PullLog, details: Details) -> Iterator[Phrase]:
    held = [(e.pulled, e.force) for e in log.events if e.kind == "brake" and e.force >= 0]
    if details.brake is not None:
        held.append((math.nan, details.brake))
    window = plan.brake
    for at, force in held if window.at_most > 0 else ():
        low = window.at_least if window.holds else 0.0
        if low * (1 - 1e-6) <= force <= window.at_most * (1 + 1e-6):
            continue
        where = "" if math.isnan(at) else " at {} of cable in"
        places = () if math.isnan(at) else ((at, "length"),)
        yield say(
            f"Reels held with {{}}{where}. Planned: {{}} to {{}}.",
            (force, "force"),
            *places,
            (low, "force"),
            (window.at_most, "force"),
        )


# --- as plain data --------------------------------------------------------------------------------


def record_data(record: PullRecord) -> dict[str, Any]:
    """The whole record as plain data, SI; None for what is not known, texts "" where open."""
    log, plan, details = record.log, record.plan, record.details
    run, started, finished = plan.pull.run, *record.times
    noted = asdict(details)
    lubricant = noted.pop("lubricant")
    return {
        "route3d_record": FORMAT,
        "title": record.job.title,
        "units": record.job.units,
        "examples": list(record.job.examples),
        "run": run.name,
        "feed": plan.pull.feed_name,
        "pull": plan.pull.pull_name,
        "bank": record.bank,
        "day": record.day,
        "started": started,
        "finished": finished,
        "length_m": plan.pull.path.length,
        "cables": [
            {"name": c.name, "count": n, "about": c.about, "jacket": c.jacket}
            for c, n in run.cables.items
        ],
        "jacket": record.jacket,
        "temperature_K": record.temperature,
        "lubricant": {
            "product": record.lubricant,
            "lot": lubricant["lot"],
            "quantity_m3": lubricant["quantity"],
            "how": lubricant["how"],
        },
        "stop_passed": record.stop_passed,
        "stop_may_have_been_passed": record.stop_doubtful,
        "must_not_be_pulled": plan.stops,
        "peak": None if record.peak is None else _reading(record, record.peak),
        "planned_peak_N": plan.peak,
        "tare_N": log.tare,
        "brake_window_N": [plan.brake.at_least if plan.brake.holds else 0.0, plan.brake.at_most],
        "stops": [_plain(asdict(halt)) for halt in record.halts],
        "events": [_plain(asdict(event)) for event in log.events],
        "friction": [_estimate(record, each) for each in record.friction],
        "friction_note": record.friction_note,
        "departures": [render(phrase, "SI") for phrase in record.departures],
        "details": noted,
        "readings": [_reading(record, i) for i in range(len(log))],
        "decisions": [asdict(decision) for decision in log.decisions],
        "sha256": asdict(record.hashes),
    }


def _reading(record: PullRecord, i: int) -> dict[str, Any]:
    log = record.log
    return _plain(
        {
            "pulled_m": float(log.pulled[i]),
            "time_s": float(log.time[i]),
            "reading_N": float(log.load[i]),
            "load_N": float(record.load[i]),
            "gear": log.gear[i],
            "used": bool(log.used[i]),
            "flags": list(log.flags[i]),
            "expected_N": float(record.expected[i]),
            "caution_N": float(record.caution[i]),
            "stop_N": float(record.stop[i]),
            "above": record.above[i],
            "believed": bool(record.believed[i]),
        }
    )


def _plain(data: dict[str, Any]) -> dict[str, Any]:
    """The same with None for a number that is not known."""
    return {
        key: None if isinstance(value, float) and not math.isfinite(value) else value
        for key, value in data.items()
    }


def _estimate(record: PullRecord, estimate: Estimate) -> dict[str, Any]:
    conduit = conduit_of(record, estimate)
    material = "" if conduit is None else material_of(conduit.stock_type, conduit.material)
    return asdict(estimate) | {
        "jacket": record.jacket if conduit is not None else "",
        "conduit": material,
    }


def conduit_of(record: PullRecord, estimate: Estimate) -> Conduit | None:
    """The conduit that a friction is of; a fit of several lubricants names "duct, gel"."""
    if estimate.kind != "friction":
        return None
    conduits = {c.name: c for c in record.plan.pull.run.route.conduits}
    return conduits.get(estimate.name) or conduits.get(estimate.name.partition(", ")[0])
