"""``friction = { value, above, then, test_report }``: read, refused, written, carried along."""

from __future__ import annotations

import pytest

from route3d.errors import InputError
from route3d.mechanics.pull import with_friction
from route3d.model import Conduit, Job
from route3d.modelfile.edits import edited_model
from route3d.modelfile.interview import _echo_friction
from route3d.modelfile.read import loads
from route3d.modelfile.starter import starter
from route3d.planning.remedies.edits import OtherFriction, carried_out

PLAIN = "friction = 0.25 # of this cable"
LBF_PER_FOOT = 4.4482216152605 / 0.3048


def text_with(friction: str) -> str:
    assert PLAIN in starter("US")
    return starter("US").replace(PLAIN, f"friction = {friction} # of this cable")


def duct(job: Job) -> Conduit:
    return job.runs[0].route.conduits[0]


def test_it_is_read_in_si_and_is_never_a_default() -> None:
    read = duct(loads(text_with('{ value = 0.35, high = 0.5, above = "150 lbf/ft", then = 0.2 }')))
    assert read.friction_above == pytest.approx(150 * LBF_PER_FOOT)
    assert (read.friction, read.friction_then, read.friction_report) == (0.35, 0.2, "")
    assert not read.fall_decides
    plain = duct(loads(starter("US")))
    assert (plain.friction_above, plain.friction_then) == (None, None)


def test_a_test_report_lets_the_fall_decide() -> None:
    said = '{ value = 0.35, above = 150, then = 0.2, test_report = "lab report 12" }'
    assert duct(loads(text_with(said))).fall_decides


@pytest.mark.parametrize(
    ("range_", "lowest"),
    [("", 0.15), ("low = 0.25,", 0.15), ("low = 0.1,", 0.1)],
    ids=["default", "above then", "below then"],
)
def test_the_low_end_is_never_above_what_friction_falls_to(range_: str, lowest: float) -> None:
    read = duct(loads(text_with(f"{{ value = 0.35, {range_} above = 150, then = 0.15 }}")))
    assert read.lowest_friction == lowest


@pytest.mark.parametrize(
    ("friction", "where", "said"),
    [
        ("{ value = 0.3, above = 150 }", "", "above requires then"),
        ("{ value = 0.3, then = 0.2 }", "", "then requires above"),
        ('{ value = 0.3, test_report = "x" }', "", "test_report requires above and then"),
        ('{ value = 0.3, above = 9, then = 0.1, test_report = "  " }', "", "names no report"),
        ('{ value = 0.3, above = 9, then = 0.1, test_report = "N/A" }', "", "names no report"),
        ("{ value = 0.3, above = 150, then = 0.3 }", ".then", "not below the value of 0.3"),
        ("{ value = 0.3, above = 150, then = -0.1 }", ".then", "-0.1"),
        ("{ value = 0.3, above = 0, then = 0.1 }", ".above", "0"),
        ('{ value = 0.3, above = "150 lbf", then = 0.1 }', ".above", "lbf"),
        (
            '{ stock = "PVC jacket, PVC conduit, lubricated", above = 150, then = 0.9 }',
            ".then",
            "not below the value",
        ),
    ],
)
def test_what_is_wrong_is_told_at_its_line(friction: str, where: str, said: str) -> None:
    text = text_with(friction)
    line = text[: text.index("friction = {")].count("\n") + 1
    with pytest.raises(InputError) as caught:
        loads(text, "job.toml")
    (problem,) = caught.value.problems
    assert (problem.file, problem.line) == ("job.toml", line)
    assert problem.where == f"conduit.duct.friction{where}"
    assert said in problem.message
    assert problem.fix or "required" in problem.message or "greater" in problem.message


def test_another_friction_falls_by_the_same_share_at_the_same_load() -> None:
    job = loads(text_with("{ value = 0.4, low = 0.3, above = 150, then = 0.2 }"))
    twice = with_friction(job.runs[0], 2.0).route.conduits[0]
    assert (twice.friction, twice.friction_low) == (0.8, 0.6)
    assert twice.friction_then == pytest.approx(0.4)
    assert twice.friction_above == duct(job).friction_above


def test_a_remedy_of_friction_leaves_the_fall_out_with_its_test_report() -> None:
    """The report is of the lubricant as it was: it must not decide for another one."""
    text = text_with('{ value = 0.4, above = "2 kN/m", then = 0.2, test_report = "T-1" }')
    job = loads(text)
    edit = OtherFriction("duct", 0.3, None, None)
    (run,) = carried_out(job.runs[0], [edit])
    made = edited_model(text, job, job.runs[0].name, [edit])
    assert "{ value = 0.3 }" in made
    for conduit in (duct(loads(made)), run.route.conduits[0]):
        fall = conduit.friction_above, conduit.friction_then, conduit.friction_report
        assert (conduit.friction, *fall) == (0.3, None, None, "")


def test_the_interview_echoes_it() -> None:
    job = loads(text_with("{ value = 0.4, above = 150, then = 0.2 }"))
    assert next(iter(_echo_friction(job))) == "duct: friction 0.4, 0.2 above 150 lbf/ft"
