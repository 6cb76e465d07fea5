"""The guided search and the trainee's exercise: resumable, never lost, and scored."""

from __future__ import annotations

import html
import json
import re

import pytest

from callpath.faults.asked import Check
from callpath.faults.practice import amiss, hide
from callpath.faults.seen import read_seen
from callpath.faults.troubleshoot import Case
from callpath.faults.universe import repair_of
from callpath.job import load_job
from callpath.records.schema import Hunt
from callpath.web import practice_page
from callpath.web.asked_form import shortcuts
from callpath.web.proved import proved
from tests.web.site import EXAMPLES, Visitor, said

COMPLAINT = {"do": "tell", "kind": "running", "call": "cool", "runs:cond.compressor": "no", "runs:board.blower": "yes"}


def proposed(page: str) -> dict[str, object]:
    found = re.search(r'name="test" value="([^"]*)"', page)
    assert found is not None
    test: dict[str, object] = json.loads(html.unescape(found.group(1)))
    return test


def hunts(site: Visitor) -> list[Hunt]:
    with site.store.reading() as session:
        return session.query(Hunt).order_by(Hunt.id).all()


def test_the_page_proposes_what_the_engine_does(site: Visitor) -> None:
    job = site.bring("garden-cottage")
    page = site.post(f"{job}/fault", COMPLAINT).text
    case = Case(load_job(EXAMPLES / "garden-cottage.job.yaml"))
    seen = read_seen("seen: [{call: cool, running: {cond.compressor: false, board.blower: true}}]", case.circuit)
    answer = case.answer(seen)
    assert answer.next is not None
    test = proposed(page)
    assert test == {**answer.next.test.as_data(), answer.next.test.kind: 0}
    assert f"{100 * answer.suspects[0].probability:.0f} %" in page
    # On another device it goes on where it was; a reading leads to the next question.
    sent = {"do": "answer", "test": json.dumps(test), "amount": "0,1", "was": hunts(site)[0].seen}
    assert proposed(site.post(f"{job}/fault", sent).text) != test
    # An answer from a page that has been overtaken is not taken for an answer to something else.
    late = site.post(f"{job}/fault", sent)
    assert "from another device" in said(late)
    # Nor does it end a search that somebody else goes on with.
    assert "from another device" in said(site.post(f"{job}/fault", {"do": "end", "was": sent["was"]}))
    assert hunts(site)[0].ended_at is None
    site.post(f"{job}/fault", {"do": "undo"})
    assert proposed(site.get(f"{job}/fault").text) == test
    skipped = proposed(site.post(f"{job}/fault", {"do": "skip", "test": json.dumps(test)}).text)
    assert skipped != test
    site.post(f"{job}/fault", {"do": "end"})
    assert "What is wrong?" in said(site.get(f"{job}/fault"))
    assert hunts(site)[0].ended_at is not None


@pytest.mark.parametrize(
    ("sent", "told"),
    [
        ({"do": "dance"}, "does not do"),
        ({"do": "answer"}, "asks for no test"),
        ({"do": "answer", "test": "[1]"}, "asks for no test"),
        ({"do": "answer", "test": '{"call": "cool", "between": ["a", "b"], "volts": 0}', "amount": "1"}, "'a'"),
        (
            {"do": "answer", "test": '{"call": "cool", "between": ["cond.Y", "cond.C"], "volts": 0}'},
            "the reading is missing",
        ),
        (
            {"do": "tell", "kind": "volts", "call": "cool", "red": "cond.Y", "black": "cond.C", "amount": "9 A"},
            "is in A",
        ),
        ({"do": "tell", "kind": "running", "call": "cool"}, "of one at least"),
        ({"do": "tell", "kind": "running", "call": "dance", "runs:board.blower": "no"}, "dance"),
        ({"do": "tell", "kind": "weight"}, "say what to test"),
        (
            {"do": "may", "kind": "volts", "call": "cool", "red": "cond.Y", "black": "cond.C"},
            "which two terminals to join",
        ),
        ({"do": "tell", "kind": "amps", "call": "cool", "conductor": "wall.mauve", "amount": "1"}, "wall.mauve"),
    ],
)
def test_what_is_no_answer_is_told(site: Visitor, sent: dict[str, str], told: str) -> None:
    job = site.bring("garden-cottage")
    answer = site.post(f"{job}/fault", sent)
    assert answer.status_code == 422
    assert told in said(answer)


@pytest.mark.parametrize(
    ("do", "amount", "told"), [("tell", "1,2", "1200 Ω"), ("tell", "12 Ω", "12 Ω"), ("tell:OL", "", "OL")]
)
def test_kilohms_and_an_open_line_are_tapped(site: Visitor, do: str, amount: str, told: str) -> None:
    job = site.bring("garden-cottage")
    ohms = {"kind": "ohms", "red": "cond.Y", "black": "cond.C", "lifted": "outside.red", "unit": "kΩ"}
    answer = said(site.post(f"{job}/fault", {"do": do, "amount": amount, **ohms}))
    assert f"power off, outside.red lifted: ohms from cond.Y to cond.C: {told} " in answer


