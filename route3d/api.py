"""The questions of the command line as functions, with answers that print as tables.

``import route3d`` gives all of this. A job comes from a file (``load``) or is built from
``Cable.of``, ``Conduit.of``, ``Route.of`` and ``Run``; numbers are SI, texts carry their unit.
"""

from __future__ import annotations

import math
from abc import ABC, abstractmethod
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from html import escape
from pathlib import Path
from typing import TYPE_CHECKING, Any, ClassVar, NamedTuple

from route3d.disk import content_mark, data_mark, read_bytes
from route3d.errors import InputError, Problem
from route3d.model.examples import example_banner
from route3d.model.job import Job
from route3d.planning.result import JobResult, RunResult
from route3d.units import SYSTEMS, amount, show_marked

if TYPE_CHECKING:
    import pandas
    from rich.console import RenderableType

    from route3d.model.schedule import Schedule
    from route3d.model.site import Site
    from route3d.planning.clearance.job import ClearanceResult
    from route3d.planning.clearance.near import MeshExtents
    from route3d.planning.placement.site import SiteMesh
    from route3d.planning.pull_plan.plan import Plan
    from route3d.planning.summary import RunSummary
    from route3d.report.bends import BendSheet
    from route3d.report.calculation import RunCalculation
    from route3d.report.sensitivity import Sensitivity
    from route3d.study.day_plan.outcome import DayPlan
    from route3d.study.limits.outcome import Limits
    from route3d.study.many_jobs.answer import FileAnswer, JobFile
    from route3d.study.options.outcome import Options
    from route3d.study.spread.outcome import Spread

# The gauge table has about this many even steps, whatever the length of the run.
GAUGE_STEPS = 8
# One row of a clearance table: a meter, or the whole feet that are just less.
CLEARANCE_ROW = {"SI": 1.0, "US": 3 * 0.3048}


class HeadedColumn(NamedTuple):
    """A column of a notebook's table: key of a row, heading, quantity as `show_marked` has it."""

    key: str
    heading: str
    quantity: str = ""


class Result(ABC):
    """An answer: ``print`` shows the command's report, a notebook a table, ``rows`` the numbers."""

    job: Job
    _columns: ClassVar[tuple[HeadedColumn, ...]]

    @abstractmethod
    def report(self, units: str) -> RenderableType:
        """The report of the command in "US" or "SI" units."""

    @abstractmethod
    def rows(self) -> list[dict[str, Any]]:
        """One dict for each line of the answer.

        Returns
        -------
        list of dict
            Keys as in the JSON of the command, in SI, with the unit at the end of the key (``_m``,
            ``_N``, ``_N_per_m``, ``_deg``); None where there is no such number.
        """

    def text(self, units: str | None = None) -> str:
        """The report as plain text.

        Parameters
        ----------
        units : {"US", "SI"}, optional
            Default: the units of the job.

        Returns
        -------
        str

        Raises
        ------
        ValueError
            For other units.
        """
        from rich.console import Console

        from route3d.report.layout import WIDEST

        console = Console(width=WIDEST, color_system=None, highlight=False, markup=False)
        with console.capture() as captured:
            console.print(self.report(self._system(units)))
        return "\n".join(line.rstrip() for line in captured.get().splitlines())

    def html(self, units: str | None = None) -> str:
        """The main figures as an HTML table.

        Parameters
        ----------
        units : {"US", "SI"}, optional
            Default: the units of the job.

        Returns
        -------
        str

        Raises
        ------
        ValueError
            For other units.
        """
        system = self._system(units)
        head = "".join(f"<th>{escape(c.heading)}</th>" for c in self._columns)
        body = "".join(
            "<tr>" + "".join(_cell(row.get(c.key), c, system) for c in self._columns) + "</tr>"
            for row in self._shown(system)
        )
        words = "".join(f"<p>{escape(text)}</p>" for text in self._words(system))
        title = f"<caption>{escape(self.job.title)}</caption>"
        banner = escape(example_banner(self.job.examples))
        above = f"<p><b>{banner}</b></p>" if banner else ""
        table = f"<table>{title}<thead><tr>{head}</tr></thead><tbody>{body}</tbody></table>"
        return above + table + words

    def _shown(self, units: str) -> list[dict[str, Any]]:
        """The rows of the table; their texts in ``units``, their numbers in SI."""
        return self.rows()

    def _words(self, units: str) -> Iterable[str]:
        """Sentences below the table."""
        return ()

    def _system(self, units: str | None) -> str:
        if units is None:
            return self.job.units
        if units not in SYSTEMS:
            raise ValueError(f"units must be one of {SYSTEMS}, not {units!r}")
        return units

    def __str__(self) -> str:
        return self.text()

    def __repr__(self) -> str:
        return f"<{type(self).__name__} of {self.job.title!r}, {len(self.job.runs)} run(s)>"

    def _repr_html_(self) -> str:
        return self.html()


def _cell(value: Any, column: HeadedColumn, units: str) -> str:
    if value is None:
        return "<td>-</td>"
    if column.quantity:
        shown = show_marked(value, column.quantity, units)
        return f'<td style="text-align:right">{escape(shown)}</td>'
    return f'<td style="text-align:left">{escape(str(value))}</td>'


