"""The job's own page: what is where, what is landed on what, and the proof of it beside."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Annotated, Any
from urllib.parse import urlencode

from fastapi import APIRouter, Query, Request
from starlette.responses import Response

from callpath.errors import CallpathError
from callpath.job import edit
from callpath.job.model import Equipment, Job, Landing
from callpath.job.read import known_job
from callpath.records import history
from callpath.records.history import Change
from callpath.records.phase import mark_repaired
from callpath.records.schema import Revision
from callpath.web.api_sent import Count
from callpath.web.proved import Proved, proved
from callpath.web.render import back, page, problems_of
from callpath.web.visit import Form, FormDep, Visit, VisitDep

__all__ = ["EDITS", "SHOWN", "Sent", "job_facts", "router"]

router = APIRouter()


@dataclass(frozen=True)
class End:
    """One end of a conductor: ``name`` is ``cable.colour@1`` or ``@2``, ``at`` its location, ``on`` what it sits on."""

    conductor: str
    side: int
    at: str
    on: str | None
    other: str | None

    @property
    def name(self) -> str:
        """Return how forms and addresses call it."""
        return f"{self.conductor}@{self.side + 1}"


@dataclass(frozen=True)
class Place:
    """One location: its devices, the ends that come there, its splices."""

    name: str
    devices: list[Equipment]
    splices: list[str]
    ends: list[End]
    spots: tuple[str, ...]

    def on(self, spot: str | None) -> list[End]:
        """Return the ends that sit on a spot, or are capped."""
        return [end for end in self.ends if end.on == spot]


def places(job: Job) -> list[Place]:
    """Return a job's locations in the order in which a person would walk them."""
    names = dict.fromkeys(
        [
            *(device.at for device in job.equipment.values()),
            *(at for cable in job.cables.values() for at in cable.between),
            *job.splices.values(),
        ]
    )
    ends = [
        End(conductor, side, job.cable_of(conductor).between[side], sits[side], sits[1 - side])
        for conductor, sits in job.landings.items()
        for side in (0, 1)
    ]
    return [
        Place(
            name,
            [device for device in job.equipment.values() if device.at == name],
            [splice for splice, at in job.splices.items() if at == name],
            [end for end in ends if end.at == name],
            edit.spots_at(job, name),
        )
        for name in names
    ]


def job_facts(who: Visit, job_id: str) -> dict[str, Any]:
    """Return what every page of a job shows: the record, its head, the proof."""
    with who.store.reading() as session:
        record = who.job(session, job_id)
        head = history.head(session, record)
        before = history.revision(session, record, head.base).text if head.base else ""
        facts = {
            "record": record,
            "head": head,
            "head_by": head.person.name,
            "may_edit": who.may_edit(record),
            "can_undo": head.base is not None,
            "can_redo": history.redo_state(session, record, head) is not None,
        }
    found = proved(head.text, after=before)
    return {**facts, "proved": found, "job": found.job, "proof": found.proof, "visit": who, "at": f"/jobs/{job_id}"}


@dataclass(frozen=True)
class Joining:
    """A jumper with one end on a terminal: where that is, and which others it may go to."""

    spot: str
    at: str
    others: frozenset[str]


def joining(job: Job, spot: str) -> Joining | None:
    """Return a jumper that begins at a terminal; None where the job has no such terminal."""
    device = job.equipment.get(spot.partition(".")[0])
    if device is None or spot.partition(".")[2] not in device.part.terminals:
        return None
    joined = {end for pair in job.jumpers if spot in pair for end in pair}
    others = {other for other in edit.spots_at(job, device.at) if "." in other} - {spot} - joined
    return Joining(spot, device.at, frozenset(others))


@router.get("/jobs/{job_id}")
def build_page(request: Request, who: VisitDep, job_id: str, pick: str = "", jumper: str = "") -> Response:
    """Show a job; ``pick`` is the end that the next tap lands, ``jumper`` the terminal that it links another to."""
    return _page(request, job_facts(who, job_id), pick=pick, jumper=jumper)


