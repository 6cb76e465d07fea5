"""Single mistakes: each is told once, at its place, with the offending word and the nearest valid words, and nothing else."""

from __future__ import annotations

from dataclasses import dataclass

import pytest

from tests.job.sound import SOUND, problems_of

HERE = "§"


@dataclass(frozen=True)
class Mistake:
    """What of the sound job is written how instead, § before the offending word, and words of the message."""

    right: str
    wrong: str
    words: tuple[str, ...]


def mistake(right: str, wrong: str, *words: str) -> Mistake:
    return Mistake(right, wrong, words)


MISTAKES = (
    # the top
    mistake("callpath: 1\n", "callpath: §2\n", "must be 1", "not 2"),
    mistake("callpath: 1\n", "callpath: §'1'\n", "must be 1", "not '1'"),
    mistake("callpath: 1\n", "§", "the job has no 'callpath'"),
    mistake("title: Boat", "§titel: Boat", "unknown key 'titel'", "did you mean 'title'?"),
    mistake("cables:", "§cabels:", "unknown key 'cabels'", "did you mean 'cables'?"),
    mistake("note: Invented.", "§colour: red", "unknown key 'colour'", "valid: cables, callpath"),
    mistake("note: Invented.", "note: §[Invented]", "note must be text", "not a list"),
    mistake("hz: 50", "hz: §55", "hz must be 50 or 60", "not 55"),
    mistake("serves: [cool, fan]", "serves: §cool", "serves must be a list", "not 'cool'"),
    mistake("note: Invented.", "§title: Again", "the key 'title' stands here again", "line 2"),
    mistake("note: Invented.", "§7: Invented", "a key must be text, not 7", "quotes"),
    mistake("note: Invented.", "? §[a]\n: Invented", "a key must be text, not a list"),
    # equipment
    mistake("indoor/furnace-board", "§indoor/furnace-bord", "no part 'indoor/furnace-bord'", "'indoor/furnace-board'"),
    mistake("indoor/furnace-board", "§furnace", "no part 'furnace'", "valid: "),
    mistake("part: indoor", "§prt: indoor", "unknown key 'prt' in equipment.board", "did you mean 'part'?"),
    mistake("part: indoor/", "§part:indoor/", "lacks ': ' after 'part'"),
    mistake("  float: {part: accessory/float-switch, at: cellar}", "  §float: {part: accessory/float-switch}",
            "equipment.float has no 'at'"),
    mistake("  float: {part: accessory/float-switch, at: cellar}", "  float: {part: accessory/float-switch, §at: null}",
            "equipment.float has no 'at'"),
    mistake("  float: {part: accessory/float-switch, at: cellar}", "  float: §switch", "equipment.float must hold keys",
            "not 'switch'", "valid: at, part, settings"),
    mistake("part: indoor/furnace-board", "part: §true", "equipment.board.part must be text, not true", "quotes"),
    mistake("fuse-amps: 3", "§fuse-amp: 3", "no setting 'fuse-amp'", "did you mean 'fuse-amps'?"),
    mistake("fuse-amps: 3", "fuse-amps: §300", "fuse-amps must lie between 0.5 and 20 A", "not 300"),
    mistake("fuse-amps: 3", "fuse-amps: §3 A", "fuse-amps must be a number", "not '3 A'"),
    mistake("fuse-amps: 3", "fuse-amps: §null", "fuse-amps needs a value"),
    mistake("power: common", "power: §comon", "must be one of battery, common, stealing", "not 'comon'"),
    mistake("switches: true", "switches: §yes", "pressure-switches must be true or false", "not 'yes'"),
    mistake("  float: {part", "  §out float: {part: outdoor/condenser, at: yard}\n  float: {part", "'out float' is no id", "' '"),
    mistake("  float: {part", "  §out.float: {part: outdoor/condenser, at: yard}\n  float: {part", "'out.float' is no id", "'.'"),
    mistake("  short:   {", "  §board:   {between: [cellar, cellar], conductors: [red]}\n  short:   {",
            "the id 'board' is taken", "equipment has it on line 7"),
    mistake("  through: cellar", "  through: cellar\n  §wall: cellar", "the id 'wall' is taken", "cables has it on line 11"),
    # cables
    mistake("[hall, cellar], length", "[§hal, cellar], length", "cable 'wall' ends in 'hal'", "did you mean 'hall'?"),
    mistake("[cellar, cellar]", "§[cellar, cellar, hall]", "between must name exactly two", "not 3"),
    mistake("[cellar, cellar]", "[cellar, §null]", "cables.short.between[2] must be text, not nothing"),
    mistake("red, white]}\n  short", "red, white, §red]}\n  short", "the colour 'red' is in cable 'outside' twice", "line 12"),
    mistake("[black]", "[black, §'']", "must be text, not ''"),
    mistake("[black]", "[black, §null]", "cables.short.conductors[2] must be text, not nothing"),
    mistake("length: 45 ft", "length: §45", "'45' is not a length", "'45 ft' or '14 m'"),
    mistake("length: 45 ft", "length: §45 yd", "'45 yd' is not a length"),
    mistake("length: 45 ft", "length: §0 ft", "'0 ft' is not a length that a control cable has"),
    mistake("length: 45 ft", "§lenght: 45 ft", "unknown key 'lenght' in cables.wall", "did you mean 'length'?"),
    mistake("awg: 18", "awg: §12", "awg must be a whole number from 14 to 24", "not 12"),
    mistake("awg: 18", "awg: §18.5", "awg must be a whole number from 14 to 24", "not 18.5"),
    mistake("awg: 18", "awg: §true", "awg must be a whole number", "not true"),
    mistake("stranded: true", "stranded: §yes", "stranded must be true or false", "not 'yes'"),
    mistake("temperature: 40 C", "temperature: §warm", "'warm' is not a temperature", "'40 C' or '104 F'"),
    mistake("temperature: 40 C", "temperature: §400 C", "outside what control cable is made for"),
    # landings
    mistake("  wall.green: ", "  §wall.gren: ", "'wall' has nothing called 'gren'", "did you mean 'green'?"),
    mistake("  wall.green: ", "  §wal.green: ", "'wal.green' is not a conductor of this job", "did you mean 'wall.green'"),
    mistake("  wall.green: ", "  §green: ", "'green' is not a conductor", "'wall.green'"),
    mistake("  wall.green: ", "  §board.G: ", "'board.G' is a terminal, not a conductor"),
    mistake("[stat.G, board.G]", "[stat.G, §bord.G]", "'bord.G' is not a terminal or a splice", "'board.G'"),
    mistake("[stat.G, board.G]", "[stat.G, §board.J]", "'board' has nothing called 'J'", "valid: C, G, R, W, Y, chassis"),
    mistake("[stat.G, board.G]", "[stat.G, §board]", "'board' is equipment, not a terminal or a splice", "board.G"),
    mistake("[stat.G, board.G]", "[stat.G, §board.fuse]", "'board.fuse' is an element", "not a terminal"),
    mistake("[stat.G, board.G]", "[stat.G, §cond.Y]", "'cond.Y' is in 'yard'", "this end of 'wall' is in 'cellar'", "board.Y"),
    mistake("[stat.G, board.G]", "[§board.G, stat.G]", "'board.G' is in 'cellar'", "change the two ends over"),
    mistake("[stat.G, board.G]", "[§board.G, null]", "'board.G' is in 'cellar'", "change the two ends over"),
    mistake("[stat.G, board.G]", "[stat.G, §stat.G]", "both ends of 'wall.green' sit on 'stat.G'"),
    mistake("[stat.G, board.G]", "§[stat.G]", "landings.wall.green must name exactly two", "not 1"),
    mistake("[stat.G, board.G]", "§stat.G", "landings.wall.green must be a list", "not 'stat.G'"),
    mistake("wall.green:    [stat.G, board.G]", "§wall.green:", "landings.wall.green must be a list", "not nothing"),
    mistake("[stat.Y, through]", "[stat.Y, §throgh]", "'throgh' is not a terminal or a splice", "did you mean 'through'?"),
    mistake("  wall.green: ", "  §wall.red: ", "the key 'wall.red' stands here again", "line 15"),
    # splices and jumpers
    mistake("  through: cellar", "  through: §[cellar]", "splices.through must be text", "not a list"),
    mistake("- [stat.Rc, stat.Rh]", "- [stat.Rc, stat.Rh]\n  - [stat.Rc, §stat.Rx]", "'stat' has nothing called 'Rx'",
            "valid: C, G, Rc"),
    mistake("- [stat.Rc, stat.Rh]", "- [stat.Rc, stat.Rh]\n  - [board.R, §through]", "'through' is a splice, not a terminal",
            "a conductor leads there, of a cable between [cellar, cellar]"),
    mistake("- [stat.Rc, stat.Rh]", "- [stat.Rc, stat.Rh]\n  - [board.Y, §cond.Y]", "'board.Y' is in 'cellar'",
            "'cond.Y' in 'yard'"),
    mistake("- [stat.Rc, stat.Rh]", "- [stat.Rc, stat.Rh]\n  - [board.Y, §board.Y]", "a jumper from 'board.Y' to itself"),
    mistake("- [stat.Rc, stat.Rh]", "- [stat.Rc, stat.Rh]\n  - §[stat.Rh, stat.Rc]", "listed twice"),
    mistake("- [stat.Rc, stat.Rh]", "- [stat.Rc, stat.Rh]\n  - §stat.Rh", "jumpers[2] must be a list"),
    # serves and contacts
    mistake("[cool, fan]", "[§cooling, fan]", "there is no call 'cooling'", "did you mean 'cool'?"),
    mistake("[cool, fan]", "[cool, §cool]", "the call 'cool' is listed twice"),
    mistake("[cool, fan]", "[cool, §cool-2]", "no thermostat of this job can make the call 'cool-2'", "did you mean 'cool'?"),
    mistake("[cool, fan]", "[cool, §null]", "serves[2] must be text, not nothing"),
    mistake("cond.high-pressure: open", "§cond.hi-pressure: open", "nothing called 'hi-pressure'", "'high-pressure'"),
    mistake("cond.high-pressure: open", "cond.high-pressure: §shut", "must be open or closed", "not 'shut'"),
    mistake("cond.high-pressure: open", "§stat.contact-Y: open", "is an element of another kind (contact), not a field contact"),
    mistake("cond.high-pressure: open", "§cond: open", "'cond' is equipment, not a field contact"),
    mistake("{pressure-switches: true}}", "{pressure-switches: false}}", "'cond.high-pressure' is an element that is not fitted",
            "pressure-switches: false"),
    # faults
    mistake("- open: wall.white", "- §opn: wall.white", "unknown key 'opn' in faults[1]", "did you mean 'open'?"),
    mistake("- open: wall.white", "- open: §wall.wite", "'wall' has nothing called 'wite'", "did you mean 'white'?"),
    mistake("- open: wall.white", "- open: §board.Y", "'board.Y' is a terminal, not a conductor or an element"),
    mistake("- open: wall.white", "- open: §board.fuze", "'board' has nothing called 'fuze'", "did you mean 'fuse'"),
    mistake("- open: wall.white", "- §open:", "faults[1].open names nothing"),
    mistake("- open: wall.white", "- §open wall.white", "faults[1] must hold keys with values", "valid: burned, dead"),
    mistake("- open: wall.white", "- {open: wall.white, §dead: board.transformer}", "one fault a line", "'open' already"),
    mistake("- open: wall.white", "- §{}", "faults[1] names no fault", "valid: burned, dead"),
    mistake("- open: wall.white", "- short: [wall.white, §outside.red]", "'outside.red' is not in cable 'wall'", "valid: "),
    mistake("- open: wall.white", "- short: [wall.white, §board.R]", "'board.R' is a terminal, not a conductor or a chassis",
            "board.chassis"),
    mistake("- open: wall.white", "- short: [board.chassis, §cond.chassis]", "joined already"),
    mistake("- open: wall.white", "- short: [wall.white, §wall.white]", "'wall.white' twice"),
    mistake("- open: wall.white", "- short: §wall.white", "faults[1].short must be a list"),
    mistake("- open: wall.white", "- dead: §board.fuse", "(fuse), not a source or a function", "'board.heat'"),
    mistake("- open: wall.white", "- stuck: §board.fuse", "(fuse), not a contact"),
    mistake("- open: wall.white", "- tripped: §stat.contact-Y", "(contact), not a field contact"),
    mistake("- open: wall.white", "- high-resistance: wall.white\n    ohms: §0", "ohms must be a number above 0", "not 0"),
    mistake("- open: wall.white", "- high-resistance: wall.white\n    ohms: §.inf", "ohms must be a number above 0", "not .inf"),
    mistake("- open: wall.white", "- open: wall.white\n    §ohms: 20", "'ohms' goes with 'high-resistance'", "not with 'open'"),
    mistake("- open: wall.white", "- swapped: [wall.white, §outside.white]", "'outside.white' is not in cable 'wall'"),
    mistake("missing: [stat.Rh, stat.Rc]", "missing: §[board.R, board.Y]", "the job has no jumper from 'board.R' to 'board.Y'",
            "[stat.Rc, stat.Rh]"),
    # YAML
    mistake("[stat.G, board.G]", "[stat.G, board.G]§]", "']' does not fit here"),
    mistake("note: Invented.", "note: §\"Invented.", "no closing quote"),
    mistake("note: Invented.", "note: §[Invented.", "this '[' is never closed"),
    mistake("note: Invented.", "note: here§: there", "a ':' where none can be"),
    mistake("note: Invented.", "note: §@home", "'@home' cannot start a value"),
    mistake("note: Invented.", "note: \"§\\q\"", "'\\q' is no escape"),
    mistake("note: Invented.", "note: §\"\\e\"", "a character that no text here needs"),
    mistake("note: Invented.", "note: §&a Invented.", "'&a' is an anchor"),
    mistake("note: Invented.", "note: §*a", "'*a' is an alias"),
    mistake("note: Invented.", "note: §!!str Invented.", "is a tag"),
    mistake("serves:", "§---\nserves:", "a second document starts here"),
    mistake("note: Invented.", "note: In§\x07vented.", "'\\x07'"),
    mistake("note: Invented.", "note: In§\u202evented.", "'\\u202e'"),
)  # fmt: skip


