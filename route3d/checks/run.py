"""All checks of a run, and all checks of one pull of it."""

from __future__ import annotations

import math
from collections.abc import Sequence

from route3d.checks.bends import check_bends, check_conduits
from route3d.checks.boxes import check_boxes
from route3d.checks.classes import check_classes, check_rules, check_stocking, check_temperature
from route3d.checks.finding import Finding, in_words
from route3d.checks.fit import check_fit
from route3d.checks.limits import check_corners, check_loads, check_sidewall, check_slack
from route3d.checks.riser import check_risers
from route3d.checks.rope import check_rope
from route3d.checks.sections import check_sections
from route3d.checks.stock import check_stock
from route3d.geometry.path import Path
from route3d.mechanics.fit import Fit
from route3d.mechanics.pull import Pull
from route3d.model.examples import example_names, is_example
from route3d.model.practice import Practice
from route3d.model.run import Run
from route3d.phrase import literal, say


def check_run(
    run: Run,
    practice: Practice,
    path: Path,
    fits: tuple[Fit, ...],
    examples: Sequence[str] = (),
    *,
    in_workbook: bool = False,
) -> tuple[Finding, ...]:
    """What holds whichever end feeds: fit, bends, risers, boxes, rules, classes, temperature.

    Parameters
    ----------
    run : Run
        The run, in SI.
    practice : Practice
        Conventions and rules it is worked by.
    path : Path
        The centerline, n segments.
    fits : tuple of Fit, one for each leg
        How the cables lie.
    examples : sequence of str
        Tables of the model file whose values nobody has confirmed.
    in_workbook : bool
        Whether the model file is a workbook: a fix then names the sheet or the column.

    Returns
    -------
    tuple of Finding
        Family by family.
    """
    return (
        *check_fit(run, practice, fits),
        *check_bends(run, practice, path),
        *check_sections(run, practice, path),
        *check_conduits(run),
        *check_risers(run, practice, path),
        *check_boxes(run, practice),
        *check_rules(run, practice),
        *check_classes(run, practice),
        *check_temperature(run, practice),
        *check_stock(run),
        *_for_both_ends(run, in_workbook),
        *_unconfirmed(run, examples, in_workbook),
        *_closing(run),
    )


# Nobody measures a conduit run to less, m.
_CLOSES = 0.01


def _closing(run: Run) -> tuple[Finding, ...]:
    """Legs that miss the known end by more than anyone measures: a dimension is wrong."""
    closing = None if run.route.legs is None else run.route.legs.closing
    if closing is None or closing.distance <= _CLOSES:
        return ()
    number, length, change = max(closing.changes, key=lambda each: abs(each[2]))
    fix = say(
        f"the legs miss the known end: check their lengths; the largest change that closes them is "
        f"leg {number + 1}, {{}} to {{}} (`route3d legs` prints all)",
        (length, "length"),
        (length + change, "length"),
    )
    if closing.left > _CLOSES:
        fix = say("the legs miss the known end, and no change of lengths closes them: check turns")
    return (
        Finding(
            "closing error", "caution", run.name, closing.distance, math.nan, "length", fix,
            "given in the run",
        ),
    )  # fmt: skip


def _for_both_ends(run: Run, in_workbook: bool) -> tuple[Finding, ...]:
    """Equipment that is given once is worked with at whichever end it is needed."""
    given = [
        name
        for name in ("machine", "anchor", "rigging", "lead_off", "reel")
        if getattr(run, name) and not all(getattr(end, name) is not None for end in run.ends)
    ]
    ends = [run.route.vertices[i] for i in (0, -1)]
    if not given or not all({"reel", "machine"} <= v.access for v in ends):
        return ()
    place = "on the sheet Ends" if in_workbook else 'in [run.ends."NAME"]'
    fix = say(
        ", ".join(name.replace("_", "-") for name in given)
        + f": given once and used at both ends. Enter what differs at one end {place}"
    )
    source = "given in the run"
    return (in_words("equipment at both ends", "note", run.name, fix, source),)


def _unconfirmed(run: Run, examples: Sequence[str], in_workbook: bool) -> tuple[Finding, ...]:
    """Tables marked as examples, without those of other runs."""
    own = (f"run.{run.name}",)
    concern = [e for e in examples if not e.startswith("run.") or is_example(e, own)]
    if not concern:
        return ()
    mark = "clear the column example" if in_workbook else "delete the line example = true"
    said = f"confirm {example_names(concern)}: enter the values of your job, then {mark}"
    fix = say(literal(said))
    return (in_words("example values", "caution", run.name, fix, "marked in the model file"),)


def check_pull(pull: Pull) -> tuple[Finding, ...]:
    """What depends on the direction: tension, sidewall pressure, slack, rope and machine.

    Parameters
    ----------
    pull : Pull
        One direction, solved.

    Returns
    -------
    tuple of Finding
        Family by family.
    """
    return (
        *check_loads(pull),
        *check_sidewall(pull),
        *check_slack(pull),
        *check_corners(pull),
        *check_rope(pull),
        *check_stocking(pull),
    )
