"""What a window shows of a run for its state: scene, the pull and what stops it."""

from __future__ import annotations

from dataclasses import dataclass

from route3d.model.job import Job
from route3d.planning.placement import PlacementSearch
from route3d.planning.result import RunResult
from viewer.gauge import must_not_be_pulled, rows_of
from viewer.playback import Playback, evenly, playback
from viewer.reading import reading
from viewer.scene import build_scene, candidate_of
from viewer.scene_data import Scene
from viewer.verdict import findings_of, stop_words, with_plan
from viewer.window_plans import Key, Plans
from viewer.window_state import State

PLACES = 201
"""Frames of a pull from end to end."""


@dataclass(frozen=True, slots=True, eq=False)
class Content:
    """The ``scene``; the pull at every place the mechanics look at, and in even ``frames``.

    ``stops`` are in words what stops the pull.
    """

    scene: Scene
    whole: Playback
    frames: Playback
    stops: tuple[str, ...]


def content_of(
    result: RunResult,
    job: Job,
    state: State,
    places: dict[Key, PlacementSearch | None],
    plans: Plans,
) -> Content:
    """The content for a state; ``places`` keeps where the machine stands, by direction."""
    key = (state.run, state.feed)
    candidate = candidate_of(result, state.feed)
    scene = build_scene(
        result,
        job,
        units=state.units,
        colour_by=state.colour_by,
        feed=state.feed,
        exaggeration=state.exaggeration,
        place=places.get(key),
    )
    places[key] = scene.place
    plan = plans.of(key, result, candidate, job, scene.place)
    made = not must_not_be_pulled(result, candidate, plan)
    rows = rows_of(plan)
    whole = playback(result, candidate.planned, state.units, job.allowances, rows, made=made)
    return Content(
        with_plan(scene, result, candidate, plan),
        whole,
        evenly(whole, PLACES, state.units),
        stop_words(findings_of(result, candidate, plan), state.units),
    )


def title_of(run: str, shown: Content, state: State, at: int) -> str:
    """What a window shows, with the pull at a frame and the place that is read."""
    words = [f"route3d {run}", f"fed from {shown.frames.feed}"]
    # the name of a scale in code keeps its older spelling
    colors = "utilization" if state.colour_by == "utilisation" else state.colour_by
    words += [colors, state.units, state.view, state.theme]
    if state.pulled is not None:
        words.append(shown.frames.captions[at])
    if state.picked is not None:
        words += reading(shown.scene, state.picked).lines
    return " | ".join(words)
