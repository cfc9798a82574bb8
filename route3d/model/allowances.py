"""Times, margins and lengths a plan allows for: the job's own, or the stated defaults."""

from __future__ import annotations

from dataclasses import dataclass
from math import radians

GAUGE_STEPS = {"US": 50.0 * 4.4482216152605, "SI": 200.0}
"""Default marks of the machine's dial, N, by the units of the job: 50 lbf, or 200 N (common
practice, no source)."""


@dataclass(frozen=True, slots=True)
class Allowances:
    """Times in s, lengths in m, angles in rad, shares as fractions.

    Every default is common practice without a source, and a plan prints which were used:
    ``gear_margin`` share of the rated pull kept free; ``time_tolerance`` share of pulling time
    given up for fewer gear changes; ``friction_band`` share by which friction may be off before
    the gauge calls for caution; ``setup_time`` a set-up; ``gear_change_time``;
    ``lubricant_interval`` cable length between lubricant stops (None for no stops) and
    ``lubricant_stop`` each; ``figure_eight_time`` to lay down and pick up cable at a pull point;
    ``splice_time``; ``feed_slack`` and ``pull_slack`` cable beyond the conduit at each end, make-up
    included; ``rope_tail`` rope beyond the conduit end, to the machine and on it; ``lead_angle``
    the most by which the rope may leave the line of the machine; ``gauge_step`` N between two marks
    of the dial, to which what the crew reads is rounded (Stop down).
    """

    gear_margin: float = 0.1
    time_tolerance: float = 0.1
    friction_band: float = 0.2
    setup_time: float = 3600.0
    gear_change_time: float = 120.0
    lubricant_interval: float | None = None
    lubricant_stop: float = 300.0
    figure_eight_time: float = 2700.0
    splice_time: float = 14400.0
    feed_slack: float = 3.0
    pull_slack: float = 3.0
    rope_tail: float = 10.0
    lead_angle: float = radians(5.0)
    gauge_step: float = GAUGE_STEPS["US"]
