"""Two signals on one conductor: a diode at each end for each, so that one goes in the positive half-waves and one in the others.

While one pair of diodes conducts the other blocks, so the copper is two conductors that take turns; in the job that is
landed and proved it stands as two. What differs from two conductors is the voltage: a half-wave has half of its peak as its RMS
value (from the definition, over half a period), and two silicon diodes take about 0.7 V each from the peak (from memory).
Electronic inputs act on that; a coil would see direct current that saturates its iron and burns it, so only inputs come
into question.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterator
from dataclasses import replace

from callpath.calls.closing import given_for
from callpath.circuit.build import Circuit, build
from callpath.circuit.snapshot import Snapshot, snapshot
from callpath.job.model import Job
from callpath.proof.prove import Proof

__all__ = ["HALF", "shared"]

HALF = "half"
"""The colour that the second half-wave of a conductor stands under."""
_DIODE_VOLTS = 0.7
_SPARED = ("fan", "heat", "heat-2", "aux", "cool-2", "cool", "emergency")


def shared(job: Job, proof: Proof, cable: str) -> tuple[Job, str] | None:
    """Return a landed job with two signals of a cable on one of its conductors, and how the diodes are wired.

    Parameters
    ----------
    job : Job
        A landed job whose cable has one conductor, of the colour ``half``, more than there is.

    Returns
    -------
    tuple or None
        The job with ``half`` landed where the second signal goes; None where no two signals drive inputs alone, with enough
        voltage left.
    """
    circuit = build(job)
    states = {call: snapshot(circuit, given_for(circuit, call)) for call in proof.serves}
    least: dict[str, float] = {}
    for name in job.landings:
        if name.partition(".")[0] == cable and _is_signal(job, name):
            volts = _half_wave(circuit, states, job, name)
            if volts is not None:
                least[name] = volts
    ranked = sorted(least, key=lambda name: _rank(job, name))
    for one, two in itertools.combinations(ranked, 2):
        carrier = next((name for name in (two, one) if not name.endswith(f".{HALF}")), None)
        if carrier is None:
            continue
        rider = one if carrier == two else two
        landings = {**job.landings, f"{cable}.{HALF}": job.landings[rider], rider: job.landings[f"{cable}.{HALF}"]}
        landed = replace(job, landings=landings, note=_note(carrier))
        return landed, _wiring(landed, carrier, f"{cable}.{HALF}", min(least[one], least[two]))
    return None


def _is_signal(job: Job, conductor: str) -> bool:
    """Tell whether a conductor leads from a thermostat's output to one terminal at the other end, with no splice."""
    ends = job.landings[conductor]
    if any(end is None or end in job.splices for end in ends):
        return False
    return any(
        device.part.calls and not {"power", "common"} & set(device.part.terminals[letters].means)
        for device, letters in (job.terminal(end) for end in ends if end)
    )


def _rank(job: Job, conductor: str) -> tuple[int, str]:
    means = {m for end in job.landings[conductor] if end for m in _means(job, end)}
    places = [i for i, purpose in enumerate(_SPARED) if purpose in means]
    return min(places, default=len(_SPARED)), conductor


def _means(job: Job, end: str) -> tuple[str, ...]:
    device, letters = job.terminal(end)
    return device.part.terminals[letters].means if device.part.calls else ()


def _half_wave(circuit: Circuit, states: dict[str, Snapshot], job: Job, conductor: str) -> float | None:
    """Return the RMS volts that half-waves leave for what a conductor drives; None where that is not enough, or no input."""
    network = circuit.network
    net = _joined(job, conductor)
    found: list[float] = []
    for name, (device, element) in circuit.elements.items():
        if element.kind not in ("coil", "load", "input") or device.part.calls:
            continue
        if not net & {f"{device.id}.{point}" for point in element.between}:
            continue
        if element.kind != "input":
            return None
        full = max(abs(state.volts[network.index[name]]) for state in states.values())
        most = (math.sqrt(2) * full - 2 * _DIODE_VOLTS) / 2
        if most < (element.data["on-volts"].resolve(device.settings) or math.inf):
            return None
        found.append(most)
    return min(found, default=None)


def _joined(job: Job, conductor: str) -> set[str]:
    """Return what conductors and jumpers join to the ends of a conductor."""
    net = {end for end in job.landings[conductor] if end}
    joints = [pair for pair in (*job.landings.values(), *job.jumpers) if None not in pair]
    while True:
        more = {end for pair in joints if net & set(pair) for end in pair if end} - net
        if not more:
            return net
        net |= more


def _note(carrier: str) -> str:
    cable = carrier.partition(".")[0]
    return (
        f"{carrier} and {cable}.{HALF} are one conductor: its positive half-waves stand under its own colour, the negative "
        f"ones under '{HALF}'; a diode at each end for each keeps them apart."
    )


def _wiring(job: Job, carrier: str, rider: str, volts: float) -> str:
    def ends(name: str) -> Iterator[tuple[str, bool]]:
        for end in job.landings[name]:
            if end:
                yield end, bool(job.terminal(end)[0].part.calls)

    told = []
    for name, band in ((carrier, "conductor"), (rider, "thermostat")):
        for end, at_thermostat in sorted(ends(name), key=lambda item: not item[1]):
            towards = "the conductor" if (band == "conductor") == at_thermostat else end
            told.append(f"{end} to {carrier} through a diode, its band towards {towards}")
    return (
        f"{'; '.join(told)}; every input then sees half-waves of {volts:.1f} V RMS, enough for an electronic input, never for "
        "a coil"
    )
