"""The rigging drawing: true to scale in SVG, PDF and DXF, nothing over anything else, all said."""

from __future__ import annotations

import io
import re
from itertools import combinations
from pathlib import Path
from xml.etree import ElementTree

import numpy as np
import pytest
import shapely
from pypdf import PdfReader

from route3d.cli.main import main
from route3d.drawing.marks import Shape, Text, overlap
from route3d.drawing.plan_profile.layout import MARGIN, Scale
from route3d.drawing.rigging.dxf import rigging_dxf
from route3d.drawing.rigging.sheet import (
    RiggingSheet,
    rigging_pdf,
    rigging_picture,
    rigging_sheets,
    rigging_svg,
)
from route3d.drawing.rigging.views import FORCES, LABELS, LAYERS, MACHINE, NOBODY, OPERATOR
from route3d.errors import InputError
from route3d.phrase import Phrase
from route3d.planning.rigging.layout import machine_layout
from route3d.units import render, show
from tests.support.rigging import DEMOS, MODELS, demo_plans, yard

FEET = 0.3048


def drawn(scale: float | None = None, **kind: object) -> tuple[RiggingSheet, ...]:
    job, made = yard(**kind)
    wanted = Scale(scale) if scale else None
    return rigging_sheets(job, [made], "SI", paper="a4", scale=wanted)


def texts(sheet: RiggingSheet) -> list[Text]:
    return [m for m in sheet.marks if isinstance(m, Text) and m.layer != "DRAFT"]


def polygons(svg: str) -> list[np.ndarray]:
    root = ElementTree.fromstring(svg)
    found = [e.attrib["points"] for e in root.iter() if e.tag.endswith("polygon")]
    return [np.array([p.split(",") for p in points.split()], dtype=float) for points in found]


# --- scale ---------------------------------------------------------------------------------------


@pytest.mark.parametrize("ratio", [100.0, 125.0, 150.0])
def test_svg_is_true_to_scale(ratio: float) -> None:
    """Machine of 1.5 by 0.9 m, 1.5 m high, and its distance from the conduit end, in mm."""
    sheet = drawn(ratio)[0]
    (machine,) = [b for b in sheet.layout.bodies if b.kind == "machine"]
    svg = rigging_svg(sheet)
    assert f'width="{sheet.size[0]:g}mm"' in svg
    boxes = [np.ptp(p, axis=0) for p in polygons(svg) if len(p) == 4]
    for size in ((1.5, 0.9), (1.5, 1.5)):
        wanted = np.array(size) * 1000 / ratio
        assert any(np.allclose(box, wanted, atol=0.02) for box in boxes)
    middle = machine.outline.mean(axis=0)
    at = np.array(sheet.plan.origin) + middle * [1, -1] * 1000 / ratio
    assert any(np.allclose(p.mean(axis=0), at, atol=0.02) for p in polygons(svg) if len(p) == 4)
    said = [t.text for t in texts(sheet)]
    assert show(float(middle[0]), "length", "SI") in said


def test_the_arrow_points_along_the_force_and_is_named() -> None:
    sheet = drawn()[0]
    tips = [m for m in sheet.views if isinstance(m, Shape) and m.layer == FORCES]
    ways = []
    for tip in tips:
        corners = np.asarray(tip.points)
        way = corners[0] - corners[1:].mean(axis=0)
        ways.append(way / np.linalg.norm(way))
    for wheel in sheet.layout.wheels:
        seen = wheel.direction[[0, 2]] * [1, -1]
        seen = seen / np.linalg.norm(seen)
        assert any(np.allclose(seen, way, atol=0.01) for way in ways)
        assert any(show(wheel.force, "force", "SI") in t.text for t in texts(sheet))


def test_a_scale_without_room_is_refused() -> None:
    with pytest.raises(InputError, match="no room"):
        drawn(10.0)


