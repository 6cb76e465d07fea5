"""Suspects and the next test, printed for a person."""

from __future__ import annotations

from rich import box
from rich.padding import Padding
from rich.table import Table
from rich.text import Text

from callpath.cli.show import console, plain
from callpath.faults.answer import Answer, Next, Suspect
from callpath.faults.words import faults_words

__all__ = ["show_answer", "show_next", "show_suspects"]

_SHOWN = 8
_ALIKE = 6


def show_answer(title: str, answer: Answer, caution: str) -> None:
    """Print the whole answer."""
    out = console()
    out.print(Text(plain(title), style="bold"))
    show_suspects(answer)
    out.print()
    if answer.next is not None:
        show_next(answer.next)
    else:
        out.print(Text(f"No further test: {answer.done}.", style="bold"))
    for line in answer.advice:
        out.print(Text(f"! {plain(line)}", style="bold yellow"))
    out.print(caution, style="dim")


def show_suspects(answer: Answer) -> None:
    """Print the likeliest suspects, those that no test tells apart in one line."""
    out = console()
    groups: dict[int, list[Suspect]] = {}
    for suspect in answer.suspects:
        groups.setdefault(suspect.group, []).append(suspect)
    table = Table(box=box.SIMPLE_HEAD, pad_edge=False, show_edge=False)
    table.add_column("likely", justify="right", no_wrap=True)
    table.add_column("suspect")
    told: dict[int, list[Suspect]] = {}
    for suspect in answer.named:
        told.setdefault(suspect.group, []).append(suspect)
    rows = sorted(told, key=lambda group: -sum(s.probability for s in groups[group]))[:_SHOWN]
    for group in rows:
        names = [faults_words(suspect.faults) for suspect in told[group]]
        more = f", or {len(names) - _ALIKE} more" if len(names) > _ALIKE else ""
        words = "\nor ".join(names[:_ALIKE]) + more
        if len(names) > 1:
            words += "\n(no test here tells these apart)"
        table.add_row(_percent(sum(s.probability for s in groups[group])), plain_lines(words))
    rest = sum(s.probability for group, held in groups.items() if group not in rows for s in held)
    if rest >= 0.0005:
        table.add_row(_percent(rest), f"{len(groups) - len(rows)} other suspects or groups")
    table.add_row(
        _percent(answer.other), "anything else" + (": nothing enumerated fits" if answer.unexplained > 0.5 else "")
    )
    out.print(table)


def show_next(following: Next) -> None:
    """Print the next test, why, and what each outcome would leave."""
    out = console()
    out.print(Text.assemble(("Next, at ", "bold"), (plain(following.at), "bold cyan"), (": ", "bold")), end="")
    out.print(Text(plain(following.words), style="bold"))
    out.print(Padding(f"{following.minutes:g} min; {plain(following.why)}", (0, 0, 0, 2)))
    for line in following.cautions:
        out.print(Padding(Text(f"! {line}", style="bold yellow"), (0, 0, 0, 2)))
    table = Table(box=box.SIMPLE_HEAD, pad_edge=False, show_edge=False)
    table.add_column("if it shows", max_width=24)
    table.add_column("likely", justify="right", no_wrap=True)
    table.add_column("this would be left")
    for leaf in following.outcomes[:_SHOWN]:
        first = [faults_words(suspect.faults) for suspect in leaf.leaves[:3]]
        more = f" and {len(leaf.leaves) - 3} more" if len(leaf.leaves) > 3 else ""
        table.add_row(plain(leaf.shows), _percent(leaf.probability), plain("; ".join(first) + more))
    out.print(Padding(table, (0, 0, 0, 2)))


def plain_lines(text: str) -> str:
    """Return text safe to print, its line breaks kept."""
    return "\n".join(map(plain, text.split("\n")))


def _percent(share: float) -> str:
    return f"{100 * share:.1f} %"
