"""The chapter "Sensitivity": how sure a run is and how far its inputs may go, in parts.

Report and page set the same parts out, each in its own way.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from route3d.drawing.picture import Picture, picture_file
from route3d.drawing.study_charts.limits import limits_chart
from route3d.drawing.study_charts.sheet import WIDE
from route3d.drawing.study_charts.spread import spread_charts
from route3d.model.practice import Practice
from route3d.report.block import Block
from route3d.report.document import Figures, Heading, Part, Table, Words
from route3d.report.study_limits import (
    MUST_NOT,
    NOTES,
    WORDS,
    both_friction_words,
    farthest_words,
    planned_words,
    room_words,
    special_words,
)
from route3d.report.study_spread import (
    INPUT_HEADS,
    WHAT_COUNTS,
    accuracy_words,
    answer_words,
    caution_words,
    input_notes,
    input_row,
    limit_heads,
    limit_rows,
    passing_by_both,
    reel_words,
    shape_words,
)
from route3d.report.words import place
from route3d.study.limits.outcome import EndLimits, Limits
from route3d.study.spread.outcome import Spread

_WIDE = 0.85  # of the page: a table and its picture fit on one


@dataclass(frozen=True, eq=False)
class Sensitivity:
    """The spread and the limits of one run, worked by its ``practice``."""

    spread: Spread
    limits: Limits
    practice: Practice


def sensitivity_parts(found: Sensitivity, system: str, wide: int = WIDE) -> Iterator[Part]:
    """What the studies of one run came to: tables, and pictures ``wide`` px."""
    yield from _spread(found, system, wide)
    yield from _limits(found.limits, system, wide)


def _figure(picture: Picture, words: str) -> Figures:
    svg = picture_file(picture, ".svg")
    assert isinstance(svg, str)
    return Figures(((svg, words, _WIDE),))


# --- the spread ----------------------------------------------------------------------------------


def _spread(found: Sensitivity, system: str, wide: int) -> Iterator[Part]:
    spread = found.spread
    yield Heading("How sure: spread of the inputs")
    cautions = caution_words(spread, system)
    yield Words((*answer_words(spread), *passing_by_both(spread), *cautions))
    heads = limit_heads(spread)
    rows = tuple(limit_rows(found.practice, spread, system))
    yield Table(Block("", (), heads, rows), "Probability of reaching each limit")
    yield Words((WHAT_COUNTS, *reel_words(spread, system)), small=True)
    rows = tuple(input_row(each, system) for each in spread.varying)
    yield Heading("Uncertain inputs")
    yield Table(Block("", (), INPUT_HEADS, rows, frozenset({1, 2, 3, 4})), "Uncertain inputs")
    sure = f"{spread.count:,} scenarios."
    notes = (*input_notes(spread), sure, *accuracy_words(spread), shape_words(spread))
    yield Words(notes, small=True)
    drawn = spread_charts(spread, found.practice, system, wide)
    yield _figure(drawn.tension, "Percentiles of the cable tension at each place, all cable in")
    if drawn.sidewall is not None:
        yield _figure(drawn.sidewall, "Percentiles of the sidewall pressure in each bend")
    if drawn.gauge is not None:
        yield _figure(drawn.gauge, "Percentiles of the load at the machine, by cable in")
    yield _figure(drawn.reached, "Share of the scenarios in which a limit has been reached by then")
    yield _figure(drawn.importance, "Highest utilization with one input low and high")


# --- the limits ----------------------------------------------------------------------------------


def _limits(limits: Limits, system: str, wide: int) -> Iterator[Part]:
    yield Heading("How far each input may go")
    if limits.stops:
        yield Words((MUST_NOT,))
    for number in (limits.planned, 1 - limits.planned):
        end = limits.ends[number]
        chosen = " (planned)" if number == limits.planned else ""
        passes = "" if end.passes else " Not acceptable as planned."
        yield Words((f"Fed from {end.feed}, pulled at {end.pull}{chosen}.{passes}",))
        yield Table(_farthest(end, system), f"Farthest values, fed from {end.feed}")
        notes = (*both_friction_words(end.by_both, system), *special_words(end, system))
        if notes:
            yield Words(notes)
    yield Words((NOTES,), small=True)
    words = "Share of each limit at each place as planned, and the least radius of each bend"
    yield _figure(limits_chart(limits, system, wide), words)


def _farthest(end: EndLimits, system: str) -> Block:
    rows, heavy = [], set()
    for number, value in enumerate(end.values):
        rows.append(
            (
                WORDS[value.input],
                value.name,
                planned_words(value, system),
                farthest_words(value, system),
                room_words(value, system),
                value.first or "-",
                place(value.where, value.station, system) or "-",
            )
        )
        if value.farthest is None or (value.room or 0.0) < 0:
            heavy.add(number)
    heads = ("", "of", "planned", "farthest", "room", "limit reached first", "where")
    return Block("", (), heads, tuple(rows), frozenset({2, 3, 4}), (), frozenset(heavy))
