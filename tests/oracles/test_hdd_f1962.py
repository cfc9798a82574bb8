"""Pipe pulled into a drilled bore: the four-point form of ASTM F1962 by straights and capstans.

MEMORY: ASTM F1962, the tensions T_A to T_D at entry, end of the entry leg, end of the level leg and
exit; the equations are written below and were not seen in print.
COMPUTED (reference notes 7.4, block D1): one case of them, 76.65, 122.77, 143.11, 149.64.
READ: Trenchless Technology Piping, 2010, ch. 5, Eq. (5.15), p. 220: T_D is near L w_b/3 at 0.5,
0.3 and 20 degrees.

F1962 subtracts at each point the ground drag of the pipe that is already in the bore. All its terms
are linear in tension, so each point is also a pull of its own: the pipe still on the ground, the
bend of the entry, then the legs in the bore. A leg of horizontal length L that changes level by H
takes w (H + v L), the straight law exactly. The pipe floats (w_b acts upwards), so the bore is
turned upside down: the entry leg climbs, the exit leg falls. Units cancel.
"""

from __future__ import annotations

import math

import pytest

from route3d.geometry import fillet
from route3d.mechanics.tension import integrate
from tests.support.routes import Turn, route

ENTRY_DEGREES = EXIT_DEGREES = 20.0
GROUND, BORE = 0.5, 0.3  # friction v_a, v_b
W_GROUND, W_BORE = 0.3, 1.0  # weight on the ground, net upwards in the slurry
DEPTH, L1, L3 = 20.0, 0.0, 200.0
L2 = L4 = 2 * DEPTH / math.radians(20.0)  # 114.592


def leg(length: float, climb: float, weight: float, friction: float, tension: float) -> float:
    if length == 0:
        return tension
    path = fillet([[0.0, 0.0, 0.0], [length, 0.0, climb]], [0.0, 0.0])
    return float(integrate(path, weight, friction, 1.0, tension)[1][-1])


def turn(degrees: float, friction: float, tension: float) -> float:
    path = route(Turn(degrees, 50.0, "down"))
    return float(integrate(path, W_BORE, friction, 1.0, tension, method="handbook")[1][-1])


def ours(l3: float) -> list[float]:
    def entry(on_the_ground: float) -> float:
        return turn(ENTRY_DEGREES, GROUND, leg(on_the_ground, 0.0, W_GROUND, GROUND, 0.0))

    def foot(tension: float) -> float:
        return turn(ENTRY_DEGREES, BORE, leg(L2, DEPTH, W_BORE, BORE, tension))

    def level(tension: float) -> float:
        return leg(l3, 0.0, W_BORE, BORE, tension)

    a = entry(L1 + L2 + l3 + L4)
    b = foot(entry(L1 + l3 + L4))
    c = level(foot(entry(L1 + L4)))
    d = turn(EXIT_DEGREES, BORE, leg(L4, -DEPTH, W_BORE, BORE, level(foot(entry(L1)))))
    return [a, b, c, d]


def f1962(l3: float) -> list[float]:
    """The equations from memory, with their subtractions."""
    al, be = math.radians(ENTRY_DEGREES), math.radians(EXIT_DEGREES)
    drag = GROUND * W_GROUND
    e_ground, e_bore = math.exp(GROUND * al), math.exp(BORE * al)
    a = e_ground * drag * (L1 + L2 + l3 + L4)
    b = e_bore * (a + BORE * W_BORE * L2 + W_BORE * DEPTH - drag * L2 * e_ground)
    c = b + BORE * W_BORE * l3 - e_bore * (drag * l3 * e_ground)
    inside = c + BORE * W_BORE * L4 - W_BORE * DEPTH - e_bore * (drag * L4 * e_ground)
    return [a, b, c, math.exp(BORE * be) * inside]


def test_case_computed_from_the_notes() -> None:
    assert ours(L3) == pytest.approx([76.65, 122.77, 143.11, 149.64], abs=0.00501)


@pytest.mark.parametrize("l3", [0.0, 50.0, 200.0, 600.0])
def test_four_points(l3: float) -> None:
    # The same products in another order: rounding only.
    assert ours(l3) == pytest.approx(f1962(l3), rel=1e-12)


def test_one_third_rule() -> None:
    # READ: near 1/3. COMPUTED: 0.349 at L3 = 200 and 0.341 at 600, half of the last digit.
    found = [ours(l3)[-1] / ((L2 + l3 + L4) * W_BORE) for l3 in (200.0, 600.0)]
    assert found == pytest.approx([0.349, 0.341], abs=0.000501)
    assert found == pytest.approx([1 / 3, 1 / 3], rel=0.05)
