"""The data of a page: words in both systems of units, numbers in SI.

The page only picks, places and draws. Every sentence and every figure with its unit is made here,
for US and for SI; only what moves under a finger (a reading, the pull) is printed by the page, from
the table of units in ``unit_table``. A page that is handed over is told all at once; a live one is
told of each edit in parts: ``answer_data`` first, then ``geometry_data`` where the meshes changed,
``plan_data`` of each direction, ``margin_data`` and ``advice_data``. The parts merge key by key.
"""

from __future__ import annotations

import base64
import gzip
import math
from collections.abc import Mapping, Sequence
from dataclasses import replace
from functools import cache
from typing import Any, TypeAlias

import numpy as np

from route3d.checks.falling_friction import decides
from route3d.checks.finding import SEVERITIES, Finding
from route3d.checks.limits import Utilization, sidewall_limit
from route3d.drawing.axes import kept_rows, ticks
from route3d.drawing.rigging.sheet import rigging_picture
from route3d.geometry.bend_schedule import bend_labels, bend_schedule
from route3d.geometry.path import ARC, CORNER
from route3d.geometry.vectors import Floats
from route3d.language import AS_IT_IS, ENGLISH, Translation, page_words
from route3d.mechanics.pull import Pull
from route3d.model.examples import example_banner
from route3d.model.job import Job
from route3d.model.practice import Practice
from route3d.model.run import Run
from route3d.planning.direction import Candidate
from route3d.planning.margins import as_ordered, brake_words
from route3d.planning.placement.search import PlacementSearch
from route3d.planning.pull_plan.plan import Plan
from route3d.planning.result import CAUTIONS, RunResult
from route3d.planning.rigging.layout import rigging_layouts
from route3d.planning.shop import shop_sheet
from route3d.report.bends import MADE, BendLine, BendRow, bend_lines, bend_rows
from route3d.report.explanations import found_by
from route3d.report.issue import issue_of
from route3d.report.remedies import RemedyList, list_data, remedy_list
from route3d.report.tension import by_both_cells, by_both_labels
from route3d.report.words import (
    limit_of,
    measured,
    peak_sidewall_place,
    peak_tension_place,
    rules_line,
    sentence,
)
from route3d.units import SYSTEMS, convert, render, show, show_marked, unit_label
from viewer.camera import camera_for
from viewer.gauge import NOT_TO_BE_MADE, Gauge, GaugeReading, gauge_of, is_quick, rows_of, why_none
from viewer.playback import playback, warning
from viewer.scene.build import (
    BRAKE,
    MOVING_PEAK,
    PEAK,
    auto_exaggeration,
    build_scene,
    origin_of,
)
from viewer.scene.labels import labels
from viewer.scene.records import COLOR_BY, Coloring, ColorScale, Scene
from viewer.scene.scale import color_scale, tension_limit
from viewer.scene.tubes import tubes
from viewer.still.cards import least_words
from viewer.theme import OVER_LIMIT, THEMES, category_color, color_table
from viewer.verdict import findings_of, may_be_pulled, stops_of, with_plan
from viewer.web.edits import Edits, Field, edit_fields
from viewer.web.film_data import film_data, numbers, unit_table
from viewer.web.glb import MOST, BothWays, color_values, run_glb
from viewer.web.log_data import forecast_data, log_data, log_words
from viewer.web.route_edit import RouteEdit, route_data
from viewer.web.route_legs import legs_data
from viewer.web.session import Session, edited_run, handed_over, machines_of, surroundings_of

Data: TypeAlias = dict[str, Any]

# What explains a key figure.
_RULES = {
    "Peak tension": "conductor tension",
    "Peak sidewall": "sidewall pressure",
    MOVING_PEAK: "machine line pull",
    PEAK: "machine line pull",
    BRAKE: "brake window",
    "Cables": "arrangement",
}

MODES: tuple[Coloring, ...] = COLOR_BY
# A screen has room for a few dozen labels: the rest could never be placed, and a tap reads any
# bend of the route.
_MOST_LABELS = 160
# The best corner to look from depends on the shape of the window: a page lying and one upright.
_SHAPES = {"wide": (900, 620), "tall": (390, 400)}
_MOST_PLACES = 2000  # of a chart: more cannot be told apart on a screen
_MOST_BANDS = 200  # bends of a chart: more are thinner than a pixel
_MOST_CAUTIONS = 12  # more would not be read in a vault
_QUICK = 400  # segments of a run whose bends and labels are told with the answer
_TO_COME = "…"
_LOOKING = "Searching for remedies…"
_TOO_LARGE = (
    "The run is too large to search for remedies while you edit. To list them: "
    "route3d tension MODEL"
)


