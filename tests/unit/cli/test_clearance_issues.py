"""Clashes by zone, as CSV, as pictures and as BCF, which a reader of the tests' own checks."""

from __future__ import annotations

import csv
import io
import json
import math
import re
import zipfile
from dataclasses import replace
from pathlib import Path
from xml.etree import ElementTree

import numpy as np
import pytest
import typer
from PIL import Image
from typer.testing import CliRunner

from route3d.api import building_meshes
from route3d.cli.clearance import clearance
from route3d.errors import InputError
from route3d.formats.bcf import NO_DATE, bcf_bytes, created
from route3d.model.origin import TitleBlock
from route3d.modelfile.read import load
from route3d.planning.clearance.close_up import Surroundings, close_up
from route3d.planning.clearance.issues import issues
from route3d.planning.clearance.job import evaluate_clearance
from route3d.planning.placement.site import MeshPart, SiteMesh
from tests.support.clearance_jobs import box, run_text, write_job
from viewer.theme import CATEGORIES, OVER_LIMIT, rgb

app = typer.Typer(pretty_exceptions_enable=False)
app.command()(clearance)

ORIGIN = (512_000.0, 4_600_000.0, 12.0)
SITE = """[site]
origin = [512000, 4600000, 12]
context = [
  { file = "wall.stl", units = "m", class = "wall", clearance = 0, solid = true },
  { file = "steam.stl", units = "m", class = "hot pipe", clearance = 150 },
]
[[site.level]]
name = "quay"
floor = 0
[[site.clearance]]
between = ["concrete", "hot pipe"]
least = 600
severity = "caution"
"""
BANK = "[[bank]]\nrun = 'A'\nrows = 1\ncolumns = 2\nspacing = [200, 200]\ncover = 75\n"


def call(*arguments: object) -> tuple[int, str]:
    result = CliRunner().invoke(app, [str(a) for a in arguments])
    if result.exception is not None and not isinstance(result.exception, SystemExit):
        raise result.exception
    return result.exit_code, result.stdout


@pytest.fixture
def apron(tmp_path: Path) -> Path:
    """A bank through a wall at x = 10 and under a pipe at x = 30; a run over it at x = 20."""
    runs = run_text("A", [(0, 0, -1), (40, 0, -1)]) + run_text("B", [(20, -9, -0.8), (20, 9, -0.8)])
    meshes = {"wall.stl": box((0.5, 8, 6), (10, 0, 0)), "steam.stl": box((0.2, 6, 0.2), (30, 0, 0))}
    return write_job(tmp_path, runs, SITE + BANK, meshes)


def test_by_zone_every_clash_is_numbered_with_its_place(apron: Path, tmp_path: Path) -> None:
    table = tmp_path / "clashes.csv"
    code, text = call(apron, "--by", "zone", "--csv", table)
    assert code == 1
    assert "Below quay: 2 clashes" in text and "Verdict: 2 stops (2 clashes)." in text
    rows = list(csv.DictReader(io.StringIO(table.read_text(encoding="utf-8"))))
    assert [(r["what"], r["against"], r["verdict"]) for r in rows] == [
        ("run B", "concrete of bank A", "clash"),
        ("concrete of bank A", "wall.stl", "clash"),
    ]
    assert "512,020.00" in text and "600.0 mm" not in text
    data = json.loads(call(apron, "--json")[1])
    first, second = data["issues"]
    assert first["clearance_m"] == pytest.approx(0.2 - 0.145 - 0.07, abs=1e-6)
    assert second["xyz_m"][0] == pytest.approx(10, abs=0.3)
    assert np.subtract(second["grid_xyz_m"], second["xyz_m"]) == pytest.approx(ORIGIN)
    (body,) = data["bodies"]
    assert body["kind"] == "concrete" and body["place_given"]
    pipe = next(m for m in body["against"] if m["name"] == "hot pipe")
    assert pipe["least"]["clearance_m"] == pytest.approx(1 - 0.1 - 0.145, abs=1e-5)
    assert pipe["required_m"] == 0.6 and pipe["verdict"] == "ok"


