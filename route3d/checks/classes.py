"""The figures given for a cable against the published ones of its class, and the cold.

A maker may know better than a table: what the file gives beyond the class is a caution or a note
that says both, never a stop. A temperature below the one given for the cable is a stop.
"""

from __future__ import annotations

from route3d.checks.finding import Finding, at_least, at_most, in_words
from route3d.mechanics.pull import Pull
from route3d.model.cable import Cable
from route3d.model.practice import Practice
from route3d.model.run import Run
from route3d.phrase import Phrase, literal, say
from route3d.standards.classes import GENERAL
from route3d.standards.source import Fact

_NAN = float("nan")
# Printed figures are rounded in both systems: 500 lbf/ft is 7,297 N/m and typed as 7300.
_ROUNDED = 1e-3


def check_rules(run: Run, practice: Practice) -> tuple[Finding, ...]:
    """A note where the file does not say which rules the job is judged by.

    Parameters
    ----------
    run : Run
        The run, in SI.
    practice : Practice
        Conventions and rules it is worked by.

    Returns
    -------
    tuple of Finding
        At most one.
    """
    if not practice.rules_assumed:
        return ()
    rules = practice.rule_set
    edition = f', edition = "{rules.edition}"' if rules.edition else ""
    fix = say(
        literal(
            f'{rules.title} assumed ({rules.basis}); enter [practice] rules = "{rules.name}"'
            f"{edition}, or the rules that apply at the job site"
        )
    )
    if stricter := rules.stricter_stress("copper"):
        own = rules.pulling_stress("copper")
        fix += say(
            f"; the copper limit here is {{}} ({literal(str(own.source))}), {{}} elsewhere "
            f"({literal(str(stricter.source))})",
            (own.value, "stress"),
            (stricter.value, "stress"),
        )
    return (in_words("rules assumed", "note", run.name, fix, "not given"),)


def check_classes(run: Run, practice: Practice) -> tuple[Finding, ...]:
    """Sidewall limit and bend multiple of every cable against those published for its class.

    Parameters
    ----------
    run : Run
        The run, in SI.
    practice : Practice
        Conventions and rules it is worked by.

    Returns
    -------
    tuple of Finding
        Cable by cable.
    """
    return tuple(
        finding
        for cable in dict.fromkeys(c for c, _ in run.cables.items)
        for finding in (*_sidewall(cable, practice), *_bend(cable, practice))
    )


def _sidewall(cable: Cable, practice: Practice) -> list[Finding]:
    """Beyond every published figure of the class is a caution, beyond the strictest a note."""
    facts = practice.rule_set.sidewall(cable.sorted_as)
    if not facts:
        return []
    given, least, most = cable.sidewall_limit, facts[0], facts[-1]
    held = least
    severity = "ok"
    if given > most.value * (1 + _ROUNDED):
        severity, held = ("note" if most.doubtful else "caution"), most
    elif given > least.value * (1 + _ROUNDED):
        severity = "note"
    fix = say("model file: {}; published for this class: ", (given, "sidewall"))
    fix += _both(facts, "sidewall")
    fix += say("; use the higher value only if the cable maker's data sheet gives it")
    return [
        Finding(
            "published sidewall limit",
            severity,
            f"cable {cable.name}",
            given,
            held.value,
            "sidewall",
            fix,
            str(held.source),
            None,
            given / held.value,
        )
    ]


def _both(facts: tuple[Fact, ...], quantity: str) -> Phrase:
    said = say("")
    for i, fact in enumerate(facts):
        joint = " or " if i else ""
        said += say(f"{joint}{{}} ({literal(str(fact.source))})", (fact.value, quantity))
    return said


def _bend(cable: Cable, practice: Practice) -> list[Finding]:
    """The multiple held against bends must be one for pulling, not for training (racking).

    Smaller than that for training, or than a figure read for pulling in law or a standard, is a
    caution; between training and pulling a note, for then it looks like a training multiple.
    """
    published = practice.rule_set.bend(cable.sorted_as)
    pulling, training = published.pulling, published.training
    given = cable.bend_multiple
    short = [f for f in (pulling, training) if f is not None and given < f.value * (1 - 1e-9)]
    held = pulling or training
    if held is None:
        return []
    severity = "ok"
    if short:
        under_training = training is not None and training in short
        at_law = pulling is not None and pulling in short and pulling.label != GENERAL
        severity = "caution" if under_training or at_law else "note"
    words = say(
        f"model file: {given:g} x the diameter; published: "
        + literal(_multiples(pulling, training))
        + "; bend_multiple is for pulling. A training radius applies to racking and "
        "terminating only, not to conduit bends or sheaves under tension"
    )
    return [
        Finding(
            "published bend multiple",
            severity,
            f"cable {cable.name}",
            given,
            held.value,
            "ratio",
            words,
            str(held.source),
            None,
            held.value / given,
        )
    ]


