"""Every clash and every place that is too close as one numbered list, each with its zone."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np

from route3d.checks.clearance import Met, NearPlace
from route3d.geometry.vectors import Floats
from route3d.model.job import Job
from route3d.model.site import CONCRETE, Level
from route3d.planning.clearance.job import BodyClearance, ClearanceResult, RunClearance
from route3d.planning.clearance.meshes import Meshes

Point = tuple[float, float, float]

CLASH, CLOSE, INSIDE = VERDICTS = ("clash", "close", "inside?")
"""Of an issue, the gravest first."""
_VERBS = {CLASH: "clashes with", CLOSE: "is too close to", INSIDE: "may be in the material of"}

NO_ZONE = "no zone"
"""Of what lies in no room, storey of an element or level of the model file."""
_DUCT = "duct "
_ONE_PLACE = 1.0  # m


@dataclass(frozen=True, slots=True)
class Issue:
    """One clash, or one place that is too close, by its ``number`` from 1.

    ``one`` against ``other``: a run, a duct, a body or a mesh; of the run named ``run``, at
    ``station`` m (from ``start`` to ``end``) and ``point`` m. The ``verdict`` is "clash", "close",
    or "inside?" within a closed surface that may be solid. ``distance`` m is negative for a clash,
    ``required`` m is asked for. ``why`` says why a caution is no stop. ``guids`` are the GlobalIds
    of elements of an IFC model.
    """

    number: int
    zone: str
    run: str
    one: str
    other: str
    severity: str
    verdict: str
    start: float
    end: float
    station: float
    point: Point
    distance: float
    required: float
    guids: tuple[str, ...] = ()
    why: str = ""

    @property
    def clash(self) -> bool:
        """Whether the two overlap."""
        return self.verdict == CLASH

    @property
    def title(self) -> str:
        """One line: what clashes with what."""
        return f"{self.one} {_VERBS[self.verdict]} {self.other}"


def issues(result: ClearanceResult) -> tuple[Issue, ...]:
    """What stops or is a caution in a result: zone by zone, runs, ducts and bodies in their order.

    Two conduits that meet are one issue, that of the run that comes first. Ducts that meet one
    thing at one place are one issue, that of the worst; where their concrete meets it too, and that
    is as grave, it is that of the concrete.
    """
    bodies = list(_of_bodies(result))
    concrete = {b.name for b in result.built if b.kind == CONCRETE}
    cast = [issue for issue in bodies if issue.one in concrete]
    conduits = [i for i in _of_conduits(result) if not any(_covers(c, i) for c in cast)]
    found = [*_merged(conduits), *bodies]
    ordered = (issue for _, own in by_zone(found, result.job) for issue in own)
    return tuple(replace(issue, number=i) for i, issue in enumerate(ordered, 1))


def _covers(one: Issue, other: Issue) -> bool:
    """Whether an issue says all that another of the same place says, and is as grave."""
    graver = VERDICTS.index(one.verdict) <= VERDICTS.index(other.verdict)
    return graver and one.severity in ("stop", other.severity) and _same(one, other)


def _same(one: Issue, other: Issue) -> bool:
    """Whether two issues of one run are with one thing, at one place."""
    if (one.run, one.other) != (other.run, other.other):
        return False
    beside = min(one.end, other.end) - max(one.start, other.start)
    return beside > -_ONE_PLACE or math.dist(one.point, other.point) < _ONE_PLACE


def _merged(found: Sequence[Issue]) -> list[Issue]:
    """Of the ducts of a bank that meet one thing at one place the worst."""
    kept: list[Issue] = []
    for issue in found:
        near = [i for i, k in enumerate(kept) if _same(issue, k) and issue.verdict == k.verdict]
        if not near or not issue.one.startswith(_DUCT):
            kept.append(issue)
        elif issue.distance < kept[near[0]].distance:
            kept[near[0]] = issue
    return kept


def _of_conduits(result: ClearanceResult) -> Iterator[Issue]:
    job = result.job
    order = {run.name: i for i, run in enumerate(job.runs)}
    asked = {one.run.name for one in result.runs}
    laid = {duct.run.name for duct in result.ducts}
    lines = [one for one in result.runs if one.run.name not in laid]
    for one in (*lines, *result.ducts):
        said = set()
        for other in asked:
            if order[other] < order[one.run.name]:
                said |= {f"run {other}", f"bank of {other}"}
        name = f"{one.duct} of run {one.run.name}" if one.duct else f"run {one.run.name}"
        for met in one.met:
            if met.name in said:
                continue
            for place, verdict in _places(met):
                point = _point_on(one, place)
                yield _issue(result, met, place, one.run.name, name, point, verdict)


def _of_bodies(result: ClearanceResult) -> Iterator[Issue]:
    for one in result.bodies:
        for met in one.met:
            for place, verdict in _places(met):
                point = place.point or _point_of(one, place)
                yield _issue(result, met, place, one.body.run, one.body.name, point, verdict)


def _places(met: Met) -> Iterator[tuple[NearPlace, str]]:
    yield from ((place, CLASH) for place in met.clashes)
    yield from ((place, CLOSE) for place in met.short)
    if met.solid is None:
        yield from ((p, INSIDE) for p in met.inside if not any(_goes_in(c, p) for c in met.clashes))


def _goes_in(clash: NearPlace, inside: NearPlace) -> bool:
    """Whether a clash is where something goes into what it is then inside of."""
    meet = clash.start <= inside.end + _ONE_PLACE and inside.start <= clash.end + _ONE_PLACE
    return meet and bool(set(clash.what) & set(inside.what))


def _point_on(one: RunClearance, place: NearPlace) -> Point:
    return _triple(one.path.point(np.array([place.station]))[0])


def _point_of(one: BodyClearance, place: NearPlace) -> Point:
    spans = one.body.blocks.spans
    nearest = int(np.abs(spans.mean(axis=1) - place.station).argmin())
    return _triple(one.body.blocks.middles[nearest])


def _triple(point: Floats) -> Point:
    x, y, z = point.tolist()
    return x, y, z


def _issue(
    result: ClearanceResult,
    met: Met,
    place: NearPlace,
    run: str,
    one: str,
    point: Point,
    verdict: str,
) -> Issue:
    severity, why = "stop" if verdict == CLASH else met.severity, ""
    if severity == "caution":
        why = "by the model file"
    if met.assumed:
        severity, why = "caution", "place or size not given"
    if verdict == INSIDE:
        severity, why = "caution", "solid not given"
    other = place.what[0]
    guid, storey = _element(result.classes, other) if met.kind == "mesh" else ("", "")
    if met.is_run and other.startswith(_DUCT):
        other = f"{other} of {met.name.replace('bank of', 'run')}"
    return Issue(
        number=0,
        zone=zone_of(result.job, point) or storey or NO_ZONE,
        run=run,
        one=one,
        other=other,
        severity=severity,
        verdict=verdict,
        start=place.start,
        end=place.end,
        station=place.station,
        point=point,
        distance=place.distance,
        required=met.required,
        guids=(guid,) if guid else (),
        why=why,
    )


def _element(classes: Sequence[Meshes], name: str) -> tuple[str, str]:
    """GlobalId and storey of an element of a building by its name in reports."""
    for meshes in classes:
        if name in meshes.names:
            number = meshes.names.index(name)
            return meshes.handles[number], meshes.storeys[number]
    return "", ""


# --- zones ---------------------------------------------------------------------------------------


def zone_of(job: Job, point: Point) -> str:
    """The room of the site that holds a point, else its storey by the levels; empty for none.

    Of rooms one in the other it is the last.
    """
    inside = [
        room.name
        for room in job.site.rooms
        if _in_room(room.outline, point)
        and room.floor <= point[2] <= (math.inf if room.ceiling is None else room.ceiling)
    ]
    if inside:
        return inside[-1]
    return _storey(job.site.levels, point[2])


def _storey(levels: Sequence[Level], z: float) -> str:
    if not levels:
        return ""
    below = [level for level in levels if level.floor <= z]
    return below[-1].name if below else f"below {levels[0].name}"


def _in_room(outline: Sequence[tuple[float, float]], point: Point) -> bool:
    import shapely

    return bool(shapely.covers(shapely.Polygon(outline), shapely.Point(point[:2])))


def by_zone(found: Sequence[Issue], job: Job) -> tuple[tuple[str, tuple[Issue, ...]], ...]:
    """Issues by their zones: rooms, levels from the lowest up, others, and what has none."""
    names = [room.name for room in job.site.rooms]
    if job.site.levels:
        names += [f"below {job.site.levels[0].name}", *(level.name for level in job.site.levels)]
    others = sorted({issue.zone for issue in found} - {*names, NO_ZONE})
    order = [*dict.fromkeys(names), *others, NO_ZONE]
    grouped = ((zone, tuple(i for i in found if i.zone == zone)) for zone in order)
    return tuple((zone, own) for zone, own in grouped if own)


def on_grid(job: Job, point: Point) -> Point:
    """Grid coordinates of a point of the model, m."""
    x, y, z = (a + b for a, b in zip(point, job.site.frame.shift, strict=True))
    return x, y, z
