"""Routes from DXF drawings: lines, arcs and polylines in any plane, one or more runs a layer."""

from __future__ import annotations

import logging
import re
from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from route3d.disk import MEGABYTE, read_bytes
from route3d.formats.drawn_routes import (
    Layer,
    LostFitting,
    WrittenVertex,
    assembled,
    with_marks,
)
from route3d.formats.dxf.entities import APP, SOLIDS, DrawingContents, gather, plain_name
from route3d.formats.exchange import (
    JOIN_TOLERANCE,
    Element,
    ExchangeRoute,
    ImportedRoutes,
    ReadOptions,
    bad_file,
    counted,
    meters_per_unit,
)
from route3d.geometry.vectors import frozen
from route3d.units import METERS

if TYPE_CHECKING:
    from ezdxf.document import Drawing


# --- whether a DXF file can be read in seconds: counted in its bytes, before any of it is loaded

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
_SAVE_PART = "save only the route layers to a separate file"


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
        raise bad_file(path, "is empty", "check that this is the right file")
    if data.startswith(b"AC10"):
        raise bad_file(path, "is a DWG file", "save it as DXF")
    if b"\x00" in data[:1000] or not re.search(rb"^\s*0\s*[\r\n]+\s*SECTION\b", data, re.M):
        raise bad_file(
            path, "is not a DXF file: it has no section", "check that this is the right file"
        )


def _refuse_crowd(path: Path, data: bytes, entity: re.Pattern[bytes], tags: int) -> None:
    count = sum(1 for _ in entity.finditer(data))
    if count > MOST_ENTITIES or tags > MOST_TAGS:
        many = (
            f"about {count:,} entities, the maximum is {MOST_ENTITIES:,}"
            if count > MOST_ENTITIES
            else f"about {tags:,} values, the maximum is {MOST_TAGS:,}"
        )
        raise bad_file(path, f"is too large to read: {many}", _SAVE_PART)


# --- routes from DXF drawings: lines, arcs and polylines in any plane, one or more runs a layer

# $INSUNITS (DXF reference, HEADER section) as a key of METERS; 0 is "unitless".
UNITS = {1: "in", 2: "ft", 4: "mm", 5: "cm", 6: "m", 7: "km", 10: "yd", 21: "us-ft"}
_SOLID = "a solid or surface has no centerline: draw lines and arcs"
_WHY = {
    **dict.fromkeys((*SOLIDS, "POLYLINE (mesh)"), _SOLID),
}
# More layers than this are reported together: the rest of a building plan.
_MOST_SAID = 25
# Faults mended of which the first are told; a broken file may have thousands.
_MOST_FAULTS = 10


def read_dxf(path: Path, options: ReadOptions) -> ImportedRoutes:
    """Read the routes of a DXF file, text or binary, of any version that ezdxf reads.

    LINE, ARC, LWPOLYLINE and POLYLINE of the model space count, and SPLINE, HELIX and ELLIPSE as
    arcs within ``options.arc_tolerance``, also those in blocks; what is on a layer that is off or
    frozen does not, unless it is asked for. They are joined within ``options.tolerance``; every
    chain is a route, named after its layer. Units are those asked for, else those of $INSUNITS.
    A file that is broken goes through the recovery of ezdxf, and an entity that is broken is left
    out. Raises InputError for files that are too large, truncated, or hold no route.
    """
    data = read_checked(path)
    doc, faults = _loaded(path, data)
    # ezdxf puts meters where a drawing names no unit at all
    number = _units(doc) if b"$INSUNITS" in data else 0
    own = UNITS.get(number)
    if own is None and options.units is None and number:
        raise bad_file(path, f"has the unit $INSUNITS {number}", "use --units m, ft, mm or in")
    meters = meters_per_unit(options, own, path)
    sheet = DrawingContents(path, meters, options, _layer_states(doc))
    _gather(sheet, doc, options)
    layers = _layers(sheet)
    if not layers:
        raise bad_file(path, "has no line, arc or polyline" + _instead(sheet), _fix(sheet, options))
    made = assembled(layers, options, path)
    routes, lost = _marked(made.routes, sheet.marks, doc, options.tolerance)
    ignored = (*_hidden(sheet), *_ignored(sheet, doc, options), *made.ignored, *lost)
    guessed = (*_unit_guess(own, options), *_mended(faults), *made.guessed)
    used = (*_used(sheet, own, options), *made.used)
    names = {old.name: new.name for old, new in zip(made.routes, routes, strict=True)}
    told = (*made.elements, *_lost_alone(sheet), *sheet.closed)
    elements = tuple(replace(e, run=names.get(e.run, e.run)) for e in told)
    return ImportedRoutes(routes, used, ignored, guessed, meters, elements=elements)


