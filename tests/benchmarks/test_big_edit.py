"""How long an edit of a big job takes; run with ``pytest -s -m benchmarks`` on a quiet machine."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from time import process_time
from typing import ParamSpec, TypeVar

import pytest

from tests.support.big import BENDS, write_big_job
from viewer.page import publish
from viewer.page.session import edited, open_session, planned, preview, solved

pytestmark = pytest.mark.benchmarks
Given = ParamSpec("Given")
Found = TypeVar("Found")
# s asked for, from a release to its colours and to its decision, in all on the server's side.
COLOURS, DECISION = 1.0, 1.0


def test_an_edit_of_two_thousand_bends(tmp_path: Path) -> None:
    """Colours, then figures and decision, then what the page says is being worked out."""
    session = open_session(write_big_job(tmp_path))
    assert len(publish.bend_values(session)["bends"]["SI"]) == BENDS
    scene = publish.scene_of(session, "SI")
    best: dict[str, float] = {}

    def timed(
        step: str, work: Callable[Given, Found], *args: Given.args, **more: Given.kwargs
    ) -> Found:
        start = process_time()  # one thread works: on a quiet machine that is the time on the clock
        found = work(*args, **more)
        taken = process_time() - start
        best[step] = min(taken, best.get(step, taken))
        return found

    for text in ("0.0021", "0.0022", "0.0021"):
        wanted = timed("read", edited, session, "friction:duct", text, "US")
        timed("fields", publish.field_values, wanted)
        pull = timed("preview", preview, wanted)
        timed("colours", publish.preview_values, scene, pull)
        ready = timed("solve", solved, wanted, pull)
        timed("values", publish.result_values, ready)
        ready, plan = timed("plan", planned, ready)
        timed("plan values", publish.plan_values, ready, plan)
        timed("bend table", publish.bend_values, ready)
    print("\n  " + ", ".join(f"{step} {taken:.3f}" for step, taken in best.items()), end="")
    colours = sum(best[s] for s in ("read", "fields", "preview", "colours"))
    decision = colours + best["solve"] + best["values"]
    print(f"\n  to colours {colours:.2f} s, to decision {decision:.2f} s", end="")
    print(f", to everything {sum(best.values()):.2f} s", end="")
    assert colours <= COLOURS
    assert decision <= DECISION
