"""The as-pulled record for a terminal, as a document to sign, and as plain data.

What nobody gave is a blank to fill in by hand.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from itertools import pairwise
from typing import Any

import numpy as np
from rich.console import Group, RenderableType
from rich.text import Text

from route3d.drawing.field_compare import compare_svg
from route3d.field.estimate import Estimate
from route3d.field.record import PullRecord, record_data
from route3d.model.examples import example_banner
from route3d.modelfile.pull_details import TESTS, WHEN
from route3d.report.block import Block, minutes
from route3d.report.document import (
    Document,
    Figures,
    Heading,
    Part,
    Signatures,
    Table,
    Verdict,
    Words,
)
from route3d.report.field_compare import explanation_lines
from route3d.report.issue import Issue
from route3d.report.json_result import job_data
from route3d.report.layout import heading, paragraph, severity_style, table
from route3d.units import render, show

BLANK = "_" * 14
"""What is not known, to be filled in by hand."""
MOST_READINGS = 40
"""With more readings the table has the highest of each stretch of the gauge table."""
SIGNED_BY = ("Foreman", "Machine operator", "Feed end", "For the owner", "Date")
READINGS = "Readings against plan"
NEVER = (
    "The record tells what was read and written down. It does not say that the cable is sound, and "
    "does not replace the tests after the pull."
)
_PULL, _REELS, _CONDITIONS = "Pull", "Reels and cable ends", "Lubricant, brake, temperature"
_STOPS, _FRICTION, _TESTS = (
    "Stops and restarts",
    "Friction found",
    "Tests before and after the pull",
)
_DEPARTURES, _LOG, _HASHES = "Departures from plan", "How the log was read", "Made from (SHA-256)"
# The parts of the width that the columns of each table take on paper.
_SHARES: Mapping[str, tuple[float, ...]] = {
    _PULL: (0.16, 0.34, 0.18, 0.32),
    _REELS: (0.14, 0.16, 0.19, 0.15, 0.18, 0.18),
    _CONDITIONS: (0.16, 0.34, 0.18, 0.32),
    READINGS: (0.09, 0.08, 0.1, 0.1, 0.1, 0.1, 0.1, 0.33),
    _STOPS: (0.09, 0.11, 0.09, 0.13, 0.29, 0.29),
    _FRICTION: (0.24, 0.1, 0.18, 0.1, 0.38),
    _TESTS: (0.08, 0.19, 0.12, 0.15, 0.19, 0.14, 0.13),
    _DEPARTURES: (0.42, 0.38, 0.2),
    _LOG: (0.2, 0.07, 0.73),
    _HASHES: (0.12, 0.28, 0.6),
}


def record_json(record: PullRecord) -> dict[str, Any]:
    """The record as plain data, as every answer begins."""
    return job_data(record.job) | record_data(record)


def record_report(record: PullRecord, system: str) -> RenderableType:
    """The record for a terminal."""
    parts: list[RenderableType] = [heading(record.job)]
    parts.append(paragraph(_name(record), style="bold", before=1))
    words, stop = verdict(record, system)
    parts.append(paragraph(words, style="bold red" if stop else "bold"))
    for block in record_blocks(record, system):
        parts.append(paragraph(block.title, style="bold", before=1))
        parts += [paragraph(text) for text in block.words]
        if block.rows:
            alarm = severity_style("stop")
            rows = [
                [Text(cell, style=alarm) for cell in row] if i in block.heavy else list(row)
                for i, row in enumerate(block.rows)
            ]
            parts.append(table(block.heads, rows, numbers=block.numbers))
        parts += [paragraph(note, style="dim") for note in block.notes]
    parts.append(paragraph(NEVER, style="dim", before=1))
    return Group(*parts)


def record_document(record: PullRecord, issue: Issue) -> Document:
    """The record as a document with lines to sign."""
    system, told = issue.system, record.job.document
    parts: list[Part] = [Verdict(*verdict(record, system))]
    for block in record_blocks(record, system):
        parts.append(Heading(block.title))
        if block.words:
            parts.append(Words(block.words, bullets=len(block.words) > 1))
        if block.title == READINGS and record.comparison is not None:
            chart = compare_svg(record.job, record.comparison, system)
            parts.append(Figures(((chart, "", 0.74),)))
        if block.rows:
            blank = any(BLANK in row for row in block.rows)
            rows = tuple(tuple(cell.replace(BLANK, "") for cell in row) for row in block.rows)
            parts.append(
                Table(replace(block, rows=rows), shares=_SHARES[block.title], write_in=blank)
            )
        elif block.notes:
            parts.append(Words(block.notes, small=True))
    parts += [Signatures(tuple((who, "") for who in SIGNED_BY)), Words((NEVER,), small=True)]
    return Document(
        title=told.job or record.job.title,
        name="As-pulled record",
        block=(
            ("job", told.job or record.job.title),
            ("client", told.client or "-"),
            ("number", told.number or "-"),
            ("run", record.plan.pull.run.name),
            ("date of pull", record.day or BLANK),
            ("fed from", record.plan.pull.feed_name),
            ("pulled from", record.plan.pull.pull_name),
            ("started", record.times[0] or BLANK),
            ("finished", record.times[1] or BLANK),
            ("mark", issue.short),
        ),
        parts=tuple(parts),
        foot=issue.words,
        banner=example_banner(record.job.examples, most=6),
    )


def verdict(record: PullRecord, system: str) -> tuple[str, bool]:
    """Whether Stop was passed, with the highest reading, and whether that is an alarm."""
    if record.peak is None:
        if record.stop_doubtful:
            return "Stop may have been passed: see the doubtful readings.", True
        return "No reading can be held against Stop.", False
    at, load = float(record.log.pulled[record.peak]), float(record.load[record.peak])
    there = show(float(record.expected[record.peak]), "force", system)
    highest = (
        f"Highest reading {show(load, 'force', system)} at {show(at, 'length', system)} of cable "
        f"in, where {there} was planned; the plan's highest is "
        f"{show(record.plan.peak, 'force', system)}."
    )
    if record.stop_passed:
        return f"Stop was passed during the pull. {highest}", True
    if record.stop_doubtful:
        return f"Stop may have been passed: see the doubtful readings. {highest}", True
    return f"Stop was not passed. {highest}", False


def record_blocks(record: PullRecord, system: str) -> Iterator[Block]:
    """The parts of the record in order."""
    yield _pull_block(record, system)
    yield _reels_block(record, system)
    yield _conditions_block(record, system)
    yield _stops_block(record, system)
    yield _friction_block(record, system)
    yield _tests_block(record)
    yield _departures_block(record, system)
    yield _readings_block(record, system)
    yield _log_block(record)
    yield _hashes_block(record)


def _name(record: PullRecord) -> str:
    pull = record.plan.pull
    day = f", {record.day}" if record.day else ""
    return f"As-pulled record, run {pull.run.name}{day}: {pull.run.cables.describe()}"


def _known(value: float | None, quantity: str, system: str) -> str:
    return BLANK if value is None else show(value, quantity, system)


def _pairs(title: str, pairs: Sequence[tuple[str, str]], notes: Sequence[str] = ()) -> Block:
    """Labels and values, two pairs in a row."""
    even = [*pairs, ("", "")] if len(pairs) % 2 else list(pairs)
    rows = tuple((*even[i], *even[i + 1]) for i in range(0, len(even), 2))
    return Block(title, (), ("", "as pulled", "", "as pulled"), rows, notes=tuple(notes))


def _pull_block(record: PullRecord, system: str) -> Block:
    plan, details = record.plan, record.details
    run, (started, finished) = plan.pull.run, record.times
    jacket = f", jacket {record.jacket}" if record.jacket else ""
    return _pairs(
        _PULL,
        (
            ("run", run.name),
            ("date", record.day or BLANK),
            ("fed from", plan.pull.feed_name),
            ("started", started or BLANK),
            ("pulled from", plan.pull.pull_name),
            ("finished", finished or BLANK),
            ("length of the route", show(plan.pull.path.length, "length", system)),
            ("foreman", details.foreman or BLANK),
            ("cables", run.cables.describe() + jacket),
            ("machine operator", details.operator or BLANK),
            ("machine", plan.machine.name),
            ("in charge at the feed end", details.feed_end or BLANK),
        ),
    )


def _reels_block(record: PullRecord, system: str) -> Block:
    reels = [
        (
            reel.number or BLANK,
            reel.cable or BLANK,
            reel.lot or BLANK,
            _known(reel.length, "length", system),
            reel.mark_head or BLANK,
            reel.mark_feed or BLANK,
        )
        for reel in record.details.reels
    ]
    if not reels:  # at most a reel for each cable
        names = [c.name for c, n in record.plan.pull.run.cables.items for _ in range(n)]
        reels = [(BLANK, name, *(BLANK,) * 4) for name in names]
    heads = ("reel", "cable", "lot", "length before", "mark at the head", "mark at the feed end")
    return Block(_REELS, (), heads, tuple(reels))


def _conditions_block(record: PullRecord, system: str) -> Block:
    details, window = record.details, record.plan.brake
    events = [e for e in record.log.events if e.kind == "brake" and math.isfinite(e.force)]
    held = [show(e.force, "force", system) for e in events]
    if details.brake is not None:
        held.insert(0, show(details.brake, "force", system))
    low = show(window.at_least if window.holds else 0.0, "force", system)
    planned = f"{low} to {show(window.at_most, 'force', system)}"
    if window.at_most <= 0:
        planned = "no brake keeps every limit"
    return _pairs(
        _CONDITIONS,
        (
            ("lubricant", record.lubricant or BLANK),
            ("brake held, all reels", ", ".join(dict.fromkeys(held)) or BLANK),
            ("lot", details.lubricant.lot or BLANK),
            ("brake planned", planned),
            ("quantity", _known(details.lubricant.quantity, "volume", system)),
            ("how braked", details.brake_how or BLANK),
            ("where and how put in", details.lubricant.how or BLANK),
            ("air temperature", _known(details.temperature, "temperature", system)),
            ("weather", details.weather or BLANK),
            ("cable temperature", _known(details.cable_temperature, "temperature", system)),
        ),
    )


# --- readings -------------------------------------------------------------------------------------


def _readings_block(record: PullRecord, system: str) -> Block:
    log = record.log
    shown = [i for i in range(len(log)) if math.isfinite(record.load[i])]
    notes = []
    if len(shown) > MOST_READINGS:
        shown = list(_highest_of_stretches(record))
        notes.append(
            f"{len(log)} readings: the highest of each stretch of the gauge table is shown."
        )
    if log.tare:
        notes.append(f"Tare of the gauge taken off: {show(log.tare, 'force', system)}.")
    notes.append(
        "Expected, Caution and Stop are the plan's at the cable in of the reading. At rest and "
        "over the first move Stop is the lower of Stop and that of the first move."
    )
    heavy = frozenset(k for k, i in enumerate(shown) if record.above[i] == "stop")
    heads = ("cable in", "gear", "expected", "caution", "stop", "reading", "difference", "remark")
    rows = tuple(_reading_row(record, i, system) for i in shown)
    numbers = frozenset({0, 2, 3, 4, 5, 6})
    return Block(READINGS, (), heads, rows, numbers, tuple(notes), heavy)


def _highest_of_stretches(record: PullRecord) -> Iterator[int]:
    """The highest reading that can be believed between each two rows of the gauge table."""
    pulled, load = record.log.pulled, np.where(record.believed, record.load, -np.inf)
    edges = [row.pulled for row in record.plan.gauge]
    for low, high in pairwise(edges):
        last = high == edges[-1]
        inside = (pulled >= low) & ((pulled <= high + 1.0) if last else (pulled < high))
        if (inside & np.isfinite(load)).any():
            yield int(np.argmax(np.where(inside, load, -np.inf)))


def _reading_row(record: PullRecord, i: int, system: str) -> tuple[str, ...]:
    log = record.log

    def force(value: float) -> str:
        return show(value, "force", system) if math.isfinite(value) else "-"

    above = {"stop": "above Stop", "caution": "above Caution", "": ""}[record.above[i]]
    flags = ", ".join(log.flags[i])
    return (
        show(log.pulled[i], "length", system) if math.isfinite(log.pulled[i]) else "-",
        log.gear[i] or "-",
        *(force(v[i]) for v in (record.expected, record.caution, record.stop, record.load)),
        force(float(record.load[i] - record.expected[i])),
        "; ".join(part for part in (above, flags) if part),
    )


# --- what happened, was found and was written -----------------------------------------------------


def _stops_block(record: PullRecord, system: str) -> Block:
    def time(halt_time: float) -> str:
        return minutes(halt_time) if math.isfinite(halt_time) else BLANK

    rows = tuple(
        (
            show(halt.pulled, "length", system) if math.isfinite(halt.pulled) else "-",
            time(halt.seconds) if not _at_end(record, halt.pulled) else "end of pull",
            "yes" if halt.planned else "no",
            show(halt.first_move, "force", system) if math.isfinite(halt.first_move) else "-",
            halt.why or ("" if halt.planned else BLANK),
            halt.restart or ("" if halt.planned else BLANK),
        )
        for halt in record.halts
    )
    heads = ("cable in", "stopped for", "planned", "first move after", "reason", "restart")
    words = () if rows else ("No stop is recorded between start and end.",)
    return Block(_STOPS, words, heads, rows, frozenset({0, 1, 3}))


def _at_end(record: PullRecord, pulled: float) -> bool:
    return pulled > record.plan.pull.path.length - 1.0


_FOUND_AS = {
    "friction": ("friction in", "ratio"),
    "rope friction": ("friction of rope", "ratio"),
    "reel tension": ("reel tension", "force"),
    "tare": ("tare", "force"),
}


def _friction_block(record: PullRecord, system: str) -> Block:
    rows = tuple(_estimate_row(record, each, system) for each in record.friction)
    words = (record.friction_note,) if record.friction_note else ()
    heads = ("found", "value", "95% interval", "planned", "remark")
    notes = (
        "Fitted to the readings that count, through the full pull model: rope, sheaves, lead-off.",
    )
    return Block(_FRICTION, words, heads, rows, frozenset({1, 2, 3}), notes if rows else ())


def _estimate_row(record: PullRecord, found: Estimate, system: str) -> tuple[str, ...]:
    name, quantity = _FOUND_AS.get(found.kind, (found.kind, "ratio"))
    run = record.plan.pull.run
    planned = {
        "friction": next(
            (c.friction for c in run.route.conduits if c.name == found.name), math.nan
        ),
        "rope friction": run.rope.friction if run.rope else math.nan,
        "reel tension": record.plan.pull.reel_tension,
    }.get(found.kind, math.nan)
    own = f" {found.name}" if found.kind in ("friction", "rope friction") else ""
    return (
        name + own,
        show(found.value, quantity, system) if found.known else "not known",
        f"{show(found.low, quantity, system)} to {show(found.high, quantity, system)}"
        if found.known
        else "-",
        show(planned, quantity, system) if math.isfinite(planned) else "-",
        found.why,
    )


def _tests_block(record: PullRecord) -> Block:
    tests = record.details.tests
    rows = tuple(
        tuple(text or BLANK for text in (t.when, t.what, t.cable, f"{t.value} {t.unit}".strip(),
                                         t.instrument, t.by, t.date))
        for t in tests
    ) or tuple((when, what, *(BLANK,) * 5) for when in WHEN for what in TESTS)  # fmt: skip
    heads = ("pull", "test", "cable", "value, unit", "instrument", "by", "date")
    order = sorted(rows, key=lambda row: row[0] == "after")
    return Block(_TESTS, (), heads, tuple(order))


def _departures_block(record: PullRecord, system: str) -> Block:
    found = tuple(render(phrase, system) for phrase in record.departures)
    written = tuple(
        (c.what or BLANK, c.why or BLANK, c.agreed or BLANK) for c in record.details.changes
    )
    rows = written or ((BLANK, BLANK, BLANK),)
    explained = record.comparison is not None and bool(record.comparison.explanations)
    none = "The log shows no departure from the plan."
    words = found or (("The readings differ from the plan: see below.",) if explained else (none,))
    heads = ("written down: what", "why", "agreed by")
    notes = [f"Remarks: {record.details.remarks}"] if record.details.remarks else []
    if record.comparison is not None:
        lines = explanation_lines(record.comparison, system, checks=False)
        notes += ["What explains the readings, most likely first:", *map(str.strip, lines)]
    return Block(_DEPARTURES, words, heads, rows, notes=tuple(notes))


def _log_block(record: PullRecord) -> Block:
    log = record.log
    rows = tuple((d.rule, str(d.count), d.words) for d in log.decisions)
    unused = int((~log.used).sum())
    words = (
        f"{log.name}: {len(log)} readings, {len(log) - unused} compared with the plan. "
        "The others are kept and flagged.",
    )
    return Block(_LOG, words, ("", "rows", "what was done"), rows, frozenset({1}))


def _hashes_block(record: PullRecord) -> Block:
    model = record.job.path.name if record.job.path else "model"
    hashes = record.hashes
    rows = [("model", model, hashes.model), ("plan", "mark of the sheet", hashes.plan)]
    rows += [("log", record.log.name, hashes.log), ("readings", "", hashes.readings)]
    if hashes.details:
        rows.append(("details", "", hashes.details))
    return Block(_HASHES, (), ("", "file", "SHA-256"), tuple(rows))