def _flat(record: Mapping[str, Any], before: str = "") -> dict[str, Any]:
    """One level of keys: those of a table within get its name in front, lists are omitted."""
    row: dict[str, Any] = {}
    for key, value in record.items():
        if isinstance(value, Mapping):
            row |= _flat(value, f"{before}{key}_")
        elif not isinstance(value, list | tuple):
            nothing = isinstance(value, float) and not math.isfinite(value)
            row[before + key] = None if nothing else value
    return row


# --- evaluate and check --------------------------------------------------------------------------


@dataclass(frozen=True, eq=False, repr=False)
class Evaluation(Result, JobResult):
    """Every run solved: both directions, the decision, and the remedies."""

    _columns = (
        HeadedColumn("run", "run"),
        HeadedColumn("feed", "feed"),
        HeadedColumn("pull", "pull at"),
        HeadedColumn("reel_tension_N", "reel tension", "force+"),
        HeadedColumn("end_tension_N", "end tension", "force"),
        HeadedColumn("peak_tension_N", "peak tension", "force"),
        HeadedColumn("peak_sidewall_N_per_m", "peak sidewall", "sidewall"),
        HeadedColumn("machine_peak_N", "machine peak, moving", "force"),
        HeadedColumn("friction_margin", "friction margin", "ratio"),
        HeadedColumn("governing", "governing"),
        HeadedColumn("verdict", "verdict"),
    )

    def report(self, units: str) -> RenderableType:
        """The report of ``route3d tension``."""
        from route3d.report.tension import tension_report

        return tension_report(self, units)

    def rows(self) -> list[dict[str, Any]]:
        """One dict for each direction of each run, in SI; see :meth:`Result.rows`."""
        from route3d.report.json_result import tension_data

        return [
            {"run": run.run.name, **_flat(data), **self._verdict(run, index)}
            for run, found in zip(self.runs, tension_data(self)["runs"], strict=True)
            for index, data in enumerate(found["pulls"])
        ]

    @staticmethod
    def _verdict(run: RunResult, index: int) -> dict[str, Any]:
        candidate = run.candidates[index]
        chosen = candidate is run.decision.choice
        verdict = "passes" if candidate.passes else "ruled out" if candidate.barred else "stop"
        return {
            "brake_at_least_N": candidate.window.at_least,
            "brake_at_most_N": candidate.window.at_most,
            "verdict": "passes, chosen" if chosen else verdict,
        }

    def _words(self, units: str) -> Iterable[str]:
        from route3d.units import render

        return (f"{run.run.name}: {render(run.decision.why, units)}" for run in self.runs)


@dataclass(frozen=True, eq=False, repr=False)
class Findings(Result, JobResult):
    """Every check of every run, worst first; with ``passed`` those that passed too."""

    passed: bool = False

    _columns = (
        HeadedColumn("run", "run"),
        HeadedColumn("severity", "severity"),
        HeadedColumn("rule", "rule"),
        HeadedColumn("where", "where"),
        HeadedColumn("measured", "measured"),
        HeadedColumn("limit", "limit"),
        HeadedColumn("fix", "what to do"),
        HeadedColumn("source", "source"),
    )

    def report(self, units: str) -> RenderableType:
        """The report of ``route3d check``."""
        from route3d.report.findings import check_report

        return check_report(self, units, passed=self.passed)

    def rows(self) -> list[dict[str, Any]]:
        """One dict for each finding, in SI; see :meth:`Result.rows`."""
        from route3d.report.json_result import check_data

        return [
            {"run": run["name"], **_flat(finding)}
            for run in check_data(self, passed=self.passed)["runs"]
            for finding in run["findings"]
        ]

    def _shown(self, units: str) -> list[dict[str, Any]]:
        from route3d.planning.shop import all_findings
        from route3d.report.words import limit_of, measured
        from route3d.units import render

        return [
            {
                "run": run.run.name,
                "severity": f.severity,
                "rule": f.rule,
                "where": render(f.place, units),
                "measured": measured(f, units),
                "limit": limit_of(f, units),
                "fix": render(f.fix, units),
                "source": f.source,
            }
            for run in self.runs
            for f in all_findings(run)
            if self.passed or f.severity != "ok"
        ]


def evaluate(job: Job, *, with_remedies: bool = True) -> Evaluation:
    """Solve every run from both ends and decide which end feeds.

    Parameters
    ----------
    job : Job
        From :func:`load`, or built in Python.
    with_remedies : bool
        Also look for what would make a run pass that something stops; takes a second or so.

    Returns
    -------
    Evaluation
        ``.runs`` holds a :class:`RunResult` for each run; prints as ``route3d tension``.

    Raises
    ------
    InputError
        For a route without a path, cables that do not enter, and meshes that cannot be read.

    References
    ----------
    docs/theory.md, equation (1).
    """
    result = _answered(job, with_remedies)
    return Evaluation(result.job, result.runs, site=result.site)


