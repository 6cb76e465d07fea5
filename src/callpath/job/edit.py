"""Changes that a person makes to a job, one at a time: each takes the text of a job file and returns the new one.

Comments and layout stay. That the result is a sound job is for whoever saves it to check; what is wrong in the question
itself (no such conductor, an id that is taken) is told here.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from typing import Any

from callpath.errors import QuestionError, nearest
from callpath.job.draft import find_part, usual_id
from callpath.job.model import Job, Landing
from callpath.job.read import known_job
from callpath.job.rename import renamed
from callpath.job.rewrite import with_changes
from callpath.job.write import job_data
from callpath.parts.makeup import makeup
from callpath.parts.model import Setting, SettingValue
from callpath.units import length_ft

__all__ = [
    "add_cable",
    "add_equipment",
    "add_jumper",
    "add_splice",
    "copy_cable",
    "drop_cable",
    "drop_equipment",
    "drop_jumper",
    "drop_splice",
    "land_ends",
    "move_equipment",
    "only_for",
    "rename",
    "set_cable",
    "set_contacts",
    "set_serves",
    "set_settings",
    "spots_at",
]


def spots_at(job: Job, location: str) -> tuple[str, ...]:
    """Return the terminals and splices on which a conductor's end may sit at a location."""
    devices = [device for device in job.equipment.values() if device.at == location]
    terminals = [f"{device.id}.{letters}" for device in devices for letters in device.part.terminals]
    return (*terminals, *(name for name, at in job.splices.items() if at == location))


def land_ends(text: str, wanted: Mapping[str, Landing]) -> str:
    """Put conductors' ends where they shall sit; None caps an end."""
    job = known_job(text)
    for name in wanted:
        if name not in job.landings:
            raise QuestionError(f"this job has no conductor '{name}'; {nearest(name, job.landings)}")
    return with_changes(text, landings={name: ends for name, ends in wanted.items() if ends != job.landings[name]})


def add_equipment(text: str, part: str, at: str, name: str = "") -> tuple[str, str]:
    """Add a device; returns the text and the device's id, which is made up where none is given."""
    job = known_job(text)
    found = find_part(part)
    chosen = name.strip() or _free(usual_id(found), job)
    _check_free(chosen, job)
    if not at.strip():
        raise QuestionError(f"say where {chosen} is, such as hall, cellar or yard")
    return with_changes(text, added={"equipment": {chosen: {"part": found.part, "at": at.strip()}}}), chosen


def only_for(job: Job, name: str) -> tuple[str, ...]:
    """Return the cables that end where a device is and nothing else is, neither equipment nor splice."""
    at = job.equipment[name].at
    others = [device for device in job.equipment.values() if device.at == at and device.id != name]
    if others or at in job.splices.values():
        return ()
    return tuple(cable.id for cable in job.cables.values() if at in cable.between)


def drop_equipment(text: str, name: str) -> str:
    """Take a device out; what was landed on it is left capped, and a cable that then ends where nothing is goes too."""
    job = known_job(text)
    _known(name, job.equipment, "equipment")
    ours, gone = f"{name}.", only_for(job, name)
    landings = {
        conductor: (_without(one, ours), _without(other, ours))
        for conductor, (one, other) in job.landings.items()
        if conductor.partition(".")[0] not in gone and ((one or "").startswith(ours) or (other or "").startswith(ours))
    }
    return with_changes(
        text,
        landings=landings,
        jumpers=[pair for pair in job.jumpers if not any(end.startswith(ours) for end in pair)],
        contacts={key: value for key, value in _contacts(job).items() if not key.startswith(ours)},
        dropped={
            "equipment": [name],
            "cables": gone,
            "landings": [conductor for conductor in job.landings if conductor.partition(".")[0] in gone],
        },
    )


def add_cable(
    text: str, between: tuple[str, str], conductors: str, length: str = "", name: str = ""
) -> tuple[str, str]:
    """Add a cable by its makeup (``18/5`` or colours); returns the text and the cable's id."""
    job = known_job(text)
    chosen = name.strip() or _free("cable", job)
    _check_free(chosen, job)
    made = makeup(conductors)
    entry: dict[str, Any] = {"between": list(between)}
    if length.strip():
        entry["length"] = length.strip()
    if made.awg is not None and made.awg != 18:
        entry["awg"] = made.awg
    entry["conductors"] = list(made.conductors)
    return with_changes(text, added={"cables": {chosen: entry}}), chosen


