"""The pull plan in words and tables, once for all: terminal, sheet and phone page set it out."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence

from route3d.checks.falling_friction import decided_by, loads_words, mixed
from route3d.checks.limits import NO_BRAKE, conductor_limit, grip_limit, sidewall_limit
from route3d.planning.margins import brake_label
from route3d.planning.pull_plan.acceptance import Acceptance
from route3d.planning.pull_plan.acceptance import AcceptanceStage as CheckedStage
from route3d.planning.pull_plan.dial import limiter_mark
from route3d.planning.pull_plan.feeding import held_at_rest
from route3d.planning.pull_plan.gauge import GaugeRow
from route3d.planning.pull_plan.gears import TRUE_GAUGE_SHARE, TRUE_GAUGE_TIME
from route3d.planning.pull_plan.plan import Plan, StagePlace, machine_place
from route3d.planning.pull_plan.progress import gear_name
from route3d.planning.pull_plan.restarts import AccidentalStop
from route3d.planning.pull_plan.schedule import CrewTime
from route3d.planning.pull_plan.stops import FIRST_MOVE
from route3d.planning.result import RunResult
from route3d.report.block import Block, minutes, share
from route3d.report.machine_location import stand_of
from route3d.report.plan_tackle import (
    chain_block,
    radii_block,
    reel_block,
    sheaves_block,
    splits_block,
    supplies_block,
    way_words,
)
from route3d.report.read_aloud import read_aloud_block
from route3d.report.remedies import remedy_list
from route3d.report.words import peak_sidewall_place, peak_tension_place, sentence
from route3d.units import render, show, show_marked

# So many stops are told with the remedies; the findings have all.
_MOST_FIXES = 8
# Closer than this (m) to the line of the conduit is on it, for people.
_ON_LINE = 0.02


def plan_blocks(plan: Plan, system: str, most: int | None = None) -> tuple[Block, ...]:
    """Every part of a plan, in the order the crew needs them; at most so many gauge rows.

    Of a pull that must not be made only what is wrong, and the remedies.
    """
    blocks: tuple[Block, ...]
    if plan.stops:
        blocks = (
            decision_block(plan, system),
            help_block(plan, system),
            limits_block(plan, system),
            chain_block(plan, system),
            radii_block(plan, system),
            splits_block(plan, system),
        )
        return tuple(b for b in blocks if b.words or b.rows or b.remedies)
    blocks = (
        decision_block(plan, system),
        acceptance_block(plan, system),
        limits_block(plan, system),
        machine_block(plan, system),
        gears_block(plan, system),
        gauge_block(plan, system, most),
        read_aloud_block(plan, system),
        accidents_block(plan, system),
        chain_block(plan, system),
        radii_block(plan, system),
        sheaves_block(plan, system),
        reel_block(plan, system),
        supplies_block(plan, system),
        splits_block(plan, system),
    )
    return tuple(block for block in blocks if block.words or block.rows)


# --- decision and machine ------------------------------------------------------------------------


def verdict(plan: Plan, system: str) -> str:
    """Whether the run may be pulled, and if not, what stops it."""
    pull = plan.pull
    if not plan.stops:
        return f"Feed from {pull.feed_name}, pull at {pull.pull_name}."
    if plan.candidate.barred:
        return f"STOP. Do not pull: {render(plan.candidate.barred, system)}."
    place = plan.place
    if place is not None and place.index not in place.stopped_by:
        which = " and ".join(str(i) for i in place.stopped_by)
        return f"STOP. Do not pull: stage {which} of way {place.number} must not be pulled."
    worst = plan.all_findings[0]
    text = f"STOP. Do not pull: {worst.rule}, {render(worst.place, system)}"
    figures = render(worst.compared, system)
    return f"{text}: {figures}." if figures else f"{text}."


def decision_block(plan: Plan, system: str) -> Block:
    """Feed end and reason; the set, the length, the peaks."""
    result, pull = plan.result, plan.pull
    words = [verdict(plan, system)]
    words += (
        _choice_words(plan, system)
        if plan.place is None
        else _place_words(plan.place, plan, system)
    )
    words.append(
        f"{result.run.cables.describe()}, {show(pull.path.length, 'length', system)} of "
        f"conduit; cable tension up to {show(pull.peak_tension, 'force', system)}, sidewall "
        f"pressure up to {show(pull.peak_sidewall, 'sidewall', system)}, peak machine load "
        f"{show(plan.peak, 'force', system)} including first moves "
        f"({show(float(plan.pace.history.load.max()), 'force', system)} while moving)."
    )
    words += falling_words(plan.result, system)
    return Block("Decision", tuple(words))


def falling_words(result: RunResult, system: str) -> Iterator[str]:
    """Both results of each direction where friction falls above a contact load."""
    for candidate in result.candidates:
        both = candidate.pull.by_both_frictions
        if both is not None:
            pull = candidate.pull
            constant, by_pressure = (render(loads_words(peaks), system) for peaks in both)
            decided = decided_by(pull)
            if mixed(pull):
                decided += f", with {render(loads_words(pull.peaks), system)}"
            yield (
                f"Fed from {pull.feed_name}, constant friction: {constant}; friction "
                f"by pressure: {by_pressure}. Decides: {decided}."
            )


def _choice_words(plan: Plan, system: str) -> Iterator[str]:
    """The reason for the feed end, and the planned end where it is not the chosen one."""
    yield sentence(render(plan.why, system))
    chosen, feed = plan.result.decision.choice, plan.pull.feed_name
    if chosen is None:
        yield f"The rest is for feed from {feed}, the end with the lower utilization."
    elif chosen is not plan.candidate:
        yield f"This plan feeds from {feed}, as requested."


def place_heading(plan: Plan) -> str:
    """The run a plan is for, with way and stage where it is one of a split."""
    run = plan.result.run
    stage = "" if plan.place is None else f", {plan.place.name}"
    return f"Run {run.name}{stage}: {run.cables.describe()}"


def _place_words(place: StagePlace, plan: Plan, system: str) -> Iterator[str]:
    """Which stage of which way this is, and where its cable comes from and goes."""
    yield (
        f"Stage {place.index} of {place.count} of way {place.number} (of {place.ways}): "
        f"{way_words(place.way, place.whole, system)}."
    )
    if place.way.splices:
        yield f"Cable {place.stage.cable} of {len(place.way.splices) + 1}."
    yield (
        "Pull the stages in this order. Lengths, stations and bend numbers are for this "
        f"stage only, starting at {plan.result.run.route.label(0)}."
    )


def help_block(plan: Plan, system: str) -> Block:
    """What would make a stopped pull possible: the remedies, else the fix of each stop."""
    told = remedy_list(plan.result, system)
    if told.groups:
        return Block(told.title, remedies=told)
    fixes = [
        sentence(f"{f.rule}, {render(f.place, system)}: {render(f.fix, system)}")
        for f in plan.reasons
    ]
    why_none = (told.why_none,) if told.why_none else ()
    return Block("What helps", (*why_none, *dict.fromkeys(fixes[:_MOST_FIXES])))


def limits_block(plan: Plan, system: str) -> Block:
    """Utilization of each limit, and where."""
    pull, run = plan.pull, plan.result.run
    conductor, grip = conductor_limit(run, pull.practice), grip_limit(run)
    load, name = plan.peak, plan.candidate.name
    tension = (pull.peak_tension, "force", peak_tension_place(pull, system))
    rows = [
        (name("conductor"), *tension, conductor.value),
        (name("grip"), *tension, grip.value),
        (
            name("sidewall"),
            pull.peak_sidewall,
            "sidewall",
            peak_sidewall_place(pull, system),
            sidewall_limit(run).value,
        ),
        (name("machine"), load, "force", pull.pull_name, plan.machine.available_pull),
    ]
    if run.rope is not None:
        rows.append((name("rope"), load, "force", pull.pull_name, run.rope.rated_load))
    return Block(
        "Limits",
        (),
        ("limit", "planned", "allowed", "utilization", "where"),
        tuple(
            (
                name,
                show(demand, kind, system),
                show(most, kind, system),
                share(demand / most),
                where,
            )
            for name, demand, kind, where, most in rows
        ),
        frozenset({1, 2, 3}),
        (),
        frozenset(
            i for i, (_, demand, _, _, most) in enumerate(rows) if demand > most * (1 + 1e-9)
        ),
    )


def machine_block(plan: Plan, system: str) -> Block:
    """The machine location, its anchorage, and what else was tried."""
    words = [sentence(render(machine_place(plan), system)), *stand_words(plan, system)]
    rows, heavy = [], set()
    for i, hold in enumerate(plan.held.holds):
        kind = hold.quantity
        rating = "not given" if hold.rating is None else show(hold.rating, kind, system)
        rows.append(
            (hold.name, show(hold.load, kind, system), rating, share(hold.ratio), hold.source)
        )
        if hold.ratio > 1 + 1e-9:
            heavy.add(i)
    notes = [sentence(render(note, system)) for note in plan.held.notes]
    notes += placement_notes(plan, system)
    return Block(
        f"Machine: {plan.machine.name}",
        tuple(words),
        ("anchorage", "load", "rating", "of rating", "source"),
        tuple(rows),
        frozenset({1, 2, 3}),
        tuple(notes),
        frozenset(heavy),
    )


def stand_words(plan: Plan, system: str) -> list[str]:
    """The location of the machine base, measured from the conduit end."""
    if not plan.placement.best:
        return []
    spot = stand_of(plan)
    side = "on its centerline"
    if abs(spot.aside) > _ON_LINE:
        hand = "left" if spot.aside > 0 else "right"
        side = f"{show(abs(spot.aside), 'length', system)} to the {hand} of its centerline"
    way = "out from" if spot.ahead >= 0 else "back from"
    height = "below" if spot.drop >= 0 else "above"
    return [
        f"Center of machine base: {show(abs(spot.ahead), 'length', system)} {way} the conduit "
        f"end, {side} (looking the way the cable comes out); base "
        f"{show(abs(spot.drop), 'length', system)} {height} the conduit centerline; "
        f"{show(spot.rope, 'length', system)} of rope between."
    ]


def placement_notes(plan: Plan, system: str) -> list[str]:
    """Notes of the location search, and why other locations fail."""
    search = plan.placement
    notes = [note for place in search.best[:1] for note in place.notes]
    texts = [render(note, system) for note in (*notes, *(f.text for f in search.failures))]
    said = render(search.why, system)
    return [sentence(text) for text in dict.fromkeys(texts) if text != said]


# --- gears and gauge -----------------------------------------------------------------------------


def gears_block(plan: Plan, system: str) -> Block:
    """Gears by length of cable in, gear changes, and the time."""
    gears, crew = plan.pace.gears, plan.pace.crew
    rows = tuple(
        (
            show(span.start, "length", system, decimals=0),
            show(span.end, "length", system, decimals=0),
            gear_name(span.gear, plan.machine),
            show(span.peak_load, "force", system),
            show(span.gear.line_pull * plan.machine.efficiency, "force", system),
            show(
                (span.end - span.start) / span.time if span.time else span.gear.speed,
                "speed",
                system,
            ),
            minutes(span.time),
        )
        for span in gears.spans
    )
    words = [
        f"At {show(change.pulled, 'length', system, decimals=0)} of cable in: stop, change from "
        f"{gear_name(change.from_gear, plan.machine)} to "
        f"{gear_name(change.to_gear, plan.machine)}; expected first move "
        f"{show(change.restart_load, 'force', system)}."
        for change in gears.changes
    ]
    if gears.overload is not None:
        over = gears.overload
        what = "first move" if over.restart else "load"
        largest = (
            ""
            if over.restart
            else (f"; maximum from there on {show(over.largest, 'force', system)}")
        )
        words.append(
            f"No gear is strong enough from {show(over.pulled, 'length', system, decimals=0)} "
            f"of cable in: {what} {show(over.load, 'force', system)} there, "
            f"{show(over.limit, 'force', system)} available{largest}. The plan ends there."
        )
    elif not gears.changes:
        words.append("No gear change.")
    if gears.true_gauge is not None and not gears.blind:
        words.append(
            f"Only gears with an accurate gauge used: {minutes(gears.true_gauge)} longer than "
            "with all gears. Accepted for it: up to "
            f"{show(TRUE_GAUGE_SHARE, 'percent', system)} of the pulling time or "
            f"{minutes(TRUE_GAUGE_TIME)}, whichever is more (own judgment, no source)."
        )
    notes = [
        f"Pulling {minutes(crew.pulling)}; all in the strongest gear, {minutes(crew.strongest)}.",
        f"Crew time {minutes(crew.total)}: " + ", ".join(_times(crew)) + ".",
    ]
    return Block(
        "Gears and time",
        tuple(words),
        ("cable in from", "to", "gear", "peak load", "machine stalls at", "average speed", "time"),
        rows,
        frozenset({0, 1, 3, 4, 5, 6}),
        tuple(notes),
    )


# Places that say no more than the limit itself.
_PLAIN_PLACES = ("", "cable head", "cable", "rope")


def _times(crew: CrewTime) -> Iterator[str]:
    """The parts of the crew's time that there are."""
    yield f"set-up {minutes(crew.setup)}"
    yield f"pulling {minutes(crew.pulling)}"
    if crew.gear_changes:
        yield f"gear changes {minutes(crew.gear_changes)}"
    if crew.lubricant_stops:
        yield f"lubricant stops {minutes(crew.lubricant_stops)}"


