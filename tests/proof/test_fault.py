"""Planted faults of every kind, and what each does to the job it is planted in."""

from __future__ import annotations

import pytest

from callpath.circuit.build import build, planted
from callpath.proof.prove import prove
from tests.jobs import HOUSE, MANOR, MILL, PUMP, ZONE, codes, job_of, proof_of

FLOAT = {
    "equipment": "{float: {part: accessory/float-switch, at: cellar}}",
    "cables": "{pan: {between: [cellar, cellar], length: 6 ft, conductors: [red, yellow]}}",
    "landings": "{wall.yellow: [stat.Y, through], pan.yellow: [through, float.1], pan.red: [float.2, board.Y]}",
    "splices": "{through: cellar}",
}

# The job, the fault, and per call what must not run any more (-) or runs besides (+); every other call stays as it was.
PLANTED = [
    pytest.param(HOUSE, {}, "{open: wall.white}", {"heat": "-board.heat -board.blower"}, ["dead-call"]),
    pytest.param(HOUSE, {}, "{open: cond.contactor}", {"cool": "-cond.compressor"}, ["dead-call"]),
    pytest.param(HOUSE, {}, "{open: stat.contact-W}", {"heat": "-board.heat -board.blower"}, ["dead-call"]),
    pytest.param(PUMP, {}, "{open: pump.defrost-valve}", {"defrost": "-pump.reversing-valve"}, ["dead-call"]),
    pytest.param(ZONE, {}, "{open: valve.motor}", {"heat": "-valve.open -boiler.heat -boiler.circulator"}, None),
    pytest.param(
        HOUSE,
        {},
        "{short: [wall.white, wall.yellow]}",
        {"cool": "+board.heat", "heat": "+cond.compressor"},
        ["unwanted-run", "unwanted-run"],
    ),
    pytest.param(
        MILL,
        {},
        "{short: [wall.red, furnace.chassis]}",
        {"fan": "-furnace.blower", "cool": "-furnace.blower -cond.compressor", "heat": "-furnace.heat -furnace.blower"},
        ["short", "dead-call"],
    ),
    pytest.param(
        HOUSE,
        {},
        "{dead: board.transformer}",
        {"fan": "-board.blower", "cool": "-board.blower -cond.compressor", "heat": "-board.heat -board.blower"},
        ["dead-call", "unpowered-thermostat"],
    ),
    pytest.param(MANOR, {}, "{dead: boiler.transformer}", {"heat": "-boiler.heat"}, ["dead-call"]),
    pytest.param(
        HOUSE,
        {},
        "{stuck: stat.contact-G}",
        {"off": "+board.blower"},
        ["unwanted-run"],
    ),
    pytest.param(ZONE, {}, "{stuck: valve.end-switch}", {"off": "+boiler.heat +boiler.circulator"}, ["unwanted-run"]),
    pytest.param(HOUSE, FLOAT, "{tripped: float.switch}", {"cool": "-cond.compressor"}, ["dead-call"]),
    pytest.param(HOUSE, FLOAT, "{stuck: float.switch}", {}, ["idle-safety"]),
    pytest.param(
        HOUSE, {}, "{high-resistance: outside.white}", {"cool": "-cond.compressor"}, ["dead-call", "weak-pull-in"]
    ),
    pytest.param(HOUSE, {}, "{high-resistance: wall.white, ohms: 50}", {}, []),
    pytest.param(HOUSE, {}, "{high-resistance: cond.contactor, ohms: 30}", {"cool": "-cond.compressor"}, None),
    pytest.param(
        HOUSE,
        {},
        "{swapped: [wall.white, wall.green]}",
        {"fan": "+board.heat", "cool": "+board.heat", "heat": "-board.heat"},
        ["dead-call", "unwanted-run", "ends-disagree", "ends-disagree"],
    ),
    pytest.param(
        MANOR,
        {
            "cables": "{heating: {between: [salon, attic], conductors: [white]}}",
            "landings": "{heating.red: null, heating.white: [stat.W, air.W]}",
            "equipment": "{boiler: null}",
            "jumpers": "[[stat.Rc, stat.Rh]]",
        },
        "{missing: [stat.Rh, stat.Rc]}",
        {"heat": "-air.heat -air.blower"},
        ["dead-call"],
    ),
]


@pytest.mark.parametrize(("base", "changes", "fault", "effect", "found"), PLANTED)
def test_planted_fault(
    base: dict[str, object], changes: dict[str, str], fault: str, effect: dict[str, str], found: list[str] | None
) -> None:
    sound, faulty = proof_of(base, **changes), proof_of(base, faults=f"[{fault}]", **changes)
    assert sound.verdict == "clean"
    for call, result in sound.calls.items():
        expected = set(result.running)
        for word in effect.get(call, "").split():
            (expected.remove if word[0] == "-" else expected.add)(word[1:])
        assert set(faulty.calls[call].running) == expected, call
    if found is not None:
        assert codes(faulty) == found


def test_several_faults_in_one_job() -> None:
    proof = proof_of(HOUSE, faults="[{open: wall.white}, {stuck: stat.contact-G}]")
    assert proof.calls["heat"].running == ("board.blower",)
    assert codes(proof) == ["dead-call", "unwanted-run"]


def test_a_broken_conductor_stays_landed_and_shorts_at_the_end_that_it_still_reaches() -> None:
    """The job's landings say where it sits; the fault says that nothing passes."""
    assert build(job_of(HOUSE, faults="[{open: wall.white}]")).job.landings["wall.white"] == ("stat.W", "board.W")


def test_swapped_is_at_the_second_of_the_cables_locations() -> None:
    job = planted(job_of(HOUSE, faults="[{swapped: [wall.white, wall.green]}]"))
    assert job.landings["wall.white"] == ("stat.W", "board.G")
    assert job.landings["wall.green"] == ("stat.G", "board.W")


def test_a_conductor_on_metal_touches_it_at_the_end_that_is_there() -> None:
    """Red touches the metal in the cellar, the second of the cable's two locations: at the board, before any drop in the wire."""
    proof = prove(
        job_of(HOUSE, faults="[{short: [wall.white, board.chassis]}]", settings="{board: {bonded-common: true}}")
    )
    (short,) = [finding for finding in proof.findings if finding.code == "short"]
    assert short.calls == ("heat",)
    assert short.path == (
        "board.R", "wall.red", "stat.R", "stat.W", "wall.white", "board.chassis", "board.C",
    )  # fmt: skip
