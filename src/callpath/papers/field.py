"""The field sheet: one HTML file that opens from a telephone's files, in a cellar without a signal.

Everything is worked out beforehand and lies in the file as data; its script only looks things up. Words of a job are set as
text, by a tree that escapes them, and the file forbids itself to fetch anything.
"""

from __future__ import annotations

import json
from collections.abc import Sequence
from importlib.resources import files
from itertools import pairwise
from typing import Any
from xml.etree import ElementTree as ET

from callpath.calls.chart import clock
from callpath.faults.words import fault_words, minutes_words
from callpath.papers.book import Book
from callpath.papers.imprint import CAUTIONS
from callpath.papers.marks import marks
from callpath.papers.svg import directions, svg
from callpath.papers.text import plain
from callpath.papers.tree import End, Step

__all__ = ["field_sheet"]

_POLICY = (
    "default-src 'none'; style-src 'unsafe-inline'; script-src 'unsafe-inline'; base-uri 'none'; form-action 'none'"
)
# Beyond this, only readings that the commissioning form asks for are in the file, so that it stays small.
_MOST_POINTS = 150


def field_sheet(book: Book) -> str:
    """Return the field sheet of a job: diagram, live loops, expected readings between any two points, findings.

    Parameters
    ----------
    book : Book
        What it says.
    """
    html = ET.Element("html", lang="en")
    head = _add(html, "head")
    _add(head, "meta", charset="utf-8")
    _add(head, "meta", **{"http-equiv": "Content-Security-Policy", "content": _POLICY})
    _add(head, "meta", name="viewport", content="width=device-width, initial-scale=1")
    _add(head, "title", f"{plain(book.imprint.title)[:200]}: field sheet")
    _add(head, "style", _file("field.css"))
    body = _add(html, "body")
    _masthead(body, book)
    main = _add(body, "main")
    _calls(main, book)
    _diagram(main, book)
    _meter(main, book)
    _search(main, book)
    _findings(main, book)
    _form(main)
    _sequence(main)
    _footer(body)
    _add(
        body,
        "script",
        _safe(json.dumps(_data(book), ensure_ascii=True, separators=(",", ":"))),
        type="application/json",
        id="data",
    )
    _add(body, "script", _file("field.js"))
    return "<!doctype html>\n" + ET.tostring(html, encoding="unicode", method="html") + "\n"


def _file(name: str) -> str:
    return files("callpath.papers").joinpath(name).read_text(encoding="utf-8")


def _safe(text: str) -> str:
    """Return JSON that no reader of HTML can take for the end of a script."""
    return text.replace("<", "\\u003c").replace(">", "\\u003e").replace("&", "\\u0026")


def _add(parent: ET.Element, tag: str, text: str = "", /, **attributes: str) -> ET.Element:
    made = ET.SubElement(parent, tag, {key.rstrip("_"): value for key, value in attributes.items()})
    made.text = text or None
    return made


# ---- what stands there without the script ------------------------------------------------------------------------------


def _masthead(body: ET.Element, book: Book) -> None:
    header = _add(body, "header")
    _add(header, "h1", book.imprint.title, dir="auto")
    _add(header, "p", f"Field sheet, {book.imprint.line}", class_="imprint")
    if plain(book.job.note):
        _add(header, "p", plain(book.job.note), dir="auto")
    caution = _add(header, "div", class_="caution", role="note")
    for line in CAUTIONS:
        _add(caution, "p", line)


def _calls(main: ET.Element, book: Book) -> None:
    section = _add(main, "section", **{"aria-labelledby": "calls-title"})
    _add(section, "h2", "Call", id="calls-title")
    group = _add(section, "div", id="calls", role="radiogroup", **{"aria-labelledby": "calls-title"})
    for number, call in enumerate(book.calls):
        label = _add(group, "label")
        checked = {"checked": "checked"} if number == 0 else {}
        _add(label, "input", type="radio", name="call", value=call, **checked)
        _add(label, "span", call)
    _add(section, "p", id="runs", **{"aria-live": "polite"})
    details = _add(section, "details")
    _add(details, "summary", "Where current flows")
    _add(details, "ul", id="loops")


