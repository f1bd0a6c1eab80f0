"""A change meant for an earlier state of a job, put where it belongs in the present one, or not at all."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from layout.job.rewrite import Change
from layout.job.tree import Path

NAMES = ("name", "tag", "item")
"""Keys by which an entry of a list is known."""


class Clash(Exception):
    """Someone else changed the very place that a change is for; holds where it was meant."""

    def __init__(self, path: Path) -> None:
        self.path = path
        super().__init__(path)


def rebased(change: Change, base: Any, now: Any) -> Change:
    """Return a change with its path as it is in the present state.

    Parameters
    ----------
    change
        The change.
    base
        The job, as plain mappings and lists, as it was when the change was made.
    now
        The job as it is.

    Raises
    ------
    Clash
        When the place is gone, or says something else by now than it did; what was written there is not overwritten.
    """
    if base == now:
        return change
    path: list[str | int] = []
    before, here = base, now
    for number, step in enumerate(change.path):
        last = number == len(change.path) - 1
        if isinstance(step, int) and isinstance(before, list):
            if not isinstance(here, list):
                raise Clash(change.path)
            if last and change.do == "insert":
                return replace(change, path=(*path, _gap(before, step, here, change)))
            found = _same_entry(before, step, here)
            if found is None:
                raise Clash(change.path)
            path.append(found)
            before, here = before[step], here[found]
        else:
            path.append(step)
            before = before.get(step) if isinstance(before, dict) else None
            here = here.get(step) if isinstance(here, dict) else None
    if before != here and not (change.do == "set" and here == change.value):
        raise Clash(change.path)
    if change.do == "move":
        return replace(change, path=tuple(path), to=_target(change, base, now, path))
    return replace(change, path=tuple(path))


def follow(value: Any, path: Path) -> Any:
    """Return what stands at a path, or None."""
    for step in path:
        if isinstance(value, dict):
            value = value.get(step)
        elif isinstance(value, list) and isinstance(step, int) and 0 <= step < len(value):
            value = value[step]
        else:
            return None
    return value


def _same_entry(before: list[Any], at: int, here: list[Any]) -> int | None:
    """Return where an entry of a list is now: the same one, or the one of the same name, or the one in its place."""
    if not 0 <= at < len(before):
        return None
    item = before[at]
    if at < len(here) and here[at] == item:
        return at
    equal = [number for number, other in enumerate(here) if other == item]
    if len(equal) == 1:
        return equal[0]
    name = _name(item)
    if name is not None and sum(_name(other) == name for other in before) == 1:
        named = [number for number, other in enumerate(here) if _name(other) == name]
        if len(named) == 1:
            return named[0]
    others = [number for number in range(len(before)) if number != at]
    if len(here) == len(before) and all(here[number] == before[number] for number in others):
        return at
    return None


def _name(item: Any) -> str | None:
    if not isinstance(item, dict):
        return None
    return next((str(item[key]) for key in NAMES if item.get(key) not in (None, "")), None)


def _gap(before: list[Any], at: int, here: list[Any], change: Change) -> int:
    """Return the number that an entry put into a list has now: behind the one it was put behind, else before the one
    it was put before."""
    if at == 0 and not before:
        return len(here)
    behind = _same_entry(before, at - 1, here) if at else None
    if behind is not None:
        return behind + 1
    ahead = _same_entry(before, at, here) if at < len(before) else None
    if ahead is not None:
        return ahead
    if at == 0:
        return 0
    raise Clash(change.path)


def _target(change: Change, base: Any, now: Any, path: list[str | int]) -> int:
    """Return the number a moved entry gets: that of the entry whose place it takes."""
    before, here = follow(base, change.path[:-1]), follow(now, tuple(path[:-1]))
    found = _same_entry(before, change.to, here)
    if found is None:
        raise Clash(change.path)
    return found
