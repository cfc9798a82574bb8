"""A library of past pulls: one SQLite file, one transaction for each record.

Write-ahead logging with every commit on disk before the next one (SQLite documentation,
"Write-Ahead Logging" and PRAGMA synchronous): a program or a machine that dies at any moment loses
at most the record that was being written. One program writes at a time; any number read meanwhile.
"""

from __future__ import annotations

import hashlib
import json
import sqlite3
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from route3d.disk import refuse_target
from route3d.errors import InputError, Problem

APPLICATION = 0x72336470
"""What SQLite's ``application_id`` of a library is."""
WAIT = 5.0
"""How long to wait for another writer, s."""

# Each takes a library from the version of its place to the next: never changed, only added to.
MIGRATIONS: tuple[str, ...] = (
    """
    CREATE TABLE pull (
        id INTEGER PRIMARY KEY,
        added TEXT NOT NULL,
        title TEXT NOT NULL,
        run TEXT NOT NULL,
        feed TEXT NOT NULL,
        day TEXT NOT NULL,
        bank TEXT NOT NULL,
        lubricant TEXT NOT NULL,
        temperature REAL,
        readings_sha256 TEXT NOT NULL UNIQUE,
        record_sha256 TEXT NOT NULL,
        record TEXT NOT NULL
    );
    CREATE TABLE friction (
        pull INTEGER NOT NULL REFERENCES pull (id) ON DELETE CASCADE,
        name TEXT NOT NULL,
        jacket TEXT NOT NULL,
        conduit TEXT NOT NULL,
        value REAL NOT NULL,
        low REAL NOT NULL,
        high REAL NOT NULL,
        known INTEGER NOT NULL
    );
    CREATE INDEX friction_of_pull ON friction (pull);
    """,
)


@dataclass(frozen=True, slots=True)
class PastFriction:
    """Friction of the conduit ``name`` in one past pull, 95 % interval ``low`` to ``high``.

    ``day`` is the date of the pull, ``bank`` the run its duct bank is about, ``jacket``,
    ``conduit`` (its material) and ``lubricant`` the words of the record; "" where not recorded.
    ``temperature`` is in K, None where not recorded.
    """

    pull: int
    title: str
    run: str
    day: str
    bank: str
    name: str
    jacket: str
    conduit: str
    lubricant: str
    temperature: float | None
    value: float
    low: float
    high: float


# --- writing --------------------------------------------------------------------------------------


def append(path: str | Path, record: Mapping[str, Any], *, replace: bool = False) -> int:
    """Add a record as plain data (``record.record_data``) and return its number.

    InputError where the same readings are in the library already and ``replace`` is not set, where
    another program is writing, and where the file is no library or cannot be written.
    """
    refuse_target(path)
    with _open(path, write=True) as library:
        readings = record["sha256"]["readings"]
        old = library.execute(
            "SELECT id, title, run, added FROM pull WHERE readings_sha256 = ?", (readings,)
        ).fetchone()
        if old is not None and not replace:
            number, title, run, added = old
            said = f"already holds these readings: no. {number}, {title}, run {run}, added {added}"
            raise _refused(path, said, "to replace that record add --force")
        if old is not None:
            library.execute("DELETE FROM pull WHERE id = ?", (old[0],))
        return _insert(library, record, None if old is None else old[0])


def _insert(library: sqlite3.Connection, record: Mapping[str, Any], number: int | None) -> int:
    text = json.dumps(record, ensure_ascii=False, sort_keys=True)
    row = {
        "id": number,
        "added": datetime.now(UTC).strftime("%Y-%m-%d %H:%M:%S UTC"),
        "record_sha256": _sha256(text),
        "record": text,
        **_columns(record),
    }
    marks = ", ".join(f":{name}" for name in row)
    done = library.execute(f"INSERT INTO pull ({', '.join(row)}) VALUES ({marks})", row)
    pull = int(done.lastrowid or 0)
    library.executemany(
        "INSERT INTO friction VALUES (?, ?, ?, ?, ?, ?, ?, ?)",
        [(pull, *line) for line in _lines(record)],
    )
    return pull


