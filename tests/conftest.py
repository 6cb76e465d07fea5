"""Settings of the whole suite, made before numpy is imported anywhere."""

from __future__ import annotations

import os
import shutil
import subprocess
from collections.abc import Iterator

# The matrices of a control circuit are small; threads that share one out among themselves cost many times what they save.
os.environ["OPENBLAS_NUM_THREADS"] = "1"
# A developer's own parts have no place in the tests.
os.environ.pop("CALLPATH_PARTS", None)

import pytest
from hypothesis import HealthCheck, settings
from playwright.sync_api import Browser, expect, sync_playwright

# `make test` tries the same examples every time, so that a failure is nobody's bad luck;
# HYPOTHESIS_PROFILE=search looks further and elsewhere each time.
_PATIENT = {"deadline": None, "suppress_health_check": [HealthCheck.too_slow]}
settings.register_profile("callpath", derandomize=True, **_PATIENT)
settings.register_profile("search", max_examples=1000, **_PATIENT)
settings.load_profile(os.environ.get("HYPOTHESIS_PROFILE", "callpath"))
# A machine may be busy with other things; what is expected is there long before, and only a failure waits it out.
expect.set_options(timeout=30_000)


def pytest_report_header() -> str:
    """Say which ngspice the comparison runs; that it runs is for its tests to insist on."""
    found = shutil.which("ngspice")
    if not found:
        return "ngspice: not installed"
    said = subprocess.run([found, "--version"], capture_output=True, text=True, check=False).stdout
    return "compared with " + next(
        (word for word in said.split() if word.startswith("ngspice-")), "ngspice of no known version"
    )


@pytest.fixture(scope="module")
def browser() -> Iterator[Browser]:
    """Start the Chromium of the machine; ``make chromium`` installs it."""
    chromium = shutil.which("chromium") or shutil.which("chromium-browser") or shutil.which("google-chrome")
    assert chromium is not None, "no Chromium on the path: make chromium"
    with sync_playwright() as playwright:
        started = playwright.chromium.launch(executable_path=chromium, args=["--no-sandbox"])
        yield started
        started.close()
