"""Dangers: a source into a short, two sources joined, a load over its rating, a terminal of another class."""

from __future__ import annotations

import itertools
from collections.abc import Iterator, Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from callpath.circuit.copper import COPPER, LOADS, Copper
from callpath.circuit.network import EARTH, Branch
from callpath.circuit.path import branches, loop, named, through
from callpath.circuit.snapshot import Snapshot
from callpath.circuit.solve import Bools, Changes, Ints
from callpath.proof.finding import Finding
from callpath.proof.states import Examined
from callpath.proof.weak import larger

__all__ = ["over_voltage", "shorts", "sources_tied", "wrong_class"]

# A way through copper alone is told before any way through a load.
_PAST_A_LOAD = 1000.0
# Less than this through a second winding is leakage and cable capacitance, not a joint: an idle input draws 15 mA.
_THROUGH_AMPS = 0.005
_OVER = 1.10
# Two sources that together drive so much more through both than one alone does are turned against each other.
_AGAINST = 1.3


def shorts(examined: Examined) -> Iterator[Finding]:
    """A source that opens a fuse, or burns where no fuse opens, with the way its current takes before that."""
    circuit = examined.circuit
    network = circuit.network
    told: dict[int, list[tuple[set[str], Finding]]] = {}
    for i, bit in enumerate(network.bits):
        if bit.sense == "volts" or not examined.opened[:, i].any():
            continue
        source = _source_behind(examined, i)
        hurt: set[str] = set()
        for case in examined.cases:
            states = np.arange(case.first, case.first + case.count)
            hit = states[examined.opened[states, i]]
            # What a call does by itself it does in a mix too.
            if not len(hit) or (case.mixed and (hurt & {"off", *(call for _, call in case.asks)})):
                continue
            hurt.add(case.call)
            before = examined.snapshot(int(hit[0]), "before_fuse")
            path = loop(before, source)
            if _passes_other_source(before, source):
                continue
            known = next(
                (known for known in told.setdefault(source, []) if known[0] <= set(path) or set(path) <= known[0]), None
            )
            calls = examined.calls_of(hit)
            if known is None:
                finding = _short(before, source, bit.name, bit.sense, path, calls)
                if case.mixed:
                    finding = replace(finding, message=finding.message + examined.together(hit))
                told[source].append((set(path), finding))
            elif not case.mixed:
                told[source].remove(known)
                calls = tuple(call for call in examined.calls if call in {*known[1].calls, *calls})
                told[source].append((known[0], replace(known[1], calls=calls)))
    for findings in told.values():
        for _, finding in findings:
            yield finding


def _short(
    before: Snapshot, source: int, opened: str, sense: str, path: tuple[str, ...], calls: tuple[str, ...]
) -> Finding:
    name = before.circuit.source_names[source]
    amps = before.sources[name].amps
    what = f"{opened} opens" if sense == "fuse" else f"{name} burns, no fuse opens first"
    loads = {
        branch.name: abs(before.amps[i])
        for i, branch in enumerate(before.circuit.network.branches)
        if branch.kind in LOADS and abs(before.amps[i]) > 0.02 * amps
    }
    if sum(loads.values()) > 0.5 * amps:
        # Nothing is shorted: what the source feeds is simply too much, together.
        most = ", ".join(sorted(loads, key=lambda load: -loads[load]))
        message = f"{name} is overloaded to {amps:.1f} A by {most}, and {what}"
        remedy = f"{larger(before, source)}; a larger fuse would only burn the transformer"
    else:
        message = f"{name} feeds {amps:.1f} A into a short and {what}"
        remedy = (
            "power off, then take apart the joint on this path that leads from hot side to return without a load in it"
        )
    remedy += f"; then replace {opened}: until that is done nothing that it feeds runs, on any call"
    return Finding("short", "danger", calls, (name, opened) if opened != name else (name,), path, message, remedy)


def _source_behind(examined: Examined, bit: int) -> int:
    """Return the source that a bit burns, or that the fuse of the same equipment protects."""
    names = examined.circuit.source_names
    name = examined.circuit.network.bits[bit].name
    if name in names:
        return names.index(name)
    owner = name.partition(".")[0]
    return next((i for i, source in enumerate(names) if source.partition(".")[0] == owner), 0)


