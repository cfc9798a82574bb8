"""Legs typed on the page: the route they give, what is wrong at which leg, and what is saved."""

from __future__ import annotations

from pathlib import Path

import pytest

from route3d.geometry.leg_grammar import LegsError
from route3d.model import Job
from route3d.modelfile.edits import edited_model
from route3d.modelfile.read import load, loads
from viewer.web.edits import apply_edits, edit_fields, with_route
from viewer.web.route_edit import RouteEdit, moved, with_radii
from viewer.web.route_legs import drawn_by_legs, legs_data
from viewer.web.session import edited_run, machines_of

RISER = Path(__file__).parents[3] / "models" / "riser_duct_bank.toml"
FOOT = 0.3048


@pytest.fixture(scope="module")
def riser() -> Job:
    return load(RISER)


@pytest.fixture(scope="module")
def lines(riser: Job) -> tuple[str, ...]:
    return tuple(legs_data(riser, riser.runs[0], riser.runs[0], None)["lines"])


@pytest.fixture(scope="module")
def by_legs(lines: tuple[str, ...]) -> str:
    """The riser with legs in place of its points, a comment at each."""
    text = RISER.read_text()
    start, end = text.index("route = ["), text.index("[[bank]]")
    rows = "".join(f"  {leg!r},  # leg {i}\n" for i, leg in enumerate(lines, 1))
    return f"{text[:start]}legs = [\n{rows}]\n\n{text[end:]}"


def saved(job: Job, text: str, edit: RouteEdit) -> tuple[str, Job]:
    edits, machines = with_route({}, with_radii(edit, job.runs[0])), machines_of(job)
    made = edited_model(text, job, "F1", lambda run: apply_edits(run, machines, edits))
    return made, loads(made, "job.toml", RISER.parent)


def test_the_legs_of_the_file_are_its_route(riser: Job, lines: tuple[str, ...]) -> None:
    run = riser.runs[0]
    edit = drawn_by_legs(riser, run, lines)
    now = edited_run(riser, run, with_route({}, edit))[0]
    for a, b in zip(now.route.vertices, run.route.vertices, strict=True):
        assert a.point == pytest.approx(b.point, abs=1e-9)
        assert (a.name, a.access, a.box, a.line) == (b.name, b.access, b.box, b.line)
    told = legs_data(riser, run, run, None)
    assert told["notes"]["US"][4] == "180.0 ft, 95.0 ft, -6.0 ft; 180° since the last pull point"
    assert told["notes"]["US"][1] == "" and len(told["notes"]["SI"]) == len(lines)


@pytest.mark.parametrize(
    ("number", "text", "leg", "words"),
    [
        (2, "rigth 90 at 36 in", 2, 'did you mean "right"'),
        (5, "48 ft in raiser", 4, "there is no conduit 'raiser'; did you mean 'riser'?"),
        (1, "3 ft", 2, "needs 4.00 ft of straight to vault V1; available 3.00 ft"),
        (0, "120 ft", 0, "the first leg is not the start"),
        (2, "left 179 at 48 in", 2, "turns back on itself"),
    ],
)
def test_a_mistake_is_said_at_its_leg(
    riser: Job, lines: tuple[str, ...], number: int, text: str, leg: int, words: str
) -> None:
    with pytest.raises(LegsError) as error:
        drawn_by_legs(riser, riser.runs[0], [*lines[:number], text, *lines[number + 1 :]])
    (fault,) = error.value.faults
    assert fault.leg == leg and words in f"{fault.message}; {fault.fix}"


def test_a_route_closes_to_a_known_end_or_says_how_it_misses(
    riser: Job, lines: tuple[str, ...]
) -> None:
    run = riser.runs[0]
    closing = 'end "roof switchroom" for reel and machine at 195, 95.5, 42'
    edit = drawn_by_legs(riser, run, [*lines[:-1], closing])
    now = edited_run(riser, run, {"route": edit})[0]
    words = legs_data(riser, run, now, edit)["closing"]["US"]
    assert words.startswith("Misses the known end by 0.50 ft (x 0.00 ft, y 0.50 ft, z 0.00 ft).")
    assert "leg 4 longer by 0.50 ft" in words


def test_legs_in_a_file_of_points_are_saved_as_points(riser: Job, lines: tuple[str, ...]) -> None:
    typed = [*lines[:1], "150 ft horizontal, down 1 ft", "left 90 at 60 in", *lines[3:]]
    made, again = saved(riser, RISER.read_text(), drawn_by_legs(riser, riser.runs[0], typed))
    points = [tuple(round(c / FOOT, 6) for c in v.point) for v in again.runs[0].route.vertices]
    assert points[:3] == [(0, 0, -5), (150, 0, -6), (150, 95, -6)] and "legs" not in made
    assert again.runs[0].route.vertices[0].box == riser.runs[0].route.vertices[0].box
    # a pull box in the middle of a leg has no row to go by yet
    more = [*typed[:3], "40 ft", "pull point hall, box 36 x 24 x 24 in", "55 ft", *typed[4:]]
    _, again = saved(riser, RISER.read_text(), drawn_by_legs(riser, riser.runs[0], more))
    hall = again.runs[0].route.vertices[2]
    assert (hall.name, hall.access) == ("hall", {"reel", "machine"})
    assert hall.box == pytest.approx((36 * 0.0254, 24 * 0.0254, 24 * 0.0254))


def test_legs_in_a_file_of_legs_are_saved_as_typed_with_their_comments(
    by_legs: str, lines: tuple[str, ...]
) -> None:
    job = loads(by_legs, "job.toml", RISER.parent)
    typed = [*lines[:3], "50 ft", "right 30 at 48 in", "12 ft", "left 30 at 48 in", *lines[3:]]
    typed[9] = "60 ft in riser"
    typed = typed[:1] + ["170 ft horizontal, down 1 ft", *typed[2:]]
    made, again = saved(job, by_legs, drawn_by_legs(job, job.runs[0], typed))
    assert again.runs[0].route.legs is not None
    assert again.runs[0].route.legs.texts == tuple(typed)
    for i in range(1, len(lines) + 1):
        assert made.count(f"# leg {i}\n") == 1
    fewer = [*lines[:4], "end"]
    made, again = saved(job, by_legs, drawn_by_legs(job, job.runs[0], fewer))
    assert again.runs[0].route.legs is not None
    assert again.runs[0].route.legs.texts == tuple(fewer) and "# leg 4" in made


def test_a_point_dragged_after_legs_were_typed_goes_on_from_their_route(
    riser: Job, by_legs: str, lines: tuple[str, ...]
) -> None:
    typed = [*lines[:1], "150 ft", *lines[2:]]
    job = loads(by_legs, "job.toml", RISER.parent)
    for each, text in ((riser, RISER.read_text()), (job, by_legs)):
        run = each.runs[0]
        edit = drawn_by_legs(each, run, typed)
        edit = moved(edit, 1, (140 * FOOT, 0.0, -5 * FOOT), rest=True)
        now, kept = edited_run(each, run, with_route({}, edit))
        told = legs_data(each, run, now, edit)
        assert told["lines"][1] == "140 ft" and kept.keys() == {"route"}
        words = next(f for f in edit_fields(run, now, kept) if f.key == "route").change("US")
        assert words.startswith("Route: drawn anew by 9 legs; point 2 to")
        _, again = saved(each, text, edit)
        for a, b in zip(again.runs[0].route.vertices, now.route.vertices, strict=True):
            assert a.point == pytest.approx(b.point, abs=1e-9)
        assert (again.runs[0].route.legs is None) == (run.route.legs is None)