def test_a_caution_alone_ends_with_0_and_is_still_told(apron: Path) -> None:
    text = apron.read_text(encoding="utf-8")
    apron.write_text(text.replace("least = 600", "least = 800"), encoding="utf-8")
    code, told = call(apron, "--run", "A", "--by", "zone", "--no-equipment")
    assert "too close" in told and "800.0 mm" in told
    assert code == 1  # for the wall
    (apron.parent / "wall.stl").write_bytes(
        box((0.5, 8, 6), (10, 40, 0)).export(file_type="stl")  # out of the way
    )
    text = text.replace("least = 600", "least = 800").replace("[20, -9, -0.8]", "[20, 3, -0.8]")
    apron.write_text(text, encoding="utf-8")
    code, told = call(apron, "--by", "zone")
    assert code == 0 and "Below quay: 1 too close" in told
    assert "caution: by the model file" in told and "Verdict: 1 caution (1 too close)." in told


@pytest.mark.parametrize(
    ("bad", "said"),
    [
        ('between = ["concrete", "steam"]', "is not a kind of thing here"),
        ('between = ["wall", "hot pipe"]', "are both meshes"),
        ('between = ["conrete", "wall"]', "did you mean 'concrete'"),
    ],
)
def test_kinds_that_are_none_are_refused_at_their_line(apron: Path, bad: str, said: str) -> None:
    text = apron.read_text(encoding="utf-8")
    apron.write_text(text.replace('between = ["concrete", "hot pipe"]', bad), encoding="utf-8")
    with pytest.raises(InputError, match=said) as caught:
        call(apron)
    assert "site.clearance[0].between" in str(caught.value)


def test_a_pair_twice_and_a_storey_twice_are_refused(apron: Path) -> None:
    text = apron.read_text(encoding="utf-8")
    twice = '[[site.clearance]]\nbetween = ["hot pipe", "concrete"]\nleast = 1\n'
    apron.write_text(f'{text}{twice}[[site.level]]\nname = "quay"\nfloor = 0\n', encoding="utf-8")
    with pytest.raises(InputError) as caught:
        call(apron)
    assert len(caught.value.problems) == 3


def test_concrete_is_measured_where_the_ground_is_not_known(apron: Path) -> None:
    """The surface of the grade ends at x = 5; the wall at x = 10 stands in the concrete."""
    text = apron.read_text(encoding="utf-8").replace("[20, -9, -0.8]", "[20, 3, -0.8]")
    grade = "[site]\ngrade = [[-9, -9, 0], [5, -9, 0.1], [5, 9, 0.1], [-9, 9, 0]]"
    apron.write_text(text.replace("[site]", grade), encoding="utf-8")
    for more in ([], ["--by", "zone"]):
        code, told = call(apron, *more)
        assert code == 1 and "Verdict: 1 stop (1 clash)." in told
        assert "the ground is not known: concrete of bank A" in " ".join(told.split())
    data = json.loads(call(apron, "--json")[1])
    assert [i["what"] for i in data["issues"]] == ["concrete of bank A"]
    ((start, end),) = data["ground_unknown"][0]["stations_m"]
    assert (start, end) == pytest.approx((5, 40))


def test_the_line_of_a_run_in_a_bank_is_measured_nowhere(apron: Path) -> None:
    """A hanger of 40 mm on the line of the run, between its ducts: without concrete it is clear."""
    hanger = box((1, 0.04, 0.04), (10, 0, -1))
    (apron.parent / "wall.stl").write_bytes(hanger.export(file_type="stl"))
    text = apron.read_text(encoding="utf-8").replace("[20, -9, -0.8]", "[20, 3, -0.8]")
    apron.write_text(text.replace("cover = 75", "cover = 0"), encoding="utf-8")
    for more in ([], ["--by", "zone"]):
        code, told = call(apron, *more)
        assert code == 0 and "Verdict: no clash, all required clearances are met." in told
    data = json.loads(call(apron, "--json")[1])
    assert not data["issues"] and not data["stops"]
    least = min(d["against"][0]["least"]["clearance_m"] for d in data["ducts"])
    assert least == pytest.approx(0.1 - 0.07 - 0.02, abs=1e-5)


