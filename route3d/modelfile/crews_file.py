"""The crews file: who works when with which machine, and what the pulls must wait for.

A TOML file of its own beside the model file, because crews and dates change from week to week and
the model does not; the same file serves a model in TOML and a job workbook.
"""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Iterable, Sequence
from pathlib import Path
from typing import Annotated, Any

from pydantic import GetJsonSchemaHandler, ValidationError
from pydantic_core import CoreSchema

from route3d.disk import MEGABYTE, read_text
from route3d.errors import InputError
from route3d.model.job import Job
from route3d.model.schedule import WEEKDAYS, Crew, Delivery, Outage, Schedule
from route3d.modelfile.fields import (
    Counts,
    Entry,
    JsonSchema,
    LeastDuration,
    Name,
    OneOf,
    Reads,
    ReadsPlain,
    Text,
    brief,
    key,
    nearest,
    refuse,
)
from route3d.modelfile.places import told
from route3d.modelfile.problems import Collector
from route3d.modelfile.toml_positions import KeyPath, read_toml

LONGEST_SHIFT = dt.timedelta(hours=14)
"""Own judgment: a longer one is a slip of the hours."""
LONGEST_PLAN = dt.timedelta(days=730)
"""Own judgment: a date farther from the first day is a slip of the year."""
_HOURS = re.compile(r"\s*(\d{1,2}):(\d\d)\s*(?:-|to|–)\s*(\d{1,2}):(\d\d)\s*")
_DATE, _MOMENT = "2026-06-01", "2026-06-01 07:00"

Hours = tuple[dt.time, dt.time]


class ReadsHours(ReadsPlain):
    """Annotation of the hours of a shift, such as ``07:00-15:30``."""

    def read(self, value: Any) -> Hours:
        """Start and end; an end before the start is on the next day."""
        found = _HOURS.fullmatch(value) if isinstance(value, str) else None
        try:
            a, b, c, d = map(int, found.groups()) if found else (24, 0, 0, 0)
            hours = dt.time(a, b), dt.time(c, d)
        except ValueError:
            said = f"{brief(value)} is not the hours of a shift"
            raise refuse(said, 'enter start and end, such as "07:00-15:30"') from None
        length = shift_length(hours)
        if not length:
            raise refuse(f"{brief(value)} ends when it begins", "enter start and end of the shift")
        if length > LONGEST_SHIFT:
            hours_long = f"{length.total_seconds() / 3600:.4g} h"
            most = f"{LONGEST_SHIFT.total_seconds() / 3600:.4g} h"
            said = f"{brief(value)} is a shift of {hours_long}; the maximum is {most}"
            raise refuse(said, "check which comes first: an end before the start is the next day")
        return hours

    def __get_pydantic_json_schema__(
        self, schema: CoreSchema, handler: GetJsonSchemaHandler
    ) -> JsonSchema:
        return {"type": "string", "pattern": _HOURS.pattern, "examples": ["07:00-15:30"]}


def shift_length(hours: Hours) -> dt.timedelta:
    """How long a shift is; over midnight where its end is before its start."""
    a, b = (dt.timedelta(hours=t.hour, minutes=t.minute) for t in hours)
    return (b - a) % dt.timedelta(days=1)


class ReadsDate(ReadsPlain):
    """Annotation of a day: a TOML date, or the same as text."""

    def read(self, value: Any) -> dt.date:
        """The day."""
        if isinstance(value, dt.date) and not isinstance(value, dt.datetime):
            return value
        try:
            return dt.date.fromisoformat(value.strip())
        except (AttributeError, ValueError):
            raise refuse(f"{brief(_as_typed(value))} is not a date", _like(_DATE)) from None

    def __get_pydantic_json_schema__(
        self, schema: CoreSchema, handler: GetJsonSchemaHandler
    ) -> JsonSchema:
        return {"type": "string", "format": "date", "examples": [_DATE]}


class ReadsMoment(ReadsPlain):
    """Annotation of a date with a time of day, in the time of the site."""

    def read(self, value: Any) -> dt.datetime:
        """Date and time, to the minute."""
        given = value
        if isinstance(given, str) and len(given.strip()) > len(_DATE):
            try:
                given = dt.datetime.fromisoformat(given.strip())
            except ValueError:
                given = None
        if not isinstance(given, dt.datetime):
            said = f"{brief(_as_typed(value))} is not a date with a time of day"
            raise refuse(said, _like(_MOMENT))
        if given.tzinfo is not None:
            said = f"{brief(_as_typed(value))} has a time zone"
            raise refuse(said, "enter the time of the site, without a zone")
        if given.second or given.microsecond:
            raise refuse(f"{brief(_as_typed(value))} has seconds", "enter hours and minutes")
        return given

    def __get_pydantic_json_schema__(
        self, schema: CoreSchema, handler: GetJsonSchemaHandler
    ) -> JsonSchema:
        return {"type": "string", "format": "date-time", "examples": [_MOMENT]}


def _as_typed(value: Any) -> Any:
    return str(value) if isinstance(value, dt.date | dt.time) else value


def _like(example: str) -> str:
    return f"enter it like {example}"


