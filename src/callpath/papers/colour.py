"""How a conductor's colour is printed: the nearest ink for the name, told apart by its written name wherever there is doubt."""

from __future__ import annotations

__all__ = ["ink"]

# Inks of about equal weight, dark enough on white paper but for white and yellow, which the dark edge of every line shows.
_INKS = {
    "red": "#c8102e",
    "white": "#ffffff",
    "green": "#00843d",
    "blue": "#1f5fbf",
    "yellow": "#ffd100",
    "brown": "#7a4a21",
    "orange": "#f08a00",
    "black": "#1a1a1a",
    "tan": "#d2b48c",
    "grey": "#8c8c8c",
    "gray": "#8c8c8c",
    "purple": "#7d3f98",
    "violet": "#7d3f98",
    "pink": "#f49ac1",
}
_UNKNOWN = "#b5b5b5"


def ink(colour: str) -> str:
    """Return the ink for a colour's name, grey for a name that is no colour; the first word that is one decides."""
    words = colour.casefold().replace("-", " ").replace("/", " ").replace("_", " ").split()
    return next((_INKS[word] for word in words if word in _INKS), _UNKNOWN)
