"""Symbols: each drawn once, in plotted millimetres, and put wherever it is needed."""

from __future__ import annotations

from collections.abc import Sequence

from layout.drawing.model.entities import Block, Circle, Entity, Line, Polyline, Slot, Text, Vec
from layout.drawing.model.fonts import abridged

SMALL = 2.5
"""Height of the smallest capitals on any drawing [mm]: clears both 3/32 in and 2.5 mm."""
TAG_HEIGHT = 2.8
"""Height of a drop's tag [mm], in bold: six characters fit between the laps of a 36 in sheet at 1:48."""
LONGEST_TAG = 40.0
"""A tag that would be wider is written without its middle; the block's data and the tables have it whole [mm]."""

FLAG_HIGH = 4.4
"""Height of the flag of an exception [mm]."""


def tag_written(tag: str) -> str:
    """Return the tag of a piece as it is written on a drawing, the same wherever it stands.

    Parameters
    ----------
    tag
        The whole tag: as long as the names in it, which may have as many letters as a job file allows.
    """
    return abridged(tag, TAG_HEIGHT, LONGEST_TAG, strong=True)


def _mirrored(points: tuple[Vec, ...]) -> tuple[Vec, ...]:
    """Return points mirrored left to right."""
    return tuple((-x, y) for x, y in points)


_OVER: tuple[Vec, ...] = ((-0.6, 1.1), (0.6, 0.0), (-0.6, -1.1))
_ARROW: tuple[Vec, ...] = ((4.0, 0.9), (8.0, 0.0), (4.0, -0.9))
_SHAFT: tuple[Vec, ...] = ((-8.0, 0.0), (4.0, 0.0))
_FLAG: tuple[Vec, ...] = ((-5.0, 0.0), (-3.2, 2.2), (3.2, 2.2), (5.0, 0.0), (3.2, -2.2), (-3.2, -2.2))
_FLAG_WIDE: tuple[Vec, ...] = ((-6.6, 0.0), (-4.8, 2.2), (4.8, 2.2), (6.6, 0.0), (4.8, -2.2), (-4.8, -2.2))
_CHEVRON: tuple[Vec, ...] = ((-1.2, 1.2), (0.0, 0.0), (-1.2, -1.2))
_CHEVRON_AHEAD: tuple[Vec, ...] = ((0.0, 1.2), (1.2, 0.0), (0.0, -1.2))

CALL = 6.4
"""Radius of a call-out's circle [mm]."""
LARGE_BLOCK, SMALL_BLOCK, SLIM_BLOCK = (262.0, 52.0), (196.0, 36.0), (252.0, 18.0)
"""Size of the title block on a large sheet, a small one and the smallest [mm]."""

BlockCell = tuple[str, str, float, float, float]
"""Caption, attribute, left end and foot of the value, height of the value [mm]."""


def _title_block(
    name: str, size: Vec, rules: Sequence[tuple[Vec, Vec]], cells: Sequence[BlockCell], up: float,
) -> Block:
    """Return a title block, its lower right corner at the origin: captions, and a slot for each field."""
    w, h = size
    lines: list[Entity] = [Polyline("title", ((-w, h), (0.0, h), (0.0, 0.0), (-w, 0.0))),
                           *(Line("title", start, end) for start, end in rules)]
    captions = [Text("title", (left, foot + up), caption, SMALL) for caption, _, left, foot, _ in cells if caption]
    slots = tuple(Slot(tag, (left, foot), high, "left", "base") for _, tag, left, foot, high in cells)
    return Block(name, (*lines, *captions), slots)


