"""Values that a table gave: what is remembered or estimated is said, and friction always."""

from __future__ import annotations

from collections.abc import Iterator

from route3d.checks.finding import Finding, in_words
from route3d.model.conduit import ENOUGH_PULLS, Conduit
from route3d.model.origin import FIGURE_NAMES, Figures, as_shown, from_tables
from route3d.model.run import Run
from route3d.phrase import Phrase, literal, say
from route3d.standards.source import Status

_SHEETS = {
    "cable": "the cable maker's data sheet",
    "rope": "the rope maker's data sheet",
    "machine": "the nameplate of the machine",
}


def check_stock(run: Run) -> tuple[Finding, ...]:
    """Values of stock entries that were not read in a publication, and friction by name.

    Parameters
    ----------
    run : Run
        The run, in SI.

    Returns
    -------
    tuple of Finding
        One for each cable, rope, machine and conduit that has such values; cautions for estimates
        and figures of low confidence, notes for derived and remembered ones. Published friction is
        always a caution; friction learned from fewer than five past pulls too.
    """
    machines = {run.machine, *(end.machine for end in run.ends)}
    records = [
        *(("cable", cable) for cable, _ in run.cables.items),
        ("rope", run.rope),
        *(("machine", machine) for machine in sorted(filter(None, machines), key=lambda m: m.name)),
    ]
    found = [
        _weak(kind, record.name, figures)
        for kind, record in dict.fromkeys(records)
        if record is not None and (figures := _not_read(from_tables(record)))
    ]
    frictions = (_friction(conduit) for conduit in dict.fromkeys(run.route.conduits))
    return (*found, *(f for each in frictions for f in each))


def _not_read(figures: Figures) -> Figures:
    """Those that were not read; the area of a conductor is its nominal size."""
    plain = (Status.READ, Status.XCHECK)
    return tuple(
        (key, fact)
        for key, fact in figures
        if key != "conductor.area" and (fact.source.status not in plain or fact.doubtful)
    )


def _weak(kind: str, name: str, figures: Figures) -> Finding:
    doubtful = any(fact.doubtful for _, fact in figures)
    keys = ", ".join(key for key, _ in figures)
    fix = say(f"replace with the values of {_SHEETS[kind]} ({keys}). Used: ")
    fix += _listed(figures)
    source = str(max((fact.source for _, fact in figures), key=lambda s: s.status.rank))
    severity = "caution" if doubtful else "note"
    return in_words("value from a table", severity, f"{kind} {name}", fix, source)


# Figures of a class or by a rule: their label says of which.
_BY_RULE = ("sidewall_limit", "bend_multiple", "rated_load", "gears")


def _listed(figures: Figures) -> Phrase:
    said = say("")
    for key, fact in figures:
        words = fact.source.words or fact.source.title
        words = f"{fact.label}, {words}" if key in _BY_RULE else words
        start = f"{'; ' if said else ''}{FIGURE_NAMES.get(key, key)}"
        end = literal(f" ({words})")
        if key == "bend_multiple":
            said += say(f"{start} {fact.value:g} x diameter{end}")
        else:
            said += say(f"{start} {{}}{end}", as_shown(key, fact))
    return said


def _friction(conduit: Conduit) -> Iterator[Finding]:
    if conduit.friction_pulls is not None:
        yield _learned(conduit, conduit.friction_pulls)
    for key, fact in from_tables(conduit):
        if key != "friction":
            continue
        low, high = conduit.lowest_friction, conduit.highest_friction
        fix = say(
            f"confirm with the lubricant maker for this jacket and conduit. Used: "
            f"{literal(fact.label)}: {{}} ({{}} to {{}})",
            as_shown(key, fact),
            (low, "ratio"),
            (high, "ratio"),
        )
        place = f"conduit {conduit.name}"
        yield in_words("friction from a table", "caution", place, fix, str(fact.source))


def _learned(conduit: Conduit, pulls: int) -> Finding:
    few = pulls < ENOUGH_PULLS
    advice = (
        f"few past pulls: friction is mostly the published range. Record {ENOUGH_PULLS} pulls or "
        "more, or confirm it with the lubricant maker"
        if few
        else "friction is learned from past pulls: check that cable, lubricant and conduit are "
        "like theirs"
    )
    fix = say(
        f"{advice}. Used: {{}} ({{}} to {{}}), {literal(conduit.friction_source)}",
        (conduit.friction, "factor"),
        (conduit.lowest_friction, "ratio"),
        (conduit.highest_friction, "ratio"),
    )
    place = f"conduit {conduit.name}"
    return in_words(
        "friction from past pulls",
        "caution" if few else "note",
        place,
        fix,
        conduit.friction_source,
    )
