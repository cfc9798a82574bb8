"""Every figure of a job by its key in the model file: to list the inputs, and to compare jobs."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, fields, is_dataclass, replace
from hashlib import sha256
from pathlib import Path
from typing import Any

from route3d.disk import file_mark
from route3d.model.examples import is_example
from route3d.model.job import Job
from route3d.model.origin import Origin
from route3d.model.run import EndSetup, Run
from route3d.model.site import Placing
from route3d.planning.inputs import KEY_OF, QUANTITY_OF
from route3d.quantities import QUANTITIES
from route3d.units import written

# Points of a grade that are listed; of more their number and a mark.
_MOST_POINTS = 20

Value = float | int | bool | str | tuple[float, ...]


@dataclass(frozen=True, slots=True)
class InputFigure:
    """One figure of a job: SI ``value`` of a ``quantity``, or a text or a count without one."""

    key: str
    value: Value
    quantity: str = ""

    def shown(self, system: str) -> str:
        """The figure with its unit, in the fewest digits that read back as just that."""
        if isinstance(self.value, bool):
            return "yes" if self.value else "no"
        if self.value == "aluminium":  # as the records spell it
            return "aluminum"
        if isinstance(self.value, str) or not self.quantity:
            return f"{self.value:.6g}" if isinstance(self.value, float) else str(self.value)
        values = self.value if isinstance(self.value, tuple) else (self.value,)
        numbers = ", ".join(_number(float(v), self.quantity, system) for v in values)
        return f"{numbers} {_unit(self.quantity, system)}".rstrip()

    @property
    def plain(self) -> list[Any]:
        """Value and quantity for JSON; ten digits, so that 48 in and 4 ft are the same figure."""
        if isinstance(self.value, tuple):
            return [[float(f"{v:.10g}") for v in self.value], self.quantity]
        value = float(f"{self.value:.10g}") if isinstance(self.value, float) else self.value
        return [value, self.quantity]


def _number(value: float, quantity: str, system: str) -> str:
    """The fewest digits that read back, or six where that would take more than anyone types."""
    text = written(value, quantity, system)
    return text if len(text.strip("-0.").replace(".", "")) <= 7 else f"{float(text):.6g}"


def _unit(quantity: str, system: str) -> str:
    """The unit of a bare number in a model file, as people write it."""
    if quantity == "weight" and system == "US":
        return "lb/ft"
    unit = QUANTITIES[quantity].units[system].replace("deg", "°").replace("*", "·")
    return unit.replace("··2", "²").replace("··3", "³")


# Of one table by "table.field"; a plain number is shown and recorded without a quantity.
_QUANTITIES = {name: q for name, q in QUANTITY_OF.items() if q not in ("ratio", "factor")} | {
    "reel.width": "diameter",
    "site.clearance": "diameter",
}
_KEYS = KEY_OF | {
    "point": "at",
    "splices": "can_splice",
    "drag_force": "drag",
    "drag_length": "drag",
}
# No figures: the name is part of the key, meshes are told by their contents.
_OMITTED = frozenset(
    (
        *("name", "about", "size", "line", "context", "doubtful", "rules_assumed", "tables"),
        *("stock", "source", "elbow_source", "min_bend_source", "bend_source"),
        *("frame", "grade", "placings"),
    )
)


def input_figures(job: Job) -> tuple[InputFigure, ...]:
    """Every figure of a job, tables in the order of the file: what it is worked from."""
    found: dict[str, InputFigure] = {}
    for figure in (
        *_tables(job),
        *(each for run in job.runs for each in _run(run)),
        *_listed(job.banks, "bank"),
        *_meshes(job),
        *_frame(job),
        *_grade(job),
        *_walk(job.site, "site", "site"),
        *_walk(job.practice, "practice", "practice"),
        *_walk(job.allowances, "plan", "plan"),
    ):
        found.setdefault(figure.key, figure)
    return tuple(found.values())


def document_figures(job: Job) -> tuple[InputFigure, ...]:
    """The title block and the title, which no figure is worked from."""
    given = [InputFigure("title", job.title), *_walk(job.document, "document", "document")]
    return tuple(figure for figure in given if figure.value != "")


def origin_of(figure: InputFigure, job: Job) -> Origin | None:
    """Where a figure is from: by its own key, else by the table or list it stands in.

    In a table that is marked as an example it is one, whatever else is known of it.
    """
    found = _of_conduit(figure, job) or _by_key(figure.key, job.origins)
    if not is_example(figure.key, job.examples):
        return found
    if found is None or found.kind == "default":
        return Origin("example")
    return replace(found, kind="example")


def _by_key(key: str, origins: Mapping[str, Origin]) -> Origin | None:
    if key.endswith(_DEFAULTED) and key not in origins:
        return Origin("default")
    if key.endswith(".friction") and f"{key}.value" in origins:
        return origins[f"{key}.value"]
    while key:
        if key in origins:
            return origins[key]
        if key.endswith(".route") and (legs := f"{key.removesuffix('route')}legs") in origins:
            return replace(origins[legs], words="from legs")
        cut = max(key.rfind("."), key.rfind("["))
        key = key[:cut] if cut > 0 else ""
    return None


# Keys that are left out where the default holds, and are told apart from nothing else.
_DEFAULTED = (".feed_turn", ".reel_tension")


def _of_conduit(figure: InputFigure, job: Job) -> Origin | None:
    """The table of the elbow and of the least field bend of a stock conduit."""
    table, _, name = figure.key.rpartition(".")
    if name not in ("elbow_radius", "min_bend_radius"):
        return None
    for run in job.runs:
        for conduit in run.route.conduits:
            if table == f"conduit.{conduit.name}":
                source = conduit.elbow_source if name == "elbow_radius" else conduit.min_bend_source
                return Origin("table", words=source)
    return None


def other_origins(job: Job) -> Iterator[tuple[str, Origin]]:
    """What was assumed or taken from a table for a key that has no figure of its own."""
    known = {figure.key for figure in input_figures(job)}
    known |= {key.partition("[")[0] for key in known} | {f"{key}.value" for key in known}
    for key, origin in job.origins.items():
        if origin.kind in ("assumed", "table") and key not in known:
            yield key, origin


def _tables(job: Job) -> Iterator[InputFigure]:
    """Cables, conduits, rope and tackle that runs name, each table once."""
    for run in job.runs:
        for cable, _ in run.cables.items:
            yield from _walk(cable, f"cable.{cable.name}", "cable")
        for conduit in dict.fromkeys(run.route.conduits):
            yield from _walk(conduit, f"conduit.{conduit.name}", "conduit")
        yield from _tackle(run)
        for end in run.ends:
            yield from _tackle(end)
        for vertex in run.route.vertices:
            if vertex.sheave is not None:
                yield from _walk(vertex.sheave, f"sheave.{vertex.sheave.name}", "sheave")


def _tackle(one: Run | EndSetup) -> Iterator[InputFigure]:
    for kind in ("rope", "machine", "anchor", "rigging", "reel"):
        record = getattr(one, kind, None)
        if record is not None:
            yield from _walk(record, f"{kind}.{record.name}", kind)
    for turn in one.lead_off or ():
        if turn.sheave is not None:
            yield from _walk(turn.sheave, f"sheave.{turn.sheave.name}", "sheave")


def _run(run: Run) -> Iterator[InputFigure]:
    base = f"run.{run.name}"
    for cable, count in run.cables.items:
        yield InputFigure(f"{base}.cables.{cable.name}", count)
    yield InputFigure(f"{base}.attach", run.attach)
    yield InputFigure(f"{base}.arrangement", run.arrangement)
    if run.reel_tension is None:
        yield InputFigure(f"{base}.reel_tension", "auto")
    else:
        yield InputFigure(f"{base}.reel_tension", run.reel_tension, "force")
    yield from _names(run, base)
    points = [run.route.label(i) for i in sorted(run.splices)]
    if points:
        yield InputFigure(f"{base}.can_splice", ", ".join(points))
    for end in run.ends:
        yield from _names(end, f"{base}.ends.{end.name}")
    last = len(run.route.vertices) - 1
    for i, vertex in enumerate(run.route.vertices):
        here = f"{base}.route[{i}]"
        yield InputFigure(f"{here}.at", vertex.point, "length")
        if vertex.name:
            yield InputFigure(f"{here}.name", vertex.name)
        if vertex.bend > 0:
            yield InputFigure(f"{here}.bend", vertex.bend, "radius")
        if vertex.access:
            yield InputFigure(f"{here}.access", ", ".join(sorted(vertex.access)))
        if vertex.box is not None:
            yield InputFigure(f"{here}.box", tuple(vertex.box), "diameter")
        if vertex.sheave is not None:
            yield InputFigure(f"{here}.sheave", vertex.sheave.name)
        if i < last and (i == 0 or run.route.conduits[i] != run.route.conduits[i - 1]):
            yield InputFigure(f"{here}.conduit", run.route.conduits[i].name)


def _names(one: Run | EndSetup, base: str) -> Iterator[InputFigure]:
    """The tackle that a run or an end names."""
    for kind in ("rope", "machine", "anchor", "rigging", "reel"):
        record = getattr(one, kind, None)
        if record is not None:
            yield InputFigure(f"{base}.{kind}", record.name)
    for i, turn in enumerate(one.lead_off or ()):
        here = f"{base}.lead_off[{i}]"
        yield InputFigure(f"{here}.turn", turn.turn, "angle")
        yield InputFigure(f"{here}.distance", turn.distance, "length")
        if turn.sheave is not None:
            yield InputFigure(f"{here}.sheave", turn.sheave.name)


def _meshes(job: Job) -> Iterator[InputFigure]:
    """The building meshes: name and contents of each file, and how it is placed."""
    for i, mesh in enumerate(job.site.context):
        yield InputFigure(f"site.context[{i}].file", _marked(mesh))
        if i < len(job.site.placings):
            yield from _placing(job.site.placings[i], f"site.context[{i}]")


def _marked(file: Path) -> str:
    return file.name + (f", SHA-256 {file_mark(file)}" if file.is_file() else "")


def _placing(placing: Placing, key: str) -> Iterator[InputFigure]:
    """What a file is given beside its name."""
    if placing.units:
        yield InputFigure(f"{key}.units", placing.units)
    if any(placing.offset):
        yield InputFigure(f"{key}.offset", placing.offset, "length")
    if placing.up:
        yield InputFigure(f"{key}.up", placing.up)
    if placing.on_grid:
        yield InputFigure(f"{key}.on_grid", True)


def _frame(job: Job) -> Iterator[InputFigure]:
    """Where the model lies on its grid, as far as it is given."""
    frame = job.site.frame
    if frame.origin is not None:
        yield InputFigure("site.origin", frame.origin, "length")
    if frame.crs:
        yield InputFigure("site.crs", frame.crs)
    if frame.north:
        yield InputFigure("site.north", frame.north, "angle")


def _grade(job: Job) -> Iterator[InputFigure]:
    """The ground, where it is given or a bank is judged by it."""
    grade = job.site.grade
    if grade.file is not None:
        yield InputFigure("site.grade.file", _marked(grade.file))
        if grade.surface:
            yield InputFigure("site.grade.surface", grade.surface)
        yield from _placing(grade.placing, "site.grade")
    elif grade.points and len(grade.points) <= _MOST_POINTS:
        for i, point in enumerate(grade.points):
            yield InputFigure(f"site.grade.points[{i}]", point, "length")
    elif grade.points:
        mark = sha256(repr(grade.points).encode()).hexdigest()[:12]
        yield InputFigure("site.grade.points", f"{len(grade.points):,} points, SHA-256 {mark}")
    elif grade.given or job.banks:
        yield InputFigure("site.grade", grade.level, "length")


def _listed(records: tuple[Any, ...], key: str) -> Iterator[InputFigure]:
    for i, record in enumerate(records):
        yield from _walk(record, f"{key}[{i}]", key)


def _walk(record: Any, key: str, table: str) -> Iterator[InputFigure]:
    """The figures of a record, and of the records in it, in the order of its fields."""
    for field in fields(record):
        value, name = getattr(record, field.name), field.name
        if name in _OMITTED or value is None or value == "" or value == ():
            continue
        here = f"{key}.{_KEYS.get(name, name)}"
        quantity = _QUANTITIES.get(f"{table}.{name}", _QUANTITIES.get(name, ""))
        if name == "speeds":  # pairs of load and speed
            for i, (load, speed) in enumerate(value):
                yield InputFigure(f"{here}[{i}].load", load, "force")
                yield InputFigure(f"{here}[{i}].speed", speed, "speed")
            continue
        yield from _value(value, here, table, quantity)


def _value(value: Any, key: str, table: str, quantity: str) -> Iterator[InputFigure]:
    if is_dataclass(value):
        yield from _walk(value, key, table)
    elif isinstance(value, tuple) and all(isinstance(v, int | float) for v in value):
        yield InputFigure(key, tuple(map(float, value)), quantity)
    elif isinstance(value, tuple):
        for i, each in enumerate(value):
            yield from _value(each, f"{key}[{i}]", table, quantity)
    elif isinstance(value, int | float) and not isinstance(value, bool) and quantity:
        yield InputFigure(key, float(value), quantity)
    elif isinstance(value, bool | int | float | str):
        yield InputFigure(key, value)
