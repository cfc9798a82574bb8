"""Every rule and result explained once: formulas, symbols, validity, source.

``route3d explain``, the calculation report and the page all take their words from this table.
"""

from __future__ import annotations

from dataclasses import dataclass
from difflib import get_close_matches

from route3d.errors import InputError, Problem
from route3d.report.formula import Formula

SYMBOLS: dict[str, str] = {
    "T_1": "tension entering the section",
    "T_2": "tension leaving the section",
    "T": "tension of the whole set",
    "T_0": "tension of the cables leaving the reels, total",
    "T_m": "load at the machine",
    "T_r": "tension of the rope leaving the conduit",
    "w": "weight per length of everything pulled",
    "L": "length",
    "h": "height",
    "μ": "coefficient of friction, cable jacket on conduit",
    "μ_r": "coefficient of friction of the rope",
    "ω": "weight correction factor of the arrangement",
    "K": "effective friction, ω μ",
    "φ": "slope above level in the direction of the pull",
    "φ_1": "slope entering the bend",
    "φ_2": "slope leaving the bend",
    "θ": "bend angle, in radians in formulas",
    "R": "bend radius on the centerline",
    "D": "inner diameter of the conduit",
    "d": "diameter of one cable",
    "x": "d / (D - d)",
    "c": "w R / (1 + K²)",
    "b": "vertical part of the normal of the plane of the bend (1 level, 0 upright)",
    "t_z": "vertical part of the unit tangent",
    "n_z": "vertical part of the unit normal to the center of the bend",
    "P": "sidewall pressure of the worst cable",
    "f": "share of T / R on the worst cable",
    "q": "load of the whole set on the wall",
    "J": "jam ratio",
    "C": "clearance over the cables",
    "S": "stress limit of the conductor metal",
    "A": "metal area of the conductors",
    "N": "number of conductors",
    "s": "share of the tension that one cable carries",
    "k": "factor on all friction",
    "k_0": "restart factor",
    "η": "efficiency of the sheave or guide",
    "F": "load",
    "n": "count",
    "W": "weight",
    "m": "bend multiple of the cable",
    "B": "breaking strength",
    "M": "torque",
}


@dataclass(frozen=True, slots=True)
class Explanation:
    """One rule or result.

    Parameters
    ----------
    key : str
        Its short name, what ``explain`` is asked for.
    title : str
        A heading.
    text : str
        What it says, in a sentence or two.
    source : str
        Publication, or how it is known.
    formulas : tuple of str
        As `Formula` reads them; none where there is no law behind the rule.
    symbols : tuple of str
        Keys of SYMBOLS, in the order of a list.
    validity : str
        Where it holds.
    rules : tuple of str
        Rules of findings it belongs to, beside its own key; one that ends in ": " or " " stands for
        all that start so.
    section : str
        Of docs/theory.md.
    also : tuple of str
        Other names people may ask for.
    """

    key: str
    title: str
    text: str
    source: str
    formulas: tuple[str, ...] = ()
    symbols: tuple[str, ...] = ()
    validity: str = ""
    rules: tuple[str, ...] = ()
    section: str = ""
    also: tuple[str, ...] = ()

    @property
    def names(self) -> tuple[str, ...]:
        """Every name it is found by."""
        return (self.key, *(rule.rstrip(": ") for rule in self.rules), *self.also)


_GIVEN = "the limit is that given in the model file; its source is named in the finding"
_PRACTICE = "common practice, no source"
_STATICS = "statics"

