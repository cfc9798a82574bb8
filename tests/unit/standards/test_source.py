import dataclasses
import re
from collections.abc import Mapping
from pathlib import Path

import pytest

from route3d import standards
from route3d.standards import Fact, Source, Status
from route3d.standards.search import cited, entries
from route3d.standards.tables import load, source_of, table_names


@pytest.mark.parametrize(
    ("status", "confidence", "ending"),
    [
        (Status.READ, "", "NFPA 70, 358.26"),
        (Status.XCHECK, "", "; recalled, agrees with a stored copy"),
        (Status.DERIVED, "", "; derived"),
        (Status.MEMORY, "", "; from memory"),
        (Status.MEMORY, "h", "; from memory, high confidence"),
        (Status.READ, "l", "; low confidence"),
        (Status.ESTIMATE, "", "; estimate"),
    ],
)
def test_a_source_ends_with_its_status_in_words(status, confidence, ending):
    line = str(Source("NFPA 70", "358.26", status, confidence=confidence))
    assert line.startswith("NFPA 70, 358.26")
    assert line.endswith(ending)
    assert "\n" not in line


def test_a_source_without_a_place_prints_no_stray_comma():
    assert str(Source("trade practice", "", Status.READ)) == "trade practice"


@pytest.mark.parametrize(
    ("status", "confidence", "doubtful"),
    [
        (Status.READ, "", False),
        (Status.MEMORY, "", False),
        (Status.MEMORY, "m", False),
        (Status.MEMORY, "l", True),
        (Status.READ, "l", True),
        (Status.ESTIMATE, "", True),
    ],
)
def test_estimates_and_low_confidence_are_doubtful(status, confidence, doubtful):
    source = Source("book", "p.1", status, confidence=confidence)
    assert source.doubtful is doubtful
    assert Fact(1.0, "ratio", source, "x").doubtful is doubtful


def test_statuses_rank_from_best_to_weakest():
    ranked = sorted(Status, key=lambda status: status.rank)
    assert ranked[0] is Status.READ
    assert ranked[-1] is Status.ESTIMATE


def test_a_fact_cannot_be_changed():
    fact = Fact(1.0, "ratio", Source("book", "p.1", Status.READ), "x")
    with pytest.raises(dataclasses.FrozenInstanceError):
        fact.value = 2.0


def _origins() -> list[tuple[str, Mapping[str, str]]]:
    """Every record of where something was read, with its table."""
    listed = [("sources", o) for o in load("sources").facts.values()]
    return listed + [(n, o) for n in table_names() for o in load(n).sources.values()]


def test_a_citation_names_the_standard_or_the_kind_and_never_the_maker_or_a_page() -> None:
    """So no maker's name reaches a finding or the crew's sheet, whichever table is added."""
    makers = {o["by"].split(" SPEC")[0].split(",")[0] for _, o in _origins() if "by" in o}
    assert {"Southwire", "Nexans", "Atkore"} <= makers
    for name, origin in _origins():
        what = origin["what"]
        assert not any(re.search(rf"\b{re.escape(m)}\b", what) for m in makers), (name, what)
        assert not re.search(r"https?:|www\.|scribd|yumpu|gitea|forums?\.|manual", what), what
        if re.search(r"forum|gitea|answer|ehow|quiz", origin.get("url", "") + what.lower()):
            assert re.search(r"^(NFPA|AEIC) |second-hand|journal", what), (name, what)
    for name in table_names():
        table = load(name)
        for what in table.publications.values():
            assert not any(re.search(rf"\b{re.escape(m)}\b", what) for m in makers), (name, what)
        for row in (r for r in table.rows if "status" in r or table.status[:3] != "per"):
            line = str(source_of(table, row))
            assert not any(re.search(rf"\b{re.escape(m)}\b", line) for m in makers), line


def test_no_module_names_a_maker_as_a_source() -> None:
    package = Path(standards.__file__).parents[1]
    makers = re.compile(r"Southwire|Nexans|Atkore|Okonite|Fujikura|Prysmian|puller manual")
    for module in package.rglob("*.py"):
        assert not makers.search(module.read_text(encoding="utf-8")), module


def test_where_a_figure_was_read_stands_behind_what_it_is() -> None:
    """The list of built-in values tells the maker and the page, after standard and clause."""
    rows = [e for e in entries(table="attachment_limits") if "10,000 lb" in e.source]
    assert rows[0].source == (
        "pulling tension guide of a cable maker, US, any device: its rating, and at most 10,000 lb"
        "; published by Southwire"
        "; read at https://www.southwire.com/support/WireandCblPullingTensions.htm"
    )
    assert cited("READ MH5") == (
        (
            "MH5",
            "NFPA 70-2002, 358.26, every bend counts (quoted in a forum)"
            "; read at http://forums.mikeholt.com/showthread.php?t=56109",
        ),
    )
