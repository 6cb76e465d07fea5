"""How long things take, in words."""

from __future__ import annotations

import pytest

from callpath.faults.words import minutes_words


@pytest.mark.parametrize(
    ("minutes", "words"),
    [(0, "under a minute"), (0.5, "under a minute"), (1, "about 1 min"), (4.4, "about 4 min"), (15, "about 15 min")],
)
def test_nothing_takes_no_time(minutes: float, words: str) -> None:
    assert minutes_words(minutes) == words
