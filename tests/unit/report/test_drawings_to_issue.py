"""The set of sheets to issue: complete, dimensioned, nothing over anything else, PDF as DXF."""

from __future__ import annotations

import io
import math
import re
from functools import cache
from importlib.resources import files
from itertools import combinations, pairwise

import ezdxf
import numpy as np
import pytest
import shapely
from ezdxf.document import Drawing
from pypdf import PageObject, PdfReader

from route3d.drawing.layers import LAYERS, PENS
from route3d.drawing.marks import Line, Ring, Shape, Text, overlap
from route3d.drawing.plan_profile.dxf import drawing_dxf
from route3d.drawing.plan_profile.layout import PAPERS
from route3d.drawing.plan_profile.plan import plan_marks
from route3d.drawing.plan_profile.profile import profile_marks
from route3d.drawing.plan_profile.sheets import (
    DrawingSheet,
    Sheet,
    ViewSheet,
    job_sheets,
    sheets_pdf,
)
from route3d.drawing.plan_profile.surroundings import Surroundings, footprints
from route3d.geometry.grade import Grade, grade_through
from route3d.model.job import Job
from route3d.modelfile.read import load, loads
from route3d.units import show
from tests.support.drawn_jobs import BENDS, VAULTS, small_riser, terminal_feeder
from tests.support.sheets import MODELS, is_inside, outline

MM = 304.8 / 480  # of paper for a foot at 1 in = 40 ft


@cache
def job_of(name: str) -> Job:
    if name in ("terminal", "small"):
        return loads(terminal_feeder() if name == "terminal" else small_riser())
    return load(MODELS / f"{name}.toml")


@cache
def issued(name: str) -> tuple[Sheet, ...]:
    job = job_of(name)
    grade = Grade(job.site.grade.level) if job.banks else None
    if job.site.grade.points:
        grade = grade_through(np.array(job.site.grade.points))
    paper = "tabloid" if job.units == "US" else "a3"
    around = Surroundings(grade)
    return job_sheets(job, job.runs, job.units, paper=paper, around=around)


def drawn(name: str) -> list[DrawingSheet]:
    return [s for s in issued(name) if isinstance(s, DrawingSheet)]


def told(sheet: Sheet) -> list[str]:
    return [m.text for m in sheet.marks if isinstance(m, Text) and m.text]


NAMES = ("riser_duct_bank", "yard_run", "roof_drop", "terminal", "small")


@pytest.mark.parametrize("name", NAMES)
def test_nothing_is_cut_off_and_no_words_lie_over_others(name: str) -> None:
    for sheet in issued(name):
        assert [b for b in outline(sheet) if not is_inside(b, sheet.layout.frame)] == []
        boxes = [(m.text, m.box) for m in sheet.marks if isinstance(m, Text)]
        over = [(a, b) for (a, one), (b, two) in combinations(boxes, 2) if overlap(one, two)]
        assert over == []
        assert not [text for text, _ in boxes if text.endswith("…")]
        assert not [text for text, _ in boxes if "no room" in text]


@pytest.mark.parametrize("name", NAMES)
def test_leaders_cross_neither_the_route_nor_words(name: str) -> None:
    for sheet in drawn(name):
        views = (
            plan_marks(sheet.setup, sheet.number, sheet.plan),
            profile_marks(sheet.setup, sheet.number, sheet.profile),
        )
        for view, layer in zip(views, ("CENTERLINE", "PROFILE"), strict=True):
            (line,) = (m.points for m in view.marks if isinstance(m, Line) and m.layer == layer)
            route = shapely.LineString(line)
            words = [shapely.box(*m.box) for m in view.marks if isinstance(m, Text)]
            for leader in view.room.leaders.reshape(-1, 2, 2):
                one = shapely.LineString(leader)
                assert not one.crosses(route), (sheet.name, leader)
                assert not [w for w in words if w.intersection(one).length > 0.05]


@pytest.mark.parametrize("name", NAMES)
def test_every_straight_has_its_length_and_every_bend_its_radius_and_angle(name: str) -> None:
    words = [text for sheet in issued(name) for text in told(sheet)]
    bends = 0
    for sheet in drawn(name):
        if sheet.number > 1:
            continue
        for straight in sheet.setup.course.straights:
            length = show(straight.length, "length", sheet.setup.system)
            figure = length.split()[0]
            said = {figure, f"{figure} total", length, f"straight {length}"}
            assert said & set(words) or any(f"{straight.way} {length}" in w for w in words)
        bends += sum(mark.is_bend for mark in sheet.setup.course.marks)
    radii = [w for w in words if re.fullmatch(r"R [\d.,]+ (in|m|mm|ft)", w)]
    angles = [w for w in words if re.fullmatch(r"[\d.]+°(, \w+\.?)?", w) and w != "°"]
    assert len(radii) == bends
    assert len(angles) >= bends


