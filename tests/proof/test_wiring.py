"""Wiring that a technician meets: what runs, what is found, where the path ends. Common practice unless marked."""

from __future__ import annotations

from dataclasses import dataclass, field

import pytest

from tests.jobs import COTTAGE, HOUSE, MANOR, MILL, PUMP, RELAY, ZONE, Data, amended, codes, has, having, proof_of

BATTERY = "{stat: {power: battery}}"


@dataclass(frozen=True)
class Met:
    """One installation: what is different about it, the findings worse than a note, what runs, and paths by code and name."""

    what: str
    base: Data
    changes: dict[str, str]
    found: str
    runs: dict[str, str] = field(default_factory=dict)
    paths: tuple[tuple[str, str, str], ...] = ()


TWO_STAGE = amended(
    HOUSE,
    equipment="{board: {part: indoor/two-stage-furnace-board, at: cellar}}",
    landings="{wall.white: [stat.W, board.W1]}",
)
ELECTRIC = amended(
    HOUSE,
    equipment="{board: {part: indoor/air-handler, at: cellar}}",
    landings="{wall.yellow: [stat.Y, past], outside.red: [past, cond.Y]}",
    splices="{past: cellar}",
)
FLOAT_IN_R = amended(
    HOUSE,
    equipment="{float: {part: accessory/float-switch, at: cellar}}",
    cables="{pan: {between: [cellar, cellar], length: 6 ft, conductors: [red]}}",
    landings="{wall.red: [stat.R, float.1], pan.red: [float.2, board.R]}",
)
UNBONDED = {"landings": "{outside.white: [board.chassis, cond.C]}"}