def test_what_is_not_judged_is_in_every_report(apron: Path, tmp_path: Path) -> None:
    far = box((5, 5, 5), (40_000, 0, 0))
    (apron.parent / "wall.stl").write_bytes(far.export(file_type="stl"))
    text = apron.read_text(encoding="utf-8").replace("[20, -9, -0.8]", "[20, 3, -0.8]")
    apron.write_text(text, encoding="utf-8")
    out, rows, zones = (tmp_path / name for name in ("c.bcf", "rows.csv", "zones.csv"))
    default = call(apron, "--csv", rows)
    zone = call(apron, "--by", "zone", "--csv", zones, "--bcf", out)
    for code, told in (default, zone):
        assert code == 1 and "no clash" not in told.lower()
        assert "not judged: wall.stl" in told and "Not judged: mesh wall.stl." in told
    for path in (rows, zones):
        lines = csv.DictReader(io.StringIO(path.read_text(encoding="utf-8")))
        (line,) = (r for r in lines if r["verdict"] == "not judged")
        assert "wall.stl" in line.get("nearest", "") + line.get("what", "")
        assert "units or frame appear wrong" in line["why"]
    with zipfile.ZipFile(out) as source:
        (name,) = (n for n in source.namelist() if n.endswith("markup.bcf"))
        topic = ElementTree.fromstring(source.read(name)).find("Topic")
    assert topic is not None and topic.get("TopicType") == "Not judged"
    in_order(topic, TOPIC)
    assert "units or frame appear wrong" in topic.findtext("Description", "")
    (told,) = json.loads(call(apron, "--json")[1])["not_judged"]
    assert told["name"] == "mesh wall.stl"


def test_the_gap_of_what_is_too_close_is_seen(apron: Path) -> None:
    """Between the concrete and the pipe over it: 755 mm, plumb, from where neither hides it."""
    job = load(apron)
    asked = tuple(replace(c, least=0.8) for c in job.site.clearances)
    job = replace(job, site=replace(job.site, clearances=asked))
    result = evaluate_clearance(job, building_meshes(job))
    (close,) = (i for i in issues(result) if i.verdict == "close")
    view = close_up(close, Surroundings(result))
    assert view.gap is not None and not view.hidden
    one, other = view.gap
    assert (one[2], other[2]) == pytest.approx((-0.855, -0.1), abs=1e-4)
    assert other - one == pytest.approx([0, 0, 0.755], abs=1e-4)
    assert abs(view.forward[2]) < 0.8
    ahead = (view.gap - view.eye) @ view.forward
    assert (ahead > 0).all()


# --- BCF, by the rules of its schema --------------------------------------------------------------

GUID = re.compile(r"[a-f0-9]{8}-[a-f0-9]{4}-[a-f0-9]{4}-[a-f0-9]{4}-[a-f0-9]{12}")
TOPIC = (
    *("ReferenceLink", "Title", "Priority", "Index", "Labels", "CreationDate", "CreationAuthor"),
    *("ModifiedDate", "ModifiedAuthor", "DueDate", "AssignedTo", "Stage", "Description"),
)
DATE = re.compile(r"\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d(Z|[+-]\d\d:\d\d)")


def in_order(element: ElementTree.Element, names: tuple[str, ...]) -> None:
    """The children of an element are of these, in this order."""
    places = [names.index(child.tag) for child in element]
    assert places == sorted(places)


