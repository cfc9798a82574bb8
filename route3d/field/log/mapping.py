"""Which column of a log is which, by the words and units people and recorders head them with."""

from __future__ import annotations

import math
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import NamedTuple

from route3d.errors import InputError, Problem
from route3d.field.log.tables import LogLine
from route3d.units import parse

KINDS = ("time", "date", "pulled", "speed", "load", "gear", "brake", "note", "kind")
MEASURED = {"pulled": "length", "speed": "speed", "load": "force", "brake": "force"}
WORDS = {"pulled": "cable in", "kind": "event"}
"""What people call the kinds of column that are not called by their own names."""
MAP_NAMES = {"time", "date", "footage", "speed", "load", "gear", "brake", "note"}

# Headers in lower case without their unit: these alone are it; those hold one of the words.
_EXACT = {
    "time": {"t", "datetime", "date time", "date/time", "utc", "hour"},
    "date": {"date", "day"},
    "pulled": {"in", "feet", "pulled", "station", "depth", "chainage"},
    "load": {"pull", "line pull", "pulling", "cell", "kn", "lbf"},
    "kind": {"kind", "event", "entry"},
}
# In this order: a "brake force" is of the brake, a "counter reading" of the counter.
_HOLDS: dict[str, tuple[str, ...]] = {
    "note": ("note", "notes", "remark", "remarks", "comment", "comments"),
    "brake": ("brake",),
    "gear": ("gear",),
    "speed": ("speed", "velocity"),
    "pulled": ("footage", "cable in", "length", "distance", "counter", "payout", "position"),
    "load": ("load", "tension", "force", "reading", "gauge", "gage", "dynamometer"),
    "time": ("time", "clock", "timestamp", "elapsed"),
}
# What stands beside a measurement and is none.
_NOT_READ = re.compile(
    r"\b(expected|caution|stop|limit|max|maximum|min|minimum|peak|average|avg|mean|target|setpoint|"
    r"alarm|tare|remaining|left|battery|temperature|signal|status|place|used|flags|first move|"
    r"calibrated|range|error|std|deviation)\b"
)
_HEADER = re.compile(
    r"(?P<name>.*?)\s*(?:\((?P<a>[^()]*)\)|\[(?P<b>[^\[\]]*)\]|(?:,\s*|\s+|_)(?P<c>[^\s_,()\[\]]+))?"
)
# What recorders write and a model file may not: unit by kind, each as the unit text of route3d.
_FORCE = {
    **dict.fromkeys(("lbf", "lb", "lbs", "pound", "pounds", "#"), "1 lbf"),
    **dict.fromkeys(("kip", "kips", "klb", "klbs", "klbf"), "1 kip"),
    **dict.fromkeys(("n", "newton", "newtons"), "1 N"),
    **dict.fromkeys(("kgf", "kg", "kp"), "1 kgf"),
    "kn": "1 kN",
    "dan": "10 N",
}
_LENGTH = {
    **dict.fromkeys(("ft", "feet", "foot", "'"), "1 ft"),
    **dict.fromkeys(("in", "inch", "inches"), "1 in"),
    **dict.fromkeys(("m", "meter", "meters", "metre", "metres"), "1 m"),
    "cm": "1 cm",
    "mm": "1 mm",
    "km": "1 km",
    "yd": "1 yd",
    "kft": "1 kft",
}
_SPEED = {
    **dict.fromkeys(("ft/min", "fpm", "feet/min", "ft/minute"), "1 ft/min"),
    **dict.fromkeys(("ft/s", "fps", "ft/sec"), "1 ft/s"),
    **dict.fromkeys(("m/min", "m/minute"), "1 m/min"),
    **dict.fromkeys(("m/s", "m/sec"), "1 m/s"),
    "ft/h": "1 ft/h",
    "m/h": "1 m/h",
    "km/h": "1 km/h",
}
_TIME = {
    **dict.fromkeys(("s", "sec", "secs", "second", "seconds"), 1.0),
    **dict.fromkeys(("ms", "msec", "millisecond", "milliseconds"), 0.001),
    **dict.fromkeys(("min", "mins", "minute", "minutes"), 60.0),
    **dict.fromkeys(("h", "hr", "hrs", "hour", "hours"), 3600.0),
    **dict.fromkeys(("d", "day", "days"), 86400.0),
}
_UNITS = {"length": _LENGTH, "force": _FORCE, "speed": _SPEED}
OTHER_UNITS = frozenset(
    {
        "psi",
        "psig",
        "psia",
        "bar",
        "mbar",
        "pa",
        "kpa",
        "mpa",
        "%",
        "v",
        "mv",
        "ma",
        "hp",
        "kw",
        "rpm",
        "hz",
        "deg",
        "°c",
        "°f",
        "nm",
        "n-m",
        "n·m",
        "lb-ft",
        "ft-lb",
        "ft-lbf",
        "lbf-ft",
        "lbf/ft",
        "lb/ft",
        "n/m",
        "kn/m",
    }
)
"""Units of what recorders write beside force, length, speed and time: never taken for these."""
BARE = {
    "US": {"length": "ft", "force": "lbf", "speed": "ft/min"},
    "SI": {"length": "m", "force": "N", "speed": "m/min"},
}


