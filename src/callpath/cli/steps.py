"""Troubleshooting step by step in a terminal: one test, one answer, undo, and a file that always holds what was seen."""

from __future__ import annotations

import math
from collections.abc import Sequence
from pathlib import Path

import typer

from callpath.cli.show import console, plain
from callpath.cli.show_troubleshoot import show_answer, show_next, show_suspects
from callpath.cli.waiting import busy
from callpath.errors import CallpathError, InputError
from callpath.faults.asked import Answer as Given
from callpath.faults.asked import Check, Seen
from callpath.faults.seen import load_seen, read_seen, seen_text
from callpath.faults.troubleshoot import Case
from callpath.faults.words import answer_words
from callpath.job.write import write_whole

__all__ = ["answer_of", "step_by_step"]

_HELP = (
    "Answer the question, or: 'undo' takes the last answer back; 'skip' asks for another test; 'at LOCATION' says where you "
    "stand; 'seen' lists the answers; 'stop' ends. Anything else that you have seen can be written as a line, such as "
    "{call: cool, running: {cond.compressor: false}}."
)


def step_by_step(case: Case, file: Path, at: str | None) -> int:
    """Ask and answer one test at a time.

    Parameters
    ----------
    case : Case
        The job.
    file : Path
        Takes what was seen, whole, after every answer; what it holds already is taken up again.
    at : str, optional
        Where the technician stands.
    """
    from callpath.cli.app import CAUTION

    out = console()
    seen = load_seen(file, case.circuit) if file.exists() else []
    out.print(plain(case.job.title or case.job.file), style="bold")
    out.print(CAUTION, style="dim")
    out.print(_HELP)
    out.print(
        f"What you say is kept in {plain(str(file))}" + (f", which holds {len(seen)} answers already." if seen else ".")
    )
    skipped: list[Check] = []
    while True:
        with busy("looking for what explains this"):
            answer = case.answer(seen, at, without=skipped)
        out.print()
        show_suspects(answer)
        if answer.next is None:
            out.print()
            show_answer(case.job.title or case.job.file, answer, CAUTION)
            word = _ask("'undo', 'stop', or a line of what you see")
            test = None
        else:
            out.print()
            show_next(answer.next)
            test = answer.next.test
            word = _ask(_question(test))
        try:
            step = _step(case, word, test, seen)
        except CallpathError as error:
            problems = [p.message for p in error.problems] if isinstance(error, InputError) else [str(error)]
            for message in problems:
                typer.echo(f"  {plain(message)}", err=True)
            continue
        match step:
            case "stop":
                return 0
            case "skip" if test is not None:
                skipped.append(test)
            case "undo":
                if seen:
                    gone = seen.pop()
                    typer.echo(f"  taken back: {plain(case.words(gone.test))}")
                else:
                    typer.echo("  nothing to take back")
                skipped, at = [], None
                write_whole(file, seen_text(seen))
            case str() if step.startswith("at "):
                at = step[3:]
            case list():
                seen = [*seen, *step]
                skipped, at = [], None
                write_whole(file, seen_text(seen))
            case _:
                pass


def _ask(question: str) -> str:
    typer.echo("")
    try:
        return str(typer.prompt(question, prompt_suffix=": ", default="", show_default=False)).strip()
    except EOFError:
        raise typer.Abort from None


def _question(test: Check) -> str:
    match test.kind:
        case "running":
            names = ", ".join(test.functions)
            if len(test.functions) == 1:
                return f"Is {names} pulled in? y or n" if test.coils else f"Does {names} run? y or n"
            what = "run or are pulled in, of" if set(test.functions) - test.coils else "are pulled in, of"
            return f"Which {what if test.coils else 'run of'} {names}? names, all or none"
        case "ohms":
            return "What does it show? ohms, or OL"
        case _:
            return f"What does it show? {test.kind}"


def _step(case: Case, word: str, test: Check | None, seen: Sequence[Seen]) -> str | list[Seen]:
    """Return what a word asks for, or the answers that it gives."""
    if word in ("stop", "quit", "exit"):
        return "stop"
    if word in ("undo", "skip"):
        return word
    if word.startswith("at "):
        case.answer(seen, word[3:].strip())
        return f"at {word[3:].strip()}"
    if word == "seen":
        for item in seen:
            typer.echo(f"  {plain(case.words(item.test))}: {plain(answer_words(item.test, item.answer))}")
        return ""
    if word.startswith("{"):
        told = read_seen(f"seen:\n  - {word}\n", case.circuit, file="answer")
        for danger in filter(None, (case.danger_of(seen, item.test) for item in told)):
            raise CallpathError(f"{danger}; that is not taken down")
        return told
    if test is None or not word:
        return ""
    given = answer_of(test, word)
    if given is None:
        raise CallpathError(f"'{word[:40]}' is no answer to this; {_question(test)}")
    return [Seen(test, given)]


def answer_of(test: Check, word: str) -> Given | None:
    """Return the answer to a test that a person typed, None where it is none."""
    if test.kind == "running":
        return _runs(test, word)
    if test.kind == "ohms" and word.upper() == "OL":
        return Given({}, math.inf)
    number = word.removesuffix({"volts": "V", "amps": "A", "ohms": "Ω"}[test.kind]).strip()
    try:
        value = float(number)
    except ValueError:
        return None
    return Given({}, value) if 0 <= value <= 1e6 else None


def _runs(test: Check, word: str) -> Given | None:
    folded = word.casefold()
    if folded in ("y", "yes", "all"):
        return Given(dict.fromkeys(test.functions, True))
    if folded in ("n", "no", "none"):
        return Given(dict.fromkeys(test.functions, False))
    named = [part for part in folded.replace(",", " ").split() if part != "and"]
    short = {name.casefold(): name for name in test.functions}
    for name in test.functions:
        tail = name.partition(".")[2].casefold()
        if sum(other.partition(".")[2].casefold() == tail for other in test.functions) == 1:
            short.setdefault(tail, name)
    if not named or any(part not in short for part in named):
        return None
    on = {short[part] for part in named}
    return Given({name: name in on for name in test.functions})
