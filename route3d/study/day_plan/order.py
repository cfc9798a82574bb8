"""The order of the pulls: one after another by rules of thumb, and the best one by a solver.

The solver is CP-SAT of OR-Tools (https://developers.google.com/optimization, Apache 2.0). It runs
with one seed and a limit counted in its own work, not in time: the same input gives the same plan.
"""

from __future__ import annotations

import random
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from types import MappingProxyType
from typing import TYPE_CHECKING, Any, NamedTuple

from route3d.study.day_plan.case import Case, Opening

if TYPE_CHECKING:
    from ortools.sat.python.cp_model import CpModel, IntVar

SEED = 1
# Shares of the work for: how many pulls have a place, the finish, set-ups and moves, early starts.
_SHARES = (0.1, 0.5, 0.3, 0.1)
# Its own work is counted in units that take about two seconds of one core (measured).
_UNIT = 2.0
# Orders tried for each pull before the solver begins: it starts nearer to the best.
_TRIES = 150
_MISSED = 1_000_000  # minutes, more than any plan has


class Placed(NamedTuple):
    """Task ``task`` with a crew and a unit: it moves from ``start``, sets up, pulls to ``end``.

    ``move`` and ``setup`` are minutes; ``reused`` says that the machine stood there already.
    """

    task: int
    crew: int
    unit: int
    start: int
    move: int
    setup: int
    end: int
    reused: bool


@dataclass(frozen=True, slots=True)
class Order:
    """The placed tasks by time. No order of them finishes before ``bound``.

    ``best`` says that none finishes before this one, ``fewest`` that none that finishes as early
    has fewer set-ups and moves.
    """

    placed: tuple[Placed, ...]
    bound: int
    best: bool
    fewest: bool

    @property
    def finish(self) -> int:
        """The minute when the last pull is over."""
        return finish_of(self.placed)


def finish_of(placed: Iterable[Placed]) -> int:
    """The minute when the last of some pulls is over; 0 for none."""
    return max((p.end for p in placed), default=0)


def effort(placed: Iterable[Placed]) -> int:
    """Set-ups and moves of a plan, each counted as one."""
    return sum((not p.reused) + (p.move > 0) for p in placed)


# --- one after another ----------------------------------------------------------------------------


class _Stand(NamedTuple):
    """What a crew or a unit did last, and until when."""

    free: int = 0
    task: int = -1


def one_by_one(
    case: Case, order: Sequence[int], crew_of: Mapping[int, int] = MappingProxyType({})
) -> tuple[Placed, ...]:
    """Each task in turn as early as it goes, with the crew and unit that end it first.

    ``crew_of`` are tasks that go to a certain crew. A task that no opening takes any more is left
    out.
    """
    crews = [_Stand() for _ in case.shifts]
    units = [_Stand() for _ in case.units]
    ends: dict[int, int] = {}
    found = []
    for task in order:
        after = case.tasks[task].after
        if after is not None and after not in ends:
            continue
        ready = 0 if after is None else ends[after]
        ways = (
            _earliest(case, task, crew, unit, crews[crew], units[unit], ready)
            for crew in ([crew_of[task]] if task in crew_of else range(len(crews)))
            for unit in case.units_for(task, crew)
        )
        fitting = [way for way in ways if way is not None]
        if not fitting:
            continue
        best = min(fitting, key=lambda p: (p.end, not p.reused, p.crew, p.unit))
        ends[task] = best.end
        crews[best.crew] = _Stand(best.end, task)
        units[best.unit] = _Stand(best.end, task)
        found.append(best)
    return tuple(sorted(found, key=lambda p: (p.start, p.crew)))


