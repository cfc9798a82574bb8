"""From a result to the scene of its picture: ``build_scene``."""

from __future__ import annotations

import math
import re
from collections.abc import Iterator

import numpy as np

from route3d.checks.finding import Finding
from route3d.checks.limits import sidewall_limit
from route3d.formats.building_meshes import Buildings, read_buildings, site_meshes
from route3d.formats.grade_surfaces import read_grade
from route3d.geometry.encasement import ground_line
from route3d.geometry.grade import Grade as GradeSurface
from route3d.geometry.path import ARC, CORNER, Path
from route3d.geometry.vectors import Floats, frozen, norm
from route3d.mechanics.pull import Pull
from route3d.model.examples import MOST_NAMED, example_banner
from route3d.model.job import Bank, Job
from route3d.phrase import Phrase
from route3d.planning.bank import stretches
from route3d.planning.clearance.near import standing
from route3d.planning.direction import Candidate
from route3d.planning.margins import BrakeWindow, brake_setting
from route3d.planning.placement.search import PlacementSearch, machine_search
from route3d.planning.result import RunResult
from route3d.report.words import sentence
from route3d.units import parse, render, show
from viewer.gauge import must_not_be_pulled
from viewer.scene.context import context_meshes, room_edges
from viewer.scene.labels import labels
from viewer.scene.records import (
    Coloring,
    ContextMesh,
    Encasement,
    Figure,
    Grade,
    GroundLine,
    Scene,
    Tube,
)
from viewer.scene.scale import color_scale, share_words, shown, tension_limit
from viewer.scene.solids import arrows, box_factor, box_solids, encasement, end_solids, spread_of
from viewer.scene.tubes import tubes

# A tube drawn a hundred-and-twentieth of the route's extent thick is about ten pixels of a
# usual picture: seen, and still a line.
_VISIBLE = 1 / 120
# A picture may be so many times as wide as the route to hold a building whole.
_WITH_BUILDINGS = 1.7
_ROUND = (1, 1.5, 2, 3, 4, 5, 6, 8)
# Grid lines across the longer side of the plan, at most; fewer after rounding up.
_GRID_LINES = 12
_MOST_STOPS = 3  # named in the reason; the findings name all


def build_scene(
    result: RunResult,
    job: Job,
    *,
    units: str = "US",
    color_by: Coloring = "tension",
    feed: int | str | None = None,
    exaggeration: float | None = None,
    drawn: tuple[Tube, ...] | None = None,
    place: PlacementSearch | None = None,
    given: Buildings | None = None,
    ground: GradeSurface | None = None,
) -> Scene:
    """The scene of a picture of one run.

    ``feed`` is the vertex number or name of the feed end, None for the chosen direction.
    ``exaggeration`` multiplies every cross-section, reel, machine and box, never the route; None
    takes the smallest round number at which a long run is visible. ``drawn`` are the tubes of a
    scene that differs in units or colors alone, ``given`` the buildings and ``place`` the search
    for the machine location, if they are known already: with ``given`` no place is sought.
    ``ground`` is the grade of the job, read where it is not given.
    Raises ValueError for a feed that is not an end of the run, an unknown ``color_by`` or an
    exaggeration below 1.
    """
    candidate = candidate_of(result, feed)
    pull, path = candidate.planned, result.path
    factor = auto_exaggeration(result) if exaggeration is None else exaggeration
    if not (math.isfinite(factor) and factor >= 1):
        raise ValueError(f"exaggeration must be at least 1, not {factor!r}")
    origin = origin_of(path)
    drawn = tubes(pull, factor, origin) if drawn is None else drawn
    scale = color_scale(pull, color_by, units)
    boxes = box_factor(pull, factor)
    if given is None:
        given = read_buildings(job)
        place = place_of(pull, job, given) if place is None else place
    ground = read_grade(job) if ground is None else ground
    halted = must_not_be_pulled(result, candidate, None)
    stand = place.best[0] if place is not None and place.best and not halted else None
    solids = (
        *end_solids(pull, factor, origin, stand),
        *box_solids(pull, boxes, origin, job.site.floors),
    )
    banks = tuple(
        body
        for bank in job.banks
        if bank.run == result.run.name
        for body in _encased(bank, result, factor, origin, ground)
    )
    grade = _grade(drawn, origin, units, ground)
    buildings = context_meshes(given, origin)
    alarm = result.stops or not candidate.passes
    return Scene(
        title=f"{job.title} · run {result.run.name}",
        banner=example_banner(job.examples, MOST_NAMED),
        headline=headline(result, candidate),
        sentence=reason(result, result.decision.why, units),
        alarm=alarm,
        units=units,
        origin=origin,
        exaggeration=factor,
        scale=scale,
        tubes=drawn,
        solids=solids,
        arrows=arrows(pull, drawn, origin),
        encasements=banks,
        grade=grade,
        labels=labels(
            candidate,
            solids,
            origin,
            units,
            pressures=color_by in ("sidewall", "utilization"),
            findings=result.run_findings,
        ),
        facts=_facts(candidate, units),
        notes=_notes(
            factor,
            boxes if len(solids) > 2 else 1.0,
            grade,
            render(ground.said, units),
            units,
            scale.rule,
            buildings,
            "" if halted else _place_note(pull, place, factor),
        ),
        context=buildings,
        rooms=tuple(room_edges(room, origin) for room in job.site.rooms),
        place=place,
        limits=(tension_limit(pull), sidewall_limit(pull.run).value),
        ground=_ground_line(path, ground),
    )


