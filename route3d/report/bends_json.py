"""The bend schedule as plain data for machines: SI numbers, null where there is none."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any, TypeAlias

from route3d.geometry.turns import roll_sense
from route3d.planning.result import JobResult
from route3d.report.bends import (
    BendRow,
    BendSheet,
    PieceRow,
    SectionRow,
    bend_sheets,
    way_words,
)
from route3d.report.json_result import job_data
from route3d.report.remedies import remedies_data

Data: TypeAlias = dict[str, Any]


def bends_data(
    result: JobResult,
    sheets: Sequence[BendSheet] | None = None,
) -> Data:
    """The bend schedule of every run, and its remedies."""
    runs = [_run(sheet) for sheet in (bend_sheets(result) if sheets is None else sheets)]
    north = math.degrees(result.job.site.frame.north)
    return {**job_data(result.job), "north_deg": north, "runs": runs}


def _run(sheet: BendSheet) -> Data:
    run = sheet.run
    return {
        "name": run.run.name,
        "length_m": run.path.length,
        "turn_deg": math.degrees(run.path.turn),
        "feed": run.best.pull.feed_name,
        "bends": [_bend(row) for row in sheet.rows],
        "sections": [_section(row) for row in sheet.sections],
        "pieces": [_piece(row) for row in sheet.pieces],
        "sources": list(sheet.shop.sources),
        "remedies": remedies_data(run.advice),
    }


def _bend(row: BendRow) -> Data:
    line, bend, made, margin = row.line, row.line.bend, row.made, row.margin
    tried = margin.passing_radius is not None
    return {
        "number": bend.number,
        "at": line.at,
        "station_m": bend.station,
        "angle_deg": math.degrees(bend.angle),
        "radius_m": bend.radius,
        "plane": bend.plane,
        "roll_deg": math.degrees(bend.roll),
        "setback_m": bend.setback,
        "arc_length_m": bend.arc_length,
        "gain_m": bend.gain,
        "straight_before_m": bend.straight_before,
        "straight_after_m": bend.straight_after,
        "conduit": line.conduit,
        "made_as": made.elbow,
        "stick": made.stick,
        "marks": _marks(row),
        "figure": _figure(row),
        "dog_leg_deg": math.degrees(made.dog_leg),
        "room_m": margin.room,
        "largest_radius_m": margin.largest_radius,
        "least_radius_m": line.least_radius,
        "passing_radius_m": margin.passing_radius,
        "passing_radius_looked_for": tried,
        "sidewall_N_per_m": line.sidewall,
        "sidewall_share": line.sidewall_share,
        "verdict": row.verdict,
        "label": made.label,
        "piece": made.piece,
        "turn": row.turn.words,
        "heading": row.turn.heading,
        "around_deg": math.degrees(row.turn.around),
        "climb_deg": math.degrees(row.turn.up),
        "bearing_in_deg": math.degrees(row.turn.before.bearing),
        "bearing_out_deg": math.degrees(row.turn.after.bearing),
        "climb_in_deg": math.degrees(row.turn.before.climb),
        "climb_out_deg": math.degrees(row.turn.after.climb),
        "roll_sense": roll_sense(bend.roll),
        "reaction": _reaction(row),
    }


def _marks(row: BendRow) -> Data | None:
    marks = row.made.marks
    if marks is None:
        return None
    return {
        "start_m": marks.start,
        "end_m": marks.end,
        "sticks_on": marks.over,
        "center_m": marks.center,
        "back_of_90_m": row.back,
    }


def _reaction(row: BendRow) -> Data | None:
    reaction = row.reaction
    if reaction is None:
        return None
    return {
        "tension_N": reaction.tension,
        "of": "rope" if reaction.of_rope else "cables",
        "feed": reaction.feed,
        "force_N": reaction.force,
        "toward": way_words(reaction.way, row.north),
        "direction": reaction.way.tolist(),
        "stop_tension_N": reaction.stop_tension,
        "stop_force_N": reaction.stop_force,
    }


def _figure(row: BendRow) -> Data | None:
    figure = row.made.figure
    if figure is None:
        return None
    return {
        "kind": figure.kind,
        "first_bend": figure.first,
        "last_bend": figure.last,
        "angle_deg": math.degrees(figure.angle),
        "height_m": figure.height,
        "multiplier": figure.multiplier,
        "travel_m": figure.travel,
        "shrink_m": figure.shrink,
        "shrink_to_center_m": figure.shrink_to_center,
        "between_starts_m": list(figure.spacings),
        "crown_m": figure.crown,
        "over_m": figure.over,
    }


def _piece(row: PieceRow) -> Data:
    piece = row.first
    return {
        "label": piece.label,
        "kind": piece.kind,
        "length_m": piece.length,
        "station_m": piece.start,
        "conduit": piece.conduit.label,
        "stick": piece.stick,
        "cut": piece.cut,
        "bends": list(piece.bends),
    }


def _section(row: SectionRow) -> Data:
    section = row.section
    return {
        "from": row.first,
        "to": row.last,
        "station_m": section.station,
        "length_m": section.length,
        "bends": list(section.bends),
        "turn_deg": math.degrees(section.turn),
        "turn_limit_deg": (
            math.degrees(section.turn_limit) if math.isfinite(section.turn_limit) else None
        ),
        "elbows": section.elbows,
        "sticks": section.sticks,
        "joints": section.joints,
        "supports": section.supports,
        "verdict": row.verdict,
    }
