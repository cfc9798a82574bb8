"""The page places labels as viewer/labels.py does: the same cases, the same boxes."""

from __future__ import annotations

import re
from importlib.resources import files
from typing import Any

import numpy as np
import pytest
from viewer.labels import place_labels

pytestmark = pytest.mark.browser

_RUN = """([text, items, frame, obstacles, route]) => {
    const url = URL.createObjectURL(new Blob([text], { type: "text/javascript" }));
    return import(url).then((m) => m.placeLabels(items, frame, obstacles, route)); }"""


def placed_by_page(browser: Any, case: dict[str, Any]) -> list[dict[str, Any] | None]:
    text = (files("viewer.web") / "app" / "labels.js").read_text("utf-8")
    page = browser.new_page()
    items = [
        {"x": x, "y": y, "w": w, "h": h, "must": m, "near": n, "reach": r}
        for (x, y), (w, h), m, n, r in zip(
            *(case[key] for key in ("anchors", "sizes", "must", "near", "reach")), strict=True
        )
    ]
    sent = [text, items, case["frame"], case["obstacles"], case["route"]]
    found: list[dict[str, Any] | None] = page.evaluate(_RUN, sent)
    page.close()
    return found


def drawn_case(seed: int) -> dict[str, Any]:
    """A frame as crowded as a phone's or as roomy as a desk's, with a route across it."""
    rng = np.random.default_rng(seed)
    width, height = rng.choice([[390, 330], [800, 600], [560, 300]])
    count = int(rng.integers(3, 26))
    along = np.linspace(0, 1, 60)
    bend = rng.uniform(0.2, 0.8)
    route = np.column_stack((along * width, height * (0.5 + 0.4 * np.sin(6 * along * bend))))
    anchors = route[rng.integers(0, 60, count)] + rng.normal(0, 3, (count, 2))
    return {
        "frame": [6.0, 6.0, float(width) - 6, float(height) - 6],
        "anchors": anchors.tolist(),
        "sizes": np.column_stack(
            (rng.uniform(40, 190, count), rng.uniform(18, 70, count))
        ).tolist(),
        "obstacles": [
            [8.0, height - 80.0, 200.0, height - 8.0],
            [width - 130.0, 8.0, width - 8.0, 52.0],
        ],
        "route": route.tolist(),
        "must": (rng.random(count) < 0.3).tolist(),
        "near": rng.choice([0.0, 8.0], count).tolist(),
        "reach": rng.choice([80.0, 1e9], count, p=[0.2, 0.8]).tolist(),
    }


@pytest.mark.parametrize("seed", range(12))
def test_the_page_places_labels_where_the_pictures_do(browser: Any, seed: int) -> None:
    case = drawn_case(seed)
    told = place_labels(
        np.array(case["anchors"]),
        np.array(case["sizes"]),
        tuple(case["frame"]),
        obstacles=np.array(case["obstacles"]),
        avoid=np.array(case["route"]),
        keep_off=np.array(case["near"]),
        must=np.array(case["must"]),
        reach=np.array(case["reach"]),
    )
    found = placed_by_page(browser, case)
    assert tuple(i for i, spot in enumerate(found) if spot is None) == told.dropped
    for one in told.placed:
        spot = found[one.index]
        assert spot is not None
        assert spot["box"] == pytest.approx(one.box, abs=1e-6)
        assert spot["elbow"] == pytest.approx(one.elbow, abs=1e-6)


def test_a_label_keeps_its_offset_while_it_may(browser: Any) -> None:
    """What the stills have no use for: a picture that moves does not shuffle its labels."""
    case = drawn_case(3)
    first = placed_by_page(browser, case)
    text = (files("viewer.web") / "app" / "labels.js").read_text("utf-8")
    moved = [[x + 3.0, y] for x, y in case["anchors"]]
    items = [
        {"x": x, "y": y, "w": w, "h": h, "last": spot and spot["offset"]}
        for (x, y), (w, h), spot in zip(moved, case["sizes"], first, strict=True)
    ]
    page = browser.new_page()
    again = page.evaluate(_RUN, [text, items, case["frame"], case["obstacles"], case["route"]])
    page.close()
    kept = [a for a, b in zip(again, first, strict=True) if a and b and a["offset"] == b["offset"]]
    assert len(kept) >= 0.6 * sum(spot is not None for spot in first)


def test_the_placer_knows_no_document() -> None:
    """It is numbers only, so that any JavaScript engine can be held to the same cases."""
    text = (files("viewer.web") / "app" / "labels.js").read_text("utf-8")
    assert not re.search(r"\b(document|window|import)\b", re.sub(r"//.*", "", text))
