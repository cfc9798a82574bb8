"""Every change is applied and solved again; a little less of it must not do."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import pytest

from route3d.geometry.route_path import sub_route
from route3d.mechanics.pull import solve_pull, with_friction
from route3d.model import Practice, Route, Run
from route3d.planning.changes import Change, changes, passing_directions, with_radius
from route3d.planning.direction import Candidate
from route3d.planning.result import evaluate_run
from route3d.units import render, show
from tests.support import jobs
from tests.support.jobs import INCH, along, at, cable, conduit, lay
from tests.support.routes import Go, Turn, vertices

PRACTICE = Practice()


def passes(run: Run, practice: Practice = PRACTICE) -> bool:
    return evaluate_run(run, practice).decision.choice is not None


def yard(limit: float, ends: str = "reel machine") -> Run:
    """A level run of two bends with a pull vault in the middle, judged by sidewall pressure."""
    route = lay(
        at((0, 0, 0), name="A", ends=ends),
        at((60, 0, 0), 1.2, name="C1"),
        at((60, 60, 0), name="V1", ends=ends),
        at((60, 120, 0), 1.2),
        at((120, 120, 0), name="B", ends=ends),
        conduits=conduit(friction=0.25),
    )
    return jobs.run(route, [(cable(sidewall_limit=limit), 3)])


def kinds(found: Sequence[Change]) -> list[str]:
    return [change.kind for change in found]


def only(kind: str, found: Sequence[Change]) -> Change:
    return next(change for change in found if change.kind == kind)


def peak_sidewall(run: Run) -> float:
    return min(solve_pull(run, PRACTICE, reverse=r).peak_sidewall for r in (False, True))


# A little and a lot over the limit.
OVER = [1.05, 1.3, 2.0]


@pytest.fixture(params=OVER, ids=[f"{x:g} x" for x in OVER])
def broken(request: pytest.FixtureRequest) -> Run:
    whole = peak_sidewall(yard(1e9))
    run = yard(whole / request.param)
    assert not passes(run)
    return run


# --- friction -----------------------------------------------------------------------------------


def test_the_friction_change_passes_and_one_percent_more_does_not(broken: Run) -> None:
    change = only("friction", changes(broken, PRACTICE))
    (share, _), (worst, _), *_ = change.text.values
    assert passes(with_friction(broken, share))
    assert not passes(with_friction(broken, share + 0.01))
    assert share == round(share, 2)  # as it is printed
    assert f"{round(100 * share)}% of the figures given" in render(change.text, "US")
    # The coefficient printed beside it is to three places, never above the share.
    assert 0 < worst == round(worst, 3) <= 0.25 * share
    assert passes(with_friction(broken, worst / 0.25))


def test_lubricant_does_not_help_where_the_rope_alone_is_too_much() -> None:
    """A rope heavier than its cable: the peak is at the start, with all of the rope in the duct."""
    ends = [at((x, 0, 0), name=n, ends="reel machine") for x, n in ((0, "A"), (200, "B"))]
    route = lay(*ends, conduits=conduit(friction=0.3))
    run = jobs.run(route, rope=jobs.rope(weight=300.0, friction=0.3), machine=jobs.machine(1e9))
    pull = solve_pull(run, PRACTICE)
    assert pull.machine_peak == pytest.approx(300.0 * 0.3 * 200, rel=1e-6)
    run = replace(run, machine=jobs.machine(0.8 * pull.machine_peak))
    assert not passes(run) and passes(with_friction(run, 0.79))
    assert "friction" not in {change.kind for change in changes(run, PRACTICE)}


def test_the_friction_change_names_the_highest_coefficient() -> None:
    shape = vertices([Go(40), Turn(90, 1.2), Go(40)])
    ducts = [conduit(friction=0.2, name="a"), conduit(friction=0.4, name="b")]
    run = jobs.run(along(shape, ducts), [(cable(), 3)])
    limit = peak_sidewall(run) / 1.2
    run = jobs.run(along(shape, ducts), [(cable(sidewall_limit=limit), 3)])
    (share, _), (worst, _), *_ = only("friction", changes(run, PRACTICE)).text.values
    assert 0.4 * share - 0.01 < worst <= 0.4 * share


def test_no_lubricant_brings_friction_below_a_fifth() -> None:
    run = yard(1e9)
    at_a_fifth = peak_sidewall(with_friction(run, 0.2))
    assert "friction" in kinds(changes(yard(1.001 * at_a_fifth), PRACTICE))
    assert "friction" not in kinds(changes(yard(0.999 * at_a_fifth), PRACTICE))


# --- splits -------------------------------------------------------------------------------------


def test_the_split_passes_section_by_section() -> None:
    run = yard(peak_sidewall(yard(1e9)) / 1.3)
    change = only("split", changes(run, PRACTICE))
    head, *sections = render(change.text, "SI").split("; ")
    assert head == "split the run at V1: 2 pulls, each within its limits"
    for span, section in zip(((0, 2), (2, 4)), sections, strict=True):
        part = replace(run, route=sub_route(run.route, *span))
        choice = evaluate_run(part, PRACTICE).decision.choice
        assert choice is not None
        assert section == told(choice)


def told(choice: Candidate) -> str:
    """What a split must say of one section, from the section solved by itself."""
    pull, use = choice.pull, choice.utilisation
    least = "peak" if pull.machine_peak is not None else "at least"
    return (
        f"feed from {pull.feed_name}, pull at {pull.pull_name} (governing: "
        f"{choice.name(use.governing)}, {show(use.peak, 'percent', 'SI')}, machine {least} "
        f"{show(pull.machine_least, 'force', 'SI')}, reel brake "
        f"{show(pull.reel_tension, 'force', 'SI')})"
    )


def test_a_section_with_rope_and_brake_names_the_machine_peak_and_the_brake() -> None:
    run = yard(1e9)
    run = replace(run, rope=jobs.rope(), reel_tension=500.0)
    worst = min(solve_pull(run, PRACTICE, reverse=r).peak_sidewall for r in (False, True))
    limited = jobs.run(run.route, [(cable(sidewall_limit=worst / 1.3), 3)])
    run = replace(run, cables=limited.cables)
    text = render(only("split", changes(run, PRACTICE)).text, "SI")
    assert text.count("reel brake 0.50 kN") == 2
    part = replace(run, route=sub_route(run.route, 0, 2))
    choice = evaluate_run(part, PRACTICE).decision.choice
    assert choice is not None and choice.pull.machine_peak is not None
    assert f"machine peak, moving, {show(choice.pull.machine_peak, 'force', 'SI')}," in text


def test_no_split_where_a_section_breaks_too() -> None:
    assert "split" not in kinds(changes(yard(1.0), PRACTICE))


def test_no_split_at_a_vault_without_room() -> None:
    run = yard(peak_sidewall(yard(1e9)) / 1.3)
    v = list(run.route.vertices)
    v[2] = replace(v[2], access=frozenset({"reel"}))
    narrow = replace(run, route=replace(run.route, vertices=tuple(v)))
    # A reel can stand at V1 but no machine: both sections must feed from there, away from it.
    assert "split" in kinds(changes(narrow, PRACTICE))
    v[0] = replace(v[0], access=frozenset({"reel"}))
    v[4] = replace(v[4], access=frozenset({"reel"}))
    nowhere = replace(run, route=replace(run.route, vertices=tuple(v)))
    assert "split" not in kinds(changes(nowhere, PRACTICE))


def long_run(vaults: int, limit: float) -> Run:
    """A straight level run with vaults every 50 m."""
    stops = [at((50.0 * i, 0, 0), name=f"V{i}", ends="reel machine") for i in range(vaults + 2)]
    return jobs.run(lay(*stops, conduits=conduit()), cable(max_tension=limit))


@pytest.mark.parametrize(("spans", "cuts"), [(3.5, 1), (2.5, 2), (1.5, 3)])
def test_the_fewest_cuts_that_do_are_taken(spans: float, cuts: int) -> None:
    run = long_run(5, 0.3 * 25 * 50 * spans)  # six spans of 50 m, of which so many may be one pull
    expected = {1: "V3", 2: "V2 and V4", 3: None}[cuts]
    found = [render(c.text, "SI") for c in changes(run, PRACTICE) if c.kind == "split"]
    if expected is None:  # five cuts are needed, three are tried
        assert found == []
    else:
        (text,) = found
        head, *sections = text.split("; ")
        assert head == f"split the run at {expected}: {cuts + 1} pulls, each within its limits"
        assert len(sections) == cuts + 1


def test_where_only_the_far_end_lacks_access_a_split_can_serve() -> None:
    run = long_run(1, 1e9)
    v = list(run.route.vertices)
    v[0] = replace(v[0], access=frozenset({"machine"}))
    v[2] = replace(v[2], access=frozenset({"machine"}))
    run = replace(run, route=replace(run.route, vertices=tuple(v)))
    assert not passes(run)  # a reel can stand at the middle vault only
    assert kinds(changes(run, PRACTICE)) == ["split", "access", "access"]


# --- radii --------------------------------------------------------------------------------------


def radii(run: Run) -> dict[int, tuple[Change, float]]:
    found = {}
    for change in changes(run, PRACTICE):
        if change.kind == "radius":
            number = int(change.text.template.split("bend ")[1][0])
            found[{1: 1, 2: 3}[number]] = (change, change.text.values[0][0])
    return found


def test_each_radius_change_passes_and_two_percent_less_does_not(broken: Run) -> None:
    found = radii(broken)
    assert found
    for vertex, (_, radius) in found.items():
        assert passes(with_radius(broken, vertex, radius))
        assert not passes(with_radius(broken, vertex, 0.98 * radius))


@pytest.mark.parametrize("system", ["US", "SI"])
def test_the_radius_as_printed_passes_too(system: str) -> None:
    # Twelve limits, so that rounding to the printed figure goes down for some of them.
    whole = peak_sidewall(yard(1e9))
    for share in (1.02 + 0.03 * i for i in range(12)):
        run = yard(whole / share)
        for vertex, (change, _) in radii(run).items():
            printed = render(change.text, system).split()
            number = float(printed[printed.index("instead") - 2].replace(",", ""))
            metres = number * (INCH if system == "US" else 1.0)
            assert passes(with_radius(run, vertex, metres)), (share, vertex, number)


def test_a_bend_is_named_by_its_vertex_where_that_has_a_name() -> None:
    run = yard(peak_sidewall(yard(1e9)) / 1.05)
    texts = [render(c.text, "US") for c, _ in radii(run).values()]
    assert any(t.startswith("make bend 1 at C1 ") for t in texts)
    assert any(t.startswith("make bend 2 ") for t in texts)
    assert all(f" instead of {round(1.2 / INCH, 1)} in; then feed from " in t for t in texts)


def hemmed(room: float, limit: float) -> Run:
    """A bend of 90 degrees beside one of 11 degrees, with ``room`` of straight between them."""
    shape = vertices([Go(60), Turn(11, 1.2), Go(room), Turn(90, 1.2), Go(60)])
    return jobs.run(along(shape, conduit(friction=0.25)), [(cable(sidewall_limit=limit), 3)])


def test_a_bend_grows_as_far_as_its_neighbour_leaves_room() -> None:
    # The tangents leave 1.0 m: the bend of 90 degrees may grow from 1.2 m to 2.2 m, no further.
    free = peak_sidewall(with_radius(hemmed(1.0, 1e9), 2, 2.2 * (1 - 1e-9)))
    enough, short = hemmed(1.0, 1.01 * free), hemmed(1.0, 0.99 * free)
    assert not passes(enough)
    grown = [c.text.values[0][0] for c in changes(enough, PRACTICE) if "bend 2" in c.text.template]
    assert grown and grown[0] <= 2.2
    assert passes(with_radius(enough, 2, grown[0]))
    assert not [c for c in changes(short, PRACTICE) if "bend 2" in c.text.template]


def test_a_small_bend_beside_a_large_one_may_grow_too() -> None:
    # The bend of 11 degrees governs when it is tight: ten times its radius takes little straight.
    shape = vertices([Go(80), Turn(11, 0.6), Go(0.6), Turn(90, 3.0), Go(5)])
    loose = jobs.run(along(shape, conduit()), [(cable(sidewall_limit=1e9), 3)])
    one_way = replace(
        loose,
        route=replace(
            loose.route,
            vertices=(
                replace(loose.route.vertices[0], access=frozenset({"reel"})),
                *loose.route.vertices[1:-1],
                replace(loose.route.vertices[-1], access=frozenset({"machine"})),
            ),
        ),
    )
    limit = solve_pull(one_way, PRACTICE).peak_sidewall / 1.5
    run = replace(one_way, cables=jobs.run(loose.route, [(cable(sidewall_limit=limit), 3)]).cables)
    found = [c for c in changes(run, PRACTICE) if "bend 1" in c.text.template]
    assert found
    radius = found[0].text.values[0][0]
    assert passes(with_radius(run, 1, radius))
    assert not passes(with_radius(run, 1, 0.98 * radius))


# --- all together -------------------------------------------------------------------------------


def test_changes_come_cheapest_first() -> None:
    whole = peak_sidewall(yard(1e9))
    little = changes(yard(whole / 1.05), PRACTICE)
    assert kinds(little)[:2] == ["friction", "split"]
    much = changes(yard(whole / 1.6), PRACTICE)
    assert kinds(much)[0] == "split"
    for found in (little, much):
        assert [c.cost for c in found] == sorted(c.cost for c in found)


@pytest.mark.parametrize("kind", ["friction", "radius"])
def test_a_change_says_which_end_then_feeds_and_what_governs(broken: Run, kind: str) -> None:
    change = only(kind, changes(broken, PRACTICE))
    if kind == "friction":
        changed = with_friction(broken, change.text.values[0][0])
    else:
        number = int(change.text.template.split("bend ")[1][0])
        changed = with_radius(broken, {1: 1, 2: 3}[number], change.text.values[0][0])
    choice = evaluate_run(changed, PRACTICE).decision.choice
    assert choice is not None
    share = show(choice.utilisation.peak, "percent", "US")
    wanted = f"; then feed from {choice.pull.feed_name} (governing: sidewall pressure, {share})"
    assert render(change.text, "US").endswith(wanted)


# --- access -------------------------------------------------------------------------------------


def with_access(run: Run, first: str, last: str) -> Run:
    """The run with this access at its ends and none between."""
    ends = [first, *[""] * (len(run.route.vertices) - 2), last]
    shut = tuple(
        replace(v, access=frozenset(e.split()))
        for v, e in zip(run.route.vertices, ends, strict=True)
    )
    return replace(run, route=replace(run.route, vertices=shut))


@pytest.mark.parametrize(
    ("first", "last", "wanted"),
    [
        (
            "reel",
            "reel",
            ["the machine at B; then feed from A", "the machine at A; then feed from B"],
        ),
        (
            "machine",
            "machine",
            ["the reel at A; then feed from A", "the reel at B; then feed from B"],
        ),
        (
            "reel",
            "",
            [
                "the machine at B; then feed from A",
                "the reel at B and for the machine at A; then feed from B",
            ],
        ),
    ],
)
def test_missing_access_is_named_with_its_end(first: str, last: str, wanted: list[str]) -> None:
    run = with_access(yard(1e9), first, last)
    found = [render(c.text, "SI") for c in changes(run, PRACTICE)]
    assert [t.split(" (")[0] for t in found] == [f"make room for {w}" for w in wanted]


def test_access_is_no_help_where_a_limit_breaks_too() -> None:
    limit = peak_sidewall(yard(1e9)) / 1.3
    assert "access" not in kinds(changes(with_access(yard(limit), "reel", "reel"), PRACTICE))
    assert "access" not in kinds(changes(yard(limit), PRACTICE))  # none is missing


def test_passing_directions_are_those_the_decision_would_take() -> None:
    run = yard(1e9)
    assert passing_directions(run, PRACTICE) == (False, True)
    assert passing_directions(yard(1.0), PRACTICE) == ()
    hook = lay(
        at((0, 0, 0), ends="reel machine"),
        at((60, 0, 0), 1.5),
        at((60, 5, 0), ends="reel machine"),
        conduits=conduit(),
    )
    tensions = [solve_pull(jobs.run(hook), PRACTICE, reverse=r).peak_tension for r in (0, 1)]
    between = jobs.run(hook, cable(max_tension=sum(tensions) / 2, sidewall_limit=1e9))
    assert passing_directions(between, PRACTICE) == (True,)


@pytest.mark.parametrize("name", ["{}", "V{1}", "[red]", "}"])
def test_no_name_breaks_a_sentence(name: str) -> None:
    run = yard(peak_sidewall(yard(1e9)) / 1.05)
    named = tuple(replace(v, name=name) for v in run.route.vertices)
    run = replace(run, route=Route(named, run.route.conduits))
    texts = [render(c.text, s) for c in changes(run, PRACTICE) for s in ("US", "SI")]
    assert sum(name in text for text in texts) >= 4  # the split and a radius, in both systems


def test_practice_is_kept_while_changes_are_tried() -> None:
    # By the group's tension the same run is worse, so more must change.
    group = Practice(sidewall="group")
    limit = peak_sidewall(yard(1e9)) * 1.05
    assert passes(yard(limit)) and not passes(yard(limit), group)
    (share, _), *_ = only("friction", changes(yard(limit), group)).text.values
    assert passes(with_friction(yard(limit), share), group)


def test_eyes_instead_of_a_grip_and_a_lighter_brake_are_offered_where_they_help() -> None:
    route = along(vertices([Go(60), Turn(90, 1.2), Go(60)]), conduit(friction=0.1))
    sets = [(cable(sidewall_limit=9e9), 3)]
    held = jobs.run(route, sets, attach="basket grip", reel_tension=4000.0)
    kinds = {c.kind for c in changes(held, PRACTICE)}
    assert "attach" in kinds  # 4 kN grows past the 4.45 kN of a grip, far from that of eyes
    assert "brake" in kinds
    assert not {"attach", "brake"} & {c.kind for c in changes(jobs.run(route, sets), PRACTICE)}


def test_cables_that_do_not_go_in_are_mended_by_none_of_these() -> None:
    run = yard(1000.0)
    narrow = tuple(replace(c, inner_diameter=0.05) for c in run.route.conduits)
    assert changes(replace(run, route=replace(run.route, conduits=narrow)), PRACTICE) == ()


@pytest.mark.parametrize("tight", [2, 9, 13])
def test_of_many_bends_the_one_of_the_highest_pressure_is_tried(tight: int) -> None:
    """Fourteen bends, more than are tried: one of 0.8 m among those of 3 m is too tight."""
    pieces: list[Go | Turn] = [Go(8)]
    for number in range(1, 15):
        side = "left" if number % 2 else "right"
        pieces += [Turn(20, 0.8 if number == tight else 3.0, side), Go(8)]
    route = along(vertices(pieces), conduit(friction=0.02))
    most = peak_sidewall(jobs.run(route, reel_tension=1000.0))
    weak = jobs.run(route, cable(sidewall_limit=0.9 * most), reel_tension=1000.0)
    (change,) = [c for c in changes(weak, PRACTICE) if c.kind == "radius"]
    assert f"make bend {tight} " in render(change.text, "SI")
    (radius, _), *_ = change.text.values
    assert 0.8 < radius < 3.0 and passes(with_radius(weak, tight, radius))
