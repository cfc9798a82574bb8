"""Lines for the radio: the words say the plan's figures, at the marks of the dial."""

from __future__ import annotations

from decimal import Decimal
from pathlib import Path

import pytest

from route3d.model import Job
from route3d.modelfile.read import load, loads
from route3d.planning.evaluate import evaluate
from route3d.planning.pull_plan.dial import dial_rows
from route3d.planning.pull_plan.plan import Plan, make_plan
from route3d.report.read_aloud import lines_aloud
from route3d.report.spoken import english
from tests.support.failing_jobs import random_job
from tests.support.number_words import number_of, numbers_in

MODELS = Path(__file__).parents[3] / "models"
LBF, FOOT = 4.4482216152605, 0.3048  # exact by definition


def planned(job: Job, feed: str | None = None) -> Plan:
    (result,) = evaluate(job, with_remedies=False).runs
    vertex = next((c.pull.feed for c in result.candidates if c.pull.feed_name == feed), None)
    return make_plan(result, job, step=15.0, feed=vertex)


def test_words_say_their_number() -> None:
    for number in (*range(0, 20_000, 7), 123_456, 2_000_050):
        assert number_of(english(Decimal(number))) == number
    for text in ("0.8", "19.20", "15.05", "1234.56"):
        assert number_of(english(Decimal(text))) == pytest.approx(float(text))


@pytest.mark.parametrize(
    ("number", "words"),
    [
        ("900", "nine hundred"),
        ("4300", "forty-three hundred"),
        ("4000", "four thousand"),
        ("1650", "sixteen hundred fifty"),
        ("270", "two hundred seventy"),
        ("0.80", "zero point eight"),
    ],
)
def test_numbers_as_a_crew_says_them(number: str, words: str) -> None:
    assert english(Decimal(number)) == words


def test_a_gear_change_is_read_as_the_crew_needs_it() -> None:
    plan = planned(load(MODELS / "riser_duct_bank.toml"), feed="vault V1")
    (change,) = plan.pace.gears.changes
    (line,) = [x for x in lines_aloud(plan) if x.pulled == pytest.approx(change.pulled)]
    words = line.said("US")
    at, first, stop = numbers_in(words)
    (row,) = [r for r in plan.gauge if r.pulled == pytest.approx(change.pulled)]
    assert at == round(change.pulled / FOOT) and first % 50 == stop % 50 == 0
    # the nearest mark; a first move may not read more than a moving cable at Stop either
    assert abs(first - plan.pace.moves.load_at(change.pulled) / LBF) <= 25
    assert stop <= row.stop / LBF < stop + 50
    assert words == (
        "Three hundred two in. Stop. Low gear. First move, expect thirty-seven hundred fifty. Stop "
        "at forty-four hundred. Last safe place for a planned stop. From here on, stop only for "
        "danger."
    )


def test_only_what_the_room_and_the_dial_allow_is_read_aloud() -> None:
    """Head at the machine before all cable is out; Caution at the mark of Stop is an order."""
    for name in ("roof_drop", "riser_duct_bank", "mezzanine"):
        plan = planned(load(MODELS / f"{name}.toml"))
        lines = [line.said("US") for line in lines_aloud(plan)]
        short = plan.placement.best and plan.placement.best[0].lacks(plan.reach) > 0
        assert ("Stop before the head reaches the machine." in lines[-1]) is bool(short)
        assert bool(short) is not ("more, then stop" in lines[-1])
        assert not any("Call at" in line for line in lines)
    (tight,) = [x for x in lines if x.startswith("Four hundred seventy-eight in")]
    assert tight.endswith("Stop at thirty-seven hundred fifty.")


def test_the_last_safe_place_is_one_to_start_again_from() -> None:
    plan = planned(load(MODELS / "mezzanine.toml"))
    (line,) = [x for x in lines_aloud(plan) if "Last safe place" in x.said("US")]
    here = [one for one in plan.accidents if one.start <= line.pulled <= one.end]
    assert here and here[0].gear is not None and plan.accidents[-1].gear is None
    for start, end in plan.pace.moves.safe.tolist():
        for at in (start, (start + end) / 2, end):
            assert any(x.gear and x.start - 1e-6 <= at <= x.end + 1e-6 for x in plan.accidents)


@pytest.mark.parametrize("system", ["US", "SI"])
@pytest.mark.parametrize("seed", [16, 19, 21, 24])
def test_every_line_says_the_figures_of_the_plan(seed: int, system: str) -> None:
    plan = planned(loads(random_job(seed)))
    step = plan.pace.allowances.gauge_step
    rows = dial_rows(plan.gauge, step)
    force, length = (LBF, FOOT) if system == "US" else (1000.0, 1.0)
    lines = lines_aloud(plan)
    assert [x.pulled for x in lines] == sorted(x.pulled for x in lines)
    starts = [each.row.pulled for each in rows if each.first_move is not None]
    assert {x.pulled for x in lines} >= {*starts, plan.pull.path.length}
    for line in lines:
        told = [one for sentence in line.sentences for one in sentence.values]
        values, kinds = [v for v, _ in told], [kind for _, kind in told]
        expected = [
            round(value / {"force": force, "length": length, "count": 1}[kind], 2)
            for value, kind in zip(values, kinds, strict=True)
        ]
        heard = numbers_in(line.said(system))
        assert len(heard) == len(expected)
        for value, kind, ear in zip(expected, kinds, heard, strict=True):
            off = 0.5 if kind == "length" else 0.006 if system == "SI" else 0.5
            assert abs(ear - value) <= off + 1e-9
        assert all(
            abs(v / step - round(v / step)) < 1e-6
            for v, kind in zip(values, kinds, strict=True)
            if kind == "force"
        )


def test_a_pull_that_must_not_be_made_has_no_lines() -> None:
    assert lines_aloud(planned(load(MODELS / "yard_run.toml"))) == ()
