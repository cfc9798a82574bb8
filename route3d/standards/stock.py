"""Stock by name: cables, conduits, ropes and classes of machine, from the tables.

``cable_named("15 kV EPR 133% copper 350 kcmil tape shield")`` is one row of one table with its
figures as facts. A name is a set of words: their order, the case and the spelling of units and
metals do not matter, and a name that fits one entry alone is enough. ``find_cables`` puts what a
table was read for first, estimates and remembered rows last.
"""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field, replace
from functools import cache
from itertools import pairwise
from typing import Literal, TypeAlias

from route3d.standards.classes import Armor, CableClass, National, eu_bend, us_bend, us_sidewall
from route3d.standards.conductors import conductor_area
from route3d.standards.conduits import TYPES, ConduitSize, conduit_size, trade_sizes
from route3d.standards.friction import friction_for
from route3d.standards.friction import jackets as friction_jackets
from route3d.standards.source import Confidence, Fact, Source, Status
from route3d.standards.tables import (
    FOOT,
    INCH,
    POUND_FORCE,
    NotInTable,
    Row,
    load,
    publication,
    read_status,
    si,
    source_of,
)
from route3d.units import GRAVITY

Kind: TypeAlias = Literal["cable", "conduit", "rope", "machine"]
KINDS: tuple[Kind, ...] = ("cable", "conduit", "rope", "machine")


class StockMiss(NotInTable):
    """No stock entry, or several, go by this name; ``nearest`` are the names to choose from."""

    def __init__(self, message: str, nearest: Iterable[str]) -> None:
        self.nearest = tuple(nearest)
        super().__init__(message, self.nearest[0] if self.nearest else "")

    @property
    def fix(self) -> str:
        """The lines to paste, one after another."""
        lines = ", or ".join(f'stock = "{name}"' for name in self.nearest)
        return f"enter {lines}" if lines else "`route3d stock` lists the tables"


# --- words of a name ------------------------------------------------------------------------------

# Spellings, in the order they are replaced: units to one word with their number, metals in full.
_SPELLINGS: tuple[tuple[str, str], ...] = (
    (r"[()\"″,;]", " "),
    (r"(\d)\s*%", r"\1% "),
    (r"aluminium\b|\balu\b|\bal\b", "aluminum"),
    (r"\bcu\b", "copper"),
    (r"armour", "armor"),
    (r"\bunarmored\b", "unarmored"),
    (r"fibre", "fiber"),
    (r"screen(ed)?\b|\bshielded\b", "shield"),
    (r"\bconcentric[- ]neutral\b", "concentric neutral"),
    (r"\bstrands?\b|-strand\b", "strand"),
    (r"(\d)[- ]?(wires?|strand)\b", r"\1strand"),
    (r"\bsingle[- ](core|conductor)s?\b|\bsingles?\b", "1core"),
    (r"(\d+)\s*[-/]?\s*(?:conductors?|cores?|c)\b", r"\1core"),
    (r"(\d)\s*(?:sq\.?\s*mm|mm\s*(?:\^?2|²))(?!\w)", r"\1mm2"),
    (r"(\d+)\s*[x×]\s*(\d+(?:\.\d+)?)(?:mm2)?(?![\w.])", r"\1core \2mm2"),
    (r"\b(bs|iec)-?(?=\d)", r"\1 "),
    (r"(\d)\s*(?:kcm?i?l+s?|kcmi|mcm)\b", r"\1kcmil"),
    (r"#\s*(\d+(?:/0)?)(?:\s*awg\b)?", r"\1awg"),
    (r"(\d+/0|\b\d+)\s*awg\b", r"\1awg"),
    (r"(?<![\d./])([1-4]/0)(?![\w/])", r"\1awg"),
    (r"(\d)\s*kv\b", r"\1kv"),
    (r"\b600\s*v\b|(?<![\d./])0\.6\s*kv\b", "600v"),
    (r"(\d)\s*(?:lbf|lbs?)\b", r"\1lbf"),
    (r"(?<=\d),(?=\d{3})", ""),
    (r"(\d)\s*kn\b", r"\1kn"),
    (r"\bschedule\s*(\d)|\bsch\.?\s*(\d)", r"\1\2"),
    (r"\bsdr[- ]?(\d)", r"sdr\1"),
    (r"(\d+)[ -](\d+/\d+)\b", r"\1-\2"),
    (r"(?<=[a-z])/(?=[a-z])", " "),
    (r"\bxhhw\b(?!-)", "xhhw-2"),
    (r"\buse\b(?!-)", "use-2"),
)
_SPELLING = tuple((re.compile(old), new) for old, new in _SPELLINGS)
_IDLE = "cable cables wire wires conductor conductors core with and of in a the type inch inches mm"
_IDLE += " rope pulling machine conduit duct -"
_NOISE = frozenset(_IDLE.split())


