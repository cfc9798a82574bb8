"""Limits by the class of a cable: voltage, shield, armor and jacket, in US and European practice.

What the class says never replaces the maker's figure; it is what that figure is compared with.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal, TypeAlias

from route3d.standards.source import Fact, Quantity
from route3d.standards.tables import (
    INCH,
    Row,
    Table,
    load,
    publication,
    read_status,
    si,
    source_of,
)

Armor: TypeAlias = Literal[
    "", "interlocked", "corrugated", "wire", "tape", "lead sheath", "aluminum sheath"
]
ARMORS: tuple[Armor, ...] = (
    "interlocked",
    "corrugated",
    "wire",
    "tape",
    "lead sheath",
    "aluminum sheath",
)
JACKETS = ("PVC", "nylon", "PE", "LLDPE", "XLPE", "CPE", "CSPE", "neoprene", "LSZH", "lead")
National: TypeAlias = Literal["DIN VDE", "BS", "CEI"]

_MEDIUM = 1000.0  # NFPA 70 305 (300 part II): above 1000 V
_LOW_POWER = 2400.0  # the table prints 600 V and 2400 V nonshielded power in one line
_SHIELDED_FROM, _SHIELDED_TO = 5000.0, 35_000.0
EU_MEDIUM, EU_HIGH = 1000.0, 36_000.0  # LV to 1 kV, MV to 36 kV (IEC 60502-1, -2)
# 10 AWG and smaller in a cable of several conductors is control cable (common practice, no source).
_CONTROL = 5.3e-6
_EIGHT_AWG = 8.4e-6  # 8 AWG is 8.367 mm2, 6 AWG 13.30


@dataclass(frozen=True, slots=True)
class CableClass:
    """What sorts a cable: ``voltage`` V (None where not given), conductors of ``area`` m2 each."""

    voltage: float | None
    shielded: bool
    conductors: int
    area: float
    diameter: float
    armor: Armor = ""


def _fact(
    table: Table, row: Row, value: float, quantity: Quantity, label: str, cite: str = ""
) -> Fact:
    title = str(row.get("cite", "")) or publication(table, row) or "recalled, no source"
    where = cite if title == row.get("cite") else cite or label
    return Fact(value, quantity, source_of(table, row, title=title, cite=where), label)


# --- sidewall pressure -------------------------------------------------------------------------


def us_sidewall(cable: CableClass) -> tuple[Fact, ...]:
    """The published sidewall limits of a US cable class, N/m, the strictest first.

    Makers' sheets; where they disagree, or an older or a recalled figure is stricter, both stand.
    Empty where no line of the table covers the class.
    """
    table = load("us_swbp_limits")
    names = _us_sidewall_rows(cable)
    facts = [
        _fact(table, row, si(float(row["lb_per_ft"]), "lbf/ft"), "sidewall", name)
        for name in names
        for row in table.where(cable_class=name)
    ]
    return tuple(sorted(facts, key=lambda f: f.value))


def _us_sidewall_rows(cable: CableClass) -> tuple[str, ...]:
    by_armor = {
        "interlocked": (
            "interlocked armour, all voltages",
            "3/C 15 kV interlocked aluminium armour",
        ),
        "corrugated": ("continuously corrugated welded (CCW, MC-HL)",),
        "lead sheath": ("lead sheath, unjacketed or paper-lead",),
    }
    if cable.armor in by_armor:
        return by_armor[cable.armor]
    if cable.voltage is None:
        return ()
    if cable.voltage <= _MEDIUM and cable.conductors > 1 and cable.area <= _CONTROL:
        if cable.shielded:
            return ("300 V nonshielded; 300 V and 600 V shielded control and instrumentation",)
        return ("600 V nonshielded control and instrumentation",)
    power = "600 V and 2400 V nonshielded power"
    if cable.voltage <= _MEDIUM and cable.conductors == 1 and cable.area <= _EIGHT_AWG:
        return ("600 V and 1 kV single conductor, 8 AWG and smaller", power)
    if cable.voltage <= _MEDIUM and cable.conductors > 1:
        return ("600 V multiconductor power, tray cable", power)
    if cable.voltage <= _LOW_POWER and not cable.shielded:
        return (power,)
    if cable.voltage <= _SHIELDED_FROM and not cable.shielded:
        return ("5 kV nonshielded power",)
    if cable.shielded and _SHIELDED_FROM <= cable.voltage <= _SHIELDED_TO:
        return ("5 kV to 35 kV shielded power",)
    return ()


def eu_sidewall(cable: CableClass) -> tuple[Fact, ...]:
    """European sidewall limits, N/m: recalled, and only for high-voltage XLPE in ducts.

    No European source that could be read prints one for other cables.
    """
    if cable.voltage is None or cable.voltage <= EU_HIGH:
        return ()
    table = load("eu_sidewall_pressure")
    return tuple(
        _fact(table, row, si(float(row["kn_per_m"]), "kN/m"), "sidewall", str(row["cable"]))
        for row in table.where(cable="HV XLPE, duct")
    )


# --- bend radius -------------------------------------------------------------------------------


GENERAL = "any cable, installation"
"""Label of the makers' rule for all cable: advice, where a standard says nothing stricter."""


