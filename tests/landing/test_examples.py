"""Every example that is right, and every part of the catalogue in a rig, taken off and landed anew: no fewer calls, and clean."""

from __future__ import annotations

from dataclasses import replace

import pytest

from callpath.job import load_job
from callpath.landing.land import land
from callpath.proof.prove import prove
from tests.cli.run import ROOT
from tests.jobs import job_of
from tests.parts.test_rigs import RIGS, joined, rigged

EXAMPLES = sorted((ROOT / "examples").glob("*.job.yaml"), key=str)


@pytest.mark.parametrize("example", EXAMPLES, ids=lambda path: path.name.removesuffix(".job.yaml"))
def test_what_is_landed_anew_serves_no_less(example: object) -> None:
    job = load_job(str(example))
    before = prove(job)
    found = land(replace(job, landings=dict.fromkeys(job.landings, (None, None)), splices={}, jumpers=()), ways=False)
    assert prove(found.job).findings == found.proof.findings
    assert not [finding for finding in found.proof.findings if finding.severity == "danger"]
    if before.verdict == "clean":
        assert set(found.serves) == set(before.serves)
        assert found.proof.verdict == "clean"


@pytest.mark.parametrize("part", RIGS)
def test_every_part_can_be_landed(part: str) -> None:
    job = job_of(joined(rigged(RIGS[part])))
    found = land(replace(job, landings=dict.fromkeys(job.landings, (None, None)), splices={}, jumpers=()), ways=False)
    assert set(found.serves) >= set(prove(job).serves)
    assert found.proof.verdict == "clean"
