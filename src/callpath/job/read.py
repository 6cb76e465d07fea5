"""From a job file to a checked job: everything that is wrong is told at once, each with its place."""

from __future__ import annotations

import difflib
import os
from dataclasses import replace
from functools import lru_cache
from itertools import islice
from pathlib import Path
from typing import Any

from callpath.errors import JobError, Problem, nearest
from callpath.job.decode import MAXIMUM_BYTES, decode
from callpath.job.fault import read_contacts, read_faults, read_serves
from callpath.job.inventory import Run, take_inventory
from callpath.job.model import Cable, Equipment, Job
from callpath.job.name import Names
from callpath.job.problems import Problems, shown
from callpath.job.shape import JobShape, read_entry
from callpath.job.wiring import read_jumpers, read_landings
from callpath.job.yamltext import UNREAD, Document, parse
from callpath.parts.catalogue import Catalogue, default_catalogue

__all__ = ["file_contents", "known_job", "load_job", "read_job"]

_MOST_FILES = 1000


def load_job(path: str | os.PathLike[str], catalogue: Catalogue | None = None) -> Job:
    """Return the job in a file.

    Parameters
    ----------
    path : str or path-like
        A regular file; at most 256 KiB of it would be read.
    catalogue : Catalogue, optional
        Where parts are looked up; by default the one that ships with callpath.

    Raises
    ------
    JobError
        The file cannot be read, or is not a sound job; with every problem at once.
    """
    raw, shown_file = file_contents(path)
    return read_job(raw, file=shown_file, catalogue=catalogue)


def file_contents(path: str | os.PathLike[str]) -> tuple[bytes, str]:
    """Return what a file holds, one byte more than may be read at most, and how messages name the file.

    Raises
    ------
    JobError
        It cannot be read.
    """
    file = os.fsdecode(path)
    shown_file = shown(file, whole=True)[1:-1]
    try:
        return _contents(file), shown_file
    except FileNotFoundError:
        raise JobError([Problem(shown_file, 0, 0, f"there is no such file; {_beside(file)}".rstrip("; "))]) from None
    except (OSError, ValueError) as error:
        reason = error.strerror if isinstance(error, OSError) and error.strerror else str(error)
        raise JobError([Problem(shown_file, 0, 0, f"cannot be read: {reason[:1].lower()}{reason[1:]}")]) from None


def _contents(file: str) -> bytes:
    """Return what a regular file holds, at most one byte more than a job file may."""
    path = Path(file)
    if not path.is_file():
        path.stat()
        raise OSError("it is a folder" if path.is_dir() else "it is no regular file")
    # It may have become a pipe since; not blocking, so that nobody waits for one.
    descriptor = os.open(file, os.O_RDONLY | getattr(os, "O_NONBLOCK", 0))
    with os.fdopen(descriptor, "rb") as stream:
        return stream.read(MAXIMUM_BYTES + 1) or b""


def _beside(file: str) -> str:
    """Return a clause that names the job files in the same folder that are called nearly so."""
    try:
        others = [other.name for other in islice(Path(file).parent.iterdir(), _MOST_FILES)]
    except (OSError, ValueError):
        return ""
    jobs = [name for name in others if name.endswith((".yaml", ".yml")) and name.isprintable()]
    return nearest(Path(file).name, difflib.get_close_matches(Path(file).name, jobs))


def read_job(text: str | bytes, *, file: str = "job.yaml", catalogue: Catalogue | None = None) -> Job:
    """Return the job that a text describes.

    Parameters
    ----------
    text : str or bytes
        YAML 1.2; bytes in UTF-8.
    file : str
        What problems call it.
    catalogue : Catalogue, optional
        Where parts are looked up; by default the one that ships with callpath.

    Raises
    ------
    JobError
        It is not a sound job; with every problem at once.
    """
    problems = Problems(file)
    raw = text[: MAXIMUM_BYTES + 1].encode("utf-8", "surrogatepass") if isinstance(text, str) else text
    decoded = decode(raw, problems)
    document = None if decoded is None else parse(decoded, problems, JobShape.known())
    if document is None:
        raise problems.error()
    job = _job(document, catalogue or default_catalogue(), file)
    if job is None:
        raise problems.error()
    return job


@lru_cache(maxsize=128)
def known_job(text: str) -> Job:
    """Return the job that a text describes, read once for as long as it is asked for again; nothing of it may be changed.

    Raises
    ------
    JobError
        It is not a sound job; with every problem at once.
    """
    return read_job(text)


def _job(document: Document, catalogue: Catalogue, file: str) -> Job | None:
    """Return the job, or None where the document has a problem."""
    if not isinstance(document.data, dict):
        if not document.problems:
            nothing = document.data is None or document.data is UNREAD
            what = "the file is empty" if nothing else f"the file holds {shown(document.data)} and no keys with values"
            document.tell((), f"{what}; a job starts with 'callpath: 1', with a space after the ':'")
        return None
    top = read_entry(JobShape, (), document.data, document)
    for section in ("equipment", "cables", "splices", "jumpers"):
        written = document.data.get(document.spelled.get((section,), section))
        if getattr(top, section) is None and (written is not None or section == "equipment"):
            document.lost.add(section)
    if top.equipment == {} and "equipment" not in document.lost:
        document.tell(("equipment",), "the job has no equipment", key=True)
    inventory = take_inventory(top, document, catalogue)
    names = Names(inventory, document)
    landings = read_landings(top, inventory, names, document)
    jumpers = read_jumpers(top, names, document)
    serves = read_serves(top, inventory, document)
    contacts = read_contacts(top, names, document)
    faults = read_faults(top, names, landings, jumpers, document)
    if document.problems:
        return None
    return Job(
        title=top.title or "",
        equipment={
            device.id: Equipment(device.id, device.part, device.at, device.settings)
            for device in inventory.devices.values()
            if device.part is not None and device.at is not None
        },
        cables={run.id: _cable(run) for run in inventory.runs.values()},
        landings=landings,
        splices={name: at for name, at in inventory.splices.items() if at is not None},
        jumpers=jumpers,
        serves=serves,
        contacts=contacts,
        faults=faults,
        note=top.note or "",
        hz=top.hz or Job.hz,
        file=file,
    )


def _cable(run: Run) -> Cable:
    one, other = run.between
    given: dict[str, Any] = {
        "length_ft": run.shape.length,
        "awg": run.shape.awg,
        "stranded": run.shape.stranded,
        "temperature_c": run.shape.temperature,
    }
    cable = Cable(run.id, (one or "", other or ""), run.conductors)
    return replace(cable, **{key: value for key, value in given.items() if value is not None})
