"""The browser forecasts, judges and calls departures as Python does, from its tables."""

from __future__ import annotations

import gzip
import json
import shutil
import subprocess
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from route3d.api import plan
from route3d.field.departures import Departure, Detector, load_response, usual_noise
from route3d.field.expected import expected_load
from route3d.field.forecast import Forecaster
from route3d.field.response import response_tables
from tests.support.pull_logs import QUAY, TERMINAL, Gauge, Readings, Snag, Truth, job_of, simulated
from viewer.web.bundle import join

pytestmark = pytest.mark.skipif(shutil.which("node") is None, reason="NO NODE: scripts are not run")

_ENTRY = """
import { addDeparture, addReading, ahead, judge, newForecast, responseLoads } from "./forecast.js";
import { detect, newDetector } from "./departures.js";

const given = JSON.parse(require("fs").readFileSync(0, "utf8"));
const { tables, friction, rope, reel, readings } = given;
const typed = (list) => Float64Array.from(list);
const loads = responseLoads(tables.response, friction.map(typed), typed(rope), typed(reel));
let detector = newDetector(tables);
let forecast = newForecast(tables);
const calls = [];
let half = null;
for (const [at, load] of readings) {
  const told = detect(detector, at, load);
  detector = told.detector;
  calls.push(...told.calls);
  if (at > tables.length / 2) {
    half = half || ahead(forecast);
    continue;
  }
  forecast = addReading(forecast, at, load);
  for (const call of told.calls) forecast = addDeparture(forecast, call);
}
const judged = readings.map(([at, load]) => judge(tables, at, load));
const rows = loads.map((x) => Array.from(x));
process.stdout.write(JSON.stringify({ loads: rows, calls, half, judged }));
"""


@dataclass(frozen=True)
class Both:
    """One pull in Python, and what the browser's modules made of the same numbers."""

    truth: Truth
    forecaster: Forecaster
    detector: Detector
    readings: Readings
    friction: np.ndarray[Any, Any]
    rope: np.ndarray[Any, Any]
    reel: np.ndarray[Any, Any]
    tables: str
    told: dict[str, Any]


TRUTHS = {"terminal": TERMINAL, "quay": QUAY}


@cache
def _both(name: str) -> Both:
    """Readings with more friction than planned, and a snag."""
    truth = TRUTHS[name]
    job = job_of(truth)
    step = 50.0 * 4.4482216152605
    planned = plan(job, feed=truth.feed).plans[0]
    forecaster = Forecaster.of(planned, step)
    more = truth.having(friction={name: 1.12 * mu for name, mu in truth.friction.items()})
    gauge = Gauge(snags=(Snag(0.3 * truth.length, 0.35),))
    readings = simulated(more, gauge, 5)
    random = np.random.default_rng(4)
    c = len(forecaster.response.expected.conduits)
    spread = random.normal(0.0, 0.25, (c + 2, 300))
    ratios = np.exp(np.clip(spread, -1.0, 1.0))
    tables = json.dumps(response_tables(planned, step), separators=(",", ":"))
    given = {
        "tables": json.loads(tables),
        "friction": ratios[:c].tolist(),
        "rope": ratios[c].tolist(),
        "reel": (forecaster.prior.reel * ratios[c + 1]).tolist(),
        "readings": np.column_stack((readings.pulled, readings.load)).tolist(),
    }
    app = files("viewer.web") / "app"
    modules = {name: (app / name).read_text("utf-8") for name in ("forecast.js", "departures.js")}
    script = join({**modules, "entry.js": _ENTRY}, "entry.js")
    ran = subprocess.run(
        ["node", "-e", script], input=json.dumps(given), capture_output=True, text=True, check=True
    )
    detector = Detector(load_response(forecaster.response.expected, step), usual_noise(step))
    friction, rope, reel = ratios[:c], ratios[c], forecaster.prior.reel * ratios[c + 1]
    return Both(
        truth, forecaster, detector, readings, friction, rope, reel, tables, json.loads(ran.stdout)
    )


BOTH = pytest.mark.parametrize("name", list(TRUTHS))


