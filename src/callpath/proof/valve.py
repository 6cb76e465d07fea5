"""Valves and dampers that no thermostat opens: one landed past its valve fires the boiler on pipes that are shut."""

from __future__ import annotations

from collections.abc import Iterator

from callpath.proof.aim import output_for, purposes_of
from callpath.proof.finding import Finding
from callpath.proof.route import driver_of, intended
from callpath.proof.states import Examined

__all__ = ["never_opened"]


def never_opened(examined: Examined) -> Iterator[Finding]:
    """A valve or damper that stands in the circuit and that no call comes to, while some thermostat heats with water or moves air
    without one.

    That thermostat opens none at all, or only one that another opens too. Where each has its thermostat nothing is found: a
    thermostat without one has a zone that is always open.
    """
    needs = examined.needs
    for id_ in sorted(needs.forgotten):
        function = f"{id_}.open"
        calls = [call for call in needs.serves() if call in examined.plain and function in needs.must_run(call)]
        if not calls:
            continue
        call = calls[0]
        owing = [stat for stat in needs.opened_by if function in needs.must_run(call, [stat])]
        owing = [stat for stat in owing if stat in needs.landed] or owing
        past = [stat for stat in owing if not needs.opened_by[stat]]
        caller = (past or owing)[0]
        state = examined.alone.get((call, caller), examined.plain[call])
        driver = driver_of(state, function, examined.purposes(call))
        if driver is None:
            continue
        name = examined.circuit.network.branches[driver].name
        purposes = purposes_of(examined, function, driver)
        output = output_for(examined, call, state, purposes, id_, [caller])
        part = examined.circuit.job.equipment[id_].part.functions["open"]
        kind, follows = (
            ("damper", "") if part.on else ("valve", "; the end switch calls the boiler once the valve stands open")
        )
        heats = [other for other in state.running if other.endswith(".heat") and not _open(state.running)]
        if past:
            how = f"{' and '.join(past)} {'calls' if len(past) == 1 else 'call'} past it"
            how += f", and {' and '.join(heats)} runs with no {kind} open" if heats else ""
        else:
            shared = sorted(set().union(*(needs.opened_by[stat] for stat in owing)))
            how = f"{' and '.join(owing)} {'opens' if len(owing) == 1 else 'open'} {' and '.join(shared)} together"
        on = ", ".join(f"'{one}'" for one in calls)
        yield Finding(
            "dead-call",
            "fault",
            tuple(calls),
            (function, name),
            intended(state, driver, output, purposes).path,
            f"on {on} {function} does not run: no thermostat leads to {name}; {how}",
            f"lead {output or caller} to what feeds {name} and to nothing else{follows}",
        )


def _open(running: tuple[str, ...]) -> bool:
    return any(name.endswith(".open") for name in running)
