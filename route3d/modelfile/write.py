"""Imported routes as a model file: everything but the runs comes from another model, as text.

Comments and order of that model stay as they are; its runs give way to one for each route, which
takes cables, rope, machine and the rest from the first of them.
"""

from __future__ import annotations

import os
import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np

from route3d.disk import write_bytes_atomic, write_text_atomic
from route3d.errors import InputError, Problem
from route3d.formats.exchange import (
    Element,
    ExchangeRoute,
    counted,
    route_of,
    routes_of,
    said_together,
    tidy,
)
from route3d.formats.sound_routes import corner_element, in_parts, turns_of, whole_name
from route3d.geometry.fillet import STRAIGHT_TURN
from route3d.geometry.join import DrawnPiece, seated
from route3d.model import Job
from route3d.model.site import GRID, Frame
from route3d.modelfile.read import MOST_VERTICES, load, loads
from route3d.modelfile.read import model_text as model_text_of
from route3d.modelfile.starter import starter
from route3d.modelfile.toml_edits import TomlEdits, toml_value, toml_words
from route3d.modelfile.toml_positions import KeyPath, read_toml
from route3d.units import METERS, parse, show

ENDS = ("reel", "machine")
# Keys of a run that belong to its own route.
_OWN = ("name", "route", "legs", "closes_to", "can_splice", "ends")
_HEADER = re.compile(r"""\s*\[\[?("[^"]*"|'[^']*'|[^\[\]{}=,"'])+\]\]?\s*(#.*)?\r?""")


@dataclass(frozen=True, slots=True)
class Written:
    """The ``text`` of a model file, and sentences on what was taken for granted or left out.

    ``routes`` and ``examples`` are those of the file as it is read again. ``elements`` are corners
    at which no bend fits: there a run goes on as its next part.
    """

    text: str
    guessed: tuple[str, ...] = ()
    ignored: tuple[str, ...] = ()
    routes: tuple[ExchangeRoute, ...] = ()
    examples: tuple[str, ...] = ()
    elements: tuple[Element, ...] = ()


def write_model(
    routes: Sequence[ExchangeRoute],
    path: Path,
    *,
    like: Path | None = None,
    system: str = "SI",
    title: str = "",
    note: str = "",
    frame: Frame = GRID,
) -> Written:
    """Write routes as a model file that loads; ``like`` gives all the rest, else the starter.

    A ``path`` that ends in .xlsx becomes a job workbook.

    ``note`` is written over the runs. The origin and grid of the ``frame`` become those of a model
    that has none. ``system`` is that of the starter; a model ``like`` keeps its own. Raises
    InputError with every problem where the model would not load, and where ``path`` is a model file
    already.
    """
    base = starter(system) if like is None else model_text_of(like)
    given = None
    if like is not None:
        given = load(like)  # what is wrong with it is told with its own lines
        base = rebased(base, like.parent.resolve(), path.parent.resolve())
    if given is None or given.site.frame.origin is None:
        base = _with_frame(base, frame)
    cuts: list[dict[int, str]] = [{} for _ in routes]
    while True:
        parts = [
            part for route, at in zip(routes, cuts, strict=True) for part in in_parts(route, at)
        ]
        made = model_text(parts, base, title=title, note=note, given=given)
        try:
            job = loads(made.text, path.name, path.parent)
        except InputError as error:
            if not _cut_where_wrong(routes, cuts, error.problems):
                raise InputError([_unwritten(p, path) for p in error.problems]) from None
        else:
            break
    told = [
        corner_element(
            route,
            i,
            "sharp",
            f"no bend fits: {at[i]}; the run goes on as its next part from "
            f"{route.names[i] or f'break {number}'}",
        )
        for route, at in zip(routes, cuts, strict=True)
        for number, i in enumerate(sorted(at), 1)
    ]
    made = replace(made, elements=tuple(told))
    if path.suffix.lower() == ".xlsx":
        from route3d.modelfile.workbook.writing import workbook_of

        write_bytes_atomic(path, workbook_of(read_toml(made.text).data))
        if notes := sum(len(route.notes) for route in routes):
            said = f"{counted(notes, 'note')} (no place in a workbook)"
            made = replace(made, ignored=(*made.ignored, said))
    else:
        write_text_atomic(path, made.text)
    return replace(made, routes=routes_of(job), examples=job.examples)


_POINT = re.compile(r"\bpoint (\d+)\b")
_AT_POINT = re.compile(r"run\[(\d+)\]\.route\[(\d+)\]")


