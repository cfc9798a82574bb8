"""Every suggestion, carried out by hand and solved again, does what it says."""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

import pytest

import route3d
from route3d.geometry.route_path import route_path, sub_route
from route3d.model import Cable, CableSet, Run
from route3d.model.practice import Practice
from route3d.planning import suggest as module
from route3d.planning.changes import with_radius
from route3d.planning.result import RunResult, evaluate_run
from route3d.planning.route_changes import ways
from route3d.planning.suggest import Suggestions, suggest
from route3d.planning.suggest_bends import move_words
from route3d.planning.suggest_points import splits
from route3d.planning.suggestion import Suggestion
from route3d.units import render
from tests.support.jobs import BOTH, FOOT, INCH, along, at, cable, conduit, lay, rope, run
from tests.support.routes import Go, Turn, vertices

MODELS = Path(route3d.__file__).parents[1] / "models"
PRACTICE = Practice()
STIFF = cable(bend_multiple=15.0)  # 0.6 m


def answered(wanted: Run) -> RunResult:
    return evaluate_run(wanted, PRACTICE)


def of(
    *pieces: Go | Turn,
    friction: float = 0.3,
    cables: Cable | Sequence[tuple[Cable, int]] | None = None,
    **more: object,
) -> RunResult:
    # Friction is known exactly here: what a brake makes of a range of it is tested elsewhere.
    duct = conduit(friction=friction, friction_low=friction, friction_high=friction)
    return answered(run(along(vertices(list(pieces)), duct), cables, **more))


def only(found: Suggestions) -> tuple[Suggestion, ...]:
    (subject,) = found.subjects
    return subject.suggestions


def stops(result: RunResult) -> list[str]:
    return [f.rule for f in result.findings if f.severity == "stop"]


def test_nothing_to_change_where_the_run_passes() -> None:
    found = suggest(of(Go(10), Turn(90, 1.2), Go(10)))
    assert found.subjects == () and not found.together


@pytest.fixture(scope="module")
def yard() -> tuple[RunResult, Suggestions]:
    job = route3d.load(MODELS / "yard_run.toml")
    result = evaluate_run(job.runs[0], job.practice)
    return result, suggest(result)


def test_the_yard_run_can_be_split_bent_wider_or_given_a_vault(
    yard: tuple[RunResult, Suggestions],
) -> None:
    _, found = yard
    kinds = [s.kind for s in only(found)]
    assert kinds == ["split", "radius", "radius", "pull point"]
    costs = [s.cost for s in only(found)]
    assert costs == sorted(costs)
    # What does not help is said.
    assert any("no single vertex moved" in render(n, "US") for n in found.subjects[0].notes)


def test_a_radius_passes_as_printed_and_a_little_less_does_not(
    yard: tuple[RunResult, Suggestions],
) -> None:
    result, found = yard
    for s in only(found):
        if s.kind != "radius":
            continue
        assert s.vertex is not None and s.radius is not None
        printed = math.ceil(s.radius / INCH * 10 - 1e-9) / 10 * INCH
        assert f"{printed / INCH:g} in" in render(s.text, "US")
        for radius, right in ((printed, True), (s.radius * 0.98, False)):
            changed = with_radius(result.run, s.vertex, radius)
            again = evaluate_run(changed, result.practice)
            assert (again.decision.choice is not None) is right


def test_every_part_of_a_split_passes(yard: tuple[RunResult, Suggestions]) -> None:
    result, found = yard
    split_ones = [s for s in only(found) if s.kind in ("split", "pull point")]
    assert len(split_ones) == 2
    for s in split_ones:
        ends = [0, *s.changed.route.pull_points, len(s.changed.route.vertices) - 1]
        cuts = cut_at(s, ends)
        assert len(cuts) == len(s.stations) + 2 and len(s.feeds) == len(s.stations) + 1
        for a, b in itertools.pairwise(cuts):
            part = replace(s.changed, route=sub_route(s.changed.route, a, b), splices=frozenset())
            assert evaluate_run(part, result.practice).decision.choice


def cut_at(s: Suggestion, ends: list[int]) -> list[int]:
    """The vertices of the stations a run is cut at, with both ends."""
    path = answered(s.changed).path
    at_station = {0: 0.0, ends[-1]: path.length}
    for vertex in ends[1:-1]:
        leg = int((path.leg < vertex).sum())
        at_station[vertex] = float(path.stations[leg])
    wanted = [0.0, *s.stations, path.length]
    return [
        min(at_station, key=lambda v, w=w: abs(at_station[v] - w))  # type: ignore[misc]
        for w in wanted
    ]


