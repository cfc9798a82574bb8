"""What helps without touching the route: brake, ends, split, lubricant, machine, rope, tackle."""

from __future__ import annotations

import math
import re
from collections.abc import Iterable, Iterator, Sequence

from route3d.checks.limits import cable_cap
from route3d.mechanics.feed import feed_factor, reel_count
from route3d.model.anchor import ConduitBrace, FloorBolts
from route3d.model.conduit import LOW_FRICTION, Conduit
from route3d.model.run import Run
from route3d.phrase import Phrase, literal, say
from route3d.planning.remedies.aim import Taken, least
from route3d.planning.remedies.edits import (
    Attachment,
    Edit,
    Opened,
    OtherFriction,
    ReelTension,
    SplitInStages,
    Tackle,
    carried_out,
)
from route3d.planning.remedies.option import FailingRun, Option, lower, option
from route3d.planning.splitting.timing import best_splits
from route3d.planning.splitting.ways import SplitPlan, work_words
from route3d.standards.practice import rope_safety_factor

NOTHING_BOUGHT, BOUGHT, ROUTE = range(3)
"""Places in ``COST_CLASSES``."""

# Effort of each kind of change within its class (common practice, no source).
_BRAKE, _ACCESS, _SPLIT, _SPLICE = 0.0, 5.0, 10.0, 15.0
_LUBRICANT, _EYES, _ROPE, _TACKLE, _MACHINE, _MUCH_LUBRICANT = 0.0, 1.0, 2.0, 3.0, 4.0, 6.0
# No lubricant brings friction below this, nor below so small a part of what was planned, and much
# less than planned is no small change (common practice, no source).
_LEAST_FRICTION, _LEAST_PART, _SMALL_PART = 0.10, LOW_FRICTION, 0.8
_FRICTION_STEP = 0.01
# A roller guide that turns as freely as this is made (common practice, no source).
_BEST_GUIDE, _GUIDE_STEP = 0.97, 0.01
_MOST_WAYS = 2
_BOLTS = tuple(
    f"load path: {name}"
    for name in ("worst bolt, shear", "worst bolt, tension", "worst bolt, combined")
)
# No sheave or roller guide is larger (common practice, no source), m.
_LARGEST_SHEAVE = 2.5


def field_options(state: FailingRun) -> Iterator[Option | None]:
    """Every change for the pull that leaves the route as it is."""
    yield _brake(state)
    yield from access_options(state)
    yield from _splits(state)
    yield from _friction(state)
    yield _eyes(state)
    yield _guide(state)
    yield from tackle_options(state)


def _brake(state: FailingRun) -> Option | None:
    given = state.run.reel_tension
    if given is None:
        return None
    what = say(
        'Set reel_tension = "auto" (only the tension the route requires) instead of {}',
        (given, "force"),
    )
    return option(state, "brake", what, [ReelTension(None)], (NOTHING_BOUGHT, _BRAKE, 0.0))


def access_options(state: FailingRun) -> Iterator[Option | None]:
    """Room for reel and machine where it is missing, so that the other end can feed."""
    last = len(state.run.route.vertices) - 1
    for feed, pull in ((0, last), (last, 0)):
        wanted = ((feed, "reel"), (pull, "machine"))
        missing = [(i, w) for i, w in wanted if w not in state.run.route.vertices[i].access]
        if not missing:
            continue
        label = state.run.route.label
        places = " and ".join(f"the {what} at {literal(label(i))}" for i, what in missing)
        what = say(f"Provide access for {places}, and feed from {literal(label(feed))}")
        edits = [Opened(i, frozenset({w})) for i, w in missing]
        cost = (BOUGHT, _ACCESS + len(missing), 0.0)
        yield option(state, "access", what, edits, cost)


def _splits(state: FailingRun) -> Iterator[Option | None]:
    """The best ways to pull the run in stages, at the pull points it has."""
    if not state.run.route.pull_points:
        return
    job, aim = state.task.job, state.task.aim
    found = best_splits(state.run, job.practice, job.allowances, best=_MOST_WAYS, aim=aim.margin)
    for way in found.plans:
        yield split_option(state, (), say(""), way, (NOTHING_BOUGHT, 0.0))


