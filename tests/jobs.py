"""Jobs to test with: a few sound installations, and a way to tell what is different about another one."""

from __future__ import annotations

import copy
import json
from collections.abc import Collection
from typing import Any

from ruamel.yaml import YAML

from callpath.job import Job, read_job
from callpath.parts.catalogue import Catalogue
from callpath.proof.finding import Finding
from callpath.proof.prove import Proof, prove

Data = dict[str, Any]


def data(text: str) -> Any:
    """Return what a YAML text holds; ``off`` and ``Y`` stay words, as YAML 1.2 has it."""
    return YAML(typ="safe", pure=True).load(text)


# Invented installations, as small as they can be. Everything in them is right and landed by custom's colours.

COTTAGE = data("""
callpath: 1
title: cooling only, three conductors, a thermostat that lives on cells
equipment:
  stat:  {part: thermostat/single-supply, at: hall}
  board: {part: indoor/furnace-board, at: cellar}
  cond:  {part: outdoor/condenser, at: yard}
cables:
  wall:    {between: [hall, cellar], length: 45 ft, conductors: [red, yellow, green]}
  outside: {between: [cellar, yard], length: 30 ft, conductors: [red, white]}
landings:
  wall.red:      [stat.R, board.R]
  wall.yellow:   [stat.Y, board.Y]
  wall.green:    [stat.G, board.G]
  outside.red:   [board.Y, cond.Y]
  outside.white: [board.C, cond.C]
serves: [cool, fan]
""")

HOUSE = data("""
callpath: 1
title: heating and cooling on five conductors, the common among them
equipment:
  stat:  {part: thermostat/single-supply, at: hall, settings: {power: common}}
  board: {part: indoor/furnace-board, at: cellar}
  cond:  {part: outdoor/condenser, at: yard}
cables:
  wall:    {between: [hall, cellar], length: 45 ft, conductors: [red, blue, white, yellow, green]}
  outside: {between: [cellar, yard], length: 30 ft, conductors: [red, white]}
landings:
  wall.red:      [stat.R, board.R]
  wall.blue:     [stat.C, board.C]
  wall.white:    [stat.W, board.W]
  wall.yellow:   [stat.Y, board.Y]
  wall.green:    [stat.G, board.G]
  outside.red:   [board.Y, cond.Y]
  outside.white: [board.C, cond.C]
""")

MANOR = data("""
callpath: 1
title: a boiler and an air conditioner, each with its source, on a thermostat with a supply for each
equipment:
  stat:   {part: thermostat/split-supply, at: salon}
  boiler: {part: indoor/boiler, at: boiler room}
  air:    {part: indoor/furnace-board, at: attic}
  cond:   {part: outdoor/condenser, at: garden}
cables:
  heating: {between: [salon, boiler room], length: 60 ft, conductors: [red, white]}
  cooling: {between: [salon, attic], length: 40 ft, conductors: [red, yellow, green]}
  outside: {between: [attic, garden], length: 55 ft, conductors: [red, white]}
landings:
  heating.red:    [stat.Rh, boiler.R]
  heating.white:  [stat.W, boiler.W]
  cooling.red:    [stat.Rc, air.R]
  cooling.yellow: [stat.Y, air.Y]
  cooling.green:  [stat.G, air.G]
  outside.red:    [air.Y, cond.Y]
  outside.white:  [air.C, cond.C]
""")

PUMP = data("""
callpath: 1
title: a heat pump with a valve that is fed in cooling, and an air handler with electric heat
equipment:
  stat: {part: thermostat/heat-pump, at: parlour}
  air:  {part: indoor/air-handler, at: cupboard}
  pump: {part: outdoor/heat-pump, at: orchard}
cables:
  wall:    {between: [parlour, cupboard], length: 40 ft, conductors: [white, red, green, blue, yellow, orange]}
  outside: {between: [cupboard, orchard], length: 60 ft, conductors: [white, red, blue, yellow, orange]}
  strip:   {between: [cupboard, cupboard], length: 2 ft, conductors: [white]}
landings:
  wall.red:       [stat.R, air.R]
  wall.blue:      [stat.C, air.C]
  wall.green:     [stat.G, air.G]
  wall.white:     [stat.W2, heat]
  wall.yellow:    [stat.Y, call]
  wall.orange:    [stat.O/B, valve]
  outside.red:    [air.R, pump.R]
  outside.blue:   [air.C, pump.C]
  outside.yellow: [call, pump.Y]
  outside.orange: [valve, pump.O/B]
  outside.white:  [heat, pump.W]
  strip.white:    [heat, air.W]
splices: {call: cupboard, valve: cupboard, heat: cupboard}
""")

FUEL = {**PUMP, "equipment": {**PUMP["equipment"], "air": {"part": "indoor/furnace-board", "at": "cupboard"}}}
"""The same with a furnace, which is what the thermostat's auxiliary heat calls; nothing makes the two take turns."""

