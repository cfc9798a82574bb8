"""Cables that do not go in are told of in the units of the file."""

from __future__ import annotations

from pathlib import Path

import pytest

import route3d
from route3d.errors import InputError
from route3d.modelfile.read import loads

YARD = (Path(route3d.__file__).parents[1] / "models" / "yard_run.toml").read_text(encoding="utf-8")
GIVEN = "diameter       = 1.387"


@pytest.mark.parametrize(
    ("size", "said", "fix"),
    [
        (
            "3",
            "three cables in contact require",
            "cables of 3.00 in use an inner diameter of at least 6.47 in",
        ),
        (
            "9",
            "a cable, 9.00 in, does not fit in a bore of 5.02 in",
            "an inner diameter larger than 9.00 in",
        ),
    ],
)
def test_in_inches_where_the_file_is_in_inches(size: str, said: str, fix: str) -> None:
    assert GIVEN in YARD
    with pytest.raises(InputError) as caught:
        loads(YARD.replace(GIVEN, f"diameter       = {size}"))
    (problem,) = caught.value.problems
    assert said in problem.message and fix in problem.fix
    assert " mm" not in str(problem)
