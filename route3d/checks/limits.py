"""What a pull may load: conductors, attachment, jacket, rope and machine."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from route3d.checks.finding import Finding, at_least, at_most
from route3d.mechanics.pull import Pull
from route3d.model.cable import Cable
from route3d.model.practice import Practice
from route3d.model.run import Run
from route3d.phrase import Phrase, say
from route3d.standards import attachments, conductors

NO_BRAKE = 1.0
"""Less than this (N) is no brake: no reel turns so freely (common practice, no source)."""

# A duct that bends by less than this in a vault is straight for the cable (common practice, no
# source).
_SLIGHT_TURN = np.radians(5.0)
# Less than this is the fall of the ground from one duct to the next, not a turn.
_NO_TURN = np.radians(1.0)


@dataclass(frozen=True, slots=True)
class Limit:
    """A load limit in SI and where it comes from."""

    value: float
    source: str


def conductor_limit(run: Run, practice: Practice) -> Limit:
    """Tension the conductors of the whole set may carry, N.

    Allowable stress times metal area, all conductors together: 0.8 of the sum above three
    conductors, or two of three single-conductor cables by that practice. A cable whose maker gives
    its tension counts as one, whatever cores it has. Cables of different metal or size share the
    pull by area, so the weakest metal sets the stress for all (equations.md section 4.2; the
    sharing from memory).
    """
    items = run.cables.items
    stress, source = min((_stress(c) for c, _ in items), key=lambda s: s[0])
    area = sum(c.conductor.area * c.conductor.count * n for c, n in items)
    total = sum((c.conductor.count if c.max_tension is None else 1) * n for c, n in items)
    counted, rule = _counted(total, run, practice)
    return Limit(stress * area * counted, "; ".join(s for s in (source, rule) if s))


def _stress(cable: Cable) -> tuple[float, str]:
    """Allowable stress of one cable, Pa: the maker's tension or stress where given."""
    conductor = cable.conductor
    if cable.max_tension is not None:
        return cable.max_tension / (conductor.area * conductor.count), "given (max_tension)"
    if conductor.max_stress is not None:
        return conductor.max_stress, "given (max_stress)"
    fact = conductors.max_stress(conductor.metal)
    return fact.value, str(fact.source)


def _counted(total: int, run: Run, practice: Practice) -> tuple[float, str]:
    singles = all(c.conductor.count == 1 for c, _ in run.cables.items)
    if practice.strength_count == "two of three" and total == 3 and singles:
        fact = conductors.counted_conductors(3, "two of three")
        return fact.value / total, f"three singles count as two: {fact.source}"
    fact = conductors.group_factor(total)
    return fact.value, "" if fact.value == 1 else str(fact.source)


def grip_limit(run: Run) -> Limit:
    """Tension the attachment of the set may carry, N: one basket grip, or pulling eyes.

    The ratings given for the fittings in hand, grip or eyes and swivel, come before the published
    cap; the least of them counts.
    """
    grip = run.attach == "basket grip"
    if run.rigging is not None:
        own = run.rigging.grip_rating if grip else run.rigging.eye_rating
        given = f"given for rigging {run.rigging.name}"
        rated = [
            Limit(rating, f"{given}, {name}")
            for name, rating in (
                ("basket grip" if grip else "pulling eyes", own),
                ("swivel", run.rigging.swivel_rating),
            )
            if rating is not None
        ]
        least = min(rated, key=lambda limit: limit.value, default=None)
        if own is not None and least is not None:
            return least
        cap = published_grip_limit(run)
        return cap if least is None or cap.value < least.value else least
    return published_grip_limit(run)


def published_grip_limit(run: Run) -> Limit:
    """The published cap of one basket grip, or of pulling eyes, N."""
    fact = attachments.grip_limit() if run.attach == "basket grip" else attachments.device_limit()
    return Limit(fact.value, str(fact.source))


def sidewall_limit(run: Run) -> Limit:
    """Smallest sidewall pressure limit of the set, N/m."""
    cable = min((c for c, _ in run.cables.items), key=lambda c: c.sidewall_limit)
    return Limit(cable.sidewall_limit, f"given for cable {cable.name}")


@dataclass(frozen=True, slots=True)
class Utilisation:
    """Share of each limit that a pull takes; None where the run names no rope or machine."""

    conductor: float
    grip: float
    sidewall: float
    rope: float | None
    machine: float | None

    def items(self) -> tuple[tuple[str, float | None], ...]:
        """Name and share of every limit."""
        return tuple((name, getattr(self, name)) for name in self.__slots__)

    @property
    def governing(self) -> str:
        """The limit with the largest share."""
        return max(self.items(), key=lambda item: -1.0 if item[1] is None else item[1])[0]

    @property
    def peak(self) -> float:
        """The largest share."""
        return max(share for _, share in self.items() if share is not None)


def utilisation(pull: Pull) -> Utilisation:
    """Share of each limit that one pull takes."""
    run, load = pull.run, pull.machine_peak
    return Utilisation(
        conductor=pull.peak_tension / conductor_limit(run, pull.practice).value,
        grip=pull.peak_tension / grip_limit(run).value,
        sidewall=pull.peak_sidewall / sidewall_limit(run).value,
        rope=None if load is None or run.rope is None else load / run.rope.rated_load,
        machine=None if run.machine is None else pull.machine_least / run.machine.available_pull,
    )


