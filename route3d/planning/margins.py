"""How far friction and brake may be from the plan before a limit is reached.

The friction margin is one multiplier on all friction of conduit and rope, the reel held as planned.
The brake window is what the tension of the cables leaving the reels may be: enough to keep them
taut where friction is low, and little enough to hold every limit where it is high. What both mean
is common practice, no source; every figure is found by solving the pull again.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np

from route3d.checks.finding import Finding, at_least
from route3d.checks.limits import NO_BRAKE, Rated
from route3d.mechanics.feed import drag_assumed, feed_factor, reel_count, reel_drag
from route3d.mechanics.friction_path import FrictionPath
from route3d.mechanics.pull import Peaks, Pull, at_reel_tension, peaks_with
from route3d.mechanics.rope_scenarios import head_track
from route3d.model.conduit import HIGH_FRICTION, LOW_FRICTION, Conduit
from route3d.phrase import Phrase, say
from route3d.planning.roots import last_below
from route3d.standards.practice import reel_back_length

# Highest over lowest brake that a person can keep within: 10 % either way of what he sets. Own
# judgment, no source.
WIDE_ENOUGH = 1.25
# Friction so many times the planned one is a blockage, not friction.
_MOST_FRICTION = 1e6


@dataclass(frozen=True, slots=True)
class FrictionMargin:
    """``factor`` on all friction at which ``limit`` is the first limit reached, cable moving.

    None where a limit is exceeded without any friction, and infinite where no friction reaches one.
    ``at_restart`` is the same for a first move after a stop anywhere. ``brake_holds_from`` is
    the lowest multiplier at which the planned reel tension still keeps the cable taut.
    """

    factor: float | None
    limit: str
    at_restart: float | None
    brake_holds_from: float


@dataclass(frozen=True, slots=True)
class BrakeWindow:
    """Tension in the cables leaving the reels, summed over the reels, N.

    ``at_least`` keeps the cables taut with friction at its low end and no help from the drag of the
    reels; ``without_friction`` is the same without any friction. ``at_most`` holds every limit with
    friction at its high end and at a restart, drag included; 0 where nothing does. ``anywhere``
    says that the restart may be anywhere on the way; else only the planned starts hold. ``drag`` N
    is what the reels take without any brake.
    """

    at_least: float
    without_friction: float
    at_most: float
    anywhere: bool
    drag: float

    @property
    def holds(self) -> bool:
        """True where the cables must be held back, and not only kept from overrunning."""
        return self.at_least > NO_BRAKE

    @property
    def empty(self) -> bool:
        """True where what keeps the cables taut is more than the limits allow."""
        return self.holds and self.at_most < self.at_least * (1 - 1e-9)

    def most_given(self, pull: Pull) -> float | None:
        """What a reel tension of the file that is above the window should be at most, N.

        The drag of the reels where the window ends below it; None where the file gives no reel
        tension, or none above the window, and where there is no window.
        """
        most = max(self.at_most, 0.0 if self.holds else self.drag)
        given = pull.run.reel_tension
        return None if given is None or self.empty or given <= most * (1 + 1e-9) else most


def friction_margin(pull: Pull) -> FrictionMargin:
    """The friction margin of one pull."""
    rated = Rated.of(pull.run, pull.practice)

    def share(factor: float) -> float:
        return rated.utilization(_at(pull, factor)).peak

    factor = _reached(share)
    restart = pull.practice.restart
    at = 0.0 if factor is None else min(factor, _MOST_FRICTION)
    return FrictionMargin(
        factor=factor,
        limit=rated.utilization(_at(pull, at)).governing,
        # A restart multiplies the same friction once more, and nothing else changes.
        at_restart=None if factor is None else factor / restart,
        brake_holds_from=_brake_holds_from(pull),
    )


def _at(pull: Pull, factor: float) -> Peaks:
    """The pull with every friction multiplied and the reel held as it is."""
    return peaks_with(pull, course=pull.course.scaled(factor), rope_factor=factor)


def _reached(share: Callable[[float], float]) -> float | None:
    """The factor at which a share that grows with it is 1; None where it is so from the start."""

    def over(factor: float) -> float:
        return math.log(max(share(factor), 1e-300))

    at_none = over(0.0)
    return None if at_none > 0.0 else last_below(over, at_none, 1.0, 2.0, _MOST_FRICTION)


def _brake_holds_from(pull: Pull) -> float:
    """The lowest multiplier of friction at which the reel tension keeps the cable taut."""
    # What is no brake need not be held: nothing at all would be reached by no friction.
    held = max(pull.start_tension, NO_BRAKE)

    def short(factor: float) -> float:
        return float(pull.course.scaled(factor).needed[0]) - held

    if pull.brake_without_friction <= pull.start_tension + NO_BRAKE:
        return 0.0
    at_none = -short(0.0)
    return (
        0.0 if at_none >= 0 else last_below(lambda k: -short(k), at_none, 1.0, 2.0, _MOST_FRICTION)
    )


def _first_start() -> tuple[float, ...]:
    return (0.0,)


def brake_window(pull: Pull, starts: Callable[[], Sequence[float]] = _first_start) -> BrakeWindow:
    """The brake window of one pull; ``starts`` tells its planned starts, m of cable in.

    At most is taken for a restart anywhere. Where that leaves no window, or less than the reel
    tension of the plan, only the planned starts count.
    """
    rated = Rated.of(pull.run, pull.practice)
    at_least, moving = _at_least(pull), _at_most(_moving_at_high(pull, rated))
    # Where the moving pull leaves nothing, no start needs to be looked at.
    anywhere = min(moving, _at_most(_restart_anywhere(pull, rated))) if moving > 0 else 0.0
    planned = anywhere
    if moving > 0 and anywhere < max(at_least, pull.reel_tension) * (1 - 1e-9):
        planned = min(moving, _at_most(_restart_at(pull, rated, starts())))
    return BrakeWindow(
        at_least=at_least,
        without_friction=pull.brake_without_friction,
        at_most=planned,
        anywhere=planned <= anywhere * (1 + 1e-9),
        drag=reel_drag(pull.run),
    )


def share_at_least_brake(pull: Pull, starts: Callable[[], Sequence[float]] = _first_start) -> float:
    """Share of the limits with the reels held with just what keeps the cables taut.

    Above 1 the brake window is empty, and the other way round: no load falls as a reel is held
    harder. It takes a few solutions, where both ends of the window take a search.
    """
    rated, least = Rated.of(pull.run, pull.practice), _at_least(pull)
    restart = _restart_anywhere(pull, rated)(least)
    if restart > 1.0:
        restart = min(restart, _restart_at(pull, rated, starts())(least))
    return max(_moving_at_high(pull, rated)(least), restart)


def _at_least(pull: Pull) -> float:
    """Tension that keeps the cable taut with friction at its low end, N.

    The whole cable in is the worst: walked backwards from the head, tension never falls below the
    zero that a shorter cable starts from. Sheaves are taken to turn freely.
    """
    slippery = pull.course.with_friction(pull.run, lambda c: c.lowest_friction, sheaves=False)
    needed = slippery.needed[0]
    return 0.0 if needed <= NO_BRAKE else float(needed)


def must_hold(pull: Pull) -> bool:
    """Whether the cables must be held back, and not only kept from overrunning."""
    return _at_least(pull) > NO_BRAKE


def as_ordered(pull: Pull) -> Pull:
    """The pull with its reels held as the crew is told to: at the low end of the window or above.

    The same pull where its reel tension is that already.
    """
    least = _at_least(pull)
    return pull if least <= pull.reel_tension else at_reel_tension(pull, least)


def with_auto_brake(pull: Pull) -> Pull:
    """The pull as it is ordered where the file leaves the reel tension to the program."""
    return as_ordered(pull) if pull.run.reel_tension is None else pull


_Share = Callable[[float], float]


def _moving_at_high(pull: Pull, rated: Rated) -> _Share:
    """Share of the limits with friction at its high end, by reel tension."""
    way = pull.course.with_friction(pull.run, lambda c: c.highest_friction, sheaves=True)
    return _share_along(pull, rated, way, HIGH_FRICTION)


def _restart_anywhere(pull: Pull, rated: Rated) -> _Share:
    factor = pull.practice.restart
    return _share_along(pull, rated, pull.course.scaled(factor), factor)


def _share_along(pull: Pull, rated: Rated, way: FrictionPath, rope_factor: float) -> _Share:
    """Share of the limits along another course, the friction of the rope multiplied."""

    def share(reel: float) -> float:
        found = peaks_with(pull, course=way, rope_factor=rope_factor, reel_tension=reel)
        return rated.utilization(found).peak

    return share


def _restart_at(pull: Pull, rated: Rated, starts: Sequence[float]) -> _Share:
    """Share of the limits at the planned starts alone; without a rope only the first is known."""
    if pull.run.rope is None:
        return lambda reel: reel * feed_factor(pull.run) / min(rated.conductor, rated.grip)
    heads = np.abs(pull.course.stations[0] - np.asarray(starts, dtype=np.float64))
    factors = np.full((len(starts), 1), pull.practice.restart)
    track = head_track(pull, heads)

    def share(reel: float) -> float:
        loads = track.loads(factors, reel * feed_factor(pull.run))
        tension, rope = float(loads.cable.max()), float(loads.rope.max())
        machine = max(float(loads.machine.max()), rope)
        peaks = Peaks(tension, float(loads.sidewall.max()), machine, tension)
        return rated.utilization(peaks).peak

    return share


def _at_most(share: _Share) -> float:
    """The largest reel tension whose share is at most 1, N; 0 where none is."""
    at_none = share(0.0) - 1.0
    return 0.0 if at_none > 0.0 else last_below(lambda t: share(t) - 1.0, at_none, 1000.0, 4.0)


# --- words ----------------------------------------------------------------------------------------


def brake_words(window: BrakeWindow) -> Phrase:
    """What to hold the reels with, the same on every surface."""
    most = (window.at_most, "force-")
    if window.empty:
        return say(
            "No brake setting meets every limit: at least {} total required, at most {} allowed",
            (window.at_least, "force+"),
            most,
        )
    if window.holds:
        return say(
            "Brake the reels: at least {} total, at most {}, for the whole pull",
            (window.at_least, "force+"),
            most,
        )
    if window.at_most <= 0:
        return say(
            "Brake as lightly as possible, only to prevent overrun: at high friction a limit "
            "is exceeded"
        )
    return say("Brake lightly to prevent overrun: at most {} total", most)


def brake_setting(window: BrakeWindow) -> Phrase:
    """The setting of the reel brake, in the fewest words."""
    if window.empty:
        return say("no brake setting works")
    most = (window.at_most, "force-")
    if window.holds:
        return say("{} to {}", (window.at_least, "force+"), most)
    if window.at_most <= 0:
        return say("lightest")
    if window.at_most < window.drag:
        return say("none, turn the reels by hand")
    return say("light, at most {}", most)


def brake_label(window: BrakeWindow) -> Phrase:
    """The same where nothing beside it says that it is the brake's."""
    if window.empty:
        return say("no brake setting")
    if window.holds:
        return say("brake ") + brake_setting(window)
    if window.at_most <= 0:
        return say("lightest possible brake")
    if window.at_most < window.drag:
        return say("no brake, turn the reels by hand")
    return say("light brake, at most {}", (window.at_most, "force-"))


