"""The guided search and the trainee's exercise: resumable, never lost, and scored."""

from __future__ import annotations

import html
import json
import re

import pytest

from callpath.faults.seen import read_seen
from callpath.faults.troubleshoot import Case
from callpath.job import load_job
from callpath.records.schema import Hunt
from callpath.web import practice_page
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
        ({"do": "answer", "test": '{"call": "cool", "between": ["cond.Y", "cond.C"], "volts": 0}'}, "no reading"),
        ({"do": "tell", "kind": "running", "call": "cool"}, "of one at least"),
        ({"do": "tell", "kind": "running", "call": "dance", "runs:board.blower": "no"}, "dance"),
        ({"do": "tell", "kind": "weight"}, "say what to test"),
        ({"do": "tell", "kind": "amps", "call": "cool", "conductor": "wall.mauve", "amount": "1"}, "wall.mauve"),
    ],
)
def test_what_is_no_answer_is_told(site: Visitor, sent: dict[str, str], told: str) -> None:
    job = site.bring("garden-cottage")
    answer = site.post(f"{job}/fault", sent)
    assert answer.status_code == 422
    assert told in said(answer)


def test_an_exercise_from_complaint_to_score(site: Visitor) -> None:
    job = site.bring("garden-cottage")
    begun = site.post(f"{job}/practice", {"do": "hide", "seed": "3", "faults": "1", "alike": "some"})
    assert "The complaint" in said(begun)
    with site.store.reading() as session:
        hunt = session.query(Hunt).one()
        exercise = practice_page._exercise(proved(site.file(job)), hunt)
    volts = {"do": "test", "kind": "volts", "call": "cool", "red": "board.R", "black": "board.C"}
    first = said(site.post(f"{job}/practice", volts))
    assert "volts from board.R to board.C" in first
    # Loading the page again plays the same exercise, to the same last digit.
    assert first.partition("min, at")[2] == said(site.get(f"{job}/practice")).partition("min, at")[2]
    assert "does not mend it" in said(site.post(f"{job}/practice", {"do": "mend", "named": "wall.mauve"}))
    named = " ".join(word for fault in exercise.faults for word in fault.where)
    settings = " ".join(part for fault in exercise.faults for part in fault.where)
    over = said(site.post(f"{job}/practice", {"do": "mend", "named": f"{named} {settings}"}))
    assert "✓ You found it" in over
    assert "The best that callpath knows" in over
    scores = said(site.get("/scores"))
    assert "3, 1 fault, some alike ✓ yes 1" in scores


def test_giving_up_is_told_and_scored(site: Visitor) -> None:
    job = site.bring("garden-cottage")
    site.post(f"{job}/practice", {"do": "hide", "seed": "5", "faults": "1", "alike": "little"})
    assert "It was not found" in said(site.post(f"{job}/practice", {"do": "stop"}))
    assert "✗ no 0" in said(site.get("/scores"))
    assert site.post(f"{job}/practice", {"do": "stop"}).status_code == 422
    assert site.post(f"{job}/practice", {"do": "hide", "seed": "1", "faults": "9", "alike": "some"}).status_code == 422
