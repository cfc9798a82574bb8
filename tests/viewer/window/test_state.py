"""The keys of the window, without a window."""

from __future__ import annotations

from dataclasses import replace
from typing import get_args

import pytest

from route3d.drawing.marks import Text
from route3d.drawing.pixels import measure
from viewer.still.panels import Panels
from viewer.theme import LIGHT
from viewer.window.panels import help_card
from viewer.window.state import KEY_OF_RUNS, KEYS, Layer, WindowState, moved, next_run, pressed

START = WindowState(feed=0, units="US")
OTHER = 7


def after(*keys: str, start: WindowState = START) -> WindowState:
    for key in keys:
        start = pressed(start, key, OTHER)
    return start


@pytest.mark.parametrize(
    ("key", "field", "value"),
    [
        ("f", "feed", OTHER),
        ("c", "color_by", "sidewall"),
        ("u", "units", "SI"),
        ("d", "theme", "dark"),
        ("e", "exaggeration", 1.0),
        ("2", "view", "plan"),
        ("KP_4", "view", "profile"),
        ("h", "help", False),
        ("l", "hidden", frozenset({"labels"})),
        ("space", "playing", True),
        ("Right", "pulled", 0.02),
    ],
)
def test_a_key_changes_what_it_says(key: str, field: str, value: object) -> None:
    assert getattr(after(key), field) == value
    assert getattr(after(key.upper() if len(key) == 1 else key), field) == value


@pytest.mark.parametrize("key", ["c", "u", "d", "e", "h", *"labgx"])
def test_pressed_often_enough_a_key_comes_round(key: str) -> None:
    times = {"c": 4}.get(key, 2)
    state = after(*[key] * times)
    assert (state.color_by, state.units, state.theme, state.hidden, state.help) == (
        START.color_by,
        START.units,
        START.theme,
        START.hidden,
        START.help,
    )


@pytest.mark.parametrize("key", ["w", "F5", "Shift_L", "3d", "", "p", "r"])
def test_other_keys_change_nothing(key: str) -> None:
    assert after(key) == START


def test_every_layer_has_a_key() -> None:
    assert after(*"labgx").hidden == frozenset(get_args(Layer))


def test_the_head_stays_on_the_route() -> None:
    assert after("Left").pulled == 0.0
    assert moved(START, 5.0).pulled == 1.0
    assert moved(moved(START, 0.5), -0.2).pulled == pytest.approx(0.3)


def test_play_pause_and_play_again_from_the_end() -> None:
    assert after("space", "space").playing is False
    at_end = moved(START, 1.0)
    again = after("space", start=at_end)
    assert (again.pulled, again.playing) == (0.0, True)
    assert after("space", "t") == START


def test_the_other_end_starts_its_pull_afresh() -> None:
    state = after("Right", "Right", "f")
    assert (state.feed, state.pulled, state.playing) == (OTHER, 0.0, False)
    assert after("f").pulled is None


def test_the_next_run_starts_afresh_and_after_the_last_comes_the_first() -> None:
    start = replace(START, pulled=0.4, playing=True, picked=3.0, color_by="sidewall")
    second = next_run(start, [0, 5, 0])
    assert (second.run, second.feed, second.color_by) == (1, 5, "sidewall")
    assert (second.pulled, second.playing, second.picked) == (None, False, None)
    assert second.turn != start.turn  # another route wants another camera
    assert [next_run(second, [0, 5, 0]).run, next_run(replace(second, run=2), [0, 5, 0]).run] == [
        2,
        0,
    ]


def test_escape_puts_a_reading_away() -> None:
    assert after("Escape", start=replace(START, picked=12.0)) == START


@pytest.mark.parametrize("frame", [(24, 100, 1100, 700), (16, 80, 700, 300), (16, 80, 400, 190)])
def test_all_keys_are_listed_in_the_frame(frame: tuple[float, float, float, float]) -> None:
    panels = Panels((), frame, frame, (0, 0, 0, 0), 0.66)
    assert KEY_OF_RUNS[0] not in [
        i.text for i in help_card(panels, LIGHT, measure) if isinstance(i, Text)
    ]
    box, *items = help_card(panels, LIGHT, measure, several=True)
    words = [i.text for i in items if isinstance(i, Text)]
    for key, what in (*KEYS, KEY_OF_RUNS):
        assert key in words and what in words
    assert box.rect[3] <= frame[3] + 1
    assert all(box.rect[0] <= i.at[0] <= box.rect[2] for i in items if isinstance(i, Text))
