"""R. C. Rifenburg, "Pipe-Line Design for Pipe-Type Feeders", AIEE Trans. PAS, 1953 (the closed
form in the paper: from memory); Buller 1949. That these two are the origin is READ in Medek & Thue,
Electrical Power Cable Engineering, ch. 11 p. 1,
https://www.edocr.com/v/6xzwe7qy/globaldocuments/electricpowercableengineeringch11pdf .

``T2 = T1 cosh(Kθ) + sinh(Kθ) sqrt(T1² + (wR)²)``: a level bend with the cable's weight (form READ
in a lubricant maker's technical article). Error table and block H1 of the notes: COMPUTED.
"""

from __future__ import annotations

import math

import mpmath
import pytest

from route3d.geometry import Path
from route3d.mechanics.tension import integrate
from tests.support.routes import Turn, route


def full_form(t1: float, wr: float, angle: float) -> float:
    """The closed form at 30 digits; ``angle`` is K θ."""
    with mpmath.workdps(30):
        t, a, m = mpmath.mpf(t1), mpmath.mpf(angle), mpmath.mpf(wr)
        return float(t * mpmath.cosh(a) + mpmath.sinh(a) * mpmath.sqrt(t * t + m * m))


def leaving(path: Path, w: float, k: float, start: float, method: str = "exact") -> float:
    return float(integrate(path, w, k, start_tension=start, method=method)[1][-1])


# wR/T1, factor of the full form, capstan low by this percentage; Kθ = 0.35 π/2 (equations 1.2).
ERRORS = [
    (0.05, 1.733591, 0.042),
    (0.1, 1.735752, 0.166),
    (0.25, 1.750655, 1.026),
    (0.5, 1.801081, 3.936),
    (1.0, 1.972242, 13.81),
    (2.0, 2.447188, 41.2),
    (5.0, 4.101677, 136.7),
    (10.0, 6.962757, 301.8),
]


@pytest.mark.parametrize(("ratio", "factor", "percent"), ERRORS)
def test_error_of_the_capstan_form(ratio: float, factor: float, percent: float) -> None:
    path, t1 = route(Turn(90, 10)), 1000.0
    w = ratio * t1 / 10
    exact = leaving(path, w, 0.35, t1)
    capstan = leaving(path, w, 0.35, t1, "handbook")
    assert exact / t1 == pytest.approx(factor, abs=5.1e-7)  # six decimals
    assert capstan / t1 == pytest.approx(1.732870, abs=5.1e-7)
    low = 100 * (exact - capstan) / capstan  # percent of the capstan value
    # The table gives three decimals up to 3.936, two at 13.81, then one.
    assert low == pytest.approx(percent, abs=0.00051 if percent < 10 else 0.051)


def test_h1_from_zero_tension() -> None:
    # w 6, R 10, K 0.35, 90 deg: wR sinh(Kθ) = 34.67376, where the capstan form gives 0.
    got = leaving(route(Turn(90, 10)), 6.0, 0.35, 0.0)
    assert got == pytest.approx(34.67376, abs=5.1e-6)
    assert got == pytest.approx(60 * math.sinh(0.35 * math.pi / 2), rel=1e-14)
    assert leaving(route(Turn(90, 10)), 6.0, 0.35, 0.0, "handbook") == 0.0


@pytest.mark.parametrize("t1", [0.0, 3.0, 60.0, 1e4])
@pytest.mark.parametrize("degrees", [0.5, 45.0, 90.0, 165.0])
@pytest.mark.parametrize("side", ["left", "right"])
def test_full_form(t1: float, degrees: float, side: str) -> None:
    path = route(Turn(degrees, 10, side))
    expected = full_form(t1, 60.0, 0.35 * math.radians(degrees))
    assert leaving(path, 6.0, 0.35, t1) == pytest.approx(expected, rel=1e-13)


def test_the_article_prints_the_radical_with_its_bracket_in_the_wrong_place() -> None:
    # MISPRINT (READ): "Sqrt(Tin2 )+ (WR)2)"; correct sqrt(Tin² + (WR)²). Taken literally,
    # sqrt(Tin²) + (WR)² mixes a force and its square: 4,140 against 626.
    t1, wr, a = 300.0, 60.0, 0.35 * math.pi / 2
    misprint = t1 * math.cosh(a) + math.sinh(a) * (math.sqrt(t1**2) + wr**2)
    correct = leaving(route(Turn(90, 10)), 6.0, 0.35, t1)
    assert correct == pytest.approx(full_form(t1, wr, a), rel=1e-13)
    assert misprint > 4 * correct


def test_w_of_the_article_must_be_weight_per_length() -> None:
    # MISPRINT (READ): its list of symbols gives W as "lbs, kg". Doubling R doubles W R only if W is
    # per length: the answer then scales like a force.
    small = leaving(route(Turn(90, 10)), 6.0, 0.35, 100.0)
    large = leaving(route(Turn(90, 20)), 6.0, 0.35, 200.0)
    assert large == pytest.approx(2 * small, rel=1e-13)


def test_the_simplified_form_is_never_above_the_full_one() -> None:
    for t1 in (0.0, 1.0, 100.0, 1e5):
        path = route(Turn(60, 4))
        assert leaving(path, 6.0, 0.35, t1) >= leaving(path, 6.0, 0.35, t1, "handbook")
