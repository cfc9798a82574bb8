"""Scenarios of the spread of the demo: time of solving and memory, in a process of their own."""

from __future__ import annotations

import json
import subprocess
import sys
from collections.abc import Callable

import pytest

pytestmark = pytest.mark.benchmarks

_MEASURE = """
import json, resource, time
from dataclasses import replace
import route3d
from route3d.model.spread import SpreadAmount, SpreadInputs, UncertainInput
from route3d.planning.result import evaluate_run
from route3d.study.spread import analysis

spent, count, own = 0.0, 0, analysis._Study.solved

def timed(self, values, *more, **named):
    global spent, count
    start = time.process_time()
    found = own(self, values, *more, **named)
    spent += time.process_time() - start
    count += values.shape[1]
    return found

analysis._Study.solved = timed
job = route3d.load("models/riser_duct_bank.toml")
share = lambda kind, of, low, high: UncertainInput(
    kind, of, "lognormal", SpreadAmount(low, True), SpreadAmount(high, True)
)
inputs = [
    share("friction", "", 0.6, 1.3), share("cable weight", "phase", 0.95, 1.05),
    share("reel drag", "", 0.5, 2.0),
]
if {geometry}:
    inputs += [share("bend radius", "", 0.95, 1.05), share("cable diameter", "phase", 0.98, 1.02)]
result = evaluate_run(job.runs[0], job.practice)
found = analysis.spread_of(result, SpreadInputs(tuple(inputs)), wanted=1e-5, most={most})
peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
print(json.dumps([spent, count, found.count, peak]))
"""


@pytest.mark.parametrize(
    ("geometry", "most", "of", "yards_at_most"),
    [(False, 131_072, 100_000, 11.0), (True, 2_048, 2_000, 75.0)],
    ids=["100,000 of friction, weight and drag", "2,000 of geometry"],
)
def test_scenarios_of_the_demo(
    geometry: bool, most: int, of: int, yards_at_most: float, yards: Callable[[float], float]
) -> None:
    """The aims are 0.5 s on two cores, 1 s of processor time, and 10 s."""
    words = _MEASURE.replace("{geometry}", str(geometry)).replace("{most}", str(most))
    done = subprocess.run([sys.executable, "-c", words], capture_output=True, text=True, check=True)
    spent, count, kept, peak = json.loads(done.stdout)
    seconds = spent / count * of
    print(f"\n  {of:,} scenarios: {seconds:.2f} s of processor time; peak {peak:.0f} MB", end="")
    assert kept == most
    assert yards(seconds) < yards_at_most
    assert peak < 400
