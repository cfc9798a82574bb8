"""The day plan against every order there is, and what must hold of any plan."""

from __future__ import annotations

import random
from collections.abc import Iterator, Sequence
from dataclasses import replace
from datetime import date, datetime, time, timedelta
from itertools import pairwise, permutations, product

import pytest

from route3d.model.schedule import Crew, Delivery, Outage, Schedule
from route3d.study.day_plan.case import Case, case_of
from route3d.study.day_plan.days import planned
from route3d.study.day_plan.order import Placed, by_rules, effort, finish_of, one_by_one
from route3d.study.day_plan.outcome import DayPlan, PlacedPull
from route3d.study.day_plan.work import PullWork, Works

MONDAY = date(2026, 6, 1)
SHORT = (time(7), time(12))
MINUTE = 60.0


def at(day: int, hour: int, minute: int = 0) -> datetime:
    return datetime.combine(MONDAY, time()) + timedelta(days=day, hours=hour, minutes=minute)


def crew(name: str, *machines: str, hours: tuple[time, time] = SHORT, **more: object) -> Crew:
    whole = (0, 1, 2, 3, 4)
    return replace(Crew(name, machines or ("puller",), hours, whole, MONDAY), **more)  # type: ignore[arg-type]


def pull(
    name: str, place: int, minutes: float, machine: str = "puller", **more: object
) -> PullWork:
    made = PullWork(name, "", "pad", f"V{place}", machine, "reel", place, 3600.0, minutes * MINUTE)
    return replace(made, **more)  # type: ignore[arg-type]


def schedule(*crews: Crew, **more: object) -> Schedule:
    made = Schedule(MONDAY, crews, move=30 * MINUTE, setup_again=10 * MINUTE)
    return replace(made, **more)  # type: ignore[arg-type]


# --- every order there is, by a scheduler of its own ----------------------------------------------


def _poor(case: Case) -> tuple[Placed, ...]:
    """The worst of a few orders, for the solver to begin with."""
    orders = [o for o in permutations(range(len(case.tasks))) if _in_chain(case, o)][::7]
    plans = (one_by_one(case, o) for o in orders)
    whole = [plan for plan in plans if len(plan) == len(case.tasks)]
    return max(whole, key=lambda plan: (finish_of(plan), effort(plan)))


def _in_chain(case: Case, order: Sequence[int]) -> bool:
    """Whether every task comes after the one that must be over before it."""
    befores = ((t.after, i) for i, t in enumerate(case.tasks) if t.after is not None)
    return all(order.index(a) < order.index(b) for a, b in befores)


def every_plan(case: Case) -> Iterator[tuple[int, int]]:
    """Finish and effort of every order with every crew and unit, each pull as early as it goes."""
    count = len(case.tasks)
    choices = [
        [(c, u) for u, x in enumerate(case.units) for c in x.crews if x.machine == t.machine]
        for t in case.tasks
    ]
    for order in permutations(range(count)):
        for chosen in product(*choices):
            found = _timed(case, order, chosen)
            if found is not None:
                yield found


def _timed(
    case: Case, order: Sequence[int], chosen: Sequence[tuple[int, int]]
) -> tuple[int, int] | None:
    done: dict[int, int] = {}
    of_crew: dict[int, list[int]] = {}
    of_unit: dict[int, list[int]] = {}
    efforts = 0
    for i in order:
        (c, u), task = chosen[i], case.tasks[i]
        before, last = of_crew.get(c, []), of_unit.get(u, [])
        elsewhere = bool(before) and case.tasks[before[-1]].place != task.place
        stands = bool(before) and bool(last) and before[-1] == last[-1] and not elsewhere
        away = bool(last) and case.tasks[last[-1]].place != task.place
        move = case.move if elsewhere or away else 0
        took = task.work + (task.again if stands else task.setup)
        ready = done[before[-1]] + move if before else 0
        if last:  # who uses it next brings it
            ready = max(ready, done[last[-1]] + (move if away else 0))
        if task.after is not None:
            if task.after not in done:
                return None
            ready = max(ready, done[task.after])
        starts = [
            max(ready, o.start, o.begins + move)
            for o in task.openings[c]
            if max(ready, o.start, o.begins + move) + took <= o.end
        ]
        if not starts:
            return None
        done[i] = min(starts) + took
        of_crew.setdefault(c, []).append(i)
        of_unit.setdefault(u, []).append(i)
        efforts += (not stands) + (move > 0)
    return max(done.values()), efforts


