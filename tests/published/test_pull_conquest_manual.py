"""CommScope ConQuest Conduit manual: the worked pulls and the bend multiplier table.

READ: CommScope, "ConQuest Conduit Construction Manual", pp. 68-69 (formulas, the single example,
multiplier table), p. 44 and p. 71 (the four-straight example, both directions),
https://azmanual.top/manuals/585659/commscope-conquest-conduit-construction.html?page=71
COMPUTED (reference notes, block W1 and W3): the same pulls without rounding.

Units are the manual's own, lb and ft: nothing in the law depends on them. The manual multiplies by
exp(f angle) in bends and drops the weight there, which is the "handbook" method.
"""

from __future__ import annotations

import math

import pytest

from route3d.mechanics.tension import integrate
from tests.support.published import printed
from tests.support.routes import Go, Turn, route

pytestmark = pytest.mark.source("CommScope ConQuest Conduit manual (read)")

WEIGHT, FRICTION, RADIUS = 0.144, 0.5, 10.0
PIECES: list[Go | Turn] = [
    Go(100.0),
    Turn(45.0, RADIUS),
    Go(80.0),
    Turn(90.0, RADIUS),
    Go(75.0),
    Turn(45.0, RADIUS),
    Go(70.0),
]
# READ, p. 71: tension in whole lb at each letter, from the reel on.
FORWARD = {"B": 7, "C": 10, "D": 16, "E": 35, "F": 40, "G": 59, "H": 64}
REVERSE = {"G": 5, "F": 7, "E": 12, "D": 26, "C": 32, "B": 47, "A": 54}
# COMPUTED without rounding, two decimals.
EXACT_FORWARD = [7.20, 10.66, 16.42, 36.02, 41.42, 61.34, 66.38]
EXACT_REVERSE = [5.04, 7.46, 12.86, 28.21, 33.97, 50.32, 57.52]
CENT = 0.00501  # half of the last digit given


def handbook(
    pieces: list[Go | Turn], start: float = 0.0, friction: float = FRICTION, reverse: bool = False
) -> list[float]:
    path = route(*pieces)
    return integrate(path, WEIGHT, friction, 1.0, start, reverse, "handbook")[1][1:].tolist()


def staged(pieces: list[Go | Turn]) -> list[int]:
    """The manual's way: multipliers to 2 decimals, every tension to whole lb before the next."""
    tension, out = 0, []
    for piece in pieces:
        if isinstance(piece, Turn):
            multiplier = round(handbook([piece], 1.0)[0], 2)
            tension = round(tension * multiplier)
        else:
            tension = round(handbook([piece], tension)[0])
        out.append(tension)
    return out


@pytest.mark.clause("p. 71")
def test_four_straights_printed_with_rounding_at_each_step() -> None:
    assert staged(PIECES) == printed(list(FORWARD.values()))
    assert staged(PIECES[::-1]) == printed(list(REVERSE.values()))


@pytest.mark.clause("p. 71")
def test_four_straights_without_rounding() -> None:
    assert handbook(PIECES) == pytest.approx(EXACT_FORWARD, abs=CENT)
    assert handbook(PIECES, reverse=True) == pytest.approx(EXACT_REVERSE, abs=CENT)
    # The print is lower: whole pounds at every step.
    assert handbook(PIECES) == printed(list(FORWARD.values()), rel=0.09)
    assert handbook(PIECES, reverse=True) == printed(list(REVERSE.values()), rel=0.09)

    # By the end, COMPUTED in the notes: 3.7 % and 6.5 %, so half of the last digit.
    low = [
        (handbook(PIECES)[-1] / FORWARD["H"] - 1) * 100,
        (handbook(PIECES, reverse=True)[-1] / REVERSE["A"] - 1) * 100,
    ]
    assert low == pytest.approx([3.7, 6.5], abs=0.0501)


