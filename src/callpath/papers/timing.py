"""The timing chart of a call: one row for everything that is energised or runs, a step wherever something happens."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from callpath.calls.sequence import Event
from callpath.job.model import Job

__all__ = ["Chart", "Track", "chart", "clock"]

_ON = (" energised", " pulls in", " closes")
_OFF = (" de-energised", " drops out", " opens")


@dataclass(frozen=True)
class Track:
    """One row: what it shows, and from which to which moment it is on (indices of the chart's moments; open ends are None)."""

    name: str
    on: tuple[tuple[int, int | None], ...]


@dataclass(frozen=True)
class Chart:
    """The moments at which something happens [s], and the rows."""

    moments_s: tuple[float, ...]
    tracks: tuple[Track, ...]


def chart(job: Job, call: str, events: Sequence[Event]) -> Chart:
    """Return the timing chart of a sequence of events."""
    moments = sorted({event.at_s for event in events})
    told = {
        f"{device.id}.{name}": (function.runs, function.rests)
        for device in job.equipment.values()
        for name, function in device.part.functions.items()
    }
    spans: dict[str, list[tuple[int, int | None]]] = {}
    for event in events:
        at = moments.index(event.at_s)
        starts, ends = _turns(event, call, told)
        if starts:
            spans.setdefault(event.where, []).append((at, None))
        elif ends and spans.get(event.where) and spans[event.where][-1][1] is None:
            spans[event.where][-1] = (spans[event.where][-1][0], at)
    tracks = [Track(f"the call '{call}'" if name == "thermostat" else name, tuple(on)) for name, on in spans.items()]
    return Chart(tuple(moments), tuple(tracks))


def _turns(event: Event, call: str, told: dict[str, tuple[str, str]]) -> tuple[bool, bool]:
    """Tell whether something is switched on by an event, and whether it is switched off."""
    if event.where == "thermostat":
        return event.what == f"the call is '{call}'", event.what.endswith(" ends")
    if event.where in told:
        runs, rests = told[event.where]
        return event.what == runs, event.what == rests
    off = event.what.endswith(_OFF)
    # A thermostat tells only that it closes an output; with the call it lets go of all of them.
    return event.what.endswith(_ON) and not off, off


def clock(seconds: float) -> str:
    """Return a moment as minutes and seconds."""
    whole = round(seconds)
    return f"{whole // 60}:{whole % 60:02d}"
