"""Where neither direction has access the finding says what to make room for, and where."""

from __future__ import annotations

from route3d.model import Practice
from route3d.planning.result import evaluate_run
from route3d.units import render
from tests.support import jobs
from tests.support.jobs import at, conduit, lay


def test_the_fix_names_what_is_missing_at_which_end() -> None:
    route = lay(
        at((0, 0, 0), name="A", ends="reel"),
        at((50, 0, 0), name="B", ends="reel"),
        conduits=conduit(),
    )
    result = evaluate_run(jobs.run(route), Practice())
    (finding,) = (f for f in result.findings if f.rule == "access")
    assert render(finding.fix, "SI") == (
        "provide access for the machine at B to feed from A, or for the machine at A to feed from B"
    )
