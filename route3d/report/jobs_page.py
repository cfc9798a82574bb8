"""The summary of many jobs as one page: verdict first, a table to sort, search and filter, offline.

What people typed is data in a script of type application/json and is only ever shown as text: no
name can become part of the page. Its script and style are allowed by their hashes alone.
"""

from __future__ import annotations

import base64
import hashlib
import json
from collections.abc import Iterable, Iterator
from html import escape
from importlib.resources import files
from typing import IO, Any

from route3d.directions import all_isolated
from route3d.model.examples import BANNER
from route3d.planning.result import CAUTIONS
from route3d.quantities import QUANTITIES
from route3d.report.columns import Column
from route3d.report.summary import Counts, columns_of_files, counted
from route3d.study.many_jobs.answer import JobLine

_AT_ONCE = 1 << 16  # bytes, about


def write_jobs_page(
    file: IO[bytes],
    lines: Iterable[JobLine],
    counts: Counts,
    title: str,
    system: str,
    *,
    examples: bool,
) -> None:
    """Write the page of these lines, worst first; the same lines give the same bytes.

    The lines are written as they come: any number of them takes the memory of a few.
    """
    columns = _most_wanted_first(columns_of_files(examples))
    head, foot = _around(counts, title, system, columns, examples=examples)
    file.write(head.encode())
    waiting: list[str] = []
    size = 0
    for text in _rows(lines, columns, system):
        waiting.append(text)
        size += len(text)
        if size > _AT_ONCE:
            file.write("".join(waiting).encode())
            waiting, size = [], 0
    file.write("".join((*waiting, foot)).encode())


def _most_wanted_first(columns: Iterable[Column[JobLine]]) -> list[Column[JobLine]]:
    """The verdict and why; then what was pulled, and at the end of which job it is."""
    first = ("verdict", "run", "of limit", "governing", "friction margin", "file")
    last = "job"

    def place(column: Column[JobLine]) -> int:
        title = " ".join(column.title.split())
        return first.index(title) if title in first else len(first) + (title == last)

    return sorted(columns, key=place)


def _rows(
    lines: Iterable[JobLine], columns: Iterable[Column[JobLine]], system: str
) -> Iterator[str]:
    """Each line as an array of JSON: its group, then its cells as they are shown."""
    shown = [(column, _decimals(column, system)) for column in columns]
    between = ""
    for line in lines:
        cells: list[Any] = [line.rank[0]]
        for column, decimals in shown:
            value = column.number(line, system)
            if line.run is None and isinstance(value, str):
                value = _without_name(value, line.file)
            number = value is not None and not isinstance(value, str)
            cells.append(round(value, decimals) + 0.0 if number else value)  # type: ignore[arg-type]
        yield between + _json(cells)
        between = ",\n"


def _without_name(text: str, file: str) -> str:
    """What is wrong with a file, without its name, which has a column.

    >>> _without_name("error: jobs/a.toml:8: not TOML", "jobs/a.toml")
    'error: line 8: not TOML'
    """
    before, name, after = text.partition(f"{file}:")
    if before != "error: " or not name:
        return text
    return f"{before}{'line ' if after[:1].isdigit() else ''}{after.lstrip()}"


def _decimals(column: Column[JobLine], system: str) -> int:
    return QUANTITIES[column.quantity].decimals[system] if column.quantity else 0


def _json(data: Any) -> str:
    """JSON that is safe inside a script element."""
    text = json.dumps(
        all_isolated(data), ensure_ascii=False, allow_nan=False, separators=(",", ":")
    )
    for sign in "<>&\u2028\u2029":
        text = text.replace(sign, f"\\u{ord(sign):04x}")
    return text


def _around(
    counts: Counts,
    title: str,
    system: str,
    columns: Iterable[Column[JobLine]],
    *,
    examples: bool,
) -> tuple[str, str]:
    """The page before its rows, and after them."""
    folder = files("route3d.report")
    script = (folder / "jobs_page.js").read_text("utf-8")
    style = (folder / "jobs_page.css").read_text("utf-8")
    policy = (
        f"default-src 'none'; script-src {_source(script)}; style-src {_source(style)}; "
        "base-uri 'none'; form-action 'none'"
    )
    heads = [
        {
            "title": " ".join(c.head(system).split()),
            "number": c.quantity is not None,
            "decimals": _decimals(c, system),
        }
        for c in columns
    ]
    banner = f'<p class="banner">{BANNER}: see the column of that name.</p>' if examples else ""
    cautions = "".join(f"<p>{escape(text)}</p>" for text in CAUTIONS)
    page = (
        '<!doctype html>\n<html lang="en"><head><meta charset="utf-8">\n'
        f'<meta http-equiv="Content-Security-Policy" content="{policy}">\n'
        '<meta name="viewport" content="width=device-width, initial-scale=1">\n'
        f"<title>{escape(title)}</title>\n<style>{style}</style></head>\n<body>\n"
        f"{banner}<h1>{escape(title)}</h1>\n"
        f'<p class="verdict{" stop" if counts.stopped or counts.failed else ""}">'
        f"{escape(verdict_of(counts))}</p>\n<p>{escape(counted(counts, system))}</p>\n"
        '<noscript><p class="banner">The table needs JavaScript. It loads nothing from the '
        "network.</p></noscript>\n"
        '<form id="asked" role="search"><label>Search <input id="search" type="search" '
        'autocomplete="off" placeholder="file, run, cables, limit, verdict"></label>'
        '<span id="groups" role="group" aria-label="Verdict"></span>'
        '<button type="button" id="worst">Worst first</button></form>\n'
        '<p id="shown" role="status"></p>\n'
        '<table><thead><tr id="heads"></tr></thead>'
        '<tbody id="rows"></tbody></table>\n'
        '<nav id="pages" aria-label="Pages of the table"></nav>\n'
        f"<footer>{cautions}</footer>\n"
        '<script type="application/json" id="data">'
        f'{{"columns":{_json(heads)},"rows":[\n'
    )
    return page, f"\n]}}</script>\n<script>{script}</script>\n</body></html>\n"


def verdict_of(counts: Counts) -> str:
    """What the page says first."""
    runs = "1 run" if counts.runs == 1 else f"{counts.runs:,} runs"
    if counts.stopped:
        said = f"Do not pull: {counts.stopped:,} of {runs}."
    else:
        said = f"Pull: {runs}, all within their limits." if counts.runs else "No run was answered."
    if counts.failed:
        said += f" {counts.failed:,} file{' has' if counts.failed == 1 else 's have'} errors."
    return said


def _source(text: str) -> str:
    """The hash of a script or a style as a content security policy names it."""
    digest = hashlib.sha256(text.encode()).digest()
    return f"'sha256-{base64.b64encode(digest).decode('ascii')}'"
