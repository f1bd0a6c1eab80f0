"""Tests of the source: one test asks one thing of many files, and names every file that fails it."""

from __future__ import annotations

import ast
from collections.abc import Callable, Iterable
from functools import lru_cache
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent.parent


@lru_cache(maxsize=None)
def tree_of(source: str) -> ast.Module:
    """Return a source's syntax tree; many tests ask for it, and none changes it."""
    return ast.parse(source)


@lru_cache(maxsize=None)
def nodes_of(source: str) -> tuple[ast.AST, ...]:
    """Return every node of a source."""
    return tuple(ast.walk(tree_of(source)))


def each_of(paths: Iterable[Path]) -> Callable[[Callable[[Path], None]], Callable[[], None]]:
    """Make a test of one file into one test of many; a test a file and rule would take longer to start than to run."""
    def of_all(test: Callable[[Path], None]) -> Callable[[], None]:
        def whole() -> None:
            wrong: list[str] = []
            for path in paths:
                try:
                    test(path)
                except AssertionError as error:
                    wrong.append(f"{path.relative_to(ROOT)}: {error}")
            assert not wrong, "\n".join(wrong)
        whole.__name__, whole.__doc__ = test.__name__, test.__doc__
        return whole
    return of_all
