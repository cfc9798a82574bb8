"""The outline of a duct bank's concrete on a plan and on a profile developed along the plan.

The concrete is the section of the bank carried along the run without twist (``geometry.bank``),
where it lies below grade or no ground is known, or all along it where no part is below.
Direct-buried ducts (cover 0) have the outline of the ducts.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from route3d.geometry.bank_slices import (
    BankSlices,
    gone_on_plan,
    least_ground,
    slices_along,
    slices_at,
)
from route3d.geometry.encasement import STEP, part_of, rings
from route3d.geometry.fillet import route_path
from route3d.geometry.grade import Grade
from route3d.geometry.path import Path
from route3d.geometry.rmf_frames import frames
from route3d.geometry.vectors import Floats
from route3d.model.job import Bank
from route3d.model.run import Run
from route3d.planning.bank import EncasedPart, parts_of

if TYPE_CHECKING:
    from shapely import Geometry


def plan_outlines(bank: Bank, run: Run, grade: Grade) -> list[Floats]:
    """What the concrete covers on the plan: closed polylines (k, 2) m, the last point the first.

    Outer edges run counter-clockwise, the edges of what a loop of the bank leaves free clockwise.
    Chords in bends span at most 2.5 degrees. Raises GeometryError where the route has no path.
    """
    import shapely

    outlines: list[Floats] = []
    for whole in shapely.get_parts(shapely.union_all(_shadows(bank, run, grade))):
        shape = shapely.simplify(shapely.orient_polygons(whole), 1e-6)
        outlines += [np.asarray(r.coords) for r in (shape.exterior, *shape.interiors)]
    return outlines


def _shadows(bank: Bank, run: Run, grade: Grade) -> list[Geometry]:
    """The plan of each piece of the concrete between two rings of its mesh."""
    import shapely

    center = route_path(run.route)
    shadows = []
    for part in parts_of(bank, run, center, frames(center), grade):
        starts = frames(part.path, part.frame)
        around = rings(part.path, starts, part.section.corners, STEP)[..., :2]
        pairs = np.concatenate((around[:-1], around[1:]), axis=1)
        shadows += list(shapely.convex_hull(shapely.multipoints(pairs)))
    return shadows


@dataclass(frozen=True, eq=False, slots=True)
class ProfileLines:
    """Top and bottom of one stretch of concrete on a profile developed along the plan of the run.

    ``stations`` (k,) m are those of the run's own line. ``top`` and ``bottom`` (k, 2) m are points
    of the profile: how far the run has gone on the plan, and elevation. Beside a plumb riser they
    are two upright lines.
    """

    stations: Floats
    top: Floats
    bottom: Floats

    @property
    def outline(self) -> Floats:
        """Both lines and the square ends as one closed polyline, (2 k + 1, 2) m."""
        closed: Floats = np.concatenate((self.top, self.bottom[::-1], self.top[:1]))
        return closed


def profile_lines(bank: Bank, run: Run, grade: Grade) -> list[ProfileLines]:
    """Top and bottom of the concrete, one for each stretch in concrete with ducts of one size.

    Both are square to the run's line, by half of what the section measures upright. Chords in bends
    span at most 2.5 degrees. Raises GeometryError where the route has no path.
    """
    center = route_path(run.route)
    lines = []
    for part in parts_of(bank, run, center, frames(center), grade):
        cut = slices(part, center)
        lines.append(ProfileLines(cut.stations, cut.on_profile(1.0), cut.on_profile(-1.0)))
    return lines


def ground_over_bank(bank: Bank, run: Run, grade: Grade, stations: Floats) -> Floats:
    """The least elevation of the ground over the width of the concrete at stations, (k,) m.

    NaN where there is no concrete, or no ground is known.
    """
    center = route_path(run.route)
    found = np.full(len(stations), np.nan)
    for part in parts_of(bank, run, center, frames(center), grade):
        inside = (stations >= part.start) & (stations <= part.start + part.path.length)
        at = np.clip(stations[inside] - part.start, 0.0, part.path.length)
        cut = slices_at(part.path, frames(part.path, part.frame), part.section, at)
        if len(at):
            found[inside] = least_ground(cut, grade)[0]
    return found


# --- cross sections along the bank ----------------------------------------------------------


def section_at(part: EncasedPart, station: float) -> BankSlices:
    """The cross section at one station of a part, m."""
    at = np.array([station])
    cut = slices_at(part.path, frames(part.path, part.frame), part.section, at)
    return replace(cut, stations=part.start + cut.stations)


def slices(
    part: EncasedPart, center: Path, turn: float = STEP, spacing: float = math.inf
) -> BankSlices:
    """Cross sections of a part, at most ``turn`` rad and ``spacing`` m apart; all joints twice.

    Their stations, and how far the run has gone, are those of the ``center``.
    """
    cut = slices_along(part.path, frames(part.path, part.frame), part.section, turn, spacing)
    before = gone_on_plan(part_of(center, 0.0, part.start), turn) if part.start > 0 else 0.0
    return replace(cut, stations=part.start + cut.stations, gone=before + cut.gone)
