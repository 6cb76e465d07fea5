"""The timing chart: what is on, from when to when."""

from __future__ import annotations

from callpath.calls.chart import clock
from tests.jobs import HOUSE
from tests.papers.test_schedule import book_of


def test_the_blower_runs_on_after_the_call() -> None:
    (played,) = [played for played in book_of(HOUSE).sequences if played.call == "heat"]
    moments = played.chart.moments_s
    on = {
        track.name: [(moments[start], moments[end] if end is not None else None) for start, end in track.on]
        for track in played.chart.tracks
    }
    assert on["the call 'heat'"] == [(0, 600)]
    assert on["board.heat-input"] == [(0, 600)]
    # Typical furnace timing: flame before the blower, and the blower 60 to 180 s longer than the flame (published, typical).
    (flame,), (blower,) = on["board.heat"], on["board.blower"]
    assert 0 < flame[0] < blower[0] < 120
    assert flame[1] == 600
    assert blower[1] is not None
    assert 660 <= blower[1] <= 780


def test_moments_read_as_minutes_and_seconds() -> None:
    assert [clock(seconds) for seconds in (0, 59.6, 85, 675)] == ["0:00", "1:00", "1:25", "11:15"]
