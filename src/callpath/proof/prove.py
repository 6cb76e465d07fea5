"""The proof of a job: every state settled, every family of finding asked, one answer."""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterator, Mapping
from dataclasses import dataclass
from typing import Any

from callpath.calls.need import Needs
from callpath.circuit.build import Circuit, build
from callpath.circuit.snapshot import Snapshot, SourceLoad
from callpath.job.model import Job
from callpath.proof.anticipator import anticipators_off
from callpath.proof.bare import left_out
from callpath.proof.danger import over_voltage, shorts, sources_tied, wrong_class
from callpath.proof.dead import dead_calls
from callpath.proof.ends import ends_that_disagree
from callpath.proof.finding import Finding, merged, one_by_cause, ranked
from callpath.proof.half import half_landed
from callpath.proof.landed import (
    crowded_terminals,
    off_colours,
    relies_on_chassis,
    relies_on_fan_lead,
    spares,
)
from callpath.proof.letters import letter_traps
from callpath.proof.metal import hot_on_metal
from callpath.proof.no_return import no_returns
from callpath.proof.nothing import no_fit, nothing_served
from callpath.proof.safety import Switch, idle_safeties, switches
from callpath.proof.states import Examined, examine
from callpath.proof.stay import stays_on
from callpath.proof.supply import unpowered_thermostats
from callpath.proof.unwanted import chatters, unwanted_runs
from callpath.proof.valve import never_opened
from callpath.proof.weak import fuse_sizes, over_va, weak_loads

__all__ = ["RULES", "CallResult", "Proof", "call_result", "prove"]

RULES: tuple[Callable[[Examined], Iterator[Finding]], ...] = (
    shorts,
    sources_tied,
    over_voltage,
    wrong_class,
    letter_traps,
    dead_calls,
    never_opened,
    unwanted_runs,
    stays_on,
    unpowered_thermostats,
    no_returns,
    ends_that_disagree,
    weak_loads,
    over_va,
    fuse_sizes,
    hot_on_metal,
    chatters,
    idle_safeties,
    crowded_terminals,
    nothing_served,
    no_fit,
    off_colours,
    spares,
    half_landed,
    left_out,
    relies_on_chassis,
    relies_on_fan_lead,
    anticipators_off,
)
"""Every family of finding; each looks at the settled states and yields what it finds."""


@dataclass(frozen=True)
class CallResult:
    """What one call does once settled, field contacts as the job has them and every source live.

    ``needed`` are the functions that it must run, ``allowed`` those that it may run beside them. ``opened`` are the fuses that
    have opened and the sources that have burned by then.
    """

    running: tuple[str, ...]
    needed: tuple[str, ...]
    allowed: tuple[str, ...]
    sources: dict[str, SourceLoad]
    opened: tuple[str, ...] = ()


@dataclass(frozen=True)
class Proof:
    """What a proof found.

    ``verdict`` is ``clean`` where nothing is worse than a note. ``bounded`` says in words which combinations were not examined,
    empty where all were. ``switches`` says of every field contact what it stops.
    """

    job: Job
    findings: tuple[Finding, ...]
    calls: dict[str, CallResult]
    serves: tuple[str, ...]
    states_examined: int
    bounded: str
    switches: Mapping[str, Switch]

    @property
    def verdict(self) -> str:
        """``clean`` or ``findings``."""
        return "clean" if all(finding.severity == "note" for finding in self.findings) else "findings"

    def until(self, call: str) -> tuple[str, ...]:
        """Return what opens or burns on another call and keeps from then on what runs on this one from running.

        Every call is settled by itself, with every fuse whole. Which of several sources a function hangs on is not said here.
        """
        result = self.calls[call]
        if not result.running or result.opened or len(result.sources) != 1:
            return ()
        return tuple(sorted({name for other in self.calls.values() for name in other.opened}))

    @property
    def nothing_runs(self) -> str:
        """Why nothing runs on any call though there is equipment that could; empty where something does."""
        return next((finding.message for finding in self.findings if finding.code == "nothing-served"), "")

    def as_json(self) -> dict[str, Any]:
        """Return the proof in the contract's form, with ``serves`` and ``bounded`` beside it."""
        return {
            "verdict": self.verdict,
            "states_examined": self.states_examined,
            "bounded": self.bounded,
            "serves": list(self.serves),
            "findings": [finding.as_json() for finding in self.findings],
            "calls": {
                call: {
                    "running": list(result.running),
                    "needed": list(result.needed),
                    "allowed": list(result.allowed),
                    "opened": list(result.opened),
                    "sources": {
                        name: {
                            "volts": round(load.volts, 3),
                            "amps": round(load.amps, 4),
                            "va": round(load.va, 2),
                            "rated_va": load.rated_va,
                        }
                        for name, load in result.sources.items()
                    },
                }
                for call, result in self.calls.items()
            },
        }


def call_result(needs: Needs, call: str, state: Snapshot, callers: Collection[str] | None = None) -> CallResult:
    """Return what a call does in its settled state; ``callers`` are the thermostats that make it, all that can without."""
    must = needs.must_run(call, callers)
    may = needs.may_run(call, callers) - must
    return CallResult(state.running, tuple(sorted(must)), tuple(sorted(may)), state.sources, state.opened)


def prove(job: Job, circuit: Circuit | None = None) -> Proof:
    """Settle every call in every combination of field contacts and live sources, and report what is found.

    Parameters
    ----------
    job : Job
        A checked job.
    circuit : Circuit, optional
        Its circuit, where it has been built already.
    """
    circuit = circuit or build(job)
    examined = examine(circuit)
    findings = ranked(one_by_cause(merged([finding for rule in RULES for finding in rule(examined)])))
    calls = {call: call_result(examined.needs, call, state) for call, state in examined.plain.items()}
    return Proof(
        job,
        tuple(findings),
        calls,
        examined.needs.serves(),
        len(examined.settled.bits),
        examined.bounded,
        switches(examined),
    )
