"""Frozen instances of the question which test to make next, made from seeds; ``docs/choice.md`` tells how."""

from __future__ import annotations

import zlib
from collections.abc import Callable

import numpy as np

from callpath.faults.cost import Work, default_minutes
from callpath.faults.cost import priced as priced_works
from callpath.faults.question import Problem

KINDS: dict[str, Callable[[np.random.Generator], Problem]] = {}


def kind(make: Callable[[np.random.Generator], Problem]) -> Callable[[np.random.Generator], Problem]:
    """Enter a maker of instances under its name."""
    KINDS[make.__name__] = make
    return make


def instance(name: str, seed: int) -> Problem:
    """Return one instance by its kind and seed."""
    return KINDS[name](np.random.default_rng([zlib.crc32(name.encode()), seed]))


def walks(rng: np.random.Generator, places: int, longest: float) -> np.ndarray:
    """Return minutes between places that lie scattered on a plane, so that no detour is shorter [places × places]."""
    spot = rng.uniform(0, longest, (places, 2))
    return np.hypot(*(spot[:, None] - spot).transpose(2, 0, 1))


def priced(walk: np.ndarray, place: np.ndarray, base: np.ndarray) -> np.ndarray:
    """Return minutes of each test from each place: the walk there and the test itself [places × tests]."""
    return walk[:, place] + base


def made(
    rng: np.random.Generator, outcome: np.ndarray, mass: np.ndarray, repairs: np.ndarray, **more: object
) -> Problem:
    """Return a problem with tests at random places, unless these are given."""
    tests = len(outcome)
    places = int(more.get("places", rng.integers(1, 5)))  # type: ignore[call-overload]
    place = np.asarray(more.get("place", rng.integers(places, size=tests)))
    walk = np.asarray(more.get("walk", walks(rng, places, 5.0)))
    base = np.asarray(more.get("base", rng.uniform(0.5, 5.0, tests)))
    return Problem(
        mass / mass.sum(), repairs.astype(np.intp), outcome.astype(np.intp), priced(walk, place, base), place
    )


@kind
def scattered(rng: np.random.Generator) -> Problem:
    """Outcomes at random, two to four of them; repairs shared at random; priors between even and steep."""
    count, tests = rng.integers(6, 17), rng.integers(6, 17)
    outcomes = rng.integers(2, 5)
    outcome = rng.integers(outcomes, size=(tests, count))
    repairs = rng.integers(rng.integers(2, count + 1), size=count)
    return made(rng, outcome, rng.gamma(rng.choice([0.3, 1.0, 5.0]), size=count) + 1e-4, repairs)


@kind
def lopsided(rng: np.random.Generator) -> Problem:
    """Most tests show something only under a few hypotheses, and cheap ones stand beside dear ones."""
    count, tests = rng.integers(8, 17), rng.integers(8, 17)
    outcome = (rng.random((tests, count)) < rng.uniform(0.08, 0.5, (tests, 1))).astype(np.intp)
    repairs = rng.integers(rng.integers(3, count + 1), size=count)
    base = np.exp(rng.normal(0.5, 1.0, tests)) + 0.2
    return made(rng, outcome, rng.gamma(1.0, size=count) + 1e-3, repairs, base=base)


@kind
def entangled(rng: np.random.Generator) -> Problem:
    """Repairs that follow from two or three tests only together: alone none of these tells anything of the repair."""
    bits = int(rng.integers(3, 5))
    names = np.arange(2**bits)
    columns = (names[:, None] >> np.arange(bits)) & 1
    both = rng.choice(bits, 2, replace=False)
    repairs = columns[:, both].sum(axis=1) % 2 + 2 * columns[:, rng.integers(bits)]
    more = (rng.random((rng.integers(2, 7), len(names))) < 0.4).astype(np.intp)
    outcome = np.vstack([columns.T, more])
    return made(rng, outcome, rng.gamma(3.0, size=len(names)) + 1e-3, repairs)


