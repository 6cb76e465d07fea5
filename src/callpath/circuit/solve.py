"""Phasor nodal solution of many states of one network, as small changes to a few bases.

A state differs from a base in a handful of branches: contacts and coils that its setting has moved, and its own changes.
The drives at those branches' ports that make up for all changes together (``ports``) give v = v_base + N x. Where they lost too
many digits, the state is solved whole instead, and counted.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from callpath.circuit.base import Base, Pool, factored, stepped
from callpath.circuit.exact import Complex, Stamp
from callpath.circuit.network import Network
from callpath.circuit.ports import Bools, Ints, port_drives

__all__ = ["Bools", "Changes", "Complex", "Engine", "Ints", "Tally", "refined_dense"]

# A setting seen in this many states at once earns a base of its own where a step leads there,
_POPULAR = 128
# and in this many, even one that has to be factored.
_PRECIOUS = 512
_ROOM_BYTES = 1 << 26
# A state further than this from every base, in switched branches, gets a base of its own.
_FAR = 6
# States worked on at once: enough to be worth the call, few enough to stay in cache.
_CHUNK = 2048
_WHOLE_CHUNK = 128
_STRAY = ("leak", "capacitance")


@dataclass(frozen=True)
class Changes:
    """Changes to branches, per state, over what the discrete state says; shape (states, changes) each.

    ``branch`` is −1 where a state has fewer changes; a branch stands in a state's list once, and is no leak or capacitance.
    ``series_ohms`` is added to the branch's impedance (infinite: open); where it is NaN, ``siemens`` replaces the
    admittance instead.
    """

    branch: Ints
    series_ohms: NDArray[np.float64]
    siemens: Complex

    @classmethod
    def none(cls, states: int) -> Changes:
        """Return no changes for a number of states."""
        return cls(np.zeros((states, 0), np.intp), np.zeros((states, 0)), np.zeros((states, 0), complex))

    def take(self, rows: Ints | Bools) -> Changes:
        """Return the changes of some states."""
        return Changes(self.branch[rows], self.series_ohms[rows], self.siemens[rows])

    def admittance(self, configured: Complex) -> Complex:
        """Return the admittance [S] that each change asks for, where ``configured`` holds what the state says."""
        # y / (1 + R y) needs no care where y is zero; an open place in series leaves nothing.
        open_place = np.isinf(self.series_ohms)
        ohms = np.where(np.isfinite(self.series_ohms), self.series_ohms, 0.0)
        series = np.where(open_place, 0.0, configured / (1 + ohms * configured))
        return np.where(np.isnan(self.series_ohms), self.siemens, series)


@dataclass
class Tally:
    """What the engine has done: states solved, factorisations made, bases stepped to, states solved whole."""

    solved: int = 0
    factorisations: int = 0
    steps: int = 0
    whole: int = 0


@dataclass(frozen=True)
class _Part:
    """Some states and the base that each is near: what changes them, their drives, and which must be solved whole."""

    base: Ints
    members: Ints
    emf: Complex
    configured: Complex
    setting: Ints
    changed: Ints
    asked: Complex
    ports: Ints
    drives: Complex
    lost: Bools

    def siemens(self, states: Ints | slice = slice(None)) -> Complex:
        """Return the admittance of every branch in some of the states [S]."""
        siemens: Complex = self.configured[self.setting[states]]
        changed, asked = self.changed[states], self.asked[states]
        row, column = np.nonzero(changed >= 0)
        siemens[row, changed[row, column]] = asked[row, column]
        return siemens

    def siemens_at(self, branches: Ints) -> Complex:
        """Return the admittance of a few branches in every state [S]."""
        siemens: Complex = self.configured[:, branches][self.setting]
        for column, branch in enumerate(branches):
            row, place = np.nonzero(self.changed == branch)
            siemens[row, column] = self.asked[row, place]
        return siemens


@dataclass(frozen=True)
class _Plan:
    """Distinct settings of driven branches, which base of the pool each goes by, and which states have which setting."""

    settings: Bools
    base: Ints
    members: Ints
    setting: Ints


class Engine:
    """Solves states of one network.

    Parameters
    ----------
    network : Network
        Its leaks must tie every node to earth, however weakly; the builder sees to that.
    """

    def __init__(self, network: Network) -> None:
        self.network = network
        self.tally = Tally()
        self.ports: Ints = np.array([i for i, b in enumerate(network.branches) if b.kind not in _STRAY], np.intp)
        self.port_of: Ints = np.full(len(network.branches), -1, np.intp)
        self.port_of[self.ports] = np.arange(len(self.ports))
        self.driven: Ints = np.array(network.driven, np.intp)
        self.emf: Complex = np.array([source.emf_volts for source in network.sources], complex)
        self.source_branch: Ints = np.array([source.branch for source in network.sources], np.intp)
        self._feeds = self.port_of[self.source_branch]
        self._stamp = Stamp(network)
        self._stepped: dict[bytes, Base] = {}
        self._factored: list[Base] = []
        self._rows: Bools = np.zeros((0, len(self.driven)), bool)

    # -- bases ---------------------------------------------------------------------------------------------

    def siemens_of(self, rows: Bools) -> Complex:
        """Return the admittance [S] of every branch, shape (states, branches), for settings of the driven branches."""
        rest, driven = self.network.admittance
        siemens = np.broadcast_to(rest, (len(rows), len(rest))).copy()
        siemens[:, self.driven] = np.where(rows, driven[self.driven], rest[self.driven])
        return siemens

    def _base_for(self, row: Bools, states: int) -> Base:
        """Return a base for some states of one setting: popular settings get their own where that costs little."""
        key = row.tobytes()
        if key in self._stepped:
            return self._stepped[key]
        if self._factored:
            apart = (self._rows != row).sum(axis=1)
            nearest, away = self._factored[int(apart.argmin())], int(apart.min())
            if away == 0 or (away <= _FAR and states < _POPULAR):
                return nearest
        siemens = self.siemens_of(row[None])[0]
        if self._factored:
            base = stepped(nearest, self._feeds, row, siemens[self.ports])
            if base is not None:
                self.tally.steps += 1
                self._stepped[key] = base
                if len(self._stepped) * base.response.nbytes > _ROOM_BYTES:
                    del self._stepped[next(iter(self._stepped))]
                return base
            if away <= _FAR and states < _PRECIOUS:
                return nearest
        self.tally.factorisations += 1
        base = factored(self._stamp, self.ports, self._feeds, row, siemens)
        most = max(2, _ROOM_BYTES // base.response.nbytes)
        self._factored = [*self._factored[-most + 1 :], base]
        self._rows = np.concatenate([self._rows[-most + 1 :], row[None]])
        return base

    # -- states --------------------------------------------------------------------------------------------

    def solve(
        self, rows: Bools, live: NDArray[np.float64], changes: Changes, wanted: Ints | None = None
    ) -> tuple[Complex, Complex]:
        """Solve states whose driven branches are known.

        Parameters
        ----------
        rows : (states, driven) bool
            Which driven branches are driven.
        live : (states, sources) float
            1 where a source's EMF is present, 0 where its primary is dead.
        changes : Changes
            Further changes per state.
        wanted : (branches,) int, optional
            Branches whose voltage is wanted; without it the answer is the potential of every node.

        Returns
        -------
        volts : complex
            Across the wanted branches, shape (states, wanted), or of every node, shape (states, nodes) [V RMS].
        siemens : complex
            Admittance of the wanted branches, or of every branch, as it was in that state [S].

        Raises
        ------
        SolveError
            A state cannot be solved even whole.
        """
        network = self.network
        across = None if wanted is None else network.incidence[wanted].T
        volts = np.empty((len(rows), len(network.nodes) if across is None else across.shape[1]), complex)
        siemens = np.empty((len(rows), len(network.branches) if wanted is None else len(wanted)), complex)
        pool, plans = self._plans(rows)
        into, feed = pool.response[:, len(self.ports) :], pool.feed[:, :, len(self.ports) :]
        if across is not None:
            into, feed = into @ across, feed @ across
        lost = _Lost()
        for part in self._parts(pool, plans, live, changes):
            volts[part.members] = self._sensed(part, into, feed)
            siemens[part.members] = part.siemens() if wanted is None else part.siemens_at(wanted)
            lost.add(part)
        for members, (potentials, _) in self._whole(lost):
            volts[members] = potentials if across is None else potentials @ across
        return volts, siemens

    def amps(
        self, rows: Bools, live: NDArray[np.float64], changes: Changes, watched: Ints
    ) -> Iterator[tuple[Ints, Complex]]:
        """Yield, some states at a time, which states they are and the current [A] through each watched branch.

        Parameters
        ----------
        rows, live, changes
            As for ``solve``.
        watched : (watched,) int
            Branches, none of them a leak or capacitance.
        """
        pool, plans = self._plans(rows)
        at, count, lost = self.port_of[watched], len(self.ports), _Lost()
        closed = pool.siemens.reshape(-1, count)[:, at] != 0
        into_watched = pool.response[:, at] * np.repeat(closed, count, axis=0)
        feed = pool.feed[:, :, at] * closed[:, None]
        for part in self._parts(pool, plans, live, changes):
            amps = self._sensed(part, into_watched, feed)
            # An open port senses volts; the current that a change lets through it is its drive.
            for w in np.flatnonzero(~closed.all(axis=0)):
                let_through = np.where(part.ports == at[w], part.drives, 0).sum(axis=1)
                amps[:, w] += np.where(closed[part.base, w], 0, let_through)
            lost.add(part)
            if part.lost.any():
                yield part.members[~part.lost], amps[~part.lost]
            else:
                yield part.members, amps
        for members, (_, amps) in self._whole(lost):
            yield members, amps[:, watched]

    def _plans(self, rows: Bools) -> tuple[Pool, list[_Plan]]:
        """Return the bases to use, and which states go with which: those that have a base of their own, and the others."""
        self.tally.solved += len(rows)
        bases: dict[int, Base] = {}
        own: list[tuple[Bools, Ints, int]] = []
        near: list[tuple[Bools, Ints, int]] = []
        groups = _grouped(rows)
        for (row, members), nearest in zip(groups, self._near(groups), strict=True):
            base = nearest or self._base_for(row, len(members))
            bases.setdefault(id(base), base)
            (own if (base.row == row).all() else near).append((row, members, id(base)))
        place = {key: i for i, key in enumerate(bases)}
        return Pool.of(list(bases.values()) or [self._base_for(np.zeros(len(self.driven), bool), 1)]), [
            _Plan(
                np.array([row for row, _, _ in groups], bool),
                np.array([place[key] for _, _, key in groups], np.intp),
                np.concatenate([members for _, members, _ in groups]),
                np.repeat(np.arange(len(groups)), [len(members) for _, members, _ in groups]),
            )
            for groups in (own, near)
            if groups
        ]

    def _near(self, groups: list[tuple[Bools, Ints]]) -> list[Base | None]:
        """Return for settings of few states the factored base that is near enough, all at once; None for the others."""
        if not self._factored or not groups:
            return [None] * len(groups)
        bases = self._factored
        apart = (np.array([row for row, _ in groups], bool)[:, None] != self._rows).sum(axis=2)
        return [
            bases[best] if far <= _FAR and len(members) < _POPULAR else None
            for best, far, (_, members) in zip(apart.argmin(axis=1), apart.min(axis=1), groups, strict=True)
        ]

    def _parts(self, pool: Pool, plans: list[_Plan], live: NDArray[np.float64], changes: Changes) -> Iterator[_Part]:
        """Yield the states, some at a time, with their drives."""
        for plan in plans:
            configured = self.siemens_of(plan.settings)
            moved = self._moved(pool.row[plan.base], plan.settings)
            moved_to = np.where(moved < 0, 0, configured[np.arange(len(moved))[:, None], moved])
            for start in range(0, len(plan.members), _CHUNK):
                some = slice(start, start + _CHUNK)
                members, setting = plan.members[some], plan.setting[some]
                changed = changes.take(members)
                as_set = configured[setting[:, None], changed.branch]
                branch, asked = changed.branch, changed.admittance(as_set)
                if moved.shape[1]:
                    # A branch that the setting moved and the state changes is changed once, from what the base has.
                    also = (moved[setting][:, :, None] == branch[:, None, :]).any(axis=2)
                    branch = np.concatenate([np.where(also, -1, moved[setting]), branch], axis=1)
                    asked = np.concatenate([moved_to[setting], asked], axis=1)
                base, emf = plan.base[setting], live[members] * self.emf
                ports = np.where(branch < 0, 0, self.port_of[branch])
                drives, lost = port_drives(pool, base, emf, ports, asked, branch >= 0)
                asked = asked[:, moved.shape[1] :]
                yield _Part(base, members, emf, configured, setting, changed.branch, asked, ports, drives, lost)

    def _moved(self, bases: Bools, settings: Bools) -> Ints:
        """Return the driven branches in which each setting differs from its base, padded with −1."""
        differ = settings != bases
        width = int(differ.sum(axis=1).max(initial=0))
        moved = np.full((len(settings), width), -1, np.intp)
        row, column = np.nonzero(differ)
        place = (np.cumsum(differ, axis=1) - 1)[row, column]
        moved[row, place] = self.driven[column]
        return moved

    def _sensed(self, part: _Part, response: Complex, feed: Complex) -> Complex:
        """Return what some columns of the bases' response and feed show in every state of a part, (states, columns)."""
        shown = np.zeros((len(part.members), response.shape[1]), complex)
        for s in range(part.emf.shape[1]):
            shown += feed[part.base, s] * part.emf[:, s, None]
        first = part.base * len(self.ports)
        for j in range(part.ports.shape[1]):
            shown += response[first + part.ports[:, j]] * part.drives[:, j, None]
        return shown

    def _whole(self, lost: _Lost) -> Iterator[tuple[Ints, tuple[Complex, Complex]]]:
        """Yield lost states, some at a time, with the potentials of every node and the current in every branch."""
        members, siemens, volts = lost.states()
        self.tally.whole += len(members)
        for start in range(0, len(members), _WHOLE_CHUNK):
            some = slice(start, start + _WHOLE_CHUNK)
            emf = np.zeros((*siemens[some].shape, 1), complex)
            emf[:, self.source_branch, 0] = volts[some]
            potentials, _, amps = self._stamp.solve(siemens[some], emf)
            yield members[some], (potentials[..., 0], amps[..., 0])


