"""Faults and tests in words, for whoever reads them."""

from __future__ import annotations

import math

from callpath.faults.asked import Answer, Check
from callpath.job.model import Fault, Job

__all__ = [
    "answer_words",
    "doing",
    "doing_words",
    "fault_words",
    "faults_words",
    "lead_words",
    "minutes_words",
    "point_words",
    "words_of_test",
]


def fault_words(fault: Fault) -> str:
    """Return a fault in a few words."""
    first, second = fault.where[0], fault.where[-1]
    match fault.kind:
        case "open":
            return f"{first} open"
        case "high-resistance":
            return f"{first} badly connected ({fault.ohms:g} Ω)"
        case "short":
            return f"{first} touches {second}"
        case "loose":
            return f"{first} loose at {second}"
        case "swapped":
            return f"{first} and {second} exchanged"
        case "missing":
            return f"jumper {first} to {second} missing"
        case "extra":
            return f"a jumper {first} to {second} too many"
        case "dead":
            return f"{first} dead: no line voltage"
        case "idle":
            return f"{first} dead, beyond the 24 V circuit"
        case "tapped":
            return f"{first} on the wrong tap ({fault.volts:g} V open)"
        case "stuck":
            return f"{first} stuck closed"
        case "tripped":
            return f"{first} tripped open"
        case "shorted":
            return f"{first} shorted"
        case "burned":
            return f"{first} burned to half its turns"
        case "setting":
            value = {True: "true", False: "false"}.get(fault.to, fault.to) if isinstance(fault.to, bool) else fault.to
            return f"{first} set to {value}"
    raise AssertionError(fault.kind)


def faults_words(faults: tuple[Fault, ...]) -> str:
    """Return faults that are there together."""
    return " and ".join(map(fault_words, faults)) or "nothing is wrong"


def minutes_words(minutes: float) -> str:
    """Return how long something takes, in whole minutes."""
    return "under a minute" if minutes < 1 else f"about {minutes:.0f} min"


def point_words(point: str, job: Job) -> str:
    """Return where a lead goes: a terminal by its name, an end of a conductor by where it is, of a fuse in its holder."""
    name, _, side = point.partition("@")
    if not side:
        return point
    if name not in job.landings:
        return f"{'one' if side == '1' else 'the other'} end of {name}"
    between, landing = job.cable_of(name).between, job.landings[name][int(side) - 1]
    if between[0] != between[1]:
        return f"the end of {name} at {between[int(side) - 1]}"
    return f"the end of {name} that belongs on {landing}" if landing else f"end {side} of {name}"


def lead_words(name: str, job: Job) -> str:
    """Return what is lifted: a conductor by its name, a jumper by its two terminals."""
    return name if name in job.landings else f"the jumper {name.replace('+', ' to ')}"


def words_of_test(test: Check, job: Job) -> str:
    """Return a test of a job as one would tell a colleague to make it."""
    on = f"on '{test.call}'" if test.kind != "ohms" or test.call != "off" else "power off"
    lifted = f", {', '.join(lead_words(name, job) for name in test.lifted)} lifted" if test.lifted else ""
    jumped = f", {test.jumped[0]} jumped to {test.jumped[1]}" if test.jumped else ""
    match test.kind:
        case "running":
            alike: dict[str, list[str]] = {}
            for name in test.functions:
                alike.setdefault(doing(test, name, on=True), []).append(name)
            asked = [
                f"{', '.join(names)} {words if len(names) == 1 else _OF_SEVERAL[words]}"
                for words, names in alike.items()
            ]
            return f"{on}{jumped}: look whether {' and '.join(asked)}"
        case "amps":
            return f"{on}{jumped}: clamp around {test.conductor}"
        case _:
            assert test.between is not None
            one, two = (point_words(point, job) for point in test.between)
            meter = " with a low-impedance meter" if test.low_z else ""
            return f"{on}{jumped}{lifted}: {test.kind} from {one} to {two}{meter}"


# Of these nobody would say that they run.
_SEEN_AS = {"open": ("stands open", "is shut"), "reversing-valve": ("is energised", "is not energised")}
_OF_SEVERAL = {
    "runs": "run",
    "is pulled in": "are pulled in",
    "stands open": "stand open",
    "is energised": "are energised",
}


def doing_words(name: str, *, coil: bool = False) -> tuple[str, str]:
    """Return in words that something runs, a coil is pulled in, a valve stands open; and that it does not."""
    if coil:
        return "is pulled in", "is not pulled in"
    return _SEEN_AS.get(name.rpartition(".")[2], ("runs", "does not run"))


def doing(test: Check, name: str, *, on: bool) -> str:
    """Return in words that something which was looked at runs, or a coil is pulled in; or not."""
    return doing_words(name, coil=name in test.coils)[0 if on else 1]


def answer_words(test: Check, answer: Answer) -> str:
    """Return what a test showed."""
    if test.kind == "running":
        return ", ".join(f"{name} {doing(test, name, on=on)}" for name, on in answer.running.items())
    unit = {"volts": "V", "amps": "A", "ohms": "Ω"}[test.kind]
    return "OL" if math.isinf(answer.value) else f"{answer.value:g} {unit}"
