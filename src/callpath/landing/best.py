"""The search for the best landing that the engine proves.

What is wanted, in this order:

1. nothing dangerous, no two sources that meet, and no fault other than calls that cannot be served;
2. of the calls in ``serves`` heat and cool before all others, then most of the others, the fan alone last, of equals those
   that stand first; defrost only beside heat; then every float switch that lies free in the job stopping every compressor;
3. fewest weak findings;
4. most functions running on those calls (a second heater is used where it can be);
5. fewest pairs of joined terminals that mean different things;
6. fewest conductors and jumpers, which is the simplest circuit;
7. fewest conductors at a thermostat against custom's colours;
8. least metal as a way back, and none where a source has a common terminal;
9. fewest new splices and jumpers;
10. fewest ends changed from what was landed;
11. colours that are natural where custom is silent; then a fixed order of names.

A terminal that means nothing but power is fed from a source all the time, never through a contact; a load is fed through
copper and contacts, never through another load. Within that, the answer is the best there is whenever ``optimal`` is true.
"""

from __future__ import annotations

import itertools
from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace
from functools import cached_property, partial

from callpath.job.model import Job, Landing
from callpath.landing.demand import Demands
from callpath.landing.landed import Landed
from callpath.landing.logic import Logic
from callpath.landing.points import Contact
from callpath.landing.preference import by_preference
from callpath.landing.realise import Ground
from callpath.landing.search import Candidate, Search
from callpath.landing.why import choices, shortage
from callpath.progress import step
from callpath.proof.prove import Proof, prove

__all__ = ["Best"]

# More candidates than this are not proved for one set of calls.
_MOST_PROOFS = 60


