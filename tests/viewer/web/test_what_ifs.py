"""Steps of a what-if, and its variants."""

from __future__ import annotations

from viewer.web.what_ifs import MOST_VARIANTS, WhatIf

A, B, C = {"reel": 1.0}, {"reel": 2.0}, {"reel": 3.0}


def test_steps_can_be_taken_back_and_again() -> None:
    now = WhatIf().stepped(A).stepped(B)
    assert (now.edits, now.can_undo, now.can_redo) == (B, True, False)
    back = now.undone()
    assert (back.edits, back.can_redo) == (A, True)
    assert back.redone() == now
    start = back.undone()
    assert start.edits == {} and not start.can_undo and start.undone() == start
    assert now.redone() == now


def test_a_new_step_forgets_those_taken_back_and_the_same_edits_are_none() -> None:
    now = WhatIf().stepped(A).stepped(B).undone().stepped(C)
    assert now.edits == C and not now.can_redo and now.undone().edits == A
    assert now.stepped(C) is now


def test_steps_are_not_kept_for_ever() -> None:
    now = WhatIf()
    for k in range(1000):
        now = now.stepped({"reel": float(k)})
    assert len(now.steps) <= 200 and now.edits == {"reel": 999.0}
    assert now.undone().edits == {"reel": 998.0}


def test_variants_keep_their_edits_and_numbers() -> None:
    now = WhatIf().stepped(A).kept_as("rough").stepped(B).kept_as("")
    assert [(v.id, v.name, v.edits) for v in now.variants] == [
        ("1", "rough", A),
        ("2", "Variant 2", B),
    ]
    now = now.dropped("1").kept_as("last")
    assert [v.id for v in now.variants] == ["2", "3"]  # no number twice
    assert now.variant("2") is not None and now.variant("1") is None
    for _ in range(20):
        now = now.kept_as("many")
    assert len(now.variants) == MOST_VARIANTS and now.variants[-1].id == "23"
