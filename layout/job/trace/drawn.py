"""What a drawing holds, free of the file it came from: lines, circles, words, and what is not understood."""

from __future__ import annotations

import math
from collections import Counter
from dataclasses import dataclass, field, replace

from layout.errors import Fault
from layout.job.tree import show

Vec = tuple[float, float]
DrawnBox = tuple[float, float, float, float]
"""Left, bottom, right, top."""

NOWHERE: Vec = (math.inf, math.inf)
"""The place of what has none."""


@dataclass(frozen=True)
class DrawingPlace:
    """Where something stands in the drawing.

    Parameters
    ----------
    handle, layer
        Of the entity, or of the block reference that it is part of.
    at
        A point of it [drawing units]; NOWHERE when none is known.
    scale
        Ticks in one drawing unit.
    """

    handle: str
    layer: str
    at: Vec
    scale: float = 1.0

    def there(self, point: Vec) -> DrawingPlace:
        """Return the place moved to a point of the same thing [ticks]."""
        return replace(self, at=(point[0] / self.scale, point[1] / self.scale))

    def text(self) -> str:
        """Return the place as it is told."""
        handle = f"handle {show(self.handle, most=20)}, " if self.handle else ""
        at = f", at ({self.at[0]:.7g}, {self.at[1]:.7g})" if self.at != NOWHERE else ""
        return f"{handle}layer {show(self.layer)}{at}"

    def fault(self, what: str, *, got: str = "", hint: str = "") -> Fault:
        """Return a fault of what stands here."""
        return Fault(0, self.text(), what, got, hint)


@dataclass(frozen=True)
class Own:
    """Which wall of one of our own drawings an outline is, by a digest, and where its station 0, elevation 0 is."""

    key: str
    origin: Vec


@dataclass(frozen=True)
class DrawnPolyline:
    """Points joined by straight lines [ticks, not yet whole].

    ``role`` is what its layer is for; a closed chain does not repeat its first point.
    """

    role: str
    place: DrawingPlace
    points: tuple[Vec, ...]
    closed: bool = False
    own: Own | None = None

    @property
    def box(self) -> DrawnBox:
        """The box around it."""
        return box_around_points(self.points)


@dataclass(frozen=True)
class Disc:
    """A circle [ticks, not yet whole]."""

    role: str
    place: DrawingPlace
    centre: Vec
    radius: float

    @property
    def box(self) -> DrawnBox:
        """The box around it."""
        (x, y), r = self.centre, self.radius
        return x - r, y - r, x + r, y + r


@dataclass(frozen=True)
class Bow:
    """Part of a circle on a layer for sleeves, from one angle counter-clockwise to another [ticks, degrees]."""

    place: DrawingPlace
    centre: Vec
    radius: float
    start: float
    sweep: float


@dataclass(frozen=True)
class DrawnWords:
    """One line of text: what it says, about where its middle is, how high it is [ticks]."""

    text: str
    place: DrawingPlace
    middle: Vec
    height: float


@dataclass(frozen=True)
class Seen:
    """A line as it was seen, for the picture: points [ticks], what it was taken for, and why it was passed over."""

    points: tuple[Vec, ...]
    role: str
    why: str = ""


@dataclass
class ReadDrawing:
    """All that was read from one drawing, and what was not read.

    ``unseen`` counts what was passed over, by why and by layer; ``unlike`` holds dimensions whose written length is not
    what they measure [ticks].
    """

    chains: list[DrawnPolyline] = field(default_factory=list)
    discs: list[Disc] = field(default_factory=list)
    bows: list[Bow] = field(default_factory=list)
    words: list[DrawnWords] = field(default_factory=list)
    faults: list[Fault] = field(default_factory=list)
    layers: dict[str, set[str]] = field(default_factory=dict)
    others: Counter[str] = field(default_factory=Counter)
    notes: Counter[str] = field(default_factory=Counter)
    unseen: dict[str, Counter[str]] = field(default_factory=dict)
    references: dict[str, str] = field(default_factory=dict)
    seen: list[Seen] = field(default_factory=list)
    unlike: list[tuple[DrawingPlace, str, float]] = field(default_factory=list)
    carried: str = ""
    outside: int = 0
    repairs: int = 0
    unit_note: str = ""
    scale: float = 1.0

    def pass_over(self, why: str, layer: str) -> None:
        """Count something that is not read."""
        self.unseen.setdefault(why, Counter())[layer] += 1


def box_around_points(points: tuple[Vec, ...]) -> DrawnBox:
    """Return the box around some points; at least one."""
    xs, ys = [x for x, _ in points], [y for _, y in points]
    return min(xs), min(ys), max(xs), max(ys)


def box_within(inner: DrawnBox, outer: DrawnBox, *, slack: float) -> bool:
    """Tell whether one box lies in another, give or take some slack."""
    return (inner[0] >= outer[0] - slack and inner[1] >= outer[1] - slack
            and inner[2] <= outer[2] + slack and inner[3] <= outer[3] + slack)


def boxes_apart(one: DrawnBox, other: DrawnBox, *, slack: float) -> bool:
    """Tell whether two boxes lie clear of each other by more than the slack."""
    return (one[0] > other[2] + slack or one[2] < other[0] - slack
            or one[1] > other[3] + slack or one[3] < other[1] - slack)
