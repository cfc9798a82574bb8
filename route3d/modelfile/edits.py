"""A remedy written into the model file: the text with its edits carried out on one run.

Only what a remedy changes is written anew, at its place in the text (``toml_edits``); every other
byte stays. What is written is read again and held against the run that was judged.
"""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, fields, is_dataclass, replace
from difflib import SequenceMatcher
from pathlib import Path
from typing import Any, get_args

from route3d.disk import write_text_atomic
from route3d.errors import InputError, Problem
from route3d.geometry.fillet import route_path, route_schedule
from route3d.geometry.leg_grammar import LegsError, divided, read_leg, with_radius, with_rise
from route3d.geometry.legs import legs_of, pull_point_leg, read_legs
from route3d.model import (
    Conduit,
    EndSetup,
    Job,
    LeadOff,
    Machine,
    Reel,
    Route,
    Run,
    Vertex,
    WorkPlatform,
)
from route3d.model.route import GivenLegs
from route3d.modelfile.fields import Reads, duct_and_run
from route3d.modelfile.read import NAMED, loads, model_text
from route3d.modelfile.toml_edits import TomlEdits, toml_key, toml_table, toml_value, toml_words
from route3d.modelfile.toml_positions import KeyPath, dotted, read_toml
from route3d.modelfile.write import rebased
from route3d.planning.remedies.edits import Edit, SplitInStages, carried_out
from route3d.quantities import QUANTITIES
from route3d.standards.conduits import conduit_size
from route3d.units import show, written

_ROW = ("at", "bend", "name", "access", "conduit", "box", "sheave")
# The keys of a friction, and the quantity of each; words have none.
_FRICTION = {
    "value": "ratio",
    "low": "ratio",
    "high": "ratio",
    "above": "sidewall",
    "then": "ratio",
    "test_report": "",
    "source": "",
}
_ACCESS = ("reel", "machine")


Changes = Sequence[Edit] | Callable[[Run], Run]
"""What is to be carried out on a run: the edits of a remedy, or anything that gives one run."""


def edited_model(text: str, job: Job, run_name: str, edits: Changes, note: str = "") -> str:
    """The text of a model file with ``edits`` carried out on the run of that name.

    ``job`` is what the text was read as, or that run of it. ``note`` is written over the run as a
    comment. A table that another run needs as it is gives way to a copy under a new name. Raises
    InputError with the place where something has a form that cannot be edited.
    """
    name, folder = str(job.path or "model"), job.path.parent if job.path else Path()
    before, data = loads(text, name, folder), read_toml(text, name).data
    index = next(i for i, entry in enumerate(data["run"]) if entry["name"] == run_name)
    given = _numbered(before.runs[index])
    runs = (edits(given),) if callable(edits) else carried_out(given, edits)
    page, base = TomlEdits(text, name), ("run", index)
    others = (*before.runs[:index], *before.runs[index + 1 :])
    tables = _Tables(page, data, base, list(_records((given, *others))), _users(others), runs)
    writer = _RunWriter(data["run"][index], given, tables, before.units)
    page.note(base, [f"Remedy: {' '.join(note.split())}"] if note else [])
    if callable(edits) or len(runs) == 1:
        writer.write(page, base, runs[0])
    else:
        page.note(base, _work(given, edits, runs, before.units))
        parts = [TomlEdits(page.block(base), name) for _ in runs]
        for part, run in zip(parts, runs, strict=True):
            writer.write(part, ("run", 0), run)
        page.replace_block(base, page.newline.join(part.text() for part in parts))
        _banks(page, data, run_name, runs)
    tables.write()
    made = page.text()
    _check(made, before, index, runs, name, folder)
    return made


def write_edited(
    model: Path,
    out: Path,
    job: Job,
    run_name: str,
    edits: Changes,
    note: str = "",
    *,
    over_model: bool = False,
) -> None:
    """Write a model file with ``edits`` carried out on one run to the file ``out``.

    Building meshes are named from its folder. Raises InputError as ``edited_model`` does, and where
    ``out`` is a model file already and ``over_model`` is not set.
    """
    made = edited_model(model_text(model), job, run_name, edits, note)
    made = rebased(made, model.parent.resolve(), out.parent.resolve())
    write_text_atomic(out, made, over_model=over_model)


def _numbered(run: Run) -> Run:
    """The run with the number of each vertex in place of its line: edits leave it with them."""
    vertices = tuple(replace(v, line=i) for i, v in enumerate(run.route.vertices))
    return replace(run, route=replace(run.route, vertices=vertices))


