"""The program ``route3d``: its commands, and what happens when one of them cannot go on."""

from __future__ import annotations

import contextlib
import inspect
import io
import os
import sys
import threading
from collections.abc import Callable, Iterable, Sequence
from importlib import import_module
from typing import Annotated, Any

import typer
from typer.core import TyperCommand, TyperGroup

from route3d import __version__
from route3d.cli.common import BAD_INPUT, FINE, WORK_ASIDE, message, write
from route3d.cli.problems import report_problems
from route3d.errors import InputError, Problem, Route3dError

_START, _ANSWERS, _FILES, _REFERENCE = "Start", "Answers", "Drawings and files", "Reference"
_PULL = "During and after the pull"

# Each command, a function of that name in the module of that name, and its panel in the help.
COMMANDS = {
    "new": _START,
    "jobs": _ANSWERS,
    "check": _ANSWERS,
    "tension": _ANSWERS,
    "bends": _ANSWERS,
    "legs": _ANSWERS,
    "bank": _ANSWERS,
    "clearance": _ANSWERS,
    "plan": _ANSWERS,
    "compare": _ANSWERS,
    "study": _ANSWERS,
    "reels": _ANSWERS,
    "report": _ANSWERS,
    "issued": _ANSWERS,
    "view": _ANSWERS,
    "serve": _ANSWERS,
    "field": _PULL,
    "drawing": _FILES,
    "convert": _FILES,
    "explain": _REFERENCE,
    "stock": _REFERENCE,
    "schema": _REFERENCE,
}

# The commands of a group, each a function of that name in the module of that name in its folder.
GROUPS: dict[str, tuple[str, ...]] = {
    "field": ("form", "log", "watch", "compare", "fit", "record", "library", "history"),
    "study": ("spread", "limits", "options", "days"),
}

# The extra of route3d that installs a package its answers do without.
EXTRAS = {
    **dict.fromkeys(("pyvista", "vtk", "vtkmodules", "matplotlib", "PIL"), "view"),
    "aiohttp": "page",
    **dict.fromkeys(("typst", "segno"), "draw"),
    "scipy": "field",
    "SALib": "study",
    **dict.fromkeys(("dask", "distributed"), "cluster"),
    "ortools": "days",
    **dict.fromkeys(("ezdxf", "openpyxl"), "exchange"),
    "ifcopenshell": "ifc",
    "imageio_ffmpeg": "movie",
}


def _version(asked: bool) -> None:
    if asked:
        write(f"route3d {__version__}\n")
        raise typer.Exit(FINE)


def about(
    version: Annotated[
        bool,
        typer.Option("--version", callback=_version, is_eager=True, help="Show the version."),
    ] = False,
) -> None:
    """Cable pulling through conduit: tension along the route, and which end to feed from.

    A model file describes the cables, the conduit and the route. From it come tension and sidewall
    pressure (how hard a cable is pressed against the wall of a bend) from both ends, checks against
    limits, pull plans, drawings and pictures.

    Example: route3d new feeder.toml

    Then edit it, and run: route3d check feeder.toml, route3d tension feeder.toml,
    route3d view feeder.toml --png feeder.png

    Exit codes: 0 passed, 1 the job must not be pulled as modeled, 2 bad input.
    For each command, see "route3d COMMAND --help".
    """


def app(commands: Iterable[str] = COMMANDS, inner: str | None = None) -> typer.Typer:
    """The program with these commands; each takes a moment to load, and one is enough to run it.

    ``inner`` is the one command of a group that is wanted, all of them by default.
    """
    program = typer.Typer(
        name="route3d",
        no_args_is_help=True,
        rich_markup_mode="rich",
        pretty_exceptions_enable=False,
        context_settings={"help_option_names": ["-h", "--help"]},
    )
    program.callback(cls=_Program, help=_even(about))(about)
    for name in commands:
        if name in GROUPS:
            wanted = (inner,) if inner in GROUPS[name] else GROUPS[name]
            group = typer.Typer(no_args_is_help=True, rich_markup_mode="rich")
            for part in wanted:
                run = function_of(f"{name} {part}")
                group.command(cls=_Command, help=_even(run))(run)
            about_group = import_module(f"route3d.cli.{name}").__doc__
            program.add_typer(
                group,
                name=name,
                cls=_Program,
                help=about_group,
                rich_help_panel=COMMANDS[name],
            )
            continue
        run = function_of(name)
        program.command(cls=_Command, help=_even(run), rich_help_panel=COMMANDS[name])(run)
    return program


def all_commands() -> list[str]:
    """Every command as it is typed: "check", "field compare"."""
    return [
        " ".join(words)
        for name in COMMANDS
        for words in ([(name, part) for part in GROUPS[name]] if name in GROUPS else [(name,)])
    ]


def _command_of(words: Sequence[str]) -> str:
    """The command that a command line begins with, as it is typed."""
    return " ".join(words[: 2 if words[0] in GROUPS else 1])


