"""The section picture of a run: its tightest conduit with the cables lying in it."""

from __future__ import annotations

from collections.abc import Sequence

from route3d.mechanics.packing import section_positions
from route3d.planning.evaluate import RunResult
from route3d.report.section import section_svg
from route3d.units import show


def tightest(runs: Sequence[RunResult]) -> RunResult:
    """The run whose tightest conduit is the fullest."""
    return max(runs, key=lambda run: run.governing_fit.fill)


def section_of(run: RunResult, system: str) -> str:
    """SVG of the conduit of a run that is filled most."""
    fit = run.governing_fit
    conduit = run.run.route.conduits[run.fits.index(fit)]
    centres = section_positions(fit.arrangement, fit.diameters, fit.inner_diameter)
    cables = [(cable.diameter, cable.name) for cable, n in run.run.cables.items for _ in range(n)]
    names = [name for _, name in sorted(cables, key=lambda c: -c[0])]
    title = f"{run.run.name}: {run.run.cables.describe()} in {conduit.label}"
    return section_svg(
        fit,
        centres,
        conduit.outer_diameter,
        title,
        names,
        lambda value, quantity: show(value, quantity, system),
    )