EXPLANATIONS: tuple[Explanation, ...] = (
    # --- tension -----------------------------------------------------------------------------
    Explanation(
        "straight",
        "Straight",
        "Weight along the slope and friction add tension; downhill the weight takes it away. "
        "Tension cannot be negative: a cable cannot push.",
        "level: ConQuest manual p. 68 and TES-P-104.05 eq. 05-1 (read); sloped: HUBER+SUHNER "
        "laying notes (read, in other notation), derived",
        ("T_2 = max(0, T_1 + w L (sin φ + K cos φ))", "K = ω μ"),
        ("T_1", "T_2", "w", "L", "φ", "K", "ω", "μ"),
        "Exact for a soft cable on a straight of any slope.",
        section="3",
        also=("tension in a straight", "inclined straight"),
    ),
    Explanation(
        "level bend",
        "Bend in a level plane",
        "Friction acts on the load of the cable on the wall: tension toward the inside of the bend "
        "and weight on the bottom.",
        "a lubricant maker's article (read); goes back to Buller (1949) and Rifenburg (1953), not "
        "seen; derived",
        ("T_2 = T_1 cosh(K θ) + sinh(K θ) sqrt(T_1^2 + (w R)^2)",),
        ("T_1", "T_2", "K", "θ", "w", "R"),
        "Exact for a soft cable where the plane of the bend is level.",
        section="4",
        also=("horizontal bend",),
    ),
    Explanation(
        "sag bend",
        "Bend in a vertical plane, center above",
        "The bend at the foot of a riser. The cable lies on the inner wall while T is at least "
        "w R cos φ. The slope φ is counted on past 90° where a bend turns past upright.",
        "form from memory (makers' guides, AEIC CG5, after Rifenburg 1953); derived, and agrees "
        "with a step-by-step balance of forces",
        (
            "T_2 = (T_1 + c g(φ_1)) e^(K (φ_2 - φ_1)) - c g(φ_2)",
            "g(φ) = 2 K sin φ + (1 - K^2) cos φ",
            "c = frac(w R, 1 + K^2)",
        ),
        ("T_1", "T_2", "c", "K", "φ_1", "φ_2", "w", "R"),
        "Exact while T ≥ w R cos φ; below that the cable lies on the outer wall and the next "
        "formula holds.",
        section="4",
        also=("vertical bend", "vertical bends"),
    ),
    Explanation(
        "sag bend on the outer wall",
        "Bend in a vertical plane, center above, low tension",
        "Below T = w R cos φ the cable lies on the outer wall of the bend.",
        "derived; handbooks do not print it",
        (
            "T_2 = (T_1 - c h(φ_1)) e^(- K (φ_2 - φ_1)) + c h(φ_2)",
            "h(φ) = 2 K sin φ - (1 - K^2) cos φ",
            "c = frac(w R, 1 + K^2)",
        ),
        ("T_1", "T_2", "c", "K", "φ_1", "φ_2", "w", "R"),
        "Exact while T < w R cos φ.",
        section="4",
    ),
    Explanation(
        "crest bend",
        "Bend in a vertical plane, center below",
        "The bend at the top of a riser.",
        "form from memory (makers' guides, AEIC CG5, after Rifenburg 1953); derived, and agrees "
        "with a step-by-step balance of forces",
        (
            "T_2 = (T_1 - c g(-φ_1)) e^(K (φ_1 - φ_2)) + c g(-φ_2)",
            "g(φ) = 2 K sin φ + (1 - K^2) cos φ",
            "c = frac(w R, 1 + K^2)",
        ),
        ("T_1", "T_2", "c", "K", "φ_1", "φ_2", "w", "R"),
        "Exact for a soft cable in a bend that does not turn past upright.",
        section="4",
    ),
    Explanation(
        "tilted bend",
        "Bend in a tilted plane",
        "No closed form exists. The law is integrated along the arc; the hand line is printed "
        "beside the exact value.",
        "derived from the soft-string law (Johancsik and others 1984, summary read); relative "
        "error below 1e-8 against an independent solver",
        (
            "frac(d y, d θ) = 2 t_z + K sqrt(y^2 + b^2)",
            "y = frac(T, w R) - n_z",
        ),
        ("T", "w", "R", "K", "θ", "t_z", "n_z", "b"),
        "Exact for a soft cable in a bend of any plane.",
        section="4",
        also=("oblique bend", "bend"),
    ),
    Explanation(
        "held load",
        "Bend in which the load is held at a threshold of friction",
        "Friction falls above a contact load, and the slope is steep: with the higher friction the "
        "load rises to the threshold, with the lower one it falls back to it. It stays there, and "
        "friction is just what that takes; the tension changes by the weight of the height lost.",
        "derived; sliding in the sense of Filippov (from memory)",
        ("T_2 = T_1 - w h",),
        ("T_1", "T_2", "w", "h"),
        "Exact for a soft cable; h is the rise of the stretch, negative downhill.",
        section="19",
    ),
    Explanation(
        "friction by pressure",
        "Friction that falls above a contact load",
        "Up to a contact load of the whole set the coefficient is the one given, above it a lower "
        "one. The results with and without are printed beside each other. Constant friction gives "
        "the larger one and decides, unless the test report of this cable, conduit and lubricant "
        "is cited. The low end of the friction range is never above the lower coefficient.",
        "published practice, about 150 lbf/ft (EPRI EL-3333, AEIC CG5: not seen, from memory); "
        "never a default",
        ("q = sqrt((frac(T, R) - w n_z)^2 + (w b)^2)",),
        ("q", "T", "R", "w", "n_z", "b"),
        "Not with the hand method, at turns without length, on sheaves and for the rope: they keep "
        "the friction given.",
        section="19",
        also=("falling friction",),
    ),
    Explanation(
        "hand method",
        "Hand method for bends (capstan)",
        "Every bend multiplies the tension, whatever its plane; the weight of the cable inside the "
        "bend is left out. Straights are as in the exact method.",
        "ConQuest manual p. 69; TES-P-104.05 clause 4.5; IEEE 1185-2019 Annex C (read)",
        ("T_2 = T_1 e^(K θ)",),
        ("T_1", "T_2", "K", "θ"),
        "Always below the exact value of a level bend: for K θ = 0.35 × π/2 by 0.04% where "
        "w R / T1 = 0.05, by 1% at 0.25, by 14% at 1. In a riser bend the weight that is left out "
        "counts for or against the pull.",
        section="5",
        also=("capstan", "handbook", "hand calculation"),
    ),
    Explanation(
        "turn at a pull point",
        "Turn at a pull point without a sheave",
        "A conduit that stops and turns in a vault is a corner of no length. Above 5° the run must "
        "be split there, or the cables guided around a sheave.",
        _PRACTICE,
        ("T_2 = T_1 e^(K θ)",),
        ("T_1", "T_2", "K", "θ"),
        "Turns below 1° are not counted.",
        section="8",
        also=("corner",),
    ),
    Explanation(
        "sheave at a pull point",
        "Turn around a sheave",
        "A sheave divides the tension by its efficiency. Its fastening carries both lines; the "
        "larger tension is used for both.",
        "from memory; statics",
        ("T_2 = frac(T_1, η)", "F = 2 T sin(frac(θ, 2))"),
        ("T_1", "T_2", "η", "F", "T", "θ"),
        "The fastening must be on the inside of the turn, midway between the two lines.",
        ("sheave fastening ",),
        section="8",
    ),
    Explanation(
        "weight factor",
        "Weight correction factor",
        "Several cables wedge in a round conduit and press on it with more than their weight.",
        "single, triangular, cradled, complex: cabledatasheet.com FAQ (read), triangular also "
        "TES-P-104.05 p. 10; diamond from memory; two derived; all exact by statics",
        (
            '"triangular:  " ω = frac(1, sqrt(1 - x^2))',
            '"cradled:  " ω = 1 + frac(4, 3) x^2',
            '"diamond:  " ω = 1 + 2 x^2',
            '"two:  " ω = frac(1, sqrt(1 - x_1 x_2))',
            '"single:  " ω = 1 ";   four or more:  " ω = 1.4',
            "x = frac(d, D - d)",
        ),
        ("ω", "x", "d", "D"),
        "Frictionless round cables in a round conduit. Main cables only.",
        section="9",
        also=("weight correction factor", "omega"),
    ),
    Explanation(
        "arrangement",
        "Arrangement of the cables",
        "Three cables lie triangular below D/d = 2.5 and cradled above 3.0; between them either, "
        "and the one with the larger weight factor is used. Four below 3.0 lie in a diamond.",
        "from memory; triplexed cables are always triangular",
        ('"by  " frac(D, d)',),
        ("D", "d"),
        "Where both are possible the finding gives both factors.",
        section="9",
    ),
    Explanation(
        "unequal cables",
        "Unequal cables in one pull",
        "Main cables share the tension by conductor area or equally, whichever is worse. A cable "
        "with at most a quarter of the largest metal area rides along: it adds weight and carries "
        "its own drag.",
        "common practice; area share from memory",
        ("s = max(frac(A_i, Σ A), frac(1, n))", 's_"riding" = frac(w_i, w)'),
        ("s", "A", "n", "w"),
        section="9",
        also=("tension sharing", "riding cables"),
    ),
    # --- limits on the cable -----------------------------------------------------------------
    Explanation(
        "sidewall pressure",
        "Sidewall pressure",
        "How hard the worst cable is pressed against the wall of a bend, per length of cable. "
        "Worked from the largest tension in the bend.",
        "single and cradled: cabledatasheet.com FAQ (read); triangular and diamond from memory, "
        "exact by statics; R - D/2: from memory, the stricter of two conventions",
        (
            '"inner wall:  " P = frac(f T, R - frac(D, 2)) ";   centerline:  " P = frac(f T, R)',
            '"single:  " f = 1 ";   triangular, two:  " f = frac(ω, 2)',
            '"cradled:  " f = frac(3 ω - 2, 3) ";   diamond:  " f = ω - 1',
        ),
        ("P", "f", "T", "R", "D", "ω"),
        "Where no formula of the arrangement was seen, the whole set is taken to press on one "
        "cable (f = 1). No cable presses with less than its own share of the tension.",
        ("restart: sidewall pressure", "sidewall pressure on a sheave"),
        section="10",
        also=("sidewall", "sidewall bearing pressure"),
    ),
    Explanation(
        "published sidewall limit",
        "Sidewall limit against the published one",
        "The sidewall limit given for a cable is compared with the published value of its class. "
        "The cable maker's value takes precedence.",
        "the table named in the finding",
        section="10",
    ),
    Explanation(
        "conductor tension",
        "Tension limit of the conductors",
        "The set may be pulled with the tension at which its first cable reaches its own strength. "
        "Above three conductors 0.8 of the sum counts.",
        "copper 0.008 lb/cmil, aluminum 0.006 lb/cmil: pulling guides of US cable makers, "
        "ICEA-based (read); national rules replace them",
        ('T_"max" = frac(n S A, s)', 'n = 1 "  up to three conductors,  " 0.8 "  above"'),
        ("T", "S", "A", "s", "n"),
        "S is the cable maker's figure where one is given. Only the metal of main cables counts.",
        ("restart: conductor tension", "riding cable "),
        section="11",
        also=("conductor", "maximum pulling tension"),
    ),
    Explanation(
        "attachment load",
        "Load on the pulling eyes or the basket grip",
        "The smallest of the published cap that protects the cable and the ratings of the fittings "
        "at the cable head. Only the cable maker's own figure replaces the cap.",
        "any device 10,000 lbf, basket grip 1,000 lbf each: guides of US cable makers (read)",
        ('T ≤ T_"cap"',),
        ("T",),
        "A stronger grip, eye or swivel does not make the cable stronger.",
        (
            "pulling eyes load",
            "basket grip load",
            "restart: pulling eyes load",
            "restart: basket grip load",
            "basket grip on armor",
        ),
        section="11",
        also=("grip", "pulling eyes", "basket grip"),
    ),
    Explanation(
        "cable bend radius",
        "Minimum bend radius of the cable while pulling",
        "The bend multiple of the cable counts from the inner wall, where the cable lies, unless "
        "its source measures to the centerline.",
        _GIVEN,
        ("R - frac(D, 2) ≥ m d",),
        ("R", "D", "m", "d"),
        "For training and racking another, smaller multiple holds.",
        ("cable bend radius on a sheave", "published bend multiple"),
        section="14",
    ),
    Explanation(
        "installation temperature",
        "Lowest installation temperature",
        "A cold jacket cracks. The temperature of the cable during the pull is held against the "
        "cable maker's value, or that of the jacket material.",
        "the cable maker, or the table named in the finding",
        section="16",
    ),
    # --- fit ---------------------------------------------------------------------------------
    Explanation(
        "fill",
        "Conduit fill",
        "Cross-section of all cables over that of the conduit.",
        "NFPA 70 chapter 9, table 1 and note 6: 53% one cable, 31% two, 40% three or more (read)",
        ('"fill" = frac(Σ d^2, D^2)',),
        ("d", "D"),
        "A limit only where the rules of the job have one.",
        section="13",
        also=("conduit fill",),
    ),
    Explanation(
        "jam ratio",
        "Jam ratio of three cables",
        "Three cables of nearly a third of the bore can fall into one row in a bend and jam.",
        "1.05 for oval bends: from memory; bands: TES-P-104.05 p. 12 reads D/d (read), those of "
        "1.05 D/d from memory",
        ('J = 1.05 frac(D, d) "  or  " frac(D, d)',),
        ("J", "D", "d"),
        "The two readings have bands of their own; the finding names the one used.",
        ("other jam ratio",),
        section="13",
        also=("jam", "jamming"),
    ),
    Explanation(
        "clearance",
        "Clearance over the cables",
        "Free height between the highest cable and the top of the bore.",
        "one cable, three triangular: TES-P-104.05 p. 12 (read; exact); three cradled: exact "
        "height, less than the form printed in handbooks",
        (
            '"single:  " C = D - d',
            '"triangular:  " C = frac(D, 2) - 1.366 d + frac(D - d, 2) sqrt(1 - x^2)',
            '"cradled:  " C = frac(D, 2) - frac(d, 2) + frac(D - d, 2) (1 - 2 x^2)',
        ),
        ("C", "D", "d", "x"),
        "Other arrangements: the height of the settled section.",
        section="13",
    ),
    Explanation(
        "not judged",
        "Building mesh that is not judged",
        "A mesh in other units or another frame lies where no building of the job can: too small, "
        "too large, or far from every route. Nothing is measured against it.",
        "own judgment: below 0.15 m; higher than 1000 m, or 200 m and 5 extents of the job; wider "
        "than 20 km, or 6 km and 300 extents; farther than 10 extents (3 where another unit or the "
        "origin would bring it to the routes). Another unit is advised only where the mesh is then "
        "1 m or longer; and where it has a likely size as read (1 m to 1 km or 20 extents), only "
        "if the unit is at most four times as long or as short. Else its size in every unit is "
        "told",
        validity="An extent is the diagonal of the box round all routes, 20 m at least. A mesh "
        "below 1 m is judged, and told as small.",
        rules=("not judged: ",),
    ),
    Explanation(
        "bore to bundle ratio",
        "Bore over bundle",
        "Inner diameter of the duct over the diameter of the circle around all cables.",
        "the rules of the job, named in the finding",
        ('frac(D, d_"bundle") ≥ "limit"',),
        ("D",),
        "Three equal cables: bundle 2.155 d; four: 2.414 d.",
        ("minimum duct bore",),
        section="13",
    ),
    Explanation(
        "single core in steel conduit",
        "Single core alone in steel conduit",
        "A single-core AC cable alone in a steel conduit heats the steel.",
        "the rules of the job, named in the finding",
        section="13",
    ),
    Explanation(
        "stock dimensions",
        "Table value that is uncertain",
        "A diameter of the built-in tables that is an estimate or weakly remembered is reported. "
        "Enter the maker's figures.",
        "the table named in the finding",
        section="13",
    ),
    # --- conduit and route -------------------------------------------------------------------
    Explanation(
        "conduit bend radius",
        "Minimum bend radius of the conduit",
        "A field bend, or the factory elbow of the trade size.",
        "NFPA 70 chapter 9, table 2, or the table named in the finding",
        ('R ≥ R_"min"',),
        ("R",),
        "",
        ("duct bend radius", "radius of "),
        section="14",
    ),
    Explanation(
        "closing error",
        "Closing error of a route by legs",
        "Distance between the end that the legs lead to and the end that is known. The finding "
        "names the smallest change of straights that closes it.",
        "geometry; least squares over all lengths",
        (),
        (),
        "Only for a run by legs with a known end point.",
        section="14",
        also=("closing",),
    ),
    Explanation(
        "degrees between pull points",
        "Degrees of bend between pull points",
        "The sum of all bends between two pull points.",
        "NFPA 70, the article of the conduit type: 360° (read)",
        ("Σ θ ≤ 360°",),
        ("θ",),
        "Every bend counts, offsets and kicks too.",
        section="14",
        also=("degrees", "total bend"),
    ),
    Explanation(
        "length between pull points",
        "Length between pull points",
        "Some rules limit the length of conduit between two pull points, or the sum of factors for "
        "straights and bends.",
        "the rules of the job, named in the finding",
        ('L ≤ L_"max"',),
        ("L",),
        "",
        ("conduit factor",),
    ),
    Explanation(
        "bend geometry",
        "Set-back, arc length and gain of a bend",
        "What the bend takes off the straights on both sides.",
        "plane trigonometry",
        (
            '"set-back" = R tan(frac(θ, 2))',
            '"arc" = R θ',
            '"gain" = 2 R tan(frac(θ, 2)) - R θ',
        ),
        ("R", "θ"),
        "θ in radians.",
        (
            "no path: no radius left in the bend",
            "no path: no straight left at the turn",
            "straight for the bender",
            "straight for the coupling",
            "swivel on ",
        ),
        section="14",
        also=("set-back", "setback", "gain"),
    ),
    Explanation(
        "pull box",
        "Pull box size",
        "Straight pull: 8 times the largest trade size. Angle pull: 6 times it, plus the other "
        "entries of the same wall. Above 1000 V: 48 and 36 times the cable diameter.",
        "NFPA 70 314.28 and 314.71, named in the finding with the edition",
        (),
        (),
        "",
        ("pull box, angle pull", "pull box, straight pull"),
    ),
    Explanation(
        "riser support",
        "Hanging weight and supports of a riser",
        "The cable in a riser hangs from its top until supports carry it, without help from "
        "friction. Rules limit the spacing of supports by metal and size.",
        "statics; NFPA 70 300.19 (table named in the finding)",
        ("F = w h", 'n = frac(h, "spacing") "  rounded up"'),
        ("F", "w", "h", "n"),
        "The height counts the bends at foot and top.",
        ("hanging weight", "cable hangs at a planned stop"),
        section="6",
    ),
    Explanation(
        "duct bank",
        "Duct bank: spacing and cover",
        "Center-to-center spacing of the ducts, concrete cover around them, earth cover over them, "
        "and whether rows lie level.",
        "the rules of the job or practice named in the finding",
        (),
        (),
        "",
        (
            "concrete cover",
            "duct spacing across a row",
            "duct spacing between rows",
            "earth cover",
            "rows not level",
        ),
        section="14",
    ),
    # --- reels, brake, margins ---------------------------------------------------------------
    Explanation(
        "reel drag",
        "Drag of the reels",
        "What the reels take to turn without a brake: a force, or a length of cable. Default 25 ft "
        "of the set, reported as assumed.",
        "25 ft: from memory",
        ("T_0 = w L",),
        ("T_0", "w", "L"),
        "A guide at the feed raises it by its efficiency or by e^(μ turn).",
        ("reel weight",),
        section="8",
        also=("reel tension", "feed guide", "start tension"),
    ),
    Explanation(
        "brake",
        "Reel brake and slack cable",
        "Where the route falls more steeply than the friction angle the cable runs away. The brake "
        "is the smallest reel tension that keeps it taut everywhere.",
        "statics, derived: the pull integrated backward with friction reversed",
        (
            '"the cable runs away where  " tan φ < -K',
            'T_0 ≥ "brake at the lowest friction"',
        ),
        ("T_0", "φ", "K"),
        "The lowest friction is the low end of its range, or half the figure given (practice). "
        "Without friction the brake is weight times height.",
        ("reel brake", "slack cable", "brake rating", "brake at the empty drum"),
        section="6",
        also=("slack",),
    ),
    Explanation(
        "brake window",
        "Brake window",
        "At least: what keeps the cables taut at the lowest friction. At most: what keeps every "
        "limit at the highest friction and at a restart.",
        "own method on common practice; every figure is found by solving the pull again",
        ('"at least" ≤ T_0 ≤ "at most"',),
        ("T_0",),
        "Highest friction: the high end of its range, or 1.2 × the figure given (practice).",
        (
            "brake limited by stop reading",
            "reel tension below the brake window",
            "reel tension above the brake window",
            "narrow brake window",
        ),
        section="12",
    ),
    Explanation(
        "friction margin",
        "Friction margin",
        "The factor on all friction at which the first limit is reached, reel tension as planned.",
        "own method; found by solving the pull again to 1e-8",
        (
            '"first limit reached at friction  " k μ',
            '"at a restart:  " frac(k, k_0)',
        ),
        ("k", "μ", "k_0"),
        "A margin below 1 means that a limit is exceeded as planned.",
        section="12",
        also=("margin",),
    ),
    Explanation(
        "restart",
        "Restart after a stop",
        "After a stop the pull starts again at static friction: every friction times the restart "
        "factor, 1.3 by default.",
        "restart factor from memory; first move over 3 m: common practice",
        ('μ_"static" = k_0 μ',),
        ("k_0", "μ"),
        "The first move is the largest load over the first 3 m from rest.",
        (
            "first move",
            "first move above stop",
            "restart: machine line pull",
            "restart: rope load",
            "restart in the strongest gear",
            "no safe place to stop",
            "number of stops",
        ),
        section="7",
    ),
    # --- rope, machine, tackle ---------------------------------------------------------------
    Explanation(
        "machine line pull",
        "Load at the machine",
        "The tension of the cable head is carried on through the rest of the conduit as rope, with "
        "the rope's own weight and friction, then through the lead-off. The largest value may come "
        "before the head arrives.",
        "derived from the same law; capstan law: Beer & Johnston, Statics, problem 8.104 (read)",
        (
            'T_m = T_r "  × the factors of the lead-off"',
            '"sheave:  " frac(1, η) ";   over the conduit end:  " e^(μ_r θ)',
        ),
        ("T_m", "T_r", "η", "μ_r", "θ"),
        "Without a rope the end tension is only a lower bound.",
        (
            "machine load",
            "machine minimum load",
            "strongest gear",
            "gear margin",
            "machine can overload",
        ),
        section="7",
        also=("rope phase", "lead-off", "machine"),
    ),
    Explanation(
        "rope load",
        "Rope",
        "The largest load at the machine is held against the working load of the rope, and its "
        "breaking strength against the factor of safety asked of pulling ropes.",
        _GIVEN + "; factors of safety: the table named in the finding",
        ('T_m ≤ "working load"', 'frac(B, T_m) ≥ "factor of safety"'),
        ("T_m", "B"),
        "",
        ("rope working load", "rope factor of safety"),
        section="7",
        also=("rope",),
    ),
    Explanation(
        "rope in the bend",
        "Rope in a bend",
        "The rope presses on the inside of each bend it runs through; in plastic conduit it can "
        "cut in.",
        _PRACTICE,
        ("P = frac(T, R)",),
        ("P", "T", "R"),
        "A caution, not a limit; [practice] rope_wear sets it.",
        ("rope wear in a plastic bend",),
        section="7",
    ),
    Explanation(
        "stop reading",
        "Stop: the reading at which a limit is reached",
        "For the head at a place, the smallest reading at the machine at which any limit is "
        "reached anywhere behind it, friction ahead as planned.",
        "own method: limit tensions carried forward to the machine",
        ('"stop" = min( "over all places behind the head" )',),
        (),
        "Holds for every cause behind the head: more friction, drag at the reel, a snag.",
        ("gauge cannot protect", "gauge cannot show", "gauge not accurate"),
        section="12",
        also=("gauge", "stop"),
    ),
    Explanation(
        "load path",
        "Load path from the cable head to the anchorage",
        "Every part that carries the pull is held against its rating: head fittings, rope, "
        "sheaves, boom, machine, anchorage. The weakest link sets what the machine may do.",
        _GIVEN,
        ('F ≤ "rating"',),
        ("F",),
        "Without a rating a part is not checked, and the finding says so.",
        ("load path: ", "rating missing"),
        section="8",
        also=("weakest link",),
    ),
    Explanation(
        "anchor",
        "Anchorage of the machine",
        "Bolts: shear by the load over their number, tension by the overturning moment about the "
        "front edge, less the weight of the machine. Vehicle: friction of its tires and the "
        "drawbar. Brace: the rope tension at the conduit mouth along the conduit.",
        _STATICS,
        (
            '"shear of a bolt:  " frac(F, n)',
            '"vehicle holds:  " μ W',
            '"worst bolt:  " frac("tension", "rating") + frac("shear", "rating") ≤ 1',
        ),
        ("F", "n", "μ", "W"),
        "The rope line is taken as level at the machine.",
        ("load path: worst bolt, combined",),
        section="8",
        also=("anchorage", "bolts"),
    ),
    Explanation(
        "machine location",
        "Machine location, room for the head, access",
        "The machine needs a place with room around it, a lead of the rope within the allowed "
        "angle, and a reel or machine at the ends that have access for them.",
        "given in the model file",
        (),
        (),
        "",
        ("access", "equipment at both ends", "head length", "room to pull out the head"),
    ),
    Explanation(
        "rules assumed",
        "Rules of the job not given",
        "The file does not name the rules it is judged by; those usual for its units are used.",
        "[practice] rules in the model file",
    ),
    Explanation(
        "value from a table",
        "Value from a table",
        "What a stock name filled in: each figure with its table and how well it is known. Give "
        "the maker's figure under its own key to replace it.",
        "the table named in the finding",
        rules=("friction from a table",),
        also=("stock",),
    ),
    Explanation(
        "friction from past pulls",
        "Friction learned from past pulls",
        "Median and 90% interval of the next pull: the past pulls of the library with this jacket, "
        "conduit and lubricant, pooled with the published range, which counts as four pulls. "
        "Pulls through one conduit on one day, or in one bank, count as one. With fewer than five "
        "the published range weighs as much, or more: confirm it with the lubricant maker.",
        "hierarchical normal model of log friction (Gelman et al., Bayesian Data Analysis, 2013, "
        "sections 3.3 and 5.4, from memory)",
        also=("history",),
    ),
    Explanation(
        "example values",
        "Example values",
        "Values marked example = true in the model file have not been confirmed. Confirm them and "
        "delete the mark; until then sheets and reports are drafts.",
        "the model file",
    ),
    Explanation(
        "lubricant",
        "Quantity of lubricant",
        "Gallons from the length of conduit in feet and its inner diameter in inches.",
        "Technical Talk XVII (read)",
        ('"gallons" = 0.0015 L D',),
        ("L", "D"),
        "More for old or dirty conduit, and in the cold.",
        section="8",
    ),
)


