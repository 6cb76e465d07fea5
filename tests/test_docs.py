"""The generated pages of docs/ are what the program would write now, and every link of the docs leads somewhere."""

from __future__ import annotations

import importlib.util
import re
from pathlib import Path
from types import ModuleType

import pytest

from callpath.parts.catalogue import Catalogue
from callpath.proof.finding import CODES

ROOT = Path(__file__).parents[1]
DOCS = ROOT / "docs"


def generator() -> ModuleType:
    spec = importlib.util.spec_from_file_location("generate", DOCS / "generate.py")
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


GENERATE = generator()


@pytest.mark.parametrize("page", GENERATE.PAGES)
def test_the_page_is_up_to_date(page: str) -> None:
    written = (DOCS / page).read_text(encoding="utf-8")
    assert written == GENERATE.PAGES[page](), f"docs/{page} is out of date; run `make docs`"


def test_the_pages_tell_everything() -> None:
    parts = (DOCS / "parts.md").read_text(encoding="utf-8")
    catalogue = Catalogue()
    for name in catalogue.names:
        part = catalogue.part(name)
        section = parts.split(f"\n## {name}\n")[1].split("\n## ")[0]
        for word in (*part.terminals, *part.shown_elements, *part.functions, *part.settings, *part.calls):
            assert f"| {word} |" in section, (name, word)
    findings = (DOCS / "findings.md").read_text(encoding="utf-8")
    assert all(f"| `{code}` |" in findings for code in CODES)


@pytest.mark.parametrize("file", sorted([*DOCS.glob("*.md"), *ROOT.glob("*.md")]), ids=lambda file: file.name)
def test_links_lead_somewhere(file: Path) -> None:
    text = file.read_text(encoding="utf-8")
    headings = {GENERATE._anchor(line.lstrip("# ")) for line in text.splitlines() if line.startswith("#")}
    for target in re.findall(r"\]\(([^)]+)\)", text):
        path, _, anchor = target.partition("#")
        if path.startswith(("http:", "https:", "mailto:")):
            continue
        if path:
            assert (file.parent / path).exists(), target
        else:
            assert anchor in headings, target
