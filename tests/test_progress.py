"""Slow work tells of itself, can be stopped wherever it is, and leaves nothing spoilt behind."""

from __future__ import annotations

import datetime
import threading
from collections.abc import Callable
from pathlib import Path

import pytest

from callpath.circuit.build import build
from callpath.errors import StoppedError
from callpath.faults.practice import hide
from callpath.faults.seen import read_seen
from callpath.faults.troubleshoot import Case
from callpath.job import load_job
from callpath.landing.land import land
from callpath.landing.mend import mend
from callpath.papers import Book, imprint
from callpath.papers.pdf import pdf
from callpath.progress import Turn, listening, step
from callpath.proof.prove import prove

EXAMPLES = Path(__file__).parents[1] / "examples"
COTTAGE = load_job(EXAMPLES / "garden-cottage-green-on-common.job.yaml")
SEEN = "seen:\n  - {call: cool, running: {cond.compressor: false}}\n"


class Ear:
    """Hears of every step; stops what it hears at one of them."""

    def __init__(self, stop_at: int | None = None) -> None:
        self.stop_at = stop_at
        self.steps = 0
        self.said: set[str] = set()
        self.shares: list[float] = []

    def __call__(self, doing: str, done: float | None) -> None:
        self.steps += 1
        self.said.add(doing.partition(":")[0])
        if done is not None:
            self.shares.append(done)
        if self.steps == self.stop_at:
            raise StoppedError("enough")


def _landed() -> object:
    return land(COTTAGE, free=["wall", "outside"]).as_json()


def _found() -> object:
    case = Case(COTTAGE)
    return case.answer(read_seen(SEEN, case.circuit)).as_json()


WORK = {
    "prove": (lambda: prove(COTTAGE).as_json(), set()),
    "land": (_landed, {"looking for the best landing"}),
    "mend": (lambda: mend(COTTAGE).as_json(), {"looking for repairs of 1 move"}),
    "troubleshoot": (_found, {"listing every fault and pair of faults", "weighing the most telling tests"}),
    "practice": (lambda: hide(Case(COTTAGE), 1).best().as_json(), {"choosing a fault that shows", "looking for the best path"}),
    "pdf": (lambda: pdf(Book(COTTAGE, imprint(COTTAGE, datetime.date(2026, 3, 31)))), {"drawing", "typesetting"}),
}  # fmt: skip


@pytest.mark.parametrize("name", WORK)
def test_work_tells_what_it_does_and_how_far_it_is(name: str) -> None:
    work, words = WORK[name]
    alone = work()
    ear = Ear()
    with listening(ear):
        assert work() == alone
    assert words <= ear.said
    assert ear.steps > 0
    assert all(0 <= share <= 1 for share in ear.shares)


@pytest.mark.parametrize("name", WORK)
def test_work_stops_wherever_it_is(name: str) -> None:
    work, _ = WORK[name]
    ear = Ear()
    with listening(ear):
        work()
    for stop_at in {1, 2, ear.steps // 2 or 1, ear.steps}:
        with listening(Ear(stop_at)), pytest.raises(StoppedError):
            work()


def over_and_over(work: Callable[[], object]) -> None:
    while True:
        work()


def test_a_circuit_and_a_case_that_were_stopped_answer_as_ever() -> None:
    circuit, case = build(COTTAGE), Case(COTTAGE)
    seen = read_seen(SEEN, case.circuit)
    for stop_at in (1, 3, 7, 20, 60):
        with listening(Ear(stop_at)), pytest.raises(StoppedError):
            over_and_over(lambda: prove(COTTAGE, circuit))
        with listening(Ear(stop_at)), pytest.raises(StoppedError):
            over_and_over(lambda: case.answer(seen))
    assert prove(COTTAGE, circuit).as_json() == prove(COTTAGE).as_json()
    assert case.answer(seen).as_json() == Case(COTTAGE).answer(seen).as_json()


def test_nobody_listens_outside() -> None:
    ear = Ear()
    with listening(ear):
        step("inside")
    step("outside")
    assert ear.said == {"inside"}


def test_who_waits_for_a_turn_is_told_and_can_be_stopped() -> None:
    turn, held, done = Turn("waiting"), threading.Event(), threading.Event()

    def hold() -> None:
        with turn, turn:
            held.set()
            done.wait(20)

    other = threading.Thread(target=hold)
    other.start()
    held.wait(20)
    ear = Ear(stop_at=2)
    with listening(ear), pytest.raises(StoppedError), turn:
        pass
    assert "waiting" in ear.said
    done.set()
    other.join(20)
    with turn:
        pass
