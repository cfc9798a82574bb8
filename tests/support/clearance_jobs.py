"""Jobs with building meshes beside them, for what is measured against what."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path

import trimesh

from route3d.api import building_meshes
from route3d.modelfile.read import load
from route3d.planning.clearance.job import ClearanceResult, evaluate_clearance

HEAD = """title = "Ferry terminal: apron"
units = "SI"
[cable.phase]
diameter = 35.2
weight = 2.68
conductor = { metal = "copper", area = "185 mm2" }
sidewall_limit = 7300
bend_multiple = 12
[conduit.duct]
inner_diameter = 128.2
outer_diameter = 140
friction = 0.25
"""
ENDS = ', access = ["reel", "machine"]'


def run_text(name: str, points: Sequence[Sequence[float]], ends: Sequence[str] = ("a", "b")) -> str:
    """A run of straights with bends of 1 m; ``ends`` name its first and last point."""
    rows = []
    for i, point in enumerate(points):
        last = i == len(points) - 1
        extra = f', name = "{name} {ends[-1] if last else ends[0]}"{ENDS}'
        extra = extra if i == 0 or last else ", bend = 1"
        conduit = ', conduit = "duct"' if i == 0 else ""
        rows.append(f"  {{ at = [{', '.join(map(str, point))}]{extra}{conduit} }},")
    return "\n".join(
        ["[[run]]", f'name = "{name}"', "cables = { phase = 3 }", "route = [", *rows, "]\n"]
    )


def write_job(
    folder: Path, runs: str, site: str = "", meshes: Mapping[str, trimesh.Trimesh] | None = None
) -> Path:
    """A model file in a folder with its meshes; the path of it."""
    for name, mesh in (meshes or {}).items():
        mesh.export(folder / name)
    path = folder / "apron.toml"
    path.write_text(f"{HEAD}{runs}{site}", encoding="utf-8")
    return path


def box(extents: Sequence[float], center: Sequence[float]) -> trimesh.Trimesh:
    """A closed box."""
    return trimesh.creation.box(extents=extents).apply_translation(center)


def clearance_of(model: Path, every: float = 1.0) -> ClearanceResult:
    """The clearance of a job from its meshes and runs."""
    job = load(model)
    return evaluate_clearance(job, building_meshes(job), every)
