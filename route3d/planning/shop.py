"""What the shop makes of a run: elbows and field bends, marks on the sticks, joints, supports."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import groupby, pairwise
from typing import NamedTuple

import numpy as np

from route3d.checks.finding import Finding, at_least, at_most, worst_first
from route3d.geometry.bend_schedule import ScheduledBend, bend_labels, leg_rooms
from route3d.geometry.elbows import Elbow, elbow_kind
from route3d.geometry.fillet import route_schedule
from route3d.geometry.offsets_saddles import DOG_LEG, OffsetOrSaddle, dog_leg, figures
from route3d.geometry.path import Path
from route3d.geometry.sticks import CutPiece, Marks, cut_pieces, marks_of, support_count
from route3d.model.conduit import Conduit
from route3d.model.practice import Practice
from route3d.model.route import Route
from route3d.phrase import say
from route3d.planning.result import RunResult
from route3d.standards.conduits import stick_length
from route3d.standards.rules import RuleSet

# Types the table of stick lengths speaks of; others come in coils or lengths of their maker.
_IN_STICKS = ("EMT", "RMC", "IMC", "PVC-40", "PVC-80", "PVC-A", "PVC-EB")

_HALF_COUPLING = 0.0254


@dataclass(frozen=True, slots=True)
class ShopBend:
    """How one bend is made.

    ``stick`` is the number of the stick a field bend is made in, counted along the whole run, and
    ``marks`` its marks there; both None for a factory elbow, or where sticks are not known.
    ``figure`` is the offset or saddle it belongs to; ``dog_leg`` rad is that of
    ``figures.dog_leg`` between field bends less than a stick apart, else NaN. ``label`` is that of
    the bend, ``piece`` that of the piece it begins in; a piece may hold several bends.
    """

    number: int
    elbow: Elbow
    stick: int | None
    marks: Marks | None
    figure: OffsetOrSaddle | None
    dog_leg: float
    label: str
    piece: str


@dataclass(frozen=True, slots=True)
class ShopPiece:
    """One piece of conduit to carry to its place, by its ``label``; stations m of its ends.

    ``kind`` is "straight", "elbow" from the factory, or "bent" in the field. ``stick`` is the
    number of the stick it is cut from, None for elbows and where sticks are not known; ``cut`` is
    true where it is shorter than a stick. ``bends`` are the numbers of those in it.
    """

    label: str
    kind: str
    start: float
    end: float
    conduit: Conduit
    stick: int | None
    cut: bool
    bends: tuple[int, ...]

    @property
    def length(self) -> float:
        """Of its centerline, bends as they are developed, m."""
        return self.end - self.start


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

    ``pieces`` are in the order of the route. ``sources`` cites the tables used; ``no_stick`` names
    the conduits of no known length of stick.
    """

    bends: tuple[ShopBend, ...]
    pieces: tuple[ShopPiece, ...]
    sections: tuple[PullSection, ...]
    sources: tuple[str, ...]
    no_stick: tuple[str, ...]


def stick_of(conduit: Conduit) -> float | None:
    """The length a conduit is delivered in, m; None where no table gives it."""
    return stick_length().value if conduit.stock_type in _IN_STICKS else None


def least_straight(conduit: Conduit) -> float:
    """The straight that a bend made in the field needs to the end of its piece, m.

    One outside diameter for the bender to hold, and half a coupling, which is half an outside
    diameter and at least 1 in (own judgment; couplings of steel and PVC are about as long as the
    conduit is wide, and at least 2 in: from memory).
    """
    return conduit.outer_diameter + max(_HALF_COUPLING, conduit.outer_diameter / 2)


class _RouteElement(NamedTuple):
    """A straight or a bend; stations m of its ends."""

    start: float
    end: float
    conduit: Conduit
    bend: ScheduledBend | None
    elbow: Elbow | None


class _Laid(NamedTuple):
    """Sticks of one section with the marks of its field bends, by number: stick and marks.

    ``pieces`` have no labels yet, and their sticks count from 1. Where ``known`` is false conduit
    of no known length of stick is left out of sticks and marks; its pieces are its straights and
    its bends.
    """

    sticks: int
    marks: dict[int, tuple[int, Marks]]
    pieces: list[ShopPiece]
    known: bool


