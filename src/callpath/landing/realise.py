"""How a net is carried: by which cables its terminals are joined, and where ends meet on a terminal, a jumper or a splice.

Every way is a tree whose nodes are terminals and splices and whose edges are conductors of some cable, and jumpers. A
terminal that nothing needs may serve as a meeting place, where it means what the net means; where the net joins unlike
terminals, what some of them mean: a jumper then leads a signal on from the terminal it belongs on to a second input.
"""

from __future__ import annotations

import itertools
from collections import Counter
from collections.abc import Collection, Iterator, Mapping
from dataclasses import dataclass

from callpath.job.model import Job
from callpath.landing.logic import Logic
from callpath.parts.catalogue import custom_colours

__all__ = ["Edge", "Ground", "Tree", "most_meetings"]

MOST_TREES = 4000
_MOST_MEETINGS = 2
_MOST_GROWN = 40_000


def most_meetings(job: Job) -> int:
    """Return at how many splices and terminals beside its own a net may meet, at most."""
    return max(_MOST_MEETINGS, len(job.cables) - 1)


@dataclass(frozen=True, order=True)
class Edge:
    """A conductor of a cable, its ends in the order of the cable's ``between``; or a jumper, where ``cable`` is empty.

    A new splice stands as ``+location``.
    """

    cable: str
    ends: tuple[str, str]


@dataclass(frozen=True)
class Tree:
    """One way to carry a net.

    ``crowded`` counts conductors beyond what terminals take, ``unlike`` the pairs of unlike terminals that meeting places
    add, ``metal`` the chassis landed on, ``added`` new splices and jumpers; ``cables`` counts conductors by cable and
    ``wants`` lists, by cable, the colours that custom gives those on a thermostat; ``meeting`` are the terminals that serve
    as meeting places.
    """

    edges: tuple[Edge, ...]
    crowded: int
    unlike: int
    metal: int
    added: int
    cables: Mapping[str, int]
    wants: tuple[tuple[str, str], ...]
    meeting: frozenset[str]


