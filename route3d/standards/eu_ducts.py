"""European rules for ducts and building conduit, by national practice (``eu_rules_ducts_pits``)."""

from __future__ import annotations

from route3d.standards.classes import EU_HIGH, EU_MEDIUM, CableClass, National
from route3d.standards.source import Fact, Quantity, Source
from route3d.standards.tables import Row, load, read_status, si, source_of

_TABLE = "eu_rules_ducts_pits"
# A hair of slack for sizes typed in other units.
_SAME = 1e-6


def bore_over_bundle(national: National) -> Fact | None:
    """Least bore over the circle round the cables; None for none."""
    rule = {"DIN VDE": "DE_duct_1_5", "CEI": "IT_CEI"}.get(national)
    return None if rule is None else _fact(rule, "id_over_bundle", "", "ratio", "bore over bundle")


def turn(national: National) -> Fact | None:
    """Sum of bends between draw-in points of building conduit, rad; recalled. None for none."""
    rule = _DRAW_IN.get(national)
    if rule is None:
        return None
    source = _source(load(_TABLE).rule(rule), "two right-angle bends")
    return Fact(2 * si(90.0, "deg"), "angle", source, "bends between draw-in points")


_DRAW_IN = {"BS": "UK_bends_10m", "DIN VDE": "DE_bends_15m"}


def draw_in_length(national: National) -> Fact | None:
    """Length of building conduit between draw-in points, m; recalled. None for none."""
    rule = _DRAW_IN.get(national)
    return None if rule is None else _fact(rule, "draw_in_m", "m", "length", "draw-in points")


def bend_radius(national: National) -> Fact | None:
    """Least radius of the bends of a buried duct, m; None for none."""
    if national != "CEI":
        return None
    return _fact("IT_duct_bends", "radius_m", "m", "radius", "bends of buried ducts")


def bore_for_one(cable: CableClass, national: National) -> Fact | None:
    """Least bore (m) of a duct for one cable above 1 kV; None where the table has no such cable."""
    row = load(_TABLE).rule("UK_maker_ducts")
    if national != "BS" or cable.voltage is None or not EU_MEDIUM < cable.voltage <= EU_HIGH:
        return None
    key = "bore_mm"
    if cable.conductors == 1:
        least, most = (si(float(row[f"single_core_{end}_mm2"]), "mm2") for end in ("from", "to"))
        if not least * (1 - _SAME) <= cable.area <= most * (1 + _SAME):
            return None
    elif cable.conductors != 3:
        return None
    elif cable.diameter > si(float(row["three_core_to_mm"]), "mm") * (1 + _SAME):
        key = "bore_larger_mm"
    return _fact("UK_maker_ducts", key, "mm", "diameter", "one cable in a duct")


def cores_together(national: National) -> Source | None:
    """Who says that all cables of an a.c. system lie in one steel pipe; None for nobody."""
    if national != "DIN VDE":
        return None
    return _source(load(_TABLE).rule("DE_steel_pipe"), "single cores in a steel pipe")


def space_factor(national: National) -> Fact | None:
    """Share of building conduit to fill where no conduit factors cover the cables, or None."""
    if national != "BS":
        return None
    table = load("fill_rules_international")
    row = table.rule("UK_space_factor")
    source = source_of(table, row, title="IET On-Site Guide", cite="outside its factor tables")
    return Fact(float(row["fill_any"]), "ratio", source, "space factor")


def _fact(rule: str, key: str, unit: str, quantity: Quantity, cite: str) -> Fact:
    row = load(_TABLE).rule(rule)
    return Fact(si(float(row[key]), unit), quantity, _source(row, cite), cite)


def _source(row: Row, cite: str) -> Source:
    status, _ = read_status(str(row["status"]).split(";")[0])  # what follows is another figure
    return source_of(load(_TABLE), row, title=str(row["cite"]), cite=cite, status=status)
