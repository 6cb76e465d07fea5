"""What is different between two versions of a job: moves as a technician would make them, and the rest beside how it was."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from callpath.job.model import Job

__all__ = ["Changes", "Difference", "Moved", "changes"]


@dataclass(frozen=True)
class Moved:
    """One thing done to the wiring, and where."""

    at: str
    said: str


@dataclass(frozen=True)
class Difference:
    """How something was and is; empty where it was not or is not there."""

    what: str
    was: str
    now: str


@dataclass(frozen=True)
class Changes:
    """What was done from one version to another."""

    moves: tuple[Moved, ...]
    settings: tuple[Difference, ...]
    equipment: tuple[Difference, ...]
    other: tuple[Difference, ...]

    @property
    def by_place(self) -> dict[str, list[Moved]]:
        """The moves at every location at which there are any."""
        found: dict[str, list[Moved]] = {}
        for move in self.moves:
            found.setdefault(move.at, []).append(move)
        return found

    @property
    def none(self) -> bool:
        """Whether the two are the same job."""
        return not (self.moves or self.settings or self.equipment or self.other)


def changes(before: Job, after: Job) -> Changes:
    """Return what is different between two jobs."""
    kept = [id_ for id_ in after.equipment if id_ in before.equipment]
    places = {at: place for place, at in enumerate(_places(before, after))}
    return Changes(
        tuple(sorted(_moves(before, after), key=lambda move: places[move.at])),
        _differences(_settings(before, kept), _settings(after, kept)),
        _differences(_things(before), _things(after)),
        _differences(_rest(before), _rest(after)),
    )


def _places(before: Job, after: Job) -> dict[str, None]:
    found: dict[str, None] = {}
    for job in (after, before):
        found |= dict.fromkeys(device.at for device in job.equipment.values())
        found |= dict.fromkeys(at for cable in job.cables.values() for at in cable.between)
        found |= dict.fromkeys(job.splices.values())
    return found


def _moves(before: Job, after: Job) -> Iterator[Moved]:
    for name, at in after.splices.items():
        if name not in before.splices:
            yield Moved(at, f"splice: put in {name}")
    for conductor, ends in after.landings.items():
        cable = after.cable_of(conductor)
        same = conductor in before.landings and before.cable_of(conductor).between == cable.between
        had = before.landings[conductor] if same else (None, None)
        for end, at in enumerate(cable.between):
            if ends[end] != had[end]:
                yield Moved(at, _landed(after, conductor, had[end], ends[end], new=not same))
    held, holds = ({frozenset(pair) for pair in job.jumpers} for job in (before, after))
    for one, two in after.jumpers:
        if frozenset((one, two)) not in held:
            yield Moved(after.terminal(one)[0].at, f"jumper: put one in from {one} to {two}")
    for one, two in before.jumpers:
        if frozenset((one, two)) not in holds:
            yield Moved(before.terminal(one)[0].at, f"jumper: take out the one from {one} to {two}")
    for name, at in before.splices.items():
        if name not in after.splices:
            yield Moved(at, f"splice: take out {name}")


def _landed(after: Job, conductor: str, had: str | None, has: str | None, *, new: bool) -> str:
    """Return one end's move in the words in which a repair tells it."""
    off = "" if new else f"take it off {had} and " if had else "uncap it and "
    if has is None:
        return f"{conductor}: {off}cap it"
    on = f"put it into the splice {has}" if has in after.splices else f"land it on {has}"
    return f"{conductor}: {off}{on}"


def _settings(job: Job, ids: Sequence[str]) -> dict[str, str]:
    return {f"{id_} {key}": _said(value) for id_ in ids for key, value in job.equipment[id_].settings.items()}


def _said(value: object) -> str:
    if isinstance(value, bool):
        return str(value).lower()
    return f"{value:g}" if isinstance(value, (int, float)) else "" if value is None else str(value)


def _things(job: Job) -> dict[str, str]:
    said = {device.id: f"{device.part.title} ({device.part.part}) at {device.at}" for device in job.equipment.values()}
    for cable in job.cables.values():
        one, two = cable.between
        how = f"{round(cable.length_ft, 1):g} ft ({round(cable.length_ft * 0.3048, 1):g} m), {cable.awg} AWG"
        how += ", stranded" if cable.stranded else ""
        how += f", at {cable.temperature_c:g} °C" if cable.temperature_c != 20 else ""
        said[cable.id] = f"{one} to {two}, {how}: {' '.join(cable.conductors)}"
    return said


def _rest(job: Job) -> dict[str, str]:
    said = {"title": job.title, "note": job.note}
    said["serves"] = "all that it can" if job.serves is None else ", ".join(job.serves) or "nothing"
    said["mains"] = f"{job.hz:g} Hz"
    said |= {f"contact {name}": "closed" if closed else "open" for name, closed in job.contacts.items()}
    return said | {f"fault: {fault.kind} {' and '.join(fault.where)}": "planted" for fault in job.faults}


def _differences(before: dict[str, str], after: dict[str, str]) -> tuple[Difference, ...]:
    names = {**before, **after}
    pairs = ((name, before.get(name, ""), after.get(name, "")) for name in names)
    return tuple(Difference(name, was, now) for name, was, now in pairs if was != now)
