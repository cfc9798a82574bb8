"""The site of a job: its frame on the grid, the grade, and what stands around the route."""

from __future__ import annotations

from dataclasses import dataclass, field
from pathlib import Path

from route3d.model.room import Room

Point = tuple[float, float, float]


@dataclass(frozen=True, slots=True)
class Frame:
    """Where the model of a job lies on the grid of its site.

    Parameters
    ----------
    origin : tuple of float, optional
        Grid coordinates x, y, z (m) of the point (0, 0, 0) of the model; None where the job does
        not say. Importers subtract it and exporters add it.
    crs : str
        Name of the grid, such as ``EPSG:32633``; empty where not known.
    north : float
        Direction of north on the plan, rad clockwise from the y axis.
    """

    origin: Point | None = None
    crs: str = ""
    north: float = 0.0

    @property
    def shift(self) -> Point:
        """What exporters add to coordinates of the model, m; nothing where no origin is given."""
        return self.origin or (0.0, 0.0, 0.0)


GRID = Frame()
"""The frame of a job whose coordinates are those of its grid."""


@dataclass(frozen=True, slots=True)
class Placing:
    """How the coordinates of a file become those of the model.

    They are multiplied by its ``units`` ("" for what the file itself says), turned so that ``up``
    ("" for what its format says, else "y" or "z") is z, and moved by ``offset`` m. ``on_grid`` is
    true where they are grid coordinates, from which the origin of the frame is subtracted too.
    """

    units: str = ""
    offset: Point = (0.0, 0.0, 0.0)
    up: str = ""
    on_grid: bool = False


@dataclass(frozen=True, slots=True)
class GivenGrade:
    """The ground surface as the job gives it: a ``level`` (z, m), ``points`` (m) or a ``file``.

    ``surface`` names one of several surfaces of a LandXML file. ``given`` is false where the job
    says nothing, and grade is assumed at z = 0.
    """

    level: float = 0.0
    points: tuple[Point, ...] = ()
    file: Path | None = None
    surface: str = ""
    placing: Placing = field(default_factory=Placing)
    given: bool = False


@dataclass(frozen=True, slots=True)
class Surround:
    """What a building mesh is, such as "hot pipe", and the ``clearance`` (m) it asks for.

    ``solid`` says what is within its closed surfaces: True material, False air, None not said.
    """

    kind: str = ""
    clearance: float = 0.0
    solid: bool | None = None


CONDUIT, CONCRETE, BOX, MACHINE, VEHICLE, REEL = OWN_KINDS = (
    "conduit",
    "concrete",
    "box",
    "machine",
    "vehicle",
    "reel",
)
BUILDING = "building"
"""The class of a mesh that names none."""


@dataclass(frozen=True, slots=True)
class AskedClearance:
    """The clearance ``least`` m between two kinds of things: ``OWN_KINDS``, classes of meshes.

    Where less is kept the finding is of the ``severity`` "stop" or "caution".
    """

    between: tuple[str, str]
    least: float
    severity: str = "stop"


@dataclass(frozen=True, slots=True)
class Level:
    """A storey, for reports: from its ``floor`` (z, m) up to that of the next."""

    name: str
    floor: float


@dataclass(frozen=True, slots=True)
class Site:
    """Building meshes around the route, as absolute paths, and rooms on the plan grid.

    ``surrounds`` says of each mesh what it is and ``placings`` how its coordinates are meant.
    ``between_runs`` m is the clearance asked for between runs, ``support_room`` m what the supports
    of a conduit need around it; within ``free_ends`` m of an end or
    a pull point a conduit may touch what it ends at. ``clearances`` are asked for between kinds of
    things, and ``levels`` are the storeys of reports.
    """

    context: tuple[Path, ...] = ()
    rooms: tuple[Room, ...] = ()
    surrounds: tuple[Surround, ...] = ()
    between_runs: float = 0.0
    support_room: float = 0.0
    free_ends: float = 1.0
    placings: tuple[Placing, ...] = ()
    frame: Frame = field(default_factory=Frame)
    grade: GivenGrade = field(default_factory=GivenGrade)
    clearances: tuple[AskedClearance, ...] = ()
    levels: tuple[Level, ...] = ()

    @property
    def floors(self) -> dict[str, float]:
        """The floor (z, m) of each room by its name."""
        return {room.name: room.floor for room in self.rooms}
