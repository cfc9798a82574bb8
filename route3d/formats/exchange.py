"""Routes on their way in and out: what every file format reads into and writes from."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from itertools import pairwise
from pathlib import Path as FilePath
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import ArrayLike

from route3d.errors import InputError, Problem
from route3d.geometry.fillet import COINCIDENT, fillet
from route3d.geometry.path import Path
from route3d.geometry.vectors import Floats, frozen, norm
from route3d.units import FARTHEST, METERS

if TYPE_CHECKING:
    from route3d.model.job import Job
    from route3d.model.run import Run

# Larger files and longer routes are not somebody's conduit: refused before they fill the memory.
LARGEST_FILE = 64_000_000
MOST_POINTS = 1_000_000
# Chains of lines are joined where their ends are this close, m.
JOIN_TOLERANCE = 1e-3
# A faceted bend is taken for an arc where the arc stays this close to its points, m.
ARC_TOLERANCE = 5e-3

# Inside length along the pull, width and height of a pull box, m.
Box = tuple[float, float, float]


@dataclass(frozen=True, eq=False, slots=True)
class ExchangeRoute:
    """A route as files know it: ``points`` (n, 3) m and ``radii`` (n,) m, 0 where nothing bends.

    A radius of 0 at a point that turns is a sharp corner: a pull point, or a bend whose radius the
    file did not give. ``names`` (n,) are the names of the points, "" where they have none, and
    ``access`` (n,) what can stand there ("reel", "machine"). ``conduit`` is that of the first leg,
    "" where not known, as is its ``outer_diameter`` (m) None; ``changes`` (n,) name the conduit
    that starts at a point, "" where that before goes on. ``boxes`` (n,) are the pull boxes: length
    along the pull, width and height in m, None where there is none. ``diameters`` (n - 1,) are the
    outer diameters (m) of the legs, none where all have that of the first. ``notes`` are remarks of
    the file on one line each, such as ``owner: port``.
    """

    name: str
    points: Floats
    radii: Floats
    names: tuple[str, ...] = ()
    conduit: str = ""
    outer_diameter: float | None = None
    access: tuple[frozenset[str], ...] = ()
    changes: tuple[str, ...] = ()
    boxes: tuple[Box | None, ...] = ()
    diameters: tuple[float | None, ...] = ()
    notes: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        points, radii = frozen(self.points), frozen(self.radii)
        count = len(points)
        if points.ndim != 2 or points.shape[1] != 3 or count < 2 or radii.shape != (count,):
            shapes = f"{points.shape} and {radii.shape}"
            raise ValueError(f"points must be (n, 3) with n >= 2, and radii (n,), not {shapes}")
        object.__setattr__(self, "points", points)
        object.__setattr__(self, "radii", radii)
        object.__setattr__(self, "names", tuple(self.names) or ("",) * count)
        object.__setattr__(self, "access", tuple(self.access) or (frozenset(),) * count)
        object.__setattr__(self, "changes", tuple(self.changes) or ("",) * count)
        object.__setattr__(self, "boxes", tuple(self.boxes) or (None,) * count)
        beside = (self.names, self.access, self.changes, self.boxes)
        if any(len(each) != count for each in beside) or len(self.leg_diameters) != count - 1:
            counts = [len(each) for each in beside]
            raise ValueError(
                f"lists that go with {count} points must have {count} entries or none, not {counts}"
            )

    @property
    def told(self) -> tuple[int, ...]:
        """Indices of the points of which there is more to tell than where they are; both ends."""
        last = len(self.points) - 1
        beside = zip(self.names, self.access, self.changes, self.boxes, strict=True)
        return tuple(i for i, said in enumerate(beside) if i in (0, last) or any(said))

    @property
    def leg_diameters(self) -> tuple[float | None, ...]:
        """The outer diameter of each leg (n - 1,), m."""
        return self.diameters or (self.outer_diameter,) * (len(self.points) - 1)

    @property
    def conduits(self) -> tuple[str, ...]:
        """The conduit of each leg (n - 1,)."""
        held = [self.conduit]
        for name in self.changes[1:-1]:
            held.append(name or held[-1])
        return tuple(held)

    def path(self) -> Path:
        """The centerline; GeometryError where the points and radii make none."""
        corners = np.flatnonzero(self.radii == 0).tolist()
        return fillet(self.points, self.radii, names=self.names, corners=set(corners))


# What can be wrong with an element: nothing was read of it; its run goes on in parts; a corner has
# no radius; something of it was taken for granted.
ELEMENT_STATES = ("missing", "broken", "sharp", "guessed")


@dataclass(frozen=True, slots=True)
class Element:
    """One element of a file of which a reader must be told.

    ``handle`` identifies it in the file (GlobalId, DXF handle, row), ``kind`` is its class or
    entity, ``at`` a place of it on the coordinates of the model, m. ``state`` is one of
    ``ELEMENT_STATES`` and ``said`` the reason; ``run`` the route it belongs to, "" where to none.
    """

    handle: str
    kind: str
    state: str
    said: str
    name: str = ""
    run: str = ""
    at: tuple[float, float, float] | None = None


@dataclass(frozen=True, slots=True)
class ImportedRoutes:
    """The ``routes`` of a file and, in sentences, what was ``used``, ``ignored`` and ``guessed``.

    Nothing of a file is dropped without a sentence (with its count) in ``ignored``; ``elements``
    tells it element by element. ``meters`` are those in its unit of length, None where it has none,
    as degrees. ``origin`` m was subtracted from all its coordinates, and ``moved`` says so, ""
    where nothing was. ``named`` says whether the file names its routes; ``crs`` is its grid.
    """

    routes: tuple[ExchangeRoute, ...]
    used: tuple[str, ...] = ()
    ignored: tuple[str, ...] = ()
    guessed: tuple[str, ...] = ()
    meters: float | None = None
    moved: str = ""
    named: bool = True
    origin: tuple[float, float, float] = (0.0, 0.0, 0.0)
    crs: str = ""
    elements: tuple[Element, ...] = ()


@dataclass(frozen=True, slots=True)
class ReadOptions:
    """How to read a file.

    ``units`` is a key of ``METERS``, or None for what the file itself says. ``tolerance`` (m) joins
    chains; ``layers`` are those wanted, none for all; ``columns`` maps x, y, z, radius, name, run
    (and access) to the headers of a table; ``origin`` is subtracted, in the units of the file, and
    ``shift`` (m), the origin of the job, which lies on the grid ``crs``. Far grids are brought near
    but where ``near`` is false. ``recognize`` makes arcs of faceted bends where they fit within
    ``arc_tolerance`` (m). ``all_layers`` reads layers that are off or frozen, and entities that are
    invisible. ``classes`` are the entities or predefined types wanted of a building model, none for
    all.
    """

    units: str | None = None
    tolerance: float = JOIN_TOLERANCE
    layers: tuple[str, ...] = ()
    columns: Mapping[str, str] = field(default_factory=dict)
    origin: tuple[float, float, float] = (0.0, 0.0, 0.0)
    shift: tuple[float, float, float] = (0.0, 0.0, 0.0)
    crs: str = ""
    near: bool = True
    recognize: bool = True
    arc_tolerance: float = ARC_TOLERANCE
    all_layers: bool = False
    classes: tuple[str, ...] = ()

    def local(self, raw: Floats, meters: float) -> Floats:
        """Coordinates (..., 3) of the file, of so many ``meters`` each, as those of the job, m."""
        moved: Floats = (raw - np.array(self.origin)) * meters - np.array(self.shift)
        return moved


def bad_file(
    path: FilePath | str, message: str, fix: str = "", line: int | None = None
) -> InputError:
    """The InputError of a file that cannot be read as a route."""
    return InputError(Problem(message, fix=fix, file=str(path), line=line))


def meters_per_unit(options: ReadOptions, own: str | None, path: FilePath) -> float:
    """Meters in a unit of the file: that asked for, else its ``own`` (a key of ``METERS``).

    Raises InputError where neither is known: a guess would scale the whole route.
    """
    unit = options.units or own
    if unit is None:
        raise bad_file(
            path, "does not say its unit of length", "use --units m, ft, us-ft, mm or in"
        )
    return METERS[unit]


def unit_name(meters: float | None) -> str:
    """The name of the unit so long, of those in ``METERS``; "" for any other.

    Files write the US survey foot with 7 digits or more, 0.3048006; the two feet are 2e-6 apart.
    """
    near = (n for n, m in METERS.items() if math.isclose(m, meters or 0.0, rel_tol=1e-7))
    return next(near, "")


def placed(points: ArrayLike, meters: float, options: ReadOptions, path: FilePath) -> Floats:
    """Coordinates of the file, (n, 3), as m from the origin asked for.

    Raises InputError for coordinates that are not finite or on no grid of the Earth.
    """
    raw = np.asarray(points, dtype=np.float64).reshape(-1, 3)
    inside = (np.abs(raw) * meters <= FARTHEST).all(axis=1)  # False for what is no number
    if not inside.all():
        at = int(np.flatnonzero(~inside)[0])
        said = ", ".join(f"{c:g}" for c in raw[at])
        raise bad_file(path, f"has a point at {said}", "use finite coordinates")
    return options.local(raw, meters)


def without_doubles(route_points: Floats) -> tuple[Floats, int]:
    """Points less those that only repeat the one before (nearer than 1e-6 m), and their number."""
    apart = norm(np.diff(route_points, axis=0)) >= COINCIDENT
    keep = np.concatenate(([True], apart))
    return route_points[keep], int((~keep).sum())


def unique_names(names: Iterable[str]) -> tuple[str, ...]:
    """Names for runs: none empty, no two alike; what is added is a number."""
    taken: set[str] = set()
    result = []
    for given in names:
        base = " ".join(given.split()) or "route"
        name, number = base, 1
        while name in taken:
            number += 1
            name = f"{base} {number}"
        taken.add(name)
        result.append(name)
    return tuple(result)


def routes_of(job: Job) -> tuple[ExchangeRoute, ...]:
    """The routes of all runs of a job."""
    return tuple(route_of(run) for run in job.runs)


def route_of(run: Run) -> ExchangeRoute:
    """The route of one run."""
    vertices = run.route.vertices
    sizes = (c.outer_diameter for c in run.route.conduits)
    diameters = tuple(size if math.isfinite(size) else None for size in sizes)
    names = [c.name for c in run.route.conduits]
    changes = [now if now != before else "" for before, now in pairwise(names)]
    return ExchangeRoute(
        run.name,
        np.array([v.point for v in vertices]),
        np.array([v.bend for v in vertices]),
        tuple(v.name for v in vertices),
        names[0],
        diameters[0],
        tuple(v.access for v in vertices),
        ("", *changes, ""),
        tuple(v.box for v in vertices),
        diameters,
    )


def tidy(value: float) -> str:
    """A number to 14 digits: a conversion of units may spoil the last two (48 in, 420 ft)."""
    return f"{value + 0.0:.14g}"


def counted(number: int, thing: str, things: str = "") -> str:
    """``1 line``, ``2,000 lines``: a count for the report of a reading."""
    return f"{number:,} {thing if number == 1 else things or thing + 's'}"


def said_together(sentences: Iterable[str]) -> tuple[str, ...]:
    """Sentences of runs, ``NAME: what``, one for each ``what``: names first, or their number.

    >>> said_together(["F1: read", "F2: read", "F1: bent"])
    ('F1, F2: read', 'F1: bent')
    """
    named: dict[str, list[str]] = {}
    for sentence in sentences:
        name, colon, what = sentence.partition(": ")
        named.setdefault(what if colon else sentence, []).append(name if colon else "")
    result = []
    for what, names in named.items():
        names = list(dict.fromkeys(name for name in names if name))
        if len(names) > _MOST_NAMES:
            left = len(names) - 2
            names = [*names[:2], f"{left:,} more runs"]
        result.append(f"{', '.join(names)}: {what}" if names else what)
    return tuple(result)


# Longer lists of runs are counted.
_MOST_NAMES = 4


def refuse_empty(routes: Sequence[object], path: FilePath, looked_for: str) -> None:
    """InputError where a file holds no route at all."""
    if not routes:
        raise bad_file(path, f"has no {looked_for}", "check that this is the right file")
