"""What the tests of files share."""

from __future__ import annotations

from pathlib import Path

import pytest

from route3d.formats.tables.routes import read_csv
from tests.support.csv_jobs import Csv
from tests.support.readings import reading_of


@pytest.fixture
def csv(tmp_path: Path) -> Csv:
    return reading_of(tmp_path / "berth.csv", read_csv)