# --- findings -------------------------------------------------------------------------------------

_NAN = math.nan


def _friction_range(pull: Pull) -> str:
    """The friction both ends of the window stand on, and who says so, of each conduit."""
    return "; ".join(_range_of(c) for c in dict.fromkeys(pull.run.route.conduits))


def _range_of(conduit: Conduit) -> str:
    low, high = conduit.lowest_friction, conduit.highest_friction
    assumed = [
        f"{end} assumed, {times:g} times the value given (common practice, no source)"
        for end, times, given in (
            ("low", LOW_FRICTION, conduit.friction_low),
            ("high", HIGH_FRICTION, conduit.friction_high),
        )
        if given is None
    ]
    told = [conduit.friction_source or "given"] if len(assumed) < 2 else []
    return f"friction {low:.2f} to {high:.2f} in {conduit.label}: {', '.join((*told, *assumed))}"


def brake_findings(pull: Pull, window: BrakeWindow) -> tuple[Finding, ...]:
    """The brake window against what the reels can do, and what to set."""
    return (
        *_window_findings(pull, window),
        *_above(pull, window),
        *_narrow(pull, window),
        *(_rating_findings(pull, window) if window.holds else ()),
        *_drag_note(pull, window),
    )


def _window_findings(pull: Pull, window: BrakeWindow) -> Iterator[Finding]:
    where = pull.feed_name
    if window.empty:
        fix = say(
            "the cables need at least {} to stay taut, the limits allow at most {}: no reel "
            "tension works from this end",
            (window.at_least, "force+"),
            (window.at_most, "force-"),
        )
        ratio = window.at_least / window.at_most if window.at_most > 0 else math.inf
        yield Finding(
            "brake window",
            "stop",
            where,
            window.at_least,
            window.at_most,
            "force",
            fix,
            _friction_range(pull),
            None,
            ratio,
            ("+", "-"),
        )
        return
    demand, severity, fix = window.drag, "note", brake_words(window)
    if window.holds:
        demand, severity = window.at_least, "caution"
        fix += say(
            ". With no friction it takes {} to hold the cable. Keep everyone out from under the "
            "cable.",
            (window.without_friction, "force+"),
        )
    elif window.at_most <= 0:
        severity = "caution"
        fix = say(
            "at high friction a limit is exceeded at any reel tension: reduce the tension, "
            "or verify the friction"
        )
    elif window.at_most < window.drag:
        severity = "caution"
        fix += say(
            ". Reel drag alone is {}: at high friction a limit is exceeded. Turn the reels by hand",
            (window.drag, "force"),
        )
    yield Finding(
        "reel brake",
        severity,
        where,
        demand,
        _NAN,
        "force",
        fix,
        _friction_range(pull),
        rounding=("+", ""),
    )


