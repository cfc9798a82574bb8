"""What is advised for jobs with one limit broken each, and in what order."""

from __future__ import annotations

import re
from dataclasses import replace

import numpy as np
import pytest

import route3d
from route3d.model.job import Job
from route3d.phrase import say
from route3d.planning.evaluate import evaluate, with_advice
from route3d.planning.remedies.edits import (
    Attachment,
    BendRadius,
    MovedPoint,
    NewPullPoint,
    Opened,
    OtherConduit,
    PulledApart,
    ReelTension,
    SplitInStages,
    Tackle,
    carried_out,
)
from route3d.planning.remedies.remedy import COST_CLASSES, Advice, Remedy
from route3d.units import render
from tests.support.broken_jobs import BROKEN, MODELS, broken_job
from tests.support.jobs import along, cable, conduit, run
from tests.support.routes import Go, Turn, vertices


def advice_of(job: Job) -> Advice:
    (result,) = evaluate(job, with_remedies=False).runs
    advice = with_advice(result, job).advice
    assert advice is not None
    return advice


def words(remedy: Remedy) -> str:
    return render(remedy.what, "US")


@pytest.fixture(scope="module")
def broken() -> dict[str, Advice]:
    return {what: advice_of(broken_job(what)) for what in BROKEN}


@pytest.mark.parametrize("what", BROKEN)
def test_the_first_remedy_mends_what_is_broken_with_a_margin(
    what: str, broken: dict[str, Advice]
) -> None:
    advice = broken[what]
    assert advice.remedies and not advice.why_none, what
    for remedy in advice.remedies:
        assert remedy.passes and remedy.reaches and remedy.planned
        assert remedy.utilization <= 0.9 + 1e-9
        assert remedy.friction_margin is not None and remedy.friction_margin >= 1.1 - 1e-9
        assert remedy.runs == carried_out(broken_job(what).runs[0], remedy.edits)
    keys = [r.cost.key for r in advice.remedies]
    assert keys == sorted(keys)
    ranks = [COST_CLASSES.index(r.cost_class) for r in advice.remedies]
    assert ranks == sorted(ranks)


def test_field_words(broken: dict[str, Advice]) -> None:
    first = {what: words(advice.remedies[0]) for what, advice in broken.items()}
    assert first["fill"] == (
        "Use PVC-40 4 with an inner diameter of 4.00 in instead of PVC-40 3 (3.04 in)"
    )
    assert first["machine"] == "Rent a machine with a line pull of at least 1,700 lbf (now 800 lbf)"
    assert first["rope"].startswith("Use a rope with a working load of at least ")
    assert first["sidewall"] == (
        "Friction at most 0.21 in PVC-40 5 and 0.30 in RMC 5 (now 0.25 and 0.35): more or better "
        "lubricant"
    )
    assert first["grip"] == "Use pulling eyes instead of a basket grip"
    assert first["access"].startswith(
        "Provide access for the machine at vault V1, and feed from roof"
    )
    assert first["radius"] == "Increase the radius of bend 3 to 24 in, standard elbow (now 14 in)"
    assert first["degrees"].startswith("Add a pull point at (135.0 ft, 30.0 ft, ")
    assert first["no room"].startswith(
        "Increase the radius of bend 3 to 24 in and move point 3 and point 4 together by "
    )
    assert first["brake rating"].startswith("Use reel brakes rated (each) at least ")


def test_the_kinds_of_edits(broken: dict[str, Advice]) -> None:
    kinds = {what: {type(e) for e in a.remedies[0].edits} for what, a in broken.items()}
    assert kinds["fill"] == {OtherConduit}
    assert kinds["degrees"] == {NewPullPoint}
    assert kinds["machine"] == kinds["rope"] == kinds["brake rating"] == {Tackle}
    assert kinds["grip"] == {Attachment}
    assert kinds["access"] == {Opened}
    assert kinds["radius"] == {BendRadius}
    assert kinds["no room"] == {BendRadius, MovedPoint}


def test_a_plumb_leg_stays_plumb_and_a_level_one_level(broken: dict[str, Advice]) -> None:
    for what, advice in broken.items():
        given = broken_job(what).runs[0].route.vertices
        for remedy in advice.remedies:
            moved = any(isinstance(e, MovedPoint) for e in remedy.edits)
            if not moved or len(remedy.runs) > 1:
                continue
            after = remedy.runs[0].route.vertices
            for k in range(len(given) - 1):
                before_leg = [
                    b - a for a, b in zip(given[k].point, given[k + 1].point, strict=True)
                ]
                leg = [b - a for a, b in zip(after[k].point, after[k + 1].point, strict=True)]
                if before_leg[0] == before_leg[1] == 0:
                    assert leg[0] == pytest.approx(0, abs=1e-6)
                    assert leg[1] == pytest.approx(0, abs=1e-6)


