"""The way that current should take to a load, and how far along it the voltage reaches.

A flow shows where current goes; it cannot show where it would have gone. For that the copper is laid out as a graph in
which a closed contact is easy, an open one hard and a broken conductor harder, and the easiest way from a source's hot
side through the load and back is the way that was meant.
"""

from __future__ import annotations

import itertools
from collections.abc import Collection
from dataclasses import dataclass, replace

from callpath.circuit.copper import LOADS, Copper
from callpath.circuit.drive import called, compile_condition
from callpath.circuit.network import EARTH, Branch
from callpath.circuit.path import named
from callpath.circuit.snapshot import Snapshot
from callpath.parts.model import Condition, Trigger, fitted

__all__ = ["Route", "driver_of", "hot_side", "intended", "wanting"]

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
# What the call does not ask for is not on the way, still less what belongs to another state of equipment; nor is a load that has
# no way back.
_NOT_ASKED = 2000.0
_NOT_THAT_STATE = 3000.0
_NO_RETURN = 1000.0
_PAST_OUTPUT = 5.0
_HOT = 0.5


@dataclass(frozen=True)
class Route:
    """How far the voltage reaches on the way to a load.

    ``path`` names the way up to where the current stops; ``source`` is the one that should feed the load; ``fed`` tells that
    the load's feeding side is hot; ``returns`` that its other side is joined to the way back; ``stop`` names what the
    current stops at: an open fuse, contact or conductor, a broken load, or an end with nothing beyond it; ``beyond`` is
    the terminal on the far side of a load that is fed, empty where that side lies inside its equipment.
    """

    path: tuple[str, ...]
    source: str
    fed: bool
    returns: bool
    stop: str
    beyond: str = ""


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
        for element in sorted(_deciding(state, id_, trigger.runs_when))
        if f"{id_}.{element}" in state.circuit.elements and not equipment.part.elements[element].hidden
    ]
    found = [element for element in found if equipment.part.elements[element].kind != "contact"] or found
    if not found:
        return None

    def preferred(element: str) -> tuple[bool, bool]:
        points = equipment.part.elements[element].between
        means = {
            m for point in points if point in equipment.part.terminals for m in equipment.part.terminals[point].means
        }
        return (not state.bit(f"{id_}.{element}"), not means & set(asked))

    return state.circuit.network.index[f"{id_}.{min(found, key=preferred)}"]


def wanting(state: Snapshot, function: str, rightly: Collection[str]) -> tuple[str, Trigger] | None:
    """Return the load whose want of voltage lets a function run, with the trigger; None where what drives it is wrong itself.

    Parameters
    ----------
    rightly : collection of str
        Functions that run and may; what drives them is not to blame.
    """
    id_, _, name = function.partition(".")
    equipment = state.circuit.job.equipment[id_]

    def holding(name: str) -> list[Trigger]:
        triggers = equipment.part.functions[name].triggers
        return [t for t in triggers if fitted(t.when, equipment.settings) and _holds(state, id_, t.runs_when)]

    right = {own for other in rightly for its, _, own in [other.partition(".")] if its == id_}
    driven = {element for own in right for trigger in holding(own) for element in trigger.runs_when.makers()}
    for trigger in holding(name):
        makers = trigger.runs_when.makers()
        for element in sorted(trigger.runs_when.elements() - makers):
            if makers <= driven and equipment.part.elements[element].kind in LOADS:
                return f"{id_}.{element}", trigger
    return None


def _deciding(state: Snapshot, id_: str, condition: Condition) -> set[str]:
    """Return the elements that a condition hangs on: where several must hold together, those that do not."""
    if condition.all is not None:
        lacking = [part for part in condition.all if not _holds(state, id_, part)]
        return set[str]().union(*(_deciding(state, id_, part) for part in lacking or condition.all))
    if condition.any is not None:
        return set[str]().union(*(_deciding(state, id_, part) for part in condition.any))
    return condition.elements()


def _holds(state: Snapshot, id_: str, condition: Condition) -> bool:
    place = state.circuit.network.bit_index
    return bool(compile_condition(condition, state.circuit.job.equipment[id_], place)(state.bits[None])[0])


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
    if element.closed_when is not None and element.closed_when.states():
        return _NOT_THAT_STATE
    if not equipment.part.calls:
        return _OPEN_OTHER
    outputs = element.closed_when.outputs() if element.closed_when else set()
    return _OPEN_THERMOSTAT if any(state.bit(called(equipment.id, output)) for output in outputs) else _NOT_ASKED


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


