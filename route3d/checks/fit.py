"""Does the set fit: fill, jam ratio and clearance in every conduit of the run."""

from __future__ import annotations

import math
from dataclasses import replace

from route3d.checks.finding import SEVERITIES, Finding, at_least, at_most, in_words
from route3d.mechanics.arrangement import contact_limits
from route3d.mechanics.fit import Fit
from route3d.mechanics.sharing import tension_shares
from route3d.model.conduit import Conduit
from route3d.model.practice import Practice
from route3d.model.run import Run
from route3d.phrase import literal, say
from route3d.standards import fill as fill_tables
from route3d.standards.source import Fact


def check_fit(run: Run, practice: Practice, fits: tuple[Fit, ...]) -> tuple[Finding, ...]:
    """Fill, jam and clearance for each different conduit, and doubtful dimensions.

    Parameters
    ----------
    run : Run
        The run, in SI.
    practice : Practice
        Conventions and rules it is worked by.
    fits : tuple of Fit, one for each leg
        How the cables lie.

    Returns
    -------
    tuple of Finding
        Conduit by conduit.

    References
    ----------
    docs/theory.md section 13.
    """
    different = {c.name: (c, f) for c, f in zip(run.route.conduits, fits, strict=True)}
    return (
        *_mixed(run, practice),
        *(
            finding
            for conduit, fit in different.values()
            for finding in _of_conduit(run, practice, conduit, fit)
        ),
    )


def _of_conduit(run: Run, practice: Practice, conduit: Conduit, fit: Fit) -> tuple[Finding, ...]:
    return tuple(
        finding
        for finding in (
            *_fill(run, practice, conduit, fit),
            *_duct(run, practice, conduit),
            *_jam(run, practice, conduit, fit),
            _clearance(run, conduit, fit),
            *_either(run, conduit, fit),
            *_spread(run, conduit, fit),
            *_whole_set(run, conduit, fit),
            *_doubtful(run, conduit),
        )
    )


def _mixed(run: Run, practice: Practice) -> tuple[Finding, ...]:
    """Unequal cables pulled together: which carry the pull, and by what share."""
    shares = tension_shares(run.cables, run.attach, practice.tension_sharing)
    if len({round(s.cable.metal_area, 12) for s in shares}) < 2:
        return ()
    most = max(s.share for s in shares if not s.rides)
    mains = ", ".join(f"{s.count} x {literal(s.cable.name)}" for s in shares if not s.rides)
    words = f"main cables carry the pull: {mains}, at most {most:.0%} each"
    riders = [s for s in shares if s.rides]
    if riders:
        named = ", ".join(
            f"{s.count} x {literal(s.cable.name)} ({s.share:.1%} of the pull, {s.rule})"
            for s in riders
        )
        words += (
            f". Riding cables: {named}. Arrangement, weight factor and jam ratio: main cables "
            "only. Fill, clearance and weight: all cables. Stagger the pulling eyes so that "
            "the riding cables hang slack behind the main cables"
        )
    source = "common practice, no source"
    return (in_words("unequal cables", "note", run.name, say(words), source),)


def _place(run: Run, conduit: Conduit) -> str:
    return f"{run.name}, conduit {conduit.name}"


def _fill(run: Run, practice: Practice, conduit: Conduit, fit: Fit) -> list[Finding]:
    """Fill, or the bore to bundle ratio, whichever the rules limit."""
    rules, place = practice.rule_set, _place(run, conduit)
    found = []
    if ruling := rules.fill(run.cables.classes, conduit.stock_type, conduit.trade_size):
        limit = ruling.fact.value
        bore = _bore_for_fill(fit, limit)
        fix = say("use a conduit with an inner diameter of at least {}", (bore, "diameter+"))
        source = str(ruling.fact.source)
        found.append(
            at_most(
                "fill",
                place,
                fit.fill,
                limit,
                "percent",
                fix,
                source,
                broken=ruling.broken,
                close=False,
            )
        )
    if ruling := rules.bore_over_bundle():
        found.append(_room(run, conduit, fit, ruling.fact, ruling.broken))
    return found


def _room(run: Run, conduit: Conduit, fit: Fit, fact: Fact, broken: str) -> Finding:
    """The bore over the circle round all cables."""
    bundle = _bundle(fit)
    fix = say(
        "use a duct with an inner diameter of at least {}", (fact.value * bundle, "diameter+")
    )
    return at_least(
        "bore to bundle ratio",
        _place(run, conduit),
        conduit.inner_diameter / bundle,
        fact.value,
        "ratio",
        fix,
        str(fact.source),
        broken=broken,
    )


def _duct(run: Run, practice: Practice, conduit: Conduit) -> list[Finding]:
    """Rules for one cable alone: the bore of its duct, and a single core in a steel conduit."""
    rules, place, classes = practice.rule_set, _place(run, conduit), run.cables.classes
    found = []
    if ruling := rules.duct_bore(classes, conduit.stock_type):
        least = ruling.fact.value
        found.append(
            at_least(
                "minimum duct bore",
                place,
                conduit.inner_diameter,
                least,
                "diameter",
                say("use a duct with an inner diameter of at least {}", (least, "diameter+")),
                str(ruling.fact.source),
                broken=ruling.broken,
            )
        )
    source = rules.cores_together(conduit.stock_type)
    if source and len(classes) == 1 and classes[0].conductors == 1:
        fix = say(
            "a single-core AC cable alone in a steel conduit heats the steel: pull all "
            "cables of the circuit into the same conduit. Does not apply to DC or to a "
            "grounding conductor"
        )
        found.append(in_words("single core in steel conduit", "caution", place, fix, str(source)))
    return found


