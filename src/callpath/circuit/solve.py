"""Phasor nodal solution of many states of one network, as small changes to a few factorisations.

A *base* is the network with one setting of its contacts, coils and fuses, factored once: the response of every node
to a unit current driven into the two ends of every branch, and to a unit EMF of every source. A state differs from its
base in a handful of branches. With A the incidence of those branches, D the change of their admittances, Z = Aᵀ Y⁻¹ A and
u the base's voltage across them less their EMF, the compensating currents c follow from

    (I + D Z) c = D u            v = v_base − Y⁻¹ A c

which is the Woodbury identity written so that an unchanged branch (D = 0) needs no care. Where (I + D Z) is close to
singular, digits are lost; such states are solved whole instead, with refinement, and counted.

References
----------
W. W. Hager, "Updating the inverse of a matrix", SIAM Review 31 (1989), for the identity (from memory).
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np
from numpy.typing import NDArray

from callpath.circuit.network import Network
from callpath.errors import SolveError

__all__ = ["Base", "Changes", "Engine", "Tally", "refined_dense"]

Complex = NDArray[np.complex128]
Bools = NDArray[np.bool_]
Ints = NDArray[np.intp]

# Digits lost by an update: below this the compensating currents are recomputed by a whole solve.
_WORST_PIVOT = 1e-8
# A configuration seen in this many states at once earns a factorisation of its own.
_POPULAR = 64
# A state further than this from every base, in switched branches, gets a base of its own.
_FAR = 10
# States worked on at once: enough to be worth the call, few enough to stay in cache.
_CHUNK = 2048
_STRAY = ("leak", "capacitance")


@dataclass(frozen=True)
class Changes:
    """Changes to branches, per state, over what the discrete state says; shape (states, changes) each.

    ``branch`` is −1 where a state has fewer changes. ``series_ohms`` is added to the branch's impedance (infinite: open);
    where it is NaN, ``siemens`` replaces the admittance instead.
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
        with np.errstate(divide="ignore", invalid="ignore"):
            series = np.where(configured == 0, 0, 1 / (1 / configured + self.series_ohms))
        series = np.where(np.isinf(self.series_ohms), 0, series)
        return np.where(np.isnan(self.series_ohms), self.siemens, series)


@dataclass
class Tally:
    """What the engine has done: states solved, factorisations made, states sent to a whole solve."""

    solved: int = 0
    factorisations: int = 0
    whole: int = 0


