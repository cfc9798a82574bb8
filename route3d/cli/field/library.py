"""``route3d field library``: check and export a library of past pulls."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from route3d.cli.common import (
    JsonOption,
    Units,
    option,
    refuse_suffix,
    save,
    show,
    units_named,
    write_json,
)
from route3d.errors import InputError, Problem

LibraryFile = Annotated[
    Path,
    typer.Argument(
        metavar="LIBRARY.sqlite",
        help="Library of past pulls, as route3d field record --append made it.",
        show_default=False,
    ),
]


def library(
    library: LibraryFile,
    check: Annotated[
        bool, typer.Option("--check", help="Check that the file is sound, and nothing else.")
    ] = False,
    export: Annotated[
        Path | None,
        option(
            "FILE.csv|.json",
            "Write the friction of every pull as CSV, or every whole record as JSON (SI).",
        ),
    ] = None,
    json: JsonOption = False,
    units: Annotated[
        Units | None,
        option("US|SI", "Units to show. Default: those of the last record.", parser=units_named),
    ] = None,
) -> None:
    """Library of past pulls: list, check, export.

    --check reads the whole file: its structure, the SHA-256 of every record, and whether the
    columns agree with the records. Exit code 2 with every mistake found.

    Example: route3d field library pulls.sqlite --export pulls.csv
    """
    from route3d.report.library import friction_csv, library_data, library_report

    refuse_suffix("--export", export, ".csv", ".json")
    from route3d.field.library import damages, records

    if check:
        if found := damages(library):
            fix = "restore it from a copy"
            raise InputError([Problem(said, fix=fix, file=str(library)) for said in found])
        count = len(records(library))
        if json:
            write_json({"sound": True, "records": count})
        else:
            show(f"Sound: {count} record{'' if count == 1 else 's'}.")
        return
    every = records(library)
    if json:
        write_json(library_data(every))
    else:
        last = every[-1]["units"] if every else "SI"
        show(library_report(library.name, every, last if units is None else units.value))
    if export is not None:
        from route3d.report.json_result import dumps

        csv = export.suffix.lower() == ".csv"
        save(export, friction_csv(every) if csv else dumps(every))
