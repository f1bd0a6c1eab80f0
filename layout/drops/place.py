"""A developed wall -> its drops and seams: placed at the least cost, shingled, and put in order."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from layout.drops.clear import broken_clearances, ripped_too_narrow
from layout.drops.columns import StretchCells, cell_values
from layout.drops.costs import Goals
from layout.drops.ends import Chain, closed_chain, fixed_chain, open_chain
from layout.drops.end_laps import PieceBox, things_near
from layout.drops.prices import PriceOf, PriceTable, length_price, longest_piece, price_table
from layout.drops.shingle import Band, closing_seam, install_order, water_sides
from layout.drops.tags import tags_for
from layout.drops.tall import end_lap_levels, split_drops, too_near
from layout.drops.worths import Sheet
from layout.errors import NoLayout
from layout.records import Drop, RuleException, Rules, Seam, Wall
from layout.units import INCH, Unit


@dataclass(frozen=True)
class FixedDrop:
    """A drop that is cut or hangs already: its edges on the run, and the (top, bottom) of its pieces [ticks]."""

    tag: str
    left: int
    right: int
    boxes: tuple[PieceBox, ...]


@dataclass(frozen=True)
class Layout:
    """Where the drops of one run hang.

    Parameters
    ----------
    drops
        Left to right, without their pieces' tags.
    seams
        The lap after each drop.
    splits
        For each drop's tag, the (top, bottom) of its pieces, top to bottom [ticks].
    broken
        The rules that could not be kept.
    cost
        What the layout is judged by; end laps of tall drops that lie too near to things count as violations too.
    bound
        No layout that keeps the limits and the fixed drops is better than this, in the order of the goals; None when
        that is not proven.
    """

    drops: tuple[Drop, ...]
    seams: tuple[Seam, ...]
    splits: Mapping[str, tuple[PieceBox, ...]]
    broken: tuple[RuleException, ...]
    cost: Goals
    bound: Goals | None

    @property
    def proven(self) -> bool:
        """No layout that keeps the limits is better in ``cost``, in the order of its goals."""
        return self.cost == self.bound


def place(
    wall: Wall, rules: Rules, *, width: int, side_lap: int, price: PriceOf = length_price, share: int = 0,
    rough: int = 0, fixed: Sequence[FixedDrop] = (), taken: Collection[str] = (), prefix: str, unit: Unit = INCH,
) -> Layout:
    """Place the drops of one run.

    Parameters
    ----------
    wall
        The developed run.
    rules
        How the sheet must go on.
    width
        Of the sheet [ticks].
    side_lap
        Least lap of neighbours [ticks].
    price
        What a cut length is worth; its length when nothing is said.
    share
        When not 0, drops at most so wide [ticks] cost only their part of the sheet's width: prices are then those of a
        strip one tick wide, and ``cost`` counts them times the width.
    rough
        When not 0, look at the starting points of a closed run only so closely: times that intervals of them are split,
        and only as far as a bound on violation and price needs. ``bound`` is then 0 in the later goals.
    fixed
        Drops that stay where they are, as they are; they start within the run and are no wider than the sheet.
    taken
        Tags that no other drop may have.
    prefix
        What the drops' tags begin with.
    unit
        The job's unit, for the words of exceptions.

    Raises
    ------
    NoLayout
        When no row of drops can cover the wall around the fixed ones, or the others cannot be tagged in order.
    """
    sheet = sheet_for(wall, rules, width=width, side_lap=side_lap)
    table = price_table_for(wall, rules, price, width=width, share=share)
    kept = {(drop.left, drop.right): drop for drop in fixed}
    if kept:
        chain = fixed_chain(wall, table, sheet, sorted(kept))
    elif wall.closed:
        chain = closed_chain(wall, table, sheet, rough=rough)
    else:
        chain = open_chain(wall, table, sheet)
    edges = _unripped(chain, wall, table, sheet, kept)
    tags = tags_for(prefix, [kept[edge].tag if edge in kept else "" for edge in edges], taken)
    layout = _hang(chain, edges, tags, kept, wall, rules, table, sheet, unit)
    if rough and layout.bound:
        violation, price_bound = layout.bound.violation + chain.less[0], layout.bound.price + chain.less[1]
        return replace(layout, bound=Goals(violation, price_bound, 0, 0, 0, 0))
    return layout


def split_at(layout: Layout, wall: Wall, rules: Rules, number: int, lower: int) -> Layout | None:
    """Return a layout with one of its drops in two pieces split elsewhere.

    Parameters
    ----------
    layout, wall
        The layout and its run.
    rules
        For the end lap, the longest piece, and what end laps keep clear of.
    number
        Of the drop.
    lower
        Height of its lower piece [ticks].

    Returns
    -------
    Layout or None
        None where the drop is not in two pieces of one column, a piece gets too long or too short, or the end lap is
        too near to anything.
    """
    drop, lap = layout.drops[number], rules.end_lap
    boxes = layout.splits[drop.tag]
    if len(boxes) != 2 or not end_lap_levels(boxes):
        return None
    top, bottom = boxes[0][0], boxes[-1][1]
    level, pieces = bottom + lower - lap, (lower, top - bottom + lap - lower)
    beside = {(number + side) % len(layout.drops) for side in (-1, 1)} if wall.closed else {number - 1, number + 1}
    near = [
        end for i in beside - {number} if 0 <= i < len(layout.drops)
        for end in end_lap_levels(layout.splits[layout.drops[i].tag])
    ]
    if min(pieces) <= lap or max(pieces) > longest_piece(rules) or too_near([level], near, rules.end_lap_stagger):
        return None
    if any(thing.shortfall(level, lap) for thing in things_near(wall, drop.left, drop.right, rules)):
        return None
    return replace(layout, splits={**layout.splits, drop.tag: ((top, level), (level + lap, bottom))})


def sheet_for(wall: Wall, rules: Rules, *, width: int, side_lap: int) -> Sheet:
    """Return the sheet that a run is hung with.

    Raises
    ------
    NoLayout
        When the lap is as wide as the sheet.
    """
    if side_lap >= width:
        raise NoLayout(f"rules.side_lap must be less than the sheet's width (got {side_lap} and {width} ticks)")
    narrowest = min(rules.min_width, wall.length, width)
    return Sheet(width=width, narrowest=max(narrowest, side_lap + 1), side_lap=side_lap)


def price_table_for(
    wall: Wall, rules: Rules, price: PriceOf, *, width: int, share: int = 0,
) -> PriceTable:
    """Price the columns of every drop that could hang on a run."""
    return price_table(rules, price, tallest=_tallest(wall, width), width=width, share=share)


def _tallest(wall: Wall, width: int) -> int:
    """Return a height that no drop exceeds: the greatest over any two neighbouring stretches of a sheet's width."""
    cells = np.arange(0, wall.length, width)
    tops = np.maximum.reduceat(cell_values(wall.top, wall.length, up=True), cells)
    bottoms = np.minimum.reduceat(cell_values(wall.bottom, wall.length, up=False), cells)
    tallest = (tops - bottoms).max()
    for after in (1, 2):  # the last stretch may be short, and the run closed
        heights = np.maximum(tops, np.roll(tops, after)) - np.minimum(bottoms, np.roll(bottoms, after))
        tallest = max(tallest, heights.max())
    return max(int(tallest), 0)


