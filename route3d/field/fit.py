"""Friction, reel tension and tare that the logs of a job are best explained by, and how well.

The expected load is the full pull model (``field.expected``), never an approximation of it. What is
unknown: the friction of each conduit (for each lubricant, where the logs name more than one), one
for all logs; the friction of the rope; and for each log its tare, and the reel tension between two
changes of the brake. The gauge's residuals are correlated along the cable and rounded to the marks
of the dial (``field.noise``).

1. Start values: robust least squares (soft L1) of the readings as they are.
2. Standard deviation and reach of the noise by restricted maximum likelihood, which counts what the
   unknowns took (H. D. Patterson, R. Thompson, Biometrika 58, 1971, 545-554, from memory), then
   generalized least squares at it; the two in turn.
3. Stretches whose level the noise does not explain, such as a snag, get a level of their own
   (intervention analysis: C. Chen, L.-M. Liu, Journal of the American Statistical Association 88,
   1993, 284-297, from memory), so that they bias nothing.
4. Intervals by profile likelihood, every other unknown fitted anew at each end, with the quantile
   of Student's t for the number of readings that the correlation leaves independent.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from route3d.errors import InputError, Problem
from route3d.field.estimate import Estimate
from route3d.field.expected import ExpectedLoad, expected_load
from route3d.field.log.cleaning import ABOVE_MACHINE
from route3d.field.log.rows import BEYOND
from route3d.field.noise import Noise
from route3d.field.other_end import other_end
from route3d.field.readings import PullLog
from route3d.geometry.vectors import Floats
from route3d.mechanics.pull import Pull
from route3d.model.conduit import Conduit
from route3d.model.job import Job
from route3d.planning.direction import Candidate
from route3d.planning.result import evaluate_run

LUBRICATED = ", lubricant "
"""Between conduit and lubricant in the name of a friction, where the logs name several."""
FEWEST = 8
"""Readings that a log must have to be fitted."""
MOST, APART = 160, 0.1
"""Readings of one log that are used, evenly spaced along the cable and no nearer than this (m):
more of them say little new."""
FRICTION_BOUNDS = (0.02, 1.5)
"""Friction of a conduit or rope outside of this is no friction (our judgment)."""
ROPE_SPREAD, BRAKE_SPREAD = 0.2, 0.15
"""How well the friction of the rope is known before, and a brake that the log states: standard
deviations as a share of the figure (our judgment)."""
FOOTAGE, FOOTAGE_SPREAD = ("footage offset", "footage scale"), (0.15, 0.005)
"""How far the footage written may be off, m and as a share (our judgment, standard deviations)."""
NEAR = 0.2
"""Footage that is off by more (m) is put right before the fit."""
REACH, REACH_FACTOR = 3.0, math.e
"""What the reach of the noise is taken to be before, m, and within which factor (our judgment)."""
FEW = 5
"""A friction that shows in fewer readings is not answered: a snag there would look the same (own
judgment)."""
ENTANGLED = 0.9
"""Correlation from which two figures are reported as hardly told apart (our judgment)."""
MOST_WRONG = 0.1
"""With a larger share of a log above the machine's pull, its unit is wrong (our judgment)."""
MOST_RESIDUAL = 0.5
"""With residuals above this share of the usual reading, nothing is answered (our judgment)."""
MOST_OFF = 0.25
"""With a larger share of a log on levels of their own, nothing is answered (our judgment)."""
LEVEL_GAIN, LEVEL_STEPS, LEVEL_SHARE, MOST_LEVELS = 25.0, 1.5, 0.1, 8
"""A stretch gets its own level where that lowers the sum of squares by this much (5 standard
deviations), it is so many dial steps off, and has no larger share of the readings of its log; at
most so many stretches."""


@dataclass(frozen=True, slots=True)
class Level:
    """A stretch of log ``log`` from ``start`` to ``end`` m that stands ``size`` N off the rest."""

    log: str
    start: float
    end: float
    size: float
    readings: int


@dataclass(frozen=True, slots=True)
class Unknown:
    """One figure to be found, SI: its plan, its bounds, and what is known before (inf: nothing)."""

    kind: str
    name: str
    planned: float
    low: float
    high: float
    spread: float = math.inf

    @property
    def scale(self) -> float:
        """A size of it by which changes are measured."""
        known = self.spread if math.isfinite(self.spread) else 0.0
        return max(abs(self.planned), known)


@dataclass(frozen=True, eq=False)
class Stretch:
    """Readings of one log with one brake: places ``rows``, and the numbers of its unknowns."""

    rows: slice
    expected: ExpectedLoad
    friction: tuple[int, ...]
    rope: int
    reel: int
    tare: int
    offset: int
    stretch: int


