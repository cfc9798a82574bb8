"""``stock`` in a model file: what it fills, what overrides it, what it says when it misses."""

from __future__ import annotations

import json
import subprocess
import sys
import tomllib
from dataclasses import replace

import pytest
from jsonschema import Draft202012Validator

from route3d.cli.common import PIPE_WIDTH
from route3d.errors import InputError
from route3d.model import Job
from route3d.model.conduit import stock_conduit
from route3d.modelfile.edits import edited_model
from route3d.modelfile.read import loads
from route3d.modelfile.schema import json_schema
from route3d.planning.evaluate import evaluate
from route3d.planning.remedies.edits import (
    Edit,
    OtherConduit,
    OtherFriction,
    Tackle,
    carried_out,
)
from route3d.report.findings import check_report
from route3d.report.json_result import check_data, dumps
from route3d.standards.conduits import conduit_size
from route3d.standards.stock import cable_named
from tests.support.stock_jobs import SI, US

STOCK = 'stock = "600 V XHHW-2 copper 500 kcmil"'


def problems(text: str) -> list[tuple[str, str, str]]:
    with pytest.raises(InputError) as caught:
        loads(text)
    return [(p.where, p.message, p.fix) for p in caught.value.problems]


def phase(job: Job):
    return job.runs[0].cables.items[0][0]


@pytest.mark.parametrize("text", [US, SI])
def test_a_job_by_stock_names_is_short_and_answers(text: str) -> None:
    assert len(text.splitlines()) <= 25
    result = evaluate(loads(text), with_remedies=False)
    assert not result.stops
    Draft202012Validator(json_schema()).validate(tomllib.loads(text))


def test_it_is_the_cable_that_its_figures_make() -> None:
    stock = cable_named("600 V XHHW-2 copper 500 kcmil")
    typed = loads(
        US.replace(
            STOCK,
            'diameter = "0.93 in"\nweight = "1620 lb/kft"\nsidewall_limit = 1000\n'
            'bend_multiple = 12\nvoltage = "0.6 kV"\njacket = "XLPE"\n'
            'conductor = { metal = "copper", area = "500 kcmil" }\nabout = "' + stock.name + '"',
            1,
        )
    )
    named = loads(US)
    ours, theirs = phase(named), phase(typed)
    assert ours.diameter == pytest.approx(theirs.diameter, rel=1e-12)
    assert ours.weight == pytest.approx(theirs.weight, rel=1e-12)
    assert replace(ours, diameter=theirs.diameter, weight=theirs.weight,
                   sidewall_limit=theirs.sidewall_limit) == theirs  # fmt: skip
    assert ours.sidewall_limit == pytest.approx(theirs.sidewall_limit, rel=1e-12)
    assert (ours.stock, theirs.stock) == (stock.name, "")


def test_any_key_given_overrides_the_entry() -> None:
    more = (
        STOCK + '\nweight = "2 lb/ft"\nbend_multiple = 14\njacket = "PVC"\nvoltage = 2\n'
        'shielded = true\nconductor = { metal = "copper", area = "350 kcmil" }'
    )
    job = loads(US.replace(STOCK, more, 1).replace('"lubricated"', '"XLPE jacket, lubricated"'))
    made = phase(job)
    assert (made.bend_multiple, made.jacket, made.voltage) == (14, "PVC", 2000)
    assert made.shielded and made.conductor.size == "350 kcmil"
    assert set(dict(made.tables)) == {"diameter", "sidewall_limit"}
    kinds = {key: job.origins[f"cable.phase.{key}"].kind for key in ("weight", "diameter")}
    assert kinds == {"weight": "given", "diameter": "table"}
    assert job.origins["cable.phase.voltage"].kind == "given"


