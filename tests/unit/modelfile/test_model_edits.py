"""A remedy written into a model file reads back as the run that was judged, and nothing else moves.

The comparison is this file's own: figures to 1e-9, without the lines of vertices and what tables
are called.
"""

from __future__ import annotations

import difflib
import math
from collections.abc import Iterator, Sequence
from dataclasses import fields, is_dataclass, replace
from pathlib import Path
from typing import Any

import pytest

import route3d
from route3d.errors import InputError
from route3d.model import Conduit, Job, Run
from route3d.model.conduit import stock_conduit
from route3d.modelfile.edits import edited_model, write_edited
from route3d.modelfile.read import load, loads
from route3d.modelfile.starter import starter
from route3d.planning.remedies.edits import (
    Attachment,
    BendRadius,
    Edit,
    MovedPoint,
    NewPullPoint,
    Opened,
    OtherConduit,
    OtherElbows,
    OtherFriction,
    PulledApart,
    ReelTension,
    SplitInStages,
    Tackle,
    carried_out,
)
from route3d.planning.splitting.ways import Stage
from route3d.standards.conduits import conduit_size
from tests.support.failing_jobs import random_job
from tests.support.jobs import FOOT, INCH, LBF
from tests.support.model_text import PHASE_TABLE

MODELS = Path(route3d.__file__).parents[1] / "models"
BANK, ROOF, YARD = (MODELS / f"{n}.toml" for n in ("riser_duct_bank", "roof_drop", "yard_run"))
BOTH = frozenset({"reel", "machine"})


# --- what is the same -----------------------------------------------------------------------------


def figures(value: Any, where: str = "") -> Iterator[tuple[str, Any]]:
    """Every figure and word of a run, by where it stands."""
    if is_dataclass(value):
        named = type(value).__name__ in ("Run", "Vertex", "Cable", "EndSetup")
        for each in fields(value):
            if each.name not in ("line", "bend_source") and (named or each.name != "name"):
                yield from figures(getattr(value, each.name), f"{where}.{each.name}")
    elif isinstance(value, tuple):
        for i, each in enumerate(value):
            yield from figures(each, f"{where}[{i}]")
    else:
        yield where, sorted(value) if isinstance(value, frozenset) else value


def same(a: Run, b: Run) -> None:
    ours, theirs = dict(figures(a)), dict(figures(b))
    assert ours.keys() == theirs.keys()
    for place, value in ours.items():
        if isinstance(value, float):
            assert value == pytest.approx(theirs[place], rel=1e-9, abs=1e-9), place
        else:
            assert value == theirs[place], place


def round_trip(text: str, edits: Sequence[Edit], name: str = "", job: Job | None = None) -> str:
    """The new text, after it was held against the runs carried out and the runs left alone."""
    job = job or loads(text)
    name = name or job.runs[0].name
    made = edited_model(text, job, name, edits, "what was done")
    after = loads(made, folder=job.path.parent if job.path else ".")
    runs = carried_out(job.run(name), edits)
    at = [r.name for r in job.runs].index(name)
    wanted = [*job.runs[:at], *runs, *job.runs[at + 1 :]]
    assert [r.name for r in after.runs] == [r.name for r in wanted]
    for ours, theirs in zip(wanted, after.runs, strict=True):
        same(ours, theirs)
    assert (after.practice, after.allowances, after.site) == (
        job.practice,
        job.allowances,
        job.site,
    )
    assert "# Remedy: what was done" in made.splitlines()
    return made


def changed(text: str, made: str) -> tuple[list[str], list[str]]:
    """Lines gone and lines new, without the remedy's comment."""
    lines = list(difflib.ndiff(text.splitlines(), made.splitlines()))
    gone = [line[2:] for line in lines if line.startswith("- ")]
    new = [line[2:] for line in lines if line.startswith("+ ")]
    return gone, [line for line in new if line not in ("", "# Remedy: what was done")]


