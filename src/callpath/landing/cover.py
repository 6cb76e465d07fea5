"""Whom each thermostat serves: the equipment that a call has to run, chosen in every way."""

from __future__ import annotations

import itertools
import math
from collections.abc import Collection, Mapping, Sequence

from callpath.calls.need import Needs
from callpath.landing.logic import Moment

__all__ = ["choices", "valves"]

_COMPANIONS = ("blower", "circulator", "open")
_MOST_CHOICES = 512

Needed = dict[Moment, frozenset[str]]


def choices(
    needs: Needs, allowed: Mapping[Moment, frozenset[str]], serves: Sequence[str], moments: Sequence[Moment]
) -> tuple[list[tuple[int, Needed]], bool]:
    """Return what each moment must run, in every way to choose the equipment for it, most functions first.

    Parameters
    ----------
    allowed : mapping
        What each moment may run.

    Returns
    -------
    tuple
        Each way with the number of functions that it runs; and whether these are all the ways.
    """
    ways = [_covers(needs, moment, allowed[moment]) for moment in moments]
    found = []
    for chosen in itertools.islice(itertools.product(*ways), _MOST_CHOICES):
        needed = dict(zip(moments, chosen, strict=True))
        if not _zoned(needed):
            continue
        together = [frozenset().union(*(needed[m] for m in moments if m.call == call)) for call in serves]
        found.append((sum(map(len, together)), needed))
    return sorted(found, key=lambda item: -item[0]), math.prod(map(len, ways)) <= _MOST_CHOICES


def valves(functions: Collection[str]) -> set[str]:
    """Return the functions that are zone valves opening."""
    return {name for name in functions if name.endswith(".open")}


def _covers(needs: Needs, moment: Moment, allowed: frozenset[str]) -> list[frozenset[str]]:
    """Return what a moment must run, largest first, for every set of equipment that has all kinds of function it needs."""
    # What equipment merely may do on a call is not asked of it.
    asked = needs.must_run(moment.call, moment.callers) or allowed
    devices = sorted({name.partition(".")[0] for name in allowed})
    return [
        frozenset(name for name in allowed if name.partition(".")[0] in chosen)
        for size in range(len(devices), -1, -1)
        for chosen in itertools.combinations(devices, size)
        if _covered(moment, asked, chosen)
    ]


def _covered(moment: Moment, asked: frozenset[str], chosen: Collection[str]) -> bool:
    kinds: dict[str, set[str]] = {}
    for name in asked:
        id_, _, function = name.partition(".")
        kinds.setdefault(function, set()).add(id_)
    if moment.call.startswith("heat") and "compressor" not in kinds:
        kinds = {function: ids for function, ids in kinds.items() if function not in _COMPANIONS}
    return bool(kinds) and all(ids & set(chosen) for ids in kinds.values())


def _zoned(needed: Needed) -> bool:
    """Tell whether every zone valve has one thermostat, and every thermostat a valve where there are enough of them."""
    for call in {moment.call for moment in needed}:
        zones = [valves(functions) for moment, functions in needed.items() if moment.call == call]
        together = set().union(*zones)
        if sum(map(len, zones)) > len(together) or (len(together) >= len(zones) and not all(zones)):
            return False
    return True
