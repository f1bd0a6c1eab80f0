"""Outlines out of lines that meet in a net: walls that share an upright, and rectangles with an X or a mullion."""

from __future__ import annotations

import math
from collections import Counter, defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import replace

from layout.errors import Fault
from layout.job.trace.drawn import DrawnPolyline, DrawingPlace, Vec, boxes_apart, box_around_points
from layout.job.trace.joining import DRAFTING, SLACK, Moved, off_line

MOST_SIDES = 600
"""Most sides of one net that is taken apart."""

NetEdge = tuple[int, int]


MOST_PAIRS = 1_000_000
"""Pairs of chains, one over the other on the page, beyond which nets are not looked for."""
MOST_ENDS = 60
"""Points of lines at one spot beyond which lines are a heap, not a net."""
MOST_LOOKS = 400_000
"""Pairs of chains that are looked at closely before the search for nets is given up."""


def nets(chains: Sequence[DrawnPolyline], moved: Moved) -> list[list[DrawnPolyline]] | None:
    """Return chains in groups of those that touch one another; None when there are too many to look through."""
    spots = Counter((round(x), round(y)) for chain in chains for x, y in chain.points)
    if max(spots.values(), default=0) > MOST_ENDS:
        return None
    looks = pairs = 0
    groups = list(range(len(chains)))

    def root(index: int) -> int:
        while groups[index] != index:
            groups[index] = groups[groups[index]]
            index = groups[index]
        return index

    boxes = [chain.box for chain in chains]
    order = sorted(range(len(chains)), key=lambda index: (boxes[index][0], index))
    live: list[int] = []
    for one in order:
        live = [other for other in live if boxes[other][2] >= boxes[one][0] - moved.near]
        pairs += len(live)
        if pairs > MOST_PAIRS:
            return None
        for other in live:
            if boxes_apart(boxes[one], boxes[other], slack=moved.near) or root(one) == root(other):
                continue
            looks += len(chains[one].points) * len(chains[other].points)
            if looks > MOST_LOOKS:
                return None
            if _touch(chains[one], chains[other], moved):
                groups[root(one)] = root(other)
        live.append(one)
    found: dict[int, list[DrawnPolyline]] = defaultdict(list)
    for index, chain in enumerate(chains):
        found[root(index)].append(chain)
    return list(found.values())


def _sides(chain: DrawnPolyline) -> list[tuple[Vec, Vec]]:
    points = chain.points
    return list(zip(points, (*points[1:], points[0]) if chain.closed else points[1:]))


def _touch(one: DrawnPolyline, other: DrawnPolyline, moved: Moved) -> bool:
    return any(off_line(point, *side) <= moved.near
               for a, b in ((one, other), (other, one)) for point in a.points for side in _sides(b))


# --- rectangles --------------------------------------------------------------------------------

def framing_rectangle(net: Sequence[DrawnPolyline], moved: Moved) -> DrawnPolyline | None:
    """Return the rectangle whose four sides the lines of a net cover, all of it within; None when there is none."""
    left, bottom, right, top = box_around_points(tuple(point for chain in net for point in chain.points))
    if right - left <= 2 * SLACK or top - bottom <= 2 * SLACK:
        return None
    sides = [side for chain in net for side in _sides(chain)]
    frame = ((left, bottom), (left, top), (right, top), (right, bottom))
    for start, end in zip(frame, (*frame[1:], frame[0])):
        if not _covered(sides, start, end, moved):
            return None
    return DrawnPolyline(net[0].role, net[0].place, frame, closed=True)


def _covered(sides: Sequence[tuple[Vec, Vec]], start: Vec, end: Vec, moved: Moved) -> bool:
    """Tell whether sides that lie along a level or plumb line cover it from end to end."""
    along = 0 if abs(end[0] - start[0]) > abs(end[1] - start[1]) else 1
    across = 1 - along
    low, high = sorted((start[along], end[along]))
    spans = sorted(tuple(sorted((a[along], b[along]))) for a, b in sides
                   if max(abs(a[across] - start[across]), abs(b[across] - start[across])) <= moved.near)
    at = low
    for left, right in spans:
        if left > at + moved.near:
            return False
        moved.note(max(left - at, 0.0), "gaps closed")
        at = max(at, right)
    return at >= high - moved.near


# --- outlines that share sides -----------------------------------------------------------------

class Tangled(Exception):
    """A net is not made of outlines side by side; the fault says where."""

    def __init__(self, fault: Fault) -> None:
        self.fault = fault
        super().__init__(fault.what)


