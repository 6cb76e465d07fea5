"""The whole job in a real browser, from nothing to paper: built and landed, asked, searched, practised on, measured, printed.

One job goes through all the steps, in this order; a failure's traceback names the step that it fell in.
"""

from __future__ import annotations

import re
import subprocess
from io import BytesIO
from pathlib import Path

import numpy as np
from playwright.sync_api import Browser, Page, expect
from pypdf import PdfReader

from callpath.faults.practice import hide
from callpath.faults.troubleshoot import Case
from callpath.faults.world import World
from callpath.job.model import Fault
from callpath.job.read import read_job
from tests.records.pictures import picture
from tests.web.browsing import CALLPATH, sound
from tests.web.building import (
    TITLE,
    add_cable,
    add_equipment,
    begin,
    change_a_setting,
    change_the_thermostat,
    join_in_a_splice,
    land,
    land_by_lists,
    land_in_the_drawing,
    link_two_terminals,
    see_a_wrong_landing_and_undo_it,
    take_a_proposal_move_by_move,
    verdict,
)
from tests.web.test_browser_fault import answer_it, complain


def test_from_an_empty_job_to_its_papers(page: Page, browser: Browser, address: str, tmp_path: Path) -> None:
    # Of a kind that will turn out to be wrong.
    job = begin(page, "thermostat/heat-only")
    verdict(page, "it serves no call yet")
    sound(page)
    add_equipment(page, job, "furnace blower", "indoor/furnace-board", "cellar", "board")
    add_equipment(page, job, "condenser", "outdoor/condenser", "yard", "cond")
    change_the_thermostat(page, job)
    add_cable(page, job, "wall", ("hall", "cellar"), "18/5")
    add_cable(page, job, "outside", ("cellar", "yard"), "18/2")
    land_in_the_drawing(page, job)
    land_by_lists(page, job)
    join_in_a_splice(page, job)
    link_two_terminals(page, job)
    change_a_setting(page, job)
    see_a_wrong_landing_and_undo_it(page, job)
    take_a_proposal_move_by_move(page, job)
    read_a_meter(page, job)
    see_the_loop(page, job)
    play_the_sequence(page, job)
    open_a_field_contact(page, job)
    plant_a_fault(page, job)
    find_a_fault_on_two_devices(page, browser, address, job)
    practise(page, job)
    leave_it_better_than_found(page, job)
    write_readings_down(page, job)
    attach_a_photo(page, job)
    compare_the_two(page, job)
    take_the_papers(page, job)
    take_the_file_out(page, job, tmp_path)


# ---- to ask it ----


def read_a_meter(page: Page, job: str) -> None:
    """Both leads by taps: at rest beneath the band of 24 V coils there is nothing, on the call there is the transformer."""
    page.goto(f"{job}/ask?call=cool")
    for terminal in ("cond.Y", "cond.C"):
        page.locator(f'#drawing [data-terminal="{terminal}"]').click(force=True)
    expect(page.locator("output")).to_have_text(re.compile(r"2[3-8]\.\d\d V"))
    expect(page.locator("output")).to_be_in_viewport(ratio=1)
    page.locator(".calls").get_by_role("link", name="off", exact=True).click()
    expect(page.locator("output")).to_have_text(re.compile(r"0\.\d\d V"))
    sound(page)


def see_the_loop(page: Page, job: str) -> None:
    page.locator(".calls").get_by_role("link", name="cool", exact=True).click()
    expect(page.get_by_role("heading", name="The loop from board.transformer")).to_be_visible()
    live = page.locator("#drawing .conductor.live")
    expect(live.first).to_be_attached()
    lit = set(live.evaluate_all("lines => lines.map(line => line.dataset.line)"))
    assert {"wall.red", "wall.yellow", "outside.red", "outside.white"} <= lit
    assert "wall.white" not in lit


def play_the_sequence(page: Page, job: str) -> None:
    page.get_by_role("link", name="Sequence", exact=True).click()
    page.locator(".calls").get_by_role("link", name="cool", exact=True).click()
    # The page of that call has come before anything is typed into it.
    expect(page.locator("body")).not_to_have_class(re.compile("busy"))
    page.locator("#meanwhile summary").click()
    page.get_by_label(re.compile("^The call ends")).fill("600")
    page.get_by_role("button", name="Play it so").click()
    expect(page.locator("#drawing .terminal.live").first).to_be_attached()
    page.get_by_role("button", name="Next").click()
    expect(page.locator(".instant:visible")).to_contain_text("the call 'cool' ends")
    expect(page.locator(".instant:visible")).to_contain_text("nothing runs")


