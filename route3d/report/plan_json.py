"""The pull plan as plain data for machines: SI numbers, text for people in SI."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any

from route3d.model.job import Job
from route3d.planning.clearance.near import MeshExtents
from route3d.planning.pull_plan.dial import dial_rows, restart_marks
from route3d.planning.pull_plan.gears import GearPlan
from route3d.planning.pull_plan.load_path import Link
from route3d.planning.pull_plan.plan import Plan
from route3d.planning.pull_plan.progress import gear_name
from route3d.planning.splitting.ways import SplitSearch
from route3d.report.cards import MACHINE_ROWS
from route3d.report.json_result import Data, falling_data, finding_data, job_data, not_judged_data
from route3d.report.plan_blocks import weightiest
from route3d.report.plan_steps import allowance_words, steps
from route3d.report.plan_tackle import way_command
from route3d.report.read_aloud import lines_aloud
from route3d.report.remedies import remedies_data
from route3d.report.table_values import origins_data
from route3d.units import render


def plan_data(job: Job, plans: Sequence[Plan], site: Sequence[MeshExtents] = ()) -> Data:
    """The plans of a job; of the ``site`` the meshes that machines could not be placed among."""
    return _job(job, [_run(plan) for plan in plans], site)


def way_data(job: Job, ways: Sequence[Sequence[Plan]], site: Sequence[MeshExtents] = ()) -> Data:
    """The plans of one way to split each run: ``stages`` holds a plan for each, in order."""
    return _job(job, [_way(plans) for plans in ways], site)


def _job(job: Job, runs: list[Data], site: Sequence[MeshExtents]) -> Data:
    return {
        **job_data(job),
        "not_judged": not_judged_data(site),
        "runs": runs,
        "origins": origins_data(job.origins),
    }


def _way(plans: Sequence[Plan]) -> Data:
    place = plans[0].place
    if place is None:
        raise ValueError("plans of a way have their place in it")
    return {
        "name": place.whole.name,
        "way": place.number,
        "ways": place.ways,
        "kind": place.way.kind,
        "splices": [place.whole.route.label(i) for i in place.way.splices],
        "setups": place.way.setups,
        "time_s": place.way.time,
        "utilization": place.way.utilization,
        "stops": any(plan.stops for plan in plans),
        "stages": [_stage_plan(plan) for plan in plans],
    }


def _stage_plan(plan: Plan) -> Data:
    place = plan.place
    if place is None:
        raise ValueError("plans of a way have their place in it")
    return {
        "stage": place.index,
        "of": place.count,
        "cable": place.stage.cable,
        "off_reel": place.stage.reel,
        "drawn_through_m": place.stage.cable_length,
        "laid_in_figure_eights_m": place.stage.laid,
        **_run(plan),
        "why": "",
    }


def _run(plan: Plan) -> Data:
    """One plan. Of a pull that must not be made nothing a crew would act on is in it.

    Place, gears, crew time and gauge, what to do after a stop, and steps are then null or empty,
    and ``reasons`` says what stops it.
    """
    data = _all_of(plan)
    if not plan.stops:
        return data
    none = dict.fromkeys(("place", "gears", "crew_time_s", "acceptance", "cards", "safe_to_stop_m"))
    empty = (
        "gauge",
        "accidental_stops",
        "planned_stops",
        "hanging_at_stops",
        "sheave_forces",
        "steps",
    )
    return data | none | {name: [] for name in empty}


def _all_of(plan: Plan) -> Data:
    pull, fed = plan.pull, plan.feeding
    return {
        "must_not_be_pulled": plan.stops,
        "reasons": [finding_data(f) for f in plan.reasons],
        "remedies": remedies_data(plan.result.advice),
        "name": plan.result.run.name,
        "feed": pull.feed_name,
        "pull": pull.pull_name,
        "stops": plan.stops,
        "why": render(plan.why, "SI"),
        **falling_data(plan.result),
        "machine": plan.machine.name,
        "peak_N": plan.peak,
        "peak_moving_N": float(plan.pace.history.load.max()),
        "place": _place(plan),
        "held": {
            "kind": plan.held.kind,
            "holds": [
                {
                    "name": h.name,
                    "load_N": h.load,
                    "rating_N": h.rating,
                    "ratio": h.ratio,
                    "source": h.source,
                }
                for h in plan.held.holds
            ],
            "notes": [render(n, "SI") for n in plan.held.notes],
        },
        "gears": _gears(plan.pace.gears, plan),
        "crew_time_s": {
            "setup": plan.pace.crew.setup,
            "pulling": plan.pace.crew.pulling,
            "gear_changes": plan.pace.crew.gear_changes,
            "lubricant_stops": plan.pace.crew.lubricant_stops,
            "total": plan.pace.crew.total,
        },
        "history": _history(plan),
        "gauge": [
            {
                "pulled_m": row.pulled,
                "station_m": row.station,
                "place": row.place,
                "kind": row.kind,
                "gear": gear_name(row.gear, plan.machine),
                "first_move_N": row.first_move,
                "first_move_stop_N": _finite(row.first_stop),
                "expected_N": row.expected,
                "expected_low_N": row.expected_low,
                "expected_high_N": row.expected_high,
                "caution_N": row.caution,
                "stop_N": _finite(row.stop),
                "first_limit": row.limit,
                "first_limit_place": row.limit_place,
                "stop_at_low_friction_N": _finite(row.slick.reading),
                "cannot_show": list(row.hidden),
                "stalls_N": _finite(row.stalls),
                "usable": row.readable,
            }
            for row in plan.gauge
        ],
        "cards": _cards(plan),
        "acceptance": _acceptance(plan),
        "accidental_stops": [
            {
                "from_m": stop.start,
                "to_m": stop.end,
                "restart": stop.gear is not None,
                "gear": None if stop.gear is None else gear_name(stop.gear, plan.machine),
                "first_move_least_N": stop.least,
                "first_move_N": stop.first_move,
                "first_move_at_most_N": None if stop.gear is None else _finite(stop.most),
                "limit": stop.limit,
                "limit_utilization": stop.share,
            }
            for stop in plan.accidents
        ],
        "planned_stops": [
            {
                "pulled_m": stop.pulled,
                "wanted_m": stop.wanted,
                "first_move_N": stop.restart,
                "tension_N": stop.tension,
            }
            for stop in plan.pace.stops.stops
        ],
        "safe_to_stop_m": plan.pace.moves.safe.tolist(),
        "hanging_at_stops": [
            {"pulled_m": h.pulled, "station_m": h.station, "feed_N": h.feed, "head_N": h.head}
            for h in plan.hanging
        ],
        "load_path": [_link(link) for link in plan.links],
        "sheaves": [
            {
                "name": sheave.name,
                "radius_m": sheave.radius,
                "least_by_bend_m": sheave.by_bend,
                "least_by_sidewall_m": sheave.by_sidewall,
            }
            for sheave in plan.radii
        ],
        "sheave_forces": [
            {
                "name": one.sheave.name,
                "at": one.place,
                "turn_deg": math.degrees(one.turn),
                "force_N": one.force,
                "direction": None if one.direction is None else one.direction.tolist(),
                "held_by": one.sheave.held_by or None,
            }
            for one in plan.sheaves
        ],
        "reel": {
            "place": fed.place,
            "cable_length_m": fed.cable_length,
            "total_length_m": fed.total_length,
            "pulled_out_m": fed.pulled_out,
            "left_at_reel_m": fed.left_over,
            "tension_N": fed.tension,
            "brake_window_N": None
            if fed.window is None
            else [fed.window.at_least, fed.window.at_most],
            "brake_moment_Nm": fed.moment,
            "full_reel_kg": fed.reel_mass,
            "cable_kg": fed.set_mass,
        },
        "supplies": _supplies(plan),
        "splits": _splits(plan.splits, plan),
        "findings": [finding_data(f) for f in plan.all_findings],
        "steps": [{"text": text, "hold": hold} for text, hold in steps(plan, "SI")],
        "allowed_for": allowance_words(plan, "SI"),
    }


def _cards(plan: Plan) -> Data:
    """What the cards have of their own: readings at the marks of the dial, lines to read aloud."""
    step = plan.pace.allowances.gauge_step
    return {
        "gauge_step_N": step,
        "gauge": [
            {
                "pulled_m": each.row.pulled,
                "first_move_N": each.first_move,
                "expected_N": each.expected,
                "caution_N": each.caution,
                "stop_N": _finite(each.stop),
                "rule": each.rule,
            }
            for each in dial_rows(plan.gauge, step, weightiest(plan.gauge, MACHINE_ROWS))
        ],
        "restarts": [
            {
                "from_m": stop.start,
                "to_m": stop.end,
                "first_move_N": None if stop.gear is None else restart_marks(stop, step)[1],
                "at_most_N": None if stop.gear is None else restart_marks(stop, step)[2],
            }
            for stop in plan.accidents
        ],
        "read_aloud": [
            {"pulled_m": line.pulled, "text": line.said("SI")} for line in lines_aloud(plan)
        ],
    }


def _acceptance(plan: Plan) -> Data:
    """The limiter's set point and the check before each stage."""
    checks = plan.acceptance
    return {
        "limiter_set_point_N": _finite(checks.limiter),
        "one_setting": checks.one_setting,
        "brake_window_N": [checks.window.at_least, checks.window.at_most],
        "stages": [
            {
                "pulled_m": stage.pulled,
                "kind": stage.kind,
                "place": stage.place,
                "gear": gear_name(stage.gear, plan.machine),
                "limiter_N": _finite(stage.limiter),
                "largest_expected_N": stage.largest,
                "first_move_N": stage.first_move,
                "first_move_stop_N": _finite(stage.first_stop),
                "first_move_at_most_N": _finite(checks.first_most(stage)[0]),
                "first_move_held_by": checks.first_most(stage)[1],
                "stalls_N": _finite(stage.stalls),
                "usable": stage.readable,
            }
            for stage in checks.stages
        ],
    }


