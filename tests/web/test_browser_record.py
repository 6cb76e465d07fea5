"""The record in the hand: what is read is written down with a thumb."""

from __future__ import annotations

import re

from playwright.sync_api import Browser, Page, expect

from tests.web.browsing import PHONE, bring, sound
from tests.web.test_browser_fault import ready_for_gloves


def test_a_number_pad_is_enough(page: Page) -> None:
    job = bring(page, "garden-cottage")
    page.goto(f"{job}/record")
    page.get_by_label("What", exact=True).select_option("ohms")
    ready_for_gloves(page)
    expect(page.get_by_label("It read", exact=True)).to_have_attribute("inputmode", "decimal")
    page.get_by_label("Red lead on").select_option("cond.Y")
    page.get_by_label("Black lead on").select_option("cond.C")
    page.get_by_label("It read", exact=True).fill("1.2")
    page.get_by_text("kΩ", exact=True).click()
    page.get_by_role("button", name="Write it down").click()
    expect(page.get_by_role("row").filter(has_text="1200 Ω")).to_have_count(1)
    page.get_by_label("Red lead on").select_option("cond.Y")
    page.get_by_role("button", name="It read OL").click()
    expect(page.locator("td.num").filter(has_text=re.compile(r"^\s*OL\s*$"))).to_have_count(1)
    page.get_by_label("What", exact=True).select_option("running")
    expect(page.get_by_label("It read", exact=True)).to_be_hidden()
    page.get_by_label("Function, for running").select_option("cond.compressor")
    ready_for_gloves(page)
    sound(page)
    page.get_by_role("button", name="It does not run").click()
    expect(page.get_by_role("row", name=re.compile("cond.compressor runs"))).to_contain_text("no")


def test_how_a_reading_compares_is_seen_where_it_was_typed(page: Page) -> None:
    job = bring(page, "schoolhouse-zone-valves")
    page.goto(f"{job}/record")
    page.get_by_label("On the call").select_option("heat")
    page.locator(".for-callers").get_by_text("east", exact=True).click()
    page.get_by_label("Red lead on").select_option("valve-w.M1")
    page.get_by_label("Black lead on").select_option("valve-w.M2")
    for typed, told in (
        ("0", "✓ in band: heat by east: valve-w.M1 to valve-w.M2, 0 V"),
        ("25", "✗ outside: heat by east"),
    ):
        page.get_by_label("Red lead on").select_option("valve-w.M1")
        page.get_by_label("It read", exact=True).fill(typed)
        page.get_by_role("button", name="Write it down").click()
        expect(page.locator(".answered")).to_contain_text(told)
        expect(page.locator(".answered")).to_be_in_viewport()
    sound(page)
    # With no call nobody makes it.
    page.get_by_label("On the call").select_option("off")
    expect(page.locator(".for-callers")).to_be_hidden()


def test_without_script_an_open_line_is_one_tap_too(browser: Browser, address: str) -> None:
    context = browser.new_context(**PHONE, base_url=address, java_script_enabled=False)
    page = context.new_page()
    job = bring(page, "schoolhouse-zone-valves")
    page.goto(f"{job}/record")
    page.get_by_label("On the call").select_option("heat")
    page.locator(".for-callers").get_by_text("west", exact=True).click()
    page.get_by_label("What", exact=True).select_option("ohms")
    page.get_by_label("Red lead on").select_option("valve-e.E1")
    page.get_by_label("Black lead on").select_option("valve-e.E2")
    page.get_by_role("button", name="It read OL").click()
    expect(page.locator(".answered")).to_contain_text("heat by west: valve-e.E1 to valve-e.E2, OL")
    context.close()
