"""Bytes and text of a file the user named, or an InputError that says why not."""

from __future__ import annotations

from pathlib import Path

from route3d.errors import InputError, Problem

MEGABYTE = 1_000_000


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
                f"is huge: {size / MEGABYTE:.1f} MB, the limit is {limit / MEGABYTE:g} MB",
                "is it the right file?",
            )
        return file.read_bytes()
    except OSError as error:
        reason = (error.strerror or str(error)).lower()
        raise _unreadable(path, f"cannot be read: {reason}", "check its permissions") from None
    except ValueError:  # a null character in the name
        raise _unreadable(path, "is not a possible file name", "check the name") from None


def declares_entities(data: bytes) -> bool:
    """Whether XML defines its own entities, in whatever encoding: they can stand for gigabytes."""
    marks = (b"<!DOCTYPE", b"<!ENTITY")
    return any(mark in data or mark.decode().encode("utf-16-le") in data for mark in marks)


def read_text(path: str | Path, *, limit: int) -> str:
    """The UTF-8 text of a file, without a byte order mark; InputError as ``read_bytes``."""
    data = read_bytes(path, limit=limit)
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
