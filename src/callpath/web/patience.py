"""Work that takes longer than a person likes to look at a blank page: it goes on, and they see how far it is and can stop it.

A request that is not answered within a second becomes work: the browser is sent to a page of its own that tells how far it
is. What would have been the answer is kept until it is fetched. Pages know nothing of this; the engine tells of its steps to
whoever listens (``callpath.progress``), and is stopped there.

Written against the plain ASGI interface, so that it holds for every page alike.
"""

from __future__ import annotations

import asyncio
import logging
import secrets
from collections.abc import Mapping
from dataclasses import dataclass, field
from time import monotonic
from typing import Any

from starlette.datastructures import Headers
from starlette.responses import JSONResponse, RedirectResponse, Response

from callpath.errors import CallpathError, StoppedError
from callpath.progress import listening
from callpath.web.guard import COOKIE, Application, Message, Receive, Scope, Send

__all__ = ["Desk", "Patience", "Work"]

_PATIENT_S = 1.0
_MOST = 64
_KEPT_S = 900.0
# What lets somebody in or out is waited for: its answer holds a login, or ends the one that would fetch it.
_WAITED_FOR = ("/login", "/first", "/logout", "/enter", "/me", "/people", "/api/login")


@dataclass
class Work:
    """A request that is being worked on, and its answer when there is one.

    ``address`` is what was asked for, ``holder`` the cookie of who asked, ``person_id`` who that is as soon as that is known;
    ``done`` is how much of what it is ``doing`` is done, None where nobody knows.
    """

    method: str
    address: str
    holder: str
    person_id: int | None = None
    key: str = field(default_factory=lambda: secrets.token_urlsafe(12))
    doing: str = "waiting for its turn"
    done: float | None = None
    began: float = field(default_factory=monotonic)
    ended: float | None = None
    stopping: bool = False
    stale: bool = False
    answer: list[Message] = field(default_factory=list)

    def hear(self, doing: str, done: float | None) -> None:
        """Take down how far it is; called in the thread that does it."""
        if self.stopping:
            raise StoppedError("this was stopped, and nothing was changed")
        if doing:
            self.doing, self.done = doing, done
        elif done is not None:
            self.done = done

    @property
    def seconds(self) -> float:
        """How long it has taken so far, or took."""
        return (self.ended or monotonic()) - self.began

    @property
    def headers(self) -> Headers:
        """The headers of its answer."""
        return Headers(raw=list(self.answer[0]["headers"]) if self.answer else [])

    @property
    def is_file(self) -> bool:
        """Whether its answer is a file to take away rather than a page."""
        return self.headers.get("content-disposition", "").startswith("attachment")

    def as_json(self) -> dict[str, Any]:
        """Return how far it is."""
        return {
            "state": "working" if self.ended is None else "ready",
            "doing": self.doing,
            "done": self.done,
            "seconds": round(self.seconds, 1),
        }


