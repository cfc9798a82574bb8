"""Machines, sheaves, anchors, fittings, reels and rooms from their tables in the model file."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np

from route3d.geometry.vectors import Floats
from route3d.model import (
    Adapter,
    Anchor,
    ConduitBrace,
    FloorBolts,
    Gear,
    LeadOff,
    Machine,
    Reel,
    Rigging,
    Room,
    Sheave,
    Vehicle,
    WorkPlatform,
)
from route3d.model.origin import Figures
from route3d.modelfile.build_parts import named
from route3d.modelfile.problems import Collector
from route3d.modelfile.toml_positions import KeyPath

if TYPE_CHECKING:
    from route3d.modelfile.job_entries import RoomEntry
    from route3d.modelfile.tackle_entries import (
        AdapterEntry,
        AnchorEntry,
        GearEntry,
        LeadOffEntry,
        MachineEntry,
        ReelEntry,
        RiggingEntry,
        SheaveEntry,
    )


# --- machine -------------------------------------------------------------------------------------


def build_machine(name: str, entry: MachineEntry, report: Collector) -> Machine | None:
    """A Machine; reports gears without a speed. None where a gear could not be made."""
    place: KeyPath = ("machine", name, "gears")
    stock = None
    tables: Figures = ()
    if entry.stock is not None:
        from route3d.standards.stock import machine_named

        stock = named(machine_named, entry.stock, ("machine", name), report)
        if stock is None:
            return None
    gears = [_gear(g, (*place, i), report) for i, g in enumerate(entry.gears or ())]
    if entry.gears is None and stock is not None:
        gears = [Gear(pull, speed, gear) for gear, pull, speed in stock.gears]
        tables = (("gears", stock.line_pull),)
    whole = tuple(g for g in gears if g is not None)
    _check_gear_names(whole, place, report)
    if len(whole) < len(gears):
        return None
    strongest = max((g.line_pull for g in whole), default=0.0) * entry.efficiency
    if entry.min_load >= strongest:
        least, most = (report.show(v, "force") for v in (entry.min_load, strongest))
        report.add(
            ("machine", name, "min_load"),
            f"the minimum load it can hold, {least}, is not below the {most} it can pull",
            "enter the smaller of the two as min_load",
        )
    return Machine(
        name=name,
        gears=whole,
        envelope=entry.envelope,
        min_load=entry.min_load,
        mass=entry.weight,
        efficiency=entry.efficiency,
        boom_rating=entry.boom_rating,
        line_height=entry.line_height,
        clearance=entry.clearance,
        stock="" if stock is None else stock.name,
        tables=tables,
    )


def _gear(entry: GearEntry, place: KeyPath, report: Collector) -> Gear | None:
    if (entry.speed is None) == (entry.speeds is None):
        both = "has both speed and speeds" if entry.speed is not None else "has no speed"
        report.add(
            place,
            f"the gear of {report.show(entry.line_pull, 'force')} {both}",
            "enter speed = ..., or speeds = [[load, speed], ...] if the speed falls with load",
        )
        return None
    speeds = tuple(entry.speeds or ())
    for i, ((low, fast), (high, slow)) in enumerate(pairwise(speeds), 1):
        if high <= low:
            report.add(
                (*place, "speeds", i), "the loads in speeds must increase", "put them in order"
            )
        elif slow > fast:
            report.add(
                (*place, "speeds", i),
                f"the speed increases from {report.show(fast, 'speed')} to "
                f"{report.show(slow, 'speed')} as the load increases",
                "a machine slows down under load: check the points",
            )
    gear = Gear(entry.line_pull, entry.speed or 0.0, entry.name or "", speeds, entry.gauge)
    return gear if entry.speed is not None else gear.at_rated_speed()


def _check_gear_names(gears: Sequence[Gear], place: KeyPath, report: Collector) -> None:
    seen: set[str] = set()
    for i, gear in enumerate(gears):
        if gear.name in seen:
            report.add((*place, i, "name"), f"two gears are named {gear.name!r}", "rename one")
        if gear.name:
            seen.add(gear.name)


# --- sheaves, fittings, reel -------------------------------------------------------------------


def build_sheave(name: str, entry: SheaveEntry, report: Collector) -> Sheave:
    """A Sheave as given."""
    return Sheave(name, entry.radius, entry.rating, entry.efficiency, entry.held_by)


def build_rigging(name: str, entry: RiggingEntry, report: Collector) -> Rigging:
    """The fittings as given."""
    return Rigging(
        name=name,
        swivel_rating=entry.swivel_rating,
        grip_rating=entry.grip_rating,
        eye_rating=entry.eye_rating,
        head_length=entry.head_length,
    )


def build_reel(name: str, entry: ReelEntry, report: Collector) -> Reel:
    """A Reel; reports a drum as wide as the flanges and a feed turn without its friction."""
    place: KeyPath = ("reel", name)
    if entry.drum_diameter is not None and entry.drum_diameter >= (entry.diameter or math.inf):
        report.add(
            (*place, "drum_diameter"),
            f"the drum diameter {report.show(entry.drum_diameter, 'diameter')} is not less "
            f"than the flange diameter {report.show(entry.diameter or 0.0, 'diameter')}",
            "enter the drum diameter under the last layer of cable",
        )
    _check_feed(place, entry, report)
    drag, brake = entry.drag, entry.brake_rating
    return Reel(
        name=name,
        mass=entry.weight,
        diameter=entry.diameter,
        width=entry.width,
        sheave_radius=entry.sheave_radius,
        drum_diameter=entry.drum_diameter,
        count=entry.reels,
        drag_force=drag.value if drag and drag.quantity == "force" else None,
        drag_length=drag.value if drag and drag.quantity == "length" else None,
        brake_torque=brake.value if brake and brake.quantity == "torque" else None,
        brake_force=brake.value if brake and brake.quantity == "force" else None,
        feed_turn=entry.feed_turn or 0.0,
        feed_efficiency=entry.feed_efficiency,
        feed_friction=entry.feed_friction,
    )


def _check_feed(place: KeyPath, entry: ReelEntry, report: Collector) -> None:
    """A feed turn needs what it costs, once; without a turn neither says anything."""
    given = [k for k in ("feed_efficiency", "feed_friction") if getattr(entry, k) is not None]
    if entry.feed_turn is not None and not given:
        report.add(
            (*place, "feed_turn"),
            "the turn of the cables at the feed has neither efficiency nor friction",
            "enter feed_efficiency for a sheave, or feed_friction for a guide",
        )
    if len(given) == 2:
        report.add(
            (*place, "feed_friction"),
            "the feed has both an efficiency and a friction",
            "enter feed_efficiency for a sheave, or feed_friction for a guide",
        )
    if entry.feed_turn is None and given:
        report.add(
            (*place, given[0]),
            f"{given[0]} has no effect without feed_turn",
            "add feed_turn, in degrees, or remove it",
        )


def build_lead_off(
    entries: Sequence[LeadOffEntry], sheaves: Mapping[str, Sheave]
) -> tuple[LeadOff, ...]:
    """The turns of the rope between conduit end and machine."""
    return tuple(LeadOff(e.turn, sheaves.get(e.sheave or ""), e.distance) for e in entries)


# --- anchors -----------------------------------------------------------------------------------

_NEEDED = {
    "conduit brace": ("rating",),
    "floor bolts": ("bolts", "bolt_tension", "bolt_shear"),
    "vehicle": ("weight", "friction", "drawbar_rating"),
    "work platform": (),
}
_OPTIONAL = {
    "conduit brace": ("adapters",),
    "vehicle": ("length", "width", "drawbar"),
    "work platform": ("brace",),
}


def build_anchors(entries: Mapping[str, AnchorEntry], report: Collector) -> dict[str, Anchor]:
    """Every anchor that could be made; work platforms take their braces from the others."""
    anchors: dict[str, Anchor] = {}
    for name, entry in entries.items():
        if entry.kind != "work platform" and _has_its_keys(name, entry, report):
            anchors[name] = _anchor(name, entry, report)
    for name, entry in entries.items():
        if entry.kind == "work platform" and _has_its_keys(name, entry, report):
            brace = anchors.get(entry.brace or "")
            if brace is not None and not isinstance(brace, ConduitBrace):
                report.add(
                    ("anchor", name, "brace"),
                    f"anchor {brace.name!r} is not a conduit brace",
                    "a machine on a work platform may only be braced against the conduit end",
                )
            anchors[name] = WorkPlatform(name, brace if isinstance(brace, ConduitBrace) else None)
    return anchors


def _has_its_keys(name: str, entry: AnchorEntry, report: Collector) -> bool:
    """Whether the keys its kind needs are there; reports those and the ones of other kinds."""
    needed = _NEEDED[entry.kind]
    known = {"kind", *needed, *_OPTIONAL.get(entry.kind, ())}
    for key in sorted(entry.model_fields_set - known):
        report.add(
            ("anchor", name, key),
            f"{key} does not apply to kind = '{entry.kind}'",
            f"valid keys: {', '.join(sorted(known - {'kind'}))}",
            at_key=True,
        )
    missing = [key for key in needed if getattr(entry, key) is None]
    for key in missing:
        about = type(entry).model_fields[key].description or ""
        fix = about.partition(": ")[2] or about
        report.add(("anchor", name, key), f"{key} is missing", f"add it: {fix}", at_key=True)
    return not missing


def _anchor(name: str, entry: AnchorEntry, report: Collector) -> Anchor:
    if entry.kind == "floor bolts":
        bolts = tuple(entry.bolts or ())
        _check_bolts(name, bolts, report)
        return FloorBolts(name, bolts, entry.bolt_tension or 0.0, entry.bolt_shear or 0.0)
    if entry.kind == "vehicle":
        return Vehicle(
            name=name,
            mass=entry.weight or 0.0,
            friction=entry.friction or 0.0,
            drawbar_rating=entry.drawbar_rating or 0.0,
            length=entry.length,
            width=entry.width,
            drawbar=entry.drawbar or 0.0,
        )
    adapters = [_adapter(name, i, a, report) for i, a in enumerate(entry.adapters or ())]
    return ConduitBrace(name, entry.rating or 0.0, tuple(adapters))


def _check_bolts(name: str, bolts: Sequence[tuple[float, float]], report: Collector) -> None:
    for i, bolt in enumerate(bolts):
        if bolt in bolts[:i]:
            report.add(("anchor", name, "bolts", i), "two bolts at the same place", "remove one")


def _adapter(name: str, index: int, entry: AdapterEntry, report: Collector) -> Adapter:
    from route3d.standards.tables import NotInTable, trade_inches

    place: KeyPath = ("anchor", name, "adapters", index)
    smallest, largest = entry.trade_sizes
    try:
        if trade_inches(smallest) > trade_inches(largest):
            report.add(
                (*place, "trade_sizes"), "the smallest trade size must come first", "swap the two"
            )
    except NotInTable as error:
        report.add((*place, "trade_sizes"), str(error))
    if entry.light_rating is None and entry.locked_rating is None:
        report.add(place, "the adapter has no rating", "enter light_rating, locked_rating or both")
    if (entry.light_rating or 0.0) > (entry.locked_rating or float("inf")):
        report.add(
            (*place, "light_rating"),
            "the light adapter's rating exceeds that of the locked one",
            "check both ratings",
        )
    return Adapter(smallest, largest, entry.light_rating, entry.locked_rating)


# --- rooms -------------------------------------------------------------------------------------


def build_room(index: int, entry: RoomEntry, report: Collector) -> Room:
    """A Room; reports polygons that cross themselves and a ceiling below the floor."""
    place: KeyPath = ("site", "room", index)
    if entry.ceiling is not None and entry.ceiling <= entry.floor:
        report.add(
            (*place, "ceiling"),
            f"the ceiling at {report.show(entry.ceiling, 'length')} is not above the floor "
            f"at {report.show(entry.floor, 'length')}",
            "z is up; check both elevations",
        )
    _check_polygon((*place, "outline"), entry.outline, report)
    for i, obstacle in enumerate(entry.obstacles):
        _check_polygon((*place, "obstacles", i), obstacle, report)
    return Room(
        entry.name,
        tuple(entry.outline),
        entry.floor,
        entry.ceiling,
        tuple(tuple(obstacle) for obstacle in entry.obstacles),
    )


def _check_polygon(
    place: KeyPath, corners: Sequence[tuple[float, float]], report: Collector
) -> None:
    if not _is_simple(np.array(corners)):
        report.add(
            place, "the polygon crosses itself or has no area", "enter its corners in order, once"
        )


def _is_simple(corners: Floats) -> bool:
    """Whether a polygon (n, 2) has area and no two of its sides meet but neighbors at a corner.

    A plain test of all pairs of sides: shapely would cost every command its start.
    """
    a, b = corners, np.roll(corners, -1, axis=0)
    area = float((a[:, 0] * b[:, 1] - b[:, 0] * a[:, 1]).sum()) / 2.0
    size = float(np.ptp(corners, axis=0).max())
    if abs(area) <= 1e-9 * size**2 or (np.hypot(*(b - a).T) == 0).any():
        return False
    i, j = np.triu_indices(len(corners), k=2)
    apart = (i != 0) | (j != len(corners) - 1)  # first and last side are neighbors
    i, j = i[apart], j[apart]

    def side(p: Floats, q: Floats, r: Floats) -> Floats:
        turn = (q[:, 0] - p[:, 0]) * (r[:, 1] - p[:, 1]) - (q[:, 1] - p[:, 1]) * (r[:, 0] - p[:, 0])
        return np.sign(np.where(np.abs(turn) <= 1e-12 * size**2, 0.0, turn))

    first, second = side(a[i], b[i], a[j]), side(a[i], b[i], b[j])
    third, fourth = side(a[j], b[j], a[i]), side(a[j], b[j], b[i])
    low = np.maximum(np.minimum(a[i], b[i]), np.minimum(a[j], b[j]))
    high = np.minimum(np.maximum(a[i], b[i]), np.maximum(a[j], b[j]))
    boxes_meet = (low <= high).all(axis=1)
    meet = boxes_meet & (first * second <= 0) & (third * fourth <= 0)
    return not meet.any()
