"""The table [spread] of a model file: what it becomes, and every way to get it wrong."""

from __future__ import annotations

from pathlib import Path

import pytest

from route3d.errors import InputError
from route3d.field.history import learned_friction
from route3d.model.spread import InputCorrelation, SpreadAmount, SpreadInputs, UncertainInput
from route3d.modelfile.read import loads
from route3d.modelfile.toml_positions import read_toml
from route3d.modelfile.workbook.writing import workbook_of
from route3d.study.spread.inputs import run_inputs
from tests.unit.modelfile.test_friction_history import _library, _model

BANK = Path("models/riser_duct_bank.toml").read_text(encoding="utf-8")
FIRST = BANK.count("\n") + 1

DUCT = 'input = "friction"\nof = "duct"\n'
RISER = 'input = "friction"\nof = "riser"\nlow = 0.2\nhigh = 0.5\n'


def with_spread(*inputs: str, more: str = "", top: str = "") -> str:
    entries = "".join(f"[[spread.input]]\n{text}" for text in inputs)
    return f"{BANK}\n[spread]\n{top}{entries}{more}"


def test_numbers_are_in_units_of_the_file_or_shares_of_the_plan() -> None:
    job = loads(
        with_spread(
            DUCT + 'shape = "normal"\nlow = 0.2\nmiddle = 0.25\nhigh = 0.4\n',
            'input = "cable weight"\ndeviation = "2 %"\n',
            'input = "bend radius"\nof = "point 2"\nshape = "uniform"\nlow = 44\nhigh = "50 in"\n',
            'input = "bend angle"\nshape = "normal"\nlow = -2\nhigh = "2 deg"\n',
            'input = "ovality"\nshape = "uniform"\nlow = "1%"\nhigh = 0.05\n',
            'input = "reel drag"\nlow = "100 N"\nhigh = "400 N"\n',
            more='[[spread.correlation]]\ninputs = ["friction of duct", "reel drag"]\n'
            "value = 0.3\n",
            top="friction_correlation = 0.5\n",
        )
    )
    assert job.spread is not None
    duct, weight, radius, angle, oval, drag = job.spread.inputs
    assert duct == UncertainInput(
        "friction", "duct", "normal", SpreadAmount(0.2), SpreadAmount(0.4), SpreadAmount(0.25)
    )
    assert weight.deviation == SpreadAmount(0.02, relative=True) and weight.shape == "lognormal"
    assert radius.low is not None and radius.low.value == pytest.approx(44 * 0.0254)
    assert radius.high is not None and radius.high.value == pytest.approx(50 * 0.0254)
    assert angle.low is not None and angle.low.value == pytest.approx(-0.0349066, abs=1e-6)
    assert oval.low == SpreadAmount(0.01) and oval.high == SpreadAmount(0.05)
    assert drag.high == SpreadAmount(400.0)
    assert job.spread.correlations == (InputCorrelation("friction of duct", "reel drag", 0.3),)
    found = run_inputs(job.runs[0], job.spread)
    assert found.labels == (
        "friction of duct", "cable weight of phase", "bend radius of point 2", "bend angle",
        "ovality of duct", "ovality of riser", "reel drag",
    )  # fmt: skip
    assert found.correlation[0, 6] == 0.3 and found.geometry


def test_without_the_table_friction_has_its_own_range_with_the_plan_as_median() -> None:
    text = BANK.replace(
        "friction   = 0.35 ", "friction = { value = 0.35, low = 0.3, high = 0.6 } #"
    )
    job = loads(text)
    assert job.spread is None
    duct, riser = run_inputs(job.runs[0], None).varying
    assert [duct.marginal.percentile(p) for p in (5, 50, 95)] == pytest.approx([0.125, 0.25, 0.3])
    assert "low assumed, 0.5 times" in duct.source and "no source" in duct.source
    assert [riser.marginal.percentile(p) for p in (5, 50, 95)] == pytest.approx([0.3, 0.35, 0.6])
    assert riser.source == "range of the model: given"


@pytest.mark.parametrize("entry", ["", '[spread]\n[[spread.input]]\ninput = "friction"\n'
                                       'of = "duct"\nshape = "history"\n'])  # fmt: skip
def test_history_is_the_whole_distribution_that_was_learned(tmp_path: Path, entry: str) -> None:
    library = _library(tmp_path, 0.14, 0.18, 0.16, 0.2, 0.15, 0.17, 0.15)
    path = _model(tmp_path, '{ history = "pulls.sqlite" }')
    job = loads(path.read_text() + entry, "job", tmp_path)
    told = learned_friction(
        library, jacket="PE", conduit="PVC-40", lubricated=True, published=(0.2, 0.06, 0.35)
    )
    duct = run_inputs(job.runs[0], job.spread).varying[0]
    assert duct.marginal.shape == "history"
    found = [duct.marginal.percentile(p) for p in (5, 50, 95)]
    assert found == pytest.approx([told.low, told.value, told.high], rel=1e-3)


