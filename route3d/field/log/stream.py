"""A log that grows while the pull goes on: a file that is written to, or standard input.

Line by line, with the rules of a whole file as far as they look back only; memory does not grow.
A file may be cut short and begun anew, or replaced by another (rotated); its last line counts once
it has a line end.
"""

from __future__ import annotations

import os
import select
import time
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from pathlib import Path
from typing import BinaryIO

from route3d.errors import InputError, Problem
from route3d.field.log.cleaning import Cleaner
from route3d.field.log.decisions import Decisions
from route3d.field.log.header import HEADER_WITHIN, TableStart, table_start
from route3d.field.log.mapping import asked_mapping, find_columns
from route3d.field.log.numbers import Decimal
from route3d.field.log.order import counts_down, in_order, out_of_line
from route3d.field.log.page_log import PageLog, page_log
from route3d.field.log.pulled_run import PulledRun
from route3d.field.log.read import named_pull, run_of
from route3d.field.log.rows import RowReader, row_reader
from route3d.field.log.tables import (
    LogLine,
    cells_of,
    decoded,
    encoding_of,
    log_bytes,
    log_text,
    refuse_binary,
    separator_of,
)
from route3d.field.readings import Decision, Event, Reading
from route3d.model.job import Job
from route3d.planning.pull_plan.plan import Plan

# So much is read at once, bytes; a line longer than a line can be is no line.
_CHUNK = 1 << 20
_LONGEST_LINE = 1 << 16
# Rows by which the decimal mark and the way times are written are found.
_SAMPLE = 50