def test_a_tight_bend_gets_the_radius_of_the_cable() -> None:
    result = of(Go(20), Turn(90, 0.4), Go(20), cables=STIFF)
    assert stops(result) == ["cable bend radius"]
    (s,) = only(suggest(result))
    assert (s.kind, s.vertex) == ("radius", 1)
    assert s.radius == pytest.approx(0.6, rel=1e-12)
    assert stops(answered(with_radius(result.run, 1, 0.6))) == []


def test_a_factory_elbow_may_be_smaller_than_a_field_bend() -> None:
    """RMC 4: elbow 16 in, field bend 24 in; a cable that asks for 12 in would do with the elbow."""
    steel = conduit(
        stock_type="RMC",
        trade_size="4",
        elbow_radius=16 * INCH,
        min_bend_radius=24 * INCH,
        min_bend_source="table",
    )
    route = along(vertices([Go(9), Turn(90, 10 * INCH), Go(9)]), steel)
    found = only(suggest(answered(run(route, cable(bend_multiple=5.0)))))
    assert [s.radius for s in found] == pytest.approx([16 * INCH, 24 * INCH])
    assert "as a factory elbow" in render(found[0].text, "US")


def crowded() -> RunResult:
    turns = Turn(90, 0.5), Go(0.05), Turn(90, 0.6, "right")
    return of(Go(20), *turns, Go(20), cables=STIFF)


def test_a_vertex_is_moved_where_the_radius_does_not_fit() -> None:
    found = only(suggest(crowded()))
    assert found and {s.kind for s in found} == {"move"}
    for s in found:
        assert stops(answered(s.changed)) == []
        assert s.to is not None and s.vertex is not None
        given = crowded().run.route.vertices[s.vertex].point
        assert s.changed.route.vertices[s.vertex].point == s.to
        # 0.1 m more radius finds 0.05 m: 0.05 m are lacking, and no way is shorter than that.
        assert 0.05 <= math.dist(given, s.to) < 0.1


def test_what_cannot_be_mended_says_so() -> None:
    """Between two fixed ends 0.5 m from the corner no bend of 4 m goes in, wherever it moves."""
    end, machine = "reel machine", conduit()
    route = lay(
        at((0, 0, 0), ends=end),
        at((0.5, 0, 0), 0.4),
        at((0.5, 0.5, 0), ends=end),
        conduits=machine,
    )
    found = suggest(answered(run(route, cable(bend_multiple=100.0))))
    assert only(found) == ()
    said = render(found.subjects[0].why_none, "SI")
    assert said.startswith("none found: 4 m is needed, 0.5 m fits")
    assert "does not mend everything" in render(found.together, "SI")


def test_too_much_turn_gets_a_pull_point() -> None:
    turns = [p for i in range(6) for p in (Turn(90, 1, "left" if i % 2 else "right"), Go(5))]
    result = of(Go(20), *turns, friction=0.1)
    assert "degrees between pull points" in stops(result)
    (s,) = only(suggest(result))
    assert s.kind == "pull point" and len(s.stations) == 1
    again = answered(s.changed)
    assert stops(again) == []
    assert len(again.run.route.pull_points) == 1
    assert again.path.length == pytest.approx(result.path.length, rel=1e-12)
    assert "270.0° + 270.0° of bends" in render(s.text, "SI")


def test_bends_without_straights_leave_no_place_for_a_pull_point() -> None:
    turns = [Turn(60, 1, "left" if i % 2 else "up") for i in range(8)]
    found = suggest(of(Go(3), *turns, Go(3), friction=0.05))
    subject = found.subjects[0]
    assert subject.suggestions == ()
    assert "no straight between the bends" in render(subject.why_none, "SI")


def test_a_vertex_is_moved_just_so_far_that_the_pull_passes() -> None:
    """Nearer to the line between its neighbours a vertex turns less, and the pull gets lighter."""
    turns = Go(12), Turn(90, 1.2), Go(12), Turn(90, 1.2, "right"), Go(12)
    easy = of(*turns, cables=cable(sidewall_limit=9000.0))
    peak = easy.best.pull.peak_sidewall
    result = of(*turns, cables=cable(sidewall_limit=0.97 * peak))
    moves = [s for s in only(suggest(result)) if s.kind == "move"]
    assert moves
    for s in moves:
        assert answered(s.changed).decision.choice is not None
        assert s.vertex is not None and s.to is not None
        given = result.run.route.vertices[s.vertex].point
        # found to 3 cm, and 3 cm more for the rounding of what is printed: 7 cm less is too little
        share = 1 - 0.07 / math.dist(given, s.to)
        short = tuple(g + share * (t - g) for g, t in zip(given, s.to, strict=True))
        vertices_ = list(result.run.route.vertices)
        vertices_[s.vertex] = replace(vertices_[s.vertex], point=short)
        route = replace(result.run.route, vertices=tuple(vertices_))
        assert answered(replace(result.run, route=route)).decision.choice is None
        assert render(s.text, "SI").startswith(f"move point {s.vertex + 1} by ")


