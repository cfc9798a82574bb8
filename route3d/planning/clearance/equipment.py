"""Machine, vehicle and reels of every run where its plan has them, as bodies."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from route3d.errors import GeometryError, InputError
from route3d.geometry.blocks import upright_block
from route3d.model.job import Job
from route3d.model.run import Run
from route3d.model.site import MACHINE, REEL, VEHICLE
from route3d.planning.clearance.bodies import Built, Equipment
from route3d.planning.evaluate import evaluate
from route3d.planning.placement.site import SiteMesh
from route3d.planning.placement.stands import UNEVEN
from route3d.planning.pull_plan.plan import make_plan
from route3d.planning.rigging.layout import RiggingLayout, rigging_layouts

_STEP = 50.0  # m between the rows of a gauge table that nobody reads here
_KIND = {"machine": MACHINE, "vehicle": VEHICLE, "reel": REEL}


def equipment_in_place(job: Job, meshes: Sequence[SiteMesh] = ()) -> Equipment:
    """Machine, vehicle and reels of each run of a job, by its plan, from their feet up.

    Floors are level to 0.05 m, and no more than that is left out above them. Sizes that are not
    given are no bodies. Runs that give no size need no plan.
    """
    sized = {run.name for run in job.runs if _sized(run)}
    if not sized:
        return Equipment(())
    bodies: list[Built] = []
    unplaced = []
    for result in evaluate(job, with_remedies=False).runs:
        if result.run.name not in sized:
            continue
        try:
            plan = make_plan(result, job, step=_STEP, meshes=meshes)
            if plan.stops:
                unplaced.append((result.run.name, "the pull must not be made"))
                continue
            for layout in rigging_layouts(plan, job):
                bodies += _bodies(layout, result.run.name, job.site.free_ends)
        except (InputError, GeometryError, ValueError) as error:
            unplaced.append((result.run.name, str(error).splitlines()[0]))
    return Equipment(tuple(bodies), tuple(unplaced))


def _sized(run: Run) -> bool:
    """Whether a machine or reel of a run, or of one of its ends, has a size."""
    machines = (run.machine, *(end.machine for end in run.ends))
    reels = (run.reel, *(end.reel for end in run.ends))
    return any(m is not None and m.envelope is not None for m in machines) or any(
        r is not None and r.diameter is not None and r.width is not None for r in reels
    )


def _bodies(layout: RiggingLayout, run: str, free: float) -> list[Built]:
    """What stands at one end of a pull, on the grid."""
    pull = layout.plan.pull
    index = pull.pull if layout.end == "machine" else pull.feed
    point = np.array(pull.run.route.vertices[index].point)
    station = 0.0 if index == 0 else pull.path.length
    ahead = np.array([math.cos(layout.turn), math.sin(layout.turn)])
    aside = np.array([-ahead[1], ahead[0]])
    found: list[Built] = []
    for body in layout.bodies:
        if body.kind not in _KIND or not body.sized:
            continue
        outline = point[:2] + body.outline[:, :1] * ahead + body.outline[:, 1:] * aside
        low, high = point[2] + body.low + UNEVEN, point[2] + body.high
        if high <= low:
            continue
        block = upright_block(outline, low, high, station)
        kind = _KIND[body.kind]
        number = sum(b.kind == kind for b in found)
        name = f"{kind}{f' {number + 1}' if number else ''} of run {run}"
        place = (point, station, free)
        assumed = not body.placed or layout.floor is None  # the height is a place too
        found.append(Built(kind, name, run, block, (place,), assumed))
    return found
