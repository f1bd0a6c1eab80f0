"""What a person with a chalk line would hang: for comparison with what the search found."""

from __future__ import annotations

from layout.drops.columns import columns
from layout.drops.costs import Goals
from layout.drops.place import Layout, bands_of, judge, price_table_for, sheet_for
from layout.drops.prices import length_price
from layout.records import Rules, Wall
from layout.units import Unit, tape


def chalk_line(wall: Wall, rules: Rules, *, width: int, side_lap: int) -> Goals:
    """Return what a run costs by habit: full sheets at the least lap from the left end of each face.

    The last sheet of a face is turned around the corner and the next face starts over at its left end; faces that meet
    without a corner count as one. Sheets are not ripped, but for the last of an open run, and nothing is kept clear of.

    Parameters
    ----------
    wall, rules, width, side_lap
        As for ``place``.
    """
    sheet = sheet_for(wall, rules, width=width, side_lap=side_lap)
    table = price_table_for(wall, rules, length_price, width=width)
    starts = [0] + [face.right for face in wall.faces[:-1] if face.corner != "none"]
    edges: list[tuple[int, int]] = []
    for start, end in zip(starts, [*starts[1:], wall.length], strict=True):
        last = end == wall.length and not wall.closed
        left = start
        edges.append((left, left + width))
        while edges[-1][1] < end + (0 if last else side_lap):
            left += sheet.step
            edges.append((left, left + width))
    if not wall.closed:
        edges = [(left, min(right, wall.length)) for left, right in edges]
    stretch = columns(wall, extent=wall.length + 2 * width if wall.closed else None)
    return judge(stretch, edges, bands_of(edges, wall), table, sheet)


def habit_note(layout: Layout, habit: Goals, run: str, unit: Unit) -> str:
    """Say by how much a layout is better than habit.

    Parameters
    ----------
    layout
        What was placed, priced by length.
    habit
        What ``chalk_line`` gives for the same run.
    run, unit
        For the words.
    """
    found = layout.cost
    breaking = f", breaking clearances by {tape(habit.violation, unit)} in all" if habit.violation else ""
    return (
        f"run {run}: {found.pieces} pieces, {tape(found.price, unit)} of sheet; by habit, full sheets from the left "
        f"end of each face, {habit.pieces} pieces, {tape(habit.price, unit)}{breaking}: "
        f"{tape(abs(habit.price - found.price), unit)} {'more' if habit.price >= found.price else 'less'}"
    )