def _work(run: Run, edits: Sequence[Edit], runs: Sequence[Run], system: str) -> Iterator[str]:
    """What the crew does with the runs that one run gave way to."""
    stages = next((e.stages for e in edits if isinstance(e, SplitInStages)), ())
    if len(stages) != len(runs):
        yield f"Run {run.name} was one pull; now {' and '.join(r.name for r in runs)}."
        return
    yield f"Run {run.name} is pulled in {len(stages)} stages, in this order:"
    cable = stages[0].cable
    for number, (stage, part) in enumerate(zip(stages, runs, strict=True), 1):
        ends = part.route.label(0), part.route.label(len(part.route.vertices) - 1)
        feed, pull = reversed(ends) if stage.reverse else ends
        if stage.reel:
            start = f"feed off the reel at {feed}"
        else:
            length = show(stage.cable_length, "length", system)
            start = f"first lay {length} of cable in figure eights at {feed}, feed from there"
        splice = "splice, then " if stage.cable != cable else ""
        cable = stage.cable
        yield f"  {number}. {splice}{start}, pull at {pull}"


def _bank_names(
    page: TomlEdits, index: int, bank: dict[str, Any], name: str, runs: Sequence[Run]
) -> None:
    """The names of a run in the bank of another: in a duct the first that it gave way to."""
    names = bank.get("runs", [])
    if name in names:
        put = [new for old in names for new in ([r.name for r in runs] if old == name else [old])]
        page.put(("bank", index, "runs"), f"[{', '.join(toml_value(n) for n in put)}]")
    for k, duct in enumerate(bank.get("ducts", [])):
        row, column, held = duct_and_run(duct)
        if held == name:
            page.put(("bank", index, "ducts", k), toml_value(f"{row}-{column}: {runs[0].name}"))


def _banks(page: TomlEdits, data: dict[str, Any], name: str, runs: Sequence[Run]) -> None:
    """The duct bank about a run, once about each that it gave way to."""
    if name in (run.name for run in runs):
        return
    for i, bank in enumerate(data.get("bank", [])):
        if bank["run"] != name:
            _bank_names(page, i, bank, name, runs)
            continue
        parts = [TomlEdits(page.block(("bank", i)), page.name) for _ in runs]
        for part, run in zip(parts, runs, strict=True):
            part.put(("bank", 0, "run"), toml_value(run.name))
            for k, duct in enumerate(bank.get("ducts", [])):
                row, column, held = duct_and_run(duct)
                if held == name:
                    put = toml_value(f"{row}-{column}: {run.name}")
                    part.put(("bank", 0, "ducts", k), put)
        page.replace_block(("bank", i), page.newline.join(part.text() for part in parts))