class Kept(Response):
    """The answer of work that has ended, handed over."""

    def __init__(self, work: Work) -> None:
        super().__init__()
        self.work = work

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Send it."""
        for message in self.work.answer:
            await send(message)


class Desk:
    """All work that goes on, and what has ended and waits to be fetched."""

    def __init__(self) -> None:
        self._works: dict[str, Work] = {}

    def put(self, work: Work) -> bool:
        """Take work in; False where there is too much already, and who asks has to wait at the page."""
        now = monotonic()
        for old in [old for old in self._works.values() if old.ended is not None and now - old.ended > _KEPT_S]:
            del self._works[old.key]
        while len(self._works) >= _MOST:
            ended = next((old for old in self._works.values() if old.ended is not None), None)
            if ended is None:
                return False
            del self._works[ended.key]
        self._works[work.key] = work
        return True

    def find(self, key: str, person_id: int) -> Work:
        """Return somebody's work.

        Raises
        ------
        CallpathError
            There is none, or it is another's.
        """
        work = self._works.get(key)
        if work is None or work.person_id != person_id:
            raise CallpathError("there is no such work, or its answer has been fetched already")
        return work

    def stop(self, work: Work) -> None:
        """Stop work; nobody waits for its answer any more."""
        work.stopping = True
        self._works.pop(work.key, None)

    def take(self, work: Work) -> Kept:
        """Hand the answer of work over, once."""
        self._works.pop(work.key, None)
        return Kept(work)

    def asked_before(self, holder: str, address: str) -> Work | None:
        """Return the work on a page that the same browser has asked for already."""
        found = (w for w in self._asked_by(holder) if w.address == address and not w.stale)
        return next(found, None)

    def changed(self, holder: str) -> None:
        """Hear that a browser has sent a form: pages that it asked for earlier may not tell what is so now."""
        for work in self._asked_by(holder):
            work.stale = True

    def _asked_by(self, holder: str) -> list[Work]:
        return [work for work in self._works.values() if work.method == "GET" and work.holder == holder]

    def stop_all(self) -> None:
        """Stop everything: the server ends."""
        for work in self._works.values():
            work.stopping = True


class Patience:
    """Wraps an application."""

    def __init__(self, application: Application, desk: Desk, *, patient_s: float = _PATIENT_S) -> None:
        self.application = application
        self.desk = desk
        self.patient_s = patient_s

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Serve one request."""
        if scope["type"] == "lifespan":
            await self.application(scope, self._until_it_ends(receive), send)
            return
        asked = _asked(scope)
        if asked is None:
            await self.application(scope, receive, send)
            return
        if asked.method != "GET":
            self.desk.changed(asked.holder)
        elif (before := self.desk.asked_before(asked.holder, asked.address)) is not None:
            ready = before.ended is not None
            await (self.desk.take(before) if ready else _see(before))(scope, receive, send)
            return
        whole = asyncio.Event()

        async def heard() -> Message:
            message = await receive()
            if not message.get("more_body"):
                whole.set()
            return message

        if asked.method == "GET":
            whole.set()
        task = asyncio.create_task(self._work(asked, scope, heard))
        received = asyncio.create_task(whole.wait())
        # What is still being sent is not being worked on yet.
        await asyncio.wait({task, received}, return_when=asyncio.FIRST_COMPLETED)
        received.cancel()
        await asyncio.wait({task}, timeout=self.patient_s)
        asked.person_id = scope["state"].get("person_id")
        if not task.done() and asked.person_id is not None and self.desk.put(asked):
            task.add_done_callback(_told)
            await _see(asked)(scope, receive, send)
            return
        await asyncio.wait({task})
        for message in asked.answer:
            await send(message)
        task.result()

    async def _work(self, work: Work, scope: Scope, receive: Receive) -> None:
        async def keep(message: Message) -> None:
            work.answer.append(message)

        try:
            with listening(work.hear):
                await self.application(scope, receive, keep)
        finally:
            work.ended = monotonic()

    def _until_it_ends(self, receive: Receive) -> Receive:
        async def heard() -> Message:
            message = await receive()
            if message["type"] == "lifespan.shutdown":
                self.desk.stop_all()
            return message

        return heard


def _asked(scope: Mapping[str, Any]) -> Work | None:
    """Return a request as work; None where nobody would see how far it is."""
    headers = Headers(raw=scope["headers"])
    path = str(scope["path"])
    holder = next(
        (word.strip() for word in headers.get("cookie", "").split(";") if word.strip().startswith(f"{COOKIE}=")), ""
    )
    wanted = (
        "respond-async" in headers.get("prefer", "")
        if path.startswith("/api/")
        else bool(holder) and "text/html" in headers.get("accept", "")
    )
    if not wanted or path.startswith(("/api/underway/", "/underway/", "/static/", "//", *_WAITED_FOR)):
        return None
    query = scope["query_string"].decode("latin-1")
    return Work(scope["method"], scope["raw_path"].decode("latin-1") + (f"?{query}" if query else ""), holder)


def _see(work: Work) -> Response:
    """Send who asked to where they see how far it is."""
    if work.address.startswith("/api/"):
        where = {"location": f"/api/underway/{work.key}", "preference-applied": "respond-async"}
        return JSONResponse(work.as_json(), 202, headers=where)
    return RedirectResponse(f"/underway/{work.key}", 303)


def _told(task: asyncio.Task[None]) -> None:
    """Leave word of what went wrong when nobody waited, as the server does of everything else."""
    if not task.cancelled() and (error := task.exception()) is not None:
        logging.getLogger("uvicorn.error").error("Exception in ASGI application\n", exc_info=error)
