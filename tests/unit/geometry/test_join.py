"""Loose pieces become the route they were cut from, whatever way they were drawn."""

from __future__ import annotations

from itertools import pairwise
from typing import Any

import numpy as np
import pytest

from route3d.errors import GeometryError
from route3d.geometry import Path
from route3d.geometry.fillet import fillet
from route3d.geometry.join import (
    DrawnPiece,
    arc_piece,
    arc_through,
    bulged_piece,
    chain,
    joined,
    straight_piece,
)
from tests.support.routes import Go, Turn, route
from tests.support.wild_routes import wild_route

# Rounding of coordinates of some 100 m, a few operations long.
ROUNDING = 1e-9
UP = np.array([0.0, 0.0, 1.0])


def cut(path: Path) -> list[DrawnPiece]:
    """Every straight and arc of a path as a piece of its own."""
    pieces = []
    for i in range(len(path)):
        start, normal = path.starts[i], path.normals[i]
        if path.kind[i] == 0:
            pieces.append(straight_piece(start, path.ends[i]))
        else:
            axis = np.cross(path.tangents[i], normal)
            center = start + path.radii[i] * normal
            pieces.append(arc_piece(center, start, axis, float(path.angles[i])))
    return pieces


def same_line(a: Path, b: Path) -> float:
    """The largest distance between two paths at the same share of their length, m."""
    share = np.linspace(0, 1, 301)
    return float(np.abs(a.point(share * a.length) - b.point(share * b.length)).max())


def path_of(made: Any) -> Path:
    return fillet(made.points, made.radii, corners=set(range(len(made.points))))


@pytest.mark.parametrize("seed", range(30))
def test_shuffled_and_reversed_pieces_make_the_route_again(seed: int) -> None:
    whole = wild_route(seed).path()
    draw = np.random.default_rng(seed)
    pieces = [p.reversed() if draw.random() < 0.4 else p for p in cut(whole)]
    order = draw.permutation(len(pieces))
    found = chain([pieces[i] for i in order], 1e-3)
    assert len(found.chains) == 1
    (one,) = found.chains
    again = path_of(one)
    assert min(same_line(again, whole), same_line(again.reversed(), whole)) < ROUNDING
    assert again.length == pytest.approx(whole.length, abs=ROUNDING)
    assert sorted(one.pieces) == list(range(len(pieces)))


def test_a_chain_runs_the_way_most_of_its_length_was_drawn() -> None:
    pieces = cut(route(Go(20), Turn(90, 2.0), Go(5)))
    turned = chain([pieces[0].reversed(), *pieces[1:]], 1e-3).chains[0]
    assert turned.points[-1] == pytest.approx([0, 0, 0])
    assert turned.turned == 2
    assert chain(pieces, 1e-3).chains[0].turned == 0


@pytest.mark.parametrize("gap", [1e-5, 4e-4, 9e-4])
def test_gaps_within_the_tolerance_close_and_their_size_is_known(gap: float) -> None:
    whole = route(Go(10), Turn(90, 1.0), Go(10), Turn(60, 2.0, "up"), Go(10))
    pieces = cut(whole)
    moved = [DrawnPiece(p.points + gap * (i % 2) * UP, p.radii) for i, p in enumerate(pieces)]
    (one,) = chain(moved, 1e-3).chains
    assert one.gap == pytest.approx(gap, rel=1e-6)
    assert same_line(path_of(one), whole) < 3 * gap  # each joint moves by half of it, twice


def test_a_gap_beyond_the_tolerance_parts_two_chains() -> None:
    pieces = cut(route(Go(10), Turn(90, 1.0), Go(10)))
    apart = [pieces[0], *(DrawnPiece(p.points + 2e-3 * UP, p.radii) for p in pieces[1:])]
    assert [len(c.pieces) for c in chain(apart, 1e-3).chains] == [1, 2]
    assert [len(c.pieces) for c in chain(apart, 3e-3).chains] == [3]


def test_many_ends_at_one_place_are_a_branch_and_soon_done() -> None:
    around = np.linspace(0, 6, 5000)
    star = [straight_piece(np.zeros(3), np.array([np.cos(a), np.sin(a), 1.0])) for a in around]
    assert len(chain(star, 1e-3).chains) == 5000
    with pytest.raises(GeometryError, match="too many ends lie within 5 m of each other"):
        chain(star, 5.0)


@pytest.mark.parametrize("seed", range(5))
def test_near_ends_are_found_as_by_trying_all_pairs(seed: int) -> None:
    draw = np.random.default_rng(seed)
    starts = draw.uniform(0, 0.1, (150, 3)) * (1, 1, seed % 2)
    pieces = [straight_piece(p, p + (0, 0, 50 + i)) for i, p in enumerate(starts)]
    apart = np.linalg.norm(starts[:, None] - starts, axis=2)
    alone = ((apart <= 0.004).sum(axis=1) == 1).sum()  # with no other start near
    found = chain(pieces, 0.004)
    assert sum(len(c.pieces) == 1 and not c.ends_at for c in found.chains) == alone


def test_a_closed_loop_is_no_route() -> None:
    corners = np.array([(0, 0, 0), (4, 0, 0), (4, 3, 0), (0, 0, 0)], dtype=float)
    ring = [straight_piece(a, b) for a, b in pairwise(corners)]
    found = chain([*ring, straight_piece(corners[0] + 9, corners[1] + 9)], 1e-3)
    assert found.loops == ((0, 1, 2),)
    assert [c.pieces for c in found.chains] == [(3,)]
    alone = DrawnPiece(corners, np.zeros(4))
    assert chain([alone], 1e-3).loops == ((0,),)


