"""The place a plan proposes, and what it says of the room to pull out the head."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from route3d.checks.finding import Finding
from route3d.mechanics.pull import Pull, solve_pull
from route3d.model import (
    Allowances,
    ConduitBrace,
    Job,
    Practice,
    Room,
    Run,
    Vehicle,
    WorkPlatform,
)
from route3d.model.anchor import Anchor
from route3d.modelfile.read import load
from route3d.planning.evaluate import evaluate
from route3d.planning.placement.rope_legs import drawn_out
from route3d.planning.placement.search import PlacementSearch, machine_search, place_key
from route3d.planning.pull_plan.findings import place_findings
from route3d.units import render
from tests.support import jobs
from tests.support.jobs import along, conduit
from tests.support.places import CLEAR, LENGTH, LINE, MACHINE

MODELS = Path(__file__).parents[4] / "models"


def job_drawing(out: float, name: str = "riser_duct_bank", *, rooms: tuple[Room, ...] = ()) -> Job:
    """A demo job whose head comes ``out`` m out of the conduit."""
    job = load(MODELS / f"{name}.toml")
    head = job.runs[0].head_length
    allowances = replace(job.allowances, pull_slack=out - head)
    return replace(job, allowances=allowances, site=replace(job.site, rooms=rooms))


def place_of(job: Job) -> tuple[PlacementSearch, list[Finding]]:
    """The search at the end the decision pulls from, and what it finds."""
    (result,) = evaluate(job, with_remedies=False).runs
    pull = result.best.pull
    assert pull.run.machine is not None
    found = machine_search(pull, pull.run.machine, job)
    return found, list(place_findings(found, pull, drawn_out(pull.run, job.allowances)))


def vault(depth: float, sides: tuple[float, float] = (-3.0, 3.0)) -> Room:
    """A room ``depth`` m deep at the vault end of the demo job, whose conduit leaves along +x.

    Its walls stand at ``sides`` m of the conduit, its floor so far below it as a rope line is high.
    """
    job = load(MODELS / "riser_duct_bank.toml")
    x, y, z = job.runs[0].route.vertices[0].point
    right, left = (y + side for side in sides)
    corners = ((x - depth, right), (x, right), (x, left), (x - depth, left))
    return Room("vault", corners, z - LINE)


@pytest.mark.parametrize(("out", "lacks"), [(2.99, 0.0), (3.0, 0.0), (3.01, 0.01), (4.5, 1.5)])
def test_the_finding_is_of_the_longest_rope_there_is(out: float, lacks: float) -> None:
    """Behind 3 m of rope the machine touches the wall: inside, at it and beyond.

    No place of the list would solve what the finding says of the best one.
    """
    room = vault(3.0 + LENGTH, (-0.41, 1.31))  # no room off the line of the rope
    bolted = job_drawing(out, rooms=(room,))
    found, findings = place_of(held(bolted, bolted.runs[0].anchor))
    assert found.best[0].lacks(out) == pytest.approx(lacks, abs=1e-6)
    assert all(p.distance <= found.best[0].distance + 1e-9 for p in found.best)
    assert [(f.rule, f.severity) for f in findings] == [
        ("room to pull out the head", "caution")
    ] * (lacks > 0)
    for finding in findings:
        assert finding.demand == found.best[0].distance
        assert finding.limit == pytest.approx(out)
        assert render(finding.fix, "SI") == (
            f"rope between conduit and machine too short by {lacks:.2f} m: the head would reach "
            "the machine. No other location gives a longer rope. Lead the rope off over a longer "
            "path, or regrip the cable behind the head"
        )


@pytest.mark.parametrize("out", [2.0, 9.9, 10.1, 25.0])
def test_open_ground_always_has_room_for_the_head(out: float) -> None:
    """Places are usually sought within 10 m; a head drawn out farther is given them farther off."""
    found, findings = place_of(job_drawing(out))
    assert found.best[0].distance == pytest.approx(out, abs=1e-3)  # as near as may be, line of rope
    assert findings == []
    found, findings = place_of(job_drawing(out, rooms=(vault(60.0),)))
    assert found.best[0].lacks(out) == 0.0 and found.tried < 7000
    assert findings == []


@pytest.mark.parametrize(("out", "cautioned"), [(1.49, False), (1.5, False), (1.51, True)])
def test_a_machine_braced_against_the_conduit_has_1_5_m_of_rope(
    out: float, cautioned: bool
) -> None:
    _, findings = place_of(job_drawing(out, "roof_drop"))
    assert [f.rule for f in findings] == ["room to pull out the head"] * cautioned
    assert all(
        "No other location" not in render(f.fix, "SI") for f in findings
    )  # none was looked for


TRUCK = Vehicle("truck", 4000.0, 0.5, 30e3, length=4.0, width=2.0, drawbar=0.5)


@pytest.mark.parametrize(("spare", "fits"), [(0.01, True), (0.0, True), (-0.01, False)], ids=str)
def test_a_vehicle_with_its_drawbar_must_stand_behind_the_machine(spare: float, fits: bool) -> None:
    """Rope 3 m, machine 1.2 m, drawbar 0.5 m, truck 4 m: 8.7 m to the wall; else the rope is short.

    So the machine stands nearer and the head lacks room, which is said.
    """
    room = vault(3.0 + LENGTH + 4.5 + spare)
    found, findings = place_of(held(job_drawing(3.0, rooms=(room,)), TRUCK))
    assert (found.best[0].lacks(3.0) == 0.0) is fits
    assert [f.rule for f in findings] == ["room to pull out the head"] * (not fits)


@pytest.mark.parametrize(("side", "known"), [("length", False), ("width", False), ("", True)])
def test_a_vehicle_without_its_size_is_said_to_be_unchecked(side: str, known: bool) -> None:
    truck = replace(TRUCK, **{side: None}) if side else TRUCK  # type: ignore[arg-type]
    found, _ = place_of(held(job_drawing(3.0, rooms=(vault(9.0),)), truck))
    words = [render(note, "SI") for note in found.best[0].notes]
    assert ("vehicle footprint not given: not checked" not in words) is known


@pytest.mark.parametrize("anchor", [ConduitBrace("brace", 30e3), WorkPlatform("deck")], ids=str)
def test_a_braced_machine_stands_within_1_5_m(anchor: Anchor) -> None:
    found, _ = place_of(held(job_drawing(3.0, rooms=(vault(9.0),)), anchor))
    assert found.best[0].distance == pytest.approx(1.5, abs=0.05)


def held(job: Job, anchor: Anchor | None) -> Job:
    """The same job, its machine sized as in the tests of places and held by ``anchor``."""
    run = job.runs[0]
    assert run.machine is not None
    size = {"envelope": MACHINE.envelope, "line_height": LINE, "clearance": CLEAR}
    machine = replace(run.machine, **size)  # type: ignore[arg-type]
    return replace(job, runs=(replace(run, machine=machine, anchor=anchor),))


# --- when a place found holds for another pull ----------------------------------------------------


def test_pulls_of_one_key_find_the_same_place() -> None:
    """Whatever the place hangs on is in the key, and what it does not is left out of it."""
    (result,) = evaluate(job_drawing(3.0), with_remedies=False).runs
    pull, allowances = result.best.pull, Allowances()
    key = place_key(pull, allowances)
    run = pull.run
    assert run.machine is not None and run.rope is not None and run.rigging is not None

    def of(run: Run, allowances: Allowances = allowances) -> object:
        return place_key(replace(pull, run=run), allowances)

    assert of(replace(run, rope=replace(run.rope, rated_load=1e6))) == key
    assert of(replace(run, machine=replace(run.machine, gears=run.machine.gears[:1]))) == key
    assert of(replace(run, machine=replace(run.machine, name="other"))) != key  # notes name it
    assert of(replace(run, machine=replace(run.machine, line_height=9.0))) != key
    assert of(replace(run, rigging=replace(run.rigging, head_length=2.5))) != key
    assert of(replace(run, anchor=TRUCK)) != key
    assert of(run, replace(allowances, pull_slack=9.0)) != key


def test_a_point_moved_behind_a_plumb_end_turns_the_place() -> None:
    """Past a plumb last leg the level one before it says which way the machine faces."""

    def stub_up(x: float, y: float) -> Pull:
        """Level from (x, y) to the origin, and up there."""
        points = ((x, y, 0.0), (0.0, 0.0, 0.0), (0.0, 0.0, 6.0))
        route = along((points, (0.0, 1.2, 0.0)), conduit())
        return solve_pull(jobs.run(route, machine=MACHINE), Practice())

    east, north, again = stub_up(-20.0, 0.0), stub_up(0.0, -20.0), stub_up(-20.0, 0.0)
    key = place_key(east, Allowances())
    assert key == place_key(again, Allowances()) != place_key(north, Allowances())
