"""The first move after a stop, at static friction, against every limit of the moving pull."""

from __future__ import annotations

from collections.abc import Iterator

from route3d.checks.finding import Finding
from route3d.checks.limits import conductor_limit, grip_limit, limit_name, sidewall_limit
from route3d.mechanics.pull import Pull
from route3d.phrase import say

_NAN = float("nan")


def check_restart(pull: Pull, restarted: Pull) -> tuple[Finding, ...]:
    """What a stop anywhere would break: machine, rope, conductors, attachment, sidewall pressure.

    ``restarted`` is the same pull at static friction. A stop can be planned away, so a breach here
    is a caution, not a stop; what the moving pull breaks already is not said again.

    Parameters
    ----------
    pull : Pull
        One direction, solved.
    restarted : Pull
        The same at static friction.

    Returns
    -------
    tuple of Finding
        One for each limit that is exceeded.

    References
    ----------
    docs/theory.md section 7.
    """
    run, factor = pull.run, pull.practice.restart
    fix = say("avoid stops; if you must stop, stop where the tension is low")
    source = f"friction x {factor:g} at a restart, given in practice"
    where = f"{run.name}, after a stop"
    findings = tuple(
        Finding(
            f"restart: {rule}",
            "caution",
            where,
            demand,
            limit,
            quantity,
            fix,
            source,
            None,
            demand / limit,
        )
        for rule, demand, limit, quantity in _limits(pull, restarted)
        if demand > limit
    )
    if findings:
        return findings
    load = restarted.machine_least
    return (Finding("restart", "ok", where, load, _NAN, "force", fix, source),)


def _limits(pull: Pull, restarted: Pull) -> Iterator[tuple[str, float, float, str]]:
    """Rule, what it takes, limit and quantity of each that may break at a restart."""
    run = pull.run

    def name(limit: str) -> str:
        return limit_name(limit, run, pull.practice)

    if run.machine is not None:
        yield name("machine"), restarted.machine_least, run.machine.available_pull, "force"
    if run.rope is not None:
        yield name("rope"), restarted.machine_least, run.rope.rated_load, "force"
    for rule, limit in (
        (name("conductor"), conductor_limit(run, pull.practice).value),
        (name("grip"), grip_limit(run).value),
    ):
        if pull.peak_tension <= limit:
            yield rule, restarted.peak_tension, limit, "force"
    pressure = sidewall_limit(run).value
    if pull.peak_sidewall <= pressure:
        yield name("sidewall"), restarted.peak_sidewall, pressure, "sidewall"
