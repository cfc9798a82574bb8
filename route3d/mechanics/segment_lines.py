"""One pull, line by line: each straight and bend with every figure its formula needs.

Someone with a pocket calculator can redo a line of a straight, a level bend or a bend in a vertical
plane. Where another formula takes over inside a bend, the bend is cut there. A bend in a tilted
plane has no closed form: its line holds the exact value and the figures of the hand method.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np

from route3d.geometry.path import CORNER, STRAIGHT, Path
from route3d.geometry.vectors import Floats
from route3d.mechanics.pressure_friction import FallingFriction, on_straight, stretches
from route3d.mechanics.pull import Pull, solve_pull
from route3d.mechanics.tension import integrate, pieces_of

# Bends whose plane is within rounding of level or upright; the law differs from the closed form
# there by less than 1e-9 of w R.
_EXACT = 1e-9
# Where another formula takes over is looked for between so many places of a bend, then halved.
_LOOKS, _HALVINGS = 48, 40
# Less of a bend than this (rad) is rounding.
_LEAST_PART = 1e-7


@dataclass(frozen=True, slots=True)
class SegmentLine:
    """One line of a calculation, in pulling order; lengths m, angles rad, forces N.

    Parameters
    ----------
    number : int
        Of the straight or bend, from 1 in pulling order.
    part : str
        "a", "b", ... of a bend that is cut; else "".
    form : str
        The formula: "straight", "level", "sag", "crest", "sag, outer wall", "slack", "tilted",
        "corner", "sheave", or "held" where the contact load stays at the threshold of friction.
    segment : int
        Of the path.
    length, angle : float
        m; rad of a bend, 0 of a straight.
    radius : float
        m; infinite of a straight, 0 of a corner.
    slope_in, slope_out : float
        Slope above level in pulling order, rad; in a vertical plane it goes on past upright.
    friction, weight_factor : float
        μ and ω. Where friction falls above a contact load, μ as it is in this line; NaN in "held".
    tension_in, tension_out : float
        Exact.
    hand_in, hand_out : float
        The same by the hand method, from the same tension at the feed.
    sidewall, hand_sidewall : float
        N/m, of the worst cable; 0 on a straight.
    largest : float
        Tension that the sidewall pressure comes from: larger than both ends where it peaks inside.
    friction_given : float
        μ up to the contact load above which it falls; that of the hand method.
    rise : float
        Of a "held" line, m; else 0.
    """

    number: int
    part: str
    form: str
    segment: int
    length: float
    angle: float
    radius: float
    slope_in: float
    slope_out: float
    friction: float
    weight_factor: float
    tension_in: float
    tension_out: float
    hand_in: float
    hand_out: float
    sidewall: float
    hand_sidewall: float
    largest: float
    friction_given: float
    rise: float = 0.0

    @property
    def effective_friction(self) -> float:
        """K = ω μ."""
        return self.friction * self.weight_factor

    @property
    def closed(self) -> bool:
        """True where a closed form gives the exact value."""
        return self.form != "tilted"


def by_method(pull: Pull, method: str) -> Pull:
    """The pull worked by one method, the reels held as they are.

    Parameters
    ----------
    pull : Pull
        One direction, solved.
    method : {"exact", "handbook"}
        As for `integrate`.

    Returns
    -------
    Pull
        Solved again where it was not worked so.

    References
    ----------
    docs/theory.md, equations (1) and (11).
    """
    if pull.practice.method == method:
        return pull
    practice = replace(pull.practice, bend_form="full" if method == "exact" else "capstan")
    run = replace(pull.run, reel_tension=pull.reel_tension)
    return solve_pull(run, practice, reverse=pull.reverse, path=pull.path, fits=pull.fits)


def segment_lines(pull: Pull) -> tuple[SegmentLine, ...]:
    """Every straight, bend and turn of a pull, exact and by hand.

    Parameters
    ----------
    pull : Pull
        One direction, solved.

    Returns
    -------
    tuple of SegmentLine
        In pulling order.

    References
    ----------
    docs/theory.md, equations (2), (6) to (9), (11), (13).
    """
    exact, hand = by_method(pull, "exact"), by_method(pull, "handbook")
    walked = pull.path.reversed() if pull.reverse else pull.path
    at, by_hand = _at_joints(exact), _at_joints(hand)
    friction, factor = _frictions(exact)
    falls = _falls(exact)
    count = len(walked)
    lines: list[SegmentLine] = []
    for i in range(count):
        segment = count - 1 - i if pull.reverse else i
        worst = int(exact.worst_rows[segment])
        whole = SegmentLine(
            number=i + 1,
            part="",
            form="",
            segment=segment,
            length=float(walked.lengths[i]),
            angle=float(walked.angles[i]),
            radius=float(walked.radii[i]),
            slope_in=_slope(walked.tangents[i]),
            slope_out=_slope(walked.end_tangents[i]),
            friction=friction[segment],
            weight_factor=factor[segment],
            tension_in=at[i],
            tension_out=at[i + 1],
            hand_in=by_hand[i],
            hand_out=by_hand[i + 1],
            sidewall=float(exact.profile.sidewall[worst]),
            hand_sidewall=float(hand.profile.sidewall[int(hand.worst_rows[segment])]),
            largest=float(exact.profile.tension[worst]),
            friction_given=friction[segment],
        )
        piece = walked.part(i, i + 1)
        found = list(_with_frictions(whole, piece, pull, falls.get(segment)))
        parts = "abcdefghijkl" if len(found) > 1 else ""
        lines += [replace(line, part=parts[j : j + 1]) for j, line in enumerate(found)]
    return tuple(lines)


def _at_joints(pull: Pull) -> list[float]:
    """Tension between the segments of the path, in pulling order."""
    segment, tension = pull.profile.segment, pull.profile.tension
    cuts = np.flatnonzero(np.diff(segment)) + 1
    return [float(tension[0]), *tension[cuts].tolist(), float(tension[-1])]


def _frictions(pull: Pull) -> tuple[dict[int, float], dict[int, float]]:
    """Friction and weight factor by segment of the path."""
    way, owners = pull.course, pull.profile.segment[::2].tolist()
    order = slice(None, None, -1) if pull.reverse else slice(None)
    friction, factor = (a[order].tolist() for a in (way.friction, way.weight_factor))
    return dict(zip(owners, friction, strict=True)), dict(zip(owners, factor, strict=True))


def _falls(pull: Pull) -> dict[int, tuple[float, float]]:
    """Share that is left of friction, and the contact load above which, by segment that has it."""
    fall = pull.course.walked_fall
    if fall is None:
        return {}
    owners = pull.profile.segment[::2].tolist()
    each = zip(owners, fall.share.tolist(), fall.above.tolist(), strict=True)
    return {owner: (share, above) for owner, share, above in each if math.isfinite(above)}


def _with_frictions(
    line: SegmentLine, piece: Path, pull: Pull, fall: tuple[float, float] | None
) -> Iterator[SegmentLine]:
    """The line with the friction that holds, cut where that changes."""
    kind, w = int(piece.kind[0]), pull.run.cables.weight
    if fall is None or kind == CORNER:
        yield from _with_forms(line, piece, pull)
        return
    K, lower = line.effective_friction, line.friction * fall[0]
    law = FallingFriction(K, K * fall[0], fall[1])
    segment = pieces_of(piece)[0]
    if kind == STRAIGHT:
        friction = line.friction if on_straight(w, segment.level, law) == K else lower
        yield from _with_forms(replace(line, friction=friction), piece, pull)
        return
    found = stretches(segment.bend, w, law, line.tension_in)
    cut = piece.split([each.start * line.radius for each in found[1:]])
    hand = line.hand_in
    per_newton = line.sidewall / line.largest if line.largest else 0.0
    for j, each in enumerate(found):
        own, last = cut.part(j, j + 1), j == len(found) - 1
        hand_out = line.hand_out if last else hand * math.exp(K * each.angle)
        friction = {K: line.friction, None: math.nan}.get(each.friction, lower)
        part = line
        if len(found) > 1:
            most = max(each.tension_in, each.tension_out)
            part = replace(
                line,
                length=each.angle * line.radius,
                angle=each.angle,
                slope_in=_slope(own.tangents[0]),
                slope_out=_slope(own.end_tangents[0]),
                tension_in=each.tension_in,
                tension_out=line.tension_out if last else each.tension_out,
                hand_in=hand,
                hand_out=hand_out,
                sidewall=most * per_newton,
                hand_sidewall=max(hand, hand_out) * per_newton,
                largest=most,
            )
        hand = hand_out
        part = replace(part, friction=friction)
        if each.friction is None:
            rise = float(own.ends[0, 2] - own.starts[0, 2])
            yield replace(part, form="held", rise=rise)
        else:
            yield from _with_forms(part, own, pull)


def _slope(tangent: Floats) -> float:
    return math.atan2(float(tangent[2]), math.hypot(float(tangent[0]), float(tangent[1])))


def _with_forms(line: SegmentLine, piece: Path, pull: Pull) -> Iterator[SegmentLine]:
    """The line with the formula that holds, cut where another one takes over."""
    kind = int(piece.kind[0])
    if kind == CORNER:
        vertex = pull.run.route.vertices[int(piece.vertex[0])]
        yield replace(line, form="corner" if vertex.sheave is None else "sheave")
        return
    if kind == STRAIGHT:
        yield replace(line, form="straight")
        return
    t, n = piece.tangents[0], piece.normals[0]
    if abs(t[2]) < _EXACT and abs(n[2]) < _EXACT:
        yield replace(line, form="level")
    elif abs(t[0] * n[1] - t[1] * n[0]) > _EXACT:
        yield replace(line, form="tilted")
    else:
        yield from _upright(line, piece, pull)


def _upright(line: SegmentLine, piece: Path, pull: Pull) -> Iterator[SegmentLine]:
    """A bend in a vertical plane: one line for each stretch that one formula holds in."""
    K, w = line.effective_friction, pull.run.cables.weight
    middle = (piece.normals[0] + piece.end_normals[0])[2]
    sag = bool(middle > 0)
    side = 1.0 if sag else -1.0
    start = math.atan2(float(piece.tangents[0][2]), side * float(piece.normals[0][2]))

    def tensions(angles: list[float]) -> list[float]:
        cut = piece.split([a * line.radius for a in angles])
        found = integrate(cut, w, K, start_tension=line.tension_in).tensions
        return [float(t) for t in found]

    def state(angle: float, tension: float) -> str:
        """Which formula holds at an angle into the bend."""
        if tension <= 0:
            return "slack"
        n_z = side * math.cos(start + side * angle)
        if tension / (w * line.radius) >= n_z:
            return "sag" if sag else "crest"
        return "sag, outer wall" if sag else "tilted"  # a crest past upright has no formula here

    looks = ((np.arange(_LOOKS) + 0.5) * line.angle / _LOOKS).tolist()
    states = [state(a, t) for a, t in zip(looks, tensions(looks)[1:-1], strict=True)]
    cuts, forms = [0.0], [states[0]]
    for (a, before), (b, after) in pairwise(zip(looks, states, strict=True)):
        if before == after:
            continue
        for _ in range(_HALVINGS):
            half = (a + b) / 2
            same = state(half, tensions([half])[1]) == before
            a, b = (half, b) if same else (a, half)
        cuts.append(b)
        forms.append(after)
    cuts.append(line.angle)
    at = [line.tension_in, *tensions(cuts[1:-1])[1:-1], line.tension_out]
    parts = len(forms) > 1
    hand = line.hand_in
    for j, form in enumerate(forms):
        turn = cuts[j + 1] - cuts[j]
        last = j == len(forms) - 1
        out = (
            line.hand_out
            if last
            else hand * math.exp(line.weight_factor * line.friction_given * turn)
        )
        most = max(at[j], at[j + 1]) if parts else line.largest
        per_newton = line.sidewall / line.largest if line.largest else 0.0
        yield replace(
            line,
            form=form,
            length=turn * line.radius,
            angle=turn,
            slope_in=start + side * cuts[j],
            slope_out=start + side * cuts[j + 1],
            tension_in=at[j],
            tension_out=at[j + 1],
            hand_in=hand,
            hand_out=out,
            sidewall=most * per_newton,
            hand_sidewall=max(hand, out) * per_newton,
            largest=most,
        )
        hand = out
