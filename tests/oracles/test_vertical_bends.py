"""Vertical bends, one end level: the four closed forms of the North American installation guides
and AEIC CG5, after R. C. Rifenburg, AIEE Trans. PAS, 1953. The form is from memory (confidence
high); no printed example with a vertical bend was readable. Blocks V1-V6 and R1 are COMPUTED: a
step-by-step force balance, not published. So three ways stand beside each other here: the closed
forms at 30 digits, the stepped figures, and ``integrate``.

With ``A = 2K sin θ - (1-K²)(e^{Kθ} - cos θ)``, ``B = 2K e^{Kθ} sin θ + (1-K²)(1 - e^{Kθ} cos θ)``
and ``c = wR/(1+K²)``::

    sag up   T1 e^{Kθ} - c A      level -> +θ      center above
    sag down T1 e^{Kθ} - c B      -θ -> level
    crest up T1 e^{Kθ} + c B      +θ -> level      center below
    crest down T1 e^{Kθ} + c A    level -> -θ

Where the four are called "concave" and "convex" books differ; here the center decides.
"""

from __future__ import annotations

import math
from typing import NamedTuple

import mpmath
import pytest
from scipy.optimize import brentq

from route3d.geometry import Path
from route3d.mechanics.tension import integrate
from tests.support.routes import Go, Turn, route, slope

mpf = mpmath.mpf
# The blocks carry four decimals, or five: half of the last digit, and 1e-4 for the stepping.
STEPPED = 1.5e-4


class Block(NamedTuple):
    t1: float
    w: float
    radius: float
    k: float
    degrees: float
    values: dict[str, float]


BLOCKS = {
    "V1": Block(
        *(1000, 6.6, 10, 0.35, 90),
        dict(
            sag_up=1781.1182,
            sag_down=1609.9532,
            crest_up=1855.7858,
            crest_down=1684.6208,
            horizontal=1734.1268,
            capstan=1732.8695,
        ),
    ),
    "V2": Block(
        *(500, 10, 25, 0.4, 45),
        dict(
            sag_up=682.4839,
            sag_down=511.8651,
            crest_up=857.2426,
            crest_down=686.6238,
            horizontal=703.4011,
            capstan=684.5539,
        ),
    ),
    "V3": Block(
        *(2000, 3, 4, 0.5, 30),
        dict(
            sag_up=2596.8511,
            sag_down=2593.1967,
            crest_up=2603.8668,
            crest_down=2600.2124,
            horizontal=2598.5413,
            capstan=2598.5317,
        ),
    ),
    "V4": Block(
        *(300, 2.2, 3, 0.3, 90),
        dict(
            sag_up=485.7873,
            sag_down=469.2632,
            crest_up=491.9234,
            crest_down=475.3993,
            horizontal=480.6288,
            capstan=480.5933,
        ),
    ),
}


def bend(name: str, degrees: float, radius: float) -> Path:
    """The bend of that name, pulled forward along the path."""
    side, start = {
        "sag_up": ("up", 0.0),
        "sag_down": ("up", -degrees),
        "crest_up": ("down", degrees),
        "crest_down": ("down", 0.0),
        "horizontal": ("left", 0.0),
        "capstan": ("left", 0.0),
    }[name]
    return route(Turn(degrees, radius, side), heading=slope(start))


def leaving(
    path: Path, w: float, k: float, start: float, reverse: bool = False, method: str = "exact"
) -> float:
    return float(integrate(path, w, k, 1.0, start, reverse, method)[1][-1])


def closed_form(name: str, t1: float, w: float, radius: float, k: float, degrees: float) -> float:
    """The four forms as a handbook prints them, at 30 digits."""
    with mpmath.workdps(30):
        kk, theta = mpf(k), mpmath.radians(mpf(degrees))
        grow, sin, cos = mpmath.exp(kk * theta), mpmath.sin(theta), mpmath.cos(theta)
        a = 2 * kk * sin - (1 - kk**2) * (grow - cos)
        b = 2 * kk * grow * sin + (1 - kk**2) * (1 - grow * cos)
        c = mpf(w) * radius / (1 + kk**2)
        term = {"sag_up": -a, "sag_down": -b, "crest_up": b, "crest_down": a}[name]
        return float(t1 * grow + c * term)


FOUR = ["sag_up", "sag_down", "crest_up", "crest_down"]


