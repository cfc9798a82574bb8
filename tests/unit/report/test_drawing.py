"""Plan and profile sheets: true to scale, inside the frame, nothing over anything else."""

from __future__ import annotations

import json
import math
import re
from dataclasses import replace
from importlib import resources
from io import BytesIO
from itertools import pairwise
from pathlib import Path
from xml.etree import ElementTree

import numpy as np
import pytest
from hypothesis import HealthCheck, assume, given, settings
from hypothesis import strategies as st
from pypdf import PdfReader

from route3d.drawing.marks import Line
from route3d.drawing.plan_profile.layout import PAPERS, Scale, round_scales
from route3d.drawing.plan_profile.sheets import run_sheets, sheet_svg, sheets_pdf
from route3d.errors import InputError
from route3d.formats.catalog import read_routes, write_routes
from route3d.formats.exchange import ReadOptions, routes_of
from route3d.modelfile.read import load, loads
from tests.support.jobs import BOTH, along, at, conduit, lay, run
from tests.support.routes import Go, Turn, vertices
from tests.support.sheets import (
    DEMOS,
    MODELS,
    assert_clean,
    assert_complete,
    assert_labeled,
    demo,
    drawn,
    job_of,
    lines_of,
    straight,
    words_of,
)

ROUNDING = 0.005  # coordinates in SVG have two decimals, mm


# --- scale ---------------------------------------------------------------------------------------


@pytest.mark.parametrize("ratio", [50, 100, 200, 250])
def test_ten_meters_measure_ten_meters_over_the_scale(ratio: float) -> None:
    (sheet,) = drawn(straight(10.0), "a3", scale=ratio)
    for layer in ("CENTERLINE", "PROFILE"):
        (line,) = lines_of(sheet, layer)
        assert np.ptp(line.points[:, 0]) == pytest.approx(10_000 / ratio, abs=1e-9)
        assert np.ptp(line.points[:, 1]) == pytest.approx(0, abs=1e-9)
    root = ElementTree.fromstring(sheet_svg(sheet))
    assert root.attrib["viewBox"] == "0 0 420 297"
    assert (root.attrib["width"], root.attrib["height"]) == ("420mm", "297mm")
    thick = [e for e in root if e.attrib.get("stroke-width") == "0.7" and "points" in e.attrib]
    widths = []
    for element in thick:
        x = [float(p.split(",")[0]) for p in element.attrib["points"].split()]
        widths.append(max(x) - min(x))
    assert sum(abs(w - 10_000 / ratio) <= 2 * ROUNDING for w in widths) == 2  # plan and profile


def test_the_page_prints_it_true() -> None:
    """Measured in pixels of the page as typst renders it, 10 to the mm."""
    import typst

    from route3d.drawing.pdf import font_folders

    (sheet,) = drawn(straight(10.0), "a4", scale=100)
    page = {"width": 297.0, "height": 210.0, "svg": sheet_svg(sheet)}
    source = (resources.files("route3d.drawing") / "sheets.typ").read_bytes()
    data = json.dumps({"title": "t", "pages": [page]})
    fonts = typst.Fonts(include_system_fonts=False, font_paths=font_folders())
    png = typst.compile(
        source, sys_inputs={"data": data}, font_paths=fonts, format="png", ppi=254.0
    )
    from PIL import Image

    picture = np.asarray(Image.open(BytesIO(png)).convert("L"))
    assert picture.shape == (2100, 2970)
    (line,) = lines_of(sheet, "CENTERLINE")
    # between the sign at the end (1.6 mm) and the line's own row lies nothing but the line
    row = picture[round(line.points[0, 1] * 10)]
    sign = 16
    start, end = (round(x * 10) for x in (line.points[0, 0], line.points[-1, 0]))
    black = np.flatnonzero(row < 100)
    black = black[(black >= start - sign - 5) & (black <= end + sign + 5)]
    # from the outer edge of one square to that of the other: 100 mm and two halves of 3.2 mm, with
    # half a line width (0.175 mm) on either side; a pixel is 0.1 mm
    assert (np.ptp(black) + 1) / 10 == pytest.approx(100 + 3.2 + 0.35, abs=0.2)