@cache
def words_of(text: str) -> frozenset[str]:
    """The words of a name, in one spelling: ``"350 MCM, Cu"`` is ``{"350kcmil", "copper"}``."""
    text = re.sub(r"(?<=\d),(?=\d{3}\b)", "", text.lower())
    for old, new in _SPELLING:
        text = old.sub(new, text)
    return frozenset(word for word in text.split() if word not in _NOISE)


@dataclass(frozen=True, slots=True)
class _Named:
    """One entry by its name; ``also`` are further words it is known by, ``doubt`` its rank."""

    name: str
    also: str = ""
    doubt: int = 0

    @property
    def own(self) -> frozenset[str]:
        """The words of the name itself."""
        return words_of(self.name)

    @property
    def words(self) -> frozenset[str]:
        """All words that find it."""
        return self.own | words_of(self.also)


def _pick(what: str, text: str, entries: Mapping[str, _Named]) -> str:
    """The name of the one entry meant; StockMiss with the nearest where there is no such one."""
    if text in entries:  # as most files have it: no name need be taken apart
        return text
    asked = words_of(text)
    matching = [e for e in entries.values() if asked and asked <= e.words]
    exact = [e for e in matching if e.own <= asked]
    if len(exact) == 1 or len(matching) == 1:
        return (exact or matching)[0].name
    if matching:
        named = [e.name for e in sorted(matching, key=lambda e: e.doubt)]
        said = f'"{text}" fits {len(named)} {what}s of the stock tables'
        raise StockMiss(said, named[:_SHOWN])
    near = [e.name for e in _nearest(asked, entries.values())]
    raise StockMiss(f'no {what} "{text}" in the stock tables', near)


_SHOWN = 5  # names in an error: enough to choose from, few enough to read


def _nearest(asked: frozenset[str], entries: Iterable[_Named], least: float = 0.35) -> list[_Named]:
    """The entries most like what was asked for, best first."""
    entries = list(entries)
    vocabulary = frozenset().union(*(e.words for e in entries))
    likeness = {(word, known): _alike(word, known) for word in asked for known in vocabulary}

    def score(entry: _Named) -> float:
        return sum(max(likeness[word, known] for known in entry.words) for word in asked)

    scored = [(score(entry), entry) for entry in entries]
    found = [pair for pair in scored if pair[0] > least * max(len(asked), 1)]
    best = sorted(found, key=lambda pair: (-round(pair[0], 6), pair[1].doubt))
    return [entry for _, entry in best[:_SHOWN]]


# Share of the words asked for, above which somebody who searches all tables means a stock entry.
_LIKELY = 0.6
_MEASURE = re.compile(r"(\d+(?:\.\d+)?|\d+/\d+)(?:/\d+(?:\.\d+)?)?([a-z%]\w*)?")


def _alike(asked: str, known: str) -> float:
    """How much two words are alike, 0 to 1; sizes by their ratio, words by their letters."""
    if asked == known:
        return 1.0
    sizes = _MEASURE.fullmatch(asked), _MEASURE.fullmatch(known)
    if sizes[0] and sizes[1]:
        units = {sizes[0][2] or "", sizes[1][2] or ""}
        if len(units) > 1 and "" not in units:
            return 0.0
        ratio = _number(sizes[0][1]) / max(_number(sizes[1][1]), 1e-9)
        # a number alone: its unit is missing, or misspelled beside it
        return (0.4 if len(units) > 1 else 0.8) * math.exp(-abs(math.log(max(ratio, 1e-9))))
    if sizes[0] or sizes[1]:
        return 0.0
    if len(asked) > 2 and known.startswith(asked):
        return 0.9
    from difflib import SequenceMatcher  # only ever needed on the way to an error or a search

    ratio = SequenceMatcher(None, asked, known).ratio()
    return 0.8 * ratio if ratio > 0.6 else 0.0


def _number(text: str) -> float:
    over, _, under = text.partition("/")
    if under == "0":  # 4/0 AWG is above 1 AWG: a gauge counts down
        return 1.0 / (1.0 + float(over))
    return float(over) / float(under) if under else float(over)


# --- cables ---------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class CableStock:
    """One cable of the tables; None stands for what no table has.

    ``diameter`` m, ``weight`` N/m, ``area`` m2 of one of its ``count`` conductors, which is called
    ``size``; ``sidewall`` N/m and ``bend`` (multiple of the diameter, while pulled) are those of
    its class. ``voltage`` V.
    """

    name: str
    table: str
    metal: str
    size: str
    count: int
    area: Fact
    diameter: Fact
    weight: Fact | None
    sidewall: Fact | None
    bend: Fact | None
    voltage: float | None
    shielded: bool
    jacket: str
    armor: Armor
    row: Source

    @property
    def facts(self) -> dict[str, Fact]:
        """Its figures by the keys of the model file."""
        named = {
            "diameter": self.diameter,
            "weight": self.weight,
            "conductor.area": self.area,
            "sidewall_limit": self.sidewall,
            "bend_multiple": self.bend,
        }
        return {key: fact for key, fact in named.items() if fact is not None}

    @property
    def missing(self) -> tuple[str, ...]:
        """Keys of the model file that the tables cannot fill for it."""
        every = ("diameter", "weight", "sidewall_limit", "bend_multiple")
        return tuple(key for key in every if key not in self.facts)

    @property
    def doubt(self) -> int:
        """Rank of its own row: 0 read, 1 incomplete or derived, 2 remembered, 3 an estimate."""
        return _DOUBT[self.row.status] if not self.row.doubtful else 3


