"""The page on adding a part shows a file that works as it stands."""

from __future__ import annotations

import re
from pathlib import Path

from callpath.circuit.build import build
from callpath.job import read_job
from callpath.parts.catalogue import Catalogue
from callpath.proof.prove import prove

PAGE = Path(__file__).parents[2] / "docs/adding-a-part.md"

JOB = """
callpath: 1
title: Cheese cellar, one zone with a heat-motor valve
equipment:
  stat: {part: thermostat/heat-only, at: cellar}
  supply: {part: accessory/transformer, at: boiler room, settings: {fuse-amps: 3}}
  valve: {part: accessory/heat-motor-valve, at: boiler room}
  boiler: {part: indoor/boiler-tt, at: boiler room}
cables:
  wall: {between: [cellar, boiler room], conductors: [red, white]}
landings:
  wall.red: [stat.R, supply.R]
  wall.white: [stat.W, valve.H1]
jumpers: [[valve.H2, supply.C], [valve.S1, boiler.T1], [valve.S2, boiler.T2]]
"""


def test_the_part_on_the_page_works_in_a_job(tmp_path: Path) -> None:
    shown = re.search(r"```yaml\n(.*?)```", PAGE.read_text(encoding="utf-8"), re.DOTALL)
    assert shown is not None
    (tmp_path / "accessory").mkdir()
    (tmp_path / "accessory/heat-motor-valve.yaml").write_text(shown.group(1), encoding="utf-8")
    job = read_job(JOB, catalogue=Catalogue([tmp_path]))
    proof = prove(job, build(job))
    assert proof.verdict == "clean"
    assert proof.calls["heat"].running == ("boiler.circulator", "boiler.heat", "valve.open")
