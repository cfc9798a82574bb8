"""A log of a pull as it was read: what counts, every decision; as text, clean record and JSON."""

from __future__ import annotations

import csv
import io
import math
from collections.abc import Iterator, Sequence

import numpy as np
from rich.console import Group, RenderableType

from route3d.field.log.clean_record import COLUMNS, MARK
from route3d.field.log.mapping import unit_factor
from route3d.field.readings import Decision, Event, PullLog
from route3d.model.examples import BANNER, example_names
from route3d.model.job import Job
from route3d.report.json_result import Data, job_data
from route3d.report.layout import heading, paragraph, table
from route3d.spreadsheet import harmless
from route3d.units import convert, show, unit_label

# More stretches of rows, and more events, are in the record and the JSON.
_MOST_STRETCHES, _MOST_EVENTS = 6, 40
_COLUMN = {"force": "load", "length": "pulled"}
_FORCE_UNIT = {"US": "lbf", "SI": "N"}
"""The unit of forces in the record: whole newtons, as the dial has them."""


# --- for a terminal -------------------------------------------------------------------------------


def log_report(log: PullLog, job: Job, system: str) -> RenderableType:
    """What was read, what counts, and every decision."""
    parts: list[RenderableType] = [heading(job), paragraph(_read_words(log), before=1)]
    parts.append(paragraph(used_words(log, system)))
    if log.decisions:
        parts.append(paragraph("Decisions", style="bold", before=1))
        rows = [(d.rule, str(d.count), row_words(d), d.words) for d in log.decisions]
        parts.append(table(("decision", "rows", "which", "what"), rows, numbers={1}))
    if log.events:
        parts.append(paragraph("Events", style="bold", before=1))
        heads = ("time", "cable in", "event", "")
        shown = [_event_row(event, system) for event in log.events[:_MOST_EVENTS]]
        parts.append(table(heads, shown, numbers={0, 1}))
        if len(log.events) > _MOST_EVENTS:
            more = len(log.events) - _MOST_EVENTS
            parts.append(paragraph(f"{more} more events are in the JSON and the clean record."))
    said = "Flagged readings stay in the clean record (--csv) and are never compared with the plan."
    parts.append(paragraph(said, before=1))
    return Group(*parts)


def _read_words(log: PullLog) -> str:
    details = dict(log.details)
    text = f"Log {log.name} ({details.get('format', 'log')})"
    text += f": run {log.run}, fed from {log.feed}." if log.run else "."
    if log.started:
        text += f" First time: {log.started}."
    if columns := details.get("columns"):
        called = {"pulled": "cable in", "load": "reading", "kind": "event"}
        named = ", ".join(f"{called.get(kind, kind)} = {head!r}" for kind, head in columns)
        text += f" Columns: {named}."
    return text


def used_words(log: PullLog, system: str) -> str:
    """How many readings count, and over what."""
    count = int(log.used.sum())
    text = f"{count:,} of {len(log):,} readings used"
    if count:
        places, loads = log.pulled[log.used], log.load[log.used]
        spans = (
            _span(float(places.min()), float(places.max()), "length", system),
            _span(float(loads.min()), float(loads.max()), "force", system),
        )
        text += f": cable in {spans[0]}, reading {spans[1]}"
    return f"{text}. Tare: {show(log.tare, 'force', system)}."


def _span(low: float, high: float, quantity: str, system: str) -> str:
    return f"{show(low, quantity, system)} to {show(high, quantity, system)}"


def row_words(decision: Decision) -> str:
    """The rows of a decision: "all", or such as "5 to 10, 608"."""
    few = [f"{a}" if a == b else f"{a} to {b}" for a, b in decision.rows[:_MOST_STRETCHES]]
    more = len(decision.rows) - _MOST_STRETCHES
    return ", ".join([*few, f"{more} more"] if more > 0 else few) or "all"


def clock_words(seconds: float) -> str:
    """A time since the first row, h:mm:ss; "-" where it is not known."""
    if math.isnan(seconds):
        return "-"
    whole = round(seconds)
    return f"{whole // 3600}:{whole // 60 % 60:02}:{whole % 60:02}"


def _event_row(event: Event, system: str) -> tuple[str, ...]:
    place = "-" if math.isnan(event.pulled) else show(event.pulled, "length", system)
    words = event.words
    if not math.isnan(event.force):
        words = f"{show(event.force, 'force', system)} {words}".strip()
    return clock_words(event.time), place, event.kind, words or "-"


# --- the clean record -----------------------------------------------------------------------------


