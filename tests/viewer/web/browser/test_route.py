"""The route edited on the live page: drawn in the sketch and in the picture, typed, and saved."""

from __future__ import annotations

from collections.abc import Callable, Iterator

import pytest

from route3d.modelfile.read import load
from tests.viewer.conftest import MODELS
from tests.viewer.web.browser.pages import Pages, drawn, resized, violations
from tests.viewer.web.browser.watched import WAIT, Watched, opened
from tests.viewer.web.served import Served, serving

pytestmark = pytest.mark.browser

FOOT = 0.3048


@pytest.fixture(scope="module")
def served(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Served]:
    model = tmp_path_factory.mktemp("route") / "riser.toml"
    model.write_bytes((MODELS / "riser_duct_bank.toml").read_bytes())
    with serving(model) as found:
        yield found


@pytest.fixture
def page(start: Callable[..., Pages], served: Served) -> Iterator[Watched]:
    with opened(start(), served.url, bypass_csp=True) as watched:
        yield watched


def at(watched: Watched, number: int) -> list[float]:
    """Coordinates of a point in ft, as the table of points has them."""
    cells = watched.page.locator("#points tbody tr").nth(number).locator("td")
    return [float(t) for t in cells.all_inner_texts()[:3]]


def drag(watched: Watched, selector: str, dx: float, dy: float) -> None:
    page = watched.page
    box = page.locator(selector).bounding_box()
    x, y = box["x"] + box["width"] / 2, box["y"] + box["height"] / 2
    page.mouse.move(x, y)
    page.mouse.down()
    page.mouse.move(x + dx / 2, y + dy / 2)
    page.mouse.move(x + dx, y + dy)
    page.mouse.up()
    settled(watched)


def settled(watched: Watched) -> None:
    drawn(watched.page)
    watched.page.wait_for_selector("#draw[aria-busy='false']", timeout=WAIT)
    watched.settled()


def test_a_point_is_drawn_snaps_and_is_taken_back(page: Watched) -> None:
    before = page.peak()
    page.tab("route")
    drag(page, "#sketch [data-point='1'] .dot", -60, 4)  # hardly up: it stays in line
    moved = at(page, 1)
    assert moved[0] < 165 and moved[1:] == [0, -6]
    page.has("#what-if", "Route: point 2 moved")
    assert page.peak() != before
    page.tab("route")
    page.page.fill("#snap-length", "150")  # about 2 px a foot: some feet off, which is near enough
    drag(page, "#sketch [data-point='1'] .dot", (149 - moved[0]) * 1.8, 0)
    page.has("#points tr:nth-child(1) td:last-child", "150")
    # a point drawn out of the middle of a leg, in one step
    drag(page, "#sketch [data-after='0'] .ring", 0, -40)
    assert page.page.locator("#points tbody tr").count() == 6
    for key, count in (("z", 5), ("y", 6)):  # the sketch has the keys since the drag
        page.page.keyboard.press(f"Control+{key}")
        settled(page)
        assert page.page.locator("#points tbody tr").count() == count
    assert at(page, 1)[1] > 10
    for _ in range(3):
        page.page.click("#undo")
        settled(page)
    page.gone("#what-if")
    assert at(page, 1) == [180, 0, -6] and page.peak() == before
    assert not page.errors


def test_a_handle_in_the_picture_moves_in_plan_or_upright(page: Watched) -> None:
    page.tab("route")
    drag(page, "#handles [data-point='3']", 0, -30)
    assert at(page, 3)[2] == 42 and at(page, 3)[:2] != [180, 95]
    page.page.click("#undo")
    settled(page)
    page.page.click("#upright button:nth-child(2)")
    drag(page, "#handles [data-point='3']", 20, -30)
    assert at(page, 3)[:2] == [180, 95] and at(page, 3)[2] > 43
    page.page.click("#undo")
    settled(page)
    assert not page.errors


