"""Work done in other processes, so that the page always answers: the quick answer to the latest state, and plans."""

from __future__ import annotations

import contextlib
import multiprocessing
import os
import signal
import sys
import threading
import time
from collections.abc import Callable
from dataclasses import dataclass, field
from multiprocessing.connection import Connection
from pathlib import Path
from typing import Any

from layout.errors import LayoutError
from layout.processes import begin

NOTHING: dict[str, Any] = {
    "why": "", "figures": None, "exceptions": [], "warnings": [], "seams": [], "drawings": {}}
"""A quick answer that says nothing."""
GRACE = 3.0
"""How long a quick answer that nobody waits for any more may go on before its process is ended [seconds]: starting
another one takes a second of processor time."""
PATIENCE = 5.0
"""How long a plan that is ended may take to clear away what it has half written [seconds]."""
TICK = 0.05
"""How often it is looked whether somebody still waits [seconds]."""

_CONTEXT = multiprocessing.get_context("spawn")


class Sketcher:
    """One process that answers one job after the other; always the latest, never one that is out of date."""

    def __init__(self) -> None:
        self.process: multiprocessing.process.BaseProcess | None = None
        self._pipe: Connection | None = None
        self._lock = threading.RLock()

    def ask(self, text: str, file: str, plain: Any, stale: Callable[[], bool]) -> dict[str, Any] | None:
        """Return the answer to a job, from a thread that may wait; None when it became out of date first.

        Parameters
        ----------
        text, file, plain
            As for ``sketch.answer``.
        stale
            Asked now and then whether the job has changed since.
        """
        pipe = self._started()
        begun = time.monotonic()
        try:
            pipe.send((text, file, plain))
            while not pipe.poll(TICK):
                if stale() and time.monotonic() - begun > GRACE:
                    self.end()
                    return None
            found: dict[str, Any] = pipe.recv()
        except (EOFError, OSError):
            self.end()
            return {**NOTHING, "why": "the quick answer stopped unexpectedly; plan the job to see it"}
        return None if stale() else found

    def end(self) -> None:
        """End the process; the next question starts another one. Two threads may come here at once."""
        with self._lock:
            process, pipe, self.process, self._pipe = self.process, self._pipe, None, None
        if process is not None:
            process.kill()
            process.join()
        if pipe is not None:
            with contextlib.suppress(OSError):
                pipe.close()

    def _started(self) -> Connection:
        with self._lock:  # a process that another thread ends must have begun
            if self._pipe is None or self.process is None or not self.process.is_alive():
                self.end()
                ours, theirs = _CONTEXT.Pipe()
                self.process = _CONTEXT.Process(target=answer_sketches, args=(theirs,), daemon=True)
                self.process.start()
                theirs.close()
                self._pipe = ours
            return self._pipe


def answer_sketches(pipe: Connection) -> None:
    """Answer what is asked until nobody is there to ask."""
    begin()
    from layout.page.sketch import answer

    with contextlib.suppress(EOFError, OSError):
        while True:
            text, file, plain = pipe.recv()
            try:
                found = answer(text, file, plain)
            except LayoutError as error:
                found = {**NOTHING, "why": str(error)}
            pipe.send(found)


@dataclass
class Planning:
    """A whole plan being made, and its packet written.

    Parameters
    ----------
    revision
        The state of the job that is planned.
    """

    revision: int
    words: str = "starting"
    lines: list[str] = field(default_factory=list)
    trouble: str = ""
    running: bool = True
    _process: multiprocessing.process.BaseProcess | None = None
    _stop: Any = None

    def run(self, text: str, file: str, folder: Path, told: Callable[[], None]) -> None:
        """Plan a job and write its packet, from a thread that may wait.

        Parameters
        ----------
        text, file
            The job.
        folder
            Where the packet goes.
        told
            Called whenever something about it is new.
        """
        ours, theirs = _CONTEXT.Pipe()
        self._stop = _CONTEXT.Event()
        self._process = _CONTEXT.Process(
            target=plan_once, args=(theirs, self._stop, text, file, str(folder)), daemon=True)
        self._process.start()
        theirs.close()
        try:
            while True:
                kind, words = ours.recv()
                if kind == "doing":
                    self.words = words
                elif kind == "done":
                    self.lines = words
                else:
                    self.trouble = words
                told()
        except (EOFError, OSError):
            if not self.lines and not self.trouble:
                self.trouble = "the planning was ended before there was a plan; nothing was written"
        self._process.join()
        ours.close()
        self.running = False
        told()

    def stop(self) -> None:
        """Ask for the best plan so far."""
        if self._stop is not None:
            self._stop.set()

    def end(self) -> None:
        """End it now; an older packet stays as it was."""
        if self._process is not None and self._process.is_alive():
            self._process.terminate()
            self._process.join(PATIENCE)


def plan_once(pipe: Connection, stop: Any, text: str, file: str, folder: str) -> None:
    """Plan one job into a folder, telling through the pipe how far it is and what came of it."""
    begin()
    signal.signal(signal.SIGTERM, lambda number, frame: sys.exit())  # so that what is half written is cleared away
    os.environ.setdefault("MPLBACKEND", "Agg")
    from layout.job import read_job_text
    from layout.packet import summary_lines
    from layout.pipeline import make_plan, write_packet

    place = Path(folder)
    try:
        def doing(words: str) -> None:
            pipe.send(("doing", words))

        made = make_plan(read_job_text(text, file), ask_rules=True, progress=doing, stop=stop.is_set)
        findings = write_packet(made, place, progress=doing)
        if findings:
            pipe.send(("trouble", f"the audit rejected this plan; it is in {place.name}-rejected"))
        else:
            pipe.send(("done", summary_lines(made, place)))
    except LayoutError as error:
        pipe.send(("trouble", str(error)))
    except BrokenPipeError:
        pass
    finally:
        pipe.close()
