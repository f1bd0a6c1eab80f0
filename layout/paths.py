"""Straight lines as the shortest path that an SVG reader takes: steps from point to point."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from functools import lru_cache

Stroke = tuple[Sequence[tuple[int, int]], bool]
"""The points of joined lines, in units of the last digit, and whether they close."""


def short_path(strokes: Iterable[Stroke], digits: int) -> str:
    """Return joined straight lines as one path in steps, as short as it can be said.

    Every point is rounded for itself, so that the steps add up to it.

    Parameters
    ----------
    strokes
        The lines, each of at least one point.
    digits
        Decimals that are written: a point (15, 0) with one digit is at 1.5.

    Examples
    --------
    >>> short_path([([(100, 200), (300, 200), (300, 250)], True), ([(15, 20), (20, 30)], False)], 1)
    'm10 20h20v5zm-8.5-18 .5 1'
    """
    said: list[str] = []
    x = y = 0
    for points, closed in strokes:
        verb = "m"
        start_x, start_y = points[0]
        for to_x, to_y in points:
            dx, dy = to_x - x, to_y - y
            x, y = to_x, to_y
            if verb == "m":
                said.append("m" + _step(dx, dy, digits))
                verb = "l"
            elif not dx:
                said.append("v" + _decimal(dy, digits))
                verb = "v"
            elif not dy:
                said.append("h" + _decimal(dx, digits))
                verb = "h"
            else:
                step = _step(dx, dy, digits)
                said.append(step if verb == "l" and step[0] == "-" else (" " if verb == "l" else "l") + step)
                verb = "l"
        if closed:
            said.append("z")
            x, y = start_x, start_y
    return "".join(said)


@lru_cache(maxsize=10_000)
def _step(dx: int, dy: int, digits: int) -> str:
    """Return a step as two decimals side by side."""
    across, up = _decimal(dx, digits), _decimal(dy, digits)
    return across + up if up[0] == "-" else f"{across} {up}"


@lru_cache(maxsize=10_000)
def _decimal(value: int, digits: int) -> str:
    """Return a whole number of the last digit as a decimal without needless noughts."""
    text = f"{value / 10 ** digits:.{digits}f}".rstrip("0").rstrip(".")
    return text.replace("0.", ".", 1) if text.startswith(("0.", "-0.")) else text
