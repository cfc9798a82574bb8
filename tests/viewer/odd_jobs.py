"""Jobs that strain a picture: many bends, none, no machine, limits broken a thousandfold."""

from __future__ import annotations

from pathlib import Path

from route3d.model import Job
from route3d.modelfile.read import load
from route3d.planning.result import RunResult, evaluate_run
from tests.support.model_text import FERRY

Corner = tuple[float, float, float]

TACKLE = """[rope.line]
diameter = 19
weight = 0.24
friction = 0.15
rated_load = 40000
stretch = 0.012
[machine.puller]
gears = [{ line_pull = 15000, speed = 11 }, { line_pull = 33000, speed = 4 }]
"""
_JOB = """
title = "Ferry terminal: {name}"
{ferry}friction = {friction}
{tackle}[[run]]
name = "R1"
cables = {{ phase = 3 }}
attach = "pulling eyes"
{puller}
route = [
  {{ at = {first}, name = "start vault", access = ["reel", "machine"], conduit = "duct" }},
  {bends}
  {{ at = {last}, name = "end vault", access = ["reel", "machine"] }},
]
"""
_PULLER = 'rope = "line"\nmachine = "puller"'


def _fifty() -> list[Corner]:
    """A stair of fifty quarter bends that turns back on itself now and then."""
    points: list[Corner] = [(0.0, 0.0, -1.5)]
    x = y = 0.0
    for k in range(25):
        x += 14
        points.append((x, y, -1.5 - k % 5 * 0.1))
        y += 14 if k // 4 % 2 == 0 else -14
        points.append((x, y, -1.5 - k % 5 * 0.1))
    return [*points, (x + 20, y, -1.5)]


_LANE = [(0.0, 0.0, -1.0), (60.0, 0.0, -1.2), (60.0, 40.0, -1.2), (110.0, 40.0, 6.0)]
_YARD = [(0.0, 0.0, -1.0), (60.0, 0.0, -1.2), (60.0, 40.0, -1.2), (110.0, 40.0, -1.2)]
_ROUTES: dict[str, tuple[list[Corner], float, str]] = {
    "fifty bends": (_fifty(), 0.05, _PULLER),
    "shaft": ([(10.0, 5.0, 0.0), (10.0, 5.0, 85.0)], 0.15, _PULLER),
    "straight": ([(0.0, 0.0, -1.0), (240.0, 60.0, -1.6)], 0.15, _PULLER),
    "no machine": (_LANE, 0.15, ""),
    "far too rough": ([*_YARD, (110.0, 90.0, -1.0)], 2.0, _PULLER),
}
ODD = tuple(_ROUTES)


def odd_job(name: str, folder: Path) -> tuple[RunResult, Job]:
    """One of these jobs, answered."""
    points, friction, puller = _ROUTES[name]
    bends = [f"{{ at = {list(p)}, bend = 2 }}," for p in points[1:-1]]
    words = {"first": list(points[0]), "last": list(points[-1]), "bends": "\n  ".join(bends)}
    path = folder / "odd.toml"
    text = _JOB.format(
        ferry=FERRY, tackle=TACKLE, name=name, friction=friction, puller=puller, **words
    )
    path.write_text(text, encoding="utf-8")
    job = load(path)
    return evaluate_run(job.runs[0], job.practice), job