GAUGE = "Gauge readings"
"""Title of the gauge table, by which a sheet finds it."""


def limit_words(row: GaugeRow, plan: Plan) -> str:
    """The limit reached first at the stop reading, by the name it has in the load path."""
    text = limit_of_plan(row.limit, plan)
    if row.limit not in ("line fitting", "rope") and row.limit_place not in _PLAIN_PLACES:
        text += f", {row.limit_place}"
    if row.hidden:
        text += f"; gauge cannot show this: {', '.join(row.hidden)}"
    return text.removeprefix("; ")


def gauge_block(plan: Plan, system: str, most: int | None = None) -> Block:
    """Gauge readings: expected, Caution and Stop.

    Of more than ``most`` rows those are omitted that matter least.
    """
    kept = plan.gauge if most is None else weightiest(plan.gauge, most)
    band = show(plan.pace.allowances.friction_band, "percent", system)
    first_move = show(FIRST_MOVE, "length", system, decimals=0)
    window = plan.feeding.window
    # only a brake that must hold at least something raises Caution (planning.pull_plan.gauge)
    by_brake = ", or with the hardest brake allowed" if window and window.holds else ""
    notes = [
        f"First move: reading at a planned start from rest, for the first {first_move} only; "
        "Caution applies after it, Stop always. "
        "Expected: reading while moving, as planned. By brake: expected reading from the "
        f"lightest to the hardest brake allowed. Caution: reading with {band} more "
        f"friction{by_brake}; never above Stop. Stop: reading at which the "
        "named limit is reached, friction ahead of the head as planned. Above Caution, or at "
        "any sudden rise: stop and find the cause.",
    ]
    # a limiter that is raised stage by stage or row by row is no bound of the whole table
    limiter = plan.acceptance.limiter if plan.acceptance.one_setting else math.inf
    if window and any(row.expected_high > min(row.caution, limiter) for row in plan.gauge):
        notes.append(
            "The hardest brake allowed may read above Caution, or above the limiter: brake no "
            "harder than keeps the reading below both."
        )
    if any(row.gear is not None and not row.readable for row in plan.gauge):
        notes.append(
            "Where 'gauge accurate' is 'no': install a dynamometer in the line and read "
            "that, or use a gear with an accurate gauge."
        )
    if len(kept) < len(plan.gauge):
        notes.append(
            f"{len(plan.gauge) - len(kept)} rows not shown; the plan on screen has all. "
            "Between two rows the lower Caution and the lower Stop apply."
        )
    return Block(
        GAUGE,
        (),
        (
            "cable in",
            "head at",
            "gear",
            "first move",
            "expected",
            "caution",
            "stop",
            "limit reached first",
            "gauge accurate",
            "by brake",
        ),
        tuple(_gauge_row(row, plan, system) for row in kept),
        frozenset({0, 3, 4, 5, 6, 9}),
        tuple(notes),
    )


