"""Exit status, misuse, help, and what may reach a terminal."""

from __future__ import annotations

import os
import re
import subprocess
import sys
from pathlib import Path

import pytest
import typer.main

from callpath.cli.app import app
from callpath.parts.catalogue import default_catalogue
from tests.cli.run import as_user, run, write
from tests.jobs import COTTAGE, MANOR

COMMANDS = sorted(typer.main.get_command(app).commands)  # type: ignore[attr-defined]

# ---- exit status ---------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("changes", "status"),
    [
        ({}, 0),
        ({"settings": "{board: {cooling-blower-from: G}}"}, 0),  # a note
        ({"settings": "{board: {fuse-amps: 5}}"}, 1),  # weak
        ({"landings": "{outside.red: [board.R, cond.Y]}"}, 1),  # a fault
        ({"jumpers": "[[board.R, board.C]]"}, 1),  # a danger
    ],
)
def test_prove_exits_1_for_what_is_worse_than_a_note(
    changes: dict[str, str], status: int, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    job = write(tmp_path, **changes)
    for options in ((), ("--json",)):
        assert run(capsys, "prove", job, *options).status == status


def test_a_job_that_serves_nothing_is_not_praised(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    bare = tmp_path / "bare.job.yaml"
    bare.write_text("callpath: 1\nequipment: {stat: {part: thermostat/heat-only, at: hall}}\n", encoding="utf-8")
    assert "no call is served yet" in " ".join(run(capsys, "prove", bare).out.split())
    assert "served yet" not in run(capsys, "prove", write(tmp_path)).out


def test_the_other_commands_exit_0_whatever_they_tell(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    job = write(tmp_path, jumpers="[[board.R, board.C]]")
    for words in (("read",), ("sequence", "--call", "cool"), ("netlist",)):
        command, *options = words
        assert run(capsys, command, job, *options).status == 0
    assert run(capsys, "parts").status == 0


def test_as_a_user_runs_it(tmp_path: Path) -> None:
    assert as_user("prove", write(tmp_path)).status == 0
    assert as_user("prove", write(tmp_path, landings="{outside.red: [board.R, cond.Y]}")).status == 1
    assert as_user("prove", tmp_path / "none.job.yaml").status == 2


# ---- misuse: exit 2, a message, no traceback -------------------------------------------------------------------

MISUSE = [
    ("provve", "{job}"),
    ("--nonsense",),
    ("prove",),
    ("prove", "{job}", "{job}"),
    ("prove", "{job}", "--call", "cool"),
    ("prove", "{folder}"),
    ("prove", "{folder}/none.job.yaml"),
    ("prove", "{job}/under"),
    ("prove", ""),
    ("prove", "/dev/null"),
    ("prove", "/dev/zero"),
    ("read", "{job}", "--call", "colder"),
    ("read", "{job}", "--call", ""),
    ("read", "{job}", "--call", "heat-2"),
    ("read", "{job}", "--between", "board.R"),
    ("read", "{job}", "--between", "board.R", "board.X"),
    ("read", "{job}", "--between", "board", "board.C"),
    ("read", "{job}", "--between", "wall.red", "board.C"),
    ("read", "{job}", "--amps", "wall.purple"),
    ("read", "{job}", "--amps", "board.R"),
    ("read", "{job}", "--amps", "wall.red", "--between", "board.R", "board.C"),
    ("read", "{job}", "--amps", "wall.red", "--ohms"),
    ("read", "{job}", "--ohms"),
    ("read", "{job}", "--lift", "wall.red"),
    ("read", "{job}", "--ohms", "--between", "board.R", "board.C", "--lift", "outside.red"),
    ("read", "{job}", "--ohms", "--between", "board.R", "board.C", "--lift", "wall.purple"),
    ("read", "{job}", "--meter", "low-z"),
    ("read", "{job}", "--meter", "analogue", "--between", "board.R", "board.C"),
    ("sequence", "{job}"),
    ("sequence", "{job}", "--call", "warm"),
    ("sequence", "{job}", "--call", "cool", "--open", "float.switch@10"),
    ("sequence", "{job}", "--call", "cool", "--open", "cond.high-pressure@soon"),
    ("sequence", "{job}", "--call", "cool", "--open", "cond.high-pressure@-5"),
    ("sequence", "{job}", "--call", "cool", "--open", "cond.high-pressure@nan"),
    ("sequence", "{job}", "--call", "cool", "--open", "cond.high-pressure@1e9"),
    ("sequence", "{job}", "--call", "cool", "--ends", "-1"),
    ("sequence", "{job}", "--call", "cool", "--ends", "nan"),
    ("sequence", "{job}", "--call", "cool", "--ends", "inf"),
    ("sequence", "{job}", "--call", "cool", "--stopped-ago", "nan"),
    ("netlist", "{job}", "--call", "cool", "--between", "board.R", "board.Q"),
    ("netlist", "{job}", "-o", "{folder}/none/x.cir"),
    ("netlist", "{job}", "-o", "{folder}"),
    ("parts", "indoor/boyler"),
    ("parts", "../indoor/boiler"),
    ("parts", "indoor/boiler", "outdoor/condenser"),
]


@pytest.mark.parametrize("words", MISUSE, ids=" ".join)
def test_misuse(words: tuple[str, ...], tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    job = write(tmp_path, settings="{cond: {pressure-switches: true}}")
    arguments = [word.replace("{job}", str(job)).replace("{folder}", str(tmp_path)) for word in words]
    ran = run(capsys, *arguments)
    assert ran.status == 2
    assert ran.out == ""
    assert ran.err.strip()
    assert "Traceback" not in ran.err


NEAREST = [
    (("read", "{job}", "--call", "coool"), "did you mean 'cool'"),
    (("read", "{job}", "--between", "bord.Y", "board.C"), "did you mean 'board.Y'"),
    (("read", "{job}", "--amps", "wall.yelow"), "did you mean 'wall.yellow'"),
    (("sequence", "{job}", "--call", "cool", "--open", "cond.high-presure@5"), "did you mean 'cond.high-pressure'"),
    (("parts", "outdoor/condensor"), "did you mean 'outdoor/condenser'"),
    (("provve", "{job}"), "prove"),
    (("prove", "{job}", "--jsn"), "--json"),
]


@pytest.mark.parametrize(("words", "told"), NEAREST, ids=[" ".join(words) for words, _ in NEAREST])
def test_the_nearest_valid_word_is_told(
    words: tuple[str, ...], told: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    job = write(tmp_path, settings="{cond: {pressure-switches: true}}")
    ran = run(capsys, *(word.replace("{job}", str(job)) for word in words))
    assert ran.status == 2
    assert told in ran.err


CONTENTS = {
    "empty": b"",
    "binary": bytes(range(256)) * 40,
    "nul": b"\x00" * 1000,
    "utf-16": "callpath: 1\n".encode("utf-16"),
    "latin-1": "callpath: 1\ntitle: K\xfcche\n".encode("latin-1"),
    "list": b"- 1\n- 2\n",
    "words": b"a house with a furnace",
    "tabs": b"callpath: 1\n\tequipment: {}\n",
    "tag": b"callpath: !!python/object:os.system 1\n",
    "anchors": b"callpath: &a 1\ntitle: *a\n",
    "deep": b"{a: " * 3000,
    "unclosed": b"equipment: {stat: [",
    "huge": b"title: " + b"x" * 2_000_000,
}


@pytest.mark.parametrize("content", CONTENTS.values(), ids=CONTENTS.keys())
def test_a_file_that_is_no_job(content: bytes, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    file = tmp_path / "wrong.job.yaml"
    file.write_bytes(content)
    for command in (("prove",), ("read",), ("sequence", "--call", "cool"), ("netlist",)):
        ran = run(capsys, command[0], file, *command[1:], "--json")
        assert ran.status == 2
        assert ran.document["errors"]


def test_a_job_that_may_not_be_read(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    job = write(tmp_path)
    job.chmod(0)
    if os.access(job, os.R_OK):  # root may read anything
        job.unlink()
    assert run(capsys, "prove", job).status == 2


def test_no_words_at_all_show_the_help(capsys: pytest.CaptureFixture[str]) -> None:
    ran = run(capsys)
    assert "prove" in ran.out + ran.err
    assert ran.status in (0, 2)


def test_a_part_of_ones_own_that_is_broken(tmp_path: Path) -> None:
    (tmp_path / "accessory").mkdir()
    (tmp_path / "accessory" / "lamp.yaml").write_text("part: accessory/lamp\ntitel: Lamp\n", encoding="utf-8")
    ran = as_user("parts", "accessory/lamp", CALLPATH_PARTS=str(tmp_path))
    assert ran.status == 2
    assert "did you mean 'title'" in ran.err
    nowhere = as_user("parts", CALLPATH_PARTS=str(tmp_path / "none"))
    assert nowhere.status == 2
    assert "no such folder" in nowhere.err
    assert "Traceback" not in ran.err + nowhere.err


def test_a_reader_that_stops_reading(tmp_path: Path) -> None:
    """``callpath prove JOB | head -1`` says nothing of a broken pipe."""
    reading, writing = os.pipe()
    os.close(reading)
    ran = subprocess.run(
        [Path(sys.executable).with_name("callpath"), "netlist", str(write(tmp_path)), "--call", "cool"],
        stdout=writing,
        stderr=subprocess.PIPE,
        text=True,
        check=False,
        timeout=60,
    )
    os.close(writing)
    assert ran.stderr == ""


# ---- help ------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("command", COMMANDS)
def test_help_shows_an_example(command: str, capsys: pytest.CaptureFixture[str]) -> None:
    for option in ("--help", "-h"):
        ran = run(capsys, command, option)
        assert ran.status == 0
        assert "Examples" in ran.out
        assert f"callpath {command}" in ran.out.split("Examples")[1]


def test_help_names_every_command_and_cautions(capsys: pytest.CaptureFixture[str]) -> None:
    ran = run(capsys, "--help")
    assert ran.status == 0
    assert set(COMMANDS) >= {"prove", "read", "sequence", "netlist", "parts"}
    assert all(command in ran.out for command in COMMANDS)
    assert "Power off" in ran.out


def test_version(capsys: pytest.CaptureFixture[str]) -> None:
    ran = run(capsys, "--version")
    assert ran.status == 0
    assert re.fullmatch(r"callpath \d+\.\d+\.\d+\S*\n", ran.out)


# ---- what reaches a terminal -----------------------------------------------------------------------------------

EVIL = ["\x1b[31mred\x1b[0m", "\x07bell", "a\rb", "\u202eesrever", "\x9b31m", "tab\there"]


def harmless(text: str) -> bool:
    return all(character.isprintable() or character == "\n" for character in text)


@pytest.mark.parametrize("evil", EVIL, ids=ascii)
def test_no_control_character_of_an_argument_comes_back(
    evil: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    job = write(tmp_path)
    for words in (
        ("read", job, "--call", evil),
        ("read", job, "--between", evil, "board.C"),
        ("read", job, "--amps", evil),
        ("read", job, "--ohms", "--between", "board.R", "board.C", "--lift", evil),
        ("sequence", job, "--call", evil),
        ("sequence", job, "--call", "cool", "--open", evil),
        ("sequence", job, "--call", "cool", "--open", f"{evil}@5"),
        ("sequence", job, "--call", "cool", "--ends", evil),
        ("netlist", job, "--call", evil),
        ("netlist", job, "-o", tmp_path / evil / "x"),
        ("parts", evil),
        ("prove", tmp_path / evil),
        ("prove", job, f"--{evil}"),
        (evil,),
    ):
        ran = run(capsys, *words)
        assert ran.status == 2
        assert harmless(ran.out + ran.err), words


@pytest.mark.parametrize("evil", EVIL, ids=ascii)
def test_no_control_character_of_a_job_reaches_the_terminal(
    evil: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    for changes in (
        {"title": evil},
        {"note": evil},
        {"equipment": {evil: {"part": "indoor/boiler", "at": "cellar"}}},
        {"equipment": {"boiler": {"part": "indoor/boiler", "at": evil}}},
        {"landings": {"wall.red": ["stat.R", evil]}},
        {"splices": {evil: "cellar"}},
        {"serves": [evil]},
    ):
        job = write(tmp_path, **changes)
        for words in (("prove", job), ("read", job), ("sequence", job, "--call", "cool"), ("netlist", job)):
            ran = run(capsys, *words)
            assert harmless(ran.out + ran.err), (changes, words)


def test_no_colour_where_nobody_looks(tmp_path: Path) -> None:
    for words in (("prove", write(tmp_path, MANOR, jumpers="[[stat.Rc, stat.Rh]]")), ("parts",), ("--help",)):
        assert "\x1b" not in as_user(*words).out


def test_a_terminal_that_knows_no_such_characters(tmp_path: Path) -> None:
    job = write(tmp_path, landings="{outside.red: [board.R, cond.Y]}", title="Küche")
    for encoding in ("ascii", "cp1252"):
        ran = as_user("prove", job, PYTHONIOENCODING=encoding)
        assert ran.status == 1
        assert ran.err == ""
        assert "unwanted-run" in ran.out


def test_a_title_with_markup_is_shown_as_it_is(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    ran = run(capsys, "prove", write(tmp_path, title="[bold]Mill[/bold] [link=x]"))
    assert "[bold]Mill[/bold] [link=x]" in ran.out


# ---- what is printed -------------------------------------------------------------------------------------------


def test_a_proof_tells_calls_findings_and_caution(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    out = run(capsys, "prove", write(tmp_path, COTTAGE, landings="{wall.green: [stat.G, board.C]}")).out
    for words in ("danger", "short", "board.fuse", "board.R", "wall.green", "findings:", "Power off"):
        assert words in out


def test_readings_name_unit_and_spread(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    job = write(tmp_path)
    assert re.search(r"cond.Y to cond.C on 'cool': 25\.\d\d V  \(\d", run(
        capsys, "read", job, "-c", "cool", "-b", "cond.Y", "cond.C").out)  # fmt: skip
    assert " A  (" in run(capsys, "read", job, "-c", "cool", "--amps", "outside.red").out
    assert " Ω  (" in run(capsys, "read", job, "--ohms", "-b", "cond.Y", "cond.C").out
    assert "OL, open" in run(capsys, "read", job, "--ohms", "-b", "stat.R", "board.chassis").out


@pytest.mark.parametrize("name", ["thermostat/heat-pump", "outdoor/heat-pump", "accessory/transformer"])
def test_a_part_is_told_whole(name: str, capsys: pytest.CaptureFixture[str]) -> None:
    part = default_catalogue().part(name)
    out = " ".join(run(capsys, "parts", name).out.split())
    for word in (part.title, *part.terminals, *part.shown_elements, *part.functions, *part.settings, *part.calls):
        assert word in out
