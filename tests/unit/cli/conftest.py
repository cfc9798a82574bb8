"""What tests of commands share: ``route3d convert``, called by itself."""

from __future__ import annotations

from collections.abc import Callable

import pytest
import typer

from route3d.cli.convert import convert
from route3d.cli.problems import report_problems
from route3d.errors import Route3dError

Call = Callable[..., tuple[int, str, str]]


@pytest.fixture
def call(capsys: pytest.CaptureFixture[str]) -> Call:
    """The command by itself, ended as the program ends it."""
    app = typer.Typer(context_settings={"help_option_names": ["-h", "--help"]})
    app.command()(convert)

    def run(*arguments: object) -> tuple[int, str, str]:
        code = 0
        try:
            app(args=[str(a) for a in arguments], prog_name="route3d convert")
        except SystemExit as done:
            code = done.code if isinstance(done.code, int) else 2
        except Route3dError as error:
            report_problems(error)
            code = 2
        captured = capsys.readouterr()
        return code, captured.out, captured.err

    return run