ACCIDENTS = "After an unplanned stop"
"""Title of the table for unplanned stops."""

DO_NOT_RESTART = "do not restart; call"


def accidents_block(plan: Plan, system: str) -> Block:
    """What to do after an unplanned stop, by length of cable in."""
    rows = []
    for stop in plan.accidents:
        go = stop.gear is not None
        low, high = (show(load, "force", system) for load in (stop.least, stop.first_move))
        rows.append(
            (
                show(stop.start, "length", system, decimals=0),
                show(stop.end, "length", system, decimals=0),
                f"restart in {gear_name(stop.gear, plan.machine)}" if go else DO_NOT_RESTART,
                (low if low == high else f"{low} to {high}") if go else "-",
                restart_most(plan, stop, system) if go else "-",
                "" if go else _why_not(stop, plan),
            )
        )
    notes = (
        f"{_left_as_it_is(plan, system)} First move, expected: the highest reading over the "
        f"first {show(FIRST_MOVE, 'length', system, decimals=0)}, by the place in the stretch; at "
        "most: what it may read anywhere in it. If it reaches 'at most': stop and call. 'Call': "
        "get the engineer's OK before anything moves.",
    )
    return Block(
        ACCIDENTS,
        (),
        ("cable in from", "to", "do", "first move, expected", "at most", "why not"),
        tuple(rows),
        frozenset({0, 1, 3, 4}),
        notes,
    )