def small_job(seed: int) -> tuple[list[PullWork], Schedule]:
    """Four or five pulls at two or three places, one or two crews, windows and deliveries."""
    chance = random.Random(seed)
    count = chance.choice((4, 5))
    machines = ("puller", "winch") if seed % 4 == 3 else ("puller",)
    pulls = [
        pull(f"R{i}", chance.randrange(3), chance.randrange(20, 130), chance.choice(machines))
        for i in range(count)
    ]
    if seed % 3 == 0:
        pulls[2] = replace(pulls[2], run="R1", stage="stage 2 of 2", after=1)
    crews = [crew("A", *machines), crew("B", *machines)][: 1 + seed % 2]
    made = schedule(
        *crews,
        counts={"puller": 1 if seed % 5 == 1 else len(crews)},
        outages=(
            Outage("off", ("R0",), at(0, 8), at(1, 9), inside=False),
            Outage("in", ("R3",), at(chance.randrange(3), 6), at(3, 12)),
        ),
        deliveries=(Delivery("truck", at(chance.randrange(2), 9), ("R1",)),),
    )
    return pulls, made


@pytest.mark.parametrize(
    ("seed", "good_start"),
    [(seed, False) for seed in (1, 3, 4, 6)] + [(seed, True) for seed in (2, 7)],
)
def test_no_order_finishes_earlier_or_has_fewer_setups(
    seed: int, good_start: bool, monkeypatch: pytest.MonkeyPatch
) -> None:
    """With the rules of thumb before the solver, and without: then it must find all by itself."""
    if not good_start:
        monkeypatch.setattr("route3d.study.day_plan.order.by_rules", _poor)
    pulls, made = small_job(seed)
    plan = planned(Works(tuple(pulls)), made, 10.0)
    days = 5
    best = min(every_plan(case_of(pulls, made, days)))
    assert plan.best and plan.fewest and not plan.unplaced
    finish = max(p.end for p in plan.pulls)
    moves = sum(p.move > 0 for p in plan.pulls)
    assert ((finish - at(0, 0)).total_seconds() / MINUTE, plan.setups + moves) == best
    check(plan, pulls, made)


# --- what holds of any plan -----------------------------------------------------------------------


