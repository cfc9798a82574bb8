"""The GLB of a run, read back by its own specification (glTF 2.0, section 4.4) and by trimesh."""

from __future__ import annotations

import json
import struct
from dataclasses import dataclass, replace
from io import BytesIO
from typing import Any

import numpy as np
import pytest
import trimesh
from numpy.typing import NDArray

from route3d.checks.limits import utilization
from route3d.geometry.vectors import norm
from route3d.mechanics.pull import Pull
from route3d.model import Job
from route3d.model.practice import Practice
from route3d.planning.result import RunResult, evaluate_run
from route3d.units import SYSTEMS
from tests.support import jobs
from tests.viewer.conftest import Answered
from viewer.scene.build import build_scene
from viewer.scene.records import ContextMesh, Scene
from viewer.theme import DARK, LIGHT
from viewer.web.glb import MOST, BothWays, _rounded, run_glb, sides_for

TYPES = {5125: np.uint32, 5126: np.float32}
WIDTHS = {"SCALAR": 1, "VEC3": 3}


@dataclass(frozen=True)
class Piece:
    extras: dict[str, Any]
    mode: int
    arrays: dict[str, NDArray[Any]]


def read(glb: bytes) -> list[Piece]:
    magic, version, length = struct.unpack("<4sII", glb[:12])
    assert (magic, version, length) == (b"glTF", 2, len(glb))
    size, kind = struct.unpack("<I4s", glb[12:20])
    assert kind == b"JSON"
    tree = json.loads(glb[20 : 20 + size])
    data = glb[28 + size :]

    def array(number: int) -> NDArray[Any]:
        entry = tree["accessors"][number]
        view = tree["bufferViews"][entry["bufferView"]]
        start = view.get("byteOffset", 0) + entry.get("byteOffset", 0)
        width = WIDTHS[entry["type"]]
        flat = np.frombuffer(data, TYPES[entry["componentType"]], entry["count"] * width, start)
        return flat.reshape(-1, width) if width > 1 else flat

    found = []
    for mesh in tree["meshes"]:
        (part,) = mesh["primitives"]
        arrays = {name: array(n) for name, n in part["attributes"].items()}
        if "indices" in part:
            arrays["index"] = array(part["indices"])
        found.append(Piece(mesh["extras"], part["mode"], arrays))
    assert all("matrix" not in node for node in tree["nodes"])  # the page knows no transforms
    return found


def scenes_of(result: RunResult, job: Job, units: str = "US") -> BothWays:
    return BothWays(
        *(build_scene(result, job, units=units, feed=c.pull.feed) for c in result.candidates)
    )


def tubes_of(pieces: list[Piece]) -> list[Piece]:
    return [p for p in pieces if p.extras["layer"] == "conduit"]


def middles(tube: Piece) -> NDArray[np.float64]:
    rings = tube.arrays["POSITION"].astype(np.float64).reshape(tube.extras["rings"], -1, 3)
    return rings.mean(axis=1)


def values_at(pull: Pull, station: NDArray[np.float64], name: str) -> NDArray[np.float64]:
    """Largest and smallest value that a profile has near a station (jumps have both), (n, 2)."""
    way = -1 if pull.reverse else 1
    s, v = pull.profile.station[::way], getattr(pull.profile, name)[::way]
    nudge = 1e-3
    sides = [np.interp(station + d, s, v) for d in (-nudge, 0.0, nudge)]
    return np.column_stack((np.min(sides, axis=0), np.max(sides, axis=0)))


