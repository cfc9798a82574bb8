"""Whatever is typed as legs, it is a route or an error with its leg and its column.

Five hundred cases in the suite; twenty thousand with ``-m many``.
"""

from __future__ import annotations

import random
import re

import pytest

from route3d.geometry.leg_grammar import LegsError
from route3d.geometry.legs import read_legs
from route3d.model import Conduit

CONDUITS = {"duct": Conduit.of("PVC-40", "5", friction=0.25, name="duct")}
STARTS = [
    "start pad at 0, 0, 0 heading north in duct",
    "start 'a' at 1 ft, 2 m, -3 heading N30E falling 2%",
]
LENGTHS = [
    "120 ft", "15 ft along", "180 ft, down 1 ft", "100 ft horizontal falling 1 in 100",
    "55'-3 1/2\"", "20 ft rising 3 in per 100 ft in duct", "40 m",
]  # fmt: skip
CORNERS = [
    "right 90 at 36 in", "left 45 and up 30 at 36 in", 'up 90 at standard 48 in sweep, name "a b"',
    "down 22.5 elbow", "turn to heading 214 degrees at 2 ft", "kick left 20", "point tee in duct",
    "turn to S5°3'2\"W rising 1:4 at 1 m", "kick 10 in up at 15 degrees at 36 in", "bend at 48 in",
    "offset 12 ft left at 30 degrees", "rolled offset 8 in right and 6 in up at 30, radius 2 ft",
    "30 degree offset 1 ft to heading east", "3-bend saddle 6 in up at 22.5 degrees",
    "saddle 6 in left over 24 in at 30 degrees",
    'pull point "V2" for reel and machine, box 120 x 72 x 84 in, around sheave s',
]  # fmt: skip
ENDS = ["end 'm', no access", "end at 420, 12, 60 for reel", "end"]
GOOD = [*STARTS, *LENGTHS, *CORNERS, *ENDS]
ODD = [
    "", "-", "0", "1e308", "1e-308", "9" * 400, "9" * 5000, "1/0", "1/3", "nan", "inf", "½", "'",
    '"', '"""', "\\", "°", "″", "′", "“", "”", ",", ",,", "x", "×", ":", "%", "in", "in in", "at",
    "and", "heading", "N", "N90E", "ft", "deg", "rad", "kg", "up", "left", "for", "no", "box",
    "sheave", "elbow", "along", "over", "per", "\x00", "\n", "\t", "\u202e", "\U0001f600", "é",
    "−5", "+5", ".", "..", "1.2.3", "0x10", "{}", "{0}", "%s", "360", "-90", "90", "180", "1e5",
    "1e999 m", "5' 14\"", "12 ft 6 in",
]  # fmt: skip
TOKEN = re.compile(r"[A-Za-z]+|[\d.]+|[^\sA-Za-z\d]")


def slipped(draw: random.Random, text: str) -> str:
    """A leg with one word replaced, dropped, doubled, or another put beside it."""
    tokens = [match.span() for match in TOKEN.finditer(text)] or [(0, 0)]
    first, last = draw.choice(tokens)
    new = [
        draw.choice(ODD),
        draw.choice(TOKEN.findall(draw.choice(GOOD))),
        "",
        text[first:last] * 2,
    ]
    return text[:first] + draw.choice(new) + text[draw.choice([first, last]) :]


def legs_with_slips(draw: random.Random) -> list[str]:
    """Good legs with up to three slips, seldom with more; now and then anything at all."""
    legs = [draw.choice(STARTS), draw.choice(LENGTHS)]
    for _ in range(draw.randrange(4)):
        legs += [draw.choice(CORNERS), draw.choice(LENGTHS)]
    legs += draw.choice([[], [draw.choice(ENDS)]])
    for _ in range(draw.choice([0, 0, 1, 1, 2, 3])):
        at = draw.randrange(len(legs))
        legs[at] = slipped(draw, legs[at])
    if draw.random() < 0.1:
        letters = (chr(draw.randrange(1, 0x250)) for _ in range(draw.randrange(30)))
        legs[draw.randrange(len(legs))] = "".join(letters)
    if draw.random() < 0.1:
        draw.shuffle(legs)
    return legs


def check(seed: int) -> bool:
    """True where the legs make a route; whatever else happens must be told with its place."""
    draw = random.Random(seed)
    legs, system = legs_with_slips(draw), draw.choice(["US", "SI"])
    conduits = draw.choice([{}, CONDUITS])
    try:
        route = read_legs(legs, system, conduits=conduits)
    except LegsError as error:
        assert error.faults and len(error.faults) == len(error.problems)
        for fault in error.faults:
            assert fault.message.startswith(f"leg {fault.leg + 1} ("), legs
            assert 1 <= fault.column <= len(legs[fault.leg]) + 1, legs
        return False
    assert len(route.points) >= 2 and abs(route.points).max() <= 1e5
    assert len(route.echo) == len(route.points) - 1
    assert route.closing is None or route.closing.distance >= 0
    return True


def test_five_hundred_slips() -> None:
    assert 50 < sum(map(check, range(500))) < 450


@pytest.mark.many
def test_twenty_thousand_slips() -> None:
    assert sum(map(check, range(500, 20_500))) > 2000
