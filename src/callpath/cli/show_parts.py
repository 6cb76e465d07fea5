"""The catalogue, printed for a person."""

from __future__ import annotations

from rich import box
from rich.padding import Padding
from rich.table import Table
from rich.text import Text

from callpath.cli.show import console
from callpath.parts.describe import (
    asked_words,
    condition_words,
    cycle_words,
    delay_words,
    element_closes,
    element_rows,
    part_sources,
    setting_words,
    strip_drawing,
    trial_words,
    when_words,
)
from callpath.parts.model import Part

__all__ = ["show_part", "show_parts"]


def _table(*titles: str) -> Table:
    table = Table(box=box.SIMPLE_HEAD, pad_edge=False, show_edge=False)
    for title in titles:
        table.add_column(title)
    return table


def show_parts(parts: list[Part]) -> None:
    """Print every part on a line."""
    table = _table("part", "what it is", "terminals")
    for part in parts:
        table.add_row(Text(part.part, style="bold"), part.title, " ".join(part.terminals))
    out = console()
    out.print(table)
    out.print("callpath parts PART tells one part whole", style="dim")


def _element(part: Part, name: str) -> None:
    """Print one element: what it is and where it sits, then its data by source."""
    element = part.elements[name]
    out = console()
    facts = [element.kind, " – ".join(element.between), element_closes(element)]
    facts.append(f"with {when_words(element.when)}" if element.when else "")
    out.print(Text(name, style="bold").append("  " + ", ".join(fact for fact in facts if fact), style=""))
    by_source: dict[str, list[str]] = {}
    for key, value, source in element_rows(element):
        by_source.setdefault(source, []).append(f"{key} {value}")
    for source, values in by_source.items():
        out.print(Padding(Text(", ".join(values)).append(f"  [{source}]", style="dim"), (0, 0, 0, 4)))


def show_part(part: Part) -> None:
    """Print one part whole: terminals, elements with their data, functions, settings, calls."""
    out = console()
    out.print(Text(part.part, style="bold").append(f"  {part.title}", style=""))
    if part.note:
        out.print(part.note)
    out.print()
    for line in strip_drawing(part):
        out.print(line, soft_wrap=True)
    table = _table("terminal", "means", "takes", "signal")
    for name, terminal in part.terminals.items():
        table.add_row(name, ", ".join(terminal.means), str(terminal.takes), terminal.signal)
    out.print(table)
    for name in part.shown_elements:
        _element(part, name)
    out.print()
    if part.functions:
        table = _table("function", "runs while", "with", "on after", "off after", "asked for")
        for name, function in part.functions.items():
            for trigger in function.triggers:
                on, off = (delay_words(delay) for delay in (trigger.on_delay_s, trigger.off_delay_s))
                table.add_row(
                    Text(name, style="bold"),
                    condition_words(trigger.runs_when),
                    when_words(trigger.when),
                    on or "at once",
                    off or "at once",
                    asked_words(function),
                )
        out.print(table)
    for function in part.functions.values():
        if function.retry:
            out.print(trial_words(function.retry))
    for cycle in part.cycles:
        out.print(cycle_words(cycle))
    if part.settings:
        table = _table("setting", "values", "what for")
        for name, setting in part.settings.items():
            table.add_row(Text(name, style="bold"), setting_words(setting), setting.help)
        out.print(table)
    if part.calls:
        table = _table("call", "closes")
        for name, rule in part.calls.items():
            outputs = [item.output + (f" ({when_words(item.when)})" if item.when else "") for item in rule.closes]
            table.add_row(Text(name, style="bold"), ", ".join(outputs))
        out.print(table)
    for key, source in part_sources(part).items():
        out.print(Text(f"[{key}] ", style="dim").append(f"{source.mark}: {source.text}"))