ShiftHours = Annotated[Hours, ReadsHours()]
Day = Annotated[dt.date, ReadsDate()]
Moment = Annotated[dt.datetime, ReadsMoment()]
SamePlace = Annotated[float, Reads("length", least=0, most=1000.0)]
Weekday = Annotated[str, OneOf(lambda: WEEKDAYS)]


class CrewEntry(Entry):
    """One crew."""

    machines: list[Name] = key(
        "Machines of the model file that the crew may pull with.", min_length=1, max_length=100
    )
    hours: ShiftHours = key(
        'Start and end of its shift, such as "07:00-15:30"; an end before the start is on the '
        "next day. No pull goes on past the end."
    )
    days: list[Weekday] = key(
        "Weekdays it works. Default: Monday to Friday.",
        list(WEEKDAYS[:5]),
        min_length=1,
        max_length=7,
    )
    start: Day | None = key("Its first day. Default: start of the file.", None)
    off: list[Day] = key("Days it does not work, such as holidays.", [], max_length=400)


class MachineCountEntry(Entry):
    """How many machines of one name are on site."""

    count: Annotated[int, Counts(50)] = key("Number of these machines on site.")


class OutageEntry(Entry):
    """A window in which runs must, or must not, be pulled."""

    name: Name = key("Name of the window, for reports.")
    runs: list[Name] = key("Names of the runs.", min_length=1, max_length=1000)
    start: Moment = key("Date and time it begins.")
    end: Moment = key("Date and time it ends.")
    pull: Annotated[str, OneOf(lambda: ("inside", "outside"))] = key(
        "inside: set-up and pull must be in the window, or in another such window of the run; "
        "outside: they must not touch it.",
        "inside",
    )


class DeliveryEntry(Entry):
    """When cable arrives."""

    name: Name = key("Name of the delivery, for reports.")
    at: Moment = key("Date and time the cable is on site; no set-up begins before.")
    runs: list[Name] = key("Names of the runs it is for; or give reel.", [], max_length=1000)
    reel: Name | None = key("Reel of the model file: all runs that are fed from it.", None)


class CrewsEntry(Entry):
    """A crews file: crews, machines, outages and deliveries of one job."""

    title: Text = key("Title of the day plan. Default: the title of the job.", "")
    start: Day = key("First day of the plan.")
    move: LeastDuration = key(
        "Time from one place to another, machine included (bare number: min). Default: none.", 0.0
    )
    setup_again: LeastDuration = key(
        "What is left of the set-up where the machine stands there already: reels, rope, head "
        "(bare number: min). Default: none.",
        0.0,
    )
    same_place: SamePlace = key(
        "Distance within which two pulling points are one place, for a machine that need not be "
        "moved (US ft, SI m). Default: 0, points of the same name or position only.",
        0.0,
    )
    ways: dict[Name, Annotated[int, Counts(20)]] = key(
        "Runs pulled in stages: name of the run and number of the way to split it, as "
        "`route3d plan` numbers them: { F3 = 1 }.",
        {},
    )
    crew: dict[Name, CrewEntry] = key("Crews, by name.", min_length=1, max_length=20)
    machine: dict[Name, MachineCountEntry] = key(
        "Machines on site, by name of the model file. Default: one of each.", {}
    )
    outage: list[OutageEntry] = key("Windows for named runs.", [], max_length=1000)
    delivery: list[DeliveryEntry] = key("Deliveries of cable.", [], max_length=1000)


def load_schedule(path: str | Path, job: Job) -> Schedule:
    """Read the crews file of a job.

    Parameters
    ----------
    path : str or pathlib.Path
        The TOML file. Bare lengths are in the units of the job.
    job : Job
        Its runs, machines and reels are the names that may stand there.

    Returns
    -------
    Schedule
        In s and m.

    Raises
    ------
    InputError
        With every problem found, each with file, line, key and fix.

    References
    ----------
    docs/study_days.md.
    """
    return schedule_of(read_text(path, limit=MEGABYTE), str(path), job)


def schedule_of(text: str, name: str, job: Job) -> Schedule:
    """The schedule of the text of a crews file; InputError as ``load_schedule``."""
    report = Collector(read_toml(text, name), name)
    try:
        entry = CrewsEntry.model_validate(report.document.data, context={"system": job.units})
    except ValidationError as error:
        report.add_all(error, CrewsEntry)
        raise InputError(report.in_order()) from None
    _check_names(entry, job, report)
    _check_dates(entry, report)
    if report.problems:
        raise InputError(report.in_order())
    return _built(entry, name)


def _built(entry: CrewsEntry, name: str) -> Schedule:
    crews = (
        Crew(
            name,
            tuple(dict.fromkeys(crew.machines)),
            crew.hours,
            tuple(sorted({WEEKDAYS.index(day) for day in crew.days})),
            crew.start or entry.start,
            tuple(sorted(set(crew.off))),
        )
        for name, crew in entry.crew.items()
    )
    outages = (
        Outage(o.name, tuple(dict.fromkeys(o.runs)), o.start, o.end, o.pull == "inside")
        for o in entry.outage
    )
    deliveries = (
        Delivery(d.name, d.at, tuple(dict.fromkeys(d.runs)), d.reel or "") for d in entry.delivery
    )
    return Schedule(
        entry.start,
        tuple(crews),
        {machine: each.count for machine, each in entry.machine.items()},
        tuple(outages),
        tuple(deliveries),
        entry.move,
        entry.setup_again,
        entry.same_place,
        dict(entry.ways),
        entry.title,
        Path(name),
    )


