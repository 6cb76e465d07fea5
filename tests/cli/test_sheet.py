"""The command that writes papers."""

from __future__ import annotations

from pathlib import Path
from xml.etree import ElementTree as ET

import pytest

from tests.cli.run import run, write


def test_it_writes_the_diagram(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    target = tmp_path / "house.svg"
    ran = run(capsys, "sheet", write(tmp_path), "-o", target, "--call", "cool", "--date", "2026-03-31", "--json")
    assert ran.status == 0
    assert ran.document["written"] == str(target)
    assert "2026-03-31" in target.read_text(encoding="utf-8")
    assert ET.fromstring(target.read_text(encoding="utf-8")).get("role") == "img"
    before = target.read_bytes()
    run(capsys, "sheet", write(tmp_path), "-o", target, "--call", "cool", "--date", "2026-03-31")
    assert target.read_bytes() == before


@pytest.mark.parametrize(
    ("options", "word"),
    [
        (("-o", "house.doc"), ".svg"),
        (("-o", "house"), ".svg"),
        (("-o", "house.svg", "--date", "31.3.2026"), "2026-03-31"),
        (("-o", "house.svg", "--call", "col"), "cool"),
        ((), "--output"),
    ],
)
def test_what_is_wrong_is_told_and_nothing_written(
    options: tuple[str, ...],
    word: str,
    tmp_path: Path,
    capsys: pytest.CaptureFixture[str],
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    job = write(tmp_path)
    monkeypatch.chdir(tmp_path)
    ran = run(capsys, "sheet", job, *options)
    assert ran.status == 2
    assert word in ran.err
    assert list(tmp_path.iterdir()) == [job]
