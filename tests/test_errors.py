from __future__ import annotations

import inspect

import pytest

import callpath.errors
from callpath.errors import (
    CallpathError,
    CatalogueError,
    FaultDataError,
    InputError,
    JobError,
    Problem,
    QuestionError,
    SeenError,
    SolveError,
    StoppedError,
    nearest,
)


def test_one_tree() -> None:
    classes = {
        member
        for _, member in inspect.getmembers(callpath.errors, inspect.isclass)
        if issubclass(member, Exception) and member.__module__ == "callpath.errors"
    }
    assert classes == {
        CallpathError,
        InputError,
        JobError,
        SeenError,
        FaultDataError,
        CatalogueError,
        QuestionError,
        SolveError,
        StoppedError,
    }
    assert all(issubclass(member, CallpathError) for member in classes)
    assert issubclass(JobError, InputError)
    assert issubclass(CatalogueError, InputError)


def test_the_docstring_draws_the_whole_tree() -> None:
    drawn = callpath.errors.__doc__ or ""
    for name in (
        "CallpathError",
        "InputError",
        "JobError",
        "SeenError",
        "FaultDataError",
        "CatalogueError",
        "QuestionError",
        "SolveError",
        "StoppedError",
    ):
        assert name in drawn


def test_public_face_is_complete() -> None:
    here = {
        name
        for name, member in vars(callpath.errors).items()
        if getattr(member, "__module__", "") == "callpath.errors" and not name.startswith("_")
    }
    assert here == set(callpath.errors.__all__)


def test_problem_names_its_place() -> None:
    problem = Problem("garden.job.yaml", 7, 11, "what is wrong")
    assert str(problem) == "garden.job.yaml:7:11: what is wrong"
    assert str(Problem("garden.job.yaml", 0, 0, "cannot be read")) == "garden.job.yaml: cannot be read"
    assert problem.as_json() == {"file": "garden.job.yaml", "line": 7, "column": 11, "message": "what is wrong"}


def test_input_error_holds_every_problem_in_the_order_of_the_file() -> None:
    problems = [Problem("a", 10, 2, "late"), Problem("a", 9, 1, "early"), Problem("a", 10, 1, "middle")]
    error = JobError(problems)
    assert [problem.message for problem in error.problems] == ["early", "middle", "late"]
    assert str(error).splitlines() == ["a:9:1: early", "a:10:1: middle", "a:10:2: late"]


@pytest.mark.parametrize(
    ("word", "valid", "told"),
    [
        ("titel", ["title", "note", "hz"], "did you mean 'title'?"),
        ("BOARD", ["board", "stat"], "did you mean 'board'?"),
        ("Z", ["C", "R", "W"], "valid: C, R, W"),
        ("", ["C"], "valid: C"),
        ("x", [], ""),
        ("x", (letter for letter in "ba"), "valid: a, b"),
        (
            "zzz",
            [f"w{i:02}" for i in range(20)],
            "valid: w00, w01, w02, w03, w04, w05, w06, w07, w08, w09, w10, w11, …",
        ),
    ],
)
def test_nearest(word: str, valid: list[str], told: str) -> None:
    assert nearest(word, valid) == told


def test_nearest_names_the_best_first_and_no_more_than_asked() -> None:
    valid = ["cool", "cool-2", "cool-3", "cool-4", "heat"]
    assert nearest("col", valid).startswith("did you mean 'cool' or ")
    assert nearest("cool", valid, most=1) == "did you mean 'cool'?"
    assert nearest("kool", valid).count("'") <= 6