def test_the_yard_run_is_split_before_anything_is_bought() -> None:
    advice = advice_of(route3d.load(MODELS / "yard_run.toml"))
    assert isinstance(advice.remedies[0].edits[0], SplitInStages)
    classes = [r.cost_class for r in advice.remedies]
    assert classes[0] == "nothing to buy" and "buy or rent" in classes
    assert [i + 1 for i in range(len(classes))] == list(range(1, len(classes) + 1))


def test_a_brake_set_too_hard_is_eased_first() -> None:
    """2 kN at the reel of a run that passes freely: nothing but the brake has to change."""
    route = along(vertices([Go(30), Turn(90, 1.2), Go(30)]), conduit(friction=0.25))
    hard = run(route, cable(sidewall_limit=1500.0), reel_tension=2000.0)
    first = advice_of(Job("held", "US", (hard,))).remedies[0]
    assert first.edits == (ReelTension(None),)
    assert first.cost_class == "nothing to buy"


def test_a_riding_cable_that_no_longer_fits_is_pulled_apart() -> None:
    """3 x 40 mm fill 38 % of 112 mm, and with one of 20 mm 41 %, where 40 % are allowed."""
    control = cable("control", diameter=0.02, weight=3.0, area=4e-6)
    route = along(vertices([Go(40), Turn(90, 1.2), Go(30)]), conduit(0.112))
    job = Job("riding", "US", (run(route, [(cable(), 3), (control, 1)]),))
    first, *others = advice_of(job).remedies
    assert first.edits == (PulledApart(("control",)),) and first.reaches
    assert [c.name for r in first.runs for c, _ in r.cables.items] == ["phase", "control"]
    assert words(first) == "Pull the riding cable control separately, in its own conduit"
    assert all(isinstance(o.edits[0], OtherConduit) for o in others)


def test_what_no_remedy_mends_is_said_and_still_named() -> None:
    """A limit of a twentieth of what any of it takes: nothing found passes, the closest is told."""
    route = along(vertices([Go(400), Turn(90, 1.2), Go(400)]), conduit(friction=0.6))
    job = Job("hopeless", "US", (run(route, cable(sidewall_limit=20.0)),))
    advice = advice_of(job)
    assert "No remedy found makes it pass" in render(advice.why_none, "US")
    assert advice.remedies
    for remedy in advice.remedies:
        assert remedy.still_stops and not remedy.reaches


def test_the_margin_of_the_practice_is_what_is_aimed_at() -> None:
    job = broken_job("machine")
    wide = replace(job, practice=replace(job.practice, margin=0.6))
    (usual,), (more,) = (
        [r for r in advice_of(j).remedies if r.kind == "machine"][:1] for j in (job, wide)
    )
    assert more.utilization <= 0.6 + 1e-9
    (edit,), (larger,) = usual.edits, more.edits
    assert isinstance(edit, Tackle) and isinstance(larger, Tackle)
    assert larger.value >= edit.value


def test_a_run_that_nothing_stops_needs_no_remedy() -> None:
    job = route3d.load(MODELS / "riser_duct_bank.toml")
    advice = advice_of(job)
    assert not advice and not advice.remedies


def test_two_changes_are_one_remedy_where_one_is_not_enough() -> None:
    """Fill and a bend of 14 in broken together: the list mends both, each named once."""
    text_fill = broken_job("fill").runs[0]
    vertex = 3
    (both,) = carried_out(text_fill, [BendRadius(vertex, 14 * 0.0254)])
    job = replace(broken_job("fill"), runs=(both,))
    first = advice_of(job).remedies[0]
    kinds = [type(e) for e in first.edits]
    assert OtherConduit in kinds and BendRadius in kinds
    assert "; and " in words(first) and first.kind == "pair" and first.reaches


def test_no_remedy_asks_for_all_of_another_and_more(broken: dict[str, Advice]) -> None:
    """Brakes that are too weak are mended by brakes: nothing else is advised on top of them."""
    for advice in broken.values():
        sets = [frozenset(r.edits) for r in advice.remedies]
        assert not any(a < b for a in sets for b in sets)
    assert len(broken["brake rating"].remedies) == 1


