"""The text of a job file from plain data, in the order and layout that a person would give it; and files, whole.

YAML is emitted entry by entry, so that each stands on one line with its neighbours aligned; what a word needs in
quotes, the YAML library decides.
"""

from __future__ import annotations

import io
import os
import secrets
import threading
from collections.abc import Iterable, Iterator, Mapping
from decimal import Decimal
from pathlib import Path
from typing import Any

from ruamel.yaml import YAML
from ruamel.yaml.representer import SafeRepresenter

from callpath.job.model import Cable, Equipment, Fault, Job

__all__ = ["SECTIONS", "fault_data", "flow", "job_data", "job_text", "write_whole"]

SECTIONS = (
    "callpath",
    "title",
    "note",
    "hz",
    "equipment",
    "cables",
    "landings",
    "splices",
    "jumpers",
    "serves",
    "contacts",
    "faults",
)
"""The keys of a job file in the order in which they are written."""


class _OneLine(SafeRepresenter):
    """Represents text that holds a line break in double quotes, where the break is an escape."""

    def represent_str(self, data: str) -> Any:
        style = '"' if "\n" in data else None
        return self.represent_scalar("tag:yaml.org,2002:str", data, style=style)

    def ignore_aliases(self, data: Any) -> bool:
        return True


_OneLine.add_representer(str, _OneLine.represent_str)


class _Emitters(threading.local):
    """YAML's emitters, each thread's own: one that two threads share mixes what they write, and breaks for good."""

    def __init__(self) -> None:
        self.made: dict[bool, Any] = {}


_emitters = _Emitters()


def _emitter(in_flow: bool) -> Any:
    if in_flow not in _emitters.made:
        yaml: Any = YAML(typ="safe", pure=True)
        yaml.Representer = _OneLine
        yaml.default_flow_style = in_flow
        yaml.sort_base_mapping_type_on_output = False
        yaml.width = 2**31
        _emitters.made[in_flow] = yaml
    return _emitters.made[in_flow]


def _emit(value: Any, *, in_flow: bool) -> str:
    stream = io.StringIO()
    _emitter(in_flow).dump(value, stream)
    return stream.getvalue().removesuffix("\n")


def flow(value: Any) -> str:
    """Return plain data as YAML on one line, fit to stand inside brackets; YAML 1.2, quotes where they are needed."""
    # A word is emitted inside a list, where more of it needs quotes; a mapping of one key would lose its braces there.
    return _emit(value, in_flow=True) if isinstance(value, dict) else _emit([value], in_flow=True)[1:-1]


def job_text(data: Mapping[str, Any]) -> str:
    """Return the text of a job file.

    Parameters
    ----------
    data : mapping
        What the file shall say, in the form that YAML gives it: ``equipment`` a mapping of mappings, ``landings`` a
        mapping of pairs, ``length`` such as ``"45 ft"``. Sections that are absent or empty are left out, but for an empty
        ``serves``, which says something.

    Raises
    ------
    ValueError
        A key that no job file has.
    """
    if unknown := data.keys() - set(SECTIONS):
        raise ValueError(f"no job file has {', '.join(sorted(unknown))}")
    whole: dict[str, Any] = {"callpath": 1, **data}
    return "".join(line + "\n" for section in SECTIONS for line in _section(section, whole.get(section)))


def _section(section: str, value: Any) -> Iterator[str]:
    if value is None or (value in ("", {}, []) and section != "serves"):
        return
    if isinstance(value, Mapping):
        yield f"{section}:"
        yield from aligned(value.items())
    elif isinstance(value, (list, tuple)) and section != "serves":
        yield f"{section}:"
        yield from (f"  - {flow(item)}" for item in value)
    elif isinstance(value, (list, tuple)):
        yield f"{section}: {flow(list(value))}"
    else:
        yield _emit({section: value}, in_flow=False)


