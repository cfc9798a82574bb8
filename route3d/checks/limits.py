"""What a pull may load: conductors, attachment, jacket, rope and machine."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np

from route3d.checks.finding import Finding, at_least, at_most
from route3d.geometry.path import CORNER
from route3d.geometry.vectors import Floats
from route3d.mechanics.pull import Peaks, Pull
from route3d.mechanics.scenarios import ManyPeaks
from route3d.mechanics.sharing import BY_AREA, CableShare, largest_main_share, tension_shares
from route3d.model.cable import Cable
from route3d.model.origin import says
from route3d.model.practice import Practice
from route3d.model.rigging import Sheave
from route3d.model.run import CableSet, Run
from route3d.phrase import literal, say
from route3d.standards import attachments, conductors

NO_BRAKE = 1.0
"""Less than this (N) is not a brake: no reel turns so freely (common practice, no source)."""

# A duct that bends by less than this in a vault is straight for the cable (common practice, no
# source).
_SLIGHT_TURN = np.radians(5.0)
# Less than this is the fall of the ground from one duct to the next, not a turn.
_NO_TURN = np.radians(1.0)


_NAMES = {
    "conductor": "conductor tension",
    "sidewall": "sidewall pressure",
    "rope": "rope load",
    "machine": "machine line pull",
    "sheave": "sheave fastening",
    "head fitting": "fitting at the cable head",
    "line fitting": "fitting in the rope line",
}


def limit_name(limit: str, run: Run, practice: Practice) -> str:
    """What people call a limit: the rule of its finding, and its name on every surface.

    ``limit`` is its key in the results: "conductor", "grip", "sidewall", "rope", "machine",
    "sheave", "head fitting" or "line fitting". Conductors go by the riding cable where one of those
    is the first to reach its strength.

    Parameters
    ----------
    limit : str
        Its key.
    run : Run
        The run, in SI.
    practice : Practice
        Conventions and rules it is worked by.

    Returns
    -------
    str
        Such as "sidewall pressure".
    """
    if limit == "grip":
        return f"{run.attach} load"
    if limit == "conductor":
        return conductor_limit(run, practice).name
    return _NAMES[limit]


@dataclass(frozen=True, slots=True)
class Limit:
    """A load limit in SI and where it comes from; ``name`` of a limit of conductors."""

    value: float
    source: str
    name: str = ""


def conductor_limit(run: Run, practice: Practice) -> Limit:
    """Tension of the whole set at which the first cable reaches its own strength, N.

    Each cable bears its strength over its share of the tension (``mechanics.sharing``): stress
    times metal area, or the maker's own figure. Of main cables, 0.8 of that counts above three
    conductors, or two of three single-conductor cables by that practice; a cable whose maker gives
    its tension counts as one, whatever cores it has. Main cables that share by area stretch alike,
    so the weakest metal sets the stress for all (docs/theory.md section 9; the sharing from
    memory). A riding cable adds no strength, and bears its own drag alone.

    Parameters
    ----------
    run : Run
        The run, in SI.
    practice : Practice
        Conventions and rules it is worked by.

    Returns
    -------
    Limit
        N, with its source.

    References
    ----------
    docs/theory.md sections 9 and 11.
    """
    return min(_cable_limits(run, practice), key=lambda limit: limit.value)


def main_limit(run: Run, practice: Practice) -> Limit:
    """The conductor limit of the main cables alone, N.

    Parameters
    ----------
    run : Run
        The run, in SI.
    practice : Practice
        Conventions and rules it is worked by.

    Returns
    -------
    Limit
        N, with its source.
    """
    return next(iter(_cable_limits(run, practice)))


def rider_limits(run: Run, practice: Practice) -> tuple[tuple[CableShare, Limit], ...]:
    """The share of each riding cable, and the tension (N) that one such cable may carry.

    Parameters
    ----------
    run : Run
        The run, in SI.
    practice : Practice
        Conventions and rules it is worked by.

    Returns
    -------
    tuple of (CableShare, Limit)
        N
    """
    shares = tension_shares(run.cables, run.attach, practice.tension_sharing)
    return tuple(
        (s, replace(_strength(s.cable, practice), name=f"riding cable {s.cable.name}"))
        for s in shares
        if s.rides
    )


def _cable_limits(run: Run, practice: Practice) -> Iterator[Limit]:
    """What the set may be pulled with for its main cables together, then for each riding cable."""
    mains = CableSet(run.cables.mains)
    total = sum((c.conductor.count if c.max_tension is None else 1) * n for c, n in mains.items)
    counted, rule = _counted(total, run, practice)
    stress, source = min((_stress(c, practice) for c, _ in mains.items), key=lambda s: s[0])
    shares = tension_shares(run.cables, run.attach, practice.tension_sharing)
    limits = []
    for share in shares:
        if share.rides:
            continue
        own = _strength(share.cable, practice)
        if share.rule == BY_AREA:
            own = Limit(stress * share.cable.metal_area, source)
        said = own.source
        if len(mains.items) > 1:
            said += f"; {share.cable.name} carries {share.share:.0%} of the pull, {share.rule}"
        said += f"; {rule}" if rule else ""
        limits.append(Limit(own.value * counted / share.share, said))
    yield replace(min(limits, key=lambda limit: limit.value), name=_NAMES["conductor"])
    for rider, own in rider_limits(run, practice):
        said = (
            f"{own.source}; {rider.cable.name} is a riding cable and carries "
            f"{rider.share:.1%} of the pull, {rider.rule}"
        )
        yield Limit(own.value / rider.share, said, own.name)


def _strength(cable: Cable, practice: Practice) -> Limit:
    """Tension one cable may carry, N."""
    stress, source = _stress(cable, practice)
    return Limit(stress * cable.metal_area, source)


def _stress(cable: Cable, practice: Practice) -> tuple[float, str]:
    """Allowable stress of one cable, Pa: the maker's tension or stress, else that of the rules."""
    conductor = cable.conductor
    if cable.max_tension is not None:
        return cable.max_tension / cable.metal_area, "given (max_tension)"
    if conductor.max_stress is not None:
        return conductor.max_stress, "given (max_stress)"
    fact = practice.rule_set.pulling_stress(conductor.metal)
    return fact.value, str(fact.source)


