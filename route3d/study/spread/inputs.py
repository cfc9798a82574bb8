"""The uncertain inputs of one run: what each is of, its distribution, and how they go together."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from route3d.errors import InputError, Problem
from route3d.geometry.vectors import Floats
from route3d.mechanics.feed import reel_count, reel_drag
from route3d.model.conduit import HIGH_FRICTION, LOW_FRICTION, Conduit
from route3d.model.run import Run
from route3d.model.spread import (
    INPUTS,
    InputCorrelation,
    InputKind,
    SpreadAmount,
    SpreadInputs,
    UncertainInput,
)
from route3d.phrase import literal, say
from route3d.study.spread.marginal import Marginal, SpreadError, marginal_of

FRICTION = "friction"
ALL_BENDS = "all bends"
AMOUNTS = ("low", "high", "middle", "peak", "mean", "deviation")
# An eigenvalue above this is positive: those of a sound matrix are known to rounding.
_POSITIVE = 1e-9


@dataclass(frozen=True, eq=False)
class VaryingInput:
    """One input of a run that varies.

    ``name`` is the conduit, cable or bend; ``quantity`` that of its values, "percent" for a
    ``factor`` on the planned value. ``planned`` is in SI of the kind. ``source`` says where the
    spread is from.
    """

    kind: str
    name: str
    marginal: Marginal
    factor: bool
    planned: float
    source: str

    @property
    def label(self) -> str:
        """Such as ``friction of duct``."""
        named = self.name and self.name != ALL_BENDS
        return f"{self.kind} of {self.name}" if named else self.kind

    @property
    def quantity(self) -> str:
        """The quantity of its values."""
        return "percent" if self.factor or INPUTS[self.kind].share else INPUTS[self.kind].quantity


@dataclass(frozen=True, eq=False)
class RunInputs:
    """The varying inputs of one run; ``correlation`` (d, d) is that of their normal scores."""

    varying: tuple[VaryingInput, ...]
    correlation: Floats
    assumed: tuple[str, ...] = ()

    @property
    def labels(self) -> tuple[str, ...]:
        """What they are called."""
        return tuple(each.label for each in self.varying)

    @property
    def correlated(self) -> bool:
        """Whether any two go together."""
        return bool(np.any(self.correlation - np.eye(len(self.varying))))

    @property
    def geometry(self) -> bool:
        """Whether the path must be solved anew for each scenario."""
        return any(INPUTS[each.kind].geometry for each in self.varying)

    @cached_property
    def _root(self) -> Floats:
        return np.asarray(np.linalg.cholesky(self.correlation), dtype=np.float64)

    def scores(self, cube: Floats) -> Floats:
        """Normal scores (d, k) that go together as they should, of points (d, k) in (0, 1)."""
        from scipy.special import ndtri

        free: Floats = ndtri(cube)
        return self._root @ free if self.correlated else free

    def values(self, scores: Floats) -> Floats:
        """The values (d, k) of the inputs at scores (d, k)."""
        rows = [each.marginal.at(row) for each, row in zip(self.varying, scores, strict=True)]
        return np.array(rows).reshape(len(self.varying), -1)


# --- of one run -----------------------------------------------------------------------------------


def run_inputs(run: Run, given: SpreadInputs | None) -> RunInputs:
    """What varies in a run; without entries the friction of each conduit, as the model has it.

    Raises InputError for entries that are no spread, and where nothing varies.
    """
    spread = given or SpreadInputs()
    assumed: tuple[str, ...] = ()
    if spread.inputs:
        varying = tuple(_given(run, spread.inputs))
        if not varying:
            raise _refused(run, "no entry of [spread] is of this run", "add one, or leave it out")
    else:
        varying = tuple(_assumed(run))
        assumed = ("nothing but friction varies",)
        if not varying:
            raise _refused(
                run, "no input varies: its friction is 0, or has no range", "add [spread]"
            )
    return RunInputs(varying, _correlation_of(varying, spread, run), assumed)


def _refused(run: Run, said: str, fix: str) -> InputError:
    return InputError(Problem(said, where=f"run {run.name}", fix=fix))


def _given(run: Run, entries: Iterable[UncertainInput]) -> Iterator[VaryingInput]:
    seen: list[UncertainInput] = []
    for entry in entries:
        if twice := next((x for x in seen if x.meets(entry)), None):
            said = f"{entry.label} is given twice"
            fix = f"remove it, or {twice.label}: one entry for each"
            raise InputError(Problem(said, where="spread", fix=fix))
        seen.append(entry)
        for name, planned, learned in targets(run, entry):
            try:
                yield varying_input(entry, name, planned, learned)
            except SpreadError as error:
                where = f"spread: {entry.label}, {error.key}".rstrip(", ")
                raise InputError(Problem(str(error), where=where, fix=error.fix)) from None


def targets(
    run: Run, entry: UncertainInput
) -> Iterator[tuple[str, float, Sequence[tuple[float, float, float]]]]:
    """Name, planned value and learned distribution of what an entry is of in a run."""
    kind = INPUTS[entry.input]
    if kind.of == "conduit":
        for conduit in dict.fromkeys(run.route.conduits):
            if entry.of in ("", conduit.name):
                planned = conduit.friction if entry.input == FRICTION else 0.0
                yield conduit.name, planned, conduit.friction_learned
    elif kind.of == "cable":
        for cable, _ in run.cables.items:
            if entry.of in ("", cable.name):
                planned = cable.weight if entry.input == "cable weight" else cable.diameter
                yield cable.name, planned, ()
    elif kind.of == "bend":
        bends = [i for i, v in enumerate(run.route.vertices) if v.bend > 0]
        bends = [i for i in bends if entry.of in ("", run.route.label(i))]
        if bends:
            radii = {run.route.vertices[i].bend for i in bends}
            planned = 0.0 if kind.offset else radii.pop() if len(radii) == 1 else math.nan
            yield entry.of or ALL_BENDS, planned, ()
    else:
        yield "", reel_drag(run) / reel_count(run), ()


def varying_input(
    entry: UncertainInput,
    name: str,
    planned: float,
    learned: Sequence[tuple[float, float, float]] = (),
) -> VaryingInput:
    """An entry of [spread] for one thing; SpreadError where it is no distribution."""
    kind = INPUTS[entry.input]
    given = {key: a for key in AMOUNTS if (a := getattr(entry, key)) is not None}
    factor = bool(given) and all(a.relative for a in given.values())
    if not factor and any(a.relative for a in given.values()):
        mixed = next(key for key, a in given.items() if a.relative)
        said = f"{given[mixed]} is a percentage, and others are not"
        raise SpreadError(mixed, said, "write all in one way")
    _check_sane(given, kind, factor)
    about = replace(entry, of=name)
    beside = 1.0 if factor else planned
    if not factor and entry.deviation is not None and entry.mean is None and math.isnan(planned):
        said = "the bends have different radii, so their mean must be given"
        raise SpreadError("deviation", said, 'write it as a percentage, such as "3%"')
    least = kind.least if not (factor and kind.offset) else 0.0
    marginal = marginal_of(about, beside, least=least, learned=learned)
    source = "past pulls" if entry.shape == "history" else "given in [spread]"
    return VaryingInput(entry.input, name, marginal, factor, planned, source)


def _check_sane(given: Mapping[str, SpreadAmount], kind: InputKind, factor: bool) -> None:
    """Report a number that no such input can have: a slip of its unit or decimal point."""
    slip = "check the unit and the decimal point"
    for key, amount in given.items():
        if factor:
            low, high = 0.0, 10.0
        else:
            low, high = (-kind.most if kind.least is None else kind.least), kind.most
        quantity = "percent" if factor or kind.share else kind.quantity
        typed = literal(str(amount))
        if key != "deviation" and amount.value < low:
            least = say("{}", (low, quantity)) if low else say("0")
            said = say(f"{typed} is below the minimum of ") + least
            raise SpreadError(key, said, slip)
        if amount.value > high:
            said = say(f"{typed} exceeds the maximum of {{}}", (high, quantity))
            raise SpreadError(key, said, slip)


def _assumed(run: Run) -> Iterator[VaryingInput]:
    """The friction of each conduit by its own range, or what practice takes for one."""
    for conduit in dict.fromkeys(run.route.conduits):
        if conduit.friction <= 0:
            continue
        if conduit.friction_learned:
            entry = UncertainInput(FRICTION, conduit.name, "history")
            source = conduit.friction_source or "past pulls"
        else:
            low, high = conduit.low_friction, conduit.highest_friction
            if not low < high:
                continue
            entry = UncertainInput(
                FRICTION,
                conduit.name,
                "lognormal" if low > 0 else "normal",
                low=SpreadAmount(low),
                high=SpreadAmount(high),
                middle=SpreadAmount(conduit.friction),
            )
            source = range_source(conduit)
        try:
            made = varying_input(entry, conduit.name, conduit.friction, conduit.friction_learned)
        except SpreadError as error:
            where = f"conduit {conduit.name}, friction"
            raise InputError(Problem(str(error), where=where, fix="add [spread]")) from None
        yield replace(made, source=source)


def range_source(conduit: Conduit) -> str:
    """Who says how far the friction of a conduit may be from the plan."""
    ends = (
        ("low", LOW_FRICTION, conduit.friction_low),
        ("high", HIGH_FRICTION, conduit.friction_high),
    )
    assumed = [f"{end} assumed, {times:g} times the plan" for end, times, at in ends if at is None]
    if not assumed:
        return f"range of the model: {conduit.friction_source or 'given'}"
    return "; ".join(assumed) + " (common practice, no source)"


# --- how they go together -------------------------------------------------------------------------


def _correlation_of(varying: Sequence[VaryingInput], spread: SpreadInputs, run: Run) -> Floats:
    matrix = correlation_matrix([v.label for v in varying], spread)
    if said := not_definite([v.label for v in varying], matrix, spread.correlations):
        raise InputError(Problem(said, where=f"spread, run {run.name}", fix=DEFINITE_FIX))
    return matrix


DEFINITE_FIX = "bring them closer to 0: what goes with one input must go with what goes with it"


def correlation_matrix(labels: Sequence[str], spread: SpreadInputs) -> Floats:
    """Correlations (d, d) of the inputs of these labels; entries of other inputs are left out."""
    matrix = np.eye(len(labels))
    friction = [i for i, label in enumerate(labels) if label.startswith(f"{FRICTION} of ")]
    for i in friction:
        for k in friction:
            if i != k:
                matrix[i, k] = spread.friction_correlation
    at = {label: i for i, label in enumerate(labels)}
    for each in spread.correlations:
        if each.first in at and each.second in at:
            i, k = at[each.first], at[each.second]
            matrix[i, k] = matrix[k, i] = each.value
    return matrix


def not_definite(labels: Sequence[str], matrix: Floats, entries: Sequence[InputCorrelation]) -> str:
    """Which correlations contradict each other, in words; empty where none do."""
    if not len(labels):
        return ""
    values, vectors = np.linalg.eigh(matrix)
    if values[0] > _POSITIVE:
        return ""
    worst = np.abs(vectors[:, 0]) > 1e-3
    bad = [label for label, in_it in zip(labels, worst.tolist(), strict=True) if in_it]
    at = {label: i for i, label in enumerate(labels)}
    pairs = [
        f"{a} with {b} {matrix[at[a], at[b]]:g}"
        for n, a in enumerate(bad)
        for b in bad[n + 1 :]
        if matrix[at[a], at[b]] or any({a, b} == {e.first, e.second} for e in entries)
    ]
    return f"the correlations contradict each other (not positive definite): {'; '.join(pairs)}"