def check(job: Job, *, passed: bool = False) -> Findings:
    """Hold every run against its limits.

    Parameters
    ----------
    job : Job
        From :func:`load`, or built in Python.
    passed : bool
        List the checks that passed too.

    Returns
    -------
    Findings
        Worst first; ``.stops`` is true where something must change. Prints as ``route3d check``.

    Raises
    ------
    InputError
        As :func:`evaluate` does.
    """
    result = checked(job)
    return Findings(result.job, result.runs, passed, site=result.site)


def checked(job: Job) -> JobResult:
    """Every run solved, with remedies where something stops it, and where the meshes lie."""
    from route3d.planning.evaluate import advised
    from route3d.planning.evaluate import evaluate as evaluate_job

    result = evaluate_job(job, with_remedies=False)
    meshes, site = surveyed(job)
    return replace(advised(result, meshes), site=site)


def answered(job: Job) -> JobResult:
    """Every run solved, with remedies where something stops it."""
    return _answered(job, True)


def _answered(job: Job, with_remedies: bool) -> JobResult:
    from route3d.planning.evaluate import advised
    from route3d.planning.evaluate import evaluate as evaluate_job

    result = evaluate_job(job, with_remedies=False)
    if not with_remedies or not (result.stops or len(job.runs) > 1):
        return result  # nothing is planned among the meshes
    meshes, site = surveyed(job)
    return replace(advised(result, meshes) if result.stops else result, site=site)


def summarized(result: JobResult) -> tuple[RunSummary, ...]:
    """One line for every run of a job, planned where it names a rope and a machine."""
    from route3d.planning.summary import summaries

    return summaries(result, standing_meshes(result.job))


def lines(job: Job) -> tuple[RunSummary, ...]:
    """As :func:`summarized` of :func:`evaluate`, for those who ask nothing else of many jobs."""
    from route3d.planning.summary import lines as lines_of

    return lines_of(job, standing_meshes(job))


def answered_file(asked: JobFile) -> FileAnswer:
    """The runs of one model file among many, whatever is wrong with it.

    Every mistake of the file is among the problems of the answer, and so is an error of route3d
    itself: one file never stops the others.
    """
    from route3d.study.many_jobs.answer import FileAnswer

    try:
        return _answered_file(asked)
    except InputError as error:
        problems: tuple[Problem, ...] = error.problems
    except Exception as error:  # of route3d itself: the others are answered all the same
        said = f"could not be answered, because of an error in route3d: {type(error).__name__}"
        said += f": {error}" if str(error) else ""
        problems = (Problem(said, fix="report it with this file", file=asked.file),)
    content = "" if asked.data is None else data_mark(asked.data)
    return FileAnswer(asked, content, problems=problems)


def _answered_file(asked: JobFile) -> FileAnswer:
    from route3d.modelfile.read import LARGEST_FILE
    from route3d.study.many_jobs.answer import RUNS_AT_ONCE, FileAnswer

    path = Path(asked.file)
    data = read_bytes(path, limit=LARGEST_FILE) if asked.data is None else asked.data
    job, refers = _loaded(asked.file, data)
    if refers != _marks(path, refers):
        _loaded.cache_clear()  # it was loaded before they changed
        job, refers = _loaded(asked.file, data)
    wanted = asked.runs or tuple(range(1, len(job.runs) + 1))
    now, left = wanted[:RUNS_AT_ONCE], wanted[RUNS_AT_ONCE:]  # the rest is shared out
    some = replace(job, runs=tuple(job.runs[number - 1] for number in now))
    found = lines(some)
    return FileAnswer(
        asked=asked,
        content=data_mark(data),
        refers=refers,
        title=job.title,
        units=job.units,
        examples=job.examples,
        notes=job.notes,
        count=len(job.runs),
        runs=tuple(zip(now, found, strict=True)),
        left=left,
    )


@lru_cache(maxsize=1)  # a large file is asked for again and again, some runs at a time
def _loaded(file: str, data: bytes) -> tuple[Job, tuple[tuple[str, str], ...]]:
    """The job of a model file by its content, and the marks of the files it refers to."""
    from route3d.modelfile.read import job_of, model_document
    from route3d.modelfile.referred_files import referred_files

    path = Path(file)
    document = model_document(path, data)
    job = job_of(document, file, path.parent, path)
    return job, _marks(path, ((name, "") for name in referred_files(document.data)))


def _marks(path: Path, refers: Iterable[tuple[str, str]]) -> tuple[tuple[str, str], ...]:
    return tuple((name, content_mark(path.parent / name)) for name, _ in refers)


def building_meshes(job: Job) -> Sequence[SiteMesh]:
    """All building meshes of a job, by the names of their files."""
    if not job.site.context:
        return ()
    from route3d.formats.building_meshes import read_buildings, site_meshes

    meshes = site_meshes(read_buildings(job))
    return [replace(m, name=p.name) for m, p in zip(meshes, job.site.context, strict=True)]


