"""What callpath would have of a job, a landing or the smallest repair, as steps that can be taken over one by one.

A proposal is kept for a while: whoever ticks its steps asks for it again and again.
"""

from __future__ import annotations

import json
from collections import OrderedDict
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from threading import Lock
from typing import cast

from callpath.errors import CallpathError
from callpath.job.model import Job, Landing
from callpath.job.read import known_job
from callpath.job.rewrite import with_changes, with_job
from callpath.job.write import job_data, job_text
from callpath.landing.land import land
from callpath.landing.mend import mend
from callpath.landing.ways import WayOut
from callpath.proof.prove import Proof
from callpath.web.proved import proved

__all__ = ["Proposal", "Step", "Way", "landing", "repair", "with_steps"]

_MOST = 32
_kept: OrderedDict[tuple[str, str, tuple[str, ...]], Proposal] = OrderedDict()
_lock = Lock()


@dataclass(frozen=True)
class Step:
    """One difference between a job as it is and as it is proposed: ``said`` in words, ``why``, and ``words`` for the form."""

    words: tuple[str, ...]
    said: str
    why: str = ""
    gives_up: bool = False
    """Whether a call is not asked for any more; no such step is taken unless somebody ticks it."""

    @property
    def value(self) -> str:
        """Return how a form carries it."""
        return json.dumps(self.words)


@dataclass(frozen=True)
class Way:
    """A way out of what the conductors cannot serve: what it is, and the text of the job file that it leads to."""

    title: str
    detail: str
    text: str


@dataclass(frozen=True)
class Proposal:
    """What callpath would have: the steps to it, what is lost by it, what to know about it, and the ways out.

    ``given_up`` says of the calls that cannot be served why.
    """

    steps: tuple[Step, ...]
    lost: tuple[str, ...]
    given_up: Mapping[str, str]
    notes: tuple[str, ...]
    ways: tuple[Way, ...] = ()

    @property
    def usual(self) -> list[str]:
        """The steps that are ticked until somebody ticks others: none where something is lost, and none that gives a call up."""
        return [] if self.lost else [step.value for step in self.steps if not step.gives_up]


def landing(text: str, free: Sequence[str]) -> Proposal:
    """Return a landing of what is not landed, the conductors of some cables taken off first."""
    return _known(text, "land", tuple(free)) or _keep(text, "land", tuple(free), _landing(text, free))


def repair(text: str) -> Proposal:
    """Return the smallest repair."""
    return _known(text, "mend", ()) or _keep(text, "mend", (), _repair(text))


def _known(text: str, how: str, free: tuple[str, ...]) -> Proposal | None:
    with _lock:
        return _kept.get((text, how, free))


def _keep(text: str, how: str, free: tuple[str, ...], found: Proposal) -> Proposal:
    with _lock:
        _kept[text, how, free] = found
        while len(_kept) > _MOST:
            _kept.popitem(last=False)
    return found


def _landing(text: str, free: Sequence[str]) -> Proposal:
    job = known_job(text)
    found = land(job, free=free)
    notes = [*found.cautions, *found.left_out, *found.departures]
    if not found.optimal:
        notes.append("better landings were not ruled out: too many ways to try")
    if found.unserved or found.proof.verdict != "clean":
        # Where all is well nothing better is missed that anybody would look for.
        notes.append(f"not looked at: {'; '.join(found.not_searched)}")
    now = proved(text).proof
    lost = tuple(call for call in _working(now) if call not in found.serves)
    whole = set(found.serves) == set(now.serves)
    steps = _steps(job, found.job, found.choices, () if whole else now.serves)
    return Proposal(tuple(steps), lost, found.unserved, tuple(notes), tuple(_way(text, way) for way in found.ways_out))


def _working(proof: Proof) -> list[str]:
    """Return the calls that are to be served and do run all that they need."""
    return [call for call in proof.serves if set(proof.calls[call].needed) <= set(proof.calls[call].running)]


def _way(text: str, way: WayOut) -> Way:
    try:
        return Way(way.title, way.detail, with_job(text, way.job))
    except CallpathError:
        # What cannot be told as changes of the text is written anew; its comments are in the version before.
        return Way(way.title, way.detail, job_text(job_data(way.job)))


def _repair(text: str) -> Proposal:
    job = known_job(text)
    found = mend(job)
    whys: dict[str, str] = {}
    for move, cure in zip(found.moves, found.cures, strict=True):
        # Both ends of a conductor may move; they are one step, for the reasons of both.
        whys[move.what] = "; ".join(filter(None, dict.fromkeys((whys.get(move.what, ""), cure))))
    notes = [f"not the wiring, and not to be wired round: {thing}" for thing in found.broken]
    if not found.fewest and found.moves:
        notes.append(f"repairs of fewer moves than these were ruled out only up to {found.ruled_out}")
    steps = _steps(job, found.job, whys, found.before.serves)
    ways = tuple(_way(text, way) for way in found.ways_out)
    return Proposal(tuple(steps), found.given_up, found.unserved, tuple(notes), ways)


