"""The commands and their options; what they print stands beside, in ``show``.

Heavy imports wait until the command that needs them runs, so that ``--help`` answers at once.
"""

from __future__ import annotations

import json
import os
import sys
from collections.abc import Callable
from enum import StrEnum
from io import TextIOWrapper
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from callpath.cli import land, mend, new, practice, records, sequence, serve, sheet, troubleshoot
from callpath.errors import CallpathError, InputError, Problem

if TYPE_CHECKING:
    from callpath.circuit.build import Circuit
    from callpath.job.model import Job

__all__ = ["app", "main"]

CAUTION = (
    "Power off and prove it off before touching a terminal. Line voltage, gas and capacitors kill. The equipment "
    "maker's diagram, local code and licensed practice win over anything said here."
)

app = typer.Typer(
    name="callpath",
    help="Solves the 24 V control circuit of a heating and cooling job: what runs on each call, what a meter reads, "
    "and what is dangerous, dead or weak, with the path that the current takes.",
    epilog=CAUTION,
    no_args_is_help=True,
    add_completion=False,
    pretty_exceptions_enable=False,
    rich_markup_mode="rich",
    context_settings={"help_option_names": ["-h", "--help"]},
)


class MeterKind(StrEnum):
    """Which voltmeter."""

    usual = "usual"
    low_z = "low-z"


JobFile = Annotated[Path, typer.Argument(metavar="JOB", help="The job file, by convention NAME.job.yaml.")]
AsJson = Annotated[bool, typer.Option("--json", help="One JSON document on standard output, nothing else.")]
Call = Annotated[
    str, typer.Option("--call", "-c", help="What the thermostats ask for, such as cool, heat, fan or off.")
]


def _example(*lines: str) -> str:
    return "[bold]Examples[/]\n\n" + "\n\n".join(f"  callpath {line}" for line in lines)


def _load(path: Path) -> Job:
    from callpath.job import load_job

    return load_job(path)


def _circuit(path: Path) -> Circuit:
    from callpath.circuit.build import build

    return build(_load(path))


def _print_json(document: Any) -> None:
    sys.stdout.write(json.dumps(document, ensure_ascii=False, indent=2, allow_nan=False) + "\n")


@app.command(epilog=_example("prove garden.job.yaml", "prove garden.job.yaml --json"))
def prove(job: JobFile, as_json: AsJson = False) -> int:
    """Settle the circuit for every call and report every danger, fault and weakness.

    Every call is tried in every combination of field contacts and of live sources.
    Exit status 1 where anything is worse than a note.
    """
    from callpath.cli.waiting import busy
    from callpath.proof.prove import prove as prove_job

    with busy("settling every state"):
        found = prove_job(_load(job))
    if as_json:
        _print_json(found.as_json())
    else:
        from callpath.cli.show_proof import show_proof

        show_proof(found, CAUTION)
    return 0 if found.verdict == "clean" else 1


