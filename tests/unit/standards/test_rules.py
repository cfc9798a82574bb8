from __future__ import annotations

import math

import pytest

from route3d.model import Practice
from route3d.standards.classes import CableClass
from route3d.standards.rules import NAMES, NOT_COVERED, editions, rule_set, usual
from route3d.standards.tables import NotInTable

POWER = CableClass(600.0, False, 1, 177e-6, 0.03)
# What only national rules ask, by question; physics and makers' limits ask none of it.
NATIONAL = {
    "fill": lambda r: r.fill((POWER,) * 3, "EMT", "2"),
    "turn": lambda r: r.turn("EMT"),
    "field bend": lambda r: r.conduit_bend_radius("PVC-40", "4"),
    "box": lambda r: r.box(4.0, False),
    "box above 1,000 V": lambda r: r.mv_box(0.04, (), True, False),
    "riser": lambda r: r.riser_spacing("copper", 177e-6),
    "supports": lambda r: r.conduit_supports("EMT", "2"),
    "sidewall": lambda r: r.sidewall(POWER),
    "duct banks": lambda r: r.duct_banks,
}


@pytest.mark.parametrize("question", NATIONAL)
def test_national_rules_come_from_the_chosen_set_alone(question: str) -> None:
    ask = NATIONAL[question]
    assert ask(rule_set("NFPA 70"))
    assert not ask(rule_set("none"))
    for edition in editions("CENELEC"):
        assert not ask(rule_set("CENELEC", edition))


@pytest.mark.parametrize("edition", ["2023", "2020", "2017"])
def test_every_edition_of_the_code_says_what_its_figures_stand_on(edition: str) -> None:
    rules = rule_set("NFPA 70", edition)
    assert rules.title == f"NFPA 70, {edition}"
    assert "2011 to 2020" in rules.basis
    assert ("not read" in rules.basis) == (edition == "2023")


def test_an_edition_that_is_not_known_names_those_that_are() -> None:
    with pytest.raises(NotInTable, match='no edition "2026" of NFPA 70; known: 2023, 2020, 2017'):
        rule_set("NFPA 70", "2026")
    with pytest.raises(NotInTable, match="DIN VDE, BS, CEI"):
        rule_set("CENELEC", "2020")
    with pytest.raises(NotInTable, match="has no editions"):
        rule_set("none", "2023")


@pytest.mark.parametrize("name", [*NOT_COVERED, "nesc", "VDE"])
def test_what_is_not_covered_is_said_with_the_choices(name: str) -> None:
    with pytest.raises(NotInTable, match="not covered; choices: NFPA 70, CENELEC, none"):
        rule_set(name)


def test_the_usual_rules_go_by_the_units() -> None:
    assert (usual("US"), usual("SI")) == ("NFPA 70", "none")
    assert NAMES == ("NFPA 70", "CENELEC", "none")


def test_the_stress_without_rules_is_practice_and_cites_no_law() -> None:
    fact = rule_set("none").pulling_stress("copper")
    assert fact.value == pytest.approx(70.229e6, rel=2e-5)  # 0.008 lb/cmil, ICEA-based guide
    assert "published practice" in str(fact.source) and "NFPA" not in str(fact.source)
    stricter = rule_set("none").stricter_stress("copper")
    assert stricter is not None and stricter.value == 50e6  # HD 603/620, as read in two catalogs
    assert rule_set("NFPA 70").stricter_stress("copper") is None
    assert rule_set("CENELEC").stricter_stress("copper") is None


def test_three_loose_singles_under_one_stocking_count_as_two_in_din_vde_practice() -> None:
    rules = rule_set("CENELEC")
    assert rules.counted_share(3, True).value == pytest.approx(2 / 3)
    assert rules.counted_share(3, False).value == 1.0
    assert rules.counted_share(4, False).value == 1.0  # 4 x 95 Cu: 19,000 N in the table
    assert rule_set("NFPA 70").counted_share(4, False).value == pytest.approx(0.8)


def test_recalled_turns_are_never_a_stop() -> None:
    british, german = (rule_set("CENELEC", e).turn("EN-PVC-MEDIUM") for e in ("BS", "DIN VDE"))
    assert british is not None and british.broken == "caution"
    assert british.fact.value == pytest.approx(math.pi)
    assert german is not None and german.broken == "note"  # low confidence
    assert rule_set("CENELEC", "BS").turn("EN-BURIED") is None


# What each national practice asks of a building conduit, a buried duct and one cable in them.
BUILDING, BURIED = ("EN-STEEL", "40"), ("EN-BURIED", "160")
DUCT_RULES = {
    "fill": lambda r, c: r.fill((POWER,) * 3, *c),
    "factors": lambda r, c: r.conduit_factors((SMALL,), c[0], "20", 5.0, 0.0),
    "turn": lambda r, c: r.turn(c[0]),
    "length": lambda r, c: r.pull_length(c[0]),
    "radius": lambda r, c: r.duct_bend_radius(c[0]),
    "bore": lambda r, c: r.duct_bore((MEDIUM,), c[0]),
    "together": lambda r, c: r.cores_together(c[0]),
}
SMALL = CableClass(450.0, False, 1, 2.5e-6, 0.004)
MEDIUM = CableClass(11e3, True, 1, 240e-6, 0.04)


@pytest.mark.parametrize(
    ("name", "edition", "building", "buried"),
    [
        ("CENELEC", "BS", {"fill", "factors", "turn", "length"}, {"bore"}),
        ("CENELEC", "DIN VDE", {"turn", "length", "together"}, set()),
        ("CENELEC", "CEI", set(), {"radius"}),
        ("none", "", set(), set()),
    ],
)
def test_each_practice_asks_what_its_sources_say_where_they_apply(
    name: str, edition: str, building: set[str], buried: set[str]
) -> None:
    """Building conduit alone has draw-in points; a bank of 160 mm ducts has none of that."""
    rules = rule_set(name, edition)
    asked = [{q for q, ask in DUCT_RULES.items() if ask(rules, c)} for c in (BUILDING, BURIED)]
    assert asked == [building, buried]


def test_the_code_asks_nothing_of_european_conduit_but_fill_and_turn() -> None:
    asked = {q for q, ask in DUCT_RULES.items() if ask(rule_set("NFPA 70"), BUILDING)}
    assert asked == {"fill", "turn"}


def test_conduit_factors_replace_the_space_factor_where_they_cover_the_cables() -> None:
    rules = rule_set("CENELEC", "BS")
    assert rules.fill((SMALL,) * 3, "EN-STEEL", "20") is None
    for cables, size in (((SMALL,) * 3, "40"), ((SMALL, POWER), "20")):
        ruling = rules.fill(cables, "EN-STEEL", size)
        assert ruling is not None and ruling.broken == "caution"
        assert rules.conduit_factors(cables, "EN-STEEL", size, 5.0, 0.0) is None
    # only where one cable lies in the duct
    assert rules.duct_bore((MEDIUM,) * 3, "EN-BURIED") is None


def test_a_practice_says_its_rules_first() -> None:
    assert Practice().basis_words.startswith("rules NFPA 70, 2023 (")
    assumed = Practice(rules="none", rules_assumed=True)
    assert assumed.basis_words.startswith("rules none, assumed (")
    assert Practice(rules="CENELEC").edition == "DIN VDE"
    with pytest.raises(NotInTable):
        Practice(rules="NESC")
