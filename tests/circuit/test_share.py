"""A batch settled in shares is the same batch."""

from __future__ import annotations

import numpy as np
import pytest

from callpath.circuit.settle import settle
from callpath.circuit.share import settle_shared
from callpath.circuit.solve import Engine
from tests.circuit.randomnet import random_net


@pytest.mark.parametrize("seed", range(6))
@pytest.mark.parametrize("cores", [1, 2, 3])
def test_shares_change_nothing(seed: int, cores: int) -> None:
    net = random_net(seed)
    states = net.states(50, 2)
    alone = settle(Engine(net.network), states)
    shared = settle_shared([Engine(net.network) for _ in range(cores)], states)
    assert np.array_equal(alone.bits, shared.bits)
    assert np.array_equal(alone.before_fuse, shared.before_fuse)
    assert np.array_equal(alone.chatter, shared.chatter)
