"""The list of sampled tests names tests that are there."""

from __future__ import annotations

import re
from pathlib import Path

from tests.conftest import SAMPLED

ROOT = Path(__file__).parent.parent


def test_every_name_in_the_list_is_a_test() -> None:
    missing = [
        f"{file}::{name}"
        for file, names in SAMPLED.items()
        for name in names
        if not re.search(rf"(?m)^def {name}\(", (ROOT / file).read_text(encoding="utf-8"))
    ]
    assert not missing