def log_csv(log: PullLog, job: Job, system: str) -> str:
    """The clean record: every row kept, what counts and why not, every decision above.

    Numbers have all their digits, so that reading the record gives the same log.
    """
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    force = _FORCE_UNIT[system]
    length = unit_label("length", system)
    writer.writerow([MARK, "1"])
    for name, text in (
        ("log", log.name),
        ("run", log.run),
        ("feed", log.feed),
        ("started", log.started),
        (f"tare ({force})", _number(log.tare, "force", system)),
    ):
        writer.writerow([name, harmless(text)])
    for decision in log.decisions:
        rows = "; ".join(f"{a}-{b}" for a, b in decision.rows)
        words = harmless(decision.words)
        writer.writerow(["decision", decision.rule, words, rows, str(decision.count)])
    unconfirmed = [harmless(example_names(job.examples))] if job.examples else []
    units = {
        "time": "time (s)",
        "cable in": f"cable in ({length})",
        "reading": f"reading ({force})",
        "brake": f"brake ({force})",
    }
    writer.writerow([*(units.get(name, name) for name in COLUMNS), *(BANNER for _ in unconfirmed)])
    for cells in _record_rows(log, system):
        writer.writerow([*cells, *unconfirmed])
    return out.getvalue()


def _record_rows(log: PullLog, system: str) -> Iterator[tuple[str, ...]]:
    """Readings in their order, each event before the first reading of its row or a later one."""
    events = list(log.events)
    waiting = 0
    lines = log.row.tolist()
    for i, line in enumerate(lines):
        while waiting < len(events) and events[waiting].row <= line:
            yield _event_cells(events[waiting], system)
            waiting += 1
        yield (
            str(line),
            _plain(log.time[i]),
            _number(log.pulled[i], "length", system),
            _number(log.load[i], "force", system),
            harmless(log.gear[i]),
            "yes" if log.used[i] else "no",
            "; ".join(log.flags[i]),
            "",
            "",
            "",
        )
    for event in events[waiting:]:
        yield _event_cells(event, system)


def _event_cells(event: Event, system: str) -> tuple[str, ...]:
    gear, note = (event.words, "") if event.kind == "gear" else ("", event.words)
    return (
        str(event.row),
        _plain(event.time),
        _number(event.pulled, "length", system),
        "",
        harmless(gear),
        "",
        "",
        event.kind,
        _number(event.force, "force", system),
        harmless(note),
    )


def _number(value: float, quantity: str, system: str) -> str:
    if quantity == "force" and system == "SI":
        return _plain(value)
    factor = unit_factor(_COLUMN[quantity], _FORCE_UNIT[system] if quantity == "force" else "ft")
    if system == "SI" or factor is None or math.isnan(value):
        return _plain(convert(value, quantity, system))
    shown = convert(value, quantity, system)
    rounded = (float(f"{shown:.{digits}g}") for digits in range(6, 18))
    return _plain(next((x for x in rounded if x * factor == value), shown))


def _plain(value: float) -> str:
    """The fewest digits that are read back as the number; nothing for NaN."""
    return "" if math.isnan(value) else repr(float(value))


# --- for machines ---------------------------------------------------------------------------------


def log_data(log: PullLog, job: Job) -> Data:
    """The log for machines, SI."""
    details = {key: value for key, value in log.details if key != "columns"}
    columns: Sequence[tuple[str, str]] = dict(log.details).get("columns", ())
    return {
        **job_data(job),
        "log": {
            "name": log.name,
            **details,
            "columns": dict(columns),
            "run": log.run,
            "feed": log.feed,
            "started": log.started,
            "tare_N": log.tare,
            "rows": len(log),
            "used": int(np.sum(log.used)),
        },
        "readings": [
            {
                "row": row,
                "time_s": time,
                "pulled_m": place,
                "load_N": load,
                "gear": gear,
                "used": used,
                "flags": list(flags),
            }
            for row, time, place, load, gear, used, flags in zip(
                log.row.tolist(),
                log.time.tolist(),
                log.pulled.tolist(),
                log.load.tolist(),
                log.gear,
                log.used.tolist(),
                log.flags,
                strict=True,
            )
        ],
        "events": [
            {
                "row": e.row,
                "kind": e.kind,
                "time_s": e.time,
                "pulled_m": e.pulled,
                "words": e.words,
                "force_N": e.force,
            }
            for e in log.events
        ],
        "decisions": [
            {"rule": d.rule, "words": d.words, "rows": [list(r) for r in d.rows], "count": d.count}
            for d in log.decisions
        ],
    }
