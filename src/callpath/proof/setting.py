"""Settings in words: two that disagree, one that keeps a blower still. The circuit has found what is wrong; these say why."""

from __future__ import annotations

from collections.abc import Collection, Iterator

from callpath.calls.closing import call_rules, thermostats
from callpath.job.model import Equipment, Job
from callpath.parts.model import When, fitted

__all__ = ["changed_over", "kept_from", "other_way_round"]

_CHANGEOVER = "changeover"


def changed_over(job: Job, functions: Collection[str], caller: str = "") -> tuple[str, str] | None:
    """Say that a reversing valve is made for the other changeover than its thermostat, and what to set; None where they agree.

    Parameters
    ----------
    caller : str
        The thermostat whose contact it is; any that has such a setting where empty.
    """
    for function in functions:
        id_, _, name = function.partition(".")
        pump = job.equipment[id_]
        made = pump.settings.get(_CHANGEOVER)
        if name != "reversing-valve" or made is None:
            continue
        for stat in thermostats(job):
            told = stat.settings.get(_CHANGEOVER)
            if told is None or told == made or (caller and stat.id != caller):
                continue
            why = (
                f"{stat.id}.{_CHANGEOVER} is {told} and {id_}.{_CHANGEOVER} is {made}: it heats when asked to cool, and cools "
                "when asked to heat"
            )
            return why, f"set {stat.id}.{_CHANGEOVER} to {made}, as {id_} is made; move no lead for it"
    return None


def kept_from(job: Job, function: str, calls: Collection[str]) -> tuple[str, str] | None:
    """Say which settings keep a function from running on some calls, and which to change; None where none do."""
    id_, _, name = function.partition(".")
    device = job.equipment[id_]
    lacking = [*_lacking(device, [trigger.when for trigger in device.part.functions[name].triggers])]
    for stat in thermostats(job):
        rules = [rule for call, rule in call_rules(stat).items() if call in calls]
        lacking += _lacking(stat, [closes.when for rule in rules for closes in rule.closes])
    lacking = list(dict.fromkeys(lacking))
    if not lacking:
        return None
    now = " and ".join(f"{setting} is {was}" for setting, was, _ in lacking)
    return now, " or ".join(f"set {setting} to {wanted}" for setting, _, wanted in lacking)


def other_way_round(job: Job, function: str, driver: str, ends: Collection[str]) -> str:
    """Say which settings turn round what a load's voltage asks for, at its equipment or the thermostat; empty where none do.

    Parameters
    ----------
    driver : str
        The load that has to be without voltage for the function.
    ends : collection of str
        The thermostats' terminals that its voltage comes through.
    """
    id_, _, name = function.partition(".")
    device, load = job.equipment[id_], driver.partition(".")[2]
    triggers = [t.when for t in device.part.functions[name].triggers if load in t.runs_when.makers()]
    found = dict.fromkeys(_chosen_otherwise(device, triggers))
    for stat in thermostats(job):
        own = {end.partition(".")[2] for end in ends if end.partition(".")[0] == stat.id}
        whens = [e.when for e in stat.part.elements.values() if e.kind == "contact" and set(e.between) <= own]
        found |= dict.fromkeys(_chosen_otherwise(stat, whens))
    return " or ".join(f"set {setting} to {value}" for setting, value in found)


def _chosen_otherwise(device: Equipment, whens: Collection[When | None]) -> Iterator[tuple[str, str]]:
    """Yield the settings by which something would be fitted that is not, each with the choice that does it."""
    for when in whens:
        for setting, wanted in (when or {}).items():
            if not fitted(when, device.settings) and isinstance(wanted, str):
                yield f"{device.id}.{setting}", wanted


def _lacking(device: Equipment, whens: Collection[When | None]) -> Iterator[tuple[str, str, str]]:
    """Yield the yes-or-no settings that one thing more would follow from, as they are and as they would have to be."""
    for when in whens:
        for setting, wanted in (when or {}).items():
            is_ = device.settings.get(setting)
            if (
                not fitted(when, device.settings)
                and isinstance(is_, bool)
                and isinstance(wanted, bool)
                and is_ != wanted
            ):
                yield f"{device.id}.{setting}", str(is_).lower(), str(wanted).lower()
