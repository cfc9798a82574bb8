"""What a well-formed model file becomes, and files that cannot be read at all."""

from __future__ import annotations

import math
import os
import time
from dataclasses import replace
from pathlib import Path

import pytest

import route3d
from route3d.errors import InputError
from route3d.geometry.fillet import sub_route
from route3d.mechanics.pull import solve_pull
from route3d.model import Practice, Route
from route3d.modelfile.read import LARGEST_FILE, load, loads
from route3d.modelfile.starter import starter

MODELS = Path(route3d.__file__).parents[1] / "models"
DEMOS = sorted(MODELS.glob("*.toml"))
FOOT, INCH, POUND = 0.3048, 0.0254, 4.4482216152605  # exact by definition (lbf rounded at 1e-14)


def demo(name: str) -> str:
    return (MODELS / f"{name}.toml").read_text(encoding="utf-8")


def test_there_are_four_demo_models() -> None:
    assert [p.stem for p in DEMOS] == ["mezzanine", "riser_duct_bank", "roof_drop", "yard_run"]


@pytest.mark.parametrize("path", DEMOS, ids=lambda p: p.stem)
def test_demo_models_load(path: Path) -> None:
    job = load(path)
    assert job.path == path
    assert job.title.startswith("Ferry terminal: ")


@pytest.mark.scale
@pytest.mark.parametrize("path", DEMOS, ids=lambda p: p.stem)
def test_a_demo_loads_in_40_ms(path: Path) -> None:
    load(path)  # imports and the unit registry are paid once
    best = math.inf
    for _ in range(5):
        start = time.perf_counter()
        load(path)
        best = min(best, time.perf_counter() - start)
    assert best < 0.040


def test_us_numbers_become_si() -> None:
    run = load(MODELS / "riser_duct_bank.toml").runs[0]
    cable, count = run.cables.items[0]
    assert count == 3
    assert cable.diameter == pytest.approx(1.387 * INCH, rel=1e-12)
    assert cable.weight == pytest.approx(1.795 * POUND / FOOT, rel=1e-12)
    assert cable.sidewall_limit == pytest.approx(500 * POUND / FOOT, rel=1e-12)
    assert cable.voltage == 15_000
    assert cable.shielded
    # NFPA 70 chapter 9 table 8, 350 kcmil: 177.35 mm2 is printed as 177 mm2
    assert cable.conductor.area == pytest.approx(177.35e-6, rel=1e-4)
    assert cable.conductor.size == "350 kcmil"
    assert run.rope is not None and run.machine is not None
    assert run.rope.rated_load == pytest.approx(9000 * POUND, rel=1e-12)
    assert run.machine.gears[1].speed == pytest.approx(14 * FOOT / 60, rel=1e-12)
    assert run.machine.envelope == pytest.approx([3.5 * FOOT, 2.5 * FOOT, 4.5 * FOOT], rel=1e-12)
    assert run.route.vertices[1].point == pytest.approx([180 * FOOT, 0, -6 * FOOT], rel=1e-12)
    assert run.route.vertices[1].bend == pytest.approx(48 * INCH, rel=1e-12)
    assert run.route.vertices[0].box == pytest.approx([120 * INCH, 72 * INCH, 84 * INCH], rel=1e-12)


def test_si_numbers_become_si() -> None:
    run = load(MODELS / "roof_drop.toml").runs[0]
    cable, _ = run.cables.items[0]
    assert cable.diameter == pytest.approx(0.038, rel=1e-12)
    assert cable.weight == pytest.approx(1.45 * 9.80665, rel=1e-12)
    assert cable.conductor.metal == "aluminium"
    assert run.route.vertices[1].bend == pytest.approx(1.2, rel=1e-12)
    assert run.rope is not None and run.rope.breaking_strength == 125_000
    assert run.route.conduits[0].source == "given"


def test_conduits_hold_from_their_vertex_onward() -> None:
    route = load(MODELS / "riser_duct_bank.toml").runs[0].route
    assert [c.name for c in route.conduits] == ["duct", "duct", "riser", "riser"]
    assert route.conduits[0].label == "PVC-40 5"
    # NFPA 70 chapter 9 table 4, PVC schedule 40, 5 in: inner diameter 5.016 in (from memory)
    assert route.conduits[0].inner_diameter == pytest.approx(5.016 * INCH, rel=1e-9)


