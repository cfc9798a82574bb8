"""A pull as tables: the load at the machine for any friction, worked out in milliseconds.

The pull model is a chain of steps from one place of the head to the next, and each step takes a
tension and one friction to a tension: that of the cable from head to head, and that of the rope
from each head to the machine. Both are tabulated from the solver itself, at nodes of tension and of
friction over the plan's. A step that goes slack forgets what entered it, so its law is the larger
of a smooth function and of what leaves it from no tension at all: only the smooth one is
interpolated, linearly in tension and by Lagrange's formula in friction.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from route3d.field import departures
from route3d.field.departures import load_response, usual_noise
from route3d.field.expected import ExpectedLoad, expected_load
from route3d.geometry.path import ARC
from route3d.geometry.vectors import Floats
from route3d.mechanics.feed import feed_factor
from route3d.mechanics.lead_off import lead_off_factor
from route3d.mechanics.pull import Pull
from route3d.mechanics.rope_scenarios import ENDLESS, HeadTrack
from route3d.mechanics.tension import through_piece
from route3d.planning.pull_plan.plan import Plan

# Nodes of friction over the plan's: so far and no farther are scenarios taken. With them cable
# steps, of one bend at most, are exact to 1e-5, and the rope through all bends ahead to 1e-3.
_CABLE_RATIOS, _ROPE_RATIOS = 4, 6
LEAST_RATIO, MOST_RATIO = 0.3, 3.0
# Nodes of tension, N: no tension, then each so many times the last. Closer where friction that
# falls above a contact load decides: there the law has a kink at another tension in each bend.
_FIRST_NODE, _NODE_FACTOR, _LAST_NODE = 5.0, 1.8, 2e5
_FALLING_FACTOR = 1.08
# Heads: bends in parts of at most so many rad, straights in parts of the route, and halved where
# the load of a scenario is farther than this from a straight line; not more than so many.
_PART_OF_BEND, _PARTS_OF_ROUTE, _MOST_HEADS = math.radians(25.0), 40, 100
_STRAIGHT, _HALVINGS, _TRIED, _SPREAD = 0.01, 9, 400, 0.3
# A load counts as at least so much of the largest: a share of next to nothing says nothing.
_LEAST_LOAD = 0.1


@dataclass(frozen=True, eq=False)
class Response:
    """The load at the machine with the head at each of m places, from tables.

    ``expected`` is the model itself at those places. ``owner`` (m,) is the conduit of the step that
    ends at each head. ``tensions`` (t,) N are the nodes of tension. ``cable`` (m, q, t) N is the
    tension at a head by that at the head before it, at the friction ratios ``cable_ratios`` (q,),
    and ``cable_slack`` (m, q) N what it is at least; ``rope`` (m, p, t) N the machine load by the
    tension at a head at ``rope_ratios`` (p,), and ``rope_slack`` (m, p) N what that is at least.
    """

    expected: ExpectedLoad
    owner: NDArray[np.int64]
    tensions: Floats
    cable_ratios: Floats
    cable: Floats
    cable_slack: Floats
    rope_ratios: Floats
    rope: Floats
    rope_slack: Floats

    @property
    def pulled(self) -> Floats:
        """Cable in at each head, (m,) m."""
        return self.expected.pulled

    @property
    def feed_factor(self) -> float:
        """Tension that enters the conduit over that leaving the reels."""
        return feed_factor(self.expected.pull.run)

    def loads(self, friction: Floats, rope: Floats, reel: Floats) -> Floats:
        """Machine load (m, k) N in k scenarios.

        ``friction`` (c, k) and ``rope`` (k,) over the plan's, held within 0.3 to 3 times it, and
        ``reel`` (k,) N.
        """
        behind = [_weights(self.cable_ratios, ratio) for ratio in friction]
        ahead = _weights(self.rope_ratios, rope)
        found = np.empty((len(self.pulled), len(rope)))
        tension = reel * self.feed_factor
        for i, owner in enumerate(self.owner.tolist()):
            tension = self._through(self.cable[i], self.cable_slack[i], behind[owner], tension)
            found[i] = self._through(self.rope[i], self.rope_slack[i], ahead, tension)
        return found

    def _through(self, table: Floats, slack: Floats, weights: Floats, tension: Floats) -> Floats:
        """Tension (k,) behind a step, with ``weights`` (k, q) of its nodes of friction."""
        at, last = self.tensions, len(self.tensions) - 2
        factor = math.log(at[2] / at[1])
        above = np.log(np.maximum(tension, _FIRST_NODE) / _FIRST_NODE) / factor
        k = np.minimum(above.astype(np.int64) + (tension >= _FIRST_NODE), last)
        part = (tension - at[k]) / (at[k + 1] - at[k])
        values = weights @ table
        low = np.arange(len(tension)) * len(at) + k
        flat = values.ravel()
        start = flat.take(low)
        found: Floats = start + part * (flat.take(low + 1) - start)
        return np.maximum(np.maximum(found, weights @ slack), 0.0)


def response(pull: Pull) -> Response:
    """The tables of one pull; InputError as ``expected_load``."""
    expected = expected_load(pull, heads_of(pull))
    track = expected.track
    factor = _NODE_FACTOR if track.fall is None else _FALLING_FACTOR
    above = np.arange(math.ceil(math.log(_LAST_NODE / _FIRST_NODE) / math.log(factor)) + 1)
    tensions = np.concatenate(([0.0], _FIRST_NODE * factor**above))
    cable_ratios, rope_ratios = _ratios(_CABLE_RATIOS), _ratios(_ROPE_RATIOS)
    cable = _cable_steps(track, cable_ratios, tensions)
    rope = _rope_steps(track, rope_ratios, tensions)
    segments = np.maximum(track.joints - 1, 0)  # the one that ends at each head
    return Response(
        expected=expected,
        owner=expected.owner[segments],
        tensions=tensions,
        cable_ratios=cable_ratios,
        cable=_smooth(cable, tensions),
        cable_slack=cable[:, :, 0],
        rope_ratios=rope_ratios,
        rope=_smooth(rope, tensions),
        rope_slack=rope[:, :, 0],
    )


# --- what may be otherwise than planned ---------------------------------------------------------

# Spreads at one standard deviation, own judgment where no source is named. A range in the file is
# taken as what nearly nine of ten pulls keep within; without one friction may be a third off.
_WITHIN = 1.5
_THIRD = math.log(4.0 / 3.0)
_COMMON = 0.5  # correlation of the friction of two conduits: the same cable and lubricant
_ROPE = 0.25
_LEAST_REEL, _MOST_REEL = 0.25, 0.5
_SCALE = 0.02  # of a gauge in order
_SIGMA_SHARE, _SIGMA = 0.02, 0.8  # of the largest load planned; and of its logarithm
_REACH, _REACH_SPREAD = 4.0, 0.8  # m; and of its logarithm
_TARE_STEPS = 0.5


@dataclass(frozen=True, eq=False)
class Prior:
    """What a scenario is made of before anything is read: ``mean`` (d,) and ``cov`` (d, d).

    Named by ``names`` (d,): the logarithm of friction over the plan's for each conduit and for the
    rope, of reel tension over ``reel`` N, of the noise's standard deviation N and of its reach m.
    ``scale`` and ``tare`` N are the standard deviations of a gauge that is out of order by a share
    and by a force. ``step`` N is that of the dial.
    """

    names: tuple[str, ...]
    mean: Floats
    cov: Floats
    reel: float
    step: float
    scale: float
    tare: float


def prior_of(plan: Plan, response: Response, gauge_step: float) -> Prior:
    """What may be otherwise than in a plan: friction within its range, the brake in its window."""
    expected, run = response.expected, plan.pull.run
    conduits = {c.name: c for c in run.route.conduits}
    spreads = []
    for name in expected.conduits:
        low, high = conduits[name].friction_low, conduits[name].friction_high
        if low is None or high is None or not 0 < low < high:
            spreads.append(_THIRD / _WITHIN)
        else:
            spreads.append(math.log(high / low) / 2 / _WITHIN)
    own = np.array(spreads)
    reel = max(expected.reel_tension, gauge_step)
    most = plan.brake.at_most if plan.brake.holds else 0.0
    held = math.log(max(most / reel, 1.0)) / 2 / _WITHIN
    held = min(max(held, _LEAST_REEL), _MOST_REEL)
    sigma = max(_SIGMA_SHARE * plan.peak, gauge_step / 4)
    rest = (_ROPE, held, _SIGMA, _REACH_SPREAD)
    c, d = len(own), len(own) + len(rest)
    cov = np.zeros((d, d))
    cov[:c, :c] = np.outer(own, own) * (_COMMON + (1 - _COMMON) * np.eye(c))
    cov[range(c, d), range(c, d)] = np.square(rest)
    mean = np.zeros(d)
    mean[-2:] = math.log(sigma), math.log(_REACH)
    names = (*expected.conduits, *REST)
    return Prior(names, mean, cov, reel, gauge_step, _SCALE, _TARE_STEPS * gauge_step)


REST = ("rope", "reel", "sigma", "reach")
"""What a scenario has beside the friction of each conduit, in order."""


# --- the page -------------------------------------------------------------------------------------


def response_tables(plan: Plan, gauge_step: float) -> dict[str, Any]:
    """What the page needs to judge and to forecast one direction without a network, for JSON.

    Loads N and lengths m. ``gauge_step`` N is that of the dial. InputError as ``expected_load``.
    """
    made = response(plan.pull)
    prior = prior_of(plan, made, gauge_step)
    rows, moves = plan.gauge, plan.pace.moves
    return {
        "length": plan.pull.path.length,
        "step": gauge_step,
        "gauge": {
            "pulled": [_short(row.pulled, 7) for row in rows],
            "expected": [_short(row.expected) for row in rows],
            "caution": [_short(row.caution) for row in rows],
            "stop": [_short(row.stop) for row in rows],
            "gear": [row.gear.name if row.gear else "" for row in rows],
            "accurate": [row.readable for row in rows],
        },
        "safe": [[_short(x, 7) for x in pair] for pair in moves.safe.tolist()],
        "pullPoints": [_short(x, 7) for x in moves.pull_points.tolist()],
        "starts": [_short(x, 7) for x in plan.pace.starts],
        "prior": {
            "names": list(prior.names),
            "mean": [_short(x, 7) for x in prior.mean.tolist()],
            "cov": [[_short(x, 7) for x in row] for row in prior.cov.tolist()],
            "reel": _short(prior.reel, 7),
            "scale": prior.scale,
            "tare": _short(prior.tare, 7),
        },
        "response": {
            "pulled": [_short(x, 9) for x in made.pulled.tolist()],
            "owner": made.owner.tolist(),
            "feed": _short(made.feed_factor, 9),
            "ratios": [LEAST_RATIO, MOST_RATIO],
            "tensions": [_short(x, 9) for x in made.tensions.tolist()],
            "cableRatios": [_short(x, 9) for x in made.cable_ratios.tolist()],
            "cable": _rounded(made.cable),
            "cableSlack": _rounded(made.cable_slack),
            "ropeRatios": [_short(x, 9) for x in made.rope_ratios.tolist()],
            "rope": _rounded(made.rope),
            "ropeSlack": _rounded(made.rope_slack),
        },
        "detector": _detector(made.expected, gauge_step),
    }


# The rule by which departures are called is the same in the browser, and so are its figures.
_RULE = (
    *("LOOK_BACK", "ONSETS", "EVIDENCE", "BEYOND_ONE", "LEAST_STEPS", "LEAST_SHARE"),
    *("CLIMB_STEPS", "CLIMB_SHARE", "CLIMB_OVER", "SWINGS", "SWING_EVIDENCE", "SWING_MOST"),
    *("TURNS", "SWING_STEPS", "JUMPS", "JUMPS_WITHIN", "OVER_SWING", "GROSS", "NOTHING"),
    *("_OFFSET", "_FOOTAGE", "_REEL", "_WANDER", "_WANDER_FOOTAGE", "_BOUNDS", "_WILD", "_CAPPED"),
)


def _detector(expected: ExpectedLoad, gauge_step: float) -> dict[str, Any]:
    answers, noise = load_response(expected, gauge_step), usual_noise(gauge_step)
    return {
        "plan": [_short(x) for x in answers.plan.tolist()],
        "first": [[_short(round(x, 6)) for x in row] for row in answers.first.tolist()],
        "second": [[_short(round(x, 6)) for x in row] for row in answers.second.tolist()],
        "spread": [[_short(x) for x in row] for row in answers.spread.tolist()],
        "reel": answers.names.index("reel"),
        "floor": _short(answers.floor, 9),
        "noise": [_short(x, 9) for x in (noise.sigma, noise.reach, noise.step)],
        "rule": {name.lstrip("_"): getattr(departures, name) for name in _RULE},
    }


def _short(value: float, digits: int = 6) -> float | int:
    """A number to so many digits, whole where it is."""
    short = float(f"{value:.{digits}g}")
    return int(short) if short == int(short) and abs(short) < 1e15 else short


def _rounded(values: Floats) -> Any:
    """An array as lists, to five digits and no finer than 0.1 N."""
    if values.ndim > 1:
        return [_rounded(part) for part in values]
    return [_short(round(x, 1), 5) for x in values.tolist()]


# --- how the tables are made ----------------------------------------------------------------------


def heads_of(pull: Pull) -> Floats:
    """Cable in (m,) m at which a pull is tabulated: every end of a segment, and between them.

    Between two of them loads are straight lines but for what a part of a bend curves them.
    """
    path = pull.path
    joints = np.abs(path.stations - (path.length if pull.reverse else 0.0))
    heads = [np.sort(joints)]
    most = path.length / _PARTS_OF_ROUTE
    for i, (a, b) in enumerate(zip(joints[:-1].tolist(), joints[1:].tolist(), strict=True)):
        parts = math.ceil(abs(b - a) / most)
        if path.kind[i] == ARC:
            parts = max(parts, math.ceil(float(path.angles[i]) / _PART_OF_BEND))
        heads.append(np.linspace(a, b, parts + 1)[1:-1])
    found = np.unique(np.round(np.concatenate(heads), 9))
    found = np.clip(found[np.concatenate(([True], np.diff(found) > 1e-6))], 0.0, path.length)
    if len(found) > _MOST_HEADS:  # a route of very many bends: evenly, but at every conduit's end
        legs = np.flatnonzero(np.diff(path.leg)) + 1
        kept = np.round(np.linspace(0, len(found) - 1, _MOST_HEADS)).astype(int)
        found = np.unique(np.concatenate((found[kept], np.round(joints[legs], 9))))
    return _halved_where_bent(pull, found)


def _halved_where_bent(pull: Pull, heads: Floats) -> Floats:
    """Heads (m,) m and more between them where the load is no straight line: a cable goes slack."""
    random = np.random.default_rng(7)
    conduits = len({c.name for c in pull.run.route.conduits})
    ratios = np.exp(_SPREAD * random.standard_normal((conduits + 2, _TRIED)))
    loads = _loads_of(pull, heads, ratios)
    least = _LEAST_LOAD * float(loads.max(axis=0).min())
    looked = np.zeros(len(heads) - 1, dtype=bool)  # whether a gap is known to be straight
    for _ in range(_HALVINGS):
        gaps = np.flatnonzero(~looked & (np.diff(heads) > 0.02))
        if not len(gaps) or len(heads) >= _MOST_HEADS:
            break
        between = (heads[gaps] + heads[gaps + 1]) / 2
        found = _loads_of(pull, between, ratios)
        apart = np.abs(found - (loads[gaps] + loads[gaps + 1]) / 2) / np.maximum(found, least)
        bent = np.flatnonzero(apart.max(axis=1) > _STRAIGHT)
        bent = bent[np.argsort(-apart.max(axis=1)[bent])][: _MOST_HEADS - len(heads)]
        looked[gaps] = True
        looked[gaps[bent]] = False
        for i in np.sort(bent)[::-1]:
            at = gaps[i] + 1
            heads, loads = np.insert(heads, at, between[i]), np.insert(loads, at, found[i], axis=0)
            looked = np.insert(looked, at, False)
    return heads


def _loads_of(pull: Pull, places: Floats, ratios: Floats) -> Floats:
    """Machine load (m, k) N of the solver, for ratios to the plan's figures."""
    expected = expected_load(pull, places, closely=False)
    friction, reel = expected.friction[:, None] * ratios[:-2], expected.reel_tension * ratios[-1]
    return expected.loads(friction, expected.rope_friction * ratios[-2], reel)


