"""Stretches of a polyline's points that lie on circles: the bends in a chain of short chords.

Windows of points near one circle are looked for at a tight tolerance before a loose one, and grown
both ways. The tight ones find the exact ends of drawn bends; the loose ones, those with noise.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from route3d.geometry.circles import Circles, fit_circles
from route3d.geometry.vectors import Floats, angle_between, norm, unit

# Fewer points are on some circle by chance: three always are, four are at every rectangle.
FEWEST = 5
# Chords that turn more than this at a point are corners; a 90 degree elbow of four chords passes.
MOST_FACET_TURN = np.radians(32)
# An arc is one where a straight would miss its points by this many tolerances.
BEND = 3.0
# At a tight tolerance an arc must end sharply: the next point lies this much farther off.
SHARP_END = 10.0
# Share of the shortest windows that is near a circle at the level of the noise.
MANY = 0.02
# Longest window that starts an arc; longer arcs grow from it.
LONGEST_WINDOW = 513
# Below this (m) all is rounding.
TIGHTEST = 1e-7


@dataclass(eq=False, slots=True)
class FoundArc:
    """An arc found in the points ``first`` to ``last``, both on it."""

    first: int
    last: int
    cautious: set[str] = field(default_factory=set)  # sides whose nearest gap point is a corner


def find_arcs(p: Floats, tolerance: float) -> list[FoundArc]:
    """Stretches of points that lie on circles, in order; neighbors may share their end point."""
    free = np.ones(len(p) - 1, dtype=bool)  # chords not yet part of an arc
    free[_corner_chords(p)] = False
    windows = _windows(p, free)
    found: list[FoundArc] = []
    for level in _levels(tolerance, windows):
        strict = level < tolerance
        for width, starts, fit in windows:
            taken = np.concatenate(([0], np.cumsum(~free)))
            good = starts[
                (fit.off_circle <= level)
                & (fit.off_line > BEND * level)
                & (taken[starts + width - 1] == taken[starts])
            ]
            for start, end in _seeds(p, good, width, level, strict):
                if not free[start:end].all():
                    continue
                first, last = _grown(p, free, start, end, level)
                if last - first + 1 >= FEWEST and (
                    not strict or _sharp(p, first, last, free, level)
                ):
                    free[first:last] = False
                    found.append(FoundArc(first, last))
    return _merged(p, sorted(found, key=lambda a: a.first), tolerance)


def _seeds(
    p: Floats, starts: NDArray[np.int64], width: int, level: float, strict: bool
) -> Iterator[tuple[int, int]]:
    """First and last points to grow arcs from, for windows near a circle.

    Of windows in a row the whole row, where it is on one circle; else first that in its middle,
    which lies within the arc where those at its ends reach past it; then the others, but where
    the search is strict: there a row is an arc or a spiral.
    """
    step = max(1, width // 8)
    cuts = np.flatnonzero(np.diff(starts) > step) + 1
    for row in np.split(starts, cuts) if starts.size else ():
        first, last = int(row[0]), int(row[-1]) + width - 1
        if len(row) == 1 or _on_circle(p[first : last + 1], level):
            yield first, last
            continue
        middle = int(row[len(row) // 2])
        yield middle, middle + width - 1
        for start in () if strict else row.tolist():
            yield start, start + width - 1


def _levels(tolerance: float, windows: Sequence[_Windows]) -> list[float]:
    """Tolerances from the noise of the points up to the one asked for, by tens.

    Below the noise a few windows are near a circle by chance; at it, many are.
    """
    off = windows[0][2].off_circle if windows else np.empty(0)
    levels: list[float] = []
    level = TIGHTEST
    while level < tolerance:
        if levels or (off <= level).sum() >= MANY * len(off):
            levels.append(level)
        level *= 10
    return [*levels, tolerance]


def _merged(p: Floats, arcs: list[FoundArc], tolerance: float) -> list[FoundArc]:
    """Neighbors that together are on one circle made one: noise cut them."""
    whole: list[FoundArc] = []
    for arc in arcs:
        joined = _joined(p, whole[-1], arc, tolerance) if whole else None
        if joined is None:
            whole.append(arc)
        else:
            whole[-1] = joined
    return whole


def _joined(p: Floats, one: FoundArc, two: FoundArc, tolerance: float) -> FoundArc | None:
    """The arc that both are parts of, if the stretch from middle to middle is clearly bent so.

    Their outer ends may reach past the bend, and must not count.
    """
    first, last = (one.first + one.last) // 2, (two.first + two.last + 1) // 2
    if last - first + 1 < FEWEST or not _on_circle(p[first : last + 1], tolerance):
        return None
    if fit_circles(p[None, first : last + 1]).off_line[0] <= BEND * tolerance:
        return None
    free = np.zeros(len(p) - 1, dtype=bool)
    free[one.first : two.last] = True
    start, end = _grown(p, free, first, last, tolerance)
    covers = start <= (one.first + first) // 2 and end >= (two.last + last) // 2
    return FoundArc(start, end) if covers else None  # else two bends of one tangent, or a spiral


def _corner_chords(p: Floats) -> NDArray[np.int64]:
    """Chords with a corner at both ends: they can be of no arc."""
    directions = unit(np.diff(p, axis=0))
    sharp = np.ones(len(p), dtype=bool)
    sharp[1:-1] = angle_between(directions[:-1], directions[1:]) > MOST_FACET_TURN
    return np.flatnonzero(sharp[:-1] & sharp[1:])


_Windows = tuple[int, NDArray[np.int64], Circles]


def _windows(p: Floats, free: NDArray[np.bool_]) -> list[_Windows]:
    """For each width the starts of windows that may be part of an arc, and their fits."""
    widths = [w for w in (2**k + 1 for k in range(2, 10)) if w <= min(len(p), LONGEST_WINDOW)]
    steady = _steady(p)
    result = []
    for width in widths:
        starts = np.arange(0, len(p) - width + 1, max(1, width // 8))
        blocked = np.concatenate(([0], np.cumsum(~(free & steady))))
        starts = starts[blocked[starts + width - 1] == blocked[starts]]
        if not starts.size:
            break
        result.append((width, starts, _fits(p, starts, width)))
    return result


def _fits(p: Floats, starts: NDArray[np.int64], width: int) -> Circles:
    """The fits of all windows, in blocks that keep the memory small."""
    block = max(1, 400_000 // width)
    parts = [
        fit_circles(p[starts[i : i + block, None] + np.arange(width)])
        for i in range(0, len(starts), block)
    ]
    names = ("centre", "normal", "radius", "off_circle", "off_line")
    return Circles(*(np.concatenate([getattr(part, n) for part in parts]) for n in names))


def _steady(p: Floats) -> NDArray[np.bool_]:
    """Chords that no point turns away from sharply, at their start; noise does not turn so far."""
    directions = unit(np.diff(p, axis=0))
    steady = np.ones(len(directions), dtype=bool)
    steady[1:] = angle_between(directions[:-1], directions[1:]) < np.pi / 2
    return steady


def _grown(
    p: Floats, free: NDArray[np.bool_], first: int, last: int, level: float
) -> tuple[int, int]:
    """The longest stretch about a window that stays on one circle, over free chords."""
    taken = np.flatnonzero(~free[last:])
    end = last + int(taken[0]) if taken.size else len(p) - 1
    last = _farthest(lambda i: _on_circle(p[first : i + 1], level), last, end)
    taken = np.flatnonzero(~free[:first])
    end = int(taken[-1]) + 1 if taken.size else 0
    first = -_farthest(lambda i: _on_circle(p[-i : last + 1], level), -first, -end)
    return first, last


def _farthest(holds: Callable[[int], bool], start: int, end: int) -> int:
    """The last number from ``start`` to ``end`` up to which ``holds`` is true: by doubling."""
    good, step = start, 1
    while good < end and holds(min(good + step, end)):
        good, step = min(good + step, end), step * 2
    bad = min(good + step, end + 1)
    while bad - good > 1:
        middle = (good + bad) // 2
        good, bad = (middle, bad) if holds(middle) else (good, middle)
    return good


def _on_circle(p: Floats, level: float) -> bool:
    fit = fit_circles(p[None])
    if not fit.off_circle[0] <= level:
        return False
    steps = steps_about(p, fit)
    noise = 4 * level / max(float(fit.radius[0]), level)  # close points may seem to step back
    total = float(steps.sum())
    forward = steps * np.sign(total)
    return bool(
        abs(total) < 2 * np.pi * 0.98
        and (forward > -noise).all()
        and (forward <= MOST_FACET_TURN + noise).all()
    )


def steps_about(p: Floats, fit: Circles) -> Floats:
    """Angles about the center from each point to the next, rad, right-handed about the axis."""
    spokes = p - fit.centre[0]
    cross = np.cross(spokes[:-1], spokes[1:]) @ fit.normal[0]
    dot = np.einsum("ij,ij->i", spokes[:-1], spokes[1:])
    steps: Floats = np.arctan2(cross, dot)
    return steps


def _sharp(p: Floats, first: int, last: int, free: NDArray[np.bool_], level: float) -> bool:
    """Whether the points beyond both ends are clearly off the circle: no spiral cut in pieces."""
    fit = fit_circles(p[None, first : last + 1])
    inside = max(float(fit.off_circle[0]), level)
    for beyond, chord in ((first - 1, first - 1), (last + 1, last)):
        if 0 <= beyond < len(p) and free[chord]:
            spoke = p[beyond] - fit.centre[0]
            height = float(spoke @ fit.normal[0])
            ring = float(np.hypot(norm(spoke - height * fit.normal[0]) - fit.radius[0], height))
            if ring < SHARP_END * inside:
                return False
    return True
