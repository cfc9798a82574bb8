"""Caps of what holds the cable: basket grip, pulling eye, any device, grip on a sheath."""

from __future__ import annotations

import math
from typing import Literal, TypeAlias

from route3d.standards.source import Fact
from route3d.standards.tables import load, rule_fact, si, source_of

Sheath: TypeAlias = Literal["lead", "plastic", "metal"]


def grip_limit() -> Fact:
    """Cap of one basket grip on cable without lead, 1,000 lbf; never above the conductor value."""
    return _cap("basket_grip", "basket grip, each")


def device_limit() -> Fact:
    """Cap of any pulling device beside its own rating, 10,000 lbf."""
    return _cap("device", "any pulling device")


def eye_limit(conductors: int) -> Fact:
    """Cap of a pulling eye on one or several conductors; recalled with low confidence."""
    if conductors < 1:
        raise ValueError(f"conductors must be at least 1, got {conductors}")
    rule = "eye_single" if conductors == 1 else "eye_multi"
    return _cap(rule, f"pulling eye, {conductors} conductors")


def sheath_grip_limit(sheath: Sheath, outer_diameter: float, thickness: float) -> Fact:
    """Cap (N) of a grip that pulls on the sheath: stress times the ring pi t (D - t), or 4.45 kN.

    ``outer_diameter`` and ``thickness`` of the sheath in m; a copper or aluminum sheath has a
    plain cap. Lead 1,500 psi, plastic 10 MPa.
    """
    if not 0 < thickness < outer_diameter / 2:
        raise ValueError(f"thickness {thickness} m does not fit diameter {outer_diameter} m")
    if sheath == "metal":
        return _cap("grip_metal_sheath", "grip over copper or aluminum sheath")
    row = load("attachment_limits").rule(
        {"lead": "grip_lead", "plastic": "grip_plastic_sheath"}[sheath]
    )
    ring = math.pi * thickness * (outer_diameter - thickness)
    source = source_of(load("attachment_limits"), row)
    return Fact(ring * si(float(row["value"]), row["unit"]), "force", source, f"grip on {sheath}")


def grip_length() -> Fact:
    """Least length of a grip over the cable, 500 mm."""
    table = load("attachment_limits")
    return rule_fact(table, table.rule("grip_length"), "length", "grip over the cable")


def _cap(rule: str, label: str) -> Fact:
    table = load("attachment_limits")
    return rule_fact(table, table.rule(rule), "force", label)
