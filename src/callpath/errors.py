"""The one tree of errors that callpath raises on purpose.

::

    CallpathError
    ├── InputError          what was given is wrong; carries every problem found
    │   ├── JobError        a job file
    │   ├── SeenError       a file of what was seen
    │   ├── FaultDataError  a file of assumptions about faults
    │   └── CatalogueError  a catalogue data file
    ├── QuestionError       a call, terminal, conductor or option that the job does not have
    ├── SolveError          the circuit could not be solved to its tolerance
    └── StoppedError        whoever waited for slow work has stopped it

Every problem names its place, the offending word and the nearest valid words, so that
nobody has to guess what to type instead.
"""

from __future__ import annotations

import difflib
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

__all__ = [
    "CallpathError",
    "CatalogueError",
    "FaultDataError",
    "InputError",
    "JobError",
    "Problem",
    "QuestionError",
    "SeenError",
    "SolveError",
    "StoppedError",
    "nearest",
]


@dataclass(frozen=True, order=True)
class Problem:
    """One thing wrong with an input.

    Parameters
    ----------
    file : str
        Path as the user gave it.
    line, column : int
        One-based place of the offending word; 0 where a file has no lines to name.
    message : str
        What is wrong and what would be right.
    """

    file: str
    line: int
    column: int
    message: str

    def __str__(self) -> str:
        place = f"{self.file}:{self.line}:{self.column}" if self.line else self.file
        return f"{place}: {self.message}"

    def as_json(self) -> dict[str, str | int]:
        """Return the problem in the form of the contract's ``errors`` list."""
        return {"file": self.file, "line": self.line, "column": self.column, "message": self.message}


class CallpathError(Exception):
    """Root of every error that callpath raises on purpose."""


class InputError(CallpathError):
    """An input is wrong; ``problems`` holds everything that was found at once."""

    def __init__(self, problems: Sequence[Problem]) -> None:
        self.problems: tuple[Problem, ...] = tuple(sorted(problems))
        super().__init__("\n".join(str(problem) for problem in self.problems))


class JobError(InputError):
    """A job file is wrong."""


class CatalogueError(InputError):
    """A catalogue data file is wrong."""


class SeenError(InputError):
    """A file of what was seen and measured is wrong."""


class FaultDataError(InputError):
    """A file of assumptions about faults is wrong."""


class QuestionError(CallpathError):
    """A question names something that the job does not have."""


class SolveError(CallpathError):
    """The circuit could not be solved to its tolerance."""


class StoppedError(CallpathError):
    """Whoever waited for slow work has stopped it."""


def nearest(word: str, valid: Iterable[str], *, most: int = 3) -> str:
    """Return a clause that names the valid words nearest to a wrong one.

    Parameters
    ----------
    word : str
        What was written.
    valid : iterable of str
        What could have been written.
    most : int
        How many near words to name; a short list of valid words is given whole.

    Returns
    -------
    str
        ``"did you mean 'Y' or 'Y2'?"``, ``"valid: C, R, W"`` or ``""`` when nothing is valid.
    """
    words = sorted(set(valid))
    if not words:
        return ""
    by_folded = {candidate.casefold(): candidate for candidate in words}
    near = [by_folded[w] for w in difflib.get_close_matches(word.casefold(), by_folded, n=most, cutoff=0.6)]
    if near:
        return "did you mean " + " or ".join(f"'{w}'" for w in near) + "?"
    shown = ", ".join(words[:12]) + (", …" if len(words) > 12 else "")
    return f"valid: {shown}"
