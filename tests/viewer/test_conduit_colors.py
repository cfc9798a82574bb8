"""Colors by conduit: one for each kind, named in a legend, told apart by every eye."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from route3d.drawing.marks import Strip, Text
from route3d.drawing.pixels import measure
from route3d.mechanics.fit import fit
from route3d.model import Job
from route3d.planning.result import RunResult, evaluate_run
from viewer.meshes import scale_colors, tube_mesh
from viewer.scene.build import build_scene
from viewer.still.layout import arrange
from viewer.theme import CATEGORIES, LIGHT, OVER_LIMIT, category_color, rgb

Answered = tuple[RunResult, Job]


def test_each_conduit_has_a_color_and_an_entry(riser: Answered) -> None:
    result, job = riser
    scene = build_scene(result, job, color_by="conduit")
    assert [lines[0] for lines in scene.scale.categories] == ["PVC-40 5", "RMC 5"]
    used = [tuple(tube_mesh(t, scene, LIGHT).point_data["rgb"][0]) for t in scene.tubes]
    assert used == [category_color(0), category_color(1)]
    assert not scene.scale.broken


def test_the_legend_says_how_the_cables_lie(riser: Answered) -> None:
    result, job = riser
    scene = build_scene(result, job, color_by="conduit")
    run = result.run
    expected = fit(run.cables.diameters, run.route.conduits[0].inner_diameter, run.arrangement)
    layout = arrange(scene, "isometric", (1600, 1000), LIGHT, measure)
    words = [i.text for i in layout.overlay if isinstance(i, Text)]
    assert expected.arrangement in words and "friction 0.25" in words and "friction 0.35" in words
    assert not any(isinstance(i, Strip) for i in layout.overlay)  # no bar beside a legend


def test_two_conduits_of_one_label_are_two(riser: Answered) -> None:
    result, job = riser
    route = result.run.route
    first = route.conduits[0]
    rough = replace(first, name="rough", friction=0.5)
    run = replace(result.run, route=replace(route, conduits=(first, rough, *route.conduits[2:])))
    scene = build_scene(evaluate_run(run, job.practice), job, color_by="conduit")
    names = [lines[0] for lines in scene.scale.categories]
    assert names == ["PVC-40 5 (duct)", "PVC-40 5 (rough)", "RMC 5"]
    assert {t.conduit for t in scene.tubes} == set(names)


def test_more_categories_than_colors_stay_apart() -> None:
    many = [category_color(i) for i in range(2 * len(CATEGORIES))]
    assert len(set(many)) == len(many)
    assert rgb(OVER_LIMIT) not in many


def test_colors_of_a_scale_without_categories_are_those_of_the_map(riser: Answered) -> None:
    scene = build_scene(*riser)
    shades = scale_colors(scene.scale, np.array([0.0, scene.scale.full]), LIGHT)
    assert shades[0].tolist() != shades[1].tolist()
