"""The trench of a duct bank: excavation, bedding, concrete and backfill by a stated rule.

The trench is cut upright and square to the plan of the run. Its floor lies ``bedding`` below the
bottom of the bank, is as wide as the bank and the working space on both sides, and from its edges
the sides lean out to the ground. It follows the part of the bank that lies below grade, where the
ground is known, from the walls of the vaults between, with square ends; in a sweep up to a riser
its floor follows the outside of the sweep. Volumes are sums of cross section times length on the
plan, in bends by the middle of the section: compacted in place, without swell.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, fields

import numpy as np

from route3d.geometry.bank_slices import BankSlices, ground_over, least_ground
from route3d.geometry.encasement import folded
from route3d.geometry.grade import Grade
from route3d.geometry.path import Path
from route3d.geometry.rmf_frames import STEEP, frames
from route3d.geometry.vectors import Floats
from route3d.planning.bank import BankResult, EncasedPart, common, parts_of
from route3d.planning.bank_outline import section_at, slices

# Turn between two cross sections, rad, and their distance under a ground surface, m.
_TURN, _SPACING = math.radians(1.0), 1.0
_MOST_SLICES = 2_000
# Gauss's rules: along between two cross sections, and across each part of a cross section.
_ALONG = np.polynomial.legendre.leggauss(2)
_ACROSS = np.polynomial.legendre.leggauss(6)
# The side of a trench is followed out to where it meets the ground this closely, m.
_CLOSE = 1e-7
_MOST_STEPS = 60
# Below this, m, the bank does not advance on the plan.
_PLUMB = 1e-9


_Above = Callable[[Floats], Floats]


@dataclass(frozen=True, slots=True)
class Trench:
    """The trench of a bank; m and m³.

    ``length`` is that on the plan, ``width`` that of the floor where the bank lies level,
    ``depths`` the least and the largest from the ground to the floor, over its whole width, ends
    included. ``displaced`` is what the bank takes up below grade: the concrete with its ducts, or
    the ducts alone. ``excavation`` and ``backfill``
    are None where the sides never meet the ground, ``displaced`` where the concrete would fold in a
    bend.
    """

    length: float
    width: float
    depths: tuple[float, float]
    excavation: float | None
    bedding: float
    displaced: float | None

    @property
    def backfill(self) -> float | None:
        """Excavation less bedding and what the bank takes up, m³."""
        if self.excavation is None or self.displaced is None:
            return None
        return self.excavation - self.bedding - self.displaced

    @property
    def surplus(self) -> float | None:
        """What of the excavation does not go back, measured in place, m³."""
        return None if self.displaced is None else self.bedding + self.displaced


def trench_of(result: BankResult) -> Trench | None:
    """The trench of a bank; None where no working space is given, or nothing lies below grade."""
    bank, grade, center = result.bank, result.grade, result.center
    if bank.trench_side is None or result.all_encased:
        return None
    parts = parts_of(bank, result.run, center, result.starts, grade, result.below)
    if not parts:
        return None
    every = [_cut(result, part) for part in parts]
    return Trench(
        length=sum(one.length for one in every),
        width=result.section.width + 2 * bank.trench_side,
        depths=(min(one.depths[0] for one in every), max(one.depths[1] for one in every)),
        excavation=_sum([one.excavation for one in every]),
        bedding=sum(one.bedding for one in every),
        displaced=_sum([one.displaced for one in every]),
    )


@dataclass(frozen=True, eq=False, slots=True)
class TrenchSection:
    """A trench across at one station; m.

    ``half`` is half the width of its floor, which lies ``below`` the run's line; ``out`` how far
    beyond its edges the sides meet the ground, left and right, NaN where they never do. ``ground``
    is the elevation over the run and ``cover`` the least earth over the width of the bank, both
    upright, NaN where no ground is known; ``cover_at`` m to the right is where that is least.
    """

    point: Floats
    across: Floats
    half: float
    below: float
    out: tuple[float, float]
    ground: float
    cover: float
    cover_at: float


def trench_at(result: BankResult, station: float) -> TrenchSection | None:
    """The trench and the earth over the bank at a station (m); None where the run lies steep."""
    bank, grade, center = result.bank, result.grade, result.center
    if abs(float(center.tangent(station)[2])) > STEEP:
        return None
    piece = EncasedPart(0.0, center, result.starts[0], result.section)
    cut = section_at(piece, station)
    floor = _floor(cut, bank.bedding or 0.0, bank.trench_side or 0.0)
    ground = float(grade.at(cut.points)[0])
    top = float(cut.points[0, 2]) + float(cut.half_height[0]) / float(cut.upright[0, 2])
    least, least_at = least_ground(cut, grade)
    out = (0.0, 0.0)
    if (bank.trench_slope or 0.0) > 0 and math.isfinite(ground):
        above = _ground_over(floor, grade, np.array([ground]))
        left, right = (
            float(_daylight(floor, side, bank.trench_slope or 0.0, above)[0])
            for side in (-1.0, 1.0)
        )
        out = (left, right)
    return TrenchSection(
        cut.points[0],
        cut.across[0],
        float(floor.half[0]),
        float(cut.points[0, 2] - floor.z[0]),
        out,
        ground,
        float(least[0]) - top,
        float(least_at[0]),
    )


def _sum(volumes: Sequence[float | None]) -> float | None:
    return None if None in volumes else sum(v for v in volumes if v is not None)


def _displaced(result: BankResult, part: EncasedPart) -> float | None:
    """What the bank takes up, by Pappus' theorem: the ducts lie evenly about its middle."""
    if result.bank.cover == 0:
        taken = len(part.section.ducts) * math.pi / 4 * part.section.diameter**2
        return taken * part.path.length
    if folded(part.path, part.section, frames(part.path, part.frame)):
        return None
    return part.section.whole * part.path.length