def split_option(
    state: FailingRun,
    before: Sequence[Edit],
    words: Phrase,
    way: SplitPlan,
    cost: tuple[int, float],
) -> Option | None:
    """One way to pull the run in stages, with what must be built ``before``."""
    head = f"{'p' if words else 'P'}ull in {len(way.stages)} stages: "
    (built,) = carried_out(state.run, before)
    what = words + say(head) + work_words(built, way.stages)
    what += say(f" ({way.setups} set-ups)")
    edits = [*before, SplitInStages(way.stages)]
    rank, effort = cost
    effort += _SPLIT * (way.setups - 1) + _SPLICE * len(way.splices)
    return option(
        state, "split" if not before else "pull point", what, edits, (rank, effort, way.time / 1e7)
    )


# --- friction -------------------------------------------------------------------------------------


def _friction(state: FailingRun) -> Iterator[Option | None]:
    """The least fall of all friction, in whole hundredths of each coefficient.

    Where it takes much, also so little that it is easily reached: with another change that may do.
    """
    if state.within:
        return
    conduits = tuple(dict.fromkeys(state.run.route.conduits))

    def edits(fall: float) -> list[Edit]:
        lowered = (_lowered(c, 1.0 - fall) for c in conduits)
        return [edit for edit in lowered if edit is not None]

    most = 1.0 - _LEAST_PART
    fall = least(lambda fall: state.share(edits(fall)), 0.0, most, 0.005)
    for part in dict.fromkeys((fall or most, min(fall or most, 1.0 - _SMALL_PART))):
        if changed := edits(part):
            yield _less_friction(state, conduits, changed)


def _less_friction(
    state: FailingRun, conduits: Sequence[Conduit], changed: Sequence[Edit]
) -> Option | None:
    now = {c.name: c for c in conduits}
    pairs = [(now[e.conduit], e.friction) for e in changed if isinstance(e, OtherFriction)]
    at_most = " and ".join(f"{mu:.2f} in {literal(c.label)}" for c, mu in pairs)
    given = " and ".join(f"{c.friction:.2f}" for c, _ in pairs)
    falls = any(c.friction_then is not None for c, _ in pairs)
    own = "; worked as constant friction: another lubricant needs its own test report"
    words = f"Friction at most {at_most} (now {given}): more or better lubricant"
    what = say(words + own if falls else words)
    part = min(mu / c.friction for c, mu in pairs)
    effort = _LUBRICANT if part >= _SMALL_PART else _MUCH_LUBRICANT
    return option(state, "friction", what, changed, (BOUGHT, effort, 1.0 - part))


def _lowered(conduit: Conduit, part: float) -> OtherFriction | None:
    """So large a part of the friction of a conduit, rounded down; its range falls with it."""
    steps = math.floor(conduit.friction * part / _FRICTION_STEP + 1e-9)
    friction = round(steps * _FRICTION_STEP, 2)
    if friction < _LEAST_FRICTION or friction >= conduit.friction:
        return None
    scale = friction / conduit.friction
    low, high = (
        None if end is None else round(end * scale, 3)
        for end in (conduit.friction_low, conduit.friction_high)
    )
    return OtherFriction(conduit.name, friction, low, high)


# --- equipment ------------------------------------------------------------------------------------


def _eyes(state: FailingRun) -> Option | None:
    if state.run.attach != "basket grip":
        return None
    what = say("Use pulling eyes instead of a basket grip")
    return option(state, "eyes", what, [Attachment("pulling eyes")], (BOUGHT, _EYES, 0.0))


def _guide(state: FailingRun) -> Option | None:
    """A guide at the feed end that turns more freely."""
    reel = state.run.reel
    if state.within or reel is None or feed_factor(state.run) * _BEST_GUIDE <= 1.0:
        return None

    def edits(efficiency: float) -> list[Edit]:
        return [Tackle("reel", reel.name, "feed_efficiency", round(efficiency, 2), "factor")]

    now = 1.0 / feed_factor(state.run)
    found = least(lambda guide: state.share(edits(guide)), now, _BEST_GUIDE, _GUIDE_STEP)
    efficiency = _BEST_GUIDE if found is None else found
    what = say(
        f"Use a cable feed guide with an efficiency of at least {efficiency:.2f} (now {now:.2f})"
    )
    return option(state, "feed guide", what, edits(efficiency), (BOUGHT, _TACKLE, efficiency))


