"""One passing job on every surface: terminal, sheet, hand-over page and JSON, number by number.

``berth6.toml`` has a gear change, lubricant stops, a riser down with a brake, a conduit brace with
an adapter, a lead-off sheave and a split. Every expected figure comes from ``hand.py``, which uses
nothing of the product, or from the arithmetic written beside it.
"""

from __future__ import annotations

import contextlib
import io
import json
import math
import re
from collections.abc import Callable
from dataclasses import dataclass
from html import unescape
from pathlib import Path
from typing import Any

import pytest
from pypdf import PdfReader

from route3d.cli.main import main
from route3d.modelfile.read import load
from route3d.planning.evaluate import evaluate
from route3d.planning.pull_plan.plan import make_plan
from route3d.report import layout
from route3d.report.sheet import phone_page, sheet_pdf
from tests.last_mile import hand
from viewer.theme import THEMES
from viewer.web.page_data import page_data

JOB = Path(__file__).with_name("berth6.toml")
LBF, FT, LB = 4.4482216152605, 0.3048, 0.45359237  # exact by definition
GALLON = 231 * 0.0254**3

LEAST, MOST = hand.least(hand.LOW), hand.most()
REEL = LEAST  # planned: what the crew is told to hold at least, more than 3 x 30 lbf of drag
STANDS = 3 * 1.795 * 40  # hanging weight of the set, no friction, lbf
FIRST = {at: hand.first_move(REEL, at) for at in (0.0, *hand.STOPS)}
PEAK = max(FIRST.values())
PEAK_TENSION = max(
    hand.over_first_feet(lambda x: hand.most_of_cable(REEL, x, hand.RESTART), at) for at in FIRST
)
END = hand.reading(REEL, hand.LENGTH)
CHANGE = 600.0
EACH = hand.LENGTH + 6.0 + 3 / FT  # conduit, pulled out, left at the reels (default 3 m)


def plain(text: str) -> str:
    return re.sub(r"\s+", " ", text.replace("\u00a0", " "))


def up(x: float) -> str:
    return f"{math.ceil(x):,} lbf"


def down(x: float) -> str:
    return f"{math.floor(x):,} lbf"


def lbf(x: float) -> str:
    return f"{x:,.0f} lbf"


@dataclass(frozen=True)
class Surfaces:
    terminal: str
    sheet: str
    phone: str
    page: Any
    data: Any

    @property
    def printed(self) -> dict[str, str]:
        return {"terminal": self.terminal, "sheet": self.sheet}

    @property
    def page_words(self) -> str:
        return plain(json.dumps(self.page, ensure_ascii=False))


@pytest.fixture(scope="module")
def made() -> Surfaces:
    def run(*extra: str) -> str:
        with (
            contextlib.redirect_stdout(io.StringIO()) as out,
            pytest.MonkeyPatch.context() as patch,
        ):
            patch.setattr(layout, "WIDEST", 10_000)  # a row in one line
            assert main(["plan", str(JOB), *extra]) == 0
        return out.getvalue()

    job = load(JOB)
    results = evaluate(job).runs
    plans = [make_plan(r, job, step=50.0) for r in results]
    pdf = PdfReader(io.BytesIO(sheet_pdf(job, plans, "US")))
    (shown,) = page_data(results, job, "US", next(iter(THEMES)))["runs"]
    one = shown["directions"][shown["chosen"]]
    return Surfaces(
        terminal=plain(run()),
        sheet=plain(" ".join(page.extract_text() for page in pdf.pages)),
        phone=plain(unescape(re.sub("<[^>]+>", " ", phone_page(job, plans, "US")))),
        page={"words": one["words"]["US"], "labels": one["labels"]["false"], **_ends(one)},
        data=json.loads(run("--json"))["runs"][0],
    )


def _ends(one: Any) -> dict[str, Any]:
    return {"feed": one["feed"], "pull": one["pull"], "playback": one["playback"]}


def near(x: float, rel: float = 2e-5) -> Any:
    return pytest.approx(x, rel=rel)


def page_findings(made: Surfaces) -> list[dict[str, str]]:
    table = made.page["words"]["findings"]
    return [dict(zip(table["heads"], row, strict=True)) for row in table["rows"]]


def link(made: Surfaces, name: str) -> Any:
    return next(x for x in made.data["load_path"] if x["name"] == name)


def everywhere(made: Surfaces, *sentences: str) -> None:
    for sentence in sentences:
        for name, text in (*made.printed.items(), ("page", made.page_words)):
            assert sentence in text, (name, sentence)


def in_print(made: Surfaces, *sentences: str) -> None:
    for sentence in sentences:
        for name, text in made.printed.items():
            assert sentence in text, (name, sentence)


