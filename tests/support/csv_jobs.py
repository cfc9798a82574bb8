"""Survey tables as CSV: read from text, as the tests give it."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from route3d.errors import InputError
from route3d.files.exchange import Reading

Csv = Callable[..., Reading]
PLAIN = "x (m),y (m),z (m)\n"


def problem(csv: Csv, text: str | bytes, **options: object) -> str:
    with pytest.raises(InputError) as caught:
        csv(text, **options)
    return str(caught.value)
