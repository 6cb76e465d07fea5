"""Ways out where conductors run short: the trade's own, each worked out as a job of its own that is landed and proved.

Every way changes what there is (a setting, a device, a cable) or what is asked; where its conductors then lie, `land`
decides. A way that does not serve more, or whose job does not prove clean, is not shown.
"""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import partial
from typing import TYPE_CHECKING, Any

from callpath.calls.closing import thermostats
from callpath.job.model import Cable, Equipment, Job
from callpath.job.write import job_data, job_text
from callpath.landing.doubled import doubled
from callpath.landing.halfwave import HALF, shared
from callpath.parts.catalogue import default_catalogue
from callpath.parts.makeup import makeups
from callpath.parts.model import SettingValue
from callpath.progress import step
from callpath.proof.prove import prove

if TYPE_CHECKING:
    from callpath.landing.landed import Landed

__all__ = ["WayOut", "ways_out"]

_SOURCE = "accessory/transformer"
_RELAY = "accessory/relay"
_SPLIT = "thermostat/split-supply"
_THICKEST = 14


@dataclass(frozen=True)
class WayOut:
    """One way out: what it is, how it is wired here, what it costs, and the job that it leads to."""

    title: str
    detail: str
    serves: tuple[str, ...]
    job: Job

    def as_json(self) -> dict[str, Any]:
        """Return the way in the contract's form, with the whole job file beside it."""
        return {
            "title": self.title,
            "detail": self.detail,
            "serves": list(self.serves),
            "job": job_text(job_data(self.job)),
        }


@dataclass(frozen=True)
class _Idea:
    """A changed job to land, what is said of it, and the ids of what is new in it."""

    title: str
    cost: str
    job: Job
    new: tuple[str, ...] = ()
    gives_up: tuple[str, ...] = ()
    finish: Callable[[Landed], tuple[Job, str] | None] | None = None
    """What is still to be done once it is landed: another job, and how it is wired; None where it cannot be done."""


def ways_out(given: Job, found: Landed, land: Callable[[Job], Landed]) -> tuple[WayOut, ...]:
    """Return the ways out of what a landing cannot serve.

    Parameters
    ----------
    given : Job
        The job as it was given to be landed, freed conductors taken off; what is landed in it stays.
    found : Landed
        The best landing without any way out.
    land : callable
        Lands a changed job.
    """
    wanted = tuple(call for call in (*found.serves, *found.unserved))
    wanted = tuple(sorted(wanted, key=_order(given)))
    told: list[WayOut] = []
    families = (_cells, _fan_lead, _diodes, _relay, _plug_in, _second_cable, _new_cable, _in_parallel, _thicker_cable)
    for number, family in enumerate(families):
        step("looking for ways out", number / len(families))
        for ladder in family(given, wanted):
            way = _lowest(ladder, wanted, found, land)
            if way is not None:
                told.append(way)
                break
    return tuple(told)


def _lowest(
    ladder: Sequence[_Idea], wanted: tuple[str, ...], found: Landed, land: Callable[[Job], Landed]
) -> WayOut | None:
    """Return the first idea of a ladder that is a way out; each idea offers all that those before it do, and more."""
    ways: dict[int, WayOut | None] = {}

    def serves(i: int) -> bool:
        if i not in ways:
            idea = ladder[i]
            landed = land(idea.job)
            good = landed.proof.verdict == "clean" and _better(landed, found, set(wanted) - set(idea.gives_up))
            ways[i] = _told(idea, landed, found, wanted) if good else None
            if good and idea.finish is not None:
                ways[i] = _finished(idea, landed)
        return ways[i] is not None

    if not ladder or not serves(len(ladder) - 1):
        return None
    return ways[bisect_left(range(len(ladder)), True, key=serves)]


def _better(landed: Landed, found: Landed, asked: set[str]) -> bool:
    """Tell whether a way serves more than the landing without it, or as much without what is weak there, or all that it asks."""
    more = len(landed.serves) - len(found.serves)
    return more > 0 or (more == 0 and found.proof.verdict != "clean") or set(landed.serves) >= asked


