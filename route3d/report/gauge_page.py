"""The gauge table as a crew works with it: at the marks of the dial, boxes to write in, a QR code.

The code carries the same table as plain text, for a phone that has no file and no network.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import groupby
from typing import Any

from route3d.errors import InputError, Problem
from route3d.language import AS_IT_IS, Translated, Translation
from route3d.model.job import Job
from route3d.planning.pull_plan.dial import (
    NO_WARNING,
    TOO_COARSE,
    DialRow,
    dial_rows,
    mark_below,
    mark_nearest,
)
from route3d.planning.pull_plan.plan import Plan
from route3d.planning.pull_plan.progress import gear_name
from route3d.report.plan_blocks import gauge_block, limit_words, reel_setting, weightiest
from route3d.report.plan_steps import rest_words
from route3d.units import convert, decimals_of, rounded, show, unit_label

NEVER_REPLACES = "This table never replaces the limiter, the operator or the word that stops."
"""Last line of whatever tells the crew a reading."""


def bare(value: float, quantity: str, system: str) -> str:
    """A value as shown, without its unit, for a column that has the unit in its head."""
    return show(value, quantity, system).removesuffix(unit_label(quantity, system)).strip()


def footage(pulled: float, system: str) -> str:
    """Whole feet or meters of cable in as a figure of a column."""
    text = show(pulled, "length", system, decimals=0)
    return text.removesuffix(unit_label("length", system)).strip()


def at_mark(load: float, system: str) -> str:
    """A load at a mark of the dial as a figure of a column; never above it, "-" for none."""
    return "-" if math.isinf(load) else bare(rounded(load, "force-", system), "force", system)


def mark_notes(rows: Sequence[DialRow], plan: Plan, system: str) -> tuple[str, ...]:
    """How the marks of the dial were used, and what applies where they are too far apart."""
    step = show(plan.pace.allowances.gauge_step, "force", system)
    notes = [f"Rounded to marks of {step}: Stop down, the others to the nearest mark."]
    for rule, words in _RULES.items():
        places = [
            show(each.row.pulled, "length", system, decimals=0)
            for each in rows
            if each.rule == rule
        ]
        if places:
            notes.append(f"At {', '.join(places)}: {words}")
    if any(math.isinf(each.stop) for each in rows):
        notes.append("Where Stop is '-' the gauge cannot show the limit: read the reel tension.")
    if not all(each.row.readable for each in rows):
        blind = dict.fromkeys(
            gear_name(each.row.gear, plan.machine) for each in rows if not each.row.readable
        )
        notes.append(f"In {', '.join(blind)} the gauge is not accurate: read the dynamometer.")
    return tuple(notes)


def refuse_coarse_marks(plans: Sequence[Plan], job: Job) -> None:
    """InputError where a Stop is below the first mark of the dial: nobody could read it."""
    step = job.allowances.gauge_step
    for plan in plans:
        lowest = min((row.stop for row in plan.gauge), default=math.inf)
        if plan.stops or mark_below(lowest, step) > 0:
            continue
        marks, stop = (show(load, "force", job.units) for load in (step, lowest))
        raise InputError(
            Problem(
                f"marks of {marks} are too far apart for run {plan.result.run.name}: its lowest "
                f"Stop is {stop}",
                "[plan] gauge_step",
                "enter the marks of the gauge that is used, or use a gauge with finer marks",
                str(job.path) if job.path else "",
            )
        )


_RULES = {
    NO_WARNING: "Caution is the same mark as Stop. There is no warning: Stop applies.",
    TOO_COARSE: "the expected reading is above the last mark below Stop. Use a gauge with finer "
    "marks, or get the engineer's OK before you pull here. Stop applies.",
}


# --- the page ------------------------------------------------------------------------------------


def gauge_page(
    plan: Plan, system: str, most: int | None, told: Translation = AS_IT_IS
) -> dict[str, Any]:
    """The page of the gauge table of a sheet; at most so many rows, with boxes to write in."""
    kept = plan.gauge if most is None else weightiest(plan.gauge, most)
    rows = dial_rows(plan.gauge, plan.pace.allowances.gauge_step, kept)
    force, length = (unit_label(quantity, system) for quantity in ("force", "length"))
    by_brake = any(each.row.expected_high > each.row.expected_low for each in rows)
    first_moves = any(each.first_move is not None for each in rows)
    gears = len({each.row.gear for each in rows}) > 1
    columns = [
        (f"cable in, {length}", [footage(each.row.pulled, system) for each in rows]),
        ("head at", [each.row.place or "-" for each in rows]),
        *([("gear", [gear_name(each.row.gear, plan.machine) for each in rows])] * gears),
        *([(f"first move, {force}", [_first_move(each, system) for each in rows])] * first_moves),
        (f"expected, {force}", [at_mark(each.expected, system) for each in rows]),
        *([(f"by brake, {force}", [_by_brake(each, plan, system) for each in rows])] * by_brake),
        (f"caution, {force}", [at_mark(each.caution, system) for each in rows]),
        (f"STOP, {force}", [at_mark(each.stop, system) for each in rows]),
        ("reading", [""] * len(rows)),
        ("time", [""] * len(rows)),
    ]
    heads = [head for head, _ in columns]
    left_out = len(plan.gauge) - len(rows)
    notes = [
        *gauge_block(plan, system).notes,
        *mark_notes(rows, plan, system),
        *(("The gauge is accurate in every gear used.",) if _all_accurate(rows) else ()),
        f"Limit reached first: {_limits(rows, plan, system)}.",
        "Between two rows the lower Caution and the lower Stop apply."
        + (f" {left_out} rows not shown; the plan on screen has all." if left_out else ""),
        NEVER_REPLACES,
    ]
    code = gauge_code(plan, system, told)
    return {
        "title": "Gauge readings",
        "heads": heads,
        "rows": [list(row) for row in zip(*(cells for _, cells in columns), strict=True)],
        "words": [i for i, head in enumerate(heads) if head in ("head at", "gear")],
        "bold": heads.index(f"STOP, {force}"),
        "boxes": [len(heads) - 2, len(heads) - 1],
        "notes": notes,
        "code": Translated(code.svg),
        "code_words": code.words,
    }


def _all_accurate(rows: Sequence[DialRow]) -> bool:
    return all(each.row.readable for each in rows)


def _first_move(each: DialRow, system: str) -> str:
    return "-" if each.first_move is None else at_mark(each.first_move, system)


def _by_brake(each: DialRow, plan: Plan, system: str) -> str:
    step = plan.pace.allowances.gauge_step
    low, high = (
        at_mark(min(mark_nearest(load, step), each.stop), system)
        for load in (each.row.expected_low, each.row.expected_high)
    )
    return low if low == high else f"{low} to {high}"


def _limits(rows: Sequence[DialRow], plan: Plan, system: str) -> str:
    """The limit of each stretch of rows, in one line."""
    parts = []
    for limit, group in groupby(rows, key=lambda each: limit_words(each.row, plan)):
        here = list(group)
        start, end = footage(here[0].row.pulled, system), footage(here[-1].row.pulled, system)
        at = start if start == end else f"{start} to {end}"
        parts.append(f"{at} {unit_label('length', system)}, {limit or 'none'}")
    return "; ".join(parts)


# --- the code ------------------------------------------------------------------------------------

CODE_SIZE = 44.0
"""Edge of the printed code with its quiet zone, mm."""
LEAST_MODULE = 0.4
"""Modules of this size (mm) are read off paper by a phone (common practice, no source)."""
_QUIET = 4


@dataclass(frozen=True, slots=True)
class GaugeCode:
    """A QR code as ``svg`` with the ``text`` it carries, and ``words`` for beside it.

    ``svg`` and ``text`` are empty where not even the ends of the table fit.
    """

    svg: str
    text: str
    words: str


def gauge_code(plan: Plan, system: str, told: Translation = AS_IT_IS) -> GaugeCode:
    """The gauge table as a QR code of error level M, with as many rows as a phone can read.

    Rows are omitted, those that matter least first, until a module prints at 0.4 mm or more.
    """
    import segno

    most_modules = int(CODE_SIZE / LEAST_MODULE) - 2 * _QUIET
    version = min((most_modules - 17) // 4, 40)
    for count in range(len(plan.gauge), 1, -1):
        text = code_text(plan, system, count, told)
        try:
            made = segno.make_qr(
                text, error="m", version=version, encoding="utf-8", boost_error=False
            )
        except segno.DataOverflowError:
            continue
        # in the smallest version that holds it, its modules are largest
        made = segno.make_qr(text, error="m", encoding="utf-8", boost_error=False)
        said = "Scan: this table as text, for a phone without the file."
        if count < len(plan.gauge):
            said += f" {count} of {len(plan.gauge)} rows; the others did not fit."
        return GaugeCode(made.svg_inline(border=_QUIET, omitsize=True), text, said)
    return GaugeCode("", "", "No QR code: the table does not fit one that a phone reads.")


def code_text(plan: Plan, system: str, most: int, told: Translation = AS_IT_IS) -> str:
    """What the code carries: run, feed, brake, and rows in the units of the table."""
    return "\n".join(told.of(line) for line in _code_lines(plan, system, most))


def _code_lines(plan: Plan, system: str, most: int) -> Iterator[str]:
    place, pull = plan.place, plan.pull
    run = plan.result.run.name + ("" if place is None else f", {place.name}")
    force, length = (unit_label(quantity, system) for quantity in ("force", "length"))
    yield f"Run {run}: feed {pull.feed_name}, pull {pull.pull_name}"
    if plan.feeding.off_reel:
        yield f"Reels, total: {reel_setting(plan, system)}"
    else:
        yield "No reels: feed by hand from the figure eights"
    yield from rest_words(plan, system)
    yield f"cable in {length}: expected / caution / STOP {force}"
    kept = weightiest(plan.gauge, most)
    for each in dial_rows(plan.gauge, plan.pace.allowances.gauge_step, kept):
        loads = (_plain(load, system) for load in (each.expected, each.caution, each.stop))
        yield f"{footage(each.row.pulled, system).replace(',', '')}: {' / '.join(loads)}"
    yield "Between two rows the lower Caution and the lower STOP apply."
    if most < len(plan.gauge):
        yield f"{len(plan.gauge) - most} rows omitted."
    yield NEVER_REPLACES


def _plain(load: float, system: str) -> str:
    """A load at a mark in the fewest characters."""
    if math.isinf(load):
        return "-"
    shown = convert(rounded(load, "force-", system), "force", system)
    text = f"{shown:.{decimals_of(shown, 'force', system)}f}"
    return text.rstrip("0").rstrip(".") if "." in text else text