def function_of(command: str) -> Callable[..., None]:
    """The function of a command as it is typed."""
    words = command.split()
    module = import_module(".".join(("route3d.cli", *words)))
    function: Callable[..., None] = getattr(module, words[-1])
    return function


class _Command(TyperCommand):
    """A command whose flags show no type in the help, and that loses no value it was given."""

    def __init__(self, *args: Any, **more: Any) -> None:
        super().__init__(*args, **more)
        for param in self.params:
            if text := getattr(param, "help", None):
                param.help = _plain(text)  # type: ignore[attr-defined]

    def get_params(self, ctx: Any) -> list[Any]:
        return _untyped(super().get_params(ctx))

    def parse_args(self, ctx: Any, args: list[str]) -> list[str]:
        """Parse, and leave out of a complaint what kind of error it was to the parser."""
        try:
            _refuse_twice(self.make_parser(ctx).parse_args(list(args))[2])
            return super().parse_args(ctx, args)
        except typer.BadParameter as error:
            error.message = error.message.removeprefix("Value error, ")
            raise


def _refuse_twice(given: Sequence[Any]) -> None:
    """InputError for an option that takes one value and stands twice: the first would be lost."""
    twice = {
        p.opts[0]: Problem("is given more than once", p.opts[0], "give it once")
        for p in given
        if given.count(p) > 1 and not (p.multiple or p.is_flag)
    }
    if twice:
        raise InputError(list(twice.values()))


class _Program(TyperGroup):
    """The program itself, or a group of it, of which the same is true."""

    def get_params(self, ctx: Any) -> list[Any]:
        return _untyped(super().get_params(ctx))


def _untyped(params: list[Any]) -> list[Any]:
    for param in params:
        if getattr(param, "is_flag", False):
            param.metavar = ""
    return params


def _even(function: Any) -> str:
    """The docstring with each paragraph on one line: the help breaks lines by its own width."""
    paragraphs = _plain(inspect.cleandoc(function.__doc__)).split("\n\n")
    return "\n\n".join(" ".join(paragraph.split()) for paragraph in paragraphs)


def _plain(text: str) -> str:
    """A text of the help in which brackets, as around the name of a table, are no markup."""
    if "[" not in text:
        return text
    from rich.markup import escape

    return escape(text)


def main(arguments: Sequence[str] | None = None) -> int:
    """Run one command line and return its exit code; what is wrong goes to standard error."""
    _never_choke_on_symbols()
    words = _in_us_spelling(sys.argv[1:] if arguments is None else arguments)
    known = words[:1] if words and words[0] in COMMANDS else COMMANDS
    try:
        app(known, words[1] if len(words) > 1 else None)(args=words, prog_name="route3d")
    except SystemExit as done:
        return _flushed(done.code if isinstance(done.code, int) else BAD_INPUT)
    except Route3dError as error:
        report_problems(error)
        return BAD_INPUT
    except ModuleNotFoundError as error:
        package = (error.name or "").partition(".")[0]
        if package not in EXTRAS:
            raise
        fix = f"pip install 'route3d[{_extra_of(package, words)}]'"
        named = {"PIL": "pillow"}.get(package, package)  # as pip calls it
        said = f"this needs the package {named}, which is not installed"
        report_problems(InputError(Problem(said, _command_of(words), fix)))
        return BAD_INPUT
    except OSError as error:
        return _unwritable(error, BAD_INPUT)
    return _flushed(FINE)


def _extra_of(package: str, words: Sequence[str]) -> str:
    """The extra that installs a package: studies have scipy with what else they need."""
    if package == "scipy" and (words[0] == "study" or "--sensitivity" in words):
        return "study"
    return EXTRAS[package]


# Old spellings are accepted, and the new one is named.
_OLD_SPELLINGS = {"--colour-by": "--color-by", "utilisation": "utilization"}


def _in_us_spelling(arguments: Sequence[str]) -> list[str]:
    words = list(arguments)
    colors = words.index("--colour-by") if "--colour-by" in words else None
    if colors is None and "--color-by" in words:
        colors = words.index("--color-by")
    for i in () if colors is None else (colors, colors + 1):
        if i < len(words) and (new := _OLD_SPELLINGS.get(words[i])):
            message(f"caution: {words[i]} is now spelled {new}")
            words[i] = new
    return words


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
    """Run the command line of this process and end with its exit code."""
    _never_miss_a_stream()
    code = main()
    if any(thread.name == WORK_ASIDE for thread in threading.enumerate()):
        # One that is inside a library while the interpreter ends would abort the whole process.
        for stream in (sys.stdout, sys.stderr):
            with contextlib.suppress(OSError, ValueError):
                stream.flush()
        os._exit(code)
    sys.exit(code)


def _never_miss_a_stream() -> None:
    """Output that nobody takes, closed from the start or later, is no mistake of the command.

    The exit code is then that of the command: a reader that leaves early (``| head``) must not make
    it the code of a pull that exceeds a limit.
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
