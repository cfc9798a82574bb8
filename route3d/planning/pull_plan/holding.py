"""What holds the pulling machine, and what that asks of bolts, vehicle or conduit end."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from route3d.mechanics.lead_off import turn_loads
from route3d.model.anchor import Adapter, ConduitBrace, FloorBolts, Vehicle, WorkPlatform
from route3d.model.conduit import Conduit
from route3d.model.run import Run
from route3d.phrase import Phrase, literal, say
from route3d.standards.tables import NotInTable, trade_inches
from route3d.units import GRAVITY

_GIVEN = "given for anchor {}"
# Halvings of a load: to a millionth of the machine's own pull.
_HALVINGS = 40


@dataclass(frozen=True, slots=True)
class Hold:
    """One thing that must hold: ``load`` against ``rating``, N; None where no rating is given.

    Where several loads act together the two are shares, and ``quantity`` is "percent".

    ``at_all`` is False where the arrangement itself cannot work, whatever the rating.
    """

    name: str
    load: float
    rating: float | None
    source: str
    at_all: bool = True
    quantity: str = "force"

    @property
    def ratio(self) -> float:
        """Load over rating; NaN without a rating, infinite where it cannot work."""
        if not self.at_all:
            return math.inf
        return math.nan if self.rating is None else self.load / self.rating


@dataclass(frozen=True, slots=True)
class Holding:
    """How the machine is held: ``kind`` in words, its holds, and what to see to."""

    kind: str
    holds: tuple[Hold, ...]
    notes: tuple[Phrase, ...]


def holding(run: Run, conduit: Conduit, load: float, fitted_for: float | None = None) -> Holding:
    """What holds the machine against ``load`` N of rope, pulling from the end of ``conduit``.

    ``load`` is that at the machine, lead-off included. The rope line is taken as level at the
    machine. ``fitted_for`` N is the load the tackle was chosen for, by default ``load``: an
    adapter fitted for the plan stays the same one when the machine pulls harder.
    """
    anchor = run.anchor
    fitted = load if fitted_for is None else fitted_for
    if isinstance(anchor, ConduitBrace):
        return _braced(run, anchor, conduit, load, fitted)
    if isinstance(anchor, FloorBolts):
        return _bolted(run, anchor, load)
    if isinstance(anchor, Vehicle):
        return _hitched(anchor, load)
    if isinstance(anchor, WorkPlatform):
        return _on_platform(run, anchor, conduit, load, fitted)
    note = say("no anchor given: the machine anchorage must hold {}", (load, "force+"))
    unknown = Hold("anchor", load, None, "not given")
    return Holding("no anchor given", (unknown,), (note,))


def holds_up_to(run: Run, conduit: Conduit, most: float, fitted_for: float) -> tuple[float, str]:
    """Largest machine load (N) that every rated hold bears, and the hold that gives out first.

    The tackle is that fitted for ``fitted_for`` N. Infinite where all of it bears ``most``. Bolt
    tension is not proportional to the load, for the machine's weight is taken off first; so the
    load is found by halving.
    """

    def worst(load: float) -> Hold | None:
        rated = [
            h for h in holding(run, conduit, load, fitted_for).holds if not math.isnan(h.ratio)
        ]
        return max(rated, key=lambda h: h.ratio, default=None)

    first = worst(most)
    if first is None or first.ratio <= 1.0:
        return math.inf, ""
    low, high = 0.0, most
    for _ in range(_HALVINGS):
        middle = (low + high) / 2
        there = worst(middle)
        if there is not None and there.ratio > 1.0:
            high, first = middle, there
        else:
            low = middle
    return low, first.name


# --- braced against the conduit ------------------------------------------------------------------


def conduit_end_load(run: Run, load: float) -> tuple[float, float]:
    """Axial and sideways load (N) on the conduit end of a machine braced against it.

    Machine, brace and sheaves are one body; the rope draws it into the conduit with the tension
    it has at the mouth, and the conduit pushes back with as much along its axis (statics). A
    first turn of the rope puts T sin(turn) across the conduit end, unless the machine's own frame
    carries it.
    """
    rope = run.rope.friction if run.rope else 0.0
    turns = turn_loads(run.lead_off, rope, 1.0)
    mouth = load / (turns[-1].after if turns else 1.0)
    if not turns:
        return mouth, 0.0
    return mouth, mouth * turns[0].after * abs(math.sin(turns[0].turn.turn))


def adapter_for(brace: ConduitBrace, conduit: Conduit) -> Adapter | None:
    """The adapter of a brace that takes the conduit's trade size."""
    try:
        size = trade_inches(conduit.trade_size or "")
    except NotInTable:
        return None
    for adapter in brace.adapters:
        if trade_inches(adapter.smallest) <= size <= trade_inches(adapter.largest):
            return adapter
    return None


