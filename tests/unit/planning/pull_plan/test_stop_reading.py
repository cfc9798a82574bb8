"""The stop reading: worked numbers, and marches of the test's own under every mix of causes.

``march`` below shares nothing with ``route3d.mechanics``: Runge-Kutta steps of the vector law of
docs/theory.md section 2 on the segments of the path.
"""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from route3d.checks.limits import cable_cap, conductor_limit, sidewall_limit
from route3d.geometry.path import ARC, CORNER, Path
from route3d.geometry.vectors import Floats
from route3d.mechanics.pull import Pull, at_friction, solve_pull
from route3d.mechanics.rope_scenarios import HeadTrack, head_track
from route3d.model import Cable, CableSet, LeadOff, Practice, Reel, Rigging, Sheave, Vertex
from route3d.planning.pull_plan.stop_reading import SLICK, Stops, stop_readings
from tests.support.jobs import (
    FOOT,
    INCH,
    LBF,
    LBF_PER_FT,
    along,
    at,
    cable,
    conduit,
    lay,
    rope,
    run,
)

PRACTICE = Practice()


def stops(pull: Pull, heads: list[float], **ratings: float) -> tuple[Stops, ...]:
    return stop_readings(track(pull, heads), **ratings)


def track(pull: Pull, heads: list[float]) -> HeadTrack:
    return head_track(pull, np.array(heads))


# --- worked numbers -------------------------------------------------------------------------------


def worked(radius: str) -> Pull:
    """The job of "O1 stop reading and friction margin" of the reference answers."""
    points = [[x * FOOT for x in p] for p in ([0, 0, -5], [300, 0, -5], [300, 200, -5])]
    points.append([420 * FOOT, 200 * FOOT, -5 * FOOT])
    bend = 48 * INCH
    one = cable(weight=5.385 * LBF_PER_FT, max_tension=8400 * LBF, sidewall_limit=500 * LBF_PER_FT)
    route = along((points, [0, bend, bend, 0]), conduit(5.016 * INCH, 0.22))
    line = rope(0.16 * LBF_PER_FT, 0.15, rated_load=1e9)
    return solve_pull(run(route, one, rope=line, reel=None), Practice(sidewall_radius=radius))


# Head ft, expected, stop with the radius on the axis and at the inner wall (lbf), what is reached,
# the drag of the reel that does it on the axis, and the reading if friction alone does it.
WORKED = [
    (100.0, 421.60, 13472.76, 13472.76, "conductor", "cable head", 8146.9, None),
    (302.2832, 876.62, 2540.00, 2407.74, "sidewall", "bend 1", 930.3, (2.2430, 3416.55)),
    (400.0, 1020.18, 2683.56, 2551.29, "sidewall", "bend 1", 930.3, (2.2430, 3848.11)),
    (500.5664, 1293.13, 2002.78, 1898.28, "sidewall", "bend 2", 355.6, (1.3356, 2003.72)),
    (616.5664, 1427.77, 2137.43, 2032.93, "sidewall", "bend 2", 355.6, (1.3356, 2183.54)),
]


@pytest.mark.parametrize(("radius", "column"), [("centerline", 2), ("inside", 3)])
def test_the_worked_stops_to_the_digits_printed(radius: str, column: int) -> None:
    pull = worked(radius)
    assert pull.path.length / FOOT == pytest.approx(616.5664, abs=5e-5)
    heads = [min(row[0] * FOOT + 1e-6, pull.path.length) for row in WORKED]
    read = track(pull, heads).loads(np.ones((len(heads), 1))).machine[:, 0] / LBF
    for row, expected, found in zip(WORKED, read, stops(pull, heads), strict=True):
        assert expected == pytest.approx(row[1], abs=0.006)
        assert found.moving.reading / LBF == pytest.approx(row[column], abs=0.006)
        assert (found.moving.limit, found.moving.place) == row[4:6]
        assert found.hidden == ()


