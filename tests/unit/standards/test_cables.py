import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from route3d.standards import NotInTable, Status
from route3d.standards.cables import (
    bend_ids,
    bend_multiple,
    deflected_support_share,
    minimum_radius,
    riser_support_spacing,
    sidewall_limit,
    sidewall_limits,
)
from route3d.standards.conductors import conductor_area
from route3d.standards.tables import FOOT


def test_bend_ids_are_unique_and_all_answer():
    ids = bend_ids()
    assert len(ids) == len(set(ids)) > 30
    for identity in ids:
        facts = []
        for installed in (False, True):
            try:
                facts.append(bend_multiple(identity, installed=installed))
            except NotInTable:
                continue
        if not facts:  # a rule of two diameters
            facts.append(minimum_radius(identity, 0.05, 0.02))
        assert all(fact.value > 0 and str(fact.source) for fact in facts)


def test_pulling_needs_at_least_the_installed_multiple():
    pulling = bend_multiple("AU: LV screened (copper tape)")
    installed = bend_multiple("AU: LV screened (copper tape)", installed=True)
    assert (pulling.value, installed.value) == (18, 12)
    assert "while pulling" in pulling.label


def test_an_installed_multiple_never_stands_in_for_pulling():
    with pytest.raises(NotInTable, match="once installed"):
        bend_multiple("UK: OSG: armoured any OD")
    assert bend_multiple("UK: OSG: armoured any OD", installed=True).value == 6


def test_a_rule_of_two_diameters_takes_the_greater():
    with pytest.raises(NotInTable, match="minimum_radius"):
        bend_multiple("nec_mv_multi_shielded")
    core, overall = 0.030, 0.065
    assert minimum_radius("nec_mv_multi_shielded", overall, core).value == 7 * overall
    assert minimum_radius("nec_mv_multi_shielded", 0.031, core).value == 12 * core
    with pytest.raises(ValueError, match="core_diameter"):
        minimum_radius("nec_mv_multi_shielded", overall)


def test_a_plain_rule_multiplies():
    assert minimum_radius("nec_mv_shielded", 0.04).value == pytest.approx(0.48, rel=1e-12)


def test_unknown_bend_rule_suggests():
    with pytest.raises(NotInTable) as caught:
        bend_multiple("nec_mv_shield")
    assert caught.value.suggestion == "nec_mv_shielded"


def test_sidewall_limits_list_every_family_once():
    families = [fact.label for fact in sidewall_limits()]
    assert len(families) == len(set(families))
    for family in families:
        assert sidewall_limit(family).quantity == "sidewall"


def test_recalled_and_second_hand_sidewall_limits_are_doubtful():
    doubtful = {fact.label for fact in sidewall_limits() if fact.doubtful}
    assert {"AEIC CG5", "MV, EC&M"} <= doubtful
    assert "any" not in doubtful


def test_unknown_family_suggests():
    with pytest.raises(NotInTable) as caught:
        sidewall_limit("mv, ec&m")
    assert caught.value.suggestion == "MV, EC&M"


def test_an_area_between_two_ranges_takes_the_shorter_distance():
    # 10 mm2 lies between 8 AWG (8.37) and 6 AWG (13.3): aluminium 100 or 200 ft.
    assert riser_support_spacing("aluminium", 10e-6).value == pytest.approx(100 * FOOT)
    assert riser_support_spacing("aluminium", 16e-6).value == pytest.approx(200 * FOOT)


def test_a_metric_twin_rounded_to_four_figures_stays_in_its_range():
    assert riser_support_spacing("copper", 107.2e-6) == riser_support_spacing(
        "copper", conductor_area("4/0 AWG").value
    )


@settings(deadline=None)  # the first call reads the tables
@given(st.floats(14e-6, 2e-3), st.floats(1, 10))
def test_heavier_conductors_never_span_further(area, times):
    for metal in ("copper", "aluminium"):
        light = riser_support_spacing(metal, area).value
        assert riser_support_spacing(metal, area * times).value <= light


def test_below_the_table_and_unknown_metal_are_refused():
    for area in (0.5e-6, float("nan")):
        with pytest.raises(NotInTable, match="18 AWG"):
            riser_support_spacing("copper", area)
    with pytest.raises(NotInTable, match="copper"):
        riser_support_spacing("silver", 1e-4)


def test_deflected_cable_is_held_five_times_as_often():
    fact = deflected_support_share()
    assert fact.value == 0.2
    assert fact.source.status is Status.READ
    assert str(fact.source) == "NFPA 70, 300.19(C)(3)"
