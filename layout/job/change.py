"""One change of a job file, and what it means for the job as plain mappings and lists."""

from __future__ import annotations

import copy
from dataclasses import dataclass
from typing import Any, Literal

from layout.errors import LayoutError
from layout.job.tree import Path, spell


@dataclass(frozen=True)
class Change:
    """One change of a job file.

    Parameters
    ----------
    do
        ``set`` a value, ``remove`` a key or an entry, ``insert`` an entry before the one of that number, ``move`` an
        entry.
    path
        The keys and numbers that lead to it.
    value
        What is set or inserted: a scalar, a list or a mapping.
    to
        The number that a moved entry then has.
    """

    do: Literal["set", "remove", "insert", "move"]
    path: Path
    value: Any = None
    to: int = 0


def changed(plain: object, change: Change) -> Any:
    """Return plain mappings and lists with a change made in a copy of them.

    Raises
    ------
    LayoutError
        When there is no such place.

    Examples
    --------
    >>> changed({"faces": [{"length": 4}]}, Change("set", ("faces", 0, "length"), 5))
    {'faces': [{'length': 5}]}
    """
    root = copy.deepcopy(plain)
    _make(root, change)
    return root


def _make(root: Any, change: Change) -> None:
    """Make a change in mappings and lists."""
    def missing() -> LayoutError:
        return LayoutError(f"{spell(change.path)}: there is no such place in the file")

    *above, last = change.path or (None,)
    here = root
    for number, step in enumerate(above):
        following = change.path[number + 1]
        if isinstance(here, dict) and isinstance(step, str):
            if here.get(step) is None and change.do in ("set", "insert"):
                here[step] = [] if isinstance(following, int) else {}
            here = here.get(step)
        elif isinstance(here, list) and isinstance(step, int) and 0 <= step < len(here):
            here = here[step]
        else:
            raise missing()
    if isinstance(here, dict) and isinstance(last, str) and change.do in ("set", "remove"):
        if change.do == "set":
            here[last] = copy.deepcopy(change.value)
        elif last in here:
            del here[last]
        else:
            raise missing()
        return
    if not isinstance(here, list) or not isinstance(last, int):
        raise missing()
    if change.do == "insert" and 0 <= last <= len(here):
        here.insert(last, copy.deepcopy(change.value))
    elif change.do == "set" and 0 <= last < len(here):
        here[last] = copy.deepcopy(change.value)
    elif change.do == "remove" and 0 <= last < len(here):
        del here[last]
    elif change.do == "move" and 0 <= last < len(here) and 0 <= change.to < len(here):
        here.insert(change.to, here.pop(last))
    else:
        raise missing()
