"""A sequence of operation, printed for a person: as a table of what happens, or as a timing chart."""

from __future__ import annotations

from collections.abc import Sequence

from rich import box
from rich.table import Table

from callpath.calls.chart import Chart, clock
from callpath.calls.guard import Safety
from callpath.calls.timing import Event
from callpath.cli.show import console, plain

__all__ = ["chart_lines", "show_chart", "show_sequence"]

_ON, _OFF = "█", "·"


def show_sequence(title: str, call: str, events: Sequence[Event], safeties: Sequence[Safety]) -> None:
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


def show_chart(title: str, call: str, chart: Chart) -> None:
    """Print a timing chart, in as many pieces as the terminal's width asks for."""
    out = console()
    out.print(f"{plain(title)}: '{call}'", soft_wrap=True)
    for line in chart_lines(chart, out.width):
        out.print(line, soft_wrap=True)
    out.print(f"{_ON} on   {_OFF} off   minutes and seconds; between two moments the time is not to scale")


def chart_lines(chart: Chart, width: int) -> list[str]:
    """Return a timing chart as lines of text no wider than ``width``, in pieces one below the other where it must be."""
    names = [plain(track.name) for track in chart.tracks]
    labels = [clock(moment) for moment in chart.moments_s]
    cell = max([len(label) for label in labels], default=4) + 1
    left = min(max([len(name) for name in names], default=0), max(width - cell - 1, 8))
    fits = max(1, (width - left - 1) // cell)
    lines: list[str] = []
    for first in range(0, len(labels), fits):
        some = range(first, min(first + fits, len(labels)))
        if lines:
            lines.append("")
        lines.append(" " * (left + 1) + "".join(labels[i].ljust(cell) for i in some).rstrip())
        for name, track in zip(names, chart.tracks, strict=True):
            shown = name if len(name) <= left else f"{name[: left - 1]}…"
            lines.append(f"{shown:<{left}} " + "".join((_ON if track.is_on(i) else _OFF) * cell for i in some))
    return lines


def _clock(seconds: float) -> str:
    minutes, rest = divmod(seconds, 60)
    return f"{int(minutes)}:{rest:04.1f}" if rest % 1 else f"{int(minutes)}:{int(rest):02d}"