def test_a_vertex_moved_to_the_place_printed_passes() -> None:
    """Oblique, so that all three coordinates are rounded: to 0.1 ft, in the worst of ways."""
    turns = Go(12), Turn(90, 1.2, (0, 1, 0.7)), Go(12), Turn(70, 1.2, (-1, -1, 0.4)), Go(12)
    easy = of(*turns, cables=cable(sidewall_limit=9000.0))
    limit = 0.97 * easy.best.pull.peak_sidewall
    result = of(*turns, cables=cable(sidewall_limit=limit))
    moves = [s for s in only(suggest(result)) if s.kind == "move"]
    assert moves
    half = 0.05 * FOOT
    for s in moves:
        assert s.vertex is not None and s.to is not None
        for signs in itertools.product((-half, half), repeat=3):
            vertices_ = list(result.run.route.vertices)
            point = tuple(t + by for t, by in zip(s.to, signs, strict=True))
            vertices_[s.vertex] = replace(vertices_[s.vertex], point=point)
            route = replace(result.run.route, vertices=tuple(vertices_))
            assert answered(replace(result.run, route=route)).decision.choice is not None


def test_a_hard_pull_is_cut_at_new_pull_points() -> None:
    turns = (Turn(90, 1.2), Go(150), Turn(60, 1.2, "right"), Go(100), Turn(90, 1.2))
    cables = [(cable(sidewall_limit=4000.0), 3)]
    result = of(Go(200), *turns, Go(50), friction=0.35, cables=cables, rope=rope())
    (s,) = only(suggest(result))
    assert s.kind == "pull point" and len(s.stations) == 2 and len(s.feeds) == 3
    route = s.changed.route
    cuts = [0, *route.pull_points, len(route.vertices) - 1]
    for a, b in itertools.pairwise(cuts):
        assert answered(replace(s.changed, route=sub_route(route, a, b))).decision.choice


def test_bends_are_mended_before_the_pull() -> None:
    """Two tight bends and a pull that stays too hard: three subjects, each with the ones before."""
    pieces = (Go(150), Turn(90, 0.4), Go(150), Turn(90, 0.5, "right"), Go(150))
    result = of(*pieces, friction=0.5, cables=replace(STIFF, sidewall_limit=4500.0))
    found = suggest(result)
    whats = [render(s.what, "SI").split(":")[0] for s in found.subjects]
    assert whats == ["bend 1", "bend 2", "the pull"]
    last = found.subjects[-1].suggestions[0].changed.route
    assert min(v.bend for v in last.vertices if v.bend) >= 0.6


def test_both_ends_without_access_are_left_to_who_lists_them() -> None:
    result = of(Go(10), Turn(90, 1.2), Go(10))
    shut = [
        replace(v, access=frozenset({"reel"})) if v.access else v for v in result.run.route.vertices
    ]
    route = replace(result.run.route, vertices=tuple(shut))
    found = suggest(answered(replace(result.run, route=route)))
    assert only(found) == ()
    assert "must give room" in render(found.subjects[0].why_none, "SI")


def test_a_long_run_says_what_was_not_tried() -> None:
    turns = [p for i in range(60) for p in (Turn(5, 1, "left" if i % 2 else "right"), Go(9))]
    result = of(Go(9), *turns, friction=0.4, cables=cable(sidewall_limit=500.0))
    subject = suggest(result).subjects[-1]
    said = [render(n, "SI") for n in subject.notes]
    assert any("not tried: a larger bend at 54 of 60 bends" in s for s in said)


def test_a_move_says_which_riser_then_leans_and_which_duct_then_slopes() -> None:
    """The top of a riser of 10 m, 1 m out at 45 degrees: it leans by atan(0.7071 / 10.7071)."""
    points = [(0, 0, 0), (0, 0, 10), (10, 0, 10)]
    route = lay(at(points[0]), at(points[1], 1.0), at(points[2]), conduits=conduit())
    wanted = run(route)
    outside = next(w for w in ways(route, 1) if w.words == "to the outside of the bend")
    said = render(move_words(wanted, 1, outside, 1.0), "SI")
    lean = math.degrees(math.atan2(math.sqrt(0.5), 10 + math.sqrt(0.5)))
    assert f"plumb now, then leans by {lean:.1f}°" in said
    assert f"level now, then slopes by {lean:.1f}°" in said
    along = next(w for w in ways(route, 1) if w.words == "away from point 1")
    words = render(move_words(wanted, 1, along, 1.0), "SI")
    assert "leans" not in words and "level now, then slopes by 5.7°" in words


