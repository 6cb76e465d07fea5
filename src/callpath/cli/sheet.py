"""The command that writes a job's papers; heavy imports wait until it runs."""

from __future__ import annotations

import datetime
import json
import sys
from pathlib import Path
from typing import Annotated, Any

import typer

__all__ = ["EXAMPLES", "sheet"]

EXAMPLES = ("sheet garden.job.yaml -o garden.svg", "sheet garden.job.yaml --call cool -o garden-cooling.svg")
_Usage: Any = typer.BadParameter.__mro__[1]
_KINDS = (".svg",)


def sheet(
    job: Annotated[Path, typer.Argument(metavar="JOB", help="The job file, by convention NAME.job.yaml.")],
    output: Annotated[
        Path, typer.Option("--output", "-o", metavar="FILE", help="Write here; .svg is the wiring diagram.")
    ],
    call: Annotated[
        str | None, typer.Option("--call", "-c", help="Light the loops in which current flows on this call.")
    ] = None,
    date: Annotated[
        str | None, typer.Option("--date", metavar="YYYY-MM-DD", help="The date on the paper; today without it.")
    ] = None,
    narrow: Annotated[bool, typer.Option("--narrow", help="One column, as wide as a telephone.")] = False,
    as_json: Annotated[
        bool, typer.Option("--json", help="One JSON document on standard output, nothing else.")
    ] = False,
) -> int:
    """Write the papers of a job, from the circuit that is proved; the ending of FILE says which.

    The same job and date give the same file, byte for byte.
    """
    kind = output.suffix.casefold()
    if kind not in _KINDS:
        raise _Usage(f"'{output.name}' should end in {' or '.join(_KINDS)}, which says what paper it is")
    try:
        on = datetime.date.today() if date is None else datetime.date.fromisoformat(date)
    except ValueError:
        raise _Usage(f"'{date}' is not a date such as 2026-03-31") from None
    from callpath.job import load_job
    from callpath.job.write import write_whole
    from callpath.papers import diagram, imprint, svg

    loaded = load_job(job)
    told = imprint(loaded, on)
    write_whole(output, svg(diagram(loaded, columns=1 if narrow else 3), call, imprint=told))
    if as_json:
        document = {"written": str(output), "title": told.title, "date": told.date, "revision": told.revision}
        sys.stdout.write(json.dumps(document, ensure_ascii=False, indent=2) + "\n")
    else:
        typer.echo(f"{output}: {told.line}")
    return 0
