"""What the crew does, in order, and what the plan allowed for."""

from __future__ import annotations

from collections.abc import Iterator

from route3d.planning.plan import Plan
from route3d.report.block import minutes
from route3d.report.plan_blocks import gear_name
from route3d.units import show


def steps(plan: Plan, system: str) -> tuple[tuple[str, bool], ...]:
    """What the crew does, in order; True where somebody must say yes before the next step.

    Common practice, no source; the local code, the maker and licensed practice go before it.
    """
    return tuple(_steps(plan, system))


def _steps(plan: Plan, system: str) -> Iterator[tuple[str, bool]]:
    pull, fed = plan.pull, plan.feeding
    yield "Energised gear within reach: locked out, tagged, proved dead by a licensed person.", True
    yield "Vaults: air tested, ventilated, attendant above, rescue ready (confined space).", True
    yield "Conduit proved with a mandrel and swabbed; ends smooth, edges protected.", False
    yield f"Machine at {pull.pull_name}, {plan.held.kind}: every hold looked at.", True
    yield (
        "Plates of rope, swivel, grip or eyes, sheaves and anchor read against the load path.",
        True,
    )
    yield f"Reels at {fed.place} in line with the conduit, feed-in sheave or guide set.", False
    if fed.braked:
        yield f"Brake tried: {show(fed.tension, 'force', system)} held back over all reels.", True
    yield "Both ends talk to each other; everybody knows the word that stops the pull.", True
    yield "Emergency stop tried. Nobody in line with the rope, in the bight, or under a load.", True
    yield f"Lubricant in: {show(plan.supplies.lubricant_total, 'volume', system)} in all.", False
    first = plan.gears.spans[0].gear if plan.gears.spans else None
    yield (
        f"Take up the slack by hand, start in {gear_name(first, plan)}, raise the load slowly.",
        False,
    )
    for change in plan.gears.changes:
        at = show(change.pulled, "length", system, decimals=0)
        yield (
            f"At {at} of cable in: stop, change to {gear_name(change.to_gear, plan)}.",
            True,
        )
    yield (
        "Read the gauge against the table. Above caution: stop and find out. At stop: stop.",
        False,
    )
    if _rises(plan):
        yield "Riser: the hanging cable is held at the top before the rope is slacked.", True
    out = show(plan.allowances.pull_slack, "length", system)
    yield f"Pull {out} beyond the conduit, secure the cable, let the rope down slowly.", False


def _rises(plan: Plan) -> bool:
    return any(f.rule == "hanging weight" for f in plan.result.run_findings)


def allowance_words(plan: Plan, system: str) -> str:
    """What the plan allowed for, in one line."""
    a = plan.allowances
    stops = "no lubricant stops"
    if a.lubricant_interval is not None:
        apart = show(a.lubricant_interval, "length", system)
        stops = f"lubricant stops every {apart}, {minutes(a.lubricant_stop)} each"
    return (
        f"margin of {show(a.gear_margin, 'percent', system)} on each gear, fewest changes within "
        f"{show(a.time_tolerance, 'percent', system)} of the least time, set-up "
        f"{minutes(a.setup_time)}, gear change {minutes(a.gear_change_time)}, {stops}, restart at "
        f"{plan.pull.practice.restart:g} x friction (common practice, no source, unless given)"
    )
