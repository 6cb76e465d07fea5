"""The parsed copy of the data files is of the very same text, and is not used where it is not."""

from __future__ import annotations

from pathlib import Path

import pytest
from ruamel.yaml import YAML

from callpath.parts.parsed import DATA, parse, parsed_now

FILES = sorted(DATA.rglob("*.yaml"))


def test_the_parsed_copy_is_up_to_date() -> None:
    assert (DATA / "parsed.json").read_text(encoding="utf-8") == parsed_now(), "run `make docs`"


@pytest.mark.parametrize("path", FILES, ids=[path.stem for path in FILES])
def test_it_says_what_the_file_says(path: Path) -> None:
    assert parse(path) == YAML(typ="safe", pure=True).load(path.read_text(encoding="utf-8"))


def test_a_file_of_other_text_is_parsed(tmp_path: Path) -> None:
    path = tmp_path / "sources.yaml"
    path.write_text("a: 1\n", encoding="utf-8")
    assert parse(path) == {"a": 1}
