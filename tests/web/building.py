"""How a person builds a job on the page from nothing, step by step: the first half of the journey."""

from __future__ import annotations

import re

from playwright.sync_api import Page, expect

from tests.web.browsing import sound

TITLE = "Tannery office, from nothing"


def verdict(page: Page, words: str) -> None:
    expect(page.locator(".verdict").first).to_contain_text(words)


def begin(page: Page, thermostat: str) -> str:
    """Make as little as a job can be: a thermostat."""
    page.goto("/")
    page.get_by_role("link", name="New job").first.click()
    page.locator("#made summary").click()
    page.get_by_label("Title", exact=True).fill(TITLE)
    page.get_by_label("Thermostat", exact=True).select_option(thermostat)
    page.get_by_role("button", name="Make the job").click()
    expect(page.get_by_role("heading", name=TITLE)).to_be_visible()
    return page.url.partition("?")[0].partition("#")[0]


def add_equipment(page: Page, job: str, searched: str, part: str, at: str, name: str) -> None:
    page.goto(job)
    page.get_by_role("link", name="Add equipment").click()
    page.get_by_label(re.compile("^Name, terminals")).press_sequentially(searched)
    card = page.locator(".cards .card").filter(has_text=re.compile(re.escape(part) + r"\b(?!-)"))
    expect(page.locator(".cards .card")).not_to_have_count(0)
    expect(page).to_have_url(re.compile("search="))
    card.get_by_role("radio").check()
    page.get_by_label("Where it is").fill(at)
    page.get_by_label(re.compile("^Its id in the job")).fill(name)
    page.get_by_role("button", name="Add it to the job").click()
    expect(page.locator(f"[data-spot^='{name}.']").first).to_be_visible()


def change_the_thermostat(page: Page, job: str) -> None:
    """Take the one out that cannot cool, and find one that can by its terminals."""
    page.goto(job)
    page.get_by_role("link", name="change stat").click()
    page.get_by_role("button", name="Take stat out").click()
    expect(page.locator("[data-spot='stat.R']")).to_have_count(0)
    add_equipment(page, job, "Rc Rh Y", "thermostat/split-supply", "hall", "stat")


def add_cable(page: Page, job: str, name: str, between: tuple[str, str], makeup: str) -> None:
    page.goto(job)
    page.get_by_role("link", name="Add a cable").click()
    page.get_by_label("From").select_option(between[0])
    page.get_by_label("To", exact=True).select_option(between[1])
    page.get_by_text(makeup, exact=True).click()
    page.get_by_label("Length").fill("12")
    page.get_by_text("metres", exact=True).click()
    page.get_by_label(re.compile("^Its id")).fill(name)
    page.get_by_role("button", name="Add it", exact=True).click()
    expect(page.get_by_role("link", name=f"Cable {name}")).to_be_visible()


# ---- to land it ----


def tap_line(page: Page, conductor: str, side: int) -> None:
    """Tap a conductor in the drawing, near one of its ends."""
    # Not of the drawing before, which stands there faintly until the new one has come.
    path = page.locator(f'#drawing svg:not(.waiting) [data-line="{conductor}"] path').first
    expect(path).to_be_attached()
    spot = path.evaluate(
        """(path, side) => {
        const frame = document.getElementById("drawing");
        const at = () => path.getPointAtLength(side ? path.getTotalLength() - 6 : 6).matrixTransform(path.getScreenCTM());
        frame.scrollIntoView({ block: "start" });
        const box = frame.getBoundingClientRect();
        frame.scrollBy(at().x - box.left - box.width / 2, at().y - box.top - box.height / 3);
        window.scrollBy(0, at().y - 200);
        return [at().x, at().y]; }""",
        side - 1,
    )
    page.mouse.click(*spot)


def land_in_the_drawing(page: Page, job: str) -> None:
    page.goto(job)
    for side, spot in ((1, "stat.Rh"), (2, "board.R")):
        tap_line(page, "wall.red", side)
        expect(page.locator(".place .picked")).to_contain_text("wall.red")
        terminal = page.locator(f'#drawing svg:not(.waiting) [data-terminal="{spot}"]')
        expect(terminal).to_have_class(re.compile("target"))
        terminal.click(force=True)
        expect(page.locator(f".strip [data-spot='{spot}']")).to_contain_text("wall.red")


