"""The files still to answer, handed out in chunks."""

from __future__ import annotations

from collections import deque
from collections.abc import Callable, Iterator
from itertools import islice
from typing import Protocol

from route3d.errors import Problem
from route3d.study.many_jobs.answer import FileAnswer, JobFile

# Answers one file, whatever is wrong with it; found by its name in another process.
Answerer = Callable[[JobFile], FileAnswer]
# So many files go to a process at once: a tenth of a second of work, a hundred times what sending
# them takes (measured), and little to wait for at the end.
CHUNK = 4


class Feed:
    """Files to answer, and what is left of large ones.

    ``take`` hands out what there is now; ``again`` puts in what one answer left over.
    """

    def __init__(self, files: Iterator[JobFile]) -> None:
        self._files = files
        self._left: deque[JobFile] = deque()

    def take(self, most: int) -> list[JobFile]:
        """At most so many files; none where there are none now."""
        taken = [self._left.popleft() for _ in range(min(most, len(self._left)))]
        return taken + list(islice(self._files, most - len(taken)))

    def again(self, file: JobFile) -> None:
        """One more to answer, before the files not begun."""
        self._left.append(file)


class Runner(Protocol):
    """Answers what a feed has, in any order: alone, in processes, or on other machines."""

    def __call__(self, feed: Feed) -> Iterator[FileAnswer]:
        """The answers as they come; each file taken from the feed is answered once."""


def one_by_one(answer: Answerer) -> Runner:
    """Answers in this process."""

    def run(feed: Feed) -> Iterator[FileAnswer]:
        while files := feed.take(1):
            yield answer(files[0])

    return run


def chunk_of(answer: Answerer, files: list[JobFile]) -> list[FileAnswer]:
    """The answers of a chunk."""
    return [answer(file) for file in files]


def lost(file: JobFile, said: str, fix: str) -> FileAnswer:
    """The answer for a file that no process lived to answer."""
    return FileAnswer(file, problems=(Problem(said, fix=fix, file=file.file),))
