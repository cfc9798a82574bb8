"""The log that the crew's page keeps: its JSON as rows."""

from __future__ import annotations

import json
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from route3d.errors import InputError, Problem
from route3d.field.log.clock import TimeStyle, read_time
from route3d.field.log.decisions import Decisions
from route3d.field.log.rows import NAN, LogRow
from route3d.field.readings import EVENT_KINDS

VERSION = 1
_KINDS = ("reading", *EVENT_KINDS)
_MOST_PROBLEMS = 20


@dataclass(frozen=True, slots=True)
class PageLog:
    """What the page wrote: its rows by number from 1, and what it says of the pull."""

    rows: tuple[LogRow, ...]
    run: str
    feed: str
    started: str
    step: float | None
    details: tuple[tuple[str, Any], ...]


def page_log(text: str, path: Path, decisions: Decisions) -> PageLog:
    """The log in the JSON of the page; InputError with every entry that is none."""
    try:
        data = json.loads(text)
    except json.JSONDecodeError as error:
        fix = "export the log from the page again"
        said = f"is not whole JSON: {error.msg}"
        raise InputError(
            Problem(said, fix=fix, file=str(path), line=error.lineno, column=error.colno)
        ) from None
    except (RecursionError, ValueError):
        raise InputError(Problem("is not a log of the page", file=str(path))) from None
    if not isinstance(data, dict) or "route3d_pull_log" not in data:
        said = "is JSON, but not a log of a pull"
        fix = "export the log from the pull view of the page"
        raise InputError(Problem(said, "route3d_pull_log", fix, str(path)))
    if data["route3d_pull_log"] != VERSION:
        said = f"is a pull log of version {str(data['route3d_pull_log'])[:20]!r}"
        raise InputError(Problem(said, "route3d_pull_log", "update route3d", str(path)))
    problems: list[Problem] = []
    entries = data.get("entries")
    if not isinstance(entries, list):
        raise InputError(Problem("has no list of entries", "entries", file=str(path)))
    rows = [
        row
        for number, entry in enumerate(entries, 1)
        if (row := _row(entry, number, problems, path)) is not None
    ]
    if problems:
        raise InputError(problems[:_MOST_PROBLEMS])
    if not rows:
        fix = "nothing was entered in the page's pull view"
        raise InputError(Problem("has no entries", "entries", fix, str(path)))
    undone = data.get("undone")
    if isinstance(undone, list) and undone:
        said = f"{len(undone)} entries were undone on the page and do not count: "
        kinds = [str(e.get("kind", "")) for e in undone if isinstance(e, dict)]
        decisions.note("undone", said + ", ".join(kinds[:20]) + ".", count=len(undone))
    details = tuple((key, data[key]) for key in ("title", "units", "mark") if data.get(key))
    return PageLog(
        tuple(rows),
        _word(data, "run"),
        _word(data, "feed"),
        _word(data, "started"),
        _positive(data.get("gauge_step_N")),
        details,
    )


def _word(data: dict[str, Any], key: str) -> str:
    value = data.get(key)
    return value if isinstance(value, str) else ""


def _positive(value: object) -> float | None:
    """A number above zero, None where it is none."""
    if isinstance(value, bool) or not isinstance(value, int | float):
        return None
    return float(value) if 0 < value < 1e12 else None


def _row(entry: Any, number: int, problems: list[Problem], path: Path) -> LogRow | None:
    """One entry; None and its problems noted where it cannot be read."""
    where = f"entries[{number}]"
    before = len(problems)

    def wrong(key: str, said: str, fix: str = "") -> None:
        problems.append(Problem(said, f"{where}.{key}" if key else where, fix, str(path)))

    if not isinstance(entry, dict):
        wrong("", f"{str(entry)[:40]!r} is not an entry")
        return None
    kind = entry.get("kind")
    if kind not in _KINDS:
        wrong("kind", f"{str(kind)[:40]!r} is not a kind of entry", f"kinds: {', '.join(_KINDS)}")

    def number_of(key: str) -> float:
        value = entry.get(key)
        if value is None:
            return NAN
        # beyond any clock or counter, and an integer of any length
        if isinstance(value, bool) or not isinstance(value, int | float) or not abs(value) < 1e12:
            wrong(key, f"{str(value)[:40]!r} is not a number", "write a number or null")
            return NAN
        return float(value)

    def text_of(key: str) -> str:
        value = entry.get(key, "")
        if not isinstance(value, str):
            wrong(key, f"{str(value)[:40]!r} is not text", "put it in quotes")
            return ""
        return " ".join(value.split())

    at = text_of("at")
    row = LogRow(
        number,
        number_of("clock_s"),
        number_of("pulled_m"),
        number_of("load_N"),
        gear=text_of("gear"),
        brake=number_of("brake_N"),
        note=text_of("note"),
        kind=str(kind),
        family="elapsed",
        iso=read_time(at, TimeStyle()).iso if at else "",
    )
    return row if len(problems) == before else None
