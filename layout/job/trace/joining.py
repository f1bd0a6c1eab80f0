"""Lines joined to longer lines and outlines: gaps closed, what is drawn twice taken once, shared uprights told apart.

Lengths are ticks, not yet whole: everything is rounded once, at the end. How far ends may be apart, and sides out of
plumb, is the slack: one tick (1/16 in, 1 mm) unless the drafter allows more.
"""

from __future__ import annotations

import itertools
import math
from collections import Counter, defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import replace

from layout.errors import Fault
from layout.job.trace.drawn import DrawnPolyline, Vec, boxes_apart

SLACK = 1.0
"""What is taken for drafting unless the drafter says otherwise [ticks]."""
NOISE = 1e-4
"""What floating point makes of a length far from the origin [ticks]: less is no move."""

OpenLine = tuple[Vec, ...]
End = tuple[int, int]
"""A chain, and its first (0) or last (-1) point."""
DRAFTING = "draw each outline as one closed polyline"


class Moved:
    """How far things may be moved, how far they were, and how often [ticks].

    Parameters
    ----------
    slack
        How far ends may be apart, and sides out of plumb.
    """

    def __init__(self, slack: float = SLACK) -> None:
        self.slack = slack
        self.most = 0.0
        self.counts: Counter[str] = Counter()

    @property
    def near(self) -> float:
        """The slack, and what floating point makes of it far from the origin."""
        return self.slack * (1 + 1e-9) + 1e-6

    def note(self, distance: float, what: str = "") -> None:
        """Take note of a distance, and count what was done."""
        if distance > NOISE:
            self.most = max(self.most, distance)
            if what:
                self.counts[what] += 1


def joined(chains: Sequence[DrawnPolyline], moved: Moved) -> tuple[list[DrawnPolyline], list[Fault]]:
    """Join open lines end to end.

    Parameters
    ----------
    chains
        Lines of one role, open and closed.
    moved
        Told the width of every gap that is closed.

    Returns
    -------
    list of Chain
        Longer lines, closed where their ends meet; what was closed comes first, as it was.
    list of Fault
        Where more than two ends meet, or a line has no length.

    Notes
    -----
    Walls drawn without their bottom edge, one beside another, are not joined at their feet.
    """
    done: list[DrawnPolyline] = []
    opened: list[DrawnPolyline] = []
    faults: list[Fault] = []
    for chain in chains:
        points = _apart(chain.points)
        gap = _gap(points[0], points[-1])
        if len(points) < 2:
            faults.append(chain.place.fault("must have a length"))
        elif not chain.closed and (len(points) <= 3 or gap > moved.near):
            opened.append(replace(chain, points=points))
        elif len(_ring(points, moved)) < 3:
            faults.append(chain.place.fault("must have an area"))
        else:
            if not chain.closed:
                moved.note(gap, "gaps closed")
            done.append(replace(chain, points=_ring(points, moved), closed=True))
    opened = once(opened, moved)
    partners, branches = _partners(opened, moved)
    for index, end in sorted({index: (index, side) for index, side in reversed(branches)}.items()):
        faults.append(opened[index].place.there(_point(opened, end)).fault(
            "must not meet more than one other line at an end", hint=DRAFTING))
    return [*once(done, moved), *_walked(opened, partners, moved)], faults


def _gap(one: Vec, other: Vec) -> float:
    return math.hypot(one[0] - other[0], one[1] - other[1])


def _apart(points: OpenLine) -> OpenLine:
    """Return points without those that repeat the one before."""
    kept = [points[0]]
    for point in points[1:]:
        if _gap(point, kept[-1]) > 1e-6:
            kept.append(point)
    return tuple(kept)


def _ring(points: OpenLine, moved: Moved) -> OpenLine:
    """Return a closed line's points, the first not repeated."""
    return points[:-1] if len(points) > 1 and _gap(points[0], points[-1]) <= moved.near else points


def _point(chains: Sequence[DrawnPolyline], end: End) -> Vec:
    return chains[end[0]].points[end[1]]


_SHIFTS = tuple(itertools.product((0, 2), repeat=4))


# --- drawn twice -------------------------------------------------------------------------------

MOST_ALIKE = 30
"""Chains with one box that a chain is compared with; more are a heap, not drafting."""


