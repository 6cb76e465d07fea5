"""Why every conductor lies as it does, and why a call could not be served, in a technician's words."""

from __future__ import annotations

import itertools
from collections import Counter
from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING

from callpath.job.model import Job
from callpath.landing.search import Candidate, Search

if TYPE_CHECKING:
    from callpath.landing.points import Plan

__all__ = ["choices", "shortage", "shortage_of"]

_WORDS = {
    "power": "the 24 V feed (R)",
    "common": "the way back to the transformer (C)",
    "heat": "the call for heat",
    "heat-2": "the call for second-stage heat",
    "cool": "the call for the compressor",
    "cool-2": "the call for the second compressor stage",
    "fan": "the call for the blower",
    "changeover": "the reversing valve's feed",
    "aux": "the call for auxiliary heat",
    "emergency": "the call for emergency heat",
    "metal": "the way back through metal",
    "pass": "a switch leg",
    "dry": "a dry contact's leg",
    "coil": "a relay coil's feed",
}
_MOST_PLANS = 300


def _word(search: Search, net: Sequence[int]) -> str:
    job = search.logic.job
    names = [search.logic.terminals[i] for i in net]
    each = [job.terminal(name)[0].part.terminals[job.terminal(name)[1]].means for name in names]
    means = {purpose for own in each for purpose in own}
    purpose = search.word(net)
    if all("dry" in own for own in each):
        # A boiler's call terminals mean power too, but what comes back over the contact is no feed.
        return _WORDS["dry"]
    if purpose in ("pass", "coil", "dry", "metal"):
        purpose = next((word for word in _WORDS if word in means), purpose)
    return _WORDS.get(purpose, f"'{purpose}'")


def choices(search: Search, job: Job, candidate: Candidate, given: Job) -> tuple[dict[str, str], tuple[str, ...]]:
    """Return a sentence for every conductor of a completed job, and the departures from custom's colours."""
    told: dict[str, str] = {}
    departures: list[str] = []
    for name, ends in job.landings.items():
        cable, _, colour = name.partition(".")
        if name not in candidate.landings:
            landed = [end for end in search.ground.job.landings[name] if end]
            told[name] = "as it was landed" if len(landed) > 1 else "spare: cap it at both ends"
            if len(landed) == 1:
                told[name] = f"left on {landed[0]} as it was: nothing needs it; cap its other end"
            continue
        net = candidate.purpose[name]
        sentence = f"carries {_word(search, net)}"
        for end in ends:
            if end in job.splices:
                others = [
                    other
                    for conductor, pair in job.landings.items()
                    for this, other in (pair, pair[::-1])
                    if this == end and conductor != name and other is not None
                ]
                sentence += f"; spliced on to {' and '.join(others)}" if others else ""
        custom = [c for end, c in _custom(search, ends) if c != colour]
        if custom:
            stat = next(end for end, c in _custom(search, ends) if c != colour)
            taken = next(
                (
                    f"{cable}.{custom[0]} carries {_word(search, candidate.purpose[f'{cable}.{custom[0]}'])}"
                    for _ in (0,)
                    if f"{cable}.{custom[0]}" in candidate.purpose
                ),
                f"{cable} has no free {custom[0]}",
            )
            sentence += (
                f"; custom gives {stat} {custom[0]}, but {taken}: mark {colour} with {custom[0]} tape at both ends"
            )
            departures.append(f"{name} lands on {stat}, which custom gives {custom[0]}")
        before = given.landings[name]
        if name in search.half:
            begun = next(end for end in before if end)
            sentence += f"; it was on {begun} already, so it is the one that is taken"
        elif before != (None, None) and before != ends:
            sentence += f" (was on {before[0] or 'nothing'} and {before[1] or 'nothing'})"
        told[name] = sentence
    return told, tuple(departures)


def _custom(search: Search, ends: Sequence[str | None]) -> list[tuple[str, str]]:
    return [(end, colour) for end in ends if end for colour in search.ground.customary((end, end))[:1]]


def shortage(search: Search, serves: Sequence[str], call: str, refusals: Mapping[frozenset[str], str]) -> str:
    """Return why a call cannot be served beside some others.

    Parameters
    ----------
    refusals : mapping
        By calls, what the proof found wrong with the best landing for them.
    """
    alone = not search.possible((call,))
    wanted = (call,) if alone else (*serves, call)
    whom = f"'{call}'" if alone or not serves else f"'{call}' beside {', '.join(serves)}"
    for tried in (frozenset((call,)), frozenset(wanted)):
        if refusals.get(tried):
            return f"{whom} fails the proof however it is landed: {refusals[tried]}"
    plans = _plans(search, wanted)
    if not plans and search.demands.gave_up:
        return f"no landing was found for {whom} among those tried; there are too many to try them all"
    if not plans:
        apart = "" if len(search.logic.supplies) < 2 else ", and no two sources meet"
        return f"nothing in this job can be joined so that {whom} runs what it must, and nothing else{apart}"
    shortest = min((short for plan in plans if (short := _short(search, plan))), default=None)
    if shortest is None or search.possible(wanted):
        return f"no landing that serves {whom} passed the proof"
    return f"{whom} needs {shortest[1]}"


def shortage_of(search: Search, serves: Sequence[str], call: str, plan: Plan | None) -> str:
    """Return why a call cannot be served beside some others by the one plan that there is for them."""
    whom = f"'{call}' beside {', '.join(serves)}" if serves else f"'{call}'"
    if plan is None:
        return (
            f"no way was found to join the panel and the equipment so that {whom} runs what it must, and nothing else"
        )
    short = _short(search, plan)
    return f"{whom} needs {short[1]}" if short else f"no landing found for {whom} passed the proof"


def _plans(search: Search, serves: Sequence[str]) -> list[Plan]:
    """Return some plans for calls whether or not there are conductors for them, the best first."""
    room, search.demands.room = search.demands.room, {}
    steps = list(itertools.islice(search.demands.plans(serves, ()), _MOST_PLANS))
    search.demands.room = room
    return [plan for _, plan in steps if plan is not None]


def _short(search: Search, plan: Plan) -> tuple[int, str] | None:
    """Return where conductors run shortest of the nets that must leave a place, and by how many; None where nowhere."""
    logic, ground = search.logic, search.ground
    worst: tuple[int, str] | None = None
    for place in dict.fromkeys(logic.at):
        leaving = [
            net for net in logic.nets(plan) if {logic.at[i] for i in net} > {place} and not _carried(search, net, place)
        ]
        cables = [
            cable for cable in logic.job.cables.values() if place in cable.between and len(set(cable.between)) == 2
        ]
        free = sum(len(ground.free[cable.id]) for cable in cables)
        short = len(leaving) - free
        if short > 0 and (worst is None or short > worst[0]):
            far = sorted({end for cable in cables for end in cable.between if end != place})
            between = f"between {place} and {', '.join(far)}" if far else f"from {place}, where no cable leads"
            conductors = "1 conductor" if len(leaving) == 1 else f"{len(leaving)} conductors"
            have = "none is" if not free else "only 1 is" if free == 1 else f"only {free} are"
            words = ", ".join(_word(search, net) for net in leaving)
            worst = (short, f"{conductors} {between} ({words}), and {have} free")
    return worst


def _carried(search: Search, net: Sequence[int], place: str) -> bool:
    """Tell whether fixed conductors carry a net away from a place already."""
    logic = search.logic
    base = search.demands.base
    groups = Counter(base[i] for i in net)
    return any({logic.at[i] for i in net if base[i] == group} > {place} for group, count in groups.items() if count > 1)