def triple(element: ElementTree.Element | None) -> np.ndarray:
    assert element is not None and [child.tag for child in element] == ["X", "Y", "Z"]
    return np.array([float(child.text or "") for child in element])


def read_bcf(data: bytes) -> list[dict[str, object]]:
    """Every topic of a BCF 2.1 file, held to the schema: what is needed, its order and patterns."""
    with zipfile.ZipFile(io.BytesIO(data)) as source:
        assert source.testzip() is None
        version = ElementTree.fromstring(source.read("bcf.version"))
        assert (version.tag, version.get("VersionId")) == ("Version", "2.1")
        folders = dict.fromkeys(n.split("/")[0] for n in source.namelist() if "/" in n)
        return [read_topic(source, folder) for folder in folders]


def read_topic(source: zipfile.ZipFile, folder: str) -> dict[str, object]:
    markup = ElementTree.fromstring(source.read(f"{folder}/markup.bcf"))
    assert markup.tag == "Markup"
    in_order(markup, ("Header", "Topic", "Comment", "Viewpoints"))
    topic, view = markup.find("Topic"), markup.find("Viewpoints")
    assert topic is not None and view is not None
    assert topic.get("Guid") == folder and GUID.fullmatch(folder)
    assert (topic.get("TopicType"), topic.get("TopicStatus")) == ("Clash", "Open")
    in_order(topic, TOPIC)
    assert {"Title", "CreationDate", "CreationAuthor"} <= {child.tag for child in topic}
    assert all((child.text or "").strip() for child in topic)
    assert DATE.fullmatch(topic.findtext("CreationDate", ""))
    assert GUID.fullmatch(view.get("Guid", ""))
    in_order(view, ("Viewpoint", "Snapshot", "Index"))
    info = ElementTree.fromstring(source.read(f"{folder}/{view.findtext('Viewpoint')}"))
    assert (info.tag, info.get("Guid")) == ("VisualizationInfo", view.get("Guid"))
    in_order(info, ("Components", "OrthogonalCamera", "PerspectiveCamera", "Lines"))
    components, camera = info.find("Components"), info.find("PerspectiveCamera")
    assert components is not None and camera is not None
    in_order(components, ("ViewSetupHints", "Selection", "Visibility", "Coloring"))
    assert components.find("Visibility") is not None
    selection = components.findall("Selection/Component")
    assert selection
    for component in selection:
        in_order(component, ("OriginatingSystem", "AuthoringToolId"))
        assert re.fullmatch(r"[0-9A-Za-z_$]{22}", component.get("IfcGuid", "0" * 22))
    in_order(camera, ("CameraViewPoint", "CameraDirection", "CameraUpVector", "FieldOfView"))
    assert 45 <= float(camera.findtext("FieldOfView", "")) <= 60
    picture = view.findtext("Snapshot")
    return {
        "guid": folder,
        "title": topic.findtext("Title"),
        "date": topic.findtext("CreationDate"),
        "author": topic.findtext("CreationAuthor"),
        "text": topic.findtext("Description"),
        "eye": triple(camera.find("CameraViewPoint")),
        "forward": triple(camera.find("CameraDirection")),
        "up": triple(camera.find("CameraUpVector")),
        "elements": [c.get("IfcGuid") for c in selection if c.get("IfcGuid")],
        "picture": None if picture is None else source.read(f"{folder}/{picture}"),
    }


