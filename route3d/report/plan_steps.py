"""What the crew does, in order, and what the plan allowed for."""

from __future__ import annotations

from collections.abc import Iterator

from route3d.checks.limits import NO_BRAKE
from route3d.phrase import say
from route3d.planning.margins import brake_words
from route3d.planning.pull_plan.feeding import eased, held_at_rest
from route3d.planning.pull_plan.plan import Plan, StagePlace
from route3d.planning.pull_plan.progress import gear_name
from route3d.report.block import minutes
from route3d.report.plan_blocks import limiter_order
from route3d.report.read_aloud import head_room
from route3d.units import render, show, show_marked


def steps(plan: Plan, system: str) -> tuple[tuple[str, bool], ...]:
    """What the crew does, in order; True where somebody must say yes before the next step.

    None for a plan that stops.
    Common practice, no source; the local code, the maker and licensed practice take precedence.
    """
    return tuple(_steps(plan, system))


def _steps(plan: Plan, system: str) -> Iterator[tuple[str, bool]]:
    if plan.stops:
        return
    pull, fed = plan.pull, plan.feeding
    route = pull.run.route
    yield (
        (
            "Lock out and tag energized gear within reach; a qualified person verifies it is "
            "de-energized."
        ),
        True,
    )
    yield (
        "Confined spaces (vaults, pits, shafts): test the air, ventilate, post an attendant, "
        "have rescue ready.",
        True,
    )
    yield "Prove the conduit with a mandrel and swab it; smooth the ends, protect the edges.", False
    yield (
        f"Set the machine at {pull.pull_name}, {plan.held.kind}; inspect every anchor point.",
        True,
    )
    yield (
        (
            "Check the nameplate ratings of rope, swivel, grip or eyes, sheaves and anchor against "
            "the load path."
        ),
        True,
    )
    blind = _blind_gears(plan)
    if blind:
        yield (
            f"Install a dynamometer in the line and read that in {blind}: the machine's gauge is "
            "not accurate there.",
            True,
        )
    if fed.off_reel:
        yield (
            (
                f"Set the reels at {fed.place} in line with the conduit; set the feed-in sheave or "
                "guide."
            ),
            False,
        )
    else:
        length = show(fed.cable_length, "length", system)
        yield (
            f"At {fed.place}: turn over the figure eights ({length} of each cable), set the "
            "feed-in guide; stay out of the loops.",
            True,
        )
    if fed.window is not None and fed.window.holds:
        yield (
            f"{render(brake_words(fed.window), system)}. Test the brakes before the head goes in.",
            True,
        )
    if route.pull_points:
        names = ", ".join(route.label(i) for i in route.pull_points)
        yield (
            (
                f"At {names}: post an attendant, set guides and edge protection; hands off moving "
                "cable."
            ),
            True,
        )
    yield "Test communication between both ends; agree on the stop word.", True
    yield (
        (
            "Test the emergency stop. Clear everyone from the rope line, the bight and under the "
            "load."
        ),
        True,
    )
    yield from _limiter_set(plan, system)
    yield f"Lubricate: {show(plan.supplies.lubricant_total, 'volume', system)} total.", False
    first = plan.pace.gears.spans[0].gear if plan.pace.gears.spans else None
    name = gear_name(first, plan.machine)
    yield f"Take up the slack by hand, start in {name}, increase the load slowly.", False
    yield from ((words, True) for words in hanging_words(plan, system))
    yield from _stops_on_the_way(plan, system)
    reels, machine = held_at_rest(pull)
    for what, load, window in (
        (f"reels at {fed.place}", reels, fed.window),
        (f"machine at {pull.pull_name}", machine, None),
    ):
        if load > NO_BRAKE and not plan.hanging:
            most = show_marked(load, "force+", system)
            ease = render(eased(window, load), system)
            yield (
                (
                    f"Riser, at rest: the brake of the {what} must hold up to {most} (friction not "
                    f"counted){ease}."
                ),
                True,
            )
    yield (
        "Compare the gauge with the table. Above Caution, except in a first move: stop and find "
        "the cause. At Stop: stop.",
        False,
    )
    out = show(plan.pace.allowances.pull_slack, "length", system)
    place = plan.place
    laid = place is not None and place.stage.laid > 0
    if laid:
        total = show(fed.pulled_out, "length", system)
        again = show(float(plan.pace.history.restart[-1]), "force", system)
        yield (
            f"Pull {total} of each cable out at {pull.pull_name} in lengths of {out}: regrip "
            f"at the conduit each time, expected first move {again}; lay the cable in figure "
            "eights.",
            True,
        )
        yield from ((words, True) for words in secure_words(plan, system))
        yield "Secure the cable, release the rope slowly. Keep the cable ends sealed.", False
    else:
        room = head_room(plan)
        if room is None:
            yield f"Pull {out} past the conduit end, secure the cable.", False
        else:
            most = show_marked(room, "length-", system)
            yield (
                f"Pull at most {most} past the conduit end: then the head is at the machine. "
                f"Secure the cable, regrip it behind the head, and pull on to {out}.",
                True,
            )
        yield from ((words, True) for words in secure_words(plan, system))
        yield from _after_the_pull(plan, system)
    if place is not None:
        yield from _next_stage(place, fed.left_over, system)


