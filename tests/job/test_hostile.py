"""Text made to hurt: it is refused in a second or two, with little memory and never with anything but a JobError."""

from __future__ import annotations

import random
import time
import tracemalloc
from collections.abc import Callable
from pathlib import Path

import pytest

from callpath.errors import JobError
from callpath.job import load_job, read_job
from callpath.job.decode import MAXIMUM_BYTES
from callpath.job.problems import SHOWN
from callpath.parts.catalogue import default_catalogue
from tests.job.sound import SOUND, problems_of

HEAD = """\
callpath: 1
equipment:
  stat: {part: thermostat/single-supply, at: hall}
  board: {part: indoor/furnace-board, at: cellar}
"""
ROOM = MAXIMUM_BYTES - len(HEAD)
# Of processor time: less than two seconds where nothing else runs; a busy machine's caches are shared.
PATIENCE_S = 4.0


def filled(unit: str) -> str:
    """Repeat a unit until the file is as long as a job file may be."""
    return unit * (ROOM // len(unit.encode()))


def numbered(count: int, line: Callable[[int], str]) -> str:
    return "".join(line(i) for i in range(count))


# Repeated from the first character, or as the rest of a job that began well.
BARE = (
    "[", "{", "[\n", "{a: ", "- ", "-\n", "? ", ": ", "a", "a:\n", '"', "'", "|\n", "&a ", "*a ", "!a ", "%YAML 1.2\n",
    "---\n", "...\n", "\n", "\t", " ", "\u2028",
)  # fmt: skip
AFTER_A_HEAD = (
    "[", "{", "[a,", "[[a],", "{a: 1},", "- ", "a", "a: b: c\n", "a: |\n", "''", '"\\x', "\\", "> \n x", "# x\n", "\r", "😀",
    "callpath: 1\n", "equipment: [\n", 'title: "\nnote: x\n', "title: a: b\n", "landings: {\n", "cables: |\n x\n",
)  # fmt: skip

MANY = {
    "unknown keys": numbered(7000, lambda i: f"equipmen{i}: 1\n"),
    "unknown keys in entries": HEAD + numbered(1200, lambda i: f"  e{i}: {{prt: x, att: y, setings: 1, foo: 2}}\n"),
    "unknown settings": HEAD[:-2] + ", settings: {" + numbered(7000, lambda i: f"fuse-{i}: 1, ") + "}}\n",
    "unknown parts": HEAD + numbered(2000, lambda i: f"  e{i}: {{part: thermostat/singel-{i}, at: x{i}}}\n"),
    "unknown ends": HEAD + "landings:\n" + numbered(2800, lambda i: f"  c{i}.red: [stat.R, bord.{i}]\n"),
    "unknown colours": HEAD
    + f"cables:\n  w: {{between: [hall, cellar], conductors: [{numbered(8000, lambda i: f'c{i}, ')}]}}\nlandings:\n"
    + numbered(1000, lambda i: f"  w.d{i}: [stat.R, board.R]\n"),
    "wrong locations": HEAD
    + "cables:\n"
    + numbered(1000, lambda i: f"  c{i}: {{between: [hall, cellr{i}], conductors: [red, red]}}\n"),
    "ends changed over": HEAD
    + numbered(600, lambda i: f"  e{i}: {{part: outdoor/heat-pump, at: hall}}\n")
    + f"cables:\n  w: {{between: [hall, cellar], conductors: [{numbered(700, lambda i: f'c{i}, ')}]}}\nlandings:\n"
    + numbered(700, lambda i: f"  w.c{i}: [board.R, e{i % 600}.R]\n"),
    "wrong jumpers": HEAD + "jumpers:\n" + numbered(2800, lambda i: f"  - [board.R, board.{i}]\n"),
    "wrong faults": HEAD + "faults:\n" + "  - missing: [board.R, board.W]\n" * 1800,
    "odd ids": HEAD
    + numbered(1000, lambda i: f"  e.{i}: {{part: x, at: y}}\n")
    + "landings:\n"
    + numbered(1000, lambda i: f"  c{i}.red: [e.{i}.R, x.{i}]\n"),
    "one entry again and again": HEAD + "  stat: {part: x, at: y}\n" * 1500,
    "calls again and again": HEAD + f"serves: [{'cool,' * 9000}]\n",
}

NUMBERS = tuple(
    f"callpath: {number}" for number in ("9" * 200_000, "0x" + "f" * 200_000, "1e" + "9" * 200_000, "-.inf", ".nan")
)


def timed_problems(text: str | bytes) -> tuple[str, ...]:
    assert default_catalogue().names
    started = time.process_time()
    problems = problems_of(text)
    assert time.process_time() - started < PATIENCE_S
    assert len(problems) <= SHOWN + 1
    assert all(problem.line >= 1 and problem.column >= 1 for problem in problems)
    assert all(len(problem.message) < 2000 for problem in problems)
    return tuple(problem.message for problem in problems)


@pytest.mark.parametrize("unit", BARE)
def test_one_thing_repeated(unit: str) -> None:
    assert timed_problems(filled(unit))


@pytest.mark.parametrize("unit", AFTER_A_HEAD)
def test_one_thing_repeated_after_a_good_beginning(unit: str) -> None:
    timed_problems(HEAD + filled(unit))


@pytest.mark.parametrize("name", MANY)
def test_many_mistakes(name: str) -> None:
    problems = timed_problems(MANY[name])
    assert sum("from here on, not shown" in problem for problem in problems) == 1
    assert len(problems) == SHOWN + 1


@pytest.mark.parametrize("text", NUMBERS, ids=lambda text: text[:14])
def test_numbers_without_end(text: str) -> None:
    assert any("callpath must be 1" in problem for problem in timed_problems(text))


def test_garbage() -> None:
    dice = random.Random(1)
    for alphabet in ("abc:-[]{},'\"\n \t#&*!|>%@`?xyz019.~", "".join(map(chr, range(32, 127))), "é\u2028😀\n: -"):
        assert timed_problems("".join(dice.choices(alphabet, k=100_000)))
    assert timed_problems(dice.randbytes(200_000))
    assert timed_problems(bytes(dice.choices(range(128, 256), k=200_000))) == (
        "bytes that no text has: this is no text file; save it as UTF-8",
    )


def test_the_nested_thousands() -> None:
    for opened, closed in (("[", "]"), ("{a: ", "}"), ("[\n", "]"), ("- ", "")):
        (problem,) = timed_problems("title: " * (opened != "- ") + opened * 50_000 + closed * 50_000)
        assert "nested deeper" in problem


def test_a_bomb_of_aliases() -> None:
    bomb = "a: &a [x, x]\n" + numbered(
        40, lambda i: f"{chr(98 + i % 20)}{i}: &n{i} [*{f'n{i - 1}' if i else 'a'}, *a]\n"
    )
    problems = timed_problems(HEAD + bomb)
    assert any("is an alias" in problem for problem in problems)
    assert any("is an anchor" in problem for problem in problems)


@pytest.mark.parametrize(
    "tag", ["!!python/object/apply:os.system [x]", "!!python/name:os.system", "!<tag:a> x", "! x", "!!binary eA=="]
)
def test_tags_make_nothing(tag: str) -> None:
    assert any("is a tag" in problem for problem in timed_problems(HEAD + f"title: {tag}\n"))


@pytest.mark.parametrize(
    ("raw", "told"),
    [
        (b"", "the file is empty"),
        (b"\xef\xbb\xbf", "the file is empty"),
        (b"# nothing\n---\n...\n", "the file is empty"),
        (b"[1, 2]", "the file holds a list"),
        (b"callpath:1", "a space after the ':'"),
        (SOUND.encode("utf-16"), "UTF-16"),
        (SOUND.encode("utf-16-le"), "NUL"),
        (SOUND.encode("utf-32"), "UTF-16"),
        (b"\x7fELF\x02\x01\x01\x00", "NUL"),
    ],
)
def test_what_is_no_job_at_all(raw: bytes, told: str) -> None:
    (problem,) = timed_problems(raw)
    assert told in problem


def test_another_encoding_hides_nothing() -> None:
    raw = SOUND.replace("Boat house", "Bootshäuser").replace("awg: 18", "awg: 12").encode("latin-1")
    problems = problems_of(raw)
    assert [(problem.line, problem.column) for problem in problems] == [(2, 14), (11, 58)]
    assert "the byte 0xE4 is not UTF-8" in problems[0].message


def test_a_second_document_is_not_read() -> None:
    (problem,) = timed_problems(SOUND + "---\n" + filled("[")[: MAXIMUM_BYTES - len(SOUND) - 10])
    assert "a second document" in problem


def test_large_files_are_not_read(tmp_path: Path) -> None:
    large = tmp_path / "large.job.yaml"
    with large.open("wb") as stream:
        stream.write(HEAD.encode())
        stream.truncate(100 * 1024 * 1024)
    tracemalloc.start()
    started = time.process_time()
    with pytest.raises(JobError, match="larger than 256 KiB"):
        load_job(large)
    assert time.process_time() - started < PATIENCE_S
    assert tracemalloc.get_traced_memory()[1] < 4 * MAXIMUM_BYTES
    tracemalloc.stop()


@pytest.mark.parametrize(
    "text", [MANY["unknown ends"][:20_000], "title: '" + "x" * (MAXIMUM_BYTES - 9)], ids=["many", "long"]
)
def test_little_memory(text: str) -> None:
    tracemalloc.start()
    assert problems_of(text)
    assert tracemalloc.get_traced_memory()[1] < 32 * 1024 * 1024
    tracemalloc.stop()


def test_a_job_as_long_as_they_come() -> None:
    cables = numbered(600, lambda i: f"  c{i}: {{between: [hall, cellar], conductors: [red, white]}}\n")
    landings = numbered(600, lambda i: f"  c{i}.red: [stat.R, board.R]\n")
    started = time.process_time()
    assert len(read_job(HEAD + "cables:\n" + cables + "landings:\n" + landings).landings) == 1200
    assert time.process_time() - started < PATIENCE_S


@pytest.mark.parametrize(
    ("raw", "looks"),
    [
        (b"\xff\xd8\xff\xe0" + b"\0" * 400_000, "a picture"),
        (b"\x89PNG\r\n\x1a\n", "a picture"),
        (b"\0\0\0\x18ftypheic\0\0\0\0", "a picture"),
        (b"%PDF-1.7\n", "a PDF"),
        (b"PK\x03\x04", "a packed file"),
    ],
)
def test_what_is_no_text_at_all_is_told_by_what_it_looks_like(raw: bytes, looks: str) -> None:
    with pytest.raises(JobError) as told:
        read_job(raw, file="a")
    assert [problem.message for problem in told.value.problems] == [f"that is no job file (it looks like {looks})"]