def stage(feed: int, pull: int, *, reel: bool = True, length: float = 100.0, cable: int = 1) -> Any:
    return Stage(cable, feed, pull, reel, 0.5, "sidewall", 1e4, 100.0, length, 0.0, None)


# --- the demos ------------------------------------------------------------------------------------


def trade(job: Job, name: str, size: str, **more: Any) -> Conduit:
    found = conduit_size("PVC-40", size)
    assert found.outer_diameter is not None
    more.setdefault("friction", 0.25)
    return stock_conduit(name, found, job.practice.rule_set, outer=found.outer_diameter, **more)


def demo_edits(job: Job) -> dict[str, list[Edit]]:
    """Every kind of edit for the run of a demo, and some together."""
    run = job.runs[0]
    route = run.route
    bends = [i for i, v in enumerate(route.vertices) if v.bend]
    bend, last = bends[0], len(route.vertices) - 1
    x, y, z = route.vertices[bend].point
    a, b = route.vertices[0].point, route.vertices[1].point
    middle = tuple((p + q) / 2 for p, q in zip(a, b, strict=True))
    duct = route.conduits[0]
    point = NewPullPoint(0, middle, "new pull point")  # type: ignore[arg-type]
    steel = trade(job, "steel elbow", "6", friction=0.2)
    two = [SplitInStages((stage(1, 0), stage(1, last + 1, reel=False, length=31.0)))]
    assert run.machine and run.rope and run.rigging and run.reel
    return {
        "radius": [BendRadius(bend, 77.2 * INCH)],
        "radii": [BendRadius(i, route.vertices[i].bend * 0.9123456789) for i in bends],
        "moved": [MovedPoint(bend, (x + 1.2345, y, z))],
        "point": [point],
        "opened": [Opened(last, BOTH)],
        "friction": [OtherFriction(duct.name, 0.17, None, None)],
        "friction in a range": [OtherFriction(duct.name, 0.17, 0.1, 0.31)],
        "conduit": [OtherConduit(duct.name, trade(job, "large", "6"))],
        "conduit of that name": [OtherConduit(duct.name, trade(job, duct.name, "6"))],
        "plain conduit": [
            OtherConduit(duct.name, Conduit("pipe", 0.16, 0.18, 0.3, material="HDPE"))
        ],
        "machine": [Tackle("machine", run.machine.name, "line_pull", 12000 * LBF, "force")],
        "boom": [Tackle("machine", run.machine.name, "boom_rating", 50e3, "force")],
        "rope": [
            Tackle("rope", run.rope.name, "rated_load", 71e3, "force"),
            Tackle("rope", run.rope.name, "breaking_strength", 1e6 / 3, "force"),
        ],
        "swivel": [Tackle("rigging", run.rigging.name, "swivel_rating", 56789.0, "force")],
        "feed sheave": [Tackle("reel", run.reel.name, "sheave_radius", 1.3, "radius")],
        "brake": [Tackle("reel", run.reel.name, "brake_rating", 4321.0, "force")],
        "grip": [Attachment("basket grip")],
        "reel tension": [ReelTension(1234.5)],
        "elbows": [
            OtherElbows((bend,), (_past(run, bend),), steel),
            BendRadius(bend + 2, 1.5) if bend + 1 in bends else BendRadius(bend, 1.5),
        ],
        "pair": [point, BendRadius(bend + 1, 1.9), OtherFriction(duct.name, 0.1, None, None)],
        "stages": [point, *two],
        "stages and rope": [point, *two, Tackle("rope", run.rope.name, "rated_load", 9e4, "force")],
    }


def _past(run: Run, vertex: int) -> Any:
    """A place on the leg after a bend, well past its arc."""
    a, b = (run.route.vertices[i].point for i in (vertex, vertex + 1))
    return tuple(p + 0.5 * (q - p) for p, q in zip(a, b, strict=True))


