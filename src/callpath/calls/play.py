"""What is to be played, in the words of the options of ``callpath sequence``; the command, the page and programs read it here."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from typing import Any

from callpath.calls.closing import call_rules, thermostats
from callpath.calls.outside import EVERYTHING, LONGEST_S, Interruption, burners
from callpath.calls.sequence import timing
from callpath.calls.timing import Timing
from callpath.circuit.build import Circuit
from callpath.errors import QuestionError

__all__ = ["OUTSIDE", "Outside", "Play", "from_outside", "play", "possible"]


@dataclass(frozen=True)
class Outside:
    """One kind of thing that comes from outside.

    ``field`` is that of ``Interruption`` which names it, ``closed`` is its own, ``form`` how it is written before ``@SECONDS``.
    """

    field: str
    closed: bool
    form: str
    such_as: str


OUTSIDE: Mapping[str, Outside] = {
    "then": Outside("call", False, "[THERMOSTAT=]CALL", "cool-2@600 or upstairs=heat@120"),
    "open": Outside("contact", False, "CONTACT", "float.switch@300"),
    "close": Outside("contact", True, "CONTACT", "float.switch@300"),
    "power-off": Outside("power", False, "WHAT", "board@300"),
    "power-on": Outside("power", True, "WHAT", "board@330"),
    "no-flame": Outside("flame", False, "BURNER", "board.heat@0"),
    "flame": Outside("flame", True, "BURNER", "board.heat@200"),
}
"""What can come from outside, by the option that says so."""


@dataclass(frozen=True)
class Play:
    """A call to play, and what comes between: the arguments of ``timing``, to be kept and compared."""

    call: str
    callers: tuple[str, ...] = ()
    outside: tuple[Interruption, ...] = ()
    stopped_ago_s: float = math.inf
    frost: bool = False

    def timing(self, circuit: Circuit) -> Timing:
        """Play it on a circuit."""
        return timing(
            circuit,
            self.call,
            callers=self.callers or None,
            interruptions=self.outside,
            stopped_ago_s=self.stopped_ago_s,
            frost=self.frost,
        )


def play(
    call: str,
    given: Mapping[str, Iterable[str] | None] | None = None,
    *,
    by: Iterable[str] | None = None,
    ends: float | None = None,
    stopped_ago: float | None = None,
    frost: bool = False,
) -> Play:
    """Return what the options ask for.

    Parameters
    ----------
    call : str
        The call; nothing else is checked here but how things are written.
    given : mapping, optional
        By the options of ``OUTSIDE``, what stands behind each, ``NAME@SECONDS``.
    by : iterable of str, optional
        The thermostats that make the call; all, without it.
    ends, stopped_ago : float, optional
        When the call ends [s]; how long before it the compressors stopped [s].
    frost : bool
        Whether the outdoor coil frosts over in heating.

    Raises
    ------
    QuestionError
        Something is not written as it should be.
    """
    outside = [from_outside(option, text) for option, texts in (given or {}).items() for text in texts or ()]
    if ends is not None:
        outside.append(Interruption(ends))
    return Play(call, tuple(by or ()), tuple(outside), math.inf if stopped_ago is None else stopped_ago, frost)


def from_outside(option: str, text: str) -> Interruption:
    """Return what one option asks for, ``NAME@SECONDS``.

    Raises
    ------
    QuestionError
        It is written otherwise, or the moment is later than anything is told.
    """
    kind = OUTSIDE[option]
    name, _, seconds = text.rpartition("@")
    try:
        at = float(seconds)
    except ValueError:
        at = math.nan
    if not name or not 0 <= at <= LONGEST_S:
        raise QuestionError(f"'{text}' is not {kind.form}@SECONDS, such as {kind.such_as}, with 0 to {LONGEST_S:.0f} s")
    fields: dict[str, Any] = {kind.field: name}
    if kind.field == "call":
        fields["caller"], _, fields["call"] = name.rpartition("=")
    return Interruption(at, closed=kind.closed, **fields)


def possible(circuit: Circuit, calls: Iterable[str]) -> Mapping[str, tuple[str, ...]]:
    """Return what each option can name in a job, by the options of ``OUTSIDE``."""
    names = {
        "call": tuple(_calls(circuit, tuple(calls))),
        "contact": tuple(circuit.field_contacts),
        "power": (EVERYTHING, *circuit.job.equipment),
        "flame": tuple(burners(circuit)),
    }
    return {option: names[kind.field] for option, kind in OUTSIDE.items()}


def _calls(circuit: Circuit, calls: tuple[str, ...]) -> Iterator[str]:
    yield from calls
    stats = thermostats(circuit.job)
    if len(stats) > 1:
        for stat in stats:
            yield from (f"{stat.id}={call}" for call in calls if call == "off" or call in call_rules(stat))
