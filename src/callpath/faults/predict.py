"""What each hypothesis would show: the engine settles every one on the call that is asked about.

Hypotheses that settle alike are settled once. What each of them shows is still solved with its own changes.
Readings are nominal values at the nominal supply, with the meter in place.
"""

from __future__ import annotations

import os
from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from callpath.calls.closing import calls_of_job, given_for
from callpath.circuit.build import Circuit
from callpath.circuit.network import Network
from callpath.circuit.settle import States, settle
from callpath.circuit.share import in_threads, settle_shared
from callpath.circuit.solve import Bools, Changes, Complex, Engine, Ints
from callpath.faults.across import and_also, open_name, padded, with_open
from callpath.faults.alike import same_copper, settles_alike
from callpath.faults.asked import Pair, Setup
from callpath.faults.kept import Kept
from callpath.faults.ohms import Ohmmeter
from callpath.faults.places import Places, Table, table_of
from callpath.faults.ranged import Ranges, ranges_of
from callpath.faults.universe import Universe
from callpath.parts.catalogue import physics
from callpath.progress import step

__all__ = ["Shows"]

Floats = NDArray[np.float64]

# States of many changes are settled apart from those of few, whose solution is shorter.
_WIDTHS = (2, 4)
_WORTH_SHARING = 4000


@dataclass
class _Known:
    """Settled bits of the hypotheses that have been asked about in one setup."""

    bits: Bools
    done: Bools


