"""A job's wiring as a graph whose edges can be moved: terminals, splices and conductors are its points.

Sets of moves are whole numbers, one bit for each move, so that thousands of them are joined and compared in no time.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator, Sequence
from dataclasses import dataclass

from callpath.job.model import Job
from callpath.landing.logic import Logic
from callpath.landing.moves import NEW_SPLICE, Move
from callpath.landing.points import Plan

__all__ = ["Edge", "Mesh", "Wired", "bits"]

Edge = tuple[int, int, int]
"""Two points and the moves that take the edge away."""


def bits(moves: int) -> Iterator[int]:
    """Yield the places of the moves in a set."""
    while moves:
        low = moves & -moves
        yield low.bit_length() - 1
        moves ^= low


@dataclass(frozen=True, eq=False)
class Wired:
    """A wiring: its edges, its plan, and for every static piece of it the moves that lead out of it or into it."""

    edges: tuple[Edge, ...]
    plan: Plan
    root: Sequence[int]
    crossing: dict[int, int]


class Mesh:
    """The points of a job's wiring and what every move does to its edges.

    Parameters
    ----------
    job : Job
        The job as found. A conductor with an ``open`` is two points that nothing joins; a ``short`` is an edge that no
        move takes away.
    moves : sequence of Move
        Every move that could be made.
    """

    def __init__(self, job: Job, logic: Logic, moves: Sequence[Move]) -> None:
        self.job = job
        self.moves = moves
        self.terminals = len(logic.terminals)
        devices = [job.terminal(name) for name in logic.terminals]
        self.takes = [device.part.terminals[letters].takes for device, letters in devices]
        self.commanding = [i for i, (device, _) in enumerate(devices) if device.part.calls]
        self.indoor = {i for i, (device, _) in enumerate(devices) if device.part.role == "indoor"}
        self.point = dict(logic.place)
        self._next = self.terminals
        for name in (*job.splices, *(NEW_SPLICE + at for at in dict.fromkeys(d.at for d in job.equipment.values()))):
            self._add(name)
        for move in moves:
            if move.end >= 0 and move.after is not None and move.after not in self.point:
                self._add(move.after)
        broken = {fault.where[0] for fault in job.faults if fault.kind == "open"}
        self.half: dict[tuple[str, int], int] = {}
        for name in job.landings:
            self.half[name, 0] = self._add(f"{name}@0")
            self.half[name, 1] = self._add(f"{name}@1") if name in broken else self.half[name, 0]
        self.size = self._next
        self.fixed: list[Edge] = [(a, b, 0) for a, b in self._shorts(job)]
        self.same: dict[tuple[str, ...], int] = {}
        for i, move in enumerate(moves):
            self.same[move.thing] = self.same.get(move.thing, 0) | 1 << i
        self.settings = sum(1 << i for i, move in enumerate(moves) if move.do == "set")
        self.mask = [0] * self.size
        for i, move in enumerate(moves):
            if move.end >= 0:
                self.mask[self.half[move.what, move.end]] ^= 1 << i
                if move.after is not None:
                    self.mask[self.point[move.after]] ^= 1 << i
            elif move.do == "jumper":
                self.mask[self.point[move.what]] ^= 1 << i
                self.mask[self.point[str(move.after)]] ^= 1 << i
        self.everything = (1 << len(moves)) - 1

    def _add(self, name: str) -> int:
        self.point[name] = self._next
        self._next += 1
        return self._next - 1

    def _shorts(self, job: Job) -> Iterator[tuple[int, int]]:
        for fault in job.faults:
            if fault.kind == "short":
                one, two = (self.half[w, 0] if (w, 0) in self.half else self.point[w] for w in fault.where)
                yield one, two

    def landing(self, made: Collection[int]) -> dict[tuple[str, int], str | None]:
        """Return where the ends that some moves take somewhere sit then."""
        return {(move.what, move.end): move.after for i in made if (move := self.moves[i]).end >= 0}

    def wired(self, made: Collection[int]) -> Wired:
        """Return the wiring after some moves."""
        elsewhere = self.landing(made)
        edges = list(self.fixed)
        for name, ends in self.job.landings.items():
            for end in (0, 1):
                at = elsewhere.get((name, end), ends[end])
                if at is not None:
                    taking = 0 if (name, end) in elsewhere else self.same.get((name, str(end)), 0)
                    edges.append((self.half[name, end], self.point[at], taking))
        gone = {self.moves[i].thing for i in made if self.moves[i].do == "unjumper"}
        for one, two in self.job.jumpers:
            thing = tuple(sorted((one, two)))
            if thing not in gone:
                edges.append((self.point[one], self.point[two], self.same.get(thing, 0)))
        for i in made:
            move = self.moves[i]
            if move.do == "jumper":
                edges.append((self.point[move.what], self.point[str(move.after)], 0))
        return self._pieces(edges)

    def _pieces(self, edges: Sequence[Edge]) -> Wired:
        parent = list(range(self.size))
        for a, b, _ in edges:
            while parent[a] != a:
                parent[a] = parent[parent[a]]
                a = parent[a]
            while parent[b] != b:
                parent[b] = parent[parent[b]]
                b = parent[b]
            # The lowest point stands for its piece, so that a terminal stands for every piece that has one.
            if a < b:
                parent[b] = a
            else:
                parent[a] = b
        crossing: dict[int, int] = {}
        for i in range(self.size):
            root = i
            while parent[root] != root:
                root = parent[root]
            parent[i] = root
            crossing[root] = crossing.get(root, 0) ^ self.mask[i]
        return Wired(tuple(edges), tuple(parent[: self.terminals]), parent, crossing)