@pytest.mark.parametrize("block", BLOCKS)
@pytest.mark.parametrize("name", FOUR)
def test_v1_to_v4_three_ways(block: str, name: str) -> None:
    t1, w, radius, k, degrees, values = BLOCKS[block]
    formula = closed_form(name, t1, w, radius, k, degrees)
    ours = leaving(bend(name, degrees, radius), w, k, t1)
    assert formula == pytest.approx(values[name], abs=STEPPED)
    assert ours == pytest.approx(formula, rel=2e-13)


@pytest.mark.parametrize("block", BLOCKS)
@pytest.mark.parametrize("name", FOUR)
def test_the_same_bend_pulled_from_its_other_end(block: str, name: str) -> None:
    t1, w, radius, k, degrees, _ = BLOCKS[block]
    twin = {"up": "down", "down": "up"}
    kind, way = name.split("_")
    other = bend(f"{kind}_{twin[way]}", degrees, radius)
    # Pulled backwards, a sag pulled down is the sag pulled up.
    expected = closed_form(name, t1, w, radius, k, degrees)
    assert leaving(other, w, k, t1, reverse=True) == pytest.approx(expected, rel=2e-13)


@pytest.mark.parametrize("block", BLOCKS)
def test_v1_to_v4_level_bend_and_capstan(block: str) -> None:
    t1, w, radius, k, degrees, values = BLOCKS[block]
    path = bend("horizontal", degrees, radius)
    assert leaving(path, w, k, t1) == pytest.approx(values["horizontal"], abs=STEPPED)
    capstan = leaving(path, w, k, t1, method="handbook")
    assert capstan == pytest.approx(values["capstan"], abs=5.1e-5)


def test_the_pairing_of_the_brackets() -> None:
    # Sag up and crest down share A, sag down and crest up share B; the sums are twice the capstan.
    for t1, w, radius, k, degrees, _ in BLOCKS.values():
        got = {n: leaving(bend(n, degrees, radius), w, k, t1) for n in FOUR}
        twice = 2 * t1 * math.exp(k * math.radians(degrees))
        assert got["sag_up"] + got["crest_down"] == pytest.approx(twice, rel=1e-12)
        assert got["sag_down"] + got["crest_up"] == pytest.approx(twice, rel=1e-12)


@pytest.mark.parametrize("slip", ["plus inside", "one plus K squared outside", "no exp in B"])
def test_the_misprints_that_circulate_do_not_fit_the_stepped_figures(slip: str) -> None:
    # From memory (confidence medium): (1+K²) for (1-K²); wR/(1+K)²; e^{Kθ} missing before sin θ.
    t1, w, radius, k, degrees, values = BLOCKS["V1"]
    theta = math.radians(degrees)
    grow, sin, cos = math.exp(k * theta), math.sin(theta), math.cos(theta)
    inner = 1 + k * k if slip == "plus inside" else 1 - k * k
    c = w * radius / ((1 + k) ** 2 if slip == "one plus K squared outside" else 1 + k * k)
    b = 2 * k * sin * (1 if slip == "no exp in B" else grow) + inner * (1 - grow * cos)
    assert abs(t1 * grow + c * b - values["crest_up"]) > 5


# --- neither end level --------------------------------------------------------------------------


def general(
    kind: str, t1: float, w: float, radius: float, k: float, start: float, end: float
) -> float:
    """Neither end level (COMPUTED form): slopes in degrees, 30 digits."""
    with mpmath.workdps(30):
        kk, c = mpf(k), mpf(w) * radius / (1 + mpf(k) ** 2)
        s = 1 if kind == "sag" else -1
        first, last = s * mpmath.radians(mpf(start)), s * mpmath.radians(mpf(end))

        def g(p: mpmath.mpf) -> mpmath.mpf:
            return 2 * kk * mpmath.sin(p) + (1 - kk**2) * mpmath.cos(p)

        return float((t1 + s * c * g(first)) * mpmath.exp(kk * (last - first)) - s * c * g(last))


def between(kind: str, radius: float, start: float, end: float) -> Path:
    side = "up" if kind == "sag" else "down"
    return route(Turn(abs(end - start), radius, side), heading=slope(start))


@pytest.mark.parametrize(
    ("kind", "start", "end", "stepped"),
    [
        ("sag", 10, 40, 940.90085),
        ("sag", -30, 20, 1015.95310),
        ("crest", 35, -15, 1067.64634),
    ],
)
def test_v5_neither_end_level(kind: str, start: float, end: float, stepped: float) -> None:
    formula = general(kind, 800, 5, 12, 0.3, start, end)
    assert formula == pytest.approx(stepped, abs=2e-5)  # five decimals
    ours = leaving(between(kind, 12, start, end), 5.0, 0.3, 800.0)
    assert ours == pytest.approx(formula, rel=2e-13)


