"""``callpath new``: a job file from options, or from a short interview."""

from __future__ import annotations

import shlex
import sys
from collections.abc import Mapping
from pathlib import Path
from typing import Annotated, Any

import typer

from callpath.errors import CallpathError

__all__ = ["EXAMPLES", "new"]

EXAMPLES = (
    "new garden.job.yaml",
    "new --list",
    "new garden.job.yaml --like heat-pump-o",
    "new garden.job.yaml --thermostat single-supply --indoor furnace-board --wall 18/5",
    "new garden.job.yaml --thermostat single-supply --indoor furnace-board --outdoor condenser "
    '--wall "red white green" --length-wall "45 ft" --outside 18/2 --serves "cool fan" '
    '--at-thermostat "R=red Y=white G=green" --at-indoor "R=red Y=white G=green Y=outside.red C=outside.white" '
    '--at-outdoor "Y=red C=white"',
)

Word = str | None
Words = list[str] | None


def new(
    context: typer.Context,
    file: Annotated[
        Path | None, typer.Argument(metavar="FILE", help="The job file to write, by convention NAME.job.yaml.")
    ] = None,
    like: Annotated[
        Word, typer.Option("--like", metavar="NAME", help="Begin with a usual job; --list has them.")
    ] = None,
    listed: Annotated[bool, typer.Option("--list", help="List the jobs to begin with, and write nothing.")] = False,
    thermostat: Annotated[Word, typer.Option("--thermostat", metavar="PART", help="See callpath parts.")] = None,
    indoor: Annotated[
        Word, typer.Option("--indoor", metavar="PART", help="Furnace board, air handler, boiler.")
    ] = None,
    outdoor: Annotated[Word, typer.Option("--outdoor", metavar="PART", help="Condenser, heat pump.")] = None,
    accessory: Annotated[
        Words, typer.Option("--accessory", metavar="ID=PART", help="More equipment beside the indoor one.")
    ] = None,
    wall: Annotated[
        Word, typer.Option("--wall", metavar="CABLE", help="Thermostat to indoor: 18/5, or the colours in the jacket.")
    ] = None,
    outside: Annotated[
        Word, typer.Option("--outside", metavar="CABLE", help="Indoor to outdoor: 18/2, or the colours.")
    ] = None,
    length_wall: Annotated[
        Word, typer.Option("--length-wall", metavar="LENGTH", help="Such as '45 ft' or '14 m'.")
    ] = None,
    length_outside: Annotated[Word, typer.Option("--length-outside", metavar="LENGTH", help="The same.")] = None,
    at_thermostat: Annotated[
        Word, typer.Option("--at-thermostat", metavar="LANDED", help="What sits where: 'R=red W=white'.")
    ] = None,
    at_indoor: Annotated[
        Word,
        typer.Option(
            "--at-indoor", metavar="LANDED", help="The same; the outdoor cable's conductors as 'Y=outside.red'."
        ),
    ] = None,
    at_outdoor: Annotated[Word, typer.Option("--at-outdoor", metavar="LANDED", help="The same.")] = None,
    jumper: Annotated[
        Words, typer.Option("--jumper", metavar="'A B'", help="A link between two terminals: 'stat.Rc stat.Rh'.")
    ] = None,
    setting: Annotated[
        Words, typer.Option("--set", metavar="ID.SETTING=VALUE", help="Such as stat.power=common.")
    ] = None,
    serves: Annotated[
        Word, typer.Option("--serves", metavar="CALLS", help="What must work: 'cool fan'. Without it, all that can.")
    ] = None,
    locations: Annotated[
        Word, typer.Option("--locations", metavar="A,B,C", help="Where they are; without it hall, indoor, outdoor.")
    ] = None,
    title: Annotated[Word, typer.Option("--title", help="Without it, made of the file's name.")] = None,
    force: Annotated[bool, typer.Option("--force", help="Write over a file that is there already.")] = False,
    as_json: Annotated[
        bool, typer.Option("--json", help="One JSON document on standard output, nothing else.")
    ] = False,
) -> int:
    """Write a job file from what is on the wall: parts, what is in the jackets, what sits where.

    Part names may be shortened. Without options, in a terminal, it asks. The equipment is called stat, board (air, boiler)
    and cond (pump) in what it writes. With --like it begins with a usual job, landed and proved. Nothing is written when
    anything is wrong.
    """
    if listed:
        return _list(as_json)
    if file is None:
        raise CallpathError("name the file to write, such as callpath new garden.job.yaml")
    from dataclasses import replace

    from callpath.job.draft import LOCATIONS, Draft, draft_job
    from callpath.job.write import job_text, write_whole

    if file.is_dir():
        raise CallpathError(f"{file} is a folder; name the file to write in it")
    if file.exists() and not force:
        raise CallpathError(f"{file} is there already; choose another name, or add --force to write over it")
    if not file.parent.is_dir():
        raise CallpathError(f"there is no folder {file.parent}; make it first, or choose another")
    options = [thermostat, indoor, outdoor, accessory, wall, outside, length_wall, length_outside, at_thermostat]
    options += [at_indoor, at_outdoor, jumper, setting, serves, locations]
    if like is not None:
        if any(option is not None for option in options):
            raise CallpathError(
                "--like brings its own parts, cables and landings; with it stand only --title and --force"
            )
        return _like(file, like, title or _title(file), as_json)
    options.append(title)
    if any(option is not None for option in options):
        _check_needed({"--thermostat": thermostat, "--indoor": indoor, "--wall": wall})
        draft = Draft(
            thermostat=thermostat or "",
            indoor=indoor or "",
            outdoor=outdoor or "",
            wall=wall or "",
            outside=outside or "",
            accessories=accessory or (),
            wall_length=length_wall or "",
            outside_length=length_outside or "",
            locations=LOCATIONS if locations is None else locations.split("," if "," in locations else None),
            settings=setting or (),
            landed=(at_thermostat or "", at_indoor or "", at_outdoor or ""),
            jumpers=jumper or (),
            serves=serves or "",
            title=title or "",
        )
    elif sys.stdin.isatty():
        from callpath.cli.interview import interview

        draft = interview()
    else:
        raise CallpathError(
            "say what the job is made of: --thermostat, --indoor and --wall at least (callpath new --help has examples); "
            "in a terminal, callpath new FILE alone asks for them"
        )
    data = draft_job(replace(draft, title=draft.title or _title(file)), file=str(file))
    write_whole(file, job_text(data))
    if as_json:
        import json

        sys.stdout.write(json.dumps({"file": str(file), "job": data}, ensure_ascii=False, indent=2) + "\n")
    else:
        _show(file, data, "land" in getattr(context.find_root().command, "commands", {}))
    return 0


