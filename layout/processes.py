"""How processes for planning are begun: forked from one that has imported what planning and writing a packet take.

That one, the forkserver of the standard library, runs no solver and no thread of ours, so nothing but modules is
inherited. Where there is none (Windows) a process is started afresh and imports by itself.
"""

from __future__ import annotations

import gc
import multiprocessing
import os
import signal
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from multiprocessing import forkserver
from multiprocessing.context import BaseContext

from layout.garbage import seldom

READY = (
    "layout.together.work", "layout.drawing.cad_sheets", "layout.drawing.dxf", "layout.drawing.dxf_folded",
    "layout.drawing.flat_sheets", "layout.drawing.fold_details", "layout.drawing.folded", "layout.drawing.packet_pages",
    "layout.drawing.pdf", "layout.drawing.roll_cards", "layout.drawing.svg", "layout.packet.html",
    "layout.packet.workbook",
)
"""Modules that are imported before processes are forked; a test holds that planning and writing import no others."""


def cores() -> int:
    """Return how many processes can run at once here."""
    if hasattr(os, "sched_getaffinity"):
        return len(os.sched_getaffinity(0))
    return os.cpu_count() or 1


def context() -> BaseContext:
    """Return how processes are begun."""
    if "forkserver" not in multiprocessing.get_all_start_methods():
        return multiprocessing.get_context("spawn")
    found = multiprocessing.get_context("forkserver")
    found.set_forkserver_preload(list(READY))
    with _own_path(), _no_interrupt():
        forkserver.ensure_running()
    return found


def begin() -> None:
    """Begin a process: the terminal's Ctrl-C is for the one that started it; what is imported is no garbage."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    gc.freeze()
    seldom()


@contextmanager
def _own_path() -> Iterator[None]:
    """Let a process that is started import from where this one does.

    Before Python 3.12.8 the forkserver is told the path of modules and leaves it unused (python/cpython#117378); a
    module that it does not find it passes over, and every process then imports it by itself.
    """
    before = os.environ.get("PYTHONPATH")
    os.environ["PYTHONPATH"] = os.pathsep.join(each or os.getcwd() for each in sys.path)
    try:
        yield
    finally:
        if before is None:
            del os.environ["PYTHONPATH"]
        else:
            os.environ["PYTHONPATH"] = before


@contextmanager
def _no_interrupt() -> Iterator[None]:
    """Keep Ctrl-C from a process that is started: it goes to all processes of the terminal, while that one imports."""
    before = signal.pthread_sigmask(signal.SIG_BLOCK, {signal.SIGINT})
    try:
        yield
    finally:
        signal.pthread_sigmask(signal.SIG_SETMASK, before)
