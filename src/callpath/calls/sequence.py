"""The sequence of operation: what energises, closes and runs on a call, when, why, and by which way the current comes.

Coils and contacts move at once; functions of equipment, end switches and burners have delays. Time steps from one event to the
next: at each, the circuit is settled anew with the delayed contacts as they stand then.
"""

from __future__ import annotations

import math
from collections.abc import Collection, Sequence

from callpath.calls.closing import check_callers, given_for
from callpath.calls.guard import Safety, safeties
from callpath.calls.outside import LONGEST_S, Interruption, check_outside
from callpath.calls.timeline import Timeline
from callpath.calls.timing import Event, Timing
from callpath.circuit.build import Circuit

__all__ = ["LONGEST_S", "Event", "Interruption", "Safety", "safeties", "sequence", "timing"]


def sequence(
    circuit: Circuit,
    call: str,
    *,
    interruptions: Sequence[Interruption] = (),
    stopped_ago_s: float = math.inf,
) -> list[Event]:
    """Return what happens on a call, in order: the events of its ``timing``."""
    return list(timing(circuit, call, interruptions=interruptions, stopped_ago_s=stopped_ago_s).events)


def timing(
    circuit: Circuit,
    call: str,
    *,
    callers: Collection[str] | None = None,
    interruptions: Sequence[Interruption] = (),
    stopped_ago_s: float = math.inf,
    frost: bool = False,
) -> Timing:
    """Play a call, and what comes between.

    Parameters
    ----------
    call : str
        The call; it begins at 0 s, the circuit having rested in ``off``.
    callers : collection of str, optional
        The thermostats that make it; all that can, without it.
    interruptions : sequence of Interruption
        What happens from outside meanwhile.
    stopped_ago_s : float
        How long before the call every compressor stopped [s].
    frost : bool
        Whether the outdoor coil frosts over in heating, so that defrost comes round.

    Raises
    ------
    QuestionError
        The call, a field contact, thermostat, burner or equipment does not exist.
    """
    given_for(circuit, call)
    check_callers(circuit.job, call, callers or ())
    for item in interruptions:
        check_outside(circuit, item)
    line = Timeline(circuit, stopped_ago_s, frost=frost)
    line.run(call, callers, sorted(interruptions, key=lambda item: item.at_s))
    return line.timing()
