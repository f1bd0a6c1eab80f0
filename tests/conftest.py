"""Every run of the tests draws the same cases, so that a pass or a failure can be repeated."""

from __future__ import annotations

import gc
import os
import sys

import pytest
from hypothesis import settings

# the tests start the command often: each start would compile all of layout/ again where bytecode is not kept
os.environ.pop("PYTHONDONTWRITEBYTECODE", None)
sys.dont_write_bytecode = False

# modules and test items stay until the end: no search for garbage needs to walk all of them again and again
gc.disable()

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


def pytest_collection_finish() -> None:
    """Look for garbage only among what the tests themselves make, and as seldom as the command does."""
    from layout.garbage import seldom  # not before what the tests run of layout/ is measured

    gc.freeze()
    seldom()
    gc.enable()
