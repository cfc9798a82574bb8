"""Which column of a table is x, y, z, radius and the rest, by the names people give them."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

from route3d.errors import InputError, Problem
from route3d.files.exchange import METRES, ReadOptions, metres_per_unit
from route3d.files.fields import nearest
from route3d.files.table_points import Row

# Headers in lower case, without unit; the first match is not preferred: two of a kind are asked.
NAMES: dict[str, tuple[str, ...]] = {
    "x": ("x", "easting", "eastings", "east", "e"),
    "y": ("y", "northing", "northings", "north", "n"),
    "z": ("z", "level", "elevation", "elev", "height", "altitude", "reduced level", "rl"),
    "radius": ("radius", "bend radius", "bend", "bend r", "r"),
    "name": ("name", "point", "point name", "vertex", "label"),
    "run": ("run", "run name", "route", "feeder", "alignment"),
    "access": ("access",),
    "conduit": ("conduit",),
    "box": ("box", "pull box"),
}
NEEDED = ("x", "y", "z")
LENGTHS = (*NEEDED, "radius", "box")
_UNITS = {
    **{u: u for u in METRES},
    **dict.fromkeys(("metre", "metres", "meter", "meters"), "m"),
    **dict.fromkeys(("foot", "feet"), "ft"),
    **dict.fromkeys(("inch", "inches"), "in"),
    **dict.fromkeys(("usft", "ftus", "us ft", "us survey ft", "us survey feet"), "us-ft"),
}
_HEADER = re.compile(
    r"(?P<name>.*?)\s*(?:\((?P<a>[^()]*)\)|\[(?P<b>[^\[\]]*)\]|_(?P<c>m|mm|ft|in))?"
)


@dataclass(frozen=True, slots=True)
class Columns:
    """Where each kind of value stands: ``at`` index by kind; ``metres`` in its unit by kind.

    ``headers`` are all headers of the table as given; ``unused`` those that are not read.
    ``decimal_comma`` says whether a comma in a number can be one, as no cells are parted by it.
    """

    at: Mapping[str, int]
    metres: Mapping[str, float]
    headers: tuple[str, ...]
    unused: tuple[str, ...]
    line: int
    decimal_comma: bool = False


def find_columns(
    row: Row, options: ReadOptions, path: Path, *, decimal_comma: bool = False
) -> Columns:
    """The columns by their header row, or by ``options.columns``.

    Raises InputError "names no column ..." where x, y or z is missing, and for a header given
    twice or a unit not known.
    """
    headers = tuple("" if c is None else " ".join(str(c).split()) for c in row.cells)
    parted = [_parted(h) for h in headers]
    at = {}
    for kind in NAMES:
        if (index := _column(kind, headers, parted, options, path, row.line)) is not None:
            at[kind] = index
    if missing := [kind for kind in NEEDED if kind not in at]:
        raise _missing(missing, headers, path, row.line)
    own = {
        kind: _unit(headers[at[kind]], parted[at[kind]][1], path) for kind in LENGTHS if kind in at
    }
    unused = tuple(h for i, h in enumerate(headers) if h and i not in at.values())
    metres = _metres(own, headers, at, options, path)
    return Columns(at, metres, headers, unused, row.line, decimal_comma)


def _parted(header: str) -> tuple[str, str]:
    """Name in lower case and unit text of a header such as ``Easting [m]``."""
    match = _HEADER.fullmatch(header)
    if match is None:  # the pattern takes any text of one line
        return header.lower(), ""
    unit = match["a"] or match["b"] or match["c"] or ""
    return match["name"].replace("_", " ").strip(" .").lower(), unit.strip().lower()


def _column(
    kind: str,
    headers: tuple[str, ...],
    parted: list[tuple[str, str]],
    options: ReadOptions,
    path: Path,
    line: int,
) -> int | None:
    wanted = options.columns.get(kind)
    if wanted is not None:
        folded = [h.lower() for h in headers]
        names = [name for name, _ in parted]
        for known in (folded, names):
            if known.count(wanted.strip().lower()) == 1:
                return known.index(wanted.strip().lower())
        said = f"names no column {wanted!r}, asked for as {kind}"
        fix = nearest(wanted, [h for h in headers if h])
        raise InputError(Problem(said, fix=fix, file=str(path), line=line))
    taken = {w.strip().lower() for w in options.columns.values()}
    found = [
        i
        for i, (name, _) in enumerate(parted)
        if name in NAMES[kind] and headers[i].lower() not in taken and name not in taken
    ]
    if len(found) > 1:
        both = " and ".join(repr(headers[i]) for i in found)
        fix = f"choose with --map {kind}={headers[found[0]]!r}"
        raise InputError(Problem(f"{both} may both be {kind}", fix=fix, file=str(path), line=line))
    return found[0] if found else None


class MissingColumns(InputError):
    """A row that does not name all the columns needed; ``missing`` of them."""

    missing = 0


def _missing(missing: list[str], headers: tuple[str, ...], path: Path, line: int) -> InputError:
    shown = ", ".join(repr(h[:40]) for h in headers[:12] if h) or "nothing"
    said = f"names no column for {', '.join(missing)}; it has {shown}"
    if {"lat", "latitude", "lon", "longitude"} & {h.lower() for h in headers}:
        fix = "degrees are not read from tables: give projected coordinates, or GeoJSON"
    else:
        fix = f"name the columns in the first row, or give --map {missing[0]}=HEADER"
    error = MissingColumns(Problem(said, fix=fix, file=str(path), line=line))
    error.missing = len(missing)
    return error


def _unit(header: str, unit: str, path: Path) -> str | None:
    """The unit a header gives, as a key of ``METRES``; None where it gives none."""
    if not unit:
        return None
    if unit in _UNITS:
        return _UNITS[unit]
    said = f"the column {header!r} has the unit {unit!r}, which is no length known here"
    raise InputError(Problem(said, fix=f"known are {', '.join(METRES)}", file=str(path)))


def _metres(
    own: dict[str, str | None],
    headers: tuple[str, ...],
    at: dict[str, int],
    options: ReadOptions,
    path: Path,
) -> dict[str, float]:
    """Meters per unit of each column of lengths; a column without unit has that of x."""
    for kind, unit in own.items():
        if unit and options.units and unit != options.units and kind in NEEDED:
            said = (
                f"the column {headers[at[kind]]!r} is in {unit}, and --units says {options.units}"
            )
            raise InputError(Problem(said, fix="leave out --units", file=str(path)))
    shared = next((unit for kind in NEEDED if (unit := own[kind])), None)
    common = metres_per_unit(options, shared, path)
    return {kind: METRES[unit] if unit else common for kind, unit in own.items()}
