"""What is typed on the page, and the run it makes."""

from __future__ import annotations

from pathlib import Path

import pytest

from route3d.errors import GeometryError, InputError
from viewer.page.edits import apply_edits, edit_fields, read_value
from viewer.page.session import Session, edited, open_session, solved, with_edits

RISER = Path(__file__).parents[3] / "models" / "riser_duct_bank.toml"
LBF, INCH = 4.4482216152605, 0.0254  # exact by definition


@pytest.fixture(scope="module")
def riser() -> Session:
    return open_session(RISER)


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
        ("feed", "best", "US", None),
        ("feed", "4", "US", 4),
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
        ("colour", "1"),
        ("", ""),
    ],
)
def test_what_makes_no_sense_is_refused(key: str, text: str) -> None:
    with pytest.raises(InputError):
        read_value(key, text, "US")


def test_each_edit_reaches_the_run_and_nothing_else(riser: Session) -> None:
    run = apply_edits(
        riser.given,
        riser.machines,
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
    assert [v.bend for v in run.route.vertices][1] == riser.given.route.vertices[1].bend
    assert run.reel_tension == 900.0
    assert run.machine is not None and riser.given.machine is not None
    assert run.machine.gears[1].line_pull == 2e4
    assert run.machine.gears[1].speed == riser.given.machine.gears[1].speed
    assert run.machine.gears[0].speed == 0.2
    assert run.cables == riser.given.cables


@pytest.mark.parametrize(
    "edit",
    [
        {"friction:nowhere": 0.2},
        {"bend:0": 1.0},
        {"bend:99": 1.0},
        {"bend:x": 1.0},
        {"machine": "none such"},
        {"line_pull:7": 1.0},
        {"feed": 2},
        {"friction:duct": "text"},
        {"title": "x"},
    ],
)
def test_an_edit_of_nothing_is_refused(riser: Session, edit: dict[str, object]) -> None:
    with pytest.raises(InputError):
        apply_edits(riser.given, riser.machines, edit)  # type: ignore[arg-type]


def test_the_fields_read_back_what_they_show(riser: Session) -> None:
    """What stands in a field, entered again, is the same to the digits shown (6)."""
    for system in ("US", "SI"):
        for field in edit_fields(riser.given, riser.run):
            again = read_value(field.key, field.text(system), system)
            wanted = field.value
            close = pytest.approx(wanted, rel=1e-5) if isinstance(wanted, float) else wanted
            assert again == close, field.key


def test_bringing_back_the_value_of_the_file_is_no_edit(riser: Session) -> None:
    once = edited(riser, "friction:duct", "0.4", "US")
    assert list(once.edits) == ["friction:duct"]
    assert not edited(once, "friction:duct", "0.25", "US").edits
    assert not with_edits(once, {}).edits


def test_a_radius_that_does_not_fit_names_the_largest_that_does(riser: Session) -> None:
    with pytest.raises(GeometryError, match="largest radius that fits"):
        edited(riser, "bend:3", "900", "US")


def test_the_feed_end_can_be_asked_for(riser: Session) -> None:
    best = riser.result.best.pull.feed
    other = 0 if best else len(riser.given.route.vertices) - 1
    asked = solved(edited(riser, "feed", str(other), "US"))
    assert asked.shown.pull.feed == other
    assert asked.run == riser.run  # the run itself is the same
    assert edited(asked, "feed", "best", "US").feed is None


DROP = RISER.with_name("roof_drop.toml")  # its fast gear slows from 14 to 12 m/min at 10 kN


def test_a_speed_that_falls_with_load_is_scaled_as_a_whole_and_that_is_said() -> None:
    drop = open_session(DROP)
    slower = edited(drop, "speed:0", "6", "SI")
    assert slower.run.machine is not None
    gear = slower.run.machine.gears[0]
    assert gear.speed == pytest.approx(0.1)
    assert gear.speed_at(0.0) == pytest.approx(7 / 60) and gear.speed_at(10e3) == gear.speed
    field = next(f for f in edit_fields(drop.given, slower.run) if f.key == "speed:0")
    assert field.label == "Gear fast speed at rated pull"
    assert field.change("SI").endswith(
        "12.0 m/min → 6.0 m/min (its speeds at all loads scaled with it)"
    )


@pytest.mark.parametrize("order", [("line_pull:0", "speed:0"), ("speed:0", "line_pull:0")])
def test_rated_pull_and_speed_are_as_typed_whichever_came_first(order: tuple[str, str]) -> None:
    """5 kN halves the way to 12 m/min: 13; a typed speed is that at the new rated pull."""
    session, typed = open_session(DROP), {"line_pull:0": "5", "speed:0": "10"}
    only = edited(session, "line_pull:0", "5", "SI")
    assert only.run.machine is not None
    assert only.run.machine.gears[0].speed == pytest.approx(13 / 60)
    for key in order:
        session = edited(session, key, typed[key], "SI")
    assert session.run.machine is not None
    gear = session.run.machine.gears[0]
    assert (gear.line_pull, gear.speed) == (5000.0, pytest.approx(10 / 60))
    assert gear.speed_at(gear.line_pull) == pytest.approx(gear.speed)