def test_vertices_know_their_line() -> None:
    lines = demo("riser_duct_bank").splitlines()
    for vertex in load(MODELS / "riser_duct_bank.toml").runs[0].route.vertices:
        assert vertex.line is not None and lines[vertex.line - 1].lstrip().startswith("{ at =")


def test_pull_vaults_are_pull_points() -> None:
    route = load(MODELS / "yard_run.toml").runs[0].route
    assert [route.label(i) for i in route.pull_points] == ["pull vault V1", "pull vault V2"]


def test_a_pull_point_may_turn_without_a_bend() -> None:
    text = demo("yard_run").replace("at = [620, 420, -5]", "at = [620, 300, -5]")
    assert load_route(text).pull_points == (2, 4)


def load_route(text: str) -> Route:
    return loads(text).runs[0].route


def test_a_turn_without_bend_takes_the_standard_elbow_and_says_so() -> None:
    text = demo("yard_run").replace(', bend = "48 in"', "", 1)
    vertex = load_route(text).vertices[1]
    # UL 651 / NEMA TC-3 elbow of 5 in: 24 in (from memory)
    assert vertex.bend == pytest.approx(24 * INCH, rel=1e-12)
    assert vertex.bend_source == "standard elbow, PVC-40 5 (from memory)"
    assert load_route(text).vertices[3].bend_source == "given"


def test_a_turn_below_a_hundredth_of_a_degree_is_straight() -> None:
    text = demo("yard_run").replace(
        "[350, 200, -5], name", "[350, 100, -5] },\n  { at = [350, 200, -5], name"
    )
    assert load_route(text).vertices[2].bend == 0.0
    tilted = text.replace("[350, 100, -5]", "[350.01, 100, -5]")  # turns 0.0115 degrees
    assert load_route(tilted).vertices[2].bend > 0


@pytest.mark.parametrize(
    ("kind", "size", "doubtful"),
    [("PVC-40", "5", False), ("DB-60", "5", True), ("EN-BURIED", "160", True)],
)
def test_doubtful_stock_rows_are_marked(kind: str, size: str, doubtful: bool) -> None:
    """DB walls are estimates and EN-BURIED bores recalled with low confidence (their tables)."""
    text = (
        demo("yard_run").replace("PVC-40", kind).replace('trade_size = "5"', f'trade_size="{size}"')
    )
    conduit = load_route(text).conduits[0]
    assert conduit.doubtful is doubtful
    assert conduit.source != "given"
    assert bool(conduit.elbow_radius) is (kind == "PVC-40")


def test_a_given_bore_replaces_the_doubtful_one() -> None:
    text = demo("yard_run").replace('"PVC-40"', '"DB-60"\ninner_diameter = 5.2')
    conduit = load_route(text).conduits[0]
    assert (conduit.source, conduit.doubtful) == ("given", False)
    assert conduit.inner_diameter == pytest.approx(5.2 * INCH, rel=1e-12)


@pytest.mark.parametrize("metal", ["aluminum", "aluminium"])
def test_both_spellings_are_one_metal(metal: str) -> None:
    job = loads(demo("roof_drop").replace('"aluminum"', f'"{metal}"'), folder=MODELS)
    assert job.runs[0].cables.largest.conductor.metal == "aluminium"


def test_optional_parts_take_the_defaults_of_the_model() -> None:
    text = demo("roof_drop").replace('rope    = "line"', "").replace('machine = "winch"', "")
    text = text.replace('attach  = "pulling eyes"', "").replace("title", "# title")
    job = loads(text, "some/berth.toml", MODELS)
    run = job.runs[0]
    assert (run.rope, run.machine, run.reel_tension) == (None, None, None)
    assert (run.attach, run.arrangement) == ("pulling eyes", "auto")
    assert job.title == "berth"