def surveyed(job: Job) -> tuple[Sequence[SiteMesh], tuple[MeshExtents, ...]]:
    """The meshes among which machines are placed, named without suffix, and where all of them lie.

    A mesh that cannot stand where it was read is not among the first; its finding says why.
    """
    from route3d.planning.clearance.near import mesh_extents

    if not job.site.context:
        return (), ()
    meshes = building_meshes(job)
    site = mesh_extents(job, meshes)
    stands = (mesh for mesh, where in zip(meshes, site, strict=True) if where.judged)
    return [replace(mesh, name=Path(mesh.name).stem) for mesh in stands], site


def standing_meshes(job: Job) -> Sequence[SiteMesh]:
    """The building meshes among which the machines of a job are placed."""
    return surveyed(job)[0]


# --- bends ---------------------------------------------------------------------------------------


@dataclass(frozen=True, eq=False, repr=False)
class BendSchedule(Result):
    """The bend schedule of every run, one of ``sheets`` each."""

    job: Job
    evaluation: JobResult
    sheets: tuple[BendSheet, ...]

    _columns = (
        HeadedColumn("run", "run"),
        HeadedColumn("label", "bend"),
        HeadedColumn("at", "at"),
        HeadedColumn("station_m", "station", "tape"),
        HeadedColumn("turn", "turn"),
        HeadedColumn("heading", "heading"),
        HeadedColumn("angle", "angle", "angle"),
        HeadedColumn("radius_m", "radius", "tape"),
        HeadedColumn("plane", "plane"),
        HeadedColumn("setback_m", "set-back", "tape"),
        HeadedColumn("least_radius_m", "min. radius", "tape+"),
        HeadedColumn("passing_radius_m", "min. radius to pass", "tape+"),
        HeadedColumn("sidewall_N_per_m", "sidewall", "sidewall"),
        HeadedColumn("verdict", "verdict"),
    )

    @property
    def stops(self) -> bool:
        """True where a bend exceeds a limit, or the turn between two pull points does."""
        return any(sheet.stops for sheet in self.sheets)

    def report(self, units: str) -> RenderableType:
        """The report of ``route3d bends``."""
        from route3d.report.bends import bends_report

        return bends_report(self.evaluation, units, self.sheets)

    def rows(self) -> list[dict[str, Any]]:
        """One dict for each bend, in SI; see :meth:`Result.rows`."""
        from route3d.report.bends_json import bends_data

        data = bends_data(self.evaluation, self.sheets)
        return [{"run": run["name"], **_flat(b)} for run in data["runs"] for b in run["bends"]]

    def _shown(self, units: str) -> list[dict[str, Any]]:
        return [row | {"angle": math.radians(row["angle_deg"])} for row in self.rows()]


def bends(job: Job, *, stick: float | str | None = None) -> BendSchedule:
    """The bend schedule: what to make, how it is laid out, and whether it passes.

    Parameters
    ----------
    job : Job
        From :func:`load`, or built in Python.
    stick : float or str, optional
        Length of a stick of conduit, m or such as ``"20 ft"``. Default: that of the tables.

    Returns
    -------
    BendSchedule
        Prints as ``route3d bends``.

    Raises
    ------
    InputError
        As :func:`evaluate` does, and for a stick that is no length.
    """
    from route3d.report.bends import bend_sheets

    length = None if stick is None else amount(stick, "length", "stick")
    result = answered(job)
    return BendSchedule(job, result, bend_sheets(result, length))


# --- clearance -----------------------------------------------------------------------------------


@dataclass(frozen=True, eq=False, repr=False)
class Clearances(Result):
    """The clearance of every run from building meshes, other runs and itself; ``found`` has it."""

    job: Job
    found: ClearanceResult

    _columns = (
        HeadedColumn("run", "run"),
        HeadedColumn("from_m", "from", "length"),
        HeadedColumn("to_m", "to", "length"),
        HeadedColumn("clearance_m", "clearance", "diameter"),
        HeadedColumn("required_m", "required", "diameter"),
        HeadedColumn("what", "nearest"),
        HeadedColumn("verdict", "verdict"),
    )

    @property
    def stops(self) -> bool:
        """True where a run or duct clashes, or is nearer to something than that asks for."""
        return self.found.stops

    def report(self, units: str) -> RenderableType:
        """The report of ``route3d clearance``."""
        from route3d.report.clearance import clearance_report

        return clearance_report(self.found, units, all_rows=False)

    def rows(self) -> list[dict[str, Any]]:
        """One dict for each length of each run and duct, in SI; see :meth:`Result.rows`."""
        from route3d.report.clearance import clearance_data

        data = clearance_data(self.found)
        return [
            {"run": run["name"], "duct": run.get("duct"), **_flat(row)}
            for run in (*data["runs"], *data["ducts"])
            for row in run["rows"]
        ]


def clearance(job: Job, *, step: float | str | None = None) -> Clearances:
    """Clashes, and the minimum clearance of every length of every run.

    Parameters
    ----------
    job : Job
        From :func:`load`, or built in Python; its meshes are read.
    step : float or str, optional
        Length of one row, m or such as ``"0.5 m"``. Nothing between steps is missed. Default: 1 m,
        or 3 ft for a job in US units.

    Returns
    -------
    Clearances
        Prints as ``route3d clearance``.

    Raises
    ------
    InputError
        For a route without a path, a mesh that cannot be read, and a step that is no length.
    """
    every = CLEARANCE_ROW[job.units] if step is None else amount(step, "length", "step")
    if not every > 0:
        raise InputError(Problem(f"{step!r} is not above zero", where="step"))
    return Clearances(job, measured_clearance(job, every))


