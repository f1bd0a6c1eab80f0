"""The neutral drawing: what is drawn, on which layer, at which scale; no file format is known here.

Two measures live side by side. Things on the wall are in ticks, the job's own grid, so that a wall is
drawn 1:1. Things that must be read on paper (text heights, symbols, gaps) are in plotted millimetres;
``Drawing.on_wall`` turns one into the other.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field, replace
from typing import Literal, NamedTuple, Union

from layout.errors import DrawingError
from layout.units import Unit

Vec = tuple[float, float]
AlignAcross = Literal["left", "centre", "right"]
AlignUp = Literal["base", "middle", "top"]
Measure = Literal["across", "up", "station", "level"]
Tone = Literal["", "paper", "concrete", "sheet", "reinforcing", "leftover", "ink"]
"""How an area is filled on screen and paper; a CAD file has the outline and leaves fills to hatches."""

PLOTTED_MM = {"in": 25.4 * 3 / 32, "mm": 2.5}
"""Least height of plotted capitals [mm]: 3/32 in (National CAD Standard) or 2.5 mm (ISO 3098); from memory."""


class Box(NamedTuple):
    """An upright rectangle."""

    left: float
    bottom: float
    right: float
    top: float

    @property
    def width(self) -> float:
        """Size across."""
        return self.right - self.left

    @property
    def height(self) -> float:
        """Size up."""
        return self.top - self.bottom

    @property
    def centre(self) -> Vec:
        """The middle."""
        return (self.left + self.right) / 2, (self.bottom + self.top) / 2

    def overlaps(self, other: Box) -> bool:
        """Tell whether two boxes share more than an edge."""
        return (self.left < other.right and other.left < self.right
                and self.bottom < other.top and other.bottom < self.top)

    def holds(self, other: Box) -> bool:
        """Tell whether the other box lies within this one."""
        return (self.left <= other.left and other.right <= self.right
                and self.bottom <= other.bottom and other.top <= self.top)

    def grown(self, by: float) -> Box:
        """Return the box with every side moved outward."""
        return Box(self.left - by, self.bottom - by, self.right + by, self.top + by)

    def moved(self, by: Vec) -> Box:
        """Return the box moved by a step."""
        return Box(self.left + by[0], self.bottom + by[1], self.right + by[0], self.top + by[1])

    @staticmethod
    def around(boxes: Iterable[Box]) -> Box:
        """Return the box around others, of which there must be one at least."""
        every = list(boxes)
        return Box(min(b.left for b in every), min(b.bottom for b in every),
                   max(b.right for b in every), max(b.top for b in every))


# --- what can be drawn: tuples, since a drawing has tens of thousands ---------------------------

class Line(NamedTuple):
    """A straight line."""

    layer: str
    start: Vec
    end: Vec


class Polyline(NamedTuple):
    """Joined straight lines.

    ``piece`` is the tag of the sheet whose whole outline this is, or empty, ``values`` what is known of it; ``wall`` is
    the run and the face whose outline this is, with the point of station 0, elevation 0.
    """

    layer: str
    points: tuple[Vec, ...]
    closed: bool = True
    tone: Tone = ""
    piece: str = ""
    values: tuple[tuple[str, str], ...] = ()
    wall: tuple[str, str, Vec] | None = None


class Circle(NamedTuple):
    """A circle."""

    layer: str
    centre: Vec
    radius: float
    tone: Tone = ""


class Hatch(NamedTuple):
    """An area filled with slanted lines: an outer ring, then rings left out of it.

    ``spacing`` is the plotted distance between the lines [mm]; ``angle`` their slope, 45 or 135 degrees.
    """

    layer: str
    rings: tuple[tuple[Vec, ...], ...]
    spacing: float = 1.0
    angle: int = 45


class Text(NamedTuple):
    """One line of text; ``height`` is that of its capitals, plotted [mm]; ``turned`` reads upward.

    ``masked`` text stands on a blank that hides what was drawn before it.
    """

    layer: str
    at: Vec
    text: str
    height: float
    across: AlignAcross = "left"
    up: AlignUp = "base"
    turned: bool = False
    strong: bool = False
    masked: bool = False


class Dimension(NamedTuple):
    """A measured length.

    Parameters
    ----------
    measure
        ``across`` or ``up``: from ``start`` to ``end``, the dimension line through ``at``. ``station`` or
        ``level``: how far ``end`` is to the right of, or above, the origin ``start``, the leader ending at ``at``.
    text
        The length as a person reads it, and what follows it.
    height
        Plotted height of the text [mm].
    suffix
        The end of ``text`` that is not measured: what the length belongs to.
    masked
        Its text stands on a blank.
    """

    layer: str
    measure: Measure
    start: Vec
    end: Vec
    at: Vec
    text: str
    height: float
    suffix: str = ""
    masked: bool = False


class Insert(NamedTuple):
    """A block put at a point, with the values of its attributes.

    ``away`` is where the attributes are written when that is not at the block itself: at the end of a leader. The
    attributes of a ``masked`` one stand on a blank.
    """

    layer: str
    block: str
    at: Vec
    values: tuple[tuple[str, str], ...] = ()
    away: Vec | None = None
    masked: bool = False


@dataclass(frozen=True)
class Group:
    """What belongs to one piece: its tag, a title for screen readers, what is drawn of it."""

    tag: str
    title: str
    entities: tuple[Entity, ...]


@dataclass(frozen=True)
class SubDrawing:
    """A drawing put into another as one thing: a block in a CAD file, used by its name.

    Parameters
    ----------
    name
        Its name; two parts of one name hold the same.
    entities
        What is drawn, in a frame of its own.
    base, at
        The point of that frame that is put at a point of the drawing around it.
    values
        What is known of it, as hidden attributes.
    """

    name: str
    entities: tuple[Entity, ...] = field(repr=False)
    base: Vec = (0.0, 0.0)
    at: Vec = (0.0, 0.0)
    values: tuple[tuple[str, str], ...] = ()

    @property
    def step(self) -> Vec:
        """How far its entities are moved."""
        return self.at[0] - self.base[0], self.at[1] - self.base[1]


Entity = Union[Line, Polyline, Circle, Hatch, Text, Dimension, Insert, Group, SubDrawing]


@dataclass(frozen=True)
class Slot:
    """The place of an attribute in a block [plotted mm]; a hidden one is data only."""

    tag: str
    at: Vec
    height: float
    across: AlignAcross = "centre"
    up: AlignUp = "middle"
    turned: bool = False
    strong: bool = False
    hidden: bool = False


@dataclass(frozen=True)
class Block:
    """A symbol drawn once and used many times, in plotted millimetres around its own origin.

    A ``blank`` one hides what was drawn before it within its outline, and its own text stands on that.
    """

    name: str
    entities: tuple[Entity, ...]
    slots: tuple[Slot, ...] = ()
    blank: bool = False


# --- drawings and pages ------------------------------------------------------------------------

@dataclass(frozen=True)
class Drawing:
    """A drawing at one scale.

    Parameters
    ----------
    name, title
        A short name for files, and what a person reads above it.
    unit
        The job's unit; coordinates are its ticks.
    scale
        48 for 1:48.
    frame
        What is shown, margins included [ticks].
    entities
        In drawing order, the last on top.
    breaks
        Stations at which a drawing too wide for a page is best parted [ticks].
    told
        What one who cannot see it must know.
    key
        What its numbers and flags stand for, where that is not written on it.
    """

    name: str
    title: str
    unit: Unit
    scale: int
    frame: Box
    entities: tuple[Entity, ...] = field(repr=False)
    breaks: tuple[float, ...] = ()
    told: str = ""
    key: tuple[str, ...] = ()

    def on_wall(self, plotted: float) -> float:
        """Return ticks on the wall that plot as so many millimetres."""
        return on_wall(plotted, self.unit, self.scale)

    @property
    def paper(self) -> Vec:
        """Plotted width and height [mm]."""
        one = self.on_wall(1.0)
        return self.frame.width / one, self.frame.height / one


def on_wall(plotted: float, unit: Unit, scale: int) -> float:
    """Return the ticks on the wall that plot as a length on paper.

    Parameters
    ----------
    plotted
        Length on paper [mm].
    unit
        Whose ticks.
    scale
        48 for 1:48.
    """
    return plotted * scale / float(unit.tick_mm)


@dataclass(frozen=True)
class PaperSize:
    """A sheet of paper lying down [mm], and what else it is called."""

    name: str
    width: float
    height: float
    also: tuple[str, ...] = ()


PAPERS = {
    size.name: size for size in (
        # ASME Y14.1 and the architectural series in inches; ISO 216 in millimetres
        PaperSize("ARCH D", 36 * 25.4, 24 * 25.4),
        PaperSize("ANSI B", 17 * 25.4, 11 * 25.4, ("tabloid",)),
        PaperSize("ANSI A", 11 * 25.4, 8.5 * 25.4, ("letter",)),
        PaperSize("A1", 841.0, 594.0),
        PaperSize("A3", 420.0, 297.0),
        PaperSize("A4", 297.0, 210.0),
    )
}


@dataclass(frozen=True)
class View:
    """A window onto a drawing: what is seen [ticks] and where its lower left corner lies on the page [mm]."""

    drawing: Drawing
    window: Box
    at: Vec

    @property
    def box(self) -> Box:
        """The window on the page [mm]."""
        one = self.drawing.on_wall(1.0)
        return Box(self.at[0], self.at[1], self.at[0] + self.window.width / one, self.at[1] + self.window.height / one)


@dataclass(frozen=True)
class Page:
    """A sheet: views of drawings, and what is drawn on the paper itself [mm, from the lower left]."""

    number: str
    title: str
    size: PaperSize
    views: tuple[View, ...]
    entities: tuple[Entity, ...]


@dataclass(frozen=True)
class Model:
    """A drawing that lies in a CAD file at full size, moved by a step [ticks]."""

    drawing: Drawing
    at: Vec = (0.0, 0.0)


@dataclass(frozen=True)
class CadSet:
    """A CAD file: drawings at full size, and sheets whose views look at them.

    ``scale`` is the one most sheets plot at.
    """

    unit: Unit
    scale: int
    models: tuple[Model, ...]
    pages: tuple[Page, ...]


def walk(entities: Iterable[Entity]) -> Iterator[Entity]:
    """Yield every entity in drawing order, groups and parts opened, what is in a part where it has been put."""
    for entity in entities:
        if isinstance(entity, Group):
            yield from walk(entity.entities)
        elif isinstance(entity, SubDrawing):
            yield from walk(moved(entity.entities, entity.step))
        else:
            yield entity


def opened(entities: Iterable[Entity]) -> Iterator[Entity]:
    """Yield entities in drawing order, groups opened, parts as they are."""
    for entity in entities:
        if isinstance(entity, Group):
            yield from opened(entity.entities)
        else:
            yield entity


def moved(entities: Iterable[Entity], by: Vec, *, size: float = 1.0) -> tuple[Entity, ...]:
    """Return entities made larger about the origin and moved by a step; heights of text are plotted ones and stay.

    Parameters
    ----------
    entities
        What is drawn.
    by
        How far, in the unit they are moved into.
    size
        How many times as large.

    Raises
    ------
    DrawingError
        When an entity is of a kind not known here.
    """
    if by == (0.0, 0.0) and size == 1.0:
        return tuple(entities)
    dx, dy = by

    def put(point: Vec) -> Vec:
        return point[0] * size + dx, point[1] * size + dy

    made: list[Entity] = []
    for entity in entities:
        if isinstance(entity, Line):
            made.append(Line(entity.layer, put(entity.start), put(entity.end)))
        elif isinstance(entity, Polyline):
            wall = (*entity.wall[:2], put(entity.wall[2])) if entity.wall else None
            made.append(Polyline(entity.layer, tuple([put(point) for point in entity.points]), entity.closed,
                                 entity.tone, entity.piece, entity.values, wall))
        elif isinstance(entity, Group):
            made.append(replace(entity, entities=moved(entity.entities, by, size=size)))
        elif isinstance(entity, Circle):
            made.append(Circle(entity.layer, put(entity.centre), entity.radius * size, entity.tone))
        elif isinstance(entity, Hatch):
            made.append(Hatch(entity.layer, tuple([tuple([put(point) for point in ring]) for ring in entity.rings]),
                              entity.spacing, entity.angle))
        elif isinstance(entity, Text):
            made.append(Text(entity.layer, put(entity.at), entity.text, entity.height, entity.across, entity.up,
                             entity.turned, entity.strong, entity.masked))
        elif isinstance(entity, Insert):
            made.append(Insert(entity.layer, entity.block, put(entity.at), entity.values,
                               put(entity.away) if entity.away else None, entity.masked))
        elif isinstance(entity, Dimension):
            made.append(entity._replace(start=put(entity.start), end=put(entity.end), at=put(entity.at)))
        elif isinstance(entity, SubDrawing) and size == 1.0:
            made.append(replace(entity, at=put(entity.at)))
        else:
            raise unknown(entity)
    return tuple(made)


def unknown(entity: object) -> DrawingError:
    """Return the error of a writer that meets what it cannot draw; nothing is ever left out in silence."""
    return DrawingError(f"cannot draw a {type(entity).__name__}")
