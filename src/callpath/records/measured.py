"""What was measured on a job, as found and as left, each reading beside the band that the wiring of its phase gives for it."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

from sqlalchemy import select
from sqlalchemy.orm import Session

from callpath.calls.closing import callers_of, check_callers
from callpath.calls.reading import asked_for
from callpath.circuit.build import Circuit
from callpath.circuit.snapshot import snapshot
from callpath.errors import QuestionError, nearest
from callpath.job import model as wiring
from callpath.papers.readings import Taken
from callpath.records.phase import PHASES, mark_once
from callpath.records.schema import Job, Measured, Photo
from callpath.units import meter_reading

__all__ = ["KINDS", "UNITS", "Compared", "Noted", "compared", "note", "noted", "strike", "taken"]

KINDS = {
    "volts": "volts, 10 MΩ as usual",
    "low-z": "volts, low impedance",
    "ohms": "ohms, every source off",
    "amps": "amps, clamped around a conductor",
    "running": "seen to run, or not",
}
"""What can be written down, and in words."""

UNITS = {"volts": "V", "low-z": "V", "ohms": "Ω", "amps": "A"}
"""The unit of every kind of reading."""


@dataclass(frozen=True)
class Noted:
    """What somebody wants written down, in the words of a form; ``amount`` as in ``26.4 V``, ``0,5``, ``OL``, ``yes``.

    ``unit`` is what an amount in ohms is in that is a number alone, such as ``kΩ``. ``callers`` are the thermostats that make the
    call, blanks between them; all that can, where none is named.
    """

    phase: str
    call: str
    kind: str
    one: str
    other: str
    lifted: str
    amount: str
    note: str = ""
    unit: str = ""
    callers: str = ""


def note(session: Session, job: Job, circuit: Circuit, version: int, wanted: Noted, person_id: int) -> Measured:
    """Write a reading down; ``circuit`` is that of ``version``, which shows the job in the reading's phase.

    The first reading as found tells which version is as found, where nobody has said.

    Raises
    ------
    QuestionError
        A word of it is none of this job's.
    UnitError
        The amount is no number.
    """
    for word, valid in ((wanted.phase, PHASES), (wanted.kind, tuple(KINDS))):
        if word not in valid:
            raise QuestionError(f"'{word}' cannot be written down; {nearest(word, valid)}")
    wanted = replace(wanted, callers=_callers(circuit.job, wanted))
    amount, low, high = (_watched if wanted.kind == "running" else _read)(circuit, wanted)
    made = Measured(
        job_id=job.id,
        version=version,
        phase=wanted.phase,
        call=wanted.call,
        callers=wanted.callers,
        kind=wanted.kind,
        one=wanted.one,
        other=wanted.other if wanted.kind not in ("amps", "running") else "",
        lifted=wanted.lifted if wanted.kind == "ohms" else "",
        amount=amount,
        low=low,
        high=high,
        note=wanted.note[:400],
        person_id=person_id,
    )
    session.add(made)
    session.flush()
    if wanted.phase == "as-found":
        mark_once(session, job, wanted.phase, version, person_id)
    return made


_Kept = tuple[float | None, float | None, float | None]


def _callers(job: wiring.Job, wanted: Noted) -> str:
    """Return who makes the call, in the order of the job: nobody in particular where all that can do, or the call is off."""
    named = wanted.callers.split()
    check_callers(job, wanted.call, named)
    able = callers_of(job, wanted.call) if wanted.call != "off" else ()
    chosen = [name for name in able if name in named]
    return " ".join(chosen) if len(chosen) < len(able) else ""


def _runs(circuit: Circuit, row: Noted | Measured) -> float:
    """Return whether the circuit says that a function runs."""
    return float(row.one in snapshot(circuit, asked_for(circuit, row.call, row.callers.split())).running)


def _watched(circuit: Circuit, wanted: Noted) -> _Kept:
    if wanted.one not in circuit.functions:
        raise QuestionError(f"this job has no function '{wanted.one}'; {nearest(wanted.one, circuit.functions)}")
    said = {"yes": 1.0, "y": 1.0, "no": 0.0, "n": 0.0}.get(wanted.amount.strip().casefold())
    if said is None:
        raise QuestionError("say yes or no to whether it runs")
    runs = _runs(circuit, wanted)
    return said, runs, runs


def _read(circuit: Circuit, wanted: Noted) -> _Kept:
    amount = meter_reading(wanted.amount, UNITS[wanted.kind], wanted.unit if wanted.kind == "ohms" else "")
    expected = _taken(wanted, amount).expected(circuit)
    return _kept(amount), _kept(expected.low), _kept(expected.high)


def _kept(value: float) -> float | None:
    return None if math.isinf(value) else value


def _taken(wanted: Noted | Measured, amount: float) -> Taken:
    points = (wanted.one,) if wanted.kind == "amps" else (wanted.one, wanted.other)
    lifted = (wanted.lifted,) if wanted.lifted and wanted.kind == "ohms" else ()
    low_z, by = wanted.kind == "low-z", tuple(wanted.callers.split())
    return Taken(wanted.call, points, UNITS[wanted.kind], amount, lifted, low_z=low_z, by=by)


@dataclass(frozen=True)
class Compared:
    """A reading and the band of its phase's wiring; ``fits`` is False where that wiring has no such points.

    The band is then the one of the wiring on which the reading was taken. None in it is an open line, which is without end.
    """

    row: Measured
    low: float | None
    high: float | None
    fits: bool = True

    @property
    def in_band(self) -> bool:
        """Whether the reading lies in the band."""
        amount, low, high = (math.inf if value is None else value for value in (self.row.amount, self.low, self.high))
        return low <= amount <= high


def compared(row: Measured, circuit: Circuit, version: int) -> Compared:
    """Set a reading beside what the circuit of a version says of it."""
    if row.version == version:
        return Compared(row, row.low, row.high)
    try:
        if row.kind == "running":
            if row.one not in circuit.functions:
                return Compared(row, row.low, row.high, fits=False)
            runs = _runs(circuit, row)
            return Compared(row, runs, runs)
        expected = _taken(row, 0.0).expected(circuit)
    except QuestionError:
        return Compared(row, row.low, row.high, fits=False)
    return Compared(row, _kept(expected.low), _kept(expected.high))


def noted(session: Session, job: Job) -> list[Measured]:
    """Return everything that was written down of a job, in the order in which it was."""
    return list(session.scalars(select(Measured).where(Measured.job_id == job.id).order_by(Measured.id)))


def strike(session: Session, job: Job, kind: type[Measured] | type[Photo], number: int) -> None:
    """Strike something out, or put it back; it stays in the record.

    Raises
    ------
    QuestionError
        The job has none of that number.
    """
    row: Measured | Photo | None = session.get(Photo, number) if kind is Photo else session.get(Measured, number)
    if row is None or row.job_id != job.id:
        raise QuestionError("there is no such entry in the record of this job")
    row.struck = not row.struck
    session.flush()


def taken(rows: list[Measured], phase: str) -> list[Taken]:
    """Return the readings of a phase as the papers take them; what is struck out is left out."""
    kept = [row for row in rows if row.phase == phase and not row.struck]
    return [
        Taken(row.call, running={row.one: bool(row.amount)}, by=tuple(row.callers.split()))
        if row.kind == "running"
        else _taken(row, math.inf if row.amount is None else row.amount)
        for row in kept
    ]
