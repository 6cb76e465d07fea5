"""Tests and their answers in words that a technician uses."""

from __future__ import annotations

import pytest

from callpath.faults.asked import Answer, Check
from callpath.faults.words import answer_words, minutes_words, words_of_test
from callpath.job import load_job
from tests.web.site import EXAMPLES


@pytest.mark.parametrize(
    ("minutes", "words"),
    [(0, "under a minute"), (0.5, "under a minute"), (1, "about 1 min"), (4.4, "about 4 min"), (15, "about 15 min")],
)
def test_nothing_takes_no_time(minutes: float, words: str) -> None:
    assert minutes_words(minutes) == words


def test_valves_do_not_run() -> None:
    """Common practice, no source: a valve stands open, its coil is energised, a relay is pulled in."""
    job = load_job(EXAMPLES / "schoolhouse-zone-valves.job.yaml")
    names = ("valve-e.open", "valve-w.open", "boiler.heat", "boiler.control-relay")
    test = Check("running", "heat", names, coils=frozenset(names[3:]))
    assert words_of_test(test, job) == (
        "on 'heat': look whether valve-e.open, valve-w.open stand open and boiler.heat runs and boiler.control-relay is pulled in"
    )
    told = answer_words(test, Answer({"valve-e.open": True, "valve-w.open": False, "boiler.heat": False}))
    assert told == "valve-e.open stands open, valve-w.open is shut, boiler.heat does not run"
    valve = Check("running", "cool", ("pump.compressor", "pump.reversing-valve"))
    assert words_of_test(valve, job).endswith("look whether pump.compressor runs and pump.reversing-valve is energised")