def test_a_workbook_holds_it_too(tmp_path: Path) -> None:
    text = with_spread(
        DUCT + 'low = "80%"\nhigh = "130%"\n', RISER,
        more='[[spread.correlation]]\ninputs = ["friction of duct", "friction of riser"]\n'
        "value = 0.4\n",
        top="friction_correlation = 0.2\n",
    )  # fmt: skip
    path = tmp_path / "job.xlsx"
    path.write_bytes(workbook_of(read_toml(text).data))
    import route3d

    assert route3d.load(path).spread == loads(text).spread


BAD = {
    "negative spread": (DUCT + 'deviation = "-5%"\n', "deviation", 4, "not above 0", "positive"),
    "no spread": (DUCT + "deviation = 0\n", "deviation", 4, "not above 0", "remove the entry"),
    "low above high": (DUCT + "low = 0.4\nhigh = 0.2\n", "low", 4, "low = 0.4", "5th percentile"),
    "high alone": (DUCT + "high = 0.2\n", "high", 4, "low is missing", "enter low and high"),
    "no numbers": (DUCT, "", 1, "low and high are missing", "deviation"),
    "both ways": (DUCT + "low = 0.2\nhigh = 0.3\ndeviation = 0.1\n", "low", 4, "both", "remove"),
    "middle outside": (DUCT + "low = 0.2\nmiddle = 0.5\nhigh = 0.3\n", "middle", 5,
                       "not between", "between low and high"),
    "peak of a normal": (DUCT + "low = 0.2\npeak = 0.25\nhigh = 0.3\n", "peak", 5,
                         "does not go with lognormal", "triangular"),
    "unknown conduit": ('input = "friction"\nof = "duckt"\nlow = 0.2\nhigh = 0.3\n', "of", 3,
                        "no conduit 'duckt'", "did you mean 'duct'?"),
    "unknown bend": ('input = "bend angle"\nof = "sweep"\nlow = -1\nhigh = 1\n', "of", 3,
                     "no bend 'sweep'", "point 2"),
    "unknown input": ('input = "frictoin"\n', "input", 2, "'frictoin' is not one of", "friction"),
    "unknown shape": (DUCT + 'shape = "gaussian"\n', "shape", 4, "not one of: normal", ""),
    "history missing": (DUCT + 'shape = "history"\n', "shape", 4, "duct has no friction history",
                        'history = "pulls.sqlite"'),
    "history of weight": ('input = "cable weight"\nshape = "history"\n', "shape", 3,
                          "tell nothing of cable weight", "another shape"),
    "wrong unit": (DUCT + 'low = "2 in"\nhigh = 0.4\n', "low", 4, "2 in", "percentage"),
    "below zero": (DUCT + "low = -0.1\nhigh = 0.3\n", "low", 4, "-0.1 is below the minimum of 0",
                   "decimal point"),
    "out of round": ('input = "ovality"\nlow = "1%"\nhigh = "150%"\n', "high", 4,
                     "150% exceeds the maximum of 50%", "decimal point"),
    "as typed": (DUCT + 'deviation = "-2%"\n', "deviation", 4, "the spread -2% is", "positive"),
    "mixed": (DUCT + 'low = "80%"\nhigh = 0.4\n', "low", 4, "is a percentage", "one way"),
    "beyond sense": (DUCT + "low = 0.2\nhigh = 35\n", "high", 5, "exceeds the maximum of 2",
                     "decimal point"),
    "mostly below zero": (DUCT + 'shape = "normal"\ndeviation = 0.3\n', "deviation", 5,
                          "below 0", "lognormal"),
    "lognormal of zero": (DUCT + "low = 0\nhigh = 0.3\n", "low", 4, "not above 0", "normal"),
    "true": (DUCT + "low = true\nhigh = 0.3\n", "low", 4, "True is not a number", "80%"),
}  # fmt: skip


@pytest.mark.parametrize("case", BAD)
def test_what_is_no_spread_is_an_error_with_its_line_key_and_fix(case: str) -> None:
    text, field, line, said, fix = BAD[case]
    with pytest.raises(InputError) as caught:
        loads(with_spread(text), "feeder.toml")
    (problem,) = caught.value.problems
    assert problem.file == "feeder.toml"
    assert problem.where == f"spread.input[0].{field}".rstrip(".")
    assert said in problem.message and fix in problem.fix
    assert problem.line == FIRST + 1 + line