class _Lost:
    """States to be solved whole, gathered from the parts that met them."""

    def __init__(self) -> None:
        self.found: list[tuple[Ints, Complex, Complex]] = []

    def add(self, part: _Part) -> None:
        if part.lost.any():
            rows = np.flatnonzero(part.lost)
            self.found.append((part.members[rows], part.siemens(rows), part.emf[rows]))

    def states(self) -> tuple[Ints, Complex, Complex]:
        """Return which states they are, the admittance of every branch, and the EMF of every source."""
        if not self.found:
            return np.zeros(0, np.intp), np.zeros((0, 0), complex), np.zeros((0, 0), complex)
        members, siemens, emf = zip(*self.found, strict=True)
        return np.concatenate(members), np.concatenate(siemens), np.concatenate(emf)


def _grouped(rows: Bools) -> list[tuple[Bools, Ints]]:
    """Return the distinct settings of the driven branches and the states that have each."""
    if not len(rows):
        return []
    packed = np.packbits(rows, axis=1)
    words = np.zeros((len(rows), max(1, -(-packed.shape[1] // 8)) * 8), np.uint8)
    words[:, : packed.shape[1]] = packed
    keys = words.view(np.uint64).T
    order = np.argsort(keys[0]) if len(keys) == 1 else np.lexsort(keys)
    ordered = keys[:, order]
    cuts = np.flatnonzero((ordered[:, 1:] != ordered[:, :-1]).any(axis=0)) + 1
    return [(rows[group[0]], group) for group in np.split(order, cuts)]


def refined_dense(network: Network, siemens: Complex, emf_volts: Complex) -> Complex:
    """Solve one state whole, refined until nothing moves.

    Parameters
    ----------
    siemens : (branches,) complex
        Admittance of every branch [S].
    emf_volts : (sources,) complex
        EMF of every source [V RMS], zero where dead.

    Returns
    -------
    (nodes,) complex
        Potential of every node against earth [V RMS].
    """
    emf = np.zeros((len(siemens), 1), complex)
    for source, volts in zip(network.sources, emf_volts, strict=True):
        emf[source.branch] = volts
    return Stamp(network).solve(np.asarray(siemens, complex), emf)[0][:, 0]
