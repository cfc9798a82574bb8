"""Runs along connected ports: through fittings without a line, through boxes and valves.

Every pair of connected elements is two ends that belong together, wherever they are drawn. A
fitting without a centerline becomes the elbow between the ends at its two ports; a box or a valve
becomes a pull point where the lines through its ports meet, or at its port where it has one; at an
element with three and more connections every run ends, at one named point.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace

import numpy as np

from route3d.formats.drawn_routes import LostFitting, WrittenVertex
from route3d.formats.exchange import Element
from route3d.formats.ifc.elements import Part
from route3d.formats.ifc.ports import SAME_PLACE, Connection
from route3d.geometry.fillet import STRAIGHT_TURN
from route3d.geometry.join import MEETING, DrawnPiece, straight_piece
from route3d.geometry.loose_ends import EVEN, elbow_between
from route3d.geometry.vectors import Floats, angle_between, frozen, norm

# Ends of connected elements this far apart (m) are joined; beyond, the run is broken.
MOST_GAP = 1.0
# Pull points take a feed or the machine at either side.
PULL_POINT_SAID = "taken as a pull point with reel and machine access"
_PULL_POINT = frozenset({"reel", "machine"})

_End = tuple[Floats, Floats | None]
"""A place (3,) m and the unit vector that leads on from the run there, None where not known."""


@dataclass(slots=True)
class Network:
    """What the elements of one system are joined into: ``pieces`` with the handles they are of."""

    pieces: list[DrawnPiece] = field(default_factory=list)
    handles: list[str] = field(default_factory=list)
    marks: list[WrittenVertex] = field(default_factory=list)
    lost: list[LostFitting] = field(default_factory=list)
    elements: list[Element] = field(default_factory=list)
    followed: int = 0
    boxes: list[str] = field(default_factory=list)
    bridged: int = 0
    guesses: Counter[str] = field(default_factory=Counter)

    def put(self, piece: DrawnPiece, part: Part) -> None:
        """Add a piece of an element."""
        self.pieces.append(piece)
        self.handles.append(part.handle)

    def tell(self, part: Part, state: str, said: str, at: Floats | None = None) -> None:
        """Add a line to the table of elements."""
        spot = part.at if at is None else (float(at[0]), float(at[1]), float(at[2]))
        self.elements.append(Element(part.handle, part.kind, state, said, part.name, at=spot))


@dataclass(frozen=True, slots=True, eq=False)
class _Joint:
    """A neighbor, and where the port of one's own and that of the neighbor are."""

    other: int
    mine: Floats | None
    theirs: Floats | None