def _unripped(
    chain: Chain, wall: Wall, table: PriceTable, sheet: Sheet, kept: Collection[Band],
) -> list[Band]:
    """Leave drops at full width where that changes no goal, but for those that are kept."""
    stretch, edges = chain.stretch, list(chain.edges)
    for i, (left, right) in enumerate(edges):
        full = left + sheet.width
        following = _left_edge(edges, i + 1, wall)
        beyond = _left_edge(edges, i + 2, wall)
        if (left, right) in kept or right == full or following is None:
            continue
        if full > (wall.length if beyond is None else beyond):
            continue
        worth, worth_full = (_worth(stretch, left, edge, table) for edge in (right, full))
        if stretch.reached[full] == stretch.reached[right] and worth_full == worth:
            edges[i] = (left, full)
    return edges


def _left_edge(edges: Sequence[Band], index: int, wall: Wall) -> int | None:
    """Return the left edge of a drop, counting on round a closed run; None past the end of an open one."""
    if index < len(edges):
        return edges[index][0]
    turns, index = divmod(index, len(edges))
    return edges[index][0] + turns * wall.length if wall.closed else None


def _worth(stretch: StretchCells, left: int, right: int, table: PriceTable) -> tuple[int, int]:
    """Return the price of a drop and the pieces it is hung in."""
    heights = [top - bottom for top, bottom in stretch.boxes(left, right)]
    return table.of(heights, right - left), sum(int(table.pieces[height]) for height in heights)


