"""``route3d drawing``: plan and profile sheets, and the rigging drawing."""

from __future__ import annotations

from enum import StrEnum
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from route3d.cli.common import (
    DraftOption,
    LanguageOption,
    ModelFile,
    RunOption,
    UnitsOption,
    exit_code,
    message,
    option,
    read_job,
    refuse_suffix,
    save,
    system_of,
    whole_number,
)
from route3d.errors import InputError, Problem

if TYPE_CHECKING:
    from collections.abc import Sequence

    from route3d.drawing.plan_profile.layout import Scale
    from route3d.drawing.plan_profile.setup import Setup
    from route3d.drawing.plan_profile.sheets import DrawingSheet, Sheet
    from route3d.drawing.plan_profile.surroundings import Surroundings
    from route3d.drawing.rigging.sheet import RiggingSheet
    from route3d.model.job import Job
    from route3d.planning.pull_plan.plan import Plan


_LEAST_MM = 25.0  # of a run on paper: a shorter one shows nothing (common practice, no source)
_MANY_SHEETS = 8  # for one run, of which the scale is worth a thought (own judgment)


class DrawingPaper(StrEnum):
    """The size of the sheets, landscape."""

    LETTER = "letter"
    TABLOID = "tabloid"
    A4 = "a4"
    A3 = "a3"
    A2 = "a2"
    A1 = "a1"
    A0 = "a0"
    ANSI_A = "ansi-a"
    ANSI_B = "ansi-b"
    ANSI_C = "ansi-c"
    ANSI_D = "ansi-d"
    ANSI_E = "ansi-e"
    ARCH_A = "arch-a"
    ARCH_B = "arch-b"
    ARCH_C = "arch-c"
    ARCH_D = "arch-d"
    ARCH_E = "arch-e"


def drawing(
    model: ModelFile,
    file: Annotated[
        Path,
        typer.Argument(
            metavar="FILE.pdf|.svg|.dxf",
            help="Drawing to write; the extension selects the format.",
            show_default=False,
        ),
    ],
    run: RunOption = None,
    paper: Annotated[
        DrawingPaper | None,
        option(
            None,
            "Sheet size. Default: tabloid for jobs in US units, else a3; with --rigging letter "
            "or a4.",
            case_sensitive=False,
        ),
    ] = None,
    scale: Annotated[
        str | None,
        option(
            "1:200|1in=20ft",
            "Scale. Default: the largest round scale that fits a single sheet, but no "
            "smaller than 1:500 or 1in=40ft.",
        ),
    ] = None,
    rigging: Annotated[
        bool,
        typer.Option(
            "--rigging",
            help="The rigging at both ends of the pull instead: to scale, plan and side view.",
        ),
    ] = False,
    feed: Annotated[
        str | None,
        option("END", "With --rigging: feed from the end of this name. Default: the better end."),
    ] = None,
    way: Annotated[
        int | None,
        option(
            "N",
            "With --rigging: every stage of way N to split the run, as in the plan.",
            parser=whole_number(),
        ),
    ] = None,
    language: LanguageOption = "en",
    draft: DraftOption = False,
    units: UnitsOption = None,
) -> None:
    """Plan and profile drawings for construction; with --rigging the drawing to rig by.

    Plan and profile of every run on sheets to scale: stations, each bend with number, radius and
    angle, pull points with their boxes, elevations, lengths of straights, grade and conduit. Around
    it the duct bank, other runs, rooms and building meshes, the ground and the cover below it. Long
    runs are cut into several sheets with match lines and a key plan: pages of a PDF, layouts of a
    DXF, and FILE-1.svg, FILE-2.svg, ... Sections through banks and boxes, and details of what has
    no room, follow on sheets of their own. The title block is filled from [document].

    The profile is developed along the plan: a riser is drawn upright with its length. A DXF has
    model space in true size on the grid of the site. With --draft each sheet says DRAFT.

    With --rigging: for the machine end and the feed end of every run, a sheet with plan and side
    view to scale. Conduit end, cable head, sheaves with the force on each, rope, machine, anchor,
    reels and operator, and hatched where nobody stands while the rope is loaded. What the model
    file does not give is drawn dashed. Exit code 1 if a pull must not be made: it gets no drawing.

    Example: route3d drawing models/yard_run.toml Y1.pdf --scale 1in=50ft
    """
    from route3d.drawing.plan_profile.layout import parse_scale
    from route3d.drawing.plan_profile.sheets import job_sheets
    from route3d.modelfile.read import load

    refuse_suffix("FILE", file, ".pdf", ".svg", ".dxf")
    wanted = parse_scale(scale) if scale is not None else None
    job = read_job(model, run)
    system = system_of(job, units)
    if rigging:
        small = DrawingPaper.LETTER if system == "US" else DrawingPaper.A4
        plans = _plans(job, model, feed, way, system, draft=draft)
        size = (paper or small).value
        _write_rigging(job, plans, file, system, size, wanted, language, draft=draft)
        raise exit_code(any(plan.stops for plan in plans))
    lone = {"--feed": feed, "--way": way}
    lone["--language"] = None if language == "en" else language
    for name, given in lone.items():
        if given is not None:
            said = f"{name} goes with --rigging"
            raise InputError(Problem(said, where=name, fix=f"add --rigging, or omit {name}"))
    large = DrawingPaper.TABLOID if system == "US" else DrawingPaper.A3
    size = (paper or large).value
    whole = load(model) if run is not None else job  # the other runs are drawn around it
    names = {one.name for one in job.runs}
    runs = [one for one in whole.runs if one.name in names]
    around = _around(whole)
    sheets = job_sheets(whole, runs, system, paper=size, scale=wanted, around=around, draft=draft)
    _refuse_dots(_of_runs(sheets), scale, system)
    _write(sheets, file, job.title)
    for line in _said(sheets):
        message(line)
    raise exit_code(False)