@pytest.mark.parametrize("name", NAMES)
def test_every_leg_has_its_dimension(name: str) -> None:
    """In plan between the points where tangents meet, a plumb one in the profile; once each."""
    job = job_of(name)
    wanted = []
    for run in job.runs:
        for a, b in pairwise(np.array(v.point) for v in run.route.vertices):
            level, rise = math.hypot(*(b - a)[:2]), abs(float((b - a)[2]))
            wanted.append(show(rise if level < 1e-3 else level, "length", job.units))
    matched = [
        re.fullmatch(r"(?:leg )?([\d.,]+ (?:ft|m))(?: whole leg)?", m.text)
        for s in issued(name)
        for m in s.marks
        if isinstance(m, Text) and m.layer == "DIMENSIONS"
    ]
    found = [m[1] for m in matched if m]
    assert set(wanted) <= set(found)
    assert not [w for w in set(wanted) if found.count(w) < wanted.count(w)]


@pytest.mark.parametrize("name", NAMES)
def test_every_point_is_in_the_table_to_set_out_by(name: str) -> None:
    job = job_of(name)
    words = {text for s in issued(name) if isinstance(s, ViewSheet) for text in told(s)}
    digits, unit = (2, 0.3048) if job.units == "US" else (3, 1.0)
    for run in job.runs:
        for vertex in run.route.vertices:
            for value, origin in zip(vertex.point, job.site.frame.shift, strict=True):
                assert f"{(value + origin) / unit:,.{digits}f}" in words


def test_headings_are_clockwise_from_north_and_bends_named_as_in_the_schedule() -> None:
    (sheet,) = (s for s in issued("small") if isinstance(s, ViewSheet))
    said = told(sheet)
    row = said.index("R1-B02")
    assert said[row : row + 7] == ["R1-B02", "4.000", "0.000", "27.000", "4.24", "4.24", "45.0°"]
    assert {"90.0°", "plumb"} <= set(said)
    (first,) = drawn("small")
    assert {"B01", "B02", "R1-B01", "R1-B02", "45.0° in plan"} <= set(told(first))


@pytest.mark.parametrize("name", NAMES)
def test_boxes_are_whole_in_plan_and_profile(name: str) -> None:
    for sheet in drawn(name):
        setup, span = sheet.setup, sheet.stretch
        for box in setup.boxes:
            if span.start < box.station < span.end:
                for points, layer in ((box.plan.points, "BOXES"), (box.profile.points, "BOXES-P")):
                    want = np.ptp(sheet.plan(points), axis=0) if layer == "BOXES" else None
                    found = [np.ptp(np.asarray(m.points), axis=0) for m in sheet.marks
                             if isinstance(m, Line) and m.layer.startswith(layer)]  # fmt: skip
                    if want is None:
                        times = np.array([1.0, setup.exaggeration])
                        want = np.ptp(points, axis=0) * setup.scale.mm * times
                    assert any(np.allclose(one, want) for one in found)


def test_the_large_job_is_as_large_as_it_says() -> None:
    run = job_of("terminal").runs[0]
    assert sum(v.bend > 0 for v in run.route.vertices) == BENDS
    assert sum(v.box is not None for v in run.route.vertices) == VAULTS
    assert drawn("terminal")[0].setup.course.path.length > 1000


def test_title_blocks_are_filled_and_sheets_numbered_through() -> None:
    sheets = issued("terminal")
    for number, sheet in enumerate(sheets, 1):
        said = told(sheet)
        for text in ("client: Harbor Authority", "job: Charging of berths 4 to 9", "E-109",
                     "A. Engineer", "B. Engineer", "C. Engineer", "2026-05-04",
                     "issued for construction", f"{number} of {len(sheets)}",
                     "1 in = 40 ft (1:480)" if isinstance(sheet, DrawingSheet) else
                     "scales: as noted"):  # fmt: skip
            assert text in said, (number, text)
        assert any("EPSG:2263, origin 1,200,450.2, 485,120.5, 31.0 ft" in text for text in said)
    for sheet in drawn("terminal"):  # match lines name sheets of the set
        setup, said = sheet.setup, told(sheet)
        if sheet.number > 1:
            assert f"see sheet {setup.in_set(sheet.number - 1)}" in said


