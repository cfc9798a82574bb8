"""Which station a click in the window reads."""

from __future__ import annotations

import numpy as np
import pytest

from route3d.drawing.marks import Line, Text
from tests.viewer.conftest import answer
from viewer.scene.build import build_scene
from viewer.scene.records import Scene
from viewer.theme import LIGHT
from viewer.window.pick import UnrolledView, profile_layout, station_across

SIZE = (1280, 800)


@pytest.fixture(scope="module")
def scene() -> Scene:
    return build_scene(*answer("riser_duct_bank"))


@pytest.mark.parametrize("left", [0.0, 332.0])
@pytest.mark.parametrize("station", [0.0, 37.5, 101.0])
def test_a_click_on_any_panel_of_the_profile_reads_the_station_over_it(
    scene: Scene, station: float, left: float
) -> None:
    profile = UnrolledView(scene, SIZE, LIGHT, left)
    for axes in profile.axes():
        assert axes.rect[0] >= left
        x = float(axes.place(np.array([station]), np.array([axes.y[0]]))[0, 0])
        middle = (axes.rect[1] + axes.rect[3]) / 2
        assert station_across(profile, (x, middle)) == pytest.approx(station, abs=1e-6)


def test_a_click_beside_the_panels_reads_nothing(scene: Scene) -> None:
    profile = UnrolledView(scene, SIZE, LIGHT, 332.0)
    left, top, right, _ = profile.axes()[0].rect
    bottom = profile.axes()[-1].rect[3]
    middle = (top + bottom) / 2
    for at in ((left - 40, middle), (right + 40, middle), (left + 9, top - 9), (left, bottom + 9)):
        assert station_across(profile, at) is None


def test_the_station_that_is_read_is_shown_with_a_line_through_all_panels(scene: Scene) -> None:
    profile = UnrolledView(scene, SIZE, LIGHT, 0.0)
    layout = profile_layout(profile, 37.5)
    words = [i.text for i in layout.overlay if isinstance(i, Text)]
    assert any(w.startswith("Station 123.0 ft") for w in words)  # 37.5 m
    x = float(profile.axes()[0].place(np.array([37.5]), np.zeros(1))[0, 0])
    upright = [
        i
        for i in layout.overlay
        if isinstance(i, Line) and i.points[0][0] == i.points[1][0] == pytest.approx(x)
    ]
    assert len(upright) == 3
    plain = profile_layout(profile, None)
    assert not [i for i in plain.overlay if isinstance(i, Text) and "Station 123" in i.text]