def _layers(sheet: DrawingContents) -> list[Layer]:
    """The layers with pieces, and those of the elements without a centerline that they hold."""
    named = _plain_names(sheet.pieces)
    return [
        Layer(
            named[name],
            tuple(pieces),
            handles=tuple(sheet.handles[name]),
            lost=_bodies(sheet.lost.get(name, ())),
        )
        for name, pieces in sheet.pieces.items()
    ]


def _lost_alone(sheet: DrawingContents) -> Iterator[Element]:
    """The broken lines of layers on which no other line is."""
    for layer, lost in sheet.lost.items():
        for one in lost if layer not in sheet.pieces else ():
            if one.kind not in SOLIDS:
                yield Element(one.handle, one.kind, "missing", one.said, layer)


def _bodies(lost: Sequence[LostFitting]) -> tuple[LostFitting, ...]:
    """Elements without a centerline, faces that share a corner taken together as one body."""
    first: dict[tuple[int, ...], int] = {}
    body = list(range(len(lost)))

    def root(i: int) -> int:
        while body[i] != i:
            body[i] = body[body[i]]
            i = body[i]
        return i

    for i, one in enumerate(lost):
        if one.kind == "3DFACE":
            for corner in np.round(one.points / JOIN_TOLERANCE).astype(np.int64).tolist():
                body[root(i)] = root(first.setdefault(tuple(corner), i))
    whole: dict[int, list[LostFitting]] = {}
    for i, one in enumerate(lost):
        whole.setdefault(root(i), []).append(one)
    made = []
    for parts in whole.values():
        said = f"{len(parts)} faces, no centerline" if len(parts) > 1 else parts[0].said
        points = frozen(np.vstack([part.points for part in parts]))
        made.append(replace(parts[0], said=said, points=points))
    return tuple(made)


def _plain_names(names: Iterable[str]) -> dict[str, str]:
    """Each name as it is read; as it is written where two would be read alike."""
    plain = {name: plain_name(name) or name for name in names}
    often = Counter(plain.values())
    return {name: read if often[read] == 1 else name for name, read in plain.items()}


def _layer_states(doc: Drawing) -> dict[str, str]:
    """Why layers cannot be seen, by their names in lower case."""
    states = {}
    for layer in doc.layers:
        state = "frozen" if layer.is_frozen() else "off" if layer.is_off() else ""
        if state:
            states[str(layer.dxf.name).casefold()] = state
    return states


def _hidden(sheet: DrawingContents) -> Iterator[str]:
    """What was left out because it cannot be seen on the drawing."""
    rows = sorted(sheet.hidden.items())
    for (layer, why), count in rows[:_MOST_SAID]:
        state = "" if why == "invisible" else f" ({why})"
        what = "invisible entity" if why == "invisible" else "entity"
        things = counted(count, what, f"{what[:-1]}ies")
        yield f"layer {layer}{state}: {things}; --all-layers reads them"
    if len(rows) > _MOST_SAID:
        yield f"{len(rows) - _MOST_SAID} more layers are off or frozen; --all-layers reads them"


def _mended(faults: Counter[str]) -> Iterator[str]:
    """The faults of a file that were read over or mended."""
    rows = list(faults.items())
    for said, count in rows[:_MOST_FAULTS]:
        yield f"file error repaired or ignored: {said} ({count:,})"
    if left := sum(count for _, count in rows[_MOST_FAULTS:]):
        yield f"{counted(left, 'more file error')} repaired or ignored"


class _Faults(logging.Handler):
    """Keeps what ezdxf complains of: for the report, not for the terminal."""

    def __init__(self) -> None:
        super().__init__(logging.WARNING)
        self.said: Counter[str] = Counter()

    def emit(self, record: logging.LogRecord) -> None:
        """Count a message."""
        self.add(record.getMessage())

    def add(self, message: str) -> None:
        """Count a message; numbers and handles make no difference."""
        plain = re.sub(r"#?[0-9A-F]*\d[0-9A-F]*", "…", " ".join(message.split()))
        self.said[plain[:120]] += 1