@pytest.mark.parametrize("case", MISTAKES, ids=lambda case: case.wrong)
def test_one_mistake(case: Mistake) -> None:
    assert case.right in SOUND
    marked = SOUND.replace(case.right, case.wrong, 1)
    text = marked.replace(HERE, "")
    problems = problems_of(text)
    assert len(problems) == 1, [str(problem) for problem in problems]
    if HERE in case.wrong:
        before = marked[: marked.index(HERE)]
        assert (problems[0].line, problems[0].column) == (before.count("\n") + 1, len(before) - before.rfind("\n"))
    for word in case.words:
        assert word in problems[0].message


TEN = """\
callpath: 3
titel: Ten mistakes
equipment:
  stat:  {part: thermostat/single-suply, at: hall}
  board: {part: indoor/furnace-board, at: cellar, settings: {fuse-amp: 3}}
  cond:  {part: outdoor/condenser, at: yard}
cables:
  wall:    {between: [hall, celar], length: 45, conductors: [red, white, red]}
  outside: {between: [cellar, yard], conductors: [red, white]}
landings:
  wall.red:      [stat.R, board.R]
  outside.red:   [board.Z, cond.Y]
  outside.whit:  [board.C, cond.C]
serves: [kool]
faults:
  - dead: board.fuse
"""