@pytest.mark.parametrize(
    ("old", "new", "where", "message", "fix"),
    [
        ("XHHW-2 copper 500", "XHHW-2 copper 550", "cable.phase.stock", "no cable",
         'stock = "600 V XHHW-2 copper 500 kcmil"'),
        ("600 V XHHW-2 copper 500 kcmil", "500 kcmil", "cable.phase.stock", "fits 26 cables",
         'stock = "600 V XHHW-2 copper 500 kcmil"'),
        ("PVC-40 4", "PVC-40 4.2", "conduit.duct.stock", "no conduit", 'stock = "PVC-40 4"'),
        ("double braid 3/4", "double brad 3/4", "rope.line.stock", "no rope",
         'stock = "polyester double braid 3/4"'),
        ("6,000 lbf", "7,500 lbf", "machine.puller.stock", "no machine", "capstan 8,000 lbf"),
        ('"lubricated"', '"greased"', "conduit.duct.friction.stock", "lubricated",
         "XLPE jacket, PVC-40 conduit, lubricated"),
        (STOCK, STOCK + "\nweigth = 1", "cable.phase.weigth", "unknown key", "weight"),
        (STOCK, 'about = "nothing else"', "cable.phase.diameter", "diameter is missing", "sheet"),
        ('"PVC-40 4"', '"PVC-40 4"\ntype = "PVC-40"', "conduit.duct.type", "stock defines type",
         "remove type"),
    ],
)  # fmt: skip
def test_a_miss_is_placed_and_names_the_nearest(
    old: str, new: str, where: str, message: str, fix: str
) -> None:
    found = problems(US.replace(old, new, 1))
    assert any(w == where and message in m and fix in f for w, m, f in found), found


def test_what_the_tables_lack_must_be_given() -> None:
    found = problems(SI.replace("weight = 1.25\n", ""))
    assert [(w, m) for w, m, _ in found] == [("cable.ground.weight", "weight is missing")]
    assert "the tables have none" in found[0][2]


# --- where each figure is from -----------------------------------------------------------------


def test_every_figure_has_its_origin() -> None:
    job = loads(US)
    kind = {key: origin.kind for key, origin in job.origins.items()}
    assert kind["conduit.duct.friction.value"] == kind["conduit.duct.friction.low"] == "table"
    assert kind["rope.line.stretch"] == kind["machine.puller.gears"] == "table"
    assert kind["run.F1.cables"] == "given" and kind["run.F1.attach"] == "default"
    assert kind["run.F1.reel.drag"] == kind["practice.rules"] == "assumed"
    assert kind["plan.setup_time"] == "default"
    assert all(o.source is not None for o in job.origins.values() if o.kind == "table")
    typed = loads(US.replace('{ stock = "lubricated" }', "0.3"))
    assert typed.origins["conduit.duct.friction"].kind == "given"
    assert typed.origins["conduit.duct.friction.high"].kind == "default"
    both = loads(US.replace('stock = "lubricated"', 'value = 0.3, stock = "lubricated"'))
    assert both.origins["conduit.duct.friction.value"].kind == "given"
    assert both.origins["conduit.duct.friction.high"].kind == "table"
    assert both.runs[0].route.conduits[0].highest_friction == 0.35
    assert typed == loads(US.replace('{ stock = "lubricated" }', "0.30"))  # origins beside


def printed_check(text: str) -> str:
    from rich.console import Console

    job = loads(text)
    console = Console(width=PIPE_WIDTH, color_system=None)
    with console.capture() as captured:
        console.print(check_report(evaluate(job, with_remedies=False), job.units))
    return captured.get()


def test_what_came_from_tables_is_printed_with_source_and_status() -> None:
    text = printed_check(US)
    assert 'cable phase is stock "600 V XHHW-2 copper 500 kcmil".' in text
    lines = {line.split("  ")[0]: line for line in text.splitlines()}
    assert "1.62 lb/ft" in lines["cable phase: weight"] and "UL 44" in lines["cable phase: weight"]
    assert lines["rope line: friction"].rstrip().endswith("estimate")
    data = json.loads(dumps(check_data(evaluate(loads(US), with_remedies=False))))
    assert data["origins"]["cable.phase.weight"]["status"] == "READ"


