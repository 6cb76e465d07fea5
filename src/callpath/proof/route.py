"""The way that current should take to a load, and how far along it the voltage reaches.

A flow shows where current goes; it cannot show where it would have gone. For that the copper is laid out as a graph in
which a closed contact is easy, an open one hard and a broken conductor harder, and the easiest way from a source's hot
side through the load and back is the way that was meant.
"""

from __future__ import annotations

import itertools
from collections.abc import Collection
from dataclasses import dataclass

from callpath.circuit.copper import Copper
from callpath.circuit.network import EARTH, Branch
from callpath.circuit.path import named
from callpath.circuit.snapshot import Snapshot
from callpath.parts.model import fitted

__all__ = ["Route", "driver_of", "hot_side", "intended"]

_THROUGH = {
    "wire": 1.0,
    "jumper": 1.0,
    "splice": 1.0,
    "link": 1.0,
    "fuse": 1.0,
    "short": 1.0,
    "contact": 1.0,
    "earthing": 4.0,
}
# An open contact is on the way that was meant the more likely the more it is there to stop this very current: a safety, then a
# thermostat's, then any other; a broken conductor is likelier than a way through another relay.
_OPEN_SAFETY = 3.0
_OPEN_THERMOSTAT = 20.0
_BROKEN = 25.0
_OPEN_OTHER = 40.0
_HOT = 0.5


@dataclass(frozen=True)
class Route:
    """How far the voltage reaches on the way to a load.

    ``path`` names the way up to where the current stops; ``source`` is the one that should feed the load; ``fed`` tells that
    the load's feeding side is hot; ``returns`` that its other side is joined to the way back; ``stop`` names what the
    current stops at: an open fuse, contact or conductor, or an end with nothing beyond it.
    """

    path: tuple[str, ...]
    source: str
    fed: bool
    returns: bool
    stop: str


def driver_of(state: Snapshot, function: str, asked: Collection[str] = ()) -> int | None:
    """Return the branch of the coil, input or load that makes a function run.

    Where several can, an energised one comes first, then one whose terminal means what the call asks.

    Parameters
    ----------
    function : str
        ``equipment.function``.
    asked : collection of str
        Purposes of the thermostat outputs that the call closes, such as ``heat``.
    """
    id_, _, name = function.partition(".")
    equipment = state.circuit.job.equipment[id_]
    found = [
        element
        for trigger in equipment.part.functions[name].triggers
        if fitted(trigger.when, equipment.settings)
        for element in sorted(trigger.runs_when.elements())
        if f"{id_}.{element}" in state.circuit.elements and not equipment.part.elements[element].hidden
    ]
    if not found:
        return None

    def preferred(element: str) -> tuple[bool, bool]:
        points = equipment.part.elements[element].between
        means = {
            m for point in points if point in equipment.part.terminals for m in equipment.part.terminals[point].means
        }
        return (not state.bit(f"{id_}.{element}"), not means & set(asked))

    return state.circuit.network.index[f"{id_}.{min(found, key=preferred)}"]


def _copper(state: Snapshot) -> Copper:
    def weigh(i: int, branch: Branch) -> float | None:
        if branch.kind not in _THROUGH:
            return None
        if state.siemens[i] == 0:
            return _open_weight(state, branch.name) if branch.kind == "contact" else _BROKEN
        return _THROUGH[branch.kind]

    return Copper(state.circuit.network, weigh)


def _open_weight(state: Snapshot, name: str) -> float:
    equipment, element = state.circuit.elements[name]
    if element.field:
        return _OPEN_SAFETY
    return _OPEN_THERMOSTAT if equipment.part.calls else _OPEN_OTHER


def _steps(copper: Copper, nodes: list[int]) -> list[tuple[str, int]]:
    steps: list[tuple[str, int]] = [("node", nodes[0])]
    for one, two in itertools.pairwise(nodes):
        steps += [("branch", copper.branch(one, two)), ("node", two)]
    return steps


def hot_side(state: Snapshot, source: int, node: int) -> bool:
    """Tell whether a node stands away from a source's return by more than half of its open-circuit voltage."""
    network = state.circuit.network
    branch = network.branches[network.sources[source].branch]
    at = {EARTH: 0j}
    here = state.potentials[node] if node != EARTH else at[EARTH]
    back = state.potentials[branch.b] if branch.b != EARTH else at[EARTH]
    return bool(abs(here - back) > _HOT * abs(network.sources[source].emf_volts or 24))


