"""Reading the catalogue: new parts from a data file alone, and what is said about a broken one."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from pathlib import Path

import pytest

from callpath.errors import CatalogueError, QuestionError
from callpath.job import read_job
from callpath.parts.catalogue import Catalogue, default_catalogue
from callpath.proof.prove import prove
from tests.jobs import COTTAGE, HOUSE, amended, codes, job_of, only, proof_of

# A humidifier that a fan output runs, and that also has a terminal for line voltage: a part of nobody's catalogue.
HUMIDIFIER = """
part: accessory/mist-maker
title: Humidifier with a water valve
role: accessory
terminals:
  H: {means: [fan]}
  C: {means: [common]}
  L1: {means: [mains], signal: line-voltage}
settings:
  valve-va:
    type: number
    minimum: 2
    maximum: 20
    default: 8
    unit: VA
    help: consumption of the valve
elements:
  valve:
    kind: load
    between: [H, C]
    title: water valve
    data:
      rated-volts: [24, nameplate]
      va: [valve-va, job-setting]
      on-volts: [18, contactor-range]
      off-volts: [8, contactor-range]
functions:
  water:
    title: water valve
    runs: water flows over the pad
    rests: the water stops
    triggers:
      - {runs-when: valve, on-delay-s: [1, instant]}
"""
WITH_HUMIDIFIER = {
    "equipment": "{hum: {part: accessory/mist-maker, at: cellar}}",
    "cables": "{duct: {between: [cellar, cellar], length: 6 ft, conductors: [green, blue, black]}}",
    "landings": "{duct.green: [board.G, hum.H], duct.blue: [board.C, hum.C]}",
}


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    (tmp_path / "accessory").mkdir()
    (tmp_path / "accessory" / "mist-maker.yaml").write_text(HUMIDIFIER, encoding="utf-8")
    return tmp_path


def test_a_new_part_needs_a_data_file_and_no_code(folder: Path) -> None:
    catalogue = Catalogue([folder])
    assert "accessory/mist-maker" in catalogue.names
    proof = proof_of(COTTAGE, catalogue, **WITH_HUMIDIFIER)
    assert "hum.water" in proof.calls["fan"].running
    assert "hum.water" in proof.calls["cool"].running
    assert "hum.water" not in proof.calls["off"].running


def test_its_settings_count(folder: Path) -> None:
    catalogue = Catalogue([folder])
    va = [
        proof_of(COTTAGE, catalogue, settings=f"{{hum: {{valve-va: {size}}}}}", **WITH_HUMIDIFIER)
        .calls["fan"]
        .sources["board.transformer"]
        .va
        for size in (2, 20)
    ]
    assert va[1] - va[0] == pytest.approx(18, abs=2)


def test_a_folder_of_the_environment_is_used_by_the_command_line(folder: Path) -> None:
    ran = subprocess.run(
        [Path(sys.executable).with_name("callpath"), "parts", "accessory/mist-maker", "--json"],
        capture_output=True,
        text=True,
        env={**os.environ, "CALLPATH_PARTS": str(folder)},
        check=True,
    )
    (told,) = json.loads(ran.stdout)["parts"]
    assert told["terminals"] == ["H", "C", "L1"]
    assert told["functions"] == ["water"]


def test_a_job_that_names_it_needs_the_folder(folder: Path) -> None:
    with pytest.raises(Exception, match="accessory/mist-maker"):
        job_of(COTTAGE, default_catalogue(), **WITH_HUMIDIFIER)


def test_the_first_folder_that_has_a_part_wins(folder: Path) -> None:
    (folder / "outdoor").mkdir()
    own = (Path(default_catalogue().folders[-1]) / "outdoor" / "condenser.yaml").read_text(encoding="utf-8")
    (folder / "outdoor" / "condenser.yaml").write_text(own.replace("Cooling-only", "Very large"), encoding="utf-8")
    assert Catalogue([folder]).part("outdoor/condenser").title == "Very large outdoor unit"
    assert default_catalogue().part("outdoor/condenser").title == "Cooling-only outdoor unit"


def test_line_voltage_joined_to_the_circuit_is_a_danger(folder: Path) -> None:
    """C: the terminal says of itself that it is no 24 V on/off terminal; what it is joined to is on the path."""
    catalogue = Catalogue([folder])
    landed = {**WITH_HUMIDIFIER, "landings": "{duct.blue: [board.C, hum.C], duct.green: [board.G, hum.L1]}"}
    found = only(proof_of(COTTAGE, catalogue, **landed), "wrong-class")
    # Whoever takes it apart must not be the first to find out that it is live.
    assert found.remedy.startswith("power off at the breaker and prove it off")
    assert "licensed practice" in found.remedy
    assert found.severity == "danger"
    assert found.where[0] == "hum.L1"
    assert set(found.where) >= {"hum.L1", "board.G", "stat.G"}
    assert found.path == ("hum.L1", "duct.green", "board.G")
    assert "line voltage" in found.message
    apart = proof_of(COTTAGE, catalogue, **WITH_HUMIDIFIER)
    assert "wrong-class" not in codes(apart)


def test_an_unknown_part_is_told_with_the_nearest() -> None:
    with pytest.raises(QuestionError, match=r"no part 'indoor/furnaceboard'; did you mean 'indoor/furnace-board'"):
        default_catalogue().part("indoor/furnaceboard")


@pytest.mark.parametrize(
    "name", ["../model", "indoor/../../data/indoor/boiler", "", "/etc/passwd", "indoor/boiler.yaml"]
)
def test_a_part_is_looked_up_by_name_and_never_by_path(name: str) -> None:
    with pytest.raises(QuestionError):
        default_catalogue().part(name)


def test_a_folder_that_is_not_there_is_told() -> None:
    with pytest.raises(CatalogueError, match="no such folder of parts"):
        Catalogue([Path("no") / "such" / "folder"])


# What is written, what is written in its place, and what must be told: the key and the nearest valid words.
BROKEN = [
    ("title: Humidifier", "titel: Humidifier", ["titel", "did you mean 'title'"]),
    ("title: Humidifier with", "note: Humidifier with", ["title: missing"]),
    ("kind: load", "kind: laod", ["elements.valve.kind", "'laod'", "did you mean 'load'"]),
    ("between: [H, C]", "betwen: [H, C]", ["elements.valve.betwen", "did you mean 'between'"]),
    ("between: [H, C]", "between: [H, CC]", ["elements.valve.between", "'CC' leads nowhere", "did you mean 'C'"]),
    ("between: [H, C]", "between: [H, H]", ["elements.valve.between", "both ends sit on 'H'"]),
    ("between: [H, C]", "between: [H]", ["elements.valve.between"]),
    ("va: [valve-va", "va: [valve", ["elements.valve.va", "no setting 'valve'", "did you mean 'valve-va'"]),
    ("job-setting", "job-seting", ["elements.valve.va", "no source 'job-seting'", "did you mean 'job-setting'"]),
    ("on-volts:", "on-volt:", ["elements.valve.data", "needs 'on-volts'", "no 'on-volt'"]),
    ("va: [valve-va, job-setting]", "", ["elements.valve.data", "needs 'ohms', 'va' or 'amps'"]),
    ("off-volts: [8,", "off-volts: [19,", ["'off-volts' must be less than 'on-volts'"]),
    ("on-volts: [18,", "on-volts: [-18,", ["elements.valve.on-volts", "must not be negative"]),
    ("on-volts: [18, contactor-range]", "on-volts: 18", ["elements.valve.data.on-volts"]),
    ("runs-when: valve", "runs-when: vlave", ["functions.water", "no element 'vlave'", "did you mean 'valve'"]),
    ("runs-when: valve", "runs-when: {output: G}", ["functions.water", "no call closes 'G'"]),
    ("runs-when: valve", "runs-when: {not: {output: G}}", ["functions.water", "no call closes 'G'"]),
    ("runs-when: valve", "runs-when: {elemnt: valve}", ["elemnt", "did you mean 'element'"]),
    ("runs-when: valve", "runs-when: {any: [valve], all: [valve]}", ["runs-when", "a condition is one of"]),
    ("[1, instant]", "[1, instnat]", ["functions.water", "no source 'instnat'", "did you mean 'instant'"]),
    ("runs-when: valve,", "runs-when: valve, when: {valve-v: 3},", ["functions.water.when", "did you mean 'valve-va'"]),
    ("role: accessory", "role: accesory", ["role", "'accesory'", "did you mean 'accessory'"]),
    ("default: 8", "default: 80", ["settings.valve-va.default", "must lie between 2 and 20 VA"]),
    ("    minimum: 2\n", "", ["settings.valve-va", "needs 'minimum' and 'maximum'"]),
    ("type: number", "type: choice", ["settings.valve-va", "needs 'choices'"]),
    ("signal: line-voltage", "signal: line-volts", ["terminals.L1.signal", "did you mean 'line-voltage'"]),
    ("part: accessory/mist-maker", "part: accessory/lamp", ["accessory/lamp", "accessory/mist-maker"]),
    ("terminals:", "terminal:", ["terminal", "did you mean 'terminals'", "terminals: missing"]),
    ("terminals:", "terminals: [", ["cannot be read"]),
]


@pytest.mark.parametrize(
    ("before", "after", "told"), BROKEN, ids=[after.strip() or before for before, after, _ in BROKEN]
)
def test_a_broken_data_file_is_told(folder: Path, before: str, after: str, told: list[str]) -> None:
    file = folder / "accessory" / "mist-maker.yaml"
    assert before in HUMIDIFIER
    file.write_text(HUMIDIFIER.replace(before, after, 1), encoding="utf-8")
    with pytest.raises(CatalogueError) as caught:
        Catalogue([folder]).part("accessory/mist-maker")
    assert all(problem.file == str(file) for problem in caught.value.problems)
    for words in told:
        assert words in str(caught.value)


def test_everything_wrong_with_a_data_file_is_told_at_once(folder: Path) -> None:
    wrong = HUMIDIFIER.replace("job-setting", "job-seting").replace("runs-when: valve", "runs-when: vlave")
    (folder / "accessory" / "mist-maker.yaml").write_text(wrong, encoding="utf-8")
    with pytest.raises(CatalogueError) as caught:
        Catalogue([folder]).part("accessory/mist-maker")
    assert len(caught.value.problems) == 2


@pytest.mark.parametrize(
    "content", [b"", b"\xff\xfe\x00", b"\x00" * 100, b"- a\n- b\n", b"just words", b"part: *nothing", b"[" * 5000]
)
def test_a_file_that_is_no_part_is_told(folder: Path, content: bytes) -> None:
    (folder / "accessory" / "mist-maker.yaml").write_bytes(content)
    with pytest.raises(CatalogueError):
        Catalogue([folder]).part("accessory/mist-maker")


def test_a_broken_part_that_a_job_names_stops_the_job(folder: Path) -> None:
    (folder / "accessory" / "mist-maker.yaml").write_text("part: [", encoding="utf-8")
    with pytest.raises(Exception, match="cannot be read"):
        read_job(json.dumps(amended(COTTAGE, **WITH_HUMIDIFIER)), catalogue=Catalogue([folder]))


def test_the_shipped_parts_still_make_a_clean_house() -> None:
    assert prove(job_of(HOUSE)).verdict == "clean"
