"""The commissioning form: on every call what must run, what a meter must show, what each source may carry; and what was read."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from callpath.calls.common import pairs_in_reach
from callpath.calls.need import Needs
from callpath.calls.reading import asked_for
from callpath.circuit.between import Readings
from callpath.circuit.build import Circuit
from callpath.circuit.snapshot import Snapshot, snapshot
from callpath.papers.readings import Taken
from callpath.proof.prove import call_result

__all__ = ["Expected", "Form", "Source", "forms"]


@dataclass(frozen=True)
class Expected:
    """One reading to take: where, what is expected, within which band, and what was read; in volts unless ``unit`` differs.

    ``how`` says in words what was lifted, and with which meter it is read where that is not the usual one.
    """

    points: tuple[str, ...]
    value: float
    low: float
    high: float
    unit: str = "V"
    taken: float | None = None
    ghost: bool = False
    how: str = ""

    @property
    def outside(self) -> bool:
        """Whether what was read lies outside the band."""
        return self.taken is not None and not self.low <= self.taken <= self.high


@dataclass(frozen=True)
class Source:
    """What a source delivers on a call, beside its nameplate and its fuse (0: none)."""

    name: str
    volts: float
    amps: float
    va: float
    rated_va: float
    fuse_amps: float


@dataclass(frozen=True)
class Form:
    """One call of the form.

    ``runs`` tells of every function that must or does run: what was seen (None: nobody looked) stands beside what the circuit
    gives; ``needed`` what the call must run, ``allowed`` what it may run beside that. ``other`` is what was read and cannot be
    compared, in words. ``by`` are the thermostats that made the call, empty where all that can did.
    """

    call: str
    served: bool
    needed: tuple[str, ...]
    running: tuple[str, ...]
    seen: Mapping[str, bool]
    sources: tuple[Source, ...]
    rows: tuple[Expected, ...]
    other: tuple[str, ...] = ()
    allowed: tuple[str, ...] = ()
    by: tuple[str, ...] = ()

    @property
    def outside(self) -> int:
        """How many readings lie outside their band, and functions do what they should not."""
        wrong = sum((name in self.needed) != on for name, on in self.seen.items() if name not in self.allowed)
        return wrong + sum(row.outside for row in self.rows)


def forms(
    circuit: Circuit,
    states: Mapping[str, Snapshot],
    readings: Mapping[str, Readings],
    needed: Mapping[str, Sequence[str]],
    serves: Sequence[str],
    taken: Sequence[Taken] = (),
    allowed: Mapping[str, Sequence[str]] | None = None,
) -> tuple[Form, ...]:
    """Return the form of every call in ``states``, and of those that some thermostats alone made while something was read.

    Parameters
    ----------
    states : mapping of str to Snapshot
        The settled state of each call.
    readings : mapping of str to Readings
        What a voltmeter shows on each call between all points.
    needed : mapping of str to sequence of str
        What each call must run.
    serves : sequence of str
        The calls that the job serves.
    taken : sequence of Taken
        What was read and seen; a reading that the form does not ask for is added to it.
    allowed : mapping of str to sequence of str
        What each call may run beside what it must.
    """
    found: list[Form] = []
    pairs = pairs_in_reach(circuit)
    alone = [item for item in taken if item.by and item.comparable(circuit)]
    needs = Needs(circuit)
    for call, state in states.items():
        rows = [
            Expected(pair, reading.value, reading.low, reading.high, ghost=reading.ghost)
            for pair in pairs
            for reading in (readings[call].between(*pair),)
        ]
        must, may = tuple(needed.get(call, ())), tuple((allowed or {}).get(call, ()))
        plain = Form(call, call in serves, must, state.running, {}, _sources(circuit, state), tuple(rows), (), may)
        found.append(_with(circuit, plain, [item for item in taken if item.call == call and item not in alone]))
        # With some of the thermostats calling the circuit is another: of that there stands what was read, and no more.
        for by in dict.fromkeys(item.by for item in alone if item.call == call):
            state = snapshot(circuit, asked_for(circuit, call, by))
            result = call_result(needs, call, state, by)
            form = replace(plain, by=by, needed=result.needed, allowed=result.allowed, running=result.running, rows=())
            form = replace(form, sources=_sources(circuit, state))
            found.append(_with(circuit, form, [item for item in alone if (item.call, item.by) == (call, by)]))
    return tuple(found)


def _with(circuit: Circuit, form: Form, here: Sequence[Taken]) -> Form:
    """Return a call's form with what was read and seen on it."""
    compared = [item for item in here if item.comparable(circuit)]
    seen = {name: on for item in compared for name, on in item.running.items()}
    other = tuple(_words(item) for item in here if not item.comparable(circuit))
    return replace(form, rows=tuple(_filled(circuit, list(form.rows), compared)), seen=seen, other=other)


def _sources(circuit: Circuit, state: Snapshot) -> tuple[Source, ...]:
    return tuple(
        Source(name, load.volts, load.amps, load.va, load.rated_va, _fuse(circuit, name))
        for name, load in state.sources.items()
    )


def _filled(circuit: Circuit, rows: list[Expected], taken: Sequence[Taken]) -> list[Expected]:
    for item in taken:
        if not item.points:
            continue
        plain = not item.lifted and not item.low_z
        # A pair that the form asks for is read either way round.
        asked = (
            i
            for i, row in enumerate(rows)
            if plain and frozenset(row.points) == frozenset(item.points) and row.unit == item.unit
        )
        place = next(asked, None)
        if place is None:
            reading = item.expected(circuit)
            shown = Expected(item.points, reading.value, reading.low, reading.high, item.unit, item.value)
            rows.append(replace(shown, ghost=reading.ghost, how=_how(item)))
        else:
            rows[place] = replace(rows[place], taken=item.value)
    return rows


def _how(item: Taken) -> str:
    lifted = f", {', '.join(name.replace('+', ' to ') for name in item.lifted)} lifted" if item.lifted else ""
    return lifted + (", low impedance" if item.low_z else "")


def _words(item: Taken) -> str:
    jumped = f" with {' joined to '.join(item.jumped)}" if item.jumped else ""
    jumped += f", {', '.join(item.by)} calling" if item.by else ""
    runs = ", ".join(f"{name} {'ran' if on else 'did not run'}" for name, on in item.running.items())
    value = "OL" if math.isinf(item.value) else f"{item.value:g} {item.unit}"
    return f"{runs or f'{value} at ' + ' to '.join(item.points)}{_how(item)}{jumped}"


def _fuse(circuit: Circuit, source: str) -> float:
    """Return the rating of the fuse in a source's own equipment [A], 0 where it has none."""
    owner = source.partition(".")[0]
    for equipment, element in circuit.elements.values():
        if element.kind == "fuse" and equipment.id == owner:
            return element.data["amps"].resolve(equipment.settings) or 0.0
    return 0.0
