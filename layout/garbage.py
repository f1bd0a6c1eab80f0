"""When garbage is looked for: a plan makes many records and little garbage, and looking takes time."""

from __future__ import annotations

import atexit
import gc

SELDOM = (1_000_000, 50, 50)


def seldom() -> None:
    """Look for garbage seldom, in this process, from now on, and not at its end, when all memory is given back."""
    gc.set_threshold(*SELDOM)
    atexit.register(gc.freeze)
