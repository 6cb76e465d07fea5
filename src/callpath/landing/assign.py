"""Which conductor of a cable takes which part: by custom's colours, then as it was landed before, then in the cable's order."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass

from callpath.job.model import Landing

__all__ = ["Need", "assign", "off_colours"]


@dataclass(frozen=True)
class Need:
    """One conductor that a cable must give.

    ``ways`` are where its ends may land: one way, or either way round for a cable that begins and ends at one place.
    ``customary`` are the colours that custom gives it, ``natural`` is the colour that would be natural even where custom is
    silent.
    """

    ways: tuple[Landing, ...]
    customary: tuple[str, ...]
    natural: str | None

    def landed(self, was: Landing) -> tuple[int, Landing]:
        """Return how many ends move from where they were, and where they land, moving as few as can be."""
        moved = [
            (sum(old is not None and old != new for old, new in zip(was, ends, strict=True)), i)
            for i, ends in enumerate(self.ways)
        ]
        fewest, way = min(moved)
        return fewest, self.ways[way]


_Cost = tuple[int, int, int, tuple[int, ...]]


def off_colours(wants: Sequence[str], free: Sequence[str]) -> int:
    """Return how many of the colours wanted cannot be had from a cable, each of its colours going once."""
    return len(wants) - len(set(wants) & set(free))


def assign(
    needs: Sequence[Need],
    cable: str,
    free: Sequence[str],
    before: Mapping[str, Landing],
    half: Collection[str] = (),
) -> tuple[tuple[int, int, int], list[str]] | None:
    """Return the best choice of colours and what it costs: off colours, ends that change, unnatural colours.

    Exact: dynamic programming over the sets of colours taken. None where one of ``half``, conductors whose one end stays where it
    is landed, would have to go elsewhere; whoever landed it has chosen its colour.
    """
    lifted = {colour: sum(end is not None for end in before.get(f"{cable}.{colour}", ())) for colour in free}
    best: dict[int, _Cost] = {0: (0, sum(lifted.values()), 0, ())}
    for need in needs:
        following: dict[int, _Cost] = {}
        for taken, (off, changes, unnatural, order) in best.items():
            for i, colour in enumerate(free):
                if taken >> i & 1:
                    continue
                was = before.get(f"{cable}.{colour}", (None, None))
                moved, _ = need.landed(was)
                begun = f"{cable}.{colour}" in half
                if begun and moved:
                    continue
                cost = (
                    off + sum(colour != custom and not begun for custom in need.customary),
                    changes - lifted[colour] + moved,
                    unnatural + (need.natural is not None and colour != need.natural and not begun),
                    (*order, i),
                )
                key = taken | 1 << i
                if key not in following or cost < following[key]:
                    following[key] = cost
        best = following
    if not best:
        return None
    off, changes, unnatural, order = min(best.values())
    return (off, changes, unnatural), [free[i] for i in order]
