"""Supply landed the wrong way round: a source's hot side where equipment has its common, the return where it has its power."""

from __future__ import annotations

from dataclasses import dataclass

from callpath.job.model import Equipment
from callpath.proof.states import Examined

__all__ = ["Crossed", "crossed_at"]


_OTHER: dict[tuple[str, ...], tuple[str, ...]] = {("power",): ("common",), ("common",): ("power",)}


@dataclass(frozen=True)
class Crossed:
    """A terminal of equipment that a source's other side is joined to: the terminal, that of the source, the leads between."""

    terminal: str
    brought: str
    leads: tuple[str, ...]

    def __str__(self) -> str:
        return f"{', '.join(self.leads) or 'a jumper'} brings {self.brought} to {self.terminal}"


def crossed_at(examined: Examined, id_: str) -> tuple[Crossed, ...]:
    """Return the terminals of equipment for power and common that the other side of a source is joined to.

    Where there is one for power and one for common, the two leads are exchanged.

    Parameters
    ----------
    id_ : str
        The equipment; empty, or no equipment's id, where there is none.
    """
    job, joins = examined.circuit.job, examined.needs.joins
    equipment = job.equipment.get(id_)
    if equipment is None or _has_source(equipment):
        return ()
    found = []
    for letters, terminal in equipment.part.terminals.items():
        other = _OTHER.get(tuple(terminal.means))
        if other is None:
            continue
        name = f"{id_}.{letters}"
        brought = [
            whole
            for device, its, whole in joins.terminals(joins.net(name))
            if _has_source(device) and tuple(device.part.terminals[its].means) == other
        ]
        if brought:
            found.append(Crossed(name, brought[0], tuple(sorted(joins.conductors_at(name)))))
    return tuple(found)


def _has_source(equipment: Equipment) -> bool:
    return any(element.kind == "source" for element in equipment.part.elements.values())
