"""Minutes: data that can be edited, walks that add up, errors that name their place.

The numbers are common practice, no source; what is tested is that they add up, not that they are right.
"""

from __future__ import annotations

from itertools import permutations, product
from pathlib import Path

import pytest

from callpath.errors import FaultDataError
from callpath.faults.cost import Work, default_minutes, load_minutes, priced

SHIPPED = Path(__file__).parents[2] / "src/callpath/faults/data/minutes.yaml"


def test_no_way_round_is_shorter_than_the_straight_one() -> None:
    minutes = default_minutes()
    for a, b, c in permutations(["hall", "north attic", "Flat Roof", "crawlspace", "yard", "cellar bar"], 3):
        assert minutes.way(a, c) == minutes.way(c, a)
        assert minutes.way(a, c) <= minutes.way(a, b) + minutes.way(b, c)
    assert minutes.way("north attic", "south attic") > minutes.way("north hall", "south hall") > 0
    assert minutes.way("hall", "hall") == 0


def test_a_test_costs_its_walk_its_cover_and_its_own_minutes() -> None:
    minutes = default_minutes()
    assert minutes.of(Work("volts", ("hall",)), "hall") == minutes.tests["volts"].minutes
    here = minutes.of(Work("ohms", ("yard",), lifted=2), "yard")
    assert here == minutes.tests["ohms"].minutes + 2 * minutes.lift
    there = minutes.of(Work("ohms", ("yard",), lifted=2), "hall")
    assert there == pytest.approx(here + minutes.way("hall", "yard") + minutes.panel)
    # A look needs no cover off; a jumper does, where it is clipped on.
    look = minutes.of(Work("running", ("yard",)), "hall")
    assert look == pytest.approx(minutes.way("hall", "yard") + minutes.tests["running"].minutes)
    jumped = minutes.of(Work("running", ("cellar", "yard"), jumped=True), "hall")
    walks = minutes.way("hall", "cellar") + minutes.way("cellar", "yard")
    assert jumped == pytest.approx(walks + minutes.panel + minutes.jump + 2 * minutes.tests["running"].minutes)


def test_every_test_is_priced_from_every_location_and_ends_at_its_last() -> None:
    locations = ["hall", "cellar", "roof"]
    tests = [Work("volts", ("roof",)), Work("running", ("roof", "cellar")), Work("amps", ("hall",), low_z=True)]
    table, place = priced(default_minutes(), tests, locations)
    assert table.shape == (3, 3)
    assert place.tolist() == [2, 1, 0]
    for (row, at), (column, work) in product(enumerate(locations), enumerate(tests)):
        assert table[row, column] == default_minutes().of(work, at) > 0


def test_a_file_of_ones_own_takes_its_place(tmp_path: Path) -> None:
    own = tmp_path / "mine.yaml"
    text = SHIPPED.read_text(encoding="utf-8")
    own.write_text(text.replace("ways: []", "ways: [{between: [hall, roof], minutes: 30}]"), encoding="utf-8")
    assert load_minutes(own).way("roof", "hall") == 30
    assert load_minutes(own).way("roof", "yard") == default_minutes().way("roof", "yard")


@pytest.mark.parametrize(
    ("old", "new", "told"),
    [
        ("walk: 2.0", "walk: -2.0", "walk"),
        ("walk: 2.0", "walk: two", "walk"),
        ("panel: 2.0", "pannel: 2.0", "'panel'"),
        ("  amps:", "  ampere:", "did you mean 'amps'"),
        ("  volts: {minutes: 0.75", "  volts: {minutes: 0", "tests.volts.minutes"),
        ("ways: []", "ways: [", ":23:1: the end of the file"),
        ("walk: 2.0", "walk: &a 2.0", ":5:7: "),
        ("  amps: {minutes: 1.5", "  # {", "'amps' is missing"),
    ],
)
def test_a_wrong_file_is_answered_with_the_place(tmp_path: Path, old: str, new: str, told: str) -> None:
    text = SHIPPED.read_text(encoding="utf-8")
    assert old in text
    own = tmp_path / "mine.yaml"
    own.write_text(text.replace(old, new), encoding="utf-8")
    with pytest.raises(FaultDataError, match=told) as found:
        load_minutes(own)
    assert "mine.yaml" in str(found.value)


def test_a_file_that_is_not_there_or_no_text_is_answered(tmp_path: Path) -> None:
    (tmp_path / "odd.yaml").write_bytes(b"\xff\xfe\x00")
    (tmp_path / "large.yaml").write_text("#" * 70_000)
    for name, told in (
        ("none.yaml", "no such file"), ("odd.yaml", "UTF-16"), (".", "cannot be read"), ("large.yaml", "larger than 64 KiB"),
    ):  # fmt: skip
        with pytest.raises(FaultDataError, match=told):
            load_minutes(tmp_path / name)
