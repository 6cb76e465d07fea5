"""Every page that there is, as axe sees it, at both sizes: of an office, which has more of them than one person's machine."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Page, expect

from callpath.web import app
from tests.records.pictures import picture
from tests.web.browsing import DESK, PHONE, serving, sound
from tests.web.office import PASSWORD, Office

JOB = "/jobs/{job_id}"
PAGES = {
    "/": ["/", "/?archived=true", "/?search=no+such+job"],
    "/new": ["/new"],
    "/parts": ["/parts", "/parts?search=no+such+part"],
    "/parts/{role}/{name}": ["/parts/indoor/furnace-board", "/parts/thermostat/heat-pump"],
    JOB: ["", "?pick=wall.green@1", "?jumper=board.R"],
    f"{JOB}/add": ["/add", "/add?search=float&part=accessory/float-switch"],
    f"{JOB}/equipment/{{name}}": ["/equipment/stat", "/equipment/board"],
    f"{JOB}/cables/{{name}}": ["/cables/wall"],
    f"{JOB}/cable": ["/cable"],
    f"{JOB}/table": ["/table"],
    f"{JOB}/text": ["/text"],
    f"{JOB}/propose": ["/propose", "/propose?how=mend", "/propose?free=wall&asked=yes"],
    f"{JOB}/ask": [
        "/ask?call=cool&red=cond.Y&black=cond.C",
        "/ask?call=cool&plant=open&where=wall.green",
    ],
    f"{JOB}/sequence": ["/sequence?call=cool&ends=600", "/sequence?call=cool&do=power-off+board&when=120"],
    f"{JOB}/fault": ["/fault"],
    f"{JOB}/practice": ["/practice"],
    f"{JOB}/assumptions": ["/assumptions"],
    f"{JOB}/record": ["/record"],
    f"{JOB}/photos/{{number}}/alone": ["/photos/1/alone", "/photos/2/alone"],
    f"{JOB}/versions": ["/versions", "/versions?older=as-found&newer=as-left", "/versions?older=1&newer=1"],
    f"{JOB}/people": ["/people"],
    "/assumptions": ["/assumptions"],
    "/scores": ["/scores"],
    "/people": ["/people"],
    "/me": ["/me"],
    "/login": ["/login"],
}
"""By route, the addresses at which it is looked at; of a job, what follows its own."""

ELSEWHERE = {
    "/underway/{key}": "lasts as long as the work: tests/web/test_browser_work.py holds it open",
    "/underway/{key}/state": "tells the script how far that is",
}
"""What is not looked at here, and why."""

NO_PAGE = {
    "/new/{name}/drawing": "/new/boiler-tt/drawing",
    f"{JOB}/drawing": "/drawing",
    f"{JOB}/propose/drawing": "/propose/drawing",
    f"{JOB}/sequence/drawing": "/sequence/drawing?call=cool",
    f"{JOB}/fault/drawing": "/fault/drawing",
    f"{JOB}/compared": "/compared?older=1&newer=2",
    f"{JOB}/file": "/file",
    f"{JOB}/photos/{{number}}": "/photos/1",
    f"{JOB}/papers": "/papers?kind=svg",
}
"""What answers with a drawing, a picture or a file."""

WRONG = [f"{JOB}/ask?call=cool&plant=open&where=wall.mauve", f"{JOB}/sequence?call=cool&do=everything&when=120"]
"""What asks for something that the job does not have."""


def test_every_page_is_looked_at_by_axe() -> None:
    """A new page is in one of the tables, or this fails."""
    every = {route.path for room in app.ROOMS for route in room.router.routes if "GET" in route.methods}
    assert every == {*PAGES, *ELSEWHERE, *NO_PAGE}


# ---- an office in which everything has happened once ----


def _fill(office: Office) -> None:
    """Leave a job of which every page has something to show: readings, photos, marks, a version aside, a search, scores."""
    lead, job = office.visitors["lead"], office.job
    seen = lead.seen(job)
    lead.edit(job, "land-end", end="wall.green@2", spot="board.C")
    lead.post(f"{job}/edit", {"seen": seen, "do": "land-end", "end": "wall.white@2", "spot": "board.W"})
    reading = {"call": "cool", "kind": "volts", "red": "cond.Y", "black": "cond.C"}
    for phase, amount in (("as-found", "12"), ("as-left", "25.7"), ("as-left", "OL")):
        lead.post(f"{job}/record", {**reading, "phase": phase, "amount": amount, "note": "by the yard door"})
    lead.post(f"{job}/record/strike", {"number": "2"})
    for phase in ("as-found", "as-left"):
        sent = {"photo": (f"{phase}.png", picture("PNG"), "image/png")}
        lead.post(f"{job}/photos", {"phase": phase, "of": "board", "caption": phase}, files=sent)
    complaint = {"kind": "running", "call": "cool", "runs:board.blower": "yes", "runs:cond.compressor": "no"}
    lead.post(f"{job}/fault", {"was": "", "do": "tell", **complaint})
    for do in ({"do": "hide", "seed": "3", "faults": "1", "alike": "some"}, {"do": "stop"}):
        lead.post(f"{job}/practice", do)
    lead.post(f"{lead.bring('bakery-split-no-jumper')}/archive", {"archived": "yes"})


@pytest.fixture(scope="module")
def office_at(tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[str, str]]:
    """Return where an office's page is, and the address of its job there."""
    folder: Path = tmp_path_factory.mktemp("office")
    office = Office(folder)
    _fill(office)
    office.close()
    with serving(folder, "--team") as where:
        yield where, office.job