def test_every_ring_carries_the_numbers_of_both_directions(demo: Answered) -> None:
    result, job = demo
    for tube in tubes_of(read(run_glb(scenes_of(result, job)))):
        sides = tube.extras["sides"]
        station = tube.arrays["_STATION"].astype(np.float64)
        assert (station.reshape(-1, sides) == station[::sides, None]).all()
        for n, candidate in enumerate(result.candidates):
            for name in ("tension", "sidewall"):
                got = tube.arrays[f"_{name.upper()}_{n}"].astype(np.float64)
                near = values_at(candidate.planned, station, name)
                # 17 bits are kept: 2**-17 of the value, and the nudge along the slope
                slack = 2.0**-16 * np.abs(got) + 2e-3 * np.ptp(near, axis=1) + 0.05
                assert (got >= near[:, 0] - slack).all() and (got <= near[:, 1] + slack).all()
            share = tube.arrays[f"_UTILIZATION_{n}"]
            use = utilization(candidate.planned)
            assert share.max() <= max(use.conductor, use.grip, use.sidewall) * 1.0001


def test_the_largest_numbers_are_in_the_file(demo: Answered) -> None:
    result, job = demo
    tubes = tubes_of(read(run_glb(scenes_of(result, job))))
    for n, candidate in enumerate(result.candidates):
        tension = max(float(t.arrays[f"_TENSION_{n}"].max()) for t in tubes)
        sidewall = max(float(t.arrays[f"_SIDEWALL_{n}"].max()) for t in tubes)
        assert tension == pytest.approx(candidate.planned.peak_tension, rel=1e-5)
        assert sidewall == pytest.approx(candidate.planned.peak_sidewall, rel=1e-5)


def test_tubes_follow_the_route_and_are_round(demo: Answered) -> None:
    result, job = demo
    scenes = scenes_of(result, job)
    for tube in tubes_of(read(run_glb(scenes))):
        center = middles(tube)
        station = tube.arrays["_STATION"][:: tube.extras["sides"]].astype(float)
        true = result.path.point(np.minimum(station, result.path.length))
        radius = tube.extras["radius"]
        # stored to a 256th of the radius; the station is a float32
        assert norm(center + scenes.first.origin - true).max() < radius / 100
        rings = tube.arrays["POSITION"].reshape(len(center), -1, 3).astype(np.float64)
        away = norm(rings - center[:, None])
        assert np.abs(away - radius).max() < radius / 100


