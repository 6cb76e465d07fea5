"""Heat anticipators: a small heater in series with the contact, set to the current of the circuit that it sits in."""

from __future__ import annotations

from collections.abc import Iterator

from callpath.circuit.path import through
from callpath.proof.finding import Finding
from callpath.proof.states import Examined

__all__ = ["anticipators_off"]

# Set closer than this, nobody feels the difference (common practice, no source).
_CLOSE = 0.2
# A circuit that carries less has no load worth the name, or is dead.
_CARRIES_AMPS = 0.005


def anticipators_off(examined: Examined) -> Iterator[Finding]:
    """An anticipator that is set to another current than the settled circuit carries.

    Notes
    -----
    Its slider picks the resistance that gives the same heat P at the current I it is set to, R = P / I². At another current i it
    gives P (i / I)²: too much ends the calls early, too little lets the room overshoot.
    """
    for name, (equipment, element) in examined.circuit.elements.items():
        values = {key: value.resolve(equipment.settings) for key, value in element.data.items()}
        setting, watts = values.get("amps"), values.get("watts")
        if element.kind != "link" or not setting or not watts:
            continue
        index = examined.circuit.network.index[name]
        carried = {call: float(abs(state.amps[index])) for call, state in examined.plain.items()}
        call, amps = max(carried.items(), key=lambda item: item[1])
        if amps < _CARRIES_AMPS or abs(amps / setting - 1) <= _CLOSE:
            continue
        limits = equipment.part.settings[element.data["amps"].setting or ""]
        low, high = limits.minimum or 0.0, limits.maximum or amps
        heat = f"gives {watts * (amps / setting) ** 2:.2g} W instead of {watts:g} W"
        effect = "the calls end early" if amps > setting else "the room overshoots"
        if low <= amps <= high:
            remedy = f"set it to {amps:.2f} A"
        else:
            remedy = f"its scale of {low:g} to {high:g} A does not reach that: use a thermostat without an anticipator"
        yield Finding(
            "anticipator-off",
            "note",
            (call,),
            (name,),
            through(examined.plain[call], index),
            f"{name} is set to {setting:.2f} A, its circuit carries {amps:.2f} A on '{call}': it {heat} and {effect}",
            remedy,
        )