def _passes_other_source(before: Snapshot, source: int) -> bool:
    """Tell whether most of a source's current comes from, or goes through, another source."""
    network = before.circuit.network
    own = abs(before.amps[network.sources[source].branch])
    return any(
        abs(before.amps[other.branch]) > 0.5 * own for i, other in enumerate(network.sources) if i != source and own > 0
    )


def sources_tied(examined: Examined) -> Iterator[Finding]:
    """Two sources with a loop through both, or with a single joint between them."""
    circuit = examined.circuit
    sources = circuit.network.sources
    if len(sources) < 2:
        return
    met, whose = examined.rows
    _, first, same = np.unique(np.packbits(met, axis=1), axis=0, return_index=True, return_inverse=True)
    rows = met[first]
    windings = circuit.engine.source_branch
    none = Changes.none(len(rows))
    for one, source in enumerate(sources):
        if source.emf_volts == 0:
            continue
        live = np.zeros((len(rows), len(sources)))
        live[:, one] = 1.0
        volts, siemens = circuit.engine.solve(rows, live, none, windings)
        amps = np.abs(volts * siemens)
        for two in range(len(sources)):
            if two == one or (two < one and sources[two].emf_volts != 0):
                continue
            driven = amps[:, two] > _THROUGH_AMPS
            pair = (circuit.source_names[one], circuit.source_names[two])
            if driven.any():
                shows = whose[driven[same.ravel()]]
                some = np.flatnonzero(driven)
                some = some[examined.single(whose[first[some]])]
                worst = int(some[amps[some, two].argmax()])
                yield _driven(examined, (one, two), rows[worst], shows, float(amps[worst, two]))
            else:
                yield from _meeting(examined, pair, one, two, rows)


def _driven(examined: Examined, sources: tuple[int, int], row: Bools, shows: Ints, amps: float) -> Finding:
    circuit = examined.circuit
    network = circuit.network
    one, two = sources
    pair = (circuit.source_names[one], circuit.source_names[two])
    live = np.zeros(len(network.sources))
    live[one] = 1.0
    path = through(_solved(examined, row, live), network.sources[two].branch)
    both = _solved(examined, row, np.ones(len(network.sources)))
    together = min(abs(both.amps[network.sources[s].branch]) for s in sources)
    said = f"{pair[0]} alone drives {amps:.2f} A through {pair[1]}{examined.together(shows)}"
    if together > _AGAINST * amps:
        said = f"{pair[0]} and {pair[1]} are turned against each other and drive {together:.1f} A round through both"
    owners = {name.partition(".")[0] for name in pair}
    opened = sorted({n for s in examined.plain.values() for n in s.opened if n.partition(".")[0] in owners})
    if opened:
        said += f"; {', '.join(opened)} {'opens' if len(opened) == 1 else 'open'}"
    remedy = "power both off and take out the joint between them: a jumper, a shared conductor or a common of only one"
    if link := _link_on(examined, path):
        remedy = f"power both off and take out {link}: of two sources each feeds its own terminal"
    dry = [name for name in path if _is_dry(examined, name)]
    if dry:
        remedy = (
            f"power both off and take the leads off {' and '.join(dry)}, where a dry contact belongs and no voltage: an "
            "isolating relay's contact alone, its coil on this call and its own return"
        )
    return Finding(
        "sources-tied",
        "danger",
        examined.calls_of(shows),
        pair,
        path,
        f"{said}; with one off, the other feeds it backwards, and line voltage stands on its primary",
        remedy,
    )