def measured_clearance(
    job: Job, every: float, names: frozenset[str] | None = None, *, equipment: bool = True
) -> ClearanceResult:
    """The clearances of a job, or of the runs of the ``names``, in rows of ``every`` m.

    Without ``equipment`` no run is planned, and machines, vehicles and reels are left out.
    """
    from route3d.formats.grade_surfaces import read_grade
    from route3d.planning.clearance.bodies import Equipment
    from route3d.planning.clearance.equipment import equipment_in_place
    from route3d.planning.clearance.job import evaluate_clearance
    from route3d.planning.clearance.near import standing

    meshes = building_meshes(job)
    placed = equipment_in_place(job, standing(job, meshes)) if equipment else Equipment()
    return evaluate_clearance(job, meshes, every, names, placed, read_grade(job))


# --- plan ----------------------------------------------------------------------------------------


@dataclass(frozen=True, eq=False, repr=False)
class PullPlans(Result):
    """The pull plan of every run; ``site`` is where the meshes lie that machines stand among."""

    job: Job
    plans: tuple[Plan, ...]
    site: tuple[MeshExtents, ...] = ()

    _columns = (
        HeadedColumn("run", "run"),
        HeadedColumn("pulled_m", "cable in", "length"),
        HeadedColumn("place", "head at"),
        HeadedColumn("gear", "gear"),
        HeadedColumn("expected_N", "expected", "force"),
        HeadedColumn("caution_N", "caution", "force"),
        HeadedColumn("stop_N", "stop", "force"),
        HeadedColumn("first_limit", "limit reached first"),
    )

    @property
    def stops(self) -> bool:
        """True where a pull must not be made, or a building mesh could not be judged."""
        return any(plan.stops for plan in self.plans) or not all(m.judged for m in self.site)

    def report(self, units: str) -> RenderableType:
        """The report of ``route3d plan``."""
        from route3d.report.plan import plan_report

        return plan_report(self.job, self.plans, units, site=self.site)

    def rows(self) -> list[dict[str, Any]]:
        """One dict for each line of the gauge table, in SI; see :meth:`Result.rows`.

        A pull that must not be made has none.
        """
        from route3d.report.plan_json import plan_data

        return [
            {"run": run["name"], **_flat(row)}
            for run in plan_data(self.job, self.plans)["runs"]
            for row in run["gauge"]
        ]


def plan(job: Job, *, feed: str | None = None, units: str | None = None) -> PullPlans:
    """Plan the pull of every run: machine, gears, stops, gauge readings, ratings, ways to split.

    Parameters
    ----------
    job : Job
        From :func:`load`, or built in Python; every run needs a rope and a machine.
    feed : str, optional
        Name of the end to feed from. Default: the better end.
    units : {"US", "SI"}, optional
        System whose tape the steps of the gauge table are round on. Default: that of the job.

    Returns
    -------
    PullPlans
        Prints as ``route3d plan``.

    Raises
    ------
    InputError
        As :func:`evaluate` does, for a run without rope or machine, and for an end not known.
    """
    from route3d.planning.evaluate import evaluate as evaluate_job

    lacking = [
        Problem(f"run {run.name!r} has no {what}", where=what, fix="a pull plan needs one")
        for run in job.runs
        for what in ("machine", "rope")
        if getattr(run, what) is None
    ]
    if lacking:
        raise InputError(lacking)
    system = units or job.units
    found = evaluate_job(job, with_remedies=False).runs
    meshes, site = surveyed(job)
    plans = tuple(_plan(result, job, feed, system, meshes) for result in found)
    return PullPlans(job, plans, site)


def _plan(
    result: RunResult, job: Job, feed: str | None, system: str, meshes: Sequence[SiteMesh]
) -> Plan:
    """The plan of one run, with remedies if it must not be pulled."""
    from route3d.drawing.axes import length_step
    from route3d.planning.evaluate import with_advice
    from route3d.planning.pull_plan.plan import make_plan

    step = length_step(result.path.length, GAUGE_STEPS, system)
    made = make_plan(result, job, step=step, meshes=meshes, feed=_end(result, feed, job))
    return replace(made, result=with_advice(result, job, meshes)) if made.stops else made


def _end(result: RunResult, feed: str | None, job: Job) -> int | None:
    """The vertex of the end of that name; InputError where neither end has it."""
    if feed is None:
        return None
    ends = {c.pull.feed_name: c.pull.feed for c in result.candidates}
    if feed in ends:
        return ends[feed]
    from route3d.modelfile.fields import nearest

    said = f"run {result.run.name!r} has no end named {feed!r}"
    file = str(job.path) if job.path else ""
    raise InputError(Problem(said, where="--feed", fix=nearest(feed, ends), file=file))


# --- how sure a pull is ---------------------------------------------------------------------------