def _loaded(path: Path, data: bytes) -> tuple[Drawing, Counter[str]]:
    from ezdxf.document import Drawing
    from ezdxf.filemanagement import readfile
    from ezdxf.lldxf.tagger import binary_tags_loader

    faults = _Faults()
    logger = logging.getLogger("ezdxf")
    logger.addHandler(faults)
    try:
        if data.startswith(BINARY_MARK):
            return Drawing.load(binary_tags_loader(data)), faults.said
        return readfile(path), faults.said
    except Exception as error:  # damaged files raise whatever the damage hits first
        reason = " ".join(str(error).split())[:150]
        faults.said.clear()
        if not data.startswith(BINARY_MARK) and (mended := _with_nan(data)) is not None:
            try:
                return _of_text(mended), faults.said
            except Exception:  # other damage beside
                faults.said.clear()
                data = mended
        return _recovered(path, data, reason, faults), faults.said
    finally:
        logger.removeHandler(faults)


# Group codes of floating point values (DXF reference, "Group code value types").
_FLOATS = ((10, 59), (110, 149), (210, 239), (460, 469), (1010, 1059))


def _with_nan(data: bytes) -> bytes | None:
    """A text file with NaN where a coordinate is no number; None where all are.

    So the entity is broken that has it, and not the file.
    """
    lines = data.split(b"\n")
    bad = []
    for i in range(0, len(lines) - 1, 2):
        try:
            code = int(lines[i])
        except ValueError:
            return None  # not in pairs: damage of another kind
        if any(low <= code <= high for low, high in _FLOATS):
            try:
                float(lines[i + 1])
            except ValueError:
                bad.append(i + 1)
    for i in bad:
        lines[i] = b"nan"
    return b"\n".join(lines) if bad else None


def _of_text(data: bytes) -> Drawing:
    """A drawing of text in memory, as ``ezdxf`` reads a file."""
    from io import BytesIO

    from ezdxf import recover

    return recover.read(BytesIO(data))[0]


def _recovered(path: Path, data: bytes, reason: str, faults: _Faults) -> Drawing:
    """A file that cannot be read as it is, mended by ezdxf; InputError where that fails too."""
    from io import BytesIO

    from ezdxf import recover

    try:
        doc, auditor = recover.read(BytesIO(data))
        if len(doc.modelspace()) == 0:
            raise ValueError("no entity could be recovered")
    except Exception:  # the same
        raise bad_file(path, f"cannot be read as DXF: {reason}", "export it again") from None
    kept, faults.said = faults.said, Counter({f"{reason}; the file was repaired": 1})
    faults.said.update(kept)
    for error in (*auditor.errors, *auditor.fixes):
        faults.add(error.message)
    return doc


def _units(doc: Drawing) -> int:
    try:
        return int(doc.header.get("$INSUNITS", 0))
    except (TypeError, ValueError):
        return 0


def _gather(sheet: DrawingContents, doc: Drawing, options: ReadOptions) -> None:
    wanted = {name.casefold() for name in options.layers}
    known = {layer.dxf.name.casefold() for layer in doc.layers}
    known |= {plain_name(name).casefold() for name in known}
    seen: dict[str, str] = {}

    def is_wanted(layer: str) -> bool:
        seen.setdefault(layer.casefold(), layer)
        return not wanted or bool({layer.casefold(), plain_name(layer).casefold()} & wanted)

    try:
        gather(sheet, doc.modelspace(), is_wanted)
    except (ArithmeticError, AttributeError, TypeError, ValueError) as error:
        reason = " ".join(str(error).split())[:150]
        raise bad_file(sheet.path, f"has a broken entity: {reason}", "export it again") from None
    missing = [n for n in options.layers if n.casefold() not in known | set(seen)]
    if missing:
        there = ", ".join(sorted(seen.values())[:20]) or "none"
        raise bad_file(sheet.path, f"has no layer {missing[0]}", f"layers: {there}")


# --- names of our own files --------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class _Known:
    """What route3d wrote on a layer: the run it holds, its conduit and outer diameter (m)."""

    run: str
    conduit: str
    outer_diameter: float | None


