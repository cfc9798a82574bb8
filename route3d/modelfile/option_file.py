"""The options file: other ways to build or pull a job, costs, and where no vault may stand.

It stands beside the model file and is written in its keys; bare numbers are in its units.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import partial
from itertools import combinations
from pathlib import Path
from typing import Annotated, Any, TypeAlias

from pydantic import BaseModel, ConfigDict, StrictBool, ValidationError

from route3d.disk import read_text
from route3d.errors import InputError, Problem
from route3d.model.job import Job
from route3d.modelfile.fields import (
    BendRadius,
    CableCount,
    Counts,
    Money,
    MoneyPerLength,
    Name,
    PlaceOnRoute,
    Reads,
    Size,
    Text,
    brief,
    key,
    nearest,
)
from route3d.modelfile.places import problem_at
from route3d.modelfile.problems import Collector
from route3d.modelfile.read import LARGEST_FILE, NAMED, job_of, model_document
from route3d.modelfile.toml_positions import Document, KeyPath, read_toml
from route3d.modelfile.variants import Changes
from route3d.phrase import Phrase, literal, say
from route3d.study.options.given import (
    ALL_BENDS,
    Costs,
    GivenOption,
    GivenOptions,
    NoVault,
    Work,
)

MOST_OPTIONS = 60
MOST_VAULTS = 10
MOST_WAYS = 200
"""So many options and combinations are solved at most."""


DayLength = Annotated[float, Reads("time", above=0, most=86400.0)]
VaultCount = Annotated[int, Counts(MOST_VAULTS)]


class _Table(BaseModel):
    """A table of the options file; keys it does not know are errors."""

    model_config = ConfigDict(defer_build=True, extra="forbid", frozen=True)


class OptionEntry(_Table):
    """One option: what differs from the model file."""

    name: Name = key("Name of the option; must be unique.")
    changes: dict[str, Any] = key(
        "What differs, by the keys of the model file, as in a `[[variant]]`: "
        '{ cable.phase.diameter = 1.4, run.F1.attach = "basket grip" }.',
        {},
    )
    conduit: dict[Name, Name] = key(
        'Conduits to take instead: { duct = "larger duct" }. Both are tables [conduit.NAME], of '
        "the model file or of this file.",
        {},
    )
    friction: dict[Name, Any] = key(
        "Friction by conduit, as in the model file: { duct = 0.2 }.", {}
    )
    lubricant: Text = key("Name of the lubricant, for its cost.", "")
    machine: Name | None = key("Machine, a table [machine.NAME] of either file.", None)
    rope: Name | None = key("Rope, a table [rope.NAME] of either file.", None)
    bends: dict[Name, BendRadius] = key(
        'Bend radius (US in, SI m) by bend: { "bend 2" = 60 }, by the name of its point, or all.',
        {},
    )
    vaults: VaultCount | None = key(
        "Number of new vaults. route3d places them so that the hardest part of the run takes as "
        "little of a limit as can be.",
        None,
    )
    places: list[PlaceOnRoute] = key(
        "Places of vaults: stations (US ft, SI m) of new ones, pull points of the route by name.",
        [],
        max_length=MOST_VAULTS,
    )
    parts: list[dict[Name, CableCount]] = key(
        "Cables pulled together in each of several conduits side by side: "
        "[{ phase = 3 }, { phase = 3 }].",
        [],
        max_length=10,
    )
    runs: list[Name] = key(
        "Runs that machine, rope, bends, vaults, places and parts are for. Default: all.", []
    )
    extra: dict[Name, Money] = key('Its own costs: { "night work" = 3000 }.', {})


class NoVaultEntry(_Table):
    """A stretch of the route in which no vault may stand."""

    start: PlaceOnRoute = key("Where it begins: a station (US ft, SI m), or a point.", alias="from")
    end: PlaceOnRoute = key(
        "Where it ends: a station, or a point. Of two stations the higher one.", alias="to"
    )
    why: Text = key("Reason.", "")
    run: Name | None = key("The run it is of. Default: all.", None)


class CostsEntry(_Table):
    """What things cost. Nothing is assumed: what is not given is not counted."""

    currency: Name = key("Currency, such as USD.")
    vault: Money | None = key("One new vault.", None)
    bend: Money | None = key("One bend.", None)
    splice: Money | None = key("One splice of the cables of a pull.", None)
    setup: Money | None = key("One set-up: every pull takes one.", None)
    crew_hour: Money | None = key("One hour of the crew.", None)
    conduit: dict[Name, MoneyPerLength] = key(
        'Each conduit by length, installed: { duct = "18 per ft" }. A bare number: per ft in US '
        "files, per m in SI files.",
        {},
    )
    lubricant: dict[Name, MoneyPerLength] = key(
        "Each lubricant by length of conduit pulled through.", {}
    )
    machine_day: dict[Name, Money] = key("Each machine for every day begun.", {})
    day: DayLength | None = key('Working day (bare number: min), such as "8 h".', None)


class OptionsEntry(_Table):
    """The whole options file."""

    option: list[OptionEntry] = key("The options.", [], max_length=MOST_OPTIONS)
    costs: CostsEntry | None = key("Costs. Default: none, and no column of costs.", None)
    no_vault: list[NoVaultEntry] = key("Stretches without a vault.", [], max_length=200)
    vault_length: Size | None = key(
        "Length of a new vault along the route (US ft, SI m). It stands so far from bends and "
        "ends, and wholly outside of no_vault. Default: 1 m.",
        None,
    )
    lubricant: Text = key("Lubricant of the job as modeled, for its cost.", "")
    combine: StrictBool = key("true: solve combinations of the options too.", False)
    cable: dict[Name, Any] = key("More cables, as in the model file.", {})
    conduit: dict[Name, Any] = key("More conduits, as in the model file.", {})
    rope: dict[Name, Any] = key("More ropes, as in the model file.", {})
    machine: dict[Name, Any] = key("More machines, as in the model file.", {})
    sheave: dict[Name, Any] = key("More sheaves, as in the model file.", {})
    anchor: dict[Name, Any] = key("More anchors, as in the model file.", {})
    rigging: dict[Name, Any] = key("More rigging, as in the model file.", {})
    reel: dict[Name, Any] = key("More reels, as in the model file.", {})


def read_options(file: Path, job: Job, *, vaults: int = 0, combine: bool = False) -> GivenOptions:
    """The options of a file for a job that was read from a model file.

    An option that cannot be read is among them with its problems. ``vaults`` adds options of so
    many new vaults, from 1; ``combine`` asks for combinations, as the file may too. InputError for
    a job that is from no file, and with the line of every other mistake.
    """
    if job.path is None:
        raise InputError(Problem("an options file needs a job that was read from a model file"))
    document = read_toml(read_text(file, limit=LARGEST_FILE), str(file))
    reader = _reader(document, str(file), job)
    asked = [*reader.asked(), *(_vaults(count) for count in range(1, vaults + 1))]
    entry = reader.entry
    return GivenOptions(
        tuple(reader.option([one]) for one in asked),
        tuple(reader.no_vault()),
        entry.vault_length,
        reader.costs(),
        entry.lubricant,
        partial(reader.together, asked) if combine or entry.combine else None,
        reader.job.runs,
    )


def vault_option(job: Job, count: int) -> GivenOption:
    """The job with so many new vaults in every run."""
    one = _vaults(count)
    work = ((frozenset[str](), Work(vaults=count)),)
    return GivenOption(one.entry.name, job, tuple(one.words()), work, place=one.place)


# --- one option -----------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class _Asked:
    """An option of the file by its ``index`` there; ``problems`` are those of its table."""

    index: int
    entry: OptionEntry
    place: Problem
    problems: tuple[Problem, ...] = ()

    @property
    def path(self) -> KeyPath:
        return ("option", self.index)

    @property
    def work(self) -> Work:
        entry = self.entry
        return Work(entry.bends, entry.vaults or 0, tuple(entry.places), tuple(entry.parts))

    def words(self) -> Iterator[Phrase]:
        """What differs from the model, but for vaults to be placed."""
        entry = self.entry
        for path, value in _leaves(entry.changes):
            plain = isinstance(value, str | int | float) and not isinstance(value, bool)
            yield say(literal(f"{path} = {value}" if plain else f"{path} as given"))
        for given, other in entry.conduit.items():
            yield say(literal(f"{other} in place of {given}"))
        for name, friction in entry.friction.items():
            value, falls = friction, ""
            if isinstance(friction, Mapping):
                value = friction.get("value")
                if "then" in friction:
                    falls = f", {friction['then']} above {friction.get('above')}"
            yield say(literal(f"friction {value}{falls} in {name}"))
        for what in ("lubricant", "machine", "rope"):
            if value := getattr(entry, what):
                yield say(literal(f"{what} {value}"))
        for name, radius in entry.bends.items():
            label = "all bends" if name == ALL_BENDS else name
            yield say(f"{literal(label)}: radius {{}}", (radius, "radius"))
        for spot in entry.places:
            yield (
                say(literal(f"cut at {spot}"))
                if isinstance(spot, str)
                else say("new vault at {}", (spot, "length"))
            )
        if entry.parts:
            sets = (" + ".join(f"{n} x {name}" for name, n in part.items()) for part in entry.parts)
            yield say(literal(f"{len(entry.parts)} conduits: {'; '.join(sets)}"))

    def touched(self, runs: Sequence[str]) -> set[tuple[str, ...]]:
        """What it changes: of two options that change the same only one can be carried out."""
        entry, found = self.entry, set[tuple[str, ...]]()
        for path, _ in _leaves(entry.changes):
            keys = tuple(path.split("."))
            found.add(keys)
            if keys[0] == "conduit" and keys[-1] != "friction":
                found.add(("other conduit", *keys[1:2]))
            if keys[0] == "run" and keys[-1] in ("route", "legs"):
                found.add((ALL_BENDS,))
            if keys[0] == "run" and keys[-1] == "cables":
                found.add(("parts",))
        found |= {("other conduit", name) for name in entry.conduit}
        found |= {("conduit", name, "friction") for name in entry.friction}
        for what in ("machine", "rope"):
            if getattr(entry, what):
                found |= {("run", run, what) for run in entry.runs or runs}
        found |= {(ALL_BENDS,) if name == ALL_BENDS else (ALL_BENDS, name) for name in entry.bends}
        given = {
            "lubricant": bool(entry.lubricant),
            "parts": bool(entry.parts),
            "vaults": bool(entry.vaults or entry.places),
        }
        return found | {(what,) for what, value in given.items() if value}


def _vaults(count: int) -> _Asked:
    name = "1 new vault" if count == 1 else f"{count} new vaults"
    entry = OptionEntry.model_validate({"name": name, "vaults": count})
    return _Asked(-1, entry, Problem("", where="--vaults"))


def _leaves(changes: Mapping[str, Any], before: tuple[str, ...] = ()) -> Iterator[tuple[str, Any]]:
    """The keys of changes as far down as a change replaces them, with what they are set to."""
    for name, value in changes.items():
        path = (*before, name)
        deep = 1 if path[0] in ("site", "practice", "plan") else 2
        if isinstance(value, Mapping) and len(path) <= deep:
            yield from _leaves(value, path)
        else:
            yield ".".join(path), value


def _together(
    touched: Sequence[set[tuple[str, ...]]], most: int
) -> tuple[list[tuple[int, ...]], bool]:
    """Combinations that do not change the same thing, of the fewest options first.

    By their number in ``touched``, what each changes; and whether these are all there are.
    """
    apart = {
        (i, k)
        for i, k in combinations(range(len(touched)), 2)
        if any(p[: len(q)] == q or q[: len(p)] == p for p in touched[i] for q in touched[k])
    }
    found: list[tuple[int, ...]] = []
    # Each is made longer by a later option, which goes with all that are in it.
    ways: list[tuple[int, ...]] = [(i,) for i in range(len(touched))]
    while ways:
        ways = [
            (*way, k)
            for way in ways
            for k in range(way[-1] + 1, len(touched))
            if not any((i, k) in apart for i in way)
        ]
        for way in ways:
            if len(found) == most:
                return found, False
            found.append(way)
    return found, True


# --- the file -------------------------------------------------------------------------------------


_Change: TypeAlias = tuple[
    Mapping[str, Any], Work, frozenset[str], str, Mapping[str, str], Mapping[str, float]
]
"""The model file with what an option changes, work and its runs, lubricant, conduits, costs."""


@dataclass(frozen=True, slots=True)
class _Reader:
    """A file that is read for a job: its data, and the model file with the tables of both."""

    document: Document
    name: str
    entry: OptionsEntry
    bad: Mapping[int, tuple[Problem, ...]]
    model: Document
    job: Job

    @property
    def runs(self) -> list[str]:
        return [run.name for run in self.job.runs]

    def asked(self) -> list[_Asked]:
        """The options of the file in order; of one with problems only its name is known."""
        raw, good = self.document.data.get("option", []), iter(self.entry.option)
        found = []
        for i, table in enumerate(raw):
            if i in self.bad:
                name = table.get("name") if isinstance(table, dict) else None
                named = name if isinstance(name, str) and name.isprintable() else ""
                entry = OptionEntry.model_construct(name=named[:120] or f"option {i + 1}")
            else:
                entry = next(good)
            place = self._place(("option", i), f"option {entry.name}")
            found.append(_Asked(i, entry, place, self.bad.get(i, ())))
        return found

    def together(
        self, asked: Sequence[_Asked], failed: frozenset[int]
    ) -> tuple[tuple[GivenOption, ...], tuple[str, ...]]:
        """Combinations of the options but for some, and what is left out."""
        left: dict[str, list[str]] = {"fail": [], "same": [], "copy": []}
        seen: list[tuple[_Change, str]] = [(self._change(None), "")]
        good: list[int] = []
        for number, one in enumerate(asked):
            name = one.entry.name
            if number in failed:
                left["fail"].append(name)
                continue
            change = self._change(one)
            same = next((first for known, first in seen if known == change), None)
            if same is None:
                seen.append((change, name))
                good.append(number)
            elif same:
                left["copy"].append(f"{name} (as {same})")
            else:
                left["same"].append(name)
        notes = [
            f"Not in combinations, because {why}: {', '.join(left[kind])}."
            for kind, why in (
                ("fail", "not solved alone"),
                ("same", "nothing changes"),
                ("copy", "another option changes the same"),
            )
            if left[kind]
        ]
        most = max(MOST_WAYS - len(asked), 0)
        ways, whole = _together([asked[number].touched(self.runs) for number in good], most)
        if not whole:
            notes.append(
                f"Not all combinations were solved: the first {most}, those of the fewest "
                "options first. Compare fewer options at a time to see all."
            )
        numbers = [tuple(good[k] for k in way) for way in ways]
        return tuple(
            replace(self.option([asked[number] for number in parts]), parts=parts)
            for parts in numbers
        ), tuple(notes)

    def _change(self, one: _Asked | None) -> _Change:
        """All that an option makes of the job, or that stands with none."""
        if one is None:
            return self.model.data, Work(), frozenset(), self.entry.lubricant, {}, {}
        entry, work = one.entry, one.work
        runs = frozenset(entry.runs or self.runs) if work != Work() else frozenset[str]()
        lubricant = entry.lubricant or self.entry.lubricant
        return self._edited([one]).data, work, runs, lubricant, entry.conduit, entry.extra

    def option(self, asked: Sequence[_Asked]) -> GivenOption:
        """One option, or several carried out together; with problems where it cannot be read."""
        name = " + ".join(one.entry.name for one in asked)
        place = asked[0].place
        if len(asked) > 1:
            place = replace(place, where=f"combination {name}")
        problems = tuple(problem for one in asked for problem in one.problems)
        if problems:
            return GivenOption(name, None, problems=problems, place=place)
        words = tuple(phrase for one in asked for phrase in one.words())
        try:
            job = self._job(asked)
        except InputError as error:
            return GivenOption(name, None, words, problems=error.problems, place=place)
        lubricant = next((one.entry.lubricant for one in asked if one.entry.lubricant), "")
        return GivenOption(
            name,
            job,
            words,
            tuple((frozenset(one.entry.runs), one.work) for one in asked),
            {k: v for one in asked for k, v in one.entry.conduit.items()},
            lubricant,
            _summed(one.entry.extra for one in asked),
            place=place,
        )

    def _job(self, asked: Sequence[_Asked]) -> Job:
        """The job with the keys that options change."""
        path = self.job.path
        assert path is not None
        job = job_of(self._edited(asked), str(path), path.parent, path)
        named = {k: v for one in asked for k, v in one.entry.conduit.items()}
        return _renamed(job, named) if named else job

    def _edited(self, asked: Sequence[_Asked]) -> Document:
        """The model file with the keys that options change."""
        report = Collector(self.document, self.name)
        edit = Changes(self.model, self.document, report)
        for one in asked:
            self._conduits(one, edit, report)
        for one in asked:
            edit.all_of((*one.path, "changes"), one.entry.changes)
            self._keys(one, edit, report)
        return edit.made()

    def _conduits(self, one: _Asked, edit: Changes, report: Collector) -> None:
        used = {c.name for run in self.job.runs for c in run.route.conduits}
        for name, other in one.entry.conduit.items():
            given = (*one.path, "conduit", name)
            if name not in used:
                said = f"no run is in a conduit named {brief(name)}"
                report.add(given, said, nearest(name, sorted(used)), at_key=True)
            elif other not in self.model.data["conduit"]:
                said = f"neither file has a conduit named {brief(other)}"
                report.add(given, said, f"add a table [conduit.{other}] to this file")
            else:
                edit.copy(("conduit", name), ("conduit", other))
        for name in one.entry.friction:
            if name not in used:
                given = (*one.path, "friction", name)
                said = f"no run is in a conduit named {brief(name)}"
                report.add(given, said, nearest(name, sorted(used)), at_key=True)

    def _keys(self, one: _Asked, edit: Changes, report: Collector) -> None:
        entry, known = one.entry, self.runs
        for name, friction in entry.friction.items():
            edit.put((*one.path, "friction", name), ("conduit", name, "friction"), friction)
        for k, run in enumerate(entry.runs):
            if run not in known:
                said = f"the job has no run named {brief(run)}"
                report.add((*one.path, "runs", k), said, nearest(run, known))
        if entry.vaults and entry.places:
            fix = "enter one: vaults are placed by route3d, places are given"
            report.add((*one.path, "places"), "stands beside vaults", fix, at_key=True)
        if entry.extra and self.entry.costs is None:
            fix = 'add a table [costs] with currency, such as "USD"'
            report.add(
                (*one.path, "extra"), "is a cost, and the file has no costs", fix, at_key=True
            )
        if len(entry.parts) == 1:
            report.add((*one.path, "parts"), "has one part", "enter one for each conduit, or none")
        for what in ("machine", "rope"):
            if (value := getattr(entry, what)) is None:
                continue
            for i, run in enumerate(self.model.data["run"]):
                if not entry.runs or run["name"] in entry.runs:
                    edit.put((*one.path, what), ("run", i, what), value)

    def no_vault(self) -> Iterator[NoVault]:
        """The stretches of the file."""
        for i, entry in enumerate(self.entry.no_vault):
            place = self._place(("no_vault", i), f"no_vault[{i}]")
            yield NoVault(entry.start, entry.end, entry.why, entry.run or "", place)

    def costs(self) -> Costs | None:
        """The costs of the file."""
        entry = self.entry.costs
        if entry is None:
            return None
        return Costs(**entry.model_dump(exclude={"day"}), day=entry.day or 0.0)

    def _place(self, path: KeyPath, where: str) -> Problem:
        return problem_at(self.document.value_place(path), "", where, "", self.name)


def _summed(extras: Iterator[Mapping[str, float]] | Any) -> dict[str, float]:
    """Costs of several options; of one name the sum."""
    total: dict[str, float] = {}
    for extra in extras:
        for name, amount in extra.items():
            total[name] = total.get(name, 0.0) + amount
    return total


def _renamed(job: Job, named: Mapping[str, str]) -> Job:
    """The job with conduits called what they were taken from."""

    def conduits(run: Any) -> Any:
        other = tuple(replace(c, name=named.get(c.name, c.name)) for c in run.route.conduits)
        return replace(run, route=replace(run.route, conduits=other))

    return replace(job, runs=tuple(conduits(run) for run in job.runs))


def _reader(document: Document, name: str, job: Job) -> _Reader:
    """The file as far as it can be read; InputError for mistakes outside of options."""
    assert job.path is not None
    report = Collector(document, name)
    model = model_document(job.path)
    context = {"system": job.units}
    data, bad = dict(document.data), dict[int, tuple[Problem, ...]]()
    try:
        entry = OptionsEntry.model_validate(data, context=context)
    except ValidationError as error:
        bad = _bad_options(document, name, error)
        entry = _others(document, report, error, bad, context)
    _refuse_alike(entry.option, bad, document, name)
    known = [run["name"] for run in model.data["run"]]
    for i, stretch in enumerate(entry.no_vault):
        if stretch.run is not None and stretch.run not in known:
            said = f"the job has no run named {brief(stretch.run)}"
            report.add(("no_vault", i, "run"), said, nearest(stretch.run, known))
    _check_costs(entry, report, model)
    edit = Changes(model, document, report)
    for kind in NAMED:
        for table, value in getattr(entry, kind).items():
            if table in model.data.get(kind, {}):
                said = f"the model file has a {kind} named {brief(table)} already"
                report.add((kind, table), said, "give this one another name", at_key=True)
            else:
                edit.put((kind, table), (kind, table), value)
    both = edit.made()
    whole = job_of(both, str(job.path), job.path.parent, job.path)
    return _Reader(document, name, entry, bad, both, whole)


def _bad_options(
    document: Document, name: str, error: ValidationError
) -> dict[int, tuple[Problem, ...]]:
    """The problems of each option that is not well formed, by its number."""
    at = {d["loc"][1] for d in error.errors() if d["loc"][:1] == ("option",) and len(d["loc"]) > 2}
    found = {}
    for i in sorted(k for k in at if isinstance(k, int)):
        report = Collector(document, name)
        report.add_all(error, OptionsEntry, of=("option", i))
        found[i] = tuple(report.in_order())
    return found


def _others(
    document: Document,
    report: Collector,
    error: ValidationError,
    bad: Collection[int],
    context: Mapping[str, str],
) -> OptionsEntry:
    """The file without its bad options; InputError where the rest is not well formed either."""
    options = document.data.get("option")
    if bad and isinstance(options, list):
        kept = [o for i, o in enumerate(options) if i not in bad]
        try:
            return OptionsEntry.model_validate(
                {**document.data, "option": kept}, context=dict(context)
            )
        except ValidationError:
            pass
    report.add_all(error, OptionsEntry)
    raise InputError(report.in_order())


def _refuse_alike(
    options: Sequence[OptionEntry], bad: Collection[int], document: Document, name: str
) -> None:
    """InputError for two options of one name."""
    report, seen = Collector(document, name), set[str]()
    places = [i for i in range(len(document.data.get("option", []))) if i not in bad]
    for i, option in zip(places, options, strict=True):
        if option.name in seen:
            said = f"another option is named {brief(option.name)} already"
            report.add(("option", i, "name"), said, "give each option its own name")
        seen.add(option.name)
    if report.problems:
        raise InputError(report.in_order())


def _check_costs(entry: OptionsEntry, report: Collector, model: Document) -> None:
    """Problems of costs of things that neither file has."""
    costs = entry.costs
    if costs is None:
        return
    for key_, kind in (("conduit", "conduit"), ("machine_day", "machine")):
        known = [*model.data.get(kind, {}), *getattr(entry, kind)]
        for name in getattr(costs, key_):
            if name not in known:
                said = f"neither file has a {kind} named {brief(name)}"
                report.add(("costs", key_, name), said, nearest(name, known), at_key=True)
    if costs.machine_day and costs.day is None:
        report.missing(("costs", "day"), 'enter the working day, such as "8 h"')
    used = {entry.lubricant, *(option.lubricant for option in entry.option)} - {""}
    for name in costs.lubricant:
        if name not in used:
            said = f"no option has a lubricant named {brief(name)}"
            report.add(("costs", "lubricant", name), said, nearest(name, used), at_key=True)