def _braced(
    run: Run, brace: ConduitBrace, conduit: Conduit, load: float, fitted_for: float
) -> Holding:
    axial, side = conduit_end_load(run, load)
    fitted, _ = conduit_end_load(run, fitted_for)
    source = _GIVEN.format(brace.name)
    holds = [
        Hold("brace", axial, brace.rating, source),
        *_adapter_hold(brace, conduit, axial, fitted),
    ]
    notes = [
        say(
            "the brace pushes the conduit end with {} along its axis. Pipe-rack clamps do "
            "not hold that: strut the conduit to the building or let it bear on concrete",
            (axial, "force+"),
        )
    ]
    if side > 0:
        holds.append(Hold("side load on the conduit end", side, None, "statics, T sin(turn)"))
        text = "the rope turn puts a side load of {} on the conduit end: guy it, or use a frame"
        notes.append(say(text, (side, "force+")))
    if conduit.plastic:
        notes.append(
            say("do not brace against plastic conduit unless the conduit maker allows this load")
        )
    elif conduit.plastic is None:
        what = literal(conduit.label)
        notes.append(
            say(f"material of conduit {what} not known: do not brace against it if it is plastic")
        )
    return Holding("braced against the conduit end", tuple(holds), tuple(notes))


def _adapter_hold(
    brace: ConduitBrace, conduit: Conduit, axial: float, fitted_for: float
) -> Sequence[Hold]:
    """The adapter that was fitted for an axial load of ``fitted_for`` N, under ``axial`` N."""
    adapter = adapter_for(brace, conduit)
    if adapter is None:
        what = f"trade size {conduit.trade_size}" if conduit.trade_size else "a trade size"
        return [Hold(f"adapter for {conduit.name}", axial, None, f"no adapter given for {what}")]
    source = f"given for anchor {brace.name}, trade sizes {adapter.smallest} to {adapter.largest}"
    light, locked = adapter.light_rating, adapter.locked_rating
    if light is not None and (fitted_for <= light or locked is None):
        return [Hold("light clamp-on adapter", axial, light, source)]
    return [Hold("locked adapter", axial, locked, source)]


# --- bolted down ---------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class BoltLoads:
    """Tension and shear of each bolt, N, in the order given; None where nothing can hold."""

    tension: tuple[float, ...] | None
    shear: tuple[float, ...]


