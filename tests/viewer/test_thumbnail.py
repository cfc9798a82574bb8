"""Pictures of the least size: the ends and the worst place by name, and every word inside."""

from __future__ import annotations

import pytest

from route3d.drawing.marks import Box, Text
from route3d.drawing.pixels import measure
from route3d.model import Job
from route3d.planning.result import RunResult
from tests.viewer.test_layout import check_words
from viewer.camera import VIEWS, View
from viewer.scene.build import build_scene
from viewer.still.layout import arrange
from viewer.still.panels import SMALLEST
from viewer.theme import DARK

Answered = tuple[RunResult, Job]


@pytest.mark.parametrize("view", VIEWS)
@pytest.mark.parametrize("color_by", ["tension", "utilization", "conduit"])
def test_words_stay_in_the_frame_and_apart(demo: Answered, view: View, color_by: str) -> None:
    result, job = demo
    scene = build_scene(result, job, units=job.units, color_by=color_by)  # type: ignore[arg-type]
    layout = arrange(scene, view, SMALLEST, DARK, measure)
    check_words(layout, SMALLEST)
    words = [i.text for i in layout.overlay if isinstance(i, Text)]
    assert scene.headline.split(",")[0] in " ".join(words)
    assert not any("more label" in w for w in words)
    assert any(w.startswith("Route to scale") for w in words)  # exaggeration is said


def test_the_ends_are_named_in_cards_of_their_size(demo: Answered) -> None:
    result, job = demo
    layout = arrange(build_scene(result, job), "isometric", SMALLEST, DARK, measure)
    pull = result.best.pull
    cards = [
        i for i in layout.overlay if isinstance(i, Box) and i.fill in (DARK.feed, DARK.machine)
    ]
    texts = (i for i in layout.overlay if isinstance(i, Text) and i.color == DARK.on_solid)
    named = {i.text: i for i in texts}
    assert len(cards) == 2
    for card, name in zip(cards, (pull.feed_name, pull.pull_name), strict=True):
        text = named[name]
        wide, tall = measure(text.text, text.size, text.bold)
        assert card.rect[0] <= text.at[0] and text.at[0] + wide <= card.rect[2]
        assert card.rect[3] - card.rect[1] == pytest.approx(tall, abs=8)  # one line and its margin


def test_what_is_not_placed_is_still_counted_as_dropped(yard: Answered) -> None:
    scene = build_scene(*yard)
    placement = arrange(scene, "plan", SMALLEST, DARK, measure).placement
    every = [*(p.index for p in placement.placed), *placement.dropped]
    assert sorted(every) == list(range(len(scene.labels)))
    kinds = {scene.labels[p.index].kind for p in placement.placed}
    assert kinds <= {"feed", "machine", "worst"} and {"feed", "machine"} <= kinds
