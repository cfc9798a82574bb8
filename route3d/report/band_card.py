"""What to do when the reading leaves its band, for the card of that name.

Common practice, no source, and marked so; only the figures are the plan's.
"""

from __future__ import annotations

from collections.abc import Iterator

from route3d.planning.pull_plan.plan import Plan
from route3d.report.block import Block
from route3d.report.plan_blocks import reel_setting
from route3d.report.plan_steps import rest_words, secure_words

BAND_CARD = "READING OFF PLAN"


def band_blocks(plan: Plan, system: str, restarts: Block) -> tuple[Block, ...]:
    """The cautions, what each sign may be and what to do, and ``restarts``, by cable in."""
    return (
        Block("Always", tuple(_cautions(plan, system))),
        *(Block(sign, _answers(plan, system, sign)) for sign in _SIGNS),
        restarts,
    )


def _cautions(plan: Plan, system: str) -> Iterator[str]:
    yield "Common practice, no source. Makers' instructions and site rules take precedence."
    yield "Line of fire: stay out of the rope's line and the bight."
    yield "Anyone may say the stop word. Never pull harder to find out."
    yield "Hands off until the load is off and the machine is locked."
    yield from rest_words(plan, system)
    yield from secure_words(plan, system)


# By sign: what it may be, what to do, who decides and whether to restart.
_SIGNS = {
    "JUMP: sudden rise": (
        "May be: head caught, crossed cables, jam, stuck reel or sheave.",
        "Do: stop at once. Keep gear and limiter. Look at reel, feed-in and every pull point.",
        "Decides: engineer. Restart only when the cause is found, as listed.",
    ),
    "SLOW CLIMB: toward Caution": (
        "May be: too little lubricant, more friction, dirt, water, brake too hard.",
        "Do: slow down, call. Lubricate. Reels: {brake}. Above Caution: stop.",
        "Decides: foreman; above Caution the engineer. Restart as listed.",
    ),
    "DROP to nothing": (
        "May be: broken rope, swivel or grip; slack cable; gauge failed.",
        "Do: stop machine and reels. Keep clear, the rope may be loaded. Find the head.",
        "Decides: engineer. No restart: call.",
    ),
    "PULSING: up and down": (
        "May be: dry cable, grabbing brake, bent reel, rope slipping on the capstan.",
        "Do: the highest reading counts; above Caution: stop. Steady speed. Lubricate. Reels: "
        "{brake}.",
        "Decides: foreman. Restart as listed.",
    ),
    "WILL NOT RESTART": (
        "May be: friction at rest, brake still set, head caught, limiter acts.",
        "Do: stop at the listed 'at most'. Do not jerk. Keep the limiter. Lubricate. Reels: "
        "{brake}.",
        "Decides: engineer. No stronger gear than listed: call.",
    ),
}


# The sign of each kind of departure that readings can show.
_SIGN_OF = {
    "jump": "JUMP: sudden rise",
    "slow climb": "SLOW CLIMB: toward Caution",
    "drop": "DROP to nothing",
    "pulsing": "PULSING: up and down",
}


def departure_answers(plan: Plan, system: str) -> dict[str, tuple[str, ...]]:
    """By kind of departure what it may be, what to do and who decides, as on the card."""
    return {kind: _answers(plan, system, sign) for kind, sign in _SIGN_OF.items()}


def _answers(plan: Plan, system: str, sign: str) -> tuple[str, ...]:
    if not plan.feeding.off_reel:  # no reels: figure eights
        return tuple(text.replace("Reels: {brake}.", "Feed by hand.") for text in _SIGNS[sign])
    brake = reel_setting(plan, system)
    return tuple(text.replace("{brake}", brake) for text in _SIGNS[sign])