# --- the run ------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class _RunWriter:
    """Writes runs over the ``entry`` of the run ``given``."""

    entry: dict[str, Any]
    given: Run
    tables: _Tables
    system: str

    def write(self, page: TomlEdits, base: KeyPath, run: Run) -> None:
        """What of ``run`` differs from the run given, into its table at ``base``."""
        given = self.given
        for key in ("name", "attach", "arrangement"):
            if (word := getattr(run, key)) != getattr(given, key):
                page.put((*base, key), toml_value(word))
        kept = {cable.name for cable, _ in run.cables.items}
        for cable, _ in given.cables.items:
            if cable.name not in kept:
                page.remove((*base, "cables", cable.name))
        if run.reel_tension != given.reel_tension:
            page.put((*base, "reel_tension"), self._tension(run.reel_tension))
        self._equipment(page, base, self.entry, given, run)
        for was, end in zip(given.ends, run.ends, strict=False):
            path = (*base, "ends", end.name)
            self._equipment(page, path, self.entry["ends"][end.name], was, end)
        if given.ends and not run.ends:
            page.remove((*base, "ends"))
        splices = [run.route.label(i) for i in sorted(run.splices)]
        if {*splices} != {*self.entry.get("can_splice", [])}:
            self._list(page, (*base, "can_splice"), [toml_value(s) for s in splices])
        self._route(page, (*base, "route"), run.route)

    def _tension(self, force: float | None) -> str:
        was = self.entry.get("reel_tension")
        like = None if was == "auto" else was
        return '"auto"' if force is None else written(force, "force", self.system, like)

    def _equipment(
        self, page: TomlEdits, base: KeyPath, entry: dict[str, Any], given: Any, made: Any
    ) -> None:
        """The names of what a run or one of its ends is equipped with."""
        for kind in ("rope", "machine", "anchor", "rigging", "reel"):
            self._reference(page, (*base, kind), entry, getattr(made, kind, None))
        turns, were = made.lead_off or (), given.lead_off or ()
        path = (*base, "lead_off")
        if [(t.turn, t.distance) for t in turns] != [(t.turn, t.distance) for t in were]:
            self._list(page, path, [self._turn(t) for t in turns])
            return
        for i, turn in enumerate(turns):
            self._reference(page, (*path, i, "sheave"), entry["lead_off"][i], turn.sheave)

    def _turn(self, turn: LeadOff) -> str:
        said = {"turn": written(turn.turn, "angle", self.system)}
        if turn.sheave is not None:
            said["sheave"] = toml_value(self.tables.name_of("sheave", turn.sheave))
        if turn.distance:
            said["distance"] = written(turn.distance, "length", self.system)
        return toml_table(said)

    def _reference(
        self, page: TomlEdits, path: KeyPath, entry: dict[str, Any], record: Any
    ) -> None:
        """The name of a record where a key gives it; without the key where there is no record."""
        key = str(path[-1])
        if record is None:
            if key in entry:
                page.remove(path)
        elif (name := self.tables.name_of(key, record)) != entry.get(key):
            page.put(path, toml_value(name), _ROW if key in _ROW else ())

    def _list(self, page: TomlEdits, path: KeyPath, items: Sequence[str]) -> None:
        if not (items and page.has(path)):  # of tables with headers each goes by itself
            page.remove(path)
        if items:
            page.put(path, f"[{', '.join(items)}]")

    # --- its route --------------------------------------------------------------------------------

    def _legs(self, page: TomlEdits, base: KeyPath, route: Route) -> None:
        """A route by legs: other radii and ends in their texts, any other change written anew."""
        given, by_legs = self.given.route, self.given.route.legs
        assert by_legs is not None  # the run has the key
        vertices = []
        for vertex in route.vertices:
            if (sheave := vertex.sheave) is not None:
                sheave = replace(sheave, name=self.tables.name_of("sheave", sheave))
            vertices.append(replace(vertex, sheave=sheave))
        names = [self.tables.name_of("conduit", c) for c in route.conduits]
        conduits = tuple(replace(c, name=n) for c, n in zip(route.conduits, names, strict=True))
        told = replace(route, vertices=tuple(vertices), conduits=conduits)
        typed = () if route.legs is None else route.legs.texts
        if typed and typed != by_legs.texts and told.conduits == route.conduits:
            self._typed_legs(page, (*base, "legs"), by_legs.texts, typed)
            return
        same_end = route.vertices[-1].line == len(given.vertices) - 1
        end = read_leg(by_legs.texts[-1], len(by_legs.texts) - 1, self.system).at
        lines = legs_of(
            told,
            self.system,
            declination=by_legs.declination,
            closes_to=end if same_end else None,
        )
        rows = self._other_texts(told, by_legs, lines)
        if rows is not None and self._lead(rows, by_legs, told):
            self._put_legs(page, (*base, "legs"), rows)
            return
        if not same_end and "closes_to" in self.entry:
            page.remove((*base, "closes_to"))
        anew = "".join(f"  {toml_words(line)},{page.newline}" for line in lines)
        page.put((*base, "legs"), f"[ # written anew{page.newline}{anew}]")

    def _typed_legs(
        self, page: TomlEdits, path: KeyPath, old: Sequence[str], new: Sequence[str]
    ) -> None:
        """Legs as they were typed: a line that stays keeps its place and its comment."""
        rows: dict[int, tuple[str, ...]] = {}
        for _, i, i_end, j, j_end in SequenceMatcher(None, old, new, autojunk=False).get_opcodes():
            pairs = zip(range(i, i_end), new[j:j_end], strict=False)
            rows |= {k: (text,) for k, text in pairs if text != old[k]}
            for gone in range(i + (j_end - j), i_end):
                page.remove((*path, gone))
            if more := tuple(new[j + (i_end - i) : j_end]):
                last = i_end == len(old)
                beside = i_end - 1 if last else i_end
                stays = rows.get(beside, (old[beside],))
                rows[beside] = (*stays, *more) if last else (*more, *stays)
        self._put_legs(page, path, rows)

    @staticmethod
    def _put_legs(page: TomlEdits, path: KeyPath, rows: Mapping[int, Sequence[str]]) -> None:
        """Other texts, one or several, in place of some legs."""
        between = f",{page.newline}  "
        for number, texts in rows.items():
            page.put((*path, number), between.join(map(toml_words, texts)))

    def _lead(self, rows: Mapping[int, Sequence[str]], by_legs: GivenLegs, route: Route) -> bool:
        """Whether the legs with other texts in place of some lead where the route does."""
        texts = [t for i, old in enumerate(by_legs.texts) for t in rows.get(i, (old,))]
        conduits = {conduit.name: conduit for conduit in route.conduits}
        try:
            read = read_legs(texts, self.system, conduits=conduits, declination=by_legs.declination)
        except LegsError:
            return False
        points = [vertex.point for vertex in route.vertices]
        return len(points) == len(read.points) and all(
            math.dist(a, b) <= _READS_BACK
            for a, b in zip(points, read.points.tolist(), strict=True)
        )

    def _other_texts(
        self, route: Route, by_legs: GivenLegs, lines: Sequence[str]
    ) -> dict[int, tuple[str, ...]] | None:
        """The texts of the legs that change, by their number; None where more is to change.

        ``lines`` are all legs written anew: of them only a start or an end can stand by itself.
        """
        given, last = self.given.route, len(self.given.route.vertices) - 1
        kept = [vertex for vertex in route.vertices if vertex.line is not None]
        if [vertex.line for vertex in kept] != list(range(last + 1)):
            return None
        added: dict[int, list[Vertex]] = {}  # new pull points by the straight they are on
        straight = 0
        for vertex, conduit in zip(route.vertices, route.conduits, strict=False):
            if vertex.line is None:
                added.setdefault(straight, []).append(vertex)
            straight = straight if vertex.line is None else vertex.line
            if conduit.name != given.conduits[straight].name:
                return None
        texts: dict[int, str] = {}
        radii: dict[int, set[float]] = {}
        for i, (new, old) in enumerate(zip(kept, given.vertices, strict=True)):
            number = by_legs.leg_of[i]
            if i in (0, last) and new.access != old.access:
                if read_leg(by_legs.texts[number], number, self.system).kind not in (
                    "start",
                    "end",
                ):
                    return None
                texts[number] = lines[0 if i == 0 else -1]
                old = replace(old, access=new.access)
            as_was = replace(new, bend=old.bend, bend_source=old.bend_source, sheave=old.sheave)
            sheaves = [v.sheave.name if v.sheave else "" for v in (new, old)]
            if as_was != old or sheaves[0] != sheaves[1]:
                return None
            radii.setdefault(number, set()).add(new.bend)
            if new.bend == old.bend or new.bend_source != "given":
                continue
            made = with_radius(by_legs.texts[number], number, self.system, new.bend)
            if made is not None:
                made = self._same_corners(made, number, new.bend - old.bend)
            if made is None:
                return None
            texts[number] = made
        if any(len(radii[i]) > 1 for i in texts):  # an offset has one radius for its bends
            return None
        rows: dict[int, tuple[str, ...]] = {number: (text,) for number, text in texts.items()}
        for straight, points in added.items():
            divided_leg = self._divided(straight, points, by_legs)
            if divided_leg is None:
                return None
            rows[by_legs.straights[straight]] = divided_leg
        return rows

    def _same_corners(self, text: str, number: int, more: float) -> str | None:
        """A leg with ``more`` m of radius: the crown of a saddle is lower under the same corner."""
        leg = read_leg(text, number, self.system)
        if leg.kind != "saddle" or leg.across is not None:
            return text
        lower = more * (1 / math.cos(math.radians(leg.angle)) - 1)
        return with_rise(text, number, self.system, leg.rises[0][1] - lower)

    def _divided(
        self, straight: int, points: Sequence[Vertex], by_legs: GivenLegs
    ) -> tuple[str, ...] | None:
        """The leg of a straight with new pull points in it; None where it is no length."""
        route = self.given.route
        if not by_legs.straights:
            return None
        number = by_legs.straights[straight]
        rest = by_legs.texts[number]
        leg = read_leg(rest, number, self.system)
        if leg.kind != "length" or any(p.bend or p.sheave or p.box for p in points):
            return None
        start, end = route.vertices[straight].point, route.vertices[straight + 1].point
        done, share = 0.0, leg.length / math.dist(start, end)
        if leg.measured == "along":  # the straight conduit begins where the bend before it ends
            bends = route_schedule(route, route_path(route))
            done, share = sum(b.setback for b in bends if b.vertex == straight), 1.0
        texts: list[str] = []
        for point in points:
            there = math.dist(start, point.point)
            parts = divided(rest, number, self.system, (there - done) * share)
            if parts is None:
                return None
            first, rest = parts
            texts += (first, pull_point_leg(point))
            done = there
        return (*texts, rest)

    def _route(self, page: TomlEdits, path: KeyPath, route: Route) -> None:
        if self.given.route.legs is not None:
            self._legs(page, path[:-1], route)
            return
        rows = self.entry["route"]
        numbers = [v.line for v in route.vertices]
        for gone in sorted({*range(len(rows))} - {*numbers}):
            page.remove((*path, gone))
        names = [self.tables.name_of("conduit", c) for c in route.conduits]
        if not any(n is not None for n in numbers):  # a stage between two new points of one leg
            told = (*names[:1], *(None for _ in names))
            made = [
                toml_table(self._new_row(v, rows[0]["at"], name))
                for v, name in zip(route.vertices, told, strict=True)
            ]
            self._list(page, path, made)
            return
        for i, vertex in enumerate(route.vertices):
            number = vertex.line
            row = {} if number is None else rows[number]
            conduit = None if i == len(names) else names[i]
            if i and conduit == names[i - 1] and conduit != row.get("conduit"):
                conduit = None  # that before goes on
            if number is not None:
                elbow = route.conduits[i].elbow_radius if i < len(names) else None
                self._row(page, (*path, number), row, vertex, elbow, conduit)
                continue
            before = next((n for n in reversed(numbers[:i]) if n is not None), None)
            beside = before if before is not None else next(n for n in numbers[i:] if n is not None)
            new = self._new_row(vertex, rows[beside]["at"], conduit)
            page.insert_row((*path, beside), new, after=before is not None)

    def _row(
        self,
        page: TomlEdits,
        path: KeyPath,
        row: dict[str, Any],
        vertex: Vertex,
        elbow: float | None,
        conduit: str | None,
    ) -> None:
        """What of a vertex differs from its row; ``elbow`` is what it has without a radius, m."""
        given = self.given.route.vertices[path[-1]]  # type: ignore[index]
        for k, (new, old) in enumerate(zip(vertex.point, given.point, strict=True)):
            if new != old:
                like = row["at"][k]
                page.put((*path, "at", k), written(new, "length", self.system, like))
        stays = (
            vertex.bend == given.bend
            if "bend" in row
            else not vertex.access and vertex.bend == elbow
        )
        if not vertex.bend and "bend" in row:  # the route goes straight on there now
            page.remove((*path, "bend"))
        elif vertex.bend and not stays:
            bend = written(vertex.bend, "radius", self.system, row.get("bend"))
            page.put((*path, "bend"), bend, _ROW)
        if vertex.access != given.access:
            page.put((*path, "access"), _access(vertex), _ROW)
        if conduit is None and "conduit" in row:
            page.remove((*path, "conduit"))
        elif conduit is not None and conduit != row.get("conduit"):
            page.put((*path, "conduit"), toml_value(conduit), _ROW)
        self._reference(page, (*path, "sheave"), row, vertex.sheave)

    def _new_row(self, vertex: Vertex, like: Sequence[Any], conduit: str | None) -> dict[str, str]:
        at = [
            written(c, "length", self.system, other)
            for c, other in zip(vertex.point, like, strict=True)
        ]
        said = {"at": f"[{', '.join(at)}]"}
        if vertex.bend:
            said["bend"] = written(vertex.bend, "radius", self.system)
        if vertex.name:
            said["name"] = toml_value(vertex.name)
        if vertex.access:
            said["access"] = _access(vertex)
        if conduit is not None:
            said["conduit"] = toml_value(conduit)
        if vertex.sheave is not None:
            said["sheave"] = toml_value(self.tables.name_of("sheave", vertex.sheave))
        if vertex.box is not None:
            sides = (written(side, "diameter", self.system) for side in vertex.box)
            said["box"] = f"[{', '.join(sides)}]"
        return said


