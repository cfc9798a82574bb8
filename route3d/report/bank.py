"""A duct bank as tables for a terminal, as CSV and as plain data."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from typing import Any

from rich.console import Group, RenderableType
from rich.text import Text

from route3d.drawing.bank_section import counted, looking, per_length
from route3d.geometry.duct_pieces import boxes_in_line
from route3d.geometry.grade import Grade
from route3d.geometry.path import ARC
from route3d.model.job import Job
from route3d.planning.bank import BankResult, DuctResult, InnerBend
from route3d.planning.result import RunResult
from route3d.report.bank_build import bank_xlsx, build_data, build_report
from route3d.report.columns import Column, Value, column_table, columns_csv, severity_of
from route3d.report.findings import findings_table
from route3d.report.json_result import finding_data, job_data
from route3d.report.layout import heading, paragraph, severity_style, table
from route3d.report.words import limit_of, measured, rules_line
from route3d.units import convert, parse, render, show, show_marked

Data = dict[str, Any]

# Stretches that are named.
_MOST = 4


def _of(value: Callable[[RunResult], Value]) -> Callable[[DuctResult], Value]:
    """What a column takes from the answer of a duct; empty where there is no path to answer."""
    return lambda duct: None if duct.result is None else value(duct.result)


_COLUMNS: tuple[Column[DuctResult], ...] = (
    Column("row", lambda d: str(d.row)),
    Column("column", lambda d: str(d.column)),
    Column("length", _of(lambda r: r.path.length), "length"),
    Column("min.\nradius", lambda d: least_radius(d), "radius"),
    Column("feed from", _of(lambda r: r.best.pull.feed_name)),
    Column("peak\ntension", _of(lambda r: r.best.pull.peak_tension), "force"),
    Column("sidewall", _of(lambda r: r.best.pull.peak_sidewall), "sidewall"),
    Column("of limit", _of(lambda r: r.best.utilization.peak), "percent"),
    Column("governing", _of(lambda r: r.best.name(r.best.utilization.governing))),
    Column("verdict", lambda d: verdict(d)),
)
_OFFSETS: tuple[Column[DuctResult], ...] = (
    Column("right", lambda d: d.offset[0], "diameter"),
    Column("up", lambda d: d.offset[1], "diameter"),
)


def least_radius(duct: DuctResult) -> float:
    """The tightest bend of a duct, m; infinite where it has none, less than nothing without a path.

    Where a turn without a bend leaves no path there is no radius to tell: NaN.
    """
    if duct.result is None:
        return min((f.demand for f in duct.blocked if "radius" in f.rule), default=math.nan)
    path = duct.result.path
    return float(path.radii[path.kind == ARC].min(initial=math.inf))


def verdict(duct: DuctResult) -> str:
    """What stops a duct, worst first, or that nothing does."""
    if not duct.stops:
        return "ok"
    rules = dict.fromkeys(f.rule for f in duct.breaks) or {"no end acceptable": None}
    return "stop: " + ", ".join(rules)


# --- terminal ------------------------------------------------------------------------------------


def bank_report(job: Job, banks: Sequence[BankResult], system: str) -> RenderableType:
    """The banks of a job for a terminal."""
    parts: list[RenderableType] = [heading(job)]
    for bank in banks:
        parts += _bank_report(bank, system)
    return Group(*parts, paragraph(rules_line(job.practice), style="dim", before=1))


def _bank_report(result: BankResult, system: str) -> list[RenderableType]:
    looks = f"Rows count from the top and columns from the left, {looking(result)}."
    return [
        paragraph(
            f"Bank of run {result.run.name}: {describe(result, system)}", style="bold", before=1
        ),
        column_table(result.ducts, _COLUMNS, system),
        paragraph(looks, style="dim"),
        *[paragraph(Text(line)) for line in _ranked(result, system)],
        *_no_room(result, system),
        *_bends(result, system),
        *_stopped(result, system),
        *_compared(result, system),
        *[paragraph(line, before=i == 0) for i, line in enumerate(concrete_lines(result, system))],
        *build_report(result, system),
    ]


def _compared(result: BankResult, system: str) -> list[RenderableType]:
    """The findings of the bank as a whole; nothing where no rule looks at it."""
    if not result.findings:
        return []
    title = paragraph("Bank compared with published values:", before=1, style="bold")
    return [title, *findings_table(result.findings, system)]


def describe(result: BankResult, system: str) -> str:
    """Rows, columns, conduits and spacing in one line."""
    bank = result.bank
    kinds = ", ".join(dict.fromkeys(c.label for c in result.run.route.conduits))
    text = f"{counted(bank.rows, 'row')} of {counted(bank.columns, 'duct')} in {kinds}"
    ways = zip((bank.columns, bank.rows), bank.spacing, ("across", "between rows"), strict=True)
    spaced = [f"{show(s, 'diameter', system)} {way}" for count, s, way in ways if count > 1]
    return ", ".join([text, *([f"{' and '.join(spaced)} from center to center"] if spaced else [])])


def _styled(text: str) -> Text:
    return Text(text, style=severity_style(severity_of(text)))


def _ranked(result: BankResult, system: str) -> list[str]:
    if len(result.ducts) == 1:
        return []
    lines = []
    for word, duct in (("Best", result.best), ("Worst", result.worst)):
        if duct.result is None:
            lines.append(f"{word} duct: {duct.label}, no path.")
            continue
        share = show(duct.result.best.utilization.peak, "percent", system)
        best = duct.result.best
        governing = best.name(best.utilization.governing)
        lines.append(
            f"{word} duct: {duct.label}, {governing} {share} of the limit; {verdict(duct)}."
        )
    return lines


def _no_room(result: BankResult, system: str) -> list[RenderableType]:
    """The worst of what leaves a duct no path, and the remedies."""
    if result.no_room is None:
        return []
    count = sum(d.result is None for d in result.ducts)
    why, cure = render(result.no_room.said, system), result.no_room.cure(system)
    said = f"{counted(count, 'duct')} of {len(result.ducts)} without a path: {why}; {cure}."
    return [paragraph(Text(said), style=severity_style("stop"))]


_BEND_HEADS = (
    *("bend", "at", "centerline\nradius", "worst duct", "duct\nradius", "rule"),
    *("measured", "limit", "verdict", "centerline radius\nrequired"),
)


def _bends(result: BankResult, system: str) -> list[RenderableType]:
    if not result.bends:
        return [paragraph("No bends.")]
    rows = [[_styled(cell) for cell in _bend_cells(b, system)] for b in result.bends]
    title = paragraph("Bends, each at the duct closest to a limit:", style="bold", before=1)
    return [title, table(_BEND_HEADS, rows, numbers=(2, 4, 6, 7, 9))]


def _bend_cells(bend: InnerBend, system: str) -> list[str]:
    return [
        str(bend.number),
        bend.at,
        show(bend.radius, "radius", system),
        f"row {bend.row}, column {bend.column}",
        show(bend.inner, "radius", system),
        bend.finding.rule,
        measured(bend.finding, system),
        limit_of(bend.finding, system),
        bend.finding.severity,
        _needs(bend, system),
    ]


def _needs(bend: InnerBend, system: str) -> str:
    """The radius that passes, rounded up; "about" where tension would change with it."""
    if not bend.fails:
        return "-"
    about = "approx. " if bend.estimated else ""
    return about + _rounded_up(bend.needed, system)


def _rounded_up(radius: float, system: str) -> str:
    step = 10.0 ** -(1 if system == "US" else 3)
    shown = math.ceil(convert(radius, "radius", system) / step - 1e-9) * step
    return show(parse(shown, "radius", system), "radius", system)


def _stopped(result: BankResult, system: str) -> list[RenderableType]:
    """What stops the worst duct, with what to do."""
    breaks = result.worst.breaks
    if not breaks:
        return []
    title = f"Stops for the duct in {result.worst.label}:"
    if result.worst.result is not None:
        title = title[:-1] + " (radii of the duct, not of the centerline):"
    return [paragraph(title, style="bold", before=1), *findings_table(breaks, system)]


def concrete_lines(result: BankResult, system: str) -> list[str]:
    """How much concrete, along what, and the earth over it."""
    lines = []
    if result.bank.cover > 0:
        size = " by ".join(
            show(v, "diameter", system) for v in (result.section.width, result.section.height)
        )
        long = show(result.encased_length, "length", system)
        in_all = (
            f"over {long}; total not known: it would extend past the center of a bend"
            if result.concrete is None
            else f"{show(result.concrete, 'concrete', system, decimals=2)} total over {long}"
        )
        per = per_length(result, system)
        lines.append(f"Concrete: {size}, {per}, {in_all}; ducts deducted, ends square.")
        lines += _box_lines(result, system)
    else:
        lines.append("No concrete (cover 0): ducts taken as direct-buried.")
    ground = render(result.grade.said, system)
    if result.unknown:
        return [*lines, _unknown(ground)]
    if result.bank.cover > 0 and result.encased_length < result.center.length - 1e-6:
        lines.append(f"Encased where any part of the bank is below {ground}.")
    if result.all_encased:
        fix = "" if result.grade.given else " If z are survey elevations, give site.grade."
        lines.append(
            f"No part is below {ground}: all of it is taken as encased, and earth cover "
            f"is not checked.{fix}"
        )
    elif result.earth is not None:
        lines += _earth_lines(result, ground, system)
    if result.outside:
        lines.append(_outside(result, ground, system))
    return lines


def _unknown(ground: str) -> str:
    return (
        f"Ground not known: all of the bank is outside {ground}. All of it is taken as encased; "
        "earth cover and trench are not judged."
    )


def _earth_lines(result: BankResult, ground: str, system: str) -> list[str]:
    """The minimum earth cover, or how far a bank that is partly buried rises out of the ground."""
    assert result.earth is not None
    least, station = result.earth
    at = show(station, "length", system)
    if least >= 0:
        deep = show_marked(least, "length-", system)
        return [
            f"Minimum earth cover over the width of the bank, from {ground}: {deep}, at station "
            f"{at}."
        ]
    high = result.upright_at(station)
    rise, below = (show(v, "diameter", system) for v in (-least, max(high + least, 0.0)))
    return [
        f"Partly buried, station {_spans(result.partly, system)}: the bank rises {rise} above "
        f"{ground} at station {at}, where {below} of its {show(high, 'diameter', system)} height "
        "is below."
    ]


def _box_lines(result: BankResult, system: str) -> list[str]:
    """What of the bank lies within pull boxes."""
    boxes = boxes_in_line(result.run.route, result.center)
    spans = [
        f"{result.run.route.label(b.vertex)}, station "
        f"{show(b.start, 'length', system)} to {show(b.end, 'length', system)}"
        for b in boxes
    ]
    lines = [f"No concrete within pull boxes: {'; '.join(spans)}."] if spans else []
    ends = (result.run.route.vertices[0], result.run.route.vertices[-1])
    if any(v.box is not None for v in ends):
        lines.append("At the ends of the run the conduit stops at the wall of the box.")
    return lines


def _outside(result: BankResult, ground: str, system: str) -> str:
    """What lies outside the surface of the grade."""
    dry = ""
    if result.bank.cover > 0 and result.below:
        dry = " Concrete there: as if the ground went on level from the edge of the surface."
    return (
        f"Ground not known outside {ground}, station {_spans(result.outside, system)}: earth cover "
        f"is not judged and no trench is counted there.{dry}"
    )


def _spans(spans: Sequence[tuple[float, float]], system: str) -> str:
    """Station pairs in words, the first few of many."""
    named = ", ".join(
        " to ".join(show(v, "length", system) for v in span) for span in spans[:_MOST]
    )
    return named + (f" and {len(spans) - _MOST} more" if len(spans) > _MOST else "")


# --- CSV and JSON --------------------------------------------------------------------------------


def bank_csv(job: Job, banks: Sequence[BankResult], system: str) -> str:
    """The ducts of the banks as CSV: units in the heading, plain numbers below."""
    groups = ((bank.run.name, bank.ducts) for bank in banks)
    return columns_csv(job, groups, (*_COLUMNS, *_OFFSETS), system)


def bank_workbook(job: Job, banks: Sequence[BankResult], system: str) -> bytes:
    """The ducts and what they are built of as an XLSX file, a sheet for each table."""
    return bank_xlsx(job, banks, (*_COLUMNS, *_OFFSETS), system)


def bank_data(job: Job, banks: Sequence[BankResult]) -> Data:
    """The banks as plain data, SI."""
    found = [_bank(bank) for bank in banks]
    return {**job_data(job), "banks": found}


def _bank(result: BankResult) -> Data:
    bank = result.bank
    return {
        "run": result.run.name,
        "rows": bank.rows,
        "columns": bank.columns,
        "spacing_m": list(bank.spacing),
        "cover_m": bank.cover,
        "stops": result.stops,
        "best": [result.best.row, result.best.column],
        "worst": [result.worst.row, result.worst.column],
        "ducts": [_duct(d) for d in result.ducts],
        "bends": [_bend(b) for b in result.bends],
        "findings": [finding_data(f) for f in result.findings],
        "section": {
            "width_m": result.section.width,
            "height_m": result.section.height,
            "concrete_m2": result.section.area if bank.cover > 0 else 0.0,
        },
        "encased_m": [list(s) for s in result.stretches] if bank.cover > 0 else [],
        "concrete_m3": result.concrete,
        "earth_cover_m": None if result.earth is None else result.earth[0],
        "grade": grade_data(result.grade),
        "below_grade_m": [list(s) for s in result.below],
        "partly_buried_m": [list(s) for s in result.partly],
        "outside_grade_m": [list(s) for s in result.outside],
        **build_data(result),
    }


def grade_data(grade: Grade) -> Data:
    """The ground as plain data, SI: a level, or the name of a surface."""
    if grade.is_level:
        return {"given": grade.given, "level_m": grade.level}
    return {"given": True, "surface": grade.name}


def _duct(duct: DuctResult) -> Data:
    place: Data = {"row": duct.row, "column": duct.column, "offset_m": list(duct.offset)}
    told: Data = {"verdict": verdict(duct), "breaks": [finding_data(f) for f in duct.breaks]}
    if duct.result is None:
        return {**place, "length_m": None, **told}
    best = duct.result.best
    return {
        **place,
        "length_m": duct.result.path.length,
        "least_radius_m": least_radius(duct),
        "feed": best.pull.feed_name,
        "peak_tension_N": best.pull.peak_tension,
        "peak_sidewall_N_per_m": best.pull.peak_sidewall,
        "utilization": best.utilization.peak,
        "governing": best.utilization.governing,
        **told,
    }


def _bend(bend: InnerBend) -> Data:
    return {
        "number": bend.number,
        "at": bend.at,
        "radius_m": bend.radius,
        "worst_duct": [bend.row, bend.column],
        "inner_radius_m": bend.inner,
        "rule": bend.finding.rule,
        "measured": bend.finding.demand,
        "limit": bend.finding.limit,
        "verdict": bend.finding.severity,
        "radius_needed_m": bend.needed if bend.fails else None,
        "radius_needed_is_estimate": bend.estimated,
    }
