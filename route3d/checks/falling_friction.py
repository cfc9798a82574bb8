"""Friction that falls above a contact load: the law, who decides, and both results."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from route3d.checks.finding import Finding, in_words
from route3d.mechanics.pull import BothFrictions, Peaks, Pull
from route3d.model.conduit import Conduit
from route3d.model.practice import Practice
from route3d.model.run import Run
from route3d.phrase import Phrase, literal, say

RULE = "friction by pressure"


def check_falling_friction(
    run: Run, practice: Practice, pulls: Sequence[Pull]
) -> tuple[Finding, ...]:
    """What the law of each conduit is and whether it decides, and the results by both.

    Parameters
    ----------
    run : Run
        The run, in SI.
    practice : Practice
        Conventions and rules it is worked by.
    pulls : sequence of Pull
        Its directions, solved.

    Returns
    -------
    tuple of Finding
        Notes: one for each conduit whose friction falls, and one for the run; none without. A
        caution where it falls to nothing.

    References
    ----------
    docs/theory.md section 19.
    """
    falls = [c for c in dict.fromkeys(run.route.conduits) if c.friction_then is not None]
    if not falls:
        return ()
    laws = (_law(conduit, practice) for conduit in falls)
    nothing = (_no_friction(conduit) for conduit in falls if conduit.friction_then == 0.0)
    return (*nothing, *laws, *_results(run, pulls))


def _no_friction(conduit: Conduit) -> Finding:
    fix = say(
        "friction 0 above the threshold of {}: no cable slides without friction. Enter the "
        "coefficient of the publication or test",
        (conduit.friction_above or 0.0, "sidewall"),
    )
    return in_words(
        RULE, "caution", f"conduit {conduit.name}", fix, conduit.friction_source or "own judgment"
    )


def _law(conduit: Conduit, practice: Practice) -> Finding:
    said = say(
        "friction {} up to a contact load of {} on the whole set, {} above it. ",
        (conduit.friction, "ratio"),
        (conduit.friction_above or 0.0, "sidewall"),
        (conduit.friction_then or 0.0, "ratio"),
    )
    if conduit.friction_report:
        said += say(f'Test report: "{literal(conduit.friction_report)}". ')
    source = conduit.friction_source or "given in the conduit"
    return in_words(
        RULE, "note", f"conduit {conduit.name}", said + decides(conduit, practice), source
    )


def decides(conduit: Conduit, practice: Practice) -> Phrase:
    """Which of the two results decides in a conduit, and why.

    Parameters
    ----------
    conduit : Conduit
        One whose friction falls.
    practice : Practice
        Conventions and rules it is worked by.

    Returns
    -------
    Phrase
        One sentence without its stop.
    """
    if practice.method == "handbook":
        return say("Constant friction decides: the hand method has no contact load")
    if conduit.fall_decides:
        return say("The lower friction decides: a test report is cited")
    return say("Constant friction decides: it gives the larger result, and no test report is cited")


def _results(run: Run, pulls: Sequence[Pull]) -> Iterator[Finding]:
    told = [(pull, pull.by_both_frictions) for pull in pulls]
    parts = [_result(pull, both) for pull, both in told if both is not None]
    if parts:
        text = parts[0]
        for part in parts[1:]:
            text = text + say("; ") + part
        yield in_words(RULE, "note", run.name, text, "docs/theory.md, section 19")


def _result(pull: Pull, both: BothFrictions) -> Phrase:
    told = (
        say(f"fed from {literal(pull.feed_name)}: constant friction ")
        + loads_words(both.constant)
        + say(", by pressure ")
        + loads_words(both.by_pressure)
    )
    if mixed(pull):
        told += say(f", as decided ({literal(decided_by(pull))}) ") + loads_words(pull.peaks)
    return told


def mixed(pull: Pull) -> bool:
    """Whether a test report is cited for some of the conduits whose friction falls, not for all.

    The result that decides is then neither that of constant friction nor that by pressure.

    Parameters
    ----------
    pull : Pull
        One direction, solved.

    Returns
    -------
    bool
    """
    falls = [c for c in pull.run.route.conduits if c.friction_then is not None]
    return len({c.fall_decides for c in falls}) > 1


def decided_by(pull: Pull) -> str:
    """Which of the two results decides a pull; by conduit where it is not the same in all.

    Parameters
    ----------
    pull : Pull
        One direction, solved.

    Returns
    -------
    str
        Words without a stop.
    """
    falls = [c for c in dict.fromkeys(pull.run.route.conduits) if c.friction_then is not None]
    by = {
        "by pressure": [c.name for c in falls if c.fall_decides],
        "constant": [c.name for c in falls if not c.fall_decides],
    }
    if not by["by pressure"]:
        return "constant friction (no test report)"
    if not by["constant"]:
        return "by pressure (test report)"
    return "; ".join(f"{word} in {', '.join(names)}" for word, names in by.items())


def loads_words(peaks: Peaks) -> Phrase:
    """The loads of one result.

    Parameters
    ----------
    peaks : Peaks
        N and N/m.

    Returns
    -------
    Phrase
        Without a stop.
    """
    told = say(
        "{} at the end, sidewall {}",
        (peaks.tension_at_end, "force"),
        (peaks.sidewall, "sidewall"),
    )
    if peaks.machine is not None:
        told = told + say(", machine {}", (peaks.machine, "force"))
    return told