@pytest.mark.parametrize("row", WORKED)
def test_the_worked_drag_attains_the_stop_and_friction_alone_only_higher(
    row: tuple[float, float, float, float, str, str, float, tuple[float, float] | None],
) -> None:
    pull = worked("centerline")
    head = min(row[0] * FOOT + 1e-6, pull.path.length)
    start = pull.start_tension + row[6] * LBF
    assert pull.start_tension / LBF == pytest.approx(134.625)
    load = float(track(pull, [head]).loads(np.ones((1, 1)), start).machine[0, 0]) / LBF
    assert load == pytest.approx(row[2], rel=3e-4)  # the drag is printed to four digits
    if row[7] is not None:
        factor, reading = row[7]
        load = float(track(pull, [head]).loads(np.full((1, 1), factor)).machine[0, 0]) / LBF
        assert load == pytest.approx(reading, rel=1e-4) and load > row[2]


# --- marches of the test's own --------------------------------------------------------------------


def march(path: Path, weight: float, friction: list[Floats], start: Floats) -> list[Floats]:
    """Tension at the joints for many starts at once; ``friction`` of each segment, ω included."""
    t, found = np.array(start, dtype=float), [np.array(start, dtype=float)]
    for i in range(len(path)):
        k = friction[i]
        if path.kind[i] == CORNER:
            t = t * np.exp(k * float(path.angles[i]))
        elif path.kind[i] == ARC:
            t = _arc(path, i, weight, k, t)
        else:
            rise = float(path.tangents[i, 2])
            slope = weight * (rise + k * math.sqrt(max(1 - rise * rise, 0.0)))
            t = np.maximum(t + slope * float(path.lengths[i]), 0.0)
        found.append(t)
    return found


def _arc(path: Path, i: int, weight: float, k: Floats, t: Floats) -> Floats:
    tangent, normal = path.tangents[i], path.normals[i]
    angle, length = float(path.angles[i]), float(path.lengths[i])
    curvature, n = angle / length, max(3, math.ceil(math.degrees(angle) / 2.5))

    def rate(s: float, t: Floats) -> Floats:
        a = curvature * s
        along_ = math.cos(a) * tangent + math.sin(a) * normal
        inward = math.cos(a) * normal - math.sin(a) * tangent
        up = np.array([0.0, 0.0, 1.0]) - along_[2] * along_
        q = t[:, None] * curvature * inward - weight * up
        return np.asarray(weight * along_[2] + k * np.sqrt((q * q).sum(axis=1)))

    h = length / n
    for step in range(n):
        s = step * h
        a = rate(s, t)
        b = rate(s + h / 2, np.maximum(t + h / 2 * a, 0))
        c = rate(s + h / 2, np.maximum(t + h / 2 * b, 0))
        d = rate(s + h, np.maximum(t + h * c, 0))
        t = np.maximum(t + h / 6 * (a + 2 * b + 2 * c + d), 0.0)
    return t


class World:
    """One pull with the head at a station, seen by the test's own march."""

    def __init__(self, pull: Pull, head: float, static: float = 1.0) -> None:
        self.pull, self.static = pull, static
        fine = pull.course.fine.stations[1:-1].tolist()
        cut = pull.path.split(np.array([*fine, head]))
        self.path = cut.reversed() if pull.reverse else cut
        gone = pull.path.length - head if pull.reverse else head
        self.joint = int(np.argmin(np.abs(self.path.stations - gone)))
        if self.joint < len(self.path) and self.path.kind[self.joint] == CORNER:
            self.joint += 1  # a head at a turn stands behind it

    def under(
        self, starts: Floats, multiples: Floats, snag: float = 0.0, snag_at: int = 0
    ) -> tuple[Floats, Floats]:
        """The largest share of a limit anywhere, and the reading, for many drags at once."""
        run, path = self.pull.run, self.path
        one = np.ones_like(starts)
        mu = [run.route.conduits[int(leg)].friction * self.static for leg in path.leg]
        ways = [m * multiples[int(leg)] * one for m, leg in zip(mu, path.leg, strict=True)]
        behind = _cut(path, 0, self.joint)
        at = min(snag_at, self.joint)
        w = run.cables.weight
        t = march(_cut(behind, 0, at), w, ways[:at], starts)
        t[-1] = t[-1] + snag
        t += march(_cut(behind, at, self.joint), w, ways[at : self.joint], t[-1])[1:]
        shares = [np.max(t, axis=0) / conductor_limit(run, self.pull.practice).value]
        shares.append(t[-1] / cable_cap(run).value)
        for i in range(self.joint):
            if path.kind[i] == ARC:
                bore = run.route.conduits[int(path.leg[i])].inner_diameter
                wall = np.maximum(t[i], t[i + 1]) / (float(path.radii[i]) - bore / 2)
                shares.append(wall / sidewall_limit(run).value)
        line = run.rope
        assert line is not None
        ahead = _cut(path, self.joint, len(path))
        mu_rope = [line.friction * self.static * one] * len(ahead)
        r = march(ahead, line.weight, mu_rope, t[-1])
        shares.append(np.max(r, axis=0) / line.rated_load)
        return np.max(shares, axis=0), r[-1]


