"""Many jobs on the processors of this machine; one that takes its process down is told apart."""

from __future__ import annotations

import gc
import multiprocessing
import os
import signal
import threading
from collections import deque
from collections.abc import Iterator
from concurrent.futures import FIRST_COMPLETED, Future, ProcessPoolExecutor, wait
from concurrent.futures.process import BrokenProcessPool

from route3d.study.many_jobs.answer import FileAnswer, JobFile
from route3d.study.many_jobs.feed import CHUNK, Answerer, Feed, Runner, chunk_of, lost

# Chunks that wait for each process, so that none waits for us.
_AHEAD = 3
# What every answer needs, loaded once for all processes.
_PRELOADED = (
    "route3d.api",
    "route3d.modelfile.read",
    "route3d.planning.evaluate",
    "route3d.planning.summary",
)
_DIED = "was not answered: the process that worked on it ended"
_DIED_FIX = "the file may be too large for the memory of this machine: split it, or report it"


def processors() -> int:
    """The processors this process may use."""
    if hasattr(os, "sched_getaffinity"):
        return len(os.sched_getaffinity(0))
    return os.cpu_count() or 1


def in_processes(answer: Answerer, workers: int) -> Runner:
    """Answers in so many processes.

    Where a process ends, each file that was under way is answered again in a process of its own:
    one that ends it again is told, and the others lose nothing.
    """

    def run(feed: Feed) -> Iterator[FileAnswer]:
        while True:
            suspects: list[JobFile] = []
            yield from _pooled(feed, answer, workers, suspects)
            if not suspects:
                return
            yield from _each_alone(suspects, answer)

    return run


def _pooled(
    feed: Feed, answer: Answerer, workers: int, suspects: list[JobFile]
) -> Iterator[FileAnswer]:
    """Answers until the feed is empty or a process ends; then ``suspects`` were under way."""
    pending: dict[Future[list[FileAnswer]], list[JobFile]] = {}
    with _Pool(workers) as pool:
        while True:
            while len(pending) < workers * _AHEAD and (files := feed.take(CHUNK)):
                try:
                    pending[pool.submit(chunk_of, answer, files)] = files
                except BrokenProcessPool:
                    suspects += files
                    break
            if not pending:
                return
            for future in wait(pending, return_when=FIRST_COMPLETED).done:
                files = pending.pop(future)
                if isinstance(future.exception(), BrokenProcessPool):
                    suspects += files
                else:
                    yield from future.result()
            if suspects:  # the pool is broken: the rest fails at once
                wait(pending)
                for future, files in pending.items():
                    if future.exception() is None:
                        yield from future.result()
                    else:
                        suspects += files
                return


def _each_alone(files: list[JobFile], answer: Answerer) -> Iterator[FileAnswer]:
    waiting = deque(files)
    while waiting:
        with _Pool(1) as pool:
            while waiting:
                file = waiting.popleft()
                try:
                    found = pool.submit(chunk_of, answer, [file]).result()
                except BrokenProcessPool:
                    yield lost(file, _DIED, _DIED_FIX)
                    break
                yield from found


class _Pool(ProcessPoolExecutor):
    """Processes that load the program once, and end at once when what they are for is given up."""

    def __init__(self, workers: int) -> None:
        self._others = set(multiprocessing.active_children())
        super().__init__(workers, mp_context=_context(), initializer=_begin)

    def __exit__(self, kind: type[BaseException] | None, *more: object) -> None:
        if kind is not None:  # stopped from the keyboard, or nobody wants the answers any more
            for process in set(multiprocessing.active_children()) - self._others:
                process.terminate()
        self.shutdown(cancel_futures=kind is not None)


def _context() -> multiprocessing.context.BaseContext:
    """Processes begun by a server that has loaded the program, where the system has such a thing.

    A plain fork would copy threads in the middle of their work.
    """
    if "forkserver" not in multiprocessing.get_all_start_methods():
        return multiprocessing.get_context("spawn")
    context = multiprocessing.get_context("forkserver")
    context.set_forkserver_preload(list(_PRELOADED))
    return context


def _begin() -> None:
    """What a process does first: leave the keyboard to its parent, and end when that is gone."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    gc.set_threshold(100_000)  # as the program does for itself: what loads stays
    gc.freeze()
    threading.Thread(target=_end_with_parent, daemon=True).start()


def _end_with_parent() -> None:
    parent = multiprocessing.parent_process()
    if parent is not None:
        parent.join()
        os._exit(1)
