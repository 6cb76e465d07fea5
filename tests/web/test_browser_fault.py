"""The fault finder from complaint to fault and an exercise from hiding to score, by taps, at both sizes."""

from __future__ import annotations

import json
import re

import numpy as np
from playwright.sync_api import Browser, Page, expect

from callpath.faults.practice import hide
from callpath.faults.seen import read_seen
from callpath.faults.troubleshoot import Case
from callpath.faults.world import World
from callpath.job import load_job
from callpath.job.model import Fault
from callpath.job.write import flow
from tests.web.browsing import EXAMPLES, bring, sound

COTTAGE = load_job(EXAMPLES / "garden-cottage.job.yaml")


def ready_for_gloves(page: Page) -> None:
    """Nothing that is pressed is smaller than 48 px, and no two of them touch."""
    shown = (
        "button, select, summary, a.button, label:has(input[type=radio], input[type=checkbox]), "
        "input:not([type=radio], [type=checkbox], [type=hidden])"
    )
    boxes = (
        page.locator(".glove")
        .locator(shown)
        .evaluate_all(
            """items => items.filter(item => item.checkVisibility()).map(item => {
        const box = item.getBoundingClientRect(); return [item.textContent.trim().slice(0, 30), box.width, box.height]; })"""
        )
    )
    assert len(boxes) > 3
    assert [box for box in boxes if min(box[1:]) < 48] == []
    apart = page.locator(".glove .row").evaluate_all(
        """rows => rows.map(row => [...row.children].filter(item => item.checkVisibility())).flatMap(
        items => items.flatMap((one, i) => items.slice(i + 1).map(other => {
        const [a, b] = [one.getBoundingClientRect(), other.getBoundingClientRect()];
        return Math.max(b.left - a.right, b.top - a.bottom, a.left - b.right, a.top - b.bottom); })))"""
    )
    assert min(apart, default=12) >= 8


def complain(page: Page) -> None:
    """Tell that in cooling the blower runs and the compressor does not."""
    for name, word in (("board.blower", "runs"), ("cond.compressor", "does not run")):
        page.locator("#probe fieldset fieldset", has_text=name).get_by_text(word, exact=True).click()
    page.get_by_role("button", name="That is what I see").click()


def answer_it(page: Page, case: Case, world: World) -> str:
    """Make the test that the page proposes on a job with a fault, and type what it shows; return its kind."""
    carried = json.loads(page.locator('.next input[name="test"]').input_value())
    kind = next(kind for kind in ("running", "volts", "amps", "ohms") if kind in carried)
    if kind == "running":
        carried["running"] = dict.fromkeys(carried["running"], False)
    (seen,) = read_seen(f"seen:\n  - {flow(carried)}\n", case.circuit)
    shows = world.answer(seen.test)
    mark = {"running": ".plate-look", "volts": ".plate-red", "ohms": ".plate-red", "amps": ".plate-clamp"}[kind]
    expect(page.locator(f"#drawing .probe {mark}").first).to_be_visible()
    for name, on in shows.running.items():
        choice = page.locator(".next fieldset", has_text=name)
        words = ("pulled in", "not pulled in") if name in seen.test.coils else ("runs", "does not run")
        choice.get_by_text(words[0] if on else words[1], exact=True).click()
    if kind != "running":
        page.get_by_label("It reads").fill("OL" if np.isinf(shows.value) else f"{shows.value:.2f}")
    page.locator(".next").get_by_role("button", name="That is what I see").click()
    return kind


def test_from_the_complaint_to_the_fault(page: Page) -> None:
    fault = Fault("open", ("cond.contactor",))
    case, world = Case(COTTAGE), World(COTTAGE, (fault,), np.random.default_rng(0), exact=True)
    job = bring(page, "garden-cottage")
    page.goto(f"{job}/fault")
    expect(page.get_by_label("On the call")).to_have_value("cool")
    ready_for_gloves(page)
    sound(page)
    complain(page)
    for made in range(1, 25):
        expect(page.locator("#seen-h + ol > li")).to_have_count(made)
        if page.locator(".next").get_by_role("heading", name="No further test").count():
            break
        expect(page.locator(".next .caution").first).to_be_visible()
        if made == 1:
            ready_for_gloves(page)
            sound(page)
        answer_it(page, case, world)
    expect(page.locator(".next")).to_contain_text("Further tests would not change the repair.")
    # What it is stands where the next test stood, in sight.
    expect(page.locator(".next .test").first).to_contain_text("cond.contactor")
    expect(page.locator(".next .test").first).to_be_in_viewport()
    expect(page.locator(".suspects li").first).to_contain_text("cond.contactor")
    sound(page)


