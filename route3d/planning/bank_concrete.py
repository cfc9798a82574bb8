"""The concrete of a duct bank: where it lies, what it takes, and its solid."""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, cast

import numpy as np

from route3d.checks.bank import widest_duct
from route3d.geometry.encasement import (
    STEP,
    Section,
    folded,
    mesh_volume,
    part_of,
    section,
    solid,
    stretches_below,
)
from route3d.geometry.frames import frames, frames_at
from route3d.geometry.path import Path
from route3d.geometry.vectors import Floats
from route3d.model.job import Bank
from route3d.model.run import Run

if TYPE_CHECKING:
    import trimesh

    from route3d.planning.bank import BankResult


def stretches(centre: Path) -> tuple[tuple[float, float], ...]:
    """Station pairs (m) in concrete: what lies below grade, or all of it where nothing does."""
    return stretches_below(centre) or ((0.0, centre.length),)


def parts_of(
    bank: Bank, run: Run, centre: Path, starts: Floats
) -> tuple[tuple[Path, Floats, Section], ...]:
    """The path, frame and section of each stretch in concrete, cut where the ducts change width."""
    widest = widest_duct(run)
    outer = np.array([c.outer_diameter for c in run.route.conduits])
    parts = []
    for start, end in stretches(centre):
        whole = part_of(centre, start, end)
        changes = np.flatnonzero(np.diff(outer[whole.leg])) + 1
        cuts = [start, *(start + float(whole.stations[i]) for i in changes), end]
        for a, b in itertools.pairwise(cuts):
            part = part_of(centre, a, b)
            frame = frames_at(centre, np.array([a]), starts)[0]
            parts.append((part, frame, section(bank, widest, float(outer[part.leg[0]]))))
    return tuple(parts)


def volume_of(bank: Bank, parts: Sequence[tuple[Path, Floats, Section]]) -> float | None:
    """Concrete without the ducts, m³: section times centerline, by Pappus' theorem.

    None where the section reaches over the center of a bend: there the theorem does not hold.
    """
    if bank.cover == 0:
        return 0.0
    if any(folded(path, shape, frames(path, frame)) for path, frame, shape in parts):
        return None
    return sum(shape.area * path.length for path, _, shape in parts)


@dataclass(frozen=True, eq=False, slots=True)
class BankSolid:
    """The concrete as a mesh, m: ``volume`` m³ is that of the concrete it stands for.

    ``lacking`` is the share of it the flat faces of the mesh leave out in bends.
    """

    mesh: trimesh.Trimesh
    volume: float
    lacking: float


def bank_solid(result: BankResult, *, ducts: bool = True, step: float = STEP) -> BankSolid:
    """The watertight solid of a bank's concrete, with the ``ducts`` left open or filled.

    Bodies lie end to end where the ducts change their diameter. Raises GeometryError where the
    concrete would fold over in a bend.
    """
    import trimesh

    parts = parts_of(result.bank, result.run, result.centre, result.starts)
    meshes = [solid(p, s, start=f, ducts=ducts, step=step) for p, f, s in parts]
    areas = [s.area if ducts else s.whole for _, _, s in parts]
    volume = sum(a * p.length for a, (p, _, _) in zip(areas, parts, strict=True))
    meshed = sum(mesh_volume(p, a, step) for a, (p, _, _) in zip(areas, parts, strict=True))
    mesh = (
        meshes[0] if len(meshes) == 1 else cast("trimesh.Trimesh", trimesh.util.concatenate(meshes))
    )
    return BankSolid(mesh, volume, 1.0 - meshed / volume)
