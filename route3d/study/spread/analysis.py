"""The spread of a run: how likely each limit is reached from each end, and what matters most."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from route3d.checks.falling_friction import decided_by
from route3d.errors import InputError, Problem
from route3d.geometry.vectors import Floats
from route3d.mechanics.feed import reel_drag
from route3d.mechanics.pull import at_fall
from route3d.model.spread import SpreadInputs
from route3d.planning.result import RunResult
from route3d.study.spread.decision import turning_friction
from route3d.study.spread.importance import (
    REPLICATES,
    delta_indices,
    inside,
    sobol_indices,
)
from route3d.study.spread.inputs import RunInputs, run_inputs
from route3d.study.spread.loads import (
    FIT,
    JAM,
    LIMITS,
    NOWHERE,
    End,
    EndLoads,
    end_of,
    scenarios_of,
    solve,
    solve_each,
)
from route3d.study.spread.marginal import Z_HIGH
from route3d.study.spread.outcome import (
    PERCENTILES,
    ByBoth,
    Chance,
    EndSpread,
    Importance,
    InputSpread,
    Spread,
)
from route3d.units import render

WANTED = 0.002
"""Standard error of the probability of passing that is worked for."""
MOST, MOST_BUILT = 131_072, 4_096
"""Scenarios at most by default: where the path stays as it is, and where each has its own."""
_FIRST, _FIRST_BUILT = 4_096, 1_024
# Calls for the indices are d + 2 times the points of each scramble; those with a path of their own
# are kept to some thousand in all.
_INDEX_POINTS, _INDEX_CALLS_BUILT = 256, 256
# The density estimates behind delta take their time, and more points do not move its two digits.
_DELTA_POINTS = 2_048
# A share beyond this is no pull: it would only drown what the others tell.
_MOST_SHARE = 10.0

Progress = Callable[[int, int], None]


def spread_of(
    result: RunResult,
    given: SpreadInputs | None = None,
    *,
    seed: int = 1,
    wanted: float = WANTED,
    most: int | None = None,
    progress: Progress | None = None,
) -> Spread:
    """The spread of one answered run.

    Scrambled Sobol points go through a Gaussian copula to the inputs. Eight independent scrambles
    grow together, each by doubling: the standard error is what differs between them. They stop
    where the error of the probability of passing is at most ``wanted`` from both ends, or with
    ``most`` scenarios. Raises InputError for inputs that are no spread, and for bad options.
    """
    inputs = run_inputs(result.run, given)
    most = _checked(seed, wanted, most, inputs.geometry)
    first, second = result.candidates
    study = _Study((end_of(first), end_of(second)), inputs, seed, progress)
    by_both = _ByBoth.of(study)
    points, steps = _Points(inputs, seed), _Steps(wanted)
    blocks: list[tuple[EndLoads, EndLoads]] = []
    scores: list[Floats] = []
    scrambles: list[NDArray[np.int8]] = []
    count, block = 0, _FIRST_BUILT if inputs.geometry else _FIRST
    while True:
        block = min(block, most - count)
        z = points.next(block // REPLICATES)
        values = inputs.values(z)
        blocks.append(study.solved(values, count, most))
        by_both.add(values, blocks[-1])
        scores.append(z)
        scrambles.append(np.repeat(np.arange(REPLICATES, dtype=np.int8), block // REPLICATES))
        count += block
        steps.add(count, blocks[-1])
        if steps.settled or count >= most:
            break
        block = count
    both = [EndLoads.joined([pair[i] for pair in blocks]) for i in (0, 1)]
    importance = study.importance(np.concatenate(scores, axis=1), both)
    ends = tuple(
        replace(
            study.end(i, both[i], importance[i], steps, np.concatenate(scrambles)),
            by_both=by_both.told(i, count),
        )
        for i in (0, 1)
    )
    planned = 0 if result.best is first else 1
    peaks = [loads.peak for loads in both]
    spread = Spread(
        run=result.run,
        ends=(ends[0], ends[1]),
        percentiles=PERCENTILES,
        inputs=inputs.labels,
        correlated=inputs.correlated,
        count=count,
        seed=seed,
        steps=np.empty((0, 2)),
        settled=steps.settled,
        planned=planned,
        other_better=float(np.mean(peaks[1 - planned] < peaks[planned])),
        turns_at=study.turns_at(),
        errors=np.empty(0),
        wanted=wanted,
        varying=tuple(_told(inputs)),
        pairs=tuple(_pairs(inputs)),
        stops=result.stops,
        lower=study.lower(),
    )
    return steps.told(spread)


def _checked(seed: int, wanted: float, most: int | None, geometry: bool) -> int:
    """The largest number of scenarios; InputError for options that make no study."""
    if seed < 0:
        raise _bad("seed", f"{seed} is below 0", "use a whole number from 0")
    if not 1e-5 <= wanted <= 0.5:
        fix = "use a standard error of the probability from 0.00001 to 0.5, such as 0.002"
        raise _bad("to", f"{wanted:g} cannot be worked for", fix)
    if most is None:
        return MOST_BUILT if geometry else MOST
    if most < 1024 or most > 2**22 or most & (most - 1):
        near = min(max(2 ** round(math.log2(max(most, 1))), 1024), 2**22)
        said = f"{most} is not a power of two from 1,024 to 4,194,304"
        raise _bad("most", said, f"use {near}: the points are even only in powers of two")
    return most


def _bad(option: str, said: str, fix: str) -> InputError:
    return InputError(Problem(said, where=option, fix=fix))


class _Points:
    """Scrambled Sobol points of the inputs, in independent scrambles that grow together."""

    def __init__(self, inputs: RunInputs, seed: int) -> None:
        from scipy.stats import qmc

        self._inputs = inputs
        count = len(inputs.varying)
        rngs = [np.random.default_rng([seed, 0, i]) for i in range(REPLICATES)]
        self._engines = [qmc.Sobol(count, scramble=True, rng=rng) for rng in rngs]

    def next(self, count: int) -> Floats:
        """Scores (d, REPLICATES * count) of the next points, scramble after scramble."""
        cube = np.concatenate([engine.random(count) for engine in self._engines])
        return self._inputs.scores(inside(cube.T))


class _Steps:
    """How the probability of passing settles as points are added; one row for each end.

    Its error is never said to be below one scenario in all: the next one may be the first.
    """

    def __init__(self, wanted: float) -> None:
        self._wanted = wanted
        self._passed = np.zeros((2, REPLICATES))
        self._counts: list[int] = []
        self._means: list[Floats] = []
        self._errors: list[Floats] = []

    def add(self, count: int, loads: Sequence[EndLoads]) -> None:
        """Add a block of scenarios, ``count`` in all."""
        for i, each in enumerate(loads):
            passed = (each.peak <= 1.0).reshape(REPLICATES, -1)
            self._passed[i] += passed.sum(axis=1)
        shares = self._passed / (count / REPLICATES)
        self._counts.append(count)
        self._means.append(shares.mean(axis=1))
        self._errors.append(error_of(shares, count))

    @property
    def settled(self) -> bool:
        """Whether the error of both ends is small enough."""
        return bool(np.all(self._errors[-1] <= self._wanted))

    def passes(self, end: int) -> tuple[float, float]:
        """The probability of passing from one end, and its error."""
        return float(self._means[-1][end]), float(self._errors[-1][end])

    def told(self, spread: Spread) -> Spread:
        """The spread with the steps of its better end."""
        end = spread.better
        steps = [[n, mean[end]] for n, mean in zip(self._counts, self._means, strict=True)]
        errors = np.array([error[end] for error in self._errors])
        return replace(spread, steps=np.array(steps, dtype=np.float64), errors=errors)


def error_of(shares: Floats, count: int) -> Floats:
    """Standard error of the means of shares (s, r) of r scrambles, ``count`` scenarios in all."""
    error = shares.std(axis=-1, ddof=1) / math.sqrt(shares.shape[-1])
    return np.asarray(np.maximum(error, 1.0 / count))


@dataclass(frozen=True, eq=False)
class _Study:
    """One run made ready to be asked many times."""

    ends: tuple[End, End]
    inputs: RunInputs
    seed: int
    progress: Progress | None
    decides: bool = True

    def at_fall(self, falls: bool) -> _Study:
        """The same with friction that falls above a contact load, or with constant friction.

        ``decides`` is false where that is another study than this one.
        """
        pulls = [at_fall(end.pull, falls) for end in self.ends]
        same = all(pull is end.pull for pull, end in zip(pulls, self.ends, strict=True))
        if same:
            return self
        first, second = (
            end_of(replace(end.candidate, pull=pull))
            for pull, end in zip(pulls, self.ends, strict=True)
        )
        return replace(self, ends=(first, second), decides=False)

    def solved(
        self, values: Floats, before: int = 0, most: int = 0, multiplier: Floats | float = 1.0
    ) -> tuple[EndLoads, EndLoads]:
        """Both directions at values (d, k) of the inputs."""
        if self.inputs.geometry:
            tell = self.progress if most else None
            step = None if tell is None else (lambda done: tell(before + done, most))
            return solve_each(self.ends, self.inputs, values, multiplier, step)
        first, second = (
            solve(end, scenarios_of(end, self.inputs, values, multiplier)) for end in self.ends
        )
        if self.progress is not None and most:
            self.progress(before + values.shape[1], most)
        return first, second

    def _at_median(self, count: int) -> Floats:
        return self.inputs.values(np.zeros((len(self.inputs.varying), count)))

    def turns_at(self) -> float | None:
        """The multiplier on the median friction at which the decision turns."""
        if any(end.candidate.barred for end in self.ends):
            return None

        def peaks(multipliers: Floats) -> Floats:
            loads = self.solved(self._at_median(len(multipliers)), multiplier=multipliers)
            return np.array([each.peak for each in loads])

        return turning_friction(peaks)

    def lower(self) -> int | None:
        """The end with the lower utilization at all medians; None where both take the same."""
        first, second = (float(each.peak[0]) for each in self.solved(self._at_median(1)))
        return None if math.isclose(first, second, rel_tol=1e-9) else int(second < first)

    def importance(self, scores: Floats, loads: Sequence[EndLoads]) -> list[tuple[Importance, ...]]:
        """How much each input matters, from each end."""
        labels = self.inputs.labels
        low, high = self._tornado()
        if self.inputs.correlated:
            few = slice(None, None, max(1, scores.shape[1] // _DELTA_POINTS))
            values = self.inputs.values(scores[:, few])
            deltas = [
                delta_indices(values, np.minimum(each.peak[few], _MOST_SHARE), self.seed + 1)
                for each in loads
            ]
            return [
                tuple(
                    Importance(
                        label,
                        float(first[j]),
                        float(error[j]),
                        None,
                        None,
                        float(low[i, j]),
                        float(high[i, j]),
                    )
                    for j, label in enumerate(labels)
                )
                for i, (first, error) in enumerate(deltas)
            ]
        points = _INDEX_POINTS
        if self.inputs.geometry:
            points = 2 ** round(math.log2(_INDEX_CALLS_BUILT / (len(labels) + 2)))

        def peaks(cube: Floats) -> Floats:
            values = self.inputs.values(self.inputs.scores(cube))
            return np.array([np.minimum(x.peak, _MOST_SHARE) for x in self.solved(values)])

        found = sobol_indices(peaks, len(labels), points, self.seed)
        return [
            tuple(
                Importance(
                    label,
                    float(found.first[i, j]),
                    float(found.first_error[i, j]),
                    float(found.total[i, j]),
                    float(found.total_error[i, j]),
                    float(low[i, j]),
                    float(high[i, j]),
                )
                for j, label in enumerate(labels)
            )
            for i in (0, 1)
        ]

    def _tornado(self) -> tuple[Floats, Floats]:
        """The largest share (2, d) with one input at its 5th and its 95th percentile."""
        count = len(self.inputs.varying)
        each = np.eye(count) * Z_HIGH
        loads = self.solved(self.inputs.values(np.concatenate((-each, each), axis=1)))
        peaks = np.array([x.peak for x in loads])
        return peaks[:, :count], peaks[:, count:]

    def end(
        self,
        i: int,
        loads: EndLoads,
        importance: tuple[Importance, ...],
        steps: _Steps,
        scrambles: NDArray[np.int8],
    ) -> EndSpread:
        """One end, told."""
        end = self.ends[i]
        pull, count = end.pull, loads.first.size
        tension = percentiles(loads.tension)
        gauge = None
        if loads.machine is not None:
            gauge = percentiles(loads.machine)
        elif pull.rope_phase is not None:
            # The load at the machine grows with the tension at the head: so do its percentiles.
            gauge = np.array([end.gauge(row) for row in tension])
        marks = len(end.pulled)
        reached = np.cumsum(np.bincount(loads.first, minlength=marks + 1)[:marks]) / count
        passes, error = steps.passes(i)
        return EndSpread(
            feed=pull.feed_name,
            pull=pull.pull_name,
            reverse=pull.reverse,
            pulled=end.pulled,
            tension=tension,
            heads=end.pulled,
            gauge=gauge,
            reached_by=reached,
            chances=tuple(self._chances(end, loads, scrambles)),
            passes=passes,
            passes_error=error,
            utilization=loads.peak,
            importance=importance,
            reel_tension=pull.reel_tension,
            drag=reel_drag(pull.run),
            brake=end.held,
            by_hand=end.by_hand,
            barred=render(end.candidate.barred, "SI"),
            bends=end.bend_places,
            sidewall=None if loads.sidewall is None else percentiles(loads.sidewall),
        )

    def _chances(self, end: End, loads: EndLoads, scrambles: NDArray[np.int8]) -> Sequence[Chance]:
        """Each limit that there is, and what else may go wrong."""
        found = []
        no_fit = np.isinf(loads.shares[0])
        for row, limit in enumerate(LIMITS):
            share = loads.shares[row]
            if np.isnan(share[~no_fit]).all():
                continue
            over = (share > 1.0) & ~no_fit
            where: tuple[str, float | None] = ("", None)
            at = loads.places[row][over]
            at = at[at != NOWHERE]
            if at.size:
                where = end.place(limit, int(np.bincount(at).argmax()))
            found.append(Chance(limit, *_chance(over, scrambles), *where))
        if self.inputs.geometry:
            if no_fit.any():
                found.append(Chance(FIT, *_chance(no_fit, scrambles)))
            if loads.jammed is not None and loads.jammed.any():
                found.append(Chance(JAM, *_chance(loads.jammed, scrambles)))
        return found


class _ByBoth:
    """How many scenarios pass with constant friction and with that which falls above a load.

    Both are told wherever friction falls, whichever decides; the hand method knows no fall.
    """

    def __init__(self, decides: str, studies: tuple[_Study, ...]) -> None:
        self._decides, self._studies = decides, studies
        self._passed = np.zeros((len(studies), 2))

    @classmethod
    def of(cls, study: _Study) -> _ByBoth:
        """Of a run as it decides itself; of one whose friction does not fall there is nothing."""
        pull = study.ends[0].pull
        if pull.by_both_frictions is None:
            return cls("", ())
        return cls(decided_by(pull), tuple(study.at_fall(decides) for decides in (False, True)))

    def add(self, values: Floats, own: tuple[EndLoads, EndLoads]) -> None:
        """Count scenarios at values (d, k) of the inputs; ``own`` are the loads that decide."""
        for passed, study in zip(self._passed, self._studies, strict=True):
            loads = own if study.decides else study.solved(values)
            passed += [np.count_nonzero(each.peak <= 1.0) for each in loads]

    def told(self, end: int, count: int) -> ByBoth | None:
        """From one end, of ``count`` scenarios in all."""
        if not self._studies:
            return None
        constant, by_pressure = (self._passed[:, end] / count).tolist()
        return ByBoth(constant, by_pressure, self._decides)


def _chance(over: NDArray[np.bool_], scrambles: NDArray[np.int8]) -> tuple[float, float]:
    """Probability and standard error of what happens in some scenarios."""
    counts = np.bincount(scrambles[over], minlength=REPLICATES)
    shares = counts / (len(over) / REPLICATES)
    return float(over.mean()), float(error_of(shares, len(over)))


def percentiles(table: NDArray[np.floating]) -> Floats:
    """Percentiles (p, n) of rows (n, k); scenarios without a value are left out."""
    whole = not np.isnan(table).any()
    quantile = np.percentile if whole else np.nanpercentile
    rows = [quantile(row, PERCENTILES) for row in table]
    return np.array(rows, dtype=np.float64).T


def _told(inputs: RunInputs) -> Sequence[InputSpread]:
    return [
        InputSpread(
            each.label,
            each.marginal.shape,
            each.quantity,
            each.marginal.percentile(5.0),
            each.marginal.percentile(50.0),
            each.marginal.percentile(95.0),
            each.planned,
            each.source,
            each.marginal.cut,
        )
        for each in inputs.varying
    ]


def _pairs(inputs: RunInputs) -> Sequence[tuple[str, str, float]]:
    labels, matrix = inputs.labels, inputs.correlation
    return [
        (labels[i], labels[k], float(matrix[i, k]))
        for i in range(len(labels))
        for k in range(i + 1, len(labels))
        if matrix[i, k]
    ]
