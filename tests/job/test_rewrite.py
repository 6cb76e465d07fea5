"""A job's text changed says the job wanted, and everything else of it is as it was."""

from __future__ import annotations

import json
import re
from dataclasses import replace
from pathlib import Path
from random import Random
from typing import Any

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from callpath.errors import CallpathError, JobError, QuestionError
from callpath.job import Job, read_job
from callpath.job.rewrite import with_changes, with_job
from callpath.job.write import job_data, job_text
from tests.jobs import data

EXAMPLES = {
    path.name: path.read_text(encoding="utf-8") for path in Path(__file__).parents[2].glob("examples/*.job.yaml")
}

HOUSE = """\
# As found on a Tuesday.
callpath: 1
title: House   # the small one
equipment:
  stat:  {part: thermostat/split-supply, at: hall, settings: {power: common}}   # by the door
  board: {part: indoor/furnace-board,    at: cellar}
cables:
  wall:   {between: [hall, cellar], conductors: [red, white, green, blue, '1']}
landings:
  # the power first
  wall.red:    [stat.Rc, board.R]   # fused
  wall.white:  [stat.W,  board.W]

  wall.green:  [stat.G,  null]      # broken at the board?
splices:
  spare: cellar                     # a wire nut with nothing in it
jumpers:
  # one source
  - [stat.Rc, stat.Rh]              # in
serves: [heat]                      # for now
# the end
"""


def test_nothing_to_change_changes_nothing() -> None:
    assert with_job(HOUSE, read_job(HOUSE)) == HOUSE
    assert with_changes(HOUSE) == HOUSE


def test_only_the_words_that_change_are_touched() -> None:
    changed = with_changes(
        HOUSE,
        landings={"wall.green": ("stat.Y", "board.Y"), "wall.blue": ("stat.C", "board.C"), "wall.1": (None, None)},
        splices={"spare": "cellar", "true": "hall"},
        jumpers=[],
        serves=["cool", "heat"],
        settings={"stat": {"power": "battery", "fan-with-heat": True}, "board": {"fuse-amps": 5}},
    )
    expected = (
        HOUSE.replace("settings: {power: common}", "settings: {power: battery, fan-with-heat: true}")
        .replace("at: cellar}", "at: cellar, settings: {fuse-amps: 5}}")
        .replace("[stat.G,  null] ", "[stat.Y,  board.Y] ")
        .replace("broken at the board?\n", "broken at the board?\n  wall.blue:   [stat.C, board.C]\n")
        .replace("nothing in it\n", "nothing in it\n  'true': hall\n")
        .replace("jumpers:\n", "jumpers: []\n")
        .replace("  - [stat.Rc, stat.Rh]              # in\n", "")
        .replace("[heat] ", "[cool, heat] ")
    )
    assert changed == expected
    read_job(changed)


def test_missing_sections_come_in_their_usual_place() -> None:
    bare = (
        "callpath: 1\nequipment:\n  a: {part: accessory/relay, at: x}\ncables:\n"
        "  w: {between: [x, x], conductors: [red]}\n# end\n"
    )
    changed = with_changes(
        bare, landings={"w.red": ("a.A1", "t")}, splices={"t": "x"}, jumpers=[("a.COM", "a.NO")], serves=["off"]
    )
    added = "landings:\n  w.red: [a.A1, t]\nsplices:\n  t: x\njumpers:\n  - [a.COM, a.NO]\nserves: ['off']\n"
    assert changed == bare.replace("# end\n", added.replace("'off'", "off") + "# end\n")


def test_a_file_in_json_stays_one() -> None:
    text = json.dumps(data(HOUSE))
    changed = with_changes(
        text, landings={"wall.blue": ("stat.C", None)}, jumpers=[], settings={"board": {"fuse-amps": 5}}
    )
    wanted = data(HOUSE)
    wanted["landings"]["wall.blue"] = ["stat.C", None]
    wanted["jumpers"] = []
    wanted["equipment"]["board"]["settings"] = {"fuse-amps": 5}
    assert json.loads(changed) == wanted


@pytest.mark.parametrize("empty", ["", " {}", " null", " ~", " { }", " {\n  # nothing yet\n  }"])
@pytest.mark.parametrize("remark", ["", "   # none yet"])
def test_an_empty_section_is_filled(empty: str, remark: str) -> None:
    head = "callpath: 1\nequipment:\n  a: {part: accessory/relay, at: x}\ncables:\n  w: {between: [x, x], conductors: [red]}\n"
    changed = with_changes(f"{head}landings:{empty}{remark}\n", landings={"w.red": ("a.A1", "a.A2")})
    assert read_job(changed).landings == {"w.red": ("a.A1", "a.A2")}
    assert changed.count("#") == f"{empty}{remark}".count("#")


def test_equipment_that_is_not_there_is_told_with_what_is() -> None:
    with pytest.raises(QuestionError, match="did you mean 'stat'"):
        with_changes(HOUSE, settings={"stats": {"power": "battery"}})


def test_a_job_with_other_equipment_cannot_be_said_by_this_text() -> None:
    job = read_job(HOUSE)
    with pytest.raises(CallpathError, match="write it anew"):
        with_job(HOUSE, replace(job, title="another"))


# ---- any job, written in any way ----


def _block(value: Any, margin: str = "") -> str:
    """Write plain data with no brackets at all, two items on no line."""
    lines = []
    if isinstance(value, dict) and value:
        for key, item in value.items():
            lines.append(f"{margin}{json.dumps(key)}:{_block(item, margin + '   ')}")
    elif isinstance(value, list) and value:
        lines += [f"{margin}-{_block(item, margin + '   ')}" for item in value]
    else:
        return f" {json.dumps(value)}\n"
    return "\n" + "".join(lines)


