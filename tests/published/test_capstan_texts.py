"""The capstan law against textbooks of mechanics: bend after bend of a cable without weight.

READ, each beside its test: Beer & Johnston, Vector Mechanics: Statics, problem 8.104; pickedshares
engineering mechanics exercise 27; engineeringtoolbox bollard force; two encyclopedia values.
COMPUTED (reference notes, 7.1): further digits, named where used.

The wrap is laid level as quarter turns or less. Units cancel: lb, N and plain ratios are used as
the texts have them.
"""

from __future__ import annotations

import math

import pytest

from route3d.geometry.path import Path
from route3d.mechanics.tension import METHODS, integrate

WEIGHTLESS = 1e-12  # per length; the law asks for a positive weight


def wrap(method: str, friction: float, turns: float, tail: float = 1.0) -> float:
    """Tension on the pulling side of ``turns`` around a bollard of radius 1."""
    pieces = math.ceil(turns * 4)
    angle = 2 * math.pi * turns / pieces
    quarter = Path(
        kind=[1],
        lengths=[angle],
        angles=[angle],
        starts=[[0, 0, 0]],
        tangents=[[1, 0, 0]],
        normals=[[0, 1, 0]],
        vertex=[1],
        leg=[0],
    )
    for _ in range(pieces):
        tail = float(integrate(quarter, WEIGHTLESS, friction, 1.0, tail, method=method)[1][-1])
    return tail


@pytest.fixture(params=METHODS)
def method(request: pytest.FixtureRequest) -> str:
    return str(request.param)


def test_beer_and_johnston_8_104(method: str) -> None:
    # READ: 80 lb holds 5000 lb by two turns: mu = 0.329; the turns for 20 000 lb: 2.67.
    # https://studysoup.com/tsg/1062049/vector-mechanics-for-engineers-statics-10-edition-chapter-8-problem-8-104
    # The answer is right when the value asked for lies within half of the last printed digit.
    assert wrap(method, 0.3285, 2.0, 80.0) < 5000.0 < wrap(method, 0.3295, 2.0, 80.0)
    assert wrap(method, 0.329066, 2.665, 80.0) < 20000.0 < wrap(method, 0.329066, 2.675, 80.0)


def test_rope_over_a_three_quarter_wrap(method: str) -> None:
    # READ: m = 100 kg, g = 9.81, mu = 0.2, wrap 3 pi/2: 382.26 N holds it.
    # https://pickedshares.com/en/engineering-mechanics-1-exercise-27-rope-friction
    assert 100 * 9.81 / wrap(method, 0.2, 0.75) == pytest.approx(382.26, abs=0.00501)


def test_bollard(method: str) -> None:
    # READ: 500 N, mu 0.4, half a turn: 142 N; one turn at 0.5: 0.043. Half of the last digit.
    # http://www.engineeringtoolbox.com/bollard-force-d_1296.html
    # Its heading line prints exp(-0.5 2 pi) above the line that really uses exp(-0.4 pi): that
    # would be 21.6 N, so the result printed belongs to the second.
    assert 500 / wrap(method, 0.4, 0.5) == pytest.approx(142, abs=0.5)
    assert 1 / wrap(method, 0.5, 1.0) == pytest.approx(0.043, abs=0.000501)
    assert 500 / wrap(method, 0.5, 1.0) == pytest.approx(21.6, abs=0.0501)  # COMPUTED


def test_five_turns(method: str) -> None:
    # READ: an encyclopedia table, mu 0.6 and five turns: 153552935. COMPUTED: 153552935.395.
    # Half of the last digit; twenty quarter turns keep 1e-12 of it, 0.0002.
    assert wrap(method, 0.6, 5.0) == pytest.approx(153552935, abs=0.501)


def test_one_and_two_turns(method: str) -> None:
    # READ: mu 0.3, one turn 6.6, two turns "about 43".
    # https://openknowledgegraph.com/topics/friction-with-belt-drives-questions.html
    assert wrap(method, 0.3, 1.0) == pytest.approx(6.6, abs=0.0501)
    assert wrap(method, 0.3, 2.0) == pytest.approx(43, abs=0.501)
