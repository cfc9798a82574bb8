"""The drawing as DXF: what an independent reader finds in it."""

from __future__ import annotations

import io
import math
from pathlib import Path

import ezdxf
import numpy as np
import pytest
from ezdxf.document import Drawing

from route3d.drawing.layers import LAYERS
from route3d.drawing.plan_profile.dxf import drawing_dxf
from route3d.drawing.plan_profile.sheets import DrawingSheet, run_sheets
from route3d.model import Job
from route3d.modelfile.read import load
from tests.support.jobs import along, conduit, run
from tests.support.routes import Go, Turn, vertices

MODELS = Path(__file__).parents[3] / "models"
DEMOS = ("riser_duct_bank", "roof_drop", "yard_run")
METERS = {"US": 0.3048, "SI": 1.0}


def demo(name: str, paper: str = "a3") -> tuple[DrawingSheet, ...]:
    job = load(MODELS / f"{name}.toml")
    return run_sheets(job, job.runs[0], job.units, paper=paper)


def opened(sheets: tuple[DrawingSheet, ...]) -> Drawing:
    doc = ezdxf.read(io.StringIO(drawing_dxf(sheets)))
    audit = doc.audit()
    assert audit.errors == []
    assert audit.fixes == []
    return doc


def length_of(entity: object) -> float:
    if entity.dxftype() == "LINE":  # type: ignore[attr-defined]
        return float((entity.dxf.end - entity.dxf.start).magnitude)  # type: ignore[attr-defined]
    turn = (entity.dxf.end_angle - entity.dxf.start_angle) % 360  # type: ignore[attr-defined]
    return float(entity.dxf.radius * math.radians(turn))  # type: ignore[attr-defined]


@pytest.mark.parametrize("name", DEMOS)
def test_lines_and_arcs_are_as_long_as_the_run(name: str) -> None:
    sheets = demo(name)
    setup = sheets[0].setup
    doc, unit = opened(sheets), METERS[setup.system]
    assert doc.units == {"US": 2, "SI": 6}[setup.system]  # $INSUNITS: feet, meters
    found = doc.modelspace().query('*[layer=="E-CNDTPLE-N"]')
    assert {e.dxftype() for e in found} == {"LINE", "ARC"}
    lengths = [length_of(e) * unit for e in found]
    assert lengths == pytest.approx(setup.course.path.lengths.tolist(), abs=1e-9)


def test_level_bends_are_arcs_of_the_plan() -> None:
    doc = opened(demo("yard_run"))
    arcs = doc.modelspace().query('ARC[layer=="E-CNDTPLE-N"]')
    assert len(arcs) == 3
    for arc in arcs:
        assert abs(arc.dxf.extrusion.z) > 0.999  # the run falls 1 ft in 350
        assert arc.dxf.radius == pytest.approx(4.0)  # 48 in, in feet


@pytest.mark.parametrize("name", DEMOS)
def test_viewports_show_the_plan_where_the_sheet_has_it(name: str) -> None:
    """Ezdxf's own transformation against that of the sheet, for every vertex."""
    sheets = demo(name)
    doc, setup = opened(sheets), sheets[0].setup
    unit, height = METERS[setup.system], setup.layout.height
    points = np.array([v.point for v in setup.course.run.route.vertices])
    layouts = [doc.layouts.get(n) for n in doc.layouts.names_in_taborder() if n != "Model"]
    assert len(layouts) == len(sheets)
    for sheet, layout in zip(sheets, layouts, strict=True):
        plan, *clipped, profile = [v for v in layout.query("VIEWPORT") if v.dxf.id != 1]
        assert len(clipped) == (len(sheets) > 1)
        for point, (x, y) in zip(points, sheet.plan(points), strict=True):
            seen = plan.get_transformation_matrix().transform((*(point[:2] / unit), 0))
            assert (seen.x, height - seen.y) == pytest.approx((x, y), abs=1e-6)
        assert 1 / plan.get_scale() * unit * 1000 == pytest.approx(setup.scale.ratio)
        line = doc.modelspace().query('LWPOLYLINE[layer=="E-CNDTPRE-N"]')[0]
        first = profile.get_transformation_matrix().transform((*line.get_points("xy")[0], 0))
        at = sheet.profile.x(0.0), sheet.profile.y(float(points[0, 2]))
        assert (first.x, height - first.y) == pytest.approx(at, abs=1e-6)
        told = ("BENDS", "DIMENSIONS", "TEXT", "PULL-POINTS")
        assert set(plan.frozen_layers) >= {LAYERS[key].name for key in told}


def test_each_view_shows_its_own_line_alone() -> None:
    """The plan of a tall run is high enough to look down to the profile in model space."""
    one = run(along(vertices([Go(9), Turn(90, 1.2, "up"), Go(60)]), conduit()))
    for sheet_layout in opened(run_sheets(Job("t", "SI", (one,)), one, "SI", paper="a3")).layouts:
        for view in (v for v in sheet_layout.query("VIEWPORT") if v.dxf.id != 1):
            shown = {"E-CNDTPLE-N", "E-CNDTPRE-N"} - set(view.frozen_layers)
            assert len(shown) == 1


def test_dimensions_measure_the_level_legs() -> None:
    doc = opened(demo("riser_duct_bank", "tabloid"))
    found = sorted(d.get_measurement() for d in doc.modelspace().query("DIMENSION"))
    assert found == pytest.approx([15.0, 95.0, 180.0])  # ft, from the points of the model file


def test_bends_and_points_are_told_in_model_space() -> None:
    doc = opened(demo("riser_duct_bank", "tabloid"))
    told = {t.dxf.text for t in doc.modelspace().query("TEXT")}
    assert {"R 48 in, 90.0°", "vault V1", "box 10.0 × 6.0 × 7.0 ft", "PVC-40 5"} <= told
    layers = {layer.dxf.name for layer in doc.layers}
    assert {layer.name for layer in LAYERS.values()} <= layers


def test_two_runs_in_one_file() -> None:
    runs = [
        run(along(vertices([Go(9), Turn(45, 1.2, side), Go(20)]), conduit()), name="F*1?")
        for side in ("left", "down")
    ]
    job = Job("t", "SI", tuple(runs))
    sheets = tuple(s for r in runs for s in run_sheets(job, r, "SI", paper="a4"))
    doc = opened(sheets)
    names = [n for n in doc.layouts.names() if n != "Model"]
    assert len(names) == len(sheets)
    assert len({n.casefold() for n in names}) == len(sheets)
    found = doc.modelspace().query('*[layer=="E-CNDTPLE-N"]')
    assert len(found) == 6


def test_hostile_names() -> None:
    name = '%%c ^J {\\fArial;x} <>/\\":;?*|=` # & ' + "long " * 100
    one = run(along(([[0, 0, 0], [30, 0, 0]], [0, 0]), conduit(), first=name), name=name)
    doc = opened(run_sheets(Job(name, "SI", (one,)), one, "SI", paper="a3"))
    for text in (t.dxf.text for t in doc.modelspace().query("TEXT")):
        assert "%%" not in text
        assert "\n" not in text


def test_the_same_sheets_give_the_same_text() -> None:
    assert drawing_dxf(demo("roof_drop")) == drawing_dxf(demo("roof_drop"))
