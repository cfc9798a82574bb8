"""One bend after the other with its place, its limits and the pressure in it."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from route3d.checks.bends import turn_as_judged
from route3d.checks.finding import SEVERITIES, Finding
from route3d.checks.limits import sidewall_limit
from route3d.geometry.route_path import route_schedule
from route3d.geometry.schedule import ScheduledBend
from route3d.planning.bend_margins import bend_findings, rule_radius
from route3d.planning.result import RunResult
from route3d.planning.shop import PullSection


@dataclass(frozen=True, slots=True)
class BendLine:
    """One bend with its place, conduit and limits; SI.

    ``least_radius`` is the largest of the radii that the cable and the conduit ask for, on the
    centerline. ``sidewall`` is the largest pressure in the bend in the direction reported, and
    ``sidewall_share`` its share of the limit. ``verdict`` is "ok", or what is wrong.
    """

    bend: ScheduledBend
    at: str
    conduit: str
    least_radius: float
    sidewall: float
    sidewall_share: float
    verdict: str


def bend_lines(run: RunResult) -> tuple[BendLine, ...]:
    """The schedule of one run, with sidewall pressure for the direction it is best pulled in."""
    found, limit = bend_findings(run), sidewall_limit(run.run).value
    return tuple(
        _line(run, bend, found.get(bend.number, []), limit)
        for bend in route_schedule(run.run.route, run.path)
    )


def _line(run: RunResult, bend: ScheduledBend, findings: list[Finding], limit: float) -> BendLine:
    route, pull = run.run.route, run.best.pull
    sidewall = float(pull.profile.sidewall[pull.worst_rows[bend.segment]])
    return BendLine(
        bend=bend,
        at=route.label(bend.vertex),
        conduit=route.conduits[bend.leg].label,
        least_radius=rule_radius(bend, findings),
        sidewall=sidewall,
        sidewall_share=sidewall / limit,
        verdict=verdict_of(findings),
    )


def verdict_of(findings: Iterable[Finding]) -> str:
    """The worst of some findings in words: "ok", or what is wrong."""
    worst = min(findings, key=lambda f: SEVERITIES.index(f.severity), default=None)
    if worst is None or worst.severity == "ok":
        return "ok"
    return f"{worst.severity}: {worst.rule}"


def section_verdict(section: PullSection) -> str:
    """Whether the bends between two pull points turn too much in all."""
    turn = turn_as_judged(section.turn, section.turn_limit)
    return "ok" if turn <= section.turn_limit * (1 + 1e-9) else "stop"
