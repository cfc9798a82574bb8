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
    only_runs,
    option,
    read_job,
    refuse_suffix,
    save,
    show,
    system_of,
    write_json,
)
from route3d.errors import InputError, Problem, UnitError
from route3d.model.examples import BANNER

if TYPE_CHECKING:
    from route3d.model.job import Job
    from route3d.planning.bank import BankResult


def bank(
    model: ModelFile,
    run: RunOption = None,
    csv: Annotated[Path | None, option("FILE.csv", "Write the ducts as CSV.")] = None,
    pieces: Annotated[
        Path | None, option("FILE.csv", "Write every straight and bend of every duct as CSV.")
    ] = None,
    xlsx: Annotated[
        Path | None, option("FILE.xlsx", "Write all tables as a workbook, one sheet per table.")
    ] = None,
    section: Annotated[
        Path | None,
        option("FILE.svg|.png|.pdf", "Draw the section: ducts, concrete, spacing, earth cover."),
    ] = None,
    at: Annotated[
        str | None,
        option(
            "STATION",
            'With --section: at this station, such as "120 ft", with runs, ground and trench.',
        ),
    ] = None,
    out: Annotated[
        Path | None,
        typer.Option(
            "--out",
            "-o",
            metavar="FILE.ifc|.dxf|.glb|.stl",
            help="Write concrete and ducts as a model.",
        ),
    ] = None,
    solid: Annotated[
        Path | None,
        option(
            "FILE",
            "Write the concrete alone as a solid: .glb in meters, .stl in the length unit of the "
            "job.",
        ),
    ] = None,
    filled: Annotated[
        bool, typer.Option("--filled", help="Write the solid without the duct openings.")
    ] = False,
    json: JsonOption = False,
    units: UnitsOption = None,
) -> None:
    """Duct bank: every duct, its section, its concrete, and what to order and dig for it.

    Every duct has its own bend radii and length, and is solved like any run. The report names the
    best and the worst duct, any bend in which an inner duct exceeds a limit, spacing and cover
    against published figures, and the concrete volume.

    It lists which duct may be used for which run, every bend of every duct with radius, angle,
    roll, set-back and arc length, the sweeps to order, spacers, and the volumes of the trench.

    Exit code 1 if a duct exceeds a limit, or a run has no duct that passes.

    Example: route3d bank models/riser_duct_bank.toml --section F1.svg

    Example: route3d bank models/riser_duct_bank.toml -o F1.ifc --xlsx F1.xlsx
    """
    from route3d.formats.grade_surfaces import read_grade
    from route3d.planning.bank import evaluate_banks

    refuse_suffix("--csv", csv, ".csv")
    refuse_suffix("--pieces", pieces, ".csv")
    refuse_suffix("--xlsx", xlsx, ".xlsx")
    refuse_suffix("--section", section, ".svg", ".png", ".pdf")
    refuse_suffix("--out", out, ".ifc", ".dxf", ".glb", ".stl")
    refuse_suffix("--solid", solid, ".stl", ".glb")
    if at is not None and section is None:
        raise InputError(Problem("is for --section", where="--at", fix="add --section FILE.svg"))
    whole = read_job(model)
    job = only_runs(whole, run, model)
    _refuse_bankless(job, model, run)
    system = system_of(job, units)
    banks = evaluate_banks(job, read_grade(job), whole.runs)
    _refuse_several(banks, model, {"--section": section, "--out": out, "--solid": solid})
    if csv is not None:
        from route3d.report.bank import bank_csv

        save(csv, bank_csv(job, banks, system))
    if pieces is not None:
        from route3d.report.bank_build import pieces_csv

        save(pieces, pieces_csv(job, banks, system))
    if xlsx is not None:
        from route3d.report.bank import bank_workbook

        save(xlsx, bank_workbook(job, banks, system))
    if section is not None:
        _draw(banks[0], job, section, at, system)
    if out is not None:
        _write_model(banks[0], job, out, filled=filled)
    if solid is not None:
        _write_solid(banks[0], job, model, solid, system, filled=filled)
    if json:
        from route3d.report.bank import bank_data

        write_json(bank_data(job, banks))
    else:
        from route3d.report.bank import bank_report

        show(bank_report(job, banks, system))
    raise exit_code(any(b.stops or b.incomplete for b in banks))


def _refuse_bankless(job: Job, model: Path, run: str | None) -> None:
    names = [r.name for r in job.runs]
    if any(b.run in names for b in job.banks):
        return
    said = f"run {run!r} has no duct bank" if run is not None else "holds no duct bank"
    where = "a row on the sheet Banks" if job.in_workbook else "a table [[bank]]"
    fix = f'add {where} with run = "{names[0]}", rows, columns, spacing and cover'
    raise InputError(Problem(said, where="bank", fix=fix, file=str(model)))


def _refuse_several(
    banks: tuple[BankResult, ...], model: Path, files: dict[str, Path | None]
) -> None:
    """A drawing and a model are of one bank."""
    option = next((name for name, file in files.items() if file is not None), "")
    if len(banks) == 1 or not option:
        return
    said = f"one file is of one bank, and there are {len(banks)}"
    names = " or ".join(f"--run {b.run.name}" for b in banks[:4])
    raise InputError(Problem(said, where=option, fix=f"name its run: {names}", file=str(model)))


def _draw(result: BankResult, job: Job, path: Path, at: str | None, system: str) -> None:
    """The section along the longest straight, or that at a station."""
    from route3d.drawing.bank_section import bank_section
    from route3d.drawing.bank_station import bank_station
    from route3d.drawing.picture import picture_file

    if at is None:
        picture = bank_section(result, system, job.examples)
    else:
        picture = bank_station(result, _station(at, system), system, job.examples)
    save(path, picture_file(picture, path.suffix.lower()))


def _station(text: str, system: str) -> float:
    """The station asked for, m; a bare number is in the units shown."""
    from route3d.units import parse

    try:
        number: float | str = float(text)
    except ValueError:
        number = text
    try:
        return parse(number, "length", system)
    except UnitError as error:
        raise InputError(Problem(str(error), where="--at")) from None


def _write_model(result: BankResult, job: Job, path: Path, *, filled: bool) -> None:
    """Concrete and ducts, in the units of the job."""
    from route3d.formats.bank_files import write_bank
    from route3d.formats.bank_model import bank_model
    from route3d.units import unit_label

    made = bank_model(result, filled=filled, examples=job.examples)
    write_bank(made, path, unit_label("length", job.units), job.site.frame)
    lost = [f"{d.row}-{d.column}" for d in result.ducts if d.result is None]
    message(f"wrote {path}")
    if lost:
        message(f"not written, without a path: duct {', '.join(lost)}")


def _write_solid(
    result: BankResult, job: Job, model: Path, path: Path, system: str, *, filled: bool
) -> None:
    from route3d.formats.solids import write_solid
    from route3d.planning.bank import bank_solid
    from route3d.units import show as in_units
    from route3d.units import unit_label

    if result.bank.cover == 0:
        said, fix = "the bank has no concrete", "give its cover, the concrete outside the ducts"
        raise InputError(Problem(said, where="--solid", fix=fix, file=str(model)))
    made = bank_solid(result, ducts=not filled)
    name = f"{result.run.name} duct bank" + (f", {BANNER}" if job.examples else "")
    write_solid(made.mesh, path, name, unit_label("length", job.units), job.site.frame)
    volume = in_units(made.volume, "concrete", system, decimals=2)
    message(f"wrote {path}: {volume}; its flat faces leave {made.lacking:.3%} of that out in bends")
