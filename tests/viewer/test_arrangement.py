"""Whatever the job and the size: words apart and inside, and what must be told is told."""

from __future__ import annotations

import itertools
import math
import re
from functools import cache
from typing import get_args

import pytest

from route3d.drawing.marks import Text
from route3d.drawing.pixels import measure
from route3d.model import Job
from route3d.planning.result import RunResult
from tests.viewer.conftest import DEMOS, answer
from tests.viewer.odd_jobs import ODD, odd_job
from tests.viewer.test_layout import check_words
from viewer.gauge import plan_for_crew
from viewer.scene.build import build_scene
from viewer.scene.records import Scene
from viewer.still.cards import must_be_told
from viewer.still.layout import Layout, arrange
from viewer.still.panels import SMALLEST, panels_for
from viewer.still.picture import StillView
from viewer.still.unrolled import arrange_unrolled
from viewer.theme import LIGHT
from viewer.verdict import with_plan

Answered = tuple[RunResult, Job]
SIZES = [(360, 300), (390, 844), (1024, 768), (1600, 1000), (3840, 2160), (2400, 500)]


@pytest.fixture(scope="module", params=(*DEMOS, *ODD))
def job(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> Answered:
    if request.param in DEMOS:
        return answer(request.param)
    return odd_job(request.param, tmp_path_factory.mktemp("odd"))


@pytest.fixture(scope="module")
def scene(job: Answered) -> Scene:
    result, given = job
    return build_scene(result, given, units=given.units, color_by="utilization")


@cache  # a scene is what it is: the tests below look at the same pictures
def laid_out(scene: Scene, view: StillView, size: tuple[int, int]) -> Layout:
    if view == "profile":
        return arrange_unrolled(scene, size, LIGHT, measure)
    return arrange(scene, view, size, LIGHT, measure)


def check_cards(layout: Layout, scene: Scene, size: tuple[int, int]) -> None:
    """No card over another, over other words or out of the frame; what must be told is there."""
    frame = panels_for(scene, size, LIGHT, measure).frame
    boxes = [p.box for p in layout.placement.placed]
    for a, b in itertools.combinations(boxes, 2):
        assert a[0] >= b[2] or b[0] >= a[2] or a[1] >= b[3] or b[1] >= a[3], (a, b)
    for box in boxes:
        assert box[0] >= frame[0] - 1e-6 and box[2] <= frame[2] + 1e-6
        assert box[1] >= 0 and box[3] <= size[1]
    shown = {p.index for p in layout.placement.placed}
    musts = [i for i, label in enumerate(scene.labels) if must_be_told(label)]
    flags = [i for i in musts if scene.labels[i].kind == "fault"]
    least = set(musts) - set(flags[1:]) if size == SMALLEST else set(musts)
    assert least <= shown, [scene.labels[i].lines[0] for i in least - shown]


@pytest.mark.parametrize("view", get_args(StillView))
@pytest.mark.parametrize("size", SIZES)
def test_words_and_cards(scene: Scene, view: StillView, size: tuple[int, int]) -> None:
    layout = laid_out(scene, view, size)
    check_words(layout, size)
    check_cards(layout, scene, size)


@pytest.mark.parametrize("size", SIZES)
def test_in_the_profile_each_end_is_named_on_its_own_side(
    scene: Scene, size: tuple[int, int]
) -> None:
    placed = {
        scene.labels[p.index].kind: p
        for p in laid_out(scene, "profile", size).placement.placed
        if scene.labels[p.index].kind in ("feed", "machine")
    }
    first, last = sorted(placed.values(), key=lambda p: p.anchor[0])
    assert first.box[0] + first.box[2] < last.box[0] + last.box[2]


def test_a_bend_is_named_beside_it_or_not_at_all(tmp_path_factory: pytest.TempPathFactory) -> None:
    """At fifty bends most have their number near by; none is named from the other end."""
    result, given = odd_job("fifty bends", tmp_path_factory.mktemp("odd"))
    scene = build_scene(result, given, units="SI", color_by="sidewall")
    for view in get_args(StillView):
        placed = laid_out(scene, view, (1600, 1000)).placement.placed
        bends = [p for p in placed if scene.labels[p.index].kind == "bend"]
        assert all(math.dist(p.anchor, p.elbow) <= 130 for p in bends)
        assert len(bends) >= (8 if view == "side" else 25)


def test_figures_beyond_reason_are_words(tmp_path_factory: pytest.TempPathFactory) -> None:
    result, given = odd_job("far too rough", tmp_path_factory.mktemp("odd"))
    scene = build_scene(result, given, units="SI", color_by="utilization")
    words = [
        i.text for i in laid_out(scene, "isometric", (1600, 1000)).overlay if isinstance(i, Text)
    ]
    assert "peak >1,000 x" in words
    assert any("over 1,000 times limit" in w for w in words)
    assert any(w.startswith("over 1,000 times 7,300 N/m") for w in words)
    assert not any(
        "%" in w and any(len(n) > 5 for n in w.split("%")[:1]) for w in words if "," in w
    )


@pytest.mark.parametrize("name", ["fifty bends", "far too rough"])
def test_no_load_beyond_reason_is_told_as_a_figure(
    name: str, tmp_path_factory: pytest.TempPathFactory
) -> None:
    """Tag of the machine, figures at the foot and sentence of a stopped pull, its plan made."""
    result, given = odd_job(name, tmp_path_factory.mktemp("odd"))
    plan = plan_for_crew(result, result.best, given)
    scene = with_plan(build_scene(result, given, units="SI"), result, result.best, plan)
    (tag,) = (label for label in scene.labels if label.kind == "machine")
    assert tag.lines[2] == "peak load: over 1,000 times 33.00 kN"
    (peak,) = (fact for fact in scene.facts if fact.name == "Peak machine load")
    assert (peak.value, peak.note) == (">1,000 x", "over 1,000 times 33.00 kN")
    assert "over 1,000\u00a0times the limit of " in scene.sentence
    told = [scene.sentence, *(fact.value for fact in scene.facts), *tag.lines]
    assert not any(re.search(r"\d{3},\d{3}", text) for text in told)
