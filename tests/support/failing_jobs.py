"""Random jobs as model files, most of which something stops: for what is advised about them."""

from __future__ import annotations

import numpy as np

_CABLES = (  # diameter in, weight lb/ft, area
    (0.9, 0.9, "4/0 AWG"),
    (1.387, 1.795, "350 kcmil"),
    (1.77, 3.1, "750 kcmil"),
)
_SIZES = ("3", "4", "5", "6")


def random_job(seed: int) -> str:
    """The text of a model file: one run of straights, bends, risers and pull points, US units."""
    draw = np.random.default_rng(seed)
    diameter, weight, area = _CABLES[draw.integers(len(_CABLES))]
    size, rider = _SIZES[draw.integers(len(_SIZES))], draw.random() < 0.25
    reel_tension = draw.choice(["auto", "auto", "auto", str(int(draw.uniform(50, 900)))])
    pull = int(draw.uniform(10, 150)) * 100
    attach = draw.choice(["pulling eyes", "pulling eyes", "basket grip"])
    lines = [
        f'title = "Random {seed}"',
        'units = "US"',
        "[cable.phase]",
        f"diameter = {diameter}",
        f"weight = {weight}",
        f'conductor = {{ metal = "{draw.choice(["copper", "aluminum"])}", area = "{area}" }}',
        f"sidewall_limit = {int(draw.uniform(2, 12)) * 100}",
        f"bend_multiple = {int(draw.uniform(6, 15))}",
        'jacket = "PVC"',
    ]
    if rider:
        lines += [
            "[cable.control]",
            "diameter = 0.5",
            "weight = 0.2",
            'conductor = { metal = "copper", area = "12 AWG", count = 3 }',
            "sidewall_limit = 300",
            "bend_multiple = 8",
        ]
    lines += [
        "[conduit.duct]",
        'type = "PVC-40"',
        f'trade_size = "{size}"',
        f"friction = {draw.uniform(0.15, 0.4):.2f}   # as measured",
        "[conduit.steel]",
        'type = "RMC"',
        f'trade_size = "{size}"',
        "friction = { value = 0.35, low = 0.2, high = 0.45 }",
        "[rope.line]",
        "diameter = 0.75",
        "weight = 0.16",
        f"friction = {draw.uniform(0.1, 0.25):.2f}",
        f"rated_load = {int(draw.uniform(15, 150)) * 100}",
        "stretch = 0.012",
        "[machine.puller]",
        f'gears = [{{ name = "high", line_pull = {pull // 2}, speed = 35 }}, '
        f'{{ name = "low", line_pull = {pull}, speed = 14 }}]',
        f"boom_rating = {int(draw.uniform(60, 200)) * 100}",
        "[rigging.head]",
        f"swivel_rating = {int(draw.uniform(40, 150)) * 100}",
        "eye_rating = 8000",
        "[anchor.truck]",
        'kind = "vehicle"',
        f"weight = {int(draw.uniform(150, 400)) * 100}",
        "friction = 0.5",
        f"drawbar_rating = {int(draw.uniform(60, 200)) * 100}",
        "[reel.berth]",
        "diameter = 66",
        "width = 42",
        f"sheave_radius = {int(draw.uniform(14, 36))}",
    ]
    if draw.random() < 0.3:
        lines += ["feed_turn = 90", f"feed_efficiency = {draw.uniform(0.75, 0.95):.2f}"]
    led = draw.random() < 0.3
    if led:
        lines += ["[sheave.pit]", f"radius = {int(draw.uniform(12, 60))}", "rating = 12000"]
        lines += ["efficiency = 0.95"]
    lines += [
        "[[run]]",
        'name = "F1"',
        f"cables = {{ phase = 3{', control = 1' if rider else ''} }}",
        f'attach = "{attach}"',
        f"reel_tension = {reel_tension if reel_tension != 'auto' else chr(34) + 'auto' + chr(34)}",
        'rope = "line"',
        'machine = "puller"',
        'anchor = "truck"',
        'rigging = "head"',
        'reel = "berth"',
    ]
    if led:
        lines.append('lead_off = [{ sheave = "pit", turn = 90, distance = 4 }]')
    lines += ["route = [", *_route(draw), "]", "[practice]", 'rules = "NFPA 70"']
    return "\n".join(lines) + "\n"


def _route(draw: np.random.Generator) -> list[str]:
    """Rows of a route that turns square, level or plumb, with a pull point here and there."""
    at, rows = np.array([0.0, 0.0, -4.0]), []
    ends = ['"reel", "machine"', '"reel", "machine"', '"reel", "machine"', '"reel"', '"machine"']
    rows.append(
        f'  {{ at = [0, 0, -4], name = "start", access = [{draw.choice(ends)}], '
        'conduit = "duct" },'
    )
    heading = np.array([1.0, 0.0, 0.0])
    count = int(draw.integers(2, 6))
    for k in range(count):
        long = draw.random() < 0.5
        at = at + heading * (int(draw.uniform(60, 250)) if long else int(draw.uniform(12, 60)))
        point = ", ".join(f"{v:g}" for v in at)
        if draw.random() < 0.2 and k:
            rows.append(
                f'  {{ at = [{point}], name = "vault {k}", access = ["reel", "machine"] }},'
            )
            continue
        steel = ', conduit = "steel"' if draw.random() < 0.25 else ""
        radius = draw.choice([18, 36, 36, 48, 48, 48, 60])
        rows.append(f"  {{ at = [{point}], bend = {radius}{steel} }},")
        turns = [v for v in np.vstack((np.eye(3), -np.eye(3))) if abs(v @ heading) < 0.5]
        level = [v for v in turns if v[2] == 0.0]
        heading = (
            level[draw.integers(len(level))]
            if draw.random() < 0.7 and level
            else (turns[draw.integers(len(turns))])
        )
    at = at + heading * int(draw.uniform(8, 200))
    point = ", ".join(f"{v:g}" for v in at)
    rows.append(f'  {{ at = [{point}], name = "finish", access = [{draw.choice(ends)}] }},')
    return rows
