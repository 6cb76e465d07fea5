"""Finding parts by whatever a person remembers of them: a piece of the name, a terminal's letter, what stands inside."""

from __future__ import annotations

import difflib
import re
from collections.abc import Iterable
from functools import cache

from callpath.parts.catalogue import Catalogue, default_catalogue
from callpath.parts.model import Part

__all__ = ["ROLES", "find_parts"]

ROLES = ("thermostat", "indoor", "outdoor", "accessory")
"""What a part can be, in the order in which a call comes by."""
_NEAR = 0.7
_MOST_WORDS = 8


def find_parts(words: str, role: str = "", catalogue: Catalogue | None = None) -> list[Part]:
    """Return the parts that fit all of some words, the best first; every part where there are none.

    Parameters
    ----------
    words : str
        A word fits where a name or title holds it, or where it is a terminal's letters, an element or a function. One that fits
        nothing anywhere stands for those that are spelt most like it.
    role : str
        Only parts of this role, where it is one.
    catalogue : Catalogue, optional
        Where parts are looked up; by default the one that ships with callpath.
    """
    catalogue = catalogue or default_catalogue()
    parts = [catalogue.part(name) for name in catalogue.names]
    asked = [word for word in re.split(r"[\s,]+", words.casefold()) if word][:_MOST_WORDS]
    worth = {part.part: 0 for part in parts}
    for word in asked:
        fits = {part.part: _fit(word, part) for part in parts}
        if not any(fits.values()):
            near = _spelt_like(word, parts)
            fits = {
                part.part: max((10 * _fit(other, part) - far for far, other in enumerate(near)), default=0)
                for part in parts
            }
        worth = {name: worth[name] + fits[name] if fits[name] > 0 and worth[name] >= 0 else -1 for name in worth}
    found = [part for part in parts if worth[part.part] >= 0 and role in ("", part.role)]
    return sorted(
        found, key=lambda part: (ROLES.index(part.role), -worth[part.part]) if not asked else -worth[part.part]
    )


def _fit(word: str, part: Part) -> int:
    """Return how well a word fits a part; 0 where it does not."""
    name, title, inside = _told(part)
    if word in part.part.casefold() and len(word) > 2:
        return 4
    if word in (letters.casefold() for letters in part.terminals):
        return 3
    if any(piece.startswith(word) for piece in (*name, *title)):
        return 3
    if len(word) > 2 and word in part.title.casefold():
        return 2
    return int(len(word) > 2 and any(word in piece for piece in inside))


@cache
def _words(text: str) -> tuple[str, ...]:
    return tuple(re.findall(r"[a-z0-9]+", text.casefold()))


def _told(part: Part) -> tuple[tuple[str, ...], tuple[str, ...], tuple[str, ...]]:
    meanings = (meaning for terminal in part.terminals.values() for meaning in terminal.means)
    return _words(part.part), _words(part.title), _words(" ".join((*part.shown_elements, *part.functions, *meanings)))


def _spelt_like(word: str, parts: Iterable[Part]) -> list[str]:
    known = {piece for part in parts for pieces in _told(part) for piece in pieces if len(piece) > 2}
    return difflib.get_close_matches(word, sorted(known), n=3, cutoff=_NEAR)
