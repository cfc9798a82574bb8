"""Every option of a job solved as ``check`` and ``plan`` solve it, and ranked, run by run."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np

from route3d.errors import InputError, Problem
from route3d.geometry.bend_schedule import bend_schedule
from route3d.geometry.fillet import route_path
from route3d.geometry.path import STRAIGHT, Path
from route3d.model.allowances import Allowances
from route3d.model.job import Job
from route3d.model.run import CableSet, Run
from route3d.phrase import Phrase, literal, say
from route3d.planning.evaluate import evaluate
from route3d.planning.placement.site import SiteMesh
from route3d.planning.remedies.edits import BendRadius, carried_out
from route3d.planning.splitting.new_points import NewPoint, free_stretches, point_at
from route3d.planning.splitting.new_points import with_points as with_new_points
from route3d.planning.splitting.vaults import (
    NEW_VAULT,
    USUAL_LENGTH,
    parts_of,
    place_vaults,
)
from route3d.planning.summary import RunSummary, summaries
from route3d.study.options.given import (
    ALL_BENDS,
    GivenOption,
    GivenOptions,
    NoVault,
    Spot,
    Work,
)
from route3d.study.options.outcome import AS_MODELED, Option, Options
from route3d.study.options.prices import Bill, not_priced, priced
from route3d.study.options.ranking import figures, ranked
from route3d.units import render

SPLICED = (
    "Each part between vaults is its own length of cable, pulled in the easier direction and "
    "spliced in the vault."
)

Meshes = Callable[[Job], Sequence[SiteMesh]]
"""The building meshes among which the machines of a job are placed."""
Progress = Callable[[int, int], None]
"""Told how many options are done, of how many."""


def study_options(
    job: Job,
    given: GivenOptions,
    *,
    by: str = "utilization",
    meshes: Meshes = lambda job: (),
    progress: Progress | None = None,
) -> tuple[Options, ...]:
    """The options of each run of a job beside the run as modeled, best first.

    ``by`` is one of ``ranking.RANKED_BY``. An option that cannot be solved is among them with its
    error; its words are in the units of the job. InputError for a stretch without vaults that is in
    no run, and for a ranking by cost without costs.
    """
    if by == "cost" and given.costs is None:
        fix = "add a table [costs] to the options file, or rank by something else"
        raise InputError(Problem("no costs are given to rank by", where="--by cost", fix=fix))
    site = {run.name: _site_rule(run, given) for run in job.runs}
    _refuse_nowhere(given.runs or job.runs, given, job.units)
    found: dict[str, list[_Answer]] = {run.name: [] for run in job.runs}
    failed: dict[str, set[int]] = {run.name: set() for run in job.runs}
    single = (GivenOption(AS_MODELED, job), *given.options)
    whole = len(single)
    for number, option in enumerate(single):
        if progress is not None:
            progress(number, whole)
        for run in job.runs:
            solved = _solved(job, option, run.name, given, site[run.name], meshes)
            found[run.name].append(_Answer(option, solved))
            if solved.error:
                failed[run.name].add(number - 1)
    left: tuple[str, ...] = ()
    if given.together is not None:
        combined, left = given.together(frozenset(set.intersection(*failed.values())))
        whole += len(combined)
        for number, option in enumerate(combined, len(single)):
            if progress is not None:
                progress(number, whole)
            for run in job.runs:
                if failed[run.name].isdisjoint(option.parts):
                    solved = _solved(job, option, run.name, given, site[run.name], meshes)
                    found[run.name].append(_Answer(option, solved))
    if progress is not None:
        progress(whole, whole)
    return tuple(
        _of_run(job, run, found[run.name], given, site[run.name], by, left) for run in job.runs
    )


@dataclass(frozen=True, slots=True)
class _Answer:
    """What was ``asked`` of a run, and the option ``solved``."""

    asked: GivenOption
    solved: Option


def _of_run(
    job: Job,
    run: Run,
    answers: Sequence[_Answer],
    given: GivenOptions,
    site: _SiteRule,
    by: str,
    left: Sequence[str],
) -> Options:
    """The options of a run ranked, with all that has to be said of them."""
    options = _compared(answers)
    unpriced = tuple(dict.fromkeys(what for option in options for what in option.unpriced))
    notes = [say(literal(text)) for text in left]
    notes += _notes(answers, site)
    if unpriced:
        words = f"Not priced: {', '.join(unpriced)}. Costs are without these."
        notes.append(say(literal(words)))
    return Options(
        title=job.title,
        run=run.name,
        options=ranked(options, by),
        currency="" if given.costs is None else given.costs.currency,
        notes=tuple(notes),
        by=by,
        unpriced=unpriced,
    )


def _compared(answers: Sequence[_Answer]) -> list[Option]:
    """The options; of a combination to which one of its options adds nothing this is said."""
    known: dict[frozenset[int], Option] = {}
    options = []
    for number, answer in enumerate(answers):
        asked, option = answer.asked, answer.solved
        parts = frozenset(asked.parts or (number - 1,))
        if asked.parts and not option.error:
            fewer = (known.get(parts - {part}) for part in asked.parts)
            same = next((o for o in fewer if o is not None and _alike(o, option)), None)
            if same is not None:
                option = replace(option, same_as=same.same_as or same.name)
        known[parts] = option
        options.append(option)
    return options


def _alike(one: Option, other: Option) -> bool:
    """Whether all that is shown of two options is the same."""
    margins = (one.friction_margin, other.friction_margin)
    margin = margins[0] == margins[1] or (
        None not in margins and math.isclose(*(m or 0.0 for m in margins), rel_tol=1e-6)
    )
    return (
        margin
        and figures(one) == figures(other)
        and (one.governing, one.stops, one.error) == (other.governing, other.stops, other.error)
    )


def _notes(answers: Sequence[_Answer], site: _SiteRule) -> Iterator[Phrase]:
    """How vaults and splices are counted, with what is assumed of them."""
    solved = [a.solved for a in answers if not a.solved.error]
    if any(len(option.pulls) > 1 and option.vaults for option in solved):
        yield say(SPLICED)
    spliced = (a.asked.job for a in answers if a.solved.splices)
    yield from dict.fromkeys(_splice_words(job) for job in spliced if job is not None)
    if any(work.vaults or work.cuts for a in answers for _, work in a.asked.work):
        origin = "assumed: vault_length is not given" if site.assumed else "vault_length"
        words = f"New vault: {{}} long along the route ({origin}). At least that far from bends "
        yield say(f"{words}and ends.", (site.length, "length"))
        for kept in site.kept:
            yield say("No new vault from ") + kept.words + say(".")


def _splice_words(job: Job) -> Phrase:
    """How long a splice takes, and whose figure that is."""
    origin = job.origins.get("plan.splice_time")
    default = job.allowances.splice_time == Allowances().splice_time
    assumed = default if origin is None else origin.kind == "default"
    words = "assumed: the model has no splice_time" if assumed else "splice_time of the model"
    time = (job.allowances.splice_time, "crew time")
    return say(f"Splice: {{}} each ({words}). Crew time includes it.", time)


# --- one option of one run ------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class _Kept:
    """A stretch of a run without vaults, m; ``words`` name it, with its reason."""

    start: float
    end: float
    words: Phrase


@dataclass(frozen=True, slots=True)
class _SiteRule:
    """Where a vault of some ``length`` m may stand.

    It keeps so far off bends and ends, and half of it lies to each side of its middle: the middle
    is in no stretch of ``keep_out``.
    """

    length: float
    assumed: bool
    kept: tuple[_Kept, ...]

    @property
    def keep_out(self) -> tuple[tuple[float, float], ...]:
        """Where its middle may not be."""
        half = self.length / 2
        return tuple((each.start - half, each.end + half) for each in self.kept)


@dataclass(frozen=True, eq=False)
class _Worked:
    """What becomes of a run: its ``pulls``, the stations of new ``vaults``, and ``splices``.

    ``spliced_at`` are the pull points of the run that it is cut at too.
    """

    pulls: tuple[Run, ...]
    vaults: tuple[float, ...] = ()
    splices: int = 0
    spliced_at: tuple[str, ...] = ()


def _solved(
    job: Job,
    option: GivenOption,
    name: str,
    given: GivenOptions,
    site: _SiteRule,
    meshes: Meshes,
) -> Option:
    """One option of one run."""
    if option.job is None:
        return _failed(option, job.units, option.problems)
    try:
        run = next((r for r in option.job.runs if r.name == name), None)
        if run is None:
            raise InputError(Problem(f"has no run named {name!r}"))
        work = _work_of(option, name)
        made = _worked(run, option.job, work, site)
        result = evaluate(replace(option.job, runs=made.pulls), with_remedies=False)
        pulls = summaries(result, meshes(option.job))
    except InputError as error:
        return _failed(option, job.units, error.problems)
    time = _crew_time(pulls, made.splices, option.job.allowances.splice_time)
    words = (*option.changes, *((_standing(made),) if work.vaults else ()))
    costs: tuple[tuple[str, float | None], ...] = ()
    unpriced: tuple[str, ...] = ()
    if given.costs is not None:
        lubricant = option.lubricant or given.lubricant
        bill = Bill(
            result.runs, pulls, len(made.vaults), made.splices, time, lubricant, option.extra
        )
        costs = priced(given.costs, bill)
        unpriced = tuple(not_priced(given.costs, bill))
    known = [(what, amount) for what, amount in costs if amount is not None]
    whole = given.costs is not None and len(known) == len(costs)
    worst = max(pulls, key=lambda pull: pull.utilization)
    return Option(
        name=option.name,
        changes=tuple(render(phrase, job.units) for phrase in words),
        utilization=worst.utilization,
        friction_margin=_least_margin(pulls),
        setups=len(pulls),
        crew_time=time,
        cost=math.fsum(amount for _, amount in known) if whole else None,
        governing=worst.governing,
        feed=worst.feed,
        pull=worst.pull,
        stops=tuple(dict.fromkeys(reason for pull in pulls for reason in pull.reasons)),
        efficient=False,
        costs=tuple(known),
        words=words,
        vaults=made.vaults,
        pulls=pulls,
        splices=made.splices,
        unpriced=unpriced,
    )


def _failed(option: GivenOption, system: str, problems: Iterable[Problem]) -> Option:
    """An option with an error, each at its line; what is from no file is at the option's own."""
    at = option.place
    placed = (
        p
        if p.file
        else replace(p, where=p.where or at.where, file=at.file, line=at.line, column=at.column)
        for p in problems
    )
    changes = tuple(render(phrase, system) for phrase in option.changes)
    found = Option.unsolved(option.name, changes, "\n".join(map(str, placed)))
    return replace(found, words=option.changes)