MET = [
    Met(
        "R and C swapped at a thermostat that lives on the common: alive, but everything it closes is dead",
        HOUSE,
        {"landings": "{wall.red: [stat.C, board.R], wall.blue: [stat.R, board.C]}"},
        "dead-call ends-disagree ends-disagree",
        {"fan": "", "cool": "", "heat": ""},
        (("dead-call", "stat.R", "board.R wall.red stat.C"),),
    ),
    Met(
        "R and C swapped at the board",
        HOUSE,
        {"landings": "{wall.red: [stat.R, board.C], wall.blue: [stat.C, board.R]}"},
        "dead-call ends-disagree ends-disagree",
        {"cool": ""},
        (("dead-call", "stat.R", "board.R wall.blue stat.C"),),
    ),
    Met(
        "R and Y swapped at the board, thermostat on cells: Y closes R to Y either way round, all else is dead",
        HOUSE,
        {"landings": "{wall.red: [stat.R, board.Y], wall.yellow: [stat.Y, board.R], wall.blue: null}", "settings": BATTERY},
        "dead-call ends-disagree ends-disagree",
        {"fan": "", "cool": "board.blower cond.compressor", "heat": ""},
        (("dead-call", "stat.R", "board.R wall.yellow stat.Y"),),
    ),
    Met(
        "R and Y swapped at the board, thermostat on the common: it never wakes, so that not even cooling works",
        HOUSE,
        {"landings": "{wall.red: [stat.R, board.Y], wall.yellow: [stat.Y, board.R]}"},
        "dead-call dead-call unpowered-thermostat ends-disagree ends-disagree",
        {"fan": "", "cool": "", "heat": ""},
        (("unpowered-thermostat", "stat", "board.R wall.yellow stat.Y"),),
    ),
    Met(
        "G and C swapped at the board, thermostat on cells: the fan call is a short, heating still works",
        HOUSE,
        {"landings": "{wall.green: [stat.G, board.C], wall.blue: [stat.C, board.G]}", "settings": BATTERY},
        "short dead-call ends-disagree ends-disagree",
        {"fan": "", "cool": "", "heat": "board.blower board.heat"},
        (("short", "board.fuse", "board.R wall.red stat.R stat.G wall.green board.C"),),
    ),
    Met(
        "G and C swapped at the board, thermostat on the common: the blower runs through the electronics, which starve",
        HOUSE,
        {"landings": "{wall.green: [stat.G, board.C], wall.blue: [stat.C, board.G]}"},
        "dead-call unwanted-run unpowered-thermostat ends-disagree ends-disagree",
        {"off": "board.blower", "cool": "board.blower"},
        (("unwanted-run", "board.fan-input", "board.R wall.red stat.R stat.C wall.blue board.G board.C"),),
    ),
    Met(
        "outdoor pair on R and C: runs day and night",
        HOUSE,
        {"landings": "{outside.red: [board.R, cond.Y]}"},
        "unwanted-run",
        {"off": "cond.compressor", "heat": "board.blower board.heat cond.compressor"},
        (("unwanted-run", "cond.contactor", "board.R outside.red cond.Y cond.C outside.white board.C"),),
    ),
    Met(
        "outdoor pair on Y and G: both leads hot in cooling, nothing across the coil",
        HOUSE,
        {"landings": "{outside.white: [board.G, cond.C]}"},
        "dead-call no-return",
        {"cool": "board.blower", "fan": "board.blower"},
        (("dead-call", "cond.contactor", "board.R wall.red stat.R stat.Y wall.yellow board.Y outside.red cond.Y cond.C"),),
    ),
    Met(
        "outdoor pair on W and C: compressor with the burner, none in cooling",
        HOUSE,
        {"landings": "{outside.red: [board.W, cond.Y]}"},
        "dead-call unwanted-run",
        {"cool": "board.blower", "heat": "board.blower board.heat cond.compressor"},
        (
            ("dead-call", "board.Y", "board.R wall.red stat.R stat.Y wall.yellow board.Y"),
            (
                "unwanted-run",
                "cond.contactor",
                "board.R wall.red stat.R stat.W wall.white board.W outside.red cond.Y cond.C outside.white board.C",
            ),
        ),
    ),
    Met(
        "outdoor pair on R and Y: the board's cooling input is fed back through the contactor",
        HOUSE,
        {"landings": "{outside.white: [board.R, cond.C]}"},
        "dead-call unwanted-run no-return",
        {"off": "board.blower", "cool": "board.blower"},
        (("unwanted-run", "board.cool-input", "board.R outside.white cond.C cond.Y outside.red board.Y board.C"),),
    ),
    Met(
        "outdoor pair the other way round: the coil has no polarity",
        HOUSE,
        {"landings": "{outside.red: [board.C, cond.Y], outside.white: [board.Y, cond.C]}"},
        "",
        {"cool": "board.blower cond.compressor"},
    ),
    Met(
        "a thermostat that steals its power through the idle loads",
        HOUSE,
        {"settings": "{stat: {power: stealing}}", "landings": "{wall.blue: null}"},
        "",
        {"off": "", "heat": "board.blower board.heat"},
    ),
    Met(
        "three conductors on the common",
        HOUSE,
        {"cables": "{acc: {between: [cellar, yard], conductors: [blue]}}", "landings": "{acc.blue: [board.C, cond.C]}"},
        "crowded-terminal",
    ),
    Met(
        "the outdoor common on the metal of a board that is not bonded",
        HOUSE,
        UNBONDED,
        "dead-call no-return",
        {"cool": "board.blower"},
        (("no-return", "cond.contactor", "board.R wall.red stat.R stat.Y wall.yellow board.Y outside.red cond.Y cond.C"),),
    ),
    Met(
        "the outdoor common on the metal of a bonded board",
        HOUSE,
        {**UNBONDED, "settings": "{board: {bonded-common: true}}"},
        "",
        {"cool": "board.blower cond.compressor"},
    ),
    Met(
        "a thermostat's common on the metal of a board whose transformer is bonded to it",
        MILL,
        {
            "cables": "{wall: {between: [loft, cellar], conductors: [white, red, green, yellow, blue]}}",
            "landings": "{wall.blue: [stat.C, furnace.chassis]}",
            "settings": "{stat: {power: common}}",
        },
        "",
        {"heat": "furnace.blower furnace.heat"},
    ),
    Met(
        "an older fan control without the fan lead: cooling without air",
        MILL,
        {"landings": "{wall.green: null}"},
        "dead-call",
        {"cool": "cond.compressor", "heat": "furnace.blower furnace.heat"},
        (("dead-call", "furnace.blower", "furnace.R wall.red stat.R stat.G"),),
    ),
    Met(
        "one supply on Rc, no jumper: the other mode is dead (P)",
        MANOR,
        {"landings": "{heating.red: null, heating.white: null, wall.white: [stat.W, air.W]}",
         "cables": "{wall: {between: [salon, attic], conductors: [white]}, heating: null}", "equipment": "{boiler: null}"},
        "dead-call",
        {"cool": "air.blower cond.compressor", "heat": ""},
        (("dead-call", "stat.Rh", "air.R cooling.red stat.Rc"),),
    ),
    Met(
        "two sources and the jumper left in, commons apart: they meet at one point (P)",
        MANOR,
        {"jumpers": "[[stat.Rc, stat.Rh]]"},
        "sources-tied",
        {"heat": "boiler.heat"},
    ),
    Met(
        "boiler bonded and furnace bonded",
        MANOR,
        {"settings": "{boiler: {bonded-common: true}, air: {bonded-common: true}}"},
        "sources-tied",
        {},
        (("sources-tied", "air.transformer", "boiler.C boiler.chassis air.chassis air.C"),),
    ),
    Met(
        "a thermostat fed by the furnace with its common from another system",
        HOUSE,
        {
            "equipment": "{other: {part: accessory/transformer, at: cellar}}",
            "landings": "{wall.blue: [stat.C, other.C]}",
        },
        "dead-call unpowered-thermostat",
        {"cool": "", "heat": ""},
        (("unpowered-thermostat", "stat", "board.R wall.red stat.R stat.C"),),
    ),
    Met(
        "O from the thermostat to a valve that wants B: cool when it should heat",
        PUMP,
        {"settings": "{pump: {changeover: B}}"},
        "dead-call unwanted-run",
        {"cool": "air.blower pump.compressor pump.reversing-valve", "heat": "air.blower pump.compressor"},
    ),
    Met(
        "O and W2 swapped: electric heat in cooling",
        PUMP,
        {"landings": "{wall.orange: [stat.O/B, heat], wall.white: [stat.W2, valve]}"},
        "dead-call dead-call unwanted-run unwanted-run ends-disagree",
        {"cool": "air.aux-heat air.blower pump.compressor", "emergency": "air.blower pump.reversing-valve"},
        (("unwanted-run", "air.sequencer", "air.R wall.red stat.R stat.O/B wall.orange heat strip.white air.W air.C"),),
    ),
    Met(
        "defrost without the outdoor W: it blows cold",
        PUMP,
        {"landings": "{outside.white: null}"},
        "dead-call",
        {"defrost": "air.blower pump.compressor pump.reversing-valve"},
        (("dead-call", "pump.W", "air.R outside.red pump.R pump.W"),),
    ),
    Met(
        "emergency heat from E and W2 together on the air handler's W",
        PUMP,
        {"cables": "{e: {between: [parlour, cupboard], conductors: [brown]}}", "landings": "{e.brown: [stat.E, heat]}"},
        "",
        {"emergency": "air.aux-heat air.blower", "aux": "air.aux-heat air.blower pump.compressor"},
    ),
    Met(
        "emergency heat from E alone: auxiliary heat is dead",
        PUMP,
        {"landings": "{wall.white: [stat.E, heat]}"},
        "dead-call",
        {"emergency": "air.aux-heat air.blower", "aux": "air.blower pump.compressor"},
        (("dead-call", "air.sequencer", "air.R wall.red stat.R stat.W2"),),
    ),
    Met(
        "electric heat whose blower nothing starts: the thermostat does not close G with heat",
        ELECTRIC,
        {"settings": "{board: {heat-runs-blower: false}}"},
        "dead-call",
        {"heat": "board.aux-heat"},
        (("dead-call", "stat.contact-G", "board.R wall.red stat.R"),),
    ),
    Met(
        "the same with a thermostat set to close G with heat",
        ELECTRIC,
        {"settings": "{board: {heat-runs-blower: false}, stat: {fan-with-heat: true}}"},
        "",
        {"heat": "board.aux-heat board.blower"},
    ),
    Met(
        "W1 jumped to W2 of a two-stage board: high fire on every call",
        TWO_STAGE,
        {"jumpers": "[[board.W1, board.W2]]"},
        "unwanted-run",
        {"heat": "board.blower board.heat board.heat-2"},
    ),
    Met(
        "W and Y swapped at the board: heats when asked to cool and cools when asked to heat",
        HOUSE,
        {"landings": "{wall.white: [stat.W, board.Y], wall.yellow: [stat.Y, board.W]}"},
        "dead-call dead-call unwanted-run unwanted-run ends-disagree ends-disagree",
        {"cool": "board.blower board.heat", "heat": "board.blower cond.compressor"},
    ),
    Met(
        "a float switch in R: closed it shows nothing",
        FLOAT_IN_R,
        {},
        "",
        {"heat": "board.blower board.heat"},
    ),
    Met(
        "a float switch in R: tripped it takes heating and the thermostat with it",
        FLOAT_IN_R,
        {"contacts": "{float.switch: open}"},
        "dead-call unpowered-thermostat",
        {"heat": "", "cool": "", "fan": ""},
        (("dead-call", "float.switch", "board.R pan.red float.2"),),
    ),
    Met(
        "an isolating relay wired through its opening contact: backwards",
        RELAY,
        {"landings": "{outside.red: [relay.NC, cond.Y]}"},
        "dead-call unwanted-run",
        {"off": "cond.compressor", "cool": "board.blower"},
        (("dead-call", "relay.contact-NC", "supply.R patch.red relay.COM"),),
    ),
    Met(
        "a two-wire thermostat straight on the boiler's T1 and T2",
        ZONE,
        {
            "equipment": "{valve: null, supply: null}",
            "landings": "{wall.red: [stat.R, boiler.T1], wall.white: [stat.W, boiler.T2], patch.blue: null,"
            " patch.brown: null, patch.orange: null}",
        },
        "",
        {"heat": "boiler.circulator boiler.heat", "off": ""},
    ),
    Met(
        "end switch and T1, T2 either way round",
        ZONE,
        {"landings": "{patch.brown: [valve.E2, boiler.T2], patch.orange: [valve.E1, boiler.T1]}"},
        "",
        {"heat": "boiler.circulator boiler.heat valve.open"},
    ),
    Met(
        "a zone valve whose end switch is not wired",
        ZONE,
        {"landings": "{patch.brown: null, patch.orange: null}"},
        "dead-call",
        {"heat": "valve.open"},
        (("dead-call", "boiler.T2", "boiler.T1"),),
    ),
    Met(
        "both of a zone valve's motor leads on one terminal",
        ZONE,
        {"landings": "{wall.white: [stat.W, valve.M2]}"},
        "short dead-call dead-call",
        {"heat": ""},
        (("short", "supply.fuse", "supply.R wall.red stat.R stat.W wall.white valve.M2 patch.blue supply.C"),),
    ),
    Met(
        "24 V and common of a furnace carried onto the boiler's T1 and T2",
        HOUSE,
        {
            "equipment": "{boiler: {part: indoor/boiler-tt, at: cellar}}",
            "cables": "{tt: {between: [cellar, cellar], conductors: [red, white]}}",
            "landings": "{tt.red: [board.W, boiler.T1], tt.white: [board.C, boiler.T2], wall.blue: null}",
            "settings": BATTERY,
            "serves": "[fan, cool]",
        },
        "sources-tied unwanted-run",
        {"off": "board.blower board.heat", "heat": "board.blower board.heat"},
        (
            ("unwanted-run", "board.heat-input", "boiler.T1 tt.red board.W board.C tt.white boiler.T2"),
            (
                "sources-tied",
                "boiler.transformer",
                "board.R wall.red stat.R stat.W wall.white board.W tt.red boiler.T1 boiler.T2 tt.white board.C",
            ),
        ),
    ),
    Met(
        "a second outdoor unit without its return",
        HOUSE,
        {"equipment": "{second: {part: outdoor/condenser, at: yard}}", "jumpers": "[[cond.Y, second.Y]]"},
        "dead-call no-return",
        {"cool": "board.blower cond.compressor"},
        (
            (
                "no-return",
                "second.contactor",
                "board.R wall.red stat.R stat.Y wall.yellow board.Y outside.red cond.Y second.Y second.C",
            ),
        ),
    ),
    Met(
        "a heat pump's common on metal that is not bonded: one cause for contactor and valve",
        PUMP,
        {"landings": "{outside.blue: [air.chassis, pump.C]}"},
        "dead-call no-return",
        {"cool": "air.blower", "defrost": "air.aux-heat air.blower"},
    ),
    Met(
        "a lead left on the test jumper between R and G",
        COTTAGE,
        {"jumpers": "[[board.R, board.G]]"},
        "unwanted-run",
        {"off": "board.blower"},
        (("unwanted-run", "board.fan-input", "board.R board.G board.C"),),
    ),
]  # fmt: skip


