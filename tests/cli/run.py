"""Running the command line: within this process, and as a user would."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest

from callpath.cli import main
from tests.jobs import HOUSE, Data, amended

ROOT = Path(__file__).parents[2]


@dataclass(frozen=True)
class Ran:
    """What a command printed and its exit status."""

    status: int
    out: str
    err: str

    @property
    def document(self) -> Any:
        """The JSON document on standard output."""
        return json.loads(self.out)


def run(capsys: pytest.CaptureFixture[str], *arguments: object) -> Ran:
    """Run a command within this process; anything but an exit is a traceback that a user would see."""
    with pytest.raises(SystemExit) as left:
        main([str(argument) for argument in arguments])
    printed = capsys.readouterr()
    return Ran(int(left.value.code or 0), printed.out, printed.err)


def as_user(*arguments: object, cwd: Path = ROOT, **environment: str) -> Ran:
    """Run the installed command in a process of its own."""
    ran = subprocess.run(
        [Path(sys.executable).with_name("callpath"), *map(str, arguments)],
        capture_output=True,
        encoding="utf-8",
        errors="replace",
        check=False,
        cwd=cwd,
        env={**os.environ, **environment},
        timeout=60,
    )
    return Ran(ran.returncode, ran.stdout, ran.stderr)


def write(folder: Path, base: Data = HOUSE, name: str = "house.job.yaml", **changes: Any) -> Path:
    """Write a job file; JSON is YAML."""
    file = folder / name
    file.write_text(json.dumps(amended(base, **changes), ensure_ascii=False), encoding="utf-8")
    return file
