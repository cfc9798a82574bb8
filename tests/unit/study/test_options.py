"""Options against hand-edited model files, a plain definition of efficiency, costs by hand."""

from __future__ import annotations

import csv
import json
import math
from collections.abc import Callable
from dataclasses import replace
from functools import partial
from io import BytesIO, StringIO
from itertools import combinations
from pathlib import Path

import numpy as np
import pytest
from rich.console import Console

import route3d
from route3d.api import StudiedOptions
from route3d.cli.main import main
from route3d.modelfile import option_file
from route3d.planning.summary import summaries
from route3d.report.study_options import options_report
from route3d.study.options.given import GivenOption, GivenOptions
from route3d.study.options.outcome import Option, Options
from route3d.study.options.ranking import RANKED_BY, efficient, figures, ranked

MODELS = Path(route3d.__file__).parents[1] / "models"
YARD = MODELS / "yard_run.toml"
TEXT = YARD.read_text(encoding="utf-8").split("# Compared with the job")[0]
BIG_DUCT = '[conduit."6-inch"]\ntype = "PVC-40"\ntrade_size = "6"\nfriction = 0.25\n'
OTHERS = (
    BIG_DUCT
    + '[machine.tandem]\ngears = [{ name = "one", line_pull = 16000, speed = 12 }]\n'
    + "weight = 3200\nmin_load = 50\nboom_rating = 18000\nline_height = 3\n"
    + "[rope.thin]\ndiameter = 0.5\nweight = 0.1\nfriction = 0.2\nrated_load = 9000\n"
    + "stretch = 0.01\n"
)


def solved(folder: Path, text: str, **more: object) -> StudiedOptions:
    """The options of a text for the yard run, both written to files."""
    model, file = folder / "yard.toml", folder / "options.toml"
    model.write_text(TEXT)
    file.write_text(text)
    return route3d.options(route3d.load(model), file, **more)  # type: ignore[arg-type]


@pytest.fixture
def study(tmp_path: Path) -> Callable[..., StudiedOptions]:
    return partial(solved, tmp_path)


Study = Callable[..., StudiedOptions]


def named(found: StudiedOptions, name: str) -> Option:
    return next(o for answer in found.answers for o in answer.options if o.name == name)


# --- each kind of change --------------------------------------------------------------------------


def changed(*pairs: tuple[str, str]) -> str:
    text = TEXT
    for old, new in pairs:
        assert old in text
        text = text.replace(old, new)
    return text


ROUTE = TEXT.partition("route = [\n")[2].partition("]\n\n[[site.room]]")[0]
ROWS_OF = ROUTE.splitlines()
# 100 ft along the first leg, which falls 1 ft in 350.
NEW_ROW = '  { at = [100, 0, -4.285714285714286], name = "N", access = ["reel", "machine"] },'


def route_of(*rows: str) -> str:
    """The model with these rows of a route; the first of them names the conduit."""
    first = rows[0] if "conduit" in rows[0] else rows[0].replace(" },", ', conduit = "duct" },')
    return TEXT.replace(ROUTE, "\n".join([first, *rows[1:], ""]))


KINDS: dict[str, tuple[str, list[str]]] = {
    "changes": (
        'changes = { conduit.duct.friction = 0.18, run.Y1.attach = "basket grip" }',
        [changed(("friction   = 0.25", "friction = 0.18"), ("pulling eyes", "basket grip"))],
    ),
    "friction": (
        "friction = { duct = { value = 0.2, low = 0.1, high = 0.3 } }",
        [changed(("friction   = 0.25", "friction = { value = 0.2, low = 0.1, high = 0.3 }"))],
    ),
    "friction that falls": (
        'friction = { duct = { value = 0.25, above = 60, then = 0.1, test_report = "T-1" } }',
        [
            changed(
                (
                    "friction   = 0.25",
                    'friction = { value = 0.25, above = 60, then = 0.1, test_report = "T-1" }',
                )
            )
        ],
    ),
    "conduit": (
        'conduit = { duct = "6-inch" }',
        [changed(('trade_size = "5"', 'trade_size = "6"'))],
    ),
    "all bends": ("bends = { all = 60 }", [changed(('bend = "48 in"', "bend = 60"))]),
    "a bend": (
        'bends = { "bend 2" = "7 ft" }',
        [changed(('[350, 420, -5], bend = "48 in"', '[350, 420, -5], bend = "84 in"'))],
    ),
    "machine": (
        'machine = "tandem"',
        [changed(('machine = "puller"', 'machine = "tandem"')) + OTHERS],
    ),
    "rope": ('rope = "thin"', [changed(('rope    = "line"', 'rope = "thin"')) + OTHERS]),
    "parts": (
        "parts = [{ phase = 2 }, { phase = 1 }]",
        [changed(("{ phase = 3 }", f"{{ phase = {count} }}")) for count in (2, 1)],
    ),
    "a pull point": (
        'places = ["pull vault V2"]',
        [route_of(*ROWS_OF[:5]), route_of(*ROWS_OF[4:])],
    ),
    "a place": (
        f"places = [{100 * math.hypot(350, 1) / 350!r}]",
        [route_of(ROWS_OF[0], NEW_ROW), route_of(NEW_ROW, *ROWS_OF[1:])],
    ),
}


