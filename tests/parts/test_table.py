"""The catalogue has the parts of the first agreement, with their terminals, elements, functions and settings."""

from __future__ import annotations

from typing import Any

import pytest

from callpath.parts.catalogue import default_catalogue
from callpath.parts.describe import part_as_json

POWER = {"power": "battery", "fan-with-heat": False}
BOARD = {"transformer-va": 40, "fuse-amps": 3, "bonded-common": False, "cooling-blower-from": "Y"}

# part: terminals, elements, functions, settings with defaults; the first catalogue as it was agreed.
TABLE: dict[str, tuple[str, str, str, dict[str, Any]]] = {
    "thermostat/single-supply": ("R W Y G C", "contact-W contact-Y contact-G electronics", "", POWER),
    "thermostat/split-supply": ("Rc Rh W Y G C", "contact-W contact-Y contact-G electronics", "", POWER),
    "thermostat/heat-only": ("R W", "contact-W", "", {"anticipator-amps": None}),
    "thermostat/heat-pump": (
        "R C Y Y2 G O/B W2 E",
        "contact-Y contact-Y2 contact-G contact-O/B contact-W2 contact-E electronics",
        "",
        {"power": "common", "changeover": "O", "compressor-stages": 1, "fan-with-heat": True},
    ),
    "indoor/furnace-board": (
        "R C W Y G chassis",
        "transformer fuse heat-input cool-input fan-input",
        "heat blower",
        BOARD,
    ),
    "indoor/two-stage-furnace-board": (
        "R C W1 W2 Y Y2 G chassis",
        "transformer fuse heat-input heat-2-input cool-input cool-2-input fan-input",
        "heat heat-2 blower",
        BOARD,
    ),
    "indoor/three-terminal-board": (
        "R W G chassis",
        "transformer gas-valve fan-relay",
        "heat blower",
        {"transformer-va": 40},
    ),
    "indoor/air-handler": (
        "R C W G chassis",
        "transformer fuse fan-relay sequencer",
        "aux-heat blower",
        {"transformer-va": 40, "fuse-amps": 3, "heat-runs-blower": True},
    ),
    "indoor/boiler": (
        "R W C chassis",
        "transformer gas-valve",
        "heat",
        {"transformer-va": 40, "bonded-common": False, "phase": 0},
    ),
    "indoor/boiler-tt": ("T1 T2", "transformer control-relay", "heat circulator", {"phase": 0}),
    "outdoor/condenser": (
        "Y C chassis",
        "contactor high-pressure low-pressure",
        "compressor",
        {"pressure-switches": False},
    ),
    "outdoor/heat-pump": (
        "R C Y O/B W chassis",
        "contactor reversing-valve high-pressure low-pressure defrost-changeover defrost-valve defrost-heat",
        "compressor reversing-valve",
        {"changeover": "O", "pressure-switches": False},
    ),
    "accessory/float-switch": ("1 2", "switch", "", {}),
    # A changeover contact is two contacts with one common point; both can weld or break.
    "accessory/relay": ("A1 A2 COM NO NC", "coil contact contact-NC", "", {"coil-va": 5}),
    "accessory/zone-valve": ("M1 M2 E1 E2", "motor end-switch", "open", {"motor-amps": 0.32}),
    "accessory/transformer": ("R C", "transformer fuse", "", {"transformer-va": 40, "fuse-amps": None, "phase": 0}),
}


def test_the_catalogue_has_these_parts() -> None:
    assert set(TABLE) <= set(default_catalogue().names)


@pytest.mark.parametrize("name", TABLE)
def test_part(name: str) -> None:
    terminals, elements, functions, settings = TABLE[name]
    part = default_catalogue().part(name)
    assert set(part.terminals) == set(terminals.split())
    assert set(part.shown_elements) == set(elements.split())
    assert set(part.functions) == set(functions.split())
    assert {key: setting.default for key, setting in part.settings.items()} == settings
    assert part.settle_settings({}) == settings


@pytest.mark.parametrize("name", TABLE)
def test_part_as_json_tells_the_same(name: str) -> None:
    terminals, elements, functions, settings = TABLE[name]
    told = part_as_json(default_catalogue().part(name))
    assert told["part"] == name
    assert told["title"]
    assert set(told["terminals"]) == set(terminals.split())
    assert set(told["elements"]) == set(elements.split())
    assert set(told["functions"]) == set(functions.split())
    assert {key: setting["default"] for key, setting in told["settings"].items()} == settings


@pytest.mark.parametrize(
    ("part", "setting", "choices"),
    [
        ("thermostat/single-supply", "power", ("battery", "common", "stealing")),
        ("thermostat/split-supply", "power", ("battery", "common", "stealing")),
        ("thermostat/heat-pump", "power", ("battery", "common", "stealing")),
        ("thermostat/heat-pump", "changeover", ("O", "B")),
        ("outdoor/heat-pump", "changeover", ("O", "B")),
        ("indoor/furnace-board", "cooling-blower-from", ("Y", "G")),
        ("indoor/two-stage-furnace-board", "cooling-blower-from", ("Y", "G")),
        ("indoor/boiler", "phase", (0, 180)),
        ("indoor/boiler-tt", "phase", (0, 180)),
        ("accessory/transformer", "phase", (0, 180)),
    ],
)
def test_choices(part: str, setting: str, choices: tuple[object, ...]) -> None:
    assert default_catalogue().part(part).settings[setting].choices == choices


def test_a_terminal_takes_two_conductors_unless_its_part_says_otherwise() -> None:
    for name in default_catalogue().names:
        for letters, terminal in default_catalogue().part(name).terminals.items():
            assert terminal.takes == (6 if letters == "chassis" else 2), f"{name} {letters}"


def test_every_terminal_means_something() -> None:
    for name in default_catalogue().names:
        assert all(terminal.means for terminal in default_catalogue().part(name).terminals.values()), name


def test_every_terminal_of_the_first_parts_belongs_to_the_circuit() -> None:
    for name in TABLE:
        assert {terminal.signal for terminal in default_catalogue().part(name).terminals.values()} == {"24v-on-off"}