def test_an_exercise_from_complaint_to_score(site: Visitor) -> None:
    job = site.bring("garden-cottage")
    begun = site.post(f"{job}/practice", {"do": "hide", "seed": "3", "faults": "1", "alike": "some"})
    assert "The complaint" in said(begun)
    with site.store.reading() as session:
        hunt = session.query(Hunt).one()
        exercise = practice_page._exercise(proved(site.file(job)), hunt)
    # Only what is amiss is complained of.
    told = said(begun).partition("The complaint")[2].partition("A tap in the drawing")[0]
    wrong_on = amiss(exercise.case, exercise.complaint).running
    assert {name for name in exercise.case.circuit.functions if name in told} == set(wrong_on)
    volts = {"do": "test", "kind": "volts", "call": "cool", "red": "board.R", "black": "board.C"}
    first = said(site.post(f"{job}/practice", volts))
    assert "volts from board.R to board.C" in first
    # Loading the page again plays the same exercise, to the same last digit.
    assert first.partition("min, at")[2] == said(site.get(f"{job}/practice")).partition("min, at")[2]
    wrong = said(site.post(f"{job}/practice", {"do": "mend", "named": "wall.mauve"}))
    assert "does not mend it" in wrong
    assert "it took 15 min" in wrong
    assert "name what is at fault" in said(site.post(f"{job}/practice", {"do": "mend"}))
    assert "1 wrong repair" in said(site.get(f"{job}/practice"))
    named = " ".join(word for fault in exercise.faults for word in fault.where)
    settings = " ".join(part for fault in exercise.faults for part in fault.where)
    over = said(site.post(f"{job}/practice", {"do": "mend", "named": f"{named} {settings}"}))
    assert "✓ You found it" in over
    assert "The best that callpath knows" in over
    scores = said(site.get("/scores"))
    assert "3, 1 fault, some alike ✓ yes 1 1" in scores
    assert hunts(site)[0].minutes > 15


def test_a_jumper_and_a_hint_as_at_the_terminal(site: Visitor) -> None:
    """What ``practice`` has there is here too: a jumper for a moment, unless it would burn something, and a hint."""
    job = site.bring("garden-cottage")
    case = Case(load_job(EXAMPLES / "garden-cottage.job.yaml"))
    burns = Check("running", "off", ("board.blower",), jumped=("board.R", "board.C"))
    seed = next(seed for seed in range(1, 30) if hide(case, seed).world.trips(burns))
    site.post(f"{job}/practice", {"do": "hide", "seed": str(seed), "faults": "1", "alike": "some"})
    jump = {"do": "test", "kind": "jump", "call": "off", "red": "board.R", "black": "board.W"}
    assert "board.R jumped to board.W" in said(site.post(f"{job}/practice", jump))
    burnt = site.post(f"{job}/practice", {**jump, "black": "board.C"})
    assert burnt.status_code == 422
    assert "even in a sound job, that would open a fuse" in said(burnt)
    hinted = said(site.get(f"{job}/practice?hint=yes")).partition("What callpath would test next")[2]
    with site.store.reading() as session:
        exercise = practice_page._exercise(proved(site.file(job)), session.query(Hunt).one())
    best = exercise.case.answer(exercise.seen, exercise.path.at).next
    assert best is not None
    assert best.words in hinted
    assert best.cautions[0] in hinted
    told = {**jump, "do": "tell", "runs:board.blower": "yes"}
    assert "board.R jumped to board.W: board.blower runs" in said(site.post(f"{job}/fault", told))


def test_two_terminals_that_somebody_picks_are_called_harmless_only_when_proved_so(site: Visitor) -> None:
    job = site.bring("garden-cottage")
    harmless = "shorts and overloads no source"
    for page in ("fault", "practice"):
        site.post(f"{job}/practice", {"do": "hide", "seed": "3", "faults": "1", "alike": "some"})
        before = said(site.get(f"{job}/{page}"))
        assert "Join nothing before callpath has reckoned these two through" in before
        assert harmless not in before
    ask = {"do": "may", "kind": "jump", "call": "off", "red": "board.R", "black": "board.C"}
    burns = site.post(f"{job}/fault", ask)
    assert burns.status_code == 422
    assert "do not join board.R and board.C" in said(burns)
    assert harmless not in said(burns)
    taken = site.post(f"{job}/fault", {**ask, "do": "tell", "runs:board.blower": "no"})
    assert "this answer is not taken" in said(taken)
    assert not hunts(site) or all(hunt.kind == "practice" for hunt in hunts(site))
    # Two that may be joined come back as the test to make, its answer asked for.
    allowed = site.post(f"{job}/fault", {**ask, "black": "board.W"})
    assert allowed.status_code == 200
    assert "You may join them: at" in said(allowed)
    assert "less than 1 % likely" in said(allowed)
    test = proposed(allowed.text)
    assert test["jumped"] == ["board.R", "board.W"]
    sent = {"do": "answer:runs board.blower", "test": json.dumps(test)}
    taken_down = said(site.post(f"{job}/fault", sent))
    assert re.search(r"board\.R jumped to board\.W: [^:]*board\.blower runs", taken_down)


