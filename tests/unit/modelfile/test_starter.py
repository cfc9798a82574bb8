"""The starter file: loads as it is, in either units, and teaches every key."""

from __future__ import annotations

import re

import pytest

from route3d.model import Practice
from route3d.modelfile.read import loads
from route3d.modelfile.schema import json_schema
from route3d.modelfile.starter import starter


@pytest.mark.parametrize("units", ["US", "SI"])
def test_it_loads(units: str) -> None:
    job = loads(starter(units))
    assert job.units == units
    assert job.practice == Practice(rules={"US": "NFPA 70", "SI": "none"}[units])


def test_every_key_is_in_it() -> None:
    schema = json_schema()
    text = starter("US")
    for table in (schema, *schema["$defs"].values()):
        for key in table["properties"]:
            assert re.search(rf"\b{key}\b", text), key


@pytest.mark.parametrize("units", ["US", "SI"])
def test_the_optional_lines_are_right_too(units: str) -> None:
    keys = "max_tension|breaking_strength|jacket|armor|laying_temperature|rope_wear"
    text = re.sub(rf"^# ({keys}) = ", r"\1 = ", starter(units), flags=re.M)
    job = loads(text)
    assert job.practice.laying_temperature == pytest.approx({"US": 277.594444, "SI": 278.15}[units])
    assert job.practice.rope_wear == pytest.approx(7300, rel=1e-3)
    assert job.runs[0].cables.largest.max_tension is not None
    assert job.runs[0].rope is not None and job.runs[0].rope.breaking_strength is not None


def test_both_starters_are_about_the_same_job() -> None:
    """The SI figures are the US ones rounded by at most 3 %."""
    us, si = loads(starter("US")).runs[0], loads(starter("SI")).runs[0]
    assert us.cables.largest.diameter == pytest.approx(si.cables.largest.diameter, rel=0.03)
    assert us.cables.largest.weight == pytest.approx(si.cables.largest.weight, rel=0.03)
    ends = [(run.route.vertices[-1].point) for run in (us, si)]
    assert ends[0] == pytest.approx(ends[1], rel=0.03)


def test_other_units_are_a_programming_error() -> None:
    with pytest.raises(ValueError, match="units must be one of US, SI"):
        starter("us")
