"""A bad connection has any resistance between those that are looked for, whose readings reach from one to the next."""

from __future__ import annotations

import numpy as np
import pytest

from callpath.faults.asked import Check, Seen
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


def test_a_reading_spreads_as_far_as_the_resistance_is_open() -> None:
    case = Case(job_of(COTTAGE))
    shows, faults = case.shows([]), case.universe.faults
    rows = [
        1 + i for i, fault in enumerate(faults) if fault.kind == "high-resistance" and fault.where == ("outside.red",)
    ]
    told = predict(shows, ACROSS, np.array(rows))
    values = np.array([faults[row - 1].ohms for row in rows], float)
    # Even over a range of a factor f, the standard deviation of the logarithm is ln f / √12 (computed).
    inside = np.argsort(values)[1:-1]
    for k in inside.tolist():
        below, above = values[values < values[k]].max(), values[values > values[k]].min()
        reach = np.log(above / below) / 2 / np.sqrt(12)
        spread = float(told.spread[told.index[k]])
        assert spread == pytest.approx(reach / np.log(above / below) * (above - below), rel=0.1)


def test_one_value_alone_is_no_range() -> None:
    assert len(ranges_of([Fault("high-resistance", ("wall.red",), ohms=20.0), Fault("open", ("wall.red",))]).row) == 0
    case = Case(job_of(COTTAGE))
    assert case.belief(read_seen("seen: []", case.circuit)).other == pytest.approx(case.universe.other)
