"""The command to practise with; heavy imports wait until it runs."""

from __future__ import annotations

import json
import sys
from enum import StrEnum
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from callpath.errors import CallpathError, InputError, QuestionError

if TYPE_CHECKING:
    from callpath.faults.practice import Exercise
    from callpath.faults.practice import Path as Steps

__all__ = ["EXAMPLES", "practice"]

EXAMPLES = ("practice garden.job.yaml --seed 7", "practice garden.job.yaml --seed 7 --faults 2 --alike much")

_HELP = """\
  volts CALL A B [low-z]     a voltmeter between two points, such as: volts cool board.Y board.C
  amps CALL CONDUCTOR        a clamp around a conductor
  ohms A B [lift CONDUCTOR]  power off; A and B may be a conductor's own ends: ohms wall.red@1 wall.red@2 lift wall.red
  look CALL [DEVICE …]       see what runs, there or everywhere
  jump CALL A B              join two terminals for a moment and see what runs
  hint                       what callpath would test next
  mend NAME …                you are sure: name the conductor, element, jumper's terminals or setting that is at fault
  stop                       give up and be told"""


class Alike(StrEnum):
    """How many other faults look like the hidden one at first."""

    little = "little"
    some = "some"
    much = "much"


def practice(
    job: Annotated[Path, typer.Argument(metavar="JOB", help="The job file, as the job should be.")],
    seed: Annotated[int, typer.Option("--seed", min=0, help="The same seed hides the same fault.")] = 1,
    faults: Annotated[int, typer.Option("--faults", min=1, max=2, help="How many at once.")] = 1,
    alike: Annotated[Alike, typer.Option("--alike", help="How many others look like it at first.")] = Alike.some,
    priors: Annotated[
        Path | None,
        typer.Option("--priors", metavar="FILE", help="How often each fault is what is wrong, in your work."),
    ] = None,
    minutes: Annotated[
        Path | None, typer.Option("--minutes", metavar="FILE", help="What walks and tests take, in your work.")
    ] = None,
    as_json: Annotated[
        bool,
        typer.Option("--json", help="One JSON document on standard output at the end; the talk on standard error."),
    ] = False,
) -> int:
    """Hide a fault in a job and let a trainee find it with a meter; a clock counts the minutes.

    At the end the trainee's tests stand beside the best ones. Exit status 0 where the fault was named, 1 where not.
    """
    from callpath.cli.waiting import busy
    from callpath.faults.cost import load_minutes
    from callpath.faults.practice import hide
    from callpath.faults.prior import load_priors
    from callpath.faults.troubleshoot import Case
    from callpath.job import load_job

    with busy("hiding a fault"):
        case = Case(
            load_job(job),
            None if priors is None else load_priors(priors),
            None if minutes is None else load_minutes(minutes),
        )
        exercise = hide(case, seed, faults=faults, alike=alike.value)
    _say(_opening(exercise), as_json)
    while True:
        _say(f"\n{exercise.path.minutes:.1f} min, at {exercise.path.at}", as_json)
        try:
            line = str(typer.prompt("test", prompt_suffix="> ", default="", show_default=False, err=as_json)).strip()
        except (EOFError, typer.Abort):
            _say("", as_json)
            break
        if line in ("stop", "quit", "exit"):
            break
        try:
            if line.startswith("mend "):
                if exercise.names(line[5:]):
                    break
                _say(f"  that does not mend it, or not all of it ({case.minutes.wrong_repair:g} min)", as_json)
            else:
                _say(_answered(exercise, line), as_json)
        except CallpathError as error:
            problems = [p.message for p in error.problems] if isinstance(error, InputError) else [str(error)]
            _say("\n".join(f"  {message}" for message in problems), as_json)
    with busy("looking for the best path"):
        best = exercise.best()
    if as_json:
        sys.stdout.write(json.dumps(exercise.as_json(best), ensure_ascii=False, indent=2, allow_nan=False) + "\n")
    else:
        _closing(exercise, best)
    return 0 if exercise.path.found else 1


def _say(text: str, to_error: bool) -> None:
    from callpath.cli.show_troubleshoot import plain_lines

    typer.echo(plain_lines(text), err=to_error)


