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
    at, first = numbers_in(words)
    assert at == round(change.pulled / FOOT) and first % 50 == 0
    assert first - 50 < plan.pace.moves.load_at(change.pulled) / LBF <= first
    assert words == (
        "Three hundred two in. Stop. Low gear. First move up to thirty-eight hundred. Last safe "
        "place for a planned stop. From here on, stop only for danger."
    )


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
