"""The flat parts of the window: the cards keep in their frame, the chart under its slider."""

from __future__ import annotations

import numpy as np
import pytest

from route3d.drawing.marks import Ring, Text
from route3d.drawing.pixels import measure
from tests.viewer.conftest import Answered
from tests.viewer.test_layout import text_box
from viewer.gauge import plan_for_crew, rows_of
from viewer.playback import evenly, playback
from viewer.scene.build import build_scene
from viewer.still.panels import panels_for
from viewer.theme import LIGHT
from viewer.window.content import PLACES
from viewer.window.panels import (
    HANDLE,
    STRIP,
    CornerCards,
    cards,
    slider_ends,
    strip_chart,
    strip_height,
    strip_items,
)
from viewer.window.state import KEYS, WindowState

SIZE = (1280, 800)
STOPS = tuple(
    f"rule {n}, some place along the route: {n},000 lbf against 500 lbf" for n in range(9)
)


def card(answered: Answered, keys: bool, stops: tuple[str, ...]) -> CornerCards | None:
    scene = build_scene(*answered)
    panels = panels_for(scene, SIZE, LIGHT, measure, strip=strip_height(SIZE))
    found = cards(panels, LIGHT, measure, keys, False, stops)
    if found is not None:
        left, top, right, bottom = panels.frame
        assert found.rect[0] == left and found.rect[1] == top
        assert found.rect[2] <= right and found.rect[3] <= bottom + 1
    return found


@pytest.mark.parametrize("keys", [True, False])
@pytest.mark.parametrize("count", [0, 1, 3, 9])
def test_every_stop_stands_in_red_or_is_counted(yard: Answered, keys: bool, count: int) -> None:
    found = card(yard, keys, STOPS[:count])
    if found is None:
        assert not keys and count == 0
        return
    texts = [i for i in found.items if isinstance(i, Text)]
    for text in texts:
        box = text_box(text)
        assert box[0] >= found.rect[0] and box[2] <= found.rect[2]
        assert box[1] >= found.rect[1] - 1 and box[3] <= found.rect[3] + 1
    red = " ".join(t.text for t in texts if t.color == LIGHT.alarm)
    if count:
        told = sum(f"rule {n}," in red for n in range(count))
        assert told >= 1 and (told == count or f"and {count - told} more" in red)
        assert red.startswith("STOP")
    else:
        assert red == ""
    plain = {t.text for t in texts if t.color != LIGHT.alarm}
    assert ({words for _, words in KEYS} <= plain) is keys


@pytest.mark.parametrize("feed", [0, 1])
def test_the_head_on_the_curve_stands_under_the_slider(yard: Answered, feed: int) -> None:
    result, job = yard
    candidate = result.candidates[feed]
    scene = build_scene(result, job, feed=candidate.pull.feed)
    panels = panels_for(scene, SIZE, LIGHT, measure, strip=strip_height(SIZE))
    rows = rows_of(plan_for_crew(result, candidate, job))
    whole = playback(result, candidate.pull, "US", job.allowances, rows)
    frames = evenly(whole, PLACES, "US")
    drawn = strip_chart(whole, panels, SIZE, "US", scene.limits[0], LIGHT)
    assert drawn is not None
    (begin, _), (end, _) = slider_ends(panels, SIZE)
    high = round(panels.strip[3] - panels.strip[1])
    for share in (0.0, 0.37, 1.0):
        at = round(share * (PLACES - 1))
        state = WindowState(candidate.pull.feed, "US", pulled=share)
        items = strip_items(state, frames, at, (SIZE[0], high), panels.unit, LIGHT, drawn)
        (ring,) = (i for i in items if isinstance(i, Ring))
        handle = (begin + HANDLE / 2 + share * (end - begin - HANDLE)) * SIZE[0]
        assert ring.at[0] == pytest.approx(handle, abs=1.0)
        texts = [(t, text_box(t)) for t in items if isinstance(t, Text) and t.text]
        for i, (text, a) in enumerate(texts):
            assert a[0] >= 0 and a[1] >= 0 and a[2] <= SIZE[0] and a[3] <= high, text
            for other, b in texts[:i]:
                apart = a[0] >= b[2] or b[0] >= a[2] or a[1] >= b[3] or b[1] >= a[3]
                assert apart, (text, other)


def test_a_low_window_and_the_profile_do_without_the_chart(yard: Answered) -> None:
    assert strip_height(SIZE) == STRIP
    assert strip_height((900, 500)) < STRIP and strip_height(SIZE, profile=True) < STRIP
    result, job = yard
    scene = build_scene(result, job)
    panels = panels_for(scene, (900, 500), LIGHT, measure, strip=strip_height((900, 500)))
    whole = playback(result, result.best.pull, "US", job.allowances)
    assert strip_chart(whole, panels, (900, 500), "US", 1.0, LIGHT) is None
    assert np.isfinite(whole.load).all()
