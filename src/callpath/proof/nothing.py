"""A job in which nothing can be wrong because nothing works: no call served and nothing running, or ends that do not fit."""

from __future__ import annotations

from collections.abc import Iterator

from callpath.job.model import Equipment
from callpath.proof.finding import Finding
from callpath.proof.states import Examined

__all__ = ["no_fit", "nothing_served"]

_SUPPLY = {"power", "common", "metal"}
_OWN_KIND = "fit a thermostat of the equipment's own kind"
_WORDS = {
    "24v-on-off": "24 V contacts",
    "line-voltage": "line voltage",
    "millivolt": "millivolts",
    "data-bus": "a data bus",
}


def nothing_served(examined: Examined) -> Iterator[Finding]:
    """No call is served and none runs anything, though there is equipment that could.

    Notes
    -----
    No worse than a note: where nothing is asked for, nothing fails. But it is no success, and is shown as none.
    """
    functions, unfit = tuple(examined.circuit.functions), _unfit(examined)
    if _idle(examined) and (functions or unfit):
        yield Finding(
            "nothing-served",
            "note",
            (),
            functions or tuple(stat.id for stat in _misfits(examined)),
            (),
            f"nothing runs on any call: {unfit or _why(examined)}",
            _OWN_KIND if unfit else "land what joins them, and say what it must serve",
        )


def no_fit(examined: Examined) -> Iterator[Finding]:
    """A thermostat that works in another way than all that it could call."""
    unfit = _unfit(examined)
    if unfit and not _idle(examined):
        yield Finding("no-fit", "note", (), tuple(stat.id for stat in _misfits(examined)), (), unfit, _OWN_KIND)


def _idle(examined: Examined) -> bool:
    beside = {name for call in examined.plain for name in examined.needs.beside(call)}
    running = {name for state in examined.plain.values() for name in state.running}
    return not examined.needs.serves() and running <= beside


def _others(examined: Examined) -> list[Equipment]:
    devices = examined.circuit.job.equipment.values()
    return [device for device in devices if device.part.role != "thermostat" and _classes(device)]


def _misfits(examined: Examined) -> list[Equipment]:
    theirs = {kind for device in _others(examined) for kind in _classes(device)}
    return [stat for stat in _thermostats(examined) if theirs and not _classes(stat) & theirs]


def _thermostats(examined: Examined) -> list[Equipment]:
    """Return the job's thermostats, those too that close nothing in a 24 V circuit."""
    return [device for device in examined.circuit.job.equipment.values() if device.part.role == "thermostat"]


def _classes(device: Equipment) -> set[str]:
    """Return by which kinds of signal equipment calls or is called; what only supplies it says nothing of that."""
    return {t.signal for t in device.part.terminals.values() if not set(t.means) <= _SUPPLY}


def _unfit(examined: Examined) -> str:
    """Say which thermostats do not fit what they could call; empty where all do."""
    others = _others(examined)
    theirs = " and ".join(sorted({_WORDS[kind] for device in others for kind in _classes(device)}))
    are = f"{_list(others)} {'is' if len(others) == 1 else 'are'} worked by {theirs}"
    ours = {stat.id: " and ".join(sorted(_WORDS[kind] for kind in _classes(stat))) for stat in _misfits(examined)}
    return "; ".join(f"{id_} works by {how} and {are}: they do not fit each other" for id_, how in ours.items())


def _why(examined: Examined) -> str:
    """Say why nothing runs: what is joined to no thermostat, or else that no loop is closed."""
    job, joins, stats = examined.circuit.job, examined.needs.joins, _thermostats(examined)
    able = [device for device in job.equipment.values() if device.part.functions]
    if not stats:
        return f"there is no thermostat that could call {_list(able)}"
    met = {
        name.partition(".")[0]
        for stat in stats
        for letters in stat.part.terminals
        for name in joins.net(f"{stat.id}.{letters}")
    }
    apart = [device for device in able if device.id not in met]
    if len(apart) == len(able):
        return f"no conductor joins {_list(stats)} to {_list(able)}"
    return f"what is landed between {_list(stats)} and {_list(able)} closes no loop through a load on any call"


def _list(devices: list[Equipment]) -> str:
    names = [device.id for device in devices]
    return " and ".join(filter(None, (", ".join(names[:-1]), *names[-1:])))
