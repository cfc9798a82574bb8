"""Parallel ducts about one centerline: each duct's own path, by exact offset.

The offset of a duct is carried along in the rotation-minimizing frame: it stays as it is on a
straight, and turns with the tangent in a bend, about the axis of that bend. So a straight offset
by ``d`` is a straight, and an arc of radius R with unit normal n to its center and binormal b is
an arc of radius R - d·n about the same axis, shifted by d·b along it. Nothing twists, whatever
way the bends lie. Where the centerline turns without length (at a pull point) the straights of a
duct are cut or lengthened to meet in the plane that halves the turn, by d·n tan(φ/2) each.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from route3d.errors import GeometryError
from route3d.geometry.fillet import SHORTEST
from route3d.geometry.path import ARC, CORNER, STRAIGHT, Path
from route3d.geometry.rmf_frames import end_frames, frames, kinked
from route3d.geometry.vectors import Floats
from route3d.model.job import Bank
from route3d.model.route import Route
from route3d.phrase import Phrase, literal, say
from route3d.units import render, show_marked


def duct_places(bank: Bank) -> tuple[tuple[int, int], ...]:
    """Row and column of every duct, from 1: rows from the top, columns from the left.

    Left and right are those of someone who looks along the route in its own order.

    Parameters
    ----------
    bank : Bank
        Rows, columns, spacing and cover, m.

    Returns
    -------
    tuple of (int, int)
        One pair for each duct.
    """
    return tuple((r + 1, c + 1) for r in range(bank.rows) for c in range(bank.columns))


def duct_offsets(bank: Bank) -> Floats:
    """Where the ducts lie about the centerline, (rows x columns, 2) m: to the right, and up.

    Parameters
    ----------
    bank : Bank
        Rows, columns, spacing and cover, m.

    Returns
    -------
    ndarray, shape (rows x columns, 2)
        m
    """
    offsets: Floats = _steps(bank) * np.array(bank.spacing)
    return offsets


def _steps(bank: Bank) -> Floats:
    """Offsets in spacings, about the middle of the bank."""
    places = np.array(duct_places(bank), dtype=np.float64)
    right = places[:, 1] - (bank.columns + 1) / 2
    up = (bank.rows + 1) / 2 - places[:, 0]
    return np.column_stack((right, up))


# --- room ----------------------------------------------------------------------------------------


@dataclass(frozen=True, eq=False, slots=True)
class OffsetRoom:
    """What must stay above nothing for an offset (right, up) to have a path.

    An offset o leaves ``size - o @ slope`` m: the radius of an arc, or the length of a straight
    that is cut at a turn without length. ``size`` (k,) m, ``slope`` (k, 2); ``segment`` (k,) are
    numbers in the path, ``arc`` (k,) tells the two kinds apart.
    """

    size: Floats
    slope: Floats
    segment: NDArray[np.int64]
    arc: NDArray[np.bool_]

    def left(self, offsets: Floats) -> Floats:
        """What is left for offsets (m, 2): (m, k) m."""
        return self.size - offsets @ self.slope.T


def room(path: Path, starts: Floats) -> OffsetRoom:
    """The room for offsets in every bend, and in the straights beside turns without length.

    Parameters
    ----------
    path : Path
        The centerline, n segments.
    starts : ndarray, shape (n, 2, 3)
        Right and up at the start of each segment, from `frames`.

    Returns
    -------
    Room
        What offsets may take, m.

    References
    ----------
    docs/theory.md section 14.
    """
    wide = _widened(path, starts)
    toward = np.einsum("nfi,ni->nf", starts, path.normals)
    arcs = np.flatnonzero(path.kind == ARC)
    straight = wide.path.kind == STRAIGHT
    cut = np.flatnonzero(straight & np.any((wide.cut_before, wide.cut_after), axis=(0, 2)))
    owner = wide.owner[cut]
    return OffsetRoom(
        np.concatenate((path.radii[arcs], wide.path.lengths[cut])),
        np.concatenate((toward[arcs], (wide.cut_before + wide.cut_after)[cut])),
        np.concatenate((arcs, owner)),
        np.arange(len(arcs) + len(cut)) < len(arcs),
    )


@dataclass(frozen=True, eq=False, slots=True)
class _Widened:
    """A path with a straight, if of no length, on both sides of every turn without length.

    ``cut_before`` (n, 2) per offset is what the start of a straight moves on by, ``cut_after`` what
    its end draws back by, m per m; a corner draws back by ``cut_after`` too. ``owner`` (n,) is the
    segment of the path given.
    """

    path: Path
    starts: Floats
    cut_before: Floats
    cut_after: Floats
    owner: NDArray[np.int64]


def _widened(path: Path, starts: Floats) -> _Widened:
    rows, fresh = _with_straights(path)
    n, after = len(rows), fresh == 2
    ends = path.ends
    kind = np.where(fresh > 0, STRAIGHT, path.kind[rows])
    straight = (kind == STRAIGHT)[:, None]
    wide = Path(
        kind=kind,
        lengths=np.where(fresh > 0, 0.0, path.lengths[rows]),
        angles=np.where(fresh > 0, 0.0, path.angles[rows]),
        starts=np.where(after[:, None], ends[rows], path.starts[rows]),
        tangents=np.where(after[:, None], path.end_tangents[rows], path.tangents[rows]),
        normals=np.where(straight, 0.0, path.normals[rows]),
        vertex=np.where(fresh > 0, -1, path.vertex[rows]),
        leg=_legs(path, rows, fresh),
    )
    frame = np.where(after[:, None, None], end_frames(path, starts)[rows], starts[rows])
    before, behind = np.zeros((n, 2)), np.zeros((n, 2))
    for k, cut in _cuts(wide, frame):
        if wide.kind[k] == CORNER:
            behind[k - 1] += cut
            behind[k] = cut
            before[k + 1] += cut
        else:
            behind[k] += cut
            before[k + 1] += cut
    return _Widened(wide, frame, before, behind, rows)


def _with_straights(path: Path) -> tuple[NDArray[np.int64], NDArray[np.int8]]:
    """Segment numbers with those to add: 0 as it is, 1 a straight at its start, 2 at its end."""
    bent, corner = path.kind != STRAIGHT, path.kind == CORNER
    kinks = np.concatenate(([False], kinked(path), [False]))
    lead, tail = np.append(True, bent[:-1]), np.append(bent[1:], True)
    at_start = (corner & lead) | (kinks[:-1] & bent)
    at_end = (corner & tail) | (kinks[1:] & bent)
    there = np.column_stack((at_start, np.ones(len(path), dtype=bool), at_end))
    rows, column = np.nonzero(there)
    return rows, np.array((1, 0, 2), dtype=np.int8)[column]


def _legs(path: Path, rows: NDArray[np.int64], fresh: NDArray[np.int8]) -> NDArray[np.int64]:
    """A straight before a bend belongs to the leg that ends there."""
    return np.where(fresh == 1, path.leg[np.maximum(rows - 1, 0)], path.leg[rows])


def _cuts(wide: Path, frame: Floats) -> list[tuple[int, Floats]]:
    """Turns without length: segment (a corner, or the straight before a kink) and n tan(φ/2)."""
    cuts = [
        (int(k), frame[k] @ wide.normals[k] * math.tan(wide.angles[k] / 2))
        for k in np.flatnonzero(wide.kind == CORNER)
    ]
    for k in np.flatnonzero(kinked(wide)):
        a, c = wide.tangents[k], wide.tangents[k + 1]
        # c - a is along n at half the turn: n tan(φ/2) is its part across a over 1 + cos φ.
        cuts.append((int(k), frame[k] @ (c - a) / (1.0 + a @ c)))
    return cuts


# --- the paths -----------------------------------------------------------------------------------


def bank_paths(
    path: Path,
    bank: Bank,
    *,
    start: Floats | None = None,
    outer_diameter: float = 0.0,
    route: Route | None = None,
) -> tuple[Path, ...]:
    """The centerline of every duct of a bank, row by row from the top, as ``duct_places`` says.

    ``start`` (2, 3) is right and up at the start of ``path``, else ``level_frame``. Vertices and
    legs are those of the route, so a run may be solved along each. ``outer_diameter`` (m): a duct
    cannot bend tighter than half of it; ``route`` is for names in messages.

    Parameters
    ----------
    path : Path
        The centerline, n segments.
    bank : Bank
        Rows, columns, spacing and cover, m.
    start : ndarray, shape (2, 3), optional
        Right and up at the start of the path. Default: `level_frame`.
    outer_diameter : float
        A duct cannot bend tighter than half of it, m.
    route : Route, optional
        For the names in messages.

    Returns
    -------
    tuple of Path
        One for each duct.

    Raises
    ------
    BankError
        Where nothing is left of a radius, or of a straight at a pull point that turns; with
        the largest column spacing that fits.

    References
    ----------
    docs/theory.md section 14.
    """
    starts = frames(path, start)
    space = room(path, starts)
    if short := shortages(space, bank, outer_diameter):
        raise BankError(no_room(short[0], space, path, bank, outer_diameter, route))
    return offset_paths(path, duct_offsets(bank), starts)


def offset_paths(path: Path, offsets: Floats, starts: Floats) -> tuple[Path, ...]:
    """The path at each of ``offsets`` (m, 2) to the right and up; ``starts`` from ``frames``.

    There must be ``room`` for them.

    Parameters
    ----------
    path : Path
        The centerline, n segments.
    offsets : ndarray, shape (m, 2)
        To the right and up, m.
    starts : ndarray, shape (n, 2, 3)
        Right and up at the start of each segment, from `frames`.

    Returns
    -------
    tuple of Path
        One for each offset.

    References
    ----------
    docs/theory.md section 14.
    """
    wide = _widened(path, starts)
    base, at = wide.path, np.asarray(offsets, dtype=np.float64)
    moved = np.einsum("mf,nfi->mni", at, wide.starts)
    on, back = at @ wide.cut_before.T, at @ wide.cut_after.T
    corner, arc = base.kind == CORNER, base.kind == ARC
    points = base.starts + moved + np.where(corner, -back, on)[..., None] * base.tangents
    radii = base.radii - np.einsum("mni,ni->mn", moved, base.normals)
    lengths = np.where(arc, np.where(arc, radii, 0.0) * base.angles, base.lengths - on - back)
    lengths = np.where(corner, 0.0, lengths)
    keep = (lengths > SHORTEST) | (base.kind != STRAIGHT)
    return tuple(_taken(base, points[m], lengths[m], keep[m]) for m in range(len(at)))


def _taken(base: Path, points: Floats, lengths: Floats, keep: NDArray[np.bool_]) -> Path:
    return Path(
        kind=base.kind[keep],
        lengths=lengths[keep],
        angles=base.angles[keep],
        starts=points[keep],
        tangents=base.tangents[keep],
        normals=base.normals[keep],
        vertex=base.vertex[keep],
        leg=base.leg[keep],
    )


@dataclass(frozen=True, slots=True)
class Shortage:
    """What leaves a duct no path: ``left`` m of a radius or a straight where it takes ``need`` m.

    ``duct`` counts as ``duct_places`` does; ``segment`` is the arc, or the straight that is cut.
    """

    duct: int
    segment: int
    arc: bool
    left: float
    need: float


def shortages(space: OffsetRoom, bank: Bank, outer_diameter: float) -> tuple[Shortage, ...]:
    """Every place where a duct of a bank has no path, that which lacks most first.

    Parameters
    ----------
    space : Room
        From `room`.
    bank : Bank
        Rows, columns, spacing and cover, m.
    outer_diameter : float
        Of the ducts, m.

    Returns
    -------
    tuple of Shortage
        Empty where every duct has a path.
    """
    need = _needs(space, outer_diameter)
    left = space.left(duct_offsets(bank))
    found = [
        Shortage(int(d), int(space.segment[k]), bool(space.arc[k]), float(left[d, k]), need[k])
        for d, k in np.argwhere(left < need)
    ]
    return tuple(sorted(found, key=lambda s: s.left - s.need))


def _needs(space: OffsetRoom, outer_diameter: float) -> Floats:
    """A duct cannot bend tighter than half its own width; a straight may just vanish."""
    return np.where(space.arc, max(outer_diameter / 2, SHORTEST), -SHORTEST)


@dataclass(frozen=True, slots=True)
class NoRoom:
    """Why a duct has no path, in words, and what would give it one.

    ``largest`` holds the spacings that would fit, by their names, in m, and ``radius`` (m) the
    centerline radius that would, where a bend is the trouble.
    """

    said: Phrase
    largest: tuple[tuple[str, float], ...]
    radius: float | None
    vertices: tuple[int, ...]

    def cure(self, system: str) -> str:
        """What would fit, in the units of ``system``: spacings rounded down, radii up."""
        ways = []
        if self.largest:
            names = " and ".join(name for name, _ in self.largest)
            sizes = " and ".join(show_marked(size, "radius-", system) for _, size in self.largest)
            ways.append(f"the maximum {names} spacing that fits is {sizes}")
        if self.radius is not None:
            ways.append(
                render(
                    say("a bend radius of at least {} is required", (self.radius, "radius+")),
                    system,
                )
            )
        return ", or ".join(ways) or "make the adjacent straights longer"


class BankError(GeometryError):
    """A bank with a duct that has no path; ``why`` tells it for any system of units."""

    def __init__(self, why: NoRoom) -> None:
        self.why = why
        super().__init__(render(why.said, "SI"), vertices=why.vertices, fix=why.cure("SI"))


def no_room(
    short: Shortage,
    space: OffsetRoom,
    path: Path,
    bank: Bank,
    outer_diameter: float,
    route: Route | None = None,
    least: float = 0.0,
) -> NoRoom:
    """One shortage of a bank in words; ``route`` is for the names in them.

    ``least`` m is the radius that cable and conduit take, where that is to be left too.

    Parameters
    ----------
    short : Shortage
        From `shortages`.
    space : Room
        From `room`.
    path : Path
        The centerline, n segments.
    bank : Bank
        Rows, columns, spacing and cover, m.
    outer_diameter : float
        Of the ducts, m.
    route : Route, optional
        For the names.
    least : float
        Radius that cable and conduit take, m; 0 where it need not be left.

    Returns
    -------
    NoRoom
        The words, and what would fit.
    """
    segment = short.segment
    lacks = max(short.need, least if short.arc else -math.inf) - short.left
    row, column = duct_places(bank)[short.duct]
    name = f"the duct in row {row}, column {column} "
    center = float(path.radii[segment])
    if short.arc:
        said = say(name + "would have a radius of {} at ", (short.left, "radius"))
        said += say(literal(_bend_name(path, segment, route)))
        said += say(", where the centerline has {}", (center, "radius"))
        if outer_diameter > 0:
            said += say("; its own width requires {}", (outer_diameter / 2, "radius"))
        if least > short.need:
            said += say(", cable and conduit {}", (least, "radius"))
    else:
        said = say(name + "lacks {} of straight at ", (lacks, "radius"))
        said += say(literal(turn_name(path, segment, route)))
    vertices = tuple(int(v) for v in path.vertex[max(segment - 1, 0) : segment + 2] if v >= 0)
    need = np.where(space.arc, np.maximum(_needs(space, outer_diameter), least), -SHORTEST)
    fits = _spacings_that_fit(space, bank, need, outer_diameter)
    return NoRoom(said, fits, center + lacks if short.arc else None, vertices)


def _bend_name(path: Path, segment: int, route: Route | None) -> str:
    number = int(np.count_nonzero(path.kind[: segment + 1] == ARC))
    if route is None:
        return f"bend {number}"
    return route.bend_label(number, int(path.vertex[segment]))


def turn_name(path: Path, segment: int, route: Route | None) -> str:
    """The turn without length beside a segment, not the bend on its other side.

    Parameters
    ----------
    path : Path
        The centerline, n segments.
    segment : int
        Number of the segment.
    route : Route or None
        For the name.

    Returns
    -------
    str
        Such as "the turn at pull vault V1".
    """
    near = slice(max(segment - 1, 0), segment + 2)
    vertices, corner = path.vertex[near], path.kind[near] == CORNER
    known = vertices[corner if corner.any() else vertices >= 0]
    if route is None or not len(known):
        return "the turn without a bend"
    return f"the turn at {route.label(int(known[0]))}"


def _largest(space: OffsetRoom, bank: Bank, need: Floats, axis: int) -> float:
    """Largest spacing on one axis with the other as it is; 0 where none fits."""
    steps, other = _steps(bank), 1 - axis
    spare = (
        space.size - need - np.outer(steps[:, other] * bank.spacing[other], space.slope[:, other])
    )
    takes = np.outer(steps[:, axis], space.slope[:, axis])
    if (spare[takes <= 1e-12] < 0).any():
        return 0.0
    limit = np.divide(spare, takes, out=np.full_like(spare, np.inf), where=takes > 1e-12)
    return max(float(limit.min(initial=math.inf)), 0.0)


def _spacings_that_fit(
    space: OffsetRoom, bank: Bank, need: Floats, least: float
) -> tuple[tuple[str, float], ...]:
    """The largest spacing of columns, else of rows, else of both by the same share, m.

    Empty where ducts at that spacing, closer than ``least`` m, would lie in each other.
    """
    for axis, name in ((0, "column"), (1, "row")):
        most = _largest(space, bank, need, axis)
        if max(least, SHORTEST) <= most < bank.spacing[axis]:
            return ((name, most),)
    takes = duct_offsets(bank) @ space.slope.T
    spare = np.broadcast_to(space.size - need, takes.shape)
    share = float(np.divide(spare, takes, out=np.full(takes.shape, np.inf), where=takes > 0).min())
    both = tuple((n, s * share) for n, s in zip(("column", "row"), bank.spacing, strict=True))
    return both if share > 0 and min(size for _, size in both) >= least else ()
