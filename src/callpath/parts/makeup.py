"""What is in the jacket of a cable: from ``18/5`` or the colours themselves to conductors."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any

from ruamel.yaml import YAML

from callpath.errors import QuestionError

__all__ = ["Makeup", "makeup", "makeups"]

_DATA = Path(__file__).parent / "data" / "makeup.yaml"
_BY_COUNT = re.compile(r"\s*(\d{1,3})\s*/\s*(\d{1,3})\s*")


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


def makeup(text: str) -> Makeup:
    """Return what is in a cable.

    Parameters
    ----------
    text : str
        Gauge and number of conductors, such as ``18/5``, or the colours, parted by spaces or commas.

    Raises
    ------
    QuestionError
        No such cable is made, as far as the data goes, or a colour is there twice.
    """
    found = _BY_COUNT.fullmatch(text)
    if found is None:
        return Makeup(_colours(text))
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


def _colours(text: str) -> tuple[str, ...]:
    colours = tuple(word for word in re.split(r"[\s,]+", text) if word)
    usual = "give gauge and number, such as 18/5, or the colours, such as 'red white green'"
    if not colours:
        raise QuestionError(f"no conductors; {usual}")
    if len(colours) == 1 and colours[0].isdigit():
        raise QuestionError(f"'{colours[0]}' alone does not say what is in the cable; {usual}")
    for colour in colours:
        if _BY_COUNT.fullmatch(colour):
            raise QuestionError(f"'{colour}' is no colour; gauge and number stand alone, such as 18/5")
        if colours.count(colour) > 1:
            raise QuestionError(f"{colour} is there twice; name each conductor once, such as {colour} and {colour}-2")
    return colours


def _listed(numbers: list[int]) -> str:
    return f"{', '.join(str(number) for number in numbers[:-1])} and {numbers[-1]}"
