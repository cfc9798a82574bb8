"""The calculation report as one HTML file: it needs nothing else, reads aloud, and prints."""

from __future__ import annotations

import base64
import json
from collections.abc import Iterator, Sequence
from html import escape

from route3d.directions import isolated
from route3d.report.block import Block
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
from route3d.report.draft import DRAFT_MARK, DRAFT_STYLE
from route3d.report.issue import Issue

_STYLE = """
:root { color-scheme: light; font: 15px/1.45 system-ui, "DejaVu Sans", sans-serif; }
body { margin: 0 auto; max-width: 68rem; padding: 1rem; color: #111; background: #fff; }
h1 { font-size: 1.7rem; margin: 0.2rem 0; }
h2 { font-size: 1.3rem; margin: 2rem 0 0.4rem; border-bottom: 2px solid; }
h3 { font-size: 1.05rem; margin: 1.4rem 0 0.3rem; }
h4 { font-size: 0.95rem; margin: 0.9rem 0 0.2rem; }
dl.block { display: grid; grid-template-columns: repeat(5, 1fr); border: 1px solid;
  margin: 0.6rem 0; }
dl.block div { border: 1px solid #aaa; padding: 0.3rem 0.5rem; }
dl.block dt { font-size: 0.75rem; color: #444; } dl.block dd { margin: 0; font-weight: bold; }
.verdict { font-size: 1.25rem; font-weight: bold; border: 2px solid; padding: 0.5rem 0.7rem; }
.verdict.stop { border-width: 5px; }
/* a shadow at a side says that there is more beyond it */
.wide { overflow-x: auto; background: linear-gradient(to right, #fff 30%, transparent) left /
    40px 100% no-repeat local, linear-gradient(to left, #fff 30%, transparent) right /
    40px 100% no-repeat local, linear-gradient(to left, #8888, transparent) right /
    16px 100% no-repeat scroll; }
table { border-collapse: collapse; width: 100%; font-size: 0.85rem; }
th, td { border-bottom: 1px solid #999; padding: 0.2rem 0.4rem; text-align: left;
  vertical-align: top; font-weight: normal; }
thead th { border-bottom: 2px solid; font-weight: bold; }
.n { text-align: right; font-variant-numeric: tabular-nums; white-space: nowrap; }
.dense { font-size: 0.75rem; }
.heavy { font-weight: bold; background: #e4e4e4; } .heavy th { font-weight: bold; }
caption { position: absolute; clip-path: inset(50%); width: 1px; height: 1px; overflow: hidden; }
.figures { display: flex; flex-wrap: wrap; gap: 1rem; } figure { margin: 0; flex: 1 1 20rem; }
img { width: 100%; height: auto; } figcaption, .small, footer { font-size: 0.8rem; color: #333; }
.formulas { display: grid; gap: 0.4rem 2rem; grid-template-columns: minmax(0, 1fr); }
.formulas.two { grid-template-columns: repeat(auto-fit, minmax(min(22rem, 100%), 1fr)); }
.f { margin: 0.35rem 0 0.35rem 0.6rem; overflow: auto hidden; font-size: 1.05rem; }
.sign { display: grid; grid-template-columns: repeat(4, 1fr); gap: 1rem; margin-top: 2rem; }
.sign div { border-bottom: 1px solid; padding-bottom: 2rem; }
.banner { font-weight: bold; }
@media (max-width: 40rem) { dl.block, .sign { grid-template-columns: repeat(2, 1fr); } }
@media print { :root { font-size: 10px; } body { max-width: none; padding: 0; }
  h2, h3, h4 { break-after: avoid; } tr, figure, .item, .sign { break-inside: avoid; }
  .new-page { break-before: page; } thead { display: table-header-group; }
  .wide { overflow: visible; background: none; }
  @page { margin: 13mm; } }
"""