# --- decision -------------------------------------------------------------------------------------


def test_which_end_feeds_and_which_pulls(made: Surfaces) -> None:
    in_print(made, "Feed from roof, pull at quay.", "Run F6: 3 x phase")
    assert (made.data["feed"], made.data["pull"]) == ("roof", "quay")
    assert (made.page["feed"], made.page["pull"]) == ("roof", "quay")
    assert made.page["words"]["headline"] == "Feed from roof, pull at quay"
    assert not made.data["must_not_be_pulled"] and made.data["reasons"] == []
    factor, limit = hand.friction_margin(REEL)
    everywhere(
        made,
        f"Friction can rise to {factor:.2f} times the planned value ({0.2 * factor:.2f} in "
        f"RMC 5); limit reached first: {limit}.",
        "The other end is ruled out: quay has no reel access and roof has no machine access.",
        f"Highest utilization: machine line pull, {END / 6175:.0%}.",
    )


def test_peaks_against_their_limits(made: Surfaces) -> None:
    tension = hand.cable(REEL, hand.LENGTH)
    worst = hand.cable(REEL, hand.BENDS[2][1]) * hand.PRESS / (hand.RADIUS - hand.BORE / 2)
    in_print(
        made,
        f"cable tension up to {lbf(tension)}, sidewall pressure up to {worst:.0f} lbf/ft, "
        f"peak machine load {lbf(PEAK)} including first moves ({lbf(END)} while moving).",
        f"conductor tension {lbf(tension)} 8,400 lbf {tension / 8400:.0%} quay",
        f"pulling eyes load {lbf(tension)} 7,500 lbf {tension / 7500:.0%} quay",
        f"sidewall pressure {worst:.0f} lbf/ft 500 lbf/ft {worst / 500:.0%} bend 3",
        f"machine line pull {lbf(PEAK)} 6,175 lbf {PEAK / 6175:.0%} quay",
        f"rope load {lbf(PEAK)} 9,000 lbf {PEAK / 9000:.0%} quay",
    )
    facts = {name: (value, note) for name, value, note, *_ in made.page["words"]["facts"]}
    assert facts["Peak tension"] == (lbf(tension), f"{tension / 7500:.0%} of 7,500 lbf")
    assert facts["Peak sidewall"] == (f"{worst:.0f} lbf/ft", f"{worst / 500:.0%} of 500 lbf/ft")
    assert facts["Peak machine load"] == (lbf(PEAK), f"{PEAK / 6175:.0%} of 6,175 lbf")
    assert facts["Length"][0] == f"{hand.LENGTH:.1f} ft"
    assert made.data["peak_N"] == near(PEAK * LBF)
    assert made.data["peak_moving_N"] == near(END * LBF)


# --- reels ----------------------------------------------------------------------------------------


def test_reel_tension_and_brake_window(made: Surfaces) -> None:
    everywhere(
        made,
        f"Brake the reels: at least {up(LEAST)} total, at most {down(MOST)}, for the whole pull",
        f"at least {up(STANDS)} total at the reels",
    )
    in_print(
        made,
        f"Reel tension in this plan: {up(REEL)} total, the low end of the brake window.",
        f"At every stop hold at least {up(STANDS)} at the reels (friction not counted).",
        f"Riser: secure the cable at the top ({up(STANDS)}) before slacking the rope.",
        f"With no friction it takes {up(STANDS)} to hold the cable.",
    )
    reel = made.data["reel"]
    assert reel["tension_N"] == near(REEL * LBF)
    assert reel["brake_window_N"] == [near(LEAST * LBF), near(MOST * LBF)]
    facts = {name: value for name, value, *_ in made.page["words"]["facts"]}
    assert facts["Reel brake"] == f"{up(LEAST)} to {down(MOST)}"
    label = next(x for x in made.page["labels"] if x["kind"] == "feed")
    assert f"brake {up(LEAST)} to {down(MOST)}" in label["US"]
    held = [(x["pulled_m"], x["feed_N"], x["head_N"]) for x in made.data["hanging_at_stops"]]
    assert held == [(near(at * FT), near(STANDS * LBF), 0.0) for at in hand.STOPS]


def test_brake_moment_at_the_full_drum(made: Surfaces) -> None:
    assert made.data["reel"]["brake_moment_Nm"] == near(LEAST * LBF * 66 / 2 * 0.0254)