def _finite(value: float | None) -> float | None:
    """A number, or None: JSON has no infinity."""
    return value if value is not None and math.isfinite(value) else None


def _place(plan: Plan) -> Data:
    search = plan.placement
    return {
        "why": render(search.why, "SI"),
        "tried": search.tried,
        "good": search.good,
        "best": [
            {
                "feet_m": list(p.position),
                "yaw_rad": p.yaw,
                "lead_angle_rad": p.lead_angle,
                "rope_m": p.distance,
                "least_gap_m": p.clear_least,
                "reasons": render(p.reasons, "SI"),
            }
            for p in search.best
        ],
        "failures": [
            {"reason": f.reason, "count": f.count, "text": render(f.text, "SI")}
            for f in search.failures
        ],
    }


def _gears(gears: GearPlan, plan: Plan) -> Data:
    over = gears.overload
    return {
        "spans": [
            {
                "gear": gear_name(s.gear, plan.machine),
                "from_m": s.start,
                "to_m": s.end,
                "peak_load_N": s.peak_load,
                "time_s": s.time,
            }
            for s in gears.spans
        ],
        "changes": [
            {
                "pulled_m": c.pulled,
                "station_m": c.station,
                "from": gear_name(c.from_gear, plan.machine),
                "to": gear_name(c.to_gear, plan.machine),
                "restart_load_N": c.restart_load,
            }
            for c in gears.changes
        ],
        "time_s": gears.time,
        "strongest_gear_time_s": gears.slow_time,
        "margin_kept": gears.margin_kept,
        "overload": None if over is None else over._asdict(),
    }


