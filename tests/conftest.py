"""What holds in every test.

Property tests draw the same examples on every run, so that a red CI means a change. None has a
deadline: how fast the machine is now is the business of the benchmarks. A finding of the
product has the quantity that its rule has.
"""

from __future__ import annotations

import sys
from typing import Any

import pytest
from hypothesis import settings

from route3d.checks.finding import Finding
from tests.support.finding_quantities import quantities_of

settings.register_profile("same", derandomize=True, database=None, deadline=None)
settings.load_profile("same")


@pytest.fixture(autouse=True, scope="session")
def _every_finding_in_the_quantity_of_its_rule() -> Any:
    made = Finding.__init__

    def checked(self: Finding, *values: Any, **named: Any) -> None:
        made(self, *values, **named)
        if not sys._getframe(1).f_globals["__name__"].startswith("route3d."):
            return  # a test may make a finding of any rule
        known = quantities_of(self.rule)
        assert not known or self.quantity in known, f"{self.rule} in {self.quantity}, not {known}"

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(Finding, "__init__", checked)
        yield
