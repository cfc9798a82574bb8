"""The QR code of the gauge table: read back, and every figure compared with the plan."""

from __future__ import annotations

import re
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
import zxingcpp

from route3d.modelfile.read import load
from route3d.planning.evaluate import evaluate
from route3d.planning.pull_plan.plan import Plan, make_plan
from route3d.report.gauge_page import (
    CODE_SIZE,
    LEAST_MODULE,
    NEVER_REPLACES,
    GaugeCode,
    gauge_code,
)

MODELS = Path(__file__).parents[3] / "models"
UNITS = {"US": (4.4482216152605, 0.3048), "SI": (1000.0, 1.0)}


def planned(name: str, step: float = 15.0) -> Plan:
    job = load(MODELS / f"{name}.toml")
    (result,) = evaluate(job, with_remedies=False).runs
    return make_plan(result, job, step=step)


def scanned(code: GaugeCode, pixels: int = 5) -> tuple[str, int]:
    """What a scanner reads off the drawing itself, and its modules with the quiet zone."""
    size = int(re.search(r'viewBox="0 0 (\d+) \1"', code.svg)[1])  # type: ignore[index]
    (path,) = re.findall(r'<path[^>]* d="([^"]+)"', code.svg)
    image = np.full((size, size), 255, dtype=np.uint8)
    x = y = 0.0
    for letter, numbers in re.findall(r"([Mmh])([-\d. ]+)", path):
        values = [float(v) for v in re.findall(r"-?[\d.]+", numbers)]
        if letter == "M":
            x, y = values
        elif letter == "m":
            x, y = x + values[0], y + values[1]
        else:
            image[int(y), int(x) : int(x + values[0])] = 0
            x += values[0]
    (found,) = zxingcpp.read_barcodes(np.kron(image, np.ones((pixels, pixels), dtype=np.uint8)))
    assert found.format == zxingcpp.BarcodeFormat.QRCode and found.ec_level == "M"
    return found.text, size


@pytest.mark.parametrize(
    ("name", "system"), [("riser_duct_bank", "US"), ("roof_drop", "SI"), ("roof_drop", "US")]
)
def test_it_reads_back_with_every_figure_of_the_plan(name: str, system: str) -> None:
    plan = planned(name)
    code = gauge_code(plan, system)
    text, modules = scanned(code)
    assert text == code.text and CODE_SIZE / modules >= LEAST_MODULE
    force, length = UNITS[system]
    step = plan.pace.allowances.gauge_step
    lines = text.splitlines()
    assert lines[0] == f"Run {plan.result.run.name}: feed {plan.pull.feed_name}, pull " + (
        plan.pull.pull_name
    )
    window = plan.brake
    low, high = (float(x) for x in re.findall(r"([\d.]+) (?:lbf|kN)", lines[1]))
    assert window.at_least <= low * force * (1 + 1e-9) and high * force <= window.at_most * 1.0001
    assert lines[-1] == NEVER_REPLACES
    found = [re.fullmatch(r"(\d+): ([\d.]+) / ([\d.]+) / ([\d.]+)", line) for line in lines]
    rows = [[float(x) for x in match.groups()] for match in found if match]
    assert len(rows) == len(plan.gauge) and "omitted" not in text
    digit = 1.0 if system == "US" else 0.01
    for row, (pulled, expected, caution, stop) in zip(plan.gauge, rows, strict=True):
        assert abs(pulled - row.pulled / length) <= 0.5
        # the load that holds give out at is found by halving
        assert (
            stop * force <= row.stop * (1 + 1e-9) and row.stop - stop * force < step + digit * force
        )
        assert expected <= caution <= stop
        for shown, true in ((expected, row.expected), (caution, row.caution)):
            assert abs(shown * force - true) <= step / 2 + digit * force or shown == stop


def test_rows_that_do_not_fit_are_left_out_and_said() -> None:
    plan = planned("riser_duct_bank", step=1.0)
    code = gauge_code(plan, "US")
    text, modules = scanned(code)
    rows = re.findall(r"(?m)^\d+: ", text)
    assert CODE_SIZE / modules >= LEAST_MODULE and 10 < len(rows) < len(plan.gauge)
    assert f"{len(plan.gauge) - len(rows)} rows omitted." in text
    assert f"{len(rows)} of {len(plan.gauge)} rows" in code.words


def test_a_name_too_long_for_any_code_is_said() -> None:
    plan = planned("riser_duct_bank")
    vertices = [replace(v, name=v.name * 90) for v in plan.pull.run.route.vertices]
    run = replace(plan.pull.run, route=replace(plan.pull.run.route, vertices=tuple(vertices)))
    code = gauge_code(replace(plan, pull=replace(plan.pull, run=run)), "US")
    assert code.svg == "" and "No QR code" in code.words