def test_cable_to_order_and_its_weight(made: Surfaces) -> None:
    mass = 3 * 1.795 * EACH
    in_print(
        made,
        f"Reels at roof: {EACH:.1f} ft of each cable, {3 * EACH:,.1f} ft and "
        f"{mass:,.0f} lb of cable in all; each full reel 2,600 lb.",
        "Pull 6.0 ft past the conduit end at the machine and leave 9.8 ft at the reel end",
    )
    reel = made.data["reel"]
    assert reel["cable_length_m"] == near(EACH * FT)
    assert reel["total_length_m"] == near(3 * EACH * FT)
    assert reel["cable_kg"] == near(mass * LB)
    assert (reel["pulled_out_m"], reel["left_at_reel_m"]) == (near(6 * FT), near(3.0))


# --- gauge, gears, stops --------------------------------------------------------------------------

_TO_FEED = "sidewall pressure, feed-in sheave"
_ROWS = (
    (0.0, "roof", "high", _TO_FEED),
    (hand.BENDS[0][0], "start of bend 1", "high", _TO_FEED),
    (hand.BENDS[0][1], "end of bend 1", "high", _TO_FEED),
    (hand.BENDS[1][1], "end of bend 2", "high", _TO_FEED),
    (150.0, "stop for lubricant", "high", _TO_FEED),
    (300.0, "stop for lubricant", "high", _TO_FEED),
    (hand.VAULT, "vault V6", "high", _TO_FEED),
    (450.0, "stop for lubricant", "high", _TO_FEED),
    (600.0, "change to gear low, stop for lubricant", "low", _TO_FEED),
    (hand.BENDS[2][1], "end of bend 3", "low", "sidewall pressure, bend 3"),
    (750.0, "stop for lubricant", "low", "sidewall pressure, bend 3"),
    (900.0, "stop for lubricant", "low", "sidewall pressure, bend 3"),
    (hand.LENGTH, "quay", "low", "sidewall pressure, bend 3"),
)
# The sheet keeps the rows that fit on it, and says so.
_NOT_ON_PAPER = ("start of bend 1", "end of bend 1", "end of bend 2")


@pytest.mark.parametrize(("at", "place", "gear", "limit"), _ROWS)
def test_a_row_of_the_gauge_table(
    made: Surfaces, at: float, place: str, gear: str, limit: str
) -> None:
    expected, stop = hand.reading(REEL, at), hand.stop(at)
    high = hand.reading(MOST, at)
    caution = max(hand.reading(REEL, at, 1.2), high)  # the reels held as told, friction as planned
    assert caution < stop
    first = FIRST.get(at)
    row = (
        f"{at:.0f} ft {place} {gear} {'-' if first is None else lbf(first)} {lbf(expected)} "
        f"{lbf(caution)} {lbf(stop)} {limit} yes {expected:,.0f} to {lbf(high)}"
    )
    assert row in made.terminal
    if place not in _NOT_ON_PAPER:
        # on paper at the marks of a dial of 50 lbf: Stop down, the others to the nearest
        started = "-" if first is None else f"{int(first / 50 + 0.5) * 50:,}"
        low, most, warned = (f"{int(x / 50 + 0.5) * 50:,}" for x in (expected, high, caution))
        on_paper = f"{at:.0f} {place} {gear} {started} {low} {low} to {most} {warned}"
        assert f"{on_paper} {int(stop / 50) * 50:,} " in made.sheet
        assert "The gauge is accurate in every gear used." in made.sheet
    given = next(r for r in made.data["gauge"] if abs(r["pulled_m"] - at * FT) < 1e-3)
    found = [given[k] for k in ("expected_N", "caution_N", "stop_N", "expected_high_N")]
    # a bend is entered under little tension: rounding of the reel tension shows there
    assert found == [near(x * LBF, 3e-4) for x in (expected, caution, stop, high)]
    assert given["gear"] == gear and given["usable"]
    assert given["stalls_N"] == near((1400 if gear == "high" else 6500) * 0.95 * LBF)
    if first is None:
        assert given["first_move_N"] is None and given["first_move_stop_N"] is None
    else:
        assert given["first_move_N"] == near(first * LBF)
        assert given["first_move_stop_N"] == near(_first_stop(at) * LBF)
    told = made.page["words"]["gauge"]
    cells = [f"{at:.0f}", gear, *(f"{x:,.0f}" for x in (expected, caution, stop)), limit]
    where = place if first is None else f"{place} · first move {first:,.0f}"
    assert (cells, where) in list(zip(told["rows"], told["places"], strict=True))
    shown = made.page["playback"]["rows"]
    film = next(r for r in shown if abs(r["pulled"] - at * FT) < 1e-3)
    assert [film["expected"], film["caution"], film["stop"]] == [
        near(x * LBF, 3e-4) for x in (expected, caution, stop)
    ]
    if expected == hand.reading(REEL, 0.0):
        assert told["headline"][0] == [
            "0 ft",
            "roof",
            f"expected {lbf(expected)}, caution {lbf(caution)}, stop {lbf(stop)}",
        ]


