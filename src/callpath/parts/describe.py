"""A part told in words and rows, for the command line, the docs page and JSON alike."""

from __future__ import annotations

from typing import Any

from callpath.parts.catalogue import Source, sources
from callpath.parts.model import Condition, Cycle, ElectricalValue, Element, Function, Part, Retry, Setting, When

__all__ = [
    "asked_words",
    "condition_words",
    "cycle_words",
    "delay_words",
    "element_closes",
    "element_rows",
    "part_as_json",
    "part_sources",
    "setting_words",
    "strip_drawing",
    "trial_words",
    "when_words",
]


def condition_words(condition: Condition) -> str:
    """Return a condition in words."""
    if condition.element:
        return condition.element
    if condition.output:
        return f"the call closes {condition.output}"
    if condition.state:
        return f"in {condition.state}"
    if condition.negated:
        return f"not ({condition_words(condition.negated)})"
    joint = " and " if condition.all is not None else " or "
    return joint.join(condition_words(part) for part in (condition.all or condition.any or ()))


def when_words(when: When | None) -> str:
    """Return a ``when`` clause in words, empty where it always holds."""
    return ", ".join(f"{key} {_value(value)}" for key, value in (when or {}).items())


def _value(value: Any) -> str:
    if value is None:
        return "not given"
    if isinstance(value, bool):
        return "true" if value else "false"
    return "given" if value == "given" else str(value)


def setting_words(setting: Setting) -> str:
    """Return which values a setting takes and its default."""
    if setting.type == "boolean":
        kind = "true or false"
    elif setting.type == "choice":
        kind = " or ".join(str(choice) for choice in setting.choices)
    else:
        unit = f" {setting.unit}" if setting.unit else ""
        kind = f"{setting.minimum:g} to {setting.maximum:g}{unit}"
    return f"{kind}; {'none' if setting.default is None else _value(setting.default)} unless given"


def element_rows(element: Element) -> list[tuple[str, str, str]]:
    """Return an element's electrical data: what, value, and the key of its source."""
    return [
        (key, f"setting {value.setting}" if value.setting else f"{value.value:g}", value.source)
        for key, value in element.data.items()
    ]


def element_closes(element: Element) -> str:
    """Return when a contact is closed, in words; empty for anything else."""
    if element.closed_when is not None:
        return f"closed: {condition_words(element.closed_when)}"
    stops = f"; a safety, stops {' or '.join(element.stops)}" if element.stops else "; a control"
    return f"at rest {element.rest}{stops}" if element.field else ""


def asked_words(function: Function) -> str:
    """Return in words which calls must run a function and beside which it may run, empty where that is as usual for its name."""
    where = f" that reach {' or '.join(function.reached_by)}" if function.reached_by else ""
    found = [f"by {', '.join(function.on)}{where}"] if function.on else []
    if function.beside:
        words = {"always": "any call and none", "fault": "a fault"}
        found.append(f"may run beside {', '.join(words.get(call, call) for call in function.beside)}")
    if function.undone_when is not None:
        found.append(f"stays until {condition_words(function.undone_when)}")
    return "; ".join(found)


def trial_words(retry: Retry) -> str:
    """Return how a burner tries for its flame, in words."""
    trials = "one trial" if retry.tries == 1 else f"{retry.tries} trials"
    apart = f", {_late(retry.again_after_s)} apart" if retry.again_after_s else ""
    lasts = f" for {_late(retry.lockout_s)}" if retry.lockout_s else " until the call or its power is interrupted"
    return f"{trials} for ignition{apart}, then a lockout{lasts} [{retry.source}]"


def cycle_words(cycle: Cycle) -> str:
    """Return when a state of equipment comes round by itself, in words."""
    while_ = f"{condition_words(cycle.runs_when)}{f' ({when_words(cycle.when)})' if cycle.when else ''}"
    told = f"after {_late(cycle.after_s)} [{cycle.after_s.source}] with frost on the coil while {while_}"
    return f"{cycle.state}: {told}, for {_late(cycle.lasts_s)} [{cycle.lasts_s.source}]"


def delay_words(value: ElectricalValue | None) -> str:
    """Return a delay in words, empty where there is none."""
    return "" if value is None or value.value == 0 else _late(value)


def _late(value: ElectricalValue) -> str:
    return f"setting {value.setting}" if value.setting else f"{value.value:g} s"


def strip_drawing(part: Part) -> list[str]:
    """Return a part's terminal strip as lines of text, the line-voltage and other foreign terminals marked below it."""
    names = list(part.terminals)
    marks = {"24v-on-off": "", "line-voltage": "line", "millivolt": "mV", "data-bus": "data"}
    below = [marks[terminal.signal] for terminal in part.terminals.values()]
    wide = [max(len(name), len(mark)) + 2 for name, mark in zip(names, below, strict=True)]
    bars = ["─" * width for width in wide]
    lines = [
        f"┌{'┬'.join(bars)}┐",
        f"│{'│'.join(name.center(width) for name, width in zip(names, wide, strict=True))}│",
        f"└{'┴'.join(bars)}┘",
    ]
    if any(below):
        lines.append(" " + " ".join(mark.center(width) for mark, width in zip(below, wide, strict=True)).rstrip())
    return lines


def part_sources(part: Part) -> dict[str, Source]:
    """Return the sources that a part's values name, by key."""
    keys = {value.source for element in part.elements.values() for value in element.data.values()}
    keys |= {delay.source for e in part.elements.values() for delay in (e.on_delay_s, e.off_delay_s) if delay}
    keys |= {function.minimum_off_s.source for function in part.functions.values() if function.minimum_off_s}
    keys |= {value.source for cycle in part.cycles for value in (cycle.after_s, cycle.lasts_s)}
    for function in part.functions.values():
        keys |= {function.retry.source} if function.retry else set()
        for trigger in function.triggers:
            keys |= {step.source for step in trigger.steps}
            keys |= {delay.source for delay in (trigger.on_delay_s, trigger.off_delay_s) if delay}
    return {key: source for key, source in sources().items() if key in keys}


def part_as_json(part: Part) -> dict[str, Any]:
    """Return a part in the contract's form, with what a program may want to know beside it."""
    return {
        "part": part.part,
        "title": part.title,
        "role": part.role,
        "terminals": list(part.terminals),
        "elements": list(part.shown_elements),
        "functions": list(part.functions),
        "settings": {
            name: {
                "type": setting.type,
                "default": setting.default,
                "choices": list(setting.choices),
                "minimum": setting.minimum,
                "maximum": setting.maximum,
                "unit": setting.unit,
                "help": setting.help,
            }
            for name, setting in part.settings.items()
        },
        "calls": list(part.calls),
        "detail": part.model_dump(mode="json", by_alias=True, exclude_none=True),
    }