@dataclass(frozen=True)
class Base:
    """The network factored with one setting of its driven branches.

    ``response`` (nodes, ports): node volts for 1 A driven through each port from outside, b to a. ``port_response``
    (ports, ports) is the same seen across the ports; ``node_emf`` (nodes, sources) and ``port_emf`` (ports, sources)
    answer each source's own EMF.
    """

    row: Bools
    siemens: Complex
    response: Complex
    port_response: Complex
    node_emf: Complex
    port_emf: Complex


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
        self._bases: list[Base] = []
        self._rows: Bools = np.zeros((0, len(self.driven)), bool)

    @cached_property
    def _port_incidence(self) -> NDArray[np.float64]:
        return self.network.incidence[self.ports]

    # -- bases ---------------------------------------------------------------------------------------------

    def siemens_of(self, rows: Bools) -> Complex:
        """Return the admittance [S] of every branch, shape (states, branches), for settings of the driven branches."""
        rest, driven = self.network.admittance
        siemens = np.broadcast_to(rest, (len(rows), len(rest))).copy()
        siemens[:, self.driven] = np.where(rows, driven[self.driven], rest[self.driven])
        return siemens

    def _factor(self, row: Bools) -> Base:
        incidence = self.network.incidence
        siemens = self.siemens_of(row[None])[0]
        matrix = incidence.T @ (siemens[:, None] * incidence)
        into = self._port_incidence.T.astype(complex)
        # Driving one end of a branch against the other keeps the answer free of the potential of floating islands,
        # which is fixed only by leakage; taking differences of a plain inverse would lose that many digits.
        inverse = np.linalg.inv(matrix)
        response: Complex = inverse @ into
        for _ in range(2):
            through = incidence.T @ (siemens[:, None] * (incidence @ response))
            response = response + inverse @ (into - through)
        port_response: Complex = (self._port_incidence @ response).astype(complex)
        feeds = self.port_of[self.source_branch]
        scale = siemens[self.source_branch]
        self.tally.factorisations += 1
        return Base(row, siemens, response, port_response, response[:, feeds] * scale, port_response[:, feeds] * scale)

    def _nearest_base(self, row: Bools, states: int) -> int:
        """Return the index of a base near enough to a setting; popular or far settings get one of their own."""
        if self._bases:
            apart = (self._rows != row).sum(axis=1)
            best = int(apart.argmin())
            if apart[best] == 0 or (states < _POPULAR and apart[best] <= _FAR):
                return best
        self._bases.append(self._factor(row))
        self._rows = np.concatenate([self._rows, row[None]])
        return len(self._bases) - 1

    # -- states --------------------------------------------------------------------------------------------

    def grouped(self, rows: Bools) -> list[tuple[Bools, Ints]]:
        """Return the distinct settings of the driven branches and the states that have each."""
        if not len(rows):
            return []
        flat: NDArray[Any]
        packed = np.packbits(rows, axis=1) if rows.shape[1] else np.zeros((len(rows), 1), np.uint8)
        width = packed.shape[1]
        if width <= 8:
            keys = np.zeros((len(rows), 8), np.uint8)
            keys[:, :width] = packed
            flat = keys.view(np.uint64).ravel()
        else:
            flat = np.ascontiguousarray(packed).view(np.dtype((np.void, width))).ravel()
        first = flat[0]
        if (flat == first).all():
            return [(rows[0], np.arange(len(rows)))]
        order = np.argsort(flat, kind="stable")
        ordered = flat[order]
        cuts = np.flatnonzero(ordered[1:] != ordered[:-1]) + 1
        return [(rows[group[0]], group) for group in np.split(order, cuts)]

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
            A state leaves more current unaccounted for at a node than its tolerance, even when solved whole.
        """
        columns = len(self.network.nodes) if wanted is None else len(wanted)
        every = np.arange(len(self.network.branches)) if wanted is None else wanted
        volts = np.empty((len(rows), columns), complex)
        siemens = np.empty((len(rows), len(every)), complex)
        self.tally.solved += len(rows)
        near: dict[int, list[tuple[Bools, Ints]]] = {}
        for row, members in self.grouped(rows):
            near.setdefault(self._nearest_base(row, len(members)), []).append((row, members))
        for which, groups in near.items():
            members = np.concatenate([group for _, group in groups])
            setting = np.repeat(np.arange(len(groups)), [len(group) for _, group in groups])
            settings = np.array([row for row, _ in groups], bool)
            for start in range(0, len(members), _CHUNK):
                part = members[start : start + _CHUNK]
                volts[part], siemens[part] = self._solve_near(
                    self._bases[which],
                    settings,
                    setting[start : start + _CHUNK],
                    live[part],
                    changes.take(part),
                    wanted,
                )
        return volts, siemens

    def _solve_near(
        self,
        base: Base,
        settings: Bools,
        setting: Ints,
        live: NDArray[np.float64],
        changes: Changes,
        wanted: Ints | None,
    ) -> tuple[Complex, Complex]:
        """Solve states near one base; ``settings`` are their distinct rows, ``setting`` says which is whose."""
        configured = self.siemens_of(settings)
        emf = live * self.emf
        # A branch that both the setting and the state change simply stands in the list twice: the two add up.
        moved = self._moved(base, settings)
        shift = np.where(moved < 0, 0, configured[np.arange(len(settings))[:, None], moved] - base.siemens[moved])
        listed = changes.branch >= 0
        index = np.where(listed, changes.branch, self.ports[0])
        as_set = configured[setting[:, None], index]
        asked = np.where(listed, changes.admittance(as_set), as_set)
        branch = np.concatenate([np.where(moved < 0, self.ports[0], moved)[setting], index], axis=1)
        delta = np.concatenate([shift[setting], asked - as_set], axis=1)
        ports = self.port_of[branch]
        current, lost = self._compensate(base, ports, branch, delta, emf)

        response, answer = (
            (base.response, base.node_emf)
            if wanted is None
            else (base.port_response[self.port_of[wanted]], base.port_emf[self.port_of[wanted]])
        )
        volts = emf @ answer.T
        by_port = np.ascontiguousarray(response.T)
        for j in range(branch.shape[1]):
            volts -= by_port[ports[:, j]] * current[:, j, None]

        every = np.arange(configured.shape[1]) if wanted is None else wanted
        siemens: Complex = configured[:, every][setting]
        for j in range(index.shape[1]):
            hit, column = np.nonzero((index[:, j, None] == every) & listed[:, j, None])
            siemens[hit, column] = asked[hit, j]
        for i in np.flatnonzero(lost):
            whole = configured[setting[i]].copy()
            whole[index[i, listed[i]]] = asked[i, listed[i]]
            nodes = refined_dense(self.network, whole, emf[i])
            volts[i] = nodes if wanted is None else self.network.incidence[wanted] @ nodes
            self.tally.whole += 1
        return volts, siemens

    def _moved(self, base: Base, settings: Bools) -> Ints:
        """Return the driven branches in which each setting differs from the base, padded with −1."""
        differ = settings != base.row
        width = int(differ.sum(axis=1).max(initial=0))
        moved = np.full((len(settings), width), -1, np.intp)
        row, column = np.nonzero(differ)
        place = (np.cumsum(differ, axis=1) - 1)[row, column]
        moved[row, place] = self.driven[column]
        return moved

    def _compensate(self, base: Base, ports: Ints, branch: Ints, delta: Complex, emf: Complex) -> tuple[Complex, Bools]:
        """Return the compensating currents [A], shape (states, changes), and which states lost too many digits."""
        states, count = delta.shape
        if count == 0:
            return np.zeros((states, 0), complex), np.zeros(states, bool)
        across = np.empty((states, count), complex)
        for j in range(count):
            across[:, j] = (base.port_emf[ports[:, j]] * emf).sum(axis=1)
        for s, feeding in enumerate(self.source_branch):
            across -= np.where(branch == feeding, emf[:, s, None], 0)
        z = base.port_response[ports[:, :, None], ports[:, None, :]]
        if count == 1:
            pivot = 1 + delta[:, 0] * z[:, 0, 0]
            lost = np.abs(pivot) < _WORST_PIVOT * (1 + np.abs(delta[:, 0] * z[:, 0, 0]))
            with np.errstate(divide="ignore", invalid="ignore"):
                return (delta[:, 0] * across[:, 0] / pivot)[:, None], lost
        if count == 2:
            d1, d2, u1, u2 = delta[:, 0], delta[:, 1], across[:, 0], across[:, 1]
            a, b = 1 + d1 * z[:, 0, 0], d1 * z[:, 0, 1]
            c, d = d2 * z[:, 1, 0], 1 + d2 * z[:, 1, 1]
            pivot = a * d - b * c
            size = (1 + np.abs(d1 * z[:, 0, 0])) * (1 + np.abs(d2 * z[:, 1, 1]))
            lost = np.abs(pivot) < _WORST_PIVOT * size
            with np.errstate(divide="ignore", invalid="ignore"):
                return np.stack(
                    [(d * d1 * u1 - b * d2 * u2) / pivot, (a * d2 * u2 - c * d1 * u1) / pivot], axis=1
                ), lost
        system = np.eye(count) + delta[:, :, None] * z
        try:
            inverse = np.linalg.inv(system)
        except np.linalg.LinAlgError:
            return np.zeros((states, count), complex), np.ones(states, bool)
        lost = np.abs(inverse).max(axis=(1, 2)) * np.abs(system).max(axis=(1, 2)) > 1 / _WORST_PIVOT
        current = (inverse @ (delta * across)[:, :, None])[:, :, 0]
        return current, lost | ~np.isfinite(current).all(axis=1)


def refined_dense(network: Network, siemens: Complex, emf_volts: Complex) -> Complex:
    """Solve one state whole and refine it until the current left over at every node is nothing.

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

    Notes
    -----
    The left-over current is summed branch by branch from voltage differences in extended precision, so that leakage
    of 10⁻⁷ S counts beside contacts of 30 S.
    """
    incidence = network.incidence
    matrix = incidence.T @ (siemens[:, None] * incidence)
    emf = np.zeros(len(siemens), complex)
    for source, volts in zip(network.sources, emf_volts, strict=True):
        emf[source.branch] = volts
    exact = np.clongdouble
    fine_incidence = incidence.astype(np.longdouble)
    fine_siemens = siemens.astype(exact)
    potential = np.zeros(incidence.shape[1], exact)
    left = np.inf
    for _ in range(8):
        amps = fine_siemens * (fine_incidence @ potential - emf)
        over = fine_incidence.T @ amps
        step = np.linalg.solve(matrix, over.astype(complex))
        potential = potential - step
        left = float(np.abs(step).max(initial=0.0))
        if left <= 1e-13 * max(1.0, float(np.abs(potential).max(initial=0.0))):
            break
    else:
        if not left < 1e-9:
            raise SolveError(f"a whole solve still moves by {left:.3g} V after eight refinements")
    return potential.astype(complex)
