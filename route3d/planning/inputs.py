"""Every input of a job by its key in the model file, and where those of several jobs differ."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, fields, is_dataclass
from pathlib import Path
from typing import Any, TypeAlias

from route3d.model.conduit import Conduit
from route3d.model.job import Job
from route3d.model.machine import Gear
from route3d.model.rigging import Reel
from route3d.model.run import EndSetup, Run
from route3d.model.site import Placing, Site

InputValue: TypeAlias = float | str | tuple[float, ...] | None
# Values this close are one value that was written in two units.
_SAME = 1e-9
# What a record holds beside what the file gives: its name is in the key, the rest is worked out.
_OMITTED = {
    "name": (),
    "source": (Conduit,),
    "doubtful": (Conduit,),
    "friction_learned": (),
    "elbow_radius": (),
    "elbow_source": (),
    "min_bend_radius": (),
    "min_bend_source": (),
    "rules_assumed": (),
    "frame": (Site,),
    "given": (),
}
KEY_OF = {
    "mass": "weight",
    "stock_type": "type",
    "friction_low": "friction.low",
    "friction_high": "friction.high",
    "friction_source": "friction.source",
    "friction_pulls": "friction.history",
    "rooms": "room",
    "surrounds": "context",
    "placings": "context",
    "between_runs": "clearance_between_runs",
    "free_ends": "clearance_free_ends",
    "clearances": "clearance",
    "levels": "level",
}
"""What a field of a record is called in the model file, where that differs."""
QUANTITY_OF = {
    name: quantity
    for quantity, names in {
        "diameter": "diameter inner_diameter outer_diameter drum_diameter spacing cover box"
        " between_runs support_room trench_side bedding least",
        "radius": "sheave_radius radius bend elbow_radius min_bend_radius",
        "length": "at length width drawbar distance head_length drag_length envelope outline"
        " obstacles bolts line_height clearance free_ends floor ceiling origin offset level points"
        " feed_slack pull_slack rope_tail lubricant_interval spacer_interval",
        "force": "max_tension max_grip_tension max_eye_tension min_load rated_load"
        " breaking_strength line_pull boom_rating rating light_rating locked_rating"
        " drawbar_rating bolt_tension bolt_shear swivel_rating grip_rating eye_rating drag_force"
        " brake_force reel_tension gauge_step",
        "sidewall": "sidewall_limit rope_wear",
        "angle": "turn feed_turn lead_angle north",
        "time": "setup_time gear_change_time lubricant_stop figure_eight_time splice_time",
        "temperature": "lowest_temperature laying_temperature",
        "ratio": "friction friction_low friction_high feed_friction efficiency feed_efficiency"
        " friction_correlation"
        " restart margin gear_margin time_tolerance friction_band bend_multiple"
        " training_multiple trench_slope",
        "factor": "stretch",
        "weight": "weight",
        "conductor_area": "area",
        "stress": "max_stress",
        "mass": "mass",
        "speed": "speed",
        "torque": "brake_torque",
        "voltage": "voltage",
    }.items()
    for name in names.split()
}
"""The quantity of a field of a record by its name."""


@dataclass(frozen=True, slots=True)
class Input:
    """One input in SI, or its words; ``quantity`` is "" for words and plain numbers."""

    value: InputValue
    quantity: str = ""


@dataclass(frozen=True, slots=True)
class InputDifference:
    """One ``key`` of the model file and what each job has there; None where it has no such key."""

    key: str
    inputs: tuple[Input | None, ...]


def differences(jobs: Sequence[Job]) -> tuple[InputDifference, ...]:
    """Where the jobs differ, in the order of the keys of the first; the rest of the others after.

    A table that a job does not have at all is one difference, and so is a route with another
    number of points.
    """
    tables = [_tables(job) for job in jobs]
    return tuple(_differing(tables))


def _differing(tables: Sequence[dict[str, dict[str, Input]]]) -> Iterator[InputDifference]:
    for name in dict.fromkeys(name for of_job in tables for name in of_job):
        found = [of_job.get(name) for of_job in tables]
        held = [table for table in found if table is not None]
        if len(held) < len(found) and not name.endswith(".route"):  # that of a run says so
            there = (None if table is None else Input("given") for table in found)
            yield InputDifference(name, tuple(there))
        keys = dict.fromkeys(key for table in held for key in table) if len(held) > 1 else {}
        counts = {table["points"].value for table in held if "points" in table}
        for key in keys:
            if len(counts) > 1 and key.startswith("point "):
                continue  # points are compared one by one only with a route of as many
            inputs = tuple(None if table is None else table.get(key) for table in found)
            if not _alike([x for x, table in zip(inputs, found, strict=True) if table is not None]):
                yield InputDifference(f"{name}.{key}" if name else key, inputs)


def _alike(inputs: Sequence[Input | None]) -> bool:
    first, *others = (None if x is None or x.value == "" else x.value for x in inputs)
    return all(_same(first, other) for other in others)


def _same(a: InputValue, b: InputValue) -> bool:
    if isinstance(a, tuple) and isinstance(b, tuple):
        return len(a) == len(b) and all(map(_same, a, b))
    if isinstance(a, float | int) and isinstance(b, float | int):
        return math.isclose(a, b, rel_tol=_SAME, abs_tol=1e-12)
    return a == b


# --- one job --------------------------------------------------------------------------------------


def _tables(job: Job) -> dict[str, dict[str, Input]]:
    """The tables of a job by their names in the file, each with its keys."""
    tables: dict[str, dict[str, Input]] = {"": {"title": Input(job.title)}}
    tables[""]["units"] = Input(job.units)
    for kind, record in _named(job):
        tables.setdefault(f"{kind}.{record.name}", dict(_keys_of(record)))
    for run in job.runs:
        tables[f"run.{run.name}"] = dict(_run(run))
        tables[f"run.{run.name}.route"] = dict(_points(run))
    for bank in job.banks:
        tables[f"bank.{bank.run}"] = dict(_keys_of(bank))
    for number, reel in enumerate(job.cable_reels, 1):
        tables[f"cable_reel.{number}"] = dict(_keys_of(reel))
    site = job.site
    tables["site"] = dict(_keys_of(site)) | dict(_keys_of(site.frame))
    tables["practice"] = dict(_keys_of(job.practice))
    tables["plan"] = dict(_keys_of(job.allowances))
    if job.spread is not None:
        tables["spread"] = dict(_keys_of(job.spread))
    tables["document"] = dict(_keys_of(job.document))
    return tables


def _named(job: Job) -> Iterator[tuple[str, Any]]:
    """The cables, conduits and equipment that a job uses, with the name of their kind."""
    for run in job.runs:
        yield from (("cable", cable) for cable, _ in run.cables.items)
    for run in job.runs:
        yield from (("conduit", conduit) for conduit in run.route.conduits)
    for run in job.runs:
        places: tuple[Run | EndSetup, ...] = (run, *run.ends)
        yield from (("rope", run.rope),) if run.rope is not None else ()
        for place in places:
            for kind in ("machine", "anchor", "rigging", "reel"):
                if (record := getattr(place, kind)) is not None:
                    yield kind, record
            turns = place.lead_off or ()
            yield from (("sheave", turn.sheave) for turn in turns if turn.sheave is not None)
        vertices = run.route.vertices
        yield from (("sheave", vertex.sheave) for vertex in vertices if vertex.sheave is not None)
    yield from (("machine", machine) for machine in job.machines)


def _keys_of(record: Any, before: str = "") -> Iterator[tuple[str, Input]]:
    """The keys of a record with those of the records in it."""
    for field in fields(record):
        value, name = getattr(record, field.name), field.name
        kinds = _OMITTED.get(name)
        if kinds is not None and (not kinds or isinstance(record, kinds)):
            continue
        key = before + KEY_OF.get(name, name)
        if isinstance(record, Reel) and name == "count":
            key = before + "reels"
        quantity = QUANTITY_OF.get(name, "")
        if isinstance(record, Reel) and name == "width":
            quantity = "diameter"
        yield from _values(key, value, quantity)


def _values(key: str, value: Any, quantity: str) -> Iterator[tuple[str, Input]]:
    """One value, or each of the records it holds."""
    if is_dataclass(value) and getattr(value, "name", None):
        yield key, Input(str(getattr(value, "name")))  # noqa: B009 - it has a table of its own
    elif isinstance(value, Placing):  # its keys stand beside that of the file
        yield from _keys_of(value, key.removesuffix("placing"))
    elif is_dataclass(value):
        yield from _keys_of(value, f"{key}.")
    elif isinstance(value, tuple) and value and is_dataclass(value[0]):
        for number, record in enumerate(value, 1):
            name = getattr(record, "name", "")
            if isinstance(record, Gear):  # their names differ more than they do
                yield f"{key}.{number}.name", Input(name)
                name = ""
            yield from _keys_of(record, f"{key}.{name or number}.")
    elif isinstance(value, Path):
        yield key, Input(value.name)
    elif isinstance(value, bool):
        yield key, Input("true" if value else "false")
    elif isinstance(value, float | int | str) or value is None:
        yield key, Input(value, "" if isinstance(value, str) else quantity)
    elif all(isinstance(item, float | int | str | Path) for item in _flat(value)):
        yield key, _several(value, quantity)  # what else a record holds is no input


def _several(value: Iterable[Any], quantity: str) -> Input:
    """A list: numbers of one quantity, or words."""
    flat = list(_flat(sorted(value) if isinstance(value, frozenset) else value))
    if flat and all(isinstance(item, float | int) for item in flat):
        return Input(tuple(float(item) for item in flat), quantity)
    return Input(", ".join(x.name if isinstance(x, Path) else str(x) for x in flat))


def _flat(items: Iterable[Any]) -> Iterator[Any]:
    for item in items:
        if isinstance(item, tuple):
            yield from _flat(item)
        else:
            yield item


def _run(run: Run) -> Iterator[tuple[str, Input]]:
    """The keys of a run but for its route."""
    yield "cables", Input(run.cables.describe())
    yield "attach", Input(run.attach)
    yield "arrangement", Input(run.arrangement)
    auto = run.reel_tension is None
    yield "reel_tension", Input("auto" if auto else run.reel_tension, "" if auto else "force")
    for kind in ("rope", "machine", "anchor", "rigging", "reel"):
        record = getattr(run, kind)
        yield kind, Input(None if record is None else record.name)
    yield from _values("lead_off", run.lead_off, "")
    yield "can_splice", Input(", ".join(run.route.label(i) for i in sorted(run.splices)))
    for end in run.ends:
        yield from _keys_of(end, f"ends.{end.name}.")


def _points(run: Run) -> Iterator[tuple[str, Input]]:
    """The points of a route by their number, and how many there are."""
    yield "points", Input(float(len(run.route.vertices)), "count")
    conduits = (*run.route.conduits, None)
    for i, (vertex, conduit) in enumerate(zip(run.route.vertices, conduits, strict=True), 1):
        point = f"point {i}"
        yield f"{point}.at", Input(vertex.point, "length")
        yield f"{point}.bend", Input(vertex.bend or None, "radius")
        yield f"{point}.name", Input(vertex.name)
        yield f"{point}.access", Input(", ".join(sorted(vertex.access)))
        yield f"{point}.conduit", Input(None if conduit is None else conduit.name)
        yield f"{point}.box", Input(vertex.box, "diameter")
        yield f"{point}.sheave", Input(None if vertex.sheave is None else vertex.sheave.name)
