"""The rule for boxes as a table, and every surface held to it: all by elementary geometry."""

from __future__ import annotations

import math
from collections.abc import Sequence
from pathlib import Path

import numpy as np
import pytest

import route3d
from route3d.drawing.plan_profile.course import course_of
from route3d.drawing.plan_profile.surroundings import boxes_of as drawn_boxes
from route3d.formats.exchange import routes_of
from route3d.formats.ifc.writing import write_ifc
from route3d.geometry.box_places import box_place, box_places
from route3d.geometry.duct_pieces import boxes_in_line
from route3d.geometry.fillet import route_path
from route3d.planning.clearance.bodies import boxes_of as clearance_boxes
from route3d.planning.evaluate import evaluate
from tests.support.clearance_jobs import ENDS, HEAD
from viewer.scene.solids import box_solids

Point = tuple[float, float, float]
SIZE = (2.0, 1.0, 0.8)
S, C = math.sin(math.radians(60)), math.cos(math.radians(60))
L = [(0, 0, 0), (10, 0, 0), (10, 20, 0)]
UP = [(0, 0, 0), (10, 0, 0), (10, 0, 6), (10, 0, 9), (14, 0, 9)]
SLOPE = [(0, 0, 0), (3, 4, 5), (6, 8, 0)]  # 45 degrees: no riser


@pytest.mark.parametrize(
    ("points", "vertex", "floor", "middle", "along", "extents"),
    [
        (L, 0, None, (-1, 0, 0), (1, 0, 0), SIZE),  # the run leaves by its wall
        (L, 1, None, (10, 0, 0), (1, 0, 0), SIZE),  # as the conduit comes in, not as it goes on
        (L, 2, None, (10, 21, 0), (0, 1, 0), SIZE),
        (L, 0, -0.1, (-1, 0, 0.3), (1, 0, 0), SIZE),  # on the floor of its room
        (L, 1, -0.1, (10, 0, 0.3), (1, 0, 0), SIZE),
        (SLOPE, 1, None, (3, 4, 5), (0.6, 0.8, 0), SIZE),
        (SLOPE, 2, None, (6.6, 8.8, 0), (0.6, 0.8, 0), SIZE),
        (UP, 2, None, (10, 0, 6), (0, 0, 1), (0.8, 1, 2)),  # in the riser
        (UP, 3, -5, (10, 0, 9), (0, 0, 1), (0.8, 1, 2)),  # no floor moves it
        (UP, 4, None, (15, 0, 9), (1, 0, 0), SIZE),
        (UP[:3], 2, None, (10, 0, 7), (0, 0, 1), (0.8, 1, 2)),
        (UP[2:], 0, None, (10, 0, 5), (0, 0, 1), (0.8, 1, 2)),
        (UP[2:4][::-1], 1, None, (10, 0, 5), (0, 0, -1), (0.8, 1, 2)),
    ],
)
def test_the_rule(
    points: Sequence[Point],
    vertex: int,
    floor: float | None,
    middle: Point,
    along: Point,
    extents: Point,
) -> None:
    place = box_place(np.array(points, dtype=float), vertex, SIZE, floor)
    assert place.middle == pytest.approx(np.array(middle, dtype=float), abs=1e-12)
    assert place.axes[0] == pytest.approx(np.array(along, dtype=float), abs=1e-12)
    assert place.axes @ place.axes.T == pytest.approx(np.eye(3), abs=1e-12)
    assert place.extents == extents
    assert place.low == pytest.approx(middle[2] - extents[2] / 2, abs=1e-12)


def test_a_leaning_riser_has_the_heading_of_the_nearest_level_leg() -> None:
    """At 60° over a run to the north; without one it has its own; a plumb one lies along x."""
    lean = [(0, -9, 0), (0, 0, 0), (4 * C, 0, 4 * S)]
    assert box_place(np.array(lean), 2, SIZE).heading == pytest.approx(np.array([0, 1, 0]))
    own = [(0, 0, 0), (-4 * C, 0, 4 * S)]
    assert box_place(np.array(own), 1, SIZE).heading == pytest.approx(np.array([-1, 0, 0]))
    plumb = [(0.0, 0.0, 0.0), (0.0, 0.0, 4.0)]
    assert box_place(np.array(plumb), 1, SIZE).heading == pytest.approx(np.array([1, 0, 0]))


