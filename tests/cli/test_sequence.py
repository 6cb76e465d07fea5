"""The sequence command: what comes from outside, the chart in the terminal, and the chart in a file."""

from __future__ import annotations

from pathlib import Path

import pytest

from callpath.calls.chart import Chart, Track
from callpath.cli.show_sequence import chart_lines
from tests.cli.run import run
from tests.proof.test_examples import EXAMPLES

BREWERY = EXAMPLES / "brewery-two-stages.job.yaml"
ORCHARD = EXAMPLES / "orchard-defrost-board.job.yaml"


def test_a_call_that_becomes_another(capsys: pytest.CaptureFixture[str]) -> None:
    ran = run(capsys, "sequence", BREWERY, "--call", "cool", "--then", "cool-2@600", "--then", "stat=off@900", "--json")
    assert ran.status == 0
    lanes = {lane["name"]: lane["spans"] for lane in ran.document["lanes"]}
    assert lanes["cond.compressor"] == [[0.0, 900.0]]
    assert lanes["cond.compressor-2"] == [[600.0, 900.0]]


def test_power_flame_and_frost(capsys: pytest.CaptureFixture[str]) -> None:
    ran = run(
        capsys, "sequence", BREWERY, "-c", "heat", "--no-flame", "board.heat@0", "--power-off", "board@120", "--flame",
        "board.heat@130", "--power-on", "board@140", "--json",
    )  # fmt: skip
    assert ran.status == 0
    lanes = {lane["name"]: lane["spans"] for lane in ran.document["lanes"]}
    assert lanes["board.heat"] == [[180.0, None]]
    ran = run(capsys, "sequence", ORCHARD, "-c", "heat", "--frost", "--ends", "5000")
    assert ran.status == 0
    assert "defrost begins" in ran.out


def test_a_chart_in_the_terminal_and_in_a_file(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    file = tmp_path / "chart.svg"
    ran = run(capsys, "sequence", ORCHARD, "-c", "heat", "--frost", "--ends", "5000", "--chart", "-o", file)
    assert ran.status == 0
    rows = {line.split("  ")[0].strip(): line for line in ran.out.splitlines()}
    assert "60:00" in ran.out
    assert any(line.startswith("pump.outdoor-fan") and "·" in line and "█" in line for line in rows.values())
    assert file.read_text(encoding="utf-8").startswith("<svg")


def test_a_chart_keeps_to_its_width() -> None:
    many = Chart(tuple(float(60 * i) for i in range(40)), (Track("a-very-long-name-of-a-thing.function", ((3, 20),)),))
    for width in (24, 40, 80, 200):
        lines = chart_lines(many, width)
        assert max(map(len, lines)) <= width
        on = sum(line.count("█") for line in lines)
        assert on % 17 == 0, "as many columns as moments that it is on"
        assert on


@pytest.mark.parametrize(
    ("options", "told"),
    [
        (["--then", "cool-2"], "CALL@SECONDS"),
        (["--then", "cool-3@5"], "did you mean 'cool-2'"),
        (["--power-off", "board@99999"], "WHAT@SECONDS"),
        (["--power-off", "bord@5"], "did you mean 'board'"),
        (["--no-flame", "board.blower@5"], "board.heat"),
        (["--by", "stats"], "did you mean 'stat'"),
        (["-o", "chart.png"], "should end in .svg"),
    ],
)
def test_misuse_is_told(options: list[str], told: str, capsys: pytest.CaptureFixture[str]) -> None:
    ran = run(capsys, "sequence", BREWERY, "--call", "cool", *options)
    assert ran.status == 2
    assert told in ran.err
    assert ran.out == ""
