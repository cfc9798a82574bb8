"""CommScope, "ConQuest Conduit Construction" manual, pp. 44, 68, 69, 71.

READ at https://azmanual.top/manuals/585659/commscope-conquest-conduit-construction.html?page=71
(and page=68, page=69). Units lb and ft. The manual rounds to whole pounds at every step and its
multipliers to two decimals; that arithmetic is repeated here to reach the printed values, and the
unrounded answer stands beside it (COMPUTED).

The method is the capstan rule in bends, which is ``method="handbook"``.
"""

from __future__ import annotations

import math

import numpy as np
import pytest

from route3d.geometry import Path
from route3d.mechanics.tension import integrate
from tests.support.routes import Go, Turn, route

FRICTION, WEIGHT = 0.5, 0.144  # QR715 coax, lb/ft; pp. 68, 71
# COMPUTED values are given to two or three decimals: half of the last one.
TWO_DECIMALS = 0.005


def w1() -> Path:
    """Example W1, pp. 44 and 71: A-B 100, bend 45, C-D 80, bend 90, E-F 75, bend 45, G-H 70."""
    return route(
        *(Go(100), Turn(45, 10, "left"), Go(80), Turn(90, 10, "right")),
        *(Go(75), Turn(45, 10, "left"), Go(70)),
    )


def staged(path: Path, multipliers: dict[int, float], reverse: bool = False) -> list[int]:
    """The manual's own arithmetic: whole pounds after every step, multipliers as printed."""
    t, result = 0, [0]
    for i in reversed(range(len(path))) if reverse else range(len(path)):
        degrees = round(math.degrees(path.angles[i]))
        gain = path.lengths[i] * WEIGHT * FRICTION
        t = round(t * multipliers[degrees] if degrees else t + gain)
        result.append(t)
    return result


PRINTED_MULTIPLIERS = {45: 1.48, 90: 2.19}  # p. 71


def test_w1_forward_as_printed_p71() -> None:
    printed = [0, 7, 10, 16, 35, 40, 59, 64]
    assert staged(w1(), PRINTED_MULTIPLIERS) == printed


def test_w1_reverse_as_printed_p44() -> None:
    printed = [0, 5, 7, 12, 26, 32, 47, 54]
    # The last leg: 47 + 7.2 = 54.2, printed 54.
    assert staged(w1(), PRINTED_MULTIPLIERS, reverse=True) == printed


@pytest.mark.parametrize(
    ("reverse", "exact", "printed_end"),
    [
        (False, [7.20, 10.66, 16.42, 36.02, 41.42, 61.34, 66.38], 64),
        (True, [5.04, 7.46, 12.86, 28.21, 33.97, 50.32, 57.52], 54),
    ],
)
def test_w1_without_the_rounding(reverse: bool, exact: list[float], printed_end: int) -> None:
    _, t = integrate(w1(), WEIGHT, FRICTION, reverse=reverse, method="handbook")
    assert t[1:] == pytest.approx(exact, abs=TWO_DECIMALS)
    # The staged rounding loses 3.7 % forward and 6.5 % in reverse (COMPUTED).
    lost = {False: 0.037, True: 0.065}[reverse]
    assert t[-1] / printed_end - 1 == pytest.approx(lost, abs=5e-4)


def test_w1_is_easier_pulled_from_a_to_h_backwards_as_the_manual_concludes_p44() -> None:
    ends = [integrate(w1(), WEIGHT, FRICTION, reverse=r)[1][-1] for r in (False, True)]
    assert ends[1] < ends[0] < 340  # the cable's limit, lb


def test_w1_sidewall_p71() -> None:
    # T/R with T leaving the bend: B-C 1.0, D-E 3.5, F-G 5.9 lb/ft, from the staged tensions.
    forward = staged(w1(), PRINTED_MULTIPLIERS)
    assert [forward[i] / 10 for i in (2, 4, 6)] == [1.0, 3.5, 5.9]


def test_w1_sidewall_in_reverse_is_printed_with_the_bends_misnamed() -> None:
    # MISPRINT, p. 71: 0.7, 2.6, 4.7 are labelled B-C, D-E, F-G. That is the order pulled, so they
    # belong to F-G, D-E, B-C.
    back = staged(w1(), PRINTED_MULTIPLIERS, reverse=True)
    in_order_pulled = [back[i] / 10 for i in (2, 4, 6)]
    assert in_order_pulled == [0.7, 2.6, 4.7]
    assert integrate(w1(), WEIGHT, FRICTION, reverse=True, method="handbook")[0][2] > (
        w1().length / 2
    )  # the first of them is the bend nearest H


def test_w3_pp68_69() -> None:
    path = route(Go(500), Turn(90, 10))
    _, t = integrate(path, WEIGHT, FRICTION, method="handbook")
    assert t[1] == pytest.approx(36.0, rel=1e-12)  # printed 36
    assert t[2] == pytest.approx(78.958, abs=5e-4)  # printed 79, with the multiplier 2.192
    assert round(t[2]) == 79
    # The printed multiplier 2.192 is exp(0.5 * 1.57), the quarter turn cut to 1.57 rad.
    assert math.exp(FRICTION * 1.57) == pytest.approx(2.192, abs=5e-4)
    assert t[2] / t[1] == pytest.approx(2.1933, abs=5e-5)


def test_w3_longest_level_pull_p68() -> None:
    # Lm = Tm/(w f): printed 4722 ft for 340 lb.
    longest = 340 / (WEIGHT * FRICTION)
    assert round(longest) == 4722
    _, t = integrate(route(Go(longest)), WEIGHT, FRICTION)
    assert t[-1] == pytest.approx(340, rel=1e-12)


def test_the_exact_method_is_above_the_capstan_rule_w1() -> None:
    exact = integrate(w1(), WEIGHT, FRICTION)[1]
    capstan = integrate(w1(), WEIGHT, FRICTION, method="handbook")[1]
    assert (exact[2:] > capstan[2:]).all()


# M1, p. 69: exp(f θ) as printed, two decimals; columns f.
COLUMNS = [0.7, 0.6, 0.5, 0.4, 0.3, 0.15]
ROWS = {
    15: [1.20, 1.17, 1.14, 1.11, 1.08, 1.04],
    30: [1.44, 1.37, 1.30, 1.23, 1.17, 1.08],
    45: [1.73, 1.60, 1.48, 1.37, 1.27, 1.13],
    60: [2.08, 1.87, 1.68, 1.52, 1.37, 1.17],
    75: [2.50, 2.19, 1.92, 1.69, 1.48, 1.22],
    90: [3.00, 2.57, 2.19, 1.87, 1.60, 1.27],
}
# The printed table rounds some entries and truncates others: 60 deg, f 0.5 is 1.6881, printed 1.68.
PRINTED_TO = 0.01


@pytest.mark.parametrize("degrees", ROWS)
def test_m1_multipliers_p69(degrees: int) -> None:
    path = route(Turn(degrees, 10))
    _, t = integrate(path, 1.0, np.array(COLUMNS), 1.0, 1.0, method="handbook")
    assert t[-1] == pytest.approx(ROWS[degrees], abs=PRINTED_TO)


def test_m1_entries_that_are_truncated_not_rounded() -> None:
    assert math.exp(0.5 * math.radians(60)) == pytest.approx(1.6881, abs=5e-5)  # printed 1.68
    assert math.exp(0.15 * math.radians(45)) == pytest.approx(1.1250, abs=5e-5)  # printed 1.13