def network(
    parts: Sequence[Part],
    around: Iterable[Part],
    connections: Sequence[Connection],
    ports: Mapping[int, Sequence[Floats]],
    tolerance: float,
) -> Network:
    """The elements of a system as pieces to join; ``around`` are boxes and machines of any.

    ``ports`` are the places (3,) m of the ports of each element, ``tolerance`` m is how near ends
    are that meet by themselves.
    """
    known = {part.number: _by_its_ports(part, ports.get(part.number, ())) for part in parts}
    beside = {part.number: part for part in around if part.number not in known}
    joints: dict[int, list[_Joint]] = {}
    wanted = [*_inside(parts, beside.values(), connections, tolerance), *connections]
    for one in wanted:
        a, b = one.elements
        if (a in known or b in known) and all(n in known or n in beside for n in (a, b)):
            _add(joints, a, _Joint(b, *one.places))
            _add(joints, b, _Joint(a, *one.places[::-1]))
    known |= {n: part for n, part in beside.items() if n in joints}
    made = Network(followed=sum(map(len, joints.values())) // 2)
    nodes = {n for n, part in known.items() if _is_node(part, joints.get(n, []))}
    bare = [p for n, p in known.items() if n not in nodes and not p.lines]
    own = {n: [line.piece for line in p.lines] for n, p in known.items() if n not in nodes}
    ends = {n: part.ends() for n, part in known.items() if n not in nodes}
    for number in sorted(nodes):
        _through_node(known[number], joints.get(number, []), own, ends, made)
    _close_gaps(known, own, joints, ends, tolerance, made)
    for number, part in known.items():
        for piece in own.get(number, ()):
            made.put(piece, part)
        guesses = tuple(dict.fromkeys(g for line in part.lines for g in line.guesses))
        if guesses and number in own:
            made.guesses.update(guesses)
            made.tell(part, "guessed", "; ".join(guesses))
    for part in bare:
        _bridged(part, joints.get(part.number, []), ports.get(part.number, ()), ends, made)
    return made


def _add(joints: dict[int, list[_Joint]], number: int, joint: _Joint) -> None:
    held = joints.setdefault(number, [])
    if not any(one.other == joint.other for one in held) or joint.mine is not None:
        same = [
            one
            for one in held
            if one.other == joint.other
            and (one.mine is None or joint.mine is None or norm(one.mine - joint.mine) < 1e-3)
        ]
        if not same:
            held.append(joint)


def _by_its_ports(part: Part, ports: Sequence[Floats]) -> Part:
    """An element whose guessed centerline does not lead to its two ports, without that line."""
    if len(ports) != 2 or not any(line.guesses for line in part.lines) or part.is_box:
        return part
    ends = [end for end, _ in part.ends()]
    size = float(norm(ports[0] - ports[1]))
    missed = [
        p for p in ports if min((float(norm(p - e)) for e in ends), default=1e9) > _OFF * size
    ]
    if not missed:
        return part
    return replace(part, lines=(), reason="its body does not say where its axis is, its ports do")


# Share of their distance by which ports may lie beside the ends of a centerline.
_OFF = 0.1


def _is_node(part: Part, joints: Sequence[_Joint]) -> bool:
    return part.is_box or len(joints) > 2 or (part.is_branch and len(joints) == 2)


# --- boxes and tees without ports --------------------------------------------------------------


def _inside(
    parts: Sequence[Part],
    around: Iterable[Part],
    connections: Sequence[Connection],
    tolerance: float,
) -> list[Connection]:
    """Connections of boxes and tees that have no ports: with what ends on or in them."""
    connected = {n for one in connections for n in one.elements}
    ends = [(p.number, end) for p in parts if not p.is_box for end, _ in p.ends()]
    if not ends:
        return []
    spots = np.array([end for _, end in ends])
    found: list[Connection] = []
    for part in (*(p for p in parts if p.is_box or p.is_branch or not p.lines), *around):
        if part.number in connected or not len(part.points) or part.place is None:
            continue
        turn = part.place[:3, :3] / norm(part.place[:3, :3].T)
        own = part.points @ turn
        low, high = own.min(axis=0), own.max(axis=0)
        slack = max(tolerance, 2e-3)
        mine = spots @ turn
        touch = ((mine >= low - slack) & (mine <= high + slack)).all(axis=1)
        owners = [i for i in np.flatnonzero(touch) if ends[i][0] != part.number]
        needed = 1 if part.is_box else 3
        if len(owners) >= needed:
            found += [Connection((part.number, ends[i][0]), (spots[i], spots[i])) for i in owners]
    return found


# --- boxes, valves and branches ----------------------------------------------------------------


def _through_node(
    part: Part,
    joints: Sequence[_Joint],
    own: dict[int, list[DrawnPiece]],
    ends: dict[int, list[tuple[Floats, Floats]]],
    made: Network,
) -> None:
    middle = part.points.mean(axis=0) if len(part.points) else None
    found = [(joint.other, _end_at(joint, ends, middle)) for joint in joints]
    met = [end for _, end in found if end is not None]
    if not met:
        if part.is_carrier:
            made.tell(part, "missing", "a box or branch that no run is connected to")
        return
    label = part.name or part.kind
    guesses: list[str] = []
    if len(met) == 1:
        place, along = met[0]
        center = _ended_at_port(part, joints, own, place, guesses)
    else:
        center = _center(part, met)
        place, along = met[0]
        misses = []
        for other, end in found:
            if end is None:
                continue
            miss = _led_on(own.get(other, []), end[0], center)
            if miss is None:
                made.put(_undirected(straight_piece(end[0], center)), part)
            else:
                misses.append(miss)
        if max(misses, default=0.0) > _TOLD:
            passed = f"{max(misses) * 1000:.4g} mm"
            guesses.append(f"what enters it passes its middle by {passed}: led to it")
    if along is None or len(met) == 2:
        chord = (met[-1][0] if len(met) == 2 else center) - met[0][0]
        along = along if along is not None else chord
    box = part.box(along) if part.is_box and float(norm(along)) > 0 else None
    pull = part.is_box
    if pull:
        said = PULL_POINT_SAID
        said += "; its size is not known" if box is None else ""
        guesses.insert(0, said + _turned(met))
    if guesses:
        made.tell(part, "guessed", "; ".join(guesses), center)
    access = _PULL_POINT if pull else frozenset[str]()
    made.marks.append(WrittenVertex(center, "", label, access, "", box, part.handle, part.kind))
    if pull:
        size = " x ".join(f"{side:.4g}" for side in box) + " m" if box else "size not known"
        made.boxes.append(f"{label} ({part.kind}), {size}")


def _turned(met: Sequence[_End]) -> str:
    """In words, that a run turns at a pull point; "" where it goes straight on."""
    ways = [along for _, along in met if along is not None]
    if len(met) != 2 or len(ways) != 2:
        return ""
    turn = float(np.pi - angle_between(ways[0], ways[1]))
    return f"; the run turns {np.degrees(turn):.3g}° there" if turn > STRAIGHT_TURN else ""


def _ended_at_port(
    part: Part,
    joints: Sequence[_Joint],
    own: dict[int, list[DrawnPiece]],
    place: Floats,
    guesses: list[str],
) -> Floats:
    """Where a run ends that one end of, at ``place``, is connected to a box: at its port.

    A straight that leads on to the port, or goes past it, is made to end there. What ends beside
    the line of the port stays as drawn.
    """
    joint = next((j for j in joints if j.mine is not None), None)
    if not part.is_box or joint is None or joint.mine is None:
        return place
    off = float(norm(joint.mine - place))
    if off <= MEETING or not _ended_in_line(own.get(joint.other, []), place, joint.mine):
        return place
    if off > _TOLD:
        guesses.append(f"the run ends at its port, drawn {off * 1000:.4g} mm off")
    return joint.mine


def _ended_in_line(pieces: list[DrawnPiece], start: Floats, port: Floats) -> bool:
    """End the straight that ends at ``start`` at a port that lies on its line; false if none."""
    for piece in pieces:
        for end, before in ((0, 1), (-1, -2)):
            if float(norm(piece.points[end] - start)) > MEETING:
                continue
            leg = piece.points[end] - piece.points[before]
            if float(norm(np.cross(leg, port - start))) > _TOLD * float(norm(leg)):
                return False
            return float((port - piece.points[before]) @ leg) > 0 and _ended_at(
                pieces, start, start, port
            )
    return False


# A straight that passes the middle of a box by more than this (m) is told, up to this turn led on.
_TOLD, _MOST_LED = 1e-3, np.radians(45)


def _led_on(pieces: list[DrawnPiece], start: Floats, center: Floats) -> float | None:
    """Lead the straight that ends at ``start`` on to the center; by how much (m) it passes that.

    None where it points elsewhere: what turns within a box has no bend of its own.
    """
    if float(norm(start - center)) <= 1e-9:
        return 0.0
    for i, piece in enumerate(pieces):
        for end, before in ((0, 1), (-1, -2)):
            leg, onward = piece.points[end] - piece.points[before], center - piece.points[end]
            if float(norm(piece.points[end] - start)) > 1e-9 or piece.radii[before] > 0:
                continue
            miss = float(norm(np.cross(leg, onward))) / float(norm(leg))
            if np.arctan2(miss * float(norm(leg)), float(leg @ onward)) <= _MOST_LED:
                points = piece.points.copy()
                points[end] = center
                pieces[i] = DrawnPiece(frozen(points), piece.radii, piece.directed)
                return miss
    return None


def _center(part: Part, met: Sequence[_End]) -> Floats:
    """Where the lines through the ends meet, else the middle of the ends."""
    middle = np.mean([place for place, _ in met], axis=0)
    lines = [(place, along) for place, along in met if along is not None]
    if len(lines) < 2:
        return np.asarray(middle)
    across = [np.eye(3) - np.outer(along, along) for _, along in lines]
    total = np.sum(across, axis=0)
    right = np.sum([c @ place for c, (place, _) in zip(across, lines, strict=True)], axis=0)
    values, axes = np.linalg.eigh(total)
    free = values < 1e-3  # along lines that all lead the same way the middle stays
    moved = axes.T @ right
    own = axes.T @ middle
    spot = np.where(free, own, moved / np.where(free, 1.0, values))
    center = axes @ spot
    reach = max(float(norm(place - middle)) for place, _ in met)
    away = float(norm(center - middle))
    return np.asarray(center if away <= 2 * reach + 1e-9 else middle)


def _end_at(
    joint: _Joint, ends: dict[int, list[tuple[Floats, Floats]]], middle: Floats | None = None
) -> _End | None:
    """The end of a neighbor at a port, else the port itself.

    Where no port has a place it is the end that is nearest to the ``middle``.
    """
    place = joint.mine if joint.mine is not None else joint.theirs
    there = ends.get(joint.other, [])
    if place is None and there and middle is not None:
        return min(there, key=lambda end: float(norm(end[0] - middle)))
    if there and place is not None:
        nearest = min(there, key=lambda end: float(norm(end[0] - place)))
        if float(norm(nearest[0] - place)) <= MOST_GAP:
            return nearest
    return None if place is None else (place, None)


def _undirected(piece: DrawnPiece) -> DrawnPiece:
    return DrawnPiece(piece.points, piece.radii, False)


# --- fittings without a line -------------------------------------------------------------------


def _bridged(
    part: Part,
    joints: Sequence[_Joint],
    ports: Sequence[Floats],
    ends: dict[int, list[tuple[Floats, Floats]]],
    made: Network,
) -> None:
    met = [end for joint in joints if (end := _end_at(joint, ends)) is not None]
    reached = [joint.mine for joint in joints if joint.mine is not None]
    free = [p for p in ports if all(float(norm(p - place)) > SAME_PLACE for place in reached)]
    if len(met) < 2 <= len(met) + len(free):
        met += [(place, None) for place in free[: 2 - len(met)]]
    if len(met) == 2 and float(norm(met[0][0] - met[1][0])) > 0:
        first, last = ((place, _lead(place, along, part)) for place, along in met)
        piece, said, state = _between(first, last)
        made.put(_undirected(piece), part)
        made.bridged += 1
        made.tell(part, state, f"{part.reason}; {said}", piece.points[len(piece.points) // 2])
        return
    made.lost.append(LostFitting(part.handle, part.kind, part.reason, part.points, part.name))


def _between(first: _End, last: _End) -> tuple[DrawnPiece, str, str]:
    """The elbow or straight between two ends, in words, and the state of the element."""
    (start, ahead), (end, back) = first, last
    size = float(norm(end - start))
    straight = straight_piece(start, end)
    if ahead is None or back is None:
        return straight, f"drawn straight from port to port, {size:.4g} m", "guessed"
    elbow = elbow_between(start, ahead, end, back, max(1e-3, EVEN * size))
    if elbow is not None:
        low, high = sorted(elbow.setbacks)
        said = f"elbow of radius {elbow.radius:.4g} m from port to port, from its two axes"
        if high - low > max(1e-3, EVEN * high):
            said += f"; set-backs of {low:.4g} and {high:.4g} m, the smaller bends"
        return elbow.piece, said, "guessed"
    turn = np.degrees(np.arctan2(float(norm(np.cross(ahead, -back))), float(-(ahead @ back))))
    chord = (end - start) / size
    if turn < 1 and float(ahead @ chord) > np.cos(np.radians(1)):
        return straight, f"drawn straight from port to port, {size:.4g} m", "guessed"
    said = f"its axes do not meet (they turn {turn:.3g}°): drawn straight, with sharp corners"
    return straight, said, "sharp"


def _lead(place: Floats, along: Floats | None, part: Part) -> Floats | None:
    """The direction in which the run enters a fitting: of its neighbor, else of its own rim."""
    if along is not None or len(part.points) < 6:
        return along
    away = norm(part.points - place)
    least = float(away.min())
    rim = part.points[away <= 1.02 * least]
    if least == 0 or len(rim) < 3 or float(norm(rim.mean(axis=0) - place)) > 0.05 * least:
        return None
    _, sizes, axes = np.linalg.svd(rim - place)
    if sizes[2] > 0.02 * sizes[0]:
        return None
    normal = axes[2]
    inward = part.points.mean(axis=0) - place
    return np.asarray(normal if float(normal @ inward) > 0 else -normal)


# --- gaps between connected elements -----------------------------------------------------------


def _close_gaps(
    known: dict[int, Part],
    own: dict[int, list[DrawnPiece]],
    joints: dict[int, list[_Joint]],
    ends: dict[int, list[tuple[Floats, Floats]]],
    tolerance: float,
    made: Network,
) -> None:
    done: set[tuple[int, int]] = set()
    for number, held in joints.items():
        for joint in held:
            pair = (min(number, joint.other), max(number, joint.other))
            mine, theirs = ends.get(number, []), ends.get(joint.other, [])
            if pair in done or not mine or not theirs:
                continue
            done.add(pair)
            one, two = _nearest(mine, theirs, joint)
            gap = float(norm(one[0] - two[0]))
            if gap <= tolerance:
                continue
            part = known[number]
            size = f"{gap * 1000:.4g} mm" if gap < 1 else f"{gap:.4g} m"
            other = known[joint.other].name or known[joint.other].handle
            if gap > MOST_GAP:
                said = f"connected to {other}, but {size} away from it"
                made.tell(part, "broken", said, one[0])
                continue
            if _overlapping(one, two):
                middle = (one[0] + two[0]) / 2
                cut = [_ended_at(own[pair[0]], one[0], two[0], middle)]
                cut.append(_ended_at(own[pair[1]], one[0], two[0], middle))
                if all(cut):
                    said = f"overlaps {other} by {size}: both end in the middle of it"
                    made.tell(part, "guessed", said, one[0])
                    continue
            piece, said, state = _between(one, two)
            made.put(_undirected(piece), part)
            said = f"gap of {size} to {other} closed along its ports: {said}"
            made.tell(part, state, said, one[0])


def _overlapping(one: tuple[Floats, Floats], two: tuple[Floats, Floats]) -> bool:
    """Whether two ends face each other in line, and each lies behind the other."""
    onward = two[0] - one[0]
    line = float(np.cos(np.radians(1)))
    facing = float(one[1] @ two[1]) < -line
    return facing and float(onward @ one[1]) < -line * float(norm(onward))


def _ended_at(pieces: list[DrawnPiece], one: Floats, two: Floats, middle: Floats) -> bool:
    """End the straight that ends at one of two places in their middle, where it is long enough."""
    for i, piece in enumerate(pieces):
        for end, before in ((0, 1), (-1, -2)):
            at = piece.points[end]
            near = min(float(norm(at - one)), float(norm(at - two)))
            room = float(norm(at - piece.points[before])) > float(norm(at - middle))
            if near <= 1e-9 and room and not piece.radii[before] > 0:
                points = piece.points.copy()
                points[end] = middle
                pieces[i] = DrawnPiece(frozen(points), piece.radii, piece.directed)
                return True
    return False


def _nearest(
    mine: Sequence[tuple[Floats, Floats]], theirs: Sequence[tuple[Floats, Floats]], joint: _Joint
) -> tuple[tuple[Floats, Floats], tuple[Floats, Floats]]:
    first = joint.mine if joint.mine is not None else joint.theirs
    second = joint.theirs if joint.theirs is not None else joint.mine
    if first is not None and second is not None:
        one = min(mine, key=lambda end: float(norm(end[0] - first)))
        two = min(theirs, key=lambda end: float(norm(end[0] - second)))
        return one, two
    pairs = [(a, b) for a in mine for b in theirs]
    return min(pairs, key=lambda pair: float(norm(pair[0][0] - pair[1][0])))
