"""What a played call leaves behind: events in order, and lanes that show what is on from when to when."""

from __future__ import annotations

from dataclasses import dataclass, field

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
    """What happens on a call, in order, and what is on from when to when."""

    events: tuple[Event, ...]
    lanes: tuple[Lane, ...]


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