@dataclass(frozen=True, eq=False)
class FitModel:
    """Readings ``load`` (n,) N at ``at`` (n,) m, one block of rows for each log, and the unknowns.

    ``levels`` (n, q) is 1 where a stretch has a level of its own: q more unknowns, in N.
    """

    unknowns: tuple[Unknown, ...]
    stretches: tuple[Stretch, ...]
    at: Floats
    load: Floats
    blocks: tuple[slice, ...]
    steps: tuple[float, ...]
    levels: Floats

    @cached_property
    def scale(self) -> Floats:
        """The size of each unknown, levels last, (p,)."""
        level = max(*self.steps, 1.0)
        return np.array([u.scale for u in self.unknowns] + [level] * self.levels.shape[1])

    @cached_property
    def bounds(self) -> tuple[Floats, Floats]:
        """The lowest and highest of each unknown."""
        more = [math.inf] * self.levels.shape[1]
        low = [u.low for u in self.unknowns] + [-m for m in more]
        return np.array(low), np.array([u.high for u in self.unknowns] + more)

    @cached_property
    def before(self) -> tuple[Floats, Floats]:
        """What each unknown is taken to be before, and one over its variance.

        Nearly 0 for not known: 100 times its size, so that what no reading shows is a number too.
        """
        extra = np.zeros(self.levels.shape[1])
        mean = np.concatenate(([u.planned for u in self.unknowns], extra))
        known = np.concatenate(([u.spread**-2 for u in self.unknowns], extra))
        return mean, known + (0.01 / self.scale) ** 2

    def loads(self, theta: Floats) -> Floats:
        """What the gauges should read, (n, k) N, for unknowns (p, k)."""
        out = np.empty((len(self.at), theta.shape[1]))
        for part in self.stretches:
            loads = part.expected.loads(
                theta[list(part.friction)], theta[part.rope], theta[part.reel]
            )
            out[part.rows] = loads + theta[part.tare]
            if len(loads) > 1:  # to the first order, for footage is known well
                at = part.expected.pulled
                wrong = theta[part.offset] + at[:, None] * theta[part.stretch]
                out[part.rows] -= wrong * np.gradient(loads, at, axis=0)
        result: Floats = out + self.levels @ theta[len(self.unknowns) :]
        return result

    def slopes(self, theta: Floats) -> tuple[Floats, Floats]:
        """The readings (n,) expected for unknowns (p,), and their slopes (n, p)."""
        step = 1e-4 * self.scale
        count = len(theta)
        each = np.repeat(theta[:, None], count + 1, axis=1)
        each[np.arange(count), np.arange(count) + 1] += step
        loads = self.loads(each)
        return loads[:, 0], (loads[:, 1:] - loads[:, :1]) / step

    def with_level(self, block: int, first: int, last: int) -> FitModel:
        """With a level of its own for rows ``first`` to ``last`` (not included) of a block."""
        column = np.zeros((len(self.at), 1))
        rows = self.blocks[block]
        column[rows.start + first : rows.start + last] = 1.0
        return replace(self, levels=np.hstack((self.levels, column)))


@dataclass(frozen=True, eq=False)
class Whitener:
    """The inverse of the Cholesky factor of the covariance of each block of readings."""

    problem: FitModel
    factors: tuple[Floats, ...]
    log_determinant: float
    independent: float

    @classmethod
    def of(cls, problem: FitModel, sigma: float, reach: float) -> Whitener:
        """For noise of ``sigma`` N and ``reach`` m, the marks of the dial of each log."""
        from scipy.linalg import solve_triangular

        factors, log_determinant, independent = [], 0.0, 0.0
        for rows, step in zip(problem.blocks, problem.steps, strict=True):
            at = problem.at[rows]
            covariance = sigma**2 * np.exp(-np.abs(at[:, None] - at) / reach)
            covariance[np.diag_indices(len(at))] += Noise(sigma, reach, step).rounding
            covariance[np.diag_indices(len(at))] += 1e-6 * sigma**2
            lower = np.linalg.cholesky(covariance)
            factors.append(solve_triangular(lower, np.eye(len(at)), lower=True))
            log_determinant += 2.0 * float(np.log(np.diag(lower)).sum())
            independent += float(np.trace(covariance) ** 2 / (covariance**2).sum())
        return cls(problem, tuple(factors), log_determinant, independent)

    def __call__(self, values: Floats) -> Floats:
        """Readings (n, ...) as independent numbers of variance 1."""
        parts = [
            factor @ values[rows]
            for factor, rows in zip(self.factors, self.problem.blocks, strict=True)
        ]
        return np.concatenate(parts)


