"""Ways for a machine to stand at given places: rules, floor, axis and rope."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, fields, replace
from typing import Any

import numpy as np

from route3d.geometry.vectors import Floats, angle_between, norm
from route3d.model.allowances import Allowances
from route3d.model.anchor import ConduitBrace, Vehicle, WorkPlatform
from route3d.model.machine import Machine
from route3d.model.run import Run
from route3d.phrase import Phrase, literal, say
from route3d.planning.placement.rope_legs import PullEnd, RopeLine, drawn_out, legs_to
from route3d.planning.placement.site import Flags, Ints, Surroundings, mesh_floor, room_at

# Feet are leveled over this much, and floors this close are one, m. Common practice, no source.
UNEVEN = 0.05
# Rope between conduit end and a machine braced against it, and how high a platform goes, m
# (common practice, no source).
_BRACED = (0.0, 1.5)
_HIGHEST_PLATFORM = 10.0
# How far beyond the head a place is sought where the head is drawn out far, m. No source.
_BEYOND = 1.0


@dataclass(frozen=True, slots=True)
class PlaceRules:
    """How to search; lengths in m. The defaults are common practice without a source.

    ``reach`` the shortest and longest rope from conduit end to machine (within 1.5 m for a machine
    braced against the conduit); ``step`` of the grid, and how many steps of the ``finer`` grid it
    holds (0.05 m is as close as a crew sets a machine down; 1 for no finer grid); ``headroom``
    above the machine; ``standing`` height people need beside it (NEC 110.26(A)(3): 6 1/2 ft, from
    memory); ``lift`` the most a platform may raise its feet; ``level`` the height at or below which
    the floor is sought, None for just above the conduit end; ``keep`` how many places to return, a
    machine's length apart; ``out`` how far the cable head is drawn out beyond the conduit: a place
    that leaves it more room ranks before all that leave it less; ``vehicle`` the drawbar, length
    and width of what stands behind the machine, None for nothing to check; ``vehicle_note`` where
    a vehicle holds the machine and its footprint is not given.
    """

    reach: tuple[float, float] = (0.0, 10.0)
    step: float = 0.25
    finer: int = 5
    headroom: float = 0.15
    standing: float = 1.98
    lift: float = 0.0
    level: float | None = None
    keep: int = 3
    out: float = 0.0
    vehicle: tuple[float, float, float] | None = None
    vehicle_note: bool = False

    @staticmethod
    def of(run: Run, allowances: Allowances) -> PlaceRules:
        """A brace holds the machine close to the conduit; a work platform may lift it.

        A vehicle needs its own floor behind the machine. Where the head is drawn out farther than
        places are usually sought, they are sought as far as that in as many steps.
        """
        anchor, out = run.anchor, drawn_out(run, allowances)
        if isinstance(anchor, ConduitBrace):
            return PlaceRules(reach=_BRACED, out=out)
        if isinstance(anchor, WorkPlatform):
            return PlaceRules(reach=_BRACED, out=out, lift=_HIGHEST_PLATFORM)
        usual = PlaceRules(out=out)
        far = max(usual.reach[1], out + _BEYOND)
        usual = replace(usual, reach=(0.0, far), step=usual.step * far / usual.reach[1])
        if not isinstance(anchor, Vehicle):
            return usual
        if anchor.length is None or anchor.width is None:
            return replace(usual, vehicle_note=True)
        return replace(usual, vehicle=(anchor.drawbar, anchor.length, anchor.width))


@dataclass(frozen=True, slots=True, eq=False)
class StandingMachine:
    """The machine's side of a search, in SI: what it is, and what is given or assumed of it."""

    end: PullEnd
    envelope: tuple[float, float, float]
    line_height: float
    clearance: float
    lead_angle: float
    rules: PlaceRules
    notes: tuple[Phrase, ...]

    @staticmethod
    def of(
        end: PullEnd,
        machine: Machine,
        envelope: tuple[float, float, float],
        lead_angle: float,
        rules: PlaceRules,
    ) -> StandingMachine:
        """With what the machine leaves out assumed, and said so."""
        line, notes, name = machine.line_height, [], literal(machine.name)
        if line is None:
            line = envelope[2] / 2
            words = f"line height of {name} not given: half its height ({{}}) used"
            notes.append(say(words, (line, "length")))
        if machine.clearance is None:
            notes.append(say(f"working clearance of {name} not given: not checked"))
        if rules.vehicle_note:
            notes.append(say("vehicle footprint not given: not checked"))
        clearance = machine.clearance or 0.0
        return StandingMachine(end, envelope, line, clearance, lead_angle, rules, tuple(notes))

    @property
    def span(self) -> float:
        """How far from the conduit end anything matters, m in plan."""
        own = self.envelope[0] + self.envelope[1] + 2 * self.clearance + 1.0
        return self.rules.reach[1] + own + sum(self.rules.vehicle or ())

    @property
    def level(self) -> float:
        """The height at or below which the floor is sought, m."""
        given = self.rules.level
        return float(self.end.point[2]) + UNEVEN if given is None else given

    @property
    def grade(self) -> float:
        """The floor where none is known: at a rising conduit's end, or level with the rope, m."""
        z = float(self.end.point[2])
        return z if abs(self.end.outward[2]) > math.sqrt(0.5) else z - self.line_height

    @property
    def grade_note(self) -> Phrase:
        """What was taken for the floor, in words."""
        return say("Floor level not given; assumed at elev. {}", (self.grade, "length"))