def _first_stop(at: float) -> float:
    """Stop applies in a first move too: the lowest over its 3 m, at rest friction and moving."""
    heads = [min(at + x * hand.FIRST_FEET, hand.LENGTH) for x in (0.0, 0.5, 1.0)]
    return float(min(min(hand.stop(x), hand.stop(x, hand.RESTART)) for x in heads))


def _down(x: float) -> str:
    """A limiter is set on a scale of 50 or 100, never above."""
    return f"{math.floor(x / 50) * 50:,} lbf"


_ENDS = sorted({*hand.STOPS, 0.0, hand.LENGTH, *(x for b in hand.BENDS for x in b)})


def _lowest_stop() -> float:
    return float(min(hand.stop(at) for at in _ENDS))


def test_limiter_and_what_to_check_before_each_stage(made: Surfaces) -> None:
    lowest = _lowest_stop()
    everywhere(made, f"Set the machine's limiter to {_down(lowest)} for the whole pull")
    found = made.data["acceptance"]
    assert found["limiter_set_point_N"] == near(lowest * LBF)
    assert found["one_setting"]
    everywhere(made, "In high the machine stalls at 1,330 lbf, before the limiter acts.")
    starts = (0.0, *hand.STOPS)
    names = ["start of pull", *["stop for lubricant"] * 3]
    names += ["change to gear low, stop for lubricant", *["stop for lubricant"] * 2]
    for stage, name, a, b in zip(
        found["stages"], names, starts, (*starts[1:], hand.LENGTH), strict=True
    ):
        limiter = min(hand.stop(at) for at in _ENDS if a <= at <= b)
        stalls = (1400 if a < CHANGE else 6500) * 0.95
        assert stage["pulled_m"] == pytest.approx(a * FT)
        assert stage["limiter_N"] == near(limiter * LBF)
        assert stage["first_move_N"] == near(FIRST[a] * LBF)
        last = _first_stop(a)
        assert stage["first_move_stop_N"] == near(last * LBF)
        assert stage["stalls_N"] == near(stalls * LBF)
        # the limiter is above what gear high pulls, and below what low does
        held = "stall" if a < CHANGE else "limiter"
        assert (stalls < lowest) is (held == "stall") and lowest <= last
        assert stage["first_move_held_by"] == held
        assert stage["first_move_at_most_N"] == near(min(stalls, lowest) * LBF)
        most = f"{stalls:,.0f} lbf, machine stalls" if a < CHANGE else f"{_down(lowest)}, limiter"
        reels = f"brake {up(LEAST)} to {down(MOST)}"
        in_print(made, f"{name} {a:.0f} ft {reels} {_down(lowest)} {lbf(FIRST[a])} {most}")
        assert (
            f"Before {name} ({a:.0f} ft of cable in): reels, total: {reels}; "
            f"limiter: {_down(lowest)}; first move: {lbf(FIRST[a])} expected, at most {most}."
        ) in made.page["words"]["gauge"]["checks"]


def test_gear_change_and_times(made: Surfaces) -> None:
    # The weaker gear is kept to 90 % of what reaches the rope, first moves after a stop included:
    # good after the stop at 450 ft, not after that at 600 ft.
    assert FIRST[450.0] <= 0.9 * 1400 * 0.95 < FIRST[CHANGE]
    high, low = CHANGE / 35, (hand.LENGTH - CHANGE) / 14
    slow = hand.LENGTH / 14
    half = hand.reading(REEL, CHANGE)
    in_print(
        made,
        f"At 600 ft of cable in: stop, change from high to low; expected first move "
        f"{lbf(FIRST[CHANGE])}.",
        f"0 ft 600 ft high {lbf(half)} 1,330 lbf 35 ft/min {high:.0f} min",
        f"600 ft 959 ft low {lbf(END)} 6,175 lbf 14 ft/min {low:.0f} min",
        f"Pulling {high + low:.0f} min; all in the strongest gear, {slow:.0f} min.",
        "Crew time 2 h 15 min: set-up 60 min, pulling 43 min, gear changes 2 min, lubricant stops "
        "30 min.",
    )
    assert 60 + high + low + 2 + 6 * 5 == pytest.approx(135, abs=0.5)
    gears = made.data["gears"]
    (change,) = gears["changes"]
    assert (change["from"], change["to"]) == ("high", "low")
    assert change["pulled_m"] == near(CHANGE * FT) and change["station_m"] == near(CHANGE * FT)
    assert change["restart_load_N"] == near(FIRST[CHANGE] * LBF)
    assert [(s["gear"], s["from_m"], s["to_m"]) for s in gears["spans"]] == [
        ("high", 0.0, near(CHANGE * FT)),
        ("low", near(CHANGE * FT), near(hand.LENGTH * FT)),
    ]
    assert [s["time_s"] for s in gears["spans"]] == [near(60 * high), near(60 * low)]
    assert gears["strongest_gear_time_s"] == near(60 * slow)
    assert gears["margin_kept"] and gears["overload"] is None
    assert made.page["words"]["gauge"]["gears"] == [
        f"0 ft to 600 ft in high: peak load {lbf(half)} (machine stalls at 1,330 lbf), "
        f"average speed 35 ft/min, {high:.0f} min.",
        f"600 ft to 959 ft in low: peak load {lbf(END)} (machine stalls at 6,175 lbf), "
        f"average speed 14 ft/min, {low:.0f} min.",
        "At 600 ft of cable in: stop, change from high to low; expected first move "
        f"{lbf(FIRST[CHANGE])}.",
    ]