def _history(plan: Plan) -> list[Data]:
    past = plan.pace.history
    columns = {
        "station_m": past.station,
        "pulled_m": past.pulled,
        "machine_load_N": past.load,
        "restart_load_N": past.restart,
        "head_tension_N": past.head_tension,
        "peak_sidewall_N_per_m": past.sidewall,
    }
    values = zip(*(column.tolist() for column in columns.values()), strict=True)
    return [dict(zip(columns, row, strict=True)) for row in values]


def _link(link: Link) -> Data:
    return {
        "name": link.name,
        "load_N": link.load,
        "rating_N": link.rating,
        "ratio": link.ratio,
        "load_at_machine_pull_N": link.at_machine_pull,
        "source": link.source,
    }


def _supplies(plan: Plan) -> Data:
    kit = plan.supplies
    rope: Any = None
    if kit.rope is not None:
        rope = {
            "name": kit.rope.name,
            "length_m": kit.rope.length,
            "load_N": kit.rope.load,
            "stretch_m": kit.rope.stretch,
            "energy_J": kit.rope.energy,
        }
    return {
        "rope": rope,
        "lubricant": [
            {
                "entry": p.entry,
                "conduit": p.conduit,
                "length_m": p.length,
                "bore_m": p.bore,
                "volume_m3": p.volume,
            }
            for p in kit.lubricant
        ],
        "lubricant_source": kit.lubricant_source,
        "fittings": list(kit.fittings),
    }


def _splits(search: SplitSearch | None, plan: Plan) -> Data | None:
    if search is None:
        return None
    label = plan.result.run.route.label
    return {
        "solved": search.solved,
        "why_none": render(search.why_none, "SI"),
        "plans": [
            {
                "way": number,
                "command": way_command(str(number)),
                "kind": way.kind,
                "setups": way.setups,
                "time_s": way.time,
                "utilization": way.utilization,
                "text": render(way.text, "SI"),
                "splices": [label(i) for i in way.splices],
                "stages": [
                    {
                        "cable": s.cable,
                        "feed": label(s.feed),
                        "pull": label(s.pull),
                        "off_reel": s.reel,
                        "utilization": s.utilization,
                        "governing": s.governing,
                        "peak_load_N": s.peak_load,
                        "reel_tension_N": s.reel_tension,
                        "cable_length_m": s.cable_length,
                        "laid_m": s.laid,
                        "time_s": s.time,
                    }
                    for s in way.stages
                ],
            }
            for number, way in enumerate(search.plans, 1)
        ],
    }