def shop_sheet(
    route: Route, path: Path, practice: Practice, stick: float | None = None, run: str = ""
) -> Shop:
    """Elbows, marks, pieces, joints and supports of a run; ``stick`` m overrides the table.

    Labels begin with the name of the ``run``. The limit of turn and the supports are those of the
    rules, left out where they have none.

    Each stretch between elbows starts with a whole stick, and offcuts are not used again. A joint
    keeps clear of a bend by `least_straight`, and an offset or saddle is bent in one stick where it
    has room in one (common practice, no source).
    """
    bends = route_schedule(route, path)
    figure = {n: f for f in figures(path, bends) for n in range(f.first, f.last + 1)}
    marks: dict[int, tuple[int, Marks]] = {}
    elbows: dict[int, Elbow] = {}
    pieces: list[ShopPiece] = []
    sections, used, rules = [], 0, practice.rule_set
    for first, last, parts in _sections(route, path, bends):
        elbows |= {p.bend.number: p.elbow for p in parts if p.bend and p.elbow}
        laid = _lay(parts, stick, figure)
        sections.append(_section(first, last, parts, laid.sticks if laid.known else None, rules))
        marks |= {n: (used + at, m) for n, (at, m) in laid.marks.items()}
        pieces += (replace(p, stick=p.stick and used + p.stick) for p in laid.pieces)
        used += laid.sticks
    names = bend_labels(len(bends), run)
    pieces = _labeled(pieces, names, run)
    holder = {n: p.label for p in reversed(pieces) for n in p.bends}
    made = [
        ShopBend(
            number=b.number,
            elbow=elbows[b.number],
            stick=marks[b.number][0] if b.number in marks else None,
            marks=marks[b.number][1] if b.number in marks else None,
            figure=figure.get(b.number),
            dog_leg=_twist(b, elbows),
            label=names[b.number - 1],
            piece=holder[b.number],
        )
        for b in bends
    ]
    unknown = [c.label for c in route.conduits if stick is None and stick_of(c) is None]
    no_stick = tuple(dict.fromkeys(unknown))
    return Shop(
        tuple(made), tuple(pieces), tuple(sections), _sources(route, stick, rules), no_stick
    )


def _labeled(pieces: Sequence[ShopPiece], bends: Sequence[str], run: str) -> list[ShopPiece]:
    """The pieces with their labels.

    A straight has its own number; a piece with bends has the label of the first that begins in it,
    to that of the last. Of a bend over several pieces the second is B03.2, the third B03.3.
    """
    straights = sum(not p.bends for p in pieces)
    head, digits = f"{run}-" if run else "", max(2, len(str(straights)))
    found: list[ShopPiece] = []
    parts: dict[int, int] = {}
    number = 0
    for piece in pieces:
        fresh = [n for n in piece.bends if n not in parts]
        for n in piece.bends:
            parts[n] = parts.get(n, 0) + 1
        if fresh:
            label = bends[fresh[0] - 1]
            if len(fresh) > 1:
                label += "-" + bends[fresh[-1] - 1].removeprefix(head)
        elif piece.bends:
            label = f"{bends[piece.bends[0] - 1]}.{parts[piece.bends[0]]}"
        else:
            number += 1
            label = f"{head}S{number:0{digits}}"
        found.append(replace(piece, label=label))
    return found


def _twist(bend: ScheduledBend, elbows: Mapping[int, Elbow]) -> float:
    """The dog-leg of a bend made in the same stick as the one before, rad; else NaN."""
    both = {elbows[bend.number], elbows.get(bend.number - 1)} == {"field"}
    near = bend.straight_before < stick_length().value
    return dog_leg(bend) if both and near else math.nan


def _sections(
    route: Route, path: Path, bends: Sequence[ScheduledBend]
) -> Iterator[tuple[int, int, list[_RouteElement]]]:
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
            parts.append(_RouteElement(stations[i], stations[i + 1], conduit, bend, elbow))
        yield first, last, parts


