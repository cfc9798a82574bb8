"""The reel end: how much cable, on what reel, held how, fed over what."""

from __future__ import annotations

from dataclasses import dataclass

from route3d.checks.limits import NO_BRAKE
from route3d.mechanics.pull import Pull
from route3d.model.allowances import Allowances
from route3d.model.rigging import HEAD_LENGTH
from route3d.model.run import Run
from route3d.phrase import Phrase, say
from route3d.units import GRAVITY


@dataclass(frozen=True, slots=True)
class Feeding:
    """Lengths in m, forces in N, moments in Nm; None where the reel's data are not given.

    ``cable_length`` is of each cable, ``total_length`` of all together; ``pulled_out`` is what
    comes out beyond the conduit at the machine. ``tension`` is the reel tension worked with, of
    all cables together, and ``moment`` what the brakes of all reels hold together at full radius.
    ``set_mass`` kg of the cable itself.
    """

    place: str
    cable_length: float
    total_length: float
    pulled_out: float
    left_over: float
    tension: float
    braked: bool
    moment: float | None
    reel_mass: float | None
    set_mass: float
    notes: tuple[Phrase, ...]


def drawn_out(run: Run, allowances: Allowances) -> float:
    """How far the front of the head comes out of the conduit at the machine, m.

    The cable is drawn out ``pull_slack`` beyond the conduit, and the head is ahead of it; a head
    length that is not given is taken as ``HEAD_LENGTH`` (common practice, no source).
    """
    given = run.rigging.head_length if run.rigging else None
    return allowances.pull_slack + (HEAD_LENGTH if given is None else given)


def feeding(pull: Pull, allowances: Allowances) -> Feeding:
    """The reel end of a pull."""
    run, reel = pull.run, pull.run.reel
    length = pull.path.length + allowances.feed_slack + allowances.pull_slack
    tension, braked = pull.reel_tension, pull.brake > NO_BRAKE
    radius = reel.diameter / 2 if reel and reel.diameter else None
    return Feeding(
        place=pull.feed_name,
        cable_length=length,
        total_length=length * run.cables.count,
        pulled_out=allowances.pull_slack,
        left_over=allowances.feed_slack,
        tension=tension,
        braked=braked,
        moment=None if radius is None else tension * radius,
        reel_mass=reel.mass if reel else None,
        set_mass=run.cables.weight / GRAVITY * length,
        notes=tuple(_notes(pull, allowances, braked)),
    )


def _notes(pull: Pull, allowances: Allowances, braked: bool) -> list[Phrase]:
    """What to see to at the reel (common practice, no source)."""
    notes = [
        say("set the reel in line with the conduit, cable off the top, bending the way it lay"),
    ]
    if braked:
        notes.append(
            say(
                "hold {} back over all reels the whole pull through; try the brake before the "
                "head is over the edge",
                (pull.reel_tension, "force+"),
            )
        )
    else:
        notes.append(say("turn the reel by hand: tension put in here is multiplied by every bend"))
    notes.append(
        say(
            "pull {} out beyond the conduit at the machine and leave {} at the reel end, for "
            "make-up",
            (allowances.pull_slack, "length"),
            (allowances.feed_slack, "length"),
        )
    )
    return notes
