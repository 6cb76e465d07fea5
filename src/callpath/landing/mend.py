"""The smallest repair of a job that somebody else has wired: the fewest moves after which the proof finds nothing worse
than a note.

Of equally many moves those count as best after which most functions run on the calls to serve, then on all others; then those
made at the fewest locations, which are the fewest trips; then those that join the fewest terminals of unlike meaning, break
custom's colours least, set the fewest settings, add the fewest jumpers and splices and leave the fewest ends capped; then a
fixed order.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import replace
from typing import Any

from callpath.calls.need import Needs
from callpath.circuit.build import build, planted
from callpath.job.model import Fault, Job
from callpath.landing.beyond import ways_beyond
from callpath.landing.guard import guards_of
from callpath.landing.land import land
from callpath.landing.mended import Mended
from callpath.landing.moves import Move, all_moves, moved
from callpath.landing.preference import better, by_preference, preferred
from callpath.landing.repair import Repairs
from callpath.landing.rest import as_it_should_stand, broken, rests_closed
from callpath.parts.catalogue import custom_colours
from callpath.progress import step
from callpath.proof.crossed import crossed_in
from callpath.proof.finding import Finding
from callpath.proof.prove import Proof, prove

__all__ = ["MOST_MOVES", "mend"]

MOST_MOVES = 6
"""Repairs of more moves than this are not searched for; a landing from scratch stands in."""
_QUICK = 3
_NEAR = 2
_MOST_NEARER = 6
_MOST_PROOFS = 150
_FROM_WIRING = ("dead-call", "unpowered-thermostat", "no-return", "idle-safety", "idle-control")

_Cause = tuple[str, str, tuple[str, ...]]


def mend(job: Job, *, most_moves: int = MOST_MOVES, ways: bool = True) -> Mended:
    """Find the fewest moves that put a job's wiring right.

    Parameters
    ----------
    job : Job
        The job as found. What its faults say of equipment is told as broken and not wired round; a conductor that is
        open or shorted is wiring, and may be left out.
    most_moves : int
        Repairs of more moves are not searched for one by one.
    ways : bool
        Whether ways out are looked for where a call stays unserved or something weak.
    """
    work = _Mend(job, most_moves)
    wanted = work.serves
    found = work.best()
    if not ways or (not found.unserved and found.wiring.verdict == "clean"):
        return found
    return replace(found, ways_out=ways_beyond(work.job, found, wanted))


class _Mend:
    def __init__(self, job: Job, most_moves: int) -> None:
        self.given = job
        found = planted(job)
        self.kept = tuple(f for f in found.faults if f.kind in ("open", "short") and f.where[0] in job.landings)
        # Carried out, a swap or a jumper that is missing is simply how the wiring stands.
        self.sick: tuple[Fault, ...] = tuple(
            f for f in found.faults if f not in self.kept and f.kind not in ("swapped", "missing")
        )
        asking = replace(found, faults=self.kept)
        self.job = replace(asking, contacts=as_it_should_stand(asking))
        # Those that stand otherwise than the wiring is judged, as they stand.
        self.moved_contacts = {
            name: stands
            for name in {**self.job.contacts, **found.contacts}
            for rests in (rests_closed(found, name),)
            if (stands := found.contacts.get(name, rests)) != self.job.contacts.get(name, rests)
        }
        self.most_moves = most_moves
        circuit = build(self.job)
        self.needs = Needs(circuit)
        self.found = prove(self.job, circuit)
        self.serves = self.needs.serves()
        self.guards = guards_of(self.needs, self.found, self.serves)
        self.moves = all_moves(self.job, metal=_needs_metal(self.job))
        self.tolerated: set[_Cause] = _incurable(self.job)
        self.colours = custom_colours()
        self.proofs: dict[frozenset[int], Proof] = {}
        self.exhausted = True

    def best(self) -> Mended:
        before = prove(self.given)
        if self._accepts(self.found):
            return self._told(frozenset(), before, 0)
        ruled_out = 0
        search = self._search()
        for size in range(1, min(_QUICK, self.most_moves) + 1):
            found = self._best_of(search, size)
            if found is not None:
                return self._told(found, before, ruled_out)
            ruled_out = size if self.exhausted else ruled_out
        return self._longer(search, before, ruled_out)

    def _longer(self, search: Repairs, before: Proof, ruled_out: int) -> Mended:
        """Return a repair of more moves: no more than a landing from scratch takes, and fewer where there are fewer."""
        scratch = land(self._scratch(), free=list(self.job.cables), ways=False)
        unserved = {call: why for call, why in scratch.unserved.items() if call in self.serves}
        start = 0
        if unserved or not self._accepts(scratch.proof):
            # Not everything can be had: the goal is now what the best landing of all reaches, unless a few moves reach more.
            nearer = None if scratch.optimal else self._nearer(scratch.serves)
            if nearer is not None:
                made, missing = nearer
                return self._told(made, before, 0, {call: unserved.get(call, why) for call, why in missing.items()})
            self.serves = tuple(call for call in self.serves if call in scratch.serves)
            self.tolerated |= {_cause(finding) for finding in scratch.proof.findings if finding.severity == "weak"}
            if self._accepts(prove(replace(self.job, serves=self.serves))):
                return self._told(frozenset(), before, 0, unserved)
            search, ruled_out, self.exhausted = self._search(), 0, True
        else:
            start = min(_QUICK, self.most_moves)
        whole = self._difference(scratch.job) if self._accepts(scratch.proof) else None
        most = self.most_moves if whole is None else min(self.most_moves, len(whole) - 1)
        for size in range(start + 1, most + 1):
            found = self._best_of(search, size)
            if found is not None:
                return self._told(found, before, ruled_out, unserved)
            if not self.exhausted:
                break
            ruled_out = size
        if whole is None:
            return self._told(frozenset(), before, ruled_out, unserved, found=False)
        return self._told(whole, before, ruled_out, unserved)

    def _nearer(self, reached: Sequence[str]) -> tuple[frozenset[int], dict[str, str]] | None:
        """Return a repair of a few moves that serves more than a landing not proved the best, and what it leaves unserved."""
        wanted, asked = self.serves, self.given.serves is not None
        whole = set(wanted)
        sets = [set_ for set_ in by_preference(wanted, asked=asked) if set(set_) < whole and better(set_, reached)]
        for serves in sets[:_MOST_NEARER]:
            self.serves = serves
            search = self._search()
            for size in range(_NEAR + 1):
                found = self._best_of(search, size)
                if found is not None:
                    beside = ", ".join(serves)
                    why = f"no repair of up to {_QUICK} moves serves it beside {beside}"
                    return found, {call: why for call in wanted if call not in serves}
        self.serves = wanted
        return None

    def _search(self) -> Repairs:
        self.proofs.clear()
        self.guards = guards_of(self.needs, self.found, self.serves)
        return Repairs(self.job, self.moves, self.needs, self.serves, self.guards)

    def _best_of(self, search: Repairs, size: int) -> frozenset[int] | None:
        """Return the best repair of so many moves that the engine proves."""
        step(f"looking for repairs of {size} move{'s' if size > 1 else ''}")
        ranked = sorted((self._rank(search, made), made) for made in search.of(size))
        for tried, (_, made) in enumerate(ranked):
            if tried >= _MOST_PROOFS:
                self.exhausted = False
                break
            if self._accepts(self._proof(made)) and crossed_in(self._after(made)) <= crossed_in(self.job):
                return made
            search.refused.add(made)
        self.exhausted = self.exhausted and not search.gave_up
        return None

    def _proof(self, made: frozenset[int]) -> Proof:
        if made not in self.proofs:
            self.proofs[made] = prove(replace(self._after(made), serves=self.serves))
        return self.proofs[made]

    def _accepts(self, proof: Proof) -> bool:
        fine = all(self._fine(finding) for finding in proof.findings)
        return fine and not self.guards.lost(proof)

    def _after(self, made: Collection[int]) -> Job:
        return moved(self.job, [self.moves[i] for i in sorted(made)])

    def _rank(self, search: Repairs, made: frozenset[int]) -> tuple[Any, ...]:
        moves = [self.moves[i] for i in made]
        job = self._after(made)
        runs, others, unlike = search.worth(made)
        kinds = [move.do for move in moves]
        return (
            -runs,
            -others,
            len({move.at for move in moves}),
            unlike,
            sum(self._off_colour(job, name) for name in {move.what for move in moves if move.end >= 0}),
            kinds.count("set"),
            kinds.count("jumper") + kinds.count("splice"),
            kinds.count("lift"),
            sum(str(move.after).endswith(".chassis") for move in moves),
            sorted(made),
        )

    def _off_colour(self, job: Job, conductor: str) -> int:
        colour = conductor.partition(".")[2]
        wanted = []
        for end in job.landings[conductor]:
            if end and end not in job.splices:
                device, letters = job.terminal(end)
                if device.part.calls:
                    means = device.part.terminals[letters].means
                    wanted += [self.colours[m] for m in means if m in self.colours][:1]
        return sum(other != colour for other in wanted)

    # -- from scratch -----------------------------------------------------------------------------------

    def _scratch(self) -> Job:
        return replace(self.job, jumpers=(), serves=self.serves if self.given.serves else preferred(self.serves))

    def _difference(self, wanted: Job) -> frozenset[int] | None:
        """Return the moves that lead to a landing, without those that are not needed; None where moves do not lead there."""
        names = {name: at for name, at in wanted.splices.items() if name not in self.job.splices}
        if len(set(names.values())) < len(names):
            return None
        place = {move: i for i, move in enumerate(self.moves)}
        made: set[int] = set()
        for conductor, ends in wanted.landings.items():
            for end, at in enumerate(self.job.cable_of(conductor).between):
                now, then = self.job.landings[conductor][end], ends[end]
                then = f"+{names[then]}" if then in names else then
                if now != then:
                    do = "lift" if then is None else "splice" if then[0] == "+" or then in wanted.splices else "land"
                    made.add(place.get(Move(do, conductor, now, then, at, end), -1))
        there = {frozenset(pair) for pair in wanted.jumpers}
        for i, move in enumerate(self.moves):
            pair = frozenset((move.what, move.after or move.before or ""))
            if (move.do == "jumper" and pair in there) or (move.do == "unjumper" and pair not in there):
                made.add(i)
        if -1 in made:
            return None
        for i in sorted(made, key=lambda i: (self.moves[i].do != "lift", -i)):
            fewer = frozenset(made - {i})
            if self._accepts(self._proof(fewer)):
                made.discard(i)
        return frozenset(made)

    # -- the answer -------------------------------------------------------------------------------------

    def _told(
        self,
        made: frozenset[int],
        before: Proof,
        ruled_out: int,
        unserved: Mapping[str, str] | None = None,
        *,
        found: bool = True,
    ) -> Mended:
        mended = replace(self._after(made), serves=self.serves if unserved else self.given.serves)
        wiring = prove(mended)
        whole = replace(mended, faults=(*self.kept, *self.sick), contacts=self.given.contacts)
        proof = prove(whole) if self.sick or self.moved_contacts else wiring
        # A humidistat that waits for dry air is worth a word only where a call waits for it.
        standing = {
            name: closed
            for name, closed in self.moved_contacts.items()
            if rests_closed(whole, name) or any(name in finding.where for finding in proof.findings)
        }
        moves, cures = self._in_order(made)
        return Mended(
            whole,
            moves,
            cures,
            found and self.exhausted and ruled_out >= len(made) - 1,
            ruled_out,
            tuple(broken(self.sick, standing, whole)),
            before,
            proof,
            wiring,
            dict(unserved or {}),
        )

    def _in_order(self, made: Collection[int]) -> tuple[tuple[Move, ...], tuple[str, ...]]:
        """Return the moves location by location, taking off before landing, and what each cures."""
        first = {at: i for i, at in reversed(list(enumerate(d.at for d in self.job.equipment.values())))}
        order = sorted(
            made, key=lambda i: (first[self.moves[i].at], self.moves[i].do not in ("lift", "unjumper"), self.moves[i])
        )
        after = self._after(made)
        cures = []
        told = []
        for i in order:
            rest = frozenset(made) - {i}
            without = self._proof(rest)
            worst = next((f.message for f in without.findings if not self._fine(f)), self.guards.lost(without))
            cures.append(f"without it: {worst}" if worst else "completes the landing")
            move = self.moves[i]
            if move.end >= 0 and move.after is not None:
                move = replace(move, after=after.landings[move.what][move.end])
            told.append(move)
        return tuple(told), tuple(cures)

    def _fine(self, finding: Finding) -> bool:
        return finding.severity == "note" or _cause(finding) in self.tolerated


def _cause(finding: Finding) -> _Cause:
    return finding.code, finding.severity, finding.where


def _needs_metal(job: Job) -> bool:
    """Tell whether some source has no common terminal, so that metal is its only way back."""
    return any(
        any(element.kind == "source" for element in device.part.elements.values())
        and not any(
            {"common", "dry"} & set(terminal.means)
            for letters, terminal in device.part.terminals.items()
            if letters != "chassis"
        )
        for device in job.equipment.values()
    )


def _incurable(job: Job) -> set[_Cause]:
    """Return what is wrong with nothing landed: no landing takes it away."""
    nothing = dict.fromkeys(job.landings, (None, None))
    proof = prove(replace(job, landings=nothing, splices={}, jumpers=(), faults=()))
    return {
        _cause(finding) for finding in proof.findings if finding.severity != "note" and finding.code not in _FROM_WIRING
    }
