"""Readings between all points at once are those that a meter shows pair by pair."""

from __future__ import annotations

import json
import random

import numpy as np
import pytest
from hypothesis import given, settings

from callpath.calls.closing import calls_of_job, given_for
from callpath.calls.reading import touchable
from callpath.circuit.between import volts_between_all
from callpath.circuit.build import build
from callpath.circuit.meter import read_volts
from callpath.job import Job, read_job
from tests.jobs import HOUSE, MANOR, Data, job_of
from tests.randomjob import jobs


def compare(job: Job, pairs: int) -> None:
    circuit = build(job)
    points = touchable(circuit)
    chance = random.Random(3)
    for call in calls_of_job(circuit):
        row = given_for(circuit, call)
        found = volts_between_all(circuit, row, points)
        asked = [(chance.choice(points), chance.choice(points)) for _ in range(pairs)]
        for pair, reading in zip(asked, read_volts(circuit, row, asked), strict=True):
            here = found.between(*pair)
            told = (here.value, here.low, here.high)
            # A hand meter shows hundredths of a volt; the two ways agree to a tenth of that, and mostly to a millionth.
            assert told == pytest.approx((reading.value, reading.low, reading.high), abs=1e-3, rel=1e-4), (call, pair)


@settings(max_examples=15)
@given(jobs())
def test_any_job_reads_the_same(data: Data) -> None:
    compare(read_job(json.dumps(data)), 4)


def test_sources_that_drive_one_another_and_a_floating_pair_read_the_same() -> None:
    compare(job_of(MANOR, jumpers="[[stat.Rc, stat.Rh]]", settings="{boiler: {phase: 180}}"), 12)
    compare(job_of(HOUSE, landings="{wall.white: [stat.W, null], outside.white: [null, null]}"), 12)


def test_a_point_reads_nothing_against_itself_and_the_same_either_way() -> None:
    circuit = build(job_of(HOUSE))
    found = volts_between_all(circuit, given_for(circuit, "cool"), touchable(circuit))
    assert np.allclose(np.diag(found.volts), 0)
    assert np.allclose(found.volts, found.volts.T)
    assert (found.low <= found.volts + 1e-9).all()
    assert (found.volts <= found.high + 1e-9).all()