def _crew_time(pulls: Sequence[RunSummary], splices: int, splice: float) -> float | None:
    times = [pull.crew_time for pull in pulls if pull.crew_time is not None]
    return math.fsum((*times, splices * splice)) if len(times) == len(pulls) else None


def _least_margin(pulls: Sequence[RunSummary]) -> float | None:
    margins = [pull.margin for pull in pulls if pull.margin is not None]
    return min(margins) if len(margins) == len(pulls) else None


def _standing(made: _Worked) -> Phrase:
    """Where new vaults were placed, and where else the run is cut."""
    *first, last = ["{}"] * len(made.vaults)
    places = f"{', '.join(first)} and {last}" if first else last
    new = "1 new vault" if len(made.vaults) == 1 else f"{len(made.vaults)} new vaults"
    text = say(f"{new} at {places}", *((station, "length") for station in made.vaults))
    if made.spliced_at:
        text += say(literal(f", spliced at {' and '.join(made.spliced_at)} too"))
    return text


# --- the work done to a run -----------------------------------------------------------------------


def _work_of(option: GivenOption, name: str) -> Work:
    """All that an option does to the run of that name."""
    works = [work for runs, work in option.work if not runs or name in runs]
    return Work(
        bends={label: radius for work in works for label, radius in work.bends.items()},
        vaults=sum(work.vaults for work in works),
        cuts=tuple(cut for work in works for cut in work.cuts),
        parts=tuple(part for work in works for part in work.parts),
    )


