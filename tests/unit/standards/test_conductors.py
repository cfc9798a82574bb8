import pytest
from hypothesis import given
from hypothesis import strategies as st

from route3d.standards import NotInTable, Status
from route3d.standards.conductors import (
    conductor_area,
    counted_conductors,
    group_factor,
    max_stress,
    stress_practices,
)
from route3d.standards.tables import CIRCULAR_MIL


@pytest.mark.parametrize("text", ["350 kcmil", "350kcmil", " 350 MCM ", "350 KCMIL"])
def test_spellings_of_kcmil(text):
    fact = conductor_area(text)
    assert fact.value == pytest.approx(350_000 * CIRCULAR_MIL, rel=1e-15)
    assert fact.source.cite == "350 kcmil"


@pytest.mark.parametrize("text", ["4/0 AWG", "4/0", "#4/0", "4/0awg"])
def test_spellings_of_awg(text):
    assert conductor_area(text).value == pytest.approx(211_600 * CIRCULAR_MIL, rel=1e-15)


def test_sign_and_zero_gauges():
    assert conductor_area("#2 AWG") == conductor_area("2 AWG") == conductor_area("#2")
    assert conductor_area("0 AWG") == conductor_area("1/0 AWG")


@pytest.mark.parametrize("text", ["240 mm2", "240 mm²", "240mm2"])
def test_square_millimeters_are_converted(text):
    fact = conductor_area(text)
    assert fact.value == pytest.approx(240e-6, rel=1e-15)
    assert fact.source.status is Status.DERIVED


def test_sizes_of_table_8_carry_it_and_others_do_not():
    assert "Table 8" in conductor_area("500 kcmil").source.title
    assert "Table 8" not in conductor_area("313 kcmil").source.title
    assert "Table 8" not in conductor_area("14 kcmil").source.title  # 14 is a gauge there


@given(st.floats(0.1, 3000).map(lambda mm2: round(mm2, 2)))
def test_converted_areas_are_exact(mm2):
    assert conductor_area(f"{mm2} mm2").value == pytest.approx(mm2 * 1e-6, rel=1e-15)


@pytest.mark.parametrize(
    ("text", "suggestion"),
    [
        ("350", "350 kcmil"),
        ("2", "2 AWG"),
        ("5 AWG", "6 AWG"),
        ("250 AWG", "250 kcmil"),
        ("5/0 AWG", "4/0 AWG"),
        ("#2 kcmil", "2 AWG"),
        ("2,5 mm2", ""),
        ("0 mm2", ""),
        ("-4 mm2", ""),
        ("", ""),
        ("4/0 mm2", "4/0 AWG"),
    ],
)
def test_doubtful_sizes_are_refused_with_a_suggestion(text, suggestion):
    with pytest.raises(NotInTable) as caught:
        conductor_area(text)
    assert caught.value.suggestion == suggestion


def test_a_missing_gauge_lists_both_neighbors():
    with pytest.raises(NotInTable, match="6 AWG, 4 AWG"):
        conductor_area("5 AWG")


def test_both_spellings_of_aluminium():
    assert max_stress("aluminum") == max_stress("Aluminium")


def test_unknown_metal_and_practice_suggest():
    with pytest.raises(NotInTable) as caught:
        max_stress("coper")
    assert caught.value.suggestion == "copper"
    with pytest.raises(NotInTable) as caught:
        max_stress("copper", "0.08 lb/cmil")
    assert caught.value.suggestion == "0.008 lb/cmil"


@pytest.mark.parametrize("metal", ["copper", "aluminium"])
def test_every_practice_is_a_plausible_stress(metal):
    for practice in stress_practices(metal):
        fact = max_stress(metal, practice)
        assert fact.quantity == "stress"
        assert 15e6 < fact.value < 75e6  # between soft solid aluminium and hard metal


def test_group_factor_steps_after_three():
    assert [group_factor(n).value for n in (1, 3, 4, 12)] == [1.0, 1.0, 0.8, 0.8]
    with pytest.raises(ValueError, match="at least 1"):
        group_factor(0)


def test_counting_rules():
    assert [counted_conductors(n).value for n in (1, 2, 3, 6)] == [1, 2, 3, 6]
    assert [counted_conductors(n, "two of three").value for n in (1, 2, 3)] == [1, 2, 2]
    with pytest.raises(NotInTable, match="nothing of 6"):
        counted_conductors(6, "two of three")
    with pytest.raises(ValueError, match="at least 1"):
        counted_conductors(0)
