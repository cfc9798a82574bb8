"""The expected load is that of the gauge table, whatever friction is put in."""

from __future__ import annotations

import numpy as np
import pytest

from route3d import load
from route3d.api import plan
from route3d.field.expected import expected_load


@pytest.mark.parametrize("model", ["riser_duct_bank", "yard_run", "mezzanine"])
def test_expected_loads_are_those_of_the_gauge_table(model: str) -> None:
    for told in plan(load(f"models/{model}.toml")).plans:
        expected = expected_load(told.pull, [row.pulled for row in told.gauge])
        table = [row.expected for row in told.gauge]
        assert expected.loads()[:, 0] == pytest.approx(table, rel=1e-12)
        factors = np.array([0.5, 1.0, 1.7])
        ours = expected.loads(
            expected.friction[:, None] * factors, expected.rope_friction * factors
        )
        each = np.broadcast_to(factors, ours.shape)
        assert ours == pytest.approx(expected.track.loads(each).machine, rel=1e-12)


def test_one_conduit_alone_changes_only_what_the_head_has_met() -> None:
    told = plan(load("models/riser_duct_bank.toml")).plans[0]
    expected = expected_load(told.pull, np.linspace(0.0, told.pull.path.length, 40))
    more = expected.friction * np.array([1.0, 2.0])  # the conduit met last
    difference = expected.loads(more)[:, 0] - expected.loads()[:, 0]
    assert difference[0] == 0.0
    assert difference[-1] > 0.0
    assert np.flatnonzero(difference > 0)[0] > 1