def _worked(run: Run, job: Job, work: Work, site: _SiteRule) -> _Worked:
    """The pulls of a run after some work; InputError where it cannot be done."""
    sets = _sets(_with_bends(run, work), work)
    if not work.vaults and not work.cuts:
        return _Worked(sets)
    if work.vaults:
        placed = place_vaults(
            sets[0],
            job.practice,
            work.vaults,
            clear=site.length,
            keep_out=site.keep_out,
            beside=sets[1:],
        )
        if placed is None:
            raise InputError(Problem(_no_room(sets[0], work.vaults, site, job.units)))
        stations = tuple(point.station for point in placed.points)
        cuts, made = placed.cuts, placed.run
    else:
        points, named = _given_cuts(sets[0], work.cuts, site, job.units)
        stations = tuple(point.station for point in points)
        made, numbers = with_new_points(sets[0], points, NEW_VAULT)
        left = [v for v in made.route.pull_points if v not in numbers]
        again = dict(zip(sets[0].route.pull_points, left, strict=True))
        cuts = tuple(sorted((*numbers, *(again[v] for v in named))))
    pulls = tuple(
        part
        for one in sets
        for part in parts_of(replace(one, route=made.route, splices=made.splices), cuts)
    )
    labels = (made.route.label(v) for v in cuts)
    given = tuple(label for label in labels if not label.startswith(NEW_VAULT))
    return _Worked(pulls, stations, len(cuts) * len(sets), given)


