"""The distance of a run from itself, against a search along it."""

from __future__ import annotations

import numpy as np
import pytest

from route3d.geometry.clearance import SPARED, itself, tubes_of
from tests.support.wild_routes import wild_route


@pytest.mark.parametrize("seed", range(8))
def test_it_is_that_of_a_search_along_it_beyond_what_is_spared(seed: int) -> None:
    path = wild_route(seed).path()
    radii = np.full(int(path.leg.max()) + 1, 0.05)
    target = itself(tubes_of(path, radii), required=2.0)
    assert target.spared == pytest.approx(SPARED * 2.1)
    stations = np.linspace(0, path.length, 60)
    distance, items = target.nearest(path.point(stations), stations)
    dense = np.linspace(0, path.length, 40_001)
    step = dense[1]
    for s, found, item in zip(stations, distance, items, strict=True):
        far = dense[np.abs(dense - s) >= target.spared]
        away = np.linalg.norm(path.point(far) - path.point(float(s)), axis=1) - 0.05
        least = min(float(away.min()), target.most)
        assert found == pytest.approx(least, abs=step)
        if found < target.most:  # the segment named is one that is as near
            place = path.point(np.array([s]))
            assert target.to_items(place, np.array([item])) <= found + 1e-9


def test_the_stations_are_needed() -> None:
    path = wild_route(1).path()
    target = itself(tubes_of(path, np.full(int(path.leg.max()) + 1, 0.05)), 0.1)
    with pytest.raises(ValueError, match="needs the stations"):
        target.nearest(path.point(np.zeros(1)))
