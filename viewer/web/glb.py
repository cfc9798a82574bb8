"""A run as one GLB: route tubes with their numbers at every point, and the solids about them.

Tubes carry the numbers of both directions, so that a page can color by any of them and change
the feed end without asking for more. A tube is ``rings`` rings of ``sides`` points each, in route
order: its centerline is the middle of every ring, and no normals need to be stored. Colors are
not in the file; each part names its layer and its color, light and dark, in ``extras``.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, fields, replace
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from route3d.geometry.vectors import Floats, frozen
from viewer.meshes import Part, scene_parts, sweep
from viewer.scene.context import thinned
from viewer.scene.records import Scene, Tube
from viewer.theme import DARK, LIGHT

if TYPE_CHECKING:
    import trimesh

MOST = 3e38
"""The largest number (SI) that a file holds, about that of 32 bits; larger ones are cut to it."""

# A tablet turns this many points without a hitch, and they pack into well under 2 MB.
_MOST_POINTS = 80_000
_MOST_SIDES, _LEAST_SIDES = 20, 6
# Buildings, all of them together: about half a MB.
_MOST_FACES = 40_000
# Tubes are stored to a 256th of their radius and loads to 17 bits: both far below what is seen or
# printed, and what is left packs twice as well. Stations keep all their bits.
_FINE = 256
_BITS = 17
_VALUES = ("tension", "sidewall", "utilization")
_LAYERS = {
    **dict.fromkeys(("bank", "bank edges"), "duct bank"),
    **dict.fromkeys(("box", "box edges"), "pull boxes"),
    **dict.fromkeys(("grade", "grid"), "grade"),
    **dict.fromkeys(("context", "context edges", "room edges"), "buildings"),
    "arrow": "arrows",
    **dict.fromkeys(("reel", "reel coil", "reel axle", "cable"), "reel and machine"),
    **dict.fromkeys(("machine", "machine skid", "machine post"), "reel and machine"),
    **dict.fromkeys(("capstan", "capstan cheek", "rope", "sheave"), "reel and machine"),
}


@dataclass(frozen=True, slots=True)
class BothWays:
    """The scenes of one run fed from either end (with the route, against it), of equal geometry."""

    first: Scene
    second: Scene

    def __iter__(self) -> Any:
        return iter((self.first, self.second))


def run_glb(scenes: BothWays, grades: dict[str, Scene] | None = None, *, runs: int = 1) -> bytes:
    """The GLB of a run, the same bytes for the same scenes.

    Attributes of a tube's points, SI: ``_STATION``, and for each direction ``n``, 0 or 1,
    ``_TENSION_n``, ``_SIDEWALL_n``, ``_UTILIZATION_n``. ``grades`` are scenes whose grade planes
    belong to one system of units, by its name. Raises ValueError where the scenes differ in shape.
    """
    import trimesh

    bare = (replace(scene, tubes=_thinned(scene.tubes)) for scene in scenes)
    thin = BothWays(*(_bare_buildings(scene, runs) for scene in bare))
    out = trimesh.Scene()
    _add_tubes(out, thin)
    _add_parts(out, thin, grades or {thin.first.units: thin.first})
    exported: Any = out.export(file_type="glb", include_normals=False)  # type: ignore[no-untyped-call]
    return bytes(exported)


def color_values(directions: Sequence[tuple[Tube, ...]]) -> dict[str, list[list[float]]]:
    """The numbers of ``run_glb`` at every ring of the tubes, by name and direction, SI."""
    thin = [_thinned(tubes) for tubes in directions]
    return {
        name: [[v for t in tubes for v in _rounded(getattr(t, name)).tolist()] for tubes in thin]
        for name in _VALUES
    }


def _add(out: trimesh.Scene, geometry: Any) -> None:
    name = f"{len(out.geometry):03d}"
    out.add_geometry(geometry, geom_name=name, node_name=name)


# --- tubes -------------------------------------------------------------------------------------


def sides_for(rings: int) -> int:
    """Points around a tube so that ``rings`` rings keep to what a tablet can turn."""
    return int(np.clip(_MOST_POINTS // max(rings, 1), _LEAST_SIDES, _MOST_SIDES))


def _thinned(tubes: tuple[Tube, ...]) -> tuple[Tube, ...]:
    """The tubes with no more rings than can be shown with the fewest sides."""
    rings = sum(len(t.points) for t in tubes)
    step = math.ceil(rings * _LEAST_SIDES / _MOST_POINTS)
    return tubes if step <= 1 else tuple(_every(t, step) for t in tubes)


def _bare_buildings(scene: Scene, runs: int) -> Scene:
    """The scene with buildings light enough for a file."""
    most = _MOST_FACES // (runs * max(len(scene.context), 1))
    found = []
    for mesh in scene.context:
        vertices, faces = thinned(mesh.vertices, mesh.faces, most)
        found.append(replace(mesh, vertices=frozen(vertices), faces=faces))
    return replace(scene, context=tuple(found))


def _every(tube: Tube, step: int) -> Tube:
    """Every ``step``-th sample; the ends, and both sides of every joint, are kept."""
    count = len(tube.station)
    joint = np.diff(tube.station) == 0
    keep = np.arange(count) % step == 0
    keep[[0, -1]] = True
    keep[:-1] |= joint
    keep[1:] |= joint
    return _kept(tube, np.flatnonzero(keep))


def _kept(tube: Tube, rows: NDArray[np.int64]) -> Tube:
    return replace(
        tube,
        points=frozen(tube.points[rows]),
        tangents=frozen(tube.tangents[rows]),
        station=frozen(tube.station[rows]),
        tension=frozen(tube.tension[rows]),
        sidewall=frozen(tube.sidewall[rows]),
        utilization=frozen(tube.utilization[rows]),
    )


def _add_tubes(out: trimesh.Scene, scenes: BothWays) -> None:
    import trimesh

    sides = sides_for(sum(len(t.points) for t in scenes.first.tubes))
    for one, other in zip(scenes.first.tubes, scenes.second.tubes, strict=True):
        if not np.array_equal(one.station, other.station):
            raise ValueError("the two directions do not share their stations")
        points, quads = _shell(one, sides)
        faces = np.vstack((quads[:, [0, 1, 2]], quads[:, [0, 2, 3]]))
        values: dict[str, NDArray[np.float32]] = {"_STATION": one.station.astype(np.float32)}
        for n, tube in enumerate((one, other)):
            for name in _VALUES:
                values[f"_{name.upper()}_{n}"] = _rounded(getattr(tube, name))
        mesh = trimesh.Trimesh(
            points,
            faces,
            process=False,
            vertex_attributes={k: np.repeat(v, sides) for k, v in values.items()},
            metadata={
                "layer": "conduit",
                "sides": sides,
                "rings": len(one.points),
                "radius": one.radius,
                "conduit": one.conduit,
            },
        )
        _add(out, mesh)


def _shell(tube: Tube, sides: int) -> tuple[Floats, NDArray[np.int64]]:
    angle = np.arange(sides) * (2 * np.pi / sides)
    outline = tube.radius * np.column_stack((np.cos(angle), np.sin(angle)))
    points, quads = sweep(tube.points, tube.tangents, outline)
    grid = 2.0 ** math.floor(math.log2(tube.radius / _FINE))
    return np.rint(points / grid) * grid, quads


def _rounded(values: Floats) -> NDArray[np.float32]:
    """Numbers as float32 with only the leading bits set; absurd ones cut to ``MOST``."""
    part, power = np.frexp(np.clip(values, -MOST, MOST))
    return np.ldexp(np.rint(part * 2.0**_BITS) / 2.0**_BITS, power).astype(np.float32)


# --- everything else ---------------------------------------------------------------------------


def _add_parts(out: trimesh.Scene, scenes: BothWays, grades: dict[str, Scene]) -> None:
    """Solids of both directions; what is the same in both once, grade planes once per system."""
    first, second = (_parts(replace(s, grade=None)) for s in scenes)
    left = Counter(_likeness(part) for part in second)
    for part in first:
        shared = left[_likeness(part)] > 0
        left[_likeness(part)] -= shared
        _add_part(out, part, {} if shared else {"feed": 0})
    for part in second:
        if left[_likeness(part)] > 0:
            left[_likeness(part)] -= 1
            _add_part(out, part, {"feed": 1})
    for units, scene in grades.items():
        bare = replace(scene, solids=(), arrows=(), encasements=(), context=(), rooms=())
        for part in _parts(bare):
            _add_part(out, part, {"units": units})


# Colors by their names: a part of it is looked up in the light and in the dark theme.
_COLORS: dict[str, Any] = {
    f.name: f.name for f in fields(LIGHT) if isinstance(getattr(LIGHT, f.name), str)
}
_NAMES = replace(LIGHT, **_COLORS)


def _parts(scene: Scene) -> list[Part]:
    """Each part but the tubes."""
    # two samples of a tube: its radius is all that the other parts ask for
    stub = replace(scene, tubes=tuple(_kept(t, np.array([0, -1])) for t in scene.tubes))
    return [part for part in scene_parts(stub, _NAMES) if part.name != "tube"]


def _likeness(part: Part) -> tuple[str, bytes]:
    """Parts of one likeness look the same."""
    return part.name, np.asarray(part.mesh.points).tobytes()


def _add_part(out: trimesh.Scene, part: Part, more: dict[str, Any]) -> None:
    import trimesh
    from trimesh.path.entities import Line

    looks = {
        "layer": _LAYERS.get(part.name, part.name),
        "part": part.name,
        "light": getattr(LIGHT, part.color),
        "dark": getattr(DARK, part.color),
        "opacity": part.opacity,
        "smooth": part.smooth,
        "lit": part.lit,
        "hollow": part.hollow,
        **more,
    }
    points = np.asarray(part.mesh.points, dtype=np.float64)
    if part.line_width:
        pieces = np.asarray(part.mesh.lines).reshape(-1, 3)[:, 1:]
        entities = [Line(piece) for piece in _chained(pieces)]  # type: ignore[no-untyped-call]
        if entities:
            _add(out, trimesh.path.Path3D(entities, points, process=False, metadata=looks))
        return
    faces = np.asarray(part.mesh.triangulate().faces).reshape(-1, 4)[:, 1:]
    _add(out, trimesh.Trimesh(points, faces, process=False, metadata=looks))


def _chained(pieces: NDArray[np.int64]) -> list[list[int]]:
    """Line pieces joined end to end where one follows the other."""
    chains: list[list[int]] = []
    for start, end in pieces.tolist():
        if chains and chains[-1][-1] == start:
            chains[-1].append(end)
        else:
            chains.append([start, end])
    return chains
