"""A bank in other formats, read back by the libraries of these formats."""

from __future__ import annotations

import io
import json
import math
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from route3d.formats.bank_files import write_bank
from route3d.formats.bank_model import BankModel, bank_model, duct_route
from route3d.geometry.grade import Grade
from route3d.model import Bank, Practice, Run
from route3d.model.site import GRID, Frame
from route3d.planning.bank import BankResult, evaluate_bank
from tests.support import jobs
from tests.support.jobs import BOTH, at, conduit, lay

BANK = Bank("F1", 2, 2, (0.2, 0.2), 0.08)
AREA = 0.5 * 0.5 - 4 * math.pi / 4 * 0.14**2
FAR = Frame((512000.0, 6110000.0, 12.0), "EPSG:25832")


def a_run() -> Run:
    """A bend, a vault in the line, and another size of conduit behind the vault."""
    wide, thin = conduit(0.13), conduit(0.11, name="thin")
    vault = replace(at((10, 14, -2), 0.0, "V2", BOTH), box=(3.0, 2.0, 2.5))
    points = (at((0, 0, -2)), at((10, 0, -2), 1.5, "sweep"), vault, at((10, 25, -2)))
    return jobs.run(lay(*points, conduits=(wide, wide, thin)), jobs.cable())


@pytest.fixture(scope="module")
def result() -> BankResult:
    return evaluate_bank(BANK, a_run(), Practice(), Grade(given=True))


@pytest.fixture(scope="module")
def model(result: BankResult) -> BankModel:
    return bank_model(result)


def by_hand() -> tuple[float, float]:
    """Concrete before and behind the vault, m³: lengths of the centerline, less 1.5 m each."""
    first = 8.5 + 1.5 * math.pi / 2 + 12.5 - 1.5
    return AREA * first, (0.25 - 4 * math.pi / 4 * 0.12**2) * 9.5


def test_bodies_and_ducts_stop_at_the_vault(model: BankModel) -> None:
    assert [b.volume for b in model.bodies] == pytest.approx(by_hand(), rel=1e-12)
    assert model.result.concrete == pytest.approx(sum(by_hand()), rel=1e-12)
    assert [d.name for d in model.ducts][:2] == ["F1 duct 1-1 part 1", "F1 duct 1-1 part 2"]
    # 0.1 m to the left of a left turn of 1.5 m; the vault's walls at y = 12.5 and 15.5.
    length = 8.5 + 1.4 * math.pi / 2 + 11.0
    assert model.ducts[0].path.length == pytest.approx(length, abs=1e-9)
    assert model.ducts[1].path.length == pytest.approx(9.5, abs=1e-9)


def test_a_duct_as_points_and_radii_is_the_same_line(model: BankModel) -> None:
    for duct in model.ducts:
        route = duct_route(duct, model.result.run.route)
        again = route.path()
        assert again.length == pytest.approx(duct.path.length, abs=1e-9)
        stations = np.linspace(0, again.length, 40)
        np.testing.assert_allclose(again.point(stations), duct.path.point(stations), atol=1e-9)
    assert duct_route(model.ducts[0], model.result.run.route).names[1] == "sweep"
    assert route.outer_diameter == 0.12


@pytest.mark.parametrize("unit", ["ft", "m"])
def test_ifc(model: BankModel, unit: str, tmp_path: Path) -> None:
    import ifcopenshell
    import ifcopenshell.geom
    import ifcopenshell.util.element
    import ifcopenshell.util.unit
    import ifcopenshell.validate
    import trimesh

    file = tmp_path / "bank.ifc"
    write_bank(model, file, unit, FAR)
    text = file.read_text()
    write_bank(model, file, unit, FAR)
    assert file.read_text() == text
    held = ifcopenshell.open(str(file))
    if unit == "ft":  # once: it takes seconds
        log = ifcopenshell.validate.json_logger()
        ifcopenshell.validate.validate(held, log)
        assert log.statements == []
    (proxy,) = held.by_type("IfcBuildingElementProxy")
    assert (proxy.Name, proxy.ObjectType) == ("F1 duct bank", "duct bank")
    told = ifcopenshell.util.element.get_psets(proxy)
    volume = told["Qto_BuildingElementProxyQuantities"]["NetVolume"]
    assert volume == pytest.approx(sum(by_hand()), rel=1e-12)
    feet = 0.3048 if unit == "ft" else 1.0
    assert told["Route3d_DuctBank"]["Width"] * feet == pytest.approx(0.5)
    (grid,) = held.by_type("IfcMapConversion")
    place = (grid.Eastings, grid.Northings, grid.OrthogonalHeight)
    assert np.array(place) * feet == pytest.approx(FAR.origin)
    settings = ifcopenshell.geom.settings()
    shape = ifcopenshell.geom.create_shape(settings, proxy).geometry
    mesh = trimesh.Trimesh(
        np.array(shape.verts).reshape(-1, 3), np.array(shape.faces).reshape(-1, 3)
    )
    assert mesh.is_watertight
    # Flat faces of the bend: 2.5 degrees leave 0.03 % of it out.
    assert mesh.volume == pytest.approx(sum(by_hand()), rel=4e-4)
    np.testing.assert_allclose(mesh.bounds[:, 2], (-2.25, -1.75), atol=1e-6)
    assert len(held.by_type("IfcCableCarrierFitting")) == 4
    # A straight on both sides of the bend and one behind the vault, in each of four ducts.
    assert len(held.by_type("IfcCableCarrierSegment")) == 12
    (where,) = {ifcopenshell.util.element.get_container(e) for e in (proxy,)}
    assert where.is_a("IfcSite")


