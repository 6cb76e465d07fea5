from __future__ import annotations

import math
import os
from pathlib import Path

import pytest

import callpath.job
from callpath.errors import CatalogueError, JobError
from callpath.job import Cable, Fault, load_job, read_job
from callpath.parts.catalogue import Catalogue
from tests.job.sound import SOUND, problems_of

EXAMPLES = sorted((Path(__file__).parents[2] / "examples").glob("*.job.yaml"))
SMALL = "callpath: 1\nequipment:\n  stat: {part: thermostat/heat-only, at: hall}\n"


def test_public_face() -> None:
    assert set(callpath.job.__all__) >= {"Job", "Cable", "Equipment", "Fault", "load_job", "read_job"}
    assert all(hasattr(callpath.job, name) for name in callpath.job.__all__)


def test_every_key_is_read() -> None:
    job = read_job(SOUND, file="boat-house.job.yaml")
    assert job.file == "boat-house.job.yaml"
    assert job.title.startswith("Boat house")
    assert (job.note, job.hz, job.serves) == ("Invented.", 50.0, ("cool", "fan"))
    assert list(job.equipment) == ["stat", "board", "float", "cond"]
    assert job.equipment["cond"].part.part == "outdoor/condenser"
    assert job.equipment["cond"].at == "yard"
    outside = job.cables["outside"]
    assert outside.between == ("cellar", "yard")
    assert outside.length_ft == pytest.approx(9 / 0.3048)
    assert (outside.awg, outside.stranded, outside.temperature_c) == (16, True, 40.0)
    assert job.landings["wall.red"] == ("stat.Rc", "board.R")
    assert job.splices == {"through": "cellar"}
    assert job.jumpers == (("stat.Rc", "stat.Rh"),)
    assert job.contacts == {"cond.high-pressure": False}
    assert job.faults == (Fault("open", ("wall.white",)), Fault("missing", ("stat.Rc", "stat.Rh")))


def test_settings_are_given_over_defaults() -> None:
    settings = read_job(SOUND).equipment["board"].settings
    assert settings == {"transformer-va": 40, "fuse-amps": 3, "bonded-common": False, "cooling-blower-from": "Y"}
    supply = "callpath: 1\nequipment: {tr: {part: accessory/transformer, at: attic, settings: {phase: 180, fuse-amps: null}}}"
    assert read_job(supply).equipment["tr"].settings == {"transformer-va": 40, "fuse-amps": None, "phase": 180}


def test_what_is_not_said_has_its_default() -> None:
    job = read_job(SMALL + "cables:\n  spare: {between: [hall, hall], conductors: [red, white]}\n")
    assert job.cables["spare"] == Cable("spare", ("hall", "hall"), ("red", "white"), 50.0, 18, False, 20.0)
    assert job.landings == {"spare.red": (None, None), "spare.white": (None, None)}
    assert (job.title, job.note, job.hz, job.serves) == ("", "", 60.0, None)
    assert (job.splices, job.jumpers, job.contacts, job.faults) == ({}, (), {}, ())


def test_a_key_without_a_value_is_a_key_not_given() -> None:
    job = read_job(SMALL + "title:\ncables:\nlandings:\nsplices:\njumpers:\nserves:\ncontacts:\nfaults:\n")
    assert (job.serves, job.faults, job.landings) == (None, (), {})


def test_capped_ends() -> None:
    job = read_job(SOUND.replace("[stat.G, board.G]", "[null, board.G]").replace("[stat.W, board.W]", "[stat.W, ~]"))
    assert job.landings["wall.green"] == (None, "board.G")
    assert job.landings["wall.white"] == ("stat.W", None)


def test_names_that_look_like_numbers_are_text() -> None:
    job = read_job(
        "callpath: 1\ntitle: 2026\nequipment:\n"
        "  stat: {part: thermostat/heat-only, at: 07}\n  board: {part: indoor/boiler, at: 1.50}\n"
        "cables:\n  w: {between: [07, 1.50], conductors: [1, 2]}\n"
        "landings:\n  w.1: [stat.R, board.R]\n"
    )
    assert job.title == "2026"
    assert job.equipment["stat"].at == "07"
    assert job.cables["w"].between == ("07", "1.50")
    assert job.cables["w"].conductors == ("1", "2")