MILL = data("""
callpath: 1
title: an older fan control without Y and C, the outdoor unit wired past it and back through the metal
equipment:
  stat:    {part: thermostat/single-supply, at: loft}
  furnace: {part: indoor/three-terminal-board, at: cellar}
  cond:    {part: outdoor/condenser, at: weir}
cables:
  wall:    {between: [loft, cellar], length: 40 ft, conductors: [white, red, green, yellow]}
  outside: {between: [cellar, weir], length: 35 ft, conductors: [red, white]}
landings:
  wall.red:      [stat.R, furnace.R]
  wall.white:    [stat.W, furnace.W]
  wall.green:    [stat.G, furnace.G]
  wall.yellow:   [stat.Y, past]
  outside.red:   [past, cond.Y]
  outside.white: [furnace.chassis, cond.C]
splices: {past: cellar}
""")

ZONE = data("""
callpath: 1
title: one hydronic zone, its valve on a source of its own, its end switch on the boiler's T1 and T2
equipment:
  stat:   {part: thermostat/heat-only, at: classroom}
  supply: {part: accessory/transformer, at: boiler room, settings: {fuse-amps: 3}}
  valve:  {part: accessory/zone-valve, at: boiler room}
  boiler: {part: indoor/boiler-tt, at: boiler room}
cables:
  wall:  {between: [classroom, boiler room], length: 50 ft, conductors: [red, white]}
  patch: {between: [boiler room, boiler room], length: 4 ft, conductors: [blue, brown, orange]}
landings:
  wall.red:     [stat.R, supply.R]
  wall.white:   [stat.W, valve.M1]
  patch.blue:   [supply.C, valve.M2]
  patch.brown:  [valve.E1, boiler.T1]
  patch.orange: [valve.E2, boiler.T2]
""")

RELAY = data("""
callpath: 1
title: a relay between two sources
equipment:
  stat:   {part: thermostat/single-supply, at: hall}
  board:  {part: indoor/furnace-board, at: loft}
  relay:  {part: accessory/relay, at: loft}
  supply: {part: accessory/transformer, at: loft, settings: {fuse-amps: 3}}
  cond:   {part: outdoor/condenser, at: yard}
cables:
  wall:    {between: [hall, loft], length: 30 ft, conductors: [white, red, green, yellow]}
  patch:   {between: [loft, loft], length: 3 ft, conductors: [yellow, blue, red]}
  outside: {between: [loft, yard], length: 80 ft, conductors: [red, white]}
landings:
  wall.red:      [stat.R, board.R]
  wall.white:    [stat.W, board.W]
  wall.green:    [stat.G, board.G]
  wall.yellow:   [stat.Y, board.Y]
  patch.yellow:  [board.Y, relay.A1]
  patch.blue:    [board.C, relay.A2]
  patch.red:     [supply.R, relay.COM]
  outside.red:   [relay.NO, cond.Y]
  outside.white: [supply.C, cond.C]
""")

# And one that is not right: a relay that takes away its own supply.

BUZZER = data("""
callpath: 1
equipment:
  stat:   {part: thermostat/heat-only, at: porch}
  supply: {part: accessory/transformer, at: shed}
  relay:  {part: accessory/relay, at: shed}
cables:
  wall: {between: [porch, shed], length: 20 ft, conductors: [red, white]}
  loop: {between: [shed, shed], length: 2 ft, conductors: [red, blue]}
landings:
  wall.red:   [stat.R, supply.R]
  wall.white: [stat.W, relay.COM]
  loop.red:   [relay.NC, relay.A1]
  loop.blue:  [relay.A2, supply.C]
""")


def amended(base: Data, *, settings: str = "", **sections: Any) -> Data:
    """Return a job's data with some of it changed.

    Parameters
    ----------
    base : dict
        The job to begin with; it stays as it is.
    settings : str
        YAML, by equipment, of settings to change.
    sections : str or data
        By section, as YAML or as data: keys of ``equipment``, ``cables``, ``landings`` … are put over those of the base, and
        taken out where they are null; lists take the place of the base's.
    """
    result = copy.deepcopy(base)
    for section, given in sections.items():
        change = data(given) if isinstance(given, str) and section not in ("title", "note") else given
        if isinstance(change, dict):
            merged = {**result.get(section, {}), **change}
            result[section] = {key: value for key, value in merged.items() if value is not None}
        else:
            result[section] = change
    for equipment, chosen in (data(settings) if settings else {}).items():
        result["equipment"][equipment].setdefault("settings", {}).update(chosen)
    return result


def job_of(base: Data, catalogue: Catalogue | None = None, **changes: Any) -> Job:
    """Return the job that data describe, read as a file would be."""
    return read_job(json.dumps(amended(base, **changes)), catalogue=catalogue)


def proof_of(base: Data, catalogue: Catalogue | None = None, **changes: Any) -> Proof:
    """Return the proof of the job that data describe."""
    return prove(job_of(base, catalogue, **changes))


def codes(proof: Proof, *, notes: bool = False) -> list[str]:
    """Return the codes of what was found, in the order found; of notes too where asked."""
    return [finding.code for finding in proof.findings if notes or finding.severity != "note"]


def only(proof: Proof, code: str) -> Finding:
    """Return the one finding that has a code."""
    (found,) = [finding for finding in proof.findings if finding.code == code]
    return found


def having(proof: Proof, code: str, name: str) -> Finding:
    """Return the one finding that has a code and names a thing."""
    (found,) = [finding for finding in proof.findings if finding.code == code and name in finding.where]
    return found


def has(path: Collection[str], text: str) -> bool:
    """Tell whether a path is what a text names, one word after the other."""
    return tuple(path) == tuple(text.split())
