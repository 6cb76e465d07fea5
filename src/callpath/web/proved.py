"""A job file's text, read, built and proved: kept for a while, since one page asks for the same again and again."""

from __future__ import annotations

from collections import OrderedDict
from dataclasses import dataclass, field
from functools import cached_property
from threading import Lock

from callpath.calls.reading import asked_for
from callpath.circuit.build import Circuit, build
from callpath.circuit.snapshot import snapshot
from callpath.faults.asked import Check
from callpath.faults.troubleshoot import Case
from callpath.job.model import Job
from callpath.job.read import known_job
from callpath.papers import Diagram, diagram, svg
from callpath.papers.live import loops
from callpath.papers.measure import PAPER_MEASURE, THUMB
from callpath.progress import Turn
from callpath.proof.prove import Proof, prove
from callpath.records.assumed import SHIPPED, Assumptions

__all__ = ["Proved", "proved"]

_MOST = 64
_MOST_CASES = 3
_kept: OrderedDict[str, Proved] = OrderedDict()
_lock = Lock()


@dataclass(frozen=True, eq=False)
class Proved:
    """A job with what can be asked of it, each worked out when it is first wanted.

    A circuit learns while it is solved, so one thread at a time may ask it: hold ``asking`` meanwhile.
    """

    text: str
    job: Job
    asking: Turn = field(default_factory=lambda: Turn("waiting for what somebody else asks of this job"))
    _cases: dict[Assumptions, Case] = field(default_factory=dict)
    _like: dict[bool, Diagram] = field(default_factory=dict)
    _diagrams: dict[bool, Diagram] = field(default_factory=dict)
    _drawings: dict[tuple[str, tuple[str, ...], bool], str] = field(default_factory=dict)

    @cached_property
    def circuit(self) -> Circuit:
        """The network."""
        return build(self.job)

    @cached_property
    def _proof(self) -> Proof:
        return prove(self.job, self.circuit)

    @property
    def case(self) -> Case:
        """What is known of every fault that the job may have, under the assumptions that ship with callpath."""
        return self.case_of(SHIPPED)

    def case_of(self, assumed: Assumptions) -> Case:
        """Return what is known of every fault that the job may have, under some assumptions."""
        with self.asking:
            if assumed not in self._cases:
                while len(self._cases) >= _MOST_CASES:
                    del self._cases[next(iter(self._cases))]
                self._cases[assumed] = Case(self.job, *assumed.read())
            return self._cases[assumed]

    @property
    def proof(self) -> Proof:
        """Every finding."""
        with self.asking:
            return self._proof

    def drawing(self, call: str = "", by: tuple[str, ...] = (), *, narrow: bool = False) -> str:
        """Return the wiring as SVG: with its findings marked, or with a call's live loops lit where one is given.

        ``by`` are the thermostats that make the call; all that can, where none is named.

        Raises
        ------
        QuestionError
            No thermostat of the job, or not one that is named, can make the call.
        """
        with self.asking:
            asked = (call, by, narrow)
            if asked not in self._drawings:
                measure = THUMB if narrow else PAPER_MEASURE
                findings = () if call else self._proof.findings
                lit = loops(snapshot(self.circuit, asked_for(self.circuit, call, by))) if call else ()
                drawn = svg(self.diagram(narrow=narrow), lit=lit, findings=findings, tappable=measure.lane)
                self._drawings[asked] = drawn
            return self._drawings[asked]

    def plain_drawing(self, test: Check | None = None, *, narrow: bool = False) -> str:
        """Return the wiring as the job should have it: no finding and no fault, only a test that is to be made."""
        with self.asking:
            measure = THUMB if narrow else PAPER_MEASURE
            return svg(self.diagram(narrow=narrow), test=test, tappable=measure.lane)

    def diagram(self, *, narrow: bool = False) -> Diagram:
        """Return the wiring as it is laid out, ``narrow`` for a telephone."""
        with self.asking:
            if narrow not in self._diagrams:
                measure, like = THUMB if narrow else PAPER_MEASURE, self._like.get(narrow)
                self._diagrams[narrow] = diagram(self.job, columns=1 if narrow else 3, measure=measure, like=like)
            return self._diagrams[narrow]


def proved(text: str, after: str = "") -> Proved:
    """Return a text, read; its drawing keeps the order of the one that it comes ``after``, as far as that was drawn.

    Raises
    ------
    JobError
        It is no sound job.
    """
    with _lock:
        if text in _kept:
            _kept.move_to_end(text)
            return _kept[text]
        before = _kept.get(after)
    found = Proved(text, known_job(text), _like=dict(before._diagrams) if before else {})
    with _lock:
        _kept[text] = found
        while len(_kept) > _MOST:
            _kept.popitem(last=False)
    return found