def _order(job: Job) -> Callable[[str], tuple[int, str]]:
    said = list(job.serves or ())
    return lambda call: (said.index(call) if call in said else len(said), call)


# -- what may be changed ------------------------------------------------------------------------------------


def _cells(job: Job, wanted: tuple[str, ...]) -> Iterator[list[_Idea]]:
    """A thermostat that lives on its own cells needs no common."""
    hungry = [stat for stat in thermostats(job) if _can_live_on_cells(stat)]
    if hungry:
        names = ", ".join(stat.id for stat in hungry)
        changed = _set(job, {stat.id: {"power": "battery"} for stat in hungry})
        cost = (
            f"{names} must be one that lives on its own cells; somebody has to change them every year or so, and a "
            "dead cell is a call that does nothing"
        )
        yield [_Idea("a thermostat on batteries", cost, _fresh(changed, wanted))]


def _can_live_on_cells(stat: Equipment) -> bool:
    setting = stat.part.settings.get("power")
    return setting is not None and "battery" in setting.choices and stat.settings["power"] != "battery"


def _fan_lead(job: Job, wanted: tuple[str, ...]) -> Iterator[list[_Idea]]:
    """Where board or jumper run the blower with other calls, the fan's lead can be the way back that the thermostat needs."""
    rest = tuple(call for call in wanted if call != "fan")
    needs_common = any(stat.settings.get("power") == "common" for stat in thermostats(job))
    if "fan" in wanted and rest and needs_common:
        cost = "the blower cannot be run by itself any more; it still runs with every other call that needs it"
        yield [_Idea("the fan's lead made into a common", cost, _fresh(job, rest), gives_up=("fan",))]


def _diodes(job: Job, wanted: tuple[str, ...]) -> Iterator[list[_Idea]]:
    """Two signals on one conductor; to be landed, the copper stands as two conductors that take turns."""
    places = {stat.at for stat in thermostats(job)}
    for cable in _long(job):
        if places & set(cable.between) and HALF not in cable.conductors:
            doubled = replace(cable, conductors=(*cable.conductors, HALF))
            cost = (
                "a pair of diodes at each end, rated 1 A and 100 V or more; nobody expects them in a wall, so tag both ends, and "
                "ask the maker whether the inputs take half-waves"
            )
            yield [
                _Idea(
                    f"two signals on one conductor of {cable.id}, with a pair of diodes",
                    cost,
                    _fresh(_replaced(job, doubled), wanted),
                    finish=partial(_on_one_conductor, cable.id),
                )
            ]


def _on_one_conductor(cable: str, landed: Landed) -> tuple[Job, str] | None:
    return shared(landed.job, landed.proof, cable)


def _relay(job: Job, wanted: tuple[str, ...]) -> Iterator[list[_Idea]]:
    """A relay whose coil sits in one circuit and whose contact in another keeps two sources apart."""
    if len(_sources(job)) < 2:
        return
    with_source = [device.at for device in job.equipment.values() if _feeds(device)]
    for at in dict.fromkeys((*with_source, *(stat.at for stat in thermostats(job)))):
        changed, ids = _with_device(job, "relay", _RELAY, at, ("yellow", "blue", "red", "white"))
        cost = "one relay to buy, mount and find again; its coil belongs to one source and its contact to the other"
        yield [_Idea(f"an isolating relay at {at}", cost, _fresh(changed, wanted), ids)]


def _sources(job: Job) -> list[str]:
    return [device.id for device in job.equipment.values() if _feeds(device)]


def _feeds(device: Equipment) -> bool:
    return any(element.kind == "source" for element in device.part.elements.values())


