"""Building a job in a real browser, above all with one thumb."""

from __future__ import annotations

import re
from typing import Any

import pytest
from playwright.sync_api import Browser, Page, expect

from tests.web.browsing import PHONE, bring, sound

only_phone = pytest.mark.parametrize("page", [PHONE], ids=["phone"], indirect=True)

_HIDDEN = """() => {
  const box = document.activeElement.getBoundingClientRect();
  const bar = document.getElementById("thumb");
  if (bar.contains(document.activeElement) || !box.height) { return false; }
  return box.top >= bar.getBoundingClientRect().top || box.bottom <= 0;
}"""


@only_phone
def test_one_thumb_lands_a_conductor_and_sees_what_came_of_it(page: Page) -> None:
    """Nothing is scrolled: the bar at the lower edge names the conductor, offers its location's terminals, tells the verdict."""
    bring(page, "garden-cottage-green-on-common")
    bar = page.locator("#thumb")
    expect(bar).to_contain_text("3 to mend")
    expect(bar).to_contain_text("into a short")
    page.locator("#place-cellar").get_by_role("link", name="wall.green").tap()
    expect(bar).to_contain_text("wall.green on board.C at cellar")
    sound(page)
    spots = bar.get_by_role("button")
    assert set(spots.all_inner_texts()) == {"R", "C", "W", "Y", "G", "chassis", "cap"}
    for box in [spots.nth(i).bounding_box() for i in range(spots.count())]:
        assert box is not None
        assert min(box["width"], box["height"]) >= 48
        assert 0 <= box["y"] <= box["y"] + box["height"] <= 740
    before = page.evaluate("scrollY")
    bar.get_by_role("button", name="board.G").tap()
    expect(bar).to_contain_text("Clean")
    expect(bar.get_by_role("button", name="Undo")).to_be_in_viewport(ratio=1)
    assert abs(page.evaluate("scrollY") - before) < 200
    bar.get_by_role("button", name="Undo").tap()
    expect(bar).to_contain_text("3 to mend")
    page.locator("#place-hall").get_by_role("link", name="wall.red").tap()
    bar.get_by_role("link", name="Put back").tap()
    expect(bar).to_contain_text("3 to mend")
    expect(page.locator(".picked")).to_have_count(0)


@only_phone
@pytest.mark.parametrize("pick", ["", "?pick=wall.green%402"])
def test_the_bar_hides_nothing_that_has_the_focus(page: Page, pick: str) -> None:
    """WCAG 2.2, 2.4.11: what has the focus is not entirely hidden by what the author put over it."""
    page.goto(bring(page, "garden-cottage-green-on-common") + pick)
    seen = set()
    for _ in range(70):
        page.keyboard.press("Tab")
        assert not page.evaluate(_HIDDEN), page.evaluate("document.activeElement.outerHTML")
        seen.add(page.evaluate("document.activeElement.outerHTML"))
    assert len(seen) > 40


@only_phone
@pytest.mark.parametrize(
    ("example", "asked"),
    [("garden-cottage", "pick=wall.green%401"), ("garden-cottage", "pick=wall.red%402"), ("inn-everything", "")],
)
def test_nothing_on_a_terminals_row_lies_over_its_neighbour(page: Page, example: str, asked: str) -> None:
    page.goto(f"{bring(page, example)}?{asked}")
    over = page.locator(".strip li").evaluate_all(
        """rows => rows.flatMap(row => {
        const items = [...row.querySelectorAll(".screw, .chip, .goes, button, .change")];
        const boxes = items.map(item => item.getBoundingClientRect());
        const shared = (a, b) => Math.min(Math.min(a.right, b.right) - Math.max(a.left, b.left),
            Math.min(a.bottom, b.bottom) - Math.max(a.top, b.top));
        return boxes.flatMap((a, i) => boxes.slice(i + 1).filter(b => shared(a, b) > 0.5)).map(() => row.textContent); })"""
    )
    assert over == []


