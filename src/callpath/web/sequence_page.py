"""The sequence of operation, played: what happens when and why, and the loops that carry current at every moment."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import Annotated
from urllib.parse import urlencode

from fastapi import APIRouter, Depends, Query, Request
from starlette.responses import Response

from callpath.calls.chart import chart, clock
from callpath.calls.delayed import cycles
from callpath.calls.guard import safeties
from callpath.calls.outside import LONGEST_S
from callpath.calls.play import OUTSIDE, Play, play, possible
from callpath.calls.standing import Moment
from callpath.calls.timing import Event, Timing
from callpath.circuit.build import Circuit
from callpath.errors import CallpathError
from callpath.papers import svg
from callpath.papers.live import Loop, loops
from callpath.papers.svg import directions
from callpath.papers.text import plain
from callpath.records import history
from callpath.web.api_sent import Count
from callpath.web.ask_page import call_asked, callers, still_calling
from callpath.web.build_page import job_facts
from callpath.web.proved import Proved, proved
from callpath.web.render import page
from callpath.web.visit import VisitDep

__all__ = ["router"]

router = APIRouter()

_MOST_ROWS = 20
_TAIL = 1.05
"""How much longer than to its last event a call is shown, so that what it comes to can be seen."""

_WORDS = {
    "then": ("The call", "the call becomes ‘{}’"),
    "open": ("A field contact", "{} opens"),
    "close": ("A field contact", "{} closes"),
    "power-off": ("Power", "{} loses its power"),
    "power-on": ("Power", "{} has power again"),
    "no-flame": ("A burner", "{} proves no flame"),
    "flame": ("A burner", "{} can prove its flame again"),
}
_SPEEDS = {"event": "event by event", "1": "as it is", "10": "10 times", "60": "60 times", "600": "600 times"}

Several = Annotated[list[str] | None, Query(max_length=_MOST_ROWS)]


@dataclass(frozen=True)
class Asked:
    """What the form asks for, as it was typed; ``rows`` are what happens meanwhile, ``option name``, and when."""

    call: str
    by: tuple[str, ...]
    ends: str
    stopped_ago: str
    frost: bool
    rows: tuple[tuple[str, str], ...]

    def query(self, *, without: int = -1, call: str = "", by: bool = True) -> str:
        """Return it as part of an address, one row left out, or for another call, or without who makes it."""
        rows = [row for place, row in enumerate(self.rows) if place != without]
        pairs = [("call", call or self.call), *(("by", stat) for stat in (self.by if by else ()))]
        pairs += [(key, word) for key, word in (("ends", self.ends), ("stopped-ago", self.stopped_ago)) if word]
        pairs += [("frost", "yes")] if self.frost else []
        return urlencode([*pairs, *(pair for do, when in rows for pair in (("do", do), ("when", when)))])

    def play(self) -> Play:
        """Return it read.

        Raises
        ------
        CallpathError
            Something is no moment, or nothing that can happen.
        """
        given: dict[str, list[str]] = {option: [] for option in OUTSIDE}
        for do, when in self.rows:
            option, _, name = do.partition(" ")
            if option not in given:
                raise CallpathError(f"'{do}' is nothing that can happen meanwhile; choose from the list")
            given[option].append(f"{name}@{_seconds(when)}")
        ends = _seconds(self.ends) if self.ends else None
        ago = _seconds(self.stopped_ago) if self.stopped_ago else None
        return play(self.call, given, by=self.by, ends=ends, stopped_ago=ago, frost=self.frost)


def _seconds(word: str) -> float:
    try:
        at = float(word.replace(",", "."))
    except ValueError:
        at = -1.0
    if not 0 <= at <= LONGEST_S:
        raise CallpathError(f"'{word}' is no moment; give seconds, 0 to {LONGEST_S:.0f}")
    return at


def _asked(
    call: str = "",
    by: Several = None,
    ends: str = "",
    stopped_ago: Annotated[str, Query(alias="stopped-ago")] = "",
    frost: str = "",
    do: Several = None,
    when: Several = None,
) -> Asked:
    pairs = zip(do or [], [*(when or []), *[""] * _MOST_ROWS], strict=False)
    rows = tuple((what, at.strip()) for what, at in pairs if what)
    return Asked(call, tuple(by or ()), ends.strip(), stopped_ago.strip(), bool(frost), rows)


AskedDep = Annotated[Asked, Depends(_asked)]


@dataclass(frozen=True)
class Shown:
    """One moment for the page: what has just happened, the loops of the settled circuit, and what they light in the drawing."""

    moment: Moment
    events: tuple[Event, ...]
    loops: tuple[Loop, ...]
    lines: dict[str, bool]
    lit: tuple[str, ...]

    @property
    def told(self) -> str:
        """The moment in a few words."""
        return f"{clock(self.moment.at_s)}, {', '.join(self.moment.running) or 'nothing'} runs"


def _shown(found: Proved, played: Timing) -> Iterator[Shown]:
    terminals = found.diagram().terminals
    for moment in played.moments:
        lit = loops(moment.state)
        steps = dict.fromkeys(step for loop in lit for step in loop.path if step in terminals)
        events = tuple(event for event in played.events if event.at_s == moment.at_s)
        ways = directions(found.diagram(), [loop.path for loop in lit])
        lines = {plain(name): ahead for name, ahead in ways.items()}
        yield Shown(moment, events, tuple(lit), lines, tuple(map(plain, steps)))


@router.get("/jobs/{job_id}/sequence")
def sequence_page(
    request: Request,
    who: VisitDep,
    job_id: str,
    asked: AskedDep,
    at: str = "",
) -> Response:
    """Play the sequence of operation of a call, with what happens meanwhile; ``at`` is the moment that is shown [s]."""
    facts = job_facts(who, job_id)
    found: Proved = facts["proved"]
    problems: list[str] = []
    played = Timing((), ())
    shown: list[Shown] = []
    now = 0.0
    with found.asking:
        call, calls = call_asked(found, asked.call)
        circuit = found.circuit
        asked = replace(asked, call=call, by=still_calling(circuit.job, call, asked.by))
        guards = []
        try:
            played = asked.play().timing(circuit)
            shown = list(_shown(found, played))
            guards = safeties(circuit, call)
            now = _seconds(at) if at else 0.0
        except CallpathError as error:
            problems = [str(error)]
        choices = _choices(circuit, calls)
        frosts = any(True for _ in cycles(circuit, circuit.network.bit_index))
    here = played.moments.index(played.at(now)) if played.moments else 0
    return page(
        request,
        "sequence.html",
        status=422 if problems else 200,
        call=call,
        calls=calls,
        asked=asked,
        events=played.events,
        shown=shown,
        here=here,
        now=now,
        ends_at=max(60.0, played.moments[-1].at_s * _TAIL) if played.moments else 60.0,
        moments={moment.at_s: place for place, moment in enumerate(played.moments)},
        chart=chart(played),
        clock=clock,
        safeties=guards,
        choices=choices,
        callers=callers(circuit.job, call, asked.by),
        frosts=frosts,
        speeds=_SPEEDS,
        longest_s=int(LONGEST_S),
        data=[{"at": each.moment.at_s, "lines": each.lines, "lit": each.lit, "told": each.told} for each in shown],
        problems=problems,
        **facts,
    )


def _choices(circuit: Circuit, calls: tuple[str, ...]) -> dict[str, list[tuple[str, str]]]:
    """Return what can happen meanwhile, in groups: the value of a form, and its words."""
    found: dict[str, list[tuple[str, str]]] = {}
    for option, names in possible(circuit, calls).items():
        group, words = _WORDS[option]
        for name in names:
            stat, _, called = name.rpartition("=") if option == "then" else ("", "", name)
            told = words.format(called) if called != "off" else "the call ends"
            found.setdefault(group, []).append((f"{option} {name}", f"{stat}: {told}" if stat else told))
    return found


@router.get("/jobs/{job_id}/sequence/drawing")
def moment_drawing(
    who: VisitDep,
    job_id: str,
    asked: AskedDep,
    at: str = "0",
    version: Count = 0,
    narrow: bool = False,
) -> Response:
    """Return the wiring with the loops lit that carry current at a moment of a played call."""
    with who.store.reading() as session:
        record = who.job(session, job_id)
        text = history.revision(session, record, version or record.head).text
    found = proved(text)
    with found.asking:
        played = replace(asked, call=call_asked(found, asked.call)[0]).play().timing(found.circuit)
        lit = loops(played.at(_seconds(at)).state)
        drawn = svg(found.diagram(narrow=narrow), lit=lit, switchable=True)
    return Response(drawn, media_type="image/svg+xml")
