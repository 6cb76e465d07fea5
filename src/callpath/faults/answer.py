"""The answer of troubleshooting as data: suspects, what is not named, and the next test with what each outcome would leave."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any, Literal

import numpy as np

from callpath.faults.asked import Check
from callpath.faults.candidate import Outcomes
from callpath.job.model import Fault
from callpath.job.write import fault_data

__all__ = [
    "Answer",
    "Leaf",
    "Next",
    "Suspect",
    "advice_for",
    "cautions_of",
    "one_for_a_range",
    "shown_words",
    "without_more",
]

# Common practice, no source.
_BEYOND = (
    "what drives it works; look for what it takes beyond the 24 V circuit: line voltage, a capacitor, an overload, the motor; "
    "for a burner gas and ignition.",
    "Line voltage kills: open the disconnect, prove it off, and discharge every capacitor before touching anything behind it.",
    "Live line voltage, refrigerant and gas are for licensed practice.",
)
_GAS = "the 24 V side is proved here; the gas side is proved, and the valve changed, by licensed practice."
Harmless = Literal["proved", "likely", "unknown"]
_PROVED = "Join exactly these two terminals, with an insulated lead; for every suspect left that shorts and overloads no source."
_LIKELY = "Join exactly these two terminals, with an insulated lead; shorting or overloading a source is less than 1 % likely."
_UNPROVED = (
    "Two wrong terminals joined open a fuse or burn a transformer. Join nothing before callpath has reckoned these two through, "
    "for everything that could still be wrong."
)
# Suspects that an outcome would leave, told one by one.
_TOLD = 8
# What is less likely than this part of the likeliest is counted, not named.
_WORTH_NAMING = 0.01


@dataclass(frozen=True)
class Suspect:
    """Faults that together explain what was seen; () is that nothing is wrong. Suspects of one ``group`` no test tells apart."""

    faults: tuple[Fault, ...]
    probability: float
    group: int


@dataclass(frozen=True)
class Leaf:
    """One outcome of a test: how likely it is, what it shows, and the groups of suspects that it would leave."""

    probability: float
    shows: str
    leaves: tuple[Suspect, ...]


@dataclass(frozen=True)
class Next:
    """The next test worth making; ``words`` tell it to a person."""

    test: Check
    words: str
    at: str
    minutes: float
    bits: float
    why: str
    cautions: tuple[str, ...]
    outcomes: tuple[Leaf, ...]


@dataclass(frozen=True)
class Answer:
    """What troubleshooting has come to.

    ``other`` is the probability of everything that is not named: ``unexplained`` of it is that nothing enumerated is wrong.
    """

    suspects: tuple[Suspect, ...]
    other: float
    unexplained: float
    next: Next | None
    done: str = ""

    @property
    def named(self) -> tuple[Suspect, ...]:
        """The suspects that are worth naming to a person: none far less likely than the first, none with a needless fault."""
        least = self.suspects[0].probability * _WORTH_NAMING if self.suspects else 0.0
        return without_more([suspect for suspect in self.suspects if suspect.probability >= least])

    @property
    def advice(self) -> tuple[str, ...]:
        """What to heed in mending the likeliest suspect, where that is not the 24 V circuit alone."""
        return advice_for(self.suspects[0].faults if self.suspects else ())

    def as_json(self) -> dict[str, Any]:
        """Return the answer in the form of the contract."""
        return {
            "suspects": [
                {
                    "faults": [fault_data(fault) for fault in suspect.faults],
                    "probability": suspect.probability,
                    "group": suspect.group,
                }
                for suspect in self.suspects
            ],
            "other": self.other,
            "unexplained": self.unexplained,
            "next": None
            if self.next is None
            else {
                "test": self.next.test.as_data(),
                "at": self.next.at,
                "minutes": self.next.minutes,
                "bits": self.next.bits,
                "why": self.next.why,
                "cautions": list(self.next.cautions),
                "outcomes": [
                    {
                        "probability": leaf.probability,
                        "shows": leaf.shows,
                        "leaves": [[fault_data(fault) for fault in suspect.faults] for suspect in leaf.leaves[:_TOLD]],
                        "more": max(0, len(leaf.leaves) - _TOLD),
                    }
                    for leaf in self.next.outcomes
                ],
            },
            "done": self.done,
            "advice": list(self.advice),
        }


def advice_for(faults: Sequence[Fault]) -> tuple[str, ...]:
    """Return what to heed in mending some faults, where they are not in the 24 V circuit alone."""
    dead = [fault.where[0] for fault in faults if fault.kind == "idle"]
    valves = [name for fault in faults for name in fault.where if name.partition(".")[2].startswith("gas-valve")]
    told = [f"{', '.join(dead)}: {_BEYOND[0]}", *_BEYOND[1:]] if dead else []
    told += [f"{', '.join(valves)}: {_GAS}"] if valves else []
    return tuple(told)


def one_for_a_range(suspects: Sequence[Suspect]) -> tuple[Suspect, ...]:
    """Return suspects, likeliest first, with all resistances of one bad connection counted with its likeliest."""
    found: dict[tuple[Fault, ...], Suspect] = {}
    for suspect in suspects:
        key = tuple(replace(fault, ohms=None) for fault in suspect.faults)
        held = found.get(key)
        found[key] = suspect if held is None else replace(held, probability=held.probability + suspect.probability)
    return tuple(sorted(found.values(), key=lambda suspect: -suspect.probability))


def without_more(suspects: Sequence[Suspect]) -> tuple[Suspect, ...]:
    """Return suspects without those that add a fault to a likelier one: what nothing shows beside the first is no news."""
    told: list[Suspect] = []
    for suspect in suspects:
        if not any(set(first.faults) < set(suspect.faults) for first in told if first.faults):
            told.append(suspect)
    return tuple(told)


def cautions_of(test: Check, *, harmless: Harmless = "unknown") -> tuple[str, ...]:
    """Return what to be careful of in a test; a jumper may be ``harmless`` whatever could be wrong, or all but surely."""
    if test.jumped:
        return (
            "The power is on: line voltage stands beside these terminals.",
            {"proved": _PROVED, "likely": _LIKELY, "unknown": _UNPROVED}[harmless],
            "Equipment will start: keep clear of blower and fan, and do not run a burner or compressor unattended.",
        )
    if test.kind == "ohms":
        return ("Power off at the disconnect and prove it off before lifting a lead or touching a terminal.",)
    if test.kind == "running":
        return ("Equipment may start: keep clear of blower, fan and burner.",)
    return ("The power is on: line voltage stands beside these terminals; leads insulated, one hand.",)


def shown_words(found: Outcomes, outcome: int) -> str:
    """Return what one outcome of a test shows."""
    if found.test.kind == "running":
        on = [name for name, runs in zip(found.test.functions, found.runs[outcome], strict=True) if runs]
        pulled = [name for name in on if name in found.test.coils]
        runs = [name for name in on if name not in found.test.coils]
        told = []
        if set(found.test.functions) - found.test.coils:
            told.append(f"runs: {', '.join(runs)}" if runs else "nothing runs")
        if found.test.coils:
            told.append(f"pulled in: {', '.join(pulled)}" if pulled else "nothing pulled in")
        return "; ".join(told)
    unit = {"volts": "V", "amps": "A", "ohms": "Ω"}[found.test.kind]
    low, high = float(found.low[outcome]), float(found.high[outcome])
    if np.isinf(high):
        return "OL, open"
    digits = 2 if found.test.kind == "amps" else 1
    return f"{low:.{digits}f} to {high:.{digits}f} {unit}"
