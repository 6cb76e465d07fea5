"""Letters that lie: a conductor lands on the same letter at both ends, and the letter means something else at either."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from callpath.calls.letters import traps
from callpath.circuit.settle import States, settle
from callpath.circuit.solve import Changes
from callpath.job.model import Job
from callpath.parts.catalogue import letters
from callpath.proof.ends import side_of
from callpath.proof.finding import Finding
from callpath.proof.states import Examined

__all__ = ["letter_traps"]


def letter_traps(examined: Examined) -> Iterator[Finding]:
    """A conductor or jumper that joins equal letters of different meaning; a danger where lifting it saves a fuse or a source."""
    job = examined.circuit.job
    told: set[frozenset[str]] = set()
    for link, one, two, path in _links(examined):
        if frozenset((one, two)) in told or not traps(job, one, two):
            continue
        told.add(frozenset((one, two)))
        calls = _shorts_in(examined, link)
        lead = link if link in job.landings else f"the jumper from {one} to {two}"
        yield Finding(
            "letter-trap",
            "danger" if calls else "weak",
            calls or examined.calls,
            (link, one, two) if link in job.landings else (one, two),
            path,
            f"{lead} joins equal letters that mean different things: {one} is {_said(job, one)}, {two} is {_said(job, two)}",
            _remedy(job, next((step for step in reversed(path) if step in job.landings), lead), one, two),
        )


def _links(examined: Examined) -> Iterator[tuple[str, str, str, tuple[str, ...]]]:
    """Yield every conductor and jumper with two terminals that it joins, past splices too, and the way between them."""
    job = examined.circuit.job
    for conductor in job.landings:
        first, second = (side_of(examined, conductor, end) for end in (0, 1))
        for one, way in sorted(first.items()):
            for two, on in sorted(second.items()):
                yield conductor, one, two, (*reversed(way), conductor, *on)
    for one, two in job.jumpers:
        if one not in job.splices and two not in job.splices:
            yield f"jumper:{one}+{two}", one, two, (one, two)


def _shorts_in(examined: Examined, link: str) -> tuple[str, ...]:
    """Return the calls in which a fuse opens or a source burns, and does not once the link is lifted."""
    hurt = np.flatnonzero(examined.opened.any(axis=1))
    # The first state of each case shows what the others of that case only repeat.
    _, first = np.unique(examined.case_of[hurt], return_index=True)
    hurt = hurt[first]
    if not len(hurt):
        return ()
    branch = examined.circuit.network.index[link]
    column = (len(hurt), 1)
    lifted = Changes(np.full(column, branch, np.intp), np.full(column, np.inf), np.zeros(column, complex))
    states = examined.settled.states
    bits = settle(examined.circuit.engine, States(states.given[hurt], states.live[hurt], lifted)).bits
    opened = examined.opened.shape[1]
    saved = (examined.opened[hurt] & ~bits[:, :opened]).any(axis=1)
    return examined.calls_of(hurt[saved])


def _said(job: Job, terminal: str) -> str:
    """Return in words what a terminal is: what the table of letters says of its letter, or its purposes."""
    equipment, name = job.terminal(terminal)
    means = equipment.part.terminals[name].means
    # What a terminal means first says best what it is.
    found = (meaning.said for purpose in means for meaning in letters().get(name, ()) if purpose in meaning.means)
    return next(found, ", ".join(means))


def _remedy(job: Job, lead: str, one: str, two: str) -> str:
    """Say where the conductor belongs instead: on a terminal there that means what the other end means."""
    equipment, name = job.terminal(one)
    there, _ = job.terminal(two)
    means = set(equipment.part.terminals[name].means)
    fits = [f"{there.id}.{letters_}" for letters_, t in there.part.terminals.items() if means & set(t.means)]
    where = f"what {one} is belongs on {' or '.join(fits)}" if fits else f"{there.id} has nothing that {one} belongs on"
    return f"power off and take {lead} off {two}: letters are custom, the diagram decides; {where}"
