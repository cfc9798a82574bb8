"""``route3d plan``: the pull plan and the sheet the crew carries."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from route3d.cli.common import (
    DraftOption,
    JsonOption,
    LanguageOption,
    ModelFile,
    Paper,
    RunsOption,
    UnitsOption,
    detailed,
    exit_code,
    message,
    option,
    paper_size,
    read_job,
    refuse_suffix,
    save,
    show,
    system_of,
    whole_number,
    write_json,
)
from route3d.errors import InputError, Problem

if TYPE_CHECKING:
    from route3d.model.job import Job
    from route3d.planning.clearance.near import MeshExtents
    from route3d.planning.pull_plan.plan import Plan


def plan(
    model: ModelFile,
    run: RunsOption = None,
    feed: Annotated[
        str | None, option("END", "Feed from the end of this name. Default: the better end.")
    ] = None,
    way: Annotated[
        int | None,
        option(
            "N",
            "Plan every stage of way N to split the run, numbered as in the plan.",
            parser=whole_number(),
        ),
    ] = None,
    sheet: Annotated[Path | None, option("FILE.pdf", "Write the crew's sheet as PDF.")] = None,
    cards: Annotated[
        Path | None,
        option("FILE.pdf", "Write cards to laminate, A5 or half Letter: machine, feed, spotters."),
    ] = None,
    html: Annotated[
        Path | None, option("FILE.html", "Write the sheet as a page for a phone.")
    ] = None,
    paper: Annotated[
        Paper | None,
        option(
            None,
            "Sheet size, cards half of it. Default: letter for jobs in US units, else a4.",
            case_sensitive=False,
        ),
    ] = None,
    language: LanguageOption = "en",
    every: Annotated[bool, typer.Option("--all", help="Show every run in full.")] = False,
    draft: DraftOption = False,
    json: JsonOption = False,
    units: UnitsOption = None,
) -> None:
    """Pull plan and the crew's sheet.

    For every run: feed end, machine location and anchorage, gears and time, gauge readings and when
    to stop, ratings from cable to anchor and the weakest link, reel, rope, lubricant and fittings,
    and the ways to split the run. The run needs a rope and a machine. With --way N: the same for
    each stage of way N to split the run.

    With more than one run a summary table comes first, then the runs that must not be pulled.
    --run and --all show others.

    Exit code 1 if the pull must not be made, or a building mesh is not judged.

    Example: route3d plan models/riser_duct_bank.toml --sheet F1.pdf --cards F1_cards.pdf
    """
    from route3d.api import plan as plans_of
    from route3d.report.draft import refuse_unconfirmed

    refuse_suffix("--sheet", sheet, ".pdf")
    refuse_suffix("--cards", cards, ".pdf")
    refuse_suffix("--html", html, ".html", ".htm")
    if way is not None and feed is not None:
        said = "--feed and --way do not go together: the stages of a way have their own feed points"
        raise InputError(Problem(said, where="--way", fix="leave out one of the two"))
    job = read_job(model, run)
    written = (sheet, cards, html)
    if any(written):
        refuse_unconfirmed(job, draft)
    refuse_incomplete(job, model)
    system = system_of(job, units)
    shown = "SI" if json else system  # JSON is the same in all units
    ways: list[tuple[Plan, ...]] = []
    if way is None:
        found = plans_of(job, feed=feed, units=shown)
        plans, site = list(found.plans), found.site
    else:
        ways, site = ways_of(job, way, shown)
        plans = [p for stages in ways for p in stages]
    if json:
        from route3d.report.plan_json import plan_data, way_data

        write_json(way_data(job, ways, site) if way is not None else plan_data(job, plans, site))
    else:
        from route3d.planning.summary import summarize
        from route3d.report.plan import plan_report
        from route3d.report.summary import summary_parts

        summary = [summarize(p.result, p) for p in plans] if way is None else []
        names = detailed(summary, run, every)
        whole = [p for p in plans if not summary or p.result.run.name in names]
        show(plan_report(job, whole, system, summary_parts(summary, system, names), site))
    if any(written):
        _write_sheets(job, plans, system, written, paper, draft=draft, language=language)
    raise exit_code(any(p.stops for p in plans) or not all(mesh.judged for mesh in site))


def refuse_incomplete(job: Job, model: Path) -> None:
    """InputError, at its line, for every run without the rope and the machine a plan is about."""
    from route3d.modelfile.places import problem_at
    from route3d.modelfile.read import model_document

    lacking = [
        (run.name, what, why)
        for run in job.runs
        for what, why in (
            ("machine", "its gears and anchoring"),
            ("rope", "what the machine feels"),
        )
        if getattr(run, what) is None
    ]
    if not lacking:
        return
    document = model_document(model)
    order = [entry["name"] for entry in document.data["run"]]
    problems = []
    for name, what, why in lacking:
        where = f"run[{order.index(name)}].{what}"
        place = document.value_place(("run", order.index(name), what))
        said = f"run {name!r} names no {what}, and a pull plan is about {why}"
        fix = f'add {what} = "..." to the run, and a table [{what}.name] for it'
        problems.append(problem_at(place, said, where, fix, str(model)))
    raise InputError(problems)


def ways_of(
    job: Job, number: int, system: str
) -> tuple[list[tuple[Plan, ...]], tuple[MeshExtents, ...]]:
    """The plans of the stages of one way to split each run, and where the meshes lie."""
    from route3d.api import GAUGE_STEPS, surveyed
    from route3d.drawing.axes import length_step
    from route3d.planning.splitting.stage_plans import way_plans

    meshes, site = surveyed(job)

    def step(length: float) -> float:
        return length_step(length, GAUGE_STEPS, system)

    plans = [way_plans(run, job, number, step=step, meshes=meshes) for run in job.runs]
    return plans, site


def _write_sheets(
    job: Job,
    plans: list[Plan],
    system: str,
    files: tuple[Path | None, Path | None, Path | None],
    paper: Paper | None,
    *,
    draft: bool,
    language: str,
) -> None:
    """Write the sheet, the cards and the page for a phone, those that are asked for."""
    from route3d.report.cards import cards_pdf
    from route3d.report.sheet import phone_page, sheet_pdf
    from route3d.report.translated import left_in_english, translation_for

    told = translation_for(job, plans, language)

    sheet, cards, html = files
    size = paper_size(paper, system)
    if sheet is not None:
        save(sheet, sheet_pdf(job, plans, system, paper=size, draft=draft, told=told))
    if cards is not None:
        save(cards, cards_pdf(job, plans, system, paper=size, draft=draft, told=told))
    if html is not None:
        save(html, phone_page(job, plans, system, draft=draft, told=told))
    if left := left_in_english(told):
        message(f"note: {left}")