def page_data(
    results: tuple[RunResult, ...],
    job: Job,
    units: str,
    theme: str,
    *,
    draft: bool = False,
    told: Translation = AS_IT_IS,
) -> Data:
    """Everything a hand-over page shows, ready for JSON; a ``draft`` says so across it.

    ``told`` is the language of the crew's tab.
    """
    surroundings = surroundings_of(job)
    sessions = [handed_over(result, job, surroundings, told) for result in results]
    return {
        **frame_data(job, units, theme, told.language),
        "draft": draft,
        "live": False,
        "runs": [run_data(session, len(results)) for session in sessions],
    }


def frame_data(job: Job, units: str, theme: str, language: str = ENGLISH) -> Data:
    """What is the same for all runs of a page, with the words of the crew's tab."""
    return {
        "language": language,
        "catalog": page_words(language),
        "title": job.title,
        "examples": example_banner(job.examples),
        "units": units,
        "theme": theme,
        "quantities": unit_table(),
        "themes": {name: _theme(name) for name in THEMES},
        "overLimit": OVER_LIMIT,
        "north": job.site.frame.north,
        "modes": list(MODES),
        "cautions": list(CAUTIONS),
        "noGauge": NOT_TO_BE_MADE,
        "gaugeStep": job.allowances.gauge_step,
        "mark": issue_of(job, "sheet", units).short,
        "model": "" if job.path is None else job.path.name,
    }


@cache
def _theme(name: str) -> Data:
    theme = THEMES[name]
    named = ("ground", "ink", "faint", "line", "card", "feed", "machine", "alarm", "on_solid")
    colors = {key: getattr(theme, key) for key in (*named, "steel", "cable")}
    table = "".join(f"{r:02x}{g:02x}{b:02x}" for r, g, b in color_table(theme).tolist())
    return {**colors, "map": table}


# --- one run -----------------------------------------------------------------------------------


def run_data(session: Session, runs: int) -> Data:
    """A run of which all is known; ``runs`` is the number of those on the page."""
    answer, shape = answer_data(session), geometry_data(session, runs)
    both = zip(answer["directions"], shape["directions"], strict=True)
    directions = [
        {**one, **more, "forecast": forecast_data(session, n)} for n, (one, more) in enumerate(both)
    ]
    return {**answer, **shape, "directions": directions}


def stub_data(run: Run) -> Data:
    """A run not opened yet."""
    return {"name": run.name, "ends": ends_of(run), "stub": True}


def ends_of(run: Run) -> list[str]:
    """The names of its first and last point."""
    return [run.route.label(i) for i in (0, len(run.route.vertices) - 1)]


def answer_data(
    session: Session,
    systems: Sequence[str] = SYSTEMS,
    *,
    colors: bool = False,
    editable: bool = False,
) -> Data:
    """What follows from the answer and is seen at once, in words, figures and fields.

    In the units of ``systems``; with ``colors`` the values that color the tubes too, for a page
    that has their geometry already, and for an ``editable`` one the points of the route.
    """
    result = session.result
    chosen = result.decision.choice
    scenes = [scenes_of(session, n, systems) for n in (0, 1)]
    drawn = [next(iter(scene.values())).tubes for scene in scenes]
    return {
        "name": session.given.name,
        "ends": ends_of(session.given),
        "best": session.best,
        "chosen": None if chosen is None else result.candidates.index(chosen),
        "limits": {
            "tension": tension_limit(result.best.pull),
            "sidewall": sidewall_limit(result.run).value,
            "utilization": 1.0,
        },
        "compare": {u: _compared(result, u) for u in systems},
        "bands": _bands(result),
        **field_data(session),
        "directions": [
            direction_data(session, n, scenes[n])
            # whoever comes when the plan is known has the tables with the answer
            | ({} if session.planned[n] is None else {"forecast": forecast_data(session, n)})
            for n in (0, 1)
        ],
        "working": None,
        **({"colors": color_values(drawn)} if colors else {}),
        **({"route": _route(session)} if editable else {}),
    }


def _route(session: Session) -> Data:
    edit = session.edits.get("route")
    edit = edit if isinstance(edit, RouteEdit) else None
    told = dict(route_data(session.run, edit))
    if told["points"]:
        told["legs"] = legs_data(session.job, session.given, session.run, edit)
    return told