def drop_cable(text: str, name: str) -> str:
    """Take a cable out, with the landings of its conductors."""
    job = known_job(text)
    _known(name, job.cables, "cable")
    ours = [conductor for conductor in job.landings if conductor.startswith(f"{name}.")]
    return with_changes(text, dropped={"cables": [name], "landings": ours})


def copy_cable(text: str, name: str) -> tuple[str, str]:
    """Add a cable like another, with nothing landed; returns the text and its id."""
    job = known_job(text)
    _known(name, job.cables, "cable")
    chosen = _free(name, job)
    return with_changes(text, added={"cables": {chosen: job_data(job)["cables"][name]}}), chosen


def set_cable(text: str, name: str, *, length: str = "", conductors: str = "") -> str:
    """Change a cable's length and what is in it, where something is given; conductors that it loses lose their landings."""
    job = known_job(text)
    _known(name, job.cables, "cable")
    values: dict[str, Any] = {}
    if length.strip() and length_ft(length) != job.cables[name].length_ft:
        values["length"] = length.strip()
    gone: list[str] = []
    if conductors.strip():
        made = makeup(conductors, own=job.cables[name].conductors)
        if made.awg is not None and made.awg != job.cables[name].awg:
            values["awg"] = made.awg
        if made.conductors != job.cables[name].conductors:
            values["conductors"] = list(made.conductors)
            gone = [f"{name}.{colour}" for colour in job.cables[name].conductors if colour not in made.conductors]
    return with_changes(text, amended={"cables": {name: values}}, dropped={"landings": gone})


def move_equipment(text: str, name: str, at: str) -> str:
    """Hang a device elsewhere.

    Cables that come to it alone go along. Otherwise what reached it only where it was is left capped, and jumpers to what stays
    behind come out.
    """
    job = known_job(text)
    _known(name, job.equipment, "equipment")
    place, ours, old = at.strip(), f"{name}.", job.equipment[name].at
    if not place:
        raise QuestionError(f"say where {name} is, such as hall, cellar or yard")
    along = {
        cable: {"between": [place if end == old else end for end in job.cables[cable].between]}
        for cable in only_for(job, name)
    }

    def stays(conductor: str, side: int) -> str | None:
        end, cable = job.landings[conductor][side], job.cable_of(conductor)
        leaves = (end or "").startswith(ours) and cable.id not in along and cable.between[side] != place
        return None if leaves else end

    landings = {conductor: (stays(conductor, 0), stays(conductor, 1)) for conductor in job.landings}
    at_place = {id_ for id_, device in job.equipment.items() if device.at == place} | {name}
    kept = [
        pair
        for pair in job.jumpers
        if not any(end.startswith(ours) for end in pair) or {end.partition(".")[0] for end in pair} <= at_place
    ]
    return with_changes(
        text,
        amended={"equipment": {name: {"at": place}}, "cables": along},
        landings={conductor: ends for conductor, ends in landings.items() if ends != job.landings[conductor]},
        jumpers=kept,
    )


def rename(text: str, kind: str, old: str, new: str) -> str:
    """Give equipment, a cable, a splice or a location another name, wherever it is named."""
    job = known_job(text)
    chosen = new.strip()
    if chosen == old:
        return text
    if kind == "location":
        taken = {place for cable in job.cables.values() for place in cable.between} | set(job.splices.values())
        taken |= {device.at for device in job.equipment.values()}
        _known(old, dict.fromkeys(taken), "location")
        if not chosen:
            raise QuestionError(f"say what {old} shall be called")
        if chosen in taken:
            raise QuestionError(f"there is a {chosen} already; move equipment there instead")
    else:
        names: Mapping[str, Any] = {"equipment": job.equipment, "cable": job.cables, "splice": job.splices}[kind]
        _known(old, names, kind)
        _check_free(chosen, job)
    return renamed(text, kind, old, chosen)


