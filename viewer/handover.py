"""The hand-over file: ``write_html`` puts a job into one page that needs no network.

The page is a template of our own with its style, our scripts, one prebuilt bundle of three.js and
the job as data. What people typed is data in a script of type application/json and is only ever
shown as text: no name can become part of the page.
"""

from __future__ import annotations

import json
import math
import re
from importlib.resources import files
from pathlib import Path
from typing import Any, Literal

from route3d.directions import all_isolated
from route3d.disk import write_bytes_atomic
from route3d.model.job import Job
from route3d.planning.result import JobResult, RunResult
from route3d.units import SYSTEMS
from viewer.handover_data import page_data

PageTheme = Literal["auto", "light", "dark"]
_THEMES = ("auto", "light", "dark")
# In this order: each file uses what stands before it.
_SCRIPTS = (
    *("glb.js", "camera.js", "labels.js", "stage.js", "charts.js", "words.js"),
    *("state.js", "overlay.js", "reading.js", "pull.js", "panels.js", "page.js"),
)


def write_html(
    result: JobResult | RunResult,
    job: Job,
    path: str | Path,
    *,
    units: str = "US",
    theme: PageTheme = "auto",
) -> None:
    """Write the hand-over page of all runs of a result; the same input gives the same bytes.

    ``theme`` "auto" follows the device. Raises InputError where the file cannot be written,
    ValueError for an unknown system of units or theme.
    """
    write_bytes_atomic(path, page_text(result, job, units=units, theme=theme).encode("utf-8"))


def page_text(
    result: JobResult | RunResult, job: Job, *, units: str = "US", theme: PageTheme = "auto"
) -> str:
    """The page as text."""
    if units not in SYSTEMS:
        raise ValueError(f"units {units!r} is not one of {SYSTEMS}")
    if theme not in _THEMES:
        raise ValueError(f"theme {theme!r} is not one of {_THEMES}")
    runs = result.runs if isinstance(result, JobResult) else (result,)
    texts = (_asset("film.js", "shared"), *(_asset(name) for name in _SCRIPTS))
    scripts = "\n".join(text.removeprefix('"use strict";\n') for text in texts)
    pieces = {
        "STYLE": _asset("page.css"),
        "LICENCE": _asset("three.LICENSE.txt").replace("--", "- -"),
        "BUNDLE": _script(_asset("three.bundle.js")),
        "SCRIPT": _script(f'(() => {{\n"use strict";\n{scripts}\n}})();'),
        "DATA": json_for_page(page_data(runs, job, units, theme)),
    }
    # one pass, so that nothing inside a piece is taken for a place of another
    return re.sub(r"\{\{([A-Z]+)\}\}", lambda m: pieces[m[1]], _asset("page.html"))


def _asset(name: str, folder: str = "assets") -> str:
    return (files("viewer") / folder / name).read_text(encoding="utf-8")


def _script(text: str) -> str:
    """Script text that cannot end its own element."""
    return re.sub(r"</(script)", r"<\\/\1", text, flags=re.IGNORECASE)


def json_for_page(data: Any) -> str:
    """JSON that is safe inside a script element: no ``<``, ``>`` or ``&`` is left in it.

    A number that is not finite becomes null.
    """
    text = json.dumps(
        all_isolated(_plain(data)), ensure_ascii=False, allow_nan=False, separators=(",", ":")
    )
    for sign in "<>&\u2028\u2029":
        text = text.replace(sign, f"\\u{ord(sign):04x}")
    return text


def _plain(value: Any) -> Any:
    if isinstance(value, dict):
        return {key: _plain(entry) for key, entry in value.items()}
    if isinstance(value, list | tuple):
        return [_plain(entry) for entry in value]
    if isinstance(value, float) and not math.isfinite(value):
        return None
    return value
