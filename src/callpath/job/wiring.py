"""Where the conductors' ends sit, and the jumpers."""

from __future__ import annotations

from callpath.job.inventory import Inventory, Run
from callpath.job.model import Landing
from callpath.job.name import Names
from callpath.job.problems import shown
from callpath.job.shape import JobShape, ends, pair, read_shape
from callpath.job.yamltext import Document, Path

__all__ = ["read_jumpers", "read_landings"]


def read_landings(top: JobShape, inventory: Inventory, names: Names, document: Document) -> dict[str, Landing]:
    """Return where both ends of every conductor sit, those not listed capped, and note what is wrong."""
    landings: dict[str, Landing] = dict.fromkeys(names.conductors.all, (None, None))
    for name, data in (top.landings or {}).items():
        path = ("landings", name)
        known = names.find(name, names.conductors, path, key=True)
        two = read_shape(ends, data, path, document)
        if two is None:
            continue
        one, other = (end if isinstance(end, str) else None for end in two)
        found = [end is not None and names.find(end, names.ends, (*path, i)) for i, end in enumerate((one, other))]
        if one is not None and one == other:
            document.tell((*path, 1), f"both ends of {shown(name)} sit on {shown(one)}")
        elif known:
            run = inventory.runs[name.partition(".")[0]]
            spots = tuple(
                names.location(end) if end and ok else None for end, ok in zip((one, other), found, strict=True)
            )
            _check_spots(run, (one, other), (spots[0], spots[1]), path, names, document)
        landings[name] = (one, other)
    return landings


def _check_spots(
    run: Run, sits: Landing, spots: tuple[str | None, str | None], path: Path, names: Names, document: Document
) -> None:
    """Tell of ends that sit in another location than that end of the cable reaches."""
    reached = run.between
    wrong = [end for end in (0, 1) if None not in (spots[end], reached[end]) and spots[end] != reached[end]]
    turned = all(spots[end] in (None, reached[1 - end]) for end in (0, 1))
    for end in wrong:
        message = (
            f"{shown(sits[end])} is in {shown(spots[end])}, but this end of {shown(run.id)} is in {shown(reached[end])}"
        )
        if turned:
            document.tell((*path, end), f"{message}; change the two ends over, as 'between' gives them")
            return
        document.tell((*path, end), message, word=sits[end] or "", valid=names.at(reached[end]))


def read_jumpers(top: JobShape, names: Names, document: Document) -> tuple[tuple[str, str], ...]:
    """Return the jumpers, and note what is wrong with them."""
    jumpers: dict[frozenset[str], tuple[str, str]] = {}
    for position, data in enumerate(top.jumpers or ()):
        path = ("jumpers", position)
        two = read_shape(pair, data, path, document)
        one, other = two or (None, None)
        found = [
            _no_splice(end, names, (*path, i), document) and names.find(end, names.terminals, (*path, i))
            for i, end in enumerate((one, other))
        ]
        if one is None or other is None:
            continue
        spots = names.location(one), names.location(other)
        if one == other:
            document.tell((*path, 1), f"a jumper from {shown(one)} to itself")
        elif frozenset((one, other)) in jumpers:
            document.tell(path, f"the jumper from {shown(one)} to {shown(other)} is listed twice")
        elif all(found) and None not in spots and spots[0] != spots[1]:
            message = f"a jumper is a short link at one location, but {shown(one)} is in {shown(spots[0])}"
            document.tell((*path, 1), f"{message} and {shown(other)} in {shown(spots[1])}; a cable goes there")
        jumpers.setdefault(frozenset((one, other)), (one, other))
    return tuple(jumpers.values())


def _no_splice(end: str | None, names: Names, path: Path, document: Document) -> bool:
    """Tell that an end of a jumper is no splice; where it is one, note what leads to a splice."""
    if end is None or not names.is_splice(end):
        return True
    place = names.location(end)
    way = f"a conductor leads there, of a cable between [{place}, {place}]"
    document.tell(path, f"{shown(end)} is a splice, not a terminal; {way}")
    return False
