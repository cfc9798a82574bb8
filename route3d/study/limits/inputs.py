"""The inputs of a run that may be varied one at a time: how each is changed, and how far."""

from __future__ import annotations

import math
from collections.abc import Callable, Collection, Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np

from route3d.checks.bends import least_radius, special_below
from route3d.errors import InputError, Problem
from route3d.geometry.bend_schedule import largest_radius, leg_rooms
from route3d.geometry.path import ARC, Path
from route3d.mechanics.pull import with_friction, with_friction_in
from route3d.model.cable import Cable
from route3d.model.machine import Gear, Machine
from route3d.model.practice import Practice
from route3d.model.run import CableSet, Run
from route3d.planning.remedies.edits import BendRadius, Tackle, carried_out

FRICTION = "friction"
INPUTS = {
    "friction": FRICTION,
    "straight": "longest straight",
    "radius": "bend radius",
    "diameter": "cable diameter",
    "weight": "set weight",
    "machine": "machine",
    "rope": "rope",
}
"""What may be asked for, and what it is called in an answer."""

ALL_FRICTION = "all conduits and rope"


def kinds_named(asked: str | Sequence[str] | None) -> tuple[str, ...]:
    """The inputs of these names, all of them where none is asked for; InputError for another."""
    asked = [asked] if isinstance(asked, str) else asked
    if unknown := [name for name in asked or () if name not in INPUTS]:
        fix = f"use {', '.join(list(INPUTS)[:-1])} or {list(INPUTS)[-1]}"
        raise InputError([Problem(f"no input is named {n!r}", "inputs", fix) for n in unknown])
    return tuple(kind for name, kind in INPUTS.items() if not asked or name in asked)


# Own judgment, no source: nobody plans a conduit run, or a factor on an input, beyond these.
_LONGEST, _LARGEST_FACTOR = 1e5, 1e3
# A straight that is shorter is none, m: the points at its ends must stay apart.
_SHORTEST = 1e-3


@dataclass(frozen=True, eq=False)
class StudiedInput:
    """One input: ``changed`` gives the run with another value of it, all others as they are.

    ``harder`` are the values to look at in turn from the ``planned`` one towards the limits,
    ``easier`` those away from them. ``jams`` is true where an input may make cables jam. The other
    fields are those of `FarthestValue`.
    """

    kind: str
    name: str
    quantity: str
    planned: float
    at_most: bool
    changed: Callable[[float], Run]
    harder: tuple[float, ...]
    easier: tuple[float, ...]
    jams: bool = False
    special: float | None = None


def studied_inputs(
    run: Run,
    practice: Practice,
    path: Path,
    reverse: bool,
    kinds: Collection[str] = INPUTS.values(),
) -> Iterator[StudiedInput]:
    """Every input of the ``kinds`` of a run pulled in one direction; ``path`` is its centerline."""
    of_kind: dict[str, Callable[[], Iterator[StudiedInput]]] = {
        FRICTION: lambda: _frictions(run),
        "longest straight": lambda: _straights(run, path),
        "bend radius": lambda: _radii(run, practice, path),
        "cable diameter": lambda: _diameter(run),
        "set weight": lambda: _weight(run),
        "machine": lambda: _machine(run, reverse),
        "rope": lambda: _rope(run),
    }
    for kind, inputs in of_kind.items():
        if kind in kinds:
            yield from inputs()


def _steps(planned: float, times: float, end: float) -> tuple[float, ...]:
    """Values from the planned one, each ``times`` the one before it, up to the ``end``."""
    count = math.floor(math.log(end / planned) / math.log(times) + 1e-9)
    return (*(planned * times**k for k in range(1, count + 1)), end)


# --- conduit and route ----------------------------------------------------------------------------


def _frictions(run: Run) -> Iterator[StudiedInput]:
    harder, easier = _steps(1.0, 1.25, _LARGEST_FACTOR), tuple(np.linspace(0.95, 0.0, 20).tolist())
    yield StudiedInput(
        "friction",
        ALL_FRICTION if run.rope else "all conduits",
        "factor",
        1.0,
        True,
        lambda factor: with_friction(run, factor),
        harder,
        easier,
    )
    for conduit in dict.fromkeys(run.route.conduits):
        if (planned := conduit.friction) > 0:
            yield StudiedInput(
                "friction",
                conduit.label,
                "ratio",
                planned,
                True,
                lambda value, name=conduit.name, planned=planned: with_friction_in(  # type: ignore[misc]
                    run, name, value / planned
                ),
                tuple(planned * k for k in harder),
                tuple(planned * k for k in easier),
            )


def _straights(run: Run, path: Path) -> Iterator[StudiedInput]:
    for leg, room in enumerate(leg_rooms(path).tolist()):
        planned = max(room, 0.0)
        more = 0.05 * path.length
        least = min(planned, _SHORTEST)
        yield StudiedInput(
            "longest straight",
            f"{run.route.label(leg)} to {run.route.label(leg + 1)}",
            "length",
            planned,
            True,
            lambda length, leg=leg, planned=planned: with_longer_leg(run, leg, length - planned),  # type: ignore[misc]
            tuple(planned + extra for extra in (more, *_steps(more, 1.5, _LONGEST))),
            tuple(np.linspace(planned, least, 21)[1:].tolist()),
        )


