"""The 3D picture as plain data for vtk.js in the browser: meshes, colors, labels, legends."""

from __future__ import annotations

import base64
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from route3d.geometry.vectors import Floats, norm, unit
from route3d.mechanics.pull import Pull
from route3d.units import show
from viewer.meshes import Part, scale_colours, scene_parts, sweep
from viewer.page.thinning import kept_rows
from viewer.scale import colour_scale
from viewer.scene_data import COLOUR_BY, ColourScale, Label, Scene, Tube
from viewer.theme import DARK, LIGHT, OVER_LIMIT, category_colour, colour_table, rgb

Data = dict[str, Any]

# One map for light and dark ground, so that colors need not be sent twice.
PAGE = replace(LIGHT, name="page", low=0.14, high=0.95)
# Rings of a tube and labels sent to the browser: more cannot be told apart on a screen.
_MOST_RINGS, _MOST_LABELS, _MOST_PLACES = 6000, 60, 400
_SIDES, _FEW_SIDES = 16, 8


@dataclass(frozen=True, slots=True, eq=False)
class Rings:
    """The samples of all tubes that are drawn: ``rows`` of each tube, ``sides`` of a ring."""

    rows: tuple[NDArray[np.int64], ...]
    sides: int


def choose_rings(tubes: tuple[Tube, ...]) -> Rings:
    """All samples of a usual run, a fair choice of a very long one."""
    total = sum(len(t.station) for t in tubes)
    share = min(1.0, _MOST_RINGS / total)
    rows = tuple(kept_rows(t.sidewall, max(2, int(len(t.station) * share))) for t in tubes)
    return Rings(rows, _SIDES if total <= _MOST_RINGS else _FEW_SIDES)


# --- tubes -------------------------------------------------------------------------------------


def tube_mesh(tubes: tuple[Tube, ...], rings: Rings) -> Data:
    """All tubes as one mesh with normals."""
    points, normals, faces, first = [], [], [], 0
    angle = np.arange(rings.sides) * (2 * np.pi / rings.sides)
    circle = np.column_stack((np.cos(angle), np.sin(angle)))
    for tube, rows in zip(tubes, rings.rows, strict=True):
        shell, quads = sweep(tube.points[rows], tube.tangents[rows], tube.radius * circle)
        points.append(shell)
        normals.append(unit(shell - np.repeat(tube.points[rows], rings.sides, axis=0)))
        faces.append(np.insert(quads + first, 0, 4, axis=1).ravel())
        first += len(shell)
    return {
        "mesh": {
            "points": packed(np.vstack(points).ravel(), "float32"),
            "polys": packed(np.concatenate(faces), "uint32"),
        },
        "normals": {
            "name": "Normals",
            "registration": "setNormals",
            "type": "Float32Array",
            "numberOfComponents": 3,
            "values": packed(np.vstack(normals).ravel(), "float32"),
        },
    }


def tube_colours(pull: Pull, scene: Scene, rings: Rings) -> list[Data]:
    """One array of colors for each thing a tube may be colored by."""
    found = []
    for name in COLOUR_BY:
        scale = colour_scale(pull, name, scene.units)
        scaled = replace(scene, scale=scale)
        shades = [
            scale_colours(scale, scaled.values(tube)[rows], PAGE)
            for tube, rows in zip(scene.tubes, rings.rows, strict=True)
        ]
        values = np.repeat(np.vstack(shades), rings.sides, axis=0).ravel()
        found.append(
            {
                "name": name,
                "registration": "addArray",
                "type": "Uint8Array",
                "numberOfComponents": 3,
                "values": packed(values, "uint8"),
            }
        )
    return found


def packed(values: NDArray[Any], dtype: str) -> Data:
    """An array as the browser's widgets take it."""
    data = np.ascontiguousarray(values, dtype=dtype)
    text = base64.b64encode(data.tobytes()).decode("ascii")
    return {"bvals": text, "dtype": dtype, "shape": [int(data.size)]}


# --- everything else that is drawn -------------------------------------------------------------


def solids(scene: Scene) -> list[Data]:
    """Reel, machine, boxes, concrete, grade and buildings; a color for light and for dark."""
    stubs = tuple(_stub(t) for t in scene.tubes)
    bare = replace(scene, tubes=stubs)
    pairs = zip(scene_parts(bare, LIGHT), scene_parts(bare, DARK), strict=True)
    return [_solid(light, dark) for light, dark in pairs if light.name != "tube"]