def _earliest(
    case: Case, task: int, crew: int, unit: int, of_crew: _Stand, of_unit: _Stand, ready: int
) -> Placed | None:
    """A task right after what its crew and its unit did last; None where it does not fit."""
    this = case.tasks[task]
    elsewhere = of_crew.task >= 0 and case.tasks[of_crew.task].place != this.place
    away = of_unit.task >= 0 and case.tasks[of_unit.task].place != this.place
    move = case.move if elsewhere or away else 0
    reused = of_crew.task >= 0 and of_crew.task == of_unit.task and not elsewhere
    setup = this.again if reused else this.setup
    free = of_unit.free + (move if away else 0)
    for opening in this.openings[crew]:
        at = max(opening.start, max(of_crew.free, opening.begins) + move, ready, free)
        end = at + setup + this.work
        if end <= opening.end:
            return Placed(task, crew, unit, at - move, move, setup, end, reused)
    return None


def by_rules(case: Case) -> tuple[Placed, ...]:
    """The best of a few orders that a planner would try."""
    tasks = case.tasks

    def last(i: int) -> int:
        return max((o.end for openings in tasks[i].openings for o in openings), default=0)

    def first(i: int) -> int:
        return min((o.start for openings in tasks[i].openings for o in openings), default=0)

    rules: tuple[Callable[[int], tuple[int, ...]], ...] = (
        lambda i: (last(i), tasks[i].place, i),
        lambda i: (first(i), tasks[i].place, i),
        lambda i: (tasks[i].place, i),
        lambda i: (first(i), -tasks[i].work, i),
        lambda i: (i,),
    )
    return _improved(case, [_chained(case, sorted(range(len(tasks)), key=r)) for r in rules])


def _rank(placed: Sequence[Placed]) -> tuple[int, int, int, int]:
    """What of two plans the better one has less of, most important first."""
    return -len(placed), finish_of(placed), effort(placed), sum(p.end for p in placed)


def _cost(placed: Sequence[Placed]) -> int:
    """The same in minutes, so that a later finish may be weighed against set-ups and moves."""
    return finish_of(placed) + sum(p.move + p.setup for p in placed) - _MISSED * len(placed)


def _improved(case: Case, orders: Sequence[list[int]]) -> tuple[Placed, ...]:
    """The best plan met on a walk from the best of some orders.

    A step puts a task elsewhere, next to another of its place, or with another crew, and is taken
    where it makes the plan worse by no more than a threshold, which falls to nothing (threshold
    accepting: G. Dueck, T. Scheuer, J. Comput. Phys. 90, 1990, 161-175; from memory).
    """
    chance, count = random.Random(SEED), len(case.tasks)
    order = min(orders, key=lambda order: _rank(one_by_one(case, order)))
    plan = best = one_by_one(case, order)
    crew_of: dict[int, int] = {}
    tries = _TRIES * count if count > 1 else 0
    threshold = sum(t.setup + t.work for t in case.tasks) / max(count, 1)
    for step in range(tries):
        tried, with_crew = list(order), dict(crew_of)
        task = tried.pop(chance.randrange(count))
        at, what = chance.randrange(count), chance.randrange(4)
        mates = [k for k, x in enumerate(tried) if case.tasks[x].place == case.tasks[task].place]
        if what and mates:
            at = mates[at % len(mates)] + 1
        if what > 1:
            with_crew.pop(task, None)
            if at < len(case.shifts):
                with_crew[task] = at
            elif mates and tried[at - 1] in with_crew:
                with_crew[task] = with_crew[tried[at - 1]]
        tried = _chained(case, [*tried[:at], task, *tried[at:]])
        found = one_by_one(case, tried, with_crew)
        if _cost(found) <= _cost(plan) + threshold * (1 - step / tries):
            plan, order, crew_of = found, tried, with_crew
            if _rank(found) < _rank(best):
                best = found
    return best


def _chained(case: Case, order: Sequence[int]) -> list[int]:
    """The order with every task after the one that must be over before it."""
    found: list[int] = []

    def put(task: int) -> None:
        after = case.tasks[task].after
        if task not in found:
            if after is not None:
                put(after)
            found.append(task)

    for task in order:
        put(task)
    return found


