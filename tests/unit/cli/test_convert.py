"""``route3d convert`` from outside: what it reads, writes and says."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest

import route3d
from route3d.geometry.fillet import route_path
from route3d.modelfile.read import load
from route3d.units import show
from tests.corpus import ifc_files

MODELS = Path(route3d.__file__).parents[1] / "models"
YARD, BANK = MODELS / "yard_run.toml", MODELS / "riser_duct_bank.toml"
SURVEY = """Point,Easting (ft),Northing (ft),Level (ft),R (in),remark
V1,0,0,-5,,lid seized
,180,0,-5,48,
,180,95,-5,48,
,180,95,42,48,
roof,195,95,42,,
"""
Call = Callable[..., tuple[int, str, str]]


@pytest.fixture
def survey(tmp_path: Path) -> Path:
    file = tmp_path / "survey.csv"
    file.write_text(SURVEY)
    return file


def test_help_teaches_by_examples(call: Call) -> None:
    code, out, _ = call("--help")
    text = " ".join(out.replace("│", " ").split())
    assert code == 0
    assert "Example: route3d convert survey.csv feeder.toml" in text
    for option in ("--units", "--map", "--origin", "--layer", "--class", "--run", "--like",
                   "--tolerance", "--keep-facets", "--bend"):  # fmt: skip
        assert option in text


def test_a_survey_becomes_a_model_and_the_report_says_how(
    call: Call, survey: Path, tmp_path: Path
) -> None:
    code, out, err = call(survey, tmp_path / "f.toml", "--like", BANK)
    assert code == 0, err
    assert err == f"wrote {tmp_path / 'f.toml'}\n"
    lines = out.splitlines()
    assert lines[0].startswith("survey: ")
    assert lines[0].endswith("5 points, 3 bends")
    assert lines[1] == "used:"
    ignored = lines[lines.index("ignored:") + 1 : lines.index("guessed:")]
    assert ignored == [
        "  column 'remark'",
        "  the duct bank of 'F1': no run with that name",
    ]
    assert lines[lines.index("guessed:") + 1].startswith("  survey: cables, rope, machine")
    bends = [v.bend for v in load(tmp_path / "f.toml").runs[0].route.vertices]
    assert bends == pytest.approx([0, 1.2192, 1.2192, 1.2192, 0])


def test_nothing_ignored_and_nothing_guessed_is_said(call: Call, tmp_path: Path) -> None:
    call(YARD, tmp_path / "y.csv")
    _, out, _ = call(tmp_path / "y.csv", tmp_path / "z.geojson")
    assert out.splitlines()[-2:] == ["ignored: nothing", "guessed: nothing"]


def test_out_is_in_the_units_of_in_or_those_asked_for(call: Call, tmp_path: Path) -> None:
    call(YARD, tmp_path / "a.csv")
    call(YARD, tmp_path / "b.csv", "--out-units", "si")
    assert "x (ft)" in (tmp_path / "a.csv").read_text()
    assert "x (m)" in (tmp_path / "b.csv").read_text()


def test_a_survey_in_feet_makes_a_model_in_feet(call: Call, tmp_path: Path) -> None:
    file = tmp_path / "s.csv"
    file.write_text("x (ft),y (ft),z (ft)\n0,0,0\n40,0,0\n90,0,0\n")
    for target in ("a.toml", "a.dxf", "a.ifc"):
        call(file, tmp_path / target)
    assert load(tmp_path / "a.toml").units == "US"
    for source in ("a.dxf", "a.ifc"):
        call(tmp_path / source, tmp_path / f"{source}.toml")
        assert load(tmp_path / f"{source}.toml").units == "US"


def test_a_model_to_a_model_keeps_all_of_it_but_runs_not_asked_for(
    call: Call, tmp_path: Path
) -> None:
    code, _, err = call(BANK, tmp_path / "again.toml")
    assert code == 0, err
    before, after = load(BANK), load(tmp_path / "again.toml")
    assert (after.title, after.units, after.banks) == (before.title, before.units, before.banks)
    assert after.runs[0].cables == before.runs[0].cables
    assert after.runs[0].machine == before.runs[0].machine
    code, _, err = call(BANK, tmp_path / "si.toml", "--out-units", "SI")
    assert code == 2 and "SI requested" in err and "US" in err
    assert not (tmp_path / "si.toml").exists()


def test_what_a_file_of_routes_does_not_hold_of_a_model_is_said(call: Call, tmp_path: Path) -> None:
    _, out, _ = call(BANK, tmp_path / "o.csv")
    assert "the duct bank of 'F1'" in out and "cables, equipment, practice and plan" in out
    _, out, _ = call(MODELS / "roof_drop.toml", tmp_path / "r.dxf")
    assert "1 building mesh" in out


def test_the_report_counts_the_elbows_that_the_model_takes(call: Call, tmp_path: Path) -> None:
    file = tmp_path / "s.csv"
    file.write_text("x (ft),y,z\n0,0,0\n40,0,0\n40,30,0\n")
    _, out, _ = call(file, tmp_path / "s.toml", "--like", BANK)
    (run,) = load(tmp_path / "s.toml").runs
    assert "1 bend\n" in out
    assert f"s: {show(route_path(run.route).length, 'length', 'US')}, 3 points" in out


def test_far_coordinates_are_brought_near_in_their_own_unit_and_the_file_says_so(
    call: Call, tmp_path: Path
) -> None:
    file = tmp_path / "s.csv"
    file.write_text("x (ft),y (ft),z (ft)\n1250010,600,12\n1250050,600,12\n1250090,610,12\n")
    _, out, _ = call(file, tmp_path / "s.toml", "--bend", "48 in")
    assert "x 1250000 ft subtracted from all" in out
    text = (tmp_path / "s.toml").read_text()
    assert "# x 1250000 ft subtracted from all coordinates of s.csv\n[[run]]" in text
    assert "at = [10, 600, 12]" in text


def test_a_grid_is_kept_where_no_origin_is_asked_for(call: Call, tmp_path: Path) -> None:
    file = tmp_path / "s.csv"
    file.write_text("x (m),y (m),z (m)\n500010,4649000,12\n500050,4649000,12\n")
    _, out, _ = call(file, tmp_path / "o.csv", "--origin", "0,0,0")
    assert "subtracted" not in out
    assert "500010,4649000,12" in (tmp_path / "o.csv").read_text()


@pytest.mark.parametrize("kind", ["csv", "geojson", "toml"])
def test_layers_of_a_file_without_any_are_refused(call: Call, tmp_path: Path, kind: str) -> None:
    call(YARD, tmp_path / f"y.{kind}")
    code, _, err = call(tmp_path / f"y.{kind}", tmp_path / "o.dxf", "--layer", "NOPE")
    assert code == 2 and "has no layers, but 'NOPE' was requested" in err
    code, _, err = call(tmp_path / f"y.{kind}", tmp_path / "o.dxf", "--class", "IfcPipeSegment")
    assert code == 2 and "has no classes, but 'IfcPipeSegment' was requested" in err


def test_columns_units_origin_and_bend_come_from_options(call: Call, tmp_path: Path) -> None:
    file = tmp_path / "s.csv"
    file.write_text("a,b,c,x,y,z\n1000,2000,1,9,9,9\n1040,2000,1,9,9,9\n1040,2030,1,9,9,9\n")
    options = ("--map", "x=a,y=b,z=c", "--units", "m", "--origin", "1000,2000,0", "--bend", "1.2 m")
    code, out, err = call(file, tmp_path / "s.toml", *options)
    assert code == 0, err
    vertices = load(tmp_path / "s.toml").runs[0].route.vertices
    assert [v.point for v in vertices] == [(0, 0, 1), (40, 0, 1), (40, 30, 1)]
    assert vertices[1].bend == pytest.approx(1.2)
    assert "without a radius" not in out


def test_turns_without_radius_become_standard_elbows_of_a_model(call: Call, tmp_path: Path) -> None:
    file = tmp_path / "s.csv"
    file.write_text("x (m),y,z\n0,0,0\n40,0,0\n40,30,0\n")
    code, out, err = call(file, tmp_path / "s.toml")
    assert code == 0, err
    assert "1 turn without a radius, first at point 2: take the standard elbow" in out
    assert load(tmp_path / "s.toml").runs[0].route.vertices[1].bend > 0
    _, out, _ = call(file, tmp_path / "s.xlsx")
    assert "kept as sharp corners" in out


def test_runs_are_chosen_by_name(call: Call, tmp_path: Path) -> None:
    file = tmp_path / "s.csv"
    file.write_text("run,x (m),y,z\nF1,0,0,0\nF1,9,0,0\nF2,0,1,0\nF2,9,1,0\n")
    code, out, _ = call(file, tmp_path / "o.csv", "--run", "F2")
    assert code == 0
    assert "  run 'F1', not asked for" in out
    assert "F1" not in (tmp_path / "o.csv").read_text()
    code, _, err = call(file, tmp_path / "o.csv", "--run", "F3")
    assert code == 2
    assert "no run is named 'F3'" in err


@pytest.mark.parametrize(
    ("options", "said"),
    [
        (("--map", "Easting=x"), "maps no column"),
        (("--map", "x=a,x=b"), "x is mapped twice"),
        (("--origin", "1,2"), "is no origin"),
        (("--origin", "1,2,nan"), "is no origin"),
        (("--tolerance", "5"), "has no unit"),
        (("--tolerance", "-5 mm"), "enter one above 0"),
        (("--bend", "0 m"), "enter one above 0"),
        (("--units", "furlong"), "furlong"),
        (("--like", str(YARD)), "is for writing model files"),
    ],
)
def test_options_that_make_no_sense_are_bad_input(
    call: Call, survey: Path, tmp_path: Path, options: tuple[str, ...], said: str
) -> None:
    code, _, err = call(survey, tmp_path / "o.csv", *options)
    assert code == 2
    assert said in err
    assert not (tmp_path / "o.csv").exists()


@pytest.mark.parametrize(("source", "target"), [("a.dwg", "o.csv"), ("survey.csv", "o.pdf")])
def test_unknown_endings_are_bad_input(
    call: Call, survey: Path, tmp_path: Path, source: str, target: str
) -> None:
    code, _, err = call(tmp_path / source, tmp_path / target)
    assert code == 2
    assert "known are .csv" in err


def test_a_name_cannot_drive_the_terminal(call: Call, tmp_path: Path) -> None:
    file = tmp_path / "s.csv"
    file.write_text("run,x (m),y,z\n\x1b[2Jboo,0,0,0\n\x1b[2Jboo,9,0,0\n")
    _, out, _ = call(file, tmp_path / "o.csv")
    assert "\x1b" not in out


def test_the_survey_of_the_help(call: Call, tmp_path: Path) -> None:
    """The worked example of ``--help``, word for word."""
    (tmp_path / "survey.csv").write_text(
        "Point,Northing,Easting,Elev\n1,200.0,1000.5,14.25\n2,200.0,1130.5,14.25\n"
    )
    _, text, _ = call("--help")
    shown = " ".join(text.replace("│", " ").split())
    example = "convert survey.csv feeder.toml --map x=Easting,y=Northing,z=Elev --units ft"
    assert example in shown
    _, source, target, *options = example.split()
    code, _, err = call(tmp_path / source, tmp_path / target, *options)
    assert code == 0, err
    ends = [v.point for v in load(tmp_path / target).runs[0].route.vertices]
    assert ends[1][0] - ends[0][0] == pytest.approx(130 * 0.3048)
    assert ends[1][2] == pytest.approx(14.25 * 0.3048)


def test_a_german_survey(call: Call, tmp_path: Path) -> None:
    (tmp_path / "aufmass.csv").write_text(
        "Punkt;Rechtswert;Hochwert;Höhe\n1;3567123,25;5932481,1;4,37\n2;3567163,25;5932481,1;4,37\n",
        encoding="utf-8",
    )
    words = ("--map", "x=Rechtswert,y=Hochwert,z=Höhe", "--units", "m")
    code, out, err = call(tmp_path / "aufmass.csv", tmp_path / "feeder.toml", *words)
    assert code == 0, err
    assert "commas in numbers read as decimal: '3567123,25' in row 2 is 3567123.25" in out
    vertices = load(tmp_path / "feeder.toml").runs[0].route.vertices
    assert vertices[1].point == (163.25, 481.1, 4.37)


def test_conduits_and_boxes_go_out_and_come_back(call: Call, tmp_path: Path) -> None:
    for suffix in (".csv", ".xlsx", ".geojson", ".dxf", ".ifc", ".xml"):
        call(BANK, tmp_path / f"a{suffix}")
        code, out, err = call(tmp_path / f"a{suffix}", tmp_path / f"a{suffix}.toml", "--like", BANK)
        assert code == 0, err
        was, now = (load(p).runs[0].route for p in (BANK, tmp_path / f"a{suffix}.toml"))
        assert now.conduits == was.conduits
        assert [v.box for v in now.vertices] == [
            v.box and pytest.approx(v.box, abs=1e-9) for v in was.vertices
        ]
    _, out, _ = call(BANK, tmp_path / "a.stl")
    assert "1 pull box (not supported by STL)" in out


# --- element by element --------------------------------------------------------------------------


def ten_runs(file: Path) -> None:
    """Ten runs with an elbow each; in the sixth one leg is too short for any elbow."""
    rows = [
        f"F{k},{x},{y + 20 * k},0"
        for k in range(1, 11)
        for x, y in ((0, 0), (20, 0), (20, 0.1 if k == 6 else 9))
    ]
    file.write_text("run,x (m),y,z\n" + "\n".join(rows) + "\n")


def test_a_corner_that_no_bend_fits_costs_no_other_run(call: Call, tmp_path: Path) -> None:
    ten_runs(tmp_path / "s.csv")
    code, out, err = call(tmp_path / "s.csv", tmp_path / "s.toml")
    assert code == 1
    assert err == f"wrote {tmp_path / 's.toml'}\n"
    runs = [run.name for run in load(tmp_path / "s.toml").runs]
    others = [f"F{k}" for k in range(1, 11) if k != 6]
    assert sorted(runs) == sorted([*others, "F6 part 1 of 2", "F6 part 2 of 2"])
    assert "elements: 1 sharp, 9 guessed" in out
    row = next(line for line in out.splitlines() if line.startswith("  sharp"))
    assert row.split()[:5] == ["sharp", "corner", "point", "2", "F6"]
    assert "20.000, 120.000, 0.000" in row and "no bend fits" in row


def test_a_radius_that_does_not_fit_leaves_the_corner_sharp(call: Call, tmp_path: Path) -> None:
    ten_runs(tmp_path / "s.csv")
    code, out, _ = call(tmp_path / "s.csv", tmp_path / "s.dxf", "--bend", "1 m")
    assert code == 1
    assert "elements: 1 sharp\n" in out and "maximum radius that fits at point 2 is 0." in out
    code, out, _ = call(tmp_path / "s.dxf", tmp_path / "again.csv", "--run", "F5")
    assert code == 0 and "elements" not in out
    assert "F5: 28.57 m, 3 points, 1 bend" in out  # 29 - 2 + pi / 2


def test_a_survey_of_corners_is_written_and_ends_with_1(call: Call, tmp_path: Path) -> None:
    """Every corner in the file, the first forty on the terminal; a name runs in no spreadsheet."""
    zigzag = "".join(f"{5 * k},{4 * (k % 2)},0,{'=1+1' if k == 3 else ''}\n" for k in range(50))
    (tmp_path / "s.csv").write_text("x (ft),y (ft),z (ft),name\n" + zigzag)
    code, out, err = call(tmp_path / "s.csv", tmp_path / "s.dxf")
    assert code == 1
    assert f"wrote {tmp_path / 's.dxf'}" in err and (tmp_path / "s.dxf").exists()
    assert "elements: 48 sharp\n" in out
    assert "  and 8 more; --elements FILE.csv writes all\n" in out
    code, out, _ = call(
        tmp_path / "s.csv", tmp_path / "s.geojson", "--origin", "0,0,0",
        "--elements", tmp_path / "e.csv",
    )  # fmt: skip
    assert code == 1
    rows = (tmp_path / "e.csv").read_text().splitlines()
    assert rows[0] == "state,handle,kind,name,run,x (ft),y (ft),z (ft),reason"
    assert rows[3] == "sharp,,corner,'=1+1,s,15.0000,4.0000,0.0000,turns without a radius"
    assert len(rows) == 49
    code, _, err = call(tmp_path / "s.csv", tmp_path / "s.dxf", "--elements", tmp_path / "e.txt")
    assert code == 2 and "must end in .csv" in err


def test_hidden_layers_are_read_on_request(call: Call, tmp_path: Path) -> None:
    import ezdxf

    doc = ezdxf.new("R2010")
    doc.header["$INSUNITS"] = 6
    for y, name in enumerate(("F1", "F2")):
        doc.layers.add(name)
        doc.modelspace().add_line((0, y), (9, y), dxfattribs={"layer": name})
    doc.layers.get("F2").off()
    doc.saveas(tmp_path / "a.dxf")
    code, out, _ = call(tmp_path / "a.dxf", tmp_path / "a.csv")
    assert code == 0
    assert "layer F2 (off): 1 entity; --all-layers reads them" in out and "F2:" not in out
    _, out, _ = call(tmp_path / "a.dxf", tmp_path / "a.csv", "--all-layers")
    assert "F2: 9.00 m" in out


def test_elements_of_a_building_model_are_chosen_by_class(call: Call, tmp_path: Path) -> None:
    case = next(c for c in ifc_files.CASES if c.name == "classes all")
    file, made = tmp_path / "plant.ifc", tmp_path / "o.csv"
    case.write(file)
    code, out, _ = call(file, made, "--class", "conduitsegment")
    assert code == 0 and "mixed: 6.57 m, 3 points, 1 bend" in out
    assert "to choose from: 1 IfcCableCarrierSegment CONDUITSEGMENT" in out
    code, _, err = call(file, made, "--class", "IfcDuctSegment")
    assert code == 2 and "has no IfcDuctSegment" in err and "1 IfcPipeSegment" in err


def test_a_plate_alone_is_refused_by_its_name(call: Call, tmp_path: Path) -> None:
    file = tmp_path / "plate.ifc"
    ifc_files.written(ifc_files.PLAIN, ifc_files.deck_plate)(file)
    code, out, err = call(file, tmp_path / "o.csv")
    assert code == 2 and out == ""
    assert "no axis: a plate of 7 x 7 x 0.1 m (IfcCableCarrierSegment deck plate)" in err


def test_one_bad_corner_of_ten_runs_costs_no_other(call: Call, tmp_path: Path) -> None:
    case = next(c for c in ifc_files.CASES if c.name == "one corner that no radius fits")
    file, made = tmp_path / "plant.ifc", tmp_path / "o.toml"
    case.write(file)
    code, out, err = call(file, made)
    assert code == 1 and "1 sharp" in out and "Traceback" not in err
    assert len(load(made).runs) == 11  # the run of the corner goes on as its second part


def test_a_winding_survey_is_one_run(call: Call, tmp_path: Path) -> None:
    """At its inflections it is nearly straight, with arcs of more than a kilometer."""
    x = np.arange(0, 400, 0.5)
    rows = np.column_stack((x, 20 * np.sin(x * np.pi / 100), 2 * np.sin(x * np.pi / 250)))
    np.savetxt(tmp_path / "s.csv", rows, "%.4f", ",", header="x (m),y (m),z (m)", comments="")
    code, out, err = call(tmp_path / "s.csv", tmp_path / "s.toml")
    assert code == 0, err
    assert "elements" not in out and "part" not in out
    (run,) = load(tmp_path / "s.toml").runs
    assert max(v.bend for v in run.route.vertices) > 1000
    assert [bool(v.access) for v in run.route.vertices].count(True) == 2


def test_a_walk_with_a_receiver_is_told_to_scatter(call: Call, tmp_path: Path) -> None:
    off = np.random.default_rng(4).normal(0, (0.02, 0.02, 0.04), (200, 3))
    s = np.arange(200) * 0.5
    rows = np.column_stack((np.minimum(s, 50), np.maximum(s - 50, 0), 0 * s)) + off
    np.savetxt(tmp_path / "s.csv", rows, "%.3f", ",", header="x (m),y (m),z (m)", comments="")
    code, out, _ = call(tmp_path / "s.csv", tmp_path / "s.toml")
    first = out.splitlines()[out.splitlines().index("guessed:") + 1]
    assert code == 1 and first.startswith("  s: points scatter by about ")
    limit = first.partition("--tolerance ")[2]
    code, out, _ = call(tmp_path / "s.csv", tmp_path / "o.toml", "--tolerance", limit)
    assert code == 0 and "s: 200 points that scatter by about " in out
    corner = load(tmp_path / "o.toml").runs[0].route.vertices[1].point
    assert len(load(tmp_path / "o.toml").runs[0].route.vertices) == 3
    assert corner == pytest.approx((50, 0, 0), abs=0.02)


def test_corners_that_take_an_elbow_are_guessed_in_every_format(call: Call, tmp_path: Path) -> None:
    (tmp_path / "s.csv").write_text("x (m),y (m),z (m)\n0,0,0\n9,0,0\n9,9,0\n")
    for suffix in ("csv", "dxf", "ifc", "geojson", "xml"):
        file = tmp_path / f"s.{suffix}"
        if suffix != "csv":
            call(tmp_path / "s.csv", file)
        code, out, err = call(file, tmp_path / f"{suffix}.toml")
        assert code == 0, (suffix, out, err)
        assert "elements: 1 guessed" in out and "takes the standard elbow" in out, suffix


def test_parts_of_a_run_meet_at_a_named_break(call: Call, tmp_path: Path) -> None:
    (tmp_path / "s.csv").write_text("x (m),y (m),z (m)\n0,0,0\n9,0,0\n9,0.06,0\n0,0.06,0\n")
    code, out, _ = call(tmp_path / "s.csv", tmp_path / "s.toml")
    assert code == 1
    runs = load(tmp_path / "s.toml").runs
    ends = [(r.route.vertices[0].name, r.route.vertices[-1].name) for r in runs]
    assert ends == [("", "break 1"), ("break 1", "break 2"), ("break 2", "")]
    lines = [line for line in out.splitlines() if "reel and machine access assumed" in line]
    assert len(lines) == 1  # one line for the file
    rows = [line for line in out.splitlines() if line.startswith("  sharp")]
    assert "the bend at point 3 needs" in rows[1] and "of straight to break 1" in rows[1]
    assert "goes on as its next part from break 2" in rows[1]
