"""What a window shows of a run for its state: scene, plan, the pull and what stops it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from queue import Empty, SimpleQueue
from threading import Thread

from route3d.model.job import Job
from route3d.planning.direction import Candidate
from route3d.planning.placement.search import PlacementSearch
from route3d.planning.pull_plan.plan import Plan
from route3d.planning.result import RunResult
from viewer.gauge import is_quick, must_not_be_pulled, plan_for_crew, rows_of
from viewer.playback import Playback, evenly, playback
from viewer.scene.build import build_scene, candidate_of
from viewer.scene.reading import reading
from viewer.scene.records import Scene
from viewer.verdict import findings_of, stop_words, with_plan
from viewer.window.state import WindowState

# --- the plans a window shows: at once where that is quick, else beside it ------------------

Key = tuple[int, int]
"""Number of the run, and of the vertex it is fed from."""


class Plans:
    """Every plan asked for so far; those of very long runs come later, one thread for each."""

    def __init__(self) -> None:
        self._known: dict[Key, Plan | None] = {}
        self._waiting: dict[Key, Callable[[], None]] = {}
        self._done: SimpleQueue[tuple[Key, Plan | Exception | None]] = SimpleQueue()

    def of(
        self,
        key: Key,
        result: RunResult,
        candidate: Candidate,
        job: Job,
        place: PlacementSearch | None,
    ) -> Plan | None:
        """The plan of a direction; None where there is none, or none yet."""

        def make() -> Plan | None:
            return plan_for_crew(result, candidate, job, placement=place, patient=True)

        def later() -> None:
            try:
                self._done.put((key, make()))
            except Exception as error:  # shown where the window is: see came
                self._done.put((key, error))

        if key not in self._known:
            if is_quick(candidate):
                self._known[key] = make()
            else:  # begun once the picture stands
                self._known[key] = None
                self._waiting[key] = later
        return self._known[key]

    def came(self) -> bool:
        """Whether a plan has come since the last time this was asked; raises what it raised.

        Begins those asked for meanwhile.
        """
        for later in self._waiting.values():
            Thread(target=later, daemon=True).start()
        self._waiting.clear()
        try:
            key, plan = self._done.get_nowait()
        except Empty:
            return False
        if isinstance(plan, Exception):
            raise plan
        self._known[key] = plan
        return True


# --- what a window shows of a run for its state: scene, the pull and what stops it ----------

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
    state: WindowState,
    places: dict[Key, PlacementSearch | None],
    plans: Plans,
) -> Content:
    """The content for a state; ``places`` keeps the machine location, by direction."""
    key = (state.run, state.feed)
    candidate = candidate_of(result, state.feed)
    scene = build_scene(
        result,
        job,
        units=state.units,
        color_by=state.color_by,
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


def title_of(run: str, shown: Content, state: WindowState, at: int) -> str:
    """What a window shows, with the pull at a frame and the place that is read."""
    words = [f"route3d {run}", f"fed from {shown.frames.feed}"]
    # the name of a scale in code keeps its older spelling
    colors = "utilization" if state.color_by == "utilization" else state.color_by
    words += [colors, state.units, state.view, state.theme]
    if state.pulled is not None:
        words.append(shown.frames.captions[at])
    if state.picked is not None:
        words += reading(shown.scene, state.picked).lines
    return " | ".join(words)
