"""A sequence of operation, printed for a person."""

from __future__ import annotations

from rich import box
from rich.table import Table

from callpath.calls.sequence import Event, Safety
from callpath.cli.show import console, plain

__all__ = ["show_sequence"]


def show_sequence(title: str, call: str, events: list[Event], safeties: list[Safety]) -> None:
    """Print the events in order, then what each field contact would stop."""
    out = console()
    table = Table(
        title=f"{plain(title)}: '{call}'", title_justify="left", box=box.SIMPLE_HEAD, pad_edge=False, show_edge=False
    )
    table.add_column("at", justify="right", no_wrap=True)
    table.add_column("what happens")
    table.add_column("where")
    table.add_column("because")
    last = None
    for event in events:
        at = "" if event.at_s == last else _clock(event.at_s)
        last = event.at_s
        table.add_row(at, event.what, event.where, event.because)
    out.print(table)
    for safety in safeties:
        stops = ", ".join(safety.stops) or "nothing on this call"
        out.print(f"if {safety.contact} ({safety.title}) changes over, it stops: {stops}")


def _clock(seconds: float) -> str:
    minutes, rest = divmod(seconds, 60)
    return f"{int(minutes)}:{rest:04.1f}" if rest % 1 else f"{int(minutes)}:{int(rest):02d}"
