"""The search for what makes a run pass: options tried, judged with all findings, and ranked."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass

from route3d.model.job import Job
from route3d.phrase import Phrase, literal, say
from route3d.planning.placement.site import SiteMesh
from route3d.planning.remedies.aim import Aim
from route3d.planning.remedies.edits import (
    BendRadius,
    Edit,
    MovedPoint,
    OtherFriction,
    SplitInStages,
    Tackle,
)
from route3d.planning.remedies.field_work import access_options, field_options, tackle_options
from route3d.planning.remedies.judge import Task, Verdict, in_full, judged, verdict
from route3d.planning.remedies.option import FailingRun, Option
from route3d.planning.remedies.remedy import Advice, Remedy
from route3d.planning.remedies.route_work import (
    FIT_RULES,
    RADIUS_RULES,
    TURN_RULES,
    fit_options,
    radius_options,
    route_options,
    turn_options,
)
from route3d.planning.result import RunResult

# So many are listed, and so many of one kind: a crew chooses from a handful.
_MOST_LISTED, _MOST_OF_A_KIND = 8, 3
# Full verdicts of single changes and of pairs, changes that pairs begin with, and ways to mend what
# is wrong with the run itself.
_MOST_JUDGED, _MOST_PAIRS, _MOST_SEEDS, _MOST_OF_A_GROUP = 14, 8, 4, 3
# Rules that other tackle may mend at once.
_MOST_TACKLE = 4
# On a route of very many bends a verdict is long: then so many solutions of a bend are made.
_MOST_SOLVED = 4000
# Incomplete remedies listed where nothing passes.
_MOST_CLOSE = 3
# What leaves so many rules broken more than the best is no advice.
_MORE_LEFT = 3


# What is wrong with the run itself, in the order it is mended, and what mends it.
GROUPS: tuple[tuple[frozenset[str], Callable[[FailingRun], Iterator[Option | None]]], ...] = (
    (frozenset({"access"}), access_options),
    (frozenset(FIT_RULES), fit_options),
    (frozenset(RADIUS_RULES), radius_options),
    (frozenset(TURN_RULES), turn_options),
)


@dataclass(frozen=True, eq=False)
class _Tried:
    """An option with its verdict."""

    option: Option
    verdict: Verdict


def advise(result: RunResult, job: Job, meshes: Sequence[SiteMesh] = ()) -> Advice:
    """What would make a run pass that something stops, cheapest first.

    What is wrong is mended in the order access, fit, bend radii, turn, pull; every option is
    carried out and judged by all findings of check and plan. For the pull, options are first worked
    quickly, and two together are tried only where no single one will do.
    """
    task = Task(job, Aim(job.practice.margin), meshes)
    aim = task.aim
    state = FailingRun(result.run, verdict((result,), task), task, result.run)
    if not state.verdict.stops:
        return Advice((), say(""), aim.margin, aim.friction)
    apart = _by_themselves(state)
    if not state.verdict.stops_but(apart):
        return Advice((), _why_apart(apart), aim.margin, aim.friction)
    most = max(2, min(_MOST_JUDGED, _MOST_SOLVED // max(len(result.path), 1)))
    tried = list(_search(state, None, apart, most))
    for t, why in (
        ([t for t in tried if t.verdict.reaches(aim, but=apart)], _why_apart(apart)),
        ([t for t in tried if not t.verdict.stops_but(apart)], _short_of(aim) + _why_apart(apart)),
    ):
        if t:
            needed = _no_more_than_needed(sorted(t, key=_order))
            listed = needed[:_MOST_LISTED]
            remedies = tuple(_remedy(each, task) for each in listed)
            left = len(needed) - len(listed)
            return Advice(remedies, why, aim.margin, aim.friction, left)
    return _closest(state, tried)


def _by_themselves(state: FailingRun) -> frozenset[str]:
    """Rules of the run that no remedy is known for: they are put right by themselves."""
    findings = state.verdict.results[0].run_findings
    of_run = {f.rule for f in findings if f.severity == "stop"}
    return frozenset(of_run - {rule for rules, _ in GROUPS for rule in rules})


def _why_apart(rules: frozenset[str]) -> Phrase:
    if not rules:
        return say("")
    named = literal(", ".join(sorted(rules)))
    return say(f"Must be fixed separately in any case: {named} (see the findings).")


def _short_of(aim: Aim) -> Phrase:
    return say(
        "No remedy found keeps every load within {} of its limit with a friction margin of "
        f"{aim.friction:g}; these pass with less margin. ",
        (aim.margin, "percent"),
    )


def _no_more_than_needed(ordered: Sequence[_Tried]) -> list[_Tried]:
    """Without those that do all that another does, and something more."""
    sets = [frozenset(t.option.edits) for t in ordered]
    first: dict[frozenset[object], _Tried] = {}
    for t, edits in zip(ordered, sets, strict=True):
        if not any(other < edits for other in sets):
            first.setdefault(frozenset(_target(edit) for edit in edits), t)
    return list(first.values())


def _target(edit: Edit) -> object:
    """What an edit changes, whatever it makes of it: two remedies for the same are one."""
    match edit:
        case BendRadius(vertex) | MovedPoint(vertex):
            return type(edit), vertex
        case OtherFriction(conduit):
            return OtherFriction, conduit
        case Tackle(kind, name, key):
            return Tackle, kind, name, key
        case _:
            return edit


def _order(tried: _Tried) -> tuple[tuple[tuple[int, ...], float, float], float]:
    return tried.option.cost.key, tried.verdict.utilization


# --- one thing after another ----------------------------------------------------------------------


def _search(
    state: FailingRun, before: Option | None, apart: frozenset[str], most: int
) -> Iterator[_Tried]:
    """Everything tried from a state on, each option joined to what was done ``before``."""
    for rules, options_of in GROUPS:
        if not state.rules & rules:
            continue
        for each in _distinct(options_of(state))[:_MOST_OF_A_GROUP]:
            found = judged(each.runs, state.task)
            if found is None or {f.rule for f in found.stops} & rules:
                continue
            joined = each if before is None else before.then(each)
            yield _Tried(joined, found)
            done = found.reaches(state.task.aim, but=apart)
            if found.stops_but(apart) and len(each.runs) == 1:
                after = FailingRun(each.runs[0], found, state.task, state.given)
                deeper = list(_search(after, joined, apart, most))
                yield from deeper
                done = any(t.verdict.reaches(state.task.aim, but=apart) for t in deeper)
            if done:
                return
        return
    yield from _mend_pull(state, before, apart, most)


def _mend_pull(
    state: FailingRun, before: Option | None, apart: frozenset[str], most: int
) -> Iterator[_Tried]:
    """Single changes that make the pull pass, else two together."""
    aim = state.task.aim
    options = _distinct(_pull_options(state))
    singles = list(_judged(options, state, most))
    singles += _completed(singles, state, apart)
    if not any(t.verdict.reaches(aim, but=apart) and not t.option.hard for t in singles):
        known = {frozenset(o.edits) for o in options}
        pairs = [o for o in _distinct(_pairs(state, options)) if frozenset(o.edits) not in known]
        tried = list(_judged(pairs, state, min(_MOST_PAIRS, most)))
        singles += (*tried, *_completed(tried, state, apart))
    if not any(not t.verdict.stops_but(apart) for t in singles):
        judged_already = {id(t.option) for t in singles}
        close = [o for o in options if id(o) not in judged_already]
        close.sort(key=lambda o: (max(o.of_limits, 1.0), o.cost.key))
        for each in close[:_MOST_CLOSE]:
            if (found := judged(each.runs, state.task)) is not None:
                singles.append(_Tried(each, found))
    for t in singles:
        yield t if before is None else _Tried(before.then(t.option), t.verdict)


def _pull_options(state: FailingRun) -> Iterator[Option]:
    for found in (*field_options(state), *route_options(state)):
        if found is not None:
            yield found


def _distinct(options: Iterable[Option | None]) -> list[Option]:
    """The options in order of their cost, each set of edits once."""
    seen: set[frozenset[Edit]] = set()
    found: list[Option] = []
    for each in sorted((o for o in options if o is not None), key=lambda o: o.cost.key):
        if frozenset(each.edits) not in seen:
            seen.add(frozenset(each.edits))
            found.append(each)
    return found


def _judged(options: Sequence[Option], state: FailingRun, most: int) -> Iterator[_Tried]:
    """The verdicts of the options that can reach the aim, the cheapest first."""
    kinds: dict[str, int] = {}
    for each in [o for o in options if o.share <= 1 + 1e-9][:most]:
        if kinds.get(each.kind, 0) >= _MOST_OF_A_KIND:
            continue
        found = judged(each.runs, state.task)
        if found is not None:
            kinds[each.kind] = kinds.get(each.kind, 0) + found.reaches(state.task.aim)
            yield _Tried(each, found)


def _completed(
    singles: Sequence[_Tried], state: FailingRun, apart: frozenset[str]
) -> Iterator[_Tried]:
    """Options whose plan still finds tackle too weak or too small, with other tackle."""
    for t in singles:
        left = t.verdict.stops_but(apart)
        if not left or len(t.option.runs) > 1 or len({f.rule for f in left}) > _MOST_TACKLE:
            continue
        after = FailingRun(t.option.runs[0], t.verdict, state.task, state.given)
        for more in _distinct(tackle_options(after))[:1]:
            found = judged(more.runs, state.task)
            if found is not None and not found.stops_but(apart):
                yield _Tried(t.option.then(more), found)


def _pairs(state: FailingRun, options: Sequence[Option]) -> Iterator[Option]:
    """Two changes one after the other, begun with those that bring the pull closest."""
    seeds = [o for o in options if len(o.runs) == 1 and o.share > 1.0]
    seeds.sort(key=lambda o: (max(o.share, 1.0), o.cost.key))
    kinds: set[str] = set()
    for seed in seeds:
        if seed.kind in kinds or len(kinds) >= _MOST_SEEDS:
            continue
        found = judged(seed.runs, state.task)
        if found is None:
            continue
        kinds.add(seed.kind)
        for second in _pull_options(FailingRun(seed.runs[0], found, state.task, state.given)):
            if second.kind != seed.kind or seed.kind in ("radius", "move"):
                yield seed.then(second)


# --- where nothing passes -------------------------------------------------------------------------


def _closest(state: FailingRun, tried: Sequence[_Tried]) -> Advice:
    """What leaves the fewest stops: the best of several changes together, and single ones."""
    aim, fewest = state.task.aim, len({f.rule for f in state.verdict.stops})

    def left(t: _Tried) -> tuple[int, float, tuple[tuple[int, ...], float, float]]:
        return len({f.rule for f in t.verdict.stops}), t.verdict.utilization, t.option.cost.key

    useful = sorted((t for t in tried if left(t)[0] <= fewest), key=left)
    pairs = [t for t in useful if t.option.kind == "pair"][:1]
    singles = [t for t in useful if t.option.kind != "pair"][:_MOST_CLOSE]
    listed = sorted((*pairs, *singles), key=left)
    listed = [t for t in listed if left(t)[0] <= left(listed[0])[0] + _MORE_LEFT]
    why = say("No remedy found.")
    if listed:
        why = say("No remedy found makes it pass, combined changes included. The closest:")
    remedies = tuple(_remedy(t, state.task) for t in listed)
    return Advice(remedies, why, aim.margin, aim.friction)


# --- records --------------------------------------------------------------------------------------


def _remedy(tried: _Tried, task: Task) -> Remedy:
    each, found = tried.option, in_full(tried.verdict, task)
    best = found.worst.best
    return Remedy(
        kind=each.kind,
        what=each.what,
        outcome=_outcome(each, found),
        edits=each.edits,
        cost=each.cost,
        runs=each.runs,
        utilization=found.utilization,
        governing=best.name(best.utilization.governing),
        restart=found.restart,
        restart_limit=found.restart_limit,
        friction_margin=found.friction_margin,
        still_stops=found.stops,
        planned=found.planned,
        reaches=found.reaches(task.aim),
    )


def _outcome(each: Option, found: Verdict) -> Phrase:
    """Which end feeds, or which stage it is, and what governs each pull."""
    staged = any(isinstance(edit, SplitInStages) for edit in each.edits)
    text = say("")
    for number, result in enumerate(found.results, 1):
        best = result.best
        which = f"feed from {literal(best.pull.feed_name)}: "
        if staged:
            which = f"stage {number}: "
        elif len(found.results) > 1:
            which = f"{literal(result.run.name)}: {which}"
        text += say("; " if text else "") + say(
            f"{which}{literal(best.name(best.utilization.governing))} {{}}",
            (best.utilization.peak, "percent"),
        )
    return text
