"""Who waits at a terminal sees how far it is; who reads the output with a program sees nothing of it."""

from __future__ import annotations

import io
import sys

import pytest

from callpath.cli import waiting
from callpath.progress import step


class Screen(io.StringIO):
    def isatty(self) -> bool:
        return True


def work(times: int = 3) -> None:
    for number in range(times):
        step(f"settling state {number}", number / times)


def test_what_takes_long_is_told_on_standard_error(monkeypatch: pytest.MonkeyPatch) -> None:
    screen = Screen()
    monkeypatch.setattr(sys, "stderr", screen)
    monkeypatch.setenv("TERM", "xterm")
    monkeypatch.setattr(waiting, "_SOON_S", 0.0)
    monkeypatch.setattr(waiting, "_BETWEEN_S", 0.0)
    with waiting.busy("beginning"):
        work()
    assert "settling state 2" in screen.getvalue()
    assert "Ctrl-C stops" in screen.getvalue()


def test_what_is_quick_is_not_told(monkeypatch: pytest.MonkeyPatch) -> None:
    screen = Screen()
    monkeypatch.setattr(sys, "stderr", screen)
    with waiting.busy("beginning"):
        work()
    assert screen.getvalue() == ""


def test_a_program_is_told_nothing(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(sys, "stderr", io.StringIO())
    monkeypatch.setattr(waiting, "_SOON_S", 0.0)
    with waiting.busy("beginning"):
        work()
    assert sys.stderr.getvalue() == ""  # type: ignore[attr-defined]