KINDS = sorted(demo_edits(load(YARD)))


@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize("file", [BANK, ROOF, YARD], ids=lambda f: f.stem)
def test_every_kind_of_edit_reads_back_in_the_demos(file: Path, kind: str) -> None:
    job = load(file)
    round_trip(file.read_text(), demo_edits(job)[kind], job=job)


def test_a_change_leaves_every_other_line_as_it_is() -> None:
    text = YARD.read_text()
    made = round_trip(
        text,
        [
            BendRadius(5, 77.2 * INCH),
            Tackle("machine", "puller", "line_pull", 12000 * LBF, "force"),
        ],
    )
    assert changed(text, made) == (
        [
            '  { name = "low", line_pull = 10000, speed = 15 },',
            '  { at = [900, 420, -5], bend = "48 in" },',
        ],
        [
            '  { name = "low", line_pull = 12000, speed = 15 },',
            '  { at = [900, 420, -5], bend = "77.2 in" },',
        ],
    )
    lines = made.splitlines()
    assert lines[lines.index("[[run]]") - 1] == "# Remedy: what was done"


def test_a_pull_point_is_a_row_like_its_neighbors() -> None:
    text = BANK.read_text()
    point = NewPullPoint(0, (90 * FOOT, 0.0, -5.5 * FOOT), "new pull point")
    row = '  { at = [90, 0, -5.5], name = "new pull point", access = ["reel", "machine"] },'
    assert changed(text, round_trip(text, [point])) == ([], [row])


def test_elbows_of_steel_are_a_table_and_two_rows() -> None:
    text = BANK.read_text()
    job = load(BANK)
    elbow = trade(job, "duct elbow", "5", friction=0.21)
    edit = OtherElbows((1,), ((180 * FOOT, 10 * FOOT, -6 * FOOT),), elbow)
    gone, new = changed(text, round_trip(text, [edit]))
    assert gone == ["  { at = [180, 0, -6], bend = 48 },"]
    assert new == [
        '[conduit."duct elbow"]',
        'type = "PVC-40"',
        'trade_size = "5"',
        "friction = 0.21",
        '  { at = [180, 0, -6], bend = 48, conduit = "duct elbow" },',
        '  { at = [180, 10, -6], conduit = "duct" },',
    ]


def test_stages_say_what_is_done_in_which_order() -> None:
    edits = [
        SplitInStages((stage(4, 6), stage(4, 0, reel=False, length=300.0), stage(6, 4, cable=2)))
    ]
    made = round_trip(YARD.read_text(), edits)
    above = made.splitlines()[made.splitlines().index("[[run]]") - 5 :][:5]
    assert above == [
        "# Remedy: what was done",
        "# Run Y1 is pulled in 3 stages, in this order:",
        "#   1. feed off the reel at pull vault V2, pull at berth 4 charger",
        "#   2. first lay 984.3 ft of cable in figure eights at pull vault V2, feed from there, "
        "pull at substation",
        "#   3. splice, then feed off the reel at berth 4 charger, pull at pull vault V2",
    ]
    first, second, third = loads(made).runs
    assert (first.reel_tension, second.reel_tension) == (None, 0.0)
    assert second.reel is not None and second.reel.drag_force == 0.0
    assert first.reel == third.reel == load(YARD).runs[0].reel
    assert [v.name for v in second.route.vertices][-1] == "pull vault V2"
    assert made.count("# farther than the head is drawn out") == 3