def test_every_chain_ends_at_a_branch() -> None:
    middle = np.array([5.0, 5.0, 0.0])
    ends = [middle + d for d in ((4, 0, 0), (0, 4, 0), (-4, 0, 0))]
    far = straight_piece(ends[0], ends[0] + (0, 0, 7))
    found = chain([*(straight_piece(middle, e) for e in ends), far], 1e-3)
    assert sorted(sorted(c.pieces) for c in found.chains) == [[0, 3], [1], [2]]
    assert all(c.ends_at[0] == pytest.approx(middle) for c in found.chains)


def test_second_copies_and_specks_are_left_out() -> None:
    pieces = cut(route(Go(10), Turn(90, 1.0), Go(10)))
    speck = straight_piece(np.array([50.0, 0, 0]), np.array([50.0, 5e-4, 0]))
    found = chain([*pieces, pieces[1].reversed(), pieces[0], speck], 1e-3)
    assert (found.doubles, found.short) == ((3, 4), (5,))
    assert [len(c.pieces) for c in found.chains] == [3]


def test_straights_shorter_than_the_tolerance_keep_their_place() -> None:
    whole = route(Go(10), Turn(60, 1.0), Go(4e-4), Turn(50, 1.0, "up"), Go(3e-4), Turn(9, 2), Go(5))
    pieces = cut(whole)
    found = chain(pieces[::-1], 1e-3)
    (one,) = found.chains
    assert not (found.doubles or found.short)
    assert len(one.pieces) == len(pieces)
    assert same_line(path_of(one), whole) < ROUNDING


def test_two_ways_between_the_same_places_are_no_copies() -> None:
    a, b = np.zeros(3), np.array([2.0, 0, 0])
    found = chain([straight_piece(a, b), arc_piece((a + b) / 2, a, UP, np.pi)], 1e-3)
    assert not found.doubles
    assert found.loops == ((0, 1),)


def test_coordinates_of_six_decimals_still_make_a_path() -> None:
    # bends back to back leave no room for rounding: fillet alone refuses this route
    whole = route(Go(3), Turn(80, 1.3), Turn(70, 1.1, "up"), Turn(60, 0.9, "right"), Go(3))
    rounded = [DrawnPiece(np.round(p.points, 6), np.round(p.radii, 6)) for p in cut(whole)]
    (one,) = chain(rounded, 1e-3).chains
    assert same_line(path_of(one), whole) < 2e-5  # 1e-6 at a vertex, 3 m of lever on about 1 m
    assert one.radii[one.radii > 0] == pytest.approx([1.3, 1.1, 0.9], abs=1e-5)


# --- arcs --------------------------------------------------------------------------------------


@pytest.mark.parametrize("degrees", [1, 45, 90, 179, 180, 200, 359])
def test_an_arc_of_any_turn_is_one_or_more_bends(degrees: float) -> None:
    turn = np.radians(degrees)
    center, start = np.array([1.0, 2.0, 3.0]), np.array([1.0, 2.0, 5.5])
    axis = np.array([0.6, 0.8, 0.0])
    path = path_of(arc_piece(center, start, axis, turn))
    assert path.length == pytest.approx(2.5 * turn)
    spokes = path.point(np.linspace(0, path.length, 50)) - center
    assert np.linalg.norm(spokes, axis=1) == pytest.approx(2.5)
    assert spokes @ axis == pytest.approx(0, abs=ROUNDING)
    assert path.tangent(0.0) == pytest.approx(np.cross(axis, (start - center) / 2.5))


@pytest.mark.parametrize("seed", range(20))
def test_three_points_make_the_circle_through_them(seed: int) -> None:
    three = np.random.default_rng(seed).normal(size=(3, 3)) * 4
    path = path_of(arc_through(*three))
    fine = path.point(np.linspace(0, path.length, 20_001))
    assert fine[[0, -1]] == pytest.approx(three[[0, 2]], abs=1e-7)
    # nearest sample: half a step of the sampling, at most
    assert np.linalg.norm(fine - three[1], axis=1).min() < path.length / 20_000


def test_three_points_in_line_make_a_straight() -> None:
    piece = arc_through(*np.array([(0, 0, 0), (1, 1, 1), (3, 3, 3)], dtype=float))
    assert not piece.radii.any()
    assert piece.points.tolist() == [[0, 0, 0], [3, 3, 3]]


def test_a_bulge_is_the_tangent_of_a_quarter_of_the_turn() -> None:
    # DXF reference, LWPOLYLINE, group 42: 1 is a semicircle, negative turns to the right
    points = np.array([(0, 0, 0), (2, 0, 0), (5, 0, 0), (9, 0, 0)], dtype=float)
    path = path_of(bulged_piece(points, np.array([1.0, 0.0, -np.tan(np.pi / 8)]), UP))
    assert path.length == pytest.approx(np.pi + 3 + 4 / np.sqrt(2) * np.pi / 2)
    low = path.point(np.linspace(0, np.pi, 101))[:, 1].min()
    assert low == pytest.approx(-1.0, abs=1e-3)  # a left turn from a to b passes on the right
    high = path.point(np.linspace(np.pi + 3, path.length, 101))[:, 1].max()
    assert high == pytest.approx(2 * np.sqrt(2) - 2, abs=1e-3)


def test_joining_meets_half_way() -> None:
    a = straight_piece(np.zeros(3), np.array([1.0, 0, 0]))
    b = straight_piece(np.array([1.0, 2e-4, 0]), np.array([1.0, 5.0, 0]))
    assert joined([a, b]).points[1].tolist() == [1.0, 1e-4, 0.0]
