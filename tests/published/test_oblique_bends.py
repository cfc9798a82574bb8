"""Bends in a tilted plane: figures of a force balance, and the borehole form of the same law.

COMPUTED (reference notes 1.4, blocks S1-S3): a force balance marched in small steps; not published.
MEMORY: Johancsik, Friesen, Dawson, "Torque and Drag in Directional Wells - Prediction and
Measurement", JPT June 1984 (SPE-11380-PA): dF = W cos(inc) + mu Fn on each short element, with
Fn^2 = (F dAzi sin(inc))^2 + (F dInc + W sin(inc))^2, inc from the vertical. READ: only the summary
and introduction of that paper (drag is friction times sidewall force); no number of it was seen.

Units cancel; N and m serve.
"""

from __future__ import annotations

import math

import numpy as np
import pytest

from route3d.geometry.path import Path
from route3d.geometry.vectors import Floats
from route3d.mechanics.tension import integrate

HALF_ROOT_3 = math.sqrt(3) / 2  # the notes print the tangents and normals to six decimals
SLOPE_20 = [math.cos(math.radians(20)), 0.0, math.sin(math.radians(20))]

# (T1, w, R, K, degrees, t0, n0), T2 to five decimals.
BENDS = {
    "S1, plane tilted 30 degrees, climbs": (
        (600.0, 4.0, 5.0, 0.4, 90.0, [1.0, 0.0, 0.0], [0.0, HALF_ROOT_3, 0.5]),
        1131.52004,
    ),
    "S2, the same plane, falls": (
        (600.0, 4.0, 5.0, 0.4, 90.0, [1.0, 0.0, 0.0], [0.0, HALF_ROOT_3, -0.5]),
        1118.16248,
    ),
    "S3, starts 20 degrees uphill": (
        (250.0, 6.0, 8.0, 0.3, 60.0, SLOPE_20, [0.0, 1.0, 0.0]),
        363.22796,
    ),
}
Inputs = tuple[float, float, float, float, float, list[float], list[float]]


def ours(inputs: Inputs) -> float:
    t1, w, radius, k, degrees, t0, n0 = inputs
    angle = math.radians(degrees)
    path = Path(
        kind=[1],
        lengths=[radius * angle],
        angles=[angle],
        starts=[[0, 0, 0]],
        tangents=[t0],
        normals=[n0],
        vertex=[1],
        leg=[0],
    )
    return float(integrate(path, w, k, 1.0, t1)[1][-1])


def inclination_and_azimuth(t0: list[float], n0: list[float], angle: Floats) -> Floats:
    t = np.outer(np.cos(angle), t0) + np.outer(np.sin(angle), n0)
    return np.array([np.arccos(t[:, 2]), np.arctan2(t[:, 1], t[:, 0])])


def torque_and_drag(inputs: Inputs, elements: int = 4000) -> float:
    """Johancsik's elements, pulled along the bend, tension taken at the middle of each."""
    force, w, radius, mu, degrees, t0, n0 = inputs
    angle = np.linspace(0.0, math.radians(degrees), elements + 1)
    inc, azi = inclination_and_azimuth(t0, n0, angle)
    weight = w * radius * math.radians(degrees) / elements

    for i in range(elements):
        mean = (inc[i] + inc[i + 1]) / 2
        lateral = math.sin(mean) * (azi[i + 1] - azi[i])
        bend, sine, along = inc[i + 1] - inc[i], weight * math.sin(mean), weight * math.cos(mean)
        half = force + (along + mu * math.hypot(force * lateral, force * bend + sine)) / 2
        force += along + mu * math.hypot(half * lateral, half * bend + sine)
    return force


@pytest.mark.parametrize(("inputs", "marched"), BENDS.values(), ids=BENDS.keys())
def test_force_balance(inputs: Inputs, marched: float) -> None:
    # Half of the last digit, and the integrator's promise of 1e-8 (design section 3).
    assert ours(inputs) == pytest.approx(marched, abs=0.000005 + 1e-8 * marched)


@pytest.mark.parametrize("inputs", [b[0] for b in BENDS.values()], ids=BENDS.keys())
def test_borehole_elements(inputs: Inputs) -> None:
    # Second order in the element: 4000 of them leave below 1e-7, and twice as many cut
    # the error to a quarter.
    assert torque_and_drag(inputs) == pytest.approx(ours(inputs), rel=1e-7)
    coarse = abs(torque_and_drag(inputs, 50) - ours(inputs))
    fine = abs(torque_and_drag(inputs, 100) - ours(inputs))
    assert coarse / fine == pytest.approx(4.0, rel=0.1)
