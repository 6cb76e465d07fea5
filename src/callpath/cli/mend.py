"""The command that finds the smallest repair; heavy imports wait until it runs."""

from __future__ import annotations

import json
import sys
from pathlib import Path
from typing import Annotated

import typer

__all__ = ["EXAMPLES", "mend"]

EXAMPLES = ("mend garden.job.yaml", "mend garden.job.yaml -o garden-mended.job.yaml", "mend garden.job.yaml --json")


def mend(
    job: Annotated[Path, typer.Argument(metavar="JOB", help="The job file as found, by convention NAME.job.yaml.")],
    most_moves: Annotated[
        int, typer.Option("--most-moves", min=1, max=9, help="Longer repairs are not searched for one by one.")
    ] = 6,
    output: Annotated[
        Path | None, typer.Option("--output", "-o", metavar="FILE", help="Write the repaired job here.")
    ] = None,
    as_json: Annotated[
        bool, typer.Option("--json", help="One JSON document on standard output, nothing else.")
    ] = False,
) -> int:
    """Find the fewest moves that put a job's wiring right: ends to land or lift, jumpers, splices, thermostat settings.

    What comes out has been proved. What is broken is told, not wired round.
    Exit status 1 where something stays wrong or a call unserved.
    """
    from callpath.cli.waiting import busy
    from callpath.job import load_job
    from callpath.landing.mend import mend as mend_job

    with busy("looking for the smallest repair"):
        found = mend_job(load_job(job), most_moves=most_moves)
    if output is not None:
        from callpath.job.rewrite import with_job
        from callpath.job.write import write_whole

        write_whole(output, with_job(job.read_bytes().decode(), found.job))
    if as_json:
        sys.stdout.write(json.dumps(found.as_json(), ensure_ascii=False, indent=2, allow_nan=False) + "\n")
    else:
        from callpath.cli.app import CAUTION
        from callpath.cli.show_mend import show_mend

        show_mend(found, CAUTION, written=output)
    return 0 if found.verdict == "clean" and not found.unserved else 1
