"""IEEE 1185-2019 Annex C: the whole-run form as an upper bound.

READ: IEEE Std 1185-2019, Annex C, Eq. (C.1), p. 100,
https://anyflip.com/viigo/wvjx/basic/101-127 : To = L Wc N K' exp(K' A), L without the elbows, A the
sum of bend angles. All bends stand at the pulling end, so it bounds a level pull from zero tension.
COMPUTED (reference notes, 1.5): 112.57 lb for the pull of the ConQuest manual, p. 71 (READ, inputs
only), against 66.38 lb by segments.

Units are those of each book; the law does not depend on them.
"""

from __future__ import annotations

import math

import numpy as np
import pytest

from route3d.mechanics.tension import integrate
from tests.support.routes import Go, Turn, route

CENT = 0.00501  # half of the last digit given
CONQUEST: list[Go | Turn] = [
    Go(100.0),
    Turn(45.0, 10.0),
    Go(80.0),
    Turn(90.0, 10.0),
    Go(75.0),
    Turn(45.0, 10.0),
    Go(70.0),
]


def bound(pieces: list[Go | Turn], weight: float, friction: float) -> float:
    """Eq. (C.1) as printed, in force units."""
    length = sum(piece.length for piece in pieces if isinstance(piece, Go))
    angle = sum(math.radians(piece.degrees) for piece in pieces if isinstance(piece, Turn))
    return length * weight * friction * math.exp(friction * angle)


def by_segments(
    pieces: list[Go | Turn], weight: float, friction: float, reverse: bool = False
) -> float:
    path = route(*pieces)
    return float(integrate(path, weight, friction, 1.0, 0.0, reverse, "handbook")[1][-1])


def test_bound_of_the_conquest_pull() -> None:
    assert bound(CONQUEST, 0.144, 0.5) == pytest.approx(112.57, abs=CENT)
    assert by_segments(CONQUEST, 0.144, 0.5) == pytest.approx(66.38, abs=CENT)
    assert by_segments(CONQUEST, 0.144, 0.5) < bound(CONQUEST, 0.144, 0.5)
    assert by_segments(CONQUEST, 0.144, 0.5, reverse=True) < bound(CONQUEST, 0.144, 0.5)


def test_bound_is_met_with_all_bends_at_the_pulling_end() -> None:
    pieces: list[Go | Turn] = [Go(325.0), Turn(45.0, 10.0), Turn(90.0, 10.0), Turn(45.0, 10.0)]
    # Both are one product of the same numbers: rounding only.
    assert by_segments(pieces, 0.144, 0.5) == pytest.approx(bound(pieces, 0.144, 0.5), rel=1e-12)


@pytest.mark.parametrize("seed", range(20))
def test_bound_holds_on_level_routes(seed: int) -> None:
    rng = np.random.default_rng(seed)
    pieces: list[Go | Turn] = []
    for _ in range(6):
        side = "left" if rng.random() < 0.5 else "right"
        pieces += [Go(rng.uniform(5.0, 80.0)), Turn(rng.uniform(5.0, 100.0), 2.0, side)]
    pieces.append(Go(rng.uniform(5.0, 80.0)))
    friction = rng.uniform(0.1, 0.6)
    for reverse in (False, True):
        assert by_segments(pieces, 30.0, friction, reverse) < bound(pieces, 30.0, friction)
