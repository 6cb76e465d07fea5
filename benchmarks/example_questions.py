"""The question which test to make next as the example jobs put it: the engine's own outcomes, suspects and minutes."""

from __future__ import annotations

from pathlib import Path

import numpy as np

from callpath.faults.asked import Answer, Check, Seen
from callpath.faults.candidate import quick_outcomes
from callpath.faults.choose import work_of
from callpath.faults.cost import default_minutes, priced
from callpath.faults.question import Problem
from callpath.faults.troubleshoot import Case
from callpath.job import load_job

ROOT = Path(__file__).parent.parent
# A call, and what does not run on it.
COMPLAINTS = {
    "bakery-split-one-source": ("cool", "cond.compressor"),
    "dairy-float-switch": ("cool", "cond.compressor"),
    "garden-cottage": ("cool", "cond.compressor"),
    "guest-house-four-conductors": ("heat", "furnace.heat"),
    "old-mill-chassis-return": ("cool", "cond.compressor"),
    "orchard-heat-pump-o": ("heat", "pump.compressor"),
    "schoolhouse-zone-valves": ("heat", "valve-w.open"),
}
_MOST = 256


def question(name: str, *, complaint: bool) -> tuple[Problem, int]:
    """Return an example's question and where the technician stands: the likeliest suspects under every test without a jumper.

    Parameters
    ----------
    name : str
        An example with a complaint.
    complaint : bool
        Whether that is known, or nothing is.
    """
    case = Case(load_job(ROOT / f"examples/{name}.job.yaml"))
    call, function = COMPLAINTS[name]
    seen = [Seen(Check("running", call, (function,)), Answer({function: False}))] if complaint else []
    probability = case.belief(seen).probability
    rows = np.sort(np.argsort(-probability, kind="stable")[:_MOST])
    found = quick_outcomes(case.shows(seen), case.candidates(rows), rows)
    minutes, place = priced(default_minutes(), [work_of(case.circuit, each.test) for each in found], case.locations)
    prior = probability[rows] / probability[rows].sum()
    repair = np.unique(case.repairs[rows], return_inverse=True)[1]
    stats = [equipment.at for equipment in case.job.equipment.values() if equipment.part.calls]
    outcome = np.stack([each.of for each in found])
    return Problem(prior, repair, outcome, minutes, place), case.locations.index(stats[0])