def _columns(record: Mapping[str, Any]) -> dict[str, Any]:
    """The columns of a pull that its record gives."""
    return {
        **{key: record[key] for key in ("title", "run", "feed", "day", "bank")},
        "lubricant": record["lubricant"]["product"],
        "temperature": record["temperature_K"],
        "readings_sha256": record["sha256"]["readings"],
    }


def _lines(record: Mapping[str, Any]) -> list[tuple[Any, ...]]:
    """The rows of friction that a record gives, in the order of the table's columns."""
    return [
        (f["name"], f["jacket"], f["conduit"], f["value"], f["low"], f["high"], int(f["known"]))
        for f in record["friction"]
        if f["kind"] == "friction"
    ]


# --- reading --------------------------------------------------------------------------------------


def records(path: str | Path) -> list[dict[str, Any]]:
    """Every record as plain data, oldest first, with its number and when it was added."""
    with _open(path) as library:
        rows = library.execute("SELECT id, added, record FROM pull ORDER BY id").fetchall()
    try:
        return [{"number": n, "added": added} | json.loads(text) for n, added, text in rows]
    except ValueError:
        raise _damaged(path, "a record is not readable") from None


def past_friction(path: str | Path) -> tuple[PastFriction, ...]:
    """What past pulls told of friction: only what a log could tell from everything else."""
    with _open(path) as library:
        rows = library.execute(
            "SELECT pull.id, title, run, day, bank, name, jacket, conduit, lubricant, temperature,"
            " value, low, high FROM friction JOIN pull ON pull.id = friction.pull"
            " WHERE known = 1 AND value > 0 ORDER BY pull.id, friction.rowid"
        ).fetchall()
    return tuple(PastFriction(*row) for row in rows)


def damages(path: str | Path) -> list[str]:
    """What is wrong inside a library, a sentence each; empty for a sound one."""
    found = []
    with _open(path) as library:
        for (said,) in library.execute("PRAGMA integrity_check"):
            if said != "ok":
                found.append(f"SQLite: {said}")
        found += [f"a row of {row[0]} has no pull" for row in library.execute(
            "PRAGMA foreign_key_check")]  # fmt: skip
        cursor = library.execute("SELECT * FROM pull ORDER BY id")
        names = [column[0] for column in cursor.description]
        for row in (dict(zip(names, values, strict=True)) for values in cursor.fetchall()):
            kept = library.execute(
                "SELECT name, jacket, conduit, value, low, high, known FROM friction"
                " WHERE pull = ? ORDER BY name",
                (row["id"],),
            ).fetchall()
            if said := _damage_of(row, kept):
                found.append(f"record no. {row['id']}: {said}")
    return found


def _damage_of(row: Mapping[str, Any], friction: list[tuple[Any, ...]]) -> str:
    if _sha256(row["record"]) != row["record_sha256"]:
        return "was changed after it was added"
    record = json.loads(row["record"])
    if any(row[key] != value for key, value in _columns(record).items()):
        return "its columns do not agree with the record"
    if sorted(_lines(record)) != friction:
        return "its friction does not agree with the record"
    return ""


def _sha256(text: str) -> str:
    return hashlib.sha256(text.encode()).hexdigest()


# --- the file -------------------------------------------------------------------------------------


@contextmanager
def _open(path: str | Path, *, write: bool = False) -> Iterator[sqlite3.Connection]:
    """A library to read, or with ``write`` in a transaction that all of the block is in."""
    file = Path(path)
    if file.is_dir():
        raise _refused(path, "is a folder, not a file", "name a file in it")
    if not write and not file.exists():
        raise _refused(
            path, "no such library", "check the name; `route3d field record` adds to one"
        )
    try:
        library = _connected(file, write)
        try:
            if write:
                _brought_up(library, path)
            else:
                _refuse_foreign(library, path)
            yield library
            library.commit()
        finally:
            library.close()  # without the commit nothing of the block is kept
    except sqlite3.DatabaseError as error:
        raise _said(path, error) from None