def _diagram(main: ET.Element, book: Book) -> None:
    section = _add(main, "section", **{"aria-labelledby": "diagram-title"})
    _add(section, "h2", "Diagram", id="diagram-title")
    _add(
        section,
        "p",
        "Tap two terminals, or choose them below, to see what a meter should read between them. "
        "The broad band is where current flows on the call; arrows point the way of the current from the source.",
    )
    _add(section, "button", "Larger", type="button", id="larger", **{"aria-pressed": "false"})
    for name, columns in (("narrow", 1), ("wide", 3)):
        box = _add(
            section, "div", class_=f"drawing {name}", tabindex="0", role="region", **{"aria-label": f"Diagram, {name}"}
        )
        box.append(ET.fromstring(_plain_svg(svg(book.diagram(columns), findings=book.proof.findings, switchable=True))))


def _plain_svg(text: str) -> str:
    # In HTML an svg element needs no namespace, and the tree would write one as a prefix.
    return text.replace(' xmlns="http://www.w3.org/2000/svg"', "", 1)


def _meter(main: ET.Element, book: Book) -> None:
    section = _add(main, "section", id="meter", **{"aria-labelledby": "meter-title"})
    _add(section, "h2", "Meter", id="meter-title")
    row = _add(section, "div", class_="leads")
    for lead in ("A", "B"):
        label = _add(row, "label", f"Lead {lead} ")
        select = _add(label, "select", id=f"lead-{lead.lower()}")
        _add(select, "option", "choose", value="")
        for number, name in enumerate(book.points):
            _add(select, "option", _point(name), value=str(number))
    # Outside its section, so that it can stay in sight while the diagram above is tapped.
    _add(main, "p", id="reading", role="status")


def _point(name: str) -> str:
    conductor, at, end = name.partition("@")
    return f"{plain(conductor)}, capped end {end}" if at else plain(name)


def _search(main: ET.Element, book: Book) -> None:
    section = _add(main, "section", **{"aria-labelledby": "search-title"})
    _add(section, "h2", "Find a fault", id="search-title")
    if book.tree is None:
        _add(section, "p", "This job is too large for a fault tree on paper; ask the program: callpath troubleshoot.")
        return
    label = _add(section, "label", "What do you see? ")
    select = _add(label, "select", id="symptom")
    _add(select, "option", "choose", value="")
    for number, entry in enumerate(book.tree.entries):
        _add(select, "option", entry.words, value=str(number))
    _add(section, "div", id="tree")
    silent = [fault_words(fault) for fault in book.tree.silent]
    if silent:
        details = _add(section, "details")
        _add(details, "summary", f"Faults that nobody sees on any call ({len(silent)})")
        _add(details, "p", f"{'; '.join(silent)}.")


def _findings(main: ET.Element, book: Book) -> None:
    section = _add(main, "section", **{"aria-labelledby": "findings-title"})
    _add(section, "h2", "Findings", id="findings-title")
    found = marks(book.proof.findings)
    examined = f"{book.proof.states_examined} states examined" + (
        f"; {book.proof.bounded}" if book.proof.bounded else ""
    )
    if not found and book.proof.nothing_runs:
        _add(section, "p", f"{book.proof.nothing_runs[0].upper()}{book.proof.nothing_runs[1:]}. {examined}.")
    elif not found:
        _add(section, "p", f"Clean: nothing worse than a note. {examined}.")
    else:
        _add(section, "p", f"The wiring as written here is not right. {examined}. The numbers stand in the diagram.")
    entries = _add(section, "ol") if found else section
    for mark in found:
        item = _add(entries, "li", class_=mark.finding.severity)
        _add(item, "strong", mark.head.partition(" ")[2])
        _add(item, "p", mark.finding.message)
        if mark.finding.path:
            _add(item, "p", " · ".join(map(plain, mark.finding.path)), class_="path")
        _add(item, "p", f"To do: {mark.finding.remedy}.")
    notes = [finding for finding in book.proof.findings if finding.severity == "note"]
    if notes:
        details = _add(section, "details")
        _add(details, "summary", f"Notes ({len(notes)})")
        entries = _add(details, "ul")
        for finding in notes:
            _add(entries, "li", f"{finding.code}: {finding.message}")