def test_a_larger_conduit_fits_the_duct_bank_about_its_run() -> None:
    """PVC-40 3 in a bank of ducts 4.2 in apart: size 4, of 4.5 in outside, has no room there."""
    job = broken_job("fill")
    (bank,) = job.banks
    tight = replace(job, banks=(replace(bank, spacing=(4.2 * 0.0254, 4.2 * 0.0254)),))
    advice = advice_of(tight)
    assert not any(isinstance(e, OtherConduit) for r in advice.remedies for e in r.edits)


def test_what_no_remedy_is_known_for_is_put_right_by_itself() -> None:
    """A pull box too short beside a pull that fails: the pull is mended, the box is told apart."""
    job = route3d.load(MODELS / "yard_run.toml")
    (given,) = job.runs
    short = tuple(replace(v, box=(0.5, 0.5, 0.5)) if v.box else v for v in given.route.vertices)
    boxed = replace(given, route=replace(given.route, vertices=short))
    advice = advice_of(replace(job, runs=(boxed,)))
    why = render(advice.why_none, "US")
    assert why.startswith("Must be fixed separately in any case: pull box")
    assert advice.remedies
    for remedy in advice.remedies:
        assert {f.rule for f in remedy.still_stops} <= {"pull box, straight pull"}
    cables = [(replace(c, sidewall_limit=20_000.0), n) for c, n in boxed.cables.items]
    only = replace(boxed, cables=replace(boxed.cables, items=tuple(cables)))
    alone = advice_of(replace(job, runs=(only,)))
    assert not alone.remedies and render(alone.why_none, "US") == why


def test_a_note_of_the_rule_that_stops_a_run_sets_nothing_apart() -> None:
    """Where no formula gives the pressure of the worst cable a note says so: the stop is mended."""
    job = broken_job("sidewall")
    (given,) = job.runs
    ((phase, count),) = given.cables.items
    ground = replace(phase, name="ground", diameter=phase.diameter / 2, weight=phase.weight / 4)
    set_of_four = replace(given.cables, items=((phase, count), (ground, 1)))
    four = replace(job, runs=(replace(given, cables=set_of_four),))
    (result,) = evaluate(four, with_remedies=False).runs
    assert ("sidewall pressure", "note") in {(f.rule, f.severity) for f in result.run_findings}
    assert "sidewall pressure" in {f.rule for f in result.findings if f.severity == "stop"}
    advice = advice_of(four)
    assert not advice.why_none and advice.remedies
    assert all(remedy.passes and remedy.reaches for remedy in advice.remedies)


def test_points_keep_their_numbers_after_a_pull_point_is_added() -> None:
    """Degrees and pressure broken together: the bends named later are those of the file."""
    job = broken_job("degrees")
    (given,) = job.runs
    items = given.cables.items
    cables = tuple((replace(c, sidewall_limit=c.sidewall_limit / 4), n) for c, n in items)
    limited = replace(given, cables=replace(given.cables, items=cables))
    for remedy in advice_of(replace(job, runs=(limited,))).remedies:
        said = words(remedy)
        for edit in remedy.edits:
            if isinstance(edit, NewPullPoint):
                x, y, z = (render(say("{}", (v, "length")), "US") for v in edit.point)
                assert f"({x}, {y}, {z})" in said
        numbers = {int(n) for n in re.findall(r"point (\d+)", said.replace("pull point", ""))}
        assert numbers <= set(range(1, len(given.route.vertices) + 1))


def test_no_pull_point_hangs_on_a_wall(broken: dict[str, Advice]) -> None:
    """Reel, machine and figure eights need a floor: none on the riser of the demo."""
    for what, advice in broken.items():
        vertices_given = broken_job(what).runs[0].route.vertices
        for remedy in advice.remedies:
            for edit in remedy.edits:
                if isinstance(edit, NewPullPoint):
                    a, b = (vertices_given[k].point for k in (edit.leg, edit.leg + 1))
                    assert abs(a[2] - b[2]) < 0.2 * np.hypot(a[0] - b[0], a[1] - b[1])


def test_bolts_that_are_too_weak() -> None:
    """Anchors of 100 and 90 lbf allowable: stronger ones are named, for tension and for shear."""
    job = route3d.load(MODELS / "riser_duct_bank.toml")
    (given,) = job.runs
    anchor = replace(given.anchor, bolt_tension=100 * 4.448, bolt_shear=90 * 4.448)  # type: ignore[type-var, arg-type]
    first = advice_of(replace(job, runs=(replace(given, anchor=anchor),))).remedies[0]
    assert [e.key for e in first.edits if isinstance(e, Tackle)] == ["bolt_tension", "bolt_shear"]
    assert words(first).startswith("Use floor bolts rated at least ") and first.reaches