def once(chains: Sequence[DrawnPolyline], moved: Moved) -> list[DrawnPolyline]:
    """Return chains with each that is drawn twice taken once; ``moved`` counts what was left out."""
    kept: list[DrawnPolyline] = []
    boxes: dict[tuple[int, ...], list[DrawnPolyline]] = defaultdict(list)
    for chain in chains:
        box = chain.box
        keys = [tuple(math.floor((side + shift) / 4) for side, shift in zip(box, shifts)) + shifts
                for shifts in _SHIFTS]  # two boxes within a tick share a cell of one of these grids
        if any(_alike(chain, other) for key in keys for other in boxes[key][:MOST_ALIKE]):
            moved.counts["drawn twice, taken once"] += 1
            continue
        kept.append(chain)
        for key in keys:
            boxes[key].append(chain)
    return kept


def _alike(one: DrawnPolyline, other: DrawnPolyline) -> bool:
    """Tell whether two chains are the same line within a tick, points on straight sides left out."""
    if one.closed != other.closed or any(abs(a - b) > SLACK for a, b in zip(one.box, other.box)):
        return False
    first, second = _corners(one), _corners(other)
    if len(first) != len(second):
        return False
    ways = [second, second[::-1]]
    if one.closed:
        ways = [way[turn:] + way[:turn] for way in ways for turn in range(len(way))
                if _gap(way[turn], first[0]) <= SLACK]
    return any(all(_gap(a, b) <= SLACK for a, b in zip(first, way)) for way in ways)


def _corners(chain: DrawnPolyline) -> OpenLine:
    """Return a chain's points without those on the straight line between their neighbours."""
    points = chain.points
    if len(points) < 3 or len(points) > 200:
        return points
    kept: list[Vec] = []
    for index, point in enumerate(points):
        ends = not chain.closed and index in (0, len(points) - 1)
        if ends or off_line(point, points[index - 1], points[(index + 1) % len(points)]) > 1e-3:
            kept.append(point)
    return tuple(kept)


def off_line(point: Vec, start: Vec, end: Vec) -> float:
    """Return how far a point lies off the straight line between two others; off its nearer end past them."""
    dx, dy = end[0] - start[0], end[1] - start[1]
    square = dx * dx + dy * dy
    share = 0.0 if not square else ((point[0] - start[0]) * dx + (point[1] - start[1]) * dy) / square
    share = min(max(share, 0.0), 1.0)
    return math.hypot(point[0] - start[0] - share * dx, point[1] - start[1] - share * dy)


# --- end to end --------------------------------------------------------------------------------

def _partners(chains: Sequence[DrawnPolyline], moved: Moved) -> tuple[dict[End, End], list[End]]:
    """Return which end meets which, and the ends that meet several."""
    cell = 2 * max(moved.slack, SLACK)
    cells: dict[tuple[int, int], list[End]] = defaultdict(list)
    ends = [(index, side) for index in range(len(chains)) for side in (0, -1)]
    for end in ends:
        x, y = _point(chains, end)
        cells[math.floor(x / cell), math.floor(y / cell)].append(end)
    hoods = [is_hood(chain.points) for chain in chains]
    partners: dict[End, End] = {}
    branches: list[End] = []
    for end in ends:
        x, y = _point(chains, end)
        column, row = math.floor(x / cell), math.floor(y / cell)
        around = (other for i in (column - 1, column, column + 1) for j in (row - 1, row, row + 1)
                  for other in cells.get((i, j), ())[:100])
        met = (other for other in around
               if other != end and not (hoods[end[0]] and hoods[other[0]] and other[0] != end[0])
               and _gap((x, y), _point(chains, other)) <= moved.near)
        near = list(itertools.islice(met, 2))
        if len(near) > 1:
            branches.append(end)
        elif near:
            partners[end] = near[0]
    return {one: other for one, other in partners.items() if partners.get(other) == one}, branches


