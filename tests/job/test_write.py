"""A job written is the job read back; files are whole or not there."""

from __future__ import annotations

import os
import stat
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st
from ruamel.yaml import YAML

from callpath.errors import JobError
from callpath.job import Job, read_job
from callpath.job.write import flow, job_data, job_text, write_whole
from tests.job.sound import SOUND
from tests.jobs import data

EXAMPLES = sorted(Path(__file__).parents[2].glob("examples/*.job.yaml"))

COTTAGE = """\
callpath: 1
title: Garden cottage, cooling only on a three-conductor cable
equipment:
  stat:  {part: thermostat/single-supply, at: hall}
  board: {part: indoor/furnace-board, at: cellar, settings: {transformer-va: 40, fuse-amps: 3}}
  cond:  {part: outdoor/condenser, at: yard}
cables:
  wall:    {between: [hall, cellar], length: 45 ft, awg: 18, conductors: [red, white, green]}
  outside: {between: [cellar, yard], length: 30 ft, awg: 18, conductors: [red, white]}
landings:
  wall.red:      [stat.R, board.R]
  wall.white:    [stat.Y, board.Y]
  wall.green:    [stat.G, board.G]
  outside.red:   [board.Y, cond.Y]
  outside.white: [board.C, cond.C]
serves: [cool, fan]
"""


def same(job: Job) -> Job:
    return replace(job, file="")


def test_the_layout_is_that_of_the_format_s_own_example() -> None:
    assert job_text(data(COTTAGE)) == COTTAGE


@pytest.mark.parametrize("path", EXAMPLES, ids=lambda path: path.name.partition(".")[0])
def test_an_example_written_anew_is_the_same_job(path: Path) -> None:
    text = path.read_text(encoding="utf-8")
    job = read_job(text)
    assert same(read_job(job_text(job_data(job)))) == same(job)
    assert same(read_job(job_text(data(text)))) == same(job)


def test_every_key_of_the_format_is_written() -> None:
    job = read_job(SOUND)
    assert same(read_job(job_text(job_data(job)))) == same(job)


def test_a_key_that_no_job_has_is_refused() -> None:
    with pytest.raises(ValueError, match="colour"):
        job_text({"colour": "red"})


# Words that YAML reads as something else where they stand without quotes.
TRAPS = [
    "1",
    "0",
    "-1",
    "1.5",
    "1e5",
    "0x1f",
    "0o17",
    "true",
    "False",
    "null",
    "~",
    ".inf",
    ".nan",
    "=",
    "<<",
    "yes",
    "Y",
    "off",
]


@pytest.mark.parametrize("word", TRAPS)
def test_a_colour_or_id_that_looks_like_a_number_or_a_boolean_stays_a_word(word: str) -> None:
    plain = {
        "equipment": {word: {"part": "accessory/float-switch", "at": word}},
        "cables": {f"c{word}": {"between": [word, word], "conductors": [word]}},
    }
    if "." in word:  # no id, wherever it stands: a dot parts an id from its terminal
        with pytest.raises(JobError):
            read_job(job_text(plain))
        return
    plain["landings"] = {f"c{word}.{word}": [f"{word}.1", f"{word}.2"]}
    job = read_job(job_text(plain))
    assert job.landings == {f"c{word}.{word}": (f"{word}.1", f"{word}.2")}
    assert job.equipment[word].at == word


# What a word of a job can hold; the marks that the reader refuses are none of them.
words = st.text(st.characters(exclude_categories=["Cc", "Cs", "Cf", "Zl", "Zp", "Cn"]), min_size=1, max_size=20).filter(
    lambda word: bool(word.strip())
)
texts = st.text(
    st.characters(exclude_categories=["Cc", "Cs", "Cf", "Zl", "Zp", "Cn"], include_characters="\n\t"), max_size=40
)