def check(plan: DayPlan, pulls: Sequence[PullWork], made: Schedule) -> None:
    """Everything a foreman could object to: overlaps, hours, windows, deliveries, reuse."""
    works = {(w.run, w.stage): w for w in pulls}
    crews = {c.name: c for c in made.crews}
    by_crew: dict[str, list[PlacedPull]] = {}
    by_machine: dict[str, list[PlacedPull]] = {}
    for p in sorted(plan.pulls, key=lambda p: p.end):
        by_crew.setdefault(p.crew, []).append(p)
        by_machine.setdefault(p.machine, []).append(p)
    for mine in (*by_crew.values(), *by_machine.values()):
        assert all(a.end <= b.start + timedelta(seconds=b.move) for a, b in pairwise(mine))
    for mine in by_crew.values():
        assert all(a.end <= b.start for a, b in pairwise(mine))
        for a, b in pairwise(mine):
            same = works[a.run, a.stage].place == works[b.run, b.stage].place
            if b.reused:
                assert same and a.machine == b.machine
                all_of_it = by_machine[a.machine]
                assert all_of_it.index(b) == all_of_it.index(a) + 1
    places = {id(p): works[p.run, p.stage].place for p in plan.pulls}
    moved = set()
    for mine in (*by_crew.values(), *by_machine.values()):
        for a, b in pairwise(mine):
            if places[id(a)] != places[id(b)]:  # the crew has a way to go, or a machine to bring
                moved.add(id(b))
                assert a.end <= b.start
    for p in plan.pulls:
        work = works[p.run, p.stage]
        assert p.move == (made.move if id(p) in moved else 0)
        # durations add up to those of the plan, every part rounded up to a minute
        assert (p.end - p.start).total_seconds() == p.move + p.setup + p.work
        assert work.work <= p.work < work.work + MINUTE
        assert p.setup == (made.setup_again if p.reused else work.setup)
        start, end = (datetime.combine(p.day, t) for t in crews[p.crew].hours)
        end += timedelta(days=end <= start)
        assert start <= p.start and p.end <= end
        assert p.day.weekday() in crews[p.crew].days and p.day not in crews[p.crew].off
        assert p.day >= crews[p.crew].start
        begins = p.start + timedelta(seconds=p.move)
        inside = [o for o in made.outages if o.inside and p.run in o.runs]
        assert not inside or any(o.start <= begins and p.end <= o.end for o in inside)
        for o in made.outages:
            if not o.inside and p.run in o.runs:
                assert p.end <= o.start or begins >= o.end
        for d in made.deliveries:
            if p.run in d.runs or d.reel == work.reel:
                assert begins >= d.at
    assert plan.bound <= plan.value
    assert len(plan.pulls) + len(plan.unplaced) == len(pulls)


