"""The command that tells the sequence of operation; heavy imports wait until it runs."""

from __future__ import annotations

import datetime
import json
import sys
from pathlib import Path
from typing import Annotated, Any

import typer

__all__ = ["EXAMPLES", "sequence"]

EXAMPLES = (
    "sequence garden.job.yaml --call cool",
    "sequence garden.job.yaml --call cool --open float.switch@300",
    "sequence garden.job.yaml --call heat --ends 600 --stopped-ago 60",
    "sequence brewery.job.yaml --call cool --then cool-2@600 --ends 1200 --chart",
    "sequence orchard.job.yaml --call heat --frost -o defrost.svg",
    "sequence garden.job.yaml --call heat --no-flame board.heat@0",
    "sequence zones.job.yaml --call cool --by upstairs --then downstairs=heat@120",
)
_LONGEST_S = 14400
# typer carries its command-line errors in a package of its own; what they share is found through the one it shows.
_Usage: Any = typer.BadParameter.__mro__[1]


def _option(name: str, metavar: str, told: str) -> Any:
    return typer.Option(name, metavar=metavar, help=told)


def sequence(
    job: Annotated[Path, typer.Argument(metavar="JOB", help="The job file, by convention NAME.job.yaml.")],
    call: Annotated[
        str, typer.Option("--call", "-c", help="What the thermostats ask for, such as cool, heat, fan or off.")
    ],
    by: Annotated[list[str] | None, _option("--by", "THERMOSTAT", "It alone makes the call; all, without it.")] = None,
    then: Annotated[
        list[str] | None,
        _option("--then", "[THERMOSTAT=]CALL@SECONDS", "The call becomes another at this moment; off ends it."),
    ] = None,
    ends: Annotated[
        float | None,
        typer.Option("--ends", metavar="SECONDS", min=0, max=_LONGEST_S, help="The call ends at this moment."),
    ] = None,
    opens: Annotated[
        list[str] | None, _option("--open", "CONTACT@SECONDS", "A field contact opens at this moment.")
    ] = None,
    closes: Annotated[
        list[str] | None, _option("--close", "CONTACT@SECONDS", "A field contact closes at this moment.")
    ] = None,
    power_off: Annotated[
        list[str] | None,
        _option("--power-off", "WHAT@SECONDS", "Equipment, or everything, loses its power at this moment."),
    ] = None,
    power_on: Annotated[list[str] | None, _option("--power-on", "WHAT@SECONDS", "Its power comes back.")] = None,
    no_flame: Annotated[
        list[str] | None,
        _option("--no-flame", "BURNER@SECONDS", "From this moment a burner, such as board.heat, proves no flame."),
    ] = None,
    flame: Annotated[list[str] | None, _option("--flame", "BURNER@SECONDS", "It can prove its flame again.")] = None,
    frost: Annotated[
        bool, typer.Option("--frost", help="The outdoor coil frosts over in heating, so that defrost comes round.")
    ] = False,
    stopped_ago: Annotated[
        float | None,
        typer.Option(
            "--stopped-ago", metavar="SECONDS", min=0, help="The compressor stopped this long before the call."
        ),
    ] = None,
    chart: Annotated[
        bool, typer.Option("--chart", help="Show a timing chart instead of the table of what happens.")
    ] = False,
    output: Annotated[
        Path | None, typer.Option("--output", "-o", metavar="FILE.svg", help="Write the timing chart here.")
    ] = None,
    as_json: Annotated[
        bool, typer.Option("--json", help="One JSON document on standard output, nothing else.")
    ] = False,
) -> int:
    """Tell the sequence of operation: what energises, closes and runs, when, why, and by which path."""
    if output is not None and output.suffix.casefold() != ".svg":
        raise _Usage(f"'{output.name}' should end in .svg: a timing chart is written as SVG")
    from callpath.calls.play import play
    from callpath.calls.sequence import safeties
    from callpath.circuit.build import build
    from callpath.job import load_job

    circuit = build(load_job(job))
    given = {
        "open": opens,
        "close": closes,
        "power-off": power_off,
        "power-on": power_on,
        "no-flame": no_flame,
        "flame": flame,
        "then": then,
    }
    played = play(call, given, by=by, ends=ends, stopped_ago=stopped_ago, frost=frost).timing(circuit)
    guards = safeties(circuit, call)
    if output is not None:
        from callpath.calls.chart import chart as chart_of
        from callpath.job.write import write_whole
        from callpath.papers.imprint import imprint
        from callpath.papers.timing import timing_svg

        paper = imprint(circuit.job, datetime.date.today())
        write_whole(output, timing_svg(chart_of(played), paper, f"timing of the call '{call}'"))
    if as_json:
        told = played.as_json(call, guards)
        sys.stdout.write(json.dumps(told, ensure_ascii=False, indent=2, allow_nan=False) + "\n")
    elif chart:
        from callpath.calls.chart import chart as chart_of
        from callpath.cli.show_sequence import show_chart

        show_chart(circuit.job.title, call, chart_of(played))
    else:
        from callpath.cli.show_sequence import show_sequence

        show_sequence(circuit.job.title, call, played.events, guards)
    return 0
