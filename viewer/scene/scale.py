"""The color scale: from zero to a round share of the limit, never to whatever the peak is.

A scale that follows the peak makes a pull at twice the friction look like the one before. Here
the full scale is the smallest of 100 %, 50 %, 20 %, 10 %, 5 %, ... of the limit that holds the
largest value of the shown pull, and the limit itself where that is exceeded or there is no value.
"""

from __future__ import annotations

import math

import numpy as np

from route3d.checks.finding import BEYOND
from route3d.checks.limits import conductor_limit, grip_limit, sidewall_limit
from route3d.geometry.vectors import Floats
from route3d.mechanics.pull import Pull
from route3d.model.conduit import Conduit
from route3d.units import show
from viewer.scene.records import Coloring, ColorScale

_SHARES = tuple(m * 10.0**e for e in range(-1, -7, -1) for m in (10.0, 5.0, 2.0))
MOST_PERCENT = 10.0
"""From this utilization on it is given in times; above ``BEYOND`` as more than that."""
_TITLES = {
    "tension": ("Cable tension", "force"),
    "sidewall": ("Sidewall pressure", "sidewall"),
    "utilization": ("Utilization", "percent"),
}


def tension_limit(pull: Pull) -> float:
    """The lowest tension limit of the cable set and its attachment, N."""
    return min(conductor_limit(pull.run, pull.practice).value, grip_limit(pull.run).value)


def utilization_of(pull: Pull, tension: Floats, sidewall: Floats) -> Floats:
    """The larger share of the tension limit and of the sidewall limit at each place."""
    return np.maximum(tension / tension_limit(pull), sidewall / sidewall_limit(pull.run).value)


def color_scale(pull: Pull, color_by: Coloring, units: str) -> ColorScale:
    """The scale of one pull; ValueError where ``color_by`` is not known."""
    if color_by == "conduit":
        return _by_conduit(pull, units)
    if color_by not in _TITLES:
        raise ValueError(f"color_by {color_by!r} is not one of {sorted((*_TITLES, 'conduit'))}")
    title, quantity = _TITLES[color_by]
    tension, sidewall = pull.profile.tension, pull.profile.sidewall
    limit, values = {
        "tension": (tension_limit(pull), tension),
        "sidewall": (sidewall_limit(pull.run).value, sidewall),
        "utilization": (1.0, utilization_of(pull, tension, sidewall)),
    }[color_by]
    peak = float(values.max(initial=0.0))
    share = min((s for s in _SHARES if s * limit >= peak > 0), default=1.0)
    rule = _rule(share, limit, quantity, units) + _unseen(pull, color_by, units)
    return ColorScale(color_by, title, quantity, share * limit, limit, peak, rule)


def share_words(ratio: float, units: str) -> str:
    """Utilization as ``62% of``, or in words where a percentage is meaningless.

    What follows names the limit.

    >>> share_words(1.24, "SI"), share_words(25.0, "SI"), share_words(1e9, "SI")
    ('124% of', '25 times', 'over 1,000 times')
    """
    if ratio > BEYOND:
        return f"over {BEYOND:,} times"
    if ratio >= MOST_PERCENT:
        return f"{ratio:,.0f} times"
    return f"{show(ratio, 'percent', units)} of"


def shown(value: float, limit: float, quantity: str, units: str) -> str:
    """A value, or ``>1,000 x`` where it is too far above its limit to mean anything."""
    return f">{BEYOND:,} x" if value > BEYOND * limit else show(value, quantity, units)


def _rule(share: float, limit: float, quantity: str, units: str) -> str:
    full = "the limit" if share == 1.0 else f"{100 * share:.3g}% of the limit"
    value = "" if quantity == "percent" else f" ({show(limit, quantity, units)})"
    return f"full scale = {full}{value}"


def _unseen(pull: Pull, color_by: Coloring, units: str) -> str:
    """The quantity that exceeds its limit but is not shown in these colors."""
    shares = {
        "sidewall": pull.peak_sidewall / sidewall_limit(pull.run).value,
        "tension": pull.peak_tension / tension_limit(pull),
    }
    name = {"tension": "sidewall", "sidewall": "tension"}.get(color_by, "")
    if shares.get(name, 0.0) <= 1 + 1e-9:
        return ""
    words, share = _TITLES[name][0].lower(), share_words(shares[name], units)
    return f"; {words} reaches {share} its limit: color by {name} to see where"


def conduit_names(pull: Pull) -> dict[Conduit, str]:
    """A name for each different conduit of a run, in route order; no two are the same."""
    kinds = list(dict.fromkeys(pull.run.route.conduits))
    labels = [c.label for c in kinds]
    return {c: c.label if labels.count(c.label) == 1 else f"{c.label} ({c.name})" for c in kinds}


def _by_conduit(pull: Pull, units: str) -> ColorScale:
    """One color for each conduit type, with the arrangement of its cables."""
    fits = dict(zip(pull.run.route.conduits, pull.fits, strict=True))
    found = []
    for conduit, name in conduit_names(pull).items():
        fit = fits[conduit]
        bore = show(conduit.inner_diameter, "diameter", units)
        outer = show(conduit.outer_diameter, "diameter", units)
        found.append(
            (
                name,
                f"ID {bore}",
                f"OD {outer}",
                f"friction {conduit.friction:.2f}",
                fit.arrangement,
                f"fill {show(fit.fill, 'percent', units)}",
            )
        )
    rule = "one per conduit, with the arrangement of its cables"
    last = float(max(len(found) - 1, 1))
    return ColorScale("conduit", "Conduit", "ratio", last, math.inf, 0.0, rule, tuple(found))
