"""The rope ahead of the head: docs/theory.md section 7."""

from __future__ import annotations

import math

import numpy as np
import pytest

from route3d.mechanics.pull import solve_pull
from route3d.mechanics.rope import head_nodes
from route3d.model import Practice, Rope, Run
from tests.support import jobs
from tests.support.jobs import along, at, cable, conduit, lay
from tests.support.march import ahead, behind, march
from tests.support.routes import Go, Turn, vertices

EXACT = Practice()
# No rope weighs nothing, and the law is not asked to: this is 1e-8 of the cable.
WEIGHTLESS = 25e-8
# Asked for; both halves of the pull promise 1e-8 of the oracle.
ASKED = 1e-7

AHEAD = (1.0, 0.0, 0.0)  # the way out of a vertical leg, where left and up say nothing
YARD = [Go(40), Turn(90, 1.2), Go(25), Turn(90, 1.2, "up"), Go(12), Turn(60, 0.9, AHEAD), Go(6)]
OVER_THE_TOP = [
    *(Go(10), Turn(90, 1.0, "up"), Go(30), Turn(90, 1.0, AHEAD), Go(5)),
    *(Turn(90, 1.0, "down"), Go(30), Turn(90, 1.0, AHEAD), Go(5), Turn(90, 1.0), Go(5)),
]


def roped(pieces: list[Go | Turn], rope: Rope, friction: float = 0.25, **more: object) -> Run:
    return jobs.run(along(vertices(pieces), conduit(friction=friction)), cable(), rope=rope, **more)


@pytest.mark.parametrize("pieces", [YARD, OVER_THE_TOP], ids=["yard", "over the top"])
@pytest.mark.parametrize("reverse", [False, True])
def test_machine_load_is_cable_to_the_head_and_rope_from_there(
    pieces: list[Go | Turn], reverse: bool
) -> None:
    pull = solve_pull(roped(pieces, jobs.rope(3.0, 0.15)), EXACT, reverse=reverse)
    assert pull.heads is not None and pull.machine_loads is not None
    for i in range(1, len(pull.heads) - 1, 3):
        station = float(pull.heads[i])
        cable_part = behind(pull.path, station, reverse)
        k = [0.25] * len(cable_part)
        head = march(cable_part, 25.0, k, pull.reel_tension, reverse)[-1]
        rope_part = ahead(pull.path, station, reverse)
        load = march(rope_part, 3.0, [0.15] * len(rope_part), head, reverse)[-1]
        # 1e-6 N where the auto brake leaves the cable without tension to its rounding.
        assert pull.machine_loads[i] == pytest.approx(load, rel=ASKED, abs=1e-6)


def test_head_at_the_pulling_end_loads_the_machine_with_its_own_tension() -> None:
    pull = solve_pull(roped(YARD, jobs.rope()), EXACT)
    assert pull.heads is not None and pull.machine_loads is not None
    assert pull.heads[0] == 0.0 and pull.heads[-1] == pytest.approx(pull.path.length)
    assert pull.machine_loads[-1] == pull.end_tension


def test_head_at_the_feed_loads_the_machine_with_the_rope_alone() -> None:
    pull = solve_pull(roped(YARD, jobs.rope(3.0, 0.15), reel_tension=0.0), EXACT)
    assert pull.machine_loads is not None
    alone = march(pull.path, 3.0, [0.15] * len(pull.path), 0.0)[-1]
    assert pull.machine_loads[0] == pytest.approx(alone, rel=ASKED)


@pytest.mark.parametrize("reverse", [False, True])
def test_a_weightless_rope_multiplies_by_the_capstan_factor_of_the_remaining_turn(
    reverse: bool,
) -> None:
    pull = solve_pull(
        roped(YARD, jobs.rope(WEIGHTLESS, 0.3), reel_tension=500.0), EXACT, reverse=reverse
    )
    assert pull.heads is not None and pull.machine_loads is not None
    for head, load in zip(pull.heads, pull.machine_loads, strict=True):
        tension = np.interp(*_rising(head, pull.profile.station, pull.profile.tension))
        turn = ahead(pull.path, float(head), reverse).turn if 0 < head < pull.path.length else None
        if turn is None:
            turn = 0.0 if (head == 0.0) == reverse else pull.path.turn
        # Its weight adds less than 1e-8 of the cable's own tension.
        assert load == pytest.approx(tension * math.exp(0.3 * turn), rel=1e-7)


def test_a_weightless_frictionless_rope_hands_on_the_heads_tension() -> None:
    pull = solve_pull(roped(YARD, jobs.rope(WEIGHTLESS, 0.0)), EXACT)
    assert pull.heads is not None
    heads = np.interp(pull.heads, pull.profile.station, pull.profile.tension)
    assert pull.machine_loads == pytest.approx(heads, rel=1e-7, abs=1e-4)


def _rising(at: float, stations: np.ndarray, values: np.ndarray) -> tuple[float, ...]:
    order = np.argsort(stations, kind="stable")
    return at, stations[order], values[order]


def test_the_governing_load_can_come_before_the_head_arrives() -> None:
    # Over the top and down: the cable's own weight relieves the far riser, the light rope's
    # does not, so the machine feels most with the head near the top.
    pull = solve_pull(roped(OVER_THE_TOP, jobs.rope(1.0, 0.2)), EXACT)
    assert pull.heads is not None and pull.machine_loads is not None
    top = float(np.mean([pull.path.stations[3], pull.path.stations[6]]))
    governing = float(pull.heads[int(np.argmax(pull.machine_loads))])
    assert governing == pytest.approx(top, abs=6.0)
    assert pull.machine_peak > 1.3 * pull.end_tension


def test_a_turn_at_a_pull_point_counts_for_the_rope_too() -> None:
    route = lay(
        at((0, 0, 0)), at((30, 0, 0), ends="reel machine"), at((30, 20, 0)), conduits=conduit()
    )
    pull = solve_pull(jobs.run(route, rope=jobs.rope(2.0, 0.2), reel_tension=400.0), EXACT)
    assert pull.machine_loads is not None
    corner = (400.0 + 0.2 * 2 * 30) * math.exp(0.2 * math.pi / 2)
    assert pull.machine_loads[0] == pytest.approx(corner + 0.2 * 2 * 20, rel=1e-12)


def test_heads_thin_out_on_long_runs_and_keep_both_ends() -> None:
    assert list(head_nodes(5)) == [0, 1, 2, 3, 4]
    many = head_nodes(5000)
    assert (many[0], many[-1], len(many)) == (0, 4999, 240)
    assert np.all(np.diff(many) > 0)


def test_a_long_run_keeps_the_load_it_arrives_with() -> None:
    # 300 looks or more: the heads are thinned, the loads stay those of the full set of joints.
    zigzag = [p for i in range(40) for p in (Go(30), Turn(22.5, 3.0, "left" if i % 2 else "right"))]
    pull = solve_pull(roped([*zigzag, Go(30)], jobs.rope(2.0, 0.1), friction=0.05), EXACT)
    assert pull.heads is not None and len(pull.heads) == 240
    assert pull.machine_loads is not None and pull.machine_loads[-1] == pull.end_tension
