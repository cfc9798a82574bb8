"""Cards for the crew: size and type as printed, the plan's figures, nothing cut off."""

from __future__ import annotations

import re
from collections.abc import Iterator
from functools import cache
from io import BytesIO
from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest
from pypdf import PdfReader

from route3d.cli.main import main
from route3d.model import Job
from route3d.modelfile.read import load, loads
from route3d.planning.evaluate import evaluate
from route3d.planning.pull_plan.plan import Plan, make_plan
from route3d.report.cards import MACHINE_ROWS, SIZES, cards_data, cards_pdf
from route3d.report.plan_steps import steps
from tests.support.failing_jobs import random_job

MODELS = Path(__file__).parents[3] / "models"
LBF, FOOT = 4.4482216152605, 0.3048  # exact by definition
POINT = 72 / 25.4


@cache
def planned(source: str) -> tuple[Job, Plan]:
    job = loads(source) if "\n" in source else load(MODELS / f"{source}.toml")
    (result,) = evaluate(job, with_remedies=False).runs
    return job, make_plan(result, job, step=15.0)


def texts(value: object) -> Iterator[str]:
    """Every text that the data of a card hold."""
    if isinstance(value, str):
        yield value
    elif isinstance(value, dict):
        for key, inner in value.items():
            if key not in ("title", "examples") or isinstance(inner, str):
                yield from texts(inner)
    elif isinstance(value, list | tuple):
        for inner in value:
            yield from texts(inner)


def letters(text: str) -> str:
    return re.sub(r"[\s\u200b\u2068\u2069]+", "", text)


def assert_printed_whole(pdf: bytes, data: dict, size: tuple[float, float]) -> list[str]:
    """Type of 14 pt or more, all of it inside the margins, and every word of the data there."""
    found = []
    for page in PdfReader(BytesIO(pdf)).pages:
        assert (page.mediabox.width, page.mediabox.height) == pytest.approx(
            (size[0] * POINT, size[1] * POINT), abs=0.5
        )
        sizes, places = [], []

        def look(text, cm, tm, _font, points, sizes=sizes, places=places):  # type: ignore[no-untyped-def]
            if text.strip():
                sizes.append(points * abs(tm[3] * cm[3]))
                places.append((tm[4] * cm[0] + cm[4], tm[5] * cm[3] + cm[5]))

        found.append(page.extract_text(visitor_text=look))
        assert sizes and min(sizes) >= 14 - 1e-6
        x, y = zip(*places, strict=True)
        edge = 9 * POINT
        assert edge <= min(x) and max(x) <= size[0] * POINT - edge
        assert 3 * POINT <= min(y) and max(y) <= size[1] * POINT - edge
    whole = letters("".join(found))
    for text in texts({k: v for k, v in data.items() if k not in ("title", "examples")}):
        assert letters(text) in whole, text
    return found


@pytest.mark.parametrize(
    ("source", "paper"),
    [("riser_duct_bank", "letter"), ("roof_drop", "a4"), (random_job(24), "letter")],
)
def test_cards_are_printed_whole_in_large_type(source: str, paper: str) -> None:
    job, plan = planned(source)
    pdf = cards_pdf(job, [plan], job.units, paper=paper)
    data = cards_data(job, plan, job.units)
    found = assert_printed_whole(pdf, data, SIZES[paper])
    assert pdf == cards_pdf(job, [plan], job.units, paper=paper)
    titles = [page.strip().splitlines()[0] for page in found]
    order = ("MACHINE END", "FEED END", "SPOTTERS", "READING OFF PLAN", "READ ALOUD")
    assert tuple(dict.fromkeys(titles)) == order
    assert all("never replaces the limiter, the operator" in " ".join(p.split()) for p in found)


def table(data: dict, title: str, block: str) -> list[list[str]]:
    (card,) = [card for card in data["cards"] if card["title"] == title]
    (found,) = [b for b in card["blocks"] if b["title"].startswith(block)]
    rows: list[list[str]] = found["rows"]
    return rows


def number(text: str) -> float:
    return float(text.replace(",", "").split(" ")[0])


@pytest.mark.parametrize(
    "source", ["riser_duct_bank", *(random_job(seed) for seed in (16, 19, 21, 24))]
)
def test_the_figures_are_those_of_the_plan_at_the_marks_of_the_dial(source: str) -> None:
    job, plan = planned(source)
    data, step = cards_data(job, plan, "US"), plan.pace.allowances.gauge_step
    rows = table(data, "MACHINE END", "Readings")
    assert len(rows) == min(MACHINE_ROWS, len(plan.gauge))
    by_place = {f"{row.pulled / FOOT:,.0f}": row for row in plan.gauge}
    for at, *loads_of_row in rows:
        row = by_place[at]
        expected, caution, stop = (number(text) * LBF for text in loads_of_row)
        # the load that holds give out at is found by halving
        assert expected <= caution <= stop <= row.stop * (1 + 1e-9)
        assert abs(expected - row.expected) <= step / 2 * (1 + 1e-9) or expected == stop
    restarts = table(data, "MACHINE END", "If it stops here")
    assert restarts == table(data, "READING OFF PLAN", "Restart")
    checks, moves = plan.acceptance, plan.pace.moves
    for (at, gear, expect, most), stop in zip(restarts, plan.accidents, strict=True):
        assert at == f"{stop.start / FOOT:,.0f} to {stop.end / FOOT:,.0f}"
        assert (gear == "NO. Call.") is (stop.gear is None) is (most == "-") is (expect == "-")
        if stop.gear is None:
            continue
        # never above the Stop of a moving cable anywhere in the stretch, nor above the limiter
        stops = [r.stop for r in plan.gauge if stop.start <= r.pulled <= stop.end + 3]
        most_load, expected = number(most) * LBF, number(expect.split(" ")[-1]) * LBF
        assert most_load <= min(stops) * (1 + 1e-6)
        assert not checks.one_setting or most_load <= checks.limiter * (1 + 1e-6)
        assert expected <= most_load and stop.first_move <= stop.most * (1 + 1e-9)
        # what is expected holds anywhere in the stretch
        for place in np.linspace(stop.start, stop.end, 7).tolist():
            load = moves.load_at(place)
            assert load <= expected + step / 2 + 1 or expected == most_load
            assert load >= number(expect.split(" ")[0]) * LBF - step / 2 - 1