def test_the_number_of_an_exercise_is_asked_for_in_plain_words(site: Visitor) -> None:
    job = site.bring("garden-cottage")
    answer = site.post(f"{job}/practice", {"do": "hide", "seed": "seven", "faults": "1", "alike": "some"})
    assert answer.status_code == 422
    assert "is a whole number, such as 7" in said(answer)
    assert "form's seed" not in said(answer)


def test_giving_up_is_told_and_scored(site: Visitor) -> None:
    job = site.bring("garden-cottage")
    site.post(f"{job}/practice", {"do": "hide", "seed": "5", "faults": "1", "alike": "little"})
    assert "It was not found" in said(site.post(f"{job}/practice", {"do": "stop"}))
    assert "✗ no 0 0" in said(site.get("/scores"))
    assert site.post(f"{job}/practice", {"do": "stop"}).status_code == 422
    assert site.post(f"{job}/practice", {"do": "hide", "seed": "1", "faults": "9", "alike": "some"}).status_code == 422


def test_the_complaint_begins_with_what_the_job_serves(site: Visitor) -> None:
    job = site.bring("garden-cottage")
    page = site.get(f"{job}/fault").text
    assert re.findall(r"<option selected>([^<]*)</option>", page) == ["cool"]


@pytest.mark.parametrize(
    ("do", "told"),
    [
        ("tell:none", "board.heat does not run, board.blower does not run, cond.compressor does not run"),
        ("tell:right", "board.heat does not run, board.blower runs, cond.compressor runs"),
    ],
)
def test_a_complaint_by_one_tap(site: Visitor, do: str, told: str) -> None:
    """By the trade: in cooling the compressor and the blower run, the burner does not."""
    job = site.bring("garden-cottage")
    assert told in said(site.post(f"{job}/fault", {"do": do, "kind": "running", "call": "cool"}))


def chosen(page: str, name: str) -> str:
    """Return what a list of the form in which a test is put together has chosen."""
    field = re.search(rf'<select id="{name}".*?</select>', page, re.DOTALL)
    assert field is not None
    (value,) = re.findall(r'<option(?: value="([^"]*)")? selected', field.group()) or [""]
    return value or (re.findall(r"<option selected>([^<]*)", field.group()) or [""])[0]


@pytest.mark.parametrize(
    "test",
    [
        {"kind": "volts", "call": "cool", "red": "board.R", "black": "board.C"},
        {"kind": "low-z", "call": "off", "red": "cond.Y", "black": "cond.C"},
        {"kind": "amps", "call": "cool", "conductor": "outside.white"},
        {"kind": "ohms", "red": "cond.Y", "black": "cond.C", "lifted": "outside.red"},
        {"kind": "ohms", "red": "board.Y", "black": "board.R", "lifted": "all"},
        {"kind": "jump", "call": "off", "red": "board.R", "black": "board.Y"},
        {"kind": "running", "call": "fan"},
    ],
)
def test_the_next_test_in_practice_goes_on_where_the_last_was(site: Visitor, test: dict[str, str]) -> None:
    job = site.bring("garden-cottage")
    begun = site.post(f"{job}/practice", {"do": "hide", "seed": "3", "faults": "1", "alike": "some"}).text
    assert chosen(begun, "kind") == "running"
    made = site.post(f"{job}/practice", {"do": "test", **test})
    assert made.status_code == 200, said(made)
    for page in (made.text, site.get(f"{job}/practice?hint=yes").text):
        assert {name: chosen(page, name) for name in test} == test


def test_what_was_asked_for_as_an_exercise_stays(site: Visitor) -> None:
    job = site.bring("garden-cottage")
    page = site.post(f"{job}/practice", {"do": "hide", "seed": "seven", "faults": "2", "alike": "much"})
    assert page.status_code == 422
    assert re.search(r'name="seed"[^>]* value="seven"', page.text)
    assert (chosen(page.text, "faults"), chosen(page.text, "alike")) == ("2", "much")