def _ratios(count: int) -> Floats:
    """Chebyshev's nodes, which keep a polynomial through them true over the whole range."""
    nodes = np.cos((2 * np.arange(count)[::-1] + 1) * math.pi / (2 * count))
    ratios: Floats = (LEAST_RATIO + MOST_RATIO) / 2 + (MOST_RATIO - LEAST_RATIO) / 2 * nodes
    return ratios


def _weights(nodes: Floats, ratio: Floats) -> Floats:
    """Lagrange's weights (k, q) of the nodes at ratios (k,)."""
    x = np.clip(ratio, LEAST_RATIO, MOST_RATIO)
    columns = [
        np.prod([(x - b) / (a - b) for b in nodes if b != a], axis=0) for a in nodes.tolist()
    ]
    return np.column_stack(columns)


def _cable_steps(track: HeadTrack, ratios: Floats, tensions: Floats) -> Floats:
    """Tension at each head by that at the head before it, (m, q, t) N, slack and all."""
    run, method = track.pull.run, track.pull.practice.method
    each = np.repeat(ratios, len(tensions))
    weight = np.full(len(each), run.cables.weight)
    start, steps = 0, []
    for joint in track.joints.tolist():
        t = np.tile(tensions, len(ratios))
        for i in range(start, joint):
            mu = track.friction[i] * (np.ones_like(each) if track.on_sheave[i] else each)
            k = track.cable_friction(i, mu)
            t = np.minimum(through_piece(track.pieces[i], weight, k, t, method), ENDLESS)
        steps.append(t.reshape(len(ratios), -1))
        start = joint
    return np.array(steps)


