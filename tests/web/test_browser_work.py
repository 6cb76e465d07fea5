"""Slow work in a real browser: it is watched, can be stopped, hands its answer over, and leaves no trace in the history."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Page, expect

from tests.web.browsing import DESK, bring, serving, sound

# A server that has next to no patience, and of which three kinds of work wait as long as a file is there.
_IMPATIENT = """
import pathlib, sys, time
from callpath.cli import main
from callpath.progress import step
from callpath.web import proposal, proved, record_page
from callpath.web.patience import Patience

Patience.__init__.__kwdefaults__["patient_s"] = 0.05
gate = pathlib.Path(sys.argv.pop(1))

def slow(module, name):
    work = getattr(module, name)
    def wait(*given, **options):
        while gate.exists():
            step("minding the gate", 0.25)
            time.sleep(0.02)
        return work(*given, **options)
    setattr(module, name, wait)

slow(proved, "prove")
slow(proposal, "repair")
slow(record_page, "pdf")
main()
"""


@pytest.fixture
def gate(tmp_path: Path) -> Path:
    """Return the file that shuts the gate while it is there."""
    return tmp_path / "shut"


@pytest.fixture
def address(tmp_path: Path, gate: Path) -> Iterator[str]:
    """Run a server for each test, since one remembers what it has proved."""
    with serving(tmp_path, program=[_IMPATIENT, str(gate)]) as where:
        yield where


def test_a_change_is_watched_until_it_is_proved(page: Page, gate: Path) -> None:
    job = bring(page, "garden-cottage-green-on-common")
    page.goto(f"{job}?pick=wall.green%402")
    gate.touch()
    page.get_by_role("button", name="land here: wall.green on board.G").click()
    expect(page.get_by_role("heading", name="Working on it")).to_be_visible()
    expect(page.locator("#work-doing")).to_have_text("Minding the gate")
    expect(page.locator("#work-bar")).to_have_attribute("value", "0.25")
    expect(page.locator("#work-seconds")).not_to_have_text("0")
    sound(page)
    gate.unlink()
    expect(page.locator(".verdict").first).to_contain_text("Clean")
    # Where the focus would be had there been nothing to wait for.
    expect(page.locator("[data-end='wall.green@2']")).to_be_focused()
    assert page.url.partition("?")[0].partition("#")[0] == job
    page.go_back()
    expect(page.get_by_role("heading", name="Working on it")).to_have_count(0)
    assert "/underway/" not in page.url


def test_it_is_stopped_and_leads_back(page: Page, gate: Path) -> None:
    job = bring(page, "garden-cottage-green-on-common")
    gate.touch()
    page.goto(f"{job}/propose?how=mend")
    expect(page.get_by_role("heading", name="Working on it")).to_be_visible()
    page.get_by_role("button", name="Stop it").click()
    expect(page.locator(".verdict").first).to_contain_text("3 to mend")
    assert page.url.partition("?")[0].partition("#")[0] == job


def test_a_file_is_handed_over_when_it_is_ready(page: Page, gate: Path) -> None:
    job = bring(page, "garden-cottage")
    page.goto(f"{job}/record")
    gate.touch()
    page.get_by_role("link", name="PDF, A4").first.click()
    expect(page.locator("#work-doing")).to_have_text("Minding the gate")
    with page.expect_download() as taken:
        gate.unlink()
    assert taken.value.suggested_filename.endswith("-as-found.pdf")
    assert taken.value.path().read_bytes().startswith(b"%PDF")
    expect(page.get_by_role("heading", name="It is ready")).to_be_visible()
    page.get_by_role("link", name="Back to the job").click()
    expect(page.locator("#strips-h")).to_be_visible()


def test_without_script_the_page_asks_again_by_itself(browser: Browser, address: str, gate: Path) -> None:
    context = browser.new_context(**DESK, base_url=address, java_script_enabled=False)
    page = context.new_page()
    job = bring(page, "garden-cottage-green-on-common")
    gate.touch()
    page.goto(f"{job}/propose?how=mend")
    expect(page.locator("#work-doing")).to_have_text("Minding the gate")
    gate.unlink()
    expect(page.get_by_role("heading", name="Working on it")).to_have_count(0)
    expect(page).to_have_url(f"{job}/propose?how=mend")
    context.close()
