"""Routes leg by leg: where each leads, how it turns, and how the legs miss a known end."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from rich.console import Group, RenderableType

from route3d.geometry.legs import LegRow, leg_rows, legs_of, read_legs
from route3d.model.job import Job
from route3d.model.route import Closing, GivenLegs
from route3d.model.run import Run
from route3d.modelfile.toml_edits import toml_words
from route3d.report.columns import Column, column_table
from route3d.report.json_result import job_data
from route3d.report.layout import heading, paragraph
from route3d.units import show

Data = dict[str, Any]


@dataclass(frozen=True, slots=True)
class RunLegs:
    """A run leg by leg: the ``texts`` of each straight, and ``canonical`` legs, written anew."""

    run: Run
    rows: tuple[LegRow, ...]
    texts: tuple[tuple[str, ...], ...]
    canonical: tuple[str, ...]

    @property
    def given(self) -> GivenLegs | None:
        """What the file has, where it has legs."""
        return self.run.route.legs

    @property
    def closing(self) -> Closing | None:
        """How the legs miss the known end."""
        return None if self.given is None else self.given.closing


def run_legs(run: Run, system: str) -> RunLegs:
    """The legs of a run: as its file has them, or those that give its points."""
    given = run.route.legs
    declination = given.declination if given is not None else 0.0
    canonical = legs_of(run.route, system, declination=declination)
    if given is None:
        read = read_legs(canonical, system)
        given = GivenLegs(canonical, read.leg_of, straights=read.straights)
    return RunLegs(run, leg_rows(run.route), _texts(given), canonical)


def _texts(given: GivenLegs) -> tuple[tuple[str, ...], ...]:
    """What was said for each straight: the legs since the one before, the end with the last."""
    texts: list[tuple[str, ...]] = []
    after = 0
    for i, number in enumerate(given.straights):
        last = len(given.texts) if i == len(given.straights) - 1 else number + 1
        numbered = enumerate(given.texts[after:last], after + 1)
        texts.append(tuple(f"{k}. {text}" for k, text in numbered) or (f"({number + 1}.)",))
        after = max(after, last)
    return tuple(texts)


# --- terminal ------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class _Line:
    """One row of the table."""

    row: LegRow
    text: tuple[str, ...]

    @property
    def bend(self) -> float | None:
        """Its turn, rad; none where it goes straight on."""
        return math.radians(self.row.turn) if self.row.turn > _STRAIGHT else None


# What a person would call straight, degrees.
_STRAIGHT = 0.01
_COLUMNS: tuple[Column[_Line], ...] = (
    Column("leg", lambda n: "\n".join(n.text)),
    Column("bend", lambda n: n.bend, "angle"),
    Column("radius", lambda n: n.row.radius if n.bend else None, "radius"),
    Column("heading", lambda n: _heading(n.row)),
    Column("grade", lambda n: _grade(n.row)),
    Column("length", lambda n: n.row.length, "length"),
    Column("x", lambda n: n.row.end[0], "length"),
    Column("y", lambda n: n.row.end[1], "length"),
    Column("z", lambda n: n.row.end[2], "length"),
    Column("total", lambda n: math.radians(n.row.total), "angle"),
)


def _heading(row: LegRow) -> str:
    if row.bearing is None:
        return "up" if row.pitch > 0 else "down"
    return f"{row.bearing % 360.0:.1f}°".replace("360.0°", "0.0°")


def _grade(row: LegRow) -> str:
    if row.bearing is None:
        return "vertical"
    percent = 100 * math.tan(math.radians(row.pitch))
    return "level" if abs(percent) < 0.005 else f"{percent:+.2f}%"


def legs_report(job: Job, legs: Sequence[RunLegs], system: str) -> RenderableType:
    """The legs of runs for a terminal."""
    parts: list[RenderableType] = [heading(job)]
    for each in legs:
        length = show(sum(row.length for row in each.rows), "length", system)
        count = f"{len(each.rows)} straight{'' if len(each.rows) == 1 else 's'}"
        how = "by legs" if each.given is not None else "by points"
        said = f"Run {each.run.name}: {count}, {length} from corner to corner, given {how}"
        parts.append(paragraph(said, before=1))
        lines = [_Line(row, text) for row, text in zip(each.rows, each.texts, strict=True)]
        parts.append(column_table(lines, _COLUMNS, system))
        if each.given is not None and each.given.declination:
            turned = f"{each.given.declination:g}°"
            said = f"Headings are from grid north; those of the legs are {turned} less."
            parts.append(paragraph(said))
        if each.closing is not None:
            parts += [paragraph(line) for line in closing_lines(each.closing, system)]
        if each.given is None:
            parts.append(paragraph("To give this run by legs, put this in place of route:"))
            rows = [f"  {toml_words(text)}," for text in each.canonical]
            parts += [paragraph(row) for row in ("legs = [", *rows, "]")]
    said = (
        "Bend, radius: at the start of the straight. Length: from corner to corner. x, y, z: its "
        "end. Total: bend since the last pull point. Heading: clockwise from grid north (+y)."
    )
    parts.append(paragraph(said, style="dim", before=1))
    return Group(*parts)


def closing_lines(closing: Closing, system: str) -> list[str]:
    """How legs miss the known end, and the least change that closes them."""
    decimals = 3 if system == "SI" else 2

    def exact(value: float) -> str:
        return show(value, "length", system, decimals=decimals)

    error = ", ".join(f"{axis} {exact(e)}" for axis, e in zip("xyz", closing.error, strict=True))
    least = _LEAST_SHOWN[system]
    if closing.distance < least:
        return ["Closes on the known end."]
    lines = [f"Closing error: {exact(closing.distance)} (to be added: {error})"]
    changes = [
        f"leg {number + 1}: {exact(length)} -> {exact(length + change)}"
        for number, length, change in closing.changes
        if abs(change) >= least
    ]
    if changes:
        lines.append(f"Smallest change of the lengths that closes it: {'; '.join(changes)}")
    if closing.left >= least:
        lines.append(f"No change of the lengths closes {exact(closing.left)}: check the turns.")
    return lines


# Half of the last decimal shown, m.
_LEAST_SHOWN = {"US": 0.005 * 0.3048, "SI": 0.0005}


# --- data ----------------------------------------------------------------------------------------


def legs_data(job: Job, legs: Sequence[RunLegs]) -> Data:
    """The same as plain data, in SI."""
    return {**job_data(job), "runs": [_run_data(each) for each in legs]}


def _run_data(each: RunLegs) -> Data:
    given = each.given
    data: Data = {
        "name": each.run.name,
        "given_by": "points" if given is None else "legs",
        "legs": list(each.canonical if given is None else given.texts),
        "canonical": list(each.canonical),
        "straights": [
            {
                "legs": list(text),
                "from_xyz_m": list(row.start),
                "to_xyz_m": list(row.end),
                "heading_deg": row.bearing,
                "slope_deg": row.pitch,
                "length_m": row.length,
                "bend_deg": row.turn,
                "radius_m": row.radius,
                "total_bend_deg": row.total,
            }
            for row, text in zip(each.rows, each.texts, strict=True)
        ],
        "closing": None,
    }
    if (closing := each.closing) is not None:
        data["closing"] = {
            "error_xyz_m": list(closing.error),
            "distance_m": closing.distance,
            "changes": [
                {"leg": number + 1, "length_m": length, "add_m": change}
                for number, length, change in closing.changes
            ],
            "left_m": closing.left,
        }
    return data