def word_data(session: Session, systems: Sequence[str]) -> Data:
    """The words of an answer in other units than it was given in."""
    result, words = session.result, []
    for n in (0, 1):
        told = direction_data(session, n, scenes_of(session, n, systems))
        words.append({"words": told["words"]})
    return {"compare": {u: _compared(result, u) for u in systems}, "directions": words}


def field_data(session: Session) -> Data:
    """The form: the text of each field, and every edit in words."""
    fields = edit_fields(session.given, session.run, session.edits)
    machines = [*machines_of(session.job)]
    return {
        "fields": {
            u: [
                _field(f, u, machines)
                for f in fields
                if f.group != "route" and (f.group != "machine" or machines)
            ]
            for u in SYSTEMS
        },
        "falls": {u: _falls(session.run, session.job.practice, u) for u in SYSTEMS},
        "edits": {u: [f.change(u) for f in fields if f.key in session.edits] for u in SYSTEMS},
    }


def _falls(run: Run, practice: Practice, units: str) -> list[tuple[str, str]]:
    """Label and text of friction that falls above a contact load: how far, and what decides."""
    rows = []
    for conduit in dict.fromkeys(run.route.conduits):
        if conduit.friction_above is None or conduit.friction_then is None:
            continue
        above = show(conduit.friction_above, "sidewall", units)
        rows += [
            (
                f"Friction in {conduit.name} above {above} of contact load",
                show(conduit.friction_then, "ratio", units),
            ),
            (f"Test report for {conduit.name}", conduit.friction_report or "none"),
            (f"Result for {conduit.name}", render(decides(conduit, practice), units)),
        ]
    return rows


def edit_words(job: Job, given: Run, edits: Edits) -> dict[str, list[str]]:
    """Edits in words; InputError where they fit nothing in the run."""
    fields = edit_fields(given, edited_run(job, given, edits)[0], edits)
    return {u: [f.change(u) for f in fields if f.key in edits] for u in SYSTEMS}


def summary_data(session: Session) -> Data:
    """The chosen end and its figures, to hold one variant against another."""
    scenes = scenes_of(session, session.best)
    facts = {u: [[f.name, f.value] for f in scene.facts] for u, scene in scenes.items()}
    return {"feed": session.result.best.pull.feed_name, "summary": facts}


def _field(field: Field, units: str, machines: list[str]) -> Data:
    low, most = field.span(units) or (None, None)
    return {
        "key": field.key,
        "label": field.label,
        "group": field.group,
        "text": field.text(units),
        "unit": unit_label(field.quantity, units) if field.quantity else "",
        "edited": field.edited,
        "given": field.given_text(units),
        "lo": low,
        "hi": most,
        **({"choices": machines} if field.group == "machine" else {}),
    }


def _bands(result: RunResult) -> list[list[Any]]:
    """Where each bend begins and ends (m) with its number, for the charts."""
    schedule = bend_schedule(result.path)
    if len(schedule) > _MOST_BANDS:
        return []
    return [[b.station, b.station + b.arc_length, str(b.number)] for b in schedule]


def tube_key(session: Session) -> object:
    """Two sessions of one key have the same tubes: the colors of one fit those of the other."""
    route = session.run.route
    return (
        id(session.given),
        tuple((v.point, v.bend, v.box) for v in route.vertices),
        tuple(c.outer_diameter for c in route.conduits),
    )


def geometry_key(session: Session) -> tuple[object, object]:
    """That of the tubes, and what tells whether all other meshes are the same too."""
    machine = session.run.machine
    places = (session.place(n) for n in (0, 1))
    solids = machine and machine.envelope, tuple(place and place.best[:1] for place in places)
    return tube_key(session), solids


def geometry_data(session: Session, runs: int) -> Data:
    """The meshes with the numbers that color them, and what else the picture needs."""
    result = session.result
    both = [scenes_of(session, n) for n in (0, 1)]
    first, second = (
        replace(scene["SI"], context=session.surroundings.at(scene["SI"].origin)) for scene in both
    )
    glb = run_glb(BothWays(first, second), both[0], runs=runs)
    # level 6 is nearly as small as 9 and three times as fast: somebody may be waiting
    packed = gzip.compress(glb, 6, mtime=0)
    arcs = np.flatnonzero(result.path.kind == ARC)
    middles = (result.path.stations[arcs] + result.path.stations[arcs + 1]) / 2
    points = result.path.point(middles) - first.origin
    return {
        "glb": base64.b64encode(packed).decode("ascii"),
        "length": result.path.length,
        "origin": first.origin.tolist(),
        "segments": _segments(result),
        "bendPlaces": [
            {"number": i, "station": station, "xyz": numbers(xyz)}
            for i, (station, xyz) in enumerate(zip(middles.tolist(), points, strict=True), 1)
        ],
        "colors": None,
        "directions": [{"azimuth": _azimuths(scene)} for scene in (first, second)],
    }


