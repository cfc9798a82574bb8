"""From a session to the values the page shows, one dictionary for each step of the work."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from route3d.errors import GeometryError, InputError, Problem
from route3d.mechanics.pull import Pull
from route3d.model.job import Site
from route3d.planning.changes import Change
from route3d.planning.stop_load import StopLoad
from route3d.units import SYSTEMS, show
from viewer.context import context_meshes
from viewer.page import crew, drawing, words
from viewer.page.session import Session
from viewer.scene import build_scene
from viewer.scene_data import ContextMesh, Scene
from viewer.tubes import tubes

Data = dict[str, Any]


def scene_of(session: Session, units: str) -> Scene:
    """The scene of the direction on show, without the buildings: those come once, from the file."""
    job = replace(session.job, site=Site())
    return build_scene(session.result, job, units=units, feed=session.feed)


def buildings_of(session: Session, scene: Scene) -> tuple[ContextMesh, ...]:
    """The buildings of the model file; InputError where one cannot be read."""
    return context_meshes(session.job, scene.origin)


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


def edit_problem(error: InputError, units: str) -> str:
    """What is wrong with an edit; a radius that does not fit in the units it was typed in."""
    if isinstance(error, GeometryError) and error.largest_radius is not None:
        largest = show(error.largest_radius, "radius", units)
        return f"This radius leaves no straight between the bends: {largest} is the most that fits"
    return "; ".join(problem_words(p) for p in error.problems)


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
    """What follows from the result and is seen at once: words, figures, colours and charts."""
    scenes = {u: scene_of(session, u) for u in SYSTEMS}
    pull, scene = session.shown.pull, scenes["SI"]
    return {
        "title": scene.title,
        "sheet": {u: words.summary(session, s) for u, s in scenes.items()},
        "charts": {u: words.charts(pull, u) for u in SYSTEMS},
        "crew": {u: crew.crew_sheet(session.result, session.shown, u) for u in SYSTEMS},
        "colours": drawing.tube_colours(pull, scene, drawing.choose_rings(scene.tubes)),
        "labels": {u: drawing.label_data(s.labels) for u, s in scenes.items()},
        "probes": {u: drawing.probes(s, u) for u, s in scenes.items()},
        "legend": {u: drawing.legend(pull, u) for u in SYSTEMS},
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
    )


def geometry_values(session: Session, context: tuple[ContextMesh, ...]) -> Data:
    """The meshes, and what the browser needs to frame them."""
    scene = scene_of(session, "SI")
    return {
        "tube": drawing.tube_mesh(scene.tubes, drawing.choose_rings(scene.tubes)),
        "solids": drawing.solids(replace(scene, context=context)),
        "box": drawing.bounds(scene),
        "corners": drawing.solid_corners(scene),
        "places": drawing.bend_places(session.shown.pull, scene.origin),
        "marker": 2.2 * max(t.radius for t in scene.tubes),
    }


def bend_values(session: Session) -> Data:
    """The bend table."""
    return {"bends": {u: words.bend_rows(session.result, u) for u in SYSTEMS}}


def stop_values(session: Session, stop: StopLoad | None) -> Data:
    """The stop load and what hangs on it."""
    pull = session.shown.pull
    return {
        "stop": {u: crew.stop_words(pull, stop, u) for u in SYSTEMS},
        "crew_chart": {u: crew.stop_charts(pull, stop, u) for u in SYSTEMS},
    }


def help_values(found: tuple[Change, ...]) -> Data:
    """What would make the run pass; nothing where it does."""
    return {"help": {u: words.help_words(found, u) for u in SYSTEMS}}


def preview_values(before: Scene, pull: Pull) -> Data:
    """Colours and peak figures while the rest is still being worked out.

    ``before`` is the scene on show: the same route, so that its mesh stays.
    """
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
