"""The papers as one PDF, typeset by Typst from data: no word of a job is ever read as markup."""

from __future__ import annotations

import json
import math
from collections.abc import Iterator
from importlib.resources import files
from typing import Any

from callpath.calls.chart import clock
from callpath.papers.book import Book
from callpath.papers.drawing import Diagram
from callpath.papers.imprint import CAUTIONS
from callpath.papers.ladder import ladder_size, ladder_svg, ladder_words
from callpath.papers.marks import marks
from callpath.papers.pen import SMALL
from callpath.papers.svg import svg
from callpath.papers.text import cut, plain
from callpath.progress import step

__all__ = ["PAPERS", "pdf"]

PAPERS = ("letter", "a4")
"""Paper that the pages are made for."""
# Sheets that a diagram may need, in points, upright: what a page leaves of them is smaller by the margins.
_SHEETS = {
    "letter": (
        ("US letter", 612.0, 792.0),
        ("tabloid, 11 x 17 in", 792.0, 1224.0),
        ("ANSI C, 17 x 22 in", 1224.0, 1584.0),
    ),
    "a4": (("A4", 595.28, 841.89), ("A3", 841.89, 1190.55), ("A2", 1190.55, 1683.78)),
}
_MARGIN = 36.0
# The page's head and foot beyond the margin, the drawing's title and a line below it.
_HEADROOM = 84.0
_SMALLEST_PT = 7.0
_LARGEST = 1.25
_LONGEST_WORD = 18
_LONGEST_TITLE = 60


def pdf(book: Book, *, paper: str = "letter") -> bytes:
    """Return the papers of a job as a PDF: diagram, schedule, tags, commissioning form, sequence of operation.

    Parameters
    ----------
    book : Book
        What they say.
    paper : str
        ``letter`` or ``a4``. A diagram that would be too small to read on it gets a larger sheet of its own.

    Returns
    -------
    bytes
        A tagged PDF/UA-1 file with its fonts embedded; the same job, date and options give the same bytes.
    """
    step("drawing")
    drawn = book.diagram()
    step("reading every terminal on every call")
    data = {
        "paper": paper,
        "title": _broken(book.imprint.title),
        "short": cut(book.imprint.title, _LONGEST_TITLE * 0.6),
        "name": plain(book.imprint.title)[:200],
        "date": book.imprint.date,
        "revision": book.imprint.revision,
        "note": _broken(book.job.note),
        "cautions": CAUTIONS,
        **_proof(book),
        "sheet": _sheet(drawn.width, drawn.height, min((label.size for label in drawn.labels), default=SMALL), paper),
        "told": _told(drawn),
        "ladder": _sheet(*ladder_size(book.ladder), SMALL, paper),
        "rungs": ladder_words(book.ladder),
        "schedule": _schedule(book),
        "tags": list(_tags(book)),
        "forms": list(_forms(book)),
        "left": book.left,
        "sequences": list(_sequences(book)),
    }
    rungs = ladder_svg(book.ladder, manner=book.symbols or "ansi")
    return _set(data, diagram=svg(drawn, findings=book.proof.findings), ladder=rungs)


def _set(data: dict[str, Any], **drawings: str) -> bytes:
    """Typeset the papers: with the fonts that come with Typst, or the machine's where those lack a letter; told where all do."""
    import typst

    step("typesetting")

    source = files("callpath.papers").joinpath("papers.typ").read_bytes()
    for own_fonts_only, shown in ((True, True), (False, True), (False, False)):
        inputs = {"data": json.dumps({**data, "shown": shown}, ensure_ascii=False), **drawings}
        compiler = typst.Compiler(source, ignore_system_fonts=own_fonts_only, sys_inputs=inputs)
        try:
            # A file that claims to be accessible to all may hold no letter without a shape.
            made = compiler.compile(format="pdf", pdf_standards=["ua-1"] if shown else [], timestamp=0)
        except typst.TypstError as error:
            if not shown or "could not be displayed" not in str(error):
                raise
        else:
            assert isinstance(made, bytes)
            return made
    raise AssertionError("unreachable")


def _broken(text: str) -> str:
    """Return text whose longest words may be broken across lines."""
    words = []
    for word in plain(text).split(" "):
        pieces = [word[i : i + _LONGEST_WORD] for i in range(0, len(word), _LONGEST_WORD)]
        words.append("\u200b".join(pieces) if len(word) > 2 * _LONGEST_WORD else word)
    return " ".join(words)


def _proof(book: Book) -> dict[str, Any]:
    proof = book.proof
    found = marks(proof.findings)
    return {
        "verdict": proof.verdict,
        "nothing": f"{proof.nothing_runs[0].upper()}{proof.nothing_runs[1:]}." if proof.nothing_runs else "",
        "examined": f"{proof.states_examined} states examined" + (f"; {proof.bounded}" if proof.bounded else ""),
        "findings": [
            {
                "head": f"{mark.number} {mark.finding.severity}: {mark.finding.code}",
                "calls": ", ".join(mark.finding.calls),
                "message": mark.finding.message,
                "path": " · ".join(mark.finding.path),
                "remedy": mark.finding.remedy,
            }
            for mark in found
        ],
        "notes": [f"{item.code}: {item.message}" for item in proof.findings if item.severity == "note"],
    }


