"""Bends in a vertical plane against closed forms and a step-by-step force balance.

MEMORY: the four closed forms with one end level (North American manufacturers' installation guides
and AEIC CG5, after Rifenburg, "Pipe-Line Design for Pipe-Type Feeders", AIEE Trans. PAS, 1953); not
seen in print. Written out here with mpmath, apart from the code under test.
COMPUTED (reference notes 1.3 and blocks V1-V6, R1): the general forms with neither end level, the
form for a cable on the outer wall, and the figures, by a force balance marched in small steps.

"Sag" has its centre of curvature above, "crest" below. Units cancel; N and m serve.
"""

from __future__ import annotations

import mpmath as mp
import numpy as np
import pytest

from route3d.geometry.path import Path
from route3d.mechanics.tension import integrate
from tests.support.routes import Go, Turn, route

# Of the integrator's promise (design section 3), and of nothing else.
PROMISE = 1e-8


def bend(start: float, end: float, radius: float) -> Path:
    """A bend in the xz plane from one slope to another, degrees above the horizontal."""
    first, angle = np.radians(start), np.radians(abs(end - start))
    normal = np.sign(end - start) * np.array([-np.sin(first), 0.0, np.cos(first)])
    return Path(
        kind=[1],
        lengths=[radius * angle],
        angles=[angle],
        starts=[[0, 0, 0]],
        tangents=[[np.cos(first), 0.0, np.sin(first)]],
        normals=[normal],
        vertex=[1],
        leg=[0],
    )


def ours(start: float, end: float, t1: float, w: float, radius: float, k: float) -> float:
    return float(integrate(bend(start, end, radius), w, k, 1.0, t1)[1][-1])


def handbook_forms(t1: float, w: float, radius: float, k: float, degrees: float) -> list[float]:
    """Sag up, sag down, crest up, crest down with one end level."""
    with mp.workdps(30):
        theta, k = mp.radians(mp.mpf(degrees)), mp.mpf(k)
        grow, sin, cos = mp.exp(k * theta), mp.sin(theta), mp.cos(theta)
        a = 2 * k * sin - (1 - k**2) * (grow - cos)
        b = 2 * k * grow * sin + (1 - k**2) * (1 - grow * cos)
        c = mp.mpf(w) * radius / (1 + k**2)
        return [float(t1 * grow + term) for term in (-c * a, -c * b, c * b, c * a)]


def general_form(start: float, end: float, t1: float, w: float, radius: float, k: float) -> float:
    """A bend with neither end level, the cable on the inner wall."""
    with mp.workdps(30):
        k = mp.mpf(k)
        c = mp.mpf(w) * radius / (1 + k**2)
        sag = end > start
        p1, p2 = (mp.radians(mp.mpf(p if sag else -p)) for p in (start, end))
        sign = 1 if sag else -1

        def g(p: mp.mpf) -> mp.mpf:
            return 2 * k * mp.sin(p) + (1 - k**2) * mp.cos(p)

        return float((t1 + sign * c * g(p1)) * mp.exp(k * (p2 - p1)) - sign * c * g(p2))


def low_tension_sag(t1: float, w: float, radius: float, k: float, degrees: float) -> float:
    """A sag from level that starts on the outer wall and changes to the inner one on its way."""
    with mp.workdps(30):
        k, t1, end = mp.mpf(k), mp.mpf(t1), mp.radians(mp.mpf(degrees))
        c = mp.mpf(w) * radius / (1 + k**2)

        def h(p: mp.mpf) -> mp.mpf:
            return 2 * k * mp.sin(p) - (1 - k**2) * mp.cos(p)

        def outer(p: mp.mpf) -> mp.mpf:
            return (t1 - c * h(mp.mpf(0))) * mp.exp(-k * p) + c * h(p)

        change = mp.findroot(lambda p: outer(p) - w * radius * mp.cos(p), 0.5)
        if change >= end:
            return float(outer(end))
    start = float(mp.degrees(change))
    return general_form(start, degrees, float(outer(change)), w, radius, float(k))