def test_a_bank_goes_with_every_stage() -> None:
    text = BANK.read_text().replace(
        "bend = 48 },\n  { at = [180, 95, -6]",
        'name = "V", access = ["reel", "machine"] },\n  { at = [180, 95, -6]',
    )
    job = loads(text)
    assert job.runs[0].route.pull_points == (1,)
    made = round_trip(text, [SplitInStages((stage(1, 0), stage(1, 4, reel=False)))])
    banks = loads(made).banks
    assert [b.run for b in banks] == ["F1 stage 1", "F1 stage 2"]
    assert {replace(b, run="F1") for b in banks} == set(job.banks)
    assert made.count("# center to center, in") == 2
    # The duct that the run was in holds the run of the stage.
    held = text.replace("rows    = 2\n", 'rows    = 2\nducts = ["1-2: F1"]\n')
    made = round_trip(held, [SplitInStages((stage(1, 0), stage(1, 4, reel=False)))])
    ducts = [[d.run for d in b.ducts] for b in loads(made).banks]
    assert ducts == [["F1 stage 1"], ["F1 stage 2"]]
    # The bank of another run names the stages.
    other = held[held.index("[[run]]") : held.index("[[bank]]")].replace('"F1"', '"F2"')
    shared = held[held.index("[[bank]]") :].replace(
        'run     = "F1"', 'run     = "F2"\nruns = ["F1"]'
    )
    assert 'runs = ["F1"]' in shared
    both = held.replace("[[bank]]", f"{other}[[bank]]", 1) + shared[: shared.index("[[site")]
    made = round_trip(both, [SplitInStages((stage(1, 0), stage(1, 4, reel=False)))])
    last = loads(made).banks[-1]
    assert last.runs == ("F1 stage 1", "F1 stage 2")
    assert [d.run for d in last.ducts] == ["F1 stage 1"]


def test_the_equipment_of_an_end_goes_to_its_stage() -> None:
    ends = (
        '[run.ends."berth 4 charger"]\nmachine = "big"\n'
        'lead_off = [{ sheave = "rim", turn = 30 }]\n[run.ends.substation]\nreel = "small"\n'
    )
    more = (
        "[machine.big]\ngears = [{ line_pull = 20000, speed = 10 }]\n[reel.small]\nweight = 900\n"
    )
    text = YARD.read_text().replace("[[site.room]]", f"{ends}\n{more}\n[[site.room]]", 1)
    made = round_trip(text, [SplitInStages((stage(0, 4), stage(4, 6, reel=False)))])
    first, second = loads(made).runs
    assert first.reel is not None and first.reel.name == "small"
    assert second.machine is not None and second.machine.name == "big"
    assert "run.ends" not in made
    round_trip(text, [Tackle("sheave", "rim", "radius", 0.7, "radius")])
    round_trip(text, [Tackle("machine", "big", "line_pull", 99e3, "force")])


def test_meshes_are_found_from_where_it_is_written(tmp_path: Path) -> None:
    job = load(ROOF)
    write_edited(ROOF, tmp_path / "out.toml", job, "N1", [BendRadius(1, 1.3)])
    after = load(tmp_path / "out.toml")
    assert after.site.context[0].samefile(job.site.context[0])
    assert after.runs[0].route.vertices[1].bend == pytest.approx(1.3)


def test_any_run_made_of_the_one_given_is_written_its_speeds_with_it() -> None:
    """Not edits of a remedy but a run: its fast gear runs half as fast at every load."""
    job, text = load(ROOF), ROOF.read_text()

    def slower(run: Run) -> Run:
        assert run.machine is not None
        fast, *others = run.machine.gears
        speeds = tuple((load, speed / 2) for load, speed in fast.speeds)
        half = replace(fast, speed=fast.speed / 2, speeds=speeds)
        return replace(run, machine=replace(run.machine, gears=(half, *others)))

    made = edited_model(text, job, "N1", slower)
    machine, given = loads(made, "x", ROOF.parent).runs[0].machine, job.runs[0].machine
    assert machine is not None and given is not None and given.gears[0].speeds
    for (load_1, now), (load_0, was) in zip(
        machine.gears[0].speeds, given.gears[0].speeds, strict=True
    ):
        assert (load_1, now) == (load_0, pytest.approx(was / 2))
    assert machine.gears[1:] == given.gears[1:]
    changed = [a for a, b in zip(text.splitlines(), made.splitlines(), strict=True) if a != b]
    assert len(changed) == 1 and "speeds" in changed[0]


