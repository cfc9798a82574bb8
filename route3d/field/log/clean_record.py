"""The clean record of a log, which `route3d field log --csv` writes: read back unchanged."""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from pathlib import Path

import numpy as np

from route3d.errors import InputError, Problem
from route3d.field.log.mapping import heading_of, unit_factor
from route3d.field.log.numbers import read_number
from route3d.field.log.rows import NAN
from route3d.field.log.tables import LogLine
from route3d.field.readings import EVENT_KINDS, Decision, Event, EventKind, PullLog

MARK = "route3d clean record"
COLUMNS = ("row", "time", "cable in", "reading", "gear", "used", "flags", "event", "brake", "note")
"""The columns of the record, without their units."""
_KINDS = {"cable in": "pulled", "reading": "load", "brake": "brake", "time": "time"}


def is_clean_record(lines: Sequence[LogLine]) -> bool:
    """Whether a table is one."""
    return bool(lines) and bool(lines[0].cells) and lines[0].cells[0] == MARK


def clean_record(lines: Sequence[LogLine], path: Path) -> PullLog:
    """The log that the record was written of; InputError with row and column of what is broken."""
    texts: dict[str, str] = {}
    decisions: list[Decision] = []
    head = next((i for i, x in enumerate(lines) if x.cells[:1] == ("row",)), None)
    if head is None:
        said = "is a clean record without its header"
        raise InputError(Problem(said, fix="write it anew with --csv", file=str(path)))
    tare = 0.0
    for line in lines[1:head]:
        cells = ["" if cell is None else str(cell) for cell in line.cells]
        if cells[:1] == ["decision"] and len(cells) >= 4:
            rows = tuple(
                (int(a), int(b or a)) for a, b in re.findall(r"(\d+)(?:-(\d+))?", cells[3])
            )
            count = int(cells[4]) if len(cells) > 4 and cells[4].isdecimal() else len(rows)
            decisions.append(Decision(cells[1], cells[2], rows, count))
        elif len(cells) >= 2:
            title = heading_of(cells[0])
            texts[title.name] = cells[1]
            if title.name == "tare":
                tare = _number(cells[1], line, 1, path) * (unit_factor("load", title.unit) or 1.0)
    table = _Table(lines[head], path)
    readings, events = [], []
    for line in lines[head + 1 :]:
        if line.empty:
            continue
        row = int(table.number(line, "row"))
        place, time = table.number(line, "cable in"), table.number(line, "time")
        kind = table.text(line, "event")
        if kind:
            if kind not in EVENT_KINDS:
                said = f"column 'event': {kind!r} is not an event"
                fix = f"events: {', '.join(EVENT_KINDS)}"
                raise InputError(Problem(said, fix=fix, file=str(path), line=line.line))
            named: EventKind = kind
            words = table.text(line, "gear" if kind == "gear" else "note")
            events.append(Event(named, place, time, words, table.number(line, "brake"), row))
            continue
        flags = tuple(x.strip() for x in table.text(line, "flags").split(";") if x.strip())
        used = table.text(line, "used")
        if used not in ("yes", "no"):
            said = f"column 'used': {used!r} is neither yes nor no"
            raise InputError(Problem(said, file=str(path), line=line.line))
        load = table.number(line, "reading")
        readings.append((place, load, time, table.text(line, "gear"), used == "yes", flags, row))
    columns = list(zip(*readings, strict=True)) or [()] * 7
    return PullLog(
        texts.get("log", path.name),
        np.array(columns[0], dtype=float),
        np.array(columns[1], dtype=float),
        np.array(columns[2], dtype=float),
        tuple(columns[3]),
        np.array(columns[4], dtype=bool),
        tuple(columns[5]),
        np.array(columns[6], dtype=np.int64),
        tuple(events),
        tuple(decisions),
        tare,
        texts.get("run", ""),
        texts.get("feed", ""),
        texts.get("started", ""),
        (("file", path.name), ("format", "clean record")),
    )


class _Table:
    """The columns of a record by their names."""

    def __init__(self, head: LogLine, path: Path) -> None:
        self.path = path
        titles = [heading_of(cell) for cell in head.cells]
        self.at = {title.name: i for i, title in enumerate(titles)}
        if lacking := [name for name in COLUMNS if name not in self.at]:
            said = f"has no column {lacking[0]!r}"
            fix = "write the record anew with --csv"
            raise InputError(Problem(said, fix=fix, file=str(path), line=head.line))
        self.factors = {}
        for name, kind in _KINDS.items():
            unit = titles[self.at[name]].unit
            factor = unit_factor(kind, unit)
            if factor is None:
                said = f"column {name!r}: {unit!r} is not a unit of it"
                raise InputError(Problem(said, file=str(path), line=head.line))
            self.factors[name] = factor

    def text(self, line: LogLine, name: str) -> str:
        """The text of a cell."""
        index = self.at[name]
        cell = line.cells[index] if index < len(line.cells) else None
        return "" if cell is None else str(cell)

    def number(self, line: LogLine, name: str) -> float:
        """The number of a cell in SI, NaN where it is empty."""
        value = _number(self.text(line, name), line, self.at[name], self.path)
        if name == "row" and math.isnan(value):
            said = "column 'row' is empty"
            raise InputError(Problem(said, file=str(self.path), line=line.line))
        return value * self.factors.get(name, 1.0)


def _number(text: str, line: LogLine, index: int, path: Path) -> float:
    number = read_number(text, ".")
    if number.trouble in ("bad", "over") or number.unit:
        said = f"{text[:40]!r} is not a number"
        fix = "write a plain number"
        raise InputError(Problem(said, "", fix, str(path), line.line, index + 1))
    return NAN if number.trouble else number.value