def land(page: Page, end: str, spot: str) -> None:
    """Land an end by what sits where: its chip, then the button of a terminal."""
    conductor, _, _ = end.partition("@")
    page.locator(f".strip [data-end='{end}']").click()
    page.get_by_role("button", name=f"land here: {conductor} on {spot}", exact=True).click()
    expect(page.locator(f".strip [data-spot='{spot}']")).to_contain_text(conductor)


def land_by_lists(page: Page, job: str) -> None:
    page.goto(job)
    land(page, "outside.white@1", "board.C")
    land(page, "outside.white@2", "cond.C")
    page.get_by_role("link", name="Land by table").click()
    sound(page)
    for conductor, at, spot in (("wall.yellow", "hall", "stat.Y"), ("outside.red", "yard", "cond.Y")):
        page.get_by_label(f"{conductor} at {at}").select_option(spot)
    page.get_by_role("button", name="Land them so").click()
    expect(page.locator(".strip [data-spot='cond.Y']")).to_contain_text("outside.red")


def join_in_a_splice(page: Page, job: str) -> None:
    page.goto(job)
    page.locator("#splices summary").click()
    page.get_by_label("A splice at").select_option("cellar")
    page.locator("#splices").get_by_role("button", name="Add").click()
    take_out = page.locator("#splices button[name='name']")
    splice = take_out.get_attribute("value") or ""
    land(page, "wall.yellow@2", splice)
    land(page, "outside.red@1", splice)


def link_two_terminals(page: Page, job: str) -> None:
    page.get_by_role("link", name="jumper from here: stat.Rc").click()
    page.locator(".strip").get_by_role("button", name="jumper from stat.Rc to stat.Rh").click()
    expect(page.locator(".strip [data-spot='stat.Rc'] button.jumper")).to_be_visible()


def change_a_setting(page: Page, job: str) -> None:
    """The splice takes Y past the board, so its blower has to start from G."""
    page.get_by_role("link", name="change board").click()
    page.get_by_label(re.compile("^cooling-blower-from")).select_option("G")
    page.get_by_role("button", name="Set them so").click()
    expect(page).to_have_url(job)
    page.goto(f"{job}/equipment/board")
    expect(page.get_by_label(re.compile("^cooling-blower-from"))).to_have_value("G")
    page.goto(f"{job}/equipment/cond")
    page.get_by_label(re.compile("^pressure-switches")).select_option("true")
    page.get_by_role("button", name="Set them so").click()
    expect(page).to_have_url(job)


def see_a_wrong_landing_and_undo_it(page: Page, job: str) -> None:
    page.goto(job)
    land(page, "wall.green@1", "stat.G")
    land(page, "wall.green@2", "board.C")
    expect(page.locator(".finding.danger")).to_contain_text("short")
    sound(page)
    page.locator("#undo").click()
    expect(page.locator(".finding.danger")).to_have_count(0)
    expect(page.locator(".strip [data-spot='board.C']")).not_to_contain_text("wall.green")
    page.locator("#undo").click()
    expect(page.locator(".strip [data-spot='stat.G']")).not_to_contain_text("wall.green")


def take_a_proposal_move_by_move(page: Page, job: str) -> None:
    page.get_by_role("link", name="Propose a landing").click()
    moves = page.locator(".moves li")
    expect(page.locator(".outcome")).to_contain_text("Clean")
    # The thermostat lives on cells, and blue is to spare.
    landed = ("white on stat.W and board.W", "green on stat.G and board.G", "blue on stat.C and board.C")
    expect(moves).to_have_text([re.compile(f"wall.{told}") for told in landed])
    sound(page)
    page.get_by_role("button", name=re.compile("^Do this one")).first.click()
    expect(moves).to_have_count(2)
    # The common is left for later.
    moves.last.get_by_role("checkbox").uncheck()
    page.get_by_role("button", name="Do it", exact=True).click()
    expect(page).to_have_url(job)
    verdict(page, "Clean")
