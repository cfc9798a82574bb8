"""What is read aloud over the radio at each event of a pull, and with how much cable in."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

from route3d.language import AS_IT_IS, Translated, Translation
from route3d.model.machine import Gear
from route3d.phrase import Phrase, literal, say
from route3d.planning.pull_plan.dial import DialRow, dial_rows, start_marks
from route3d.planning.pull_plan.gauge import bend_places
from route3d.planning.pull_plan.plan import Plan
from route3d.report.block import Block
from route3d.report.spoken import said
from route3d.units import show

READ_ALOUD = "Lines to read aloud"
"""Title of the lines, by which a sheet finds them."""

# So many bends are called at most, those at which the reading rises most.
_MOST_BENDS = 8
# Places this close (m) are one event.
_ONE_PLACE = 0.05


@dataclass(frozen=True, slots=True)
class Line:
    """One line, read with ``pulled`` m of cable in: whole ``sentences``, each to be put into words.

    Its forces are at the marks of the dial.
    """

    pulled: float
    sentences: tuple[Phrase, ...]

    def said(self, system: str, told: Translation = AS_IT_IS) -> Translated:
        """The line with its figures in words, in the language of ``told``."""
        return Translated(" ".join(said(each, system, told) for each in self.sentences))


def lines_aloud(plan: Plan) -> tuple[Line, ...]:
    """The lines of a pull in its order; none for one that must not be made."""
    if plan.stops:
        return ()
    rows = dial_rows(plan.gauge, plan.pace.allowances.gauge_step)
    found = [*_starts(plan, rows), *_points(rows), *_bends(plan, rows), *_last_safe(plan, rows)]
    return (*sorted(found, key=lambda line: line.pulled), _end(plan, rows[-1]))


def _starts(plan: Plan, rows: tuple[DialRow, ...]) -> Iterator[Line]:
    """The start of the pull, and every planned stop on the way."""
    changes, stops = plan.pace.gears.changes, plan.pace.stops.places
    safe = _last_safe_place(plan)
    for each in rows[:-1]:
        at = each.row.pulled
        if each.first_move is None:
            continue
        told = [say("Start.")] if at <= _ONE_PLACE else [_in(at), say("Stop.")]
        if _near(at, stops):
            told.append(say("Lubricant."))
        if at <= _ONE_PLACE or _near(at, [change.pulled for change in changes]):
            told += _gear(each.row.gear, plan)
        told += _first_move(plan, at)
        if safe is not None and abs(at - safe) <= _ONE_PLACE:
            told += _LAST_SAFE
        yield Line(at, tuple(told))


def _first_move(plan: Plan, pulled: float) -> Iterator[Phrase]:
    """What it should read, and where to stop: at the most that it may read."""
    stages = [s for s in plan.acceptance.stages if _near(pulled, (s.pulled,))]
    if not stages:  # no gear starts the pull here
        return
    first, most = start_marks(plan.acceptance, stages[0], plan.pace.allowances.gauge_step)
    yield say("First move, expect {}.", (first, "force"))
    if most < math.inf:
        yield say("Stop at {}.", (most, "force"))


def _in(pulled: float) -> Phrase:
    return say("{} in.", (pulled, "length"))


def _near(at: float, places: list[float] | tuple[float, ...]) -> bool:
    return any(abs(at - place) <= _ONE_PLACE for place in places)


def _gear(gear: Gear | None, plan: Plan) -> tuple[Phrase, ...]:
    """The gear as it is said; nothing of the only gear of a machine."""
    gears = sorted(plan.machine.gears, key=lambda g: g.line_pull)
    if gear is None or len(gears) == 1:
        return ()
    if gear.name:
        return (say(f"{literal(gear.name[:1].upper() + gear.name[1:])} gear."),)
    return (say("Gear {}.", (gears.index(gear) + 1, "count")),)


def _points(rows: tuple[DialRow, ...]) -> Iterator[Line]:
    for each in rows:
        if each.row.kind == "pull point":
            yield Line(each.row.pulled, _passed(say(f"Head at {literal(each.row.place)}."), each))


def _bends(plan: Plan, rows: tuple[DialRow, ...]) -> Iterator[Line]:
    """The bends behind which the dial reads higher than before."""
    by_place = [(each.row.pulled, each) for each in rows]
    found = []
    for number, (label, start, end) in enumerate(bend_places(plan.pull), 1):
        before, after = (
            next((one for place, one in by_place if abs(place - at) <= _ONE_PLACE), None)
            for at in (start, end)
        )
        if before is None or after is None or after.first_move is not None:
            continue
        if after.expected > before.expected and after is not rows[-1]:
            name = literal(label.removeprefix(f"bend {number}"))
            place = say(f"Past bend {{}}{name}.", (number, "count"))
            found.append((after.row.expected - before.row.expected, place, after))
    for _, place, after in sorted(found, key=lambda one: -one[0])[:_MOST_BENDS]:
        yield Line(after.row.pulled, _passed(place, after))


def _passed(place: Phrase, each: DialRow) -> tuple[Phrase, ...]:
    """Where the head is, what the dial should read, and from where on to call it out, or to stop.

    "Stop" is said only as an order.
    """
    called = "Stop at {}." if each.caution >= each.stop else "Call above {}."
    expected, caution = (each.expected, "force"), (each.caution, "force")
    return _in(each.row.pulled), place, say("Expect {}.", expected), say(called, caution)


_LAST_SAFE = (
    say("Last safe place for a planned stop."),
    say("From here on, stop only for danger."),
)


def _last_safe_place(plan: Plan) -> float | None:
    """The last place to stop on purpose, m of cable in; None where the end is one."""
    safe, length = plan.pace.moves.safe, plan.pull.path.length
    if not len(safe):
        return 0.0
    at = float(safe[-1, 1])
    return at if at < length - _ONE_PLACE else None


def _last_safe(plan: Plan, rows: tuple[DialRow, ...]) -> Iterator[Line]:
    """The line of that place, where no planned stop has it said."""
    at = _last_safe_place(plan)
    if at is None or _near(at, [r.row.pulled for r in rows if r.first_move is not None]):
        return
    yield Line(at, (_in(at), *_LAST_SAFE))


def _end(plan: Plan, last: DialRow) -> Line:
    """The head at the conduit end, and what is pulled beyond."""
    length = plan.pull.path.length
    begun = _in(length), say("Head at the conduit end.")
    if last.first_move is not None:  # drawn on, to be laid in figure eights
        again = _first_move(plan, length)
        return Line(length, (*begun, say("Stop."), say("Regrip."), *again))
    if head_room(plan) is not None:
        told = say("Stop before the head reaches the machine."), say("Regrip behind the head.")
        return Line(length, (*begun, say("Slow."), *told))
    out = (plan.pace.allowances.pull_slack, "length")
    return Line(length, (*begun, say("Slow."), say("Pull {} more, then stop.", out)))


def head_room(plan: Plan) -> float | None:
    """How far the cable can be drawn out before the head is at the machine, m.

    None where there is room for all that is to be drawn out, or nothing is known of it.
    """
    best = plan.placement.best
    if not best or not best[0].lacks(plan.reach):
        return None
    return max(best[0].distance - plan.pull.run.head_length, 0.0)


def read_aloud_block(plan: Plan, system: str, told: Translation = AS_IT_IS) -> Block:
    """The lines as a table: cable in, and what to say, in the language of ``told``."""
    rows = tuple(
        (show(line.pulled, "length", system, decimals=0), line.said(system, told))
        for line in lines_aloud(plan)
    )
    units = "feet and pounds of force" if system == "US" else "whole meters, and kilonewtons"
    return Block(
        READ_ALOUD,
        (),
        ("cable in", "say"),
        rows,
        frozenset({0}),
        (f"Lengths and loads are in {units}; loads are at the marks of the dial.",),
    )
