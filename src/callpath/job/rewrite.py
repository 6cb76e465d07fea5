"""Changing what a job file says while keeping everything else of its text: comments, order, layout.

A YAML library that loads and dumps keeps comments but not the columns that a person has lined up, so the text is not
dumped: the library tells where each value stands, and only those stretches are replaced.
"""

from __future__ import annotations

import json
from collections import Counter
from collections.abc import Collection, Mapping, Sequence
from dataclasses import replace
from itertools import groupby
from typing import Any

from callpath.errors import CallpathError, QuestionError, nearest
from callpath.job.layout import Entry, Layout, says
from callpath.job.model import Cable, Equipment, Job, Landing
from callpath.job.read import read_job
from callpath.job.write import SECTIONS, flow, job_data
from callpath.parts.catalogue import Catalogue
from callpath.parts.model import SettingValue

__all__ = ["with_changes", "with_job"]

_Items = list[tuple[str, Any]]


def with_job(text: str, job: Job, catalogue: Catalogue | None = None) -> str:
    """Return a job file's text changed so that it says another job; comments, order and layout stay.

    Parameters
    ----------
    text : str
        A sound job file.
    job : Job
        The job wanted: its equipment and cables, landings, splices, jumpers, serves and settings may differ from what the
        text says, and faults may be gone.
    catalogue : Catalogue, optional
        Where parts are looked up; by default the one that ships with callpath.

    Raises
    ------
    JobError
        The text is no sound job.
    CallpathError
        The job differs in something else, so that this text cannot be made to say it.
    """
    before = read_job(text, catalogue=catalogue)
    added: dict[str, Mapping[str, Any]] = {}
    dropped: dict[str, Collection[str]] = {}
    for section in ("equipment", "cables"):
        was, wanted, written = getattr(before, section), getattr(job, section), job_data(job).get(section, {})
        new = [name for name in wanted if name not in was or _kind(wanted[name]) != _kind(was[name])]
        added[section] = {name: written[name] for name in new}
        dropped[section] = [name for name in was if name in new or name not in wanted]
    stays = {id_: device for id_, device in job.equipment.items() if id_ not in added["equipment"]}
    settings = {}
    for device in stays.values():
        old = before.equipment[device.id].settings
        settings[device.id] = {name: value for name, value in device.settings.items() if value != old.get(name)}
    changed = with_changes(
        text,
        landings=job.landings,
        splices=job.splices,
        jumpers=job.jumpers,
        serves=job.serves,
        settings={device: values for device, values in settings.items() if values},
        mended=[i for i, fault in enumerate(before.faults) if fault not in job.faults],
        added=added,
        dropped={**dropped, "landings": [name for name in before.landings if name not in job.landings]},
    )
    after = read_job(changed, file=job.file, catalogue=catalogue)
    if replace(after, jumpers=()) != replace(job, jumpers=()) or _pairs(after.jumpers) != _pairs(job.jumpers):
        raise CallpathError("the text of the job file cannot be changed to say this job; write it anew instead")
    return changed