def _cut(result: BankResult, part: EncasedPart) -> Trench:
    """The trench of one part."""
    bank, grade = result.bank, result.grade
    spacing = math.inf
    partly = common(((part.start, part.start + part.path.length),), result.partly)
    if not grade.is_level or partly:
        spacing = max(_SPACING, part.path.length / _MOST_SLICES)
    cut = slices(part, result.center, _TURN, spacing)
    nodes, weights = _between(cut)
    side, thick, slope = bank.trench_side or 0.0, bank.bedding or 0.0, bank.trench_slope or 0.0
    floor = _floor(nodes, thick, side)
    area = _areas(floor, result.center, nodes.stations, grade, slope)
    under = 2 * floor.half * thick + slope * thick**2
    excavation = float(weights @ area)
    displaced = _displaced(result, part)
    if displaced is not None and partly:
        displaced *= float(weights @ _buried(result, nodes)) / float(weights.sum())
    return Trench(
        length=float(weights.sum()),
        width=2 * float(floor.half.max()),
        depths=_depths(cut, _floor(cut, thick, side), grade),
        excavation=excavation if math.isfinite(excavation) else None,
        bedding=float(weights @ under),
        displaced=displaced,
    )


def _buried(result: BankResult, cut: BankSlices) -> Floats:
    """The share of each cross section (k,) of the bank that lies below grade."""
    grade, floor = result.grade, _floor(cut, 0.0, 0.0)
    over = grade.at(result.center.point(np.clip(cut.stations, 0.0, result.center.length)))
    nodes, weights = _ACROSS
    above = _ground_over(floor, grade, over)(floor.half[:, None] * nodes)
    high = 2 * cut.half_height[:, None] * np.maximum(cut.upright[:, 2:], _PLUMB)
    share: Floats = np.clip(above / high, 0.0, 1.0) @ weights / 2
    return share


def _depths(cut: BankSlices, floor: _Floor, grade: Grade) -> tuple[float, float]:
    """The least and the largest depth over the floor, m; none where the bank goes straight up."""
    points = np.column_stack((floor.middle, floor.z))
    over = ground_over(points, cut.across, floor.half, grade)
    goes = np.diff(cut.on_profile(-1.0)[:, 0])[over.piece] > _PLUMB
    depth = np.maximum(over.height[goes & np.isfinite(over.height)], 0.0)
    return (float(depth.min()), float(depth.max())) if len(depth) else (0.0, 0.0)


