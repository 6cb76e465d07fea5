"""Running ngspice on netlists that callpath writes: many circuits as one, told apart by their nodes' names."""

from __future__ import annotations

import re
import shutil
import subprocess
from pathlib import Path

import numpy as np

NODE = re.compile(r"^(?:n|x|e)\d+$")


def ngspice() -> str:
    """Return the program; without it nothing is compared, and that is a failure."""
    found = shutil.which("ngspice")
    assert found, "ngspice is not installed: `make test` installs it as root, or says what to install"
    return found


def version() -> str:
    """Return what ngspice says of its version."""
    said = subprocess.run([ngspice(), "--version"], capture_output=True, text=True, check=True).stdout
    found = re.search(r"ngspice-(\S+)", said)
    assert found, said
    return found.group(1)


def _own(line: str, which: int) -> str:
    name, *rest = line.split()
    return " ".join([f"{name}_{which}", *(f"{word}c{which}" if NODE.match(word) else word for word in rest)])


def solve(netlists: list[str], folder: Path) -> list[dict[str, complex]]:
    """Return the phasor of every node of every netlist [V RMS], all solved by one run of ngspice.

    The circuits share nothing but node 0, so solving them side by side changes none of them.
    """
    lines = ["* many circuits"]
    hertz = "60"
    for which, text in enumerate(netlists):
        for line in text.splitlines():
            if line and not line.startswith(("*", ".")):
                lines.append(_own(line, which))
            elif line.startswith(".ac"):
                hertz = line.split()[-1]
    raw = folder / "all.raw"
    lines += [".control", "set filetype=ascii", f"ac lin 1 {hertz} {hertz}", f"write {raw}", "quit", ".endc", ".end"]
    deck = folder / "all.cir"
    deck.write_text("\n".join(lines) + "\n", encoding="utf-8")
    done = subprocess.run([ngspice(), "-b", str(deck)], capture_output=True, text=True, check=False)
    assert raw.exists(), done.stdout[-2000:] + done.stderr[-2000:]
    head, _, values = raw.read_text(encoding="utf-8").partition("Values:\n")
    names = re.findall(r"^\t\d+\t(\S+)\t\S+", head.partition("Variables:")[2], re.MULTILINE)
    numbers = re.findall(r"([-+]?[\d.]+e[-+]?\d+),([-+]?[\d.]+e[-+]?\d+)", values)
    assert len(numbers) == len(names) > 0
    answers: list[dict[str, complex]] = [{} for _ in netlists]
    for name, (real, imaginary) in zip(names, numbers, strict=True):
        found = re.match(r"v\((n\d+)c(\d+)\)$", name)
        if found:
            answers[int(found.group(2))][found.group(1)] = complex(float(real), float(imaginary))
    return answers


def disagreement(mine: np.ndarray, theirs: np.ndarray) -> np.ndarray:
    """Return the difference at every node as a part of the node's own magnitude, down to a millivolt."""
    return np.asarray(np.abs(mine - theirs) / np.maximum(np.abs(theirs), 1e-3))