def _connected(file: Path, write: bool) -> sqlite3.Connection:
    # A reader that may write leaves no file of the log behind; one that may not reads all the same.
    address = f"{file.absolute().as_uri()}?mode={'rwc' if write else 'rw'}"
    try:
        return _connection(address, reads=not write)
    except sqlite3.OperationalError:
        log = file.with_name(f"{file.name}-wal")
        if write or (log.exists() and log.stat().st_size):
            raise
        # In a folder that nothing can be written to SQLite has no place for the index of the log.
        return _connection(address.replace("mode=rw", "mode=ro&immutable=1"), reads=True)


def _connection(address: str, *, reads: bool) -> sqlite3.Connection:
    library = sqlite3.connect(address, uri=True, timeout=WAIT, isolation_level=None)
    try:
        library.execute("PRAGMA foreign_keys = ON")
        if reads:
            library.execute("PRAGMA query_only = ON")
            library.execute("BEGIN")
            library.execute("SELECT count(*) FROM sqlite_master").fetchone()
    except sqlite3.DatabaseError:
        library.close()
        raise
    return library


def _brought_up(library: sqlite3.Connection, path: str | Path) -> None:
    """Begin the one transaction of a writer, in a library of the newest version."""
    empty = _refuse_foreign(library, path, may_be_empty=True)
    library.execute("PRAGMA journal_mode = WAL")
    library.execute("PRAGMA synchronous = FULL")
    library.execute("BEGIN IMMEDIATE")
    version = _refuse_foreign(library, path, may_be_empty=empty is None)
    if version is None:
        library.execute(f"PRAGMA application_id = {APPLICATION}")
    for step in MIGRATIONS[version or 0 :]:
        for statement in filter(str.strip, step.split(";")):
            library.execute(statement)
    library.execute(f"PRAGMA user_version = {len(MIGRATIONS)}")


def _refuse_foreign(
    library: sqlite3.Connection, path: str | Path, *, may_be_empty: bool = False
) -> int | None:
    """The version of a library; None for an empty file, where that may be."""
    (application,) = library.execute("PRAGMA application_id").fetchone()
    (version,) = library.execute("PRAGMA user_version").fetchone()
    (tables,) = library.execute("SELECT count(*) FROM sqlite_master").fetchone()
    if may_be_empty and application == 0 and tables == 0:
        return None
    if application != APPLICATION:
        raise _refused(path, "is not a library of past pulls", "name the file given to --append")
    if version > len(MIGRATIONS):
        said = f"has version {version}; this route3d reads up to version {len(MIGRATIONS)}"
        raise _refused(path, said, "install a newer route3d")
    return int(version)


def _said(path: str | Path, error: sqlite3.DatabaseError) -> InputError:
    """What SQLite's complaint means to whoever named the file."""
    code = getattr(error, "sqlite_errorcode", sqlite3.SQLITE_ERROR) & 0xFF
    match code:
        case sqlite3.SQLITE_BUSY | sqlite3.SQLITE_LOCKED:
            said, fix = "another program is writing to it", "wait until it is done, then try again"
        case sqlite3.SQLITE_READONLY | sqlite3.SQLITE_PERM | sqlite3.SQLITE_CANTOPEN:
            said, fix = "cannot be opened, or is write-protected", "check its permissions"
        case sqlite3.SQLITE_FULL:
            said, fix = "the disk is full; nothing was added", "free some space, then try again"
        case sqlite3.SQLITE_IOERR:
            said = "cannot be read or written: disk error, or no space left; nothing was added"
            fix = "check the disk, then try again"
        case sqlite3.SQLITE_NOTADB:
            said, fix = "is not a library of past pulls", "name the file given to --append"
        case sqlite3.SQLITE_CORRUPT:
            return _damaged(path, str(error))
        case _:
            return _damaged(path, f"SQLite: {error}")
    return _refused(path, said, fix)


def _damaged(path: str | Path, what: str) -> InputError:
    return _refused(path, f"is damaged: {what}", "restore it from a copy")


def _refused(path: str | Path, message: str, fix: str) -> InputError:
    return InputError(Problem(message, fix=fix, file=str(path)))
