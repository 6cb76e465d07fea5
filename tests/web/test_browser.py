"""The page in a real browser: by mouse on a desk, by thumb on a telephone, by keyboard, and as axe sees it."""

from __future__ import annotations

import re
import subprocess

from playwright.sync_api import Browser, Page, expect

from tests.web.browsing import CALLPATH, bring, sound


def test_a_wrong_job_is_put_right_by_two_taps(page: Page) -> None:
    job = bring(page, "garden-cottage-green-on-common")
    expect(page.locator(".verdict").first).to_contain_text("3 to mend")
    page.locator("#place-cellar").get_by_role("link", name="wall.green").click()
    sound(page)
    page.get_by_role("button", name="land here: wall.green on board.G").click()
    expect(page.locator(".verdict").first).to_contain_text("Clean")
    page.locator("#undo").click()
    expect(page.locator(".verdict").first).to_contain_text("3 to mend")
    page.locator("#redo").click()
    expect(page.locator(".verdict").first).to_contain_text("Clean")
    page.reload()
    expect(page.locator(".verdict").first).to_contain_text("Clean")
    assert page.url.startswith(job)


def test_a_job_from_nothing_to_its_file(page: Page) -> None:
    page.goto("/")
    page.get_by_role("link", name="New job").first.click()
    page.locator("#made summary").click()
    page.get_by_label("Title", exact=True).fill("Smithy, from nothing")
    page.get_by_label("Indoor equipment", exact=True).select_option("indoor/furnace-board")
    page.get_by_label("Outdoor unit", exact=True).select_option("outdoor/condenser")
    page.get_by_role("button", name="Make the job").click()
    expect(page.get_by_role("heading", name="Smithy, from nothing")).to_be_visible()
    expect(page.locator(".verdict").first).to_contain_text("Clean")
    with page.expect_download() as taken:
        page.get_by_role("link", name="Take the file out").first.click()
    assert taken.value.suggested_filename == "smithy-from-nothing.job.yaml"
    proved = subprocess.run([*CALLPATH, "prove", str(taken.value.path())], capture_output=True, text=True, check=False)
    assert proved.returncode == 0, proved.stderr


def test_a_mistake_is_told_where_the_eyes_are(page: Page) -> None:
    job = bring(page, "garden-cottage")
    page.goto(f"{job}/text")
    box = page.get_by_label("The job file")
    text = box.input_value()
    box.fill(text.replace("board.G", "board.Q"))
    page.get_by_role("button", name="Save").click()
    expect(page.locator("#alert")).to_be_focused()
    expect(page.locator("#alert")).to_contain_text("line 15")
    assert "board.Q" in page.get_by_label("The job file").input_value()
    sound(page)


def test_two_windows_lose_nothing(page: Page, browser: Browser, address: str) -> None:
    job = bring(page, "garden-cottage")
    context = browser.new_context(base_url=address)
    other = context.new_page()
    other.goto(f"{job}?pick=wall.white%402")
    page.goto(f"{job}?pick=wall.green%402")
    page.get_by_role("button", name="wall.green on board.W").click()
    expect(page.locator(".job-head")).to_contain_text("version 2")
    other.get_by_role("button", name="wall.white on board.chassis").click()
    expect(other.locator("#alert")).to_contain_text("kept as version 3")
    other.get_by_role("button", name="Let mine count instead").click()
    expect(other.locator(".job-head")).to_contain_text("version 4")
    other.goto(f"{job}/versions?older=2&newer=3")
    expect(other.locator('[data-line="wall.white"]')).to_have_class(re.compile("came"))
    expect(other.locator('[data-line="wall.white (was)"]')).to_have_class(re.compile("went"))
    expect(other.locator('[data-line="wall.red"]')).not_to_have_class(re.compile("came|went"))
    context.close()


def test_it_works_without_script(browser: Browser, address: str) -> None:
    context = browser.new_context(base_url=address, java_script_enabled=False)
    page = context.new_page()
    job = bring(page, "garden-cottage-green-on-common")
    page.goto(f"{job}?pick=wall.green%402")
    page.get_by_role("button", name="land here: wall.green on board.G").click()
    expect(page.locator(".verdict").first).to_contain_text("Clean")
    context.close()


def test_a_conductor_is_landed_in_the_drawing(page: Page) -> None:
    """Tap a line near one of its ends, then a terminal: the drawing does what the lists do."""
    bring(page, "garden-cottage-green-on-common")
    expect(page.locator('[data-line="wall.green"]')).to_be_attached()
    page.locator('[data-terminal="board.C"]').evaluate(
        "box => { box.scrollIntoView({ block: 'center', inline: 'center' }); }"
    )
    line = page.locator('[data-line="wall.green"] path').first
    end = line.evaluate(
        """path => { const p = path.getPointAtLength(path.getTotalLength() - 4).matrixTransform(path.getScreenCTM());
        return [p.x, p.y]; }"""
    )
    page.mouse.click(*end)
    expect(page.locator("#place-cellar .picked")).to_contain_text("wall.green")
    expect(page.locator('[data-terminal="board.G"]')).to_have_class(re.compile("target"))
    page.locator('[data-terminal="board.G"]').click(force=True)
    expect(page.locator(".verdict").first).to_contain_text("Clean")


def test_a_meters_leads_are_put_on_the_drawing(page: Page) -> None:
    job = bring(page, "garden-cottage")
    page.goto(f"{job}/ask?call=cool")
    expect(page.locator("#drawing .conductor.live").first).to_be_attached()
    page.locator('[data-terminal="cond.Y"]').click(force=True)
    page.locator('[data-terminal="cond.C"]').click(force=True)
    expect(page.locator("output")).to_have_text("25.72 V")


def test_a_second_tap_while_the_first_is_under_way_does_nothing(page: Page) -> None:
    job = bring(page, "garden-cottage-green-on-common")
    for spot in ("board.G", "board.W"):
        page.goto(f"{job}?pick=wall.green%402")
        page.get_by_role("button", name=f"land here: wall.green on {spot}").click()
        expect(page.locator(".job-head")).to_contain_text(f"on {spot}")
    page.route("**/undo", lambda route: (page.wait_for_timeout(400), route.continue_())[1])
    page.locator("#undo").dblclick()
    expect(page.locator(".job-head")).to_contain_text("version 4: undo")
    expect(page.locator("#redo")).to_be_enabled()
    expect(page.locator("#alert")).to_have_count(0)
    page.reload()
    expect(page.locator(".job-head")).to_contain_text("version 4")