def _plug_in(job: Job, wanted: tuple[str, ...]) -> Iterator[list[_Idea]]:
    """A source of its own at the thermostat; both its leads go to the thermostat's electronics and nowhere else."""
    apart = (
        "one plug-in transformer at the thermostat; keep both its leads apart from the equipment's: none of them may touch "
        "the other source's R or C, and the jumper between Rc and Rh stays out"
    )
    for stat in thermostats(job):
        if stat.settings.get("power") != "common":
            continue
        for part in dict.fromkeys((stat.part.part, _SPLIT)):
            swapped = job if part == stat.part.part else _exchanged(job, stat, part, wanted)
            if swapped is None:
                continue
            changed, ids = _with_device(swapped, "plug-in", _SOURCE, stat.at, ("red", "blue"), {"fuse-amps": 2})
            other = "" if part == stat.part.part else f"; {stat.id} must be one with a supply for each of Rc and Rh"
            yield [_Idea(f"a plug-in source at {stat.at}", apart + other, _fresh(changed, wanted), ids)]


def _second_cable(job: Job, wanted: tuple[str, ...]) -> Iterator[list[_Idea]]:
    """Another cable beside the one that runs short, as small as will do."""
    for cable in _long(job):
        one, two = cable.between
        id_ = _unused(job, f"{cable.id}-2")
        ladder = []
        for count, colours in sorted(makeups().items()):
            cost = f"{cable.awg}/{count} to pull beside {cable.id}; both feed one circuit, so mark both at both ends"
            changed = _with_cable(job, replace(cable, id=id_, conductors=colours))
            ladder.append(
                _Idea(f"a second cable of {count} from {one} to {two}", cost, _fresh(changed, wanted), (id_,))
            )
        yield ladder


def _new_cable(job: Job, wanted: tuple[str, ...]) -> Iterator[list[_Idea]]:
    """A larger cable in place of the one there is, the smallest that will do."""
    for cable in _long(job):
        one, two = cable.between
        ladder = []
        for count, colours in sorted(makeups().items()):
            if count > len(cable.conductors):
                cost = f"{cable.awg}/{count} pulled in place of {cable.id}: the most work, and nothing given up"
                changed = _replaced(job, replace(cable, conductors=colours))
                ladder.append(
                    _Idea(f"new cable of {count} from {one} to {two}", cost, _fresh(changed, wanted), (cable.id,))
                )
        yield ladder


def _in_parallel(job: Job, wanted: tuple[str, ...]) -> Iterator[list[_Idea]]:
    """Spare conductors beside those that lose too much; where they all lie, a cable thick enough shows."""
    for cable in _long(job):
        if cable.awg > _THICKEST:
            cost = (
                "spares that are then no spares any more; twist the two of a pair together at both ends, and tag them"
            )
            yield [
                _Idea(
                    f"spare conductors of {cable.id} in parallel with those that lose too much",
                    cost,
                    _fresh(_replaced(job, replace(cable, awg=_THICKEST)), wanted),
                    finish=partial(_twice, cable),
                )
            ]


def _twice(cable: Cable, landed: Landed) -> tuple[Job, str] | None:
    return doubled(_replaced(landed.job, cable), cable)


def _thicker_cable(job: Job, wanted: tuple[str, ...]) -> Iterator[list[_Idea]]:
    """Thicker conductors where too much voltage is lost on the way."""
    for cable in _long(job):
        one, two = cable.between
        ladder = []
        for awg in (gauge for gauge in (20, 18, 16, _THICKEST) if gauge < cable.awg):
            cost = f"{awg}/{len(cable.conductors)} pulled in place of {cable.id}, which loses too much voltage"
            changed = _replaced(job, replace(cable, awg=awg))
            ladder.append(
                _Idea(f"new cable of {awg} AWG from {one} to {two}", cost, _fresh(changed, wanted), (cable.id,))
            )
        yield ladder


def _long(job: Job) -> list[Cable]:
    return [cable for cable in job.cables.values() if len(set(cable.between)) == 2]


# -- changing a job -----------------------------------------------------------------------------------------


def _fresh(job: Job, serves: tuple[str, ...]) -> Job:
    kept = {end for ends in job.landings.values() for end in ends}
    return replace(job, serves=serves, splices={name: at for name, at in job.splices.items() if name in kept})


def _set(job: Job, wanted: Mapping[str, Mapping[str, SettingValue]]) -> Job:
    equipment = {
        id_: replace(device, settings={**device.settings, **wanted.get(id_, {})})
        for id_, device in job.equipment.items()
    }
    return replace(job, equipment=equipment)


