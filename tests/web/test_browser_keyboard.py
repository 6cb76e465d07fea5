"""The page without a mouse, and without script: nothing is out of reach, and the focus is where the eyes are."""

from __future__ import annotations

import re

from playwright.sync_api import Browser, Locator, Page, expect

from callpath.faults.practice import hide
from callpath.faults.troubleshoot import Case
from callpath.job import load_job
from tests.web.browsing import EXAMPLES, bring
from tests.web.building import TITLE, add_cable, begin, change_a_setting, join_in_a_splice, land, link_two_terminals

_FOCUS = """() => { const item = document.activeElement; const style = getComputedStyle(item);
  return { tag: item.tagName, id: item.id, seen: item.matches(":focus-visible") && style.outlineStyle !== "none"
    && parseFloat(style.outlineWidth) >= 2 && item.getBoundingClientRect().height > 0 }; }"""


def tab_to(page: Page, there: Locator) -> None:
    """Press Tab until something has the focus; on the way every stop is seen to have it (WCAG 2.2, 2.4.7)."""
    expect(there).to_be_attached()
    for _ in range(150):
        page.keyboard.press("Tab")
        focus = page.evaluate(_FOCUS)
        assert focus["seen"] or focus["tag"] == "BODY", focus
        if there.evaluate("item => item === document.activeElement"):
            return
    raise AssertionError(f"150 times Tab, and never at {there}")


def press(page: Page, there: Locator, key: str = "Enter") -> None:
    tab_to(page, there)
    page.keyboard.press(key)


def kept(page: Page) -> None:
    """The focus was not lost when the page was changed in place."""
    expect(page.locator("body")).not_to_have_class(re.compile("busy"))
    assert page.evaluate("document.activeElement !== document.body")


def test_past_the_navigation_by_one_key(page: Page) -> None:
    page.goto(bring(page, "garden-cottage"))
    page.keyboard.press("Tab")
    skip = page.get_by_role("link", name="To the content")
    expect(skip).to_be_focused()
    expect(skip).to_be_in_viewport(ratio=1)
    page.keyboard.press("Enter")
    expect(page.locator("#main")).to_be_focused()
    page.keyboard.press("Tab")
    assert page.evaluate("document.getElementById('main').contains(document.activeElement)")


def test_a_landing_and_its_undoing_by_keys(page: Page) -> None:
    """What was landed keeps the focus, so that the next is a few keys away and not a page."""
    bring(page, "garden-cottage-green-on-common")
    chip = page.locator(".strip [data-end='wall.green@2']")
    press(page, chip)
    expect(page.locator(".strip .picked")).to_contain_text("wall.green")
    expect(chip).to_be_focused()
    press(page, page.get_by_role("button", name="land here: wall.green on board.G"))
    expect(page.locator(".verdict").first).to_contain_text("Clean")
    expect(page.locator(".strip [data-spot='board.G'] [data-end='wall.green@2']")).to_be_focused()
    press(page, chip)
    press(page, page.get_by_role("link", name="put it back"))
    expect(page.locator(".strip .picked")).to_have_count(0)
    expect(chip).to_be_focused()
    # Escape does the same from wherever the focus is, without the way to the button.
    press(page, chip)
    expect(page.locator(".strip .picked")).to_contain_text("wall.green")
    tab_to(page, page.get_by_role("button", name="land here: wall.green on board.Y"))
    page.keyboard.press("Escape")
    expect(page.locator(".strip .picked")).to_have_count(0)
    expect(chip).to_be_focused()
    page.keyboard.press("Escape")
    kept(page)
    press(page, page.locator("#undo"))
    expect(page.locator(".verdict").first).to_contain_text("3 to mend")
    # Nothing is left to undo: the focus is on what undoes the undoing.
    expect(page.locator("#undo")).to_be_disabled()
    expect(page.locator("#redo")).to_be_focused()


def test_a_jumper_by_keys(page: Page) -> None:
    bring(page, "bakery-split-no-jumper")
    press(page, page.get_by_role("link", name="jumper from here: stat.Rc"))
    press(page, page.locator(".strip").get_by_role("button", name="jumper from stat.Rc to stat.Rh"))
    made = page.locator(".strip [data-spot='stat.Rc'] button.jumper")
    expect(made).to_be_focused()
    page.keyboard.press("Enter")
    expect(page.locator("button.jumper")).to_have_count(0)
    expect(page.get_by_role("link", name="jumper from here: stat.Rc")).to_be_focused()


