"""The search for the best landing that serves some calls: plans, the trees that carry them, and conductors, best first.

One queue holds everything that may still become a landing, each under a bound that whatever comes of it cannot beat. What
comes out of the queue whole is therefore the best there is, but for the engine's word on it.
"""

from __future__ import annotations

import heapq
import itertools
from collections import Counter
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass

from callpath.job.model import Landing
from callpath.landing.assign import Need, assign, off_colours
from callpath.landing.demand import Demands, Level
from callpath.landing.points import Contact, Plan
from callpath.landing.realise import Edge, Ground, Tree
from callpath.parts.catalogue import custom_colours
from callpath.progress import step

__all__ = ["Candidate", "Score", "Search"]

Score = tuple[int, ...]
"""Weak joints known beforehand, minus functions that run, unlike pairs, conductors and jumpers, off colours, metal, splices
and jumpers, ends changed, unnatural colours."""

MOST_STEPS = 30_000


@dataclass(frozen=True)
class Candidate:
    """A landing of everything that is free."""

    score: Score
    landings: Mapping[str, Landing]
    splices: Mapping[str, str]
    jumpers: tuple[tuple[str, str], ...]
    purpose: Mapping[str, tuple[int, ...]]
    """By conductor, the net that it carries, as places in ``Logic.terminals``."""


@dataclass(frozen=True)
class _Partial:
    score: Score
    plan: Plan
    nets: tuple[tuple[int, ...], ...]
    trees: tuple[Tree, ...]
    used: tuple[tuple[str, int], ...]
    wants: tuple[tuple[str, str], ...]
    meeting: frozenset[str]


