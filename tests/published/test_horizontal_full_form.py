"""Level bends with the cable's weight in them: the full form, and how low the capstan reads.

MEMORY: T2 = T1 cosh(K a) + sinh(K a) sqrt(T1^2 + (w R)^2) in Rifenburg, "Pipe-Line Design for
Pipe-Type Feeders", AIEE Trans. PAS, 1953; that Buller (1949) and Rifenburg are the origin is READ
in Medek & Thue, Electrical Power Cable Engineering, ch. 11, p. 1,
https://www.edocr.com/v/6xzwe7qy/globaldocuments/electricpowercableengineeringch11pdf
READ: a lubricant maker's technical article has the same form, with a bracket misplaced in print.
COMPUTED (reference notes 1.2, blocks H1 and V1-V4): the table of factors and the figures.

Units cancel; N and m serve.
"""

from __future__ import annotations

import mpmath as mp
import pytest

from route3d.geometry.path import Path
from route3d.mechanics.tension import integrate

PROMISE = 1e-8  # of the integrator (design section 3)
CAPSTAN = 1.732870  # exp(0.35 pi/2)


def bend(degrees: float, radius: float) -> Path:
    angle = float(mp.radians(degrees))
    return Path(
        kind=[1],
        lengths=[radius * angle],
        angles=[angle],
        starts=[[0, 0, 0]],
        tangents=[[1, 0, 0]],
        normals=[[0, 1, 0]],
        vertex=[1],
        leg=[0],
    )


def ours(
    t1: float, w: float, radius: float, k: float, degrees: float, method: str = "exact"
) -> float:
    return float(integrate(bend(degrees, radius), w, k, 1.0, t1, method=method)[1][-1])


def full_form(t1: float, w: float, radius: float, k: float, degrees: float) -> float:
    with mp.workdps(30):
        turn = mp.mpf(k) * mp.radians(mp.mpf(degrees))
        load = mp.sqrt(mp.mpf(t1) ** 2 + (mp.mpf(w) * radius) ** 2)
        return float(t1 * mp.cosh(turn) + mp.sinh(turn) * load)


# COMPUTED: w R/T1, full factor to six decimals, percent by which the capstan is low and the half
# of its last digit. K a = 0.35 pi/2.
FACTORS = [
    (0.05, 1.733591, 0.042, 0.0005),
    (0.1, 1.735752, 0.166, 0.0005),
    (0.25, 1.750655, 1.026, 0.0005),
    (0.5, 1.801081, 3.936, 0.0005),
    (1.0, 1.972242, 13.81, 0.005),
    (2.0, 2.447188, 41.2, 0.05),
    (5.0, 4.101677, 136.7, 0.05),
    (10.0, 6.962757, 301.8, 0.05),
]


@pytest.mark.parametrize(("ratio", "factor", "percent", "half_digit"), FACTORS)
def test_table_of_factors(ratio: float, factor: float, percent: float, half_digit: float) -> None:
    full = ours(1.0, ratio, 1.0, 0.35, 90.0)
    capstan = ours(1.0, ratio, 1.0, 0.35, 90.0, "handbook")
    assert capstan == pytest.approx(CAPSTAN, abs=0.501e-6)  # half of the last digit
    assert full == pytest.approx(factor, abs=0.501e-6 + PROMISE * factor)
    assert (full / capstan - 1) * 100 == pytest.approx(percent, abs=1.002 * half_digit)


def test_without_weight_it_is_the_capstan() -> None:
    # The table's first row, w R/T1 = 0: a weight that is 1e-12 of T1 adds 1e-24 of it.
    assert ours(1.0, 1e-12, 1.0, 0.35, 90.0) == pytest.approx(CAPSTAN, abs=0.501e-6)


# COMPUTED, four decimals: (T1, w, R, K, degrees), full form, capstan.
SETS = [
    ((1000.0, 6.6, 10.0, 0.35, 90.0), 1734.1268, 1732.8695),
    ((500.0, 10.0, 25.0, 0.4, 45.0), 703.4011, 684.5539),
    ((2000.0, 3.0, 4.0, 0.5, 30.0), 2598.5413, 2598.5317),
    ((300.0, 2.2, 3.0, 0.3, 90.0), 480.6288, 480.5933),
]


@pytest.mark.parametrize(("inputs", "full", "capstan"), SETS)
def test_against_the_force_balance(
    inputs: tuple[float, float, float, float, float], full: float, capstan: float
) -> None:
    assert ours(*inputs) == pytest.approx(full, abs=0.00005 + PROMISE * full)
    assert ours(*inputs) == pytest.approx(full_form(*inputs), rel=PROMISE)
    assert ours(*inputs, "handbook") == pytest.approx(capstan, abs=0.0000501)


def test_from_zero_tension() -> None:
    # COMPUTED, H1: w R sinh(K a) = 34.67376, where the capstan gives nothing.
    assert ours(0.0, 6.0, 10.0, 0.35, 90.0) == pytest.approx(34.67376, abs=0.0000055)
    assert ours(0.0, 6.0, 10.0, 0.35, 90.0) == pytest.approx(
        full_form(0.0, 6.0, 10.0, 0.35, 90.0), rel=PROMISE
    )
    assert ours(0.0, 6.0, 10.0, 0.35, 90.0, "handbook") == 0.0


def test_equivalent_form_that_chains() -> None:
    # COMPUTED: asinh(T2/wR) = asinh(T1/wR) + K a. Two bends after each other make one.
    t2 = ours(ours(100.0, 5.0, 4.0, 0.3, 30.0), 5.0, 4.0, 0.3, 50.0)
    with mp.workdps(30):
        expected = 20 * mp.sinh(mp.asinh(mp.mpf(100) / 20) + mp.mpf("0.3") * mp.radians(80))
    assert t2 == pytest.approx(float(expected), rel=2 * PROMISE)