def _no_room(run: Run, count: int, site: _SiteRule, system: str) -> str:
    path = route_path(run.route)
    kept = "; ".join(render(each.words, system) for each in site.kept)
    if not free_stretches(path, clear=site.length):
        return f"run {run.name!r} has no place for a vault: no nearly level straight has room"
    if not free_stretches(path, clear=site.length, keep_out=site.keep_out):
        return f"run {run.name!r} has no place for a vault outside of no_vault {kept}"
    vaults = "1 new vault" if count == 1 else f"{count} new vaults"
    said = f"run {run.name!r} has no places for {vaults} between which each part can be pulled"
    return f"{said}; no_vault {kept} is kept free" if kept else said


def _with_bends(run: Run, work: Work) -> Run:
    """The run with other bend radii; InputError for a bend that it has not."""
    edits = [
        BendRadius(vertex, radius)
        for label, radius in work.bends.items()
        for vertex in _bends(run, label)
    ]
    (made,) = carried_out(run, edits)
    return made


def _bends(run: Run, label: str) -> Iterable[int]:
    """The vertices of bends by "all", the number of a bend, or the name of its point."""
    known: dict[str, int] = {}
    for bend in bend_schedule(route_path(run.route)):
        known[f"bend {bend.number}"] = bend.vertex
        if name := run.route.vertices[bend.vertex].name:
            known[name] = bend.vertex
    if label == ALL_BENDS:
        return list(dict.fromkeys(known.values()))
    if label not in known:
        names = ", ".join(known) or "none"
        said = f"run {run.name!r} has no bend {label!r}"
        raise InputError(Problem(said, fix=f"its bends: {names}"))
    return [known[label]]


def _sets(run: Run, work: Work) -> tuple[Run, ...]:
    """The run, or one for each part of its cables; InputError where they do not add up."""
    if not work.parts:
        return (run,)
    known = {cable.name: (cable, count) for cable, count in run.cables.items}
    given: dict[str, int] = {}
    for part in work.parts:
        for name, count in part.items():
            given[name] = given.get(name, 0) + count
    if given != {name: count for name, (_, count) in known.items()}:
        shown = ", ".join(f"{count} x {name}" for name, count in given.items())
        said = f"the parts add up to {shown}, and run {run.name!r} has {run.cables.describe()}"
        raise InputError(Problem(said, fix="divide all of its cables, and no others"))
    return tuple(
        replace(
            run,
            name=f"{run.name} set {number}",
            cables=CableSet((known[name][0], count) for name, count in part.items()),
            arrangement="auto",
        )
        for number, part in enumerate(work.parts, 1)
    )


# --- places ---------------------------------------------------------------------------------------


def _given_cuts(
    run: Run, cuts: Sequence[Spot], site: _SiteRule, system: str
) -> tuple[tuple[NewPoint, ...], tuple[int, ...]]:
    """New vaults at stations, and the vertices of pull points by name, as far as allowed."""
    path, points, named = route_path(run.route), list[NewPoint](), list[int]()
    free = free_stretches(path, clear=site.length, keep_out=site.keep_out)
    for cut in cuts:
        if isinstance(cut, str):
            known = {run.route.label(v): v for v in run.route.pull_points}
            if cut not in known:
                said = f"run {run.name!r} has no pull point named {cut!r} between its ends"
                fix = f"its pull points: {', '.join(known) or 'none'}; or enter a station"
                raise InputError(Problem(said, fix=fix))
            named.append(known[cut])
            continue
        if not any(a <= cut <= b for a, b in free):
            raise InputError(Problem(render(_why_not(path, cut, site), system)))
        points.append(point_at(path, cut))
    stations = [point.station for point in points]
    if len(set(stations)) < len(stations) or len(set(named)) < len(named):
        raise InputError(Problem("two of the vaults stand at the same place"))
    return tuple(sorted(points, key=lambda p: p.station)), tuple(named)


