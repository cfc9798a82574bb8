"""A large job to draw: a feeder of the ferry terminal, 1.1 km, 30 bends, 8 vaults and a bank."""

from __future__ import annotations

import math
from pathlib import Path

MODELS = Path(__file__).parents[2] / "models"
VAULTS, BENDS = 8, 30
_HEADINGS = (0, 25, 0, -40, 0, 30)
_ORIGIN = "[1200450.25, 485120.5, 31.0]"


def terminal_feeder() -> str:
    """The model file, US units: a bank that snakes along the quay and ends up the terminal's wall.

    Near its end there are offsets too short to dimension at the scale of the sheets.
    """
    head = (MODELS / "yard_run.toml").read_text().split("[[run]]")[0]
    head = head.replace(
        "Ferry terminal: yard run to berth 4", "Ferry terminal: quay feeder to berth 9"
    )
    legs = ["reel", "machine"]
    x, y, z = 0.0, 0.0, -6.0
    rows = [
        _row(x, y, z, f'name = "vault 1", access = {legs}, conduit = "duct", box = [144, 84, 90]')
    ]
    bends, heading = 0, 0.0
    for vault in range(2, VAULTS + 1):
        for turn in (25, -25, 35, -35)[: 4 if vault % 2 else 3]:
            x, y, z = _gone(x, y, z, heading, 118.0)
            rows.append(_row(x, y, z, "bend = 48"))
            heading += turn
            bends += 1
        x, y, z = _gone(x, y, z, heading, 96.0)
        rows.append(_row(x, y, z, f'name = "vault {vault}", access = {legs}, box = [144, 84, 90]'))
    for turn in (45, -45, 45, -45):  # two offsets close together
        x, y, z = _gone(x, y, z, heading, 9.0)
        rows.append(_row(x, y, z, "bend = 36"))
        heading += turn
        bends += 1
    x, y, z = _gone(x, y, z, heading, 40.0)
    rows.append(_row(x, y, z, 'bend = 48, conduit = "duct"'))
    rows.append(_row(x, y, z + 34, "bend = 48"))
    x, y, z = _gone(x, y, z + 34, heading, 25.0)
    rows.append(_row(x, y, z, f'name = "switchroom berth 9", access = {legs}'))
    assert bends + 2 == BENDS
    other = [_row(100, -60, -9.5, f'name = "pit a", access = {legs}, conduit = "duct"'),
             _row(420, 160, -9.5, "bend = 60"),
             _row(1500, 40, -9.5, f'name = "pit b", access = {legs}')]  # fmt: skip
    ground = ", ".join(
        f"[{a}, {b}, {0.6 * math.sin(a / 300) + 0.002 * b:.3f}]"
        for a in range(-400, 4800, 400)
        for b in (-1200, 0, 1200, 3600)
    )
    return head + _RUN.format(name="Q9", route=",\n  ".join(rows)) + _RUN.format(
        name="Q4", route=",\n  ".join(other)
    ) + _REST.format(origin=_ORIGIN, ground=ground)  # fmt: skip


def _gone(
    x: float, y: float, z: float, heading: float, length: float
) -> tuple[float, float, float]:
    a = math.radians(heading)
    return x + length * math.cos(a), y + length * math.sin(a), z


def _row(x: float, y: float, z: float, more: str) -> str:
    return f"{{ at = [{x:.3f}, {y:.3f}, {z:.3f}], {more} }}".replace("'", '"')


def small_riser() -> str:
    """A hand hole, 4 m, a riser of 28 m, and 3 m each way to a box on the roof; SI units."""
    return _SMALL


_SMALL = """
title = "Ferry terminal: 30 m riser"
units = "SI"
[cable.p]
diameter = 35
weight = 2.6
conductor = { metal = "copper", area = "185 mm2" }
sidewall_limit = 7300
bend_multiple = 12
[conduit.r]
type = "RMC"
trade_size = "5"
friction = 0.25
[[run]]
name = "R1"
cables = { p = 3 }
reel_tension = 200
route = [
  { at = [0, 0, -1], name = "hole H1", access = ["reel"], conduit = "r", box = [1500, 900, 900] },
  { at = [4, 0, -1], bend = 1.2 },
  { at = [4, 0, 27], bend = 1.2 },
  { at = [7, 3, 27], name = "roof box", access = ["machine"], box = [1200, 900, 600] },
]
"""
_RUN = """
[[run]]
name = "{name}"
cables = {{ phase = 3 }}
attach = "pulling eyes"
route = [
  {route}
]
"""
_REST = """
[[bank]]
run = "Q9"
rows = 2
columns = 2
spacing = [8, 8]
cover = "3 in"

[site]
origin = {origin}
crs = "EPSG:2263"
north = 20
grade = {{ points = [{ground}] }}

[[site.room]]
name = "ticket hall"
outline = [[300, 20], [420, 20], [420, 80], [300, 80]]
floor = 0

[document]
job = "Charging of berths 4 to 9"
client = "Harbor Authority"
number = "E-109"
made = "A. Engineer"
checked = "B. Engineer"
approved = "C. Engineer"
revisions = [
  {{ mark = "A", date = "2026-02-02", what = "for review", by = "A. E." }},
  {{ mark = "B", date = "2026-03-16", what = "vault 5 moved", by = "A. E." }},
  {{ mark = "0", date = "2026-05-04", what = "issued for construction", by = "B. E." }},
]
"""