@pytest.fixture(scope="module")
def kinds(tmp_path_factory: pytest.TempPathFactory) -> StudiedOptions:
    """All kinds of change, each an option of one file."""
    folder = tmp_path_factory.mktemp("kinds")
    options = "".join(f'[[option]]\nname = "{kind}"\n{keys}\n' for kind, (keys, _) in KINDS.items())
    return solved(folder, OTHERS + options)


@pytest.mark.parametrize("kind", KINDS)
def test_an_option_is_the_model_file_edited_by_hand(
    kinds: StudiedOptions, tmp_path: Path, kind: str
) -> None:
    """Utilization, friction margin and crew time of the worst pull to the last digits."""
    found, pulls = named(kinds, kind), []
    for number, text in enumerate(KINDS[kind][1]):
        file = tmp_path / f"edited{number}.toml"
        file.write_text(text.replace('can_splice = ["pull vault V2"]\n', ""))
        pulls += summaries(route3d.evaluate(route3d.load(file), with_remedies=False))
    assert not found.error
    assert [p.utilization for p in found.pulls] == pytest.approx(
        [p.utilization for p in pulls], rel=1e-12
    )
    assert [p.crew_time for p in found.pulls] == pytest.approx([p.crew_time for p in pulls])
    assert found.utilization == max(p.utilization for p in found.pulls)
    assert found.setups == len(pulls)
    assert found.friction_margin == pytest.approx(min(p.margin or 0.0 for p in pulls), rel=1e-9)
    assert found.passes == (not any(p.stops for p in pulls))
    if kind == "friction that falls":
        assert found.utilization < 0.95 * named(kinds, "as modeled").utilization


def test_as_modeled_is_what_check_and_plan_say(kinds: StudiedOptions) -> None:
    found = named(kinds, "as modeled")
    rows = {row["option"]: row for row in kinds.rows()}
    assert set(rows) == {"as modeled", *KINDS}
    assert rows["as modeled"]["utilization"] == found.utilization
    assert "sidewall" in kinds.html()
    (line,) = summaries(route3d.evaluate(route3d.load(YARD), with_remedies=False))
    assert (found.utilization, found.stops, found.feed) == (
        line.utilization,
        line.reasons,
        line.feed,
    )


def test_placed_vaults_are_never_worse_than_given_ones(study: Study) -> None:
    """The hardest part is no harder than with any of a row of given places; the rule is kept."""
    rule = "vault_length = 12\n[[no_vault]]\nfrom = 120\nto = 'pull vault V1'\n"
    given = "".join(
        f'[[option]]\nname = "{at}"\nplaces = [{at}, "pull vault V2"]\n'
        for at in range(150, 1500, 180)
    )
    found = study(f'{rule}[[option]]\nname = "placed"\nvaults = 1\n{given}')
    placed = named(found, "placed")
    others = [o for o in found.answers[0].solved if o.vaults and o is not placed]
    assert len(others) > 3
    assert placed.utilization <= min(o.utilization for o in others) * (1 + 1e-6)
    for option in (placed, *others):
        (at,) = (v / 0.3048 for v in option.vaults)
        assert not 114 < at < 548.28 + 6  # 350 + 200 ft and a bend of 4 ft to vault V1
        assert "it is in no_vault 120.0 ft to pull vault V1 (548.3 ft)" in named(found, "150").error
    assert placed.crew_time == pytest.approx(
        sum(p.crew_time or 0 for p in placed.pulls) + 14400 * (len(placed.pulls) - 1)
    )


