"""The results of many jobs on disk, one line a run: appended as they come, resumed, and sorted.

In memory are a few numbers for each line, never the lines: a hundred thousand jobs take as little
as a thousand.
"""

from __future__ import annotations

import io
import json
import os
import tempfile
from array import array
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from types import TracebackType
from typing import IO, Any

import numpy as np

from route3d.disk import content_mark, refuse_target, write_stream_atomic
from route3d.errors import InputError, Problem
from route3d.study.many_jobs.answer import FileAnswer, JobFile, JobLine, line_of, lines_data

_HEAD = b'{"file": '
_FIX = "name another file; a file of results is one that this command wrote"


@dataclass(slots=True)
class Resumed:
    """What stood in a file of results: ``kept`` files are done and unchanged.

    ``again`` files are answered again because they, a file they refer to, or route3d changed, or
    because they had errors. ``foreign`` lines are of files not asked; they stay where they are.
    ``cut`` says whether the last line was half written.
    """

    kept: int = 0
    again: int = 0
    foreign: int = 0
    cut: bool = False


@dataclass(slots=True)
class _Index:
    """Where each line stands, the file and run it is of, and what it is sorted by."""

    at: array[int] = field(default_factory=lambda: array("q"))
    file: array[int] = field(default_factory=lambda: array("l"))
    run: array[int] = field(default_factory=lambda: array("l"))
    group: array[int] = field(default_factory=lambda: array("b"))
    share: array[float] = field(default_factory=lambda: array("d"))

    def add(self, at: int, file: int, run: int, line: JobLine) -> None:
        group, share = line.rank
        for column, value in (
            (self.at, at),
            (self.file, file),
            (self.run, run),
            (self.group, group),
        ):
            column.append(value)
        self.share.append(share)

    def order(self, *keys: str) -> np.ndarray:
        """The numbers of the lines sorted by these columns, the first counting most."""
        columns = [np.asarray(getattr(self, key)) for key in reversed(keys)]
        return np.lexsort(columns) if len(self.at) else np.zeros(0, dtype=int)


