"""Writes the pages of docs/ that are told by the program itself; tests/test_docs.py fails where they differ from it."""

from __future__ import annotations

import os
import subprocess
import sys
from collections.abc import Callable, Iterator
from pathlib import Path

import typer.main

from callpath.cli.app import app
from callpath.job import load_job
from callpath.papers import diagram, svg
from callpath.parts.catalogue import Catalogue, letters
from callpath.parts.describe import (
    asked_words,
    condition_words,
    cycle_words,
    delay_words,
    element_closes,
    element_rows,
    part_sources,
    setting_words,
    strip_drawing,
    trial_words,
    when_words,
)
from callpath.parts.model import ElectricalValue, Part
from callpath.parts.parsed import DATA, parsed_now
from callpath.proof.finding import CODES

HERE = Path(__file__).parent
HEAD = "<!-- Written by `make docs` from the program itself; changes here are lost. -->\n"
MARKS = {
    "P": "published and seen",
    "M": "from memory of the named source",
    "C": "computed from a named formula",
    "CP": "common practice, no source",
}


def parts_page() -> str:
    """Return the catalogue: every part with its terminals, elements, data with sources, functions, settings and calls."""
    catalogue = Catalogue()
    lines = [
        HEAD,
        "# Parts",
        "",
        "What the catalogue knows. A part is a kind of equipment, never a brand or a model; a job overrides what differs with",
        "`settings`. Each electrical value names its source in brackets; the sources stand at the end of each part.",
        "",
        *(f"- [{name}](#{_anchor(name)}): {catalogue.part(name).title}" for name in catalogue.names),
    ]
    for name in catalogue.names:
        lines += _part(catalogue.part(name))
    lines += ["", "## Marks", "", *(f"- {mark}: {meaning}" for mark, meaning in MARKS.items())]
    return "\n".join(lines) + "\n"


def _anchor(title: str) -> str:
    return "".join(c for c in title.lower().replace(" ", "-") if c.isalnum() or c in "-_")


def _part(part: Part) -> Iterator[str]:
    yield from ("", f"## {part.part}", "", f"{part.title}.")
    if part.note:
        yield from ("", part.note)
    yield from ("", "```text", *strip_drawing(part), "```")
    yield from _table("terminal", "means", "takes", "signal")(
        (name, ", ".join(terminal.means), terminal.takes, terminal.signal) for name, terminal in part.terminals.items()
    )
    yield from _table("element", "kind", "between", "with", "data")(
        (
            name,
            element.kind,
            " – ".join(element.between),
            when_words(element.when),
            ", ".join(
                [f"{key} {value} [{source}]" for key, value, source in element_rows(element)]
                + [words for words in (element_closes(element),) if words]
                + [
                    f"{word} after {late}"
                    for word, late in (("on", _seconds(element.on_delay_s)), ("off", _seconds(element.off_delay_s)))
                    if late
                ]
            ),
        )
        for name, element in part.elements.items()
        if not element.hidden
    )
    yield from _table("function", "runs while", "with", "on after", "off after", "between starts", "asked for")(
        (
            name,
            condition_words(trigger.runs_when),
            when_words(trigger.when),
            _seconds(trigger.on_delay_s),
            _seconds(trigger.off_delay_s),
            _seconds(function.minimum_off_s),
            asked_words(function),
        )
        for name, function in part.functions.items()
        for trigger in function.triggers
    )
    told = [trial_words(function.retry) for function in part.functions.values() if function.retry]
    told += [cycle_words(cycle) for cycle in part.cycles]
    if told:
        yield ""
        yield from (f"- {line}" for line in told)
    yield from _table("setting", "values", "what for")(
        (name, setting_words(setting), setting.help) for name, setting in part.settings.items()
    )
    yield from _table("call", "closes")(
        (name, ", ".join(c.output + (f" ({when_words(c.when)})" if c.when else "") for c in rule.closes))
        for name, rule in part.calls.items()
    )
    found = part_sources(part)
    if found:
        yield ""
        yield from (f"- [{key}] {source.mark}: {source.text}" for key, source in found.items())


def _seconds(value: ElectricalValue | None) -> str:
    words = delay_words(value)
    return f"{words} [{value.source}]" if value and words else ""


def _table(*titles: str) -> Callable[[Iterator[tuple[object, ...]]], Iterator[str]]:
    """Return a function that turns rows into the lines of a table, none where there are no rows."""

    def lines(rows: Iterator[tuple[object, ...]]) -> Iterator[str]:
        found = [[str(cell).replace("|", "\\|") for cell in row] for row in rows]
        if found:
            yield from ("", f"| {' | '.join(titles)} |", f"| {' | '.join('---' for _ in titles)} |")
            yield from (f"| {' | '.join(row)} |" for row in found)

    return lines


