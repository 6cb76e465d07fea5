"""Landings, printed as instructions: place by place, terminal by terminal."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from rich import box
from rich.padding import Padding
from rich.table import Table
from rich.text import Text

from callpath.cli.show import console, plain
from callpath.landing.landed import Landed
from callpath.landing.ways import WayOut

__all__ = ["show_land", "show_ways"]


def show_land(found: Landed, caution: str, *, written: Path | None = None) -> None:
    """Print where everything lands, what is given up and why, and what to look out for."""
    out = console()
    out.print(Text(plain(found.job.title) or plain(found.job.file), style="bold"))
    out.print(
        Text(
            f"serves {', '.join(found.serves)}" if found.serves else "serves nothing",
            style="bold green" if found.serves else "bold red",
        )
    )
    for call, why in found.unserved.items():
        out.print(Padding(Text.assemble((f"not {call}: ", "bold yellow"), plain(why)), (0, 0, 0, 2)))
    out.print()
    for place in dict.fromkeys(at for cable in found.job.cables.values() for at in cable.between):
        out.print(Text(f"At {plain(place)}", style="bold"))
        out.print(Padding(_place(found, place), (0, 0, 0, 2)))
        out.print()
    if found.departures:
        out.print(Text("Against custom's colours (right, but label both ends)", style="bold"))
        for line in found.departures:
            out.print(Padding(plain(line), (0, 0, 0, 2)))
        out.print()
    if found.cautions or found.left_out:
        out.print(Text("Look out", style="bold"))
        for line in (*found.cautions, *found.left_out):
            out.print(Padding(plain(line), (0, 0, 0, 2)))
        out.print()
    show_ways(found.ways_out)
    if found.proof.nothing_runs:
        out.print(Text(plain(found.proof.nothing_runs), style="bold red"))
    best = "no better landing exists" if found.optimal else "better landings were not ruled out: too many ways to try"
    out.print(_verdict(found).append(f": {found.proof.states_examined} states proved; {best}", style=""))
    if found.unserved or found.proof.verdict != "clean":
        # Where all is well nothing better is missed that anybody would look for.
        out.print(f"not looked at: {'; '.join(found.not_searched)}")
    if written is not None:
        out.print(f"written to {plain(str(written))}", style="dim")
    out.print(caution, style="dim")


def _verdict(found: Landed) -> Text:
    """Return the proof's verdict; what is given up stands in it, for it alone would sound as if all were well."""
    verdict = found.proof.verdict
    if found.unserved:
        gone = f"gives up {', '.join(found.unserved)}"
        return Text(
            f"{gone}; {verdict} for {', '.join(found.serves)} alone" if found.serves else gone, style="bold yellow"
        )
    return Text(verdict, style="bold green" if verdict == "clean" else "bold red")


def show_ways(ways: Sequence[WayOut]) -> None:
    """Print ways out, numbered; nothing where there are none."""
    out = console()
    if ways:
        out.print(Text("Ways out, each landed and proved clean", style="bold"))
        for number, way in enumerate(ways, 1):
            out.print(Padding(Text.assemble((f"{number}. {plain(way.title)}", "bold")), (0, 0, 0, 2)))
            out.print(Padding(plain(way.detail), (0, 0, 0, 5)))
        out.print()


def _place(found: Landed, place: str) -> Table:
    """Return what is done at one place: terminals in their order, splices, jumpers, capped ends."""
    job = found.job
    table = Table(box=box.SIMPLE_HEAD, pad_edge=False, show_edge=False)
    table.add_column("terminal", no_wrap=True)
    table.add_column("conductor", no_wrap=True)
    table.add_column("why")
    terminals = [
        f"{device.id}.{letters}"
        for device in job.equipment.values()
        if device.at == place
        for letters in device.part.terminals
    ]
    splices = [name for name, at in job.splices.items() if at == place]
    here = [
        (end, conductor)
        for conductor, ends in job.landings.items()
        for end, at in zip(ends, job.cable_of(conductor).between, strict=True)
        if at == place
    ]
    for spot in (*terminals, *splices):
        names = [conductor for end, conductor in here if end == spot]
        label = f"splice {spot}" if spot in splices else spot
        for name in names:
            table.add_row(plain(label), plain(name), plain(found.choices.get(name, "as it was landed")))
            label = ""
    for one, two in job.jumpers:
        if one in terminals:
            table.add_row(plain(one), plain(f"jumper to {two}"), "joins the two; one short piece of wire")
    capped = [conductor for end, conductor in here if end is None]
    if capped:
        table.add_row(
            "none", plain(", ".join(capped)), "cap each by itself, touching nothing; keep as spares", style="dim"
        )
    return table