def test_a_bend_is_drawn_as_its_arc() -> None:
    one = run(along(vertices([Go(5), Turn(90, 3.0, "left"), Go(5)]), conduit()))
    (sheet,) = drawn(one, scale=100)
    (line,) = lines_of(sheet, "CENTERLINE")
    steps = np.hypot(*np.diff(line.points, axis=0).T).sum()
    # chords of at most 0.02 mm sagitta are shorter than their arc by less than 1e-3 here
    assert steps == pytest.approx((10 + 3 * math.pi / 2) * 10, rel=1e-3)


def test_heights_are_exaggerated_as_said() -> None:
    one = run(along(([[0, 0, 0], [45, 0, 1]], [0, 0]), conduit()))
    (sheet,) = drawn(one, scale=200)
    (line,) = lines_of(sheet, "PROFILE")
    times = sheet.setup.exaggeration
    assert times == 2  # 5 mm of paper would be 25 at the next, past the six tenths of the profile
    assert np.ptp(line.points[:, 1]) == pytest.approx(1000 / 200 * times, abs=1e-9)
    assert any("exaggerated x 2" in w.text and "vertical 1:100" in w.text for w in words_of(sheet))


def test_a_riser_is_never_exaggerated_past_its_room() -> None:
    one = run(along(([[0, 0, 0], [0, 0, 12]], [0, 0]), conduit()))
    (sheet,) = drawn(one)
    (line,) = lines_of(sheet, "PROFILE")
    assert sheet.setup.exaggeration == 1
    assert np.ptp(line.points[:, 1]) == pytest.approx(12 * sheet.setup.scale.mm)


@pytest.mark.parametrize("units", ["US", "SI"])
def test_the_largest_round_scale_that_takes_one_sheet(units: str) -> None:
    one = run(along(([[0, 0, 0], [40, 0, 0]], [0, 0]), conduit()))
    (sheet,) = drawn(one, "a3", units)
    single, _ = round_scales(units)
    larger = [s for s in single if s.ratio < sheet.setup.scale.ratio]
    assert sheet.setup.scale in single
    assert all(len(drawn(one, "a3", units, s.ratio)) > 1 for s in larger)


# --- sheets --------------------------------------------------------------------------------------


@pytest.mark.parametrize("paper", ["letter", "tabloid", "a4", "a3", "a1", "arch-d"])
@pytest.mark.parametrize("name", DEMOS)
def test_demos_are_clean_on_every_paper(name: str, paper: str) -> None:
    sheets = demo(name, paper)
    assert_clean(sheets)
    assert_complete(sheets)
    assert_labeled(sheets)
    assert (sheets[0].setup.layout.width, sheets[0].setup.layout.height) == PAPERS[paper]


LENGTHS = st.sampled_from([0.3, 1.0, 4.0, 15.0, 60.0, 200.0])
TURNS = st.builds(
    Turn,
    st.sampled_from([0.5, 11.25, 30.0, 45.0, 90.0, 135.0]),
    st.sampled_from([0.3, 0.6, 1.2, 5.0, 40.0]),
    st.sampled_from(["left", "right", "up", "down"]),
)


@settings(
    max_examples=12, deadline=None, derandomize=True, suppress_health_check=[HealthCheck.too_slow]
)
@given(
    st.lists(st.tuples(LENGTHS, TURNS), max_size=12),
    LENGTHS,
    st.sampled_from(list(PAPERS)),
    st.sampled_from(["US", "SI"]),
    st.text(max_size=60),
)
def test_random_routes_are_clean(
    pieces: list[tuple[float, Turn]], last: float, paper: str, units: str, name: str
) -> None:
    flat = [piece for length, turn in pieces for piece in (Go(length), turn)]
    with np.errstate(all="ignore"):  # there is no left of a plumb line
        shape = vertices([*flat, Go(last)])
    assume(np.isfinite(shape[0]).all())
    one = run(along(shape, conduit(), first=name), name=name)
    sheets = drawn(one, paper, units)
    assert_clean(sheets)
    assert_complete(sheets)
    assert_labeled(sheets)
    for sheet in sheets:
        ElementTree.fromstring(sheet_svg(sheet))