@router.get("/jobs/{job_id}/drawing")
def drawing(
    who: VisitDep,
    job_id: str,
    version: Count = 0,
    call: str = "",
    by: Annotated[list[str] | None, Query(max_length=20)] = None,
    narrow: bool = False,
) -> Response:
    """Return a version's wiring, drawn; a page asks for it after its words, which are there sooner."""
    with who.store.reading() as session:
        record = who.job(session, job_id)
        text = history.revision(session, record, version or record.head).text
    return Response(proved(text).drawing(call, tuple(by or ()), narrow=narrow), media_type="image/svg+xml")


def _page(
    request: Request,
    facts: dict[str, Any],
    *,
    pick: str = "",
    jumper: str = "",
    problems: list[str] | None = None,
    conflict: Revision | None = None,
) -> Response:
    found: Proved = facts["proved"]
    there = places(found.job)
    picked = next((end for place in there for end in place.ends if end.name == pick), None)
    with found.asking:
        contacts = found.circuit.field_contacts
    return page(
        request,
        "build.html",
        status=409 if conflict else 422 if problems else 200,
        places=there,
        picked=picked,
        joining=None if picked else joining(found.job, jumper),
        problems=problems or [],
        conflict=conflict,
        contacts=contacts,
        **facts,
    )


def _land_end(text: str, form: Form) -> tuple[str, str]:
    conductor, _, side = form.word("end").partition("@")
    spot = form.word("spot") or None
    ends = known_job(text).landings.get(conductor, (None, None))
    wanted: Landing = (spot, ends[1]) if side == "1" else (ends[0], spot)
    return edit.land_ends(text, {conductor: wanted}), f"{conductor} on {spot}" if spot else f"{conductor} capped"


def _land_table(text: str, form: Form) -> tuple[str, str]:
    wanted: dict[str, list[str | None]] = {c: list(ends) for c, ends in known_job(text).landings.items()}
    for name, spot in form.starting("on:"):
        conductor, _, side = name.partition("@")
        wanted.setdefault(conductor, [None, None])[0 if side == "1" else 1] = spot or None
    before = known_job(text).landings
    changed = [conductor for conductor, ends in wanted.items() if tuple(ends) != before.get(conductor)]
    return edit.land_ends(text, {c: (wanted[c][0], wanted[c][1]) for c in changed}), f"landed {', '.join(changed)}"


def _add_equipment(text: str, form: Form) -> tuple[str, str]:
    new, name = edit.add_equipment(text, form.word("part"), form.word("at"), form.word("name"))
    return edit.set_settings(new, name, dict(form.starting("setting:"))), f"added {name}"


def _add_cable(text: str, form: Form) -> tuple[str, str]:
    between = (form.word("from"), form.word("to"))
    new, name = edit.add_cable(
        text, between, form.word("own") or form.word("conductors"), form.length("length"), form.word("name")
    )
    return new, f"added {name}"


def _add_splice(text: str, form: Form) -> tuple[str, str]:
    new, name = edit.add_splice(text, form.word("at"), form.word("name"))
    return new, f"added {name}"


def _add_jumper(text: str, form: Form) -> tuple[str, str]:
    one, other = form.word("one"), form.word("other")
    return edit.add_jumper(text, one, other), f"jumper {one} to {other}"


def _drop_jumper(text: str, form: Form) -> tuple[str, str]:
    one, _, other = form.word("pair").partition(" ")
    if not other:
        one, other = form.word("one"), form.word("other")
    return edit.drop_jumper(text, one, other), f"no jumper {one} to {other}"


def _contacts(text: str, form: Form) -> tuple[str, str]:
    states = {"open": False, "closed": True}
    wanted = {name: states.get(word) for name, word in form.starting("contact:")}
    return edit.set_contacts(text, wanted), "field contacts"


EDITS: dict[str, Callable[[str, Form], tuple[str, str]]] = {
    "land-end": _land_end,
    "land-table": _land_table,
    "add-equipment": _add_equipment,
    "drop-equipment": lambda text, form: (
        edit.drop_equipment(text, form.word("name")),
        f"took out {form.word('name')}",
    ),
    "add-cable": _add_cable,
    "drop-cable": lambda text, form: (edit.drop_cable(text, form.word("name")), f"took out {form.word('name')}"),
    "add-splice": _add_splice,
    "drop-splice": lambda text, form: (edit.drop_splice(text, form.word("name")), f"took out {form.word('name')}"),
    "add-jumper": _add_jumper,
    "drop-jumper": _drop_jumper,
    "settings": lambda text, form: (
        edit.set_settings(text, form.word("name"), dict(form.starting("setting:"))),
        f"settings of {form.word('name')}",
    ),
    "serves": lambda text, form: (
        edit.set_serves(text, form.words("call")),
        f"serves {', '.join(form.words('call')) or 'nothing'}",
    ),
    "contacts": _contacts,
    "text": lambda text, form: (form.text("text"), "the file's text"),
}
"""What a form may ask for in its field ``do``: from the text and the form to the new text, and what was done in words."""