def _multiples(pulling: Fact | None, training: Fact | None) -> str:
    named = (("while pulling", pulling), ("for training", training))
    return ", ".join(f"{f.value:g} x {use} ({f.source})" for use, f in named if f is not None)


# --- cold ----------------------------------------------------------------------------------------


def lowest_temperature(cable: Cable, practice: Practice) -> tuple[float, str, bool] | None:
    """Lowest laying temperature of a cable, K, its source, and whether its maker gave it.

    Parameters
    ----------
    cable : Cable
        The cable.
    practice : Practice
        Conventions and rules it is worked by.

    Returns
    -------
    tuple of (float, str, bool) or None
        K; None where no table and no maker gives one.
    """
    if cable.lowest_temperature is not None:
        return cable.lowest_temperature, f"given for cable {cable.name}", True
    fact = practice.rule_set.lowest_temperature(cable.jacket) if cable.jacket else None
    return None if fact is None else (fact.value, str(fact.source), False)


def check_temperature(run: Run, practice: Practice) -> tuple[Finding, ...]:
    """The temperature of the cable while laying, where the file gives it, against its lowest.

    Below the one given for the cable it is a stop, below that of its jacket by table a caution.

    Parameters
    ----------
    run : Run
        The run, in SI.
    practice : Practice
        Conventions and rules it is worked by.

    Returns
    -------
    tuple of Finding
        Cable by cable.
    """
    now = practice.laying_temperature
    if now is None:
        return ()
    found = []
    for cable in dict.fromkeys(c for c, _ in run.cables.items):
        known = lowest_temperature(cable, practice)
        if known is None:
            continue
        limit, source, given = known
        fix = say(
            "warm the reels before pulling (at least 24 h in heated storage) and pull at "
            "once, or wait; the limit applies to the cable temperature, not the air "
            "temperature"
        )
        found.append(
            at_least(
                "installation temperature",
                f"cable {cable.name}",
                now,
                limit,
                "temperature",
                fix,
                source,
                broken="stop" if given else "caution",
            )
        )
    return tuple(found)


def temperature_gaps(run: Run, practice: Practice) -> tuple[Finding, ...]:
    """For a plan: a note for each cable whose laying temperature cannot be judged.

    Parameters
    ----------
    run : Run
        The run, in SI.
    practice : Practice
        Conventions and rules it is worked by.

    Returns
    -------
    tuple of Finding
        Cable by cable.
    """
    found = []
    for cable in dict.fromkeys(c for c, _ in run.cables.items):
        known = lowest_temperature(cable, practice)
        if known is not None and practice.laying_temperature is not None:
            continue
        fix = say(
            "installation temperature not checked: enter lowest_temperature or jacket of the cable"
        )
        if known is not None:
            fix = say(
                "installation temperature not given: do not pull this cable below {}",
                (known[0], "temperature"),
            )
        source = known[1] if known else "not given"
        found.append(
            Finding(
                "installation temperature",
                "note",
                f"cable {cable.name}",
                _NAN,
                _NAN,
                "temperature",
                fix,
                source,
            )
        )
    return tuple(found)


# --- grip on armor -------------------------------------------------------------------------------


def check_stocking(pull: Pull) -> tuple[Finding, ...]:
    """One armored cable under a basket grip, where the rules give the force it may bear.

    Parameters
    ----------
    pull : Pull
        One direction, solved.

    Returns
    -------
    tuple of Finding
        At most one.
    """
    run = pull.run
    cable = run.cables.largest
    if run.attach != "basket grip" or run.cables.count > 1:
        return ()
    fact = pull.practice.rule_set.stocking_force(cable.sorted_as)
    if fact is None:
        return ()
    return (
        at_most(
            "basket grip on armor",
            f"cable {cable.name}",
            pull.peak_tension,
            fact.value,
            "force",
            say("pull on the conductors, or reduce the tension"),
            str(fact.source),
        ),
    )