@dataclass(frozen=True, eq=False)
class Solution:
    """The unknowns ``theta`` (p,) at the noise found, and their ``precision`` (p, p).

    ``residual`` (n,) N is the readings less what was expected, ``slopes`` (n, p) those of the
    expected readings.
    """

    problem: FitModel
    noise: Noise
    whiten: Whitener
    theta: Floats
    residual: Floats
    slopes: Floats
    precision: Floats

    @cached_property
    def covariance(self) -> Floats:
        """Of the unknowns, scaled to be inverted well."""
        scale = self.problem.scale
        inverse = np.linalg.inv(self.precision * np.outer(scale, scale))
        covariance: Floats = inverse * np.outer(scale, scale)
        return covariance

    @cached_property
    def quantile(self) -> float:
        """Half a 95 % interval over the standard deviation: Student's t."""
        from scipy.special import stdtrit

        frictions = sum(u.kind == "friction" for u in self.problem.unknowns)
        return float(stdtrit(max(self.whiten.independent - frictions - 1.0, 3.0), 0.975))

    def profile(
        self,
        number: NDArray[np.int64],
        value: Floats,
        rounds: int = 4,
        moved: Floats | None = None,
    ) -> tuple[Floats, Floats]:
        """Unknown ``number`` (k,) held at ``value`` (k,), every other fitted anew.

        Returns twice the drop of the log likelihood from the best, (k,), and the unknowns (p, k).
        A number below 0 holds nothing. ``moved`` (k,) N is added to every reading.
        """
        problem, count = self.problem, len(value)
        held = np.zeros((len(self.theta), count), dtype=bool)
        mask = number >= 0
        held[number[mask], np.flatnonzero(mask)] = True
        theta = np.repeat(self.theta[:, None], count, axis=1)
        # The others as they move with it, to begin with.
        for k in np.flatnonzero(mask).tolist():
            j = int(number[k])
            theta[:, k] += self.covariance[:, j] / self.covariance[j, j] * (value[k] - theta[j, k])
        steps = [self._without(int(j)) for j in number]
        design, (mean, weight) = self.whiten(self.slopes), problem.before
        shift = np.zeros(count) if moved is None else moved
        low, high = problem.bounds
        best = np.full(count, math.inf)
        kept = theta
        for _ in range(rounds):
            theta = np.clip(theta, low[:, None], high[:, None])
            theta[held] = value[mask]
            off = self.whiten(problem.load[:, None] + shift - problem.loads(theta))
            away = theta - mean[:, None]
            squares = (off**2).sum(axis=0) + (weight[:, None] * away**2).sum(axis=0)
            better = squares < best
            best = np.where(better, squares, best)
            kept = np.where(better, theta, kept)
            slope = design.T @ off - weight[:, None] * away
            theta = theta + np.column_stack([s @ slope[:, k] for k, s in enumerate(steps)])
        return best - self.squares, kept

    @cached_property
    def squares(self) -> float:
        """The sum of squares at the solution, with what was known before."""
        mean, weight = self.problem.before
        off = self.whiten(self.residual)
        return float(off @ off + (weight * (self.theta - mean) ** 2).sum())

    def _without(self, j: int) -> Floats:
        """The covariance of the others with unknown ``j`` held; all where it is below 0."""
        if j < 0:
            return self.covariance
        column = self.covariance[:, j]
        less: Floats = self.covariance - np.outer(column, column) / column[j]
        return less

    def intervals(self, numbers: Sequence[int]) -> Floats:
        """The 95 % intervals of these unknowns by profile likelihood, (k, 2)."""
        each = np.repeat(np.array(numbers, dtype=np.int64), 2)
        sign = np.tile([-1.0, 1.0], len(numbers))
        center, width = self.theta[each], np.sqrt(np.diag(self.covariance))[each]
        low, high = (b[each] for b in self.problem.bounds)
        away = sign * self.quantile * width
        for _ in range(2):
            away = np.clip(center + away, low, high) - center
            drop, _ = self.profile(each, center + away, rounds=3)
            root = np.sqrt(np.maximum(drop, 1e-12))
            # The root of the drop is nearly a straight line; a bound ends it.
            away = away * np.clip(self.quantile / root, 0.3, 3.0)
        ends: Floats = np.clip(center + away, low, high).reshape(-1, 2)
        return ends


@dataclass(frozen=True, eq=False)
class Fit:
    """What the logs of a job teach.

    ``estimates`` frictions first. ``planned`` holds what the plan has for each, ``prior`` the range
    it was taken to be in. ``names`` and ``correlation`` (p, p) are of all of them. ``noise`` is
    that of the gauge; ``residual`` (n,) N the readings less what the fit expects, at ``pulled``
    (n,) m of log number ``log`` (n,). ``levels`` are stretches with a level of their own.
    ``rounding`` (p,) is how much each estimate moves if every reading is ``half_step`` N higher,
    half of the marks of the dial. ``other_ends`` names for each log the end that it fits far better
    than its own, "" for none.
    ``at_bound`` names the estimates that stand at the end of what is possible. ``used`` and
    ``readings`` count readings.
    """

    job: Job
    logs: tuple[PullLog, ...]
    pulls: tuple[Pull, ...]
    estimates: tuple[Estimate, ...]
    planned: tuple[float, ...]
    prior: tuple[tuple[float, float], ...]
    correlation: Floats
    noise: Noise
    pulled: Floats
    log: NDArray[np.int64]
    expected: Floats
    residual: Floats
    levels: tuple[Level, ...]
    rounding: Floats
    half_step: float
    at_bound: tuple[str, ...]
    readings: int
    left_out: int
    solution: Solution
    other_ends: tuple[str, ...] = ()

    @property
    def frictions(self) -> dict[str, Estimate]:
        """The estimate of each conduit, by name."""
        return {e.name: e for e in self.estimates if e.kind == "friction"}

    @property
    def entangled(self) -> tuple[tuple[Estimate, Estimate, float], ...]:
        """The pairs of estimates that are hardly told apart, with their correlation."""
        count = len(self.estimates)
        return tuple(
            (self.estimates[i], self.estimates[j], float(self.correlation[i, j]))
            for i in range(count)
            for j in range(i + 1, count)
            if abs(self.correlation[i, j]) > ENTANGLED
        )

    def named(self, name: str) -> list[Estimate]:
        """The estimates that a person means by a name: of a conduit, "rope", "brake" or "tare"."""
        kinds = {"rope": "rope friction", "brake": "reel tension", "reel": "reel tension"}
        kind = kinds.get(name.casefold(), name.casefold())
        found = [
            e
            for e in self.estimates
            if e.kind == kind or (e.kind == "friction" and name in (e.name, _conduit_part(e.name)))
        ]
        if not found:
            names = ", ".join([*self.frictions, "rope", "brake", "tare"])
            said = f"nothing that was fitted is named {name!r}"
            raise InputError(Problem(said, where="--profile", fix=f"name one of: {names}"))
        return found

    def profile(self, estimate: Estimate, points: int = 21) -> tuple[Floats, Floats]:
        """The profile likelihood of one estimate: values, and the drop of the log likelihood."""
        j = self.estimates.index(estimate)
        unknown = self.solution.problem.unknowns[j]
        center = float(self.solution.theta[j])
        width = 1.5 * self.solution.quantile * math.sqrt(self.solution.covariance[j, j])
        values = np.linspace(
            max(center - width, unknown.low), min(center + width, unknown.high), points
        )
        drop, _ = self.solution.profile(np.full(points, j), values, rounds=6)
        return values, 0.5 * np.maximum(drop, 0.0)