@dataclass(frozen=True, eq=False, repr=False)
class PullSpreads(Result):
    """The spread of every run: how likely each limit is reached from each end."""

    job: Job
    spreads: tuple[Spread, ...]

    _columns = (
        HeadedColumn("run", "run"),
        HeadedColumn("feed", "feed"),
        HeadedColumn("limit", "limit"),
        HeadedColumn("probability", "reached", "fine percent"),
        HeadedColumn("error", "standard error", "fine percent"),
        HeadedColumn("where", "where"),
    )

    def report(self, units: str) -> RenderableType:
        """The report of ``route3d study spread``."""
        from route3d.report.study_spread import spread_report

        return spread_report(self.job, self.spreads, units)

    def rows(self) -> list[dict[str, Any]]:
        """One dict for each limit from each end of each run; see :meth:`Result.rows`."""
        from route3d.report.study_spread import spread_data

        return [
            {"run": run["name"], "feed": end["feed"], "passes": end["passes"], **limit}
            for run in spread_data(self.job, self.spreads)["runs"]
            for end in run["ends"]
            for limit in end["limits"]
        ]


def spread(
    job: Job,
    *,
    seed: int = 1,
    to: float = 0.002,
    most: int | None = None,
    progress: Callable[[int, int], None] | None = None,
) -> PullSpreads:
    """How likely each limit of every run is reached, from uncertain inputs.

    Parameters
    ----------
    job : Job
        From :func:`load`, or built in Python; ``job.spread`` says what is uncertain. Default: the
        friction of each conduit, by its low and high.
    seed : int
        The same seed gives the same figures.
    to : float
        Standard error of the probability of passing that is worked for.
    most : int, optional
        Most scenarios, a power of two. Default: 131072; 4096 where geometry varies.
    progress : callable, optional
        Told how many of the scenarios are solved, and how many there may be.

    Returns
    -------
    PullSpreads
        ``.spreads`` holds a ``Spread`` for each run; prints as ``route3d study spread``.

    Raises
    ------
    InputError
        For inputs that are no spread, and bad options.
    """
    from route3d.modelfile.unfit_bends import unfit_bend
    from route3d.planning.result import evaluate_run
    from route3d.study.spread.analysis import spread_of
    from route3d.study.spread.loads import UnfitBendError

    found = []
    for run in job.runs:
        result = evaluate_run(run, job.practice, allowances=job.allowances)
        try:
            one = spread_of(result, job.spread, seed=seed, wanted=to, most=most, progress=progress)
        except UnfitBendError as error:
            raise unfit_bend(job, error) from None
        found.append(one)
    return PullSpreads(job, tuple(found))


# --- limits --------------------------------------------------------------------------------------


@dataclass(frozen=True, eq=False, repr=False)
class LimitStudy(Result):
    """How far each input of every run may go from each end; ``found`` has one for each run."""

    job: Job
    found: tuple[Limits, ...]

    _columns = (
        HeadedColumn("run", "run"),
        HeadedColumn("feed", "feed"),
        HeadedColumn("input", "input"),
        HeadedColumn("of", "of"),
        HeadedColumn("planned_shown", "planned"),
        HeadedColumn("farthest_shown", "farthest"),
        HeadedColumn("room", "room", "fine percent"),
        HeadedColumn("limit_reached_first", "limit reached first"),
        HeadedColumn("where", "where"),
    )

    @property
    def stops(self) -> bool:
        """True where a run must not be pulled as planned."""
        return any(run.stops for run in self.found)

    def report(self, units: str) -> RenderableType:
        """The report of ``route3d study limits``."""
        from route3d.report.study_limits import limits_report

        return limits_report(self.job, self.found, units)

    def rows(self) -> list[dict[str, Any]]:
        """One dict for each value, in the SI unit it names; see :meth:`Result.rows`."""
        from route3d.report.study_limits import limits_data

        return [
            {"run": run["name"], "feed": end["feed"], "pull": end["pull"], **_flat(value)}
            for run in limits_data(self.job, self.found)["runs"]
            for end in run["ends"]
            for value in end["values"]
        ]

    def _shown(self, units: str) -> list[dict[str, Any]]:
        from route3d.report.study_limits import farthest_words, planned_words

        values = (v for run in self.found for end in run.ends for v in end.values)
        return [
            row
            | {
                "planned_shown": planned_words(value, units),
                "farthest_shown": farthest_words(value, units),
            }
            for row, value in zip(self.rows(), values, strict=True)
        ]


def limits(job: Job, *, inputs: str | Sequence[str] | None = None) -> LimitStudy:
    """How far each input may go before a limit is reached, one at a time, from each end.

    Parameters
    ----------
    job : Job
        From :func:`load`, or built in Python.
    inputs : str or sequence of str, optional
        Of "friction", "straight", "radius", "diameter", "weight", "machine", "rope". Default: all.

    Returns
    -------
    LimitStudy
        Prints as ``route3d study limits``.

    Raises
    ------
    InputError
        As :func:`evaluate` does, and for an input of another name.
    """
    from route3d.study.limits.inputs import kinds_named
    from route3d.study.limits.study import job_limits

    return LimitStudy(job, job_limits(job, kinds_named(inputs)))


