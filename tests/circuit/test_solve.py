"""The engine against a refined dense solution, elimination in extended precision, and a sparse tableau."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from callpath.circuit.network import Network
from callpath.circuit.settle import States
from callpath.circuit.solve import Changes, Complex, Engine, refined_dense
from tests.circuit.general import eliminated, emfs, impedances, tableau
from tests.circuit.handnet import Hand
from tests.circuit.kirchhoff import assert_all_balanced
from tests.circuit.randomnet import RandomNet, alike, random_net, random_nets


def changed(*per_state: list[tuple[int, float | complex]]) -> Changes:
    """Return changes given state by state: (branch, ohms in series), or (branch, admittance) where that is complex."""
    most = max((len(some) for some in per_state), default=0)
    shape = (len(per_state), most)
    branch, series, siemens = np.full(shape, -1, np.intp), np.zeros(shape), np.zeros(shape, complex)
    for state, some in enumerate(per_state):
        for j, (i, value) in enumerate(some):
            branch[state, j] = i
            series[state, j] = np.nan if isinstance(value, complex) else value
            siemens[state, j] = value if isinstance(value, complex) else 0
    return Changes(branch, series, siemens)


def check(
    network: Network, bits: np.ndarray, live: np.ndarray, changes: Changes, engine: Engine | None = None
) -> Engine:
    """Solve states in one batch; compare every node of each with three other solutions; check Kirchhoff's law."""
    engine = engine or Engine(network)
    rows = network.drive_rows(bits)
    volts = assert_all_balanced(engine, rows, live, changes)
    watched = engine.ports
    across, admittance = engine.solve(rows, live, changes, watched)
    amps = np.full(across.shape, np.nan, complex)
    for members, some in engine.amps(rows, live, changes, watched):
        amps[members] = some
    for state in range(len(bits)):
        ohms, emf = impedances(network, bits, changes, state), emfs(network, live[state])
        siemens = np.array([1 / z if np.isfinite(z) else 0 for z in ohms])
        for reference in (
            refined_dense(network, siemens, emf[engine.source_branch]),
            eliminated(network, ohms, emf),
            tableau(network, ohms, emf),
        ):
            assert alike(volts[state], reference), (state, np.abs(volts[state] - reference).max())
        exact = network.incidence[watched] @ eliminated(network, ohms, emf)
        assert alike(across[state], exact)
        assert np.allclose(admittance[state], siemens[watched], rtol=1e-12, atol=0)
        through = siemens[watched] * (exact - emf[watched])
        near = 1e-6 * np.abs(through) + 1e-9 * np.abs(through).max(initial=1.0)
        assert (np.abs(amps[state] - through) <= near).all(), (state, np.abs(amps[state] - through).max())
    return engine


def drawn(net: RandomNet, count: int, most: int) -> tuple[Network, np.ndarray, np.ndarray, Changes]:
    states = net.states(count, most)
    return net.network, net.bits(states), states.live, states.changes


@given(random_nets(), st.integers(0, 5))
@settings(max_examples=60, deadline=None)
def test_any_network_in_any_state(net: RandomNet, most: int) -> None:
    check(*drawn(net, 6, most))


@pytest.mark.parametrize("rank", [0, 1, 2, 3, 4, 6])
def test_every_number_of_changes(rank: int) -> None:
    for seed in range(8):
        net = random_net(1000 * rank + seed)
        network, bits, live, _ = drawn(net, 5, 0)
        bits[:] = bits[0]
        check(network, bits, live, net.changes(5, rank, exactly=True))


def test_many_states_share_few_factorisations() -> None:
    net = random_net(7, points=20)
    network, bits, live, changes = drawn(net, 400, 2)
    bits = bits[np.arange(400) % 3]
    engine = check(network, bits[:60], live[:60], changes.take(np.arange(60)))
    engine.solve(network.drive_rows(bits), live, changes)
    assert engine.tally.factorisations <= 3
    assert engine.tally.solved == 3 * 60 + 400