def open_a_field_contact(page: Page, job: str) -> None:
    page.goto(job)
    panel = page.locator("#contacts")
    panel.locator("summary").click()
    for state, words in (("open", "to mend"), ("", "Clean")):
        panel.get_by_label("cond.high-pressure").select_option(state)
        panel.get_by_role("button", name="Set them so").click()
        verdict(page, words)


def plant_a_fault(page: Page, job: str) -> None:
    page.goto(f"{job}/ask?call=cool")
    page.locator("#plant-it summary").click()
    page.get_by_label("Fault", exact=True).select_option("open wall.yellow")
    page.get_by_role("button", name="See what it does").click()
    expect(page.get_by_text("A fault is planted here")).to_be_visible()
    expect(page.locator("#runs-h + ul")).to_contain_text("cond.compressor dead")
    sound(page)
    page.goto(job)
    verdict(page, "Clean")


# ---- to find what is wrong with it ----


def case_of(page: Page, job: str) -> Case:
    return Case(read_job(page.request.get(f"{job}/file").text(), file="the job"))


def find_a_fault_on_two_devices(page: Page, browser: Browser, address: str, job: str) -> None:
    """The van's telephone runs out; whoever goes on has another, with the same search on it."""
    case = case_of(page, job)
    world = World(case.job, (Fault("open", ("outside.red",)),), np.random.default_rng(0), exact=True)
    page.goto(f"{job}/fault")
    page.get_by_label("On the call").select_option("cool")
    complain(page)
    seen = "#seen-h + ol > li"
    expect(page.locator(seen)).to_have_count(1)
    answer_it(page, case, world)
    expect(page.locator(seen)).to_have_count(2)
    expect(page.get_by_role("heading", name="Next")).to_be_in_viewport(ratio=1)
    told = page.locator(seen).all_inner_texts()
    context = browser.new_context(base_url=address)
    other = context.new_page()
    other.goto(f"{job}/fault")
    assert other.locator(seen).all_inner_texts() == told
    for made in range(3, 25):
        if other.get_by_role("heading", name="No further test").count():
            break
        answer_it(other, case, world)
        expect(other.locator(seen)).to_have_count(made)
    expect(other.locator(".next")).to_contain_text("No further test")
    expect(other.locator(".next .test").first).to_contain_text("outside.red")
    expect(other.locator(".suspects li").first).to_contain_text("outside.red")
    context.close()
    page.reload()
    expect(page.locator(".suspects li").first).to_contain_text("outside.red")
    sound(page)
    page.get_by_role("button", name="End this search").click()
    expect(page.locator(seen)).to_have_count(0)


def practise(page: Page, job: str) -> None:
    case = case_of(page, job)
    broken = ((number, hide(case, number).faults[0]) for number in range(1, 200))
    seed, culprit = next(
        (n, fault.where[0]) for n, fault in broken if fault.kind == "open" and fault.where[0] in case.job.landings
    )
    page.get_by_role("link", name="Practice", exact=True).click()
    page.get_by_label("Number of the exercise").fill(str(seed))
    page.get_by_role("button", name="Hide it").click()
    expect(page.get_by_role("heading", name="The complaint")).to_be_visible()
    for terminal in ("cond.Y", "cond.C"):
        page.locator(f'#drawing [data-terminal="{terminal}"]').click(force=True)
    page.get_by_role("button", name="Look", exact=True).click()
    expect(page.get_by_role("group", name="Your tests so far")).to_contain_text("volts from cond.Y to cond.C")
    page.get_by_label("At fault is").select_option(culprit)
    page.get_by_role("button", name="Mend it").click()
    expect(page.get_by_role("heading", name="You found it")).to_be_visible(timeout=60_000)
    page.get_by_role("link", name="Scores").last.click()
    expect(page.get_by_role("row", name=re.compile(rf"{re.escape(TITLE)}.* ✓ yes")).first).to_be_visible()


# ---- to hand it over ----


