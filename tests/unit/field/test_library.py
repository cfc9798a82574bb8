"""A library of past pulls keeps what was committed, whatever happens to the program."""

from __future__ import annotations

import json
import os
import random
import resource
import signal
import sqlite3
import subprocess
import sys
import time
from collections.abc import Callable
from pathlib import Path

import pytest

from route3d.errors import InputError
from route3d.field import library
from route3d.field.library import append, damages, past_friction, records
from tests.support.past_pulls import past_pull

_KEEP_ADDING = """
import sys
from route3d.field.library import append
from tests.support.past_pulls import past_pull
print(int(sys.argv[2]) - 1, flush=True)
for number in range(int(sys.argv[2]), 100_000):
    append(sys.argv[1], past_pull(number, remarks="x" * 20_000))
    print(number, flush=True)
"""


def _killed(path: Path, first: int, seconds: float) -> int:
    """Add records until killed, ``seconds`` after the start; the number of the last one told."""
    words = [sys.executable, "-c", _KEEP_ADDING, str(path), str(first)]
    with subprocess.Popen(words, stdout=subprocess.PIPE, text=True) as adding:
        assert adding.stdout is not None
        ready = adding.stdout.readline()
        time.sleep(seconds)
        adding.send_signal(signal.SIGKILL)
        told = [ready, *adding.stdout.read().splitlines(keepends=True)]
    assert adding.returncode == -signal.SIGKILL
    return int([line for line in told if line.endswith("\n")][-1])


@pytest.mark.parametrize("times", [3, pytest.param(20, marks=pytest.mark.many)])
def test_a_kill_loses_at_most_the_record_being_written(tmp_path: Path, times: int) -> None:
    path, chance, first = tmp_path / "pulls.sqlite", random.Random(times), 0
    for _ in range(times):
        last = _killed(path, first, chance.choice([0.0, 0.002, 0.05, 0.15]) * chance.random())
        if last < 0 and not (path.exists() and path.stat().st_size):
            continue  # before there was a file
        if last < 0 and not _has_tables(path):
            continue  # before there was a library in it
        assert damages(path) == []
        runs = [record["run"] for record in records(path)]
        assert runs[: last + 1] == [f"F{n}" for n in range(last + 1)]
        assert len(runs) <= last + 2  # the one being written may have been complete
        first = len(runs)
    append(path, past_pull(first))
    assert len(past_friction(path)) == first + 1


def _has_tables(path: Path) -> bool:
    with sqlite3.connect(path) as other:
        (tables,) = other.execute("SELECT count(*) FROM sqlite_master").fetchone()
    other.close()
    return bool(tables)


def test_a_program_killed_before_its_first_record_leaves_a_library_to_begin(tmp_path: Path) -> None:
    path = tmp_path / "pulls.sqlite"
    path.touch()
    assert append(path, past_pull(1)) == 1
    other = tmp_path / "begun.sqlite"
    with sqlite3.connect(other) as begun:
        begun.execute("PRAGMA journal_mode = WAL")
    begun.close()
    assert append(other, past_pull(1)) == 1


def test_the_same_readings_are_refused_or_replaced(tmp_path: Path) -> None:
    path = tmp_path / "pulls.sqlite"
    assert [append(path, past_pull(n)) for n in (1, 2, 3)] == [1, 2, 3]
    with pytest.raises(InputError, match=r"holds these readings: no\. 2, .*--force"):
        append(path, past_pull(2, friction=0.5))
    assert append(path, past_pull(2, friction=0.5), replace=True) == 2
    assert [(p.pull, p.value) for p in past_friction(path)] == [(1, 0.2), (2, 0.5), (3, 0.2)]
    assert damages(path) == []


def test_only_what_a_log_could_tell_is_past_friction(tmp_path: Path) -> None:
    path, unknown = tmp_path / "pulls.sqlite", past_pull(1)
    unknown["friction"][0]["known"] = False
    append(path, unknown)
    append(path, past_pull(2))
    assert [p.run for p in past_friction(path)] == ["F2"]
    assert len(records(path)) == 2