def test_a_bcf_file_looks_at_every_clash_on_the_grid(apron: Path, tmp_path: Path) -> None:
    out, pictures = tmp_path / "clashes.bcf", tmp_path / "pictures"
    code, text = call(apron, "--json", "--bcf", out, "--pictures", pictures)
    assert code == 1
    told = json.loads(text)["issues"]
    topics = read_bcf(out.read_bytes())
    assert len(topics) == len(told) == 2
    for topic, issue in zip(topics, told, strict=True):
        to = np.array(issue["grid_xyz_m"]) - topic["eye"]
        along = float(to @ topic["forward"])
        assert 1 < along < 10
        assert to == pytest.approx(along * topic["forward"], abs=1e-6)
        assert np.linalg.norm(topic["forward"]) == pytest.approx(1)
        assert topic["forward"] @ topic["up"] == pytest.approx(0, abs=1e-8)
        assert topic["up"][2] > 0
        assert topic["title"].startswith(f"{issue['number']}: {issue['what']} clashes with ")
        assert topic["date"] == NO_DATE and "512,0" in topic["text"]
        written = (pictures / f"{issue['number']:03d}.png").read_bytes()
        assert written == topic["picture"]
        pixels = np.asarray(Image.open(io.BytesIO(written)).convert("RGB")).astype(int)
        middle = pixels[200:560, 240:720].reshape(-1, 3)
        for color in (OVER_LIMIT, CATEGORIES[4]):  # each hue fills a share of the picture's middle
            hue = np.array(rgb(color)) / max(rgb(color))
            bright = middle.max(axis=1)
            near = np.abs(middle / np.maximum(bright, 1)[:, None] - hue).max(axis=1) < 0.25
            assert (near & (bright > 40)).mean() > 0.01
    first = out.read_bytes()
    call(apron, "--bcf", out, "--by", "zone")
    assert out.read_bytes() == first


def test_an_element_of_a_building_is_in_the_bcf_file_by_its_guid(apron: Path) -> None:
    job = load(apron)
    column = box((0.4, 0.4, 6), (30, 0, 0))
    guid = "2O2Fr$t4X7Zf8NOew3FLOH"
    mesh = SiteMesh(
        "hall.ifc",
        np.asarray(column.vertices),
        np.asarray(column.faces, dtype=np.int64),
        parts=(MeshPart("column C3", guid, "ground floor"),),
        owner=np.zeros(len(column.faces), dtype=np.int64),
    )
    plain = replace(job.site, context=(Path("hall.ifc"),), surrounds=(), levels=(), clearances=())
    signed = TitleBlock(date="2026-03-14", made="R. Quay")
    job = replace(job, site=plain, banks=(), document=signed, examples=("cable.phase",))
    result = evaluate_clearance(job, (mesh,))
    found = issues(result)
    assert [i.zone for i in found] == ["ground floor"] * 2 and found[0].guids == (guid,)
    views = [close_up(issue, Surroundings(result)) for issue in found]
    first, second = read_bcf(bcf_bytes(found, views, job, "SI", {}))
    assert first["elements"] == [guid] and first["picture"] is None
    assert first["guid"] != second["guid"]
    assert "EXAMPLE VALUES, not confirmed: cable.phase" in str(first["text"])
    assert (first["date"], first["author"]) == ("2026-03-14T00:00:00Z", "R. Quay")
    dates = ("14 March 2026", "March 14, 2026", "14 March", "03/04/2026")
    made = [created(replace(job, document=TitleBlock(date=date))) for date in dates]
    assert made == ["2026-03-14T00:00:00Z"] * 2 + [NO_DATE] * 2
    # the camera stands where the column does not hide the place: before its own face
    for issue, view in zip(found, views, strict=True):
        face = math.copysign(1.0, issue.point[0] - 30)
        assert face * view.forward[0] < 0


def test_without_a_renderer_the_bcf_file_has_no_pictures(
    apron: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("ROUTE3D_RENDERER", "none")
    out = tmp_path / "clashes.bcfzip"
    assert call(apron, "--bcf", out)[0] == 1
    assert all(topic["picture"] is None for topic in read_bcf(out.read_bytes()))
    with pytest.raises(InputError, match=r"must end in"):
        call(apron, "--bcf", tmp_path / "clashes.zip")
    (tmp_path / "taken").write_text("", encoding="utf-8")
    with pytest.raises(InputError, match="cannot be a folder"):
        call(apron, "--pictures", tmp_path / "taken")