# COMPUTED, four decimals: (T1, w, R, K, degrees), sag up, sag down, crest up, crest down.
ONE_END_LEVEL = [
    ((1000.0, 6.6, 10.0, 0.35, 90.0), (1781.1182, 1609.9532, 1855.7858, 1684.6208)),
    ((500.0, 10.0, 25.0, 0.4, 45.0), (682.4839, 511.8651, 857.2426, 686.6238)),
    ((2000.0, 3.0, 4.0, 0.5, 30.0), (2596.8511, 2593.1967, 2603.8668, 2600.2124)),
    ((300.0, 2.2, 3.0, 0.3, 90.0), (485.7873, 469.2632, 491.9234, 475.3993)),
]


@pytest.mark.parametrize(("inputs", "marched"), ONE_END_LEVEL)
def test_one_end_level(
    inputs: tuple[float, float, float, float, float], marched: tuple[float, ...]
) -> None:
    t1, w, radius, k, degrees = inputs
    slopes = [(0.0, degrees), (-degrees, 0.0), (degrees, 0.0), (0.0, -degrees)]
    found = [ours(a, b, t1, w, radius, k) for a, b in slopes]
    assert found == pytest.approx(handbook_forms(*inputs), rel=PROMISE)
    # Half of the last digit, and the promise on the largest.
    assert found == pytest.approx(marched, abs=0.00005 + PROMISE * max(marched))


# COMPUTED, five decimals, T1 = 800, w = 5, R = 12, K = 0.3.
@pytest.mark.parametrize(
    ("start", "end", "marched"),
    [(10.0, 40.0, 940.90085), (-30.0, 20.0, 1015.95310), (35.0, -15.0, 1067.64634)],
)
def test_neither_end_level(start: float, end: float, marched: float) -> None:
    found = ours(start, end, 800.0, 5.0, 12.0, 0.3)
    assert found == pytest.approx(general_form(start, end, 800.0, 5.0, 12.0, 0.3), rel=PROMISE)
    assert found == pytest.approx(marched, abs=0.000005 + PROMISE * marched)


# COMPUTED, T1 = 0, w = 6, R = 20, K = 0.4: the cable begins on the outer wall. The handbook form
# of a sag takes it to be on the inner one and gives -0.9936 and 80.125: it must not be met.
@pytest.mark.parametrize(
    ("degrees", "marched", "handbook"), [(45.0, 60.54352, -0.9936), (90.0, 166.10977, 80.125)]
)
def test_low_tension_sag(degrees: float, marched: float, handbook: float) -> None:
    found = ours(0.0, degrees, 0.0, 6.0, 20.0, 0.4)
    assert found == pytest.approx(marched, abs=0.000005 + PROMISE * marched)
    assert found == pytest.approx(low_tension_sag(0.0, 6.0, 20.0, 0.4, degrees), rel=PROMISE)
    # Half of the last digit of 80.125, the coarser of the two.
    assert handbook_forms(0.0, 6.0, 20.0, 0.4, degrees)[0] == pytest.approx(handbook, abs=0.000501)
    assert found > handbook + 50


# COMPUTED, two decimals: level 100, 90 deg R3, level 60, sag 45 R4, incline 40, crest 45 R4,
# level 80, 90 deg R3, level 20; w = 6.6, K = 0.35, T0 = 200.
WHOLE_ROUTE: list[Go | Turn] = [
    Go(100.0),
    Turn(90.0, 3.0, "left"),
    Go(60.0),
    Turn(45.0, 4.0, "up"),
    Go(40.0),
    Turn(45.0, 4.0, "down"),
    Go(80.0),
    Turn(90.0, 3.0, "left"),
    Go(20.0),
]
WHOLE_FORWARD = [431.00, 747.13, 885.73, 1166.89, 1418.91, 1884.58, 2069.38, 3586.02, 3632.22]
WHOLE_REVERSE = [246.20, 427.09, 611.89, 804.55, 683.21, 882.62, 1021.22, 1769.75, 2000.75]


@pytest.mark.parametrize(("reverse", "marched"), [(False, WHOLE_FORWARD), (True, WHOLE_REVERSE)])
def test_whole_route(reverse: bool, marched: list[float]) -> None:
    found = integrate(route(*WHOLE_ROUTE), 6.6, 0.35, 1.0, 200.0, reverse)[1][1:]
    # Half of the last digit; the promise is 0.00004 of 3632.
    assert found.tolist() == pytest.approx(marched, abs=0.00505)
