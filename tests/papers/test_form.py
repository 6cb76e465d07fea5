"""The commissioning form: what it expects is what ``read`` tells, and readings outside are marked."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from callpath.calls.reading import amps_in, volts_between
from callpath.faults.seen import load_seen
from callpath.papers.form import Form
from callpath.papers.readings import taken_from
from tests.jobs import COTTAGE, HOUSE
from tests.papers.test_schedule import book_of


def forms(book_readings: object, folder: Path) -> dict[str, Form]:
    book = book_of(COTTAGE)
    file = folder / "seen.yaml"
    file.write_text(json.dumps({"seen": book_readings}), encoding="utf-8")
    book.taken = [taken_from(item) for item in load_seen(file, book.circuit)]
    return {form.call: form for form in book.forms}


def test_what_is_expected_is_what_read_tells() -> None:
    book = book_of(HOUSE)
    for form in book.forms:
        for row in form.rows:
            reading = volts_between(book.circuit, form.call, *row.points)
            assert (row.value, row.low, row.high) == pytest.approx((reading.value, reading.low, reading.high), abs=1e-6)


def test_every_call_tells_what_must_run_and_what_each_source_gives() -> None:
    found = {form.call: form for form in book_of(HOUSE).forms}
    assert found["off"].needed == ()
    assert found["cool"].needed == ("board.blower", "cond.compressor")
    (source,) = found["cool"].sources
    # A 40 VA source that holds one contactor is loaded well below its nameplate (common practice, no source).
    assert 3 < source.va < 40 == source.rated_va
    assert source.fuse_amps == 3


def test_the_form_asks_for_what_two_leads_reach() -> None:
    asked = {row.points for row in book_of(HOUSE).forms[0].rows}
    assert {("cond.Y", "cond.C"), ("stat.R", "stat.C"), ("board.R", "board.C")} <= asked
    # With nothing landed there, or the other lead 45 ft away, there is nothing to write down.
    assert not {point for points in asked for point in points if point.endswith(".chassis")}
    assert not [points for points in asked if len({point.partition(".")[0] for point in points}) > 1]


def test_readings_fill_the_form_and_those_outside_are_marked(tmp_path: Path) -> None:
    found = forms(
        [
            {"call": "cool", "between": ["cond.Y", "cond.C"], "volts": 25.7},
            {"call": "cool", "between": ["board.C", "board.R"], "volts": 12},
            {"call": "cool", "running": {"cond.compressor": True, "board.blower": False}},
            {"call": "cool", "conductor": "outside.red", "amps": 3},
            {"between": ["cond.Y", "cond.C"], "ohms": "OL", "lifted": ["outside.red"]},
        ],
        tmp_path,
    )
    rows = {row.points: row for row in found["cool"].rows}
    assert not rows["cond.Y", "cond.C"].outside
    assert rows["board.R", "board.C"].outside
    assert rows["outside.red",].outside
    assert rows["outside.red",].value == pytest.approx(amps_in(book_of(COTTAGE).circuit, "cool", "outside.red").value)
    assert found["cool"].outside == 3
    assert found["off"].outside == 1  # the coil is there and reads ohms, but an open line was read


def test_what_cannot_be_compared_is_told(tmp_path: Path) -> None:
    found = forms([{"call": "off", "jumped": ["board.R", "board.Y"], "running": {"cond.compressor": True}}], tmp_path)
    assert "board.R joined to board.Y" in found["off"].other[0]
    assert found["off"].outside == 0