@pytest.mark.parametrize(("rise", "more"), [(0.0, {"up", "down"}), (10.0, set())])
def test_a_vertex_at_a_plumb_leg_moves_up_and_down_along_it(rise: float, more: set[str]) -> None:
    """Along a plumb leg up and down are already the ways toward its other end and away from it."""
    route = lay(
        at((0, 0, 0)),
        at((0, 0, 10) if rise else (10, 0, 0), 1.0),
        at((10, 10, rise)),
        conduits=conduit(),
    )
    found = {w.words: w.direction for w in ways(route, 1)}
    assert {"up", "down"} & set(found) == more
    assert len(found) == 6 + len(more)
    if rise:
        assert found["away from point 1"] == (0.0, 0.0, 1.0)


def test_a_straight_that_is_too_long_is_cut_at_new_pull_points() -> None:
    """No bend to change: only less cable in one pull helps."""
    result = of(Go(400), friction=0.5, cables=cable(max_tension=3000.0), rope=rope())
    (subject,) = suggest(result).subjects
    assert {s.kind for s in subject.suggestions} == {"pull point"}
    assert not any("bend" in render(n, "SI") for n in subject.notes)
    for s in subject.suggestions:
        route = s.changed.route
        cuts = [0, *route.pull_points, len(route.vertices) - 1]
        for a, b in itertools.pairwise(cuts):
            assert answered(replace(s.changed, route=sub_route(route, a, b))).decision.choice


def test_of_many_tight_bends_those_past_the_twelfth_are_counted() -> None:
    turns = [p for i in range(15) for p in (Turn(20, 0.4, "left" if i % 2 else "right"), Go(6))]
    found = suggest(of(Go(6), *turns, friction=0.01, cables=STIFF))
    assert len(found.subjects) == 13
    assert all(s.suggestions[0].radius == pytest.approx(0.6) for s in found.subjects[:-1])
    last = found.subjects[-1]
    assert render(last.what, "SI") == "3 more bends break a least radius, from bend 13 on"
    assert "does not mend everything" in render(found.together, "SI")


def test_only_the_stretch_that_turns_too_much_gets_a_pull_point() -> None:
    """540 degrees lie beyond the vault of a run, and nothing before it."""
    turns = [p for i in range(6) for p in (Turn(90, 1, "left" if i % 2 else "right"), Go(5))]
    points, radii = vertices([Go(20), *turns])
    first, *rest = (at(p, r) for p, r in zip(points.tolist(), radii.tolist(), strict=True))
    ends = {"access": frozenset({"reel", "machine"})}
    vault = at((10, 0, 0), name="vault", ends=BOTH)
    route = lay(
        replace(first, **ends),
        vault,
        *rest[:-1],
        replace(rest[-1], **ends),
        conduits=conduit(friction=0.1),
    )
    result = answered(run(route))
    (s,) = only(suggest(result))
    assert s.kind == "pull point" and len(s.stations) == 1
    assert s.stations[0] > 10.0 and stops(answered(s.changed)) == []
    assert [v.name for v in s.changed.route.vertices if v.access][1] == "vault"


def test_more_new_pull_points_than_four_are_counted() -> None:
    """24 quarter turns, 2,160 degrees: 5 pull points leave 360 in each of 6 parts."""
    turns = [p for i in range(24) for p in (Turn(90, 1, "left" if i % 2 else "right"), Go(5))]
    result = of(Go(20), *turns, friction=0.001)
    (subject,) = suggest(result).subjects
    (s,) = subject.suggestions
    assert len(s.stations) == 5
    assert "5 pull points, the first at station" in render(s.text, "SI")
    assert "(360.0° of bends at most in each part)" in render(s.text, "SI")
    assert stops(answered(s.changed)) == []


def test_a_run_of_very_many_pull_points_is_left_to_the_plan_to_split() -> None:
    def runs(count: int) -> Run:
        vault = [at((10.0 * i, 0, 0), name=f"V{i}", ends=BOTH) for i in range(count + 2)]
        return run(lay(*vault, conduits=conduit(friction=0.5)), cable(max_tension=2000.0))

    for count, cut in ((40, True), (41, False)):
        wanted = runs(count)
        assert bool(list(splits(wanted, PRACTICE, route_path(wanted.route)))) is cut


