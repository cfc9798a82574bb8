"""``route3d study spread``: how likely each limit is reached."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

from route3d.cli.common import (
    JsonOption,
    ModelFile,
    RunsOption,
    UnitsOption,
    exit_code,
    number,
    option,
    progress_bar,
    read_job,
    refuse_suffix,
    save,
    show,
    system_of,
    typed_as,
    whole_number,
    write_json,
)
from route3d.cli.study.picture_options import (
    PngOption,
    SvgOption,
    refuse_picture_suffixes,
    save_pictures,
)


def spread(
    model: ModelFile,
    run: RunsOption = None,
    seed: Annotated[
        int,
        option(
            "N",
            "Seed of the scenarios: the same seed gives the same figures. Default: 1.",
            parser=whole_number(),
        ),
    ] = 1,
    to: Annotated[
        float,
        option(
            "P",
            "Stop at this standard error of the probability of passing, from 0.00001 to 0.5. "
            "Default: 0.002.",
            flag="--to",
            parser=number(),
        ),
    ] = 0.002,
    most: Annotated[
        int | None,
        option(
            "N",
            "Maximum number of scenarios, a power of two from 1024 to 4194304. Default: 131072; "
            "4096 where bends, diameters or ovality vary.",
            parser=whole_number(),
        ),
    ] = None,
    csv: Annotated[
        Path | None, option("FILE.csv", "Write every place of both ends as CSV.")
    ] = None,
    svg: SvgOption = None,
    png: PngOption = None,
    json: JsonOption = False,
    units: UnitsOption = None,
) -> None:
    """Probability of reaching each limit, from uncertain friction, weight and bends.

    For every run, from both ends: how many of 100 such pulls pass, the probability of reaching each
    limit and where, percentiles of tension and of the load on the machine by cable in, which input
    matters most, and the friction at which the other end becomes better.

    What is uncertain stands in [spread] of the model file. Default: the friction of each conduit,
    by its low and high; where they are not given, 0.5 and 1.2 times the planned value are assumed.

    Exit code 1 if a run must not be pulled as modeled, however likely it passes; 2 for bad input.

    Example: route3d study spread models/riser_duct_bank.toml
    """
    from route3d.api import spread as spread_of
    from route3d.drawing.study_charts.spread import spread_picture

    refuse_suffix("--csv", csv, ".csv")
    refuse_picture_suffixes(svg, png)
    job = read_job(model, run)
    with (
        typed_as(seed="--seed", to="--to", most="--most"),
        progress_bar("solving scenarios") as step,
    ):
        found = spread_of(job, seed=seed, to=to, most=most, progress=step)
    if csv is not None:
        from route3d.report.study_spread import spread_csv

        save(csv, spread_csv(job, found.spreads, system_of(job, units)))
    save_pictures(svg, png, lambda: spread_picture(job, found.spreads, system_of(job, units)))
    if json:
        from route3d.report.study_spread import spread_data

        write_json(spread_data(job, found.spreads))
    else:
        show(found.report(system_of(job, units)))
    raise exit_code(any(s.stops for s in found.spreads))