def tackle_options(state: FailingRun) -> Iterator[Option | None]:
    """Stronger machine, rope, fittings and sheaves: whatever is too weak for the pull as it is.

    For the easier direction, and for the other one only where that does not help.
    """
    for direction in state.taken:
        if max(direction.share_of("conductor"), direction.share_of("sidewall")) > 1.0:
            continue  # no tackle is of help to the cable
        parts = _each_once(_too_weak(state, direction))
        if not parts:
            continue
        what = parts[0][0]
        for more, _ in parts[1:]:
            what += say("; ") + lower(more)
        edits = [edit for _, edits in parts for edit in edits]
        kinds = {edit.kind for edit in edits}
        efforts = {"machine": _MACHINE, "rope": _ROPE}
        effort = sum(efforts.get(first.kind, _TACKLE) for _, (first, *_) in parts)
        cost = (BOUGHT, effort, direction.needed_pull / 1e6)
        made = option(state, kinds.pop() if len(kinds) == 1 else "tackle", what, edits, cost)
        yield made
        if made is not None and made.share <= 1.0:
            return


def _each_once(
    parts: Iterable[tuple[Phrase, list[Tackle]]],
) -> list[tuple[Phrase, list[Tackle]]]:
    """Without what is said of a figure before: a fitting may be met by a check and by the plan."""
    found: dict[tuple[tuple[str, str, str], ...], tuple[Phrase, list[Tackle]]] = {}
    for words, edits in parts:
        found.setdefault(tuple((e.kind, e.name, e.key) for e in edits), (words, edits))
    return list(found.values())


def _too_weak(state: FailingRun, direction: Taken) -> Iterator[tuple[Phrase, list[Tackle]]]:
    """What must be stronger for one direction, in words with its edits."""
    run = direction.run
    needed = direction.needed_pull
    starts = state.rules & {
        "strongest gear",
        "restart in the strongest gear",
        "first move",
        "load path: machine, strongest gear",
    }
    if run.machine is not None and (direction.share_of("machine") > 1.0 or starts):
        load = max(needed, state.verdict.results[0].best.restart) if starts else needed
        pull = state.up(load / run.machine.efficiency, "force")
        if pull > run.machine.line_pull:
            yield (
                say(
                    "Rent a machine with a line pull of at least {} (now {})",
                    (pull, "force+"),
                    (run.machine.line_pull, "force"),
                ),
                [Tackle("machine", run.machine.name, "line_pull", pull, "force")],
            )
    weak_rope = state.rules & {
        "rope load",
        "rope factor of safety",
        "load path: rope, working load",
    }
    if run.rope is not None and (direction.share_of("rope") > 1.0 or weak_rope):
        yield _rope(state, run, needed)
    if direction.share_of("grip") > 1.0:
        yield from _head(state, direction)
    yield from _of_plan(state, run)


def _rope(state: FailingRun, run: Run, needed: float) -> tuple[Phrase, list[Tackle]]:
    rope = run.rope
    assert rope is not None
    load = state.up(max(needed, rope.rated_load), "force")
    edits = [Tackle("rope", rope.name, "rated_load", load, "force")]
    what = say(
        "Use a rope with a working load of at least {} (now {})",
        (load, "force+"),
        (rope.rated_load, "force"),
    )
    if rope.breaking_strength is not None:
        breaks = state.up(rope_safety_factor().value * load, "force")
        breaks = max(breaks, rope.breaking_strength)
        edits.append(Tackle("rope", rope.name, "breaking_strength", breaks, "force"))
        what += say(" and a breaking strength of at least {}", (breaks, "force+"))
    return what, edits


def _head(state: FailingRun, direction: Taken) -> Iterator[tuple[Phrase, list[Tackle]]]:
    """Fittings at the head that are weaker than the cable's own cap."""
    run, rigging = direction.run, direction.run.rigging
    if rigging is None:
        return
    tension = direction.needed_tension
    if tension > cable_cap(run).value:
        return
    own = "grip_rating" if run.attach == "basket grip" else "eye_rating"
    for key, name in ((own, run.attach), ("swivel_rating", "a swivel")):
        given = getattr(rigging, key)
        if given is not None and given < tension:
            load = state.up(tension, "force")
            yield (
                say(
                    f"Use {name} rated at least {{}} (now {{}})", (load, "force+"), (given, "force")
                ),
                [Tackle("rigging", rigging.name, key, load, "force")],
            )


