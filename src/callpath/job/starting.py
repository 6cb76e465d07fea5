"""Jobs to begin with: small, usual installations that prove clean, shipped as job files for a person to change."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from pathlib import Path

from callpath.errors import QuestionError, nearest
from callpath.job.read import known_job

__all__ = ["Start", "find_start", "starts"]

_DATA = Path(__file__).parent / "data"
_END = ".job.yaml"


@dataclass(frozen=True)
class Start:
    """A job to begin with: its name, what it is, what to know about it, and its file's text."""

    name: str
    title: str
    note: str
    text: str


@cache
def starts() -> tuple[Start, ...]:
    """Return every job to begin with, the most usual first; their files are numbered in that order."""
    found = []
    for path in sorted(_DATA.glob(f"*{_END}")):
        text = path.read_text(encoding="utf-8")
        job = known_job(text)
        found.append(Start(path.name.removesuffix(_END).partition("-")[2], job.title, job.note, text))
    return tuple(found)


def find_start(word: str) -> Start:
    """Return the job to begin with that a word names: its name, or as much of it as tells it from the others.

    Raises
    ------
    QuestionError
        There is none of that name, or more than one.
    """
    asked = word.strip().casefold()
    by_name = {start.name: start for start in starts()}
    if asked in by_name:
        return by_name[asked]
    found = [name for name in by_name if asked and asked in name]
    if len(found) == 1:
        return by_name[found[0]]
    if found:
        raise QuestionError(f"'{word}' could be {' or '.join(found)}; write more of it")
    raise QuestionError(f"there is no job to begin with called '{word}'; {nearest(asked, by_name)}")
