"""Every part in a rig of its own: proved clean where it is wired right, and found out where it is wired wrong.

A rig is a sound installation (one of ``tests.jobs``, or a whole job) with the part built into it; ``wrong`` are changes to that,
each with the finding that a technician would expect. The wirings are invented; what must be found is common practice, no source.
"""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from callpath.circuit.build import build
from callpath.parts.catalogue import default_catalogue
from callpath.proof.prove import Proof, prove
from callpath.proof.states import examine
from tests import jobs
from tests.circuit.kirchhoff import assert_kirchhoff
from tests.jobs import Data, amended, codes, data, job_of

# The parts of the first catalogue have their own tests all over this suite.
FIRST = {
    "accessory/float-switch",
    "accessory/relay",
    "accessory/transformer",
    "accessory/zone-valve",
    "indoor/air-handler",
    "indoor/boiler",
    "indoor/boiler-tt",
    "indoor/furnace-board",
    "indoor/three-terminal-board",
    "indoor/two-stage-furnace-board",
    "outdoor/condenser",
    "outdoor/heat-pump",
    "thermostat/heat-only",
    "thermostat/heat-pump",
    "thermostat/single-supply",
    "thermostat/split-supply",
}


def _rigs() -> dict[str, Data]:
    found: dict[str, Data] = {}
    for file in sorted((Path(__file__).parent / "rigs").glob("*.yaml")):
        for rig in data(file.read_text(encoding="utf-8")):
            for part in rig["part"] if isinstance(rig["part"], list) else [rig["part"]]:
                found[part] = {**rig, "part": part}
    return found


RIGS = _rigs()
WRONG = [
    pytest.param(part, i, id=f"{part} {i} {wrong['finds']}")
    for part, rig in RIGS.items()
    for i, wrong in enumerate(rig["wrong"])
]


def rigged(rig: Data) -> Data:
    """Return the right job of a rig."""
    base = rig["job"] if "job" in rig else getattr(jobs, rig["base"])
    return amended(base, **_filled(rig.get("change", {}), rig["part"]))


def joined(job: Data) -> Data:
    """Return the job with the short links that a rig names, ``joints``, as its jumpers."""
    return {
        **{key: value for key, value in job.items() if key != "joints"},
        "jumpers": [*job.get("jumpers", []), *job.get("joints", {}).values()],
    }


def _filled(item: Any, part: str) -> Any:
    """Return data with the part's name put in where a rig serves several parts."""
    if isinstance(item, dict):
        return {key: _filled(value, part) for key, value in item.items()}
    return part if item == "THIS" else item


def proof_and_law(job: Data) -> Proof:
    """Return a job's proof, every plain state of it checked for Kirchhoff's current law and the balance of power."""
    circuit = build(job_of(joined(job)))
    examined = examine(circuit)
    for state in (*examined.plain.values(), *examined.plain_before_fuse.values()):
        assert_kirchhoff(state)
    return prove(circuit.job, circuit)


def test_every_part_has_a_rig_and_two_ways_to_get_it_wrong() -> None:
    assert set(RIGS) == set(default_catalogue().names) - FIRST
    for part, rig in RIGS.items():
        assert len(rig["wrong"]) >= 2, part
        assert part in {device["part"] for device in rigged(rig)["equipment"].values()}, part


@pytest.mark.parametrize("part", RIGS)
def test_wired_right_it_is_clean(part: str) -> None:
    rig = RIGS[part]
    proof = proof_and_law(rigged(rig))
    assert codes(proof) == []
    assert proof.serves
    for call, functions in rig.get("runs", {}).items():
        assert set(functions.split()) <= set(proof.calls[call].running), call
        assert set(functions.split()) <= set(proof.calls[call].needed), call


@pytest.mark.parametrize(("part", "number"), WRONG)
def test_wired_wrong_it_is_found(part: str, number: int) -> None:
    rig = RIGS[part]
    wrong = _filled(rig["wrong"][number], part)
    proof = proof_and_law(amended(rigged(rig), **{key: value for key, value in wrong.items() if key != "finds"}))
    assert set(wrong["finds"].split()) <= set(codes(proof))