# XCHECK agrees with a stored copy: as good as read.
_DOUBT: Mapping[Status, int] = {
    Status.READ: 0,
    Status.XCHECK: 0,
    Status.DERIVED: 1,
    Status.MEMORY: 2,
    Status.ESTIMATE: 3,
}


@dataclass(frozen=True, slots=True)
class _Family:
    """Rows of one table that are named alike.

    ``name`` is a template over ``metal``, ``size`` and the columns of the row. ``national`` says
    by whose practice the cable is bent and pressed, None for the United States.
    """

    table: str
    name: str
    also: str = ""
    metal: str = ""
    voltage: float | None = None
    shielded: bool = False
    jacket: str = ""
    armor: Armor = ""
    national: National | None = None
    where: Mapping[str, object] = field(default_factory=dict)
    leave_out: tuple[str, ...] = ()  # sizes that a better table has


def _eu(table: str, type_: str, name: str, **more: object) -> _Family:
    return _Family(table, name, where={"type": type_}, **more)  # type: ignore[arg-type]


_LV, _MV, _VDE = "eu_cable_lv_iec60502", "eu_cable_mv_read", "eu_cable_mv_vde_derived"
_SINGLE = "Cu or Al/XLPE/PVC unarmored, single core"
_BIG_THHN = ("300", "350", "400", "500", "600", "750", "1000")
_FAMILIES: tuple[_Family, ...] = (
    _Family("cable_600v_thhn_cu", "600 V THHN {metal} {size}", "THWN-2 THWN single PVC nylon 1/c",
            metal="copper", voltage=600, jacket="nylon", leave_out=_BIG_THHN),
    _Family("cable_600v_thhn_cu_300_1000", "600 V THHN {metal} {size}",
            "THWN-2 THWN single PVC nylon 1/c", metal="copper", voltage=600, jacket="nylon"),
    _Family("cable_600v_xhhw2_cu", "600 V XHHW-2 {metal} {size}", "single XLPE 1/c",
            metal="copper", voltage=600, jacket="XLPE"),
    _Family("cable_600v_xhhw2_al", "600 V XHHW-2 {metal} {size}", "single XLPE compact 1/c",
            metal="aluminum", voltage=600, jacket="XLPE"),
    _Family("cable_600v_xhhw2_pvc_cu_1c", "600 V XHHW-2 PVC jacket {metal} {size}",
            "single XLPE 1/c", metal="copper", voltage=600, jacket="PVC"),
    _Family("cable_600v_al_use2", "600 V USE-2 {metal} {size}", "RHH RHW-2 RHW XLPE single 1/c",
            metal="aluminum", voltage=600, jacket="XLPE"),
    _Family("cable_600v_cu_use2_rhw2", "600 V USE-2 {metal} {size}",
            "RHH RHW-2 RHW XLPE single 1/c", metal="copper", voltage=600, jacket="XLPE"),
    _Family("cable_600v_tc_multiconductor", "600 V tray cable {cores}/C {metal} {size} ground",
            "TC TC-ER XHHW-2 XLPE PVC jacket multiconductor", metal="copper", voltage=600,
            jacket="PVC"),
    _Family("cable_ground_copper", "bare ground {metal} {size} {wires} strand", "EGC uninsulated",
            metal="copper", where={"kind": "bare"}),
    _Family("cable_ground_copper", "600 V insulated ground {metal} {size}",
            "EGC green THWN-2 THHN nylon", metal="copper", voltage=600, jacket="nylon",
            where={"kind": "insulated (THWN-2 green)"}),
    _Family("cable_15kv_133_cu_tape", "15 kV EPR 133% {metal} {size} tape shield",
            "MV single 1/c 220mil", metal="copper", voltage=15_000, shielded=True),
    _Family("cable_mv_tape_shield", "{kv} kV EPR {level}% {metal} {size} tape shield",
            "MV single 1/c", shielded=True),
    _Family("cable_urd_concentric_neutral",
            "{kv} kV TRXLPE {level}% {metal} {size} {neutral} concentric neutral",
            "URD UD MV single 1/c LLDPE XLPE shield", shielded=True, jacket="LLDPE"),
    _eu(_LV, "Cu/XLPE/PVC unarmored (N2XY, U-1000 R2V class)",
        "0.6/1 kV XLPE/PVC unarmored {metal} {cores}x{area_mm2:g} mm²",
        also="N2XY U-1000 R2V IEC 60502-1", metal="copper", voltage=1000, jacket="PVC",
        national="DIN VDE"),
    _eu(_LV, "Cu/XLPE/PVC/SWA/PVC", "0.6/1 kV XLPE/SWA/PVC {metal} {cores}x{area_mm2:g} mm²",
        also="IEC 60502-1 armored steel", metal="copper", voltage=1000, jacket="PVC",
        armor="wire", national="DIN VDE"),
    _eu(_LV, _SINGLE, "0.6/1 kV XLPE/PVC unarmored {metal} {cores}x{area_mm2:g} mm²",
        also="N2XY IEC 60502-1 single", metal="copper", voltage=1000, jacket="PVC",
        national="DIN VDE"),
    _eu(_LV, _SINGLE, "0.6/1 kV XLPE/PVC unarmored {metal} {cores}x{area_mm2:g} mm²",
        also="NA2XY IEC 60502-1 single", metal="aluminum", voltage=1000, jacket="PVC",
        national="DIN VDE"),
    _eu(_LV, "NYM-J", "300/500 V NYM-J {metal} {cores}x{area_mm2:g} mm²", also="0.5 kV",
        metal="copper", voltage=500, jacket="PVC", national="DIN VDE"),
    _eu(_LV, "H07V-R", "450/750 V H07V-R {metal} {cores}x{area_mm2:g} mm²", also="single",
        metal="copper", voltage=750, jacket="PVC", national="DIN VDE"),
    _eu(_LV, "NYY-J", "0.6/1 kV NYY-J {metal} {cores}x{area_mm2:g} mm²", also="NYY PVC",
        metal="copper", voltage=1000, jacket="PVC", national="DIN VDE"),
    _eu(_LV, "NAYY-J", "0.6/1 kV NAYY-J {metal} {cores}x{area_mm2:g} mm²", also="NAYY PVC",
        metal="aluminum", voltage=1000, jacket="PVC", national="DIN VDE"),
    _Family("eu_cable_lv_bs5467_swa", "0.6/1 kV BS 5467 SWA {metal} {cores}x{area_mm2:g} mm²",
            "XLPE PVC armored steel", voltage=1000, jacket="PVC", armor="wire", national="BS"),
    _eu(_MV, "BS 6622 AWA", "{volt_kv} kV BS 6622 AWA {metal} {cores}x{area_mm2:g} mm²",
        also="XLPE MV armored single", shielded=True, armor="wire", national="BS"),
    _eu(_MV, "BS 6622 unarmored, copper wire screen",
        "{volt_kv} kV BS 6622 unarmored {metal} {cores}x{area_mm2:g} mm²",
        also="XLPE MV single shield", shielded=True, national="BS"),
    _eu(_MV, "BS 6622 SWA", "{volt_kv} kV BS 6622 SWA {metal} {cores}x{area_mm2:g} mm²",
        also="XLPE MV armored", shielded=True, armor="wire", national="BS"),
    _eu(_MV, "IEC 60502-2 unarmored, PVC, Cu tape + wires",
        "{volt_kv} kV IEC 60502-2 unarmored {metal} {cores}x{area_mm2:g} mm²",
        also="XLPE PVC MV single shield", shielded=True, jacket="PVC", national="DIN VDE"),
    _eu(_MV, "IEC 60502-2 AWA, PVC",
        "{volt_kv} kV IEC 60502-2 AWA {metal} {cores}x{area_mm2:g} mm²",
        also="XLPE PVC MV armored single", shielded=True, jacket="PVC", armor="wire",
        national="DIN VDE"),
    _eu(_MV, "AXALJ-TT triplex in one PE sheath (HD 620-10-M)",
        "{volt_kv} kV AXALJ-TT {metal} {cores}x{area_mm2:g} mm²", also="XLPE PE MV triplex shield",
        shielded=True, jacket="PE", national="DIN VDE"),
    *(
        _eu(_VDE, kind, f"{{volt_kv}} kV {kind.split(' / ')[0]} {{metal}} "
            "{cores}x{area_mm2:g} mm²", also=f"{kind.replace('/', ' ')} XLPE MV single shield",
            shielded=True, jacket=jacket, national="DIN VDE")
        for kind, jacket in (
            ("N2XS2Y / N2XS(F)2Y", "PE"), ("N2XSY", "PVC"),
            ("NA2XS2Y / NA2XS(F)2Y", "PE"), ("NA2XSY", "PVC"),
        )
    ),
)  # fmt: skip
_METALS = {"Cu": "copper", "Al": "aluminum"}


