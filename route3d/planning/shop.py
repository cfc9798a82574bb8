"""What the shop makes of a run: elbows and field bends, marks on the sticks, joints, supports."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import groupby, pairwise
from typing import NamedTuple

import numpy as np

from route3d.geometry.elbows import Elbow, elbow_kind
from route3d.geometry.figures import Figure, dog_leg, figures
from route3d.geometry.path import Path
from route3d.geometry.route_path import route_schedule
from route3d.geometry.schedule import ScheduledBend
from route3d.geometry.sticks import Marks, cut_pieces, marks_of, support_count
from route3d.model.conduit import Conduit
from route3d.model.practice import Practice
from route3d.model.route import Route
from route3d.standards.conduits import stick_length
from route3d.standards.rules import RuleSet

# Types the table of stick lengths speaks of; others come in coils or lengths of their maker.
_IN_STICKS = ("EMT", "RMC", "IMC", "PVC-40", "PVC-80", "PVC-A", "PVC-EB")


@dataclass(frozen=True, slots=True)
class ShopBend:
    """How one bend is made.

    ``stick`` is the number of the stick a field bend is made in, counted along the whole run, and
    ``marks`` its marks there; both None for a factory elbow, or where sticks are not known.
    ``figure`` is the offset or saddle it belongs to; ``dog_leg`` rad is that of
    ``figures.dog_leg`` between field bends less than a stick apart, else NaN.
    """

    number: int
    elbow: Elbow
    stick: int | None
    marks: Marks | None
    figure: Figure | None
    dog_leg: float


@dataclass(frozen=True, slots=True)
class PullSection:
    """The conduit between two neighboring pull points, by vertex; ``station`` m of its start.

    ``turn`` and ``turn_limit`` rad, infinite where the rules have none. ``sticks`` are bought,
    none cut twice; ``joints`` is where two pieces of conduit or elbow meet; None where the length
    of a stick is not known. ``supports`` is for exposed conduit; None where no table covers it.
    """

    first: int
    last: int
    station: float
    length: float
    turn: float
    turn_limit: float
    bends: tuple[int, ...]
    elbows: int
    sticks: int | None
    joints: int | None
    supports: int | None


@dataclass(frozen=True, slots=True)
class Shop:
    """``bends`` in the order of the schedule and ``sections`` in that of the route.

    ``sources`` cites the tables used; ``no_stick`` names the conduits of no known length of stick.
    """

    bends: tuple[ShopBend, ...]
    sections: tuple[PullSection, ...]
    sources: tuple[str, ...]
    no_stick: tuple[str, ...]


def stick_of(conduit: Conduit) -> float | None:
    """The length a conduit is delivered in, m; None where no table gives it."""
    return stick_length().value if conduit.stock_type in _IN_STICKS else None


class _Part(NamedTuple):
    """A straight or a bend; stations m of its ends."""

    start: float
    end: float
    conduit: Conduit
    bend: ScheduledBend | None
    elbow: Elbow | None


class _Laid(NamedTuple):
    """Sticks of one section with the marks of its field bends, by number: stick and marks.

    Where ``known`` is false conduit of no known length of stick is left out.
    """

    sticks: int
    marks: dict[int, tuple[int, Marks]]
    known: bool


def shop_sheet(route: Route, path: Path, practice: Practice, stick: float | None = None) -> Shop:
    """Elbows, marks, sticks, joints and supports of a run; ``stick`` m overrides the table.

    The limit of turn and the supports are those of the rules, left out where they have none.

    Each stretch between elbows starts with a whole stick, and offcuts are not used again. A joint
    keeps clear of a bend by one outside diameter (common practice, no source).
    """
    bends = route_schedule(route, path)
    marks: dict[int, tuple[int, Marks]] = {}
    elbows: dict[int, Elbow] = {}
    sections, used, rules = [], 0, practice.rule_set
    for first, last, parts in _sections(route, path, bends):
        elbows |= {p.bend.number: p.elbow for p in parts if p.bend and p.elbow}
        laid = _lay(parts, stick)
        sections.append(_section(first, last, parts, laid.sticks if laid.known else None, rules))
        marks |= {n: (used + at, m) for n, (at, m) in laid.marks.items()}
        used += laid.sticks
    figure = {n: f for f in figures(path, bends) for n in range(f.first, f.last + 1)}
    made = [
        ShopBend(
            number=b.number,
            elbow=elbows[b.number],
            stick=marks[b.number][0] if b.number in marks else None,
            marks=marks[b.number][1] if b.number in marks else None,
            figure=figure.get(b.number),
            dog_leg=_twist(b, elbows),
        )
        for b in bends
    ]
    unknown = [c.label for c in route.conduits if stick is None and stick_of(c) is None]
    no_stick = tuple(dict.fromkeys(unknown))
    return Shop(tuple(made), tuple(sections), _sources(route, stick, rules), no_stick)


def _twist(bend: ScheduledBend, elbows: Mapping[int, Elbow]) -> float:
    """The dog-leg of a bend made in the same stick as the one before, rad; else NaN."""
    both = {elbows[bend.number], elbows.get(bend.number - 1)} == {"field"}
    near = bend.straight_before < stick_length().value
    return dog_leg(bend) if both and near else math.nan


def _sections(
    route: Route, path: Path, bends: Sequence[ScheduledBend]
) -> Iterator[tuple[int, int, list[_Part]]]:
    """The parts between neighboring pull points, with the vertices of both."""
    points = (0, *route.pull_points, len(route.vertices) - 1)
    edges = np.searchsorted(path.leg, points[:-1]).tolist()
    stations, leg = path.stations.tolist(), path.leg.tolist()
    at = {b.segment: b for b in bends}
    for (first, last), (a, b) in zip(pairwise(points), pairwise((*edges, len(leg))), strict=True):
        parts = []
        for i in range(a, b):
            conduit, bend = route.conduits[leg[i]], at.get(i)
            elbow = elbow_kind(conduit, bend.radius, bend.angle) if bend else None
            parts.append(_Part(stations[i], stations[i + 1], conduit, bend, elbow))
        yield first, last, parts


def _section(
    first: int, last: int, parts: Sequence[_Part], sticks: int | None, rules: RuleSet
) -> PullSection:
    bends = [p.bend for p in parts if p.bend]
    ruling = rules.turn(parts[0].conduit.stock_type)
    elbows = sum(p.elbow not in (None, "field") for p in parts)
    return PullSection(
        first=first,
        last=last,
        station=parts[0].start,
        length=parts[-1].end - parts[0].start,
        turn=sum(b.angle for b in bends),
        turn_limit=math.inf if ruling is None else ruling.fact.value,
        bends=tuple(b.number for b in bends),
        elbows=elbows,
        sticks=sticks,
        joints=None if sticks is None else max(sticks + elbows - 1, 0),
        supports=_supports(parts, rules),
    )


def _lay(parts: Sequence[_Part], stick: float | None) -> _Laid:
    """The sticks of a section, stretch by stretch between elbows and changes of conduit."""
    count, known = 0, True
    found: dict[int, tuple[int, Marks]] = {}
    between_elbows = groupby(parts, lambda p: (p.elbow in (None, "field"), p.conduit))
    for (cut, conduit), group in between_elbows:
        if not cut:
            continue
        length = stick or stick_of(conduit)
        if length is None:
            known = False
            continue
        stretch = list(group)
        arcs = {p.bend.number: (p.start, p.end) for p in stretch if p.bend}
        ends = stretch[0].start, stretch[-1].end
        pieces = cut_pieces(*ends, list(arcs.values()), length, conduit.outer_diameter)
        for number, arc in arcs.items():
            marks = marks_of(pieces, *arc, length)
            found[number] = (count + marks.piece + 1, marks)
        count += len(pieces)
    return _Laid(count, found, known)


def _supports(parts: Sequence[_Part], rules: RuleSet) -> int | None:
    rows = []
    for conduit, group in groupby(parts, lambda p: p.conduit):
        stretch = list(group)
        facts = rules.conduit_supports(conduit.stock_type, conduit.trade_size)
        if facts is None:
            return None
        rows.append((stretch[-1].end - stretch[0].start, facts[0].value, facts[1].value))
    return support_count(rows)


def _sources(route: Route, stick: float | None, rules: RuleSet) -> tuple[str, ...]:
    """The tables the counts stand on, each said once."""
    said: dict[str, None] = {}
    for conduit in dict.fromkeys(route.conduits):
        if stick is None and stick_of(conduit) is not None:
            said[f"sticks by {stick_length().source}"] = None
        if facts := rules.conduit_supports(conduit.stock_type, conduit.trade_size):
            said[f"supports of {conduit.label} by {facts[0].source}"] = None
    return tuple(said)
