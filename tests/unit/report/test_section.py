from __future__ import annotations

import xml.etree.ElementTree as ET

import numpy as np
import pytest

from route3d.drawing.section import HEIGHT, RADIUS, WIDTH, section_svg
from route3d.mechanics.fit import fit
from route3d.mechanics.packing import section_positions

SVG = "{http://www.w3.org/2000/svg}"
OUTER = 0.1413


def display(value: float, quantity: str) -> str:
    digits = {"ratio": f"{value:.2f}", "factor": f"{value:.3f}"}
    return (digits | {"diameter": f"{1e3 * value:.1f} mm"})[quantity]


def draw(diameters: list[float], arrangement: str = "auto", **extra: object) -> ET.Element:
    return ET.fromstring(draw_text(diameters, arrangement, **extra))


def draw_text(diameters: list[float], arrangement: str = "auto", **extra: object) -> str:
    found = fit(diameters, 0.1282, arrangement)
    centers = section_positions(found.arrangement, diameters, 0.1282)
    return section_svg(found, centers, OUTER, display=display, **extra)  # type: ignore[arg-type]


def texts(svg: ET.Element) -> list[str]:
    return [t.text or "" for t in svg.iter(f"{SVG}text")]


CASES = [
    ([0.045], "auto"),
    ([0.045] * 2, "auto"),
    ([0.045] * 3, "triangular"),
    ([0.045] * 3, "cradled"),
    ([0.045] * 4, "auto"),
    ([0.036] * 5, "auto"),
    ([0.040, 0.040, 0.040, 0.025, 0.025, 0.016, 0.012], "auto"),
    ([0.017] * 20, "auto"),
    ([0.0594] * 3, "auto"),
]


@pytest.mark.parametrize(("diameters", "arrangement"), CASES)
def test_every_cable_is_drawn_to_scale_and_inside(diameters: list[float], arrangement: str) -> None:
    svg = draw(diameters, arrangement)
    scale = 2 * RADIUS / OUTER
    circles = [
        (float(c.get("cx", "")), float(c.get("cy", "")), float(c.get("r", "")))
        for c in svg.findall(f"{SVG}circle")
        if c.get("stroke")
    ]
    wall, bore, *rest = circles
    assert wall[2] == RADIUS
    assert bore[2] == pytest.approx(0.1282 / 2 * scale, abs=0.005)  # two decimals are written
    cables = [c for c in rest if np.hypot(c[0] - wall[0], c[1] - wall[1]) < RADIUS]
    assert sorted(c[2] for c in cables) == pytest.approx(
        sorted(d / 2 * scale for d in diameters), abs=0.005
    )
    for x, y, r in cables:
        assert np.hypot(x - bore[0], y - bore[1]) + r <= bore[2] + 0.02  # rounding of four numbers


@pytest.mark.parametrize(("diameters", "arrangement"), CASES)
def test_nothing_runs_off_the_sheet(diameters: list[float], arrangement: str) -> None:
    svg = draw(diameters, arrangement, title="Berth 2", labels=["n" * 60] * len(diameters))
    for t in svg.iter(f"{SVG}text"):
        x, y, size = (float(t.get(k, "")) for k in ("x", "y", "font-size"))
        # 0.62 em: mean width of a letter of the widest font asked for (DejaVu Sans), measured.
        width = 0.62 * size * len(t.text or "")
        left = {"start": x, "middle": x - width / 2, "end": x - width}[t.get("text-anchor", "")]
        assert left >= 0 and left + width <= WIDTH and 0 < y < HEIGHT, t.text


def test_the_figures_are_those_of_the_fit() -> None:
    found = fit([0.047] * 3, 0.1282)
    said = texts(draw([0.047] * 3, title="Duct"))
    for value in (found.inner_diameter, found.clearance, found.enclosing_diameter):
        assert value is not None
        assert any(display(value, "diameter") in t for t in said)
    assert f"{100 * found.fill:.1f}%" in said
    assert "   if triangular" in said  # both answers of the band are shown
    assert f"OD {display(OUTER, 'diameter')}" in said
    assert "3 × 47.0 mm" in said


def test_sizes_are_told_apart_by_letter() -> None:
    said = texts(draw([0.04, 0.04, 0.02], labels=["phase", "phase", "earth"]))
    assert said.count("A") == 3 and said.count("B") == 2  # on each cable and once in the key
    assert "A" not in texts(draw([0.04] * 3))


def test_text_is_escaped_and_bytes_repeat() -> None:
    text = draw_text([0.04], title="<Berth & 2>", labels=["a<b"])
    assert "&lt;Berth &amp; 2&gt;" in text
    assert text == draw_text([0.04], title="<Berth & 2>", labels=["a<b"])
    assert "-0.00" not in text


def test_labels_and_centers_must_match() -> None:
    found = fit([0.04] * 2, 0.1282)
    with pytest.raises(ValueError, match="one to one"):
        section_svg(found, np.zeros((1, 2)), OUTER)
    with pytest.raises(ValueError, match="one to one"):
        section_svg(found, np.zeros((2, 2)), OUTER, labels=["only one"])


def test_the_cable_lies_at_the_bottom_of_the_drawing() -> None:
    circles = draw([0.045]).findall(f"{SVG}circle")
    bore, cable = circles[1], circles[2]
    lowest = [float(c.get("cy", "")) + float(c.get("r", "")) for c in (bore, cable)]
    assert lowest[1] == pytest.approx(lowest[0], abs=0.02)  # SVG y runs down; two decimals each