def letters_page() -> str:
    """Return what each terminal letter has meant, with the mark of each meaning and the parts that use it so."""
    catalogue = Catalogue()
    used: dict[tuple[str, int], list[str]] = {}
    for name in catalogue.names:
        for letter, terminal in catalogue.part(name).terminals.items():
            for i, meaning in enumerate(letters().get(letter, ())):
                if set(meaning.means) & set(terminal.means):
                    used.setdefault((letter, i), []).append(name)
    rows = (
        (letter if i == 0 else "", meaning.said, meaning.era, meaning.source, _some(used.get((letter, i), [])))
        for letter, found in letters().items()
        for i, meaning in enumerate(found)
    )
    return "\n".join([
        HEAD,
        "# Letters",
        "",
        "What each terminal letter has meant. Letters are custom and no law: the equipment maker's diagram says what a terminal",
        "is, and two equal letters may be joined only where both mean the same. `prove` tells where they do not (`letter-trap`),",
        "and `land` never joins them.",
        *_table("letter", "meaning", "when", "known from", "parts")(rows),
        "",
        "## Marks",
        "",
        *(f"- {mark}: {meaning}" for mark, meaning in MARKS.items()),
    ]) + "\n"  # fmt: skip


def _some(names: list[str]) -> str:
    shown = ", ".join(names[:3])
    return f"{shown} and {len(names) - 3} more" if len(names) > 3 else shown


def findings_page() -> str:
    """Return every finding code with its severity and meaning."""
    rows = _table("severity", "code", "meaning")(
        (severity, f"`{code}`", text) for code, (severity, text) in CODES.items()
    )
    return "\n".join([
        HEAD,
        "# Findings",
        "",
        "What `callpath prove` can find, the worst first. A danger can hurt or burn; a fault does not do what it should, or does",
        "what it should not; weak works until it does not; a note is right, and worth knowing. Exit status 1 stands for anything",
        "worse than a note. A finding comes from the settled circuit: its `path` is the way the current takes, end by end.",
        "",
        "With several thermostats every call is examined from all who can make it, from each alone, and in every mix: upstairs",
        "cooling while downstairs wants heat. In a mix whatever one of its calls may run, may run. What only a mix shows says so",
        "in its message (`while up calls 'cool' and down calls 'heat'`), and its `calls` are those of the mix. Where there are",
        "too many mixes to try them all, `bounded` says which were tried.",
        "",
        "A zone valve that stands in the circuit and that no thermostat opens is a `dead-call` of whoever heats with water past",
        "every valve, or shares another's: the boiler fires and nothing flows there. Where every valve has its thermostat, one",
        "without has a zone that is always open, and a valve made ready for a zone to come is no fault. Two thermostats that are",
        "changed over, each opening the other's valve, cannot be told from the wiring: the job does not say which room is whose.",
        *rows,
    ]) + "\n"  # fmt: skip


def commands_page() -> str:
    """Return the help of every command as the terminal shows it, 100 columns wide and without colour."""
    names = list(typer.main.get_command(app).commands)  # type: ignore[attr-defined]
    lines = [HEAD, "# Commands", ""]
    for words in ([], *([name] for name in names)):
        lines += [f"## {' '.join(['callpath', *words])}", "", "```text", _help(words), "```", ""]
    return "\n".join(lines).rstrip() + "\n"


def _help(words: list[str]) -> str:
    # In a process of its own, so that nobody's terminal, width or colours get in.
    plain = {"COLUMNS": "100", "NO_COLOR": "1", "TERM": "dumb", "PYTHONIOENCODING": "utf-8"}
    ran = subprocess.run(
        [sys.executable, "-c", "from callpath.cli import main; main()", *words, "--help"],
        capture_output=True,
        encoding="utf-8",
        check=True,
        env={**{key: os.environ[key] for key in ("PATH", "PYTHONPATH", "SYSTEMROOT") if key in os.environ}, **plain},
    )
    return "\n".join(line.rstrip() for line in ran.stdout.strip("\n").splitlines())


def diagram_page() -> str:
    """Return the smallest example's wiring diagram, lit on a call."""
    return svg(diagram(load_job(HERE.parent / "examples/garden-cottage.job.yaml")), "cool")


PAGES: dict[str, Callable[[], str]] = {
    "parts.md": parts_page,
    "letters.md": letters_page,
    "findings.md": findings_page,
    "commands.md": commands_page,
    "diagram.svg": diagram_page,
}


def main() -> None:
    """Write every page, and say which."""
    (DATA / "parsed.json").write_text(parsed_now(), encoding="utf-8")
    for name, page in PAGES.items():
        (HERE / name).write_text(page(), encoding="utf-8")
        print(f"docs/{name}")


if __name__ == "__main__":
    main()
