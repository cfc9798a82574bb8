"""A whole job of twelve runs: charging feeders of a ferry terminal's berths, as a workbook.

All of it is invented. Berths 1 to 6 are by legs, 7 to 12 by points; runs grow longer from berth to
berth, so that a table of them has something to sort. ``models/berths.xlsx`` is this, written by

    python -m tests.support.berths
"""

from __future__ import annotations

from pathlib import Path
from typing import Any

import route3d
from route3d.disk import write_bytes_atomic
from route3d.modelfile.workbook.writing import workbook_of

BERTHS_XLSX = Path(route3d.__file__).parents[1] / "models" / "berths.xlsx"


def berths_data() -> dict[str, Any]:
    """The data of the job, as a model file has it."""
    return {
        "title": "Ferry terminal: charging feeders of berths 1 to 12",
        "units": "US",
        "practice": {"rules": "NFPA 70", "edition": "2023"},
        "cable": {
            "phase": {
                "stock": "15 kV EPR 133% copper 350 kcmil tape shield",
                "sidewall_limit": 500,
                "about": "phase conductor",
            },
            "ground": {
                "about": "4/0 AWG copper, 600 V, green, invented weight",
                "diameter": 0.642,
                "weight": 0.75,
                "conductor": {"metal": "copper", "area": "4/0 AWG"},
                "sidewall_limit": 500,
                "bend_multiple": 8,
                "main": False,
            },
        },
        "conduit": {
            "duct": {"type": "PVC-40", "trade_size": "5", "friction": 0.25},
            "riser": {"type": "RMC", "trade_size": "5", "friction": 0.3},
        },
        "rope": {
            "line": {
                "diameter": 0.75,
                "weight": 0.16,
                "friction": 0.15,
                "rated_load": 9000,
                "stretch": 0.012,
            }
        },
        "machine": {
            "puller": {
                "gears": [
                    {"name": "high", "line_pull": 3500, "speed": 35},
                    {"name": "low", "line_pull": 7500, "speed": 14},
                ],
                "envelope": [3.5, 2.5, 4.5],
                "weight": 650,
                "boom_rating": 11000,
                "line_height": 2.5,
            }
        },
        "rigging": {"head": {"swivel_rating": 9000, "eye_rating": 8000}},
        "anchor": {
            "truck": {"kind": "vehicle", "weight": 9000, "friction": 0.5, "drawbar_rating": 8000}
        },
        "reel": {
            "berth": {"weight": 2800, "diameter": 72, "width": 46, "sheave_radius": 24},
        },
        "run": [_run(number) for number in range(1, 13)],
    }


def _run(number: int) -> dict[str, Any]:
    run: dict[str, Any] = {
        "name": f"B{number}",
        "cables": {"phase": 3, "ground": 1},
        "rope": "line",
        "machine": "puller",
        "rigging": "head",
        "anchor": "truck",
        "reel": "berth",
    }
    east, north, rise = 120 + 25 * number, 60 + 12 * number, 14 + number
    x, vault = 10 * number, f"vault V{number}"
    charger = f"berth {number} charger"
    if number <= 6:
        run["legs"] = [
            f"start {vault} at {x}, 0, -5 heading east in duct for reel and machine",
            f"{east} ft",
            "left 90 at 48 in",
            f"{north} ft",
            "up 90 at 48 in",
            f"{rise} ft in riser",
            "turn to heading east at 36 in",
            "12 ft",
            f"end {charger} for reel and machine",
        ]
        return run
    both = ["reel", "machine"]
    run["route"] = [
        {"at": [x, 0, -5], "name": vault, "access": both, "conduit": "duct"},
        {"at": [x + east, 0, -5.5], "bend": 48},
        {"at": [x + east, north, -5.5], "bend": 48, "conduit": "riser"},
        {"at": [x + east, north, rise - 5], "bend": 36},
        {"at": [x + east + 12, north, rise - 5], "name": charger, "access": both},
    ]
    if number >= 10:  # the far berths have a vault on the way
        middle = {"at": [x + east / 2, 0, -5.25], "name": f"pull vault P{number}", "access": both}
        run["route"].insert(1, {**middle, "box": [144, 72, 84]})
    return run


def berths_xlsx() -> bytes:
    """The job as a workbook; the same bytes each time."""
    return workbook_of(berths_data())


if __name__ == "__main__":
    write_bytes_atomic(BERTHS_XLSX, berths_xlsx())
