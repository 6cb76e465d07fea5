"""Tests and their answers as forms have them: both the fault finder's and the trainee's."""

from __future__ import annotations

import json
import math
from dataclasses import dataclass
from typing import Any

from callpath.calls.reading import leads_on
from callpath.errors import CallpathError
from callpath.faults.asked import Check, Seen
from callpath.faults.practice import looked_at, right
from callpath.faults.seen import read_seen
from callpath.faults.troubleshoot import Case
from callpath.job.write import flow
from callpath.records.measured import UNITS
from callpath.units import meter_reading
from callpath.web.visit import Form

__all__ = ["answered", "as_fields", "as_value", "check_of", "made_up", "shortcuts"]


def as_value(test: Check) -> str:
    """Return a test as a form carries it."""
    data = test.as_data()
    return json.dumps({**data, "running": list(test.functions)} if test.kind == "running" else {**data, test.kind: 0})


def as_fields(case: Case, test: Check) -> dict[str, str]:
    """Return a test as the fields of a form in which it is put together."""
    red, black = test.jumped or test.between or ("", "")
    every = len(test.lifted) > 1 and set(test.lifted) == set(leads_on(case.job, red))
    return {
        "kind": "jump" if test.jumped else "low-z" if test.low_z else test.kind,
        "call": test.call,
        "red": red,
        "black": black,
        "conductor": test.conductor or "",
        "lifted": "all" if every else test.lifted[0] if len(test.lifted) == 1 else "",
    }


@dataclass(frozen=True)
class Shortcut:
    """A common answer that one tap gives: what the form says for it, and what stands on the button."""

    value: str
    label: str


def shortcuts(case: Case, test: Check) -> tuple[Shortcut, ...]:
    """Return common answers to a test; what a sound job would show is asked of its circuit."""
    sound = right(case, test)
    if test.kind == "running":
        runs = [name for name, on in sound.running.items() if on]
        one = len(test.functions) == 1
        if test.coils:
            none, all_ = ("not pulled in" if one else "none of it"), ("pulled in" if one else "all of it")
        else:
            none, all_ = "nothing runs", "it runs" if one else "all of it runs"
        choices = {tuple(runs): "as it should be: " + (", ".join(runs) or none), (): none}
        choices.setdefault(test.functions, all_)
        return tuple(Shortcut(" ".join(("runs", *names)), label) for names, label in choices.items())
    unit, digits = UNITS[test.kind], 2 if test.kind == "amps" else 1
    value = "OL" if math.isinf(sound.value) else f"{sound.value:.{digits}f}"
    shown = value if value == "OL" else f"about {value} {unit}"
    found = {value: f"{shown}, as it should be"}
    if float(0 if value == "OL" else value) or value == "OL":
        found["0"] = f"0 {unit}"
    if test.kind == "ohms":
        found.setdefault("OL", "OL")
    return tuple(Shortcut(value, label) for value, label in found.items())


def check_of(case: Case, text: str) -> Check:
    """Return the test that a form or an address carries.

    Raises
    ------
    CallpathError
        It is no test of this job.
    """
    data = _carried(text)
    if isinstance(data.get("running"), list):
        data["running"] = dict.fromkeys(map(str, data["running"]), False)
    return _read(case, data).test


def answered(case: Case, form: Form, given: str = "") -> Seen:
    """Return the test that a form carries, with its answer; ``given`` is that of a shortcut.

    Raises
    ------
    CallpathError
        It carries no test of this job, or no answer to it.
    """
    data = _carried(form.text("test"))
    kind = next((kind for kind in ("running", "volts", "amps", "ohms") if kind in data), "")
    if kind == "running":
        names = data["running"] if isinstance(data["running"], list) else []
        runs = given.split()[1:]
        data["running"] = {str(name): name in runs for name in names} if given else _looked(form, names)
    elif kind:
        data[kind] = _number(given or form.word("amount"), kind, form.word("unit"))
    return _read(case, data)


def _carried(text: str) -> dict[str, Any]:
    try:
        data = json.loads(text)
    except (ValueError, RecursionError):
        data = None
    if not isinstance(data, dict):
        raise CallpathError("this form asks for no test; load the page again")
    return data


def _looked(form: Form, functions: list[Any]) -> dict[str, bool]:
    said = {str(name): form.word(f"runs:{name}") for name in functions}
    if not said or not set(said.values()) <= {"yes", "no"}:
        raise CallpathError("say of each whether it runs")
    return {name: word == "yes" for name, word in said.items()}


def _number(word: str, kind: str, usual: str) -> float | str:
    amount = meter_reading(word, UNITS[kind], usual if kind == "ohms" else "")
    return "OL" if math.isinf(amount) else amount


def made_up(case: Case, form: Form, given: str = "", *, unanswered: bool = False) -> Seen:
    """Return a test that somebody puts together themselves: what, on which call, where the leads are.

    ``given`` is the answer of a shortcut: ``OL``, ``none`` for nothing runs, ``right`` for all as a sound job has it;
    ``unanswered`` puts any answer there.

    Raises
    ------
    CallpathError
        It is no test of this job.
    """
    kind, call = form.word("kind"), form.word("call")
    amount: float | str = 0.0 if unanswered else ""
    if kind in ("running", "jump"):
        said = {name: word for name, word in form.starting("runs:") if word in ("yes", "no")}
        running = {name: word == "yes" for name, word in said.items()}
        if unanswered or given in ("none", "right"):
            running = dict.fromkeys(looked_at(case) if unanswered else case.circuit.functions, False)
        joined = {"jumped": [form.word("red"), form.word("black")]} if kind == "jump" else {}
        if given == "right":
            running = dict(right(case, _read(case, {"call": call, "running": running, **joined}).test).running)
        if not running:
            raise CallpathError("say of one at least whether it runs")
        data: dict[str, Any] = {"call": call, "running": running, **joined}
    elif kind in ("volts", "low-z", "ohms", "amps"):
        amount = amount if unanswered else _number(given or form.word("amount"), kind, form.word("unit"))
        if kind == "amps":
            data = {"call": call, "conductor": form.word("conductor"), "amps": amount}
        elif kind == "ohms":
            data = {"between": [form.word("red"), form.word("black")], "ohms": amount}
            lifted = leads_on(case.job, form.word("red")) if form.word("lifted") == "all" else (form.word("lifted"),)
            data |= {"lifted": list(lifted)} if any(lifted) else {}
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