def test_an_answer_by_one_tap(page: Page) -> None:
    job = bring(page, "garden-cottage")
    page.goto(f"{job}/fault")
    complain(page)
    test = page.locator(".next .test")
    expect(test).to_contain_text("volts")
    before = test.inner_text()
    page.get_by_role("group", name="Common answers").get_by_role("button", name="0 V", exact=True).click()
    expect(page.locator("#seen-h + ol > li").nth(1)).to_contain_text("0 V")
    expect(test).not_to_have_text(before)


def test_own_readings_by_taps_in_the_drawing(page: Page) -> None:
    job = bring(page, "garden-cottage")
    page.goto(f"{job}/fault")
    expect(page.locator('[data-terminal="cond.Y"]')).to_be_attached()
    page.locator('[data-terminal="cond.Y"]').click(force=True)
    page.locator('[data-terminal="cond.C"]').click(force=True)
    expect(page.get_by_label("Red lead on")).to_have_value("cond.Y")
    expect(page.get_by_label("Black lead on")).to_have_value("cond.C")
    expect(page.locator("#drawing .probe.mine")).to_have_text(["red", "black"])
    expect(page.locator(".caution.of-volts")).to_be_visible()
    expect(page.locator(".caution.of-ohms")).to_be_hidden()
    page.get_by_label("It read", exact=True).fill("0.0")
    page.get_by_role("button", name="That is what I see").click()
    expect(page.locator("#seen-h + ol")).to_contain_text("volts from cond.Y to cond.C: 0 V")
    page.locator("#drawing").evaluate("figure => { figure.scrollTop = figure.scrollLeft = 0; }")
    page.locator('[data-line="wall.green"]').dispatch_event("click")
    expect(page.get_by_label("Conductor, for amps")).to_have_value("wall.green")
    expect(page.locator('[data-line="wall.green"]')).to_have_class(re.compile("picked"))


def test_the_enter_key_of_a_number_pad_answers(page: Page) -> None:
    job = bring(page, "garden-cottage")
    page.goto(f"{job}/fault")
    page.get_by_label("What", exact=True).select_option("volts")
    page.get_by_label("Red lead on").select_option("cond.Y")
    page.get_by_label("Black lead on").select_option("cond.C")
    page.get_by_label("It read", exact=True).fill("12")
    page.get_by_label("It read", exact=True).press("Enter")
    expect(page.locator("#seen-h + ol")).to_contain_text("volts from cond.Y to cond.C: 12 V")
    # The next test, which is the answer to that, is what is looked at.
    expect(page.locator(".next .test")).to_be_in_viewport()


def test_a_hint_comes_where_it_is_seen(page: Page) -> None:
    job = bring(page, "garden-cottage")
    page.goto(f"{job}/practice")
    page.get_by_role("button", name="Hide it").click()
    page.get_by_role("link", name="A hint").click()
    expect(page.locator("#hint b")).to_be_in_viewport()


def on_a_conductor(case: Case, seed: int) -> bool:
    return hide(case, seed).faults[0].where[0] in COTTAGE.landings


