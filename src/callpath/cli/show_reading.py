"""Readings, printed for a person and shaped for JSON."""

from __future__ import annotations

from typing import Any

from rich import box
from rich.table import Table

from callpath.calls.reading import TableRow, spread
from callpath.cli.show import console, plain

__all__ = ["show_reading", "show_table", "spread"]

_SPREAD = "spread: mains 8 % under to 5 % over nominal, components and meter within their tolerances"

GHOST = "a ghost: it comes through cables and leakage only, so a meter may as well show nothing; --meter low-z does"


def show_reading(text: str, document: dict[str, Any]) -> None:
    """Print one reading with its spread."""
    quantity = next(key for key in ("volts", "amps", "ohms") if key in document)
    unit = {"volts": "V", "amps": "A", "ohms": "Ω"}[quantity]
    value = document[quantity]
    out = console()
    if value == "OL":
        out.print(f"{text}: OL, open")
        return
    out.print(f"{text}: {value:.2f} {unit}  ({document['low']:.2f} to {document['high']:.2f} {unit})")
    if document.get("ghost"):
        out.print(GHOST)
    out.print(_SPREAD, style="dim")


def show_table(title: str, on: str, rows: list[TableRow], caution: str) -> None:
    """Print the reading of every terminal against its common."""
    out = console()
    table = Table(
        title=f"{plain(title)}: {plain(on)}", title_justify="left", box=box.SIMPLE_HEAD, pad_edge=False, show_edge=False
    )
    table.add_column("terminal")
    table.add_column("against")
    table.add_column("volts", justify="right")
    table.add_column("from", justify="right")
    table.add_column("to", justify="right")
    table.add_column("")
    before = ""
    for row in rows:
        equipment = row.terminal.partition(".")[0]
        if before and equipment != before:
            table.add_section()
        before = equipment
        r = row.reading
        table.add_row(
            row.terminal, row.against, f"{r.value:.1f}", f"{r.low:.1f}", f"{r.high:.1f}", "ghost" if r.ghost else ""
        )
    out.print(table)
    out.print(_SPREAD, style="dim")
    out.print(caution, style="dim")