# Circle round equal circles that touch, over one of them: 1 + 2/sqrt(3) for three, 1 + sqrt(2) for
# four (geometry).
_BUNDLES = {1: 1.0, 2: 2.0, 3: 1.0 + 2.0 / math.sqrt(3.0), 4: 1.0 + math.sqrt(2.0)}


def _bundle(fit: Fit) -> float:
    """Diameter (m) of the circle round the cables, bundled where they are alike, else as lying."""
    largest, least = max(fit.diameters), min(fit.diameters)
    ratio = _BUNDLES.get(len(fit.diameters)) if largest <= least * (1 + 1e-9) else None
    if ratio is not None:
        return ratio * largest
    # The sum of the diameters holds any set in one row: never smaller than its bundle.
    return fit.enclosing_diameter or sum(fit.diameters)


def _bore_for_fill(fit: Fit, limit: float) -> float:
    bore: float = fit.inner_diameter * (fit.fill / limit) ** 0.5
    return bore


def _jam(run: Run, practice: Practice, conduit: Conduit, fit: Fit) -> tuple[Finding, ...]:
    """The reading the practice names, and the other one where that is graver."""
    if fit.jam_ratio is None:
        return ()
    own, other = (_jam_reading(run, conduit, fit.jam_ratio, r) for r in _readings(practice))
    graver = SEVERITIES.index(other.severity) < SEVERITIES.index(own.severity)
    return (own, replace(other, rule="other jam ratio", severity="note")) if graver else (own,)


def _readings(practice: Practice) -> tuple[str, str]:
    return ("1.05 D/d", "D/d") if practice.jam_ratio == "1.05 D/d" else ("D/d", "1.05 D/d")


def _jam_reading(run: Run, conduit: Conduit, plain: float, reading: str) -> Finding:
    oval = reading == "1.05 D/d"
    ratio = plain * (fill_tables.ovality_factor().value if oval else 1.0)
    band = fill_tables.jam_band_at(plain, reading)  # type: ignore[arg-type]
    where = (
        f"above {band.low:g}"
        if math.isinf(band.high)
        else f"between {band.low:g} and {band.high:g}"
    )
    words = f"jamming {band.risk} at a jam ratio {where} ({reading})"
    if band.severity_hint == "caution":
        words += "; use another conduit size, or pull the cables triplexed"
    return Finding(
        "jam ratio",
        band.severity_hint or "ok",
        _place(run, conduit),
        ratio,
        float("nan"),
        "ratio",
        say(words),
        str(band.source),
    )


def _clearance(run: Run, conduit: Conduit, fit: Fit) -> Finding:
    low, high = fill_tables.minimum_clearance()
    place = _place(run, conduit)
    fix = say("use a larger conduit: the cables must pass couplings and oval bends")
    if low.value <= fit.clearance < high.value:
        fix = say(
            "enough for small cables and an easy pull; {} recommended for a hard pull",
            (high.value, "diameter"),
        )
        return Finding(
            "clearance", "note", place, fit.clearance, high.value, "diameter", fix, str(high.source)
        )
    return at_least("clearance", place, fit.clearance, low.value, "diameter", fix, str(low.source))


def _either(run: Run, conduit: Conduit, fit: Fit) -> tuple[Finding, ...]:
    """The zone where cables may lie two ways: both answers, which was used, and why."""
    if len(fit.alternatives) < 2:
        return ()
    ways = " or ".join(
        f"{way.arrangement} (weight factor {way.weight_factor:.3f}, sidewall factor "
        f"{way.sidewall_factor:.3f})"
        for way in fit.alternatives
    )
    return (
        Finding(
            "arrangement",
            "note",
            _place(run, conduit),
            fit.weight_factor,
            fit.weight_factor,
            "ratio",
            say(f"possible arrangements: {ways}. Used: {fit.arrangement}; {fit.reason}"),
            "D/d ranges from common practice, from memory",
        ),
    )


def _whole_set(run: Run, conduit: Conduit, fit: Fit) -> tuple[Finding, ...]:
    """An arrangement for which no formula gives the pressure of the worst cable."""
    if fit.per_cable or fit.mains < 2:
        return ()
    fix = say(
        "sidewall pressure counts the whole set on one cable: no published formula for the "
        "worst cable in this arrangement"
    )
    factor, nan = fit.sidewall_factor, math.nan
    place, source = _place(run, conduit), "no source"
    return (Finding("sidewall pressure", "note", place, factor, nan, "factor", fix, source),)


def _spread(run: Run, conduit: Conduit, fit: Fit) -> tuple[Finding, ...]:
    """An arrangement asked for in a bore so wide that loose cables do not stay in it."""
    ratio = fit.inner_diameter / max(fit.diameters[: fit.mains])
    widest = contact_limits(fit.arrangement)[1]
    if ratio <= widest * (1 + 1e-9):
        return ()
    fix = say(
        f"loose cables do not stay {fit.arrangement} at this D/d: pull them triplexed, or set "
        'arrangement = "auto"'
    )
    return (
        Finding(
            "arrangement",
            "caution",
            _place(run, conduit),
            ratio,
            widest,
            "ratio",
            fix,
            "statics of the cross section",
        ),
    )


def _doubtful(run: Run, conduit: Conduit) -> tuple[Finding, ...]:
    if not conduit.doubtful:
        return ()
    return (
        Finding(
            "stock dimensions",
            "caution",
            _place(run, conduit),
            conduit.inner_diameter,
            conduit.inner_diameter,
            "diameter",
            say(
                "this table value is an estimate or uncertain: enter inner_diameter and "
                "outer_diameter from the maker's data sheet"
            ),
            conduit.source,
        ),
    )
