"""What is in the jacket of a cable: from ``18/5`` or the colours themselves to conductors."""

from __future__ import annotations

import re
from collections.abc import Collection, Mapping
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any

from ruamel.yaml import YAML

from callpath.errors import QuestionError, nearest

__all__ = ["Makeup", "makeup", "makeups"]

_DATA = Path(__file__).parent / "data" / "makeup.yaml"
# 18/5, 18-5, 18x5, 18 5, 18 AWG 5, 18 AWG/5, 18-gauge 5-conductor.
_BY_COUNT = re.compile(
    r"\s*#?(\d{1,3})(?:[\s-]*(?:awg|gauge|ga))?\s*[\s/\-\u2010-\u2015x\u00d7,]\s*(\d{1,3})(?:[\s-]*(?:conductors?|wires?|c))?\s*",
    re.IGNORECASE | re.ASCII,
)
_USUAL = "give gauge and number, such as 18/5, or the colours, such as 'red white green'"


@dataclass(frozen=True)
class Makeup:
    """The conductors of a cable, named by colour; ``awg`` is None where only the colours were given."""

    conductors: tuple[str, ...]
    awg: int | None = None


@cache
def _data() -> Mapping[str, Any]:
    data: Mapping[str, Any] = YAML(typ="safe", pure=True).load(_DATA.read_text(encoding="utf-8"))
    return data


@cache
def makeups() -> dict[int, tuple[str, ...]]:
    """Return the colours that a cable of so many conductors has, by that number."""
    order = tuple(_data()["order"])
    by_order = {count: order[:count] for count in range(2, len(order) + 1)}
    return by_order | {count: tuple(colours) for count, colours in _data()["instead"].items()}


def makeup(text: str, *, own: Collection[str] = ()) -> Makeup:
    """Return what is in a cable.

    Parameters
    ----------
    text : str
        Gauge and number of conductors, such as ``18/5`` (``18-5``, ``18 5`` and ``18 AWG 5`` are the same), or the colours,
        parted by spaces or commas.
    own : collection of str
        Names that are taken as they are: those of a cable that is there already.

    Raises
    ------
    QuestionError
        No such cable is made, as far as the data goes; or what should be a colour is none, or is there twice.
    """
    found = _BY_COUNT.fullmatch(text)
    if found is None:
        return Makeup(_colours(text, own))
    awg, count = int(found.group(1)), int(found.group(2))
    gauges = _data()["awg"]["values"]
    problems = []
    near_awg = min(gauges, key=lambda size: abs(size - awg))
    if awg != near_awg:
        problems.append(f"no thermostat cable of {awg} AWG is known, only {_listed(gauges)}; the nearest is {near_awg}")
    if count not in makeups():
        near = min(makeups(), key=lambda size: abs(size - count))
        problems.append(
            f"what colours a cable of {count} has is not known, only of {min(makeups())} to {max(makeups())}; the nearest is"
            f" {near_awg}/{near}, or name the colours, such as '{' '.join(makeups()[3])}'"
        )
    if problems:
        raise QuestionError(f"'{text.strip()}': " + "; ".join(problems))
    return Makeup(makeups()[count], awg)


def _colours(text: str, own: Collection[str]) -> tuple[str, ...]:
    words = tuple(word for word in re.split(r"[\s,]+", text) if word)
    if not words:
        raise QuestionError(f"no conductors; {_USUAL}")
    if len(words) == 1 and words[0].isdigit():
        raise QuestionError(f"'{words[0]}' alone does not say what is in the cable; {_USUAL}")
    if words[0][0].isdigit() and words[0] not in own:
        raise QuestionError(f"'{text.strip()}' is no gauge and number; {_meant(text)}")
    for word in words:
        if _BY_COUNT.fullmatch(word):
            raise QuestionError(f"'{word}' is no colour; gauge and number stand alone, such as 18/5")
    colours = tuple(word if word in own else _colour(word) for word in words)
    for colour in colours:
        if colours.count(colour) > 1:
            raise QuestionError(f"{colour} is there twice; name each conductor once, such as {colour} and {colour}-2")
    return colours


def _meant(text: str) -> str:
    """Return the makeup that somebody may have meant: of what there is, that with the numbers that were written."""
    numbers = [int(number) for number in re.findall(r"[0-9]{1,3}", text)]
    if len(numbers) > 1 and numbers[0] in _data()["awg"]["values"] and numbers[1] in makeups():
        return f"did you mean '{numbers[0]}/{numbers[1]}'?"
    return _USUAL


def _colour(word: str) -> str:
    """Return a conductor's colour as it is named: one or more colours' words, a number behind it for the second of a kind."""
    known = set(_data()["colours"])
    name, number = re.fullmatch(r"(.*?)(-[0-9]{1,2})?", word.casefold(), re.DOTALL).groups(default="")  # type: ignore[union-attr]
    if name and all(part in known for part in name.split("-")):
        return name + number
    # What it takes to write it rightly: white/blue is white-blue, red2 is red-2.
    parts = re.findall(r"[a-z]+|[0-9]+", word.casefold())
    colours = [part for part in parts if part in known]
    if colours and len(colours) + (parts[-1].isdigit() and len(parts) > 1) == len(parts):
        near = f"did you mean '{'-'.join(parts)}'?"
    elif colours:
        near = f"did you mean '{'-'.join(colours)}'?"
    else:
        near = nearest("".join(re.findall(r"[a-z]+", word.casefold())), known)
        near = near if near.startswith("did you mean") else _USUAL
    raise QuestionError(f"'{word}' is no colour of a conductor; {near}")


def _listed(numbers: list[int]) -> str:
    return f"{', '.join(str(number) for number in numbers[:-1])} and {numbers[-1]}"