def unit_factor(kind: str, unit: str) -> float | None:
    """SI units in one of a column of that kind; None where the unit is none of it."""
    word = unit.strip().strip(".").lower()
    if kind == "time":
        return _TIME.get(word)
    known = _UNITS.get(MEASURED.get(kind, ""), {}).get(word)
    return None if known is None else parse(known, MEASURED[kind], "SI")


class Heading(NamedTuple):
    """A header taken apart: its text, its ``name`` in lower case, and what may be its unit."""

    text: str
    name: str
    unit: str


def heading_of(cell: object) -> Heading:
    """The header in a cell."""
    text = "" if cell is None else " ".join(str(cell).split())
    found = _HEADER.fullmatch(text)
    if found is None:
        return Heading(text, text.lower(), "")
    unit = found["a"] or found["b"] or ""
    if not unit and found["c"]:  # a last word is a unit only if it is one, and no part of the name
        if any(text.lower() in words for words in (*_HOLDS.values(), *_EXACT.values())):
            return Heading(text, text.lower(), "")
        last = found["c"]
        if any(unit_factor(kind, last) is not None for kind in ("pulled", "speed", "load", "time")):
            name = found["name"].lower().replace("_", " ")
            return Heading(text, name, last) if name else Heading(text, last.lower(), "")
        return Heading(text, text.lower().replace("_", " "), "")
    return Heading(text, found["name"].lower().replace("_", " ").strip(), unit.strip())


@dataclass(frozen=True, slots=True)
class Columns:
    """Where each kind of value stands, from the header row in ``line``, 0 without one.

    ``at`` index by kind. ``factors`` SI units in one, by kind, NaN where the header gives no unit.
    ``headers`` are all headers as written. ``sign`` is -1 where loads were asked for with a minus.
    """

    at: Mapping[str, int]
    factors: Mapping[str, float]
    headers: tuple[str, ...]
    line: int
    sign: float = 1.0

    def header(self, kind: str) -> str:
        """The header of a column as it stands in the file."""
        return self.headers[self.at[kind]] or f"column {self.at[kind] + 1}"

    @property
    def enough(self) -> bool:
        """Whether loads and where they were read are among them."""
        return "load" in self.at and ("pulled" in self.at or "speed" in self.at)


class Asked(NamedTuple):
    """One ``--map``: the ``column`` of a kind, its header or number, and its unit, "" without."""

    kind: str
    column: str
    unit: str
    sign: float


def asked_mapping(texts: Sequence[str]) -> list[Asked]:
    """What ``--map`` asks for; InputError where a text is no mapping."""
    names = {"footage": "pulled", "cable in": "pulled", "event": "kind"}
    wanted = []
    for text in texts:
        kind, equals, column = (part.strip() for part in text.partition("="))
        kind = names.get(kind.lower(), kind.lower())
        if not equals or not column or kind not in KINDS:
            fix = f'write --map "load=Channel 2 [kN]"; names: {", ".join(sorted(MAP_NAMES))}'
            raise InputError(Problem(f"{text!r} maps no column", "--map", fix))
        sign = 1.0
        if kind == "load" and column.startswith("-"):
            sign, column = -1.0, column[1:].strip()
        unit = re.fullmatch(r".*[(\[]([^()\[\]]+)[)\]]", column)
        wanted.append(Asked(kind, column, unit[1].strip() if unit else "", sign))
    doubled = [a.kind for a in wanted if sum(b.kind == a.kind for b in wanted) > 1]
    if doubled:
        raise InputError(Problem(f"{doubled[0]} is mapped twice", "--map", "map each once"))
    return wanted