class LogStream:
    """Readings and events of a log as they come.

    ``source`` is the path of a file, which is followed while it grows, or a binary stream such as
    ``sys.stdin.buffer``; the other arguments are those of ``read_log``. ``amended`` are the flags
    that the rows of the last ``poll`` added to readings given before, by their rows; ``ended`` is
    true once a stream has come to its end; ``pulled`` is what the log is of. InputError for a file
    that is not there, and from ``poll`` for columns or numbers that cannot be told.

    ::

        with LogStream(sys.stdin.buffer, job) as stream:
            for item in stream.follow():
                ...
    """

    def __init__(
        self,
        source: str | Path | BinaryIO,
        job: Job,
        *,
        run: str | None = None,
        feed: str | None = None,
        mapping: Sequence[str] = (),
        units: str | None = None,
        decimal: str | None = None,
        tare: float | None = None,
        plan: Plan | PulledRun | None = None,
    ) -> None:
        self._path = Path(source) if isinstance(source, str | Path) else None
        self._file = str(self._path) if self._path is not None else "standard input"
        self._decisions = Decisions()
        self._page = _Page(self._path) if self._path is not None else None
        self._lines = _Lines(source, self._decisions)
        page = _Page(self._path).read(last=False) if self._path is not None else None
        said = ("", "") if page is None else (page.run, page.feed)
        self._asked, self._units = asked_mapping(mapping), units
        marks: dict[str, Decimal] = {"point": ".", "comma": ","}
        self._decimal = marks.get(decimal or "", "")
        self._job = job
        self._asked_of = None if plan is not None else (run, feed)
        self.pulled = run_of(job, *said, plan, self._decisions, asked=(run, feed), file=self._file)
        self._tare = tare
        self._cleaner = Cleaner(self.pulled, self._decisions, tare=tare)
        self._given = 0
        self._head: list[tuple[int, str]] = []
        self._separator = ","
        self._start: TableStart | None = None
        self._header: tuple[object, ...] = ()
        self._reader: RowReader | None = None
        self._sample: list[LogLine] = []
        self.started = ""

    def __enter__(self) -> LogStream:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    def close(self) -> None:
        """Close the file; a stream that was given stays open."""
        self._lines.close()

    @property
    def ended(self) -> bool:
        """Whether no more can come."""
        return self._lines.ended

    @property
    def decisions(self) -> tuple[Decision, ...]:
        """What was decided so far."""
        return self._decisions.listed()

    @property
    def tare(self) -> float:
        """What the gauge reads without a load, as far as known, N."""
        return self._cleaner.tare

    @property
    def amended(self) -> dict[int, tuple[str, ...]]:
        """All flags of readings given before that got more of them since the last ``poll``."""
        return self._cleaner.amended

    def poll(self) -> list[Reading | Event]:
        """What has come since; never waits."""
        self._cleaner.amended = {}
        if self._page is not None and self._start is None and self._page.begins:
            return self._entries(self._page, last=False)
        made: list[Reading | Event] = []
        for number, line in self._lines.new():
            made += self._line(number, line)
        return made

    def finish(self) -> list[Reading | Event]:
        """Take the last line, though it has no line end, and close the file."""
        self._cleaner.amended = {}
        made: list[Reading | Event] = []
        if self._page is not None and self._start is None and self._page.begins:
            made = self._entries(self._page, last=not self._given)
            self._lines.close()
            return made
        for number, line in self._lines.rest():
            made += self._line(number, line)
        if self._start is None and self._head:
            made += self._begin(last=True)
        return made

    def follow(self, every: float = 0.05, idle: float | None = None) -> Iterator[Reading | Event]:
        """What comes, waiting for more, until the stream ends or is ``idle`` for so many s."""
        quiet = time.monotonic()
        while True:
            made = self.poll()
            yield from made
            if made:
                quiet = time.monotonic()
            if self.ended or (idle is not None and time.monotonic() - quiet > idle):
                break
            if not made:
                time.sleep(every)
        yield from self.finish()

    # --- the log of the page ---------------------------------------------------------------------

    def _entries(self, source: _Page, *, last: bool) -> list[Reading | Event]:
        """The entries that the page's log has beyond those given, all judged as a whole file is."""
        page = source.read(last=last)
        if page is None:
            return []
        if not self._given:
            source.note(self._decisions)
            rows, sound = in_order(list(page.rows), self._decisions)
            down = counts_down(rows)
            self._cleaner = Cleaner(
                self.pulled,
                self._decisions,
                tare=self._tare,
                step=page.step,
                in_order=sound,
                doubted=out_of_line(rows, down),
                counts_down=down,
            )
        else:
            rows = [row for row in page.rows if row.line > self._given]
        self._given = len(page.rows)
        self.started = page.started
        return [item for row in rows for item in self._cleaner.add(row)]

    # --- one line --------------------------------------------------------------------------------

    def _line(self, number: int, text: str) -> list[Reading | Event]:
        if not text.strip():
            self._decisions.note("empty rows", "Empty rows were skipped.", number)
            return []
        if self._start is None:
            self._head.append((number, text))
            return self._begin(last=False)
        line = LogLine(number, cells_of(text, self._separator))
        if line.empty:
            self._decisions.note("empty rows", "Empty rows were skipped.", number)
            return []
        if self._lines.anew:
            self._lines.anew = False
            self._cleaner.begun_anew()
            if line.cells != self._header and self._other_header(line):
                return []
        if line.cells == self._header:
            said = "The header stands again between the rows."
            self._decisions.note("header again", said, number)
            return []
        return self._row(line)

    def _begin(self, *, last: bool) -> list[Reading | Event]:
        """Look for the header in what has come; then the rows below it."""
        self._separator = separator_of([text for _, text in self._head])
        lines = [LogLine(n, cells_of(text, self._separator)) for n, text in self._head]
        try:
            start = table_start(lines, self._asked, self._units, self._file)
        except InputError:
            if last or len(lines) >= HEADER_WITHIN:
                raise
            return []
        if start.rows == len(lines) and not last:
            return []  # the row below the header may hold the units
        self._refuse_other(start.texts)
        self._start, self._head = start, []
        self._header = lines[start.above].cells if start.rows else ()
        for line in lines[: start.above]:
            said = "Rows above the header hold no readings."
            self._decisions.note("above the header", said, line.line)
        for line in lines[start.above : start.rows]:
            self._decisions.note("header", "Header, and units below it.", line.line)
        made: list[Reading | Event] = []
        for line in lines[start.rows :]:
            made += self._row(line)
        return made

    def _refuse_other(self, texts: Mapping[str, str]) -> None:
        """InputError where the lines above the header name another run or feed end."""
        if self._asked_of is None:
            return
        feed = texts.get("feed", texts.get("feed end", ""))
        run, end = named_pull(
            self._job,
            texts.get("run", ""),
            feed,
            self._decisions,
            asked=self._asked_of,
            file=self._file,
        )
        here = (self.pulled.run.name, self.pulled.pull.feed_name)
        if (run or here[0], end or here[1]) != here:
            said = f"is a log of run {run or here[0]!r} fed from {end or here[1]!r}, watched as of "
            said += f"run {here[0]!r} fed from {here[1]!r}"
            fix = f'add --run "{run or here[0]}" --feed "{end or here[1]}"'
            raise InputError(Problem(said, fix=fix, file=self._file))

    def _other_header(self, line: LogLine) -> bool:
        """Whether a file begun anew begins with another header; then that of the rows below."""
        try:
            columns = find_columns(line, self._asked, self._units, self._file)
        except InputError:
            return False
        if not columns.enough or self._start is None:
            return False
        self._start = replace(self._start, columns=columns)
        self._header, self._sample, self._reader = line.cells, [], None
        self._decisions.note("header", "Header, and units below it.", line.line)
        return True

    def _row(self, line: LogLine) -> list[Reading | Event]:
        reader = self._reader_for(line)
        row = reader.read(line)
        if row.family and not reader.family:
            self._reader = replace(reader, family=row.family)
        self.started = self.started or row.iso
        return self._cleaner.add(row)

    def _reader_for(self, line: LogLine) -> RowReader:
        if self._reader is not None and len(self._sample) >= _SAMPLE:
            return self._reader
        assert self._start is not None
        self._sample.append(line)
        reader, said = row_reader(
            self._sample,
            self._start.columns,
            self._file,
            decimal=self._decimal,
            month_first=self._job.units == "US",
        )
        before = self._reader
        if before is not None:
            turned = [k for k, mark in reader.decimals.items() if mark != before.decimals.get(k)]
            if turned and any("." in str(c) for x in self._sample[:-1] for c in x.cells):
                header = self._start.columns.header(turned[0])
                wrong = f"column {header!r} shows a decimal comma after decimal points"
                fix = "add --decimal point or --decimal comma"
                raise InputError(Problem(wrong, fix=fix, file=self._file, line=line.line))
            reader = replace(reader, family=before.family)
        else:
            for words in said:
                self._decisions.note("how numbers are written", words)
        self._reader = reader
        return reader


