"""What may be changed on the page, how its text is read, and the run with the changes in it.

An edit is a key and an SI value. The keys: ``friction:NAME`` of a conduit, ``bend:NUMBER`` radius,
``reel`` tension (None for the smallest brake), ``machine`` by name, ``line_pull:GEAR``,
``speed:GEAR``, and ``route`` for all points of the route at once. An edited route has the radii
of its bends itself: no ``bend:NUMBER`` stands beside it.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from typing import Literal, get_args

import numpy as np
from pydantic_core import PydanticCustomError

from route3d.errors import InputError, Problem
from route3d.model.conduit import Conduit
from route3d.model.machine import Gear, Machine
from route3d.model.route import Route
from route3d.model.run import Run
from route3d.modelfile import fields
from route3d.planning.pull_plan.progress import gear_name
from route3d.planning.remedies.edits import BendRadius, carried_out
from route3d.units import convert, show, unit_label
from viewer.playback import in_gear
from viewer.web import route_edit
from viewer.web.route_edit import RouteEdit, as_given, route_words, routed

Value = float | int | str | None | RouteEdit
Edits = Mapping[str, Value]

_READS = {
    "at": fields.Coordinate,
    "leg": fields.Span,
    "friction": fields.Friction,
    "bend": fields.Radius,
    "reel": fields.LeastForce,
    "line_pull": fields.Force,
    "speed": fields.Speed,
}
_LEAST_FRICTION, _MOST_FRICTION = 0.05, 0.8  # ends of the slider: what is met in the field
_BARE = re.compile(r"[+\-−]?(\d+\.?\d*|\.\d+)([eE][+\-]?\d{1,3})?")


@dataclass(frozen=True, slots=True)
class Field:
    """One thing that can be edited: its ``value`` now and as ``given`` in the file, SI.

    ``note`` says what else goes with an edit of it. An edited route has the ``routes`` of the file
    and of the run.
    """

    key: str
    group: Literal["friction", "reel", "machine", "gear", "bend", "route"]
    label: str
    quantity: str
    value: Value
    given: Value
    note: str = ""
    routes: tuple[Route, Route] | None = None

    @property
    def edited(self) -> bool:
        """True where the value is not that of the file."""
        if self.routes is not None:
            return self.routes[0] != self.routes[1]
        return self.value != self.given

    def text(self, system: str) -> str:
        """The value as typed into the field, without its unit."""
        return _typed(self.value, self.quantity, system)

    def given_text(self, system: str) -> str:
        """The same of the value of the file."""
        return _typed(self.given, self.quantity, system)

    def span(self, system: str) -> tuple[float, float] | None:
        """Minimum and maximum of a number, in the unit shown; for friction those of the slider."""
        if self.group == "friction" and isinstance(self.value, float):
            return _LEAST_FRICTION, max(_MOST_FRICTION, self.value)
        reads = _reads(self.key)
        if reads is None:
            return None
        low = convert(reads.least or reads.above or 0.0, reads.quantity, system)
        return low, convert(reads.most, reads.quantity, system)

    def change(self, system: str) -> str:
        """The old and the new value, in words."""
        if self.routes is not None and isinstance(self.value, RouteEdit):
            return route_words(self.value, *self.routes, system)
        was, now = (_worded(v, self.quantity, system) for v in (self.given, self.value))
        if was == now:  # they differ in digits that are not shown
            was, now = (_typed(v, self.quantity, system) for v in (self.given, self.value))
            now = f"{now} {unit_label(self.quantity, system)}".rstrip()
        more = f" ({self.note})" if self.note else ""
        return f"{self.label}: {was} → {now}{more}"


def edit_fields(given: Run, now: Run, edits: Edits) -> tuple[Field, ...]:
    """All fields that can be edited: the run as given, and as it is with the edits."""
    tension = (now.reel_tension, given.reel_tension)
    found = [*_frictions(given, now), Field("reel", "reel", "Reel tension", "force", *tension)]
    name, was = ("" if m is None else m.name for m in (now.machine, given.machine))
    found.append(Field("machine", "machine", "Machine", "", name, was))
    if now.machine is not None:
        found += _gears(now.machine, given.machine)
    edit = edits.get("route")
    if not isinstance(edit, RouteEdit):
        return (*found, *_bends(given, now))
    plain = replace(given.route, legs=None)
    routes = plain, replace(now.route, conduits=_conduits_of(given, edit), legs=None)
    route = Field("route", "route", "Route", "", edit, as_given(given.route), "", routes)
    return (*found, *_bends(now, now), route)


def _conduits_of(given: Run, edit: RouteEdit) -> tuple[Conduit, ...]:
    """The conduits of the legs of an edited route, without edits of their own."""
    return tuple(edit.origin(given.route).conduits[p.conduit] for p in edit.points[:-1])


def _frictions(given: Run, now: Run) -> list[Field]:
    before = {c.name: c for c in given.route.conduits}
    after = {c.name: c for c in now.route.conduits}
    return [
        Field(
            f"friction:{n}",
            "friction",
            f"Friction in {n} ({c.label})",
            "ratio",
            c.friction,
            b.friction,
        )
        for n, b in before.items()
        if (c := after.get(n)) is not None
    ]


def _gears(now: Machine, given: Machine | None) -> list[Field]:
    same = given is not None and given.name == now.name
    found = []
    for i, gear in enumerate(now.gears):
        was = given.gears[i] if same and given is not None else gear
        name = f"{in_gear(gear_name(gear, now))} " if len(now.gears) > 1 else ""
        words = ("line pull", "speed at rated pull" if gear.speeds else "speed")
        pull, speed = (f"{name}{word}" for word in words)
        pull, speed = (word[0].upper() + word[1:] for word in (pull, speed))
        note = "speeds at all loads scaled with it" if gear.speeds else ""
        loads, speeds = (gear.line_pull, was.line_pull), (gear.speed, was.speed)
        found.append(Field(f"line_pull:{i}", "gear", pull, "force", *loads))
        found.append(Field(f"speed:{i}", "gear", speed, "speed", *speeds, note))
    return found


def _bends(given: Run, now: Run) -> list[Field]:
    found = []
    for number, i in enumerate(_bent(given), 1):
        was, vertex = given.route.vertices[i], now.route.vertices[i]
        label = f"Bend {number}{f' at {vertex.name}' if vertex.name else ''} radius"
        found.append(Field(f"bend:{number}", "bend", label, "radius", vertex.bend, was.bend))
    return found


def _bent(run: Run) -> list[int]:
    """The vertices of the bends, in the order of their numbers."""
    return [i for i, vertex in enumerate(run.route.vertices) if vertex.bend > 0]


# --- text --------------------------------------------------------------------------------------


def _typed(value: Value, quantity: str, system: str) -> str:
    if value is None:
        return "auto"
    if isinstance(value, str | RouteEdit):
        return value if isinstance(value, str) else "as edited"
    digits = f"{convert(float(value), quantity, system):.6g}"
    return digits if "e" not in digits else f"{convert(float(value), quantity, system):.4f}"


def exact_text(key: str, value: Value) -> str:
    """The value with all its digits, as ``read_value`` reads it in SI."""
    if isinstance(value, RouteEdit):
        return route_edit.route_text(value)
    reads = _reads(key)
    if reads is None or not isinstance(value, float):
        return "auto" if value is None else str(value)
    return np.format_float_positional(convert(value, reads.quantity, "SI"), trim="-")


def _worded(value: Value, quantity: str, system: str) -> str:
    if isinstance(value, str):
        return value or "none"
    if value is None or isinstance(value, RouteEdit):
        return "auto" if value is None else "as edited"
    text, number = show(float(value), quantity, system), convert(float(value), quantity, system)
    shown = float(text.split(" ")[0].rstrip("°%").replace(",", ""))
    if abs(shown - number) <= 0.005 * abs(number):
        return text
    return f"{number:.3g} {unit_label(quantity, system)}".rstrip()  # too small for its decimals


def read_value(key: str, text: str, system: str) -> Value:
    """The SI value of typed text; a number without a unit is in the unit shown at the field.

    Raises InputError for text that cannot be read or a value out of range.
    """
    kind = key.partition(":")[0]
    text = text.strip()
    if kind == "machine":
        return text
    if kind == "reel" and text.lower() == "auto":
        return None
    reads = _reads(key)
    if reads is None:
        raise InputError(Problem(f"{key!r} cannot be edited"))
    return read_quantity(reads, text, system, ', or "auto"' if kind == "reel" else "")


def read_quantity(reads: fields.Reads, text: str, system: str, more: str = "") -> float | None:
    """The SI value of typed text by the rules of the model file; ``more`` ends what is allowed."""
    text = text.strip()
    unit = unit_label(reads.quantity, system)
    try:
        if not unit and _BARE.fullmatch(text):
            number = float(text.replace("−", "-"))
            return reads.read(int(number) if number.is_integer() else number, system)
        return reads.read(f"{text} {unit}" if _BARE.fullmatch(text) else text, system)
    except PydanticCustomError as error:
        told = str((error.context or {}).get("message", error))
        fix = f"allowed: {_allowed(reads, system)}{more}"
        raise InputError(Problem(told, fix=fix)) from None


def reads_of(kind: str) -> fields.Reads:
    """The model file's reader for a kind of number: a coordinate ``at``, a ``leg``, a ``bend``."""
    found: fields.Reads = get_args(_READS[kind])[1]
    return found


