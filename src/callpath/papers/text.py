"""Text on paper: what may be shown of it, how wide it is, and how it is cut and wrapped.

Drawings are set in a typewriter face, in which every letter is equally wide: a drawing then knows how much room its labels take
without asking any font, and 0 and O, 1 and l stay apart. The width is that of DejaVu Sans Mono, 1233 of 2048 units, which the
PDF embeds; a reader that has another face is told the length of every label and keeps to it.
"""

from __future__ import annotations

import unicodedata

__all__ = ["ASCENT_EM", "DESCENT_EM", "LETTER_EM", "cut", "plain", "width_em", "wrapped"]

LETTER_EM = 1233 / 2048
"""Width of a letter [em]; one of a wide script takes two."""
ASCENT_EM = 0.76
"""How far letters rise above the line [em]."""
DESCENT_EM = 0.24
"""How far letters fall below the line [em]."""

# Joiners are invisible, but without them some scripts are misspelt.
_JOINERS = "\u200c\u200d"


def plain(text: str) -> str:
    """Return text on one line without control characters: nothing in a job can turn writing around or break a file."""
    return " ".join("".join(c if c.isprintable() or c in _JOINERS else " " for c in text).split())


def _letters(character: str) -> int:
    if unicodedata.category(character) in ("Mn", "Me", "Cf"):
        return 0
    return 2 if unicodedata.east_asian_width(character) in "WF" else 1


def width_em(text: str) -> float:
    """Return how wide a line of text is [em]."""
    return LETTER_EM * sum(map(_letters, text))


def cut(text: str, most_em: float) -> str:
    """Return text that is at most so wide [em], with an ellipsis where some had to go."""
    text = plain(text)
    if width_em(text[: int(most_em / LETTER_EM) + 1]) <= most_em and len(text) * LETTER_EM <= most_em:
        return text
    if width_em(text) <= most_em:
        return text
    room = most_em - LETTER_EM
    kept = 0
    for character in text:
        room -= LETTER_EM * _letters(character)
        if room < 0:
            break
        kept += 1
    return text[:kept].rstrip() + "…"


def wrapped(text: str, most_em: float, most_lines: int) -> list[str]:
    """Return text as lines of at most so many ems; what goes beyond the last line is cut."""
    lines: list[str] = []
    rest = plain(text)
    while rest and len(lines) < most_lines - 1 and width_em(rest) > most_em:
        line = cut(rest, most_em + LETTER_EM).removesuffix("…")
        space = line.rfind(" ") if len(line) < len(rest) and rest[len(line)] != " " else -1
        line = line if space <= 0 else line[:space]
        lines.append(line.rstrip())
        rest = rest[len(line) :].lstrip()
    return [*lines, cut(rest, most_em)] if rest else lines