@dataclass(frozen=True, slots=True)
class BendMultiples:
    """Published bend radii of a class as multiples of its diameter.

    ``pulling`` is for the cable while it is pulled; ``training`` for racking and terminating only:
    it does not cover conduit bends or sheaves under tension. None where nothing is published.
    """

    pulling: Fact | None = None
    training: Fact | None = None


def us_bend(cable: CableClass) -> BendMultiples:
    """Bend multiples of a US cable class: NFPA 70 above 1,000 V, ICEA training, makers' rule."""
    table = load("us_bend_radius")
    training = _us_training(cable)
    row = table.rule(training) if training else _by_diameter(table, cable.diameter)
    general = _bend_fact(table, table.rule("general_rule_any_cable"), GENERAL)
    legal = _us_legal(cable)
    while_pulling = [general]
    if legal:
        while_pulling.append(_bend_fact(table, table.rule(legal), "above 1,000 V, installation"))
    return BendMultiples(
        pulling=max(while_pulling, key=lambda f: (f.value, f is not general)),
        training=_bend_fact(table, row, "training"),
    )


def _us_legal(cable: CableClass) -> str | None:
    if cable.voltage is None or cable.voltage <= _MEDIUM or cable.armor == "interlocked":
        return None
    if cable.conductors > 1 and cable.shielded:
        return None  # the greater of 12 x one core and 7 x overall: the core is not known
    if cable.shielded or cable.armor == "lead sheath":
        return "nec_shielded_or_lead_over_1000v"
    return "nec_nonshielded_over_1000v"


def _us_training(cable: CableClass) -> str:
    """Id of the training rule; empty where it goes by insulation and diameter."""
    by_armor = {
        "interlocked": "armour_interlocked_or_corrugated",
        "corrugated": "armour_interlocked_or_corrugated",
        "wire": "armour_flat_tape_or_wire",
        "tape": "armour_flat_tape_or_wire",
        "lead sheath": "lead_sheath",
        "aluminum sheath": "armour_smooth_al_over_1_5",
    }
    if cable.armor:
        return by_armor[cable.armor]
    if cable.shielded:
        return "tape_shield_single" if cable.conductors == 1 else "multi_individually_shielded"
    if cable.voltage is not None and cable.voltage > _MEDIUM:
        return "over_600v_nonshielded_icea"
    return ""


def _by_diameter(table: Table, diameter: float) -> Row:
    """The ICEA line of insulation up to 0.156 in, which all of 600 V has, by overall diameter."""
    steps = ("<=1.000", "1.001-2.000", ">=2.001")
    # A hair of slack keeps 1.000 in, given in meters, on the near side of its step.
    step = sum(diameter / INCH > edge + 1e-9 for edge in (1.0, 2.0))
    return next(table.where(insulation_in="<=0.156", od_in=steps[step]))


_BEND_TITLES = {
    "nec": ("NFPA 70", "300.34 to the 2020 edition, 305.5 from 2023"),
    "icea": ("ICEA S-95-658/NEMA WC 70", "training radius"),
    "over_600v": ("ICEA", "above 600 V, nonshielded, training radius"),
    "tape": ("ICEA S-93-639/NEMA WC 74", "tape shield, training radius"),
    "multi": ("ICEA S-93-639/NEMA WC 74", "several shielded conductors, training radius"),
    "armour_interlocked": ("NFPA 70", "330.24(B)"),
}


def _bend_fact(table: Table, row: Row, label: str) -> Fact:
    factor = row["factor"]
    # Two factors: x one core and x overall. The core is not known here, so the overall one stands.
    value = float(factor[-1] if isinstance(factor, list) else factor)
    identity = str(row["id"])
    named = next((v for k, v in _BEND_TITLES.items() if identity.startswith(k)), None)
    title, cite = named or (publication(table, row) or "recalled, no source", label)
    return Fact(value, "ratio", source_of(table, row, title=title, cite=cite), label)