def _access(vertex: Vertex) -> str:
    return toml_value([what for what in _ACCESS if what in vertex.access])


# --- tables of equipment ------------------------------------------------------------------------

_Named = tuple[str, Any]  # the kind of a table and the record that it is read as


def _records(runs: Iterable[Run]) -> Iterator[_Named]:
    """Everything with a table of its own that runs name, by kind."""
    for run in runs:
        yield from (("conduit", c) for c in run.route.conduits)
        yield ("rope", run.rope)
        yield from (("sheave", v.sheave) for v in run.route.vertices)
        holders: tuple[Run | EndSetup, ...] = (run, *run.ends)
        for holder in holders:
            yield from ((k, getattr(holder, k)) for k in ("machine", "anchor", "rigging", "reel"))
            yield from (("sheave", turn.sheave) for turn in holder.lead_off or ())
            if isinstance(holder.anchor, WorkPlatform):
                yield ("anchor", holder.anchor.brace)


def _users(runs: Iterable[Run]) -> set[tuple[str, str]]:
    """Kind and name of every table that runs name."""
    return {(kind, record.name) for kind, record in _records(runs) if record is not None}


@dataclass
class _Tables:
    """The table that each record of the changed runs stands in, and what is to be written there.

    ``given`` are the records of the file and ``others`` the tables that other runs name.
    """

    page: TomlEdits
    data: dict[str, Any]
    base: KeyPath
    given: list[_Named]
    others: set[tuple[str, str]]
    runs: Sequence[Run]
    names: dict[_Named, str] = field(default_factory=dict)
    todo: list[tuple[str, str, Any]] = field(default_factory=list)

    def __post_init__(self) -> None:
        read = {(kind, record.name): record for kind, record in self.given if record is not None}
        wanted = dict.fromkeys(each for each in _records(self.runs) if each[1] is not None)
        still = {(kind, r.name) for kind, r in wanted if read.get((kind, r.name)) == r}
        for kind, record in wanted:
            place = kind, record.name
            old = read.get(place)
            if old == record:
                self.names[kind, record] = record.name
                continue
            in_place = old is not None and place not in self.others | still
            name = record.name if in_place else self._free(kind, record.name)
            still.add(place)  # a second record of that name needs a table of its own
            self.names[kind, record] = name
            self.todo.append((kind, name, (old, record)))

    def name_of(self, kind: str, record: Any) -> str:
        """The name of the table a record stands in."""
        return self.names[kind, record]

    def _free(self, kind: str, name: str) -> str:
        """The name where the file has none such, else with that of the run, else with a number."""
        taken = {*self.data.get(kind, {}), *(n for (k, _), n in self.names.items() if k == kind)}
        run = re.sub(r"[^A-Za-z0-9_-]+", "_", self.data["run"][self.base[1]]["name"])
        if name not in taken:
            return name
        tried = f"{name}_{run}"
        number = 2
        while tried in taken:
            tried = f"{name}_{run}_{number}"
            number += 1
        return tried

    def write(self) -> None:
        """All tables that change, and those that are new."""
        for kind, name, (old, record) in self.todo:
            path = (kind, record.name)
            if old is None:
                self._new(kind, name, record)
            elif name == record.name:
                self._change(self.page, path, self.data[kind][name], old, record)
            else:
                self._copy(path, name, old, record)

    def _new(self, kind: str, name: str, record: Any) -> None:
        part = TomlEdits(f"[{kind}.{toml_key(name)}]\n", self.page.name)
        self._change(part, (kind, name), {}, Reel(name) if kind == "reel" else None, record)
        self._add(self.page.last(kind), kind, part.text())

    def _copy(self, path: KeyPath, name: str, old: Any, record: Any) -> None:
        kind, given = str(path[0]), self.data[str(path[0])][path[1]]
        block = self.page.is_block(path)
        text = self.page.block(path) if block else _table(path, given)
        part = TomlEdits(text, self.page.name)
        part.rename(path, name)
        self._change(part, path, given, old, record)
        self._add(path if block else None, kind, part.text())

    def _add(self, after: KeyPath | None, kind: str, text: str) -> None:
        if self.page.has((kind,)) and not self.page.is_block((kind,)):
            raise self.page.refused((kind,), "has no room for another inline table")
        if after is None:
            self.page.add_before(self.base, text)
        else:
            self.page.add_after(after, text)

    def _change(
        self, page: TomlEdits, path: KeyPath, data: dict[str, Any], old: Any, record: Any
    ) -> None:
        """The keys of a table whose figures differ from those of the record it is read as."""
        kind, system = str(path[0]), self.data["units"]
        before, after = (_figures(kind, r) if r is not None else {} for r in (old, record))
        if "stock" in data:
            after = _beside_stock(page, path, data, before, after, record, system)
        for key, (value, quantity) in after.items():
            if before.get(key, (None, quantity)) == (value, quantity):
                continue
            like: Any = data
            for part in key:
                like = like.get(part) if isinstance(like, dict) else like[part]
            if value is None:
                page.remove((*path, *key))
                continue
            if key in before and before[key][1] != quantity:
                like = f"1 {QUANTITIES[quantity].units[system]}"  # a force where a torque was
            said = (
                toml_value(value)
                if isinstance(value, str)
                else written(value, quantity, system, like)
            )
            page.put((*path, *key), said)
        if kind == "conduit":
            _write_friction(page, (*path, "friction"), data.get("friction"), old, record, system)
        if isinstance(record, WorkPlatform) and record.brace is not None:
            brace = self.name_of("anchor", record.brace)
            if brace != data.get("brace"):
                page.put((*path, "brace"), toml_value(brace))