CUT_BACK = {"basket grip": 1.0, "pulling eyes": 0.3}
"""Cable cut off behind a grip or an eye, which the pull has strained, m (common practice, no
source)."""


def _after_the_pull(plan: Plan, system: str) -> Iterator[tuple[str, bool]]:
    """From the cable in place to what is handed over (common practice, no source)."""
    run = plan.pull.run
    yield "Set the cable supports at both ends and in risers before the rope is let down.", True
    yield (
        (
            "Let the rope down slowly under control; stay out of its line until it is slack. Then "
            "remove the head and the machine."
        ),
        False,
    )
    grip = "the grip" if run.attach == "basket grip" else "the pulling eyes"
    back = show(CUT_BACK.get(run.attach, max(CUT_BACK.values())), "length", system)
    yield (
        f"Cut back at least {back} of each cable behind {grip}: it was strained by the pull "
        "(common practice, no source; the cable maker's length takes precedence).",
        False,
    )
    yield "Seal every cable end against water as soon as it is cut, at both ends.", False
    yield from _training(plan, system)
    yield (
        f"Mark each cable of run {run.name} at both ends and at every pull point: run, cable, "
        "feed end, date.",
        False,
    )
    yield (
        "Test insulation and sheath before the cables are connected, by the cable maker's "
        "instructions; write down the values.",
        True,
    )


def _blind_gears(plan: Plan) -> str:
    """The planned gears whose gauge is not accurate; "" for none."""
    blind = [span.gear for span in plan.pace.gears.spans if not span.gear.gauge]
    return " and ".join(dict.fromkeys(gear_name(gear, plan.machine) for gear in blind))


def _limiter_set(plan: Plan, system: str) -> Iterator[tuple[str, bool]]:
    """What is read made zero, and the limiter set, as the acceptance checks have it."""
    checks = plan.acceptance
    read = "the gauge and the dynamometer" if _blind_gears(plan) else "the gauge"
    text = f"With the rope slack, zero {read}. {limiter_order(plan, system)}"
    if any(stage.trips or stage.trips_at_start for stage in checks.stages):
        text += " Raise it only as the acceptance checks say."
    yield text, True


def _training(plan: Plan, system: str) -> Iterator[tuple[str, bool]]:
    """The training radius of each cable that has one: it serves for racking, not for the pull."""
    for cable, _ in plan.pull.run.cables.items:
        if cable.training_multiple is None:
            yield (
                f"Train and rack {cable.name}: minimum bend radius not given; get it from the "
                "cable maker. No tension.",
                False,
            )
            continue
        radius = show_marked(cable.training_multiple * cable.diameter, "radius+", system)
        yield f"Train and rack {cable.name}: minimum bend radius {radius}, no tension.", False


