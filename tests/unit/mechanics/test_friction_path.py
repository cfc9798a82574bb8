"""The course of a pull: what it needs at its reel is what the law says, found the short way too."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from route3d.geometry.fillet import route_path
from route3d.mechanics.friction_path import course
from route3d.mechanics.pull import run_fits
from route3d.mechanics.tension import brake
from route3d.model import Practice
from tests.support import jobs
from tests.support.jobs import along, conduit
from tests.support.routes import Go, Turn, vertices

# Slopes of 0, 10 and 15 degrees; the friction angle of 0.25 is 14 degrees.
SLOPES = [0.0, -0.1736, 0.1736, -0.2588, 0.2588]


@pytest.mark.parametrize("slope", SLOPES)
@pytest.mark.parametrize("reverse", [False, True])
@pytest.mark.parametrize("method", ["exact", "handbook"])
def test_no_brake_is_needed_where_friction_holds(slope: float, reverse: bool, method: str) -> None:
    heading = (np.sqrt(1 - slope * slope), 0.0, slope)
    shape = vertices([Go(30), Turn(60, 2.0), Go(20), Turn(90, 1.0, "right"), Go(40)], heading)
    run = jobs.run(along(shape, conduit(friction=0.25)))
    way = course(run, Practice(), route_path(run.route), run_fits(run), reverse)
    way = replace(way, method=method)
    law = (way.weight, way.friction, way.weight_factor, reverse, method)
    expected = brake(way.fine, *law, per_segment=True)[1]
    # The march leaves some 1e-15 N of rounding where the truth is nothing.
    np.testing.assert_allclose(way.needed, expected, rtol=0, atol=1e-9)


def test_a_brake_is_needed_where_the_fall_is_steeper_than_friction_holds() -> None:
    for fall, braked in ((13.9, False), (14.2, True)):  # the friction angle is 14.04 degrees
        slope = np.radians(fall)
        shape = vertices([Go(50)], (np.cos(slope), 0.0, -np.sin(slope)))
        run = jobs.run(along(shape, conduit(friction=0.25)))
        way = course(run, Practice(), route_path(run.route), run_fits(run), False)
        assert bool(way.needed[0] > 0) == braked