def _with_device(
    job: Job,
    id_: str,
    part: str,
    at: str,
    colours: tuple[str, ...],
    settings: Mapping[str, SettingValue] | None = None,
) -> tuple[Job, tuple[str, ...]]:
    """Return a job with one more device and a short cable beside it, and the ids of both."""
    id_ = _unused(job, id_)
    model = default_catalogue().part(part)
    device = Equipment(id_, model, at, model.settle_settings(settings or {}))
    bigger = replace(job, equipment={**job.equipment, id_: device})
    patch = Cable(_unused(bigger, f"{id_}-leads"), (at, at), colours, length_ft=3.0)
    return _with_cable(bigger, patch), (id_, patch.id)


def _with_cable(job: Job, cable: Cable) -> Job:
    landings = {**job.landings, **{f"{cable.id}.{colour}": (None, None) for colour in cable.conductors}}
    return replace(job, cables={**job.cables, cable.id: cable}, landings=landings)


def _replaced(job: Job, cable: Cable) -> Job:
    """Return a job with a cable in place of the one of the same id, whose landings are kept where it has the conductors."""
    landings = {name: ends for name, ends in job.landings.items() if name.partition(".")[0] != cable.id}
    for colour in cable.conductors:
        landings[f"{cable.id}.{colour}"] = job.landings.get(f"{cable.id}.{colour}", (None, None))
    return replace(job, cables={**job.cables, cable.id: cable}, landings=landings)


def _exchanged(job: Job, stat: Equipment, part: str, wanted: tuple[str, ...]) -> Job | None:
    """Return a job with another thermostat in place of one that nothing is landed on yet.

    None where something is, or where the other cannot make the calls that are wanted.
    """
    ends = {end for ends in job.landings.values() for end in ends if end}
    ends |= {end for pair in job.jumpers for end in pair}
    if any(end.partition(".")[0] == stat.id for end in ends):
        return None
    model = default_catalogue().part(part)
    if not {call for call in wanted if call in stat.part.calls} <= model.calls.keys():
        return None
    settings = {name: value for name, value in stat.settings.items() if name in model.settings}
    return replace(
        job, equipment={**job.equipment, stat.id: Equipment(stat.id, model, stat.at, model.settle_settings(settings))}
    )


def _unused(job: Job, name: str) -> str:
    taken = {*job.equipment, *job.cables, *job.splices}
    return next(n for n in (name, *(f"{name}-{i}" for i in range(2, 99))) if n not in taken)


def _finished(idea: _Idea, landed: Landed) -> WayOut | None:
    done = None if idea.finish is None else idea.finish(landed)
    if done is None or prove(done[0]).verdict != "clean":
        return None
    job, wiring = done
    detail = f"{wiring}. Serves {', '.join(landed.serves)}; nothing given up. Cost: {idea.cost}."
    return WayOut(idea.title, detail, landed.serves, job)


# -- saying it ----------------------------------------------------------------------------------------------


def _told(idea: _Idea, landed: Landed, found: Landed, wanted: tuple[str, ...]) -> WayOut:
    """Say which conductor then goes where: those of what is new, and those that differ from the landing without it."""
    lines = []
    for name, ends in landed.job.landings.items():
        before = found.job.landings.get(name, (None, None))
        fresh = name.partition(".")[0] in idea.new or any(end and end.partition(".")[0] in idea.new for end in ends)
        if ends != (None, None) and (fresh or ends != before):
            lines.append(f"{name} from {ends[0]} to {ends[1]}")
    lines += [f"jumper {one} to {two}" for one, two in landed.job.jumpers if (one, two) not in found.job.jumpers]
    gives_up = [call for call in wanted if call not in landed.serves]
    rest = f"not {', '.join(gives_up)}" if gives_up else "nothing given up"
    wiring = "; ".join(lines) or "the landing above is it"
    detail = f"{wiring}. Serves {', '.join(landed.serves)}; {rest}. Cost: {idea.cost}."
    return WayOut(idea.title, detail, landed.serves, landed.job)