class Best:
    """The search for the best landing of a job, and what it has found out so far.

    Parameters
    ----------
    job : Job
        The job; an end that is landed stays where it is.
    free : sequence of str
        Cables whose conductors are taken off first and landed anew.
    most_added : int, optional
        At most so many new splices and jumpers.
    """

    def __init__(self, job: Job, free: Sequence[str], most_added: int | None) -> None:
        self.given = job
        broken = {where for fault in job.faults if fault.kind == "open" for where in fault.where}
        self.before = {name: ends for name, ends in job.landings.items() if name.partition(".")[0] in free}
        landings = {name: (None, None) if name in self.before else ends for name, ends in job.landings.items()}
        kept = {end for ends in landings.values() for end in ends}
        splices = {name: at for name, at in job.splices.items() if name in kept}
        self.fixed = replace(job, landings=landings, splices=splices)
        self.free = {
            cable.id: tuple(
                colour
                for colour in cable.conductors
                if None in landings[f"{cable.id}.{colour}"] and f"{cable.id}.{colour}" not in broken
            )
            for cable in job.cables.values()
        }
        self.logic = Logic(self.fixed)
        self.demands = Demands(self.logic, self.logic.wired)
        self.demands.room = {
            place: sum(
                len(self.free[cable.id])
                for cable in job.cables.values()
                if place in cable.between and len(set(cable.between)) == 2
            )
            for place in dict.fromkeys(self.logic.at)
        }
        self.ground = Ground(self.fixed, self.logic, self.free, most_added=most_added)
        loose = [f"{cable}.{colour}" for cable, colours in self.free.items() for colour in colours]
        half = {name: landings[name] for name in loose if landings[name] != (None, None)}
        self.search = Search(self.demands, self.ground, self.before, job.splices, half)
        self.refusals: dict[frozenset[str], str] = {}
        self.wanted = self.demands.needs.default_serves() if job.serves is None else job.serves
        self.proved = 0
        self.exhausted = True
        self._possible: dict[frozenset[str], bool] = {}

    def best(self) -> Landed:
        """Return the best landing."""
        floats = self.demands.floats
        for serves in self._sets():
            for switches in dict.fromkeys((floats, ())):
                self.ground.thorough = False
                found = self.serving(serves, partial(self.search.candidates, serves, switches))
                if found is not None:
                    return self.landed(serves, switches, *found)
        # Where a thermostat cannot have its supply, nothing can be served; what is safe is still worth saying.
        self.demands.supplied = False
        found = self.serving((), partial(self.search.candidates, (), ()))
        return self._nothing() if found is None else self.landed((), (), *found)

    def _sets(self) -> Iterator[tuple[str, ...]]:
        """Yield the sets of calls to try, the most wanted first, leaving out what conductors cannot carry."""
        small = [set_ for size in (1, 2) for set_ in itertools.combinations(self.wanted, size)]
        for serves in by_preference(self.wanted, asked=self.given.serves is not None):
            if any(needs not in serves for call in serves for needs in self._ground_of(call)):
                continue
            if len(serves) == len(self.wanted):
                yield serves
                continue
            for few in small:
                if len(few) < len(serves) and set(few) <= set(serves) and self._impossible(few):
                    break
            else:
                yield serves

    def _ground_of(self, call: str) -> tuple[str, ...]:
        """Return the wanted call during which a state of the equipment (defrost) comes about; it is no use without."""
        moment = self.logic.moment(call)
        if not moment.states:
            return ()
        others = (other for other in self.wanted if other != call)
        return tuple(
            other
            for other in others
            if self.logic.moment(other).outputs == moment.outputs and not self.logic.moment(other).states
        )

    def _impossible(self, serves: tuple[str, ...]) -> bool:
        key = frozenset(serves)
        if key not in self._possible:
            known = any(not possible and smaller <= key for smaller, possible in self._possible.items())
            # Where there is too much to try, nothing is said to be impossible.
            self._possible[key] = not known and (self.search.possible(serves) or self._gave_up)
        return not self._possible[key]

    def serving(
        self, serves: tuple[str, ...], candidates: Callable[[], Iterator[Candidate]]
    ) -> tuple[Candidate, Proof] | None:
        """Return the best candidate that the engine accepts for some calls."""
        best: tuple[int, Candidate, Proof] | None = None
        tried = 0
        refused: set[str] = set()
        for candidate in candidates():
            if best is not None and candidate.score[0] >= best[0]:
                break
            shape = self._shape(candidate)
            if shape in refused:
                continue
            if tried >= _MOST_PROOFS:
                self.exhausted = False
                break
            proof = self.prove(self._completed(candidate))
            tried += 1
            weak = self.weak(proof)
            accepted = self.accepts(proof, serves)
            if not accepted:
                self.refusals.setdefault(frozenset(serves), _cause(proof, serves))
            if not self.ground.thorough and not (accepted and self._good(weak, candidate)):
                # Another way to carry the same nets might pass: begin again with all of them.
                self.ground.thorough = True
                return self.serving(serves, candidates)
            if not accepted:
                refused.add(shape)
                continue
            if self._good(weak, candidate):
                return candidate, proof
            if best is None or weak < best[0]:
                best = (weak, candidate, proof)
        if self._gave_up:
            self.exhausted = False
        return None if best is None else best[1:]

    def _shape(self, candidate: Candidate) -> str:
        """Return a candidate without its colours; conductors of one cable are alike to the circuit."""
        ends = sorted((name.partition(".")[0], str(ends)) for name, ends in candidate.landings.items())
        return str((ends, candidate.jumpers))

    def accepts(self, proof: Proof, serves: Sequence[str]) -> bool:
        """Tell whether a proof shows nothing dangerous, and no fault but calls that are not to be served."""
        for finding in proof.findings:
            if finding.severity == "danger" or (finding.code == "sources-tied" and finding.where not in self._tied):
                return False
            if finding.severity != "fault":
                continue
            if finding.code == "dead-call" and not set(finding.calls) & set(serves):
                continue
            if finding.code == "unpowered-thermostat" and not self.demands.supplied:
                continue
            return False
        return True

    @property
    def _gave_up(self) -> bool:
        """Whether anything that could have been a landing was left untried."""
        return self.search.gave_up or self.demands.gave_up or not self.ground.complete

    @cached_property
    def _bare(self) -> Proof:
        """The proof of what is fixed."""
        return self.prove(self.fixed)

    @cached_property
    def _least_weak(self) -> int:
        """How many weak findings no landing can take away: fuses of the wrong size."""
        return self.weak(self._bare, codes=("fuse-size",))

    @cached_property
    def _tied(self) -> set[tuple[str, ...]]:
        """Sources that meet in what is fixed."""
        return {finding.where for finding in self._bare.findings if finding.code == "sources-tied"}

    def _good(self, weak: int, candidate: Candidate) -> bool:
        """Tell whether no candidate to come can have fewer weak findings."""
        return weak <= candidate.score[0] or weak <= self._least_weak

    def weak(self, proof: Proof, codes: Sequence[str] = ()) -> int:
        """Return how many weak findings a proof has, of some codes where they are given."""
        return sum(f.severity == "weak" and (not codes or f.code in codes) for f in proof.findings)

    def prove(self, job: Job) -> Proof:
        """Prove a job for all calls that are wanted, and count it."""
        self.proved += 1
        step(f"looking for the best landing: {self.proved} proved")
        return prove(replace(job, serves=self.wanted))

    def _completed(self, candidate: Candidate) -> Job:
        landings: dict[str, Landing] = {**self.fixed.landings, **candidate.landings}
        return replace(
            self.fixed,
            landings=landings,
            splices={**self.fixed.splices, **candidate.splices},
            jumpers=(*self.fixed.jumpers, *candidate.jumpers),
        )

    # -- the answer -------------------------------------------------------------------------------------

    def landed(
        self,
        serves: tuple[str, ...],
        floats: Sequence[Contact],
        candidate: Candidate,
        proof: Proof,
        why: Callable[[str], str] | None = None,
    ) -> Landed:
        """Return a candidate as the answer; ``why`` says why a call is not served, where that is not for the search to say."""
        job = replace(self._completed(candidate), serves=serves)
        final = proof if serves == self.wanted else prove(job)
        unserved = {
            call: why(call) if why else shortage(self.search, serves, call, self.refusals)
            for call in self.wanted
            if call not in serves
        }
        told, departures = choices(self.search, job, candidate, self.given)
        cautions = [f"{finding.message}; {finding.remedy}" for finding in final.findings if finding.severity == "weak"]
        cautions += [
            f"{finding.message}; {finding.remedy}"
            for finding in final.findings
            if finding.code in ("relies-on-chassis", "relies-on-fan-lead")
        ]
        cautions += [
            f"{switch.name} could not be wired so that it stops the compressor: water may overflow unnoticed"
            for switch in self.demands.floats
            if switch not in floats
        ]
        if self.logic.breaks and (unserved or self.weak(final)):
            # A relay that opens might have made room for more; plans are not followed through what it would put right.
            self.exhausted = False
        score = candidate.score
        objective = {
            "served": len(serves),
            "weak": self.weak(final),
            "functions": -score[1],
            "unlike_pairs": score[2],
            "conductors_and_jumpers": score[3],
            "off_colours": score[4],
            "metal": score[5],
            "splices_and_jumpers": score[6],
            "ends_changed": score[7] - len(self.search.half.keys() - candidate.landings.keys()),
        }
        return Landed(
            job, final, serves, unserved, told, departures, tuple(cautions), objective, self.exhausted, self.proved
        )

    def _nothing(self) -> Landed:
        """Return the job as it is fixed, where no landing at all is sound."""
        job = replace(self.fixed, serves=())
        proof = prove(job)
        worst = next((finding.message for finding in proof.findings if finding.severity in ("danger", "fault")), "")
        if not self.exhausted:
            worst = ""
            why = "no landing was found among those tried; there are too many to try them all"
        else:
            why = f"whatever is landed, what is fixed stays wrong: {worst}" if worst else "no landing serves it"
        return Landed(
            job,
            proof,
            (),
            dict.fromkeys(self.wanted, why),
            {},
            (),
            (worst,) if worst else (),
            {},
            self.exhausted,
            self.proved,
        )


def _cause(proof: Proof, serves: Sequence[str]) -> str:
    """Return what is wrong with a candidate for some calls, the likeliest cause first."""
    ranked = sorted(
        (
            finding
            for finding in proof.findings
            if finding.severity != "note" and (finding.code != "dead-call" or set(finding.calls) & set(serves))
        ),
        key=lambda finding: (finding.code not in ("weak-pull-in", "low-hold"), finding.severity != "danger"),
    )
    return ranked[0].message if ranked else ""
