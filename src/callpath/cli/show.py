"""What every printed answer shares: the console, and a path drawn as a line."""

from __future__ import annotations

from collections.abc import Sequence

from rich.console import Console
from rich.text import Text

from callpath.job.model import Job

__all__ = ["SEVERITY_STYLE", "console", "path_line", "plain"]

SEVERITY_STYLE = {"danger": "bold white on red", "fault": "bold yellow", "weak": "bold cyan", "note": "dim"}


def console() -> Console:
    """Return the console for standard output; colour only where a person looks at it."""
    return Console(highlight=False, soft_wrap=False, emoji=False, markup=False)


def plain(text: str) -> str:
    """Return text without control characters, so that nothing in a job can steer a terminal."""
    return "".join(character if character.isprintable() else " " for character in text)


def path_line(path: Sequence[str], job: Job, *, stops: bool = False) -> Text:
    """Draw a path: terminals stand between the conductors, jumpers and metal that join them; ▸ goes through equipment.

    A cross ends a path that goes no further.
    """
    jumpers = {frozenset(pair) for pair in job.jumpers}
    line = Text()
    for before, name in zip(("", *path), path, strict=False):
        if name in job.landings:
            line.append(f" ──{name}── " if before else f"──{name}── ", style="cyan")
            continue
        if before and before not in job.landings:
            if frozenset((before, name)) in jumpers:
                line.append(" ──jumper── ", style="cyan")
            elif before.endswith(".chassis") and name.endswith(".chassis"):
                line.append(" ──metal── ", style="cyan")
            else:
                line.append(" ▸ ", style="dim")
        line.append(name, style="bold")
    if stops:
        line.append(" ✗", style="bold red")
    return line