def _list(as_json: bool) -> int:
    from callpath.job.starting import starts

    if as_json:
        import json

        rows = [{"name": start.name, "title": start.title, "note": start.note} for start in starts()]
        sys.stdout.write(json.dumps({"like": rows}, ensure_ascii=False, indent=2) + "\n")
        return 0
    from rich import box
    from rich.table import Table

    from callpath.cli.show import console

    table = Table(box=box.SIMPLE_HEAD, pad_edge=False, show_edge=False)
    for heading in ("--like", "what it is"):
        table.add_column(heading, no_wrap=heading == "--like")
    for start in starts():
        table.add_row(start.name, f"{start.title}. {start.note}")
    console().print(table)
    return 0


def _like(file: Path, name: str, title: str, as_json: bool) -> int:
    from callpath.job.read import known_job
    from callpath.job.rewrite import with_changes
    from callpath.job.starting import find_start
    from callpath.job.write import job_data, write_whole

    text = with_changes(find_start(name).text, title=title)
    write_whole(file, text)
    data = job_data(known_job(text))
    if as_json:
        import json

        sys.stdout.write(json.dumps({"file": str(file), "job": data}, ensure_ascii=False, indent=2) + "\n")
    else:
        _show(file, data, can_land=True)
    return 0


def _check_needed(options: Mapping[str, str | None]) -> None:
    missing = [name for name, value in options.items() if not (value or "").strip()]
    if missing:
        raise CallpathError(f"a job needs {' and '.join(missing)} too; callpath new --help has examples")


def _title(file: Path) -> str:
    """Return a title made of a file's name: ``garden-cottage.job.yaml`` is the job Garden cottage."""
    name = file.name.partition(".")[0] or file.name
    words = " ".join(name.replace("_", "-").split("-")).strip()
    return "".join(letter for letter in words[:1].upper() + words[1:] if letter.isprintable())


def _show(file: Path, data: Mapping[str, Any], can_land: bool) -> None:
    from rich import box
    from rich.table import Table
    from rich.text import Text

    from callpath.cli.show import console, plain

    def table(*titles: str) -> Table:
        made = Table(box=box.SIMPLE_HEAD, pad_edge=False, show_edge=False)
        for heading in titles:
            made.add_column(heading)
        return made

    out = console()
    out.print(
        Text(f"Wrote {plain(str(file))}: {plain(data['title'])}" if data.get("title") else f"Wrote {plain(str(file))}")
    )
    out.print()
    rows = table("equipment", "part", "at")
    for name, device in data["equipment"].items():
        rows.add_row(Text(name, style="bold"), device["part"], plain(device["at"]))
    out.print(rows)
    out.print()
    rows = table("cable", "from", "to", "length", "conductors")
    for name, cable in data["cables"].items():
        one, other = map(plain, cable["between"])
        rows.add_row(
            Text(name, style="bold"), one, other, cable.get("length", "50 ft (assumed)"), " ".join(cable["conductors"])
        )
    out.print(rows)
    out.print()
    landings, name = data.get("landings", {}), shlex.quote(str(file))
    if landings:
        rows = table("conductor", "sits on", "and on")
        for conductor, ends in landings.items():
            rows.add_row(Text(conductor, style="bold"), *(end or "nothing" for end in ends))
        out.print(rows)
        out.print()
        out.print(f"Next: callpath prove {plain(name)}", soft_wrap=True)
    elif can_land:
        out.print("Nothing is landed yet.")
        out.print(f"Next: callpath land {plain(name)}", soft_wrap=True)
    else:
        out.print(
            "Nothing is landed yet. Tell what sits where with --at-thermostat, --at-indoor and --at-outdoor, or in the file."
        )