def test_sets_side_by_side_share_their_vaults(study: Study) -> None:
    """The harder set counts: no given place makes the hardest pull of both easier."""
    parts = "parts = [{ phase = 2 }, { phase = 1 }]\n"
    given = "".join(
        f'[[option]]\nname = "{at}"\nplaces = [{at}, "pull vault V2"]\n{parts}' for at in (400, 560)
    )
    found = study(f'[[option]]\nname = "placed"\nvaults = 1\n{parts}{given}')
    placed = named(found, "placed")
    assert [p.cables for p in placed.pulls] == ["2 x phase"] * 3 + ["1 x phase"] * 3
    others = [named(found, name).utilization for name in ("400", "560")]
    assert placed.utilization <= min(others) * (1 + 1e-6)


def test_a_vault_without_a_length_is_a_meter_long(study: Study) -> None:
    """Half of it to each side of its middle; what is assumed, and why not elsewhere, is printed."""
    rule = "[[no_vault]]\nfrom = 'pull vault V1'\nto = 1400\nwhy = 'fuel pier'\n"
    option = '[[option]]\nname = "{}"\nplaces = [{}]\n'
    text = "".join(option.format(at, at) for at in (1401.6, 1401.7))
    found = study(f'{rule}{text}[[option]]\nname = "placed"\nvaults = 1\n')
    assert "a vault 3.3 ft long there reaches into no_vault" in named(found, "1401.6").error
    assert not named(found, "1401.7").error and not named(found, "placed").error
    assert "New vault: 3.3 ft long along the route (assumed: " in found.text()
    assert "Splice: 4.0 h each (assumed: " in found.text()
    assert "No new vault from pull vault V1 (548.3 ft)" in found.text()
    assert "to 1,400.0 ft: fuel pier." in found.text()
    whole = study('[[no_vault]]\nfrom = 0\nto = 1534\n[[option]]\nname = "x"\nvaults = 1\n')
    assert "no place for a vault outside of no_vault 0.0 ft to 1,534" in named(whole, "x").error


# --- ranking --------------------------------------------------------------------------------------


def option(
    share: float, setups: int, time: float | None, cost: float | None, stops: bool
) -> Option:
    stop = ("sidewall pressure",) if stops else ()
    return Option(f"{share}", (), share, 1.0, setups, time, cost, "", "", "", stop, False)


@pytest.mark.parametrize("seed", range(20))
def test_efficient_is_what_nothing_dominates(seed: int) -> None:
    """Against the definition, each against each; few different figures, so that many are equal."""
    rng = np.random.default_rng(seed)
    size, kinds = int(rng.integers(1, 60)), int(rng.integers(2, 9))
    points = [tuple(map(float, p)) for p in rng.integers(0, kinds, (size, 4))]
    if seed % 3 == 0:
        points = [(*p[:3], math.inf) if p[3] == 0 else p for p in points]
    plain = [
        not any(
            all(a <= b for a, b in zip(q, p, strict=True))
            and any(a < b for a, b in zip(q, p, strict=True))
            for q in points
        )
        for p in points
    ]
    assert efficient(points) == plain


@pytest.mark.parametrize("by", RANKED_BY)
def test_those_that_pass_come_first_by_what_is_asked(by: str) -> None:
    rng = np.random.default_rng(5)
    options = [
        option(
            float(rng.integers(1, 9)) / 8,
            int(rng.integers(1, 4)),
            None if rng.uniform() < 0.2 else float(rng.integers(1, 5)),
            None if rng.uniform() < 0.2 else float(rng.integers(1, 5)),
            bool(rng.uniform() < 0.4),
        )
        for _ in range(40)
    ]
    options.append(Option.unsolved("bad", (), "an error"))
    best = ranked(options, by)
    assert best[-1].error and sorted(o.name for o in best) == sorted(o.name for o in options)
    passing = [o for o in best if o.passes]
    assert best[: len(passing)] == tuple(passing)
    values = [figures(o)[by] for o in passing]
    assert values == sorted(values)
    assert all(o.passes for o in best if o.efficient) and any(o.efficient for o in best)


