import dataclasses

import pytest

from route3d.standards import Fact, Source, Status


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
