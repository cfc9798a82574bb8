"""Label placement: no overlap, nothing outside, no leader through a label, whatever comes in."""

from __future__ import annotations

import itertools

import numpy as np
import pytest

from route3d.drawing.labels import PlacedLabels, place_labels

CASES = 200


def random_case(seed: int) -> dict[str, object]:
    """Frames, crowds and obstacles of all kinds, anchors outside the frame among them."""
    rng = np.random.default_rng(seed)
    wide, tall = rng.uniform(300, 2000), rng.uniform(200, 1400)
    n = int(rng.integers(1, 40))
    obstacles = None
    if seed % 3:
        corner = rng.uniform((0, 0), (0.7 * wide, 0.7 * tall), (3, 2))
        obstacles = np.hstack((corner, corner + rng.uniform(20, 200, (3, 2))))
    spread = 0.15 if seed % 2 else 1.0  # every other case is a crowd about one place
    middle = rng.uniform((0, 0), (wide, tall))
    anchors = middle + spread * rng.uniform((-wide / 2, -tall / 2), (wide / 2, tall / 2), (n, 2))
    if seed % 5 == 0:
        anchors = np.round(anchors / 40) * 40  # several labels at one place
    return {
        "anchors": anchors,
        "sizes": rng.uniform((30, 14), (240, 70), (n, 2)),
        "frame": (5.0, 7.0, float(wide), float(tall)),
        "obstacles": obstacles,
        "avoid": rng.uniform((0, 0), (wide, tall), (200, 2)),
        "keep_off": rng.uniform(0, 30, n),
    }


def placed_in(case: dict[str, object]) -> PlacedLabels:
    options = {k: case[k] for k in ("obstacles", "avoid", "keep_off")}
    return place_labels(case["anchors"], case["sizes"], case["frame"], **options)  # type: ignore[arg-type]


def overlap(a: tuple[float, ...], b: tuple[float, ...]) -> bool:
    return a[0] < b[2] and b[0] < a[2] and a[1] < b[3] and b[1] < a[3]


@pytest.mark.parametrize("seed", range(CASES))
def test_no_label_overlaps_or_leaves_the_frame(seed: int) -> None:
    case = random_case(seed)
    found = placed_in(case)
    frame, obstacles = case["frame"], case["obstacles"]
    assert found.placed  # the first always finds room in these frames
    for p in found.placed:
        assert frame[0] <= p.box[0] + 1e-6 and p.box[2] <= frame[2] + 1e-6  # type: ignore[index]
        assert frame[1] <= p.box[1] + 1e-6 and p.box[3] <= frame[3] + 1e-6  # type: ignore[index]
        np.testing.assert_allclose(
            (p.box[2] - p.box[0], p.box[3] - p.box[1]),
            case["sizes"][p.index],  # type: ignore[index]
        )
        for obstacle in [] if obstacles is None else obstacles:
            assert not overlap(p.box, tuple(obstacle))
    for a, b in itertools.combinations(found.placed, 2):
        assert not overlap(a.box, b.box)


@pytest.mark.parametrize("seed", range(0, CASES, 4))
def test_no_leader_crosses_a_label(seed: int) -> None:
    found = placed_in(random_case(seed))
    for p in found.placed:
        way = np.linspace(0.0, 1.0, 200)[:, None]
        line = (1 - way) * np.array(p.anchor) + way * np.array(p.elbow)
        for q in found.placed:
            if q.index != p.index:
                low, high = np.array(q.box[:2]), np.array(q.box[2:])
                assert not ((line > low) & (line < high)).all(axis=1).any()


@pytest.mark.parametrize("seed", range(0, CASES, 10))
def test_every_label_is_placed_or_counted_and_twice_the_same(seed: int) -> None:
    case = random_case(seed)
    found = placed_in(case)
    indices = sorted([p.index for p in found.placed] + list(found.dropped))
    assert indices == list(range(len(case["anchors"])))  # type: ignore[arg-type]
    assert placed_in(case) == found


def test_leader_ends_on_its_label() -> None:
    for p in placed_in(random_case(3)).placed:
        on_edge = np.isclose(p.elbow[0], (p.box[0], p.box[2])).any()
        on_edge |= np.isclose(p.elbow[1], (p.box[1], p.box[3])).any()
        inside = p.box[0] <= p.anchor[0] <= p.box[2] and p.box[1] <= p.anchor[1] <= p.box[3]
        assert on_edge or inside


def test_nothing_is_dropped_while_there_is_room() -> None:
    anchors = np.array([[x, y] for x in (100, 500, 900) for y in (100, 400, 700)], dtype=float)
    found = place_labels(anchors, np.full((9, 2), (150.0, 40.0)), (0, 0, 1000, 800))
    assert found.dropped == ()


def test_the_least_needed_is_dropped_first() -> None:
    """Room for one: the first asked for gets it."""
    anchors = np.array([[50.0, 30.0], [50.0, 30.0], [50.0, 30.0]])
    found = place_labels(anchors, np.full((3, 2), (90.0, 50.0)), (0, 0, 100, 60))
    assert [p.index for p in found.placed] == [0]
    assert found.dropped == (1, 2)


def test_labels_keep_off_the_route_where_they_can() -> None:
    route = np.column_stack((np.arange(0.0, 800.0, 4.0), np.full(200, 300.0)))
    found = place_labels(
        np.array([[400.0, 300.0]]), np.array([[120.0, 40.0]]), (0, 0, 800, 600), avoid=route
    )
    box = found.placed[0].box
    assert box[3] < 300 or box[1] > 300


def far_from(found: PlacedLabels, index: int, point: np.ndarray) -> float:
    """The least distance from a point to the leader of a label."""
    (p,) = (p for p in found.placed if p.index == index)
    way = np.linspace(0.0, 1.0, 400)[:, None]
    line = (1 - way) * np.array(p.anchor) + way * np.array(p.elbow)
    return float(np.hypot(*(line - point).T).min())


def test_a_leader_goes_round_the_marker_of_another() -> None:
    frame, size, near = (0, 0, 800, 600), (120.0, 40.0), 80.0
    own = np.array([400.0, 300.0])
    alone = place_labels(own[None], np.array([size]), frame, keep_off=np.array([near]))
    marker = (own + np.array(alone.placed[0].elbow)) / 2
    assert far_from(alone, 0, marker) < 1
    both = place_labels(
        np.array([own, marker]), np.array([size, size]), frame, keep_off=np.array([near, 0.0])
    )
    assert both.dropped == ()
    assert far_from(both, 0, marker) > 10  # the marker of a worst bend is drawn 15 px wide


def test_no_labels() -> None:
    assert place_labels(np.empty((0, 2)), np.empty((0, 2)), (0, 0, 10, 10)) == PlacedLabels((), ())
