"""Weight factors, and the area of cables, in installation guides.

- cabledatasheet.com FAQ, page on sidewall pressure (READ): weight factor 1 of one cable, 1.4 of a
  complex set.
- TES-P-104.05 Rev 0, 18 Feb 2007, p.10 (READ): occupancy factor of three cables.
- EC&M, "Simple Calculations for Cable Pulling", 1 Nov 2001 (PARTIAL READ): cable area.
"""

from __future__ import annotations

import math

import pytest

from route3d.mechanics.arrangement import weight_factor
from route3d.mechanics.fit import fit
from tests.support.published import printed

pytestmark = pytest.mark.source("Installation guides (read)")


@pytest.mark.source("cabledatasheet.com FAQ (read)")
@pytest.mark.clause("sidewall pressure page, weight factors")
def test_factors_of_one_and_of_many() -> None:
    assert weight_factor("single", 0.03, 0.1) == printed(1.0)
    assert weight_factor("complex", 0.01, 0.1) == printed(1.4)
    assert fit([0.02] * 7, 0.1).weight_factor == printed(1.4)


@pytest.mark.source("TES-P-104.05 Rev 0 (2007) (read)")
@pytest.mark.clause("p.10, occupancy factor")
def test_occupancy_factor_of_tes() -> None:
    # d = 41.3 mm, D = 154 mm: printed 1.07, which is 1.0748 cut to two decimals.
    factor = weight_factor("triangular", 41.3, 154.0)
    assert math.floor(100 * factor) / 100 == printed(1.07)


@pytest.mark.source("EC&M, Simple Calculations for Cable Pulling, Nov 2001 (read in part)")
@pytest.mark.clause("cable area")
def test_area_of_three_cables_of_ecm() -> None:
    # Three 1.60 in cables: 6.03 in2, to two decimals; bore of 5 in RMC, 5.073 in.
    inch = 0.0254
    filled = fit([1.60 * inch] * 3, 5.073 * inch).fill
    assert filled * math.pi / 4 * 5.073**2 == printed(6.03, abs=0.005)
