"""Tests and their answers as forms have them: both the fault finder's and the trainee's."""

from __future__ import annotations

import json
from typing import Any

from callpath.errors import CallpathError
from callpath.faults.asked import Check, Seen
from callpath.faults.seen import read_seen
from callpath.faults.troubleshoot import Case
from callpath.job.write import flow
from callpath.web.visit import Form

__all__ = ["answered", "as_value", "made_up"]


def as_value(test: Check) -> str:
    """Return a test as a form carries it."""
    data = test.as_data()
    return json.dumps({**data, "running": list(test.functions)} if test.kind == "running" else {**data, test.kind: 0})


def answered(case: Case, form: Form, *, unanswered: bool = False) -> Seen:
    """Return the test that a form carries, with its answer; ``unanswered`` puts any answer there.

    Raises
    ------
    CallpathError
        It carries no test of this job, or no answer to it.
    """
    try:
        data = json.loads(form.text("test"))
    except (ValueError, RecursionError):
        data = None
    if not isinstance(data, dict):
        raise CallpathError("this form asks for no test; load the page again")
    kind = next((kind for kind in ("running", "volts", "amps", "ohms") if kind in data), "")
    if unanswered:
        pass
    elif kind == "running":
        data["running"] = _looked(form, data["running"] if isinstance(data["running"], list) else [])
    elif kind:
        data[kind] = _number(form.word("amount"), kind)
    if isinstance(data.get("running"), list):
        data["running"] = dict.fromkeys(map(str, data["running"]), False)
    return _read(case, data)


def _looked(form: Form, functions: list[Any]) -> dict[str, bool]:
    said = {str(name): form.word(f"runs:{name}") for name in functions}
    if not said or not set(said.values()) <= {"yes", "no"}:
        raise CallpathError("say of each whether it runs")
    return {name: word == "yes" for name, word in said.items()}


def _number(word: str, kind: str) -> float | str:
    if kind == "ohms" and word.upper() == "OL":
        return "OL"
    try:
        return float(word.replace(",", "."))
    except ValueError:
        raise CallpathError(f"'{word}' is no reading; write a number" + (", or OL" if kind == "ohms" else "")) from None


def made_up(case: Case, form: Form, *, unanswered: bool = False) -> Seen:
    """Return a test that somebody puts together themselves: what, on which call, where the leads are.

    Raises
    ------
    CallpathError
        It is no test of this job.
    """
    kind, call = form.word("kind"), form.word("call")
    amount: float | str = 0.0 if unanswered else ""
    if kind == "running":
        said = {name: word for name, word in form.starting("runs:") if word in ("yes", "no")}
        functions = case.circuit.functions
        running = (
            dict.fromkeys(functions, False) if unanswered else {name: word == "yes" for name, word in said.items()}
        )
        if not running:
            raise CallpathError("say of one at least whether it runs")
        data: dict[str, Any] = {"call": call, "running": running}
    elif kind in ("volts", "low-z", "ohms", "amps"):
        amount = amount if unanswered else _number(form.word("amount"), kind)
        if kind == "amps":
            data = {"call": call, "conductor": form.word("conductor"), "amps": amount}
        elif kind == "ohms":
            data = {"between": [form.word("red"), form.word("black")], "ohms": amount}
            data |= {"lifted": [form.word("lifted")]} if form.word("lifted") else {}
        else:
            data = {"call": call, "between": [form.word("red"), form.word("black")], "volts": amount}
            data |= {"meter": "low-z"} if kind == "low-z" else {}
    else:
        raise CallpathError("say what to test: what runs, volts, amps or ohms")
    return _read(case, data)


def _read(case: Case, data: dict[str, Any]) -> Seen:
    # Read as a file would be, so that every mistake is told alike.
    found = read_seen(f"seen:\n  - {flow(data)}\n", case.circuit, file="the form")
    if len(found) != 1:
        raise CallpathError("this form asks for no test; load the page again")
    return found[0]
