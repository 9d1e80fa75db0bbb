"""The examples in the docstrings run and show what is said."""

from __future__ import annotations

import doctest
from importlib import import_module
from pathlib import Path

import pytest

SOURCE = Path(__file__).resolve().parents[1] / "src"
FILES = [path for path in sorted(SOURCE.rglob("*.py")) if ">>> " in path.read_text(encoding="utf-8")]


def name_of(path: Path) -> str:
    words = path.relative_to(SOURCE).with_suffix("").parts
    return ".".join(words[:-1] if words[-1] == "__init__" else words)


@pytest.mark.parametrize("path", FILES, ids=name_of)
def test_the_examples_of_a_module_run(path):
    found = doctest.testmod(import_module(name_of(path)))
    assert found.attempted > 0
    assert found.failed == 0


def test_there_are_examples_to_run():
    assert len(FILES) > 50