def calculation_html(document: Document, issue: Issue) -> str:
    """The report as HTML; its record stands in it as JSON."""
    title = escape(f"{document.title}, {document.name}")
    block = "".join(
        f"<div><dt>{escape(label)}</dt><dd>{escape(text)}</dd></div>"
        for label, text in document.block
    )
    banner = f'<p class="banner">{escape(document.banner)}</p>' if document.banner else ""
    body = "\n".join(line for part in document.parts for line in _part(part))
    # No "</script>" may stand inside: "<" goes as an escape of JSON.
    record = json.dumps(issue.data, ensure_ascii=False).replace("<", "\\u003c")
    return isolated(
        f'<!doctype html>\n<html lang="en"><head><meta charset="utf-8"><title>{title}</title>\n'
        '<meta name="viewport" content="width=device-width, initial-scale=1">\n'
        f"<style>{_STYLE}{DRAFT_STYLE if issue.draft else ''}</style></head>\n"
        f"<body>{DRAFT_MARK if issue.draft else ''}\n"
        f"<main>{banner}<h1>{escape(document.name)}</h1>\n"
        f'<dl class="block">{block}</dl>\n{body}\n</main>\n'
        f"<footer>{escape(document.foot)}</footer>\n"
        f'<script type="application/json" id="route3d-record">{record}</script>\n</body></html>\n'
    )


def _part(part: Part) -> Iterator[str]:
    match part:
        case Heading():
            tag = "h2" if part.level == 1 else "h3"
            look = ' class="new-page"' if part.new_page else ""
            yield f"<{tag}{look}>{escape(part.text)}</{tag}>"
        case Words():
            yield from _words(part)
        case Verdict():
            look = "verdict stop" if part.stop else "verdict"
            yield f'<p class="{look}">{escape(part.text)}</p>'
        case Table():
            yield _table(part)
        case Formulas():
            yield _formulas(part)
        case Figures():
            pictures = "".join(_figure(svg, caption, share) for svg, caption, share in part.items)
            yield f'<div class="figures">{pictures}</div>'
        case Signatures():
            lines = "".join(
                f"<div>{escape(what)}{': ' + escape(name) if name else ''}</div>"
                for what, name in part.lines
            )
            yield f'<div class="sign">{lines}</div>'
        case DrawingPage():
            yield _figure(part.svg, part.caption, 1.0)


def _words(part: Words) -> Iterator[str]:
    if part.bullets:
        yield f"<ul>{''.join(f'<li>{escape(text)}</li>' for text in part.texts)}</ul>"
        return
    look = ' class="small"' if part.small else ""
    for text in part.texts:
        yield f"<p{look}>{escape(text)}</p>"


def _table(part: Table) -> str:
    block = part.block
    heads = "".join(
        f'<th scope="col"{_look(i, block)}>{escape(head) or "&nbsp;"}</th>'
        for i, head in enumerate(block.heads)
    )
    rows = "".join(_row(i, row, block) for i, row in enumerate(block.rows))
    notes = "".join(f'<p class="small">{escape(note)}</p>' for note in block.notes)
    caption = f"<caption>{escape(part.caption)}</caption>" if part.caption else ""
    dense = " dense" if part.dense else ""
    return (
        f'<div class="wide{dense}" tabindex="0"><table>{caption}<thead><tr>{heads}</tr>'
        f"</thead><tbody>{rows}</tbody></table></div>{notes}"
    )


def _row(number: int, row: Sequence[str], block: Block) -> str:
    cells = "".join(f"<td{_look(i, block)}>{escape(cell)}</td>" for i, cell in enumerate(row) if i)
    first = f'<th scope="row"{_look(0, block)}>{escape(row[0])}</th>'
    return f"<tr{' class=heavy' if number in block.heavy else ''}>{first}{cells}</tr>"


def _look(column: int, block: Block) -> str:
    return " class=n" if column in block.numbers else ""


def _formulas(part: Formulas) -> str:
    items = "".join(
        f'<div class="item"><h4>{escape(title)}</h4>'
        + "".join(f'<div class="f">{f.mathml}</div>' for f in formulas)
        + (f'<p class="small">{escape(words)}</p>' if words else "")
        + "</div>"
        for title, formulas, words in part.items
    )
    return f'<div class="formulas{" two" if part.columns > 1 else ""}">{items}</div>'


def _figure(svg: str, caption: str, share: float) -> str:
    """A picture by itself, so that nothing in it meets the page around it."""
    code = base64.b64encode(svg.encode()).decode()
    return (
        f'<figure style="flex-grow: {share:g}"><img alt="{escape(caption)}" '
        f'src="data:image/svg+xml;base64,{code}"><figcaption>{escape(caption)}</figcaption></figure>'
    )