def test_words_of_older_yaml_are_text() -> None:
    job = read_job("callpath: 1\nequipment:\n  no: {part: thermostat/single-supply, at: on}\nserves: [off, cool]\n")
    assert job.equipment["no"].at == "on"
    assert job.serves == ("off", "cool")


def test_ohms_of_a_bad_connection() -> None:
    def fault(line: str) -> Fault:
        return read_job(SOUND.replace("open: wall.white", line)).faults[0]

    assert fault("high-resistance: wall.white").ohms == 20.0
    assert fault("{high-resistance: cond.contactor, ohms: 7.5}") == Fault("high-resistance", ("cond.contactor",), 7.5)
    assert fault("short: [wall.red, board.chassis]") == Fault("short", ("wall.red", "board.chassis"), None)
    assert fault("short: [cond.chassis, wall.red]").where == ("cond.chassis", "wall.red")
    assert fault("swapped: [wall.white, wall.green]").where == ("wall.white", "wall.green")
    assert fault("dead: board.transformer").kind == "dead"
    assert fault("stuck: stat.contact-Y").kind == "stuck"
    assert fault("tripped: float.switch").kind == "tripped"


def test_bytes_with_and_without_byte_order_mark() -> None:
    assert read_job(SOUND.encode()) == read_job(SOUND) == read_job(b"\xef\xbb\xbf" + SOUND.encode())
    assert read_job(SOUND.replace("\n", "\r\n")).landings == read_job(SOUND).landings


def test_files(tmp_path: Path) -> None:
    path = tmp_path / "boat-house.job.yaml"
    path.write_text(SOUND, encoding="utf-8")
    assert load_job(path) == load_job(str(path)) == read_job(SOUND, file=str(path))


@pytest.mark.parametrize("path", EXAMPLES, ids=lambda path: path.stem)
def test_examples_are_sound(path: Path) -> None:
    job = load_job(path)
    assert job.title
    assert all(math.isfinite(cable.length_ft) for cable in job.cables.values())


def test_a_file_that_is_not_there_names_the_one_that_is(tmp_path: Path) -> None:
    (tmp_path / "boat-house.job.yaml").write_text(SOUND)
    with pytest.raises(JobError) as caught:
        load_job(tmp_path / "boat-hose.job.yaml")
    assert "no such file" in str(caught.value)
    assert "did you mean 'boat-house.job.yaml'?" in str(caught.value)
    assert caught.value.problems[0].line == 0


@pytest.mark.parametrize("name", ["", "nowhere/x.yaml", "x\x00y", "x" * 5000, "\x1b[31m"])
def test_impossible_file_names(name: str, tmp_path: Path) -> None:
    with pytest.raises(JobError) as caught:
        load_job(f"{tmp_path}/{name}")
    assert "\x1b" not in str(caught.value)


def test_only_regular_files(tmp_path: Path) -> None:
    pipe = tmp_path / "pipe"
    os.mkfifo(pipe)
    for path in (tmp_path, pipe, Path("/dev/zero"), Path("/dev/null")):
        with pytest.raises(JobError, match="cannot be read"):
            load_job(path)


def test_another_catalogue(tmp_path: Path) -> None:
    (tmp_path / "indoor").mkdir()
    (tmp_path / "indoor" / "lamp.yaml").write_text(
        "part: indoor/lamp\ntitle: Lamp\nrole: indoor\nterminals:\n  L: {means: [heat]}\nelements: {}\n"
    )
    job = read_job("callpath: 1\nequipment: {a: {part: indoor/lamp, at: hall}}", catalogue=Catalogue([tmp_path]))
    assert job.equipment["a"].part.title == "Lamp"


def test_a_broken_part_is_told_beside_the_other_problems(tmp_path: Path) -> None:
    (tmp_path / "indoor").mkdir()
    (tmp_path / "indoor" / "lamp.yaml").write_text("part: indoor/lamp\n")
    catalogue = Catalogue([tmp_path])
    with pytest.raises(CatalogueError):
        catalogue.part("indoor/lamp")
    with pytest.raises(JobError) as caught:
        read_job("callpath: 2\nequipment: {a: {part: indoor/lamp, at: hall}}", catalogue=catalogue)
    messages = [problem.message for problem in caught.value.problems]
    assert any("callpath must be 1" in message for message in messages)
    assert any("the catalogue's data for 'indoor/lamp' is wrong" in message for message in messages)


def test_problems_of_a_sound_job() -> None:
    assert problems_of(SOUND) == ()
