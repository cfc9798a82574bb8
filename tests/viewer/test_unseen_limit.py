"""A broken limit that the colors of a picture do not show is named beside them."""

from __future__ import annotations

from route3d.model import Job
from route3d.planning.result import RunResult
from viewer.scene.scale import color_scale

Answered = tuple[RunResult, Job]


def test_colors_of_tension_say_that_sidewall_breaks(yard: Answered, riser: Answered) -> None:
    pull = yard[0].best.pull
    said = "sidewall pressure reaches 146% of its limit: color by sidewall to see where"
    assert said in color_scale(pull, "tension", "US").rule
    for other in ("sidewall", "utilization", "conduit"):
        assert "reaches" not in color_scale(pull, other, "US").rule  # type: ignore[arg-type]
    assert "reaches" not in color_scale(riser[0].best.pull, "tension", "US").rule
