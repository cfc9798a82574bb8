"""The section of a bank at a station, measured on the drawing."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from route3d.drawing.bank_section import bank_section
from route3d.drawing.bank_station import WIDTH, bank_station
from route3d.drawing.marks import Line, Ring, Shape, Text
from route3d.drawing.picture import Picture
from route3d.errors import InputError
from route3d.geometry.grade import Grade, grade_through
from route3d.model import AssignedDuct, Bank, Practice
from route3d.planning.bank import BankResult, evaluate_bank
from tests.support import jobs
from tests.support.jobs import at, conduit, lay

# With ducts of 0.14 m: 0.7 m wide and 0.5 m high.
BANK = Bank(
    "F1",
    2,
    3,
    (0.2, 0.2),
    0.08,
    ducts=(AssignedDuct(1, 2, "F7"),),
    trench_side=0.15,
    trench_slope=0.5,
    bedding=0.1,
)


def result(grade: Grade, bank: Bank = BANK) -> BankResult:
    points = (at((0, 0, -2)), at((20, 0, -2), 1.5), at((20, 0, 4)))
    run = jobs.run(lay(*points, conduits=conduit()), jobs.cable())
    return evaluate_bank(bank, run, Practice(), grade)


def words(picture: Picture) -> list[str]:
    return [mark.text for mark in picture.marks if isinstance(mark, Text)]


def lines(picture: Picture, width: float, dash: str = "") -> list[np.ndarray]:
    return [
        np.asarray(m.points)
        for m in picture.marks
        if isinstance(m, Line) and m.width == width and m.dash == dash
    ]


def test_trench_ground_and_bank_are_to_scale() -> None:
    picture = bank_station(result(Grade(given=True)), 10.0, "SI")
    (ground,) = lines(picture, 1.8)
    left, right, floor = lines(picture, 1.0, "7 4")
    # Floor 0.7 + 0.3 m, depth 2 + 0.25 + 0.1 m, each side out by half of that.
    per_m = float(np.ptp(floor[:, 0]))
    assert float(floor[0, 1] - ground[0, 1]) / per_m == pytest.approx(2.35)
    for side in (left, right):
        assert float(np.ptp(side[:, 0])) / per_m == pytest.approx(2.35 / 2)
        assert float(side[:, 1].min()) == pytest.approx(float(ground[0, 1]))
    concrete = next(m for m in picture.marks if isinstance(m, Shape) and m.fill == "concrete")
    box = np.asarray(concrete.points)
    np.testing.assert_allclose(np.ptp(box, axis=0) / per_m, (0.7, 0.5))
    assert float(box[:, 1].min() - ground[0, 1]) / per_m == pytest.approx(1.75)
    said = words(picture)
    assert {"1.75 m cover", "2.35 m deep", "1,000.0 mm trench", "F7"} <= set(said)
    assert said.count("no run assigned") == 5
    # The bank once more, larger, with the numbers of its ducts.
    assert "The bank, larger" in said and {"1-1", "2-3"} <= set(said)
    assert len([m for m in picture.marks if isinstance(m, Ring)]) == 2 * 2 * 6


def test_the_ground_leans_as_it_does_across() -> None:
    """Ground that falls 0.2 to the right (-y, looking along x)."""
    corners = [(x, y, 0.2 * y) for x in (-30.0, 60.0) for y in (-40.0, 40.0)]
    picture = bank_station(result(grade_through(np.array(corners))), 10.0, "SI")
    (ground,) = lines(picture, 1.8)
    slope = (ground[-1, 1] - ground[0, 1]) / (ground[-1, 0] - ground[0, 0])
    assert slope == pytest.approx(0.2)  # down the sheet
    left, right, _ = lines(picture, 1.0, "7 4")
    assert np.ptp(left[:, 0]) > np.ptp(right[:, 0])


def test_in_a_riser_there_is_no_ground() -> None:
    picture = bank_station(result(Grade(given=True)), 20.0, "SI")
    assert not lines(picture, 1.8)
    assert "no ground drawn" in words(picture)


def test_above_grade_there_is_no_concrete() -> None:
    picture = bank_station(result(Grade(given=True)), 24.0, "SI")
    assert "none here" in words(picture)


def test_where_the_ground_is_not_known_the_concrete_is_drawn() -> None:
    corners = [(x, y, 0.0) for x in (-5.0, 8.0) for y in (-9.0, 9.0)]
    picture = bank_station(result(grade_through(np.array(corners))), 12.0, "SI")
    told = words(picture)
    assert told[told.index("ground") + 1] == "not known here"
    assert told[told.index("concrete") + 1] == "700.0 mm by 500.0 mm"
    assert not lines(picture, 1.0, "7 4")


def test_a_bank_partly_buried_says_how_much() -> None:
    """The ground 1.9 m down, the middle 2 m down: 0.25 + 0.1 m below, 0.15 m above."""
    told = words(bank_station(result(Grade(-1.9, given=True)), 10.0, "SI"))
    assert told[told.index("rises above the ground") + 1] == "150.0 mm"
    assert told[told.index("below the ground") + 1] == "350.0 mm"
    above = bank_station(result(Grade(-2.3, given=True)), 10.0, "SI")
    assert not lines(above, 1.0, "7 4")


def test_words_of_dimensions_stand_free_of_lines() -> None:
    """The corner points of the words of dimensions, and those of lines, by shapely."""
    import shapely

    for level in (0.0, -1.9, 4.0):
        found = result(Grade(level, given=True))
        for picture in (bank_station(found, 10.0, "SI"), bank_section(found, "SI")):
            drawn = [m for m in picture.marks if isinstance(m, Line) and len(m.points) > 1]
            rows = shapely.linestrings([np.asarray(m.points)[[0, -1]] for m in drawn])
            for word in (m for m in picture.marks if isinstance(m, Text) and m.back):
                left, top, right, bottom = word.box
                box = shapely.box(left + 1, top + 1, right - 1, bottom - 1)
                crossed = [drawn[i] for i in np.flatnonzero(shapely.intersects(rows, box))]
                assert not crossed, (level, word.text)


def test_a_bank_that_leans_is_drawn_leaning() -> None:
    """Left, then up and left: on the way out the rows lie turned."""
    points = (at((0, 0, -6)), at((20, 0, -6), 2.0), at((20, 9, -4), 2.0), at((10, 18, -3)))
    run = jobs.run(lay(*points, conduits=conduit()), jobs.cable())
    found = evaluate_bank(BANK, run, Practice(), Grade(given=True))
    picture = bank_station(found, found.center.length - 1.0, "SI")
    concrete = next(m for m in picture.marks if isinstance(m, Shape) and m.fill == "concrete")
    edge = np.asarray(concrete.points)[1] - np.asarray(concrete.points)[0]
    turned = math.degrees(math.atan2(edge[1], edge[0]))
    told = words(picture)
    angle = float(told[told.index("rows tilt") + 1].rstrip("°"))
    assert abs(turned) == pytest.approx(angle, abs=0.06)
    assert angle > 1


def test_everything_is_on_the_sheet_at_three_sizes() -> None:
    for rows, columns, depth in ((1, 1, 0.0), (4, 6, 0.0), (20, 20, 30.0)):
        bank = replace(BANK, rows=rows, columns=columns, ducts=())
        points = (at((0, 0, -2.5 - depth)), at((20, 0, -2.5 - depth)))
        run = jobs.run(lay(*points, conduits=conduit()), jobs.cable())
        found = evaluate_bank(bank, run, Practice(), Grade(given=True)) if rows < 20 else None
        if found is None:  # solving 400 ducts takes too long here: the first stands for all
            one = evaluate_bank(replace(bank, rows=1, columns=1), run, Practice(), Grade())
            ducts = tuple(
                replace(one.ducts[0], row=r, column=c, offset=(0.2 * c - 2.1, 2.1 - 0.2 * r))
                for r in range(1, 21)
                for c in range(1, 21)
            )
            found = replace(one, bank=bank, ducts=ducts)
        picture = bank_station(found, 10.0, "US")
        for mark in picture.marks:
            if isinstance(mark, Text):
                x, y = mark.at
                assert 0 <= x <= WIDTH and 0 <= y <= picture.size[1], mark


def test_a_station_off_the_run_is_refused() -> None:
    with pytest.raises(InputError, match="not on run"):
        bank_station(result(Grade()), 99.0, "SI")