def leave_it_better_than_found(page: Page, job: str) -> None:
    """Say that the version which counts shows the job as found, then change something: the thermostat gets its common."""
    page.goto(f"{job}/versions")
    first = page.locator(".versions li").first
    first.locator("summary").click()
    first.get_by_role("button", name=re.compile("^It shows the job as found")).click()
    expect(first.locator(".tag").filter(has_text="as found")).to_be_visible()
    sound(page)
    page.goto(f"{job}/equipment/stat")
    page.get_by_label(re.compile("^power")).select_option("common")
    page.get_by_role("button", name="Set them so").click()
    verdict(page, "to mend")
    land(page, "wall.blue@1", "stat.C")
    land(page, "wall.blue@2", "board.C")
    verdict(page, "Clean")


def write_readings_down(page: Page, job: str) -> None:
    """What stays the same from one reading to the next is not asked for again."""
    page.get_by_role("link", name="Record", exact=True).click()
    page.get_by_label("On the call").select_option("cool")
    for phase, volts, told in (("as found", "12", "✗ outside"), ("as left", "25.7", "✓ in band")):
        page.get_by_label("When").select_option(label=phase)
        page.get_by_label("Red lead on").select_option("cond.Y")
        page.get_by_label("Black lead on").select_option("cond.C")
        page.get_by_label(re.compile("^It read")).fill(volts)
        page.get_by_role("button", name="Write it down").click()
        rows = page.get_by_role("row").filter(has_text=told)
        expect(rows).to_have_count(1)
        expect(rows).to_contain_text("cool: cond.Y to cond.C")
        expect(page.get_by_label("When")).to_have_value(phase.replace(" ", "-"))
        expect(page.get_by_label("On the call")).to_have_value("cool")
    sound(page)


def attach_a_photo(page: Page, job: str) -> None:
    page.get_by_label(re.compile("^Photos: JPEG")).set_input_files(
        {"name": "strip.png", "mimeType": "image/png", "buffer": picture("PNG")}
    )
    page.get_by_label("Of", exact=True).select_option("board")
    page.get_by_label("Caption").fill("The strip as it was")
    page.get_by_role("button", name="Add them").click()
    expect(page.get_by_role("img", name="The strip as it was")).to_be_visible()
    page.get_by_role("link", name="The strip as it was").click()
    expect(page.get_by_role("heading", name="The strip as it was")).to_be_visible()
    sound(page)
    page.get_by_role("link", name="Back to the record").click()


def compare_the_two(page: Page, job: str) -> None:
    page.get_by_role("link", name="Compare as found with as left").click()
    expect(
        page.get_by_role("heading", name=re.compile("^From version .*as found, to version .*as left"))
    ).to_be_visible()
    expect(page.get_by_role("row", name=re.compile("stat.*power.*common"))).to_be_visible()
    sound(page)


def take_the_papers(page: Page, job: str) -> None:
    page.get_by_role("link", name="Record", exact=True).click()
    taken = {}
    for label in ("PDF, A4", "Diagram, SVG", "Field sheet, needs no network"):
        with page.expect_download() as download:
            page.get_by_role("link", name=re.compile(f"^{label} ?, as left$")).click()
        taken[download.value.suggested_filename.rpartition(".")[2]] = download.value.path().read_bytes()
        # What took longer than a second had a page of its own, which stays.
        page.goto(f"{job}/record")
    assert taken["pdf"].startswith(b"%PDF")
    words = " ".join(sheet.extract_text() for sheet in PdfReader(BytesIO(taken["pdf"])).pages)
    assert TITLE in " ".join(words.split())
    assert "<svg" in taken["svg"].decode()[:500]
    assert "<!doctype html>" in taken["html"].decode()[:200].casefold()
    assert TITLE in taken["html"].decode()


def take_the_file_out(page: Page, job: str, folder: Path) -> None:
    page.goto(job)
    with page.expect_download() as taken:
        page.get_by_role("link", name="Take the file out").first.click()
    assert taken.value.suggested_filename == "tannery-office-from-nothing.job.yaml"
    file = folder / taken.value.suggested_filename
    taken.value.save_as(file)
    proved = subprocess.run([*CALLPATH, "prove", str(file)], capture_output=True, text=True, check=False)
    assert proved.returncode == 0, proved.stdout + proved.stderr
