"""A visitor to the page without a browser: keeps its cookie, and sends forms with the token that a page of ours carries."""

from __future__ import annotations

import re
from collections.abc import Mapping
from html import unescape
from pathlib import Path
from typing import Any

import httpx2 as httpx
from starlette.testclient import TestClient

from callpath.records.store import Store, open_store
from callpath.web.app import create_app

EXAMPLES = Path(__file__).parents[2] / "examples"


class Visitor:
    """Somebody at the page of a store."""

    def __init__(self, store: Store, **options: Any) -> None:
        self.store = store
        self.client = TestClient(
            create_app(store, **options),
            base_url="http://localhost:8240",
            follow_redirects=True,
            raise_server_exceptions=True,
        )

    def get(self, address: str) -> httpx.Response:
        return self.client.get(address)

    def token(self, page: str = "/new") -> str:
        """Return the token of the forms of a page."""
        found = re.search(r'name="csrf" value="([0-9a-f]+)"', self.get(page).text)
        assert found is not None
        return found.group(1)

    def post(self, address: str, data: Mapping[str, Any] | None = None, **more: Any) -> httpx.Response:
        sent = dict(data or {})
        return self.client.post(address, data=sent if "csrf" in sent else {"csrf": self.token(), **sent}, **more)

    def bring(self, example: str) -> str:
        """Bring in an example and return its job's address."""
        raw = (EXAMPLES / f"{example}.job.yaml").read_bytes()
        answer = self.post("/upload", files={"file": (f"{example}.job.yaml", raw)})
        assert answer.status_code == 200, said(answer)
        return answer.url.path

    def seen(self, job: str) -> str:
        """Return the number of the version that a job's page shows."""
        found = re.search(r'name="seen" value="(\d+)"', self.get(job).text)
        assert found is not None
        return found.group(1)

    def edit(self, job: str, do: str, **fields: Any) -> httpx.Response:
        return self.post(f"{job}/edit", {"seen": self.seen(job), "do": do, **fields})

    def file(self, job: str) -> str:
        return self.get(f"{job}/file").text


def visitor(folder: Path, **options: Any) -> Visitor:
    return Visitor(open_store(f"sqlite:///{folder / 'callpath.db'}"), **options)


def said(answer: httpx.Response) -> str:
    """Return a page's words, without its tags."""
    return " ".join(unescape(re.sub(r"<[^>]*>", " ", answer.text)).split())
