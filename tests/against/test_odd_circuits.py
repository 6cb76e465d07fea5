"""Circuits out of the common run, against what Ohm's law gives by hand (C): a pilot's millivolts, a lockout relay in series."""

from __future__ import annotations

import pytest

from callpath.calls.closing import given_for
from callpath.calls.reading import amps_in, volts_between
from callpath.circuit.build import build
from callpath.circuit.network import impedance
from callpath.circuit.snapshot import snapshot
from callpath.parts.catalogue import default_catalogue, physics
from callpath.units import copper_ohms_per_ft
from tests.jobs import amended, job_of
from tests.parts.test_rigs import RIGS, joined, rigged

PILOT = rigged(RIGS["indoor/millivolt-furnace"])


@pytest.mark.parametrize(("length", "awg"), [(25, 18), (100, 20), (200, 22)])
def test_a_pilot_drives_what_ohms_law_leaves_it(length: int, awg: int) -> None:
    """C: E / (generator + valve + both conductors + contacts and screws)."""
    job = amended(
        PILOT,
        cables={
            "pair": {
                "between": ["hut", "chimney"],
                "length": f"{length} ft",
                "awg": awg,
                "conductors": ["red", "white"],
            }
        },
    )
    circuit = build(job_of(job))
    wires = 2 * length * copper_ohms_per_ft(awg, stranded=False, temperature_c=20.0)
    # Four screws on two conductors, the thermostat's contact and the limit.
    joints = 4 * physics()["screw-ohms"] + 2 * 0.03
    amps = 0.75 / (2.5 + 2.5 + wires + joints)
    assert amps_in(circuit, "heat", "pair.red").value == pytest.approx(amps, rel=0.002)
    assert volts_between(circuit, "heat", "fire.TP", "fire.TH").value == pytest.approx(
        amps * (wires + joints - 0.03), rel=0.01
    )
    assert volts_between(circuit, "off", "fire.TP", "fire.TH").value == pytest.approx(0.75, rel=0.001)


def test_a_lockout_relay_takes_nearly_all_the_voltage() -> None:
    """C: once a switch opens, the relay's sealed impedance stands in series with the contactor's open gap."""
    circuit = build(job_of(joined(rigged(RIGS["outdoor/lockout-condenser"])), contacts="{cond.low-pressure: open}"))
    state = snapshot(circuit, given_for(circuit, "cool"))
    row = {
        name: {key: value.value or 0.0 for key, value in element.data.items()}
        for name, element in default_catalogue().part("outdoor/lockout-condenser").elements.items()
        if element.kind == "coil"
    }
    relay, coil = row["lockout-relay"], row["contactor"]
    sealed = impedance(24, relay["sealed-va"], relay["sealed-watts"])
    gap = impedance(24, coil["inrush-va"], coil["inrush-watts"])
    index = circuit.network.index
    across = abs(state.volts[index["cond.lockout-relay"]])
    assert across == pytest.approx(state.between("cond.Y", "cond.C") * abs(sealed / (sealed + gap)), rel=0.002)
    assert abs(state.volts[index["cond.contactor"]]) < coil["drop-out-volts"]
    assert state.bit("cond.lockout-relay")
    assert "cond.compressor" not in state.running
