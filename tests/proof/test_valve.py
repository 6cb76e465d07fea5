"""Zone valves that no thermostat opens.

Facts of the trade, common practice, no source: a hydronic zone runs thermostat → valve motor → end switch → boiler, so that
nothing fires before a valve stands open; a thermostat that calls the boiler itself has it fire, and its circulator pump, against
valves that are shut. A zone without a valve exists and is right: it is always open.
"""

from __future__ import annotations

from dataclasses import replace

import pytest

from callpath.calls.need import Needs
from callpath.circuit.build import build
from callpath.job.model import Job, Landing
from callpath.job.read import load_job
from callpath.proof.prove import prove
from tests.jobs import HOUSE, ZONE, codes, has, having, only, proof_of

SCHOOL = load_job("examples/schoolhouse-zone-valves.job.yaml")
BATH = load_job("examples/bathhouse-three-zones.job.yaml")


def landed(job: Job, landings: dict[str, Landing]) -> Job:
    return replace(job, landings={**job.landings, **landings})


def test_a_thermostat_landed_past_its_valve() -> None:
    past = {"to-west.red": ("west.R", "boiler.T1"), "to-west.white": ("west.W", "boiler.T2")}
    proof = prove(landed(SCHOOL, past))
    found = only(proof, "dead-call")
    assert codes(proof) == ["dead-call"]
    assert found.calls == ("heat",)
    assert found.where == ("valve-w.open", "valve-w.motor")
    assert "west calls past it, and boiler.heat runs with no valve open" in found.message
    assert found.remedy.startswith("lead west.W to what feeds valve-w.motor")


def test_with_one_thermostat_and_one_valve() -> None:
    proof = proof_of(ZONE, landings="{wall.red: [stat.R, boiler.T1], wall.white: [stat.W, boiler.T2]}")
    assert only(proof, "dead-call").where == ("valve.open", "valve.motor")
    assert proof.calls["heat"].running == ("boiler.circulator", "boiler.heat")


def test_two_thermostats_on_one_valve_while_another_stays_shut() -> None:
    found = only(prove(landed(SCHOOL, {"to-west.white": ("west.W", "valve-e.M1")})), "dead-call")
    assert found.where == ("valve-w.open", "valve-w.motor")
    assert "east and west open valve-e together" in found.message
    assert has(found.path, "supply.R to-east.red east.R east.W to-east.white valve-e.M1 to-west.white west.W") or has(
        found.path[:4], "supply.R to-east.red east.R east.W"
    )


@pytest.mark.parametrize(
    "landings",
    [
        pytest.param(
            {"to-pool.red": ("pool.R", "panel.X1"), "to-pool.white": ("pool.W", "panel.X2")}, id="past the panel"
        ),
        pytest.param({"to-pool.white": ("pool.W", "panel.T2-W")}, id="on another zone's input"),
        pytest.param({"to-pool.white": ("pool.W", "panel.T1-W")}, id="on the tank's input"),
    ],
)
def test_on_a_panel_a_zone_that_nobody_opens(landings: dict[str, Landing]) -> None:
    """A thermostat on another zone's input opens that zone's valve, and its own never."""
    found = having(prove(landed(BATH, landings)), "dead-call", "v-pool.open")
    assert found.where == ("v-pool.open", "v-pool.motor")
    assert "heat" in found.calls


def test_a_zone_that_is_always_open_is_right() -> None:
    """Two thermostats, one valve: the other zone has none."""
    job = replace(
        landed(SCHOOL, {"to-west.red": ("west.R", "boiler.T1"), "to-west.white": ("west.W", "boiler.T2")}),
        equipment={id_: device for id_, device in SCHOOL.equipment.items() if id_ != "valve-w"},
        jumpers=(),
    )
    assert prove(job).verdict == "clean"


def test_a_thermostat_that_opens_two_valves_beside_a_zone_that_is_always_open_is_right() -> None:
    job = landed(SCHOOL, {"to-west.red": ("west.R", "boiler.T1"), "to-west.white": ("west.W", "boiler.T2")})
    assert prove(replace(job, jumpers=(*job.jumpers, ("valve-e.M1", "valve-w.M1")))).verdict == "clean"


def test_a_valve_made_ready_for_a_zone_to_come_is_right() -> None:
    """The other zone's thermostat is not there yet; nobody fires the boiler without a valve."""
    ready = replace(
        SCHOOL,
        equipment={id_: device for id_, device in SCHOOL.equipment.items() if id_ != "west"},
        landings={**SCHOOL.landings, "to-west.red": (None, None), "to-west.white": (None, None)},
    )
    assert prove(ready).verdict == "clean"


def test_whoever_heats_with_air_owes_no_valve() -> None:
    """A furnace's thermostat beside a hydronic zone that lies past its valve: only the zone's own is to blame."""
    inn = load_job("examples/inn-everything.job.yaml")
    past = landed(inn, {"bar.red": ("stat-c.R", "boiler.T1"), "bar.white": ("stat-c.W", "boiler.T2")})
    found = only(prove(past), "dead-call")
    assert found.where == ("valve-c.open", "valve-c.motor")
    assert "stat-c calls past it" in found.message
    needs = Needs(build(past))
    assert "valve-c.open" not in needs.must_run("heat", ["stat-s"]) | needs.must_run("heat", ["stat-n"])


def test_a_valve_that_nothing_is_landed_on_is_meant_for_nothing_yet() -> None:
    spare = {"equipment": "{spare: {part: accessory/zone-valve, at: cellar}}"}
    assert proof_of(HOUSE, **spare).verdict == "clean"
    assert proof_of(ZONE, equipment="{spare: {part: accessory/zone-valve, at: boiler room}}").verdict == "clean"
