"""Imported routes as model files that load."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

import route3d
from route3d.errors import InputError
from route3d.formats.exchange import ExchangeRoute, routes_of
from route3d.modelfile.read import load, loads
from route3d.modelfile.starter import starter
from route3d.modelfile.write import model_text, write_model

MODELS = Path(route3d.__file__).parents[1] / "models"
BANK, ROOF, YARD = (MODELS / f"{n}.toml" for n in ("riser_duct_bank", "roof_drop", "yard_run"))


def route(name: str = "F7", **more: object) -> ExchangeRoute:
    points = np.array([[0, 0, -1.5], [40, 0, -1.5], [40, 30, -1.5]])
    return ExchangeRoute(name, points, np.array([0, 1.2, 0]), **more)  # type: ignore[arg-type]


@pytest.mark.parametrize("system", ["US", "SI"])
def test_a_model_from_the_starter_loads_and_has_the_route(tmp_path: Path, system: str) -> None:
    made = write_model([route()], tmp_path / "a.toml", system=system, title='Berth "2"')
    job = load(tmp_path / "a.toml")
    assert (job.title, job.units) == ('Berth "2"', system)
    (run,) = job.runs
    assert run.name == "F7"
    assert run.route.vertices[1].point == pytest.approx((40, 0, -1.5), abs=1e-9)
    assert run.route.vertices[1].bend == pytest.approx(1.2, abs=1e-9)
    assert run.route.vertices[0].access == {"reel", "machine"}
    assert "invented" in made.guessed[0] and "--like" in made.guessed[0]
    assert made.guessed[1:] == (
        "F7: cables, rope, machine and other data copied from run 'F1' (3 x phase)",
        "F7: conduit 'duct' for the whole route",
        "F7: reel and machine access assumed at both ends",
    )
    assert made.ignored == ("the duct bank of 'F1': no run with that name",)


def test_all_but_the_runs_stays_as_it_was_comments_too(tmp_path: Path) -> None:
    write_model([route()], tmp_path / "a.toml", like=BANK)
    old, new = BANK.read_text().splitlines(), (tmp_path / "a.toml").read_text().splitlines()
    first = old.index("[[run]]")
    assert [x for x in new if x][: first // 2] == [x for x in old if x][: first // 2]
    assert (
        "[[site.room]]                          # the vault, on the plan grid of the route" in new
    )
    assert new.count("[[run]]") == 1
    assert "[[bank]]" not in new


def test_a_run_of_the_same_name_keeps_its_settings_and_its_bank(tmp_path: Path) -> None:
    made = write_model([route("F1"), route("F2")], tmp_path / "a.toml", like=BANK)
    job = load(tmp_path / "a.toml")
    assert [r.name for r in job.runs] == ["F1", "F2"]
    assert job.runs[0].rigging == load(BANK).runs[0].rigging
    assert len(job.banks) == 1
    assert not any(g.startswith("F1: cables") for g in made.guessed)


def test_splices_at_points_that_are_gone_are_told(tmp_path: Path) -> None:
    made = write_model([route()], tmp_path / "a.toml", like=YARD)
    assert made.ignored == ("F7: splices allowed at 'pull vault V2'",)


def test_meshes_are_found_from_another_folder(tmp_path: Path) -> None:
    write_model([route()], tmp_path / "a.toml", like=ROOF)
    assert load(tmp_path / "a.toml").site.context[0].samefile(load(ROOF).site.context[0])


@pytest.mark.parametrize(
    ("old", "new"),
    [
        ("cables = { phase = 3 }", "cables.phase = 3"),
        ('title = "Ferry', "title = 'Ferry"),
        ("[cable.phase]", "  [ cable . 'phase' ]   # odd"),
        ("[practice]", "[ practice ]"),
    ],
)
def test_other_ways_to_write_a_model_do_too(old: str, new: str) -> None:
    base = starter("SI")
    assert old in base
    text = base.replace(old, new).replace(
        'feeder"\n', "feeder'\n" if "'Ferry" in new else 'feeder"\n'
    )
    loads(text)
    assert loads(model_text([route()], text, title="T").text).runs[0].name == "F7"


def test_run_settings_in_tables_of_their_own_come_along() -> None:
    base = starter("SI").replace("cables = { phase = 3 } # number of each cable type\n", "")
    base = base.replace("# --- Duct bank (optional)", "[run.cables]\nphase = 2\n# ---", 1)
    assert loads(base).runs[0].cables.count == 2
    made = model_text([route(), route("F8")], base).text
    assert [r.cables.count for r in loads(made).runs] == [2, 2]


def test_odd_names_are_quoted(tmp_path: Path) -> None:
    odd = route('a "b" \\ Ω', names=('v "1"', "", "#"))
    write_model([odd], tmp_path / "a.toml")
    job = load(tmp_path / "a.toml")
    assert job.runs[0].name == 'a "b" \\ Ω'
    assert job.runs[0].route.vertices[0].name == 'v "1"'


def test_a_turn_without_radius_or_elbow_says_what_to_give(tmp_path: Path) -> None:
    sharp = ExchangeRoute("F7", route().points, np.zeros(3), conduit="riser")
    made = write_model([sharp], tmp_path / "a.toml", system="SI")
    assert {e.state for e in made.elements} == {"sharp"}
    assert "without a bend radius" in made.elements[0].said
    assert "use --bend RADIUS for these turns" in made.elements[0].said
    count = len(made.elements) + 1
    parts = [f"F7 part {k} of {count}" for k in range(1, count + 1)]
    assert [run.name for run in load(tmp_path / "a.toml").runs] == parts


def test_a_model_is_not_written_over(tmp_path: Path) -> None:
    write_model([route()], tmp_path / "a.toml")
    with pytest.raises(InputError, match="already exists and may be a model file"):
        write_model([route()], tmp_path / "a.toml")


def test_what_is_wrong_with_the_other_model_is_told_at_its_lines(tmp_path: Path) -> None:
    bad = tmp_path / "bad.toml"
    bad.write_text(starter("SI").replace("friction = 0.25", "friction = 25"))
    with pytest.raises(InputError, match=r"bad\.toml:\d+"):
        write_model([route()], tmp_path / "a.toml", like=bad)


def test_more_points_than_a_model_holds_are_refused(tmp_path: Path) -> None:
    many = np.column_stack((np.arange(20_001.0), np.zeros(20_001), np.zeros(20_001)))
    with pytest.raises(InputError, match="20,001 points; the maximum of a model file is 20,000"):
        write_model([ExchangeRoute("a", many, np.zeros(20_001))], tmp_path / "a.toml")


def test_boxes_and_changes_of_conduit_come_back_with_the_model_they_were_in(tmp_path: Path) -> None:
    """Where a file says nothing of them, the model given with --like does, at the same points."""
    for name in ("riser_duct_bank", "yard_run"):
        source = MODELS / f"{name}.toml"
        job = load(source)
        bare = [replace(r, changes=(), boxes=()) for r in routes_of(job)]
        write_model(bare, tmp_path / f"{name}.toml", like=source)
        was, now = job.runs[0].route, load(tmp_path / f"{name}.toml").runs[0].route
        assert [v.box for v in now.vertices] == [v.box for v in was.vertices]
        assert now.conduits == was.conduits


def test_boxes_and_conduits_of_the_route_go_before_those_of_the_model(tmp_path: Path) -> None:
    """The route as it came: other conduits and boxes than the model has at those points."""
    (was,) = routes_of(load(BANK))
    boxes = ((1.2, 0.6, 0.9), *was.boxes[1:-1], (1.0, 1.0, 1.0))
    moved = replace(was, changes=("", "riser", "duct", "attic", ""), boxes=boxes)
    made = write_model([moved], tmp_path / "a.toml", like=BANK)
    now = load(tmp_path / "a.toml").runs[0].route
    assert [c.name for c in now.conduits] == ["duct", "riser", "duct", "duct"]
    assert now.vertices[0].box == pytest.approx((1.2, 0.6, 0.9))
    assert now.vertices[-1].box == pytest.approx((1.0, 1.0, 1.0))
    assert made.ignored == ("F1: conduit 'attic' from point 4: not in the model",)


def test_a_box_where_no_box_can_be_is_told(tmp_path: Path) -> None:
    boxed = route(boxes=(None, (1.0, 1.0, 1.0), None))
    made = write_model([boxed], tmp_path / "a.toml")
    assert "F7: the box at point 2, which is not a pull point" in made.ignored


def test_the_diameter_of_bodies_chooses_the_conduit_or_is_told(tmp_path: Path) -> None:
    """Trade size 5 is 141.3 mm outside in both kinds (ASTM D1785, ANSI C80.1: 5.563 in)."""
    made = write_model([route(outer_diameter=0.1)], tmp_path / "a.toml", like=BANK)
    told = "F7: bodies 3.94 in; conduit 'duct' (5.56 in outside, "
    assert any(text.startswith(told) for text in made.guessed), made.guessed
    assert any("no conduit of the model has that diameter" in text for text in made.guessed)
    inner = {c.name: c.inner_diameter for c in load(BANK).runs[0].route.conduits}
    assert abs(inner["riser"] - inner["duct"]) > 1e-3
    made = write_model([route(outer_diameter=inner["riser"])], tmp_path / "b.toml", like=BANK)
    assert {c.name for c in load(tmp_path / "b.toml").runs[0].route.conduits} == {"riser"}
    made = write_model([route(outer_diameter=5.563 * 0.0254)], tmp_path / "c.toml", like=BANK)
    assert any("'duct', 'riser' have that diameter" in text for text in made.guessed)
