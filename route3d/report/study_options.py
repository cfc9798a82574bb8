"""Options of a job side by side, best first: table, what buys the most, CSV, workbook and JSON."""

from __future__ import annotations

import io
import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from rich.console import Console, Group, RenderableType
from rich.text import Text

from route3d.model.examples import BANNER, example_names
from route3d.model.job import Job
from route3d.planning.result import CAUTIONS
from route3d.report.columns import Column, column_table, filled, rows_csv
from route3d.report.columns_xlsx import rows_xlsx
from route3d.report.json_result import Data
from route3d.report.layout import WIDEST, heading, paragraph
from route3d.study.many_jobs.answer import summary_data
from route3d.study.options.outcome import AS_MODELED, Option, Options
from route3d.units import render, show

BEST = (
    "* Best trade-off: an option that passes and is better in one of {figures} is worse in another."
)
MOST_SHOWN = 20
"""Of more options than this the table has only so many of the best."""
_MOST_ERRORS = 10


@dataclass(frozen=True, slots=True)
class OptionLine:
    """One line of the table: the ``option`` of a ``run``, words in the units ``system``."""

    run: str
    option: Option
    system: str
    examples: tuple[str, ...] = ()


def changes_words(option: Option, system: str) -> list[str]:
    """What differs from the model file, in some units."""
    return [render(phrase, system) for phrase in option.words]


def _changes(line: OptionLine) -> str:
    return "; ".join(changes_words(line.option, line.system)) or "-"


def _margin(line: OptionLine) -> float | str | None:
    option = line.option
    if option.error:
        return None
    if option.friction_margin is None:
        return "none"
    return "no limit" if math.isinf(option.friction_margin) else option.friction_margin


def _setups(line: OptionLine) -> float | None:
    return None if line.option.error else float(line.option.setups)


def verdict(option: Option) -> str:
    """``pull``, or ``do not pull`` with the worst of what stops it, or ``not solved``."""
    if option.error:
        return "not solved"
    if option.passes:
        planned = all(pull.planned for pull in option.pulls)
        return "pull" if planned else "pull (rope and machine not checked)"
    more = len(option.stops) - 1
    return f"do not pull: {option.stops[0]}" + (f" and {more} more" if more else "")


def _columns(currency: str) -> tuple[Column[OptionLine], ...]:
    """The columns but for that of the run; without a ``currency`` none has costs."""
    cost: Column[OptionLine] = Column(
        f"cost\n{currency}", lambda x: x.option.cost if currency else None, "count"
    )
    return (
        Column("option", lambda x: x.option.name),
        Column("what changes", _changes),
        Column("of\nlimit", lambda x: x.option.utilization, "percent"),
        Column("governing", lambda x: x.option.governing),
        Column("set-ups", _setups, "count"),
        Column("crew\ntime", lambda x: x.option.crew_time, "crew time"),
        *((cost,) if currency else ()),
        Column("verdict", lambda x: verdict(x.option)),
    )


_MARGIN: Column[OptionLine] = Column("friction\nmargin", _margin, "ratio")
_MARK: Column[OptionLine] = Column("*", lambda x: "*" if x.option.efficient else "")


def options_report(job: Job, answers: Sequence[Options], system: str) -> RenderableType:
    """The options of each run for a terminal, best first, and what buys the most."""
    parts: list[RenderableType] = [heading(job)]
    for answer in answers:
        if len(answers) > 1:
            parts.append(paragraph(f"Run {answer.run}", style="bold", before=1))
        else:
            parts.append(Text())
        notes = [render(note, system) for note in answer.notes]
        lines = [OptionLine(answer.run, o, system, job.examples) for o in most_useful(answer)]
        parts.append(_table(lines, answer.currency, system))
        if answer.passing:
            cost = ", crew time and cost" if answer.currency else " and crew time"
            words = BEST.format(figures=f"utilization, set-ups{cost}")
            parts.append(paragraph(words, before=1))
        more = _not_shown(answer, len(lines))
        parts += [paragraph(text) for text in (*more, *best_words(answer, system), *notes)]
        parts += [paragraph(text, style="bold red") for text in _errors(answer)]
    parts += [Text(), *(paragraph(text, style="dim") for text in CAUTIONS)]
    return Group(*parts)


