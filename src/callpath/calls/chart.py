"""The timing chart of a call: one row for everything that is energised or runs, a step wherever something happens."""

from __future__ import annotations

from dataclasses import dataclass

from callpath.calls.timing import Timing

__all__ = ["Chart", "Track", "chart", "clock"]


@dataclass(frozen=True)
class Track:
    """One row: what it shows, and from which to which moment it is on (indices of the chart's moments; open ends are None)."""

    name: str
    on: tuple[tuple[int, int | None], ...]

    def is_on(self, moment: int) -> bool:
        """Tell whether it is on between a moment and the next."""
        return any(start <= moment and (end is None or moment < end) for start, end in self.on)


@dataclass(frozen=True)
class Chart:
    """The moments at which something happens [s], and the rows."""

    moments_s: tuple[float, ...]
    tracks: tuple[Track, ...]


def chart(timing: Timing) -> Chart:
    """Return the chart of a played call; what goes on and off within one moment is left out."""
    moments = sorted({event.at_s for event in timing.events})
    place = {moment: i for i, moment in enumerate(moments)}
    tracks = (
        Track(
            lane.name,
            tuple((place[a], None if b is None else place[b]) for a, b in lane.spans if b is None or b > a),
        )
        for lane in timing.lanes
    )
    return Chart(tuple(moments), tuple(track for track in tracks if track.on))


def clock(seconds: float) -> str:
    """Return a moment as minutes and seconds."""
    whole = round(seconds)
    return f"{whole // 60}:{whole % 60:02d}"