@BOTH
def test_loads_are_those_of_the_full_solver(name: str) -> None:
    """Within 2 %; below a tenth of the largest load planned, of that tenth.

    Between heads all but one in a thousand: where a cable goes slack and taut again between two
    heads, a straight line cuts that corner.
    """
    both = _both(name)
    expected = both.forecaster.response.expected
    full = expected.loads(
        expected.friction[:, None] * both.friction, expected.rope_friction * both.rope, both.reel
    )
    ours = np.array(both.told["loads"])
    scale = np.maximum(full, 0.1 * expected.loads().max())
    assert float((np.abs(ours - full) / scale).max()) < 0.02
    between = (expected.pulled[1:] + expected.pulled[:-1]) / 2
    full = expected_load(expected.pull, between).loads(
        expected.friction[:, None] * both.friction, expected.rope_friction * both.rope, both.reel
    )
    scale = np.maximum(full, 0.1 * expected.loads().max())
    middle = (ours[1:] + ours[:-1]) / 2
    assert float(np.quantile(np.abs(middle - full) / scale, 0.999)) < 0.02


@BOTH
def test_readings_are_judged_alike(name: str) -> None:
    both = _both(name)
    pairs = zip(both.readings.pulled.tolist(), both.readings.load.tolist(), strict=True)
    for (at, load), told in zip(pairs, both.told["judged"], strict=True):
        ours = both.forecaster.limits.judge(at, load)
        assert (told["state"], told["gear"], told["accurate"]) == (
            ours.state,
            ours.gear,
            ours.accurate,
        )
        figures = [told[f"{key}_N"] for key in ("margin", "expected", "caution", "stop")]
        wanted = [ours.margin, ours.expected, ours.caution, ours.stop]
        assert figures == pytest.approx(wanted, rel=1e-4, abs=1.0)


@BOTH
def test_departures_are_called_alike(name: str) -> None:
    both = _both(name)
    state, ours = both.detector.start(), list[Departure]()
    for at, load in zip(both.readings.pulled.tolist(), both.readings.load.tolist(), strict=True):
        state, called = both.detector.step(state, at, load)
        ours += called
    told = both.told["calls"]
    assert any(found.kind == "jump" for found in ours)
    assert [(x["kind"], x["called"]) for x in told] == [(x.kind, x.called) for x in ours]
    assert [x["size"] for x in told] == pytest.approx([x.size for x in ours], rel=1e-3)


@BOTH
def test_forecasts_agree(name: str) -> None:
    """Two thousand scenarios each, drawn by different generators."""
    both = _both(name)
    known, state = both.forecaster.start(), both.detector.start()
    for at, load in zip(both.readings.pulled.tolist(), both.readings.load.tolist(), strict=True):
        if at > both.truth.length / 2:
            break
        state, called = both.detector.step(state, at, load)
        known = both.forecaster.read(known, at, load)
        for found in called:
            known = both.forecaster.departed(known, found)
    ours, told = both.forecaster.ahead(known), both.told["half"]
    assert told["pulled"] == pytest.approx(ours.pulled.tolist(), abs=1e-4)
    width = ours.high - ours.low
    for line in ("low", "mid", "high"):
        apart = np.abs(np.array(told[line]) - getattr(ours, line))
        assert float((apart / np.maximum(width, 0.05 * ours.peak)).max()) < 0.25, line
        assert float(np.mean(apart / ours.mid)) < 0.025, line
    assert told["peak"] == pytest.approx(ours.peak, abs=0.25 * float(width.max()))


@BOTH
def test_tables_are_small(name: str) -> None:
    tables = _both(name).tables.encode()
    assert len(tables) < 150_000
    assert len(gzip.compress(tables)) < 50_000


def test_no_name_of_these_modules_is_taken(tmp_path: Path) -> None:
    """Modules of the page share one scope."""
    app = files("viewer.web") / "app"
    modules = {f.name: f.read_text("utf-8") for f in app.iterdir() if f.name.endswith(".js")}
    entry = 'import { judge } from "./forecast.js";\nimport { detect } from "./departures.js";\n'
    join({**modules, "all.js": entry + 'import {} from "./main.js";\n'}, "all.js")