# --- tables that runs share -----------------------------------------------------------------------

SHARED = (
    """\
units = "US"

"""
    + PHASE_TABLE
    + """\
[cable.ground]
diameter = 0.5
weight = 0.2
conductor = { metal = "copper", area = "4 AWG" }
sidewall_limit = 300
bend_multiple = 8

[conduit.duct]  # what both are in
type = "PVC-40"
trade_size = "5"
friction = { value = 0.25, low = 0.2, high = 0.4, source = "measured" }
[rope.line]
diameter = 0.75
weight = 0.16
friction = 0.15
rated_load = "9 kip"  # on its tag
stretch = 0.012

[machine.puller]
gears = [{ line_pull = 3500, speeds = [[0, 40], ["16 kN", 35]] }, { line_pull = 3000, speed = 35 }]
[sheave.pit]
radius = "2'-6\\""
rating = 16000
[anchor.brace]
kind = "conduit brace"
rating = 6500
adapters = [{ trade_sizes = ["2", "6"], locked_rating = 6500 }]
[anchor.platform]
kind = "work platform"
brace = "brace"
[rigging.head]
swivel_rating = 7500
[reel.berth]
brake_rating = "400 lbf ft"
feed_turn = 90
feed_friction = 0.2

# the first of two
[[run]]
name = "F 1"
cables = { phase = 3, ground = 1 }
reel_tension = "1 kN"
rope = "line"
machine = "puller"
anchor = "platform"
rigging = "head"
reel = "berth"
lead_off = [{ sheave = "pit", turn = 90 }]
can_splice = ["point 3"]
route = [
  { at = [0, 0, 0], name = "a", access = ["reel", "machine"], conduit = "duct" },
  { at = [100, 0, 0], conduit = "duct" },  # elbow by table
  # a vault without a name
  { at = ["100 ft", "1200 in", 0], access = ["machine", "reel"], sheave = "pit" },
  { at = [200, 100, 0], name = "b", access = ["reel", "machine"] }
]

[[run]]
name = "F2"
cables = { phase = 3 }
rope = "line"
machine = "puller"
anchor = "brace"
rigging = "head"
reel = "berth"
lead_off = [{ sheave = "pit", turn = 45 }]
route = [{ at = [0, 9, 0], access = ["reel"], conduit = "duct" }, { at = [9, 9, 0], bend = 48 },
  { at = [9, 90, 0], access = ["machine"] }]
"""
)


def shared_edits() -> dict[str, list[Edit]]:
    job = loads(SHARED)
    point = NewPullPoint(0, (12.34, 0.0, 0.0), "new")
    return {
        "radius": [BendRadius(1, 1.5)],
        "moved": [MovedPoint(1, (31.0, 1.0, 0.5)), MovedPoint(2, (31.5, 33.3, 0.0))],
        "point": [point],
        "opened": [Opened(1, BOTH)],
        "friction": [OtherFriction("duct", 0.18, 0.15, 0.3)],
        "friction without a range": [OtherFriction("duct", 0.18, None, None)],
        "conduit": [OtherConduit("duct", trade(job, "duct 6", "6", friction_high=0.3))],
        "conduit of that name": [OtherConduit("duct", trade(job, "duct", "6"))],
        "elbows": [OtherElbows((1,), ((30.48, 6.0, 0.0),), trade(job, "duct", "6"))],
        "machine": [Tackle("machine", "puller", "line_pull", 50e3, "force")],
        "rope": [Tackle("rope", "line", "rated_load", 50e3, "force")],
        "sheave": [Tackle("sheave", "pit", "radius", 0.9, "radius")],
        "swivel": [Tackle("rigging", "head", "swivel_rating", 50e3, "force")],
        "brake": [Tackle("reel", "berth", "brake_rating", 5e3, "force")],
        "guide": [Tackle("reel", "berth", "feed_efficiency", 0.97, "factor")],
        "eyes": [Attachment("basket grip")],
        "reel tension": [ReelTension(2e3)],
        "auto": [ReelTension(None)],
        "apart": [PulledApart(("ground",))],
        "mains apart": [PulledApart(("phase",))],
        "stages": [SplitInStages((stage(2, 0), stage(2, 3, reel=False)))],
        "point and stages": [
            point,
            Tackle("sheave", "pit", "radius", 0.9, "radius"),
            SplitInStages((stage(1, 4), stage(1, 0, reel=False))),
        ],
        "a stage between two new points": [
            NewPullPoint(0, (20.0, 0.0, 0.0), "new 2"),
            NewPullPoint(0, (12.34, 0.0, 0.0), "new 1"),
            SplitInStages((stage(2, 5), stage(2, 1, reel=False), stage(1, 0, reel=False))),
        ],
        "apart and rope": [
            PulledApart(("ground",)),
            Tackle("rope", "line", "rated_load", 50e3, "force"),
        ],
    }


