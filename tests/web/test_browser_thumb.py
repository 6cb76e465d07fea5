"""One thumb at 360 px: nothing that is tapped is smaller than a fingertip, and what a tap answers is in sight."""

from __future__ import annotations

from playwright.sync_api import Browser, expect

from tests.web.browsing import PHONE, bring

# Links in a running text are as high as its lines; a box to tick is ticked by its label too.
SMALL = """items => items.filter(item => item.checkVisibility() && getComputedStyle(item).display !== 'inline')
.map(item => { const box = item.getBoundingClientRect(); return [item.textContent.trim() || item.name, box.width, box.height]; })
.filter(([, width, height]) => Math.min(width, height) < 44)"""
TAPPED = (
    "main a, main button, main select, main summary, main textarea, nav a, label:has(input), "
    "input:not([type=hidden], [type=radio], [type=checkbox])"
)
ROOMS = (
    "", "/ask?call=heat", "/sequence?call=heat", "/fault", "/practice", "/record", "/versions", "/text", "/table",
    "/add?search=relay", "/cable", "/propose", "/assumptions", "/equipment/valve-e", "/cables/patch",
)  # fmt: skip


def test_what_is_tapped_is_as_large_as_a_fingertip(browser: Browser, address: str) -> None:
    """WCAG 2.2, 2.5.5 (AAA) asks for 44 px; we hold it where a telephone is in the hand."""
    context = browser.new_context(**PHONE, base_url=address)
    page = context.new_page()
    job = bring(page, "schoolhouse-zone-valves")
    for place in ("/", "/new", "/parts", "/scores", *(f"{job}{room}" for room in ROOMS)):
        page.goto(place)
        expect(page.locator("footer")).to_be_attached()
        assert page.locator(TAPPED).evaluate_all(SMALL) == [], place
    context.close()


def test_what_a_planted_fault_does_is_seen_at_once(browser: Browser, address: str) -> None:
    context = browser.new_context(**PHONE, base_url=address)
    page = context.new_page()
    job = bring(page, "garden-cottage")
    page.goto(f"{job}/ask?call=cool&red=cond.Y&black=cond.C")
    page.get_by_text("Plant a fault and see").click()
    page.get_by_label("Fault", exact=True).select_option("open wall.white")
    page.get_by_role("button", name="See what it does").click()
    expect(page.get_by_text("This is with a fault planted: open wall.white.", exact=True)).to_be_in_viewport()
    expect(page.get_by_text("cond.compressor dead")).to_be_in_viewport()
    expect(page.locator(".reading")).to_contain_text("on 'cool', with open wall.white planted")
    context.close()
