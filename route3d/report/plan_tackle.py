"""Load path, sheaves, reel end, supplies and splits of a plan, in words and tables."""

from __future__ import annotations

from route3d.model.rigging import HEAD_LENGTH
from route3d.model.run import Run
from route3d.planning.pull_plan.feeding import Feeding
from route3d.planning.pull_plan.load_path import Link, governing
from route3d.planning.pull_plan.plan import Plan
from route3d.planning.splitting.ways import SplitPlan
from route3d.report.block import Block, minutes, share
from route3d.report.words import sentence
from route3d.units import render, show, show_marked

# --- load path -----------------------------------------------------------------------------------


def chain_block(plan: Plan, system: str) -> Block:
    """Every link from cable to anchor, and which governs."""
    rows = tuple(_link_row(link, system) for link in plan.links)
    heavy = frozenset(i for i, link in enumerate(plan.links) if link.ratio > 1 + 1e-9)
    weakest = governing(plan.links)
    words = []
    if weakest is not None:
        words.append(f"Weakest link: {weakest.name}, {_of(weakest, system)}.")
    unrated = [link.name for link in plan.links if link.rating is None]
    if unrated:
        words.append(f"Rating missing for: {', '.join(unrated)}. Get it from the nameplate.")
    return Block(
        "Load path",
        tuple(words),
        ("link", "load", "rating", "of rating", "at machine stall", "source"),
        rows,
        frozenset({1, 2, 3, 4}),
        ("Loads are the maximum planned, including first moves from rest.",),
        heavy,
    )


def _of(link: Link, system: str) -> str:
    """What a link bears of what it may."""
    if link.rating is None:
        return "cannot hold"
    if link.quantity == "percent":
        return share(link.ratio)
    load, rating = (show(x, link.quantity, system) for x in (link.load, link.rating))
    return f"{load} of {rating}, {share(link.ratio)}"


def _link_row(link: Link, system: str) -> tuple[str, ...]:
    stalled = (
        "-" if link.at_machine_pull is None else show(link.at_machine_pull, link.quantity, system)
    )
    return (
        link.name,
        show(link.load, link.quantity, system),
        "not given" if link.rating is None else show(link.rating, link.quantity, system),
        share(link.ratio),
        stalled + (" (above)" if link.outdone else ""),
        link.source,
    )


def radii_block(plan: Plan, system: str) -> Block:
    """The sheaves the cable runs over, with the least radius each needs."""
    rows = tuple(
        (
            sheave.name,
            "not given" if sheave.radius is None else show(sheave.radius, "radius", system),
            show(sheave.by_bend, "radius", system),
            show(sheave.by_sidewall, "radius", system),
            show(sheave.tension, "force", system),
        )
        for sheave in plan.radii
    )
    heavy = frozenset(i for i, sheave in enumerate(plan.radii) if sheave.too_small)
    return Block(
        "Sheaves under the cable",
        (),
        ("sheave", "radius", "min. by cable bend", "min. by sidewall", "at tension"),
        rows,
        frozenset({1, 2, 3, 4}),
        (),
        heavy,
    )


def sheaves_block(plan: Plan, system: str) -> Block:
    """The force on the fastening of each sheave, its direction, and its fastening."""
    rows = tuple(
        (
            one.sheave.name,
            one.place,
            show(one.turn, "angle", system),
            show(one.force, "force", system),
            render(one.words, system),
            one.sheave.held_by or "not given",
        )
        for one in plan.sheaves
    )
    return Block(
        "Sheave forces and fastenings",
        (),
        ("sheave", "at", "turn", "force", "pulls", "held by"),
        rows,
        frozenset({2, 3}),
        ("Headings are clockwise from grid north.",) if rows else (),
    )


# --- reel end and supplies -----------------------------------------------------------------------


def _at_low_end(fed: Feeding) -> bool:
    """Whether the plan uses the least that the crew must hold."""
    window = fed.window
    return window is not None and window.holds and fed.tension <= window.at_least * (1 + 1e-9)


