"""The best ways to split a run, each stage timed like a whole plan: by its own gears and stops."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace

from route3d.mechanics.pull import solve_pull
from route3d.model.allowances import Allowances
from route3d.model.machine import Machine
from route3d.model.practice import Practice
from route3d.model.run import Run
from route3d.phrase import say
from route3d.planning.history import history
from route3d.planning.margins import as_ordered
from route3d.planning.pace import pace
from route3d.planning.section_pulls import SectionPull, section_pulls
from route3d.planning.splits import (
    SplitPlan,
    SplitSearch,
    Stage,
    StageTime,
    best_plans,
    fastest_gear,
    least_time,
    search_of,
    stage_run,
)

# Times the search looks again before it says that its answer is not proven.
_LOOKS = 8


_Key = tuple[int, int, float, float]


def best_splits(
    run: Run, practice: Practice, allowances: Allowances, *, best: int = 3, aim: float = 1.0
) -> SplitSearch:
    """The ``best`` ways: fewest set-ups, then least time by gears and stops, then utilization.

    A stage is timed when it first stands in one of the best ways; until then it is given a time
    that nothing can beat. Where all stages of the best ways are timed, no other way is better (a
    search by bounds: A. H. Land and A. G. Doig, Econometrica 28, 1960, 497-520; from memory). A
    long run with many gears may have more ways than are timed: then a note says so. A stage that
    no gear starts and pulls, or whose planned first movements break a limit, is in no way. Raises
    as ``solve_pull``.
    """
    sections = section_pulls(run, practice)
    if run.machine is None or run.rope is None:
        return search_of(run, sections, best_plans(run, sections, allowances, None, best))
    times: dict[_Key, float | None] = {}

    def ways(otherwise: StageTime) -> tuple[SplitPlan, ...]:
        def time(pull: SectionPull, length: float) -> float | None:
            key = (pull.feed, pull.pull, pull.reel_tension, length)
            return times[key] if key in times else otherwise(pull, length)

        return best_plans(run, sections, allowances, time, best)

    def all_timed(plans: Sequence[SplitPlan]) -> bool:
        """Whether all were timed already; those that were not are now."""
        new = {_key(stage): stage for plan in plans for stage in plan.stages}
        new = {key: stage for key, stage in new.items() if key not in times}
        times.update((k, _stage_time(run, practice, allowances, s)) for k, s in new.items())
        return not new

    def by_its_machine(timing: Callable[[Machine], StageTime]) -> StageTime:
        def time(pull: SectionPull, length: float) -> float | None:
            machine = run.pulled(pull.feed, pull.pull).machine
            return None if machine is None else timing(machine)(pull, length)

        return time

    bound = by_its_machine(least_time)
    guess = by_its_machine(lambda machine: fastest_gear(machine, allowances))
    for _ in range(_LOOKS):
        if all_timed(plans := ways(bound)):
            return search_of(run, sections, plans)
    # Too many ways to prove it: good ones by their time in one gear a stage, until all are timed.
    while not all_timed(plans := ways(guess)):
        pass
    found = search_of(run, sections, plans)
    note = say(
        f"{len(times)} stages were timed by their gears and stops, which are not all there are: "
        "another way with as few set-ups may be faster"
    )
    return replace(found, notes=(*found.notes, note))


def _key(stage: Stage) -> _Key:
    return stage.feed, stage.pull, stage.reel_tension, stage.cable_length


def _stage_time(run: Run, practice: Practice, allowances: Allowances, stage: Stage) -> float | None:
    """Pulling, gear changes and lubricant stops of one stage, s; None where it cannot be done.

    Cable drawn through beyond the stage's own conduit, to be laid down and fed on, is timed at the
    speed of the last gear, and gripped again from rest with the whole conduit full.
    """
    part = stage_run(run, stage)
    pull = solve_pull(part, practice, reverse=stage.reverse)
    pull = as_ordered(pull) if stage.reel else pull
    course = history(pull)
    assert course is not None and part.machine is not None
    going = pace(pull, course, part.machine, allowances, beyond=stage.laid)
    gears = going.gears
    if gears.overload is not None or not gears.spans or going.worst_start[0] > 1 + 1e-9:
        return None
    return going.crew.total - going.crew.setup
