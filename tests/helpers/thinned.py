"""Long tables of like cases: the default tests take some of each, the slow ones all the others."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import pytest


def thinned(cases: Sequence[Any], *, keep: int = 4) -> list[Any]:
    """Return cases of one argument, all but every ``keep``-th marked slow."""
    return [case if number % keep == 0 else pytest.param(case, marks=pytest.mark.slow)
            for number, case in enumerate(cases)]