def test_no_caution_between_the_rows_of_the_card_is_lower_than_both() -> None:
    job, plan = planned("riser_duct_bank")
    rows = [
        [number(x) for x in row] for row in table(cards_data(job, plan, "US"), "MACHINE END", "R")
    ]
    for (a, _, low, _), (b, _, high, _) in pairwise(rows):
        between = [r.caution / LBF for r in plan.gauge if a < r.pulled / FOOT < b]
        assert min(between, default=1e9) >= min(low, high) - 25


def test_what_hangs_and_what_the_room_allows_are_on_cards_and_in_the_steps() -> None:
    job, plan = planned("mezzanine")
    data = list(texts(cards_data(job, plan, "US")))
    assert sum("the machine brake must hold at least 579 lbf" in text for text in data) == 1
    assert any(text.endswith("machine brake, at every stop: at least 579 lbf") for text in data)
    secured = [text for text in data if "secure the cable at the top (409 lbf)" in text]
    assert len(secured) == 2  # MACHINE END and READING OFF PLAN
    assert "no brake, turn the reels by hand" in data and not any("2 lbf" == t for t in data)
    for name, most in (("riser_duct_bank", "4.1 ft"), ("roof_drop", "1.6 ft"), ("mezzanine", "")):
        _, plan = planned(name)
        told = [text for text, _ in steps(plan, "US")]
        (out,) = [i for i, text in enumerate(told) if "past the conduit end" in text]
        (held,) = [i for i, text in enumerate(told) if "at the top" in text]
        assert out < held and told[out].startswith(f"Pull at most {most} " if most else "Pull 9.8")


def test_a_dial_whose_first_mark_is_above_a_stop_is_refused(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    text = (MODELS / "riser_duct_bank.toml").read_text(encoding="utf-8")
    model = tmp_path / "coarse.toml"
    assert "[plan]" in text
    model.write_text(text.replace("[plan]", '[plan]\ngauge_step = "5000 lbf"'), encoding="utf-8")
    for option in ("--cards", "--sheet"):
        file = tmp_path / "x.pdf"
        assert main(["plan", str(model), option, str(file)]) == 2
        told = capsys.readouterr().err
        assert "marks of 5,000 lbf are too far apart" in told and "gauge_step" in told
        assert not file.exists()


def test_the_feed_end_has_the_brake_and_where_the_head_passes() -> None:
    job, plan = planned("riser_duct_bank")
    (card,) = [c for c in cards_data(job, plan, "US")["cards"] if c["title"] == "FEED END"]
    facts = dict(card["facts"])
    assert plan.brake.at_least / LBF <= number(facts["AT LEAST"]) < plan.brake.at_least / LBF + 1
    assert plan.brake.at_most / LBF - 1 < number(facts["AT MOST"]) <= plan.brake.at_most / LBF
    rows = table({"cards": [card]}, "FEED END", "Head passes")
    assert [name for _, name in rows] == [
        "roof switchroom",
        "bend 3",
        "bend 2",
        "bend 1",
        "vault V1",
    ]
    assert rows[-1][0] == f"{plan.pull.path.length / FOOT:.0f}"


def test_a_pull_that_must_not_be_made_has_one_card_that_says_so() -> None:
    job, plan = planned("yard_run")
    data = cards_data(job, plan, "US")
    (page,) = assert_printed_whole(cards_pdf(job, [plan], "US"), data, SIZES["letter"])
    assert "DO NOT PULL" in page and "Call the engineer" in page
    assert not re.search(r"\bSTOP\b(?!\. Do not pull)", page) and "restart in" not in page


def test_names_of_any_length_and_kind_are_not_cut_off() -> None:
    text = (MODELS / "riser_duct_bank.toml").read_text(encoding="utf-8")
    name = "W" * 90 + ' #panic(\\"x\\") *b* $a$ <i>'
    job, plan = planned(text.replace("vault V1", name).replace('"F1"', f'"{"F1-" * 12}"'))
    assert_printed_whole(cards_pdf(job, [plan], "US"), cards_data(job, plan, "US"), SIZES["letter"])


def test_the_command_writes_cards_of_every_stage(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    file = tmp_path / "cards.pdf"
    yard = str(MODELS / "yard_run.toml")
    assert main(["plan", yard, "--way", "3", "--cards", str(file), "--paper", "a4"]) == 0
    pages = [page.extract_text() for page in PdfReader(file).pages]
    for stage in (1, 2):
        here = [p for p in pages if f"way 3, stage {stage} of 2" in p]
        assert sum("MACHINE END" in p for p in here) >= 1 and any("READ ALOUD" in p for p in here)
    assert main(["issued", str(file), yard]) == 0
    assert main(["plan", yard, "--cards", "x.txt"]) == 2
    assert "must end in .pdf" in capsys.readouterr().err
