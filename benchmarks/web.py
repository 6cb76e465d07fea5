"""How quickly the page answers, with one person and with many, and whether a killed server loses what it has acknowledged.

``python -m benchmarks.web`` measures alone; ``python -m benchmarks.web 200`` kills the server two hundred times.
"""

from __future__ import annotations

import json
import os
import random
import re
import signal
import statistics
import subprocess
import sys
import tempfile
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import httpx2 as httpx

from callpath.job.rewrite import with_changes
from callpath.records import history
from callpath.records.schema import Job
from callpath.records.store import open_store

ROOT = Path(__file__).parent.parent
LARGEST = ROOT / "examples" / "inn-everything.job.yaml"
SMALL = ROOT / "examples" / "garden-cottage.job.yaml"
CALLPATH = [sys.executable, "-c", "from callpath.cli import main; main()"]
EDITS_EACH = 10
THINKING_S = 4.0


@contextmanager
def server(database: Path) -> Iterator[tuple[subprocess.Popen[str], str]]:
    """Run ``callpath serve`` over a database; hands out its process and its address."""
    place = {**os.environ, "CALLPATH_DATABASE_URL": f"sqlite:///{database}", "OPENBLAS_NUM_THREADS": "1"}
    process = subprocess.Popen([*CALLPATH, "serve", "--port", "0"], env=place, stdout=subprocess.PIPE, text=True)
    assert process.stdout is not None
    try:
        found = re.search(r"http://\S+", process.stdout.readline())
        assert found is not None
        address = found.group().rstrip("/")
        for _ in range(200):
            try:
                httpx.get(address)
                break
            except httpx.TransportError:
                time.sleep(0.02)
        yield process, address
    finally:
        process.kill()
        process.wait()
        process.stdout.close()


class Person:
    """Somebody who lands a conductor back and forth on one job of their own, by the forms of the page."""

    def __init__(self, address: str, file: Path) -> None:
        self.client = httpx.Client(base_url=address, follow_redirects=True, timeout=60)
        token = re.search(r'name="csrf" value="(\w+)"', self.client.get("/new").text)
        assert token is not None
        self.csrf = token.group(1)
        # A title of their own, so that nobody's proof is anybody else's.
        raw = with_changes(file.read_text(encoding="utf-8"), title=f"{file.stem} {time.time_ns()}").encode()
        made = self.client.post("/upload", data={"csrf": self.csrf}, files={"file": (file.name, raw)})
        self.job, self.page = made.url.path, made.text
        self.seconds: list[float] = []
        self.errors = 0

    def edit(self, turn: int) -> None:
        """Change what the page shows, and wait until the changed job is there, proved."""
        seen = re.search(r'name="seen" value="(\d+)"', self.page)
        ends = re.findall(r'data-end="([^"]+)"', self.page)
        assert seen is not None
        start = time.perf_counter()
        sent = {"csrf": self.csrf, "seen": seen.group(1), "do": "land-end", "end": ends[turn % len(ends)], "spot": ""}
        answer = self.client.post(f"{self.job}/edit", data=sent)
        self.seconds.append(time.perf_counter() - start)
        self.errors += answer.status_code != 200
        self.page = answer.text


def edits(address: str, people: int, file: Path) -> tuple[list[float], int]:
    """Have several people edit at once; returns how long each edit took [s], and how many failed."""
    crowd = [Person(address, file) for _ in range(people)]

    def work(person: Person) -> None:
        for turn in range(EDITS_EACH):
            # Somebody alone edits as fast as they can; many look at what they see in between.
            time.sleep(0 if people == 1 else random.uniform(0, 2 * THINKING_S))
            person.edit(turn)

    threads = [threading.Thread(target=work, args=(person,)) for person in crowd]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    return [second for person in crowd for second in person.seconds], sum(person.errors for person in crowd)


def page_seconds(address: str, file: Path, part: str = "") -> float:
    """Return the median time until a job's page, or another page of it, is there [s]."""
    person = Person(address, file)
    times = []
    for _ in range(15):
        start = time.perf_counter()
        person.client.get(person.job + part)
        times.append(time.perf_counter() - start)
    return statistics.median(times)


