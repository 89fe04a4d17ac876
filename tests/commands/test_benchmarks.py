"""Benchmarks are run by hand, months apart: each must still find all that it speaks of."""

import ast
import importlib
import runpy
from pathlib import Path

import pytest

BENCHMARKS = sorted((Path(__file__).parents[1] / "benchmarks").glob("*.py"))


@pytest.mark.parametrize("path", BENCHMARKS, ids=lambda path: path.stem)
def test_a_benchmark_finds_what_it_imports(path: Path) -> None:
    """Its own imports, and those of the programs that it starts as texts."""
    held = runpy.run_path(str(path), run_name="not main")
    assert callable(held["main"])
    for text in held.values():
        if isinstance(text, str) and "\nimport " in text:
            for node in ast.walk(ast.parse(text)):
                if isinstance(node, ast.ImportFrom) and node.module:
                    module = importlib.import_module(node.module)
                    assert all(hasattr(module, name.name) for name in node.names), node.module


def test_there_are_benchmarks() -> None:
    assert BENCHMARKS
