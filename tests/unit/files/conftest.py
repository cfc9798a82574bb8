"""What the tests of files share."""

from __future__ import annotations

from pathlib import Path

import pytest

from route3d.files.exchange import Reading, ReadOptions
from route3d.files.table_routes import read_csv
from tests.support.csv_jobs import Csv


@pytest.fixture
def csv(tmp_path: Path) -> Csv:
    def read(text: str | bytes, **options: object) -> Reading:
        file = tmp_path / "berth.csv"
        file.write_bytes(text if isinstance(text, bytes) else text.encode())
        return read_csv(file, ReadOptions(**options))  # type: ignore[arg-type]

    return read