def _around(job: Job) -> Surroundings:
    """The ground, where it is given or a bank lies below it, and the plan of building meshes."""
    from route3d.drawing.plan_profile.surroundings import Surroundings, footprints
    from route3d.formats.building_meshes import read_buildings
    from route3d.formats.grade_surfaces import read_grade

    grade = read_grade(job) if job.site.grade.given or job.banks else None
    meshes = read_buildings(job) if job.site.context else ()
    return Surroundings(
        grade, footprints((path.stem, mesh.vertices, mesh.faces) for path, mesh in meshes)
    )


def _of_runs(sheets: Sequence[Sheet]) -> list[DrawingSheet]:
    """The sheets with plan and profile."""
    from route3d.drawing.plan_profile.sheets import DrawingSheet

    return [sheet for sheet in sheets if isinstance(sheet, DrawingSheet)]


def _refuse_dots(sheets: Sequence[DrawingSheet], scale: str | None, system: str) -> None:
    """InputError where the scale asked for leaves a run too short on paper to read."""
    from route3d.units import show

    for sheet in sheets:
        course, wanted = sheet.setup.course, sheet.setup.scale
        on_paper = course.path.length * wanted.mm
        if scale is not None and on_paper < _LEAST_MM:
            length = show(course.path.length, "length", system)
            said = (
                f"at {wanted.words(system)} run {course.run.name} of {length} is {on_paper:.1f} mm "
                "long on paper"
            )
            most = float(f"{course.path.length * 1000 / _LEAST_MM * 0.95:.1g}")
            fix = f"omit --scale, or use 1:{most:.0f} or larger"
            raise InputError(Problem(said, where="--scale", fix=fix))


def _said(sheets: Sequence[Sheet]) -> list[str]:
    """For each run how many sheets at which scale, and the sheets of sections and details."""
    lines = []
    drawn = _of_runs(sheets)
    for sheet in drawn:
        if sheet.number == 1:
            setup = sheet.setup
            count = len(setup.stretches)
            said = f"{count} sheet{'s' if count > 1 else ''} at {setup.scale.words(setup.system)}"
            lines.append(f"run {setup.course.run.name}: {said} on {setup.paper}")
            if count > _MANY_SHEETS:
                lines.append(_caution(setup))
    if more := len(sheets) - len(drawn):
        sections = sum(len(s.setup.cuts) for s in drawn if s.number == 1)
        details = sum(len(s.setup.details) for s in drawn if s.number == 1)
        counts = ((sections, "section"), (details, "detail"))
        what = ", ".join(f"{n} {name}{'s' * (n > 1)}" for n, name in counts if n)
        what = f"{what}, setting out" if what else "setting out"
        lines.append(f"{what} on {more} more sheet{'s' * (more > 1)}")
    return lines


def _caution(setup: Setup) -> str:
    """That a run takes many sheets, and about which scale would take few."""
    from route3d.drawing.plan_profile.layout import Scale, round_scales

    wanted = setup.scale.ratio * len(setup.stretches) / _MANY_SHEETS
    ratios = [s.ratio for scales in round_scales(setup.system) for s in scales]
    ratio = min((r for r in ratios if r >= wanted), default=wanted)
    few = f"--scale 1:{Scale(ratio).ratio:g}"
    return f"caution: {len(setup.stretches)} sheets for one run; {few} takes about {_MANY_SHEETS}"


