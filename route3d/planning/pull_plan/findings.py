"""What of a plan breaks a limit, comes near to one, or asks for care."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from itertools import pairwise

import numpy as np

from route3d.checks.finding import CLOSE, Finding, in_words
from route3d.mechanics.pull import Pull
from route3d.model.machine import Machine
from route3d.model.origin import says
from route3d.phrase import Phrase, literal, say
from route3d.planning.placement.search import PlacementSearch
from route3d.planning.pull_plan.feeding import Feeding
from route3d.planning.pull_plan.gears import TRUE_GAUGE_SHARE, TRUE_GAUGE_TIME, GearPlan
from route3d.planning.pull_plan.head_history import HeadHistory
from route3d.planning.pull_plan.load_path import Link, SheaveRadius
from route3d.planning.pull_plan.schedule import Pace
from route3d.planning.pull_plan.stops import FIRST_MOVE, MOST_STOPS, SAFE_SHARE, Hanging
from route3d.units import GRAVITY


def gear_findings(gears: GearPlan, pull: Pull, machine: Machine, peak: float) -> Iterator[Finding]:
    """Where no gear holds, or one works beyond its margin; ``peak`` N is the largest planned."""
    source = says(machine, "machine", "gears")
    over = gears.overload
    if over is not None:
        fix = say("use a stronger machine, or reduce the tension")
        rule = "restart in the strongest gear" if over.restart else "strongest gear"
        load, at = (over.load, over.station)
        if not over.restart:  # the demand belongs to its own place: the largest load from there on
            load, at = over.largest, over.largest_station
            fix = (
                say(
                    "no gear is strong enough from {} of cable in, where the load reaches {}; ",
                    (over.pulled, "length"),
                    (over.load, "force"),
                )
                + fix
            )
        where, ratio = f"{pull.run.name}, head at station {{}}", load / over.limit
        yield Finding(rule, "stop", where, load, over.limit, "force", fix, source, at, ratio)
    elif not gears.margin_kept:
        yield _margin_finding(gears, pull, machine, peak)


def _margin_finding(gears: GearPlan, pull: Pull, machine: Machine, peak: float) -> Finding:
    """The span, or the first move after a stop, that leaves a gear least to spare."""
    efficiency = machine.efficiency
    used = [(s.peak_load, s.gear.line_pull * efficiency) for s in gears.spans]
    used += [(c.restart_load, c.to_gear.line_pull * efficiency) for c in gears.changes]
    used.append((peak, machine.available_pull))
    load, limit = max(used, key=lambda u: u[0] / u[1])
    fix = say("a gear exceeds its margin: watch the gauge, or reduce the tension")
    return Finding(
        "gear margin",
        "caution",
        pull.run.name,
        load,
        limit,
        "force",
        fix,
        says(machine, "machine", "gears"),
        None,
        load / limit,
    )


def least_load_findings(course: HeadHistory, pull: Pull, machine: Machine) -> Iterator[Finding]:
    """A caution naming the stretches of cable in on which the machine has too little to hold.

    Loads go straight from one head of ``course`` to the next, so the ends of a stretch are exact.
    """
    stretches = _below(course, machine.min_load)
    if not stretches:
        return
    parts = ", ".join("{} to {}" for _ in stretches)
    ends = tuple((at, "length") for stretch in stretches for at in stretch)
    least = float(course.load.min())
    yield Finding(
        "machine minimum load",
        "caution",
        f"{pull.run.name}, {pull.pull_name}",
        least,
        machine.min_load,
        "force",
        say(
            f"from {parts} of cable in the load is below what the machine can hold steadily: "
            "brake the reels harder, or use a hand winch there",
            *ends,
        ),
        f"given for machine {machine.name}",
        None,
        machine.min_load / least if least > 0 else math.inf,
    )


def _below(course: HeadHistory, least: float) -> tuple[tuple[float, float], ...]:
    """The stretches of cable in (m) on which the load is below ``least`` N, apart or merged."""
    pulled, load = course.pulled, course.load
    found: list[tuple[float, float]] = []
    limit = least * (1 - 1e-9)
    for (a, b), (low, high) in zip(pairwise(pulled.tolist()), pairwise(load.tolist()), strict=True):
        if min(low, high) >= limit:
            continue
        cross = a + (b - a) * (least - low) / (high - low) if high != low else b
        first, last = (a if low < limit else cross), (b if high < limit else cross)
        if found and first <= found[-1][1] + 1e-9:
            first = found.pop()[0]
        found.append((first, last))
    return tuple(found)


def start_findings(pull: Pull, going: Pace) -> Iterator[Finding]:
    """Planned first moves that break a limit, and lubricant stops that had to be left out."""
    course = going.history
    source = f"friction x {pull.practice.restart:g} at a restart, given in practice"
    worst, at = going.worst_start
    if worst > 1 + 1e-9:
        yield Finding(
            "first move",
            "stop",
            f"{pull.run.name}, head at station {{}}",
            worst,
            1.0,
            "percent",
            say("a planned start here exceeds a limit: move the stop, or reduce the tension"),
            source,
            float(np.interp(at, course.pulled, course.station)),
            worst,
        )
    yield from _unsafe_findings(pull, going)
    yield from _many_stops(pull, going)


def _unsafe_findings(pull: Pull, going: Pace) -> Iterator[Finding]:
    """Stops that were wanted and have no safe place before them."""
    rule = "no safe place to stop"
    source = (
        f"friction x {pull.practice.restart:g} over the first {FIRST_MOVE:g} m, at most "
        f"{SAFE_SHARE:.0%} of every limit, head clear of bends; common practice, no source"
    )
    if going.stops.left_out:
        places = tuple((wanted, "length") for wanted in going.stops.left_out)
        marks = ", ".join("{}" for _ in places)
        fix = say(
            f"no safe place for a lubricant stop before {marks} of cable in, counted from the "
            "previous stop: do not stop there; apply all lubricant before it",
            *places,
        )
        yield in_words(rule, "caution", pull.run.name, fix, source)
    change = going.unsafe_change
    if change is not None:
        fix = say(
            "no safe place to change gear before {} of cable in: pull the whole length in one gear",
            (change.pulled, "length"),
        )
        yield in_words(rule, "caution", pull.run.name, fix, source)


def _many_stops(pull: Pull, going: Pace) -> Iterator[Finding]:
    """So many stops for lubricant that the interval is doubted; each is a restart."""
    count = len(going.stops.stops) + len(going.stops.left_out)
    if count <= MOST_STOPS:
        return
    fix = say(
        f"{count} lubricant stops planned, and each is a restart: check lubricant_interval; "
        f"with at least {{}} there are at most {MOST_STOPS}",
        (pull.path.length / (MOST_STOPS + 1), "length+"),
    )
    yield Finding(
        "number of stops",
        "caution",
        pull.run.name,
        count,
        MOST_STOPS,
        "ratio",
        fix,
        "common practice, no source",
        None,
        count / MOST_STOPS,
    )


def hanging_findings(pull: Pull, hanging: Sequence[Hanging]) -> Iterator[Finding]:
    """Planned stops where the cable must be held or slides, equal ones together."""
    alike: dict[tuple[float, float], list[Hanging]] = {}
    for stop in hanging:
        alike.setdefault((round(stop.feed, 3), round(stop.head, 3)), []).append(stop)
    for stops in alike.values():
        marks = ", ".join("{}" for _ in stops)
        at = say(f"with {marks} of cable in: ", *((stop.pulled, "length") for stop in stops))
        yield Finding(
            "cable hangs at a planned stop",
            "caution",
            f"{pull.run.name}, head at station {{}}",
            max(stops[0].feed, stops[0].head),
            math.nan,
            "force",
            at + hold_words(stops[0]),
            "statics without friction",
            stops[0].station,
        )


def hold_words(stop: Hanging) -> Phrase:
    """What must be held at a planned stop, and by what."""
    parts = []
    if stop.feed:
        parts.append(
            say(
                "set the brake before stopping, at least {} total at the reels",
                (stop.feed, "force+"),
            )
        )
    if stop.head:
        parts.append(
            say(
                "lock the machine and do not slack the rope: it must hold at least {} at the "
                "cable head",
                (stop.head, "force+"),
            )
        )
    return parts[0] if len(parts) == 1 else parts[0] + say("; ") + parts[1]


def gauge_findings(gears: GearPlan, pull: Pull) -> Iterator[Finding]:
    """Stretches that are pulled without a gauge that reads true."""
    if not gears.blind:
        return
    fix = say(
        "the gauge is not accurate over {} of this pull: install a dynamometer in the line",
        (gears.blind, "length"),
    )
    if gears.true_gauge is None:
        fix += say("; gears with an accurate gauge cannot make the whole pull")
    else:
        fix += say(
            ", or use only gears with an accurate gauge: {} longer, more than this plan "
            "accepts for it ({} of the pulling time or {}, whichever is more; own judgment, "
            "no source)",
            (gears.true_gauge, "time"),
            (TRUE_GAUGE_SHARE, "percent"),
            (TRUE_GAUGE_TIME, "time"),
        )
    given = "given for the machine's gears"
    yield in_words("gauge not accurate", "caution", pull.run.name, fix, given)


def link_findings(links: Sequence[Link], pull: Pull) -> Iterator[Finding]:
    """Links beyond their rating, near it, or weaker than what the machine can pull."""
    outdone = [link for link in links if link.outdone and not link.ratio > CLOSE]
    for link in links:
        if math.isnan(link.ratio) or link.ratio <= CLOSE:
            continue
        severity = "stop" if link.ratio > 1 + 1e-9 else "caution"
        rating = math.nan if link.rating is None else link.rating
        fix = say("use a stronger one, or reduce the tension")
        if link.rating is None:
            fix = say(literal(link.source))
        yield Finding(
            f"load path: {link.name}",
            severity,
            pull.pull_name,
            link.load,
            rating,
            link.quantity,
            fix,
            link.source,
            None,
            link.ratio,
        )
    if outdone:
        yield _outdone(outdone, pull)


def unrated_findings(links: Sequence[Link], pull: Pull) -> Iterator[Finding]:
    """A caution where parts of the load path have no rating."""
    unrated = [link for link in links if link.rating is None and link.at_all]
    if not unrated:
        return
    most = max(unrated, key=lambda link: link.load)
    names = ", ".join(dict.fromkeys(link.name for link in unrated))
    yield Finding(
        "rating missing",
        "caution",
        pull.pull_name,
        most.load,
        math.nan,
        most.quantity,
        say(
            "get the rating from the nameplate, or have the anchorage designed for this "
            "load, before pulling: " + literal(names)
        ),
        "not given",
    )


def reel_findings(reel: Feeding, pull: Pull) -> Iterator[Finding]:
    """A caution where a full reel is given as lighter than the least of the cable on it."""
    if reel.reel_mass is None or pull.run.reel is None:
        return
    lightest = min(cable.weight for cable, _ in pull.run.cables.items) / GRAVITY
    cable = lightest * reel.cable_length
    if reel.reel_mass >= cable:
        return
    yield Finding(
        "reel weight",
        "caution",
        pull.feed_name,
        reel.reel_mass,
        cable,
        "mass",
        say(
            "the cable on one reel weighs more than the full-reel weight given: weigh the "
            "reel, and size jacks, stands and slings for it"
        ),
        f"given for reel {pull.run.reel.name}",
        None,
        cable / reel.reel_mass,
    )


def raised_findings(given: Pull, planned: Pull) -> Iterator[Finding]:
    """A caution where the reel tension of the file is below the least that the crew must hold."""
    if planned.reel_tension <= given.reel_tension:
        return
    yield Finding(
        "reel tension below the brake window",
        "caution",
        given.feed_name,
        given.reel_tension,
        planned.reel_tension,
        "force",
        say(
            "plan and gauge table use {} total at the reels, the low end of the brake "
            "window, instead of the {} in the file: enter that value, or reel_tension = "
            '"auto"',
            (planned.reel_tension, "force+"),
            (given.reel_tension, "force-"),
        ),
        "friction at its low end",
        None,
        planned.reel_tension / given.reel_tension if given.reel_tension > 0 else math.inf,
        ("-", "+"),
    )


def _outdone(links: Sequence[Link], pull: Pull) -> Finding:
    """Links the machine could break if it pulled all it can: they must never see that."""
    weakest = min(links, key=lambda link: (link.rating or 0.0) / (link.at_machine_pull or 1.0))
    names = ", ".join(link.name for link in links)
    fix = say(
        "the machine can pull more than the rating of: " + literal(names) + ". Set the machine's "
        "limiter below the lowest Stop of the gauge table, or use stronger parts"
    )
    return Finding(
        "machine can overload",
        "caution",
        pull.pull_name,
        weakest.at_machine_pull or math.nan,
        weakest.rating or math.nan,
        weakest.quantity,
        fix,
        "common practice: every component is rated at least the machine's maximum pull",
        None,
        (weakest.at_machine_pull or math.nan) / (weakest.rating or math.nan),
    )


def radius_findings(radii: Sequence[SheaveRadius], pull: Pull) -> Iterator[Finding]:
    """Sheaves too small for the cable: a stop at the reel end, where all of it runs over them."""
    for sheave in radii:
        if not sheave.too_small or sheave.radius is None:
            continue
        governs = (
            "sidewall pressure" if sheave.by_sidewall >= sheave.by_bend else "cable bend radius"
        )
        fix = say("use a radius of at least {}, required by " + governs, (sheave.least, "radius+"))
        if not sheave.feeds:
            fix += say("; or move the sheave so that the cable pulled out does not reach it")
        yield Finding(
            f"radius of {sheave.name}",
            "stop",
            pull.feed_name if sheave.feeds else pull.pull_name,
            sheave.radius,
            sheave.least,
            "radius",
            fix,
            "cable limits as given",
            None,
            sheave.least / sheave.radius,
        )


def swivel_findings(pull: Pull, slack: float) -> Iterator[Finding]:
    """A caution for each lead-off sheave the head is drawn over, ``slack`` m beyond the conduit.

    Common practice, no source.
    """
    for turn in pull.run.lead_off:
        if turn.sheave is None or turn.distance >= slack:
            continue
        yield Finding(
            f"swivel on sheave {turn.sheave.name}",
            "caution",
            pull.pull_name,
            slack,
            turn.distance,
            "length",
            say(
                "do not pull the swivel over a sheave under load: it bends and can break. "
                "The head comes {} out of the conduit; stop it before the sheave at {}, or "
                "move the sheave farther out",
                (slack, "length"),
                (turn.distance, "length"),
            ),
            "common practice, no source",
        )


def place_findings(search: PlacementSearch, pull: Pull, slack: float) -> Iterator[Finding]:
    """A stop if no location of a known site is acceptable; a caution if the head lacks room.

    ``slack`` m is how far cable and head are to be drawn out beyond the conduit.
    """
    if search.best and (lacks := search.best[0].lacks(slack)):
        # The best place has the longest rope of all, so to move the machine back is no help.
        others = "No other location gives a longer rope. " if search.tried else ""
        yield Finding(
            "room to pull out the head",
            "caution",
            pull.pull_name,
            search.best[0].distance,
            slack,
            "length",
            say(
                "rope between conduit and machine too short by {}: the head would reach "
                f"the machine. {others}Lead the rope off over a longer path, or regrip the "
                "cable behind the head",
                (lacks, "length+"),
            ),
            "geometry: rope between the conduit end and the machine",
            None,
            slack / max(search.best[0].distance, 1e-6),
        )
    if search.best or not search.tried:
        return
    yield in_words("machine location", "stop", pull.pull_name, search.why, "site as given")