def test_a_reading_by_keys(page: Page) -> None:
    job = bring(page, "garden-cottage")
    page.goto(f"{job}/record")
    for label, typed in (
        ("When", "as left"),
        ("On the call", "cool"),
        ("Red lead on", "cond.Y"),
        ("Black lead on", "cond.C"),
    ):
        tab_to(page, page.get_by_label(label, exact=True))
        page.keyboard.type(typed)
    tab_to(page, page.get_by_label(re.compile("^It read")))
    page.keyboard.type("25.7")
    page.keyboard.press("Enter")
    expect(page.get_by_role("row").filter(has_text="✓ in band")).to_have_count(1)
    expect(page.get_by_label(re.compile("^It read"))).to_be_focused()
    strike = page.get_by_role("button", name=re.compile("^strike out: cond.Y"))
    press(page, strike)
    expect(page.get_by_role("button", name=re.compile("^put back: cond.Y"))).to_be_focused()


def test_a_meter_by_keyboard_alone(page: Page) -> None:
    job = bring(page, "garden-cottage")
    page.goto(f"{job}/ask?call=cool")
    page.get_by_label("Red lead on").focus()
    page.keyboard.type("cond.Y")
    page.keyboard.press("Tab")
    page.keyboard.type("cond.C")
    for _ in range(4):
        page.keyboard.press("Tab")
    expect(page.get_by_role("button", name="Read")).to_be_focused()
    page.keyboard.press("Enter")
    expect(page.locator("output")).to_have_text("25.72 V")


def test_an_exercise_by_keys(page: Page) -> None:
    case = Case(load_job(EXAMPLES / "garden-cottage.job.yaml"))
    broken = ((number, hide(case, number).faults[0]) for number in range(1, 200))
    seed, culprit = next(
        (n, fault.where[0]) for n, fault in broken if fault.kind == "open" and fault.where[0] in case.job.landings
    )
    job = bring(page, "garden-cottage")
    page.goto(f"{job}/practice")
    tab_to(page, page.get_by_label("Number of the exercise"))
    page.keyboard.type(str(seed))
    press(page, page.get_by_role("button", name="Hide it"))
    expect(page.get_by_role("heading", name="The complaint")).to_be_visible()
    kept(page)
    tests = page.get_by_role("group", name="Your tests so far").locator("li").filter(has_text="min")
    tab_to(page, page.get_by_label("What", exact=True))
    page.keyboard.type("volts")
    for label, typed in (("Red lead on", "cond.Y"), ("Black lead on", "cond.C")):
        tab_to(page, page.get_by_label(label))
        page.keyboard.type(typed)
    look = page.get_by_role("button", name="Look", exact=True)
    press(page, look)
    expect(tests.first).to_contain_text("volts from cond.Y to cond.C")
    expect(look).to_be_focused()
    # The answer stands where the eyes are, and is told to whoever does not see it.
    expect(page.locator("#probe [data-said]")).to_be_in_viewport(ratio=1)
    expect(page.locator("#live")).to_contain_text("volts from cond.Y to cond.C")
    tab_to(page, page.get_by_label("At fault is"))
    page.keyboard.type(culprit)
    press(page, page.get_by_role("button", name="Mend it"))
    expect(page.get_by_role("heading", name="You found it")).to_be_visible(timeout=60_000)
    kept(page)


def test_the_same_job_is_built_without_script(browser: Browser, address: str) -> None:
    context = browser.new_context(base_url=address, java_script_enabled=False)
    page = context.new_page()
    job = begin(page, "thermostat/split-supply")
    for searched, part, at, name in (("furnace", "indoor/furnace-board", "cellar", "board"),
                                     ("condenser", "outdoor/condenser", "yard", "cond")):  # fmt: skip
        page.get_by_role("link", name="Add equipment").click()
        page.get_by_label(re.compile("^Name, terminals")).fill(searched)
        page.get_by_role("button", name="Search").click()
        page.locator(f".card input[value='{part}']").check()
        page.get_by_role("button", name="Choose the marked part").click()
        page.get_by_label("Where it is").fill(at)
        page.get_by_label(re.compile("^Its id in the job")).fill(name)
        page.get_by_role("button", name="Add it to the job").click()
    add_cable(page, job, "wall", ("hall", "cellar"), "18/5")
    add_cable(page, job, "outside", ("cellar", "yard"), "18/2")
    for letters, colour in (("W", "white"), ("Rh", "red"), ("G", "green"), ("C", "blue"), ("Y", "yellow")):
        land(page, f"wall.{colour}@1", f"stat.{letters}")
        if colour != "yellow":
            land(page, f"wall.{colour}@2", f"board.{letters[0]}")
    for end, spot in (("outside.red@2", "cond.Y"), ("outside.white@1", "board.C"), ("outside.white@2", "cond.C")):
        land(page, end, spot)
    join_in_a_splice(page, job)
    expect(page.locator(".verdict").first).to_contain_text("to mend")
    link_two_terminals(page, job)
    change_a_setting(page, job)
    expect(page.locator(".verdict").first).to_contain_text("Clean")
    expect(page.get_by_role("heading", name=TITLE)).to_be_visible()
    context.close()