def _sheet(wide: float, tall: float, smallest: float, paper: str) -> dict[str, Any]:
    """Return the smallest sheet, and which way up, on which a drawing's smallest text is still large enough."""
    for name, short, long in _SHEETS[paper]:
        fits = []
        for width, height in ((short, long), (long, short)):
            room = width - 2 * _MARGIN, height - 2 * _MARGIN - _HEADROOM
            fits.append((min(_LARGEST, room[0] / wide, room[1] / tall), width, height))
        scale, width, height = max(fits, key=lambda sheet: sheet[0])
        if scale * smallest >= _SMALLEST_PT:
            return {"name": name, "width": width, "height": height, "drawn": wide * scale}
    least = _SMALLEST_PT / smallest
    width, height = wide * least + 2 * _MARGIN, tall * least + 2 * _MARGIN + _HEADROOM
    name = f"{math.ceil(width / 72)} x {math.ceil(height / 72)} in"
    return {"name": name, "width": width, "height": height, "drawn": wide * least}


def _told(drawn: Diagram) -> str:
    lines = [f"{line.name} from {line.ends[0]} to {line.ends[1]}" for line in drawn.lines]
    return plain("Wiring diagram. " + "; ".join(lines))


def _schedule(book: Book) -> dict[str, Any]:
    found = book.schedule
    return {
        "places": [
            {
                "location": _broken(place.location),
                "id": place.id,
                "title": place.title,
                "rows": [
                    [point.name, point.means, landed.conductor, landed.other, _broken(landed.why)]
                    for point in place.points
                    for landed in point.lands
                ]
                or [["", "", "nothing lands here", "", ""]],
                "bare": ", ".join(point.name for point in place.points if not point.lands),
            }
            for place in found.places
        ],
        "runs": [
            [
                run.conductor,
                run.cable,
                *(_broken(f"{end or 'capped'} ({at})") for end, at in zip(run.ends, run.at, strict=True)),
            ]
            for run in found.runs
        ],
        "splices": [
            [point.name, _broken(place.location), ", ".join(landed.conductor for landed in point.lands)]
            for place in found.places
            for point in place.points
            if point.means == "splice"
        ],
        "jumpers": [list(pair) for pair in found.jumpers],
        "spares": list(found.spares),
    }


def _tags(book: Book) -> Iterator[dict[str, str]]:
    """Yield two tags for every conductor, one for each end, both ends written on each."""
    for run in book.schedule.runs:
        for end in (0, 1):
            yield {
                "name": run.conductor.replace(".", " ", 1),
                "here": cut(run.ends[end] or "capped", 15),
                "at": cut(run.at[end], 14),
                "other": cut(run.ends[1 - end] or "capped", 15),
                "there": cut(run.at[1 - end], 14),
            }


def _forms(book: Book) -> Iterator[dict[str, Any]]:
    for form in book.forms:
        yield {
            "call": form.call + (f" by {', '.join(form.by)}" if form.by else ""),
            "off": form.call == "off",
            "served": form.served,
            "needed": [
                {
                    "name": name,
                    "does": name in form.running,
                    "seen": _seen(form.seen.get(name)),
                    "wrong": form.seen.get(name) is False,
                }
                for name in form.needed
            ],
            "stray": [name for name, on in form.seen.items() if on and name not in (*form.needed, *form.allowed)],
            "unwanted": [name for name in form.running if name not in (*form.needed, *form.allowed)],
            "allowed": [name for name in form.running if name in form.allowed],
            "sources": [
                [
                    source.name,
                    f"{source.volts:.1f} V",
                    f"{source.amps:.2f} A",
                    f"{source.va:.0f} of {source.rated_va:.0f} VA",
                    f"{source.fuse_amps:g} A" if source.fuse_amps else "none",
                ]
                for source in form.sources
            ],
            "rows": [
                {
                    "points": " to ".join(row.points) + row.how,
                    "expected": _value(row.value, row.unit) + (" ghost" if row.ghost else ""),
                    "band": f"{_number(row.low, row.unit)} to {_value(row.high, row.unit)}",
                    "taken": "" if row.taken is None else _value(row.taken, row.unit),
                    "outside": row.outside,
                }
                for row in form.rows
            ],
            "other": [_broken(text) for text in form.other],
        }


def _number(value: float, unit: str) -> str:
    if math.isinf(value):
        return "OL"
    return f"{value:.2f}" if unit == "A" else f"{value:.1f}"


def _value(value: float, unit: str) -> str:
    return _number(value, unit) if math.isinf(value) else f"{_number(value, unit)} {unit}"


def _seen(on: bool | None) -> str:
    return "" if on is None else "ran" if on else "did not run"


def _sequences(book: Book) -> Iterator[dict[str, Any]]:
    for played in book.sequences:
        moments = played.chart.moments_s
        yield {
            "call": played.call,
            "events": [[clock(event.at_s), event.what, event.where, _broken(event.because)] for event in played.events],
            "moments": [clock(moment) for moment in moments],
            "tracks": [
                {"name": track.name, "on": [[start, len(moments) if end is None else end] for start, end in track.on]}
                for track in played.chart.tracks
            ],
        }
