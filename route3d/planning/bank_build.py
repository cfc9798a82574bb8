"""A duct bank as built: pieces of every duct, sweeps to order, spacers, and which duct serves.

Every duct has its own radii: the sweeps of one bend are concentric, so that the spacing holds all
through it.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from route3d.geometry.duct_pieces import (
    DuctPiece,
    boxes_in_line,
    duct_pieces,
    spacer_stations,
    within_boxes,
)
from route3d.geometry.fillet import pull_stations
from route3d.geometry.rmf_frames import frames
from route3d.model.conduit import Conduit
from route3d.planning.bank import BankResult, DuctResult

# Sweeps whose radii differ by less, m, and whose angles, rad, are one kind to order: less than a
# tenth of an inch and a tenth of a degree is not bent apart (own judgment).
_SAME_RADIUS, _SAME_ANGLE = 0.00254, math.radians(0.1)


@dataclass(frozen=True, slots=True)
class BuiltPiece:
    """A piece of the duct in ``row`` and ``column``, and the conduit it is of.

    ``at`` names the bend, "" of a straight. ``boxed`` m of the piece lie inside of pull boxes.
    """

    row: int
    column: int
    piece: DuctPiece
    conduit: Conduit
    at: str
    boxed: float = 0.0

    @property
    def duct(self) -> str:
        """Row and column, such as ``1-2``."""
        return f"{self.row}-{self.column}"

    @property
    def is_bend(self) -> bool:
        """True for a bend."""
        return self.piece.bend > 0


@dataclass(frozen=True, slots=True)
class OrderLine:
    """So many sweeps of one conduit, ``radius`` m and ``angle`` rad, for bends of these numbers."""

    conduit: str
    radius: float
    angle: float
    count: int
    bends: tuple[int, ...]


@dataclass(frozen=True, slots=True)
class StraightTotal:
    """The straight conduit of one kind in all ducts, outside of pull boxes, m."""

    conduit: str
    length: float
    pieces: int


@dataclass(frozen=True, slots=True)
class DuctUse:
    """Whether one duct serves for a run.

    ``why`` are the rules it breaks, worst first; ``assigned`` is true where the model file puts
    the run in this duct, ``taken`` the name of another run there, "" where it has none.
    """

    run: str
    duct: DuctResult
    assigned: bool
    taken: str

    @property
    def usable(self) -> bool:
        """Whether the run may be pulled through the duct."""
        return not self.duct.stops

    @property
    def why(self) -> tuple[str, ...]:
        """The limits it breaks, each with its place, worst first; empty where usable."""
        if not self.duct.stops:
            return ()
        found = dict.fromkeys(f"{f.rule} ({f.where})" for f in self.duct.breaks)
        return tuple(found) or ("no end acceptable",)


@dataclass(frozen=True, eq=False, slots=True)
class BankBuild:
    """What a bank is built of. ``spacers`` are stations of the run's line, m; None: not asked for.

    ``no_path`` are the ducts, by row and column, that have no path and so no pieces.
    """

    pieces: tuple[BuiltPiece, ...]
    sweeps: tuple[OrderLine, ...]
    straights: tuple[StraightTotal, ...]
    spacers: tuple[float, ...] | None
    uses: tuple[DuctUse, ...]
    no_path: tuple[str, ...]
    not_in_file: tuple[str, ...]


def build_of(result: BankResult) -> BankBuild:
    """What a bank is built of."""
    pieces = tuple(_pieces(result))
    interval = result.bank.spacer_interval
    return BankBuild(
        pieces=pieces,
        sweeps=tuple(_sweeps(pieces)),
        straights=tuple(_straights(pieces)),
        spacers=None
        if interval is None
        else spacer_stations(result.center, result.stretches, interval),
        uses=tuple(_uses(result)),
        no_path=tuple(f"{d.row}-{d.column}" for d in result.ducts if d.result is None),
        not_in_file=tuple(other.name for other in result.others if not other.ducts),
    )


def _pieces(result: BankResult) -> Iterator[BuiltPiece]:
    route, center = result.run.route, result.center
    boxes = boxes_in_line(route, center)
    for duct in result.ducts:
        if duct.result is None:
            continue
        path = duct.result.path
        inside = within_boxes(center, boxes, path)
        for piece in duct_pieces(path, frames(path, result.starts[0]), pull_stations(route, path)):
            end = piece.station + piece.length
            boxed = sum(max(min(end, b) - max(piece.station, a), 0.0) for a, b in inside)
            at = route.label(piece.vertex) if piece.bend else ""
            yield BuiltPiece(duct.row, duct.column, piece, route.conduits[piece.leg], at, boxed)


def _sweeps(pieces: tuple[BuiltPiece, ...]) -> Iterator[OrderLine]:
    """Bends of one kind together: by conduit in the order of the route, angle and radius."""
    bends = [p for p in pieces if p.is_bend]
    for conduit in dict.fromkeys(p.conduit.label for p in bends):
        mine = sorted((p for p in bends if p.conduit.label == conduit), key=lambda p: p.piece.angle)
        for alike in _alike(mine, [p.piece.angle for p in mine], _SAME_ANGLE):
            ordered = sorted(alike, key=lambda p: p.piece.radius)
            for group in _alike(ordered, [p.piece.radius for p in ordered], _SAME_RADIUS):
                yield OrderLine(
                    conduit,
                    float(np.mean([p.piece.radius for p in group])),
                    float(np.mean([p.piece.angle for p in group])),
                    len(group),
                    tuple(sorted({p.piece.bend for p in group})),
                )


def _alike(
    pieces: list[BuiltPiece], values: list[float], within: float
) -> Iterator[list[BuiltPiece]]:
    """Pieces in rising order, those together that differ from the first by no more."""
    group: list[BuiltPiece] = []
    first = math.nan
    for piece, value in zip(pieces, values, strict=True):
        if group and value - first > within:
            yield group
            group = []
        if not group:
            first = value
        group.append(piece)
    if group:
        yield group


def _straights(pieces: tuple[BuiltPiece, ...]) -> Iterator[StraightTotal]:
    straight = [p for p in pieces if not p.is_bend]
    for conduit in dict.fromkeys(p.conduit.label for p in straight):
        lengths = [p.piece.length - p.boxed for p in straight if p.conduit.label == conduit]
        lengths = [length for length in lengths if length > 1e-6]
        yield StraightTotal(conduit, sum(lengths), len(lengths))


def _uses(result: BankResult) -> Iterator[DuctUse]:
    """Every duct for the bank's own run, then for each other run that the bank names."""
    runs = [(result.run.name, result.ducts), *((o.name, o.ducts) for o in result.others)]
    for name, ducts in runs:
        for duct in ducts:
            held = result.bank.run_in(duct.row, duct.column)
            yield DuctUse(name, duct, held == name, held if held != name else "")
