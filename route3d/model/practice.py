"""Where published practice differs: named options with a stated default."""

from __future__ import annotations

from dataclasses import dataclass

from route3d.standards.rules import RuleSet, rule_set

CHOICES: dict[str, dict[str, str]] = {
    "weight_factor_in": {
        "everywhere": "the weight correction factor multiplies friction in straights and bends",
        "straights": "the weight correction factor multiplies friction in straights only",
    },
    "jam_ratio": {
        "1.05 D/d": "jam ratio based on 1.05 D/d, to allow for oval bends",
        "D/d": "jam ratio based on D/d",
    },
    "sidewall": {
        "per cable": "sidewall pressure of the worst cable where a formula exists, at least its "
        "own share of the tension",
        "group": "sidewall pressure from the tension of the whole group, T/R",
    },
    "sidewall_radius": {
        "inside": "sidewall pressure at the inner wall of the bend, R - ID/2",
        "centerline": "sidewall pressure on the centerline bend radius",
    },
    "strength_count": {
        "all": "every conductor counts for strength (0.8 of the sum above three)",
        "two of three": "three singles count as two conductors for strength",
    },
    "tension_sharing": {
        "worse of both": "main cables share the tension by conductor area or equally, whichever "
        "is worse",
        "conductor area": "main cables share the tension by conductor area",
        "equal": "main cables share the tension equally",
    },
    "bend_form": {
        "full": "bends integrate friction, curvature and gravity together (exact method)",
        "capstan": "bends multiply tension by the capstan factor (handbook method)",
    },
}


@dataclass(frozen=True, slots=True)
class Practice:
    """The conventions one job is worked by; a report always says which were used.

    ``rules`` is the set its national findings come from, ``edition`` of it (the default one where
    empty); ``rules_assumed`` is true where the file did not choose. ``laying_temperature`` K is
    that of the cable while it is pulled, None where not given. ``rope_wear`` N/m is the load of
    rope per length of a plastic bend from which a caution is given. ``margin`` is the share of each
    load limit that a remedy aims at; with ``may_lean`` one may move a point so that a plumb leg
    leans or a level one slopes.
    """

    weight_factor_in: str = "everywhere"
    jam_ratio: str = "1.05 D/d"
    sidewall: str = "per cable"
    sidewall_radius: str = "inside"
    strength_count: str = "all"
    tension_sharing: str = "worse of both"
    bend_form: str = "full"
    restart: float = 1.3
    rules: str = "NFPA 70"
    edition: str = ""
    rules_assumed: bool = False
    laying_temperature: float | None = None
    rope_wear: float = 7300.0
    margin: float = 0.9
    may_lean: bool = False

    def __post_init__(self) -> None:
        for name, choices in CHOICES.items():
            if getattr(self, name) not in choices:
                raise ValueError(f"{name}: {getattr(self, name)!r} is not one of {list(choices)}")
        object.__setattr__(self, "edition", self.rule_set.edition)

    @property
    def rule_set(self) -> RuleSet:
        """The rules the job is judged by; NotInTable where they or their edition are unknown."""
        return rule_set(self.rules, self.edition)

    @property
    def method(self) -> str:
        """The method of ``integrate`` that the bend form asks for."""
        return "exact" if self.bend_form == "full" else "handbook"

    @property
    def basis_words(self) -> str:
        """What each option in force means, for the foot of a report."""
        chosen = (choices[getattr(self, name)] for name, choices in CHOICES.items())
        return "; ".join((self.rules_words, *chosen))

    @property
    def rules_words(self) -> str:
        """The rule set and its edition in words, and whether it was assumed."""
        assumed = ", assumed" if self.rules_assumed else ""
        return f"rules {self.rule_set.title}{assumed} ({self.rule_set.basis})"