def origin_of(path: Path) -> Floats:
    """What positions in a scene of a path are counted from, (3,)."""
    return frozen(np.floor((path.starts.min(axis=0) + path.starts.max(axis=0)) / 2))


MOVING_PEAK, PEAK, BRAKE = "Peak machine load, moving", "Peak machine load", "Reel brake"
"""The largest load at the machine without and with the first moves, which only a plan knows."""


PLACE_DRAWN = "distance from conduit to machine drawn"
"""Start of a note on a machine that is not drawn at its true distance."""


def candidate_of(result: RunResult, feed: int | str | None) -> Candidate:
    """The direction fed from a vertex or name, or the chosen one; ValueError where none."""
    if feed is None:
        return result.best
    for candidate in result.candidates:
        if feed in (candidate.pull.feed, candidate.pull.feed_name):
            return candidate
    ends = " or ".join(repr(c.pull.feed_name) for c in result.candidates)
    raise ValueError(f"run {result.run.name} has no end named {feed!r}; ends: {ends}")


def place_of(pull: Pull, job: Job, given: Buildings) -> PlacementSearch | None:
    """Search for machine locations that the plan allows; None without a machine."""
    if pull.run.machine is None:
        return None
    return machine_search(pull, pull.run.machine, job, standing(job, site_meshes(given)))


def auto_exaggeration(result: RunResult) -> float:
    """The least round factor at which the thinnest conduit is still seen beside the route."""
    extent = float(np.ptp(np.vstack((result.path.starts, result.path.ends)), axis=0).max())
    thinnest = min(c.outer_diameter for c in result.run.route.conduits)
    return round_up(max(1.0, extent * _VISIBLE / thinnest))


def round_up(value: float) -> float:
    """The next of 1, 1.5, 2, 3, 4, 5, 6, 8, 10, 15, ... that is not less than ``value``."""
    power = 10.0 ** math.floor(math.log10(value))
    return float(min(m * p for p in (power, 10 * power) for m in _ROUND if m * p >= value - 1e-9))


# --- words and figures -------------------------------------------------------------------------


def headline(result: RunResult, candidate: Candidate) -> str:
    """The instruction, in one line."""
    pull = candidate.planned
    if result.decision.choice is None:
        return "Do not pull yet: no acceptable feed end"
    if candidate is not result.decision.choice:
        return f"Not the chosen direction: feed {pull.feed_name}, pull {pull.pull_name}"
    if result.stops:
        rules = dict.fromkeys(f.rule for f in result.findings if f.severity == "stop")
        return f"Do not pull yet: {', '.join(rules)}"
    return f"Feed from {pull.feed_name}, pull at {pull.pull_name}"


def reason(result: RunResult, decided: Phrase, units: str) -> str:
    """Why the chosen end is chosen, after what must be fixed first."""
    why = render(decided, units)
    if result.decision.choice is not None and result.stops:
        stops = (f for f in result.findings if f.severity == "stop")
        words = dict.fromkeys(_stop_words(f, units) for f in stops)
        told = "; ".join(list(words)[:_MOST_STOPS])
        why = f"{told}. {once_mended(result.decision.choice.pull, why)}"
    # a figure and its unit stay on one line
    return sentence(re.sub(r"(?<=\d) (?=[A-Za-z])", "\u00a0", why))


def once_mended(chosen: Pull, why: str) -> str:
    """The chosen end and the reason, where something must be fixed first."""
    end = f"feed from {chosen.feed_name}, pull at {chosen.pull_name}"
    return f"Once that is fixed, {end}. {why}"