def list_seconds(database: Path, count: int) -> tuple[float, float]:
    """Return the median times until a list of so many jobs is there, and until a search in them is answered [s]."""
    store = open_store(f"sqlite:///{database}")
    text = SMALL.read_text(encoding="utf-8")
    with store.writing() as session:
        for _ in range(count):
            history.begin(session, text, 1)
    store.close()
    with server(database) as (_, address), httpx.Client(base_url=address) as client:
        client.get("/")
        medians = []
        for page in ("/", "/?search=furnace+cottage"):
            times = []
            for _ in range(15):
                start = time.perf_counter()
                client.get(page)
                times.append(time.perf_counter() - start)
            medians.append(statistics.median(times))
    return medians[0], medians[1]


def killed(kills: int, folder: Path, seed: int = 1) -> tuple[int, int, int]:
    """Kill the server while four programs edit; returns what it acknowledged, what of that was lost, and what was half there."""
    database, text = folder / "killed.db", SMALL.read_text(encoding="utf-8")
    store = open_store(f"sqlite:///{database}")
    with store.writing() as session:
        jobs = [history.begin(session, text, 1).id for _ in range(4)]
    store.close()
    acknowledged: list[tuple[str, int, str]] = []
    moments = random.Random(seed)

    def work(address: str, job: str, who: int) -> None:
        with httpx.Client(base_url=address, timeout=20) as client:
            try:
                head, turn = client.get(f"/api/jobs/{job}").json()["head"], 0
                while True:
                    title = f"by {who} at {time.time_ns()}"
                    new = with_changes(text, title=title)
                    answer = client.put(f"/api/jobs/{job}/file", json={"text": new, "seen": head})
                    if answer.status_code == 200:
                        head, turn = answer.json()["number"], turn + 1
                        acknowledged.append((job, head, new))
            except httpx.TransportError:
                return

    for _ in range(kills):
        with server(database) as (process, address):
            threads = [threading.Thread(target=work, args=(address, job, who)) for who, job in enumerate(jobs)]
            for thread in threads:
                thread.start()
            before, waited = len(acknowledged), time.monotonic()
            while len(acknowledged) == before and time.monotonic() - waited < 20:
                time.sleep(0.005)
            time.sleep(moments.uniform(0, 0.8))
            process.send_signal(signal.SIGKILL)
            for thread in threads:
                thread.join()
    store = open_store(f"sqlite:///{database}")
    with store.reading() as session:
        kept = {(job, row.number): row.text for job in jobs for row in session.get_one(Job, job).revisions}
    store.close()
    lost = sum(kept.get((job, number)) != new for job, number, new in acknowledged)
    half = sum(not held.endswith(text[-30:]) for held in kept.values())
    return len(acknowledged), lost, half


def measured(kills: int) -> list[dict[str, object]]:
    """Return everything that is measured of the page."""
    rows: list[dict[str, object]] = []

    def row(name: str, value: float, unit: str) -> None:
        rows.append({"name": name, "value": value, "unit": unit, "versus": "", "ratio": None})

    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        with server(folder / "fast.db") as (_, address):
            row("page: a job ready", page_seconds(address, SMALL), "s")
            row("page: the largest job ready", page_seconds(address, LARGEST), "s")
            played = page_seconds(address, LARGEST, "/sequence?call=heat&ends=600")
            row("page: a call of the largest job played, with the loops of every moment", played, "s")
            for people in (1, 10, 50):
                times, errors = edits(address, people, LARGEST if people < 50 else SMALL)
                which = "largest example" if people < 50 else "small job"
                row(
                    f"page: edit of the {which} proved and shown, {people} people, median",
                    statistics.median(times),
                    "s",
                )
                row(f"page: the same, 99th percentile, {people} people", statistics.quantiles(times, n=100)[-1], "s")
                row(f"page: the same, errors of {len(times)}, {people} people", errors, "")
        ready, searched = list_seconds(folder / "many.db", 1000)
        row("page: the list of 1000 jobs ready", ready, "s")
        row("page: 1000 jobs searched", searched, "s")
        count, lost, half = killed(kills, folder)
        row(f"page: acknowledged edits in {kills} kills of the server", count, "")
        row("page: of these lost", lost, "")
        row("page: of these half there", half, "")
    return rows


if __name__ == "__main__":
    for line in measured(int(sys.argv[1]) if len(sys.argv) > 1 else 20):
        sys.stdout.write(json.dumps(line) + "\n")
