"""A repair, printed as instructions: place by place, move by move, and what was wrong before beside what is left."""

from __future__ import annotations

from itertools import groupby
from pathlib import Path

from rich import box
from rich.padding import Padding
from rich.table import Table
from rich.text import Text

from callpath.cli.show import SEVERITY_STYLE, console, plain
from callpath.cli.show_land import show_ways
from callpath.landing.mended import Mended
from callpath.landing.moves import Move
from callpath.proof.prove import Proof

__all__ = ["show_mend"]


def show_mend(found: Mended, caution: str, *, written: Path | None = None) -> None:
    """Print what to do and where, what each move cures, and what ran before and runs after."""
    out = console()
    out.print(Text(plain(found.before.job.title) or plain(found.before.job.file), style="bold"))
    out.print(_headline(found))
    for line in found.broken:
        out.print(Padding(Text.assemble(("not the wiring: ", "bold yellow"), plain(line)), (0, 0, 0, 2)))
    for call, why in found.unserved.items():
        told = f"'{call}': {why}"
        out.print(Padding(Text.assemble(("not to be had: ", "bold yellow"), plain(told)), (0, 0, 0, 2)))
    for call in found.given_up:
        told = f"'{call}' runs as found and will not run any more; do not make these moves where it is needed"
        out.print(Padding(Text.assemble(("given up: ", "bold yellow"), plain(told)), (0, 0, 0, 2)))
    out.print()
    number = 0
    for at, moves in groupby(zip(found.moves, found.cures, strict=True), key=lambda pair: pair[0].at):
        out.print(Text(f"At {plain(at)}", style="bold"))
        for move, cure in moves:
            number += 1
            out.print(Padding(f"{number}. {plain(_said(move, found))}", (0, 0, 0, 2)))
            out.print(Padding(Text(plain(cure), style="dim"), (0, 0, 0, 5)))
        out.print()
    out.print(_calls(found))
    out.print()
    out.print(_findings(found))
    out.print()
    show_ways(found.ways_out)
    if written is not None:
        out.print(f"written to {plain(str(written))}", style="dim")
    out.print(caution, style="dim")


def _headline(found: Mended) -> Text:
    count = len(found.moves)
    moves = "1 move puts" if count == 1 else f"{count} moves put"
    sure = "fewer moves cannot" if found.fewest else "whether fewer moves can was not ruled out"
    if count and found.wiring.verdict == "clean" and not found.unserved:
        return Text(f"{moves} the wiring right", style="bold green").append(f"; {sure}", style="")
    if count:
        return Text(f"{moves} right what can be put right", style="bold yellow").append(f"; {sure}", style="")
    if found.wiring.verdict == "clean":
        told = "nothing to move: the wiring is right"
        return Text(told, style="bold yellow" if found.broken else "bold green")
    if found.unserved or found.fewest:
        more = "; the ways out below do" if found.ways_out else ""
        return Text(f"nothing to move: no move makes it better{more}", style="bold yellow")
    return Text(f"no repair found: none of up to {found.ruled_out} moves exists", style="bold red")


def _said(move: Move, found: Mended) -> str:
    """Return a move in a technician's words."""
    if move.do == "jumper":
        return f"jumper: put one in from {move.what} to {move.after}"
    if move.do == "unjumper":
        return f"jumper: take out the one from {move.what} to {move.before}"
    if move.do == "set":
        return f"setting: change {move.what} from {move.before} to {move.after}"
    off = f"take it off {move.before}" if move.before else "uncap it"
    if move.before in found.before.job.splices:
        off = f"take it out of the splice {move.before}"
    if move.after is None:
        return f"{move.what}: {off} and cap it"
    if move.do == "splice":
        mates = [name for name, ends in found.job.landings.items() if move.after in ends and name != move.what]
        whom = f" with {' and '.join(mates)}" if mates else ""
        return f"{move.what}: {off} and splice it{whom} ({move.after})"
    return f"{move.what}: {off} and land it on {move.after}"


def _calls(found: Mended) -> Table:
    table = Table(box=box.SIMPLE_HEAD, pad_edge=False, show_edge=False)
    for title in ("call", "ran before", "runs once put right" if found.broken else "runs after"):
        table.add_column(title)
    for call in found.wiring.calls:
        if call in found.before.calls:
            table.add_row(plain(call), _runs(found.before, call), _runs(found.wiring, call))
    return table


def _runs(proof: Proof, call: str) -> Text:
    result = proof.calls[call]
    text = Text()
    for name in result.running:
        wanted = name in result.needed or name in result.allowed
        told = "" if name in result.needed else " may run" if wanted else " unwanted"
        text.append(f"{'✓' if wanted else '✗'} {plain(name)}{told}\n", "" if wanted else "bold red")
    if call in proof.serves:
        for name in sorted(set(result.needed) - set(result.running)):
            text.append(f"✗ {plain(name)} dead\n", "bold yellow")
    text.rstrip()
    return text or Text("nothing", "dim")


def _findings(found: Mended) -> Table:
    """Return what the proof finds before, and whether it is gone after; and what is new."""
    table = Table(box=box.SIMPLE_HEAD, pad_edge=False, show_edge=False)
    for title in ("finding", "what", "after"):
        table.add_column(title, no_wrap=title != "what")
    left = {(f.code, f.severity, f.where) for f in found.proof.findings}
    before = {(f.code, f.severity, f.where) for f in found.before.findings}
    for finding in found.before.findings:
        if finding.severity != "note":
            stays = (finding.code, finding.severity, finding.where) in left
            label = Text(finding.severity, style=SEVERITY_STYLE[finding.severity])
            told = f"{finding.message}: {finding.remedy}" if stays else finding.message
            table.add_row(label, plain(told), Text("stays", "bold red") if stays else Text("gone", "green"))
    for finding in found.proof.findings:
        if (finding.code, finding.severity, finding.where) not in before:
            label = Text(finding.severity, style=SEVERITY_STYLE[finding.severity])
            table.add_row(label, plain(f"{finding.message}: {finding.remedy}"), Text("new", "bold"))
    if not table.row_count:
        table.add_row("none", "nothing was wrong", "")
    return table
