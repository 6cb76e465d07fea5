"""Random jobs for property tests: landed right, landed wrong and broken, always such as a job file can say."""

from __future__ import annotations

from typing import Any

from hypothesis import strategies as st
from hypothesis.strategies import DrawFn, SearchStrategy

from callpath.parts.catalogue import default_catalogue
from tests.jobs import COTTAGE, HOUSE, MANOR, MILL, PUMP, RELAY, ZONE, Data, amended

CATALOGUE = default_catalogue()
AT = {"thermostat": "hall", "indoor": "cellar", "outdoor": "yard", "accessory": "cellar"}
COLOURS = ("red", "white", "green", "blue", "yellow", "brown", "orange", "black")
PURPOSES = ("power", "power", "common", "common", "heat", "cool", "fan", "changeover", "aux", "dry", "pass", "coil")


def _of_role(role: str) -> list[str]:
    return [name for name in CATALOGUE.names if CATALOGUE.part(name).role == role]


@st.composite
def _settings(draw: DrawFn, part: str) -> Data:
    """Settings within their ranges, most of them left alone."""
    chosen: Data = {}
    for name, setting in CATALOGUE.part(part).settings.items():
        if draw(st.integers(0, 3)):
            continue
        if setting.type == "boolean":
            chosen[name] = draw(st.booleans())
        elif setting.type == "choice":
            chosen[name] = draw(st.sampled_from(setting.choices))
        else:
            assert setting.minimum is not None
            assert setting.maximum is not None
            low, high = setting.minimum, setting.maximum
            number = draw(st.floats(low, high, allow_nan=False).map(lambda x: round(x, 2)))
            chosen[name] = int(number) if setting.type == "integer" else min(max(number, low), high)
    return chosen


@st.composite
def any_equipment(draw: DrawFn) -> Data:
    devices: Data = {}
    for role, few, many in (("thermostat", 1, 2), ("indoor", 1, 2), ("outdoor", 0, 2), ("accessory", 0, 3)):
        parts = draw(st.lists(st.sampled_from(_of_role(role)), min_size=few, max_size=many))
        for i, part in enumerate(parts):
            devices[f"{role[:2]}{i}"] = {"part": part, "at": AT[role], "settings": draw(_settings(part))}
    return devices


def _terminals(devices: Data, at: str) -> dict[str, tuple[str, ...]]:
    return {
        f"{id_}.{letters}": terminal.means
        for id_, device in devices.items()
        if device["at"] == at
        for letters, terminal in CATALOGUE.part(device["part"]).terminals.items()
    }


@st.composite
def _end(draw: DrawFn, terminals: dict[str, tuple[str, ...]], splices: list[str], purpose: str) -> str | None:
    """An end: mostly where the purpose has it, now and then anywhere, on a splice, or nowhere."""
    meant = [name for name, means in terminals.items() if purpose in means]
    kind = draw(st.integers(0, 9))
    if kind < 7 and meant:
        return draw(st.sampled_from(meant))
    if kind == 7 and splices:
        return draw(st.sampled_from(splices))
    return draw(st.one_of(st.none(), st.sampled_from(sorted(terminals)))) if terminals else None


@st.composite
def _faults(draw: DrawFn, job: Data) -> list[Data]:
    elements = {
        kind: [
            f"{id_}.{name}"
            for id_, device in job["equipment"].items()
            for name in CATALOGUE.part(device["part"]).shown_elements
            if CATALOGUE.part(device["part"]).elements[name].kind in kinds
            and CATALOGUE.part(device["part"]).elements[name].when is None
        ]
        for kind, kinds in {
            "open": ("coil", "load", "input", "fuse", "contact", "source"),
            "dead": ("source",),
            "stuck": ("contact",),
            "high-resistance": ("coil", "load", "contact"),
        }.items()
    }
    elements["tripped"] = [f"{id_}.switch" for id_, device in job["equipment"].items() if "float" in device["part"]]
    conductors = [f"{id_}.{colour}" for id_, cable in job["cables"].items() for colour in cable["conductors"]]
    elements["open"] += conductors
    elements["high-resistance"] += conductors
    found: list[Data] = []
    for _ in range(draw(st.integers(0, 2))):
        kind = draw(st.sampled_from(["open", "short", "dead", "stuck", "tripped", "high-resistance", "swapped"]))
        if kind in ("short", "swapped"):
            pairs = [
                [f"{id_}.{one}", f"{id_}.{other}"]
                for id_, cable in job["cables"].items()
                for i, one in enumerate(cable["conductors"])
                for other in cable["conductors"][:i]
            ]
            if pairs:
                found.append({kind: draw(st.sampled_from(pairs))})
        elif elements[kind]:
            fault: Data = {kind: draw(st.sampled_from(elements[kind]))}
            if kind == "high-resistance":
                fault["ohms"] = draw(st.sampled_from([0.5, 5, 20, 300]))
            found.append(fault)
    unique = {str(fault): fault for fault in found}
    return list(unique.values())