def test_the_pdf_has_the_pages_of_the_paper() -> None:
    job, made = yard()
    sheets = rigging_sheets(job, [made], "SI", paper="a4")
    data = rigging_pdf(sheets, job.title)
    pages = PdfReader(io.BytesIO(data)).pages
    assert [round(float(p.mediabox.width) / 72 * 25.4) for p in pages] == [297, 297]
    assert "MACHINE" in pages[0].extract_text()
    assert "FEED" in pages[1].extract_text()
    again = rigging_pdf(rigging_sheets(job, [made], "SI", paper="a4"), job.title)
    assert again == data


# --- DXF -----------------------------------------------------------------------------------------


@pytest.mark.parametrize("system", ["SI", "US"])
def test_dxf_reads_back_in_real_units_with_closed_hatches(system: str) -> None:
    import ezdxf

    job, made = yard()
    sheets = rigging_sheets(job, [made], system, paper="a4")
    doc = ezdxf.read(io.StringIO(rigging_dxf(sheets)))
    assert not doc.audit().errors
    unit = 1.0 if system == "SI" else 1 / FEET
    space = doc.modelspace()
    assert {e.dxf.layer for e in space} <= set(LAYERS)
    assert doc.layout_names() == ["Model", "R1 machine end", "R1 feed end"]
    machine = [
        np.array(line.get_points("xy")) for line in space.query("LWPOLYLINE")
        if line.dxf.layer == MACHINE and line.closed and len(line) == 4
    ]  # fmt: skip
    sizes = [np.ptp(corners, axis=0) / unit for corners in machine]
    assert any(np.allclose(size, (1.5, 0.9), atol=1e-3) for size in sizes)
    layout = sheets[0].layout
    middle = layout.bodies[0].outline.mean(axis=0)  # the conduit end of the first is the origin
    assert any(np.allclose(c.mean(axis=0) / unit, middle, atol=1e-3) for c in machine)
    hatches = space.query("HATCH").filter(lambda e: e.dxf.layer == NOBODY)
    assert len(hatches) >= 4  # two views of two ends
    areas = []
    for hatch in hatches:
        outer, *holes = [np.array(p.vertices)[:, :2] for p in hatch.paths.paths]
        assert all(p.is_closed for p in hatch.paths.paths)
        areas.append(shapely.Polygon(outer, holes))
        assert areas[-1].is_valid
    place = shapely.Point(layout.operator * unit)
    assert not any(area.contains(place) for area in areas)
    ahead = shapely.Point(np.array([0.5, 0.05]) * unit)
    assert any(area.buffer(0.5 * unit).contains(ahead) for area in areas)
    assert rigging_dxf(sheets) == rigging_dxf(sheets)


# --- sheets --------------------------------------------------------------------------------------


@pytest.mark.parametrize("paper", ["letter", "a4"])
@pytest.mark.parametrize("name", DEMOS)
def test_demos_are_clean(name: str, paper: str) -> None:
    job, plans = demo_plans(name)
    sheets = rigging_sheets(job, plans, job.units, paper=paper)
    assert len(sheets) == 2 * len(plans)
    for sheet in sheets:
        assert sheet.missing == ()
        words = texts(sheet)
        frame = (MARGIN, MARGIN, sheet.size[0] - MARGIN, sheet.size[1] - MARGIN)
        for one in words:
            assert one.box[0] >= frame[0] and one.box[1] >= frame[1], one.text
            assert one.box[2] <= frame[2] and one.box[3] <= frame[3], one.text
            assert one.height >= 2.0
        pairs = combinations(words, 2)
        assert [(a.text, b.text) for a, b in pairs if overlap(a.box, b.box)] == []
        large = {t.text: t.height for t in words if t.bold}
        loud = "MACHINE" if sheet.layout.end == "machine" else "FEED"
        assert large[loud] >= 4.0
        assert large["NOBODY HERE"] >= 2.7
        ElementTree.fromstring(rigging_svg(sheet))
        colors = set(re.findall(r'(?:fill|stroke)="([^"]+)"', rigging_svg(sheet)))
        gray = {c for c in colors if re.fullmatch(r"#(..)\1\1|#(.)\2\2", c)}
        assert colors - gray <= {"none", "url(#nobody)"}


