"""The questions that ``callpath new`` asks in a terminal: only what matters, each with a usual answer, and a way back.

Everything is shown on standard error, so that standard output holds the answer to the command alone.
"""

from __future__ import annotations

from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass

import typer

from callpath.errors import CallpathError, nearest
from callpath.job.draft import Draft, find_part
from callpath.parts.catalogue import Catalogue, default_catalogue
from callpath.parts.makeup import makeup, makeups
from callpath.parts.model import Part, fitted
from callpath.units import length_ft

__all__ = ["interview"]

NONE = "none"
_EVERYTHING = "all"
_Answers = dict[str, str]


@dataclass(frozen=True)
class _Question:
    """One question; ``usual`` is the answer of Enter, None where the question does not arise.

    ``check`` returns the answer in its full form, or raises what is wrong with it.
    """

    key: str
    ask: str
    usual: Callable[[_Answers], str | None]
    check: Callable[[str, _Answers], str]
    show: Callable[[_Answers], list[str]] = lambda answers: []


def interview(catalogue: Catalogue | None = None) -> Draft:
    """Ask a person for a new job and return what they say.

    Raises
    ------
    typer.Abort
        They stop: Ctrl-C, or the end of the input.
    """
    typer.echo(
        "Enter takes the answer in brackets; 'back' goes one question back; Ctrl-C stops and writes nothing.", err=True
    )
    questions = _questions(catalogue or default_catalogue())
    answers: _Answers = {}
    asked: list[int] = []
    at = 0
    while at < len(questions):
        question = questions[at]
        usual = question.usual(answers)
        if usual is None:
            answers.pop(question.key, None)
            at += 1
            continue
        word = _ask(question, answers, usual)
        if word is None:
            at = asked.pop() if asked else at
            continue
        answers[question.key] = word
        asked.append(at)
        at += 1
    return _draft(answers)


def _ask(question: _Question, answers: _Answers, usual: str) -> str | None:
    """Return the answer, None for going back; ask again for as long as there is something wrong with it."""
    typer.echo("", err=True)
    for line in question.show(answers):
        typer.echo(f"  {line}", err=True)
    # What was answered before somebody went back is offered again, if it still fits what has changed since.
    if question.key in answers:
        with suppress(CallpathError):
            usual = question.check(answers[question.key], answers)
    while True:
        said = str(typer.prompt(question.ask, default=usual, err=True)).strip()
        if said.casefold() == "back":
            return None
        try:
            return question.check(said, answers)
        except CallpathError as error:
            typer.echo(f"  {error}", err=True)


def _draft(answers: _Answers) -> Draft:
    has_outdoor = answers["outdoor"] != NONE
    power = [f"stat.power={answers['power']}"] if "power" in answers else []
    valve = [f"{name}.changeover={answers['changeover']}" for name in ("stat", "pump") if "changeover" in answers]
    return Draft(
        thermostat=answers["thermostat"],
        indoor=answers["indoor"],
        outdoor=answers["outdoor"] if has_outdoor else "",
        wall=answers["wall"],
        wall_length=answers["wall-length"],
        outside=answers.get("outside", ""),
        outside_length=answers.get("outside-length", ""),
        settings=[*power, *valve],
        serves="" if answers["serves"] == _EVERYTHING else answers["serves"],
    )


