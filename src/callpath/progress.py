"""How far slow work has come: told to whoever waits for it, who may stop it.

Slow functions call ``step`` as they go on, which costs next to nothing where nobody listens. Whoever waits listens:

>>> def told(doing: str, done: float | None) -> None:
...     print(doing)
>>> with listening(told):
...     step("settling")
settling

What listens hears of it in the thread where the work is done, and stops it by raising ``StoppedError`` there.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from threading import RLock

__all__ = ["Listener", "Turn", "listening", "step"]

Listener = Callable[[str, float | None], None]
"""Takes what is being done, empty where that has not changed, and how much of it is done, 0 to 1, None where nobody knows."""

_listener: ContextVar[Listener | None] = ContextVar("listener", default=None)

_LOOK_UP_S = 0.2


def step(doing: str = "", done: float | None = None) -> None:
    """Tell that work has gone on.

    Parameters
    ----------
    doing : str
        What is being done now; empty where that has not changed.
    done : float, optional
        How much of it is done, 0 to 1.

    Raises
    ------
    StoppedError
        Whoever listens wants it stopped.
    """
    listener = _listener.get()
    if listener is not None:
        listener(doing, done)


@contextmanager
def listening(listener: Listener) -> Iterator[None]:
    """Hear of the steps of everything that is done inside."""
    token = _listener.set(listener)
    try:
        yield
    finally:
        _listener.reset(token)


class Turn:
    """A lock held by one thread at a time, any number of times; who waits for it can be stopped.

    Parameters
    ----------
    waiting : str
        What who waits is told.
    """

    def __init__(self, waiting: str) -> None:
        self._lock = RLock()
        self._waiting = waiting

    def __enter__(self) -> None:
        if not self._lock.acquire(blocking=False):
            step(self._waiting)
            while not self._lock.acquire(timeout=_LOOK_UP_S):
                step()

    def __exit__(self, *_: object) -> None:
        self._lock.release()
