"""The command that tells the sequence of operation; heavy imports wait until it runs."""

from __future__ import annotations

import datetime
import json
import math
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

if TYPE_CHECKING:
    from callpath.calls.outside import Interruption

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
    from callpath.calls.outside import Interruption
    from callpath.calls.sequence import safeties, timing
    from callpath.circuit.build import build
    from callpath.job import load_job

    circuit = build(load_job(job))
    outside = [
        *_outside(Interruption, opens, "contact", "CONTACT@SECONDS, such as float.switch@300"),
        *_outside(Interruption, closes, "contact", "CONTACT@SECONDS, such as float.switch@300", closed=True),
        *_outside(Interruption, power_off, "power", "WHAT@SECONDS, such as board@300"),
        *_outside(Interruption, power_on, "power", "WHAT@SECONDS, such as board@330", closed=True),
        *_outside(Interruption, no_flame, "flame", "BURNER@SECONDS, such as board.heat@0"),
        *_outside(Interruption, flame, "flame", "BURNER@SECONDS, such as board.heat@200", closed=True),
        *_calls(Interruption, then),
        *([Interruption(ends)] if ends is not None else []),
    ]
    played = timing(
        circuit,
        call,
        callers=by,
        interruptions=outside,
        stopped_ago_s=math.inf if stopped_ago is None else stopped_ago,
        frost=frost,
    )
    guards = safeties(circuit, call)
    if output is not None:
        from callpath.calls.chart import chart as chart_of
        from callpath.job.write import write_whole
        from callpath.papers.imprint import imprint
        from callpath.papers.timing import timing_svg

        paper = imprint(circuit.job, datetime.date.today())
        write_whole(output, timing_svg(chart_of(played), paper, f"timing of the call '{call}'"))
    if as_json:
        told = {
            "call": call,
            "events": [
                {"at_s": e.at_s, "what": e.what, "where": e.where, "because": e.because, "path": list(e.path)}
                for e in played.events
            ],
            "lanes": [{"name": lane.name, "spans": [list(span) for span in lane.spans]} for lane in played.lanes],
            "safeties": [{"contact": g.contact, "stops": list(g.stops)} for g in guards],
        }
        sys.stdout.write(json.dumps(told, ensure_ascii=False, indent=2, allow_nan=False) + "\n")
    elif chart:
        from callpath.calls.chart import chart as chart_of
        from callpath.cli.show_sequence import show_chart

        show_chart(circuit.job.title, call, chart_of(played))
    else:
        from callpath.cli.show_sequence import show_sequence

        show_sequence(circuit.job.title, call, played.events, guards)
    return 0


def _outside(
    kind: type[Interruption], given: list[str] | None, what: str, form: str, *, closed: bool = False
) -> Iterator[Interruption]:
    for text in given or []:
        name, at = _at_seconds(text, form)
        named: dict[str, Any] = {what: name}
        yield kind(at, closed=closed, **named)


def _calls(kind: type[Interruption], given: list[str] | None) -> Iterator[Interruption]:
    for text in given or []:
        name, at = _at_seconds(text, "[THERMOSTAT=]CALL@SECONDS, such as cool-2@600 or upstairs=heat@120")
        caller, _, call = name.rpartition("=")
        yield kind(at, call=call, caller=caller)


def _at_seconds(text: str, form: str) -> tuple[str, float]:
    name, _, seconds = text.rpartition("@")
    try:
        at = float(seconds)
        if not name or not 0 <= at <= _LONGEST_S:
            raise ValueError
    except ValueError:
        raise _Usage(f"'{text}' is not {form}, with 0 to {_LONGEST_S} s") from None
    return name, at
