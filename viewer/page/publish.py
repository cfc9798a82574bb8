"""From a session to the values the page shows, one dictionary for each step of the work."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import Any

from route3d.errors import GeometryError, InputError, Problem
from route3d.formats.building_meshes import read_buildings
from route3d.mechanics.pull import Pull
from route3d.planning.margins import as_ordered
from route3d.planning.pull_plan.plan import Plan
from route3d.planning.pull_plan.progress import progress
from route3d.planning.remedies.bend_margins import BendMargin
from route3d.units import SYSTEMS, show
from viewer.context import context_meshes
from viewer.film_data import film_data
from viewer.gauge import must_not_be_pulled, rows_of
from viewer.page import charts, crew, drawing, words
from viewer.page.session import Session
from viewer.playback import playback
from viewer.reading import reading
from viewer.scene import build_scene
from viewer.scene_data import ContextMesh, Scene, Tube
from viewer.tubes import tubes
from viewer.verdict import may_be_pulled, with_plan

Data = dict[str, Any]

# Segments of a path along which the rope is followed in a tenth of a second or so.
_LONG = 400
_PENDING = "Being worked out."


def scene_of(session: Session, units: str, drawn: tuple[Tube, ...] | None = None) -> Scene:
    """The scene of the direction on show, without the buildings: those come once, from the file.

    ``drawn`` are its tubes where they are known already.
    """
    return build_scene(
        session.result,
        session.job,
        units=units,
        feed=session.feed,
        drawn=drawn,
        place=session.place,
        given=(),
    )


def buildings_of(session: Session, scene: Scene) -> tuple[ContextMesh, ...]:
    """The buildings of the model file; InputError where one cannot be read."""
    return context_meshes(read_buildings(session.job), scene.origin)


def file_data(session: Session) -> Data:
    """What is wrong with the file on disk, and with the last edit."""
    return {
        "problems": [problem_words(p) for p in session.problems],
        "notice": session.message,
    }


def problem_words(problem: Problem) -> str:
    """One problem on one line: its line in the file first, the folders left out."""
    place = f"line {problem.line}: " if problem.line is not None else ""
    return place + str(replace(problem, file="", line=None))


def edit_problem(error: InputError, units: str, field: str = "", text: str = "") -> str:
    """What is wrong with an edit; a radius that does not fit in the units it was typed in.

    ``field`` names what was edited, ``text`` is what was typed.
    """
    named = f"{field}, {text!r}: " if field else ""
    if isinstance(error, GeometryError) and error.largest_radius is not None:
        largest = show(error.largest_radius, "radius", units)
        said = f"this radius leaves no straight between the bends: {largest} is the most that fits"
    else:
        said = "; ".join(problem_words(p) for p in error.problems)
    return named + said


def field_values(session: Session) -> Data:
    """The form: what stands in each field, and what has been edited."""
    return {
        "fields": {u: words.field_data(session, u) for u in SYSTEMS},
        "bend_fields": {u: words.bend_field_data(session, u) for u in SYSTEMS},
        "edit_words": {u: words.edit_words(session, u) for u in SYSTEMS},
        "machines": list(session.machines),
        "ends": words.end_choices(session),
        "feed": "best" if session.feed is None else str(session.feed),
    }


def result_values(session: Session) -> Data:
    """What follows from the result and is seen at once: words, figures, colors and charts."""
    scenes = _scenes(session)
    scene, pull = scenes["SI"], session.shown.planned
    return {
        "title": scene.title,
        "bends_fed": pull.feed_name,
        "charts": charts_at_once(pull),
        "colours": drawing.tube_colours(pull, scene, drawing.choose_rings(scene.tubes)),
        **_told(session, scenes, None, pending=True),
        "legend": {u: drawing.legend(pull, u) for u in SYSTEMS},
        **stop_pending(),
    }


def _scenes(session: Session) -> dict[str, Scene]:
    """The scene in both systems of units."""
    scene = scene_of(session, "SI")
    return {u: scene if u == scene.units else scene_of(session, u, scene.tubes) for u in SYSTEMS}


def _told(
    session: Session, scenes: Mapping[str, Scene], plan: Plan | None, *, pending: bool
) -> Data:
    """What is said of the direction on show: in the tables, to the crew, and over the picture."""
    return {
        "sheet": {u: words.summary(session, s, plan) for u, s in scenes.items()},
        "crew": {u: crew.crew_sheet(session, s, plan, pending=pending) for u, s in scenes.items()},
        "labels": {u: drawing.label_data(s.labels) for u, s in scenes.items()},
    }


def is_long(pull: Pull) -> bool:
    """Whether to follow the rope of this pull takes so long that the rest must not wait for it."""
    return pull.rope_phase is not None and len(pull.path) > _LONG


def charts_at_once(pull: Pull) -> Data:
    """The charts; of a long pull without that of the rope phase, which says that it is to come."""
    if not is_long(pull):
        return {u: charts.charts(pull, u) for u in SYSTEMS}
    soon = dict.fromkeys(("wide", "narrow"), f"<p>{_PENDING}</p>")
    early = replace(pull, rope_phase=None)
    return {u: {**charts.charts(early, u), "history": soon} for u in SYSTEMS}


def stop_pending() -> Data:
    """What stands in place of the plan until it is known: never that of another pull."""
    return {
        "stop": {u: crew.pending(_PENDING) for u in SYSTEMS},
        "film": None,
        "crew_chart": {u: {"wide": "", "narrow": ""} for u in SYSTEMS},
    }


def geometry_key(session: Session) -> object:
    """Two sessions of one key have the same meshes, and those need not be sent again."""
    run, route = session.run, session.run.route
    return (
        id(session.given),
        tuple((v.point, v.bend, v.box) for v in route.vertices),
        tuple(c.outer_diameter for c in route.conduits),
        session.shown.pull.feed,
        run.machine and run.machine.envelope,
        session.place and session.place.best[:1],
    )


def geometry_values(session: Session, context: tuple[ContextMesh, ...]) -> Data:
    """The meshes, and what the browser needs to frame them."""
    scene = scene_of(session, "SI")
    return {
        "tube": drawing.tube_mesh(scene.tubes, drawing.choose_rings(scene.tubes)),
        "solids": drawing.solids(replace(scene, context=context)),
        "line": drawing.line(scene),
        "box": drawing.bounds(scene),
        "corners": drawing.solid_corners(scene),
        "places": drawing.bend_places(session.shown.pull, scene.origin),
        "marker": 2.2 * max(t.radius for t in scene.tubes),
    }


def place_words(scene: Scene, station: float, units: str) -> str:
    """What stands at a station of the scene on show, each figure with its limit."""
    return " · ".join(reading(replace(scene, units=units), station).lines)


def bend_values(session: Session, margins: Sequence[BendMargin] = ()) -> Data:
    """The bend table; without ``margins`` what each bend has left is still to come."""
    return {"bends": {u: words.bend_rows(session, u, margins) for u in SYSTEMS}}


def plan_values(session: Session, plan: Plan | None) -> Data:
    """What the plan adds: to verdict and flags, the crew's words, the film, and the charts."""
    pull = session.shown.planned
    made = not must_not_be_pulled(session.result, session.shown, plan)
    moving = progress(pull, session.job.allowances) if made else None
    rows = rows_of(plan)
    film = playback(session.result, pull, "SI", session.job.allowances, rows, made=made)
    told = plan if may_be_pulled(session.result, session.shown, plan) else None
    scenes = {
        u: with_plan(s, session.result, session.shown, plan) for u, s in _scenes(session).items()
    }
    return {
        **_told(session, scenes, plan, pending=False),
        "charts": {u: charts.charts(pull, u, moving, rows) for u in SYSTEMS},
        "stop": {u: crew.plan_words(session.shown, told, u) for u in SYSTEMS},
        "crew_chart": {u: crew.plan_charts(pull, told, u) for u in SYSTEMS},
        "film": {**film_data(film, pull.run.rope), "gears": list(film.gear_words)},
    }


def unrolled(session: Session, units: str, narrow: bool) -> str:
    """The profile of the direction on show, as SVG."""
    return charts.unrolled(session.shown.planned, units, narrow=narrow)


def help_values(session: Session) -> Data:
    """What would make the run pass; nothing where it does."""
    return {"help": {u: words.help_words(session, u) for u in SYSTEMS}}


def preview_values(before: Scene, pull: Pull) -> Data:
    """Colors and peak figures while the rest is still being worked out.

    ``before`` is the scene on show: the same route, so that its mesh stays.
    """
    pull = as_ordered(pull)
    drawn = tubes(pull, before.exaggeration, before.origin)
    rings = drawing.choose_rings(before.tubes)
    figures = {
        u: f"peak tension {show(pull.peak_tension, 'force', u)}, "
        f"peak sidewall {show(pull.peak_sidewall, 'sidewall', u)}"
        for u in SYSTEMS
    }
    return {
        "colours": drawing.tube_colours(pull, replace(before, tubes=drawn), rings),
        "legend": {u: drawing.legend(pull, u) for u in SYSTEMS},
        "working": figures,
    }
