"""A timing chart as SVG: a raised step for what is on, so that it is read without colour and on a black-and-white print."""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from xml.etree import ElementTree as ET

from callpath.calls.chart import Chart, Track, clock
from callpath.papers.imprint import CAUTIONS, Imprint
from callpath.papers.text import LETTER_EM, cut, plain, width_em

__all__ = ["timing_svg"]

_FONT = "DejaVu Sans Mono, Menlo, Consolas, monospace"
_INK, _PAPER, _FAINT, _ON = "#1a1a1a", "#ffffff", "#b0b0b0", "#ffb000"
_TEXT = 12.0
_ROW = 24.0
_STEP = 14.0
_MARGIN = 16.0
_LONGEST_NAME_EM = 34 * LETTER_EM


def timing_svg(chart: Chart, imprint: Imprint, subtitle: str) -> str:
    """Draw a timing chart.

    Parameters
    ----------
    chart : Chart
        Its moments and rows.
    imprint : Imprint
        Title, date and revision to write above, with the cautions below.
    subtitle : str
        What was played.

    Returns
    -------
    str
        A whole SVG document; nothing in it is fetched from anywhere.
    """
    names = [cut(plain(track.name), _LONGEST_NAME_EM) for track in chart.tracks]
    left = _MARGIN + _TEXT * max([width_em(name) for name in names], default=0.0) + 12
    labels = [clock(moment) for moment in chart.moments_s]
    cell = _TEXT * max([width_em(label) for label in labels], default=3.0) + 14
    right = left + cell * len(labels)
    top = _MARGIN + 3 * 18 + _ROW
    bottom = top + _ROW * len(names)
    notes = ("Minutes and seconds; between two moments the time is not to scale.", *CAUTIONS)
    written = [*((note, 0.85) for note in notes), (plain(imprint.title), 1.1), (plain(subtitle), 1.0)]
    width = max(right, *(_MARGIN + _TEXT * size * width_em(text) for text, size in written)) + _MARGIN
    height = bottom + 18 * len(notes) + _MARGIN + 8
    root = ET.Element(
        "svg",
        {
            "xmlns": "http://www.w3.org/2000/svg",
            "viewBox": f"0 0 {width:.0f} {height:.0f}",
            "width": f"{width:.0f}",
            "height": f"{height:.0f}",
            "font-family": _FONT,
            "font-size": f"{_TEXT:g}",
            "fill": _INK,
        },
    )
    ET.SubElement(root, "title").text = plain(f"{imprint.title}: {subtitle}")
    ET.SubElement(root, "rect", {"width": "100%", "height": "100%", "fill": _PAPER})
    _write(root, _MARGIN, _MARGIN + 14, imprint.title, bold=True)
    _write(root, _MARGIN, _MARGIN + 32, subtitle)
    _write(root, _MARGIN, _MARGIN + 50, imprint.line, size=0.85)
    for i, label in enumerate(labels):
        x = left + cell * i
        line = {"x1": f"{x:.1f}", "x2": f"{x:.1f}", "y1": f"{top - 4:.1f}", "y2": f"{bottom:.1f}"}
        ET.SubElement(root, "line", {**line, "stroke": _FAINT, "stroke-dasharray": "2 3"})
        _write(root, x + 2, top - 8, label)
    for row, (name, track) in enumerate(zip(names, chart.tracks, strict=True)):
        base = top + _ROW * (row + 1) - 5
        _write(root, _MARGIN, base, name)
        _row(root, track, [left + cell * i for i in range(len(labels) + 1)], base)
    for i, note in enumerate(notes):
        _write(root, _MARGIN, bottom + 22 + 18 * i, note, size=0.85)
    ET.indent(root)
    return ET.tostring(root, encoding="unicode") + "\n"


def _row(root: ET.Element, track: Track, edges: Sequence[float], base: float) -> None:
    """Draw one row: a line that is up while the thing is on."""
    group = ET.SubElement(root, "g", {"data-lane": plain(track.name)})
    path: list[str] = []
    for i, (x, next_x) in enumerate(itertools.pairwise(edges)):
        y = base - _STEP if track.is_on(i) else base
        if track.is_on(i):
            box = {"x": f"{x:.1f}", "y": f"{y:.1f}", "width": f"{next_x - x:.1f}", "height": f"{_STEP:g}"}
            ET.SubElement(group, "rect", {**box, "fill": _ON})
        path += [f"{'L' if path else 'M'}{x:.1f} {y:.1f}", f"L{next_x:.1f} {y:.1f}"]
    ET.SubElement(group, "path", {"d": " ".join(path), "fill": "none", "stroke": _INK, "stroke-width": "1.5"})


def _write(root: ET.Element, x: float, y: float, text: str, *, bold: bool = False, size: float = 1.0) -> None:
    style = {"font-weight": "bold"} if bold else {}
    if size != 1.0:
        style["font-size"] = f"{_TEXT * size:g}"
    ET.SubElement(root, "text", {"x": f"{x:.1f}", "y": f"{y:.1f}", **style}).text = plain(text)
