"""The file of what was seen and measured: read with the place of every mistake, and written back.

It holds one key, ``seen``: a list of tests with their answers. Like a job file it is data, not trusted: every mistake is told at
once, with the nearest words that would be right.
"""

from __future__ import annotations

import math
import os
from collections.abc import Collection, Sequence
from typing import Annotated, Any, ClassVar

from pydantic import BeforeValidator

from callpath.calls.closing import calls_of_job
from callpath.calls.reading import jumper_name, leads_on, points_of
from callpath.circuit.build import Circuit
from callpath.errors import JobError, SeenError
from callpath.faults.asked import Answer, Check, Pair, Seen
from callpath.faults.places import coils_of
from callpath.job.decode import decode
from callpath.job.problems import Problems, shown
from callpath.job.read import file_contents
from callpath.job.shape import Entries, Items, Shape, Text, Words, read_entry, spoken, two, value_of, wrong
from callpath.job.write import flow
from callpath.job.yamltext import UNREAD, Document, Path, parse

__all__ = ["load_seen", "read_seen", "seen_text"]

_KINDS = ("running", "volts", "amps", "ohms")
_MOST = 500
_HIGHEST = {"volts": 1000.0, "amps": 1000.0, "ohms": 1e9}


def _reading(value: Any) -> float:
    if isinstance(value, bool) or not isinstance(value, (int, float)) or not 0 <= value < math.inf:
        raise wrong(f"must be a number, 0 or more, not {shown(value)}")
    return float(value)


def _ohms(value: Any) -> float:
    if isinstance(value, str) and value.upper() == "OL":
        return math.inf
    if isinstance(value, str):
        raise wrong(f"must be a number of ohms or OL, not {shown(value)}")
    return _reading(value)


def _meter(value: Any) -> str:
    if value not in ("low-z", "usual"):
        raise wrong(f"must be low-z or usual, not {shown(value)}")
    return str(value)


Pair_ = Annotated[tuple[Text, Text] | None, BeforeValidator(two)]


class _Top(Shape):
    needed: ClassVar[tuple[str, ...]] = ("seen",)
    seen: Items = None


class _Line(Shape):
    call: Text = None
    running: Entries = None
    between: Pair_ = None
    conductor: Text = None
    volts: Annotated[float | None, value_of(_reading)] = None
    amps: Annotated[float | None, value_of(_reading)] = None
    ohms: Annotated[float | None, value_of(_ohms)] = None
    lifted: Words = None
    jumped: Pair_ = None
    meter: Annotated[str | None, value_of(_meter)] = None


def load_seen(path: str | os.PathLike[str], circuit: Circuit) -> list[Seen]:
    """Return what a file says was seen of a job.

    Raises
    ------
    SeenError
        The file cannot be read, or says something that the job does not have; with every problem at once.
    """
    try:
        raw, file = file_contents(path)
    except JobError as error:
        raise SeenError(error.problems) from None
    return read_seen(raw, circuit, file=file)


def read_seen(text: str | bytes, circuit: Circuit, *, file: str = "seen.yaml") -> list[Seen]:
    """Return what a text says was seen of a job.

    Parameters
    ----------
    text : str or bytes
        YAML 1.2; bytes in UTF-8.
    circuit : Circuit
        The job's circuit.
    file : str
        What problems call it.

    Raises
    ------
    SeenError
        With every problem at once.
    """
    problems = Problems(file)
    raw = text.encode("utf-8", "surrogatepass") if isinstance(text, str) else text
    decoded = decode(raw, problems)
    document = None if decoded is None else parse(decoded, problems, ("seen",))
    found: list[Seen] = []
    if document is not None:
        found = _Reading(circuit, document).all()
    if problems:
        raise SeenError(problems.error().problems)
    return found


def seen_text(seen: Sequence[Seen]) -> str:
    """Return the text of a file of what was seen."""
    if not seen:
        return "seen: []\n"
    return "seen:\n" + "".join(f"  - {flow(item.as_data())}\n" for item in seen)