def test_lubricant_stops_and_their_first_moves(made: Surfaces) -> None:
    found = made.data["planned_stops"]
    assert [x["pulled_m"] for x in found] == [near(at * FT) for at in hand.STOPS]
    assert [x["first_move_N"] for x in found] == [near(FIRST[at] * LBF) for at in hand.STOPS]
    pulls = [
        hand.over_first_feet(lambda x: hand.most_of_cable(REEL, x, hand.RESTART), at)
        for at in hand.STOPS
    ]
    # At the first stop the largest so far is still that of bend 1, soon to be passed by the head:
    # the product takes a straight line there, which lies above.
    first, *others = (x["tension_N"] for x in found)
    assert pulls[0] * LBF <= first <= 1.02 * pulls[0] * LBF
    assert others == [near(t * LBF) for t in pulls[1:]]
    everywhere(
        made,
        "Lubricant stops with 150 ft, 300 ft, 450 ft, 600 ft, 750 ft, 900 ft of cable in; "
        f"expected first moves up to {lbf(max(FIRST[at] for at in hand.STOPS))}.",
    )
    # head outside bends, and not within its 3 ft and the first 3 m before one
    reach = 3.0 + hand.FIRST_FEET
    free = [(0.0, hand.BENDS[0][0] - reach)]
    for (_, a), (b, _) in zip(hand.BENDS, hand.BENDS[1:], strict=False):
        free.append((a, b - reach))
    free.append((hand.BENDS[2][1], hand.LENGTH))
    assert made.data["safe_to_stop_m"] == [[pytest.approx(a * FT), near(b * FT)] for a, b in free]


def test_stops_by_accident(made: Surfaces) -> None:
    def moves(a: float, b: float) -> tuple[float, float]:
        ends = (a, b, *(x for bend in hand.BENDS for x in bend if a < x < b))
        loads = [hand.first_move(REEL, at) for at in ends]
        return min(loads), max(loads)

    rows = made.data["accidental_stops"]
    change = rows[0]["to_m"] / FT
    high, low = moves(0.0, change), moves(change, hand.LENGTH)
    assert [(r["restart"], r["gear"]) for r in rows] == [(True, "high"), (True, "low")]
    assert (rows[0]["from_m"], rows[1]["to_m"]) == (0.0, near(hand.LENGTH * FT))
    # The weaker gear starts the pull as far as 90 % of what reaches the rope, to within 3 m.
    share = 0.9 * 1400 * 0.95
    assert high[1] <= share < moves(0.0, change + 3.0 / FT)[1]
    assert [r["first_move_N"] for r in rows] == [near(most * LBF) for _, most in (high, low)]
    assert all(
        r["first_move_least_N"] <= least * LBF * 1.001
        for r, (least, _) in zip(rows, (high, low), strict=True)
    )
    # What holds it: the weak gear stalls; in the strong one the limiter, at the lowest Stop.
    assert [r["first_move_at_most_N"] for r in rows] == [
        near(1330 * LBF),
        near(_lowest_stop() * LBF),
    ]
    at = f"{change:.0f}"
    for start, end, gear, move, most in (
        ("0", at, "high", high, "1,330 lbf"),
        (at, "959", "low", low, _down(_lowest_stop())),
    ):
        least = next(r for r in rows if r["gear"] == gear)["first_move_least_N"] / LBF
        expected = f"{lbf(least)} to {lbf(move[1])}"
        assert f"{start} ft {end} ft restart in {gear} {expected} {most}" in made.terminal
        assert (
            f"Stopped with {start} ft to {end} ft of cable in: restart in {gear}; first move "
            f"{expected}, at most {most}."
        ) in made.page["words"]["gauge"]["accidents"]