# --- options -------------------------------------------------------------------------------------


@dataclass(frozen=True, eq=False, repr=False)
class StudiedOptions(Result):
    """The options of every run of a job, best first; one of ``answers`` for each run."""

    job: Job
    answers: tuple[Options, ...]

    _columns = (
        HeadedColumn("run", "run"),
        HeadedColumn("option", "option"),
        HeadedColumn("utilization", "of limit", "percent"),
        HeadedColumn("governing", "governing"),
        HeadedColumn("setups", "set-ups", "count"),
        HeadedColumn("crew_time_s", "crew time", "crew time"),
        HeadedColumn("cost", "cost", "count"),
        HeadedColumn("efficient", "efficient"),
        HeadedColumn("verdict", "verdict"),
    )

    @property
    def errors(self) -> bool:
        """True where an option could not be read or solved."""
        return any(option.error for answer in self.answers for option in answer.options)

    @property
    def stops(self) -> bool:
        """True where no option of some run may be pulled."""
        return not all(answer.passing for answer in self.answers)

    def report(self, units: str) -> RenderableType:
        """The report of ``route3d study options``."""
        from route3d.report.study_options import options_report

        return options_report(self.job, self.answers, units)

    def rows(self) -> list[dict[str, Any]]:
        """One dict for each option of each run, in SI; see :meth:`Result.rows`."""
        from route3d.report.study_options import option_data, verdict

        return [
            {"run": answer.run, **_flat(option_data(option)), "verdict": verdict(option)}
            for answer in self.answers
            for option in answer.options
        ]


def options(
    job: Job,
    file: str | Path | None = None,
    *,
    vaults: int | None = None,
    not_between: Sequence[tuple[str, str]] = (),
    vault_length: float | str | None = None,
    combine: bool = False,
    by: str = "utilization",
    progress: Callable[[int, int], None] | None = None,
) -> StudiedOptions:
    """Solve and rank other ways to build or pull a job, beside the job as modeled.

    Parameters
    ----------
    job : Job
        From :func:`load`; without `file` it may be built in Python.
    file : str or pathlib.Path, optional
        The options file.
    vaults : int, optional
        Add options of 1 to so many new vaults in each run, whose places are found.
    not_between : sequence of (str, str)
        Stretches in which no vault may stand: stations such as ``"120 ft"``, or points by name.
    vault_length : float or str, optional
        Length of a new vault along the route, m or such as ``"12 ft"``. Default: that of the file,
        or 1 m.
    combine : bool
        Solve combinations of the options of the file too.
    by : {"utilization", "time", "cost", "setups"}
        What those that pass are ranked by.
    progress : callable, optional
        Called with the number of options done and of all.

    Returns
    -------
    StudiedOptions
        Prints as ``route3d study options``.

    Raises
    ------
    InputError
        For mistakes in the file outside of its options, nothing to compare, and places that no run
        has. An option with a mistake is in the answer with its error.
    """
    from route3d.modelfile.fields import nearest, typed_spot
    from route3d.modelfile.option_file import MOST_VAULTS, read_options, vault_option
    from route3d.study.options.given import GivenOptions, NoVault
    from route3d.study.options.ranking import RANKED_BY
    from route3d.study.options.study import study_options

    if by not in RANKED_BY:
        raise InputError(Problem(f"{by!r} is nothing to rank by", "by", nearest(by, RANKED_BY)))
    if vaults is not None and not 1 <= vaults <= MOST_VAULTS:
        raise InputError(Problem(f"{vaults} must be between 1 and {MOST_VAULTS}", "vaults"))
    if file is None and combine:
        said = "there are no options to combine"
        raise InputError(Problem(said, "combine", "name an options file"))
    if file is None and vaults is None:
        fix = "name an options file, or a number of new vaults: --vaults 2, in Python vaults=2"
        raise InputError(Problem("there is no option to compare with the job", "file", fix))
    if file is None:
        given = GivenOptions(tuple(vault_option(job, k) for k in range(1, (vaults or 0) + 1)))
    else:
        given = read_options(Path(file), job, vaults=vaults or 0, combine=combine)
        if not given.options:
            said, fix = "there is no option to compare with the job", "add an [[option]]"
            raise InputError(Problem(said, fix=f"{fix}, or --vaults 2", file=str(file)))
    if vault_length is not None:
        length = amount(vault_length, "length", "vault_length")
        if not 0 < length <= 100:
            said = f"{vault_length!r} must be above zero, and 100 m at most"
            raise InputError(Problem(said, "vault_length"))
        given = replace(given, vault_length=length)
    where = Problem("", where="not_between")
    kept = tuple(
        NoVault(typed_spot(start, job.units), typed_spot(end, job.units), place=where)
        for start, end in not_between
    )
    given = replace(given, no_vault=(*given.no_vault, *kept))
    known: list[tuple[Site, Sequence[SiteMesh]]] = []

    def meshes(of: Job) -> Sequence[SiteMesh]:
        """Read once for every site: few options change it."""
        if all(site != of.site for site, _ in known):
            known.append((of.site, standing_meshes(of)))
        return next(found for site, found in known if site == of.site)

    answers = study_options(job, given, by=by, meshes=meshes, progress=progress)
    examples = (e for each in given.options if each.job is not None for e in each.job.examples)
    marked = replace(job, examples=tuple(dict.fromkeys((*job.examples, *examples))))
    return StudiedOptions(marked, answers)


