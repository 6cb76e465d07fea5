"""A part told in words and rows, for the command line, the docs page and JSON alike."""

from __future__ import annotations

from typing import Any

from callpath.parts.catalogue import sources
from callpath.parts.model import Condition, Element, Part, Setting, When

__all__ = ["condition_words", "element_rows", "part_as_json", "setting_words", "when_words"]


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
    """Return an element's electrical data: what, value, and its source with its mark."""
    table = sources()
    rows = []
    for key, value in element.data.items():
        source = table[value.source]
        shown = f"setting {value.setting}" if value.setting else f"{value.value:g}"
        rows.append((key, shown, f"{source.mark}: {source.text}"))
    return rows


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
