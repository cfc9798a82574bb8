from __future__ import annotations

import math
import subprocess
import sys
import time

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from shapely import Point
from shapely.affinity import translate

from route3d.errors import InputError
from route3d.mechanics.arrangement import (
    ARRANGEMENTS,
    FitError,
    choose,
    contact_limits,
    sidewall_factor,
    wedge_factor,
    weight_factor,
)
from route3d.mechanics.fit import fit
from route3d.mechanics.packing import free_lift, section_positions

EQUAL = [("single", 1), ("two", 2), ("triangular", 3), ("cradled", 3), ("diamond", 4)]


def wall_loads(centers: np.ndarray, d: np.ndarray, D: float) -> np.ndarray:
    """Wall load of each cable by equilibrium of touching frictionless discs, weights d²."""
    n, rows = len(d), []
    r = d / 2
    for i in range(n):
        for j in range(i):
            v = centers[i] - centers[j]
            if np.hypot(*v) - r[i] - r[j] < 1e-7 * D:
                row = np.zeros((n, 2))
                row[i], row[j] = v / np.hypot(*v), -v / np.hypot(*v)
                rows.append((None, row.ravel()))
        if D / 2 - r[i] - np.hypot(*centers[i]) < 1e-7 * D:
            row = np.zeros((n, 2))
            row[i] = -centers[i] / np.hypot(*centers[i])
            rows.append((i, row.ravel()))
    weights = np.column_stack([np.zeros(n), d**2 / np.sum(d**2)]).ravel()
    matrix = np.array([row for _, row in rows]).T
    force, *_ = np.linalg.lstsq(matrix, weights, rcond=None)
    assert np.allclose(matrix @ force, weights, atol=1e-9), "not in equilibrium"
    loads = np.zeros(n)
    for (i, _), f in zip(rows, force, strict=True):
        if i is not None:
            loads[i] += f
    return loads


@pytest.mark.parametrize(("name", "count"), EQUAL)
@pytest.mark.parametrize("ratio", [2.45, 2.75, 3.0, 3.3, 3.7])
def test_factors_are_the_statics_of_the_section(name: str, count: int, ratio: float) -> None:
    # Second way: solve the contact forces of the drawn section. 1e-7 = contact tolerance above.
    if name == "diamond":  # exists up to D/d = 3 only: the same five places, drawn together
        ratio = 2.45 + (ratio - 2.45) * 0.4
    centers = section_positions(name, [1.0] * count, ratio)
    loads = wall_loads(centers, np.ones(count), ratio)
    w = weight_factor(name, 1.0, ratio)
    assert loads.sum() == pytest.approx(w, rel=1e-6)
    assert loads.max() == pytest.approx(sidewall_factor(name, w), rel=1e-6)


@pytest.mark.parametrize(
    ("d1", "d2", "D"), [(1, 0.5, 1.8), (1, 1, 2.3), (1, 0.2, 3), (1, 0.9, 1.95)]
)
def test_wedge_factor_bounds_two_unequal_cables(d1: float, d2: float, D: float) -> None:
    centers = section_positions("two", [d1, d2], D)
    actual = wall_loads(centers, np.array([d1, d2]), D).sum()
    assert actual <= wedge_factor(d1, d2, D) * (1 + 1e-9)
    assert actual > 1  # a wall is never pressed by less than the weight
    if d1 == d2:
        assert actual == pytest.approx(weight_factor("two", d1, D), rel=1e-9)


def test_kernels_vectorise() -> None:
    d, D = np.array([1.0, 1.2]), np.array([[3.0], [4.0]])
    for name in ARRANGEMENTS:
        table = weight_factor(name, d, D)
        assert table.shape == (2, 2)
        each = [[weight_factor(name, float(a), float(b)) for a in d] for b in D[:, 0]]
        assert np.array_equal(table, each)
        shares = sidewall_factor(name, table)
        assert np.array_equal(shares, [[sidewall_factor(name, w) for w in row] for row in each])
    assert isinstance(weight_factor("cradled", 1.0, 3.0), float)


def test_a_diamond_wider_than_possible_is_drawn_as_it_settles() -> None:
    # Geometry: the top center lies 2d²/(D-d) over the bottom one, less than d above D/d = 3.
    centers = section_positions("diamond", [1.0] * 4, 3.4)
    assert min(np.hypot(*(a - b)) for i, a in enumerate(centers) for b in centers[:i]) > 1 - 1e-8
    assert "cannot lie in a diamond" in fit([1.0] * 4, 3.4, "diamond").reason
    assert fit([1.0] * 4, 2.9, "diamond").reason == "as requested"


