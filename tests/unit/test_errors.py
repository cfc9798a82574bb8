"""The tree of errors, and what each says."""

from __future__ import annotations

import pytest

from route3d.errors import (
    GeometryError,
    InputError,
    Problem,
    RendererError,
    Route3dError,
    UnitError,
)


@pytest.mark.parametrize("kind", [InputError, GeometryError, UnitError, RendererError])
def test_one_except_catches_all_that_is_raised_on_purpose(kind: type[Exception]) -> None:
    with pytest.raises(Route3dError):
        raise kind("message")


def test_bad_geometry_is_bad_input_and_bad_units_are_not() -> None:
    # A unit error gets its place in the file from whoever reads the file.
    assert issubclass(GeometryError, InputError)
    assert not issubclass(UnitError, InputError)


@pytest.mark.parametrize(
    ("problem", "text"),
    [
        (Problem("is too small"), "is too small"),
        (Problem("is too small", fix="raise it"), "is too small; raise it"),
        (Problem("is bad", "cable.a.diameter"), "cable.a.diameter: is bad"),
        (Problem("is bad", "run.0", "x", "job.toml", 12, 3), "job.toml:12: run.0: is bad; x"),
        (Problem("is bad", file="job.toml"), "job.toml: is bad"),
    ],
)
def test_a_problem_as_a_line_of_text(problem: Problem, text: str) -> None:
    assert str(problem) == text


def test_an_input_error_carries_every_problem() -> None:
    two = [Problem("first"), Problem("second", "run.1")]
    error = InputError(two)
    assert error.problems == tuple(two)
    assert str(error) == "first\nrun.1: second"
    assert InputError("first").problems == (Problem("first"),)
    assert InputError(Problem("first")).problems == (Problem("first"),)


def test_a_geometry_error_names_vertices_and_the_radius_that_fits() -> None:
    error = GeometryError("overlap", vertices=(1, 2), largest_radius=0.75, fix="smaller")
    assert (error.vertices, error.largest_radius) == ((1, 2), 0.75)
    assert error.problems == (Problem("overlap", fix="smaller"),)


def test_problems_are_frozen() -> None:
    with pytest.raises(AttributeError):
        Problem("a").message = "b"  # type: ignore[misc]