WAYS = {
    "as it is": lambda text: text,
    "all in brackets": lambda text: json.dumps(data(text)),
    "brackets over lines": lambda text: json.dumps(data(text), indent=2).replace('": [', '":  ['),
    "no brackets": lambda text: _block(data(text)).lstrip("\n"),
    "sections in brackets": lambda text: "".join(f"{key}: {json.dumps(item)}\n" for key, item in data(text).items()),
    "moved in": lambda text: "".join("  " + line for line in text.splitlines(keepends=True)),
    "written anew": lambda text: job_text(data(text)),
}


def _with_remarks(text: str, draw: st.DrawFn) -> str:
    """Put comments between lines and beside them."""
    chance = Random(draw(st.integers(0, 999)))
    lines = text.splitlines()
    for i in range(len(lines)):
        kind = chance.choice(["", "", "beside", "above"])
        if kind == "beside" and "#" not in lines[i]:
            lines[i] += f"  # beside {i}"
        elif kind == "above":
            lines[i] = f"{chance.choice(['', '    '])}# above {i}\n{lines[i]}"
    return "\n".join(lines) + "\n"


@st.composite
def written(draw: st.DrawFn) -> tuple[str, str]:
    way = draw(st.sampled_from(sorted(WAYS)))
    text = _with_remarks(WAYS[way](draw(st.sampled_from([*EXAMPLES.values(), HOUSE]))), draw)
    if draw(st.booleans()):
        text = text.rstrip("\n")
    if draw(st.booleans()):
        text = text.replace("\n", draw(st.sampled_from(["\r\n", "\r"])))
    return way, draw(st.sampled_from(["", "", "\ufeff"])) + text


@st.composite
def wanted_from(draw: st.DrawFn, job: Job) -> Job:
    """Draw another job with the same equipment and cables."""
    rows = job_data(job)
    spots = sorted({device.at for device in job.equipment.values()})
    splices = {name: at for name, at in job.splices.items() if draw(st.booleans())}
    for name in draw(st.lists(st.sampled_from(["n1", "null", "7"]), unique=True)):
        splices[name] = draw(st.sampled_from(spots))
    at: dict[str, list[str]] = {spot: [name for name, there in splices.items() if there == spot] for spot in spots}
    screws: dict[str, list[str]] = {spot: [] for spot in spots}
    for device in job.equipment.values():
        screws[device.at] += [f"{device.id}.{letters}" for letters in device.part.terminals]
    landings: dict[str, list[str | None]] = {}
    for name, ends in job.landings.items():
        between = job.cable_of(name).between
        choices = [[None, *at.get(spot, []), *screws.get(spot, [])] for spot in between]
        new = [
            end if draw(st.booleans()) and end in choice else draw(st.sampled_from(choice))
            for end, choice in zip(ends, choices, strict=True)
        ]
        landings[name] = new if new[0] != new[1] else [new[0], None]
    pairs = [(one, other) for spot in spots for one in screws[spot] for other in screws[spot] if one < other]
    fresh = draw(st.lists(st.sampled_from(pairs), max_size=3, unique=True)) if pairs else []
    jumpers = [list(pair) for pair in job.jumpers if draw(st.booleans())]
    jumpers += [list(pair) for pair in fresh if {*pair} not in [{*old} for old in jumpers]]
    calls = sorted({call for device in job.equipment.values() for call in device.part.calls})
    if job.serves is not None or draw(st.booleans()):
        rows["serves"] = draw(st.lists(st.sampled_from([*calls, "off"]), unique=True))
    for device in job.equipment.values():
        for name, setting in device.part.settings.items():
            if draw(st.integers(0, 3)) == 0:
                value = {"boolean": [True, False], "choice": setting.choices}.get(setting.type, [setting.minimum])
                rows["equipment"][device.id].setdefault("settings", {})[name] = draw(st.sampled_from(value))
    try:
        return read_job(job_text({**rows, "splices": splices, "landings": landings, "jumpers": jumpers}))
    except JobError:
        assume(False)
        raise


def remarks(text: str, kind: str) -> list[str]:
    return re.findall(rf"# {kind} \d+", text)


@settings(max_examples=80)
@given(st.data())
def test_any_job_in_any_layout_can_be_changed_into_any_other(draw: st.DataObject) -> None:
    way, text = draw.draw(written())
    before = read_job(text)
    wanted = draw.draw(wanted_from(before))
    changed = with_job(text, wanted)  # which checks what it reads back
    assert remarks(changed, "beside") == [one for one in remarks(text, "beside") if one in remarks(changed, "beside")]
    assert set(re.findall(r"\r\n?|\n", changed)) <= set(re.findall(r"\r\n?|\n", text)) | {"\n"}
    if way in ("as it is", "moved in", "written anew"):  # where no entry that could go holds a line of its own
        assert remarks(changed, "above") == remarks(text, "above")
    assert with_job(changed, wanted) == changed


@settings(max_examples=40)
@given(st.data())
def test_the_lines_that_do_not_change_are_the_same_lines(draw: st.DataObject) -> None:
    text = draw.draw(st.sampled_from(sorted(EXAMPLES.values())))
    text = _with_remarks(text, draw.draw)
    before = read_job(text)
    wanted = draw.draw(wanted_from(before))
    lines, new = text.splitlines(), with_job(text, wanted).splitlines()
    kept = [line for line in new if line in lines]
    assert kept == [line for line in lines if line in kept]
    touched = {name for name in before.landings if before.landings[name] != wanted.landings[name]}
    gone = [line for line in lines if line not in new]
    for line in gone:
        key = line.strip().partition(":")[0].strip("'")
        section = key in ("splices", "jumpers", "serves") or line.strip().startswith("- ")
        assert key in touched or key in before.splices or key in before.equipment or section