def _cut_where_wrong(
    routes: Sequence[ExchangeRoute], cuts: list[dict[int, str]], problems: Sequence[Problem]
) -> bool:
    """Add to the ``cuts`` of the routes the points where no bend fits; False for other problems."""
    starts = [(i, j) for i, at in enumerate(cuts) for j in (0, *sorted(at))]
    for problem in problems:
        found = _AT_POINT.match(problem.where)
        if found is None:
            return False
        route, start = starts[int(found[1])]
        point = start + int(found[2])
        if point in cuts[route] or not 0 < point < len(routes[route].points) - 1:
            return False
        fix = _unwritten(problem, Path()).fix.partition("; given:")[0]
        said = "; ".join(text for text in (problem.message, fix) if text)
        words = _POINT.split(said)  # the numbers of the part; those of the route are told
        words[1::2] = [f"point {int(number) + start}" for number in words[1::2]]
        cuts[route][point] = "".join(words)
    return True


def rebased(base: str, old: Path, new: Path) -> str:
    """The model text with its building meshes and surfaces named from the folder ``new``."""
    if old == new:
        return base
    site = read_toml(base).data.get("site", {})
    files: list[tuple[KeyPath, str]] = []
    for i, entry in enumerate(site.get("context", [])):
        if isinstance(entry, dict):
            files.append((("site", "context", i, "file"), entry["file"]))
        else:
            files.append((("site", "context", i), entry))
    if isinstance(grade := site.get("grade"), dict) and "file" in grade:
        files.append((("site", "grade", "file"), grade["file"]))
    edits = TomlEdits(base)
    for path, name in files:
        if not Path(name).is_absolute():
            there = Path(os.path.relpath(old / name, new)).as_posix()
            edits.put(path, toml_value(there))
    return edits.text()


def _with_frame(base: str, frame: Frame) -> str:
    """The model text with the origin of its site, and the grid where it names none."""
    site = read_toml(base).data.get("site", {})
    keys = {}
    if any(frame.shift):
        keys["origin"] = toml_value([f"{tidy(c)} m" for c in frame.shift])
    if frame.crs and "crs" not in site:
        keys["crs"] = toml_value(frame.crs)
    if not keys:
        return base
    if any(not isinstance(value, list | dict) for value in site.values()) or "context" in site:
        edits = TomlEdits(base)
        for name, value in keys.items():
            edits.put(("site", name), value)
        return edits.text()
    lines = ["[site]", *(f"{name} = {value}" for name, value in keys.items())]
    return base.rstrip("\n") + "\n\n" + "\n".join(lines) + "\n"


def _unwritten(problem: Problem, path: Path) -> Problem:
    """A problem of a file that is not there, so without its lines."""
    fix = problem.fix
    if "without a bend radius" in problem.message:
        fix = "use --bend RADIUS for these turns"
    return Problem(problem.message, problem.where, fix, str(path))


def model_text(
    routes: Sequence[ExchangeRoute],
    base: str,
    *,
    title: str = "",
    note: str = "",
    given: Job | None = None,
) -> Written:
    """The text of a model with these routes and all but the runs of the model text ``base``.

    ``given`` is what ``base`` was read as, where it is read already.
    """
    count = sum(len(r.points) for r in routes)
    if count > MOST_VERTICES:
        said = f"the routes have {count:,} points; the maximum of a model file is {MOST_VERTICES:,}"
        fix = "recognize their bends (no --keep-facets, a larger --tolerance), or convert fewer"
        raise InputError(Problem(said, fix=fix))
    document = read_toml(base)
    data = document.data
    if any("legs" in run for run in data["run"]):
        data = {**data, "run": _with_points(data, given or loads(base))}
    head, parts = _parts(base, document.keys)
    names = {r.name for r in routes}
    banks = iter(data.get("bank", []))
    ignored: list[str] = []
    kept = [_with_title(head, title)] if title else [head]
    for key, text in parts:
        if key[0] == "run":
            continue
        if key == ("bank",) and (bank := next(banks))["run"] not in names:
            ignored.append(f"the duct bank of {bank['run']!r}: no run with that name")
            continue
        kept.append(text)
    guessed: list[str] = []
    if given is None:
        guessed.append(
            "everything except the route is invented example data (cables, conduits, rope, "
            "machine, site), marked example = true: replace it, or use --like MODEL"
        )
    of_runs: list[str] = []
    runs = [_run(r, data, of_runs, ignored) for r in routes]
    guessed += said_together(of_runs)
    text = "".join(k if k.endswith("\n") else k + "\n" for k in kept if k.strip())
    above = f"# {note}\n" if note else ""
    return Written(text + "\n" + above + "\n".join(runs), tuple(guessed), tuple(ignored))