# --- costs ----------------------------------------------------------------------------------------

COSTS = """
lubricant = "plain"
[[option]]
name = "slick"
friction = { duct = 0.16 }
lubricant = "slick"
extra = { permit = 75, "night work" = 3000 }
[[option]]
name = "cut"
friction = { duct = 0.16 }
places = [100, "pull vault V2"]
[[option]]
name = "apart"
friction = { duct = 0.16 }
parts = [{ phase = 2 }, { phase = 1 }]
conduit = { duct = "6-inch" }
[costs]
currency = "USD"
vault = 14000
bend = 250.5
splice = 2400
setup = 600
crew_hour = 520
conduit = { duct = "30.48 per m", 6-inch = 12 }
lubricant = { plain = "1 per ft", slick = "2 / ft" }
machine_day = { puller = 900 }
day = "4 h"
"""


def test_costs_by_hand(study: Study) -> None:
    found = study(COSTS + BIG_DUCT, by="cost")
    # Ends and points of the route, ft: each bend of 90 degrees and 4 ft is shorter by 2 R - pi R/2.
    length = math.hypot(350, 1) + 200 + 220 + 270 + 280 + math.hypot(220, 1)
    length -= 3 * (2 - math.pi / 2) * 4
    slick, cut, apart = (named(found, name) for name in ("slick", "cut", "apart"))
    assert slick.crew_time is not None and cut.crew_time is not None and apart.crew_time is not None
    assert dict(slick.costs) == pytest.approx(
        {
            "new vaults": 0,
            "bends": 751.5,
            "splices": 0,
            "set-ups": 600,
            "conduit duct": length * 30.48 * 0.3048,
            "lubricant slick": 2 * length,
            "crew": 520 * slick.crew_time / 3600,
            "machine puller": 900,
            "permit": 75,
            "night work": 3000,
        },
        rel=1e-5,  # two of the bends are a little off 90 degrees
    )
    assert slick.cost == pytest.approx(sum(dict(slick.costs).values()), rel=1e-12)
    work = cut.crew_time / 3600 - 8  # of splices
    assert dict(cut.costs) == pytest.approx(
        {
            "new vaults": 14000,
            "bends": 751.5,
            "splices": 4800,
            "set-ups": 1800,
            "conduit duct": length * 30.48 * 0.3048,
            "lubricant plain": length,
            "crew": 520 * (work + 8),
            "machine puller": 900 * math.ceil(work / 4),
        },
        rel=1e-5,
    )
    assert dict(apart.costs)["conduit 6-inch"] == pytest.approx(2 * 12 * length, rel=1e-5)
    assert dict(apart.costs)["bends"] == 2 * 751.5 and apart.setups == 2
    modeled = named(found, "as modeled")  # it has no crew time
    assert modeled.cost is None and "crew" not in dict(modeled.costs)


def test_what_has_no_cost_is_said_and_none_is_invented(study: Study) -> None:
    one = '[[option]]\nname = "x"\nconduit = { duct = "6-inch" }\n'
    found = study(one + BIG_DUCT)
    bare = found.answers[0]
    assert bare.currency == "" and all(o.cost is None and not o.costs for o in bare.options)
    assert "cost" not in found.text()
    one += "extra = { a = 5 }\n" + BIG_DUCT
    priced = study(one + '[costs]\ncurrency = "USD"\nconduit = { duct = 3 }\n')
    # One kind of which nothing is priced by its kind alone; no crew time here, and no splices.
    others = "bends, set-ups, crew hours, machine days"
    assert f"Not priced: {others}, conduit 6-inch. Costs are without these." in priced.text()
    assert named(priced, "x").cost == 5
    only = study('[[option]]\nname = "x"\nvaults = 1\n[costs]\ncurrency = "kr"\nvault = 9\n')
    others = "bends, set-ups, crew hours, conduit, machine days, splices"
    assert f"Not priced: {others}. " in only.text()
    assert "Cheapest that passes, of what is priced: x, 9 kr, " in only.text()


# --- combinations ---------------------------------------------------------------------------------