@pytest.fixture(params=[DESK, PHONE], ids=["desk", "phone"])
def visitor(request: pytest.FixtureRequest, browser: Browser, office_at: tuple[str, str]) -> Iterator[Page]:
    """Return a browser at the office's door."""
    context = browser.new_context(**request.param, base_url=office_at[0])
    yield context.new_page()
    context.close()


def log_in(page: Page, name: str) -> None:
    page.goto("/login")
    page.get_by_label("Your name").fill(name)
    page.get_by_label("Password").fill(PASSWORD)
    page.get_by_role("button", name="Log in").click()
    expect(page.get_by_role("heading", name="Jobs")).to_be_visible()


def look(page: Page, address: str, status: int = 200) -> None:
    """Look at a page with everything on it opened, and its drawing there."""
    answer = page.goto(address)
    assert answer is not None
    assert answer.status == status, address
    for drawing in page.locator(".drawing[data-src]").all():
        expect(drawing.locator("svg")).to_be_attached()
    page.evaluate("document.querySelectorAll('main details').forEach(item => { item.open = true; })")
    sound(page)


def test_every_page_is_sound(visitor: Page, office_at: tuple[str, str]) -> None:
    page, job = visitor, office_at[1]
    log_in(page, "lead")
    for route, addresses in PAGES.items():
        for address in addresses:
            look(page, job + address if route.startswith(JOB) else address)
    for route, address in NO_PAGE.items():
        answer = page.request.get(job + address if route.startswith(JOB) else address)
        assert answer.ok, address
        assert "html" not in answer.headers["content-type"], address


def test_what_a_trainee_sees_is_sound(visitor: Page, office_at: tuple[str, str]) -> None:
    """Pages without anything to change, and those that say no."""
    page, job = visitor, office_at[1]
    log_in(page, "trainee given")
    for address in ("", "/propose", "/fault", "/record", "/versions", "/text", "/practice", "/assumptions"):
        look(page, job + address)
    for address, status in (("/new", 403), ("/people", 403), (f"{job}/add", 403), ("/jobs/none", 404),
                            ("/nowhere", 404), (f"{job}/photos/9/alone", 404), (f"{job}/record?kind=x&n=%ff", 200)):  # fmt: skip
        look(page, address, status)


def test_what_went_wrong_is_told_soundly(visitor: Page, office_at: tuple[str, str]) -> None:
    """Errors in forms, somebody who was quicker, a login that ended: by what the page shows in its place."""
    page, job = visitor, office_at[1]
    log_in(page, "owner")
    for address in WRONG:
        look(page, address.replace(JOB, job), 422)
    page.goto(f"{job}/text")
    page.get_by_label("The job file").fill("callpath: 1\nequipment: {stat: {part: thermostat/none, at: hall}}\n")
    page.get_by_role("button", name="Save").click()
    told(page)
    page.goto(f"{job}?pick=wall.white@2")
    other = page.context.new_page()
    other.goto(f"{job}?pick=wall.white@2")
    for each, spot in ((other, "board.W"), (page, "board.chassis")):
        each.get_by_role("button", name=f"land here: wall.white on {spot}").click()
    told(page, "Somebody was quicker")
    other.locator("#undo").click()
    page.goto(f"{job}/record")
    page.get_by_label("It read").fill("a lot")
    page.get_by_role("button", name="Write it down").click()
    told(page)
    page.goto("/me")
    page.get_by_label("Present password").fill("not this one")
    page.get_by_label("New password").fill("another set of words")
    page.get_by_role("button", name="Change it").click()
    told(page)
    page.context.clear_cookies()
    page.goto("/scores")
    expect(page.get_by_role("heading", name="Log in")).to_be_visible()
    page.get_by_label("Your name").fill("owner")
    page.get_by_label("Password").fill("not this one")
    page.get_by_role("button", name="Log in").click()
    told(page)


def told(page: Page, words: str = "") -> None:
    expect(page.locator("#alert")).to_contain_text(words)
    sound(page)


def test_the_first_account_and_one_person_alone_are_sound(browser: Browser, address: str, tmp_path: Path) -> None:
    with serving(tmp_path, "--team") as new:
        for size in (DESK, PHONE):
            for where, asked, status in ((new, "/", 200), (address, "/me", 200), (address, "/login", 403),
                                         (address, "/people", 403), (address, "/", 200), (address, "/scores", 200)):  # fmt: skip
                context = browser.new_context(**size, base_url=where)
                look(context.new_page(), asked, status)
                context.close()