def _reads(key: str) -> fields.Reads | None:
    """The model file's reader for the value of a key; None where it is not a number."""
    kind = key.partition(":")[0]
    reads = get_args(_READS[kind])[1] if kind in _READS else None
    return reads if isinstance(reads, fields.Reads) else None


def _allowed(reads: fields.Reads, system: str) -> str:
    """The range of a field in words, in the units it is typed in."""
    unit = unit_label(reads.quantity, system)
    low, most = (
        f"{convert(v, reads.quantity, system):,.7g} {unit}".rstrip()
        for v in (reads.least or reads.above or 0.0, reads.most)
    )
    return f"greater than {low}, at most {most}" if reads.above is not None else f"{low} to {most}"


# --- the run with the changes ------------------------------------------------------------------


def apply_edits(run: Run, machines: Mapping[str, Machine], edits: Edits) -> Run:
    """The run with all edits; InputError for one that fits nothing in it."""
    for key, value in sorted(edits.items(), key=lambda e: _turn(e[0])):
        kind, _, name = key.partition(":")
        if kind not in _APPLY:
            raise InputError(Problem(f"{key!r} cannot be edited"))
        run = _APPLY[kind](run, name, value, machines)
    return run


def _turn(key: str) -> int:
    """The machine first; the conduits before the route, whose legs are made of them; speeds last.

    A gear's speed is that at its line pull.
    """
    kind = key.partition(":")[0]
    return {"machine": 0, "speed": 3, "route": 2}.get(kind, 1)