# Rows of eu_bend_radius_laying by practice and kind of cable; the clause is not known of any.
_EU_BEND: Mapping[tuple[str, str], tuple[str, str]] = {
    ("DIN VDE", "LV single"): (
        "DIN VDE 0276-603 (HD 603-3C/-5G), 0.6/1 kV plastic",
        "LV single-core",
    ),
    ("DIN VDE", "LV multi"): ("DIN VDE 0276-603", "LV multicore"),
    ("DIN VDE", "MV single"): ("DIN VDE 0276-620 part 10C", "MV XLPE single-core"),
    ("DIN VDE", "MV multi"): ("DIN VDE 0276-620 part 10C", "MV XLPE multicore"),
    ("DIN VDE", "HV single"): ("DIN VDE 0276-632", "HV XLPE 64/110 kV, metal sheath"),
    ("DIN VDE", "lead single"): (
        "DIN VDE 0276-621",
        "paper, lead sheath, single-core or smooth Al sheath",
    ),
    ("DIN VDE", "lead multi"): ("DIN VDE 0276-621", "paper, lead sheath, multicore"),
    ("BS", "MV single"): ("BS 6622", "MV single-core"),
    ("BS", "MV multi"): ("BS 6622", "MV three-core"),
    ("CEI", "aluminum"): ("CEI 11-17", "smooth Al sheath"),
    ("CEI", "lead"): ("CEI 11-17", "lead sheath"),
    ("CEI", "screen"): ("CEI 11-17", "Cu tape or wire screen or armour"),
    ("CEI", "plain"): ("CEI 11-17", "no metal covering"),
}
_EU_TRAINING = {"LV small": "LV SWA 1.5 to 16 mm2", "LV large": "LV SWA 25 mm2 and above"}


def eu_bend(cable: CableClass, national: National) -> BendMultiples:
    """Bend multiples while laying of a European cable class, by national practice.

    Empty where that practice has no line for the class, or the class is not known.
    """
    table = load("eu_bend_radius_laying")
    cite, name = _EU_BEND.get((national, _eu_kind(cable, national)), ("", ""))
    pulling = next(
        (
            _fact(table, row, float(row["during_install"]), "ratio", name)
            for row in table.where(cite=cite, cable=name)
        ),
        None,
    )
    training = None
    if national == "BS" and cable.armor == "wire" and _is_low(cable):
        # 16 mm2 is the last of the first line; between the two the larger multiple is taken.
        name = _EU_TRAINING["LV small" if cable.area <= 16.0e-6 * (1 + 1e-3) else "LV large"]
        row = next(table.where(cite="BS 5467 SWA", cable=name))
        training = _fact(table, row, float(row["in_situ"]), "ratio", name)
    return BendMultiples(pulling, training)


def _is_low(cable: CableClass) -> bool:
    return cable.voltage is not None and cable.voltage <= EU_MEDIUM


def _eu_kind(cable: CableClass, national: National) -> str:
    if national == "CEI":
        sheath = {"aluminum sheath": "aluminum", "lead sheath": "lead"}.get(cable.armor)
        return sheath or ("screen" if cable.shielded or cable.armor else "plain")
    several = "multi" if cable.conductors > 1 else "single"
    if cable.armor == "lead sheath":
        return f"lead {several}"
    if cable.voltage is None:
        return ""
    level = "LV" if _is_low(cable) else "MV" if cable.voltage <= EU_HIGH else "HV"
    return f"{level} {several}"


# --- laying temperature ------------------------------------------------------------------------

_US_COLD = {
    "PVC": ("thermoplastic (PVC, THHN)", "care required below"),
    "nylon": ("thermoplastic (PVC, THHN)", "care required below"),
    "PE": ("PE jacket, European maker", "minimum laying"),
    "LLDPE": ("LLDPE jacket", "minimum installation"),
    "XLPE": ("XLPE, EPR insulation without PVC", "minimum installation"),
    "CPE": ("CPE jacket", "minimum installation"),
    "CSPE": ("CSPE, neoprene jacket", "minimum installation"),
    "neoprene": ("CSPE, neoprene jacket", "minimum installation"),
    "LSZH": ("LSZH jacket", "minimum installation"),
}


def us_lowest_temperature(jacket: str) -> Fact | None:
    """Lowest temperature to install a cable of this jacket at, K, in US practice; None unknown."""
    material, kind = _US_COLD.get(jacket, ("", ""))
    table = load("us_install_temperature")
    for row in table.where(material=material, kind=kind):
        kelvin = si(float(row["temp_c"]), "degC")
        title = publication(table, row)
        if material.startswith("thermoplastic"):
            title = "NFPA 70, informational note to 310.10"
        elif not title and "READ" in str(row["status"]):
            title = "laying instructions of a German cable maker"
        source = source_of(table, row, title=title or "makers' manuals", cite=f"{material}, {kind}")
        return Fact(kelvin, "temperature", source, f"{jacket} jacket")
    return None