@only_phone
def test_the_narrow_drawing_is_large_enough_for_a_thumb_and_is_moved_about(page: Page) -> None:
    """40 CSS pixels for every terminal; the largest example is wider and taller than its frame, which scrolls both ways."""
    bring(page, "inn-everything")
    drawing = page.locator("#drawing")
    expect(drawing.locator("svg.narrow")).to_be_visible()
    heights = drawing.locator(".terminal rect").evaluate_all(
        "all => all.map(one => one.getBoundingClientRect().height)"
    )
    assert len(heights) > 40
    assert min(heights) >= 40 - 0.01
    texts = drawing.locator("text").evaluate_all("all => all.map(one => parseFloat(one.getAttribute('font-size')))")
    assert min(texts) >= 10 * 0.99
    room: dict[str, Any] = drawing.evaluate(
        "box => ({across: box.scrollWidth - box.clientWidth, down: box.scrollHeight - box.clientHeight,"
        " touch: getComputedStyle(box).touchAction, scroll: getComputedStyle(box).overflow})"
    )
    assert room["across"] > 100
    assert room["down"] > 1000
    assert (room["touch"], room["scroll"]) == ("auto", "auto")
    assert "user-scalable" not in page.locator("meta[name=viewport]").get_attribute("content")
    assert drawing.evaluate("box => { box.scrollTo(90, 900); return [box.scrollLeft, box.scrollTop]; }") == [90, 900]


def test_beside_a_line_is_near_enough(page: Page) -> None:
    bring(page, "garden-cottage")
    line = page.locator('[data-line="wall.green"] path').first
    expect(line).to_be_attached()
    page.locator('[data-terminal="stat.G"]').evaluate("box => { box.scrollIntoView({ block: 'center' }); }")
    x, y = line.evaluate(
        "path => { const p = path.getPointAtLength(6).matrixTransform(path.getScreenCTM()); return [p.x, p.y]; }"
    )
    page.mouse.click(x, y + 5)
    expect(page.locator("#place-hall .picked")).to_contain_text(re.compile("wall.green"))


def test_equipment_is_chosen_from_the_catalogue_by_its_strip(page: Page) -> None:
    job = bring(page, "garden-cottage")
    page.get_by_role("link", name="Add equipment").click()
    sound(page)
    cards = page.locator(".cards .card")
    before = cards.count()
    page.get_by_label(re.compile("^Name, terminals")).press_sequentially("conden")
    expect(cards).not_to_have_count(before)
    expect(page).to_have_url(re.compile("search=conden"))
    page.get_by_label("accessory", exact=True).check()
    card = cards.filter(has_text="accessory/condensate-pump")
    expect(card.locator(".box")).to_have_text(["1", "2", "L1 line", "L2 line"])
    expect(cards).not_to_have_count(0)
    card.get_by_role("radio").check()
    page.get_by_label("Where it is").fill("cellar")
    sound(page)
    page.get_by_role("button", name="Add it to the job").click()
    expect(page).to_have_url(re.compile(f"{re.escape(job)}$"))
    expect(page.locator("#place-cellar")).to_contain_text("Condensate pump")
    page.get_by_role("link", name="Parts").click()
    sound(page)
    cards.filter(has_text="indoor/furnace-board").first.click()
    expect(page.get_by_role("heading", name="Terminals")).to_be_visible()
    sound(page)


def test_a_part_is_chosen_without_script(browser: Browser, address: str) -> None:
    context = browser.new_context(base_url=address, java_script_enabled=False)
    page = context.new_page()
    bring(page, "garden-cottage")
    page.get_by_role("link", name="Add equipment").click()
    page.get_by_label(re.compile("^Name, terminals")).fill("float switch")
    page.get_by_role("button", name="Search").click()
    page.locator(".card").filter(has_text="accessory/float-switch").get_by_role("radio").check()
    page.get_by_role("button", name="Choose the marked part").click()
    page.get_by_label("Where it is").fill("cellar")
    page.get_by_role("button", name="Add it to the job").click()
    expect(page.locator("#place-cellar")).to_contain_text("Condensate float switch")
    context.close()