BOX = ", box = [2000, 1000, 800]"
JOB = f"""{HEAD}
[[run]]
name = "F1"
cables = {{ phase = 3 }}
route = [
  {{ at = [0, 0, 0], name = "V1"{ENDS}, conduit = "duct"{BOX} }},
  {{ at = [10, 0, 0], name = "V2"{ENDS}{BOX} }},
  {{ at = [20, 0, 0], bend = 1 }},
  {{ at = [20, 0, 4], name = "P1"{ENDS}{BOX} }},
  {{ at = [20, 0, 8], name = "P2"{ENDS}{BOX} }},
]
[[site.room]]
name = "V2"
outline = [[5, -5], [15, -5], [15, 5], [5, 5]]
floor = -0.5
"""
BOUNDS = {
    "V1": ((-2, -0.5, -0.4), (0, 0.5, 0.4)),
    "V2": ((9, -0.5, -0.5), (11, 0.5, 0.3)),  # on the floor of its room
    "P1": ((19.6, -0.5, 3), (20.4, 0.5, 5)),
    "P2": ((19.6, -0.5, 8), (20.4, 0.5, 10)),
}


def test_every_surface_has_the_boxes_there(tmp_path: Path) -> None:
    """Clearance, drawing, bank, model and picture, each by what it holds or writes."""
    model = tmp_path / "apron.toml"
    model.write_text(JOB, encoding="utf-8")
    job = route3d.load(model)
    (run,) = job.runs
    path = route_path(run.route)
    names = list(BOUNDS)
    wanted = np.array(list(BOUNDS.values()), dtype=float)
    assert [run.route.vertices[b.vertex].name for b in box_places(run.route)] == names
    for body, bounds in zip(clearance_boxes(run, path, job.site), wanted, strict=True):
        assert body.blocks.middles[0] == pytest.approx(bounds.mean(axis=0), abs=1e-12)
    course = course_of(run, path, "SI", 0.5, 1e-3, lambda at: np.full(len(at), np.nan))
    for box, (low, high) in zip(drawn_boxes(job, course), wanted, strict=True):
        outline, side = box.plan.points, box.profile.points
        assert outline.min(axis=0) == pytest.approx(low[:2], abs=1e-9)
        assert outline.max(axis=0) == pytest.approx(high[:2], abs=1e-9)
        assert side.min(axis=0) == pytest.approx(low[[0, 2]], abs=1e-9)  # developed along x
        assert side.max(axis=0) == pytest.approx(high[[0, 2]], abs=1e-9)
    before = 20 - 1 + math.pi / 2 + 3 - 1  # P1 is 3 m over the end of the bend of 1 m
    spans = [(b.start, b.end) for b in boxes_in_line(run.route, path)]
    assert np.array(spans) == pytest.approx(np.array([(9, 11), (before, before + 2)]))
    (result,) = evaluate(job, with_remedies=False).runs
    solids = box_solids(result.best.pull, 1.0, np.zeros(3), job.site.floors)
    for solid, (low, high) in zip(solids, wanted, strict=True):
        middle = (low + high) / 2
        assert solid.base == pytest.approx(np.array([*middle[:2], low[2]]), abs=1e-12)
        assert solid.size == pytest.approx(high - low)
    geometry = pytest.importorskip("ifcopenshell.geom")
    import ifcopenshell

    write_ifc(routes_of(job), tmp_path / "a.ifc", "m", floors=job.site.floors)
    file = ifcopenshell.open(str(tmp_path / "a.ifc"))
    settings = geometry.settings()
    settings.set("use-world-coords", True)
    for product in file.by_type("IfcJunctionBox"):
        shape = geometry.create_shape(settings, product)
        corners = np.array(shape.geometry.verts).reshape(-1, 3)
        low, high = wanted[names.index(product.Name)]
        assert corners.min(axis=0) == pytest.approx(low, abs=1e-9)
        assert corners.max(axis=0) == pytest.approx(high, abs=1e-9)
