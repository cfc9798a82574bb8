"""The changes a remedy is made of: each can be carried out on a run, and written to a model file.

Figures are SI, and are already those that are printed and written: rounded to the safe side.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

from route3d.model.conduit import Conduit
from route3d.model.machine import Machine
from route3d.model.rigging import LeadOff, Reel
from route3d.model.route import Vertex
from route3d.model.run import CableSet, Run

if TYPE_CHECKING:
    from route3d.planning.splitting.ways import Stage

Point = tuple[float, float, float]


@dataclass(frozen=True, slots=True)
class BendRadius:
    """Another bend radius, m, at one vertex."""

    vertex: int
    radius: float


@dataclass(frozen=True, slots=True)
class MovedPoint:
    """A vertex moved ``to`` another place, m."""

    vertex: int
    to: Point


@dataclass(frozen=True, slots=True)
class NewPullPoint:
    """A pull point with room for reel and machine, added on ``leg`` as counted before it."""

    leg: int
    point: Point
    name: str


@dataclass(frozen=True, slots=True)
class Opened:
    """Room made at a vertex for ``what``: "reel", "machine" or both."""

    vertex: int
    what: frozenset[str]


@dataclass(frozen=True, slots=True)
class OtherFriction:
    """Another coefficient in the conduit of that name; its range as ``low`` and ``high``.

    None for an end of the range leaves it to the usual share of the figure. Friction that falls
    above a contact load is constant then: no publication or test of the other lubricant is known.
    """

    conduit: str
    friction: float
    low: float | None
    high: float | None


@dataclass(frozen=True, slots=True)
class OtherConduit:
    """All legs in the conduit named ``given`` made of another one."""

    given: str
    conduit: Conduit


@dataclass(frozen=True, slots=True)
class OtherElbows:
    """The bends at some vertices made of another conduit, from ``vertices`` to just past each arc.

    ``ends`` are the places, one for each, where the conduit given begins again, m.
    """

    vertices: tuple[int, ...]
    ends: tuple[Point, ...]
    conduit: Conduit


@dataclass(frozen=True, slots=True)
class Tackle:
    """One figure of the equipment: ``value`` of ``key`` in the table ``kind`` named ``name``.

    ``kind`` and ``key`` are those of the model file: ("machine", "line_pull") is the line pull of
    the strongest gear, N; ("rope", "rated_load"), ("reel", "brake_rating") as a force, ("reel",
    "feed_efficiency"), ("rigging", "swivel_rating"), ("sheave", "radius") and the like.
    ``quantity`` is that of ``route3d.quantities``.
    """

    kind: str
    name: str
    key: str
    value: float
    quantity: str


@dataclass(frozen=True, slots=True)
class Attachment:
    """Pulling eyes or a basket grip in place of what is given."""

    attach: str


@dataclass(frozen=True, slots=True)
class ReelTension:
    """The tension the reels are held with, N; None leaves it to the program."""

    force: float | None


@dataclass(frozen=True, slots=True)
class PulledApart:
    """Riding ``cables`` left out of the set and pulled by themselves, in a conduit of their own."""

    cables: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class SplitInStages:
    """The run pulled in ``stages``, each from one vertex to another, in the order of the work."""

    stages: tuple[Stage, ...]


Edit = (
    BendRadius
    | MovedPoint
    | NewPullPoint
    | Opened
    | OtherFriction
    | OtherConduit
    | OtherElbows
    | Tackle
    | Attachment
    | ReelTension
    | PulledApart
    | SplitInStages
)


def carried_out(run: Run, edits: Iterable[Edit]) -> tuple[Run, ...]:
    """The runs that come of a run when ``edits`` are carried out one after another.

    An edit after one that makes several runs is carried out on each.
    """
    runs: tuple[Run, ...] = (run,)
    for edit in edits:
        runs = tuple(made for each in runs for made in _carried_out(each, edit))
    return runs


def _carried_out(run: Run, edit: Edit) -> tuple[Run, ...]:
    match edit:
        case BendRadius(vertex, radius):
            return (_with_vertex(run, vertex, bend=radius, bend_source="given"),)
        case MovedPoint(vertex, to):
            return (_with_vertex(run, vertex, point=to),)
        case Opened(vertex, what):
            access = run.route.vertices[vertex].access | what
            return (_with_vertex(run, vertex, access=access),)
        case NewPullPoint(leg, point, name):
            return (run.with_point(leg, Vertex.pull_point(point, name)),)
        case OtherFriction():
            return (_with_conduits(run, {edit.conduit: _slicker(run, edit)}),)
        case OtherConduit(given, conduit):
            return (_with_conduits(run, {given: conduit}),)
        case OtherElbows():
            return (_with_elbows(run, edit),)
        case Tackle():
            return (_with_tackle(run, edit),)
        case Attachment(attach):
            return (replace(run, attach=attach),)
        case ReelTension(force):
            return (replace(run, reel_tension=force),)
        case PulledApart(cables):
            return _apart(run, cables)
        case SplitInStages(stages):
            return tuple(_stage(run, stage, i) for i, stage in enumerate(stages, 1))


# --- the route ------------------------------------------------------------------------------------


def _with_vertex(run: Run, index: int, **changed: Any) -> Run:
    vertices = list(run.route.vertices)
    vertices[index] = replace(vertices[index], **changed)
    return replace(run, route=replace(run.route, vertices=tuple(vertices)))


def _with_conduits(run: Run, other: dict[str, Conduit]) -> Run:
    conduits = tuple(other.get(c.name, c) for c in run.route.conduits)
    return _with_elbows_of(run, conduits)


def _with_elbows_of(run: Run, conduits: tuple[Conduit, ...]) -> Run:
    """The run in other conduits; a bend without a radius of its own is their standard elbow."""
    vertices = [
        replace(v, bend=new.elbow_radius, bend_source=new.elbow_source)
        if v.bend and v.bend_source != "given" and new.elbow_radius is not None
        else v
        for v, new in zip(run.route.vertices, conduits, strict=False)
    ]
    kept = run.route.vertices[len(conduits) :]
    route = replace(run.route, vertices=(*vertices, *kept), conduits=conduits)
    return replace(run, route=route)


def _slicker(run: Run, edit: OtherFriction) -> Conduit:
    given = next(c for c in run.route.conduits if c.name == edit.conduit)
    constant = replace(given, friction_above=None, friction_then=None, friction_report="")
    return replace(constant.at_friction(edit.friction, edit.low, edit.high), friction_pulls=None)


def _with_elbows(run: Run, edit: OtherElbows) -> Run:
    for vertex, end in sorted(zip(edit.vertices, edit.ends, strict=True), reverse=True):
        given = run.route.conduits[vertex]
        run = run.with_point(vertex, Vertex(end), given)
        conduits = list(run.route.conduits)
        conduits[vertex] = edit.conduit
        run = _with_elbows_of(run, tuple(conduits))
    return run


# --- equipment ------------------------------------------------------------------------------------


def _with_tackle(run: Run, edit: Tackle) -> Run:
    """The figure in every record of that kind and name: of the run, its ends and its vertices."""

    def changed(record: Any) -> Any:
        if record is None or record.name != edit.name:
            return record
        if isinstance(record, Machine) and edit.key == "line_pull":
            return _stronger(record, edit.value)
        if isinstance(record, Reel) and edit.key == "brake_rating":
            return replace(record, brake_force=edit.value, brake_torque=None)
        if isinstance(record, Reel) and edit.key == "feed_efficiency":
            return replace(record, feed_efficiency=edit.value, feed_friction=None)
        field = {("anchor", "weight"): "mass"}.get((edit.kind, edit.key), edit.key)
        return replace(record, **{field: edit.value})

    if edit.kind != "sheave":
        if edit.kind != "rope":
            ends = tuple(
                replace(e, **{edit.kind: changed(getattr(e, edit.kind))}) for e in run.ends
            )
            run = replace(run, ends=ends)
        return replace(run, **{edit.kind: changed(getattr(run, edit.kind))})

    def led(turns: tuple[LeadOff, ...] | None) -> Any:
        return turns and tuple(replace(t, sheave=changed(t.sheave)) for t in turns)

    vertices = tuple(replace(v, sheave=changed(v.sheave)) for v in run.route.vertices)
    return replace(
        run,
        route=replace(run.route, vertices=vertices),
        lead_off=led(run.lead_off),
        ends=tuple(replace(e, lead_off=led(e.lead_off)) for e in run.ends),
    )


def _stronger(machine: Machine, line_pull: float) -> Machine:
    """The machine with another line pull, N, in its strongest gear."""
    best = machine.strongest
    gears = (g.with_line_pull(line_pull) if g is best else g for g in machine.gears)
    return replace(machine, gears=tuple(gears))


# --- several runs ---------------------------------------------------------------------------------


def _apart(run: Run, cables: tuple[str, ...]) -> tuple[Run, Run]:
    """The run without some of its cables, and those as a run of their own beside it."""
    kept = tuple(item for item in run.cables.items if item[0].name not in cables)
    taken = tuple(item for item in run.cables.items if item[0].name in cables)
    return (
        replace(run, cables=CableSet(kept)),
        replace(
            run,
            name=f"{run.name} {' and '.join(cables)}",
            cables=CableSet(taken),
            arrangement="auto",
        ),
    )


def _stage(run: Run, stage: Stage, number: int) -> Run:
    """One stage as a run that can be pulled only its way; off the reel it is held as given."""
    from route3d.planning.splitting.ways import stage_run

    part = stage_run(run, stage)
    first, *between, last = part.route.vertices
    fed, pulled = (
        replace(v, access=frozenset({what}), sheave=None)  # which guides no cable at an end
        for v, what in zip(
            (last, first) if stage.reverse else (first, last), ("reel", "machine"), strict=True
        )
    )
    ends = (pulled, fed) if stage.reverse else (fed, pulled)
    route = replace(part.route, vertices=(ends[0], *between, ends[1]))
    return replace(part, name=f"{run.name} stage {number}", route=route)
