"""Caps of what holds the cable: basket grip, and any device."""

from __future__ import annotations

from route3d.standards.source import Fact
from route3d.standards.tables import load, rule_fact


def grip_limit() -> Fact:
    """Cap of one basket grip on cable without lead, 1,000 lbf; never above the conductor value."""
    return _cap("basket_grip", "basket grip, each")


def device_limit() -> Fact:
    """Cap of any pulling device beside its own rating, 10,000 lbf."""
    return _cap("device", "any pulling device")


def _cap(rule: str, label: str) -> Fact:
    table = load("attachment_limits")
    return rule_fact(table, table.rule(rule), "force", label)
