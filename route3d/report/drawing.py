"""The section picture of a run: its tightest conduit with the cables lying in it."""

from __future__ import annotations

from collections.abc import Sequence

from route3d.model.cable import Cable
from route3d.planning.result import RunResult
from route3d.report.section import section_svg
from route3d.units import show


def tightest(runs: Sequence[RunResult]) -> RunResult:
    """The run whose tightest conduit is the fullest."""
    return max(runs, key=lambda run: run.governing_fit.fill)


def section_of(run: RunResult, system: str) -> str:
    """SVG of the conduit of a run that is filled most."""
    fit = run.governing_fit
    conduit = run.run.route.conduits[run.fits.index(fit)]
    cables = run.run.cables
    names = [name for items in (cables.mains, cables.riders) for name in _by_size(items)]
    title = f"{run.run.name}: {run.run.cables.describe()} in {conduit.label}"
    return section_svg(
        fit,
        fit.centres,
        conduit.outer_diameter,
        title,
        names,
        lambda value, quantity: show(value, quantity, system),
    )


def _by_size(items: Sequence[tuple[Cable, int]]) -> list[str]:
    """The name of every cable, largest diameter first, as ``Fit.diameters`` has them."""
    each = [cable for cable, n in items for _ in range(n)]
    return [cable.name for cable in sorted(each, key=lambda c: -c.diameter)]
