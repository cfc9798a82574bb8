"""A job for reports that has everything a line of a calculation can be."""

from __future__ import annotations

# Level, vertical and tilted bends, a pull point, riding cables, slack, a sheave that guides the
# cables, and a crest in which the tension peaks.
MODEL = """
title = "Ferry terminal: <b>feeders</b> & \\"more\\""
units = "SI"
[document]
client = "Harbor Authority"
number = "K-7"
made = "A. Engineer"
revisions = [{ mark = "A", date = 2026-04-12, what = "for comment" },
             { mark = "B", date = 2026-05-04, what = "tilted bends", by = "A. E." }]
[cable.phase]
diameter = 40
weight = 2.1
conductor = { metal = "copper", area = "185 mm2" }
sidewall_limit = 40000
bend_multiple = 12
[cable.earth]
diameter = 14
weight = 0.6
conductor = { metal = "copper", area = "16 mm2" }
sidewall_limit = 40000
bend_multiple = 8
[conduit.duct]
inner_diameter = 132
outer_diameter = 140
friction = 0.12
[conduit.riser]
inner_diameter = 150
outer_diameter = 160
friction = { value = 0.15, low = 0.1, high = 0.2, source = "measured 2025" }
[rope.line]
diameter = 14
weight = 0.12
friction = 0.15
rated_load = "25 kN"
stretch = 0.012
[machine.winch]
gears = [{ line_pull = "20 kN", speed = 6 }]
envelope = [1.2, 0.8, 1.1]
[sheave.corner]
radius = 1
rating = "50 kN"
efficiency = 0.95
[[run]]
name = "A1"
cables = { phase = 3, earth = 1 }
rope = "line"
machine = "winch"
route = [
  { at = [0, 0, 0], name = "pit", access = ["reel", "machine"], conduit = "duct" },
  { at = [20, 0, 0], bend = 1.2 },
  { at = [20, 15, 0], bend = 1.5, name = "ramp" },
  { at = [20, 30, 6], bend = 1.5 },
  { at = [32, 36, 6], name = "chamber", access = ["reel", "machine"], sheave = "corner" },
  { at = [60, 36, 6], bend = 1.2, conduit = "riser" },
  { at = [60, 36, 20], bend = 1.2 },
  { at = [70, 36, 20], bend = 1.2 },
  { at = [78, 36, 17], name = "switchroom", access = ["reel", "machine"] },
]
[[run]]
name = "A2"
cables = { phase = 1 }
reel_tension = 0
route = [
  { at = [0, 9, 12], name = "roof", access = ["reel", "machine"], conduit = "duct" },
  { at = [1.7, 9, 12], bend = 1.2 },
  { at = [1.7, 9, 0], bend = 1.2 },
  { at = [30, 9, 0], name = "yard", access = ["reel", "machine"] },
]
[practice]
rules = "none"
"""
