"""Opening IFC files: what breaks their schema is told with its place, units are asked for."""

from __future__ import annotations

import importlib
import re
from collections import Counter
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from route3d.disk import read_bytes
from route3d.formats.exchange import LARGEST_FILE, bad_file

PSET = "Route3d_Route"
# Lists of that property set: the sizes of the pull box at each point, 0 where there is none.
BOX_SIDES = ("BoxLength", "BoxWidth", "BoxHeight")
SCHEMAS = ("IFC2X3", "IFC4", "IFC4X3")
# Parsing takes about 1 µs and 450 bytes an entity; half the limit of memory.
MOST_ENTITIES = 1_000_000

_NO_NUMBER = re.compile(rb"[(,]\s*[-+]?(?:NAN|INF(?:INITY)?|1\.#\w+)\s*(?:\([^)]*\))?\s*[,)]", re.I)
_STRING = re.compile(rb"'(?:[^']|'')*'")


def ifcopenshell() -> Any:
    """The ifcopenshell package, loaded when it is used."""
    return importlib.import_module("ifcopenshell")


# A file names its schema in more ways than it has schemas; each is read as the one it stands for.
_READ_AS = {
    "IFC2X3": "IFC2X3",
    "IFC4": "IFC4",
    "IFC4X1": "IFC4",
    "IFC4X2": "IFC4X3_ADD2",
    "IFC4X3": "IFC4X3_ADD2",
}
_SCHEMA = re.compile(rb"(FILE_SCHEMA\s*\(\s*\(\s*')([^']*)(')", re.I)
# What a complaint of the parser says of its place.
_BY_ID = re.compile(r"(?:used by|for) instance #(\d+)")
_OFFSET = re.compile(r" at offset (\d+)")
_INSTANCE = re.compile(rb"#(\d+)\s*=")
# Complaints after which nothing that follows was read.
_FATAL = ("ENDSEC", "END-ISO-10303-21")


@dataclass(frozen=True, slots=True, eq=False)
class OpenedModel:
    """A ``model``, the numbers of its ``damaged`` entities, and in words what was read anyhow."""

    model: Any
    damaged: frozenset[int]
    said: tuple[str, ...]


def opened(path: Path) -> Any:
    """The model of an IFC file (STEP text), as ``opened_with_faults`` has it."""
    return opened_with_faults(path).model


def opened_with_faults(path: Path) -> OpenedModel:
    """The model of an IFC file (STEP text), and what in it breaks the rules of its schema.

    Raises InputError for other files, truncated ones, those of other schemas, and for damage
    whose place is not known.
    """
    data = read_bytes(path, limit=LARGEST_FILE)
    _refuse_other(path, data)
    library = ifcopenshell()
    library.ifcopenshell_wrapper.set_log_format_text()  # its validator leaves it at JSON
    library.get_log()
    named, data = _with_known_schema(data)
    try:
        model = library.file.from_string(_text(data)) if named else library.open(str(path))
        log = library.get_log().splitlines()
    except Exception as error:  # whatever the parser stumbles over
        reason = " ".join(str(error).split())[:150]
        raise bad_file(path, f"cannot be read as IFC: {reason}", "export it again") from None
    if model.schema not in SCHEMAS:
        raise bad_file(path, f"has the schema {model.schema}", f"export it as {SCHEMAS[1]}")
    complaints = [re.sub(r"^(\[[^]]*\]\s*)+", "", line) for line in log if "[error]" in line]
    damaged: set[int] = set()
    for said in complaints:
        number = _damaged(said, data)
        if number is None or any(f"'{word}'" in said for word in _FATAL):
            raise bad_file(path, f"is damaged: {said[:150]}", "export it again")
        damaged.add(number)
    kinds = Counter(_OFFSET.sub("", said) for said in complaints)
    words = [f"{kind} ({n:,})" if n > 1 else kind for kind, n in kinds.most_common(_MOST_FAULTS)]
    if left := len(kinds) - len(words):
        words.append(f"{left:,} more places that break the schema")
    return OpenedModel(model, frozenset(damaged), (*named, *words))


_MOST_FAULTS = 20


def _damaged(said: str, data: bytes) -> int | None:
    """The number of the entity that a complaint is about; None where it does not say."""
    if found := _BY_ID.search(said):
        return int(found.group(1))
    if not (found := _OFFSET.search(said)):
        return None
    start = data.rfind(b";", 0, int(found.group(1)))
    before = data[max(start, 0) : int(found.group(1)) + 1]
    numbers = _INSTANCE.findall(before)
    return int(numbers[-1]) if numbers else None


def _with_known_schema(data: bytes) -> tuple[tuple[str, ...], bytes]:
    """The file with the name of its schema as the library knows it, and what was changed."""
    found = _SCHEMA.search(data[:20_000])
    if found is None:
        return (), data
    own = found.group(2).decode(errors="replace")
    name = _READ_AS.get(own.upper().split("_")[0])
    if name is None or own.upper() == name:
        return (), data
    changed = data[: found.start(2)] + name.encode() + data[found.end(2) :]
    return (f"schema {own} read as {name}",), changed


def _text(data: bytes) -> str:
    try:
        return data.decode()
    except UnicodeDecodeError:
        return data.decode("cp1252", errors="replace")


def _refuse_other(path: Path, data: bytes) -> None:
    if data[:2] == b"PK":
        raise bad_file(path, "is a zip archive", "unpack it, or export plain IFC")
    if not data.lstrip().startswith(b"ISO-10303-21"):
        raise bad_file(path, "is not an IFC file (STEP text)", "check that this is the right file")
    if b"END-ISO-10303-21" not in data[-1000:]:
        raise bad_file(path, "ends before its end mark: it is truncated", "export it again")
    if (count := data.count(b"=IFC") + data.count(b"= IFC")) > MOST_ENTITIES:
        many = f"{count:,} entities, the maximum is {MOST_ENTITIES:,}"
        raise bad_file(path, f"is too large to read: {many}", "export the routes only")
    if bad := next(_NO_NUMBER.finditer(_STRING.sub(b"''", data)), None):
        said = bad.group().strip(b"(), ").decode(errors="replace")
        raise bad_file(path, f"has {said} instead of a number", "export it again")


def length_unit(model: Any, path: Path) -> float:
    """Meters in the project's unit of length; InputError where it has none."""
    size = own_length_unit(model)
    if size is None:
        fix = "set a length unit in the IFC project, or use --units m, ft, us-ft, mm or in"
        raise bad_file(path, "does not say its unit of length", fix)
    return size


def own_length_unit(model: Any) -> float | None:
    """Meters in the project's unit of length; None where it names none."""
    size = _unit(model, "LENGTHUNIT")
    return size if size is not None and 0 < size < 1e6 else None


def angle_unit(model: Any) -> float:
    """Radians in the project's unit of angle; radians where it names none (as IFC has it)."""
    return _unit(model, "PLANEANGLEUNIT") or 1.0


def _unit(model: Any, kind: str) -> float | None:
    units = importlib.import_module("ifcopenshell.util.unit")
    projects = model.by_type("IfcProject")
    assigned = projects[0].UnitsInContext if projects else None
    for unit in getattr(assigned, "Units", None) or ():
        if getattr(unit, "UnitType", None) == kind:
            try:
                return float(units.get_unit_scale(unit))
            except Exception:  # a unit that the library does not know
                return None
    return None