@pytest.mark.parametrize(
    ("most", "together"), [(12, "with the first of each"), (0, "each was solved by itself")]
)
def test_more_new_pull_points_than_a_mend_has_are_not_built_on(
    monkeypatch: pytest.MonkeyPatch, most: int, together: str
) -> None:
    """A run that turns 540 degrees and whose last bend takes too much: one point is many here."""
    monkeypatch.setattr(module, "_MOST_POINTS", most)
    monkeypatch.setattr(module, "_MOST_TRIES", 2)
    turns = [p for i in range(6) for p in (Turn(90, 1, "left" if i % 2 else "right"), Go(5))]
    peak = of(Go(20), *turns, friction=0.1).best.pull.peak_sidewall
    result = of(Go(20), *turns, friction=0.1, cables=cable(sidewall_limit=0.97 * peak))
    found = suggest(result)
    assert [len(s.suggestions) > 0 for s in found.subjects] == [True, True]
    assert render(found.together, "SI").startswith(together)
    points = [
        len(s.changed.route.pull_points)
        for s in found.subjects[1].suggestions
        if s.kind != "pull point"
    ]
    assert set(points) == ({1} if most else {0})


def test_of_two_stretches_of_one_name_the_one_that_turns_gets_the_pull_point() -> None:
    """Three vaults called MH: straight between the first two, 540 degrees between the others."""
    turns = [p for i in range(6) for p in (Turn(90, 1, "left" if i % 2 else "right"), Go(5))]
    points, radii = vertices([Go(40), *turns])
    rest = [at(p, r) for p, r in zip(points[1:-1].tolist(), radii[1:-1].tolist(), strict=True)]
    vaults = [at((x, 0, 0), name=name, ends=BOTH) for x, name in ((0, "A"), (10, "MH"), (20, "MH"))]
    last = at(points[-1].tolist(), name="MH", ends=BOTH)
    (s,) = only(suggest(answered(run(lay(*vaults, *rest, last, conduits=conduit(friction=0.05))))))
    assert s.kind == "pull point" and len(s.stations) == 1 and s.stations[0] > 40.0
    assert stops(answered(s.changed)) == []


def test_a_split_takes_a_vault_that_turns_and_a_new_point_beside_it() -> None:
    """A vault that turns must be cut at; what lies behind it is still too long for one pull."""
    route = lay(
        at((0, 0, 0), name="A", ends=BOTH),
        at((100, 0, 0), name="vault", ends=BOTH),
        at((100, 400, 0), name="B", ends=BOTH),
        conduits=conduit(friction=0.5),
    )
    (s,) = only(suggest(answered(run(route, cable(max_tension=3000.0)))))
    assert s.kind == "pull point" and len(s.feeds) == 3 and 100.0 in s.stations
    assert "and split at 1 more that are there" in render(s.text, "SI")
    cuts = [0, *s.changed.route.pull_points, len(s.changed.route.vertices) - 1]
    for a, b in itertools.pairwise(cuts):
        assert answered(replace(s.changed, route=sub_route(s.changed.route, a, b))).decision.choice


@pytest.mark.parametrize(("breaking", "found"), [(1e6, True), (3000.0, False)])
def test_no_split_where_a_part_fails_by_what_only_its_own_checks_know(
    breaking: float, found: bool
) -> None:
    """The rope breaks at less than four times the load of any part, though it is rated for it."""
    line = replace(rope(), breaking_strength=breaking)
    ends = at((0, 0, 0), ends=BOTH), at((400, 0, 0), ends=BOTH)
    wanted = run(lay(*ends, conduits=conduit(friction=0.5)), cable(max_tension=3000.0), rope=line)
    assert bool(list(splits(wanted, PRACTICE, route_path(wanted.route)))) is found


def test_a_move_after_which_the_pull_fails_is_not_offered() -> None:
    """722 N/m are just enough for the run as it is; with some vertices moved it takes more."""
    limit = 1.0001 * min(c.pull.peak_sidewall for c in crowded().candidates)
    weak = answered(
        replace(crowded().run, cables=CableSet(((replace(STIFF, sidewall_limit=limit), 1),)))
    )
    assert weak.decision.choice is not None
    found = only(suggest(weak))
    assert found and {s.kind for s in found} == {"move"}
    for s in found:
        again = answered(s.changed)
        assert stops(again) == [] and again.decision.choice is not None
