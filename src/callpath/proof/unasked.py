"""Which lead brings a load its voltage unasked, and what to do about it: found by trying the circuit without each."""

from __future__ import annotations

from collections.abc import Collection, Sequence

import numpy as np

from callpath.calls.closing import outputs_for
from callpath.calls.letters import NEUTRAL
from callpath.circuit.path import branches, to_and_back
from callpath.circuit.settle import States, settle
from callpath.circuit.snapshot import Snapshot
from callpath.circuit.solve import Bools, Changes
from callpath.proof.aim import purposes_of
from callpath.proof.ends import opposed
from callpath.proof.states import Examined

__all__ = ["without_the_lead"]


def without_the_lead(
    examined: Examined, state: Snapshot, driver: int, functions: Collection[str], calls: Collection[str]
) -> str:
    """Say what to do about functions that run unasked on some calls by way of one load; empty where no one lead is to blame.

    A lead is to blame by which the load is fed and without which nothing is lost: the functions stop on every such call, and all
    that calls need and have runs on. Where each is needed and there is only one, it comes from the wrong place.

    Parameters
    ----------
    driver : int
        Branch of the load.
    """
    stolen = _stolen(examined, state, driver, calls)
    if stolen:
        return stolen
    network = state.circuit.network
    loop = branches(state, driver)
    feeding = loop[: loop.index(driver)] if driver in loop else ()
    leads = [i for i in feeding if network.branches[i].kind in ("wire", "jumper")]
    if not leads:
        return ""
    idle = _nothing_lost(examined, leads, functions, calls)
    needless = [lead for lead, alone in zip(leads, idle, strict=True) if alone]
    if not needless and len(leads) > 1:
        return ""
    lead = (needless or leads)[0]
    to, _ = to_and_back(state, driver)
    name = network.branches[lead].name
    if name in examined.circuit.job.landings and next(opposed(examined, name), None):
        return f"put {name} right, whose ends disagree: see that finding"
    where = _where_it_belongs(examined, name, to, driver, functions)
    if where:
        return f"power off and move {where}: where it sits it brings the voltage whether a call asks for it or not"
    if not needless or _something_lacks(examined):
        # What does not run yet may need it.
        return ""
    return f"power off and take out {_said(examined, lead)}: it brings the voltage there, and no call needs it"


def _where_it_belongs(
    examined: Examined, name: str, way: Sequence[str], driver: int, functions: Collection[str]
) -> str:
    """Return to which terminal the near end of a conductor moves, to mean what its far end does; empty where there is none."""
    job = examined.circuit.job
    if name not in way[1:-1]:
        return ""
    at, far = way[way.index(name) - 1], way[way.index(name) + 1]
    if any(end.partition(".")[0] not in job.equipment for end in (at, far)):
        return ""
    (near, letters), (other, its) = job.terminal(at), job.terminal(far)
    meant = set(other.part.terminals[its].means) - NEUTRAL - {"power", "common"}
    meant = meant or {purpose for function in functions for purpose in purposes_of(examined, function, driver)}
    fits = [
        fit
        for fit, terminal in near.part.terminals.items()
        if meant & set(terminal.means) and f"{near.id}.{fit}" != far
    ]
    return f"{name} at {near.id} from {letters} to {' or '.join(fits)}" if fits and letters not in fits else ""


def _said(examined: Examined, lead: int) -> str:
    network = examined.circuit.network
    branch = network.branches[lead]
    ends = [network.nodes[end] for end in (branch.a, branch.b)]
    return branch.name if branch.kind == "wire" else f"the jumper from {ends[0]} to {ends[1]}"


def _something_lacks(examined: Examined) -> bool:
    """Tell whether anything that a call needs does not run on it."""
    return any(
        examined.needs.must_run(call) - set(examined.plain[call].running)
        for call in examined.needs.serves()
        if call in examined.plain
    )


def _nothing_lost(
    examined: Examined, leads: Collection[int], functions: Collection[str], calls: Collection[str]
) -> list[bool]:
    """Tell of each lead whether some functions stop on some calls without it, and all that is needed on any call runs on."""
    cases = [case for case in examined.cases if case.everybody]
    first = np.array([case.first for case in cases], np.intp)
    places = np.tile(first, len(leads))
    column = (len(places), 1)
    lifted = np.repeat(np.array(list(leads), np.intp), len(cases)).reshape(column)
    states = examined.settled.states
    changes = Changes(lifted, np.full(column, np.inf), np.zeros(column, complex))
    settled = settle(examined.circuit.engine, States(states.given[places], states.live[places], changes))
    names = list(examined.circuit.functions)
    runs: Bools = np.stack([drive(settled.bits) for drive in examined.circuit.functions.values()], axis=1)
    runs = runs.reshape(len(leads), len(cases), len(names))
    needed = np.array([[name in examined.needs.must_run(case.call) for name in names] for case in cases], bool)
    unasked = np.array([[name in functions and case.call in calls for name in names] for case in cases], bool)
    lost = examined.running[first] & needed & ~runs
    rest = ~settled.chatter.reshape(len(leads), -1).any(axis=1)
    return list(rest & ~lost.any(axis=(1, 2)) & ~(runs & unasked).any(axis=(1, 2)))


def _stolen(examined: Examined, state: Snapshot, driver: int, calls: Collection[str]) -> str:
    """Say what to do where a thermostat's own supply flows through a load that takes it for a call; empty where none does."""
    network, job = state.circuit.network, examined.circuit.job
    for i in branches(state, driver):
        name = network.branches[i].name
        stat, element = examined.circuit.elements.get(name, (None, None))
        if stat is None or element is None or not stat.part.calls or element.kind != "load":
            continue
        means = {point: stat.part.terminals[point].means for point in element.between if point in stat.part.terminals}
        output = next((point for point, own in means.items() if not {"power", "common"} & set(own)), "")
        if not output or any(output in outputs_for(job, call).get(stat.id, ()) for call in calls):
            continue
        load = network.branches[driver].name
        return (
            f"what {stat.id} draws for itself through {stat.id}.{output} is enough for {load}: see that all that belongs on that "
            f"lead is connected, or fit a thermostat that has a common or lives on cells"
        )
    return ""