def test_a_state_far_from_every_base_is_right_too() -> None:
    net = random_net(11, points=28)
    network, bits, live, changes = drawn(net, 40, 3)
    engine = check(network, bits[:1], live[:1], changes.take(np.array([0])))
    check(network, bits, live, changes, engine)


def lamp(metal: bool = False) -> Hand:
    """A source, a wire out, a relay's contact, a wire on, a load, and a wire back."""
    hand = Hand()
    hand.given = ["on"]
    hand.source("supply", "r", "c")
    hand.wire("out", "r", "a")
    hand.contact("contact", "a", "b", "on")
    hand.wire("on-wire", "b", "d")
    hand.load("lamp", "d", "e", 40.0)
    hand.wire("back", "e", "c")
    hand.branch("capacitance", "capacitance", "a", "b", 1 / (2j * np.pi * 60 * 1e-9))
    hand.branch("short", "short", "d", "c", complex(np.inf))
    if metal:
        hand.branch("bond", "earthing", "c", "earth", 0.2)
    return hand


def on_and_off(count: int) -> np.ndarray:
    return np.array([[False, i % 2 == 0] for i in range(count)])


@pytest.mark.parametrize("metal", [False, True])
def test_one_opened_wire_leaves_a_node_floating(metal: bool) -> None:
    network = lamp(metal).network()
    states = [[(network.index[name], np.inf)] for name in ("out", "on-wire", "back", "contact", "lamp") for _ in (0, 1)]
    check(network, on_and_off(10), np.ones((10, 1)), changed(*states))


@pytest.mark.parametrize("metal", [False, True])
def test_both_wires_of_a_node_opened(metal: bool) -> None:
    network = lamp(metal).network()
    pairs = [("out", "contact"), ("contact", "on-wire"), ("on-wire", "lamp"), ("lamp", "back"), ("back", "supply")]
    states = [[(network.index[one], np.inf), (network.index[two], np.inf)] for one, two in pairs for _ in (0, 1)]
    check(network, on_and_off(10), np.ones((10, 1)), changed(*states))


def test_everything_opened() -> None:
    network = lamp().network()
    names = ("supply", "out", "contact", "on-wire", "lamp", "back")
    check(network, on_and_off(2), np.ones((2, 1)), changed(*[[(network.index[name], np.inf) for name in names]] * 2))


def test_a_driven_branch_that_is_changed_too() -> None:
    # The base has the contact open; these states have it closed, and bad, broken, or welded as well.
    network = lamp().network()
    contact = network.index["contact"]
    engine = check(network, np.array([[False, False]]), np.ones((1, 1)), Changes.none(1))
    states: list[list[tuple[int, float | complex]]] = [
        [(contact, 20.0)], [(contact, np.inf)], [(contact, 50 + 0j)], [(contact, 0j)],
        [(contact, 20.0), (network.index["out"], np.inf)], [(contact, 3.0), (network.index["short"], 20 + 0j)],
    ]  # fmt: skip
    check(network, np.array([[False, True]] * 6), np.ones((6, 1)), changed(*states), engine)
    check(network, np.array([[False, False]] * 6), np.ones((6, 1)), changed(*states), engine)
    assert engine.tally.factorisations == 1


def test_a_dead_source_and_none_live() -> None:
    hand = lamp()
    hand.source("other", "d", "c", -26.0)
    network = hand.network()
    live = np.array([[1.0, 1], [0, 1], [1, 0], [0, 0], [1.05, 0.9]])
    check(network, on_and_off(5), live, changed(*[[(network.index["out"], 20.0)]] * 5))
    volts, _ = Engine(network).solve(network.drive_rows(on_and_off(5)), live, Changes.none(5))
    assert not volts[3].any()


@pytest.mark.parametrize("value", [np.inf, 10.0, 2 + 0j, 0j])
def test_a_changed_source_winding(value: float | complex) -> None:
    hand = lamp()
    hand.source("other", "d", "c", -26.0)
    network = hand.network()
    supply, other = network.index["supply"], network.index["other"]
    states = [[(supply, value)], [(other, value)], [(supply, value), (other, value)]]
    check(network, np.array([[False, True]] * 3), np.ones((3, 2)), changed(*states))