def _table(path: KeyPath, data: dict[str, Any]) -> str:
    """A table with a header of its own, of plain data."""
    lines = [f"{toml_key(k)} = {toml_value(v)}" for k, v in data.items()]
    return "\n".join([f"[{path[0]}.{toml_key(str(path[1]))}]", *lines, ""])


_Figures = dict[KeyPath, tuple[float | str | None, str]]


def _figures(kind: str, record: Any) -> _Figures:
    """The keys of a table with their SI values and quantities, as the record has them.

    Words have no quantity; what a record does not have is None.
    """
    if kind == "conduit":
        return _conduit_figures(record)
    found: _Figures = {}
    for key, entry in NAMED[kind].model_fields.items():
        name = {"weight": "mass", "reels": "count"}.get(key, key)
        name = name if hasattr(record, name) else key
        if hasattr(record, name) and (quantity := _quantity(entry)):
            found[(key,)] = getattr(record, name), quantity
    if kind == "machine":
        for i, gear in enumerate(record.gears):
            found["gears", i, "line_pull"] = gear.line_pull, "force"
            if not gear.speeds:
                found["gears", i, "speed"] = gear.speed, "speed"
            for k, (_, speed) in enumerate(gear.speeds):
                found["gears", i, "speeds", k, 1] = speed, "speed"
    if kind == "reel":
        for key, first, second, other in (
            ("drag", "drag_force", "drag_length", "length"),
            ("brake_rating", "brake_force", "brake_torque", "torque"),
        ):
            a, b = getattr(record, first), getattr(record, second)
            found[(key,)] = (b, other) if a is None and b is not None else (a, "force")
    return found


