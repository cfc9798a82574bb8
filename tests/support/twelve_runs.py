"""A job of twelve runs as the text of a model file: feeders of a ferry terminal's charging yard."""

from __future__ import annotations

from collections.abc import Iterable

TITLE = "Ferry terminal: charging feeders, berths 1 to 6"
_HEAD = f"""\
title = "{TITLE}"
units = "US"

[practice]
rules = "NFPA 70"
edition = "2023"

[cable.phase]
diameter = 1.387
weight = 1.795
conductor = {{ metal = "copper", area = "350 kcmil" }}
sidewall_limit = 500
bend_multiple = 12

[cable.ground]
diameter = 0.55
weight = 0.42
conductor = {{ metal = "copper", area = "2/0 AWG" }}
sidewall_limit = 500
bend_multiple = 8

[conduit.duct]
type = "PVC-40"
trade_size = "5"
friction = 0.25

[rope.line]
diameter = 0.75
weight = 0.16
friction = 0.15
rated_load = 9000
stretch = 0.012

[machine.puller]
gears = [{{ line_pull = 3500, speed = 35 }}, {{ line_pull = 7500, speed = 14 }}]
"""
_RUN = """
[[run]]
name = "{name}"
cables = {cables}
{equipment}route = [
  {{ at = [0, {y}, 0], name = "substation", access = ["reel", "machine"], conduit = "duct" }},
  {{ at = [{x}, {y}, 0], bend = {bend} }},
  {{ at = [{x}, {far}, 0], bend = {bend} }},
  {{ at = [{end}, {far}, 0], name = "berth {berth}", access = ["reel", "machine"] }},
]
"""
_EQUIPPED = 'rope = "line"\nmachine = "puller"\n'


def twelve_runs(berths: Iterable[int] = range(1, 7)) -> str:
    """Two feeders to each of six berths, farther each time; B6B exceeds its sidewall limit.

    B1B names no rope or machine. ``berths`` are those wanted.
    """
    runs = []
    for berth in berths:
        for circuit in "AB":
            tight = berth == 6 and circuit == "B"
            x = 90 * berth + (10 if circuit == "B" else 0)
            runs.append(
                _RUN.format(
                    name=f"B{berth}{circuit}",
                    cables="{ phase = 3, ground = 1 }" if circuit == "A" else "{ phase = 3 }",
                    equipment="" if (berth, circuit) == (1, "B") else _EQUIPPED,
                    y=20 * berth + (8 if circuit == "B" else 0),
                    far=20 * berth + 120,
                    x=x,
                    end=x + (400 if tight else 60),
                    bend=24 if tight else 48,
                    berth=berth,
                )
            )
    return _HEAD + "".join(runs)
