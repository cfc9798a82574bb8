"""The reel end: how much cable, on what reel, held how, fed over what."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from route3d.checks.limits import NO_BRAKE
from route3d.checks.riser import risers
from route3d.mechanics.pull import Pull
from route3d.model.allowances import Allowances
from route3d.phrase import Phrase, say
from route3d.planning.margins import BrakeWindow, brake_window, brake_words
from route3d.units import GRAVITY


@dataclass(frozen=True, slots=True)
class Draw:
    """What one stage of a split moves beside what fills its conduit, lengths in m of each cable.

    ``laid`` comes out at the machine to be laid in figure eights and fed on; ``kept`` stays at the
    feed, to be fed back the other way or for make-up. ``off_reel`` is false where the cable comes
    from figure eights.
    """

    laid: float
    kept: float
    off_reel: bool


@dataclass(frozen=True, slots=True)
class Feeding:
    """Lengths in m, forces in N, moments in Nm; None where the reel's data are not given.

    ``cable_length`` is of each cable, ``total_length`` of all together; ``pulled_out`` is what
    comes out beyond the conduit at the machine. ``tension`` is the reel tension worked with, of
    all cables together, ``window`` what the reels may be held with, None for figure eights, and
    ``moment`` what the brakes of all reels hold together at full radius.
    ``set_mass`` kg of the cable itself. ``off_reel`` is false for cable from figure eights.
    """

    place: str
    cable_length: float
    total_length: float
    pulled_out: float
    left_over: float
    tension: float
    window: BrakeWindow | None
    moment: float | None
    reel_mass: float | None
    set_mass: float
    off_reel: bool
    notes: tuple[Phrase, ...]


def length_to_order(conduit: float, allowances: Allowances, draw: Draw | None = None) -> float:
    """Length of each cable of a pull through ``conduit`` m of conduit, make-up at both ends, m.

    ``draw`` where it is one stage of a split.
    """
    kept, laid = (allowances.feed_slack, 0.0) if draw is None else (draw.kept, draw.laid)
    return conduit + kept + laid + allowances.pull_slack


def held_at_rest(pull: Pull) -> tuple[float, float]:
    """What reels and machine hold when a pull with a riser rests, N; 0 where there is none.

    At rest nothing says which way friction helps, so none is counted: the reels hold what hangs
    below the feed, the machine what hangs below the head and the tension at the reels.
    """
    path = pull.path
    if not risers(path):
        return 0.0, 0.0
    heights = np.concatenate((pull.profile.xyz[:, 2], path.starts[:, 2]))
    below = pull.run.cables.weight * (heights.max() - pull.run.route.vertices[pull.feed].point[2])
    machine = float(below) + pull.reel_tension if below > NO_BRAKE else 0.0
    return pull.brake_without_friction, machine


def feeding(
    pull: Pull,
    allowances: Allowances,
    draw: Draw | None = None,
    window: BrakeWindow | None = None,
) -> Feeding:
    """The reel end of a pull, or of a stage of a split that ``draw``s more than fills it."""
    run, reel = pull.run, pull.run.reel
    if draw is None:
        draw = Draw(0.0, allowances.feed_slack, off_reel=True)
    out = draw.laid + allowances.pull_slack
    length = length_to_order(pull.path.length, allowances, draw)
    # What lies in figure eights is fed by hand: no reel has a brake to set.
    window = (window or brake_window(pull)) if draw.off_reel else None
    radius = reel.diameter / 2 if reel and reel.diameter else None
    return Feeding(
        place=pull.feed_name,
        cable_length=length,
        total_length=length * run.cables.count,
        pulled_out=out,
        left_over=draw.kept,
        tension=pull.reel_tension,
        window=window,
        moment=None if radius is None else _held(pull, window) * radius,
        reel_mass=reel.mass if reel else None,
        set_mass=run.cables.weight / GRAVITY * length,
        off_reel=draw.off_reel,
        notes=tuple(_notes(pull, allowances, window, draw)),
    )


def _held(pull: Pull, window: BrakeWindow | None) -> float:
    """What the brakes hold at least: the plan's reel tension, or the window's low end, N."""
    return max(pull.reel_tension, 0.0 if window is None else window.at_least)


def eased(window: BrakeWindow | None, held: float) -> Phrase:
    """What to add where ``held`` N at a stop is more brake than a moving cable may have."""
    if window is None or not 0 < window.at_most < held:
        return say("")
    return say("; ease the brake to at most {} before the cable moves", (window.at_most, "force-"))


def _notes(
    pull: Pull, allowances: Allowances, window: BrakeWindow | None, draw: Draw
) -> list[Phrase]:
    """What to see to at the feed (common practice, no source)."""
    notes = [
        say(
            "set the reel in line with the conduit; pay off the top of the reel, with the "
            "cable's natural curve"
        ),
    ]
    if window is None:
        notes = [
            say(
                "turn the figure eights over and feed by hand from the top: no reel, no "
                "brake. Stay out of the loops"
            )
        ]
    elif window.empty:
        notes.append(brake_words(window))
    elif window.holds:
        tried = say(". Test the brakes before the head goes over the edge")
        notes.append(brake_words(window) + tried)
    else:
        multiplied = say(": every bend multiplies the tension applied here")
        notes.append(brake_words(window) + multiplied)
    reels, _ = held_at_rest(pull)
    if reels > NO_BRAKE:
        held = say(
            "at every stop hold at least {} at the reels (friction not counted)", (reels, "force+")
        )
        notes.append(held + eased(window, reels))
    if draw.laid > 0:
        notes.append(
            say(
                "pull {} of each cable out at the machine; regrip at the conduit each time "
                "the head is {} out; lay the cable in figure eights for the next stage",
                (draw.laid + allowances.pull_slack, "length"),
                (allowances.pull_slack, "length"),
            )
        )
        if draw.kept > 0:
            notes.append(say("leave {} of each cable at the feed", (draw.kept, "length")))
        return notes
    if draw.kept == 0:
        out = (allowances.pull_slack, "length")
        notes.append(say("pull {} past the conduit end at the machine for make-up", out))
        return notes
    notes.append(
        say(
            "pull {} past the conduit end at the machine and leave {} at the reel end for make-up",
            (allowances.pull_slack, "length"),
            (draw.kept, "length"),
        )
    )
    return notes