def _meeting(examined: Examined, pair: tuple[str, str], one: int, two: int, rows: Bools) -> Iterator[Finding]:
    network = examined.circuit.network
    siemens = examined.circuit.engine.siemens_of(rows)
    ever = (siemens != 0).any(axis=0)

    def weigh(i: int, branch: Branch) -> float | None:
        if _stands_between(examined, branch):
            return _PAST_A_LOAD
        return 1.0 if branch.kind in COPPER and ever[i] else None

    copper = Copper(network, weigh)
    a, b = (network.branches[network.sources[s].branch] for s in (one, two))
    ways = [way for x in (a.b, a.a) for y in (b.b, b.a) if (way := copper.way(x, y)) is not None]
    if not ways:
        return
    _, nodes = min(ways)
    names = _names(examined, copper, nodes)
    between = [network.branches[copper.branch(x, y)] for x, y in itertools.pairwise(nodes)]
    passed = [branch.name for branch in between if _stands_between(examined, branch)]
    at = "through their metal" if EARTH in nodes else "at one point"
    what = "no current flows, but one more joint would close a loop"
    remedy = "keep the two circuits apart: give each its own return, and bond at most one of them to metal"
    if link := _link_on(examined, names):
        remedy = f"take out {link}: of two sources each feeds its own terminal"
    if passed:
        at = f"at {' and '.join(passed)}, which both lead to"
        remedy = (
            f"feed {' and '.join(passed)} from one source and bring it back to the same: take off the joint on this path "
            "that leads over to the other"
        )
    dry = [name for name in names if _is_dry(examined, name)]
    if dry and not passed:
        remedy = (
            f"only a dry contact belongs on {' and '.join(dry)}, and no voltage: put in an isolating relay, its coil on this "
            "call and its own return, its contact alone between the two call terminals"
        )
    crossing = _crossing(examined, rows, (one, two), [copper.branch(x, y) for x, y in itertools.pairwise(nodes)])
    if crossing is not None and not passed:
        # Over a single joint nothing flows: a load is the second one.
        passed, amps = crossing
        what = f"{amps:.2f} A flow over that, for {' and '.join(passed)} is fed by one and comes back over the other's return"
        remedy = f"feed {' and '.join(passed)} from the source of its own equipment; {remedy}"
    yield Finding(
        "sources-tied",
        "weak",
        examined.calls,
        (*pair, *passed),
        names,
        f"{pair[0]} and {pair[1]} meet {at} ({' → '.join(names)}); {what}",
        remedy,
    )


def _link_on(examined: Examined, path: Sequence[str]) -> str:
    """Return the jumper on a path that links two power terminals of one piece of equipment, in words; empty where none does."""
    job = examined.circuit.job
    jumpers = {frozenset(pair) for pair in job.jumpers}
    for pair in itertools.pairwise(path):
        if frozenset(pair) in jumpers:
            (one, first), (two, second) = map(job.terminal, pair)
            if (
                one.id == two.id
                and "power" in one.part.terminals[first].means
                and "power" in two.part.terminals[second].means
            ):
                return f"the jumper from {pair[0]} to {pair[1]}"
    return ""


def _is_dry(examined: Examined, name: str) -> bool:
    device = examined.circuit.job.equipment.get(name.partition(".")[0])
    if device is None or device.part.role != "indoor":
        return False
    terminal = device.part.terminals.get(name.partition(".")[2])
    return terminal is not None and "dry" in terminal.means


def _stands_between(examined: Examined, branch: Branch) -> bool:
    """Tell whether a branch is a load that must not stand between two sources; a thermostat made for two may look at both."""
    device, _ = examined.circuit.elements.get(branch.name, (None, None))
    return branch.kind in LOADS and device is not None and not device.part.calls


def _crossing(
    examined: Examined, rows: Bools, sources: tuple[int, int], way: list[int]
) -> tuple[list[str], float] | None:
    """Return the loads that one of two sources feeds all along the way where they meet, and the current; None where none does."""
    for one in sources:
        live = np.zeros((len(rows), len(examined.circuit.source_names)))
        live[:, one] = 1.0
        volts, siemens = examined.circuit.engine.solve(rows, live, Changes.none(len(rows)), np.array(way))
        least = np.abs(volts * siemens).min(axis=1)
        worst = int(least.argmax())
        if least[worst] > _THROUGH_AMPS:
            state = _solved(examined, rows[worst], live[0])
            passed = [examined.circuit.network.branches[i] for i in branches(state, way[0])]
            loads = [branch.name for branch in passed if _stands_between(examined, branch)]
            return (loads, float(least[worst])) if loads else None
    return None


