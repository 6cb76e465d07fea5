"""From a name in a job file to the thing it names; what is wrong with a name is told, with what there was to name."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from functools import cached_property

from callpath.job.inventory import Device, Inventory
from callpath.job.problems import shown
from callpath.job.yamltext import Document, Path
from callpath.parts.model import Element

__all__ = ["Kind", "Names"]


class Kind:
    """The names of one kind of thing, most of them ``head.tail``; hidden ones can be used but are not offered."""

    def __init__(self, called: str, names: Iterable[str], hidden: Iterable[str] = ()) -> None:
        self.called = called
        self.all = list(names)
        self.known = {*self.all, *hidden}
        self._of: dict[str, list[str]] = {}
        self.tails: dict[str, list[str]] = {}
        for name in self.all:
            head, dot, tail = name.partition(".")
            self._of.setdefault(head, []).append(name)
            if dot:
                self.tails.setdefault(head, []).append(tail)

    def __contains__(self, name: str) -> bool:
        return name in self.known

    def __or__(self, other: Kind) -> Kind:
        return Kind(f"{self.called} or {other.called}", self.all + other.all, self.known | other.known)

    def near(self, head: str) -> list[str]:
        """Return the names of one cable or piece of equipment, or all where it has none."""
        return self._of.get(head) or self.all


class Names:
    """The names of one job."""

    def __init__(self, inventory: Inventory, document: Document) -> None:
        self._inventory = inventory
        self._document = document
        self._odd = tuple(f"{name}." for name in inventory.odd_ids)

    @cached_property
    def terminals(self) -> Kind:
        """Terminals, chassis included."""
        return Kind("a terminal", self._terminals())

    @cached_property
    def ends(self) -> Kind:
        """Where a conductor's end can sit."""
        return Kind("a terminal or a splice", [*self._terminals(), *self._inventory.splices])

    @cached_property
    def chassis(self) -> Kind:
        """The metal of equipment, where it has a terminal."""
        return Kind("a chassis", (name for name in self._terminals() if name.endswith(".chassis")))

    @cached_property
    def conductors(self) -> Kind:
        """Conductors of cables."""
        runs = self._inventory.runs.values()
        return Kind("a conductor", (f"{run.id}.{colour}" for run in runs for colour in run.conductors))

    @cached_property
    def elements(self) -> Kind:
        """Elements that are fitted."""
        return self._elements("an element", lambda element: True)

    @cached_property
    def openings(self) -> Kind:
        """What can be open or badly connected."""
        return self.conductors | self.elements

    @cached_property
    def shorted(self) -> Kind:
        """What can touch."""
        return self.conductors | self.chassis

    @cached_property
    def sources(self) -> Kind:
        """Elements that feed the circuit."""
        return self._elements("a source", lambda element: element.kind == "source")

    @cached_property
    def functions(self) -> Kind:
        """What equipment does."""
        devices = self._inventory.devices.values()
        return Kind("a function", (f"{d.id}.{name}" for d in devices for name in (d.part.functions if d.part else ())))

    @cached_property
    def windings(self) -> Kind:
        """Elements whose winding or heater can fail short."""
        return self._elements("a coil or load", lambda element: element.kind in ("coil", "load", "input"))

    @cached_property
    def coils(self) -> Kind:
        """Coils, which can lose part of their turns."""
        return self._elements("a coil", lambda element: element.kind == "coil")

    @cached_property
    def settings(self) -> Kind:
        """Settings of equipment."""
        devices = self._inventory.devices.values()
        return Kind("a setting", (f"{d.id}.{name}" for d in devices for name in (d.part.settings if d.part else ())))

    @cached_property
    def contacts(self) -> Kind:
        """Contacts, whatever moves them."""
        return self._elements("a contact", lambda element: element.kind == "contact")

    @cached_property
    def sticking(self) -> Kind:
        """What can stay closed or pulled in: contacts, and coils that a contact or a function follows."""
        devices = self._inventory.devices.values()
        followed = (
            f"{d.id}.{name}"
            for d in devices
            if d.part
            for name in d.part.followed
            if d.part.elements[name].kind == "coil"
        )
        fitted_coils = self.coils
        return self.contacts | Kind(
            "a coil that something follows", (name for name in followed if name in fitted_coils)
        )

    @cached_property
    def field_contacts(self) -> Kind:
        """Contacts that nothing in the circuit drives."""
        return self._elements("a field contact", lambda element: element.field)

    def find(self, name: str | None, kind: Kind, path: Path, *, key: bool = False) -> bool:
        """Tell whether a name is one of a kind; where it is not, note what is wrong, unless that cannot be known.

        Parameters
        ----------
        name : str or None
            What was written; None where that has been told to be wrong.
        kind : Kind
            What is wanted.
        path : tuple
            Where in the document it stands.
        key : bool
            The name is the key there, not the value.
        """
        if name is None or name in kind:
            return name is not None
        head, dot, tail = name.partition(".")
        word, valid = name if dot else "", kind.near(head)
        if other := self._other(name):
            message = f"{shown(name)} is {other}, not {kind.called}"
        elif dot and (head in self._inventory.devices or head in self._inventory.runs):
            if not self._complete(head):
                return False
            message = f"{shown(head)} has nothing called {shown(tail)}"
            if tails := kind.tails.get(head) or ([] if valid else self._not_fitted(head)):
                word, valid = tail, tails
        elif name.startswith(self._odd) or self._document.lost & {"equipment", "cables", "splices"}:
            return False
        else:
            message = f"{shown(name)} is not {kind.called} of this job"
            word = name
        if not valid:
            message += "; this job has none"
        self._document.tell(path, message, word=word, valid=valid, key=key)
        return False

    def at(self, location: str | None) -> list[str]:
        """Return the terminals and splices at a location."""
        return self._at.get(location, [])

    @cached_property
    def _at(self) -> dict[str | None, list[str]]:
        found: dict[str | None, list[str]] = {}
        for name in self.ends.all:
            found.setdefault(self.location(name), []).append(name)
        return found

    def device(self, name: str) -> Device | None:
        """Return the equipment of an id, None where there is none."""
        return self._inventory.devices.get(name)

    def is_splice(self, end: str) -> bool:
        """Tell whether a name is that of a splice."""
        return end in self._inventory.splices

    def location(self, end: str) -> str | None:
        """Return where a terminal or splice is, None where that is not known."""
        if end in self._inventory.splices:
            return self._inventory.splices[end]
        device = self._inventory.devices.get(end.partition(".")[0])
        return device.at if device else None

    def _terminals(self) -> Iterator[str]:
        for device in self._inventory.devices.values():
            for letters in device.part.terminals if device.part else ():
                yield f"{device.id}.{letters}"

    def _elements(self, called: str, test: Callable[[Element], bool]) -> Kind:
        found = [
            (f"{device.id}.{name}", element.hidden)
            for device in self._inventory.devices.values()
            for name, element in device.elements.items()
            if test(element)
        ]
        return Kind(called, (name for name, hidden in found if not hidden), (name for name, hidden in found if hidden))

    def _not_fitted(self, head: str) -> list[str]:
        """Return the elements that equipment would have with other settings."""
        device = self._inventory.devices.get(head)
        if device is None or device.part is None:
            return []
        return [name for name in device.part.shown_elements if name not in device.elements]

    def _complete(self, head: str) -> bool:
        """Tell whether all names of a cable or piece of equipment are known."""
        device, run = self._inventory.devices.get(head), self._inventory.runs.get(head)
        return (device is None or device.part is not None) and (run is None or run.sure)

    def _other(self, name: str) -> str | None:
        """Return what a name is, if it is anything."""
        if name in self._inventory.splices:
            return "a splice"
        head, dot, tail = name.partition(".")
        device, run = self._inventory.devices.get(head), self._inventory.runs.get(head)
        if not dot:
            return "equipment" if device else "a cable" if run else None
        if run and tail in run.conductors:
            return "a conductor"
        if device is None or device.part is None:
            return None
        if tail in device.part.terminals:
            return "a terminal"
        element = device.part.elements.get(tail)
        if element is None:
            return None
        if tail in device.elements:
            return f"an element of another kind ({element.kind})"
        having = ", ".join(f"{key}: {_yaml(device.settings.get(key))}" for key in element.when or {})
        return f"an element that is not fitted ({having})"


def _yaml(value: object) -> str:
    return shown(value).strip("'") if value is not None else "not given"
