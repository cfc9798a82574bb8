"""``route3d legs``: each run leg by leg, as it was understood."""

from __future__ import annotations

from route3d.cli.common import (
    JsonOption,
    ModelFile,
    RunOption,
    UnitsOption,
    exit_code,
    read_job,
    show,
    system_of,
    write_json,
)


def legs(
    model: ModelFile,
    run: RunOption = None,
    json: JsonOption = False,
    units: UnitsOption = None,
) -> None:
    """Routes leg by leg.

    For every leg: its text, the bend before it, heading, grade, length from corner to corner, the
    coordinates of its end, and the total bend since the last pull point. With a known end: the
    closing error, and the smallest change of the lengths that closes it. A run given by points is
    printed as legs to paste into the model file.

    Example: route3d legs models/yard_run.toml
    """
    from route3d.report.legs import legs_data, legs_report, run_legs

    job = read_job(model, run)
    system = system_of(job, units)
    found = [run_legs(each, system) for each in job.runs]
    if json:
        write_json(legs_data(job, found))
    else:
        show(legs_report(job, found, system))
    raise exit_code(False)
