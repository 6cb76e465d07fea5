"""A hidden fault to be found with a meter: drawn by a seed, with a clock that counts minutes, and the best path at the end."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Any

import numpy as np

from callpath.errors import QuestionError
from callpath.faults.asked import Answer, Check, Seen
from callpath.faults.candidate import places_of_check
from callpath.faults.choose import minutes_of
from callpath.faults.places import coils_of
from callpath.faults.posterior import Belief
from callpath.faults.troubleshoot import Case
from callpath.faults.universe import repair_of
from callpath.faults.world import World
from callpath.job.model import Fault
from callpath.job.write import fault_data
from callpath.progress import step

__all__ = ["ALIKE", "Exercise", "Path", "Step", "amiss", "culprits", "hide", "looked_at", "right"]

ALIKE = ("little", "some", "much")
"""How many other faults look like the hidden one at first."""

_DRAWN = 9
_MOST_STEPS = 60
_LEAST_TIMES = 200


@dataclass(frozen=True)
class Step:
    """One test that was made: its answer, and the minutes that it took with the walk to it."""

    seen: Seen
    minutes: float


@dataclass
class Path:
    """The tests that somebody made, and what they came to; ``wrong`` repairs in vain took ``wrong_minutes`` each."""

    steps: list[Step] = field(default_factory=list)
    at: str = ""
    found: bool = False
    wrong: int = 0
    wrong_minutes: float = 0.0

    @property
    def minutes(self) -> float:
        """What it took in all [min]."""
        return sum(step.minutes for step in self.steps) + self.wrong * self.wrong_minutes

    def as_json(self) -> dict[str, Any]:
        """Return the path as JSON."""
        return {
            "tests": [{"test": step.seen.as_data(), "minutes": step.minutes} for step in self.steps],
            "count": len(self.steps),
            "wrong": self.wrong,
            "minutes": self.minutes,
            "found": self.found,
        }


class Exercise:
    """A job with hidden faults, where a trainee makes tests.

    Parameters
    ----------
    case : Case
        The job as it should be.
    faults : sequence of Fault
        What is hidden.
    seed : int
        Draws tolerances and the meter's errors.
    """

    def __init__(self, case: Case, faults: Sequence[Fault], seed: int) -> None:
        self.case = case
        self.faults = tuple(faults)
        self.seed = seed
        self.complaint = complaint_of(case, self.faults)
        self.world = self._world()
        self.path = Path(at=case.locations[0], wrong_minutes=case.minutes.wrong_repair)

    def _world(self) -> World:
        return World(self.case.job, self.faults, np.random.default_rng([self.seed, 1]))

    @property
    def seen(self) -> list[Seen]:
        """Everything seen so far, the complaint first."""
        return [self.complaint, *(step.seen for step in self.path.steps)]

    def refuse(self, check: Check) -> None:
        """Refuse a test that nobody should make: a jumper that could do harm, as far as what was seen tells.

        Raises
        ------
        QuestionError
            It could short or overload a source under anything that could still be wrong.
        """
        if danger := self.case.danger_of(self.seen, check):
            raise QuestionError(f"{danger}; nothing was done")

    def make(self, check: Check) -> Step:
        """Make a test and return what it showed.

        Raises
        ------
        QuestionError
            It would short or overload a source.
        """
        if check.jumped is not None and self.world.trips(check):
            one, two = check.jumped
            raise QuestionError(
                f"joining {one} and {two} now would open a fuse or burn a transformer; nothing was done"
            )
        return _made(self.case, self.world, self.path, check)

    def names(self, word: str) -> bool:
        """Tell whether somebody who mends the named things has mended what is hidden; whatever else they mend is in vain.

        Raises
        ------
        QuestionError
            Nothing is named.
        """
        named = set(word.replace(",", " ").replace("+", " ").split()) - {"and"}
        if not named:
            raise QuestionError("name what is at fault")
        needed = [set(repair_of(fault)) - {fault.kind} for fault in self.faults]
        self.path.found = all(each <= named for each in needed)
        about = set[str]().union(*needed, *(fault.where for fault in self.faults))
        self.path.wrong += len(named - about) if self.path.found else 1
        return self.path.found

    def best(self) -> Path:
        """Return the path that callpath takes from the same complaint on the same job."""
        world, path = self._world(), Path(at=self.case.locations[0])
        seen = [self.complaint]
        for number in range(_MOST_STEPS):
            step(f"looking for the best path: test {number + 1}")
            answer = self.case.answer(seen, path.at)
            if answer.next is None:
                break
            seen.append(_made(self.case, world, path, answer.next.test).seen)
        top = {repair_of(fault) for fault in answer.suspects[0].faults} if answer.suspects else set()
        alike = [s.faults for s in answer.suspects if answer.suspects and s.group == answer.suspects[0].group]
        hidden = {repair_of(fault) for fault in self.faults}
        path.found = top == hidden or any({repair_of(f) for f in faults} == hidden for faults in alike)
        return path

    def as_json(self, best: Path) -> dict[str, Any]:
        """Return how it went as JSON."""
        return {
            "seed": self.seed,
            "hidden": [fault_data(fault) for fault in self.faults],
            "complaint": self.complaint.as_data(),
            "yours": self.path.as_json(),
            "best": best.as_json(),
        }


def _made(case: Case, world: World, path: Path, check: Check) -> Step:
    minutes = minutes_of(case.circuit, case.minutes, check, path.at)
    step = Step(Seen(check, world.answer(check)), minutes)
    path.steps.append(step)
    path.at = places_of_check(case.circuit, check)[-1]
    return step


def complaint_of(case: Case, faults: Sequence[Fault]) -> Seen:
    """Return what the owner of the job sees first: the call on which something runs that should not, or does not.

    Raises
    ------
    QuestionError
        Nothing shows on any call.
    """
    sound, ill = (World(case.job, held, np.random.default_rng(0), exact=True) for held in ((), faults))
    functions = tuple(case.circuit.functions)
    found: list[tuple[int, Seen]] = []
    for call in case.calls:
        check = Check("running", call, functions)
        right, now = sound.answer(check).running, ill.answer(check).running
        wrong = [name for name in functions if right[name] != now[name]]
        if wrong:
            devices = {name.partition(".")[0] for name in functions if right[name] or now[name]}
            shown = {name: now[name] for name in functions if name.partition(".")[0] in devices}
            found.append((len(wrong), Seen(Check("running", call, tuple(shown)), Answer(shown))))
    if not found:
        raise QuestionError("these faults show on no call: nobody would complain")
    return max(found, key=lambda item: item[0])[1]


def amiss(case: Case, seen: Seen) -> Answer:
    """Return that part of a look at what runs which a sound job would show otherwise."""
    sound = right(case, seen.test).running
    return Answer({name: on for name, on in seen.answer.running.items() if on != sound[name]})


def looked_at(case: Case) -> tuple[str, ...]:
    """Return what a trainee who goes to look sees: what runs, and which coils beside it are pulled in."""
    functions = tuple(case.circuit.functions)
    devices = {name.partition(".")[0] for name in functions}
    return (*functions, *(name for name in coils_of(case.circuit) if name.partition(".")[0] in devices))


def right(case: Case, check: Check) -> Answer:
    """Return what a sound job shows, at nominal values and with a perfect meter."""
    return World(case.job, (), np.random.default_rng(0), exact=True).answer(check)


def culprits(case: Case) -> tuple[tuple[str, ...], ...]:
    """Return what can be named as being at fault in a job: the things that a repair is about, each once.

    That is one conductor, element or setting, or two things that touch, are exchanged, or are joined by a jumper.
    """
    return tuple(dict.fromkeys(tuple(sorted({*repair_of(fault)} - {fault.kind})) for fault in case.universe.faults))


def hide(case: Case, seed: int, *, faults: int = 1, alike: str = "some") -> Exercise:
    """Return an exercise with hidden faults drawn by a seed.

    Parameters
    ----------
    case : Case
        The job as it should be.
    seed : int
        The same seed hides the same faults.
    faults : int
        One or two at once.
    alike : str
        ``little``, ``some`` or ``much``: how many others look like them at first.

    Raises
    ------
    QuestionError
        The job has no such faults that show.
    """
    universe = case.universe
    rng = np.random.default_rng([seed, faults, ALIKE.index(alike)])
    count = (universe.one >= 0).astype(int) + (universe.two >= 0)
    rows = np.flatnonzero(count == faults)
    drawn: list[tuple[float, int]] = []
    if len(rows):
        weight = universe.prior[rows] / universe.prior[rows].sum()
        for row in rng.choice(rows, size=min(_LEAST_TIMES, len(rows)), replace=False, p=weight).tolist():
            step("choosing a fault that shows", len(drawn) / _DRAWN)
            try:
                complaint = complaint_of(case, universe.faults_of(row))
            except QuestionError:
                continue
            drawn.append((_doubt(case, case.belief([complaint])), row))
            if len(drawn) == _DRAWN:
                break
    if not drawn:
        raise QuestionError(f"this job has no {'fault' if faults == 1 else 'two faults'} that would show")
    drawn.sort()
    third = len(drawn) / 3
    place = ALIKE.index(alike)
    choices = drawn[int(place * third) : max(int(place * third) + 1, int((place + 1) * third))]
    return Exercise(case, universe.faults_of(choices[int(rng.integers(len(choices)))][1]), seed)


def _doubt(case: Case, belief: Belief) -> float:
    """Return how much is still unknown about the repair [bit]."""
    by_repair = np.bincount(case.repairs, belief.probability)
    some = by_repair[by_repair > 0]
    some = some / some.sum()
    return float(-(some * np.log2(some)).sum())
