"""A new job from the few words that a person at a wall would give: parts, what is in the jackets, what sits where."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from callpath.errors import CallpathError, InputError, JobError, Problem, QuestionError, nearest
from callpath.job.read import read_job
from callpath.job.write import job_text
from callpath.parts.catalogue import Catalogue, default_catalogue
from callpath.parts.makeup import makeup
from callpath.parts.model import Part, SettingValue

__all__ = ["LOCATIONS", "Draft", "draft_job", "find_part", "usual_id"]

LOCATIONS = ("hall", "indoor", "outdoor")
"""Where thermostat, indoor and outdoor equipment are, unless somebody says so."""

_ROLE_IDS = {"thermostat": "stat", "indoor": "board", "outdoor": "cond", "accessory": "extra"}
_PART_IDS = {
    "indoor/air-handler": "air",
    "indoor/boiler": "boiler",
    "indoor/boiler-tt": "boiler",
    "outdoor/heat-pump": "pump",
}
_ENDS = ("at the thermostat", "at the indoor equipment", "at the outdoor unit")


@dataclass(frozen=True)
class Draft:
    """What is said about a new job, in the words of whoever says it.

    Parts may be shortened. ``wall`` and ``outside`` are gauge and number of conductors (``18/5``) or colours. ``accessories``
    are ``ID=PART``, ``settings`` ``ID.SETTING=VALUE``, ``jumpers`` two terminals. ``landed`` holds what sits at the thermostat,
    the indoor equipment and the outdoor unit as ``TERMINAL=COLOUR`` words.
    """

    thermostat: str
    indoor: str
    wall: str
    outdoor: str = ""
    outside: str = ""
    accessories: Sequence[str] = ()
    wall_length: str = ""
    outside_length: str = ""
    locations: Sequence[str] = LOCATIONS
    settings: Sequence[str] = ()
    landed: Sequence[str] = ("", "", "")
    jumpers: Sequence[str] = ()
    serves: str = ""
    title: str = ""


def usual_id(part: Part) -> str:
    """Return the short id that equipment of a part usually has."""
    return _PART_IDS.get(part.part, _ROLE_IDS[part.role])


def find_part(word: str, role: str | None = None, catalogue: Catalogue | None = None) -> Part:
    """Return the part that a word names: its name, or as much of it as tells it from the others.

    Parameters
    ----------
    word : str
        ``indoor/furnace-board``, ``furnace-board`` or ``furnace``.
    role : str, optional
        Only parts of this role come into question.
    catalogue : Catalogue, optional
        Where parts are looked up; by default the one that ships with callpath.

    Raises
    ------
    QuestionError
        No part, or more than one, has that name.
    """
    catalogue = catalogue or default_catalogue()
    asked = word.strip().casefold()
    if word.strip() in catalogue.names:
        part = catalogue.part(word.strip())
        if role is not None and part.role != role:
            raise QuestionError(f"{part.part} is {_a(part.role)} part, not {_a(role)} one")
        return part
    names = [name for name in catalogue.names if role is None or name.startswith(f"{role}/")]
    tails = {name: name.partition("/")[2].casefold() for name in names}
    ways = (
        [name for name in names if asked in (name.casefold(), tails[name])],
        [name for name in names if tails[name].startswith(asked)],
        [name for name in names if asked in name.casefold()],
    )
    found = next((way for way in ways if way), []) if asked else []
    if len(found) > 1:
        raise QuestionError(f"'{word}' could be {' or '.join(found)}; write more of it")
    if not found:
        near = {tail: name for name, tail in tails.items()}
        raise QuestionError(
            f"the catalogue has no {role or ''} part '{word}'; ".replace("  ", " ") + _nearest_part(word, near)
        )
    return catalogue.part(found[0])


def _nearest_part(word: str, by_tail: Mapping[str, str]) -> str:
    clause = nearest(word.partition("/")[2] or word, by_tail)
    return clause if clause.startswith("did you mean") else nearest("", by_tail.values())


def _a(role: str) -> str:
    return f"an {role}" if role[0] in "aio" else f"a {role}"


def draft_job(draft: Draft, catalogue: Catalogue | None = None, file: str = "job.yaml") -> dict[str, Any]:
    """Return a job as plain data, such as ``job_text`` takes; it has been read back and is sound.

    Parameters
    ----------
    draft : Draft
        What is said about it.
    catalogue : Catalogue, optional
        Where parts are looked up; by default the one that ships with callpath.
    file : str
        What the job will be called.

    Raises
    ------
    InputError
        Something in it cannot be; with everything that was found at once.
    """
    building = _Building(draft, catalogue or default_catalogue())
    data = building.data()
    if not building.problems:
        try:
            read_job(job_text(data), file=file, catalogue=catalogue)
        except JobError as error:
            # The places are those of a file that is not there.
            building.problems += [problem.message for problem in error.problems]
    if building.problems:
        raise InputError([Problem("", 0, 0, message) for message in dict.fromkeys(building.problems)])
    return data


class _Building:
    """A job on its way from words to data, and what is wrong with the words."""

    def __init__(self, draft: Draft, catalogue: Catalogue) -> None:
        self.problems: list[str] = []
        self._draft = draft
        self._catalogue = catalogue
        self._ids: list[str] = []
        self._cables: dict[str, dict[str, Any]] = {}

    def data(self) -> dict[str, Any]:
        draft = self._draft
        spots = [spot.strip() for spot in draft.locations]
        if len(spots) == 2 and not draft.outdoor:
            spots.append(LOCATIONS[2])
        if len(spots) != 3 or not all(spots):
            self.problems.append("locations: name that of the thermostat, of the indoor and of the outdoor equipment")
            spots = list(LOCATIONS)
        equipment = self._equipment(spots)
        self._cable("wall", "wall cable", draft.wall, draft.wall_length, spots[:2])
        if draft.outdoor and not draft.outside:
            self.problems.append("the outdoor unit needs a cable; say what is in it, such as 18/2")
        elif draft.outside and not draft.outdoor:
            self.problems.append("a cable to an outdoor unit, but no outdoor unit; name its part")
        elif draft.outside:
            self._cable("outside", "outdoor cable", draft.outside, draft.outside_length, spots[1:])
        self._settings(equipment)
        data: dict[str, Any] = {"callpath": 1, "title": draft.title, "equipment": equipment, "cables": self._cables}
        data["landings"] = self._landings()
        data["jumpers"] = [self._jumper(words) for words in draft.jumpers]
        data["serves"] = _split(draft.serves)
        return {key: value for key, value in data.items() if value}

    def _equipment(self, spots: Sequence[str]) -> dict[str, dict[str, Any]]:
        draft, found = self._draft, {}
        for role, word, spot in zip(
            ("thermostat", "indoor", "outdoor"), (draft.thermostat, draft.indoor, draft.outdoor), spots, strict=True
        ):
            part = self._part(word, role) if word else None
            name = usual_id(part) if part else _ROLE_IDS[role]
            self._ids.append(name)
            if part:
                found[name] = {"part": part.part, "at": spot}
        for words in draft.accessories:
            name, equals, word = words.partition("=")
            if not equals or not name.strip():
                self.problems.append(f"'{words}' is not ID=PART, such as float=float-switch")
                continue
            part = self._part(word, None)
            if name.strip() in found:
                self.problems.append(
                    f"the id '{name.strip()}' is taken by {found[name.strip()]['part']}; choose another"
                )
            elif part:
                found[name.strip()] = {"part": part.part, "at": spots[1]}
        return found

    def _part(self, word: str, role: str | None) -> Part | None:
        try:
            return find_part(word, role, self._catalogue)
        except CallpathError as error:
            self.problems.append(str(error))
            return None

    def _cable(self, name: str, called: str, words: str, length: str, between: Sequence[str]) -> None:
        try:
            made = makeup(words)
        except QuestionError as error:
            self.problems.append(f"{called}: {error}")
            return
        row: dict[str, Any] = {"between": list(between)}
        if length.strip():
            row["length"] = length.strip()
        if made.awg is not None:
            row["awg"] = made.awg
        self._cables[name] = row | {"conductors": list(made.conductors)}

    def _settings(self, equipment: Mapping[str, dict[str, Any]]) -> None:
        for words in self._draft.settings:
            target, equals, value = words.partition("=")
            name, dot, setting = target.strip().partition(".")
            if not equals or not dot or not setting or not value.strip():
                self.problems.append(f"'{words}' is not ID.SETTING=VALUE, such as stat.power=common")
            elif name not in equipment:
                self.problems.append(f"there is no equipment '{name}' to set; {nearest(name, equipment)}")
            else:
                equipment[name].setdefault("settings", {})[setting] = _value(value.strip())

    def _landings(self) -> dict[str, list[str | None]]:
        """Join what sits at either end of a conductor into its landing."""
        reach = (["wall"], ["wall", "outside"], ["outside"])
        found: dict[str, list[str | None]] = {}
        for place, words in enumerate(self._draft.landed):
            seen: dict[str, str] = {}
            for item in _split(words):
                terminal, equals, colour = item.partition("=")
                if not equals or not terminal or not colour:
                    self.problems.append(f"{_ENDS[place]}: '{item}' is not TERMINAL=COLOUR, such as R=red")
                    continue
                conductor = self._conductor(colour.casefold(), reach[place], place)
                if conductor is None:
                    continue
                if conductor in seen:
                    other = (
                        "; the outdoor cable's is outside." + colour if place == 1 and self._in_outside(colour) else ""
                    )
                    self.problems.append(f"{_ENDS[place]}: {colour} is on {seen[conductor]} already{other}")
                    continue
                seen[conductor] = terminal
                end = terminal if "." in terminal else f"{self._ids[place]}.{terminal}"
                side = 0 if place == 0 or (place == 1 and conductor.startswith("outside.")) else 1
                found.setdefault(conductor, [None, None])[side] = end
        order = [f"{cable}.{colour}" for cable, row in self._cables.items() for colour in row["conductors"]]
        return {name: found[name] for name in order if name in found}

    def _in_outside(self, colour: str) -> bool:
        return colour in self._cables.get("outside", {}).get("conductors", ())

    def _conductor(self, word: str, reach: Sequence[str], place: int) -> str | None:
        """Return the conductor that a colour, or ``cable.colour``, names at one place that some cables reach."""
        cables = [cable for cable in reach if cable in self._cables]
        every = [f"{cable}.{colour}" for cable in cables for colour in self._cables[cable]["conductors"]]
        if word in every:
            return word
        if set(cables) != {cable for cable in reach if cable == "wall" or self._draft.outside}:
            return None  # one of them could not be read, and that is told
        for name in (f"{cable}.{word}" for cable in cables):
            if name in every:
                return name
        if not cables:
            self.problems.append(f"{_ENDS[place]}: no cable comes there that could hold '{word}'")
            return None
        hint = nearest(word, every if "." in word else [name.partition(".")[2] for name in every])
        self.problems.append(f"{_ENDS[place]}: no conductor '{word}' in the {' or the '.join(cables)} cable; {hint}")
        return None

    def _jumper(self, words: str) -> list[str]:
        ends = _split(words)
        if len(ends) != 2:
            self.problems.append(f"'{words}' is no jumper; name its two terminals, such as 'stat.Rc stat.Rh'")
        return [end if "." in end else f"{self._ids[0]}.{end}" for end in ends]


def _split(words: str) -> list[str]:
    return [word for word in re.split(r"[\s,]+", words) if word]


def _value(text: str) -> SettingValue:
    if text.casefold() in ("true", "false"):
        return text.casefold() == "true"
    for kind in (int, float):
        try:
            return kind(text)
        except ValueError:
            continue
    return text