@pytest.mark.parametrize(
    ("first", "second", "said"),
    [
        ('input = "friction"\n', DUCT, "friction of duct is given twice: also in spread.input[0]"),
        (DUCT, 'input = "friction"\n', "friction of every conduit is given twice"),
        (DUCT, DUCT, "friction of duct is given twice"),
        ('input = "bend radius"\n', 'input = "bend radius"\nof = "point 2"\n',
         "bend radius of point 2 is given twice"),
    ],
)  # fmt: skip
def test_an_input_that_is_given_twice_is_an_error_that_names_both(
    first: str, second: str, said: str
) -> None:
    some = 'low = "90%"\nhigh = "120%"\n'
    with pytest.raises(InputError) as caught:
        loads(with_spread(first + some, second + some))
    (problem,) = caught.value.problems
    assert problem.where == "spread.input[1]" and said in problem.message
    assert f"on line {FIRST + 2}" in problem.message and "remove one" in problem.fix
    assert problem.line is not None and problem.line > FIRST + 3
    twice = tuple(
        UncertainInput("friction", of, low=SpreadAmount(0.2), high=SpreadAmount(0.3))
        for of in ("", "duct")
    )
    with pytest.raises(InputError, match="friction of duct is given twice"):
        run_inputs(loads(BANK).runs[0], SpreadInputs(twice))


@pytest.mark.parametrize("shape", ["normal", "lognormal", "uniform", "triangular"])
def test_a_file_loads_without_scipy(shape: str, monkeypatch: pytest.MonkeyPatch) -> None:
    import sys

    for name in ("scipy", "scipy.special"):
        monkeypatch.setitem(sys.modules, name, None)
    entry = f'shape = "{shape}"\nlow = "80%"\nhigh = "130%"\n'
    assert loads(with_spread(DUCT + entry)).spread is not None


PAIRS = {
    "not definite": (
        [("friction of duct", "friction of riser", 0.9), ("friction of duct", "reel drag", 0.9),
         ("friction of riser", "reel drag", -0.9)],
        "not positive definite", "friction of riser with reel drag -0.9", "closer to 0",
    ),
    "one and the same": ([("friction of duct", "friction of riser", 1.0)],
                         "not positive definite", "friction of duct with friction of riser 1", ""),
    "unknown": ([("friction of duct", "friction of risor", 0.5)], "'friction of risor'",
                "not an uncertain input", "did you mean 'friction of riser'?"),
    "itself": ([("friction of duct", "friction of duct", 0.5)], "same input", "", "two inputs"),
    "beyond one": ([("friction of duct", "friction of riser", 1.5)], "1.5", "maximum of 1", "-1"),
    "twice": ([("friction of duct", "friction of riser", 0.5),
               ("friction of riser", "friction of duct", 0.4)], "twice", "", "remove one"),
}  # fmt: skip


@pytest.mark.parametrize("case", PAIRS)
def test_correlations_that_cannot_be_are_errors_that_name_them(case: str) -> None:
    pairs, said, also, fix = PAIRS[case]
    more = "".join(
        f'[[spread.correlation]]\ninputs = ["{a}", "{b}"]\nvalue = {value}\n'
        for a, b, value in pairs
    )
    text = with_spread(
        DUCT + "low = 0.2\nhigh = 0.3\n",
        RISER,
        'input = "reel drag"\nlow = "50%"\nhigh = "200%"\n',
        more=more,
    )
    with pytest.raises(InputError) as caught:
        loads(text)
    (problem,) = caught.value.problems
    assert problem.where.startswith("spread.correlation") and problem.line > FIRST
    assert said in problem.message and also in problem.message and fix in problem.fix


def test_friction_of_all_conduits_cannot_go_against_each_other() -> None:
    text = with_spread(
        'input = "friction"\nlow = "80%"\nhigh = "120%"\n', top="friction_correlation = -1\n"
    )
    with pytest.raises(InputError, match="friction of duct with friction of riser -1"):
        loads(text)


def test_built_in_python_the_same_mistakes_are_input_errors() -> None:
    run = loads(BANK).runs[0]
    wrong = UncertainInput("friction", "duct", low=SpreadAmount(0.4), high=SpreadAmount(0.3))
    with pytest.raises(InputError, match=r"low = 0\.4 is not below high = 0\.3"):
        run_inputs(run, SpreadInputs((wrong,)))
    elsewhere = UncertainInput("friction", "other", low=SpreadAmount(0.2), high=SpreadAmount(0.3))
    with pytest.raises(InputError, match=r"no entry of \[spread\] is of this run"):
        run_inputs(run, SpreadInputs((elsewhere,)))