@dataclass(frozen=True)
class Sent:
    """What a form sent that did not go: ``on`` is the page that it stands on, which is shown again with what was typed."""

    on: str
    given: Mapping[str, str] = field(default_factory=dict)
    problems: Sequence[str] = ()

    def by(self, do: str, name: str) -> bool:
        """Tell whether it was this form: what it does, and to what where the form itself says so."""
        return self.given.get("do") == do and (not name or self.given.get("name") == name)

    def typed(self, do: str, name: str, key: str, otherwise: object) -> object:
        """Return what was typed in a field of a form, and what else stands there where it was not this form."""
        return self.given.get(key, otherwise) if self.by(do, name) else otherwise


SHOWN: dict[str, Callable[[Request, Visit, str, str, Sent], Response]] = {}
"""The pages whose forms are shown again, by the first word of their ``on``, from the job and the second word."""


def _shown_again(request: Request, who: Visit, job_id: str, form: Form, problems: list[str]) -> Response | None:
    on = form.word("on")
    kind, _, name = on.partition("/")
    if kind not in SHOWN:
        return None
    given = {key: value for key, value in form.starting("") if key != "csrf"}
    try:
        return SHOWN[kind](request, who, job_id, name, Sent(on, given, problems))
    except CallpathError:
        # Somebody else took away what the page shows.
        return None


@router.post("/jobs/{job_id}/edit")
def edit_job(request: Request, who: VisitDep, form: FormDep, job_id: str) -> Response:
    """Make one change; where somebody was quicker, keep it aside and say so."""
    with who.store.reading() as session:
        who.job(session, job_id, edit=True)
    seen, do = form.number("seen"), form.word("do")
    if do not in EDITS:
        raise CallpathError("this form asks for something that callpath does not do; load the page again")
    try:
        with who.store.writing() as session:
            record = who.job(session, job_id, edit=True)
            text, what = EDITS[do](history.revision(session, record, seen).text, form)
            new = history.change(session, record.id, Change(text, what, seen, who.person_id))
            if do in ("steps", "way") and not new.aside:
                mark_repaired(session, record, seen, new, who.person_id)
    except CallpathError as error:
        facts = job_facts(who, job_id)
        if do == "text":
            return page(request, "text.html", status=422, problems=problems_of(error), text=form.text("text"), **facts)
        again = _shown_again(request, who, job_id, form, problems_of(error))
        return again or _page(request, facts, problems=problems_of(error))
    if new.aside:
        return _page(request, job_facts(who, job_id), conflict=new)
    if form.word("then") == "propose":
        more = [("free", cable) for cable in form.words("free")]
        asked = urlencode([("how", form.word("how")), *more, ("asked", form.word("asked") or "no")])
        return back(f"/jobs/{job_id}/propose?{asked}")
    return back(f"/jobs/{job_id}")


@router.post("/jobs/{job_id}/undo")
def undo(who: VisitDep, form: FormDep, job_id: str) -> Response:
    """Go one step back."""
    with who.store.writing() as session:
        record = who.job(session, job_id, edit=True)
        history.undo(session, record.id, form.number("seen"), who.person_id)
    return back(f"/jobs/{job_id}")


@router.post("/jobs/{job_id}/redo")
def redo(who: VisitDep, form: FormDep, job_id: str) -> Response:
    """Go one step forward again."""
    with who.store.writing() as session:
        record = who.job(session, job_id, edit=True)
        history.redo(session, record.id, form.number("seen"), who.person_id)
    return back(f"/jobs/{job_id}")


@router.get("/jobs/{job_id}/text")
def text_page(request: Request, who: VisitDep, job_id: str) -> Response:
    """Show the job file itself, to read or to change."""
    facts = job_facts(who, job_id)
    return page(request, "text.html", problems=[], text=facts["head"].text, **facts)