def aligned(entries: Iterable[tuple[str, Any]]) -> Iterator[str]:
    """Yield one line for each entry, the values beginning in one column."""
    rows = [(f"{flow(key)}:", flow(value)) for key, value in entries]
    width = max(len(key) for key, _ in rows)
    return (f"  {key:<{width}} {value}" for key, value in rows)


def job_data(job: Job) -> dict[str, Any]:
    """Return a job as plain data, such as :func:`job_text` takes; what is as by default is left out."""
    data: dict[str, Any] = {"callpath": 1, "title": job.title, "note": job.note, "hz": job.hz}
    data["equipment"] = {device.id: _equipment(device) for device in job.equipment.values()}
    data["cables"] = {cable.id: _cable(cable) for cable in job.cables.values()}
    data["landings"] = {name: list(ends) for name, ends in job.landings.items() if ends != (None, None)}
    data["splices"] = dict(job.splices)
    data["jumpers"] = [list(jumper) for jumper in job.jumpers]
    data["contacts"] = {name: "closed" if closed else "open" for name, closed in job.contacts.items()}
    data["faults"] = [fault_data(fault) for fault in job.faults]
    kept = {key: value for key, value in data.items() if value and (key, value) != ("hz", Job.hz)}
    if job.serves is not None:
        kept["serves"] = list(job.serves)
    return {section: kept[section] for section in SECTIONS if section in kept}


def _equipment(device: Equipment) -> dict[str, Any]:
    settings = {name: value for name, value in device.settings.items() if value != device.part.settings[name].default}
    return {"part": device.part.part, "at": device.at} | ({"settings": settings} if settings else {})


def _cable(cable: Cable) -> dict[str, Any]:
    row: dict[str, Any] = {"between": list(cable.between)}
    if cable.length_ft != Cable.length_ft:
        row["length"] = f"{_positional(cable.length_ft)} ft"
    if cable.awg != Cable.awg:
        row["awg"] = cable.awg
    if cable.stranded:
        row["stranded"] = True
    if cable.temperature_c != Cable.temperature_c:
        row["temperature"] = f"{_positional(cable.temperature_c)} C"
    return row | {"conductors": list(cable.conductors)}


def _positional(number: float) -> str:
    """Return a number without an exponent, every digit kept that reading it back needs."""
    return format(Decimal(repr(number)), "f").removesuffix(".0")


def fault_data(fault: Fault) -> dict[str, Any]:
    """Return a fault as plain data, in the form of one line of ``faults``."""
    where = fault.where[0] if len(fault.where) == 1 else list(fault.where)
    more = {"ohms": fault.ohms, "volts": fault.volts, "to": fault.to}
    return {"dead" if fault.kind == "idle" else fault.kind: where} | {
        key: value for key, value in more.items() if value is not None
    }


def _for_owner(path: str, flags: int) -> int:
    return os.open(path, flags, 0o600)


def write_whole(path: Path, content: str | bytes, *, private: bool = False) -> None:
    """Write a file whole or not at all: beside its place first, then moved there.

    Text is written in UTF-8, line breaks as they are. A link is followed;
    what is no regular file (a terminal, a pipe) is written straight. A ``private`` one only its owner can read.

    Raises
    ------
    OSError
        It cannot be written; whatever was there before is untouched.
    """
    raw = content.encode("utf-8") if isinstance(content, str) else content
    if path.exists() and not path.is_file():
        path.write_bytes(raw)
        return
    place = path.resolve()
    # Made by open(), not by a module for temporary files, so that it gets the rights any new file gets here.
    beside = place.parent / f".callpath-{secrets.token_hex(6)}"
    try:
        with open(beside, "xb", opener=_for_owner if private else None) as stream:
            stream.write(raw)
            stream.flush()
            os.fsync(stream.fileno())
        if place.exists() and not private:
            beside.chmod(place.stat().st_mode)
        beside.replace(place)
    except BaseException as error:
        if beside.exists():
            beside.unlink()
        if isinstance(error, OSError):
            raise OSError(error.errno, error.strerror, str(path)) from None
        raise