def test_sections_are_called_out_and_to_scale() -> None:
    """A bank of 2 x 2 ducts of 5.563 in at 8 in with 3 in of cover: 19.563 in each way."""
    number, sheet = next(
        (str(n), s) for n, s in enumerate(issued("terminal"), 1) if isinstance(s, ViewSheet)
    )
    said = told(sheet)
    for text in ("SECTION A-A", "SECTION B-B", "19.56 in", "8.00 in", "3.00 in concrete",
                 "7.0 ft", "7.5 ft", "PVC-40 5"):  # fmt: skip
        assert text in said
    bank = next(view for view in sheet.views if "duct bank" in view.said)
    (concrete,) = (m for m in bank.marks if isinstance(m, Shape))
    assert np.ptp(np.asarray(concrete.points), axis=0) == pytest.approx(
        [19.563 * 25.4 / bank.scale.ratio] * 2, rel=1e-3
    )
    first = drawn("terminal")[0]
    rings = [m.at for m in first.marks if isinstance(m, Ring) and m.layer == "SECTION-MARKS"]
    letters = []
    for x, y in rings:
        inside = {m.text for m in first.marks if isinstance(m, Text)
                  and abs(m.at[0] - x) < 3 and abs(m.at[1] - y) < 3}  # fmt: skip
        assert number in inside
        letters += inside - {number}
    assert sorted(letters) == ["A", "A", "B", "B"]  # vault and bank, in plan and in profile


def test_the_bank_is_on_plan_and_profile_and_its_cover_is_told() -> None:
    sheet = drawn("terminal")[0]
    (line,) = (m for m in sheet.marks if isinstance(m, Line) and m.layer == "CENTERLINE")
    middle = np.asarray(line.points)[0] + (50 * MM, 0.0)  # of the first, level leg
    edges = [
        shapely.LineString(m.points).distance(shapely.Point(middle))
        for m in sheet.marks
        if isinstance(m, Line) and m.layer == "BANK"
    ]
    assert min(edges) == pytest.approx(19.563 / 24 * MM, rel=0.01)
    # the centerline lies 6 ft below z = 0, where the ground is at the first vault
    assert "5.2" in told(sheet)  # 6 ft less half of 19.563 in
    assert {"grade", "duct bank", "run Q4"} <= set(told(sheet))
    # elevations are those of the grid: the origin lies at 31 ft
    assert "25.0" in told(sheet) and "-6.0" not in told(sheet)


def test_boxes_are_true_to_size() -> None:
    sheet = drawn("terminal")[0]
    (box,) = (m for m in sheet.marks if isinstance(m, Line) and m.layer == "BOXES-PROFILE")
    assert np.ptp(np.asarray(box.points), axis=0) == pytest.approx([12 * MM, 7.5 * MM])


def test_north_is_that_of_the_site() -> None:
    """20° clockwise from +y, on a plan that is not turned."""
    sheet = drawn("terminal")[0]
    assert sheet.stretch.turn == 0
    arrows = [m.points for m in sheet.marks if isinstance(m, Line) and m.layer == "FRAME"]
    (arrow,) = (p for p in arrows if len(p) == 2 and abs(np.hypot(*(p[1] - p[0])) - 9.4) < 1e-9)
    x, y = (arrow[1] - arrow[0]) / 9.4
    assert math.degrees(math.atan2(x, -y)) == pytest.approx(20.0)


def test_buildings_are_drawn_by_the_shadow_of_their_parts() -> None:
    import trimesh

    column = trimesh.creation.box((1.0, 2.0, 3.0))
    slab = trimesh.creation.box((10.0, 10.0, 0.3))
    slab.apply_translation((20.0, 0.0, 0.0))
    both = trimesh.util.concatenate([column, slab])
    found = footprints([("hall", both.vertices, both.faces)])
    areas = [shapely.Polygon(piece.points).area for piece in found]
    assert areas == pytest.approx([100.0, 2.0])
    assert [piece.filled for piece in found] == [False, True]  # a floor has its edge alone
    ring = trimesh.creation.torus(5.0, 1.0)
    (shadow,) = footprints([("ring", ring.vertices, ring.faces)])
    (hole,) = shadow.loops
    assert shapely.Polygon(hole).area == pytest.approx(16 * math.pi, rel=0.02)
    assert shapely.Polygon(shadow.points).area == pytest.approx(36 * math.pi, rel=0.02)


def test_papers_are_those_of_the_standards() -> None:
    """A0 is a square meter with sides as 1 to the root of 2, each next one half of it."""
    wide, high = PAPERS["a0"]
    assert wide * high == pytest.approx(1e6, rel=1e-3)
    for one, half in (("a0", "a1"), ("a1", "a2"), ("a2", "a3"), ("a3", "a4")):
        assert PAPERS[half] == pytest.approx((PAPERS[one][1], PAPERS[one][0] / 2), abs=1.0)
    inches = {"ansi-c": (22, 17), "ansi-d": (34, 22), "ansi-e": (44, 34)}
    inches |= {"arch-a": (12, 9), "arch-b": (18, 12), "arch-c": (24, 18)}
    inches |= {"arch-d": (36, 24), "arch-e": (48, 36)}
    for name, size in inches.items():
        assert PAPERS[name] == pytest.approx((size[0] * 25.4, size[1] * 25.4))


