"""What lies beside model files in a folder and is none: crews, options, details, other workbooks.

A file that cannot be read is never taken for one of these: it may be a damaged model file.
"""

from __future__ import annotations

import re
import tomllib
from pathlib import Path

from route3d.disk import read_bytes
from route3d.errors import InputError
from route3d.modelfile.read import LARGEST_FILE, OTHER_WORKBOOKS

# A run at the top of a file: then it is a model file and need not be read to tell.
_RUN = re.compile(rb"^[ \t]*(?:\[\[?[ \t]*run[ \t]*[\].]|run[ \t]*=)", re.MULTILINE)
_NO_WORKBOOK = "not a job workbook"


def is_model_kind(path: Path) -> bool:
    """Whether a file is a model file or one of those told apart here, by its name alone."""
    marked = path.name.startswith("~$")  # by a spreadsheet program, while the workbook is open
    return path.suffix.lower() in (".toml", ".xlsx", *OTHER_WORKBOOKS) and not marked


def why_no_model(path: Path) -> str:
    """Why a TOML file or a workbook is no model file; "" where it is one, sound or damaged.

    Examples: ``not a job workbook``, ``a crews file``.
    """
    kind = path.suffix.lower()
    if kind in OTHER_WORKBOOKS:
        return f"a workbook of the kind {kind} is not read: save it as .xlsx"
    try:
        return _of_workbook(path) if kind == ".xlsx" else _of_toml(path)
    except InputError:  # whoever reads it as a model file is told what is wrong
        return ""


def _of_workbook(path: Path) -> str:
    from route3d.modelfile.workbook.reading import is_job_workbook

    return "" if is_job_workbook(path) else _NO_WORKBOOK


def _of_toml(path: Path) -> str:
    """The kind of file that has all the keys of this one, where no model file has them all."""
    content = read_bytes(path, limit=LARGEST_FILE)
    if _RUN.search(content):
        return ""
    try:
        keys = tomllib.loads(content.decode("utf-8-sig")).keys()
    except (ValueError, RecursionError):
        return ""
    from route3d.modelfile.crews_file import CrewsEntry
    from route3d.modelfile.option_file import OptionsEntry
    from route3d.modelfile.pull_details import PullDetailsEntry
    from route3d.modelfile.schema import ModelEntry

    if keys <= ModelEntry.model_fields.keys():
        return ""
    for entry, said in (
        (CrewsEntry, "a crews file"),
        (OptionsEntry, "an options file"),
        (PullDetailsEntry, "the details of a pull"),
    ):
        if keys <= entry.model_fields.keys():
            return said
    return ""
