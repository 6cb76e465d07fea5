"""Two signals on one conductor, against a simulation in time: ngspice, with diodes in place of conductors that take turns."""

from __future__ import annotations

import re
import subprocess
from pathlib import Path
from typing import Any

import pytest

from callpath.landing.halfwave import HALF
from callpath.landing.land import land
from callpath.landing.ways import WayOut
from callpath.proof.prove import prove
from tests.jobs import HOUSE, job_of

BARE: dict[str, Any] = {"landings": {}, "splices": {}, "jumpers": []}
FOUR = {"wall": {"between": ["hall", "cellar"], "conductors": ["red", "white", "green", "yellow"]}}


def way() -> WayOut:
    found = land(job_of({**HOUSE, **BARE}, cables=FOUR, serves=["fan", "heat", "cool"]))
    (chosen,) = [way for way in found.ways_out if "diodes" in way.title]
    return chosen


def test_both_signals_drive_inputs_and_never_a_coil() -> None:
    chosen = way()
    halves = {name: ends for name, ends in chosen.job.landings.items() if name in ("wall.white", f"wall.{HALF}")}
    assert {end for ends in halves.values() for end in ends} == {"stat.W", "board.W", "stat.G", "board.G"}
    assert prove(chosen.job).verdict == "clean"
    assert set(chosen.serves) == {"fan", "heat", "cool"}
    assert "half-waves of" in chosen.detail


def test_no_pair_of_signals_is_made_where_one_drives_a_coil() -> None:
    """The older fan control has a relay and a gas valve; half-waves would burn them."""
    job = job_of(
        {
            "callpath": 1,
            "equipment": {
                "stat": {"part": "thermostat/single-supply", "at": "hall"},
                "furnace": {"part": "indoor/three-terminal-board", "at": "cellar"},
            },
            "cables": {"wall": {"between": ["hall", "cellar"], "conductors": ["red", "white"]}},
            "serves": ["heat", "fan"],
        }
    )
    found = land(job)
    assert found.unserved
    assert not [way for way in found.ways_out if "diodes" in way.title]


@pytest.mark.parametrize(("heat", "fan"), [(True, False), (False, True), (True, True)])
def test_a_simulation_in_time_gives_each_input_its_own_half_waves(tmp_path: Path, heat: bool, fan: bool) -> None:
    """Diodes as the way out lays them (bands as it says); 1.5 kΩ inputs; a real silicon diode's law."""
    (told,) = [float(volts) for volts in re.findall(r"half-waves of ([\d.]+) V", way().detail)]
    peak = 26.7 * 2**0.5
    closed, open_ = "0.03", "1e9"
    deck = tmp_path / "half.cir"
    deck.write_text(
        "\n".join(
            [
                "* two signals on one conductor",
                f"V1 r 0 SIN(0 {peak} 60)",
                f"RW r statw {closed if heat else open_}",
                f"RG r statg {closed if fan else open_}",
                ".model si D(IS=1e-9 N=1.8 RS=0.05)",
                "D1 statw wire si",
                "D2 far boardw si",
                "D3 wire statg si",
                "D4 boardg far si",
                "RL wire far 0.3",
                "RWIN boardw 0 1500",
                "RGIN boardg 0 1500",
                ".tran 20u 200m 0 20u",
                ".meas tran w RMS v(boardw) from=100m to=200m",
                ".meas tran g RMS v(boardg) from=100m to=200m",
                ".end",
            ]
        ),
        encoding="utf-8",
    )
    ran = subprocess.run(["ngspice", "-b", deck], capture_output=True, text=True, check=False, timeout=60)
    rms = {name: float(value) for name, value in re.findall(r"^([wg])\s*=\s*(\S+)", ran.stdout, re.MULTILINE)}
    for name, on in (("w", heat), ("g", fan)):
        if on:
            assert rms[name] == pytest.approx(told, abs=0.5)
            assert rms[name] > 14
        else:
            assert rms[name] < 1