def _cut(path: Path, first: int, last: int) -> Path:
    names = ("kind", "lengths", "angles", "starts", "tangents", "normals", "vertex", "leg")
    return Path(**{name: getattr(path, name)[first:last] for name in names})


def random_pull(seed: int) -> Pull:
    """Six legs of two conduits with bends of a quarter turn or less, up and down, either end."""
    rng = np.random.default_rng(seed)
    points = [np.zeros(3)]
    way = rng.normal(size=3) * [1, 1, 0.3]
    for _ in range(6):
        points.append(points[-1] + rng.uniform(8, 30) * way / np.linalg.norm(way))
        turn = rng.normal(size=3) * [1, 1, 0.6]
        way = way / np.linalg.norm(way) + turn / np.linalg.norm(turn) * 0.9
    radii = [0.0, *rng.uniform(0.9, 2.0, 5).tolist(), 0.0]
    ducts = [conduit(friction=0.22), conduit(friction=0.3, name="steel")]
    legs = [ducts[int(rng.integers(2))] for _ in range(6)]
    limit = float(rng.choice([4000.0, 9000.0, 1e6]))
    one = cable(sidewall_limit=limit, area=float(rng.choice([95e-6, 240e-6])))
    job = run(along((points, radii), legs), one, rope=rope(2.0, 0.2, rated_load=3e4), reel=None)
    return solve_pull(job, PRACTICE, reverse=bool(seed % 2))


SEEDS = range(10)


@pytest.mark.parametrize("seed", SEEDS)
@pytest.mark.parametrize("kind", ["moving", "first move"])
def test_no_mix_of_causes_reaches_a_limit_below_the_stop(seed: int, kind: str) -> None:
    """Friction of each conduit behind, drag and a snag; and drag alone attains the stop."""
    pull = random_pull(seed)
    rng = np.random.default_rng(1000 + seed)
    static = 1.0 if kind == "moving" else pull.practice.restart
    heads = sorted(rng.uniform(0.15, 1.0, 3) * pull.path.length)
    heads = heads[::-1] if pull.reverse else heads
    checked = 0
    for head, found in zip(heads, stops(pull, heads), strict=True):
        stop = found.moving if kind == "moving" else found.first_move
        world = World(pull, head, static)
        assert found.hidden == ()
        most = conductor_limit(pull.run, PRACTICE).value
        starts = np.geomspace(pull.start_tension, 1.1 * most, 500)
        share, reading = world.under(starts, np.ones(len(pull.run.route.conduits)))
        first = int(np.argmax(share > 1))
        if first:  # else the plan itself exceeds a limit here
            assert reading[first - 1] <= stop.reading * (1 + 1e-6)
            assert reading[first] >= stop.reading * (1 - 1e-6)
            assert reading[first] == pytest.approx(stop.reading, rel=0.01)
            checked += 1
        for _ in range(6):
            legs = rng.uniform(1.0, 2.5, len(pull.run.route.conduits))
            place, snag = int(rng.integers(0, world.joint + 1)), float(rng.uniform(0, 3000))
            share, reading = world.under(starts, legs, snag, place)
            assert (reading[share > 1] >= stop.reading * (1 - 1e-6)).all()
    assert checked


@pytest.mark.parametrize("seed", SEEDS)
def test_with_lower_friction_the_slick_stop_is_the_one_that_holds(seed: int) -> None:
    pull = random_pull(seed)
    head = 0.0 if pull.reverse else pull.path.length
    (found,) = stops(pull, [head])
    world = World(pull, head, SLICK)
    starts = np.geomspace(1.0, 1.1 * conductor_limit(pull.run, PRACTICE).value, 500)
    share, reading = world.under(starts, np.ones(len(pull.run.route.conduits)))
    first = int(np.argmax(share > 1))
    assert reading[first - 1] <= found.slick.reading * (1 + 1e-6) <= reading[first] * (1 + 2e-6)