def _steps(before: Job, after: Job, whys: Mapping[str, str], asked: Sequence[str]) -> Iterator[Step]:
    """Yield what must be done to come from one job to another.

    ``whys`` gives reasons by conductor; ``asked`` are the calls that the one is to serve, none where that stays as it is.
    """
    new = [splice for splice in after.splices if splice not in before.splices]
    for conductor, ends in after.landings.items():
        if ends != before.landings.get(conductor):
            sits = [_sits(end, new) for end in ends]
            words = ("land", conductor, ends[0] or "", ends[1] or "")
            yield Step(words, f"land {conductor} on {sits[0]} and {sits[1]}", whys.get(conductor, ""))
    for place, fault in enumerate(before.faults):
        if fault not in after.faults:
            yield Step(("cured", str(place)), f"it is right then: no {fault.kind} {' and '.join(fault.where)} any more")
    had, has = ({frozenset(pair) for pair in job.jumpers} for job in (before, after))
    for pair in after.jumpers:
        if frozenset(pair) not in had:
            why = whys.get(pair[0]) or whys.get(pair[1], "")
            yield Step(("jumper", *pair), f"put a jumper in from {pair[0]} to {pair[1]}", why)
    for pair in before.jumpers:
        if frozenset(pair) not in has:
            why = whys.get(pair[0]) or whys.get(pair[1], "")
            yield Step(("unjumper", *pair), f"take the jumper from {pair[0]} to {pair[1]} out", why)
    for device in after.equipment.values():
        old = before.equipment[device.id].settings
        for key, value in device.settings.items():
            if value != old.get(key):
                why = whys.get(f"{device.id}.{key}", "")
                yield Step(("set", device.id, key, json.dumps(value)), f"set {device.id} {key} to {value}", why)
    if asked and after.serves != before.serves and after.serves:
        less = [call for call in asked if call not in after.serves]
        said = f"ask only for {', '.join(after.serves)}" + (f", and give up {', '.join(less)}" if less else "")
        yield Step(("serve", *after.serves), said, gives_up=bool(less))


def _sits(end: str | None, new: Sequence[str]) -> str:
    if end is None:
        return "nothing"
    return f"a new splice, {end}" if end in new else end


def with_steps(text: str, steps: Sequence[str]) -> str:
    """Return a job file's text after some steps, as forms carry them.

    A splice that a step lands on is made where it is missing, and one that steps have emptied is gone.

    Raises
    ------
    CallpathError
        A step is none, or names what the job does not have.
    """
    job = known_job(text)
    landings, splices, jumpers = dict(job.landings), dict(job.splices), list(job.jumpers)
    settings: dict[str, dict[str, bool | int | float | str | None]] = {}
    serves: list[str] | None = None
    cured: list[int] = []
    for value in steps:
        match _words(value):
            case ["land", conductor, one, other]:
                if conductor not in job.landings:
                    raise CallpathError(f"this job has no conductor {conductor} any more; look again")
                landings[conductor] = (one or None, other or None)
            case ["jumper", one, other]:
                jumpers.append((one, other))
            case ["unjumper", one, other]:
                jumpers = [pair for pair in jumpers if set(pair) != {one, other}]
            case ["set", device, key, word]:
                settings.setdefault(device, {})[key] = _setting(word)
            case ["cured", place] if place.isdecimal() and int(place) < len(job.faults):
                cured.append(int(place))
            case ["serve", *calls]:
                serves = calls
            case _:
                raise CallpathError("this form asks for a step that callpath does not know; load the page again")
    changed = {name: ends for name, ends in landings.items() if ends != job.landings[name]}
    wanted = _spliced(job, landings, splices)
    return with_changes(
        text,
        landings=changed,
        splices=wanted if wanted != dict(job.splices) else None,
        jumpers=jumpers if jumpers != list(job.jumpers) else None,
        serves=serves,
        settings=settings or None,
        mended=cured,
    )


def _spliced(job: Job, landings: Mapping[str, Landing], splices: Mapping[str, str]) -> dict[str, str]:
    wanted = dict(splices)
    for conductor, ends in landings.items():
        for end, at in zip(ends, job.cable_of(conductor).between, strict=True):
            if end is not None and "." not in end:
                wanted.setdefault(end, at)
    held, holds = ({end for ends in ways.values() for end in ends} for ways in (job.landings, landings))
    return {name: at for name, at in wanted.items() if name in holds or name not in held}


def _setting(word: str) -> bool | int | float | str | None:
    try:
        value = json.loads(word)
    except (ValueError, RecursionError):
        value = [word]
    if isinstance(value, (dict, list)):
        raise CallpathError("this form asks for a setting that callpath does not know; load the page again")
    return cast("bool | int | float | str | None", value)


def _words(value: str) -> list[str]:
    try:
        words = json.loads(value)
    except (ValueError, RecursionError):
        words = None
    if not isinstance(words, list) or not all(isinstance(word, str) for word in words):
        raise CallpathError("this form asks for a step that callpath does not know; load the page again")
    return words
