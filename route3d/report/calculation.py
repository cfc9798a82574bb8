"""The calculation report of a job: what it says, for whatever sets it out.

Two pages for each run, sensitivity on demand, then an appendix: inputs with their origin, method,
every line of both directions, tackle, remedies, assumptions, sources, revisions, plan and profile.
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from importlib import resources
from itertools import zip_longest

from rich.text import Text

from route3d.checks.finding import Finding
from route3d.drawing.plan_profile.sheets import DrawingSheet, run_sheets, sheet_svg
from route3d.drawing.plan_profile.surroundings import Surroundings
from route3d.drawing.route_sketch import route_sketch
from route3d.drawing.section import section_of
from route3d.errors import InputError
from route3d.formats.grade_surfaces import read_grade
from route3d.geometry.grade import Grade
from route3d.mechanics.pull import Pull
from route3d.mechanics.segment_lines import SegmentLine, segment_lines
from route3d.model.examples import example_banner
from route3d.model.job import Job
from route3d.model.origin import Origin
from route3d.model.practice import CHOICES
from route3d.planning.direction import Candidate
from route3d.planning.pull_plan.plan import Plan
from route3d.planning.result import CAUTIONS, RunResult
from route3d.planning.shop import all_findings
from route3d.report.block import Block, share
from route3d.report.document import (
    Document,
    DrawingPage,
    Figures,
    Formulas,
    Heading,
    Part,
    Signatures,
    Table,
    Verdict,
    Words,
)
from route3d.report.explanations import (
    EXPLANATIONS,
    SYMBOLS,
    Explanation,
    explanation_of,
    formulas_of,
)
from route3d.report.formula import Formula
from route3d.report.inputs import InputFigure, input_figures, origin_of, other_origins
from route3d.report.issue import Issue
from route3d.report.plan_blocks import accidents_block, machine_block, verdict
from route3d.report.plan_tackle import chain_block, reel_block, sheaves_block
from route3d.report.remedies import remedy_list
from route3d.report.segment_table import (
    FORMS,
    MARKS,
    force,
    force_unit,
    in_force,
    line_constants,
    line_name,
    rounding_words,
    segment_block,
)
from route3d.report.sensitivity import Sensitivity, sensitivity_parts
from route3d.report.tension import directions_table
from route3d.report.words import conduit_fits, limit_of, measured, sentence
from route3d.report.worked import (
    Worked,
    fit_formulas,
    hand_worked,
    line_worked,
    sidewall_worked,
    worked,
)
from route3d.units import render, show, unit_label

UNKNOWN_ORIGIN = "not recorded"

ASSUMPTIONS = (
    "The cables have no bending stiffness; friction is Coulomb's, with one coefficient for each "
    "conduit, or two where it falls above a contact load; the pull is slow and steady; tension is "
    "never negative.",
    "Conduit runs are straight lines and circular arcs, as built to the route given.",
    "The weight correction factor is that of frictionless round cables in a round conduit.",
)


@dataclass(frozen=True)
class RunCalculation:
    """One run, answered, and its plan where it has a rope and a machine."""

    result: RunResult
    plan: Plan | None

    @property
    def stops(self) -> bool:
        """True where the run must not be pulled: by its checks, or by its plan."""
        return self.result.stops if self.plan is None else self.plan.stops

    @property
    def best(self) -> Candidate:
        """The direction of the body of the report."""
        return self.result.best

    @property
    def other(self) -> Candidate:
        """The other direction."""
        first, second = self.result.candidates
        return second if self.best is first else first

    @cached_property
    def findings(self) -> tuple[Finding, ...]:
        """What is true of the run and of the direction of the body, with the shop and the plan."""
        whole = self.result.findings_of(self.best)
        known = set(self.result.findings)
        shop = tuple(f for f in all_findings(self.result) if f not in known)
        plan = self.plan.findings if self.plan is not None else ()
        return tuple(dict.fromkeys((*whole, *shop, *plan)))

    @cached_property
    def lines(self) -> tuple[SegmentLine, ...]:
        """Those of the direction of the body."""
        return segment_lines(self.best.pull)

    @cached_property
    def other_lines(self) -> tuple[SegmentLine, ...]:
        """Those of the other direction."""
        return segment_lines(self.other.pull)

    @property
    def both(self) -> tuple[tuple[Pull, tuple[SegmentLine, ...]], ...]:
        """Pull and lines of both directions, that of the body first."""
        return (self.best.pull, self.lines), (self.other.pull, self.other_lines)


def calculation_report(
    job: Job,
    runs: Sequence[RunCalculation],
    issue: Issue,
    *,
    paper: str,
    sensitivity: Sequence[Sensitivity] = (),
) -> Document:
    """The report of the runs of a job; ``paper`` is "letter" or "a4".

    Of each ``sensitivity`` there is a chapter before the appendix.
    """
    system = issue.system
    parts: list[Part] = []
    if len(runs) > 1:
        parts += _all_runs(runs, system)
    for number, run in enumerate(runs):
        parts += _body(run, system, new_page=number > 0)
    parts.append(_signatures(job))
    for found in sensitivity:
        name = found.spread.run.name
        parts.append(Heading(f"Sensitivity, run {name}: how sure, how far", 1, new_page=True))
        parts += sensitivity_parts(found, system)
    parts += _appendix(job, runs, issue, paper)
    return Document(
        title=job.document.job or job.title,
        name="Cable pulling calculation",
        block=_title_block(job, issue),
        parts=tuple(parts),
        foot=issue.words,
        banner=example_banner(job.examples, most=6),
    )


def _title_block(job: Job, issue: Issue) -> tuple[tuple[str, str], ...]:
    told = job.document
    return (
        ("job", told.job or job.title),
        ("client", told.client or "-"),
        ("number", told.number or "-"),
        ("revision", told.revision or "-"),
        ("date", told.date or "-"),
        ("rules", job.practice.rules_words.partition(" (")[0].removeprefix("rules ")),
        ("made", told.made or "-"),
        ("checked", told.checked or "-"),
        ("approved", told.approved or "-"),
        ("mark", issue.short),
    )


def _signatures(job: Job) -> Signatures:
    told = job.document
    names = (("made", told.made), ("checked", told.checked), ("approved", told.approved))
    return Signatures((*names, ("date", "")))


# --- summary and body of a run ---------------------------------------------------------------


def _all_runs(runs: Sequence[RunCalculation], system: str) -> Iterator[Part]:
    """One line for each run, in the order of the file."""
    rows, heavy = [], set()
    for i, run in enumerate(runs):
        best, result = run.best, run.result
        rows.append(
            (
                result.run.name,
                result.run.cables.describe(),
                show(result.path.length, "length", system),
                show(result.path.turn, "angle", system),
                best.pull.feed_name,
                show(best.pull.peak_tension, "force", system),
                f"{best.name(best.utilization.governing)}, {share(best.utilization.peak)}",
                _margin(best),
                "do not pull" if run.stops else "pull",
            )
        )
        if run.stops:
            heavy.add(i)
    heads = (
        "run",
        "cables",
        "length",
        "total bend",
        "feed from",
        "peak tension",
        "governing",
        "friction margin",
        "verdict",
    )
    yield Heading("Summary of all runs")
    yield Table(Block("", (), heads, tuple(rows), frozenset({2, 3, 5, 7}), (), frozenset(heavy)))


def _margin(candidate: Candidate) -> str:
    factor = candidate.margin.factor
    if factor is None:
        return "none"
    return "not limited" if math.isinf(factor) else f"{factor:.2f} x"


def _body(run: RunCalculation, system: str, *, new_page: bool) -> Iterator[Part]:
    result, best = run.result, run.best
    name = f"Run {result.run.name}: {result.run.cables.describe()} on {result.run.attach}"
    yield Heading(name, 1, new_page)
    yield Verdict(_verdict(run, system), run.stops)
    size = (
        f"{show(result.path.length, 'length', system)} of conduit, "
        f"{show(result.path.turn, 'angle', system)} total bend. "
    )
    yield Words((size + sentence(render(result.decision.why, system)),))
    yield Figures(
        (
            (route_sketch(best.pull, system), "Route and direction of the pull", 0.56),
            (section_of(result, system), "Section of the conduit with the highest fill", 0.44),
        )
    )
    yield Heading("Results from both ends")
    heads, rows = directions_table(result, None, system)
    texts = tuple(tuple(c.plain if isinstance(c, Text) else c for c in row) for row in rows)
    yield Table(Block("", (), ("quantity", *heads[1:]), texts), shares=(0.2, 0.4, 0.4))
    yield from _limits(run, system)
    yield from _lines(run.best.pull, run.lines, system, "Calculation line by line")
    yield from _fit(run, system)


def _verdict(run: RunCalculation, system: str) -> str:
    """The words of plan and sheet; of a run without a plan, the worst of the direction told."""
    pull = run.best.pull
    if not run.stops:
        cautions = sum(f.severity == "caution" for f in run.findings)
        noted = f" {cautions} caution{'s' * (cautions > 1)}: see below." if cautions else ""
        return f"Feed from {pull.feed_name}, pull at {pull.pull_name}.{noted}"
    if run.plan is not None:
        return verdict(run.plan, system)
    worst = next((f for f in run.result.findings_of(run.best) if f.severity == "stop"), None)
    if worst is None:
        return "STOP. Do not pull."
    figures = render(worst.compared, system)
    what = f"{worst.rule}, {render(worst.place, system)}" + (f": {figures}" if figures else "")
    return f"STOP. Do not pull: {what}."


def _limits(run: RunCalculation, system: str) -> Iterator[Part]:
    """What governs: of each rule its worst place, those that stop or warn before those that pass.

    Every place and every note stand in the appendix.
    """
    found = run.findings
    worst: dict[str, Finding] = {}
    for finding in _by_share(found):
        if not finding.rule.startswith(_COMPARED_INPUT):
            worst.setdefault(finding.rule, finding)
    told = sorted(worst.values(), key=lambda f: f.severity == "ok")
    yield Heading(f"Limits, fed from {run.best.pull.feed_name}")
    yield _limits_table(told, system)
    cautions = [f for f in found if _is_words(f) and f.severity in ("stop", "caution")]
    if cautions:
        yield Heading("Cautions without a percentage")
        yield _words_table(cautions, system)


# Figures of the file held against publications: no load, and no limit of this pull.
_COMPARED_INPUT = "published "


def _every_check(run: RunCalculation, system: str) -> Iterator[Part]:
    """Every check at every place, and every finding in words."""
    found = run.findings
    yield Heading("Every check")
    yield _limits_table(_by_share(found), system)
    if words := [f for f in found if _is_words(f)]:
        yield Heading("Findings without a percentage")
        yield _words_table(words, system)


def _by_share(found: Sequence[Finding]) -> list[Finding]:
    return sorted((f for f in found if math.isfinite(f.ratio)), key=lambda f: -f.ratio)


def _is_words(finding: Finding) -> bool:
    return not math.isfinite(finding.ratio) and finding.severity != "ok"


def _limits_table(told: Sequence[Finding], system: str) -> Table:
    rows = tuple(
        (
            f.rule,
            render(f.place, system),
            measured(f, system),
            limit_of(f, system),
            share(f.ratio),
            _grave(f),
            f.source,
        )
        for f in told
    )
    heads = ("check", "where", "demand", "limit", "of limit", "", "clause and edition, or source")
    heavy = frozenset(i for i, f in enumerate(told) if f.severity == "stop")
    return Table(
        Block("", (), heads, rows, frozenset({2, 3, 4}), (), heavy),
        shares=(0.17, 0.2, 0.09, 0.09, 0.07, 0.07, 0.31),
    )


def _words_table(told: Sequence[Finding], system: str) -> Table:
    rows = tuple(
        (
            f.severity,
            f.rule,
            render(f.place, system),
            measured(f, system),
            render(f.fix, system),
            f.source,
        )
        for f in told
    )
    heads = ("", "check", "where", "found", "what to do", "source")
    return Table(
        Block("", (), heads, rows, frozenset({3})), shares=(0.07, 0.13, 0.14, 0.08, 0.3, 0.28)
    )


def _grave(finding: Finding) -> str:
    return "passes" if finding.severity == "ok" else finding.severity.upper()


# --- lines of the calculation ----------------------------------------------------------------


def _lines(pull: Pull, lines: tuple[SegmentLine, ...], system: str, title: str) -> Iterator[Part]:
    block = segment_block(pull, lines, system)
    yield Heading(f"{title}: {block.title[:1].lower()}{block.title[1:]}")
    yield Words((line_constants(pull, system),))
    yield Table(replace(block, notes=()), dense=True)
    yield Words((*block.notes, _marks(lines) + rounding_words(system)), small=True)


def _marks(lines: Sequence[SegmentLine]) -> str:
    """What the letters of the formulas stand for."""
    known = {e.key: e.title for e in EXPLANATIONS}
    forms = dict.fromkeys(line.form for line in lines)
    told = [
        f"{MARKS[form]} {'slack: no tension' if form == 'slack' else known[FORMS[form]].lower()}"
        for form in forms
    ]
    return f"Formulas (appendix): {'; '.join(told)}. Hand: hand method, same start tension. "


def _fit(run: RunCalculation, system: str) -> Iterator[Part]:
    oval = run.result.practice.jam_ratio == "1.05 D/d"
    items = []
    for conduit, fit in conduit_fits(run.result):
        found = fit_formulas(fit, system, oval=oval)
        formulas = tuple(Formula(f) for each in found.values() for f in each)
        words = f"{fit.arrangement}: {fit.reason}. Unit: {unit_label('diameter', system)}."
        items.append((f"{conduit.label}", formulas, words))
    yield Heading("Fit in numbers")
    yield Formulas(tuple(items), columns=min(len(items), 2) or 1)


# --- appendix --------------------------------------------------------------------------------


def _appendix(job: Job, runs: Sequence[RunCalculation], issue: Issue, paper: str) -> Iterator[Part]:
    system = issue.system
    yield Heading("Appendix A: inputs and their origin", 1, new_page=True)
    yield from _inputs(job, system)
    yield Heading("Appendix B: method", 1)
    yield from _method(job, runs, system)
    for run in runs:
        name = run.result.run.name
        yield Heading(f"Appendix C, run {name}: every check, figures put into the formulas", 1)
        yield from _every_check(run, system)
        yield from _figures_put_in(run, system)
        yield from _lines(run.other.pull, run.other_lines, system, "The other direction")
        yield from _differences(run, system)
        yield from _tackle(run, system)
        yield from _remedies(run, system)
    yield Heading("Appendix D: assumptions, limits of validity, sources", 1)
    yield from _foundations(job, runs, system)
    grade = read_grade(job)
    for run in runs:
        sheets = _drawings(job, run, system, paper, grade)
        if not sheets:
            name = run.result.run.name
            yield Words((f"Run {name}: too long for plan and profile on two sheets.",))
        for sheet in sheets:
            layout = sheet.setup.layout
            caption = f"Run {run.result.run.name}, plan and profile, sheet {sheet.number}"
            yield DrawingPage(sheet_svg(sheet), layout.width, layout.height, caption)


def _drawings(
    job: Job, run: RunCalculation, system: str, paper: str, grade: Grade
) -> tuple[DrawingSheet, ...]:
    """Plan and profile on one or two sheets; none of a run that is too long for them."""
    try:
        around = Surroundings(grade if grade.given or job.banks else None)
        return run_sheets(job, run.result.run, system, paper=paper, most=2, around=around)
    except InputError:
        return ()


def _inputs(job: Job, system: str) -> Iterator[Part]:
    """Every figure with its origin, one table for each table of the file."""
    figures = [f for f in input_figures(job) if not _is_option(f)]
    told = [(f.key, f.shown(system), origin_of(f, job)) for f in figures]
    told += [(key, "-", origin) for key, origin in other_origins(job)]
    groups: dict[str, list[tuple[str, str, Origin | None]]] = {}
    for each in told:
        groups.setdefault(_group(each[0], job), []).append(each)
    rows: list[tuple[str, ...]] = []
    heavy: set[int] = set()
    for group, members in groups.items():
        heavy.add(len(rows))
        rows.append((group, "", "", ""))
        for key, shown, origin in members:
            kind = UNKNOWN_ORIGIN if origin is None else origin.kind
            rows.append((key.removeprefix(group).lstrip("."), shown, kind, _origin_words(origin)))
    yield Table(
        Block(
            "",
            (),
            ("key", "value", "origin", "source, status"),
            tuple(rows),
            heavy=frozenset(heavy),
        ),
        shares=(0.24, 0.22, 0.12, 0.42),
    )


def _origin_words(origin: Origin | None) -> str:
    """Source and status of a figure; a default says nothing more than its value."""
    if origin is None or origin.kind == "default":
        return ""
    source = "" if origin.source is None else str(origin.source)
    return "; ".join(part for part in (source, origin.words) if part)


def _is_option(figure: InputFigure) -> bool:
    return figure.key.removeprefix("practice.") in CHOICES


def _group(key: str, job: Job) -> str:
    """The table of the file a key stands in: ``cable.phase``, ``run.F1``, ``practice``."""
    for run in job.runs:
        if key.startswith(f"run.{run.name}."):
            return f"run.{run.name}"
    first, _, rest = key.partition(".")
    if first in ("practice", "plan", "site") or first.startswith("bank["):
        return first
    names = sorted(_names(job, first), key=len, reverse=True)
    name = next((n for n in names if rest.startswith(f"{n}.")), rest.partition(".")[0])
    return f"{first}.{name}"


def _names(job: Job, kind: str) -> set[str]:
    """Names of the tables of one kind, which may hold dots."""
    if kind == "cable":
        return {cable.name for run in job.runs for cable, _ in run.cables.items}
    if kind == "conduit":
        return {conduit.name for run in job.runs for conduit in run.route.conduits}
    ones = [one for run in job.runs for one in (run, *run.ends)]
    records = [getattr(one, kind, None) for one in ones]
    return {record.name for record in records if record is not None}


def _method(job: Job, runs: Sequence[RunCalculation], system: str) -> Iterator[Part]:
    """Formulas of every form of line that occurs, of loads and fit; options chosen."""
    keys = [FORMS[x.form] for run in runs for _, lines in run.both for x in lines]
    order = [e.key for e in EXPLANATIONS]
    wanted = sorted(
        {*keys, "hand method", "weight factor", "sidewall pressure", *_ALWAYS}, key=order.index
    )
    entries = [e for key in wanted for e in EXPLANATIONS if e.key == key]
    yield Formulas(tuple(_method_item(e) for e in entries if e.formulas), columns=2)
    yield Heading("Symbols")
    named = [(Formula(s).plain, SYMBOLS[s]) for s in dict.fromkeys(_symbols(entries))]
    half = -(-len(named) // 2)
    pairs = zip_longest(named[:half], named[half:], fillvalue=("", ""))
    symbols = tuple((*left, *right) for left, right in pairs)
    heads = ("symbol", "meaning", "symbol", "meaning")
    yield Table(Block("", (), heads, symbols), shares=(0.06, 0.44, 0.06, 0.44))
    yield Heading("Options chosen")
    practice = job.practice
    rows = tuple(
        (name, str(getattr(practice, name)), sentence(choices[getattr(practice, name)]))
        for name, choices in CHOICES.items()
    )
    yield Table(Block("", (), ("[practice]", "option", "meaning"), rows), shares=(0.2, 0.18, 0.62))
    yield Words((sentence(practice.rules_words),))


def _symbols(entries: Sequence[Explanation]) -> Iterator[str]:
    for entry in entries:
        yield from entry.symbols


_ALWAYS = (
    "conductor tension",
    "fill",
    "jam ratio",
    "clearance",
    "reel drag",
    "brake window",
    "friction margin",
    "restart",
    "machine line pull",
)


def _method_item(entry: Explanation) -> tuple[str, tuple[Formula, ...], str]:
    section = f" Theory, section {entry.section}." if entry.section else ""
    mark = next((f"{MARKS[form]}: " for form, key in FORMS.items() if key == entry.key), "")
    words = f"{entry.validity} Source: {entry.source}.{section}".strip()
    return f"{mark}{entry.title}", formulas_of(entry), words


def _figures_put_in(run: RunCalculation, system: str) -> Iterator[Part]:
    """One line of each form in numbers, the worst bend, and the loads at reel and machine."""
    items = []
    chosen: dict[str, tuple[Pull, SegmentLine]] = {}
    for pull, lines in run.both:
        for line in sorted(lines, key=lambda x: -x.tension_out):
            if line.form != "slack":
                chosen.setdefault(line.form, (pull, line))
    for pull, line in chosen.values():
        items.append(_item(line_worked(pull, line, system)))
    bends = [x for x in run.lines if x.sidewall and x.form != "sheave"]
    if bends:
        worst = max(bends, key=lambda x: x.sidewall)
        items.append(_item(sidewall_worked(run.best.pull, worst, system), "Sidewall pressure"))
        items.append(_item(hand_worked(run.best.pull, worst, system), "Hand method"))
    for key in _LOADS:
        entry = explanation_of(key)
        items += [_item(w, entry.title) for w in worked(entry, run.result, system)]
    yield Formulas(tuple(items), columns=1)


_LOADS = (
    "conductor tension",
    "reel drag",
    "brake",
    "brake window",
    "friction margin",
    "restart",
    "machine line pull",
)


def _item(found: Worked, title: str = "") -> tuple[str, tuple[Formula, ...], str]:
    head = f"{title}: {found.where}" if title else found.where
    words = sentence(found.words) if found.words else ""
    return head[:1].upper() + head[1:], tuple(map(Formula, found.formulas)), words


_WHY = {
    "level": "the weight on the bottom of the bend adds friction",
    "sag": "the weight of the cable in the bend is lifted or lowered, and rests on the wall",
    "crest": "the weight of the cable in the bend is lifted or lowered, and unloads the wall",
    "sag, outer wall": "at low tension the weight, not the tension, presses on the wall",
    "tilted": "the weight of the cable in the bend adds friction and is lifted or lowered",
    "held": "the load is held at the threshold above which friction falls",
}


def _differences(run: RunCalculation, system: str) -> Iterator[Part]:
    """What the hand method makes of each bend from the same tension, and why it differs."""
    unit = force_unit(system)
    rows = []
    for pull, lines in run.both:
        for line in lines:
            if line.form not in _WHY:
                continue
            effective = line.weight_factor * line.friction_given
            hand = line.tension_in * math.exp(effective * line.angle)
            rows.append(
                (
                    f"{line.number}{line.part}, {line_name(pull, line)}, fed from {pull.feed_name}",
                    force(line.tension_in, system),
                    force(line.tension_out, system),
                    force(hand, system),
                    f"{in_force(line.tension_out - hand, system):+.2f}",
                    _WHY[line.form],
                )
            )
    if not rows:
        return
    pull, lines = run.both[0]
    exact, hand = lines[-1].tension_out, lines[-1].hand_out
    off = f"{hand / exact - 1:+.1%}" if exact > 0 else "-"
    yield Heading("Exact against hand calculation")
    yield Words(
        (
            f"Fed from {pull.feed_name} the pull ends at {force(exact, system)} {unit} exact, "
            f"{force(hand, system)} {unit} by hand ({off}). The two differ only in bends: by hand "
            "the weight of the cable in a bend is left out. Each bend from the same tension:",
        )
    )
    heads = (
        "bend",
        f"T in, {unit}",
        "exact T out",
        "T in × e^(K θ)",
        "exact - hand",
        "what the hand method leaves out",
    )
    yield Table(
        Block("", (), heads, tuple(rows), frozenset({1, 2, 3, 4})),
        shares=(0.3, 0.09, 0.1, 0.12, 0.1, 0.29),
    )


def _tackle(run: RunCalculation, system: str) -> Iterator[Part]:
    """Load path, anchorage, reel end and unplanned stops, from the pull plan."""
    plan = run.plan
    if plan is None:
        yield Heading("Load path")
        yield Words(("Not checked: the run has no machine or no rope.",))
        return
    blocks = [chain_block(plan, system)]
    if not plan.stops:
        blocks += [
            machine_block(plan, system),
            sheaves_block(plan, system),
            reel_block(plan, system),
            accidents_block(plan, system),
        ]
    for block in blocks:
        if not (block.words or block.rows):
            continue
        yield Heading(block.title)
        if block.words:
            yield Words(block.words)
        if block.rows:
            yield Table(replace(block, notes=()))
        if block.notes:
            yield Words(block.notes, small=True)


def _remedies(run: RunCalculation, system: str) -> Iterator[Part]:
    told = remedy_list(run.result, system)
    if not told.groups and not told.why_none:
        return
    yield Heading(told.title or "Remedies")
    if told.why_none:
        yield Words((told.why_none,))
    if told.groups:
        rows = tuple(
            (
                str(line.number),
                line.cost_class,
                line.what,
                line.comes_of_it,
                " ".join(part for part in (line.caution, line.left) if part) or "-",
            )
            for line in told.lines
        )
        heads = ("no.", "class", "change", "result", "left to do")
        yield Table(Block("", (), heads, rows), shares=(0.05, 0.13, 0.4, 0.24, 0.18))
        foot = told.foot.rpartition(" To write")[0] or told.foot
        yield Words((f"{sentence(told.aim)} {foot}",), small=True)


def _foundations(job: Job, runs: Sequence[RunCalculation], system: str) -> Iterator[Part]:
    yield Heading("Assumptions")
    assumed = [
        f"{f.key}: {f.shown(system)}, {o.kind}" + (f" ({o.words})" if o.words else "")
        for f in input_figures(job)
        if (o := origin_of(f, job)) is not None and o.kind in ("assumed", "example")
    ]
    assumed += [
        f"{key}: assumed, {_origin_words(origin)}"
        for key, origin in other_origins(job)
        if origin.kind == "assumed"
    ]
    yield Words((*ASSUMPTIONS, *assumed), bullets=True)
    yield Heading("Not modeled")
    yield Table(Block("", (), ("not modeled", "effect"), not_modeled()), shares=(0.35, 0.65))
    yield Heading("Sources")
    yield Words(_sources(job, runs), bullets=True)
    if job.document.revisions:
        yield Heading("Revisions")
        rows = tuple((r.mark, r.date, r.what, r.by) for r in job.document.revisions)
        yield Table(
            Block("", (), ("revision", "date", "what changed", "by"), rows),
            shares=(0.1, 0.15, 0.6, 0.15),
        )
    yield Words(CAUTIONS, small=True)


def not_modeled() -> tuple[tuple[str, str], ...]:
    """What the theory names as not modeled, with its effect."""
    theory = (resources.files("route3d") / "docs" / "theory.md").read_text(encoding="utf-8")
    part = theory.partition("## 16.")[2].partition("\n## ")[0]
    found = re.findall(r"^\| (.+?) \| (.+?) \|$", part, re.MULTILINE)
    linked = ((what, _LINK.sub(r"\1 of the theory", effect)) for what, effect in found)
    return tuple((what, effect) for what, effect in linked if what != "not modeled")


_LINK = re.compile(r"\[([^]]+)\]\([^)]*\)")


def _sources(job: Job, runs: Sequence[RunCalculation]) -> tuple[str, ...]:
    """Every publication a figure, a limit or a formula of the report comes from."""
    texts = [job.practice.rules_words]
    texts += [
        str(o.source)
        for f in input_figures(job)
        if (o := origin_of(f, job)) is not None and o.source is not None
    ]
    texts += [c.source for run in job.runs for c in run.route.conduits if c.source]
    texts += [f.source for run in runs for f in run.findings]
    formulas = "Formulas: the source of each is given with it in appendix B."
    told = [text for text in texts if text and not text.startswith(_NO_PUBLICATION)]
    return (*dict.fromkeys(told), formulas)


# What the source of a finding begins with where it is no publication.
_NO_PUBLICATION = (
    "given",
    "not given",
    "common practice",
    "friction ",
    "weight of",
    "statics",
    "geometry",
    "end tension",
    "access",
    "no source",
    "no table",
    "no published",
    "marked in",
    "invented class",
    "limit tension carried",
    "D/d ranges",
    "own ",
)
