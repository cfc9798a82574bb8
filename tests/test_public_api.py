"""What ``import route3d`` gives, and that it is cheap."""

from __future__ import annotations

import ast
import subprocess
import sys
import tomllib
from pathlib import Path

import pytest

import route3d

PROJECT = Path(__file__).parents[1] / "pyproject.toml"


def test_the_public_names_are_these() -> None:
    names = [
        *("Cable", "CableSet", "Conduit", "InputError", "Job", "Machine", "Path", "Rope", "Route"),
        *("Run", "__version__", "bends", "check", "clearance", "days", "evaluate", "fillet"),
        *("integrate", "limits", "load", "options", "plan", "sidewall", "spread", "to_frame"),
    ]
    assert sorted(route3d.__all__) == names
    assert all(getattr(route3d, name) is not None for name in names)
    assert set(names) <= set(dir(route3d))


def test_a_type_checker_sees_the_names_that_are_loaded_late() -> None:
    """The imports under TYPE_CHECKING are those of the lazy list, from the same modules."""
    tree = ast.parse(Path(route3d.__file__).read_text(encoding="utf-8"))
    stub = next(node for node in tree.body if isinstance(node, ast.If))
    seen = {
        alias.name: node.module
        for node in stub.body
        if isinstance(node, ast.ImportFrom)
        for alias in node.names
    }
    assert seen == route3d._HOME
    assert set(seen) | {"__version__"} == set(route3d.__all__)


def test_an_unknown_name_is_an_attribute_error() -> None:
    with pytest.raises(AttributeError, match="no attribute 'tension'"):
        _ = route3d.tension


def test_the_version_is_that_of_the_project() -> None:
    assert route3d.__version__ == tomllib.loads(PROJECT.read_text())["project"]["version"]


def test_importing_route3d_imports_nothing_heavy() -> None:
    code = "import sys, route3d; print(sorted({m.split('.')[0] for m in sys.modules}))"
    loaded = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, check=True, text=True
    )
    for heavy in ("numpy", "pint", "pydantic", "typer", "rich"):
        assert f"'{heavy}'" not in loaded.stdout


def test_a_bad_value_of_a_study_is_named_as_the_function_names_it() -> None:
    job = route3d.load(PROJECT.parent / "models/riser_duct_bank.toml")
    calls = [
        (lambda: route3d.spread(job, most=5), "most: 5 is not a power of two"),
        (lambda: route3d.limits(job, inputs="radii"), "inputs: no input is named 'radii'"),
        (lambda: route3d.options(job, by="looks"), "by: 'looks' is nothing to rank by"),
        (lambda: route3d.days(job, "crews.toml", seconds=-1), "seconds: -1 must be between"),
    ]
    for call, said in calls:
        with pytest.raises(route3d.InputError) as told:
            call()
        assert str(told.value).startswith(said)
    assert {v["input"] for v in route3d.limits(job, inputs="rope").rows()} == {"rope"}


def test_the_design_example_reads_as_it_stands() -> None:
    """``load``, ``fillet``, ``integrate`` with SI floats, as docs/python.md shows them."""
    job = route3d.load(PROJECT.parent / "models" / "roof_drop.toml")
    assert isinstance(job, route3d.Job)
    path = route3d.fillet([(0, 0, 0), (100, 0, 0)], [0, 0])
    assert isinstance(path, route3d.Path)
    stations, tensions = route3d.integrate(path, weight=20.0, friction=0.25, weight_factor=1)
    assert stations[-1] == 100
    # T = μ w L on the level; one product of exact inputs, so only rounding is allowed.
    assert tensions[-1] == pytest.approx(0.25 * 20 * 100, rel=1e-12)
