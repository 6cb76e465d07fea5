"""`mend` as a user runs it."""

from __future__ import annotations

from pathlib import Path

import pytest

from callpath.job import load_job
from callpath.proof.prove import prove
from tests.cli.run import ROOT, run

WRONG = ROOT / "examples" / "garden-cottage-green-on-common.job.yaml"


def test_the_document_holds_what_the_contract_says(capsys: pytest.CaptureFixture[str]) -> None:
    ran = run(capsys, "mend", WRONG, "--json")
    assert ran.status == 0
    assert ran.document["verdict"] == "clean"
    assert ran.document["fewest"] is True
    (move,) = ran.document["moves"]
    assert {key: move[key] for key in ("do", "what", "from", "to")} == {
        "do": "land",
        "what": "wall.green",
        "from": "board.C",
        "to": "board.G",
    }
    assert "short" in move["why"]


def test_what_is_written_is_clean_and_keeps_its_comments(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    text = WRONG.read_text(encoding="utf-8").replace("\n", "\r\n") + "# last line, kept\r\n"
    given, out = tmp_path / "as-found.job.yaml", tmp_path / "mended.job.yaml"
    given.write_bytes(text.encode())
    assert run(capsys, "mend", given, "-o", out).status == 0
    assert out.read_bytes().decode() == text.replace("[stat.G, board.C]", "[stat.G, board.G]")
    assert prove(load_job(out)).verdict == "clean"


def test_a_fault_carried_out_and_mended_is_gone_from_the_file(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    right = (ROOT / "examples" / "garden-cottage.job.yaml").read_text(encoding="utf-8")
    faults = "faults:\n  - swapped: [wall.white, wall.green]\n  - open: cond.contactor   # seen\n"
    given, out = tmp_path / "as-found.job.yaml", tmp_path / "mended.job.yaml"
    given.write_text(right + faults, encoding="utf-8")
    ran = run(capsys, "mend", given, "-o", out)
    assert ran.status == 1
    assert "not the wiring: cond.contactor is open" in ran.out
    assert out.read_text(encoding="utf-8") == right + "faults:\n  - open: cond.contactor   # seen\n"


@pytest.mark.parametrize("example", sorted((ROOT / "examples").glob("*.job.yaml"), key=str), ids=lambda path: path.stem)
def test_every_example_is_mended_or_told_why_not(example: Path) -> None:
    from callpath.landing.mend import mend

    job = load_job(example)
    found = mend(job)
    assert not [f for f in found.proof.findings if f.severity == "danger"]
    if prove(job).verdict == "clean":
        assert not found.moves
    else:
        assert found.moves or found.unserved or found.broken or found.fewest


def test_a_call_given_up_is_told_with_its_ways_out_and_is_no_success(capsys: pytest.CaptureFixture[str]) -> None:
    barn = ROOT / "examples" / "barn-long-run-weak.job.yaml"
    ran = run(capsys, "mend", barn)
    assert ran.status == 1
    assert "not to be had: 'cool'" in ran.out
    assert "new cable of 14 AWG from lean-to to far field" in ran.out
    ran = run(capsys, "mend", barn, "--json")
    assert ran.status == 1
    assert ran.document["verdict"] == "clean"
    assert ran.document["unserved"] == ["cool"]
    assert ran.document["ways_out"][0]["serves"] == ["cool", "fan"]
