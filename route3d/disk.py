"""Files on disk: read whole or refused with the reason, and written whole or not at all."""

from __future__ import annotations

import hashlib
import io
import os
import tempfile
import zipfile
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import IO

from route3d.errors import InputError, Problem

# --- bytes and text of a file the user named, or an InputError that says why not ------------

MEGABYTE = 1_000_000


def file_mark(path: Path) -> str:
    """The first digits of the SHA-256 of a file, to tell its versions apart."""
    return data_mark(path.read_bytes())


def content_mark(path: Path) -> str:
    """The same of a file, or of a folder by the names and contents of all files in it."""
    if not path.is_dir():
        return file_mark(path)
    inside = sorted(file for file in path.rglob("*") if file.is_file())
    marks = (f"{file.relative_to(path).as_posix()} {file_mark(file)}" for file in inside)
    return hashlib.sha256("\n".join(marks).encode()).hexdigest()[:12]


def data_mark(data: bytes) -> str:
    """The mark of a file with these contents."""
    return hashlib.sha256(data).hexdigest()[:12]


def read_bytes(path: str | Path, *, limit: int) -> bytes:
    """The bytes of a regular file of at most ``limit`` bytes.

    Raises InputError where it is missing, a folder, not readable, or larger.
    """
    file = Path(path)
    try:
        if not file.exists():
            raise _unreadable(path, "no such file", "check the name")
        if file.is_dir():
            raise _unreadable(path, "is a folder, not a file", "name a file in it")
        if not file.is_file():
            raise _unreadable(path, "is not a regular file", "save it as a file first")
        if (size := file.stat().st_size) > limit:
            raise _unreadable(
                path,
                f"is too large: {size / MEGABYTE:.1f} MB, the maximum is {limit / MEGABYTE:g} MB",
                "check that this is the right file",
            )
        return file.read_bytes()
    except OSError as error:
        reason = (error.strerror or str(error)).lower()
        raise _unreadable(path, f"cannot be read: {reason}", "check its permissions") from None
    except ValueError:  # a null character in the name
        raise _unreadable(path, "is not a valid file name", "check the name") from None


def declares_entities(data: bytes) -> bool:
    """Whether XML defines its own entities, in whatever encoding: they can stand for gigabytes."""
    marks = (b"<!DOCTYPE", b"<!ENTITY")
    return any(mark in data or mark.decode().encode("utf-16-le") in data for mark in marks)


def read_text(path: str | Path, *, limit: int) -> str:
    """The UTF-8 text of a file, without a byte order mark; InputError as ``read_bytes``."""
    return text_of(read_bytes(path, limit=limit), path)


def text_of(data: bytes, path: str | Path) -> str:
    """The text of a file by its bytes; InputError where it is not UTF-8."""
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = data[: error.start].count(b"\n") + 1
        raise InputError(
            Problem(
                f"is not UTF-8 text: byte 0x{data[error.start]:02x} on this line",
                fix="save it as UTF-8",
                file=str(path),
                line=line,
            )
        ) from None


def _unreadable(path: str | Path, message: str, fix: str) -> InputError:
    return InputError(Problem(message, fix=fix, file=str(path)))


# --- workbooks, which are archives: bombs are refused before anything is unpacked -----------

# Unpacked sizes, bytes: a sheet of 100,000 points has about 20 MB.
LARGEST_PART = 30_000_000
LARGEST_TOTAL = 90_000_000
# Sheets pack to a twentieth at most (measured); what packs far better was made to.
LARGEST_RATIO = 150
MOST_PARTS = 2_000
_OLD_FORMAT = b"\xd0\xcf\x11\xe0"


def broken_workbook(path: str | Path, error: Exception) -> InputError:
    """The InputError of a workbook that the library cannot read."""
    reason = (str(error).strip().splitlines() or [type(error).__name__])[0][:120]
    return _unreadable(path, f"cannot be read as a workbook: {reason}", "save it again as XLSX")


def refuse_bomb(
    data: bytes,
    path: str | Path,
    *,
    largest: int = LARGEST_PART,
    total: int = LARGEST_TOTAL,
    fix: str = "keep only the sheet with the points",
) -> None:
    """InputError by the directory of the archive, which unpacking does not go beyond."""
    if data.startswith(_OLD_FORMAT):
        raise _unreadable(
            path, "is an old-format or encrypted workbook", "save it as XLSX without a password"
        )
    try:
        with zipfile.ZipFile(io.BytesIO(data)) as archive:
            parts = archive.infolist()
            starts = {name: archive.open(name).read(4096) for name in _markup(parts)[:MOST_PARTS]}
    except (
        zipfile.BadZipFile,
        NotImplementedError,
        RuntimeError,
        EOFError,
        OSError,
        ValueError,
    ) as error:
        raise broken_workbook(path, error) from None
    except Exception as error:  # zlib.error and its kin
        raise broken_workbook(path, error) from None
    unpacked = sum(p.file_size for p in parts)
    part = max((p.file_size for p in parts), default=0)
    ratio = max(
        (p.file_size / max(p.compress_size, 1) for p in parts if p.file_size > 1_000_000), default=0
    )
    if len(parts) > MOST_PARTS or unpacked > total or part > largest or ratio > LARGEST_RATIO:
        said = f"unpacks to {unpacked / 1e6:,.0f} MB in {len(parts):,} parts, "
        said += f"{ratio:.0f} times its size"
        raise _unreadable(path, said, fix)
    for name, start in starts.items():
        if b"<!DOCTYPE" in start or b"<!ENTITY" in start:
            raise _unreadable(path, f"declares entities in {name}", "save it again as XLSX")


