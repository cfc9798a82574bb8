"""Which bends are factory elbows, by the tables of radii."""

from __future__ import annotations

import math

import pytest

from route3d.geometry.elbows import elbow_kind, has_elbow_table
from route3d.model import Conduit
from tests.support.jobs import INCH, conduit

PVC = conduit(stock_type="PVC-40", trade_size="4", elbow_radius=16 * INCH)
DUCT = conduit()


@pytest.mark.parametrize(
    ("radius", "degrees", "kind"),
    [
        (16, 90, "standard"),  # elbows_standard: 4 in has 16 in
        (16, 45, "standard"),
        (16, 50, "field"),  # no elbow is made in this turn
        (36, 90, "sweep"),  # elbows_sweeps: 24, 30, 36, 48, 60 for this size
        (36, 89.5, "sweep"),  # the couplings give half a degree
        (36, 88, "field"),
        (40, 90, "field"),
        (0.914 / INCH, 30, "sweep"),  # 36 in written as 0.914 m
    ],
)
def test_kind_of_a_bend_in_pvc(radius: float, degrees: float, kind: str) -> None:
    assert elbow_kind(PVC, radius * INCH, math.radians(degrees)) == kind


@pytest.mark.parametrize("unknown", [DUCT, conduit(stock_type="HDPE-40", trade_size="4")])
def test_without_a_table_every_bend_is_a_field_bend(unknown: Conduit) -> None:
    assert elbow_kind(unknown, 36 * INCH, math.pi / 2) == "field"
    assert not has_elbow_table(unknown) and has_elbow_table(PVC)
