"""The page that is handed over: ``write_html`` puts a job into one file that needs no network.

What people typed is data in a script of type application/json and is only ever shown as text: no
name can become part of the page. Its scripts and styles are allowed by their hashes alone.
"""

from __future__ import annotations

import json
import math
from dataclasses import replace
from pathlib import Path
from typing import Any, Literal

from route3d.directions import all_isolated
from route3d.disk import write_bytes_atomic
from route3d.language import AS_IT_IS, ENGLISH, Translation
from route3d.model.job import Job
from route3d.planning.result import JobResult, RunResult
from route3d.report.draft import refuse_unconfirmed
from route3d.report.translated import left_in_english, translation_for
from route3d.units import SYSTEMS
from viewer.web import bundle
from viewer.web.documents import sensitivity_data
from viewer.web.page_data import page_data

PageTheme = Literal["auto", "light", "dark"]
_THEMES = ("auto", "light", "dark")


def write_html(
    result: JobResult | RunResult,
    job: Job,
    path: str | Path,
    *,
    units: str = "US",
    theme: PageTheme = "auto",
    draft: bool = False,
    language: str = ENGLISH,
    sensitivity: bool = False,
) -> str:
    """Write the hand-over page of all runs of a result; the same input gives the same bytes.

    ``theme`` "auto" follows the device; ``language`` is that of the crew's tab, and returned is a
    note on what stays English in it, empty where nothing does. With ``sensitivity`` spread and
    limits of each run are worked out and stand on the page. Of example values only a ``draft``
    is made, which has DRAFT across it. Raises InputError where there are such values without it and
    where the file cannot be written, ValueError for an unknown system of units, theme or language.
    """
    told = translation_for(job, [], language)
    text = page_text(
        result, job, units=units, theme=theme, draft=draft, told=told, sensitivity=sensitivity
    )
    write_bytes_atomic(path, text.encode("utf-8"))
    return left_in_english(told)


def page_text(
    result: JobResult | RunResult,
    job: Job,
    *,
    units: str = "US",
    theme: PageTheme = "auto",
    draft: bool = False,
    told: Translation = AS_IT_IS,
    sensitivity: bool = False,
) -> str:
    """The page as text."""
    refuse_unconfirmed(job, draft, "page")
    if units not in SYSTEMS:
        raise ValueError(f"units {units!r} is not one of {SYSTEMS}")
    if theme not in _THEMES:
        raise ValueError(f"theme {theme!r} is not one of {_THEMES}")
    runs = result.runs if isinstance(result, JobResult) else (result,)
    data = page_data(runs, job, units, theme, draft=draft, told=told)
    if sensitivity:
        chosen = replace(job, runs=tuple(run.run for run in runs))
        for run, found in zip(data["runs"], sensitivity_data(chosen), strict=True):
            run["sensitivity"] = found
    scripts, styles = bundle.scripts(), bundle.styles()
    policy = (
        f"default-src 'none'; script-src {' '.join(s.source for s in scripts)}; "
        f"style-src {' '.join(s.source for s in styles)}; img-src data:; "
        "base-uri 'none'; form-action 'none'"
    )
    licenses = bundle.read("vendor/LICENSES.txt").replace("--", "- -")
    return bundle.page(
        "\n".join(
            (
                f'<meta http-equiv="Content-Security-Policy" content="{policy}">',
                *(f"<style>{style.text}</style>" for style in styles),
                f"<!--\n{licenses}\n-->",
            )
        ),
        f'<script type="application/json" id="data">{json_for_page(data)}</script>',
        "\n".join(f"<script>{script.text}</script>" for script in scripts),
    )


def json_for_page(data: Any) -> str:
    """JSON that is safe inside a script element: no ``<``, ``>`` or ``&`` is left in it.

    A number that is not finite becomes null.
    """
    text = as_json(data)
    for sign in "<>&\u2028\u2029":
        text = text.replace(sign, f"\\u{ord(sign):04x}")
    return text


def as_json(data: Any) -> str:
    """Data as JSON; right-to-left names stay apart from figures, what is not finite is null."""
    return json.dumps(
        all_isolated(_plain(data)), ensure_ascii=False, allow_nan=False, separators=(",", ":")
    )


def _plain(value: Any) -> Any:
    if isinstance(value, dict):
        return {key: _plain(entry) for key, entry in value.items()}
    if isinstance(value, list | tuple):
        return [_plain(entry) for entry in value]
    if isinstance(value, float) and not math.isfinite(value):
        return None
    return value
