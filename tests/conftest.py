"""Every run of the tests draws the same cases, so that a pass or a failure can be repeated."""

from __future__ import annotations

import pytest
from hypothesis import settings

settings.register_profile("repeatable", derandomize=True, deadline=None)
settings.load_profile("repeatable")

LARGE = "[long-wall"
"""How the cases of the largest sample begin: each takes long, and the smaller samples go the same ways."""


@pytest.hookimpl(tryfirst=True)
def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Count what is asked of the largest sample among the slow tests."""
    for item in items:
        if LARGE in item.name:
            item.add_marker(pytest.mark.slow)