def pull_of(job: Job, log: PullLog) -> Candidate:
    """The pull that a log is of, as it is planned: the run and the feed end it names.

    The only run and the better end where it names none. InputError for what the job does not have.
    """
    names = [run.name for run in job.runs]
    if log.run not in names and (log.run or len(names) != 1):
        said = f"log {log.name!r} is of run {log.run!r}" if log.run else "the log names no run"
        fix = "name one of: " + ", ".join(names)
        raise InputError(Problem(said, where="--run", fix=fix))
    run = job.run(log.run or names[0])
    result = evaluate_run(run, job.practice, allowances=job.allowances)
    if not log.feed:
        return result.best
    for each in result.candidates:
        if each.pull.feed_name == log.feed:
            return each
    said = f"log {log.name!r} is fed from {log.feed!r}; run {run.name!r} has no such end"
    fix = "name one of: " + ", ".join(c.pull.feed_name for c in result.candidates)
    raise InputError(Problem(said, where="--feed", fix=fix))


def lubricant_of(log: PullLog) -> str:
    """The lubricant that a log names, "" where it names none."""
    named = dict(log.details).get("lubricant", "")
    words = [e.words for e in log.events if e.kind == "lubricant" and e.words]
    return str(named or next(iter(words), ""))


# --- fitting ------------------------------------------------------------------------------------


def fit_logs(job: Job, logs: Sequence[PullLog]) -> Fit:
    """Fit the logs of a job together.

    Parameters
    ----------
    job : Job
        The model, with the plan's figures.
    logs : sequence of PullLog
        Of one or more of its runs.

    Returns
    -------
    Fit

    Raises
    ------
    InputError
        For a log of no run of the job, or with too few readings.
    """
    names = [log.name for log in logs]
    logs = [
        replace(log, name=f"{log.name} ({i + 1})") if names.count(log.name) > 1 else log
        for i, log in enumerate(logs)
    ]
    known: dict[tuple[str, str], Candidate] = {}
    for log in logs:
        if (log.run, log.feed) not in known:
            known[log.run, log.feed] = pull_of(job, log)
    candidates = [known[log.run, log.feed] for log in logs]
    problem, counts = _problem(job, logs, candidates, {})
    hidden = _hardly_shown(problem)

    def in_place(problem: FitModel, theta: Floats) -> tuple[FitModel, Floats]:
        """With the head where the footage found has it; the same model where it is near enough."""
        off = _footage_off(problem, theta)
        if not off:
            return problem, theta
        moved = _held(_problem(job, logs, candidates, off)[0], hidden)
        footage = [u.kind in FOOTAGE for u in moved.unknowns] + [False] * problem.levels.shape[1]
        return replace(moved, levels=problem.levels), np.where(footage, 0.0, theta)

    problem = _held(problem, hidden)
    solution = _settled(_with_levels(*in_place(problem, _start(problem))))
    # again, now that the stretches that bias the footage are known
    problem, theta = in_place(solution.problem, solution.theta)
    if problem is not solution.problem:
        solution = _settled(_at_noise(problem, theta, solution.noise))
    return _fit(job, logs, candidates, solution, counts)


def _hardly_shown(problem: FitModel) -> frozenset[int]:
    """The frictions that fewer than ``FEW`` readings show: a snag there would look the same."""
    _, slopes = problem.slopes(np.array([u.planned for u in problem.unknowns]))
    return frozenset(
        i
        for i, u in enumerate(problem.unknowns)
        if u.kind == "friction" and _showing(slopes[:, i]) < FEW
    )


def _held(problem: FitModel, hidden: frozenset[int]) -> FitModel:
    """With these frictions near their plan."""
    unknowns = tuple(
        replace(u, spread=0.2 * u.planned) if i in hidden else u
        for i, u in enumerate(problem.unknowns)
    )
    return replace(problem, unknowns=unknowns)


def _footage_off(problem: FitModel, theta: Floats) -> dict[str, tuple[float, float]]:
    """How far the footage of each log is off, m and share; empty where the places are near enough.

    The load is carried to the right places by its slope, which holds for a short way only.
    """
    moved = [
        np.abs(theta[part.offset] + part.expected.pulled * theta[part.stretch]).max()
        for part in problem.stretches
    ]
    if max(moved) <= NEAR:
        return {}
    found: dict[str, list[float]] = {}
    for unknown, value in zip(problem.unknowns, theta.tolist(), strict=False):
        if unknown.kind in FOOTAGE:  # the offset comes first
            found.setdefault(unknown.name, []).append(value - unknown.planned)
    return {name: (offset, share) for name, (offset, share) in found.items()}


