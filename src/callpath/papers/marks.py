"""What a proof found, numbered, and where each finding shows in the diagram."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from callpath.papers.drawing import Diagram, Label, Rect
from callpath.papers.text import cut, width_em
from callpath.proof.finding import Finding

__all__ = ["Mark", "badges", "marks"]

_STOPS = ("dead-call", "no-return", "unpowered-thermostat")


@dataclass(frozen=True)
class Mark:
    """One finding worse than a note, by its number on the paper; ``steps`` are what is marked, ``stop`` where current stops."""

    number: int
    finding: Finding
    steps: tuple[str, ...]
    stop: str

    @property
    def head(self) -> str:
        """Its number, what it is, and the calls in which it shows."""
        calls = f", on {', '.join(self.finding.calls)}" if self.finding.calls else ""
        return f"{self.number} {self.finding.severity}: {self.finding.code}{calls}"

    @property
    def told(self) -> str:
        """The finding in words, and what to do."""
        return f"{self.finding.message}. To do: {self.finding.remedy}."


def marks(findings: Sequence[Finding]) -> tuple[Mark, ...]:
    """Number the findings worse than a note, the worst first as the proof has them."""
    worse = [finding for finding in findings if finding.severity != "note"]
    return tuple(
        Mark(
            number,
            finding,
            finding.path or finding.where,
            finding.path[-1] if finding.path and finding.code in _STOPS else "",
        )
        for number, finding in enumerate(worse, 1)
    )


def badges(diagram: Diagram, found: Sequence[Mark]) -> list[tuple[Rect, Label]]:
    """Return the numbers to write into the terminals on the findings' paths, each with the plate behind it."""
    made = []
    for name, terminal in diagram.terminals.items():
        here = [mark for mark in found if name in mark.steps]
        if not here:
            continue
        numbers = [f"{mark.number}{'✗' if name == mark.stop else ''}" for mark in here]
        letters = next(label for label in diagram.labels if label.kind == "terminal" and label.of == name)
        size = letters.size - 1.5
        room = (letters.rect.x - terminal.rect.x - 6) / size
        text = ",".join(numbers)
        if width_em(text) > room:
            text = cut(numbers[0] + ("+" if len(numbers) > 1 else ""), max(room, width_em("12")))
        y = terminal.rect.y + terminal.rect.height / 2
        width = width_em(text) * size + 4
        plate = Rect(terminal.rect.x + 1.5, y - size / 2 - 1.1, width, size + 2.2)
        label = Label(text, plate.x + width / 2, y + 0.36 * size, size, "middle", "mark", name, bold=True)
        made.append((plate, label))
    return made
