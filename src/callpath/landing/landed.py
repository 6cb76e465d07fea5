"""A job with its landings chosen: what comes out of ``land``."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

from callpath.job.model import Job
from callpath.landing.realise import most_meetings
from callpath.landing.ways import WayOut
from callpath.proof.prove import Proof

__all__ = ["Landed"]


@dataclass(frozen=True)
class Landed:
    """A job with its landings chosen.

    ``job`` is the completed job, its ``serves`` what it does serve; ``proof`` is its proof. ``unserved`` gives the calls
    that were asked for and cannot be served, with the reason. ``choices`` says of every conductor why it lies as it does;
    ``departures`` what custom would have otherwise. ``objective`` is what was reached, by name.
    """

    job: Job
    proof: Proof
    serves: tuple[str, ...]
    unserved: dict[str, str]
    choices: dict[str, str]
    departures: tuple[str, ...]
    cautions: tuple[str, ...]
    objective: dict[str, int]
    optimal: bool
    proved: int = 0
    ways_out: tuple[WayOut, ...] = field(default=())

    @property
    def left_out(self) -> tuple[str, ...]:
        """What this landing does without, in words: equipment of the job that nothing is landed on."""
        ends = (end for pair in (*self.job.landings.values(), *self.job.jumpers) for end in pair if end)
        used = {end.partition(".")[0] for end in ends}
        bare = [id_ for id_ in self.job.equipment if id_ not in used]
        return (f"nothing lands on {', '.join(bare)}: what is asked for is served without",) if bare else ()

    @property
    def not_searched(self) -> tuple[str, ...]:
        """What ``optimal`` does not speak of: landings that no search has looked at, in words."""
        passes = any(
            "pass" in t.means for device in self.job.equipment.values() for t in device.part.terminals.values()
        )
        return (
            *(() if self.optimal else ("some of the ways to join what belongs together: there are too many",)),
            "a joint on a screw that holds something else already",
            *(("a joint on a bare pass-through of an accessory",) if passes else ()),
            f"one purpose that meets at more than {most_meetings(self.job)} splices and free terminals",
        )

    def as_json(self) -> dict[str, Any]:
        """Return the answer in the contract's form, with more beside it."""
        return {
            "landings": {name: list(ends) for name, ends in self.job.landings.items() if ends != (None, None)},
            "splices": dict(self.job.splices),
            "jumpers": [list(jumper) for jumper in self.job.jumpers],
            "serves": list(self.serves),
            "unserved": list(self.unserved),
            "why_unserved": dict(self.unserved),
            "choices": [{"conductor": name, "why": why} for name, why in self.choices.items()],
            "departures": list(self.departures),
            "cautions": list(self.cautions),
            "ways_out": [way.as_json() for way in self.ways_out],
            "optimal": self.optimal,
            "not_searched": list(self.not_searched),
            "objective": self.objective,
            "verdict": self.proof.verdict,
            "findings": [finding.as_json() for finding in self.proof.findings],
        }