_Apply = Callable[[Run, str, Value, Mapping[str, Machine]], Run]


def _with_friction(conduit: Conduit, friction: float) -> Conduit:
    """Another coefficient; range and test report of the one given say nothing of it."""
    return conduit.at_friction(friction).with_fall(False)


def _friction(run: Run, name: str, value: Value, _: Mapping[str, Machine]) -> Run:
    if name not in {c.name for c in run.route.conduits}:
        raise InputError(Problem(f"the run has no conduit {name!r}"))
    conduits = tuple(
        _with_friction(c, _number(value)) if c.name == name else c for c in run.route.conduits
    )
    return replace(run, route=replace(run.route, conduits=conduits))


def _bend(run: Run, name: str, value: Value, _: Mapping[str, Machine]) -> Run:
    bent = _bent(run)
    if name not in map(str, range(1, len(bent) + 1)):
        raise InputError(Problem(f"the run has no bend {name}"))
    return carried_out(run, [BendRadius(bent[int(name) - 1], _number(value))])[0]


def _route(run: Run, _: str, value: Value, __: Mapping[str, Machine]) -> Run:
    if not isinstance(value, RouteEdit):
        raise InputError(Problem("this is not a route"))
    route_edit.check_origins(value, run.route)
    return routed(run, value)


def route_now(given: Run, edits: Edits) -> RouteEdit:
    """The route with the edits: that edited before, or the one of the file with its other radii."""
    edit = edits.get("route")
    if isinstance(edit, RouteEdit):
        return edit
    edit, bent = as_given(given.route), _bent(given)
    for key, value in edits.items():
        kind, _, name = key.partition(":")
        if kind == "bend" and name.isdecimal() and 1 <= int(name) <= len(bent):
            edit = route_edit.with_bend(edit, bent[int(name) - 1], _number(value), given)
    return edit