def with_longer_leg(run: Run, leg: int, extra: float) -> Run:
    """The run with one leg longer by ``extra`` m: all behind it is moved along that leg."""
    vertices = run.route.vertices
    points = np.array([v.point for v in vertices])
    along = points[leg + 1] - points[leg]
    moved = points[leg + 1 :] + extra * along / np.linalg.norm(along)
    behind = (
        replace(v, point=(x, y, z))
        for v, (x, y, z) in zip(vertices[leg + 1 :], moved.tolist(), strict=True)
    )
    return replace(run, route=replace(run.route, vertices=(*vertices[: leg + 1], *behind)))


def _radii(run: Run, practice: Practice, path: Path) -> Iterator[StudiedInput]:
    rooms = leg_rooms(path)
    rules = {least_radius(run, practice, conduit) for conduit in run.route.conduits}
    for number, segment in enumerate(np.flatnonzero(path.kind == ARC).tolist(), start=1):
        vertex, planned = int(path.vertex[segment]), float(path.radii[segment])
        most = max(largest_radius(path, segment, rooms), planned)
        steps = _steps(planned, 1 / 1.07, planned / _LARGEST_FACTOR)
        # What the rules ask for is a step of its own: it is either passed or found at once.
        near = [r * k for r in rules for k in (1.0, 1.0 - 2e-6) if r * k < planned]
        yield StudiedInput(
            "bend radius",
            run.route.bend_label(number, vertex),
            "radius",
            planned,
            False,
            lambda radius, vertex=vertex: carried_out(run, [BendRadius(vertex, radius)])[0],  # type: ignore[misc]
            tuple(sorted({*steps, *near}, reverse=True)),
            tuple(np.geomspace(planned, most, 21)[1:].tolist()),
            special=special_below(run.route.conduits[int(path.leg[segment])]),
        )


# --- cables ---------------------------------------------------------------------------------------


def _diameter(run: Run) -> Iterator[StudiedInput]:
    planned = run.cables.largest.diameter

    def changed(diameter: float) -> Run:
        items = ((replace(c, diameter=c.diameter * diameter / planned), n) for c, n in _items(run))
        return replace(run, cables=CableSet(items))

    several = len(_items(run)) > 1
    yield StudiedInput(
        "cable diameter",
        f"{run.cables.largest.name}, all cables by one factor"
        if several
        else _items(run)[0][0].name,
        "diameter",
        planned,
        True,
        changed,
        _steps(planned, 1.08, 10 * planned),
        _steps(planned, 0.95, planned / 20),
        jams=True,
    )


def _weight(run: Run) -> Iterator[StudiedInput]:
    planned = run.cables.weight

    def changed(weight: float) -> Run:
        items = ((replace(c, weight=c.weight * weight / planned), n) for c, n in _items(run))
        return replace(run, cables=CableSet(items))

    yield StudiedInput(
        "set weight",
        run.cables.describe(),
        "weight",
        planned,
        True,
        changed,
        _steps(planned, 1.25, planned * _LARGEST_FACTOR),
        _steps(planned, 0.8, planned / _LARGEST_FACTOR),
    )


def _items(run: Run) -> tuple[tuple[Cable, int], ...]:
    return run.cables.items


# --- machine and rope -----------------------------------------------------------------------------


def _rating(kind: str, name: str, planned: float, changed: Callable[[float], Run]) -> StudiedInput:
    """The smallest rating that passes: no load depends on it, so a step may be long."""
    start = 1e4 if math.isnan(planned) else planned
    return StudiedInput(
        kind,
        name,
        "force",
        planned,
        False,
        changed,
        _steps(start, 0.5, start / 1e6),
        _steps(start, 2.0, start * 1e6),
    )


def _machine(run: Run, reverse: bool) -> Iterator[StudiedInput]:
    ends = 0, len(run.route.vertices) - 1
    machine = run.pulled(*(ends[::-1] if reverse else ends)).machine

    def changed(line_pull: float) -> Run:
        if machine is None:
            return with_machine(run, Machine("machine", (Gear(line_pull, 0.1),)))
        gears = (g.with_line_pull(g.line_pull * line_pull / planned) for g in machine.gears)
        return with_machine(run, replace(machine, gears=tuple(gears)))

    name, planned = ("", math.nan) if machine is None else (machine.name, machine.line_pull)
    yield _rating("machine", name, planned, changed)


def with_machine(run: Run, machine: Machine) -> Run:
    """The run with one machine, whichever end pulls."""
    ends = tuple(replace(end, machine=None) for end in run.ends)
    return replace(run, machine=machine, ends=ends)


def _rope(run: Run) -> Iterator[StudiedInput]:
    rope = run.rope
    if rope is None:
        return

    def changed(rated: float) -> Run:
        return carried_out(run, [Tackle("rope", rope.name, "rated_load", rated, "force")])[0]

    yield _rating("rope", rope.name, rope.rated_load, changed)