def _layer_facts(doc: Drawing) -> Iterator[tuple[str, _Known]]:
    for layer in doc.layers:
        if layer.has_xdata(APP):
            tags = layer.get_xdata(APP)
            texts = [str(tag.value) for tag in tags if tag.code == 1000]
            sizes = [float(tag.value) for tag in tags if tag.code == 1040]
            if len(texts) == 3 and texts[0] == "run":
                yield layer.dxf.name, _Known(texts[1], texts[2], sizes[0] if sizes else None)


def _marked(
    routes: tuple[ExchangeRoute, ...], marks: list[WrittenVertex], doc: Drawing, tolerance: float
) -> tuple[tuple[ExchangeRoute, ...], tuple[str, ...]]:
    """The routes with the names, access and conduits that a drawing of route3d holds."""
    facts = dict(_layer_facts(doc))
    return with_marks([_with_facts(r, facts.get(r.name)) for r in routes], marks, tolerance)


def _with_facts(route: ExchangeRoute, known: _Known | None) -> ExchangeRoute:
    if known is None:
        return route
    return replace(
        route, name=known.run, conduit=known.conduit, outer_diameter=known.outer_diameter
    )


# --- the report --------------------------------------------------------------------------------


def _used(sheet: DrawingContents, own: str | None, options: ReadOptions) -> Iterator[str]:
    source = "as requested" if options.units else "from $INSUNITS of the file"
    yield f"lengths in {options.units or own}, {source}"
    for layer in sheet.pieces:
        counts = [f"{n:,} {kind}" for (on, kind), n in sheet.types.items() if on == layer]
        opened = sheet.opened.get(layer, 0)
        blocks = f", {counted(opened, 'block reference')} opened" if opened else ""
        yield f"layer {layer}: {', '.join(counts)}{blocks}"


def _unit_guess(own: str | None, options: ReadOptions) -> Iterator[str]:
    if options.units and own and METERS[own] != METERS[options.units]:
        yield f"lengths in {options.units} as requested, although $INSUNITS of the file is {own}"


def _ignored(sheet: DrawingContents, doc: Drawing, options: ReadOptions) -> Iterator[str]:
    by_layer: dict[str, Counter[str]] = {}
    for (layer, kind), n in sorted(sheet.ignored.items()):
        by_layer.setdefault(layer, Counter())[kind] += n
    rows = sorted(by_layer.items(), key=lambda row: (row[0] not in sheet.pieces, row[0]))
    for layer, kinds in rows[:_MOST_SAID]:
        yield f"layer {layer}: {_types(kinds)}" + _unwanted(layer, options)
    rest: Counter[str] = sum((kinds for _, kinds in rows[_MOST_SAID:]), Counter())
    if rest:
        yield f"{counted(len(rows) - _MOST_SAID, 'more layer')}: {_types(rest)}"
    for layout in doc.layouts:
        if not layout.is_modelspace and (count := _count(layout)):
            yield f"sheet {layout.name}: {counted(count, 'entity', 'entities')}, not in model space"


def _count(layout: Any) -> int:
    """Entities of a paper sheet; its own view on itself is none."""
    return sum(1 for entity in layout if entity.dxftype() != "VIEWPORT")


def _types(kinds: Counter[str]) -> str:
    parts = [f"{n:,} {kind}" for kind, n in kinds.most_common()]
    whys = [f"{kind}: {_WHY[kind]}" for kind in kinds if kind in _WHY]
    return ", ".join(parts) + (f" ({'; '.join(whys)})" if whys else "")


def _unwanted(layer: str, options: ReadOptions) -> str:
    asked = {name.casefold() for name in options.layers}
    return ", not a requested layer" if asked and layer.casefold() not in asked else ""


def _instead(sheet: DrawingContents) -> str:
    kinds: Counter[str] = Counter()
    for (_, kind), n in sheet.ignored.items():
        kinds[kind] += n
    return f", only {_types(kinds)}" if kinds else ""


def _fix(sheet: DrawingContents, options: ReadOptions) -> str:
    if options.layers:
        return "check the requested layers"
    return (
        "draw the centerline as lines, arcs or polylines"
        if sheet.ignored
        else "check that this is the right file"
    )
