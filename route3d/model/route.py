"""The routed centerline as the user gives it: vertices with bend radii, access and conduit."""

from __future__ import annotations

from dataclasses import dataclass

from route3d.model.conduit import Conduit
from route3d.model.rigging import Sheave


@dataclass(frozen=True, slots=True)
class Vertex:
    """One point of a route: ``point`` x, y, z in m; ``bend`` the centerline bend radius, m.

    ``bend`` 0 means no bend here: an end, a pull point, or a point on a straight.
    ``bend_source`` is "given", or says which standard elbow was taken.
    ``access`` holds "reel" and "machine" as far as each can stand here.
    ``box`` is the pull box: length along the pull, width, height in m. ``sheave`` guides the cable
    round a pull point that turns, where it is pulled straight through.
    """

    point: tuple[float, float, float]
    name: str = ""
    bend: float = 0.0
    bend_source: str = "given"
    access: frozenset[str] = frozenset()
    box: tuple[float, float, float] | None = None
    line: int | None = None
    sheave: Sheave | None = None

    @classmethod
    def pull_point(cls, point: tuple[float, float, float], name: str) -> Vertex:
        """A pull point with room for reel and machine."""
        return cls(point, name, access=frozenset({"reel", "machine"}))

    @property
    def is_pull_point(self) -> bool:
        """True where the conduit stops and starts, so that the run may be split here."""
        return bool(self.access) and self.bend == 0.0


@dataclass(frozen=True, slots=True)
class Route:
    """``vertices`` in order and, for each leg between two of them, its ``conduits`` entry."""

    vertices: tuple[Vertex, ...]
    conduits: tuple[Conduit, ...]

    def __post_init__(self) -> None:
        if len(self.vertices) < 2 or len(self.conduits) != len(self.vertices) - 1:
            raise ValueError("a route has at least two vertices and one conduit for each leg")

    @property
    def pull_points(self) -> tuple[int, ...]:
        """Indices of the vertices between the ends where a pull may start or stop."""
        return tuple(i for i in range(1, len(self.vertices) - 1) if self.vertices[i].is_pull_point)

    def bend_label(self, number: int, index: int) -> str:
        """A bend by its number along the route, and by the name of its vertex where it has one."""
        name = self.vertices[index].name
        return f"bend {number}" + (f" at {name}" if name else "")

    def label(self, index: int) -> str:
        """The name of a vertex, or its number where it has none."""
        return self.vertices[index].name or f"point {index + 1}"
