"""The commands around the page: where it opens, who is let in, and all records in and out of one file."""

from __future__ import annotations

import os
import re
import socket
import subprocess
import sys
import urllib.error
import urllib.request
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest

from callpath.records import history
from callpath.records.store import open_store
from tests.cli.run import run

CALLPATH = [sys.executable, "-c", "from callpath.cli import main; main()"]
TEXT = (Path(__file__).parents[2] / "examples" / "garden-cottage.job.yaml").read_text(encoding="utf-8")


@contextmanager
def serving(folder: Path, *words: str) -> Iterator[list[str]]:
    """Run ``callpath serve`` and hand out the lines that it prints."""
    place = {**os.environ, "CALLPATH_DATABASE_URL": f"sqlite:///{folder / 'callpath.db'}", "OPENBLAS_NUM_THREADS": "1"}
    server = subprocess.Popen([*CALLPATH, "serve", "--port", "0", *words], env=place, stdout=subprocess.PIPE, text=True)
    assert server.stdout is not None
    try:
        lines = []
        while not lines or "Ctrl-C" not in lines[-1]:
            lines.append(server.stdout.readline().rstrip())
        yield lines
    finally:
        server.terminate()
        server.wait(60)
        server.stdout.close()


def status(address: str) -> int:
    try:
        with urllib.request.urlopen(address, timeout=20) as answer:
            return int(answer.status)
    except urllib.error.HTTPError as error:
        with error:
            return error.code


def test_alone_it_opens_here_and_asks_for_nothing(tmp_path: Path) -> None:
    with serving(tmp_path) as lines:
        address = re.search(r"http://127\.0\.0\.1:\d+/", lines[0])
        assert address is not None
        assert "key" not in " ".join(lines)
        assert status(address.group()) == 200
    assert (tmp_path / "callpath.db").exists()


def test_on_the_network_it_asks_for_the_key_that_it_printed(tmp_path: Path) -> None:
    with serving(tmp_path, "--host", "0.0.0.0") as lines:
        found = re.search(r":(\d+)/enter\?key=(\S+)", lines[0])
        assert found is not None
        here = f"http://127.0.0.1:{found.group(1)}"
        assert status(here) == 401
        assert status(f"{here}/enter?key=guess") == 401
        assert "Whoever has this address may change every job" in lines[-1]


def test_a_team_makes_its_first_account_with_a_key(tmp_path: Path) -> None:
    with serving(tmp_path, "--team") as lines:
        assert re.search(r"the first account is made there with this key: \S+", lines[1])


def test_a_port_that_is_taken_is_told(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("CALLPATH_DATABASE_URL", f"sqlite:///{tmp_path / 'callpath.db'}")
    with socket.create_server(("127.0.0.1", 0)) as taken:
        port = taken.getsockname()[1]
        ran = run(capsys, "serve", "--port", str(port))
    assert (ran.status, ran.out) == (2, "")
    assert f"port {port}" in ran.err


def test_records_go_out_into_a_file_and_back(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    file, here, there = (str(tmp_path / name) for name in ("all.callpath-backup", "a.db", "b.db"))
    monkeypatch.setenv("CALLPATH_DATABASE_URL", f"sqlite:///{here}")
    store = open_store()
    with store.writing() as session:
        history.begin(session, TEXT, 1)
    store.close()
    ran = run(capsys, "backup", file, "--json")
    assert (ran.status, ran.document["written"]) == (0, file)
    assert run(capsys, "backup", file).status == 2
    assert run(capsys, "restore", file).status == 2
    monkeypatch.setenv("CALLPATH_DATABASE_URL", f"sqlite:///{there}")
    ran = run(capsys, "restore", file, "--json")
    assert (ran.status, ran.document["jobs"]) == (0, 1)
    ran = run(capsys, "restore", str(tmp_path / "none"))
    assert (ran.status, ran.out) == (2, "")
    assert "none" in ran.err