def test_what_was_put_together_and_not_taken_stays(site: Visitor) -> None:
    job = site.bring("garden-cottage")
    volts = {"kind": "volts", "call": "fan", "red": "board.R", "black": "", "amount": "26,4"}
    told = site.post(f"{job}/fault", {"do": "tell", **volts})
    assert told.status_code == 422
    assert {name: chosen(told.text, name) for name in ("kind", "call", "red")} == {
        name: volts[name] for name in ("kind", "call", "red")
    }
    assert 'value="26,4"' in told.text
    site.post(f"{job}/practice", {"do": "hide", "seed": "3", "faults": "1", "alike": "some"})
    refused = site.post(f"{job}/practice", {"do": "test", **volts})
    assert refused.status_code == 422
    assert (chosen(refused.text, "kind"), chosen(refused.text, "red")) == ("volts", "board.R")
    page = site.post(f"{job}/fault", COMPLAINT).text
    wrong = site.post(f"{job}/fault", {"do": "answer", "test": json.dumps(proposed(page)), "amount": "2 6"})
    assert re.search(r'id="reads"[^>]* value="2 6"', wrong.text)


def test_common_answers_are_asked_of_the_sound_circuit(site: Visitor) -> None:
    found = proved((EXAMPLES / "garden-cottage.job.yaml").read_text(encoding="utf-8"))
    case = found.case
    asked = {
        "{call: cool, between: [cond.Y, cond.C], volts: 0}": [("25.7", "about 25.7 V, as it should be"), ("0", "0 V")],
        "{call: off, between: [cond.Y, cond.C], volts: 0}": [("0.0", "about 0.0 V, as it should be")],
        "{between: [cond.Y, cond.C], ohms: 0, lifted: [outside.red]}": [
            ("10.0", "about 10.0 Ω, as it should be"), ("0", "0 Ω"), ("OL", "OL"),
        ],
        "{between: [stat.W, stat.C], ohms: 0}": [("OL", "OL, as it should be"), ("0", "0 Ω")],
        "{call: cool, running: {cond.compressor: true, board.blower: true}}": [
            ("runs cond.compressor board.blower", "as it should be: cond.compressor, board.blower"), ("runs", "nothing runs"),
        ],
        "{call: fan, running: {cond.compressor: true}}": [
            ("runs", "nothing runs"), ("runs cond.compressor", "it runs"),
        ],
    }  # fmt: skip
    for line, wanted in asked.items():
        (seen,) = read_seen(f"seen: [{line}]", case.circuit)
        assert [(each.value, each.label) for each in shortcuts(case, seen.test)] == wanted, line


def test_an_answer_by_one_tap_is_kept_like_one_that_was_typed(site: Visitor) -> None:
    job = site.bring("garden-cottage")
    page = site.post(f"{job}/fault", COMPLAINT).text
    test, kind = proposed(page), next(kind for kind in ("running", "volts", "amps", "ohms") if kind in proposed(page))
    values = [html.unescape(value) for value in re.findall(r'value="answer:([^"]*)"', page)]
    assert values
    site.post(f"{job}/fault", {"do": f"answer:{values[0]}", "test": json.dumps(test), "was": hunts(site)[0].seen})
    typed = site.bring("garden-cottage")
    site.post(f"{typed}/fault", COMPLAINT)
    site.post(
        f"{typed}/fault", {"do": "answer", "test": json.dumps(test), "amount": values[0], "was": hunts(site)[1].seen}
    )
    assert kind != "running"
    assert hunts(site)[0].seen == hunts(site)[1].seen


def test_the_drawing_of_an_exercise_is_the_sound_job(site: Visitor) -> None:
    """Neither a finding nor a fault that the file plants is in it, whatever is hidden."""
    job = site.bring("garden-cottage-green-on-common")
    drawn = site.get(f"{job}/fault/drawing?version=1").text
    for mark in ("wrong", "label-mark", "probe", "live"):
        assert mark not in drawn
    for seed in ("1", "2"):
        page = site.post(f"{job}/practice", {"do": "hide", "seed": seed, "faults": "2", "alike": "some"}).text
        (source,) = set(re.findall(r'data-src="([^"]+)"', page))
        assert site.get(html.unescape(source)).text == drawn
        site.post(f"{job}/practice", {"do": "stop"})
    assert site.get(f"{job}/fault/drawing?test=[1]").status_code == 422


def test_what_is_at_fault_is_named_from_lists(site: Visitor) -> None:
    job = site.bring("garden-cottage")
    page = site.post(f"{job}/practice", {"do": "hide", "seed": "3", "faults": "2", "alike": "some"}).text
    with site.store.reading() as session:
        exercise = practice_page._exercise(proved(site.file(job)), session.query(Hunt).one())
    offered = set(map(html.unescape, re.findall(r'<option value="([^"]+)">', page.partition('id="culprit"')[2])))
    named = [" ".join(sorted({*repair_of(fault)} - {fault.kind})) for fault in exercise.faults]
    assert set(named) <= offered
    assert "You found it" in said(site.post(f"{job}/practice", {"do": "mend", "named": named}))
