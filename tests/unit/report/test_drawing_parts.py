"""Scales as people write them, and the small parts a drawing is set from."""

from __future__ import annotations

import itertools
from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st

from route3d.drawing.labels import LabelRoom
from route3d.drawing.plan_profile.flags import SHEET, Flag, place, take_line
from route3d.drawing.plan_profile.layout import Scale, parse_scale
from route3d.drawing.plan_profile.profile import spread
from route3d.drawing.text_width import fitted, text_width
from route3d.errors import InputError

MODELS = Path(__file__).parents[3] / "models"
DEMOS = ("riser_duct_bank", "roof_drop", "yard_run")
ROUNDING = 0.005  # coordinates in SVG have two decimals, mm


@pytest.mark.parametrize("text", ["1:200", "1 : 200", "1/200"])
def test_scales_as_ratios(text: str) -> None:
    assert parse_scale(text) == Scale(200.0)


@pytest.mark.parametrize("text", ["1in=20ft", "1 in = 20 ft", "1\"=20'", "1 in=20.0ft"])
def test_scales_as_feet_to_the_inch(text: str) -> None:
    assert parse_scale(text) == Scale(240.0)  # 20 ft are 240 in


@pytest.mark.parametrize("text", ["", "200", "1:0", "1:1e9", "1:-5", "2:1", "1:nan", "1in=0ft"])
def test_other_scales_are_refused(text: str) -> None:
    with pytest.raises(InputError, match="scale"):
        parse_scale(text)


def test_scale_words() -> None:
    assert Scale(240.0).words("US") == "1 in = 20 ft (1:240)"
    assert Scale(200.0).words("SI") == "1:200"
    assert Scale(200.0).words("US") == "1:200"


# --- parts ---------------------------------------------------------------------------------------


@pytest.mark.parametrize("bold", [False, True])
def test_words_are_no_wider_than_reckoned(bold: bool) -> None:
    """Against the advance widths in the font itself."""
    from fontTools.ttLib import TTFont
    from matplotlib import get_data_path

    name = "DejaVuSans-Bold.ttf" if bold else "DejaVuSans.ttf"
    font = TTFont(Path(get_data_path()) / "fonts" / "ttf" / name)
    cmap, widths, em = font.getBestCmap(), font["hmtx"], font["head"].unitsPerEm
    for c in map(chr, [*range(32, 127), *map(ord, "°×…éü")]):
        true = widths[cmap[ord(c)]][0] / em * 2.0 / 0.729
        assert text_width(c, 2.0, bold=bold) >= true - 1e-9, c


def test_words_are_cut_to_their_room() -> None:
    assert fitted("short", 2.0, 50) == "short"
    cut = fitted("a very long name of a vault", 2.0, 20)
    assert cut.endswith("…")
    assert text_width(cut, 2.0) <= 20
    assert fitted("x", 2.0, 0.1) == ""


@given(
    st.lists(st.floats(0, 100), min_size=1, max_size=20).map(sorted),
)
def test_figures_are_pushed_apart_within_the_row(wanted: list[float]) -> None:
    found = spread(wanted, 4.0, (0.0, 100.0))
    assert all(b - a >= 4.0 - 1e-9 for a, b in pairwise(found))
    assert found[0] >= 0.0
    assert found[-1] <= 100.0 + 1e-9


def test_figures_with_room_stay_where_they_are() -> None:
    assert spread([10.0, 20.0, 50.0], 4.0, (0.0, 100.0)) == pytest.approx([10.0, 20.0, 50.0])


@pytest.mark.parametrize("seed", range(6))
def test_leaders_do_not_cross_each_other(seed: int) -> None:
    """Places close together along a line: who names one must not be taken for its neighbor."""
    rng = np.random.default_rng(seed)
    room = LabelRoom((0.0, 0.0, 300.0, 160.0), SHEET)
    take_line(room, np.array([(20.0, 80.0), (280.0, 80.0)]))
    for number, x in enumerate(np.sort(rng.uniform(120, 180, 12)).tolist(), 1):
        place(Flag(x, 80.0, ("R 12 in", "22.5°"), str(number)), room)
    lines = [shapely.LineString(leader.reshape(2, 2)) for leader in room.leaders]
    assert len(lines) >= 6
    assert not any(a.crosses(b) for a, b in itertools.combinations(lines, 2))
