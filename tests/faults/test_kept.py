"""What a hypothesis shows is reckoned once, whoever asks with whom."""

from __future__ import annotations

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from callpath.faults.kept import Kept

asked = st.lists(st.lists(st.integers(0, 20), max_size=12), min_size=1, max_size=8)


@given(asked)
def test_each_is_reckoned_once_and_shown_in_the_order_asked(questions: list[list[int]]) -> None:
    kept = Kept()
    reckoned: list[int] = []

    def reckon(rows: np.ndarray) -> np.ndarray:
        reckoned.extend(rows.tolist())
        return np.stack([rows * 1.5, rows + 100], axis=1)

    for rows in questions:
        found = kept.of("volts", np.array(rows, np.intp), reckon)
        assert found.tolist() == [[row * 1.5, row + 100] for row in rows]
    assert sorted(reckoned) == sorted({row for rows in questions for row in rows})


def test_readings_are_kept_apart() -> None:
    kept, rows = Kept(), np.arange(3)
    assert kept.of("volts", rows, lambda rows: rows * 1.0).tolist() == [0, 1, 2]
    assert kept.of("amps", rows, lambda rows: rows * 2.0).tolist() == [0, 2, 4]