class _Page:
    """The JSON log of the page, which is written anew with every entry more."""

    def __init__(self, path: Path) -> None:
        self._path = path
        self._stamp: tuple[int, int, int] | None = None
        self._decisions = Decisions()

    @property
    def begins(self) -> bool:
        """Whether the file begins as JSON does."""
        try:
            with self._path.open("rb") as file:
                head = file.read(64)
        except (OSError, ValueError):
            return False
        return head.removeprefix(b"\xef\xbb\xbf").lstrip().startswith((b"{", b"[{"))

    def read(self, *, last: bool) -> PageLog | None:
        """The log, None where it is none or not yet whole; ``last``: InputError for that."""
        if not self.begins:
            return None
        now = self._path.stat()
        stamp = (now.st_ino, now.st_size, now.st_mtime_ns)
        if stamp == self._stamp and not last:
            return None
        self._decisions = Decisions()
        data = log_bytes(self._path)
        try:
            page = page_log(log_text(data, self._decisions), self._path, self._decisions)
        except InputError as error:
            if last or "not whole" not in str(error):
                raise
            return None  # it is being written
        self._stamp = stamp
        return page

    def note(self, decisions: Decisions) -> None:
        """Pass on what was decided."""
        for one in self._decisions.listed():
            decisions.note(one.rule, one.words, count=one.count)