def _form(main: ET.Element) -> None:
    section = _add(main, "section", **{"aria-labelledby": "expected-title"})
    _add(section, "h2", "Expected on this call", id="expected-title")
    details = _add(section, "details")
    _add(details, "summary", "Every terminal against its common")
    _add(
        details,
        "p",
        "Volts AC with a 10 MΩ meter; mains from 8 % under to 5 % over nominal, components and meter within their tolerances.",
    )
    box = _add(
        details, "div", class_="scroll", tabindex="0", role="region", **{"aria-label": "Table of expected readings"}
    )
    table = _add(box, "table")
    row = _add(_add(table, "thead"), "tr")
    for title in ("from, to", "expected", "band"):
        _add(row, "th", title, scope="col")
    _add(table, "tbody", id="expected")


def _sequence(main: ET.Element) -> None:
    section = _add(main, "section", **{"aria-labelledby": "sequence-title"})
    _add(section, "h2", "Sequence on this call", id="sequence-title")
    details = _add(section, "details")
    _add(details, "summary", "What happens, moment by moment")
    _add(details, "ol", id="sequence")


def _footer(body: ET.Element) -> None:
    footer = _add(body, "footer")
    for line in CAUTIONS:
        _add(footer, "p", line)


# ---- what the script looks up ------------------------------------------------------------------------------------------


def _data(book: Book) -> dict[str, Any]:
    drawn = book.diagram(1)
    pairs = _pairs(book)
    return {
        "points": [plain(name) for name in book.points],
        "shown": [_point(name) for name in book.points],
        "pairs": None if len(book.points) <= _MOST_POINTS else pairs,
        "calls": {call: _call(book, drawn, call, pairs) for call in book.calls},
        **_tree(book),
    }


def _tree(book: Book) -> dict[str, Any]:
    """Return the fault tree: a step is ``[test, where, caution, call, points, [[answer, after]…]]``, an end ``[faults]``."""
    if book.tree is None:
        return {"cautions": [], "tree": []}
    cautions: dict[tuple[str, ...], int] = {}
    place = {name: i for i, name in enumerate(book.points)}

    def told(node: Step | End) -> list[Any]:
        if isinstance(node, End):
            return [list(node.words)]
        test = node.test
        points = [place[name] for name in test.between or () if name in place] if test.kind == "volts" else []
        return [
            node.words,
            f"{plain(node.at)}, {minutes_words(node.minutes)}",
            cautions.setdefault(node.cautions, len(cautions)),
            test.call if test.powered else "",
            points,
            [[answer.words, told(answer.after)] for answer in node.answers],
        ]

    tree = [told(entry.after) for entry in book.tree.entries]
    return {"cautions": [list(each) for each in cautions], "tree": tree}


def _pairs(book: Book) -> list[list[int]]:
    """Return the pairs of points that readings are given for: all where that is not too many."""
    count = len(book.points)
    if count <= _MOST_POINTS:
        return [[i, j] for i in range(count) for j in range(i)]
    place = {name: i for i, name in enumerate(book.points)}
    return [[place[row.points[0]], place[row.points[1]]] for row in book.forms[0].rows if row.unit == "V"]


def _call(book: Book, drawn: Any, call: str, pairs: Sequence[Sequence[int]]) -> dict[str, Any]:
    readings, loops = book.readings[call], book.loops[call]
    form = next(form for form in book.forms if form.call == call)
    place = {name: i for i, name in enumerate(book.points)}
    played = next((played for played in book.sequences if played.call == call), None)
    return {
        "served": form.served,
        "running": list(form.running),
        "needed": list(form.needed),
        "allowed": list(form.allowed),
        "lines": {plain(name): ahead for name, ahead in directions(drawn, [loop.path for loop in loops]).items()},
        "lit": sorted({place[step] for loop in loops for step in loop.path if step in place}),
        "loops": [f"{loop.title} ({loop.load}): {_told(book, loop.path)}" for loop in loops],
        # Hundredths of a volt: nominal, lowest, highest, pair after pair.
        "volts": [
            round(float(table[i, j]) * 100) for i, j in pairs for table in (readings.volts, readings.low, readings.high)
        ],
        "asked": [[place[row.points[0]], place[row.points[1]]] for row in form.rows if row.unit == "V"],
        "events": [
            f"{clock(event.at_s)} {event.what} ({event.where}): {event.because}"
            for event in (played.events if played else ())
        ],
    }


def _told(book: Book, path: Sequence[str]) -> str:
    """Return a path as words: terminals, the conductors between them, and what passes through equipment."""
    told = plain(path[0]) if path else ""
    for before, name in pairwise(path):
        told += f" {'–' if name in book.job.landings or before in book.job.landings else '›'} {plain(name)}"
    return told
