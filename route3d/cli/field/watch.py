"""``route3d field watch``: a pull followed as it happens."""

from __future__ import annotations

import signal
import sys
import time
from collections.abc import Callable, Iterator
from contextlib import AbstractContextManager, contextmanager, nullcontext, suppress
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from route3d.cli.common import (
    JsonOption,
    ModelFile,
    RunOption,
    UnitsOption,
    exit_code,
    message,
    number,
    option,
    read_job,
    show,
    system_of,
)
from route3d.cli.field.log_options import (
    DecimalOption,
    FeedOption,
    LogFile,
    MapOption,
    TareOption,
    force_of,
)
from route3d.errors import InputError, Problem

if TYPE_CHECKING:
    from route3d.field.log.stream import LogStream
    from route3d.field.readings import Event, Reading
    from route3d.field.watch import Seen, Watch
    from route3d.model.job import Job
    from route3d.planning.pull_plan.plan import Plan

# A log is looked at so often, s; a state is written no more often than this.
_EVERY, _SAVED_EVERY = 0.05, 1.0
# A log is told from another by its first bytes.
_HEAD = 256
# Readings of a growing log with so many behind them already are past: no forecast is made there.
_PAST = 50
_NEWS = 4  # lines of note kept on the screen


def watch(
    model: ModelFile,
    log_file: LogFile,
    run: RunOption = None,
    feed: FeedOption = None,
    once: Annotated[
        bool, typer.Option("--once", help="End at the end of the log; do not wait for more.")
    ] = False,
    replay: Annotated[
        float | None,
        option(
            "SPEED",
            "Replay a finished log by its times, so many times as fast.",
            parser=number(0.01),
        ),
    ] = None,
    state: Annotated[
        Path | None,
        option("FILE", "Keep what was learned in FILE, and take it up again from there."),
    ] = None,
    column: MapOption = None,
    decimal: DecimalOption = None,
    tare: TareOption = None,
    json: JsonOption = False,
    units: UnitsOption = None,
) -> None:
    """Watch a pull as it happens: every reading judged, and the load ahead forecast.

    Follows a log that grows, the log of the page, or standard input with "-". One line for each
    reading: what it means and what to do (ON PLAN, ABOVE CAUTION, FAR BELOW PLAN, STOP AND CALL,
    STOP); cable in, load, expected, gear, and margin to Caution and Stop; then the forecast: the
    peak ahead, the load at the end with the band that holds 9 readings of 10, where Stop is likely
    to be reached, and the last safe place to stop before it. Jumps and other departures from the
    plan, gear changes and planned stops have lines of their own. A jump, or a drop to nothing,
    stands until the readings are back or the pull starts again. A terminal shows a screen instead;
    --json prints one JSON object per line.

    Ctrl-C ends with a summary. Exit code 1 if a reading reached Stop.

    This never replaces the limiter, the operator, or the word that stops.

    Example: route3d field watch models/riser_duct_bank.toml pull.csv --once
    """
    from route3d.field.watch import Watch

    if once and replay is not None:
        said = "--once and --replay do not go together: a replay ends with its log"
        raise InputError(Problem(said, "--replay", "leave out one of the two"))
    job = read_job(model)
    system = system_of(job, units)
    stream = _stream(job, log_file, run, feed, column, decimal, force_of(tare, system, "--tare"))
    with _closed(stream):
        plan = _plan_of(job, stream, system)
        watched = Watch(plan, job.allowances.gauge_step)
        kept = _State(state, log_file, watched)
        told = _told(job, watched, system, json=json)
        with told.shown():
            with suppress(KeyboardInterrupt), _ended_by_signals():
                _follow(watched, stream, told, kept, once=once, replay=replay)
            if not watched.readings and (once or replay is not None or stream.ended):
                fix = "check that this is the right file; see: route3d field log"
                raise InputError(Problem("holds no readings", fix=fix, file=str(log_file)))
            told.departures(watched.finish())
            kept.write()
    told.summary()
    raise exit_code(watched.passed > 0)


@contextmanager
def _closed(stream: LogStream) -> Iterator[None]:
    """The log is closed at the end, whatever ended it."""
    try:
        yield
    finally:
        with suppress(InputError):
            stream.finish()
        stream.close()


@contextmanager
def _ended_by_signals() -> Iterator[None]:
    """SIGTERM, and SIGINT where whoever started us had it ignored, end as Ctrl-C does."""
    kinds = (signal.SIGINT, signal.SIGTERM)
    before = [signal.signal(kind, signal.default_int_handler) for kind in kinds]
    try:
        yield
    finally:
        for kind, handler in zip(kinds, before, strict=True):
            signal.signal(kind, handler)


# --- where readings come from ---------------------------------------------------------------------