class Search:
    """Landings that serve some calls, the best first.

    Parameters
    ----------
    before : mapping
        Where the free conductors were landed.
    old_splices : mapping
        The splices that were there before, and where.
    half : mapping
        Where conductors are landed whose one end stays and whose other end is free.
    """

    def __init__(
        self,
        demands: Demands,
        ground: Ground,
        before: Mapping[str, Landing],
        old_splices: Mapping[str, str],
        half: Mapping[str, Landing],
    ) -> None:
        self.demands = demands
        self.logic = demands.logic
        self.ground = ground
        self.before = {**before, **half}
        self.half = half
        self.old_splices = old_splices
        self.gave_up = False
        self._begun = Counter(name.partition(".")[0] for name in half)
        self._colours = custom_colours()

    def possible(self, serves: Sequence[str]) -> bool:
        """Tell whether conductors suffice for some calls, whatever the engine says."""
        return next(self.candidates(serves, ()), None) is not None

    def candidates(self, serves: Sequence[str], floats: Sequence[Contact]) -> Iterator[Candidate]:
        """Yield landings, the best first; equals in a fixed order."""
        yield from self.carried(self.demands.plans(serves, floats))

    def carried(self, plans: Iterable[tuple[Level, Plan | None]]) -> Iterator[Candidate]:
        """Yield the landings that carry some plans, which come the best level first; the best landing first."""
        order = itertools.count()
        plans = iter(plans)
        # In the queue stand, by bound: what has trees for some of its nets, and whole candidates, which come after their equals.
        heap: list[tuple[Score, int, tuple[object, ...], int, _Partial | Candidate]] = []
        level: tuple[int, ...] | None = (0, -(10**6), 0, 0)
        for _ in range(MOST_STEPS):
            step()
            while level is not None and (not heap or (*level, 0, 0, 0, 0, 0) <= heap[0][0]):
                following = next(plans, None)
                level = None if following is None else following[0]
                if following is not None and following[1] is not None:
                    root = self._root(following[0], following[1])
                    if root is not None:
                        heapq.heappush(heap, (self._bound(root.score, root), 0, (), next(order), root))
            if not heap:
                return
            _, _, _, _, item = heapq.heappop(heap)
            if isinstance(item, Candidate):
                yield item
            elif len(item.trees) == len(item.nets):
                whole = self._whole(item)
                if whole is None:
                    continue
                tie = (tuple(sorted(whole.landings.items(), key=str)), whole.jumpers)
                heapq.heappush(heap, (whole.score, 1, (str(tie),), next(order), whole))
            else:
                for partial in self._extend(item):
                    heapq.heappush(heap, (self._bound(partial.score, partial), 0, (), next(order), partial))
        self.gave_up = True

    def _bound(self, score: Score, partial: _Partial) -> Score:
        """Return a score that whatever comes of a partial landing cannot beat: its own and the least of every net to come."""
        least = [0, 0, 0, 0, 0]
        for net in partial.nets[len(partial.trees) :]:
            trees = self.ground.trees(net)
            least[0] += min(tree.crowded for tree in trees)
            least[1] += min(tree.metal for tree in trees)
            least[2] += min(tree.added for tree in trees)
            least[3] += min(len(tree.edges) for tree in trees)
            least[4] += min(tree.unlike for tree in trees)
        crowded, metal, added, edges, unlike = least
        return (
            score[0] + crowded,
            score[1],
            score[2] + unlike,
            score[3] + edges,
            score[4],
            score[5] + metal,
            score[6] + added,
            *score[7:],
        )

    def _root(self, level: Level, plan: Plan) -> _Partial | None:
        nets = [tuple(net) for net in self.logic.nets(plan)]
        if any(not self.ground.trees(net) for net in nets):
            return None
        nets.sort(key=lambda net: (len(self.ground.trees(net)), net))
        return _Partial((*level[:3], 0, 0, 0, 0, 0, 0), plan, tuple(nets), (), (), (), frozenset())

    def _extend(self, partial: _Partial) -> Iterator[_Partial]:
        """Yield what a partial landing becomes with each tree for its next net that cables still have conductors for."""
        ground = self.ground
        net = partial.nets[len(partial.trees)]
        used = Counter(dict(partial.used))
        score = partial.score
        for tree in ground.trees(net):
            now = used + Counter(tree.cables)
            if any(number > len(ground.free[cable]) for cable, number in now.items()):
                continue
            if tree.meeting & partial.meeting:
                continue
            wants = (*partial.wants, *tree.wants)
            metal, added = score[5] + tree.metal, score[6] + tree.added
            if ground.most_added is not None and added > ground.most_added:
                continue
            off = sum(
                # What has been begun in some colour is no departure.
                max(
                    0,
                    off_colours([colour for c, colour in wants if c == cable], ground.free[cable]) - self._begun[cable],
                )
                for cable in {c for c, _ in wants}
            )
            plan = partial.plan
            if tree.unlike:
                for name in tree.meeting:
                    plan = self.logic.joined(plan, net[0], self.logic.place[name])
                if not self.demands.harmless(plan):
                    continue
            unlike, joints = score[2] + tree.unlike, score[3] + len(tree.edges)
            yield _Partial(
                (score[0] + tree.crowded, score[1], unlike, joints, off, metal, added, 0, 0),
                plan,
                partial.nets,
                (*partial.trees, tree),
                tuple(sorted(now.items())),
                wants,
                partial.meeting | tree.meeting,
            )

    # -- from trees to conductors -----------------------------------------------------------------------

    def _whole(self, partial: _Partial) -> Candidate | None:
        """Return the landing with the best choice of conductors; None where one that has been begun would have to move."""
        ground, score = self.ground, partial.score
        splices = self._splices(partial)
        work: dict[str, list[tuple[Need, tuple[int, ...]]]] = {}
        jumpers: list[tuple[str, str]] = []
        for net, tree in zip(partial.nets, partial.trees, strict=True):
            natural = self._natural(net)
            for edge in tree.edges:
                ends = self._named(edge, net, splices)
                if edge.cable:
                    one, two = self.logic.job.cables[edge.cable].between
                    ways = (ends, ends[::-1]) if one == two else (ends,)
                    need = Need(ways, tuple(ground.customary(edge.ends)), natural)
                    work.setdefault(edge.cable, []).append((need, net))
                else:
                    jumpers.append(ends)
        landings: dict[str, Landing] = {}
        purpose: dict[str, tuple[int, ...]] = {}
        costs = []
        for cable, colours in ground.free.items():
            # What is fed comes before what leads back, so that of two colours without a meaning red is the one that is fed.
            needs = sorted(work.get(cable, []), key=lambda item: (self.word(item[1]) == "common", str(item[0])))
            assigned = assign([need for need, _ in needs], cable, colours, self.before, self.half)
            if assigned is None:
                return None
            cost, chosen = assigned
            costs.append(cost)
            for (need, net), colour in zip(needs, chosen, strict=True):
                name = f"{cable}.{colour}"
                landings[name] = need.landed(self.before.get(name, (None, None)))[1]
                purpose[name] = net
        off, changes, unnatural = (sum(column) for column in zip(*costs, strict=True)) if costs else (0, 0, 0)
        exact = (*score[:4], off, *score[5:7], changes, unnatural)
        new = {name: at for (_, at), name in splices.items()}
        return Candidate(exact, landings, new, tuple(sorted(jumpers)), purpose)

    def _named(
        self, edge: Edge, net: tuple[int, ...], splices: Mapping[tuple[tuple[int, ...], str], str]
    ) -> tuple[str, str]:
        one, two = (splices[net, end[1:]] if end.startswith("+") else end for end in edge.ends)
        return one, two

    def _splices(self, partial: _Partial) -> dict[tuple[tuple[int, ...], str], str]:
        """Return a name for every new splice: that of the one there before for the same net, or after what it passes on."""
        job = self.logic.job
        taken = {*job.equipment, *job.cables, *job.splices}
        names = {}
        for net, tree in zip(partial.nets, partial.trees, strict=True):
            inside = {self.logic.terminals[i] for i in net}
            for at in sorted({end[1:] for edge in tree.edges for end in edge.ends if end.startswith("+")}):
                old = sorted(
                    end
                    for ends in self.before.values()
                    for end in ends
                    if end is not None and self.old_splices.get(end) == at and inside & set(ends)
                )
                stem = f"{self.word(net)}-splice"
                numbered = (f"{stem}-{i}" for i in itertools.count(2))
                name = next(n for n in itertools.chain(old, (stem,), numbered) if n not in taken)
                taken.add(name)
                names[net, at] = name
        return names

    def word(self, net: Sequence[int]) -> str:
        """Return the purpose of a net: what its first thermostat terminal means, else its first terminal."""
        job = self.logic.job
        names = [self.logic.terminals[i] for i in net]
        ranked = sorted(names, key=lambda name: not job.terminal(name)[0].part.calls)
        device, letters = job.terminal(ranked[0])
        return device.part.terminals[letters].means[0]

    def _natural(self, net: Sequence[int]) -> str | None:
        """Return the colour that custom gives the purposes of a net, a thermostat's terminal first."""
        job = self.logic.job
        ranked = sorted(
            (job.terminal(self.logic.terminals[i]) for i in net), key=lambda terminal: not terminal[0].part.calls
        )
        for device, letters in ranked:
            for purpose in device.part.terminals[letters].means:
                if purpose in self._colours:
                    return self._colours[purpose]
        return None
