"""The program ``route3d``: its commands, and what happens when one of them cannot go on."""

from __future__ import annotations

import io
import os
import sys
from collections.abc import Sequence
from typing import Annotated, Any

import typer

from route3d import __version__
from route3d.cli.bank import bank
from route3d.cli.bends import bends
from route3d.cli.check import check
from route3d.cli.clearance import clearance
from route3d.cli.common import BAD_INPUT, FINE, write
from route3d.cli.convert import convert
from route3d.cli.drawing import drawing
from route3d.cli.new import new
from route3d.cli.plan import plan
from route3d.cli.problems import report_problems
from route3d.cli.schema import schema
from route3d.cli.serve import serve
from route3d.cli.stock import stock
from route3d.cli.tension import tension
from route3d.cli.view import view
from route3d.errors import InputError, Problem, Route3dError

_START, _ANSWERS, _FILES, _REFERENCE = "Start", "Answers", "Drawings and files", "Reference"

app = typer.Typer(
    name="route3d",
    no_args_is_help=True,
    rich_markup_mode="rich",
    pretty_exceptions_enable=False,
    context_settings={"help_option_names": ["-h", "--help"]},
)
app.command(rich_help_panel=_START)(new)
app.command(rich_help_panel=_ANSWERS)(check)
app.command(rich_help_panel=_ANSWERS)(tension)
app.command(rich_help_panel=_ANSWERS)(bends)
app.command(rich_help_panel=_ANSWERS)(bank)
app.command(rich_help_panel=_ANSWERS)(clearance)
app.command(rich_help_panel=_ANSWERS)(plan)
app.command(rich_help_panel=_ANSWERS)(view)
app.command(rich_help_panel=_ANSWERS)(serve)
app.command(rich_help_panel=_FILES)(drawing)
app.command(rich_help_panel=_FILES)(convert)
app.command(rich_help_panel=_REFERENCE)(stock)
app.command(rich_help_panel=_REFERENCE)(schema)


def _version(asked: bool) -> None:
    if asked:
        write(f"route3d {__version__}\n")
        raise typer.Exit(FINE)


@app.callback()
def about(
    version: Annotated[
        bool,
        typer.Option("--version", callback=_version, is_eager=True, help="Show the version."),
    ] = False,
) -> None:
    """Cable pulling through conduit: tension along the route, and which end to pull from.

    A model file says which cables go through which conduit along which points. From it come
    the tension and the sidewall pressure (how hard a cable is pressed against the wall of a
    bend) from both ends, what is against the limits, and pictures.

    Example: route3d new feeder.toml

    then edit it, and: route3d check feeder.toml, route3d tension feeder.toml,
    route3d view feeder.toml --png feeder.png

    Exit codes: 0 fine, 1 something stops the job, 2 bad input.
    "route3d COMMAND --help" explains each command by an example.
    """


def main(arguments: Sequence[str] | None = None) -> int:
    """Run one command line and return its exit code; what is wrong goes to standard error."""
    _never_choke_on_symbols()
    try:
        app(args=None if arguments is None else list(arguments), prog_name="route3d")
    except SystemExit as done:
        return _flushed(done.code if isinstance(done.code, int) else BAD_INPUT)
    except Route3dError as error:
        report_problems(error)
        return BAD_INPUT
    except OSError as error:
        return _unwritable(error, BAD_INPUT)
    return _flushed(FINE)


def _never_choke_on_symbols() -> None:
    """Where the output cannot hold a character such as ² it becomes a question mark."""
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, io.TextIOWrapper | _Patient):
            stream.reconfigure(errors="replace")


def _flushed(code: int) -> int:
    """The exit code, or that of bad input where the last of the output cannot be written."""
    try:
        sys.stdout.flush()
    except OSError as error:
        return _unwritable(error, code)
    return code


def _unwritable(error: OSError, code: int) -> int:
    """What went wrong with the output, told; a reader that closed its pipe early is no mistake."""
    sys.stdout = io.StringIO()  # the interpreter would try, and complain, once more
    if isinstance(error, BrokenPipeError):
        return code
    report_problems(
        InputError(Problem((error.strerror or str(error)).lower(), "output", "write elsewhere"))
    )
    return BAD_INPUT


def run() -> None:
    """The entry point of the program."""
    _never_miss_a_stream()
    sys.exit(main())


def _never_miss_a_stream() -> None:
    """Output that nobody takes, closed from the start or later, is no mistake of the command.

    The exit code is then that of the command: a reader that leaves early (``| head``) must not make
    it the code of a pull that breaks a limit.
    """
    for name in ("stdout", "stderr"):
        stream = getattr(sys, name)
        if (
            stream is None
        ):  # closed by whoever started us; a file opened later must not take its place
            setattr(sys, name, open(os.devnull, "w"))  # noqa: PTH123, SIM115 - for all our life
        elif isinstance(stream, io.TextIOWrapper):
            setattr(sys, name, _Patient(stream))


class _Patient:
    """A stream of the process that goes on into nothing once its reader has left."""

    def __init__(self, stream: io.TextIOWrapper) -> None:
        self._stream = stream

    def __getattr__(self, name: str) -> Any:
        return getattr(self._stream, name)

    def write(self, text: str) -> int:
        """Write text, or drop it where nobody reads any more."""
        try:
            return self._stream.write(text)
        except BrokenPipeError:
            self._into_nothing()
            return len(text)

    def flush(self) -> None:
        """Send what is held back, or drop it where nobody reads any more."""
        try:
            self._stream.flush()
        except BrokenPipeError:
            self._into_nothing()

    def _into_nothing(self) -> None:
        """The way of Python's manual: what is still held back must not fail again at the end."""
        nothing = os.open(os.devnull, os.O_WRONLY)
        os.dup2(nothing, self._stream.fileno())
        os.close(nothing)
