"""The pull as plain data for a browser, in SI, and the units it prints them in."""

from __future__ import annotations

import math
from typing import Any

import numpy as np

from route3d.geometry.vectors import Floats
from route3d.model.machine import Machine
from route3d.model.run import Run
from route3d.planning.pull_plan.gauge import GaugeRow
from route3d.planning.pull_plan.progress import gear_name
from route3d.quantities import QUANTITIES
from route3d.units import SYSTEMS, convert, unit_label
from viewer.playback import Playback

Data = dict[str, Any]

# What a page prints itself; everything else comes to it as text.
_SHOWN = ("force", "sidewall", "length", "percent")


def film_data(film: Playback, run: Run) -> Data:
    """The frames: null where nothing is known.

    ``limit`` is the load to stay below, ``gearLimit`` that of the gear in use, and ``stops`` says
    whether the first is a stop load of the plan. ``rows`` are those of its gauge table: the
    headline is of one row each, for the place now and for the next one, and readings typed into the
    log are judged by them. ``limitWords`` names the limit, ``stop`` is the stop load alone,
    whatever the gear.
    """
    return {
        "station": numbers(film.station),
        "load": numbers(film.load),
        "limit": numbers(film.least),
        "stop": numbers(film.stop),
        "gearLimit": numbers(film.limit),
        "governs": [film.governs(i) for i in range(len(film))],
        "stops": film.stop_known,
        "limitWords": _limit_words(film),
        "over": film.over.tolist(),
        "rows": [_row(row, run.machine) for row in film.rows],
        "lacking": film.lacking,
        "gear": film.gear.tolist(),
        "elapsed": numbers(film.elapsed),
        "headTension": numbers(film.head_tension),
        "peakSidewall": numbers(film.peak_sidewall),
        "rope": None if run.rope is None else run.rope.rated_load,
    }


def _row(row: GaugeRow, machine: Machine | None) -> Data:
    names = ("pulled", "expected", "low", "caution", "stop", "firstMove", "firstStop")
    given = (row.pulled, row.expected, row.expected_low, row.caution, row.stop)
    first = (math.nan if value is None else value for value in (row.first_move, row.first_stop))
    return {
        **dict(zip(names, numbers(np.array([*given, *first])), strict=True)),
        "place": row.place,
        "kind": row.kind,
        "gear": "" if row.gear is None or machine is None else gear_name(row.gear, machine),
        "readable": row.readable,
    }


def _limit_words(film: Playback) -> str:
    if film.stop_known:
        return "Do not exceed"
    return "Gear limit" if film.gear_words else "Machine line pull"


def numbers(values: Floats) -> list[float | None]:
    """Seven digits of each number, as many as are ever printed; null where there is none."""
    flat = np.asarray(values, dtype=np.float64).ravel().tolist()
    return [float(f"{v:.7g}") if math.isfinite(v) else None for v in flat]


def unit_table() -> Data:
    """For each quantity the page prints: the unit, its size in SI and the decimals, by system."""
    return {
        quantity: {
            system: {
                "unit": unit_label(quantity, system),
                "per": convert(1.0, quantity, system),
                "decimals": QUANTITIES[quantity].decimals[system],
            }
            for system in SYSTEMS
        }
        for quantity in _SHOWN
    }
