"""A call played from the words of the command's options, and the circuit at each of its moments."""

from __future__ import annotations

import numpy as np
import pytest

from callpath.calls.closing import given_for
from callpath.calls.outside import Interruption
from callpath.calls.play import OUTSIDE, from_outside, play, possible
from callpath.circuit.build import build
from callpath.circuit.snapshot import snapshot
from callpath.errors import QuestionError
from tests.jobs import COTTAGE, FUEL, HOUSE, PUMP, ZONE, job_of
from tests.proof.test_unwanted import TURNS


@pytest.mark.parametrize(
    ("option", "text", "meant"),
    [
        ("open", "float.switch@300", Interruption(300, contact="float.switch")),
        ("close", "float.switch@0", Interruption(0, contact="float.switch", closed=True)),
        ("then", "cool-2@600", Interruption(600, call="cool-2")),
        ("then", "upstairs=heat@1.5", Interruption(1.5, call="heat", caller="upstairs")),
        ("power-off", "everything@5", Interruption(5, power="everything")),
        ("power-on", "board@14400", Interruption(14400, power="board", closed=True)),
        ("no-flame", "board.heat@0", Interruption(0, flame="board.heat")),
        ("flame", "board.heat@9", Interruption(9, flame="board.heat", closed=True)),
    ],
)
def test_every_option_means_one_thing_from_outside(option: str, text: str, meant: Interruption) -> None:
    assert from_outside(option, text) == meant


@pytest.mark.parametrize("text", ["", "@", "float.switch", "@5", "a@-1", "a@nan", "a@inf", "a@14401", "a@b", "a@5@"])
@pytest.mark.parametrize("option", OUTSIDE)
def test_what_is_written_otherwise_is_told(option: str, text: str) -> None:
    with pytest.raises(QuestionError, match="0 to 14400 s"):
        from_outside(option, text)


def test_what_is_possible_can_be_played() -> None:
    """Everything that a list offers is taken, and nothing of it is refused."""
    for base in (HOUSE, ZONE, PUMP):
        circuit = build(job_of(base))
        for option, names in possible(circuit, ("off", "heat")).items():
            for name in names:
                assert play("heat", {option: [f"{name}@30"]}, ends=300).timing(circuit).events


@pytest.mark.parametrize(("base", "call"), [(HOUSE, "heat"), (COTTAGE, "cool"), (PUMP, "heat"), (ZONE, "heat")])
def test_a_moment_is_the_settled_circuit(base: dict[str, object], call: str) -> None:
    """Late in a call the circuit stands as the steady state has it; after its end, as in ``off``."""
    circuit = build(job_of(base))
    played = play(call, ends=3000).timing(circuit)
    for seconds, as_on in ((2999, call), (14400, "off")):
        moment, steady = played.at(seconds), snapshot(circuit, given_for(circuit, as_on))
        np.testing.assert_allclose(moment.state.potentials, steady.potentials, atol=1e-9)
        assert moment.running == steady.running


@pytest.mark.parametrize(("base", "call"), [(HOUSE, "heat"), (PUMP, "heat"), (ZONE, "heat")])
def test_moments_agree_with_the_lanes(base: dict[str, object], call: str) -> None:
    """What the chart shows as on is on in the settled circuit of every moment, coil by coil; so is what runs."""
    circuit = build(job_of(base))
    played = play(call, ends=9000, frost=True).timing(circuit)
    assert [moment.at_s for moment in played.moments] == sorted({event.at_s for event in played.events})
    checked = 0
    for moment in played.moments:
        for lane in played.lanes:
            on = any(start <= moment.at_s and (end is None or moment.at_s < end) for start, end in lane.spans)
            if lane.name in circuit.functions:
                assert on == (lane.name in moment.running), (moment.at_s, lane.name)
            elif lane.name in circuit.network.bit_index and circuit.elements[lane.name][1].kind != "contact":
                assert on == moment.state.bit(lane.name), (moment.at_s, lane.name)
            else:
                continue
            checked += 1
    assert checked > 10


def test_a_defrost_that_is_cut_short_says_what_ended_it() -> None:
    """From the circuit: defrost feeds W, W the interlock, and that lets the contactor go, without which nothing defrosts."""
    cut = play("heat", ends=5000, frost=True).timing(build(job_of(FUEL, **TURNS)))
    (ended,) = [event for event in cut.events if event.what == "defrost ends"]
    assert (ended.at_s, ended.because) == (3600.0, "pump.contactor de-energised")
    whole = play("heat", ends=5000, frost=True).timing(build(job_of(PUMP)))
    (ended,) = [event for event in whole.events if event.what == "defrost ends"]
    assert (ended.at_s, ended.because) == (4200.0, "after 10 min")


def test_a_moment_before_the_first_is_the_first() -> None:
    played = play("cool", {"then": ["off@120"]}).timing(build(job_of(COTTAGE)))
    assert played.at(-1) is played.at(0) is played.at(119.9) is played.moments[0]
    assert played.at(120) is played.moments[1]
