"""What stands before every page: whose name the server answers to, how much it reads, and what it lets a browser do.

Written against the plain ASGI interface, so that a body that is too large is turned away while it comes in, before anything has
been made of it.
"""

from __future__ import annotations

import secrets
from collections.abc import Awaitable, Callable, Collection, MutableMapping
from typing import Any
from urllib.parse import urlsplit

from starlette.exceptions import HTTPException

__all__ = ["COOKIE", "MOST_BYTES", "Application", "Guard", "Message", "Receive", "Scope", "Send"]

COOKIE = "callpath"

MOST_BYTES = 12 * 1024 * 1024
"""No request is larger than this, but for photos: one from a telephone, and some room."""
MOST_PHOTOS_BYTES = 62 * 1024 * 1024
"""Several photos at once."""

Scope = MutableMapping[str, Any]
Message = MutableMapping[str, Any]
Receive = Callable[[], Awaitable[Message]]
Send = Callable[[Message], Awaitable[None]]
Application = Callable[[Scope, Receive, Send], Awaitable[None]]

_SAFE = ("GET", "HEAD", "OPTIONS")


class Guard:
    """Wraps an application; ``names`` are the host names it answers to, None for any."""

    def __init__(self, application: Application, names: Collection[str] | None) -> None:
        self.application = application
        self.names = names

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Serve one request."""
        if scope["type"] != "http":
            await self.application(scope, receive, send)
            return
        headers = {key.decode("latin-1"): value.decode("latin-1") for key, value in scope["headers"]}
        if "\0" in scope["path"] or b"%00" in scope["query_string"]:
            # No database keeps one, so no address of ours has one.
            await _answer(send, 400, "an address holds no NUL")
            return
        if refusal := self._refusal(scope["method"], scope["path"], headers):
            await _answer(send, *refusal)
            return
        nonce = secrets.token_urlsafe(16)
        scope.setdefault("state", {})["nonce"] = nonce

        async def guarded_send(message: Message) -> None:
            if message["type"] == "http.response.start":
                message["headers"] = [*message["headers"], *_headers(nonce, scope["path"])]
                if ticket := scope["state"].get("new_ticket"):
                    message["headers"].append((b"set-cookie", _cookie(ticket, scope["scheme"] == "https")))
            await send(message)

        seen, most = 0, _most(scope["path"])

        async def guarded_receive() -> Message:
            nonlocal seen
            message = await receive()
            seen += len(message.get("body", b""))
            if seen > most:
                raise HTTPException(413, _too_large(most))
            return message

        await self.application(scope, guarded_receive, guarded_send)

    def _refusal(self, method: str, path: str, headers: dict[str, str]) -> tuple[int, str] | None:
        """Return the status and the reason for which a request is turned away unread."""
        host = headers.get("host", "")
        if self.names is not None and _split(f"//{host}")[0] not in self.names:
            # A page elsewhere may have pointed a name of its own at this machine.
            return 421, "callpath does not answer to this name; use the address that it printed when it started"
        if _whole(headers.get("content-length", "0")) > _most(path):
            return 413, _too_large(_most(path))
        if method not in _SAFE:
            origin, site = headers.get("origin"), headers.get("sec-fetch-site", "same-origin")
            foreign = origin is not None and _split(origin)[1] != host
            if foreign or site not in ("same-origin", "none"):
                return 403, "this came from another page than callpath's own, so nothing was done"
        return None


def _split(address: str) -> tuple[str, str]:
    """Return the host's name in an address, and the name with its port; nothing of what is no address."""
    try:
        parts = urlsplit(address)
        return parts.hostname or "", parts.netloc
    except ValueError:
        return "", ""


def _whole(word: str) -> int:
    return int(word) if word.isascii() and word.isdecimal() else 0


def _most(path: str) -> int:
    return MOST_PHOTOS_BYTES if path.startswith("/jobs/") and path.endswith("/photos") else MOST_BYTES


def _too_large(most: int) -> str:
    return f"too large: at most {most // 2**20} MB can be sent at once"


def _cookie(ticket: str, secure: bool) -> bytes:
    """Return a cookie for the server alone: no script reads it, no other site's page sends it."""
    words = f"{COOKIE}={ticket}; Max-Age={30 * 86400}; Path=/; HttpOnly; SameSite=Strict"
    return (words + ("; Secure" if secure else "")).encode()


def _headers(nonce: str, path: str) -> list[tuple[bytes, bytes]]:
    policy = (
        f"default-src 'none'; script-src 'self'; style-src 'self' 'nonce-{nonce}'; img-src 'self' blob:; connect-src 'self'; "
        "font-src 'self'; form-action 'self'; manifest-src 'self'; frame-ancestors 'none'; base-uri 'none'"
    )
    fresh = "public, max-age=3600" if path.startswith("/static/") else "no-store"
    return [
        (b"content-security-policy", policy.encode()),
        (b"x-content-type-options", b"nosniff"),
        (b"x-frame-options", b"DENY"),
        (b"referrer-policy", b"same-origin"),
        (b"cross-origin-opener-policy", b"same-origin"),
        (b"cross-origin-resource-policy", b"same-origin"),
        (b"permissions-policy", b"camera=(self), geolocation=(), microphone=()"),
        (b"cache-control", fresh.encode()),
    ]


async def _answer(send: Send, status: int, text: str) -> None:
    raw = text.encode()
    headers = [
        (b"content-type", b"text/plain; charset=utf-8"),
        (b"content-length", str(len(raw)).encode()),
        (b"connection", b"close"),
        *_headers("none", "/"),
    ]
    await send({"type": "http.response.start", "status": status, "headers": headers})
    await send({"type": "http.response.body", "body": raw})
