"""Past pulls by jacket, conduit, lubricant and temperature, and the next of each kind."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from route3d.field.history import history, learned_friction, published_range, temperature_class
from route3d.field.library import append
from route3d.field.pooling import next_pull
from route3d.standards.tables import NotInTable
from tests.support.past_pulls import past_pull


def _line(**changes: object) -> dict[str, Any]:
    return {"lines": [past_pull(0)["friction"][0] | changes]}


@pytest.fixture
def library(tmp_path: Path) -> Path:
    path = tmp_path / "pulls.sqlite"
    for number, friction in enumerate((0.14, 0.18, 0.16, 0.2)):
        append(path, past_pull(number, friction))
    append(path, past_pull(10, 0.3, temperature_K=268.0))
    append(path, past_pull(11, 0.5, lubricant={"product": "None"}))
    append(path, past_pull(12, **_line(jacket="", value=0.4), temperature_K=None))
    append(path, past_pull(13, **_line(conduit="steel", value=0.24)))
    append(path, past_pull(14, **_line(value=0.9, known=False)))
    return path


def test_pulls_of_one_kind_stand_together(library: Path) -> None:
    kinds = {(h.jacket, h.conduit, h.lubricant, h.temperature): h for h in history(library)}
    gel = "water-based gel"
    assert set(kinds) == {
        ("PE", "PVC", gel, "mild"),
        ("PE", "PVC", gel, "cold"),
        ("PE", "PVC", "none", "mild"),
        ("", "PVC", gel, ""),
        ("PE", "steel", gel, "mild"),
    }
    mild = kinds["PE", "PVC", gel, "mild"]
    assert (len(mild.pulls), mild.low, mild.high) == (4, 0.14, 0.2)  # 0.9 was not known
    assert mild.quantiles[1] == pytest.approx(0.17)
    assert mild.published == (0.06, 0.35)  # PE in PVC, lubricated, as read
    errors = [(p.high - p.low) / (2 * 1.959964 * p.value) for p in mild.pulls]
    told = next_pull([p.value for p in mild.pulls], errors, [1.0] * 4, (0.06, 0.35))
    assert mild.next_pull == told
    nameless = kinds["", "PVC", gel, ""]
    assert nameless.next_pull is None and "jacket was not recorded" in nameless.why


def test_only_what_is_asked_for(library: Path) -> None:
    assert {h.conduit for h in history(library, conduit="RMC")} == {"steel"}
    assert {h.conduit for h in history(library, conduit="PVC-40")} == {"PVC"}
    assert [h.lubricant for h in history(library, lubricant=" NONE ")] == ["none"]
    assert history(library, jacket="XLPE") == ()


def test_the_published_range_is_that_of_the_state(library: Path) -> None:
    dry, wet = (published_range("PE", "PVC", word) for word in ("dry", "gel"))
    either = published_range("PE", "PVC", "")
    assert (dry.low, dry.high, wet.low, wet.high) == (0.3, 0.65, 0.06, 0.35)
    assert (either.low, either.high) == (min(dry.low, wet.low), max(dry.high, wet.high))
    with pytest.raises(NotInTable, match="conduit material was not recorded"):
        published_range("PE", "", "gel")


@pytest.mark.parametrize(
    ("kelvin", "word"),
    [(None, ""), (278.1, "cold"), (278.2, "mild"), (298.1, "mild"), (298.2, "warm")],
)
def test_temperature_classes(kelvin: float | None, word: str) -> None:
    assert temperature_class(kelvin) == word


def test_a_lubricant_that_the_library_lacks_is_answered_with_those_it_has(library: Path) -> None:
    def learned(lubricant: str) -> str:
        return learned_friction(
            library, jacket="PE", conduit="PVC", lubricated=True, published=(0.15, 0.06, 0.35),
            lubricant=lubricant,
        ).words  # fmt: skip

    assert learned("graphite").endswith("lubricants in this library: none, water-based gel")
    assert learned("water-based gel").startswith("history: 5 pulls")