def _segments(result: RunResult) -> Data:
    """Where each segment ends, and its name for a reading."""
    path = result.path
    return {
        "end": numbers(path.stations[1:]),
        "bend": [bool(k == ARC) for k in path.kind],
        "words": {u: [_segment(result, i, u) for i in range(len(path))] for u in SYSTEMS},
    }


def _segment(result: RunResult, i: int, units: str) -> list[str]:
    """Head and size of one segment: ``Bend 2 at V3``, ``R 48 in, 90.0°, PVC-40 5``."""
    path, route = result.path, result.run.route
    conduit = route.conduits[int(path.leg[i])].label
    if path.kind[i] == CORNER:
        return [f"Turn at {route.label(int(path.vertex[i]))}", conduit]
    if path.kind[i] != ARC:
        return ["Straight", f"{show(float(path.lengths[i]), 'length', units)}, {conduit}"]
    name = route.vertices[int(path.vertex[i])].name
    number = int(np.count_nonzero(path.kind[: i + 1] == ARC))
    radius = show(float(path.radii[i]), "radius", units)
    angle = show(float(path.angles[i]), "angle", units)
    return [f"Bend {number}" + (f" at {name}" if name else ""), f"R {radius}, {angle}, {conduit}"]


# --- parts that come later ---------------------------------------------------------------------


def plan_data(session: Session, n: int) -> Data:
    """All of one direction once its plan is known; the best one's may stop the run."""
    directions: list[Data] = [{}, {}]
    directions[n] = {**direction_data(session, n), "forecast": forecast_data(session, n)}
    if n == session.best:
        other = {u: {"remedies": _remedies(session, u)} for u in SYSTEMS}
        directions[1 - n] = {"words": other}
    return {"directions": directions}


def margin_data(session: Session) -> Data:
    """The bends with their margins."""
    words = ({u: {"bends": _bends(session, n, u)} for u in SYSTEMS} for n in (0, 1))
    return {"directions": [{"words": each} for each in words]}


def advice_data(session: Session) -> Data:
    """The remedies of the run."""
    words = {u: {"remedies": _remedies(session, u)} for u in SYSTEMS}
    return {"directions": [{"words": words}, {"words": words}]}


def preview_data(session: Session, pulls: Sequence[Pull]) -> Data:
    """Colors and largest figures while the rest is still being calculated.

    ``session`` is that on show, of the same route: its meshes stay. ``pulls`` are the new ones, one
    for each direction.
    """
    ordered = [as_ordered(pull) for pull in pulls]
    factor, origin = auto_exaggeration(session.result), origin_of(session.result.path)
    best = ordered[session.best]
    figures = {
        u: f"peak tension {show(best.peak_tension, 'force', u)}, "
        f"peak sidewall {show(best.peak_sidewall, 'sidewall', u)}"
        for u in SYSTEMS
    }
    words = [
        {u: {"scales": {m: _scale(pull, m, u) for m in MODES}} for u in SYSTEMS} for pull in ordered
    ]
    return {
        "colors": color_values([tubes(pull, factor, origin) for pull in ordered]),
        "directions": [{"words": each} for each in words],
        "working": figures,
    }


def _remedies(session: Session, units: str) -> Data:
    """The remedies of the run, cheapest first, or that it is still to come; else empty."""
    result = session.result
    told = remedy_list(result, units, edited=session.run != session.given)
    if result.advice is None and session.fails:
        told = RemedyList(foot=_LOOKING if is_quick(result.best) else _TOO_LARGE)
    return list_data(told)


# --- one direction -----------------------------------------------------------------------------


def scenes_of(session: Session, n: int, systems: Sequence[str] = SYSTEMS) -> dict[str, Scene]:
    """The scene of a direction by system of units, buildings omitted."""
    feed, place = session.result.candidates[n].pull.feed, session.place(n)
    found: dict[str, Scene] = {}
    for units in systems:
        scene = build_scene(
            session.result,
            session.job,
            units=units,
            feed=feed,
            place=place,
            given=(),
            ground=session.surroundings.grade,
            drawn=next((other.tubes for other in found.values()), None),
        )
        found[units] = replace(scene, notes=(*scene.notes, *session.surroundings.notes))
    return found