def _parts(
    base: str, keys: dict[KeyPath, tuple[int, int]]
) -> tuple[str, list[tuple[KeyPath, str]]]:
    """The text before the first table, and each table's header path with its text."""
    lines = base.splitlines(keepends=True)
    key_lines = {line for line, _ in keys.values()}
    starts = [
        i
        for i, line in enumerate(lines)
        if i + 1 in key_lines and _HEADER.fullmatch(line.rstrip("\n"))
    ]
    ends = [*starts[1:], len(lines)]
    parts = []
    for start, end in zip(starts, ends, strict=True):
        parts.append((_header_path(lines[start]), "".join(lines[start:end])))
    return "".join(lines[: starts[0]] if starts else lines), parts


def _header_path(line: str) -> KeyPath:
    """The keys of a table header, such as ``("run", "cables")``."""
    import tomllib

    table: Any = tomllib.loads(line.strip() + "\n")
    path: list[str] = []
    while table:
        if isinstance(table, list):
            table = table[0]
            continue
        key, table = next(iter(table.items()))
        path.append(key)
    return tuple(path)


def _with_title(head: str, title: str) -> str:
    """The text before the tables with another title, where it stands on a line of its own."""
    line = f"title = {toml_value(title)}"
    changed, found = re.subn(
        r"""(?m)^title[ \t]*=[ \t]*("[^"\\\n]*"|'[^'\n]*')""", lambda _: line, head, count=1
    )
    return changed if found else head


def _with_points(data: dict[str, Any], job: Job) -> list[dict[str, Any]]:
    """The runs of a model, those by legs with their points as ``route`` too."""
    runs = []
    for entry, run in zip(data["run"], job.runs, strict=True):
        if "legs" not in entry:
            runs.append(entry)
            continue
        names = [c.name for c in run.route.conduits]
        rows: list[dict[str, Any]] = []
        for i, vertex in enumerate(run.route.vertices):
            row: dict[str, Any] = {"at": [f"{c!r} m" for c in vertex.point]}
            if i < len(names) and (i == 0 or names[i] != names[i - 1]):
                row["conduit"] = names[i]
            if vertex.name:
                row["name"] = vertex.name
            if vertex.sheave is not None:
                row["sheave"] = vertex.sheave.name
            if vertex.box is not None:
                row["box"] = [f"{side!r} m" for side in vertex.box]
            rows.append(row)
        runs.append({**entry, "route": rows, _AS_READ: route_of(run)})
    return runs


# Where a run by legs keeps the route that they gave.
_AS_READ = "route as read"


def _unchanged(a: ExchangeRoute, b: ExchangeRoute) -> bool:
    """Whether two routes are the same but for the digits that files keep."""
    told = ("names", "access", "conduits")
    if any(getattr(a, key) != getattr(b, key) for key in told) or len(a.points) != len(b.points):
        return False
    boxes = [(0.0, 0.0, 0.0) if box is None else box for r in (a, b) for box in r.boxes]
    half = len(boxes) // 2
    return (
        np.allclose(a.points, b.points, rtol=0, atol=_SAME)
        and np.allclose(a.radii, b.radii, rtol=0, atol=_SAME)
        and np.allclose(boxes[:half], boxes[half:], rtol=0, atol=_SAME)
    )


# A micrometer: files keep more digits, and no survey has them.
_SAME = 1e-6


# --- one run -----------------------------------------------------------------------------------


