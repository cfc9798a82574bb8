"""Every file of the corpus is read as an independent reading has it."""

from __future__ import annotations

from importlib import import_module
from pathlib import Path
from pkgutil import iter_modules

import pytest

import tests.corpus
from route3d.formats.catalog import read_routes
from tests.corpus.case import Case

MODULES = sorted(m.name for m in iter_modules(tests.corpus.__path__) if m.name.endswith("_files"))
CASES: list[Case] = [
    case for name in MODULES for case in import_module(f"tests.corpus.{name}").CASES
]


@pytest.mark.parametrize("case", CASES, ids=lambda case: f"{case.suffix[1:]} {case.name}")
def test_file(case: Case, tmp_path: Path) -> None:
    file = tmp_path / f"routes{case.suffix}"
    case.write(file)
    case.check(read_routes(file, case.options))
