"""The command that writes a job's papers; heavy imports wait until it runs."""

from __future__ import annotations

import datetime
import json
import sys
from enum import StrEnum
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

if TYPE_CHECKING:
    from callpath.papers import Book

__all__ = ["EXAMPLES", "sheet"]

EXAMPLES = (
    "sheet garden.job.yaml -o garden.pdf --paper a4",
    "sheet garden.job.yaml -o garden.pdf --readings taken.yaml",
    "sheet garden.job.yaml -o garden.html",
    "sheet garden.job.yaml -o garden-cooling.svg --call cool",
)
_Usage: Any = typer.BadParameter.__mro__[1]
_KINDS = (".pdf", ".svg", ".html")


class View(StrEnum):
    """Which diagram."""

    wiring = "wiring"
    ladder = "ladder"


class Symbols(StrEnum):
    """In which manner symbols are drawn."""

    iec = "iec"
    ansi = "ansi"


class Paper(StrEnum):
    """Which paper the pages are made for."""

    letter = "letter"
    a4 = "a4"


def sheet(
    job: Annotated[Path, typer.Argument(metavar="JOB", help="The job file, by convention NAME.job.yaml.")],
    output: Annotated[
        Path,
        typer.Option(
            "--output",
            "-o",
            metavar="FILE",
            help="Write here; .pdf holds all the papers, .html is the field sheet, .svg the wiring diagram.",
        ),
    ],
    call: Annotated[
        str | None, typer.Option("--call", "-c", help="Light where current flows on this call; with .svg.")
    ] = None,
    narrow: Annotated[bool, typer.Option("--narrow", help="One column, as wide as a telephone; with .svg.")] = False,
    view: Annotated[
        View, typer.Option("--view", help="The wiring, or the ladder: a rung for every load; with .svg.")
    ] = View.wiring,
    symbols: Annotated[
        Symbols | None,
        typer.Option("--symbols", help="Draw what stands inside equipment, in the manner of IEC 60617 or ANSI Y32.2."),
    ] = None,
    paper: Annotated[Paper, typer.Option("--paper", help="What the pages are made for; with .pdf.")] = Paper.letter,
    readings: Annotated[
        Path | None,
        typer.Option(
            "--readings", metavar="FILE", help="Readings taken, to fill the commissioning form with; with .pdf."
        ),
    ] = None,
    date: Annotated[
        str | None, typer.Option("--date", metavar="YYYY-MM-DD", help="The date on the paper; today without it.")
    ] = None,
    as_json: Annotated[
        bool, typer.Option("--json", help="One JSON document on standard output, nothing else.")
    ] = False,
) -> int:
    """Write the papers of a job, from the circuit that is proved; the ending of FILE says which.

    The same job, date and options give the same file, byte for byte.
    Exit status 1 where readings lie outside what is expected.
    """
    kind = output.suffix.casefold()
    if kind not in _KINDS:
        raise _Usage(
            f"'{output.name}' should end in {', '.join(_KINDS[:-1])} or {_KINDS[-1]}, which says what paper it is"
        )
    if readings is not None and kind != ".pdf":
        raise _Usage("--readings fills the commissioning form: write a .pdf")
    if (call is not None or narrow or view is View.ladder) and kind != ".svg":
        raise _Usage("--call, --narrow and --view are for the diagram alone: write a .svg")
    if (call is not None or narrow) and view is View.ladder:
        raise _Usage("--call and --narrow are for the wiring diagram: leave out --view ladder")
    try:
        on = datetime.date.today() if date is None else datetime.date.fromisoformat(date)
    except ValueError:
        raise _Usage(f"'{date}' is not a date such as 2026-03-31") from None
    from callpath.cli.waiting import busy
    from callpath.job import load_job
    from callpath.job.write import write_whole
    from callpath.papers import Book, imprint

    loaded = load_job(job)
    book = Book(loaded, imprint(loaded, on), symbols=None if symbols is None else symbols.value)
    if readings is not None:
        from callpath.faults.seen import load_seen
        from callpath.papers.readings import taken_from

        book.taken = [taken_from(item) for item in load_seen(readings, book.circuit)]
    with busy("drawing"):
        made = _made(book, kind, view=view, call=call, narrow=narrow, paper=paper)
        outside = sum(form.outside for form in book.forms) if kind == ".pdf" else 0
    write_whole(output, made)
    told = book.imprint
    if as_json:
        document = {
            "written": str(output),
            "title": told.title,
            "date": told.date,
            "revision": told.revision,
            "outside": outside,
        }
        sys.stdout.write(json.dumps(document, ensure_ascii=False, indent=2) + "\n")
    else:
        typer.echo(f"{output}: {told.line}" + (f"; {outside} readings outside what is expected" if outside else ""))
    return 1 if outside else 0


def _made(book: Book, kind: str, *, view: View, call: str | None, narrow: bool, paper: Paper) -> str | bytes:
    """Return what is written."""
    if view is View.ladder:
        from callpath.papers.ladder import ladder_svg

        return ladder_svg(book.ladder, manner=book.symbols or "ansi", imprint=book.imprint)
    if kind == ".svg":
        from callpath.papers import svg

        drawn = book.diagram(columns=1 if narrow else 3)
        return svg(drawn, call, findings=book.proof.findings, imprint=book.imprint)
    if kind == ".html":
        from callpath.papers.field import field_sheet

        return field_sheet(book)
    from callpath.papers.pdf import pdf

    return pdf(book, paper=paper.value)
