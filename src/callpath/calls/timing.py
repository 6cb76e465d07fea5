"""What a played call leaves behind: events in order, and lanes that show what is on from when to when."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Any

from callpath.calls.guard import Safety
from callpath.calls.standing import Moment

__all__ = ["Event", "Lane", "Record", "Timing"]


@dataclass(frozen=True)
class Event:
    """One thing that happens.

    ``at_s`` is seconds after the call; ``where`` the element, terminal or function; ``because`` the cause in words;
    ``path`` the loop that energises it, where there is one.
    """

    at_s: float
    what: str
    where: str
    because: str
    path: tuple[str, ...] = ()


@dataclass(frozen=True)
class Lane:
    """One thing that is on at times: a call, an output, an element or a function, and from when to when [s].

    What is still on at the end has None there.
    """

    name: str
    spans: tuple[tuple[float, float | None], ...]


@dataclass(frozen=True)
class Timing:
    """What happens on a call, in order, and what is on from when to when.

    ``moments`` is how the circuit stands from each moment on at which something happens.
    """

    events: tuple[Event, ...]
    lanes: tuple[Lane, ...]
    moments: tuple[Moment, ...] = field(default=(), compare=False, repr=False)

    def at(self, seconds: float) -> Moment:
        """Return how the circuit stands at a moment [s]; before the first as at the first."""
        return self.moments[max(0, bisect_right(self.moments, seconds, key=lambda moment: moment.at_s) - 1)]

    def as_json(self, call: str, safeties: Sequence[Safety]) -> dict[str, Any]:
        """Return it in the form of the contract, with what each field contact stops."""
        return {
            "call": call,
            "events": [
                {"at_s": e.at_s, "what": e.what, "where": e.where, "because": e.because, "path": list(e.path)}
                for e in self.events
            ],
            "lanes": [{"name": lane.name, "spans": [list(span) for span in lane.spans]} for lane in self.lanes],
            "safeties": [{"contact": guard.contact, "stops": list(guard.stops)} for guard in safeties],
        }


@dataclass
class Record:
    """A timing in the making."""

    events: list[Event] = field(default_factory=list)
    spans: dict[str, list[tuple[float, float | None]]] = field(default_factory=dict)

    def say(self, at: float, what: str, where: str, because: str, path: tuple[str, ...] = ()) -> None:
        """Note one event."""
        self.events.append(Event(round(at, 3), what, where, because, path))

    def switch(self, name: str, at: float, *, on: bool) -> None:
        """Note that something goes on or off; what is on already stays on."""
        at = round(at, 3)
        spans = self.spans.setdefault(name, []) if on else self.spans.get(name, [])
        if on and not (spans and spans[-1][1] is None):
            spans.append((at, None))
        elif not on and spans and spans[-1][1] is None:
            spans[-1] = (spans[-1][0], at)

    def timing(self) -> Timing:
        """Return what was noted."""
        return Timing(tuple(self.events), tuple(Lane(name, tuple(spans)) for name, spans in self.spans.items()))
