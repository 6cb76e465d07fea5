"""A part told in words and rows, for the command line, the docs page and JSON alike."""

from __future__ import annotations

from typing import Any

from callpath.parts.catalogue import Source, sources
from callpath.parts.model import Condition, Element, Part, Setting, When

__all__ = [
    "condition_words",
    "element_closes",
    "element_rows",
    "part_as_json",
    "part_sources",
    "setting_words",
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
    return f"at rest {element.rest}" if element.field else ""


def part_sources(part: Part) -> dict[str, Source]:
    """Return the sources that a part's values name, by key."""
    keys = {value.source for element in part.elements.values() for value in element.data.values()}
    for function in part.functions.values():
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
