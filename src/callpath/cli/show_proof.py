"""A proof, printed for a person."""

from __future__ import annotations

from rich import box
from rich.padding import Padding
from rich.table import Table
from rich.text import Text

from callpath.cli.show import SEVERITY_STYLE, console, path_line, plain
from callpath.proof.finding import Finding
from callpath.proof.prove import CallResult, Proof

__all__ = ["show_proof"]

_MARK = {"danger": "!!", "fault": "✗", "weak": "~", "note": "·"}
_STOPS = ("dead-call", "no-return", "unpowered-thermostat")


def show_proof(proof: Proof, caution: str) -> None:
    """Print what each call does, then every finding, the worst first."""
    out = console()
    out.print(Text(plain(proof.job.title) or plain(proof.job.file), style="bold"))
    out.print(f"{proof.states_examined} states examined" + (f"; {proof.bounded}" if proof.bounded else ""), style="dim")
    out.print()
    out.print(_calls(proof))
    out.print()
    for finding in proof.findings:
        _finding(proof, finding)
    counts = {severity: sum(f.severity == severity for f in proof.findings) for severity in SEVERITY_STYLE}
    told = ", ".join(
        f"{n} {severity}{'' if n == 1 or severity == 'weak' else 's'}" for severity, n in counts.items() if n
    )
    if proof.verdict == "clean" and proof.nothing_runs:
        out.print(
            Text("nothing runs", style="bold red").append(f" on any call, so nothing can be wrong ({told})", style="")
        )
    elif proof.verdict == "clean":
        examined = " in the states examined, which are not all" if proof.bounded else ""
        # Where nothing is served nothing can fail to be.
        served = "" if proof.serves else ", and no call is served yet"
        verdict = f"{examined}: nothing worse than a note ({told or 'no findings'}){served}"
        out.print(Text("clean", style="bold green").append(verdict, style=""))
    else:
        out.print(Text("findings", style="bold red").append(f": {told}", style=""))
    out.print(caution, style="dim")


def _calls(proof: Proof) -> Table:
    table = Table(box=box.SIMPLE_HEAD, pad_edge=False, show_edge=False)
    for title in ("call", "runs", "source", "carries"):
        table.add_column(title, no_wrap=title == "carries")
    for call, result in proof.calls.items():
        sources = "\n".join([*result.sources, *result.opened])
        carries = "\n".join(
            f"{load.volts:.1f} V {load.amps:.2f} A {load.va:.0f}/{load.rated_va:.0f} VA"
            for load in result.sources.values()
        )
        carries += "".join("\n✗ burned" if name in result.sources else "\n✗ open" for name in result.opened)
        label = Text(call, style="bold" if call in proof.serves or call == "off" else "dim")
        runs = _runs(call, result, call in proof.serves)
        if until := proof.until(call):
            how = "burned" if until[0] in result.sources else "opened"
            runs.append(f"\nuntil {', '.join(until)} has {how} on another call", "dim")
        table.add_row(label, runs, sources, carries)
    return table


def _runs(call: str, result: CallResult, served: bool) -> Text:
    text = Text()
    for name in result.running:
        wanted = name in result.needed or name in result.allowed
        told = "" if name in result.needed else " may run" if wanted else " unwanted"
        text.append(f"{'✓' if wanted else '✗'} {name}{told}\n", "green" if wanted else "bold red")
    for name in sorted(set(result.needed) - set(result.running)):
        if served:
            text.append(f"✗ {name} dead\n", "bold yellow")
    if not text:
        text.append("nothing" if call == "off" or served else "nothing (not served)", "dim")
    text.rstrip()
    return text


def _finding(proof: Proof, finding: Finding) -> None:
    out = console()
    head = Text()
    head.append(f" {_MARK[finding.severity]} {finding.severity} ", style=SEVERITY_STYLE[finding.severity])
    head.append(f" {finding.code}", style="bold")
    calls = tuple(proof.calls)
    if finding.calls and finding.calls != calls:
        head.append(f"  on {', '.join(finding.calls)}", style="dim")
    out.print(head)
    out.print(Padding(plain(finding.message), (0, 0, 0, 4)))
    if finding.path and finding.severity != "note":
        line = path_line(finding.path, proof.job, stops=finding.code in _STOPS)
        out.print(Padding(line, (0, 0, 0, 4)))
    if finding.severity != "note":
        out.print(Padding(Text("→ " + plain(finding.remedy), style="italic"), (0, 0, 0, 4)))
        out.print()
    elif finding is proof.findings[-1]:
        out.print()
