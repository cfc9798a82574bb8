"""``route3d stock``: the built-in tables and their sources."""

from __future__ import annotations

from typing import Annotated

import typer

from route3d.cli.common import option, show, write_json
from route3d.errors import InputError, Problem


def stock(
    words: Annotated[
        list[str] | None,
        typer.Argument(metavar="[WORDS]...", help="Words to search for.", show_default=False),
    ] = None,
    table: Annotated[str, option("NAME", "Search only this table.")] = "",
    everything: Annotated[bool, typer.Option("--all", help="Show every match.")] = False,
    json: Annotated[bool, typer.Option("--json", help="Print every match as JSON.")] = False,
) -> None:
    """Built-in reference values and their sources.

    Searches conduit sizes, elbows, friction, sidewall and tension limits, fill, pull boxes and
    cables for entries that contain all the words, each as printed in its source, with the source
    and the confidence in it. The best matches are shown; --all shows the rest, --table NAME one
    whole table. Without words the tables are listed.

    Example: route3d stock sidewall shielded
    """
    from route3d.report.stock import (
        MOST_ROWS,
        entries_data,
        entries_report,
        tables_data,
        tables_report,
    )
    from route3d.standards.search import entries, ranked

    text = " ".join(words or ())
    if not text and not table:
        if json:
            write_json(tables_data())
        else:
            show(tables_report())
        return
    found = entries(text, table)
    if not found:
        place = f"table {table}" if table else "the tables"
        raise InputError(
            Problem(f"nothing in {place} holds all of: {text}", "stock", "try fewer words")
        )
    if json:
        write_json(entries_data(found))
        return
    best = found if everything or table else ranked(found, text)[:MOST_ROWS]
    show(entries_report(best, whole=bool(table), more=len(found) - len(best)))
