"""The quantity of the figures of every rule: what a person reads "lbf" or "in" after.

``tests/conftest.py`` holds every finding that any test makes to this table.
"""

from __future__ import annotations

_RULES = {
    "force": """basket grip load; basket grip on armor; brake at the empty drum;
        brake limited by stop reading; brake rating; brake window; cable hangs at a planned stop;
        conductor tension; first move above stop; gauge cannot protect; gauge cannot show;
        gear margin; hanging weight;
        machine line pull; machine load; machine minimum load; narrow brake window;
        pulling eyes load; rating missing;
        reel brake; reel drag; reel tension above the brake window;
        reel tension below the brake window; restart;
        restart in the strongest gear; restart: basket grip load; restart: conductor tension;
        restart: machine line pull; restart: pulling eyes load; restart: rope load; rope load;
        rope working load; slack cable; stop reading; strongest gear""",
    "sidewall": """published sidewall limit; restart: sidewall pressure; rope in the bend;
        sidewall pressure on a sheave""",
    "radius": """cable bend radius; cable bend radius on a sheave; conduit bend radius;
        duct bend radius; no path: no radius left in the bend;
        no path: no straight left at the turn; straight for the bender;
        straight for the coupling""",
    "diameter": """clearance; concrete cover; duct spacing across a row; duct spacing between rows;
        minimum duct bore; pull box, angle pull; pull box, straight pull; stock dimensions""",
    "length": """closing error; earth cover; head length; length between pull points; riser support;
        room to pull out the head""",
    "angle": "degrees between pull points; rows not level; turn at a pull point",
    "percent": "fill; first move; load path: worst bolt, combined",
    "ratio": """access; arrangement; bore to bundle ratio; equipment at both ends; example values;
        friction by pressure; friction from a table; friction from past pulls;
        gauge not accurate; jam ratio; machine location; no safe place to stop; number of stops;
        other jam ratio; published bend multiple; rope factor of safety; rules assumed;
        single core in steel conduit; unequal cables; value from a table""",
    "mass": "reel weight",
    "temperature": "installation temperature",
    "count": "conduit factor",
}
_STARTS = {
    "load path: ": "force",
    "sheave fastening ": "force",
    "radius of ": "radius",
    "swivel on ": "length",
    "not judged: ": "length",
}
_SEVERAL = {
    "machine can overload": ("force", "percent"),
    "rope wear in a plastic bend": ("length", "sidewall"),
    "sidewall pressure": ("sidewall", "factor"),
}
QUANTITIES: dict[str, tuple[str, ...]] = {
    " ".join(rule.split()): (quantity,)
    for quantity, rules in _RULES.items()
    for rule in rules.split(";")
} | _SEVERAL


def quantities_of(rule: str) -> tuple[str, ...]:
    """What the figures of a rule may be; empty for a rule that is not in the table."""
    found = QUANTITIES.get(rule, ())
    return found or tuple(q for start, q in _STARTS.items() if rule.startswith(start))
