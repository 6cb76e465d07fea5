"""A line of the result, and how long a whole process takes."""

from __future__ import annotations

import statistics
import subprocess
import time
from pathlib import Path

ROOT = Path(__file__).parent.parent
Row = dict[str, object]


def row(name: str, value: float, unit: str, versus: str = "", ratio: float | None = None) -> Row:
    """Return one line of the result."""
    return {"name": name, "value": value, "unit": unit, "versus": versus, "ratio": ratio}


def process_seconds(*command: str) -> float:
    """Return the median time of a whole process over seven runs [s]."""
    times = []
    for _ in range(7):
        start = time.perf_counter()
        subprocess.run(command, cwd=ROOT, capture_output=True, check=False)
        times.append(time.perf_counter() - start)
    return statistics.median(times)