def _why_not(stop: AccidentalStop, plan: Plan) -> str:
    if stop.limit == "stop":
        return "a first move would read above Stop"
    if stop.limit == "limiter":
        return "a first move would read above the limiter's setting"
    return f"a first move exceeds the {limit_of_plan(stop.limit, plan)} limit"


def restart_most(plan: Plan, stop: AccidentalStop, system: str) -> str:
    """The most that a first move after an unplanned stop may read, the limiter as it can be set."""
    checks = plan.acceptance
    held = limiter_mark(checks.limiter, system) if checks.one_setting else math.inf
    return show_marked(min(stop.most, held), "force-", system)


def _left_as_it_is(plan: Plan, system: str) -> str:
    """What to do with brake and machine while the cause is looked for; what hangs must be held."""
    reels, _ = held_at_rest(plan.pull)
    if plan.feeding.window is None or reels <= NO_BRAKE:
        return "Leave brake and machine as they are, find the cause, then restart as listed."
    hold, brake = show_marked(reels, "force+", system), reel_setting(plan, system)
    return (
        f"Leave the machine as it is and hold at least {hold} at the reels (friction not "
        f"counted). Find the cause. Before the cable moves: {brake}, total; then restart as listed."
    )


def accident_words(plan: Plan, system: str) -> tuple[str, ...]:
    """The same as sentences, one for each stretch."""
    return tuple(
        f"Stopped with {start} to {end} of cable in: {do}"
        + (f"; first move {move}, at most {most}." if why_not == "" else f": {why_not}.")
        for start, end, do, move, most, why_not in accidents_block(plan, system).rows
    )