# --- sensitivity ---------------------------------------------------------------------------------


def sensitivities(
    job: Job, progress: Callable[[int, int], None] | None = None
) -> tuple[Sensitivity, ...]:
    """Spread and limits of every run, for the report and the page."""
    from route3d.report.sensitivity import Sensitivity
    from route3d.study.limits.study import job_limits

    spreads = spread(job, progress=progress).spreads
    found = job_limits(job, progress=progress)
    pairs = zip(spreads, found, strict=True)
    return tuple(Sensitivity(one, two, job.practice) for one, two in pairs)


# --- days ----------------------------------------------------------------------------------------


@dataclass(frozen=True, eq=False, repr=False)
class Days(Result):
    """The pulls of a job in days: the ``plan``, and the ``schedule`` it was made by."""

    job: Job
    plan: DayPlan
    schedule: Schedule

    _columns = (
        HeadedColumn("day", "day"),
        HeadedColumn("crew", "crew"),
        HeadedColumn("start", "start"),
        HeadedColumn("end", "end"),
        HeadedColumn("run", "run"),
        HeadedColumn("feed", "feed from"),
        HeadedColumn("pull", "pull at"),
        HeadedColumn("machine", "machine"),
        HeadedColumn("waits_for", "window, or waits for"),
    )

    @property
    def stops(self) -> bool:
        """True where a run has no place in the plan."""
        return self.plan.stops

    def report(self, units: str) -> RenderableType:
        """The report of ``route3d study days``."""
        from route3d.report.study_days import days_report

        return days_report(self.job, self.plan, self.schedule, units)

    def rows(self) -> list[dict[str, Any]]:
        """One dict for each pull, by day and crew, in SI; see :meth:`Result.rows`."""
        from route3d.report.study_days import days_rows

        return list(days_rows(self.plan, self.schedule))


def days(job: Job, crews: str | Path | Schedule, *, seconds: float = 20.0) -> Days:
    """Put the pulls of a job in days: which run when, by which crew, with which machine.

    Parameters
    ----------
    job : Job
        From :func:`load`, or built in Python; a run without rope or machine has no place.
    crews : str, pathlib.Path or Schedule
        The crews file, or the schedule itself.
    seconds : float
        About how long the solver may take, s.

    Returns
    -------
    Days
        Prints as ``route3d study days``.

    Raises
    ------
    InputError
        As :func:`evaluate` does, and for every mistake in the crews file.
    ModuleNotFoundError
        Where OR-Tools is not installed: ``pip install 'route3d[days]'``.
    """
    from route3d.model.schedule import Schedule as ScheduleRecord
    from route3d.modelfile.crews_file import load_schedule
    from route3d.planning.evaluate import evaluate as evaluate_job
    from route3d.study.day_plan.days import day_plan

    if not 0.1 <= seconds <= 86400:
        raise InputError(Problem(f"{seconds} must be between 0.1 and 86,400", "seconds"))
    schedule = crews if isinstance(crews, ScheduleRecord) else load_schedule(crews, job)
    result = evaluate_job(job, with_remedies=False)
    made = day_plan(result, schedule, seconds=seconds, meshes=standing_meshes(job))
    return Days(job, made, schedule)


# --- the calculation report ----------------------------------------------------------------------


def calculations(job: Job, units: str) -> tuple[RunCalculation, ...]:
    """Every run as the calculation report tells it: answered, planned, with remedies if stopped."""
    from route3d.planning.evaluate import evaluate as evaluate_job
    from route3d.planning.evaluate import with_advice
    from route3d.report.calculation import RunCalculation

    meshes, found = standing_meshes(job), []
    for result in evaluate_job(job, with_remedies=False).runs:
        if result.run.machine is None or result.run.rope is None:
            told = with_advice(result, job, meshes) if result.stops else result
            found.append(RunCalculation(told, None))
            continue
        made = _plan(result, job, None, units, meshes)
        found.append(RunCalculation(made.result, made))
    return tuple(found)


# --- tables for other programs -------------------------------------------------------------------


def to_frame(result: Result | Iterable[Mapping[str, Any]]) -> pandas.DataFrame:
    """The rows of an answer as a pandas DataFrame.

    Parameters
    ----------
    result : Result, or iterable of dict
        What :func:`evaluate`, :func:`check`, :func:`bends`, :func:`clearance` or :func:`plan`
        returned, or rows picked from it.

    Returns
    -------
    pandas.DataFrame
        One line a row, in SI, the unit at the end of each column's name.

    Raises
    ------
    ImportError
        Where pandas is not installed; it says how to install it.
    """
    try:
        import pandas
    except ImportError:
        raise ImportError("to_frame needs pandas: pip install 'route3d[frame]'") from None
    return pandas.DataFrame(result.rows() if isinstance(result, Result) else list(result))
