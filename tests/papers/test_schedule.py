"""The hook-up schedule: everything that lands is told at both ends, and why, from the circuit."""

from __future__ import annotations

import datetime

import pytest

from callpath.job import Job, load_job
from callpath.papers import Book, imprint
from tests.jobs import COTTAGE, HOUSE, MANOR, Data, job_of
from tests.papers.test_diagram import EXAMPLES

DAY = datetime.date(2026, 3, 31)


def book_of(base: Data | Job, **changes: str) -> Book:
    job = base if isinstance(base, Job) else job_of(base, **changes)
    return Book(job, imprint(job, DAY))


def why(book: Book) -> dict[str, str]:
    return {run.conductor: run.why for run in book.schedule.runs}


@pytest.mark.parametrize("file", EXAMPLES, ids=lambda file: file.name.partition(".")[0])
def test_every_end_is_told_where_it_sits(file: str) -> None:
    book = book_of(load_job(file))
    job, told = book.job, book.schedule
    lands = [(point, landed) for place in told.places for point in place.points for landed in point.lands]
    assert len(lands) == 2 * (len(job.landings) + len(job.jumpers))
    for place in told.places:
        for point in place.points:
            here = f"{place.id}.{point.name}" if place.id else point.name
            for landed in point.lands:
                if landed.conductor != "jumper":
                    on = job.landings[landed.conductor]
                    assert here in on or (point.name == "capped" and None in on)
                    assert landed.other in on or landed.other.startswith("capped in ")


def test_why_is_what_the_trade_would_say() -> None:
    # Current comes from R through the thermostat's contact to the load, and back on the common (common practice, no source).
    told = why(book_of(HOUSE))
    assert "feeds board.heat-input on heat" in told["wall.white"]
    assert "feeds cond.contactor on cool" in told["outside.red"]
    assert told["outside.white"] == "brings back cond.contactor on cool"
    assert "brings back stat.electronics always" in told["wall.blue"]
    assert "cond.contactor" not in told["wall.blue"]


def test_what_carries_nothing_says_what_it_joins() -> None:
    told = why(book_of(COTTAGE, landings="{wall.green: [stat.G, board.C], wall.yellow: [stat.Y, null]}"))
    assert told["wall.green"].endswith("joins fan to common")
    assert told["wall.yellow"] == "ends nowhere"


def test_spares_and_jumpers() -> None:
    book = book_of(MANOR, landings="{cooling.green: null}", jumpers="[[stat.Rc, stat.Rh]]")
    assert book.schedule.spares == ("cooling.green",)
    assert why(book)["cooling.green"] == "spare, capped at both ends"
    assert book.schedule.jumpers == (("stat.Rc", "stat.Rh"),)
    (rc,) = [point for place in book.schedule.places for point in place.points if point.name == "Rc"]
    assert ("jumper", "stat.Rh") in {(landed.conductor, landed.other) for landed in rc.lands}


def test_jumpers_carry_current_too() -> None:
    """A load that only jumpers lead to: its jumpers are on the way of its current."""
    hum = {
        "equipment": "{hum: {part: accessory/humidifier, at: cellar}}",
        "jumpers": "[[board.W, hum.H], [hum.C, board.C]]",
    }
    book = book_of(HOUSE, **hum)
    told = {
        landed.why
        for place in book.schedule.places
        if place.id == "hum"
        for point in place.points
        for landed in point.lands
    }
    assert told == {"feeds hum.valve on heat", "brings back hum.valve on heat"}
