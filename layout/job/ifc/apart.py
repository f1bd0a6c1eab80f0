"""Work done in a process of its own: what works out shapes is native code, and may break down on a bad file."""

from __future__ import annotations

import multiprocessing
from collections.abc import Callable
from concurrent.futures import ProcessPoolExecutor
from concurrent.futures.process import BrokenProcessPool
from pathlib import Path
from typing import Any

from layout.errors import Fault, JobError


def apart(work: Callable[..., Any], path: Path, **how: Any) -> Any:
    """Return what some work on a file returns, done in another process.

    Parameters
    ----------
    work
        A function at the top of a module, called with the file and what else is given.
    path
        The file.
    how
        Arguments by name.

    Raises
    ------
    JobError
        As the work does, and when the other process breaks down.
    """
    with ProcessPoolExecutor(1, mp_context=multiprocessing.get_context("spawn")) as pool:
        try:
            made, faults, file = pool.submit(_done, work, path, how).result()
        except BrokenProcessPool:
            raise JobError([Fault(0, "", "cannot be read: what works out its shapes broke down on it")],
                           str(path)) from None
    if faults:
        raise JobError(faults, file)
    return made


def _done(work: Callable[..., Any], path: Path, how: dict[str, Any]) -> tuple[Any, tuple[Fault, ...], str]:
    """Return what the work returns, or its faults."""
    try:
        return work(path, **how), (), ""
    except JobError as error:
        return None, error.faults, error.file