def test_a_winding_that_burned_open_and_is_changed_too() -> None:
    hand = lamp()
    hand.burning("other", "d", "c", 4.0)
    network = hand.network()
    other = network.index["other"]
    bits = np.array([[False, burned, True] for burned in (False, True) for _ in range(3)])
    states: list[list[tuple[int, float | complex]]] = [[], [(other, 20.0)], [(other, np.inf)]]
    check(network, bits, np.ones((6, 2)), changed(*states, *states))


def test_two_shorts_out_of_one_floating_island() -> None:
    # The island holds nothing but its leak; each short alone ties it down, and both together carry amperes.
    hand = lamp()
    hand.wire("inside", "x", "y")
    for point in "rdc":
        hand.branch(f"{point}x", "short", point, "x", complex(np.inf))
        hand.branch(f"{point}y", "short", point, "y", complex(np.inf))
    network = hand.network()
    touch = 1 / 0.05 + 0j
    states = [
        [(network.index[f"{one}x"], touch), (network.index[f"{two}y"], touch), (network.index["inside"], 20.0)]
        for one in "rdc"
        for two in "rdc"
    ]
    check(network, np.array([[False, True]] * 9), np.ones((9, 1)), changed(*states))
    engine = check(network, np.array([[False, True]] * 9), np.ones((9, 1)), changed(*[some[:2] for some in states]))
    assert engine.tally.whole > 0


def test_a_loop_of_nothing_but_copper() -> None:
    hand = lamp()
    hand.wire("twin", "r", "a", 1e-3)
    network = hand.network()
    states = [[(network.index["out"], 0.0)], [(network.index["out"], np.inf)], [(network.index["twin"], np.inf)]]
    both = [(network.index["out"], np.inf), (network.index["twin"], np.inf)]
    check(network, np.array([[False, True]] * 4), np.ones((4, 1)), changed(*states, both))


def test_fifty_hertz_is_only_another_number() -> None:
    network = lamp().network(hz=50.0)
    check(network, on_and_off(2), np.ones((2, 1)), Changes.none(2))


def test_no_states_and_no_changes() -> None:
    network = lamp().network()
    engine = Engine(network)
    volts, siemens = engine.solve(np.zeros((0, 1), bool), np.ones((0, 1)), Changes.none(0))
    assert volts.shape == (0, len(network.nodes))
    assert siemens.shape == (0, len(network.branches))


def test_answers_do_not_depend_on_what_was_solved_before() -> None:
    net = random_net(23, points=24)
    network, bits, live, changes = drawn(net, 200, 3)
    rows = network.drive_rows(bits)
    together, _ = Engine(network).solve(rows, live, changes)
    engine, order = Engine(network), net.rng.permutation(200)
    for some in np.array_split(order, 17):
        volts, _ = engine.solve(rows[some], live[some], changes.take(some))
        assert alike(volts, together[some]).all()


@given(random_nets())
@settings(max_examples=30, deadline=None)
def test_refined_dense_is_the_exact_answer_rounded(net: RandomNet) -> None:
    network, bits, live, changes = drawn(net, 1, 3)
    ohms, emf = impedances(network, bits, changes, 0), emfs(network, live[0])
    siemens: Complex = np.array([1 / z if np.isfinite(z) else 0 for z in ohms])
    found = refined_dense(network, siemens, np.array([emf[source.branch] for source in network.sources]))
    exact = eliminated(network, ohms, emf)
    assert np.abs(found - exact).max() <= 1e-9 * np.abs(exact).max(initial=1e-9)


def test_taking_states_takes_their_changes() -> None:
    net = random_net(3)
    states: States = net.states(9, 3)
    some = states.changes.take(np.array([4, 1]))
    assert (some.branch == states.changes.branch[[4, 1]]).all()
