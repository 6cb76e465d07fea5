"""The field sheet in a real browser, without a network: by thumb, by mouse, by keyboard, and as axe sees it."""

from __future__ import annotations

import json
import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Browser, Page

from callpath.calls.reading import volts_between
from callpath.faults.asked import Check
from callpath.job import Fault, load_job, read_job
from callpath.papers import Book, imprint
from callpath.papers.field import field_sheet
from callpath.papers.tree import Step
from tests.faults.measured import measured
from tests.jobs import COTTAGE, HOUSE, job_of
from tests.papers.test_diagram import ROOT
from tests.papers.test_pdf import SOME
from tests.papers.test_schedule import DAY, book_of
from tests.papers.test_svg import HOSTILE
from tests.papers.test_tree import fitting

PHONE: dict[str, Any] = {"viewport": {"width": 360, "height": 740}, "has_touch": True, "is_mobile": True}
DESK: dict[str, Any] = {"viewport": {"width": 1280, "height": 900}}
# Of the criteria of WCAG 2.2, those that axe can test, A and AA.
RULES = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]


@pytest.fixture(params=[PHONE, DESK], ids=["phone", "desk"])
def page(request: pytest.FixtureRequest, browser: Browser) -> Iterator[Page]:
    """An empty page of a browser without a network; whatever it complains of or asks for fails the test."""
    context = browser.new_context(**request.param, offline=True)
    opened = context.new_page()
    told: list[str] = []
    opened.on("console", lambda message: told.append(message.text))
    opened.on("pageerror", lambda error: told.append(str(error)))
    opened.on("request", lambda asked: told.append(asked.url) if not asked.url.startswith("file:") else None)
    opened.on("dialog", lambda dialog: told.append(dialog.message))
    yield opened
    context.close()
    assert told == []


def opened(page: Page, book: Book, folder: Path) -> Page:
    file = folder / "sheet.html"
    file.write_text(field_sheet(book), encoding="utf-8")
    page.goto(file.as_uri())
    return page


def tap(page: Page, terminal: str) -> None:
    page.locator(f'.drawing:visible [data-terminal="{terminal}"]').click()


def test_two_taps_show_what_read_tells(page: Page, tmp_path: Path) -> None:
    book = book_of(HOUSE)
    opened(page, book, tmp_path)
    for call, one, other in (("cool", "cond.Y", "cond.C"), ("heat", "board.W", "board.C"), ("off", "stat.R", "stat.Y")):
        page.locator(f'input[value="{call}"]').check()
        tap(page, one)
        tap(page, other)
        expected = volts_between(book.circuit, call, one, other)
        numbers = [float(found) for found in re.findall(r"\d+\.\d+", page.locator("#reading").inner_text())]
        assert numbers == pytest.approx([expected.value, expected.low, expected.high], abs=0.0051)