@dataclass(frozen=True, slots=True, kw_only=True)
class _CableEntry(_Named):
    """A row of a table under its name."""

    family: _Family
    row: Row


@cache
def _cables() -> dict[str, _CableEntry]:
    """Every cable by its name, in the order of the families; the first of a name stands."""
    found: dict[str, _CableEntry] = {}
    for family in _FAMILIES:
        for row in load(family.table).where(**family.where):
            if row.get("size") in family.leave_out or not _diameter_columns(row):
                continue
            columns = dict(row) | {"metal": _metal(family, row), "size": _size(row)}
            name = family.name.format(**columns)
            entry = _CableEntry(name, _more_words(family, row), _doubt(row), family=family, row=row)
            found.setdefault(name, entry)
    return found


def _diameter_columns(row: Row) -> bool:
    return "od_in" in row or "od_mm" in row


def _metal(family: _Family, row: Row) -> str:
    return family.metal or _METALS[row["metal"]]


def _size(row: Row) -> str:
    """The conductor as a model file has it: ``350 kcmil``, ``4/0 AWG``, ``95 mm2``."""
    if "area_mm2" in row:
        return f"{row['area_mm2']:g} mm2"
    size = str(row["size"])
    return f"{size} AWG" if size.endswith("/0") or int(size) < 100 else f"{size} kcmil"


