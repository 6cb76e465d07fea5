"""What tests in a real browser share: the two sizes, bringing a job in, and the check that a page is sound."""

from __future__ import annotations

import os
import re
import subprocess
import sys
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Page, expect

EXAMPLES = Path(__file__).parents[2] / "examples"
CALLPATH = [sys.executable, "-c", "from callpath.cli import main; main()"]
# On a busy machine a page may take longer than a person likes to wait, and would then be watched as slow work; only the tests
# of slow work are about that.
SERVER = """
from callpath.cli import main
from callpath.web.patience import Patience

Patience.__init__.__kwdefaults__["patient_s"] = 60
main()
"""
PHONE: dict[str, Any] = {
    "viewport": {"width": 360, "height": 740}, "has_touch": True, "is_mobile": True, "color_scheme": "dark",
}  # fmt: skip
DESK: dict[str, Any] = {"viewport": {"width": 1280, "height": 900}, "color_scheme": "light"}


@contextmanager
def serving(folder: Path, *words: str, program: Sequence[str] = (SERVER,)) -> Iterator[str]:
    """Run ``callpath serve`` as a person would, with its records in a folder, and return where it is."""
    place = {**os.environ, "CALLPATH_DATABASE_URL": f"sqlite:///{folder / 'callpath.db'}", "OPENBLAS_NUM_THREADS": "1"}
    command = [sys.executable, "-c", *program, "serve", "--port", "0", *words]
    server = subprocess.Popen(command, env=place, stdout=subprocess.PIPE, text=True)
    assert server.stdout is not None
    said = server.stdout.readline()
    found = re.search(r"http://\S+", said)
    assert found is not None, said
    yield found.group().rstrip("/")
    server.terminate()
    server.wait(60)
    server.stdout.close()


def sound(page: Page) -> None:
    """Check that a page fits its width and that axe finds nothing, serious or slight, that WCAG 2.2 AA forbids."""
    expect(page.locator("body")).not_to_have_class(re.compile("busy"))
    assert page.evaluate("document.documentElement.scrollWidth <= innerWidth"), page.url
    found = Axe().run(
        page, options={"runOnly": ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]}
    )
    told = [(rule["id"], [node["html"][:200] for node in rule["nodes"]]) for rule in found.response["violations"]]
    assert told == [], page.url


def bring(page: Page, example: str) -> str:
    page.goto("/")
    page.set_input_files("#file", EXAMPLES / f"{example}.job.yaml")
    page.get_by_role("button", name="Bring in").click()
    expect(page.locator("#strips-h")).to_be_visible()
    return page.url.partition("?")[0].partition("#")[0]
