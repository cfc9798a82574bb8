"""The load path from cable to anchor: every link with its load and rating, and the weakest."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field, fields, replace
from typing import Literal

from route3d.checks.limits import Limit, cable_cap, conductor_limit, main_limit
from route3d.mechanics.fit import Fit
from route3d.mechanics.lead_off import lead_off_factor, turn_loads
from route3d.mechanics.pull import Pull
from route3d.model.conduit import Conduit
from route3d.model.machine import Machine
from route3d.model.origin import says
from route3d.model.rigging import LeadOff
from route3d.model.rope import Rope
from route3d.model.run import Run
from route3d.planning.pull_plan.holding import Hold, Holding, holding
from route3d.standards.practice import rope_safety_factor

STALLING = "machine, strongest gear"
"""Name of the link that no load can exceed: the machine stalls at it."""


@dataclass(frozen=True, slots=True)
class Link(Hold):
    """One link: ``load`` N it sees at the worst moment of the pull, ``rating`` N and its source.

    ``at_machine_pull`` is the load it would see if the machine pulled all it can: every link should
    be good for that (common practice). ``part`` of the load path: the cable itself, what holds its
    head, or the line from there to what holds the machine.
    """

    at_machine_pull: float | None = field(default=None, kw_only=True)
    part: Literal["cable", "head", "line"] = field(default="line", kw_only=True)

    @property
    def outdone(self) -> bool:
        """True where the machine can pull more than the link may carry."""
        stalled = self.at_machine_pull
        return self.rating is not None and stalled is not None and stalled > self.rating


@dataclass(frozen=True, slots=True)
class SheaveRadius:
    """A sheave or guide the cable runs over: ``radius`` m or None, the ``least`` radii it needs.

    ``by_sidewall`` m keeps the sidewall limit at ``tension`` N, by the formula of the arrangement;
    ``by_bend`` m is the cable's least bend radius while pulling. ``feeds`` is true at the reel
    end, where the whole length runs over it.
    """

    name: str
    radius: float | None
    tension: float
    by_sidewall: float
    by_bend: float
    feeds: bool = False

    @property
    def least(self) -> float:
        """The larger of the two, m."""
        return max(self.by_sidewall, self.by_bend)

    @property
    def too_small(self) -> bool:
        """True where the radius is given and less than it must be."""
        return self.radius is not None and self.radius < self.least * (1 - 1e-9)


def load_path(
    pull: Pull,
    held: Holding,
    load: float,
    tension: float | None = None,
    out: float = 0.0,
) -> tuple[Link, ...]:
    """Every link from the conductors to what holds the machine, in the order of the load.

    ``load`` N is the largest planned at the machine, lead-off included; ``tension`` N that in the
    cable, by default its peak while it runs; ``out`` m how far the head is drawn out beyond the
    conduit. A head past a lead-off sheave carries the sheave's outgoing tension. ValueError for a
    run without rope or machine.
    """
    run, rope, machine = pull.run, pull.run.rope, pull.run.machine
    if rope is None or machine is None:
        raise ValueError(f"run {run.name} has no rope or no machine: no load path")
    factor = lead_off_factor(run.lead_off, rope.friction)
    full = machine.available_pull
    # at the head the machine's full pull arrives less what the lead-off takes
    at_head = full / factor
    # the largest tension is taken to come while the head is past the sheaves: never too little
    passed = passed_factor(run, out)
    return (
        *_cable_links(
            pull,
            (pull.peak_tension if tension is None else tension) * passed,
            at_head * passed,
        ),
        *_rope_links(rope, load, full),
        *_turn_links(run.lead_off, rope, load / factor, at_head),
        *_machine_links(machine, load),
        *_held_links(pull, held, load, full),
    )


def passed_factor(run: Run, out: float) -> float:
    """Tension at the head over that at the conduit end, the head being ``out`` m beyond it."""
    factor = 1.0
    for turn in run.lead_off:
        if turn.sheave is not None and turn.distance < out:
            factor /= turn.sheave.efficiency
    return factor


def _held_links(pull: Pull, held: Holding, load: float, full: float) -> Iterator[Link]:
    """What holds the machine, at the planned load and, by its own statics, at the full pull."""
    stalled = holding(pull.run, pulling_conduit(pull), full, fitted_for=load)
    for hold, most in zip(held.holds, stalled.holds, strict=True):
        yield Link(
            **({f.name: getattr(hold, f.name) for f in fields(hold)}), at_machine_pull=most.load
        )


def pulling_conduit(pull: Pull) -> Conduit:
    """The conduit at the pulling end."""
    return pull.run.route.conduits[0 if pull.reverse else -1]


def governing(links: tuple[Link, ...]) -> Link | None:
    """The link nearest to its rating, None where no link has one."""
    rated = [link for link in links if not math.isnan(link.ratio)]
    return max(rated, key=lambda link: link.ratio) if rated else None


def _weakest(pull: Pull, first: Limit) -> str:
    """The conductors of the main cables, or the riding cable that reaches its strength first."""
    return "conductors" if first.name == main_limit(pull.run, pull.practice).name else first.name


def _cable_links(pull: Pull, tension: float, at_head: float) -> tuple[Link, ...]:
    run, rigging = pull.run, pull.run.rigging
    conductors, cap = conductor_limit(run, pull.practice), cable_cap(run)
    grip = run.attach == "basket grip"
    given = None if rigging is None else (rigging.grip_rating if grip else rigging.eye_rating)
    name = rigging.name if rigging else ""
    rating, source = cap.value, cap.source
    if given is not None and given < rating:
        rating, source = given, f"given for rigging {name}"
    swivel = rigging.swivel_rating if rigging else None
    swivel_source = "not given" if swivel is None else f"given for rigging {name}"
    return (
        Link(
            _weakest(pull, conductors),
            tension,
            conductors.value,
            conductors.source,
            at_machine_pull=at_head,
            part="cable",
        ),
        Link(
            "basket grip" if grip else "pulling eyes",
            tension,
            rating,
            source,
            at_machine_pull=at_head,
            part="head",
        ),
        Link("swivel", tension, swivel, swivel_source, at_machine_pull=at_head, part="head"),
    )


def _rope_links(rope: Rope, load: float, full: float) -> tuple[Link, ...]:
    links = [
        Link(
            "rope, working load",
            load,
            rope.rated_load,
            says(rope, "rope", "rated_load"),
            at_machine_pull=full,
        )
    ]
    if rope.breaking_strength is not None:
        fact = rope_safety_factor()
        links.append(
            Link(
                f"rope, breaking strength over {fact.value:g}",
                load,
                rope.breaking_strength / fact.value,
                str(fact.source),
                at_machine_pull=full,
            )
        )
    return tuple(links)


def _turn_links(lead_off: Sequence[LeadOff], rope: Rope, mouth: float, full: float) -> list[Link]:
    """Each turn of the lead-off: the resultant on its fastening."""
    links = []
    for number, turn in enumerate(turn_loads(lead_off, rope.friction, mouth), 1):
        stalled = None if mouth <= 0 else turn.resultant * full / mouth
        sheave = turn.turn.sheave
        if sheave is None:
            name, rating, source = "conduit end (rope bears on it)", None, "not given"
        else:
            name, rating = f"sheave {sheave.name}", sheave.rating
            source = f"given for sheave {sheave.name}; load 2T sin(turn/2)"
        if len(lead_off) > 1:
            name += f", turn {number}"
        links.append(Link(name, turn.resultant, rating, source, at_machine_pull=stalled))
    return links


def _machine_links(machine: Machine, load: float) -> list[Link]:
    given, full = says(machine, "machine", "gears"), machine.available_pull
    boom = Link(
        "boom",
        load,
        machine.boom_rating,
        f"given for machine {machine.name}" if machine.boom_rating else "not given",
        at_machine_pull=full,
    )
    return [boom, Link(STALLING, load, full, given, at_machine_pull=full)]


def sheave_radii(pull: Pull, slack: float = math.inf) -> tuple[SheaveRadius, ...]:
    """The feed-in sheave, and the lead-off sheaves the head is pulled over, with what they need.

    ``slack`` m is how far the head is drawn out: a sheave farther off meets rope only.
    """
    run = pull.run
    feed_fit, pull_fit = _end_fits(pull)
    feed = run.reel.sheave_radius if run.reel else None
    found = [
        replace(_radius(run, "feed-in sheave", feed, pull.start_tension, feed_fit), feeds=True)
    ]
    tension = pull.end_tension
    for turn in run.lead_off:
        if turn.sheave is not None and turn.distance < slack:
            name, radius = f"sheave {turn.sheave.name}", turn.sheave.radius
            tension /= turn.sheave.efficiency  # the cable bears on the groove at this, going out
            found.append(_radius(run, name, radius, tension, pull_fit))
    return tuple(found)


def _end_fits(pull: Pull) -> tuple[Fit, Fit]:
    first, last = pull.fits[0], pull.fits[-1]
    return (last, first) if pull.reverse else (first, last)


def _radius(run: Run, name: str, radius: float | None, tension: float, fit: Fit) -> SheaveRadius:
    sidewall = min(c.sidewall_limit for c, _ in run.cables.items)
    bend = max(c.min_bend_radius for c, _ in run.cables.items)
    return SheaveRadius(name, radius, tension, fit.sidewall_factor * tension / sidewall, bend)
