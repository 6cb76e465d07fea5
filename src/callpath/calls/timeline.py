"""A call played moment by moment: the circuit settled anew at each, what moves at once told, what moves later written down."""

from __future__ import annotations

import heapq
import itertools
from collections.abc import Collection, Sequence
from dataclasses import replace

import numpy as np

from callpath.calls.closing import call_rules, thermostats
from callpath.calls.delayed import Delayed, Turn, cycles, late_contacts, triggers
from callpath.calls.happen import ASKED_BY, happen
from callpath.calls.outside import LONGEST_S, Interruption
from callpath.calls.standing import Moment, Standing
from callpath.calls.timing import Record, Timing
from callpath.circuit.build import Circuit
from callpath.circuit.drive import BEYOND, idle_functions
from callpath.circuit.path import through
from callpath.circuit.solve import Bools
from callpath.parts.model import Function

__all__ = ["Timeline"]

_NO_FLAME = "the gas valve opens, no flame is proved, the gas is shut off"


class Timeline:
    """A call as it is played: how the circuit stands, what is still to come, and what has been told.

    Parameters
    ----------
    stopped_ago_s : float
        How long before the call every compressor stopped [s].
    frost : bool
        Whether the outdoor coil frosts over in heating.
    """

    def __init__(self, circuit: Circuit, stopped_ago_s: float, *, frost: bool) -> None:
        self.circuit = circuit
        self.stopped_ago_s = stopped_ago_s
        self.tale = Record()
        self.now = Standing(circuit)
        self.idle = idle_functions(circuit.job)
        # A burner that is dead tries for its flame and does not get it.
        self.flameless = {name for name in self.idle if self._told(name).retry is not None}
        place = circuit.network.bit_index
        self.delayed = [*late_contacts(circuit, place), *triggers(circuit, place)]
        self.turns = list(cycles(circuit, place)) if frost else []
        self.queue: list[tuple[float, int, str, object, int, str]] = []
        self.order = itertools.count()
        self.stopped_at: dict[str, float] = {}
        self.because = ""
        self.now.settle(self.delayed)
        for thing in self.delayed:
            thing.now = thing.wants = bool(thing.drive(self.now.vector)[0])
        self.running = self._running()
        self.moments: dict[float, Moment] = {}

    def timing(self) -> Timing:
        """Return what was played."""
        told = self.tale.timing()
        moments = {event.at_s: self.moments[event.at_s] for event in told.events}
        return replace(told, moments=tuple(moments.values()))

    def run(self, call: str, callers: Collection[str] | None, interruptions: Sequence[Interruption]) -> None:
        """Play the call and what interrupts it, until nothing is left to happen."""
        able = [stat.id for stat in thermostats(self.circuit.job) if call in call_rules(stat)]
        asking = able if callers is None else [stat for stat in able if stat in callers]
        where = "thermostat" if callers is None else ", ".join(asking)
        self.tale.say(0.0, f"the call is '{call}'", where, ASKED_BY.get(call, "the room asks for it"))
        for name in sorted(self.running):
            self.tale.say(0.0, self._told(name).runs, name, "it did before the call: what drives it does not let go")
            self.tale.switch(name, 0.0, on=True)
        self.calls(0.0, asking, call, where)
        self.because = f"the call '{call}'"
        self.closings(0.0, {})
        self.advance(0.0)
        self._keep(0.0)
        for item in interruptions:
            self._plan(item.at_s, "outside", item)
        while self.queue:
            at, _, kind, thing, ticket, text = heapq.heappop(self.queue)
            if at > LONGEST_S or (isinstance(thing, (Delayed, Turn)) and ticket != thing.ticket):
                continue
            if isinstance(thing, Interruption):
                happen(self, at, thing)
            elif isinstance(thing, Turn):
                self._turn(at, thing)
            elif isinstance(thing, Delayed) and kind == "step":
                if text != thing.proving or thing.function not in self.flameless:
                    self.tale.say(at, text, thing.function, f"{', '.join(thing.drivers)} energised")
            elif isinstance(thing, Delayed) and kind == "again":
                self._light(at, thing)
            elif isinstance(thing, Delayed):
                self._move(at, thing)
            self._keep(at)

    def calls(self, at: float, asking: Sequence[str], call: str, where: str) -> None:
        """Note who calls what from now on."""
        for stat in asking:
            self.now.calls[stat] = call
        several = where != "thermostat"
        for name in list(self.tale.spans):
            if name.startswith("the call") and (not several or name.endswith(f" of {where}")):
                self.tale.switch(name, at, on=False)
        if call != "off":
            self.tale.switch(f"the call '{call}'" + (f" of {where}" if several else ""), at, on=True)

    def _keep(self, at: float) -> None:
        """Keep how the circuit stands, in place of how it stood before at the same moment."""
        self.moments[round(at, 3)] = self.now.moment(round(at, 3), sorted(self.running))

    def _plan(self, at: float, kind: str, thing: object, text: str = "") -> None:
        ticket = thing.ticket if isinstance(thing, (Delayed, Turn)) else 0
        heapq.heappush(self.queue, (at, next(self.order), kind, thing, ticket, text))

    def _move(self, at: float, thing: Delayed) -> None:
        if thing.wants and thing.function in self.flameless and thing.retry is not None:
            self.failed(at, thing)
            return
        if thing.wants and thing.function in self.idle:
            told = self._told(thing.function)
            drivers = ", ".join(thing.drivers) or "its control"
            self.tale.say(at, f"{told.title}: does not run", thing.function, f"{drivers} energised; {BEYOND}")
            return
        thing.now = thing.wants
        if thing.function:
            thing.tries, was_failing, thing.failing = 0, thing.failing, False
            self.functions(at, thing)
            if was_failing:
                # What waited for the flame goes on.
                self.advance(at)
        else:
            title = self.circuit.elements[thing.name][1].title
            driver = ", ".join(thing.drivers)
            self.tale.say(
                at,
                f"{title} {'closes' if thing.now else 'opens'}",
                thing.name,
                f"{driver} {'on' if thing.now else 'off'} long enough",
            )
            self.tale.switch(thing.name, at, on=thing.now)
            self.because = f"{thing.name} has {'closed' if thing.now else 'opened'}"
            self.advance(at)

    def failed(self, at: float, thing: Delayed, told: str = _NO_FLAME) -> None:
        """Tell of a flame that was not proved, and plan the next trial or the lockout."""
        retry = thing.retry
        assert retry is not None
        settings = self.circuit.job.equipment[thing.equipment].settings
        thing.tries += 1
        thing.ticket += 1
        thing.failing = True
        self.tale.say(
            at,
            told,
            thing.function,
            f"trial {thing.tries} of {retry.tries} failed",
        )
        if thing.tries < retry.tries:
            wait = (retry.again_after_s.resolve(settings) if retry.again_after_s else None) or 0.0
            self._plan(at + wait, "again", thing)
            return
        rest = retry.lockout_s.resolve(settings) if retry.lockout_s else None
        until = f"for {rest:g} s, or " if rest else ""
        self.tale.say(
            at,
            "it locks out",
            thing.function,
            f"{retry.tries} trials; {until}until the call or its power is interrupted",
        )
        thing.tries = 0
        # A second lockout is like the first, and is told no further.
        if rest and not thing.locked_out:
            self._plan(at + rest, "again", thing)
        thing.locked_out = True

    def _light(self, at: float, thing: Delayed) -> None:
        """Begin a trial for ignition."""
        for step in thing.steps:
            self._plan(at + step.after_s, "step", thing, step.what)
        self._plan(at + thing.on_s, "move", thing)

    def functions(self, at: float, thing: Delayed, why: str = "") -> None:
        """Tell which functions begin or end to run now that a thing has moved."""
        before, self.running = self.running, self._running()
        equipment = thing.function.partition(".")[0]
        told = self._told(thing.function)
        cause = ", ".join(thing.drivers) or "its control"
        by_state = any(self.because.startswith(state) for state in thing.states)
        if thing.function in self.running - before:
            state = self.now.snapshot()
            branch = self.circuit.network.index.get(thing.drivers[0]) if thing.drivers else None
            late = f", {thing.on_s:g} s later" if thing.on_s else ""
            why = self.because if by_state else f"{cause} energised{late}"
            path = through(state, branch) if branch is not None else ()
            self.tale.say(at, told.runs, thing.function, why, path)
            self.tale.switch(thing.function, at, on=True)
        elif thing.function in before - self.running:
            self.stopped_at[thing.function] = at
            late = f", {thing.off_s:g} s later" if thing.off_s and equipment not in self.now.dark else ""
            why = (
                why
                or (self.because if by_state else "")
                or (f"{equipment} has no power" if equipment in self.now.dark else f"{cause} de-energised{late}")
            )
            self.tale.say(at, told.rests, thing.function, why)
            self.tale.switch(thing.function, at, on=False)

    def _turn(self, at: float, turn: Turn) -> None:
        """A state of equipment begins, or ends: what it moves follows."""
        turn.running = not turn.running
        cycle = turn.cycle
        (self.now.states.add if turn.running else self.now.states.discard)(cycle.state)
        because = f"{turn.after_s / 60:g} min with frost on the coil"
        if turn.running:
            turn.began_s = at
        elif at - turn.began_s < turn.lasts_s:
            makers = " and ".join(f"{turn.equipment}.{name}" for name in sorted(cycle.runs_when.makers()))
            because = f"{turn.equipment} has no power" if turn.equipment in self.now.dark else f"{makers} de-energised"
        else:
            because = f"after {turn.lasts_s / 60:g} min"
        self.tale.say(at, cycle.begins if turn.running else cycle.ends, turn.equipment, because)
        self.tale.switch(f"{turn.equipment} {cycle.state}", at, on=turn.running)
        self.because = f"{cycle.state} has {'begun' if turn.running else 'ended'}"
        turn.ticket += 1
        turn.wants = False
        if turn.running:
            self._plan(at + turn.lasts_s, "turn", turn)
        self.advance(at)

    def closings(self, at: float, before: dict[str, tuple[str, ...]]) -> None:
        """Tell which outputs every thermostat closes that it did not close, and opens though its call goes on."""
        place = self.circuit.network.bit_index
        after = self.now.outputs
        for stat in self.now.calls:
            alive = self.circuit.alive[stat](self.now.vector)[0]
            new = [output for output in after.get(stat, ()) if output not in before.get(stat, ())]
            gone = [output for output in before.get(stat, ()) if output not in after.get(stat, ())]
            for output in gone:
                if self.now.calls[stat] != "off":
                    self.tale.say(
                        at, f"{stat} opens {output}", f"{stat}.{output}", f"the call '{self.now.calls[stat]}'"
                    )
                self.tale.switch(f"{stat}.{output}", at, on=False)
            for output in new:
                if alive and f"{stat}>{output}" in place:
                    self.tale.say(
                        at, f"{stat} closes {output}", f"{stat}.{output}", f"the call '{self.now.calls[stat]}'"
                    )
                    self.tale.switch(f"{stat}.{output}", at, on=True)
            if not alive and self.now.calls[stat] != "off":
                self.tale.say(at, f"{stat} closes nothing", stat, "it has no supply of its own")

    def advance(self, at: float) -> None:
        """Settle the circuit as it stands now, tell what moved at once, and write down what will move later."""
        before, alive = self.now.bits.copy(), self.now.alive
        self.now.settle(self.delayed)
        self._tell_moves(at, before)
        for stat, now in self.now.alive.items():
            if now != alive[stat]:
                what = "has its supply and works" if now else "loses its supply and lets go of everything"
                self.tale.say(at, f"{stat} {what}", stat, self.because)
        for thing in self.delayed:
            wants = self._wanted(thing)
            if wants == thing.wants:
                continue
            thing.wants = wants
            thing.ticket += 1
            thing.tries, thing.failing, thing.locked_out = 0, False, False
            if wants == thing.now:
                continue
            if not wants and thing.function and thing.equipment in self.now.dark:
                thing.now = False
                self.functions(at, thing)
                continue
            due = at + (thing.on_s if wants else thing.off_s)
            if wants and thing.function:
                due = max(due, self._earliest_start(at, thing))
                for step in thing.steps:
                    self._plan(at + step.after_s, "step", thing, step.what)
            self._plan(due, "move", thing)
        for turn in self.turns:
            self._arm(at, turn)

    def _wanted(self, thing: Delayed) -> bool:
        """Tell whether a thing should be on: driven, its equipment powered, and its burner's flame there."""
        if thing.function and thing.equipment in self.now.dark:
            return False
        burning = [other for other in self.delayed if other.retry is not None and other.equipment == thing.equipment]
        for burner in burning:
            # What starts by the burner's own call, blower or second stage, waits for the flame.
            follows = thing.function != burner.function and thing.makers >= burner.makers
            waits = burner.failing or burner.function in self.flameless
            if thing.function and follows and waits and not burner.now:
                return False
        return bool(thing.drive(self.now.vector)[0])

    def _arm(self, at: float, turn: Turn) -> None:
        """Begin to wait for a turn where its condition has begun to hold, and give it up where it no longer does."""
        holds = bool(turn.drive(self.now.vector)[0]) and turn.equipment not in self.now.dark
        if turn.running:
            # What the turn itself moves does not end it; a contactor that drops out does.
            place = self.circuit.network.bit_index
            makers = [place[f"{turn.equipment}.{name}"] for name in turn.cycle.runs_when.makers()]
            if not self.now.vector[0, makers].any():
                self._turn(at, turn)
        elif holds != turn.wants:
            turn.wants = holds
            turn.ticket += 1
            if holds:
                self._plan(at + turn.after_s, "turn", turn)

    def _earliest_start(self, at: float, thing: Delayed) -> float:
        equipment = thing.function.partition(".")[0]
        rest = self._told(thing.function).minimum_off_s
        seconds = (rest.resolve(self.circuit.job.equipment[equipment].settings) if rest else None) or 0.0
        since = self.stopped_at.get(thing.function, -self.stopped_ago_s)
        due = since + seconds
        if due > at:
            self.tale.say(
                at,
                "short-cycle protection holds it back",
                thing.function,
                f"it stopped {at - since:.0f} s ago and must rest {seconds:.0f} s, until {due:.0f} s; where no timer "
                "sees to that it starts at once, against pressure",
            )
        return due

    def _tell_moves(self, at: float, before: Bools) -> None:
        network = self.circuit.network
        moved = np.flatnonzero(before != self.now.bits)
        if not len(moved):
            return
        state = self.now.snapshot()
        for i in moved:
            bit = network.bits[i]
            equipment, element = self.circuit.elements[bit.name]
            if element.hidden or (equipment.part.calls and element.kind == "load"):
                continue
            title = element.title or bit.name
            if bit.sense != "volts":
                self.tale.say(at, f"{title} opens", bit.name, f"too much current after {self.because}")
                continue
            on = bool(self.now.bits[i])
            word = {"coil": ("pulls in", "drops out")}.get(element.kind, ("energised", "de-energised"))[0 if on else 1]
            volts = f", {abs(state.volts[bit.branch]):.1f} V" if on else ""
            self.tale.say(
                at, f"{title} {word}", bit.name, f"{self.because}{volts}", through(state, bit.branch) if on else ()
            )
            self.tale.switch(bit.name, at, on=on)

    def _told(self, function: str) -> Function:
        """Return what the catalogue says of ``equipment.function``."""
        equipment, _, name = function.partition(".")
        return self.circuit.job.equipment[equipment].part.functions[name]

    def _running(self) -> set[str]:
        return {thing.function for thing in self.delayed if thing.function and thing.now}