def add_splice(text: str, at: str, name: str = "") -> tuple[str, str]:
    """Add a wire connector at a location; returns the text and its id."""
    job = known_job(text)
    chosen = name.strip() or _free("splice", job)
    _check_free(chosen, job)
    return with_changes(text, splices={**job.splices, chosen: at.strip()}), chosen


def drop_splice(text: str, name: str) -> str:
    """Take a wire connector out; the ends in it are left capped."""
    job = known_job(text)
    _known(name, job.splices, "splice")
    landings = {c: (None if a == name else a, None if b == name else b) for c, (a, b) in job.landings.items()}
    changed = {conductor: ends for conductor, ends in landings.items() if ends != job.landings[conductor]}
    splices = {key: at for key, at in job.splices.items() if key != name}
    return with_changes(text, landings=changed, splices=splices)


def add_jumper(text: str, one: str, other: str) -> str:
    """Link two terminals of one location."""
    return with_changes(text, jumpers=[*known_job(text).jumpers, (one, other)])


def drop_jumper(text: str, one: str, other: str) -> str:
    """Take a link between two terminals out."""
    kept = [pair for pair in known_job(text).jumpers if set(pair) != {one, other}]
    return with_changes(text, jumpers=kept)


def set_settings(text: str, name: str, words: Mapping[str, str]) -> str:
    """Change settings of a device; the values are words, as a form has them."""
    job = known_job(text)
    _known(name, job.equipment, "equipment")
    device = job.equipment[name]
    values: dict[str, SettingValue] = {}
    for key, word in words.items():
        if key not in device.part.settings:
            raise QuestionError(f"{name} has no setting '{key}'; {nearest(key, device.part.settings)}")
        setting = device.part.settings[key]
        value = _value(word, setting)
        if problem := setting.problem(value):
            raise QuestionError(f"{name}: {key} {problem}, not '{word}'")
        if value != device.settings[key]:
            values[key] = value
    return with_changes(text, settings={name: values}) if values else text


def set_serves(text: str, calls: Sequence[str]) -> str:
    """Say which calls the installation must serve."""
    return with_changes(text, serves=calls)


def set_contacts(text: str, closed: Mapping[str, bool | None]) -> str:
    """Say how field contacts stand; None leaves a contact at rest."""
    job = known_job(text)
    wanted = {**_contacts(job), **{key: _contact_word(value) for key, value in closed.items() if value is not None}}
    return with_changes(text, contacts={k: word for k, word in wanted.items() if closed.get(k, True) is not None})


def _contacts(job: Job) -> dict[str, str]:
    return {key: _contact_word(closed) for key, closed in job.contacts.items()}


def _contact_word(closed: bool) -> str:
    return "closed" if closed else "open"


def _value(word: str, setting: Setting) -> SettingValue:
    text = word.strip()
    if not text:
        return None
    if setting.type == "boolean":
        return {"true": True, "false": False}.get(text.casefold(), text)
    if setting.type == "choice":
        return next((choice for choice in setting.choices if str(choice) == text), text)
    try:
        number = float(text)
    except ValueError:
        return text
    return int(number) if number.is_integer() else number


def _known(name: str, names: Mapping[str, Any], kind: str) -> None:
    if name not in names:
        raise QuestionError(f"this job has no {kind} '{name}'; {nearest(name, names)}")


def _check_free(name: str, job: Job) -> None:
    if not re.fullmatch(r"[^\s.,:;@#>+|\"'\[\]{}]{1,40}", name):
        raise QuestionError(f"'{name}' is no id; write one word, such as hall-stat")
    if name in (*job.equipment, *job.cables, *job.splices):
        raise QuestionError(f"'{name}' is taken in this job; choose another id")


def _free(stem: str, job: Job) -> str:
    taken = {*job.equipment, *job.cables, *job.splices}
    return next(word for word in (stem, *(f"{stem}-{n}" for n in range(2, 10000))) if word not in taken)


def _without(end: str | None, prefix: str) -> str | None:
    return None if (end or "").startswith(prefix) else end