def _more_words(family: _Family, row: Row) -> str:
    """Each of two voltages and of two insulation levels by itself, and the number of cores."""
    more = [family.also]
    for volts in str(row.get("kv") or row.get("volt_kv") or "").split("/"):
        more += [f"{volts} kV"] if volts else []
    more += [f"{level}%" for level in str(row.get("level", "")).split("/") if level]
    more.append(f"{row.get('cores', 1)}/C")
    if family.voltage is not None and family.voltage >= 1000:
        more.append(f"{family.voltage / 1000:g} kV")
    return " ".join(more)


def _doubt(row: Row) -> int:
    """Rank of a cable by the weakest of its figures; without a weight it is not complete."""
    return max(_known(row), 0 if {"lb_per_kft", "kg_per_km"} & row.keys() else 1)


def _known(row: Row) -> int:
    status, confidence = read_status(str(row["status"]))
    low = confidence == "l" or "low confidence" in str(row["status"])
    return 3 if low else _DOUBT[status]


def cable_named(text: str) -> CableStock:
    """The cable of the tables that goes by this name; StockMiss with the nearest names."""
    return _cable(_cables()[_pick("cable", text, _cables())])


def find_cables(words: str) -> tuple[CableStock, ...]:
    """The cables that hold every word, best known first; empty where none does."""
    return tuple(_cable(_cables()[name]) for name in find_names("cable", words))


_KIND = re.compile(r"(cable|conduit|rope|machine)s?(?: class(?:es)?)?", re.I)


def find_names(kind: Kind, words: str) -> tuple[str, ...]:
    """The names of a kind that hold every word, best known first; empty where none does.

    All of them where the words are only what the kind is called: "cables", "machine classes".
    """
    if called := _KIND.fullmatch(" ".join(words.split())):
        return names(kind) if called[1].lower() == kind else ()
    asked = words_of(words)
    entries = _entries(kind).values()
    found = [e for e in entries if asked and all(_held(word, e.words) for word in asked)]
    return tuple(e.name for e in sorted(found, key=lambda e: (e.doubt, len(asked ^ e.own))))


def _held(word: str, words: frozenset[str]) -> bool:
    """Whether a word is one of them, or the beginning of one: a search, not a name."""
    return word in words or (word.isalpha() and any(known.startswith(word) for known in words))


def nearest_names(text: str) -> tuple[str, ...]:
    """The names of any kind most like a text, best first; empty where it is hardly like one."""
    every = [entry for kind in KINDS for entry in _entries(kind).values()]
    return tuple(e.name for e in _nearest(words_of(text), every, _LIKELY))


def names(kind: Kind) -> tuple[str, ...]:
    """Every name of a kind, best known first: for drop-downs and completion."""
    return tuple(e.name for e in sorted(_entries(kind).values(), key=lambda e: e.doubt))


def _entries(kind: Kind) -> Mapping[str, _Named]:
    tables: Mapping[Kind, Callable[[], Mapping[str, _Named]]] = {
        "cable": _cables,
        "conduit": _conduits,
        "rope": _ropes,
        "machine": _machines,
    }
    return tables[kind]()


def _cable(entry: _CableEntry) -> CableStock:
    family, row = entry.family, entry.row
    table = load(family.table)
    diameter = _length(table.name, row)
    weight = _weight(table.name, row)
    size, metal, count = _size(row), _metal(family, row), int(row.get("cores", 1))
    area = conductor_area(size)
    voltage = _voltage(family, row)
    sorted_as = CableClass(
        voltage, family.shielded, count, area.value, diameter.value, family.armor
    )
    facts = [f for f in (diameter, weight) if f is not None]
    return CableStock(
        name=entry.name,
        table=table.name,
        metal=metal,
        size=size,
        count=count,
        area=area,
        diameter=diameter,
        weight=weight,
        sidewall=_sidewall(family, sorted_as),
        bend=_bend(family, sorted_as),
        voltage=voltage,
        shielded=family.shielded,
        jacket=family.jacket,
        armor=family.armor,
        row=max((f.source for f in facts), key=_rank),
    )


def _rank(source: Source) -> tuple[int, int]:
    return _DOUBT[source.status], "hml".find(source.confidence or "h")


def _length(table: str, row: Row) -> Fact:
    source = source_of(load(table), row, column="OD", cite=_cited_row(row))
    value = si(row["od_in"], "in") if "od_in" in row else si(row["od_mm"], "mm")
    return Fact(value, "diameter", source, "outer diameter")