def _stop_words(finding: Finding, units: str) -> str:
    figures = render(finding.compared, units)
    if not math.isfinite(finding.ratio) or not figures:
        return f"{finding.rule}, {render(finding.place, units)}"
    return f"{finding.rule}: {figures}"


def _facts(candidate: Candidate, units: str) -> tuple[Figure, ...]:
    """The key figures, with their limits."""
    pull, run = candidate.planned, candidate.pull.run
    tension, sidewall = tension_limit(pull), sidewall_limit(run).value
    facts = [
        against("Peak tension", pull.peak_tension, tension, "force", units),
        against("Peak sidewall", pull.peak_sidewall, sidewall, "sidewall", units),
    ]
    if pull.machine_peak is not None and run.machine is not None:
        rated = run.machine.available_pull
        facts.append(against(MOVING_PEAK, pull.machine_peak, rated, "force", units))
    bends = int(np.count_nonzero(pull.path.kind == ARC))
    turn = show(pull.path.turn, "angle", units, decimals=0)
    return (
        *facts,
        brake_figure(candidate.window, units),
        Figure("Length", show(pull.path.length, "length", units), f"{bends} bends, {turn} total"),
        Figure("Cables", run.cables.describe(), run.attach),
    )


def brake_figure(window: BrakeWindow, units: str) -> Figure:
    """What the reels are held with."""
    held = "for the whole pull" if window.holds else "to prevent overrun"
    if window.empty:
        held = "minimum exceeds maximum"
    return Figure(BRAKE, render(brake_setting(window), units), held)


def against(name: str, value: float, limit: float, quantity: str, units: str) -> Figure:
    """A figure with its share of a limit."""
    note = f"{share_words(value / limit, units)} {show(limit, quantity, units)}"
    return Figure(name, shown(value, limit, quantity, units), note, value > limit * (1 + 1e-9))


def _notes(
    factor: float,
    boxes: float,
    grade: Grade | None,
    said: str,
    units: str,
    rule: str,
    buildings: tuple[ContextMesh, ...],
    place: str,
) -> tuple[str, ...]:
    notes = ["Route to scale"]
    if factor > 1:
        notes.append(f"diameters, reel and machine drawn x {factor:g}")
    if place:
        notes.append(place)
    if boxes > 1:
        notes.append(f"pull boxes drawn x {boxes:.2g}")
    if grade:
        spacing = show(grade.spacing, "length", units, decimals=0 if grade.spacing >= 1 else 2)
        notes.append(f"grid {spacing} at {said}")
    else:
        notes.append(f"{said}: too far away to draw")
    lines = ["; ".join(notes), f"Colors: {rule}"]
    return (*lines, *context_notes(buildings))


def context_notes(buildings: tuple[ContextMesh, ...]) -> tuple[str, ...]:
    """The buildings shown in a picture; empty without any."""
    if not buildings:
        return ()
    names = ", ".join(b.name for b in buildings)
    thin = any(len(b.faces) < b.given for b in buildings)
    return (f"Context: {names}" + (" (simplified)" if thin else ""),)


def _place_note(pull: Pull, place: PlacementSearch | None, factor: float) -> str:
    """A note where the machine is not drawn at its true location."""
    machine = pull.run.machine
    if place is None or machine is None or machine.envelope is None:
        return ""
    if not place.best:
        return "no machine location found: machine drawn in line with the conduit"
    spread = spread_of(place.best[0], machine.envelope[0], factor)
    return f"{PLACE_DRAWN} x {float(f'{spread:.2g}'):g}" if spread > 1 else ""


# --- grade and duct bank -----------------------------------------------------------------------


def _grade(
    drawn: tuple[Tube, ...], origin: Floats, units: str, ground: GradeSurface
) -> Grade | None:
    """The ground about the plan of the route; None where it is farther off than the route is wide.

    Cells that reach outside the surface are left out.
    """
    points = np.vstack([t.points for t in drawn])
    low, high = points.min(axis=0), points.max(axis=0)
    across = max(float((high - low)[:2].max()), float(high[2] - low[2]) / 4)
    step = parse(1.0, "length", units)
    spacing = grid_spacing(across / step) * step
    if not ground.is_level:
        spacing /= 2  # a slope is seen by its lines
    cells = _cells_near(points, origin, spacing)
    square = np.array([(0, 0), (1, 0), (1, 1), (0, 1)]) * spacing
    corners = (cells[:, None] + square).reshape(-1, 2) + origin[:2]
    z = (ground.at(corners) - origin[2]).reshape(-1, 4)
    known = np.isfinite(z).all(axis=1)
    if not known.any():
        return None
    cells, z = cells[known], z[known]
    if max(float(z.min()) - high[2], low[2] - float(z.max())) > across:
        return None
    return Grade(frozen(cells), frozen(z), spacing)


