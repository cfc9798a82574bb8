"""Survey tables as CSV: read from text, as the tests give it."""

from __future__ import annotations

import pytest

from route3d.errors import InputError
from tests.support.readings import Read

Csv = Read
PLAIN = "x (m),y (m),z (m)\n"


def problem(csv: Csv, text: str | bytes, **options: object) -> str:
    with pytest.raises(InputError) as caught:
        csv(text, **options)
    return str(caught.value)
