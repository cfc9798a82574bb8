"""Jobs for the rigging drawing: a short run with a lead-off over two sheaves, and the demos."""

from __future__ import annotations

from functools import cache
from pathlib import Path

from route3d.api import plan
from route3d.cli.plan import ways_of
from route3d.model import Job
from route3d.modelfile.read import load, loads
from route3d.planning.pull_plan.plan import Plan

MODELS = Path(__file__).parents[2] / "models"
DEMOS = ("mezzanine.toml", "riser_duct_bank.toml", "roof_drop.toml", "yard_run.toml", "berths.xlsx")

_YARD = """
title = "Ferry terminal: rigging"
units = "SI"
[cable.phase]
diameter = 36
weight = 2.7
conductor = {{ metal = "copper", area = "185 mm2" }}
sidewall_limit = 7300
bend_multiple = 12
[conduit.duct]
inner_diameter = 132
outer_diameter = 140
friction = 0.2
[rope.line]
diameter = 20
weight = 0.3
friction = 0.15
rated_load = "50 kN"
stretch = 0.012
[machine.puller]
gears = [{{ line_pull = "40 kN", speed = 6 }}]
{envelope}
line_height = 0.9
weight = 800
clearance = 0.9
[sheave.pit]
radius = 0.6
rating = "70 kN"
efficiency = {efficiency}
held_by = "anchor bar across the pit"
[sheave.rim]
radius = 0.3
rating = "70 kN"
efficiency = {efficiency}
[anchor.truck]
kind = "vehicle"
weight = 12000
friction = 0.5
drawbar_rating = "45 kN"
length = 5
width = 2.2
drawbar = 0.8
[rigging.head]
swivel_rating = "45 kN"
eye_rating = "45 kN"
head_length = 0.8
[reel.yard]
weight = 1900
diameter = 2400
width = 1400
sheave_radius = 0.9
feed_turn = {feed_turn}
feed_efficiency = 0.95
[[run]]
name = "R1"
cables = {{ phase = 3 }}
attach = "pulling eyes"
rope = "line"
machine = "puller"
anchor = "truck"
rigging = "head"
reel = "yard"
{lead_off}
route = [
  {{ at = [0, 0, -1.5], name = "start {{vault}}", access = ["reel"], conduit = "duct" }},
  {{ at = [{ahead}, {across}, -1.5], name = "yard", access = ["machine"] }},
]
[plan]
pull_slack = 1
{room}
"""
_ROOM = """
[[site.room]]
name = "yard"
outline = [[{x0}, {y0}], [{x1}, {y0}], [{x1}, {y1}], [{x0}, {y1}]]
floor = 0
"""


def yard(
    *,
    efficiency: float = 1.0,
    heading: tuple[float, float] = (40.0, 0.0),
    room: bool = True,
    sized: bool = True,
    lead_off: bool = True,
    feed_turn: float = 60.0,
) -> tuple[Job, Plan]:
    """A level duct whose rope is turned up out of a pit and level again over its rim."""
    ahead, across = heading
    around = _ROOM.format(x0=ahead - 15, x1=ahead + 15, y0=across - 15, y1=across + 15)
    turns = (
        'lead_off = [{ sheave = "pit", turn = 90, distance = 0.9 }, '
        '{ sheave = "rim", turn = 90, distance = 3 }]'
    )
    job = loads(
        _YARD.format(
            efficiency=efficiency,
            envelope="envelope = [1.5, 0.9, 1.5]" if sized else "",
            lead_off=turns if lead_off else "",
            ahead=ahead,
            across=across,
            feed_turn=feed_turn,
            room=around if room else "",
        )
    )
    (made,) = plan(job).plans
    return job, made


@cache
def demo_plans(name: str) -> tuple[Job, tuple[Plan, ...]]:
    """A demo with its first plan; of the run that must be split the stages of its best way."""
    job = load(MODELS / name)
    if name == "yard_run.toml":
        return job, ways_of(job, 1, job.units)[0][0]
    return job, plan(job).plans[:1]