def intended(state: Snapshot, load: int, output: str | None, purposes: Collection[str] = ()) -> Route:
    """Return how far the voltage reaches on the way to a load.

    Parameters
    ----------
    state : Snapshot
        The settled state in which the load should be energised.
    load : int
        Branch of the load.
    output : str, optional
        Thermostat terminal that should feed it; followed where nothing that the call closes leads to the load.
    purposes : collection of str
        What a terminal means that could feed it, such as ``aux``.
    """
    network = state.circuit.network
    copper = _copper(state)
    element = network.branches[load]
    out = network.node_of[output] if output else None
    best: tuple[float, int, float, list[int], list[int] | None, int] | None = None
    homes: list[tuple[float, int, int]] = []
    for s, source in enumerate(network.sources):
        feeding = network.branches[source.branch]
        for near, far in ((element.a, element.b), (element.b, element.a)):
            to = copper.way(feeding.a, near, {feeding.b, far})
            back = copper.way(far, feeding.b, {feeding.a, near})
            if back is not None and back[0] < _NOT_ASKED:
                homes.append((back[0], s, near))
            if to is None:
                continue
            cost = to[0] + (back[0] if back else _NO_RETURN) + (_PAST_OUTPUT if out not in to[1] else 0.0)
            if best is None or cost < best[0]:
                best = (cost, s, to[0], to[1], back[1] if back else None, far)
    if best is None or best[2] >= _NOT_ASKED or (best[4] is None and not _all_hot(state, best[1], best[3])):
        followed = _followed(state, copper, load, output, purposes, {s for _, s, _ in homes})
        if followed is None and best is None and homes:
            # Its return is there, and nothing leads to it: the voltage stops where it leaves that source.
            _, s, near = min(homes)
            followed = _apart(state, copper, s, near)
        if followed is not None:
            return followed
    if best is None:
        return Route((), "", False, False, "")
    _, s, _, to_nodes, back_nodes, far = best
    route = _as_far_as_hot(state, copper, s, to_nodes)
    if route.stop:
        return replace(route, returns=back_nodes is not None)
    if state.siemens[load] == 0:
        return replace(route, fed=False, returns=back_nodes is not None, stop=element.name)
    steps = [*_steps(copper, to_nodes), ("branch", load)]
    rest = _to_a_terminal(state, copper, far, set(to_nodes)) if back_nodes is None else back_nodes
    tail = _steps(copper, rest)
    stuck = 0
    while stuck < len(rest) and hot_side(state, s, rest[stuck]):
        stuck += 1
    if stuck == 0 and back_nodes is not None:
        return Route(named(state, [*steps, *tail]), route.source, True, True, "")
    stuck = len(rest) if back_nodes is None else max(stuck, 1)
    stop = network.branches[copper.branch(rest[stuck - 1], rest[stuck])].name if stuck < len(rest) else ""
    behind = named(state, tail[: 2 * stuck - 1])
    path = named(state, [*steps, *tail[: 2 * stuck - 1]])
    return Route(path, route.source, True, False, stop, behind[-1] if behind else "")


def _as_far_as_hot(state: Snapshot, copper: Copper, source: int, nodes: list[int]) -> Route:
    """Return the part of a way that is hot; it stops at nothing where all of it is."""
    name = state.circuit.source_names[source]
    reached = 0
    while reached < len(nodes) and hot_side(state, source, nodes[reached]):
        reached += 1
    stop = ""
    if reached < len(nodes):
        stop = name
        if reached:
            stop = state.circuit.network.branches[copper.branch(nodes[reached - 1], nodes[reached])].name
    path = named(state, _steps(copper, nodes)[: max(2 * reached - 1, 0)])
    return Route(path, name, not stop, False, stop)


def _to_a_terminal(state: Snapshot, copper: Copper, node: int, avoid: set[int]) -> list[int]:
    """Return the way from an inner point of equipment to the nearest terminal that it is joined to, if there is one."""
    network = state.circuit.network
    terminals = {i for name, i in network.node_of.items() if name.partition(".")[0] in state.circuit.job.equipment}
    ways = [way for end, way in copper.ways(node).items() if end in terminals and avoid.isdisjoint(way)]
    closed = [way for way in ways if all(state.siemens[copper.branch(a, b)] != 0 for a, b in itertools.pairwise(way))]
    return min(closed, key=len, default=[node])


def _followed(
    state: Snapshot, copper: Copper, load: int, output: str | None, purposes: Collection[str], homes: Collection[int]
) -> Route | None:
    """Return where the voltage stops that should have come to a load, where nothing that is closed leads there.

    ``homes`` are the sources that the load's other side leads back to; the voltage of another does not count.
    """
    network = state.circuit.network
    element = network.branches[load]
    owner = element.name.partition(".")[0]
    sources = list(homes) or range(len(network.sources))
    if output is not None:
        return _follow(state, copper, output, owner, sources)
    closed = Copper(network, lambda i, branch: 1.0 if branch.kind in _THROUGH and state.siemens[i] != 0 else None)
    others = [
        (f"{equipment.id}.{letters}", terminal.means)
        for equipment in state.circuit.job.equipment.values()
        if not equipment.part.calls
        for letters, terminal in equipment.part.terminals.items()
    ]
    for name, means in others:
        # Another piece of equipment brings what is wanted as far as this.
        brings = name.partition(".")[0] != owner and set(means) & set(purposes)
        if brings and any(hot_side(state, s, network.node_of[name]) for s in sources):
            return _follow(state, copper, name, owner, sources)
    for name, means in others:
        if "power" in means and any(closed.joined(network.node_of[name], end) for end in (element.a, element.b)):
            return _unfed(state, copper, name.partition(".")[0], name, sources)
    return None


