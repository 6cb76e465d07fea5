"""Everything that is wrong with one job file, gathered first and told at once.

Nothing that was written is trusted: words are shown short and with control characters escaped, and the nearest valid
words are looked up only for the problems that will be shown, so that a file with a million mistakes costs no more than
one with a hundred.
"""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass

from callpath.errors import JobError, Problem, nearest

__all__ = ["SHOWN", "Place", "Problems", "shown"]

SHOWN = 100
"""How many problems of one file are told; the rest are counted."""

# Comparing words takes time in proportion to their length and number.
_LONGEST_WORD = 40
_MOST_CANDIDATES = 200


@dataclass(frozen=True, order=True, slots=True)
class Place:
    """A place in the file, one-based."""

    line: int
    column: int


def shown(word: object, *, whole: bool = False) -> str:
    """Return a value as a message names it: text in quotes, shortened unless whole, control characters escaped."""
    if isinstance(word, (bool, type(None))):
        return {True: "true", False: "false", None: "nothing"}[word]
    if isinstance(word, (list, tuple)):
        return "a list"
    if isinstance(word, dict):
        return "keys with values"
    text = str(getattr(word, "written", word))
    quote = "" if isinstance(word, (int, float)) else "'"
    cut = text if whole or len(text) <= _LONGEST_WORD else text[:_LONGEST_WORD] + "…"
    return quote + "".join(c if c.isprintable() else c.encode("unicode_escape").decode() for c in cut) + quote


@dataclass(frozen=True, slots=True)
class _Found:
    place: Place
    message: str
    word: str
    valid: Collection[str]

    def told(self) -> str:
        words = [word for word in self.valid if len(word) <= _LONGEST_WORD]
        if len(words) > _MOST_CANDIDATES:
            alike = [word for word in words if word[:1].casefold() == self.word[:1].casefold()]
            words = (alike or words)[:_MOST_CANDIDATES]
        hint = nearest(self.word[:_LONGEST_WORD], words)
        return f"{self.message}; {hint}" if hint else self.message


class Problems:
    """The problems found so far in the file of that name."""

    def __init__(self, file: str) -> None:
        self.file = file
        self._found: list[_Found] = []

    def __len__(self) -> int:
        return len(self._found)

    def add(self, place: Place, message: str, *, word: str = "", valid: Collection[str] = ()) -> None:
        """Note a problem at a place; the words of ``valid`` nearest to ``word`` are told with it."""
        self._found.append(_Found(place, message, word, valid))

    def take(self, other: Problems) -> None:
        """Add what another reading of the same file has found."""
        self._found.extend(other._found)

    def error(self) -> JobError:
        """Return the error that tells the first hundred problems in the order of the file, and counts the rest."""
        once = {(one.place, one.message): one for one in self._found}
        found = [one for _, one in sorted(once.items(), key=lambda item: item[0])]
        problems = [Problem(self.file, one.place.line, one.place.column, one.told()) for one in found[:SHOWN]]
        if rest := found[SHOWN:]:
            more = f"{len(rest)} more problem{'s' if len(rest) > 1 else ''} from here on, not shown"
            problems.append(Problem(self.file, rest[0].place.line, rest[0].place.column, more))
        return JobError(problems)
