"""Finding parts by what a person remembers of them. Which parts must be found is plain from their names and strips."""

from __future__ import annotations

import pytest

from callpath.parts.catalogue import default_catalogue
from callpath.parts.find import ROLES, find_parts


def names(words: str, role: str = "") -> list[str]:
    return [part.part for part in find_parts(words, role)]


@pytest.mark.parametrize(
    ("words", "first"),
    [
        ("float", "accessory/float-switch"),
        ("HEAT PUMP outdoor", "outdoor/heat-pump"),
        ("furnace board two", "indoor/two-stage-furnace-board"),
        ("indoor/boiler-tt", "indoor/boiler-tt"),
        ("condensar", "outdoor/condenser"),
        ("thermstat Rc Rh", "thermostat/split-supply"),
        ("COM NO NC relay", "accessory/relay"),
    ],
)
def test_a_part_is_found_by_what_is_remembered_of_it(words: str, first: str) -> None:
    assert first in names(words)[:3]


def test_letters_are_terminals_and_no_syllables() -> None:
    """Whatever is found by Y2 has a terminal, or a word of its name, that begins so."""
    for name in names("y2"):
        assert any(letters.casefold() == "y2" for letters in default_catalogue().part(name).terminals)


def test_without_words_every_part_stands_by_its_role() -> None:
    found = find_parts("")
    assert sorted(part.part for part in found) == sorted(default_catalogue().names)
    assert [part.role for part in found] == sorted((part.role for part in found), key=ROLES.index)
    assert {part.role for part in find_parts("", "outdoor")} == {"outdoor"}


def test_what_nothing_is_like_finds_nothing() -> None:
    assert names("qqqq zzzz") == []
    assert names("relay qqqqqq") == []


def test_more_words_never_find_more() -> None:
    assert set(names("relay coil")) <= set(names("relay"))