@pytest.mark.clause("p. 71, sidewall")
def test_sidewall_pressure_forward() -> None:
    # READ: 1.0, 3.5, 5.9 lb/ft at B-C, D-E, F-G: staged tension out of the bend over its radius.
    at = staged(PIECES)
    assert [at[i] / RADIUS for i in (1, 3, 5)] == printed([1.0, 3.5, 5.9])


@pytest.mark.clause("p. 71, sidewall")
def test_sidewall_labels_of_the_reverse_pull_are_misprinted() -> None:
    # READ: 0.7, 2.6, 4.7 printed against B-C, D-E, F-G. The first bend met from the reel at H is
    # F-G, so B-C and F-G are exchanged in print.
    figure = {"BC": 0.7, "DE": 2.6, "FG": 4.7}
    at = staged(PIECES[::-1])
    ours = {name: at[i] / RADIUS for name, i in (("FG", 1), ("DE", 3), ("BC", 5))}
    assert ours == printed({"FG": 0.7, "DE": 2.6, "BC": 4.7})
    assert ours["BC"] == printed(figure["FG"])
    assert ours["FG"] == printed(figure["BC"])
    assert ours["DE"] == printed(figure["DE"])


@pytest.mark.clause("pp. 68-69")
def test_one_straight_and_one_bend() -> None:
    # READ pp. 68-69: 36 lb, then 79 lb through a multiplier of 2.192. exp(pi/4) is 2.19328; with
    # the manual's 57.3 for a radian it is 2.1931. So 2.192 is short by 0.0013, within 0.0015.
    straight, bend = handbook([Go(500.0), Turn(90.0, RADIUS)])
    assert straight == printed(36.0, rel=1e-12)
    assert round(bend) == printed(79)
    assert bend == pytest.approx(78.958, abs=0.000501)
    assert bend / straight == printed(2.192, abs=0.0015)


@pytest.mark.clause("p. 68")
def test_longest_straight_pull() -> None:
    # READ p. 68: 4722 ft for 340 lb; COMPUTED 4722.22. One more foot is over the limit.
    assert handbook([Go(4722.0)])[0] < 340.0 < handbook([Go(4723.0)])[0]
    assert 340.0 / (handbook([Go(1.0)])[0]) == pytest.approx(4722.22, abs=CENT)
    assert int(340.0 / handbook([Go(1.0)])[0]) == printed(4722)


# READ p. 69: exp(f angle), printed to 2 decimals, by f across and degrees down.
MULTIPLIER_FRICTION = (0.7, 0.6, 0.5, 0.4, 0.3, 0.15)
MULTIPLIERS = {
    15.0: (1.20, 1.17, 1.14, 1.11, 1.08, 1.04),
    30.0: (1.44, 1.37, 1.30, 1.23, 1.17, 1.08),
    45.0: (1.73, 1.60, 1.48, 1.37, 1.27, 1.13),
    60.0: (2.08, 1.87, 1.68, 1.52, 1.37, 1.17),
    75.0: (2.50, 2.19, 1.92, 1.69, 1.48, 1.22),
    90.0: (3.00, 2.57, 2.19, 1.87, 1.60, 1.27),
}


@pytest.mark.parametrize("degrees", MULTIPLIERS)
@pytest.mark.clause("p. 69")
def test_multiplier_table(degrees: float) -> None:
    ours = [handbook([Turn(degrees, RADIUS)], 1.0, f)[0] for f in MULTIPLIER_FRICTION]
    # One unit of the last digit: the table cuts some entries (60 deg, 0.5: 1.6881 printed 1.68)
    # and rounds others.
    assert ours == printed(MULTIPLIERS[degrees], abs=0.00999)


@pytest.mark.clause("p. 69")
def test_one_entry_of_the_table_is_cut_and_not_rounded() -> None:
    exact = handbook([Turn(60.0, RADIUS)], 1.0, 0.5)[0]
    assert round(exact, 2) == printed(1.69)
    assert math.floor(exact * 100) / 100 == printed(MULTIPLIERS[60.0][2])
