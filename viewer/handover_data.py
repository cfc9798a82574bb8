"""What the hand-over page is told, as plain data: words in both systems of units, numbers in SI.

The page only picks, places and draws. Every sentence and every figure with its unit is made here,
once for US and once for SI; only what moves under a finger (a reading, the pull) is printed by the
page, from the table of units in ``unit_table``.
"""

from __future__ import annotations

import base64
import gzip
import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any, TypeAlias, get_args

import numpy as np

from route3d.checks.finding import Finding
from route3d.checks.limits import sidewall_limit
from route3d.drawing.axes import ticks
from route3d.formats.building_meshes import Buildings, read_buildings, site_meshes
from route3d.geometry.path import ARC, CORNER
from route3d.geometry.vectors import Floats
from route3d.model.job import Job
from route3d.planning.direction import Candidate
from route3d.planning.evaluate import with_advice
from route3d.planning.placement.search import PlacementSearch
from route3d.planning.pull_plan.plan import Plan
from route3d.planning.result import RunResult
from route3d.report.remedies import list_data, remedy_list
from route3d.report.words import (
    CAUTIONS,
    limit_of,
    measured,
    peak_sidewall_place,
    peak_tension_place,
    practice_words,
    sentence,
    where_of,
)
from route3d.units import SYSTEMS, convert, render, show, unit_label
from viewer.camera import camera_for
from viewer.cards import least_words
from viewer.film_data import film_data, numbers, unit_table
from viewer.gauge import (
    NOT_TO_BE_MADE,
    Gauge,
    GaugeReading,
    gauge_of,
    must_not_be_pulled,
    plan_for_crew,
    rows_of,
)
from viewer.glb import MOST, BothWays, run_glb
from viewer.labelling import labels
from viewer.playback import playback, warning
from viewer.scale import colour_scale, tension_limit
from viewer.scene import build_scene, place_of
from viewer.scene_data import ColourBy, Scene
from viewer.theme import OVER_LIMIT, THEMES, colour_table
from viewer.verdict import findings_of, may_be_pulled, stops_of, with_plan

Data: TypeAlias = dict[str, Any]

MODES: tuple[ColourBy, ...] = get_args(ColourBy)
# A screen has room for a few dozen labels: the rest could never be placed, and a tap reads any
# bend of the route.
_MOST_LABELS = 160
# The best corner to look from depends on the shape of the window: a page lying and one upright.
_SHAPES = {"wide": (900, 620), "tall": (390, 400)}


@dataclass(frozen=True, slots=True, eq=False)
class _Run:
    """A run with its scenes by direction and system of units, the machine's places and the plans.

    A pull that must not be made has no place.
    """

    result: RunResult
    job: Job
    scenes: tuple[dict[str, Scene], dict[str, Scene]]
    places: tuple[PlacementSearch | None, ...]
    plans: tuple[Plan | None, ...]


def page_data(results: tuple[RunResult, ...], job: Job, units: str, theme: str) -> Data:
    """All that the page shows, ready for JSON."""
    return {
        "title": job.title,
        "units": units,
        "theme": theme,
        "quantities": unit_table(),
        "themes": {name: _theme(name) for name in THEMES},
        "overLimit": OVER_LIMIT,
        "modes": list(MODES),
        "cautions": list(CAUTIONS),
        "noGauge": NOT_TO_BE_MADE,
        "runs": [_run(result, job, units, len(results)) for result in results],
    }


def _theme(name: str) -> Data:
    theme = THEMES[name]
    named = ("ground", "ink", "faint", "line", "card", "feed", "machine", "alarm", "on_solid")
    colours = {key: getattr(theme, key) for key in (*named, "steel", "cable")}
    table = "".join(f"{r:02x}{g:02x}{b:02x}" for r, g, b in colour_table(theme).tolist())
    return {**colours, "map": table}


# --- one run -----------------------------------------------------------------------------------


