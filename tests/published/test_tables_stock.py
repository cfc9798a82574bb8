"""What stock entries fill, against the figures as printed in their tables."""

from __future__ import annotations

import pytest

from route3d.model import Job
from route3d.modelfile.read import loads
from route3d.standards.stock import cable_named, conduit_named, rope_named
from route3d.units import parse
from tests.support.published import printed
from tests.support.stock_jobs import SI, US


def us() -> Job:
    return loads(US)


def cable(job: Job, name: str):
    return next(c for c, _ in job.runs[0].cables.items if c.name == name)


def inches(value: float) -> float:
    return value / 0.0254


def lb_per_kft(value: float) -> float:
    return value / parse("1 lb/ft", "weight", "US") * 1000


@pytest.mark.source("UL 44, ICEA S-95-658 column B: sheet of a cable maker, XHHW-2 copper")
@pytest.mark.clause("500 kcmil and 3 AWG")
@pytest.mark.parametrize(
    ("name", "diameter", "weight"), [("phase", 0.93, 1620), ("ground", 0.35, 182)]
)
def test_xhhw2_singles(name: str, diameter: float, weight: float) -> None:
    made = cable(us(), name)
    assert inches(made.diameter) == printed(diameter, abs=1e-12)
    assert lb_per_kft(made.weight) == printed(weight, abs=1e-9)


@pytest.mark.source("Installation guide of a US cable maker, maximum sidewall pressure (Jan 2011)")
@pytest.mark.clause("600 V and 2400 V nonshielded power")
def test_sidewall_limit_of_its_class() -> None:
    made = cable(us(), "phase")
    assert made.sidewall_limit / parse("1 lbf/ft", "sidewall", "US") == printed(1000, abs=1e-9)


@pytest.mark.source("NFPA 70 Chapter 9 Table 4, Articles 352 and 353")
@pytest.mark.clause("Schedule 40, trade size 4")
def test_bore_of_the_conduit() -> None:
    (conduit,) = us().runs[0].route.conduits[:1]
    assert inches(conduit.inner_diameter) == printed(3.998, abs=1e-9)


@pytest.mark.source("Rope maker's table, double-braid polyester")
@pytest.mark.clause("3/4 in")
def test_rope() -> None:
    rope = us().runs[0].rope
    assert rope is not None
    pound = parse("1 lbf", "force", "US")
    assert lb_per_kft(rope.weight) / 10 == printed(16.4, abs=1e-9)  # lb per 100 ft
    assert rope.breaking_strength / pound == printed(17010, abs=1e-6)  # minimum
    assert rope.rated_load / pound == printed(17010 / 5, abs=1e-6)  # working load 5:1


@pytest.mark.source("Newsletter of a US cable maker on pulling lubricants")
@pytest.mark.clause("polyolefin jacket in PVC, lubricated: 0.06 to 0.18, conservative value 0.35")
def test_friction_spans_what_is_printed() -> None:
    (conduit,) = us().runs[0].route.conduits[:1]
    assert conduit.lowest_friction == printed(0.06, abs=0)
    assert conduit.highest_friction == printed(0.35, abs=0)
    # The middle of 0.12, the middle of the first line, and of 0.35.
    assert conduit.friction == printed((0.12 + 0.35) / 2, abs=1e-12)


@pytest.mark.source("BS 5467 table of a UK seller")
@pytest.mark.clause("4 x 240 mm2")
def test_armored_cable() -> None:
    made = cable(loads(SI), "phase")
    assert 1000 * made.diameter == printed(63.0, abs=1e-9)
    assert made.weight / 9.80665 == printed(13.39, abs=1e-9)  # kg/m
    assert 1e6 * made.conductor.area == printed(240, abs=1e-9)
    assert made.conductor.count == printed(4)


@pytest.mark.source("NF EN 12201-2, ISO 4427")
@pytest.mark.clause("SDR 17, 160: least wall 9.5 mm, and 10 % with 0.1 mm above it")
def test_bore_of_a_smooth_duct_by_its_thickest_wall() -> None:
    duct = conduit_named("PE-SDR17 160")
    assert 1000 * duct.inner_diameter == printed(160 - 2 * (1.1 * 9.5 + 0.1), abs=0.05)


@pytest.mark.source("ICEA S-93-639: specification sheets of a US cable maker")
@pytest.mark.clause("15 kV, 133 %, copper, tape shield, 350 kcmil")
def test_tape_shield() -> None:
    made = cable_named("15 kV EPR 133% copper 350 kcmil tape shield")
    assert inches(made.diameter.value) == printed(1.387, abs=1e-9)
    assert made.weight is not None and made.bend is not None and made.sidewall is not None
    assert lb_per_kft(made.weight.value) == printed(1795, abs=1e-9)
    # The sheets print 12 x the diameter and 1000 lb/ft.
    assert made.bend.value == printed(12)
    assert made.sidewall.value / parse("1 lbf/ft", "sidewall", "US") == printed(1000, abs=1e-9)


@pytest.mark.source("Rope makers' tables, from memory")
@pytest.mark.clause("polyester double braid: 1.1, 1.8, 2.7 % at 10, 20, 30 % of break")
def test_stretch_at_the_rated_load() -> None:
    assert 100 * rope_named("polyester double braid 1/2").facts["stretch"].value == printed(
        1.8, abs=1e-12
    )