# --- load path ------------------------------------------------------------------------------------

MOUTH = PEAK * 0.95  # the rope where it leaves the conduit
CAN = 6500 * 0.95  # what reaches the rope of the strongest gear
_HANDS = (
    ("conductors", PEAK_TENSION, 0.008 * 350e3 * 3, CAN * 0.95),
    ("pulling eyes", PEAK_TENSION, 8000, CAN * 0.95),
    ("swivel", PEAK_TENSION, 7500, CAN * 0.95),
    ("rope, working load", PEAK, 9000, CAN),
    ("rope, breaking strength over 4", PEAK, 45000 / 4, CAN),
    # 2T sin(90/2) with the tension after the sheave
    ("sheave pit", 2 * PEAK * math.sin(math.pi / 4), 12000, 2 * CAN * math.sin(math.pi / 4)),
    ("boom", PEAK, 9000, CAN),
    ("machine, strongest gear", PEAK, CAN, CAN),
    # machine, brace and sheave are one body: the rope draws it on with what it has at the mouth
    ("brace", MOUTH, 7000, CAN * 0.95),
    ("locked adapter", MOUTH, 8000, CAN * 0.95),
    # T sin(90) of the rope that leaves at a right angle
    ("side load on the conduit end", PEAK, None, CAN),
)


@pytest.mark.parametrize(("name", "load", "rating", "stalled"), _HANDS)
def test_a_link_of_the_load_path(
    made: Surfaces, name: str, load: float, rating: float | None, stalled: float
) -> None:
    found = link(made, name)
    assert found["load_N"] == near(load * LBF)
    assert found["load_at_machine_pull_N"] == near(stalled * LBF)
    if rating is None:
        assert found["rating_N"] is None
        in_print(made, f"{name} {lbf(load)} not given - {lbf(stalled)}")
    else:
        # the conductors' 0.008 lbf/cmil is published in that unit: no conversion in between
        assert found["rating_N"] == near(rating * LBF)
        in_print(made, f"{name} {lbf(load)} {lbf(rating)} {load / rating:.0%} {lbf(stalled)}")
    held = {h["name"]: h for h in made.data["held"]["holds"]}
    if name in held:
        assert held[name]["load_N"] == near(load * LBF)


def test_the_links_stand_in_the_order_of_the_load(made: Surfaces) -> None:
    assert [x["name"] for x in made.data["load_path"]] == [name for name, *_ in _HANDS]
    assert [h["name"] for h in made.data["held"]["holds"]] == [
        "brace",
        "locked adapter",
        "side load on the conduit end",
    ]


def test_what_the_conduit_end_must_bear(made: Surfaces) -> None:
    in_print(
        made,
        f"The brace pushes the conduit end with {up(MOUTH)} along its axis",
        f"The rope turn puts a side load of {up(PEAK)} on the conduit end: guy it, or use a frame.",
        "Rating missing for: side load on the conduit end. Get it from the nameplate.",
        f"Weakest link: machine, strongest gear, {lbf(PEAK)} of 6,175 lbf, {PEAK / CAN:.0%}.",
    )
    assert made.page["words"]["gauge"]["link"] == [
        f"Weakest link: machine, strongest gear, {lbf(PEAK)} of 6,175 lbf, {PEAK / CAN:.0%}.",
        "Rating missing for: side load on the conduit end. Get it from the nameplate.",
    ]


def test_the_feed_sheave(made: Surfaces) -> None:
    # 12 x the diameter, and what 500 lbf/ft asks for at the tension past the sheave
    bend, wall = 12 * 1.387, 12 * REEL * hand.FEED * hand.PRESS / 500
    (sheave,) = made.data["sheaves"]
    assert sheave["least_by_bend_m"] == near(bend * 0.0254)
    assert sheave["least_by_sidewall_m"] == near(wall * 0.0254)
    in_print(made, f"feed-in sheave 24 in {bend:.1f} in {wall:.1f} in {lbf(REEL * hand.FEED)}")


# --- supplies, room, splits -----------------------------------------------------------------------


