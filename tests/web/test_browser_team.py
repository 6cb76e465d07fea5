"""An office in a real browser, at both sizes: accounts, jobs that are given, two who edit at once, logins that end."""

from __future__ import annotations

import os
import re
import subprocess
import sys
from collections.abc import Callable, Iterator
from typing import Any

import pytest
from playwright.sync_api import Browser, Page, expect

from tests.web.browsing import DESK, PHONE, SERVER, bring, sound

PASSWORD = "copper wire and paper"
Enter = Callable[..., Page]


@pytest.fixture(scope="module")
def team(tmp_path_factory: pytest.TempPathFactory, browser: Browser) -> Iterator[str]:
    """Run ``callpath serve --team``, make the first account with the key that it prints, and return where it is."""
    folder = tmp_path_factory.mktemp("office")
    place = {**os.environ, "CALLPATH_DATABASE_URL": f"sqlite:///{folder / 'callpath.db'}", "OPENBLAS_NUM_THREADS": "1"}
    server = subprocess.Popen(
        [sys.executable, "-c", SERVER, "serve", "--team", "--port", "0"], env=place, stdout=subprocess.PIPE, text=True
    )
    assert server.stdout is not None
    found = re.search(r"http://\S+", server.stdout.readline())
    assert found is not None
    address, key = found.group().rstrip("/"), server.stdout.readline().split()[-1]
    context = browser.new_context(**PHONE, base_url=address)
    page = context.new_page()
    page.goto("/people")
    expect(page.get_by_role("heading", name="The first account")).to_be_visible()
    for tried in ("a guess", key):
        page.get_by_label("The key").fill(tried)
        page.get_by_label("Your name").fill("Ada Lead")
        page.get_by_label("A password").fill(PASSWORD)
        page.get_by_role("button", name="Make the account").click()
        if tried != key:
            expect(page.locator("#alert")).to_contain_text("not the key")
            expect(page.get_by_label("Your name")).to_have_value("Ada Lead")
            sound(page)
    expect(page.get_by_role("link", name="Ada Lead")).to_be_visible()
    context.close()
    yield address
    server.terminate()
    server.wait(60)
    server.stdout.close()


@pytest.fixture(params=[DESK, PHONE], ids=["desk", "phone"])
def size(request: pytest.FixtureRequest) -> dict[str, Any]:
    """Return the size of a screen."""
    return dict(request.param)


@pytest.fixture
def enter(browser: Browser, team: str, size: dict[str, Any]) -> Iterator[Enter]:
    """Return how somebody opens the page on a device of their own, and logs in."""
    contexts = []
    complaints: list[str] = []

    def opened(name: str, password: str = PASSWORD) -> Page:
        context = browser.new_context(**size, base_url=team)
        contexts.append(context)
        page = context.new_page()
        page.on("console", lambda message: complaints.append(message.text) if message.type == "error" else None)
        page.on("pageerror", lambda error: complaints.append(str(error)))
        page.goto("/login")
        log_in(page, name, password)
        return page

    yield opened
    for context in contexts:
        context.close()
    assert [text for text in complaints if "status of 4" not in text] == []


def log_in(page: Page, name: str, password: str = PASSWORD) -> None:
    page.get_by_label("Your name").fill(name)
    page.get_by_label("Password").fill(password)
    page.get_by_role("button", name="Log in").click()


def account(lead: Page, name: str, role: str) -> str:
    """Make an account, under a name that no other test has."""
    lead.goto("/people")
    count = lead.locator("main details").count()
    name = f"{name} {count}"
    form = lead.locator("form").filter(has=lead.get_by_label("First password"))
    form.get_by_label("Name").fill(name)
    form.get_by_label("Role").select_option(role)
    form.get_by_label("First password").fill(PASSWORD)
    form.get_by_role("button", name="Make the account").click()
    expect(lead.locator("main details")).to_have_count(count + 1)
    return name


def give(lead: Page, job: str, name: str, may: str) -> None:
    lead.goto(f"{job}/people")
    lead.get_by_label(f"{name} may").select_option(label=may)
    lead.get_by_role("button", name=f"Set it so for {name}").click()
    expect(lead.get_by_label(f"{name} may")).to_have_value({"may look at it": "see", "may change it": "change"}[may])


def test_everybody_does_what_is_theirs(enter: Enter) -> None:
    lead = enter("Ada Lead")
    technician, trainee = account(lead, "Bert", "technician"), account(lead, "Cleo", "trainee")
    lead.locator("summary").nth(1).click()
    sound(lead)
    job = bring(lead, "garden-cottage-green-on-common")
    give(lead, job, technician, "may change it")
    give(lead, job, trainee, "may look at it")
    sound(lead)

    bert = enter(technician)
    expect(bert.get_by_role("link", name="People")).to_have_count(0)
    bert.get_by_role("link", name=re.compile("^Garden cottage")).click()
    bert.goto(f"{job}?pick=wall.green%402")
    bert.get_by_role("button", name="land here: wall.green on board.G").click()
    expect(bert.locator(".verdict").first).to_contain_text("Clean")

    cleo = enter(trainee)
    sound(cleo)
    cleo.get_by_role("link", name=re.compile("^Garden cottage")).click()
    expect(cleo.locator(".job-head")).to_contain_text(technician)
    expect(cleo.locator("#undo")).to_have_count(0)
    sound(cleo)
    for tab in ("Record", "Versions", "File"):
        cleo.get_by_role("link", name=tab, exact=True).click()
        expect(cleo.get_by_role("button", name=re.compile("Write|Take it|Save|Add"))).to_have_count(0)
        sound(cleo)
    cleo.goto("/new")
    expect(cleo.get_by_role("heading", name="Not yours to do")).to_be_visible()
    expect(cleo.get_by_role("link", name=trainee)).to_be_visible()
    sound(cleo)
    cleo.goto(f"{job}/practice")
    cleo.get_by_role("button", name="Hide it").click()
    cleo.get_by_role("button", name="Give up").click()
    expect(cleo.get_by_role("heading", name="It was not found")).to_be_visible()
    cleo.goto("/scores")
    expect(cleo.locator("tbody tr")).to_have_count(1)
    sound(cleo)
    lead.goto("/scores")
    expect(lead.get_by_role("cell", name=trainee)).to_be_visible()
    sound(lead)
    for address in ("/", "/people", "/me"):
        lead.goto(address)
        sound(lead)


