"""The day plan as table, CSV, workbook and JSON: who pulls what when, and how good the order is."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any

from rich.console import Group, RenderableType
from rich.text import Text

from route3d.model.examples import BANNER, example_banner, example_names
from route3d.model.job import Job
from route3d.model.schedule import Schedule
from route3d.report.columns import Column, Row, column_table, filled, rows_csv
from route3d.report.columns_xlsx import rows_xlsx
from route3d.report.json_result import Data, job_data
from route3d.report.layout import paragraph, titled
from route3d.study.day_plan.case import hours_words
from route3d.study.day_plan.outcome import DayPlan, PlacedPull
from route3d.study.day_plan.words import day_words, how_good
from route3d.units import render, show

_MINUTE = 60.0


@dataclass(frozen=True, slots=True)
class DayLine:
    """One pull in the table; ``new_day`` and ``new_crew`` say whether it is the first of them."""

    placed: PlacedPull
    new_day: bool
    new_crew: bool


@dataclass(frozen=True, slots=True)
class CrewLine:
    """What a crew does in the plan; times in s."""

    crew: str
    pulls: int
    days: int
    setups: int
    moves: int
    busy: float


def _clock(moment: datetime) -> str:
    return f"{moment:%H:%M}"


def _on_day(moment: datetime, placed: PlacedPull) -> str:
    """A time of a pull, with its weekday where that is not the day of the shift."""
    other = moment.date() != placed.day
    return (f"{day_words(moment).split()[0]} " if other else "") + _clock(moment)


def _times(seconds: float) -> str | None:
    return hours_words(seconds / _MINUTE) if seconds else None


TABLE: tuple[Column[DayLine], ...] = (
    Column("day", lambda x: day_words(x.placed.day) if x.new_day else ""),
    Column("crew", lambda x: x.placed.crew if x.new_crew else ""),
    Column("start", lambda x: _on_day(x.placed.start, x.placed)),
    Column("end", lambda x: _on_day(x.placed.end, x.placed)),
    Column("run", lambda x: x.placed.name),
    Column("feed from", lambda x: x.placed.feed),
    Column("pull at", lambda x: x.placed.pull),
    Column("machine", lambda x: x.placed.machine),
    Column("move", lambda x: _times(x.placed.move)),
    Column("stands\nthere", lambda x: "yes" if x.placed.reused else None),
    Column("set-up", lambda x: _times(x.placed.setup)),
    Column("pull", lambda x: _times(x.placed.work)),
    Column("window,\nor waits for", lambda x: x.placed.waits_for or None),
)
CREWS: tuple[Column[CrewLine], ...] = (
    Column("crew", lambda x: x.crew),
    Column("pulls", lambda x: float(x.pulls), "count"),
    Column("days", lambda x: float(x.days), "count"),
    Column("set-ups", lambda x: float(x.setups), "count"),
    Column("moves", lambda x: float(x.moves), "count"),
    Column("working", lambda x: x.busy, "crew time"),
)
FILE: tuple[Column[PlacedPull], ...] = (
    Column("day", lambda p: p.day),
    Column("crew", lambda p: p.crew),
    Column("start", lambda p: p.start),
    Column("end", lambda p: p.end),
    Column("run", lambda p: p.run),
    Column("stage", lambda p: p.stage or None),
    Column("feed from", lambda p: p.feed),
    Column("pull at", lambda p: p.pull),
    Column("machine", lambda p: p.machine),
    Column("move", lambda p: p.move, "time"),
    Column("set-up", lambda p: p.setup, "time"),
    Column("machine stands there already", lambda p: "yes" if p.reused else "no"),
    Column("pull time", lambda p: p.work, "time"),
    Column("window, or waits for", lambda p: p.waits_for or None),
)


def in_order(plan: DayPlan, schedule: Schedule) -> list[PlacedPull]:
    """The pulls by day, within a day by crew in the order of the file, then by time."""
    crews = [crew.name for crew in schedule.crews]
    return sorted(plan.pulls, key=lambda p: (p.day, crews.index(p.crew), p.start))


def day_lines(plan: DayPlan, schedule: Schedule) -> list[DayLine]:
    """The lines of the table."""
    lines: list[DayLine] = []
    for placed in in_order(plan, schedule):
        before = lines[-1].placed if lines else None
        new_day = before is None or before.day != placed.day
        new_crew = new_day or before is None or before.crew != placed.crew
        lines.append(DayLine(placed, new_day, new_crew))
    return lines


def crew_lines(plan: DayPlan, schedule: Schedule) -> list[CrewLine]:
    """What each crew does, those without a pull too."""
    lines = []
    for crew in schedule.crews:
        mine = [p for p in plan.pulls if p.crew == crew.name]
        lines.append(
            CrewLine(
                crew.name,
                len(mine),
                len({p.day for p in mine}),
                sum(not p.reused for p in mine),
                sum(p.move > 0 for p in mine),
                sum(((p.end - p.start) for p in mine), timedelta()).total_seconds(),
            )
        )
    return lines


# --- for a terminal -------------------------------------------------------------------------------


def days_report(job: Job, plan: DayPlan, schedule: Schedule, system: str) -> RenderableType:
    """The day plan for a terminal."""
    head = titled(schedule.title or job.title, example_banner(job.examples))
    parts: list[RenderableType] = [head]
    for run, why in plan.unplaced:
        parts.append(paragraph(f"Not in the plan: {run}: {why}.", style="bold red"))
    if not plan.pulls:
        return Group(*parts, paragraph("No pull has a place.", before=1))
    parts += [paragraph(text) for text in how_good(plan)]
    lines = day_lines(plan, schedule)
    parts += [Text(), column_table(lines, filled(lines, TABLE), system)]
    if len(schedule.crews) > 1:
        parts += [Text(), column_table(crew_lines(plan, schedule), CREWS, system)]
    parts += [paragraph(render(note, system), before=1) for note in plan.notes]
    parts.append(paragraph(_assumed(job, schedule, system), before=1))
    return Group(*parts)


def _assumed(job: Job, schedule: Schedule, system: str) -> str:
    """What the plan rests on, with the values used."""
    setup = hours_words(job.allowances.setup_time / _MINUTE)
    again = hours_words(schedule.setup_again / _MINUTE)
    move = hours_words(schedule.move / _MINUTE)
    near = show(schedule.same_place, "length", system)
    places = f"or within {near} of the first of them" if schedule.same_place else "or at one point"
    return (
        f"Hours by the pull plans, each part rounded up to a minute; set-up {setup} (setup_time), "
        f"{again} where the machine stands there already from the pull before by the same crew, "
        f"overnight too (setup_again); {move} from place to place (move), for a crew or for the "
        "machine it brings, whoever used that before; none for their first. "
        f"Pulling points of one name {places} are one place. A pull once begun is finished "
        "in the shift (common practice, no source). Windows and deliveries hold for set-up and "
        "pull, not for the move. Not modeled: breaks, travel to site, clearing up, two machines in "
        "each other's way."
    )


# --- files ----------------------------------------------------------------------------------------


def _marked(job: Job, columns: Sequence[Column[Row]]) -> tuple[Column[Row], ...]:
    """The columns of a file; where values of the job are examples the last one says so."""
    marked: Column[Row] = Column(BANNER, lambda _: example_names(job.examples))
    return (*columns, *([marked] if job.examples else []))


def days_csv(job: Job, plan: DayPlan, schedule: Schedule, system: str) -> str:
    """The pulls as CSV, times in the units of the heading."""
    return "".join(rows_csv(in_order(plan, schedule), _marked(job, FILE), system))


def days_xlsx(job: Job, plan: DayPlan, schedule: Schedule, system: str) -> bytes:
    """The pulls, the crews and what has no place as a workbook; the same plan, the same bytes."""
    left: tuple[Column[tuple[str, str]], ...] = (
        Column("run", lambda x: x[0]),
        Column("why", lambda x: x[1]),
    )
    tables: list[tuple[str, Sequence[Any], Sequence[Column[Any]]]] = [
        ("day plan", in_order(plan, schedule), _marked(job, FILE)),
        ("crews", crew_lines(plan, schedule), _marked(job, CREWS)),
    ]
    if plan.unplaced:
        tables.append(("not in the plan", plan.unplaced, _marked(job, left)))
    return rows_xlsx(schedule.title or job.title, tables, system)


def days_data(job: Job, plan: DayPlan, schedule: Schedule) -> Data:
    """The day plan for machines, in SI; moments as ISO 8601 in the time of the site."""
    return {
        **job_data(job),
        "finish": None if plan.finish is None else plan.finish.isoformat(),
        "earliest_finish": None if plan.earliest is None else plan.earliest.isoformat(),
        "best_possible": plan.best,
        "working_time_s": plan.value,
        "working_time_bound_s": plan.bound,
        "above_bound": plan.above,
        "fewest_setups_and_moves": plan.fewest,
        "days": plan.days,
        "setups": plan.setups,
        "moves": sum(p.move > 0 for p in plan.pulls),
        "solver": plan.solver,
        "pulls": list(days_rows(plan, schedule)),
        "unplaced": [{"run": run, "why": why} for run, why in plan.unplaced],
        "notes": [render(note, "SI") for note in plan.notes],
    }


def days_rows(plan: DayPlan, schedule: Schedule) -> Iterator[Data]:
    """One dict for each pull, by day and crew."""
    for p in in_order(plan, schedule):
        yield {
            "run": p.run,
            "stage": p.stage or None,
            "feed": p.feed,
            "pull": p.pull,
            "place": p.place,
            "crew": p.crew,
            "machine": p.machine,
            "day": p.day.isoformat(),
            "start": p.start.isoformat(),
            "end": p.end.isoformat(),
            "move_s": p.move,
            "setup_s": p.setup,
            "pull_s": p.work,
            "stands_there_already": p.reused,
            "waits_for": p.waits_for or None,
        }