def most_useful(answer: Options) -> list[Option]:
    """All options, or of many the best that pass, and the run as modeled; in their order.

    A combination to which one of its options adds nothing is left out. Where fewer pass than are
    shown, the best of the others follow.
    """
    options = [o for o in answer.options if not o.same_as]
    if len(options) <= MOST_SHOWN:
        return options
    passing = sum(o.passes for o in options)
    first = options[: MOST_SHOWN if passing else MOST_SHOWN - 1]
    return first + [o for o in options[len(first) :] if o.name == AS_MODELED]


def _not_shown(answer: Options, shown: int) -> Iterator[str]:
    """How many options the table leaves out, and where they are."""
    same = sum(bool(o.same_as) for o in answer.options)
    more = len(answer.options) - same - shown
    if more:
        passing = sum(not o.same_as for o in answer.passing)
        yield (
            f"Not shown: {more} more options. {passing} of {shown + more} pass. All are in "
            "--csv, --xlsx and --json."
        )
    if same:
        one = same == 1
        yield (
            f"Not shown: {same} {'combination' if one else 'combinations'} with the same figures "
            "as with one option less. In files: same as."
        )


def _errors(answer: Options) -> Iterator[str]:
    """Why options could not be solved, a line each."""
    bad = [option for option in answer.options if option.error]
    for option in bad[:_MOST_ERRORS]:
        yield from (f"{option.name}: {line}" for line in option.error.splitlines())
    if (more := len(bad) - _MOST_ERRORS) > 0:
        yield f"Not solved either: {more} more options. All are in --csv, --xlsx and --json."


def _table(lines: Sequence[OptionLine], currency: str, system: str) -> RenderableType:
    """The table for a terminal; with the friction margin where that takes no more lines."""
    first, *more = _columns(currency)
    plain = filled(lines, (first, _MARK, *more))
    at = next((i for i, c in enumerate(plain) if c.title == "governing"), len(plain) - 1) + 1
    columns = filled(lines, (*plain[:at], _MARGIN, *plain[at:]))
    tables = [column_table(lines, each, system, _style) for each in (plain, columns)]
    few, many = (_height(table) for table in tables)
    return tables[many <= few]


def _height(table: RenderableType) -> int:
    """The lines a table takes on a sheet."""
    console = Console(width=WIDEST, color_system=None, file=io.StringIO())
    return len(console.render_lines(table))


def _style(text: str) -> str:
    return "stop" if text.startswith(("do not pull", "not solved")) else ""


# --- what buys the most ---------------------------------------------------------------------------


def best_words(answer: Options, system: str) -> list[str]:
    """A sentence each: the cheapest that passes, the lowest utilization, the most for its cost."""
    if not answer.solved:
        return ["No option could be solved."]
    passing = answer.passing
    if not passing:
        least = min(answer.solved, key=lambda o: o.utilization)
        return [
            f"No option passes. Lowest utilization: {least.name}, "
            f"{show(least.utilization, 'percent', system)} of {least.governing}."
        ]
    return list(_best(answer, passing, system))


def _best(answer: Options, passing: Sequence[Option], system: str) -> Iterator[str]:
    modeled = next((o for o in answer.solved if o.name == AS_MODELED), None)

    def share(of: Option) -> str:
        beside = f"{show(of.utilization, 'percent', system)} of {of.governing}"
        if modeled is None or of is modeled:
            return beside
        return f"{beside}; as modeled {show(modeled.utilization, 'percent', system)}"

    priced = [o for o in passing if o.cost is not None]
    timed = [o for o in passing if o.crew_time is not None]
    if priced:
        cheapest = min(priced, key=lambda o: (o.cost or 0.0, o.utilization))
        yield (
            f"Cheapest that passes{', of what is priced' if answer.unpriced else ''}: "
            f"{cheapest.name}, {money(cheapest.cost, answer)}, "
            f"{share(cheapest)}."
        )
    elif timed:
        quickest = min(timed, key=lambda o: (o.crew_time or 0.0, o.utilization))
        yield (
            f"Least crew time of those that pass: {quickest.name}, "
            f"{show(quickest.crew_time or 0.0, 'crew time', system)}, "
            f"{share(quickest)}."
        )
    least = min(passing, key=lambda o: o.utilization)
    cost = "" if least.cost is None else f", {money(least.cost, answer)}"
    yield (
        f"Lowest utilization: {least.name}, {show(least.utilization, 'percent', system)} of "
        f"{least.governing}{cost}."
    )
    if modeled is not None and modeled.cost is not None:
        yield from _for_its_cost(modeled, priced, answer, system)


