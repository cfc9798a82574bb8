"""Times as people and recorders write them: of the day, with a date, or counted from a start."""

from __future__ import annotations

import math
import re
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta, timezone
from typing import Literal, NamedTuple

from route3d.field.log.numbers import Decimal, read_number

Family = Literal["", "date", "day", "elapsed"]

_CLOCK = re.compile(
    r"(\d{1,2}):(\d{2})(?::(\d{2})(?:[.,](\d{1,9}))?)?\s*(?:([AaPp])\.?\s*[Mm]\.?)?"
)
_LONG = re.compile(r"(\d{3,6}):(\d{2}):(\d{2})(?:[.,](\d{1,9}))?")
_DATE = re.compile(r"(\d{1,2})([./-])(\d{1,2})\2(\d{4}|\d{2})[ T,]*(.*)")
_YEAR_FIRST = re.compile(r"(\d{4})([/.-])(\d{1,2})\2(\d{1,2})[ T]*(.*?)(Z|[+-]\d{2}:?\d{2})?")
_EPOCH = datetime(1970, 1, 1)
_EXCEL = datetime(1899, 12, 30)
# A number in a column of times without a unit: seconds of the epoch, in milliseconds, or days as a
# spreadsheet counts them (1982 to 2064), by its size.
_EPOCH_S, _EPOCH_MS, _EXCEL_DAYS = (3e8, 1e11), (3e11, 1e14), (30_000.0, 60_000.0)


class TimeCell(NamedTuple):
    """A cell as seconds on a clock of its ``family``, NaN where it is no time.

    ``family`` is "date" (seconds of the epoch, by the clock on the wall where no offset is given),
    "day" (seconds after midnight), "elapsed" (from some start), or "" where nothing was read.
    ``iso`` is the date and time, "" where there is none. ``half`` is true for a clock of twelve
    hours that does not say which half of the day it is.
    """

    seconds: float
    family: Family = ""
    iso: str = ""
    half: bool = False


@dataclass(frozen=True, slots=True)
class TimeStyle:
    """How the times of a column are written.

    ``factor`` seconds is the unit of a number, NaN where none is given; ``day_first`` of dates with
    slashes; ``short`` is what two figures with a colon are: "hh:mm" or "mm:ss".
    """

    factor: float = math.nan
    day_first: bool = False
    short: Literal["hh:mm", "mm:ss"] = "hh:mm"
    decimal: Decimal = "."


NO_TIME = TimeCell(math.nan)


def read_time(cell: object, style: TimeStyle) -> TimeCell:
    """The time in a cell."""
    try:
        return _read(cell, style)
    except (ValueError, OverflowError):
        return NO_TIME


def _read(cell: object, style: TimeStyle) -> TimeCell:
    if isinstance(cell, datetime):
        return _dated(cell)
    if isinstance(cell, date):
        return _dated(datetime(cell.year, cell.month, cell.day))
    if isinstance(cell, time):
        seconds = cell.hour * 3600.0 + cell.minute * 60.0 + cell.second + cell.microsecond / 1e6
        return TimeCell(seconds, "day")
    if isinstance(cell, timedelta):
        return TimeCell(cell.total_seconds(), "elapsed")
    if isinstance(cell, str):
        text = cell.strip()
        if ":" in text or "/" in text or text.count("-") == 2 or text.count(".") == 2:
            return _of_text(text, style)
    number = read_number(cell, style.decimal)
    if number.trouble or number.unit:
        return NO_TIME
    return _of_number(number.value, style)


def _of_number(value: float, style: TimeStyle) -> TimeCell:
    if not math.isnan(style.factor):
        return TimeCell(value * style.factor, "elapsed")
    if _EPOCH_S[0] < value < _EPOCH_S[1] or _EPOCH_MS[0] < value < _EPOCH_MS[1]:
        seconds = value if value < _EPOCH_S[1] else value / 1000.0
        moment = datetime.fromtimestamp(seconds, UTC)
        return TimeCell(seconds, "date", moment.isoformat(timespec="seconds"))
    if _EXCEL_DAYS[0] < value < _EXCEL_DAYS[1] and value != int(value):
        return _dated(_EXCEL + timedelta(days=value))
    return TimeCell(value, "elapsed")


def _dated(moment: datetime) -> TimeCell:
    """Seconds of the epoch; of a moment without offset, by the clock on the wall."""
    iso = moment.isoformat(timespec="seconds" if not moment.microsecond else "milliseconds")
    if moment.tzinfo is None:
        return TimeCell((moment - _EPOCH).total_seconds(), "date", iso)
    return TimeCell(moment.timestamp(), "date", iso)


