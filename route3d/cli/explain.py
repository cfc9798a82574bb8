"""``route3d explain``: the formula, validity, source and figures behind a finding or a result."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from route3d.cli.common import (
    JsonOption,
    RunOption,
    UnitsOption,
    option,
    read_job,
    show,
    system_of,
    write_json,
)


def explain(
    rule: Annotated[
        list[str] | None,
        typer.Argument(
            metavar="[RULE]...",
            help="Rule of a finding, or a result such as weight factor.",
            show_default=False,
        ),
    ] = None,
    model: Annotated[
        Path | None,
        option("MODEL", "Put in the figures of this model file.", flag="--model"),
    ] = None,
    run: RunOption = None,
    json: JsonOption = False,
    units: UnitsOption = None,
) -> None:
    """Explain a finding or a result.

    Formula, symbols, where it holds, and source of any rule of a finding or result: tension in a
    straight or a bend, weight factor, jam ratio, fill, sidewall pressure, brake, restart, friction
    margin, rope, anchor and the rest. With a model file, the figures of each run put in. Without a
    rule, everything that can be explained is listed. A last word that ends in .toml is the model
    file.

    Example: route3d explain sidewall pressure models/yard_run.toml
    """
    from route3d.report.explain import explain_report, list_report
    from route3d.report.explanations import EXPLANATIONS, explanation_of
    from route3d.report.worked import explanation

    words = list(rule or ())
    if words and model is None and words[-1].lower().endswith((".toml", ".xlsx")):
        model = Path(words.pop())
    if not words:
        if json:
            write_json({"explanations": [{"key": e.key, "title": e.title} for e in EXPLANATIONS]})
        else:
            show(list_report())
        return
    asked = " ".join(words)
    explanation_of(asked)  # a miss is said before the model is read
    system = "SI" if units is None else units.value
    banner = ""
    if model is None:
        told = [explanation(asked, None, system)]
    else:
        from route3d.model.examples import example_banner
        from route3d.planning.evaluate import evaluate

        job = read_job(model, run)
        banner = example_banner(job.examples)
        system = "SI" if json else system_of(job, units)
        runs = evaluate(job, with_remedies=False).runs
        told = [explanation(asked, result, system) for result in runs]
    if json:
        write_json({"explanations": told})
    else:
        show(explain_report(told, banner))