def _next_stage(place: StagePlace, left: float, system: str) -> Iterator[tuple[str, bool]]:
    """What leads on to the next stage of a way."""
    if place.index == place.count:
        return
    label, after = place.whole.route.label, place.way.stages[place.index]
    if not after.reel and after.feed == place.stage.feed:
        length = show(left, "length", system)
        yield (
            (
                f"Take the rest off the reel at {label(after.feed)} and lay it in figure eights: "
                f"{length}."
            ),
            False,
        )
    if after.reel:
        yield "The next stage is a separate cable length, from its own reel.", False
    yield (
        f"Continue with stage {place.index + 1}: {label(after.feed)} to {label(after.pull)}.",
        True,
    )


def _stops_on_the_way(plan: Plan, system: str) -> Iterator[tuple[str, bool]]:
    """Gear changes and lubricant stops, in the order of the pull."""
    for change in plan.pace.gears.changes:
        at = show(change.pulled, "length", system, decimals=0)
        name = gear_name(change.to_gear, plan.machine)
        load = show(change.restart_load, "force", system)
        yield f"At {at} of cable in: stop, change to {name}; expected first move {load}.", True
    stops = plan.pace.stops.stops
    if stops:
        places = ", ".join(show(stop.pulled, "length", system, decimals=0) for stop in stops)
        most = show(max(stop.restart for stop in stops), "force", system)
        yield f"Lubricant stops with {places} of cable in; expected first moves up to {most}.", True


def rest_words(plan: Plan, system: str) -> Iterator[str]:
    """What reels and machine hold at any stop of a pull with a riser; nothing where none hangs."""
    reels, machine = held_at_rest(plan.pull)
    if plan.feeding.window is not None and reels > NO_BRAKE:
        hold = show_marked(reels, "force+", system)
        yield f"Cable hangs: at every stop hold at least {hold} at the reels."
    if machine > NO_BRAKE:
        hold = show_marked(machine, "force+", system)
        yield f"Cable hangs: at every stop the machine brake must hold at least {hold}."


def secure_words(plan: Plan, system: str) -> Iterator[str]:
    """What hangs in each riser, to be held at its top before the rope goes slack."""
    for finding in plan.result.run_findings:
        if finding.rule == "hanging weight":
            held = show_marked(finding.demand, "force+", system)
            yield f"Riser: secure the cable at the top ({held}) before slacking the rope."


def hanging_words(plan: Plan, system: str) -> Iterator[str]:
    """Before a stop at which cable hangs: what must be held, the most of all such stops."""
    for side, words, window in (
        (
            "feed",
            "set the brake before stopping, at least {} total at the reels",
            plan.feeding.window,
        ),
        (
            "head",
            "lock the machine, do not slack the rope: it must hold at least {} at the cable head",
            None,
        ),
    ):
        stops = [(stop.pulled, getattr(stop, side)) for stop in plan.hanging if getattr(stop, side)]
        if stops:
            places = ", ".join(show(at, "length", system, decimals=0) for at, _ in stops)
            most = max(load for _, load in stops)
            held = render(say(words, (most, "force+")) + eased(window, most), system)
            yield f"Cable hangs at the stop with {places} of cable in: {held}."


NO_STEPS = "No steps: this pull must not be made."
"""Printed instead of the steps of a plan that must not be pulled."""


def allowance_words(plan: Plan, system: str) -> str:
    """What the plan allowed for, in one line."""
    a = plan.pace.allowances
    stops = "no lubricant stops"
    if a.lubricant_interval is not None:
        apart = show(a.lubricant_interval, "length", system)
        stops = f"lubricant stops every {apart}, {minutes(a.lubricant_stop)} each"
    return (
        f"margin of {show(a.gear_margin, 'percent', system)} on each gear, fewest changes "
        f"within {show(a.time_tolerance, 'percent', system)} of the minimum time, set-up "
        f"{minutes(a.setup_time)}, gear change {minutes(a.gear_change_time)}, {stops}, "
        f"restart at {plan.pull.practice.restart:g} x friction (common practice, no source, "
        "unless given)"
    )
