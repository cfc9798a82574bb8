"""Speed and memory; run with ``pytest -s -m benchmarks`` on a quiet machine."""

from __future__ import annotations

import math
import os
import resource
import statistics
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path as FilePath
from time import process_time

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.integrate import solve_ivp

from route3d.geometry import Path, fillet
from route3d.geometry.fillet import route_path
from route3d.mechanics.pull import run_fits, solve_pull
from route3d.mechanics.scenarios import Scenarios, conduits_of, scenario_loads
from route3d.mechanics.tension import integrate
from route3d.model import Job
from route3d.modelfile.read import load
from route3d.planning.evaluate import evaluate
from route3d.study.limits.study import job_limits
from tests.benchmarks.conftest import Timing
from viewer.web.page_data import page_data

pytestmark = pytest.mark.benchmarks
ROOT = FilePath(__file__).parents[2]
UP = np.array([0.0, 0.0, 1.0])
Rate = Callable[[float, NDArray[np.float64]], NDArray[np.float64] | list[float]]


def say(text: str) -> None:
    print(f"\n  {text}", end="")


def seconds(work: Callable[[], object], times: int) -> float:
    """The least processor time of ``times`` calls, after one that warms up."""
    work()
    spent = []
    for _ in range(times):
        start = process_time()
        work()
        spent.append(process_time() - start)
    return min(spent)


def twenty_bends() -> Path:
    """21 straights and 20 bends of up to 90 degrees, every way up."""
    rng = np.random.default_rng(1)
    points, t = [np.zeros(3)], np.array([1.0, 0.0, 0.1])
    for _ in range(21):
        t = t / np.linalg.norm(t)
        points.append(points[-1] + t * rng.uniform(8, 30))
        n = rng.normal(size=3)
        n -= (n @ t) * t
        angle = rng.uniform(0.02, 1.6)
        t = math.cos(angle) * t + math.sin(angle) * n / np.linalg.norm(n)
    return fillet(points, [0.0, *rng.uniform(0.5, 3.0, 20), 0.0])


def literal(path: Path, i: int, w: float, k: float) -> Rate:
    """The law of docs/theory.md section 2 with t, n and q as vectors."""
    t0, n0 = path.tangents[i], path.normals[i]
    curvature = path.angles[i] / path.lengths[i]

    def rate(s: float, tension: NDArray[np.float64]) -> NDArray[np.float64]:
        c, d = np.cos(s * curvature), np.sin(s * curvature)
        t, n = c * t0 + d * n0, c * n0 - d * t0
        q = tension * curvature * n - w * (UP - (UP @ t) * t)
        return np.array([w * (UP @ t) + k * np.linalg.norm(q)])

    return rate


def simplified(path: Path, i: int, w: float, k: float) -> Rate:
    """The same law, worked by hand down to plain floats."""
    t0, n0 = path.tangents[i], path.normals[i]
    tz, nz = float(t0[2]), float(n0[2])
    curvature = float(path.angles[i] / path.lengths[i])
    b = w * float(t0[0] * n0[1] - t0[1] * n0[0])
    flat = w * (tz + k * math.hypot(t0[0], t0[1]))

    def straight(s: float, tension: NDArray[np.float64]) -> list[float]:
        return [flat]

    def bend(s: float, tension: NDArray[np.float64]) -> list[float]:
        c, d = math.cos(s * curvature), math.sin(s * curvature)
        across = tension[0] * curvature - w * (nz * c - tz * d)
        return [w * (tz * c + nz * d) + k * math.hypot(across, b)]

    return bend if curvature else straight


def reference(
    path: Path, law: Callable[[Path, int, float, float], Rate], w: float, k: float, start: float
) -> list[float]:
    tensions = [start]
    for i in range(len(path)):
        rate, span = law(path, i, w, k), (0.0, path.lengths[i])
        end = solve_ivp(rate, span, tensions[-1:], method="DOP853", rtol=1e-8, atol=1e-6)
        tensions.append(max(float(end.y[0, -1]), 0.0))
    return tensions