_EU_COLD: Mapping[tuple[str, str], tuple[str, str]] = {
    ("DIN VDE", "PVC"): ("DIN VDE 0276-603/-620 via VDE-AR-N 4222", "PVC"),
    ("DIN VDE", "PE"): ("DIN VDE 0276-620 via VDE-AR-N 4222", "PE"),
    ("DIN VDE", "LLDPE"): ("DIN VDE 0276-620 via VDE-AR-N 4222", "PE"),
    ("DIN VDE", "LSZH"): ("laying instructions of a German cable maker", "H (halogen-free)"),
    ("DIN VDE", "lead"): ("DIN VDE 0276-621 via VDE-AR-N 4222", "(lead)"),
    ("BS", "PVC"): ("BS 5467, BS 6622 guidance", "PVC"),
    ("CEI", "PVC"): ("CEI 11-17", "PVC"),
    ("CEI", "PE"): ("CEI 11-17", "PE or PE-insulated"),
    ("CEI", "LLDPE"): ("CEI 11-17", "PE or PE-insulated"),
    ("maker", "PVC"): ("laying instructions of a German cable maker", "PVC"),
    ("maker", "LSZH"): ("laying instructions of a German cable maker", "H (halogen-free)"),
}


def eu_lowest_temperature(jacket: str, practice: National | Literal["maker"]) -> Fact | None:
    """Lowest temperature of the cable while laying, K, by its sheath; None where not printed.

    ``practice`` "maker" is what a cable maker's own laying instructions print.
    """
    cite, sheath = _EU_COLD.get((practice, jacket), ("", ""))
    table = load("eu_laying_temperature")
    for row in table.where(cite=cite, sheath=sheath):
        kelvin = si(float(row["min_c"]), "degC")
        return _fact(table, row, kelvin, "temperature", f"{jacket} jacket", f"{sheath} sheath")
    return None


# --- pulling force -----------------------------------------------------------------------------

_METALS = {"copper": "cu", "aluminium": "al", "aluminum": "al"}
# CEI 11-17 is recalled with 60 and 50 N/mm2, above what was read of the harmonized documents; a
# recalled figure does not raise one that was read.
_EU_STRESS: Mapping[str, str] = {
    "DIN VDE": "VDE_head",
    "BS": "UK_practice",
    "CEI": "VDE_head",
}


def eu_pulling_stress(metal: str, national: National) -> Fact:
    """Permissible pulling stress on the conductors in European practice, Pa: 50 and 30 N/mm2."""
    identity = f"{_EU_STRESS[national]}_{_METALS[metal]}"
    table = load("eu_pulling_force")
    row = table.rule(identity)
    status, _ = read_status(str(row["status"]).split(";")[0])  # what follows is the clause
    cite = f"{row['metal']}, {row['method']}"
    source = source_of(table, row, title=_eu_title(table, row), cite=cite, status=status)
    return Fact(si(float(row["n_per_mm2"]), "N/mm2"), "stress", source, identity)


_SHEATH_PULL = {
    "wire": "VDE_stock_wire_armour",
    "lead sheath": "VDE_stock_metal_sheath",
    "aluminum sheath": "VDE_stock_metal_sheath",
    "tape": "BE_stock_steel_tape",
}


def eu_stocking_force(armor: Armor, diameter: float) -> Fact | None:
    """Permissible force (N) of a stocking on armored cable, K D2; None without such armor.

    On plain plastic cable the force is that of the conductors. ``diameter`` m.
    """
    identity = _SHEATH_PULL.get(armor)
    if identity is None:
        return None
    table = load("eu_pulling_force")
    row = table.rule(identity)
    force = si(float(row["k_n_per_mm2"]), "N/mm2") * diameter**2
    source = source_of(table, row, title=_eu_title(table, row), cite=f"{armor}, {row['formula']}")
    return Fact(force, "force", source, f"stocking on {armor}")


def _eu_title(table: Table, row: Row) -> str:
    title = str(row["cite"])
    return str(table.rule(title[3:])["cite"]) if title.startswith("as ") else title


def eu_loose_singles() -> Fact:
    """How many of three loose single-core cables under one stocking count for strength: 2."""
    table = load("eu_pulling_force")
    row = table.rule("VDE_three_singles_common_grip")
    source = source_of(table, row, title=_eu_title(table, row), cite="three singles, one stocking")
    return Fact(float(row["count_loose"]), "count", source, "loose singles under one stocking")
