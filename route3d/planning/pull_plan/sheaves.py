"""What each sheave pulls on: the force on its fastening, where it points, and what holds it."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from route3d.checks.finding import Finding
from route3d.checks.limits import guided_turns
from route3d.geometry.vectors import Floats, norm
from route3d.mechanics.lead_off import lead_off_factor, turn_loads
from route3d.mechanics.pull import Pull
from route3d.model.rigging import HEAD_LENGTH, Sheave
from route3d.phrase import Phrase, literal, say
from route3d.planning.placement.search import PlacementSearch

# A force whose level part is below this share of it has no heading worth a figure.
_PLUMB = 1e-3


@dataclass(frozen=True, slots=True, eq=False)
class SheaveForce:
    """The force N on the fastening of one ``sheave`` at ``place``, 2T sin(turn/2).

    ``direction`` (3,) is the unit vector in which the rope or cable pulls the sheave, None where no
    machine location is known: it then points to the inside of the turn, half way between the
    two ropes. (docs/theory.md section 8, from memory.)
    """

    sheave: Sheave
    place: str
    turn: float
    force: float
    direction: Floats | None

    @property
    def heading(self) -> float | None:
        """Level direction of the force, rad clockwise from grid north; None where it is plumb."""
        if self.direction is None or np.hypot(*self.direction[:2]) < _PLUMB:
            return None
        return math.atan2(self.direction[0], self.direction[1]) % (2 * math.pi)

    @property
    def rise(self) -> float | None:
        """Angle of the force above level, rad; negative downward."""
        if self.direction is None:
            return None
        return math.asin(max(-1.0, min(1.0, float(self.direction[2]))))

    @property
    def words(self) -> Phrase:
        """The direction for the crew."""
        if self.direction is None:
            return say("toward the inside of the turn, half way between the two ropes")
        rise = abs(self.rise or 0.0)
        way = "up" if (self.rise or 0.0) > 0 else "down"
        if self.heading is None:
            return say(f"straight {way}")
        level = say("heading {}", (self.heading, "angle"))
        return level + (say(f", {{}} {way}", (rise, "angle")) if rise > 1e-3 else say(", level"))


def sheave_forces(pull: Pull, load: float, placement: PlacementSearch) -> tuple[SheaveForce, ...]:
    """Every sheave of the lead-off with ``load`` N at the machine, and every guided pull point."""
    run = pull.run
    friction = run.rope.friction if run.rope else 0.0
    mouth = load / lead_off_factor(run.lead_off, friction)
    corners = placement.best[0].rope if placement.best else ()
    whole = len(corners) == len(run.lead_off) + 2
    found = []
    for i, turn in enumerate(turn_loads(run.lead_off, friction, mouth), 1):
        if turn.turn.sheave is not None:
            way = _between(corners[i - 1], corners[i], corners[i + 1]) if whole else None
            sheave, angle = turn.turn.sheave, turn.turn.turn
            found.append(SheaveForce(sheave, pull.pull_name, angle, turn.resultant, way))
    points = [vertex.point for vertex in run.route.vertices]
    for vertex, guide, angle, force in guided_turns(pull):
        way = _between(points[vertex - 1], points[vertex], points[vertex + 1])
        found.append(SheaveForce(guide, run.route.label(vertex), angle, force, way))
    return tuple(found)


def _between(before: Sequence[float], at: Sequence[float], after: Sequence[float]) -> Floats | None:
    """Unit direction half way between the two ropes that leave a sheave; None where they do not."""
    legs = np.array([before, after], dtype=np.float64) - np.asarray(at, dtype=np.float64)
    if min(float(norm(leg)) for leg in legs) < 1e-9:
        return None
    both: Floats = legs[0] / norm(legs[0]) + legs[1] / norm(legs[1])
    size = float(norm(both))
    return both / size if size > 1e-9 else None


def sheave_findings(forces: Sequence[SheaveForce]) -> Iterator[Finding]:
    """A caution for each sheave without ``held_by``."""
    for one in forces:
        if one.sheave.held_by:
            continue
        fix = say(
            "what holds sheave " + literal(one.sheave.name) + " is not given: fasten it for {}, ",
            (one.force, "force+"),
        )
        fix += one.words + say('; enter what it is fastened to (`held_by = "..."` in its table)')
        yield Finding(
            f"sheave fastening {one.sheave.name}",
            "caution",
            one.place,
            one.force,
            math.nan,
            "force",
            fix,
            "common practice, no source",
        )


def head_length_findings(pull: Pull) -> Iterator[Finding]:
    """A note where the length of the head is assumed."""
    if not pull.run.head_assumed:
        return
    fix = say(
        "head of eyes or grip, swivel and links assumed {} long: give head_length in the rigging",
        (HEAD_LENGTH, "length"),
    )
    nan = math.nan
    source = "common practice, no source"
    yield Finding("head length", "note", pull.pull_name, HEAD_LENGTH, nan, "length", fix, source)
