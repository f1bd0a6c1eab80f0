"""Small pieces: collars, covers and patches take sheet of their own only when nothing else holds them."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace

from layout.rolls.cutaways import Room
from layout.rolls.fill import Filled, Inside, asking, fill
from layout.rolls.first_fit import cheapen, cost_of_patterns, first_fit, fits, roll_opened
from layout.rolls.problem import Answer, CutBlock, Effort, Item, Lay, Pattern, Problem, rolls_by_pattern
from layout.rolls.solve import fewest_by_area, improve, solve
from layout.rolls.tidy import gather_scrap

MOST_LANES = 3
"""Lanes for small pieces that are cut as if they were one piece each: more are hardly ever easier to place."""
DIVES = 4
"""Dives for a cutting of large pieces that leaves room: each finds another one."""
MOST_PIECES = 400
"""Large pieces that are cut once more for the sake of small ones: of more, some roll nearly always leaves room."""
MOST_STEPS = 20_000
"""Steps of the simplex method that all these cuttings take at most."""
SHARE = 4
"""One of these cuttings takes at most one of so many parts of the work that is left."""
MOST_GROWN = 3
"""Times that more small pieces are put into lanes, because the new cutting leaves them no room."""


@dataclass(frozen=True)
class Found:
    """How pieces are cut, and what is proven.

    Parameters
    ----------
    answer
        The rolls; its proof is about ``proven``.
    proven
        The problem without small pieces, or with them where nothing could be cut out of a large one.
    fewest
        The least number of rolls.
    inside
        Small pieces within what is cut away of large ones.
    """

    answer: Answer
    proven: Problem
    fewest: int
    inside: Mapping[str, Sequence[Inside]]


@dataclass(frozen=True)
class SmallLane:
    """Small pieces end to end: the length and width of the lane that holds them [ticks], and how they lie."""

    length: int
    width: int
    lays: tuple[Lay, ...]


def with_small(
    problem: Problem, rooms: Callable[[], Mapping[str, Sequence[Room]]], effort: Effort, *, plain: bool,
) -> Found | None:
    """Cut the large pieces, and put the small ones (those that may be turned) where they leave room.

    Parameters
    ----------
    problem
        All pieces.
    rooms
        Tells by its tag what is cut away of each large piece; asked once the large ones are cut.
    effort
        How far to search.
    plain
        Nothing at all is cut away of large pieces.

    Notes
    -----
    Where the room is too little, small pieces are put end to end into lanes, and the large ones are cut once more with
    each lane as one of them. Small pieces get sheet of their own only when that costs a roll as well: then all are cut
    together, but for those that lie within what is cut away of large ones. The bound is that of the large ones
    alone: it holds for any way to cut the small ones. Where all are plain, it is that of all together when that is
    more.
    """
    demand = [item.demand for item in problem.items]
    small = [item.demand if item.turnable else 0 for item in problem.items]
    if not any(small) or small == demand:
        answer = solve(problem, effort)
        if answer is None:
            return None
        effort.judge(answer.cost)
        better, fewest = improve(problem, answer)
        return Found(better, problem, fewest, {})
    large = asking(problem, [count - less for count, less in zip(demand, small, strict=True)])
    answer = solve(large, effort)
    if answer is None:
        return None
    effort.judge(answer.cost)
    better, fewest = improve(large, answer)
    asked, free = asking(problem, small), rooms()
    for start in (better, answer):
        filled = fill(asked, start.opened, free)
        if not any(filled.left):
            if start.cost > better.cost:
                fewest = fewest_by_area(large)
            return Found(replace(start, patterns=rolls_by_pattern(filled.patterns)), large, fewest, filled.inside)
    if large.pieces <= MOST_PIECES and (effort.wanted is None or answer.cost <= effort.wanted):
        with effort.limited(MOST_STEPS) as limited:
            laned = in_lanes(large, asked, filled.left, free, replace(limited, wanted=answer.cost))
        if laned is not None:
            cut = replace(
                answer, patterns=rolls_by_pattern(laned.patterns), cost=cost_of_patterns(problem, laned.patterns))
            return Found(cut, large, min(fewest, cut.rolls), laned.inside)
    inside = [inside.lay.item for each in filled.inside.values() for inside in each]
    rest = asking(problem, [count - inside.count(i) for i, count in enumerate(demand)])
    rolls = first_fit(
        asking(problem, filled.left), [i for i, count in enumerate(filled.left) for _ in range(count)],
        sorted(range(len(problem.stocks)), key=lambda k: problem.stocks[k].cost),
        [roll_opened(problem, pattern) for pattern in filled.patterns])
    known = None if rolls is None else cheapen(rest, [roll.pattern() for roll in rolls])
    together = solve(rest, replace(effort, start=lambda _: known))
    if together is None:
        return None
    effort.judge(together.cost)
    better, fewest = improve(rest, together)
    if plain and together.proof.bound > answer.proof.bound:
        return Found(better, rest, fewest, {})
    return Found(replace(better, proof=answer.proof), large, min(fewest, better.rolls), filled.inside)


def in_lanes(
    large: Problem, small: Problem, left: Sequence[int], free: Mapping[str, Sequence[Room]], effort: Effort,
) -> Filled | None:
    """Cut the large pieces once more, with lanes of small ones among them, at no more than the cost that is wanted.

    Parameters
    ----------
    large, small
        What is asked for of the large and of the small pieces; the items are the same.
    left
        How many small pieces of each item found no room: they go into lanes first.
    free
        By its tag, what is cut away of each large piece.
    effort
        How far to search; its ``wanted`` is the cost.

    Returns
    -------
    Filled or None
        Rolls with all pieces; None where none were found.
    """
    laned = list(left)
    for grown in range(MOST_GROWN):
        nearest: Filled | None = None
        counts = [*range(1, min(MOST_LANES, sum(laned)) + 1), *([] if grown else [0])]
        for count in counts:
            if effort.stopped():
                return None
            filled = _with_lanes(large, small, laned if count else [0] * len(laned), count, free, effort)
            if filled is None:
                continue
            if not any(filled.left):
                return filled
            if count and (nearest is None or sum(filled.left) < sum(nearest.left)):
                nearest = filled
        if nearest is None:
            return None
        laned = [one + more for one, more in zip(laned, nearest.left, strict=True)]
    return None


def _with_lanes(
    large: Problem, small: Problem, laned: Sequence[int], count: int, free: Mapping[str, Sequence[Room]],
    effort: Effort,
) -> Filled | None:
    """Cut the large pieces and so many lanes, so that the other small ones find room; return what comes nearest."""
    lanes = lanes_of(small, laned, count)
    items = tuple(Item(lane.length, lane.width, 1) for lane in lanes)
    if not all(any(fits(item, stock) for stock in large.stocks) for item in items):
        return None
    problem = replace(large, items=(*large.items, *items))
    others = asking(small, [item.demand - one for item, one in zip(small.items, laned, strict=True)])
    best: Filled | None = None

    def accept(patterns: Sequence[Pattern]) -> bool:
        nonlocal best
        for cut in (gather_scrap(problem, patterns), patterns):
            filled = fill(others, [_spread(pattern, len(large.items), lanes) for pattern in cut], free)
            if best is None or sum(filled.left) < sum(best.left):
                best = filled
        return best is not None and not any(best.left)

    with effort.limited(MOST_STEPS, SHARE) as limited:
        solve(problem, replace(limited, accept=accept, dives=max(effort.dives, DIVES)))
    return best


def lanes_of(small: Problem, counts: Sequence[int], lanes: int) -> list[SmallLane]:
    """Return small pieces end to end in at most so many lanes, about equally long, pieces of like width together."""
    if not lanes:
        return []
    lays = [
        Lay(i, turned=item.width > item.length)
        for i, item in enumerate(small.items) for _ in range(counts[i])
    ]
    sizes = {lay: small.items[lay.item].size(turned=lay.turned) for lay in lays}
    lays.sort(key=lambda lay: (sizes[lay][1], sizes[lay][0], lay), reverse=True)
    total = sum(sizes[lay][0] for lay in lays)
    parts: list[list[Lay]] = [[]]
    reached = 0
    for lay in lays:
        length = sizes[lay][0]
        if parts[-1] and (reached + length // 2) * lanes > total * len(parts):
            parts.append([])
        parts[-1].append(lay)
        reached += length
    return [
        SmallLane(sum(sizes[lay][0] for lay in part), max(sizes[lay][1] for lay in part), tuple(part))
        for part in parts
    ]


def _spread(pattern: Pattern, first: int, lanes: Sequence[SmallLane]) -> Pattern:
    """Return a pattern with the pieces of each lane in its place; lanes are the items from ``first`` on."""
    return replace(pattern, blocks=tuple(sorted((
        CutBlock(block.length, tuple(sorted(
            tuple(each for lay in lays for each in (lanes[lay.item - first].lays if lay.item >= first else (lay,)))
            for lays in block.lanes)))
        for block in pattern.blocks), reverse=True)))
