"""Which inputs are uncertain, from the table [spread] of a model file."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Mapping, Sequence

from route3d.errors import UnitError
from route3d.model import Cable, Conduit, Run
from route3d.model.spread import (
    INPUTS,
    InputCorrelation,
    SpreadAmount,
    SpreadInputs,
    UncertainInput,
)
from route3d.modelfile.fields import brief, nearest
from route3d.modelfile.job_entries import SpreadEntry, SpreadInputEntry
from route3d.modelfile.places import told
from route3d.modelfile.problems import Collector
from route3d.modelfile.toml_positions import KeyPath
from route3d.units import parse

_PERCENT = re.compile(r"\s*([+\-\u2212]?\d+(?:[.]\d*)?)\s*%\s*")


def build_spread(
    entry: SpreadEntry,
    runs: Sequence[Run],
    conduits: Mapping[str, Conduit],
    cables: Mapping[str, Cable],
    report: Collector,
) -> SpreadInputs | None:
    """The uncertain inputs; None for a file without the table, and where a problem was reported."""
    if not (entry.input or entry.correlation or entry.friction_correlation):
        return None
    from route3d.study.spread.inputs import FRICTION

    before = len(report.problems)
    given: dict[int, UncertainInput] = {}
    labels: list[str] = []
    for i, each in enumerate(entry.input):
        made = _input(each, ("spread", "input", i), runs, conduits, cables, report)
        if made is None:
            continue
        if (k := next((k for k, x in given.items() if x.meets(made)), None)) is not None:
            _add_twice(given[k], k, made, i, report)
        given[i] = made
        labels += _labels(made, conduits, cables)
    if not entry.input:
        labels = [f"{FRICTION} of {name}" for name in conduits]
    pairs = tuple(_pairs(entry, labels, report)) if len(report.problems) == before else ()
    spread = SpreadInputs(tuple(given.values()), pairs, entry.friction_correlation)
    if len(report.problems) == before:
        _check_definite(labels, spread, report)
    return spread if len(report.problems) == before else None


def _add_twice(
    first: UncertainInput, k: int, second: UncertainInput, i: int, report: Collector
) -> None:
    """Report two entries that are of the same thing, the second where it stands."""
    line = told(report.document.value_place(("spread", "input", k)))
    said = f"{_whole_label(second)} is given twice: also in spread.input[{k}]{line}"
    if first.label == second.label:
        report.add(("spread", "input", i), said, "remove one of the entries")
        return
    fix = f"remove one of the entries, or name its {INPUTS[first.input].of} in both with of"
    report.add(("spread", "input", i), f"{said} ({_whole_label(first)})", fix)


def _whole_label(entry: UncertainInput) -> str:
    """The label of an entry; of one for all, what it is of."""
    of = INPUTS[entry.input].of
    return entry.label if entry.of or not of else f"{entry.input} of every {of}"


def _input(
    entry: SpreadInputEntry,
    place: KeyPath,
    runs: Sequence[Run],
    conduits: Mapping[str, Conduit],
    cables: Mapping[str, Cable],
    report: Collector,
) -> UncertainInput | None:
    """One entry; None where it is none, which is reported."""
    from route3d.study.spread.inputs import AMOUNTS, targets, varying_input
    from route3d.study.spread.marginal import SpreadError

    kind = INPUTS[entry.input]
    known = {"conduit": list(conduits), "cable": list(cables), "bend": _bends(runs), "": []}[
        kind.of
    ]
    if entry.of is not None and entry.of not in known:
        said = f"there is no {kind.of} {brief(entry.of)}" if kind.of else "the reels have no name"
        fix = nearest(entry.of, known) or "remove of"
        report.add((*place, "of"), said, fix)
        return None
    if entry.shape == "history" and entry.input != "friction":
        said = f"past pulls tell nothing of {entry.input}"
        report.add((*place, "shape"), said, "use another shape, with low and high")
        return None
    amounts: dict[str, SpreadAmount | None] = {}
    for key in AMOUNTS:
        amounts[key] = _amount(getattr(entry, key), entry.input, (*place, key), report)
        if amounts[key] is None and getattr(entry, key) is not None:
            return None
    made = UncertainInput(entry.input, entry.of or "", entry.shape, **amounts)
    for run in runs:
        for name, planned, learned in targets(run, made):
            try:
                varying_input(made, name, planned, learned)
            except SpreadError as error:
                where = (*place, error.key) if error.key else place
                report.add(where, error.said(report.system), error.fix)
                return None
    return made


def _amount(
    value: float | str | None, kind: str, place: KeyPath, report: Collector
) -> SpreadAmount | None:
    """A number of a spread in SI, or a share of the planned value."""
    if value is None:
        return None
    typed = value.strip() if isinstance(value, str) else f"{value:g}"
    if isinstance(value, str) and (found := _PERCENT.fullmatch(value)):
        share = float(found[1].replace("\u2212", "-")) / 100
        return SpreadAmount(share, not INPUTS[kind].share, typed)
    try:
        return SpreadAmount(parse(value, INPUTS[kind].quantity, report.system), False, typed)
    except UnitError as error:
        report.add(place, str(error), 'or a percentage of the planned value, such as "90%"')
    except (OverflowError, ValueError):  # integers of hundreds of digits
        report.add(place, f"{brief(value)} is too large")
    return None


def _bends(runs: Iterable[Run]) -> list[str]:
    """What the bends of all runs are called: the names of their points."""
    return [
        run.route.label(i) for run in runs for i, v in enumerate(run.route.vertices) if v.bend > 0
    ]


def _labels(
    made: UncertainInput, conduits: Mapping[str, Conduit], cables: Mapping[str, Cable]
) -> list[str]:
    """The inputs that an entry makes, as correlations name them."""
    names = {"conduit": conduits, "cable": cables}.get(INPUTS[made.input].of)
    if made.of or names is None:
        return [made.label]
    return [f"{made.input} of {name}" for name in names]


def _pairs(
    entry: SpreadEntry, labels: Sequence[str], report: Collector
) -> Iterator[InputCorrelation]:
    seen: set[frozenset[str]] = set()
    for i, each in enumerate(entry.correlation):
        place: KeyPath = ("spread", "correlation", i, "inputs")
        for k, name in enumerate(each.inputs):
            if name not in labels:
                fix = nearest(name, labels) or "add an entry for it under spread.input"
                report.add((*place, k), f"{brief(name)} is not an uncertain input here", fix)
        if each.inputs[0] == each.inputs[1]:
            report.add(place, "are the same input", "name two inputs")
        if frozenset(each.inputs) in seen:
            report.add(place, f"{' and '.join(each.inputs)} are given twice", "remove one")
        seen.add(frozenset(each.inputs))
        yield InputCorrelation(*each.inputs, each.value)


def _check_definite(labels: Sequence[str], spread: SpreadInputs, report: Collector) -> None:
    """Report correlations that no inputs can have."""
    from route3d.study.spread.inputs import DEFINITE_FIX, correlation_matrix, not_definite

    if not spread.correlations and not spread.friction_correlation:
        return
    matrix = correlation_matrix(labels, spread)
    if said := not_definite(labels, matrix, spread.correlations):
        key = "correlation" if spread.correlations else "friction_correlation"
        report.add(("spread", key), said, DEFINITE_FIX)
