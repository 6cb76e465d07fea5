"""Mending what equal letters have led astray: the conductor comes off the letter that lies, and goes where it belongs."""

from __future__ import annotations

from callpath.landing.mend import mend
from tests.jobs import codes, job_of
from tests.proof.test_letters import OLD_STAT


def test_mend_moves_the_old_c_off_the_common() -> None:
    """CP: C once stood for cooling; it belongs on Y."""
    found = mend(job_of(OLD_STAT, landings="{wall.yellow: [stat.C, board.C]}"))
    assert found.verdict == "clean"
    (move,) = found.moves
    assert (move.what, move.before, move.after) == ("wall.yellow", "board.C", "board.Y")
    assert "letter-trap" not in codes(found.proof)
