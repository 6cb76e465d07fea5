"""What is driven both ways and only ever one way, and dampers that nobody opens.

From the parts' notes (common practice, no source): a damper or valve that is driven both ways stays where it is with neither
winding fed, so that without its closing lead it opens once and never shuts.
"""

from __future__ import annotations

from dataclasses import replace

import pytest

from callpath.job import Job
from callpath.job.read import load_job
from callpath.landing.mend import mend
from callpath.proof.prove import prove
from tests.jobs import having, job_of, only
from tests.parts.test_rigs import RIGS, joined, rigged

GRANARY = load_job("examples/granary-air-zones.job.yaml")
POWER_CLOSE = job_of(joined(rigged(RIGS["accessory/power-close-valve"])))


@pytest.mark.parametrize(
    ("job", "lead", "calls"),
    [
        (GRANARY, ("panel.D2-S", "d2.S"), ("off", "fan", "cool", "heat")),
        (POWER_CLOSE, ("rel.NC", "valve.S"), ("off",)),
    ],
    ids=["damper", "valve"],
)
def test_without_its_closing_lead_it_stays_open(job: Job, lead: tuple[str, str], calls: tuple[str, ...]) -> None:
    assert prove(job).verdict == "clean"
    cut = replace(job, jumpers=tuple(pair for pair in job.jumpers if set(pair) != set(lead)))
    device = lead[1].partition(".")[0]
    found = only(prove(cut), "unwanted-run")
    assert found.where == (f"{device}.open", f"{device}.shut-motor")
    assert set(found.calls) <= set(calls)
    assert "off" in found.calls
    assert "stays once it has begun" in found.message
    mended = mend(cut)
    assert [(move.do, {move.what, move.after}) for move in mended.moves] == [("jumper", set(lead))]


def test_a_damper_that_nobody_opens() -> None:
    cut = replace(GRANARY, jumpers=tuple(pair for pair in GRANARY.jumpers if "d2.O" not in pair))
    found = having(prove(cut), "dead-call", "d2.open")
    assert found.calls == ("fan", "cool", "heat")
    assert "no thermostat leads to d2.open-motor; two calls past it" in found.message


def test_a_zone_without_a_damper_is_always_open_and_right() -> None:
    without = {id_: device for id_, device in GRANARY.equipment.items() if id_ != "d2"}
    jumpers = tuple(pair for pair in GRANARY.jumpers if not any(end.startswith("d2.") for end in pair))
    assert prove(replace(GRANARY, equipment=without, jumpers=jumpers)).verdict == "clean"
