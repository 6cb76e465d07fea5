"""What comes between a call that is played: a contact, another call, power lost, a flame that is not proved."""

from __future__ import annotations

from typing import TYPE_CHECKING

from callpath.calls.closing import call_rules, thermostats
from callpath.calls.outside import EVERYTHING, Interruption

if TYPE_CHECKING:
    from callpath.calls.timeline import Timeline

__all__ = ["ASKED_BY", "happen"]

ASKED_BY = {
    "off": "nothing asks",
    "fan": "somebody has switched the fan on",
    "emergency": "somebody has switched to it",
    "defrost": "the outdoor unit's defrost control asks for it",
}
"""Who makes a call that the room does not ask for."""


def happen(line: Timeline, at: float, item: Interruption) -> None:
    """Let something happen from outside to a call that is played."""
    if item.contact:
        _contact(line, at, item)
    elif item.power:
        _power(line, at, item)
    elif item.flame:
        _flame(line, at, item)
    else:
        _call_changes(line, at, item)
    line.advance(at)


def _contact(line: Timeline, at: float, item: Interruption) -> None:
    line.now.contacts[item.contact] = item.closed
    word = "closes" if item.closed else "opens"
    title = line.circuit.elements[item.contact][1].title
    line.tale.say(at, f"{title} {word}", item.contact, "from outside the circuit")
    line.tale.switch(item.contact, at, on=item.closed)
    line.because = f"{item.contact} {word}"


def _call_changes(line: Timeline, at: float, item: Interruption) -> None:
    before = line.now.outputs
    call = item.call or "off"
    able = [stat.id for stat in thermostats(line.circuit.job) if call == "off" or call in call_rules(stat)]
    asking = [item.caller] if item.caller else [stat for stat in able if call == "off" or line.now.calls[stat] != "off"]
    # A call that nobody is in the middle of is made by all who can.
    asking = asking or able
    was = sorted({line.now.calls[stat] for stat in asking} - {"off"})
    where = item.caller or "thermostat"
    if call == "off":
        line.tale.say(at, f"the call '{', '.join(was) or 'off'}' ends", where, "the room is satisfied")
        line.because = "the call has ended"
    else:
        word = "becomes" if was else "is"
        line.tale.say(at, f"the call {word} '{call}'", where, ASKED_BY.get(call, "the room asks for it"))
        line.because = f"the call '{call}'"
    line.calls(at, asking, call, where)
    line.closings(at, before)


def _power(line: Timeline, at: float, item: Interruption) -> None:
    whose = set(line.circuit.job.equipment) if item.power == EVERYTHING else {item.power}
    line.now.dark = line.now.dark - whose if item.closed else line.now.dark | whose
    if item.power == EVERYTHING:
        told = "the power comes back" if item.closed else "the power fails"
    else:
        told = f"{item.power} has power again" if item.closed else f"{item.power} loses its power"
    line.tale.say(at, told, item.power, "from outside the circuit")
    line.because = "the power has come back" if item.closed else "the power has failed"


def _flame(line: Timeline, at: float, item: Interruption) -> None:
    if item.closed:
        line.flameless.discard(item.flame)
        line.tale.say(at, "the flame can be proved again", item.flame, "from outside the circuit")
        return
    line.flameless.add(item.flame)
    for thing in line.delayed:
        if thing.function == item.flame and thing.now:
            line.tale.say(at, "the flame goes out", thing.function, "from outside the circuit")
            thing.now = False
            line.functions(at, thing, "no flame is proved")
            line.failed(at, thing, "the gas is shut off")