@pytest.mark.parametrize("size", [PHONE], indirect=True, ids=["phone"])
def test_two_people_who_edit_one_job_lose_nothing(enter: Enter) -> None:
    lead = enter("Ada Lead")
    technician = account(lead, "Dora", "technician")
    job = bring(lead, "garden-cottage")
    give(lead, job, technician, "may change it")
    dora = enter(technician)
    dora.goto(f"{job}?pick=wall.white%402")
    lead.goto(f"{job}?pick=wall.green%402")
    lead.get_by_role("button", name="wall.green on board.W").click()
    expect(lead.locator(".job-head")).to_contain_text("version 2")
    dora.get_by_role("button", name="wall.white on board.chassis").click()
    alert = dora.locator("#alert")
    expect(alert).to_contain_text("Ada Lead saved version 2")
    expect(alert).to_contain_text("kept as version 3")
    sound(dora)
    alert.get_by_role("link", name="What is different").click()
    expect(dora.get_by_text("wall.white: take it off board.Y and land it on board.chassis")).to_be_visible()
    expect(dora.locator('[data-line="wall.green (was)"]')).to_be_attached()
    sound(dora)
    dora.locator("li").filter(has_text="kept aside").locator("summary").click()
    dora.get_by_role("button", name="Take it again").first.click()
    expect(dora.locator(".job-head")).to_contain_text("version 4")
    lead.goto(f"{job}/versions")
    for who in ("Ada Lead", technician):
        expect(lead.locator(".versions li").filter(has_text=who).first).to_be_visible()


@pytest.mark.parametrize("size", [DESK], indirect=True, ids=["desk"])
def test_a_login_that_ends_takes_nothing_that_was_typed(enter: Enter) -> None:
    lead = enter("Ada Lead")
    technician = account(lead, "Emil", "technician")
    emil, elsewhere = enter(technician), enter(technician)
    job = bring(emil, "garden-cottage")
    emil.goto(f"{job}/text")
    box = emil.get_by_label("The job file")
    mine = box.input_value() + "# by the stove\n"
    box.fill(mine)
    elsewhere.goto("/me")
    elsewhere.get_by_role("button", name="Log out everywhere").click()
    expect(elsewhere.get_by_text("logged out on every device")).to_be_visible()
    sound(elsewhere)
    emil.get_by_role("button", name="Save").click()
    expect(emil.locator("#warned")).to_contain_text("nothing was saved")
    assert box.input_value() == mine
    sound(emil)
    with emil.context.expect_page() as tab:
        emil.locator("#warned").get_by_role("link", name="Log in").click()
    log_in(tab.value, technician)
    expect(tab.value.get_by_role("heading", name="Jobs")).to_be_visible()
    emil.get_by_role("button", name="Save").click()
    expect(emil.locator(".job-head")).to_contain_text("version 2")
    emil.goto(f"{job}/text")
    assert "# by the stove" in emil.get_by_label("The job file").input_value()


@pytest.mark.parametrize("size", [PHONE], indirect=True, ids=["phone"])
def test_a_password_is_changed_and_an_account_closed(enter: Enter) -> None:
    lead = enter("Ada Lead")
    technician = account(lead, "Flora", "technician")
    flora, tablet = enter(technician), enter(technician)
    flora.get_by_role("link", name=technician).click()
    new = flora.get_by_label("New password")
    flora.get_by_label("Present password").fill("not this one")
    new.fill("another set of words")
    flora.get_by_role("button", name="Change it").click()
    expect(flora.locator("#alert")).to_contain_text("not right")
    flora.get_by_label("Present password").fill(PASSWORD)
    new.fill("another set of words")
    flora.get_by_role("button", name="Change it").click()
    expect(flora.get_by_text("Your password is changed")).to_be_visible()
    tablet.goto("/scores")
    expect(tablet.get_by_role("heading", name="Log in")).to_be_visible()
    log_in(tablet, technician)
    expect(tablet.locator("#alert")).to_contain_text("do not belong together")
    expect(tablet.get_by_label("Your name")).to_have_value(technician)
    sound(tablet)
    log_in(tablet, technician, "another set of words")
    # Where they wanted to go when they were asked to log in.
    expect(tablet.get_by_role("heading", name="Practice")).to_be_visible()

    lead.goto("/people")
    panel = lead.locator("details").filter(has_text=technician)
    panel.locator("summary").click()
    panel.get_by_label("The account is open").uncheck()
    panel.get_by_role("button", name="Set it so").click()
    expect(panel.get_by_text("account closed")).to_be_visible()
    sound(lead)
    tablet.reload()
    expect(tablet.get_by_role("heading", name="Log in")).to_be_visible()
    log_in(tablet, technician, "another set of words")
    expect(tablet.locator("#alert")).to_contain_text("do not belong together")
    own = lead.locator("details").filter(has_text="this is you")
    if own.get_attribute("open") is None:
        own.locator("summary").click()
    own.get_by_label("The account is open").uncheck()
    own.get_by_role("button", name="Set it so").click()
    expect(lead.locator("#alert")).to_contain_text("somebody must lead")