def direction_data(session: Session, n: int, bare: Mapping[str, Scene] | None = None) -> Data:
    """All that is known of one direction; without its plan nothing that a crew could pull by.

    ``bare`` are its scenes, in the units that are wanted.
    """
    result, candidate, plan = session.result, session.result.candidates[n], session.plan(n)
    bare = scenes_of(session, n) if bare is None else bare
    scenes = {u: with_plan(scene, result, candidate, plan) for u, scene in bare.items()}
    one, pending = next(iter(bare.values())), session.planned[n] is None
    told: Data = {
        "feed": candidate.pull.feed_name,
        "pull": candidate.pull.pull_name,
        "reverse": candidate.pull.reverse,
        "alarm": scenes[one.units].alarm,
        "pending": pending,
        "labels": {
            str(flag).lower(): _labels(session, n, one, pressures=flag)
            if not pending or len(result.path) <= _QUICK
            else []
            for flag in (False, True)
        },
        "profile": _profile(one),
        "words": {u: _words(session, n, scene) for u, scene in scenes.items()},
        "playback": None,
        "log": log_data(session, n),
    }
    if not pending:
        _add_film(told, session, n)
    told["log"]["said"] = log_words(session.told, told)
    return told


def _add_film(told: Data, session: Session, n: int) -> None:
    """The pull from end to end, and its text."""
    rows, made = rows_of(session.plan(n)), not session.halted(n)
    pull, allowances = session.result.candidates[n].planned, session.job.allowances
    for units, words in told["words"].items():
        film = playback(session.result, pull, units, allowances, rows, made=made)
        words["warning"] = sentence(warning(film, units)) if made and film.over.any() else ""
        words["gears"] = list(film.gear_words)
        words["ending"] = sentence(film.ending) if film.ending else ""
        told["playback"] = told["playback"] or film_data(film, session.run)


def _azimuths(scene: Scene) -> dict[str, float]:
    """Where to stand for the first look, rad from east, for a wide and for a tall window."""
    found = {}
    for shape, (width, height) in _SHAPES.items():
        room = (50.0, 50.0, width - 50.0, height - 90.0)
        ahead = camera_for(scene, "isometric", (width, height), room, room).forward
        found[shape] = math.atan2(-float(ahead[1]), -float(ahead[0]))
    return found


def _labels(session: Session, n: int, scene: Scene, *, pressures: bool) -> list[Data]:
    candidate, plan = session.result.candidates[n], session.plan(n)
    both = {
        u: labels(
            candidate,
            scene.solids,
            scene.origin,
            u,
            pressures=pressures,
            findings=(*session.result.run_findings, *stops_of(plan)),
            peak=None if plan is None else plan.peak,
            made=plan is None or not plan.stops,
        )
        for u in SYSTEMS
    }
    return [
        {
            "at": numbers(us.xyz),
            "kind": us.kind,
            "alarm": us.alarm,
            "US": list(us.lines),
            "SI": list(si.lines),
            "least": least_words(us),
        }
        for us, si in zip(both["US"][:_MOST_LABELS], both["SI"][:_MOST_LABELS], strict=True)
    ]


def _profile(scene: Scene) -> Data:
    """Tension, sidewall pressure and elevation by station, no peak of them lost."""
    station, tension, sidewall = (
        np.concatenate([getattr(tube, name) for tube in scene.tubes])
        for name in ("station", "tension", "sidewall")
    )
    height = np.concatenate([tube.points[:, 2] for tube in scene.tubes]) + scene.origin[2]
    kept = [kept_rows(values, _MOST_PLACES) for values in (tension, sidewall, height)]
    rows = np.unique(np.concatenate(kept))
    named = {"station": station, "tension": tension, "sidewall": sidewall, "elevation": height}
    return {name: numbers(values[rows]) for name, values in named.items()}


def _words(session: Session, n: int, scene: Scene) -> Data:
    """The words of one direction, in the units of its scene."""
    result, units, plan = session.result, scene.units, session.plan(n)
    candidate = result.candidates[n]
    go = session.planned[n] is not None and may_be_pulled(result, candidate, plan)
    found = findings_of(result, candidate, plan)
    other = result.decision.choice not in (None, candidate)
    notes = (*scene.notes, *_cut(candidate), f"Basis: {result.practice.basis_words}")
    return {
        "headline": scene.headline,
        "sentence": scene.sentence,
        "tone": "stop" if scene.alarm else "caution" if other else "go",
        "ruledOut": sentence(render(candidate.barred, units)) if candidate.barred else "",
        "facts": [[f.name, f.value, f.note, f.alarm, _RULES.get(f.name)] for f in scene.facts],
        "places": _places(candidate, session.place(n), units),
        "remedies": _remedies(session, units),
        "notes": [*notes, rules_line(result.practice)],
        "scales": {mode: _scale(candidate.planned, mode, units) for mode in MODES},
        "findings": _table([_finding(f, units) for f in found if f.severity != "ok"]),
        "passed": f"{sum(f.severity == 'ok' for f in found)} of {len(found)} checks passed",
        "warning": "",
        "gears": [],
        "ending": "",
        "gauge": _gauge(gauge_of(candidate, plan, units)) if go else None,
        "bends": _bends(session, n, units),
        "crew": _crew(session, n, scene, found),
        "rigging": _rigging(session, plan, units) if go and plan is not None else [],
    }


