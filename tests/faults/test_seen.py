"""The file of what was seen: every mistake is told with its place and the nearest words, and what is written reads back."""

from __future__ import annotations

import math

import pytest

from callpath.errors import SeenError
from callpath.faults.seen import read_seen, seen_text
from callpath.faults.troubleshoot import Case
from tests.jobs import HOUSE, job_of

CASE = Case(job_of(HOUSE))

GOOD = """\
seen:
  - {call: cool, running: {cond.compressor: false, board.blower: true}}
  - {call: cool, between: [board.Y, board.C], volts: 26.1}
  - {call: cool, between: [cond.Y, cond.C], volts: 1, meter: low-z}
  - {call: cool, conductor: outside.red, amps: 0.0}
  - {between: [cond.Y, cond.C], ohms: OL, lifted: [outside.red]}
  - {between: [outside.red@1, outside.red@2], ohms: 0.4, lifted: [outside.red]}
  - {between: [board.fuse@1, board.fuse@2], ohms: 0.1}
  - {call: 'off', jumped: [board.R, board.Y], running: {cond.compressor: true}}
"""


def test_every_form_is_read_and_written_back() -> None:
    seen = read_seen(GOOD, CASE.circuit)
    assert [item.test.kind for item in seen] == ["running", "volts", "volts", "amps", "ohms", "ohms", "ohms", "running"]
    assert seen[2].test.low_z
    assert math.isinf(seen[4].answer.value)
    assert read_seen(seen_text(seen), CASE.circuit) == seen
    assert read_seen(seen_text([]), CASE.circuit) == []


@pytest.mark.parametrize(
    ("line", "column", "words"),
    [
        ("{call: cool, §runing: {cond.compressor: true}}", 1, ["unknown key 'runing'", "running"]),
        ("{call: §col, running: {cond.compressor: true}}", 1, ["'col'", "cool"]),
        ("{call: cool, running: {§cond.compresor: true}}", 1, ["'cond.compresor'", "cond.compressor"]),
        ("{call: cool, running: {cond.compressor: §1}}", 1, ["true or false"]),
        ("{call: cool, between: [§bord.Y, board.C], volts: 26}", 1, ["'bord.Y'", "board.Y"]),
        ("{call: cool, between: [board.Y, §board.Y], volts: 26}", 1, ["twice"]),
        ("{call: cool, between: [board.Y, board.C], volts: §-3}", 1, ["0 or more"]),
        ("{call: cool, between: [board.Y, board.C], volts: §9000}", 1, ["more than any meter"]),
        ("§{between: [board.Y, board.C], volts: 26}", 1, ["has no 'call'"]),
        ("§{call: cool, volts: 26}", 1, ["has no 'between'"]),
        ("{call: cool, conductor: §wall.rde, amps: 1}", 1, ["wall.red"]),
        ("{between: [cond.Y, cond.C], ohms: §many}", 1, ["OL"]),
        ("{between: [cond.Y, cond.C], ohms: 3, lifted: [§wall.red]}", 1, ["sits on neither", "outside.red"]),
        ("{call: cool, between: [cond.Y, cond.C], volts: 3, §lifted: [outside.red]}", 1, ["does not go with 'volts'"]),
        ("{call: cool, between: [cond.Y, cond.C], volts: 3, §amps: 1}", 1, ["one answer a line"]),
        ("{between: [cond.Y, cond.C], §ohms: null}", 1, ["still to be made"]),
        ("§{call: cool}", 1, ["nothing that was seen"]),
        ("{call: cool, jumped: [§wall.red, board.Y], running: {cond.compressor: true}}", 1, ["not a terminal"]),
        ("§7", 1, ["must hold keys"]),
    ],
)
def test_one_mistake(line: str, column: int, words: list[str]) -> None:
    text = f"seen:\n  - {{call: cool, running: {{board.blower: true}}}}\n  - {line}\n"
    at = text.split("§")[0]
    with pytest.raises(SeenError) as told:
        read_seen(text.replace("§", ""), CASE.circuit, file="x.yaml")
    (problem,) = told.value.problems
    assert (problem.file, problem.line, problem.column) == ("x.yaml", 3, len(at) - at.rfind("\n"))
    for word in words:
        assert word in problem.message


@pytest.mark.parametrize(
    "text", ["", "seen", "seen: 3", "[1", "callpath: 1", "seen:\n - &a {}\n", "\x00", "seen: {a: 1}"]
)
def test_what_is_no_such_file_is_told(text: str) -> None:
    with pytest.raises(SeenError):
        read_seen(text, CASE.circuit)


def test_all_mistakes_at_once() -> None:
    with pytest.raises(SeenError) as told:
        read_seen("seen:\n  - {call: col, running: {x: true}}\n  - {cal: cool, volts: 3}\n", CASE.circuit)
    assert len(told.value.problems) >= 3
