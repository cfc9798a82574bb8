"""What to do when the reading leaves its band, for the card of that name.

Common practice, no source, and marked so; only the figures are the plan's.
"""

from __future__ import annotations

from collections.abc import Iterator

from route3d.checks.limits import NO_BRAKE
from route3d.planning.pull_plan.feeding import held_at_rest
from route3d.planning.pull_plan.plan import Plan
from route3d.report.block import Block
from route3d.report.plan_blocks import reel_setting
from route3d.units import show_marked

BAND_CARD = "READING LEAVES ITS BAND"


def band_blocks(plan: Plan, system: str, restarts: Block) -> tuple[Block, ...]:
    """The cautions, what each sign may be and what to do, and ``restarts``, by cable in."""
    return (
        Block("First", tuple(_cautions(plan, system))),
        *(Block(sign, _answers(plan, system, sign)) for sign in _SIGNS),
        restarts,
    )


def _cautions(plan: Plan, system: str) -> Iterator[str]:
    yield "Common practice, no source. The makers' instructions and the site's rules come first."
    yield "Line of fire: stay out of the line of the rope and the bight. A loaded rope can kill."
    yield "Stop means stop: anyone may say the stop word. Nobody pulls harder to find out."
    yield "Hands off rope, sheaves and cable until the load is off and the machine is locked."
    reels, _ = held_at_rest(plan.pull)
    if plan.feeding.window is not None and reels > NO_BRAKE:
        hold = show_marked(reels, "force+", system)
        yield f"Cable hangs: hold at least {hold} at the reels at every stop. Stay out from under."


# By sign: what it may be, what to do, who decides, whether to restart.
_SIGNS = {
    "JUMP: sudden rise": (
        "May be: head caught at a joint or edge, crossed cables, jam, stuck reel or sheave.",
        "Do: stop at once. Keep the gear and the limiter. Look at the reel, the feed-in and every "
        "pull point.",
        "Decides: the engineer.",
        "Restart: not until the cause is found. Then as listed below.",
    ),
    "SLOW CLIMB: toward Caution": (
        "May be: too little lubricant, more friction than planned, dirt or water, brake too hard.",
        "Do: slow down, call. Lubricate. Check the reels: {brake}. Above Caution: stop.",
        "Decides: the foreman up to Caution, the engineer above it.",
        "Restart: as listed below.",
    ),
    "DROP to nothing": (
        "May be: broken rope, swivel or grip; cable out of the grip; slack cable; gauge failed.",
        "Do: stop machine and reels. Keep clear, the rope may still be loaded. Find the head.",
        "Decides: the engineer.",
        "Restart: no. Call.",
    ),
    "PULSING: up and down": (
        "May be: dry cable that sticks and slips, grabbing brake, out-of-round reel, rope that "
        "slips on the capstan.",
        "Do: the highest reading counts. Hold a steady speed, lubricate, smooth the brake: "
        "{brake}. Highest reading above Caution: stop.",
        "Decides: the foreman.",
        "Restart: as listed below.",
    ),
    "WILL NOT RESTART": (
        "May be: friction at rest, brake still set, head caught, limiter acts.",
        "Do: stop at the listed first move. Do not jerk. Do not raise the limiter. Set the reels: "
        "{brake}. Lubricate.",
        "Decides: the engineer.",
        "Restart: no second try in a stronger gear than listed. Call.",
    ),
}


def _answers(plan: Plan, system: str, sign: str) -> tuple[str, ...]:
    brake = reel_setting(plan, system)
    return tuple(text.replace("{brake}", brake) for text in _SIGNS[sign])
