"""The nine questions of a new job as data: a terminal asks them in turn, a page has a form of them.

``questions(system)`` are the fields: what is asked, the default that stands in the field, the names
to choose from. ``system_of(answers)`` is "US" or "SI" by the first answer. ``understood(key,
answers)`` says what one answer came to, and raises InputError with what to show beside its field:
it is judged by reading the model file it makes, so the messages are those of the file.
``model_text(answers)`` is that file: answers that were typed are given, what was left out is the
default and marked ``example = true``. A page sends all its fields as ``answers`` with each change;
a field that was not touched is left out of them, so that it stays a default.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING

from route3d.errors import InputError, Problem
from route3d.modelfile.toml_edits import toml_value
from route3d.units import show

if TYPE_CHECKING:
    from route3d.model.conduit import Conduit
    from route3d.model.job import Job
    from route3d.standards.stock import Kind

Answers = Mapping[str, str]
"""The texts that were typed, by the key of their question; one that is not there is the default.

``"units"`` may hold "US" or "SI" for the default of the first question."""

KEYS = ("rules", "cable", "count", "conduit", "friction", "route", "reel", "machine", "access")
CONDUITS = ("duct", "riser", "duct3", "duct4")
"""What the conduits of an answer are called in the legs, in their order."""
_RUN = "F1"
_NONE = "none"


@dataclass(frozen=True, slots=True)
class Question:
    """One question.

    ``title`` heads it and ``text`` asks it; ``default`` is taken where nothing is typed. ``help``
    says what may be typed. ``kind`` is that of the stock names to choose from, "" for none;
    ``lines`` is true where the answer has a line for each leg.
    """

    key: str
    title: str
    text: str
    default: str
    help: str
    kind: Kind | None = None
    lines: bool = False

    def matches(self, words: str = "") -> tuple[str, ...]:
        """Stock names that hold all the words, else those nearest to them; without words all."""
        from route3d.standards.stock import find_names, names, nearest_names

        if self.kind is None or not words.strip():
            return names(self.kind) if self.kind else ()
        known, parts = names(self.kind), words.lower().replace(",", "").split()
        holding = (n for n in known if all(p in n.lower().replace(",", "") for p in parts))
        near = (n for n in nearest_names(words) if n in known)
        return find_names(self.kind, words) or tuple(holding) or tuple(near)


def questions(system: str, answers: Answers | None = None) -> tuple[Question, ...]:
    """The nine questions, with the defaults of "US" or "SI" and of the answers so far."""
    us = system == "US"
    cable = "600 V XHHW-2 copper 500 kcmil" if us else "0.6/1 kV NYY-J copper 4x150 mm²"
    conduit = "PVC-40 4" if us else "EN-BURIED 110"

    def either(in_us: str, in_si: str) -> str:
        return in_us if us else in_si

    return (
        Question(
            "rules",
            "Rules and units",
            "Which rules apply, and which units?",
            either("NFPA 70, US", "CENELEC, SI"),
            "NFPA 70 (edition 2023, 2020 or 2017), CENELEC (DIN VDE, BS or CEI) or none, then US "
            "or SI. Examples: NFPA 70 2020, US; CENELEC BS, SI; none, SI.",
        ),
        Question(
            "cable",
            "Cable",
            "Which cable is pulled?",
            cable,
            "A cable of the stock tables by its name, or by enough words of it. "
            "? 500 kcmil lists those with these words. Figures of your data sheet replace those "
            "of the tables: NAME with diameter "
            + either("0.95 in, weight 1.7 lb/ft.", "47 mm, weight 7.2 kg/m."),
            "cable",
        ),
        Question(
            "count",
            "Number of cables",
            "How many of them are pulled together, and with which ground?",
            either("3 and bare ground copper 3/0 AWG 7 strand", "1"),
            "A number; for a ground or another cable that is pulled along, add it by its stock "
            "name. Examples: 3; 4 and bare ground copper 4/0 AWG 19 strand; 3 and 2 of NAME. "
            "? ground 4/0 lists those with these words.",
            "cable",
        ),
        Question(
            "conduit",
            "Conduit",
            "Which conduit, by type and trade size?",
            conduit,
            "A stock conduit. Several along the route, joined by then: PVC-40 4 then RMC 4. They "
            "are called duct, riser, duct3, duct4 in this order; a leg goes on in the next with: "
            "in riser.",
            "conduit",
        ),
        Question(
            "friction",
            "Friction",
            "Lubricated or dry, or which coefficient of friction?",
            _usual_friction({"cable": cable, "conduit": conduit} | dict(answers or {})),
            "lubricated or dry takes published values, with their range, for the jacket of the "
            "cable and the conduit; name the jacket if the cable's is not known: PE jacket, "
            "lubricated. Or a number for each conduit: 0.25 then 0.35.",
        ),
        Question(
            "route",
            "Route",
            "Which way does the conduit go, leg by leg?",
            either(
                "start transformer pad at 0, 0, -3 heading east\n150 ft\nright 90 at 36 in\n"
                "80 ft\nup 90 at 36 in\n8 ft\nend switchboard",
                "start transformer pad at 0, 0, -1 heading east\n45 m\nright 90 at 1 m\n"
                "25 m\nup 90 at 1 m\n2.5 m\nend switchboard",
            ),
            either(
                "One leg a line. start NAME at X, Y, Z heading east; 120 ft; right 90 at 36 in; "
                "offset 3 ft left at 30 degrees; up 90 at 36 in; 60 ft in riser; pull point NAME; "
                "end NAME. Lengths are to the corner. z is up.",
                "One leg a line. start NAME at X, Y, Z heading east; 40 m; right 90 at 1 m; "
                "offset 1 m left at 30 degrees; up 90 at 1 m; 18 m in riser; pull point NAME; "
                "end NAME. Lengths are to the corner. z is up.",
            ),
            lines=True,
        ),
        Question(
            "reel",
            "Reel",
            "What is known of the reel?",
            either("drag 25 ft", "drag 7.5 m"),
            "Any of weight, diameter, width, drum_diameter, drag, each with its unit. drag is a "
            "force, or the length of cable that weighs as much. Example: "
            + either(
                "weight 2800 lb, diameter 72 in, drag 25 ft",
                "weight 1300 kg, diameter 1800 mm, drag 7.5 m",
            )
            + ". none: no reel, its drag assumed.",
        ),
        Question(
            "machine",
            "Machine and rope",
            "Which pulling machine, and which rope?",
            either(
                "capstan 4,000 lbf two-speed with polyester double braid 7/8",
                "capstan 20 kN two-speed with polyester double braid 7/8",
            ),
            "A class of machine by its pull, then with and a rope; without one, a rope that the "
            "machine cannot overload. Classes are invented: enter the nameplate in the file later. "
            "none: not checked, and no pull plan.",
            "machine",
        ),
        Question(
            "access",
            "Access",
            "Where can the reel and the machine be set up?",
            "both ends",
            "both ends; or one end for the reel: reel at NAME. The machine is at the other then. "
            "NAME is that of an end in the route, or start or end.",
        ),
    )


def question(key: str, answers: Answers) -> Question:
    """The question of a key, with the defaults that the answers before it lead to."""
    return next(q for q in questions(system_of(answers), answers) if q.key == key)


def system_of(answers: Answers) -> str:
    """The units of the job, "US" or "SI": by the first answer, else "units", else US."""
    usual = answers.get("units", "US")
    try:
        return _rules(answers.get("rules", ""), usual).system
    except InputError:
        return usual


# --- one answer ----------------------------------------------------------------------------------


def understood(key: str, answers: Answers) -> tuple[str, ...]:
    """What the answer to a question came to, in a line or two.

    Parameters
    ----------
    key : str
        Of the question.
    answers : mapping of str to str
        All answers so far; those to later questions are not looked at.

    Returns
    -------
    tuple of str
        Lines to show.

    Raises
    ------
    InputError
        With what is wrong with the answer; its places are those of the answer, not of a file.
    """
    at = KEYS.index(key)
    known = {k: answers[k] for k in KEYS[: at + 1] if answers.get(k, "").strip()}
    known["units"] = system_of(answers)
    # What is asked later stands at what fits any cable and conduit.
    if at < KEYS.index("friction"):
        known["friction"] = "0.3"
    if at < KEYS.index("route"):
        known["route"] = _straight(known.get("conduit", ""))
    job = _read(_file(known, roomy=at < KEYS.index("conduit")))
    return tuple(_ECHOES[key](job))


def check_leg(leg: str, number: int, answers: Answers) -> None:
    """InputError for a leg that cannot be read by itself, or names no conduit of the answers."""
    from route3d.geometry.leg_grammar import read_leg

    named = read_leg(leg, number, system_of(answers)).conduit
    asked = question("conduit", answers)
    known = [name for name, _ in _named_conduits(answers.get("conduit", "") or asked.default)]
    if named and named not in known:
        raise _wrong(
            f"there is no conduit {named!r}; known: {', '.join(known)}",
            f"leave it out, or go back to the conduits and add it: {asked.default} then RMC 4",
        )


def _read(text: str) -> Job:
    """The job of answers; InputError with problems of the answers, not of a file."""
    from route3d.modelfile.read import loads

    try:
        return loads(text, "")
    except InputError as error:
        raise InputError([_of_answer(p) for p in error.problems]) from None


def _straight(conduits: str) -> str:
    """A route through every conduit of an answer."""
    more = [f"30 m in {name}" for name, _ in _named_conduits(conduits)[1:]]
    return "\n".join(("start A at 0, 0, 0 heading east", "30 m", *more, "end B"))


def _of_answer(problem: Problem) -> Problem:
    """A problem without the keys and lines of a file that nobody has seen, but with its leg."""
    fix = problem.fix.replace('stock = "', '"')
    fix = fix.replace(": add it", ": add it after the name, such as with weight 2 kg/m")
    leg = re.search(r"\bleg \d+$", problem.where)
    head = f"{leg[0]}: " if leg and not problem.message.startswith("leg ") else ""
    return Problem(head + problem.message, fix=fix)


def _echo_rules(job: Job) -> Iterator[str]:
    rules = job.practice.rule_set
    yield f"{rules.title}; {job.units} units"


def _echo_cable(job: Job) -> Iterator[str]:
    cable = job.runs[0].cables.items[0][0]
    size, weight = (
        show(cable.diameter, "diameter", job.units),
        show(cable.weight, "weight", job.units),
    )
    yield f"{cable.about}: diameter {size}, {weight}"
    pressed = show(cable.sidewall_limit, "sidewall", job.units)
    yield f"sidewall limit {pressed}, minimum bend radius {cable.bend_multiple:g} x diameter"
    yield from (f"{key}: {fact.source}" for key, fact in cable.tables if key == "diameter")


def _echo_count(job: Job) -> Iterator[str]:
    run = job.runs[0]
    yield ", ".join(f"{n} x {cable.about or cable.name}" for cable, n in run.cables.items)


def _echo_conduit(job: Job) -> Iterator[str]:
    from route3d.mechanics.pull import run_fits

    run = job.runs[0]
    fits = dict(zip(run.route.conduits, run_fits(run), strict=True))
    for conduit, fit in fits.items():
        inner = show(conduit.inner_diameter, "diameter", job.units)
        yield f"{conduit.name}: {conduit.label}, inside {inner}, fill {100 * fit.fill:.0f}%"


def _echo_friction(job: Job) -> Iterator[str]:
    for conduit in _conduits(job):
        low, high = conduit.friction_low, conduit.friction_high
        span = "" if low is None or high is None else f", {low:g} to {high:g}"
        source = f" ({conduit.friction_source})" if conduit.friction_source else ""
        yield f"{conduit.name}: friction {conduit.friction:g}{span}{source}{_fall(conduit, job)}"


def _fall(conduit: Conduit, job: Job) -> str:
    if conduit.friction_above is None:
        return ""
    above = show(conduit.friction_above, "sidewall", job.units)
    return f", {conduit.friction_then:g} above {above}"


def _echo_route(job: Job) -> Iterator[str]:
    from route3d.geometry.fillet import route_path

    route = job.runs[0].route
    path = route_path(route)
    length, turn = show(path.length, "length", job.units), show(path.turn, "angle", job.units)
    yield f"{route.label(0)} to {route.label(len(route.vertices) - 1)}: {length} of conduit, {turn}"
    end = ", ".join(show(float(x), "length", job.units) for x in route.vertices[-1].point)
    yield f"ends at {end}"


def _echo_reel(job: Job) -> Iterator[str]:
    from route3d.mechanics.feed import drag_assumed, reel_drag

    run = job.runs[0]
    assumed = " (assumed)" if drag_assumed(run) else ""
    yield f"drag of the reels: {show(reel_drag(run), 'force', job.units)} total{assumed}"


def _echo_machine(job: Job) -> Iterator[str]:
    run = job.runs[0]
    if run.machine is None or run.rope is None:
        yield "no machine: a pull plan needs one"
        return
    gears = ", ".join(
        f"{show(g.line_pull, 'force', job.units)} at {show(g.speed, 'speed', job.units)}"
        for g in run.machine.gears
    )
    yield f"machine: {gears}"
    yield f"rope: working load {show(run.rope.rated_load, 'force', job.units)}"
    if run.rope.rated_load < max(g.line_pull for g in run.machine.gears):
        yield "the machine can overload this rope: take a stronger one, or set the limiter to it"


def _echo_access(job: Job) -> Iterator[str]:
    route = job.runs[0].route
    for i in (0, len(route.vertices) - 1):
        yield f"{route.label(i)}: {' and '.join(sorted(route.vertices[i].access, reverse=True))}"


_ECHOES: Mapping[str, Callable[[Job], Iterator[str]]] = {
    "rules": _echo_rules,
    "cable": _echo_cable,
    "count": _echo_count,
    "conduit": _echo_conduit,
    "friction": _echo_friction,
    "route": _echo_route,
    "reel": _echo_reel,
    "machine": _echo_machine,
    "access": _echo_access,
}


def _conduits(job: Job) -> tuple[Conduit, ...]:
    return tuple(dict.fromkeys(job.runs[0].route.conduits))


# --- the model file ------------------------------------------------------------------------------


def model_text(answers: Answers) -> str:
    """The model file of the answers; what is not among them is the default, marked as an example.

    Raises InputError where an answer is wrong.
    """
    text = _file(answers)
    _read(text)
    return _HEAD + text


_HEAD = """\
# A route3d model file. What was not answered is a default, marked example = true: replace the
# values, then delete the mark. Every key: route3d new FILE, or docs/model_file.md.
"""


_ROOMY = {"inner_diameter": "1.9 m", "outer_diameter": "2 m"}


def _file(answers: Answers, *, roomy: bool = False) -> str:
    """The file without its head; in a ``roomy`` conduit where that is not asked for yet."""
    rules = _rules(answers.get("rules", ""), answers.get("units", "US"))
    asked = {q.key: q for q in questions(rules.system, answers)}

    def given(key: str) -> str:
        return answers.get(key, "").strip()

    def of(key: str) -> str:
        return given(key) or asked[key].default

    def table(name: str, values: Mapping[str, object], *keys: str) -> str:
        marks = {} if all(map(given, keys)) else {"example": True}
        return f"{name} = {toml_value({**values, **marks})}"

    sets = _cables(of("count"))
    names, frictions = _named_conduits(of("conduit")), _frictions(of("friction"))
    machine, rope = _machine(of("machine"))
    reel = _reel(of("reel"))
    legs = _in_first_conduit(_with_access(_legs(of("route")), of("access")))
    ends = [_name_of(legs[0]), _name_of(legs[-1])]
    title = " to ".join(end for end in ends if end) or "Feeder"
    lines = [
        f"title = {toml_value(title[:1].upper() + title[1:])}",
        f"units = {toml_value(rules.system)}",
        table("practice", rules.keys, "rules"),
        table("cable.phase", _cable(of("cable")), "cable"),
    ]
    lines += [table(f"cable.{n}", {"stock": stock}, "count") for n, (_, stock) in sets.others]
    for i, (name, stock) in enumerate(names):
        friction = _friction_of(frictions[min(i, len(frictions) - 1)])
        sizes = _ROOMY if roomy else {"stock": stock}
        values = {**sizes, "friction": friction}
        lines.append(table(f"conduit.{name}", values, "conduit", "friction"))
    run: dict[str, object] = {"name": _RUN, "cables": sets.counts}
    if machine:
        rope_text = rope or _rope_for(machine) or _machine(asked["machine"].default)[1]
        named_rope = "machine" if rope else "no rope"
        lines.append(table("rope.line", {"stock": rope_text}, named_rope))
        lines.append(table("machine.puller", {"stock": machine}, "machine"))
        run |= {"rope": "line", "machine": "puller"}
    if reel:
        lines.append(table("reel.berth", reel, "reel"))
        run["reel"] = "berth"
    marked = not all(map(given, ("count", "route", "access")))
    lines += ["", "[[run]]", *(["example = true"] if marked else [])]
    lines += [f"{key} = {toml_value(value)}" for key, value in run.items()]
    lines += ["legs = [", *(f"  {toml_value(leg)}," for leg in legs), "]", ""]
    return "\n".join(lines)


# --- what each answer holds ----------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class _Rules:
    """The rules of a job and its units."""

    system: str
    name: str
    edition: str

    @property
    def keys(self) -> dict[str, object]:
        edition = {"edition": self.edition} if self.edition else {}
        return {"rules": self.name, **edition}


def _rules(text: str, units: str) -> _Rules:
    """``NFPA 70 2020, US``: rules, edition and units; the default of the units for no text."""
    words = (text.strip() or questions(units)[0].default).replace(",", " ").split()
    systems = [word.upper() for word in words if word.upper() in ("US", "SI")]
    rest = " ".join(word for word in words if word.upper() not in ("US", "SI"))
    match = re.fullmatch(r"(?i)(NFPA\s*70|NEC|CENELEC|none)?\s*(.*)", rest)
    assert match is not None  # both parts may be empty
    name = re.sub(r"(?i)nfpa\s*70|nec\b", "NFPA 70", match[1] or "")
    name = {"CENELEC": "CENELEC", "NONE": _NONE}.get(name.upper(), name)
    if not name and match[2]:
        raise _wrong(f"{match[2]!r} are no rules", "NFPA 70, CENELEC or none, then US or SI")
    if len(set(systems)) > 1:
        raise _wrong("both US and SI are given", "choose one")
    usual = {"CENELEC": "SI", "NFPA 70": "US"}.get(name)
    system = systems[0] if systems else usual
    if system is None:
        raise _wrong("no units are given", f"add US or SI: {text.strip() or 'none'}, SI")
    name = name or {"US": "NFPA 70", "SI": "CENELEC"}[system]
    return _Rules(system, name, match[2])


@dataclass(frozen=True, slots=True)
class _CableCounts:
    """How many cables of which table: ``others`` are (name, (number, stock))."""

    phases: int
    others: tuple[tuple[str, tuple[int, str]], ...] = ()

    @property
    def counts(self) -> dict[str, int]:
        return {"phase": self.phases} | {name: n for name, (n, _) in self.others}


_COUNT = re.compile(r"(?i)\s*(\d{1,3})\s*(?:x\b)?\s*(?:(?:,|\+|and|with)\s*(.+))?")
_MORE = re.compile(r"(?i)(?:an?\s+|(\d{1,2})\s*(?:of|x)\s+)?(.+)")


def _cables(text: str) -> _CableCounts:
    """``4 and bare ground copper 4/0 AWG``: a number, and what rides along by its stock name."""
    match = _COUNT.fullmatch(text)
    if match is None:
        fix = (
            "a number, and after it what is pulled along: 4 and bare ground copper 4/0 AWG 7 strand"
        )
        raise _wrong(f"{text.strip()!r} is not a number of cables", fix)
    if match[2] is None:
        return _CableCounts(int(match[1]))
    more = _MORE.fullmatch(match[2].strip())
    assert more is not None  # any text is
    if more[2].strip().lower() == "ground":
        raise _wrong("the ground has no size", "such as 4 and bare ground copper 4/0 AWG 19 strand")
    called = "ground" if "ground" in more[2].lower() else "other"
    return _CableCounts(int(match[1]), ((called, (int(more[1] or 1), more[2].strip())),))


def _named_conduits(text: str) -> tuple[tuple[str, str], ...]:
    parts = _then(re.sub(r"(?i)\s+and\s+", " then ", text))
    if len(parts) > len(CONDUITS):
        raise _wrong(f"{len(parts)} conduits; maximum {len(CONDUITS)}", "add more in the file")
    return tuple(zip(CONDUITS, parts, strict=False))


def _frictions(text: str) -> tuple[str, ...]:
    return _then(text)


def _then(text: str) -> tuple[str, ...]:
    """The parts of ``PVC-40 5 then RMC 5``."""
    return tuple(p for p in re.split(r"(?i)[,;]?\s+then\s+|\s*;\s*", text.strip()) if p)


def _usual_friction(answers: Answers) -> str:
    """Lubricated, for the jacket of the cable where the tables have it for the conduits."""
    from route3d.standards.stock import cable_named, conduit_named, friction_named
    from route3d.standards.tables import NotInTable

    try:
        jacket = cable_named(answers["cable"]).jacket
        for _, conduit in _named_conduits(answers["conduit"]):
            friction_named(
                "lubricated", jackets=(jacket,), conduit=conduit_named(conduit).stock_type
            )
    except (NotInTable, InputError):
        jacket = ""
    return "lubricated" if jacket else "PVC jacket, lubricated"


def _friction_of(text: str) -> object:
    """What stands in the file: a number, or published friction by its full name."""
    try:
        return float(text)
    except ValueError:
        return {"stock": text}


def _cable(text: str) -> dict[str, object]:
    """The keys of ``NAME with diameter 0.95 in, weight 1.7 lb/ft``."""
    name, figures = _with(text)
    return {"stock": name} | (_keyed(figures, _CABLE_KEYS) if figures else {})


def _with(text: str) -> tuple[str, str]:
    """What stands before and after the word with, "" where nothing does."""
    before, *after = re.split(r"(?i)\s+with\s+", text.strip(), maxsplit=1)
    return before, (after[0] if after else "")


def _machine(text: str) -> tuple[str, str]:
    """Machine and rope of ``capstan 4,000 lbf with polyester double braid 7/8``, "" for none."""
    return ("", "") if text.lower() == _NONE else _with(text)


def _rope_for(machine: str) -> str:
    """The lightest rope of the default kind that the machine cannot overload; "" where none."""
    from route3d.standards.stock import StockMiss, machine_named, names, rope_named

    try:
        strongest = machine_named(machine).line_pull.value
    except StockMiss:  # said where the machine is read
        return ""
    ropes = [rope_named(name) for name in names("rope") if name.startswith(_ROPE_KIND)]
    strong = [r for r in ropes if r.facts["rated_load"].value >= strongest]
    return min(strong, key=lambda r: r.facts["weight"].value).name if strong else ""


_ROPE_KIND = "polyester double braid"
_CABLE_KEYS = ("diameter", "weight", "sidewall_limit", "bend_multiple", "jacket")
_REEL_KEYS = ("weight", "diameter", "width", "drum_diameter", "drag")


def _reel(text: str) -> dict[str, object]:
    """The keys of ``weight 2800 lb, drag 25 ft``; empty for none."""
    return {} if text.lower() == _NONE else _keyed(text, _REEL_KEYS)


def _keyed(text: str, keys: tuple[str, ...]) -> dict[str, object]:
    """Keys of a table with their values as text: ``weight 2800 lb, drag 25 ft``."""
    found: dict[str, object] = {}
    for part in re.split(r"\s*[;,]\s+(?=[A-Za-z])", text.strip()):
        words = re.sub(r"(?i)\b(drum|sidewall|bend)[ _](diameter|limit|multiple)\b", r"\1_\2", part)
        key, _, value = words.partition(" ")
        if key.lower() not in keys or not value.strip():
            raise _wrong(f"{part!r} is not understood", f"one of {', '.join(keys)}, and its value")
        found[key.lower()] = value.strip()
    return found


def _legs(text: str) -> list[str]:
    legs = [leg.strip() for leg in re.split(r"[\n;]", text) if leg.strip()]
    if len(legs) < 2:
        fix = "begin with start NAME at X, Y, Z heading east, and end with end NAME"
        raise _wrong("a route has two legs or more", fix)
    return legs


def _name_of(leg: str) -> str:
    """The name of an end, as it stands in its leg."""
    from route3d.geometry.leg_grammar import LegsError, read_leg

    try:
        return read_leg(leg, 0, "SI").name
    except LegsError:
        return ""


def _with_access(legs: list[str], text: str) -> list[str]:
    """The legs with what can be set up at each end, where that is not both."""
    if text.lower() in ("both ends", "both"):
        return legs
    match = re.fullmatch(r"(?i)(reel|machine)\s+(?:at|on)\s+(?:the\s+)?(.+)", text)
    ends = [_name_of(legs[0]), _name_of(legs[-1])]
    known = [{"start", ends[0].lower()}, {"end", ends[1].lower()}]
    where = [i for i, names in enumerate(known) if match and match[2].strip().lower() in names]
    if match is None or len(where) != 1:
        named = " or ".join(repr(end) for end in ends if end) or "start or end"
        raise _wrong(f"{text!r} is not understood", f"both ends, or reel at {named}")
    others = {"reel": "machine", "machine": "reel"}
    here = match[1].lower()
    access = [others[here], others[here]]
    access[where[0]] = here
    last = legs[-1] if legs[-1].lower().startswith("end") else ""
    middle = legs[1:-1] if last else legs[1:]
    return [f"{legs[0]} for {access[0]}", *middle, f"{last or 'end'} for {access[1]}"]


def _in_first_conduit(legs: list[str]) -> list[str]:
    """The legs with the conduit at their start, where they do not say another."""
    from route3d.geometry.leg_grammar import LegsError, read_leg

    try:
        start = read_leg(legs[0], 0, "SI")
    except LegsError:
        return legs
    return (
        legs
        if start.conduit or start.kind != "start"
        else [f"{legs[0]} in {CONDUITS[0]}", *legs[1:]]
    )


def _wrong(said: str, fix: str) -> InputError:
    return InputError(Problem(said, fix=fix))
