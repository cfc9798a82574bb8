"""Plans in the window: at once for a usual run; of a long one beside it, errors brought home."""

from __future__ import annotations

import time

import pytest

from route3d.planning.pull_plan.plan import Plan
from tests.viewer.conftest import Answered
from viewer import gauge
from viewer.window import content as window_plans
from viewer.window.content import Plans

KEY = (0, 0)


def until_it_came(plans: Plans) -> bool:
    end = time.monotonic() + 60
    while time.monotonic() < end:
        if plans.came():
            return True
        time.sleep(0.01)
    return False


def test_a_usual_plan_is_there_at_once_and_made_once(
    drop: Answered, monkeypatch: pytest.MonkeyPatch
) -> None:
    result, job = drop
    plans = Plans()
    plan = plans.of(KEY, result, result.best, job, None)
    assert isinstance(plan, Plan)
    monkeypatch.setattr(window_plans, "plan_for_crew", None)
    assert plans.of(KEY, result, result.best, job, None) is plan
    assert not plans.came()


def test_a_long_plan_comes_later(drop: Answered, monkeypatch: pytest.MonkeyPatch) -> None:
    result, job = drop
    monkeypatch.setattr(gauge, "_QUICK", 1)
    plans = Plans()
    assert plans.of(KEY, result, result.best, job, None) is None
    assert plans.of(KEY, result, result.best, job, None) is None
    assert until_it_came(plans)
    plan = plans.of(KEY, result, result.best, job, None)
    assert isinstance(plan, Plan)
    assert sum(row.kind == "bend" for row in plan.gauge) <= 2 * 6


def test_what_goes_wrong_beside_the_window_is_raised_in_it(
    drop: Answered, monkeypatch: pytest.MonkeyPatch
) -> None:
    result, job = drop

    def fails(*args: object, **more: object) -> None:
        raise ZeroDivisionError("in the thread")

    monkeypatch.setattr(gauge, "_QUICK", 1)
    monkeypatch.setattr(window_plans, "plan_for_crew", fails)
    plans = Plans()
    assert plans.of(KEY, result, result.best, job, None) is None
    with pytest.raises(ZeroDivisionError, match="in the thread"):
        until_it_came(plans)