def with_changes(
    text: str,
    *,
    landings: Mapping[str, Landing] | None = None,
    splices: Mapping[str, str] | None = None,
    jumpers: Sequence[tuple[str, str]] | None = None,
    serves: Sequence[str] | None = None,
    settings: Mapping[str, Mapping[str, SettingValue]] | None = None,
    mended: Sequence[int] = (),
    title: str | None = None,
    contacts: Mapping[str, str] | None = None,
    added: Mapping[str, Mapping[str, Any]] | None = None,
    dropped: Mapping[str, Collection[str]] | None = None,
    amended: Mapping[str, Mapping[str, Mapping[str, Any]]] | None = None,
) -> str:
    """Return a job file's text with some of what it says changed; all other lines stay as they are.

    A comment beside or inside an entry that is taken out goes with it; every other comment stays. That the result is a sound job
    is for the caller to check, who knows what was wanted.

    Parameters
    ----------
    text : str
        A sound job file.
    landings : mapping, optional
        The conductors to land; those not named stay as they are. One that is capped at both ends and not in the text is
        not added to it.
    splices : mapping, optional
        All splices that there shall be.
    jumpers : sequence, optional
        All jumpers that there shall be, either way round.
    serves : sequence, optional
        All calls to serve, in this order.
    settings : mapping, optional
        For some equipment the settings to change; the others stay as they are.
    mended : sequence of int
        The faults to take out, by their place in the list.
    title : str, optional
        The new title.
    contacts : mapping, optional
        All field contacts that shall not be at rest: ``open`` or ``closed``.
    added : mapping, optional
        New entries of ``equipment`` and ``cables``, as plain data.
    dropped : mapping, optional
        Entries of ``equipment``, ``cables`` and ``landings`` to take out.
    amended : mapping, optional
        For some entries of ``equipment`` and ``cables`` the keys to change, as plain data; the others stay as they are.

    Raises
    ------
    QuestionError
        Settings are given for equipment that the text does not have.
    """
    mark = "\ufeff" if text.startswith("\ufeff") else ""
    edit = _Edit(text.removeprefix(mark))
    if title is not None:
        edit.title(title)
    if settings is not None:
        edit.settings(settings)
    for section, entries in (amended or {}).items():
        edit.amend(section, entries)
    for section in ("equipment", "cables", "landings"):
        gone = (dropped or {}).get(section, ())
        edit.entries(section, (added or {}).get(section, {}), gone)
    if landings is not None:
        edit.landings(landings)
    if splices is not None:
        edit.mapping("splices", splices)
    if contacts is not None:
        edit.mapping("contacts", contacts)
    if jumpers is not None:
        edit.jumpers(jumpers)
    if serves is not None:
        edit.serves(serves)
    if mended:
        edit.faults(mended)
    return mark + edit.result()


def _kind(thing: Equipment | Cable) -> Any:
    """Return what of a device or a cable is not changed in its entry: all but a device's settings."""
    return (thing.part.part, thing.at) if isinstance(thing, Equipment) else thing


def _pairs(jumpers: Sequence[tuple[str, str]]) -> set[frozenset[str]]:
    return {frozenset(jumper) for jumper in jumpers}


def _collection(items: _Items) -> Any:
    return dict(items) if items[0][0] else [value for _, value in items]


