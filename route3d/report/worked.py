"""The figures of a run put into the formulas of its explanation."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np

from route3d.checks.falling_friction import decides, loads_words
from route3d.checks.finding import Finding
from route3d.mechanics.feed import feed_factor, reel_drag
from route3d.mechanics.fit import OVAL, Fit
from route3d.mechanics.lead_off import turn_factor
from route3d.mechanics.pull import Pull
from route3d.mechanics.segment_lines import SegmentLine, segment_lines
from route3d.mechanics.tension import pieces_of
from route3d.model.conduit import Conduit
from route3d.planning.direction import Candidate
from route3d.planning.result import RunResult
from route3d.planning.shop import all_findings
from route3d.report.explanations import (
    SYMBOLS,
    Explanation,
    explanation_of,
    formulas_of,
    found_by,
)
from route3d.report.formula import Formula
from route3d.report.segment_table import (
    FORMS,
    degrees,
    force,
    force_unit,
    in_force,
    length,
    line_name,
    per_length,
    pressure,
)
from route3d.report.words import conduit_fits, limit_of, measured
from route3d.units import convert, render, show_marked, unit_label


@dataclass(frozen=True, slots=True)
class Worked:
    """One place of a run with its figures put in: ``formulas``, and ``words`` without a formula."""

    where: str
    formulas: tuple[str, ...] = ()
    words: str = ""


def explanation(rule: str, result: RunResult | None = None, system: str = "SI") -> dict[str, Any]:
    """Everything about a rule or a result as plain data; with a run also its figures put in.

    ``rule`` is a rule of a finding or a key of ``report.explanations``. Each formula comes as
    ``plain`` text, ``mathml`` and ``typst``. Raises InputError with the nearest name.
    """
    entry = explanation_of(rule)
    found: list[Worked] = []
    findings: list[Finding] = []
    if result is not None:
        found = list(worked(entry, result, system))
        findings = [f for f in all_findings(result) if found_by(f.rule) is entry]
    return {
        "rule": rule,
        "key": entry.key,
        "title": entry.title,
        "text": entry.text,
        "formulas": [formula_data(f) for f in formulas_of(entry)],
        "symbols": [formula_data(Formula(s)) | {"meaning": SYMBOLS[s]} for s in entry.symbols],
        "validity": entry.validity,
        "source": entry.source,
        "section": entry.section,
        "run": None if result is None else result.run.name,
        "worked": [
            {
                "where": w.where,
                "formulas": [formula_data(Formula(f)) for f in w.formulas],
                "words": w.words,
            }
            for w in found
        ],
        "findings": [
            {
                "severity": f.severity,
                "rule": f.rule,
                "where": render(f.place, system),
                "measured": measured(f, system),
                "limit": limit_of(f, system),
                "utilization": None if not math.isfinite(f.ratio) else f.ratio,
                "source": f.source,
            }
            for f in findings
        ],
    }


def formula_data(formula: Formula) -> dict[str, str]:
    """A formula in each of its forms."""
    return {"plain": formula.plain, "mathml": formula.mathml, "typst": formula.typst}


def worked(entry: Explanation, result: RunResult, system: str) -> Iterator[Worked]:
    """The figures of a run put into an explanation, where it has formulas to put them into."""
    case = _Case(result, result.best, system)
    if entry.key in FORMS.values() and entry.key != "brake":
        yield from case.line(entry.key)
    elif entry.key in _WORKED:
        yield from _WORKED[entry.key](case)


@dataclass(frozen=True)
class _Case:
    """One run, pulled the better way, in the units to print."""

    result: RunResult
    candidate: Candidate
    system: str

    @property
    def pull(self) -> Pull:
        return self.candidate.pull

    @cached_property
    def lines(self) -> tuple[SegmentLine, ...]:
        return segment_lines(self.pull)

    def line(self, key: str) -> Iterator[Worked]:
        """The line of a form with the largest tension, worked out."""
        alike = [x for x in self.lines if FORMS[x.form] == key and x.length + x.angle > 0]
        if alike:
            line = max(alike, key=lambda x: x.tension_out)
            yield line_worked(self.pull, line, self.system)

    def say(self, value: float, quantity: str) -> str:
        return show_marked(value, quantity, self.system)


# --- lines -----------------------------------------------------------------------------------


def line_worked(pull: Pull, line: SegmentLine, system: str) -> Worked:
    """One line of the table with every figure put into its formula."""
    name = f"line {line.number}{line.part}, {line_name(pull, line)}, fed from {pull.feed_name}"
    return Worked(name, tuple(_line_formulas(line, pull.run.cables.weight, system)))


def hand_worked(pull: Pull, line: SegmentLine, system: str) -> Worked:
    """The same by the hand method, for a bend."""
    name = f"line {line.number}{line.part}, {line_name(pull, line)}, fed from {pull.feed_name}"
    return Worked(name, (_hand_formula(line, system),))


def _hand_formula(line: SegmentLine, system: str) -> str:
    t1, t2, unit = force(line.hand_in, system), force(line.hand_out, system), force_unit(system)
    exponent = f"{line.weight_factor * line.friction_given:.6f} × {line.angle:.5f}"
    return f'T_2 = {t1} e^({exponent}) = {t2} "{unit}"'


def _line_formulas(line: SegmentLine, weight: float, system: str) -> Iterator[str]:
    t1, t2 = force(line.tension_in, system), force(line.tension_out, system)
    unit = force_unit(system)
    w, k, turn = per_length(weight, system), f"{line.effective_friction:.6f}", f"{line.angle:.5f}"
    radius = length(line.radius, system) if math.isfinite(line.radius) else ""
    a = _angle(line.slope_in)
    if line.form == "held":
        h = length(line.rise, system)
        yield f'T_2 = {t1} - {w} × ({h}) = {t2} "{unit}"'
        return
    if line.form != "sheave":
        yield f"K = {line.weight_factor:.5f} × {line.friction:.6g} = {k}"
    if line.form == "straight":
        sum_ = f"{t1} + {w} × {length(line.length, system)} (sin({a}) + {k} × cos({a}))"
        clamped = line.tension_out <= 0 < line.length
        yield (f"T_2 = max(0, {sum_})" if clamped else f"T_2 = {sum_}") + f' = {t2} "{unit}"'
    elif line.form == "level":
        yield (
            f"T_2 = {t1} cosh({k} × {turn}) + sinh({k} × {turn}) "
            f'sqrt({t1}^2 + ({w} × {radius})^2) = {t2} "{unit}"'
        )
    elif line.form in ("sag", "sag, outer wall", "crest"):
        yield from _upright_formulas(line, weight, system)
    elif line.form == "corner":
        yield f'T_2 = {t1} e^({k} × {turn}) = {t2} "{unit}"'
    elif line.form == "sheave":
        eta = math.exp(-line.effective_friction * line.angle)
        yield f'T_2 = frac({t1}, {eta:.6g}) = {t2} "{unit}"'
    elif line.form == "tilted":
        yield f'T_2 = {t2} "{unit}  (integrated from " T_1 = {t1} "{unit})"'
    if line.form == "tilted":
        yield f'"by hand:  " {_hand_formula(line, system)}'


def _upright_formulas(line: SegmentLine, weight: float, system: str) -> Iterator[str]:
    """c, g or h at both ends, and the tension."""
    k, unit = line.effective_friction, force_unit(system)
    outer = line.form == "sag, outer wall"
    side = -1.0 if line.form == "crest" else 1.0
    name, sign = ("h", -1.0) if outer else ("g", 1.0)
    first, last = side * line.slope_in, side * line.slope_out

    def shape(phi: float) -> float:
        return 2 * k * math.sin(phi) + sign * (1 - k * k) * math.cos(phi)

    c = weight * line.radius / (1 + k * k)
    w, radius = per_length(weight, system), length(line.radius, system)
    yield f'c = frac({w} × {radius}, 1 + {k:.6f}^2) = {in_force(c, system):.4f} "{unit}"'
    yield (
        f"{name}({_angle(first)}) = {_signed(shape(first))}, "
        f'"  " {name}({_angle(last)}) = {_signed(shape(last))}'
    )
    t1, t2 = force(line.tension_in, system), force(line.tension_out, system)
    before, after = ("-", "+") if (outer or side < 0) else ("+", "-")
    exponent = f"{'-' if outer else ''} {k:.6f} × {line.angle:.5f}".strip()
    size = f"{in_force(c, system):.4f}"
    yield (
        f"T_2 = ({t1} {before} {size} ({_signed(shape(first))})) e^({exponent}) "
        f'{after} {size} ({_signed(shape(last))}) = {t2} "{unit}"'
    )


def _angle(radians: float) -> str:
    return f"{degrees(radians)}°"


def _signed(value: float) -> str:
    text = f"{value:.6f}"
    return text.lstrip("-") if float(text) == 0 else text


# --- fit -------------------------------------------------------------------------------------


def fit_formulas(fit: Fit, system: str, *, oval: bool) -> dict[str, tuple[str, ...]]:
    """Fill, jam ratio, weight factor and clearance of one fit in numbers, by key."""

    def size(meters: float) -> str:
        number = convert(meters, "diameter", system)
        return f"{number:.{4 if system == 'US' else 2}f}".rstrip("0").rstrip(".")

    unit = unit_label("diameter", system)
    bore, d = size(fit.inner_diameter), size(fit.diameters[0])
    mains = fit.diameters[: fit.mains]
    alike = max(mains) - min(mains) < 1e-9 * max(mains)
    squares = " + ".join(
        f"{fit.diameters.count(each)} × {size(each)}^2" for each in dict.fromkeys(fit.diameters)
    )
    found: dict[str, tuple[str, ...]] = {
        "fill": (f'"fill" = frac({squares}, {bore}^2) = {100 * fit.fill:.2f} "%"',)
    }
    if fit.jam_ratio is not None:
        mean = size(float(np.mean(mains)))
        ratio = (OVAL if oval else 1.0) * fit.jam_ratio
        factor = f"{OVAL:g} × " if oval else ""
        found["jam ratio"] = (f"J = {factor}frac({bore}, {mean}) = {ratio:.3f}",)
    largest = fit.diameters[0]
    x = largest / (fit.inner_diameter - largest) if len(mains) > 1 else 0.0
    of_x = f"x = frac({d}, {bore} - {d}) = {x:.5f}"
    form = {
        "triangular": f"ω = frac(1, sqrt(1 - {x:.5f}^2)) = {fit.weight_factor:.5f}",
        "two": f"ω = frac(1, sqrt(1 - {x:.5f}^2)) = {fit.weight_factor:.5f}",
        "cradled": f"ω = 1 + frac(4, 3) × {x:.5f}^2 = {fit.weight_factor:.5f}",
        "diamond": f"ω = 1 + 2 × {x:.5f}^2 = {fit.weight_factor:.5f}",
    }.get(fit.arrangement)
    if form is not None and alike:
        found["weight factor"] = (of_x, form)
    else:
        found["weight factor"] = (f"ω = {fit.weight_factor:.5f}",)
    c = f'{size(fit.clearance)} "{unit}"'
    root = "sqrt(1 - {x:.5f}^2)"
    forms = {
        "single": f"C = {bore} - {d} = {c}",
        "triangular": f"C = frac({bore}, 2) - 1.366 × {d} + frac({bore} - {d}, 2) "
        + root.format(x=x)
        + f" = {c}",
        "cradled": f"C = frac({bore}, 2) - frac({d}, 2) + frac({bore} - {d}, 2) "
        f"(1 - 2 × {x:.5f}^2) = {c}",
    }
    plain = alike and len(mains) == len(fit.diameters) and fit.arrangement in forms
    found["clearance"] = (
        (forms[fit.arrangement],) if plain else (f'C = {c} "  from the settled section"',)
    )
    return found


def _of_fit(key: str) -> Callable[[_Case], Iterator[Worked]]:
    def each(case: _Case) -> Iterator[Worked]:
        oval = case.result.practice.jam_ratio == "1.05 D/d"
        for conduit, fit in conduit_fits(case.result):
            formulas = fit_formulas(fit, case.system, oval=oval)
            if key in formulas:
                words = f"{fit.arrangement}: {fit.reason}" if key == "weight factor" else ""
                yield Worked(f"conduit {conduit.name}", formulas[key], words)

    return each


# --- loads -----------------------------------------------------------------------------------


def sidewall_worked(pull: Pull, line: SegmentLine, system: str) -> Worked:
    """Sidewall pressure of one bend in numbers."""
    leg = int(pull.path.leg[line.segment])
    fit, conduit = pull.fits[leg], pull.run.route.conduits[leg]
    factor = fit.sidewall_factor if pull.practice.sidewall == "per cable" else 1.0
    unit = unit_label("sidewall", system)
    radius = length(line.radius, system)
    if pull.practice.sidewall_radius == "inside":
        radius += f" - frac({convert(conduit.inner_diameter, 'length', system):.5f}, 2)"
    tension = force(line.largest, system)
    return Worked(
        f"line {line.number}{line.part}, {line_name(pull, line)}, fed from {pull.feed_name}",
        (
            f"P = frac({factor:.5f} × {tension}, {radius}) = "
            f'{pressure(line.sidewall, system)} "{unit}"',
        ),
    )


def _sidewall(case: _Case) -> Iterator[Worked]:
    bends = [line for line in case.lines if line.sidewall and line.form != "sheave"]
    if bends:
        yield sidewall_worked(case.pull, max(bends, key=lambda x: x.sidewall), case.system)


def _hand(case: _Case) -> Iterator[Worked]:
    bends = [x for x in case.lines if x.angle and x.form not in ("sheave", "corner")]
    if bends:
        line = max(bends, key=lambda x: x.hand_out)
        yield hand_worked(case.pull, line, case.system)


def _reel(case: _Case) -> Iterator[Worked]:
    pull, system = case.pull, case.system
    unit, drag = force_unit(system), reel_drag(pull.run)
    w = pull.run.cables.weight
    formulas = [
        f'"drag" = {length(drag / w, system)} × {per_length(w, system)} = '
        f'{force(drag, system)} "{unit}"'
    ]
    factor = feed_factor(pull.run)
    formulas.append(
        f'"entering the conduit:  " {force(pull.reel_tension, system)} × {factor:.5f} = '
        f'{force(pull.start_tension, system)} "{unit}"'
    )
    yield Worked(f"feed from {pull.feed_name}", tuple(formulas))


def _brake(case: _Case) -> Iterator[Worked]:
    pull, window = case.pull, case.candidate.window
    words = (
        f"brake at the friction given {case.say(pull.brake, 'force+')}; at the lowest friction, "
        f"drag not counted, {case.say(window.at_least, 'force+')}; without friction "
        f"{case.say(window.without_friction, 'force+')}; planned reel tension "
        f"{case.say(pull.reel_tension, 'force+')}"
    )
    yield Worked(f"feed from {pull.feed_name}", (), words)


def _window(case: _Case) -> Iterator[Worked]:
    window = case.candidate.window
    ends = f"{case.say(window.at_least, 'force+')} to {case.say(window.at_most, 'force-')}"
    yield Worked(f"feed from {case.pull.feed_name}", (), f"brake window {ends}, total at the reels")


def _margin(case: _Case) -> Iterator[Worked]:
    margin, name = case.candidate.margin, case.candidate.name
    if margin.factor is None or margin.at_restart is None or math.isinf(margin.factor):
        yield Worked(f"feed from {case.pull.feed_name}", (), "no friction margin: see the limits")
        return
    yield Worked(
        f"feed from {case.pull.feed_name}",
        (
            f"k = {margin.factor:.4f}",
            f"frac(k, k_0) = frac({margin.factor:.4f}, {case.result.practice.restart:g}) = "
            f"{margin.at_restart:.4f}",
        ),
        f"limit reached first: {name(margin.limit)}",
    )


def _restart(case: _Case) -> Iterator[Worked]:
    frictions = tuple(
        f'μ_"{_safe(c.name)}" = {case.result.practice.restart:g} × {c.friction:g} = '
        f"{case.result.practice.restart * c.friction:.4g}"
        for c in dict.fromkeys(case.pull.run.route.conduits)
    )
    words = (
        f"largest load at the machine at a restart {case.say(case.candidate.restart, 'force')}, "
        f"moving {case.say(case.pull.machine_least, 'force')}"
    )
    yield Worked(f"feed from {case.pull.feed_name}", frictions, words)


def _falling(case: _Case) -> Iterator[Worked]:
    """The largest load on the wall of each conduit against its threshold, and both results."""
    for candidate in case.result.candidates:
        pull = candidate.pull
        for conduit in dict.fromkeys(pull.run.route.conduits):
            if conduit.friction_above is not None and conduit.friction_then is not None:
                yield _falling_in(case, pull, conduit)
        both = pull.by_both_frictions
        if both is not None:
            constant, by_pressure = (render(loads_words(peaks), case.system) for peaks in both)
            words = f"constant friction: {constant}; by pressure: {by_pressure}"
            yield Worked(f"fed from {pull.feed_name}", (), words)


def _falling_in(case: _Case, pull: Pull, conduit: Conduit) -> Worked:
    above, then = conduit.friction_above or 0.0, conduit.friction_then or 0.0
    legs = [i for i, c in enumerate(pull.run.route.conduits) if c == conduit]
    rows = np.flatnonzero(np.isin(pull.path.leg[pull.profile.segment], legs))
    row = int(rows[np.argmax(pull.profile.contact[rows])])
    load = float(pull.profile.contact[row])
    over = load > above * (1 + 1e-9)
    words = (
        f"largest contact load {case.say(load, 'sidewall')}, {'above' if over else 'not above'} "
        f"the threshold of {case.say(above, 'sidewall')}: by pressure, friction there is "
        f"{then if over else conduit.friction:g}; constant friction is {conduit.friction:g}. "
        f"{render(decides(conduit, pull.practice), case.system)}"
    )
    where = f"conduit {conduit.name}, fed from {pull.feed_name}"
    return Worked(where, (_contact_formula(pull, row, load, case.system),), words)


def _contact_formula(pull: Pull, row: int, load: float, system: str) -> str:
    """Q at one row of the profile: of a straight it is the weight across the conduit."""
    piece = pieces_of(pull.course.walked)[row // 2]
    w = per_length(pull.run.cables.weight, system)
    told = f'{pressure(load, system)} "{unit_label("sidewall", system)}"'
    radius = float(pull.course.walked.radii[row // 2])
    if not math.isfinite(radius) or radius == 0.0:
        return f"q = {w} × {load / pull.run.cables.weight:.5f} = {told}"
    tension, nz = force(float(pull.profile.tension[row]), system), piece.bend.nz[-(row % 2)]
    return (
        f"q = sqrt((frac({tension}, {length(radius, system)}) - {w} ({_signed(nz)}))^2 + "
        f"({w} × {_signed(piece.bend.b)})^2) = {told}"
    )


def _safe(name: str) -> str:
    """A name inside the quotes of a formula."""
    return name.replace('"', "'").replace("\\", "/")


def _machine(case: _Case) -> Iterator[Worked]:
    pull, system, unit = case.pull, case.system, force_unit(case.system)
    peak, head = pull.machine_peak, pull.machine_peak_head
    if peak is None or head is None or pull.run.rope is None:
        words = f"no rope given: at least the end tension, {case.say(pull.end_tension, 'force')}"
        yield Worked(f"pull at {pull.pull_name}", (), words)
        return
    factors = [turn_factor(turn, pull.run.rope.friction) for turn in pull.run.lead_off]
    product = math.prod(factors)
    text = "".join(f" × {factor:.5f}" for factor in factors)
    arriving = f"{force(peak / product, system)}{text} = " if factors else ""
    yield Worked(
        f"pull at {pull.pull_name}",
        (f'T_m = {arriving}{force(peak, system)} "{unit}"',),
        f"head at station {case.say(head, 'length')}",
    )


def _conductor(case: _Case) -> Iterator[Worked]:
    from route3d.checks.limits import conductor_limit

    run = case.pull.run
    limit = conductor_limit(run, case.pull.practice)
    demand = case.pull.peak_tension
    yield Worked(
        f"largest tension, fed from {case.pull.feed_name}",
        (
            f'frac(T, T_"max") = '
            f"frac({force(demand, case.system)}, {force(limit.value, case.system)}) "
            f'= {100 * demand / limit.value:.2f} "%"',
        ),
        f"limit {case.say(limit.value, 'force')}: {limit.source}",
    )


_WORKED: dict[str, Callable[[_Case], Iterator[Worked]]] = {
    "fill": _of_fit("fill"),
    "jam ratio": _of_fit("jam ratio"),
    "weight factor": _of_fit("weight factor"),
    "clearance": _of_fit("clearance"),
    "sidewall pressure": _sidewall,
    "hand method": _hand,
    "reel drag": _reel,
    "brake": _brake,
    "brake window": _window,
    "friction by pressure": _falling,
    "friction margin": _margin,
    "restart": _restart,
    "machine line pull": _machine,
    "conductor tension": _conductor,
}