def _of_text(text: str, style: TimeStyle) -> TimeCell:
    if clock := _CLOCK.fullmatch(text):
        return _of_clock(clock, style)
    if long := _LONG.fullmatch(text):
        hours, minutes, seconds, part = long.groups()
        return TimeCell(
            3600.0 * int(hours) + 60.0 * int(minutes) + int(seconds) + float(f"0.{part or 0}"),
            "elapsed",
        )
    if found := _YEAR_FIRST.fullmatch(text):
        year, _, month, day, rest, zone = found.groups()
        return _with_clock(int(year), int(month), int(day), rest, zone or "", style)
    if found := _DATE.fullmatch(text):
        one, mark, two, year, rest = found.groups()
        day, month = (one, two) if mark == "." or style.day_first else (two, one)
        full = int(year) + (2000 if len(year) == 2 else 0)
        return _with_clock(full, int(month), int(day), rest, "", style)
    return NO_TIME


def _of_clock(clock: re.Match[str], style: TimeStyle) -> TimeCell:
    first, second, third, part, half = clock.groups()
    if third is None and style.short == "mm:ss" and not half:
        return TimeCell(60.0 * int(first) + int(second), "elapsed")
    hours, minutes, seconds = int(first), int(second), int(third or 0)
    if hours > 23 or minutes > 59 or seconds > 60:  # 60: a leap second
        return NO_TIME
    if half:
        if not 1 <= hours <= 12:
            return NO_TIME
        hours = hours % 12 + (12 if half in "Pp" else 0)
    total = 3600.0 * hours + 60.0 * minutes + seconds + float(f"0.{part or 0}")
    return TimeCell(total, "day", half=not half and third is None and 1 <= hours <= 12)


def _with_clock(
    year: int, month: int, day: int, rest: str, zone: str, style: TimeStyle
) -> TimeCell:
    moment = datetime(year, month, day)
    if rest:
        clock = _CLOCK.fullmatch(rest.strip(" ,T"))
        if clock is None:
            return NO_TIME
        of_day = _of_clock(clock, TimeStyle())
        if of_day.family != "day":
            return NO_TIME
        moment += timedelta(seconds=of_day.seconds)
    if zone:
        offset = timedelta(0)
        if zone != "Z":
            digits = zone[1:].replace(":", "")
            offset = timedelta(hours=int(digits[:2]), minutes=int(digits[2:]))
            offset = -offset if zone[0] == "-" else offset
        moment = moment.replace(tzinfo=timezone(offset))
    return _dated(moment)


def joined(day: object, clock: object) -> object:
    """A cell with the date and one with the time of day, made one."""
    if isinstance(day, datetime) and isinstance(clock, time):
        return datetime.combine(day.date(), clock)
    if isinstance(day, datetime):
        day = day.date().isoformat()
    if isinstance(clock, time):
        clock = clock.isoformat()
    return clock if day is None else day if clock is None else f"{day} {clock}"


def time_style(
    cells: Iterable[object], factor: float, elapsed: bool, decimal: Decimal, month_first: bool
) -> tuple[TimeStyle, list[str]]:
    """How the times of a column are written, and sentences on what had to be decided for it.

    ``factor`` seconds is the unit of the header, NaN without one; ``elapsed`` whether the header
    speaks of an elapsed time; ``month_first`` how a date such as 3/4/2026 is read.
    """
    said: list[str] = []
    day_first, sure = not month_first, False
    longest, short = 0, False
    slashes = ""
    for cell in cells:
        if not isinstance(cell, str):
            continue
        if (found := _DATE.fullmatch(cell.strip())) and found[2] != ".":
            slashes = slashes or cell.strip()
            if not sure and (int(found[1]) > 12) != (int(found[3]) > 12):
                day_first, sure = int(found[1]) > 12, True
        elif (clock := _CLOCK.fullmatch(cell.strip())) and clock[3] is None:
            short, longest = True, max(longest, int(clock[1]))
    if slashes and not sure:
        order = "day first" if day_first else "month first"
        said.append(f"Dates such as {slashes} were read {order}, as common with the job's units.")
    minutes = short and (elapsed or longest > 23)
    if minutes:
        said.append("Times such as 12:30 were read as minutes and seconds.")
    return TimeStyle(factor, day_first, "mm:ss" if minutes else "hh:mm", decimal), said
