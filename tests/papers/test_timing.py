"""The timing chart as SVG: one group for every row, up while on, nothing fetched from anywhere, any text harmless."""

from __future__ import annotations

import datetime
from xml.etree import ElementTree as ET

from callpath.calls.chart import Chart, Track, chart
from callpath.calls.outside import Interruption
from callpath.calls.sequence import timing
from callpath.circuit.build import build
from callpath.papers.imprint import CAUTIONS, Imprint, imprint
from callpath.papers.timing import timing_svg
from tests.jobs import HOUSE, job_of

SVG = "{http://www.w3.org/2000/svg}"
PAPER = Imprint("A house", "2026-03-31", "0123456789ab")


def test_every_row_is_drawn_and_is_up_while_it_is_on() -> None:
    job = job_of(HOUSE)
    drawn = chart(timing(build(job), "heat", interruptions=[Interruption(600)]))
    root = ET.fromstring(timing_svg(drawn, imprint(job, datetime.date(2026, 3, 31)), "heat"))
    rows = {group.get("data-lane"): group for group in root.iter(f"{SVG}g")}
    assert list(rows) == [track.name for track in drawn.tracks]
    for track in drawn.tracks:
        up = [i for i in range(len(drawn.moments_s)) if track.is_on(i)]
        assert len(rows[track.name].findall(f"{SVG}rect")) == len(up)
        # The line is there too, so that nothing hangs on colour.
        (line,) = rows[track.name].findall(f"{SVG}path")
        assert line.get("fill") == "none"
    texts = [text.text or "" for text in root.iter(f"{SVG}text")]
    assert all(caution in texts for caution in CAUTIONS)
    assert "0:40" in texts


def test_everything_stays_on_the_paper() -> None:
    long = Chart((0.0, 75.5, 14400.0), (Track("a" * 200, ((0, 1), (2, None))), Track("b", ((1, 2),))))
    root = ET.fromstring(timing_svg(long, PAPER, "a call"))
    wide, high = float(root.get("width", "0")), float(root.get("height", "0"))
    for text in root.iter(f"{SVG}text"):
        # Letters of the face are 1233 of 2048 units wide.
        size = float(text.get("font-size", "12"))
        assert float(text.get("x", "0")) + len(text.text or "") * size * 0.603 <= wide + 1
        assert float(text.get("y", "0")) <= high


def test_text_is_harmless_and_nothing_is_fetched() -> None:
    evil = "</text><script>alert(1)</script>\x1b[31m"
    text = timing_svg(Chart((0.0,), (Track(evil, ((0, None),)),)), Imprint(evil, "2026-03-31", "0"), evil)
    root = ET.fromstring(text)
    assert not list(root.iter(f"{SVG}script"))
    assert "\x1b" not in text
    assert "http" not in text.replace("http://www.w3.org/2000/svg", "")
