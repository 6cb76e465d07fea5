"""Where nothing works nothing can be wrong; that is no success, and is said before everything else."""

from __future__ import annotations

import pytest

from callpath.cli.show_proof import show_proof
from callpath.job import read_job
from callpath.proof.prove import prove
from tests.jobs import COTTAGE, codes, only, proof_of

PAIR = """
callpath: 1
equipment:
  stat:  {{part: thermostat/{stat}, at: hall}}
  board: {{part: indoor/{board}, at: cellar}}
cables: {{wall: {{between: [hall, cellar], conductors: [red, white]}}}}
{more}
"""


def pair(stat: str, board: str, more: str = "") -> str:
    return PAIR.format(stat=stat, board=board, more=more)


def test_a_job_that_serves_nothing_with_nothing_landed() -> None:
    proof = prove(read_job(pair("single-supply", "furnace-board", "serves: []")))
    found = only(proof, "nothing-served")
    assert (proof.verdict, found.severity) == ("clean", "note")
    assert proof.nothing_runs == found.message == "nothing runs on any call: no conductor joins stat to board"
    # Before the spares, of which there may be many.
    assert proof.findings[0] is found


def test_landed_but_with_no_loop() -> None:
    proof = prove(
        read_job(
            pair("single-supply", "furnace-board", "landings: {wall.red: [stat.R, board.R]}\nserves: []"),
        )
    )
    assert proof.nothing_runs.endswith("closes no loop through a load on any call")


@pytest.mark.parametrize(
    ("stat", "board", "theirs"),
    [
        ("line-voltage", "furnace-board", "stat works by line voltage and board is worked by 24 V contacts"),
        ("millivolt", "furnace-board", "stat works by millivolts and board is worked by 24 V contacts"),
        ("single-supply", "millivolt-furnace", "stat works by 24 V contacts and board is worked by millivolts"),
        ("single-supply", "line-voltage-heater", "stat works by 24 V contacts and board is worked by line voltage"),
    ],
)
def test_a_thermostat_of_another_kind_does_not_fit(stat: str, board: str, theirs: str) -> None:
    proof = prove(read_job(pair(stat, board)))
    told = [finding for finding in proof.findings if finding.code in ("nothing-served", "no-fit")]
    assert len(told) == 1
    assert f"{theirs}: they do not fit each other" in told[0].message
    assert (told[0].code == "no-fit") == bool(proof.serves)
    assert not any(finding.remedy.startswith("join ") for finding in proof.findings)


@pytest.mark.parametrize(
    ("stat", "board"),
    [
        ("single-supply", "furnace-board"),
        ("millivolt", "millivolt-furnace"),
        ("line-voltage", "line-voltage-heater"),
        ("heat-only", "boiler-tt"),
    ],
)
def test_what_is_of_one_kind_fits(stat: str, board: str) -> None:
    assert not {"nothing-served", "no-fit"} & set(codes(prove(read_job(pair(stat, board)))))


def test_line_voltage_may_work_a_relay_between() -> None:
    between = pair("line-voltage", "furnace-board").replace(
        "cables:", "  relay: {part: accessory/line-coil-relay, at: cellar}\ncables:"
    )
    assert "do not fit" not in prove(read_job(between)).nothing_runs


def test_what_works_is_not_told_so() -> None:
    assert not proof_of(COTTAGE).nothing_runs
    assert not proof_of(COTTAGE, serves="[]").nothing_runs


def test_the_command_line_does_not_call_it_clean(capsys: pytest.CaptureFixture[str]) -> None:
    show_proof(prove(read_job(pair("single-supply", "furnace-board", "serves: []"))), "")
    said = capsys.readouterr().out
    assert "nothing runs on any call" in said
    assert "\nclean" not in said