def _hang(
    chain: Chain, edges: Sequence[Band], tags: Sequence[str], kept: Mapping[Band, FixedDrop], wall: Wall, rules: Rules,
    table: PriceTable, sheet: Sheet, unit: Unit,
) -> Layout:
    """Judge the chain, shingle it and say what it breaks."""
    stretch = chain.stretch
    count = len(edges)
    bands = bands_of(edges, wall)
    sides = water_sides(wall, bands)
    bottoms = [int(stretch.class_bottom[stretch.kind[left]]) for left, _ in bands]
    heights = [int(stretch.seam[left]) for left, _ in bands]
    tuck = closing_seam(sides, bands, bottoms, heights) if wall.closed else None
    order = install_order(count, sides, closed=wall.closed, tuck=tuck)
    turn = {drop: i + 1 for i, drop in enumerate(order)}
    drops = tuple(
        Drop(tag, wall.run, wall.layer, left, right, turn[i])
        for i, (tag, (left, right)) in enumerate(zip(tags, edges, strict=True))
    )
    seams = tuple(
        Seam(
            wall.run, wall.layer, left, right, tags[i], tags[(i + 1) % count],
            over=tags[i] if side == "right" else tags[(i + 1) % count], tuck=i == tuck,
        )
        for i, ((left, right), side) in enumerate(zip(bands, sides, strict=True))
    )
    splits = split_drops(
        wall, edges, [stretch.boxes(*edge) for edge in edges], rules, table,
        fixed={i: kept[edge].boxes for i, edge in enumerate(edges) if edge in kept}, unit=unit,
    )
    broken = broken_clearances(wall, stretch, bands, sheet, fixed=bool(kept), unit=unit)
    broken += ripped_too_narrow(wall, edges, min_width=min(rules.min_width, sheet.width), unit=unit)
    bound = judge(stretch, edges, bands, table, sheet)
    return Layout(
        drops, seams, dict(zip(tags, splits.boxes, strict=True)), tuple(broken) + splits.broken,
        cost=bound._replace(
            violation=bound.violation + splits.shortfall,
            price=sum(
                table.of_pieces([top - bottom for top, bottom in boxes], right - left)
                for boxes, (left, right) in zip(splits.boxes, edges, strict=True)
            ),
            pieces=sum(len(boxes) for boxes in splits.boxes),
        ),
        bound=bound if chain.proven else None,
    )


def bands_of(edges: Sequence[Band], wall: Wall) -> list[Band]:
    """Return (left, right) of the lap of each drop with the next one [ticks]."""
    bands: list[Band] = []
    for i, (_, right) in enumerate(edges):
        following = _left_edge(edges, i + 1, wall)
        if following is not None:
            bands.append((following, right))
    return bands


def judge(
    stretch: StretchCells, edges: Sequence[Band], bands: Sequence[Band], table: PriceTable, sheet: Sheet,
) -> Goals:
    """Add up what a chain of drops is judged by, from the drops themselves.

    Parameters
    ----------
    stretch
        The wall; edges are positions on it.
    edges, bands
        The drops and their laps.
    table
        Prices of columns.
    sheet
        For the standard spacing.
    """
    worths = [_worth(stretch, left, right, table) for left, right in edges]
    return Goals(
        violation=sum(stretch.violation(left, right) for left, right in bands),
        price=sum(price for price, _ in worths),
        pieces=sum(pieces for _, pieces in worths),
        drops=len(edges),
        seam_length=sum(int(stretch.seam[left]) for left, _ in bands),
        odd_spacings=sum(
            band[0] - edge[0] != sheet.step for edge, band in zip(edges, bands, strict=False)
        ),
    )
