"""The sequence played in a real browser, at both sizes, by hand and by keyboard."""

from __future__ import annotations

import re

from playwright.sync_api import Browser, Page, expect

from tests.web.browsing import bring, sound


def lit(page: Page) -> set[str]:
    """Return which conductors are seen to carry current: those with a band that is drawn."""
    return set(
        page.locator("#drawing [data-line]").evaluate_all(
            """lines => lines.filter(line => { const band = line.querySelector('.band');
            return band && getComputedStyle(band).display !== 'none'; }).map(line => line.dataset.line)"""
        )
    )


def test_a_call_is_played_step_by_step(page: Page) -> None:
    job = bring(page, "garden-cottage")
    page.goto(f"{job}/sequence?call=cool&ends=600")
    expect(page.locator("#drawing .terminal.live").first).to_be_attached()
    assert lit(page) == {"wall.red", "wall.white", "wall.green", "outside.red", "outside.white"}
    sound(page)
    page.get_by_role("button", name="Next").click()
    expect(page.locator(".instant:visible")).to_contain_text("the call 'cool' ends")
    expect(page.locator(".instant:visible")).to_contain_text("runs: board.blower")
    expect(page.locator("#player-clock")).to_have_text("10:00")
    assert lit(page) == set()
    assert page.url.endswith("at=600")
    page.reload()
    expect(page.locator("#player-clock")).to_have_text("10:00")
    page.get_by_role("button", name="Next").click()
    expect(page.locator(".instant:visible")).to_contain_text("nothing runs")
    expect(page.get_by_role("button", name="Next")).to_be_disabled()
    page.get_by_role("button", name="Back").click()
    page.get_by_role("button", name="Back").click()
    expect(page.locator(".instant:visible")).to_contain_text("the compressor runs")
    assert "outside.red" in lit(page)
    page.locator("#chart").get_by_role("link", name="11:15").click()
    expect(page.locator(".instant:visible")).to_contain_text("the indoor blower stops")
    expect(page.locator(".timeline .now")).to_contain_text("the indoor blower stops")


def test_the_slider_and_the_player_by_keyboard(page: Page) -> None:
    """Home and End are a native slider's own keys; Space presses a button."""
    job = bring(page, "garden-cottage")
    page.goto(f"{job}/sequence?call=cool&ends=60")
    expect(page.locator("#drawing .terminal.live").first).to_be_attached()
    slider = page.get_by_role("slider")
    slider.press("End")
    expect(page.locator(".instant:visible")).to_contain_text("nothing runs")
    assert lit(page) == set()
    assert "nothing runs" in str(slider.get_attribute("aria-valuetext"))
    slider.press("Home")
    expect(page.locator(".instant:visible")).to_contain_text("the compressor runs")
    page.get_by_label("Speed").select_option("600 times")
    page.get_by_role("button", name="Play").press("Space")
    expect(page.locator(".instant:visible")).to_contain_text("nothing runs")
    expect(page.get_by_role("button", name="Play")).to_be_visible()
    page.get_by_role("button", name="Play").press("Space")
    expect(page.get_by_role("button", name="Pause")).to_be_visible()
    page.get_by_role("button", name="Pause").press("Space")
    expect(page.get_by_role("button", name="Play")).to_be_visible()


def test_something_happens_meanwhile(page: Page) -> None:
    job = bring(page, "garden-cottage")
    page.goto(f"{job}/sequence?call=cool")
    page.locator("#meanwhile summary").click()
    page.get_by_label("What", exact=True).select_option("everything loses its power")
    page.get_by_label("at [s]").fill("120")
    sound(page)
    page.get_by_role("button", name="Play it so").click()
    expect(page.locator(".timeline")).to_contain_text("the power fails")
    page.locator(".timeline").get_by_role("link", name="2:00").first.click()
    expect(page.locator(".instant:visible")).to_contain_text("nothing runs")
    assert lit(page) == set()
    page.get_by_role("link", name=re.compile("Take out")).click()
    expect(page.locator(".timeline")).not_to_contain_text("the power fails")
    expect(page.locator("#drawing .terminal.live").first).to_be_attached()
    assert lit(page)


def test_what_changes_is_brought_into_sight(page: Page) -> None:
    """On the largest example the frame shows a part of the drawing; a step goes to where something has changed."""
    job = bring(page, "inn-everything")
    page.goto(f"{job}/sequence?call=cool&do=open+float-n.switch&when=120")
    expect(page.locator("#drawing .terminal.live").first).to_be_attached()
    page.get_by_role("button", name="Next").click()
    expect(page.locator(".instant:visible")).to_contain_text("float-n.switch")
    in_sight = page.locator("#drawing [data-line]").evaluate_all(
        """lines => { const frame = document.getElementById('drawing').getBoundingClientRect();
        return lines.filter(line => { const box = line.getBoundingClientRect();
        return box.bottom > frame.top && box.top < frame.bottom; }).map(line => line.dataset.line); }"""
    )
    assert any(name.endswith(("-n.red", "-n.yellow")) for name in in_sight), in_sight


def test_who_wants_less_motion_sees_the_slider_rest_between_events(browser: Browser, address: str) -> None:
    context = browser.new_context(base_url=address, reduced_motion="reduce")
    page = context.new_page()
    job = bring(page, "garden-cottage")
    page.goto(f"{job}/sequence?call=cool&ends=600")
    expect(page.locator("#drawing .terminal.live").first).to_be_attached()
    page.get_by_label("Speed").select_option("60 times")
    page.evaluate("""() => { window.seen = new Set(); const watch = () => {
        window.seen.add(document.getElementById('player-clock').textContent); requestAnimationFrame(watch); }; watch(); }""")
    page.get_by_role("button", name="Play").click()
    page.wait_for_timeout(1500)
    assert page.evaluate("[...window.seen]") == ["0:00"]
    context.close()


def test_without_script_every_moment_is_a_link(browser: Browser, address: str) -> None:
    context = browser.new_context(base_url=address, java_script_enabled=False)
    page = context.new_page()
    job = bring(page, "garden-cottage")
    page.goto(f"{job}/sequence?call=cool&ends=600")
    expect(page.locator("#player")).to_be_hidden()
    page.locator(".timeline").get_by_role("link", name="10:00").first.click()
    expect(page.locator(".instant:visible")).to_contain_text("the compressor stops")
    page.wait_for_load_state("load")
    assert page.locator("#drawing img").evaluate("image => image.complete && image.naturalWidth > 0")
    context.close()