def layouts() -> dict[str, str]:
    """The same job in other forms that TOML allows."""
    run_1 = SHARED.index("# the first of two")
    duct = SHARED.index("[conduit.duct]"), SHARED.index("[rope.line]")
    dotted = (
        'conduit.duct.type = "PVC-40"\nconduit.duct.trade_size = "5"\n'
        'conduit.duct.friction = { value = 0.25, low = 0.2, high = 0.4, source = "measured" }\n'
    )
    sub = (
        '[conduit.duct]\ntype = "PVC-40"\ntrade_size = "5"\n[conduit.duct.friction]\n'
        'value = 0.25\nlow = 0.2\nhigh = 0.4\nsource = "measured"\n'
    )
    inside = (
        '[conduit]\nduct = { type="PVC-40",trade_size=5,'
        'friction={value=0.25,low=0.2,high=0.4,source="measured"} }\n'
    )
    route = SHARED.index("route = [\n"), SHARED.index('[[run]]\nname = "F2"')
    rows = (
        '[[run.route]]\nat = [0, 0, 0]\nname = "a"\n'
        'access = ["reel", "machine"]\nconduit = "duct"\n'
        "[[run.route]]\nat = [100, 0, 0]\n"
        '[[run.route]]\nat = [100, 100, 0]\naccess = ["machine", "reel"]\nsheave = "pit"\n\n'
        '[[run.route]]\nat = [200, 100, 0]\nname = "b"\naccess = ["reel", "machine"]\n\n'
    )
    led = 'lead_off = [{ sheave = "pit", turn = 90 }]\n'
    one_line = SHARED[route[0] : route[1]].replace("  # elbow by table", "")
    one_line = (
        one_line.replace("  # a vault without a name\n", "").replace("\n", " ").rstrip() + "\n\n"
    )
    return {
        "as it is": SHARED,
        "dotted": SHARED[:13] + dotted + SHARED[13 : duct[0]] + SHARED[duct[1] :],
        "a table below": SHARED[: duct[0]] + sub + SHARED[duct[1] :],
        "in one line": SHARED[: duct[0]] + inside + SHARED[duct[1] :],
        "rows as tables": SHARED[: route[0]] + rows + SHARED[route[1] :],
        "turns as tables": SHARED[: route[0]].replace(led, "", 1)
        + SHARED[route[0] : route[1]].rstrip()
        + '\n[[run.lead_off]]\nsheave = "pit"\nturn = 90\n\n'
        + SHARED[route[1] :],
        "cables dotted": SHARED.replace(
            "cables = { phase = 3, ground = 1 }", "cables.phase = 3\ncables.ground = 1"
        ),
        "route in one line": SHARED[: route[0]] + one_line + SHARED[route[1] :],
        "runs first": SHARED[:13] + "# lead\n" + SHARED[run_1:].rstrip() + "\n" + SHARED[13:run_1],
        "no end of the last line": SHARED.rstrip("\n"),
        "other line ends": SHARED.replace("\n", "\r\n"),
    }


