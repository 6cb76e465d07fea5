"""Which calls go first where not all can be had and the job does not say: heat and cool, and the fan alone at the end."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import combinations

__all__ = ["better", "by_preference", "preferred"]

_FIRST = ("heat", "cool")
_LAST = ("fan",)


def preferred(calls: Sequence[str]) -> tuple[str, ...]:
    """Return calls, the one that counts most first: heat and cool, what heats and cools beside them, the fan alone at the end."""
    return tuple(
        sorted(calls, key=lambda call: (call in _LAST, call not in _FIRST, _FIRST.index(call) if call in _FIRST else 0))
    )


def by_preference(calls: Sequence[str], *, asked: bool) -> Iterator[tuple[str, ...]]:
    """Yield every set of some calls, the one that is wanted most first, each in the order of the calls.

    Parameters
    ----------
    asked : bool
        Whether the job says which calls it serves: then most of them count, of equally many those that stand first. Where it
        does not, heat and cool count before everything else, and of equally many calls the fan alone is given up first.
    """
    if asked:
        for size in range(len(calls), -1, -1):
            yield from combinations(calls, size)
        return
    order = preferred(calls)
    sets = [set_ for size in range(len(calls), -1, -1) for set_ in combinations(order, size)]
    sets.sort(key=lambda set_: (-len({*set_} & {*_FIRST}), -len(set_)))
    for set_ in sets:
        yield tuple(call for call in calls if call in set_)


def better(one: Sequence[str], other: Sequence[str], *, asked: bool) -> bool:
    """Tell whether some calls are worth more than others: more of heat and cool where the job does not say, else more calls."""

    def worth(calls: Sequence[str]) -> tuple[int, int]:
        return (0 if asked else len({*calls} & {*_FIRST})), len(calls)

    return worth(one) > worth(other)