def test_an_exercise_from_hiding_to_the_score(page: Page) -> None:
    """The fault is named by a tap on its conductor; nothing in the drawing has told it before."""
    case = Case(COTTAGE)
    seed = next(
        n for n in range(1, 200) if hide(case, n).faults[0].kind in ("open", "loose") and on_a_conductor(case, n)
    )
    culprit = hide(case, seed).faults[0].where[0]
    job = bring(page, "garden-cottage")
    before = page.request.get(f"{job}/fault/drawing").text()
    page.goto(f"{job}/practice")
    page.get_by_label("Number of the exercise").fill(str(seed))
    ready_for_gloves(page)
    page.get_by_role("button", name="Hide it").click()
    expect(page.get_by_role("heading", name="The complaint")).to_be_visible()
    expect(page.locator('[data-terminal="board.R"]')).to_be_attached()
    ready_for_gloves(page)
    sound(page)
    source = page.locator("#drawing").get_attribute("data-src")
    assert source is not None
    assert page.request.get(source).text() == before
    page.locator('[data-terminal="board.R"]').click(force=True)
    page.locator('[data-terminal="board.C"]').click(force=True)
    page.get_by_role("button", name="Look", exact=True).click()
    expect(page.get_by_role("group", name="Your tests so far")).to_contain_text("volts from board.R to board.C")
    # The leads stay where they are, in the lists and in the drawing.
    expect(page.get_by_label("What", exact=True)).to_have_value("volts")
    expect(page.get_by_label("Black lead on")).to_have_value("board.C")
    expect(page.locator("#drawing .probe.mine")).to_have_text(["red", "black"])
    expect(page.locator("#drawing svg")).to_be_visible()
    page.get_by_text("names what is at fault").click()
    page.locator(f'[data-line="{culprit}"]').dispatch_event("click")
    expect(page.get_by_label("At fault is")).to_have_value(culprit)
    page.get_by_role("button", name="Mend it").click()
    # The best path to compare with is looked for now, which the page tells where it takes long.
    expect(page.get_by_role("heading", name="You found it")).to_be_visible(timeout=60_000)
    expect(page.get_by_text("The best that callpath knows")).to_be_visible()
    sound(page)
    page.get_by_role("link", name="Scores").last.click()
    expect(page.get_by_role("row", name=re.compile(f"{seed}, 1 fault, some alike ✓ yes")).first).to_be_visible()


def test_what_is_in_a_device_is_named_by_tapping_it(page: Page) -> None:
    job = bring(page, "garden-cottage")
    page.goto(f"{job}/practice")
    page.get_by_role("button", name="Hide it").click()
    expect(page.locator('[data-block="cond"]')).to_be_attached()
    page.get_by_text("names what is at fault").click()
    page.locator('[data-block="cond"]').dispatch_event("click")
    expect(page.get_by_label("At fault is")).to_have_value("cond.contactor")
    for conductor in ("wall.red", "wall.white"):
        page.locator(f'[data-line="{conductor}"]').dispatch_event("click")
    expect(page.get_by_label("At fault is")).to_have_value("wall.red wall.white")


def test_the_proposed_test_is_drawn_without_script(browser: Browser, address: str) -> None:
    context = browser.new_context(base_url=address, java_script_enabled=False)
    page = context.new_page()
    job = bring(page, "garden-cottage")
    page.goto(f"{job}/fault")
    complain(page)
    expect(page.locator(".next .test")).to_be_visible()
    source = page.locator("#drawing img").get_attribute("src")
    assert source is not None
    drawn = page.request.get(source).text()
    assert ">red<" in drawn
    assert ">calls cool<" in drawn
    context.close()


def test_assumptions_are_changed_and_taken_back(page: Page) -> None:
    job = bring(page, "garden-cottage")
    page.goto(f"{job}/fault")
    page.get_by_role("link", name="assumptions").click()
    sound(page)
    box = page.get_by_label("As text").nth(1)
    box.fill(box.input_value().replace("walk: 2.0", "wlak: 2.0"))
    page.get_by_role("button", name="Use these for this job").nth(1).click()
    expect(page.locator("#alert")).to_contain_text("did you mean 'walk'")
    box = page.get_by_label("As text").nth(1)
    box.fill(box.input_value().replace("wlak: 2.0", "walk: 9.0"))
    page.get_by_role("button", name="Use these for this job").nth(1).click()
    expect(page.locator("#minutes-h + p")).to_contain_text("of this job")
    sound(page)
    page.get_by_role("button", name="Back to those").click()
    expect(page.locator("#minutes-h + p")).to_contain_text("as they ship")
    page.get_by_role("link", name="what the office assumes").click()
    expect(page.get_by_role("heading", name="What is assumed")).to_be_visible()
    sound(page)