@st.composite
def any_job(draw: DrawFn, *, faults: bool = True) -> Data:
    """A random job's data: equipment, cables, landings, jumpers, splices, settings, contacts, faults."""
    devices = draw(any_equipment())
    splices = ["s1", "s2"][: draw(st.integers(0, 2))]
    cables: Data = {"wall": ("hall", "cellar", 8)}
    if any(device["at"] == "yard" for device in devices.values()):
        cables["outside"] = ("cellar", "yard", 6)
    if draw(st.booleans()):
        cables["patch"] = ("cellar", "cellar", 4)
    job: Data = {"callpath": 1, "equipment": devices, "cables": {}, "landings": {}}
    for id_, (one, other, most) in cables.items():
        colours = COLOURS[: draw(st.integers(2, most))]
        job["cables"][id_] = {
            "between": [one, other],
            "conductors": list(colours),
            "length": f"{draw(st.integers(3, 200))} ft",
            "awg": draw(st.sampled_from([16, 18, 18, 20, 22])),
        }
        for colour in colours:
            purpose = draw(st.sampled_from(PURPOSES))
            ends = [
                draw(_end(_terminals(devices, at), splices if at == "cellar" else [], purpose)) for at in (one, other)
            ]
            if ends[0] is not None and ends[0] == ends[1]:
                ends[1] = None
            job["landings"][f"{id_}.{colour}"] = ends
    if splices:
        job["splices"] = dict.fromkeys(splices, "cellar")
    jumpers: dict[frozenset[str], list[str]] = {}
    for _ in range(draw(st.integers(0, 2))):
        at = draw(st.sampled_from(["hall", "cellar"]))
        names = sorted(_terminals(devices, at))
        pair = draw(st.lists(st.sampled_from(names), min_size=2, max_size=2, unique=True)) if len(names) > 1 else []
        if pair:
            jumpers[frozenset(pair)] = pair
    job["jumpers"] = list(jumpers.values())
    floats = [f"{id_}.switch" for id_, device in devices.items() if "float" in device["part"]]
    job["contacts"] = {name: draw(st.sampled_from(["open", "closed"])) for name in floats if draw(st.booleans())}
    if faults:
        job["faults"] = draw(_faults(job))
    return job


SOUND: tuple[Data, ...] = (COTTAGE, HOUSE, MANOR, MILL, PUMP, RELAY, ZONE)


def sound_jobs() -> SearchStrategy[Data]:
    """A sound installation with cables of random length and gauge, short and heavy enough to work."""

    def cables(job: Data) -> SearchStrategy[Data]:
        sizes = {id_: st.tuples(st.integers(3, 60), st.sampled_from([14, 16, 18, 20])) for id_ in job["cables"]}
        return st.fixed_dictionaries(sizes).map(lambda chosen: _sized(job, chosen))

    return st.sampled_from(SOUND).flatmap(cables)


def _sized(job: Data, chosen: dict[str, tuple[int, int]]) -> Data:
    sized: dict[str, Any] = {
        id_: {**cable, "length": f"{chosen[id_][0]} ft", "awg": chosen[id_][1]} for id_, cable in job["cables"].items()
    }
    return amended(job, cables=sized)


@st.composite
def nearly_sound_jobs(draw: DrawFn, *, faults: bool = True) -> Data:
    """A sound installation with an end or two on other terminals, settings changed, and perhaps a fault."""
    job = draw(sound_jobs())
    for device in job["equipment"].values():
        device.setdefault("settings", {}).update(draw(_settings(device["part"])))
    for _ in range(draw(st.integers(0, 2))):
        conductor = draw(st.sampled_from(sorted(job["landings"])))
        end = draw(st.integers(0, 1))
        spot = job["cables"][conductor.partition(".")[0]]["between"][end]
        names = sorted(_terminals(job["equipment"], spot))
        there = draw(st.one_of(st.none(), st.sampled_from(names))) if names else None
        ends = list(job["landings"][conductor])
        ends[end] = there
        if ends[0] != ends[1] or ends[0] is None:
            job["landings"][conductor] = ends
    if faults:
        job["faults"] = draw(_faults(job))
    return job


def jobs(*, faults: bool = True) -> SearchStrategy[Data]:
    """Any job at all, or one that a technician might have left."""
    return st.one_of(nearly_sound_jobs(faults=faults), any_job(faults=faults))
