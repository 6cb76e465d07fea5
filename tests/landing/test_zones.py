"""No repair makes one zone of two.

Fact of the trade, common practice, no source: a jumper between two zones' leads opens both valves whenever one thermostat calls,
and one room is heated on the other's account.
"""

from __future__ import annotations

import itertools
import random
from dataclasses import replace

import pytest

from callpath.calls.closing import call_rules, thermostats
from callpath.calls.need import Needs
from callpath.circuit.build import build
from callpath.job.model import Job, Landing
from callpath.job.read import load_job
from callpath.landing.mend import mend
from callpath.landing.moves import all_moves
from callpath.landing.repair import Repairs
from callpath.proof.states import examine
from tests.jobs import HOUSE, job_of
from tests.landing.repairs import wrongly

SCHOOL = load_job("examples/schoolhouse-zone-valves.job.yaml")
BATH = load_job("examples/bathhouse-three-zones.job.yaml")


def opened(job: Job) -> dict[str, set[str]]:
    """Return what stands open when each thermostat alone calls, by the engine."""
    examined = examine(build(job))
    found: dict[str, set[str]] = {stat.id: set() for stat in thermostats(job)}
    for call in examined.calls:
        able = [stat.id for stat in thermostats(job) if call in call_rules(stat)]
        for stat in able:
            state = examined.alone[call, stat] if len(able) > 1 else examined.plain[call]
            found[stat] |= {name for name in state.running if name.endswith(".open")}
    return found


def test_the_engine_and_yes_and_no_open_the_same() -> None:
    for job in (SCHOOL, BATH):
        assert all(len(valves) == 1 for valves in opened(job).values())
        repairs = Repairs(job, all_moves(job), Needs(build(job)), ("heat", "hot-water"))
        assert repairs.zones.enough
        assert len(repairs.zones.stats) == len(thermostats(job))


@pytest.mark.parametrize(
    ("job", "landings", "moves"),
    [
        (SCHOOL, {"to-west.red": ("west.R", "boiler.T1"), "to-west.white": ("west.W", "boiler.T2")}, 2),
        (SCHOOL, {"to-west.white": ("west.W", "valve-e.M1")}, 1),
        (BATH, {"to-pool.white": ("pool.W", "panel.T1-W")}, 1),
    ],
    ids=["past its valve", "on the other's valve", "on the tank's input"],
)
def test_every_thermostat_gets_a_valve_of_its_own(job: Job, landings: dict[str, Landing], moves: int) -> None:
    found = mend(replace(job, landings={**job.landings, **landings}))
    assert len(found.moves) == moves
    assert found.fewest
    assert found.verdict == "clean"
    valves = opened(found.job)
    assert all(len(own) == 1 for own in valves.values())
    assert len(set().union(*valves.values())) == len(valves)


@pytest.mark.parametrize("seed", range(4))
def test_whatever_is_wrong_no_repair_ties_two_zones(seed: int) -> None:
    wrong, _ = wrongly(SCHOOL, random.Random(seed), 2)
    found = mend(wrong)
    assert found.verdict == "clean"
    for one, two in itertools.combinations(opened(found.job).values(), 2):
        assert not one & two


def test_two_thermostats_of_one_furnace_may_be_joined() -> None:
    """There is but one heat input for both: the second belongs where the first is."""
    job = job_of(
        HOUSE,
        equipment="{two: {part: thermostat/heat-only, at: cellar}}",
        jumpers="[[two.R, board.R], [two.W, board.C]]",
    )
    found = mend(job)
    assert found.verdict == "clean"
    assert len(found.moves) == 2
    assert "board.heat" in examine(build(found.job)).alone["heat", "two"].running