def _problem(
    job: Job,
    logs: Sequence[PullLog],
    candidates: Sequence[Candidate],
    off: Mapping[str, tuple[float, float]],
) -> tuple[FitModel, tuple[int, int]]:
    """The readings that count and what is unknown; how many readings there are and are left out.

    ``off`` m and share is how far the footage of a log is off, as found before.
    """
    lubricants = [lubricant_of(log) for log in logs]
    several = len(set(lubricants)) > 1
    unknowns: dict[tuple[str, str], Unknown] = {}
    stretches, at, load, blocks, steps = [], [], [], [], []
    total = left_out = start = 0
    for log, candidate, lubricant in zip(logs, candidates, lubricants, strict=True):
        pull, rope = candidate.planned, candidate.pull.run.rope
        rows = _counting(log, pull.path.length)
        total, left_out = total + int(log.used.sum()), left_out + int(log.used.sum()) - len(rows)
        wrong = off.get(log.name, (0.0, 0.0))
        pulled = log.pulled[rows] - wrong[0] - wrong[1] * log.pulled[rows]
        # a head beyond either end stands there, one millimeter from the next
        pulled = np.maximum(pulled, 1e-3 * np.arange(len(rows)))
        pulled = np.minimum(pulled, pull.path.length - 1e-3 * np.arange(len(rows))[::-1])
        read = log.load[rows]
        step = dial_step(read, job.allowances.gauge_step)
        changes = [(e.pulled, e.force) for e in log.events if e.kind == "brake"]
        edges = sorted((p, f) for p, f in changes if math.isfinite(p))
        places = np.array([p for p, _ in edges])
        number = np.searchsorted(places, log.pulled[rows], side="right")
        for part in np.unique(number).tolist():
            inside = np.flatnonzero(number == part)
            expected = expected_load(pull, pulled[inside], closely=False)
            if rope is None:
                continue  # expected_load has refused it
            keys = []
            for name in expected.conduits:
                label = name + (f"{LUBRICATED}{lubricant or 'not named'}" if several else "")
                mu = float(expected.friction[expected.conduits.index(name)])
                keys.append(("friction", label))
                unknowns.setdefault(keys[-1], Unknown("friction", label, mu, *FRICTION_BOUNDS))
            ropes = ("rope friction", rope.name)
            unknowns.setdefault(
                ropes,
                Unknown(*ropes, rope.friction, *FRICTION_BOUNDS, ROPE_SPREAD * rope.friction),
            )
            said = edges[part - 1][1] if part else math.nan
            changed = part - int(number.min())  # a brake noted at the start is no change
            label = log.name + (f", after brake change {changed}" if changed else "")
            most = 2.0 * float(read.max()) + pull.reel_tension
            reel = Unknown("reel tension", label, pull.reel_tension, 0.0, most)
            if math.isfinite(said):
                spread = math.hypot(BRAKE_SPREAD * said, 0.5 * step)
                reel = replace(reel, planned=said, spread=spread)
            unknowns[reel.kind, label] = reel
            tare = Unknown("tare", log.name, log.tare, -20 * step, 20 * step, max(step, 1.0))
            unknowns[tare.kind, tare.name] = tare
            for kind, spread, known in zip(FOOTAGE, FOOTAGE_SPREAD, wrong, strict=True):
                place = Unknown(kind, log.name, -known, -10 * spread, 10 * spread, spread)
                unknowns[kind, log.name] = place
            first = start + int(inside[0])
            stretches.append(
                (slice(first, first + len(inside)), expected, keys, ropes, label, log.name)
            )
        at.append(pulled)
        load.append(read)
        blocks.append(slice(start, start + len(rows)))
        steps.append(step)
        start += len(rows)
    order = ("friction", "rope friction", "reel tension", "tare", *FOOTAGE)
    sorted_ = sorted(unknowns.values(), key=lambda u: order.index(u.kind))
    where = {(u.kind, u.name): i for i, u in enumerate(sorted_)}
    parts = tuple(
        Stretch(
            rows,
            expected,
            tuple(where[key] for key in keys),
            where[ropes],
            where["reel tension", reel],
            *(where[kind, name] for kind in ("tare", *FOOTAGE)),
        )
        for rows, expected, keys, ropes, reel, name in stretches
    )
    readings = np.concatenate(load)
    levels = np.zeros((len(readings), 0))
    made = FitModel(
        tuple(sorted_), parts, np.concatenate(at), readings, tuple(blocks), tuple(steps), levels
    )
    return made, (total, left_out)


def _counting(log: PullLog, length: float) -> NDArray[np.int64]:
    """The readings of a log that are fitted, in order of cable in; InputError for too few."""
    good = log.used & np.isfinite(log.load) & (log.pulled >= 0) & (log.pulled <= length)
    wrong = sum(ABOVE_MACHINE in flags or BEYOND in flags for flags in log.flags)
    if wrong > MOST_WRONG * max(len(log), 1):
        said = f"{wrong} of {len(log)} readings are above what the machine can pull"
        fix = "check the unit of the reading; see: route3d field log"
        raise InputError(Problem(said, where=log.name, fix=fix))
    rows = np.flatnonzero(good)
    rows = rows[np.argsort(log.pulled[rows], kind="stable")]
    kept: list[int] = []
    for i in rows.tolist():
        if not kept or log.pulled[i] - log.pulled[kept[-1]] >= 0.999 * APART:
            kept.append(i)
    if len(kept) > MOST:
        kept = [kept[i] for i in np.linspace(0, len(kept) - 1, MOST).round().astype(int).tolist()]
    if len(kept) < FEWEST:
        said = f"log {log.name!r} has {len(kept)} readings that count; at least {FEWEST} are needed"
        fix = "read the gauge at more places, or fit this log together with others"
        raise InputError(Problem(said, where=log.name, fix=fix))
    return np.array(kept, dtype=np.int64)


