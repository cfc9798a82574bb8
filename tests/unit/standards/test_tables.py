import math
import subprocess
import sys

import pytest
from hypothesis import given
from hypothesis import strategies as st

from route3d.errors import Route3dError
from route3d.standards import NotInTable, Status
from route3d.standards.tables import (
    load,
    read_status,
    si,
    source_of,
    table_names,
    trade_inches,
)

ALL = [name for name in table_names() if name != "sources"]


def test_units_are_exact():
    # Definitions: inch, pound-force (0.45359237 kg x 9.80665), circular mil pi/4 (0.001 in)^2.
    assert si(1, "in") == 0.0254
    assert si(1, "lbf") == pytest.approx(0.45359237 * 9.80665, rel=1e-15)
    assert si(1, "cmil") == pytest.approx(5.067075e-10, rel=1e-7)  # printed to seven figures
    assert si(1, "psi") == pytest.approx(6894.757, rel=1e-6)  # NIST SP 811, seven figures
    assert si(-5, "degC") == 268.15
    assert si(180, "deg") == math.pi


def test_an_unknown_unit_is_refused():
    with pytest.raises(KeyError):
        si(1, "furlong")


@pytest.mark.parametrize(
    ("text", "column", "status", "confidence"),
    [
        ("READ VDOC, BL236", "", Status.READ, ""),
        ("ID READ BL236; area XCHECK", "", Status.XCHECK, ""),
        ("ID READ BL236; area XCHECK", "ID", Status.READ, ""),
        ("OD READ BL235 (TB mid of min/max agrees); wall MEMORY, gives Table 4 ID", "OD",
         Status.READ, ""),
        ("MEMORY = Table 2 (READ VDOC)", "", Status.MEMORY, ""),
        ("OD, wall READ HDG; ID = size - 2*wall DERIVED", "ID", Status.DERIVED, ""),
        ("READ ATK (weights look swapped: ESTIMATE)", "", Status.READ, ""),
        ("per row: READ, MEMORY(l)", "", Status.MEMORY, "l"),
        ("READ(l)", "", Status.READ, "l"),
        ("OD ESTIMATE; weight ESTIMATE = copper + 65; copper DERIVED", "copper",
         Status.DERIVED, ""),
    ],
)  # fmt: skip
def test_status_text_gives_the_weakest_word_of_the_column(text, column, status, confidence):
    assert read_status(text, column) == (status, confidence)


def test_status_text_without_a_status_word_is_an_error_of_the_data():
    with pytest.raises(ValueError, match="no status word"):
        read_status("looked fine")


@pytest.mark.parametrize("name", ALL)
def test_every_row_of_every_file_has_a_status_and_a_source_line(name):
    table = load(name)
    assert table.title
    assert table.standard
    assert table.rows or table.facts
    for row in (*table.rows, *table.checks):
        line = str(source_of(table, row))
        assert line
        assert not line.startswith((",", ";"))


@pytest.mark.parametrize("name", ALL)
def test_every_source_id_of_a_row_is_spelt_out_in_its_file(name):
    table = load(name)
    used = {row["source"] for row in table.rows if "source" in row}
    assert used <= table.sources.keys()


@pytest.mark.parametrize("name", ALL)
def test_ids_are_unique_within_a_file(name):
    ids = [row["id"] for row in load(name).rows if "id" in row]
    assert len(ids) == len(set(ids))


def test_a_table_is_read_once():
    assert load("nec_ch9_t1_fill") is load("nec_ch9_t1_fill")


def test_only_the_file_asked_for_is_read():
    code = (
        "from route3d.standards import conduits, tables\n"
        "conduits.conduit_size('EMT', '4')\n"
        "print(tables.load.cache_info().currsize)"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "2"  # the bores of EMT and the outside diameters


def test_an_unknown_table_names_the_nearest():
    with pytest.raises(NotInTable, match="nec_ch9_t4_emt") as caught:
        load("nec_ch9_t4_emtt")
    assert caught.value.suggestion == "nec_ch9_t4_emt"


def test_an_unknown_rule_names_the_nearest():
    with pytest.raises(NotInTable) as caught:
        load("ductbank").rule("long_sweeps")
    assert caught.value.suggestion == "long_sweep"


def test_not_in_table_is_both_a_lookup_error_and_ours():
    assert issubclass(NotInTable, LookupError)
    assert issubclass(NotInTable, Route3dError)


def test_low_confidence_of_a_file_reaches_its_recalled_rows_only():
    table = load("en61386_conduit")
    steel = next(table.where(system="steel rigid"))
    buried = next(table.where(system="buried 61386-24 min ID"))
    assert source_of(table, steel).confidence == ""
    assert source_of(table, buried).confidence == "l"


def test_a_low_authority_copy_is_remarked():
    table = load("raceway_support_spacing")
    assert "check against the printed code" in source_of(table, table.rows[0]).note


@pytest.mark.parametrize(
    ("text", "inches"),
    [("1/2", 0.5), ("1-1/4", 1.25), ("1 1/2", 1.5), ("6", 6.0), ("110", 110.0), ("11/2", 5.5)],
)
def test_trade_sizes_read_as_numbers(text, inches):
    assert trade_inches(text) == inches


@pytest.mark.parametrize("text", ["", " ", "1-", "1/0", "-1", "1.5", "½", "four", "1--1/2", "٣"])
def test_other_text_is_no_trade_size(text):
    with pytest.raises(NotInTable):
        trade_inches(text)


@given(st.integers(1, 99), st.integers(1, 15), st.sampled_from([2, 4, 8, 16]))
def test_a_mixed_number_is_its_whole_and_its_fraction(whole, over, under):
    assert trade_inches(f"{whole}-{over}/{under}") == whole + over / under
