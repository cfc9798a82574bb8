"""A duct bank as built, in tables: bends of ducts, sweeps to order, spacers, runs, trench."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from rich.console import RenderableType

from route3d.drawing.bank_section import counted
from route3d.geometry.path import ARC
from route3d.model.examples import BANNER, example_names
from route3d.model.job import Job
from route3d.planning.bank import BankResult
from route3d.planning.bank_build import (
    BankBuild,
    BuiltPiece,
    DuctUse,
    OrderLine,
    StraightTotal,
    build_of,
)
from route3d.planning.bank_trench import Trench, trench_of
from route3d.report.columns import Column, Value, column_table, columns_csv, filled
from route3d.report.layout import paragraph
from route3d.units import show, show_marked

Data = dict[str, Any]

# Rows of a table on a terminal; files have all.
_MOST_ROWS = 60
_MOST_STATIONS = 40

BUILT_WORDS = (
    "Roll: rotation of the bend plane about the duct axis from the previous bend, clockwise "
    "looking along the route; 180° bends back. From top: where the center of the bend lies, "
    "clockwise from the top of the bank looking along the route; 0° bends up, 90° right, 180° "
    "down, 270° left. "
    "Set-back: from the intersection of the tangents to either end of the bend. Straight before: "
    "from the previous bend, pull point or end, pull boxes deducted. The sweeps of one bend are "
    "concentric; elbows of one radius would not keep the spacing."
)
TRENCH_CAUTION = (
    "Caution: shoring, sloping and shielding of an excavation are governed by local code and "
    "licensed practice; this rule does not check them."
)


@dataclass(frozen=True, slots=True)
class BendRow:
    """A bend of one duct with the straight before it; the last row of a duct has no bend."""

    duct: str
    before: float
    piece: BuiltPiece | None


def bend_rows(build: BankBuild) -> tuple[BendRow, ...]:
    """The bends of all ducts with the straights between, as a crew builds them."""
    return tuple(_bend_rows(build))


def _bend_rows(build: BankBuild) -> Iterator[BendRow]:
    by_duct: dict[str, list[BuiltPiece]] = {}
    for piece in build.pieces:
        by_duct.setdefault(piece.duct, []).append(piece)
    for duct, pieces in by_duct.items():
        before = 0.0
        for piece in pieces:
            if piece.is_bend:
                yield BendRow(duct, before, piece)
                before = 0.0
            else:
                before += piece.piece.length - piece.boxed
        yield BendRow(duct, before, None)


def _of_bend(name: str) -> Any:
    def value(row: BendRow) -> Value:
        return None if row.piece is None else getattr(row.piece.piece, name)

    return value


BENDS: tuple[Column[BendRow], ...] = (
    Column("duct", lambda r: r.duct),
    Column("bend", lambda r: "end" if r.piece is None else str(r.piece.piece.bend)),
    Column("at", lambda r: None if r.piece is None else r.piece.at),
    Column("conduit", lambda r: None if r.piece is None else r.piece.conduit.label),
    Column("straight\nbefore", lambda r: r.before, "length"),
    Column("radius", _of_bend("radius"), "radius"),
    Column("angle", _of_bend("angle"), "angle"),
    Column("roll", _of_bend("roll"), "angle"),
    Column("from top", _of_bend("from_top"), "angle"),
    Column("set-back", _of_bend("setback"), "radius"),
    Column("arc\nlength", _of_bend("length"), "radius"),
)
PIECES: tuple[Column[BuiltPiece], ...] = (
    Column("duct", lambda p: p.duct),
    Column("piece", lambda p: str(p.piece.number)),
    Column("kind", lambda p: "bend" if p.is_bend else "straight"),
    Column("bend", lambda p: str(p.piece.bend) if p.is_bend else None),
    Column("at", lambda p: p.at or None),
    Column("conduit", lambda p: p.conduit.label),
    Column("station\non the duct", lambda p: p.piece.station, "length"),
    Column("length", lambda p: p.piece.length, "length"),
    Column("in boxes", lambda p: p.boxed, "length"),
    Column("radius", lambda p: p.piece.radius, "radius"),
    Column("angle", lambda p: p.piece.angle, "angle"),
    Column("roll", lambda p: p.piece.roll, "angle"),
    Column("from top", lambda p: p.piece.from_top, "angle"),
    Column("set-back", lambda p: p.piece.setback, "radius"),
)
SWEEPS: tuple[Column[OrderLine], ...] = (
    Column("conduit", lambda s: s.conduit),
    Column("radius", lambda s: s.radius, "radius"),
    Column("angle", lambda s: s.angle, "angle"),
    Column("sweeps", lambda s: float(s.count), "count"),
    Column("for bends", lambda s: ", ".join(map(str, s.bends))),
)
STRAIGHTS: tuple[Column[StraightTotal], ...] = (
    Column("conduit", lambda s: s.conduit),
    Column("straight, total", lambda s: s.length, "length"),
    Column("lengths", lambda s: float(s.pieces), "count"),
)
USES: tuple[Column[DuctUse], ...] = (
    Column("run", lambda u: u.run),
    Column("duct", lambda u: f"{u.duct.row}-{u.duct.column}"),
    Column("usable", lambda u: "yes" if u.usable else "no"),
    Column("min.\nradius", lambda u: _least(u), "radius"),
    Column("of limit", lambda u: _share(u), "percent"),
    Column("assigned", lambda u: "this run" if u.assigned else u.taken or None),
    Column("why", lambda u: "; ".join(u.why) or None),
)
SPACERS: tuple[Column[tuple[int, float]], ...] = (
    Column("spacer", lambda s: str(s[0])),
    Column("station", lambda s: s[1], "length"),
)
VOLUMES: tuple[Column[tuple[str, float | None]], ...] = (
    Column("volume", lambda v: v[0]),
    Column("in place", lambda v: v[1], "concrete"),
)


def _share(use: DuctUse) -> float | None:
    if use.duct.result is None:
        return None
    return use.duct.result.best.utilization.peak


def _least(use: DuctUse) -> float | None:
    """The tightest bend of the duct, m; None where it has no path or no bend."""
    if use.duct.result is None:
        return None
    least = float(use.duct.result.path.radii[use.duct.result.path.kind == ARC].min(initial=np.inf))
    return least if math.isfinite(least) else None


# --- terminal ------------------------------------------------------------------------------------


def build_report(result: BankResult, system: str) -> list[RenderableType]:
    """The bank as built, for a terminal."""
    build = build_of(result)
    return [
        *_uses(build, system),
        *_built(build, system),
        *[paragraph(line) for line in spacer_lines(build, result, system)],
        *[
            paragraph(line, before=i == 0)
            for i, line in enumerate(trench_lines(result, trench_of(result), system))
        ],
    ]


def _uses(build: BankBuild, system: str) -> list[RenderableType]:
    rows = build.uses
    parts: list[RenderableType] = [
        paragraph("Which duct for which run:", before=1, style="bold"),
        column_table(rows[:_MOST_ROWS], filled(rows, USES), system, severity=_severity_of_use),
        *_more(len(rows), "duct"),
    ]
    if build.not_in_file:
        names = ", ".join(build.not_in_file)
        parts.append(paragraph(f"Not in this file, so not checked: {names}.", style="yellow"))
    return parts


def _severity_of_use(text: str) -> str:
    return {"no": "stop", "yes": "ok"}.get(text, "")


def _built(build: BankBuild, system: str) -> list[RenderableType]:
    rows = bend_rows(build)
    if not build.pieces:
        return [paragraph("No duct has a path: nothing to build.", before=1)]
    parts: list[RenderableType] = [
        paragraph("Bends of each duct:", before=1, style="bold"),
        column_table(rows[:_MOST_ROWS], filled(rows, BENDS), system),
        *_more(len(rows), "row"),
    ]
    if build.no_path:
        parts.append(paragraph(f"Without a path, not listed: {', '.join(build.no_path)}."))
    if build.sweeps:
        parts += [
            paragraph("Sweeps to order:", before=1, style="bold"),
            column_table(build.sweeps, SWEEPS, system),
        ]
    parts += [
        paragraph("Straight conduit, pull boxes deducted, without couplings and waste:", before=1),
        column_table(build.straights, STRAIGHTS, system),
        paragraph(BUILT_WORDS, style="dim"),
    ]
    return parts


def _more(count: int, thing: str) -> list[RenderableType]:
    left = count - _MOST_ROWS
    return [paragraph(f"{counted(left, thing)} more: --xlsx writes all.")] if left > 0 else []


def spacer_lines(build: BankBuild, result: BankResult, system: str) -> list[str]:
    """How many spacers, where, and by which rule."""
    interval = result.bank.spacer_interval
    if build.spacers is None or interval is None:
        return ["Spacers not listed: no spacer_interval in [[bank]]."]
    apart = show(interval, "length", system)
    beside = show(min(0.6096, interval / 2), "length", system)
    said = f"Spacers: {counted(len(build.spacers), 'station')}, each for {len(result.ducts)} ducts"
    shown = [show(s, "length", system) for s in build.spacers[:_MOST_STATIONS]]
    more = len(build.spacers) - len(shown)
    ends = f" and {more} more (--xlsx)" if more > 0 else ""
    return [
        f"{said}, at most {apart} apart and {beside} from each end of the concrete and each bend "
        "(own rule; the spacer maker's instructions take precedence).",
        f"Spacer stations: {', '.join(shown)}{ends}.",
    ]


def trench_lines(result: BankResult, trench: Trench | None, system: str) -> list[str]:
    """The volumes of the trench and the rule they follow."""
    bank = result.bank
    if bank.trench_side is None:
        return ["Trench volumes not calculated: no trench_side in [[bank]]."]
    if trench is None and result.unknown:
        return ["Trench volumes not calculated: the ground is not known."]
    if trench is None:
        return ["Trench volumes not calculated: no part of the bank is below grade."]
    least, most = trench.depths
    depths = show_marked(most, "length+", system)
    if most - least > 1e-3:
        depths = f"{show_marked(least, 'length-', system)} to {depths}"
    width, long = show(trench.width, "diameter", system), show(trench.length, "length", system)
    lines = [f"Trench: {long} on the plan, {width} wide at the bottom, {depths} deep."]
    if trench.excavation is None:
        lines.append(
            "Excavation not calculated: the ground rises as fast as the side of the trench; use a "
            "steeper trench_slope."
        )
    told = ", ".join(f"{name} {_volume(v, system)}" for name, v in volume_rows(result, trench))
    lines.append(f"Volumes in place: {told}.")
    slope, bedding = bank.trench_slope or 0.0, show(bank.bedding or 0.0, "diameter", system)
    space = show(bank.trench_side, "diameter", system)
    sides = "upright" if slope == 0 else f"sloped {slope:g} horizontal to 1 vertical"
    lines.append(
        f"Rule: bottom of the trench {bedding} below the bank (bedding), {space} working space on "
        f"each side, sides {sides} up to the ground; square ends. Backfill: excavation less "
        "bedding and bank. Not included: excavation for vaults and boxes, swell, compaction."
    )
    return [*lines, TRENCH_CAUTION]


def _volume(value: float | None, system: str) -> str:
    return "not known" if value is None else show(value, "concrete", system)


def volume_rows(result: BankResult, trench: Trench) -> list[tuple[str, float | None]]:
    """The volumes of a trench by name, m³."""
    bank = "concrete with ducts" if result.bank.cover > 0 else "ducts"
    if result.partly:
        bank += ", below grade"
    return [
        ("excavation", trench.excavation),
        ("bedding", trench.bedding),
        (bank, trench.displaced),
        ("backfill", trench.backfill),
        ("surplus", trench.surplus),
    ]


# --- CSV and XLSX --------------------------------------------------------------------------------


def pieces_csv(job: Job, banks: Sequence[BankResult], system: str) -> str:
    """Every straight and bend of every duct as CSV."""
    groups = ((bank.run.name, build_of(bank).pieces) for bank in banks)
    return columns_csv(job, groups, PIECES, system)


def bank_xlsx(
    job: Job, banks: Sequence[BankResult], ducts: Sequence[Column[Any]], system: str
) -> bytes:
    """A workbook of the banks: a sheet for each table; ``ducts`` are the columns of the ducts."""
    from route3d.report.columns_xlsx import rows_xlsx

    built = [(bank, build_of(bank), trench_of(bank)) for bank in banks]
    tables = [
        _sheet("Ducts", [(b.run.name, d) for b, _, _ in built for d in b.ducts], ducts, job),
        _sheet("Pieces", [(b.run.name, p) for b, x, _ in built for p in x.pieces], PIECES, job),
        _sheet("Sweeps", [(b.run.name, s) for b, x, _ in built for s in x.sweeps], SWEEPS, job),
        _sheet(
            "Straights",
            [(b.run.name, s) for b, x, _ in built for s in x.straights],
            STRAIGHTS,
            job,
        ),
        _sheet(
            "Spacers",
            [(b.run.name, s) for b, x, _ in built for s in enumerate(x.spacers or (), 1)],
            SPACERS,
            job,
        ),
        _sheet("Runs", [(b.run.name, u) for b, x, _ in built for u in x.uses], USES, job),
        _sheet(
            "Volumes",
            [(b.run.name, v) for b, _, t in built for v in _all_volumes(b, t)],
            VOLUMES,
            job,
        ),
    ]
    return rows_xlsx(job.title, tables, system)


def _all_volumes(bank: BankResult, trench: Trench | None) -> list[tuple[str, float | None]]:
    concrete = [("concrete, ducts deducted", bank.concrete)] if bank.bank.cover > 0 else []
    return [*concrete, *([] if trench is None else volume_rows(bank, trench))]


def _sheet(
    name: str, rows: list[tuple[str, Any]], columns: Sequence[Column[Any]], job: Job
) -> tuple[str, list[tuple[str, Any]], list[Column[Any]]]:
    """A table whose first column is the run of the bank; the last names example values."""

    def of_row(column: Column[Any]) -> Column[Any]:
        return Column(
            column.title, lambda pair: column.value(pair[1]), column.quantity, column.toward
        )

    found: list[Column[Any]] = [Column("bank of run", lambda pair: pair[0]), *map(of_row, columns)]
    if job.examples:
        names = example_names(job.examples)
        found.append(Column(BANNER, lambda _: names))
    return name, rows, found


# --- JSON ----------------------------------------------------------------------------------------


def build_data(result: BankResult) -> Data:
    """The bank as built as plain data, SI; null where there is none."""
    build, trench = build_of(result), trench_of(result)
    return {
        "pieces": [_piece(p) for p in build.pieces],
        "no_path": list(build.no_path),
        "sweeps": [
            {
                "conduit": s.conduit,
                "radius_m": s.radius,
                "angle_deg": math.degrees(s.angle),
                "count": s.count,
                "bends": list(s.bends),
            }
            for s in build.sweeps
        ],
        "straights": [
            {"conduit": s.conduit, "length_m": s.length, "pieces": s.pieces}
            for s in build.straights
        ],
        "spacers_m": None if build.spacers is None else list(build.spacers),
        "uses": [
            {
                "run": u.run,
                "duct": [u.duct.row, u.duct.column],
                "usable": u.usable,
                "assigned": u.assigned,
                "taken_by": u.taken or None,
                "utilization": _share(u),
                "why": list(u.why),
            }
            for u in build.uses
        ],
        "runs_not_in_file": list(build.not_in_file),
        "trench": None if trench is None else _trench(trench),
    }


def _piece(built: BuiltPiece) -> Data:
    piece = built.piece
    data: Data = {
        "duct": [built.row, built.column],
        "number": piece.number,
        "kind": "bend" if built.is_bend else "straight",
        "conduit": built.conduit.label,
        "station_m": piece.station,
        "length_m": piece.length,
        "in_boxes_m": built.boxed,
    }
    if built.is_bend:
        data |= {
            "bend": piece.bend,
            "at": built.at,
            "radius_m": piece.radius,
            "angle_deg": math.degrees(piece.angle),
            "roll_deg": None if math.isnan(piece.roll) else math.degrees(piece.roll),
            "from_top_deg": math.degrees(piece.from_top),
            "setback_m": piece.setback,
        }
    return data


def _trench(trench: Trench) -> Data:
    return {
        "length_m": trench.length,
        "width_m": trench.width,
        "depths_m": list(trench.depths),
        "excavation_m3": trench.excavation,
        "bedding_m3": trench.bedding,
        "bank_m3": trench.displaced,
        "backfill_m3": trench.backfill,
        "surplus_m3": trench.surplus,
    }