# --- by the solver --------------------------------------------------------------------------------


def best_order(case: Case, seconds: float, told: Callable[[str], None] = lambda _: None) -> Order:
    """The plan that places most pulls, finishes first, then has fewest set-ups and moves.

    ``seconds`` is about the time it may take; ``told`` hears what is being looked for. Raises
    ModuleNotFoundError where the solver is not installed.
    """
    import ortools.sat.python.cp_model  # noqa: F401 - before any work is done

    start = by_rules(case)
    numbers = list(range(len(case.tasks)))
    spent = 0.0
    if len(start) < len(numbers):
        told("places for all pulls")
        start, spent = _most_placed(case, start, seconds * _SHARES[0])
        numbers = sorted(p.task for p in start)
        case = _only(case, numbers)
        back = {task: i for i, task in enumerate(numbers)}
        start = tuple(p._replace(task=back[p.task]) for p in start)
    if not numbers:
        return Order((), 0, True, True)
    search = _Search(case, start)
    told("the earliest finish")
    bound, spent = search.finish(seconds * (_SHARES[0] + _SHARES[1]) - spent, spent)
    best = bound >= finish_of(search.placed)
    told("the fewest set-ups and moves")
    fewest, spent = search.effort(seconds * sum(_SHARES[:3]) - spent, spent)
    told("early starts")
    search.early(seconds - spent)
    placed = tuple(p._replace(task=numbers[p.task]) for p in search.placed)
    return Order(placed, bound, best, fewest)


def _only(case: Case, numbers: Sequence[int]) -> Case:
    """The case with some of its tasks."""
    back = {task: i for i, task in enumerate(numbers)}
    tasks = (
        replace(task, after=None if task.after is None else back[task.after])
        for task in (case.tasks[n] for n in numbers)
    )
    return replace(case, tasks=tuple(tasks))


def _most_placed(
    case: Case, start: tuple[Placed, ...], limit: float
) -> tuple[tuple[Placed, ...], float]:
    """A plan with as many pulls as the solver finds places for."""
    made = _Rules(case, finish=None, optional=True)
    made.model.maximize(sum(made.there))
    made.hint(start)
    solver, status = _solved(made.model, limit)
    found = made.placed(solver) if status in _FOUND else start
    return (found if len(found) > len(start) else start), solver.deterministic_time * _UNIT


_FOUND = (2, 4)  # FEASIBLE, OPTIMAL


def _solved(model: CpModel, limit: float) -> tuple[Any, int]:
    from ortools.sat.python.cp_model import CpSolver

    solver = CpSolver()
    solver.parameters.random_seed = SEED
    solver.parameters.num_workers = 8
    solver.parameters.interleave_search = True  # of its ways to search, in turns: repeatable
    solver.parameters.max_deterministic_time = max(limit / _UNIT, 0.01)
    return solver, int(solver.solve(model))


class _Search:
    """A plan that gets better in turns: finish, then set-ups and moves, then early starts."""

    def __init__(self, case: Case, start: tuple[Placed, ...]) -> None:
        self.case, self.placed = case, start

    def finish(self, limit: float, spent: float) -> tuple[int, float]:
        """Look for the earliest finish; the bound found, and the work spent."""
        known, least = finish_of(self.placed), self.case.least_finish
        if known <= least:
            return known, spent
        made = _Rules(self.case, finish=known)
        made.model.minimize(made.finish)
        bound, used = self._better(made, limit)
        return min(max(least, bound), finish_of(self.placed)), spent + used

    def effort(self, limit: float, spent: float) -> tuple[bool, float]:
        """Look for fewer set-ups and moves with that finish; whether there are none."""
        made = _Rules(self.case, finish=finish_of(self.placed))
        made.model.minimize(made.efforts)
        bound, used = self._better(made, limit)
        return bound >= effort(self.placed), spent + used

    def early(self, limit: float) -> None:
        """Let every pull begin as early as it can."""
        made = _Rules(self.case, finish=finish_of(self.placed))
        made.model.add(made.efforts <= effort(self.placed))
        made.model.minimize(sum(made.ends))
        self._better(made, limit)

    def _better(self, made: _Rules, limit: float) -> tuple[int, float]:
        made.hint(self.placed)
        solver, status = _solved(made.model, limit)
        if status in _FOUND:
            self.placed = made.placed(solver)
        return round(solver.best_objective_bound - 0.499), solver.deterministic_time * _UNIT