def _run(route: ExchangeRoute, data: dict[str, Any], guessed: list[str], ignored: list[str]) -> str:
    """The ``[[run]]`` of a route: settings of the run of its name in the model, or of the first."""
    runs = data["run"]
    names = (route.name, whole_name(route.name))
    named = next((r for name in names for r in runs if r["name"] == name), None)
    pattern = named if named is not None else runs[0]
    lines = ["[[run]]", *(f"# {note}" for note in route.notes)]
    lines.append(f"name = {toml_value(route.name)}")
    lines += [f"{k} = {toml_value(v)}" for k, v in pattern.items() if k not in (*_OWN, _AS_READ)]
    if named is None:
        cables = ", ".join(f"{n} x {cable}" for cable, n in pattern["cables"].items())
        said = "cables, rope, machine and other data copied from run"
        guessed.append(f"{route.name}: {said} {pattern['name']!r} ({cables})")
    points = {n for n, a in zip(route.names, route.access, strict=True) if n and a}
    splices = [n for n in pattern.get("can_splice", []) if n in points]
    if splices:
        lines.append(f"can_splice = {toml_value(splices)}")
    if lost := [n for n in pattern.get("can_splice", []) if n not in points]:
        ignored.append(f"{route.name}: splices allowed at {', '.join(map(repr, lost))}")
    ends = pattern.get("ends", {})
    stands = {n for i, n in enumerate(route.names) if n and _may_have_box(route, i)}
    if here := {n: end for n, end in ends.items() if n in stands}:
        lines.append(f"ends = {toml_value(here)}")
    ignored += [f"{route.name}: the model's entries for {n!r}" for n in ends if n not in stands]
    units = data["units"]
    conduit = _conduit(route, pattern, data, guessed)
    beside = _told(route, data, ignored)
    if not any(beside):
        beside = _same_points(route, named, units)
    for i, sheave in _sheaves(route, named, units, ignored).items():
        beside[i]["sheave"] = sheave
    if named is not None and _AS_READ in named:
        if _unchanged(route, named[_AS_READ]):
            legs = [f"  {toml_words(text)}," for text in named["legs"]]
            known = [f"closes_to = {toml_value(c)}" for c in [named.get("closes_to")] if c]
            return "\n".join([*lines, *known, "legs = [", *legs, "]", ""])
        ignored.append(f"{route.name}: the model's legs; the route differs and is given by points")
    lines += ["route = [", *_vertices(route, conduit, units, guessed, beside), "]", ""]
    return "\n".join(lines)


def _conduit(
    route: ExchangeRoute, pattern: dict[str, Any], data: dict[str, Any], guessed: list[str]
) -> str:
    if route.conduit in data["conduit"]:
        return route.conduit
    conduit = str(pattern["route"][0]["conduit"])
    unknown = f", because {route.conduit!r} is not in the model" if route.conduit else ""
    if (size := route.outer_diameter) is None:
        guessed.append(f"{route.name}: conduit {conduit!r} for the whole route{unknown}")
        return conduit
    sizes = _conduit_sizes(data)
    alike = [n for n, both in sizes.items() if any(abs(size - d) <= _SAME_SIZE for d in both if d)]
    if len(alike) == 1:
        (conduit,) = alike
    said = "assumed" if len(alike) == 1 else "assumed; no conduit of the model has that diameter"
    if len(alike) > 1:
        said = f"assumed; {', '.join(map(repr, alike))} have that diameter"
    body = show(size, "diameter", data["units"])
    own = _size_said(sizes.get(conduit, (None, None)), data["units"])
    guessed.append(f"{route.name}: bodies {body}; conduit {conduit!r}{own} {said}{unknown}")
    return conduit


# Diameters of a body and of a conduit are alike within this, m (own judgment).
_SAME_SIZE = 5e-4


def _conduit_sizes(data: dict[str, Any]) -> dict[str, tuple[float | None, float | None]]:
    """Inner and outer diameters (m) of the conduits of a model that loads, None where not given."""
    from route3d.standards.conduits import conduit_size
    from route3d.standards.stock import conduit_named

    found = {}
    for name, entry in data["conduit"].items():
        stock = None
        if "stock" in entry:
            stock = conduit_named(entry["stock"])
        elif "type" in entry:
            stock = conduit_size(entry["type"], str(entry["trade_size"]))
        own = [
            parse(entry[key], "diameter", data["units"]) if key in entry else None
            for key in ("inner_diameter", "outer_diameter")
        ]
        inner = own[0] or (stock.inner_diameter if stock else None)
        found[name] = inner, own[1] or (stock.outer_diameter if stock else None)
    return found


def _size_said(size: tuple[float | None, float | None], system: str) -> str:
    words = zip(size[::-1], ("outside", "inside"), strict=True)
    said = [f"{show(each, 'diameter', system)} {word}" for each, word in words if each]
    return f" ({', '.join(said)})" if said else ""