def explained() -> dict[str, Explanation]:
    """Every explanation by each of its names and rules."""
    return {name: entry for entry in EXPLANATIONS for name in entry.names}


def found_by(rule: str) -> Explanation | None:
    """The explanation of a rule of a finding, a result or a key, or of that title, in any case.

    None for a miss.
    """
    wanted, known = " ".join(rule.lower().split()), explained()
    starts = [
        (len(start), entry)
        for entry in EXPLANATIONS
        for start in entry.rules
        if start[-1] == " " and f"{wanted} ".startswith(start)
    ]
    titled = next((e for e in EXPLANATIONS if e.title.lower() == wanted), None)
    best = max(starts, key=lambda found: found[0])[1] if starts else titled
    return known.get(wanted, best)


def explanation_of(rule: str) -> Explanation:
    """As `found_by`; InputError with the nearest name where there is none."""
    if (entry := found_by(rule)) is not None:
        return entry
    raise InputError(
        Problem(
            f"no explanation named {rule[:60]!r}",
            where="explain",
            fix=_nearest(
                " ".join(rule.lower().split()),
                [*explained(), *(e.title.lower() for e in EXPLANATIONS)],
            ),
        )
    )


def _nearest(wanted: str, known: list[str]) -> str:
    inside = [name for name in known if wanted and wanted in name]
    close = get_close_matches(wanted, known, n=3, cutoff=0.5) or inside[:3]
    if close:
        return "did you mean " + " or ".join(repr(name) for name in close) + "?"
    return "route3d explain without a name lists all"


def formulas_of(entry: Explanation) -> tuple[Formula, ...]:
    """The formulas of an explanation."""
    return tuple(map(Formula, entry.formulas))