def test_every_expected_reading_in_the_file_is_what_read_tells() -> None:
    book = book_of(load_job(ROOT / "examples/orchard-heat-pump-b.job.yaml"))
    text = field_sheet(book)
    data = json.loads(re.search(r'<script[^>]*id="data"[^>]*>(.*?)</script>', text, re.S).group(1))  # type: ignore[union-attr]
    for call, told in data["calls"].items():
        for one, other in told["asked"][::9]:
            at = 3 * (max(one, other) * (max(one, other) - 1) // 2 + min(one, other))
            expected = volts_between(book.circuit, call, data["points"][one], data["points"][other])
            shown = [hundredths / 100 for hundredths in told["volts"][at : at + 3]]
            assert shown == pytest.approx([expected.value, expected.low, expected.high], abs=0.0051)


def test_a_call_lights_its_loop(page: Page, tmp_path: Path) -> None:
    opened(page, book_of(HOUSE), tmp_path)
    lit = "(groups) => groups.filter(g => getComputedStyle(g.querySelector('.band')).display !== 'none').map(g => g.dataset.line)"
    lines = page.locator(".drawing:visible [data-line]")
    # Called for nothing, the thermostat still lives on its common.
    assert set(lines.evaluate_all(lit)) == {"wall.red", "wall.blue"}
    page.locator('input[value="heat"]').check()
    assert set(lines.evaluate_all(lit)) == {"wall.red", "wall.white", "wall.blue"}
    assert "board.heat" in page.locator("#runs").inner_text()


def test_by_keyboard_alone(page: Page, tmp_path: Path) -> None:
    opened(page, book_of(HOUSE), tmp_path)
    page.keyboard.press("Tab")
    for _ in range(20):
        if page.evaluate("document.activeElement.name") == "call":
            break
        page.keyboard.press("Tab")
    page.keyboard.press("ArrowRight")
    assert page.evaluate("document.querySelector('input[name=call]:checked').value") == "fan"
    for lead, name in (("lead-a", "board.G"), ("lead-b", "board.C")):
        for _ in range(20):
            if page.evaluate("document.activeElement.id") == lead:
                break
            page.keyboard.press("Tab")
        page.keyboard.type(name)
    assert "board.G to board.C on 'fan'" in page.locator("#reading").inner_text()


def test_it_leads_from_what_is_seen_to_what_is_wrong(page: Page, tmp_path: Path) -> None:
    book = book_of(HOUSE)
    opened(page, book, tmp_path)
    fault = Fault("open", ("outside.red",))
    runs = measured(book.job, (fault,), Check("running", "cool", tuple(book.circuit.functions))).running
    assert book.tree is not None
    (entry,) = [
        e for e in book.tree.entries if e.call == "cool" and e.runs == {name for name, on in runs.items() if on}
    ]
    page.locator("#symptom").select_option(label=entry.words)
    node = entry.after
    while isinstance(node, Step):
        assert page.locator("#tree h3").inner_text() == node.words
        answer = fitting(node, book.job, fault)
        page.locator("#tree").get_by_role("button", name=answer.words, exact=True).press("Enter")
        node = answer.after
    assert page.locator("#tree ul").inner_text().split("\n") == list(node.words)
    assert "outside.red open" in node.words
    page.get_by_role("button", name="Back").click()
    assert page.locator("#tree button").count() > 1
    found = Axe().run(page, options={"runOnly": RULES})
    assert found.response["violations"] == []


@pytest.mark.parametrize("name", ["orchard-heat-pump-mixed", "manor-two-sources-jumpered"])
def test_axe_finds_nothing_and_it_fits_the_screen(name: str, page: Page, tmp_path: Path) -> None:
    job = load_job(ROOT / f"examples/{name}.job.yaml")
    opened(page, Book(job, imprint(job, DAY)), tmp_path)
    page.locator('input[value="cool"]').check()
    page.locator("details").evaluate_all("(all) => all.forEach(one => one.open = true)")
    tap(page, next(end for ends in job.landings.values() for end in ends if end))
    assert page.evaluate("document.documentElement.scrollWidth <= innerWidth")
    found = Axe().run(page, options={"runOnly": RULES})
    assert [(rule["id"], [node["html"][:200] for node in rule["nodes"]]) for rule in found.response["violations"]] == []


def test_hostile_words_stay_words(page: Page, tmp_path: Path) -> None:
    data = json.loads(json.dumps(HOUSE).replace("hall", "<img src=x onerror=alert(1)>"))
    job = read_job(json.dumps({**data, "title": HOSTILE, "note": "</script><script>alert(2)</script>"}))
    opened(page, Book(job, imprint(job, DAY)), tmp_path)
    page.locator('input[value="cool"]').check()
    assert page.locator("img").count() == 0
    assert page.locator("script").count() == 2
    assert page.locator("h1").inner_text().startswith("</title><script>")
    assert page.evaluate("document.documentElement.scrollWidth <= innerWidth")


@pytest.mark.parametrize("file", SOME, ids=lambda file: file.name.partition(".")[0])
def test_it_is_small_whole_and_says_what_it_is(file: Path) -> None:
    job = load_job(file)
    text = field_sheet(Book(job, imprint(job, DAY)))
    assert len(text.encode()) < 2_000_000
    assert not re.search(r"""(?:src|href)\s*=|url\(|@import|https?://""", text)
    for words in ("maker's diagram and local code win", "2026-03-31", imprint(job, DAY).revision):
        assert words in text


def test_the_same_job_gives_the_same_bytes() -> None:
    assert field_sheet(book_of(COTTAGE)) == field_sheet(book_of(COTTAGE))
    assert field_sheet(book_of(COTTAGE)) != field_sheet(Book(job_of(HOUSE), imprint(job_of(HOUSE), DAY)))