def _markup(parts: Sequence[zipfile.ZipInfo]) -> list[str]:
    return [p.filename for p in parts if p.filename.endswith((".xml", ".rels"))]


# --- files written whole or not at all ------------------------------------------------------


def write_text_atomic(path: str | Path, text: str, *, over_model: bool = False) -> None:
    """Write UTF-8 text; the old file stays as it was until the new one is complete.

    Raises InputError where the folder is missing or not writable, the target is no file, or it is
    a model file and ``over_model`` is not set.
    """
    write_bytes_atomic(path, text.encode(), over_model=over_model)


def write_bytes_atomic(path: str | Path, data: bytes, *, over_model: bool = False) -> None:
    """Write bytes; the old file stays as it was until the new one is complete.

    Raises InputError where the folder is missing or not writable, the target is no file, or it is
    a model file and ``over_model`` is not set.
    """
    _write_atomic(path, lambda file: file.write(data), over_model=over_model)


def _write_atomic(
    path: str | Path, write: Callable[[IO[bytes]], object], *, over_model: bool
) -> None:
    try:
        target = Path(path).resolve()  # write through a link, not over it
        _refuse_bad_target(path, target, over_model)
        _replace(target, write)
    except OSError as error:
        reason = (error.strerror or str(error)).lower()
        raise _unwritable(
            path, f"cannot be written: {reason}", "write to another location"
        ) from None
    except (ValueError, RuntimeError):  # a null character; links in a circle
        raise _unwritable(path, "is not a valid file name", "check the name") from None


def write_stream_atomic(path: str | Path, write: Callable[[IO[bytes]], object]) -> None:
    """Write what ``write`` puts into a file, piece by piece; else as ``write_bytes_atomic``."""
    _write_atomic(path, write, over_model=False)


def refuse_target(path: str | Path, *, over_model: bool = False) -> None:
    """InputError where a file could not be written, before the work for it is begun."""
    try:
        _refuse_bad_target(path, Path(path).resolve(), over_model)
    except OSError as error:
        reason = (error.strerror or str(error)).lower()
        raise _unwritable(
            path, f"cannot be written: {reason}", "write to another location"
        ) from None
    except (ValueError, RuntimeError):  # a null character; links in a circle
        raise _unwritable(path, "is not a valid file name", "check the name") from None


def _refuse_bad_target(path: str | Path, target: Path, over_model: bool) -> None:
    if target.is_dir():
        raise _unwritable(path, "is a folder, not a file", "name a file in it")
    if target.exists() and not target.is_file():  # os.replace would destroy a device node
        raise _unwritable(path, "is not a regular file", "write to a file")
    if target.exists() and not os.access(target, os.W_OK):
        raise _unwritable(path, "is write-protected", "choose another name")
    if not target.parent.is_dir():
        raise _unwritable(
            path,
            f"cannot be written: folder {target.parent} does not exist",
            "create the folder first",
        )
    if target.exists() and target.suffix.lower() == ".toml" and not over_model:
        raise _unwritable(
            path, "already exists and may be a model file. Not overwritten", "choose another name"
        )


def _replace(target: Path, write: Callable[[IO[bytes]], object]) -> None:
    """A temporary file beside the target, complete on disk, then moved over it in one step."""
    handle, name = tempfile.mkstemp(dir=target.parent, prefix=f".{target.name[:50]}.", suffix="~")
    temporary = Path(name)
    try:
        with os.fdopen(handle, "wb") as file:
            write(file)
            file.flush()
            os.fsync(file.fileno())
        temporary.chmod(_mode(target))
        temporary.replace(target)
    except BaseException:
        temporary.unlink(missing_ok=True)
        raise


def _mode(target: Path) -> int:
    """Permissions of the file replaced, else those of any new file (mkstemp gives 0600)."""
    if target.exists():
        return target.stat().st_mode & 0o777
    mask = os.umask(0)
    os.umask(mask)
    return 0o666 & ~mask


def _unwritable(path: str | Path, message: str, fix: str) -> InputError:
    return InputError(Problem(message, fix=fix, file=str(path)))