def _quantity(entry: Any) -> str:
    """The quantity of a key, from how it is read; none where it is no single figure."""
    inside = (m for a in get_args(entry.annotation) for m in getattr(a, "__metadata__", ()))
    return next((m.quantity for m in (*entry.metadata, *inside) if isinstance(m, Reads)), "")


def _beside_stock(
    page: TomlEdits,
    path: KeyPath,
    data: dict[str, Any],
    before: _Figures,
    after: _Figures,
    record: Any,
    system: str,
) -> _Figures:
    """What is left to write of a table that names a stock entry.

    A conduit is called by another name, or gives its own dimensions; gears that differ are written
    in full, for the file has none.
    """
    changed = {key: v for key, v in after.items() if before.get(key) != v}
    if path[0] == "conduit":
        kind, size = (after[key,][0] for key in ("type", "trade_size"))
        if kind is None:
            page.remove((*path, "stock"))
            return after
        if any((key,) in changed for key in ("type", "trade_size")):
            page.put((*path, "stock"), toml_value(f"{kind} {size}"))
        return {k: v for k, v in after.items() if k not in _BY_STOCK}
    gears = {key for key in after if key[0] == "gears"}
    if gears and "gears" not in data:
        if changed.keys() & gears:
            page.put((*path, "gears"), _all_gears(record, system))
        return {k: v for k, v in after.items() if k not in gears}
    return after