def test_diamond_beyond_its_band_keeps_the_published_factor() -> None:
    # Published (from memory): w-1 = 2x², x = d/(D-d). By statics each side cable carries 1/2 at
    # every D/d: w-1 passes below that at D/d = 3.0, where a diamond of loose cables ends.
    assert sidewall_factor("diamond", weight_factor("diamond", 1.0, 3.5)) == pytest.approx(0.32)
    assert sidewall_factor("diamond", weight_factor("diamond", 1.0, 3.0)) == pytest.approx(0.5)


@pytest.mark.parametrize("ratio", [2.0, 2.1, 2.1546])
@pytest.mark.parametrize("asked", ["auto", "cradled", "triplexed"])
def test_three_in_contact_are_refused(ratio: float, asked: str) -> None:
    with pytest.raises(
        FitError, match=r"three cables in contact require D/d of at least 2\.1547"
    ) as e:
        fit([0.04] * 3, 0.04 * ratio, asked)
    assert e.value.bore_needed == pytest.approx(0.04 * (1 + 2 / math.sqrt(3)), rel=1e-12)
    assert isinstance(e.value, InputError)


def test_three_just_in_contact_are_accepted() -> None:
    found = fit([1.0] * 3, contact_limits("triangular")[0])
    assert found.clearance == pytest.approx(0.0, abs=1e-9)  # float rounding of a zero gap
    assert found.weight_factor == pytest.approx(2.0, rel=1e-9)


@pytest.mark.parametrize("ratio", [2.5, 2.7, 3.0])
def test_either_way_keeps_both_and_takes_the_governing(ratio: float) -> None:
    found = fit([0.03] * 3, 0.03 * ratio)
    assert [way.arrangement for way in found.alternatives] == ["triangular", "cradled"]
    assert found.weight_factor == max(way.weight_factor for way in found.alternatives)
    by_name = {way.arrangement: (way.weight_factor, way.clearance) for way in found.alternatives}
    assert by_name[found.arrangement] == (found.weight_factor, found.clearance)
    other = fit([0.03] * 3, 0.03 * ratio, "triangular")
    assert by_name["triangular"] == (other.weight_factor, other.clearance)


def test_band_edges_do_not_hang_on_float_noise() -> None:
    assert fit([0.1] * 3, 0.1 * 2.5 * (1 - 1e-15)).arrangement == "cradled"
    assert fit([0.1] * 4, 0.3).arrangement == "complex"  # 0.3/0.1 is 2.9999999999999996


@pytest.mark.parametrize(
    ("count", "asked"), [(1, "two"), (2, "single"), (3, "diamond"), (4, "cradled"), (5, "diamond")]
)
def test_asking_for_what_the_count_does_not_allow(count: int, asked: str) -> None:
    with pytest.raises(FitError, match="use auto or one of"):
        choose([1.0] * count, 4.0, asked)


def test_unknown_name_lists_the_legal_ones() -> None:
    with pytest.raises(
        FitError, match=r"'heap'.*single, two, triangular, cradled, diamond, complex"
    ):
        choose([1.0], 4.0, "heap")


def test_asked_is_honored() -> None:
    assert fit([1.0] * 3, 4.0, "triplexed").arrangement == "triangular"
    assert fit([1.0] * 3, 2.3, "cradled").arrangement == "cradled"
    assert fit([1.0] * 4, 3.4, "diamond").weight_factor == weight_factor("diamond", 1.0, 3.4)


def test_unequal_cables() -> None:
    three = fit([1.0, 1.0, 0.8], 3.5)  # by the largest: from memory
    assert (three.arrangement, three.weight_factor) == (
        "cradled",
        weight_factor("cradled", 1.0, 3.5),
    )
    assert three.jam_ratio == pytest.approx(3.5 / (2.8 / 3), rel=1e-12)  # mean size, from memory
    wedged = fit([1.0, 1.0, 0.2], 2.05)
    assert wedged.arrangement == "complex"
    assert wedged.weight_factor == pytest.approx(weight_factor("two", 1.0, 2.05))
    assert wedged.weight_factor > 3 and wedged.sidewall_factor > 1.5  # 1.4 would hide the wedge
    assert fit([1.0, 1.0, 1.0, 0.4], 3.6).arrangement == "complex"


@pytest.mark.parametrize("count", [1, 2, 4, 5])
def test_jam_ratio_is_of_three_cables_only(count: int) -> None:
    found = fit([0.02] * count, 0.1)
    assert found.jam_ratio is None and found.jam_ratio_oval is None