def _for_its_cost(
    modeled: Option, priced: Sequence[Option], answer: Options, system: str
) -> Iterator[str]:
    """The option that lowers utilization most for each unit of cost above the job as modeled."""
    first = modeled.cost or 0.0
    worth = [
        ((modeled.utilization - o.utilization) / (o.cost - first), o)
        for o in priced
        if o.cost is not None and o.cost > first and o.utilization < modeled.utilization
    ]
    if len(worth) > 1:
        _, best = max(worth, key=lambda found: found[0])
        more = (best.cost or 0.0) - first
        yield (
            f"Most for its cost: {best.name}, {show(best.utilization, 'percent', system)} of the "
            f"limit in place of {show(modeled.utilization, 'percent', system)} as modeled, for "
            f"{money(more, answer)} more."
        )


def money(amount: float | None, answer: Options) -> str:
    """An amount with its currency; "-" where it is not known."""
    return "-" if amount is None else f"{amount:,.0f} {answer.currency}"


# --- files and data -------------------------------------------------------------------------------


def _lines(job: Job, answer: Options, system: str) -> list[OptionLine]:
    return [OptionLine(answer.run, o, system, job.examples) for o in answer.options]


def _file(
    job: Job, answers: Sequence[Options], system: str
) -> tuple[list[OptionLine], list[Column[OptionLine]]]:
    """The lines of all runs, and the columns of a file: one for each cost, one for errors."""
    lines = [line for answer in answers for line in _lines(job, answer, system)]
    currency = next((a.currency for a in answers if a.currency), "")
    kinds = dict.fromkeys(what for line in lines for what, _ in line.option.costs)
    columns: list[Column[OptionLine]] = [
        Column("run", lambda x: x.run),
        *_columns(currency),
        _MARGIN,
        Column("efficient", lambda x: "yes" if x.option.efficient else "no"),
        Column("feed from", lambda x: x.option.feed),
        Column("pull at", lambda x: x.option.pull),
        *(_cost_column(what, currency) for what in kinds),
    ]
    if any(line.option.same_as for line in lines):
        columns.append(Column("same as", lambda x: x.option.same_as))
    if any(line.option.error for line in lines):
        columns.append(Column("error", lambda x: x.option.error.replace("\n", "; ")))
    if job.examples:
        columns.append(Column(BANNER, lambda x: example_names(x.examples)))
    return lines, columns


def _cost_column(what: str, currency: str) -> Column[OptionLine]:
    return Column(f"cost of {what} {currency}", lambda x: dict(x.option.costs).get(what), "count")


def options_csv(job: Job, answers: Sequence[Options], system: str) -> str:
    """All options as CSV: units in the heading, plain numbers below."""
    lines, columns = _file(job, answers, system)
    return "".join(rows_csv(lines, columns, system))


def options_xlsx(job: Job, answers: Sequence[Options], system: str) -> bytes:
    """All options as a workbook; the same options give the same bytes."""
    lines, columns = _file(job, answers, system)
    return rows_xlsx(job.title, [("options", lines, columns)], system)


def options_data(job: Job, answers: Sequence[Options]) -> Data:
    """All options as plain data, in SI; null where there is no such number.

    ``runs`` hold ``name``, ``by`` what they are ranked by, ``currency`` (null without costs),
    ``notes``, and ``options``, best first.
    """
    return {
        "title": job.title,
        "file": None if job.path is None else str(job.path),
        "examples": list(job.examples),
        "runs": [
            {
                "name": answer.run,
                "by": answer.by,
                "currency": answer.currency or None,
                "notes": [render(note, "SI") for note in answer.notes],
                "not_priced": list(answer.unpriced),
                "best": best_words(answer, "SI"),
                "options": [option_data(o) for o in answer.options],
            }
            for answer in answers
        ],
    }


def option_data(option: Option) -> Data:
    """One option as plain data, in SI; ``pulls`` are lines as those of ``jobs --json``."""
    solved = not option.error
    return {
        "option": option.name,
        "changes": changes_words(option, "SI"),
        "utilization": option.utilization if solved else None,
        "governing": option.governing or None,
        "friction_margin": option.friction_margin,
        "feed": option.feed or None,
        "pull": option.pull or None,
        "setups": option.setups if solved else None,
        "crew_time_s": option.crew_time,
        "cost": option.cost,
        "costs": dict(option.costs),
        "must_not_be_pulled": not option.passes if solved else None,
        "reasons": list(option.stops),
        "efficient": option.efficient,
        "same_as": option.same_as or None,
        "not_priced": list(option.unpriced),
        "vaults_m": list(option.vaults),
        "pulls": [summary_data(pull) for pull in option.pulls],
        "error": option.error or None,
    }