@pytest.mark.parametrize("met", MET, ids=lambda met: met.what)
def test_met(met: Met) -> None:
    proof = proof_of(met.base, **met.changes)
    assert codes(proof) == met.found.split()
    for call, running in met.runs.items():
        assert proof.calls[call].running == tuple(running.split()), call
    for code, name, path in met.paths:
        finding = having(proof, code, name)
        assert has(finding.path, path), finding.path


@pytest.mark.parametrize("met", MET, ids=lambda met: met.what)
def test_a_served_call_that_fails_is_always_dead(met: Met) -> None:
    proof = proof_of(met.base, **met.changes)
    failing = {call for call in proof.serves if set(proof.calls[call].needed) - set(proof.calls[call].running)}
    told = {call for finding in proof.findings if finding.code == "dead-call" for call in finding.calls}
    assert told == failing, "none of these jobs has a call that two thermostats can make"


@pytest.mark.parametrize("met", MET, ids=lambda met: met.what)
def test_a_path_is_a_way_through_the_job(met: Met) -> None:
    """Every step of a path is a terminal, splice or conductor, and each conductor stands beside an end that it is landed on."""
    job = proof_of(met.base, **met.changes)
    for finding in job.findings:
        for i, name in enumerate(finding.path):
            if name in job.job.landings:
                beside = {*finding.path[max(i - 1, 0) : i], *finding.path[i + 1 : i + 2]}
                assert beside & set(job.job.landings[name]), (finding.code, finding.path)
            else:
                assert name in job.job.splices or name.partition(".")[0] in job.job.equipment
