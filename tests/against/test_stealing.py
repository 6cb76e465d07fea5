"""What a power-stealing thermostat leaks through an idle load, against the voltage divider that it is.

C: two impedances in series on the open-circuit voltage; wire and transformer are small beside them and left out, which the
tolerance covers. CP: a coil between its drop-out and its pull-in hums, a sensitive input takes a leak for a call.
"""

from __future__ import annotations

import pytest

from callpath.calls.reading import volts_between
from callpath.circuit.build import build
from callpath.parts.catalogue import default_catalogue
from tests.jobs import HOUSE, RELAY, amended, codes, having, job_of, proof_of

STOLEN = amended(HOUSE, equipment="{stat: {part: thermostat/power-stealing, at: hall}}", landings="{wall.blue: null}")
EMF = 27.0


def _data(part: str, element: str, key: str) -> float:
    value = default_catalogue().part(part).elements[element].data[key].value
    assert value is not None
    return value


@pytest.mark.parametrize("steal", [1000, 4800, 20000])
def test_the_ghost_on_an_idle_input_is_a_divider(steal: int) -> None:
    read = volts_between(
        build(job_of(STOLEN, settings=f"{{stat: {{steal-ohms: {steal}}}}}")), "off", "board.W", "board.C"
    )
    board = _data("indoor/furnace-board", "heat-input", "ohms")
    assert read.value == pytest.approx(EMF * board / (board + steal), rel=0.01)


def test_a_coil_leaves_next_to_nothing_of_it() -> None:
    read = volts_between(build(job_of(STOLEN)), "off", "cond.Y", "cond.C")
    # The contactor's open gap and the board's input side by side; the coil takes nearly all the current.
    coil = 24**2 / _data("outdoor/condenser", "contactor", "inrush-va")
    assert read.value == pytest.approx(EMF * coil / 4800, rel=0.05)
    assert read.value < 0.1


@pytest.mark.parametrize(("steal", "called"), [(4800, False), (600, True)])
def test_a_low_enough_leak_is_taken_for_a_call(steal: int, called: bool) -> None:
    found = proof_of(STOLEN, settings=f"{{stat: {{steal-ohms: {steal}}}}}")
    board = _data("indoor/furnace-board", "heat-input", "ohms")
    assert (EMF * board / (board + steal) > _data("indoor/furnace-board", "heat-input", "on-volts")) is called
    assert ("unwanted-run" in codes(found)) is called
    if called:
        assert "off" in having(found, "unwanted-run", "board.heat").calls


def test_a_small_relay_is_half_pulled_by_it() -> None:
    """CP: above its drop-out and below its pull-in a relay hums; told as weak, on no call at all."""
    half = amended(
        RELAY,
        equipment="{stat: {part: thermostat/power-stealing, at: hall, settings: {steal-ohms: 400}}}",
        landings="{wall.yellow: [stat.Y, relay.A1], patch.yellow: null}",
        settings="{relay: {coil-va: 1}}",
    )
    read = volts_between(build(job_of(half)), "off", "relay.A1", "relay.A2")
    relay = default_catalogue().part("accessory/relay").elements["coil"].data
    assert (relay["drop-out-volts"].value or 0) < read.value < (relay["pull-in-volts"].value or 0)
    found = having(proof_of(half), "weak-pull-in", "relay.coil")
    assert "off" in found.calls


def test_what_a_low_impedance_meter_leaves_of_it() -> None:
    """P: a low-impedance meter, about 3 kΩ, pulls a ghost down."""
    circuit = build(job_of(STOLEN))
    usual = volts_between(circuit, "off", "board.W", "board.C").value
    low = volts_between(circuit, "off", "board.W", "board.C", low_z=True).value
    board = _data("indoor/furnace-board", "heat-input", "ohms")
    both = 1 / (1 / board + 1 / 3000)
    assert low == pytest.approx(EMF * both / (both + 4800), rel=0.01)
    assert low < usual
