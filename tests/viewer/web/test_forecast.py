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
from route3d.field.forecast import Ahead, Forecaster
from route3d.field.readings import Event
from route3d.field.response import response_tables
from tests.support.pull_logs import QUAY, TERMINAL, Gauge, Readings, Snag, Truth, job_of, simulated
from viewer.web.bundle import join

pytestmark = pytest.mark.skipif(shutil.which("node") is None, reason="NO NODE: scripts are not run")

_ENTRY = """
import { addDeparture, addEvent, addReading, ahead } from "./forecast.js";
import { judge, newForecast, responseLoads } from "./forecast.js";
import { detect, loosened, newDetector } from "./departures.js";

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
const quarter = readings.filter(([at]) => at < tables.length / 4);
const before = quarter.reduce((k, [at, load]) => addReading(k, at, load), newForecast(tables));
const braked = addEvent(before, "brake", 1.4 * tables.prior.reel);
const happened = given.logs.map((log) => {
  let detector = newDetector(tables);
  return log.flatMap(([at, load]) => {
    if (load === null) {
      detector = loosened(detector, "brake");
      return [];
    }
    const told = detect(detector, at, load);
    detector = told.detector;
    return told.calls;
  });
});
const judged = readings.map(([at, load]) => judge(tables, at, load));
const rows = loads.map((x) => Array.from(x));
const told = { loads: rows, calls, half, judged, happened, braked: ahead(braked) };
process.stdout.write(JSON.stringify(told));
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


def _logs(truth: Truth, step: float) -> dict[str, list[tuple[float, float | None]]]:
    """Logs in which something happens, (place m, load N); without a load, the brake was changed."""
    readings = simulated(truth, Gauge(), 6)
    at, load = readings.pulled, readings.load
    n = len(at)
    late = at > 0.45 * truth.length
    swing = np.where(np.arange(n) % 4 < 2, 3.0, -3.0) * step
    wild, gone = load.copy(), load.copy()
    wild[n // 2] += 30.0 * step
    gone[n // 2 : n // 2 + 4] = 0.0
    there_and_back = np.where(np.arange(n) // 9 % 2 == 1, 6.0 * step, 0.0) * late
    logs = {
        "wild reading": wild,
        "far jump": load + 30.0 * step * late,
        "far jump and another": load + 30.0 * step * late + 15.0 * step * (at > 0.6 * truth.length),
        "drop": gone,
        "pulsing": load + swing * late,
        "jumps to and fro": load + there_and_back,
        "jump within pulsing": load + swing * late + 20.0 * step * (at > 0.7 * truth.length),
        "offset": load + 8.0 * step,
        "slow climb": load * (1.0 + 0.9 * at / truth.length),
    }
    rows = {
        k: list(zip(at.tolist(), np.maximum(v, 0).tolist(), strict=True)) for k, v in logs.items()
    }
    braked = rows["far jump"]
    first = int(np.argmax(late))
    rows["brake changed"] = [*braked[:first], (float(at[first]), None), *braked[first:]]
    return rows


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
        "logs": list(_logs(more, step).values()),
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
    """Within 2 %, between heads too; below a tenth of the largest load planned, of that tenth."""
    both = _both(name)
    expected = both.forecaster.response.expected
    ours = np.array(both.told["loads"])
    heads = expected.pulled
    for places, line in (
        (heads, ours),
        ((heads[1:] + heads[:-1]) / 2, (ours[1:] + ours[:-1]) / 2),
    ):
        full = expected_load(expected.pull, places).loads(
            expected.friction[:, None] * both.friction,
            expected.rope_friction * both.rope,
            both.reel,
        )
        scale = np.maximum(full, 0.1 * expected.loads().max())
        assert float((np.abs(line - full) / scale).max()) < 0.02


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
def test_departures_of_every_kind_are_called_alike(name: str) -> None:
    both = _both(name)
    more = both.truth.having(friction={k: 1.12 * mu for k, mu in both.truth.friction.items()})
    kinds: set[str] = set()
    for (what, log), told in zip(
        _logs(more, 50.0 * 4.4482216152605).items(), both.told["happened"], strict=True
    ):
        state, ours = both.detector.start(), list[Departure]()
        for at, load in log:
            if load is None:
                state = both.detector.loosened(state, "brake")
                continue
            state, called = both.detector.step(state, at, load)
            ours += called
        kinds |= {found.kind for found in ours}
        assert [x["kind"] for x in told] == [x.kind for x in ours], what
        for key, near in (("start", 1e-9), ("called", 1e-9), ("size", 5e-3), ("evidence", 1e-2)):
            figures = [getattr(x, key) for x in ours]
            assert [x[key] for x in told] == pytest.approx(figures, rel=near, abs=1e-9), (what, key)
    assert kinds >= {"jump", "slow climb", "drop", "pulsing"}


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
    _agree(ours, told)
    for line in ("low", "mid", "high"):
        apart = np.abs(np.array(told[line]) - getattr(ours, line)) / ours.mid
        assert apart.mean() < 0.025, line
    assert told["peak"] == pytest.approx(ours.peak, rel=0.02)


@BOTH
def test_forecasts_after_a_change_of_the_brake_agree(name: str) -> None:
    both = _both(name)
    known = both.forecaster.start()
    for at, load in zip(both.readings.pulled.tolist(), both.readings.load.tolist(), strict=True):
        if at < both.truth.length / 4:
            known = both.forecaster.read(known, at, load)
    force = 1.4 * both.forecaster.prior.reel
    known = both.forecaster.after(known, Event("brake", known.pulled, 0.0, "", force))
    _agree(both.forecaster.ahead(known), both.told["braked"])


def _agree(ours: Ahead, told: dict[str, Any]) -> None:
    """Two thousand scenarios each, drawn by different generators, of which some hundred may count.

    From one seed to the next an end of the band moves by 3 % of its width (standard deviation).
    """
    assert told["pulled"] == pytest.approx(ours.pulled.tolist(), abs=1e-4)
    width = np.maximum(ours.high - ours.low, 0.05 * ours.peak)
    for line in ("low", "mid", "high"):
        apart = np.abs(np.array(told[line]) - getattr(ours, line)) / width
        assert apart.max() < 0.15 and apart.mean() < 0.1, line


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