class _Edit:
    """A text and the stretches of it to replace."""

    def __init__(self, text: str) -> None:
        self._text = text
        self._layout = Layout(text)
        self._changes: list[tuple[int, int, str]] = []
        self._sections = self._layout.named(self._layout.root)
        self._all_flow = bool(self._layout.root.flow_style)
        self._margin = " " * self._layout.root.start_mark.column
        self._json = self._all_flow and self._layout.root.value[0][0].style == '"'

    def result(self) -> str:
        """Return the text with everything replaced."""
        pieces, at = [], 0
        for start, end, new in sorted(self._changes, key=lambda change: change[0]):
            pieces += [self._text[at:start], new]
            at = end
        return "".join([*pieces, self._text[at:]])

    def settings(self, wanted: Mapping[str, Mapping[str, SettingValue]]) -> None:
        devices = self._named("equipment")
        for device, values in wanted.items():
            if device not in devices:
                raise QuestionError(f"the job has no equipment '{device}'; {nearest(device, devices)}")
            held = self._layout.named(devices[device].value)
            if "settings" not in held:
                self._append(devices[device], [("settings", dict(values))] if values else [])
                continue
            present = self._layout.named(held["settings"].value)
            for name, value in values.items():
                if name in present and not says(present[name].value, value):
                    self._put(present[name], value)
            self._append(held["settings"], [item for item in values.items() if item[0] not in present])

    def amend(self, section: str, wanted: Mapping[str, Mapping[str, Any]]) -> None:
        present = self._named(section)
        for name, values in wanted.items():
            held = self._layout.named(present[name].value)
            for key, value in values.items():
                if key in held and not says(held[key].value, value):
                    self._put(held[key], value)
            self._append(present[name], [item for item in values.items() if item[0] not in held])

    def landings(self, wanted: Mapping[str, Landing]) -> None:
        present = self._named("landings")
        for name, ends in wanted.items():
            slots = self._layout.entries(present[name].value) if name in present else []
            for slot, end in zip(slots, ends, strict=False):
                if not says(slot.value, end):
                    self._put(slot, end)
        new = [(name, list(ends)) for name, ends in wanted.items() if name not in present and ends != (None, None)]
        if not present:
            self._append_to("landings", new)
            return
        for cable, items in groupby(new, key=lambda item: item[0].partition(".")[0]):
            mates = [entry for entry in present.values() if entry.name.startswith(f"{cable}.")]
            self._append(self._sections["landings"], list(items), mates[-1] if mates else None)

    def title(self, wanted: str) -> None:
        self._set_section("title", wanted)

    def entries(self, section: str, added: Mapping[str, Any], dropped: Collection[str]) -> None:
        present = self._named(section)
        gone = [i for i, name in enumerate(present) if name in dropped]
        kept = {name: None for name in present if name not in dropped}
        self._exchange(section, gone, list(added.items()), {**kept, **added})

    def mapping(self, section: str, wanted: Mapping[str, str]) -> None:
        present = self._named(section)
        gone = [i for i, name in enumerate(present) if name not in wanted]
        for name, value in wanted.items():
            if name in present and not says(present[name].value, value):
                self._put(present[name], value)
        self._exchange(section, gone, [item for item in wanted.items() if item[0] not in present], dict(wanted))

    def jumpers(self, wanted: Sequence[tuple[str, str]]) -> None:
        written = [self._layout.entries(entry.value) for entry in self._entries("jumpers")]
        present = [frozenset(str(end.value.value) for end in ends) for ends in written]
        kept = _pairs(wanted)
        gone = [i for i, pair in enumerate(present) if pair not in kept]
        new = [("", list(pair)) for pair in wanted if frozenset(pair) not in present]
        self._exchange("jumpers", gone, new, [list(pair) for pair in wanted])

    def serves(self, wanted: Sequence[str]) -> None:
        present = self._entries("serves")
        if not present:
            self._set_section("serves", list(wanted))
            return
        gone = list(range(len(wanted), len(present)))
        for entry, call in zip(present, wanted, strict=False):
            if not says(entry.value, call):
                self._put(entry, call)
        self._exchange("serves", gone, [("", call) for call in wanted[len(present) :]], list(wanted))

    def faults(self, mended: Sequence[int]) -> None:
        stays = len(mended) < len(self._entries("faults"))
        # Whatever stays is not written anew; nothing left is an empty list.
        self._exchange("faults", list(mended), [], ["stays"] if stays else [])

    def _named(self, section: str) -> dict[str, Entry]:
        return self._layout.named(self._sections[section].value) if section in self._sections else {}

    def _entries(self, section: str) -> list[Entry]:
        return self._layout.entries(self._sections[section].value) if section in self._sections else []

    def _emit(self, value: Any) -> str:
        """Return plain data as this file writes it: a file in JSON stays one."""
        return json.dumps(value, ensure_ascii=False) if self._json else flow(value)

    def _item(self, name: str, value: Any, width: int = 0) -> str:
        return f"{f'{self._emit(name)}:':<{width}} {self._emit(value)}" if name else self._emit(value)

    def _block(self, items: _Items, margin: str, width: int = 0) -> list[str]:
        if not items[0][0]:
            return [f"{margin}- {self._emit(value)}" for _, value in items]
        width = width or max(len(self._emit(name)) for name, _ in items) + 1
        return [margin + self._item(name, value, width) for name, value in items]

    def _replace(self, start: int, end: int, new: str) -> None:
        self._changes.append((start, end, new))

    def _insert_lines(self, index: int, lines: Sequence[str]) -> None:
        """Put lines after the line of an index."""
        _, at = self._layout.line(index)
        line_break = self._layout.line_break
        at_break = self._text[at - 1] in "\r\n"
        self._replace(at, at, "".join(line + line_break if at_break else line_break + line for line in lines))

    def _put(self, entry: Entry, value: Any) -> None:
        if entry.empty:
            self._replace(entry.after, entry.after, f"{'' if entry.has_mark else ':'} {self._emit(value)}")
        else:
            self._replace(entry.value_start, entry.end, self._emit(value))

    def _set_section(self, name: str, value: Any) -> None:
        """Give a section one value on one line; it is made where it is missing, in its usual place."""
        if name in self._sections:
            self._put(self._sections[name], value)
        elif self._all_flow:
            end = self._before(name).end
            self._replace(end, end, f", {self._item(name, value)}")
        else:
            self._insert_lines(self._before(name).end, [self._margin + self._item(name, value)])

    def _before(self, name: str) -> Entry:
        """Return the section after which a missing one belongs."""
        return next(
            self._sections[other] for other in reversed(SECTIONS[: SECTIONS.index(name)]) if other in self._sections
        )

    def _append_to(self, name: str, items: _Items) -> None:
        """Add entries to a section, which is made where it is missing."""
        if not items:
            return
        if name in self._sections:
            self._append(self._sections[name], items)
        elif self._all_flow:
            self._set_section(name, _collection(items))
        else:
            lines = [f"{self._margin}{name}:", *self._block(items, f"{self._margin}  ")]
            self._insert_lines(self._before(name).end, lines)

    def _append(self, parent: Entry, items: _Items, after: Entry | None = None) -> None:
        """Add entries to a collection, after one of its entries or at its end, in the way it is written."""
        entries = self._layout.entries(parent.value)
        if not items:
            return
        if not entries:
            self._fill(parent, items)
            return
        anchor = after or entries[-1]
        if parent.in_flow:
            new = "".join(f", {self._item(name, value)}" for name, value in items)
            if anchor.empty and anchor.has_mark and not any(change[0] == anchor.after for change in self._changes):
                # A comma straight after the colon would belong to the word.
                new = f" null{new}"
            self._replace(anchor.end, anchor.end, new)
            return
        margin = " " * (anchor.start - self._layout.line(anchor.start)[0])
        widths = Counter(
            entry.value_start - entry.start - 1
            for entry in entries
            if not entry.empty and self._layout.on_one_line(entry.start, entry.value_start)
        )
        self._insert_lines(anchor.end, self._block(items, margin, widths.most_common(1)[0][0] if widths else 0))

    def _fill(self, parent: Entry, items: _Items) -> None:
        """Give entries to what is empty: nothing, ``null``, ``{}`` or ``[]``."""
        if "#" in self._text[parent.value_start : parent.end]:
            at = parent.value_start + 1
            self._replace(at, at, ", ".join(self._item(name, value) for name, value in items))
        elif parent in self._sections.values() and not self._all_flow:
            self._replace(parent.after, parent.end, "")
            self._insert_lines(parent.end, self._block(items, f"{self._margin}  "))
        else:
            self._put(parent, _collection(items))

    def _all_go(self, name: str, gone: list[int]) -> bool:
        """Tell whether nothing stays of a section in brackets, so that it is written anew."""
        return bool(gone) and self._sections[name].in_flow and len(gone) == len(self._entries(name))

    def _exchange(self, name: str, gone: list[int], new: _Items, whole: Any) -> None:
        """Take some entries out of a section, by their position, and add others; ``whole`` is all that it then holds."""
        if self._all_go(name, gone):
            self._put(self._sections[name], whole)
            return
        self._append_to(name, new)
        if not gone:
            return
        section, entries = self._sections[name], self._entries(name)
        if section.in_flow:
            last = max(i for i in range(len(entries)) if i not in gone)
            for i in gone:
                if i < last:
                    self._replace(entries[i].start, entries[i + 1].start, "")
            self._replace(entries[last].end, entries[-1].end, "")
            return
        for i in gone:
            self._replace(self._layout.line(entries[i].start)[0], self._layout.line(entries[i].end)[1], "")
        if not whole:
            self._replace(section.after, section.after, f" {self._emit(whole)}")