def find_columns(row: LogLine, asked: Sequence[Asked], units: str | None, file: str) -> Columns:
    """The columns by a header row. They may lack some: see ``Columns.enough``.

    InputError where two columns may be one kind, or where a column asked for is not there.
    """
    heads = [heading_of(cell) for cell in row.cells]
    at: dict[str, int] = {}
    given: dict[str, str] = {}
    sign = 1.0
    for want in asked:
        at[want.kind] = _asked_column(want, heads, row, file)
        given[want.kind] = want.unit
        sign = want.sign if want.kind == "load" else sign
    free = {i: _kind_of(head) for i, head in enumerate(heads) if i not in at.values()}
    for kind in KINDS:
        if kind not in at and (index := _column(kind, free, heads, row, file)) is not None:
            at[kind] = index
    factors = {}
    for kind, index in at.items():
        unit = given.get(kind) or heads[index].unit
        factors[kind] = _factor(kind, unit, units, heads[index], row, file, asked=kind in given)
    return Columns(at, factors, tuple(h.text for h in heads), row.line, sign)


def numbered_columns(
    first: LogLine, asked: Sequence[Asked], units: str | None, file: str
) -> Columns | None:
    """The columns of a table without header, each asked for by its number; None if they are not."""
    numbers = {want.kind: re.match(r"\d+", want.column) for want in asked}
    if not asked or any(found is None for found in numbers.values()):
        return None
    heads = [Heading(f"column {i}", "", "") for i in range(1, len(first.cells) + 1)]
    at, factors, sign = {}, {}, 1.0
    for want in asked:
        found = numbers[want.kind]
        index = int(found.group()) - 1 if found else 0
        if not 0 <= index < len(heads):
            said = f"has no column {index + 1}: it has {len(heads)} columns"
            raise InputError(Problem(said, "--map", "count columns from 1", file, first.line))
        at[want.kind] = index
        factors[want.kind] = _factor(
            want.kind, want.unit, units, heads[index], first, file, asked=True
        )
        sign = want.sign if want.kind == "load" else sign
    return Columns(at, factors, tuple(h.text for h in heads), 0, sign)


def _kind_of(head: Heading) -> tuple[str, bool]:
    """The kind of column a header names, and whether by its whole name; "" for none."""
    if not head.name or _NOT_READ.search(head.name):
        return "", False
    for kind, names in _EXACT.items():
        if head.name in names:
            return kind, True
    for kind, words in _HOLDS.items():
        if head.name in words:
            return kind, True
    for kind, words in _HOLDS.items():
        if any(re.search(rf"\b{word}\b", head.name) for word in words):
            return kind, False
    return "", False


def _column(
    kind: str,
    free: Mapping[int, tuple[str, bool]],
    heads: Sequence[Heading],
    row: LogLine,
    file: str,
) -> int | None:
    found = [i for i, (named, _) in free.items() if named == kind]
    whole = [i for i in found if free[i][1]]
    chosen = whole if len(whole) == 1 else found
    if len(chosen) > 1 and kind in ("load", "pulled", "speed", "time"):
        texts = [heads[i].text for i in chosen]
        twice = len({text.lower() for text in texts}) < len(texts)
        many = " and ".join(
            f"{text!r} (column {i + 1})" if twice else repr(text)
            for i, text in zip(chosen, texts, strict=True)
        )
        name = "footage" if kind == "pulled" else kind
        said = f"has {len(chosen)} columns that may be the {WORDS.get(kind, kind)}: {many}"
        fix = f'choose one, such as --map "{name}={chosen[0] + 1 if twice else texts[0]}"'
        raise InputError(Problem(said, fix=fix, file=file, line=row.line))
    return chosen[0] if chosen else None


def _asked_column(want: Asked, heads: Sequence[Heading], row: LogLine, file: str) -> int:
    """The index of a column asked for by its header, with or without its unit, or its number."""
    bare = re.sub(r"\s*[(\[][^()\[\]]*[)\]]$", "", want.column)
    for text in (want.column, bare):
        found = [i for i, h in enumerate(heads) if text.lower() in (h.text.lower(), h.name)]
        whole = [i for i in found if text.lower() == heads[i].text.lower()]
        if len(chosen := whole or found) == 1:
            return chosen[0]
        if chosen:
            numbers = " and ".join(str(i + 1) for i in chosen)
            name = "footage" if want.kind == "pulled" else want.kind
            said = f"columns {numbers} are both headed {want.column!r}"
            fix = f'choose one by its number, such as --map "{name}={chosen[0] + 1}"'
            raise InputError(Problem(said, "--map", fix, file, row.line))
    if bare.isdecimal() and 1 <= int(bare) <= len(heads):
        return int(bare) - 1
    known = ", ".join(repr(head.text) for head in heads if head.text)
    said = f"has no column {want.column!r} for {want.kind}"
    raise InputError(Problem(said, "--map", f"its columns: {known}", file, row.line))