@kind
def chain(rng: np.random.Generator) -> Problem:
    """One series circuit through three or four places: an open anywhere on it, volts at every point, leads to lift and measure.

    A voltage against the common is there before the open and gone after it, so voltages halve; an ohms reading clears or damns
    a stretch alone and takes longer. Elements in one piece of equipment share a repair. Some opens are far likelier than others.
    """
    count = int(rng.integers(8, 21))
    places = int(rng.integers(2, 5))
    where = np.sort(rng.integers(places, size=count))
    nth = np.arange(count)
    volts = [np.where(nth < cut, 0, 1) for cut in range(1, count)]
    stretches = [np.sort(rng.choice(count + 1, 2, replace=False)) for _ in range(rng.integers(2, 7))]
    ohms = [((nth >= a) & (nth < b)).astype(np.intp) for a, b in stretches]
    place = np.concatenate([where[1:], where[[min(a, count - 1) for a, _ in stretches]]])
    base = np.concatenate([np.full(count - 1, 1.0), np.full(len(ohms), 4.0)])
    repairs = np.where(rng.random(count) < 0.6, count + where, nth)
    walk = np.abs(np.subtract.outer(np.arange(places), np.arange(places))) * rng.uniform(1.5, 4.0)
    return made(
        rng,
        np.array(volts + ohms),
        rng.gamma(rng.choice([0.4, 1.0]), size=count) + 1e-3,
        np.unique(repairs, return_inverse=True)[1],
        places=places,
        place=place,
        base=base,
        walk=walk,
    )


@kind
def branches(rng: np.random.Generator) -> Problem:
    """A supply that forks to two or three loads: faults of the stem kill all, those of a branch one, opens and shorts differ.

    Looking at what runs tells the branch for the price of a walk; volts along stem and branches halve what is left; a short
    shows everywhere as a blown fuse and is found by lifting branches one after another.
    """
    stem, forks = int(rng.integers(2, 5)), int(rng.integers(2, 4))
    lengths = rng.integers(2, 5, forks)
    part = np.concatenate([np.full(stem, -1), np.repeat(np.arange(forks), lengths), np.arange(forks)])
    step = np.concatenate([np.arange(stem), *[np.arange(n) for n in lengths], np.full(forks, 99)])
    short = step == 99
    count = len(part)
    places = int(rng.integers(3, 5))
    tests: list[np.ndarray] = []
    place: list[int] = []
    base: list[float] = []

    def add(row: np.ndarray, at: int, minutes: float) -> None:
        tests.append(row.astype(np.intp))
        place.append(int(at))
        base.append(minutes)

    for fork in range(forks):
        add((part == -1) | (part == fork) | short, rng.integers(places), 0.5)
        for cut in range(1, int(lengths[fork])):
            add((part == -1) | short | ((part == fork) & (step < cut)), rng.integers(places), 1.0)
        add(short & (part == fork), rng.integers(2), 3.0)
    for cut in range(1, stem):
        add(((part == -1) & (step < cut)) | 2 * short, rng.integers(2), 1.0)
    add(short, 0, 0.5)
    repairs = np.where(short, count + part, np.arange(count))
    repairs[(part == -1) & (step < 2)] = 0
    return made(
        rng,
        np.array(tests),
        rng.gamma(0.7, size=count) + 1e-3,
        np.unique(repairs, return_inverse=True)[1],
        places=places,
        place=np.array(place),
        base=np.array(base),
        walk=walks(rng, places, 6.0),
    )


