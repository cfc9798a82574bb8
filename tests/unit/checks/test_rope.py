from __future__ import annotations

import math
from dataclasses import replace

import pytest

from route3d.checks.finding import Finding
from route3d.checks.rope import check_rope
from route3d.mechanics.pull import Pull, solve_pull
from route3d.model import Conduit, Practice, Rope
from route3d.units import render
from tests.support import jobs
from tests.support.jobs import FOOT, along, conduit
from tests.support.routes import Go, Turn, vertices

PRACTICE = Practice()
SHORT = [Go(10), Turn(90, 1.5), Go(10)]
PLASTIC = {"material": "PVC"}


def pulled(
    legs: list[object],
    duct: Conduit,
    rope: Rope,
    tension: float = 1000.0,
    practice: Practice = PRACTICE,
) -> Pull:
    route = along(vertices(legs), duct)
    return solve_pull(jobs.run(route, reel_tension=tension, rope=rope), practice)


def by_rule(pull: Pull) -> dict[str, Finding]:
    return {f.rule: f for f in check_rope(pull)}


# --- load in the bends ---------------------------------------------------------------------------


def test_the_rope_in_a_bend_carries_the_head_at_its_worst_place() -> None:
    # Capstan, weightless rope: with the head at the bend the rope in it has the cable's tension
    # there times e^(mu angle); level cable adds mu w per length (statics).
    mu_rope, mu, weight = 0.2, 0.3, 25.0
    line = jobs.rope(weight=1e-9, friction=mu_rope)
    pull = pulled(SHORT, conduit(friction=mu, **PLASTIC), line)
    straight = 10 - 0.0  # the legs of this shape are counted up to the bend
    at_bend = 1000 + mu * weight * straight
    expected = at_bend * math.exp(mu_rope * math.pi / 2)
    # The head may also stand in the bend, where the cable itself, of more friction, has pulled up
    # further: the larger of the two at the end of the bend.
    cable_there = float(pull.profile.tension[pull.profile.kind == 1].max())
    (load,) = pull.rope_phase.in_bends()  # type: ignore[union-attr]
    assert load.tension == pytest.approx(max(expected, cable_there), rel=1e-6)
    assert load.slid == pytest.approx(straight, rel=1e-9)
    finding = by_rule(pull)["rope wear in a plastic bend"]
    bore = pull.run.route.conduits[0].inner_diameter
    assert finding.demand == pytest.approx(load.tension / (1.5 - bore / 2))


def test_the_stricter_radius_is_that_of_the_inner_wall() -> None:
    line, duct = jobs.rope(), conduit(bore=0.1, **PLASTIC)
    on_axis = Practice(sidewall_radius="centerline")
    axis, inside = (
        by_rule(pulled(SHORT, duct, line, practice=on_axis)),
        by_rule(pulled(SHORT, duct, line)),
    )
    rule = "rope wear in a plastic bend"
    assert inside[rule].demand / axis[rule].demand == pytest.approx(1.5 / (1.5 - 0.05))


@pytest.mark.parametrize(("share", "severity"), [(0.999, "ok"), (1.0, "ok"), (1.001, "caution")])
def test_wear_by_load_at_inside_and_outside_its_threshold(share: float, severity: str) -> None:
    # The threshold is common practice without a source, and the file may change it.
    first = by_rule(pulled(SHORT, conduit(**PLASTIC), jobs.rope()))
    load = first["rope wear in a plastic bend"].demand
    practice = Practice(rope_wear=load / share)
    found = by_rule(pulled(SHORT, conduit(**PLASTIC), jobs.rope(), practice=practice))
    finding = found["rope wear in a plastic bend"]
    assert finding.severity == severity
    assert "no source" in finding.source


@pytest.mark.parametrize(
    ("feet", "severity"), [(249.9, "ok"), (250.0, "ok"), (250.1, "caution"), (400.0, "caution")]
)
def test_wear_by_the_rope_that_slides_through(feet: float, severity: str) -> None:
    # One cooperative asks for steel elbows beyond 250 ft (READ in a forum).
    legs = [Go(feet * FOOT), Turn(90, 1.5), Go(10)]
    duct = conduit(friction=0.0, **PLASTIC)
    found = by_rule(pulled(legs, duct, jobs.rope(weight=1e-9), tension=500.0))
    finding = found["rope wear in a plastic bend"]
    assert finding.severity == severity
    assert "250.0 ft" in render(finding.fix, "US")
    if severity == "caution":
        assert (finding.quantity, finding.demand) == ("length", pytest.approx(feet * FOOT))


@pytest.mark.parametrize("material", ["steel", "aluminum", "concrete", "fiberglass"])
def test_other_bends_do_not_wear_through(material: str) -> None:
    found = by_rule(pulled(SHORT, conduit(material=material), jobs.rope(), tension=9e4))
    assert "rope wear in a plastic bend" not in found
    assert found["rope in the bend"].severity == "ok"


def test_a_material_that_is_not_known_is_said() -> None:
    finding = by_rule(pulled(SHORT, conduit(), jobs.rope(), tension=9e4))
    wear = finding["rope wear in a plastic bend"]
    assert wear.severity == "note"
    assert "material not known" in render(wear.fix, "SI")


def test_without_a_rope_nothing_is_said() -> None:
    run = jobs.run(along(vertices(SHORT), conduit()), reel_tension=10.0)
    assert check_rope(solve_pull(run, PRACTICE)) == ()


# --- factor of safety ----------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("factor", "severity"),
    # EC&M: at least 4 (READ); Cordage Institute CI 1308: from 5 on (READ)
    [(3.99, "stop"), (4.0, "caution"), (4.99, "caution"), (5.0, "ok"), (8.0, "ok")],
)
def test_the_rope_breaks_at_a_multiple_of_its_load(factor: float, severity: str) -> None:
    bare = pulled(SHORT, conduit(), jobs.rope())
    assert bare.machine_peak is not None
    strong = replace(jobs.rope(rated_load=1e3), breaking_strength=factor * bare.machine_peak)
    finding = by_rule(pulled(SHORT, conduit(), strong))["rope factor of safety"]
    assert finding.severity == severity
    assert finding.demand == pytest.approx(factor)
    assert "rope factor of safety" not in by_rule(bare)


@pytest.mark.parametrize(("load", "severity"), [(24.9e3, "ok"), (25e3, "ok"), (25.1e3, "caution")])
def test_a_working_load_the_breaking_strength_does_not_allow(load: float, severity: str) -> None:
    rope = replace(jobs.rope(rated_load=load), breaking_strength=100e3)  # over 4: 25 kN
    finding = by_rule(pulled(SHORT, conduit(), rope))["rope working load"]
    assert finding.severity == severity