def test_what_makes_no_route_is_said_and_keys_move_and_save(page: Watched, served: Served) -> None:
    page.tab("route")
    handle = page.page.locator("#sketch [data-point='2']")
    handle.focus()
    page.field("at:1", "1")
    said = page.becomes("#route-said", "Not possible: the bends at point 2 and point 3 need")
    assert "ft of straight" in said and at(page, 2) == [180, 95, -6]
    page.page.keyboard.press("Escape")
    handle.focus()
    page.page.keyboard.press("ArrowRight")
    settled(page)
    x, y, z = at(page, 2)
    assert x > 180 and (y, z) == (95, -6)
    page.page.check("#move-rest")
    page.field("leg:2", "40")
    settled(page)
    text = served.model.read_text()
    page.page.click("#save-into")
    page.has("#save", "Saved: riser.toml")
    page.gone("#what-if")
    now = load(served.model).runs[0].route.vertices
    assert now[2].point[0] == pytest.approx(x * FOOT)
    assert sum((a - b) ** 2 for a, b in zip(now[2].point, now[3].point, strict=True)) ** 0.5 == (
        pytest.approx(40 * FOOT)
    )
    comments = [line.partition("#")[2] for line in text.splitlines() if "#" in line]
    kept = [t.partition("#")[2] for t in served.model.read_text().splitlines() if "#" in t]
    assert comments == kept
    served.model.write_text(text)
    page.becomes("#points tr:nth-child(3) td:nth-child(2)", "^180$")
    assert not page.errors


def test_legs_are_answered_as_they_are_typed(page: Watched) -> None:
    page.tab("route")
    before = page.text("#points tr:nth-child(1) td:last-child")
    page.page.fill("#leg-1", "150 foot long")
    page.has("#leg-note-1", "is not understood")
    assert "leg 2" not in page.text("#leg-note-1") and ".\n" in page.text("#leg-note-1")
    page.has("#legs-said", "The last valid route is shown")
    assert page.text("#points tr:nth-child(1) td:last-child") == before
    page.page.fill("#leg-1", "150 ft")
    page.has("#points tr:nth-child(1) td:last-child", "150")
    page.page.press("#leg-1", "Enter")  # a line below, for a bend of 30 degrees and on
    page.page.wait_for_timeout(600)  # longer than the legs wait to be sent: it stays, empty
    assert page.page.evaluate("document.activeElement.id") == "leg-2"
    assert page.page.input_value("#leg-2") == ""
    page.page.keyboard.type("right 30 at 48 in")
    page.has("#leg-note-3", "no length between")
    page.page.press("#leg-2", "Enter")
    page.page.keyboard.type("20 ft")
    page.becomes("#points tbody tr:nth-child(2) td:nth-child(6)", "30.0")
    assert page.page.locator("#points tbody tr").count() == 6
    assert "120° since the last pull point" in page.text("#leg-note-4")
    page.page.click("#undo")  # one leg after the other
    settled(page)
    page.becomes("#points tbody tr:nth-child(2) td:nth-child(6)", "90.0")
    assert page.page.input_value("#leg-1") == "150 ft"
    page.page.click("#undo")
    settled(page)
    page.gone("#what-if")
    assert page.page.input_value("#leg-1") == "180 ft horizontal, down 1 ft"
    assert not page.errors


def test_axe_finds_nothing_wrong_and_nothing_is_wider_than_a_phone(page: Watched) -> None:
    page.tab("route")
    assert violations(page.page) == []
    resized(page.page, "phone", "dark")
    page.settled()
    assert violations(page.page) == []
    assert page.page.evaluate("document.documentElement.scrollWidth <= innerWidth")


def test_the_crew_has_no_route_to_edit(start: Callable[..., Pages], served: Served) -> None:
    with opened(start(), served.crew) as crew:
        assert not crew.page.locator("#tab-route").count()
        assert not crew.page.locator("#handles .handle").count()
        crew.page.evaluate("location.hash = 'tab=route'")
        assert crew.page.locator("#answer").count() == 1