def dial_step(load: Floats, marks: float) -> float:
    """The step in which a gauge was read, N: that of the readings, or the ``marks`` of its dial.

    Few readings may all lie on every other mark by chance: then the marks count.
    """
    gaps = np.diff(np.unique(load))
    gaps = gaps[gaps > 1e-6 * max(float(np.abs(load).max()), 1.0)]
    if not len(gaps):
        return marks
    least = float(gaps.min())
    whole = np.abs(load / least - np.round(load / least)).max() < 0.02
    if whole and least > marks:
        return least if len(load) >= 30 else marks
    return least


def _with_levels(problem: FitModel, theta: Floats) -> Solution:
    """The fit at a first noise, with a level where that does not explain the readings."""
    solution = _at_noise(problem, theta, _rough_noise(problem, theta))
    while found := _worst_level(solution):
        problem = solution.problem.with_level(*found[:3])
        solution = _at_noise(problem, np.append(solution.theta, found[3]), solution.noise)
    return solution


def _settled(solution: Solution) -> Solution:
    """Noise and unknowns in turn, twice, and again after every level still found."""
    left = 2
    while left:
        noise = _noise_found(solution)
        solution = _at_noise(solution.problem, solution.theta, noise)
        if found := _worst_level(solution):
            problem = solution.problem.with_level(*found[:3])
            solution = _at_noise(problem, np.append(solution.theta, found[3]), noise)
        elif len(kept := _standing_out(solution)) < solution.problem.levels.shape[1]:
            count = len(solution.problem.unknowns)
            problem = replace(solution.problem, levels=solution.problem.levels[:, kept])
            theta = solution.theta[[*range(count), *(count + k for k in kept)]]
            solution = _at_noise(problem, theta, noise)
            left -= 1
        else:
            left -= 1
    return solution


def _standing_out(solution: Solution) -> list[int]:
    """The levels that would still be given, now that all is fitted."""
    count, least = len(solution.problem.unknowns), LEVEL_STEPS * min(solution.problem.steps)
    size, spread = solution.theta[count:], np.diag(solution.covariance)[count:]
    kept = (np.abs(size) > least) & (size**2 > LEVEL_GAIN * spread)
    return [int(k) for k in np.flatnonzero(kept)]


def _start(problem: FitModel) -> Floats:
    """Start values by robust least squares, the noise taken as one mark or 3 % of the load."""
    off = max(*problem.steps, 0.03 * float(np.median(np.abs(problem.load))))
    mean, _ = problem.before
    low, high = problem.bounds
    begin = np.clip(mean, low, high)
    return _least_squares(problem, begin, lambda values: values / off, loss="soft_l1")[0]


def _least_squares(
    problem: FitModel, begin: Floats, whiten: Callable[[Floats], Floats], loss: str = "linear"
) -> tuple[Floats, Floats, Floats]:
    """The unknowns that fit best, the readings expected with them, and their slopes."""
    from scipy.optimize import least_squares

    scale, (mean, weight) = problem.scale, problem.before
    low, high = problem.bounds
    known: dict[bytes, tuple[Floats, Floats]] = {}

    def both(x: Floats) -> tuple[Floats, Floats]:
        if (key := x.tobytes()) not in known:
            known[key] = problem.slopes(x * scale)
        return known[key]

    def residual(x: Floats) -> Floats:
        off = whiten(problem.load - both(x)[0])
        return np.concatenate((off, np.sqrt(weight) * (x * scale - mean)))

    def jacobian(x: Floats) -> Floats:
        return np.vstack((-whiten(both(x)[1]), np.diag(np.sqrt(weight)))) * scale

    room = 1e-9 * scale
    found = least_squares(
        residual,
        np.clip(begin, low + room, high - room) / scale,
        jac=jacobian,
        bounds=(low / scale, high / scale),
        loss=loss,
        ftol=1e-4 if loss == "linear" else 1e-3,
        xtol=1e-5,
        gtol=1e-9,
        max_nfev=25,
    )
    return found.x * scale, *both(found.x)


def _rough_noise(problem: FitModel, theta: Floats) -> Noise:
    """A first noise from medians, which a few stretches off the rest do not move."""
    off = problem.load - problem.loads(theta[:, None])[:, 0]
    step = max(problem.steps)
    between, apart = [], []
    for rows in problem.blocks:
        between.append(np.diff(off[rows]))
        apart.append(np.diff(problem.at[rows]))
    jump = max(1.4826 * float(np.median(np.abs(np.concatenate(between)))), 0.5 * step)
    wide = max(1.4826 * float(np.median(np.abs(off))), 0.4 * step)
    sigma = math.sqrt(max(wide**2 - step**2 / 12, (0.3 * step) ** 2, 1.0))
    rho = 1.0 - (jump**2 - step**2 / 6) / (2 * sigma**2)
    distance = float(np.median(np.concatenate(apart)))
    return Noise(sigma, -distance / math.log(min(max(rho, 0.3), 0.97)), step)


