"""``route3d field history``: friction of one's own past pulls."""

from __future__ import annotations

from typing import Annotated

from route3d.cli.common import JsonOption, option, show, write_json
from route3d.cli.field.library import LibraryFile


def history(
    library: LibraryFile,
    jacket: Annotated[str | None, option("NAME", "Only this cable jacket.")] = None,
    conduit: Annotated[
        str | None, option("NAME", "Only this conduit material or stock type, such as PVC-40.")
    ] = None,
    lubricant: Annotated[str | None, option("NAME", "Only this lubricant, as recorded.")] = None,
    json: JsonOption = False,
) -> None:
    """Friction of past pulls, by jacket, conduit, lubricant and temperature.

    Count, spread and quantiles of one's own pulls, the published range, and both pooled: median and
    90% interval of the next pull. The published range counts as four pulls, so a few pulls of one's
    own move it little. Pulls through one conduit of a job on one day, or in one bank, count
    as one. Only friction that a log could tell from everything else is used.

    In a model: friction = { history = "LIBRARY.sqlite" }.

    Example: route3d field history pulls.sqlite --jacket PE --conduit PVC
    """
    from route3d.field.history import history as history_of
    from route3d.report.history import history_data, history_report

    found = history_of(
        library, jacket=jacket or "", conduit=conduit or "", lubricant=lubricant or ""
    )
    if json:
        write_json(history_data(found))
    else:
        show(history_report(library.name, found))
