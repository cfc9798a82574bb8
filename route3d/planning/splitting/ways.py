"""How to split a run that has pull points: the best plans of pulls, re-feeds and splices.

A stage is one pull of one conduit section. What does not lie in its place after a stage is pulled
out there, laid in figure eights and fed on; from a feed point between the ends one way is pulled
off the reel, the rest laid in figure eights and pulled the other way (common practice, no source).
Each stage keeps to the limits of the checks. What holds of the run as a whole, such as fill, jam
and bend radii, is not asked again here.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace

from route3d.checks.limits import NO_BRAKE, limit_name
from route3d.geometry.fillet import sub_route
from route3d.model.allowances import Allowances
from route3d.model.machine import Machine
from route3d.model.rigging import Reel
from route3d.model.run import Run
from route3d.phrase import Phrase, literal, say
from route3d.planning.splitting.section_pulls import SectionPull, Sections
from route3d.planning.splitting.stages import Leg, Price, StageOrder, best_chains

# Shares of a limit this close are the same but for rounding: then the order of the route decides.
_SAME_SHARE = 9  # decimals

StageTime = Callable[[SectionPull, float], float | None]
"""Pulling time (s) of a stage that draws so much cable (m) through; None where no gear holds."""


@dataclass(frozen=True, slots=True)
class Stage:
    """One pull of a plan, from vertex ``feed`` to vertex ``pull``.

    ``cable`` numbers the lengths of cable from 1; ``reel`` is false where cable is fed from figure
    eights. ``utilization`` is the largest share of a limit and ``governing`` which one. Loads N:
    ``peak_load`` on the machine, ``reel_tension`` at the feed. ``cable_length`` m is drawn through,
    of which ``laid`` m come out at ``pull`` to be laid in figure eights and fed on. ``time`` s of
    pulling; None where the run names no machine.
    """

    cable: int
    feed: int
    pull: int
    reel: bool
    utilization: float
    governing: str
    peak_load: float
    reel_tension: float
    cable_length: float
    laid: float
    time: float | None

    @property
    def reverse(self) -> bool:
        """True where the stage runs against the order of the route."""
        return self.feed > self.pull


_FIGURE_EIGHTS = Reel("figure eights", drag_force=0.0)


def stage_run(run: Run, stage: Stage) -> Run:
    """The stage as a run of its own: its part of the route, the equipment of its two ends.

    Off the reel it is held as the run gives. Cable fed from figure eights comes off no reel: it has
    no drag and nothing that brakes it.
    """
    part = run.pulled(stage.feed, stage.pull)
    return replace(
        part,
        route=sub_route(run.route, *sorted((stage.feed, stage.pull))),
        reel_tension=part.reel_tension if stage.reel else 0.0,
        reel=part.reel if stage.reel else _FIGURE_EIGHTS,
        splices=frozenset(),
        ends=(),
    )


@dataclass(frozen=True, slots=True)
class SplitPlan:
    """Stages in the order of the work; ``splices`` are vertices where two lengths are joined.

    ``time`` s counts set-ups, pulling where a machine is named, figure eights and splices;
    ``utilization`` is that of the worst stage. ``kind`` names the plan, ``text`` says what the crew
    does and what it costs.
    """

    stages: tuple[Stage, ...]
    splices: tuple[int, ...]
    setups: int
    time: float
    utilization: float
    kind: str
    text: Phrase


@dataclass(frozen=True, slots=True)
class SplitSearch:
    """The best plans, best first; ``why_none`` says why there is none.

    ``solved`` counts the pulls between two points that were solved; ``notes`` say what the run
    does not name and what was not looked at.
    """

    plans: tuple[SplitPlan, ...]
    solved: int
    why_none: Phrase
    notes: tuple[Phrase, ...]


def search_of(
    run: Run, sections: Sections, plans: tuple[SplitPlan, ...], aim: float = 1.0
) -> SplitSearch:
    """The answer of a search that found ``plans``, with why it found none where it did not."""
    why = say("") if plans else _why_none(run, sections, aim)
    return SplitSearch(plans, len(sections.pulls), why, _missing(run))


def fastest_gear(machine: Machine, allowances: Allowances) -> StageTime:
    """A stage is pulled in the fastest gear that holds its peak load throughout.

    The gear margin is kept where any gear can keep it. A plan by gear changes is never slower.
    """

    def time(pull: SectionPull, length: float) -> float | None:
        for margin in (allowances.gear_margin, 0.0):
            share = machine.efficiency * (1.0 - margin) * (1 + 1e-9)
            holding = (g for g in machine.gears if g.line_pull * share >= pull.load)
            speed = max((g.speed_at(pull.load) for g in holding), default=0.0)
            if speed > 0:
                return length / speed
        return None

    return time


def best_plans(
    run: Run,
    sections: Sections,
    allowances: Allowances,
    time: StageTime | None,
    best: int,
    aim: float = 1.0,
) -> tuple[SplitPlan, ...]:
    """The ``best`` plans: fewest set-ups, then least time, then lowest utilization.

    Every plan of more than one stage is considered: stages with re-feeds, feeding from any point
    both ways, and splices at ``run.splices``; the pull through the whole run splits nothing. A
    point takes a reel, or cable in figure eights to be fed on, where it has reel access, and the
    machine where it has machine access. A stage fed from figure eights has no reel to brake: where
    its cable would overrun it is left out. No stage takes more than the share ``aim`` of any
    limit. The pulls are solved in ``sections``; without ``time`` pulling takes none.
    """
    ends = {0, len(sections.points) - 1}

    def pulling(leg: Leg) -> float | None:
        length = _length(sections, leg.feed, leg.end)
        return 0.0 if time is None else time(sections.pulls[leg[:3]], length)

    shares = {
        key: round(pull.utilization.peak, _SAME_SHARE)
        for key, pull in sections.pulls.items()
        if pull.allowed(aim)
    }

    def price(leg: Leg) -> Price | None:
        share = shares.get(leg[:3])
        if share is None or {leg.feed, leg.pull} == ends:
            return None
        spent = pulling(leg)
        if spent is None or not math.isfinite(spent):
            return None
        return Price(_milliseconds(allowances.setup_time + spent), share)

    chains = best_chains(
        len(sections.points),
        {sections.points.index(v) for v in run.splices if v in sections.points},
        price,
        laying=_milliseconds(allowances.figure_eight_time),
        splicing=_milliseconds(allowances.splice_time),
        best=best,
    )
    return tuple(_plan(run, sections, chain, pulling if time else None) for chain in chains)


def _milliseconds(seconds: float) -> int:
    return round(1000 * seconds)


def _length(sections: Sections, a: int, b: int) -> float:
    return abs(sections.stations[b] - sections.stations[a])


def _plan(
    run: Run, sections: Sections, chain: StageOrder, pulling: Callable[[Leg], float | None] | None
) -> SplitPlan:
    cables = list(_cables(chain.legs))
    stages = tuple(
        _stage(sections, number, leg, pulling(leg) if pulling else None)
        for number, legs in enumerate(cables, 1)
        for leg in legs
    )
    ends = sorted(max(max(leg.feed, leg.end) for leg in legs) for legs in cables)
    splices = tuple(sections.points[p] for p in ends[:-1])
    kind = _kind(run, cables, splices)
    clock = chain.clock / 1000
    worst = max(stages, key=lambda s: s.utilization)
    limit = limit_name(worst.governing, run, sections.practice)
    text = (
        say(literal(kind) + ": ")
        + work_words(run, stages)
        + _cost(run, stages, clock, worst, limit)
    )
    return SplitPlan(stages, splices, chain.setups, clock, worst.utilization, kind, text)


def _cables(legs: Sequence[Leg]) -> Iterator[list[Leg]]:
    """The legs of each length of cable: only the first of a length is fed off its reel."""
    starts = [i for i, leg in enumerate(legs) if leg.reel]
    for a, b in zip(starts, [*starts[1:], len(legs)], strict=True):
        yield list(legs[a:b])


def _stage(sections: Sections, cable: int, leg: Leg, time: float | None) -> Stage:
    pull = sections.pulls[leg[:3]]
    return Stage(
        cable=cable,
        feed=pull.feed,
        pull=pull.pull,
        reel=leg.reel,
        utilization=pull.utilization.peak,
        governing=pull.utilization.governing,
        peak_load=pull.load,
        reel_tension=pull.reel_tension,
        cable_length=_length(sections, leg.feed, leg.end),
        laid=_length(sections, leg.pull, leg.end),
        time=time,
    )


# --- words ----------------------------------------------------------------------------------------


def _kind(run: Run, cables: Sequence[Sequence[Leg]], splices: tuple[int, ...]) -> str:
    """Such as "feed from the middle" or "splice at V1: through pull, pull and re-feed"."""
    kinds = ", ".join(dict.fromkeys(_cable_kind(legs) for legs in cables))
    if not splices:
        return kinds
    return "splice at " + " and ".join(run.route.label(v) for v in splices) + ": " + kinds


def _cable_kind(legs: Sequence[Leg]) -> str:
    ends = {leg.end for leg in legs}
    words = ["middle feed"] if len(ends) > 1 else []
    if len(legs) > len(ends):
        words.append("pull and re-feed")
    return " with ".join(words) or "through pull"


def work_words(run: Run, stages: Sequence[Stage]) -> Phrase:
    """What the crew does, stage by stage."""
    text, before = say(""), None
    for stage in stages:
        text += _step(run, before, stage)
        before = stage
    return text


def _step(run: Run, before: Stage | None, stage: Stage) -> Phrase:
    """One stage in words; what comes ``before`` it says where its cable lies."""
    feed, pull = (literal(run.route.label(v)) for v in (stage.feed, stage.pull))
    if stage.reel or before is None:
        text = say(f"feed off the reel at {feed}")
        if before is not None:
            text = say("; splice; then ") + text
        if stage.reel_tension > NO_BRAKE:
            text += say(", reels braked at {}", (stage.reel_tension, "force+"))
        return text + say(f", pull at {pull}")
    length = (stage.cable_length, "length")
    if before.pull == stage.feed:
        return say(
            f"; lay {{}} of cable in figure eights at {feed}, feed on from there, pull at {pull}",
            length,
        )
    return say(
        f"; take the rest ({{}}) off the reel at {feed}, lay it in figure eights, feed it "
        f"back, pull at {pull}",
        length,
    )


def _cost(run: Run, stages: Sequence[Stage], clock: float, worst: Stage, limit: str) -> Phrase:
    """Set-ups, time and the worst utilization, of which limit."""
    setups = "1 set-up" if len(stages) == 1 else f"{len(stages)} set-ups"
    time = "{}" if worst.time is not None else "{} plus pulling time"
    where = f"{literal(run.route.label(worst.feed))} to {literal(run.route.label(worst.pull))}"
    at = f", {where}" if len(stages) > 1 else ""
    return say(
        f" ({setups}, {time}, highest utilization {{}}: {literal(limit)}{at})",
        (clock, "time"),
        (worst.utilization, "percent"),
    )


def _missing(run: Run) -> tuple[Phrase, ...]:
    notes = []
    if run.rope is None:
        notes.append(say("no rope assigned: rope drag and rope limit not included in any plan"))
    if run.machine is None:
        notes.append(
            say("no machine assigned: machine limit and pulling time not included in any plan")
        )
    return tuple(notes)


def _why_none(run: Run, sections: Sections, aim: float) -> Phrase:
    """The first part of the run that no pull gets through, or that no chain of pulls is whole."""
    for a in range(len(sections.points) - 1):
        over = [p for key, p in sections.pulls.items() if min(key[:2]) <= a < max(key[:2])]
        if not any(p.allowed(aim) for p in over):
            return _blocked(run, sections, a, over)
    return say(
        "each part of the run can be pulled, but no split installs all of it: add reel and "
        "machine access at more pull points, or allow a splice"
    )


def _blocked(run: Run, sections: Sections, a: int, over: Sequence[SectionPull]) -> Phrase:
    """Why no pull passes the part from point ``a`` to the next; ``over`` are those solved."""
    label = run.route.label
    first, second = sections.points[a : a + 2]
    text = say(f"no pull is possible from {literal(label(first))} to {literal(label(second))}")
    if not over:
        return text + say(
            ": no point on one side has reel access while a point on the other side has "
            "machine access"
        )
    easiest = min(over, key=lambda p: (not p.taut, not p.starts, p.utilization.peak))
    text += say(
        f" in either direction: the easiest pull, from {literal(label(easiest.feed))} to "
        f"{literal(label(easiest.pull))}, "
    )
    if not easiest.taut:
        return text + say("goes slack unless the reels are braked at {}", (easiest.brake, "force+"))
    if not easiest.starts:
        return text + say("cannot be started: the rope's own drag exceeds the limit")
    use = easiest.utilization
    name = literal(limit_name(use.governing, run, sections.practice))
    return text + say(f"reaches {{}} of its limit ({name})", (use.peak, "percent"))
