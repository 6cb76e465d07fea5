"""Measure what must be fast and write it down: ``make bench``.

Every figure is compared with its alternative in the same run, so that a slow or busy machine slows both.
"""

from __future__ import annotations

import json
import statistics
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import numpy as np
from rich.console import Console
from rich.table import Table

from benchmarks.calibration import calibration
from benchmarks.dense import DenseEngine
from benchmarks.fault_states import fault_states, with_shorts
from benchmarks.landing import landing
from benchmarks.policy import policy
from benchmarks.rows import ROOT, Row, process_seconds, row
from benchmarks.spice_loop import seconds_per_state
from benchmarks.troubleshooting import Hunts, hunts, next_test_seconds, settled_everywhere, update_seconds
from benchmarks.web import measured
from callpath.circuit.build import build
from callpath.circuit.network import Network
from callpath.circuit.settle import States, settle
from callpath.circuit.share import settle_shared
from callpath.circuit.solve import Engine, refined_dense
from callpath.job import load_job

SIZES = {"house": 20, "terrace": 40, "hamlet": 80}
STATES = 100_000
DENSE_STATES = 2_000
SPICE_STATES = 60
CHECKED = 3_000
HUNTS = 60
SEEN = "benchmarks/jobs/inn.seen.yaml"
LARGEST = "examples/inn-everything.job.yaml"


def processes() -> list[Row]:
    """Time whole processes, beside a bare Python's start."""
    python, callpath = sys.executable, str(Path(sys.executable).parent / "callpath")
    bare = process_seconds(python, "-c", "pass")
    found = []
    for name, command in {
        "callpath prove on the largest example, whole process": (callpath, "prove", LARGEST, "--json"),
        "callpath prove on three hydronic zones, two sources, six field contacts, whole process": (
            callpath,
            "prove",
            "examples/bathhouse-three-zones.job.yaml",
            "--json",
        ),
        "callpath prove on the smallest example, whole process": (
            callpath,
            "prove",
            "examples/garden-cottage.job.yaml",
            "--json",
        ),
        "callpath troubleshoot on the largest example, whole process": (
            callpath,
            "troubleshoot",
            LARGEST,
            "--seen",
            SEEN,
            "--json",
        ),
        "callpath --help, whole process": (callpath, "--help"),
        "import callpath, whole process": (python, "-c", "import callpath"),
    }.items():
        seconds = process_seconds(*command)
        found.append(row(name, seconds, "s", "a bare Python's start", seconds / bare))
    return found


def papers() -> list[Row]:
    """Time the papers of the largest example: the diagram within a process, the files as whole processes."""
    from callpath.papers import diagram, svg

    job = load_job(ROOT / LARGEST)
    times = {}
    for name, make in {"laid out": lambda: diagram(job), "laid out and drawn": lambda: svg(diagram(job))}.items():
        laps = []
        for _ in range(7):
            start = time.perf_counter()
            make()
            laps.append(time.perf_counter() - start)
        times[name] = statistics.median(laps)
    told = "the same, laid out only"
    found = [
        row(
            "diagram of the largest example", whole := times["laid out and drawn"], "s", told, whole / times["laid out"]
        )
    ]
    callpath = str(Path(sys.executable).parent / "callpath")
    proved = process_seconds(callpath, "prove", LARGEST, "--json")
    with tempfile.TemporaryDirectory() as folder:
        for kind in ("pdf", "html"):
            seconds = process_seconds(callpath, "sheet", LARGEST, "-o", f"{folder}/sheet.{kind}")
            name = f"callpath sheet .{kind} of the largest example, whole process"
            found.append(row(name, seconds, "s", "callpath prove of it, whole process", seconds / proved))
    return found


def part(states: States, count: int) -> States:
    """Return an even choice of some states."""
    chosen = np.linspace(0, len(states) - 1, count).astype(np.intp)
    return States(states.given[chosen], states.live[chosen], states.changes.take(chosen))


def settled_per_second(engines: list[Engine], states: States, times: int) -> float:
    """Return the best rate of a few runs [states/s]; the engines keep what they have learnt, as they do in use."""
    best = float("inf")
    for _ in range(times):
        start = time.perf_counter()
        settle_shared(engines, states)
        best = min(best, time.perf_counter() - start)
    return len(states) / best


def throughput(nodes: int, network: Network, states: States, folder: Path) -> list[Row]:
    """Settle the states three ways."""
    mine = settled_per_second([Engine(network), Engine(network)], states, 3)
    dense = settled_per_second([DenseEngine(network)], part(states, DENSE_STATES), 1)
    spice = 1 / seconds_per_state(network, part(states, SPICE_STATES), folder)
    name = f"settled states per second, {nodes} nodes, single and double faults, 2 cores"
    return [
        row(name, mine, "1/s", f"numpy batched dense solve, {dense:.0f}/s", mine / dense),
        row(name, mine, "1/s", f"ngspice alter loop, {spice:.1f}/s", mine / spice),
    ]