def test_long_runs_join_at_match_lines() -> None:
    sheets = demo("yard_run", "tabloid")
    assert len(sheets) > 2
    for before, after in pairwise(sheets):
        told = [w.text for w in words_of(before)]
        assert f"see sheet {after.number}" in told
        assert f"see sheet {before.number}" in [w.text for w in words_of(after)]
        # the same place on both: a round station, clear of bends
        foot = before.stretch.end / 0.3048
        assert foot == pytest.approx(round(foot / 50) * 50)


def test_a_run_without_end_is_refused() -> None:
    with pytest.raises(InputError, match="more than 60 sheets"):
        drawn(straight(100_000.0), "a4")
    with pytest.raises(InputError, match="more than 60 sheets"):
        drawn(straight(1000.0), "a4", scale=1.0)


def test_a_long_run_takes_a_smaller_scale_before_it_is_refused() -> None:
    sheets = drawn(straight(8_000.0), "a4")
    assert sheets[0].setup.scale.ratio > 500
    assert_complete(sheets)


def test_a_sheet_is_cut_before_its_table_overflows() -> None:
    wiggle = [Go(0.3), Turn(5.0, 0.6, "left"), Go(0.3), Turn(5.0, 0.6, "right")]
    pieces = wiggle * 60
    one = run(along(vertices([*pieces, Go(1.0)]), conduit()))
    sheets = drawn(one, "a4")
    assert len(sheets) > 2
    assert_clean(sheets)
    assert_complete(sheets)


def test_what_the_three_readers_look_for() -> None:
    (sheet,) = demo("riser_duct_bank", "tabloid")
    told = [w.text for w in words_of(sheet)]
    for part in (
        "vault V1",
        "box 10.0 × 6.0 × 7.0 ft",  # 120 x 72 x 84 in of the model
        "R 48 in",
        "90.0°, vertical",
        "riser up",
        "PVC-40 5",
        "RMC 5",
        "176.0",  # 180 ft less the set-back of 48 in
        "87.0",  # 95 ft less two set-backs
        "180.0 ft",
        "-0.56%",  # 1 ft of 180
        "riser up 40.0 ft, plumb",
        "Ferry terminal: berth 2 charging feeder",
        "Run F1: plan and profile",
        "1 of 1",
        "date",
        "approved",
        "lengths ft, radii in",
        "N",
    ):
        assert part in told, part
    whole = " ".join(told)
    assert re.search(
        r"route3d \d+\.\d+\.\d+ model file riser_duct_bank\.toml, SHA-256 [0-9a-f]{12}", whole
    )
    assert "planning aid" in whole


def test_pull_points_between_the_ends_are_named_and_turn() -> None:
    route = lay(
        at((0, 0, 0), name="A end", ends=BOTH),
        at((30, 0, 0), name="vault 2", ends=BOTH, box=(2.0, 1.5, 1.5)),
        at((30, 25, 0), name="B end", ends=BOTH),
        conduits=conduit(),
    )
    (sheet,) = drawn(run(route))
    told = [w.text for w in words_of(sheet)]
    assert {"vault 2", "box 2.00 × 1.50 × 1.50 m", "90.0° turn", "sta 30.00 m"} <= set(told)
    assert {"30.00", "25.00"} <= set(told)


def test_lengths_flagged_make_up_the_run() -> None:
    for name in DEMOS:
        for sheet in demo(name, "a3")[:1]:
            course = sheet.setup.course
            total = sum(m.straight + m.end - m.station for m in course.marks)
            assert total == pytest.approx(course.path.length, abs=1e-9)


def test_north_turns_with_the_plan() -> None:
    sheets = demo("yard_run", "tabloid")
    turned = next(s for s in sheets if s.stretch.turn)
    origin, north = turned.plan(np.array([[0.0, 0.0, 0.0], [0.0, 1.0, 0.0]]))
    way = (north - origin) / np.hypot(*(north - origin))
    strokes = [m.points for m in turned.marks if isinstance(m, Line) and m.layer == "FRAME"]
    (arrow,) = [p for p in strokes if len(p) == 2 and abs(np.hypot(*(p[1] - p[0])) - 9.4) < 1e-9]
    assert (arrow[1] - arrow[0]) / 9.4 == pytest.approx(way)