def _rigging(session: Session, plan: Plan, units: str) -> list[list[str]]:
    """What stands at both ends, to scale: title and SVG of each end."""
    return [
        [f"{layout.end.capitalize()} end: {layout.place}", rigging_picture(layout, units)]
        for layout in rigging_layouts(plan, session.job)
    ]


def _cut(candidate: Candidate) -> list[str]:
    """A note where loads are too large for a file."""
    profile = candidate.planned.profile
    if max(float(profile.tension.max()), float(profile.sidewall.max())) <= MOST:
        return []
    return [f"Loads above {MOST:.0e} N are shown as that value: such a pull is not possible"]


def _places(candidate: Candidate, search: PlacementSearch | None, units: str) -> list[list[str]]:
    """Locations of reel, machine and peaks."""
    pull = candidate.planned
    stands = np.array(search.best[0].position) if search is not None and search.best else None
    machine = pull.path.point(_end(candidate)) if stands is None else stands
    rows = [
        ["Reel", f"{pull.feed_name}, {_at(pull.path.point(_end(candidate, feed=True)), units)}"],
        ["Machine", f"{pull.pull_name}, {_at(machine, units)}"],
        ["Peak tension", peak_tension_place(pull, units)],
    ]
    worst = peak_sidewall_place(pull, units)
    return [*rows, ["Peak sidewall", worst]] if worst else rows


def _end(candidate: Candidate, *, feed: bool = False) -> float:
    """Station of the feed end or of the pulling end."""
    return candidate.pull.path.length if feed == candidate.pull.reverse else 0.0


def _at(point: Floats, units: str) -> str:
    texts = (show(float(v), "length", units).split(" ")[0] for v in point)
    return f"x, y, z {' / '.join(texts)} {unit_label('length', units)}"


def _gauge(told: Gauge) -> Data:
    """Gears, gauge readings and stop load of the pull."""
    return {
        "load": told.load,
        "head": told.head,
        "text": told.text,
        "largest": told.largest,
        "heads": list(told.heads),
        "rows": [
            [r.length, r.gear + ("" if r.usable else " *"), r.expected, r.caution, r.stop, r.breaks]
            for r in told.rows
        ],
        "places": [_at_row(r) for r in told.rows],
        "first": [r.first for r in told.rows],
        "usable": [r.usable for r in told.rows],
        "headline": [[one.length, one.place, one.readings] for one in told.headline],
        "checks": list(told.checks),
        "notes": [*told.notes, *(["* Gauge accurate: no."] * _starred(told))],
        "holds": list(told.holds),
        "gears": list(told.gears),
        "time": list(told.time),
        "machine": list(told.machine),
        "link": list(told.link),
        "accidents": list(told.accidents),
    }


def _at_row(row: GaugeReading) -> str:
    """Text below the length of cable: head location, and the reading at a start."""
    start = f"first move {row.first}" if row.first else ""
    return " · ".join(words for words in (row.place, start) if words)


def _starred(told: Gauge) -> bool:
    return any(not row.usable for row in told.rows)


def _table(entries: Sequence[Data]) -> Data:
    """Entries of the same keys with the keys told once: a long run has thousands of findings."""
    return {"heads": list(entries[0]) if entries else [], "rows": [[*e.values()] for e in entries]}


def _finding(finding: Finding, units: str) -> Data:
    told = math.isfinite(finding.ratio)
    return {
        "severity": finding.severity,
        "rule": finding.rule,
        "where": render(finding.place, units),
        "measured": measured(finding, units) if told else "",
        "limit": limit_of(finding, units) if told else "",
        "fix": sentence(render(finding.fix, units)),
        "source": finding.source,
        "station": finding.station,
        "explained": found_by(finding.rule) is not None,
    }