def test_one_pull_both_ways_against_a_general_solver(timed: Timing) -> None:
    path, w, k, start = twenty_bends(), 60.0, 0.15, 5000.0
    back = path.reversed()
    assert len(path) == 41

    def ours() -> list[NDArray[np.float64]]:
        return [integrate(path, w, k, 1.0, start, reverse=reverse)[1] for reverse in (False, True)]

    def theirs(law: Callable[[Path, int, float, float], Rate]) -> list[list[float]]:
        return [reference(p, law, w, k, start) for p in (path, back)]

    for law in (literal, simplified):  # the same answer, or the race means nothing
        for mine, other in zip(ours(), theirs(law), strict=True):
            assert np.abs(mine - other).max() <= 1e-6 * mine.max()
            assert mine.min() > 0
    slow, fast = (seconds(lambda law=law: theirs(law), 5) for law in (literal, simplified))  # type: ignore[misc]

    def beside(own: float) -> str:
        return (
            f"{slow / own:.0f} times as fast as DOP853 on the law written in vectors, "
            f"{fast / own:.0f} times a right side simplified by hand"
        )

    own = timed("one pull", ours, 200, note=beside)
    say(f"41 segments, both ways: {own * 1e3:.3f} ms; {beside(own)}")
    assert slow / own >= 100


def test_a_hundred_thousand_scenarios_both_ways(
    timed: Timing, yards: Callable[[float], float]
) -> None:
    path, n = twenty_bends(), 100_000
    rng = np.random.default_rng(2)
    w, mu, start = rng.uniform(50, 100, n), rng.uniform(0.1, 0.3, n), rng.uniform(3e3, 6e3, n)

    def work() -> None:
        for reverse in (False, True):
            integrate(path, w, mu, 1.2, start, reverse=reverse)

    spent = timed("kernel", work)
    say(f"100,000 scenarios of 41 segments, both ways: {spent:.3f} s")
    assert yards(spent) <= 5


def test_a_hundred_thousand_scenarios_of_a_demo_both_ways(yards: Callable[[float], float]) -> None:
    job = load(ROOT / "models" / "riser_duct_bank.toml")
    run, n, rng = job.runs[0], 100_000, np.random.default_rng(4)
    pulls = [solve_pull(run, job.practice, reverse=reverse) for reverse in (False, True)]
    given = Scenarios(
        rng.uniform(0.15, 0.5, (len(conduits_of(run)), n)),
        run.cables.weight * rng.uniform(0.95, 1.05, n),
        pulls[0].reel_tension * rng.uniform(0.7, 1.5, n),
    )
    spent = seconds(lambda: [scenario_loads(pull, given) for pull in pulls], 5)
    say(f"100,000 scenarios of friction, weight and drag of a demo, both ways: {spent:.3f} s")
    assert yards(spent) <= 5


def many_bends(n: int) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    rng = np.random.default_rng(3)
    aside = rng.normal(scale=0.3, size=(2, n + 2))
    points = np.cumsum([10 + rng.random(n + 2), *aside], axis=1).T
    radii = np.full(n + 2, 5.0)
    radii[[0, -1]] = 0.0
    return points, radii


def test_ten_thousand_bends_and_twice_as_many(
    timed: Timing, yards: Callable[[float], float]
) -> None:
    def both_ways(points: NDArray[np.float64], radii: NDArray[np.float64]) -> None:
        path = fillet(points, radii)
        for reverse in (False, True):
            integrate(path, 88.0, 0.01, reverse=reverse)

    half, whole = many_bends(10_000), many_bends(20_000)
    twice = seconds(lambda: both_ways(*whole), 5)
    spent = [
        timed(
            "many bends",
            lambda: both_ways(*half),
            note=lambda one: f"20,000 take {twice / one:.1f} times as long",
        ),
        twice,
    ]
    say(f"10,000 bends, fillet and both ways: {spent[0]:.3f} s; 20,000: {spent[1]:.3f} s")
    say(f"({spent[1] / spent[0]:.2f}x)")
    assert yards(spent[0]) <= 5
    assert spent[1] <= 2.6 * spent[0]


# --- the demo job ---------------------------------------------------------------------------------


def demo() -> Job:
    return load(ROOT / "models/riser_duct_bank.toml")


def test_the_demo_run_solved_from_both_ends(timed: Timing) -> None:
    job = demo()
    run, path = job.runs[0], route_path(job.runs[0].route)
    fits = run_fits(run)

    def work() -> None:
        for reverse in (False, True):
            assert solve_pull(run, job.practice, reverse=reverse, path=path, fits=fits).peaks

    say(f"solved from both ends: {timed('riser', work, 20) * 1e3:.1f} ms")


def test_the_demo_job_evaluated(timed: Timing) -> None:
    job = demo()

    def work() -> None:
        (found,) = evaluate(job, with_remedies=False).runs
        assert found.decision.why and not found.stops

    say(f"evaluated: {timed('evaluate', work, 20) * 1e3:.1f} ms")