def with_route(edits: Edits, edit: RouteEdit) -> dict[str, Value]:
    """The edits with another route, which has the radii of the bends in it."""
    kept = {k: v for k, v in edits.items() if not k.startswith("bend:")}
    return {**kept, "route": edit}


def with_edit(given: Run, edits: Edits, key: str, value: Value) -> dict[str, Value]:
    """The edits with one more; a radius goes into the edited route where there is one."""
    edit, (kind, _, name) = edits.get("route"), key.partition(":")
    if kind != "bend" or not isinstance(edit, RouteEdit):
        return {**edits, key: value}
    bent = _bent(routed(given, edit))
    if name not in map(str, range(1, len(bent) + 1)):
        raise InputError(Problem(f"the run has no bend {name}"))
    changed = route_edit.with_bend(edit, bent[int(name) - 1], _number(value), given)
    return with_route(edits, changed)


def _reel_tension(run: Run, _: str, value: Value, __: Mapping[str, Machine]) -> Run:
    return replace(run, reel_tension=None if value is None else _number(value))


def _machine(run: Run, _: str, value: Value, machines: Mapping[str, Machine]) -> Run:
    if value not in machines:
        known = ", ".join(machines)
        raise InputError(Problem(f"no machine is named {value!r}", fix=f"known: {known}"))
    return replace(run, machine=machines[str(value)])


def _gear(run: Run, name: str, value: Value, what: str) -> Run:
    machine = run.machine
    if (
        machine is None
        or not (name.isdecimal() and len(name) < 7)
        or int(name) >= len(machine.gears)
    ):
        raise InputError(Problem(f"the machine has no gear {name}"))
    gears = list(machine.gears)
    number = _number(value)
    change = Gear.with_line_pull if what == "line_pull" else _with_speed
    gears[int(name)] = change(gears[int(name)], number)
    return replace(run, machine=replace(machine, gears=tuple(gears)))


def _with_speed(gear: Gear, speed: float) -> Gear:
    """A gear whose speed falls with load keeps the shape of that: all speeds are scaled."""
    times = speed / gear.speed
    speeds = tuple((load, times * fast) for load, fast in gear.speeds)
    return replace(gear, speed=speed, speeds=speeds)


def _number(value: Value) -> float:
    if not isinstance(value, float):
        raise InputError(Problem(f"{value!r} is not a number"))
    return value


_APPLY: dict[str, _Apply] = {
    "friction": _friction,
    "bend": _bend,
    "reel": _reel_tension,
    "route": _route,
    "machine": _machine,
    "line_pull": lambda run, name, value, _: _gear(run, name, value, "line_pull"),
    "speed": lambda run, name, value, _: _gear(run, name, value, "speed"),
}
