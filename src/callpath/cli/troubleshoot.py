"""The command that finds faults; heavy imports wait until it runs."""

from __future__ import annotations

import json
import sys
from pathlib import Path
from typing import Annotated

import typer

from callpath.errors import QuestionError

__all__ = ["EXAMPLES", "troubleshoot"]

EXAMPLES = (
    "troubleshoot garden.job.yaml --seen seen.yaml",
    "troubleshoot garden.job.yaml --seen seen.yaml --at yard --json",
    "troubleshoot garden.job.yaml --save seen.yaml",
    "troubleshoot garden.job.yaml --seen seen.yaml --minutes mine.yaml",
)


def troubleshoot(
    job: Annotated[Path, typer.Argument(metavar="JOB", help="The job file, as the job should be.")],
    seen: Annotated[
        Path | None, typer.Option("--seen", metavar="FILE", help="What was seen and measured so far.")
    ] = None,
    at: Annotated[
        str | None,
        typer.Option("--at", metavar="LOCATION", help="Where you stand; where the last test was, without it."),
    ] = None,
    priors: Annotated[
        Path | None,
        typer.Option("--priors", metavar="FILE", help="How often each fault is what is wrong, in your work."),
    ] = None,
    minutes: Annotated[
        Path | None, typer.Option("--minutes", metavar="FILE", help="What walks and tests take, in your work.")
    ] = None,
    save: Annotated[
        Path | None,
        typer.Option(
            "--save", metavar="FILE", help="Step by step: keep what was seen here; NAME.seen.yaml without it."
        ),
    ] = None,
    as_json: Annotated[
        bool, typer.Option("--json", help="One JSON document on standard output, nothing else.")
    ] = False,
) -> int:
    """Rank the faults that explain what was seen, and name the next test worth making.

    Without --seen, in a terminal, it goes step by step: one test, one answer, 'undo' takes the last one back, and everything is
    kept in a file as it goes.
    Exit status 1 where something is wrong with the job or may be, 0 where nothing is.
    """
    from callpath.cli.waiting import busy
    from callpath.faults.cost import load_minutes
    from callpath.faults.prior import load_priors
    from callpath.faults.seen import load_seen
    from callpath.faults.troubleshoot import Case
    from callpath.job import load_job

    case = Case(
        load_job(job),
        None if priors is None else load_priors(priors),
        None if minutes is None else load_minutes(minutes),
    )
    if seen is None:
        if as_json or not sys.stdin.isatty():
            raise QuestionError("what was seen? add --seen FILE, or run it in a terminal to be asked step by step")
        from callpath.cli.steps import step_by_step

        return step_by_step(case, save or _beside(job), at)
    with busy("looking for what explains this"):
        answer = case.answer(load_seen(seen, case.circuit), at)
    if as_json:
        sys.stdout.write(json.dumps(answer.as_json(), ensure_ascii=False, indent=2, allow_nan=False) + "\n")
    else:
        from callpath.cli.app import CAUTION
        from callpath.cli.show_troubleshoot import show_answer

        show_answer(case.job.title or case.job.file, answer, CAUTION)
    nothing_wrong = bool(answer.suspects) and not answer.suspects[0].faults and answer.next is None
    return 0 if nothing_wrong else 1


def _beside(job: Path) -> Path:
    name = job.name.removesuffix(".yaml").removesuffix(".yml").removesuffix(".job")
    return Path(f"{name}.seen.yaml")
