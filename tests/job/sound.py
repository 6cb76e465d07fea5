"""A sound job that uses every key of the job file, for tests to read, to break and to take apart."""

from __future__ import annotations

from callpath.errors import JobError, Problem
from callpath.job import read_job

__all__ = ["SOUND", "problems_of"]

SOUND = """\
callpath: 1
title: Boat house, a split thermostat and an outdoor unit with pressure switches
note: Invented.
hz: 50
equipment:
  stat:  {part: thermostat/split-supply, at: hall, settings: {power: common}}
  board: {part: indoor/furnace-board, at: cellar, settings: {transformer-va: 40, fuse-amps: 3}}
  float: {part: accessory/float-switch, at: cellar}
  cond:  {part: outdoor/condenser, at: yard, settings: {pressure-switches: true}}
cables:
  wall:    {between: [hall, cellar], length: 45 ft, awg: 18, conductors: [red, white, green, blue, yellow]}
  outside: {between: [cellar, yard], length: 9 m, awg: 16, stranded: true, temperature: 40 C, conductors: [red, white]}
  short:   {between: [cellar, cellar], conductors: [black]}
landings:
  wall.red:      [stat.Rc, board.R]
  wall.white:    [stat.W, board.W]
  wall.green:    [stat.G, board.G]
  wall.blue:     [stat.C, board.C]
  wall.yellow:   [stat.Y, through]
  short.black:   [through, float.1]
  outside.red:   [float.2, cond.Y]
  outside.white: [board.C, cond.C]
splices:
  through: cellar
jumpers:
  - [stat.Rc, stat.Rh]
serves: [cool, fan]
contacts: {cond.high-pressure: open}
faults:
  - open: wall.white
  - missing: [stat.Rh, stat.Rc]
"""


def problems_of(text: str | bytes) -> tuple[Problem, ...]:
    """Return what is wrong with a job, nothing if it is sound."""
    try:
        read_job(text)
    except JobError as error:
        return error.problems
    return ()
