"""Tests of the source: one test asks one thing of many files, and names every file that fails it."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent.parent


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
