"""The machine location, as a crew measures it from the conduit end, and as a small plan."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from route3d.drawing import svg
from route3d.drawing.charts import PRINT
from route3d.drawing.marks import Line, Mark, Shape, Text, written
from route3d.geometry.vectors import Floats
from route3d.planning.placement.rope_legs import pull_end
from route3d.planning.placement.search import Placement
from route3d.planning.pull_plan.plan import Plan
from route3d.units import show

_SMALL = 11.0
_MARGIN = 46.0
_SIZE = (360, 230)


@dataclass(frozen=True, slots=True)
class StandMarks:
    """Place of the machine's feet from the conduit end, m.

    ``ahead`` along the level direction in which the cable comes out, ``aside`` to the left of it,
    ``drop`` below the centerline; ``rope`` m of rope between.
    """

    ahead: float
    aside: float
    drop: float
    rope: float


def stand_of(plan: Plan) -> StandMarks:
    """Where the best place of a plan is; there must be one."""
    spot = plan.placement.best[0]
    end, out = _end(plan)
    rel = np.array(spot.position) - end
    left = np.array([-out[1], out[0]])
    return StandMarks(float(rel[:2] @ out), float(rel[:2] @ left), float(-rel[2]), spot.distance)


def _end(plan: Plan) -> tuple[Floats, Floats]:
    """The conduit end (3,), and the level direction (2,) in which the cable comes out."""
    end = pull_end(plan.pull)
    flat = end.outward[:2] if np.hypot(*end.outward[:2]) > 0.1 else end.heading[:2]
    return end.point, flat / np.hypot(*flat)


def stand_sketch(plan: Plan, system: str) -> str:
    """SVG plan of the machine at the conduit end, dimensioned; empty where no place is known.

    The cable comes out to the right. Rooms and their obstacles are drawn as far as they are near.
    """
    if not plan.placement.best or plan.machine.envelope is None:
        return ""
    spot = plan.placement.best[0]
    end, out = _end(plan)
    turn = np.array([[out[0], out[1]], [-out[1], out[0]]])  # to (ahead, aside)

    def local(points: Floats) -> Floats:
        flat: Floats = np.asarray(points, dtype=np.float64)[..., :2] - end[:2]
        return np.asarray(flat @ turn.T)

    box = _outline(spot, plan.machine.envelope)
    rope = local(np.array(spot.rope))
    machine = local(box)
    shown = np.vstack((rope, machine, [[0.0, 0.0], [-0.8, 0.0]]))
    low, high = shown.min(axis=0) - 0.5, shown.max(axis=0) + 0.5
    scale = min((np.array(_SIZE) - 2 * _MARGIN) / (high - low))
    middle = (low + high) / 2

    def px(points: Floats) -> Floats:
        at = (np.asarray(points) - middle) * scale
        return np.column_stack((_SIZE[0] / 2 + at[:, 0], _SIZE[1] / 2 - at[:, 1]))

    ink, faint, ground = PRINT["ink"], PRINT["faint"], PRINT["ground"]
    feet, duct = px(machine), px(np.array([[-0.8, 0.0], [0.0, 0.0]]))
    head = (float(feet[:, 0].mean()), float(feet[:, 1].min()) - 6)
    marks: list[Mark] = [
        *(Shape(px(local(np.array(shape))), fill, faint, 1.4) for shape, fill in _walls(plan)),
        Shape(feet, "#dddddd", ink, 1.4),
        Line(duct, ink, 5.0),
        written(duct[0, 0], duct[0, 1] + 18, "conduit", _SMALL, ink, back=ground),
        Line(px(rope), ink, 1.6),
        *_dimensions(stand_of(plan), px, system),
        written(*head, "machine", _SMALL, ink, "middle"),
        written(_SIZE[0] - 8, _SIZE[1] - 6, "plan, to scale", 10.0, faint, "right"),
    ]
    return svg.document(marks, _SIZE)


def _outline(spot: Placement, envelope: tuple[float, float, float]) -> Floats:
    """The four corners of the machine in plan, (4, 2) m."""
    length, width, _ = envelope
    along = np.array([math.cos(spot.yaw), math.sin(spot.yaw)])
    across = np.array([-along[1], along[0]])
    middle = np.array(spot.position[:2])
    signs = ((1, 1), (1, -1), (-1, -1), (-1, 1))
    return np.array([middle + a * along * length / 2 + b * across * width / 2 for a, b in signs])


def _walls(plan: Plan) -> list[tuple[tuple[tuple[float, float], ...], str]]:
    """Rooms at the pulling end and the obstacles in them."""
    rooms = plan.rooms
    return [
        shape
        for room in rooms
        for shape in ((room.outline, ""), *((o, "#f0f0f0") for o in room.obstacles))
    ]


def _dimensions(spot: StandMarks, px: Callable[[Floats], Floats], system: str) -> list[Mark]:
    """How far out and how far aside the feet stand."""
    ink = PRINT["ink"]
    places = px(np.array([[0.0, 0.0], [spot.ahead, 0.0], [spot.ahead, spot.aside]]))
    (x0, y0), (x1, _), (_, y2) = places.tolist()
    below = max(y0, y2) + 34
    out = show(abs(spot.ahead), "length", system)
    marks: list[Mark] = [
        Line(((x0, y0 + 6), (x0, below + 4)), ink, 0.7),
        Line(((x1, y2 + 6), (x1, below + 4)), ink, 0.7),
        Line(((x0, below), (x1, below)), ink, 0.9),
        written((x0 + x1) / 2, below + 14, out, _SMALL, ink, "middle", back=PRINT["ground"]),
    ]
    if abs(spot.aside) > 0.02:
        right, over = x1 + 30, show(abs(spot.aside), "length", system)
        marks += [
            Line(((x0, y0), (right, y0)), ink, 0.7, "3 3"),
            Line(((right - 4, y0), (right - 4, y2)), ink, 0.9),
            Text((right + 2, (y0 + y2) / 2), over, _SMALL, ink),
        ]
    return marks