def accuracy(nodes: int, network: Network, states: States) -> list[Row]:
    """Compare settled states with a refined dense solution, node by node."""
    engine = Engine(network)
    some = part(states, min(CHECKED, len(states)))
    settled = settle(engine, some)
    rows = network.drive_rows(settled.bits)
    volts, siemens = engine.solve(rows, some.live, some.changes)
    good = 0
    worst = 0.0
    for i in range(len(some)):
        exact = refined_dense(network, siemens[i], some.live[i] * engine.emf)
        off = np.abs(volts[i] - exact) / np.maximum(np.abs(exact), 1e-3)
        worst = max(worst, float(off.max()))
        good += bool((off < 1e-6).all())
    told = f"refined dense solution, worst {worst:.1e}, {engine.tally.whole} of {engine.tally.solved} solved whole"
    return [row(f"states within 1e-6 at every node, {nodes} nodes", 100 * good / len(some), "%", told)]


MEMORY = """
import sys
sys.path.insert(0, {root!r})
from pathlib import Path
from benchmarks.fault_states import fault_states, with_shorts
from callpath.circuit.build import build
from callpath.circuit.settle import settle
from callpath.circuit.solve import Engine
from callpath.job import load_job

def peak():
    # The kernel's own high-water mark: a child's ru_maxrss begins with that of the process that started it.
    status = dict(line.split(':', 1) for line in Path('/proc/self/status').read_text().splitlines())
    return int(status['VmHWM'].split()[0]) / 1024

circuit = build(load_job({job!r}))
network = with_shorts(circuit)
before = peak()
settle(Engine(network), fault_states(circuit, network, {count}))
print(before, peak())
"""


def memory() -> list[Row]:
    """Return the peak memory of a process that settles 100,000 states at 40 nodes."""
    script = MEMORY.format(root=str(ROOT), job=str(ROOT / "benchmarks/jobs/terrace.job.yaml"), count=STATES)
    done = subprocess.run([sys.executable, "-c", script], capture_output=True, text=True, check=True)
    before, after = map(float, done.stdout.split())
    return [
        row(
            "memory, 100,000 states at 40 nodes, whole process", after, "MB", "the same before settling", after / before
        )
    ]


def faults(so_far: list[Row]) -> list[Row]:
    """Measure troubleshooting: settling all hypotheses, belief, the next test, calibration, and hunts for hidden faults."""
    terrace, cottage = ROOT / "benchmarks/jobs/terrace.job.yaml", ROOT / "examples/garden-cottage.job.yaml"
    hypotheses, states, seconds, dense = settled_everywhere(terrace)
    name = f"{hypotheses} hypotheses on all calls of a 40-node job settled, {states} states"
    spice = next(
        (
            float(str(r["versus"]).split()[-1].removesuffix("/s"))
            for r in so_far
            if "40 nodes" in str(r["name"]) and "ngspice" in str(r["versus"])
        ),
        float("nan"),
    )
    found = [
        row(name, seconds, "s", "numpy batched dense solve", dense / seconds),
        row(name, seconds, "s", "ngspice alter loop", states / spice / seconds),
        row("one update of a belief in 20,000 hypotheses", 1000 * update_seconds(), "ms"),
    ]
    count, seconds = next_test_seconds(ROOT / "examples/orchard-heat-pump-o.job.yaml")
    found.append(row(f"the next test, {count} hypotheses, warm", 1000 * seconds, "ms"))
    done = calibration(cottage, 100_000)
    found.append(row(f"expected calibration error, {done.cases} simulated cases", 100 * done.error, "%"))
    found.append(row("how often the 90 % set holds the truth", 100 * done.covered, "%"))
    plain = hunts(cottage, HUNTS)
    asked: dict[str, Hunts] = {
        "": plain,
        ", one voltage misread": hunts(cottage, HUNTS, wrong="volts"),
        ", one look at what runs wrong": hunts(cottage, HUNTS, wrong="running"),
        ", priors wrong by 3": hunts(cottage, HUNTS, tilt=3.0),
        ", priors wrong by 10": hunts(cottage, HUNTS, tilt=10.0),
    }
    for words, result in asked.items():
        found.append(row(f"hidden faults found{words}", 100 * result.found, "%"))
        against = "as above" if words else ""
        ratio = result.minutes / plain.minutes if words else None
        found.append(row(f"minutes to find them{words}", result.minutes, "min", against, ratio))
    return found


def main() -> None:
    """Measure everything, print it, and write it where the first argument says."""
    target = Path(sys.argv[1] if len(sys.argv) > 1 else "build/bench.json")
    found = processes() + papers()
    with tempfile.TemporaryDirectory() as folder:
        for name, nodes in SIZES.items():
            circuit = build(load_job(ROOT / f"benchmarks/jobs/{name}.job.yaml"))
            network = with_shorts(circuit)
            states = fault_states(circuit, network, STATES)
            found += throughput(nodes, network, states, Path(folder))
            found += accuracy(nodes, network, states)
    found += memory()
    found += policy()
    found += faults(found)
    found += measured(kills=20)
    found += landing()
    target.parent.mkdir(parents=True, exist_ok=True)
    target.write_text(json.dumps(found, indent=2) + "\n", encoding="utf-8")
    table = Table(title=f"written to {target}", title_justify="left")
    for title in ("what", "value", "unit", "against", "ratio"):
        table.add_column(title)
    for item in found:
        ratio = item["ratio"]
        shown = "" if ratio is None else f"{ratio:,.1f}"
        table.add_row(str(item["name"]), f"{item['value']:,.3g}", str(item["unit"]), str(item["versus"]), shown)
    Console().print(table)


if __name__ == "__main__":
    main()