def _run(result: RunResult, job: Job, units: str, runs: int) -> Data:
    given = read_buildings(job)
    run = _Run(result, job, *_scenes(result, job, units, given))
    plan = run.plans[result.candidates.index(result.best)]
    if not result.stops and plan is not None and plan.stops:  # not looked for by the checks alone
        run = replace(run, result=with_advice(result, job, site_meshes(given)))
    scenes = run.scenes
    glb = run_glb(BothWays(scenes[0][units], scenes[1][units]), scenes[0], runs=runs)
    chosen = result.decision.choice
    return {
        "name": result.run.name,
        "glb": base64.b64encode(gzip.compress(glb, 9, mtime=0)).decode("ascii"),
        "length": result.path.length,
        "origin": scenes[0][units].origin.tolist(),
        "best": result.candidates.index(result.best),
        "chosen": None if chosen is None else result.candidates.index(chosen),
        "limits": {
            "tension": tension_limit(result.best.pull),
            "sidewall": sidewall_limit(result.run).value,
            "utilisation": 1.0,
        },
        "segments": _segments(result),
        "directions": [_direction(run, n) for n in (0, 1)],
    }


def _scenes(
    result: RunResult, job: Job, units: str, given: Buildings
) -> tuple[
    tuple[dict[str, Scene], dict[str, Scene]],
    tuple[PlacementSearch | None, ...],
    tuple[Plan | None, ...],
]:
    """The scenes by direction and system of units; places of the machine and plans by direction."""
    found = [place_of(c.pull, job, given) for c in result.candidates]
    # of a very long run the one plan that is asked for, not both
    plans = tuple(
        plan_for_crew(result, c, job, placement=place, patient=c is result.best)
        for c, place in zip(result.candidates, found, strict=True)
    )
    places = tuple(
        None if must_not_be_pulled(result, c, plan) else place
        for c, plan, place in zip(result.candidates, plans, found, strict=True)
    )
    best = places[result.candidates.index(result.best)]
    full = build_scene(result, job, units=units, place=best, given=given)
    first, second = (
        {
            u: _furnished(
                build_scene(result, job, units=u, feed=c.pull.feed, place=place, given=()), full
            )
            for u in SYSTEMS
        }
        for c, place in zip(result.candidates, places, strict=True)
    )
    return (first, second), places, plans


def _furnished(scene: Scene, full: Scene) -> Scene:
    """A scene with the buildings, and the note on them, of another."""
    notes = full.notes[len(scene.notes) :]
    return replace(scene, context=full.context, notes=(*scene.notes, *notes))


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


# --- one direction -----------------------------------------------------------------------------


def _direction(run: _Run, n: int) -> Data:
    result, candidate = run.result, run.result.candidates[n]
    plan = run.plans[n]
    made = not must_not_be_pulled(result, candidate, plan)
    go = may_be_pulled(result, candidate, plan)
    gauges = {u: _gauge(gauge_of(candidate, plan, u)) if go else None for u in SYSTEMS}
    rows, allowances = rows_of(plan), run.job.allowances
    films = {
        u: playback(result, candidate.planned, u, allowances, rows, made=made) for u in SYSTEMS
    }
    scenes = {u: with_plan(run.scenes[n][u], result, candidate, plan) for u in SYSTEMS}
    findings = tuple(f for f in findings_of(result, candidate, plan) if f.severity != "ok")
    return {
        "feed": candidate.pull.feed_name,
        "pull": candidate.pull.pull_name,
        "reverse": candidate.pull.reverse,
        "alarm": scenes["SI"].alarm,
        "azimuth": _azimuths(run.scenes[n]["SI"]),
        "labels": {
            str(flag).lower(): _labels(run, n, plan, pressures=flag) for flag in (False, True)
        },
        "words": {
            u: {
                **_words(run, n, u, scenes[u]),
                "findings": _table([_finding(f, u) for f in findings]),
                "warning": sentence(warning(films[u], u)) if made and films[u].over.any() else "",
                "gears": list(films[u].gear_words),
                "ending": sentence(films[u].ending) if films[u].ending else "",
                "gauge": gauges[u],
            }
            for u in SYSTEMS
        },
        "playback": film_data(films["SI"], run.result.run.rope),
    }


