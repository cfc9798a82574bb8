"""Opening IFC files: what ifcopenshell would read in part is refused, units are asked for."""

from __future__ import annotations

import importlib
import re
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


def opened(path: Path) -> Any:
    """The model of an IFC file (STEP text).

    Raises InputError for other files, truncated or damaged ones, and those of other schemas.
    """
    data = read_bytes(path, limit=LARGEST_FILE)
    _refuse_other(path, data)
    library = ifcopenshell()
    library.ifcopenshell_wrapper.set_log_format_text()  # its validator leaves it at JSON
    library.get_log()
    try:
        model = library.open(str(path))
        complaints = [line for line in library.get_log().splitlines() if "[error]" in line]
    except Exception as error:  # whatever the parser stumbles over
        reason = " ".join(str(error).split())[:150]
        raise bad_file(path, f"cannot be read as IFC: {reason}", "export it again") from None
    if complaints:
        said = complaints[0].split("] ")[-1][:150]
        raise bad_file(path, f"is damaged: {said}", "export it again")
    if model.schema not in SCHEMAS:
        raise bad_file(path, f"has the schema {model.schema}", f"export it as {SCHEMAS[1]}")
    return model


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
    size = _unit(model, "LENGTHUNIT")
    if size is None or not 0 < size < 1e6:
        raise bad_file(
            path, "does not say its unit of length", "set a length unit in the IFC project"
        )
    return size


def angle_unit(model: Any) -> float:
    """Radians in the project's unit of angle; radians where it names none (as IFC has it)."""
    return _unit(model, "PLANEANGLEUNIT") or 1.0


def _unit(model: Any, kind: str) -> float | None:
    units = importlib.import_module("ifcopenshell.util.unit")
    projects = model.by_type("IfcProject")
    assigned = projects[0].UnitsInContext if projects else None
    for unit in assigned.Units if assigned else ():
        if getattr(unit, "UnitType", None) == kind:
            try:
                return float(units.get_unit_scale(unit))
            except Exception:  # a unit that the library does not know
                return None
    return None
