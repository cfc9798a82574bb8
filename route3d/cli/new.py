"""``route3d new``: a model file to start from: commented, from a template, or by nine questions."""

from __future__ import annotations

import shlex
from pathlib import Path
from typing import Annotated

import typer

from route3d.cli.common import BAD_INPUT, Units, message, option, units_named
from route3d.errors import InputError, Problem


def new(
    file: Annotated[
        Path, typer.Argument(metavar="FILE", help="File to write.", show_default=False)
    ],
    ask: Annotated[
        bool,
        typer.Option(
            "--ask", help="Ask nine questions, from the cable to the route, and write the answers."
        ),
    ] = False,
    template: Annotated[
        str,
        option(
            "NAME",
            "Begin with a short job of this kind: pad-to-switchboard, vault-to-vault, riser, "
            "roof-drop or duct-bank. Default: a job with every key explained.",
        ),
    ] = "",
    units: Annotated[
        Units | None,
        option("US|SI", "Units of the numbers in it. Default: US.", parser=units_named),
    ] = None,
    rules: Annotated[
        str,
        option(
            "NAME",
            'Rules to check against: "NFPA 70", "CENELEC" or "none". Default: NFPA 70 '
            "for US units, none for SI.",
        ),
    ] = "",
    edition: Annotated[
        str,
        option(
            "NAME", 'Edition of the rules, such as "2023"; for CENELEC "DIN VDE", "BS" or "CEI".'
        ),
    ] = "",
    workbook: Annotated[
        bool,
        typer.Option(
            "--workbook", help="Write a workbook to fill in; so does a FILE that ends in .xlsx."
        ),
    ] = False,
    force: Annotated[bool, typer.Option("--force", help="Overwrite an existing file.")] = False,
) -> None:
    """Write a model file or job workbook to start from: commented, a template, or by questions.

    Its values are those of invented ferry-terminal feeders, marked example = true: replace them
    with those of your job and delete the marks. With --ask, what you answer is given and only what
    you leave at its default is marked; ? helps, back returns, Ctrl-C leaves without a file.

    Example: route3d new feeder.toml --units SI

    Example: route3d new feeder.toml --ask

    Example: route3d new feeder.toml --template riser

    Example: route3d new feeder.xlsx
    """
    from route3d.disk import refuse_target
    from route3d.standards.tables import NotInTable

    _refuse_both(ask=ask, template=template, rules=rules, edition=edition)
    if not force and file.is_file():
        raise InputError(
            Problem("already exists", fix="add --force to overwrite it", file=str(file))
        )
    refuse_target(file, over_model=force)
    system = (units or Units.US).value
    try:
        text = (
            _asked(units)
            if ask
            else _template(template, system) or _starter(system, rules, edition)
        )
    except NotInTable as error:
        raise InputError(
            Problem(str(error), fix="choose --rules and --edition from these")
        ) from None
    _write(file, text, workbook=workbook, force=force)
    message(f"wrote {file}; next: route3d check {shlex.quote(str(file))}")


def _refuse_both(*, ask: bool, template: str, rules: str, edition: str) -> None:
    """InputError for options of which one makes the other idle."""
    given = {"--template": template, "--rules": rules, "--edition": edition}
    idle = [
        name
        for name, value in given.items()
        if value and (ask or (template and name != "--template"))
    ]
    if idle:
        by = "--ask" if ask else "--template"
        raise InputError(
            Problem(f"{idle[0]} and {by} do not go together", idle[0], "leave one out")
        )


def _starter(system: str, rules: str, edition: str) -> str:
    from route3d.modelfile.starter import starter

    return starter(system, rules, edition)


def _template(name: str, system: str) -> str:
    """The text of a template; empty where none is asked for."""
    from route3d.modelfile.fields import nearest
    from route3d.modelfile.starter import TEMPLATES, template_text

    if not name:
        return ""
    if name not in TEMPLATES:
        raise InputError(
            Problem(f"no template is named {name!r}", "--template", nearest(name, TEMPLATES))
        )
    return template_text(name, system)


def _asked(units: Units | None) -> str:
    from route3d.cli.ask import Ended, asked_model

    try:
        return asked_model({} if units is None else {"units": units.value})
    except (Ended, KeyboardInterrupt):
        message("nothing was written: not all questions were answered")
        raise typer.Exit(BAD_INPUT) from None


def _write(file: Path, text: str, *, workbook: bool, force: bool) -> None:
    """Write the text of a model file, or the workbook that holds the same job."""
    from route3d.disk import write_bytes_atomic, write_text_atomic

    if not workbook and file.suffix.lower() != ".xlsx":
        write_text_atomic(file, text, over_model=force)
        return
    from route3d.modelfile.toml_positions import read_toml
    from route3d.modelfile.workbook.writing import workbook_of

    if file.suffix.lower() != ".xlsx":
        fix = f"name it {file.with_suffix('.xlsx')}"
        raise InputError(Problem(f"{str(file)!r} must end in .xlsx", "--workbook", fix))
    write_bytes_atomic(file, workbook_of(read_toml(text).data))