def intended(state: Snapshot, load: int, output: str | None) -> Route:
    """Return how far the voltage reaches on the way to a load.

    Parameters
    ----------
    state : Snapshot
        The settled state in which the load should be energised.
    load : int
        Branch of the load.
    output : str, optional
        Thermostat terminal that should feed it; followed where no copper leads to the load at all.
    """
    network = state.circuit.network
    copper = _copper(state)
    element = network.branches[load]
    best: tuple[float, int, list[int], list[int] | None, int] | None = None
    for s, source in enumerate(network.sources):
        feeding = network.branches[source.branch]
        for near, far in ((element.a, element.b), (element.b, element.a)):
            to = copper.way(feeding.a, near, {feeding.b, far})
            if to is None:
                continue
            back = copper.way(far, feeding.b, {feeding.a, near})
            cost = to[0] + (back[0] if back else 1000.0)
            if best is None or cost < best[0]:
                best = (cost, s, to[1], back[1] if back else None, far)
    if best is None or (best[0] >= 1000 and not _all_hot(state, best[1], best[2])):
        followed = _follow_output(state, copper, output)
        if followed is not None:
            return followed
    if best is None:
        return Route((), "", False, False, "")
    _, s, to_nodes, back_nodes, far = best
    source_name = state.circuit.source_names[s]
    steps = _steps(copper, to_nodes)
    reached = 0
    while reached < len(to_nodes) and hot_side(state, s, to_nodes[reached]):
        reached += 1
    if reached < len(to_nodes):
        stop = (
            network.branches[copper.branch(to_nodes[reached - 1], to_nodes[reached])].name if reached else source_name
        )
        return Route(named(state, steps[: max(2 * reached - 1, 0)]), source_name, False, back_nodes is not None, stop)
    rest = [far] if back_nodes is None else back_nodes
    steps += [("branch", load)]
    tail = _steps(copper, rest)
    stuck = 0
    while stuck < len(rest) and hot_side(state, s, rest[stuck]):
        stuck += 1
    if stuck == 0 and back_nodes is not None:
        return Route(named(state, [*steps, *tail]), source_name, True, True, "")
    stuck = max(stuck, 1)
    stop = ""
    if stuck < len(rest):
        stop = network.branches[copper.branch(rest[stuck - 1], rest[stuck])].name
    return Route(named(state, [*steps, *tail[: 2 * stuck - 1]]), source_name, True, False, stop)


def _all_hot(state: Snapshot, source: int, nodes: list[int]) -> bool:
    return all(hot_side(state, source, node) for node in nodes)


def _follow_output(state: Snapshot, copper: Copper, output: str | None) -> Route | None:
    """Follow a thermostat's output as far as its copper is hot; its far end is where the current stops."""
    if output is None:
        return None
    network = state.circuit.network
    out = network.node_of[output]
    ways = []
    for s, source in enumerate(network.sources):
        feeding = network.branches[source.branch]
        way = copper.way(feeding.a, out, {feeding.b})
        if way is not None:
            ways.append((way[0], s, way[1]))
    if not ways:
        return _unfed_side(state, copper, output)
    _, s, nodes = min(ways)
    name = state.circuit.source_names[s]
    reached = 0
    while reached < len(nodes) and hot_side(state, s, nodes[reached]):
        reached += 1
    if reached < len(nodes):
        stop = network.branches[copper.branch(nodes[reached - 1], nodes[reached])].name if reached else name
        return Route(named(state, _steps(copper, nodes)[: max(2 * reached - 1, 0)]), name, False, False, stop)
    wired = Copper(
        network,
        lambda i, branch: 1.0 if branch.kind in ("wire", "jumper") and state.siemens[i] != 0 else None,
    )
    far = max(
        (
            (len(way), -node, way)
            for node, way in wired.ways(out).items()
            if set(way).isdisjoint(nodes[:-1]) and hot_side(state, s, node)
        ),
        default=(0, 0, []),
    )[2]
    nodes = [*nodes, *far[1:]]
    return Route(named(state, _steps(copper, nodes)), name, False, False, network.nodes[nodes[-1]])


def _unfed_side(state: Snapshot, copper: Copper, output: str) -> Route | None:
    """Return how far the voltage reaches at a thermostat whose contact for an output has nothing on its feeding side."""
    network = state.circuit.network
    thermostat, letters = state.circuit.job.terminal(output)
    feeds = [
        point
        for element in thermostat.part.elements.values()
        if element.kind == "contact" and letters in element.between
        for point in element.between
        if point != letters
    ]
    ways = []
    for s, source in enumerate(network.sources):
        feeding = network.branches[source.branch]
        for other, terminal in thermostat.part.terminals.items():
            node = network.node_of[f"{thermostat.id}.{other}"]
            if hot_side(state, s, node):
                way = copper.way(feeding.a, node, {feeding.b})
                if way is not None:
                    ways.append(("power" not in terminal.means, way[0], s, way[1]))
    if not ways:
        return Route((), "", False, False, f"{thermostat.id}.{feeds[0]}" if feeds else "")
    _, _, s, nodes = min(ways)
    stop = f"{thermostat.id}.{feeds[0]}" if feeds else ""
    return Route(named(state, _steps(copper, nodes)), state.circuit.source_names[s], False, False, stop)
