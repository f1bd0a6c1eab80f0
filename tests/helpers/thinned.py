"""Long tables of like cases: the default tests take some of each, the slow ones all the others."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from typing import Any

import pytest


def thinned(cases: Iterable[Any], *, keep: int = 4, rows: bool = False) -> list[Any]:
    """Return cases of one argument, or ``rows`` of several, all but every ``keep``-th marked slow."""
    return [case if number % keep == 0 else pytest.param(*(case if rows else [case]), marks=pytest.mark.slow)
            for number, case in enumerate(cases)]


def slow_where(slow: Callable[[Any], bool], cases: Iterable[Any]) -> list[Any]:
    """Return cases of one argument, those marked slow that are."""
    return [pytest.param(case, marks=pytest.mark.slow) if slow(case) else case for case in cases]
