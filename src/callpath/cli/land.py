"""The command that chooses landings; heavy imports wait until it runs."""

from __future__ import annotations

import json
import sys
from pathlib import Path
from typing import Annotated

import typer

__all__ = ["land"]


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
    as_json: Annotated[
        bool, typer.Option("--json", help="One JSON document on standard output, nothing else.")
    ] = False,
) -> int:
    """Choose where every conductor lands, with the splices and jumpers that it takes; what is landed already stays.

    What comes out has been proved. Exit status 1 where some call cannot be served.
    """
    from callpath.cli.show import busy
    from callpath.job import load_job
    from callpath.landing.land import land as land_job

    with busy("looking for the best landing"):
        found = land_job(load_job(job), free=free or ())
    if output is not None:
        from callpath.job.rewrite import with_job
        from callpath.job.write import write_whole

        write_whole(output, with_job(job.read_bytes().decode(), found.job))
    if as_json:
        sys.stdout.write(json.dumps(found.as_json(), ensure_ascii=False, indent=2, allow_nan=False) + "\n")
    else:
        from callpath.cli.app import CAUTION
        from callpath.cli.show_land import show_land

        show_land(found, CAUTION, written=output)
    return 1 if found.unserved else 0
