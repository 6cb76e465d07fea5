"""Thermostats that need a supply and have none."""

from __future__ import annotations

from collections.abc import Iterator

from callpath.calls.closing import thermostats
from callpath.parts.catalogue import custom_colours
from callpath.proof.finding import Finding
from callpath.proof.lost import lost
from callpath.proof.route import intended
from callpath.proof.states import Examined
from callpath.proof.stop import is_a_thing, remedy_for, stops_at

__all__ = ["unpowered_thermostats"]


def unpowered_thermostats(examined: Examined) -> Iterator[Finding]:
    """A thermostat that needs a supply and sees none, with no call and everything else as it should be."""
    state = examined.plain["off"]
    before = examined.plain_before_fuse["off"]
    if (state.bits != before.bits).any():
        return
    for thermostat in thermostats(examined.circuit.job):
        if examined.circuit.alive[thermostat.id](state.bits[None])[0]:
            continue
        supply = [
            name
            for name, (equipment, element) in examined.circuit.elements.items()
            if equipment.id == thermostat.id and element.kind == "load"
        ]
        if not supply:
            yield _flat(examined, thermostat.id)
            continue
        index = examined.circuit.network.index[supply[0]]
        route = intended(state, index, None)
        power = thermostat.settings.get("power")
        lives = f"lives on '{power}' power" if power else "needs a supply"
        if route.fed and not route.returns:
            why = f"power reaches {thermostat.id}, but nothing leads back from {route.beyond or 'it'}"
            own = route.beyond.partition(".")[0] == thermostat.id
            lead = _spare(examined, route.beyond if own else f"{thermostat.id}.C", route.source)
            remedy = f"{lead}, or use one that needs no common"
            if foreign := _common_of_another(examined, route.beyond, route.source):
                why = f"power comes from {route.source}, and {route.beyond} leads to {foreign}, the common of another source"
                leads = ", ".join(sorted(examined.needs.joins.conductors_at(route.beyond))) or "what joins them"
                remedy = (
                    f"feed both from one source: take {leads} off {foreign} first, and land it on the common of {route.source}; "
                    "a second source needs a thermostat with a power terminal of its own for each"
                )
        elif route.fed:
            why = f"it sees {abs(state.volts[index]):.1f} V where it needs {_needed(examined, supply[0]):.0f} V"
            remedy = "find what takes the voltage: a load in series, a bad joint, a source overloaded"
            if found := lost(state, index):
                remedy = f"lost on the way: {found.said}. What helps: {found.helps}"
        else:
            last = route.path[-1] if route.path else route.source
            why = stops_at(examined, state, route, last)
            remedy = f"bring power to {thermostat.id}; with one source and two power terminals, jumper them"
            if is_a_thing(examined, route.stop):
                remedy = remedy_for(examined, state, route, last, ())
        yield Finding(
            "unpowered-thermostat",
            "fault",
            examined.calls,
            (thermostat.id, *supply),
            route.path,
            f"{thermostat.id} {lives} and has none: {why}",
            remedy,
        )


def _spare(examined: Examined, terminal: str, source: str) -> str:
    """Say what to land on a thermostat's terminal and on a source's common: a conductor to spare, where one runs between them."""
    job = examined.circuit.job
    stat, feeder = job.equipment[terminal.partition(".")[0]], job.equipment[source.partition(".")[0]]
    terminals = feeder.part.terminals.items()
    common = next((f"{feeder.id}.{name}" for name, t in terminals if tuple(t.means) == ("common",)), "")
    blue = custom_colours().get("common")
    spare = []
    for name, ends in job.landings.items():
        between = job.cable_of(name).between
        for here, there in ((0, 1), (1, 0)):
            runs = (between[here], between[there]) == (stat.at, feeder.at)
            if runs and ends[there] is None and ends[here] in (None, terminal):
                spare.append((ends[here] is None, name.partition(".")[2] != blue, name))
    if not common or not spare:
        return f"land a conductor on {terminal} and on {common or f'the common of {source}'}"
    capped, _, name = min(spare)
    if not capped:
        return f"land the other end of {name} on {common}"
    return f"land {name}, which is spare, on {terminal} and on {common}"


def _common_of_another(examined: Examined, terminal: str, source: str) -> str:
    """Return the common of another source's equipment that a terminal is joined to; empty where there is none."""
    joins = examined.needs.joins
    own = source.partition(".")[0]
    with_source = {name.partition(".")[0] for name in examined.circuit.source_names} - {own}
    net = joins.terminals(joins.net(terminal)) if terminal in examined.circuit.network.node_of else []
    if any(device.id == own for device, _, _ in net):
        return ""
    return next((name for device, _, name in net if device.id in with_source), "")


def _flat(examined: Examined, thermostat: str) -> Finding:
    return Finding(
        "unpowered-thermostat",
        "fault",
        examined.calls,
        (thermostat,),
        (),
        f"{thermostat} lives on its cells alone, and they are too low to move its contacts",
        "fit new cells; a display that still shows something proves nothing",
    )


def _needed(examined: Examined, element: str) -> float:
    equipment, data = examined.circuit.elements[element]
    return data.data["on-volts"].resolve(equipment.settings) or 0.0