def test_more_friction_ahead_raises_the_stop_and_less_lowers_it() -> None:
    for seed in SEEDS:
        pull = random_pull(seed)
        for found in stops(pull, [0.4 * pull.path.length]):
            assert found.slick.reading <= found.moving.reading <= found.first_move.reading


# --- each limit -----------------------------------------------------------------------------------

ROUTE = along(([[0, 0, 0], [100, 0, 0], [100, 100, 0]], [0, 1.0, 0]), conduit(friction=0.3))


def bent(one: Cable | None = None, **more: object) -> Pull:
    more = {"rope": rope(2.0, 0.2, rated_load=1e9), **more}
    return solve_pull(run(ROUTE, one or strong(), **more), PRACTICE)


def strong(**more: object) -> Cable:
    return cable(**{"area": 1e-2, "sidewall_limit": 1e9, "max_eye_tension": 1e9, **more})  # type: ignore[arg-type]


HEAD = 150.0  # 50 m of straight rope ahead, more than 48 m of straight cable behind


def limited(limit: str, value: float) -> tuple[Pull, dict[str, float]]:
    """A pull that one limit governs with the head at ``HEAD``."""
    if limit == "conductor":
        return bent(strong(max_tension=value)), {}
    if limit == "grip":
        return bent(strong(max_eye_tension=value)), {}
    if limit == "sidewall":
        return bent(strong(sidewall_limit=value)), {}
    if limit == "rope":
        return bent(rope=rope(2.0, 0.2, rated_load=value)), {}
    if limit == "swivel":
        return bent(rigging=Rigging("head", swivel_rating=value)), {}
    return bent(), {limit: value}


# Rope and line are held against the machine load, 50 m x 2 N/m x 0.2 above the cable head.
@pytest.mark.parametrize(
    ("limit", "name", "place", "ahead"),
    [
        ("conductor", "conductor", "cable head", 1.0),
        ("grip", "grip", "cable head", 1.0),
        ("swivel", "head fitting", "cable head", 1.0),
        ("head_rating", "head fitting", "cable head", 1.0),
        ("rope", "rope", "B", 0.0),
        ("line_rating", "line fitting", "B", 0.0),
    ],
)
@pytest.mark.parametrize("value", [3000.0, 5000.0])
def test_each_limit_alone_by_hand(
    limit: str, name: str, place: str, ahead: float, value: float
) -> None:
    pull, ratings = limited(limit, value)
    (found,) = stops(pull, [HEAD], **ratings)
    rest = (pull.path.length - HEAD) * 2.0 * 0.2
    assert found.moving.reading == pytest.approx(value + ahead * rest, rel=1e-12)
    assert (found.moving.limit, found.moving.place) == (name, place)
    assert found.first_move.reading == pytest.approx(value + ahead * 1.3 * rest, rel=1e-12)


def test_sidewall_in_the_bend_by_hand() -> None:
    """At the end of the bend of R - ID/2; from there straight cable and rope go on."""
    pull, _ = limited("sidewall", 2000.0)
    (found,) = stops(pull, [HEAD])
    end = 99.0 + math.pi / 2
    behind, ahead = (HEAD - end) * 25.0 * 0.3, (pull.path.length - HEAD) * 2.0 * 0.2
    assert found.moving.reading == pytest.approx(2000.0 * (1 - 0.065) + behind + ahead, rel=1e-9)
    assert (found.moving.limit, found.moving.place) == ("sidewall", "bend 1")


@pytest.mark.parametrize(
    "limit", ["conductor", "grip", "swivel", "sidewall", "rope", "head_rating", "line_rating"]
)
def test_a_load_inside_a_limit_is_below_the_stop_and_outside_above(limit: str) -> None:
    """The limit is set to what the planned pull has there: at it, the stop is the reading."""
    pull = bent()
    joints = pull.course.walked.stations <= HEAD
    tension = pull.course.tension(pull.start_tension)[joints]
    read = float(track(pull, [HEAD]).loads(np.ones((1, 1))).machine[0, 0])
    at_head = read - (pull.path.length - HEAD) * 2.0 * 0.2
    wall = float((pull.pressing[: len(tension) - 1] * tension[1:]).max())
    value = {"sidewall": wall, "rope": read, "line_rating": read}.get(limit, at_head)
    for share in (1 - 1e-6, 1.0, 1 + 1e-6):
        other, ratings = limited(limit, value * share)
        (found,) = stops(other, [HEAD], **ratings)
        assert np.sign(round((found.moving.reading / read - 1) * 1e9)) == np.sign(share - 1)