@pytest.mark.parametrize("start", range(-80, 81, 40))
@pytest.mark.parametrize("end", [-60, -25, 10, 45, 75])
@pytest.mark.parametrize("k", [0.1, 0.35, 0.9, 1.0, 1.4])
def test_the_general_forms_wherever_tension_keeps_the_cable_on_one_wall(
    start: float, end: float, k: float
) -> None:
    kind = "sag" if end > start else "crest"
    formula = general(kind, 400, 5, 12, k, start, end)
    assert leaving(between(kind, 12, start, end), 5.0, k, 400.0) == pytest.approx(
        formula, rel=1e-12
    )


# --- low tension: the cable lies on the outer wall of a sag -------------------------------------


def low_sag(t1: float, w: float, radius: float, k: float, start: float, end: float) -> float:
    """T < wR cos φ throughout: the cable on the outer wall (COMPUTED form)."""
    with mpmath.workdps(30):
        kk, c = mpf(k), mpf(w) * radius / (1 + mpf(k) ** 2)
        first, last = mpmath.radians(mpf(start)), mpmath.radians(mpf(end))

        def h(p: mpmath.mpf) -> mpmath.mpf:
            return 2 * kk * mpmath.sin(p) - (1 - kk**2) * mpmath.cos(p)

        return float((t1 - c * h(first)) * mpmath.exp(-kk * (last - first)) + c * h(last))


def test_v6_low_tension_sag_to_45_degrees() -> None:
    ours = leaving(bend("sag_up", 45, 20), 6.0, 0.4, 0.0)
    assert ours == pytest.approx(60.54352, abs=1e-5)  # five decimals
    assert ours == pytest.approx(low_sag(0, 6, 20, 0.4, 0, 45), rel=1e-12)
    # The handbook form has the wrong sign here: -0.9936.
    assert closed_form("sag_up", 0, 6, 20, 0.4, 45) == pytest.approx(-0.9936, abs=5e-5)


def test_v6_low_tension_sag_to_90_degrees_changes_walls() -> None:
    ours = leaving(bend("sag_up", 90, 20), 6.0, 0.4, 0.0)
    assert ours == pytest.approx(166.10977, abs=1e-5)
    # Two forms joined where T = wR cos φ.
    switch = brentq(
        lambda p: low_sag(0, 6, 20, 0.4, 0, p) - 120 * math.cos(math.radians(p)), 20, 80, xtol=1e-12
    )
    at = low_sag(0, 6, 20, 0.4, 0, switch)
    assert ours == pytest.approx(general("sag", at, 6, 20, 0.4, switch, 90), rel=1e-11)
    # The handbook form gives less than half: 80.125.
    assert closed_form("sag_up", 0, 6, 20, 0.4, 90) == pytest.approx(80.125, abs=5e-4)


# --- a whole route ------------------------------------------------------------------------------


def r1() -> Path:
    return route(
        *(Go(100), Turn(90, 3), Go(60), Turn(45, 4, "up"), Go(40), Turn(45, 4, "down")),
        *(Go(80), Turn(90, 3), Go(20)),
    )


@pytest.mark.parametrize(
    ("reverse", "stepped"),
    [
        (
            False,
            [431.00, 747.13, 885.73, 1166.89, 1418.91, 1884.58, 2069.38, 3586.02, 3632.22],
        ),
        (True, [246.20, 427.09, 611.89, 804.55, 683.21, 882.62, 1021.22, 1769.75, 2000.75]),
    ],
)
def test_r1_a_whole_route_both_ways(reverse: bool, stepped: list[float]) -> None:
    _, t = integrate(r1(), 6.6, 0.35, start_tension=200, reverse=reverse)
    assert t[1:] == pytest.approx(stepped, abs=0.0051)  # two decimals


def test_published_guides_that_drop_gravity_in_bends_miss_the_climb() -> None:
    # ConQuest, TES and the IEEE 1185 chart method use exp(Kθ) in every bend (READ).
    _, exact = integrate(r1(), 6.6, 0.35, start_tension=200)
    _, handbook = integrate(r1(), 6.6, 0.35, start_tension=200, method="handbook")
    assert handbook[-1] < exact[-1]
