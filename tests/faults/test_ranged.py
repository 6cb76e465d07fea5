"""A bad connection has any resistance between those that are looked for, whose readings reach from one to the next."""

from __future__ import annotations

import numpy as np
import pytest

from callpath.faults.asked import Check, Seen
from callpath.faults.noise import likelihood_of
from callpath.faults.posterior import predict
from callpath.faults.ranged import ranges_of
from callpath.faults.seen import read_seen
from callpath.faults.troubleshoot import Case
from callpath.faults.world import World
from callpath.job.model import Fault
from tests.jobs import COTTAGE, job_of

ACROSS = Check("ohms", between=("outside.red@1", "outside.red@2"), lifted=("outside.red",))


@pytest.mark.parametrize("ohms", [2.0, 4.2, 12.0, 35.0, 60.0, 200.0])
def test_any_resistance_is_a_bad_connection_and_the_nearest_is_named_once(ohms: float) -> None:
    case = Case(job_of(COTTAGE))
    world = World(case.job, (Fault("high-resistance", ("outside.red",), ohms=ohms),), np.random.default_rng(1))
    complaint = Check("running", "cool", ("cond.compressor",))
    look = Seen(complaint, world.answer(complaint))
    answer = case.answer([look, *[Seen(ACROSS, world.answer(ACROSS))] * 2])
    (fault,) = answer.suspects[0].faults
    assert (fault.kind, fault.where) == ("high-resistance", ("outside.red",))
    assert fault.ohms is not None
    assert abs(np.log(fault.ohms / ohms)) < np.log(2)
    named = [s.faults[0].where for s in answer.suspects if len(s.faults) == 1 and s.faults[0].kind == "high-resistance"]
    assert len(named) == len(set(named))
    assert answer.as_json()["suspects"][0]["faults"] == [{"high-resistance": "outside.red", "ohms": fault.ohms}]


def test_a_reading_reaches_half_way_to_its_neighbours() -> None:
    case = Case(job_of(COTTAGE))
    shows, faults = case.shows([]), case.universe.faults
    rows = [
        1 + i for i, fault in enumerate(faults) if fault.kind == "high-resistance" and fault.where == ("outside.red",)
    ]
    rows.sort(key=lambda row: faults[row - 1].ohms or 0.0)
    told = predict(shows, ACROSS, np.array(rows))
    low, high, shown = (edge[told.index] for edge in (told.low, told.high, told.shown))
    # Half way on a logarithmic scale is the geometric mean (computed).
    assert low[1:] == pytest.approx(np.sqrt(shown[1:] * shown[:-1]))
    assert high[:-1] == pytest.approx(low[1:])
    sound = predict(shows, ACROSS, np.array([0]))
    assert sound.low[0] == sound.high[0] == sound.shown[0]


@pytest.mark.parametrize("kind", ["ohms", "volts"])
def test_what_may_be_anything_between_two_limits_has_the_density_of_many_values(kind: str) -> None:
    shown, low, high, spread = (np.array([value]) for value in (10.0, 4.0, 18.0, 0.7))
    many = np.linspace(4.0, 18.0, 4001)
    for value in (2.0, 4.5, 11.0, 19.0):
        mine = likelihood_of(kind, value, shown, spread, 0.002, (low, high))
        theirs = likelihood_of(kind, value, many, np.full(4001, 0.7), 0.002).mean(axis=0)
        assert mine[0] == pytest.approx(theirs, rel=1e-2)


def test_one_value_alone_is_no_range() -> None:
    assert len(ranges_of([Fault("high-resistance", ("wall.red",), ohms=20.0), Fault("open", ("wall.red",))]).row) == 0
    case = Case(job_of(COTTAGE))
    assert case.belief(read_seen("seen: []", case.circuit)).other == pytest.approx(case.universe.other)
