"""Every electrical value has a source, lies where its source says, and fits the others.

Marks: P published and seen, M from memory of the named source, C computed from a named formula, CP common practice.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import pytest

from callpath.circuit.network import impedance
from callpath.parts.catalogue import custom_colours, default_catalogue, physics, sources, tolerances
from callpath.parts.model import ElectricalValue, Element, Part

PARTS = [default_catalogue().part(name) for name in default_catalogue().names]


def elements(kind: str) -> list[tuple[Part, str, Element]]:
    return [(part, name, e) for part in PARTS for name, e in part.elements.items() if e.kind == kind]


def named(found: list[tuple[Part, str, Element]]) -> list[Any]:
    return [pytest.param(part, element, id=f"{part.part}.{name}") for part, name, element in found]


def values(part: Part) -> Iterator[tuple[str, ElectricalValue]]:
    for name, element in part.elements.items():
        for key, value in element.data.items():
            yield f"{name}.{key}", value
        for delay in (element.on_delay_s, element.off_delay_s):
            if delay:
                yield name, delay
    for name, function in part.functions.items():
        retry = (function.retry.again_after_s, function.retry.lockout_s) if function.retry else ()
        for delay in (
            function.minimum_off_s,
            *retry,
            *(d for t in function.triggers for d in (t.on_delay_s, t.off_delay_s)),
        ):
            if delay:
                yield name, delay


@pytest.mark.parametrize("part", PARTS, ids=lambda part: part.part)
def test_every_value_has_a_source_with_a_mark(part: Part) -> None:
    for place, value in values(part):
        assert value.source in sources(), place
        assert sources()[value.source].mark in ("P", "M", "C", "CP"), place
    for function in part.functions.values():
        for trigger in function.triggers:
            assert all(step.source in sources() for step in trigger.steps)


def test_every_source_is_used_by_some_value() -> None:
    used = {value.source for part in PARTS for _, value in values(part)}
    steps = {s.source for part in PARTS for f in part.functions.values() for t in f.triggers for s in t.steps}
    trials = {f.retry.source for part in PARTS for f in part.functions.values() if f.retry}
    rounds = {value.source for part in PARTS for cycle in part.cycles for value in (cycle.after_s, cycle.lasts_s)}
    assert set(sources()) == used | steps | trials | rounds


@pytest.mark.parametrize("part", PARTS, ids=lambda part: part.part)
def test_every_default_is_a_value_that_the_setting_takes(part: Part) -> None:
    for name, setting in part.settings.items():
        assert setting.default is None or setting.problem(setting.default) is None, name
        assert setting.help, name


@pytest.mark.parametrize(("part", "element"), named(elements("coil")))
def test_coil(part: Part, element: Element) -> None:
    volt = {key: value.resolve(part.settle_settings({})) or 0.0 for key, value in element.data.items()}
    open_gap = impedance(volt["rated-volts"], volt["inrush-va"], volt["inrush-watts"])
    sealed = impedance(volt["rated-volts"], volt["sealed-va"], volt["sealed-watts"])
    # C: copper alone, then copper and an open magnetic path, then a closed one.
    assert volt["dc-ohms"] < abs(open_gap) < abs(sealed)
    # The AC resistance holds the copper's and the iron's losses.
    assert volt["dc-ohms"] <= sealed.real
    # CP: pull-in at or below 18 V; it must drop out before it could be pulled in.
    assert volt["drop-out-volts"] < volt["pull-in-volts"] <= 18


# M: typical component data, at 24 V; ranges of inrush VA, sealed VA and DC ohms.
@pytest.mark.parametrize(
    ("part", "element", "inrush", "sealed", "ohms"),
    [
        ("outdoor/condenser", "contactor", (30, 60), (5.5, 9), (8, 16)),
        ("outdoor/heat-pump", "contactor", (30, 60), (5.5, 9), (8, 16)),
        ("outdoor/heat-pump", "reversing-valve", (5, 30), (5, 10), (10, 60)),
        ("indoor/air-handler", "fan-relay", (2, 16), (2, 8), (10, 200)),
        ("indoor/three-terminal-board", "fan-relay", (2, 16), (2, 8), (10, 200)),
        ("indoor/boiler-tt", "control-relay", (2, 16), (2, 8), (10, 200)),
        ("accessory/relay", "coil", (2, 16), (2, 8), (10, 200)),
        ("accessory/relay-two-pole", "coil", (2, 16), (2, 8), (10, 200)),
        ("accessory/dual-fuel-interlock", "coil", (2, 16), (2, 8), (10, 200)),
        ("accessory/ventilator", "relay", (2, 16), (2, 8), (10, 200)),
        ("accessory/time-delay-relay", "coil", (2, 16), (2, 8), (10, 200)),
        ("accessory/off-delay-relay", "coil", (2, 16), (2, 8), (10, 200)),
        ("accessory/circulator-panel", "zone-2", (2, 16), (2, 8), (10, 200)),
        ("accessory/zone-valve-panel", "end-1", (2, 16), (2, 8), (10, 200)),
        ("indoor/fan-center", "fan-relay", (2, 16), (2, 8), (10, 200)),
        ("indoor/oil-primary", "control-relay", (2, 16), (2, 8), (10, 200)),
        ("indoor/packaged-rooftop", "contactor", (30, 60), (5.5, 9), (8, 16)),
        ("indoor/packaged-rooftop", "contactor-2", (30, 60), (5.5, 9), (8, 16)),
        ("outdoor/timed-condenser", "contactor", (30, 60), (5.5, 9), (8, 16)),
        ("outdoor/lockout-condenser", "contactor", (30, 60), (5.5, 9), (8, 16)),
        ("outdoor/two-stage-condenser", "contactor", (30, 60), (5.5, 9), (8, 16)),
        ("outdoor/two-stage-condenser", "unloader", (5, 30), (5, 10), (10, 60)),
        ("outdoor/heat-pump-defrost-board", "reversing-valve", (5, 30), (5, 10), (10, 60)),
        ("outdoor/two-stage-heat-pump", "reversing-valve", (5, 30), (5, 10), (10, 60)),
        ("outdoor/heat-pump-x-common", "reversing-valve", (5, 30), (5, 10), (10, 60)),
    ],
)
def test_coil_in_range(
    part: str, element: str, inrush: tuple[float, float], sealed: tuple[float, float], ohms: tuple[float, float]
) -> None:
    row = default_catalogue().part(part).elements[element].data
    for key, (low, high) in (("inrush-va", inrush), ("sealed-va", sealed), ("dc-ohms", ohms)):
        value = row[key].value
        assert value is not None
        assert low <= value <= high, key


def test_a_contactor_drops_out_between_6_and_15_volts() -> None:  # CP
    for part in ("outdoor/condenser", "outdoor/heat-pump"):
        drop_out = default_catalogue().part(part).elements["contactor"].data["drop-out-volts"].value
        assert drop_out is not None
        assert 6 <= drop_out <= 15


def test_a_control_relay_drops_out_by_20_percent_of_its_rating() -> None:  # P
    for part, element in (("accessory/relay", "coil"), ("indoor/air-handler", "fan-relay")):
        drop_out = default_catalogue().part(part).elements[element].data["drop-out-volts"].value
        assert drop_out is not None
        assert drop_out >= 0.2 * 24


# M: amperes at 24 V.
@pytest.mark.parametrize(
    ("part", "element", "low", "high"),
    [
        ("indoor/boiler", "gas-valve", 0.3, 0.6),
        ("indoor/three-terminal-board", "gas-valve", 0.3, 0.6),
        ("indoor/air-handler", "sequencer", 0.15, 0.35),
        ("accessory/zone-valve", "motor", 0.2, 0.32),
        ("accessory/zone-valve-three-lead", "motor", 0.2, 0.32),
        ("accessory/heat-motor-valve", "motor", 0.9, 0.9),
        ("accessory/power-close-valve", "open-motor", 0.2, 0.32),
        ("indoor/gas-valve-furnace", "gas-valve", 0.3, 0.6),
        ("indoor/aquastat-boiler", "gas-valve", 0.3, 0.6),
        ("indoor/common-b-board", "gas-valve", 0.3, 0.6),
        ("indoor/two-bank-air-handler", "sequencer-1", 0.15, 0.35),
        ("indoor/two-bank-air-handler", "sequencer-2", 0.15, 0.35),
        ("indoor/constant-torque-air-handler", "sequencer", 0.15, 0.35),
    ],
)
def test_load_in_range(part: str, element: str, low: float, high: float) -> None:
    found = default_catalogue().part(part)
    settings = found.settle_settings({})
    row = {key: value.resolve(settings) or 0.0 for key, value in found.elements[element].data.items()}
    amps = row["amps"] if "amps" in row else 24 / abs(complex(row["ohms"], row.get("reactance-ohms", 0)))
    assert low <= amps <= high


@pytest.mark.parametrize(("part", "element"), named([*elements("load"), *elements("input")]))
def test_load_or_input_lets_go_below_where_it_acts(part: Part, element: Element) -> None:
    on, off = (element.data[key].resolve(part.settle_settings({})) for key in ("on-volts", "off-volts"))
    assert on is not None
    assert off is not None
    assert 0 <= off < on <= 18


def test_thermostat_electronics_take_1_to_3_va_and_live_from_18_volts() -> None:  # M
    for name in ("thermostat/single-supply", "thermostat/split-supply", "thermostat/heat-pump"):
        row = default_catalogue().part(name).elements["electronics"].data
        assert row["va"].value is not None
        assert 1 <= row["va"].value <= 3
        assert row["on-volts"].value == 18
        assert row["rated-volts-max"].value == 30


TRANSFORMERS = [found for found in elements("source") if found[1] == "transformer"]


@pytest.mark.parametrize(("part", "element"), named(TRANSFORMERS))
def test_source_fits_the_worked_transformer(part: Part, element: Element) -> None:
    """C: 27 V behind 1.516 + j3.015 Ω gives 24.00 V into 14.4 Ω (40 VA at 24 V) and 8.00 A into a short."""
    row = {key: value.resolve(part.settle_settings({})) or 0.0 for key, value in element.data.items()}
    emf, inner = row["open-volts"], complex(row["ohms"], row["reactance-ohms"])
    assert abs(emf * 14.4 / (14.4 + inner)) == pytest.approx(24.00, abs=0.005)
    assert abs(emf / inner) == pytest.approx(8.00, abs=0.005)
    # C: a resistive impedance with the same regulation, 14.4 Ω × (27/24 − 1), would give 15 A; it has to be complex.
    resistive = 14.4 * (27 / 24 - 1)
    assert 27 / resistive == pytest.approx(15.0)
    # CP: open circuit 26 to 29 V. M: a winding measures 0.3 to 2 Ω, less than the impedance's real part.
    assert 26 <= emf <= 29
    assert 0.3 <= row["winding-ohms"] <= min(2, row["ohms"])


def test_every_source_but_a_pilots_is_a_transformer() -> None:
    others = {f"{part.part} {name}" for part, name, _ in elements("source") if name != "transformer"}
    assert others == {"indoor/millivolt-furnace pilot-generator"}
    row = default_catalogue().part("indoor/millivolt-furnace").elements["pilot-generator"].data
    # M: about 0.75 V open, a few ohms.
    assert 0.5 <= (row["open-volts"].value or 0) <= 0.8
    assert 2 <= (row["ohms"].value or 0) <= 4


def test_tolerances_and_small_things_name_their_source() -> None:
    for row in tolerances().values():
        assert row.source.split(":")[0] in ("P", "M", "C", "CP")
    supply = tolerances()["supply-volts"]
    assert (supply.low, supply.nominal, supply.high) == (110, 120, 126)
    assert physics()["meter-ohms"] == 10e6  # P
    assert physics()["low-z-meter-ohms"] == 3000  # P


def test_colours_by_custom() -> None:  # CP
    assert custom_colours() == {
        "power": "red",
        "common": "blue",
        "heat": "white",
        "cool": "yellow",
        "fan": "green",
        "changeover": "orange",
    }