class _Lines:
    """Whole lines of text as they come, with their numbers; ``anew`` once a file was begun anew.

    Lines are counted on through files that take each other's place.
    """

    def __init__(self, source: str | Path | BinaryIO, decisions: Decisions) -> None:
        self.decisions = decisions
        self.ended = self.anew = False
        self._path = Path(source) if isinstance(source, str | Path) else None
        if self._path is not None:
            self._handle = self._opened(self._path)
        else:
            assert not isinstance(source, str | Path)
            self._handle = source
        self._held = b""
        self._encoding: str | None = None
        self._number = 0
        self._dropping = False

    @staticmethod
    def _opened(path: Path) -> BinaryIO:
        try:
            if path.is_dir():
                raise InputError(Problem("is a folder, not a file", file=str(path)))
            return path.open("rb")
        except (OSError, ValueError) as error:
            reason = (getattr(error, "strerror", None) or str(error)).lower()
            said = f"cannot be read: {reason}"
            raise InputError(Problem(said, fix="check the name", file=str(path))) from None

    def new(self) -> Iterator[tuple[int, str]]:
        """The lines that have come."""
        if self.ended:
            return
        if self._path is None:
            yield from self._split(self._arrived())
            return
        while data := self._handle.read(_CHUNK):
            yield from self._split(data)
        yield from self._changed(self._path)

    def rest(self) -> Iterator[tuple[int, str]]:
        """The last line without its end."""
        yield from self._last()
        self.close()

    def close(self) -> None:
        """Take no more."""
        self.ended = True
        if self._path is not None:
            self._handle.close()

    def _arrived(self) -> bytes:
        """What a stream has, without waiting."""
        try:
            number = self._handle.fileno()
        except (OSError, AttributeError, ValueError):
            data = self._handle.read(_CHUNK)
            self.ended = not data
            return data
        parts: list[bytes] = []
        while len(parts) < 16 and select.select([number], [], [], 0)[0]:
            data = os.read(number, _CHUNK)
            if not data:
                self.ended = True
                break
            parts.append(data)
        return b"".join(parts)

    def _changed(self, path: Path) -> Iterator[tuple[int, str]]:
        """Begin again where the file was cut short, or another took its place."""
        try:
            now = path.stat()
        except OSError:
            return  # moved away; the next one will come
        mine = os.fstat(self._handle.fileno())
        if (now.st_ino, now.st_dev) != (mine.st_ino, mine.st_dev):
            yield from self._split(self._handle.read())
            yield from self._last()
            self._handle.close()
            self._handle = self._opened(path)
            said = "Another file took the place of the log and was read on. Lines are counted on."
        elif now.st_size < self._handle.tell():
            yield from self._last()
            self._handle.seek(0)
            said = "The log was cut short and begun anew. Lines are counted on."
        else:
            return
        self._encoding, self.anew = None, True
        self.decisions.note("begun anew", said, self._number + 1)
        while data := self._handle.read(_CHUNK):
            yield from self._split(data)

    def _split(self, data: bytes) -> Iterator[tuple[int, str]]:
        self._held += data
        if self._encoding is None:
            if len(self._held) < 4:
                return
            refuse_binary(self._held, str(self._path or "standard input"))
            self._encoding, mark = encoding_of(self._held[:4096])
            self._held = self._held[mark:]
        end, width = b"\n", 1
        if self._encoding.startswith("utf-16"):
            end, width = "\n".encode(self._encoding), 2
        start = 0
        while (at := self._held.find(end, start)) >= 0:
            if (at - start) % width:  # half of one letter and half of the next
                at = self._aligned(end, at, start, width)
                if at < 0:
                    break
            line = self._held[start:at]
            start = at + width
            yield from self._given(line)
        self._held = self._held[start:]
        if len(self._held) > _LONGEST_LINE:
            if not self._dropping:
                said = "A line without an end was left out."
                self.decisions.note("no line", said, self._number + 1)
            self._dropping, self._held = True, b""

    def _aligned(self, end: bytes, at: int, start: int, width: int) -> int:
        while at >= 0 and (at - start) % width:
            at = self._held.find(end, at + 1)
        return at

    def _given(self, line: bytes) -> Iterator[tuple[int, str]]:
        self._number += 1
        if self._dropping:
            self._dropping = False
            return
        if self._encoding and self._encoding.startswith("utf-16"):
            text, windows = line.decode(self._encoding, errors="replace"), False
        else:
            text, windows = decoded(line)
        if windows:
            said = "The text is not UTF-8; it was read as Windows text."
            self.decisions.note("encoding", said, self._number)
        if "\x00" in text:
            text = text.replace("\x00", "")
            said = "Null characters in the text were left out."
            self.decisions.note("null characters", said, self._number)
        parts = text.rstrip("\r").split("\r")  # the line ends of old recorders
        yield self._number, parts[0]
        for part in parts[1:]:
            self._number += 1
            yield self._number, part

    def _last(self) -> Iterator[tuple[int, str]]:
        held, self._held = self._held, b""
        if self._encoding is None and held:
            self._encoding, mark = encoding_of(held)
            held = held[mark:]
        if held:
            yield from self._given(held)