def _factor(
    kind: str,
    unit: str,
    units: str | None,
    head: Heading,
    row: LogLine,
    file: str,
    *,
    asked: bool,
) -> float:
    """SI units in one of this column; NaN where its header has no unit."""
    if kind not in MEASURED and kind != "time":
        return math.nan
    if unit and (factor := unit_factor(kind, unit)) is not None:
        return factor
    wrong = unit and (
        unit.lower() in OTHER_UNITS
        or any(unit_factor(other, unit) is not None for other in (*MEASURED, "time"))
    )
    if wrong or (unit and asked):
        name = "footage" if kind == "pulled" else kind
        known = {"load": "lbf or kN", "brake": "lbf or kN", "pulled": "ft or m", "time": "s or min"}
        said = f"column {head.text!r}: {unit!r} is not a unit of {WORDS.get(kind, kind)}"
        fix = f"units are {known.get(kind, 'ft/min or m/min')}; "
        if unit.lower() in OTHER_UNITS:
            fix += "convert the column, or map another one"
            raise InputError(Problem(said, fix=fix, file=file, line=row.line))
        sample = BARE["US"].get(MEASURED.get(kind, ""), "s")
        fix += f'give it, such as --map "{name}={head.name or 1} [{sample}]"'
        raise InputError(Problem(said, fix=fix, file=file, line=row.line))
    if units is not None and kind in MEASURED:
        bare = unit_factor(kind, BARE[units][MEASURED[kind]])
        assert bare is not None
        return bare
    return math.nan


def no_columns(best: LogLine | None, columns: Columns | None, file: str) -> InputError:
    """The InputError of a log whose columns do not tell what they are; names them and the fix."""
    if best is None or columns is None:
        said = "has no header row with columns for cable in and reading"
        fix = 'map columns by number, such as --map "footage=1 [ft]" --map "load=2 [lbf]"'
        return InputError(Problem(said, fix=fix, file=file))
    heads = [heading_of(cell) for cell in best.cells]
    lacking = [] if "load" in columns.at else ["load"]
    if "pulled" not in columns.at and "speed" not in columns.at:
        lacking.append("footage")
    words = {"load": "the reading (load)", "footage": "cable in (footage) or speed"}
    said = f"no column is known as {' and '.join(words[name] for name in lacking)}"
    free = [i for i in range(len(heads)) if i not in columns.at.values() and heads[i].text]
    typed = []
    if any(unit_factor("load", h.text) is None and h.text[:1].isdigit() for h in heads):
        said = "has no header row: its first row holds numbers"
        fix = 'map columns by number, such as --map "footage=2 [ft]" --map "load=3 [lbf]"'
        return InputError(Problem(said, fix=fix, file=file, line=best.line))
    for name in lacking:
        kind = "pulled" if name == "footage" else name
        fits = [i for i in free if unit_factor(kind, heads[i].unit or heads[i].name) is not None]
        column = heads[(fits or free or [0])[0]].text or "Channel 2 [kN]"
        typed.append(f'--map "{name}={column}"')
    known = ", ".join(repr(head.text) for head in heads if head.text) or "none"
    fix = f"columns: {known}. Name it, such as {' '.join(typed)}"
    return InputError(Problem(said, fix=fix, file=file, line=best.line))


def units_row(row: LogLine, columns: Columns) -> dict[str, float] | None:
    """SI units in one by kind, where the row below the header holds units; None where it does not.

    Its cells must be units or text, and at least one measured column must have one.
    """
    found: dict[str, float] = {}
    for kind, index in columns.at.items():
        cell = row.cells[index] if index < len(row.cells) else None
        if cell is None:
            continue
        if not isinstance(cell, str) or any(c.isdigit() for c in cell):
            return None
        factor = unit_factor(kind, cell.strip("()[] "))
        if factor is not None:
            found[kind] = factor
        elif kind in MEASURED:
            return None
    return found if any(kind in MEASURED for kind in found) else None
