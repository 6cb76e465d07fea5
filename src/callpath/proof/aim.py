"""Which terminal of a thermostat should bring a function about on a call."""

from __future__ import annotations

from collections.abc import Collection

from callpath.calls.closing import outputs_for
from callpath.circuit.snapshot import Snapshot
from callpath.proof.route import hot_side
from callpath.proof.states import Examined

__all__ = ["output_for", "purposes_of"]

# For loads whose own terminals do not say it.
_PURPOSE = {
    "compressor": ("cool",),
    "blower": ("fan", "cool", "heat"),
    "heat": ("heat",),
    "heat-2": ("heat-2", "heat"),
    "aux-heat": ("aux", "heat", "emergency"),
    "reversing-valve": ("changeover",),
    "open": ("heat",),
    "circulator": ("heat",),
}
_NO_PURPOSE = {"power", "common", "metal", "pass", "coil", "dry"}


def purposes_of(examined: Examined, function: str, driver: int) -> tuple[str, ...]:
    """Return what a terminal means that should bring a function about: what its driver's own terminals mean, or what is usual."""
    equipment, element = examined.circuit.elements[examined.circuit.network.branches[driver].name]
    terminals = [equipment.part.terminals[point] for point in element.between if point in equipment.part.terminals]
    means = [purpose for terminal in terminals for purpose in terminal.means if purpose not in _NO_PURPOSE]
    return tuple(means) or _PURPOSE.get(function.partition(".")[2], ())


def output_for(
    examined: Examined,
    call: str,
    state: Snapshot,
    purposes: Collection[str],
    owner: str,
    callers: Collection[str] | None = None,
) -> str | None:
    """Return the thermostat terminal that should bring something about on a call: one that means one of its purposes.

    Of several thermostats it is the one that comes to ``owner``, the equipment to run, before one that the voltage reaches,
    before one that comes to nothing, before one that runs something else; one that is landed before one that is not.
    """
    job, joins = examined.circuit.job, examined.needs.joins
    asked = [(stat, output) for stat, outputs in outputs_for(job, call, callers).items() for output in outputs]
    if not purposes:
        return f"{asked[0][0]}.{asked[0][1]}" if asked else None
    found: list[tuple[bool, int, bool, bool, bool, tuple[str, str]]] = []
    for stat, output in asked:
        means = job.equipment[stat].part.terminals[output].means
        ranks = [rank for rank, purpose in enumerate(purposes) if purpose in means]
        if ranks:
            reached = joins.reached(f"{stat}.{output}")
            node = state.circuit.network.node_of[f"{stat}.{output}"]
            cold = not any(hot_side(state, s, node) for s in range(len(state.circuit.network.sources)))
            bare = stat not in examined.needs.landed
            # What is told must not hang on how the equipment is called: what it is comes before its id.
            last = (job.equipment[stat].part.part, f"{stat}.{output}")
            found.append((owner not in reached, ranks[0], cold, bool(reached), bare, last))
    return min(found)[-1][1] if found else None
