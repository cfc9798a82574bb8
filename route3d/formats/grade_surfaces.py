"""The grade of a job: a level, the surface through points, or one in a mesh or LandXML file."""

from __future__ import annotations

import math
from collections.abc import Iterator
from pathlib import Path
from xml.etree.ElementTree import Element

import numpy as np

from route3d.errors import InputError, Problem
from route3d.formats.building_meshes import read_mesh
from route3d.formats.exchange import bad_file, counted
from route3d.formats.landxml.plan import local
from route3d.formats.landxml.reading import linear_unit, parsed
from route3d.geometry.grade import Grade, grade_through
from route3d.geometry.vectors import Floats
from route3d.model.job import Job
from route3d.model.site import Frame, Placing
from route3d.modelfile.fields import brief, nearest
from route3d.units import FARTHEST, METERS

_WHERE = "site.grade"
_LANDXML = (".xml", ".landxml")


def read_grade(job: Job) -> Grade:
    """The ground of a job: as given, else level at z = 0.

    Raises InputError for a file without a surface, and points that make none.
    """
    given = job.site.grade
    if given.file is not None:
        name = f"{given.file.name}, {given.surface}" if given.surface else given.file.name
        triangles = _of_file(given.file, given.surface, given.placing, job.site.frame)
        return Grade(triangles=triangles, given=True, name=name)
    if not given.points:
        return Grade(given.level, given=given.given)
    try:
        name = f"through {counted(len(given.points), 'point')}"
        return grade_through(np.array(given.points), name=name)
    except ValueError as error:
        said = f"make no surface: {error}"
        raise InputError(Problem(said, f"{_WHERE}.points", "correct the points")) from None


def _of_file(path: Path, surface: str, placing: Placing, frame: Frame) -> Floats:
    """Triangles (n, 3, 3) m of a surface in a file."""
    if path.suffix.lower() in _LANDXML:
        return _of_landxml(path, surface, placing, frame)
    if surface:
        said = f"names the surface {brief(surface)}, but {path.name} holds one mesh"
        raise InputError(Problem(said, f"{_WHERE}.surface", "remove it", str(path)))
    mesh = read_mesh(path, placing, frame, where=_WHERE)
    triangles: Floats = mesh.vertices[mesh.faces]
    return triangles


# --- LandXML ------------------------------------------------------------------------------------


def _of_landxml(path: Path, surface: str, placing: Placing, frame: Frame) -> Floats:
    """The triangles of one TIN: its points are northing, easting, elevation on the grid."""
    root = parsed(path)
    unit = placing.units or linear_unit(root)
    if unit is None:
        raise bad_file(path, "does not say its unit of length", "give units in site.grade")
    element = _chosen(root, surface, path)
    name = element.get("name", "").strip() or "without a name"
    definition = next((e for e in element if local(e) == "Definition"), None)
    if definition is None:
        said = f"has the surface {name!r} without its points and faces"
        raise bad_file(path, said, "export the surface as a TIN")
    index, points = _points(definition, name, path)
    faces = np.array(list(_faces(definition, index, name, path)), dtype=np.int64).reshape(-1, 3)
    if not len(faces):
        raise bad_file(path, f"has the surface {name!r} without faces", "export it as a TIN")
    if not (np.abs(points) * METERS[unit] <= FARTHEST).all():
        raise bad_file(path, f"has a point of {name!r} outside the Earth", "check its units")
    moved = points * METERS[unit] + np.array(placing.offset) - np.array(frame.shift)
    triangles: Floats = moved[faces]
    return triangles


def _chosen(root: Element, surface: str, path: Path) -> Element:
    """The surface asked for, or the only one."""
    there = [e for e in root.iter() if local(e) == "Surface"]
    names = [e.get("name", "").strip() for e in there]
    if not there:
        raise bad_file(path, "has no surface", "export the surface as a TIN")
    if surface:
        found = [e for e, name in zip(there, names, strict=True) if name == surface]
        if not found:
            raise bad_file(path, f"has no surface {surface!r}", nearest(surface, names))
        return found[0]
    if len(there) > 1:
        listed = ", ".join(repr(name) for name in names[:20])
        raise bad_file(path, f"has {len(there)} surfaces", f"give surface in site.grade: {listed}")
    return there[0]


def _points(definition: Element, name: str, path: Path) -> tuple[dict[str, int], Floats]:
    """The points of a TIN (n, 3) as easting, northing, elevation, and their numbers by id."""
    index: dict[str, int] = {}
    rows: list[tuple[float, ...]] = []
    for element in definition.iter():
        if local(element) != "P":
            continue
        key = element.get("id") or str(len(rows) + 1)
        try:
            row = tuple(float(text) for text in (element.text or "").split())
        except ValueError:
            row = ()
        if len(row) != 3 or not all(map(math.isfinite, row)):
            said = f"has the surface {name!r}, where point {key} is {brief(element.text or '')}"
            raise bad_file(path, said, "write northing, easting and elevation")
        if key in index:
            raise bad_file(path, f"has the surface {name!r} with two points {key}", "export again")
        index[key] = len(rows)
        rows.append((row[1], row[0], row[2]))
    return index, np.array(rows).reshape(-1, 3)


def _faces(
    definition: Element, index: dict[str, int], name: str, path: Path
) -> Iterator[tuple[int, int, int]]:
    """The faces of a TIN that are seen; one of four corners is two."""
    for element in definition.iter():
        if local(element) != "F" or element.get("i") == "1":
            continue
        keys = (element.text or "").split()
        corners = [index[key] for key in keys if key in index]
        if len(corners) != len(keys) or not 3 <= len(keys) <= 4:
            said = f"has the surface {name!r} with a face {brief(element.text or '')}"
            raise bad_file(path, said, "name three of its points")
        yield corners[0], corners[1], corners[2]
        if len(corners) == 4:
            yield corners[0], corners[2], corners[3]
