"""Wiring faults that nobody could ever notice are neither suspected nor hidden."""

from __future__ import annotations

from pathlib import Path

import pytest

from callpath.circuit.build import build
from callpath.faults.noticed import unnoticed
from callpath.faults.prior import default_priors
from callpath.faults.troubleshoot import Case
from callpath.faults.universe import single_faults
from callpath.job import load_job
from callpath.job.model import Fault
from tests.jobs import COTTAGE, HOUSE, PUMP, Data, job_of

COIL = Fault("swapped", ("outside.red", "outside.white"))
EXAMPLES = Path(__file__).parents[2] / "examples"


@pytest.mark.parametrize("base", [COTTAGE, HOUSE], ids=["cottage", "house"])
def test_a_coil_has_no_polarity(base: Data) -> None:
    """The two leads of an alternating-current coil exchanged: nothing runs otherwise, on any call. Physics, no source."""
    job = job_of(base)
    singles = [weighed.fault for weighed in single_faults(build(job), default_priors())]
    silent = unnoticed(job, singles)
    assert COIL in silent
    case = Case(job)
    assert COIL not in case.universe.faults
    assert {fault.kind for fault in silent} <= {"swapped", "missing", "extra"}


def test_a_lead_on_another_terminal_is_noticed() -> None:
    assert not unnoticed(job_of(HOUSE), [Fault("swapped", ("wall.yellow", "wall.green"))])
    # What is broken is worth finding, whether it shows yet or not.
    assert not unnoticed(job_of(HOUSE), [Fault("high-resistance", ("wall.green",), ohms=2.5)])
    assert not unnoticed(job_of(PUMP), [])


def test_what_one_zone_alone_would_show_is_noticed() -> None:
    """Two end switches side by side: the jumper between them is missed only while one zone calls and the other does not."""
    job = load_job(EXAMPLES / "bathhouse-three-zones.job.yaml")
    jumpers = [Fault("missing", pair) for pair in job.jumpers]
    assert not unnoticed(job, jumpers)


def test_what_a_field_contact_alone_would_show_is_noticed() -> None:
    """A jumper past a float switch changes nothing until the switch opens."""
    job = load_job(EXAMPLES / "dairy-float-switch.job.yaml")
    (float_,) = [id_ for id_, device in job.equipment.items() if device.part.part == "accessory/float-switch"]
    assert not unnoticed(job, [Fault("extra", (f"{float_}.1", f"{float_}.2"))])
