"""Many jobs on a Dask cluster: a real scheduler and real workers, on this machine."""

from __future__ import annotations

import gc
import json
import socket
import subprocess
import time
from collections.abc import Iterator
from pathlib import Path

import pytest

from route3d.cli.main import main
from route3d.errors import InputError
from route3d.study.many_jobs import cluster as cluster_module
from route3d.study.many_jobs.answer import FileAnswer, JobFile
from route3d.study.many_jobs.cluster import held_to_here, on_cluster
from route3d.study.many_jobs.feed import one_by_one
from route3d.study.many_jobs.ledger import Ledger
from route3d.study.many_jobs.run import answer_all
from tests.support.many_jobs import ROOT, Cluster, cluster, quick_answer

pytest.importorskip("distributed")
MODELS = ROOT / "models"


@pytest.fixture(scope="module")
def some(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Cluster]:
    """Three workers: enough for three that are killed, with the one that comes."""
    with cluster(tmp_path_factory.mktemp("cluster"), 3) as made:
        made.wait_for(3)
        yield made


def _files(folder: Path, count: int) -> list[str]:
    for i in range(count):
        (folder / f"{i:03d}.toml").write_text("slow" if i % 4 == 0 else "3")
    (folder / "begun.log").write_text("")
    return sorted(str(file) for file in folder.glob("*.toml"))


def _round(some: Cluster, folder: Path, doomed: subprocess.Popen[bytes], *, another: bool) -> int:
    """A worker is killed at its work, and may be replaced; how many files were begun again."""
    files = _files(folder, 24)
    seen = 0

    def told(answer: FileAnswer, pace: object) -> None:
        nonlocal seen
        seen += 1
        if seen == 4:
            doomed.kill()
            if another:
                some.worker()

    with Ledger(files, "this") as ledger, Ledger(files, "this") as alone:
        answer_all(ledger, on_cluster(quick_answer, some.address), told)
        begun = (folder / "begun.log").read_text().split()
        assert doomed.wait() != 0 and not ledger.bad
        (folder / "begun.log").unlink()
        answer_all(alone, one_by_one(quick_answer))
        assert list(ledger.by_file()) == list(alone.by_file())
        assert len(ledger) == 6 + 18 * 3
    return len(begun) - (6 + 18 * 2)


def _killed(some: Cluster, folder: Path, rounds: int) -> None:
    again = 0
    for i in range(rounds):
        place = folder / str(i)
        place.mkdir()
        again += _round(some, place, some.oldest(), another=i == 0 or some.alive() < 2)
    assert again > 0  # a worker had work, and it was not lost


def test_a_worker_that_is_killed_loses_and_doubles_nothing(some: Cluster, tmp_path: Path) -> None:
    _killed(some, tmp_path, 3)


@pytest.mark.many
def test_a_worker_that_is_killed_loses_and_doubles_nothing_twenty_times(
    some: Cluster, tmp_path: Path
) -> None:
    _killed(some, tmp_path, 20)


def test_a_cluster_answers_what_one_process_answers(
    some: Cluster, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """A mesh beside the model, a workbook, an error: from a folder that no worker is in."""
    monkeypatch.chdir(MODELS)
    words = ["jobs", "roof_drop.toml", "berths.xlsx", "pulls/F1_details.toml", "--json"]
    assert main([*words, "--workers", "1"]) == 2
    alone = capsys.readouterr()
    assert main([*words, "--scheduler", some.address]) == 2
    assert capsys.readouterr() == alone


def test_a_worker_with_another_route3d_is_named(
    some: Cluster, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (tmp_path / "route3d").mkdir()
    (tmp_path / "route3d" / "__init__.py").write_text('__version__ = "0.0.9"')
    other = some.worker(PYTHONPATH=str(tmp_path))
    some.wait_for(some.alive())
    words = ["jobs", str(MODELS / "roof_drop.toml"), "--scheduler", some.address]
    assert main(words) == 2
    err = capsys.readouterr().err
    assert "worker tcp://127.0.0.1:" in err and "has route3d 0.0.9; here is route3d 0.1.0" in err
    assert "install the same route3d" in err and len(err.splitlines()) == 1
    other.kill()


def test_files_that_differ_on_a_worker_are_told(tmp_path: Path) -> None:
    (tmp_path / "mesh.glb").write_text("walls")
    asked = JobFile(0, str(tmp_path / "a.toml"))
    found = held_to_here(FileAnswer(asked, refers=(("mesh.glb", "0123"),)), asked)
    assert "refers to mesh.glb, which a worker has with other contents" in str(found.problems[0])


@pytest.mark.parametrize(
    "address",
    ["tcp://127.0.0.1:{port}", "127.0.0.1:{port}", "what://x", "what://x:1", "tcp:/bad", ""],
)
def test_a_scheduler_that_does_not_answer_is_told_at_once(
    address: str,
    tmp_path: Path,
    capsys: pytest.CaptureFixture[str],
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    assert cluster_module.PATIENCE <= 5.0
    monkeypatch.setattr(cluster_module, "PATIENCE", 0.4)
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = free.getsockname()[1]
    begun = time.monotonic()
    words = ["jobs", str(MODELS / "roof_drop.toml"), "--scheduler", address.format(port=port)]
    assert main([*words, "--out", str(tmp_path / "out.jsonl")]) == 2
    gc.collect()  # a client thrown away half made would print, and wait
    assert not list(tmp_path.iterdir())
    assert time.monotonic() - begun < 5
    err = capsys.readouterr().err
    assert err.startswith("--scheduler: ") and len(err.splitlines()) == 1
    told = ("no scheduler answers at", "is not the address of a scheduler", "cannot connect to")
    assert any(words in err for words in told)


def test_a_scheduler_without_workers_and_one_that_is_lost_are_told(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    files = _files(tmp_path, 24)
    with cluster(tmp_path, 0) as made:
        monkeypatch.setattr(cluster_module, "PATIENCE", 0.3)
        with (
            Ledger(files, "this") as ledger,
            pytest.raises(InputError, match="has no workers; start them: dask worker tcp"),
        ):
            answer_all(ledger, on_cluster(quick_answer, made.address))
        made.worker()
        made.wait_for(1)
        out = tmp_path / "out.jsonl"
        with Ledger(files, "this", out) as ledger:
            run = on_cluster(quick_answer, made.address)
            with pytest.raises(InputError, match="was lost; run the command again"):
                answer_all(ledger, run, lambda *_: made.scheduler.kill())
        lines = [json.loads(line) for line in out.read_text().splitlines()]
        keys = {(line["file"], line["run_number"]) for line in lines}
        assert 0 < len(keys) == len(lines) < 6 + 18 * 3


@pytest.mark.many
def test_a_file_that_ends_every_worker_is_told_and_the_others_are_answered(tmp_path: Path) -> None:
    files = _files(tmp_path, 12)
    (tmp_path / "005.toml").write_text("die")
    allowed = {"DASK_DISTRIBUTED__SCHEDULER__ALLOWED_FAILURES": "0"}
    with cluster(tmp_path, 4, **allowed) as made, Ledger(files, "this") as ledger:
        made.wait_for(4)
        answer_all(ledger, on_cluster(quick_answer, made.address))
        lines = list(ledger.by_file())
    (bad,) = (line for line in lines if line.run is None)
    assert bad.file.endswith("005.toml") and "the workers that worked on it ended" in bad.errors[0]
    assert len(lines) == 1 + 3 + 8 * 3