@pytest.mark.parametrize("kind", sorted(shared_edits()))
@pytest.mark.parametrize("layout", sorted(layouts()))
def test_no_other_run_changes_whatever_the_layout(layout: str, kind: str) -> None:
    text = layouts()[layout]
    made = round_trip(text, shared_edits()[kind], "F 1")
    assert text.count("\r\n") == 0 or "\n" not in made.replace("\r\n", "")


@pytest.mark.parametrize("kind", sorted(shared_edits()))
def test_a_remedy_of_a_remedy_is_written_too(kind: str) -> None:
    """Tables made by the first are there already for the second."""
    once = round_trip(SHARED, [OtherFriction("duct", 0.2, 0.2, 0.2)], "F 1")
    twice = round_trip(once, shared_edits()["rope"], "F 1")
    if "duct" not in str(shared_edits()[kind]):
        round_trip(twice, shared_edits()[kind], "F 1")


def test_a_shared_table_is_copied_for_the_run() -> None:
    made = round_trip(SHARED, [Tackle("rope", "line", "rated_load", 12e3 * LBF, "force")], "F 1")
    assert changed(SHARED, made) == (
        ['rope = "line"'],
        [
            "[rope.line_F_1]",
            "diameter = 0.75",
            "weight = 0.16",
            "friction = 0.15",
            'rated_load = "12 kip"  # on its tag',
            "stretch = 0.012",
            'rope = "line_F_1"',
        ],
    )


def test_a_name_that_is_taken_gets_a_number() -> None:
    text = SHARED.replace(
        "[rope.line]",
        "[rope.line_F_1]\ndiameter = 1\nweight = 1\nfriction = 0\nrated_load = 1\nstretch = 0\n"
        "[rope.line]",
    )
    made = round_trip(text, [Tackle("rope", "line", "rated_load", 12e3 * LBF, "force")], "F 1")
    assert 'rope = "line_F_1_2"' in made


def test_a_torque_of_a_brake_gives_way_to_a_force_with_its_unit() -> None:
    only = SHARED[: SHARED.index('[[run]]\nname = "F2"')]
    made = round_trip(only, [Tackle("reel", "berth", "brake_rating", 650 * LBF, "force")])
    assert changed(only, made) == (
        ['brake_rating = "400 lbf ft"'],
        ['brake_rating = "650 lbf"'],
    )


def test_figures_keep_the_unit_they_had() -> None:
    only = SHARED[: SHARED.index('[[run]]\nname = "F2"')]
    edits = [
        ReelTension(1500.0),
        Tackle("sheave", "pit", "radius", 33.5 * INCH, "radius"),
        MovedPoint(2, (100 * FOOT, 110 * FOOT, 0.0)),
    ]
    _, new = changed(only, round_trip(only, edits))
    assert 'reel_tension = "1.5 kN"' in new
    assert 'radius = "33.5 in"' in new
    assert (
        '  { at = ["100 ft", "1320 in", 0], access = ["machine", "reel"], sheave = "pit" },' in new
    )


# --- random jobs ----------------------------------------------------------------------------------