def _above(pull: Pull, window: BrakeWindow) -> Iterator[Finding]:
    """A reel tension of the file that only just holds, with friction as planned and on the move."""
    most = window.most_given(pull)
    if most is None:
        return
    fix = say(
        "the plan uses the {} in the file; held with more than {}, a limit is passed at high "
        'friction or a restart: enter at most that value, or reel_tension = "auto"',
        (pull.reel_tension, "force+"),
        (most, "force-"),
    )
    yield Finding(
        "reel tension above the brake window",
        "caution",
        pull.feed_name,
        pull.reel_tension,
        most,
        "force",
        fix,
        _friction_range(pull),
        None,
        pull.reel_tension / most if most > 0 else math.inf,
        ("+", "-"),
    )


def _narrow(pull: Pull, window: BrakeWindow) -> Iterator[Finding]:
    """A window that a hand on a brake can hardly keep within."""
    if not window.holds or window.empty or window.at_most >= WIDE_ENOUGH * window.at_least:
        return
    fix = say(
        "hold the brake within {} to {} throughout: use brakes with a gauge and a person at every "
        "reel, or widen the window: less friction, larger bends, or the other end",
        (window.at_least, "force+"),
        (window.at_most, "force-"),
    )
    width = window.at_most - window.at_least
    wanted = (WIDE_ENOUGH - 1) * window.at_least
    yield Finding(
        "narrow brake window",
        "caution",
        pull.feed_name,
        width,
        wanted,
        "force",
        fix,
        "own judgment, no source: a brake held by hand varies by 10% either way",
        None,
        wanted / width if width > 0 else math.inf,
        ("-", "+"),
    )


