"""What is typed on the page, and the run it makes."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from route3d.errors import GeometryError, InputError
from route3d.model import Job
from route3d.modelfile.read import load
from viewer.web.edits import (
    Edits,
    apply_edits,
    edit_fields,
    exact_text,
    read_quantity,
    read_value,
    reads_of,
)
from viewer.web.session import edited_run, machines_of

RISER = Path(__file__).parents[3] / "models" / "riser_duct_bank.toml"
LBF, INCH = 4.4482216152605, 0.0254  # exact by definition


@pytest.fixture(scope="module")
def riser() -> Job:
    return load(RISER)


def edited(job: Job, edits: Edits, key: str, text: str, system: str) -> Edits:
    """The edits with one more, as the page takes it."""
    return edited_run(job, job.runs[0], {**edits, key: read_value(key, text, system)})[1]


@pytest.mark.parametrize(
    ("key", "text", "system", "value"),
    [
        ("friction:duct", "0.4", "US", 0.4),
        ("friction:duct", " .4 ", "SI", 0.4),
        ("bend:1", "60", "US", 60 * INCH),
        ("bend:1", "1.5", "SI", 1.5),
        ("bend:1", "5 ft", "SI", 60 * INCH),
        ("reel", "auto", "US", None),
        ("reel", "AUTO", "US", None),
        ("reel", "100", "US", 100 * LBF),
        ("reel", "2", "SI", 2000.0),  # the field says kN
        ("line_pull:0", "12.5", "SI", 12500.0),
        ("speed:1", "6", "SI", 0.1),
        ("machine", "puller", "US", "puller"),
    ],
)
def test_a_bare_number_is_in_the_unit_beside_the_field(
    key: str, text: str, system: str, value: object
) -> None:
    assert read_value(key, text, system) == pytest.approx(value)


@pytest.mark.parametrize(
    ("key", "text"),
    [
        *[("friction:duct", t) for t in ("", "-0.1", "3", "nan", "1,5", "0.3 m", "__import__")],
        *[("bend:1", t) for t in ("0", "-48", "6 kN", "48 inn", "inf", "1e9")],
        *[("reel", t) for t in ("-1", "1 m")],
        ("line_pull:0", "0"),
        ("color", "1"),
        ("", ""),
    ],
)
def test_what_makes_no_sense_is_refused(key: str, text: str) -> None:
    with pytest.raises(InputError):
        read_value(key, text, "US")


@pytest.mark.parametrize("text", ["1e99", "-1e99", "1e999", "400000"])
def test_a_number_far_beyond_is_told_the_range_it_must_be_in(text: str) -> None:
    with pytest.raises(InputError) as refused:
        read_quantity(reads_of("at"), text, "US")
    words = str(refused.value)
    assert "allowed: -328,084 ft to 328,084 ft" in words and "no unit" not in words


def test_each_edit_reaches_the_run_and_nothing_else(riser: Job) -> None:
    run = apply_edits(
        riser.runs[0],
        machines_of(riser),
        {
            "friction:duct": 0.5,
            "bend:2": 1.5,
            "reel": 900.0,
            "line_pull:1": 2e4,
            "speed:0": 0.2,
        },
    )
    assert {c.name: c.friction for c in run.route.conduits} == {"duct": 0.5, "riser": 0.35}
    assert [v.bend for v in run.route.vertices][2] == 1.5
    assert [v.bend for v in run.route.vertices][1] == riser.runs[0].route.vertices[1].bend
    assert run.reel_tension == 900.0
    assert run.machine is not None and riser.runs[0].machine is not None
    assert run.machine.gears[1].line_pull == 2e4
    assert run.machine.gears[1].speed == riser.runs[0].machine.gears[1].speed
    assert run.machine.gears[0].speed == 0.2
    assert run.cables == riser.runs[0].cables


@pytest.mark.parametrize(
    "edit",
    [
        {"friction:nowhere": 0.2},
        {"bend:0": 1.0},
        {"bend:99": 1.0},
        {"bend:x": 1.0},
        {"machine": "none such"},
        {"line_pull:7": 1.0},
        {"feed": 0},
        {"bend:²": 1.0},
        {"line_pull:-1": 1.0},
        {"friction:duct": "text"},
        {"title": "x"},
    ],
)
def test_an_edit_of_nothing_is_refused(riser: Job, edit: dict[str, object]) -> None:
    with pytest.raises(InputError):
        apply_edits(riser.runs[0], machines_of(riser), edit)  # type: ignore[arg-type]


def test_the_fields_read_back_what_they_show(riser: Job) -> None:
    """What stands in a field, entered again, is the same to the digits shown (6)."""
    for system in ("US", "SI"):
        for field in edit_fields(riser.runs[0], riser.runs[0], {}):
            again = read_value(field.key, field.text(system), system)
            wanted = field.value
            close = pytest.approx(wanted, rel=1e-5) if isinstance(wanted, float) else wanted
            assert again == close, field.key


def test_all_digits_of_a_value_are_read_back_whatever_the_units() -> None:
    for key, text in (
        ("bend:1", "47.3"),
        ("reel", "101.7"),
        ("speed:0", "33"),
        ("friction:duct", "0.21"),
    ):
        value = read_value(key, text, "US")
        assert read_value(key, exact_text(key, value), "SI") == pytest.approx(value, rel=1e-14)
    assert read_value("reel", exact_text("reel", None), "SI") is None
    assert exact_text("machine", "winch") == "winch"
    assert read_value("speed:0", exact_text("speed:0", 1e-7), "SI") == pytest.approx(1e-7)


def test_bringing_back_the_value_of_the_file_is_no_edit(riser: Job) -> None:
    once = edited(riser, {}, "friction:duct", "0.4", "US")
    assert list(once) == ["friction:duct"]
    assert not edited(riser, once, "friction:duct", "0.25", "US")


def test_a_radius_that_does_not_fit_names_the_largest_that_does(riser: Job) -> None:
    with pytest.raises(GeometryError, match="maximum radius that fits"):
        edited(riser, {}, "bend:3", "900", "US")


DROP = RISER.with_name("roof_drop.toml")  # its fast gear slows from 14 to 12 m/min at 10 kN


def test_a_speed_that_falls_with_load_is_scaled_as_a_whole_and_that_is_said() -> None:
    drop = load(DROP)
    slower, _ = edited_run(drop, drop.runs[0], {"speed:0": read_value("speed:0", "6", "SI")})
    assert slower.machine is not None
    gear = slower.machine.gears[0]
    assert gear.speed == pytest.approx(0.1)
    assert gear.speed_at(0.0) == pytest.approx(7 / 60) and gear.speed_at(10e3) == gear.speed
    field = next(f for f in edit_fields(drop.runs[0], slower, {}) if f.key == "speed:0")
    assert field.label == "Gear fast speed at rated pull"
    assert field.change("SI").endswith(
        "12.0 m/min → 6.0 m/min (speeds at all loads scaled with it)"
    )


@pytest.mark.parametrize("order", [("line_pull:0", "speed:0"), ("speed:0", "line_pull:0")])
def test_rated_pull_and_speed_are_as_typed_whichever_came_first(order: tuple[str, str]) -> None:
    """5 kN halves the way to 12 m/min: 13; a typed speed is that at the new rated pull."""
    job, typed = load(DROP), {"line_pull:0": "5", "speed:0": "10"}
    only, _ = edited_run(job, job.runs[0], {"line_pull:0": 5000.0})
    assert only.machine is not None
    assert only.machine.gears[0].speed == pytest.approx(13 / 60)
    edits: Edits = {}
    for key in order:
        edits = edited(job, edits, key, typed[key], "SI")
    run, _ = edited_run(job, job.runs[0], edits)
    assert run.machine is not None
    gear = run.machine.gears[0]
    assert (gear.line_pull, gear.speed) == (5000.0, pytest.approx(10 / 60))
    assert gear.speed_at(gear.line_pull) == pytest.approx(gear.speed)


def test_a_gear_of_another_machine_is_an_edit_too() -> None:
    """The other machine has no figures in the run as given to hold it against."""
    job = load(RISER)
    puller = job.machines[0]
    winch = replace(puller, name="winch", gears=puller.gears[:1])
    job = replace(job, machines=(puller, winch))
    edits = edited(job, {"machine": "winch"}, "line_pull:0", "900", "US")
    assert edits == {"machine": "winch", "line_pull:0": pytest.approx(900 * LBF)}
    run, _ = edited_run(job, job.runs[0], edits)
    assert run.machine is not None and run.machine.name == "winch"
    assert run.machine.gears[0].line_pull == pytest.approx(900 * LBF)


def test_a_field_says_what_it_may_be(riser: Job) -> None:
    fields = {f.key: f for f in edit_fields(riser.runs[0], riser.runs[0], {})}
    low, most = fields["friction:duct"].span("US") or (0, 0)
    assert (low, most) == (0.05, 0.8)
    low, most = fields["bend:1"].span("US") or (0, 0)
    for text, fits in ((f"{most:.6f}", True), (f"{2 * most:.6f}", False)):
        if fits:
            read_value("bend:1", text, "US")
        else:
            with pytest.raises(InputError):
                read_value("bend:1", text, "US")
    assert fields["machine"].span("US") is None
    assert [f.group for f in fields.values()] == sorted(
        (f.group for f in fields.values()),
        key=["friction", "reel", "machine", "gear", "bend"].index,
    )
