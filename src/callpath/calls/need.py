"""What each call must run, from what the thermostat reaches; whatever else runs is unwanted."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from functools import cached_property

from callpath.calls.closing import call_rules, calls_of_job, outputs_for, thermostats
from callpath.calls.reach import Joins
from callpath.circuit.build import Circuit
from callpath.job.model import Equipment

__all__ = ["Needs"]

_COMPANIONS = ("blower", "circulator")


class Needs:
    """What the calls of one job must run.

    Where an output reaches no equipment that could do what the call asks, whatever in the job could do it is
    what should have been reached.
    """

    def __init__(self, circuit: Circuit) -> None:
        self.circuit = circuit
        self.job = circuit.job
        self.joins = Joins(circuit)

    def must_run(self, call: str, callers: Collection[str] | None = None) -> frozenset[str]:
        """Return the functions, ``equipment.function``, that a call must run.

        Nothing is expected of a thermostat that stands about with nothing landed on it, while another can make the call.
        """
        able = [stat for stat in thermostats(self.job) if call in call_rules(stat)]
        if callers is None:
            asking = [stat for stat in able if stat.id in self.landed] or able
        else:
            asking = [stat for stat in able if stat.id in callers]
        return frozenset[str]().union(*(self._of(stat, call) for stat in asking))

    def may_run(self, call: str, callers: Collection[str] | None = None) -> frozenset[str]:
        """Return the functions that may run on a call: those that it must run, and those that may run beside it."""
        return self.must_run(call, callers) | self.beside(call)

    def beside(self, call: str) -> frozenset[str]:
        """Return the functions that their part lets run beside a call without being asked for."""
        return frozenset(
            f"{equipment.id}.{name}"
            for equipment in self.job.equipment.values()
            for name, function in equipment.part.functions.items()
            if "always" in function.beside or call in function.beside
        )

    @cached_property
    def tell_of_a_fault(self) -> frozenset[str]:
        """Return the functions that may run while a field contact is not as the job has it, or a source is dead."""
        return frozenset(
            f"{equipment.id}.{name}"
            for equipment in self.job.equipment.values()
            for name, function in equipment.part.functions.items()
            if "fault" in function.beside
        )

    def default_serves(self) -> tuple[str, ...]:
        """Return every call that both a thermostat and the equipment can act on."""
        return tuple(call for call in calls_of_job(self.circuit) if call != "off" and self._possible(call))

    def serves(self) -> tuple[str, ...]:
        """Return the calls that the installation must serve: as the job says, or by default."""
        return self.default_serves() if self.job.serves is None else self.job.serves

    # -- by thermostat ----------------------------------------------------------------------------------

    def _reached(self, thermostat: Equipment, call: str) -> set[str]:
        asked = outputs_for(self.job, call, [thermostat.id]).get(thermostat.id, ())
        return set().union(*(self.joins.reached(f"{thermostat.id}.{output}") for output in asked)) if asked else set()

    def _with(self, function: str, among: Collection[str] | None = None) -> set[str]:
        return {
            equipment.id
            for equipment in self.job.equipment.values()
            if function in equipment.part.functions and (among is None or equipment.id in among)
        }

    def _reach_or_any(self, function: str, reached: Collection[str]) -> set[str]:
        return self._with(function, reached) or self._with(function, self.landed) or self._with(function)

    def _heating(self, reached: Collection[str]) -> str:
        """Return how the job heats without a heat pump: by a burner, or by electricity where no burner is meant."""
        return self._first_of(("heat", "aux-heat"), reached)

    def _first_of(self, functions: Sequence[str], reached: Collection[str]) -> str:
        """Return the first function that something reached has, else that something landed has, else that anything has."""
        for among in (reached, self.landed, None):
            for function in functions:
                if self._with(function, among):
                    return function
        return functions[0]

    @cached_property
    def landed(self) -> set[str]:
        """Equipment that something is landed on; what stands about unconnected is meant for nothing yet."""
        ends = [end for landing in self.job.landings.values() for end in landing if end]
        return {end.partition(".")[0] for end in (*ends, *(end for jumper in self.job.jumpers for end in jumper))}

    def _of(self, thermostat: Equipment, call: str) -> set[str]:
        reached = self._reached(thermostat, call)
        wanted = self._by_name(thermostat, call, reached) | self._by_part(thermostat, call, reached)
        return wanted | self._owed(thermostat, call, wanted, reached)

    def _by_part(self, thermostat: Equipment, call: str, reached: set[str]) -> set[str]:
        """Return the functions of what a call reaches whose part says that this call must run them."""
        outputs = outputs_for(self.job, call, [thermostat.id])[thermostat.id]
        touched = frozenset[str]().union(*(self.joins.touched(f"{thermostat.id}.{output}") for output in outputs))
        return {
            f"{id_}.{name}"
            for id_ in reached
            for name, function in self.job.equipment[id_].part.functions.items()
            if call in function.on
            and (not function.reached_by or touched & {f"{id_}.{letters}" for letters in function.reached_by})
        }

    def _by_name(self, thermostat: Equipment, call: str, reached: set[str]) -> set[str]:
        """Return what a call's name stands for, or what the thermostat says it runs."""
        rule = call_rules(thermostat)[call]
        if rule.runs:
            wanted = {function: self._reach_or_any(function, reached) for function in rule.runs}
            for companion in _COMPANIONS:
                wanted[companion] = wanted.get(companion, set()) | self._with(companion, wanted.get("heat", ()))
            if wanted.get("heat"):
                wanted["open"] = self._valves(reached)
            return self._named(wanted)
        heat_pump = "aux" in thermostat.part.calls
        stage = call.removesuffix("-2")
        if stage == "fan":
            return self._named({"blower": self._reach_or_any("blower", reached)})
        if stage == "heat" and not heat_pump:
            return self._conventional_heat(reached, call)
        if stage in ("cool", "heat", "aux", "defrost", "emergency"):
            return self._heat_pump(thermostat, reached, stage)
        return {f"{id_}.{function}" for id_ in reached for function in self.job.equipment[id_].part.functions}

    def _conventional_heat(self, reached: set[str], call: str) -> set[str]:
        function = self._heating(reached)
        heaters = self._reach_or_any(function, reached)
        wanted = {function: heaters, "open": self._valves(reached)}
        for companion in _COMPANIONS:
            wanted[companion] = self._with(companion, heaters)
        if call == "heat-2":
            wanted["heat-2"] = self._with("heat-2", heaters)
        return self._named(wanted)

    def _valves(self, reached: Collection[str]) -> set[str]:
        """Return what a heating call opens wherever it comes; a damper's own part says which calls open it."""
        return {id_ for id_ in self._with("open", reached) if not self._open_on(id_)}

    # -- what nobody opens ------------------------------------------------------------------------------

    def _owed(self, thermostat: Equipment, call: str, wanted: Collection[str], reached: Collection[str]) -> set[str]:
        """Return the valves and dampers that nobody opens and that a call should.

        One that stands in the circuit and that no thermostat opens never lets anything through. It belongs to whoever heats
        with water past every valve, or moves air past every damper, or opens only what another opens too. Where each has its
        thermostat, one that opens none has a zone that is always open.
        """
        others = (opened for stat, opened in self.opened_by.items() if stat != thermostat.id)
        if not self.forgotten or not self.opened_by[thermostat.id] <= set().union(*others):
            return set()
        moves_air = bool(self._with("blower", reached))
        burners = {name.partition(".")[0] for name in wanted if name.endswith(".heat")} & set(reached)
        heats_water = bool(burners - self._with("blower"))
        return {
            f"{id_}.open"
            for id_ in self.forgotten
            if (moves_air and call in on if (on := self._open_on(id_)) else heats_water)
        }

    def _open_on(self, id_: str) -> tuple[str, ...]:
        return self.job.equipment[id_].part.functions["open"].on

    @cached_property
    def opened_by(self) -> dict[str, set[str]]:
        """By thermostat, the valves and dampers that any of its calls comes to."""
        found: dict[str, set[str]] = {}
        for stat in thermostats(self.job):
            opened = found.setdefault(stat.id, set())
            for call in call_rules(stat):
                reached = self._reached(stat, call)
                names = self._by_part(stat, call, reached)
                opened |= self._valves(reached) | {id_ for id_ in reached if f"{id_}.open" in names}
        return found

    @cached_property
    def forgotten(self) -> set[str]:
        """Valves and dampers that something is landed on and that no thermostat's call comes to."""
        return self._with("open", self.landed).difference(*self.opened_by.values())

    def _heat_pump(self, thermostat: Equipment, reached: set[str], stage: str) -> set[str]:
        wanted = {"blower": self._reach_or_any("blower", reached)}
        heater = self._second_heat(thermostat, reached)
        heaters = self._reach_or_any(heater, reached)
        # A furnace would blow hot air on the heat pump's indoor coil, which sits above it: called, it heats alone.
        alone = heater == "heat" and self._with("blower", heaters) & self._called_for_aux(thermostat)
        if stage != "emergency" and not (stage == "aux" and alone):
            cooler = self._first_of(("compressor", "cool"), reached)
            compressors = self._reach_or_any(cooler, reached)
            wanted[cooler] = compressors
            # Defrost puts the valve where cooling has it.
            fed_in = "O" if stage in ("cool", "defrost") else "B"
            wanted["reversing-valve"] = {
                id_
                for id_ in self._with("reversing-valve", compressors)
                if self.job.equipment[id_].settings.get("changeover") == fed_in
            }
        if stage in ("aux", "emergency", "defrost"):
            wanted[heater] = heaters
        return self._named(wanted)

    def meanings(self, thermostat: Equipment, letters: str) -> frozenset[str]:
        """Return what a thermostat's terminal means in this job: the heat of a burner that stands by is auxiliary heat."""
        means = frozenset(thermostat.part.terminals[letters].means)
        if (
            means & {"aux", "emergency"}
            and self._second_heat(thermostat, self.joins.reached(f"{thermostat.id}.{letters}")) == "heat"
        ):
            return means | {"heat"}
        return means

    def _called_for_aux(self, thermostat: Equipment) -> set[str]:
        """Return the equipment that a thermostat's outputs for auxiliary heat come to."""
        outputs = (letters for letters, terminal in thermostat.part.terminals.items() if "aux" in terminal.means)
        return set[str]().union(*(self.joins.reached(f"{thermostat.id}.{letters}") for letters in outputs))

    def _second_heat(self, thermostat: Equipment, reached: Collection[str]) -> str:
        """Return what warms the house beside or instead of the heat pump: a burner where the thermostat's own calls say so, or
        where there is no electric heat.
        """
        aux = call_rules(thermostat).get("aux")
        if aux is not None and "heat" in aux.runs:
            return "heat"
        return self._first_of(("aux-heat", "heat"), reached)

    def _named(self, wanted: dict[str, set[str]]) -> set[str]:
        return {f"{id_}.{function}" for function, ids in wanted.items() for id_ in ids}

    def _possible(self, call: str) -> bool:
        stage = call.removesuffix("-2")
        for thermostat in thermostats(self.job):
            if call not in call_rules(thermostat):
                continue
            rule = call_rules(thermostat)[call]
            heat_pump = "aux" in thermostat.part.calls
            kinds = [{function} for function in rule.runs] or {
                "fan": [{"blower"}],
                "cool": [{"compressor", "cool"}, {"blower"}],
                "heat": [{"compressor"}, {"blower"}] if heat_pump else [{"heat", "aux-heat"}],
                "aux": [{"compressor"}, {"blower"}, {"aux-heat", "heat"}],
                "emergency": [{"aux-heat", "heat"}, {"blower"}],
                "defrost": [{"compressor"}, {"blower"}, {"aux-heat", "heat"}],
            }.get(stage, [])
            if call == "heat-2" and not heat_pump and not rule.runs:
                kinds = [*kinds, {"heat-2"}]
            staged = any(
                call in function.on for e in self.job.equipment.values() for function in e.part.functions.values()
            )
            if staged and {"heat-2"} in kinds:
                kinds.remove({"heat-2"})
            if all(any(self._with(function) for function in kind) for kind in kinds):
                return True
        return False
