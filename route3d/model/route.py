"""The routed centerline as the user gives it: vertices with bend radii, access and conduit."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass

from route3d.errors import InputError, Problem
from route3d.model.conduit import Conduit
from route3d.model.rigging import Sheave
from route3d.units import amount


@dataclass(frozen=True, slots=True)
class Vertex:
    """One point of a route.

    Parameters
    ----------
    point : tuple of float
        x, y, z in m; z is up.
    name : str
        Empty where it has none.
    bend : float
        Centerline bend radius, m; 0 for an end, a pull point, or a point on a straight.
    bend_source : str
        "given", or which standard elbow was taken.
    access : frozenset of str
        "reel" and "machine", as far as each can stand here.
    box : tuple of float, optional
        Pull box: length along the pull, width, height, m.
    line : int, optional
        Line of the model file.
    sheave : Sheave, optional
        Guides the cable round a pull point that turns, where it is pulled straight through.
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
class Closing:
    """How legs miss a known end: ``error`` m is what is missing, ``distance`` its length.

    ``changes`` are the number of a leg (from 0), its length m and what is to be added to it, m: the
    least changes, by squares, that close the route. ``left`` m is what no change of lengths closes.
    """

    error: tuple[float, float, float]
    distance: float
    changes: tuple[tuple[int, float, float], ...]
    left: float


@dataclass(frozen=True, slots=True)
class GivenLegs:
    """What the file has in place of points.

    Parameters
    ----------
    texts : tuple of str
        The legs, such as "right 90 at 36 in".
    leg_of : tuple of int
        The number of the leg (from 0) that gives each vertex.
    declination : float
        Degrees added to every heading, east positive.
    closing : Closing, optional
        How they miss a known end.
    straights : tuple of int
        The number of the leg that gives each straight.
    """

    texts: tuple[str, ...]
    leg_of: tuple[int, ...]
    declination: float = 0.0
    closing: Closing | None = None
    straights: tuple[int, ...] = ()


def _radius(
    given: float | str | None, conduit: Conduit, index: int, elbows: bool
) -> tuple[float, str]:
    """Bend radius and where it is from; with ``elbows`` None stands for the standard elbow."""
    if given is not None:
        return amount(given, "radius", f"bend[{index}]"), "given"
    if not elbows:
        return 0.0, "given"
    if conduit.elbow_radius is None:
        said = f"no standard elbow is known for {conduit.label}"
        raise InputError(Problem(said, where="bend", fix='give the radius, such as bend="48 in"'))
    return conduit.elbow_radius, conduit.elbow_source


@dataclass(frozen=True, slots=True)
class Route:
    """The routed centerline.

    Parameters
    ----------
    vertices : tuple of Vertex, length N
        In order.
    conduits : tuple of Conduit, length N - 1
        Of each leg between two vertices.
    legs : GivenLegs, optional
        Of a route that the file gives by legs.
    """

    vertices: tuple[Vertex, ...]
    conduits: tuple[Conduit, ...]
    legs: GivenLegs | None = None

    def __post_init__(self) -> None:
        if len(self.vertices) < 2 or len(self.conduits) != len(self.vertices) - 1:
            raise ValueError(
                "a route has at least two vertices and one conduit for each leg between them, "
                f"not {len(self.vertices)} vertices and {len(self.conduits)} conduits"
            )

    @classmethod
    def of(
        cls,
        points: Sequence[Sequence[float | str]],
        *,
        conduit: Conduit | Sequence[Conduit],
        bend: float | str | Sequence[float | str | None] | None = None,
        names: Mapping[int, str] | Sequence[str] = (),
        pull_points: Collection[int] = (),
        unit: str = "m",
    ) -> Route:
        """A route through points, with room for reel and machine at both ends.

        Parameters
        ----------
        points : sequence of (x, y, z), length N
            Numbers in `unit`, or texts with their own unit such as ``"5'-3"``; z is up.
        conduit : Conduit, or sequence of N - 1
            The conduit of all legs, or of each.
        bend : float or str, or sequence of N, optional
            Centerline bend radius at every point between the ends that turns, m or such as
            ``"48 in"``; or one for each point, None for no bend. Default: the standard elbow of the
            conduit.
        names : sequence of N str, or dict of int to str, optional
            Names of the points. Default: the ends are called "A" and "B".
        pull_points : collection of int, optional
            Numbers of the points, from 0, at which the conduit stops and starts.
        unit : str
            Unit of bare numbers in `points`, such as ``"ft"``.

        Returns
        -------
        Route

        Raises
        ------
        InputError
            For a text that is no length, and for a turn without a radius.
        ValueError
            For numbers of points, conduits, radii or names that do not match.
        """
        last = len(points) - 1
        conduits = (conduit,) * last if isinstance(conduit, Conduit) else tuple(conduit)
        called = dict(names) if isinstance(names, Mapping) else dict(enumerate(names))
        called = {0: "A", last: "B"} | {i: name for i, name in called.items() if name}
        elbows = bend is None
        radii: list[float | str | None]
        if bend is None or isinstance(bend, float | int | str):
            radii = [bend] * (last + 1)
        else:
            radii = list(bend)
        sides = sorted({len(p) for p in points})
        if (len(radii), len(conduits), sides) != (last + 1, last, [3]):
            raise ValueError(
                f"{last + 1} points need 3 coordinates each, {last} conduits and {last + 1} radii, "
                f"not {sides} coordinates, {len(conduits)} conduits and {len(radii)} radii"
            )
        vertices = []
        for i, point in enumerate(points):
            x, y, z = (
                amount(c if isinstance(c, str) else f"{c!r} {unit}", "length", f"points[{i}]")
                for c in point
            )
            stop = i in (0, last) or i in pull_points
            radius, source = (0.0, "given") if stop else _radius(radii[i], conduits[i], i, elbows)
            access = frozenset({"reel", "machine"}) if stop else frozenset[str]()
            vertices.append(Vertex((x, y, z), called.get(i, ""), radius, source, access))
        return cls(tuple(vertices), conduits)

    @property
    def pull_points(self) -> tuple[int, ...]:
        """Indices of the vertices between the ends where a pull may start or stop."""
        return tuple(i for i in range(1, len(self.vertices) - 1) if self.vertices[i].is_pull_point)

    def bend_label(self, number: int, index: int) -> str:
        """A bend by its number along the route, and by the name of its vertex where it has one.

        Parameters
        ----------
        number : int
            From 1 along the route.
        index : int
            Number of its vertex.

        Returns
        -------
        str
            Such as ``bend 2 at sweep``.
        """
        name = self.vertices[index].name
        return f"bend {number}" + (f" at {name}" if name else "")

    def label(self, index: int) -> str:
        """What a vertex is called.

        Parameters
        ----------
        index : int
            Its number.

        Returns
        -------
        str
            Its name, or such as ``point 3`` where it has none.
        """
        return self.vertices[index].name or f"point {index + 1}"
