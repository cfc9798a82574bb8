"""The chapter "Sensitivity": how sure a run is and how far its inputs may go, in parts.

Report and page set the same parts out, each in its own way.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

from route3d.drawing.picture import Picture, picture_file
from route3d.drawing.study_charts.limits import limits_chart
from route3d.drawing.study_charts.spread import chance, spread_charts
from route3d.model.practice import Practice
from route3d.report.block import Block
from route3d.report.document import Figures, Heading, Part, Table, Words
from route3d.report.study_limits import NOTES, WORDS, farthest_words, room_words
from route3d.report.words import place
from route3d.study.limits.outcome import EndLimits, Limits
from route3d.study.spread.outcome import InputSpread, Spread
from route3d.units import show, show_marked

_SPREAD = (
    "Every scenario is solved by the same laws as the plan, with the reels held as planned. A "
    "probability is that of the inputs as spread here: it is no better known than they are."
)


@dataclass(frozen=True, eq=False)
class Sensitivity:
    """The spread and the limits of one run, worked by its ``practice``."""

    spread: Spread
    limits: Limits
    practice: Practice


def sensitivity_parts(found: Sensitivity, system: str) -> Iterator[Part]:
    """What the studies of one run came to: tables with a picture each."""
    yield from _spread(found, system)
    yield from _limits(found.limits, system)


def _figure(picture: Picture, share: float = 1.0) -> Figures:
    svg = picture_file(picture, ".svg")
    assert isinstance(svg, str)
    return Figures(((svg, picture.title, share),))


# --- the spread ----------------------------------------------------------------------------------


def _spread(found: Sensitivity, system: str) -> Iterator[Part]:
    spread = found.spread
    yield Heading("Spread of the inputs")
    yield Words(tuple(_spread_words(spread)))
    yield Table(_chances(spread), "Probability of reaching each limit")
    yield Heading("What the inputs were taken to be")
    heads = ("input", "shape", "5th percentile", "median", "95th percentile", "source")
    rows = tuple(_input_row(each, system) for each in spread.varying)
    yield Table(Block("", (), heads, rows, frozenset({2, 3, 4})), "Inputs and their spread")
    if spread.pairs:
        pairs = "; ".join(f"{a} with {b}: {value:g}" for a, b, value in spread.pairs)
        yield Words((f"Correlation: {pairs}.",))
    yield Words((_SPREAD,), small=True)
    for picture in spread_charts(spread, found.practice, system).each:
        yield _figure(picture)


def _spread_words(spread: Spread) -> Iterator[str]:
    planned, other = spread.ends[spread.planned], spread.ends[1 - spread.planned]
    yield (
        f"Fed from {planned.feed}, the run passes with a probability of {chance(planned.passes)}; "
        f"from {other.feed} with {chance(other.passes)}. The other end has the lower utilization "
        f"in {chance(spread.other_better)} of the scenarios."
    )
    if spread.turns_at is None:
        yield "The choice of the end does not turn with friction."
    else:
        yield (
            f"The choice of the end turns where all friction is {spread.turns_at:.2f} times its "
            "median."
        )
    at_rest = "" if spread.settled else " The probabilities had not come to rest: ask for more."
    yield f"{spread.count:,} scenarios, seed {spread.seed}.{at_rest}"


def _chances(spread: Spread) -> Block:
    """Limit by limit the probability from both ends, the end of the plan first."""
    ends = (spread.ends[spread.planned], spread.ends[1 - spread.planned])
    known = [{c.limit: c for c in end.chances} for end in ends]
    rows = []
    for limit in dict.fromkeys(name for chances in known for name in chances):
        row = [limit]
        for chances in known:
            at = chances.get(limit)
            row += (
                ["-", "-"] if at is None else [_likely(at.probability, at.error), at.where or "-"]
            )
        rows.append(tuple(row))
    whole = ["any limit"]
    for end in ends:
        whole += [_likely(1.0 - end.passes, end.passes_error), "-"]
    heads = ("limit", *(h for end in ends for h in (f"feed {end.feed}", "most often at")))
    return Block("", (), heads, (*rows, tuple(whole)), frozenset({1, 3}))


def _likely(probability: float, error: float) -> str:
    """A probability with its standard error, where that shows."""
    doubt = f" ± {100 * error:.1f}" if error >= 0.0005 and 0 < probability < 1 else ""
    return chance(probability) + doubt


def _input_row(each: InputSpread, system: str) -> tuple[str, ...]:
    figures = (show_marked(v, each.quantity, system) for v in (each.low, each.median, each.high))
    return (each.name, each.shape, *figures, each.source)


# --- the limits ----------------------------------------------------------------------------------


def _limits(limits: Limits, system: str) -> Iterator[Part]:
    yield Heading("How far each input may go")
    for number in (limits.planned, 1 - limits.planned):
        end = limits.ends[number]
        chosen = " (plan)" if number == limits.planned and not limits.stops else ""
        passes = "" if end.passes else " Not acceptable as planned."
        yield Words((f"Fed from {end.feed}, pulled at {end.pull}{chosen}.{passes}",))
        yield Table(_farthest(end, system), f"Farthest values, fed from {end.feed}")
    yield Words((NOTES,), small=True)
    yield _figure(limits_chart(limits, system))


def _farthest(end: EndLimits, system: str) -> Block:
    rows, heavy = [], set()
    for number, value in enumerate(end.values):
        planned = math.isnan(value.planned)
        times = "x " if value.quantity == "factor" else ""
        rows.append(
            (
                WORDS[value.input],
                value.name,
                "-" if planned else times + show(value.planned, value.quantity, system),
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