def _solved(examined: Examined, row: Bools, live: NDArray[np.float64]) -> Snapshot:
    """Return one setting of contacts with some sources live."""
    engine = examined.circuit.engine
    potentials, siemens = engine.solve(row[None], live[None], Changes.none(1))
    emf = np.zeros(len(examined.circuit.network.branches), complex)
    emf[engine.source_branch] = live * engine.emf
    return Snapshot(examined.circuit, examined.settled.bits[0], potentials[0], siemens[0], emf)


def _names(examined: Examined, copper: Copper, way: list[int]) -> tuple[str, ...]:
    state = next(iter(examined.plain.values()))
    steps: list[tuple[str, int]] = [("node", way[0])]
    for x, y in itertools.pairwise(way):
        steps += [("branch", copper.branch(x, y)), ("node", y)]
    return named(state, steps)


def over_voltage(examined: Examined) -> Iterator[Finding]:
    """A coil, input or load that sees more than 110 % of its upper rating in any state."""
    circuit = examined.circuit
    network = circuit.network
    rated: list[tuple[int, str, float]] = []
    for name, (equipment, element) in circuit.elements.items():
        upper = element.data.get("rated-volts-max") or element.data.get("rated-volts")
        if element.kind in ("coil", "input", "load") and upper is not None:
            rated.append((network.index[name], name, upper.resolve(equipment.settings) or 24.0))
    if not rated:
        return
    branches = np.array([branch for branch, _, _ in rated])
    rows, whose = examined.rows
    answer, _ = circuit.engine.solve(rows, examined.settled.states.live[whose], Changes.none(len(rows)), branches)
    volts = np.abs(answer)
    for i, (branch, name, most) in enumerate(rated):
        over = volts[:, i] > _OVER * most
        if over.any():
            shows = np.flatnonzero(over)
            shows = shows[examined.single(whose[shows])]
            worst = int(shows[np.argmax(volts[shows, i])])
            which = "bits" if worst < len(examined.settled.bits) else "before_fuse"
            yield Finding(
                "over-voltage",
                "danger",
                examined.calls_of(whose[shows]),
                (name,),
                through(examined.snapshot(int(whose[worst]), which), branch),
                f"{name} sees {volts[worst, i]:.1f} V{examined.together(whose[shows])}, more than 110 % of the {most:g} V it "
                "is made for",
                "find the second source in its path: two transformers in series, or a joint between two systems",
            )


def wrong_class(examined: Examined) -> Iterator[Finding]:
    """A terminal that is not 24 V on/off, joined to anything of the circuit; one finding for one joint."""
    job, joins = examined.circuit.job, examined.needs.joins
    told: set[tuple[frozenset[str], str]] = set()
    for equipment in job.equipment.values():
        for letters, terminal in equipment.part.terminals.items():
            net = joins.net(f"{equipment.id}.{letters}")
            if terminal.signal == "24v-on-off" or (net, terminal.signal) in told:
                continue
            told.add((net, terminal.signal))
            signals = {name: owner.part.terminals[its].signal for owner, its, name in joins.terminals(net)}
            same = [name for name, signal in signals.items() if signal == terminal.signal]
            others = [name for name, signal in signals.items() if signal != terminal.signal]
            if not others:
                continue
            # Of several that are joined the one at the joint is told; the others only hang on it.
            leads = {
                name: min(joins.leads(name), key=lambda lead: (lead[0] not in others, *lead[::-1])) for name in same
            }
            name = min(same, key=lambda one: (leads[one][0] not in others, one))
            far, conductor = leads[name]
            kind = terminal.signal.replace("-", " ")
            yield Finding(
                "wrong-class",
                "danger",
                examined.calls,
                (name, *others, *(one for one in same if one != name)),
                (name, conductor, far) if conductor else (name, far),
                f"{name} is a {kind} terminal and is joined to {', '.join(others)}",
                _apart(f"take {conductor or f'the jumper to {far}'} off {name}", set(signals.values())),
            )


def _apart(take_off: str, classes: set[str]) -> str:
    """Return how a joint of two classes is taken apart, where one of them can kill that first."""
    if "line-voltage" in classes:
        return (
            f"power off at the breaker and prove it off with a meter first, then {take_off}: line voltage is for licensed "
            "practice, and what it has touched may be burned"
        )
    return f"{take_off}; it does not belong to the 24 V circuit"
