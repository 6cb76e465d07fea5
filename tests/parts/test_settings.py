"""Every setting of every part at its extremes: the circuit still settles, obeys Kirchhoff, and moves the way the setting says."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import pytest

from callpath.circuit.build import build
from callpath.parts.catalogue import default_catalogue
from callpath.parts.model import Setting
from callpath.proof.finding import CODES
from callpath.proof.prove import prove
from callpath.proof.states import examine
from tests import jobs
from tests.circuit.kirchhoff import assert_kirchhoff
from tests.jobs import Data, amended, job_of
from tests.parts.test_rigs import RIGS, joined, rigged

CATALOGUE = default_catalogue()
SOUND = (jobs.COTTAGE, jobs.HOUSE, jobs.MANOR, jobs.MILL, jobs.PUMP, jobs.ZONE, jobs.RELAY)
FLOAT = amended(jobs.HOUSE, equipment="{part: {part: accessory/float-switch, at: cellar}}")
STAGED = amended(
    jobs.HOUSE,
    equipment="{board: {part: indoor/two-stage-furnace-board, at: cellar}}",
    landings="{wall.white: [stat.W, board.W1]}",
)


def job_with(part: str) -> tuple[Data, str]:
    """Return a sound job with a part in it, and the part's id there."""
    rigs = [rigged(RIGS[part])] if part in RIGS else []
    for job in (*rigs, *SOUND, FLOAT, STAGED):
        for id_, device in job["equipment"].items():
            if device["part"] == part:
                return job, id_
    raise AssertionError(part)


def extremes(setting: Setting) -> Iterator[Any]:
    if setting.type == "boolean":
        yield from (False, True)
    elif setting.type == "choice":
        yield from setting.choices
    else:
        yield from (setting.minimum, setting.maximum)


@pytest.mark.parametrize("part", [name for name in CATALOGUE.names if CATALOGUE.part(name).settings])
def test_every_setting_at_its_extremes(part: str) -> None:
    job, id_ = job_with(part)
    for name, setting in CATALOGUE.part(part).settings.items():
        for value in extremes(setting):
            circuit = build(
                job_of(
                    joined(
                        amended(
                            job,
                            settings=f"{{{id_}: {{{name}: {str(value).lower() if isinstance(value, bool) else value}}}}}",
                        )
                    )
                )
            )
            examined = examine(circuit)
            for state in (*examined.plain.values(), *examined.plain_before_fuse.values()):
                assert_kirchhoff(state)
            assert {finding.code for finding in prove(circuit.job, circuit).findings} <= set(CODES)


def test_a_job_is_there_for_every_part() -> None:
    assert all(job_with(name) for name in CATALOGUE.names)


@pytest.mark.parametrize(
    "part", [name for name in CATALOGUE.names if "transformer-va" in CATALOGUE.part(name).settings]
)
def test_a_larger_transformer_holds_its_voltage_better(part: str) -> None:
    """C: impedance goes as the inverse of the size, so the same load takes less off a larger one."""
    job, id_ = job_with(part)
    volts = []
    for va in (40, 100):
        proof = prove(job_of(joined(amended(job, settings=f"{{{id_}: {{transformer-va: {va}}}}}"))))
        source = f"{id_}.transformer"
        volts.append(min(result.sources[source].volts for result in proof.calls.values()))
    assert volts[0] < volts[1] <= 27.0


# P: 3 to 5 minutes between compressor starts.
def test_every_compressor_rests_three_to_five_minutes() -> None:
    found = 0
    for name in CATALOGUE.names:
        part = CATALOGUE.part(name)
        for function in part.functions.values():
            if function.minimum_off_s is not None:
                rest = function.minimum_off_s.resolve(part.settle_settings({}))
                assert 180 <= (rest or 0) <= 300, name
                found += 1
    assert found >= 8


def test_every_gas_burner_purges_lights_and_then_blows() -> None:
    """P: prepurge 15 to 30 s, igniter 5 to 30 s; blower 30 to 60 s after the flame, off 60 to 180 s after the call."""
    found = 0
    for name in CATALOGUE.names:
        part = CATALOGUE.part(name)
        burner = part.functions.get("heat")
        steps = burner.triggers[0].steps if burner else ()
        if burner is None or len(steps) != 3 or "inducer" not in steps[0].what:
            continue
        found += 1
        ignition, flame = steps[1].after_s, steps[2].after_s
        assert 15 <= ignition <= 30, name
        assert 5 <= flame - ignition <= 30, name
        assert burner.triggers[0].on_delay_s is not None
        assert burner.triggers[0].on_delay_s.value == flame, name
        heat = [t for t in part.functions["blower"].triggers if "heat-input" in t.runs_when.makers()]
        for trigger in heat:
            assert trigger.on_delay_s is not None
            assert trigger.off_delay_s is not None
            assert 30 <= (trigger.on_delay_s.value or 0) - flame <= 60, name
            assert 60 <= (trigger.off_delay_s.value or 0) <= 180, name
    assert found >= 5


def test_every_defrost_comes_after_30_to_90_minutes_for_10() -> None:
    """CP: 30, 60 or 90 minutes; 10 at most."""
    found = [cycle for name in CATALOGUE.names for cycle in CATALOGUE.part(name).cycles]
    assert len(found) >= 5
    for name in CATALOGUE.names:
        part = CATALOGUE.part(name)
        for cycle in part.cycles:
            assert cycle.state == "defrost"
            assert cycle.after_s.resolve(part.settle_settings({})) in (1800, 3600, 5400)
            assert cycle.lasts_s.value == 600
