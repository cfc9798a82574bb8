"""``route3d stock``: the built-in tables and their sources."""

from __future__ import annotations

from typing import Annotated

import typer

from route3d.cli.common import option, show, write_json
from route3d.errors import InputError, Problem

_FRICTION = "friction"


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

    Finds cables, conduits, ropes and machine classes by name, with the lines to paste into a model
    file; then the rows of all tables (conduit sizes, elbows, friction, sidewall and tension limits,
    fill, pull boxes, cables) that contain all the words, each as printed in its source, with the
    source and the confidence in it. Estimates and values from memory come last. The best matches
    are shown; --all shows the rest, --table NAME one whole table. The word cable, conduit, rope,
    machine or friction lists that kind. Without words the tables are listed.

    Example: route3d stock 500 kcmil
    """
    from route3d.report.stock import (
        MOST_ROWS,
        entries_data,
        entries_report,
        tables_data,
        tables_report,
    )
    from route3d.report.stock_entries import stock_data, stock_report
    from route3d.standards.search import entries, ranked
    from route3d.standards.stock import KINDS, find_names, nearest_names

    text = " ".join(words or ())
    if not text and not table:
        if json:
            write_json(tables_data())
        else:
            show(tables_report())
        return
    # Every row of the table of that name, before what else has the word.
    whole = entries("", _FRICTION) if text.lower() == _FRICTION and not table else []
    found = [*whole, *(e for e in entries(text, table) if e not in whole)]
    named = [] if table else [(kind, name) for kind in KINDS for name in find_names(kind, text)]
    nearest = () if table or named else nearest_names(text)
    if not found and not named:
        place = f"table {table}" if table else "the tables"
        near = ", ".join(f'"{name}"' for name in nearest)
        fix = f"nearest stock entries: {near}" if near else "try fewer words"
        raise InputError(Problem(f"nothing in {place} holds all of: {text}", "stock", fix))
    if json:
        write_json([*stock_data(named), *entries_data(found)])
        return
    if named or nearest:
        show(stock_report(text, named, nearest, everything=everything))
    if not found:
        return
    best = found if everything or table else whole or ranked(found, text)[:MOST_ROWS]
    show(entries_report(best, whole=bool(table), more=len(found) - len(best)))
