"""What a part is: terminals, elements, functions and settings, all of it data.

A part is a small circuit behind a terminal strip. Its elements sit between *points*: a terminal of the part, a
chassis, or an inner point that only the part's own elements share. Conditions say which elements are
fitted (by settings) and which contacts are closed (by coils, inputs, outputs of a thermostat, or by hand).
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Annotated, Any, Literal

from pydantic import BaseModel, BeforeValidator, ConfigDict, Field, model_validator

__all__ = [
    "Calls",
    "Condition",
    "Cycle",
    "ElectricalValue",
    "Element",
    "Function",
    "Panel",
    "Part",
    "Retry",
    "Setting",
    "SettingValue",
    "Step",
    "Supply",
    "Terminal",
    "Trigger",
    "When",
    "Zone",
    "fitted",
]

SettingValue = bool | int | float | str | None
When = dict[str, SettingValue | list[SettingValue]]


def _tuple(value: Any) -> Any:
    return tuple(value) if isinstance(value, list) else value


Words = Annotated[tuple[str, ...], BeforeValidator(_tuple)]


class _Frozen(BaseModel):
    model_config = ConfigDict(frozen=True, extra="forbid", alias_generator=lambda name: name.replace("_", "-"))


def fitted(when: When | None, settings: Mapping[str, SettingValue]) -> bool:
    """Tell whether a ``when`` clause holds: every setting it names has that value, or one of those values.

    The word ``given`` stands for any value at all.
    """
    for key, wanted in (when or {}).items():
        value = settings.get(key)
        if wanted == "given":
            if value is None:
                return False
        elif value not in (wanted if isinstance(wanted, list) else [wanted]):
            return False
    return True


class ElectricalValue(_Frozen):
    """A number with its source, or the name of the setting that gives it.

    ``source`` is a key of the catalogue's table of sources, which says whether the value was read, remembered,
    computed or is common practice.
    """

    value: float | None = None
    setting: str | None = None
    source: str

    @model_validator(mode="before")
    @classmethod
    def _short_form(cls, data: Any) -> Any:
        """Read ``[0.03, contact]`` or ``[fuse-amps, job-setting]``: the number or the setting, then the source."""
        if isinstance(data, (list, tuple)) and len(data) == 2:
            return {"setting" if isinstance(data[0], str) else "value": data[0], "source": data[1]}
        return data

    @model_validator(mode="after")
    def _one_of(self) -> ElectricalValue:
        if (self.value is None) == (self.setting is None):
            raise ValueError("give either 'value' or 'setting'")
        return self

    def resolve(self, settings: Mapping[str, SettingValue]) -> float | None:
        """Return the number that holds with these settings, None where the setting is not given."""
        found = self.value if self.setting is None else settings.get(self.setting)
        return None if found is None else float(found)


class Condition(_Frozen):
    """A yes-or-no question about the part: one element, an output, or ``any``/``all``/``not`` of others.

    A bare word in the data is short for ``{element: word}``. ``output`` is true while the thermostat's call
    closes that output and its electronics are alive; ``state`` is a state named by the calls (``defrost``).
    """

    element: str | None = None
    output: str | None = None
    state: str | None = None
    any: tuple[Condition, ...] | None = None
    all: tuple[Condition, ...] | None = None
    negated: Condition | None = Field(default=None, alias="not")

    @model_validator(mode="before")
    @classmethod
    def _short_form(cls, data: Any) -> Any:
        return {"element": data} if isinstance(data, str) else data

    @model_validator(mode="after")
    def _exactly_one(self) -> Condition:
        given = [self.element, self.output, self.state, self.any, self.all, self.negated]
        if sum(item is not None for item in given) != 1:
            raise ValueError("a condition is one of: an element's name, output, state, any, all, not")
        return self

    def elements(self) -> set[str]:
        """Return the elements of the part that the condition asks about."""
        return self._named("element")

    def makers(self) -> set[str]:
        """Return the elements whose being energised can make the condition hold; not those that only hold it off."""
        inner = (*(self.any or ()), *(self.all or ()))
        return {self.element} if self.element else set[str]().union(*(condition.makers() for condition in inner))

    def outputs(self) -> set[str]:
        """Return the outputs of the thermostat that the condition asks about."""
        return self._named("output")

    def states(self) -> set[str]:
        """Return the states of equipment that the condition asks about."""
        return self._named("state")

    def _named(self, kind: str) -> set[str]:
        inner = (*(self.any or ()), *(self.all or ()), *([self.negated] if self.negated else []))
        own = getattr(self, kind)
        return {own} if own else set[str]().union(*(condition._named(kind) for condition in inner))


class Setting(_Frozen):
    """A choice that a job makes for one piece of equipment; ``by_hand`` where an installer sets it at the device."""

    type: Literal["boolean", "integer", "number", "choice"]
    default: SettingValue = None
    choices: Annotated[tuple[SettingValue, ...], BeforeValidator(_tuple)] = ()
    minimum: float | None = None
    maximum: float | None = None
    unit: str | None = None
    by_hand: bool = False
    help: str

    def problem(self, value: object) -> str | None:
        """Return what is wrong with a value for this setting, or None where nothing is."""
        if value is None:
            return None if self.default is None else "needs a value"
        if self.type == "boolean":
            return None if isinstance(value, bool) else "must be true or false"
        if self.type == "choice":
            shown = ", ".join(str(choice) for choice in self.choices)
            return None if value in self.choices and not isinstance(value, bool) else f"must be one of {shown}"
        if isinstance(value, bool) or not isinstance(value, (int, float)):
            return "must be a number"
        if self.type == "integer" and not float(value).is_integer():
            return "must be a whole number"
        low, high = self.minimum, self.maximum
        if (low is not None and value < low) or (high is not None and value > high) or value != value:
            unit = f" {self.unit}" if self.unit else ""
            return f"must lie between {low:g} and {high:g}{unit}"
        return None


class Terminal(_Frozen):
    """A screw on the part's strip and what it means.

    ``means`` are purposes, not letters: two terminals agree when they share one. ``signal`` tells what may be joined
    to it; only ``24v-on-off`` belongs to the circuit that callpath solves.
    """

    means: Words
    takes: int = 2
    signal: Literal["24v-on-off", "line-voltage", "millivolt", "data-bus"] = "24v-on-off"
    help: str = ""


class Element(_Frozen):
    """A named thing inside the part, between two points.

    ``kind`` decides which electrical data it carries:

    ======== ==========================================================================================
    source   ``open-volts``, ``rated-volts``, ``rated-va``, ``ohms`` and ``reactance-ohms`` at 40 VA, ``winding-ohms``
    fuse     ``amps``, ``ohms``
    coil     ``inrush-va``, ``inrush-watts``, ``sealed-va``, ``sealed-watts``, ``pull-in-volts``, ``drop-out-volts``, ``dc-ohms``
    input    ``ohms`` (and ``reactance-ohms``), ``on-volts``, ``off-volts``: a board that watches a voltage
    load     ``ohms`` or ``va`` or ``amps`` at ``rated-volts``, with ``on-volts`` and ``off-volts``
    contact  ``ohms`` closed; ``closed-when``, or ``field: true`` with its ``rest``
    link     ``ohms``: a piece of wire, a bond to metal
    ======== ==========================================================================================

    A ``field`` contact that names what it ``stops`` is a safety: while it is open, one of those functions must not run; the
    first is what ``land`` wires it to stop. One that names nothing is a control, such as a humidistat.
    """

    kind: Literal["source", "fuse", "coil", "input", "load", "contact", "link"]
    between: Annotated[tuple[str, str], BeforeValidator(_tuple)]
    title: str = ""
    when: When | None = None
    data: dict[str, ElectricalValue] = Field(default_factory=dict)
    phase: str | None = None
    closed_when: Condition | None = None
    field: bool = False
    rest: Literal["open", "closed"] = "open"
    stops: Words = ()
    on_delay_s: ElectricalValue | None = None
    off_delay_s: ElectricalValue | None = None
    hidden: bool = False


class Step(_Frozen):
    """One thing that equipment does on its own on the way to running a function."""

    after_s: float
    what: str
    source: str


class Trigger(_Frozen):
    """One reason for a function to run, with the delays that this reason brings."""

    runs_when: Condition
    when: When | None = None
    on_delay_s: ElectricalValue | None = None
    off_delay_s: ElectricalValue | None = None
    steps: Annotated[tuple[Step, ...], BeforeValidator(_tuple)] = ()


class Retry(_Frozen):
    """How often a burner tries to prove its flame, how long it waits between, and how long it stays locked out after the last.

    Without ``lockout_s`` it stays locked out until the call or its power is interrupted.
    """

    tries: int
    again_after_s: ElectricalValue | None = None
    lockout_s: ElectricalValue | None = None
    source: str


class Cycle(_Frozen):
    """A state of equipment that comes round by itself: while ``runs_when`` lasts, after some time, for some time."""

    state: str
    runs_when: Condition
    when: When | None = None
    after_s: ElectricalValue
    lasts_s: ElectricalValue
    begins: str
    ends: str


class Function(_Frozen):
    """What equipment does that a person could see or hear; it runs while any of its triggers holds.

    ``runs`` and ``rests`` say in words that it has begun and that it has ended. Most functions are asked for by what is usual
    for their name (a blower in cooling). ``on`` names calls that must run this one wherever they reach its equipment, at one of
    the terminals ``reached_by`` where it names some. ``beside`` names calls during which it may run without being asked for;
    ``always`` stands for any call and none, ``fault`` for the time while a field contact is not as the job has it or a source
    is dead. ``undone_when`` is what takes it back; without that it stays as it is when its triggers let go.
    """

    title: str
    runs: str
    rests: str
    triggers: Annotated[tuple[Trigger, ...], BeforeValidator(_tuple)]
    minimum_off_s: ElectricalValue | None = None
    retry: Retry | None = None
    on: Words = ()
    reached_by: Words = ()
    beside: Words = ()
    undone_when: Condition | None = None


class Calls(_Frozen):
    """One output that a call closes, perhaps only with some settings."""

    output: str
    when: When | None = None


class Supply(_Frozen):
    """What a thermostat needs to be alive, with some settings; without a ``needs`` it lives on its own battery."""

    when: When | None = None
    needs: Condition | None = None


class CallRule(_Frozen):
    """A call that the thermostat can make and the outputs that it closes.

    ``runs`` names the functions that it must run, where that is not what its name stands for everywhere else.
    """

    closes: Annotated[tuple[Calls, ...], BeforeValidator(_tuple)]
    when: When | None = None
    states: Words = ()
    runs: Words = ()


class Zone(_Frozen):
    """One zone of a panel: the terminals for its thermostat, and those for the valve or damper that opens for it."""

    thermostat: Words
    opens: Words = ()


class Panel(_Frozen):
    """Which terminals of a panel go to which device: zone by zone, and those that call the equipment."""

    zones: Annotated[tuple[Zone, ...], BeforeValidator(_tuple)]
    equipment: Words


class Part(_Frozen):
    """The catalogue's model of a kind of equipment; generic, never a brand or a model number."""

    part: str
    title: str
    role: Literal["thermostat", "indoor", "outdoor", "accessory"]
    note: str = ""
    terminals: dict[str, Terminal]
    settings: dict[str, Setting] = Field(default_factory=dict)
    elements: dict[str, Element]
    functions: dict[str, Function] = Field(default_factory=dict)
    cycles: Annotated[tuple[Cycle, ...], BeforeValidator(_tuple)] = ()
    calls: dict[str, CallRule] = Field(default_factory=dict)
    supply: Annotated[tuple[Supply, ...], BeforeValidator(_tuple)] = ()
    panel: Panel | None = None

    @property
    def shown_elements(self) -> tuple[str, ...]:
        """Elements that a person would name; inner links stay out of sight."""
        return tuple(name for name, element in self.elements.items() if not element.hidden)

    @property
    def driving(self) -> frozenset[str]:
        """Elements that make functions run."""
        triggers = (trigger for function in self.functions.values() for trigger in function.triggers)
        return frozenset(name for trigger in triggers for name in trigger.runs_when.makers())

    @property
    def followed(self) -> frozenset[str]:
        """Elements that a function or a contact follows, if only by opening."""
        contacts = (element.closed_when for element in self.elements.values() if element.closed_when is not None)
        return self.driving.union(*(condition.elements() for condition in contacts))

    def settle_settings(self, given: Mapping[str, SettingValue]) -> dict[str, SettingValue]:
        """Return every setting of the part, the given ones over the defaults."""
        return {name: given.get(name, setting.default) for name, setting in self.settings.items()}
