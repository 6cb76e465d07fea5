"""Which calls go first where not all can be had: heat and cool, and the fan alone at the end."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import combinations

__all__ = ["better", "by_preference", "preferred"]

_FIRST = ("heat", "cool")
_LAST = ("fan",)


def preferred(calls: Sequence[str], *, asked: bool = False) -> tuple[str, ...]:
    """Return calls, the one that counts most first: heat and cool, what heats and cools beside them, the fan alone at the end.

    Between calls that count the same the order counts in which somebody has ``asked`` for them; else heat comes before cool.
    """

    def rank(call: str) -> tuple[bool, bool, int]:
        return call in _LAST, call not in _FIRST, _FIRST.index(call) if call in _FIRST and not asked else 0

    return tuple(sorted(calls, key=rank))


def by_preference(calls: Sequence[str], *, asked: bool) -> Iterator[tuple[str, ...]]:
    """Yield every set of some calls, the one that is wanted most first, each in the order of the calls.

    Heat and cool count before everything else, then most of the others, and of equally many calls the fan alone is given up
    first.

    Parameters
    ----------
    asked : bool
        Whether the job says which calls it serves. That says which, not which of them first: a house without heat is in
        danger, one without a fan alone is not, in whatever order they were written.
    """
    order = preferred(calls, asked=asked)
    sets = [set_ for size in range(len(calls), -1, -1) for set_ in combinations(order, size)]
    sets.sort(key=lambda set_: (-len({*set_} & {*_FIRST}), -len(set_)))
    for set_ in sets:
        yield tuple(call for call in calls if call in set_)


def better(one: Sequence[str], other: Sequence[str]) -> bool:
    """Tell whether some calls are worth more than others: more of heat and cool, then more calls."""

    def worth(calls: Sequence[str]) -> tuple[int, int]:
        return len({*calls} & {*_FIRST}), len(calls)

    return worth(one) > worth(other)