def check_loads(pull: Pull) -> tuple[Finding, ...]:
    """Conductor, attachment, rope and machine load of one pull."""
    run, profile = pull.run, pull.profile
    peak = int(np.argmax(profile.tension))
    where, station = pull_place(pull, peak), float(profile.station[peak])
    conductor, grip = conductor_limit(run, pull.practice), grip_limit(run)
    eyes = "basket grip" if run.attach == "basket grip" else "pulling eyes"
    lower = say("lower the tension: feed from the other end, lubricate, or split the run")
    other = say("pull on conductor eyes instead of a grip") if eyes == "basket grip" else lower
    findings = [
        at_most(
            "conductor tension",
            where,
            pull.peak_tension,
            conductor.value,
            "force",
            lower,
            conductor.source,
            station=station,
        ),
        at_most(
            f"{eyes} load",
            where,
            pull.peak_tension,
            grip.value,
            "force",
            other,
            grip.source,
            station=station,
        ),
    ]
    return (*findings, *_check_machine(pull))


def _check_machine(pull: Pull) -> list[Finding]:
    """Rope and machine; without a rope the machine is held against the end tension at least."""
    run, load = pull.run, pull.machine_least
    nan = float("nan")
    at, findings = pull.machine_peak_head, []
    if at is None:
        where = f"{run.name}, {pull.pull_name}"
        missing = say(
            "name a rope in the run: without its drag the machine's load is a least value"
        )
        findings = [
            Finding("machine load", "note", run.name, load, nan, "force", missing, "end tension")
        ]
    else:
        where = f"{run.name}, head at station {{}}"
    if run.rope is not None:
        stronger = say("take a rope of a higher working load")
        given = f"given for rope {run.rope.name}"
        rated = run.rope.rated_load
        findings.append(
            at_most("rope load", where, load, rated, "force", stronger, given, station=at)
        )
    if run.machine is not None:
        stronger = say("take a machine of a higher line pull, or lower the tension")
        given = f"given for machine {run.machine.name}"
        pull_limit = run.machine.available_pull
        findings.append(
            at_most(
                "machine line pull", where, load, pull_limit, "force", stronger, given, station=at
            )
        )
    return findings


def check_sidewall(pull: Pull) -> tuple[Finding, ...]:
    """Sidewall pressure at the worst place of every bend, with the radius that would pass."""
    profile, limit = pull.profile, sidewall_limit(pull.run)
    findings = []
    for number, segment in enumerate(np.flatnonzero(pull.path.kind == 1), start=1):
        worst = int(pull.worst_rows[segment])
        demand = float(profile.sidewall[worst])
        radius = float(pull.path.radii[segment])
        findings.append(
            at_most(
                "sidewall pressure",
                pull.run.route.bend_label(number, int(pull.path.vertex[segment])),
                demand,
                limit.value,
                "sidewall",
                _sidewall_fix(demand, limit.value, radius),
                limit.source,
                station=float(profile.station[worst]),
            )
        )
    return tuple(findings)


def _sidewall_fix(demand: float, limit: float, radius: float) -> Phrase:
    """A first radius: pressure goes with 1/R while tension hardly changes; re-solved later."""
    return say(
        "about {} of bend radius instead of {}, or less tension",
        (radius * demand / limit, "radius"),
        (radius, "radius"),
    )


def pull_place(pull: Pull, row: int) -> str:
    """Where a profile row lies, in words: an end, a bend, or a straight."""
    if row == len(pull.profile.station) - 1:
        return pull.pull_name
    if row == 0:
        return pull.feed_name
    segment = int(pull.profile.segment[row])
    if pull.path.kind[segment] != 1:
        return f"{pull.run.name}, station {{}}"
    number = int(np.count_nonzero(pull.path.kind[: segment + 1] == 1))
    return pull.run.route.bend_label(number, int(pull.path.vertex[segment]))


def check_slack(pull: Pull) -> tuple[Finding, ...]:
    """Brake at the reel, and where the cable would overrun without it."""
    given, nan = "the rule T >= 0 everywhere along the cable", float("nan")
    if pull.slack and pull.brake > pull.reel_tension + NO_BRAKE:
        start, end = pull.slack[0]
        fix = say(
            "brake the reel to at least {}: the cable overruns from station {} to {}",
            (pull.brake, "force+"),
            (start, "length"),
            (end, "length"),
        )
        return (
            at_least(
                "reel brake",
                pull.feed_name,
                pull.reel_tension,
                pull.brake,
                "force",
                fix + _slippery(pull),
                given,
                station=start,
            ),
        )
    if pull.brake <= NO_BRAKE:
        return ()
    fix = say(
        "hold the cables back with at least {} in all, over all reels, the whole pull through",
        (pull.brake, "force+"),
    )
    fix += _slippery(pull) + say("; keep people off the line of the cable below")
    return (Finding("reel brake", "caution", pull.feed_name, pull.brake, nan, "force", fix, given),)


def _slippery(pull: Pull) -> Phrase:
    """A brake works against gravity, and friction helps it: less friction asks for more brake."""
    return say(
        "; the better the lubricant the more it takes, up to {} without any friction",
        (pull.brake_without_friction, "force+"),
    )


def check_corners(pull: Pull) -> tuple[Finding, ...]:
    """A pull straight through a pull point that turns: the cable has nothing to go round."""
    findings = []
    for segment in np.flatnonzero(pull.path.kind == 2):
        vertex = int(pull.path.vertex[segment])
        turn = float(pull.path.angles[segment])
        if turn <= _NO_TURN:
            continue
        findings.append(
            Finding(
                "turn at a pull point",
                "caution" if turn > _SLIGHT_TURN else "note",
                pull.run.route.label(vertex),
                turn,
                float("nan"),
                "angle",
                say(
                    "split the run here, or guide the cable round a sheave of a radius that "
                    "keeps to the sidewall limit; its pressure is not worked out"
                ),
                "common practice, no source",
                station=float(pull.path.stations[segment]),
            )
        )
    return tuple(findings)