def _large_block() -> Block:
    w, h = LARGE_BLOCK
    cells: list[BlockCell] = [
        ("JOB", "JOB", -188.0, 41.2, 3.5), ("NUMBER", "NUMBER", -48.0, 41.2, 2.8),
        ("SITE", "SITE", -188.0, 28.2, 2.8), ("REVISION", "REVISION", -48.0, 28.2, 2.8),
        ("PREPARED BY", "PREPARED_BY", -188.0, 15.2, 2.8), ("DATE", "DATE", -103.0, 15.2, 2.8),
        ("SCALE", "SCALE", -48.0, 15.2, 2.5), ("SHEET TITLE", "TITLE", -188.0, 2.2, 3.2),
        ("SHEET", "SHEET", -48.0, 2.2, 4.5), ("", "OF", -20.0, 2.2, 2.8),
        ("DRAWN", "DRAWN", -w + 2.0, 41.2, 2.8), ("DATE", "DRAWN_DATE", -215.0, 41.2, 2.5),
        ("CHECKED", "CHECKED", -w + 2.0, 28.2, 2.8), ("DATE", "CHECKED_DATE", -215.0, 28.2, 2.5),
        ("APPROVED", "APPROVED", -w + 2.0, 15.2, 2.8), ("DATE", "APPROVED_DATE", -215.0, 15.2, 2.5),
        ("SET", "SET", -w + 2.0, 2.2, 2.5),
    ]
    rules = [*(((-w, y), (0.0, y)) for y in (13.0, 26.0, 39.0)), ((-190.0, 0.0), (-190.0, h)),
             ((-50.0, 0.0), (-50.0, h)), ((-105.0, 13.0), (-105.0, 26.0)), ((-217.0, 13.0), (-217.0, h))]
    return _title_block("TITLE-BLOCK", LARGE_BLOCK, rules, cells, 6.4)


def _small_block() -> Block:
    w, h = SMALL_BLOCK
    cells: list[BlockCell] = [
        ("JOB", "JOB", -140.0, 28.2, 2.5), ("NUMBER", "NUMBER", -42.0, 28.2, 2.5),
        ("SITE", "SITE", -140.0, 19.2, 2.5), ("REVISION", "REVISION", -42.0, 19.2, 2.5),
        ("PREPARED BY", "PREPARED_BY", -140.0, 10.2, 2.5), ("DATE", "DATE", -88.0, 10.2, 2.5),
        ("SCALE", "SCALE", -42.0, 10.2, 2.5), ("SHEET TITLE", "TITLE", -140.0, 1.2, 2.5),
        ("SHEET", "SHEET", -42.0, 1.2, 2.8), ("", "OF", -22.0, 1.2, 2.5),
        ("DRAWN", "DRAWN", -w + 1.5, 28.2, 2.5), ("DATE", "DRAWN_DATE", -163.0, 28.2, 2.5),
        ("CHECKED", "CHECKED", -w + 1.5, 19.2, 2.5), ("DATE", "CHECKED_DATE", -163.0, 19.2, 2.5),
        ("APPROVED", "APPROVED", -w + 1.5, 10.2, 2.5), ("DATE", "APPROVED_DATE", -163.0, 10.2, 2.5),
        ("SET", "SET", -w + 1.5, 1.2, 2.5),
    ]
    rules = [*(((-w, y), (0.0, y)) for y in (9.0, 18.0, 27.0)), ((-141.5, 0.0), (-141.5, h)),
             ((-43.5, 0.0), (-43.5, h)), ((-89.5, 9.0), (-89.5, 18.0)), ((-164.5, 9.0), (-164.5, h))]
    return _title_block("TITLE-BLOCK-SMALL", SMALL_BLOCK, rules, cells, 4.2)


def _slim_block() -> Block:
    w, h = SLIM_BLOCK
    cells: list[BlockCell] = [
        ("JOB", "JOB", -w + 1.5, 10.2, 2.5), ("NUMBER", "NUMBER", -180.5, 10.2, 2.5),
        ("SHEET TITLE", "TITLE", -150.5, 10.2, 2.5), ("SCALE", "SCALE", -82.5, 10.2, 2.5),
        ("SHEET", "SHEET", -40.5, 10.2, 2.8), ("", "OF", -20.5, 10.2, 2.5),
        ("SITE", "SITE", -w + 1.5, 1.2, 2.5), ("REVISION", "REVISION", -180.5, 1.2, 2.5),
        ("DRAWN", "DRAWN", -150.5, 1.2, 2.5), ("DATE", "DRAWN_DATE", -122.5, 1.2, 2.5),
        ("CHECKED", "CHECKED", -100.5, 1.2, 2.5), ("DATE", "CHECKED_DATE", -72.5, 1.2, 2.5),
        ("APPROVED", "APPROVED", -50.5, 1.2, 2.5), ("DATE", "APPROVED_DATE", -22.5, 1.2, 2.5),
    ]
    rules: list[tuple[Vec, Vec]] = [((-w, 9.0), (0.0, 9.0))]
    rules += [((x, 0.0), (x, h)) for x in (-182.0, -152.0)] + [((x, 9.0), (x, h)) for x in (-84.0, -42.0)]
    rules += [((x, 0.0), (x, 9.0)) for x in (-124.0, -102.0, -74.0, -52.0, -24.0)]
    made = _title_block("TITLE-BLOCK-SLIM", SLIM_BLOCK, rules, cells, 4.2)
    hidden = tuple(Slot(tag, (0.0, 0.0), SMALL, hidden=True) for tag in ("PREPARED_BY", "DATE", "SET"))
    return Block(made.name, made.entities, (*made.slots, *hidden))


