"""Stock by name: every row is found by its name in any order and spelling, and by no other."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from route3d.standards.source import Status
from route3d.standards.stock import (
    KINDS,
    StockMiss,
    cable_named,
    conduit_named,
    find_cables,
    friction_named,
    machine_named,
    names,
    nearest_names,
    rope_named,
    words_of,
)

BY_KIND = {
    "cable": cable_named,
    "conduit": conduit_named,
    "rope": rope_named,
    "machine": machine_named,
}
CABLES = names("cable")


@pytest.mark.parametrize("kind", KINDS)
def test_no_two_names_hold_the_same_words(kind):
    words = [words_of(name) for name in names(kind)]
    assert len(set(words)) == len(words) > 5


@pytest.mark.parametrize("kind", KINDS)
def test_every_name_finds_its_own_entry(kind):
    for name in names(kind):
        found = BY_KIND[kind](name)
        called = f"{found.stock_type} {found.trade_size}" if kind == "conduit" else found.name
        assert called == name


SPELLINGS = {
    "copper": ("copper", "Cu", "COPPER"),
    "aluminum": ("aluminum", "aluminium", "Al"),
    "kcmil": ("kcmil", "MCM", "KCMIL"),
    "mm²": ("mm²", "mm2", "mm^2", " sq mm"),
    "kV": ("kV", " kV", "KV"),
    "%": ("%", " %"),
    "shield": ("shield", "shielded", "screen"),
    "unarmored": ("unarmored", "unarmoured"),
}


@given(st.sampled_from(CABLES), st.randoms(use_true_random=False))
def test_order_case_and_spelling_do_not_matter(name, random):
    parts = name.split(" ")
    # What belongs together stays together: a number and its unit, the title of a standard.
    joined = []
    for part in parts:
        glue = part in ("kV", "V", "kcmil", "AWG", "mm²", "strand") or (
            joined and joined[-1] in ("BS", "IEC", "concentric")
        )
        if glue:
            joined[-1] += f" {part}"
        else:
            joined.append(part)
    random.shuffle(joined)
    text = " ".join(joined)
    for plain, written in SPELLINGS.items():
        text = text.replace(plain, random.choice(written))
    assert cable_named(text).name == name, text


@pytest.mark.parametrize(
    ("text", "name"),
    [
        ("THHN 500 kcmil", "600 V THHN copper 500 kcmil"),
        ("15kV 133 % 350MCM Cu tape shielded EPR", "15 kV EPR 133% copper 350 kcmil tape shield"),
        ("NA2XS2Y 20 kV 1x150", "12/20 kV NA2XS2Y aluminum 1x150 mm²"),
        ("BS5467 4 x 95 sq mm", "0.6/1 kV BS 5467 SWA copper 4x95 mm²"),
        ("#3 THHN", "600 V THHN copper 3 AWG"),
        ("XHHW #4/0 Al", "600 V XHHW-2 aluminum 4/0 AWG"),
    ],
)
def test_a_name_that_fits_one_entry_alone_is_enough(text, name):
    assert cable_named(text).name == name


def test_several_or_none_list_the_nearest():
    with pytest.raises(StockMiss, match="fits 26 cables") as several:
        cable_named("500 kcmil")
    assert several.value.nearest[0] == "600 V XHHW-2 copper 500 kcmil"
    with pytest.raises(StockMiss, match='no cable "THNN 500 kcmil"') as none:
        cable_named("THNN 500 kcmil")
    assert none.value.nearest[0] == "600 V THHN copper 500 kcmil"
    # a unit nobody knows: the number beside it still says which
    for text in ("500 kcmill xhhw", "500 kcmli xhhw", "500 xhhw"):
        with pytest.raises(StockMiss) as misspelled:
            cable_named(text)
        assert misspelled.value.nearest[0] == "600 V XHHW-2 copper 500 kcmil", text
    with pytest.raises(StockMiss) as between:
        cable_named("550 kcmil XHHW-2 copper")
    assert {"600 V XHHW-2 copper 500 kcmil", "600 V XHHW-2 copper 600 kcmil"} == set(
        between.value.nearest[:2]
    )
    for look_up, text, near in (
        (conduit_named, "PVC-40 5.5", "PVC-40 5"),
        (rope_named, "polyester double brade 3/4", "polyester double braid 3/4"),
        (machine_named, "capstan 7,000 lbf", "capstan 6,000 lbf two-speed"),
    ):
        with pytest.raises(StockMiss) as miss:
            look_up(text)
        assert near in miss.value.nearest, text
        assert f'stock = "{near}"' in miss.value.fix


def test_estimates_and_remembered_rows_come_last():
    doubts = [cable.doubt for cable in find_cables("500 kcmil")]
    assert doubts == sorted(doubts) and doubts[0] == 0 and doubts[-1] == 3
    assert find_cables("walrus") == ()
    known = [cable_named(name).doubt for name in CABLES[:: len(CABLES) // 40]]
    assert known == sorted(known)


def test_a_search_for_something_else_names_no_stock():
    assert nearest_names("sidewall shielded") == ()
    assert nearest_names("550 kcmil XHHW-2 copper")


def test_what_the_tables_lack_is_missing_and_not_guessed():
    single = cable_named("0.6/1 kV XLPE/PVC unarmored copper 1x150 mm²")
    assert single.missing == ("weight",)
    assert single.weight is None


def test_limits_of_another_practice_are_doubtful():
    vde = cable_named("12/20 kV NA2XS2Y aluminum 1x150 mm²")
    assert vde.sidewall is not None and vde.sidewall.doubtful
    assert vde.bend is not None and vde.bend.value == 15
    assert vde.diameter.source.status is Status.DERIVED
    bare = cable_named("bare ground copper 4/0 AWG 19 strand")
    assert bare.sidewall is not None and bare.sidewall.doubtful
    ours = cable_named("600 V XHHW-2 copper 500 kcmil")
    assert not any(fact.doubtful for fact in ours.facts.values())


def test_a_better_table_stands_for_the_large_thhn():
    large = cable_named("600 V THHN copper 500 kcmil")
    assert large.table == "cable_600v_thhn_cu_300_1000"
    assert large.diameter.source.status is Status.READ
    assert large.weight is not None and large.weight.source.status is Status.ESTIMATE


# --- friction ------------------------------------------------------------------------------------


def test_friction_by_name_prefers_what_was_read():
    pvc = friction_named("PVC jacket, PVC conduit, lubricated")
    assert (pvc.low, pvc.fact.value, pvc.high) == (0.25, 0.3, 0.35)
    assert pvc.fact.source.status is Status.READ
    nylon = friction_named("nylon jacket, PVC conduit, lubricated")
    assert nylon.fact.source.status is Status.MEMORY and nylon.low is None


def test_cables_and_conduit_stand_in_for_what_friction_does_not_name():
    pvc = friction_named("PVC jacket, PVC conduit, lubricated")
    own = friction_named("lubricated", jackets=["PVC", "PVC"], conduit="PVC-40")
    assert (own.low, own.fact.value, own.high) == (pvc.low, pvc.fact.value, pvc.high)
    assert friction_named("PVC jacket, PVC-40 conduit, lubricated").fact.value == 0.3
    with pytest.raises(StockMiss, match="does not name the jacket"):
        friction_named("lubricated", jackets=["PVC", "XLPE"], conduit="PVC-40")
    with pytest.raises(StockMiss, match='"lubricated" or "dry"') as miss:
        friction_named("PVC jacket, PVC conduit")
    assert "PVC jacket, PVC conduit, lubricated" in miss.value.nearest


def test_estimated_friction_only_where_it_is_named():
    read = friction_named("PE jacket, HDPE duct, lubricated")
    assert read.fact.source.status is Status.READ
    guess = friction_named("PE jacket, HDPE duct, lubricated, estimate")
    assert guess.fact.source.status is Status.ESTIMATE and (guess.low, guess.high) == (0.1, 0.2)