def _questions(catalogue: Catalogue) -> list[_Question]:
    def part_of(answers: _Answers, role: str) -> Part:
        return catalogue.part(answers[role])

    def heat_pump(answers: _Answers) -> bool:
        return "emergency" in part_of(answers, "thermostat").calls

    def part_question(role: str, ask: str, usual: Callable[[_Answers], str], *, optional: bool = False) -> _Question:
        names = [name for name in catalogue.names if name.startswith(f"{role}/")]
        rows = [*names, *([NONE] if optional else [])]

        def check(said: str, answers: _Answers) -> str:
            if said.isdigit() and 1 <= int(said) <= len(rows):
                return rows[int(said) - 1]
            if said.isdigit():
                raise CallpathError(f"there is no number {said}; choose 1 to {len(rows)}, or write a part's name")
            return NONE if optional and said.casefold() in (NONE, "no") else find_part(said, role, catalogue).part

        def show(answers: _Answers) -> list[str]:
            titles = {name: catalogue.part(name).title for name in names} | {NONE: "nothing outdoors"}
            return [f"{i:>2}  {name:<32} {titles[name]}" for i, name in enumerate(rows, 1)]

        return _Question(role, ask, lambda answers: usual(answers) if usual(answers) in rows else rows[0], check, show)

    def usual_outdoor(answers: _Answers) -> str:
        if heat_pump(answers):
            return "outdoor/heat-pump"
        return "outdoor/condenser" if "cool" in part_of(answers, "thermostat").calls else NONE

    def usual_wall(answers: _Answers) -> str:
        return "18/8" if heat_pump(answers) else "18/5" if "cool" in part_of(answers, "thermostat").calls else "18/2"

    def if_outdoor(usual: Callable[[_Answers], str]) -> Callable[[_Answers], str | None]:
        return lambda answers: None if answers["outdoor"] == NONE else usual(answers)

    def check_cable(said: str, answers: _Answers) -> str:
        makeup(said)
        return said

    def check_length(said: str, answers: _Answers) -> str:
        length_ft(said)
        return said

    def calls(answers: _Answers) -> list[str]:
        part = part_of(answers, "thermostat")
        usual = part.settle_settings({})
        return [call for call, rule in part.calls.items() if call != "defrost" and fitted(rule.when, usual)]

    def check_serves(said: str, answers: _Answers) -> str:
        for call in said.replace(",", " ").split():
            if call not in (*calls(answers), _EVERYTHING):
                raise CallpathError(f"this thermostat has no call '{call}'; {nearest(call, calls(answers))}")
        return _EVERYTHING if _EVERYTHING in said.split() else said

    def usual_changeover(answers: _Answers) -> str | None:
        return "O" if heat_pump(answers) and answers["outdoor"] == "outdoor/heat-pump" else None

    def check_changeover(said: str, answers: _Answers) -> str:
        if said.upper() not in ("O", "B"):
            raise CallpathError(f"'{said}' is neither O nor B")
        return said.upper()

    def usual_power(answers: _Answers) -> str | None:
        setting = part_of(answers, "thermostat").settings.get("power")
        return str(setting.default) if setting else None

    def check_power(said: str, answers: _Answers) -> str:
        problem = part_of(answers, "thermostat").settings["power"].problem(said)
        if problem:
            raise CallpathError(f"'{said}' {problem}")
        return said

    made = [f"{count}: {' '.join(colours)}" for count, colours in makeups().items()]
    return [
        part_question("thermostat", "Which thermostat", lambda answers: "thermostat/single-supply"),
        part_question(
            "indoor",
            "Which indoor equipment",
            lambda answers: "indoor/air-handler" if heat_pump(answers) else "indoor/furnace-board",
        ),
        part_question("outdoor", "Which outdoor unit", usual_outdoor, optional=True),
        _Question(
            "wall",
            "What is in the wall cable: gauge/number, or the colours",
            usual_wall,
            check_cable,
            lambda answers: [*made, "any other: the colours, such as red white green black"],
        ),
        _Question("wall-length", "How long is it", lambda answers: "50 ft", check_length),
        _Question(
            "outside",
            "What is in the cable to the outdoor unit",
            if_outdoor(lambda answers: "18/5" if "heat-pump" in answers["outdoor"] else "18/2"),
            check_cable,
        ),
        _Question("outside-length", "How long is it", if_outdoor(lambda answers: "50 ft"), check_length),
        _Question(
            "changeover",
            "Is the reversing valve fed in cooling (O) or in heating (B)",
            usual_changeover,
            check_changeover,
        ),
        _Question(
            "serves",
            "What must work",
            lambda answers: _EVERYTHING,
            check_serves,
            lambda answers: [f"{' '.join(calls(answers))}; or all that both ends can do"],
        ),
        _Question(
            "power",
            "How is the thermostat powered",
            usual_power,
            check_power,
            lambda answers: [
                "battery   its own cells",
                "common    a common wire",
                "stealing  a little current through idle loads",
            ],
        ),
    ]