@pytest.mark.parametrize("seed", range(12))
def test_random_jobs_read_back(seed: int) -> None:
    text = random_job(seed)
    try:
        job = loads(text)
    except InputError:
        pytest.skip("no job")
    run = job.runs[0]
    bends = [i for i, v in enumerate(run.route.vertices) if v.bend]
    last = len(run.route.vertices) - 1
    a, b = (run.route.vertices[i].point for i in (0, 1))
    middle = tuple(math.fsum((p, q)) / 2 for p, q in zip(a, b, strict=True))
    point = NewPullPoint(0, middle, "new pull point")  # type: ignore[arg-type]
    riders = [c.name for c, _ in run.cables.riders]
    for edits in (
        [BendRadius(i, run.route.vertices[i].bend * 0.777) for i in bends],
        [
            OtherFriction(c.name, 0.9 * c.friction, c.friction_low, None)
            for c in set(run.route.conduits)
        ],
        [OtherConduit(run.route.conduits[0].name, trade(job, "duct 6", "6"))],
        [point, Tackle("machine", "puller", "line_pull", 12345.6, "force")],
        [point, SplitInStages((stage(1, 0), stage(1, last + 1, reel=False)))],
        [PulledApart(tuple(riders))] if riders else [ReelTension(777.7)],
    ):
        round_trip(text, edits)


# --- what cannot be written -----------------------------------------------------------------------

RUN = SHARED.index("# the first of two")
INLINE_REEL = SHARED.replace(
    '[reel.berth]\nbrake_rating = "400 lbf ft"\nfeed_turn = 90\nfeed_friction = 0.2\n', ""
).replace('units = "US"\n', 'units = "US"\nreel = { berth = { weight = 9 } }\n')
INLINE_RUN = (
    'run = [{ name = "F 1", cables = { phase = 3 }, rope = "line", route = ['
    '{ at = [0, 0, 0], name = "a", access = ["reel", "machine"], conduit = "duct" }, '
    '{ at = [100, 0, 0], access = ["reel", "machine"] }, '
    '{ at = [200, 0, 0], name = "b", access = ["reel", "machine"] }] }]\n'
)
INLINE_RUN = SHARED[:13] + INLINE_RUN + SHARED[13:RUN]
STAGES: list[Edit] = [SplitInStages((stage(1, 0), stage(1, 2, reel=False)))]


def test_a_run_in_one_line_takes_what_needs_no_second_run() -> None:
    made = round_trip(INLINE_RUN, [MovedPoint(1, (30.0, 3.0, 0.0))])
    assert made.count("\n") == INLINE_RUN.count("\n") + 1
    round_trip(INLINE_RUN, [Tackle("rope", "line", "rated_load", 5e4, "force")])


@pytest.mark.parametrize(
    ("text", "edits", "where", "said"),
    [
        (INLINE_REEL, shared_edits()["stages"], "reel", "no room for another inline table"),
        (INLINE_RUN, STAGES, "run[0]", "cannot be written more than once in its present form"),
        (
            SHARED,
            [Tackle("machine", "puller", "envelope", 1.0, "length")],
            "run[0].machine.envelope",
            "would not read back as calculated",
        ),
        (
            starter("US"),
            [BendRadius(1, 100.0)],
            "run[0].route[1].bend (run F1)",
            "the remedy cannot be written: the bends at",
        ),
    ],
)
def test_what_cannot_be_written_is_said(
    text: str, edits: list[Edit], where: str, said: str
) -> None:
    job = loads(text)
    with pytest.raises(InputError) as caught:
        edited_model(text, job, job.runs[0].name, edits)
    problem = caught.value.problems[0]
    assert problem.where == where and said in problem.message and problem.fix
    if where in ("reel", "run[0]"):
        assert problem.line == 2


def test_a_table_amid_those_of_the_run_is_refused_with_its_line() -> None:
    amid = '[reel.other]\nweight = 9\n[run.ends.b]\nmachine = "puller"\n[[run]]\nname = "F2"'
    text = SHARED.replace('[[run]]\nname = "F2"', amid)
    with pytest.raises(InputError) as caught:
        round_trip(text, shared_edits()["stages"], "F 1")
    (problem,) = caught.value.problems
    assert problem.where == "reel.other"
    assert problem.line == text[: text.index("[reel.other]")].count("\n") + 1
    assert "move it below them" in problem.fix
