"""Many jobs for tests: variants of a run that passes, quick answers, a small cluster."""

from __future__ import annotations

import json
import os
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from route3d.disk import data_mark
from route3d.errors import Problem
from route3d.planning.summary import RunSummary
from route3d.study.many_jobs.answer import FileAnswer, JobFile

ROOT = Path(__file__).parents[2]
EQUIPPED = 'rope = "line"\nmachine = "puller"\n'
_FEEDER = """\
title = "Ferry terminal: feeder {n}"
units = "US"

[practice]
rules = "NFPA 70"
edition = "2023"

[cable.phase]
diameter = 1.387
weight = 1.795
conductor = {{ metal = "copper", area = "350 kcmil" }}
sidewall_limit = 500
bend_multiple = 12

[conduit.duct]
type = "PVC-40"
trade_size = "5"
friction = {friction:.3f}

[rope.line]
diameter = 0.75
weight = 0.16
friction = 0.15
rated_load = 9000
stretch = 0.012

[machine.puller]
gears = [{{ line_pull = 3500, speed = 35 }}, {{ line_pull = 7500, speed = 14 }}]

[[run]]
name = "F{n}"
cables = {{ phase = 3 }}
rope = "line"
machine = "puller"
route = [
  {{ at = [0, 0, 0], name = "substation", access = ["reel", "machine"], conduit = "duct" }},
  {{ at = [{x}, 0, 0], bend = 48 }},
  {{ at = [{x}, {y}, 0], bend = 48 }},
  {{ at = [{end}, {y}, 0], name = "berth {n}", access = ["reel", "machine"] }},
]
"""


def feeder(n: int, *, planned: bool = True) -> str:
    """The text of a job of one run that passes; no two of 8,000 are alike.

    Without rope and machine nothing is planned, which takes a third of the time.
    """
    friction, x = 0.2 + 0.001 * (n % 50), 80 + n % 97
    text = _FEEDER.format(n=n, friction=friction, x=x, y=60 + n % 89, end=x + 70)
    return text if planned else unplanned(text)


def unplanned(text: str) -> str:
    """A job without rope and machine."""
    assert EQUIPPED in text
    return text.replace(EQUIPPED, "")


def write_feeders(folder: Path, count: int, *, planned: bool = True) -> None:
    """So many model files."""
    for n in range(count):
        (folder / f"f{n:06d}.toml").write_text(feeder(n, planned=planned))


def quick_answer(asked: JobFile) -> FileAnswer:
    """An answer by the text of a file alone, as quick as nothing: "3" has three runs.

    "bad" has an error, "die" ends the process that answers it, "slow" takes a while, and a text
    with a name after the number refers to that file.
    """
    path = Path(asked.file)
    data = path.read_bytes()
    if (log := path.with_name("begun.log")).exists():
        with log.open("a") as file:
            file.write(path.stem + "\n")
    text = data.decode()
    if text == "die":
        os._exit(9)
    if text == "bad":
        return FileAnswer(asked, problems=(Problem("is bad", file=asked.file),))
    if text == "slow":
        time.sleep(0.15)
        text = "1"
    count, _, refers = text.partition(" ")
    marks = ((refers, data_mark((path.parent / refers).read_bytes())),) if refers else ()
    wanted = asked.runs or tuple(range(1, int(count) + 1))
    now, left = wanted[:2], wanted[2:]
    runs = tuple((k, _summary(asked.number, k)) for k in now)
    return FileAnswer(
        asked, data_mark(data), marks, path.stem, "SI", (), (), int(count), runs, left
    )


def _summary(number: int, run: int) -> RunSummary:
    share = (number * 7919 + run * 104729) % 1000 / 800
    return RunSummary(
        name=f"F{number}-{run}",
        cables="3 x phase",
        length=100.0 + number / 3,
        turn=1.5,
        feed="A",
        pull="B",
        governing="sidewall pressure",
        utilization=share,
        margin=(None, float("inf"), 1.25)[number % 3],
        crew_time=None if share > 1 else 3600.0,
        reasons=("sidewall pressure",) if share > 1 else (),
        planned=bool(number % 2),
    )


