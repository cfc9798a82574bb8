"""``route3d reels``: which reel serves which runs, and the cut list."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from route3d.cli.common import (
    JsonOption,
    ModelFile,
    RunsOption,
    UnitsOption,
    exit_code,
    option,
    read_job,
    refuse_suffix,
    save,
    show,
    system_of,
    write_json,
)
from route3d.errors import InputError, Problem, UnitError


def reels(
    model: ModelFile,
    run: RunsOption = None,
    reel_length: Annotated[
        str | None,
        option(
            "LENGTH",
            'Length of cable on one reel, such as "1500 ft", as many reels as needed; for cables '
            "without reels in the model file.",
        ),
    ] = None,
    any_reel: Annotated[
        bool,
        typer.Option(
            "--any-reel", help="Cut the cables of a run from any reel, if that takes fewer reels."
        ),
    ] = False,
    csv: Annotated[Path | None, option("FILE.csv", "Write the cut list as CSV.")] = None,
    xlsx: Annotated[Path | None, option("FILE.xlsx", "Write the cut list as a workbook.")] = None,
    json: JsonOption = False,
    units: UnitsOption = None,
) -> None:
    """Reels and cut list.

    Which reel serves which runs. Each cable of a run is one cut, make-up included. The cables of a
    run come from one reel where one holds them, with the least cable left over that first fit
    decreasing finds; the lower bound of the number of reels is beside it. Reels are given in the
    model file (tables named cable_reel: cable, length, count), or with --reel-length.

    Exit code 1 if a cut has no reel.

    Example: route3d reels models/riser_duct_bank.toml --reel-length "1500 ft"
    """
    from route3d.planning.reels import reel_plan
    from route3d.report.reels import reels_csv, reels_data, reels_report, reels_xlsx

    refuse_suffix("--csv", csv, ".csv")
    refuse_suffix("--xlsx", xlsx, ".xlsx")
    job = read_job(model, run)
    system = system_of(job, units)
    length = _length(reel_length, system)
    plan = reel_plan(job, longest=length, together=not any_reel, system=system)
    if not plan.allotments:
        said = f"no reels are given for {', '.join(plan.without)}"
        where = "rows on the sheet Cable reels" if job.in_workbook else "[[cable_reel]]"
        fix = f'add {where} with cable and length, or use --reel-length "1500 ft"'
        raise InputError(Problem(said, where="cable_reel", fix=fix, file=str(model)))
    if csv is not None:
        save(csv, reels_csv(plan, system))
    if xlsx is not None:
        save(xlsx, reels_xlsx(plan, system))
    if json:
        write_json(reels_data(plan))
    else:
        show(reels_report(plan, system))
    raise exit_code(plan.stops)


def _length(text: str | None, system: str) -> float | None:
    """The length of cable on a reel that was asked for, m; InputError where it is none."""
    if text is None:
        return None
    from route3d.modelfile.fields import LONGEST
    from route3d.units import parse
    from route3d.units import show as in_words

    try:
        number: float | str = float(text)
    except ValueError:
        number = text
    try:
        length = parse(number, "length", system)
    except UnitError as error:
        raise InputError(Problem(str(error), where="--reel-length")) from None
    if not length > 0:
        raise InputError(Problem(f"{text!r} is not above zero", where="--reel-length"))
    if length > LONGEST:
        said = f"{text!r} exceeds the maximum of {in_words(LONGEST, 'length', system)}"
        fix = "check the unit and the decimal point"
        raise InputError(Problem(said, where="--reel-length", fix=fix))
    return length
