"""``route3d new``: a commented model file to start from."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from route3d.cli.common import Units, message, option, units_named
from route3d.errors import InputError, Problem


def new(
    file: Annotated[
        Path, typer.Argument(metavar="FILE", help="File to write.", show_default=False)
    ],
    units: Annotated[
        Units,
        typer.Option(parser=units_named, metavar="US|SI", help="Units of the numbers in it."),
    ] = Units.US,
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
    """Write a commented model file or job workbook, ready to run.

    It describes a short ferry-terminal feeder: replace its numbers with those of your job.

    Example: route3d new feeder.toml --units SI

    Example: route3d new feeder.xlsx
    """
    from route3d.modelfile.starter import starter
    from route3d.standards.tables import NotInTable

    if not force and file.is_file():
        raise InputError(
            Problem("already exists", fix="add --force to overwrite it", file=str(file))
        )
    try:
        text = starter(units.value, rules, edition)
    except NotInTable as error:
        raise InputError(
            Problem(str(error), fix="choose --rules and --edition from these")
        ) from None
    _write(file, text, workbook=workbook, force=force)
    message(f"wrote {file}; look at it with: route3d check {file}")


def _write(file: Path, text: str, *, workbook: bool, force: bool) -> None:
    """Write a model file's text, or the workbook that holds the same."""
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
