"""Belt friction in textbooks: ``T2 = T1 exp(μ θ)`` (Euler-Eytelwein), blocks C1-C5.

- C1: Beer & Johnston, Vector Mechanics for Engineers: Statics, 10th/11th ed., problem 8.104. READ
  https://studysoup.com/tsg/1062049/vector-mechanics-for-engineers-statics-10-edition-chapter-8-problem-8-104
  (text), https://www.edu.com/homework-helper/math/question/1323249/ (answers).
- C2: READ https://pickedshares.com/en/engineering-mechanics-1-exercise-27-rope-friction
- C3: READ http://www.engineeringtoolbox.com/bollard-force-d_1296.html
- C4: READ, an encyclopedia table.
- C5: READ https://openknowledgegraph.com/topics/friction-with-belt-drives-questions.html

A weightless rope is reached with a weight so small that wR is 1e-9 of the tension.
"""

from __future__ import annotations

import math

import pytest

from route3d.mechanics.tension import integrate
from tests.support.published import printed
from tests.support.routes import Turn, route

pytestmark = pytest.mark.source("Belt friction in textbooks (read)")

TURN = 2 * math.pi


def wrapped(small: float, mu: float, wrap: float, method: str = "exact") -> float:
    """Tension at the other end of ``wrap`` rad round a post, as bends of a quarter or less."""
    count = math.ceil(wrap / (math.pi / 2))
    path = route(*[Turn(math.degrees(wrap / count), 1.0, "left")] * count)
    return float(integrate(path, 1e-9 * small, mu, start_tension=small, method=method)[1][-1])


@pytest.mark.parametrize("method", ["exact", "handbook"])
@pytest.mark.source("Beer & Johnston, Statics, 10th/11th ed. (read)")
@pytest.mark.clause("problem 8.104")
def test_c1_beer_johnston_8_104(method: str) -> None:
    # 80 lb holds 5000 lb with two turns: μ printed 0.329; exact 0.329066.
    mu = math.log(5000 / 80) / (2 * TURN)
    assert mu == printed(0.329, abs=5e-4)
    assert wrapped(80, mu, 2 * TURN, method) == printed(5000, rel=1e-8)
    # Turns for 20,000 lb: printed 2.67 (another solution site rounds up to 3 whole wraps).
    assert wrapped(80, mu, 2.67049 * TURN, method) == printed(20000, rel=1e-5)


@pytest.mark.source("pickedshares.com, engineering mechanics (read)")
@pytest.mark.clause("exercise 27")
def test_c2_a_mass_held_by_three_quarters_of_a_turn() -> None:
    # m 100 kg, g 9.81, μ 0.2: holding force printed 382.26 N; exact 382.258.
    holding = 100 * 9.81 / math.exp(0.2 * 1.5 * math.pi)
    assert holding == printed(382.26, abs=0.005)
    assert wrapped(holding, 0.2, 1.5 * math.pi) == printed(981.0, rel=1e-8)


@pytest.mark.source("engineeringtoolbox.com, bollard force (read)")
@pytest.mark.clause("bollard")
def test_c3_bollard() -> None:
    # F 500 N, μ 0.4, half a turn: printed S = 142; exact 142.305.
    assert wrapped(142.305, 0.4, math.pi) == printed(500, abs=0.002)
    # One turn, μ 0.5: printed 0.043; exact 0.043214.
    assert 1 / wrapped(1.0, 0.5, TURN) == printed(0.043214, abs=5e-7)
    # MISPRINT there: the heading shows e^(-0.5 2π) above the line that uses e^(-0.4 π).
    assert 500 * math.exp(-0.5 * TURN) == printed(21.6, abs=0.05)


@pytest.mark.source("An encyclopedia's table of belt friction (read)")
@pytest.mark.clause("five turns")
def test_c4_five_turns() -> None:
    # μ 0.6: 153,552,935 (exact 153,552,935.395).
    assert wrapped(1.0, 0.6, 5 * TURN) == printed(153_552_935.395, rel=1e-8)
    assert wrapped(1.0, 0.6, 5 * TURN, "handbook") == printed(153_552_935.395, rel=1e-11)


@pytest.mark.parametrize(("turns", "figure", "digits"), [(1, 6.6, 0.05), (2, 43, 0.5)])
@pytest.mark.source("openknowledgegraph.com, friction with belt drives (read)")
@pytest.mark.clause("one and two turns")
def test_c5_one_and_two_turns(turns: int, figure: float, digits: float) -> None:
    # μ 0.3: exact 6.5861 and 43.376.
    assert wrapped(1.0, 0.3, turns * TURN) == printed(figure, abs=digits)
    exact = {1: 6.5861, 2: 43.376}[turns]
    assert wrapped(1.0, 0.3, turns * TURN) == printed(exact, rel=2e-5)