def many_pulls(seed: int, count: int) -> tuple[list[PullWork], Schedule]:
    chance = random.Random(seed)
    pulls = [
        pull(f"R{i}", chance.randrange(count // 3), chance.uniform(15, 110)) for i in range(count)
    ]
    night = (time(22), time(6))
    made = schedule(
        crew("day", hours=(time(7), time(15, 30)), off=(date(2026, 6, 3),)),
        crew("night", hours=night, start=date(2026, 6, 2)),
        counts={"puller": 1 + seed % 2},
        outages=(
            Outage("one", ("R0", "R1"), at(2, 6), at(3, 18)),
            Outage("two", ("R0", "R4"), at(7, 6), at(7, 18)),
            Outage("no", ("R5", "R6", "R7"), at(0, 0), at(2, 10), inside=False),
        ),
        deliveries=(Delivery("truck", at(1, 9, 30), ("R2", "R3")),),
    )
    return pulls, made


@pytest.mark.parametrize("seed", (1,))
def test_windows_shifts_and_deliveries_are_kept_and_the_plan_is_repeatable(seed: int) -> None:
    pulls, made = many_pulls(seed, 9)
    plan = planned(Works(tuple(pulls)), made, 0.2)
    check(plan, pulls, made)
    assert planned(Works(tuple(pulls)), made, 0.2) == plan


@pytest.mark.many
@pytest.mark.parametrize("seed", range(6))
def test_large_plans_keep_everything_and_are_near_their_bound(seed: int) -> None:
    pulls, made = many_pulls(seed, 30)
    plan = planned(Works(tuple(pulls)), made, 6.0)
    check(plan, pulls, made)
    assert not plan.unplaced and plan.above < 0.25


@pytest.mark.many
@pytest.mark.parametrize("good_start", [True, False], ids=["by rules", "from a poor plan"])
@pytest.mark.parametrize("seed", range(40))
def test_no_order_is_better_of_many_more(
    seed: int, good_start: bool, monkeypatch: pytest.MonkeyPatch
) -> None:
    test_no_order_finishes_earlier_or_has_fewer_setups(seed, good_start, monkeypatch)


def test_a_bound_without_the_solver_is_below_every_plan() -> None:
    for seed in (1, 3, 4):
        case = case_of(*small_job(seed), 5)
        assert case.least_finish <= min(every_plan(case))[0]
        found = by_rules(case)
        assert (finish_of(found), effort(found)) >= min(every_plan(case))


# --- by hand --------------------------------------------------------------------------------------


def test_a_machine_that_stands_there_saves_its_setup() -> None:
    """Three pulls of 50 min in a shift of 5 h: 60+50, then 10+50 at the same vault, then a move."""
    pulls = [pull("R1", 0, 50), pull("R2", 1, 50), pull("R3", 0, 50)]
    plan = planned(Works(tuple(pulls), ("V0", "V1")), schedule(crew("A")), 5.0)
    times = [(p.place, p.setup / MINUTE, p.move / MINUTE, p.reused) for p in plan.pulls]
    assert times == [("V0", 60, 0, False), ("V0", 10, 0, True), ("V1", 60, 30, False)] or times == [
        ("V1", 60, 0, False),
        ("V0", 60, 30, False),
        ("V0", 10, 0, True),
    ]
    # 110 + 60 min on Monday; 30 + 60 + 50 do not fit before 12:00 any more
    assert plan.finish == at(1, 9, 20) if times[0][0] == "V0" else at(1, 8)


def test_seconds_are_rounded_up_to_a_minute() -> None:
    plan = planned(Works((pull("R1", 0, 50.01), pull("R2", 0, 60.0))), schedule(crew("A")), 5.0)
    assert sorted(p.work / MINUTE for p in plan.pulls) == [51, 60]


@pytest.mark.parametrize(
    ("pulls", "made", "why"),
    [
        (
            [pull("R1", 0, 300)],
            schedule(crew("A")),
            "takes 6 h with its set-up",
        ),
        ([pull("R1", 0, 30, "winch")], schedule(crew("A")), "no crew has machine winch"),
        (
            [pull("R1", 0, 60)],
            schedule(crew("A"), outages=(Outage("gap", ("R1",), at(0, 11), at(0, 14)),)),
            'needs 2 h in a shift inside window "gap"; there is no such time',
        ),
        (
            [pull("R1", 0, 60)],
            schedule(crew("A"), outages=(Outage("weekend", ("R1",), at(5, 6), at(6, 20)),)),
            'inside window "weekend"; there is no such time',
        ),
        (
            [pull("R1", 0, 60)],
            schedule(
                crew("A"),
                outages=(Outage("gap", ("R1",), at(0, 7), at(0, 12)),),
                deliveries=(Delivery("truck", at(2, 8), ("R1",)),),
            ),
            'inside window "gap", with delivery "truck"; there is no such time',
        ),
        (
            [pull("R1", 0, 300), pull("R1", 1, 30, stage="stage 2 of 2", after=0)],
            schedule(crew("A")),
            "the stage before it has no place",
        ),
        (
            [pull("R1", 0, 200), pull("R2", 1, 200)],
            schedule(crew("A"), outages=(Outage("gap", ("R1", "R2"), at(0, 7), at(0, 12)),)),
            'no time is left for it inside "gap" beside the pulls that are placed',
        ),
        (  # it would fit after another at its place: there is none
            [pull("R1", 0, 250), pull("R2", 1, 60)],
            schedule(crew("A")),
            "takes 5 h 10 min with its set-up; the longest shift of its crews has 5 h",
        ),
    ],
)
def test_a_pull_without_a_place_says_why(pulls: list[PullWork], made: Schedule, why: str) -> None:
    plan = planned(Works(tuple(pulls)), made, 5.0)
    assert plan.stops and any(why in reason for _, reason in plan.unplaced), plan.unplaced
    assert len(plan.pulls) + len(plan.unplaced) == len(pulls)


def test_what_a_pull_waits_for_is_named() -> None:
    made = schedule(
        crew("A"),
        outages=(
            Outage("bus down", ("R1",), at(1, 7), at(1, 12)),
            Outage("ferries", ("R2",), at(0, 0), at(0, 9), inside=False),
        ),
        deliveries=(Delivery("truck", at(2, 8), reel="late"),),
    )
    pulls = [pull("R1", 0, 60), pull("R2", 1, 60), pull("R3", 2, 60, reel="late")]
    plan = planned(Works(tuple(pulls)), made, 5.0)
    assert {p.run: p.waits_for for p in plan.pulls} == {
        "R1": "window bus down",
        "R2": "end of ferries",
        "R3": "delivery truck",
    }


def test_crews_of_different_machines_do_not_wait_for_each_other() -> None:
    pulls = [pull("R1", 0, 100), pull("R2", 1, 100, "winch")]
    plan = planned(Works(tuple(pulls)), schedule(crew("A"), crew("B", "winch")), 5.0)
    assert {p.crew: p.start for p in plan.pulls} == {"A": at(0, 7), "B": at(0, 7)}


def test_a_shared_machine_is_never_in_two_places() -> None:
    pulls = [pull("R1", 0, 60), pull("R2", 1, 60)]
    plan = planned(Works(tuple(pulls)), schedule(crew("A"), crew("B")), 5.0)
    first, second = sorted(plan.pulls, key=lambda p: p.start)
    begins = second.start + timedelta(seconds=second.move)
    assert begins >= first.end + timedelta(minutes=30) and plan.best


def test_the_crew_that_uses_a_machine_next_brings_it_in_its_shift() -> None:
    """Night at V0, day at V1, night at V2: two moves, though each crew might have gone alone."""
    pulls = [pull("R0", 0, 60), pull("R1", 1, 60), pull("R2", 2, 60)]
    made = schedule(
        crew("day"),
        crew("night", hours=(time(20), time(23))),
        outages=(
            Outage("n1", ("R0",), at(0, 20), at(0, 23)),
            Outage("d", ("R1",), at(1, 7), at(1, 12)),
            Outage("n2", ("R2",), at(1, 20), at(1, 23)),
        ),
    )
    plan = planned(Works(tuple(pulls)), made, 5.0)
    assert [(p.crew, p.start, p.move / MINUTE) for p in plan.pulls] == [
        ("night", at(0, 20), 0),
        ("day", at(1, 7), 30),
        ("night", at(1, 20), 30),
    ]
    check(plan, pulls, made)
    # a move of 90 min leaves no room for 120 min in a shift of 3 h
    far = planned(Works(tuple(pulls)), replace(made, move=90 * MINUTE), 5.0)
    assert [name for name, _ in far.unplaced] == ["R2"]


def test_the_machine_of_another_crew_is_waited_for() -> None:
    """The window of R2 opens while the other crew still pulls: the machine binds last."""
    made = schedule(
        crew("A"),
        crew("B", hours=(time(8), time(14))),
        outages=(
            Outage("w", ("R2",), at(0, 8), at(0, 14)),
            Outage("early", ("R1",), at(0, 7), at(0, 10)),
        ),
    )
    plan = planned(Works((pull("R1", 0, 100), pull("R2", 1, 150))), made, 5.0)
    last = plan.pulls[-1]
    assert (last.crew, last.start, last.waits_for) == ("B", at(0, 9, 40), "puller from crew A")


def test_a_crew_brings_its_second_machine_too() -> None:
    """Puller at V0, winch at V1, puller at V1: the crew is there, its puller is not."""
    pulls = [
        pull("R1", 0, 20, stage="stage 1 of 3"),
        pull("R1", 1, 20, "winch", stage="stage 2 of 3", after=0),
        pull("R1", 1, 20, stage="stage 3 of 3", after=1),
    ]
    made = schedule(crew("A", "puller", "winch"))
    plan = planned(Works(tuple(pulls)), made, 5.0)
    assert [p.move / MINUTE for p in plan.pulls] == [0, 30, 30]
    check(plan, pulls, made)