@app.command(
    epilog=_example(
        "read garden.job.yaml --call cool",
        "read garden.job.yaml --call cool --between cond.Y cond.C",
        "read garden.job.yaml --call cool --amps outside.red",
        "read zones.job.yaml --call heat --by upstairs",
        "read garden.job.yaml --ohms --between cond.Y cond.C --lift outside.red",
    )
)
def read(
    job: JobFile,
    call: Call = "off",
    by: Annotated[
        list[str] | None,
        typer.Option("--by", metavar="THERMOSTAT", help="It alone makes the call; all that can, without it."),
    ] = None,
    between: Annotated[
        tuple[str, str] | None,
        typer.Option("--between", "-b", metavar="A B", help="The two points of the leads, such as cond.Y, wall.red@1."),
    ] = None,
    amps: Annotated[
        str | None, typer.Option("--amps", metavar="CONDUCTOR", help="Clamp around this conductor.")
    ] = None,
    ohms: Annotated[bool, typer.Option("--ohms", help="Every source off; needs --between.")] = False,
    lift: Annotated[
        list[str] | None,
        typer.Option(
            "--lift",
            metavar="CONDUCTOR",
            help="Taken off the measured terminal first, a jumper as board.R+board.Y; with --ohms.",
        ),
    ] = None,
    meter: Annotated[MeterKind, typer.Option("--meter", help="10 MΩ as usual, or low impedance.")] = MeterKind.usual,
    as_json: AsJson = False,
) -> int:
    """Tell what a meter shows: volts, amps or ohms, with the spread that sound equipment may show.

    Without --between, a table of every terminal against its common.
    """
    from callpath.calls import reading
    from callpath.cli import show_reading

    _check_read_options(between, amps, ohms, lift or [], meter)
    circuit, who = _circuit(job), by or []
    on = f"on '{call}'" + (f" by {', '.join(who)}" if who else "")
    told = {"call": call, **({"by": who} if who else {})}
    if amps is not None:
        found = reading.amps_in(circuit, call, amps, by=who)
        document = {**told, "conductor": amps, **show_reading.spread("amps", found)}
        text = f"{amps} {on}"
    elif between is not None and ohms:
        found = reading.ohms_between(circuit, *between, call=call, lifted=lift or [], by=who)
        document = {"between": list(between), **show_reading.spread("ohms", found)}
        text = f"{between[0]} to {between[1]}, every source off" + (f", {', '.join(lift)} lifted" if lift else "")
    elif between is not None:
        found = reading.volts_between(circuit, call, *between, low_z=meter is MeterKind.low_z, by=who)
        document = {**told, "between": list(between), **show_reading.spread("volts", found)}
        text = f"{between[0]} to {between[1]} {on}"
    else:
        rows = reading.volts_table(circuit, call, by=who)
        if as_json:
            readings = [{"between": [r.terminal, r.against], **show_reading.spread("volts", r.reading)} for r in rows]
            _print_json({**told, "readings": readings})
        else:
            show_reading.show_table(circuit.job.title, on, rows, CAUTION)
        return 0
    if as_json:
        _print_json(document)
    else:
        show_reading.show_reading(text, document)
    return 0


def _check_read_options(
    between: tuple[str, str] | None, amps: str | None, ohms: bool, lift: list[str], meter: MeterKind
) -> None:
    if ohms and between is None:
        raise _Usage("--ohms needs two points: add --between A B")
    if amps is not None and (between is not None or ohms):
        raise _Usage("--amps clamps around one conductor; leave out --between and --ohms")
    if lift and not ohms:
        raise _Usage("--lift goes with --ohms: nothing is lifted while the power is on")
    if meter is MeterKind.low_z and (between is None or ohms):
        raise _Usage("--meter low-z goes with volts between two points: add --between A B")


app.command(epilog=_example(*sequence.EXAMPLES))(sequence.sequence)


@app.command(
    epilog=_example(
        "netlist garden.job.yaml --call cool", "netlist garden.job.yaml -c cool -b cond.Y cond.C -o cool.cir"
    )
)
def netlist(
    job: JobFile,
    call: Call = "off",
    between: Annotated[
        tuple[str, str] | None,
        typer.Option("--between", "-b", metavar="A B", help="Put a 10 MΩ meter across two points."),
    ] = None,
    output: Annotated[Path | None, typer.Option("--output", "-o", metavar="FILE", help="Write here instead.")] = None,
    as_json: AsJson = False,
) -> int:
    """Write the settled circuit as a SPICE netlist; any SPICE gives the same voltages as read."""
    from callpath.calls.closing import given_for
    from callpath.calls.reading import point
    from callpath.circuit.snapshot import snapshot
    from callpath.circuit.spice import netlist as netlist_of

    circuit = _circuit(job)
    pair = None if between is None else (point(circuit, between[0]), point(circuit, between[1]))
    state = snapshot(circuit, given_for(circuit, call))
    text = netlist_of(state, title=f"{circuit.job.title or job.name}: {call}", between=pair)
    if output is not None:
        from callpath.job.write import write_whole

        write_whole(output, text)
    if as_json:
        nodes = {name: f"n{i + 1}" for name, i in circuit.network.node_of.items()}
        _print_json({"call": call, "netlist": text, "nodes": nodes})
    elif output is None:
        sys.stdout.write(text)
    return 0