class _Rules:
    """The plan as variables and constraints of the solver.

    Every crew goes round a circuit of its tasks, and so does every unit that has its own way: the
    arcs say who comes after whom, hence who moves and who finds the machine standing there.
    """

    def __init__(self, case: Case, *, finish: int | None, optional: bool = False) -> None:
        from ortools.sat.python.cp_model import CpModel

        self.case, self.model = case, CpModel()
        last = max((s[-1][1] for s in case.shifts if s), default=0)
        self.last = last if finish is None else finish
        count = len(case.tasks)
        new = self.model.new_int_var
        self.there = [self._yes(f"there {i}") for i in range(count)]
        if not optional:
            for there in self.there:
                self.model.add(there == 1)
        self.begins = [new(0, self.last, f"begins {i}") for i in range(count)]
        self.starts = [new(0, self.last, f"starts {i}") for i in range(count)]
        self.ends = [new(0, self.last, f"ends {i}") for i in range(count)]
        self.fresh = [self._yes(f"fresh {i}") for i in range(count)]
        self.moved = [self._yes(f"moved {i}") for i in range(count)]
        self.finish = new(0 if optional else min(case.least_finish, self.last), self.last, "finish")
        self.with_unit = [
            {
                (crew, unit): self._yes(f"{i} with {crew} {unit}")
                for crew in range(len(case.shifts))
                for unit in case.units_for(i, crew)
            }
            for i in range(count)
        ]
        self.opening: list[dict[tuple[int, Opening], IntVar]] = []
        self.crew_arcs: dict[int, dict[tuple[int, int], IntVar]] = {}
        self.unit_arcs: dict[int, dict[tuple[int, int], IntVar]] = {}
        self._parts()
        self._openings()
        self._circuits()
        self._counts()

    def _yes(self, name: str) -> IntVar:
        return self.model.new_bool_var(name)

    def crew_of(self, task: int, crew: int) -> Any:
        """The sum that is 1 where a crew pulls a task."""
        return sum(x for (c, _), x in self.with_unit[task].items() if c == crew)

    def _parts(self) -> None:
        """A task is a move, a set-up and its work."""
        for i, task in enumerate(self.case.tasks):
            self.model.add(self.starts[i] == self.begins[i] + self.case.move * self.moved[i])
            saved = task.setup - task.again
            whole = task.work + task.again + saved * self.fresh[i]
            self.model.add(self.ends[i] == self.starts[i] + whole)
            self.model.add(self.finish >= self.ends[i])
            self.model.add_exactly_one(*self.with_unit[i].values(), ~self.there[i])
            if task.after is not None:
                self.model.add_implication(self.there[i], self.there[task.after])
                self.model.add(self.starts[i] >= self.ends[task.after]).only_enforce_if(
                    self.there[i]
                )

    def _openings(self) -> None:
        """Set-up and work lie in one opening of the crew, and what a shift takes is bounded."""
        for i, task in enumerate(self.case.tasks):
            mine: dict[tuple[int, Opening], IntVar] = {}
            for crew, openings in enumerate(task.openings):
                fitting = []
                for k, opening in enumerate(openings):
                    least = task.again + task.work
                    if opening.end - opening.start < least or opening.start + least > self.last:
                        continue
                    here = self._yes(f"{i} in opening {k} of {crew}")
                    self.model.add(self.starts[i] >= opening.start).only_enforce_if(here)
                    self.model.add(self.begins[i] >= opening.begins).only_enforce_if(here)
                    self.model.add(self.ends[i] <= opening.end).only_enforce_if(here)
                    mine[crew, opening] = here
                    fitting.append(here)
                self.model.add(self.crew_of(i, crew) == sum(fitting))
            self.opening.append(mine)
        inside: dict[tuple[int, int], dict[int, list[IntVar]]] = {}
        for i, mine in enumerate(self.opening):
            for (crew, opening), here in mine.items():
                inside.setdefault((crew, opening.shift), {}).setdefault(i, []).append(here)
        for (crew, number), tasks in inside.items():
            start, end = self.case.shifts[crew][number]
            took = [part for i, heres in tasks.items() for part in self._took(i, sum(heres))]
            self.model.add(sum(took) <= end - start)

    def _took(self, i: int, here: Any) -> Iterator[Any]:
        """What a task takes of a shift, 0 where it is not ``here``; set-up and move counted."""
        task = self.case.tasks[i]
        yield (task.work + task.again) * here
        saved = task.setup - task.again
        for more, minutes in ((self.fresh[i], saved), (self.moved[i], self.case.move)):
            if minutes:
                both = self._yes("")
                self.model.add(both >= more + here - 1)
                yield minutes * both

    def _circuits(self) -> None:
        """Who comes after whom, for each crew and each unit that has its own way."""
        tasks = self.case.tasks
        reuse: list[list[Any]] = [[] for _ in tasks]
        moving: list[list[Any]] = [[] for _ in tasks]
        fetching: list[list[Any]] = [[] for _ in tasks]
        shared: dict[tuple[int, int, int], IntVar] = {}
        for unit in range(len(self.case.units)):
            if self.case.own_way(unit):
                mine = {
                    i: sum(x for (_, u), x in w.items() if u == unit)
                    for i, w in enumerate(self.with_unit)
                    if any(u == unit for _, u in w)
                }
                arcs = self._circuit(mine, f"unit {unit}")
                self.unit_arcs[unit] = arcs
                for (i, j), arc in arcs.items():
                    shared[unit, i, j] = arc
                    away = tasks[i].place != tasks[j].place
                    if away:
                        fetching[j].append(arc)
                    from_then = self.begins[j] if away else self.starts[j]
                    self.model.add(from_then >= self.ends[i]).only_enforce_if(arc)
        for crew in range(len(self.case.shifts)):
            mine = {
                i: self.crew_of(i, crew)
                for i, w in enumerate(self.with_unit)
                if any(c == crew for c, _ in w)
            }
            arcs = self._circuit(mine, f"crew {crew}")
            self.crew_arcs[crew] = arcs
            spans = []
            for i, there in mine.items():
                here = self._yes(f"{i} of {crew}")
                self.model.add(here == there)
                size = self.model.new_int_var(0, self.last, f"size {i} of {crew}")
                spans.append(
                    self.model.new_optional_interval_var(
                        self.begins[i], size, self.ends[i], here, f"span {i} of {crew}"
                    )
                )
            self.model.add_no_overlap(spans)
            for (i, j), arc in arcs.items():
                self.model.add(self.begins[j] >= self.ends[i]).only_enforce_if(arc)
                if tasks[i].place != tasks[j].place:
                    moving[j].append(arc)
                elif tasks[i].machine == tasks[j].machine:
                    reuse[j] += self._standing(crew, i, j, arc, shared)
        for j in range(len(tasks)):
            # a fresh set-up is forced where nothing stands there, and never needed otherwise
            self.model.add(self.fresh[j] + sum(reuse[j]) == self.there[j])
            ways = (sum(moving[j]), sum(fetching[j]))
            if self.case.move:
                self.model.add_max_equality(self.moved[j], ways)
            else:
                self.model.add(self.moved[j] == 0)

    def _standing(
        self, crew: int, i: int, j: int, arc: IntVar, shared: dict[tuple[int, int, int], IntVar]
    ) -> Iterator[IntVar]:
        """What is 1 where j finds the machine of i standing: the arc, by the unit if shared."""
        for unit in self.case.units_for(j, crew):
            if len(self.case.units[unit].crews) == 1:
                yield arc
                continue
            both = self._yes(f"{j} after {i} of {crew} with {unit}")
            self.model.add_bool_and(arc, shared[unit, i, j]).only_enforce_if(both)
            self.model.add_bool_or(~arc, ~shared[unit, i, j], both)
            yield both

    def _circuit(self, mine: dict[int, Any], name: str) -> dict[tuple[int, int], IntVar]:
        """The arcs of a round through the tasks that are there, from a beginning and back."""
        arcs: dict[tuple[int, int], IntVar] = {}
        rows: list[tuple[int, int, Any]] = [(0, 0, self._yes(f"{name} idle"))]
        node = {task: n for n, task in enumerate(mine, 1)}
        for i, there in mine.items():
            away = self._yes(f"{name} without {i}")
            self.model.add(away + there == 1)
            rows.append((node[i], node[i], away))
            rows.append((0, node[i], self._yes(f"{name} begins with {i}")))
            rows.append((node[i], 0, self._yes(f"{name} ends with {i}")))
            for j in mine:
                if i != j and self.case.tasks[i].after != j:
                    arcs[i, j] = self._yes(f"{name}: {i} then {j}")
                    rows.append((node[i], node[j], arcs[i, j]))
        if mine:
            self.model.add_circuit(rows)
        return arcs

    def _counts(self) -> None:
        """Set-ups and moves; each place takes a set-up, and a crew begins at one only."""
        tasks = self.case.tasks
        self.efforts = sum(self.fresh) + sum(self.moved)
        groups: dict[tuple[int, str], list[int]] = {}
        for i, task in enumerate(tasks):
            groups.setdefault((task.place, task.machine), []).append(i)
        for group in groups.values():
            for i in group:
                self.model.add(sum(self.fresh[k] for k in group) >= 1).only_enforce_if(
                    self.there[i]
                )

    # --- values in and out ------------------------------------------------------------------------

    def hint(self, placed: Iterable[Placed]) -> None:
        """Begin from a plan."""
        for p in placed:
            for at, value in (
                (self.begins, p.start),
                (self.starts, p.start + p.move),
                (self.ends, p.end),
                (self.fresh, int(not p.reused)),
                (self.moved, int(p.move > 0)),
            ):
                self.model.add_hint(at[p.task], value)
            for key, x in self.with_unit[p.task].items():
                self.model.add_hint(x, key == (p.crew, p.unit))
            for (crew, opening), here in self.opening[p.task].items():
                inside = crew == p.crew and opening.start <= p.end - 1 < opening.end
                self.model.add_hint(here, inside)
        in_turn = sorted(placed, key=lambda p: p.end)
        ways = [(arcs, [p for p in in_turn if p.crew == c]) for c, arcs in self.crew_arcs.items()]
        ways += [(arcs, [p for p in in_turn if p.unit == u]) for u, arcs in self.unit_arcs.items()]
        for arcs, mine in ways:
            after = {(a.task, b.task) for a, b in pairwise(mine)}
            for key, arc in arcs.items():
                self.model.add_hint(arc, key in after)

    def placed(self, solver: Any) -> tuple[Placed, ...]:
        """The plan that the solver found, by time."""
        found = []
        for i, task in enumerate(self.case.tasks):
            for (crew, unit), x in self.with_unit[i].items():
                if solver.boolean_value(x):
                    start, end = solver.value(self.begins[i]), solver.value(self.ends[i])
                    move = self.case.move * solver.value(self.moved[i])
                    setup = end - start - move - task.work
                    reused = not solver.boolean_value(self.fresh[i])
                    found.append(Placed(i, crew, unit, start, move, setup, end, reused))
        return tuple(sorted(found, key=lambda p: (p.start, p.crew)))
