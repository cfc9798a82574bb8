"""What is asked of one model file among many, what is answered, and the line of one run."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any

from route3d.errors import Problem
from route3d.planning.summary import RunSummary, rank

# So many runs of a large file are answered at a time, seconds of work; the rest is shared out.
RUNS_AT_ONCE = 16


@dataclass(frozen=True, slots=True)
class JobFile:
    """One model file to answer, or some of its runs.

    ``number`` is its place among the files asked, ``runs`` the numbers of the runs wanted, from 1:
    None for all. ``data`` is its content where whoever answers cannot read the file.
    """

    number: int
    file: str
    runs: tuple[int, ...] | None = None
    data: bytes | None = None


@dataclass(frozen=True, slots=True)
class FileAnswer:
    """The runs of one model file by their numbers, or the problems of the file.

    ``content`` is the mark of the file's content and ``refers`` has that of each file it refers to.
    ``left`` are the runs wanted that are not answered yet: a large file is answered in parts.
    """

    asked: JobFile
    content: str = ""
    refers: tuple[tuple[str, str], ...] = ()
    title: str = ""
    units: str = ""
    examples: tuple[str, ...] = ()
    notes: tuple[str, ...] = ()
    count: int = 0
    runs: tuple[tuple[int, RunSummary], ...] = ()
    left: tuple[int, ...] = ()
    problems: tuple[Problem, ...] = ()


@dataclass(frozen=True, slots=True)
class JobLine:
    """One line of a summary over several model files: the ``file`` and ``title`` of its job.

    ``examples`` are the tables of the file whose values nobody has confirmed. A file that could not
    be answered has a line without a ``run``: its ``errors``.
    """

    file: str
    title: str
    run: RunSummary | None
    examples: tuple[str, ...] = ()
    errors: tuple[str, ...] = ()
    units: str = ""
    runs: int = 0

    @property
    def rank(self) -> tuple[int, float]:
        """What a line is sorted by: files with errors, runs that stop, then by utilization."""
        if self.run is None:
            return 0, 0.0
        passes, share = rank(self.run)
        return 2 if passes else 1, share


def summary_data(run: RunSummary) -> dict[str, Any]:
    """The line of one run for machines, in SI; a number that there is not is None or infinite."""
    return {
        "name": run.name,
        "cables": run.cables,
        "length_m": run.length,
        "turn_deg": math.degrees(run.turn),
        "feed": run.feed,
        "pull": run.pull,
        "governing": run.governing,
        "utilization": run.utilization,
        "friction_margin": run.margin,
        "crew_time_s": run.crew_time,
        "must_not_be_pulled": run.stops,
        "reasons": list(run.reasons),
        "planned": run.planned,
    }


def lines_data(answer: FileAnswer, name: str, by: str) -> Iterator[dict[str, Any]]:
    """The lines of an answer for a file of results: one a run, or one with the errors.

    ``name`` is what the file of results calls the model file, ``by`` the program that answered.
    """
    mark: dict[str, Any] = {"by": by, "content": answer.content}
    if answer.refers:
        mark["refers"] = dict(answer.refers)
    if answer.problems:
        yield {"file": name, "errors": [str(p) for p in answer.problems], **mark}
        return
    of_file = {
        "title": answer.title,
        "units": answer.units,
        "examples": list(answer.examples),
        "runs": answer.count,
    }
    for number, run in answer.runs:
        data = {"file": name, "run_number": number, **summary_data(run), **of_file, **mark}
        if run.margin == math.inf:  # as null it is that of a run that no friction lets pass
            data["no_friction_reaches_a_limit"] = True
        yield {key: _finite(value) for key, value in data.items()}


def line_of(data: Mapping[str, Any], file: str) -> JobLine:
    """The line that ``lines_data`` made the data of; KeyError, TypeError where it did not."""
    if "errors" in data:
        return JobLine(file, "", None, errors=tuple(map(str, data["errors"])))
    unlimited = data.get("no_friction_reaches_a_limit", False)
    share = data["utilization"]
    run = RunSummary(
        name=data["name"],
        cables=data["cables"],
        length=data["length_m"],
        turn=math.radians(data["turn_deg"]),
        feed=data["feed"],
        pull=data["pull"],
        governing=data["governing"],
        utilization=math.inf if share is None else share,
        margin=math.inf if unlimited else data["friction_margin"],
        crew_time=data["crew_time_s"],
        reasons=tuple(data["reasons"]),
        planned=data["planned"],
    )
    examples = tuple(data["examples"])
    return JobLine(file, data["title"], run, examples, (), data["units"], data["runs"])


def _finite(value: Any) -> Any:
    return None if isinstance(value, float) and not math.isfinite(value) else value
