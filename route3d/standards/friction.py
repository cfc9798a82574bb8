"""Basic friction coefficients by jacket, conduit and lubrication."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from typing import Literal, TypeAlias

from route3d.standards.source import Source, Status
from route3d.standards.tables import NotInTable, Row, load, source_of, unknown

Lubrication: TypeAlias = Literal["dry", "lubricated", "not stated"]
DRY = ("none", "dry", "no lubricant")
"""What people write for no lubricant."""


@dataclass(frozen=True, slots=True)
class FrictionRow:
    """One published friction coefficient or range."""

    jackets: tuple[str, ...]
    conduit: str
    lubrication: Lubrication
    low: float
    high: float
    source: Source

    @property
    def middle(self) -> float:
        """Middle of the printed range."""
        return (self.low + self.high) / 2


@dataclass(frozen=True, slots=True)
class FrictionRange:
    """What all matching publications span; ``typical`` is the median of their middles."""

    low: float
    typical: float
    high: float
    sources: tuple[Source, ...]

    @property
    def doubtful(self) -> bool:
        """True when any of the sources is an estimate or of low confidence."""
        return any(source.doubtful for source in self.sources)


@cache
def friction_rows() -> tuple[FrictionRow, ...]:
    """Every published coefficient, in the order of the data file."""
    table = load("friction")
    return tuple(
        FrictionRow(
            jackets=tuple(row["jacket"]),
            conduit=row["conduit"],
            lubrication=row["lubrication"],
            low=_end(row, "low"),
            high=_end(row, "high"),
            source=source_of(table, row),
        )
        for row in table.rows
    )


def _end(row: Row, key: str) -> float:
    return float(row.get(key, row.get("value")))


def friction_range(jacket: str, conduit: str, lubricated: bool) -> FrictionRange:
    """Published friction of a jacket in a conduit surface (or stock type), dry or lubricated.

    Rows that name the jacket are used, else those for any cable. A row that does not state its
    lubrication counts as dry. Raises NotInTable for a jacket or surface no publication names.
    """
    from statistics import median  # slow to import, and a start that asks no friction skips it

    matching = _matching(jacket, conduit, lubricated)
    return FrictionRange(
        low=min(row.low for row in matching),
        typical=median(row.middle for row in matching),
        high=max(row.high for row in matching),
        sources=tuple(dict.fromkeys(row.source for row in matching)),
    )


def friction_for(
    jacket: str, conduit: str, lubricated: bool, *, estimates: bool = False
) -> FrictionRange:
    """Friction to start a calculation with: what was read, else remembered, never silently.

    ``conduit`` is a surface, a stock type or a material. Only ``estimates=True`` takes the
    estimates of European practice. Raises NotInTable where nothing is published.
    """
    from statistics import median

    surface = _MATERIALS.get(conduit, conduit)
    if estimates:
        rows = _estimated(jacket, surface, lubricated)
    else:
        rows = _matching(jacket, surface, lubricated)
        read = [row for row in rows if row.source.status is Status.READ]
        rows = read or rows
    return FrictionRange(
        low=min(row.low for row in rows),
        typical=median(row.middle for row in rows),
        high=max(row.high for row in rows),
        sources=tuple(dict.fromkeys(row.source for row in rows)),
    )


# Materials of a conduit of plain dimensions, by the surface the tables name.
_MATERIALS: Mapping[str, str] = {
    "steel": "metal",
    "aluminum": "metal",
    "HDPE": "duct",
    "PE": "duct",
    "plastic": "duct",
    "concrete": "duct",
    "fiberglass": "duct",
}


def _estimated(jacket: str, surface: str, lubricated: bool) -> list[FrictionRow]:
    table = load("eu_friction")
    state: Lubrication = "lubricated" if lubricated else "dry"
    wanted = {"metal": "steel pipe"}.get(surface, "duct")
    found = []
    for row in table.rows:
        words = str(row.get("surface", ""))
        sheath, _, rest = words.partition(" sheath in ")
        if not rest.endswith(state) or jacket not in sheath.split(" or ") or wanted not in rest:
            continue
        if "concrete" in rest:  # by name only: other ducts are smoother
            continue
        source = source_of(table, row, title="European practice", cite=words)
        low, high = float(row["mu_low"]), float(row["mu_high"])
        found.append(FrictionRow((jacket,), surface, state, low, high, source))
    if not found:
        raise NotInTable(f"no estimate of {state} friction of {jacket} in {surface}")
    return found


# No cable slides there: figures for any cable do not stand in for these.
_NO_CABLE = ("pipe", "drill string", "rope")


def _matching(jacket: str, conduit: str, lubricated: bool) -> list[FrictionRow]:
    _known("jacket", jacket, jackets())
    surfaces = _accepted(conduit_surface(conduit))
    rows = [
        row
        for row in friction_rows()
        if row.conduit in surfaces and (row.lubrication == "lubricated") == lubricated
    ]
    fallback = () if jacket in _NO_CABLE else ("any",)
    for name in (jacket, *fallback):
        if named := [row for row in rows if name in row.jackets]:
            return named
    state = "lubricated" if lubricated else "dry"
    given = {f"{r.conduit} ({r.lubrication})" for r in friction_rows() if jacket in r.jackets}
    raise NotInTable(
        f"no publication gives {state} friction of {jacket} in {conduit}; "
        f"it is given in: {', '.join(sorted(given))}"
    )


def jackets() -> tuple[str, ...]:
    """Jacket materials the tables name, with "any"."""
    return tuple(dict.fromkeys(name for row in friction_rows() for name in row.jackets))


_SURFACES: Mapping[str, str] = {"EMT": "metal", "RMC": "metal", "IMC": "metal", "EN-STEEL": "metal"}
_PLASTIC_DUCT = ("PVC", "EB-", "DB-", "EN-PVC")


def conduit_surface(conduit: str) -> str:
    """The surface a cable meets in a stock type; a surface name comes back unchanged.

    HDPE and EN buried duct have no friction rows of their own: plain "duct".
    """
    if conduit in _SURFACES:
        return _SURFACES[conduit]
    if conduit.startswith(_PLASTIC_DUCT):
        return "PVC"
    if conduit.startswith(("HDPE", "EN-BURIED", "EN-PLIABLE", "PE-", "UK-")):
        return "duct"
    _known("conduit surface", conduit, dict.fromkeys(row.conduit for row in friction_rows()))
    return conduit


# Rows headed "duct" hold for any conduit; these surfaces are no conduit.
_OPEN = ("rollers", "capstan", "borehole", "borehole slurry", "ground", "ground on rollers")


def _accepted(surface: str) -> tuple[str, ...]:
    return (surface,) if surface in _OPEN else (surface, "duct")


def _known(what: str, given: str, names: Mapping[str, object] | tuple[str, ...]) -> None:
    if given not in names:
        raise unknown(what, given, names)