app.command(epilog=_example(*land.EXAMPLES))(land.land)
app.command(epilog=_example(*mend.EXAMPLES))(mend.mend)


app.command(epilog=_example(*troubleshoot.EXAMPLES))(troubleshoot.troubleshoot)
app.command(epilog=_example(*practice.EXAMPLES))(practice.practice)


@app.command(epilog=_example("parts", "parts outdoor/heat-pump", "parts --json"))
def parts(
    part: Annotated[str | None, typer.Argument(metavar="[PART]", help="One part; all without it.")] = None,
    as_json: AsJson = False,
) -> int:
    """Show the catalogue: terminals, elements with their data and its sources, functions, settings."""
    from callpath.parts.catalogue import default_catalogue

    catalogue = default_catalogue()
    chosen = [catalogue.part(name) for name in ([part] if part else catalogue.names)]
    if as_json:
        from callpath.parts.describe import part_as_json

        _print_json({"parts": [part_as_json(item) for item in chosen]})
    else:
        from callpath.cli.show_parts import show_part, show_parts

        if part:
            show_part(chosen[0])
        else:
            show_parts(chosen)
    return 0


app.command(epilog=_example(*new.EXAMPLES))(new.new)
app.command(epilog=_example("serve", "serve --port 9000", "serve --host 0.0.0.0"))(serve.serve)
app.command(epilog=_example("backup friday.callpath-backup"))(records.backup)
app.command(epilog=_example("restore friday.callpath-backup"))(records.restore)

app.command(epilog=_example(*sheet.EXAMPLES))(sheet.sheet)


def _version(asked: bool) -> None:
    if asked:
        from importlib.metadata import version

        typer.echo(f"callpath {version('callpath')}")
        raise typer.Exit


@app.callback()
def _root(
    version: Annotated[
        bool, typer.Option("--version", callback=_version, is_eager=True, help="Say which version this is.")
    ] = False,
) -> None:
    pass


# typer carries its command-line errors in a package of its own; what they share is found through the one it shows.
_Usage: Any = typer.BadParameter.__mro__[1]
_Misuse: Any = typer.BadParameter.__mro__[2]


def main(arguments: list[str] | None = None) -> None:
    """Run the command line: 0 nothing wrong, 1 findings worse than a note, 2 wrong input or misuse; never a traceback."""
    given = sys.argv[1:] if arguments is None else arguments
    as_json = "--json" in given
    for stream in (sys.stdout, sys.stderr):
        # A terminal that knows no Ω or ✗ gets a question mark in its place.
        if isinstance(stream, TextIOWrapper):
            stream.reconfigure(errors="replace")
    sys.exit(_guarded(lambda: app(given, prog_name="callpath", standalone_mode=False), as_json))


def _guarded(run: Callable[[], Any], as_json: bool) -> int:
    try:
        status = int(run() or 0)
        sys.stdout.flush()
        return status
    except BrokenPipeError:
        # Whoever read has seen enough; nothing is left to flush to.
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return 0
    except InputError as error:
        return _refuse(error.problems, as_json)
    except (CallpathError, OSError) as error:
        text = f"{error.filename}: {error.strerror}" if isinstance(error, OSError) and error.filename else str(error)
        return _refuse((Problem("", 0, 0, text),), as_json)
    except _Misuse as error:
        return _refuse((Problem("", 0, 0, error.format_message()),), as_json)
    except (KeyboardInterrupt, typer.Abort):
        typer.echo("stopped", err=True)
        return 130


def _refuse(problems: tuple[Problem, ...], as_json: bool) -> int:
    for problem in problems:
        typer.echo(_harmless(str(problem) if problem.file else problem.message), err=True)
    if as_json:
        told = ({**problem.as_json(), "message": _harmless(problem.message)} for problem in problems)
        _print_json({"errors": list(told)})
    return 2


def _harmless(text: str) -> str:
    """Return text with control characters escaped, so that no word of a user or a file can steer a terminal."""
    return "".join(c if c.isprintable() or c == "\n" else c.encode("unicode_escape").decode() for c in text)