# --- a cluster on this machine --------------------------------------------------------------------


class Cluster:
    """A Dask scheduler on loopback and its workers, each a process."""

    def __init__(self, folder: Path, **environment: str) -> None:
        self._folder = folder
        self._started: list[subprocess.Popen[bytes]] = []
        note = folder / "scheduler.json"
        self.scheduler = self._start(
            "scheduler",
            "--host",
            "127.0.0.1",
            "--port",
            "0",
            "--scheduler-file",
            str(note),
            **environment,
        )
        self.address = str(_when_written(note)["address"])

    def worker(self, **environment: str) -> subprocess.Popen[bytes]:
        """Start one more worker."""
        count = len(self._started)
        words = (self.address, "--nthreads", "1", "--no-nanny", "--host", "127.0.0.1")
        local = self._folder / f"worker{count}"
        return self._start("worker", *words, "--local-directory", str(local), **environment)

    def _start(self, kind: str, *words: str, **environment: str) -> subprocess.Popen[bytes]:
        log = (self._folder / f"{kind}{len(self._started)}.log").open("wb")
        process = subprocess.Popen(
            [sys.executable, "-m", f"distributed.cli.dask_{kind}", "--no-dashboard", *words],
            env=os.environ | {"PYTHONPATH": str(ROOT)} | environment,
            cwd=self._folder,
            stdout=log,
            stderr=log,
        )
        log.close()
        self._started.append(process)
        return process

    def oldest(self) -> subprocess.Popen[bytes]:
        """The worker that was started first of those that live."""
        return next(worker for worker in self._started[1:] if worker.poll() is None)

    def alive(self) -> int:
        """How many workers live."""
        return sum(worker.poll() is None for worker in self._started[1:])

    def wait_for(self, workers: int) -> None:
        """Until so many workers have joined."""
        import distributed

        with distributed.Client(self.address, set_as_default=False) as client:
            client.wait_for_workers(workers, timeout=30)

    def end(self) -> None:
        """End all of it."""
        for process in reversed(self._started):
            process.kill()
            process.wait()


def _when_written(note: Path) -> dict[str, object]:
    for _ in range(600):
        try:
            data: dict[str, object] = json.loads(note.read_text())
            return data
        except (OSError, ValueError):
            time.sleep(0.05)
    raise TimeoutError("the scheduler did not start")


@contextmanager
def cluster(folder: Path, workers: int, **environment: str) -> Iterator[Cluster]:
    """A scheduler with so many workers."""
    made = Cluster(folder, **environment)
    try:
        for _ in range(workers):
            made.worker()
        yield made
    finally:
        made.end()


# --- memory ---------------------------------------------------------------------------------------


def peak_memory(folder: Path, count: int) -> int:
    """Bytes that a process of its own takes at most to answer so many files and to write all."""
    folder.mkdir()
    for n in range(count):
        (folder / f"feeder{n:06d}.toml").write_text("1")
    code = f"from tests.support.many_jobs import all_of_it; all_of_it({str(folder)!r})"
    ended = subprocess.run(
        [sys.executable, "-c", code],
        env=os.environ | {"PYTHONPATH": str(ROOT)},
        capture_output=True,
        text=True,
        check=True,
    )
    return int(ended.stdout.splitlines()[-1])


def all_of_it(folder: str) -> None:
    """``route3d jobs`` with quick answers, twice: the second time everything is done already."""
    import resource

    import route3d.api
    from route3d.cli.main import main

    route3d.api.answered_file = quick_answer
    out = Path(folder).parent
    files = [
        word for kind in ("csv", "xlsx", "html") for word in (f"--{kind}", str(out / f"x.{kind}"))
    ]
    for _ in range(2):
        main(["jobs", folder, "--out", str(out / "x.jsonl"), *files, "--workers", "1"])
    print(resource.getrusage(resource.RUSAGE_SELF).ru_maxrss * 1024)