def test_rope_and_the_energy_in_it(made: Surfaces) -> None:
    tail = 10 / FT  # default
    moving = [(float(at), hand.reading(REEL, float(at))) for at in range(0, 959, 7)]
    energy, load, stretch = max(
        (0.5 * t * s, t, s)
        for at, t in (*moving, *FIRST.items())
        for s in [0.012 * t / 9000 * (hand.LENGTH - at + tail)]
    )
    in_print(
        made,
        f"Rope line: at least {hand.LENGTH + tail:.1f} ft. It stores the most energy at "
        f"{lbf(load)}: {energy:.0f} ft·lbf, stretched by {stretch:.1f} ft.",
    )
    rope = made.data["supplies"]["rope"]
    assert rope["length_m"] == near((hand.LENGTH + tail) * FT)
    assert rope["load_N"] == near(load * LBF)
    assert rope["energy_J"] == near(energy * LBF * FT)


def test_lubricant(made: Surfaces) -> None:
    # Q = 0.0015 L D: gallons, feet, inches (trade note on cable pulling)
    first, second = (0.0015 * feet * 5.073 for feet in (hand.VAULT, hand.LENGTH - hand.VAULT))
    in_print(
        made,
        f"roof RMC 5 {hand.VAULT:.1f} ft 5.07 in {first:.1f} gal",
        f"vault V6 RMC 5 {hand.LENGTH - hand.VAULT:.1f} ft 5.07 in {second:.1f} gal",
        f"Lubricant total: {first + second:.1f} gal",
        f"Lubricate: {first + second:.1f} gal total.",
    )
    # the published factor has two figures
    found = [x["volume_m3"] for x in made.data["supplies"]["lubricant"]]
    assert found == [near(first * GALLON, 0.005), near(second * GALLON, 0.005)]


def test_room_to_draw_the_head_out(made: Surfaces) -> None:
    # 6 ft of pull slack and a head of 3 ft
    words = (
        "rope between conduit and machine too short by 2.1 ft: the head would reach the machine."
    )
    in_print(made, "room to pull out the head quay 6.9 ft 9.0 ft", words)
    finding = next(f for f in made.data["findings"] if f["rule"] == "room to pull out the head")
    assert finding["limit_value"] == near(9 * FT)
    # the machine as close as a brace lets it: 2 ft out, 6.7 ft beside, by its own 3.5 ft of length
    place = made.data["place"]["best"][0]
    assert place["rope_m"] == finding["demand"]
    assert math.ceil((9 - finding["demand"] / FT) * 10 - 1e-9) / 10 == pytest.approx(2.1)
    (told,) = [f for f in page_findings(made) if f["rule"] == "room to pull out the head"]
    assert (told["measured"], told["limit"]) == ("6.9 ft", "9.0 ft")
    assert told["fix"].startswith("Rope" + words[4:])


def test_ways_to_split(made: Surfaces) -> None:
    # ways are compared with the brake that is ordered: taut with friction at its low end
    first = hand.cable(LEAST, hand.VAULT) * hand.LEAD_OFF
    # from figure eights nothing is held back
    second = (
        hand.march(0.0, hand.WEIGHT, hand.FRICTION * hand.OMEGA, hand.VAULT, hand.LENGTH)
        * hand.LEAD_OFF
    )
    rest = hand.LENGTH - hand.VAULT
    in_print(
        made,
        f"{second / CAN:.0%} roof to vault V6 ({first / CAN:.0%}), {rest:.0f} ft laid in figure "
        f"eights there; vault V6 from the figure eights to quay ({second / CAN:.0%})",
    )
    (refeed,) = made.data["splits"]["plans"]
    assert refeed["kind"] == "pull and re-feed"
    assert [s["peak_load_N"] for s in refeed["stages"]] == [near(first * LBF), near(second * LBF)]
    assert [s["laid_m"] for s in refeed["stages"]] == [near(rest * FT), 0.0]
    assert [s["off_reel"] for s in refeed["stages"]] == [True, False]


# --- findings and steps ---------------------------------------------------------------------------


def test_cautions_and_nothing_worse(made: Surfaces) -> None:
    rules = [
        "room to pull out the head",
        "cable hangs at a planned stop",
        "rating missing",
        "reel brake",
    ]
    given = [f["rule"] for f in made.data["findings"] if f["severity"] == "caution"]
    assert given == rules
    assert not [f for f in made.data["findings"] if f["severity"] == "stop"]
    shown = [f["rule"] for f in page_findings(made) if f["severity"] == "caution"]
    assert sorted(shown) == sorted(rules)
    for rule in rules:
        assert f"caution {rule}" in made.terminal
        assert f"CAUTION {rule}" in made.sheet
    assert "STOP" not in made.sheet.replace("Emergency STOP", "").replace("STOP, lbf", "")


