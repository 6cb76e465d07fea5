"""``troubleshoot`` and ``practice`` as a user has them: files, JSON, a terminal step by step, and every mistake told."""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path

import pytest

from callpath.faults.seen import load_seen
from callpath.faults.troubleshoot import Case
from callpath.job import load_job
from tests.cli.run import run, write
from tests.cli.terminal import Terminal

SEEN = """\
seen:
  - {call: cool, running: {cond.compressor: false, board.blower: true}}
  - {call: cool, between: [cond.Y, cond.C], volts: 26.0}
"""


@pytest.fixture
def seen(tmp_path: Path) -> Path:
    file = tmp_path / "house.seen.yaml"
    file.write_text(SEEN, encoding="utf-8")
    return file


def test_json_has_the_form_of_the_contract(tmp_path: Path, seen: Path, capsys: pytest.CaptureFixture[str]) -> None:
    ran = run(capsys, "troubleshoot", write(tmp_path), "--seen", seen, "--json")
    assert ran.status == 1
    assert ran.err == ""
    told = ran.document
    assert told["suspects"][0]["faults"] == [{"open": "cond.contactor"}]
    assert sum(suspect["probability"] for suspect in told["suspects"]) + told["other"] == pytest.approx(1)
    assert told["next"] is None or set(told["next"]) >= {"test", "minutes", "bits", "why"}


def test_the_next_test_once_answered_is_a_line_of_the_file(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    job, file = write(tmp_path), tmp_path / "none.seen.yaml"
    file.write_text("seen: []\n", encoding="utf-8")
    test = run(capsys, "troubleshoot", job, "--seen", file, "--at", "hall", "--json").document["next"]["test"]
    answered = {"running": lambda names: dict.fromkeys(names, True)}
    kind = next(word for word in ("running", "ohms", "conductor", "between") if word in test)
    if kind == "running":
        test["running"] = answered["running"](test["running"])
    else:
        test[{"between": "volts", "conductor": "amps", "ohms": "ohms"}[kind]] = 1.0
    file.write_text(json.dumps({"seen": [test]}), encoding="utf-8")
    assert run(capsys, "troubleshoot", job, "--seen", file, "--json").status in (0, 1)


def test_for_a_person_cautions_and_outcomes_stand_beside_the_test(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    file = tmp_path / "s.yaml"
    file.write_text(
        "seen:\n  - {call: cool, running: {cond.compressor: false, board.blower: true}}\n", encoding="utf-8"
    )
    ran = run(capsys, "troubleshoot", write(tmp_path), "--seen", file)
    for words in ("Next, at", "if it shows", "! ", "Power off and prove it off", "anything else"):
        assert words in ran.out


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (("--seen", "nowhere.yaml"), "no such file"),
        ((), "--seen FILE"),
        (("--at", "celar"), "cellar"),
        (("--priors", "nowhere.yaml"), "no such file"),
        (("--minutes", "nowhere.yaml"), "no such file"),
    ],
)
def test_misuse(
    arguments: tuple[str, ...], words: str, tmp_path: Path, seen: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    given = arguments if "--seen" in arguments or not arguments else (*arguments, "--seen", str(seen))
    ran = run(capsys, "troubleshoot", write(tmp_path), *given, "--json")
    assert ran.status == 2
    assert words in ran.document["errors"][0]["message"]


def test_priors_of_ones_own_change_the_order(tmp_path: Path, seen: Path, capsys: pytest.CaptureFixture[str]) -> None:
    import callpath.faults

    shipped = (Path(callpath.faults.__file__).parent / "data" / "priors.yaml").read_text(encoding="utf-8")
    mine = tmp_path / "mine.yaml"
    mine.write_text(shipped.replace("misread: 0.002", "misread: 0.1"), encoding="utf-8")
    job = write(tmp_path)
    usual = run(capsys, "troubleshoot", job, "--seen", seen, "--json").document["suspects"][0]["probability"]
    doubting = run(capsys, "troubleshoot", job, "--seen", seen, "--priors", mine, "--json").document["suspects"][0]
    assert doubting["probability"] < usual
    mine.write_text(shipped.replace("open-coil:", "open-coal:"), encoding="utf-8")
    ran = run(capsys, "troubleshoot", job, "--seen", seen, "--priors", mine, "--json")
    assert ran.status == 2
    assert any(
        "'open-coal' is unknown; did you mean 'open-coil'" in error["message"] for error in ran.document["errors"]
    )


def test_minutes_of_ones_own_change_what_is_near(
    tmp_path: Path, seen: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    import callpath.faults

    shipped = (Path(callpath.faults.__file__).parent / "data" / "minutes.yaml").read_text(encoding="utf-8")
    mine = tmp_path / "mine.yaml"
    mine.write_text(shipped.replace("walk: 2.0", "walk: 200"), encoding="utf-8")
    asked = ("troubleshoot", write(tmp_path), "--seen", seen, "--at", "cellar", "--json")
    usual, far = (run(capsys, *asked, *more).document["next"] for more in ((), ("--minutes", mine)))
    assert far["at"] == "cellar"
    assert far["minutes"] < usual["minutes"] or usual["at"] == "cellar"


def practised(
    tmp_path: Path, *lines: str, seed: int = 3, more: tuple[str, ...] = ()
) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [Path(sys.executable).with_name("callpath"), "practice", write(tmp_path), "--seed", str(seed), *more],
        input="\n".join(lines) + "\n",
        capture_output=True,
        encoding="utf-8",
        check=False,
        timeout=120,
    )


def test_practice_counts_minutes_and_tells_the_best_path(tmp_path: Path) -> None:
    ran = practised(
        tmp_path, "volts cool board.Y board.C", "volts cool bord.Y board.C", "what", "hint", "stop", more=("--json",)
    )
    assert ran.returncode == 1
    told = json.loads(ran.stdout)
    assert told["seed"] == 3
    assert told["yours"]["count"] == 1
    assert told["yours"]["minutes"] > 0
    assert told["best"]["found"]
    assert "did you mean 'board.Y'" in ran.stderr
    assert "'help' shows" in ran.stderr
    fault = next(iter(told["hidden"][0].values()))
    name = fault if isinstance(fault, str) else " ".join(fault)
    found = practised(tmp_path, f"mend {name}")
    assert found.returncode == 0
    assert "You found it" in found.stdout


def test_step_by_step_with_undo_and_nothing_lost_when_killed(tmp_path: Path) -> None:
    job, file = write(tmp_path), tmp_path / "kept.yaml"
    terminal = Terminal("troubleshoot", str(job), "--save", str(file))
    terminal.type("(Does|Is|Which|What)", "{call: cool, running: {cond.compressor: false}}")
    terminal.type("(Does|Is|Which|What)", "nonsense")
    terminal.wait_for("is no answer")
    terminal.type("(Does|Is|Which|What)", "{call: cool, between: [cond.Y, cond.C], volts: 26}")
    terminal.wait_for("contactor")
    circuit = Case(load_job(job)).circuit
    assert len(load_seen(file, circuit)) == 2
    terminal.type("(Does|Is|Which|What|'stop')", "undo")
    terminal.wait_for("taken back")
    terminal.wait_for("likely")
    terminal.kill()
    assert len(load_seen(file, circuit)) == 1
