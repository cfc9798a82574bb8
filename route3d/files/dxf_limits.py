"""Whether a DXF file can be read in seconds: counted in its bytes, before any of it is loaded."""

from __future__ import annotations

import re
from pathlib import Path

from route3d.files.exchange import bad_file
from route3d.files.reading import MEGABYTE, read_bytes

# Loading takes about 35 µs an entity, reading and joining as much again: 5 s of one core at most.
MOST_ENTITIES = 40_000
# A tag takes about 4 µs and 130 bytes; entities of many tags are large before they are many.
MOST_TAGS = 1_500_000
LARGEST_DXF = 64 * MEGABYTE
BINARY_MARK = b"AutoCAD Binary DXF\r\n\x1a\x00"

_TEXT_ENTITY = re.compile(rb"\n[ \t]*0[ \t]*\r?\n[ \t]*[A-Z][A-Z0-9_]*")
# Group code 0, of two bytes (one before R13), and the name that follows it.
_BINARY_ENTITY = re.compile(rb"\x00[A-Z][A-Z0-9_]{2,}\x00")
# --layer would not help: it chooses from what is loaded.
_SAVE_PART = "save only the layers of the routes to a file of their own"


def read_checked(path: Path) -> bytes:
    """The bytes of a DXF file that is complete and not too large to load.

    Raises InputError for other files, truncated ones, and those with too many entities.
    """
    data = read_bytes(path, limit=LARGEST_DXF)
    if data.startswith(BINARY_MARK):
        _refuse_crowd(path, data, _BINARY_ENTITY, len(data) // 10)
    else:
        _refuse_other(path, data)
        _refuse_crowd(path, data, _TEXT_ENTITY, data.count(b"\n") // 2)
    if b"EOF" not in data[-200:]:
        raise bad_file(path, "ends before its end mark (EOF): it is truncated", "export it again")
    return data


def _refuse_other(path: Path, data: bytes) -> None:
    if not data.strip():
        raise bad_file(path, "is empty", "is it the right file?")
    if data.startswith(b"AC10"):
        raise bad_file(path, "is a DWG file", "save it as DXF")
    if b"\x00" in data[:1000] or not re.search(rb"^\s*0\s*[\r\n]+\s*SECTION\b", data, re.M):
        raise bad_file(path, "is no DXF file: it has no section", "is it the right file?")


def _refuse_crowd(path: Path, data: bytes, entity: re.Pattern[bytes], tags: int) -> None:
    count = sum(1 for _ in entity.finditer(data))
    if count > MOST_ENTITIES or tags > MOST_TAGS:
        many = (
            f"about {count:,} entities, the limit is {MOST_ENTITIES:,}"
            if count > MOST_ENTITIES
            else f"about {tags:,} values, the limit is {MOST_TAGS:,}"
        )
        raise bad_file(path, f"is too large to read: {many}", _SAVE_PART)
