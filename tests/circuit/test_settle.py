"""Settling: hysteresis, order, fuses, cycles, and states that do not know of each other."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from callpath.circuit.network import Bit, Network
from callpath.circuit.settle import Settled, States, settle
from callpath.circuit.solve import Changes, Engine
from tests.circuit.handnet import Hand
from tests.circuit.kirchhoff import assert_all_balanced
from tests.circuit.randomnet import RandomNet, random_nets


def settled(network: Network, *given_rows: list[bool], supply: float = 1.0, start: list[bool] | None = None) -> Settled:
    """Settle rows of given bits with every source at a share of its EMF; check Kirchhoff's law in what comes out."""
    rows = np.array(given_rows, bool).reshape(len(given_rows), len(network.given))
    states = States(rows, np.full((len(rows), len(network.sources)), supply), Changes.none(len(rows)))
    engine = Engine(network)
    found = settle(engine, states, start=None if start is None else np.array([start] * len(rows), bool))
    for bits in (found.bits, found.before_fuse):
        assert_all_balanced(engine, network.drive_rows(bits), states.live, states.changes)
    return found


def on(network: Network, found: Settled, state: int = 0) -> set[str]:
    """Return the names of the bits that are true."""
    return {bit.name for i, bit in enumerate(network.bits) if found.bits[state, i]}


def relay() -> Hand:
    hand = Hand()
    hand.source("supply", "r", "c")
    hand.coil("relay", "r", "c", open_gap=40 + 40j, sealed=40 + 40j, on=18.0, off=10.0)
    return hand


# 27 V behind 1.516 + j3.015 Ω leaves 25.1 V for a coil of 40 + j40 Ω (C): 0.55 of it is 13.8 V, 0.3 of it 7.5 V.
@pytest.mark.parametrize(
    ("supply", "was", "expected"),
    [(1.0, False, True), (0.55, False, False), (0.55, True, True), (0.3, True, False)],
)
def test_a_coil_stays_where_it_is_between_drop_out_and_pull_in(supply: float, was: bool, expected: bool) -> None:
    network = relay().network()
    assert on(network, settled(network, [], supply=supply, start=[was])) == ({"relay"} if expected else set())


def test_a_chain_of_relays_pulls_in_one_after_the_other() -> None:
    hand = relay()
    hand.contact("c1", "r", "a", "relay")
    hand.coil("second", "a", "c", open_gap=40 + 40j, sealed=80 + 80j)
    hand.contact("c2", "r", "b", "second")
    hand.coil("third", "b", "c", open_gap=40 + 40j, sealed=80 + 80j)
    network = hand.network()
    found = settled(network, [])
    assert on(network, found) == {"relay", "second", "third"}
    assert found.rounds[0] == 4
    assert not found.chatter[0]


def test_a_coil_with_a_bad_connection_senses_what_that_leaves_of_the_voltage() -> None:
    hand = Hand()
    hand.source("supply", "r", "c")
    hand.coil("sound", "r", "c", open_gap=40 + 40j)
    hand.coil("bad", "r", "c", open_gap=40 + 40j, added_ohms=50.0)
    hand.coil("broken", "r", "c", open_gap=40 + 40j, added_ohms=np.inf)
    network = hand.network()
    # |40 + j40| / |90 + j40| = 0.574 (C): below 18 V of 25.
    assert on(network, settled(network, [])) == {"sound"}


def test_a_fuse_waits_until_the_coils_have_moved() -> None:
    # Open gap 8 + j10 Ω draws 1.7 A (C), sealed a quarter of that: a 1 A fuse that saw the inrush first would open.
    hand = Hand()
    hand.source("supply", "s", "c")
    hand.fuse("fuse", "s", "r", 1.0)
    hand.coil("contactor", "r", "c", open_gap=8 + 10j, sealed=40 + 60j, on=15.0)
    network = hand.network()
    assert on(network, settled(network, [])) == {"contactor"}


def test_the_most_overloaded_fuse_opens_first_and_saves_the_other() -> None:
    hand = Hand()
    hand.source("supply", "s", "c")
    hand.fuse("five", "s", "a", 5.0)
    hand.fuse("three", "a", "b", 3.0)
    hand.wire("short", "b", "c", 0.1)
    network = hand.network()
    found = settled(network, [])
    assert on(network, found) == {"three"}
    assert not found.before_fuse[0, : len(network.bits)].any()


def test_after_a_fuse_everything_is_settled_again() -> None:
    hand = Hand()
    hand.source("supply", "s", "c")
    hand.fuse("fuse", "s", "r", 4.0)
    hand.coil("relay", "r", "c", open_gap=40 + 40j, sealed=40 + 40j, on=8.0, off=2.0)
    hand.contact("touch", "r", "d", "relay")
    hand.wire("short", "d", "c", 1.0)
    network = hand.network()
    found = settled(network, [])
    assert on(network, found) == {"fuse"}
    assert {bit.name for i, bit in enumerate(network.bits) if found.before_fuse[0, i]} == {"relay"}


def test_a_fuse_opens_before_a_winding_burns() -> None:
    # The winding is the further past its limit, and the fuse is still the quicker.
    hand = Hand()
    hand.burning("supply", "s", "c", 2.0)
    hand.fuse("fuse", "s", "r", 5.0)
    hand.wire("short", "r", "c", 0.1)
    network = hand.network()
    assert on(network, settled(network, [])) == {"fuse"}


