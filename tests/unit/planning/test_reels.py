"""Cuts on reels: held to brute force and to the bound of first fit decreasing."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

import route3d
from route3d.geometry.fillet import route_path
from route3d.model.job import Job
from route3d.model.rigging import CableReel
from route3d.modelfile.read import loads
from route3d.planning.evaluate import evaluate
from route3d.planning.pull_plan.feeding import length_to_order
from route3d.planning.pull_plan.plan import make_plan
from route3d.planning.reels import Cut, ReelAllotment, allot, fewest_reels, reel_plan
from route3d.report.reels import cut_lines
from tests.support.twelve_runs import twelve_runs

FT = 0.3048
# Lengths of whole meters and few of them meet ties and exact fits, where packing goes wrong.
RUNS = st.lists(st.tuples(st.integers(1, 60), st.integers(1, 4)), min_size=1, max_size=4)
STOCK = st.lists(
    st.tuples(st.integers(20, 130), st.one_of(st.none(), st.integers(1, 3))),
    min_size=1,
    max_size=3,
)


def _cuts(runs: Sequence[tuple[int, int]]) -> list[Cut]:
    return [
        Cut(f"R{number}", "phase", phase, phases, float(length))
        for number, (length, phases) in enumerate(runs)
        for phase in range(1, phases + 1)
    ]


def _reels(stock: Sequence[tuple[int, int | None]]) -> list[CableReel]:
    return [CableReel("phase", float(length), count) for length, count in stock]


def _fewest(lengths: Sequence[float], reel: float) -> int:
    """The fewest reels of one length, by trying every reel for every piece."""
    pieces, best = sorted(lengths, reverse=True), len(lengths)

    def go_on(index: int, rooms: list[float]) -> None:
        nonlocal best
        if len(rooms) >= best:
            return
        if index == len(pieces):
            best = len(rooms)
            return
        for i in sorted({room: i for i, room in enumerate(rooms)}.values()):
            if pieces[index] <= rooms[i]:
                go_on(index + 1, [*rooms[:i], rooms[i] - pieces[index], *rooms[i + 1 :]])
        go_on(index + 1, [*rooms, reel - pieces[index]])

    go_on(0, [])
    return best


def _held(found: ReelAllotment, reels: Sequence[CableReel]) -> None:
    """Every cut is on one reel or said to have none, no reel is overfull, none is used twice."""
    placed = [cut for reel in found.reels for cut in reel.cuts]
    assert sorted((*placed, *found.unplaced), key=repr) == sorted(found.cuts, key=repr)
    assert all(reel.used <= reel.length * (1 + 1e-9) and reel.cuts for reel in found.reels)
    assert len({reel.name for reel in found.reels}) == len(found.reels)
    for length in {reel.length for reel in reels}:
        counts = [r.count for r in reels if r.length == length]
        if None not in counts:
            used = sum(reel.length == length for reel in found.reels)
            assert used <= sum(c for c in counts if c is not None)


@settings(max_examples=300)
@given(runs=RUNS, stock=STOCK, together=st.booleans())
def test_every_cut_is_on_one_reel_and_no_reel_is_overfull(
    runs: list[tuple[int, int]], stock: list[tuple[int, int | None]], together: bool
) -> None:
    cuts, reels = _cuts(runs), _reels(stock)
    found = allot(cuts, reels, together=together)
    _held(found, reels)
    if found.gap is not None:
        assert found.gap >= 0
    longest = max(length for length, _ in stock)
    assert {c.run for c in found.unplaced} >= {
        f"R{i}" for i, (length, _) in enumerate(runs) if length > longest
    }


# Dosa (2007), from memory: FFD(I) <= 11/9 OPT(I) + 6/9, for reels of one length.
@settings(max_examples=150)
@given(runs=RUNS, reel=st.integers(60, 130))
def test_no_more_reels_than_the_bound_of_first_fit_decreasing(
    runs: list[tuple[int, int]], reel: int
) -> None:
    cuts, reels = _cuts(runs), [CableReel("phase", float(reel))]
    single = allot(cuts, reels, together=False)
    best = _fewest([cut.length for cut in cuts], reel)
    assert single.fewest is not None
    assert single.fewest <= best <= len(single.reels) <= 11 / 9 * best + 6 / 9
    whole = [length * phases for length, phases in runs]
    if max(whole) > reel:
        return
    found = allot(cuts, reels)
    best = _fewest(whole, reel)
    assert found.fewest_together is not None and not found.apart
    assert found.fewest_together <= best <= len(found.reels) <= 11 / 9 * best + 6 / 9


def test_the_reels_of_first_fit_decreasing_worked_by_hand() -> None:
    # 8 7 6 5 4 3 2 1 on reels of 10: 8+2, 7+3, 6+4, 5+1.
    cuts = [Cut(f"R{n}", "phase", 1, 1, float(n)) for n in (1, 2, 3, 4, 5, 6, 7, 8)]
    found = allot(cuts, [CableReel("phase", 10.0)])
    assert [[cut.length for cut in reel.cuts] for reel in found.reels] == [
        [8, 2],
        [7, 3],
        [6, 4],
        [5, 1],
    ]
    assert (found.fewest, found.gap, found.left) == (4, 0, 4.0)


@pytest.mark.parametrize(
    ("lengths", "reel", "bound"),
    [
        ([6.0] * 3, 10.0, 3),  # more than half a reel each
        ([4.0] * 7, 10.0, 4),  # two to a reel, though seven fifths of a reel are 2.8
        ([6.0, 6.0, 5.0, 5.0, 5.0], 10.0, 4),  # the fives beside no six
        ([2.5] * 4, 10.0, 1),
    ],
)
def test_the_lower_bound_worked_by_hand(lengths: list[float], reel: float, bound: int) -> None:
    assert fewest_reels(lengths, [CableReel("phase", reel)]) == bound


def test_the_phases_of_a_run_come_from_one_reel_though_fewer_would_do() -> None:
    cuts = _cuts([(30, 3), (20, 2), (35, 2)])
    reels = [CableReel("phase", 100.0)]
    together, mixed = allot(cuts, reels), allot(cuts, reels, together=False)
    assert together.apart == () and len(together.reels) == 3
    assert len(mixed.reels) == together.mixed == 2  # 35 35 30 and 30 30 20 20


def test_reels_on_hand_run_out_and_the_shortest_that_holds_a_run_is_cut() -> None:
    cuts = _cuts([(50, 2), (30, 1)])
    reels = [
        CableReel("phase", 200.0, 1),
        CableReel("phase", 100.0, 1),
        CableReel("phase", 30.0, 1),
    ]
    found = allot(cuts, reels)
    assert sorted((reel.length, len(reel.cuts)) for reel in found.reels) == [(30, 1), (100, 2)]
    short = allot(_cuts([(50, 4)]), [CableReel("phase", 100.0, 1)])
    assert len(short.unplaced) == 2 and short.gap is None and short.fewest is None


def test_what_one_long_reel_holds_is_not_cut_from_two_and_a_rest_from_the_shortest() -> None:
    reels = [CableReel("phase", length) for length in (55.0, 30.0, 100.0)]
    found = allot(_cuts([(50, 1), (50, 1), (20, 1)]), reels)
    assert sorted(reel.length for reel in found.reels) == [30.0, 100.0]


def test_a_cut_is_the_length_to_order_of_the_plan() -> None:
    job = loads(twelve_runs())
    run = evaluate(job, with_remedies=False).runs[0]
    plan = make_plan(run, job, step=30.0)
    of_run = [
        cut
        for allotment in reel_plan(job, longest=1000.0).allotments
        for cut in allotment.cuts
        if cut.run == run.run.name
    ]
    assert len(of_run) == 4  # three phases and the ground
    # rounded up to the 0.01 m or 0.1 ft shown
    (length,) = {cut.length for cut in of_run}
    step = {"US": 0.1 * 0.3048, "SI": 0.01}[job.units]
    assert length == pytest.approx(math.ceil(plan.feeding.cable_length / step - 1e-9) * step)
    slack = job.allowances.feed_slack + job.allowances.pull_slack
    assert plan.feeding.cable_length == pytest.approx(run.path.length + slack) and slack > 0


@pytest.mark.parametrize(("system", "unit", "digits"), [("US", 0.3048, 1), ("SI", 1.0, 2)])
def test_cuts_add_up_by_hand_to_what_is_cut_and_left(system: str, unit: float, digits: int) -> None:
    """As printed: each cut, what is left after it, and the totals of each reel."""
    job = _a_hair_longer(loads(twelve_runs()))
    plan = reel_plan(job, longest=2500 * unit, system=system)
    assert plan.allotments and not plan.stops
    for reel in (reel for allotment in plan.allotments for reel in allotment.reels):
        left = round(reel.length / unit, digits)
        for line in cut_lines([reel]):
            shown = round(line.cut.length / unit, digits)
            assert line.cut.length / unit == pytest.approx(shown, abs=1e-9)
            left -= shown
            assert line.left / unit == pytest.approx(left, abs=1e-6)
        assert reel.left / unit == pytest.approx(left, abs=1e-6)


def test_a_reel_too_short_for_the_cuts_as_printed_does_not_hold_them() -> None:
    """Three cuts a hair over a printed 0.1 ft: what they take unrounded is too short."""
    job = _a_hair_longer(loads(twelve_runs()))
    one = replace(job, runs=job.runs[:1])
    ordered = length_to_order(route_path(job.runs[0].route).length, job.allowances)
    printed = math.ceil(ordered / FT * 10) / 10 * FT
    assert printed - ordered > 0.03 * FT
    for longest, reels in ((3 * ordered, 2), (3 * printed, 1)):
        plan = reel_plan(one, longest=longest, system="US")
        assert len(plan.allotments[0].reels) == reels


def _a_hair_longer(job: Job) -> Job:
    """Its cuts end 0.01 ft and 0.003 m beyond what is printed, as those of the demo do not."""
    slack = job.allowances.feed_slack + 0.01 * FT
    return replace(job, allowances=replace(job.allowances, feed_slack=slack))


def test_the_reels_of_the_file_are_used_for_their_cable() -> None:
    text = twelve_runs() + '\n[[cable_reel]]\ncable = "phase"\nlength = "900 m"\ncount = 9\n'
    job = loads(text)
    assert job.cable_reels == (CableReel("phase", 900.0, 9),)
    plan = reel_plan(job)
    assert [a.cable for a in plan.allotments] == ["phase"] and plan.without == ("ground",)
    with pytest.raises(route3d.InputError, match=r"phse.*did you mean 'phase'"):
        loads(text.replace('cable = "phase"\nlength', 'cable = "phse"\nlength'))