class Ledger:
    """The results of ``files``: those that stand in ``path`` already, and those added.

    Without a ``path`` they are kept in a file of their own until the ledger is closed. ``by`` is
    the program that answers; what another one answered is answered again. Raises InputError where
    the file holds anything else than results, or another command writes to it. A new file that
    no answer came for is gone when the ledger is closed.
    """

    def __init__(self, files: Sequence[str], by: str, path: Path | None = None) -> None:
        self._files, self._by, self.path = files, by, path
        self._folder = "" if path is None else str(path.parent.absolute()).rstrip(os.sep) + os.sep
        self._index = _Index()
        self._complete = bytearray(len(files))
        self._partly: dict[int, set[int]] = {}
        self.resumed = Resumed()
        self._done = 0
        self.bad: set[int] = set()
        self.stops = False
        self.examples = False
        if path is None:
            self._file: IO[bytes] = tempfile.TemporaryFile("w+b")  # noqa: SIM115 - until close
            return
        self._new = not path.exists()
        self._file = _locked(path)
        try:
            self._resume(path)
        except BaseException:
            self._file.close()
            raise

    def __enter__(self) -> Ledger:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        unused = self.path if self.path and not self._file.seek(0, io.SEEK_END) else None
        self._file.close()
        if unused and self._new:
            unused.unlink(missing_ok=True)

    # --- what is done, and what is left ----------------------------------------------------------

    @property
    def done(self) -> int:
        """The files answered, those with errors among them."""
        return self._done

    @property
    def whole(self) -> int:
        """The files asked."""
        return len(self._files)

    def wanted(self) -> Iterator[JobFile]:
        """The files to answer, in order; of a file answered in part, the runs that are missing."""
        partly = dict(self._partly)
        for number, file in enumerate(self._files):
            if number in partly:
                yield JobFile(number, file, tuple(sorted(partly[number])))
            elif not self._complete[number]:
                yield JobFile(number, file)

    def add(self, answer: FileAnswer) -> None:
        """Write the lines of an answer, all at once, so that they stand there whatever happens."""
        number = answer.asked.number
        told = list(lines_data(answer, self._name(answer.asked.file), self._by))
        lines = [json.dumps(data, ensure_ascii=False).encode() + b"\n" for data in told]
        at = self._file.seek(0, io.SEEK_END)
        self._file.write(b"".join(lines))
        self._file.flush()
        for data, line in zip(told, lines, strict=True):
            self._take(at, number, data, line_of(data, answer.asked.file))
            at += len(line)

    def _take(self, at: int, number: int, data: Mapping[str, Any], line: JobLine) -> None:
        """One line of a file asked into the index."""
        run = data.get("run_number", 0)
        self._index.add(at, number, run, line)
        self.stops = self.stops or (line.run is not None and line.run.stops)
        self.examples = self.examples or bool(line.examples)
        if line.run is None:
            self.bad.add(number)
            self._complete_file(number)
        elif not self._complete[number]:
            left = self._partly.setdefault(number, set(range(1, line.runs + 1)))
            left.discard(run)
            if not left:
                self._complete_file(number)

    def _complete_file(self, number: int) -> None:
        self._partly.pop(number, None)
        self._done += not self._complete[number]
        self._complete[number] = 1

    # --- the lines -------------------------------------------------------------------------------

    def __len__(self) -> int:
        """The lines, those of errors among them."""
        return len(self._index.at)

    def worst_first(self) -> Iterator[JobLine]:
        """Every line: files with errors, runs that must not be pulled, then by utilization."""
        return self._lines(self._index.order("group", "share", "file", "run"))

    def by_file(self) -> Iterator[JobLine]:
        """Every line in the order of the files and of their runs."""
        return self._lines(self._index.order("file", "run"))

    def _lines(self, order: Iterable[int]) -> Iterator[JobLine]:
        for i in order:
            self._file.seek(self._index.at[i])
            data = json.loads(self._file.readline())
            yield line_of(data, self._files[self._index.file[i]])

    # --- resuming --------------------------------------------------------------------------------

    def _name(self, file: str) -> str:
        """What the file of results calls a model file: from its own folder on, if it is in there.

        So results and jobs may be moved together, and the command called from anywhere.
        """
        if self.path is None:
            return file
        whole = os.path.abspath(file)  # noqa: PTH100 - of a hundred thousand: no look at the disk
        if not whole.startswith(self._folder):
            return whole
        return whole[len(self._folder) :].replace(os.sep, "/")

    def _resume(self, path: Path) -> None:
        """Take over the lines that still hold; the others leave the file."""
        if not self._file.seek(0, io.SEEK_END):
            return
        numbers = {self._name(file): i for i, file in enumerate(self._files)}
        renewed = self._renewed(path, numbers)
        dropped: list[tuple[int, int]] = []
        gone = 0
        for at, line, data in _read(self._file, path):
            number = numbers.get(data["file"]) if data else None
            if data is None:
                self.resumed.cut = True
            elif number is None:
                self.resumed.foreign += 1
                continue
            elif number not in renewed and not self._has(number, data["run_number"]):
                self._take(at - gone, number, data, line_of(data, self._files[number]))
                continue
            dropped.append((at, len(line)))
            gone += len(line)
        self.resumed.kept, self.resumed.again = self.done, len(renewed)
        end = self._file.seek(0, io.SEEK_END)
        if gone and dropped[0][0] == end - gone:  # all at the end
            self._file.truncate(end - gone)
        elif gone:
            self._rewrite(path, dropped, end)

    def _renewed(self, path: Path, numbers: Mapping[str, int]) -> set[int]:
        """The files with a line that no longer holds: a change, another program, errors."""
        renewed: set[int] = set()
        marks: dict[str, str] = {}
        last = (-1, "")
        for _, _, data in _read(self._file, path):
            number = numbers.get(data["file"]) if data else None
            if data is None or number is None or number in renewed:
                continue
            if last[0] != number:
                last = number, _mark(Path(self._files[number]))
            holds = (data["by"], data["content"]) == (self._by, last[1]) and "errors" not in data
            for name, mark in data.get("refers", {}).items() if holds else ():
                there = str(Path(self._files[number]).parent / name)
                if there not in marks:
                    marks[there] = _mark(Path(there))
                holds = holds and marks[there] == mark
            if not holds:
                renewed.add(number)
        return renewed

    def _has(self, number: int, run: int) -> bool:
        if number in self._partly:
            return run not in self._partly[number]
        return bool(self._complete[number])

    def _rewrite(self, path: Path, dropped: Sequence[tuple[int, int]], end: int) -> None:
        """The file without the lines dropped, complete before it takes the place of the old one."""

        def kept(out: IO[bytes]) -> None:
            at = 0
            for start, size in (*dropped, (end, 0)):
                self._file.seek(at)
                while at < start:
                    at += out.write(self._file.read(min(start - at, 1 << 20)))
                at = start + size

        write_stream_atomic(path, kept)
        self._file.close()
        self._file = _locked(path)


def _read(file: IO[bytes], path: Path) -> Iterator[tuple[int, bytes, dict[str, Any] | None]]:
    """Each line of a file of results: where it stands, and its data; None where it is half written.

    Raises InputError for a line that is no result.
    """
    at = 0
    file.seek(0)
    for number, line in enumerate(file, 1):
        data: Any = None
        if not line.endswith(b"\n") and line.startswith(_HEAD[: len(line)]):
            yield at, line, None
            return
        try:
            data = json.loads(line)
            line_of(data, "")
            sound = isinstance(data["file"], str) and data["by"] and data["content"] is not None
        except (ValueError, KeyError, TypeError, AttributeError):
            sound = False
        if not sound:
            said = "is not a result of route3d jobs. Nothing was written"
            raise InputError(Problem(said, fix=_FIX, file=str(path), line=number))
        yield at, line, data
        at += len(line)


def _mark(path: Path) -> str:
    try:
        return content_mark(path)
    except OSError:
        return ""


def _locked(path: Path) -> IO[bytes]:
    """The file open to read and to append, while no other command writes to it."""
    refuse_target(path)
    try:
        file = path.open("a+b")
    except OSError as error:
        said = f"cannot be written: {(error.strerror or str(error)).lower()}"
        raise InputError(Problem(said, fix="write to another location", file=str(path))) from None
    try:
        import fcntl
    except ImportError:  # a system without such locks
        return file
    try:
        fcntl.flock(file, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except OSError:
        file.close()
        said = "is being written by another command"
        fix = "wait until that has ended, or name another file"
        raise InputError(Problem(said, fix=fix, file=str(path))) from None
    return file