def _apart(state: Snapshot, copper: Copper, source: int, near: int) -> Route:
    """Return the way from a source's hot side to its terminal, and the terminal of the load that it never reaches."""
    network = state.circuit.network
    start = network.branches[network.sources[source].branch].a
    ways = [_to_a_terminal(state, copper, node, set()) for node in (start, near)]
    path = named(state, _steps(copper, ways[0])) if hot_side(state, source, start) else ()
    return Route(path, state.circuit.source_names[source], False, True, network.nodes[ways[1][-1]])


def _all_hot(state: Snapshot, source: int, nodes: list[int]) -> bool:
    return all(hot_side(state, source, node) for node in nodes)


def _follow(state: Snapshot, copper: Copper, terminal: str, owner: str, sources: Collection[int]) -> Route | None:
    """Follow what leaves a terminal as far as its copper is hot; its far end is where the current stops.

    Where it comes to the equipment that it is meant for, it stops there, at the wrong terminal.
    """
    network = state.circuit.network
    out = network.node_of[terminal]
    ways = []
    for s in sources:
        feeding = network.branches[network.sources[s].branch]
        way = copper.way(feeding.a, out, {feeding.b})
        if way is not None and way[0] < _NOT_ASKED:
            ways.append((way[0], s, way[1]))
    if not ways:
        thermostat, letters = state.circuit.job.terminal(terminal)
        strip = [network.node_of[f"{thermostat.id}.{other}"] for other in thermostat.part.terminals]
        others = [s for s in range(len(network.sources)) if s not in sources]
        if any(hot_side(state, s, node) for s in others for node in strip):
            # It switches another circuit, which drives something else that should bring this one about.
            return None
        beside = [
            point
            for element in thermostat.part.elements.values()
            if element.kind == "contact" and letters in element.between
            for point in element.between
            if point != letters and point in thermostat.part.terminals
        ]
        power = [name for name, terminal in thermostat.part.terminals.items() if "power" in terminal.means]
        feeds = beside or power
        return _unfed(state, copper, thermostat.id, f"{thermostat.id}.{feeds[0]}" if feeds else "", sources)
    _, s, nodes = min(ways)
    route = _as_far_as_hot(state, copper, s, nodes)
    if route.stop:
        return route
    wired = Copper(
        network,
        lambda i, branch: 1.0 if branch.kind in ("wire", "jumper") and state.siemens[i] != 0 else None,
    )
    far = max(
        (
            (network.nodes[node].partition(".")[0] == owner, len(way), -node, way)
            for node, way in wired.ways(out).items()
            if set(way).isdisjoint(nodes[:-1]) and hot_side(state, s, node)
        ),
        default=(False, 0, 0, []),
    )[3]
    nodes = [*nodes, *far[1:]]
    return replace(route, path=named(state, _steps(copper, nodes)), fed=False, stop=network.nodes[nodes[-1]])


def _unfed(state: Snapshot, copper: Copper, equipment: str, terminal: str, sources: Collection[int]) -> Route | None:
    """Return how far the voltage reaches at equipment whose terminal should have it and has not."""
    network = state.circuit.network
    part = state.circuit.job.equipment[equipment].part
    ways = []
    for s in sources:
        feeding = network.branches[network.sources[s].branch]
        for letters, point in part.terminals.items():
            node = network.node_of[f"{equipment}.{letters}"]
            # A thermostat's strip may have the hot side anywhere; other equipment has hot inputs that are as they should be.
            if (part.calls or "power" in point.means) and hot_side(state, s, node):
                way = copper.way(feeding.a, node, {feeding.b})
                if way is not None and way[0] < _NOT_ASKED:
                    ways.append(("power" not in point.means, way[0], s, way[1]))
    if ways:
        _, _, s, nodes = min(ways)
        path = named(state, _steps(copper, nodes))
        return Route(path, state.circuit.source_names[s], False, False, terminal)
    for s in sources:
        # Nothing hot comes to the equipment: the voltage stops where it leaves its source.
        route = _apart(state, copper, s, network.branches[network.sources[s].branch].a)
        if route.path:
            return replace(route, returns=False, stop=terminal)
    return Route((), "", False, False, terminal)