def _scale(pull: Pull, mode: Coloring, units: str) -> Data:
    scale = color_scale(pull, mode, units)
    if scale.categories:
        return {"title": scale.title, "rule": scale.rule, "entries": _entries(scale)}
    full = convert(scale.full, scale.quantity, units)
    return {
        "title": scale.title,
        "unit": unit_label(scale.quantity, units),
        "full": scale.full,
        "limit": scale.limit,
        "limitWords": show(scale.limit, scale.quantity, units),
        "peak": scale.peak,
        "rule": scale.rule,
        "ticks": [[m / full, f"{m:,.6g}"] for m, _ in ticks((0.0, full), 4)],
    }


def _entries(scale: ColorScale) -> list[Data]:
    return [
        {
            "name": lines[0],
            "color": "#{:02x}{:02x}{:02x}".format(*category_color(i)),
            "lines": list(lines[1:]),
        }
        for i, lines in enumerate(scale.categories)
    ]


# --- both directions ---------------------------------------------------------------------------

_LOADS = ("verdict", "peak tension", "peak sidewall", "machine peak, moving", "reel tension")
_SHARES = ("conductor", "grip", "sidewall", "rope", "machine")


def _compared(result: RunResult, units: str) -> Data:
    """A row for each figure with a cell for each direction; what stops one is an alarm."""
    by_both = by_both_labels(result.best.pull)
    columns = [_column(c, result, len(by_both), units) for c in result.candidates]
    names = (
        *_LOADS,
        *(name.strip() for name in by_both),
        *(f"of {result.best.name(limit)} limit" for limit in _SHARES),
    )
    rows = zip(names, *columns, strict=True)
    return {
        "heads": ["", *(f"feed {c.pull.feed_name}" for c in result.candidates)],
        "rows": [[name, list(one), list(other)] for name, one, other in rows],
    }


def _column(
    candidate: Candidate, result: RunResult, rows: int, units: str
) -> list[tuple[str, bool]]:
    """The cells of one direction, each with whether it says what stops it."""
    pull = candidate.pull
    load, head = pull.machine_peak, pull.machine_peak_head
    machine = "no rope given"
    if load is not None and head is not None:
        at = show(head, "length", units)
        machine = f"{show(load, 'force', units)}, head at {at}"
    where = peak_sidewall_place(pull, units)
    sidewall = f"{show(pull.peak_sidewall, 'sidewall', units)} in {where}" if where else "no bends"
    tension = f"{show(pull.peak_tension, 'force', units)} at {peak_tension_place(pull, units)}"
    return [
        (_verdict(candidate, result, units), bool(candidate.barred or candidate.breaks)),
        (tension, False),
        (sidewall, False),
        (machine, False),
        (show_marked(pull.reel_tension, "force+", units), False),
        *((text, False) for text in by_both_cells(pull, rows, units)),
        *_used(candidate.utilization, units),
    ]


def _used(use: Utilization, units: str) -> list[tuple[str, bool]]:
    shares = dict(use.items())
    return [
        ("none given", False)
        if (share := shares[name]) is None
        else (show(share, "percent", units), share > 1 + 1e-9)
        for name in _SHARES
    ]


def _verdict(candidate: Candidate, result: RunResult, units: str) -> str:
    if candidate.barred:
        return f"ruled out: {render(candidate.barred, units)}"
    if candidate.breaks:
        return "STOP: " + ", ".join(dict.fromkeys(f.rule for f in candidate.breaks))
    return "within limits, chosen" if candidate is result.decision.choice else "within limits"


# --- bends -------------------------------------------------------------------------------------

_COLUMNS = (
    *("Bend", "Verdict", "Of limit", "Sidewall", "Radius", "Min. radius to pass"),
    *("Max. radius that fits", "Min. radius", "Angle", "Plane", "Roll", "Station", "Set-back"),
    *("Arc length", "Gain", "Straight before", "Straight after", "Conduit", "Bend type", "At"),
)


def _bends(session: Session, n: int, units: str) -> Data:
    """The bend schedule of a direction, failing bends first, then by number."""
    result, candidate = session.result, session.result.candidates[n]
    run = replace(result, decision=replace(result.decision, choice=candidate))
    rows: list[tuple[str, list[str], list[list[str]]]] = []  # of a very long run they come later
    if session.margins:
        shop = shop_sheet(run.run.route, run.path, run.practice, run=run.run.name)
        rows = [_full_row(row, units) for row in bend_rows(run, session.margins, shop)]
    elif len(result.path) <= _QUICK:
        late, lines = (_TO_COME,) * 3, bend_lines(run)
        rows = [(line.verdict, _bend(line, line.verdict, late, units), []) for line in lines]
    names = bend_labels(len(rows), run.run.name)
    told = [
        (_severity(verdict), number, [label, *row], todo)
        for number, (label, (verdict, row, todo)) in enumerate(zip(names, rows, strict=True), 1)
    ]
    told.sort(key=lambda each: SEVERITIES.index(each[0]))
    return {
        "heads": list(_COLUMNS),
        "rows": [row for _, _, row, _ in told],
        "severity": [severity for severity, _, _, _ in told],
        "number": [number for _, number, _, _ in told],
        "todo": [todo for _, _, _, todo in told],
        "fed": f"with feed from {candidate.pull.feed_name}",
    }


