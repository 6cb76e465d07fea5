"""What a person sees who waits at a terminal: what is being done, how far it is, and that Ctrl-C stops it."""

from __future__ import annotations

import sys
from collections.abc import Iterator
from contextlib import contextmanager
from threading import Lock
from time import monotonic
from typing import TYPE_CHECKING

from callpath.progress import listening

if TYPE_CHECKING:
    from rich.progress import Progress, TaskID

__all__ = ["busy"]

_SOON_S = 1.0
_BETWEEN_S = 0.1


class _Line:
    """One line on standard error, from the first second on."""

    def __init__(self, doing: str) -> None:
        self._doing = doing
        self._next = monotonic() + _SOON_S
        self._lock = Lock()
        self._shown: tuple[Progress, TaskID] | None = None

    def hear(self, doing: str, done: float | None) -> None:
        self._doing = doing or self._doing
        if monotonic() >= self._next:
            # Work that is shared among threads tells of itself from each of them.
            with self._lock:
                self._show(done)

    def _show(self, done: float | None) -> None:
        now = monotonic()
        self._next = now + _BETWEEN_S
        if self._shown is None:
            self._shown = self._begun()
        bar, task = self._shown
        bar.update(task, description=self._doing, total=None if done is None else 1.0, completed=done or 0.0)

    def _begun(self) -> tuple[Progress, TaskID]:
        # Loaded only where somebody has waited for a second already.
        from rich.console import Console
        from rich.progress import BarColumn, Progress, SpinnerColumn, TextColumn, TimeElapsedColumn

        columns = (
            SpinnerColumn(),
            TextColumn("{task.description}", markup=False),
            BarColumn(bar_width=20),
            TimeElapsedColumn(),
            TextColumn("Ctrl-C stops", style="dim"),
        )
        bar = Progress(*columns, console=Console(stderr=True, highlight=False), transient=True)
        bar.start()
        return bar, bar.add_task(self._doing, total=None)

    def end(self) -> None:
        if self._shown is not None:
            self._shown[0].stop()


@contextmanager
def busy(doing: str) -> Iterator[None]:
    """Show, where a person looks on and waits for more than a second, how far the work inside is; nothing is left of it."""
    if not sys.stderr.isatty():
        yield
        return
    line = _Line(doing)
    try:
        with listening(line.hear):
            yield
    finally:
        line.end()
