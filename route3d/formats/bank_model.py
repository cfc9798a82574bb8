"""A duct bank as it is handed to writers of files: bodies of concrete, and lines of ducts.

The concrete is one closed body for each stretch with ducts of one size, its duct openings left out;
the ducts are conduits of true size. Both stop at the walls of pull boxes in the line.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np

from route3d.errors import InputError, Problem
from route3d.formats.exchange import ExchangeRoute
from route3d.geometry.duct_pieces import boxes_in_line, within_boxes
from route3d.geometry.encasement import part_of, solid
from route3d.geometry.path import ARC, STRAIGHT, Path
from route3d.geometry.vectors import Floats
from route3d.model.examples import BANNER, example_banner
from route3d.model.route import Route
from route3d.planning.bank import BankResult, EncasedPart, parts_of

if TYPE_CHECKING:
    import trimesh

_SHORTEST = 1e-6


@dataclass(frozen=True, eq=False, slots=True)
class BankBody:
    """One body of concrete: ``mesh`` m, and the ``volume`` m³ of the concrete it stands for."""

    part: EncasedPart
    mesh: trimesh.Trimesh
    volume: float


@dataclass(frozen=True, eq=False, slots=True)
class DuctLine:
    """A stretch of one duct outside of pull boxes: its ``name``, and its ``path``."""

    name: str
    path: Path


@dataclass(frozen=True, eq=False, slots=True)
class BankModel:
    """What of a bank is written: its ``name``, concrete and ducts, and a ``note`` about them."""

    name: str
    result: BankResult
    bodies: tuple[BankBody, ...]
    ducts: tuple[DuctLine, ...]
    note: str = ""

    def diameters(self, path: Path) -> Floats:
        """The outer diameter of each segment of the path of a duct, (n,) m."""
        sizes = np.array([c.outer_diameter for c in self.result.run.route.conduits])
        found: Floats = sizes[path.leg]
        return found


def bank_model(
    result: BankResult, *, filled: bool = False, examples: Sequence[str] = ()
) -> BankModel:
    """Concrete and ducts of a bank; ``filled`` without openings for the ducts.

    ``examples`` are the tables of the job whose values nobody has confirmed. Raises GeometryError
    where the concrete would fold over in a bend, and InputError where a bank without concrete has
    no duct with a path.
    """
    name = f"{result.run.name} duct bank" + (f", {BANNER}" if examples else "")
    bodies = tuple(_bodies(result, filled)) if result.bank.cover > 0 else ()
    ducts = tuple(_duct_lines(result))
    if not bodies and not ducts:
        fix = "reduce the duct spacing, or use a larger bend radius"
        raise InputError(Problem("no duct of the bank has a path", where="bank", fix=fix))
    return BankModel(name, result, bodies, ducts, example_banner(examples))


def _bodies(result: BankResult, filled: bool) -> Iterator[BankBody]:
    parts = parts_of(result.bank, result.run, result.center, result.starts, result.grade)
    for part in parts:
        area = part.section.whole if filled else part.section.area
        mesh = solid(part.path, part.section, start=part.frame, ducts=not filled)
        yield BankBody(part, mesh, area * part.path.length)


def _duct_lines(result: BankResult) -> Iterator[DuctLine]:
    boxes = boxes_in_line(result.run.route, result.center)
    for duct in result.ducts:
        if duct.result is None:
            continue
        path, run = duct.result.path, result.bank.run_in(duct.row, duct.column)
        inside = within_boxes(result.center, boxes, path)
        edges = [0.0, *(s for pair in inside for s in pair), path.length]
        name = f"{result.run.name} duct {duct.row}-{duct.column}" + (f" ({run})" if run else "")
        spans = [(a, b) for a, b in zip(edges[::2], edges[1::2], strict=True) if b - a > _SHORTEST]
        for number, (a, b) in enumerate(spans, 1):
            more = f" part {number}" if len(spans) > 1 else ""
            yield DuctLine(name + more, part_of(path, a, b))


def duct_route(line: DuctLine, route: Route) -> ExchangeRoute:
    """The line of a duct as points and radii; names and conduits are those of its run's route."""
    path = line.path
    points, radii, names, legs = [path.starts[0]], [0.0], [""], [int(path.leg[0])]
    for i in range(len(path)):
        bent = path.kind[i] != STRAIGHT
        if not bent and (i == 0 or path.kind[i - 1] != STRAIGHT):
            continue
        setback = path.radii[i] * np.tan(path.angles[i] / 2) if path.kind[i] == ARC else 0.0
        points.append(path.starts[i] + setback * path.tangents[i])
        radii.append(float(path.radii[i]) if path.kind[i] == ARC else 0.0)
        names.append(route.vertices[int(path.vertex[i])].name if bent else "")
        legs.append(int(path.leg[i]))
    points.append(path.ends[-1])
    conduits = [route.conduits[leg] for leg in legs]
    labels = [c.name for c in conduits]
    changes = [now if now != before else "" for before, now in pairwise(labels)]
    return ExchangeRoute(
        line.name,
        np.array(points),
        np.array([*radii, 0.0]),
        (*names, ""),
        labels[0],
        conduits[0].outer_diameter,
        changes=("", *changes, ""),
        diameters=tuple(c.outer_diameter for c in conduits),
    )
