"""The README shows what the program prints: every console block is run again and compared."""

from __future__ import annotations

import os
import re
import shlex
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).parent.parent
BLOCKS = re.findall(r"```console\n(.*?)```", (ROOT / "README.md").read_text(encoding="utf-8"), re.DOTALL)
COMMANDS = [
    (command, shown.rstrip("\n"))
    for block in BLOCKS
    for command, shown in re.findall(r"^\$ (callpath .*)\n((?:(?!\$ callpath ).*\n)*)", block, re.MULTILINE)
]


def run(command: str) -> str:
    """Return what a command prints on an 80 column screen without colour, trailing blanks taken off."""
    done = subprocess.run(
        [str(Path(sys.executable).parent / "callpath"), *shlex.split(command)[1:]],
        capture_output=True,
        text=True,
        cwd=ROOT,
        env={**os.environ, "COLUMNS": "80", "NO_COLOR": "1", "TERM": "dumb", "PYTHONIOENCODING": "utf-8"},
        check=False,
    )
    return "\n".join(line.rstrip() for line in done.stdout.splitlines())


def test_there_are_examples() -> None:
    assert len(COMMANDS) >= 4


@pytest.mark.parametrize(("command", "shown"), COMMANDS, ids=[command for command, _ in COMMANDS])
def test_the_readme_shows_what_is_printed(command: str, shown: str) -> None:
    assert run(command) == shown


def test_the_job_in_the_readme_is_the_example() -> None:
    readme = (ROOT / "README.md").read_text(encoding="utf-8")
    shown = re.search(r"```yaml\n(.*?)```", readme, re.DOTALL)
    assert shown is not None
    example = (ROOT / "examples/garden-cottage-green-on-common.job.yaml").read_text(encoding="utf-8")
    kept = [line for line in example.splitlines() if line and not line.startswith(("#", "note:"))]
    assert [line for line in shown.group(1).splitlines() if line] == kept