def _stream(
    job: Job,
    log_file: Path,
    run: str | None,
    feed: str | None,
    column: list[str] | None,
    decimal: Any,
    tare: float | None,
) -> LogStream:
    from route3d.field.log.stream import LogStream

    return LogStream(
        sys.stdin.buffer if str(log_file) == "-" else log_file,
        job,
        run=run,
        feed=feed,
        mapping=column or (),
        decimal=None if decimal is None else decimal.value,
        tare=tare,
    )


def _plan_of(job: Job, stream: LogStream, system: str) -> Plan:
    """The plan of the run and end that the log is of, with the gauge table the crew holds."""
    from dataclasses import replace

    from route3d.api import plan

    of = stream.pulled
    runs = tuple(r for r in job.runs if r.name == of.run.name)
    made = plan(replace(job, runs=runs), feed=of.pull.feed_name, units=system).plans[0]
    if made.stops:
        said = f"run {of.run.name!r} must not be pulled as modeled, so it has no gauge readings"
        raise InputError(Problem(said, of.pull.feed_name, "see: route3d plan MODEL"))
    return made


def _follow(
    watched: Watch,
    stream: LogStream,
    told: _Told,
    kept: _State,
    *,
    once: bool,
    replay: float | None,
) -> None:
    from route3d.field.readings import Reading

    began = time.monotonic()
    first: float | None = None
    for batch in _batches(stream, once=once or replay is not None):
        kept.begins_at(stream)
        for i, item in enumerate(batch):
            if kept.behind(item.row):
                continue
            if replay is not None and item.time == item.time:
                first = item.time if first is None else first
                due = began + (item.time - first) / replay
                time.sleep(max(0.0, due - time.monotonic()))
            if isinstance(item, Reading):
                now = once or replay is not None or len(batch) - i <= _PAST
                seen = watched.reading(item, stream.tare, forecast=now)
                if seen is not None:
                    told.reading(seen)
            else:
                told.departures(watched.event(item))
        watched.amended(stream.amended)
        kept.write_now_and_then()


def _batches(stream: LogStream, *, once: bool) -> Iterator[list[Reading | Event]]:
    """What has come, again and again; to the end of the log only ``once``."""
    while True:
        batch = stream.poll()
        if batch:
            yield batch
        elif stream.ended or once:
            break
        else:
            yield []
            time.sleep(_EVERY)
    yield stream.finish()


# --- what is told ---------------------------------------------------------------------------------


class _Told:
    """What is printed: lines into a pipe, JSON, or a screen."""

    def __init__(self, job: Job, watched: Watch, system: str) -> None:
        self.job, self.watched, self.system = job, watched, system

    def shown(self) -> AbstractContextManager[Any]:
        """While the pull is watched."""
        from route3d.report.field_watch import NEVER_REPLACES
        from route3d.report.layout import heading

        show(heading(self.job))
        pull = self.watched.plan.pull
        self.line(f"Run {pull.run.name}, fed from {pull.feed_name}. {NEVER_REPLACES}\n")
        return nullcontext()

    def line(self, text: str) -> None:
        """One line, at once."""
        sys.stdout.write(text + "\n")
        sys.stdout.flush()

    def reading(self, seen: Seen) -> None:
        """A reading, and what it made known."""
        from route3d.report.field_watch import coming_line, reading_line

        self.departures(seen.called)
        if seen.announced and seen.coming is not None:
            self.line(coming_line(seen.coming, seen.reading.pulled, self.system))
        self.line(reading_line(seen, self.system))

    def departures(self, found: Any) -> None:
        """Departures from the plan."""
        from route3d.report.field_watch import departure_line

        for one in found:
            self.line(departure_line(one, self.system))

    def summary(self) -> None:
        """What happened."""
        from route3d.report.field_watch import summary_lines

        self.line("\n" + "\n".join(summary_lines(self.watched, self.system)))


class _Json(_Told):
    """One object per line, SI."""

    def shown(self) -> AbstractContextManager[Any]:
        from route3d.report.json_result import job_data

        pull = self.watched.plan.pull
        of = {"run": pull.run.name, "feed": pull.feed_name}
        self.data({"event": "job", **job_data(self.job), **of})
        return nullcontext()

    def data(self, data: dict[str, Any]) -> None:
        from json import dumps

        self.line(dumps(data, allow_nan=False))

    def reading(self, seen: Seen) -> None:
        from route3d.report.field_watch import reading_data

        self.departures(seen.called)
        self.data(reading_data(seen))

    def departures(self, found: Any) -> None:
        from route3d.report.field_watch import departure_data

        for one in found:
            self.data(departure_data(one))

    def summary(self) -> None:
        from route3d.report.field_watch import summary_data

        self.data(summary_data(self.watched))