def _cited_row(row: Row) -> str:
    cores = f"{row['cores']} x " if "cores" in row else ""
    return f"{cores}{_size(row)}"


def _weight(table: str, row: Row) -> Fact | None:
    source = source_of(load(table), row, column="weight", cite=_cited_row(row))
    if "lb_per_kft" in row:
        value = float(row["lb_per_kft"]) * POUND_FORCE / (1000 * FOOT)
    elif "kg_per_km" in row:
        value = float(row["kg_per_km"]) * GRAVITY / 1000
    else:
        return None
    return Fact(value, "weight", source, "weight")


def _voltage(family: _Family, row: Row) -> float | None:
    """The rated voltage between conductors, V: the higher of two that a row prints."""
    printed = str(row.get("kv") or row.get("volt_kv") or "")
    if family.voltage is not None or not printed:
        return family.voltage
    return 1000 * max(float(kv) for kv in printed.split("/"))


_BARE = 600.0  # V; a bare conductor is held to the limit of 600 V single conductors of its size
_NOT_FOR_IT = "of US practice: no European limit is published for this class"
_NOT_FOR_BARE = "that of 600 V single conductors: no limit is published for bare conductors"


def _sidewall(family: _Family, cable: CableClass) -> Fact | None:
    """The strictest published sidewall limit of its class.

    No European source that could be read has one below 36 kV: US practice stands in, doubtful.
    """
    bare = cable.voltage is None
    facts = us_sidewall(replace(cable, voltage=_BARE) if bare else cable)
    if not facts:
        return None
    if bare or family.national is not None:
        return _borrowed(facts[0], _NOT_FOR_BARE if bare else _NOT_FOR_IT)
    return facts[0]


def _bend(family: _Family, cable: CableClass) -> Fact | None:
    """The multiple of its diameter while it is pulled, by the practice of its standard."""
    if family.national is None:
        return us_bend(cable).pulling
    published = eu_bend(cable, family.national)
    if published.pulling is not None:
        return published.pulling
    general = us_bend(cable).pulling
    said = "of US practice: no multiple while pulling is published for this class in Europe"
    return None if general is None else _borrowed(general, said)


def _borrowed(fact: Fact, said: str) -> Fact:
    """A figure of another class, in want of one: always said."""
    low: Confidence = "l"
    note = "; ".join(part for part in (fact.source.note, said) if part)
    cite = f"{fact.source.cite}, {said}"
    return replace(fact, source=replace(fact.source, cite=cite, note=note, confidence=low))


# --- conduits -------------------------------------------------------------------------------------


@cache
def _conduits() -> dict[str, _Named]:
    entries = (
        _Named(f"{kind} {size}", kind.replace("-", " "), _doubt_of(conduit_size(kind, size)))
        for kind in TYPES
        for size in trade_sizes(kind)
    )
    return {entry.name: entry for entry in entries}


def _doubt_of(size: ConduitSize) -> int:
    return 3 if size.estimate else _DOUBT[size.source.status]


def conduit_named(text: str) -> ConduitSize:
    """The conduit of the tables by type and size, ``"PVC-40 5"``; StockMiss with the nearest."""
    kind, _, size = text.strip().partition(" ")
    if kind not in TYPES or size not in trade_sizes(kind):
        kind, _, size = _pick("conduit", text, _conduits()).partition(" ")
    return conduit_size(kind, size)


# --- ropes ----------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class RopeStock:
    """One rope of the tables, by the keys of the model file: ``facts`` in SI."""

    name: str
    facts: Mapping[str, Fact]


@dataclass(frozen=True, slots=True)
class _RopeKind:
    """How a kind of rope is named, and the rules its working load and stretch are by."""

    name: str
    also: str
    factor: str
    stretch: str


_ROPES: Mapping[str, _RopeKind] = {
    "polyester double braid": _RopeKind(
        "polyester double braid", "double-braid", "safety_factor_rope_maker_db",
        "elastic_polyester_double_braid",
    ),
    "polyester 3- or 8-strand": _RopeKind(
        "polyester 3-strand", "8-strand twisted", "safety_factor_general_fibre",
        "elastic_polyester_3_strand",
    ),
    "wire rope 6x19 fiber core IPS bright": _RopeKind(
        "steel 6x19 IPS", "wire fiber core bright", "safety_factor_wire_rope",
        "elastic_wire_rope_6x19_fc",
    ),
    "wire rope 6x7 fiber core": _RopeKind(
        "steel 6x7 IPS", "wire fiber core", "safety_factor_wire_rope", "elastic_wire_rope_6x19_fc",
    ),
    "aramid 12-strand single braid": _RopeKind(
        "aramid 12-strand", "single braid", "safety_factor_rope_maker_db",
        "elastic_aramid_12_strand",
    ),
}  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class _RopeEntry(_Named):
    """A row of the table of ropes under its name."""

    kind: _RopeKind
    row: Row


