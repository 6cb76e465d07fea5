"""--json: one document on standard output and nothing else, with the contract's keys, in every command and for every error."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from callpath.parts.catalogue import default_catalogue
from tests.cli.run import as_user, run, write
from tests.jobs import HOUSE, MANOR, PUMP, ZONE

SOUND = [
    ("prove",),
    ("read", "--call", "cool"),
    ("read", "--call", "cool", "--between", "cond.Y", "cond.C"),
    ("read", "--call", "cool", "--amps", "outside.red"),
    ("read", "--ohms", "--between", "cond.Y", "cond.C", "--lift", "outside.red"),
    ("sequence", "--call", "cool"),
    ("netlist", "--call", "cool"),
]


@pytest.mark.parametrize("words", SOUND, ids=" ".join)
def test_one_document_and_nothing_else(
    words: tuple[str, ...], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    command, *options = words
    ran = run(capsys, command, write(tmp_path), *options, "--json")
    assert ran.status == 0
    assert ran.err == ""
    assert isinstance(ran.document, dict)
    assert ran.out.endswith("}\n")


@pytest.mark.parametrize("words", SOUND, ids=" ".join)
def test_the_option_may_stand_anywhere(
    words: tuple[str, ...], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    command, *options = words
    job = write(tmp_path)
    last, first = run(capsys, command, job, *options, "--json"), run(capsys, command, "--json", *options, job)
    assert first == last


def test_prove(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    told = run(capsys, "prove", write(tmp_path, landings="{outside.red: [board.R, cond.Y]}"), "--json").document
    assert set(told) >= {"verdict", "states_examined", "findings", "calls"}
    assert told["verdict"] == "findings"
    assert isinstance(told["states_examined"], int)
    (finding,) = told["findings"]
    assert set(finding) >= {"code", "severity", "calls", "where", "path", "message", "remedy"}
    assert finding["code"] == "unwanted-run"
    assert finding["path"] == ["board.R", "outside.red", "cond.Y", "cond.C", "outside.white", "board.C"]
    assert list(told["calls"]) == ["off", "fan", "cool", "heat"]
    for result in told["calls"].values():
        assert set(result) >= {"running", "sources"}
        assert all(isinstance(name, str) and "." in name for name in result["running"])
        for source in result["sources"].values():
            assert set(source) >= {"volts", "amps", "va", "rated_va"}
            assert all(isinstance(number, (int, float)) for number in source.values())


def test_prove_clean(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    told = run(capsys, "prove", write(tmp_path), "--json").document
    assert told["verdict"] == "clean"
    assert told["calls"]["heat"]["running"] == ["board.blower", "board.heat"]
    assert told["calls"]["off"]["sources"]["board.transformer"]["rated_va"] == 40


def test_read_volts_amps_ohms_and_table(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    job = write(tmp_path)
    volts = run(capsys, "read", job, "--call", "cool", "--between", "cond.Y", "cond.C", "--json").document
    assert set(volts) >= {"call", "between", "volts", "low", "high"}
    assert volts["between"] == ["cond.Y", "cond.C"]
    assert volts["low"] <= volts["volts"] <= volts["high"]
    amps = run(capsys, "read", job, "--call", "cool", "--amps", "outside.red", "--json").document
    assert set(amps) >= {"call", "conductor", "amps", "low", "high"}
    ohms = run(
        capsys, "read", job, "--ohms", "--between", "cond.Y", "cond.C", "--lift", "outside.red", "--json"
    ).document
    assert set(ohms) >= {"between", "ohms", "low", "high"}
    assert ohms["ohms"] == pytest.approx(10, rel=0.01)
    opened = run(capsys, "read", job, "--ohms", "--between", "stat.R", "board.chassis", "--json").document
    assert opened["ohms"] == "OL"
    table = run(capsys, "read", job, "--call", "cool", "--json").document
    assert set(table) >= {"call", "readings"}
    for row in table["readings"]:
        assert set(row) >= {"between", "volts", "low", "high"}
        assert len(row["between"]) == 2


def test_a_low_impedance_meter(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    job = write(tmp_path, landings="{wall.white: [stat.W, null]}")
    ask = ("read", job, "--call", "cool", "--between", "wall.white@2", "board.C", "--json")
    assert run(capsys, *ask).document["volts"] > 3
    assert run(capsys, *ask, "--meter", "low-z").document["volts"] < 0.1


def test_sequence(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    job = write(tmp_path, settings="{cond: {pressure-switches: true}}")
    told = run(
        capsys, "sequence", job, "--call", "cool", "--open", "cond.high-pressure@300", "--ends", "400", "--stopped-ago", "60",
        "--json",
    ).document  # fmt: skip
    assert set(told) >= {"events"}
    for event in told["events"]:
        assert set(event) >= {"at_s", "what", "where", "because"}
        assert isinstance(event["at_s"], float)
    assert [event["at_s"] for event in told["events"]] == sorted(event["at_s"] for event in told["events"])
    assert any(event["where"] == "cond.high-pressure" and event["at_s"] == 300 for event in told["events"])


@pytest.mark.parametrize("base", [HOUSE, MANOR, PUMP, ZONE])
def test_netlist(base: dict[str, object], tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    job = write(tmp_path, base)
    text = run(capsys, "netlist", job, "--call", "heat").out
    assert run(capsys, "netlist", job, "--call", "heat", "--json").document["netlist"] == text
    lines = text.splitlines()
    assert ".ac lin 1 60 60" in lines
    assert lines[-1] == ".end"
    for equipment, placed in base["equipment"].items():
        for letters in default_catalogue().part(placed["part"]).terminals:
            told = [line for line in lines if line.startswith(f"* terminal {equipment}.{letters} node ")]
            assert len(told) == 1, f"{equipment}.{letters}"
    assert "meter" not in text
    pair = ("stat.W", "stat.R") if base is not MANOR and base is not PUMP else ("stat.G", "air.C")
    assert "\nRmeter " in run(capsys, "netlist", job, "--call", "heat", "--between", *pair).out


def test_netlist_into_a_file(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    job = write(tmp_path)
    printed = run(capsys, "netlist", job, "--call", "cool").out
    quiet = run(capsys, "netlist", job, "--call", "cool", "-o", tmp_path / "cool.cir")
    assert (quiet.status, quiet.out) == (0, "")
    assert (tmp_path / "cool.cir").read_text(encoding="utf-8") == printed
    assert sorted(file.name for file in tmp_path.iterdir()) == ["cool.cir", "house.job.yaml"]


def test_parts(capsys: pytest.CaptureFixture[str]) -> None:
    told = run(capsys, "parts", "--json").document
    assert {part["part"] for part in told["parts"]} == set(default_catalogue().names)
    for part in told["parts"]:
        assert set(part) >= {"part", "title", "terminals", "elements", "functions", "settings"}
    one = run(capsys, "parts", "outdoor/heat-pump", "--json").document
    assert [part["part"] for part in one["parts"]] == ["outdoor/heat-pump"]


WRONG = [
    ("prove", "{file}", "no-such.job.yaml"),
    ("read", "{job}", "--call", "cold"),
    ("read", "{job}", "--call", "cool", "--between", "cond.Y", "cond.CC"),
    ("read", "{job}", "--call", "cool", "--amps", "outside.rde"),
    ("read", "{job}", "--ohms"),
    ("sequence", "{job}"),
    ("sequence", "{job}", "--call", "cool", "--open", "float.switch"),
    ("netlist", "{job}", "--between", "x", "y"),
    ("parts", "indoor/boyler"),
    ("prove",),
    ("prove", "{job}", "--colour"),
    ("proof", "{job}"),
    ("read", "{job}", "--call"),
]


@pytest.mark.parametrize("words", WRONG, ids=" ".join)
def test_an_error_is_a_document_too(words: tuple[str, ...], tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    job = write(tmp_path)
    arguments = [word.replace("{job}", str(job)).replace("{file}", str(tmp_path / "none")) for word in words]
    ran = run(capsys, *arguments, "--json")
    assert ran.status == 2
    assert ran.err.strip()
    assert "Traceback" not in ran.err
    errors = ran.document["errors"]
    assert errors
    for error in errors:
        assert set(error) >= {"file", "line", "column", "message"}
        assert error["message"]


def test_the_errors_of_a_job_are_all_there_with_their_places(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    file = tmp_path / "wrong.job.yaml"
    file.write_text(
        "callpath: 1\nequipment:\n  stat: {part: thermostat/singel-supply, at: hall}\n  b: {part: indoor/boiler, at: hall}\n"
        "jumpers:\n  - [b.R, b.WW]\n",
        encoding="utf-8",
    )
    ran = run(capsys, "prove", file, "--json")
    assert ran.status == 2
    places = {(error["line"], error["column"]) for error in ran.document["errors"]}
    assert places == {(3, 16), (6, 11)}
    assert all(error["file"] == str(file) for error in ran.document["errors"])
    assert f"{file}:3:16: " in ran.err
    assert "did you mean 'thermostat/single-supply'" in ran.err


def test_as_a_user_runs_it(tmp_path: Path) -> None:
    job = write(tmp_path)
    ran = as_user("prove", job, "--json")
    assert (ran.status, ran.err) == (0, "")
    assert json.loads(ran.out)["verdict"] == "clean"
