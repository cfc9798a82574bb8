"""IEEE Std 1185-2019, "Recommended Practice for Cable Installation in Generating Stations and
Industrial Facilities", Annex C, Eq. (C.1), p. 100.

READ at https://anyflip.com/viigo/wvjx/basic/101-127 . ``To = L Wc N K' exp(K' A)``: all straight
length first and every bend at the pulling end, so it bounds a level pull without back tension.
"""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from route3d.geometry import Path
from route3d.mechanics.tension import integrate
from tests.support.routes import Go, Turn, route


def c1(path: Path, weight: float, k: float) -> float:
    """Eq. (C.1); L excludes the elbows."""
    straights = float(path.lengths[path.angles == 0].sum())
    return straights * weight * k * math.exp(k * path.turn)


def test_w1_of_the_conquest_manual() -> None:
    # COMPUTED with C.1: 112.57 lb against 66.38 lb segment by segment.
    path = route(Go(100), Turn(45, 10), Go(80), Turn(90, 10, "right"), Go(75), Turn(45, 10), Go(70))
    assert c1(path, 0.144, 0.5) == pytest.approx(112.57, abs=0.005)
    _, t = integrate(path, 0.144, 0.5, method="handbook")
    assert t[-1] == pytest.approx(66.38, abs=0.005)


@settings(max_examples=80, derandomize=True, deadline=None)
@given(
    st.lists(
        st.tuples(st.floats(0.5, 200), st.floats(5, 120), st.floats(0.3, 10), st.booleans()),
        min_size=1,
        max_size=6,
    ),
    st.floats(0.01, 1.0),
)
def test_it_bounds_every_level_route_by_the_capstan_rule(
    bends: list[tuple[float, float, float, bool]], k: float
) -> None:
    pieces: list[Go | Turn] = []
    for length, degrees, radius, left in bends:
        pieces += [Go(length), Turn(degrees, radius, "left" if left else "right")]
    path = route(*pieces, Go(1.0))
    for reverse in (False, True):
        _, t = integrate(path, 3.0, k, reverse=reverse, method="handbook")
        assert t[-1] <= c1(path, 3.0, k) * (1 + 1e-12)


def test_it_is_reached_when_all_bends_are_at_the_pulling_end() -> None:
    path = route(Go(80), Turn(90, 1.0), Turn(45, 1.0, "right"))
    _, t = integrate(path, 3.0, 0.4, method="handbook")
    assert t[-1] == pytest.approx(c1(path, 3.0, 0.4), rel=1e-12)


def test_it_is_no_bound_for_the_exact_method_on_bends_alone_nor_for_a_rise() -> None:
    # L leaves the elbows out, so a route of elbows has the bound 0; and slopes are not in it.
    elbows = route(*[Turn(90, 10.0, "left")] * 3)
    assert c1(elbows, 3.0, 0.4) == 0.0 < integrate(elbows, 3.0, 0.4)[1][-1]
    riser = route(Go(10.0), heading=(0, 0, 1))
    assert integrate(riser, 3.0, 0.4)[1][-1] > c1(riser, 3.0, 0.4)
    assert np.isclose(integrate(riser, 3.0, 0.4)[1][-1], 30.0, rtol=1e-12)
