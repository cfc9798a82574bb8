"""``route3d compare``: jobs, or the variants of one, side by side."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from route3d.cli.common import (
    JsonOption,
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
from route3d.errors import InputError, Problem

if TYPE_CHECKING:
    from route3d.model.job import Job
    from route3d.planning.comparison import Comparison

# More columns than this cannot be read side by side.
_MOST_JOBS = 8


def compare(
    models: Annotated[
        list[Path],
        typer.Argument(
            metavar="MODEL",
            help="Two or more model files, or one with variants.",
            show_default=False,
        ),
    ],
    variant: Annotated[
        list[str] | None,
        option("NAME", "Only the variant of this name, of a single model file. Repeatable."),
    ] = None,
    run: RunsOption = None,
    png: Annotated[Path | None, option("FILE.png", "Draw the comparison as a picture.")] = None,
    svg: Annotated[Path | None, option("FILE.svg", "Draw the comparison as SVG.")] = None,
    pdf: Annotated[
        Path | None, option("FILE.pdf", "Draw the comparison as PDF, one page per run.")
    ] = None,
    json: JsonOption = False,
    units: UnitsOption = None,
) -> None:
    """Compare jobs, or variants of one job.

    What differs in the input, key by key, and what it does to every result: feed end, tensions,
    sidewall pressure, utilization, friction margin, machine load, brake window, crew time, and the
    findings gained and lost. Runs are matched by name. The first job is what the others are
    compared with. With a single model file, its variants (tables named variant) are compared with
    it.

    Exit code 1 if a run of any job but the first must not be pulled.

    Example: route3d compare models/yard_run.toml --svg yard.svg
    """
    from route3d.api import standing_meshes
    from route3d.planning.comparison import compare as compared
    from route3d.report.compare import compare_data, compare_report

    refuse_suffix("--png", png, ".png")
    refuse_suffix("--svg", svg, ".svg")
    refuse_suffix("--pdf", pdf, ".pdf")
    jobs = _jobs(models, variant, run)
    found = compared(jobs, [standing_meshes(job) for _, job in jobs])
    system = system_of(jobs[0][1], units)
    _draw(found, system, png, svg, pdf)
    if json:
        write_json(compare_data(found))
    else:
        show(compare_report(found, system))
    raise exit_code(found.stops)


def _jobs(
    models: Sequence[Path], variants: Sequence[str] | None, runs: Sequence[str] | None
) -> list[tuple[str, Job]]:
    """The jobs to compare with their labels."""
    if len(models) > 1 and variants:
        said = "variants are those of a single model file"
        raise InputError(Problem(said, "--variant", "name one model file"))
    if len(models) > _MOST_JOBS:
        said = f"{len(models)} model files: the maximum is {_MOST_JOBS}"
        raise InputError(Problem(said, "MODEL", "compare fewer at a time"))
    if len(models) == 1:
        jobs = _variants(models[0], variants)
    else:
        jobs = [(label, read_job(m)) for label, m in zip(_labels(models), models, strict=True)]
    return jobs if not runs else _only(jobs, runs)


def _variants(model: Path, wanted: Sequence[str] | None) -> list[tuple[str, Job]]:
    """The job of a file and its variants, or those wanted."""
    from route3d.modelfile.fields import nearest
    from route3d.modelfile.variants import load_variants

    job = read_job(model)
    found = load_variants(model)
    if not found:
        said = "has no variant to compare with"
        where = "a row on the sheet Variants" if job.in_workbook else "a [[variant]]"
        fix = f"name a second model file, or add {where} with name and changes"
        raise InputError(Problem(said, fix=fix, file=str(model)))
    names = [variant.name for variant in found]
    if unknown := [name for name in wanted or () if name not in names]:
        raise InputError(
            [
                Problem(
                    f"no variant is named {name!r}", "--variant", nearest(name, names), str(model)
                )
                for name in unknown
            ]
        )
    chosen = [v for v in found if not wanted or v.name in wanted][: _MOST_JOBS - 1]
    return [("as modeled", job), *((v.name, v.job) for v in chosen)]


def _labels(models: Sequence[Path]) -> list[str]:
    """The names of the files, as short as they can be told apart."""
    for labels in ([m.stem for m in models], [m.name for m in models]):
        if len(set(labels)) == len(labels):
            return labels
    return [f"{number}: {model}" for number, model in enumerate(models, 1)]


def _only(jobs: Sequence[tuple[str, Job]], runs: Sequence[str]) -> list[tuple[str, Job]]:
    from dataclasses import replace

    from route3d.modelfile.fields import nearest

    known = list(dict.fromkeys(run.name for _, job in jobs for run in job.runs))
    if unknown := [name for name in runs if name not in known]:
        raise InputError(
            [
                Problem(f"no run is named {name!r}", "--run", nearest(name, known))
                for name in unknown
            ]
        )
    return [
        (label, replace(job, runs=tuple(r for r in job.runs if r.name in runs)))
        for label, job in jobs
    ]


def _draw(
    found: Comparison, system: str, png: Path | None, svg: Path | None, pdf: Path | None
) -> None:
    """The pictures asked for."""
    if png is None and svg is None and pdf is None:
        return
    from route3d.drawing.comparison import (
        comparison_pages,
        comparison_png,
        comparison_svg,
        drawn_runs,
    )

    if not drawn_runs(found):
        said = "no run has the same name in two of the jobs: there is nothing to draw"
        raise InputError(Problem(said, "--png, --svg, --pdf", "rename the runs to compare"))
    if png is not None:
        save(png, comparison_png(found, system))
    if svg is not None:
        save(svg, comparison_svg(found, system))
    if pdf is not None:
        from route3d.drawing.pdf import pages_pdf

        save(pdf, pages_pdf(comparison_pages(found, system), "Comparison"))
