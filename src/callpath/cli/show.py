"""What every printed answer shares: the console, and a path drawn as a line."""

from __future__ import annotations

from collections.abc import Collection, Sequence

from rich.console import Console
from rich.text import Text

__all__ = ["SEVERITY_STYLE", "console", "path_line", "plain"]

SEVERITY_STYLE = {"danger": "bold white on red", "fault": "bold yellow", "weak": "bold cyan", "note": "dim"}


def console() -> Console:
    """Return the console for standard output; colour only where a person looks at it."""
    return Console(highlight=False, soft_wrap=False, emoji=False, markup=False)


def plain(text: str) -> str:
    """Return text without control characters, so that nothing in a job can steer a terminal."""
    return "".join(character if character.isprintable() else " " for character in text)


def path_line(path: Sequence[str], conductors: Collection[str], *, stops: bool = False) -> Text:
    """Draw a path: terminals stand between the conductors that join them, and a cross ends a path that goes no further."""
    line = Text()
    before_conductor = False
    for i, name in enumerate(path):
        if name in conductors:
            line.append(f" ──{name}── " if i else f"──{name}── ", style="cyan")
            before_conductor = True
        else:
            if i and not before_conductor:
                line.append(" ▸ ", style="dim")
            line.append(name, style="bold")
            before_conductor = False
    if stops:
        line.append(" ✗", style="bold red")
    return line
