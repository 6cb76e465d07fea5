"""What comes from outside while a call lasts: contacts, calls that change, power that goes and comes, a flame that fails."""

from __future__ import annotations

from dataclasses import dataclass

from callpath.calls.closing import calls_of_job, check_callers
from callpath.circuit.build import Circuit
from callpath.errors import QuestionError, nearest

__all__ = ["EVERYTHING", "LONGEST_S", "Interruption", "burners", "check_outside"]

EVERYTHING = "everything"
"""The word for the power of all equipment at once."""

LONGEST_S = 14400.0
"""Nothing is told that happens later than this [s]."""


@dataclass(frozen=True)
class Interruption:
    """One thing from outside; with a moment alone, the call ends.

    Parameters
    ----------
    at_s : float
        When [s] after the call.
    contact : str
        A field contact that opens or, with ``closed``, closes.
    closed : bool
        That the contact closes, that the power comes back, or that the flame can be proved again.
    call : str
        What the thermostats call from now on; ``off`` ends their call.
    caller : str
        The one thermostat whose call changes; all of them, without it.
    power : str
        Equipment that loses its power, or ``everything``.
    flame : str
        A burner, ``equipment.function``, whose flame goes out or cannot be proved.
    """

    at_s: float
    contact: str = ""
    closed: bool = False
    call: str = ""
    caller: str = ""
    power: str = ""
    flame: str = ""


def burners(circuit: Circuit) -> dict[str, int]:
    """Return the functions that prove a flame, ``equipment.function``, and how often each tries."""
    return {
        f"{device.id}.{name}": function.retry.tries
        for device in circuit.job.equipment.values()
        for name, function in device.part.functions.items()
        if function.retry is not None
    }


def check_outside(circuit: Circuit, item: Interruption) -> None:
    """Raise where an interruption names what the job does not have.

    Raises
    ------
    QuestionError
        With the nearest valid words.
    """
    _known(item.contact, circuit.field_contacts, "this job has no field contact")
    _known(item.call, calls_of_job(circuit), "no thermostat of this job can call")
    _known(item.flame, burners(circuit), "this job has no burner that proves a flame called")
    _known(item.power, (*circuit.job.equipment, EVERYTHING), "this job has no equipment")
    check_callers(circuit.job, item.call, [item.caller] if item.caller else [])


def _known(word: str, valid: object, complaint: str) -> None:
    words = list(valid)  # type: ignore[call-overload]
    if word and word not in words:
        raise QuestionError(f"{complaint} '{word}'; {nearest(word, words)}".removesuffix("; "))