_DATA = tuple(Slot(tag, (0.0, 0.0), SMALL, hidden=True) for tag in ("KIND", "FACE", "ROLL", "LENGTH", "WIDTH", "ORDER"))
"""What the block of a piece knows besides its tag."""


BLOCKS: dict[str, Block] = {block.name: block for block in (
    Block("TAG", (), (Slot("TAG", (0.0, 0.0), TAG_HEIGHT, strong=True), *_DATA)),
    Block("TAG-UP", (), (Slot("TAG", (0.0, 0.0), TAG_HEIGHT, turned=True, strong=True), *_DATA)),
    Block("MARK", (), (Slot("TAG", (0.0, 0.0), SMALL), *_DATA)),
    Block("MARK-UP", (), (Slot("TAG", (0.0, 0.0), SMALL, turned=True), *_DATA)),
    Block("ORDER", (Circle("tag", (0.0, 0.0), 2.9),), (Slot("ORDER", (0.0, 0.0), SMALL),)),
    Block("ORDER-WIDE", (Circle("tag", (0.0, 0.0), 3.9),), (Slot("ORDER", (0.0, 0.0), SMALL),)),
    Block("FLAG", (Polyline("flag", _FLAG),), (Slot("FLAG", (0.0, 0.0), SMALL, strong=True),)),
    Block("FLAG-WIDE", (Polyline("flag", _FLAG_WIDE),), (Slot("FLAG", (0.0, 0.0), SMALL, strong=True),)),
    Block("OVER-RIGHT", (Polyline("over", _OVER, tone="ink"),)),
    Block("OVER-LEFT", (Polyline("over", _mirrored(_OVER), tone="ink"),)),
    Block("FLOW-RIGHT", (Polyline("water", _ARROW, tone="ink"), Polyline("water", _SHAFT, closed=False))),
    Block("FLOW-LEFT", (Polyline("water", _mirrored(_ARROW), tone="ink"),
                        Polyline("water", _mirrored(_SHAFT), closed=False))),
    Block("LOW", (Polyline("water", ((-1.6, 2.8), (1.6, 2.8), (0.0, 0.0)), tone="ink"),)),
    Block("HIGH", (Polyline("water", ((-1.6, 0.0), (0.0, 2.8), (1.6, 0.0)), tone="paper"),)),
    Block("ON-RIGHT", (Polyline("tag", _CHEVRON, closed=False), Polyline("tag", _CHEVRON_AHEAD, closed=False))),
    Block("ON-LEFT", (Polyline("tag", _mirrored(_CHEVRON), closed=False),
                      Polyline("tag", _mirrored(_CHEVRON_AHEAD), closed=False))),
    _large_block(),
    _small_block(),
    _slim_block(),
    Block("VIEW", (Circle("title", (0.0, 0.0), 3.6),), (Slot("NUMBER", (0.0, 0.0), 3.0, strong=True),)),
    Block("CALL", (Circle("tag", (0.0, 0.0), CALL, tone="paper"), Line("tag", (-CALL, 0.0), (CALL, 0.0))),
          (Slot("NUMBER", (0.0, 2.6), SMALL, strong=True), Slot("SHEET", (0.0, -2.4), SMALL)), blank=True),
    Block("CUT", (Polyline("tag", ((-1.4, 0.0), (1.4, 0.0), (0.0, 2.4)), tone="ink"),)),
    Block("NORTH", (Circle("note", (0.0, 0.0), 6.0),)),
    Block("CENTRE", (Line("sleeve", (-1.5, 0.0), (1.5, 0.0)), Line("sleeve", (0.0, -1.5), (0.0, 1.5)))),
)}
"""Every symbol by name. TAG and its like carry the tag of a piece; ORDER the install number; FLAG the number of an
exception; ON-… says that the drop goes on around the corner."""