@cache
def _ropes() -> dict[str, _RopeEntry]:
    found = {}
    for row in load("us_rope_strength").rows:
        kind = _ROPES.get(row["kind"])
        if kind is not None and "lb_per_100ft" in row:
            name = f"{kind.name} {row['dia']}"
            found[name] = _RopeEntry(name, kind.also, _known(row), kind=kind, row=row)
    return found


def rope_named(text: str) -> RopeStock:
    """The rope of the tables that goes by this name; StockMiss with the nearest names."""
    entry = _ropes()[_pick("rope", text, _ropes())]
    table, rules = load("us_rope_strength"), load("us_rope_rules")
    source = source_of(
        table, entry.row, title=publication(table, entry.row), cite=f"{entry.row['dia']} in"
    )
    weakest = entry.row.get("min_break_lb")
    breaking = float(weakest if weakest is not None else entry.row["avg_break_lb"])
    factor = rules.rule(entry.kind.factor)
    stretch = rules.rule(entry.kind.stretch)
    friction = rules.rule("friction_rope_on_pvc_dry")
    load_at = 100 / float(factor["factor"])
    share = _between(load_at, stretch["at_percent_of_break"], stretch["elongation_percent"])
    basis = "minimum" if weakest is not None else "average"
    rated = f"{basis} breaking strength / {factor['factor']:g}"
    title = source.title
    return RopeStock(
        entry.name,
        {
            "diameter": Fact(float(entry.row["dia_in"]) * INCH, "diameter", source, "diameter"),
            "weight": Fact(
                float(entry.row["lb_per_100ft"]) * POUND_FORCE / (100 * FOOT),
                "weight", source, "weight",
            ),
            "breaking_strength": Fact(
                breaking * POUND_FORCE, "force", source, f"{basis} breaking strength"
            ),
            "rated_load": Fact(
                breaking * POUND_FORCE / float(factor["factor"]), "force",
                replace(source_of(rules, factor, title=title, cite=rated),
                        status=_weaker(source.status, Status.DERIVED)),
                rated,
            ),
            "stretch": Fact(
                share / 100, "ratio",
                source_of(rules, stretch, title="rope makers' tables", cite="elastic stretch"),
                "stretch at the rated load",
            ),
            "friction": Fact(
                (float(friction["mu_low"]) + float(friction["mu_high"])) / 2, "ratio",
                source_of(
                    rules, friction, title="no published figure",
                    cite="middle of {mu_low:g} to {mu_high:g}, rope on dry PVC".format(**friction),
                ),
                "friction of the rope in conduit",
            ),
        },
    )  # fmt: skip


def _weaker(one: Status, other: Status) -> Status:
    return max(one, other, key=lambda s: s.rank)


def _between(x: float, xs: list[float], ys: list[float]) -> float:
    """Straight between the points, through the origin below the first."""
    points = [(0.0, 0.0), *zip(xs, ys, strict=True)]
    for (x0, y0), (x1, y1) in pairwise(points):
        if x <= x1:
            return y0 + (y1 - y0) * (x - x0) / (x1 - x0)
    return points[-1][1]


# --- machines: invented classes -------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class MachineStock:
    """A class of machine by capacity: ``gears`` are (name, line pull N, speed m/s)."""

    name: str
    gears: tuple[tuple[str, float, float], ...]
    source: Source

    @property
    def line_pull(self) -> Fact:
        """Line pull of its strongest gear, N."""
        strongest = max(pull for _, pull, _ in self.gears)
        return Fact(strongest, "force", self.source, "invented class")


_INVENTED = Source(
    "invented class of machine, of no maker",
    "enter the nameplate of the machine on site",
    Status.ESTIMATE,
)
_FEET_PER_MINUTE = FOOT / 60
# Round figures of our own: pull of each gear, and speeds that a motor of common size can hold.
_MACHINES_US: tuple[tuple[str, tuple[tuple[str, float, float], ...]], ...] = (
    ("capstan 2,000 lbf one-speed", (("single", 2_000, 24),)),
    ("capstan 4,000 lbf two-speed", (("low", 4_000, 13), ("high", 2_000, 26))),
    ("capstan 6,000 lbf two-speed", (("low", 6_000, 10), ("high", 3_000, 20))),
    ("capstan 8,000 lbf two-speed", (("low", 8_000, 8), ("high", 4_000, 16))),
    ("capstan 10,000 lbf two-speed", (("low", 10_000, 8), ("high", 5_000, 16))),
)
_MACHINES_SI: tuple[tuple[str, tuple[tuple[str, float, float], ...]], ...] = (
    ("capstan 10 kN one-speed", (("single", 10, 8),)),
    ("capstan 20 kN two-speed", (("low", 20, 4), ("high", 10, 8))),
    ("capstan 30 kN two-speed", (("low", 30, 3), ("high", 15, 6))),
    ("winch 50 kN two-speed", (("low", 50, 8), ("high", 25, 16))),
    ("winch 100 kN two-speed", (("low", 100, 6), ("high", 50, 12))),
)


