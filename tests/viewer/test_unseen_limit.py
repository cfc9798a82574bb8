"""A broken limit that the colours of a picture do not show is named beside them."""

from __future__ import annotations

from route3d.model import Job
from route3d.planning.result import RunResult
from viewer.scale import colour_scale

Answered = tuple[RunResult, Job]


def test_colours_of_tension_say_that_sidewall_breaks(yard: Answered, riser: Answered) -> None:
    pull = yard[0].best.pull
    said = "sidewall pressure reaches 146% of its limit: color by sidewall to see where"
    assert said in colour_scale(pull, "tension", "US").rule
    for other in ("sidewall", "utilisation", "conduit"):
        assert "reaches" not in colour_scale(pull, other, "US").rule  # type: ignore[arg-type]
    assert "reaches" not in colour_scale(riser[0].best.pull, "tension", "US").rule