def _check_names(entry: CrewsEntry, job: Job, report: Collector) -> None:
    """Names of runs, machines and reels that the model file does not have."""
    runs = [run.name for run in job.runs]
    machines = [machine.name for machine in job.machines]
    ends = (end.reel for run in job.runs for end in run.ends)
    reels = {r.name for r in (*(run.reel for run in job.runs), *ends) if r is not None}

    def known(name: str, names: Iterable[str], kind: str, path: KeyPath) -> None:
        if name not in names:
            fix = nearest(name, sorted(names)) or f"the model file has no {kind}"
            said = f"there is no {kind} {brief(name)} in the model file"
            report.add(path, said, fix, at_key=path[-1] == name)

    for crew, each in entry.crew.items():
        for i, machine in enumerate(each.machines):
            known(machine, machines, "machine", ("crew", crew, "machines", i))
    for machine in entry.machine:
        known(machine, machines, "machine", ("machine", machine))
    for run in entry.ways:
        known(run, runs, "run", ("ways", run))
    lists: Sequence[tuple[str, Sequence[OutageEntry | DeliveryEntry]]] = (
        ("outage", entry.outage),
        ("delivery", entry.delivery),
    )
    for kind, entries in lists:
        for i, item in enumerate(entries):
            for k, run in enumerate(item.runs):
                known(run, runs, "run", (kind, i, "runs", k))
    for i, delivery in enumerate(entry.delivery):
        if delivery.reel is not None:
            known(delivery.reel, reels, "reel", ("delivery", i, "reel"))
        if bool(delivery.runs) == (delivery.reel is not None):
            has = "has runs and reel" if delivery.runs else "has no runs and no reel"
            said = f"delivery {brief(delivery.name)} {has}"
            report.add(("delivery", i, "name"), said, "give one of runs and reel")


def _check_dates(entry: CrewsEntry, report: Collector) -> None:
    """Ends before starts, windows that overlap, dates that no plan reaches."""
    for crew, each in entry.crew.items():
        if each.start is not None and each.start < entry.start:
            said = f"{each.start} is before the first day of the plan, {entry.start}"
            report.add(("crew", crew, "start"), said, "correct it, or start at the top")
        _in_reach(each.start, entry.start, ("crew", crew, "start"), report)
    first = dt.datetime.combine(entry.start, dt.time())
    for i, outage in enumerate(entry.outage):
        if outage.end <= outage.start:
            said = f"window {brief(outage.name)} ends at {outage.end:%Y-%m-%d %H:%M}, not after "
            said += f"its start at {outage.start:%Y-%m-%d %H:%M}"
            report.add(("outage", i, "end"), said, "enter an end after the start")
        elif outage.end <= first:
            said = f"window {brief(outage.name)} is over before the first day, {entry.start}"
            report.add(("outage", i, "end"), said, "check its dates, or start at the top")
        _in_reach(outage.start.date(), entry.start, ("outage", i, "start"), report)
        _in_reach(outage.end.date(), entry.start, ("outage", i, "end"), report)
    for i, delivery in enumerate(entry.delivery):
        _in_reach(delivery.at.date(), entry.start, ("delivery", i, "at"), report)
    _check_overlaps(entry.outage, report)


def _in_reach(day: dt.date | None, start: dt.date, path: KeyPath, report: Collector) -> None:
    if day is not None and day - start > LONGEST_PLAN:
        said = f"{day} is more than {LONGEST_PLAN.days} days after the first day, {start}"
        report.add(path, said, "check the year")


def _check_overlaps(outages: Sequence[OutageEntry], report: Collector) -> None:
    """Windows of one kind and one run that share time: one of them is a slip."""
    before: dict[tuple[str, str], list[int]] = {}
    told_of: set[tuple[int, int]] = set()
    for i, outage in enumerate(outages):
        for run in dict.fromkeys(outage.runs):
            others = before.setdefault((run, outage.pull), [])
            for k in others:
                other = outages[k]
                shared = outage.start < other.end and other.start < outage.end
                if shared and (k, i) not in told_of and outage.end > outage.start:
                    told_of.add((k, i))
                    line = told(report.document.value_place(("outage", k, "name")))
                    said = f"window {brief(outage.name)} overlaps window {brief(other.name)} "
                    said += f"of run {brief(run)}{line}"
                    fix = "make them one window, or correct the dates"
                    report.add(("outage", i, "start"), said, fix)
            others.append(i)


def crews_schema() -> JsonSchema:
    """The JSON Schema of a crews file."""
    from route3d.modelfile.schema import schema_of

    return schema_of(CrewsEntry, "route3d crews file")