def test_the_same_input_gives_the_same_bytes() -> None:
    first, second = (demo("yard_run", "a3") for _ in range(2))
    assert [sheet_svg(s) for s in first] == [sheet_svg(s) for s in second]
    assert sheets_pdf(first, "title") == sheets_pdf(second, "title")


def test_pages_have_the_size_of_the_paper() -> None:
    sheets = demo("yard_run", "tabloid")
    pages = PdfReader(BytesIO(sheets_pdf(sheets, "title"))).pages
    assert len(pages) == len(sheets)
    for page in pages:
        # 11 x 17 in; a point is 1/72 in
        assert float(page.mediabox.width) == pytest.approx(17 * 72, abs=0.01)
        assert float(page.mediabox.height) == pytest.approx(11 * 72, abs=0.01)
    assert "pull vault V1" in "".join(page.extract_text() for page in pages)


HOSTILE = "#let x = [<b>&amp;\"'{0}$%%d^ ]]>\u0007\u202e " + "very long " * 60


def test_hostile_names_stay_text() -> None:
    one = run(along(([[0, 0, 0], [30, 0, 0]], [0, 0]), conduit(), first=HOSTILE), name=HOSTILE)
    job = job_of(one, title=HOSTILE)
    sheets = run_sheets(job, one, "SI", paper="letter")
    assert_clean(sheets)
    root = ElementTree.fromstring(sheet_svg(sheets[0]))
    text = "".join(root.itertext())
    assert "#let x = [<b>&amp;" in text
    assert "\u0007" not in text
    assert "\u202e" not in text
    assert len(PdfReader(BytesIO(sheets_pdf(sheets, HOSTILE))).pages) == 1


def test_black_and_grays_on_white_alone() -> None:
    svg = sheet_svg(demo("riser_duct_bank", "tabloid")[0])
    colors = set(re.findall(r'(?:stroke|fill)="([^"]*)"', svg)) - {"none"}
    assert {"#000000", "#ffffff"} <= colors
    assert all(len({c[1:3], c[3:5], c[5:7]}) == 1 for c in colors)


def test_runs_in_other_units_hold_the_same_lines() -> None:
    job = load(MODELS / "roof_drop.toml")
    metric, feet = (
        run_sheets(replace(job, units=u), job.runs[0], u, paper="a3", scale=Scale(400.0))[0]
        for u in ("SI", "US")
    )
    a, b = (lines_of(s, "PROFILE")[0].points for s in (metric, feet))
    assert np.ptp(a, axis=0) == pytest.approx(np.ptp(b, axis=0))


FIRST_POINT = """
units = "SI"
[cable.phase]
diameter = 30
weight = 2.5
conductor = { metal = "copper", area = "300 mm^2" }
sidewall_limit = 7300
bend_multiple = 15
[conduit.duct]
inner_diameter = 132
outer_diameter = 140
friction = 0.3
[[run]]
name = "A"
cables = { phase = 3 }
attach = "pulling eyes"
route = [
 { at = [0, 0, 0], name = "V1", access = ["reel", "machine"], conduit = "duct" },
 { at = [2, 0, 0], bend = 2 },
 { at = [2, 10, 0], bend = 2 },
 { at = [4, 10, 0], name = "V2", access = ["reel", "machine"] },
]
"""


def test_bends_that_begin_at_the_first_point_and_end_at_the_last_are_drawn(tmp_path: Path) -> None:
    """The straights before and after them have no length: no segment belongs to them."""
    job = loads(FIRST_POINT)
    (sheet, *_) = run_sheets(job, job.runs[0], "SI", paper="a3")
    svg = sheet_svg(sheet)
    assert "V1" in svg and "V2" in svg
    write_routes(routes_of(job), tmp_path / "a.dxf", "m")
    (back,) = read_routes(tmp_path / "a.dxf", ReadOptions(units="m")).routes
    assert back.names[0] == "V1" and back.names[-1] == "V2"
    assert back.path().length == pytest.approx(6.0 + 2 * math.pi, rel=1e-6)  # 2 quarters of R = 2
