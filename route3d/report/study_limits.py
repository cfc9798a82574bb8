"""How far each input may go: a table for each end, CSV, workbook and JSON."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from rich.console import Group, RenderableType
from rich.text import Text

from route3d.model.examples import BANNER, example_names
from route3d.model.job import Job
from route3d.quantities import QUANTITIES
from route3d.report.columns import Column, columns_csv
from route3d.report.columns_xlsx import rows_xlsx
from route3d.report.json_result import Data, job_data
from route3d.report.layout import heading, paragraph, table
from route3d.report.words import place
from route3d.study.limits.outcome import (
    ByBoth,
    EndLimits,
    FarthestValue,
    FrictionLimits,
    Limits,
    StockChoice,
)
from route3d.units import convert, render, show, show_marked, unit_label

WORDS = {
    "friction": "largest friction",
    "longest straight": "longest straight",
    "bend radius": "smallest bend radius",
    "cable diameter": "largest cable",
    "set weight": "heaviest set",
    "machine": "smallest machine",
    "rope": "smallest rope",
}
"""What a table calls the farthest value of an input."""

MUST_NOT = "The run must not be pulled as planned: see route3d check."
"""First of what is said of a run that is stopped."""

NOTES = (
    "One input changed at a time, all others as planned. A reel tension left to the program is set "
    "anew for each value. Friction of all conduits: one factor on every conduit and the rope. A "
    "longer straight moves everything behind it. Cable diameter: diameter alone, weight and "
    "conductor as planned; fill, clearance and a jam ratio of concern count. Smallest machine: "
    "line pull of its strongest gear, other gears in proportion. Checked as by route3d check; "
    "gears, anchor and rigging are those of route3d plan."
)
_FAILED = (
    "Not acceptable from this end as planned. Farthest: what this input alone would have to be; "
    "none where no value of it passes."
)
# More room than this is said to be more: the figure itself tells nothing.
_MUCH = 10.0


# --- for a terminal -------------------------------------------------------------------------------


def limits_report(job: Job, found: Sequence[Limits], system: str) -> RenderableType:
    """The farthest value of every input of every run from each end, for a terminal."""
    parts: list[RenderableType] = [heading(job)]
    for run in found:
        cables = run.run.cables.describe()
        parts.append(paragraph(f"Run {run.run.name}: {cables}", style="bold", before=1))
        if run.stops:
            parts.append(paragraph(MUST_NOT))
        for number, end in enumerate(run.ends):
            parts += _end_report(end, system, planned=number == run.planned)
    return Group(*parts, paragraph(NOTES, before=1))


def _end_report(end: EndLimits, system: str, *, planned: bool) -> Iterator[RenderableType]:
    chosen = " (planned)" if planned else ""
    said = f"Feed from {end.feed}, pull at {end.pull}{chosen}"
    yield paragraph(said, style="bold", before=1)
    if end.barred:
        words = f"Ruled out: {render(end.barred, system)}. The values are those with access."
        yield paragraph(words)
    if not end.passes:
        yield paragraph(_FAILED, style="bold red")
    heads = ["", "of", "planned", "farthest", "room", "limit reached first", "where"]
    rows = [_row(value, system) for value in end.values]
    yield table(heads, rows, numbers={2, 3, 4})
    for words in _sentences(end, system):
        yield paragraph(words)


def _row(value: FarthestValue, system: str) -> list[str | Text]:
    style = "bold red" if value.farthest is None or (value.room or 0.0) < 0 else ""
    return [
        WORDS[value.input],
        value.name,
        planned_words(value, system),
        Text(farthest_words(value, system), style=style),
        room_words(value, system),
        value.first or "-",
        place(value.where, value.station, system) or "-",
    ]


def planned_words(value: FarthestValue, system: str) -> str:
    """The planned value with its unit; "-" where the run has none."""
    return "-" if math.isnan(value.planned) else _shown(value, value.planned, "", system)


def farthest_words(value: FarthestValue, system: str) -> str:
    """The farthest value with its unit, rounded to the side that passes."""
    if value.farthest is None:
        return "no radius here helps" if value.input == "bend radius" else "none"
    if value.unlimited:
        return "no limit"
    return _shown(value, value.farthest, "-" if value.at_most else "+", system)


def _shown(value: FarthestValue, number: float, toward: str, system: str) -> str:
    times = "x " if value.quantity == "factor" else ""
    return times + show_marked(number, value.quantity + toward, system)


def room_words(value: FarthestValue, system: str) -> str:
    """What is left of the planned value; empty of figures where there is none."""
    if value.room is None:
        return "-"
    if value.room > _MUCH:
        return f"over {show(_MUCH, 'percent', system)}"
    return show(value.room, "fine percent" if abs(value.room) < 0.1 else "percent", system)


def both_friction_words(both: ByBoth | None, system: str) -> Iterator[str]:
    """Where friction falls above a contact load: utilization and largest friction by both."""
    if both is not None:
        constant, by_pressure = (
            _of_friction(each, system) for each in (both.constant, both.by_pressure)
        )
        yield (
            f"Friction by pressure: constant friction {constant}; by pressure {by_pressure}. "
            f"Decides: {both.decides}."
        )
        if both.by_pressure.farthest is not None:
            yield "Largest friction: the friction it falls to is multiplied by the same factor."


def special_words(end: EndLimits, system: str) -> Iterator[str]:
    """The bends whose least radius is one that takes a special bender or elbow."""
    names: dict[float, list[str]] = {}
    for value in end.values:
        least, special = value.farthest, value.special
        if least is not None and special is not None and least < special * (1 - 1e-6):
            names.setdefault(special, []).append(value.name)
    for radius, of in names.items():
        yield (
            "The smallest radius counts stops only. A bend below "
            f"{show(radius, 'radius', system)} requires a one-shot or full-shoe bender (metal "
            f"conduit), or a special elbow: a caution of route3d check ({', '.join(of)})."
        )


def _of_friction(limits: FrictionLimits, system: str) -> str:
    words = f"utilization {show(limits.utilization, 'percent', system)}"
    if limits.farthest is None:
        return words
    return f"{words}, all friction at most {farthest_words(limits.farthest, system)}"


def _sentences(end: EndLimits, system: str) -> Iterator[str]:
    """Both frictions, the longest straight there may be, and what machine and rope to look for."""
    yield from both_friction_words(end.by_both, system)
    yield from special_words(end, system)
    longest = end.longest
    if longest is not None and not longest.unlimited:
        most = farthest_words(longest, system)
        yield f"Longest straight of all: {longest.name}, at most {most}."
    for value in end.values:
        if value.input in ("machine", "rope") and value.farthest is not None:
            own, stock = (_choice(c, system) for c in (value.own, value.stock))
            what = WORDS[value.input].capitalize()
            yield f"{what} that passes: own {own}; built-in tables {stock}."


def _choice(choice: StockChoice | None, system: str) -> str:
    return "none" if choice is None else f"{choice.name} ({show(choice.rated, 'force', system)})"


# --- files ----------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class LimitLine:
    """One line of a file: one value from one end, its numbers in the units of the file."""

    run: str
    end: EndLimits
    value: FarthestValue
    system: str

    def number(self, value: float | None, toward: int = 0) -> float | str:
        """A value in the unit of the line, to six digits; in words where it is none.

        ``toward`` -1 rounds down and 1 up, so that a farthest value still passes.
        """
        if value is None:
            return "none"
        if math.isnan(value):
            return ""
        number = convert(value, self.value.quantity, self.system)
        if not (number and math.isfinite(number)):
            return number
        step = math.floor(math.log10(abs(number))) - 5
        scaled = number * 10.0**-step
        near = {0: round(scaled), -1: math.floor(scaled + 1e-6), 1: math.ceil(scaled - 1e-6)}
        return float(f"{near[toward]}e{step}")


# Numbers are in the unit of their line: a column of one quantity has none of its own.
COLUMNS: tuple[Column[LimitLine], ...] = (
    Column("feed from", lambda x: x.end.feed),
    Column("pull at", lambda x: x.end.pull),
    Column("passes as planned", lambda x: "yes" if x.end.passes and not x.end.barred else "no"),
    Column("input", lambda x: WORDS[x.value.input]),
    Column("of", lambda x: x.value.name),
    Column("unit", lambda x: unit_label(x.value.quantity, x.system)),
    Column("planned", lambda x: x.number(x.value.planned), "factor"),
    Column(
        "farthest",
        lambda x: (
            "no limit"
            if x.value.unlimited
            else x.number(x.value.farthest, -1 if x.value.at_most else 1)
        ),
        "factor",
    ),
    Column("room", lambda x: x.value.room, "fine percent"),
    Column("limit reached first", lambda x: x.value.first),
    Column("where", lambda x: place(x.value.where, x.value.station, x.system)),
    Column("own that passes", lambda x: "" if x.value.own is None else x.value.own.name),
    Column("built-in that passes", lambda x: "" if x.value.stock is None else x.value.stock.name),
)


def _lines(run: Limits, system: str) -> list[LimitLine]:
    return [LimitLine(run.run.name, end, v, system) for end in run.ends for v in end.values]


def limits_csv(job: Job, found: Sequence[Limits], system: str) -> str:
    """The values of every run as CSV, numbers in the unit of their line."""
    groups = ((run.run.name, _lines(run, system)) for run in found)
    return columns_csv(job, groups, COLUMNS, system)


def limits_xlsx(job: Job, found: Sequence[Limits], system: str) -> bytes:
    """The values of every run as a workbook; the same job gives the same bytes."""
    marked: Column[LimitLine] = Column(BANNER, lambda _: example_names(job.examples))
    of_run: Column[LimitLine] = Column("run", lambda x: x.run)
    columns = (of_run, *COLUMNS, *([marked] if job.examples else []))
    lines = [line for run in found for line in _lines(run, system)]
    return rows_xlsx(job.title, [("limits", lines, columns)], system)


def limits_data(job: Job, found: Sequence[Limits]) -> Data:
    """The limits for machines, in SI.

    Of each run ``planned`` is the number of the planned end in ``ends``. Of each value ``unit`` is
    that of ``planned``, ``farthest`` and ``beyond``; ``farthest`` is null where no value passes,
    and ``unlimited`` true where no value breaks a limit.
    """
    return {
        **job_data(job),
        "runs": [
            {
                "name": run.run.name,
                "must_not_be_pulled": run.stops,
                "planned": run.planned,
                "ends": [_end_data(end) for end in run.ends],
            }
            for run in found
        ],
    }


def _end_data(end: EndLimits) -> Data:
    return {
        "feed": end.feed,
        "pull": end.pull,
        "reverse": end.reverse,
        "passes": end.passes,
        "barred": render(end.barred, "SI"),
        "values": [_value_data(value) for value in end.values],
        **_both_data(end.by_both),
        "station_m": end.stations.tolist(),
        "shares": [{"limit": name, "share": share.tolist()} for name, share in end.shares],
    }


def _both_data(both: ByBoth | None) -> Data:
    """Both frictions where one falls above a contact load; else nothing."""
    if both is None:
        return {}
    told = {"constant": both.constant, "by_pressure": both.by_pressure}
    found: Data = {
        name: {
            "utilization": each.utilization,
            "all_friction": None if each.farthest is None else _value_data(each.farthest),
        }
        for name, each in told.items()
    }
    return {"by_both_frictions": {**found, "decides": both.decides}}


def _value_data(value: FarthestValue) -> Data:
    return {
        "input": value.input,
        "of": value.name,
        "quantity": value.quantity,
        "unit": QUANTITIES[value.quantity].si,
        "planned": value.planned,
        "farthest": value.farthest,
        "beyond": value.beyond,
        "unlimited": value.unlimited,
        "at_most": value.at_most,
        "room": value.room,
        "limit_reached_first": value.first,
        "where": place(value.where, value.station, "SI"),
        "station_m": value.station,
        "special_below": value.special,
        "own": _choice_data(value.own),
        "stock": _choice_data(value.stock),
    }


def _choice_data(choice: StockChoice | None) -> Data | None:
    return None if choice is None else {"name": choice.name, "rated_N": choice.rated}