def _stub(tube: Tube) -> Tube:
    """The two ends of a tube: its size is wanted, not its surface."""
    ends = [0, -1]
    names = ("points", "tangents", "station", "tension", "sidewall", "utilisation")
    return replace(tube, **{name: getattr(tube, name)[ends] for name in names})


def _solid(light: Part, dark: Part) -> Data:
    mesh = light.mesh
    lines = light.line_width > 0
    cells = np.asarray(mesh.lines if lines else mesh.faces)
    return {
        "name": light.name,
        "mesh": {
            "points": packed(np.asarray(mesh.points).ravel(), "float32"),
            "lines" if lines else "polys": packed(cells, "uint32"),
        },
        "light": [c / 255 for c in rgb(light.colour)],
        "dark": [c / 255 for c in rgb(dark.colour)],
        "opacity": light.opacity,
        "width": light.line_width or 1.0,
        "lit": light.lit,
        "hollow": light.hollow,
    }


def solid_corners(scene: Scene) -> list[list[float]]:
    """Corners of reel, machine and boxes: the camera has to hold them too."""
    found = []
    for solid in scene.solids:
        reach = float(norm(np.array(solid.size[:2]))) / 2
        foot = np.array([[x, y, z] for x in (-1, 1) for y in (-1, 1) for z in (0, 1)])
        corners = solid.base + foot * [reach, reach, solid.size[2]]
        found += [[round(float(v), 3) for v in row] for row in corners]
    return found


def bounds(scene: Scene) -> list[float]:
    """Least and most of x, y and z of the route."""
    every = np.vstack([t.points for t in scene.tubes])
    low, high = every.min(axis=0), every.max(axis=0)
    return [float(v) for pair in zip(low, high, strict=True) for v in pair]


# --- words on the picture ----------------------------------------------------------------------


def label_data(labels: tuple[Label, ...]) -> list[Data]:
    """The labels that matter most; the browser leaves out those that have no room."""
    chosen = sorted(labels, key=lambda label: label.priority)[:_MOST_LABELS]
    return [
        {
            "lines": list(label.lines),
            "xyz": [float(v) for v in label.xyz],
            "kind": label.kind.replace(" ", "-"),
            "alarm": label.alarm,
            "bend": _bend_number(label),
        }
        for label in chosen
    ]


def _bend_number(label: Label) -> int:
    word, _, rest = label.lines[0].partition(" ")
    number = rest.split(" ")[0]
    bend = label.kind in ("bend", "worst") and word == "Bend" and number.isdecimal()
    return int(number) if bend else 0


def line(scene: Scene) -> list[list[float]]:
    """Places along the tubes, x, y, z and station, for whoever picks one; straight between them."""
    found: list[list[float]] = []
    total = sum(len(t.station) for t in scene.tubes)
    for tube in scene.tubes:
        most = max(2, int(_MOST_PLACES * len(tube.station) / total))
        rows = kept_rows(tube.sidewall, most)
        places = np.column_stack((tube.points[rows], tube.station[rows]))
        found += [[round(float(v), 3) for v in row] for row in places]
    return found


def legend(pull: Pull, units: str) -> dict[str, Data]:
    """For each thing a tube may be colored by: its title, its colors, and what they stand for."""
    return {name: _legend(colour_scale(pull, name, units), units) for name in COLOUR_BY}


def _legend(scale: ColourScale, units: str) -> Data:
    if scale.categories:
        colours = [category_colour(i) for i in range(len(scale.categories))]
        entries = zip(scale.categories, colours, strict=True)
        return {
            "title": scale.title,
            "rule": scale.rule,
            "entries": [{"name": lines[0], "colour": _hex(c)} for lines, c in entries],
        }
    table = colour_table(PAGE)[:: 256 // 16]
    return {
        "title": scale.title,
        "rule": scale.rule,
        "entries": [],
        "gradient": "linear-gradient(to right," + ",".join(_hex(c) for c in table) + ")",
        "ticks": [show(f * scale.full, scale.quantity, units) for f in (0.0, 0.5, 1.0)],
        "over": OVER_LIMIT if scale.broken else "",
    }


def _hex(colour: Any) -> str:
    return "#{:02x}{:02x}{:02x}".format(*(int(c) for c in colour))


def bend_places(pull: Pull, origin: Floats) -> list[list[float]]:
    """The middle of each bend in the scene, in the order of their numbers."""
    path = pull.path
    arcs = np.flatnonzero(path.kind == 1)
    middles = path.point((path.stations[arcs] + path.stations[arcs + 1]) / 2) - origin
    return [[round(float(v), 3) for v in row] for row in middles]
