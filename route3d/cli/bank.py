"""``route3d bank``: every duct of a duct bank, its section and its concrete."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from route3d.cli.common import (
    JsonOption,
    ModelFile,
    RunOption,
    UnitsOption,
    exit_code,
    message,
    option,
    read_job,
    refuse_suffix,
    save,
    show,
    system_of,
    write_json,
)
from route3d.errors import InputError, Problem
from route3d.model.examples import BANNER

if TYPE_CHECKING:
    from route3d.model.job import Job
    from route3d.planning.bank import BankResult


def bank(
    model: ModelFile,
    run: RunOption = None,
    csv: Annotated[Path | None, option("FILE.csv", "Write the ducts as CSV.")] = None,
    section: Annotated[
        Path | None, option("FILE.svg", "Draw the section: ducts, concrete, spacing, earth cover.")
    ] = None,
    solid: Annotated[
        Path | None,
        option(
            "FILE",
            "Write the concrete as a solid: .glb in meters, .stl in the length unit of the job.",
        ),
    ] = None,
    filled: Annotated[
        bool, typer.Option("--filled", help="Write the solid without the duct openings.")
    ] = False,
    json: JsonOption = False,
    units: UnitsOption = None,
) -> None:
    """Duct bank: every duct, its section and its concrete.

    Every duct has its own bend radii and length, and is solved like any run. The report names the
    best and the worst duct, any bend in which an inner duct exceeds a limit, spacing and cover
    against published figures, and the concrete volume.

    Exit code 1 if a duct exceeds a limit.

    Example: route3d bank models/riser_duct_bank.toml --section F1.svg
    """
    from route3d.formats.grade_surfaces import read_grade
    from route3d.planning.bank import evaluate_banks

    refuse_suffix("--csv", csv, ".csv")
    refuse_suffix("--section", section, ".svg")
    refuse_suffix("--solid", solid, ".stl", ".glb")
    job = read_job(model, run)
    _refuse_bankless(job, model, run)
    system = system_of(job, units)
    banks = evaluate_banks(job, read_grade(job))
    _refuse_several(banks, model, section=section, solid=solid)
    if csv is not None:
        from route3d.report.bank import bank_csv

        save(csv, bank_csv(job, banks, system))
    if section is not None:
        from route3d.drawing.bank_section import bank_section_svg

        save(section, bank_section_svg(banks[0], system, job.examples))
    if solid is not None:
        _write_solid(banks[0], job, model, solid, system, filled=filled)
    if json:
        from route3d.report.bank import bank_data

        write_json(bank_data(job, banks))
    else:
        from route3d.report.bank import bank_report

        show(bank_report(job, banks, system))
    raise exit_code(any(b.stops for b in banks))


def _refuse_bankless(job: Job, model: Path, run: str | None) -> None:
    names = [r.name for r in job.runs]
    if any(b.run in names for b in job.banks):
        return
    said = f"run {run!r} has no duct bank" if run is not None else "holds no duct bank"
    where = "a row on the sheet Banks" if job.in_workbook else "a table [[bank]]"
    fix = f'add {where} with run = "{names[0]}", rows, columns, spacing and cover'
    raise InputError(Problem(said, where="bank", fix=fix, file=str(model)))


def _refuse_several(
    banks: tuple[BankResult, ...], model: Path, *, section: Path | None, solid: Path | None
) -> None:
    """A drawing and a solid are of one bank."""
    if len(banks) == 1 or (section is None and solid is None):
        return
    option = "--section" if section is not None else "--solid"
    said = f"one file is of one bank, and there are {len(banks)}"
    names = " or ".join(f"--run {b.run.name}" for b in banks[:4])
    raise InputError(Problem(said, where=option, fix=f"name its run: {names}", file=str(model)))


def _write_solid(
    result: BankResult, job: Job, model: Path, path: Path, system: str, *, filled: bool
) -> None:
    from route3d.formats.solids import write_solid
    from route3d.planning.bank import bank_solid
    from route3d.units import show as in_units

    if result.bank.cover == 0:
        said, fix = "the bank has no concrete", "give its cover, the concrete outside the ducts"
        raise InputError(Problem(said, where="--solid", fix=fix, file=str(model)))
    made = bank_solid(result, ducts=not filled)
    name = f"{result.run.name} duct bank" + (f", {BANNER}" if job.examples else "")
    write_solid(made.mesh, path, name, job.units, job.site.frame)
    volume = in_units(made.volume, "concrete", system, decimals=2)
    message(f"wrote {path}: {volume}; its flat faces leave {made.lacking:.3%} of that out in bends")
