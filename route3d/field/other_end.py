"""Whether a log looks like a pull from the other end of its run."""

from __future__ import annotations

import numpy as np

from route3d.errors import InputError
from route3d.field.expected import expected_load
from route3d.geometry.vectors import Floats
from route3d.mechanics.pull import Pull
from route3d.model.job import Job
from route3d.planning.result import evaluate_run

FRICTIONS = np.linspace(0.6, 1.5, 19)
"""Shares of the planned friction that both ends are tried with (our judgment)."""
FEWEST, MOST = 8, 60
"""Readings that are needed, and that are looked at."""
BETTER, LEAST_OFF = 0.5, 2.0
"""The other end fits better where its residual is below this share of that of the end named, which
must be so many marks of the dial at least (our judgment)."""


def other_end(job: Job, pull: Pull, pulled: Floats, load: Floats) -> str:
    """The end that readings fit far better than the feed end of ``pull``; "" for none.

    ``pulled`` (n,) m and ``load`` (n,) N, tare off, of readings that count. Each end at the
    friction that suits it best, the same share of the plan in every conduit.
    """
    inside = np.flatnonzero((pulled >= 0) & (pulled <= pull.path.length) & np.isfinite(load))
    rows = inside[np.argsort(pulled[inside], kind="stable")]
    if len(rows) < FEWEST:
        return ""
    rows = rows[np.unique(np.linspace(0, len(rows) - 1, MOST).astype(int))]
    at = np.maximum.accumulate(pulled[rows])
    here = _off(pull, at, load[rows])
    if here < LEAST_OFF * job.allowances.gauge_step:
        return ""
    result = evaluate_run(pull.run, job.practice, allowances=job.allowances)
    others = [c.pull for c in result.candidates if c.pull.feed != pull.feed]
    off = {each.feed_name: _off(each, at, load[rows]) for each in others}
    best = min(off, key=lambda end: off[end], default="")
    return best if best and off[best] < BETTER * here else ""


def other_end_words(name: str, feed: str, end: str) -> str:
    """The sentence on a log of a pull fed from ``feed`` that fits ``end`` far better."""
    return (
        f"Log {name} fits a pull fed from {end} far better than one fed from {feed}. Was it fed "
        f'from {end}? Then add --feed "{end}".'
    )


def _off(pull: Pull, at: Floats, load: Floats) -> float:
    """How far readings are off the pull at the friction that suits best, root mean square, N."""
    try:
        expected = expected_load(pull, at, closely=False)
    except InputError:  # no rope, or a conduit without friction
        return np.inf
    loads = expected.loads(expected.friction[:, None] * FRICTIONS)
    return float(np.sqrt(np.mean((loads - load[:, None]) ** 2, axis=0)).min())
