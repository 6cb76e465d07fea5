"""callpath new: from options, and from an interview in a real terminal."""

from __future__ import annotations

import json
import os
import pty
import re
import signal
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from callpath.cli import main
from callpath.errors import QuestionError
from callpath.job import load_job, read_job
from callpath.job.draft import Draft, draft_job, find_part
from callpath.job.write import job_text
from callpath.parts.catalogue import default_catalogue
from callpath.parts.makeup import makeup, makeups
from tests.cli.terminal import Terminal

COTTAGE = [
    *["--thermostat", "single-supply", "--indoor", "furnace-board", "--outdoor", "condenser"],
    *["--wall", "red white green", "--length-wall", "45 ft", "--outside", "18/2", "--serves", "cool fan"],
    *["--at-thermostat", "R=red Y=white G=green", "--at-outdoor", "Y=red,C=white"],
    *["--at-indoor", "R=red Y=white G=green Y=outside.red C=outside.white"],
]


def run(capsys: pytest.CaptureFixture[str], *arguments: str | Path) -> tuple[int, str, str]:
    with pytest.raises(SystemExit) as caught:
        main([str(argument) for argument in arguments])
    shown = capsys.readouterr()
    return int(caught.value.code or 0), shown.out, shown.err


class TestOptions:
    def test_a_job_as_found_is_written_and_proves(self, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
        file = tmp_path / "garden-cottage.job.yaml"
        status, out, err = run(capsys, "new", file, *COTTAGE)
        assert (status, err) == (0, "")
        assert "wall.white" in out
        assert f"callpath prove {file}" in out.replace("\n", "")
        assert file.read_text().splitlines()[:6] == [
            "callpath: 1",
            "title: Garden cottage",
            "equipment:",
            "  stat:  {part: thermostat/single-supply, at: hall}",
            "  board: {part: indoor/furnace-board, at: indoor}",
            "  cond:  {part: outdoor/condenser, at: outdoor}",
        ]
        assert load_job(file).landings["outside.red"] == ("board.Y", "cond.Y")
        status, out, _ = run(capsys, "prove", file, "--json")
        assert status == 0
        assert json.loads(out)["verdict"] == "clean"

    def test_json_says_the_same_job(self, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
        file = tmp_path / "a.job.yaml"
        status, out, err = run(capsys, "new", file, *COTTAGE, "--json")
        assert (status, err) == (0, "")
        document = json.loads(out)
        assert document["file"] == str(file)
        assert job_text(document["job"]) == file.read_text()

    def test_a_conductor_of_which_one_end_is_told_is_capped_at_the_other(self) -> None:
        data = draft_job(Draft("heat-only", "boiler", "18/3", landed=("R=red", "W=white", "")))
        assert data["landings"] == {"wall.red": ["stat.R", None], "wall.white": [None, "boiler.W"]}

    def test_ids_locations_settings_jumpers_and_accessories(
        self, tmp_path: Path, capsys: pytest.CaptureFixture[str]
    ) -> None:
        file = tmp_path / "a.yaml"
        more = ["--set", "stat.power=common", "--set", "air.fuse-amps=5", "--set", "stat.fan-with-heat=true"]
        more += [
            "--accessory",
            "float=float",
            "--locations",
            "great hall, loft, yard",
            "--jumper",
            "Rc Rh",
            "--title",
            "1",
        ]
        more += ["--at-indoor", "float.1=yellow R=red"]
        options = ["--thermostat", "split", "--indoor", "air-handler", "--outdoor", "outdoor/condenser"]
        status, _, err = run(capsys, "new", file, *options, "--wall", "20/5", "--outside", "black,brown", *more)
        assert (status, err) == (0, "")
        job = load_job(file)
        assert {name: device.at for name, device in job.equipment.items()} == {
            "stat": "great hall",
            "air": "loft",
            "cond": "yard",
            "float": "loft",
        }
        assert job.equipment["stat"].settings == {"power": "common", "fan-with-heat": True}
        assert job.equipment["air"].settings["fuse-amps"] == 5
        assert (job.jumpers, job.title, job.cables["wall"].awg) == ((("stat.Rc", "stat.Rh"),), "1", 20)
        assert job.landings["wall.yellow"] == (None, "float.1")
        assert "'1'" in file.read_text()

    @pytest.mark.parametrize(
        ("change", "says"),
        [
            (["--thermostat", "singel-supply"], "did you mean 'single-supply' or"),
            (["--thermostat", "indoor/boiler"], "indoor/boiler is an indoor part, not a thermostat one"),
            (["--indoor", "board"], "'board' could be indoor/"),
            (["--indoor", "stove"], "valid: indoor/air-handler"),
            (["--wall", "18/9"], "the nearest is 18/8"),
            (["--wall", "17/5"], "the nearest is 18"),
            (["--wall", "5"], "such as 18/5"),
            (["--wall", "red white red"], "red is there twice"),
            (["--wall", "red white green a:b"], "'a:b' is no colour"),
            (["--at-thermostat", "R=read"], "did you mean 'red'?"),
            (["--at-thermostat", "R=red W=red"], "red is on R already"),
            (["--at-thermostat", "R=outside.red"], "no conductor 'outside.red' in the wall cable"),
            (["--at-indoor", "R=red Y=red"], "red is on R already; the outdoor cable's is outside.red"),
            (["--at-indoor", "R"], "is not TERMINAL=COLOUR"),
            (["--at-indoor", "r=red"], "'board' has nothing called 'r'; did you mean 'R'?"),
            (["--at-indoor", "stat.W=red"], "'stat.W' is in 'hall'"),
            (["--serves", "col"], "did you mean 'cool'?"),
            (["--set", "stat.pwer=common"], "did you mean 'power'?"),
            (["--set", "stat.power=sun"], "must be one of battery, common, stealing"),
            (["--set", "start.power=common"], "did you mean 'stat'?"),
            (["--set", "stat.power"], "is not ID.SETTING=VALUE"),
            (["--length-wall", "45"], "write a number and its unit"),
            (["--jumper", "R"], "name its two terminals"),
            (["--jumper", "stat.R board.R"], "a jumper is a short link at one location"),
            (["--accessory", "float"], "is not ID=PART"),
            (["--accessory", "stat=float-switch"], "the id 'stat' is taken"),
            (["--accessory", "f=flot-switch"], "did you mean 'float-switch'"),
            (["--locations", "hall"], "locations: name"),
            (["--outside", ""], "the outdoor unit needs a cable"),
            (["--outdoor", ""], "no outdoor unit"),
            (["--wall", ""], "a job needs --wall"),
            (["--title", "\x1b[2J"], "character that no text here needs"),
        ],
    )
    def test_what_is_wrong_is_told_and_nothing_is_written(
        self, tmp_path: Path, capsys: pytest.CaptureFixture[str], change: list[str], says: str
    ) -> None:
        status, out, err = run(capsys, "new", tmp_path / "a.job.yaml", *COTTAGE, *change)
        assert (status, out) == (2, "")
        assert says in err
        assert not list(tmp_path.iterdir())

    def test_everything_wrong_is_told_at_once(self, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
        wrong = ["--thermostat", "xyz", "--indoor", "zyx", "--wall", "1/1", "--at-outdoor", "Z=pink", "--set", "q"]
        status, out, err = run(capsys, "new", tmp_path / "a", *COTTAGE, *wrong, "--json")
        assert status == 2
        assert len(json.loads(out)["errors"]) == len(err.splitlines()) == 5

    def test_a_file_that_is_there_is_kept_unless_forced(
        self, tmp_path: Path, capsys: pytest.CaptureFixture[str]
    ) -> None:
        file = tmp_path / "a.job.yaml"
        file.write_text("mine")
        status, _, err = run(capsys, "new", file, *COTTAGE)
        assert status == 2
        assert "--force" in err
        assert file.read_text() == "mine"
        assert run(capsys, "new", file, *COTTAGE, "--force")[0] == 0
        assert load_job(file).serves == ("cool", "fan")

    @pytest.mark.parametrize("place", [".", "none/a.job.yaml"])
    def test_a_place_that_cannot_be_is_told(
        self, tmp_path: Path, capsys: pytest.CaptureFixture[str], place: str
    ) -> None:
        status, _, err = run(capsys, "new", tmp_path / place, *COTTAGE)
        assert status == 2
        assert "folder" in err

    def test_without_options_and_without_a_terminal_it_is_misused(self, tmp_path: Path) -> None:
        done = subprocess.run(
            [*CALLPATH, "new", str(tmp_path / "a")],
            stdin=subprocess.DEVNULL,
            capture_output=True,
            text=True,
            check=False,
        )
        assert done.returncode == 2
        assert "--thermostat, --indoor and --wall" in done.stderr
        assert done.stdout == ""


class TestMakeup:
    # White red green blue yellow, then brown orange black; three often red white green (CP).
    @pytest.mark.parametrize(
        ("words", "colours", "awg"),
        [
            ("18/2", "red white", 18),
            ("18/3", "red white green", 18),
            ("18/4", "white red green blue", 18),
            (" 20 / 5 ", "white red green blue yellow", 20),
            ("22/8", "white red green blue yellow brown orange black", 22),
            ("red, white,green", "red white green", None),
            ("Red WHITE red-2 white-blue", "red white red-2 white-blue", None),
            # How people write gauge and number (common practice, no source).
            *((words, "white red green blue yellow", 18) for words in ("18-5", "18 5", "18x5", "18 AWG 5", "18AWG/5")),
            ("18-gauge 5-conductor", "white red green blue yellow", 18),
            ("20 awg 3 wire", "red white green", 20),
        ],
    )
    def test_colours(self, words: str, colours: str, awg: int | None) -> None:
        made = makeup(words)
        assert (" ".join(made.conductors), made.awg) == (colours, awg)

    def test_every_count_has_so_many_colours(self) -> None:
        assert all(len(set(colours)) == len(colours) == count for count, colours in makeups().items())

    @pytest.mark.parametrize(
        ("words", "told"),
        [
            ("18/5x", "'18/5x' is no gauge and number; did you mean '18/5'?"),
            ("18/-3", "did you mean '18/3'?"),
            ("abc", "'abc' is no colour of a conductor; give gauge and number, such as 18/5"),
            ("red whit", "'whit' is no colour of a conductor; did you mean 'white'"),
            ("red white/blue", "did you mean 'white-blue'?"),
            ("red red2", "did you mean 'red-2'?"),
            ("red -3", "'-3' is no colour"),
            ("red 18/5", "gauge and number stand alone"),
            ("1 2 3", "'1 2 3' is no gauge and number"),
        ],
    )
    def test_what_is_neither_is_told_with_what_is_nearest(self, words: str, told: str) -> None:
        with pytest.raises(QuestionError, match=re.escape(told)):
            makeup(words)

    def test_what_a_cable_has_already_is_taken_as_it_is(self) -> None:
        assert makeup("red half 3", own=("red", "half", "3")).conductors == ("red", "half", "3")

    @given(st.text(max_size=12))
    def test_anything_at_all_is_a_makeup_or_told(self, words: str) -> None:
        try:
            made = makeup(words)
        except QuestionError:
            return
        assert all(made.conductors)


NAMES = default_catalogue().names


@pytest.mark.parametrize("name", NAMES)
def test_a_part_is_found_by_its_name_and_by_the_end_of_it(name: str) -> None:
    role, _, tail = name.partition("/")
    assert find_part(name).part == find_part(tail, role).part == find_part(name.upper(), role).part == name


@settings(max_examples=60, suppress_health_check=[HealthCheck.too_slow])
@given(st.data())
def test_whatever_is_told_comes_back_out_of_what_is_written(draw: st.DataObject) -> None:
    catalogue = default_catalogue()
    by_role = {role: [name for name in NAMES if name.startswith(role)] for role in ("thermostat", "indoor", "outdoor")}
    stat, board, cond = (draw.draw(st.sampled_from(names)) for names in by_role.values())
    colours = st.lists(st.sampled_from(makeups()[8] + ("tan", "red-2", "white-blue")), min_size=2, unique=True)
    wall, outside = draw.draw(colours), draw.draw(colours)
    terminals = [list(catalogue.part(part).terminals) for part in (stat, board, cond)]

    def landed(place: int, names: list[str]) -> dict[str, str]:
        chosen = draw.draw(st.lists(st.sampled_from(names), unique=True))
        return {name: draw.draw(st.sampled_from(terminals[place])) for name in chosen}

    at = [landed(0, [f"wall.{c}" for c in wall]), {}, landed(2, [f"outside.{c}" for c in outside])]
    at[1] = landed(1, [*(f"wall.{c}" for c in wall), *(f"outside.{c}" for c in outside)])
    words = [draw.draw(st.sampled_from([" ", ","])).join(f"{t}={name}" for name, t in ends.items()) for ends in at]
    text = job_text(draft_job(Draft(stat, board, " ".join(wall), cond, ",".join(outside), landed=words)))
    job = read_job(text)
    ids = list(job.equipment)
    for name, (one, other) in job.landings.items():
        places = (0, 1) if name.startswith("wall.") else (1, 2)
        for place, end in zip(places, (one, other), strict=True):
            assert end == (f"{ids[place]}.{at[place][name]}" if name in at[place] else None)


CALLPATH = [sys.executable, "-c", "from callpath.cli import main; main()"]


class TestInterview:
    def test_enter_all_the_way_gives_a_house(self, tmp_path: Path) -> None:
        file = tmp_path / "my-house.job.yaml"
        terminal = Terminal("new", str(file))
        for question in (
            "thermostat",
            "indoor",
            "outdoor",
            "wall cable",
            "long",
            "outdoor unit",
            "long",
            "work",
            "powered",
        ):
            terminal.answer(question, "\n")
        assert terminal.leave() == 0
        assert "Wrote" in terminal.seen
        job = load_job(file)
        assert [device.part.part for device in job.equipment.values()] == [
            "thermostat/single-supply",
            "indoor/furnace-board",
            "outdoor/condenser",
        ]
        assert (job.title, job.cables["wall"].conductors, job.serves) == ("My house", makeups()[5], None)

    def test_back_wrong_answers_and_no_outdoor_unit(self, tmp_path: Path) -> None:
        file = tmp_path / "a.job.yaml"
        terminal = Terminal("new", str(file))
        terminal.answer("thermostat", "back\n")
        terminal.answer("thermostat", "99\n")
        terminal.answer("thermostat", "heat-pump\n")
        terminal.answer("indoor", "back\n")
        terminal.answer("thermostat", "heat-only\n")
        terminal.answer("indoor", "boiler\n")
        terminal.answer("outdoor", "condenser\n")
        terminal.answer("wall cable", "back\n")
        terminal.answer("outdoor", "none\n")
        terminal.answer("wall cable", "18/99\n")
        terminal.answer("wall cable", "red white\n")
        terminal.answer("long", "long\n")
        terminal.answer("long", "14 m\n")
        terminal.answer("work", "cool\n")
        terminal.answer("work", "heat\n")
        assert terminal.leave() == 0
        assert "no number 99" in terminal.seen
        assert "nearest is 18/8" in terminal.seen
        assert "no call 'cool'" in terminal.seen
        job = load_job(file)
        assert list(job.equipment) == ["stat", "boiler"]
        assert (job.serves, round(job.cables["wall"].length_ft, 2)) == (("heat",), 45.93)

    def test_a_heat_pump_is_asked_for_its_valve(self, tmp_path: Path) -> None:
        file = tmp_path / "a.job.yaml"
        terminal = Terminal("new", str(file))
        terminal.answer("thermostat", "heat-pump\n")
        for question in ("indoor", "outdoor", "wall cable", "long", "outdoor unit", "long"):
            terminal.answer(question, "\n")
        terminal.answer("valve", "c\n")
        terminal.answer("valve", "b\n")
        terminal.answer("work", "cool-2\n")
        terminal.answer("work", "\n")
        terminal.answer("powered", "\n")
        assert terminal.leave() == 0
        assert "no call 'cool-2'" in terminal.seen
        job = load_job(file)
        assert [job.equipment[name].settings["changeover"] for name in ("stat", "pump")] == ["B", "B"]
        assert job.cables["wall"].conductors == makeups()[8]

    def test_json_is_all_that_standard_output_gets(self, tmp_path: Path) -> None:
        main_end, far_end = pty.openpty()
        process = subprocess.Popen(
            [*CALLPATH, "new", str(tmp_path / "a"), "--json"],
            stdin=far_end,
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
            text=True,
        )
        os.write(main_end, b"\n" * 9)
        out, _ = process.communicate(timeout=30)
        os.close(far_end)
        os.close(main_end)
        document: dict[str, Any] = json.loads(out)
        assert process.returncode == 0
        assert list(document) == ["file", "job"]

    def test_ctrl_c_leaves_nothing_behind(self, tmp_path: Path) -> None:
        terminal = Terminal("new", str(tmp_path / "a"))
        terminal.answer("thermostat", "\n")
        terminal.answer("indoor", "\x03")
        assert terminal.leave("\x03") == 128 + signal.SIGINT
        assert "Traceback" not in terminal.seen
        assert not list(tmp_path.iterdir())

    def test_the_end_of_the_input_leaves_nothing_behind(self, tmp_path: Path) -> None:
        terminal = Terminal("new", str(tmp_path / "a"))
        terminal.answer("thermostat", "\x04")
        assert terminal.leave("\x04") == 130
        assert not list(tmp_path.iterdir())


class TestLike:
    def test_a_usual_job_is_written_with_its_comments_and_proves(
        self, tmp_path: Path, capsys: pytest.CaptureFixture[str]
    ) -> None:
        file = tmp_path / "orchard-house.job.yaml"
        status, out, err = run(capsys, "new", file, "--like", "heat-pump-b")
        assert (status, err) == (0, "")
        assert "pump.O/B" in out
        text = file.read_text()
        assert text.startswith("# A place to begin")
        assert "title: Orchard house\n" in text
        assert run(capsys, "prove", file)[0] == 0
        status, out, _ = run(capsys, "new", file, "--like", "boiler-tt", "--title", "Mill", "--force", "--json")
        assert status == 0
        assert json.loads(out)["job"]["title"] == "Mill"
        assert load_job(file).landings["wall.red"] == ("stat.R", "boiler.T1")

    def test_they_are_listed(self, capsys: pytest.CaptureFixture[str]) -> None:
        status, out, _ = run(capsys, "new", "--list", "--json")
        assert status == 0
        names = [row["name"] for row in json.loads(out)["like"]]
        status, out, _ = run(capsys, "new", "--list")
        assert all(name in out for name in names)

    @pytest.mark.parametrize(
        ("words", "told"),
        [
            ((), "name the file to write"),
            (("x.job.yaml", "--like", "heat-pump"), "heat-pump-o or heat-pump-b"),
            (("x.job.yaml", "--like", "boiler-tt", "--wall", "18/2"), "brings its own parts"),
        ],
    )
    def test_what_is_wrong_is_told_and_nothing_is_written(
        self, words: tuple[str, ...], told: str, tmp_path: Path, capsys: pytest.CaptureFixture[str],
        monkeypatch: pytest.MonkeyPatch,
    ) -> None:  # fmt: skip
        monkeypatch.chdir(tmp_path)
        status, out, err = run(capsys, "new", *words)
        assert (status, out) == (2, "")
        assert told in err
        assert list(tmp_path.iterdir()) == []
