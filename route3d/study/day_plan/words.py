"""Words of a day plan that report and chart share: days, counts, how good the plan is."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date, datetime

from route3d.model.schedule import WEEKDAYS
from route3d.study.day_plan.outcome import DayPlan

STANDS = "stands there already"
_MONTHS = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")


def day_words(moment: date) -> str:
    """A day as a crew reads it: ``Mon Jun 1``."""
    return f"{WEEKDAYS[moment.weekday()]} {_MONTHS[moment.month - 1]} {moment.day}"


def moment_words(moment: datetime) -> str:
    """A day with its time: ``Mon Jun 1, 15:30``."""
    return f"{day_words(moment)}, {moment:%H:%M}"


def count_words(count: int, what: str) -> str:
    """``1 pull``, ``3 pulls``."""
    return f"{count} {what}{'' if count == 1 else 's'}"


def how_good(plan: DayPlan) -> Iterator[str]:
    """When the plan is done, and how near that is to the best possible."""
    if plan.finish is None or plan.earliest is None:
        return
    pulls, days = count_words(len(plan.pulls), "pull"), count_words(plan.days, "day")
    yield f"{pulls} on {days}, finished {moment_words(plan.finish)}: {bound_words(plan)}."
    saved = len(plan.pulls) - plan.setups
    moves = sum(p.move > 0 for p in plan.pulls)
    proven = "the fewest with this finish" if plan.fewest else "fewer may be possible"
    words = f"{count_words(plan.setups, 'set-up')} and {count_words(moves, 'move')} ({proven})"
    yield f"{words}; {count_words(saved, 'set-up')} saved where the machine {STANDS}."


def bound_words(plan: DayPlan) -> str:
    """The finish against the best possible."""
    if plan.best:
        return "best possible"
    assert plan.earliest is not None
    return (
        f"at most {100 * plan.above:.1f}% above the best possible, in working time "
        f"(no plan finishes before {moment_words(plan.earliest)})"
    )
