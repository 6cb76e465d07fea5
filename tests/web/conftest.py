"""A page over a database of its own."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.web.site import Visitor, visitor


@pytest.fixture
def site(tmp_path: Path) -> Iterator[Visitor]:
    """Return somebody at a new, empty page on their own machine."""
    made = visitor(tmp_path, names=("localhost",))
    yield made
    made.client.close()
    made.store.close()