def _why_not(path: Path, station: float, site: _SiteRule) -> Phrase:
    """Why no vault may stand at a station."""
    at = say("no vault can stand at {}: ", (station, "length"))
    if station > path.length:
        return at + say("the run is {} long", (path.length, "length"))
    for each, (first, last) in zip(site.kept, site.keep_out, strict=True):
        if each.start < station < each.end:
            return at + say("it is in no_vault ") + each.words
        if first < station < last:
            long = say("a vault {} long there reaches into no_vault ", (site.length, "length"))
            return at + long + each.words
    if path.kind[int(path.locate(station)[0])] != STRAIGHT:
        return at + say("the conduit bends there")
    return at + say("a bend or an end is nearer than {}, or it slopes", (site.length, "length"))


def _site_rule(run: Run, given: GivenOptions) -> _SiteRule:
    """Where vaults may stand in a run."""
    length = given.vault_length
    kept = filter(None, (_kept(run, no_vault) for no_vault in given.no_vault))
    return _SiteRule(USUAL_LENGTH if length is None else length, length is None, tuple(kept))


def _kept(run: Run, no_vault: NoVault) -> _Kept | None:
    """A stretch in the direction of the route; None where it is not in a run."""
    ends = _ends(run, no_vault)
    if ends is None or min(ends) > route_path(run.route).length:
        return None
    spots = zip(ends, (no_vault.start, no_vault.end), strict=True)
    (start, first), (end, last) = sorted(spots, key=lambda spot: spot[0])
    words = _spot(first, start) + say(" to ") + _spot(last, end)
    return _Kept(start, end, words + say(literal(f": {no_vault.why}" if no_vault.why else "")))


def _spot(spot: Spot, station: float) -> Phrase:
    at = (station, "length")
    return say(f"{literal(spot)} ({{}})", at) if isinstance(spot, str) else say("{}", at)


def _ends(run: Run, no_vault: NoVault) -> tuple[float, float] | None:
    """The stations of both ends as given, m; None where they are not both of the run."""
    if no_vault.run not in ("", run.name):
        return None
    path = route_path(run.route)
    start, end = (_station(run, path, spot) for spot in (no_vault.start, no_vault.end))
    return None if start is None or end is None else (start, end)


def _station(run: Run, path: Path, spot: Spot) -> float | None:
    """A place of a run, m, of a bend its middle; None where the run has no point of that name."""
    if not isinstance(spot, str):
        return spot
    labels = [run.route.label(v) for v in range(len(run.route.vertices))]
    if spot not in labels:
        return None
    vertex = labels.index(spot)
    arc = np.flatnonzero((path.vertex == vertex) & (path.kind != STRAIGHT))
    if arc.size:
        return float(path.stations[arc[0]] + path.lengths[arc].sum() / 2)
    return float(path.vertex_stations(len(labels))[vertex])


def _refuse_nowhere(runs: Sequence[Run], given: GivenOptions, system: str) -> None:
    """InputError for stretches with an end that no run of the job has."""
    problems = []
    for no_vault in given.no_vault:
        of = [run for run in runs if no_vault.run in ("", run.name)]
        if fault := _nowhere(of, no_vault, system):
            fix = "; ".join(_points(run, system) for run in of[:3])
            problems.append(replace(no_vault.place, message=fault, fix=fix))
        elif fault := _backward(no_vault, system):
            fix = "enter the lower station first, or correct the wrong one"
            problems.append(replace(no_vault.place, message=fault, fix=fix))
    if problems:
        raise InputError(problems)


def _nowhere(runs: Sequence[Run], no_vault: NoVault, system: str) -> str:
    """What is wrong with a stretch, "" where nothing is."""
    ends = (no_vault.start, no_vault.end)
    paths = [(run, route_path(run.route)) for run in runs]
    for end in ends:
        if isinstance(end, str):
            if all(_station(run, path, end) is None for run, path in paths):
                return f"no run has a point named {end!r}"
        elif all(end > path.length * (1 + 1e-9) for _, path in paths):
            return render(say("{} is beyond the end of the route", (end, "length")), system)
    if all(_kept(run, no_vault) is None for run in runs):
        return f"no run has both {no_vault.start!r} and {no_vault.end!r}"
    return ""


def _backward(no_vault: NoVault, system: str) -> str:
    """What is wrong with two stations in the wrong order: one may lack a digit."""
    start, end = no_vault.start, no_vault.end
    if isinstance(start, str) or isinstance(end, str) or start <= end:
        return ""
    said = say("from {} to {} runs backward", (start, "length"), (end, "length"))
    return render(said, system)


def _points(run: Run, system: str) -> str:
    """The points of a run and its length."""
    labels = ", ".join(run.route.label(v) for v in range(len(run.route.vertices)))
    length = render(say("{}", (route_path(run.route).length, "length")), system)
    return f"run {run.name} is {length} long; its points: {labels}"