def _opening(exercise: Exercise) -> str:
    from callpath.cli.app import CAUTION
    from callpath.faults.practice import amiss
    from callpath.faults.words import answer_words

    complaint = exercise.complaint
    wrong = amiss(exercise.case, complaint)
    places = ", ".join(exercise.case.locations)
    return (
        f"{exercise.case.job.title or exercise.case.job.file}\n{CAUTION}\n\n"
        f"The complaint: on '{complaint.test.call}' {answer_words(complaint.test, wrong)}.\n"
        f"There is: {places}.\n\n{_HELP}"
    )


def _answered(exercise: Exercise, line: str) -> str:
    """Return what to say to a line that a trainee typed."""
    from callpath.cli.waiting import busy
    from callpath.faults.seen import read_seen
    from callpath.faults.words import answer_words
    from callpath.job.write import flow

    words = line.replace(",", " ").split()
    if not words or words[0] in ("help", "?"):
        return _HELP
    if words[0] == "hint":
        with busy("looking for the next test"):
            answer = exercise.case.answer(exercise.seen, exercise.path.at)
        if answer.next is None:
            return f"  no further test: {answer.done}"
        return f"  at {answer.next.at}, {answer.next.words}"
    data = _as_seen(exercise, words)
    # Read as a file would be, with some answer that is not looked at, so that every mistake is told alike.
    check = read_seen(f"seen:\n  - {flow(data)}\n", exercise.case.circuit, file="test")[0].test
    if check.jumped is not None:
        with busy("looking whether that could do harm"):
            exercise.refuse(check)
    step = exercise.make(check)
    return f"  {exercise.case.words(check)}\n  {answer_words(check, step.seen.answer)}   ({step.minutes:.1f} min)"


def _as_seen(exercise: Exercise, words: list[str]) -> dict[str, object]:
    """Return the line of a ``seen`` file that a trainee's words stand for."""
    from callpath.faults.practice import looked_at

    what, *rest = words
    functions = looked_at(exercise.case)
    match what, rest:
        case "volts", [call, one, two]:
            return {"call": call, "between": [one, two], "volts": 0}
        case "volts", [call, one, two, "low-z"]:
            return {"call": call, "between": [one, two], "volts": 0, "meter": "low-z"}
        case "amps", [call, conductor]:
            return {"call": call, "conductor": conductor, "amps": 0}
        case "ohms", [one, two]:
            return {"between": [one, two], "ohms": 0}
        case "ohms", [one, two, "lift", *lifted] if lifted:
            return {"between": [one, two], "ohms": 0, "lifted": lifted}
        case "look", [call, *devices]:
            seen = [name for name in functions if not devices or {name, name.partition(".")[0]} & set(devices)]
            return {"call": call, "running": dict.fromkeys(seen or devices, False)}
        case "jump", [call, one, two]:
            return {"call": call, "jumped": [one, two], "running": dict.fromkeys(functions, False)}
    raise QuestionError(f"'{' '.join(words)[:60]}' is no test; 'help' shows how they are written")


def _closing(exercise: Exercise, best: Steps) -> None:
    from rich import box
    from rich.table import Table

    from callpath.cli.show import console, plain
    from callpath.faults.answer import advice_for
    from callpath.faults.words import answer_words, faults_words

    out = console()
    out.print()
    told = "You found it" if exercise.path.found else "It was not found"
    out.print(f"{told}: {plain(faults_words(exercise.faults))}.", style="bold")
    for line in advice_for(exercise.faults):
        out.print(f"! {plain(line)}", style="bold yellow")
    for title, path in (("Your tests", exercise.path), ("The best that callpath knows", best)):
        table = Table(title=title, title_justify="left", box=box.SIMPLE_HEAD, pad_edge=False, show_edge=False)
        table.add_column("min", justify="right", no_wrap=True)
        table.add_column("test")
        table.add_column("showed")
        total = 0.0
        for step in path.steps:
            total += step.minutes
            test, answer = step.seen.test, step.seen.answer
            table.add_row(f"{total:.1f}", plain(exercise.case.words(test)), plain(answer_words(test, answer)))
        out.print()
        out.print(table)
        wrong = f", {path.wrong} wrong repair{'' if path.wrong == 1 else 's'}" if path.wrong else ""
        out.print(f"{len(path.steps)} tests{wrong}, {path.minutes:.1f} min", style="bold")