def test_a_winding_that_no_fuse_protects_burns_open() -> None:
    hand = Hand()
    hand.burning("supply", "s", "c", 3.3)
    hand.wire("short", "s", "c", 0.1)
    network = hand.network()
    found = settled(network, [])
    assert on(network, found) == {"supply"}
    assert not found.before_fuse[0].any()


def test_an_open_fuse_stays_open() -> None:
    hand = Hand()
    hand.source("supply", "s", "c")
    hand.fuse("fuse", "s", "r", 3.0)
    hand.load("lamp", "r", "c", 100.0)
    network = hand.network()
    assert on(network, settled(network, [], start=[True, False])) == {"fuse"}
    assert on(network, settled(network, [])) == {"lamp"}


def buzzer() -> Hand:
    hand = Hand()
    hand.source("supply", "s", "c")
    hand.fuse("fuse", "s", "r", 2.0)
    hand.contact("nc", "r", "a", "relay", closed=True)
    hand.coil("relay", "a", "c", open_gap=40 + 40j, sealed=80 + 80j)
    return hand


def test_a_relay_that_cuts_off_its_own_coil_chatters() -> None:
    network = buzzer().network()
    found = settled(network, [])
    assert found.chatter[0]
    assert found.rounds[0] < 20


def test_a_fuse_overloaded_while_a_relay_chatters_opens() -> None:
    # Only while the relay is in is anything short, and then it drops out before anything rests.
    hand = buzzer()
    hand.contact("touch", "r", "d", "relay")
    hand.wire("short", "d", "c", 0.1)
    network = hand.network()
    found = settled(network, [])
    assert not found.chatter[0]
    assert on(network, found) == {"fuse"}
    assert not found.before_fuse[0, [bit.name for bit in network.bits].index("fuse")]


def test_two_relays_that_race_are_no_chatter() -> None:
    # Moved both at once they would pull in together and drop out together for ever.
    hand = Hand()
    hand.source("supply", "r", "c")
    for one, other in (("one", "other"), ("other", "one")):
        hand.contact(f"nc-{other}", "r", f"to-{one}", other, closed=True)
        hand.coil(one, f"to-{one}", "c", open_gap=40 + 40j, sealed=80 + 80j)
    network = hand.network()
    found = settled(network, [])
    assert not found.chatter[0]
    assert len(on(network, found)) == 1


def test_a_ring_of_three_relays_has_no_rest() -> None:
    hand = Hand()
    hand.source("supply", "r", "c")
    ring = ("one", "two", "three")
    for i, name in enumerate(ring):
        hand.contact(f"nc-{i}", "r", f"to-{name}", ring[i - 1], closed=True)
        hand.coil(name, f"to-{name}", "c", open_gap=40 + 40j, sealed=80 + 80j)
    assert settled(hand.network(), []).chatter[0]


def test_nothing_to_settle() -> None:
    hand = Hand()
    hand.given = ["on"]
    hand.source("supply", "r", "c")
    network = hand.network()
    assert settled(network, [False], [True]).rounds.tolist() == [1, 1]
    none = States(np.zeros((0, 1), bool), np.ones((0, 1)), Changes.none(0))
    assert settle(Engine(network), none).bits.shape == (0, 1)


def same(one: Settled, other: Settled, rows: np.ndarray) -> None:
    assert (one.bits[rows] == other.bits).all()
    assert (one.before_fuse[rows] == other.before_fuse).all()
    assert (one.chatter[rows] == other.chatter).all()
    assert (one.rounds[rows] == other.rounds).all()


@given(random_nets(), st.integers(0, 3))
@settings(max_examples=25, deadline=None)
def test_a_state_settles_alone_as_among_others(net: RandomNet, most: int) -> None:
    states = net.states(40, most)
    together = settle(Engine(net.network), states)
    for rows in (net.rng.permutation(40)[:17], *np.arange(0, 40, 7)[:, None]):
        some = States(states.given[rows], states.live[rows], states.changes.take(rows))
        same(together, settle(Engine(net.network), some), rows)


@given(random_nets(), st.integers(0, 3))
@settings(max_examples=25, deadline=None)
def test_what_is_called_steady_is_steady(net: RandomNet, most: int) -> None:
    network, states = net.network, net.states(30, most)
    engine = Engine(network)
    found = settle(engine, states)
    n_bits = len(network.bits)
    again = settle(engine, states, start=found.bits[:, :n_bits])
    rest = ~found.chatter
    assert (again.bits[rest] == found.bits[rest]).all()
    assert (again.rounds[rest] == 1).all()
    volts = assert_all_balanced(engine, network.drive_rows(found.bits), states.live, states.changes)
    volts = volts @ network.incidence.T
    changed = np.zeros((len(states), len(network.branches)), bool)
    row, column = np.nonzero(states.changes.branch >= 0)
    changed[row, states.changes.branch[row, column]] = True
    for i, bit in enumerate(network.bits):
        plain = rest & ~changed[:, bit.branch] & (network.branches[bit.branch].added_ohms == 0)
        if bit.sense == "volts":
            assert _on_its_side(bit, np.abs(volts[plain, bit.branch]), found.bits[plain, i]).all()


def _on_its_side(bit: Bit, volts: np.ndarray, on_now: np.ndarray) -> np.ndarray:
    slack = 1e-6
    return np.where(on_now, volts >= bit.off_at - slack, volts <= bit.on_at + slack)
