"""Where the volts go that a load lacks: in leads, inside the source, or in something else on the way; and what helps there."""

from __future__ import annotations

from dataclasses import dataclass

from callpath.circuit.copper import LOADS
from callpath.circuit.path import branches, to_and_back
from callpath.circuit.snapshot import Snapshot

__all__ = ["Lost", "lost"]

_TOLD_VOLTS = 0.5


@dataclass(frozen=True)
class Lost:
    """The volts that do not come to a load, by what takes them, the most first; ``said`` and ``helps`` say it in words."""

    leads: dict[str, float]
    source: dict[str, float]
    others: dict[str, float]
    said: str
    helps: str


def lost(state: Snapshot, load: int) -> Lost | None:
    """Return where the volts go on the way of a load's current; None where no current flows or none are lost.

    Parameters
    ----------
    state : Snapshot
    load : int
        Branch of the load.

    Notes
    -----
    Each is the magnitude of a phasor; a coil's current lags, so that they add up to more than what is missing.
    """
    network, job = state.circuit.network, state.circuit.job
    on_the_way = [i for i in branches(state, load) if i != load]
    if not on_the_way:
        return None
    feeding = network.sources[int(abs(state.shares[:, load]).argmax())].branch
    drops = {
        network.branches[i].name: float(abs(state.volts[i] - state.emf[i]))
        for i in dict.fromkeys([*on_the_way, feeding])
    }
    drops = {name: volts for name, volts in sorted(drops.items(), key=lambda drop: -drop[1]) if volts > _TOLD_VOLTS}
    bad = {where for fault in job.faults for where in fault.where}
    leads = {name: volts for name, volts in drops.items() if name in job.landings and name not in bad}
    name = network.branches[feeding].name
    source = {name: drops[name]} if name in drops and name not in bad else {}
    others = {name: volts for name, volts in drops.items() if name not in leads and name not in source}
    if not drops:
        return None
    said = ", ".join(
        f"{volts:.1f} V {'inside' if name in source else 'in'} {name}{_run(state, name) if name in leads else ''}"
        for name, volts in drops.items()
    )
    most = max(sum(part.values()) for part in (leads, source, others))
    helps = []
    if sum(others.values()) > 0.5 * most:
        series = [name for name in others if network.branches[network.index[name]].kind in LOADS]
        helps.append(
            f"take {' and '.join(series)} out of its way: a load has the whole voltage only where no other stands in series"
            if series
            else f"see why {' and '.join(others)} takes so much: a bad joint, or a dirty contact"
        )
    if sum(leads.values()) > 0.5 * most:
        by_relay = f"only a relay's small coil over it, whose contact feeds {network.branches[load].name}"
        if leads.keys() & set(to_and_back(state, load)[1]):
            # Both leads of the load are that long: a relay at the far end has nothing there to switch.
            by_relay += " from a source of its own over there"
        helps.append(f"heavier or shorter wire, or {by_relay}")
    if sum(source.values()) > 0.5 * most:
        helps.append("a larger transformer, or less on it at once")
    return Lost(leads, source, others, said, "; ".join(helps))


def _run(state: Snapshot, conductor: str) -> str:
    cable = state.circuit.job.cables[conductor.partition(".")[0]]
    return f" ({cable.length_ft:.0f} ft of {cable.awg} AWG)"
