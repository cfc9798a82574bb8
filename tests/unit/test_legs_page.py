"""The page of the leg grammar: every leg on it is read, and every message is the one printed."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

import route3d
from route3d.geometry.leg_grammar import LegsError
from route3d.geometry.legs import LegRoute, read_legs
from route3d.model import Conduit
from route3d.modelfile.read import load

PAGE = (Path(route3d.__file__).parent / "docs" / "legs.md").read_text(encoding="utf-8")
WORDS, MESSAGES = PAGE[: PAGE.index("## Messages")], PAGE[PAGE.index("## Messages") :]
CONDUITS = {
    "duct": Conduit.of("PVC-40", "5", friction=0.25, name="duct"),
    "riser": Conduit.of("RMC", "5", friction=0.25, name="riser"),
}
_ROW = re.compile(r"^\| `(.+?)` \| (.+) \|$", re.MULTILINE)
LEGS = [text for text, _ in _ROW.findall(WORDS)]


def read(text: str) -> LegRoute:
    """A leg of the page after 50 ft, and before 50 ft more where it is no end."""
    onward = [] if text.startswith("end") else ["50 ft"]
    legs = ["start at 0, 0, 0 heading north in duct", "50 ft", text, *onward]
    return read_legs(legs, "US", conduits=CONDUITS)


def message_of(text: str) -> str:
    """What is printed of a wrong leg, without its text, which stands beside it."""
    with pytest.raises(LegsError) as caught:
        read(text)
    (problem,) = caught.value.problems
    said = f"{problem.message}; {problem.fix}" if problem.fix else problem.message
    return said.replace(f'leg 3 ("{text}")', "leg 3")


def test_the_page_has_its_legs() -> None:
    assert len(LEGS) > 25 and len(_ROW.findall(MESSAGES)) > 6


@pytest.mark.parametrize("text", LEGS)
def test_every_leg_of_the_page_is_read(text: str) -> None:
    assert len(read(text).points) >= 2


def test_the_block_is_that_of_the_model() -> None:
    (block,) = re.findall(r"```legs\n(.*?)```", PAGE, re.DOTALL)
    model = Path(route3d.__file__).parents[1] / "models" / "mezzanine.toml"
    legs = load(model).runs[0].route.legs
    assert legs is not None and tuple(block.splitlines()) == legs.texts


def test_other_forms_named_on_the_page() -> None:
    for text in ("1:100", "1%", "2 degrees", "1/4 in per ft"):
        assert f"`{text}`" in WORDS and read(f"180 ft falling {text}").points[-1][2] < 0
    for text in ("east", "NE", "214 degrees", "S45°30'W"):
        assert f"`{text}`" in WORDS and len(read(f"turn to heading {text}").points) == 3
    riser = "offset 1 ft to heading east at 45 degrees"
    assert f"`{riser}`" in WORDS
    legs = [
        "start at 0, 0, 0 heading up in riser",
        "9 ft",
        riser,
        "9 ft",
        'end "roof, in the shed"',
    ]
    assert len(read_legs(legs, "US").points) == 4 and f"`{legs[-1]}`" in WORDS


@pytest.mark.parametrize(("text", "message"), _ROW.findall(MESSAGES))
def test_every_message_of_the_page_is_printed(text: str, message: str) -> None:
    assert message == message_of(text)