def _at_noise(problem: FitModel, begin: Floats, noise: Noise) -> Solution:
    """Generalized least squares with the noise given."""
    whiten = Whitener.of(problem, noise.sigma, noise.reach)
    theta, loads, slopes = _least_squares(problem, begin, whiten)
    design = whiten(slopes)
    precision = design.T @ design + np.diag(problem.before[1])
    return Solution(problem, noise, whiten, theta, problem.load - loads, slopes, precision)


def _noise_found(solution: Solution) -> Noise:
    """Standard deviation and reach of the noise by restricted maximum likelihood."""
    from scipy.optimize import minimize

    problem, off, scale = solution.problem, solution.residual, solution.problem.scale
    mean, weight = problem.before
    pull = -weight * (solution.theta - mean)
    shortest = float(min(np.diff(problem.at[rows]).min() for rows in problem.blocks))
    longest = float(max(np.ptp(problem.at[rows]) for rows in problem.blocks)) / 3.0

    def drop(x: Floats) -> float:
        sigma, reach = math.exp(x[0]), math.exp(x[1])
        if not (0.2 * shortest < reach < longest and 1e-2 < sigma < 1e7):
            return 1e12
        whiten = Whitener.of(problem, sigma, reach)
        both = whiten(np.column_stack((solution.slopes, off)))
        design, left = both[:, :-1] * scale, both[:, -1]
        precision = design.T @ design + np.diag(weight * scale**2)
        slope = design.T @ left + pull * scale
        squares = left @ left - slope @ np.linalg.solve(precision, slope)
        known = (math.log(reach / REACH) / math.log(REACH_FACTOR)) ** 2
        return float(whiten.log_determinant + np.linalg.slogdet(precision)[1] + squares + known)

    begin = np.log([solution.noise.sigma, np.clip(solution.noise.reach, shortest, longest / 2)])
    found = minimize(
        drop,
        begin,
        method="Nelder-Mead",
        options={
            "xatol": 0.05,
            "fatol": 0.03,
            "maxfev": 60,
            "initial_simplex": begin + np.array([[0.0, 0.0], [0.3, 0.0], [0.0, 0.5]]),
        },
    )
    return Noise(math.exp(found.x[0]), math.exp(found.x[1]), solution.noise.step)


def _worst_level(solution: Solution) -> tuple[int, int, int, float] | None:
    """The stretch whose own level lowers the sum of squares most: block, rows, size N; or None.

    What the unknowns could take of it is taken out first.
    """
    problem, whiten = solution.problem, solution.whiten
    if problem.levels.shape[1] >= MOST_LEVELS:
        return None
    design = np.vstack((whiten(solution.slopes), np.diag(np.sqrt(problem.before[1]))))
    basis = np.linalg.qr(design * problem.scale)[0]
    count = len(problem.at)
    mean, weight = problem.before
    off = np.concatenate((whiten(solution.residual), -np.sqrt(weight) * (solution.theta - mean)))
    off = off - basis @ (basis.T @ off)
    best: tuple[float, int, int, int, float] | None = None
    for block, (rows, factor) in enumerate(zip(problem.blocks, whiten.factors, strict=True)):
        size = rows.stop - rows.start
        sums = np.zeros((count + len(weight), size + 1))
        sums[rows, 1:] = np.cumsum(factor, axis=1)
        sums -= basis @ (basis.T @ sums)
        with_off, among = sums.T @ off, sums.T @ sums
        spread = np.diag(among)[:, None] + np.diag(among) - 2.0 * among
        lift = with_off[None, :] - with_off[:, None]  # rows i to j - 1
        level = np.where(spread > 1e-9 * spread.max(), lift / np.maximum(spread, 1e-300), 0.0)
        gain = level * lift
        gain[np.abs(level) < LEVEL_STEPS * problem.steps[block]] = 0.0
        gain[np.tril_indices(size + 1)] = 0.0
        gain[np.triu_indices(size + 1, max(int(LEVEL_SHARE * size), 3) + 1)] = 0.0
        i, j = np.unravel_index(int(gain.argmax()), gain.shape)
        if gain[i, j] > LEVEL_GAIN and (best is None or gain[i, j] > best[0]):
            best = (float(gain[i, j]), block, int(i), int(j), float(level[i, j]))
    return None if best is None else best[1:]


# --- what was found, in figures and in words ------------------------------------------------------