@kind
def house(rng: np.random.Generator) -> Problem:
    """A control circuit in a house: three calls, opens anywhere on their ways, priced by ``faults/data/minutes.yaml``.

    Transformer and fuse, the supply lead, the thermostat's contact of each call, its lead back, then a board input (heat, fan) or
    two leads to the yard and a contactor (cool). Every conductor can be open, or loose at either end. Tests: look at what runs,
    volts at every point against the common on every call, ohms of every conductor with a lead lifted.
    """
    indoors = str(rng.choice(["cellar", "attic", "flat roof", "closet"]))
    where: list[str] = []
    repair: list[str] = []
    weight: list[float] = []

    def thing(at: str, name: str, odds: float) -> int:
        where.append(at)
        repair.append(name)
        weight.append(odds)
        return len(where) - 1

    def lead(name: str, one: str, other: str) -> list[int]:
        ends = [thing(one, f"{name} at {one}", 4.0), thing(one, name, 3.0), thing(other, f"{name} at {other}", 4.0)]
        return ends if one != other else ends[1:]

    supply = [thing(indoors, "transformer", 8.0), thing(indoors, "fuse", 10.0), *lead("R", indoors, "hall")]
    safety = [thing(indoors, "float", 8.0)] if rng.random() < 0.5 else []
    ways = {}
    for call in ("cool", "heat", "fan"):
        way = [*supply, thing("hall", "thermostat", 3.0), *lead(call, "hall", indoors)]
        if call == "cool":
            way += [*safety, *lead("outside", indoors, "yard"), thing("yard", "contactor", 4.0)]
            way += lead("return", "yard", indoors)
        else:
            way.append(thing(indoors, f"{call} input", 3.0))
        ways[call] = way
    count = len(where)
    works: list[Work] = []
    shows: list[np.ndarray] = []
    for call, way in ways.items():
        last = "yard" if call == "cool" else indoors
        works.append(Work("running", (last,)))
        shows.append(~np.isin(np.arange(count), way))
        for n in range(1, len(way)):
            works.append(Work("volts", (where[way[n]],)))
            shows.append(~np.isin(np.arange(count), way[:n]))
    for name in sorted({r for r in repair if f"{r} at hall" in repair or f"{r} at yard" in repair}):
        mine = [h for h in range(count) if repair[h].split(" at ")[0] == name]
        works.append(Work("ohms", (where[mine[0]],), lifted=1))
        shows.append(np.isin(np.arange(count), mine[1:2]))
    locations = ["hall", indoors, "yard"]
    minutes, place = priced_works(default_minutes(), works, locations)
    prior = np.array(weight) * np.exp(rng.normal(0.0, 0.7, count))
    # The complaint: one call is dead, or all are.
    dead = ways[str(rng.choice(list(ways)))] if rng.random() < 0.7 else supply
    prior = np.where(np.isin(np.arange(count), dead), prior, 0.02 * prior)
    return Problem(
        prior / prior.sum(), np.unique(repair, return_inverse=True)[1], np.array(shows).astype(np.intp), minutes, place
    )


def unruly(rng: np.random.Generator, count: int, tests: int) -> Problem:
    """Return outcomes even, lopsided, or stretches of a row; repairs shared at random; minutes from very few to many."""
    form = rng.integers(3)
    if form == 0:
        outcome = rng.integers(rng.integers(2, 4), size=(tests, count))
    elif form == 1:
        outcome = rng.random((tests, count)) < rng.uniform(0.08, 0.5, (tests, 1))
    else:
        ends = [np.sort(rng.choice(count + 1, 2, replace=False)) for _ in range(tests)]
        outcome = np.array([(np.arange(count) >= a) & (np.arange(count) < b) for a, b in ends])
    repairs = rng.integers(rng.integers(3, count + 1), size=count)
    prior = rng.gamma(rng.choice([0.3, 1.0, 5.0]), size=count) + 1e-3
    return made(rng, outcome, prior, repairs, base=np.exp(rng.normal(0.3, 0.8, tests)))


@kind
def broad(rng: np.random.Generator) -> Problem:
    """Return so many hypotheses and tests that not always every set can be looked at in one choice."""
    return unruly(rng, int(rng.integers(28, 49)), int(rng.integers(18, 31)))


@kind
def vast(rng: np.random.Generator) -> Problem:
    """Return more than even trying everything manages: what the planner finds with a thousand times the work stands for it."""
    return unruly(rng, int(rng.integers(44, 65)), int(rng.integers(28, 41)))


def many(count: int, tests: int, singles: int = 200) -> Problem:
    """Return a question of single and double faults: a pair shows the higher outcome of its two; pairs have 2 % of the belief."""
    rng = np.random.default_rng(3)
    alone = (rng.random((tests, singles)) < rng.uniform(0.03, 0.4, (tests, 1))) * rng.integers(1, 4, (tests, singles))
    one, two = np.triu_indices(singles, 1)
    some = rng.choice(len(one), count - singles, replace=False)
    one, two = one[some], two[some]
    weight = rng.gamma(1.0, size=singles) + 0.01
    pairs = weight[one] * weight[two]
    prior = np.concatenate([0.98 * weight / weight.sum(), 0.02 * pairs / pairs.sum()])
    outcome = np.concatenate([alone, np.maximum(alone[:, one], alone[:, two])], axis=1)
    return made(rng, outcome, prior, np.arange(count), places=5)
