"""One table of cases holds the label placers in Python and in the browser to the same places.

``tests/shared/label_cases.json`` has for each case what is asked and the box of each label, null
for one left out.
"""

from __future__ import annotations

import json
import math
import shutil
import subprocess
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from route3d.drawing.labels import place_labels

ROOT = Path(__file__).parents[2]
TABLE = json.loads((ROOT / "tests" / "shared" / "label_cases.json").read_text(encoding="utf-8"))
IN_THE_BROWSER = ROOT / "viewer" / "web" / "app" / "labels.js"
NAMES = [case["name"] for case in TABLE["cases"]]
# Of a pixel: both reckon in double precision, and write the table with three decimals.
CLOSE = 1e-3
_CALL = "(cases) => cases.map((c) => placeLabels(c.items, c.frame, c.obstacles, c.route))"
_NODE = """
const fs = require("fs"), vm = require("vm");
const cases = JSON.parse(fs.readFileSync(0, "utf8"));
const source = fs.readFileSync(process.argv[1], "utf8").replace(/^export (default )?/gm, "");
const place = vm.runInThisContext(source + "\\n;" + process.argv[2]);
console.log(JSON.stringify(place(cases)));
"""


def boxes(found: list[Any]) -> list[Any]:
    return [None if label is None else label["box"] for label in found]


@pytest.fixture(scope="module")
def browser() -> dict[str, list[Any]]:
    """The boxes that the script of the page finds, by node or by Chromium."""
    cases = TABLE["cases"]
    if node := shutil.which("node"):
        command = [node, "-e", _NODE, str(IN_THE_BROWSER), _CALL]
        done = subprocess.run(
            command, input=json.dumps(cases), capture_output=True, text=True, check=True
        )
        found = json.loads(done.stdout)
    else:
        from playwright.sync_api import sync_playwright

        with sync_playwright() as play:
            launched = play.chromium.launch(
                executable_path=shutil.which("chromium"), args=["--no-sandbox"]
            )
            page = launched.new_page()
            source = IN_THE_BROWSER.read_text(encoding="utf-8").replace("export ", "")
            page.add_script_tag(content=source)
            found = page.evaluate(_CALL, cases)
            launched.close()
    return dict(zip(NAMES, map(boxes, found), strict=True))


def same(found: list[Any], expected: list[Any]) -> None:
    assert [box is None for box in found] == [box is None for box in expected]
    for one, other in zip(found, expected, strict=True):
        assert one is None or one == pytest.approx(other, abs=CLOSE)


@pytest.mark.parametrize("case", TABLE["cases"], ids=NAMES)
def test_python_places_labels_as_the_table_says(case: dict[str, Any]) -> None:
    items = case["items"]
    found = place_labels(
        np.array([[i["x"], i["y"]] for i in items], dtype=float).reshape(-1, 2),
        np.array([[i["w"], i["h"]] for i in items], dtype=float).reshape(-1, 2),
        tuple(case["frame"]),
        obstacles=np.array(case["obstacles"], dtype=float).reshape(-1, 4),
        avoid=np.array(case["route"], dtype=float).reshape(-1, 2),
        keep_off=np.array([i.get("near", 0.0) for i in items]),
        must=np.array([i.get("must", False) for i in items]),
        reach=np.array([i.get("reach", math.inf) for i in items]),
    )
    placed = {p.index: list(p.box) for p in found.placed}
    same([placed.get(i) for i in range(len(items))], case["boxes"])


@pytest.mark.parametrize("case", TABLE["cases"], ids=NAMES)
def test_the_browser_places_labels_as_the_table_says(
    case: dict[str, Any], browser: dict[str, list[Any]]
) -> None:
    same(browser[case["name"]], case["boxes"])


def test_the_table_tells_apart_what_it_should() -> None:
    """Cases with labels left out, with obstacles and with a route, and leaders of many lengths."""
    cases = TABLE["cases"]
    assert any(None in case["boxes"] for case in cases)
    assert any(case["obstacles"] and case["route"] for case in cases)
    items = [item for case in cases for item in case["items"]]
    assert all(any(item.get(key) for item in items) for key in ("near", "must", "reach"))
    away = {
        round(max(box[0] - i["x"], i["x"] - box[2], box[1] - i["y"], i["y"] - box[3]))
        for case in cases
        for i, box in zip(case["items"], case["boxes"], strict=True)
        if box
    }
    assert len(away) > 20
