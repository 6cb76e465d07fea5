"""A job repaired: what comes out of ``mend``."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from callpath.job.model import Job
from callpath.landing.moves import Move
from callpath.landing.ways import WayOut
from callpath.proof.prove import Proof

__all__ = ["Mended"]


@dataclass(frozen=True)
class Mended:
    """A repair.

    Attributes
    ----------
    job : Job
        The job once repaired, with the faults of equipment and field contacts that it still has.
    moves : tuple of Move
        What to do, location by location, taking off before landing.
    cures : tuple of str
        For every move what is wrong as long as it alone is left out.
    fewest : bool
        Whether every repair of fewer moves has been ruled out.
    ruled_out : int
        Repairs of up to so many moves have been ruled out.
    broken : tuple of str
        What wiring does not cure: equipment to replace, field contacts to find out about, joints to make again.
    before, proof, wiring : Proof
        The job as found, the job once repaired, and the same with nothing broken.
    unserved : mapping
        Calls that the conductors there are cannot serve, whatever is done, and why.
    ways_out : tuple of WayOut
        What could be changed beyond moves, where something stays unserved or weak.
    """

    job: Job
    moves: tuple[Move, ...]
    cures: tuple[str, ...]
    fewest: bool
    ruled_out: int
    broken: tuple[str, ...]
    before: Proof
    proof: Proof
    wiring: Proof
    unserved: Mapping[str, str] = field(default_factory=dict)
    ways_out: tuple[WayOut, ...] = ()

    @property
    def given_up(self) -> tuple[str, ...]:
        """Calls that ran all that they need as found and do not once repaired, whether or not they are to be served."""
        return tuple(
            call
            for call, result in self.before.calls.items()
            if call in self.wiring.calls
            and result.needed
            and set(result.needed) <= set(result.running)
            and not set(result.needed) <= set(self.wiring.calls[call].running)
        )

    @property
    def verdict(self) -> str:
        """``clean`` or ``findings``, of the job once repaired."""
        return self.proof.verdict

    def as_json(self) -> dict[str, Any]:
        """Return the answer in the contract's form, with more beside it."""
        return {
            "moves": [{**move.as_json(), "why": cure} for move, cure in zip(self.moves, self.cures, strict=True)],
            "verdict": self.verdict,
            "verdict_of_wiring": self.wiring.verdict,
            "fewest": self.fewest,
            "ruled_out": self.ruled_out,
            "broken": list(self.broken),
            "unserved": list(self.unserved),
            "why_unserved": dict(self.unserved),
            "given_up": list(self.given_up),
            "ways_out": [way.as_json() for way in self.ways_out],
            "before": [finding.as_json() for finding in self.before.findings],
            "findings": [finding.as_json() for finding in self.proof.findings],
        }