class _Reading:
    def __init__(self, circuit: Circuit, document: Document) -> None:
        self.document = document
        self.job = circuit.job
        self.calls = calls_of_job(circuit)
        self.functions = list(circuit.functions)
        self.coils = coils_of(circuit)
        self.points = points_of(circuit)
        self.terminals = [name for name in self.points if "@" not in name and name not in circuit.job.splices]

    def all(self) -> list[Seen]:
        document = self.document
        if not isinstance(document.data, dict):
            if not document.problems:
                document.tell((), "the file begins with 'seen:' and a list of what was seen and measured")
            return []
        top = read_entry(_Top, (), document.data, document)
        lines = top.seen or []
        if len(lines) > _MOST:
            document.tell(("seen", _MOST), f"more than {_MOST} lines; nothing from here on was read")
        read = (self._line(data, ("seen", position)) for position, data in enumerate(lines[:_MOST]))
        return [item for item in read if item is not None]

    def _line(self, data: Any, path: Path) -> Seen | None:
        told = len(self.document.problems)
        line = read_entry(_Line, path, data, self.document)
        if not isinstance(data, dict):
            return None
        kinds = [kind for kind in _KINDS if kind in data or (*path, kind) in self.document.spelled]
        if not kinds:
            self._tell(path, f"{spoken(path)} says nothing that was seen", valid=_KINDS)
        for kind in kinds[1:]:
            self._tell((*path, kind), f"one answer a line; this line has {shown(kinds[0])} already", key=True)
        if len(kinds) != 1 or len(self.document.problems) > told:
            return None
        kind = kinds[0]
        if data.get(kind, UNREAD) is None:
            self._tell((*path, kind), f"{spoken((*path, kind))} is empty: this test is still to be made", key=True)
            return None
        self._belongs(kind, line, path)
        call = self._call(kind, line, path)
        jumped = self._pair(line.jumped, (*path, "jumped"), self.terminals, "a terminal")
        between = self._pair(
            line.between, (*path, "between"), self.points, "a terminal, a splice, or an end of a conductor or fuse"
        )
        lifted = self._lifted(line, between, path)
        if line.conductor is not None:
            self._known(line.conductor, list(self.job.landings), "a conductor", (*path, "conductor"))
        running = self._running(line.running or {}, path) if kind == "running" else {}
        if len(self.document.problems) > told:
            return None
        value = math.nan if kind == "running" else getattr(line, kind)
        if value > _HIGHEST.get(kind, math.inf) and not math.isinf(value):
            self._tell((*path, kind), f"{spoken((*path, kind))} is more than any meter for this work shows")
            return None
        low_z, coils = line.meter == "low-z", frozenset(running) & frozenset(self.coils)
        test = Check(kind, call, tuple(running), between, line.conductor, lifted, jumped, low_z, coils)
        return Seen(test, Answer(running, value))

    def _tell(
        self, path: Path, message: str, *, word: str = "", valid: Collection[str] = (), key: bool = False
    ) -> None:
        self.document.tell(path, message, word=word, valid=valid, key=key)

    def _belongs(self, kind: str, line: _Line, path: Path) -> None:
        """Tell of keys that do not go together, and of those that are missing."""
        needed = {"running": (), "volts": ("between",), "amps": ("conductor",), "ohms": ("between",)}[kind]
        also = {
            "running": ("jumped",),
            "volts": ("jumped", "meter"),
            "amps": ("jumped",),
            "ohms": ("lifted",),
        }[kind]
        for word in needed:
            if getattr(line, word) is None:
                self._tell(path, f"{spoken(path)} has no '{word}', which goes with '{kind}'")
        for word in ("between", "conductor", "lifted", "jumped", "meter"):
            if getattr(line, word) is not None and word not in (*needed, *also):
                self._tell((*path, word), f"'{word}' does not go with '{kind}'", key=True)

    def _call(self, kind: str, line: _Line, path: Path) -> str:
        if line.call is None:
            if kind != "ohms":
                self._tell(path, f"{spoken(path)} has no 'call': on which call was it seen?", valid=self.calls)
            return "off"
        if line.call not in self.calls:
            message = f"no thermostat of this job can make the call {shown(line.call)}"
            self._tell((*path, "call"), message, word=line.call, valid=self.calls)
        return line.call

    def _known(self, name: str | None, valid: list[str], called: str, path: Path) -> bool:
        if name is None or name in valid:
            return name is not None
        self._tell(path, f"{shown(name)} is not {called} of this job", word=name, valid=valid)
        return False

    def _pair(
        self, pair: tuple[str | None, str | None] | None, path: Path, valid: list[str], called: str
    ) -> Pair | None:
        if pair is None:
            return None
        one, two_ = pair
        known = [self._known(name, valid, called, (*path, i)) for i, name in enumerate(pair)]
        if not all(known) or one is None or two_ is None:
            return None
        if one == two_:
            self._tell((*path, 1), f"{shown(one)} twice; name two different points")
        return one, two_

    def _lifted(self, line: _Line, between: Pair | None, path: Path) -> tuple[str, ...]:
        names = []
        for position, name in enumerate(line.lifted or ()):
            where = (*path, "lifted", position)
            jumpers = {name: pair for pair in self.job.jumpers for name in (jumper_name(pair), jumper_name(pair[::-1]))}
            known = [*self.job.landings, *(jumper_name(pair) for pair in self.job.jumpers)]
            if name in jumpers:
                name = jumper_name(jumpers[name])
            if not self._known(name, known, "a conductor or jumper", where) or name is None or between is None:
                continue
            landing = jumpers[name] if name in jumpers else self.job.landings[name]
            sits = {end for end in landing if end} | {f"{name}@{end}" for end in (1, 2)}
            if not sits & set(between):
                message = f"{shown(name)} sits on neither {between[0]} nor {between[1]}, so it cannot be lifted there"
                on = [lead for point in between for lead in leads_on(self.job, point)]
                self._tell(where, message, word=name, valid=on)
            names.append(name)
        return tuple(names)

    def _running(self, running: dict[str, Any], path: Path) -> dict[str, bool]:
        found: dict[str, bool] = {}
        path = (*path, "running")
        if not running:
            self._tell(path, f"{spoken(path)} names no function", valid=self.functions)
        known = [*self.functions, *self.coils]
        for name, runs in running.items():
            if name not in known:
                message = f"{shown(name)} is no function or coil of this job"
                self._tell((*path, name), message, word=name, valid=known, key=True)
            elif not isinstance(runs, bool):
                self._tell((*path, name), f"{spoken((*path, name))} must be true or false, not {shown(runs)}")
            else:
                found[name] = runs
        return found
