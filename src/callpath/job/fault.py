"""What the job gives beside its wiring: calls to serve, field contacts moved by hand, and planted faults."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from typing import Any

from callpath.job.inventory import Inventory, plain
from callpath.job.model import Fault, Landing
from callpath.job.name import Names
from callpath.job.problems import shown
from callpath.job.shape import FaultShape, JobShape, read_entry, read_shape, spoken, state, text
from callpath.job.yamltext import UNREAD, Document, Path
from callpath.parts.model import SettingValue, fitted

__all__ = ["read_contacts", "read_faults", "read_serves"]

_KINDS = (
    "open",
    "short",
    "dead",
    "stuck",
    "tripped",
    "high-resistance",
    "swapped",
    "missing",
    "loose",
    "extra",
    "shorted",
    "burned",
    "tapped",
    "setting",
)
# What may stand beside a kind of fault, and beside no other.
_BESIDE = {"ohms": "high-resistance", "volts": "tapped", "to": "setting"}
CALLS = ("off", "fan", "cool", "cool-2", "heat", "heat-2", "aux", "emergency", "defrost")
DEFAULT_OHMS = 20.0
DEFAULT_TAP_VOLTS = 13.5
"""Open-circuit volts of a 24 V secondary whose primary sits on its 240 V tap and gets 120 V: half of 27."""


def read_serves(top: JobShape, inventory: Inventory, document: Document) -> tuple[str, ...] | None:
    """Return the calls that the job must serve, None where it does not say, and note what is wrong with them."""
    if top.serves is None:
        return None
    stats = [device for device in inventory.devices.values() if device.part and device.part.calls]
    made = {"off"} | {
        call
        for device in stats
        for call, rule in (device.part.calls.items() if device.part else ())
        if not device.sure or fitted(rule.when, device.settings)
    }
    known = {*CALLS, *(call for device in stats if device.part for call in device.part.calls)}
    all_known = "equipment" not in document.lost and all(device.part for device in inventory.devices.values())
    calls: dict[str, int] = {}
    for position, data in enumerate(top.serves):
        path = ("serves", position)
        call = read_shape(text, data, path, document)
        if call is None:
            continue
        if call in calls:
            document.tell(path, f"the call {shown(call)} is listed twice")
        elif call not in known:
            document.tell(path, f"there is no call {shown(call)}", word=call, valid=made if all_known else known)
        elif call not in made and all_known:
            document.tell(
                path, f"no thermostat of this job can make the call {shown(call)} as it is set", word=call, valid=made
            )
        calls.setdefault(call, position)
    return tuple(calls)


def read_contacts(top: JobShape, names: Names, document: Document) -> dict[str, bool]:
    """Return the field contacts that the job moves, closed (True) or open, and note what is wrong with them."""
    contacts: dict[str, bool] = {}
    for name, data in (top.contacts or {}).items():
        path = ("contacts", name)
        names.find(name, names.field_contacts, path, key=True)
        closed = read_shape(state, data, path, document)
        if closed is not None:
            contacts[name] = closed
    return contacts


def read_faults(
    top: JobShape,
    names: Names,
    landings: Mapping[str, Landing],
    jumpers: Collection[tuple[str, str]],
    document: Document,
) -> tuple[Fault, ...]:
    """Return the planted faults, and note what is wrong with them."""
    reading = _Faults(names, landings, {frozenset(jumper): jumper for jumper in jumpers}, document)
    faults = (reading.fault(data, ("faults", position)) for position, data in enumerate(top.faults or ()))
    return tuple(fault for fault in faults if fault is not None)


class _Faults:
    def __init__(
        self,
        names: Names,
        landings: Mapping[str, Landing],
        jumpers: Mapping[frozenset[str], tuple[str, str]],
        document: Document,
    ) -> None:
        self.names = names
        self.landings = landings
        self.jumpers = jumpers
        self.listed = [f"[{one}, {other}]" for one, other in jumpers.values()]
        self.document = document
        self.one_name = {
            "open": names.openings,
            "high-resistance": names.openings,
            "dead": names.sources | names.functions,
            "stuck": names.sticking,
            "tripped": names.field_contacts,
            "shorted": names.windings,
            "burned": names.coils,
            "tapped": names.sources,
            "setting": names.settings,
        }

    def fault(self, data: Any, path: Path) -> Fault | None:
        tell = self.document.tell
        shape = read_entry(FaultShape, path, data, self.document)
        if not isinstance(data, dict):
            return None
        kinds = [kind for kind in _KINDS if kind in data or (*path, kind) in self.document.spelled]
        kinds.sort(key=lambda kind: self.document.key(*path, kind))
        if not kinds and data.keys() <= _BESIDE.keys():
            tell(path, f"{spoken(path)} names no fault", valid=_KINDS)
        for kind in kinds[1:]:
            tell((*path, kind), f"one fault a line; this line has {shown(kinds[0])} already", key=True)
        for word, owner in _BESIDE.items():
            if getattr(shape, word) is not None and kinds and owner not in kinds:
                tell((*path, word), f"'{word}' goes with '{owner}', not with {shown(kinds[0])}", key=True)
        found = {kind: self._where(kind, data, shape, path) for kind in kinds}
        for kind, where in found.items():
            return Fault(
                # A source that is dead takes its volts away, a function only itself.
                "idle" if kind == "dead" and where and where[0] in self.names.functions else kind,
                where,
                ohms=(shape.ohms or DEFAULT_OHMS) if kind == "high-resistance" else None,
                volts=(shape.volts or DEFAULT_TAP_VOLTS) if kind == "tapped" else None,
                to=self._to(where, data, path) if kind == "setting" and where else None,
            )
        return None

    def _where(self, kind: str, data: dict[str, Any], shape: FaultShape, path: Path) -> tuple[str, ...]:
        """Return the names that a fault gives, () where it gives none that can be understood."""
        value = getattr(shape, kind.replace("-", "_"))
        path = (*path, kind)
        if kind in data and data[kind] is None:
            self.document.tell(path, f"{spoken(path)} names nothing", key=True)
        if value is None:
            return ()
        if isinstance(value, str):
            self.names.find(value, self.one_name[kind], path)
            return (value,)
        names = self.names
        wanted = {
            "short": (names.shorted, names.shorted),
            "swapped": (names.conductors, names.conductors),
            "missing": (names.terminals, names.terminals),
            "loose": (names.conductors, names.ends),
            "extra": (names.terminals, names.terminals),
        }[kind]
        found = [
            names.find(name, kind_of, (*path, i)) for i, (name, kind_of) in enumerate(zip(value, wanted, strict=True))
        ]
        if not all(found):
            return ()
        one, other = value
        match kind:
            case "missing":
                return self._jumper(one, other, path)
            case "loose":
                return self._landing(one, other, path)
            case "extra":
                return self._link(one, other, path)
        return self._two_conductors(one, other, path)

    def _landing(self, conductor: str, end: str, path: Path) -> tuple[str, ...]:
        """Tell of an end where the conductor does not sit."""
        sits = [where for where in self.landings.get(conductor, ()) if where is not None]
        if end not in sits and "landings" not in self.document.lost:
            message = f"{shown(conductor)} does not sit on {shown(end)}"
            self.document.tell((*path, 1), message if sits else f"{message}, nor on anything", word=end, valid=sits)
        return conductor, end

    def _link(self, one: str, other: str, path: Path) -> tuple[str, ...]:
        """Tell of two terminals that one short link cannot join."""
        if one == other:
            self.document.tell((*path, 1), f"{shown(one)} twice; name two different terminals")
        elif (here := self.names.location(one)) != self.names.location(other):
            valid = [name for name in self.names.at(here) if name in self.names.terminals]
            self.document.tell((*path, 1), f"{shown(other)} is not in {shown(here)}", word=other, valid=valid)
        return one, other

    def _to(self, where: tuple[str, ...], data: dict[str, Any], path: Path) -> SettingValue:
        """Return the wrong value of a setting, None where it is told to be no value of it."""
        equipment, _, name = where[0].partition(".")
        device = self.names.device(equipment)
        setting = device.part.settings.get(name) if device and device.part else None
        if device is None or setting is None:
            return None
        value = data.get("to")
        if value is None:
            self.document.tell(path, f"{spoken(path)} has no 'to', the wrong value of {shown(where[0])}")
        elif value is not UNREAD and (problem := setting.problem(value)):
            self.document.tell((*path, "to"), f"{spoken((*path, 'to'))} {problem}, not {shown(value)}")
        elif value is not UNREAD and device.settings.get(name) == value:
            self.document.tell((*path, "to"), f"{shown(where[0])} has the value {shown(value)} already")
        return None if value is UNREAD else plain(value, setting)

    def _two_conductors(self, one: str, other: str, path: Path) -> tuple[str, str]:
        """Tell of two names that are not two conductors of one cable, nor a conductor and a chassis."""
        conductors, place = self.names.conductors, (*path, 1)
        cable = one.partition(".")[0]
        if one == other:
            self.document.tell(place, f"{shown(one)} twice; name two different ones")
        elif one not in conductors and other not in conductors:
            message = f"{shown(one)} and {shown(other)} are joined already, metal to metal; name a conductor"
            self.document.tell(place, message, word=other, valid=conductors.all)
        elif one in conductors and other in conductors and cable != other.partition(".")[0]:
            message = f"{shown(other)} is not in cable {shown(cable)}"
            self.document.tell(place, message, word=other, valid=conductors.near(cable))
        return one, other

    def _jumper(self, one: str, other: str, path: Path) -> tuple[str, str]:
        """Return the job's jumper between two terminals, in the job's own order."""
        ends = frozenset((one, other))
        if ends not in self.jumpers and "jumpers" not in self.document.lost:
            message = f"the job has no jumper from {shown(one)} to {shown(other)}"
            self.document.tell(path, message, word=f"[{one}, {other}]", valid=self.listed)
        return self.jumpers.get(ends, (one, other))