def _severity(verdict: str) -> str:
    word = verdict.partition(":")[0]
    return word if word in SEVERITIES else SEVERITIES[0]


def _full_row(row: BendRow, units: str) -> tuple[str, list[str], list[list[str]]]:
    """A bend with its fabrication, its margins, and its findings."""
    radius = row.margin.passing_radius
    passes = "not calculated"
    if radius is not None:
        passes = "none" if math.isnan(radius) else show_marked(radius, "radius+", units)
    late = (passes, show(row.margin.largest_radius, "length", units), MADE[row.made.elbow])
    todo = [
        [f.severity, f.rule, sentence(render(f.fix, units))]
        for f in row.findings
        if f.severity != "ok"
    ]
    return row.verdict, _bend(row.line, row.verdict, late, units), todo


def _bend(line: BendLine, verdict: str, late: tuple[str, ...], units: str) -> list[str]:
    bend, (passes, fits, made) = line.bend, late

    def said(value: float, quantity: str) -> str:
        return show(value, quantity, units)

    return [
        verdict,
        said(line.sidewall_share, "percent"),
        said(line.sidewall, "sidewall"),
        said(bend.radius, "radius"),
        passes,
        fits,
        said(line.least_radius, "radius") if line.least_radius else "-",
        said(bend.angle, "angle"),
        bend.plane,
        said(bend.roll, "angle"),
        said(bend.station, "length"),
        said(bend.setback, "radius"),
        said(bend.arc_length, "length"),
        said(bend.gain, "radius"),
        said(bend.straight_before, "length"),
        said(bend.straight_after, "length"),
        line.conduit,
        made,
        line.at,
    ]


# --- the crew ----------------------------------------------------------------------------------


def _crew(session: Session, n: int, scene: Scene, findings: Sequence[Finding]) -> Data:
    """Instructions for the crew; gears and readings are those of the gauge.

    Until the plan is known there is no instruction to pull: the plan may stop what the checks pass.
    """
    result, units, plan = session.result, scene.units, session.plan(n)
    shown, pending = result.candidates[n], session.planned[n] is None
    pull, machine = shown.planned, shown.planned.run.machine
    go = may_be_pulled(result, shown, plan)
    lacking = why_none(shown, patient=True) if go else ""
    other = result.decision.choice not in (None, shown)
    if other and not go:
        order = "Not the chosen direction: do not pull"
        tone = "caution" if shown.passes else "stop"
    elif not go:
        order, tone = "Do not pull yet", "stop"
    elif lacking:
        what = "rope" if shown.pull.run.rope is None else "machine"
        order, tone = f"Feed end chosen, but no {what} given", "caution"
    elif pending:
        order, tone = "Calculating the plan", "caution"
    else:
        order, tone = "Pull as planned", "go"
    peak = plan.peak if plan is not None and go else None
    cautions = [
        {
            "severity": f.severity,
            "title": f"{f.rule}, {render(f.place, units)}",
            "text": sentence(render(f.fix, units)),
        }
        for f in findings
        if f.severity in ("stop", "caution")
    ]
    always = (rules_line(result.practice), *CAUTIONS)
    return {
        "go": go,
        "order": order,
        "tone": tone,
        "other": other,
        "lacking": lacking,
        "feed": pull.feed_name,
        "pull": pull.pull_name,
        "why": scene.sentence,
        "cables": f"{pull.run.cables.describe()} on {pull.run.attach}",
        "length": show(pull.path.length, "length", units),
        "brake": render(brake_words(shown.window if plan is None else plan.brake), units),
        "machine": {
            "name": "no machine given" if machine is None else machine.name,
            "named": machine is not None,
            "place": pull.pull_name,
            "peak": "-" if peak is None else show(peak, "force", units),
        },
        "cautions": [
            *cautions[:_MOST_CAUTIONS],
            *({"severity": "note", "title": "", "text": text} for text in always),
        ],
    }