def limit_of_plan(limit: str, plan: Plan) -> str:
    """A limit by its name, a fitting of the line by its own; "" for none."""
    if not limit:
        return ""
    return plan.line_limit[1] if limit == "line fitting" else plan.candidate.name(limit)


def weightiest(rows: Sequence[GaugeRow], most: int) -> tuple[GaugeRow, ...]:
    """The ``most`` rows that matter most, in order.

    One after the other goes that from which least is lost: no end, change, stop or pull point, none
    whose caution or stop is below those on both its sides, and of the others the farthest from its
    stop. Then between two rows the lower of their cautions and stops holds.
    """
    always = ("start", "end", "gear change", "stop", "pull point")
    kept = list(rows)

    def loss(i: int) -> tuple[bool, bool, float]:
        row, before, after = kept[i], kept[i - 1], kept[i + 1]
        below = max(
            _dip(row.stop, before.stop, after.stop),
            _dip(row.caution, before.caution, after.caution),
        )
        return below > 1e-3, row.kind in always, max(below, row.ratio)

    while len(kept) > max(most, 2):
        del kept[min(range(1, len(kept) - 1), key=loss)]
    return tuple(kept)


def _dip(here: float, before: float, after: float) -> float:
    """How far a load lies below both those beside it, as a share of the lower; 0 for not."""
    beside = min(before, after)
    return 1.0 - here / beside if here < beside else 0.0


def _gauge_row(row: GaugeRow, plan: Plan, system: str) -> tuple[str, ...]:
    low, high = (show(load, "force", system) for load in (row.expected_low, row.expected_high))
    return (
        show(row.pulled, "length", system, decimals=0),
        row.place or "-",
        gear_name(row.gear, plan.machine),
        "-" if row.first_move is None else show(row.first_move, "force", system),
        *(show(load, "force", system) for load in (row.expected, row.caution)),
        stop_words(row, system),
        limit_words(row, plan),
        "yes" if row.readable else "no",
        "-" if low == high else f"{low.split(' ')[0]} to {high}",
    )


def stop_words(row: GaugeRow, system: str) -> str:
    """The stop reading of a row, "-" where the gauge can show none."""
    return "-" if math.isinf(row.stop) else show(row.stop, "force", system)


