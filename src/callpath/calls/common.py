"""What a terminal is read against: the common of its own equipment, and which readings one pair of leads can take there."""

from __future__ import annotations

from collections.abc import Collection, Sequence

from callpath.circuit.build import Circuit
from callpath.circuit.copper import LOADS, Copper
from callpath.circuit.network import Network
from callpath.job.model import Job

__all__ = ["commons", "pairs_in_reach", "terminals_of"]

# How much further off than it is a source counts that shows no return.
_NO_RETURN_SHOWN = 5.0


def terminals_of(job: Job) -> dict[str, str]:
    """Return every terminal of a job and the equipment that it belongs to."""
    return {f"{e.id}.{letters}": e.id for e in job.equipment.values() for letters in e.part.terminals}


def commons(circuit: Circuit) -> dict[str, str]:
    """Return for every terminal the point that it is read against.

    That is the return of its equipment's own source; where it has none, its own common, provided that something is landed
    there and that it belongs to the same source as the terminal (metal belongs to all); else the return of the nearest source.
    Where a source shows no terminal on its return side, as in a boiler that is called across two terminals, the reading is
    taken between the two.
    """
    sources = _Sources(circuit)
    owner_of, landed = terminals_of(circuit.job), _landed(circuit.job)
    found: dict[str, str] = {}
    for name in sorted(owner_of) if sources.returns else ():
        owner = owner_of[name]
        source = sources.nearest(name)
        own = [
            common
            for common in _meaning(circuit.job, owner, "common")
            if common != name and common in landed
            if name in _meaning(circuit.job, owner, "metal") or sources.nearest(common) == source
        ]
        # Behind an open common nobody stands but the equipment itself: there its reading shows what one to another's hides.
        found[name] = own[0] if own and owner not in sources.owners else sources.return_for(name, source)
    return found


def pairs_in_reach(circuit: Circuit) -> list[tuple[str, str]]:
    """Return the pairs that show whether a job works, each with both leads at one place and on terminals that are in use.

    A terminal is read against its common where that is at its own place; equipment without one, such as a thermostat on two
    conductors, is read across its own contacts and coils: the source's volts across an open contact, none across a closed one.
    """
    job = circuit.job
    owner_of, landed = terminals_of(job), _landed(job)
    place = {name: job.equipment[owner].at for name, owner in owner_of.items()}
    across, common_of = _across(circuit), commons(circuit)
    found: dict[frozenset[str], tuple[str, str]] = {}
    for name, against in common_of.items():
        if name not in landed or name == against:
            continue
        # A source shows at its own terminals, whether or not anything is landed on its return.
        if place[name] == place[against]:
            found.setdefault(frozenset((name, against)), (name, against))
            continue
        for pair in across.get(name, []) if name not in common_of.values() else []:
            if landed.issuperset(pair):
                found.setdefault(frozenset(pair), pair)
    return list(found.values())


def _landed(job: Job) -> set[str]:
    """Return the terminals on which a conductor or a jumper sits."""
    ends = {end for landing in job.landings.values() for end in landing if end is not None}
    return ends | {terminal for jumper in job.jumpers for terminal in jumper}


def _meaning(job: Job, owner: str, word: str) -> list[str]:
    """Return the terminals of equipment that have a meaning."""
    terminals = job.equipment[owner].part.terminals
    return [f"{owner}.{letters}" for letters, terminal in terminals.items() if word in terminal.means]


_SWITCHED = ("contact", "link")


def _across(circuit: Circuit) -> dict[str, list[tuple[str, str]]]:
    """Return by terminal the pairs across its equipment's own contacts; across its loads where it has no contact."""
    found: dict[str, list[tuple[str, str]]] = {}
    for equipment in circuit.job.equipment.values():
        own = [element for owner, element in circuit.elements.values() if owner.id == equipment.id]
        for kinds in (_SWITCHED, (*_SWITCHED, *LOADS)):
            pairs = _joined([element.between for element in own if element.kind in kinds], equipment.part.terminals)
            here: dict[str, list[tuple[str, str]]] = {}
            for pair in pairs:
                named = (f"{equipment.id}.{pair[0]}", f"{equipment.id}.{pair[1]}")
                for end in named:
                    here.setdefault(end, []).append(named)
            found = here | found
    return found