@cache
def _machines() -> dict[str, _Named]:
    every = (*_MACHINES_US, *_MACHINES_SI)
    return {name: _Named(name, "invented puller class", 3) for name, _ in every}


def machine_named(text: str) -> MachineStock:
    """The class of machine of this name, invented and said so; StockMiss with the nearest."""
    name = _pick("machine", text, _machines())
    for listed, force, speed in (
        (_MACHINES_US, POUND_FORCE, _FEET_PER_MINUTE),
        (_MACHINES_SI, 1000.0, 1 / 60),
    ):
        for known, gears in listed:
            if known == name:
                made = tuple((gear, pull * force, rate * speed) for gear, pull, rate in gears)
                return MachineStock(name, made, _INVENTED)
    raise AssertionError(name)


# --- friction -------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class FrictionStock:
    """Published friction of a jacket in a conduit: ``low`` and ``high`` None for a single figure.

    ``fact`` is the middle of what the publications span, with the weakest of its sources.
    ``conduit`` is a surface, a stock type or a material.
    """

    name: str
    fact: Fact
    low: float | None
    high: float | None
    jacket: str
    conduit: str
    lubricated: bool


def friction_named(text: str, *, jackets: Iterable[str] = (), conduit: str = "") -> FrictionStock:
    """Friction by name, ``"PVC jacket, PVC conduit, lubricated"``; StockMiss where none is meant.

    ``jackets`` of the cables and ``conduit`` (stock type or material) stand in where the text
    names none; "estimate" in the text takes the estimates of European practice.
    """
    lowered = text.lower().replace("unlubricated", "dry").replace("not lubricated", "dry")
    known = {name.lower(): name for name in jackets_known()}
    jacket = _before("jacket|sheath", lowered, known)
    types = {name.lower(): name for name in TYPES}
    surface = _before("conduit|duct|pipe", lowered, {**types, **_SURFACES})
    states = {word: word in lowered for word in ("lubricated", "dry")}
    own = tuple(dict.fromkeys(name for name in jackets if name))
    if not jacket and len(own) == 1:
        jacket = own[0]
    surface = surface or conduit
    if sum(states.values()) != 1 or not jacket or not surface:
        raise StockMiss(
            f'friction "{text}" does not name {_unsaid(jacket, surface, states)}',
            _friction_names(jacket or "PVC", surface or "PVC"),
        )
    lubricated = states["lubricated"]
    try:
        found = friction_for(jacket, surface, lubricated, estimates="estimate" in lowered)
    except NotInTable as error:
        raise StockMiss(str(error), _friction_names(jacket, surface)) from None
    weakest = max(found.sources, key=lambda s: (_rank(s), s.title))
    others = len(found.sources) - 1
    more = f" and {others} more" if others else ""
    source = replace(weakest, cite=f"{weakest.cite}{more}")
    name = f"{jacket} jacket, {surface} conduit, {'lubricated' if lubricated else 'dry'}"
    single = found.low == found.high
    return FrictionStock(
        name,
        Fact(found.typical, "ratio", source, name),
        None if single else found.low,
        None if single else found.high,
        jacket,
        surface,
        lubricated,
    )


_SURFACES: Mapping[str, str] = {
    "pvc": "PVC",
    "pe": "HDPE",
    "hdpe": "HDPE",
    "steel": "steel",
    "metal": "metal",
    "aluminum": "aluminum",
    "aluminium": "aluminum",
    "fiberglass": "fiberglass",
    "concrete": "concrete",
    "plastic": "plastic",
}


def jackets_known() -> tuple[str, ...]:
    """Jackets that the friction tables name, without those that are no cable."""
    return tuple(name for name in friction_jackets() if name not in ("any", *_NO_CABLE))


_NO_CABLE = ("rope", "pipe", "drill string")


def _before(words: str, text: str, known: Mapping[str, str]) -> str:
    """The known word that stands before one of ``words``; empty where none does."""
    match = re.search(rf"([\w.-]+)[- ](?:{words})", text)
    return known.get(match[1], "") if match else ""


def _unsaid(jacket: str, surface: str, states: Mapping[str, bool]) -> str:
    missing = [] if jacket else ["the jacket"]
    missing += [] if surface else ["the conduit"]
    missing += [] if sum(states.values()) == 1 else ['"lubricated" or "dry"']
    return " and ".join(missing)


def _friction_names(jacket: str, surface: str) -> tuple[str, ...]:
    """Names that are published, nearest first."""
    asked = ((j, s, w) for j in (jacket, "PVC", "PE", "XLPE") for s in (surface, "PVC", "steel")
             for w in ("lubricated", "dry"))  # fmt: skip
    found = dict.fromkeys(
        f"{j} jacket, {s} conduit, {w}" for j, s, w in asked if _is_published(j, s, w)
    )
    return tuple(found)[:_SHOWN]


def _is_published(jacket: str, surface: str, state: str) -> bool:
    try:
        return bool(friction_for(jacket, surface, state == "lubricated").sources)
    except NotInTable:
        return False
