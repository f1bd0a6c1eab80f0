"""The comparison as a picture: a bar for each way to do the job, parted into where its sheet goes."""

from __future__ import annotations

from collections.abc import Sequence

from layout.compare.planning import Figures, Row
from layout.compare.table import ranked
from layout.drawing.model.entities import Box, Drawing, Entity, Hatch, Polyline, Text, Tone, on_wall
from layout.drawing.model.fonts import shortened, width
from layout.drawing.svg import svg_text
from layout.units import Unit

SMALL, LARGE = 2.5, 3.5
"""Heights of capitals [mm]."""
WIDE, BAR, ROW = 240.0, 7.0, 20.0
"""Length of the longest bar, height of a bar, and from one way to the next [mm]."""
MARGIN, HEAD, FOOT = 10.0, 16.0, 4.0
PARTS: tuple[tuple[str, str, Tone, float], ...] = (
    ("to_cover", "on the wall", "sheet", 0.0), ("lap_area", "laps", "reinforcing", 0.0),
    ("cut_away", "cut away", "paper", 1.2), ("leftover_kept", "kept", "leftover", 0.0),
    ("scrap", "scrap", "paper", 0.6),
)
"""Figure, its name, the fill of its share of the bar, and the spacing of its hatch [mm], 0 for none."""


def cost_picture(rows: Sequence[Row], unit: Unit) -> str:
    """Return the picture as SVG: the cheapest first, each bar as long as the sheet that is opened.

    Parameters
    ----------
    rows
        The rows; those without a layout are left out.
    unit
        What areas are told in.
    """
    shown = [(row, row.figures) for row in ranked(rows) if row.figures is not None]
    longest = max((_opened(found) for _, found in shown), default=0.0) or 1.0
    one = on_wall(1.0, unit, 1)
    entities: list[Entity] = []
    high = HEAD + ROW * len(shown) + FOOT
    y = high - MARGIN / 2
    _text(entities, one, 0.0, y - 5, f"Where the sheet goes [{unit.area_name}]", LARGE)
    _legend(entities, one, y - 11)
    y -= HEAD
    for row, found in shown:
        total = "" if found.total is None else f": {found.total:,.2f} {found.currency}".rstrip()
        name = shortened(" ".join(row.name.split()), SMALL, WIDE - width(total, SMALL) - 4)
        _text(entities, one, 0.0, y - 3, name + total, SMALL)
        _bar(entities, one, y - 4.5, found, WIDE / longest)
        told = " · ".join(f"{name} {found.value(key):,}" for key, name, _, _ in PARTS)
        _text(entities, one, 0.0, y - 4.5 - BAR - 3.2, f"{told} · opened {_opened(found):,.1f}", SMALL)
        y -= ROW
    frame = Box(-MARGIN * one, -MARGIN / 2 * one, (WIDE + MARGIN) * one, (high + MARGIN / 2) * one)
    return svg_text(Drawing("comparison", "Where the sheet goes", unit, 1, frame, tuple(entities)))


def _opened(found: Figures) -> float:
    """Return the area of all rolls that are opened."""
    return float(sum((getattr(found, key) for key, _, _, _ in PARTS), start=found.scrap - found.scrap))


def _text(entities: list[Entity], one: float, x: float, y: float, text: str, height: float) -> None:
    entities.append(Text("text", (x * one, y * one), text, height))


def _box(one: float, left: float, top: float, right: float, high: float) -> tuple[tuple[float, float], ...]:
    return ((left * one, top * one), (right * one, top * one), (right * one, (top - high) * one),
            (left * one, (top - high) * one))


def _part(entities: list[Entity], one: float, ring: tuple[tuple[float, float], ...], tone: Tone, hatch: float) -> None:
    entities.append(Polyline("schedule", ring, tone=tone))
    if hatch:
        entities.append(Hatch("schedule", (ring,), hatch))


def _bar(entities: list[Entity], one: float, top: float, found: Figures, scale: float) -> None:
    left = 0.0
    for key, _, tone, hatch in PARTS:
        wide = max(float(getattr(found, key)), 0.0) * scale
        if wide > 0:
            _part(entities, one, _box(one, left, top, left + wide, BAR), tone, hatch if wide > 0.5 else 0.0)
        left += wide


def _legend(entities: list[Entity], one: float, y: float) -> None:
    x = 0.0
    for _, name, tone, hatch in PARTS:
        _part(entities, one, _box(one, x, y + 3, x + 6, 4), tone, hatch)
        _text(entities, one, x + 7.5, y, name, SMALL)
        x += 7.5 + width(name, SMALL) + 8