# --- acceptance checks ----------------------------------------------------------------------------

ACCEPTANCE = "Acceptance checks"
"""Title of what to check before each stage, by which a sheet finds it."""


def acceptance_block(plan: Plan, system: str) -> Block:
    """The limiter's set point, and what to check before each stage; none for a plan that stops."""
    checks = plan.acceptance
    if plan.stops or not checks.stages:
        return Block(ACCEPTANCE)
    rows = tuple(
        (
            stage.place if stage.kind != "start" else "start of pull",
            show(stage.pulled, "length", system, decimals=0),
            reel_setting(plan, system),
            setting(checks.set_point(stage), system),
            show(stage.first_move, "force", system),
            first_most(checks, stage, system),
        )
        for stage in checks.stages
    )
    return Block(
        ACCEPTANCE,
        limiter_words(plan, system),
        ("before", "cable in", "reels, total", "limiter", "first move, expected", "at most"),
        rows,
        frozenset({1, 3, 4, 5}),
        (
            "Before each stage: zero the gauge with the rope slack, set the reel brakes and "
            "the limiter as listed. If the first move reaches 'at most': stop and call.",
        ),
    )


def reel_setting(plan: Plan, system: str) -> str:
    """Between what the reels are held, over all reels."""
    if not plan.feeding.off_reel:
        return "fed by hand"
    return render(brake_label(plan.acceptance.window), system)


def first_most(checks: Acceptance, stage: CheckedStage, system: str) -> str:
    """The most that the first move of a stage can or may read, and the reason."""
    most, what = checks.first_most(stage)
    if what == "limiter":
        return f"{setting(most, system)}, limiter"
    return f"{show_marked(most, 'force-', system)}, {_FIRST_MOST[what]}"


_FIRST_MOST = {"stop": "stop", "stall": "machine stalls"}


def limiter_words(plan: Plan, system: str) -> tuple[str, ...]:
    """Where to set the machine's limiter, and what to do where that cannot be."""
    checks = plan.acceptance
    if math.isinf(checks.limiter):
        return (limiter_order(plan, system),)
    words = [" ".join((limiter_order(plan, system), *dict.fromkeys(_stall_words(plan, system))))]
    for stage in checks.stages:
        if not (stage.trips or stage.trips_at_start):
            continue
        at = show(stage.pulled, "length", system, decimals=0)
        if stage.trips:
            words.append(
                f"From {at} of cable in, readings up to "
                f"{show(stage.largest, 'force', system)} are expected, above the lowest Stop "
                "of that stage: set the limiter to the Stop of the current row of the gauge "
                "table, and raise it row by row."
            )
        else:
            words.append(
                f"For the first move at {at} of cable in, raise the limiter to "
                f"{setting(stage.first_stop, system)}; lower it when the cable moves."
            )
    words.append(
        "If the machine's lowest setting is higher, the limiter does not protect the cable: "
        "use the lowest setting, keep a hand on the stop control, and call out every "
        "reading; or use a smaller machine."
    )
    return tuple(words)


def limiter_order(plan: Plan, system: str) -> str:
    """Where to set the machine's limiter, in one sentence."""
    checks = plan.acceptance
    if math.isinf(checks.limiter):
        return "No limiter setting: the gauge cannot show any limit."
    told = f"Set the machine's limiter to {setting(checks.limiter, system)}"
    if checks.one_setting:
        return f"{told} for the whole pull (the lowest Stop)."
    return f"{told} (the lowest Stop), and change it before each stage as listed."


def _stall_words(plan: Plan, system: str) -> Iterator[str]:
    """Gears that stall below their limiter setting, or at a planned first move."""
    checks = plan.acceptance
    for stage in checks.stages:
        gear, stalls = gear_name(stage.gear, plan.machine), show(stage.stalls, "force", system)
        if not stage.starts:
            yield (
                f"At {show(stage.pulled, 'length', system, decimals=0)} of cable in, the "
                f"machine cannot make the first move in {gear}: "
                f"{show(stage.first_move, 'force', system)} expected, it stalls at {stalls}."
            )
        elif stage.stalls < checks.set_point(stage):
            yield f"In {gear} the machine stalls at {stalls}, before the limiter acts."


def setting(load: float, system: str) -> str:
    """A load rounded down to what a person can set: to a half of its second digit."""
    return show(limiter_mark(load, system), "force", system)