def _rating_findings(pull: Pull, window: BrakeWindow) -> Iterator[Finding]:
    """What the brakes can hold with the drum full, and what they do as it empties."""
    reel = pull.run.reel
    if reel is None:
        return
    source, where, count = f"given for reel {reel.name}", pull.feed_name, reel_count(pull.run)
    radius = None if reel.diameter is None else reel.diameter / 2
    rated = reel.brake_force
    if rated is None and reel.brake_torque is not None and radius is not None:
        rated = reel.brake_torque / radius
    if rated is not None:
        found = at_least(
            "brake rating",
            where,
            rated * count,
            window.at_least,
            "force",
            say("use brakes rated at least {} at the full drum", (window.at_least, "force+")),
            source,
        )
        yield replace(found, rounding=("-", "+"))
    if reel.diameter is None or reel.drum_diameter is None or window.empty:
        return
    empty = window.at_least * reel.diameter / reel.drum_diameter
    if empty > window.at_most:
        fix = say(
            "ease the brakes as the reels empty: the torque for {} at the full reel gives {} "
            "at the last turn, and at most {} is allowed",
            (window.at_least, "force+"),
            (empty, "force+"),
            (window.at_most, "force-"),
        )
        yield Finding(
            "brake at the empty drum",
            "caution",
            where,
            empty,
            window.at_most,
            "force",
            fix,
            source,
            None,
            empty / window.at_most,
            ("+", "-"),
        )


def _drag_note(pull: Pull, window: BrakeWindow) -> Iterator[Finding]:
    """The drag of the reels where it is assumed and worked with, or one force is for several."""
    reel, count = pull.run.reel, reel_count(pull.run)
    if reel is not None and reel.drag_force and count > 1:
        fix = say(
            f"{{}} used for each of {count} reels, {{}} total. If the reels differ, enter "
            "`drag` as a length of cable: each reel then uses that length of its own cable",
            (reel.drag_force, "force"),
            (window.drag, "force"),
        )
        given = f"given for reel {reel.name}"
        yield Finding("reel drag", "note", pull.feed_name, window.drag, _NAN, "force", fix, given)
    if not drag_assumed(pull.run) or pull.reel_tension > window.drag * (1 + 1e-9):
        return
    fix = say(
        "assumed, from memory: the weight of {} of the whole set. Enter the reel drag "
        "(`drag` in the reel table) as a force or a length of cable",
        (reel_back_length().value, "length"),
    )
    source = str(reel_back_length().source)
    yield Finding("reel drag", "note", pull.feed_name, window.drag, _NAN, "force", fix, source)