class Ground:
    """The cables, what is fixed, and what is still free.

    Parameters
    ----------
    job : Job
        The job with only the fixed conductors landed.
    free : mapping
        By cable, the colours that are free, those landed at one end only among them.
    """

    def __init__(
        self, job: Job, logic: Logic, free: Mapping[str, tuple[str, ...]], *, most_added: int | None = None
    ) -> None:
        self.job = job
        self.logic = logic
        self.free = free
        self.most_added = most_added
        loose = {f"{cable}.{colour}" for cable, colours in free.items() for colour in colours}
        self.landed = Counter(end for name, ends in job.landings.items() if name not in loose for end in ends if end)
        self.joints = [
            *((one, two) for one, two in job.landings.values() if one and two),
            *job.jumpers,
        ]
        self.complete = True
        self._thorough = False
        self._colours = custom_colours()
        self._cache: dict[tuple[int, ...], tuple[Tree, ...]] = {}

    def at(self, node: str) -> str:
        """Return where a terminal or a splice is."""
        if node.startswith("+"):
            return node[1:]
        return self.job.splices[node] if node in self.job.splices else self.logic.at[self.logic.place[node]]

    def trees(self, net: Collection[int]) -> tuple[Tree, ...]:
        """Return every way to carry a net, the best first."""
        key = tuple(sorted(net))
        if key not in self._cache:
            ranked = sorted(
                self._grow(key),
                key=lambda t: (t.crowded, t.unlike, t.metal, t.added, len(t.edges), len(t.wants), t.edges),
            )
            kept: list[Tree] = []
            for tree in ranked:
                if self.thorough or not any(_no_worse(other, tree) for other in kept):
                    kept.append(tree)
            self._cache[key] = tuple(kept)
        return self._cache[key]

    @property
    def thorough(self) -> bool:
        """Whether ways are kept that need more of everything than another; they matter only where the engine refuses that one."""
        return self._thorough

    @thorough.setter
    def thorough(self, wanted: bool) -> None:
        self._thorough = wanted
        self._cache.clear()

    # -- growing ----------------------------------------------------------------------------------------

    def _pieces(self, names: Collection[str]) -> dict[str, frozenset[str]]:
        """Return for every terminal what fixed conductors and jumpers join it to, itself included."""
        piece: dict[str, frozenset[str]] = {name: frozenset((name,)) for name in names}
        for one, two in self.joints:
            both = piece.get(one, frozenset((one,))) | piece.get(two, frozenset((two,)))
            for name in both:
                piece[name] = both
        return {name: piece[name] for name in names}

    def _grow(self, net: tuple[int, ...]) -> Iterator[Tree]:
        names = [self.logic.terminals[i] for i in net]
        piece = self._pieces(names)
        everything = frozenset().union(*piece.values())
        meetings = self._meetings(net)
        todo: list[tuple[frozenset[Edge], frozenset[str], str]] = [(frozenset(), piece[names[0]], "")]
        seen: set[frozenset[Edge]] = set()
        found = 0
        while todo:
            edges, have, loose = todo.pop()
            if have >= everything and not loose:
                tree = self._tree(edges, net, everything)
                if tree is not None:
                    found += 1
                    yield tree
                    if found >= MOST_TREES:
                        self.complete = False
                        return
                continue
            for edge, new in self._steps(edges, have, loose, everything, meetings):
                grown = edges | {edge}
                if grown in seen:
                    continue
                if len(seen) >= _MOST_GROWN:
                    self.complete = False
                    return
                seen.add(grown)
                met = have | piece.get(new, _piece_of(new, piece))
                todo.append((grown, met, new if new not in everything else ""))

    def _meetings(self, net: tuple[int, ...]) -> list[str]:
        """Return terminals that nothing is landed on and that mean what a net means, or one of the things that it means."""
        logic = self.logic
        inside = set(net)
        mixed = any(logic.disagree(a, b) for a, b in itertools.combinations(net, 2))
        means = frozenset().union(*(self.logic.means[i] for i in net))
        return [
            name
            for i, name in enumerate(self.logic.terminals)
            if i not in inside
            and i not in self.logic.metal
            and not self.landed[name]
            and self.logic.means[i] & means
            and (mixed or not any(self.logic.disagree(i, other) for other in net))
            and not any(name in joint for joint in self.joints)
        ]

    def _steps(
        self, edges: frozenset[Edge], have: frozenset[str], loose: str, everything: frozenset[str], meetings: list[str]
    ) -> Iterator[tuple[Edge, str]]:
        """Yield the edges that a tree can grow by, and the node that each leads to; a loose end first."""
        used = Counter(edge.cable for edge in edges)
        fresh = sum(node not in everything for node in have)
        splices = sum(node.startswith("+") for node in have)
        jumpers = used[""]
        most = 99 if self.most_added is None else self.most_added
        for start in [loose] if loose else sorted(have):
            here = self.at(start)
            if start in self.logic.place and not loose and jumpers + splices < most:
                for end in sorted(everything - have):
                    if end in self.logic.place and self.at(end) == here:
                        one, two = sorted((start, end))
                        yield Edge("", (one, two)), end
            for cable in self.job.cables.values():
                if here not in cable.between or used[cable.id] >= len(self.free.get(cable.id, ())):
                    continue
                first = cable.between[0] == here
                there = cable.between[1] if first else cable.between[0]
                ends = [end for end in sorted(everything - have) if self.at(end) == there]
                if not loose and fresh < most_meetings(self.job):
                    ends += [end for end in meetings if end not in have and self.at(end) == there]
                    if jumpers + splices < most and f"+{there}" not in have:
                        ends.append(f"+{there}")
                for end in ends:
                    pair = (start, end) if first else (end, start)
                    if cable.between[0] == cable.between[1]:
                        pair = (min(pair), max(pair))
                    yield Edge(cable.id, pair), end

    def _tree(self, edges: frozenset[Edge], net: tuple[int, ...], everything: frozenset[str]) -> Tree | None:
        """Return what a grown tree costs; None where a conductor would join ends that disagree."""
        conductors = sorted(edge for edge in edges if edge.cable)
        count = Counter(end for edge in conductors for end in edge.ends)
        crowded = 0
        for end, number in count.items():
            if end in self.logic.place:
                device, letters = self.job.terminal(end)
                # The proof finds one crowded terminal, however many are too many on it.
                crowded += number + self.landed[end] > device.part.terminals[letters].takes >= self.landed[end]
        if any(self._disagree(edge.ends, conductors) for edge in conductors):
            return None
        splices = {end for end in count if end.startswith("+")}
        ends = {end for edge in edges for end in edge.ends}
        meeting = frozenset(end for end in ends if end not in everything and not end.startswith("+"))
        return Tree(
            tuple(sorted(edges)),
            crowded,
            self._unlike(net, meeting),
            sum(end in self.logic.place and self.logic.place[end] in self.logic.metal for end in ends),
            len(splices) + len(edges) - len(conductors),
            Counter(edge.cable for edge in conductors),
            tuple((edge.cable, colour) for edge in conductors for colour in self.customary(edge.ends)),
            meeting,
        )

    def _unlike(self, net: tuple[int, ...], meeting: Collection[str]) -> int:
        """Return how many pairs of unlike terminals meeting places add to a net."""
        added = [self.logic.place[name] for name in meeting]
        pairs = [*itertools.product(net, added), *itertools.combinations(added, 2)]
        return sum(self.logic.disagree(one, two) for one, two in pairs)

    def customary(self, ends: tuple[str, str]) -> list[str]:
        """Return the colours that custom gives a conductor for the thermostat terminals it is landed on."""
        found = []
        for end in ends:
            if end in self.logic.place:
                device, letters = self.job.terminal(end)
                if device.part.calls:
                    colours = [self._colours[m] for m in device.part.terminals[letters].means if m in self._colours]
                    found += colours[:1]
        return found

    def _disagree(self, ends: tuple[str, str], conductors: list[Edge]) -> bool:
        one, two = (self._beyond(end, ends, conductors) for end in ends)
        for a in one:
            for b in two:
                stat, other = self.job.terminal(a)[0].part, self.job.terminal(b)[0].part
                pair = (stat.calls and other.role == "indoor") or (other.calls and stat.role == "indoor")
                i, j = self.logic.place[a], self.logic.place[b]
                if pair and not self.logic.means[i] & self.logic.means[j]:
                    return True
        return False

    def _beyond(self, end: str, ends: tuple[str, str], conductors: list[Edge]) -> set[str]:
        """Return the terminals that an end comes to: its own, or those beyond a splice."""
        if end in self.logic.place:
            return {end}
        found, todo, seen = set(), [end], {end, *ends}
        while todo:
            here = todo.pop()
            for edge in conductors:
                for a, b in (edge.ends, edge.ends[::-1]):
                    if a == here and b not in seen:
                        seen.add(b)
                        if b in self.logic.place:
                            found.add(b)
                        else:
                            todo.append(b)
        return found


def _no_worse(one: Tree, other: Tree) -> bool:
    """Tell whether a tree needs no more of anything than another."""
    return (
        (one.crowded, one.metal, one.added) <= (other.crowded, other.metal, other.added)
        and one.unlike <= other.unlike
        and one.metal <= other.metal
        and one.added <= other.added
        and one.meeting <= other.meeting
        and all(number <= other.cables.get(cable, 0) for cable, number in one.cables.items())
        and not Counter(one.wants) - Counter(other.wants)
    )


def _piece_of(node: str, piece: Mapping[str, frozenset[str]]) -> frozenset[str]:
    return next((whole for whole in piece.values() if node in whole), frozenset((node,)))
