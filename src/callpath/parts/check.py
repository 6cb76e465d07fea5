"""What can be wrong with a part's data file, told with the key and the nearest valid words."""

from __future__ import annotations

import math
from collections.abc import Collection, Iterator, Mapping, Sequence
from types import UnionType
from typing import Any, Union, get_args, get_origin

from pydantic import BaseModel, ValidationError

from callpath.errors import nearest
from callpath.parts.model import Condition, ElectricalValue, Element, Part, Setting, When

__all__ = ["part_problems", "shape_problems"]

_SIZED = {"at-size-va", "size-va"}
_RATED = {"rated-volts", "rated-volts-max"}
_SWITCHES = {"on-volts", "off-volts"}

# Per kind of element: the data it needs, and what else it may have.
_DATA: Mapping[str, tuple[set[str], set[str]]] = {
    "source": (
        {"rated-volts", "rated-va", "open-volts", "ohms", "reactance-ohms", "winding-ohms"},
        _SIZED,
    ),
    "fuse": ({"amps", "ohms"}, set()),
    "coil": (
        {
            "rated-volts",
            "inrush-va",
            "inrush-watts",
            "sealed-va",
            "sealed-watts",
            "pull-in-volts",
            "drop-out-volts",
            "dc-ohms",
        },
        _SIZED | _RATED,
    ),
    "input": (_SWITCHES | {"ohms"}, _RATED | {"reactance-ohms"}),
    "load": (_SWITCHES, _RATED | {"ohms", "reactance-ohms", "va", "amps"}),
    "contact": ({"ohms"}, set()),
    "link": ({"ohms"}, {"watts", "amps"}),
}
# What must lie above what, so that a thing that has acted does not let go at once.
_ABOVE = (("on-volts", "off-volts"), ("pull-in-volts", "drop-out-volts"))


def shape_problems(error: ValidationError, model: type[BaseModel]) -> Iterator[str]:
    """Yield what pydantic found, in words that someone who writes data files knows."""
    for item in error.errors():
        where = [str(step) for step in item["loc"]]
        place = ".".join(where)
        if item["type"] == "extra_forbidden":
            yield f"{place}: no key '{where[-1]}' here; {nearest(where[-1], _keys_beside(model, where[:-1]))}"
        elif item["type"] == "missing":
            yield f"{place}: missing"
        elif item["type"] == "literal_error":
            valid = [word.strip("'") for word in str(item["ctx"]["expected"]).replace(" or ", ", ").split(", ")]
            yield f"{place}: '{item['input']}' is not valid; {nearest(str(item['input']), valid)}"
        else:
            yield f"{place}: {item['msg'].removeprefix('Value error, ')}"


def _keys_beside(model: type[BaseModel], where: Sequence[str]) -> Collection[str]:
    """Return the keys that a place of the data file may have, following the model from its top."""
    here: Any = model
    for step in where:
        if isinstance(here, type) and issubclass(here, BaseModel):
            found = [field.annotation for name, field in here.model_fields.items() if step in (field.alias, name)]
            here = _held(found[0]) if found else None
        else:
            here = _model_in(here)
    here = _model_in(here)
    return [field.alias or name for name, field in here.model_fields.items()] if here else ()


def _held(annotation: Any) -> Any:
    """Return an annotation without its ``None``."""
    inner = [one for one in get_args(annotation) if one is not type(None)]
    return inner[0] if len(inner) == 1 and get_origin(annotation) in (Union, UnionType) else annotation


def _model_in(annotation: Any) -> type[BaseModel] | None:
    """Return the model that an annotation such as ``dict[str, Element]`` holds, if it holds one."""
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        return annotation
    return next((found for inner in get_args(annotation) if (found := _model_in(inner))), None)


def part_problems(part: Part, sources: Collection[str]) -> Iterator[str]:
    """Yield everything that does not fit together in a part of the right shape."""
    outputs = {rule.output for call in part.calls.values() for rule in call.closes}
    for name, setting in part.settings.items():
        yield from _setting_problems(f"settings.{name}", setting)
    for name, element in part.elements.items():
        place = f"elements.{name}"
        yield from _element_problems(part, place, element, sources)
        yield from _condition_problems(part, place, element.closed_when, outputs)
    yield from _point_problems(part)
    for name, function in part.functions.items():
        place = f"functions.{name}"
        delays = [function.minimum_off_s]
        for letters in sorted(set(function.reached_by) - part.terminals.keys()):
            yield f"{place}.reached-by: no terminal '{letters}'; {nearest(letters, part.terminals)}"
        yield from _condition_problems(part, place, function.undone_when, outputs)
        for trigger in function.triggers:
            yield from _condition_problems(part, place, trigger.runs_when, outputs)
            yield from _when_problems(part, place, trigger.when)
            delays += [trigger.on_delay_s, trigger.off_delay_s]
            for step in trigger.steps:
                yield from _source_problems(place, step.source, sources)
        if function.retry is not None:
            yield from _source_problems(place, function.retry.source, sources)
            delays += [function.retry.again_after_s, function.retry.lockout_s]
        for delay in delays:
            yield from _value_problems(part, place, delay, sources)
    groups = {"panel.equipment": part.panel.equipment} if part.panel else {}
    for i, zone in enumerate(part.panel.zones if part.panel else ()):
        groups |= {f"panel.zones.{i}.thermostat": zone.thermostat, f"panel.zones.{i}.opens": zone.opens}
    for place, group in groups.items():
        for letters in sorted(set(group) - part.terminals.keys()):
            yield f"{place}: no terminal '{letters}'; {nearest(letters, part.terminals)}"
    for cycle in part.cycles:
        place = f"cycles.{cycle.state}"
        yield from _condition_problems(part, place, cycle.runs_when, outputs)
        yield from _when_problems(part, place, cycle.when)
        for value in (cycle.after_s, cycle.lasts_s):
            yield from _value_problems(part, place, value, sources)
    for supply in part.supply:
        yield from _condition_problems(part, "supply", supply.needs, outputs)
        yield from _when_problems(part, "supply", supply.when)
    for name, call in part.calls.items():
        yield from _when_problems(part, f"calls.{name}", call.when)
        for rule in call.closes:
            yield from _when_problems(part, f"calls.{name}", rule.when)
    for output in sorted(outputs - part.terminals.keys()):
        yield f"calls: no terminal '{output}'; {nearest(output, part.terminals)}"