def _between(cut: BankSlices) -> tuple[BankSlices, Floats]:
    """Cross sections between those given, by Gauss's rule, and the length on the plan each counts.

    Length is taken along the bottom of the bank, which in a sweep runs on its outside.
    """
    share = (_ALONG[0] + 1) / 2
    advance = np.diff(cut.on_profile(-1.0)[:, 0])

    def mixed(values: Floats) -> Floats:
        flat = values.reshape(len(values), 1, -1)
        between = flat[:-1] + share[:, None] * (flat[1:] - flat[:-1])
        return between.reshape(-1, *values.shape[1:])

    middle = BankSlices(*(mixed(getattr(cut, f.name)) for f in fields(cut)))
    return middle, np.repeat(advance, len(share)) * np.tile(_ALONG[1] / 2, len(advance))


@dataclass(frozen=True, eq=False, slots=True)
class _Floor:
    """The floor of a trench: middles (k, 2) m, elevations, half widths, and level across (k, 2)."""

    middle: Floats
    z: Floats
    half: Floats
    across: Floats

    def beside(self, right: Floats) -> Floats:
        """Places (k, n, 2) so far (k, n) m to the right of the middle."""
        places: Floats = self.middle[:, None] + right[..., None] * self.across[:, None]
        return places


def _floor(cut: BankSlices, bedding: float, side: float) -> _Floor:
    bottom = cut.points - cut.half_height[:, None] * cut.upright
    return _Floor(bottom[:, :2], bottom[:, 2] - bedding, cut.half_width + side, cut.across[:, :2])


def _areas(floor: _Floor, center: Path, stations: Floats, grade: Grade, slope: float) -> Floats:
    """Area (k,) m² of cross sections of a trench; NaN where a side never meets the ground."""
    if grade.is_level:
        depth = np.maximum(grade.level - floor.z, 0.0)
        level: Floats = 2 * floor.half * depth + slope * depth**2
        return level
    over = grade.at(center.point(np.clip(stations, 0.0, center.length)))
    above = _ground_over(floor, grade, over)
    nodes, weights = _ACROSS
    inner = np.maximum(above(floor.half[:, None] * nodes), 0.0)
    area: Floats = floor.half * (inner @ weights)
    if slope > 0:
        for side in (-1.0, 1.0):
            area = area + _side(floor, side, slope, above)
    return area


def _ground_over(floor: _Floor, grade: Grade, over: Floats) -> _Above:
    """Ground above the floor (k, n) m at so far to the right; off the surface that ``over`` it."""

    def above(right: Floats) -> Floats:
        ground = grade.at(floor.beside(right).reshape(-1, 2)).reshape(right.shape)
        ground = np.where(np.isnan(ground), over[:, None], ground)
        higher: Floats = ground - floor.z[:, None]
        return higher

    return above


def _side(floor: _Floor, side: float, slope: float, above: _Above) -> Floats:
    """Area (k,) m² between the edge of the floor and where the leaning side meets the ground."""
    out = _daylight(floor, side, slope, above)
    nodes, weights = _ACROSS
    share = (nodes + 1) / 2
    right = side * (floor.half[:, None] + out[:, None] * share)
    high = above(right) - out[:, None] * share / slope
    area: Floats = out / 2 * (np.maximum(high, 0.0) @ weights)
    return area


def _daylight(floor: _Floor, side: float, slope: float, above: _Above) -> Floats:
    """How far beyond the edge of the floor the side meets the ground, (k,) m; NaN: never."""

    def gap(out: Floats) -> Floats:
        right = side * (floor.half + out)[:, None]
        return above(right)[:, 0] - out / slope

    low = np.zeros(len(floor.z))
    at_low = gap(low)
    below = at_low > 0
    out = np.where(below, slope * at_low, 0.0)
    at_out = gap(out)
    for _ in range(_MOST_STEPS):
        open_ = below & (np.abs(at_out) > _CLOSE)
        if not open_.any():
            return out
        flat = np.abs(at_out - at_low) < 1e-12
        step = np.where(flat, slope * at_out, at_out * (out - low) / (at_low - at_out + flat))
        new = np.maximum(np.where(open_, out + step, out), 0.0)
        low, at_low = np.where(open_, out, low), np.where(open_, at_out, at_low)
        out, at_out = new, gap(new)
    return np.where(below & (np.abs(at_out) > _CLOSE), np.nan, out)
