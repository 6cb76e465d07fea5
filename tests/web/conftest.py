"""A page over a database of its own, and one in a real browser."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from argon2 import PasswordHasher
from playwright.sync_api import Browser, Page

from callpath.records import people
from tests.web.browsing import DESK, PHONE, serving
from tests.web.office import Office
from tests.web.site import Visitor, visitor


@pytest.fixture
def site(tmp_path: Path) -> Iterator[Visitor]:
    """Return somebody at a new, empty page on their own machine."""
    made = visitor(tmp_path, names=("localhost",))
    yield made
    made.client.close()
    made.store.close()


@pytest.fixture(scope="module")
def address(tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    """Run ``callpath serve`` as a person would, and return where it is."""
    with serving(tmp_path_factory.mktemp("records")) as where:
        yield where


@pytest.fixture(params=[DESK, PHONE], ids=["desk", "phone"])
def page(request: pytest.FixtureRequest, browser: Browser, address: str) -> Iterator[Page]:
    """Open the page; whatever the browser complains of fails the test."""
    context = browser.new_context(**request.param, base_url=address)
    opened = context.new_page()
    complaints: list[str] = []
    opened.on("console", lambda message: complaints.append(message.text) if message.type == "error" else None)
    opened.on("pageerror", lambda error: complaints.append(str(error)))
    yield opened
    context.close()
    # An answer that says no (a mistake in a form, somebody quicker) is a complaint to the browser, not to us.
    assert [text for text in complaints if "status of 4" not in text] == []


@pytest.fixture
def office(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Office]:
    # As the real ones, only quick: what makes them slow is not what is tested here.
    monkeypatch.setattr(people, "_hasher", lambda: PasswordHasher(time_cost=1, memory_cost=64, parallelism=1))
    people._nobody.cache_clear()
    made = Office(tmp_path)
    yield made
    made.close()
