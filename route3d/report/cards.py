"""Cards for the crew, beside the sheet: A5 or half Letter, large type, made to be laminated.

One for the machine end, the feed end and the spotters, one for a reading that leaves its band, and
one with the lines to read aloud. Every load is at a mark of the dial. A card that does not hold its
rows goes on on another; type is never made smaller.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, cast

from route3d.checks.limits import NO_BRAKE
from route3d.drawing.pdf import typeset
from route3d.language import AS_IT_IS, Translated, Translation
from route3d.model.examples import BANNER, example_banner
from route3d.model.job import Job
from route3d.planning.pull_plan.dial import dial_rows, restart_marks, start_marks
from route3d.planning.pull_plan.feeding import held_at_rest
from route3d.planning.pull_plan.gauge import MOST_BENDS, bend_places
from route3d.planning.pull_plan.plan import Plan
from route3d.planning.pull_plan.progress import gear_name
from route3d.report.band_card import BAND_CARD, band_blocks
from route3d.report.block import Block
from route3d.report.draft import refuse_unconfirmed
from route3d.report.gauge_page import at_mark, footage, mark_notes, refuse_coarse_marks
from route3d.report.issue import attachment, issue_of, sealed
from route3d.report.plan_blocks import (
    limiter_order,
    reel_setting,
    verdict,
    weightiest,
)
from route3d.report.plan_steps import hanging_words, secure_words
from route3d.report.read_aloud import lines_aloud
from route3d.units import show, show_marked, unit_label

SIZES = {"letter": (139.7, 215.9), "a4": (148.0, 210.0)}
"""Width and height of a card beside a sheet of that paper, mm: half Letter, A5."""
MACHINE_ROWS = 8
"""So many rows of the gauge table stand on the card of the machine end."""
NEVER_REPLACES = "This card never replaces the limiter, the operator or the word that stops."
# Characters of the heading of a card that fit one line.
_HEAD = 30


@dataclass(frozen=True, slots=True)
class Card:
    """One card: ``facts`` as label and text in large type, ``blocks`` below, lines to ``write``."""

    title: str
    facts: tuple[tuple[str, str], ...] = ()
    blocks: tuple[Block, ...] = ()
    write: tuple[str, ...] = ()


def cards(plan: Plan, system: str, told: Translation = AS_IT_IS) -> tuple[Card, ...]:
    """The cards of one pull, lines to read aloud in the language of ``told``.

    One that says so for a pull that must not be made.
    """
    if plan.stops:
        return (_no_pull(plan, system),)
    return (
        _machine_card(plan, system),
        _feed_card(plan, system),
        _spotter_card(plan, system),
        Card(
            BAND_CARD,
            (),
            band_blocks(plan, system, _restarts(plan, system, "Restart, by cable in")),
        ),
        _aloud_card(plan, system, told),
    )


def _no_pull(plan: Plan, system: str) -> Card:
    words = (
        verdict(plan, system),
        "This pull has no cards. Call the engineer. Do not use cards of an earlier plan.",
    )
    return Card("DO NOT PULL", (), (Block("", words),))


# --- machine end ---------------------------------------------------------------------------------


def _machine_card(plan: Plan, system: str) -> Card:
    stops = plan.pace.stops.places
    facts = (
        ("FEED", plan.pull.feed_name),
        ("MACHINE", f"{plan.pull.pull_name}: {plan.machine.name}, {plan.held.kind}"),
        ("HOLD", _hold(plan, system)),
        ("GEAR", _gears(plan, system)),
        (
            "LUBRICANT",
            f"stop with {_footages(stops, system)} in" if stops else "no stops",
        ),
        ("LIMITER", limiter_order(plan, system)),
    )
    return Card(
        "MACHINE END",
        facts,
        (_readings(plan, system), _restarts(plan, system, "If it stops here")),
        ("Foreman", "Operator", "Feed end", "Channel", "Stop word"),
    )


def _hold(plan: Plan, system: str) -> str:
    """What the reels are held with, moving and at rest."""
    if not plan.feeding.off_reel:
        text = "no reels: feed by hand from the figure eights"
    else:
        text = f"reels, total: {reel_setting(plan, system)}"
    reels, machine = held_at_rest(plan.pull)
    if plan.feeding.window is not None and reels > NO_BRAKE:
        text += f"; at every stop at least {show_marked(reels, 'force+', system)}"
    if machine > NO_BRAKE:
        held = show_marked(machine, "force+", system)
        text += f"; machine brake, at every stop: at least {held}"
    return text


def _gears(plan: Plan, system: str) -> str:
    gears = plan.pace.gears
    first = gear_name(gears.spans[0].gear if gears.spans else None, plan.machine)
    if not gears.changes:
        return f"{first}, no change"
    changes = (
        f"change at {show(change.pulled, 'length', system, decimals=0)} to "
        f"{gear_name(change.to_gear, plan.machine)}"
        for change in gears.changes
    )
    return ", ".join((f"start in {first}", *changes))


def _footages(places: Sequence[float], system: str) -> str:
    return ", ".join(show(place, "length", system, decimals=0) for place in places)


def _readings(plan: Plan, system: str) -> Block:
    """The rows that matter most, with what a first move may read where one is planned."""
    step, length = plan.pace.allowances.gauge_step, unit_label("length", system)
    rows = dial_rows(plan.gauge, step, weightiest(plan.gauge, MACHINE_ROWS))
    starts = []
    for stage in plan.acceptance.stages:
        at = show(stage.pulled, "length", system, decimals=0)
        first, most = (at_mark(load, system) for load in start_marks(plan.acceptance, stage, step))
        starts.append(f"First move at {at}: expect {first}, at most {most}.")
    return Block(
        f"Readings, {unit_label('force', system)}",
        (),
        (f"in, {length}", "expected", "caution", "STOP"),
        tuple(
            (
                footage(each.row.pulled, system),
                *(at_mark(load, system) for load in (each.expected, each.caution, each.stop)),
            )
            for each in rows
        ),
        frozenset({0, 1, 2, 3}),
        (
            *starts,
            "Above Caution after a first move: stop, call. At STOP: stop.",
            "Between two rows the lower Caution and the lower Stop apply.",
            *hanging_words(plan, system),
            *secure_words(plan, system),
            *mark_notes(rows, plan, system),
        ),
    )


def _restarts(plan: Plan, system: str, title: str) -> Block:
    """After a stop that nobody planned, by cable in: the gear, and its first move, or to call."""
    step = plan.pace.allowances.gauge_step
    barred = any(stop.gear is None for stop in plan.accidents)
    rows = []
    for stop in plan.accidents:
        low, high, most = (at_mark(load, system) for load in restart_marks(stop, step))
        go = stop.gear is not None
        rows.append(
            (
                f"{footage(stop.start, system)} to {footage(stop.end, system)}",
                gear_name(stop.gear, plan.machine) if go else "NO. Call.",
                (low if low == high else f"{low} to {high}") if go else "-",
                most if go else "-",
            )
        )
    return Block(
        f"{title}, {unit_label('force', system)}",
        ("NO. Call: the engineer's OK before anything moves.",) if barred else (),
        (f"in, {unit_label('length', system)}", "restart in", "expect", "at most"),
        tuple(rows),
        frozenset({0, 2, 3}),
    )


# --- feed end, spotters, lines to read aloud -----------------------------------------------------


def _feed_card(plan: Plan, system: str) -> Card:
    fed, window = plan.feeding, plan.feeding.window
    facts: list[tuple[str, str]] = [("FEED", plan.pull.feed_name)]
    if window is None:
        facts.append(("BRAKE", "none: feed by hand from the figure eights"))
    elif window.holds:
        facts += [
            ("AT LEAST", f"{show_marked(window.at_least, 'force+', system)} total, all the way"),
            ("AT MOST", f"{show_marked(window.at_most, 'force-', system)} total"),
        ]
    else:
        facts.append(("BRAKE", reel_setting(plan, system)))
    reels, _ = held_at_rest(plan.pull)
    if window is not None and reels > NO_BRAKE:
        facts.append(("AT REST", f"at least {show_marked(reels, 'force+', system)} total"))
    facts.append(("CABLE", f"{show(fed.cable_length, 'length', system)} of each cable"))
    lubricant = tuple(
        (part.entry, part.conduit, show(part.volume, "volume", system))
        for part in plan.supplies.lubricant
    )
    return Card(
        "FEED END",
        tuple(facts),
        (
            Block("Lubricant", (), ("at", "into", "volume"), lubricant, frozenset({2})),
            Block(
                "Head passes",
                (),
                (f"in, {unit_label('length', system)}", "head at"),
                _passings(plan, system),
                frozenset({0}),
                tuple(hanging_words(plan, system)),
            ),
        ),
        ("Feed end", "Channel", "Stop word"),
    )


def _passings(plan: Plan, system: str) -> tuple[tuple[str, str], ...]:
    """Cable in and what the head passes there, in the order of the pull; bends from where to where.

    Of very many bends those that the gauge table has.
    """
    in_table = {row.pulled for row in plan.gauge if row.kind == "bend"}
    found = [
        (start, f"{footage(start, system)} to {footage(end, system)}", label)
        for label, start, end in bend_places(plan.pull)
        if len(in_table) < 2 * MOST_BENDS or {start, end} & in_table
    ]
    found += [
        (row.pulled, footage(row.pulled, system), row.place)
        for row in plan.gauge
        if row.place and row.kind != "bend"
    ]
    return tuple((at, name) for _, at, name in sorted(found, key=lambda one: one[0]))


def _spotter_card(plan: Plan, system: str) -> Card:
    return Card(
        "SPOTTERS",
        (),
        (
            Block(
                "",
                (
                    "Call when the head passes you. Hands off moving cable. Stay out of the line "
                    "of the rope and the bight. Anything wrong: say the stop word.",
                ),
                (f"in, {unit_label('length', system)}", "head at", "spotter"),
                tuple((*row, "") for row in _passings(plan, system)),
                frozenset({0}),
            ),
        ),
        ("Channel", "Stop word"),
    )


def _aloud_card(plan: Plan, system: str, told: Translation) -> Card:
    rows = tuple(
        (footage(line.pulled, system), line.said(system, told)) for line in lines_aloud(plan)
    )
    heads = (f"in, {unit_label('length', system)}", "say")
    return Card(
        "READ ALOUD", (), (Block("", (), heads, rows, frozenset({0})),), ("Channel", "Stop word")
    )


# --- the PDF -------------------------------------------------------------------------------------


def cards_data(job: Job, plan: Plan, system: str, told: Translation = AS_IT_IS) -> dict[str, Any]:
    """Everything the cards of one run show, as text in the language of ``told``."""
    place = plan.place
    run = f"Run {plan.result.run.name}" + ("" if place is None else f", {place.name}")
    data = {
        "title": Translated(job.title),
        "run": run,
        "examples": example_banner(job.examples),
        "example_words": BANNER if job.examples else "",
        "of": "of",
        "head_lines": math.ceil(len(run) / _HEAD),
        "never": NEVER_REPLACES,
        "mark": Translated(issue_of(job, "cards", system).words),
        "cards": [
            {
                "title": card.title,
                "facts": [list(fact) for fact in card.facts],
                "blocks": [
                    {
                        "title": block.title,
                        "words": list(block.words),
                        "heads": list(block.heads),
                        "rows": [list(row) for row in block.rows],
                        "numbers": sorted(block.numbers),
                        "stop": block.heads.index("STOP") if "STOP" in block.heads else -1,
                        "notes": list(block.notes),
                    }
                    for block in card.blocks
                ],
                "write": list(card.write),
            }
            for card in cards(plan, system, told)
        ],
    }
    return cast("dict[str, Any]", told.of_data(data))


def cards_pdf(
    job: Job,
    plans: Sequence[Plan],
    system: str,
    *,
    paper: str = "letter",
    draft: bool = False,
    told: Translation = AS_IT_IS,
) -> bytes:
    """The cards of all runs as one PDF, one side each; ``paper`` is "letter" or "a4".

    A ``draft`` has DRAFT across every card; of example values nothing else is made (InputError).
    """
    refuse_unconfirmed(job, draft, "card")
    refuse_coarse_marks(plans, job)
    data = {"size": SIZES[paper], "runs": [cards_data(job, plan, system, told) for plan in plans]}
    issue = issue_of(job, "cards", system, draft=draft)
    pdf = typeset("route3d.report", "cards.typ", data, draft=draft, attached=attachment(issue))
    return sealed(pdf)