@dataclass
class Shows:
    """Answers what each hypothesis of a universe shows.

    Parameters
    ----------
    places : Places
        The network and the effects of the faults.
    universe : Universe
        The hypotheses.
    jumps : sequence of pairs
        Terminals that may be jumped, or read with a low-impedance meter.
    supply : float
        The mains voltage as a fraction of nominal.
    """

    places: Places
    universe: Universe
    jumps: Sequence[Pair] = ()
    supply: float = 1.0
    _known: dict[Setup, _Known] = field(default_factory=dict)
    _asked: dict[str, Bools] = field(default_factory=dict)
    _meters: dict[Pair, tuple[list[Engine], int]] = field(default_factory=dict)
    _kept: Kept = field(default_factory=Kept)

    @property
    def circuit(self) -> Circuit:
        """The job as it should be."""
        return self.places.circuit

    @cached_property
    def table(self) -> Table:
        """Effects as arrays."""
        return table_of(self.places)

    @cached_property
    def network(self) -> Network:
        """The places, and an open one across each pair that may be jumped."""
        return with_open(self.places.circuit.network, self.jumps, "jump")

    @cached_property
    def engines(self) -> list[Engine]:
        """Solvers of the network, one for each core."""
        cores = len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1
        return [Engine(self.network) for _ in range(min(cores, 4))]

    @cached_property
    def calls(self) -> tuple[str, ...]:
        """Calls that the job can make."""
        return calls_of_job(self.circuit)

    # -- states ------------------------------------------------------------------------------------------------

    def settled(self, setup: Setup, rows: Ints) -> Bools:
        """Return the steady state of some hypotheses, (rows, bits + given)."""
        if setup not in self._known:
            self._known[setup] = self._nothing_known()
        known = self._known[setup]
        missing = rows[~known.done[rows]]
        if len(missing):
            standing_for, which = np.unique(self._stands_for[missing], return_inverse=True)
            bits = self._settle(setup, standing_for)
            known.bits[standing_for], known.done[standing_for] = bits, True
            known.bits[missing], known.done[missing] = bits[which], True
        return known.bits[rows]

    def settle_all(self, setups: Sequence[Setup], rows: Ints) -> None:
        """Settle some hypotheses in many setups at once, to be asked about later."""
        wanted = [setup for setup in setups if setup not in self._known or not self._known[setup].done[rows].all()]
        if not wanted:
            return
        for some in self._by_width(rows):
            batch = [self.states(setup, rows[some]) for setup in wanted]
            width = max(states.changes.branch.shape[1] for states in batch)
            changes = [padded(states.changes, width) for states in batch]
            bits = settle(
                self.engines[0],
                States(
                    np.concatenate([states.given for states in batch]),
                    np.concatenate([states.live for states in batch]),
                    Changes(
                        np.concatenate([c.branch for c in changes]),
                        np.concatenate([c.series_ohms for c in changes]),
                        np.concatenate([c.siemens for c in changes]),
                    ),
                    np.tile(self._held(rows[some]), (len(wanted), 1)),
                ),
            ).bits
            for setup, mine in zip(wanted, np.split(bits, len(wanted)), strict=True):
                known = self._known.setdefault(setup, self._nothing_known())
                known.bits[rows[some]], known.done[rows[some]] = mine, True

    def _nothing_known(self) -> _Known:
        count = len(self.network.bits) + len(self.network.given)
        return _Known(np.zeros((len(self.universe), count), bool), np.zeros(len(self.universe), bool))

    def _settle(self, setup: Setup, rows: Ints) -> Bools:
        bits = np.zeros((len(rows), len(self.network.bits) + len(self.network.given)), bool)
        if len(rows) > _WORTH_SHARING:
            step(f"settling {len(rows):,} faults on '{setup.call}'")
        for some in self._by_width(rows):
            states = self.states(setup, rows[some])
            if len(some) > _WORTH_SHARING and len(self.engines) > 1:
                bits[some] = settle_shared(self.engines, states).bits
            else:
                bits[some] = settle(self.engines[0], states).bits
        return bits

    def _by_width(self, rows: Ints) -> list[Ints]:
        width = self.table.width[self.universe.one[rows]] + self.table.width[self.universe.two[rows]]
        return [np.flatnonzero(step == k) for step in (np.searchsorted(_WIDTHS, width),) for k in np.unique(step)]

    def states(self, setup: Setup, rows: Ints) -> States:
        """Return some hypotheses as states to settle."""
        one, two = self.universe.one[rows], self.universe.two[rows]
        changes = self.table.changes(one, two)
        for pair, ohms in ((setup.jumped, physics()["jumper-ohms"]), (setup.low_z, physics()["low-z-meter-ohms"])):
            if pair is not None:
                changes = and_also(changes, self.network.index[open_name("jump", pair)], 1 / ohms)
        return States(self._given(setup.call, rows), self._live(rows), changes, self._held(rows))

    def _held(self, rows: Ints) -> Bools:
        found: Bools = self.table.held[self.universe.one[rows]] | self.table.held[self.universe.two[rows]]
        return found

    def _variant(self, rows: Ints) -> Ints:
        table, universe = self.table, self.universe
        found: Ints = np.maximum(table.variant[universe.one[rows]], table.variant[universe.two[rows]])
        return found

    def _given(self, call: str, rows: Ints) -> Bools:
        if call not in self._asked:
            # A thermostat set to make no such call closes nothing.
            self._asked[call] = np.array(
                [given_for(v, call if call in calls_of_job(v) else "off") for v in self.places.variants]
            )
        given: Bools = self._asked[call][self._variant(rows)]
        return given

    def _live(self, rows: Ints) -> Floats:
        live: Floats = self.table.live[self.universe.one[rows]] * self.table.live[self.universe.two[rows]]
        return live * self.supply

    @cached_property
    def same_copper(self) -> Ints:
        """For every hypothesis one that no meter tells from it."""
        return same_copper(self.universe)

    @cached_property
    def ranges(self) -> Ranges:
        """The hypotheses that stand for a range of resistances."""
        return ranges_of(self.universe.faults)

    @cached_property
    def _stands_for(self) -> Ints:
        return settles_alike(self.universe)

    # -- readings ----------------------------------------------------------------------------------------------

    def running(self, setup: Setup, function: str, rows: Ints) -> Bools:
        """Return in which hypotheses a function runs, or a coil is pulled in."""
        bits = self.settled(setup, rows)
        if function not in self.circuit.functions:
            pulled: Bools = bits[:, self.network.bit_index[function]]
            return pulled
        runs: Bools = self.circuit.functions[function](bits)
        which = self._variant(rows)
        for variant in np.unique(which[which > 0]):
            some = which == variant
            runs[some] = self.places.variants[variant].functions[function](bits[some])
        for fault, effect in enumerate(self.places.effects):
            if function in effect.drives:
                held = (self.universe.one[rows] == fault) | (self.universe.two[rows] == fault)
                runs[held] &= effect.drives[function](bits[held])
        return runs

    def potentials(self, setup: Setup, rows: Ints, *, pulled: bool = False) -> Complex:
        """Return the potential of every node without any meter, (rows, nodes) [V RMS].

        ``pulled``: every node pulled towards earth by a meter's ohms, which what is fed through copper does not feel.
        """
        bits = self.settled(setup, rows)
        engine = self._pulled if pulled else self.engines[0]
        found = np.zeros((len(rows), len(self.network.nodes)), complex)
        for some in self._by_width(rows):
            states = self.states(setup, rows[some])
            found[some] = engine.solve(self.network.drive_rows(bits[some]), states.live, states.changes)[0]
        return found

    def alone_and_pulled(self, setup: Setup, rows: Ints) -> Complex:
        """Return the potential of every node without any meter, and as if meters stood everywhere, (rows, 2, nodes) [V RMS]."""

        def both(rows: Ints) -> Complex:
            return np.stack([self.potentials(setup, rows), self.potentials(setup, rows, pulled=True)], axis=1)

        return self._kept.of(("everywhere", setup), rows, both)

    @cached_property
    def _pulled(self) -> Engine:
        ohms = complex(physics()["meter-ohms"])
        branches = (
            replace(b, ohms=ohms) if b.kind == "leak" and "@" not in b.name else b for b in self.network.branches
        )
        return Engine(replace(self.network, branches=tuple(branches)))

    def volts(self, setup: Setup, pair: Pair, rows: Ints) -> tuple[Floats, Floats]:
        """Return what a voltmeter shows between two points, and what stands there without it (rows,) [V RMS].

        It has 10 MΩ, or 3 kΩ where the setup has a low-impedance meter there.
        """
        both = self._kept.of(("volts", setup, pair), rows, lambda rows: self._volts(setup, pair, rows))
        return both[:, 0], both[:, 1]

    def _volts(self, setup: Setup, pair: Pair, rows: Ints) -> Floats:
        network = self.network
        across = np.zeros(len(network.nodes))
        across[network.node_of[pair[0]]] += 1
        across[network.node_of[pair[1]]] -= 1
        if setup.low_z is not None:
            shown = np.abs(self.potentials(setup, rows) @ across)
        else:
            shown = self._metered_volts(setup, pair, rows)
        # What reads the same to six digits comes from the same copper: ask one of each what stands there alone.
        _, first, which = np.unique(np.round(shown, 6), return_index=True, return_inverse=True)
        alone = np.abs(self.potentials(replace(setup, low_z=None), rows[first]) @ across)
        return np.stack([shown, alone[which]], axis=1)

    def _metered_volts(self, setup: Setup, pair: Pair, rows: Ints) -> Floats:
        engines, probe = self._meter(pair)
        bits = self.settled(setup, rows)
        shown = np.zeros(len(rows))

        def read(engine: Engine, some: Ints) -> None:
            states = self.states(setup, rows[some])
            siemens = 1 / physics()["meter-ohms"]
            changes = and_also(states.changes, probe, siemens)
            rows_of = engine.network.drive_rows(bits[some])
            for members, amps in engine.amps(rows_of, states.live, changes, np.array([probe], np.intp)):
                step()
                shown[some[members]] = np.abs(amps[:, 0]) / siemens

        for some in self._by_width(rows):
            shares = np.array_split(some, len(engines)) if len(some) > _WORTH_SHARING else [some]
            if len(shares) == 1:
                read(engines[0], some)
            else:
                in_threads(read, engines, shares)
        return shown

    def ready_meter(self, pairs: Sequence[Pair]) -> None:
        """Make ready for a voltmeter between any of some pairs of points."""
        missing = [pair for pair in dict.fromkeys(pairs) if pair not in self._meters]
        if missing:
            network = with_open(self.network, missing, "meter")
            engines = [Engine(network) for _ in self.engines]
            for pair in missing:
                self._meters[pair] = engines, network.index[open_name("meter", pair)]

    def _meter(self, pair: Pair) -> tuple[list[Engine], int]:
        self.ready_meter([pair])
        return self._meters[pair]

    def amps(self, setup: Setup, conductor: str, rows: Ints) -> Floats:
        """Return what a clamp meter shows around a conductor, (rows,) [A RMS]."""
        found: Floats = self.amps_in_all(setup, [conductor], rows)[:, 0]
        return found

    def amps_in_all(self, setup: Setup, branches: Sequence[str], rows: Ints) -> Floats:
        """Return the current in some conductors or elements, (rows, branches) [A RMS]."""
        reading = ("amps", setup, tuple(branches))
        return self._kept.of(reading, rows, lambda rows: self._amps(setup, branches, rows))

    def _amps(self, setup: Setup, branches: Sequence[str], rows: Ints) -> Floats:
        bits = self.settled(setup, rows)
        watched = np.array([self.network.index[name] for name in branches], np.intp)
        found = np.zeros((len(rows), len(watched)))
        for some in self._by_width(rows):
            states = self.states(setup, rows[some])
            rows_of = self.network.drive_rows(bits[some])
            for members, amps in self.engines[0].amps(rows_of, states.live, states.changes, watched):
                found[some[members]] = np.abs(amps)
        return found

    def source_load(self, setup: Setup, rows: Ints) -> Floats:
        """Return the current of every source as a part of its nameplate, (rows, sources)."""
        rated = np.array([source.rated_amps for source in self.network.sources])
        load: Floats = self.amps_in_all(setup, self.circuit.source_names, rows) / rated
        return load

    def ohms(self, pair: Pair, lifted: Sequence[str], rows: Ints, call: str = "off") -> Floats:
        """Return what an ohmmeter shows between two points with every source off, (rows,) [Ω]; infinite for OL."""
        reading = ("ohms", pair, tuple(lifted), call)
        return self._kept.of(reading, rows, lambda rows: self._ohms(pair, lifted, rows, call))

    def _ohms(self, pair: Pair, lifted: Sequence[str], rows: Ints, call: str) -> Floats:
        index = self.network.index
        conductors = [name for name in lifted if name in self.circuit.job.landings]
        off = {index[f"landing:{name}@{end}"] for name in conductors for end in self._ends_at(name, pair)}
        off |= {index[f"jumper:{name}"] for name in lifted if name not in conductors}
        # Whoever measures at a lead's own end has taken it off wherever it was.
        own = [name for name in lifted if f"{name}@2" in pair]
        off |= {i for name, i in index.items() for conductor in own if name.startswith(f"swap:{conductor}>")}
        found = np.zeros(len(rows))
        given = self._given(call, rows)
        different, which = np.unique(given, axis=0, return_inverse=True)
        for k, one in enumerate(different):
            some = np.flatnonzero(which.ravel() == k)
            changes = self.table.changes(self.universe.one[rows[some]], self.universe.two[rows[some]], dc=True)
            found[some] = self._ohmmeter.read(pair, one, off, changes)
        return found

    @cached_property
    def _ohmmeter(self) -> Ohmmeter:
        return Ohmmeter(self.network)

    def _ends_at(self, conductor: str, pair: Pair) -> list[int]:
        """Return the ends of a conductor that are lifted off the measured points, its own ends among them."""
        landing = self.circuit.job.landings[conductor]
        return [
            end
            for end in (1, 2)
            if landing[end - 1] is not None and (landing[end - 1] in pair or f"{conductor}@{end}" in pair)
        ]
