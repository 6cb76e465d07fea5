"""The commissioning form: what it expects is what ``read`` tells, and readings outside are marked."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from callpath.calls.reading import amps_in, volts_between
from callpath.errors import InputError
from callpath.papers.form import Form
from callpath.papers.readings import load_readings
from tests.jobs import COTTAGE, HOUSE
from tests.papers.test_schedule import book_of


def forms(book_readings: object, folder: Path) -> dict[str, Form]:
    book = book_of(COTTAGE)
    file = folder / "seen.yaml"
    file.write_text(json.dumps({"seen": book_readings}), encoding="utf-8")
    book.taken = load_readings(file, book.circuit)
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


@pytest.mark.parametrize(
    ("reading", "word"),
    [
        ({"call": "col", "running": {}}, "cool"),
        ({"call": "cool", "between": ["cond.Z", "cond.C"], "volts": 1}, "cond.Y"),
        ({"call": "cool", "between": ["cond.Y"], "volts": 1}, "between"),
        ({"call": "cool", "volts": 1}, "between"),
        ({"call": "cool", "between": ["cond.Y", "cond.C"], "volts": -1}, "volts"),
        ({"call": "cool", "between": ["cond.Y", "cond.C"], "volts": "much"}, "volts"),
        ({"call": "cool", "running": {"cond.compresor": True}}, "cond.compressor"),
        ({"call": "cool", "conductor": "outside.rde", "amps": 1}, "outside.red"),
        ({"between": ["cond.Y", "cond.C"], "ohms": 1, "lifted": ["wall.red"]}, "wall.red"),
        ({"call": "cool", "between": ["cond.Y", "cond.C"], "volts": 1, "lifted": ["outside.red"]}, "lifted"),
        ("cool", "seen[1]"),
    ],
)
def test_what_is_wrong_with_readings_is_told(reading: object, word: str, tmp_path: Path) -> None:
    with pytest.raises(InputError) as told:
        forms([reading], tmp_path)
    assert word in str(told.value)


@pytest.mark.parametrize(
    "text", [b"\xff\xfe", b"seen: [", b"seen: 3", b"- 1", b"", b"seen: [" + b"1," * 200_000 + b"]"]
)
def test_a_file_that_holds_no_readings_is_told(text: bytes, tmp_path: Path) -> None:
    file = tmp_path / "seen.yaml"
    file.write_bytes(text)
    with pytest.raises(InputError):
        load_readings(file, book_of(COTTAGE).circuit)
