"""What the page's label placer does beyond the shared cases (tests/viewer/test_label_cases.py)."""

from __future__ import annotations

import json
import re
from importlib.resources import files
from pathlib import Path
from typing import Any

import pytest

pytestmark = pytest.mark.browser

CASES = json.loads((Path(__file__).parents[3] / "shared" / "label_cases.json").read_text("utf-8"))
_RUN = """([text, items, frame, obstacles, route]) => {
    const url = URL.createObjectURL(new Blob([text], { type: "text/javascript" }));
    return import(url).then((m) => m.placeLabels(items, frame, obstacles, route)); }"""


def test_a_label_keeps_its_offset_while_it_may(browser: Any) -> None:
    """What the stills have no use for: a picture that moves does not shuffle its labels."""
    case = next(c for c in CASES["cases"] if c["name"] == "crowded or roomy, 3")
    text = (files("viewer.web") / "app" / "labels.js").read_text("utf-8")
    page = browser.browser.new_page()

    def placed(items: list[Any]) -> list[Any]:
        sent = [text, items, case["frame"], case["obstacles"], case["route"]]
        found: list[Any] = page.evaluate(_RUN, sent)
        return found

    first = placed(case["items"])
    items = [
        {**item, "x": item["x"] + 3.0, "last": spot and spot["offset"]}
        for item, spot in zip(case["items"], first, strict=True)
    ]
    again = placed(items)
    page.close()
    kept = [a for a, b in zip(again, first, strict=True) if a and b and a["offset"] == b["offset"]]
    assert len(kept) >= 0.6 * sum(spot is not None for spot in first)


def test_the_placer_knows_no_document() -> None:
    """It is numbers only, so that any JavaScript engine can be held to the same cases."""
    text = (files("viewer.web") / "app" / "labels.js").read_text("utf-8")
    assert not re.search(r"\b(document|window|import)\b", re.sub(r"//.*", "", text))
