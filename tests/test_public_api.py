"""The public face: every name importable, none missing, and the docstring's example true."""

from __future__ import annotations

import ast
import doctest
import os
import subprocess
import sys
from importlib import import_module
from pathlib import Path

import pytest

import callpath

ROOT = Path(__file__).parents[1]
SOURCE = ast.parse(Path(callpath.__file__).read_text(encoding="utf-8"))


@pytest.mark.parametrize("name", callpath.__all__)
def test_every_name_is_there(name: str) -> None:
    assert getattr(callpath, name) is not None


def test_all_is_sorted_and_holds_each_name_once() -> None:
    assert list(callpath.__all__) == sorted(set(callpath.__all__))
    assert dir(callpath) == sorted(callpath.__all__)


def test_what_type_checkers_see_is_what_is_exported() -> None:
    (checking,) = [node for node in SOURCE.body if isinstance(node, ast.If)]
    seen = {
        alias.name: node.module for node in checking.body if isinstance(node, ast.ImportFrom) for alias in node.names
    }
    assert set(seen) == set(callpath.__all__)
    for name, module in seen.items():
        assert module is not None
        assert getattr(import_module(module), name) is getattr(callpath, name)
        assert name in import_module(module).__all__


def test_a_name_that_is_not_there_is_told() -> None:
    with pytest.raises(AttributeError, match="module 'callpath' has no attribute 'prov'"):
        callpath.prov  # noqa: B018


def test_the_docstrings_example_is_true(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(ROOT)
    assert doctest.testmod(callpath, raise_on_error=True).attempted == 3


def test_importing_loads_nothing_heavy() -> None:
    """So that a program which only wants to know the version pays for nothing."""
    heavy = "numpy pydantic ruamel rustworkx rich typer"
    code = f"import sys, callpath; print([name for name in {heavy.split()!r} if name in sys.modules])"
    ran = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True, env=os.environ)
    assert ran.stdout.strip() == "[]"


def test_every_public_module_says_what_is_public() -> None:
    for file in (ROOT / "src" / "callpath").rglob("*.py"):
        tree = ast.parse(file.read_text(encoding="utf-8"))
        public = [
            node.name
            for node in tree.body
            if isinstance(node, (ast.FunctionDef, ast.ClassDef)) and not node.name.startswith("_")
        ]
        names = [
            target.id
            for node in tree.body
            if isinstance(node, ast.Assign)
            for target in node.targets
            if isinstance(target, ast.Name)
        ]
        if public:
            assert "__all__" in names, file


def test_the_package_is_typed() -> None:
    assert (Path(callpath.__file__).parent / "py.typed").is_file()
