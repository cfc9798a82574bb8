import pytest

from route3d.standards import NotInTable
from route3d.standards.search import cited, entries, notes, ranked, table_names
from route3d.standards.tables import load


def test_without_words_every_row_of_every_table_is_listed():
    everything = entries()
    assert {entry.table for entry in everything} == set(table_names())
    rows = sum(len(load(n).rows) + len(load(n).checks) + len(load(n).facts) for n in table_names())
    assert len(everything) == rows


def test_all_words_must_occur_in_any_case_and_order():
    found = entries("GRIP basket")
    assert [entry.name for entry in found] == ["basket_grip"]
    assert entries("basket grip") == found
    assert entries("basket grip walrus") == ()


def test_one_table():
    emt = entries(table="nec_ch9_t4_emt")
    assert [entry.name for entry in emt][:2] == ["1/2", "3/4"]
    assert dict(emt[0].values)["id_in"] == "0.622"
    assert emt[0].status == "READ VDOC, BL236"
    with pytest.raises(NotInTable, match="nec_ch9_t4_emt"):
        entries(table="nec_ch9_t4_em")


def test_status_is_searchable():
    assert {entry.table for entry in entries("memory(l)")} == {
        "attachment_limits",
        "us_bend_radius",
        "us_reel",
        "us_rope_rules",
        "us_swbp_limits",
    }


def test_every_entry_has_a_name_values_and_status_but_source_ids():
    for entry in entries():
        assert entry.name
        assert entry.values
        assert entry.status or entry.table == "sources"


def test_names_within_a_table_tell_rows_apart():
    seen = [(e.table, e.name, e.source, e.values) for e in entries()]
    assert len(seen) == len(set(seen))


def test_notes_keep_the_misprints():
    assert any("MISPRINT" in note for note in notes("friction"))
    assert any("DISAGREES" in note for note in notes("nec_ch9_t4_rmc"))


def test_what_is_named_so_comes_before_what_only_contains_the_words():
    best = ranked(entries("pvc 5"), "pvc 5")
    assert sorted(best, key=repr) == sorted(entries("pvc 5"), key=repr)  # none is lost
    assert {"PVC40 5", "PVC80 5", "5"} <= {entry.name for entry in best[:12]}
    # 5 is no part of 50 or 25, and the 0.5 of a bore is not asked for; "5, 15, 25 kV" says 5.
    sizes = [entry.name for entry in best[:12] if entry.table != "us_swbp_limits"]
    assert not any("50" in name or "25" in name for name in sizes)


def test_the_list_of_sources_comes_last():
    assert [entry.table for entry in ranked(entries("okonite"), "okonite")][-1] == "sources"


def test_source_ids_of_a_status_are_looked_up():
    assert [word for word, _ in cited("OD READ HI; wall READ ATK, and HI again")] == ["HI", "ATK"]
    assert all(what for _, what in cited("READ BL235"))
    assert cited("READ") == ()