@dataclass(frozen=True, slots=True, eq=False)
class Ground:
    """``places`` (n, 2) with their ``floor`` (n,) m, nan for none; ``room`` number or -1.

    ``known`` is false where the floor is only taken to be at grade.
    """

    places: Floats
    floor: Floats
    room: Ints
    known: Flags

    @property
    def at_grade_where_unknown(self) -> bool:
        """True where a place without a known floor is taken to be at grade, and not a hole."""
        return bool((~self.known & ~np.isnan(self.floor)).any())

    def with_places(self, more: Ground) -> Ground:
        """The places of both, these first."""
        return Ground(
            *(np.concatenate([getattr(g, f.name) for g in (self, more)]) for f in fields(Ground))
        )

    @staticmethod
    def at_grade(stand: StandingMachine, places: Floats) -> Ground:
        """No floor known anywhere."""
        nowhere = np.full(len(places), -1)
        return Ground(places, np.full(len(places), stand.grade), nowhere, nowhere > 0)


@dataclass(frozen=True, slots=True, eq=False)
class Ways:
    """n ways to stand: number of the ``place``, ``axis`` (n, 3) level unit from front to rear.

    ``feet`` (n, 3) m the middle of the feet; ``corners`` (n, k, 3) m of the rope; ``lead`` (n,)
    rad; ``length`` (n,) m of rope.
    """

    place: Ints
    axis: Floats
    feet: Floats
    corners: Floats
    lead: Floats
    length: Floats

    def __getitem__(self, keep: Any) -> Ways:
        return Ways(*(getattr(self, f.name)[keep] for f in fields(self)))


def ground_at(
    site: Surroundings, stand: StandingMachine, places: Floats, like: Ground | None = None
) -> Ground:
    """The floor of each place: that of its room, else the highest surface below, else grade.

    Where the meshes carry a floor under most of the other places, a place without is a hole;
    ``like`` is the ground of the places that this was decided on, by default these.
    """
    room = room_at(site.rooms, places, stand.level)
    floor = np.full(len(places), np.nan)
    inside = room >= 0
    floor[inside] = np.array([r.floor for r in site.rooms] or [0.0])[room[inside]]
    floor[~inside] = mesh_floor(site, places[~inside], stand.level)
    missing = np.isnan(floor)
    if missing.sum() > (~inside).sum() / 2 if like is None else like.at_grade_where_unknown:
        floor[missing] = stand.grade
    return Ground(places, floor, room, ~missing)


def ways_to_stand(
    stand: StandingMachine, ground: Ground, lines: Sequence[RopeLine], *, checked: bool = True
) -> tuple[Ways, Ints, Ints]:
    """Ways whose rope keeps the lead angle and the reach; places off the line, and off the reach.

    Not ``checked``, all ways are given back whatever their rope.
    """
    found, off_line, off_reach = [], [], []
    for line in lines:
        for axis in _axes(line.entry, stand.lead_angle):
            ways, fits = _ways(stand, ground, line, axis)
            straight = ways.lead <= stand.lead_angle + 1e-9
            near, far = stand.rules.reach
            fits &= (ways.length >= near - 1e-9) & (ways.length <= far + 1e-9)
            found.append(ways[straight & fits] if checked else ways)
            off_line.append(ways.place[~straight])
            off_reach.append(ways.place[straight & ~fits])
    parts = ([getattr(w, f.name) for w in found] for f in fields(Ways))
    return Ways(*map(np.concatenate, parts)), np.concatenate(off_line), np.concatenate(off_reach)


def _axes(entry: Floats, lead_angle: float) -> list[Floats]:
    """The machine's axis along the rope, and square to the plan grid if that is near enough.

    The other quarter turns take the rope in from the side, 90 degrees off the machine's line.
    """
    quarter = np.eye(3)[int(abs(entry[1]) > abs(entry[0]))]
    quarter = quarter * math.copysign(1.0, entry @ quarter)
    turn = float(angle_between(entry, quarter))
    return [entry, quarter] if 1e-9 < turn <= lead_angle else [entry]


def _ways(
    stand: StandingMachine, ground: Ground, line: RopeLine, axis: Floats
) -> tuple[Ways, Flags]:
    place = np.flatnonzero(~np.isnan(ground.floor))
    feet = np.column_stack((ground.places[place], ground.floor[place]))
    front = [*(-axis[:2] * stand.envelope[0] / 2), stand.line_height]
    if stand.rules.lift and not any(line.free[:-1]):
        feet[:, 2] += _lift(stand, line, feet + front)
    legs = legs_to(line, stand.end.point, feet + front)
    lead = np.maximum(legs.swing, angle_between(legs.last, np.broadcast_to(axis, feet.shape)))
    axes = np.broadcast_to(axis, feet.shape)
    return Ways(place, axes, feet, legs.corners, lead, legs.lengths), legs.fits.copy()


def _lift(stand: StandingMachine, line: RopeLine, heads: Floats) -> Floats:
    """How far a platform raises the feet to bring the machine's line (n, 3) up to the rope's."""
    away = heads - stand.end.point
    slope = line.directions[-1, 2] / math.hypot(*line.directions[-1, :2])
    rise: Floats = np.clip(slope * norm(away[:, :2]) - away[:, 2], 0.0, stand.rules.lift)
    return rise
