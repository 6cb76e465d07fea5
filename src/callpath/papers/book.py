"""Everything that the papers of one job say, settled and gathered once: what PDF and field sheet are made of."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np

from callpath.calls.chart import Chart, chart
from callpath.calls.closing import call_rules, calls_of_job, given_for, thermostats
from callpath.calls.outside import Interruption
from callpath.calls.reading import touchable
from callpath.calls.sequence import timing
from callpath.calls.timing import Event
from callpath.circuit.between import Readings, volts_between_all
from callpath.circuit.build import Circuit, build
from callpath.circuit.settle import settle
from callpath.circuit.snapshot import Snapshot, snapshots, states_of
from callpath.job.model import Job
from callpath.papers.drawing import Diagram, Manner
from callpath.papers.form import Form, forms
from callpath.papers.imprint import Imprint
from callpath.papers.ladder import Ladder, ladder
from callpath.papers.layout import diagram
from callpath.papers.live import Loop, loops
from callpath.papers.readings import Taken
from callpath.papers.schedule import Schedule, reasons, schedule
from callpath.progress import step
from callpath.proof.prove import Proof, prove

if TYPE_CHECKING:
    from callpath.papers.tree import FaultTree

__all__ = ["Book", "Played"]

_CALL_ENDS_S = 600.0
# Conductors and elements; a tree of more would be neither small nor quick.
_MOST_THINGS = 200


@dataclass(frozen=True)
class Played:
    """A call played from rest, ended after ten minutes: what happens, and its timing chart."""

    call: str
    events: tuple[Event, ...]
    chart: Chart


class Book:
    """The papers of a job, each made when it is asked for.

    Parameters
    ----------
    job : Job
        A checked job.
    imprint : Imprint
        Its title, date and revision.
    taken : sequence of Taken
        Readings to fill the commissioning form with.
    left : bool
        They were taken as left, after the work, not as found.
    symbols : {"iec", "ansi"}, optional
        The manner in which what stands inside equipment is drawn; not at all without it.
    """

    def __init__(
        self,
        job: Job,
        imprint: Imprint,
        *,
        taken: Sequence[Taken] = (),
        left: bool = False,
        symbols: Manner | None = None,
        circuit: Circuit | None = None,
    ) -> None:
        self.job, self.imprint, self.taken, self.left, self.symbols = job, imprint, taken, left, symbols
        self.circuit = circuit or build(job)
        self._diagrams: dict[int, Diagram] = {}

    @cached_property
    def calls(self) -> tuple[str, ...]:
        """``off`` and every call that the job's thermostats can make."""
        return calls_of_job(self.circuit)

    @cached_property
    def proof(self) -> Proof:
        """The proof of the job."""
        return prove(self.job, self.circuit)

    @cached_property
    def states(self) -> dict[str, Snapshot]:
        """The settled state of every call, field contacts as the job has them and every source live."""
        given = np.stack([given_for(self.circuit, call) for call in self.calls])
        return dict(
            zip(
                self.calls,
                snapshots(self.circuit, settle(self.circuit.engine, states_of(self.circuit, given))),
                strict=True,
            )
        )

    @cached_property
    def alone(self) -> dict[tuple[str, str], Snapshot]:
        """The same where one of several thermostats that can make a call makes it alone, by call and thermostat."""
        asked = [
            (call, stat.id)
            for call in self.calls
            for able in ([stat for stat in thermostats(self.job) if call in call_rules(stat)],)
            if call != "off" and len(able) > 1
            for stat in able
        ]
        if not asked:
            return {}
        given = np.stack([given_for(self.circuit, call, [stat]) for call, stat in asked])
        settled = settle(self.circuit.engine, states_of(self.circuit, given))
        return dict(zip(asked, snapshots(self.circuit, settled), strict=True))

    @cached_property
    def loops(self) -> dict[str, list[Loop]]:
        """The live loops of every call."""
        return {call: loops(state) for call, state in self.states.items()}

    @cached_property
    def ladder(self) -> Ladder:
        """The ladder diagram."""
        return ladder(self.states, self.alone)

    @cached_property
    def schedule(self) -> Schedule:
        """The hook-up schedule."""
        alone = {asked: loops(state) for asked, state in self.alone.items()}
        return schedule(self.circuit, reasons(self.circuit, self.loops, alone))

    @cached_property
    def points(self) -> tuple[str, ...]:
        """Every point that a meter's lead can touch: terminals, splices and capped ends."""
        return touchable(self.circuit)

    @cached_property
    def readings(self) -> dict[str, Readings]:
        """What a voltmeter shows between every two points, by call."""
        return {
            call: volts_between_all(self.circuit, given_for(self.circuit, call), self.points) for call in self.calls
        }

    @cached_property
    def forms(self) -> tuple[Form, ...]:
        """The commissioning form, call by call."""
        needed = {call: result.needed for call, result in self.proof.calls.items()}
        allowed = {call: result.allowed for call, result in self.proof.calls.items()}
        return forms(self.circuit, self.states, self.readings, needed, self.proof.serves, self.taken, allowed)

    @cached_property
    def tree(self) -> FaultTree | None:
        """The fault tree; None for a job too large to have one on paper."""
        if len(self.job.landings) + len(self.circuit.elements) > _MOST_THINGS:
            return None
        from callpath.papers.tree import fault_tree

        step("growing the fault tree")
        return fault_tree(self.job)

    @cached_property
    def sequences(self) -> tuple[Played, ...]:
        """The sequence of operation of every call but ``off``."""
        found = []
        for call in self.calls:
            if call != "off":
                step(f"playing '{call}'")
                played = timing(self.circuit, call, interruptions=[Interruption(_CALL_ENDS_S)])
                found.append(Played(call, played.events, chart(played)))
        return tuple(found)

    def diagram(self, columns: int = 3) -> Diagram:
        """Return the wiring diagram, laid out in so many columns at most."""
        if columns not in self._diagrams:
            self._diagrams[columns] = diagram(self.job, columns=columns, symbols=self.symbols)
        return self._diagrams[columns]