def _fit(
    job: Job,
    logs: Sequence[PullLog],
    candidates: Sequence[Candidate],
    solution: Solution,
    counts: tuple[int, int],
) -> Fit:
    problem = solution.problem
    found = [u for u in problem.unknowns if u.kind not in FOOTAGE]
    count = len(found)
    ends = solution.intervals(range(count))
    spread = np.sqrt(np.diag(solution.covariance))
    correlation = (solution.covariance / np.outer(spread, spread))[:, : len(problem.unknowns)]
    half = 0.5 * max(*problem.steps, job.allowances.gauge_step)
    _, moved = solution.profile(
        np.array([-1, -1]), np.zeros(2), rounds=6, moved=np.array([half, -half])
    )
    rounding = 0.5 * (moved[:count, 0] - moved[:count, 1])
    priors = tuple(_prior(u, job, candidates) for u in found)
    off = _share_off(problem)
    spread_off = float(np.sqrt(np.mean(solution.residual**2)))
    too_far = spread_off > MOST_RESIDUAL * float(np.median(np.abs(problem.load)))
    ends_else = tuple(_other_end(job, log, c) for log, c in zip(logs, candidates, strict=True))
    elsewhere = next((end for end in ends_else if end), "")
    estimates = []
    for i, unknown in enumerate(found):
        low, high = ends[i].tolist()
        if off > MOST_OFF:
            why = f"{off:.0%} of a log departs from every friction tried: compare it with the plan"
        elif too_far:
            why = "the readings depart from every friction tried: wrong unit, gauge or route"
        elif elsewhere:
            why = f"a log fits a pull fed from {elsewhere} far better"
        elif unknown.kind == "friction" and _showing(solution.slopes[:, i]) < FEW:
            why = f"fewer than {FEW} readings show friction in {unknown.name}"
        else:
            why = _why(i, problem.unknowns, (low, high), priors[i], correlation)
        if why:
            value, (low, high) = unknown.planned, priors[i]
        else:
            value = float(solution.theta[i])
        estimates.append(Estimate(unknown.kind, unknown.name, value, low, high, not why, why))
    low_bound, high_bound = problem.bounds
    near = 1e-3 * problem.scale
    at_bound = tuple(
        u.name
        for i, u in enumerate(found)
        if u.kind == "friction"
        and (
            solution.theta[i] < low_bound[i] + near[i]
            or solution.theta[i] > high_bound[i] - near[i]
        )
    )
    numbers = np.concatenate([np.full(b.stop - b.start, i) for i, b in enumerate(problem.blocks)])
    residual = solution.residual
    return Fit(
        job,
        tuple(logs),
        tuple(c.planned for c in candidates),
        tuple(estimates),
        tuple(u.planned for u in found),
        priors,
        correlation[:count, :count],
        solution.noise,
        problem.at,
        numbers,
        problem.load - residual,
        residual,
        tuple(_levels(problem, solution.theta, logs)),
        rounding,
        half,
        at_bound,
        *counts,
        solution,
        ends_else,
    )


def _other_end(job: Job, log: PullLog, candidate: Candidate) -> str:
    """The end that a log fits far better than its own, "" for none."""
    return other_end(job, candidate.pull, log.pulled[log.used], log.load[log.used] - log.tare)


def _share_off(problem: FitModel) -> float:
    """The largest share of a log that stands on levels of its own."""
    off = np.asarray(problem.levels.any(axis=1))
    return max(float(off[rows].mean()) for rows in problem.blocks)


def _showing(slope: Floats) -> int:
    """How many readings an unknown has a part in."""
    return int((np.abs(slope) > 0.02 * np.abs(slope).max(initial=0.0)).sum())


def _levels(problem: FitModel, theta: Floats, logs: Sequence[PullLog]) -> Iterator[Level]:
    for column, size in zip(problem.levels.T, theta[len(problem.unknowns) :], strict=True):
        rows = np.flatnonzero(column)
        block = next(i for i, b in enumerate(problem.blocks) if b.start <= rows[0] < b.stop)
        at = problem.at[rows]
        yield Level(logs[block].name, float(at[0]), float(at[-1]), float(size), len(rows))


def _prior(unknown: Unknown, job: Job, candidates: Sequence[Candidate]) -> tuple[float, float]:
    """The range a figure was taken to be in before: that of the plan."""
    if unknown.kind == "friction":
        conduit = conduit_named(job, unknown.name)
        return conduit.low_friction, conduit.highest_friction
    if math.isfinite(unknown.spread):
        return unknown.planned - 1.96 * unknown.spread, unknown.planned + 1.96 * unknown.spread
    window = candidates[0].window
    planned = unknown.planned
    return min(window.at_least, planned), max(window.at_most, planned)


def conduit_named(job: Job, label: str) -> Conduit:
    """The conduit of an estimate's name, which may be followed by its lubricant."""
    known = {c.name: c for run in job.runs for c in run.route.conduits}
    return known[label] if label in known else known[_conduit_part(label)]


def _conduit_part(label: str) -> str:
    """The conduit of a label with its lubricant."""
    return label.partition(LUBRICATED)[0]


def _why(
    i: int,
    unknowns: Sequence[Unknown],
    interval: tuple[float, float],
    prior: tuple[float, float],
    correlation: Floats,
) -> str:
    """Why the logs cannot tell a figure, "" where they can.

    They can where the interval is narrower than the range known before, and ends within what is
    possible.
    """
    this, unknown = named(unknowns[i].kind, unknowns[i].name), unknowns[i]
    within = unknown.kind != "friction" or unknown.low < interval[0] < interval[1] < unknown.high
    if within and interval[1] - interval[0] <= prior[1] - prior[0]:
        return ""
    others = np.abs(correlation[i]).copy()
    others[i] = 0.0
    other = unknowns[int(others.argmax())]
    if others.max() < 0.5:
        return f"the readings say too little about {this}"
    return f"this log cannot tell {this} from {named(other.kind, other.name)}"


def named(kind: str, name: str) -> str:
    """An estimate as a sentence names it."""
    return {
        "friction": f"friction in {name}",
        "rope friction": "the friction of the rope",
        "reel tension": "the brake",
        "tare": "the tare of the gauge",
    }.get(kind, "the footage written")
