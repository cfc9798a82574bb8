"""The errors of route3d.

::

    Route3dError
    ├── InputError          the user can fix it: one or more Problems, exit code 2
    │   └── GeometryError   points and radii that make no path
    ├── UnitError           text that is not a quantity of the wanted kind
    └── RendererError       no renderer on this machine; says how to get one

Misuse by a programmer (wrong array shape, unknown keyword) stays ``ValueError`` or ``TypeError``.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Problem:
    """One thing wrong with what the user gave.

    ``message`` says what is wrong, with the bad value; ``fix`` what to do about it.
    ``where`` is the key path in the model file, such as ``cable.phase.diameter``. In a workbook
    ``cell`` is the place, such as ``sheet Runs, cell D7``, instead of a line.
    """

    message: str
    where: str = ""
    fix: str = ""
    file: str = ""
    line: int | None = None
    column: int | None = None
    cell: str = ""

    def __str__(self) -> str:
        place = ":".join(str(p) for p in (self.file, self.line) if p not in ("", None))
        place = ", ".join(p for p in (place, self.cell) if p)
        head = ": ".join(p for p in (place, self.where) if p)
        body = self.message if not self.fix else f"{self.message}; {self.fix}"
        return f"{head}: {body}" if head else body


class Route3dError(Exception):
    """Base of every error route3d raises on purpose."""


class UnitError(Route3dError):
    """Text that cannot be read as a quantity of the wanted kind."""


class InputError(Route3dError):
    """Input the user can fix; carries every problem found, not just the first."""

    def __init__(self, problems: Iterable[Problem] | Problem | str) -> None:
        if isinstance(problems, str):
            problems = Problem(problems)
        if isinstance(problems, Problem):
            problems = (problems,)
        self.problems = tuple(problems)
        super().__init__("\n".join(str(p) for p in self.problems))


class GeometryError(InputError):
    """Points and radii that make no path of straights and tangent arcs.

    ``vertices`` are the indices of the vertices at fault; ``largest_radius`` (m) is the largest
    bend radius that would fit there, where one does.
    """

    def __init__(
        self,
        message: str,
        *,
        vertices: tuple[int, ...] = (),
        largest_radius: float | None = None,
        fix: str = "",
    ) -> None:
        self.vertices = vertices
        self.largest_radius = largest_radius
        super().__init__(Problem(message, fix=fix))


class RendererError(Route3dError):
    """No working off-screen renderer on this machine; the message says how to get one."""