def bolt_loads(
    bolts: Sequence[tuple[float, float]], load: float, line_height: float, weight: float = 0.0
) -> BoltLoads:
    """Tension and shear of bolts under a rope pull of ``load`` N at ``line_height`` m.

    ``bolts`` are (x toward the conduit, y across from the rope line), m. Shear: the pull shared
    evenly, and the twist of a pattern that lies beside the rope line by the elastic method, r/J of
    each bolt. Tension: a stiff base that tips over the row nearest the conduit, T h less the
    machine's ``weight`` N at the middle of the pattern, shared as the distance from that row
    (structural handbooks, from memory). A pattern of one row holds no tipping.
    """
    at = np.asarray(bolts, dtype=np.float64)
    n, middle = len(at), at.mean(axis=0)
    arm = at - middle
    polar = float((arm**2).sum())
    # Of the pull about the middle of the pattern: the bolts nearer to the rope line carry more.
    twist = load * middle[1]
    along, across = np.full(n, load / n), np.zeros(n)
    if polar > 0:
        along = along - twist * arm[:, 1] / polar
        across = across + twist * arm[:, 0] / polar
    shear = np.hypot(along, across)
    toe = at[:, 0].max()
    tipping = load * line_height - weight * (toe - middle[0])
    lever = toe - at[:, 0]
    inertia = float((lever**2).sum())
    if tipping <= 0:
        return BoltLoads((0.0,) * n, tuple(shear.tolist()))
    if inertia == 0:
        return BoltLoads(None, tuple(shear.tolist()))
    return BoltLoads(tuple((tipping * lever / inertia).tolist()), tuple(shear.tolist()))


def _bolted(run: Run, anchor: FloorBolts, load: float) -> Holding:
    machine, source = run.machine, _GIVEN.format(anchor.name)
    weight = (machine.mass or 0.0) * GRAVITY if machine else 0.0
    height = machine.line_height if machine else None
    found = bolt_loads(anchor.bolts, load, height or 0.0, weight)
    holds = [Hold("worst bolt, shear", max(found.shear), anchor.bolt_shear, source)]
    notes = [
        say("install and torque the anchors per the anchor maker's instructions, in sound concrete")
    ]
    if height is None:
        note = say("machine line_height not given: tipping not checked")
        return Holding("bolted to the floor", tuple(holds), (note, *notes))
    if found.tension is None:
        why = "a single row of bolts cannot resist tipping"
        holds.append(Hold("worst bolt, tension", load, None, why, at_all=False))
        return Holding("bolted to the floor", tuple(holds), tuple(notes))
    holds.append(Hold("worst bolt, tension", max(found.tension), anchor.bolt_tension, source))
    share = max(
        t / anchor.bolt_tension + v / anchor.bolt_shear
        for t, v in zip(found.tension, found.shear, strict=True)
    )
    # the straight line between the two, the strictest in use
    together = "tension and shear together, T/Ta + V/Va at most 100% (from memory)"
    holds.append(Hold("worst bolt, combined", share, 1.0, together, quantity="percent"))
    return Holding("bolted to the floor", tuple(holds), tuple(notes))


# --- vehicle and platform ------------------------------------------------------------------------


def _hitched(vehicle: Vehicle, load: float) -> Holding:
    """Friction of the wheels and the drawbar (statics; common practice, no source)."""
    source = _GIVEN.format(vehicle.name)
    grip = vehicle.friction * vehicle.mass * GRAVITY
    holds = (
        Hold("wheel grip", load, grip, f"{vehicle.friction:g} x the weight, {source}"),
        Hold("drawbar", load, vehicle.drawbar_rating, source),
    )
    note = say(
        "set the brakes, chock the wheels, keep everyone out from between the vehicle and the "
        "conduit"
    )
    return Holding("hitched to a vehicle", holds, (note,))


def _on_platform(
    run: Run, anchor: WorkPlatform, conduit: Conduit, load: float, fitted_for: float
) -> Holding:
    name = literal(anchor.name)
    if anchor.brace is None:
        why = "a machine on a work platform must be braced against the conduit end"
        hold = Hold("work platform", load, None, why, at_all=False)
        note = say(f"the work platform ({name}) has no brace: the pull would tip it over")
        return Holding("on a work platform, not braced", (hold,), (note,))
    braced = _braced(run, anchor.brace, conduit, load, fitted_for)
    note = say(
        f"the work platform ({name}) must be braced: it may carry the machine's weight but "
        "none of the pull"
    )
    return Holding(
        "on a work platform, braced against the conduit end", braced.holds, (note, *braced.notes)
    )
