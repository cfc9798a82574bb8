"""Conductors: area from a size, stress they may be pulled with, how many share the pull."""

from __future__ import annotations

import re
from typing import Literal, TypeAlias

from route3d.standards.source import Fact, Source, Status
from route3d.standards.tables import NotInTable, Row, load, rule_fact, si, source_of, unknown

CountingRule: TypeAlias = Literal["all", "two of three"]

_SIZE = re.compile(
    r"(?P<hash>#\s*)?(?P<number>\d+(?:\.\d+)?|\d+/0)\s*"
    r"(?P<unit>AWG|kcmil|MCM|cmil|(?:sq\.?\s*)(?:mm|in)|(?:mm|in)(?:\^?2|²))?",
    re.IGNORECASE,
)
_UNITS = {"mcm": "kcmil"}
UNDERSTOOD = "350 kcmil, 4/0 AWG or 240 mm2 (also mm², mm^2, sq mm, in2, in², in^2, sq in, cmil)"
"""How a conductor size may be written, for messages."""


def conductor_area(text: str) -> Fact:
    """Metal area of a conductor in m2 from ``350 kcmil``, ``4/0 AWG``, ``#2 AWG`` or ``240 mm2``.

    A square may be written ``mm2``, ``mm²``, ``mm^2``, ``sq mm``, and the same with ``in``.

    AWG and kcmil sizes of NFPA 70 Chapter 9 Table 8 carry that source; other kcmil, cmil and mm2
    figures are converted. Raises NotInTable with the near sizes.
    """
    match = _SIZE.fullmatch(text.strip())
    if match is None:
        raise _not_a_size(text)
    number, unit = match["number"], (match["unit"] or "").lower()
    if match["hash"] or number.endswith("/0"):
        unit = unit or "awg"
    if length := re.search("mm$|in$|^mm|^in", unit):
        unit = f"{length[0]}2"
    unit = _UNITS.get(unit, unit)
    if not unit or ((match["hash"] or "/" in number) and unit != "awg"):
        raise _not_a_size(text)
    return _awg(text, number) if unit == "awg" else _measured(text, number, unit)


def _not_a_size(text: str) -> NotInTable:
    number = re.search(r"\d+/0" if "mm" in text.lower() else r"\d+/0|\d+", text)
    size = number.group() if number else ""
    guess = ""
    if size in _table_8():
        guess = f"{size} AWG" if _is_awg(size) else f"{size} kcmil"
    hint = f'did you mean "{guess}"? ' if guess else ""
    return NotInTable(
        f'cannot read "{text}" as a conductor size; {hint}write it like {UNDERSTOOD}',
        guess,
    )


def _table_8() -> dict[str, Row]:
    return {row["size"]: row for table in (_TABLE_8, _TABLE_8_LARGE) for row in load(table).rows}


_TABLE_8, _TABLE_8_LARGE = "nec_ch9_t8_conductors", "nec_ch9_t8_1250_2000"
_LARGE = 1_000_000  # cmil, the last of the first table


def _is_awg(size: str) -> bool:
    return size.endswith("/0") or int(size) < 100


def _awg(text: str, number: str) -> Fact:
    number = {"0": "1/0"}.get(number, number)
    row = _table_8().get(number) if "." not in number and _is_awg(number) else None
    if row is None:
        near = [f"{number} kcmil"] if number in _table_8() else _near_gauges(number)
        listed = ", ".join(near)
        raise NotInTable(f'Table 8 has no size "{text}"; near sizes: {listed}', near[0])
    return _table_8_fact(row, f"{number} AWG")


def _near_gauges(number: str) -> list[str]:
    """The two gauges nearest in the order of the table: 1 AWG is next to 1/0, 2/0 follows."""
    gauges = [size for size in _table_8() if _is_awg(size)]
    wanted = _gauge_number(number)
    ordered = sorted(gauges, key=lambda size: abs(_gauge_number(size) - wanted))
    return [f"{size} AWG" for size in ordered[:2]]


def _gauge_number(size: str) -> float:
    return 1.0 - float(size[:-2]) if size.endswith("/0") else float(size)


def _table_8_fact(row: Row, name: str) -> Fact:
    table = load(_TABLE_8_LARGE if row["cmil"] > _LARGE else _TABLE_8)
    source = source_of(table, row, column="cmil", cite=name)
    return Fact(si(float(row["cmil"]), "cmil"), "conductor_area", source, f"{name} conductor")


def _measured(text: str, number: str, unit: str) -> Fact:
    if float(number) <= 0:
        raise NotInTable(f'a conductor of "{text}" has no area')
    row = _table_8().get(number) if unit == "kcmil" else None
    if row is not None and not _is_awg(number):
        return _table_8_fact(row, f"{number} kcmil")
    source = Source("conductor size", f"{number} {unit} converted", Status.DERIVED)
    label = f"{number} {unit} conductor"
    return Fact(si(float(number), unit), "conductor_area", source, label)


_DEFAULT_PRACTICE = {"copper": "0.008 lb/cmil", "aluminium": "0.006 lb/cmil"}
_SPELLINGS = {"aluminum": "aluminium"}


def max_stress(metal: str, practice: str = "") -> Fact:
    """Largest pulling stress on the conductor metal, Pa.

    ``practice`` is one of :func:`stress_practices`; by default 0.008 lb/cmil for copper and
    0.006 lb/cmil for aluminum (three-quarter hard and AA-8000).
    """
    name = _metal(metal)
    wanted = practice or _DEFAULT_PRACTICE[name]
    table = load("conductor_stress")
    for row in table.where(metal=name, practice=wanted):
        return rule_fact(table, row, "stress", f"{name} conductor, {wanted}")
    raise unknown(f"pulling stress practice for {name}", wanted, stress_practices(name))


def stress_practices(metal: str) -> tuple[str, ...]:
    """The practices tabulated for a metal, each once, in the order of the table."""
    rows = load("conductor_stress").where(metal=_metal(metal))
    return tuple(dict.fromkeys(str(row["practice"]) for row in rows))


def _metal(metal: str) -> str:
    name = _SPELLINGS.get(metal.lower(), metal.lower())
    if name not in _DEFAULT_PRACTICE:
        raise unknown("conductor metal", metal, (*_DEFAULT_PRACTICE, *_SPELLINGS))
    return name


def group_factor(conductor_count: int) -> Fact:
    """Share of the summed conductor strength that counts: 1 up to three conductors, 0.8 above."""
    if conductor_count < 1:
        raise ValueError(f"conductor_count must be at least 1, got {conductor_count}")
    table = load("conductor_counting")
    row = table.rule("group_factor_up_to_3")
    if conductor_count > int(row["max_conductors"]):
        row = table.rule("group_factor_over_3")
    return rule_fact(table, row, "ratio", f"{conductor_count} conductors pulled", key="factor")


def counted_conductors(n: int, rule: CountingRule = "all") -> Fact:
    """How many of ``n`` conductors are taken to share the pull.

    "two of three" is the rule for three separate single-core cables in one duct; above three it
    says nothing and NotInTable is raised.
    """
    if n < 1:
        raise ValueError(f"n must be at least 1, got {n}")
    table = load("conductor_counting")
    if rule == "all":
        source = source_of(table, table.rule("group_factor_up_to_3"))
        return Fact(float(n), "count", source, "conductors that share the pull")
    row = table.rule("two_of_three")
    if n > int(row["of"]):
        raise NotInTable(f"the rule counts two of three conductors; it says nothing of {n}", "all")
    counted = min(n, int(row["count"]))
    return Fact(float(counted), "count", source_of(table, row), "conductors that share the pull")