@pytest.mark.parametrize(
    ("diameters", "D", "needed"),
    [
        ([0.05], 0.04, 0.05),
        ([0.03, 0.02], 0.049, 0.05),
        ([0.02] * 4, 0.047, 0.02 * (1 + math.sqrt(2))),
        # Seven equal circles need exactly three diameters (Graham 1968, from memory).
        ([0.01] * 7, 0.0298, 0.03),
    ],
)
def test_what_does_not_go_in_says_what_bore_would_do(
    diameters: list[float], D: float, needed: float
) -> None:
    with pytest.raises(FitError) as e:
        fit(diameters, D)
    assert e.value.bore_needed == pytest.approx(needed, rel=1e-6)  # the search stops at 1e-7
    # ... and it does: a hair over, since two cables may not lock at exactly D/d = 2.
    assert fit(diameters, e.value.bore_needed * (1 + 1e-6)).clearance >= 0


@pytest.mark.parametrize("bad", [[], [0.0], [-1.0], [math.nan], [math.inf]])
def test_nonsense_is_a_value_error(bad: list[float]) -> None:
    with pytest.raises(ValueError, match="positive"):
        fit(bad, 0.1)


@pytest.mark.parametrize(("name", "count"), EQUAL)
@pytest.mark.parametrize("ratio", [2.5, 3.1, 5.0])
def test_fill_and_clearance_by_polygons(name: str, count: int, ratio: float) -> None:
    found = fit([1.0] * count, ratio, name)
    centers = section_positions(name, found.diameters, ratio)
    discs = [Point(*c).buffer(0.5, quad_segs=256) for c in centers]
    bore = Point(0, 0).buffer(ratio / 2, quad_segs=256)
    # A polygon of 1024 sides: cable and bore areas are short by the same 6e-6, so the ratio is not.
    assert found.fill == pytest.approx(sum(d.area for d in discs) / bore.area, rel=1e-9)
    # Heights of polygon vertices at the four compass points are exact.
    top = max(d.bounds[3] for d in discs)
    assert found.clearance == pytest.approx(bore.bounds[3] - top, abs=1e-9)


@pytest.mark.parametrize(("name", "count"), EQUAL)
@pytest.mark.parametrize("ratio", [2.6, 3.1, 4.0])
def test_lifting_the_bundle_by_brute_force(name: str, count: int, ratio: float) -> None:
    centers = section_positions(name, [1.0] * count, ratio)
    bundle = [Point(*c).buffer(0.5, quad_segs=128) for c in centers]
    bore = Point(0, 0).buffer(ratio / 2, quad_segs=128)
    low, high = 0.0, ratio
    while high - low > 1e-7:
        lift = (low + high) / 2
        out = sum(translate(d, 0, lift).difference(bore).area for d in bundle)
        # Inscribed polygons cross by slivers while the circles do not: 1e-4 of a cable.
        low, high = (lift, high) if out < 1e-4 else (low, lift)
    lift = free_lift(centers, [1.0] * count, ratio)
    # The sliver of 1e-4 area lets the bundle in by (1e-4)^(2/3)-ish: 0.006 of a cable.
    assert low == pytest.approx(lift, abs=0.012)
    gap = fit([1.0] * count, ratio, name).clearance
    assert lift <= gap + 1e-9  # the wall curves down from the crown
    if name in ("single", "triangular") or (name == "diamond" and ratio < 3):
        assert gap == pytest.approx(lift, abs=1e-9)  # the highest cable lies on the centerline
    if name == "cradled":
        assert lift < gap  # the outer cables meet the wall before they reach the crown


@given(st.floats(2.16, 20), st.floats(0.001, 0.2))
def test_only_the_ratio_matters(ratio: float, d: float) -> None:
    small, large = fit([d] * 3, d * ratio), fit([10 * d] * 3, 10 * d * ratio)
    assert small.weight_factor == pytest.approx(large.weight_factor, rel=1e-6)
    assert small.clearance * 10 == pytest.approx(large.clearance, abs=1e-9)
    assert weight_factor("cradled", d, d * ratio) > weight_factor("triangular", d, d * ratio)


def test_common_fits_are_quick_and_need_no_shapely() -> None:
    code = (
        "import sys; from route3d.mechanics.fit import fit\n"
        "for n in (1, 2, 3, 4, 6): fit([1.0] * n, 2.8 if n == 4 else 4.0)\n"
        "print([m for m in ('shapely', 'scipy', 'pint') if m in sys.modules])"
    )
    run = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert run.stdout.strip() == "[]"
    best = math.inf
    for _ in range(50):
        start = time.perf_counter()
        fit([0.03] * 3, 0.0825)  # the dearest common case: both answers
        best = min(best, time.perf_counter() - start)
    assert best < 1e-3  # the design figure; measured 0.11 ms
