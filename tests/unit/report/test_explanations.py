"""Every rule and result is explained, and its formulas are the same on paper, page and terminal."""

from __future__ import annotations

import json
import math
import re
import xml.etree.ElementTree as ET
from pathlib import Path

import pytest

from route3d.cli.main import main
from route3d.errors import InputError
from route3d.modelfile.read import load
from route3d.planning.evaluate import evaluate
from route3d.planning.result import RunResult
from route3d.report.explanations import EXPLANATIONS, SYMBOLS, explanation_of, formulas_of
from route3d.report.formula import Formula
from route3d.report.worked import explanation
from tests.support.finding_quantities import _STARTS, QUANTITIES

MODELS = Path(__file__).parents[3] / "models"


@pytest.fixture(scope="module")
def runs() -> list[RunResult]:
    names = ("riser_duct_bank", "roof_drop", "yard_run")
    jobs = [load(MODELS / f"{name}.toml") for name in names]
    return [run for job in jobs for run in evaluate(job, with_remedies=False).runs]


def test_every_rule_of_a_finding_is_explained() -> None:
    rules = [*QUANTITIES, *(f"{start}anything" for start in _STARTS), "riding cable earth"]
    for rule in rules:
        entry = explanation_of(rule)
        assert entry.text and entry.source, rule
    assert len(rules) > 90
    assert len({name for e in EXPLANATIONS for name in e.names}) == sum(
        len(set(e.names)) for e in EXPLANATIONS
    ), "one name, two explanations"


def test_every_symbol_of_a_formula_is_named() -> None:
    """Words in quotes and functions aside, what a formula holds stands in the list beside it."""
    bound = {"g", "h", "y", "e", "A_i", "w_i", "x_1", "x_2", "i", "d", "max", "min", "frac", "sqrt"}
    functions = {"sin", "cos", "tan", "sinh", "cosh", "Σ"}
    for entry in EXPLANATIONS:
        assert set(entry.symbols) <= set(SYMBOLS), entry.key
        text = re.sub(r'_?"[^"]*"', " ", " ".join(entry.formulas))
        used = set(re.findall(r"[^\W\d_]+(?:_\w+)?", text)) - bound - functions
        named = {*entry.symbols, *(s.partition("_")[0] for s in entry.symbols)}
        assert used <= named, (entry.key, used - named)


def test_a_formula_is_well_formed_in_every_form(runs: list[RunResult]) -> None:
    formulas = [f for e in EXPLANATIONS for f in formulas_of(e)]
    for run in runs:
        for entry in EXPLANATIONS:
            found = explanation(entry.key, run, "US")
            formulas += [Formula(f["typst"]) for w in found["worked"] for f in w["formulas"]]
    assert len(formulas) > 150
    pytest.importorskip("typst").compile("\n".join(f"$ {f.typst} $" for f in formulas).encode())
    for formula in formulas:
        root = ET.fromstring(formula.mathml)
        assert root.tag.endswith("math")
        for node in root.iter():
            arguments = {"mfrac": 2, "msub": 2, "msup": 2, "msubsup": 3, "mroot": 2}
            wanted = arguments.get(node.tag.partition("}")[2])
            assert wanted is None or len(node) == wanted, formula.typst
        assert formula.plain and "frac" not in formula.plain and '"' not in formula.plain


@pytest.mark.parametrize(
    ("typst", "plain"),
    [
        ("T_2 = max(0, T_1 + w L (sin φ + K cos φ))", "T2 = max(0, T1 + w L (sin φ + K cos φ))"),
        ("ω = frac(1, sqrt(1 - x^2))", "ω = 1/sqrt(1 - x²)"),
        ('C = frac(D - d, 2) (1 - 2 x^2) "in"', "C = (D - d)/2 (1 - 2 x²) in"),
        ("T_1 e^(K θ)", "T1 e^(K θ)"),
        ('T_"max" ≥ frac(n S A, s)', "T_max ≥ (n S A)/s"),
    ],
)
def test_plain_text_of_a_formula(typst: str, plain: str) -> None:
    assert Formula(typst).plain == plain


@pytest.mark.parametrize("typst", ["frac(1, 2", "sqrt 2", "(a", "x^", "a)"])
def test_a_formula_that_does_not_close_is_a_mistake(typst: str) -> None:
    with pytest.raises(ValueError, match="formula"):
        _ = Formula(typst).plain


def test_worked_figures_are_right(runs: list[RunResult]) -> None:
    """Where the right side can be worked out with a calculator it gives the figure printed."""
    checked = 0
    for run in runs:
        for key in ("fill", "jam ratio", "weight factor", "sidewall pressure", "conductor tension"):
            for found in explanation(key, run, "US")["worked"]:
                for formula in found["formulas"]:
                    left, said = re.split(r" = (?=[\d.]+ ?[%a-z/]*$)", formula["plain"])
                    worked = left.rpartition(" = ")[2].replace("×", "*").replace("²", "**2")
                    worked = re.sub(r"(?<=[\d)]) (?=[\d(])", " * ", worked)
                    value = eval(worked, {"sqrt": math.sqrt})
                    number = float(re.match(r"[\d.]+", said)[0])  # type: ignore[index]
                    percent = 100 if "%" in said else 1
                    assert value * percent == pytest.approx(number, rel=1e-3), formula["plain"]
                    checked += 1
    assert checked >= 20


def test_the_command(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["explain", "Jam", "ratio", str(MODELS / "yard_run.toml")]) == 0
    told = capsys.readouterr().out
    assert "J = 1.05 D/d or D/d" in told and "J = 1.05 × 5.016/1.387 = 3.797" in told
    assert "Run Y1" in told and "Theory, section 13" in told
    assert main(["explain", "fill", "--json"]) == 0
    (data,) = json.loads(capsys.readouterr().out)["explanations"]
    assert data["formulas"][0]["mathml"].startswith("<math") and data["worked"] == []
    assert main(["explain"]) == 0
    assert all(entry.key in told for told in [capsys.readouterr().out] for entry in EXPLANATIONS)


def test_a_miss_names_the_nearest(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["explain", "sidewal", "presure"]) == 2
    assert "did you mean 'sidewall pressure'" in capsys.readouterr().err
    with pytest.raises(InputError, match="zzz"):
        explanation_of("zzz")
