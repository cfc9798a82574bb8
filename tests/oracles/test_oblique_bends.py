"""Blocks S1-S3: bends in tilted planes, by stepping the force balance (COMPUTED, not published).

No publication with a worked oblique bend was readable. The law is the soft string of borehole
torque and drag (docs/theory.md section 2; READ in drilling symbols at
https://docs.oliasoft.com/technical-documentation/torque-and-drag ).
"""

from __future__ import annotations

import numpy as np
import pytest

from route3d.mechanics.tension import integrate
from tests.support import oracle
from tests.support.routes import Turn, route

# The step-by-step balance is printed with five decimals.
PRINTED = 5.1e-6


@pytest.mark.parametrize(
    ("t1", "w", "radius", "k", "degrees", "t0", "n0", "expected"),
    [
        # S1: plane tilted 30 degrees, climbs
        (600, 4, 5, 0.4, 90, (1, 0, 0), (0, 0.866025, 0.5), 1131.52004),
        # S2: as S1, descends
        (600, 4, 5, 0.4, 90, (1, 0, 0), (0, 0.866025, -0.5), 1118.16248),
        # S3: starts 20 degrees uphill, turns level
        (250, 6, 8, 0.3, 60, (0.939693, 0, 0.342020), (0, 1, 0), 363.22796),
    ],
)
def test_s1_to_s3(
    t1: float,
    w: float,
    radius: float,
    k: float,
    degrees: float,
    t0: tuple[float, float, float],
    n0: tuple[float, float, float],
    expected: float,
) -> None:
    path = route(Turn(degrees, radius, n0), heading=t0)
    assert path.normals[0] == pytest.approx(np.array(n0), abs=1e-6)
    _, t = integrate(path, w, k, start_tension=t1)
    # n0 and t0 carry six decimals: their last digit moves T2 by 1e-5.
    assert t[-1] == pytest.approx(expected, abs=PRINTED + 1e-5)
    assert oracle.tensions(path, w, k, t1)[-1] == pytest.approx(t[-1], rel=1e-11)