def test_practice_and_reel_tension_are_read() -> None:
    text = demo("roof_drop").replace("[[run]]", '[[run]]\nreel_tension = "1.5 kN"')
    job = loads(text + 'bend_form = "capstan"\nrestart = 1.5\n', folder=MODELS)  # its last table
    assert job.runs[0].reel_tension == 1500
    assert (job.practice.method, job.practice.restart) == ("handbook", 1.5)


def test_meshes_are_found_beside_the_file(tmp_path: Path) -> None:
    (tmp_path / "hall.STL").write_bytes(b"solid")
    model = tmp_path / "m.toml"
    model.write_text(
        starter("US") + '\n[site]\ncontext = [{ file = "hall.STL", units = "ft" }]\n',
        encoding="utf-8",
    )
    assert load(model).site.context == ((tmp_path / "hall.STL").resolve(),)


def test_a_byte_order_mark_is_no_part_of_the_text(tmp_path: Path) -> None:
    model = tmp_path / "m.toml"
    model.write_bytes(b"\xef\xbb\xbf" + starter("SI").encode())
    assert load(model).units == "SI"


# --- files that cannot be read -----------------------------------------------------------------


def test_no_such_file(tmp_path: Path) -> None:
    with pytest.raises(InputError, match=r"none\.toml: no such file"):
        load(tmp_path / "none.toml")


def test_a_folder(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="is a folder"):
        load(tmp_path)


def test_a_device() -> None:
    with pytest.raises(InputError, match="is not a regular file"):
        load("/dev/zero")


@pytest.mark.parametrize("name", ["a\0b", "x" * 5000])
def test_an_impossible_name(name: str) -> None:
    with pytest.raises(InputError):
        load(name)


def test_an_unreadable_file(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    model = tmp_path / "m.toml"
    model.write_text("")

    def refuse(self: Path) -> bytes:  # root may read everything, so the refusal is played
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr(Path, "read_bytes", refuse)
    with pytest.raises(InputError, match="cannot be read: permission denied"):
        load(model)


def test_a_huge_file(tmp_path: Path) -> None:
    model = tmp_path / "m.toml"
    model.touch()
    os.truncate(model, LARGEST_FILE + 1)
    with pytest.raises(InputError, match=r"is too large: 5\.0 MB, the maximum is 5 MB"):
        load(model)


def test_not_utf8_names_the_line(tmp_path: Path) -> None:
    model = tmp_path / "m.toml"
    model.write_bytes(b'title = "x"\nunits = "\xff"\n')
    with pytest.raises(InputError) as caught:
        load(model)
    (problem,) = caught.value.problems
    assert (problem.file, problem.line) == (str(model), 2)
    assert "not UTF-8" in problem.message


def test_a_syntax_error_names_file_and_line(tmp_path: Path) -> None:
    model = tmp_path / "m.toml"
    model.write_text("a = 1\nb = \n")
    with pytest.raises(InputError, match=r"m\.toml:2: not TOML: "):
        load(model)


# --- what the demo models are there to show ----------------------------------------------------


def peaks(name: str, first: int, last: int) -> list[tuple[float, float]]:
    """Brake N and peak sidewall over its limit, in both directions of a part of a demo."""
    run = load(MODELS / f"{name}.toml").runs[0]
    part = replace(run, route=sub_route(run.route, first, last))
    pulls = [solve_pull(part, Practice(), reverse=reverse) for reverse in (False, True)]
    limit = run.cables.largest.sidewall_limit
    return [(pull.brake, pull.peak_sidewall / limit) for pull in pulls]


def test_the_riser_is_legal_from_the_roof() -> None:
    assert all(sidewall < 1 for _, sidewall in peaks("riser_duct_bank", 0, 4))


def test_the_roof_drop_needs_a_brake() -> None:
    assert peaks("roof_drop", 0, 4)[0][0] > 100


def test_the_yard_run_breaks_the_limit_only_in_one_pull() -> None:
    assert all(sidewall > 1 for _, sidewall in peaks("yard_run", 0, 6))
    for first in (0, 2, 4):
        assert all(sidewall < 1 for _, sidewall in peaks("yard_run", first, first + 2))
