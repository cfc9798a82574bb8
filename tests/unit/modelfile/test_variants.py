"""Variants in a model file: what they change, and where their errors stand."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

import route3d
from route3d.errors import InputError
from route3d.modelfile.starter import starter
from route3d.modelfile.variants import load_variants
from tests.support.twelve_runs import twelve_runs

VARIANTS = """
[[variant]]
name = "smooth"
about = "a better lubricant"
changes = { conduit.duct.friction = 0.2, plan.pull_slack = "12 ft" }

[[variant]]
name = "heavy"
[variant.changes]
run.B1A.cables = { phase = 4 }
run.B1A.reel_tension = 300
cable.phase.conductor = { metal = "copper", area = "500 kcmil" }
"""


def _file(folder: Path, variants: str) -> Path:
    file = folder / "job.toml"
    file.write_text(twelve_runs() + variants)
    return file


def test_a_variant_is_the_job_with_its_keys_replaced(tmp_path: Path) -> None:
    file = _file(tmp_path, VARIANTS)
    job = route3d.load(file)
    smooth, heavy = load_variants(file)
    assert (smooth.name, smooth.about, heavy.name) == ("smooth", "a better lubricant", "heavy")
    assert job.runs[0].route.conduits[0].friction == 0.25
    assert {c.friction for r in smooth.job.runs for c in r.route.conduits} == {0.2}
    assert smooth.job.allowances.pull_slack == pytest.approx(12 * 0.3048)
    assert [r.cables for r in smooth.job.runs] == [r.cables for r in job.runs]
    assert {c.friction for r in heavy.job.runs for c in r.route.conduits} == {0.25}
    assert heavy.job.run("B1A").cables.describe() == "4 x phase"
    assert heavy.job.run("B2A").cables.describe() == "3 x phase, 1 x ground"
    assert heavy.job.run("B2A").cables.items[0][0].conductor.size == "500 kcmil"


@pytest.mark.parametrize(
    ("changes", "line", "words"),
    [
        ('{ conduit.duct.friction = "x" }', 3, "conduit.duct.friction.*variant a"),
        ("{ conduit.duct.frction = 0.2 }", 3, "did you mean 'friction'"),
        ("{ run.B1X.reel_tension = 2 }", 3, "no run named 'B1X'.*did you mean 'B1[AB]'"),
        ("{ cable.phse.diameter = 2 }", 3, "no cable named 'phse'.*did you mean 'phase'"),
        ("{ run.B1A.cables = { phse = 2 } }", 3, "no cable 'phse'"),
        ('{ "cable.phase.diameter" = 2 }', 3, "without quotes"),
        ("{ run = 3 }", 3, "3 is not a table"),
        ("{ plan = 3 }", 3, "3 is not a table"),
        ('{ cable.phase.conductor = { metal = "copper" } }', 3, "conductor.area.*is missing"),
        ('{ units = "SI" }', 3, "unknown key 'units'"),
        ("{}", 3, "has 0 entries"),
        ("3", 3, "is not a table"),
    ],
)
def test_an_error_stands_at_the_line_of_the_variant(
    tmp_path: Path, changes: str, line: int, words: str
) -> None:
    base = twelve_runs().count("\n")
    file = _file(tmp_path, f'[[variant]]\nname = "a"\nchanges = {changes}\n')
    with pytest.raises(InputError, match=words) as caught:
        route3d.load(file)
        load_variants(file)
    assert caught.value.problems[0].line == base + line


def test_legs_take_the_place_of_a_route(tmp_path: Path) -> None:
    variant = """[[variant]]
name = "legs"
[variant.changes]
run.B1A.legs = [
  "start substation at 0, 0, 0 for reel and machine, heading east, in duct",
  "120 ft",
  "left 90 at 48 in",
  "60 ft",
  "end berth 1 for reel and machine",
]
"""
    (legs,) = load_variants(_file(tmp_path, variant))
    points = [vertex.point for vertex in legs.job.run("B1A").route.vertices]
    assert points[1] == pytest.approx((120 * 0.3048, 0, 0)) and len(points) == 3


@pytest.mark.parametrize("units", ["US", "SI"])
def test_the_reels_and_the_variant_of_the_starter_are_right(tmp_path: Path, units: str) -> None:
    head, optional = starter(units).split("# --- Reels to cut")
    file = tmp_path / "job.toml"
    file.write_text(head + "# --- Reels to cut" + re.sub(r"(?m)^# (?!---)", "", optional))
    (reels,) = route3d.load(file).cable_reels
    assert (reels.cable, reels.count, reels.name) == ("phase", 2, "yard")
    assert reels.length == pytest.approx(455, rel=0.02)
    (variant,) = load_variants(file)
    assert variant.job.runs[0].attach == "basket grip"


def test_two_variants_of_one_name_are_an_error(tmp_path: Path) -> None:
    one = '[[variant]]\nname = "a"\nchanges = { conduit.duct.friction = 0.2 }\n'
    with pytest.raises(InputError, match="two variants are named 'a'"):
        route3d.load(_file(tmp_path, one + one))