def _counted(total: int, run: Run, practice: Practice) -> tuple[float, str]:
    """Which share of the strength of all main conductors counts, and by whose rule."""
    singles = all(c.conductor.count == 1 for c, _ in run.cables.mains)
    if practice.strength_count == "two of three" and total == 3 and singles:
        fact = conductors.counted_conductors(3, "two of three")
        return fact.value / total, f"three singles count as two: {fact.source}"
    loose = singles and run.attach == "basket grip" and run.arrangement != "triplexed"
    fact = practice.rule_set.counted_share(total, loose)
    return fact.value, "" if fact.value == 1 else str(fact.source)


def grip_limit(run: Run) -> Limit:
    """Tension the attachment of the set may carry, N: one basket grip, or pulling eyes.

    The smallest of the cap that protects the cable and the ratings of the fittings in hand: a grip,
    an eye or a swivel that is stronger does not make the cable stronger.

    Parameters
    ----------
    run : Run
        The run, in SI.

    Returns
    -------
    Limit
        N, with its source.

    References
    ----------
    docs/theory.md section 11.
    """
    caps = [cable_cap(run), *fitting_ratings(run)]
    return min(caps, key=lambda limit: limit.value)


def cable_cap(run: Run) -> Limit:
    """What protects the cable at its attachment, N: the published cap, or the cable maker's own.

    Only a figure of the cable maker replaces the published one (``max_grip_tension`` or
    ``max_eye_tension``), and only where all cables that the attachment holds have one.

    Parameters
    ----------
    run : Run
        The run, in SI.

    Returns
    -------
    Limit
        N, with its source.

    References
    ----------
    docs/theory.md section 11.
    """
    grip = run.attach == "basket grip"
    held = run.cables.items if grip else run.cables.mains
    key = "max_grip_tension" if grip else "max_eye_tension"
    given = [(value, c.name) for c, _ in held if (value := getattr(c, key)) is not None]
    if len(given) == len(held):
        value, name = min(given)
        return Limit(value, f"given by the maker of cable {name} ({key})")
    fact = attachments.grip_limit() if grip else attachments.device_limit()
    return Limit(fact.value, str(fact.source))


def fitting_ratings(run: Run) -> tuple[Limit, ...]:
    """The ratings given for the fittings at the head, grip or eyes and swivel, N.

    Parameters
    ----------
    run : Run
        The run, in SI.

    Returns
    -------
    tuple of Limit
        N
    """
    rigging = run.rigging
    if rigging is None:
        return ()
    grip = run.attach == "basket grip"
    own = rigging.grip_rating if grip else rigging.eye_rating
    named = (("basket grip" if grip else "pulling eyes", own), ("swivel", rigging.swivel_rating))
    return tuple(
        Limit(rating, f"given for rigging {rigging.name}, {name}")
        for name, rating in named
        if rating is not None
    )