def test_the_feed_in_sheave_has_its_own_sidewall() -> None:
    one = strong(sidewall_limit=1000.0)
    pull = bent(one, reel=Reel("r", sheave_radius=0.3, drag_force=50.0))
    (first,) = stops(pull, [0.0])
    rest = pull.path.length
    assert (first.moving.limit, first.moving.place) == ("sidewall", "feed-in sheave")
    assert first.moving.reading > 1000.0 * 0.3 + 0.2 * 2.0 * (rest - 3)


# --- sheaves, lead-off, slack ---------------------------------------------------------------------


def guided(sheave: Sheave, one: Cable | None = None, reverse: bool = False) -> Pull:
    """A pull point that turns by a right angle round a sheave, 60 m and 40 m from its ends."""
    corner = Vertex((60.0, 0.0, 0.0), "pit", 0.0, access=frozenset({"reel"}), sheave=sheave)
    route = lay(
        at((0, 0, 0), name="A", ends="reel machine"),
        corner,
        at((60, 40, 0), name="B", ends="reel machine"),
        conduits=conduit(friction=0.3),
    )
    line = rope(2.0, 0.2, rated_load=1e9)
    return solve_pull(run(route, one or strong(), rope=line), PRACTICE, reverse=reverse)


@pytest.mark.parametrize("reverse", [False, True])
def test_a_sheave_at_a_pull_point_bears_what_comes_out(reverse: bool) -> None:
    """By hand: limit x radius, or rating over 2 sin 45°, then 40 m (or 60 m) of cable go on."""
    after = 60.0 if reverse else 40.0
    head = 0.0 if reverse else 100.0
    fast = Sheave("s", 0.5, 1e9, 0.9)
    pull = guided(fast, strong(sidewall_limit=2000.0), reverse)
    (found,) = stops(pull, [head])
    assert found.moving.reading == pytest.approx(1000.0 + after * 25.0 * 0.3, rel=1e-12)
    assert (found.moving.limit, found.moving.place) == ("sidewall", "pit")
    weak = replace(fast, rating=1500.0)
    (found,) = stops(guided(weak, reverse=reverse), [head])
    out = 1500.0 / math.sqrt(2.0)
    assert found.moving.reading == pytest.approx(out + after * 25.0 * 0.3, rel=1e-12)
    assert (found.moving.limit, found.moving.place) == ("sheave", "pit")
    # A sheave keeps its efficiency at a restart.
    assert found.first_move.reading == pytest.approx(out + 1.3 * after * 25.0 * 0.3, rel=1e-12)


def test_before_the_head_reaches_the_sheave_its_fastening_bears_the_rope() -> None:
    (found,) = stops(guided(Sheave("s", 0.5, 1500.0, 0.9)), [30.0])
    rest = 40.0 * 2.0 * 0.2
    assert found.moving.reading == pytest.approx(1500.0 / math.sqrt(2.0) + rest, rel=1e-12)
    assert (found.moving.limit, found.moving.place) == ("sheave", "pit")


def test_two_turns_of_the_lead_off_come_on_top() -> None:
    turns = (LeadOff(0.5), LeadOff(1.2, Sheave("s", 0.3, 1e9, 0.95)))
    factor = math.exp(0.2 * 0.5) / 0.95
    rest = 0.2 * 2.0 * (bent().path.length - HEAD)
    (found,) = stops(bent(strong(max_tension=3000.0), lead_off=turns), [HEAD])
    assert found.moving.reading == pytest.approx((3000.0 + rest) * factor, rel=1e-12)
    static = math.exp(1.3 * 0.2 * 0.5) / 0.95
    assert found.first_move.reading == pytest.approx((3000.0 + 1.3 * rest) * static, rel=1e-12)
    # The rope is at its rated load at the machine first, and so is a fitting of the line.
    (found,) = stops(bent(rope=rope(2.0, 0.2, rated_load=4e3), lead_off=turns), [HEAD])
    assert (found.moving.reading, found.moving.limit) == (4000.0, "rope")