def test_what_is_hatched_leaves_words_machine_and_operator_free() -> None:
    for sheet in drawn():
        hatched = shapely.union_all(
            [shapely.Polygon(m.points, m.holes) for m in sheet.views
             if isinstance(m, Shape) and m.fill == "nobody"]
        )  # fmt: skip
        assert hatched.area > 100
        for word in texts(sheet):
            if word.layer == LABELS:
                assert not hatched.intersects(shapely.box(*word.box).buffer(-0.01)), word.text
        for mark in sheet.views:
            if isinstance(mark, Shape) and mark.layer in (MACHINE, OPERATOR) and mark.fill != "":
                solid = shapely.Polygon(mark.points).buffer(-0.05)
                assert not hatched.intersects(solid)


def test_every_text_goes_through_one_function() -> None:
    job, made = yard()

    def marked(phrase: Phrase) -> str:
        return "§" + render(phrase, "SI")

    sheets = rigging_sheets(job, [made], "SI", paper="a4", words=marked)
    for sheet in sheets:
        bare = [m.text for m in sheet.views if isinstance(m, Text) and "§" not in m.text]
        assert set(bare) <= {"machine"}  # the second line of "rope at machine"
        bare = [m.text for m in sheet.outer if isinstance(m, Text) and "§" not in m.text]
        # scale, figures of the bar, north, names of the job; further lines of a wrapped text
        fixed = {sheet.scale.words("SI"), "N", "m", job.title, "3 x phase"}
        told = " ".join(marked(x) for e in sheet.layout.entries for x in e.lines)
        for text in bare:
            text = re.sub(r" \([\d.,]+ k?(N|lbf)\)$", "", text)  # a force in the other units
            assert text in fixed or re.fullmatch(r"[\d.]+", text) or text in told, text


def test_what_is_not_given_is_drawn_dashed_and_said() -> None:
    sheet = drawn(sized=False)[0]
    said = [t.text for t in texts(sheet)]
    assert "size not given" in said
    assert "place not given" in said
    assert "base center" not in said
    assert not [m for m in sheet.views if isinstance(m, Shape) and m.layer == FORCES]


def test_a_picture_for_a_page_is_small() -> None:
    _, made = yard()
    picture = rigging_picture(machine_layout(made), "US")
    assert len(picture) < 40_000
    assert "NOBODY HERE" in picture
    assert "style=" not in picture  # a page's policy allows none


# --- the command ---------------------------------------------------------------------------------


def test_a_pull_that_must_not_be_made_gets_none_and_says_why(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    file = tmp_path / "y.pdf"
    assert main(["drawing", str(MODELS / "yard_run.toml"), str(file), "--rigging"]) == 1
    said = capsys.readouterr()
    assert "this pull must not be made: sidewall pressure" in said.out + said.err
    assert not file.exists()


def test_each_end_of_each_stage_has_its_sheet(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    words = ["drawing", str(MODELS / "yard_run.toml"), str(tmp_path / "y.svg")]
    assert main([*words, "--rigging", "--way", "1", "--paper", "tabloid"]) == 0
    assert sorted(p.name for p in tmp_path.iterdir()) == [f"y-{i}.svg" for i in (1, 2, 3, 4)]
    assert 'width="431.8mm"' in (tmp_path / "y-1.svg").read_text(encoding="utf-8")
    assert "way 1, stage 2 of 2" in (tmp_path / "y-3.svg").read_text(encoding="utf-8")
    capsys.readouterr()


@pytest.mark.parametrize(
    ("more", "said"),
    [
        (["--feed", "roof"], "--feed goes with --rigging"),
        (["--way", "1"], "--way goes with --rigging"),
        (["--rigging", "--feed", "roof", "--way", "1"], "do not go together"),
        (["--rigging", "--feed", "cellar"], "no end named"),
    ],
)
def test_options_that_do_not_fit_are_refused(
    more: list[str], said: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    file = tmp_path / "x.pdf"
    assert main(["drawing", str(MODELS / "roof_drop.toml"), str(file), *more]) == 2
    assert said in capsys.readouterr().err
    assert not file.exists()
