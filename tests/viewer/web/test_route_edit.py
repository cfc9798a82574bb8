"""The points of a route moved, inserted and deleted on the page, and the run that comes of it."""

from __future__ import annotations

import math
from itertools import pairwise
from pathlib import Path

import pytest

from route3d.errors import InputError
from route3d.model import Job, Run
from route3d.modelfile.edits import edited_model
from route3d.modelfile.read import load, loads
from viewer.web.edits import (
    Edits,
    apply_edits,
    edit_fields,
    exact_text,
    route_now,
    with_edit,
    with_route,
)
from viewer.web.route_edit import (
    MOST_POINTS,
    RouteEdit,
    as_given,
    deleted,
    inserted,
    moved,
    read_route,
    route_text,
    with_bend,
    with_length,
    with_radii,
)
from viewer.web.session import edited_run, machines_of

RISER = Path(__file__).parents[3] / "models" / "riser_duct_bank.toml"
FOOT, INCH = 0.3048, 0.0254


@pytest.fixture(scope="module")
def riser() -> Job:
    return load(RISER)


def feet(*at: float) -> tuple[float, float, float]:
    x, y, z = (c * FOOT for c in at)
    return x, y, z


def run_of(job: Job, edit: RouteEdit, edits: Edits | None = None) -> Run:
    """The run with an edited route, as the page has it."""
    given = job.runs[0]
    return edited_run(job, given, with_route(edits or {}, with_radii(edit, given)))[0]


def places(run: Run) -> list[tuple[float, ...]]:
    return [tuple(round(c / FOOT, 9) for c in v.point) for v in run.route.vertices]


def test_a_point_moves_alone_or_with_all_after_it(riser: Job) -> None:
    edit = as_given(riser.runs[0].route)
    alone = run_of(riser, moved(edit, 1, feet(170, 0, -6)))
    assert places(alone)[1:3] == [(170, 0, -6), (180, 95, -6)]
    rest = run_of(riser, moved(edit, 1, feet(170, 0, -6), rest=True))
    assert places(rest) == [(0, 0, -5), (170, 0, -6), (170, 95, -6), (170, 95, 42), (185, 95, 42)]
    assert [v.name for v in rest.route.vertices] == [v.name for v in riser.runs[0].route.vertices]


def test_a_leg_takes_the_length_typed_along_its_own_direction(riser: Job) -> None:
    edit = with_length(as_given(riser.runs[0].route), 0, 100 * FOOT, rest=True)
    a, b = (p.at for p in edit.points[:2])
    assert math.dist(a, b) == pytest.approx(100 * FOOT, rel=1e-12)
    given = [p.at for p in as_given(riser.runs[0].route).points]
    for (p, q), (r, s) in zip(
        pairwise(given[1:]), pairwise([p.at for p in edit.points[1:]]), strict=True
    ):
        assert [y - x for x, y in zip(p, q, strict=True)] == pytest.approx(
            [y - x for x, y in zip(r, s, strict=True)]
        )


@pytest.mark.parametrize(
    ("change", "words"),
    [
        (lambda e, run: deleted(e, 0, run), "ends of a run"),
        (lambda e, run: deleted(e, 4, run), "ends of a run"),
        (lambda e, run: deleted(e, 9, run), "no point 10"),
        (lambda e, run: with_bend(e, 4, 1.0, run), "no bend"),
        (lambda e, run: inserted(e, 4), "no point 6"),
        (lambda e, run: moved(e, 1, e.points[0].at), "same point"),
        (lambda e, run: moved(e, 3, feet(181, -60, -6)), "turns back on itself"),
        (lambda e, run: moved(e, 3, feet(180, 95, -2)), "of straight"),
        (lambda e, run: RouteEdit("0" * 16, e.points), "another route"),
        (lambda e, run: RouteEdit(e.base, e.points[1:]), "another route"),
        (lambda e, run: RouteEdit(e.base, (*e.points[:2], e.points[1], *e.points[2:])), "another"),
    ],
)
def test_what_makes_no_route_is_refused_in_words(riser: Job, change: object, words: str) -> None:
    with pytest.raises(InputError, match=words):
        run_of(riser, change(as_given(riser.runs[0].route), riser.runs[0]))  # type: ignore[operator]


def test_radii_edited_before_stay_with_the_route_and_later_ones_go_into_it(riser: Job) -> None:
    given, edits = riser.runs[0], {"bend:2": 60 * INCH, "friction:duct": 0.4}
    edit = moved(route_now(given, edits), 1, feet(170, 0, -6), rest=True)
    wanted = with_route(edits, with_radii(edit, given))
    assert set(wanted) == {"route", "friction:duct"}
    wanted = with_edit(given, wanted, "bend:1", 50 * INCH)
    run, kept = edited_run(riser, given, wanted)
    assert kept == wanted
    assert [v.bend / INCH for v in run.route.vertices] == pytest.approx([0, 50, 60, 48, 0])
    assert run.route.conduits[0].friction == 0.4
    words = next(f for f in edit_fields(given, run, kept) if f.key == "route").change("US")
    assert words == (
        "Route: point 2 to roof switchroom moved 10.00 ft; bend radius at point 2: 48 in → 50 in; "
        "bend radius at point 3: 48 in → 60 in"
    )


def test_a_route_put_back_is_no_edit(riser: Job) -> None:
    given = riser.runs[0]
    edit = moved(as_given(given.route), 1, feet(170, 0, -6))
    back = moved(edit, 1, given.route.vertices[1].point)
    assert edited_run(riser, given, {"route": edit})[1] == {"route": edit}
    assert edited_run(riser, given, {"route": back})[1] == {}


def test_an_edited_route_outlives_a_reload_as_text(riser: Job) -> None:
    edit = inserted(moved(as_given(riser.runs[0].route), 1, (1 / 3, 2e-7, -1.1)), 0)
    assert read_route(exact_text("route", edit)) == (edit, ())
    text = route_text(edit)
    for bad in ("", "[]", "{}", text.replace("-1.1", "NaN"), text.replace("-1.1", "1e9")):
        with pytest.raises(InputError):
            read_route(bad)
    longest = RouteEdit(edit.base, (edit.points[1],) * MOST_POINTS)
    assert len(route_text(longest)) < 40_000
    with pytest.raises(InputError):
        read_route(route_text(RouteEdit(edit.base, (edit.points[1],) * (MOST_POINTS + 1))))


def test_what_is_written_reads_back_as_the_route_with_all_comments(riser: Job) -> None:
    given, text = riser.runs[0], RISER.read_text()
    edit = deleted(inserted(as_given(given.route), 0, feet(90, 12.5, -5)), 4, given)
    edits = with_route({}, with_radii(edit, given))
    machines = machines_of(riser)
    made = edited_model(text, riser, "F1", lambda run: apply_edits(run, machines, edits))
    again = loads(made, "job.toml", RISER.parent)
    run = run_of(riser, edit)
    for a, b in zip(again.runs[0].route.vertices, run.route.vertices, strict=True):
        assert a.point == pytest.approx(b.point, abs=1e-9)
        assert (a.name, a.access, a.box) == (b.name, b.access, b.box)
        assert a.bend == pytest.approx(b.bend)
    kept = [line for line in text.splitlines() if "#" in line]
    assert [line for line in kept if line not in made.splitlines()] == []