def _write(sheets: Sequence[Sheet], file: Path, title: str) -> None:
    kind = file.suffix.lower()
    if kind == ".pdf":
        from route3d.drawing.plan_profile.sheets import sheets_pdf

        save(file, sheets_pdf(sheets, title))
        return
    if kind == ".dxf":
        from route3d.drawing.plan_profile.dxf import drawing_dxf

        save(file, drawing_dxf(sheets))
        return
    from route3d.drawing.plan_profile.sheets import sheet_svg

    for target, sheet in zip(_numbered(file, len(sheets)), sheets, strict=True):
        save(target, sheet_svg(sheet))


def _numbered(file: Path, count: int) -> list[Path]:
    """FILE-1.svg, FILE-2.svg, ...: a sheet each."""
    return [file.with_name(f"{file.stem}-{i}{file.suffix}") for i in range(1, count + 1)]


# --- rigging -------------------------------------------------------------------------------------


def _plans(
    job: Job, model: Path, feed: str | None, way: int | None, system: str, *, draft: bool
) -> list[Plan]:
    """The plan of every run, or of every stage of a way to split it."""
    from route3d.api import plan as plans_of
    from route3d.cli.plan import refuse_incomplete, ways_of
    from route3d.report.draft import refuse_unconfirmed

    if way is not None and feed is not None:
        said = "--feed and --way do not go together: the stages of a way have their own feed points"
        raise InputError(Problem(said, where="--way", fix="leave out one of the two"))
    refuse_unconfirmed(job, draft, "rigging drawing")
    refuse_incomplete(job, model)
    if way is None:
        found = plans_of(job, feed=feed, units=system)
        plans, site = list(found.plans), found.site
    else:
        ways, site = ways_of(job, way, system)
        plans = [plan for stages in ways for plan in stages]
    if lost := ", ".join(mesh.name for mesh in site if not mesh.judged):
        message(f"note: {lost} not judged, and left out when machines are placed; see: check")
    return plans


def _write_rigging(
    job: Job,
    plans: Sequence[Plan],
    file: Path,
    system: str,
    paper: str,
    scale: Scale | None,
    language: str,
    *,
    draft: bool,
) -> None:
    from route3d.drawing.rigging.sheet import rigging_sheets
    from route3d.report.translated import left_in_english, translation_for
    from route3d.units import render

    told = translation_for(job, plans, language)
    for plan in plans:
        if plan.stops:
            message(_why_none(plan, system))
    sheets = rigging_sheets(
        job,
        plans,
        system,
        paper=paper,
        scale=scale,
        draft=draft,
        words=lambda phrase: told.of(render(phrase, system)),
    )
    if not sheets:
        message("no rigging drawing written")
        return
    _save_rigging(sheets, file, job.title)
    for sheet in sheets:
        end, name = sheet.layout.end, _named(sheet.layout.plan)
        where = f"{end} end {sheet.layout.place}"
        message(f"{name}: {where} at {sheet.scale.words(system)} on {paper}")
    if left := left_in_english(told):
        message(f"note: {left}")


def _named(plan: Plan) -> str:
    if plan.place is None:
        return f"run {plan.result.run.name}"
    return f"run {plan.place.whole.name}, {plan.place.name}"


def _why_none(plan: Plan, system: str) -> str:
    """That a pull gets no drawing, and what stops it."""
    from route3d.units import render

    rules = ", ".join(dict.fromkeys(f"{f.rule} at {render(f.place, system)}" for f in plan.reasons))
    why = f": {rules}" if rules else ""
    helps = "route3d plan says what would help"
    return f"{_named(plan)}: no rigging drawing, this pull must not be made{why}; {helps}"


def _save_rigging(sheets: Sequence[RiggingSheet], file: Path, title: str) -> None:
    from route3d.drawing.rigging.dxf import rigging_dxf
    from route3d.drawing.rigging.sheet import rigging_pdf, rigging_svg

    kind = file.suffix.lower()
    if kind == ".pdf":
        save(file, rigging_pdf(sheets, title))
    elif kind == ".dxf":
        save(file, rigging_dxf(sheets))
    else:
        files = [file] if len(sheets) == 1 else _numbered(file, len(sheets))
        for target, sheet in zip(files, sheets, strict=True):
            save(target, rigging_svg(sheet))
