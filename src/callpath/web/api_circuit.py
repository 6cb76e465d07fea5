"""What the engine says of a job's circuit, for programs: proof, meter, sequence, netlist, landing and repair."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from typing import Annotated, Any

from fastapi import APIRouter, Query

from callpath.calls.closing import given_for
from callpath.calls.guard import safeties
from callpath.calls.outside import LONGEST_S
from callpath.calls.play import play
from callpath.calls.reading import amps_in, ohms_between, point, spread, volts_between, volts_table
from callpath.circuit.snapshot import snapshot
from callpath.circuit.spice import netlist
from callpath.errors import CallpathError
from callpath.landing.land import land
from callpath.landing.mend import mend
from callpath.records import history
from callpath.web.api_sent import Word
from callpath.web.proved import Proved, proved
from callpath.web.visit import VisitDep

__all__ = ["router"]

router = APIRouter()

Several = Annotated[list[Word] | None, Query(max_length=20)]
Seconds = Annotated[float, Query(ge=0, le=LONGEST_S)]


@contextmanager
def _asked(who: VisitDep, job_id: str) -> Iterator[Proved]:
    """Hand out a job's circuit to one asker at a time."""
    with who.store.reading() as session:
        text = history.head(session, who.job(session, job_id)).text
    found = proved(text)
    with found.asking:
        yield found


@router.get("/jobs/{job_id}/prove")
def prove(who: VisitDep, job_id: Word) -> dict[str, Any]:
    """Return the proof, as ``callpath prove --json`` does."""
    with _asked(who, job_id) as found:
        return found.proof.as_json()


@router.get("/jobs/{job_id}/read")
def read(
    who: VisitDep,
    job_id: Word,
    call: Word = "off",
    by: Several = None,
    between: Annotated[list[Word] | None, Query(max_length=2)] = None,
    amps: Word = "",
    ohms: bool = False,
    lift: Annotated[list[Word] | None, Query(max_length=8)] = None,
    low_z: bool = False,
) -> dict[str, Any]:
    """Return what a meter shows, as ``callpath read --json`` does; without two points a table."""
    with _asked(who, job_id) as found:
        told: dict[str, Any] = {"call": call, **({"by": by} if by else {})}
        if amps:
            return {**told, "conductor": amps, **spread("amps", amps_in(found.circuit, call, amps, by=by or ()))}
        if not between:
            rows = volts_table(found.circuit, call, by=by or ())
            readings = [{"between": [row.terminal, row.against], **spread("volts", row.reading)} for row in rows]
            return {**told, "readings": readings}
        if len(between) != 2:
            raise CallpathError("a meter has two leads: give between twice")
        if ohms:
            reading = ohms_between(found.circuit, between[0], between[1], call=call, lifted=lift or [], by=by or ())
            return {"between": between, **spread("ohms", reading)}
        reading = volts_between(found.circuit, call, between[0], between[1], low_z=low_z, by=by or ())
        return {**told, "between": between, **spread("volts", reading)}


@router.get("/jobs/{job_id}/sequence")
def sequence(
    who: VisitDep,
    job_id: Word,
    call: Word,
    by: Several = None,
    then: Several = None,
    ends: Seconds | None = None,
    opens: Annotated[list[Word] | None, Query(alias="open", max_length=20)] = None,
    closes: Annotated[list[Word] | None, Query(alias="close", max_length=20)] = None,
    power_off: Annotated[list[Word] | None, Query(alias="power-off", max_length=20)] = None,
    power_on: Annotated[list[Word] | None, Query(alias="power-on", max_length=20)] = None,
    no_flame: Annotated[list[Word] | None, Query(alias="no-flame", max_length=20)] = None,
    flame: Several = None,
    frost: bool = False,
    stopped_ago: Annotated[float | None, Query(alias="stopped-ago", ge=0, le=10**9)] = None,
) -> dict[str, Any]:
    """Return the sequence of operation, as ``callpath sequence --json`` does; what comes between is written as there."""
    given = {
        "open": opens,
        "close": closes,
        "power-off": power_off,
        "power-on": power_on,
        "no-flame": no_flame,
        "flame": flame,
        "then": then,
    }
    wanted = play(call, given, by=by, ends=ends, stopped_ago=stopped_ago, frost=frost)
    with _asked(who, job_id) as found:
        return wanted.timing(found.circuit).as_json(call, safeties(found.circuit, call))


@router.get("/jobs/{job_id}/netlist")
def spice(
    who: VisitDep,
    job_id: Word,
    call: Word = "off",
    between: Annotated[list[Word] | None, Query(max_length=2)] = None,
) -> dict[str, Any]:
    """Return the settled circuit for any SPICE, as ``callpath netlist --json`` does."""
    with _asked(who, job_id) as found:
        circuit = found.circuit
        if between and len(between) != 2:
            raise CallpathError("a meter has two leads: give between twice")
        pair = (point(circuit, between[0]), point(circuit, between[1])) if between else None
        state = snapshot(circuit, given_for(circuit, call))
        return {"call": call, "netlist": netlist(state, title=f"{found.job.title}: {call}", between=pair)}


@router.get("/jobs/{job_id}/land")
def landing(
    who: VisitDep, job_id: Word, free: Annotated[list[Word] | None, Query(max_length=8)] = None
) -> dict[str, Any]:
    """Return the best landing, as ``callpath land --json`` does; nothing is changed."""
    with who.store.reading() as session:
        text = history.head(session, who.job(session, job_id)).text
    return land(proved(text).job, free=free or []).as_json()


@router.get("/jobs/{job_id}/mend")
def repair(who: VisitDep, job_id: Word) -> dict[str, Any]:
    """Return the smallest repair, as ``callpath mend --json`` does; nothing is changed."""
    with who.store.reading() as session:
        text = history.head(session, who.job(session, job_id)).text
    return mend(proved(text).job).as_json()