COMBINED = """
combine = true
[[option]]
name = "slick"
friction = { duct = 0.16 }
[[option]]
name = "slicker"
changes = { conduit.duct.friction = 0.12 }
[[option]]
name = "bigger"
conduit = { duct = "6-inch" }
[[option]]
name = "wide"
bends = { all = 60 }
[[option]]
name = "wide first"
bends = { "bend 1" = 60 }
"""


def combined(given: GivenOptions, *failed: int) -> tuple[dict[str, GivenOption], tuple[str, ...]]:
    assert given.together is not None
    options, notes = given.together(frozenset(failed))
    return {option.name: option for option in options}, notes


def read(tmp_path: Path, text: str) -> GivenOptions:
    model, file = tmp_path / "yard.toml", tmp_path / "options.toml"
    model.write_text(TEXT)
    file.write_text(text)
    return option_file.read_options(file, route3d.load(model))


def test_combinations_leave_out_what_changes_the_same(tmp_path: Path) -> None:
    options, _ = combined(read(tmp_path, COMBINED + BIG_DUCT))
    friction, bends = ("", "slick", "slicker"), ("", "wide", "wide first")
    plain = {
        " + ".join(p for p in parts if p)
        for f in friction
        for b in ("", "bigger")
        for w in bends
        if sum(map(bool, parts := (f, b, w))) > 1
    }
    assert set(options) == plain
    both = options["slick + bigger"]
    assert both.job is not None
    ducts = {(c.name, c.trade_size, c.friction) for c in both.job.runs[0].route.conduits}
    assert ducts == {("6-inch", "6", 0.16)}


