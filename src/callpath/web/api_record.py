"""The record of the work for programs: which version is as found and which as left, and what was measured on them."""

from __future__ import annotations

from dataclasses import asdict
from datetime import datetime
from typing import Annotated, Any

from fastapi import APIRouter
from pydantic import BaseModel, Field

from callpath.papers.changes import changes
from callpath.records import measured, phase
from callpath.records.schema import Measured, Revision
from callpath.web.api_sent import Number, Sent, Word
from callpath.web.proved import proved
from callpath.web.version_page import version_called
from callpath.web.visit import VisitDep

__all__ = ["router"]

router = APIRouter()


class ReadingSent(Sent):
    """A reading to write down; ``amount`` is a number, ``OL``, ``yes`` or ``no``.

    ``callers`` are the thermostats that make the call; all that can, where none is named.
    """

    phase: Word
    call: Word
    kind: Word
    one: Word
    other: Word = ""
    lifted: Word = ""
    amount: Word
    callers: list[Word] = Field(default_factory=list, max_length=20)
    note: Annotated[str, Field(max_length=400)] = ""


class PhaseSent(Sent):
    """The number of a version; null for the one that counts, whichever it is."""

    version: Number | None


class PhaseTold(BaseModel):
    """The version that shows a phase of the work, and who said so."""

    version: int
    by: str | None
    made_at: datetime | None


class ChangeTold(BaseModel):
    """How something was and is; empty where it was not or is not there."""

    what: str
    was: str
    now: str


class MoveTold(BaseModel):
    """One thing done to the wiring, and at which location."""

    at: str
    said: str


class Comparison(BaseModel):
    """What is different between two versions."""

    older: int
    newer: int
    moves: list[MoveTold]
    settings: list[ChangeTold]
    equipment: list[ChangeTold]
    other: list[ChangeTold]


@router.get("/jobs/{job_id}/phases")
def every_phase(who: VisitDep, job_id: Word) -> dict[str, PhaseTold]:
    """Return which version is as found and which as left, and who said so; nobody has where ``by`` is null."""
    with who.store.reading() as session:
        return {name: _phase(found) for name, found in phase.phases(session, who.job(session, job_id)).items()}


@router.put("/jobs/{job_id}/phases/{name}")
def say_phase(who: VisitDep, job_id: Word, name: Word, sent: PhaseSent) -> PhaseTold:
    """Say that a version is as found, or as left; null says that the one that counts is, whichever it is."""
    with who.store.writing() as session:
        job = who.job(session, job_id, edit=True)
        phase.mark(session, job, name, sent.version, who.person_id)
        return _phase(phase.phase_of(session, job, name))


def _phase(found: phase.Phase) -> PhaseTold:
    told = found.mark
    return PhaseTold(
        version=found.version.number, by=told.person.name if told else None, made_at=told.made_at if told else None
    )


@router.get("/jobs/{job_id}/compare")
def compare(who: VisitDep, job_id: Word, older: Word = "as-found", newer: Word = "as-left") -> Comparison:
    """Return what is different between two versions; each is a number, ``as-found`` or ``as-left``."""
    with who.store.reading() as session:
        job = who.job(session, job_id)
        one, two = (version_called(session, job, name) for name in (older, newer))
    found = changes(proved(one.text).job, proved(two.text).job)
    return Comparison(older=one.number, newer=two.number, **asdict(found))


@router.get("/jobs/{job_id}/record")
def record(who: VisitDep, job_id: Word) -> list[dict[str, Any]]:
    """Return what was measured, with the band that the wiring of its phase gives; ``version`` is the one it was taken on."""
    with who.store.reading() as session:
        job = who.job(session, job_id)
        rows, spoken = measured.noted(session, job), phase.phases(session, job)
        return [_reading(row, spoken[row.phase].version) for row in rows]


@router.post("/jobs/{job_id}/record", status_code=201)
def write_down(who: VisitDep, job_id: Word, sent: ReadingSent) -> dict[str, Any]:
    """Write a reading down, beside the band that the wiring of its phase gives."""
    with who.store.writing() as session:
        job = who.job(session, job_id, edit=True)
        version = phase.phase_of(session, job, sent.phase).version
        found = proved(version.text)
        with found.asking:
            wanted = measured.Noted(**{**sent.model_dump(), "callers": " ".join(sent.callers)})
            row = measured.note(session, job, found.circuit, version.number, wanted, who.person_id)
        session.refresh(row)
        return _reading(row, version)


def _reading(row: Measured, version: Revision) -> dict[str, Any]:
    found = proved(version.text)
    with found.asking:
        told = measured.compared(row, found.circuit, version.number)
    names = (
        "id",
        "version",
        "phase",
        "call",
        "kind",
        "one",
        "other",
        "lifted",
        "amount",
        "note",
        "struck",
    )
    return {
        **{name: getattr(row, name) for name in names},
        "callers": row.callers.split(),
        "low": told.low,
        "high": told.high,
        "in_band": told.in_band,
        "by": row.person.name,
        "made_at": row.made_at.isoformat(),
    }