class _Screen(_Told):
    """A screen that is drawn anew at every reading."""

    def shown(self) -> AbstractContextManager[Any]:
        from rich.live import Live

        from route3d.report.layout import heading

        show(heading(self.job))
        self.news: list[str] = []
        self.seen: Seen | None = None
        self.live = Live(get_renderable=self.drawn, refresh_per_second=8, transient=True)
        return self.live

    def drawn(self) -> Any:
        from route3d.report.field_watch import screen

        return screen(self.watched, self.seen, self.news, self.system)

    def line(self, text: str) -> None:
        self.news = [*self.news, text][-_NEWS:]

    def reading(self, seen: Seen) -> None:
        from route3d.report.field_watch import coming_line

        self.departures(seen.called)
        if seen.announced and seen.coming is not None:
            self.line(coming_line(seen.coming, seen.reading.pulled, self.system))
        self.seen = seen

    def summary(self) -> None:
        from route3d.report.field_watch import screen, summary_lines

        show(screen(self.watched, self.seen, (), self.system))
        for text in summary_lines(self.watched, self.system):
            _Told.line(self, text)


def _told(job: Job, watched: Watch, system: str, *, json: bool) -> _Told:
    kind: Callable[[Job, Watch, str], _Told] = _Told
    if json:
        kind = _Json
    elif sys.stdout.isatty():
        kind = _Screen
    return kind(job, watched, system)


# --- kept between two watches ---------------------------------------------------------------------


class _State:
    """The file of --state: what was learned, and up to which row of which log."""

    def __init__(self, path: Path | None, log_file: Path, watched: Watch) -> None:
        self.path, self.log_file, self.watched = path, log_file, watched
        self.done, self.written = 0, time.monotonic()
        self.first_row = 1
        if path is None:
            return
        from route3d.cli.common import refuse_suffix

        refuse_suffix("--state", path, ".json")
        if path.exists():
            self._read(path)

    def _read(self, path: Path) -> None:
        from json import loads

        from route3d.disk import MEGABYTE, read_text

        try:
            data = loads(read_text(path, limit=20 * MEGABYTE))
            size, head, row = int(data["head_bytes"]), str(data["head"]), int(data["row"])
            pull = data["route3d_watch"]
        except (KeyError, TypeError, ValueError):
            said = "is not a state of route3d field watch"
            raise InputError(Problem(said, "--state", "name another file", str(path))) from None
        self.watched.take_up(pull, str(path))
        if data.get("plan") not in (None, self._plan()):
            said = "was left by a watch with another plan: the model has changed"
            raise InputError(Problem(said, "--state", "name another file", str(path)))
        if size and self._size() and self._head(size) != head:
            said = f"was left by a watch of another log, {data.get('log', '')}"
            raise InputError(Problem(said, "--state", "name another file", str(path)))
        if size and self._size():
            self.done = row
        message(f"taken up from {path}: {self.watched.readings:,} readings")

    def begins_at(self, stream: LogStream) -> None:
        """Find the row at which the file that is there now begins: rows are counted on."""
        if self.path is not None:
            anew = [d.rows[-1][0] for d in stream.decisions if d.rule == "begun anew" and d.rows]
            self.first_row = anew[-1] if anew else 1

    def behind(self, row: int) -> bool:
        """Whether a row was seen by the watch before this one."""
        return self.first_row == 1 and row <= self.done

    def write_now_and_then(self) -> None:
        """Write the state, if the last was some time ago."""
        if self.path is not None and time.monotonic() - self.written > _SAVED_EVERY:
            self.write()

    def write(self) -> None:
        """Write the state, whole or not at all."""
        if self.path is None:
            return
        from json import dumps

        from route3d.disk import write_text_atomic

        done = self.done if self.first_row == 1 else 0
        size = self._size()
        data = {
            "route3d_watch": self.watched.kept(),
            "log": str(self.log_file),
            "plan": self._plan(),
            "head_bytes": size,
            "head": self._head(size) if size else "",
            "row": max(self.watched.last_row - self.first_row + 1, done),
        }
        write_text_atomic(self.path, dumps(data, allow_nan=False) + "\n")
        self.written = time.monotonic()

    def _plan(self) -> str:
        """A mark of the gauge table that readings are judged by."""
        from hashlib import sha256

        rows = self.watched.plan.gauge
        figures = [(row.pulled, row.expected, row.caution, row.stop) for row in rows]
        return sha256(repr(figures).encode()).hexdigest()

    def _size(self) -> int:
        """How many of the first bytes tell the log from another; 0 where there is no file."""
        if str(self.log_file) == "-" or not self.log_file.is_file():
            return 0
        return min(_HEAD, self.log_file.stat().st_size)

    def _head(self, size: int) -> str:
        """A mark of the first bytes of the log."""
        from hashlib import sha256

        try:
            with self.log_file.open("rb") as file:
                return sha256(file.read(size)).hexdigest()
        except OSError:
            return ""