def reel_block(plan: Plan, system: str) -> Block:
    """How much cable, held how, fed over what."""
    fed = plan.feeding
    source = "Reels" if fed.off_reel else "Figure eights"
    words = [
        f"{source} at {fed.place}: {show(fed.cable_length, 'length', system)} of each cable, "
        f"{show(fed.total_length, 'length', system)} and "
        f"{show(fed.set_mass, 'mass', system)} of cable in all"
        + (f"; each full reel {show(fed.reel_mass, 'mass', system)}." if fed.reel_mass else "."),
        f"Reel tension in this plan: {show_marked(fed.tension, 'force+', system)} total"
        + (", the low end of the brake window." if _at_low_end(fed) else "."),
    ]
    if not fed.off_reel:
        words[1:] = ["Feed by hand from the figure eights: no reel tension, no brake."]
    if plan.place is not None:
        words.append(
            f"Pulled out at {plan.pull.pull_name}: {show(fed.pulled_out, 'length', system)}; "
            f"left at {fed.place}: {show(fed.left_over, 'length', system)} of each cable."
        )
    return Block(
        "Reel end", tuple(words), notes=tuple(sentence(render(n, system)) for n in fed.notes)
    )


def supplies_block(plan: Plan, system: str) -> Block:
    """Rope and its energy, lubricant by entry, fittings."""
    kit = plan.supplies
    words = []
    if kit.rope is not None:
        rope = kit.rope
        words.append(
            f"Rope {rope.name}: at least {show(rope.length, 'length', system)}. It stores the "
            f"most energy at {show(rope.load, 'force', system)}: "
            f"{show(rope.energy, 'energy', system)}, stretched by "
            f"{show(rope.stretch, 'length', system)}. If it breaks it whips back. Stand clear "
            "of the rope line and the bight."
        )
    blind = any(not span.gear.gauge for span in plan.pace.gears.spans)
    more = ("dynamometer for the line",) if blind else ()
    words += [f"Bring to site: {', '.join((*kit.fittings, *more))}."]
    if plan.pull.run.head_assumed:
        words.append(
            "Head (eyes or grip, swivel, links) assumed "
            f"{show(HEAD_LENGTH, 'length', system)} long: enter head_length in the rigging "
            "table."
        )
    rows = tuple(
        (
            part.entry,
            part.conduit,
            show(part.length, "length", system),
            show(part.bore, "diameter", system),
            show(part.volume, "volume", system),
        )
        for part in kit.lubricant
    )
    spread = show(kit.lubricant_more, "percent", system)
    notes = (
        f"Lubricant total: {show(kit.lubricant_total, 'volume', system)}, by Q = k L D "
        f"({kit.lubricant_source}). Bring {spread} more for bends, old conduit or high fill.",
    )
    return Block(
        "Rope, lubricant, fittings",
        tuple(words),
        ("lubricant at", "into", "length", "bore", "volume"),
        rows,
        frozenset({2, 3, 4}),
        notes,
    )


def way_command(number: str) -> str:
    """The command that prints the plan of a way, such as that of way "1"."""
    return f"route3d plan MODEL --way {number}"


def way_words(way: SplitPlan, run: Run, system: str) -> str:
    """What the crew does, pull by pull."""
    label = run.route.label
    parts = []
    for stage in way.stages:
        source = "" if stage.reel else " from the figure eights"
        text = f"{label(stage.feed)}{source} to {label(stage.pull)} ({share(stage.utilization)})"
        if stage.laid > 0:
            laid = show(stage.laid, "length", system, decimals=0)
            text += f", {laid} laid in figure eights there"
        parts.append(text)
    if way.splices:
        parts.append("splice at " + ", ".join(label(i) for i in way.splices))
    return "; ".join(parts)


_NOT_IN_SHARES = (
    "Utilization covers cable, rope and machine. Sheaves, fittings, anchor and machine "
    "location of each stage are checked in its plan."
)


def splits_block(plan: Plan, system: str) -> Block:
    """The best ways to pull the run in parts, what each takes, and why others do not do."""
    search = plan.splits
    if search is None:
        return Block("Ways to split the run")
    rows = tuple(
        (
            str(i),
            way.kind,
            str(way.setups),
            minutes(way.time),
            show(way.utilization, "percent", system),
            way_words(way, plan.result.run, system),
        )
        for i, way in enumerate(search.plans, 1)
    )
    notes = [sentence(render(note, system)) for note in search.notes]
    if rows:
        notes.append(_NOT_IN_SHARES)
    words = (
        (f"Plan, gauge table and sheet for each stage: {way_command('N')}.",)
        if rows
        else (sentence(render(search.why_none, system)),)
    )
    return Block(
        "Ways to split the run",
        words,
        ("way", "kind", "set-ups", "time", "share", "stages (feed to pull)"),
        rows,
        frozenset({2, 3, 4}),
        tuple(notes),
    )