def test_combinations_are_bounded_and_it_is_said(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(option_file, "MOST_WAYS", 8)
    found = read(tmp_path, COMBINED + BIG_DUCT)
    options, notes = combined(found)
    assert len(found.options) + len(options) == 8
    assert notes[0].startswith("Not all combinations were solved: the first 3")


USELESS = """
combine = true
[[option]]
name = "slick"
friction = { duct = 0.16 }
[[option]]
name = "inside"
places = [100]
[[option]]
name = "as it is"
friction = { duct = 0.25 }
[[option]]
name = "slick again"
changes = { conduit.duct.friction = 0.16 }
[[option]]
name = "strong"
machine = "tandem"
[[option]]
name = "cut"
places = [560]
[[no_vault]]
from = 60
to = 140
"""


def test_combinations_leave_out_what_fails_alone_or_changes_nothing(study: Study) -> None:
    found = study(USELESS + OTHERS)
    names = {o.name for o in found.answers[0].options if " + " in o.name}
    three = {"slick", "strong", "cut"}
    pairs = {frozenset(p) for k in (2, 3) for p in combinations(three, k)}
    assert {frozenset(name.split(" + ")) for name in names} == pairs
    text = found.text()
    assert "Not in combinations, because not solved alone: inside." in text
    assert "because nothing changes: as it is." in text
    assert "because another option changes the same: slick again (as slick)." in text
    assert text.count("it is in no_vault 60.0 ft to 140.0 ft") == 1


def shown(options: list[Option]) -> str:
    answer = Options("Yard", "Y1", ranked(options, "utilization"))
    out = Console(width=120, file=StringIO())
    out.print(options_report(route3d.Job("Yard"), [answer], "US"))
    return out.file.getvalue()  # type: ignore[attr-defined]


def test_of_many_options_the_table_has_the_best() -> None:
    names = [*(f"o{k}" for k in range(24)), "as modeled"]
    options = [
        replace(option(0.5 + 0.01 * k, 1, 1.0, 1.0, k >= 22), name=name)
        for k, name in enumerate(names)
    ]
    text = shown(options[::-1])
    first = [line.split()[0] for line in text.splitlines() if line.startswith("o")]
    assert first[1:] == names[:20] and "\nas modeled " in text
    assert "Not shown: 4 more options. 22 of 25 pass. " in text


def test_a_combination_that_adds_nothing_is_counted_not_shown() -> None:
    options = [replace(option(0.5, 1, 1.0, 1.0, False), name=name) for name in ("a", "b", "c")]
    options[1:] = [replace(o, same_as="a") for o in options[1:]]
    assert [o.name for o in ranked(options, "cost") if o.efficient] == ["a"]
    text = shown(options)
    assert "\na " in text and "\nb " not in text and "\nc " not in text
    assert "Not shown: 2 combinations with the same figures" in text


# --- bad input ------------------------------------------------------------------------------------

ROWS = [
    ("friction = { dct = 0.2 }", 3, "no run is in a conduit named 'dct'; did you mean 'duct'"),
    ('friction = { duct = "x" }', 3, "friction.duct: 'x' is not a number"),
    ('conduit = { duct = "7-inch" }', 3, "neither file has a conduit named '7-inch'"),
    ('bends = { "bend 9" = 60 }', 1, "no bend 'bend 9'; its bends: bend 1, bend 2, bend 3"),
    ("bends = { all = 60000 }", 1, "of straight"),
    ('bends = { all = "60 lb" }', 3, "'60 lb' is a mass"),
    ("frction = 1", 3, "unknown key 'frction'; did you mean 'friction'"),
    ("places = [5000]", 1, "the run is 1,534.9 ft long"),
    ("places = [100]", 1, "it is in no_vault 60.0 ft to 140.0 ft: ducts of {water}"),
    ("places = [142]", 1, "a vault 12.0 ft long there reaches into no_vault 60.0 ft to"),
    ("places = [360]", 1, "a bend or an end is nearer than 12.0 ft"),
    ("places = [347]", 1, "the conduit bends there"),
    ("places = [300, 300]", 1, "two of the vaults stand at the same place"),
    ('places = ["V9"]', 1, "no pull point named 'V9'"),
    ("places = [-5]", 3, "-5 is below the minimum"),
    ("vaults = 99", 3, "99 must be between 1 and 10"),
    ("vaults = 1\nplaces = [300]", 4, "stands beside vaults"),
    ("parts = [{ phase = 2 }, { phase = 2 }]", 1, "the parts add up to 4 x phase"),
    ("parts = [{ phase = 3 }]", 3, "has one part"),
    ('machine = "big"', 3, "there is no machine 'big'"),
    ('runs = ["Y9"]\nvaults = 1', 3, "no run named 'Y9'"),
    ("changes = { run.Y1.reel_tension = -3 }", 3, "-3 is below the minimum"),
    ("changes = { cable.phse.weight = 2 }", 3, "did you mean 'phase'"),
    ("extra = { permit = 5 }", 3, "is a cost, and the file has no costs"),
    ("extra = { permit = -5 }", 3, "-5 is not an amount of money"),
]


def test_a_bad_option_stops_no_other(study: Study, tmp_path: Path) -> None:
    """Each error in its row, with its line; what is good is solved beside it."""
    lines, text = [], "vault_length = 12\n[[no_vault]]\nfrom = 60\nto = 140\n"
    text += "why = 'ducts of {water}'\n"
    for number, (keys, line, _) in enumerate(ROWS):
        lines.append(text.count("\n") + line)
        text += f'[[option]]\nname = "{number}"\n{keys}\n'
    text += '[[option]]\nname = "good"\nfriction = { duct = 0.16 }\n'
    found = study(text)
    assert found.errors and named(found, "good").passes
    for number, (_, _, said) in enumerate(ROWS):
        error = named(found, str(number)).error
        assert said in error, (number, error)
        place = f"{tmp_path / 'options.toml'}:{lines[number]}: "
        # its key in this file, or its name: no key of the model
        assert error.startswith((f"{place}option[{number}]", f"{place}option {number}: ")), error


ONE = '[[option]]\nname = "a"\nfriction = { duct = 0.2 }\n'
PAID = f'{ONE}[costs]\ncurrency = "USD"\n'


@pytest.mark.parametrize(
    ("text", "line", "said"),
    [
        ("option = 3", 1, "3 is not a list"),
        ("[[option]\n", 1, r"expected '\]\]'"),
        ("optin = 3\n", 1, "unknown key 'optin'"),
        (f"{ONE}{ONE}", 5, "another option is named 'a' already"),
        (f"{ONE}[costs]\nvault = 3\n", 4, "currency is missing"),
        (f'{PAID}vault = "3 lb"\n', 6, "is not an amount of money"),
        (f"{PAID}conduit = {{ dct = 3 }}\n", 6, "did you mean 'duct'"),
        (f'{PAID}conduit = {{ duct = "3 per lb" }}\n', 6, "lb"),
        (f"{PAID}machine_day = {{ puller = 3 }}\n", 4, "day is missing"),
        (
            f'{ONE}[costs]\ncurrency = "USD"\nlubricant = {{ wax = 3 }}\n',
            6,
            "lubricant named 'wax'",
        ),
        (f"{ONE}[[no_vault]]\nfrom = 10\n", 4, "to is missing"),
        (f'{ONE}[[no_vault]]\nfrom = 10\nto = "V9"\n', 4, "no run has a point named 'V9'"),
        (f"{ONE}[[no_vault]]\nfrom = 10\nto = 9000\n", 4, "beyond the end of the route"),
        (f"{ONE}[[no_vault]]\nfrom = 900\nto = 100\n", 4, "900.0 ft to 100.0 ft runs backward"),
        ("", None, "no option to compare"),
        (f'{ONE}[[no_vault]]\nfrom = 1\nto = 2\nrun = "Y2"\n', 7, "no run named 'Y2'"),
        (f'{ONE}[conduit.duct]\ntype = "PVC-40"\n', 4, "a conduit named 'duct' already"),
        (f'{ONE}[conduit.new]\ntype = "PVC-40"\n', 4, "friction is missing"),
    ],
)
def test_a_mistake_outside_of_options_has_its_line(
    study: Study, text: str, line: int | None, said: str
) -> None:
    with pytest.raises(route3d.InputError, match=said) as caught:
        study(text)
    assert caught.value.problems[0].line == line
    assert caught.value.problems[0].file.endswith("options.toml")


# --- the command ----------------------------------------------------------------------------------


def test_the_example_file_is_solved_and_written(
    capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    file = MODELS / "options" / "yard_run.toml"
    outs = [str(tmp_path / name) for name in ("x.csv", "x.xlsx")]
    call = ["study", "options", str(YARD), str(file), "--by", "cost", "--json"]
    assert main([*call, "--csv", outs[0], "--xlsx", outs[1]]) == 0
    (run,) = json.loads(capsys.readouterr().out)["runs"]
    names = [o["option"] for o in run["options"]]
    assert len(names) == 8 and run["currency"] == "USD" and run["by"] == "cost"
    costs = [o["cost"] for o in run["options"] if o["must_not_be_pulled"] is False]
    assert costs == sorted(costs) and len(costs) >= 3
    with Path(outs[0]).open(newline="") as lines:
        rows = list(csv.DictReader(lines))
    assert [row["option"] for row in rows] == names
    assert float(rows[0]["cost USD"]) == pytest.approx(costs[0], abs=1e-3)
    from openpyxl import load_workbook

    (page,) = load_workbook(BytesIO(Path(outs[1]).read_bytes())).worksheets
    assert [cell.value for cell in page["B"]][1:] == names


def test_exit_codes(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    call = ["study", "options", str(YARD)]
    file = tmp_path / "o.toml"
    assert main([*call, "--vaults", "2", "--not-between", "30 to pull vault V1"]) == 0
    out = capsys.readouterr().out
    assert "1 new vault" in out and "2 new vaults" in out and "Lowest utilization: " in out
    file.write_text(ONE.replace("0.2", "0.24"))
    assert main([*call, str(file)]) == 1
    assert "No option passes. Lowest utilization: a, " in capsys.readouterr().out
    file.write_text(ONE.replace("duct", "dct"))
    assert main([*call, str(file), "--vaults", "1"]) == 2
    for more in (
        [],
        ["--combine"],
        ["--vaults", "0"],
        ["--vaults", "1", "--by", "cost"],
        ["--by", "looks"],
    ):
        assert main([*call, *more]) == 2
        assert "route3d" not in capsys.readouterr().out


def test_the_page_names_every_key() -> None:
    page = (Path(route3d.__file__).parent / "docs/study_options.md").read_text(encoding="utf-8")
    for entry in (
        option_file.OptionsEntry,
        option_file.OptionEntry,
        option_file.NoVaultEntry,
        option_file.CostsEntry,
    ):
        for name, field in entry.model_fields.items():
            key = field.alias or name
            assert f"`{key}`" in page or f"`[{key}]`" in page or f"`[[{key}]]`" in page