_BY_STOCK: tuple[KeyPath, ...] = (("type",), ("trade_size",), ("material",))


def _all_gears(machine: Machine, system: str) -> str:
    """The gears of a machine in full; those of a stock entry have one speed each."""
    rows = (
        {
            "name": toml_value(gear.name),
            "line_pull": written(gear.line_pull, "force", system),
            "speed": written(gear.speed, "speed", system),
        }
        for gear in machine.gears
    )
    return f"[{', '.join(map(toml_table, rows))}]"


def _conduit_figures(conduit: Conduit) -> _Figures:
    """A stock type with its trade size, or plain dimensions."""
    inner, outer = conduit.inner_diameter, conduit.outer_diameter
    if not conduit.stock_type:
        return {
            ("type",): (None, ""),
            ("trade_size",): (None, ""),
            ("material",): (conduit.material or None, ""),
            ("inner_diameter",): (inner, "diameter"),
            ("outer_diameter",): (outer, "diameter"),
        }
    stock = conduit_size(conduit.stock_type, conduit.trade_size)
    return {
        ("type",): (conduit.stock_type, ""),
        ("trade_size",): (conduit.trade_size, ""),
        ("material",): (None, ""),
        ("inner_diameter",): (inner if conduit.source == "given" else None, "diameter"),
        ("outer_diameter",): (outer if outer != stock.outer_diameter else None, "diameter"),
    }