def test_dxf(model: BankModel, tmp_path: Path) -> None:
    import ezdxf

    file = tmp_path / "bank.dxf"
    write_bank(model, file, "m", FAR)
    doc = ezdxf.readfile(file)
    assert not doc.audit().has_errors
    space = doc.modelspace()
    layers = {"POLYLINE": "F1 duct bank", "MESH": "F1 duct bank solid", "ARC": "F1 duct bank ducts"}
    for kind, layer in layers.items():
        assert {e.dxf.layer for e in space.query(kind)} == {layer}
    assert len(space.query("ARC")) == 4
    edges = [np.array([v.dxf.location.xyz for v in e.vertices]) for e in space.query("POLYLINE")]
    assert len(edges) == 2 * (4 + 2)
    low = np.vstack(edges).min(axis=0) - np.array(FAR.origin)
    np.testing.assert_allclose(low, (0.0, -0.25, -2.25), atol=1e-6)
    import trimesh

    volume = 0.0
    for mesh in space.query("MESH"):
        volume += trimesh.Trimesh(
            np.array(mesh.vertices) - FAR.origin, np.array(list(mesh.faces))
        ).volume
    whole = 0.25 * (8.5 + 1.5 * math.pi / 2 + 11.0 + 9.5)
    assert volume == pytest.approx(whole, rel=4e-4)


def volumes(file: Path) -> dict[str, float]:
    import trimesh

    scene = trimesh.load(io.BytesIO(file.read_bytes()), file_type="glb")
    return {name: abs(mesh.volume) for name, mesh in scene.geometry.items()}


def test_glb_and_stl(model: BankModel, tmp_path: Path) -> None:
    import trimesh

    glb, stl = tmp_path / "bank.glb", tmp_path / "bank.stl"
    for file in (glb, stl):
        write_bank(model, file, "m", FAR)
    found = volumes(glb)
    assert found["F1 duct bank"] == pytest.approx(by_hand()[0], rel=4e-4)
    assert found["F1 duct bank part 2"] == pytest.approx(by_hand()[1], rel=1e-4)
    # 32 sides on the true circle: sin(2 pi / 32) / (2 pi / 32) of its area.
    share = math.sin(2 * math.pi / 32) / (2 * math.pi / 32)
    assert found["F1 duct 2-2 part 2"] == pytest.approx(
        math.pi / 4 * 0.12**2 * 9.5 * share, rel=1e-4
    )
    whole: trimesh.Trimesh = trimesh.load(stl)  # type: ignore[assignment]
    assert whole.body_count == 2 + 8
    assert whole.volume == pytest.approx(sum(found.values()), rel=1e-4)
    frame = json.loads((tmp_path / "bank.stl.frame.json").read_text())
    assert frame["origin_m"] == list(FAR.origin or ())


def test_without_concrete_the_ducts_are_written(tmp_path: Path) -> None:
    bare = evaluate_bank(replace(BANK, cover=0.0), a_run(), Practice(), Grade(given=True))
    file = tmp_path / "bank.glb"
    write_bank(bank_model(bare), file, "m", GRID)
    assert len(volumes(file)) == 8


def test_the_filled_solid_has_the_volume_of_its_box(result: BankResult) -> None:
    filled = bank_model(result, filled=True)
    assert [b.volume for b in filled.bodies] == pytest.approx(
        [0.25 * (8.5 + 1.5 * math.pi / 2 + 11.0), 0.25 * 9.5]
    )