def _bolts(state: FailingRun, run: Run) -> Iterator[tuple[Phrase, list[Tackle]]]:
    """Floor bolts that bear more, each in tension and in shear."""
    ratios = [f.ratio for f in state.verdict.stops if f.rule in _BOLTS]
    if not ratios or not isinstance(run.anchor, FloorBolts):
        return
    times = max(ratios) / state.task.aim.margin
    tension, shear = (
        state.up(load * times, "force") for load in (run.anchor.bolt_tension, run.anchor.bolt_shear)
    )
    what = say(
        "Use floor bolts rated at least {} in tension (now {}) and {} in shear (now {}) each",
        (tension, "force+"),
        (run.anchor.bolt_tension, "force"),
        (shear, "force+"),
        (run.anchor.bolt_shear, "force"),
    )
    name = run.anchor.name
    yield (
        what,
        [
            Tackle("anchor", name, "bolt_tension", tension, "force"),
            Tackle("anchor", name, "bolt_shear", shear, "force"),
        ],
    )


def _of_plan(state: FailingRun, run: Run) -> Iterator[tuple[Phrase, list[Tackle]]]:
    """What the plan finds too weak or too small: links of the load path, sheaves, brakes."""
    yield from _bolts(state, run)
    for finding in state.verdict.stops:
        place = _tackle_of(finding.rule, run)
        if place is None or not math.isfinite(finding.demand):
            continue
        kind, name, key, words, quantity = place
        force = quantity == "force"
        wanted = finding.demand / state.task.aim.margin if force else finding.limit
        now = finding.limit if force else finding.demand
        if key == "brake_rating":
            wanted, now = finding.limit / reel_count(run), finding.demand / reel_count(run)
        if key == "weight":
            now = run.anchor.mass  # type: ignore[union-attr]
            wanted = finding.demand / state.task.aim.margin / finding.limit * now
        value = state.up(wanted, quantity)
        if quantity == "radius" and value > _LARGEST_SHEAVE:
            continue
        figures = (value, quantity + "+"), (now, quantity)
        what = say(f"Use {literal(words)} at least {{}} (now {{}})", *figures)
        yield what, [Tackle(kind, name, key, value, quantity)]


def _tackle_of(rule: str, run: Run) -> tuple[str, str, str, str, str] | None:
    """Table, name, key, words and quantity of the equipment that a stop is about."""
    sheaves = {t.sheave.name for t in run.lead_off if t.sheave is not None}
    if match := re.fullmatch(r"radius of sheave (.+)|load path: sheave (.+), turn \d+", rule):
        name = match[1] or match[2]
        if name not in sheaves:
            return None
        if match[1]:
            return (
                "sheave",
                name,
                "radius",
                f"a sheave with a larger radius in place of {name}:",
                "radius",
            )
        return "sheave", name, "rating", f"a fastening for sheave {name} rated", "force"
    known = {
        "brake rating": ("reel", "brake_rating", "reel brakes rated (each)", "force"),
        "radius of feed-in sheave": (
            "reel",
            "sheave_radius",
            "a feed-in sheave with a radius of",
            "radius",
        ),
        "load path: boom": ("machine", "boom_rating", "a boom rated", "force"),
        "load path: drawbar": ("anchor", "drawbar_rating", "a drawbar rated", "force"),
        "load path: wheel grip": ("anchor", "weight", "a vehicle with a weight of", "mass"),
        "load path: swivel": ("rigging", "swivel_rating", "a swivel rated", "force"),
        "load path: pulling eyes": ("rigging", "eye_rating", "pulling eyes rated", "force"),
        "load path: basket grip": ("rigging", "grip_rating", "a basket grip rated", "force"),
    }
    if isinstance(run.anchor, ConduitBrace):
        known["load path: brace"] = ("anchor", "rating", "a brace rated", "force")
    if rule not in known:
        return None
    kind, key, words, quantity = known[rule]
    record = getattr(run, kind)
    if record is None or (kind == "rigging" and getattr(record, key) is None):
        return None
    return kind, record.name, key, words, quantity
