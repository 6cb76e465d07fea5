"""Every landing of a small job, tried one by one and judged by the proof: what `land` is compared with.

Nothing here comes from the package's own search. No splices and no new jumpers; a conductor lies between two terminals
or is capped at both ends, since one that hangs from a single terminal does nothing. One that is landed at one end keeps
it. Conductors of one cable differ in colour only, so each distinct circuit is proved once, whatever the colours.
"""

from __future__ import annotations

import itertools
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

from callpath.job import Job, Landing
from callpath.proof.prove import Proof, prove

Score = tuple[int, ...]
_NEUTRAL = {"pass", "coil", "dry", "metal"}


@dataclass(frozen=True)
class Judged:
    """What the proof says of one circuit, all calls asked for."""

    sound: bool
    dead: frozenset[str]
    weak: int
    functions: dict[str, int]


def judge(proof: Proof) -> Judged:
    """Return what matters of a proof in which every call is to be served."""
    dead = frozenset(call for finding in proof.findings if finding.code == "dead-call" for call in finding.calls)
    bad = [f for f in proof.findings if f.severity in ("danger", "fault") and f.code != "dead-call"]
    bad += [f for f in proof.findings if f.code == "sources-tied"]
    weak = sum(finding.severity == "weak" for finding in proof.findings)
    runs = {call: len(set(result.running) & set(result.needed)) for call, result in proof.calls.items()}
    return Judged(not bad, dead, weak, runs)


class Brute:
    """All landings of the conductors that lie free in a job."""

    def __init__(self, job: Job) -> None:
        self.job = job
        self.free = [name for name, ends in job.landings.items() if None in ends]
        self.at: dict[str, list[str]] = {}
        for device in job.equipment.values():
            for letters in device.part.terminals:
                self.at.setdefault(device.at, []).append(f"{device.id}.{letters}")
        self.judged: dict[tuple[tuple[str, str], ...], Judged] = {}

    def landings(self) -> Iterator[tuple[Landing, ...]]:
        """Yield where the free conductors lie, in their order, in every way."""
        ways: list[list[Landing]] = []
        for name in self.free:
            one, two = self.job.cable_of(name).between
            begun = self.job.landings[name]
            pairs: list[Landing] = [
                (a, b)
                for a in self.at[one]
                for b in self.at[two]
                if a != b and begun[0] in (None, a) and begun[1] in (None, b)
            ]
            ways.append([(None, None), *pairs])
        return itertools.product(*ways)

    def circuit(self, ends: Sequence[Landing]) -> Judged:
        """Return what the proof says of a landing; of two that differ in colours alone, once."""
        key = tuple(sorted((name.partition(".")[0], str(pair)) for name, pair in zip(self.free, ends, strict=True)))
        if key not in self.judged:
            landed = replace(
                self.job, landings={**self.job.landings, **dict(zip(self.free, ends, strict=True))}, serves=None
            )
            self.judged[key] = judge(prove(landed))
        return self.judged[key]

    # -- what a landing is worth ------------------------------------------------------------------------

    def best(self, colours: dict[str, str], serves: Sequence[str], before: dict[str, Landing]) -> Score | None:
        """Return the best score of all landings; None where none is sound.

        Parameters
        ----------
        colours : dict
            The colour that each free conductor is given.
        """
        scores = [
            score
            for ends in self.landings()
            if (score := self._score(dict(zip(self.free, ends, strict=True)), colours, serves, before)) is not None
        ]
        return min(scores, default=None)

    def _score(
        self, landed: dict[str, Landing], colours: dict[str, str], serves: Sequence[str], before: dict[str, Landing]
    ) -> Score | None:
        nets = self.nets(replace(self.job, landings={**self.job.landings, **landed}))
        if not self._customary(nets, landed):
            return None
        judged = self.circuit(tuple(landed[name] for name in self.free))
        served = [call for call in serves if call not in judged.dead]
        if not judged.sound:
            return None
        unlike = sum(self.unlike(a, b) for net in nets for a, b in itertools.combinations(sorted(net), 2))
        off = sum(
            self._custom(end) not in (None, colours[name]) for name, ends in landed.items() for end in ends if end
        )
        moved = sum(
            old is not None and old != new
            for name, ends in before.items()
            for old, new in zip(ends, landed[name], strict=True)
        )
        return (
            *_given_up(serves, served),
            judged.weak,
            -sum(judged.functions[call] for call in served),
            unlike,
            sum(ends != (None, None) for ends in landed.values()),
            off,
            len({end for ends in landed.values() for end in ends if end and end.endswith(".chassis")}),
            moved,
        )

    def nets(self, job: Job) -> list[set[str]]:
        """Return which terminals a wiring of the job joins."""
        pairs = [*job.landings.values(), *job.jumpers]
        nets = [{name} for names in self.at.values() for name in names]
        for one, two in pairs:
            if one and two:
                joined = [net for net in nets if one in net or two in net]
                nets = [net for net in nets if net not in joined] + [set().union(*joined)]
        return nets

    def _means(self, terminal: str) -> set[str]:
        device, letters = self.job.terminal(terminal)
        return set(device.part.terminals[letters].means)

    def unlike(self, one: str, two: str) -> bool:
        """Tell whether two terminals mean different things."""
        a, b = self._means(one), self._means(two)
        return not (a & b or a <= _NEUTRAL or b <= _NEUTRAL)

    def _customary(self, nets: list[set[str]], landed: dict[str, Landing]) -> bool:
        """Tell whether power terminals are fed from a source all the time, and metal is used only where it must be."""
        for net in nets:
            fed = any(self._hot(name) for name in net)
            if len(net) > 1 and not fed and any(self._means(name) == {"power"} for name in net):
                return False
        metal = any(end and end.endswith(".chassis") for ends in landed.values() for end in ends)
        commons = [
            d.id for d in self.job.equipment.values() if "transformer" in d.part.elements and "C" in d.part.terminals
        ]
        return not (metal and commons)

    def _hot(self, name: str) -> bool:
        device, letters = self.job.terminal(name)
        return "transformer" in device.part.elements and letters in ("R", "T1")

    def _custom(self, end: str) -> str | None:
        """Return the colour that custom gives a thermostat's terminal: R red, C blue, W white, Y yellow, G green (CP)."""
        device, letters = self.job.terminal(end)
        colours = {"R": "red", "Rc": "red", "Rh": "red", "C": "blue", "W": "white", "Y": "yellow", "G": "green"}
        return colours.get(letters) if device.part.calls else None


def _given_up(serves: Sequence[str], served: Sequence[str]) -> tuple[int, ...]:
    """Return what is given up, the worst first: heat or cool, then how many, then which; the fan alone hurts least."""
    first = ("heat", "cool")
    order = sorted(serves, key=lambda call: (call == "fan", call not in first))
    return (-len({*served} & {*first}), -len(served), *(call not in served for call in order))


def reached(objective: dict[str, int], serves: Sequence[str], served: Sequence[str]) -> Score:
    """Return what `land` says it reached, as a score."""
    return (
        *_given_up(serves, served),
        objective["weak"],
        -objective["functions"],
        objective["unlike_pairs"],
        objective["conductors_and_jumpers"],
        objective["off_colours"],
        objective["metal"],
        objective["ends_changed"],
    )


def taken(landings: dict[str, Landing]) -> Counter[str]:
    """Return how many conductors sit on each terminal."""
    return Counter(end for ends in landings.values() for end in ends if end)
