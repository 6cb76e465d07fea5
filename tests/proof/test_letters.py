"""Equal letters of different meaning: weak where nothing is hurt, a danger where a source is shorted; never joined by land."""

from __future__ import annotations

import pytest

from callpath.calls.letters import traps
from callpath.landing.land import land
from callpath.parts.catalogue import default_catalogue, letters
from tests.jobs import COTTAGE, HOUSE, PUMP, amended, codes, having, job_of, only, proof_of

# Letters known to conflict across makes: P, charts; which of them on which make is of medium confidence.
CONFLICTS = {
    "B": {"changeover", "common"},
    "C": {"common", "cool"},
    "M": {"cool", "power"},
    "X": {"common", "fault"},
    "V": {"power", "ventilate"},
}
POWER = {"R", "V", "4", "5", "M"}

OLD_STAT = amended(
    HOUSE,
    equipment="{stat: {part: thermostat/old-letters, at: hall}}",
    landings="{wall.blue: null, wall.white: [stat.H, board.W], wall.yellow: [stat.C, board.Y], wall.green: [stat.F, board.G]}",
)
B_IS_COMMON = amended(
    HOUSE,
    equipment="""{stat: {part: thermostat/separate-changeover, at: hall}, board: {part: indoor/common-b-board, at: cellar}}""",
    landings="{wall.blue: [stat.C, board.B], outside.white: [board.B, cond.C], wall.white: null}",
    serves="[fan, cool]",
)


# ---- the table ---------------------------------------------------------------------------------------------------


def test_the_table_holds_the_letters_and_their_conflicts() -> None:
    assert len(letters()) >= 25
    for letter, wanted in CONFLICTS.items():
        assert wanted <= {purpose for meaning in letters()[letter] for purpose in meaning.means}, letter
    assert {letter for letter in POWER if any("power" in meaning.means for meaning in letters()[letter])} == POWER
    assert {"cool", "fan"} <= set(letters()["K"][0].means)  # P: Y and G combined


def test_every_meaning_has_a_mark() -> None:
    for letter, found in letters().items():
        assert found, letter
        for meaning in found:
            assert meaning.source.split(":")[0] in ("P", "M", "C", "CP"), letter
            assert meaning.said
            assert meaning.era


def test_every_part_means_by_a_letter_what_the_table_knows() -> None:
    for name in default_catalogue().names:
        for letter, terminal in default_catalogue().part(name).terminals.items():
            known = letters().get(letter)
            if known and not set(terminal.means) <= {"pass", "coil", "dry"}:
                assert any(set(meaning.means) & set(terminal.means) for meaning in known), f"{name} {letter}"


# ---- the finding -------------------------------------------------------------------------------------------------


def test_c_for_cooling_on_c_for_common_shorts_the_source() -> None:
    wrong = proof_of(OLD_STAT, landings="{wall.yellow: [stat.C, board.C]}")
    found = only(wrong, "letter-trap")
    assert found.severity == "danger"
    assert found.calls == ("cool",)
    assert found.where == ("wall.yellow", "stat.C", "board.C")
    assert found.path == ("stat.C", "wall.yellow", "board.C")
    assert "cooling" in found.message
    assert "the common" in found.message
    assert "board.Y" in found.remedy
    # One cause, one finding: what the letters explain is not told again as ends that disagree.
    assert "ends-disagree" not in codes(wrong)
    assert "letter-trap" not in codes(proof_of(OLD_STAT))


def test_b_for_a_valve_on_b_for_common_shorts_the_source_in_heating() -> None:
    assert codes(proof_of(B_IS_COMMON)) == []
    found = only(proof_of(B_IS_COMMON, landings="{wall.white: [stat.B, board.B]}"), "letter-trap")
    assert found.severity == "danger"
    assert "heat" in found.calls
    assert "cool" not in found.calls


def test_a_trap_that_hurts_nothing_is_weak() -> None:
    x = amended(
        PUMP,
        equipment="""{stat: {part: thermostat/separate-changeover, at: parlour},
                      pump: {part: outdoor/heat-pump-x-common, at: orchard}}""",
        cables="{spare: {between: [parlour, orchard], length: 60 ft, conductors: [brown]}}",
        landings="""{wall.orange: [stat.O, valve], outside.orange: [valve, pump.O], outside.blue: [air.C, pump.X],
                     outside.white: [heat, pump.W2]}""",
    )
    assert codes(proof_of(x)) == []
    found = only(proof_of(x, landings="{spare.brown: [stat.X, pump.X]}"), "letter-trap")
    assert found.severity == "weak"
    assert "fault light" in found.message


def test_past_a_splice_and_on_a_jumper_it_is_found_once() -> None:
    past = amended(
        OLD_STAT,
        splices="{mid: cellar}",
        cables="{patch: {between: [cellar, cellar], length: 3 ft, conductors: [yellow]}}",
        landings="{wall.yellow: [stat.C, mid], patch.yellow: [mid, board.C]}",
    )
    found = only(proof_of(past), "letter-trap")
    assert found.severity == "danger"
    assert set(found.where[1:]) == {"stat.C", "board.C"}
    beside = amended(B_IS_COMMON, equipment="{near: {part: thermostat/separate-changeover, at: cellar}}")
    jumped = proof_of(beside, jumpers="[[near.B, board.B]]")
    assert having(jumped, "letter-trap", "near.B").path == ("near.B", "board.B")


@pytest.mark.parametrize(
    ("one", "two", "trap"),
    [
        ("stat.C", "board.C", True),
        ("stat.C", "board.Y", False),
        ("stat.R", "board.R", False),
        ("stat.F", "board.G", False),
    ],
)
def test_traps(one: str, two: str, trap: bool) -> None:
    job = job_of(OLD_STAT)
    assert traps(job, one, two) is traps(job, two, one) is trap


def test_other_classes_are_wrong_class_and_no_trap() -> None:
    bus = amended(
        COTTAGE,
        equipment="{bus: {part: indoor/data-bus-board, at: cellar}, old: {part: indoor/common-b-board, at: cellar}}",
    )
    wrong = proof_of(bus, jumpers="[[bus.B, old.B]]")
    assert "wrong-class" in codes(wrong)
    assert "letter-trap" not in codes(wrong)


# ---- landing -----------------------------------------------------------------------------------------------------


def test_land_never_joins_letters_that_lie() -> None:
    bare = amended(OLD_STAT, landings=dict.fromkeys(OLD_STAT["landings"]))
    landed = land(job_of(bare))
    job = landed.job
    assert set(landed.serves) == {"fan", "cool", "heat"}
    ends = {conductor: set(landing) for conductor, landing in job.landings.items() if None not in landing}
    assert not any({"stat.C", "board.C"} <= pair for pair in ends.values())
    assert any({"stat.C", "board.Y"} <= pair for pair in ends.values())