def test_a_job_without_stock_prints_no_such_block() -> None:
    typed = US
    for line, instead in (
        (STOCK, 'diameter = 0.93\nweight = 1.62\nsidewall_limit = 1000\nbend_multiple = 12\n'
                'conductor = { metal = "copper", area = "500 kcmil" }'),
        ('stock = "600 V XHHW-2 copper 3 AWG"',
         'diameter = 0.35\nweight = 0.182\nsidewall_limit = 1000\nbend_multiple = 12\n'
         'conductor = { metal = "copper", area = "3 AWG" }'),
        ('stock = "PVC-40 4"', 'type = "PVC-40"\ntrade_size = "4"'),
        ('{ stock = "lubricated" }', "0.235"),
        ('stock = "polyester double braid 3/4"',
         'diameter = 0.75\nweight = 0.164\nfriction = 0.3\nrated_load = 3400\nstretch = 0.018'),
        ('stock = "capstan 6,000 lbf two-speed"', "gears = [{ line_pull = 6000, speed = 10 }]"),
    ):  # fmt: skip
        assert line in typed
        typed = typed.replace(line, instead, 1)
    text = printed_check(typed)
    assert "from table" not in text and "stock" not in text


def test_doubtful_values_are_findings_and_read_ones_are_none() -> None:
    found = evaluate(loads(US), with_remedies=False).runs[0].run_findings
    by = {(f.rule, f.where): f.severity for f in found}
    assert by["value from a table", "rope line"] == "caution"
    assert by["value from a table", "machine puller"] == "caution"
    assert by["friction from a table", "conduit duct"] == "caution"
    assert ("value from a table", "cable phase") not in by
    guess = US.replace("XHHW-2 copper 500", "THHN copper 500").replace(
        '"lubricated"', '"nylon jacket, lubricated"'
    )
    found = evaluate(loads(guess), with_remedies=False).runs[0].run_findings
    (said,) = [f for f in found if f.where == "cable phase" and f.rule == "value from a table"]
    assert said.severity == "caution" and "estimate" in said.fix.template


def by_stock_after(edit: Edit) -> str:
    """The text with a change written, which reads back as it was carried out (or is refused)."""
    job = loads(US)
    made = edited_model(US, job, "F1", [edit], "what was done")
    (run,) = carried_out(job.run("F1"), [edit])
    after = loads(made).runs[0]
    assert after.route.conduits == run.route.conduits
    assert after.machine is not None and run.machine is not None
    for ours, theirs in zip(after.machine.gears, run.machine.gears, strict=True):
        assert ours.name == theirs.name
        assert (ours.line_pull, ours.speed) == pytest.approx((theirs.line_pull, theirs.speed))
    return made


def test_remedies_are_written_beside_stock() -> None:
    job = loads(US)
    duct = job.runs[0].route.conduits[0]
    made = by_stock_after(OtherFriction(duct.name, 0.2, None, None))
    assert 'stock = "lubricated"' not in made and 'stock = "PVC-40 4"' in made
    size = conduit_size("PVC-40", "5")
    keys = ("friction", "friction_low", "friction_high", "friction_source")
    friction = {key: getattr(duct, key) for key in keys}
    larger = stock_conduit(
        "duct", size, job.practice.rule_set, outer=size.outer_diameter or 0.0, **friction
    )
    assert 'stock = "PVC-40 5"' in by_stock_after(OtherConduit(duct.name, larger))
    made = by_stock_after(Tackle("machine", "puller", "line_pull", 40e3, "force"))
    assert 'stock = "capstan 6,000 lbf two-speed"' in made and "gears = [" in made


def test_without_stock_the_index_is_not_loaded() -> None:
    code = (
        "import sys\nfrom route3d.modelfile.read import load\n"
        "from route3d.planning.evaluate import evaluate\n"
        "evaluate(load('models/yard_run.toml'), with_remedies=False)\n"
        "print('route3d.standards.stock' in sys.modules)\n"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "False"