def sidewall_limit(run: Run) -> Limit:
    """Smallest sidewall pressure limit of the set, N/m, on the pressure of its main cables.

    A riding cable presses with its own share of the tension: its limit counts in proportion to the
    smallest pressure a main cable can have.

    Parameters
    ----------
    run : Run
        The run, in SI.

    Returns
    -------
    Limit
        N/m, with its source.

    References
    ----------
    docs/theory.md section 10.
    """
    limits = [
        Limit(cable.sidewall_limit, says(cable, "cable", "sidewall_limit"))
        for cable, _ in run.cables.mains
    ]
    most = largest_main_share(run.cables)
    limits += [
        Limit(
            s.cable.sidewall_limit * most / s.share,
            f"{says(s.cable, 'cable', 'sidewall_limit')}, a riding cable with {s.share:.1%} of "
            "the pull",
        )
        for s in tension_shares(run.cables, run.attach)
        if s.rides
    ]
    return min(limits, key=lambda limit: limit.value)


@dataclass(frozen=True, slots=True)
class Utilization:
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
        most = max(self.conductor, self.grip, self.sidewall)
        return max(most, self.rope or 0.0, self.machine or 0.0)


@dataclass(frozen=True, slots=True)
class Rated:
    """Every limit of a run that a load is held against; None where it names no rope or machine."""

    conductor: float
    grip: float
    sidewall: float
    rope: float | None
    machine: float | None

    @classmethod
    def of(cls, run: Run, practice: Practice) -> Rated:
        """The limits of a run, as equipped for one direction."""
        return cls(
            conductor_limit(run, practice).value,
            grip_limit(run).value,
            sidewall_limit(run).value,
            None if run.rope is None else run.rope.rated_load,
            None if run.machine is None else run.machine.available_pull,
        )

    def utilization(self, peaks: Peaks) -> Utilization:
        """Share of each limit that these largest loads take."""
        machine = peaks.tension_at_end if peaks.machine is None else peaks.machine
        no_rope = self.rope is None or peaks.machine is None
        return Utilization(
            conductor=peaks.tension / self.conductor,
            grip=peaks.tension / self.grip,
            sidewall=peaks.sidewall / self.sidewall,
            rope=None if no_rope else machine / (self.rope or math.inf),
            machine=None if self.machine is None else machine / self.machine,
        )

    def utilizations(self, peaks: ManyPeaks) -> dict[str, Floats]:
        """Share of each limit by its name, (k,) each; without those of no rope or machine."""
        machine = peaks.tension_at_end if peaks.machine is None else peaks.machine
        found = {
            "conductor": peaks.tension / self.conductor,
            "grip": peaks.tension / self.grip,
            "sidewall": peaks.sidewall / self.sidewall,
        }
        if self.rope is not None and peaks.machine is not None:
            found["rope"] = machine / self.rope
        if self.machine is not None:
            found["machine"] = machine / self.machine
        return found


def utilization(pull: Pull) -> Utilization:
    """Share of each limit that one pull takes.

    Parameters
    ----------
    pull : Pull
        One direction, solved.

    Returns
    -------
    Utilization
        1 is the limit.
    """
    return Rated.of(pull.run, pull.practice).utilization(pull.peaks)


def check_loads(pull: Pull) -> tuple[Finding, ...]:
    """Conductor, attachment, rope and machine load of one pull.

    Parameters
    ----------
    pull : Pull
        One direction, solved.

    Returns
    -------
    tuple of Finding
        One for each limit.

    References
    ----------
    docs/theory.md section 11.
    """
    run, profile = pull.run, pull.profile
    peak = int(np.argmax(profile.tension))
    where, station = pull_place(pull, peak), float(profile.station[peak])
    conductor, grip = main_limit(run, pull.practice), grip_limit(run)
    lower = say("reduce the tension")
    grips = run.attach == "basket grip"
    other = say("use pulling eyes on the conductors instead of a basket grip") if grips else lower
    findings = [
        at_most(
            conductor.name,
            where,
            pull.peak_tension,
            conductor.value,
            "force",
            lower,
            conductor.source,
            station=station,
        ),
        at_most(
            limit_name("grip", run, pull.practice),
            where,
            pull.peak_tension,
            grip.value,
            "force",
            other,
            grip.source,
            station=station,
        ),
    ]
    return (*findings, *_check_riders(pull, where, station), *_check_machine(pull))


def _check_riders(pull: Pull, where: str, station: float) -> Iterator[Finding]:
    """Each riding cable by its own drag against its own strength."""
    for share, limit in rider_limits(pull.run, pull.practice):
        fix = say(
            literal(share.cable.name)
            + f" carries {share.share:.1%} of the pull, {share.rule}: pull it in its own "
            "conduit, or use a larger cable"
        )
        demand = share.share * pull.peak_tension
        yield at_most(
            limit.name, where, demand, limit.value, "force", fix, limit.source, station=station
        )