def _steps() -> tuple[str, ...]:
    brake = f"at least {up(LEAST)} total, at most {down(MOST)}, for the whole pull"
    places = "150 ft, 300 ft, 450 ft, 600 ft, 750 ft, 900 ft of cable in"
    return (
        "HOLD Lock out and tag energized gear within reach; a qualified person verifies it "
        "is de-energized.",
        "HOLD Confined spaces (vaults, pits, shafts): test the air, ventilate, post an "
        "attendant, have rescue ready.",
        "Prove the conduit with a mandrel and swab it; smooth the ends, protect the edges.",
        "HOLD Set the machine at quay, braced against the conduit end; inspect every anchor point.",
        "HOLD Check the nameplate ratings of rope, swivel, grip or eyes, sheaves and anchor "
        "against the load path.",
        "Set the reels at roof in line with the conduit; set the feed-in sheave or guide.",
        f"HOLD Brake the reels: {brake}. Test the brakes before the head goes in.",
        "HOLD At vault V6: post an attendant, set guides and edge protection; hands off "
        "moving cable.",
        "HOLD Test communication between both ends; agree on the stop word.",
        "HOLD Test the emergency stop. Clear everyone from the rope line, the bight and "
        "under the load.",
        "HOLD With the rope slack, zero the gauge. Set the machine's limiter to "
        f"{_down(_lowest_stop())} for the whole pull (the lowest Stop).",
        "Lubricate: 7.3 gal total.",
        "Take up the slack by hand, start in high, increase the load slowly.",
        f"HOLD Cable hangs at the stop with {places}: set the brake before stopping, at least "
        f"{up(STANDS)} total at the reels.",
        f"HOLD At 600 ft of cable in: stop, change to low; expected first move "
        f"{lbf(FIRST[CHANGE])}.",
        f"HOLD Lubricant stops with {places}; expected first moves up to {lbf(PEAK)}.",
        "Compare the gauge with the table. Above Caution, except in a first move: stop and find "
        "the cause. At Stop: stop.",
        "HOLD Pull at most 3.9 ft past the conduit end: then the head is at the machine. Secure "
        "the cable, regrip it behind the head, and pull on to 6.0 ft.",
        f"HOLD Riser: secure the cable at the top ({up(STANDS)}) before slacking the rope.",
        "HOLD Set the cable supports at both ends and in risers before the rope is let down.",
        "Let the rope down slowly under control; stay out of its line until it is slack. Then "
        "remove the head and the machine.",
        # 0.3 m behind eyes, 1 m behind a grip: common practice
        "Cut back at least 1.0 ft of each cable behind the pulling eyes: it was strained by the "
        "pull (common practice, no source; the cable maker's length takes precedence).",
        "Seal every cable end against water as soon as it is cut, at both ends.",
        # 8 x the diameter for training (ICEA S-93-639), rounded up
        "Train and rack phase: minimum bend radius 11.1 in, no tension.",
        "Mark each cable of run F6 at both ends and at every pull point: run, cable, feed end, "
        "date.",
        "HOLD Test insulation and sheath before the cables are connected, by the cable maker's "
        "instructions; write down the values.",
    )


def test_steps_in_order_on_terminal_and_sheet(made: Surfaces) -> None:
    for name, text in made.printed.items():
        start = text.index("Steps")
        for number, step in enumerate(_steps(), 1):
            at = text.find(f"{number}. {step}", start)
            assert at >= 0, (name, number, step)
            start = at + 1


def test_steps_in_order_on_the_phone_and_holds_on_the_page(made: Surfaces) -> None:
    start = 0
    for step in _steps():
        at = made.phone.find(step.removeprefix("HOLD "), start)
        assert at >= 0, step
        start = at + 1
    notes = [plain(n) for n in made.page["words"]["gauge"]["notes"] if n.startswith("HOLD: ")]
    assert notes == [s.replace("HOLD ", "HOLD: ", 1) for s in _steps() if s.startswith("HOLD ")]


def test_steps_in_json(made: Surfaces) -> None:
    found = made.data["steps"]
    assert [step["hold"] for step in found] == [s.startswith("HOLD ") for s in _steps()]
    texts = [step["text"] for step in found]
    for i, text in enumerate(_steps()):
        if not re.search(r" (lbf|ft|in|gal)\b", text):
            assert texts[i] == text.removeprefix("HOLD ")
    held = f"at least {_kn(LEAST, math.ceil)} total, at most {_kn(MOST, math.floor)}"
    assert (
        texts[6]
        == f"Brake the reels: {held}, for the whole pull. Test the brakes before the head goes "
        "in."
    )
    assert f"expected first move {_kn(FIRST[CHANGE], round)}." in texts[14]
    assert f"expected first moves up to {_kn(PEAK, round)}." in texts[15]


def _kn(x: float, rounded: Callable[[float], int]) -> str:
    return f"{rounded(x * LBF / 10) / 100:.2f} kN"