def test_how_far_friction_may_go_in_the_demo_job(timed: Timing) -> None:
    job = demo()
    say(f"limits: {timed('limits', lambda: job_limits(job, ('friction',))):.2f} s")


def test_the_data_of_the_page_of_the_demo_job(timed: Timing) -> None:
    job = demo()
    runs = evaluate(job).runs
    spent = timed("page data", lambda: page_data(runs, job, "US", "auto"), 3)
    say(f"page data: {spent:.2f} s")


# Linux counts the parent's memory at the moment of the start towards the child's peak, so a small
# process starts the measured one; pytest, with arrays of the tests before, would be what we see.
LAUNCHER = """
import os, subprocess, sys
child = subprocess.Popen([sys.executable, *sys.argv[1:]], stdout=subprocess.DEVNULL)
_, status, usage = os.wait4(child.pid, 0)
child.returncode = os.waitstatus_to_exitcode(status)
print(child.returncode, usage.ru_utime + usage.ru_stime, usage.ru_maxrss)
"""


def process(*arguments: str) -> tuple[float, float]:
    """Processor time in s and greatest resident memory in MB of a Python process that ends well."""
    command = [sys.executable, "-S", "-c", LAUNCHER, *arguments]
    # As installed: compiled modules are kept, unless the machine is told not to.
    kept = {k: v for k, v in os.environ.items() if k != "PYTHONDONTWRITEBYTECODE"}
    told = subprocess.run(command, cwd=ROOT, capture_output=True, text=True, check=True, env=kept)
    code, spent, peak = told.stdout.split()
    assert code in "01", told.stderr
    unit = 1 if sys.platform == "darwin" else 1024  # ru_maxrss: bytes there, KiB on Linux
    return float(spent), float(peak) * unit / 1e6


# As a plain install, which has no scipy: pint and trimesh load it on sight where it is.
PLAIN = "import sys; sys.modules['scipy'] = None; "
COMMAND = PLAIN + "sys.argv[0] = 'route3d'; from route3d.__main__ import run; run()"

# Times ``import numpy, pint``, with a tenth above what was measured: 1.5 is aimed at for tension, 2
# for the others. The yard run does not pass: what would make it pass is looked for and solved.
COMMANDS = {
    ("tension", "riser_duct_bank"): 2.3,
    ("check", "riser_duct_bank"): 2.4,
    ("check", "roof_drop"): 2.4,
    ("check", "yard_run"): 4.5,
    ("bends", "riser_duct_bank"): 2.8,
    ("bends", "roof_drop"): 2.8,
    ("bends", "yard_run"): 6.0,
    ("plan", "riser_duct_bank"): 3.2,
    ("plan", "roof_drop"): 3.7,
    ("plan", "yard_run"): 6.5,
}


@pytest.mark.parametrize(("command", "model"), COMMANDS)
def test_a_command_from_start_to_end(command: str, model: str) -> None:
    ours, plain = [], []
    for _ in range(8):  # turn and turn about, so that a busy moment meets both; the first warms up
        plain.append(process("-c", PLAIN + "import numpy, pint"))
        ours.append(process("-c", COMMAND, command, f"models/{model}.toml"))
    ratio = statistics.median(a / b for (a, _), (b, _) in zip(ours[1:], plain[1:], strict=True))
    own, base = (min(t for t, _ in runs[1:]) for runs in (ours, plain))
    memory = max(m for _, m in ours)
    say(f"route3d {command} {model}: {own:.3f} s, {memory:.0f} MB; import numpy, pint: {base:.3f}")
    say(f"({ratio:.2f}x)")
    assert ratio <= COMMANDS[command, model]
    assert memory < 150


def children_seconds() -> float:
    """Processor time of the processes that this one has started and that have ended."""
    spent = resource.getrusage(resource.RUSAGE_CHILDREN)
    return spent.ru_utime + spent.ru_stime


@pytest.mark.benchmark(timer=children_seconds)
@pytest.mark.parametrize(
    ("figure", "code"),
    [("start", PLAIN + "import route3d.cli.main"), ("command", COMMAND)],
    ids=["start", "command"],
)
def test_a_process_from_start_to_end(figure: str, code: str, timed: Timing) -> None:
    words = ["tension", "models/riser_duct_bank.toml"] if figure == "command" else []
    command = [sys.executable, "-c", code, *words]
    spent = timed(
        figure, lambda: subprocess.run(command, cwd=ROOT, check=True, stdout=subprocess.DEVNULL)
    )
    say(f"{figure}: {spent:.3f} s")