def _check_machine(pull: Pull) -> list[Finding]:
    """Rope and machine; without a rope the machine is held against the end tension at least."""
    run, load = pull.run, pull.machine_least
    nan = float("nan")
    at, findings = pull.machine_peak_head, []
    if at is None:
        where = f"{run.name}, {pull.pull_name}"
        missing = say(
            "assign a rope to the run: without the rope's drag the machine load is only a "
            "lower bound"
        )
        findings = [
            Finding("machine load", "note", run.name, load, nan, "force", missing, "end tension")
        ]
    else:
        where = f"{run.name}, head at station {{}}"
    if run.rope is not None:
        stronger = say("use a rope with a higher working load")
        given = says(run.rope, "rope", "rated_load")
        rated = run.rope.rated_load
        findings.append(
            at_most(_NAMES["rope"], where, load, rated, "force", stronger, given, station=at)
        )
    if run.machine is not None:
        stronger = say("use a machine with a higher line pull, or reduce the tension")
        given = says(run.machine, "machine", "gears")
        pull_limit = run.machine.available_pull
        findings.append(
            at_most(
                _NAMES["machine"], where, load, pull_limit, "force", stronger, given, station=at
            )
        )
    return findings


def check_sidewall(pull: Pull) -> tuple[Finding, ...]:
    """Sidewall pressure at the worst place of every bend.

    Parameters
    ----------
    pull : Pull
        One direction, solved.

    Returns
    -------
    tuple of Finding
        Bend by bend.

    References
    ----------
    docs/theory.md section 10.
    """
    profile, limit = pull.profile, sidewall_limit(pull.run)
    findings = []
    for number, segment in enumerate(np.flatnonzero(pull.path.kind == 1), start=1):
        worst = int(pull.worst_rows[segment])
        demand = float(profile.sidewall[worst])
        findings.append(
            at_most(
                _NAMES["sidewall"],
                pull.run.route.bend_label(number, int(pull.path.vertex[segment])),
                demand,
                limit.value,
                "sidewall",
                say("reduce the tension here, or increase the bend radius"),
                limit.source,
                station=float(profile.station[worst]),
            )
        )
    return tuple(findings)


def pull_place(pull: Pull, row: int) -> str:
    """Where a profile row lies, in words: an end, a bend, or a straight.

    Parameters
    ----------
    pull : Pull
        One direction, solved.
    row : int
        Row of the profile.

    Returns
    -------
    str
    """
    if row == len(pull.profile.station) - 1:
        return pull.pull_name
    if row == 0:
        return pull.feed_name
    segment = int(pull.profile.segment[row])
    if pull.path.kind[segment] == CORNER:
        return pull.run.route.label(int(pull.path.vertex[segment]))
    if pull.path.kind[segment] != 1:
        return f"{pull.run.name}, station {{}}"
    number = int(np.count_nonzero(pull.path.kind[: segment + 1] == 1))
    return pull.run.route.bend_label(number, int(pull.path.vertex[segment]))


def check_slack(pull: Pull) -> tuple[Finding, ...]:
    """Where the cable overruns with the reel tension that is given.

    Parameters
    ----------
    pull : Pull
        One direction, solved.

    Returns
    -------
    tuple of Finding
        Empty where the cable stays taut.

    References
    ----------
    docs/theory.md section 6.
    """
    if pull.brake <= pull.reel_tension + NO_BRAKE:
        return ()
    fix = say("brake the reels: at least {} total", (pull.brake, "force+"))
    # A brake that is little too small leaves a stretch shorter than the places looked at.
    station = pull.slack[0][0] if pull.slack else None
    if pull.slack:
        start, end = pull.slack[0]
        fix += say(": slack cable from station {} to {}", (start, "length"), (end, "length"))
    return (
        at_least(
            "slack cable",
            pull.feed_name,
            pull.reel_tension,
            pull.brake,
            "force",
            fix,
            "statics: a cable carries no compression",
            station=station,
        ),
    )


