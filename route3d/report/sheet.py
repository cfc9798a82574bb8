"""The sheet the crew carries: PDF by typst, and the same as a page for a phone.

Both are made from the same words and tables; nothing a person typed is ever read as markup, and
the same input gives the same bytes.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from html import escape
from typing import Any, cast

from route3d.directions import isolated
from route3d.disk import file_mark
from route3d.drawing.pdf import typeset
from route3d.drawing.rigging.sheet import rigging_pages, rigging_picture
from route3d.drawing.route_sketch import route_sketch
from route3d.language import AS_IT_IS, Translated, Translation
from route3d.model.examples import example_banner
from route3d.model.job import Job
from route3d.planning.pull_plan.plan import Plan
from route3d.planning.result import CAUTIONS
from route3d.planning.rigging.layout import rigging_layouts
from route3d.report.block import Block
from route3d.report.draft import DRAFT_MARK, DRAFT_STYLE, refuse_unconfirmed
from route3d.report.gauge_page import CODE_SIZE, gauge_page, refuse_coarse_marks
from route3d.report.issue import attachment, issue_of, sealed
from route3d.report.machine_location import stand_sketch
from route3d.report.plan_blocks import (
    ACCEPTANCE,
    GAUGE,
    place_heading,
    placement_notes,
    plan_blocks,
    verdict,
)
from route3d.report.plan_steps import NO_STEPS, allowance_words, steps
from route3d.report.read_aloud import READ_ALOUD, read_aloud_block
from route3d.report.remedies import list_data
from route3d.report.words import limit_of, measured
from route3d.units import render

PAPERS = {"letter": "us-letter", "a4": "a4"}
DANGERS = (
    "Line of fire: a loaded rope stores energy. Stay out of its line and the bight, and do "
    "not step over it.",
    "Energized gear: lock out, tag out, verify de-energized. Only qualified persons open "
    "energized equipment.",
    "Confined spaces (vaults, pits): test the air, ventilate, post an attendant, plan the rescue.",
    "Risers: hanging cable can drop. Secure the cable at the top before slacking the rope.",
    "Emergency stop within reach and tested. Constant communication between both ends; no "
    "contact, no pull.",
)
# So many rows leave their page room for the lines to read aloud and the code.
MOST_GAUGE_ROWS = 18
FINDING_HEADS = ("", "rule", "where", "measured", "limit", "do")
SIGN_OFF = ("Planned by", "Checked by", "Foreman", "Date")


def sheet_data(
    job: Job,
    plan: Plan,
    system: str,
    most: int | None = MOST_GAUGE_ROWS,
    told: Translation = AS_IT_IS,
) -> dict[str, Any]:
    """Everything the sheet of one run shows, as text in the language of ``told``.

    At most so many rows of the gauge. What only paper has is that of ``printed_pages``.
    """
    serious = [f for f in plan.all_findings if f.severity in ("stop", "caution")]
    data = {
        "language": Translated(told.language),
        "labels": {
            "findings": "Findings",
            "finding_heads": list(FINDING_HEADS),
            "steps": "Steps (HOLD: wait for approval)",
            "danger": "Danger",
            "rigging": ["Rigging", "Machine end", "Feed end"],
            "page": "page",
            "of": "of",
        },
        "title": Translated(job.title),
        "run": place_heading(plan),
        "examples": example_banner(job.examples),
        "verdict": verdict(plan, system),
        "stop": plan.stops,
        "sketch": Translated(told.of_svg(route_sketch(plan.pull, system))),
        "stand": Translated("" if plan.stops else told.of_svg(stand_sketch(plan, system))),
        "blocks": [_block(block) for block in _sheet_blocks(plan, system, most, told)],
        "findings": [
            [
                f.severity.upper(),
                f.rule,
                render(f.place, system),
                measured(f, system),
                limit_of(f, system),
                render(f.fix, system),
            ]
            for f in serious
        ],
        "steps": [
            {"text": text, "hold": hold, "hold_word": "HOLD" if hold else ""}
            for text, hold in steps(plan, system)
        ],
        "no_steps": NO_STEPS,
        "dangers": list(DANGERS),
        "cautions": list(CAUTIONS),
        "worked": f"Allowances: {allowance_words(plan, system)}. Basis: "
        f"{plan.pull.practice.basis_words}.",
        "sign": list(SIGN_OFF),
        "mark": Translated(
            issue_of(job, "sheet", system).words
            + (f", {job.path.name}, SHA-256 {file_mark(job.path)}" if job.path else "")
        ),
    }
    return cast("dict[str, Any]", told.of_data(data))


def printed_pages(
    job: Job, plan: Plan, system: str, *, paper: str, told: Translation = AS_IT_IS
) -> dict[str, Any]:
    """The pages of a printed sheet by themselves, in the language of ``told``.

    The gauge table to write on, with its code; the rigging drawing, to scale for ``paper``.
    """
    data = {
        "gauge": None if plan.stops else gauge_page(plan, system, MOST_GAUGE_ROWS, told),
        "rigging": [
            {**page, "svg": Translated(page["svg"])}
            for page in rigging_pages(
                job, plan, system, paper=paper, words=lambda p: told.of(render(p, system))
            )
        ],
    }
    return cast("dict[str, Any]", told.of_data(data))


def _sheet_blocks(plan: Plan, system: str, most: int | None, told: Translation) -> Iterator[Block]:
    """The blocks of a plan without what only the office asks: why other places do not do."""
    searched = set(placement_notes(plan, system)) if plan.placement.best else set()
    for block in plan_blocks(plan, system, most):
        if block.title == READ_ALOUD:
            yield read_aloud_block(plan, system, told)
            continue
        yield replace(block, notes=tuple(n for n in block.notes if n not in searched))


def _block(block: Block) -> dict[str, Any]:
    return {
        "key": Translated(block.title),
        "title": block.title,
        "words": list(block.words),
        "heads": list(block.heads),
        "rows": [list(row) for row in block.rows],
        "numbers": sorted(block.numbers),
        "heavy": sorted(block.heavy),
        "notes": list(block.notes),
        "remedies": list_data(block.remedies) if block.remedies else None,
    }


# --- PDF -----------------------------------------------------------------------------------------


def sheet_pdf(
    job: Job,
    plans: Sequence[Plan],
    system: str,
    *,
    paper: str = "letter",
    draft: bool = False,
    told: Translation = AS_IT_IS,
) -> bytes:
    """The sheets of all runs as one PDF; ``paper`` is "letter" or "a4".

    A ``draft`` has DRAFT across every page; of example values nothing else is made (InputError).
    The figures it is made from go with it (``report.issue``).
    """
    refuse_unconfirmed(job, draft)
    refuse_coarse_marks(plans, job)
    data = {
        "paper": PAPERS[paper],
        "code": CODE_SIZE,
        "sheets": [
            sheet_data(job, plan, system, told=told)
            | printed_pages(job, plan, system, paper=paper, told=told)
            for plan in plans
        ],
    }
    issue = issue_of(job, "sheet", system, draft=draft)
    pdf = typeset("route3d.report", "sheet.typ", data, draft=draft, attached=attachment(issue))
    return sealed(pdf)


# --- a page for a phone --------------------------------------------------------------------------

_STYLE = """
:root { color-scheme: light dark; font: 17px/1.45 system-ui, sans-serif; }
body { margin: 0 auto; max-width: 46rem; padding: 0.8rem; }
h1 { font-size: 1.25rem; margin: 0.2rem 0; }
h2 { font-size: 1.1rem; margin: 1.4rem 0 0.3rem; border-bottom: 2px solid; }
.verdict { font-size: 1.25rem; font-weight: bold; border: 3px solid; padding: 0.5rem 0.7rem; }
.sketch { background: #fff; } .sketch svg { width: 100%; height: auto; display: block; }
.wide { overflow-x: auto; } table { border-collapse: collapse; width: 100%; font-size: 0.9rem; }
th, td { border-bottom: 1px solid #8888; padding: 0.35rem 0.5rem; text-align: left;
  vertical-align: top; } th { border-bottom: 2px solid; }
.n { text-align: right; white-space: nowrap; font-variant-numeric: tabular-nums; }
.heavy { font-weight: bold; background: #8884; border-left: 6px solid; }
@media (max-width: 40rem) {  /* a phone: each row a small card, each number with its name */
  table, tbody { display: block; } tr:first-child { display: none; }
  tr { display: flex; flex-wrap: wrap; gap: 0.1rem 0.9rem; padding: 0.45rem 0;
    border-bottom: 1px solid #8888; }
  td { border: 0; padding: 0; } td:first-child { flex-basis: 100%; font-weight: bold;
    text-align: left; }
  td:empty { display: none; }
  td:not(:first-child)::before { content: attr(data-h) " "; opacity: 0.75; font-size: 0.8em; }
  /* the gauge: place, then the four loads side by side, then gear, what breaks, and the gauge */
  .gauge tr { display: grid; grid-template-columns: repeat(4, 1fr); gap: 0 0.4rem; }
  .gauge tr:first-child { display: none; }
  .gauge td { text-align: left; }
  .gauge td:nth-child(2) { grid-area: 1 / 2 / auto / 5; font-weight: bold; }
  .gauge td:nth-child(5) { grid-area: 2 / 1; } .gauge td:nth-child(6) { grid-area: 2 / 2; }
  .gauge td:nth-child(7) { grid-area: 2 / 3; font-weight: bold; }
  .gauge td:nth-child(4) { grid-area: 2 / 4; } .gauge td:nth-child(3) { grid-area: 3 / 1; }
  .gauge td:nth-child(8) { grid-area: 3 / 2 / auto / 4; }
  .gauge td:nth-child(9) { grid-area: 3 / 4; }
  .gauge td:nth-child(10) { grid-area: 4 / 1 / auto / 5; }
  .gauge .n:not(:first-child)::before { display: block; }
  .gauge td:nth-child(2)::before { content: none; }
}
.note, footer { font-size: 0.85rem; } ol li { margin: 0.5rem 0; }
.remedies h3 { font-size: 0.85rem; text-transform: uppercase; letter-spacing: 0.04em;
  margin: 0.8rem 0 0.2rem; } .remedies ol { margin: 0; padding-left: 1.6rem; }
.remedies li::marker { font-weight: bold; } .remedies .note { opacity: 0.75; }
.remedies .caution, .remedies .left { font-size: 0.85rem; font-weight: 600; }
.remedies code { display: block; overflow-x: auto; white-space: pre; font-size: 0.8rem; }
.danger { border: 2px solid; padding: 0.3rem 0.7rem; }
label { display: flex; gap: 0.6rem; } input { width: 1.4rem; height: 1.4rem; flex: none; }
"""


def phone_page(
    job: Job,
    plans: Sequence[Plan],
    system: str,
    *,
    draft: bool = False,
    told: Translation = AS_IT_IS,
) -> str:
    """The sheets of all runs as one HTML file that needs nothing else; ``draft`` as of the PDF."""
    refuse_unconfirmed(job, draft)
    refuse_coarse_marks(plans, job)
    bodies = "\n".join(_phone_sheet(_phone_data(job, plan, system, told)) for plan in plans)
    title = escape(job.title)
    return isolated(
        f'<!doctype html>\n<html lang="{told.language}"><head><meta charset="utf-8">'
        f"<title>{title}</title>\n"
        '<meta name="viewport" content="width=device-width, initial-scale=1">\n'
        f"<style>{_STYLE}{DRAFT_STYLE if draft else ''}</style></head>\n"
        f"<body>\n{DRAFT_MARK if draft else ''}{bodies}\n</body></html>\n"
    )


def _phone_data(job: Job, plan: Plan, system: str, told: Translation) -> dict[str, Any]:
    """The sheet of one run with the whole gauge table, and its rigging as views alone."""
    layouts = () if plan.stops else rigging_layouts(plan, job)
    views = [
        rigging_picture(layout, system, lambda p: told.of(render(p, system))) for layout in layouts
    ]
    return {**sheet_data(job, plan, system, None, told), "views": views}


def _phone_sheet(sheet: dict[str, Any]) -> str:
    parts = [
        f"<h1>{escape(sheet['title'])}</h1><p>{escape(sheet['run'])}</p>",
        f"<p><b>{escape(sheet['examples'])}</b></p>" if sheet["examples"] else "",
        f'<p class="verdict">{escape(sheet["verdict"])}</p>',
        _phone_dangers(sheet["dangers"], sheet["labels"]["danger"]),
        f'<div class="sketch">{sheet["sketch"]}</div>',
        *map(_phone_block, sorted(sheet["blocks"], key=_phone_order)),
        f'<div class="sketch">{sheet["stand"]}</div>' if sheet["stand"] else "",
        *_phone_rigging(sheet["views"], sheet["labels"]["rigging"]),
        _phone_findings(sheet["findings"], sheet["labels"]),
        _phone_steps(sheet["steps"], sheet["no_steps"], sheet["labels"]["steps"]),
        "<footer>",
        *(
            f"<p>{escape(text)}</p>"
            for text in (*sheet["cautions"], sheet["worked"], sheet["mark"])
        ),
        "</footer>",
    ]
    return "\n".join(parts)


def _phone_rigging(views: Sequence[str], titles: Sequence[str]) -> Iterator[str]:
    """Plan and side view of both ends."""
    if views:
        yield f"<h2>{escape(titles[0])}</h2>"
    for name, view in zip(titles[1:], views, strict=False):
        yield f'<p><b>{escape(name)}</b></p><div class="sketch">{view}</div>'


def _phone_order(block: dict[str, Any]) -> int:
    """Decision, acceptance checks, the gauge table, which a phone is for; then the rest."""
    return {"Decision": 0, ACCEPTANCE: 1, GAUGE: 2}.get(block["key"], 3)


def _phone_dangers(dangers: Sequence[str], title: str) -> str:
    lines = "".join(f"<li>{escape(danger)}</li>" for danger in dangers)
    return f'<section class="danger"><strong>{escape(title)}</strong><ul>{lines}</ul></section>'


def _phone_block(block: dict[str, Any]) -> str:
    if block["remedies"]:
        return f"<h2>{escape(block['title'])}</h2>{_phone_remedies(block['remedies'])}"
    words = "".join(f"<p>{escape(text)}</p>" for text in block["words"])
    notes = "".join(f'<p class="note">{escape(text)}</p>' for text in block["notes"])
    table = _phone_table(block["heads"], block["rows"], block["numbers"], block["heavy"])
    if block["key"] == GAUGE:
        table = table.replace('<div class="wide">', '<div class="wide gauge">', 1)
    return f"<h2>{escape(block['title'])}</h2>{words}{table}{notes}"


def _phone_remedies(told: dict[str, Any]) -> str:
    """Numbers and cost classes; what comes of each in small type."""

    def line(each: dict[str, Any]) -> str:
        said = (("note", "comes_of_it"), ("caution", "caution"), ("left", "left"))
        below = "".join(
            f'<div class="{look}">{escape(each[key])}</div>' for look, key in said if each[key]
        )
        return f'<li value="{each["number"]}">{escape(each["what"])}{below}</li>'

    groups = "".join(
        f"<h3>{escape(group['cost_class'])}</h3><ol>{''.join(map(line, group['lines']))}</ol>"
        for group in told["groups"]
    )
    why_none = f"<p><b>{escape(told['why_none'])}</b></p>" if told["why_none"] else ""
    aim, foot = (f'<p class="note">{escape(told[key])}</p>' for key in ("aim", "foot"))
    command = f"<code>{escape(told['command'])}</code>"
    return f'<section class="remedies">{aim}{why_none}{groups}{foot}{command}</section>'


def _phone_table(
    heads: Sequence[str],
    rows: Sequence[Sequence[str]],
    numbers: Sequence[int] = (),
    heavy: Sequence[int] = (),
) -> str:
    if not rows:
        return ""

    def cells(row: Sequence[str], tag: str) -> str:
        return "".join(
            f'<{tag}{" class=n" if i in numbers else ""} data-h="{escape(heads[i])}">'
            f"{escape(cell)}</{tag}>"
            for i, cell in enumerate(row)
        )

    lines = "".join(
        f"<tr{' class=heavy' if i in heavy else ''}>{cells(row, 'td')}</tr>"
        for i, row in enumerate(rows)
    )
    return f'<div class="wide"><table><tr>{cells(heads, "th")}</tr>{lines}</table></div>'


def _phone_findings(rows: Sequence[Sequence[str]], labels: dict[str, Any]) -> str:
    if not rows:
        return ""
    table = _phone_table(labels["finding_heads"], rows, (3, 4))
    return f"<h2>{escape(labels['findings'])}</h2>{table}"


def _phone_steps(items: Sequence[dict[str, Any]], none: str, title: str) -> str:
    if not items:
        return f"<h2>{escape(title)}</h2><p><b>{escape(none)}</b></p>"
    lines = "".join(
        f'<li><label><input type="checkbox"><span>{_hold(item)}'
        f"{escape(item['text'])}</span></label></li>"
        for item in items
    )
    return f"<h2>{escape(title)}</h2><ol>{lines}</ol>"


def _hold(step: dict[str, Any]) -> str:
    return f"<b>{escape(step['hold_word'])}</b> " if step["hold"] else ""