def _ground_line(path: Path, ground: GradeSurface) -> GroundLine:
    """The ground over the route."""
    stations, heights = ground_line(path, ground)
    return GroundLine(frozen(stations), frozen(heights))


def _cells_near(points: Floats, origin: Floats, spacing: float) -> Floats:
    """South-west corners of the grid cells under a route (n, 3) and of all that touch those."""
    index = np.arange(len(points))
    along = np.concatenate(([0.0], np.cumsum(norm(np.diff(points, axis=0)))))
    dense = np.concatenate((np.arange(0.0, along[-1], spacing / 4), along))
    at = np.interp(dense, along, index)
    plan = np.column_stack([np.interp(at, index, points[:, k]) for k in (0, 1)])
    under = np.unique(np.floor((plan + origin[:2]) / spacing).astype(np.int64), axis=0)
    around = np.array([(i, j) for i in (-1, 0, 1) for j in (-1, 0, 1)])
    cells = np.unique((under[:, None] + around).reshape(-1, 2), axis=0)
    corners: Floats = cells * spacing - origin[:2]
    return corners


def grid_spacing(across: float) -> float:
    """The least 1, 2, 5, 10, ... that cuts ``across`` into at most twelve."""
    need = across / _GRID_LINES
    power = 10.0 ** math.floor(math.log10(need))
    return float(min(m * power for m in (1, 2, 5, 10) if m * power >= need * (1 - 1e-9)))


def _encased(
    bank: Bank, result: RunResult, factor: float, origin: Floats, ground: GradeSurface
) -> Iterator[Encasement]:
    """Concrete about the stretches of the run below grade, or all of it where none is."""
    path = result.path
    outer = max(c.outer_diameter for c in result.run.route.conduits)
    width = ((bank.columns - 1) * bank.spacing[0] + outer + 2 * bank.cover) * factor
    height = ((bank.rows - 1) * bank.spacing[1] + outer + 2 * bank.cover) * factor
    every = np.unique(np.concatenate((path.sample(outer / 100), path.stations)))
    for start, end in stretches(bank, result.run, path, ground):
        within = every[(every > start) & (every < end)]
        points = path.point(np.concatenate(([start], within, [end])))
        apart = np.concatenate(([True], norm(np.diff(points, axis=0)) > 1e-9))
        yield encasement(points[apart] - origin, (width, height), _corners(path, origin))


def _corners(path: Path, origin: Floats) -> tuple[tuple[Floats, float, float], ...]:
    found = []
    for i in np.flatnonzero((path.kind == ARC) | (path.kind == CORNER)):
        radius, half = float(path.radii[i]), float(path.angles[i]) / 2
        corner = path.starts[i] + radius * math.tan(half) * path.tangents[i]
        found.append((corner - origin, radius, half))
    return tuple(found)


def content(scene: Scene) -> Floats:
    """Corners of all that a picture must hold, (n, 3), the grade plane omitted.

    A building is held whole where the route still fills most of the picture with it.
    """
    parts = [t.points for t in scene.tubes]
    for body in scene.encasements:
        reach = np.array([body.width, body.width, body.height]) / 2
        parts += [body.points - reach, body.points + reach]
    for solid in scene.solids:
        parts.append(solid.rope)
        half = norm(np.array(solid.size[:2])) / 2
        foot = np.array([[x, y, 0.0] for x in (-half, half) for y in (-half, half)])
        parts += [solid.base + foot, solid.base + foot + [0.0, 0.0, solid.size[2]]]
    inside = np.vstack(parts)
    extent = float(np.ptp(inside, axis=0).max())
    for mesh in scene.context:
        if not len(mesh.vertices):
            continue
        low, high = mesh.vertices.min(axis=0), mesh.vertices.max(axis=0)
        whole = np.vstack((inside, low, high))
        if float(np.ptp(whole, axis=0).max()) <= _WITH_BUILDINGS * extent:
            corners = [
                (x, y, z)
                for x in (low[0], high[0])
                for y in (low[1], high[1])
                for z in (low[2], high[2])
            ]
            parts.append(np.array(corners))
    return np.vstack(parts)
