"""Finding hidden faults: by the answers of a job with its tolerances drawn, whatever is read wrong once or assumed wrongly."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from callpath.errors import QuestionError
from callpath.faults.answer import advice_for
from callpath.faults.asked import Answer, Check, Seen
from callpath.faults.practice import complaint_of, hide
from callpath.faults.prior import default_priors
from callpath.faults.troubleshoot import Case
from callpath.faults.universe import repair_of
from callpath.faults.world import World
from callpath.job.model import Fault
from tests.jobs import HOUSE, PUMP, job_of

FAULTS = [
    Fault("open", ("outside.red",)),
    Fault("loose", ("wall.yellow", "board.Y")),
    Fault("open", ("cond.contactor",)),
    Fault("open", ("board.fuse",)),
    Fault("dead", ("board.transformer",)),
    Fault("open", ("board.transformer",)),
    Fault("short", ("wall.red", "wall.blue")),
    Fault("stuck", ("stat.contact-G",)),
    Fault("high-resistance", ("outside.white",), ohms=20.0),
    Fault("swapped", ("wall.yellow", "wall.green")),
    Fault("tapped", ("board.transformer",), volts=13.5),
]


def hunt(case: Case, faults: tuple[Fault, ...], wrong_once: bool = False, seed: int = 0) -> tuple[bool, float, int]:
    """Return whether the repair is found, the minutes, and the tests that it took."""
    world = World(case.job, faults, np.random.default_rng(seed))
    seen, at, minutes = [complaint_of(case, faults)], case.locations[0], 0.0
    for _ in range(40):
        answer = case.answer(seen, at)
        if answer.next is None:
            break
        given = world.answer(answer.next.test)
        if wrong_once and answer.next.test.kind == "volts":
            given, wrong_once = Answer({}, 27.0 if given.value < 10 else 0.0), False
        if wrong_once and answer.next.test.kind == "running":
            given, wrong_once = Answer({name: not on for name, on in given.running.items()}), False
        seen.append(Seen(answer.next.test, given))
        at, minutes = answer.next.at, minutes + answer.next.minutes
    hidden = {repair_of(fault) for fault in faults}
    top = answer.suspects[0]
    alike = [s.faults for s in answer.suspects if s.group == top.group]
    return any({repair_of(f) for f in held} == hidden for held in (top.faults, *alike)), minutes, len(seen) - 1


@pytest.mark.parametrize("fault", FAULTS, ids=lambda fault: f"{fault.kind}-{fault.where[0]}")
def test_a_hidden_fault_is_found(fault: Fault) -> None:
    found, _, tests = hunt(Case(job_of(HOUSE)), (fault,))
    assert found
    assert tests < 20


@pytest.mark.parametrize("fault", [Fault("idle", ("cond.compressor",)), Fault("open", ("cond.contactor",))], ids=str)
def test_a_look_is_only_at_what_was_not_looked_at_on_that_call(fault: Fault) -> None:
    case = Case(job_of(HOUSE))
    world = World(case.job, (fault,), np.random.default_rng(1))
    seen = [complaint_of(case, (fault,))]
    coil_alone = False
    for _ in range(20):
        following = case.answer(seen).next
        if following is None:
            break
        test = following.test
        if test.kind == "running" and "make it again" not in following.why:
            looked = {name for item in seen if item.test.setup == test.setup for name in item.test.functions}
            assert not looked & set(test.functions)
            coil_alone |= "look whether cond.contactor is pulled in" in following.words
        seen.append(Seen(test, world.answer(test)))
    assert coil_alone


def test_wrong_priors_do_not_hide_a_fault() -> None:
    job = job_of(HOUSE)
    weights = default_priors().weights
    tilted = {kind: weight * (10 if n % 2 else 0.1) for n, (kind, weight) in enumerate(weights.items())}
    skewed = Case(job, replace(default_priors(), weights=tilted))
    for fault in FAULTS[:8:2]:
        assert hunt(skewed, (fault,))[0], fault


def test_a_rival_that_other_rates_would_make_as_likely_is_tested_for_before_the_verdict() -> None:
    """A transformer thought forty times likelier than the fuse is not believed before the fuse is looked at."""
    weights = {**default_priors().weights, "open-fuse": 1.0, "open-source": 40.0}
    case = Case(job_of(HOUSE), replace(default_priors(), weights=weights))
    found, _, tests = hunt(case, (Fault("open", ("board.fuse",)),))
    assert found
    assert tests < 20


def test_what_is_mended_with_gas_or_line_voltage_says_so() -> None:
    assert advice_for(()) == advice_for((Fault("open", ("cond.contactor",)),)) == ()
    assert "licensed practice" in " ".join(advice_for((Fault("open", ("boiler.gas-valve",)),)))
    assert "capacitor" in " ".join(advice_for((Fault("idle", ("cond.compressor",)),)))


def test_an_answer_that_does_not_fit_is_asked_for_again() -> None:
    """The first voltage is read wrong: the later answers contradict it, and it is made again before anything is believed."""
    case = Case(job_of(HOUSE))
    for fault in FAULTS[:6]:
        assert hunt(case, (fault,), wrong_once=True)[0], fault


def test_the_answer_adds_up_and_every_suspect_can_be_planted() -> None:
    case = Case(job_of(PUMP))
    seen = [Seen(Check("running", "cool", ("pump.compressor",)), Answer({"pump.compressor": False}))]
    told = case.answer(seen).as_json()
    assert abs(sum(suspect["probability"] for suspect in told["suspects"]) + told["other"] - 1) < 1e-9
    probabilities = [suspect["probability"] for suspect in told["suspects"]]
    assert probabilities == sorted(probabilities, reverse=True)
    for suspect in told["suspects"]:
        job_of(PUMP, faults=suspect["faults"])
    assert told["next"]["minutes"] > 0
    assert sum(outcome["probability"] for outcome in told["next"]["outcomes"]) == pytest.approx(1)


def test_every_single_fault_can_be_planted_in_the_job() -> None:
    from callpath.job.write import fault_data

    for base in (HOUSE, PUMP):
        case = Case(job_of(base))
        planted = job_of(base, faults=[fault_data(fault) for fault in case.universe.faults])
        assert planted.faults == case.universe.faults


def test_pairs_are_all_there_but_those_that_change_one_place() -> None:
    case = Case(job_of(HOUSE))
    universe = case.universe
    assert len({(a, b) for a, b in zip(universe.one.tolist(), universe.two.tolist(), strict=True)}) == len(universe)
    assert universe.prior.sum() + universe.other == pytest.approx(1)
    assert 0.02 < universe.other < 0.05


def test_where_one_stands_must_be_a_place_of_the_job() -> None:
    with pytest.raises(QuestionError, match="cellar"):
        Case(job_of(HOUSE)).answer([], "celar")


def test_practice_is_the_same_for_the_same_seed_and_tells_the_best_path() -> None:
    case = Case(job_of(HOUSE))
    one, other = hide(case, 3), hide(case, 3)
    assert one.faults == other.faults
    assert len(hide(case, 3, faults=2).faults) == 2
    best = one.best()
    assert best.found
    assert 0 < best.minutes < 120
    check = best.steps[0].seen.test
    assert one.make(check).seen.answer == other.make(check).seen.answer
    assert one.names(" ".join(repair_of(one.faults[0])))
    assert not one.names("stat.contact-W wall.nothing")


def test_a_jump_that_would_blow_a_fuse_is_refused_in_practice() -> None:
    exercise = hide(Case(job_of(HOUSE)), 1)
    exercise.world = World(exercise.case.job, (), np.random.default_rng(0))
    with pytest.raises(QuestionError, match="fuse"):
        exercise.make(Check("running", "off", ("board.blower",), jumped=("board.R", "board.C")))


def test_joining_two_terminals_is_reckoned_for_everything_that_could_still_be_wrong() -> None:
    """A supply on its common burns something always; on the outdoor lead only while that pair may be touching."""
    case = Case(job_of(HOUSE))
    wrong = Check("running", "off", ("board.blower",), jumped=("board.R", "board.C"))
    assert "even in a sound job" in case.danger_of([], wrong)
    feed = Check("running", "off", ("cond.compressor",), jumped=("board.R", "board.Y"))
    told = case.danger_of([], feed)
    assert "if " in told
    assert "which is not ruled out" in told
    assert not case.danger_of([], Check("volts", "off", between=("board.R", "board.C")))
    exercise = hide(case, 1)
    with pytest.raises(QuestionError, match=r"do not join board\.R and board\.C"):
        exercise.refuse(wrong)


def test_no_jumper_is_asked_for_that_could_short_a_source_under_anything_suspected() -> None:
    """While an outdoor pair may be touching, feeding it by a jumper is not offered; what is offered trips nothing."""
    case = Case(job_of(HOUSE))
    seen = [Seen(Check("running", "cool", ("cond.compressor",)), Answer({"cond.compressor": False}))]
    belief, shows = case.belief(seen), case.shows(seen)
    rows = np.flatnonzero(belief.probability > 1e-5)
    touching = [
        row for row in rows.tolist() if Fault("short", ("outside.red", "outside.white")) in case.universe.faults_of(row)
    ]
    assert touching
    test = Check("running", "off", ("cond.compressor",), jumped=("board.R", "board.Y"))
    assert not case._harmless(shows, belief.probability, test)
    assert case._harmless(shows, np.eye(1, len(case.universe))[0], test)