def _section(
    first: int, last: int, parts: Sequence[_RouteElement], sticks: int | None, rules: RuleSet
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


def _lay(
    parts: Sequence[_RouteElement], stick: float | None, figure: Mapping[int, OffsetOrSaddle]
) -> _Laid:
    """The sticks of a section, stretch by stretch between elbows and changes of conduit."""
    count, known = 0, True
    found: dict[int, tuple[int, Marks]] = {}
    pieces: list[ShopPiece] = []
    between_elbows = groupby(parts, lambda p: (p.elbow in (None, "field"), p.conduit))
    for (cut, conduit), group in between_elbows:
        stretch = list(group)
        length = stick or stick_of(conduit)
        if not cut or length is None:
            known = known and not cut
            pieces += _uncut(stretch, conduit)
            continue
        arcs = {p.bend.number: (p.start, p.end) for p in stretch if p.bend}
        ends = stretch[0].start, stretch[-1].end
        straight = least_straight(conduit)
        whole = _unparted(arcs, figure, length - 2 * straight)
        sticks = cut_pieces(*ends, whole, length, straight)
        for number, arc in arcs.items():
            marks = marks_of(sticks, *arc, length)
            found[number] = (count + marks.piece + 1, marks)
        pieces += _sticks(sticks, arcs, found, conduit, count, length)
        count += len(sticks)
    return _Laid(count, found, pieces, known)


def _unparted(
    arcs: Mapping[int, tuple[float, float]], figure: Mapping[int, OffsetOrSaddle], most: float
) -> list[tuple[float, float]]:
    """What no joint may come into: each bend, and each offset or saddle of at most ``most`` m."""
    found: list[tuple[float, float]] = []
    for number, (start, end) in arcs.items():
        whole = figure.get(number)
        if whole is not None and {whole.first, whole.last} <= arcs.keys():
            first, last = arcs[whole.first][0], arcs[whole.last][1]
            if last - first <= most:
                start, end = first, last
        if not found or found[-1] != (start, end):
            found.append((start, end))
    return found


def _uncut(stretch: Sequence[_RouteElement], conduit: Conduit) -> Iterator[ShopPiece]:
    """Elbows, and the straights and bends of conduit whose sticks are not known."""
    for bent, group in groupby(stretch, lambda p: p.bend and p.bend.number):
        parts = list(group)
        start, end = parts[0].start, parts[-1].end
        if not bent:
            if end > start:
                yield ShopPiece("", "straight", start, end, conduit, None, False, ())
            continue
        kind = "bent" if parts[0].elbow == "field" else "elbow"
        yield ShopPiece("", kind, start, end, conduit, None, False, (bent,))


def _sticks(
    sticks: Sequence[CutPiece],
    arcs: Mapping[int, tuple[float, float]],
    marks: Mapping[int, tuple[int, Marks]],
    conduit: Conduit,
    before: int,
    length: float,
) -> Iterator[ShopPiece]:
    """The sticks of a stretch, numbered on from ``before``, with the bends in each."""
    held: dict[int, list[int]] = {}
    for number in arcs:
        at, of_bend = marks[number]
        for k in range(at, at + of_bend.over + 1):
            held.setdefault(k, []).append(number)
    for k, one in enumerate(sticks, before + 1):
        bends = tuple(held.get(k, ()))
        shorter = one.length < length - 1e-6
        kind = "bent" if bends else "straight"
        yield ShopPiece("", kind, one.start, one.end, conduit, k, shorter, bends)


def _supports(parts: Sequence[_RouteElement], rules: RuleSet) -> int | None:
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


# --- is each bend made so that it fits: dog-legs, and straights for the bender and the couplings

_PRACTICE = "common practice, no source"
HELD = "straight for the bender"
"""The rule of a field bend too near to the end of its piece."""
_JUDGMENT = "own judgment, no source"


def all_findings(run: RunResult) -> tuple[Finding, ...]:
    """The findings of a run with what the shop asks of its bends, worst first."""
    route, rooms = run.run.route, leg_rooms(run.path)
    shop = shop_sheet(route, run.path, run.practice, run=run.run.name)
    asked = [
        finding
        for bend, made in zip(route_schedule(route, run.path), shop.bends, strict=True)
        for finding in shop_findings(
            route, bend, made, float(min(rooms[bend.vertex - 1], rooms[bend.vertex]))
        )
    ]
    return worst_first((*run.findings, *asked))


def shop_findings(
    route: Route, bend: ScheduledBend, made: ShopBend, room: float
) -> tuple[Finding, ...]:
    """What the shop asks of one bend; broken it is a caution, for it can be dressed on site.

    ``room`` m is the straight on the shorter of its two legs.
    """
    where = route.bend_label(bend.number, bend.vertex)
    return (
        *_dog_leg(where, bend, made),
        *_coupling(route, where, bend, made, room),
        *_bender(route, where, bend, made),
    )


def _dog_leg(where: str, bend: ScheduledBend, made: ShopBend) -> list[Finding]:
    if math.isnan(made.dog_leg):
        return []
    fix = say("rotate the stick {} between the two bends", (abs(bend.roll), "angle"))
    return [
        at_most(
            "dog-leg",
            where,
            made.dog_leg,
            DOG_LEG,
            "angle",
            fix,
            _PRACTICE,
            station=bend.station,
            broken="caution",
            close=False,
        )
    ]


def _coupling(
    route: Route, where: str, bend: ScheduledBend, made: ShopBend, room: float
) -> list[Finding]:
    """A factory elbow needs a straight at both ends to be coupled: one diameter at least."""
    if made.elbow == "field":
        return []
    least = route.conduits[bend.leg].outer_diameter
    fix = say("leave at least {} straight at both ends", (least, "radius+"))
    return [
        at_least(
            "straight for the coupling",
            where,
            room,
            least,
            "radius",
            fix,
            _PRACTICE,
            station=bend.station,
            broken="caution",
        )
    ]


def _bender(route: Route, where: str, bend: ScheduledBend, made: ShopBend) -> list[Finding]:
    """A field bend is held by a straight at both ends of its stick, and lies in one stick."""
    if made.marks is None:
        return []
    least = least_straight(route.conduits[bend.leg])
    held = min(made.marks.start, made.marks.rest)
    if made.marks.over:
        fix = say("use longer sticks (--stick), or factory elbows")
        found = Finding(
            "field bend across a coupling",
            "caution",
            where,
            bend.arc_length,
            math.nan,
            "radius",
            fix,
            _PRACTICE,
            bend.station,
        )
        return [found]
    fix = say(
        "a bend cannot be made so near the end of its piece: leave at least {} straight in the "
        "same conduit (one outside diameter and half a coupling), or bend a longer piece and cut "
        "it off, its marks moved on by as much",
        (least, "radius+"),
    )
    return [
        at_least(
            HELD,
            where,
            held if held > 1e-6 else 0.0,
            least * (1 - 1e-6),  # where joints are set just so far off
            "radius",
            fix,
            _JUDGMENT,
            station=bend.station,
            broken="caution",
        )
    ]
