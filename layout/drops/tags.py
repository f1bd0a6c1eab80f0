"""The tags of a run's drops: rising from left to right, around those that are fixed."""

from __future__ import annotations

import re
from collections.abc import Collection, Iterator, Sequence

from layout.errors import NoLayout

Order = list[tuple[int, str]]
"""What tags rise by."""


def tags_for(prefix: str, fixed: Sequence[str], taken: Collection[str]) -> list[str]:
    """Return a tag for every drop, rising from left to right.

    Parameters
    ----------
    prefix
        What new tags begin with.
    fixed
        The tag of each drop that has one; "" asks for a new one.
    taken
        Tags that no new one may be.

    Raises
    ------
    NoLayout
        When there are not so many tags between two that are fixed, or those hang in another order.

    Examples
    --------
    >>> tags_for("A", ["", "", ""], ["A-02"])
    ['A-01', 'A-03', 'A-04']
    >>> tags_for("A", ["A-01", "", "A-02", ""], [])
    ['A-01', 'A-01.1', 'A-02', 'A-03']
    """
    staying = [tag for tag in fixed if tag]
    if staying != sorted(staying, key=_order):
        raise NoLayout(f"run {prefix}: drops that are cut would hang in another order: {', '.join(staying)}")
    digits = max(2, len(str(len(fixed))))
    tags: list[str] = []
    used = [_order(tag) for tag in (*taken, *staying)]
    at = 0
    while at < len(fixed):
        if fixed[at]:
            tags.append(fixed[at])
            at += 1
            continue
        end = next((i for i in range(at, len(fixed)) if fixed[i]), len(fixed))
        low, high = (tags[-1] if tags else ""), (fixed[end] if end < len(fixed) else "")
        tags += _between(prefix, low, high, end - at, used, digits)
        at = end
    return tags


def _between(prefix: str, low: str, high: str, count: int, used: Sequence[Order], digits: int) -> list[str]:
    """Return so many tags after ``low`` and before ``high``: numbers where there are any, else A-07.1 after A-07."""
    def fits(tag: str) -> bool:
        order = _order(tag)
        return order not in used and order > _order(low) and (not high or order < _order(high))

    found = [tag for tag in _numbers_after(prefix, low, count + len(used), digits) if fits(tag)][:count]
    base = low or f"{prefix}-{0:0{digits}d}"
    dotted = (f"{base}{zeros}.{number}" for zeros in ("", ".0", ".0.0") for number in range(1, count + len(used) + 1))
    fitting = [tag for tag in dotted if fits(tag)][:count - len(found)] if len(found) < count else []
    if len(found) + len(fitting) < count:
        raise NoLayout(f"run {prefix}: {count} new drops before {high} cannot be tagged in order from left to right")
    return sorted((*fitting, *found), key=_order)


def _numbers_after(prefix: str, low: str, count: int, digits: int) -> Iterator[str]:
    """Yield so many numbered tags past the last one."""
    last = max((int(figures) for figures in re.findall(r"[0-9]+", low[len(prefix) + 1:])[:1]), default=0)
    for number in range(last + 1, last + count + 1):
        yield f"{prefix}-{number:0{digits}d}"


def _order(tag: str) -> Order:
    """Return what tags rise by: their figures as numbers, so that A-07 < A-07.1 < A-08 < A-100."""
    return [(int(part), "") if part.isdecimal() else (-1, part) for part in re.split(r"([0-9]+)", tag)]