def _setting_problems(place: str, setting: Setting) -> Iterator[str]:
    if setting.type == "choice" and not setting.choices:
        yield f"{place}: a choice needs 'choices'"
    elif setting.type in ("number", "integer") and None in (setting.minimum, setting.maximum):
        yield f"{place}: a {setting.type} needs 'minimum' and 'maximum'"
    elif setting.default is not None and (problem := setting.problem(setting.default)):
        yield f"{place}.default: {setting.default} {problem}"


def _element_problems(part: Part, place: str, element: Element, sources: Collection[str]) -> Iterator[str]:
    needed, optional = _DATA[element.kind]
    data = element.data
    for key in sorted(needed - data.keys()):
        yield f"{place}.data: a {element.kind} needs '{key}'"
    for key in sorted(data.keys() - needed - optional):
        yield f"{place}.data: a {element.kind} has no '{key}'; {nearest(key, needed | optional)}"
    if element.kind == "load" and not data.keys() & {"ohms", "va", "amps"}:
        yield f"{place}.data: a load needs 'ohms', 'va' or 'amps'"
    elif element.kind == "load" and "ohms" not in data and "rated-volts" not in data:
        yield f"{place}.data: a load given by its va or amps needs 'rated-volts'"
    if len(_SIZED & data.keys()) == 1:
        yield f"{place}.data: 'at-size-va' and 'size-va' go together"
    settings = part.settle_settings({})
    for above, below in _ABOVE:
        if above in data and below in data:
            high, low = (data[key].resolve(settings) for key in (above, below))
            if high is not None and low is not None and low >= high:
                yield f"{place}.data: '{below}' must be less than '{above}'"
    for key, value in (*data.items(), ("on-delay-s", element.on_delay_s), ("off-delay-s", element.off_delay_s)):
        yield from _value_problems(part, f"{place}.{key}", value, sources)
    yield from _when_problems(part, place, element.when)
    if element.phase is not None and element.phase not in part.settings:
        yield f"{place}.phase: no setting '{element.phase}'; {nearest(element.phase, part.settings)}"
    if element.kind == "contact" and element.field == (element.closed_when is not None):
        yield f"{place}: a contact is either 'field: true' or has 'closed-when'"
    if element.stops and not element.field:
        yield f"{place}.stops: only a contact with 'field: true' stops anything by itself"


def _point_problems(part: Part) -> Iterator[str]:
    """An inner point with nothing beyond it is a terminal's name misspelt."""
    uses: dict[str, list[str]] = {}
    for name, element in part.elements.items():
        if element.between[0] == element.between[1]:
            yield f"elements.{name}.between: both ends sit on '{element.between[0]}'"
        for point in element.between:
            uses.setdefault(point, []).append(name)
    for point, names in uses.items():
        if point not in part.terminals and len(names) < 2:
            others = [other for other in (*part.terminals, *uses) if other != point]
            yield f"elements.{names[0]}.between: '{point}' leads nowhere; {nearest(point, others)}"


def _value_problems(part: Part, place: str, value: ElectricalValue | None, sources: Collection[str]) -> Iterator[str]:
    if value is None:
        return
    yield from _source_problems(place, value.source, sources)
    if value.setting is not None and value.setting not in part.settings:
        yield f"{place}: no setting '{value.setting}'; {nearest(value.setting, part.settings)}".rstrip("; ")
    if value.value is not None and not (math.isfinite(value.value) and value.value >= 0):
        yield f"{place}: {value.value:g} must not be negative"


def _source_problems(place: str, source: str, sources: Collection[str]) -> Iterator[str]:
    if source not in sources:
        yield f"{place}: no source '{source}'; {nearest(source, sources)}"


def _when_problems(part: Part, place: str, when: When | None) -> Iterator[str]:
    for key in when or {}:
        if key not in part.settings:
            yield f"{place}.when: no setting '{key}'; {nearest(key, part.settings)}".rstrip("; ")


def _condition_problems(part: Part, place: str, condition: Condition | None, outputs: set[str]) -> Iterator[str]:
    if condition is None:
        return
    for element in sorted(condition.elements() - part.elements.keys()):
        yield f"{place}: no element '{element}'; {nearest(element, part.elements)}"
    for output in sorted(condition.outputs() - outputs):
        yield f"{place}: no call closes '{output}'; {nearest(output, outputs)}".rstrip("; ")
