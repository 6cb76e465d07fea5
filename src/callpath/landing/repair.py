"""The search for the fewest moves that put a wiring right: deeper and deeper, through sets that every repair must meet.

A repair has to take one move of every set that ``Necessary`` gives, so the search branches over the smallest and leaves
out what an earlier branch has tried. Sets that share no move each need one of their own, which bounds how many are still to
come; the last move has to lie in all of them at once.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator, Sequence
from dataclasses import dataclass, field

from callpath.calls.need import Needs
from callpath.job.model import Job
from callpath.landing.asked import Asked
from callpath.landing.guard import Guards
from callpath.landing.mesh import Mesh, bits
from callpath.landing.moves import Move, moved
from callpath.landing.necessary import Necessary
from callpath.landing.zones import zones_of
from callpath.progress import step

__all__ = ["Repairs"]

MOST_LOOKS = 150_000
"""More wirings than this are not looked at."""


@dataclass
class Repairs:
    """Repairs of a job, by their number of moves.

    Parameters
    ----------
    job : Job
        The job as found; its faults on conductors count, those of equipment do not.
    moves : sequence of Move
        Every move that could be made.
    needs : Needs
        What the calls of the job as found must run.
    guards : Guards
        The switches that a repair has to keep.
    """

    job: Job
    moves: Sequence[Move]
    needs: Needs
    serves: tuple[str, ...]
    guards: Guards = field(default_factory=Guards)
    looks: int = 0
    gave_up: bool = False

    def __post_init__(self) -> None:
        self._asked: dict[tuple[int, ...], Asked] = {}
        self.asked = self._asked_of(())
        self.mesh = Mesh(self.job, self.asked.logic, self.moves)
        self.zones = zones_of(self.needs, self.serves).as_found(self.asked.logic, self.mesh.wired(()).plan)
        self.refused: set[frozenset[int]] = set()
        """Repairs that yes and no find right and the proof does not."""

    def _asked_of(self, made: Collection[int]) -> Asked:
        """Return what is asked with the settings that some moves make."""
        settings = tuple(sorted(i for i in made if self.moves[i].do == "set"))
        if settings not in self._asked:
            job = moved(self.job, [self.moves[i] for i in settings])
            self._asked[settings] = Asked(job, self.needs.landed, self.serves)
        return self._asked[settings]

    def of(self, size: int) -> Iterator[frozenset[int]]:
        """Yield every repair of so many moves, none of them needless, that yes and no find right."""
        yield from self._from(frozenset(), (), 0, size)

    def worth(self, made: Collection[int]) -> tuple[int, int, int]:
        """Return how many wanted functions run on the calls to serve after some moves, how many on the other calls, and how many
        unlike pairs are joined.
        """
        asked = self._asked_of(made)
        plan = self.mesh.wired(made).plan
        runs = {True: 0, False: 0}
        for ask in asked.asks:
            energised, _ = asked.logic.settle(plan, ask.moment)
            running = asked.logic.running(energised, ask.moment.states) & ask.allowed
            runs[ask.moment.call in self.serves] += len(running)
        return runs[True], runs[False], asked.logic.misfits(plan)

    def look(self, made: Collection[int]) -> Necessary:
        """Return what is wrong after some moves, and what mending it takes at least."""
        self.looks += 1
        step()
        return Necessary(self.mesh, self._asked_of(made), made, self.zones, self.guards)

    def _from(self, made: frozenset[int], owed: Sequence[int], barred: int, left: int) -> Iterator[frozenset[int]]:
        """Yield the repairs of ``left`` more moves; each has to meet every set that is owed, and none that is barred."""
        if self.looks > MOST_LOOKS:
            self.gave_up = True
            return
        necessary = self.look(made)
        if left == 0:
            if necessary.right() and made not in self.refused:
                yield made
            return
        for i in made:
            barred |= self.mesh.same[self.moves[i].thing]
        if left == 1:
            among = self.mesh.everything & ~barred
            for moves in owed:
                among &= moves
            chosen = necessary.at_once(among)
            if chosen is None:
                chosen = among if made in self.refused else 0
            for i in bits(chosen):
                yield from self._from(made | {i}, (), 0, 0)
            return
        wrongs = necessary.sets()
        if not wrongs:
            # What the proof refuses for a reason of its own: anything might help.
            if made not in self.refused:
                return
            wrongs = [self.mesh.everything]
        owed = list(dict.fromkeys(moves & ~barred for moves in (*wrongs, *owed)))
        if _apart(owed) > left:
            return
        for i in bits(min(owed, key=int.bit_count)):
            still = [moves for moves in owed if not moves >> i & 1]
            if _apart([moves & ~barred & ~(1 << i) for moves in still]) < left:
                yield from self._from(made | {i}, still, barred, left - 1)
            barred |= 1 << i


def _apart(sets: Sequence[int]) -> int:
    """Return how many sets, at least, share no move with one another; a set that is empty can never be met."""
    taken, count = 0, 0
    common = -1
    for moves in sorted(sets, key=int.bit_count):
        if not moves:
            return 1 << 20
        common &= moves
        if not moves & taken:
            taken |= moves
            count += 1
    # Two sets at a time may share a move where all of them do not.
    return 2 if count == 1 and not common else count