def outlines_in(net: Sequence[DrawnPolyline], moved: Moved) -> list[DrawnPolyline]:
    """Return the outlines that the lines of a net make side by side, from the left.

    Raises
    ------
    Tangled
        When a line ends in nowhere, two outlines share a side that is not plumb, or there are too many sides.
    """
    sides = [(side, chain.place) for chain in net for side in _sides(chain)]
    if len(sides) > MOST_SIDES:
        raise Tangled(net[0].place.fault("must not meet more than one other line at an end", hint=DRAFTING))
    nodes, edges = _graph(sides, moved)
    _no_ends(nodes, edges)
    rings = list(_rings(nodes, edges))
    users: dict[NetEdge, int] = defaultdict(int)
    for ring in rings:
        for pair in zip(ring, (*ring[1:], ring[0])):
            users[min(pair), max(pair)] += 1
    for (one, other), count in sorted(users.items()):
        lean = abs(nodes[one][0] - nodes[other][0])
        if count > 1 and lean > moved.near:
            raise Tangled(edges[one, other].there(nodes[one]).fault(
                "must not share a side that is not plumb with another wall", hint="leave joints of the concrete out"))
    made = [DrawnPolyline(net[0].role, edges[min(ring[0], ring[1]), max(ring[0], ring[1])],
                          tuple(nodes[node] for node in ring), closed=True) for ring in rings]
    return sorted((replace(chain, place=chain.place.there(chain.points[0])) for chain in made),
                  key=lambda chain: (chain.box[0], -chain.box[3]))


def _graph(
    sides: Sequence[tuple[tuple[Vec, Vec], DrawingPlace]], moved: Moved,
) -> tuple[list[Vec], dict[NetEdge, DrawingPlace]]:
    """Return the points where lines meet, and the parts of lines between them."""
    nodes: list[Vec] = []

    def node_at(point: Vec) -> int:
        for index, node in enumerate(nodes):
            if abs(node[0] - point[0]) <= moved.near and math.dist(node, point) <= moved.near:
                moved.note(math.dist(node, point), "gaps closed")
                return index
        nodes.append(point)
        return len(nodes) - 1

    ends = [(node_at(start), node_at(end), place) for (start, end), place in sides]
    edges: dict[NetEdge, DrawingPlace] = {}
    for start, end, place in ends:
        a, b = nodes[start], nodes[end]
        on = [index for index, node in enumerate(nodes) if index not in (start, end)
              and min(a[0], b[0]) - moved.near <= node[0] <= max(a[0], b[0]) + moved.near
              and off_line(node, a, b) <= moved.near]
        walk = [start, *sorted(on, key=lambda index: math.dist(nodes[index], a)), end]
        for one, other in zip(walk, walk[1:]):
            if one != other:
                edges.setdefault((min(one, other), max(one, other)), place)
    return nodes, edges


def _no_ends(nodes: Sequence[Vec], edges: dict[NetEdge, DrawingPlace]) -> None:
    """Raise where a line ends in nowhere."""
    counts: dict[int, list[NetEdge]] = defaultdict(list)
    for edge in edges:
        for node in edge:
            counts[node].append(edge)
    for node, mine in sorted(counts.items()):
        if len(mine) == 1:
            raise Tangled(edges[mine[0]].there(nodes[node]).fault(
                "must not meet more than one other line at an end, nor end in nowhere", hint=DRAFTING))


def _rings(nodes: Sequence[Vec], edges: dict[NetEdge, DrawingPlace]) -> Iterator[tuple[int, ...]]:
    """Yield the inner outlines of a net, each clockwise, by walking along every side and turning right."""
    around: dict[int, list[int]] = defaultdict(list)
    for one, other in edges:
        around[one].append(other)
        around[other].append(one)
    for node, others in around.items():
        x, y = nodes[node]
        others.sort(key=lambda other: math.atan2(nodes[other][1] - y, nodes[other][0] - x))
    walked: set[NetEdge] = set()
    for first in sorted(pair for one, other in edges for pair in ((one, other), (other, one))):
        if first in walked:
            continue
        ring: list[int] = []
        step = first
        while step not in walked:
            walked.add(step)
            ring.append(step[0])
            others = around[step[1]]
            step = step[1], others[(others.index(step[0]) + 1) % len(others)]
        x0, y0 = nodes[ring[0]]
        area = sum((nodes[a][0] - x0) * (nodes[b][1] - y0) - (nodes[b][0] - x0) * (nodes[a][1] - y0)
                   for a, b in zip(ring, (*ring[1:], ring[0])))
        if area < -2 * SLACK:
            yield tuple(ring)