def _write_friction(
    page: TomlEdits, path: KeyPath, data: Any, old: Conduit | None, new: Conduit, system: str
) -> None:
    """The friction of a conduit: a number where it is one, else in a table with its range."""
    if old is not None and _friction(old) == _friction(new):
        return
    figures = _friction(new)
    if isinstance(data, dict) and "stock" in data:  # published friction by name gives way
        data, old = None, None
    if not isinstance(data, dict) and not any(v for k, v in figures.items() if k != "value"):
        page.put(path, written(new.friction, "ratio", system, data))
        return
    said: dict[str, str | None] = {
        key: None
        if figure is None
        else (toml_value(figure) if isinstance(figure, str) else written(figure, quantity, system))
        for (key, figure), quantity in zip(figures.items(), _FRICTION.values(), strict=True)
    }
    if not isinstance(data, dict):
        page.put(path, toml_table({k: v for k, v in said.items() if v is not None}))
        return
    were = {} if old is None else _friction(old)
    for key, text in said.items():
        if figures[key] == were.get(key):
            continue
        if text is None:
            page.remove((*path, key))
        else:
            page.put((*path, key), text, tuple(_FRICTION))


def _friction(conduit: Conduit) -> dict[str, float | str | None]:
    """The keys of its friction, None for those that are not there."""
    figures = (
        *(conduit.friction, conduit.friction_low, conduit.friction_high),
        *(conduit.friction_above, conduit.friction_then),
        *(conduit.friction_report or None, conduit.friction_source or None),
    )
    return dict(zip(_FRICTION, figures, strict=True))


# --- read again -----------------------------------------------------------------------------------

_READS_BACK = 1e-9


def _check(
    made: str, before: Job, index: int, runs: Sequence[Run], name: str, folder: Path
) -> None:
    """InputError where the text is not read as the runs that were judged, beside all the others."""
    try:
        after = loads(made, name, folder)
    except InputError as error:
        raise InputError(
            [
                Problem(f"the remedy cannot be written: {p.message}", p.where, p.fix, name)
                for p in error.problems
            ]
        ) from None
    wanted = (*before.runs[:index], *runs, *before.runs[index + 1 :])
    for where in _differences(wanted, after.runs, ("run",)):
        said = "the remedy cannot be written: the file would not read back as calculated"
        raise InputError(Problem(said, dotted(where), "make the change by hand", name))


# Not of the run itself: where a thing stands in the file, and what its table is called.
_BESIDE = {"line", "bend_source", "legs"}


def _differences(a: Any, b: Any, where: KeyPath) -> Iterator[KeyPath]:
    """Where two records differ by more than rounding and the names of tables."""
    if is_dataclass(a) and type(a) is type(b):
        named = not isinstance(a, Run | Vertex) and not hasattr(a, "conductor")
        for each in fields(a):
            if each.name in _BESIDE or not each.compare or (each.name == "name" and named):
                continue
            one, other = getattr(a, each.name), getattr(b, each.name)
            yield from _differences(one, other, (*where, each.name))
    elif isinstance(a, tuple) and isinstance(b, tuple) and len(a) == len(b):
        for i, pair in enumerate(zip(a, b, strict=True)):
            yield from _differences(*pair, (*where, i))
    elif isinstance(a, float) and isinstance(b, float):
        if not math.isclose(a, b, rel_tol=_READS_BACK, abs_tol=_READS_BACK):
            yield where
    elif a != b:
        yield where