def test_ten_mistakes_are_told_at_once() -> None:
    told = [(problem.line, problem.column) for problem in problems_of(TEN)]
    assert told == [(1, 11), (2, 1), (4, 17), (5, 62), (8, 29), (8, 45), (8, 74), (12, 19), (13, 3), (14, 10), (16, 11)]


def test_a_syntax_error_hides_nothing_after_it() -> None:
    text = TEN.replace("conductors: [red, white, red]}", "conductors: [red, white, red}").replace("titel:", "title: a:")
    told = [(problem.line, problem.column) for problem in problems_of(text)]
    # Between them only what stands in the spoilt entry is lost.
    assert told == [(1, 11), (2, 9), (4, 17), (5, 62), (8, 77), (12, 19), (14, 10), (16, 11)]


def test_places_are_in_characters() -> None:
    (problem,) = problems_of(
        SOUND.replace("title: Boat house", "title: Bootshäuser ☂").replace("note: Invented.", "note: ['ä']")
    )
    assert (problem.line, problem.column) == (3, 7)
    (problem,) = problems_of("\ufeff" + SOUND.replace("callpath: 1", "callpath: 2"))
    assert (problem.line, problem.column) == (1, 11)


def test_what_refers_to_a_wrong_entry_is_not_called_wrong_too() -> None:
    for right, wrong in (
        ("indoor/furnace-board", "indoor/furnace"),
        ("at: cellar, settings", "att: cellar, settings"),
        ("  board: {", "  board: &b {"),
        ("conductors: [red, white, green, blue, yellow]", "conductors: red"),
        ("cables:", "cabels:"),
        ("equipment:", "equpment:"),
        ("splices:", "splice:"),
    ):
        assert len(problems_of(SOUND.replace(right, wrong, 1))) == 1, wrong


def test_long_and_odd_words_are_shown_short_and_escaped() -> None:
    word = "z" * 5000 + "\N{RIGHT-TO-LEFT MARK}"
    for problem in problems_of(SOUND.replace("[stat.G, board.G]", f"[stat.G, '{word}']") + f"  - open: '{word}'\n"):
        assert len(problem.message) < 400
        assert problem.message.isprintable()
