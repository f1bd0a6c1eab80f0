"""Symbols: each drawn once, in plotted millimetres, and put wherever it is needed."""

from __future__ import annotations

from layout.drawing.model.entities import Block, Circle, Line, Polyline, Slot, Text, Vec

SMALL = 2.5
"""Height of the smallest capitals on any drawing [mm]: clears both 3/32 in and 2.5 mm."""
TAG_HEIGHT = 2.8
"""Height of a drop's tag [mm], in bold: six characters fit between the laps of a 36 in sheet at 1:48."""

FLAG_HIGH = 4.4
"""Height of the flag of an exception [mm]."""


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

TITLE_WIDE, TITLE_HIGH = 190.0, 52.0
"""Size of the title block [mm]."""


def _title_block() -> Block:
    """Return the title block, its lower right corner at the origin: captions, and a slot for each field."""
    w, h = TITLE_WIDE, TITLE_HIGH
    lines = [Polyline("title", ((-w, h), (0.0, h), (0.0, 0.0), (-w, 0.0)))]
    fields: list[tuple[str, str, float, float, float]] = [
        # caption, attribute, left, base of the value, height of the value
        ("JOB", "JOB", -w, 39.5, 3.5), ("NUMBER", "NUMBER", -50.0, 39.5, 2.8),
        ("SITE", "SITE", -w, 26.5, 2.8), ("REVISION", "REVISION", -50.0, 26.5, 2.8),
        ("PREPARED BY", "PREPARED_BY", -w, 13.5, 2.8), ("DATE", "DATE", -105.0, 13.5, 2.8),
        ("SCALE", "SCALE", -50.0, 13.5, 2.5),
        ("SHEET TITLE", "TITLE", -w, 0.0, 3.2), ("SHEET", "SHEET", -50.0, 0.0, 4.5),
    ]
    captions = [Text("title", (left + 2.0, base + 8.6), caption, SMALL) for caption, _, left, base, _ in fields]
    slots = tuple(Slot(tag, (left + 2.0, base + 2.2), height, "left", "base") for _, tag, left, base, height in fields)
    rules = [Line("title", (-w, y), (0.0, y)) for y in (13.0, 26.0, 39.0)]
    uprights = [Line("title", (-50.0, 0.0), (-50.0, h)), Line("title", (-105.0, 13.0), (-105.0, 26.0))]
    return Block("TITLE-BLOCK", (*lines, *rules, *uprights, *captions), slots)


BLOCKS: dict[str, Block] = {block.name: block for block in (
    Block("TAG", (), (Slot("TAG", (0.0, 0.0), TAG_HEIGHT, strong=True),)),
    Block("TAG-UP", (), (Slot("TAG", (0.0, 0.0), TAG_HEIGHT, turned=True, strong=True),)),
    Block("MARK", (), (Slot("TAG", (0.0, 0.0), SMALL),)),
    Block("MARK-UP", (), (Slot("TAG", (0.0, 0.0), SMALL, turned=True),)),
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
    _title_block(),
    Block("CENTRE", (Line("sleeve", (-1.5, 0.0), (1.5, 0.0)), Line("sleeve", (0.0, -1.5), (0.0, 1.5)))),
)}
"""Every symbol by name. TAG and its like carry the tag of a piece; ORDER the install number; FLAG the number of an
exception; ON-… says that the drop goes on around the corner."""
