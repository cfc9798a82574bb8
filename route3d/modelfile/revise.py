"""The routes of a model file brought up to a revised survey or drawing; all the rest stays.

Points are matched by name, and between those in order, each with the nearest that keeps the order.
A point that stays keeps its line with all its keys and comments; only its coordinates are written
anew, and its bend radius where the survey gives one.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np

from route3d.errors import InputError, Problem
from route3d.formats.exchange import ExchangeRoute, counted, tidy
from route3d.formats.sound_routes import turns_of
from route3d.geometry.fillet import STRAIGHT_TURN
from route3d.geometry.vectors import Floats, norm
from route3d.model import Job, Route
from route3d.modelfile.fields import brief, nearest
from route3d.modelfile.read import loads
from route3d.modelfile.toml_edits import TomlEdits, toml_table, toml_value
from route3d.modelfile.toml_positions import KeyPath, read_toml
from route3d.units import METERS, show, written

# Own judgment: a point that moved farther (m) than this counts as one removed and one added,
# half of it for each.
FAR_APART = 10.0
# Own judgment: a route whose middle lies farther off than this (m), or than so many times its size,
# or that is so many times as large or small, is on another grid or in other units.
FARTHEST_MOVE = 1000.0
MOST_SIZES = 10.0
# Below this (m) a point has not moved: its text stays.
UNMOVED = 1e-6
# Pairs of points compared; longer routes are matched by their order.
MOST_PAIRS = 4_000_000
_ROW = ("at", "bend", "name", "access", "conduit", "box", "sheave")


@dataclass(frozen=True, slots=True)
class PointChange:
    """What became of one point: ``what`` is "moved", "added" or "removed".

    ``label`` is what it is called, ``shift`` (3,) m how far a point moved, ``held`` what else it
    held in the model.
    """

    what: str
    label: str
    shift: tuple[float, float, float] = (0.0, 0.0, 0.0)
    held: str = ""

    @property
    def distance(self) -> float:
        """How far it moved, m."""
        return math.hypot(*self.shift)


@dataclass(frozen=True, slots=True)
class RevisedRun:
    """What changes in one run; ``notes`` are sentences on how it is written.

    ``doubt`` says why the new route is hardly one of the same place, "" where it is.
    """

    name: str
    changes: tuple[PointChange, ...]
    unmoved: int
    length: float
    old_length: float
    notes: tuple[str, ...] = ()
    doubt: str = ""


def revised(
    text: str,
    job: Job,
    routes: Sequence[ExchangeRoute],
    path: Path,
    *,
    bend: float | None = None,
) -> tuple[str, tuple[RevisedRun, ...]]:
    """The text of a model file with new routes for the runs of their names, and what changes.

    ``job`` is what the text is read as. ``bend`` (m) is the radius of added points that turn and
    for which the survey gives none. Raises InputError for a route that is no run of it, and
    where the new text would not load.
    """
    _refuse_unknown(routes, job, path)
    page, data = TomlEdits(text, str(path)), read_toml(text, str(path)).data
    runs = []
    for route in routes:
        index = next(i for i, run in enumerate(job.runs) if run.name == route.name)
        runs.append(_revise(page, data["run"][index], ("run", index), job, index, route, bend))
    made = page.text()
    try:
        after = loads(made, path.name, path.parent)
    except InputError as error:
        raise InputError([_unwritten(p, path) for p in error.problems]) from None
    found = []
    for run in runs:
        length = next(r.route for r in after.runs if r.name == run.name)
        old = job.run(run.name).route
        found.append(
            replace(
                run,
                length=_length(length),
                old_length=_length(old),
                doubt=_doubt(old, length, job.units),
            )
        )
    return made, tuple(found)


def _doubt(old: Route, new: Route, system: str) -> str:
    """In words, that the new route lies far from the old one or is of another size; else ""."""
    lows, highs = zip(
        *((p.min(axis=0), p.max(axis=0)) for r in (old, new) for p in [_points(r)]), strict=True
    )
    was, size = (float(norm(high - low)) for low, high in zip(lows, highs, strict=True))
    far = float(norm(lows[1] + highs[1] - lows[0] - highs[0])) / 2
    if not was < size * MOST_SIZES < was * MOST_SIZES**2:
        return f"is {size / was:,.4g} times its old size"
    if far > min(FARTHEST_MOVE, MOST_SIZES * max(was, size)):
        return (
            f"moved as a whole by {show(far, 'length', system)}, {far / size:,.3g} times its size"
        )
    return ""


def _points(route: Route) -> Floats:
    return np.array([v.point for v in route.vertices])


def _length(route: Route) -> float:
    from route3d.geometry.fillet import route_path

    return float(route_path(route).length)


def _unwritten(problem: Problem, path: Path) -> Problem:
    """A problem of a text that is not written, so without its lines."""
    said = f"not updated: with these points {problem.message}"
    return Problem(said, problem.where, problem.fix, str(path))


def _refuse_unknown(routes: Sequence[ExchangeRoute], job: Job, path: Path) -> None:
    known = [run.name for run in job.runs]
    problems = []
    for route in routes:
        if route.name not in known:
            fix = nearest(route.name, known)
            fix += '; name the runs as in the model (a column "run", the layer), or select with'
            said = f"has no run named {brief(route.name)}"
            problems.append(Problem(said, "--into", f"{fix} --run", str(path)))
    if problems:
        raise InputError(problems)


# --- one run ------------------------------------------------------------------------------------


def _revise(
    page: TomlEdits,
    entry: dict[str, Any],
    base: KeyPath,
    job: Job,
    index: int,
    route: ExchangeRoute,
    bend_radius: float | None,
) -> RevisedRun:
    old, system = job.runs[index].route, job.units
    points = np.array([v.point for v in old.vertices])
    notes: list[str] = []
    if _backward(points, route.points):
        route = _reversed(route)
        notes.append("it is drawn the other way; read in the direction of the model")
    pairs = matched(points, [v.name for v in old.vertices], route.points, route.names)
    to_old = {new: was for was, new in pairs}
    if "legs" in entry:
        rows = [_row_of(old, i, system) for i in range(len(old.vertices))]
    else:
        rows = [{k: toml_value(v) for k, v in row.items()} for row in entry["route"]]
    changes: list[PointChange] = []
    unmoved, sharp, last = 0, 0, len(route.points) - 1
    turns = turns_of(route.points)
    made: list[dict[str, str]] = []
    kept: list[int] = []
    for i, point in enumerate(route.points):
        was = to_old.get(i)
        if was is None:
            turning = turns[i] > STRAIGHT_TURN and not route.access[i]
            made.append(_new_row(route, i, system, bend_radius if turning else None))
            sharp += turning and "bend" not in made[-1]
            kept.append(-1)
            changes.append(PointChange("added", route.names[i] or f"point {i + 1}"))
            continue
        row = dict(rows[was])
        given = entry["route"][was]["at"] if "route" in entry else [None] * 3
        shift = point - points[was]
        if norm(shift) >= UNMOVED:
            moved = (float(shift[0]), float(shift[1]), float(shift[2]))
            changes.append(PointChange("moved", old.label(was), moved))
            at = [
                toml_value(like)
                if abs(d) < UNMOVED and like is not None
                else written(float(c), "length", system, like)
                for c, d, like in zip(point, shift, given, strict=True)
            ]
            row["at"] = f"[{', '.join(at)}]"
        else:
            unmoved += 1
        bend = old.vertices[was].bend
        if route.radii[i] > 0 and turns[i] > STRAIGHT_TURN:
            if not math.isclose(float(route.radii[i]), bend, rel_tol=1e-9):
                like = entry["route"][was].get("bend") if "route" in entry else None
                row["bend"] = written(float(route.radii[i]), "radius", system, like)
                notes.append(f"{old.label(was)} has a new bend radius, that of the survey")
        elif "bend" in row and (i in (0, last) or turns[i] <= STRAIGHT_TURN):
            del row["bend"]
            notes.append(f"{old.label(was)} no longer turns: its bend radius was removed")
        made.append(row)
        kept.append(was)
    for gone in sorted({*range(len(points))} - {*to_old.values()}):
        held = [k for k in ("access", "conduit", "box", "sheave") if k in rows[gone]]
        changes.append(PointChange("removed", old.label(gone), held=", ".join(held)))
    if sharp:
        said = f"standard elbow taken for {counted(sharp, 'added point')} without a radius"
        notes.append(f"{said}; --bend gives another")
    if "legs" not in entry or made != rows:
        _write(page, base, entry, rows, made, kept)
        if "legs" in entry:
            notes.append("the run was given by legs; it is now given by points")
    return RevisedRun(route.name, tuple(changes), unmoved, 0.0, 0.0, tuple(notes))


def _write(
    page: TomlEdits,
    base: KeyPath,
    entry: dict[str, Any],
    rows: Sequence[dict[str, str]],
    made: Sequence[dict[str, str]],
    kept: Sequence[int],
) -> None:
    """The rows of a route over those of the file: the lines of points that stay stay."""
    if "legs" in entry:
        lines = "".join(f"  {toml_table(row)},{page.newline}" for row in made)
        page.replace_pair((*base, "legs"), "route", f"[{page.newline}{lines}]")
        if "closes_to" in entry:  # of legs alone
            page.remove((*base, "closes_to"))
        return
    path: KeyPath = (*base, "route")
    for gone in sorted({*range(len(rows))} - {*kept}):
        page.remove((*path, gone))
    for i, (row, was) in enumerate(zip(made, kept, strict=True)):
        if was >= 0:
            for key, value in row.items():
                if value != rows[was].get(key):
                    page.put((*path, was, key), value, _ROW)
            for key in rows[was].keys() - row.keys():
                page.remove((*path, was, key))
            continue
        before = next((w for w in reversed(kept[:i]) if w >= 0), None)
        beside = before if before is not None else next(w for w in kept[i:] if w >= 0)
        page.insert_row((*path, beside), row, after=before is not None)


def _row_of(route: Route, index: int, system: str) -> dict[str, str]:
    """A vertex of a route as a row of points, for a run that had no rows."""
    vertex = route.vertices[index]
    row = {"at": f"[{', '.join(written(c, 'length', system) for c in vertex.point)}]"}
    if vertex.bend:
        row["bend"] = written(vertex.bend, "radius", system)
    if vertex.name:
        row["name"] = toml_value(vertex.name)
    if vertex.access:
        row["access"] = toml_value(sorted(vertex.access, reverse=True))
    conduits = route.conduits
    if index < len(conduits) and (index == 0 or conduits[index] != conduits[index - 1]):
        row["conduit"] = toml_value(conduits[index].name)
    if vertex.box is not None:
        row["box"] = f"[{', '.join(written(side, 'diameter', system) for side in vertex.box)}]"
    if vertex.sheave is not None:
        row["sheave"] = toml_value(vertex.sheave.name)
    return row


def _new_row(route: ExchangeRoute, i: int, system: str, bend: float | None) -> dict[str, str]:
    """A point that the model has not, with what the survey says of it."""
    length = METERS["ft"] if system == "US" else 1.0
    row = {"at": f"[{', '.join(tidy(round(float(c) / length, 9)) for c in route.points[i])}]"}
    if radius := float(route.radii[i]) or bend:
        row["bend"] = written(radius, "radius", system)
    if route.names[i]:
        row["name"] = toml_value(route.names[i][:120])
    if route.access[i]:
        row["access"] = toml_value(sorted(route.access[i], reverse=True))
    if route.changes[i]:
        row["conduit"] = toml_value(route.changes[i])
    return row


def _backward(old: Floats, new: Floats) -> bool:
    """Whether the ends of a route are nearer to those of the other way round."""
    same = norm(new[0] - old[0]) + norm(new[-1] - old[-1])
    return bool(norm(new[-1] - old[0]) + norm(new[0] - old[-1]) < same)


def _reversed(route: ExchangeRoute) -> ExchangeRoute:
    """The route from its other end, without the conduits, which start at the ends of legs."""
    return ExchangeRoute(
        route.name,
        route.points[::-1],
        route.radii[::-1],
        route.names[::-1],
        access=route.access[::-1],
        boxes=route.boxes[::-1],
    )


# --- which point is which -------------------------------------------------------------------------


def matched(
    old: Floats, old_names: Sequence[str], new: Floats, new_names: Sequence[str]
) -> list[tuple[int, int]]:
    """Pairs (old, new) of points that are the same, in order along both routes.

    ``old`` (n, 3) and ``new`` (m, 3) in m. Points of one name are the same wherever they lie, and
    so are first and last; points of different names never are. Of the others as many are paired
    as lie within ``FAR_APART``, with the least sum of distances (a shortest path over both routes).
    """
    n, m = len(old), len(new)
    if n * m > MOST_PAIRS:
        return [(i, i) for i in range(min(n, m) - 1)] + [(n - 1, m - 1)]
    names = {name for name in old_names if name} & {name for name in new_names if name}
    cost = np.full((n + 1, m + 1), math.inf)
    cost[0, :] = np.arange(m + 1) * FAR_APART / 2
    cost[:, 0] = np.arange(n + 1) * FAR_APART / 2
    steps = np.zeros((n + 1, m + 1), dtype=np.int8)
    steps[0, 1:], steps[1:, 0] = 2, 1
    apart = norm(old[:, None, :] - new[None, :, :])
    for i in range(n):
        for j in range(m):
            pair = cost[i, j] + _pairing(i, j, n, m, old_names, new_names, names, apart)
            options = (pair, cost[i, j + 1] + FAR_APART / 2, cost[i + 1, j] + FAR_APART / 2)
            steps[i + 1, j + 1] = best = int(np.argmin(options))
            cost[i + 1, j + 1] = options[best]
    pairs, i, j = [], n, m
    while i and j:
        step = int(steps[i, j])
        if step == 0:
            pairs.append((i - 1, j - 1))
        i, j = i - (step != 2), j - (step != 1)
    return pairs[::-1]


def _pairing(
    i: int,
    j: int,
    n: int,
    m: int,
    old_names: Sequence[str],
    new_names: Sequence[str],
    names: set[str],
    apart: Floats,
) -> float:
    """What it costs to take two points for the same: nothing for those of one name."""
    a, b = old_names[i], new_names[j]
    if a in names or b in names:
        return -FAR_APART if a == b else math.inf
    ends = (i in (0, n - 1)) + (j in (0, m - 1))
    if (i, j) in ((0, 0), (n - 1, m - 1)):
        return 0.0
    return math.inf if ends or (a and b) else float(apart[i, j])
