"""The moves that a repair may make: one end taken elsewhere, one jumper, one setting, each counting one."""

from __future__ import annotations

import itertools
from collections.abc import Collection, Iterable, Iterator
from dataclasses import dataclass, replace
from typing import Any

from callpath.calls.closing import thermostats
from callpath.job.model import Job, Landing

__all__ = ["NEW_SPLICE", "Move", "all_moves", "moved"]

NEW_SPLICE = "+"
"""A new splice stands as this sign and its location until it has a name."""


@dataclass(frozen=True, order=True)
class Move:
    """One thing to do at one place.

    Attributes
    ----------
    do : str
        ``land`` or ``splice`` an end, ``lift`` it, put in a ``jumper`` or take one out (``unjumper``), ``set`` a setting.
    what : str
        The conductor; the first terminal of a jumper; ``equipment.setting``.
    before, after : str or None
        Where the end sat and shall sit; the jumper's other terminal; the setting's value. None is capped or absent.
    at : str
        The location where it is done.
    end : int
        Which end of the conductor, in the order of its cable's ``between``; -1 where no conductor is moved.
    """

    do: str
    what: str
    before: str | None
    after: str | None
    at: str
    end: int = -1

    @property
    def thing(self) -> tuple[str, ...]:
        """What is moved; nothing is moved twice."""
        if self.end >= 0:
            return self.what, str(self.end)
        if self.do == "set":
            return (self.what,)
        return tuple(sorted((self.what, self.after or self.before or "")))

    def as_json(self) -> dict[str, Any]:
        """Return the move in the contract's form, with its place beside it."""
        return {"do": self.do, "what": self.what, "from": self.before, "to": self.after, "at": self.at}


def all_moves(job: Job, metal: bool = True) -> list[Move]:
    """Return every move that could be made on a job, in a fixed order.

    Parameters
    ----------
    metal : bool
        Whether an end may be landed on a chassis.
    """
    spots = _spots(job, metal)
    return [*_end_moves(job, spots), *_jumper_moves(job, spots), *_settings(job)]


def _spots(job: Job, metal: bool) -> dict[str, list[str]]:
    """Return the terminals at every location that a conductor of this circuit may be landed on."""
    spots: dict[str, list[str]] = {}
    for device in job.equipment.values():
        for letters, terminal in device.part.terminals.items():
            if terminal.signal == "24v-on-off" and (metal or letters != "chassis"):
                spots.setdefault(device.at, []).append(f"{device.id}.{letters}")
    return spots


def _end_moves(job: Job, spots: dict[str, list[str]]) -> Iterator[Move]:
    splices: dict[str, list[str]] = {}
    for name, at in job.splices.items():
        splices.setdefault(at, []).append(name)
    for conductor, ends in job.landings.items():
        for end, at in enumerate(job.cable_of(conductor).between):
            now, other = ends[end], ends[1 - end]
            for to in spots.get(at, ()):
                if to not in (now, other):
                    yield Move("land", conductor, now, to, at, end)
            for to in (*splices.get(at, ()), NEW_SPLICE + at):
                if to not in (now, other):
                    yield Move("splice", conductor, now, to, at, end)
            if now is not None:
                yield Move("lift", conductor, now, None, at, end)


def _jumper_moves(job: Job, spots: dict[str, list[str]]) -> Iterator[Move]:
    present = {frozenset(jumper) for jumper in job.jumpers}
    for one, two in job.jumpers:
        yield Move("unjumper", one, two, None, job.terminal(one)[0].at)
    for at, terminals in spots.items():
        plain = (name for name in terminals if not name.endswith(".chassis"))
        for one, two in itertools.combinations(plain, 2):
            if frozenset((one, two)) not in present:
                yield Move("jumper", one, None, two, at)


def _settings(job: Job) -> Iterator[Move]:
    for device in thermostats(job):
        for name, setting in device.part.settings.items():
            now = device.settings[name]
            if not setting.by_hand:
                continue
            values: Collection[Any] = setting.choices
            if setting.type == "boolean":
                values = (True, False)
            elif setting.type == "integer":
                values = range(int(setting.minimum or 0), int(setting.maximum or 0) + 1)
            for value in values:
                if value != now:
                    yield Move("set", f"{device.id}.{name}", _said(now), _said(value), device.at)


def _said(value: Any) -> str:
    return str(value).lower() if isinstance(value, bool) else str(value)


def moved(job: Job, moves: Iterable[Move]) -> Job:
    """Return the job after some moves; a splice of fewer than two ends is no splice, and new ones get names."""
    landings: dict[str, list[str | None]] = {name: list(ends) for name, ends in job.landings.items()}
    jumpers = list(job.jumpers)
    equipment = dict(job.equipment)
    for move in moves:
        if move.end >= 0:
            landings[move.what][move.end] = move.after
        elif move.do == "jumper":
            jumpers.append((move.what, str(move.after)))
        elif move.do == "unjumper":
            jumpers = [pair for pair in jumpers if set(pair) != {move.what, move.before}]
        else:
            id_, _, name = move.what.partition(".")
            device = equipment[id_]
            value = _meant(move.after, device.settings[name])
            equipment[id_] = replace(device, settings={**device.settings, name: value})
    names = _new_splices(job, landings)
    whole: dict[str, Landing] = {
        name: (names.get(str(one), one), names.get(str(two), two)) for name, (one, two) in landings.items()
    }
    splices = {**job.splices, **{name: stand_in[len(NEW_SPLICE) :] for stand_in, name in names.items()}}
    used = {end for ends in whole.values() for end in ends}
    splices = {name: at for name, at in splices.items() if name in used}
    return replace(job, landings=whole, jumpers=tuple(jumpers), equipment=equipment, splices=splices)


def _meant(said: str | None, now: Any) -> Any:
    """Return a setting's value as the kind of thing that its present value is."""
    if isinstance(now, bool):
        return said == "true"
    return int(said or 0) if isinstance(now, int) else said


def _new_splices(job: Job, landings: dict[str, list[str | None]]) -> dict[str, str]:
    """Return a name for every new splice, by what it stands as."""
    taken = {*job.equipment, *job.cables, *job.splices}
    names: dict[str, str] = {}
    for stand_in in sorted({end for ends in landings.values() for end in ends if end and end.startswith(NEW_SPLICE)}):
        names[stand_in] = next(
            name for i in itertools.count(1) if (name := f"splice-{i}") not in taken and name not in names.values()
        )
    return names
