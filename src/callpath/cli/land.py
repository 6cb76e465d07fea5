"""The command that chooses landings; heavy imports wait until it runs."""

from __future__ import annotations

import json
import sys
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

if TYPE_CHECKING:
    from callpath.landing.landed import Landed

__all__ = ["EXAMPLES", "land"]

EXAMPLES = (
    "land garden.job.yaml",
    "land garden.job.yaml --free wall -o garden-landed.job.yaml",
    "land garden.job.yaml --way 2 -o garden-second-cable.job.yaml",
)


def land(
    job: Annotated[Path, typer.Argument(metavar="JOB", help="The job file, by convention NAME.job.yaml.")],
    free: Annotated[
        list[str] | None,
        typer.Option(
            "--free", metavar="CABLE", help="Take the conductors of this cable off and land them anew; repeatable."
        ),
    ] = None,
    output: Annotated[
        Path | None, typer.Option("--output", "-o", metavar="FILE", help="Write the completed job here.")
    ] = None,
    way: Annotated[
        int | None,
        typer.Option("--way", metavar="NUMBER", min=1, help="Write the job of this way out instead; with --output."),
    ] = None,
    as_json: Annotated[
        bool, typer.Option("--json", help="One JSON document on standard output, nothing else.")
    ] = False,
) -> int:
    """Choose where every conductor lands, with the splices and jumpers that it takes; what is landed already stays.

    What comes out has been proved. Exit status 1 where some call cannot be served.
    """
    from callpath.cli.waiting import busy
    from callpath.errors import QuestionError
    from callpath.job import load_job
    from callpath.landing.land import land as land_job

    if way is not None and output is None:
        raise QuestionError("--way goes with --output FILE, which the way's job is written to")
    with busy("looking for the best landing"):
        found = land_job(load_job(job), free=free or ())
    if output is not None:
        from callpath.job.rewrite import with_job
        from callpath.job.write import write_whole

        text = with_job(job.read_bytes().decode(), found.job) if way is None else _way_out(found, way)
        write_whole(output, text)
    if as_json:
        sys.stdout.write(json.dumps(found.as_json(), ensure_ascii=False, indent=2, allow_nan=False) + "\n")
    else:
        from callpath.cli.app import CAUTION
        from callpath.cli.show_land import show_land

        show_land(found, CAUTION, written=output)
    return 1 if found.unserved else 0


def _way_out(found: Landed, number: int) -> str:
    """Return the job file of a way out."""
    from callpath.errors import QuestionError

    if number > len(found.ways_out):
        there = len(found.ways_out)
        have = "there is none" if not there else "there is 1" if there == 1 else f"there are {there}"
        raise QuestionError(f"there is no way out number {number}: {have}")
    return str(found.ways_out[number - 1].as_json()["job"])