def test_one_writer_at_a_time_and_readers_go_on(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = tmp_path / "pulls.sqlite"
    append(path, past_pull(1))
    other = sqlite3.connect(path, isolation_level=None)
    other.execute("BEGIN IMMEDIATE")
    monkeypatch.setattr(library, "WAIT", 0.05)
    with pytest.raises(InputError, match="another program is writing to it; wait"):
        append(path, past_pull(2))
    assert len(records(path)) == 1
    other.close()
    append(path, past_pull(2))


def test_a_full_disk_leaves_the_library_as_it_was(tmp_path: Path) -> None:
    path = tmp_path / "pulls.sqlite"
    append(path, past_pull(1))
    code = (
        "import resource, signal, sys\n"
        "from route3d.field.library import append\n"
        "from route3d.errors import InputError\n"
        "from tests.support.past_pulls import past_pull\n"
        "signal.signal(signal.SIGXFSZ, signal.SIG_IGN)\n"
        "resource.setrlimit(resource.RLIMIT_FSIZE, (60_000, 60_000))\n"
        "try:\n"
        "    append(sys.argv[1], past_pull(2, remarks='x' * 500_000))\n"
        "except InputError as error:\n"
        "    print(error)\n"
    )
    done = subprocess.run(
        [sys.executable, "-c", code, str(path)], capture_output=True, text=True, check=True
    )
    assert "no space left; nothing was added" in done.stdout
    assert [record["run"] for record in records(path)] == ["F1"]
    assert damages(path) == []
    assert resource.getrlimit(resource.RLIMIT_FSIZE)[0] != 60_000


def _foreign(path: Path) -> None:
    with sqlite3.connect(path) as other:
        other.execute("CREATE TABLE pull (id INTEGER)")
    other.close()


def _newer(path: Path) -> None:
    append(path, past_pull(1))
    with sqlite3.connect(path) as made:
        made.execute(f"PRAGMA user_version = {len(library.MIGRATIONS) + 1}")
    made.close()


def _torn(path: Path) -> None:
    for number in range(30):
        append(path, past_pull(number, remarks="y" * 5000))
    data = bytearray(path.read_bytes())
    data[4096 : len(data) : 7] = b"\xff" * len(data[4096 : len(data) : 7])
    path.write_bytes(data)


@pytest.mark.parametrize(
    ("spoil", "said"),
    [
        (
            lambda path: path.write_text("title = 'a model'\n" * 99),
            "is not a library of past pulls",
        ),
        (_foreign, "is not a library of past pulls"),
        (_newer, "has version 2; this route3d reads up to version 1; install a newer route3d"),
        (_torn, "is damaged: .*restore it from a copy"),
        (lambda path: path.mkdir(), "is a folder"),
    ],
)
def test_what_is_no_library_is_refused(
    spoil: Callable[[Path], None], said: str, tmp_path: Path
) -> None:
    path = tmp_path / "pulls.sqlite"
    spoil(path)
    before = path.read_bytes() if path.is_file() else b""
    with pytest.raises(InputError, match=said):
        records(path)
    with pytest.raises(InputError, match=said):
        append(path, past_pull(1))
    assert before == (path.read_bytes() if path.is_file() else b"")


def test_a_missing_library_is_refused_and_not_made(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="no such library"):
        records(tmp_path / "pulls.sqlite")
    assert list(tmp_path.iterdir()) == []
    with pytest.raises(InputError, match=r"folder .* does not exist"):
        append(tmp_path / "none" / "pulls.sqlite", past_pull(1))


def test_a_library_in_a_folder_nobody_may_write_to_is_read(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """SQLite has no place for the index of its log there, and cannot open what is not plain."""
    path = tmp_path / "pulls.sqlite"
    append(path, past_pull(1))
    connect = sqlite3.connect

    def refusing(address: str, **more: object) -> sqlite3.Connection:
        if "immutable" not in address:
            address = (tmp_path / "none" / "x").as_uri() + "?mode=ro"
        return connect(address, **more)  # type: ignore[call-overload, no-any-return]

    monkeypatch.setattr(sqlite3, "connect", refusing)
    assert len(records(path)) == 1
    monkeypatch.setattr(os, "access", lambda *_: False)
    with pytest.raises(InputError, match="write-protected"):
        append(path, past_pull(2))


@pytest.mark.parametrize(
    ("change", "said"),
    [
        ("UPDATE pull SET record = replace(record, '0.2', '0.1')", "was changed after"),
        ("UPDATE pull SET day = '1999-01-01'", "columns do not agree"),
        ("UPDATE friction SET value = 0.01", "friction does not agree"),
    ],
)
def test_changes_by_another_program_are_found(change: str, said: str, tmp_path: Path) -> None:
    path = tmp_path / "pulls.sqlite"
    append(path, past_pull(1))
    with sqlite3.connect(path) as other:
        other.execute(change)
    other.close()
    (found,) = damages(path)
    assert found.startswith("record no. 1: ") and said in found


def test_an_older_library_is_brought_up_with_the_next_record(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = tmp_path / "pulls.sqlite"
    append(path, past_pull(1))
    newer = (*library.MIGRATIONS, "ALTER TABLE pull ADD COLUMN crew TEXT NOT NULL DEFAULT '';")
    monkeypatch.setattr(library, "MIGRATIONS", newer)
    append(path, past_pull(2))
    with sqlite3.connect(path) as other:
        assert other.execute("PRAGMA user_version").fetchone() == (2,)
        assert other.execute("SELECT run, crew FROM pull").fetchall() == [("F1", ""), ("F2", "")]
    other.close()
    assert json.loads(json.dumps(records(path)))[0]["run"] == "F1"