# --- DXF -----------------------------------------------------------------------------------------


@cache
def opened(name: str) -> Drawing:
    doc = ezdxf.read(io.StringIO(drawing_dxf(issued(name))))
    audit = doc.audit()
    assert audit.errors == [] and audit.fixes == []
    return doc


def test_model_space_is_in_true_size_on_the_grid_of_the_site() -> None:
    doc = opened("terminal")
    assert doc.units == 2  # feet
    lines = doc.modelspace().query('LINE[layer=="E-CNDTPLE-N"]')
    start, end = lines[0].dxf.start, lines[0].dxf.end
    assert tuple(start) == pytest.approx((1200450.25, 485120.5, 25.0), abs=1e-9)
    assert (end - start).magnitude == pytest.approx(118 - 4 * math.tan(math.radians(12.5)))
    profiles = doc.modelspace().query('LWPOLYLINE[layer=="E-CNDTPRE-N"]')
    first, second = ([p[1] for p in line.get_points("xy")] for line in profiles)
    assert max(second) < min(first) - 60  # the sheets of a run do not see that of another
    bank = doc.modelspace().query('LWPOLYLINE[layer=="E-BANKPLE-N"]')
    x = [p[0] for line in bank for p in line.get_points("xy")]
    assert min(x) == pytest.approx(1200450.25, abs=1e-6)


def test_the_page_lists_every_layer_and_pen() -> None:
    page = (files("route3d.docs") / "drawings.md").read_text(encoding="utf-8")
    for layer in LAYERS.values():
        row = f"| `{layer.name}` | {layer.holds} | {layer.color} |"
        (found,) = (line for line in page.splitlines() if line.startswith(row))
        assert found.endswith(f"| {layer.pen.width:g} |")
    for color, pen in PENS.items():
        (line,) = (x for x in page.splitlines() if re.match(rf"\| {color}\b[ \w]*\| [\d.]+ \|", x))
        gray = round(100 * int(pen.gray[1:3], 16) / 255)
        assert f"| {pen.width:g} | {'black' if not gray else f'{gray} % gray'} |" in line


@pytest.mark.parametrize("name", ["riser_duct_bank", "terminal"])
def test_entities_are_by_layer_and_layers_are_those_of_the_table(name: str) -> None:
    doc = opened(name)
    for layout in doc.layouts:
        for entity in layout:
            if entity.dxftype() in ("VIEWPORT", "DIMENSION"):
                continue
            assert entity.dxf.get("color", 256) == 256
            assert entity.dxf.get("lineweight", -1) == -1
            assert entity.dxf.get("linetype", "BYLAYER").upper() == "BYLAYER"
    for layer in LAYERS.values():
        found = doc.layers.get(layer.name)
        assert (found.dxf.color, found.dxf.lineweight) == (
            layer.color,
            round(100 * PENS[layer.color].width),
        )
        assert len(layer.name) == 11 and layer.name.startswith("E-")  # 2 + 6 + 2 + 1 of ISO 13567


def read(page: PageObject) -> list[tuple[str, float, float]]:
    """Pieces of text on a page with their places in points."""
    found: list[tuple[str, float, float]] = []

    def see(text: str, cm: list[float], tm: list[float], *_: object) -> None:
        if text.strip():
            x, y = cm[0] * tm[4] + cm[2] * tm[5] + cm[4], cm[1] * tm[4] + cm[3] * tm[5] + cm[5]
            found.append((text.strip(), x, y))

    page.extract_text(visitor_text=see)
    return found


@pytest.mark.parametrize("name", ["riser_duct_bank", "roof_drop"])
def test_the_pdf_says_the_same_in_the_same_places(name: str) -> None:
    """What another reader finds on the pages of the PDF, against the layouts of the DXF."""
    sheets = issued(name)
    pages = PdfReader(io.BytesIO(sheets_pdf(sheets, "t"))).pages
    doc = opened(name)
    for sheet, page in zip(sheets, pages, strict=True):
        found = read(page)
        layout = doc.layouts.get(sheet.name)
        texts = [t for t in layout.query("TEXT") if t.dxf.text.strip()]
        assert sorted(t.dxf.text for t in texts) == sorted(told(sheet))
        whole = "".join(text for text, *_ in found).replace(" ", "")
        for text in texts:
            assert text.dxf.text.replace(" ", "") in whole
        mm = 72 / 25.4
        spots = np.array([(x / mm, y / mm) for _, x, y in found])
        for text in texts:
            if text.dxf.rotation == 0 and text.dxf.halign == 0:
                at = np.array(text.dxf.insert)[:2]
                assert np.hypot(*(spots - at).T).min() < 0.3, text.dxf.text
