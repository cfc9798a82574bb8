"""Many jobs on the workers of a Dask cluster: their program is checked, and none need share a disk.

Each worker gets the content of a model file. What a file refers to (meshes, a ground surface, past
pulls) it reads under the same path, and what it read is compared with what is there on this side.
"""

from __future__ import annotations

import logging
import math
import re
import time
from collections import deque
from collections.abc import Callable, Iterator
from dataclasses import replace
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Any

from route3d.disk import content_mark, read_bytes
from route3d.errors import InputError, Problem
from route3d.study.many_jobs.answer import FileAnswer, JobFile
from route3d.study.many_jobs.feed import CHUNK, Answerer, Feed, Runner, chunk_of, lost
from route3d.study.many_jobs.program import program

if TYPE_CHECKING:
    from distributed import Client, Future

# Seconds until a scheduler that does not answer, or has no workers, is given up.
PATIENCE = 5.0
_AHEAD = 3
_LOOK = 2.0  # s, after which the workers are counted again though no answer came
_WITHOUT_WORKERS = 60.0  # s
_LARGEST_FILE = 5_000_000
_SHARED = (
    "a model that refers to other files needs a folder that every worker sees at the same path"
)
_ADDRESS = re.compile(r"(?:[a-z]+://)?(?:[\w.-]+|\[[0-9A-Fa-f:.%]+\]):(?P<port>\d{1,5})")
_KILLED = "was not answered: the workers that worked on it ended"
_KILLED_FIX = "the file may be too large for the memory of a worker: split it, or report it"


def on_cluster(answer: Answerer, scheduler: str) -> Runner:
    """Answers on the workers of the cluster with this scheduler, such as ``tcp://10.0.0.5:8786``.

    A worker that ends loses nothing: what it had under way another one answers. Files that several
    workers ended with are answered at last one at a time, and those that end one again are told.
    Raises InputError at once where the scheduler cannot be reached, and later where it is lost,
    where it has no workers, and where a worker has another route3d than this.
    """
    _reach(scheduler)

    def run(feed: Feed) -> Iterator[FileAnswer]:
        with _client(scheduler) as client:
            _same_program(client, scheduler)
            yield from _answers(client, feed, answer, scheduler)

    return run


def _reach(scheduler: str) -> None:
    """InputError for what is no address, and where nothing answers there.

    A Client that fails at either waits ten seconds when it is thrown away, and prints a traceback.
    """
    import asyncio

    from distributed import Security
    from distributed.comm.core import connect

    address = _ADDRESS.fullmatch(scheduler)
    if address is None or not 0 < int(address["port"]) < 65536:
        said = f"{scheduler!r} is not the address of a scheduler"
        raise InputError(Problem(said, "--scheduler", "enter host and port, as tcp://host:8786"))

    async def knock() -> None:
        how = Security().get_connection_args("client")  # type: ignore[no-untyped-call]
        comm = await connect(scheduler, timeout=PATIENCE, **how)  # type: ignore[no-untyped-call]
        await comm.close()

    _hush()
    try:
        asyncio.run(knock())
    except (OSError, TimeoutError):
        raise _no_answer(scheduler) from None
    except (ValueError, TypeError, RuntimeError, ImportError):  # a protocol that Dask lacks here
        said = f"Dask cannot connect to {scheduler} as it is set up here"
        fix = "use tcp://host:8786, or set up Dask for this protocol"
        raise InputError(Problem(said, "--scheduler", fix)) from None


def _hush() -> None:
    """What it logs of a worker that ends is told by what this does about it."""
    for name in ("distributed", "distributed.client", "distributed.comm"):
        logging.getLogger(name).setLevel(logging.CRITICAL)


def _no_answer(scheduler: str) -> InputError:
    fix = "start one (dask scheduler), or check address and network"
    return InputError(Problem(f"no scheduler answers at {scheduler}", "--scheduler", fix))


def _client(scheduler: str) -> Client:
    import distributed

    try:
        return distributed.Client(  # type: ignore[no-untyped-call]
            scheduler, timeout=PATIENCE, set_as_default=False
        )
    except (OSError, TimeoutError):
        raise _no_answer(scheduler) from None


def _same_program(client: Client, scheduler: str) -> None:
    """InputError where there is no worker, or one with another program."""
    import distributed

    try:
        client.wait_for_workers(1, timeout=PATIENCE)
    except (TimeoutError, distributed.TimeoutError):
        fix = f"start them: dask worker {scheduler} --nthreads 1"
        said = f"the scheduler at {scheduler} has no workers"
        raise InputError(Problem(said, "--scheduler", fix)) from None
    here = program()
    found: dict[str, Any] = client.run(_teller(), on_error="return")
    problems = []
    for worker, there in found.items():
        if there != here:
            said = there if isinstance(there, str) else f"no route3d ({there})"
            problems.append(
                Problem(
                    f"worker {worker} has {said}; here is {here}",
                    "--scheduler",
                    "install the same route3d on every worker and start it again",
                )
            )
    if problems:
        raise InputError(problems)


