"""What somebody read and saw, in the form that the commissioning form is filled with."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from callpath.calls.closing import callers_of
from callpath.calls.reading import amps_in, jumper_name, ohms_between, points_of, volts_between
from callpath.circuit.build import Circuit
from callpath.circuit.meter import Reading
from callpath.faults.asked import Seen

__all__ = ["Taken", "taken_from"]

_UNITS = {"volts": "V", "amps": "A", "ohms": "Ω"}


@dataclass(frozen=True)
class Taken:
    """One thing that was read or seen on a call.

    A reading has its ``points`` (two for volts and ohms, the conductor for amps), ``unit`` (``V``, ``A`` or ``Ω``) and ``value``,
    infinite for an open line in ohms; ``lifted`` conductors were off meanwhile, ``jumped`` terminals joined. ``running`` tells
    what was seen to run or not. ``by`` are the thermostats that made the call, empty where all that can did.
    """

    call: str
    points: tuple[str, ...] = ()
    unit: str = ""
    value: float = 0.0
    lifted: tuple[str, ...] = ()
    low_z: bool = False
    running: Mapping[str, bool] = field(default_factory=dict)
    jumped: tuple[str, ...] = ()
    by: tuple[str, ...] = ()

    def comparable(self, circuit: Circuit) -> bool:
        """Tell whether the circuit as wired says what should be read: not with a jumper on.

        Nor where it has no such point, conductor or function, or no such thermostat makes the call.
        """
        named = {*points_of(circuit), *circuit.job.landings, *map(jumper_name, circuit.job.jumpers), *circuit.functions}
        can = not self.by or set(self.by).issubset(callers_of(circuit.job, self.call))
        return can and not self.jumped and named.issuperset((*self.points, *self.lifted, *self.running))

    def expected(self, circuit: Circuit) -> Reading:
        """Return what the circuit says that a meter shows there."""
        if self.unit == "A":
            return amps_in(circuit, self.call, self.points[0], by=self.by)
        one, two = self.points
        if self.unit == "Ω":
            return ohms_between(circuit, one, two, call=self.call, lifted=self.lifted, by=self.by)
        return volts_between(circuit, self.call, one, two, low_z=self.low_z, by=self.by)


def taken_from(seen: Seen) -> Taken:
    """Return one line of what ``troubleshoot`` reads as a reading taken."""
    test, answer = seen.test, seen.answer
    jumped = test.jumped or ()
    if test.kind == "running":
        return Taken(test.call, running=answer.running, jumped=jumped)
    points = test.between or (test.conductor or "",)
    return Taken(test.call, points, _UNITS[test.kind], answer.value, test.lifted, test.low_z, jumped=jumped)
