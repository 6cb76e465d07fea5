"""callpath: the 24 V control circuit of a heating and cooling job, solved and proved.

>>> import callpath
>>> job = callpath.load_job("examples/garden-cottage.job.yaml")
>>> callpath.prove(job).verdict
'clean'

Everything that a notebook needs stands here; names load when they are first used, so that importing costs little.
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from callpath.calls.closing import calls_of_job, given_for
    from callpath.calls.reading import TableRow, amps_in, ohms_between, volts_between, volts_table
    from callpath.calls.sequence import Event, Interruption, Safety, safeties, sequence
    from callpath.circuit.build import Circuit, build
    from callpath.circuit.meter import Reading
    from callpath.circuit.settle import Settled, States, settle
    from callpath.circuit.snapshot import Snapshot, SourceLoad, snapshot
    from callpath.circuit.solve import Changes, Engine
    from callpath.circuit.spice import netlist
    from callpath.errors import (
        CallpathError,
        CatalogueError,
        FaultDataError,
        InputError,
        JobError,
        Problem,
        QuestionError,
        SeenError,
        SolveError,
    )
    from callpath.faults.seen import load_seen, read_seen
    from callpath.faults.troubleshoot import troubleshoot
    from callpath.job.model import Cable, Equipment, Fault, Job
    from callpath.job.read import load_job, read_job
    from callpath.landing.land import land
    from callpath.landing.landed import Landed
    from callpath.landing.mend import mend
    from callpath.landing.mended import Mended
    from callpath.landing.moves import Move
    from callpath.parts.catalogue import Catalogue, default_catalogue
    from callpath.parts.model import Part
    from callpath.proof.finding import CODES, Finding
    from callpath.proof.prove import CallResult, Proof, prove

__all__ = [
    "CODES",
    "Cable",
    "CallResult",
    "CallpathError",
    "Catalogue",
    "CatalogueError",
    "Changes",
    "Circuit",
    "Engine",
    "Equipment",
    "Event",
    "Fault",
    "FaultDataError",
    "Finding",
    "InputError",
    "Interruption",
    "Job",
    "JobError",
    "Landed",
    "Mended",
    "Move",
    "Part",
    "Problem",
    "Proof",
    "QuestionError",
    "Reading",
    "Safety",
    "SeenError",
    "Settled",
    "Snapshot",
    "SolveError",
    "SourceLoad",
    "States",
    "TableRow",
    "amps_in",
    "build",
    "calls_of_job",
    "default_catalogue",
    "given_for",
    "land",
    "load_job",
    "load_seen",
    "mend",
    "netlist",
    "ohms_between",
    "prove",
    "read_job",
    "read_seen",
    "safeties",
    "sequence",
    "settle",
    "snapshot",
    "troubleshoot",
    "volts_between",
    "volts_table",
]

_HOME = {
    "callpath.calls.closing": ("calls_of_job", "given_for"),
    "callpath.calls.reading": ("TableRow", "amps_in", "ohms_between", "volts_between", "volts_table"),
    "callpath.calls.sequence": ("Event", "Interruption", "Safety", "safeties", "sequence"),
    "callpath.circuit.build": ("Circuit", "build"),
    "callpath.circuit.meter": ("Reading",),
    "callpath.circuit.settle": ("Settled", "States", "settle"),
    "callpath.circuit.snapshot": ("Snapshot", "SourceLoad", "snapshot"),
    "callpath.circuit.solve": ("Changes", "Engine"),
    "callpath.circuit.spice": ("netlist",),
    "callpath.errors": (
        "CallpathError",
        "CatalogueError",
        "FaultDataError",
        "InputError",
        "JobError",
        "Problem",
        "QuestionError",
        "SeenError",
        "SolveError",
    ),
    "callpath.faults.seen": ("load_seen", "read_seen"),
    "callpath.faults.troubleshoot": ("troubleshoot",),
    "callpath.job.model": ("Cable", "Equipment", "Fault", "Job"),
    "callpath.job.read": ("load_job", "read_job"),
    "callpath.landing.land": ("land",),
    "callpath.landing.landed": ("Landed",),
    "callpath.landing.mend": ("mend",),
    "callpath.landing.mended": ("Mended",),
    "callpath.landing.moves": ("Move",),
    "callpath.parts.catalogue": ("Catalogue", "default_catalogue"),
    "callpath.parts.model": ("Part",),
    "callpath.proof.finding": ("CODES", "Finding"),
    "callpath.proof.prove": ("CallResult", "Proof", "prove"),
}
_MODULE_OF = {name: module for module, names in _HOME.items() for name in names}


def __getattr__(name: str) -> Any:
    if name in _MODULE_OF:
        value = getattr(import_module(_MODULE_OF[name]), name)
        globals()[name] = value
        return value
    raise AttributeError(f"module 'callpath' has no attribute '{name}'")


def __dir__() -> list[str]:
    return sorted(__all__)
