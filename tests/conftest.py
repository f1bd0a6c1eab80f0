"""Every run of the tests draws the same cases, so that a pass or a failure can be repeated."""

from __future__ import annotations

import os
import sys

import pytest
from hypothesis import settings

# the tests start the command often: each start would compile all of layout/ again where bytecode is not kept
os.environ.pop("PYTHONDONTWRITEBYTECODE", None)
sys.dont_write_bytecode = False

settings.register_profile("repeatable", derandomize=True, deadline=None)
settings.load_profile("repeatable")

LARGE = ("[long-wall", "[hillside")
"""How the cases of the larger samples begin: each takes long, and the smaller samples go the same ways."""


@pytest.hookimpl(tryfirst=True)
def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Count what is asked of the larger samples among the slow tests."""
    for item in items:
        if any(large in item.name for large in LARGE):
            item.add_marker(pytest.mark.slow)