def drop(limit: float, reel_tension: float | None = None) -> Pull:
    """Fed at the top of a riser of 12 m; the bend at its head bears ``limit`` N."""
    points = [[0, 0, 12], [6, 0, 12], [6, 0, 0], [24, 0, 0]]
    one = strong(sidewall_limit=limit / (1.2 - 0.065))
    job = run(
        along((points, [0, 1.2, 1.2, 0]), conduit(friction=0.35)),
        one,
        rope=rope(2.0, 0.2, rated_load=1e9),
        reel_tension=reel_tension,
    )
    return solve_pull(job, PRACTICE)


def test_what_goes_slack_on_the_way_is_hidden_and_gives_no_stop() -> None:
    """The cable below the bend needs a tension of its own to stay taut; below that it hangs."""
    top = drop(1e6)
    whole, joints = top.path.length, top.course.walked.stations
    first, last = 6 - 1.2, 6 - 1.2 + 1.2 * math.pi / 2
    needed = top.course.needed[(joints >= first - 1e-9) & (joints <= last + 1e-9)]
    assert needed.min() > 100
    (shown,) = stops(drop(needed.max() * 1.5), [whole])
    assert shown.hidden == ()
    (part,) = stops(drop((needed.min() + needed.max()) / 2), [whole])
    assert "bend 1" in part.hidden
    (lost,) = stops(drop(needed.min() * 0.9), [whole])
    assert "bend 1" in lost.hidden and lost.moving.place != "bend 1"
    # With the head still above, only rope hangs down the riser: its limit is seen again.
    (above,) = stops(drop(needed.min() * 0.9), [last + 1e-6])
    assert above.hidden == () and above.moving.place == "bend 1"


def test_a_hidden_limit_does_not_hide_the_others_of_its_joint() -> None:
    """The conductor is still seen through a bend whose own sidewall limit is not."""
    pull = drop(50.0)
    found = stops(pull, [pull.path.length])[0]
    assert "bend 1" in found.hidden and math.isfinite(found.moving.reading)


def test_a_plan_at_its_friction_margin_reads_its_stop_no_lower_than_expected() -> None:
    """More friction everywhere brings the limit only at a reading above the stop."""
    exceeded = 0
    for seed in SEEDS:
        pull = random_pull(seed)
        rougher = at_friction(pull, 1.5)
        head = 0.0 if pull.reverse else pull.path.length
        share = World(pull, head).under(
            np.array([rougher.start_tension]), np.full(len(pull.run.route.conduits), 1.5)
        )
        (found,) = stops(pull, [head])
        if share[0][0] > 1:
            exceeded += 1
            assert share[1][0] >= found.moving.reading * (1 - 1e-6)
    assert exceeded


@pytest.mark.parametrize("rule", ["per cable", "group"])
def test_the_feed_in_sheave_is_pressed_by_the_worst_cable_or_by_the_group(rule: str) -> None:
    """300 N press on 0.3 m as much as the limit allows, or a larger tension of a set by its share.

    From the feed to the machine that comes as 1 N for 1 N, for the head still is at the feed and
    the rope ahead takes the same of both.
    """
    one = strong(sidewall_limit=1000.0)
    pull = bent(one, reel=Reel("r", sheave_radius=0.3, drag_force=50.0))
    three = replace(pull.run, cables=CableSet(((one, 3),)))
    solved = solve_pull(three, replace(PRACTICE, sidewall=rule))
    share = solved.fits[0].sidewall_factor if rule == "per cable" else 1.0
    single = solve_pull(replace(three, cables=CableSet(((one, 1),))), solved.practice)
    (first,), (alone,) = stops(solved, [0.0]), stops(single, [0.0])
    assert first.moving.place == alone.moving.place == "feed-in sheave"
    ahead = math.exp(0.2 * single.path.turn)
    assert (share == 1.0) is (rule == "group")
    grown = first.moving.reading - alone.moving.reading
    assert grown == pytest.approx(300.0 * (1 / share - 1.0) * ahead, rel=0.02, abs=1e-6)