def check_corners(pull: Pull) -> tuple[Finding, ...]:
    """A pull straight through a pull point that turns: the cable needs a sheave to go round.

    Without one it is a stop; with one its sidewall pressure, bend radius and fastening are checked.

    Parameters
    ----------
    pull : Pull
        One direction, solved.

    Returns
    -------
    tuple of Finding
        Turn by turn.
    """
    findings: list[Finding] = []
    for segment in np.flatnonzero(pull.path.kind == CORNER).tolist():
        vertex = int(pull.path.vertex[segment])
        turn = float(pull.path.angles[segment])
        if turn <= _NO_TURN:
            continue
        sheave = pull.run.route.vertices[vertex].sheave
        if sheave is not None:
            findings += _check_sheave(pull, segment, sheave)
            continue
        findings.append(
            Finding(
                "turn at a pull point",
                "stop" if turn > _SLIGHT_TURN else "note",
                pull.run.route.label(vertex),
                turn,
                float("nan"),
                "angle",
                say(
                    "split the run here, or guide the cables around a sheave and enter its "
                    'radius (`sheave = "..."` at this point of the route)'
                ),
                "common practice, no source",
                station=float(pull.path.stations[segment]),
            )
        )
    return tuple(findings)


def turn_stops(run: Run, vertex: int, turn: float, tension: float, load: float) -> bool:
    """Whether a pull straight through a pull point that turns by ``turn`` rad is a stop.

    ``tension`` N is the largest of the cable there and ``load`` N the largest on the machine.
    Sidewall pressure on a sheave is left to the largest of the whole pull.

    Parameters
    ----------
    run : Run
        The run, in SI.
    vertex : int
        Its number.
    turn : float
        rad
    tension, load : float
        N

    Returns
    -------
    bool
    """
    sheave = run.route.vertices[vertex].sheave
    if sheave is None:
        return bool(turn > _SLIGHT_TURN)
    bend = max(c.min_bend_radius for c, _ in run.cables.items)
    held = 2.0 * max(tension, load) * math.sin(turn / 2.0)
    too_small, too_weak = sheave.radius < bend * (1 - 1e-9), held > sheave.rating * (1 + 1e-9)
    return bool(turn > _NO_TURN and (too_small or too_weak))


def guided_turns(pull: Pull) -> Iterator[tuple[int, Sheave, float, float]]:
    """Vertex, sheave, turn rad and force N on its fastening, of each pull point guided by one.

    Parameters
    ----------
    pull : Pull
        One direction, solved.

    Returns
    -------
    iterator of (int, Sheave, float, float)
        rad and N
    """
    for segment in np.flatnonzero(pull.path.kind == CORNER).tolist():
        vertex, turn = int(pull.path.vertex[segment]), float(pull.path.angles[segment])
        sheave = pull.run.route.vertices[vertex].sheave
        if sheave is not None and turn > _NO_TURN:
            yield vertex, sheave, turn, _fastening(pull, segment)


def _fastening(pull: Pull, segment: int) -> float:
    """Load on the fastening of the sheave at a corner, 2T sin(turn/2), N.

    With the head past the sheave the cable loads it; before that the rope does, with no more than
    the largest load on the machine where the rope does not fall behind it.
    """
    loads = [float(pull.profile.tension[pull.profile.segment == segment].max())]
    if pull.machine_peak is not None:
        loads.append(pull.machine_least)
    return 2.0 * max(loads) * math.sin(float(pull.path.angles[segment]) / 2.0)


def _check_sheave(pull: Pull, segment: int, sheave: Sheave) -> Iterator[Finding]:
    """Sidewall pressure, bend radius and fastening of a sheave that guides the cables."""
    vertex = int(pull.path.vertex[segment])
    where, station = pull.run.route.label(vertex), float(pull.path.stations[segment])
    worst = int(pull.worst_rows[segment])
    pressure, limit = float(pull.profile.sidewall[worst]), sidewall_limit(pull.run)
    radius = sheave.radius
    yield at_most(
        "sidewall pressure on a sheave",
        where,
        pressure,
        limit.value,
        "sidewall",
        say(
            "use a sheave with a radius of at least {}",
            (radius * pressure / limit.value, "radius+"),
        ),
        limit.source,
        station=station,
    )
    cable = max((c for c, _ in pull.run.cables.items), key=lambda c: c.min_bend_radius)
    yield at_least(
        "cable bend radius on a sheave",
        where,
        radius,
        cable.min_bend_radius,
        "radius",
        say("use a sheave with a radius of at least {}", (cable.min_bend_radius, "radius+")),
        f"given: {cable.bend_multiple:g} x the diameter of {cable.name}",
        station=station,
    )
    yield at_most(
        f"{_NAMES['sheave']} {sheave.name}",
        where,
        _fastening(pull, segment),
        sheave.rating,
        "force",
        say(
            "rate the sheave fastening for this load; anchor it on the inside of the turn, "
            "midway between the two conduits"
            + (f"; held by {literal(sheave.held_by)}" if sheave.held_by else "")
        ),
        f"given for sheave {sheave.name}; load 2T sin(turn/2)",
        station=station,
    )
