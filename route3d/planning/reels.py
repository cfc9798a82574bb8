"""Which reel serves which runs: the cable of every run, cut from given reels.

One cable of a run is one cut. The cuts of a run are kept together on one reel where one holds them,
longest first: each goes to the first reel with room, else a new reel is opened (first fit
decreasing). With reels of one length and as many as needed that takes at most 11/9 of the fewest
reels possible and 6/9 of a reel more (G. Dosa, The tight bound of first fit decreasing bin-packing
algorithm is FFD(I) <= 11/9 OPT(I) + 6/9, ESCAPE 2007, from memory), counting what is kept together
as one piece. With reels of several lengths the cuts of a reel move to the smallest free one that
holds them (after D. K. Friesen and M. A. Langston, Variable sized bin packing, SIAM J. Comput. 15,
1986, from memory).
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field

from route3d.geometry.fillet import route_path
from route3d.model.job import Job
from route3d.model.rigging import CableReel
from route3d.planning.pull_plan.feeding import length_to_order
from route3d.units import rounded

# Share of a reel by which what fits on it just so may be longer: rounding of sums.
_FITS = 1e-9


@dataclass(frozen=True, slots=True)
class Cut:
    """One cable of a run: number ``phase`` of ``phases`` of its type, ``length`` m with make-up."""

    run: str
    cable: str
    phase: int
    phases: int
    length: float


@dataclass(frozen=True, slots=True)
class CutReel:
    """One reel with ``length`` m of cable and what is cut from it, in the order of the cuts."""

    name: str
    cable: str
    length: float
    cuts: tuple[Cut, ...]

    @property
    def used(self) -> float:
        """Cable cut from it, m."""
        return math.fsum(cut.length for cut in self.cuts)

    @property
    def left(self) -> float:
        """Cable left on it, m."""
        return max(self.length - self.used, 0.0)

    @property
    def runs(self) -> tuple[str, ...]:
        """The runs it serves, in the order of the cuts."""
        return tuple(dict.fromkeys(cut.run for cut in self.cuts))


@dataclass(frozen=True, slots=True)
class ReelAllotment:
    """The cuts of one cable type on its reels.

    ``longest`` m of cable is on the longest reel given. ``unplaced`` are cuts that no reel holds;
    ``apart`` are the runs whose cuts come from several reels.
    ``fewest`` reels are needed whatever the cutting plan (a lower bound: it may not be reached);
    None where the reels at hand cannot hold all cuts. ``fewest_together`` is the same bound with
    the cuts of each run kept together. ``mixed`` is the number of reels with cuts of a run from any
    reel.
    """

    cable: str
    cuts: tuple[Cut, ...]
    reels: tuple[CutReel, ...]
    longest: float
    together: bool
    unplaced: tuple[Cut, ...]
    apart: tuple[str, ...]
    fewest: int | None
    fewest_together: int | None
    mixed: int

    @property
    def cut_length(self) -> float:
        """All cuts together, m."""
        return math.fsum(cut.length for cut in self.cuts)

    @property
    def left(self) -> float:
        """Cable left on the reels that are cut, m."""
        return math.fsum(reel.left for reel in self.reels)

    @property
    def bound(self) -> int | None:
        """The lower bound for plans of this kind: cuts of a run together, or from any reel."""
        return self.fewest_together if self.together else self.fewest

    @property
    def gap(self) -> int | None:
        """Reels above the lower bound; None where there is none or cuts have no reel."""
        return None if self.bound is None or self.unplaced else len(self.reels) - self.bound


@dataclass(frozen=True, slots=True)
class ReelPlan:
    """The allotment of every cable type with reels; ``without`` are types that have none."""

    job: Job
    allotments: tuple[ReelAllotment, ...]
    without: tuple[str, ...]
    together: bool

    @property
    def stops(self) -> bool:
        """True where a cut has no reel."""
        return any(allotment.unplaced for allotment in self.allotments)


def reel_plan(
    job: Job,
    *,
    longest: float | None = None,
    together: bool = True,
    system: str = "",
) -> ReelPlan:
    """Allot the cable of every run to reels.

    Cuts are rounded up to the digits shown in the units of ``system``, those of the job where none
    is named: so they add up as printed.

    ``longest`` m of cable on one reel counts for cable types to which the job gives no reels, as
    many as needed. Without ``together`` the cuts of a run may come from any reel.
    """
    cuts: dict[str, list[Cut]] = {}
    for run in job.runs:
        ordered = length_to_order(route_path(run.route).length, job.allowances)
        length = rounded(ordered, "length+", system or job.units)
        for cable, count in run.cables.items:
            found = cuts.setdefault(cable.name, [])
            found += [Cut(run.name, cable.name, i, count, length) for i in range(1, count + 1)]
    allotments, without = [], []
    for cable_name, of_cable in cuts.items():
        reels = [reel for reel in job.cable_reels if reel.cable == cable_name]
        if not reels and longest is not None:
            reels = [CableReel(cable_name, longest)]
        if reels:
            allotments.append(allot(of_cable, reels, together=together))
        else:
            without.append(cable_name)
    return ReelPlan(job, tuple(allotments), tuple(without), together)


def allot(
    cuts: Sequence[Cut], reels: Sequence[CableReel], *, together: bool = True
) -> ReelAllotment:
    """Allot the cuts of one cable type to its reels.

    Of reels opened longest first and shortest first the better is taken: fewest cuts without a
    reel, fewest runs apart, least cable opened, fewest reels.
    """
    packed = _best(cuts, reels, together=together)
    mixed = packed if not together else _best(cuts, reels, together=False)
    return ReelAllotment(
        cable=cuts[0].cable,
        cuts=tuple(cuts),
        reels=tuple(_named(packed, reels)),
        longest=max(reel.length for reel in reels),
        together=together,
        unplaced=_in_order(packed.unplaced),
        apart=_apart(packed),
        fewest=fewest_reels([cut.length for cut in cuts], reels),
        fewest_together=fewest_reels(list(_pieces(cuts, reels)), reels),
        mixed=len(mixed.open),
    )


def _named(packed: _Packing, reels: Sequence[CableReel]) -> Iterator[CutReel]:
    """The reels that are cut, numbered where one mark stands for several."""
    marks = Counter(reel.label for reel in reels)
    used: Counter[str] = Counter()
    for open_reel in packed.open:
        reel = reels[open_reel.kind]
        used[reel.label] += 1
        single = reel.count == 1 and marks[reel.label] == 1
        name = reel.label if single else f"{reel.label} {used[reel.label]}"
        yield CutReel(name, reel.cable, reel.length, _in_order(open_reel.cuts))


def _in_order(cuts: Sequence[Cut]) -> tuple[Cut, ...]:
    """Longest first, so that what is left is enough to make up for a bad cut; a run in one go."""
    return tuple(sorted(cuts, key=lambda cut: (-cut.length, cut.run, cut.phase)))


# --- first fit decreasing -------------------------------------------------------------------------


@dataclass(slots=True)
class _OpenReel:
    """A reel that is being cut: ``kind`` is its index among the reels given."""

    kind: int
    room: float
    cuts: list[Cut] = field(default_factory=list)


@dataclass(slots=True)
class _Packing:
    open: list[_OpenReel]
    unplaced: list[Cut]


def _best(cuts: Sequence[Cut], reels: Sequence[CableReel], *, together: bool) -> _Packing:
    """The better of two packings: reels opened longest first, and shortest that holds it first."""
    packings = [
        _packed(cuts, reels, together=together, longest_first=first) for first in (True, False)
    ]

    def cost(packing: _Packing) -> tuple[int, int, float, int]:
        opened = math.fsum(reels[reel.kind].length for reel in packing.open)
        apart = len(_apart(packing)) if together else 0
        return len(packing.unplaced), apart, opened, len(packing.open)

    return min(packings, key=cost)


def _apart(packing: _Packing) -> tuple[str, ...]:
    """The runs with cuts on several reels."""
    runs = Counter(run for reel in packing.open for run in {cut.run for cut in reel.cuts})
    order = dict.fromkeys(cut.run for reel in packing.open for cut in reel.cuts)
    return tuple(run for run in order if runs[run] > 1)


def _packed(
    cuts: Sequence[Cut], reels: Sequence[CableReel], *, together: bool, longest_first: bool
) -> _Packing:
    order = sorted(range(len(reels)), key=lambda kind: reels[kind].length, reverse=longest_first)
    packing = _Packing([], [])
    bundles = [[cut] for cut in cuts]
    if together:
        bundles = _bundles(cuts, max(reel.length for reel in reels))
    homeless = _first_fit(packing, bundles, reels, order)
    # A run whose cuts find no room together is cut from several reels.
    packing.unplaced = [
        cut
        for bundle in _first_fit(packing, [[c] for b in homeless for c in b], reels, order)
        for cut in bundle
    ]
    _shorten(packing, reels)
    return packing


def _bundles(cuts: Sequence[Cut], longest: float) -> list[list[Cut]]:
    """The cuts of each run, as many together as the longest reel holds."""
    runs: dict[str, list[Cut]] = {}
    for cut in cuts:
        runs.setdefault(cut.run, []).append(cut)
    bundles = []
    for of_run in runs.values():
        most = max(int(longest * (1 + _FITS) / of_run[0].length), 1)
        bundles += [of_run[i : i + most] for i in range(0, len(of_run), most)]
    return bundles


def _first_fit(
    packing: _Packing,
    bundles: Sequence[list[Cut]],
    reels: Sequence[CableReel],
    order: Sequence[int],
) -> list[list[Cut]]:
    """Put each bundle, longest first, on the first reel with room; those that find none."""
    homeless = []
    for bundle in sorted(bundles, key=_length, reverse=True):
        length = _length(bundle)
        holds = (reel for reel in packing.open if length <= reel.room + _slip(reels, reel.kind))
        reel = next(holds, None)
        if reel is None:
            free = _free(packing, reels)
            fits = (k for k in order if free[k] and length <= reels[k].length * (1 + _FITS))
            kind = next(fits, None)
            if kind is None:
                homeless.append(bundle)
                continue
            reel = _OpenReel(kind, reels[kind].length)
            packing.open.append(reel)
        reel.cuts += bundle
        reel.room -= length
    return homeless


def _length(bundle: Sequence[Cut]) -> float:
    return math.fsum(cut.length for cut in bundle)


def _slip(reels: Sequence[CableReel], kind: int) -> float:
    return reels[kind].length * _FITS


def _free(packing: _Packing, reels: Sequence[CableReel]) -> list[bool]:
    """Whether another reel of each kind can be had."""
    used = Counter(reel.kind for reel in packing.open)
    return [reel.count is None or used[k] < reel.count for k, reel in enumerate(reels)]


def _shorten(packing: _Packing, reels: Sequence[CableReel]) -> None:
    """Move what is cut from a reel to the shortest free reel that holds it, fullest reels last."""
    for open_reel in sorted(packing.open, key=lambda reel: -reel.room):
        used = reels[open_reel.kind].length - open_reel.room
        free = _free(packing, reels)
        fits = [
            kind
            for kind, reel in enumerate(reels)
            if free[kind]
            and used <= reel.length * (1 + _FITS)
            and reel.length < reels[open_reel.kind].length
        ]
        if fits:
            kind = min(fits, key=lambda k: reels[k].length)
            open_reel.kind, open_reel.room = kind, reels[kind].length - used


# --- the lower bound ------------------------------------------------------------------------------


def fewest_reels(lengths: Sequence[float], reels: Sequence[CableReel]) -> int | None:
    """A lower bound of the reels that hold pieces of these lengths, m; None where none can.

    The largest of three bounds. The longest reels that together hold all of the cable; and, every
    reel taken as the longest, the pieces of a length or more over how many of that length a reel
    holds, and the bound L2 of S. Martello and P. Toth, Lower bounds and reduction procedures for
    the bin packing problem, Discrete Appl. Math. 28, 1990 (from memory): pieces of more than half a
    reel share with no other such piece.
    """
    longest = max(reel.length for reel in reels)
    if max(lengths) > longest * (1 + _FITS):
        return None
    total, count = math.fsum(lengths), 0
    for length in _longest_first(reels, total):
        if total <= 0:
            break
        total, count = total - length * (1 + _FITS), count + 1
    if total > 0:
        return None
    # Reels a hair longer than they are, so that rounding makes no bound too high.
    roomy = longest * (1 + _FITS)
    bound = max(count, _two_halves(lengths, roomy), _by_number(lengths, roomy))
    limited = [reel.count for reel in reels if reel.count is not None]
    return None if len(limited) == len(reels) and bound > sum(limited) else bound


def _longest_first(reels: Sequence[CableReel], total: float) -> Iterator[float]:
    """The lengths of the reels, longest first, as many as hold ``total``."""
    for reel in sorted(reels, key=lambda r: r.length, reverse=True):
        enough = math.ceil(total / reel.length)
        yield from [reel.length] * (enough if reel.count is None else reel.count)


def _by_number(lengths: Sequence[float], reel: float) -> int:
    """How many reels the pieces of at least some length take by their number alone."""
    falling = sorted(lengths, reverse=True)
    return max(math.ceil(i / (reel // length)) for i, length in enumerate(falling, 1))


def _two_halves(lengths: Sequence[float], reel: float) -> int:
    """The bound L2 for reels of one length."""
    best = 0
    for least in {0.0, *(length for length in lengths if length <= reel / 2)}:
        alone = sum(length > reel - least for length in lengths)
        large = [x for x in lengths if reel / 2 < x <= reel - least]
        small = math.fsum(x for x in lengths if least <= x <= reel / 2)
        beside = len(large) * reel - math.fsum(large)
        more = math.ceil((small - beside) / reel - _FITS) if small > beside else 0
        best = max(best, alone + len(large) + more)
    return best


def _pieces(cuts: Sequence[Cut], reels: Sequence[CableReel]) -> Iterator[float]:
    """The lengths of what is kept together: of runs that one reel holds, else of single cuts."""
    longest = max(reel.length for reel in reels) * (1 + _FITS)
    runs: dict[str, list[Cut]] = {}
    for cut in cuts:
        runs.setdefault(cut.run, []).append(cut)
    for of_run in runs.values():
        whole = _length(of_run)
        yield from [whole] if whole <= longest else (cut.length for cut in of_run)