@given(title=texts.filter(lambda text: not text or bool(text.strip())), note=texts, at=words, other=words)
def test_any_text_comes_back_as_it_was(title: str, note: str, at: str, other: str) -> None:
    plain = {
        "title": title,
        "note": note if note.strip() else "",
        "equipment": {
            "stat": {"part": "thermostat/heat-only", "at": at},
            "boiler": {
                "part": "indoor/boiler",
                "at": other,
                "settings": {"transformer-va": 50.5, "bonded-common": True},
            },
        },
        "cables": {"wall": {"between": [at, other], "conductors": ["red", "white"]}},
        "landings": {"wall.red": ["stat.R", None]},
        "serves": ["heat"],
    }
    text = job_text(plain)
    job = read_job(text)
    assert (job.title, job.note) == (title, plain["note"])
    assert job.cables["wall"].between == (at, other)
    assert job.landings["wall.red"] == ("stat.R", None)
    assert job.equipment["boiler"].settings["bonded-common"] is True
    assert job_data(job) == data(job_text(job_data(job)))


@given(st.floats(min_value=1e-9, max_value=5000, exclude_min=True))
def test_a_length_keeps_every_digit(length_ft: float) -> None:
    job = read_job(COTTAGE)
    cables = {"wall": replace(job.cables["wall"], length_ft=length_ft), "outside": job.cables["outside"]}
    changed = replace(job, cables=cables)
    assert read_job(job_text(job_data(changed))).cables["wall"].length_ft == length_ft


def test_flow_stands_on_one_line() -> None:
    assert (
        flow({"at": "boiler room", "settings": {"1": None, "power": "O"}})
        == "{at: boiler room, settings: {'1': null, power: O}}"
    )
    assert flow("two\nlines " + "x" * 3000).count("\n") == 0


class TestWriteWhole:
    def test_a_new_file_has_the_rights_of_any_new_file(self, tmp_path: Path) -> None:
        write_whole(tmp_path / "a", "é\r\n")
        (tmp_path / "b").write_text("")
        assert (tmp_path / "a").read_bytes() == "é\r\n".encode()
        assert (tmp_path / "a").stat().st_mode == (tmp_path / "b").stat().st_mode
        assert sorted(path.name for path in tmp_path.iterdir()) == ["a", "b"]

    def test_an_old_file_keeps_its_rights(self, tmp_path: Path) -> None:
        path = tmp_path / "a"
        path.write_text("old")
        path.chmod(0o640)
        write_whole(path, "new")
        assert path.read_text() == "new"
        assert stat.S_IMODE(path.stat().st_mode) == 0o640

    def test_a_link_is_followed(self, tmp_path: Path) -> None:
        (tmp_path / "a").write_text("old")
        (tmp_path / "link").symlink_to("a")
        write_whole(tmp_path / "link", "new")
        assert (tmp_path / "link").is_symlink()
        assert (tmp_path / "a").read_text() == "new"

    def test_a_device_is_written_straight(self) -> None:
        write_whole(Path(os.devnull), "gone")
        assert not Path(os.devnull).is_file()

    @pytest.mark.parametrize("name", ["none/a", "folder", "file/a"])
    def test_what_cannot_be_written_is_named_and_nothing_is_left(self, tmp_path: Path, name: str) -> None:
        (tmp_path / "folder").mkdir()
        (tmp_path / "file").write_text("old")
        with pytest.raises(OSError, match="directory") as caught:
            write_whole(tmp_path / name, "new")
        assert caught.value.filename == str(tmp_path / name)
        assert sorted(path.name for path in tmp_path.iterdir()) == ["file", "folder"]
        assert not list((tmp_path / "folder").iterdir())
        assert (tmp_path / "file").read_text() == "old"


def test_many_threads_write_at_once_and_none_hears_another() -> None:
    """The page serves many people from threads: what one writes never holds a word of another's."""
    wanted = [f"words of {who}: it's {who}, #{who}" for who in range(8)]
    with ThreadPoolExecutor(8) as pool:
        found = list(pool.map(lambda who: [flow([wanted[who]] * 20) for _ in range(25)], range(8)))
    for who, lines in enumerate(found):
        assert {tuple(YAML(typ="safe", pure=True).load(line)) for line in set(lines)} == {(wanted[who],) * 20}