def _walked(chains: Sequence[DrawnPolyline], partners: dict[End, End], moved: Moved) -> Iterator[DrawnPolyline]:
    """Yield the chains that the partners make, each walked from one end; rings last."""
    used: set[int] = set()
    starts = [(index, side) for index in range(len(chains)) for side in (0, -1) if (index, side) not in partners]
    for start in (*starts, *((index, 0) for index in range(len(chains)))):
        if start[0] in used:
            continue
        points: list[Vec] = []
        end = start
        closed = False
        while True:
            index, side = end
            used.add(index)
            line = chains[index].points if side == 0 else chains[index].points[::-1]
            points = _met(points, list(line), moved) if points else list(line)
            far = (index, -1 if side == 0 else 0)
            if far not in partners:
                break
            end = partners[far]
            if end[0] in used:
                closed = True
                break
        first = chains[start[0]]
        if closed and len(points) > 3:
            whole = _met(points, [points[0], points[1]], moved)
            points = [whole[-2], *whole[1:-2]]
        yield replace(first, points=tuple(points), closed=closed, own=None if len(points) != len(first.points)
                      else first.own)


def _met(before: list[Vec], after: list[Vec], moved: Moved) -> list[Vec]:
    """Return two lines as one; where their ends do not touch they meet where their sides do, or else half way."""
    gap = _gap(before[-1], after[0])
    if gap <= NOISE:
        return [*before, *after[1:]]
    point = _crossing(before[-2], before[-1], after[0], after[1])
    if point is None or max(_gap(point, before[-1]), _gap(point, after[0])) > 2 * moved.near:
        point = (before[-1][0] + after[0][0]) / 2, (before[-1][1] + after[0][1]) / 2
    moved.note(max(_gap(point, before[-1]), _gap(point, after[0])), "gaps closed")
    return [*before[:-1], point, *after[1:]]


def _crossing(a: Vec, b: Vec, c: Vec, d: Vec) -> Vec | None:
    """Return where the lines through two pairs of points cross; None when they are nearly parallel."""
    ux, uy, vx, vy = b[0] - a[0], b[1] - a[1], d[0] - c[0], d[1] - c[1]
    cross = ux * vy - uy * vx
    if abs(cross) <= 1e-3 * math.hypot(ux, uy) * math.hypot(vx, vy):
        return None
    share = ((c[0] - a[0]) * vy - (c[1] - a[1]) * vx) / cross
    return a[0] + share * ux, a[1] + share * uy


def is_hood(points: OpenLine, slack: float = SLACK) -> bool:
    """Tell whether an open line is a wall without its bottom edge: plumb up, over the top, plumb down."""
    if len(points) < 4:
        return False
    xs = [x for x, _ in points]
    line = points if points[0][0] <= points[-1][0] else points[::-1]
    (x0, y0), (x1, y1), (x2, y2), (x3, y3) = line[0], line[1], line[-2], line[-1]
    plumb = abs(x0 - x1) <= slack and abs(x2 - x3) <= slack and y1 > y0 + slack and y2 > y3 + slack
    return plumb and x0 <= min(xs) + slack and x3 >= max(xs) - slack and x3 - x0 > slack


# --- lines that lie on one another -------------------------------------------------------------

MOST_MERGED = 3_000
"""Lines of a role beyond which overlaps of straight lines are not looked for."""


def merged(chains: Sequence[DrawnPolyline], moved: Moved) -> list[DrawnPolyline]:
    """Return lines in which straight ones that overlap on one line are one line from end to end."""
    straight = [chain for chain in chains if len(chain.points) == 2 and not chain.closed]
    if not 1 < len(straight) <= MOST_MERGED:
        return list(chains)
    others = [chain for chain in chains if len(chain.points) != 2 or chain.closed]
    kept: list[DrawnPolyline] = []
    for chain in sorted(straight, key=lambda chain: (chain.box[0], chain.box[1])):
        for index, other in enumerate(kept):
            if not boxes_apart(chain.box, other.box, slack=0.0) and (both := _one_line(other, chain)):
                kept[index] = both
                moved.counts["lines over one another, taken as one"] += 1
                break
        else:
            kept.append(chain)
    return [*others, *kept]


def _one_line(one: DrawnPolyline, other: DrawnPolyline) -> DrawnPolyline | None:
    """Return two overlapping straight lines as one, or None when they do not lie on one line, or only touch."""
    points = [*one.points, *other.points]
    start, end = max(((a, b) for a in points for b in points), key=lambda pair: _gap(*pair))
    if any(off_line(point, start, end) > SLACK / 2 for point in points):
        return None
    together = _gap(*one.points) + _gap(*other.points)
    return replace(one, points=(start, end)) if together > _gap(start, end) + SLACK else None