def _joined(steps: Sequence[tuple[str, str]], terminals: Collection[str]) -> list[tuple[str, str]]:
    """Return which terminals elements join, one after another past inner points, in the order in which a part names them."""
    found: list[tuple[str, str]] = []
    for first in terminals:
        reached, edge = {first}, [first]
        while edge:
            point = edge.pop()
            for step in steps:
                if point in step:
                    other = step[point == step[0]]
                    if other not in reached:
                        reached.add(other)
                        if other not in terminals:
                            edge.append(other)
                        elif (other, first) not in found:
                            found.append((first, other))
    return found


class _Sources:
    """The sources of a circuit: which of them is nearest to a terminal, and the terminal that shows its return."""

    def __init__(self, circuit: Circuit) -> None:
        self.network = network = circuit.network
        self.copper = copper = _near(network)
        self.terminals = terminals_of(circuit.job)
        self.returns: list[tuple[int, str]] = []
        for source in network.sources:
            branch = network.branches[source.branch]
            owner = branch.name.partition(".")[0]
            own = {network.node_of[name]: name for name in sorted(self.terminals) if self.terminals[name] == owner}
            reach = copper.distances(branch.b)
            exposed = [(reach[node], node) for node in own if node in reach and reach[node] < 5]
            if exposed:
                self.returns.append((source.branch, own[min(exposed)[1]]))
            else:
                hot = copper.distances(branch.a)
                self.returns.append((source.branch, own[max((hot.get(node, 0.0), node) for node in own)[1]]))
        self.owners = [network.branches[index].name.partition(".")[0] for index, _ in self.returns]
        self.shows = [self._is_return(returned) for returned in self.returns]
        self.ways = [
            _distances(copper, network.branches[index].a, network.branches[index].b) for index, _ in self.returns
        ]

    def nearest(self, name: str) -> int:
        """Return which source a terminal belongs to.

        One of its own equipment comes first; one that shows no return, as a boiler called across two terminals, is nobody
        else's.
        """
        node, owner = self.network.node_of[name], self.terminals[name]
        return min(
            range(len(self.returns)),
            key=lambda s: (
                self.owners[s] != owner,
                self.ways[s][node] + (0.0 if self.shows[s] else _NO_RETURN_SHOWN),
                s,
            ),
        )

    def return_for(self, name: str, source: int) -> str:
        """Return the terminal against which another is read that belongs to a source."""
        index, against = self.returns[source]
        node, owner = self.network.node_of[name], self.terminals[name]
        if against == name and self.network.branches[index].b != node and not self._is_return((index, against)):
            return next(other for other in sorted(self.terminals) if self.terminals[other] == owner and other != name)
        return against

    def _is_return(self, returned: tuple[int, str]) -> bool:
        branch = self.network.branches[returned[0]]
        return self.copper.distances(branch.b).get(self.network.node_of[returned[1]], 1e9) < 5


def _distances(copper: Copper, one: int, two: int) -> dict[int, float]:
    """Return how far every node is from the nearer of two."""
    first, second = copper.distances(one), copper.distances(two)
    return {node: min(first.get(node, 1e9), second.get(node, 1e9)) for node in copper.piece_of}


def _near(network: Network) -> Copper:
    """Return the copper as a graph in which loads and open contacts are far."""
    weights = {"wire": 1.0, "jumper": 1.0, "link": 0.1, "fuse": 0.1, "short": 1.0, "contact": 20.0, "earthing": 60.0}
    loads = dict.fromkeys(LOADS, 200.0)
    return Copper(network, lambda _, branch: (weights | loads).get(branch.kind))