def test_triangles_face_outward(riser: Answered) -> None:
    for tube in tubes_of(read(run_glb(scenes_of(*riser)))):
        points, faces = tube.arrays["POSITION"], tube.arrays["index"].reshape(-1, 3)
        a, b, c = (points[faces[:, k]].astype(np.float64) for k in range(3))
        outward = (a + b + c) / 3 - middles(tube)[faces[:, 0] // tube.extras["sides"]]
        facing = np.einsum("ij,ij->i", np.cross(b - a, c - a), outward)
        flat = norm(np.cross(b - a, c - a)) < 1e-9  # between the two rings of a joint
        assert (facing[~flat] > 0).all() and flat.mean() < 0.5


def test_each_direction_has_its_own_reel_and_they_share_the_rest(yard: Answered) -> None:
    pieces = read(run_glb(scenes_of(*yard)))
    solids = [p for p in pieces if p.extras["layer"] == "reel and machine"]
    assert {p.extras["feed"] for p in solids} == {0, 1}
    ends = [
        next(p for p in solids if p.extras["part"] == "reel coil" and p.extras["feed"] == n)
        for n in (0, 1)
    ]
    apart = norm(ends[0].arrays["POSITION"].mean(axis=0) - ends[1].arrays["POSITION"].mean(axis=0))
    assert apart > 300  # at opposite ends of the yard
    boxes = [p for p in pieces if p.extras.get("part") == "box"]
    assert len(boxes) == 2 and all("feed" not in b.extras for b in boxes)


def test_parts_are_dressed_by_the_themes(riser: Answered) -> None:
    for piece in read(run_glb(scenes_of(*riser))):
        if piece.extras.get("part") == "reel":
            assert (piece.extras["light"], piece.extras["dark"]) == (LIGHT.feed, DARK.feed)


def test_a_grade_for_each_system_of_units(riser: Answered) -> None:
    result, job = riser
    grades = {u: build_scene(result, job, units=u) for u in SYSTEMS}
    pieces = [
        p for p in read(run_glb(scenes_of(result, job), grades)) if p.extras["layer"] == "grade"
    ]
    assert sorted((p.extras["part"], p.extras["units"]) for p in pieces) == [
        ("grade", "SI"),
        ("grade", "US"),
        ("grid", "SI"),
        ("grid", "US"),
    ]
    assert {p.mode for p in pieces if p.extras["part"] == "grid"} <= {1, 3}


def test_another_reader_finds_the_same(riser: Answered) -> None:
    glb = run_glb(scenes_of(*riser))
    loaded = trimesh.load_scene(BytesIO(glb), file_type="glb")
    triangles = sum(
        len(p.arrays["index"]) // 3 for p in read(glb) if p.mode == 4 and "index" in p.arrays
    )
    assert sum(len(g.faces) for g in loaded.geometry.values() if hasattr(g, "faces")) == triangles


def test_the_same_scenes_give_the_same_bytes(riser: Answered) -> None:
    assert run_glb(scenes_of(*riser)) == run_glb(scenes_of(*riser))


def test_scenes_of_different_routes_are_refused(riser: Answered, drop: Answered) -> None:
    one, other = scenes_of(*riser).first, scenes_of(*drop).first
    other = replace(other, tubes=other.tubes * 2)
    with pytest.raises(ValueError, match="do not share their stations"):
        run_glb(BothWays(one, other))


def test_a_long_run_is_thinned_and_keeps_its_joints() -> None:
    points = [(12.0 * i, 12.0 * (i % 2), 0.0) for i in range(1500)]
    route = jobs.along((points, [0.0, *[4.0] * 1498, 0.0]), jobs.conduit(friction=0.001))
    result = evaluate_run(jobs.run(route), Practice())
    job = Job("long", "SI", (result.run,))
    both = BothWays(
        *(build_scene(result, job, feed=c.pull.feed, exaggeration=1.0) for c in result.candidates)
    )
    (tube,) = tubes_of(read(run_glb(both)))
    given = len(both.first.tubes[0].points)
    assert given * 6 > 80_000  # or nothing had to be thinned
    assert tube.extras["rings"] < given and tube.extras["sides"] == sides_for(tube.extras["rings"])
    kept = np.unique(tube.arrays["_STATION"])
    assert np.isin(result.path.stations.astype(np.float32), kept).all()


def ball(faces: int) -> ContextMesh:
    mesh = trimesh.creation.icosphere(subdivisions=6 if faces > 20_000 else 2)
    return ContextMesh("ball", np.array(mesh.vertices), np.array(mesh.faces), len(mesh.faces))


def test_buildings_are_drawn_and_made_light(riser: Answered) -> None:
    def with_ball(scene: Scene) -> Scene:
        return replace(scene, context=(ball(80_000),))

    both = scenes_of(*riser)
    heavy = BothWays(with_ball(both.first), with_ball(both.second))
    (building,) = [p for p in read(run_glb(heavy)) if p.extras.get("part") == "context"]
    assert len(ball(80_000).faces) > 80_000
    assert 5_000 < len(building.arrays["index"]) // 3 <= 40_000
    assert building.extras["layer"] == "buildings"
    (half,) = [p for p in read(run_glb(heavy, runs=8)) if p.extras.get("part") == "context"]
    assert len(half.arrays["index"]) // 3 <= 5_000


def test_absurd_loads_are_cut_to_what_a_file_holds() -> None:
    """Beyond 32 bits: numpy would warn of an overflow, and the page would read infinity."""
    values = _rounded(np.array([0.0, 1.5, 1e200]))
    assert np.isfinite(values).all()
    assert values.tolist()[:2] == [0.0, 1.5] and values[2] == pytest.approx(MOST, rel=1e-5)
