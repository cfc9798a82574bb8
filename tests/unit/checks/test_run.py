from __future__ import annotations

from route3d.checks import check_pull, check_run
from route3d.geometry.fillet import route_path
from route3d.mechanics.pull import run_fits, solve_pull
from route3d.model import Practice, Run
from route3d.units import render
from tests.support import jobs
from tests.support.jobs import at, cable, conduit, lay

PRACTICE = Practice()


def full_run(prefix: str = "") -> Run:
    """A run that every check has something to say of; names start with ``prefix``."""
    route = lay(
        at((0, 0, 30), name=f"{prefix}roof", ends="reel machine", box=(1.0, 1.0, 1.0)),
        at((4, 0, 30), 1.2, name=f"{prefix}edge"),
        at((4, 0, 0), 1.2),
        at((20, 0, 0), name=f"{prefix}V1", ends="reel machine", box=(0.2, 0.2, 0.2)),
        at((20, 30, 0), name=f"{prefix}end", ends="reel machine"),
        conduits=conduit(
            2.85 * 0.04,
            name=f"{prefix}duct",
            doubtful=True,
            min_bend_radius=1.5,
            min_bend_source="x",
        ),
    )
    cables = [(cable(f"{prefix}phase"), 3)]
    line, puller = jobs.rope(name=f"{prefix}line"), jobs.machine(name=f"{prefix}puller")
    return jobs.run(route, cables, name=f"{prefix}F1", rope=line, machine=puller, reel_tension=10.0)


def all_findings(run: Run) -> list:
    of_run = check_run(run, PRACTICE, route_path(run.route), run_fits(run))
    pulls = [solve_pull(run, PRACTICE, reverse=reverse) for reverse in (False, True)]
    return [*of_run, *(f for pull in pulls for f in check_pull(pull))]


def test_every_rule_speaks_once_it_has_cause() -> None:
    rules = {f.rule for f in all_findings(full_run())}
    assert rules == {
        "fill",
        "jam ratio",
        "clearance",
        "arrangement",
        "stock dimensions",
        "cable bend radius",
        "conduit bend radius",
        "degrees between pull points",
        "hanging weight",
        "riser support",
        "pull box, straight pull",
        "pull box, angle pull",
        "conductor tension",
        "pulling eyes load",
        "rope load",
        "machine line pull",
        "sidewall pressure",
        "slack cable",
        "turn at a pull point",
        "published bend multiple",
        "rope wear in a plastic bend",
    }


def test_every_finding_has_a_source_a_place_and_a_word_of_advice() -> None:
    for finding in all_findings(full_run()):
        assert finding.source and finding.where, finding.rule
        assert render(finding.fix, "US"), finding.rule
        assert finding.severity in ("stop", "caution", "note", "ok")


def test_no_name_breaks_a_sentence() -> None:
    for prefix in ("{", "}", "{}", "{0}", "{x!r}", "[red]", "[/]", "%s", "\\"):
        for finding in all_findings(full_run(prefix)):
            for system in ("US", "SI"):
                render(finding.fix, system)
                place = render(finding.place, system)
                if prefix in finding.where:
                    assert prefix in place, (finding.rule, place)
