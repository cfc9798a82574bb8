"""How long an edit of a big job takes; run with ``pytest -s -m benchmarks`` on a quiet machine."""

from __future__ import annotations

from collections.abc import Callable
from itertools import cycle
from pathlib import Path
from time import process_time
from typing import Any, ParamSpec, TypeVar

import pytest

from route3d.modelfile.read import load
from tests.benchmarks.conftest import Timing
from tests.support.big import BENDS, write_big_job
from viewer.web import page_data
from viewer.web.edits import read_value
from viewer.web.session import (
    Session,
    answered,
    edited_run,
    margined,
    planned,
    preview,
    surroundings_of,
)

pytestmark = pytest.mark.benchmarks
Given = ParamSpec("Given")
Found = TypeVar("Found")
# Yards from a release to its colors and to its decision, in all on the server's side.
COLORS, DECISION = 10.0, 10.0


def test_an_edit_of_two_thousand_bends(
    tmp_path: Path, timed: Timing, yards: Callable[[float], float]
) -> None:
    """Colors, then figures and decision, then what the page says is being worked out."""
    job = load(write_big_job(tmp_path))
    given, around = job.runs[0], surroundings_of(job)
    session = margined(answered(job, given, {}, around))
    table = page_data.margin_data(session)["directions"][0]["words"]["SI"]["bends"]
    assert len(table["rows"]) == BENDS
    best: dict[str, float] = {}
    texts = cycle(("0.0021", "0.0022"))

    def step(
        name: str, work: Callable[Given, Found], *args: Given.args, **more: Given.kwargs
    ) -> Found:
        start = process_time()  # one thread works: on a quiet machine that is the time on the clock
        found = work(*args, **more)
        taken = process_time() - start
        best[name] = min(taken, best.get(name, taken))
        return found

    def colored() -> dict[str, Any]:
        wanted = {"friction:duct": read_value("friction:duct", next(texts), "US")}
        step("read", edited_run, job, given, wanted)
        pulls = [step("preview", preview, job, given, wanted, reverse=r) for r in (False, True)]
        step("colors", page_data.preview_data, session, pulls)
        return wanted

    def decided() -> Session:
        ready = step("solve", answered, job, given, colored(), around)
        step("values", page_data.answer_data, ready, ("US",), colors=True)
        return ready

    decision = timed("edit", decided, 3)
    ready = decided()
    step("other units", page_data.word_data, ready, ("SI",))
    ready = step("plan", planned, ready, ready.best)
    step("plan values", page_data.plan_data, ready, ready.best)
    ready = step("margins", margined, ready)
    step("bend table", page_data.margin_data, ready)
    print("\n  " + ", ".join(f"{name} {taken:.3f}" for name, taken in best.items()), end="")
    colors = best["read"] + 2 * best["preview"] + best["colors"]
    print(f"\n  to colors {colors:.2f} s, to decision {decision:.2f} s", end="")
    print(f", to everything {sum(best.values()):.2f} s", end="")
    assert yards(colors) <= COLORS
    assert yards(decision) <= DECISION
