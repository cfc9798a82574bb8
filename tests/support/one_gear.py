"""Ways to split a run with every stage in one gear: quick, and near enough to compare with."""

from __future__ import annotations

from route3d.model import Allowances, Practice, Run
from route3d.planning.splitting.section_pulls import section_pulls
from route3d.planning.splitting.ways import (
    SplitSearch,
    StageTime,
    best_plans,
    fastest_gear,
    search_of,
)


def one_gear_splits(
    run: Run,
    practice: Practice,
    allowances: Allowances,
    *,
    best: int = 3,
    time: StageTime | None = None,
) -> SplitSearch:
    """The ``best`` plans; ``time`` of a stage is by ``fastest_gear`` where none is given."""
    if time is None and run.machine is not None:
        time = fastest_gear(run.machine, allowances)
    sections = section_pulls(run, practice)
    return search_of(run, sections, best_plans(run, sections, allowances, time, best))
