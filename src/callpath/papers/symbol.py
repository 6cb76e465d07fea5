"""Graphical symbols for what stands inside equipment, in the two manners that wiring diagrams know.

``iec`` follows IEC 60617, ``ansi`` IEEE 315 (ANSI Y32.2); both are drawn from memory of the standards, not from their text. Every
symbol lies on a level line of 40 pt, its leads included, around the middle (0, 0), and is no higher than 12 pt.
"""

from __future__ import annotations

from callpath.papers.drawing import Manner

__all__ = ["HALF", "strokes"]

HALF = 20.0
"""Half of a symbol's length, its leads included [pt]."""

_LEADS = "M-20 0 L{0} 0 M{1} 0 L20 0"
_ZIGZAG = "M-9 0 L-7.5 -4 L-4.5 4 L-1.5 -4 L1.5 4 L4.5 -4 L7.5 4 L9 0"

_IEC = {
    # A transformer's secondary: two windings as overlapping circles.
    "source": (
        _LEADS.format(-8, 8),
        "M-8 0 a5 5 0 1 0 10 0 a5 5 0 1 0 -10 0",
        "M-2 0 a5 5 0 1 0 10 0 a5 5 0 1 0 -10 0",
    ),
    "fuse": (_LEADS.format(0, 0), "M-8 -3 H8 V3 H-8 Z"),
    # An operating coil: a rectangle across its leads.
    "coil": (_LEADS.format(-5, 5), "M-5 -5.5 H5 V5.5 H-5 Z"),
    "input": (_LEADS.format(-8, 8), "M-8 -3 H8 V3 H-8 Z"),
    "load": (_LEADS.format(-8, 8), "M-8 -3 H8 V3 H-8 Z"),
    "make": (_LEADS.format(-7, 7), "M-7 0 L6 -5.5"),
    "break": (_LEADS.format(-7, 7), "M-7 0 L8.5 -4.5", "M7 0 V-5.5"),
    "link": ("M-20 0 L20 0",),
}
_ANSI = {
    # A winding's humps beside its core.
    "source": (_LEADS.format(-9, 9), "M-9 0 a3 3.4 0 0 1 6 0 a3 3.4 0 0 1 6 0 a3 3.4 0 0 1 6 0", "M-9 3 H9 M-9 5 H9"),
    "fuse": (_LEADS.format(-8, 8), "M-8 0 c2.5 -7 5.5 -7 8 0 c2.5 7 5.5 7 8 0"),
    "coil": (_LEADS.format(-5.5, 5.5), "M-5.5 0 a5.5 5.5 0 1 0 11 0 a5.5 5.5 0 1 0 -11 0"),
    "input": (_LEADS.format(-9, 9), _ZIGZAG),
    "load": (_LEADS.format(-9, 9), _ZIGZAG),
    "make": (_LEADS.format(-2.5, 2.5), "M-2.5 -5 V5 M2.5 -5 V5"),
    "break": (_LEADS.format(-2.5, 2.5), "M-2.5 -5 V5 M2.5 -5 V5", "M-5.5 5 L5.5 -5"),
    "link": ("M-20 0 L20 0",),
}


def strokes(kind: str, manner: Manner) -> tuple[str, ...]:
    """Return the paths of a symbol.

    Parameters
    ----------
    kind : str
        ``source fuse coil input load make break link``; a contact that rests open is a ``make``, else a ``break``.
    manner : str
        ``iec`` or ``ansi``.
    """
    return (_IEC if manner == "iec" else _ANSI)[kind]