def _told(route: ExchangeRoute, data: dict[str, Any], ignored: list[str]) -> list[dict[str, Any]]:
    """What each point (n,) says itself of ``conduit`` and ``box``, as a model file has them."""
    scale = METERS["in"] if data["units"] == "US" else METERS["mm"]
    beside: list[dict[str, Any]] = []
    for i, (change, box) in enumerate(zip(route.changes, route.boxes, strict=True)):
        said: dict[str, Any] = {}
        place = route.names[i] or f"point {i + 1}"
        if change in data["conduit"] and i < len(route.points) - 1:
            said["conduit"] = change
        elif change:
            ignored.append(f"{route.name}: conduit {change!r} from {place}: not in the model")
        if box is not None and _may_have_box(route, i):
            sides = [float(tidy(side / scale)) for side in box]
            said["box"] = [int(side) if side.is_integer() else side for side in sides]
        elif box is not None:
            ignored.append(f"{route.name}: the box at {place}, which is not a pull point")
        beside.append(said)
    return beside


def _may_have_box(route: ExchangeRoute, i: int) -> bool:
    return not route.radii[i] > 0 and (bool(route.access[i]) or i in (0, len(route.points) - 1))


def _same_points(
    route: ExchangeRoute, run: dict[str, Any] | None, system: str
) -> list[dict[str, Any]]:
    """The same from a run of the model with points at the same places, for files that say none."""
    held = _held(run, system)
    beside = []
    for i, point in enumerate(route.points):
        was = held.get(_place(point), {})
        keys = ("conduit", "box") if _may_have_box(route, i) else ("conduit",)
        beside.append({key: was[key] for key in keys if key in was})
    return beside


def _sheaves(
    route: ExchangeRoute, run: dict[str, Any] | None, system: str, ignored: list[str]
) -> dict[int, str]:
    """The sheaves of a run of the model, at the pull points that turn at the same places.

    No exchange format says anything of them.
    """
    turns, last = turns_of(route.points), len(route.points) - 1
    given = {place: p for place, p in _held(run, system).items() if "sheave" in p}
    found: dict[int, str] = {}
    for i, point in enumerate(route.points):
        if _may_have_box(route, i) and 0 < i < last and turns[i] > STRAIGHT_TURN:
            was = given.pop(_place(point), {})
            found |= {i: was["sheave"]} if was else {}
    for place, was in given.items():
        at = was.get("name") or ", ".join(map(tidy, place))
        ignored.append(f"{route.name}: the sheave at {at}, no longer a pull point that turns")
    return found


def _held(run: dict[str, Any] | None, system: str) -> dict[tuple[float, ...], dict[str, Any]]:
    """The points of a run of the model by their places, m."""
    points = run["route"] if run is not None else []
    return {_place(parse(c, "length", system) for c in p["at"]): p for p in points}


def _place(point: Iterable[float]) -> tuple[float, ...]:
    """A place to a tenth of a millimeter."""
    return tuple(round(float(c), 4) + 0.0 for c in point)


def _vertices(
    route: ExchangeRoute,
    conduit: str,
    system: str,
    guessed: list[str],
    beside: Sequence[Mapping[str, Any]],
) -> list[str]:
    """The points of a run, one a line, with what ``beside`` says of each."""
    length, radius = (METERS["ft"], METERS["in"]) if system == "US" else (1.0, 1.0)
    turns = turns_of(route.points)
    last = len(route.points) - 1
    ends = [i for i in (0, last) if not route.access[i]]
    if ends:
        guessed.append(f"{route.name}: reel and machine access assumed at both ends")
    lines = []
    held = np.round(route.points / length, 9)
    # bends that touch overlap by what is rounded
    radii = seated(DrawnPiece(held * length, route.radii), _SAME).radii
    for i, point in enumerate(held.tolist()):
        at = ", ".join(map(tidy, point))
        parts = [f"at = [{at}]"]
        if route.radii[i] > 0 and turns[i] > STRAIGHT_TURN:
            parts.append(f"bend = {tidy(float(radii[i]) / radius)}")
        if route.names[i]:
            parts.append(f"name = {toml_value(route.names[i][:120])}")
        access = sorted(route.access[i], reverse=True) or (list(ENDS) if i in ends else [])
        if access:
            parts.append(f"access = {toml_value(access)}")
        said = {**beside[i], "conduit": conduit} if i == 0 else beside[i]
        beside_it = [key for key in ("conduit", "box", "sheave") if key in said]
        parts += [f"{key} = {toml_value(said[key])}" for key in beside_it]
        lines.append(f"  {{ {', '.join(parts)} }},")
    return lines
