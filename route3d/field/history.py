"""Friction of one's own past pulls, by what it depends on, and of the next pull of that kind."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from route3d.errors import InputError, Problem
from route3d.field.library import PastFriction, past_friction
from route3d.field.pooling import NextPull, next_pull
from route3d.model.conduit import HIGH_FRICTION, LOW_FRICTION
from route3d.standards.conduits import TYPES, material_of
from route3d.standards.friction import DRY, FrictionRange, friction_for
from route3d.standards.tables import NotInTable

UNNAMED = "not named"
"""The lubricant of a pull that had some, where nobody wrote which."""
COLD, WARM = 278.15, 298.15
"""K below and above which a pull is "cold" and "warm": 5, 25 °C; 41, 77 °F (own judgement)."""
QUANTILES = (0.1, 0.5, 0.9)
_95 = 1.959964


@dataclass(frozen=True, slots=True)
class FrictionHistory:
    """Past pulls of one kind, and the next of it.

    ``temperature`` is a class of ``temperature_class``. ``groups`` counts pulls of one conduit on
    one day, or in one bank, once. ``low`` to ``high`` are the least and the largest friction found,
    ``quantiles`` those of ``QUANTILES``, and ``spread`` the standard deviation of log friction, 0
    for a single pull. ``published`` is the range pooled with, and ``next_pull`` None where there is
    none; ``why`` then says so.
    """

    jacket: str
    conduit: str
    lubricant: str
    temperature: str
    pulls: tuple[PastFriction, ...]
    groups: int
    low: float
    high: float
    quantiles: tuple[float, ...]
    spread: float
    published: tuple[float, float] | None
    next_pull: NextPull | None
    why: str = ""


@dataclass(frozen=True, slots=True)
class LearnedFriction:
    """Friction to plan the next pull with: median ``value``, 90 % interval ``low`` to ``high``.

    ``count`` past pulls in ``groups`` of one day or bank, whose friction was ``least`` to ``most``
    (0 without one). ``unused`` are the lubricants of the library, where the one named is none of
    them. ``mixture`` is the whole distribution, as ``NextPull`` has it.
    """

    value: float
    low: float
    high: float
    count: int
    groups: int
    least: float
    most: float
    unused: tuple[str, ...] = ()
    mixture: tuple[tuple[float, float, float], ...] = ()

    @property
    def words(self) -> str:
        """Count and range, as every report says them."""
        if not self.count:
            known = f"; lubricants in this library: {', '.join(self.unused)}" if self.unused else ""
            return f"history: no past pull, published range only{known}"
        pulls = "1 pull" if self.count == 1 else f"{self.count} pulls"
        groups = f", counted as {self.groups}" if self.groups < self.count else ""
        return f"history: {pulls}{groups}, range {self.least:.2f} to {self.most:.2f}"


def history(
    path: str | Path, *, jacket: str = "", conduit: str = "", lubricant: str = ""
) -> tuple[FrictionHistory, ...]:
    """The past pulls of a library by jacket, conduit, lubricant and temperature.

    Only those of a ``jacket``, ``conduit`` material or stock type, or ``lubricant``, where given.
    """
    material = _material(conduit)
    wanted = [
        past
        for past in past_friction(path)
        if _same(jacket, past.jacket)
        and _same(material, past.conduit)
        and _same(lubricant, past.lubricant)
    ]
    kinds: dict[tuple[str, str, str, str], list[PastFriction]] = {}
    for past in wanted:
        warmth = temperature_class(past.temperature)
        kind = (past.jacket, past.conduit, _word(past.lubricant), warmth)
        kinds.setdefault(kind, []).append(past)
    return tuple(_history_of(kind, pulls) for kind, pulls in sorted(kinds.items()))


def _same(wanted: str, found: str) -> bool:
    return not wanted or _word(wanted) == _word(found)


def _word(text: str) -> str:
    return " ".join(text.casefold().split())


def temperature_class(kelvin: float | None) -> str:
    """The class of a temperature, cold, mild or warm; empty where it was not recorded."""
    if kelvin is None:
        return ""
    return "cold" if kelvin < COLD else "warm" if kelvin > WARM else "mild"


def _history_of(kind: tuple[str, str, str, str], pulls: Sequence[PastFriction]) -> FrictionHistory:
    jacket, conduit, lubricant, _ = kind
    values = np.array([past.value for past in pulls])
    published, why = None, ""
    try:
        published = _span(published_range(jacket, conduit, lubricant))
    except NotInTable as error:
        why = str(error)
    return FrictionHistory(
        *kind,
        pulls=tuple(pulls),
        groups=len(_groups(pulls)),
        low=float(values.min()),
        high=float(values.max()),
        quantiles=tuple(np.quantile(values, QUANTILES).tolist()),
        spread=float(np.log(values).std(ddof=1)) if len(values) > 1 else 0.0,
        published=published,
        next_pull=None if published is None else _pooled(pulls, published),
        why=why,
    )


def published_range(jacket: str, conduit: str, lubricant: str) -> FrictionRange:
    """What is published of a jacket in a conduit: dry, lubricated, or either where not recorded.

    Raises NotInTable where nothing is.
    """
    if not jacket or not conduit:
        missing = "jacket" if not jacket else "conduit material"
        raise NotInTable(f"the {missing} was not recorded")
    word = _word(lubricant)
    states = [word not in DRY] if word else [True, False]
    found = [friction_for(jacket, conduit, state) for state in states]
    return FrictionRange(
        min(each.low for each in found),
        found[0].typical,
        max(each.high for each in found),
        tuple(source for each in found for source in each.sources),
    )


def _span(found: FrictionRange) -> tuple[float, float]:
    """The range; of a single figure the range that a model file takes of one."""
    if found.low < found.high:
        return found.low, found.high
    return LOW_FRICTION * found.typical, HIGH_FRICTION * found.typical


def _pooled(pulls: Sequence[PastFriction], published: tuple[float, float]) -> NextPull:
    counts = _groups(pulls)
    return next_pull(
        [past.value for past in pulls],
        [(past.high - past.low) / (2 * _95 * past.value) for past in pulls],
        [1 / counts[_group(past)] for past in pulls],
        published,
    )


def _groups(pulls: Iterable[PastFriction]) -> Counter[tuple[str, ...]]:
    return Counter(map(_group, pulls))


def _group(past: PastFriction) -> tuple[str, ...]:
    """Pulls through the same conduit of a job on one day, or in one bank, are one witness."""
    when = f"bank {past.bank}" if past.bank else f"day {past.day}"
    return past.title, past.name, when


# --- friction of a conduit of a model -------------------------------------------------------------


def learned_friction(
    path: str | Path,
    *,
    jacket: str,
    conduit: str,
    lubricated: bool,
    published: tuple[float, float | None, float | None],
    lubricant: str = "",
    temperature: float | None = None,
) -> LearnedFriction:
    """Friction of the next pull of a jacket through a conduit, with the past pulls of a library.

    ``conduit`` is a stock type or a material, ``published`` the figure and its range, None for a
    single one. Pulls with any lubricant count unless ``lubricant`` names one, and at any
    temperature unless ``temperature`` K says in which class. InputError as ``past_friction``, and
    where ``lubricant`` and ``lubricated`` disagree.
    """
    if lubricant and (_word(lubricant) in DRY) == lubricated:
        said = f"lubricant {lubricant!r} does not go with friction {_state(lubricated)}"
        raise InputError(
            Problem(said, fix=f"say {_state(not lubricated)} in stock, or leave it out")
        )
    material = _material(conduit)
    warmth = temperature_class(temperature)
    library = past_friction(path)
    known = sorted({_word(past.lubricant) for past in library if past.lubricant})
    pulls = [
        past
        for past in library
        if past.jacket == jacket
        and past.conduit == material
        and past.lubricant
        and (_word(past.lubricant) in DRY) != lubricated
        and _same(lubricant, past.lubricant)
        and (not warmth or temperature_class(past.temperature) == warmth)
    ]
    typical, low, high = published
    span = (
        (LOW_FRICTION * typical, HIGH_FRICTION * typical)
        if low is None or high is None
        else (low, high)
    )
    told, values = _pooled(pulls, span), [past.value for past in pulls]
    return LearnedFriction(
        told.value,
        told.low,
        told.high,
        len(pulls),
        len(_groups(pulls)),
        min(values, default=0.0),
        max(values, default=0.0),
        tuple(known) if lubricant and _word(lubricant) not in known else (),
        told.mixture,
    )


def _material(conduit: str) -> str:
    """The material of a stock type; of a material itself, and steel of plain metal."""
    if conduit in TYPES:
        return material_of(conduit)
    return "steel" if conduit == "metal" else conduit


def _state(lubricated: bool) -> str:
    return "lubricated" if lubricated else "dry"