def test_a_new_job_is_chosen_by_its_drawing(page: Page) -> None:
    page.goto("/new")
    for shot in page.locator(".shot img").all():
        shot.scroll_into_view_if_needed()
        expect(shot).to_have_js_property("complete", True)
        assert shot.evaluate("image => image.naturalWidth > 0")
    sound(page)
    page.get_by_role("button", name="Heat pump, valve fed in heating (B)").click()
    expect(page.get_by_role("heading", name="Heat pump, valve fed in heating (B)")).to_be_visible()
    expect(page.locator(".verdict").first).to_contain_text("Clean")


def test_a_repair_is_looked_at_and_done_move_by_move(page: Page) -> None:
    job = bring(page, "ballroom-banks-swapped")
    page.get_by_role("link", name="Mend it").click()
    outcome = page.locator(".outcome")
    expect(outcome).to_contain_text("After all of these moves: ✓ Clean")
    expect(page.locator("#drawing svg")).to_be_visible()
    changed = page.locator("#drawn-after .conductor.picked")
    expect(changed).to_have_count(2)
    sound(page)
    page.locator(".moves input").first.uncheck()
    expect(outcome).to_contain_text("After this move: ✗")
    expect(changed).to_have_count(1)
    expect(page.locator(".moves input").first).to_be_focused()
    page.locator(".moves input").first.check()
    expect(outcome).to_contain_text("✓ Clean")
    page.get_by_role("button", name="Do this one").first.click()
    expect(page.locator(".moves li")).to_have_count(1)
    page.get_by_role("button", name="Do it").click()
    expect(page).to_have_url(re.compile(f"{re.escape(job)}$"))
    expect(page.locator(".verdict").first).to_contain_text("Clean")


def test_a_jumper_is_tapped_and_a_device_taken_out_and_back(page: Page) -> None:
    job = bring(page, "bakery-split-no-jumper")
    expect(page.locator("#drawing svg")).to_be_visible()
    before = page.locator(".verdict").first.inner_text()
    page.get_by_role("link", name="jumper from here: stat.Rc").click()
    expect(page.locator(".place.active")).to_have_count(1)
    sound(page)
    page.locator(".strip").get_by_role("button", name="jumper from stat.Rc to stat.Rh").click()
    expect(page.locator(".verdict").first).to_contain_text("Clean")
    page.locator("button.jumper").first.click()
    expect(page.locator("button.jumper")).to_have_count(0)
    expect(page.locator(".verdict").first).to_have_text(before)
    for name in ("stat", "cond"):
        page.goto(f"{job}/equipment/{name}")
        sound(page)
    page.get_by_role("button", name="Take cond out").click()
    expect(page.locator("[data-spot='cond.Y']")).to_have_count(0)
    page.locator("#undo").click()
    expect(page.locator("[data-spot='cond.Y']")).to_have_count(1)
    page.get_by_role("link", name="Add a cable").click()
    sound(page)
    page.get_by_text("18/8", exact=True).click()
    page.get_by_role("button", name="Add it").click()
    page.get_by_role("link", name="Cable cable").click()
    sound(page)
    page.goto(f"{job}/table")
    sound(page)


def test_a_job_is_found_while_it_is_typed_then_copied_and_put_away(page: Page) -> None:
    for example in ("dairy-float-switch", "garden-cottage"):
        bring(page, example)
    page.goto("/")
    sound(page)
    page.get_by_label("Search titles").press_sequentially("float-switch loft")
    rows = page.locator(".jobs li")
    expect(rows.first).to_contain_text("float switch")
    expect(page.locator("#list")).not_to_contain_text("Garden cottage")
    expect(page.get_by_label("Search titles")).to_be_focused()
    count = rows.count()
    rows.first.get_by_role("button", name="Copy").click()
    expect(page.locator(".job-head h1")).to_contain_text("(copy)")
    page.goto("/")
    # What is typed after the page has come counts too.
    page.get_by_label("Search titles").press_sequentially("float-switch loft")
    expect(page.locator("#list")).not_to_contain_text("Garden cottage")
    expect(rows).to_have_count(count + 1)
    rows.filter(has_text="(copy)").first.get_by_role("button", name="Put away").click()
    expect(rows).to_have_count(count)
    expect(page).to_have_url(re.compile(r"/\?search=float-switch%20loft$"))
    expect(page.get_by_label("Search titles")).to_have_value("float-switch loft")