def _teller() -> Callable[[], str]:
    """A function that is sent whole: a worker may have no route3d, or one without this module."""

    def tell() -> str:
        try:
            import route3d
        except ImportError:
            return "no route3d"
        try:
            from route3d.study.many_jobs.program import program
        except ImportError:
            return f"route3d {route3d.__version__}"
        return program()

    return tell


def checked_chunk(expected: str, answer: Answerer, files: list[JobFile]) -> list[FileAnswer] | str:
    """The answers of a chunk, or the program of a worker that joined with another one."""
    own = program()
    return chunk_of(answer, files) if own == expected else own


def _answers(client: Client, feed: Feed, answer: Answerer, scheduler: str) -> Iterator[FileAnswer]:
    import distributed

    pending: dict[Future[Any], list[JobFile]] = {}
    suspects: deque[JobFile] = deque()  # under way where workers ended; the last are tried alone
    alone: JobFile | None = None
    task = partial(checked_chunk, program(), answer)
    threads = _Threads(client, scheduler)

    def submit(files: list[JobFile]) -> Iterator[FileAnswer]:
        """Send files with their contents; those that cannot be read are answered."""
        sent = []
        for file in files:
            try:
                data = read_bytes(file.file, limit=_LARGEST_FILE)
            except InputError as error:
                yield FileAnswer(file, problems=error.problems)
                continue
            sent.append(replace(file, file=str(Path(file.file).absolute()), data=data))
        if sent:
            numbers = {file.number for file in sent}
            own = [file for file in files if file.number in numbers]
            pending[client.submit(task, sent, pure=False)] = own

    try:
        while True:
            while len(pending) < threads.now() * _AHEAD and (files := feed.take(CHUNK)):
                yield from submit(files)
            if not pending:
                if not suspects:
                    return
                alone = suspects.popleft()
                yield from submit([alone])
                continue
            try:
                with client.as_current():
                    done = distributed.wait(  # type: ignore[no-untyped-call]
                        list(pending), _LOOK, return_when="FIRST_COMPLETED"
                    ).done
            except (TimeoutError, distributed.TimeoutError):
                continue
            for future in done:
                status = future.status
                if status in ("lost", "pending"):
                    continue  # its worker ended with the answer in hand: another one works on it
                files = pending.pop(future)
                if status == "cancelled":
                    raise _lost_scheduler(scheduler)
                if status == "error" and files == [alone]:
                    yield lost(files[0], *_told(future.exception()))
                elif status == "error":
                    suspects += files
                else:
                    found = future.result()
                    if isinstance(found, str):
                        raise _joined(found)
                    yield from map(held_to_here, found, files)
    except (OSError, TimeoutError, distributed.CancelledError):  # CommClosedError is an OSError
        raise _lost_scheduler(scheduler) from None
    finally:
        if pending and client.status == "running":
            client.cancel(list(pending), force=True)  # type: ignore[no-untyped-call]


class _Threads:
    """The threads of all workers, looked at again every second."""

    def __init__(self, client: Client, scheduler: str) -> None:
        self._client, self._scheduler = client, scheduler
        self._count, self._looked, self._seen = 0, -math.inf, time.monotonic()

    def now(self) -> int:
        """How many there are; InputError where there have been none for a minute."""
        now = time.monotonic()
        if now - self._looked > 1.0:
            threads = self._client.nthreads()  # type: ignore[no-untyped-call]
            self._count, self._looked = sum(threads.values()), now
            self._seen = now if self._count else self._seen
            if now - self._seen > _WITHOUT_WORKERS:
                said = f"the scheduler at {self._scheduler} has no workers any more"
                fix = "start workers, and run the command again"
                raise InputError(Problem(said, "--scheduler", fix))
        return max(self._count, 1)


def _joined(program_there: str) -> InputError:
    said = f"a worker joined that has {program_there}; here is {program()}"
    fix = "install the same route3d on it and start it again"
    return InputError(Problem(said, "--scheduler", fix))


def _told(error: BaseException | None) -> tuple[str, str]:
    import distributed

    if isinstance(error, distributed.KilledWorker):
        return _KILLED, _KILLED_FIX
    return f"was not answered on the cluster: {type(error).__name__}: {error}", "report it"


def _lost_scheduler(scheduler: str) -> InputError:
    said = f"the scheduler at {scheduler} was lost"
    return InputError(Problem(said, "--scheduler", "run the command again when it is back"))


def held_to_here(answer: FileAnswer, asked: JobFile) -> FileAnswer:
    """The answer, or problems where a worker read other files than there are here."""
    if answer.problems:
        told = []
        for p in answer.problems:
            shared = f"; {_SHARED}" if p.message.startswith("there is no file") else ""
            told.append(replace(p, file=asked.file, fix=f"{p.fix}{shared}"))
        return replace(answer, asked=asked, problems=tuple(told))
    folder = Path(asked.file).parent
    others = [name for name, mark in answer.refers if _mark(folder / name) != mark]
    if others:
        said = f"refers to {', '.join(others)}, which a worker has with other contents"
        return FileAnswer(asked, problems=(Problem(said, fix=_SHARED, file=asked.file),))
    return replace(answer, asked=asked)


def _mark(path: Path) -> str:
    try:
        return content_mark(path)
    except OSError:
        return ""