def _rope_steps(track: HeadTrack, ratios: Floats, tensions: Floats) -> Floats:
    """Machine load by the tension at each head, (m, p, t) N, slack and all."""
    rope = track.rope
    each = np.repeat(ratios, len(tensions)) * rope.friction
    ahead = np.tile(tensions, (len(track.joints), len(ratios)))
    for i, friction in enumerate(track.friction.tolist()):
        passed = track.passed(i)
        if not passed:
            continue
        mu = np.full_like(each, friction) if track.on_sheave[i] else each
        mu = np.broadcast_to(mu, (passed, len(each))).ravel()
        weight = np.full(mu.shape, rope.weight)
        end = through_piece(track.pieces[i], weight, mu, ahead[:passed].ravel(), "exact")
        ahead[:passed] = np.minimum(end, ENDLESS).reshape(passed, -1)
    if turns := track.pull.run.lead_off:
        ahead = ahead * np.array([lead_off_factor(turns, mu) for mu in each.tolist()])
    return ahead.reshape(len(track.joints), len(ratios), -1)


def _smooth(values: Floats, tensions: Floats) -> Floats:
    """``values`` (..., t) with those of a slack step carried on straight from the taut ones."""
    smooth = np.array(values)
    slack = values <= values[..., :1] + 1e-9 * np.abs(values[..., :1]) + 1e-9
    first = np.minimum((~slack).argmax(axis=-1), len(tensions) - 2)  # the first taut node
    for place in np.argwhere((first > 1) | ~(~slack).any(axis=-1)):
        row, k = smooth[tuple(place)], int(first[tuple(place)])
        slope = (row[k + 1] - row[k]) / (tensions[k + 1] - tensions[k])
        row[:k] = row[k] + slope * (tensions[:k] - tensions[k])
    return smooth