def _azimuths(scene: Scene) -> dict[str, float]:
    """Where to stand for the first look, rad from east, for a wide and for a tall window."""
    found = {}
    for shape, (width, height) in _SHAPES.items():
        room = (50.0, 50.0, width - 50.0, height - 90.0)
        ahead = camera_for(scene, "isometric", (width, height), room, room).forward
        found[shape] = math.atan2(-float(ahead[1]), -float(ahead[0]))
    return found


def _labels(run: _Run, n: int, plan: Plan | None, *, pressures: bool) -> list[Data]:
    scene, candidate = run.scenes[n]["SI"], run.result.candidates[n]
    both = {
        u: labels(
            candidate,
            scene.solids,
            scene.origin,
            u,
            pressures=pressures,
            findings=(*run.result.run_findings, *stops_of(plan)),
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


def _words(run: _Run, n: int, units: str, scene: Scene) -> Data:
    """The foreman's answer for one direction, in one system of units."""
    result = run.result
    candidate = result.candidates[n]
    return {
        "headline": scene.headline,
        "sentence": scene.sentence,
        "ruledOut": sentence(render(candidate.barred, units)) if candidate.barred else "",
        "facts": [[f.name, f.value, f.note, f.alarm] for f in scene.facts],
        "places": _places(candidate, run.places[n], units),
        "remedies": list_data(remedy_list(result, units)),
        "notes": [*scene.notes, *_cut(candidate), f"Worked by: {practice_words(result.practice)}"],
        "scales": {mode: _scale(candidate, mode, units) for mode in MODES},
    }


def _cut(candidate: Candidate) -> list[str]:
    """That loads no file can hold are not shown as they are."""
    profile = candidate.planned.profile
    if max(float(profile.tension.max()), float(profile.sidewall.max())) <= MOST:
        return []
    return [f"Loads beyond {MOST:.0e} N are cut to that on the route: no such pull can be made"]


def _places(candidate: Candidate, search: PlacementSearch | None, units: str) -> list[list[str]]:
    """Where the crew finds what matters."""
    pull = candidate.planned
    stands = np.array(search.best[0].position) if search is not None and search.best else None
    machine = pull.path.point(_end(candidate)) if stands is None else stands
    rows = [
        ["Reel", f"{pull.feed_name}, {_at(pull.path.point(_end(candidate, feed=True)), units)}"],
        ["Machine", f"{pull.pull_name}, {_at(machine, units)}"],
        ["Largest tension", peak_tension_place(pull, units)],
    ]
    worst = peak_sidewall_place(pull, units)
    return [*rows, ["Largest sidewall", worst]] if worst else rows


def _end(candidate: Candidate, *, feed: bool = False) -> float:
    """Station of the feed end or of the pulling end."""
    return candidate.pull.path.length if feed == candidate.pull.reverse else 0.0


def _at(point: Floats, units: str) -> str:
    texts = (show(float(v), "length", units).split(" ")[0] for v in point)
    return f"x, y, z {' / '.join(texts)} {unit_label('length', units)}"


def _gauge(told: Gauge) -> Data:
    """Gears, readings and the load at which to stop, of the pull to be made."""
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
        "headline": [[one.length, one.place, one.readings] for one in told.headline],
        "checks": list(told.checks),
        "notes": [*told.notes, *(["* The gauge does not read true here."] * _starred(told))],
        "gears": list(told.gears),
        "time": list(told.time),
        "machine": list(told.machine),
        "link": list(told.link),
        "accidents": list(told.accidents),
    }


def _at_row(row: GaugeReading) -> str:
    """What stands below the length of cable: where the head is, and the reading at a start."""
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
        "where": where_of(finding, units),
        "measured": measured(finding, units) if told else "",
        "limit": limit_of(finding, units) if told else "",
        "fix": sentence(render(finding.fix, units)),
        "source": finding.source,
        "station": finding.station,
    }


def _scale(candidate: Candidate, mode: ColourBy, units: str) -> Data:
    scale = colour_scale(candidate.planned, mode, units)
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
